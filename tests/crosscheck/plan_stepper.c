/* The plan of a scenario, pull by pull and rest by rest, by the production stepper and by GSL's
 * Prince-Dormand pair 8(9) (src/engine/step_reference.c) at a tolerance of 1e-12.
 *
 *   crosscheck_plan_stepper SCENARIO MODELS
 *
 * Two promises: at 1e-12 the production stepper ends with the same states; at its default tolerance
 * it is good enough for what the program prints. Both steppers use the same derivatives and the
 * same location of events, so this says nothing about the equations. */
#include "base/number.h"
#include "engine/sim.h"
#include "planner/job.h"
#include "reader/reader.h"

#include <math.h>
#include <stdio.h>

typedef struct travelled {
    pr_sim sim;
    double least_box_V, most_winding_degC;
} travelled;

static pr_scenario scenario;
static travelled reference, fine, usual;

static int complain(const char *what, pr_status status, const pr_diag *diag)
{
    pr_diag_print(diag, stderr);
    fprintf(stderr, "plan_stepper: %s: %s\n", what, pr_status_text(status));
    return 1;
}

static pr_status run_phase(const pr_job *job, travelled *t, pr_activity activity, double seconds,
                           double rpm, const pr_run_options *options)
{
    const pr_phase phase = {.activity = activity,
                            .engine_rpm = rpm,
                            .duration_s = seconds,
                            .stop_travel_m = activity == PR_PULL ? job->distance_m : PR_NAN};
    pr_limits limits = job->asked;
    for (int i = 0; i < PR_LIMIT_COUNT; i++)
        limits.on[i] = false; /* the plan's own instants */
    pr_phase_end end;
    const pr_status status = pr_sim_run(job->system, &t->sim, &phase, &limits, options, NULL, &end);
    t->least_box_V = fmin(t->least_box_V, end.extremes.least_box_V);
    t->most_winding_degC = fmax(t->most_winding_degC, end.extremes.most_armature_degC);
    return status;
}

/* All pulls and rests of the plan. */
static pr_status travel(const pr_job *job, const pr_plan *plan, pr_stepper stepper,
                        double tolerance, travelled *t)
{
    pr_run_options options = pr_run_options_default();
    options.stepper = stepper;
    options.tolerance = tolerance;
    *t = (travelled){.sim = job->start, .least_box_V = PR_INF, .most_winding_degC = -PR_INF};
    pr_status status = PR_OK;
    for (size_t k = 0; status == PR_OK && k < plan->n_cycles; k++) {
        const pr_cycle *c = &plan->cycles[k];
        status = run_phase(job, t, PR_PULL, c->pull_s, plan->pull_rpm, &options);
        if (status == PR_OK && c->rest_s > 0.0)
            status = run_phase(job, t, PR_REST, c->rest_s, plan->rest_rpm, &options);
        if (c->rerig)
            pr_job_rerig(job, &t->sim);
    }
    return status;
}

/* Largest difference of a state: of its own size, but at least of 1 K or metre, 0.1 V of the RC
 * branch, 0.1 of a fuse's damage. */
static double worst_state(const pr_system *system, const pr_sim *a, const pr_sim *b)
{
    double worst = 0.0;
    for (int i = 0; i < system->at.ledger; i++) {
        double least = i >= system->at.fuse ? 0.1 : 1.0;
        for (int p = 0; p < system->def.n_batteries; p++)
            if (i == system->at.battery[p] + 2)
                least = 0.1;
        worst = fmax(worst, fabs(a->y[i] - b->y[i]) / fmax(fabs(b->y[i]), least));
    }
    return worst;
}

static int allow(const char *what, double got, double allowed)
{
    const int failed = !(got <= allowed);
    printf("%s %s: %.3g, allowed %.1g\n", failed ? "FAIL" : "ok  ", what, got, allowed);
    return failed;
}

/* Largest difference of a state of charge. */
static double worst_soc_frac(const pr_system *system, const pr_sim *a, const pr_sim *b)
{
    double worst = 0.0;
    for (int p = 0; p < system->def.n_batteries; p++) {
        const double *ya = &a->y[system->at.battery[p]], *yb = &b->y[system->at.battery[p]];
        worst = fmax(worst, fabs(ya[0] + ya[1] - yb[0] - yb[1]) / system->battery[p].qmax_As);
    }
    return worst;
}

static int compare(const pr_job *job, const pr_plan *plan)
{
    pr_status status = travel(job, plan, PR_STEPPER_REFERENCE, 1e-12, &reference);
    if (status == PR_OK)
        status = travel(job, plan, PR_STEPPER_EMBEDDED, 1e-12, &fine);
    if (status == PR_OK)
        status = travel(job, plan, PR_STEPPER_EMBEDDED, pr_run_options_default().tolerance, &usual);
    if (status != PR_OK) {
        fprintf(stderr, "plan_stepper: %s\n", pr_status_text(status));
        return 1;
    }
    printf("%zu pulls, %.1f s, %.3f m\n", plan->n_cycles, reference.sim.time_s,
           reference.sim.y[job->system->at.travel]);
    printf("steps: GSL %lu, production %lu at 1e-12, %lu at its default\n", reference.sim.n_steps,
           fine.sim.n_steps, usual.sim.n_steps);
    int failed = plan->n_cycles == 0;
    failed += allow("worst state at 1e-12, relative",
                    worst_state(job->system, &fine.sim, &reference.sim), 1e-6);
    failed += allow("worst state at the default, relative",
                    worst_state(job->system, &usual.sim, &reference.sim), 1e-3);
    failed += allow("state of charge at the default",
                    worst_soc_frac(job->system, &usual.sim, &reference.sim), 1e-5);
    failed += allow("lowest fuse box voltage at the default, V",
                    fabs(usual.least_box_V - reference.least_box_V), 1e-3);
    if (job->system->def.has_winch)
        failed += allow("hottest winding at the default, K",
                        fabs(usual.most_winding_degC - reference.most_winding_degC), 0.1);
    return failed != 0;
}

int main(int argc, char **argv)
{
    if (argc != 3)
        return 2;
    pr_diag diag = pr_diag_init();
    scenario = pr_scenario_default();
    const pr_reader_options options = {.models_folder = argv[2]};
    pr_status status = pr_scenario_read(argv[1], &options, &scenario, &diag);
    if (status != PR_OK)
        return complain("reading", status, &diag);
    pr_plan_set set;
    status = pr_plan_make(&scenario, &set, &diag, NULL, NULL);
    if (status != PR_OK)
        return complain("planning", status, &diag);
    const pr_plan *plan = &set.plan[PR_PLAN_EVEN];
    pr_job job;
    status = pr_job_open(&scenario, &job, &diag);
    if (status == PR_OK)
        status = pr_job_rig(&job, plan->parts, scenario.system.demand_case);
    const int failed = status == PR_OK ? compare(&job, plan) : complain("rigging", status, &diag);
    pr_job_close(&job);
    pr_plan_set_free(&set);
    pr_scenario_free(&scenario);
    pr_diag_free(&diag);
    return failed;
}
