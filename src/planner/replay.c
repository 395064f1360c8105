/* A given plan's pulls and rests, run again: on another system, tolerance or set of limits.
 *
 * The pulls are as long as the plan asks, the rests as it lists them. When the vehicle is not yet
 * out after the plan's last pull (this system is slower), the recovery goes on with the plan's
 * longest rest up to the scenario's total time. The plan holds when the goal is reached and nothing
 * stopped a pull or a rest on the way. */
#include "planner/plan.h"

#include "base/number.h"

#include "planner/job.h"

#include <math.h>
#include <stdlib.h>

typedef struct replay {
    pr_job job;
    const pr_plan *plan;
    const pr_limits *limits;
    const pr_observer *observer;
    pr_sim sim;
    size_t n; /* pulls done */
    bool rerig, at_goal, stopped;
    pr_phase_end end;
    pr_phase_end *worst;
} replay;

/* Extremes of the whole run gather in *worst; the phase that failed stays in it. */
static void gather(replay *r)
{
    pr_extremes all = r->worst->extremes;
    pr_extremes_merge(&all, &r->end.extremes);
    *r->worst = r->end;
    r->worst->extremes = all;
}

static pr_status run_rest(replay *r, double rest_s)
{
    if (!(rest_s > 0.0))
        return PR_OK;
    const pr_phase phase = {.activity = PR_REST,
                            .engine_rpm = r->plan->rest_rpm,
                            .duration_s = rest_s,
                            .stop_travel_m = PR_NAN};
    pr_limits limits = *r->limits;
    if (r->n == 0) /* before the first pull only the engine must keep running */
        for (int i = 0; i < PR_LIMIT_COUNT; i++)
            limits.on[i] = i == PR_LIMIT_VOLTAGE && limits.on[i];
    const pr_status status =
        pr_sim_run(r->job.system, &r->sim, &phase, &limits, &r->job.options, r->observer, &r->end);
    if (status != PR_OK)
        return status;
    gather(r);
    r->stopped = r->end.stop != PR_STOP_TIME;
    return PR_OK;
}

static pr_status run_pull(replay *r)
{
    if (r->rerig)
        pr_job_rerig(&r->job, &r->sim);
    const double goal_m = fmin(r->job.distance_m, r->job.overload.at_m);
    const pr_phase phase = {.activity = PR_PULL,
                            .engine_rpm = r->plan->pull_rpm,
                            .duration_s = r->plan->pull_s,
                            .stop_travel_m = isinf(goal_m) ? PR_NAN : goal_m};
    const pr_status status = pr_sim_run(r->job.system, &r->sim, &phase, r->limits, &r->job.options,
                                        r->observer, &r->end);
    if (status != PR_OK)
        return status;
    pr_job_settle_pull(&r->job, &r->end);
    gather(r);
    r->n++;
    r->rerig = r->end.stop == PR_STOP_ROPE;
    r->at_goal = r->end.stop == PR_STOP_TRAVEL ||
                 (r->job.plan.pulls > 0 && r->n >= (size_t)r->job.plan.pulls);
    r->stopped = !r->rerig && !r->at_goal && r->end.stop != PR_STOP_TIME;
    return PR_OK;
}

/* Before pull n + 1. The last cycle of a plan lists no rest. */
static double next_rest_s(const replay *r)
{
    if (r->n == 0)
        return r->plan->first_rest_s;
    const double listed_s = r->n < r->plan->n_cycles
                                ? r->plan->cycles[r->n - 1].rest_s
                                : fmax(r->plan->rest_s, r->job.plan.rest_min_s);
    return r->rerig ? fmax(listed_s, ceil(r->job.plan.rerig_s)) : listed_s;
}

static pr_status run_all(replay *r, bool *holds)
{
    pr_status status = PR_OK;
    while (status == PR_OK && !r->stopped && !r->at_goal && r->n < PR_CYCLES_MAX &&
           r->sim.time_s <= r->job.plan.total_max_s) {
        status = run_rest(r, next_rest_s(r));
        if (status == PR_OK && !r->stopped)
            status = run_pull(r);
    }
    *holds = status == PR_OK && r->at_goal && !r->stopped && isinf(r->job.overload.at_m);
    return status;
}

pr_status pr_plan_replay(const pr_scenario *scenario, const pr_plan *plan, const pr_limits *limits,
                         const pr_run_options *options, const pr_observer *observer, bool *holds,
                         pr_phase_end *worst)
{
    *holds = false;
    pr_phase_end unused = {0};
    replay *r = calloc(1, sizeof *r);
    if (r == NULL)
        return PR_ERR_NOMEM;
    r->plan = plan;
    r->observer = observer;
    r->worst = worst != NULL ? worst : &unused;
    *r->worst = (pr_phase_end){.extremes = pr_extremes_none()};
    pr_status status = pr_job_open(scenario, &r->job, NULL);
    r->limits = limits != NULL ? limits : &r->job.asked;
    if (options != NULL)
        r->job.options = *options;
    if (status == PR_OK && r->job.system->def.has_winch)
        status = pr_job_rig(&r->job, plan->parts, scenario->system.demand_case);
    if (status == PR_OK && r->job.overload.at_m > 0.0) {
        r->sim = r->job.start;
        status = run_all(r, holds);
    }
    pr_job_close(&r->job);
    free(r);
    return status;
}
