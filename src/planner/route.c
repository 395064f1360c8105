/* The record of a recovery while it is planned: cycles and checkpoints; see job.h. */
#include "planner/job.h"

#include "base/number.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

void pr_route_clear(pr_route *route)
{
    *route =
        (pr_route){.capacity = route->capacity, .cycles = route->cycles, .after = route->after};
}

void pr_route_free(pr_route *route)
{
    free(route->cycles);
    free(route->after);
    *route = (pr_route){0};
}

static pr_status grow(pr_route *route, size_t capacity)
{
    pr_cycle *cycles = realloc(route->cycles, capacity * sizeof *cycles);
    if (cycles == NULL)
        return PR_ERR_NOMEM;
    route->cycles = cycles;
    pr_sim *after = realloc(route->after, capacity * sizeof *after);
    if (after == NULL)
        return PR_ERR_NOMEM;
    route->after = after;
    route->capacity = capacity;
    return PR_OK;
}

pr_status pr_route_copy(const pr_route *from, pr_route *to)
{
    if (to->capacity < from->n) {
        const pr_status status = grow(to, from->n);
        if (status != PR_OK)
            return status;
    }
    pr_route copy = *from;
    copy.capacity = to->capacity;
    copy.cycles = to->cycles;
    copy.after = to->after;
    if (from->n > 0) {
        memcpy(copy.cycles, from->cycles, from->n * sizeof *copy.cycles);
        memcpy(copy.after, from->after, from->n * sizeof *copy.after);
    }
    *to = copy;
    return PR_OK;
}

static void add_rest(pr_route *route, const pr_job *job, const pr_attempt *attempt, double rest_s,
                     bool rerig, const pr_trial *below)
{
    const pr_limit binding = below != NULL ? below->limit : PR_LIMIT_NONE;
    const pr_stop stop = below != NULL ? below->stop : PR_STOP_TIME;
    if (route->n == 0) {
        route->first_rest_s = rest_s;
        route->first_rest = attempt->rest;
        route->first_binding = binding;
        route->first_binding_stop = stop;
        return;
    }
    pr_cycle *cycle = &route->cycles[route->n - 1];
    cycle->rest_s = rest_s;
    cycle->rerig = rerig;
    cycle->binding = binding;
    cycle->binding_stop = stop;
    cycle->rest = attempt->rest;
    if (attempt->rested)
        cycle->soc_after_rest_frac = attempt->rest.last.soc_frac[job->system->def.starter_post];
}

pr_status pr_route_add(pr_route *route, const pr_job *job, const pr_attempt *attempt, double rest_s,
                       bool rerig, const pr_trial *below)
{
    if (route->n == route->capacity) {
        const pr_status status = grow(route, route->capacity == 0 ? 16 : 2 * route->capacity);
        if (status != PR_OK)
            return status;
    }
    add_rest(route, job, attempt, rest_s, rerig, below);
    route->end_s = attempt->after.time_s;
    if (!attempt->pulled)
        return PR_OK; /* the rest itself broke a limit: there is no pull to record */
    const pr_phase_end *pull = &attempt->pull;
    const double soc_frac = pull->last.soc_frac[job->system->def.starter_post];
    route->after[route->n] = attempt->after;
    route->cycles[route->n] = (pr_cycle){
        .start_s = attempt->after.time_s - pull->duration_s,
        .pull_s = pull->duration_s,
        .travel_m = pull->last.travel_m,
        .layer = pull->last.layer,
        .binding = PR_LIMIT_NONE,
        .binding_stop = PR_STOP_TIME,
        .pull = *pull,
        .rest_edge_s = PR_NAN,
        .soc_after_pull_frac = soc_frac,
        .soc_after_rest_frac = soc_frac,
    };
    route->n++;
    return PR_OK;
}

bool pr_route_needs_rerig(const pr_route *route)
{
    return route->n > 0 && route->cycles[route->n - 1].pull.stop == PR_STOP_ROPE;
}

double pr_route_travel_m(const pr_route *route)
{
    return route->n > 0 ? route->cycles[route->n - 1].travel_m : 0.0;
}

long pr_route_rest_min_s(const pr_route *route, const pr_job *job)
{
    if (route->n == 0)
        return 0;
    const double least_s = pr_route_needs_rerig(route)
                               ? fmax(job->plan.rest_min_s, job->plan.rerig_s)
                               : job->plan.rest_min_s;
    return (long)ceil(least_s);
}

long pr_route_rest_max_s(const pr_route *route, const pr_job *job)
{
    const long least_s = pr_route_rest_min_s(route, job),
               most_s = (long)floor(job->plan.rest_max_s);
    return most_s > least_s ? most_s : least_s;
}

