/* A sampled system: the likely one with every uncertain input set to a quantile of its spread.
 *
 * Only the components whose plates changed are derived again; what the others derive to cannot
 * change. The unit test holds that against deriving all of it.
 *
 * Mire: the factor of a depth is one input, low / likely / high as the demand's cases have it. All
 * segments of that depth share it (the same ground), through the surface fraction that gives the
 * same resistance: f cos a = M. */
#include "planner/risk_run.h"

#include "base/number.h"

#include <math.h>
#include <string.h>

static bool lies_in(const pr_spread *spread, size_t start, size_t size)
{
    return spread->offset >= start && spread->offset < start + size;
}

#define TOUCHES(spread, field)                                                                     \
    lies_in(spread, offsetof(pr_scenario, system.field),                                           \
            sizeof(((const pr_scenario *)0)->system.field))

static void mark_component(pr_risk_world *world, const pr_spread *s)
{
    const pr_system_def *def = &world->job.system->def;
    for (int p = 0; p < def->n_batteries; p++)
        world->derive_battery[p] |= TOUCHES(s, battery[p]);
    world->derive_alternator |= def->has_alternator && TOUCHES(s, alternator);
    world->derive_link |= def->link.kind != PR_LINK_NONE && TOUCHES(s, link);
    world->derive_motor |= def->has_winch && TOUCHES(s, motor);
    world->derive_drum |= def->has_winch && TOUCHES(s, drum);
    for (int k = 0; k < def->n_loads; k++)
        world->derive_load[k] |= TOUCHES(s, load[k].def);
    for (int r = 0; r < PR_RUN_FIRST_LOAD + def->n_loads; r++) {
        world->derive_wire[r] |= def->run[r].present && TOUCHES(s, run[r].def);
        world->derive_fuse[r] |= def->run[r].has_fuse && TOUCHES(s, run[r].fuse);
    }
}

static void keep_first(pr_status *status, pr_status now)
{
    if (*status == PR_OK)
        *status = now;
}

static pr_status derive_marked(const pr_risk_world *world, pr_system *system)
{
    const pr_system_def *def = &system->def;
    pr_status status = PR_OK;
    for (int p = 0; p < PR_POSTS; p++)
        if (world->derive_battery[p])
            keep_first(&status, pr_battery_derive(&def->battery[p], &system->battery[p]));
    if (world->derive_alternator)
        keep_first(&status, pr_alternator_derive(&def->alternator, &system->alternator));
    if (world->derive_link)
        keep_first(&status, pr_link_derive(&def->link, &system->link));
    if (world->derive_motor)
        keep_first(&status, pr_motor_derive(&def->motor, &system->motor));
    if (world->derive_drum)
        keep_first(&status, pr_drum_derive(&def->drum, &system->drum));
    for (int k = 0; k < def->n_loads; k++)
        if (world->derive_load[k])
            keep_first(&status, pr_load_derive(&def->load[k].def, &system->load[k]));
    for (int r = 0; r < PR_RUN_FIRST_LOAD + def->n_loads; r++) {
        if (world->derive_wire[r])
            keep_first(&status, pr_wire_derive(&def->run[r].def, &system->wire[r]));
        if (world->derive_fuse[r])
            keep_first(&status, pr_fuse_derive(&def->run[r].fuse, &system->fuse[r]));
    }
    if (def->has_winch && def->work == PR_WORK_DEMAND)
        keep_first(&status, pr_demand_check(&def->demand));
    return status;
}

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
    pr_system_def *def = &bench->system.def;
    const size_t system_at = offsetof(pr_scenario, system);
    for (int i = 0; i < world->n_inputs; i++) {
        const pr_spread *spread = &world->input[i].spread;
        if (world->input[i].is_mire)
            continue;
        const double value = pr_spread_value(spread, u[i]);
        *pr_spread_target(&bench->scenario, spread) = value;
        if (lies_in(spread, system_at, sizeof *def))
            memcpy((char *)def + (spread->offset - system_at), &value, sizeof value);
    }
    /* after the slopes are known */
    for (int i = 0; i < world->n_inputs; i++)
        if (world->input[i].is_mire)
            set_mire(world, &world->input[i], pr_spread_value(&world->input[i].spread, u[i]),
                     &def->demand);
    pr_job *job = &bench->job;
    job->plan = bench->scenario.plan;
    if (!isinf(world->job.distance_m))
        job->distance_m = pr_demand_distance_m(&def->demand);
    job->rope_given_m = bench->scenario.system.rope_out_m;
    pr_status status = derive_marked(world, &bench->system);
    if (status == PR_OK)
        status = pr_job_rig(job, world->parts, PR_CASE_LIKELY);
    return status;
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
    for (int i = 0; i < n_inputs; i++)
        if (!input[i].is_mire)
            mark_component(world, &input[i].spread);
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
    bench->job = world->job;
    bench->job.system = &bench->system;
    bench->job.progress = NULL;
    bench->recoveries = 0;
}
