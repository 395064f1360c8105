/* General solvers of ordinary differential equations run the benchmark's recovery: GSL's and, where
 * it is installed, SUNDIALS CVODE.
 *
 * They get every advantage that can be given: the engine's own derivatives in C, with the network
 * solved from a warm start as the engine does; its margins as root functions; its modes at each
 * event; and only the states that are dynamic, none of the charges and energies that the engine
 * keeps beside them. Steps, error control, interpolation and the search for roots are theirs: CVODE
 * has its own, for GSL a step in which a margin falls through zero is cut by regula falsi. Errors
 * are weighted as in the engine, so a tolerance means the same. */
#include "bench.h"

#include "base/number.h"
#include "engine/run.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_odeiv2.h>
#include <math.h>
#include <string.h>

#ifdef BENCH_HAS_CVODE
#include <cvode/cvode.h>
#include <nvector/nvector_serial.h>
#include <sunlinsol/sunlinsol_dense.h>
#include <sunmatrix/sunmatrix_dense.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>
#endif

typedef struct peer {
    pr_run run;
    pr_sim sim;
    pr_phase_end end;
    bench_answer *answer;
    int n;                        /* dynamic states */
    double rate[PR_STATE_MAX];    /* with the ledger's, which nobody reads */
    double node_V[PR_NODES];      /* warm start */
    double allowed[PR_STATE_MAX]; /* absolute error in a step */
} peer;

static int evaluate(peer *p, double tau_s, const double y[], double dy[])
{
    pr_instant at;
    p->answer->evaluations++;
    if (pr_frame_solve(&p->run.frame, tau_s, y, p->node_V, &at) != PR_OK) {
        memcpy(p->node_V, p->run.now->flows.node_V, sizeof p->node_V);
        return 1;
    }
    pr_frame_rates(&p->run.frame, y, &at, p->rate);
    memcpy(dy, p->rate, (size_t)p->n * sizeof dy[0]);
    return 0;
}

/* The engine's modes at the start of a phase. */
static pr_status begin_phase(peer *p, const bench_case *c, const pr_phase *phase, double tolerance)
{
    pr_run_options options = pr_run_options_default();
    options.tolerance = tolerance;
    p->end = (pr_phase_end){.stop = PR_STOP_FAILED, .which = -1};
    pr_run_begin(&p->run, c->system, &p->sim, phase, NULL, &options, NULL, &p->end);
    p->sim.origin_s = p->sim.phase_start_s = p->sim.time_s;
    p->sim.activity = phase->activity;
    p->sim.engine_rpm = phase->engine_rpm;
    pr_step_scales(&p->run);
    for (int i = 0; i < p->n; i++)
        p->allowed[i] = p->run.scale[i] > 0.0 ? 1.0 / p->run.scale[i] : 1e4 * tolerance;
    pr_modes_begin(&p->run);
    const pr_status status = pr_modes_settle(&p->run, false);
    memcpy(p->node_V, p->run.now->flows.node_V, sizeof p->node_V);
    return status;
}

/* Moves to a time that was reached; an event or a time known in advance lets the modes settle. */
static pr_status arrive(peer *p, double tau_s, const double y[], bool by_time)
{
    memcpy(p->sim.y, y, (size_t)p->n * sizeof y[0]);
    pr_status status = pr_frame_solve(&p->run.frame, tau_s, p->sim.y, p->node_V, p->run.now);
    memcpy(p->sim.node_V, p->run.now->flows.node_V, sizeof p->sim.node_V);
    p->run.tau_s = tau_s;
    p->sim.time_s = p->sim.origin_s + tau_s;
    p->answer->events++;
    if (status == PR_OK && tau_s < p->run.end_s)
        status = pr_modes_settle(&p->run, !by_time);
    memcpy(p->node_V, p->run.now->flows.node_V, sizeof p->node_V);
    return status;
}

