/* Variance-based sensitivity indices (Sobol 1993; Homma & Saltelli 1996):
 *
 *     S_i  = V[E(Y | X_i)] / V(Y)             alone: variance that knowing X_i would take away
 *     ST_i = E[V(Y | X_~i)] / V(Y)            total: variance left when all but X_i are known
 *
 * Total, from two independent samples A, B of n rows, and A_i = A with column i taken from B:
 *     V    = variance of all f(A), f(B)
 *     ST_i = 1/2n sum (f(A) - f(A_i))^2 / V                (Jansen 1999)
 * Error: standard deviation over rows drawn again with replacement (bootstrap), and, added as
 * squares, one row more that differs as those do that differ: M/n with
 *     M = sum d^4 / sum d^2 / 2V,    d = f(A) - f(A_i) of all rows and inputs
 * Where few rows differ at all, an input that happens to have none looks sure to the bootstrap.
 *
 * Alone, from any N points u and their values y, cosines over the quantile of each input
 * (Plischke 2012 (m): cosine transform in place of a design):
 *     c_h = mean(y sqrt(2) cos(h pi u_i)),  s_h^2 = (mean square - c_h^2)/N,     h = 1..8
 *     S_i = sum (c_h^2 - s_h^2) / V, not below 0
 * Error by the delta method: mean square of the estimate's slope over the points, /N, less the
 * 4 sum s_h^4 / V^2 that the noise of c_h adds there, and with the 2 sum s_h^4 / V^2 of the
 * squares.
 *
 * Validity: independent inputs. A total that few rows make is as uncertain as their number; the
 * error says how much. Alone: what varies faster than eight half waves over the input is not seen.
 */
#include "planner/sensitivity.h"

#include "base/number.h"

#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { REDRAWS = 200, COSINES = 8 };
static const double PI = 3.14159265358979323846;

size_t pr_sensitivity_size(size_t n, size_t k)
{
    return n * (k + 2);
}

void pr_sensitivity_point(const double *base, size_t n, size_t k, size_t index, double *point)
{
    const size_t block = index / n, row = index % n;
    const double *a = &base[row * 2 * k], *b = a + k;
    memcpy(point, block == 1 ? b : a, k * sizeof *point);
    if (block >= 2)
        point[block - 2] = b[block - 2];
}

/* Rows to use, all of them once or drawn with replacement; moments of A and B over them. */
typedef struct moments {
    double mean, variance;
} moments;

static moments moments_of(const double *values, size_t n, const size_t *rows)
{
    moments m = {0.0, 0.0};
    for (size_t r = 0; r < n; r++)
        m.mean += values[rows[r]] + values[n + rows[r]];
    m.mean /= 2.0 * (double)n;
    for (size_t r = 0; r < n; r++) {
        const double a = values[rows[r]] - m.mean, b = values[n + rows[r]] - m.mean;
        m.variance += a * a + b * b;
    }
    m.variance /= 2.0 * (double)n - 1.0;
    return m;
}

static double total_of(const double *values, size_t n, size_t i, const size_t *rows, moments m)
{
    double sum = 0.0;
    for (size_t r = 0; r < n; r++) {
        const double d = values[rows[r]] - values[(2 + i) * n + rows[r]];
        sum += d * d;
    }
    return sum / (2.0 * (double)n * m.variance);
}

/* What one row more would add to a total, if it differs as those do that differ. */
static double one_row(const double *values, size_t n, size_t k, moments m)
{
    double squares = 0.0, fourths = 0.0;
    for (size_t i = 0; i < k; i++)
        for (size_t r = 0; r < n; r++) {
            const double d = values[r] - values[(2 + i) * n + r];
            squares += d * d;
            fourths += d * d * d * d;
        }
    return squares > 0.0 ? fourths / squares / (2.0 * m.variance * (double)n) : 0.0;
}

/* Sums over the redraws, for the standard deviation. */
typedef struct scatter {
    double sum, squares;
} scatter;

static double deviation(scatter s, size_t n)
{
    const double mean = s.sum / (double)n;
    return sqrt(fmax(s.squares - (double)n * mean * mean, 0.0) / (double)(n - 1));
}

