/* Points of the unit cube, and numbers with a spread made of them. A point depends on seed, stream
 * and index alone. Method and sources: sampling.c. */
#ifndef PR_PLANNER_SAMPLING_H
#define PR_PLANNER_SAMPLING_H

#include "planner/scenario.h"

typedef enum pr_sampling_kind { PR_SAMPLING_SOBOL, PR_SAMPLING_PLAIN } pr_sampling_kind;

/* Most dimensions of GSL's Sobol sequence; more need the plain kind. */
enum { PR_SOBOL_DIMS_MAX = 40, PR_SAMPLING_DIMS_MAX = 256 };

typedef struct pr_sampling pr_sampling;

/* Streams of one seed are independent of each other. Needs GSL's error handler off. */
pr_status pr_sampling_open(pr_sampling_kind kind, size_t dims, unsigned long seed, unsigned stream,
                           pr_sampling **sampling);
void pr_sampling_close(pr_sampling *sampling);
/* The kind that was opened: a Sobol sequence of too many dimensions becomes a plain one. */
pr_sampling_kind pr_sampling_kind_of(const pr_sampling *sampling);
/* The next n points, row by row, each coordinate inside (0, 1). */
void pr_sampling_next(pr_sampling *sampling, size_t n, double *points);

/* PR_ERR_RANGE when it is no spread: not finite, low <= likely <= high broken, no width, an offset
 * outside the scenario. */
pr_status pr_spread_check(const pr_spread *spread);
/* Quantile u (0..1) of a spread: its inverse distribution function. */
double pr_spread_value(const pr_spread *spread, double u);
/* The double that a spread is about. */
double *pr_spread_target(pr_scenario *scenario, const pr_spread *spread);

/* A share of n trials with its 95 % interval (Wilson); n = 0: NaN, 0, 1. */
typedef struct pr_share {
    size_t count, n;
    double frac, low_frac, high_frac;
} pr_share;
pr_share pr_share_of(size_t count, size_t n);

/* Sorts, and the quantile p of sorted values: the smallest value that at least a share p of them
 * does not exceed (so that it is one of them, and infinite ones can be among them). */
void pr_values_sort(double *values, size_t n);
double pr_values_quantile(const double *sorted, size_t n, double p);

#endif
