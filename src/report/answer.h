/* The answer of a plan in three lines: go or no-go and what to do; what binds; what if it is worse.
 */
#ifndef PR_REPORT_ANSWER_H
#define PR_REPORT_ANSWER_H

#include "planner/plan.h"
#include "planner/remedies.h"
#include "report/units.h"

/* The recovery planned anew for ground that is kinder or worse than thought. */
typedef struct pr_outlook {
    bool known, go;
    double total_s, rest_s; /* rest_s: the longest */
    int parts;              /* of line; 0: not known */
} pr_outlook;

/* All that a report of a plan shows. */
typedef struct pr_plan_report {
    const pr_scenario *scenario;
    const pr_plan_set *set;
    const pr_remedy_list *remedies; /* NULL: not computed */
    pr_outlook outlook[PR_CASE_COUNT];
} pr_plan_report;

enum { PR_ANSWER_LINES = 3, PR_ANSWER_BYTES = 320, PR_ANSWER_COLUMNS = 100 };

typedef struct pr_answer {
    bool go;
    pr_plan_kind kind; /* the plan that the answer is about */
    char line[PR_ANSWER_LINES][PR_ANSWER_BYTES];
} pr_answer;

/* The plan to lead with: the even rest if it works, because it is the one to remember; else the
 * first that works; else the one that got farthest. */
pr_plan_kind pr_answer_kind(const pr_plan_set *set);

void pr_answer_make(const pr_plan_report *report, pr_units units, pr_answer *answer);

#endif
