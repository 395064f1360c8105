/* Which uncertain input matters how much: variance-based sensitivity indices. Estimators and
 * sources: sensitivity.c. */
#ifndef PR_PLANNER_SENSITIVITY_H
#define PR_PLANNER_SENSITIVITY_H

#include "base/status.h"
#include <stdbool.h>
#include <stddef.h>

/* The design: n base rows of 2k coordinates give n (k + 2) points of k coordinates. Block 0 is A,
 * block 1 is B, block 2 + i is A with column i from B. */
size_t pr_sensitivity_size(size_t n, size_t k);
/* Coordinates of point `index` (block = index / n, row = index % n) from base rows [n][2k]. */
void pr_sensitivity_point(const double *base, size_t n, size_t k, size_t index, double *point);

/* One input: its share of the variance alone (first) and with all its interactions (total), each
 * with its standard error. */
typedef struct pr_sensitivity {
    double first, first_error, total, total_error;
} pr_sensitivity;

/* Told apart from chance: an error of at most half the share. False for NaN. */
bool pr_sensitivity_is_sure(double share, double error);

/* Sets the totals. values[n (k + 2)] as the design orders them, all finite; PR_ERR_VALIDITY when
 * the output does not vary, PR_ERR_RANGE for n < 2. Deterministic by seed. */
pr_status pr_sensitivity_totals(const double *values, size_t n, size_t k, unsigned long seed,
                                pr_sensitivity *indices);
/* Sets the shares alone, from any n points [n][k] drawn independently (no design) and their finite
 * values. Same failures. */
pr_status pr_sensitivity_alone(const double *points, const double *values, size_t n, size_t k,
                               pr_sensitivity *indices);

#endif
