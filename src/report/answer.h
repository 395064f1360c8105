/* The answer of a plan in three lines: go or no-go and what to do; what binds; what if it is worse.
 */
#ifndef PR_REPORT_ANSWER_H
#define PR_REPORT_ANSWER_H

#include "planner/plan.h"
#include "report/units.h"

enum { PR_ANSWER_LINES = 3, PR_ANSWER_BYTES = 320 };

typedef struct pr_answer {
    bool go;
    pr_plan_kind kind; /* the plan that the answer is about */
    char line[PR_ANSWER_LINES][PR_ANSWER_BYTES];
} pr_answer;

/* The plan to lead with: the even rest if it works, because it is the one to remember; else the
 * first that works; else the one that got farthest. */
pr_plan_kind pr_answer_kind(const pr_plan_set *set);

/* remedy: the best remedy for a 'no' in a clause ("set a pulley block: 42 min"); NULL: not
 * computed. */
void pr_answer_make(const pr_scenario *scenario, const pr_plan_set *set, const char *remedy,
                    pr_units units, pr_answer *answer);

#endif
