/* What goes through the link between two batteries when the winch pulls, or one fills the other;
 * see budget.h.
 *
 * Simulated: one pull at the winch's rated amps for the time that its sheet allows (a recovery by
 * current: at its own amps), from the file's charge and temperature, then ten minutes of rest; at
 * idle and at the highest speed. No fuse opens, no limit stops it, and the engine runs on.
 *     most    at any instant of pull and rest
 *     steady  what is left at the end of the rest, on its way to the battery that gave
 * Without a winch there are the rests alone, and what they begin with counts as steady: a deep
 * battery takes it for hours.
 *
 * A relay or charger starts closed: it has had the time. A hand switch that the file leaves open
 * counts as closed, because one day it will be. */
#include "planner/budget.h"

#include "base/number.h"

#include <math.h>
#include <stdlib.h>

static const double REST_s = 600.0;

/* The system as it pulls at a given current, whatever the ground. */
static pr_status open_pulling(const pr_system *as_is, pr_system *system)
{
    pr_system_def *def = malloc(sizeof *def);
    if (def == NULL)
        return PR_ERR_NOMEM;
    *def = as_is->def;
    if (def->work == PR_WORK_DEMAND) {
        def->work = PR_WORK_CURRENT;
        def->pull_A = as_is->motor.def.rated_A; /* from the table when there is one */
        def->n_profile = 0;
    }
    if (def->switch_rule == PR_SWITCH_OPEN)
        def->switch_rule = PR_SWITCH_CLOSED;
    for (int r = 0; r < PR_RUNS_MAX; r++)
        def->run[r].has_fuse = false;
    for (int k = 0; k < def->n_loads; k++)
        def->load[k].def.stops_engine = false;
    const pr_status status = pr_system_derive(def, system, NULL);
    free(def);
    return status;
}

/* pull_s of 0: no pull. */
static pr_status run_at(const pr_system *system, double rpm, double pull_s, pr_budget_link *link)
{
    const pr_run_options options = pr_run_options_default();
    pr_limits none = pr_limits_default(system);
    for (int i = 0; i < PR_LIMIT_COUNT; i++)
        none.on[i] = false;
    pr_sim sim;
    pr_status status = pr_sim_start(system, &sim);
    const pr_link_kind kind = system->def.link.kind;
    sim.modes.link_closed = kind == PR_LINK_RELAY || kind == PR_LINK_CHARGER;
    for (int rests = pull_s > 0.0 ? 0 : 1; rests <= 1 && status == PR_OK; rests++) {
        const pr_phase phase = {.activity = rests ? PR_REST : PR_PULL,
                                .engine_rpm = rpm,
                                .duration_s = rests ? REST_s : pull_s,
                                .stop_travel_m = PR_NAN};
        pr_phase_end end;
        status = pr_sim_run(system, &sim, &phase, &none, &options, NULL, &end);
        if (status != PR_OK)
            break;
        link->most_A = fmax(link->most_A, end.extremes.most_link_A);
        if (rests)
            link->steady_A = fmax(link->steady_A, end.last.run_A[PR_RUN_LINK]);
    }
    return status;
}

pr_status pr_budget_link_find(const pr_system *system, pr_budget_link *link)
{
    *link = (pr_budget_link){0.0, 0.0};
    const pr_system_def *def = &system->def;
    const bool pulls = def->has_winch || def->work == PR_WORK_CURRENT;
    const double pull_s = pulls ? system->motor.def.rated_time_s : 0.0;
    if (def->n_batteries < 2 || def->link.kind == PR_LINK_NONE)
        return PR_OK;
    pr_system *pulling = malloc(sizeof *pulling);
    if (pulling == NULL)
        return PR_ERR_NOMEM;
    pr_status status = open_pulling(system, pulling);
    const double speeds_rpm[] = {def->idle_rpm, def->max_rpm};
    for (int i = 0; i < 2 && status == PR_OK; i++)
        status = run_at(pulling, speeds_rpm[i], pull_s, link);
    if (!pulls)
        link->steady_A = link->most_A;
    free(pulling);
    return status;
}
