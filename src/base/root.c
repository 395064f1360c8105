/* Root of a scalar function in a bracket.
 *
 * R. P. Brent, Algorithms for Minimization without Derivatives, 1973, chapter 4: b is the best
 * point so far, c the other side of the bracket, a the point before b. A step is taken by inverse
 * interpolation (through two or three points) if it falls well inside the bracket and the steps
 * shrink, else the bracket is halved; so a bracket always ends within tolerance. Valid for a
 * continuous f; a jump through zero is found as well, as the place of the jump. */
#include "base/root.h"

#include <float.h>
#include <math.h>

enum { MAX_ITERATIONS = 500 };

typedef struct bracket {
    double a, b, c, fa, fb, fc;
    double step, last_step;
} bracket;

static int same_sign(double p, double q)
{
    return (p > 0.0) == (q > 0.0);
}

/* Keeps the root between b and c, with b the better of the two. */
static void order_bracket(bracket *k)
{
    if (same_sign(k->fb, k->fc)) {
        k->c = k->a;
        k->fc = k->fa;
        k->step = k->last_step = k->b - k->a;
    }
    if (fabs(k->fc) < fabs(k->fb)) {
        k->a = k->b;
        k->b = k->c;
        k->c = k->a;
        k->fa = k->fb;
        k->fb = k->fc;
        k->fc = k->fa;
    }
}

/* Next step from b: interpolated where that can be trusted, else half of the bracket. */
static void choose_step(bracket *k, double half, double tolerance)
{
    if (fabs(k->last_step) >= tolerance && fabs(k->fa) > fabs(k->fb)) {
        const double s = k->fb / k->fa;
        double p, q;
        if (k->a == k->c) {
            p = 2.0 * half * s;
            q = 1.0 - s;
        } else {
            const double u = k->fa / k->fc, v = k->fb / k->fc;
            p = s * (2.0 * half * u * (u - v) - (k->b - k->a) * (v - 1.0));
            q = (u - 1.0) * (v - 1.0) * (s - 1.0);
        }
        if (p > 0.0)
            q = -q;
        else
            p = -p;
        const double before_last = k->last_step;
        k->last_step = k->step;
        if (2.0 * p < 3.0 * half * q - fabs(tolerance * q) && p < fabs(0.5 * before_last * q)) {
            k->step = p / q;
            return;
        }
    }
    k->step = k->last_step = half;
}

pr_status pr_root_find(pr_scalar_fn f, void *context, double a, double b, double x_tolerance,
                       double *root)
{
    if (!isfinite(a) || !isfinite(b) || !(x_tolerance >= 0.0))
        return PR_ERR_RANGE;
    bracket k = {.a = a, .b = b, .fa = f(a, context), .fb = f(b, context)};
    if (isnan(k.fa) || isnan(k.fb))
        return PR_ERR_VALIDITY;
    if (k.fa == 0.0 || k.fb == 0.0) {
        *root = k.fa == 0.0 ? a : b;
        return PR_OK;
    }
    if (same_sign(k.fa, k.fb))
        return PR_ERR_NO_SOLUTION;

    k.c = k.b;
    k.fc = k.fb;
    for (int i = 0; i < MAX_ITERATIONS; i++) {
        order_bracket(&k);
        /* the root is at most two of these away from b when the loop ends */
        const double tolerance = 2.0 * DBL_EPSILON * fabs(k.b) + 0.5 * x_tolerance;
        const double half = 0.5 * k.c - 0.5 * k.b;
        if (fabs(half) <= tolerance || k.fb == 0.0) {
            *root = k.b;
            return PR_OK;
        }
        choose_step(&k, half, tolerance);
        k.a = k.b;
        k.fa = k.fb;
        k.b += fabs(k.step) > tolerance ? k.step : copysign(tolerance, half);
        k.fb = f(k.b, context);
        if (isnan(k.fb))
            return PR_ERR_VALIDITY;
    }
    return PR_ERR_NO_CONVERGENCE;
}
