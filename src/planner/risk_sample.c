/* A sampled system: the likely one with every uncertain input set to a quantile of its spread.
 *
 * Derived again is what differs from the sample before: in the sensitivity's rows two inputs only.
 *
 * Mire: the factor of a depth is one input, low / likely / high as the demand's cases have it. All
 * segments of that depth share it (the same ground), through the surface fraction that gives the
 * same resistance: f cos a = M. */
#include "planner/risk_run.h"

#include "base/number.h"

#include <math.h>

static void set_mire(const pr_risk_world *world, const pr_risk_input *input, double factor,
                     pr_demand_def *demand)
{
    const pr_demand_def *likely = &world->scenario->system.demand;
    for (int i = 0; i < demand->n_segments; i++) {
        if (likely->segments[i].mire != input->depth)
            continue;
        pr_demand_segment *s = &demand->segments[i];
        s->mire = PR_MIRE_NONE;
        for (int c = 0; c < PR_CASE_COUNT; c++)
            s->surface_frac[c] = factor / cos(s->slope_rad);
    }
}

pr_status pr_risk_bench_set(const pr_risk_world *world, const double *u, pr_risk_bench *bench)
{
    for (int i = 0; i < world->n_inputs; i++) {
        const pr_spread *spread = &world->input[i].spread;
        if (!world->input[i].is_mire)
            *pr_spread_target(&bench->scenario, spread) = pr_spread_value(spread, u[i]);
    }
    /* after the slopes are known */
    pr_demand_def *demand = &bench->scenario.system.demand;
    for (int i = 0; i < world->n_inputs; i++)
        if (world->input[i].is_mire)
            set_mire(world, &world->input[i], pr_spread_value(&world->input[i].spread, u[i]),
                     demand);
    pr_job *job = &bench->job;
    job->plan = bench->scenario.plan;
    if (!isinf(world->job.distance_m))
        job->distance_m = pr_demand_distance_m(demand);
    job->rope_given_m = bench->scenario.system.rope_out_m;
    const pr_system_def *def = &bench->scenario.system;
    const pr_status status = bench->derived ? pr_system_derive_again(def, &bench->system)
                                            : pr_system_derive(def, &bench->system, NULL);
    bench->derived = status == PR_OK;
    return status == PR_OK ? pr_job_rig(job, world->parts, PR_CASE_LIKELY) : status;
}

pr_status pr_risk_world_open(const pr_scenario *scenario, const pr_plan *plan,
                             const pr_limits *limits, const pr_risk_input *input, int n_inputs,
                             double tolerance, pr_risk_world *world)
{
    *world = (pr_risk_world){.scenario = scenario, .n_inputs = n_inputs, .input = input};
    pr_status status = pr_job_open(scenario, &world->job, NULL);
    if (status != PR_OK)
        return status;
    pr_job *job = &world->job;
    job->options.tolerance = tolerance;
    job->limits = *limits;
    job->pull_s = plan->pull_s;
    job->pull_rpm = plan->pull_rpm;
    job->rest_rpm = plan->rest_rpm;
    world->parts = plan->parts;
    world->first_rest_s = plan->first_rest_s;
    world->rest_s = plan->rest_s;
    world->slope = 1.0;
    world->watched = *limits;
    for (int i = 0; i < PR_LIMIT_COUNT; i++)
        world->watched.on[i] = i == PR_LIMIT_RESTART && limits->on[i];
    world->watched.restart_margin_V = -1e6; /* never reached: the voltage is only kept track of */
    return PR_OK;
}

void pr_risk_world_close(pr_risk_world *world)
{
    pr_job_close(&world->job);
}

void pr_risk_bench_open(const pr_risk_world *world, pr_risk_bench *bench)
{
    bench->scenario = *world->scenario;
    bench->system = *world->job.system;
    bench->derived = true;
    bench->job = world->job;
    bench->job.system = &bench->system;
    bench->job.progress = NULL;
    bench->recoveries = 0;
}
