/* The reference integrator: GSL's embedded Runge-Kutta-Prince-Dormand pair of orders 8 and 9 over
 * the same derivatives, for tests. It shares frame, events and run loop with the production
 * stepper, and nothing of its integration: each step is driven by GSL's own step control from its
 * start to its end, and a state inside a step is found by integrating to it again. The ledger is
 * integrated with the states.
 *
 * GSL's error handler is turned off while GSL runs and restored after. The only part of the engine
 * that takes memory from the heap. */
#include "base/number.h"
#include "engine/run.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

struct pr_reference {
    gsl_odeiv2_step *step;
    gsl_odeiv2_control *control;
    gsl_odeiv2_evolve *evolve;
    double scale[PR_STATE_MAX];
    double node_V[PR_NODES];
    const pr_run *run;
    pr_status status; /* of the derivatives */
    double first_s;   /* step that GSL proposed last */
};

/* Longest step between two looks at the events. */
static const double LOOK_S = 4.0;

static int derivatives(double tau_s, const double y[], double dy[], void *params)
{
    struct pr_reference *r = params;
    pr_instant at;
    memcpy(r->node_V, r->run->now->flows.node_V, sizeof r->node_V);
    r->status = pr_frame_solve(&r->run->frame, tau_s, y, r->node_V, &at);
    if (r->status != PR_OK)
        return GSL_EBADFUNC;
    pr_frame_rates(&r->run->frame, y, &at, dy);
    return GSL_SUCCESS;
}

pr_status pr_reference_open(pr_run *run)
{
    struct pr_reference *r = calloc(1, sizeof *r);
    if (r == NULL)
        return PR_ERR_NOMEM;
    const size_t n = (size_t)run->system->n_states;
    gsl_error_handler_t *handler = gsl_set_error_handler_off();
    for (int i = 0; i < run->system->n_states;
         i++) /* ledger: 1e4 A s or J, far below what it holds */
        r->scale[i] = i >= run->system->at.ledger ? 1e4
                      : run->scale[i] > 0.0       ? 1.0 / (run->scale[i] * run->options.tolerance)
                                                  : 1e4;
    r->run = run;
    r->step = gsl_odeiv2_step_alloc(gsl_odeiv2_step_rk8pd, n);
    r->control = gsl_odeiv2_control_scaled_new(run->options.tolerance, 0.0, 1.0, 0.0, r->scale, n);
    r->evolve = gsl_odeiv2_evolve_alloc(n);
    gsl_set_error_handler(handler);
    run->reference = r;
    if (r->step == NULL || r->control == NULL || r->evolve == NULL) {
        pr_reference_close(run);
        return PR_ERR_NOMEM;
    }
    return PR_OK;
}

void pr_reference_close(pr_run *run)
{
    struct pr_reference *r = run->reference;
    if (r == NULL)
        return;
    if (r->evolve != NULL)
        gsl_odeiv2_evolve_free(r->evolve);
    if (r->control != NULL)
        gsl_odeiv2_control_free(r->control);
    if (r->step != NULL)
        gsl_odeiv2_step_free(r->step);
    free(r);
    run->reference = NULL;
}

/* Integrates from the start of the step over `since_s`. */
static pr_status drive(const pr_run *run, double since_s, double y[])
{
    struct pr_reference *r = run->reference;
    gsl_odeiv2_system system = {derivatives, NULL, (size_t)run->system->n_states, r};
    gsl_error_handler_t *handler = gsl_set_error_handler_off();
    memcpy(y, run->sim->y, (size_t)run->system->n_states * sizeof y[0]);
    gsl_odeiv2_step_reset(r->step);
    gsl_odeiv2_evolve_reset(r->evolve);
    const double end_s = run->tau_s + since_s;
    double t = run->tau_s, h = r->first_s > 0.0 ? r->first_s : fmin(0.01, since_s);
    pr_status status = PR_OK;
    for (unsigned long n = 0; status == PR_OK && t < end_s; n++) {
        const int code =
            gsl_odeiv2_evolve_apply(r->evolve, r->control, r->step, &system, &t, end_s, &h, y);
        if (code != GSL_SUCCESS)
            status = r->status != PR_OK ? r->status : PR_ERR_NO_CONVERGENCE;
        else if (n >= run->options.max_steps)
            status = PR_ERR_STEP_LIMIT;
        if (t < end_s) /* the last step was cut to fit and says nothing */
            r->first_s = h;
    }
    gsl_set_error_handler(handler);
    return status;
}

pr_status pr_reference_try(pr_run *run, double h_s, double *error)
{
    *error = 0.0;
    if (h_s > LOOK_S) { /* ask for a shorter step */
        *error = 2.0;
        return PR_OK;
    }
    pr_status status = drive(run, h_s, run->y1);
    if (status != PR_OK)
        return status;
    memcpy(run->reference->node_V, run->now->flows.node_V, sizeof run->reference->node_V);
    status =
        pr_frame_solve(&run->frame, run->tau_s + h_s, run->y1, run->reference->node_V, run->next);
    if (status == PR_OK)
        pr_frame_rates(&run->frame, run->y1, run->next, run->rate[6]);
    return status;
}

pr_status pr_reference_at(const pr_run *run, double since_s, double y[])
{
    return drive(run, since_s, y);
}
