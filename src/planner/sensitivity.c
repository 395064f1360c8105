/* Variance-based sensitivity indices (Sobol 1993; Homma & Saltelli 1996):
 *
 *     S_i  = V[E(Y | X_i)] / V(Y)             alone: variance that knowing X_i would take away
 *     ST_i = E[V(Y | X_~i)] / V(Y)            total: variance left when all but X_i are known
 *
 * From two independent samples A, B of n rows, and A_i = A with column i taken from B:
 *     V    = variance of all f(A), f(B)
 *     S_i  = 1/n sum f(B) (f(A_i) - f(A)) / V              (Saltelli et al. 2010, table 2, b)
 *     ST_i = 1/2n sum (f(A) - f(A_i))^2 / V                (Jansen 1999; same table, f)
 * f is taken about its mean first, which changes nothing but the noise. Errors: standard deviation
 * over rows drawn again with replacement (bootstrap).
 *
 * Validity: independent inputs. Small indices scatter about zero and may come out negative; the
 * error says how much. */
#include "planner/sensitivity.h"

#include "base/number.h"

#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { REDRAWS = 200 };

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

static void estimate(const double *values, size_t n, size_t i, const size_t *rows, moments m,
                     double *first, double *total)
{
    double sum_first = 0.0, sum_total = 0.0;
    for (size_t r = 0; r < n; r++) {
        const size_t row = rows[r];
        const double a = values[row] - m.mean, b = values[n + row] - m.mean;
        const double mixed = values[(2 + i) * n + row] - m.mean;
        sum_first += b * (mixed - a);
        sum_total += (a - mixed) * (a - mixed);
    }
    *first = sum_first / ((double)n * m.variance);
    *total = sum_total / (2.0 * (double)n * m.variance);
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

static pr_status bootstrap(const double *values, size_t n, size_t k, gsl_rng *rng, size_t *rows,
                           scatter *scatters, pr_sensitivity *indices)
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
            double first, total;
            estimate(values, n, i, rows, m, &first, &total);
            /* about the estimate itself: keeps the sums of squares well conditioned */
            first -= indices[i].first;
            total -= indices[i].total;
            scatters[2 * i].sum += first;
            scatters[2 * i].squares += first * first;
            scatters[2 * i + 1].sum += total;
            scatters[2 * i + 1].squares += total * total;
        }
    }
    for (size_t i = 0; i < k; i++) {
        indices[i].first_error = drawn > 1 ? deviation(scatters[2 * i], drawn) : PR_NAN;
        indices[i].total_error = drawn > 1 ? deviation(scatters[2 * i + 1], drawn) : PR_NAN;
    }
    return PR_OK;
}

pr_status pr_sensitivity_indices(const double *values, size_t n, size_t k, unsigned long seed,
                                 pr_sensitivity *indices)
{
    if (n < 2 || k < 1)
        return PR_ERR_RANGE;
    for (size_t i = 0; i < pr_sensitivity_size(n, k); i++)
        if (!isfinite(values[i]))
            return PR_ERR_VALIDITY;
    size_t *rows = malloc(n * sizeof *rows);
    scatter *scatters = calloc(2 * k, sizeof *scatters);
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    pr_status status = PR_ERR_NOMEM;
    if (rows != NULL && scatters != NULL && rng != NULL) {
        for (size_t r = 0; r < n; r++)
            rows[r] = r;
        const moments m = moments_of(values, n, rows);
        status = m.variance > 0.0 ? PR_OK : PR_ERR_VALIDITY;
        for (size_t i = 0; status == PR_OK && i < k; i++)
            estimate(values, n, i, rows, m, &indices[i].first, &indices[i].total);
        gsl_rng_set(rng, seed);
        if (status == PR_OK)
            status = bootstrap(values, n, k, rng, rows, scatters, indices);
    }
    if (rng != NULL)
        gsl_rng_free(rng);
    free(scatters);
    free(rows);
    return status;
}