/* Infinite: the vehicle has no such part. */
static double known(double x)
{
    return isfinite(x) ? x : PR_NAN;
}

static void gather_extremes(pr_plan *plan)
{
    pr_extremes all = pr_extremes_none();
    /* before the first pull charge and heat are what they are: the plan has not begun */
    if (plan->first_rest_s > 0.0 && plan->n_cycles > 0)
        all.least_box_V = plan->first_rest.extremes.least_box_V;
    else if (plan->first_rest_s > 0.0)
        pr_extremes_merge(&all, &plan->first_rest.extremes);
    for (size_t i = 0; i < plan->n_cycles; i++) {
        pr_extremes_merge(&all, &plan->cycles[i].pull.extremes);
        if (plan->cycles[i].rest.duration_s > 0.0)
            pr_extremes_merge(&all, &plan->cycles[i].rest.extremes);
    }
    plan->least_soc_frac = known(all.least_soc_frac);
    plan->least_box_V = known(all.least_box_V);
    plan->least_restart_V = known(all.least_restart_V);
    plan->most_armature_degC = known(all.most_armature_degC);
    plan->most_wire_ratio = known(all.most_wire_ratio);
    plan->most_wire_run = all.most_wire_run;
    /* 0 N is an answer only if something ran */
    plan->most_anchor_N =
        plan->n_cycles > 0 || plan->first_rest_s > 0.0 ? known(all.most_anchor_N) : PR_NAN;
}

/* The limit that sets most rests; among equals the one that sets the last. Stops that are no limit
 * count as one kind each. */
static void find_binding(pr_plan *plan)
{
    enum { KINDS = PR_LIMIT_COUNT + PR_STOP_FAILED + 1 };
    size_t count[KINDS] = {0}, last[KINDS] = {0};
    plan->binding = PR_LIMIT_NONE;
    plan->binding_stop = PR_STOP_TIME;
    plan->binding_cycle = 0;
    size_t most = 0;
    for (size_t i = 0; i < plan->n_cycles; i++) {
        const pr_cycle *c = &plan->cycles[i];
        if (c->binding_stop == PR_STOP_TIME)
            continue;
        const size_t kind = c->binding_stop == PR_STOP_LIMIT
                                ? (size_t)c->binding
                                : (size_t)PR_LIMIT_COUNT + (size_t)c->binding_stop;
        count[kind]++;
        last[kind] = i;
        if (count[kind] >= most) {
            most = count[kind];
            plan->binding = c->binding;
            plan->binding_stop = c->binding_stop;
        }
        if (plan->binding == c->binding && plan->binding_stop == c->binding_stop)
            plan->binding_cycle = last[kind];
    }
    if (most == 0 && plan->first_binding_stop != PR_STOP_TIME) {
        plan->binding = plan->first_binding;
        plan->binding_stop = plan->first_binding_stop;
    }
}

void pr_plan_tell_route(pr_plan *plan, pr_plan_kind kind, const pr_job *job, const pr_route *route)
{
    *plan = (pr_plan){
        .kind = kind,
        .status = PR_OK,
        .go = route->go,
        .first_rest_s = route->first_rest_s,
        .first_binding = route->first_binding,
        .first_binding_stop = route->first_binding_stop,
        .first_rest = route->first_rest,
        .over_time = route->over_time,
        .equal_rests = route->equal_rests,
        .overload = job->overload,
        .reach = pr_job_reach(job, route->cycles, route->n),
        .pull_s = job->pull_s,
        .pull_rpm = job->pull_rpm,
        .rest_rpm = job->rest_rpm,
        .parts = job->system->def.rig.parts,
        .n_cycles = route->n,
        .cycles = route->cycles,
        .total_s = route->end_s,
        .travel_m = pr_route_travel_m(route),
        .distance_m = job->distance_m,
        .ended_by = route->ended_by,
        .ended_limit = route->ended_limit,
        .simulations = job->simulations,
    };
    for (size_t i = 0; i + 1 < plan->n_cycles; i++)
        if (!plan->cycles[i].rerig)
            plan->rest_s = fmax(plan->rest_s, plan->cycles[i].rest_s);
    gather_extremes(plan);
    find_binding(plan);
}

void pr_plan_take_route(pr_plan *plan, pr_plan_kind kind, const pr_job *job, pr_route *route)
{
    pr_plan_tell_route(plan, kind, job, route);
    if (route->n > 0)
        pr_sim_ledger_error(job->system, &job->start, &route->after[route->n - 1],
                            &plan->charge_error_frac, &plan->energy_error_frac);
    free(route->after);
    *route = (pr_route){0};
}
