/* Smallest whole number of seconds that passes a trial, in few trials. */
#ifndef PR_PLANNER_SEARCH_H
#define PR_PLANNER_SEARCH_H

#include "engine/sim.h"

/* What came of one trial. `score` orders failures: higher got further. `spare` of a pass and
 * `missing` of a failure, in one unit: how far the trial is from the edge; 0: not known. They aim
 * the next trial, never decide. */
typedef struct pr_trial {
    bool pass;
    double score, spare, missing;
    pr_limit limit; /* of a failure; of a pass the nearest one, if it is known */
    pr_stop stop;
    size_t cycle; /* pull that failed */
} pr_trial;

/* A status other than PR_OK ends the search. The context keeps what the last passing trial made. */
typedef pr_status (*pr_trial_fn)(void *context, long seconds, pr_trial *trial);

typedef struct pr_search_range {
    long lo, hi, guess; /* lo <= guess <= hi */
    double slope;       /* of spare or missing, per second near the edge; 0: not known */
    pr_limit limit;     /* that the slope is of */
    bool presume;       /* a pass with little to spare, by the slope, is taken for the smallest */
    long step;          /* first step from the guess while no slope is known; 0: 1 */
} pr_search_range;

typedef struct pr_smallest {
    bool found;
    long seconds;             /* smallest that passes; when none: the one that got furthest */
    pr_trial at;              /* trial at `seconds` */
    bool has_below, presumed; /* presumed: `below` was not tried; it has limit and stop only */
    pr_trial below; /* failed trial one second below; none when `seconds` is the lower bound */
    bool helps;     /* none passes: does the upper bound get further than the lower? */
    double slope;   /* as found out, for the next search */
    pr_limit limit; /* that it is of */
} pr_smallest;

/* The passing trial that was run last is the one at `seconds`. */
pr_status pr_search_smallest(pr_trial_fn fn, void *context, const pr_search_range *range,
                             pr_smallest *result);

#endif
