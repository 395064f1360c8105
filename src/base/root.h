/* Root of a scalar function in a bracket, without heap or global state (usable inside physics). */
#ifndef PR_BASE_ROOT_H
#define PR_BASE_ROOT_H

#include "base/status.h"

typedef double (*pr_scalar_fn)(double x, void *context);

/* Finds x in [a, b] with f(x) = 0, |error| <= x_tolerance (Brent 1973). f(a) and f(b) must differ
 * in sign (zero counts), else PR_ERR_NO_SOLUTION; a NaN from f gives PR_ERR_VALIDITY. */
pr_status pr_root_find(pr_scalar_fn f, void *context, double a, double b, double x_tolerance,
                       double *root);

#endif