static void bootstrap(const double *values, size_t n, size_t k, double row_error, gsl_rng *rng,
                      size_t *rows, scatter *scatters, pr_sensitivity *indices)
{
    size_t drawn = 0;
    for (int d = 0; d < REDRAWS; d++) {
        for (size_t r = 0; r < n; r++)
            rows[r] = gsl_rng_uniform_int(rng, (unsigned long)n);
        const moments m = moments_of(values, n, rows);
        if (!(m.variance > 0.0))
            continue; /* the same row again and again */
        drawn++;
        for (size_t i = 0; i < k; i++) {
            /* about the estimate itself: keeps the sums of squares well conditioned */
            const double off = total_of(values, n, i, rows, m) - indices[i].total;
            scatters[i].sum += off;
            scatters[i].squares += off * off;
        }
    }
    for (size_t i = 0; i < k; i++)
        indices[i].total_error =
            drawn > 1 ? hypot(deviation(scatters[i], drawn), row_error) : PR_NAN;
}

pr_status pr_sensitivity_totals(const double *values, size_t n, size_t k, unsigned long seed,
                                pr_sensitivity *indices)
{
    if (n < 2 || k < 1)
        return PR_ERR_RANGE;
    for (size_t i = 0; i < pr_sensitivity_size(n, k); i++)
        if (!isfinite(values[i]))
            return PR_ERR_VALIDITY;
    size_t *rows = malloc(n * sizeof *rows);
    scatter *scatters = calloc(k, sizeof *scatters);
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    pr_status status = PR_ERR_NOMEM;
    if (rows != NULL && scatters != NULL && rng != NULL) {
        for (size_t r = 0; r < n; r++)
            rows[r] = r;
        const moments m = moments_of(values, n, rows);
        status = m.variance > 0.0 ? PR_OK : PR_ERR_VALIDITY;
        for (size_t i = 0; status == PR_OK && i < k; i++)
            indices[i].total = total_of(values, n, i, rows, m);
        gsl_rng_set(rng, seed);
        if (status == PR_OK)
            bootstrap(values, n, k, one_row(values, n, k, m), rng, rows, scatters, indices);
    }
    if (rng != NULL)
        gsl_rng_free(rng);
    free(scatters);
    free(rows);
    return status;
}

/* sqrt(2) cos(h pi u) for h = 1..COSINES */
static void cosines_at(double u, double cosine[COSINES])
{
    for (int h = 0; h < COSINES; h++)
        cosine[h] = sqrt(2.0) * cos((h + 1) * PI * u);
}

/* One input: `u` is its column, `stride` apart; y about their mean. */
static void alone(const double *u, size_t stride, const double *y, size_t n, double variance,
                  pr_sensitivity *index)
{
    double cosine[COSINES], c[COSINES] = {0.0}, squares[COSINES] = {0.0};
    for (size_t j = 0; j < n; j++) {
        cosines_at(u[j * stride], cosine);
        for (int h = 0; h < COSINES; h++) {
            c[h] += y[j] * cosine[h];
            squares[h] += y[j] * cosine[h] * y[j] * cosine[h];
        }
    }
    const double count = (double)n;
    double share = 0.0, noise = 0.0;
    for (int h = 0; h < COSINES; h++) {
        c[h] /= count;
        const double s2 = fmax(squares[h] / count - c[h] * c[h], 0.0) / count;
        share += (c[h] * c[h] - s2) / variance;
        noise += 2.0 * s2 * s2 / (variance * variance);
    }
    double slopes = 0.0; /* mean square of what one point moves */
    for (size_t j = 0; j < n; j++) {
        cosines_at(u[j * stride], cosine);
        double slope = -share * (y[j] * y[j] - variance) / variance;
        for (int h = 0; h < COSINES; h++)
            slope += 2.0 * c[h] * (y[j] * cosine[h] - c[h]) / variance;
        slopes += slope * slope / count;
    }
    index->first = fmax(share, 0.0);
    /* slopes at c as found hold the noise of c twice over */
    index->first_error = sqrt(fmax(slopes / count - noise, noise));
}

pr_status pr_sensitivity_alone(const double *points, const double *values, size_t n, size_t k,
                               pr_sensitivity *indices)
{
    if (n < 2 || k < 1)
        return PR_ERR_RANGE;
    double mean = 0.0, variance = 0.0;
    for (size_t j = 0; j < n; j++) {
        if (!isfinite(values[j]))
            return PR_ERR_VALIDITY;
        mean += values[j] / (double)n;
    }
    double *y = malloc(n * sizeof *y);
    if (y == NULL)
        return PR_ERR_NOMEM;
    for (size_t j = 0; j < n; j++) {
        y[j] = values[j] - mean;
        variance += y[j] * y[j] / (double)n;
    }
    for (size_t i = 0; variance > 0.0 && i < k; i++)
        alone(&points[i], k, y, n, variance, &indices[i]);
    free(y);
    return variance > 0.0 ? PR_OK : PR_ERR_VALIDITY;
}

bool pr_sensitivity_is_sure(double share, double error)
{
    return error <= 0.5 * share;
}
