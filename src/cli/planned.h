/* A scenario planned with all that a report of it shows: plans, outlook, remedies. For every
 * command that leads with a plan. */
#ifndef PR_CLI_PLANNED_H
#define PR_CLI_PLANNED_H

#include "cli/cli.h"
#include "report/answer.h"

typedef struct pr_planned {
    pr_scenario scenario;
    pr_plan_set set;
    pr_remedy_list remedies;
    bool has_remedies;
    pr_outlook outlook[PR_CASE_COUNT];
    pr_diag diag; /* of reader and planner */
} pr_planned;

/* Reads and plans; PR_EXIT_DONE, or the exit status to end with (said). NULL: out of memory. */
pr_planned *pr_planned_new(void);
int pr_planned_make(const pr_cli *cli, const char *path, pr_planned *planned);
void pr_planned_free(pr_planned *planned);
pr_plan_report pr_planned_report(const pr_planned *planned);

#endif
