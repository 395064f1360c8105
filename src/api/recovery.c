/* The public interface: a recovery owns a scenario, its messages and its plans, and hands them out
 * as plain numbers. Everything it does is done by reader and planner. */
#include "pullrest.h"

#include "base/diag.h"
#include "planner/plan.h"
#include "planner/warnings.h"
#include "reader/reader.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

struct pr_recovery {
    pr_scenario scenario;
    pr_diag diag;
    pr_recovery_code status;
    bool planned, warned; /* warned: of the plan, which is the same each time */
    pr_plan_set set;
};

const char *pr_recovery_version(void)
{
    return PR_VERSION;
}

/* What was told of mistakes, more than `errors_before`, is the input's fault. A failure that left
 * no message still has to say what it was. */
static pr_recovery_code note_failure(pr_recovery *r, pr_status status, size_t errors_before,
                                     const char *name)
{
    if (status == PR_OK)
        return PR_RECOVERY_DONE;
    const bool told = r->diag.errors > errors_before;
    if (!told)
        pr_diag_add(&r->diag, PR_ERROR, (pr_place){.file = name}, "%s", pr_status_text(status));
    return told && status != PR_ERR_NOMEM && status != PR_ERR_CANCELLED ? PR_RECOVERY_INPUT
                                                                        : PR_RECOVERY_FAILED;
}

static pr_recovery *recovery_new(void)
{
    pr_recovery *r = calloc(1, sizeof *r);
    if (r != NULL) {
        r->scenario = pr_scenario_default();
        r->diag = pr_diag_init();
    }
    return r;
}

pr_recovery *pr_recovery_read(const char *path, const char *models_folder)
{
    pr_recovery *r = recovery_new();
    if (r == NULL)
        return NULL;
    const pr_reader_options options = {.models_folder = models_folder};
    const pr_status status = pr_scenario_read(path, &options, &r->scenario, &r->diag);
    r->status = note_failure(r, status, 0, path);
    return r;
}

pr_recovery *pr_recovery_read_text(const char *name, const char *text, size_t size,
                                   const char *models_folder)
{
    pr_recovery *r = recovery_new();
    if (r == NULL)
        return NULL;
    const pr_reader_options options = {.models_folder = models_folder};
    const pr_status status =
        pr_scenario_read_text(name, text, size, &options, &r->scenario, &r->diag);
    r->status = note_failure(r, status, 0, name);
    return r;
}

static void drop_plans(pr_recovery *r)
{
    if (r->planned)
        pr_plan_set_free(&r->set);
    r->planned = false;
}

void pr_recovery_free(pr_recovery *r)
{
    if (r == NULL)
        return;
    drop_plans(r);
    pr_scenario_free(&r->scenario);
    pr_diag_free(&r->diag);
    free(r);
}

pr_recovery_code pr_recovery_status(const pr_recovery *r)
{
    return r->status;
}

size_t pr_recovery_message_count(const pr_recovery *r)
{
    return r->diag.count;
}

pr_recovery_code pr_recovery_get_message(const pr_recovery *r, size_t index,
                                         pr_recovery_message *message)
{
    if (index >= r->diag.count)
        return PR_RECOVERY_INPUT;
    const pr_diag_entry *e = &r->diag.entries[index];
    *message = (pr_recovery_message){.severity = (int)e->severity,
                                     .file = e->file,
                                     .line = e->line,
                                     .column = e->column,
                                     .text = e->text};
    return PR_RECOVERY_DONE;
}

const char *pr_recovery_title(const pr_recovery *r)
{
    return r->scenario.title;
}

pr_recovery_code pr_recovery_plan_all(pr_recovery *r, pr_recovery_progress_fn progress,
                                      void *context)
{
    if (r->status != PR_RECOVERY_DONE)
        return r->status;
    drop_plans(r);
    const size_t errors = r->diag.errors;
    const pr_status status = pr_plan_make(&r->scenario, &r->set, &r->diag, progress, context);
    if (status != PR_OK)
        return note_failure(r, status, errors, r->scenario.path);
    r->planned = true;
    if (!r->warned) {
        pr_warnings_of_plan(&r->scenario, &r->set.plan[PR_PLAN_EVEN], &r->diag);
        pr_warnings_of_rig(&r->scenario, &r->set.plan[PR_PLAN_EVEN], &r->diag);
        r->warned = true;
    }
    return r->set.plan[PR_PLAN_EVEN].go ? PR_RECOVERY_DONE : PR_RECOVERY_NO;
}

static const pr_plan *find_plan(const pr_recovery *r, pr_recovery_way way)
{
    const unsigned k = (unsigned)way;
    return r->planned && k < PR_PLAN_KINDS ? &r->set.plan[k] : NULL;
}

/* What binds, by limit or by what would stop the next pull; "" when handling the rope does. */
static const char *binding_text(pr_limit limit, pr_stop stop)
{
    if (limit != PR_LIMIT_NONE)
        return pr_limit_name(limit);
    return stop == PR_STOP_TIME || stop == PR_STOP_TRAVEL || stop == PR_STOP_LIMIT
               ? ""
               : pr_stop_name(stop);
}

