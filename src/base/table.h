/* Small monotone tables: y(x) through given points, no heap, copyable.
 * Between points: Steffen's monotone cubic (M. Steffen 1990, A&A 239, 443; the method of
 * gsl_interp_steffen, which the unit test compares with) or straight lines. Outside the points the
 * end value is held. */
#ifndef PR_BASE_TABLE_H
#define PR_BASE_TABLE_H

#include "base/status.h"
#include <stddef.h>

enum { PR_TABLE_MAX = 24 };

typedef enum pr_table_kind { PR_TABLE_LINEAR, PR_TABLE_MONOTONE } pr_table_kind;

typedef struct pr_table {
    size_t n;
    double x[PR_TABLE_MAX], y[PR_TABLE_MAX];
    double slope[PR_TABLE_MAX];                      /* dy/dx at the points (monotone kind) */
    double square[PR_TABLE_MAX], cube[PR_TABLE_MAX]; /* of the cubic from this point on */
    pr_table_kind kind;
} pr_table;

/* x strictly increasing, 1 <= n <= PR_TABLE_MAX, all finite; else PR_ERR_RANGE. */
pr_status pr_table_init(pr_table *table, pr_table_kind kind, size_t n, const double x[],
                        const double y[]);

/* Value at x, and the slope there in *dy_dx unless it is NULL. */
double pr_table_at(const pr_table *table, double x, double *dy_dx);

#endif
