/* The plan replayed on a sampled system, with its limits watched but not obeyed.
 *
 * Nobody watches the state of charge out there; the driver pulls and rests by the plan. So a limit
 * that breaks does not end a recovery: what ends it is the goal, or what cannot be gone on with (a
 * stalled winch, a dead engine, a fuse ...), or the longest time. Extremes of each pull and rest
 * then say which limits were broken and by how much. Which broke first, when several did in one
 * pull, is decided by that pull run again with the limits obeyed.
 *
 * Margin of a limit, in units that make the usual ones alike: 5 % of charge, half a volt, 20 K, a
 * fifth of a cable's rise. Only its sign and its zero are used.
 *
 * Rests: the same after each pull, at least the time to set out the rope where that is due. */
#include "planner/risk_run.h"

#include "base/number.h"

#include <math.h>

static const double SOC_UNIT = 0.05, VOLT_UNIT = 0.5, KELVIN_UNIT = 20.0, WIRE_UNIT = 0.2;
/* margin of a recovery that got nowhere; one more per tenth of the way */
static const double STUCK = -20.0, STUCK_SPAN = 10.0;

static double least(double a, double b)
{
    return fmin(a, b); /* ignores a NaN */
}

/* Share of the rise that a cable's insulation allows, its margin kept. */
static double wire_allowed(const pr_system *system, const pr_limits *limits, int run)
{
    const double ambient = system->def.ambient_degC;
    const double rise_K = system->wire[run].def.insulation_degC - ambient;
    return (rise_K - limits->wire_max_degC_margin) / rise_K;
}

static void margins_of(const pr_system *system, const pr_limits *limits, const pr_extremes *e,
                       double margin[PR_LIMIT_COUNT])
{
    for (int i = 0; i < PR_LIMIT_COUNT; i++)
        margin[i] = PR_INF;
    if (limits->on[PR_LIMIT_RESERVE])
        margin[PR_LIMIT_RESERVE] = (e->least_soc_frac - limits->reserve_frac) / SOC_UNIT;
    if (limits->on[PR_LIMIT_VOLTAGE])
        margin[PR_LIMIT_VOLTAGE] = (e->least_box_V - limits->bus_min_V) / VOLT_UNIT;
    if (limits->on[PR_LIMIT_MOTOR_HEAT])
        margin[PR_LIMIT_MOTOR_HEAT] =
            (limits->motor_max_degC - e->most_armature_degC) / KELVIN_UNIT;
    if (limits->on[PR_LIMIT_CABLE_HEAT] && e->most_wire_run >= 0)
        margin[PR_LIMIT_CABLE_HEAT] =
            (wire_allowed(system, limits, e->most_wire_run) - e->most_wire_ratio) / WIRE_UNIT;
    if (limits->on[PR_LIMIT_RESTART] && !isnan(e->least_restart_V))
        margin[PR_LIMIT_RESTART] =
            (e->least_restart_V - system->def.cranking.min_V - limits->restart_margin_V) /
            VOLT_UNIT;
}

/* Of a rest nothing is asked but how it ended and its extremes. */
static pr_status run_sparingly(const pr_risk_world *world, const pr_system *system, pr_sim *sim,
                               const pr_phase *phase, const pr_limits *limits, pr_phase_end *end)
{
    pr_run_options options = world->job.options;
    options.with_outputs = phase->activity == PR_PULL;
    return pr_sim_run(system, sim, phase, limits, &options, NULL, end);
}

/* The phase again from its start, limits obeyed: which stops it? */
static pr_limit first_of_several(const pr_risk_world *world, const pr_phase *phase,
                                 const pr_limits *limits, pr_risk_bench *bench)
{
    pr_sim again = bench->before;
    pr_phase_end end;
    const pr_status status = run_sparingly(world, &bench->system, &again, phase, limits, &end);
    return status == PR_OK && end.stop == PR_STOP_LIMIT ? end.limit : PR_LIMIT_NONE;
}

static void take_extremes(const pr_extremes *e, pr_risk_outcome *o)
{
    o->least_soc_frac = least(o->least_soc_frac, e->least_soc_frac);
    o->least_box_V = least(o->least_box_V, e->least_box_V);
    o->least_restart_V = least(o->least_restart_V, e->least_restart_V);
    o->most_armature_degC = fmax(o->most_armature_degC, e->most_armature_degC);
}

/* What the phase that just ran did to the limits. */
static void judge(const pr_risk_world *world, const pr_phase *phase, const pr_limits *limits,
                  pr_risk_bench *bench, pr_risk_outcome *o)
{
    double margin[PR_LIMIT_COUNT];
    margins_of(&bench->system, limits, &bench->end.extremes, margin);
    int n_new = 0;
    pr_limit found = PR_LIMIT_NONE;
    for (int i = 0; i < PR_LIMIT_COUNT; i++) {
        o->margin = least(o->margin, margin[i]);
        if (margin[i] >= 0.0)
            continue;
        o->broken[i] = true;
        found = (pr_limit)i;
        n_new++;
    }
    if (o->first != PR_LIMIT_NONE || n_new == 0)
        return;
    o->first = found;
    if (n_new > 1) {
        const pr_limit exact = first_of_several(world, phase, limits, bench);
        o->first = exact != PR_LIMIT_NONE ? exact : found;
    }
}