static double until_s(const peer *p)
{
    return fmin(p->run.end_s, fmax(pr_modes_next_s(&p->run), p->run.tau_s + PR_TICK_S));
}

/* --- GSL --- */

static int gsl_rates(double t, const double y[], double dy[], void *context)
{
    return evaluate(context, t, y, dy) == 0 ? GSL_SUCCESS : GSL_EBADFUNC;
}

/* Smallest margin at a state; *which tells whose. */
static double least_margin(peer *p, double tau_s, const double y[])
{
    pr_instant at;
    double least = PR_INF;
    if (pr_frame_solve(&p->run.frame, tau_s, y, p->node_V, &at) != PR_OK)
        return -PR_INF;
    p->answer->evaluations++;
    for (int i = 0; i < p->run.n_watches; i++)
        least = fmin(least, pr_watch_margin(&p->run, &p->run.watch[i], y, &at));
    return least;
}

/* First time in (t0, t1] at which a margin is below zero, within the engine's resolution. */
static pr_status cut_step(peer *p, gsl_odeiv2_driver *d, double t0, const double y0[], double *t1,
                          double y1[])
{
    double low = t0, high = *t1, f_low = PR_NAN, f_high = PR_NAN;
    double y[PR_STATE_MAX], error[PR_STATE_MAX];
    for (int n = 0; high - low > PR_EVENT_S && n < 60; n++) {
        double t = 0.5 * (low + high);
        if (n % 3 != 2 && f_low > 0.0 && f_high < 0.0)
            t = fmin(fmax(low + (high - low) * f_low / (f_low - f_high), low + 0.4 * PR_EVENT_S),
                     high - 0.4 * PR_EVENT_S);
        memcpy(y, y0, (size_t)p->n * sizeof y[0]);
        gsl_odeiv2_step_reset(d->s);
        if (gsl_odeiv2_step_apply(d->s, t0, t - t0, y, error, NULL, NULL, d->sys) != GSL_SUCCESS)
            return PR_ERR_NO_CONVERGENCE;
        const double f = least_margin(p, t, y);
        if (f < 0.0) {
            high = t;
            f_high = f;
            memcpy(y1, y, (size_t)p->n * sizeof y[0]);
        } else {
            low = t;
            f_low = f;
        }
    }
    *t1 = high;
    return PR_OK;
}

static pr_status gsl_phase(peer *p, gsl_odeiv2_driver *d)
{
    double y[PR_STATE_MAX], before[PR_STATE_MAX], h = 0.1;
    while (!p->run.stopped && p->run.tau_s < p->run.end_s) {
        const double to_s = until_s(p);
        double t = p->run.tau_s;
        bool found = false;
        memcpy(y, p->sim.y, (size_t)p->n * sizeof y[0]);
        gsl_odeiv2_evolve_reset(d->e);
        gsl_odeiv2_step_reset(d->s);
        while (t < to_s && !found) {
            const double t0 = t;
            memcpy(before, y, (size_t)p->n * sizeof y[0]);
            if (gsl_odeiv2_evolve_apply(d->e, d->c, d->s, d->sys, &t, to_s, &h, y) != GSL_SUCCESS)
                return PR_ERR_NO_CONVERGENCE;
            p->answer->steps++;
            found = least_margin(p, t, y) < 0.0;
            if (found && cut_step(p, d, t0, before, &t, y) != PR_OK)
                return PR_ERR_NO_CONVERGENCE;
        }
        const pr_status status = arrive(p, t, y, !found);
        if (status != PR_OK)
            return status;
    }
    return PR_OK;
}

static const gsl_odeiv2_step_type *gsl_type(bench_solver solver)
{
    switch (solver) {
    case BENCH_GSL_RKF45:
        return gsl_odeiv2_step_rkf45;
    case BENCH_GSL_RKCK:
        return gsl_odeiv2_step_rkck;
    case BENCH_GSL_MSADAMS:
        return gsl_odeiv2_step_msadams;
    default:
        return gsl_odeiv2_step_rk8pd;
    }
}

