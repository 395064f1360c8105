/* A scenario planned with all that a report of it shows: see planned.h. */
#include "cli/planned.h"

#include "planner/warnings.h"
#include "planner/work.h"

#include <math.h>
#include <stdlib.h>

pr_planned *pr_planned_new(void)
{
    pr_planned *planned = calloc(1, sizeof *planned);
    if (planned == NULL)
        return NULL;
    planned->scenario = pr_scenario_default();
    planned->diag = pr_diag_init();
    return planned;
}

void pr_planned_free(pr_planned *planned)
{
    if (planned == NULL)
        return;
    pr_plan_set_free(&planned->set);
    pr_scenario_free(&planned->scenario);
    pr_diag_free(&planned->diag);
    free(planned);
}

pr_plan_report pr_planned_report(const pr_planned *planned)
{
    pr_plan_report report = {.scenario = &planned->scenario, .set = &planned->set};
    if (planned->has_remedies)
        report.remedies = &planned->remedies;
    for (int i = 0; i < PR_CASE_COUNT; i++)
        report.outlook[i] = planned->outlook[i];
    return report;
}

/* The recovery in kinder and worse ground, each by itself. */
typedef struct outlooks {
    pr_planned *planned;
    bool no_memory[PR_CASE_COUNT];
} outlooks;

/* The same recovery in kinder or worse ground: what a driver who finds out will do. */
static void look_out(void *context, int worker, size_t case_number)
{
    (void)worker;
    outlooks *all = context;
    pr_planned *planned = all->planned;
    const pr_case which = (pr_case)case_number;
    if (!isfinite(planned->set.demand_N[which]))
        return;
    const pr_plan_set *set = &planned->set;
    const pr_plan_kind lead = pr_answer_kind(set);
    const pr_plan *made = &set->plan[lead == PR_PLAN_SHORTEST ? PR_PLAN_AS_NEEDED : lead];
    if (which == planned->scenario.system.demand_case && which != PR_CASE_LOW) {
        planned->outlook[which] =
            (pr_outlook){true, made->go, made->total_s, made->rest_s, made->parts};
        return; /* planned already */
    }
    pr_plan plan = {0};
    const pr_status status = pr_plan_look_out(&planned->scenario, set, lead, which, &plan);
    /* else it stays unknown, and is said so */
    if (status == PR_OK && plan.status == PR_OK)
        planned->outlook[which] =
            (pr_outlook){true, plan.go, plan.total_s, plan.rest_s, plan.parts};
    pr_plan_free(&plan);
    all->no_memory[which] = status == PR_ERR_NOMEM;
}

static pr_status look_around(pr_planned *planned, pr_progress *progress)
{
    if (planned->set.plan[pr_answer_kind(&planned->set)].status != PR_OK)
        return PR_OK;
    outlooks all = {.planned = planned};
    size_t done;
    pr_status status = pr_work_run(look_out, &all, PR_CASE_COUNT, 0, NULL, NULL, &done);
    for (int i = 0; i < PR_CASE_COUNT && status == PR_OK; i++)
        status = all.no_memory[i] ? PR_ERR_NOMEM : PR_OK;
    const pr_plan *as_needed = &planned->set.plan[PR_PLAN_AS_NEEDED];
    if (status != PR_OK || as_needed->status != PR_OK || !pr_remedies_wanted(as_needed))
        return status;
    status = pr_remedies_find(&planned->scenario, as_needed, &planned->remedies, pr_progress_update,
                              progress);
    planned->has_remedies = status == PR_OK;
    return status;
}

int pr_planned_make(const pr_cli *cli, const char *path, pr_planned *planned)
{
    const int read = pr_cli_read_scenario(cli, path, &planned->scenario, &planned->diag);
    if (read != PR_EXIT_DONE)
        return read;
    pr_progress progress = pr_progress_start(cli, "planning");
    pr_status status = pr_plan_make(&planned->scenario, &planned->set, &planned->diag,
                                    pr_progress_update, &progress);
    if (status == PR_OK) {
        progress.what = "looking for remedies";
        status = look_around(planned, &progress);
    }
    pr_progress_end(&progress);
    if (status == PR_OK)
        pr_warnings_of_plan(&planned->scenario, &planned->set.plan[pr_answer_kind(&planned->set)],
                            &planned->diag);
    if (status == PR_OK)
        pr_warnings_of_rig(&planned->scenario, &planned->set.plan[pr_answer_kind(&planned->set)],
                           &planned->diag);
    pr_cli_print_diag(cli, &planned->diag);
    return status == PR_OK ? PR_EXIT_DONE : pr_cli_failed(cli, status, &planned->diag);
}