/* Runs one phase; false when the recovery ends there. */
static bool run_phase(const pr_risk_world *world, const pr_phase *phase, const pr_limits *limits,
                      pr_risk_bench *bench, pr_risk_outcome *o)
{
    bench->before = bench->sim;
    o->status =
        run_sparingly(world, &bench->system, &bench->sim, phase, &world->watched, &bench->end);
    if (o->status != PR_OK)
        return false;
    take_extremes(&bench->end.extremes, o);
    judge(world, phase, limits, bench, o);
    o->ended_by = bench->end.stop;
    return true;
}

static bool run_rest(const pr_risk_world *world, double rest_s, pr_risk_bench *bench,
                     pr_risk_outcome *o)
{
    if (!(rest_s > 0.0))
        return true;
    const pr_job *job = &bench->job;
    const pr_phase phase = {.activity = PR_REST,
                            .engine_rpm = job->rest_rpm,
                            .duration_s = rest_s,
                            .stop_travel_m = PR_NAN};
    /* before the first pull charge and heat are what they are */
    const pr_limits *limits = o->pulls == 0 ? &job->first_limits : &job->limits;
    return run_phase(world, &phase, limits, bench, o) && o->ended_by == PR_STOP_TIME;
}

/* False when the recovery ends with this pull. */
static bool run_pull(const pr_risk_world *world, bool *rerig, pr_risk_bench *bench,
                     pr_risk_outcome *o)
{
    const pr_job *job = &bench->job;
    if (*rerig)
        pr_job_rerig(job, &bench->sim);
    const double goal_m = fmin(job->distance_m, job->overload.at_m);
    const pr_phase phase = {.activity = PR_PULL,
                            .engine_rpm = job->pull_rpm,
                            .duration_s = job->pull_s,
                            .stop_travel_m = isinf(goal_m) ? PR_NAN : goal_m};
    if (!run_phase(world, &phase, &job->limits, bench, o))
        return false;
    pr_job_settle_pull(job, &bench->end);
    o->ended_by = bench->end.stop;
    o->pulls++;
    *rerig = o->ended_by == PR_STOP_ROPE;
    const bool counted = job->plan.pulls > 0 && o->pulls >= (size_t)job->plan.pulls;
    const bool went_on = *rerig || o->ended_by == PR_STOP_TIME;
    o->at_goal = o->ended_by == PR_STOP_TRAVEL || (counted && went_on);
    if (o->at_goal && !isinf(job->overload.at_m)) {
        o->at_goal = false; /* as far as the winch's rated pull goes */
        o->ended_by = PR_STOP_STALL;
        return false;
    }
    return went_on && !o->at_goal;
}

static void run_all(const pr_risk_world *world, double rest_s, pr_risk_bench *bench,
                    pr_risk_outcome *o)
{
    const pr_job *job = &bench->job;
    bool rerig = false, goes_on = job->overload.at_m > 0.0;
    if (!goes_on)
        o->ended_by = PR_STOP_STALL;
    while (goes_on) {
        if (bench->sim.time_s > job->plan.total_max_s || o->pulls >= PR_CYCLES_MAX) {
            o->over_time = true;
            return;
        }
        const double wait_s = o->pulls == 0 ? world->first_rest_s
                              : rerig       ? fmax(rest_s, ceil(job->plan.rerig_s))
                                            : rest_s;
        goes_on = run_rest(world, wait_s, bench, o) && run_pull(world, &rerig, bench, o);
    }
}

void pr_risk_replay(const pr_risk_world *world, double rest_s, pr_risk_bench *bench,
                    pr_risk_outcome *outcome)
{
    pr_risk_outcome *o = outcome;
    *o = (pr_risk_outcome){.status = PR_OK,
                           .ended_by = PR_STOP_TIME,
                           .margin = PR_INF,
                           .total_s = PR_INF,
                           .least_soc_frac = PR_INF,
                           .least_box_V = PR_INF,
                           .least_restart_V = PR_NAN,
                           .most_armature_degC = -PR_INF};
    bench->sim = bench->job.start;
    bench->recoveries++;
    o->overload = !isinf(bench->job.overload.at_m);
    run_all(world, rest_s, bench, o);
    const double way_m = bench->job.distance_m;
    if (bench->system.def.has_winch)
        o->travel_m = bench->sim.y[bench->system.at.travel];
    if (o->at_goal)
        o->total_s = bench->sim.time_s;
    else if (!o->over_time)
        o->margin = STUCK + (isinf(way_m) ? 0.0 : STUCK_SPAN * o->travel_m / way_m);
    o->holds = o->status == PR_OK && o->at_goal && o->first == PR_LIMIT_NONE;
}
