/* Runs the schedule that a user gives: phases in order, groups repeated, nothing planned.
 *
 * All limits are off, so that the run shows what would happen; what stops the machinery itself
 * (stall, fuse, rope, drop-outs) still ends a phase, and the next phase follows. A rope that is in
 * is set out again at the start of the first rest that is at least as long as the re-rig takes. The
 * run ends when the vehicle is out. */
#include "planner/plan.h"

#include "base/number.h"
#include "planner/job.h"

#include <math.h>
#include <stdlib.h>

typedef struct schedule_run {
    const pr_scenario *scenario;
    const pr_job *job;
    pr_system *system;
    pr_run_options options;
    const pr_observer *observer;
    pr_sim sim;
    pr_phase_end *ends;
    size_t capacity, n;
    bool rope_in, over;
} schedule_run;

static bool is_pull(pr_activity activity)
{
    return activity == PR_PULL || activity == PR_PULL_ENGINE_OFF;
}

static pr_status run_entry(schedule_run *r, const pr_schedule_entry *entry)
{
    pr_phase phase = entry->phase;
    const pr_system_def *def = &r->system->def;
    const bool has_way =
        def->has_winch && def->work == PR_WORK_DEMAND && def->demand.n_segments > 0;
    if (is_pull(phase.activity) && isnan(phase.stop_travel_m) && has_way)
        phase.stop_travel_m = pr_demand_distance_m(&def->demand);
    if (r->n >= r->capacity)
        return PR_ERR_RANGE;
    pr_phase_end *end = &r->ends[r->n];
    const pr_status status =
        pr_sim_run(r->system, &r->sim, &phase, NULL, &r->options, r->observer, end);
    r->n++;
    if (status != PR_OK)
        return status;
    r->rope_in = r->rope_in || end->stop == PR_STOP_ROPE;
    r->over = end->stop == PR_STOP_TRAVEL;
    if (r->rope_in && !is_pull(phase.activity) && end->duration_s >= r->scenario->plan.rerig_s) {
        pr_job_rerig(r->job, &r->sim);
        r->rope_in = false;
    }
    return PR_OK;
}

/* Entries next to each other with the same group number (not 0) are repeated together. */
static pr_status run_groups(schedule_run *r)
{
    const pr_scenario *s = r->scenario;
    pr_status status = PR_OK;
    for (int first = 0, after; first < s->n_schedule; first = after) {
        const pr_schedule_entry *entry = &s->schedule[first];
        after = first + 1;
        while (after < s->n_schedule && entry->group != 0 &&
               s->schedule[after].group == entry->group)
            after++;
        const int times = entry->repeat > 1 ? entry->repeat : 1;
        for (int k = 0; k < times; k++)
            for (int i = first; i < after; i++) {
                status = run_entry(r, &s->schedule[i]);
                if (status != PR_OK || r->over)
                    return status;
            }
    }
    return status;
}

/* A schedule needs no goal. */
static pr_status open_job(const pr_scenario *scenario, pr_job *job, pr_diag *diag)
{
    pr_scenario *open = malloc(sizeof *open);
    if (open == NULL)
        return PR_ERR_NOMEM;
    *open = *scenario;
    open->plan.pulls = 1;
    const pr_status status = pr_job_open(open, job, diag);
    free(open);
    return status;
}

pr_status pr_schedule_parts(const pr_scenario *scenario, int *parts)
{
    const pr_system_def *def = &scenario->system;
    const int most = scenario->plan.blocks + 1;
    /* set at the end: it may be the scenario's own number, where 0 asks for the choice */
    int chosen = scenario->plan.parts > 0 ? scenario->plan.parts : 1;
    pr_status status = PR_OK;
    if (scenario->plan.parts <= 0 && most > 1 && def->has_winch && def->work == PR_WORK_DEMAND) {
        pr_job job = {0};
        status = open_job(scenario, &job, NULL);
        const int needed = status == PR_OK ? pr_job_parts_needed(&job, def->demand_case) : 0;
        pr_job_close(&job);
        chosen = needed > 0 && needed <= most ? needed : most;
        if (status == PR_OK && chosen < most) {
            pr_plan plan; /* more parts may be quicker */
            status = pr_plan_make_variant(scenario, PR_PLAN_AS_NEEDED, NULL, &plan);
            if (status == PR_OK)
                chosen = plan.parts;
            pr_plan_free(&plan);
        }
    }
    *parts = chosen;
    return status;
}

pr_status pr_schedule_run(const pr_scenario *scenario, const pr_observer *observer,
                          pr_phase_end *ends, size_t ends_capacity, size_t *n_ends, pr_diag *diag)
{
    *n_ends = 0;
    if (scenario->n_schedule < 1)
        return PR_ERR_INPUT;
    pr_job job = {0};
    int parts = 1;
    pr_status status = open_job(scenario, &job, diag);
    if (status == PR_OK)
        status = pr_schedule_parts(scenario, &parts);
    if (status == PR_OK && scenario->system.has_winch)
        status = pr_job_rig(&job, parts, scenario->system.demand_case);
    if (status == PR_OK) {
        schedule_run r = {.scenario = scenario,
                          .job = &job,
                          .system = job.system,
                          .options = pr_run_options_default(),
                          .observer = observer,
                          .sim = job.start,
                          .ends = ends,
                          .capacity = ends_capacity};
        status = run_groups(&r);
        *n_ends = r.n;
    }
    pr_job_close(&job);
    return status;
}
