/* The same recovery with several rigs: does it go, how long does it take, what does a second
 * battery or a bigger alternator buy? The first case is the one that the others are held against.
 */
#ifndef PR_PLANNER_COMPARE_H
#define PR_PLANNER_COMPARE_H

#include "planner/plan.h"

enum { PR_COMPARE_MAX = 16 };

/* What a case has that the first has not, or has differently. */
typedef enum pr_difference {
    PR_DIFFERENCE_SECOND_BATTERY = 1,
    PR_DIFFERENCE_BIGGER_ALTERNATOR = 2,
    PR_DIFFERENCE_BIGGER_BATTERY = 4,
    PR_DIFFERENCE_MORE_PARTS = 8, /* of line */
    PR_DIFFERENCE_FASTER_ENGINE = 16,
    PR_DIFFERENCE_CABLE = 32,
    PR_DIFFERENCE_OTHER_WINCH = 64,
    /* not the same recovery any more: the rig alone does not explain what comes out */
    PR_DIFFERENCE_GROUND = 128, /* weight, way, ground, anchor */
    PR_DIFFERENCE_WEATHER = 256,
    PR_DIFFERENCE_START = 512, /* charge at the start */
    PR_DIFFERENCE_LESS = 1024  /* a battery or amps fewer than the first has */
} pr_difference;

typedef struct pr_compared {
    char name[PR_NAME_MAX];
    pr_plan plan[PR_PLAN_KINDS];
    pr_limits limits;
    double min_crank_V; /* what a restart must not fall below */
    double reserve_computed_frac;
    bool hard_go; /* shortest plan, in the high case of the demand */
    double hard_total_s, hard_travel_m;
    unsigned differences; /* pr_difference flags against the first case */
} pr_compared;

typedef enum pr_compare_verdict {
    PR_VERDICT_NOT_NEEDED, /* the first goes as well; saved_s says what the other buys */
    PR_VERDICT_NEEDED,     /* only with it */
    PR_VERDICT_SAFER,      /* both go, but only this one on ground that is worse than likely */
    PR_VERDICT_NO_HELP,    /* neither goes */
    PR_VERDICT_HARMS       /* the first goes, this one does not */
} pr_compare_verdict;

typedef struct pr_comparison {
    size_t n;
    pr_compared *cases; /* owned, n */
    pr_plan_kind kind;  /* of the plans held side by side */
    unsigned long simulations;
} pr_comparison;

/* Plans every scenario in all three ways, and once more in the high case of its demand.
 * A scenario that cannot be planned at all fails the whole, and the diagnosis names it. */
pr_status pr_compare_make(const pr_scenario *const scenarios[], const char *const names[], size_t n,
                          pr_comparison *comparison, pr_diag *diag, pr_progress_fn progress,
                          void *progress_context);
void pr_comparison_free(pr_comparison *comparison);

/* The plan of a case that is shown beside the others. */
const pr_plan *pr_compared_plan(const pr_comparison *comparison, size_t k);
/* Case k (1 or more) against the first. *saved_s (may be NULL): time saved when both go, else NaN.
 */
pr_compare_verdict pr_compare_judge(const pr_comparison *comparison, size_t k, double *saved_s);

#endif
