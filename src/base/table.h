/* Small monotone tables: y(x) through given points, no heap, copyable.
 * Between points: Steffen's monotone cubic (M. Steffen 1990, A&A 239, 443; the method of
 * gsl_interp_steffen, which the unit test compares with) or straight lines. Outside the points the
 * end value is held. */
#ifndef PR_BASE_TABLE_H
#define PR_BASE_TABLE_H

#include "base/status.h"
#include <math.h>
#include <stddef.h>

enum { PR_TABLE_MAX = 24, PR_TABLE_PARTS = 16 };

typedef enum pr_table_kind { PR_TABLE_LINEAR, PR_TABLE_MONOTONE } pr_table_kind;

typedef struct pr_table {
    size_t n;
    double x[PR_TABLE_MAX], y[PR_TABLE_MAX];
    /* of the cubic from each point on: y + slope u + square u^2 + cube u^3; straight: zero */
    double slope[PR_TABLE_MAX], square[PR_TABLE_MAX], cube[PR_TABLE_MAX];
    pr_table_kind kind;
    /* where to begin to look: the interval in which each part of the range begins, a little early
     * for what rounds up into the part, all parts being of one length; the last entry is for what
     * rounds up to the end */
    unsigned char start[PR_TABLE_PARTS + 1];
    double parts_per_x;
} pr_table;

/* x strictly increasing, 1 <= n <= PR_TABLE_MAX, all finite; else PR_ERR_RANGE. */
pr_status pr_table_init(pr_table *table, pr_table_kind kind, size_t n, const double x[],
                        const double y[]);

/* Index i of the interval x[i] <= x < x[i+1]; x lies within the points. */
static inline size_t pr_table_interval(const pr_table *table, double x)
{
    size_t i = table->start[(int)((x - table->x[0]) * table->parts_per_x)];
    while (x >= table->x[i + 1])
        i++;
    return i;
}

double pr_table_outside(const pr_table *table, double x, double *dy_dx); /* or not a number */

/* Value at x, and the slope there in *dy_dx unless it is NULL. Inline: the batteries ask for their
 * rest voltage at every evaluation. */
static inline double pr_table_at(const pr_table *table, double x, double *dy_dx)
{
    if (!(x >= table->x[0] && x < table->x[table->n - 1]))
        return pr_table_outside(table, x, dy_dx);
    const size_t i = pr_table_interval(table, x);
    const double u = x - table->x[i];
    const double a = table->cube[i], b = table->square[i], m0 = table->slope[i];
    if (dy_dx != NULL)
        *dy_dx = (3.0 * a * u + 2.0 * b) * u + m0;
    return ((a * u + b) * u + m0) * u + table->y[i];
}

#endif
