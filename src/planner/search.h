/* Smallest whole number of seconds that passes a trial, in few trials. */
#ifndef PR_PLANNER_SEARCH_H
#define PR_PLANNER_SEARCH_H

#include "engine/sim.h"

/* What came of one trial. `score` orders failures: higher got further. */
typedef struct pr_trial {
    bool pass;
    double score;
    pr_limit limit; /* of a failure */
    pr_stop stop;
    size_t cycle; /* pull that failed */
} pr_trial;

/* A status other than PR_OK ends the search. The context keeps what the last passing trial made. */
typedef pr_status (*pr_trial_fn)(void *context, long seconds, pr_trial *trial);

typedef struct pr_smallest {
    bool found;
    long seconds; /* smallest that passes; when none: the one that got furthest */
    pr_trial at;  /* trial at `seconds` */
    bool has_below;
    pr_trial below; /* failed trial one second below; none when `seconds` is the lower bound */
    bool helps;     /* none passes: does the upper bound get further than the lower? */
} pr_smallest;

/* lo <= guess <= hi. The passing trial that was run last is the one at `seconds`. */
pr_status pr_search_smallest(pr_trial_fn fn, void *context, long lo, long hi, long guess,
                             pr_smallest *result);

#endif