static pr_status run_gsl(peer *p, const bench_case *c, bench_solver solver, double tolerance)
{
    gsl_odeiv2_system system = {gsl_rates, NULL, (size_t)p->n, p};
    gsl_odeiv2_driver *d = NULL;
    pr_status status = PR_OK;
    for (int n = 0; status == PR_OK && n < 2 * c->cycles; n++) {
        const pr_phase phase = bench_phase(c, n);
        status = begin_phase(p, c, &phase, tolerance);
        if (d == NULL)
            d = gsl_odeiv2_driver_alloc_scaled_new(&system, gsl_type(solver), 0.1, 1.0, 0.0, 1.0,
                                                   0.0, p->allowed);
        if (status == PR_OK)
            status = gsl_phase(p, d);
        bench_note_phase(c, &p->sim, p->run.now->flows.node_V, p->answer);
    }
    if (d != NULL)
        gsl_odeiv2_driver_free(d);
    return status;
}

/* --- CVODE --- */

#ifdef BENCH_HAS_CVODE
static const double FIRST_STEP_S = 1e-2;

typedef struct cvode {
    SUNContext context;
    void *solver;
    N_Vector y, allowed;
    SUNMatrix matrix;
    SUNLinearSolver linear;
    SUNNonlinearSolver nonlinear;
    int directions[PR_WATCHES_MAX], found[PR_WATCHES_MAX];
} cvode;

static int cvode_rates(realtype t, N_Vector y, N_Vector dy, void *context)
{
    return evaluate(context, t, N_VGetArrayPointer(y), N_VGetArrayPointer(dy));
}

static int cvode_roots(realtype t, N_Vector yv, realtype *g, void *context)
{
    peer *p = context;
    pr_instant at;
    const double *y = N_VGetArrayPointer(yv);
    p->answer->evaluations++;
    if (pr_frame_solve(&p->run.frame, t, y, p->node_V, &at) != PR_OK)
        return -1;
    for (int i = 0; i < p->run.n_watches; i++)
        g[i] = pr_watch_margin(&p->run, &p->run.watch[i], y, &at);
    return 0;
}

static bool open_cvode(cvode *c, peer *p, bench_solver solver)
{
    const bool stiff = solver == BENCH_CVODE_BDF;
    if (SUNContext_Create(NULL, &c->context) != 0)
        return false;
    c->y = N_VNew_Serial(p->n, c->context);
    c->allowed = N_VNew_Serial(p->n, c->context);
    c->solver = CVodeCreate(stiff ? CV_BDF : CV_ADAMS, c->context);
    memcpy(N_VGetArrayPointer(c->y), p->sim.y, (size_t)p->n * sizeof(double));
    memcpy(N_VGetArrayPointer(c->allowed), p->allowed, (size_t)p->n * sizeof(double));
    if (CVodeInit(c->solver, cvode_rates, 0.0, c->y) != CV_SUCCESS ||
        CVodeSVtolerances(c->solver, 0.0, c->allowed) != CV_SUCCESS)
        return false;
    if (stiff) {
        c->matrix = SUNDenseMatrix(p->n, p->n, c->context);
        c->linear = SUNLinSol_Dense(c->y, c->matrix, c->context);
        CVodeSetLinearSolver(c->solver, c->linear, c->matrix);
    } else {
        c->nonlinear = SUNNonlinSol_FixedPoint(c->y, 0, c->context);
        CVodeSetNonlinearSolver(c->solver, c->nonlinear);
    }
    CVodeSetUserData(c->solver, p);
    CVodeSetMaxNumSteps(c->solver, 1000000);
    CVodeSetNoInactiveRootWarn(c->solver);
    for (int i = 0; i < PR_WATCHES_MAX; i++)
        c->directions[i] = -1;
    return true;
}

