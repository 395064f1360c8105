/* Monotone tables: see table.h.
 *
 * With h_i = x_{i+1} - x_i and the secants s_i = (y_{i+1} - y_i)/h_i, Steffen's slope at an inner
 * point starts from the parabola through it and its neighbours,
 *     p_i = (s_{i-1} h_i + s_i h_{i-1}) / (h_{i-1} + h_i),
 * is cut down to twice the smaller secant, and is zero where the secants differ in sign:
 *     y'_i = (sign s_{i-1} + sign s_i) min(|s_{i-1}|, |s_i|, |p_i|/2).
 * At the two ends it is the slope of the secant. Between points runs the cubic with these values
 * and slopes; it has no extremum that the points do not have. */
#include "base/table.h"

#include <math.h>

static double inner_slope(const pr_table *t, size_t i)
{
    const double h0 = t->x[i] - t->x[i - 1], h1 = t->x[i + 1] - t->x[i];
    const double s0 = (t->y[i] - t->y[i - 1]) / h0, s1 = (t->y[i + 1] - t->y[i]) / h1;
    if (!(s0 > 0.0 && s1 > 0.0) && !(s0 < 0.0 && s1 < 0.0))
        return 0.0;
    const double p = (s0 * h1 + s1 * h0) / (h0 + h1);
    const double size = 2.0 * fmin(fmin(fabs(s0), fabs(s1)), 0.5 * fabs(p));
    return copysign(size, s0);
}

static void mark_starts(pr_table *t)
{
    const double range = t->x[t->n - 1] - t->x[0];
    t->parts_per_x = PR_TABLE_PARTS / range;
    size_t i = 0;
    for (int part = 0; part <= PR_TABLE_PARTS; part++) {
        const double early = (1.0 - 1e-9) * part / PR_TABLE_PARTS;
        while (i + 2 < t->n && t->x[0] + range * early >= t->x[i + 1])
            i++;
        t->start[part] = (unsigned char)i;
    }
}

pr_status pr_table_init(pr_table *table, pr_table_kind kind, size_t n, const double x[],
                        const double y[])
{
    if (n < 1 || n > PR_TABLE_MAX)
        return PR_ERR_RANGE;
    for (size_t i = 0; i < n; i++) {
        if (!isfinite(x[i]) || !isfinite(y[i]))
            return PR_ERR_RANGE;
        if (i == 0)
            continue;
        /* points can be finite whose secant is not */
        if (!(x[i] > x[i - 1]) || !isfinite((y[i] - y[i - 1]) / (x[i] - x[i - 1])))
            return PR_ERR_RANGE;
    }

    if (n > 1 && !(x[n - 1] - x[0] > 1e-300 && isfinite(x[n - 1] - x[0])))
        return PR_ERR_RANGE;

    *table = (pr_table){.n = n, .kind = kind};
    for (size_t i = 0; i < n; i++) {
        table->x[i] = x[i];
        table->y[i] = y[i];
    }
    if (n < 2)
        return PR_OK;
    mark_starts(table);
    if (kind == PR_TABLE_LINEAR) {
        for (size_t i = 0; i + 1 < n; i++)
            table->slope[i] = (y[i + 1] - y[i]) / (x[i + 1] - x[i]);
        return PR_OK;
    }

    for (size_t i = 1; i + 1 < n; i++)
        table->slope[i] = inner_slope(table, i);
    table->slope[0] = (y[1] - y[0]) / (x[1] - x[0]);
    table->slope[n - 1] = (y[n - 1] - y[n - 2]) / (x[n - 1] - x[n - 2]);
    for (size_t i = 0; i + 1 < n; i++) {
        const double h = x[i + 1] - x[i], secant = (y[i + 1] - y[i]) / h;
        const double m0 = table->slope[i], m1 = table->slope[i + 1];
        table->cube[i] = (m0 + m1 - 2.0 * secant) / (h * h);
        table->square[i] = (3.0 * secant - 2.0 * m0 - m1) / h;
    }
    return PR_OK;
}

double pr_table_outside(const pr_table *table, double x, double *dy_dx)
{
    if (dy_dx != NULL)
        *dy_dx = isnan(x) ? x : 0.0;
    return isnan(x) ? x : x < table->x[0] ? table->y[0] : table->y[table->n - 1];
}