static const char *end_text(const pr_plan *plan)
{
    if (plan->go)
        return "";
    return plan->ended_by == PR_STOP_LIMIT ? pr_limit_name(plan->ended_limit)
                                           : pr_stop_name(plan->ended_by);
}

pr_recovery_code pr_recovery_get_plan(const pr_recovery *r, pr_recovery_way way,
                                      pr_recovery_plan *plan)
{
    const pr_plan *p = find_plan(r, way);
    if (p == NULL)
        return PR_RECOVERY_INPUT;
    if (p->status != PR_OK)
        return PR_RECOVERY_FAILED;
    *plan = (pr_recovery_plan){.go = p->go,
                               .first_rest_s = p->first_rest_s,
                               .pull_s = p->pull_s,
                               .rest_s = p->rest_s,
                               .pull_rpm = p->pull_rpm,
                               .rest_rpm = p->rest_rpm,
                               .parts = p->parts,
                               .n_pulls = p->n_cycles,
                               .total_s = p->total_s,
                               .travel_m = p->travel_m,
                               .distance_m = p->distance_m,
                               .binds = binding_text(p->binding, p->binding_stop),
                               .ended_by = end_text(p),
                               .reserve_frac = r->set.reserve_frac,
                               .least_charge_frac = p->least_soc_frac,
                               .least_box_V = p->least_box_V,
                               .most_motor_degC = p->most_armature_degC,
                               .least_restart_V = p->least_restart_V,
                               .most_anchor_N = p->most_anchor_N};
    return PR_RECOVERY_DONE;
}

pr_recovery_code pr_recovery_get_pull(const pr_recovery *r, pr_recovery_way way, size_t index,
                                      pr_recovery_pull *pull)
{
    const pr_plan *p = find_plan(r, way);
    if (p == NULL || p->status != PR_OK || index >= p->n_cycles)
        return PR_RECOVERY_INPUT;
    const pr_cycle *c = &p->cycles[index];
    *pull = (pr_recovery_pull){.start_s = c->start_s,
                               .pull_s = c->pull_s,
                               .rest_s = c->rest_s,
                               .travel_m = c->travel_m,
                               .charge_after_pull_frac = c->soc_after_pull_frac,
                               .charge_after_rest_frac = c->soc_after_rest_frac,
                               .least_box_V = c->pull.extremes.least_box_V,
                               .most_motor_degC = c->pull.extremes.most_armature_degC,
                               .binds = binding_text(c->binding, c->binding_stop)};
    return PR_RECOVERY_DONE;
}

typedef struct sampling {
    pr_recovery_sample_fn fn;
    void *context;
} sampling;

static int pass_sample(void *context, const pr_system *system, const pr_outputs *o,
                       const char *event)
{
    const sampling *s = context;
    (void)system;
    const pr_recovery_sample sample = {.time_s = o->time_s,
                                       .engine_rpm = o->engine_rpm,
                                       .box_V = o->box_V[PR_POST_MAIN],
                                       .battery_A = o->battery_A[PR_POST_MAIN],
                                       .alternator_A = o->alternator_A,
                                       .winch_A = o->winch_A,
                                       .loads_A = o->loads_A,
                                       .charge_frac = o->soc_frac[PR_POST_MAIN],
                                       .motor_degC = o->armature_degC,
                                       .travel_m = o->travel_m,
                                       .pull_N = o->pull_N,
                                       .event = event != NULL ? event : ""};
    return s->fn(s->context, &sample);
}

static size_t phases_of(const pr_scenario *scenario)
{
    size_t n = 0;
    for (int i = 0; i < scenario->n_schedule; i++)
        n += (size_t)(scenario->schedule[i].repeat > 1 ? scenario->schedule[i].repeat : 1);
    return n;
}

pr_recovery_code pr_recovery_run_schedule(pr_recovery *r, double interval_s,
                                          pr_recovery_sample_fn sample, void *context)
{
    if (r->status != PR_RECOVERY_DONE)
        return r->status;
    if (r->scenario.n_schedule == 0 || !(interval_s > 0.0) || sample == NULL)
        return PR_RECOVERY_INPUT;
    const size_t capacity = phases_of(&r->scenario);
    pr_phase_end *ends = calloc(capacity > 0 ? capacity : 1, sizeof *ends);
    if (ends == NULL)
        return PR_RECOVERY_FAILED;
    sampling passing = {sample, context};
    const pr_observer observer = {.fn = pass_sample, .context = &passing, .interval_s = interval_s};
    size_t n_ends;
    const size_t errors = r->diag.errors;
    const pr_status status =
        pr_schedule_run(&r->scenario, &observer, ends, capacity, &n_ends, &r->diag);
    free(ends);
    return note_failure(r, status, errors, r->scenario.path);
}