static void close_cvode(cvode *c)
{
    CVodeFree(&c->solver);
    if (c->linear != NULL)
        SUNLinSolFree(c->linear);
    if (c->matrix != NULL)
        SUNMatDestroy(c->matrix);
    if (c->nonlinear != NULL)
        SUNNonlinSolFree(c->nonlinear);
    N_VDestroy(c->y);
    N_VDestroy(c->allowed);
    SUNContext_Free(&c->context);
}

/* Beyond the root by less than the engine's own resolution, so that it is seen whatever the
 * rounding of the network's solution. */
static double pass_root(peer *p, double t, double to_s, double y[])
{
    double dy[PR_STATE_MAX];
    const double by_s = fmin(0.8 * PR_EVENT_S, to_s - t);
    if (evaluate(p, t, y, dy) == 0)
        for (int i = 0; i < p->n; i++)
            y[i] += by_s * dy[i];
    return t + by_s;
}

static pr_status cvode_phase(peer *p, cvode *c)
{
    while (!p->run.stopped && p->run.tau_s < p->run.end_s) {
        const double to_s = until_s(p);
        double t = p->run.tau_s;
        memcpy(N_VGetArrayPointer(c->y), p->sim.y, (size_t)p->n * sizeof(double));
        CVodeReInit(c->solver, t, c->y);
        CVodeRootInit(c->solver, p->run.n_watches, cvode_roots);
        CVodeSetRootDirection(c->solver, c->directions);
        CVodeSetStopTime(c->solver, to_s);
        /* an inrush would be over before an error control that starts from a long step sees it */
        CVodeSetInitStep(c->solver, fmin(FIRST_STEP_S, 0.1 * (to_s - t)));
        const int flag = CVode(c->solver, to_s, c->y, &t, CV_NORMAL);
        if (flag < 0)
            return PR_ERR_NO_CONVERGENCE;
        long steps = 0;
        CVodeGetNumSteps(c->solver, &steps);
        p->answer->steps += (unsigned long)steps;
        if (flag == CV_ROOT_RETURN)
            t = pass_root(p, t, to_s, N_VGetArrayPointer(c->y));
        const pr_status status = arrive(p, t, N_VGetArrayPointer(c->y), flag != CV_ROOT_RETURN);
        if (status != PR_OK)
            return status;
    }
    return PR_OK;
}

static pr_status run_cvode(peer *p, const bench_case *c, bench_solver solver, double tolerance)
{
    cvode own = {0};
    pr_status status = PR_OK;
    bool open = false;
    for (int n = 0; status == PR_OK && n < 2 * c->cycles; n++) {
        const pr_phase phase = bench_phase(c, n);
        status = begin_phase(p, c, &phase, tolerance);
        if (status == PR_OK && !open) {
            open = true;
            if (!open_cvode(&own, p, solver))
                status = PR_ERR_NOMEM;
        }
        if (status == PR_OK)
            status = cvode_phase(p, &own);
        bench_note_phase(c, &p->sim, p->run.now->flows.node_V, p->answer);
    }
    if (open)
        close_cvode(&own);
    return status;
}
#endif

bool bench_has_peer(bench_solver solver)
{
#ifdef BENCH_HAS_CVODE
    return solver < BENCH_SOLVERS;
#else
    return solver < BENCH_CVODE_ADAMS;
#endif
}

void bench_run_peer(const bench_case *c, bench_solver solver, double tolerance,
                    bench_answer *answer)
{
    static peer p;
    p.answer = answer;
    p.n = c->system->at.ledger;
    answer->n_phases = 0;
    answer->evaluations = answer->events = answer->steps = 0;
    answer->status = pr_sim_start(c->system, &p.sim);
    if (answer->status != PR_OK)
        return;
    if (solver < BENCH_CVODE_ADAMS)
        answer->status = run_gsl(&p, c, solver, tolerance);
#ifdef BENCH_HAS_CVODE
    else
        answer->status = run_cvode(&p, c, solver, tolerance);
#endif
}
