/* Points of the unit cube, and numbers with a spread made of them.
 *
 * Sobol: points x_i of GSL's sequence (Antonov & Saleev's order of the Sobol points, Bratley & Fox
 * 1988), moved by one random vector d drawn from the seed (Cranley & Patterson 1976):
 *     u_ij = (x_ij + d_j) mod 1
 * Plain: independent uniform numbers from the Mersenne twister, seeded likewise.
 * Seed and stream are mixed first (the finaliser of Steele, Lea & Flood's SplitMix, 2014), so that
 * neighbouring seeds have nothing in common.
 *
 * Spreads, by their inverse distribution functions at u, with a low, c likely, b high:
 *     uniform    a + u (b - a)
 *     triangle   a + sqrt(u (b-a)(c-a))             u <  (c-a)/(b-a)
 *                b - sqrt((1-u)(b-a)(b-c))          u >= (c-a)/(b-a)
 *     normal     c + s Q(P_a + u (P_b - P_a))       P_x = P((x-c)/s): cut off at a and b
 *
 * Interval of a share p = k/n, z = 1.96 (Wilson 1927):
 *     (p + z^2/2n +- z sqrt(p(1-p)/n + z^2/4n^2)) / (1 + z^2/n)
 * It holds for independent points; shifted Sobol points scatter less, so for them it is wide. */
#include "planner/sampling.h"

#include "base/number.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_qrng.h>
#include <gsl/gsl_rng.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>

struct pr_sampling {
    pr_sampling_kind kind;
    size_t dims;
    gsl_qrng *quasi;
    gsl_rng *plain;
    double shift[PR_SOBOL_DIMS_MAX];
};

/* Half a step of 32-bit numbers: keeps coordinates off 0 and 1. */
static const double EDGE = 1.0 / 8589934592.0;

static uint64_t mix(uint64_t x)
{
    x += UINT64_C(0x9e3779b97f4a7c15);
    x = (x ^ (x >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
    x = (x ^ (x >> 27)) * UINT64_C(0x94d049bb133111eb);
    return x ^ (x >> 31);
}

pr_status pr_sampling_open(pr_sampling_kind kind, size_t dims, unsigned long seed, unsigned stream,
                           pr_sampling **sampling)
{
    *sampling = NULL;
    if (dims < 1 || dims > PR_SAMPLING_DIMS_MAX)
        return PR_ERR_RANGE;
    pr_sampling *s = calloc(1, sizeof *s);
    if (s == NULL)
        return PR_ERR_NOMEM;
    s->kind = dims > PR_SOBOL_DIMS_MAX ? PR_SAMPLING_PLAIN : kind;
    s->dims = dims;
    s->plain = gsl_rng_alloc(gsl_rng_mt19937);
    if (s->kind == PR_SAMPLING_SOBOL)
        s->quasi = gsl_qrng_alloc(gsl_qrng_sobol, (unsigned)dims);
    if (s->plain == NULL || (s->kind == PR_SAMPLING_SOBOL && s->quasi == NULL)) {
        pr_sampling_close(s);
        return PR_ERR_NOMEM;
    }
    const uint64_t mixed = mix(mix(seed) + stream);
    gsl_rng_set(s->plain, (unsigned long)(mixed & UINT64_C(0xffffffff)));
    if (s->kind == PR_SAMPLING_SOBOL)
        for (size_t j = 0; j < dims; j++)
            s->shift[j] = gsl_rng_uniform(s->plain);
    *sampling = s;
    return PR_OK;
}

void pr_sampling_close(pr_sampling *sampling)
{
    if (sampling == NULL)
        return;
    if (sampling->quasi != NULL)
        gsl_qrng_free(sampling->quasi);
    if (sampling->plain != NULL)
        gsl_rng_free(sampling->plain);
    free(sampling);
}

pr_sampling_kind pr_sampling_kind_of(const pr_sampling *sampling)
{
    return sampling->kind;
}

static double inside(double u)
{
    return fmin(fmax(u, EDGE), 1.0 - EDGE);
}

void pr_sampling_next(pr_sampling *sampling, size_t n, double *points)
{
    for (size_t i = 0; i < n; i++) {
        double *u = &points[i * sampling->dims];
        if (sampling->kind == PR_SAMPLING_PLAIN) {
            for (size_t j = 0; j < sampling->dims; j++)
                u[j] = inside(gsl_rng_uniform(sampling->plain));
            continue;
        }
        gsl_qrng_get(sampling->quasi, u);
        for (size_t j = 0; j < sampling->dims; j++) {
            const double moved = u[j] + sampling->shift[j];
            u[j] = inside(moved < 1.0 ? moved : moved - 1.0);
        }
    }
}

pr_status pr_spread_check(const pr_spread *spread)
{
    if (!isfinite(spread->low) || !isfinite(spread->high) || !(spread->low < spread->high))
        return PR_ERR_RANGE;
    if (spread->offset > sizeof(pr_scenario) - sizeof(double) ||
        spread->offset % _Alignof(double) != 0)
        return PR_ERR_RANGE;
    switch (spread->kind) {
    case PR_SPREAD_UNIFORM:
        return PR_OK;
    case PR_SPREAD_NORMAL:
        if (!(spread->sd > 0.0) || !isfinite(spread->sd))
            return PR_ERR_RANGE;
        break;
    case PR_SPREAD_TRIANGLE:
        break;
    default:
        return PR_ERR_RANGE;
    }
    return spread->likely >= spread->low && spread->likely <= spread->high ? PR_OK : PR_ERR_RANGE;
}

static double triangle(double a, double c, double b, double u)
{
    if (u * (b - a) < c - a)
        return a + sqrt(u * (b - a) * (c - a));
    return b - sqrt((1.0 - u) * (b - a) * (b - c));
}

double pr_spread_value(const pr_spread *spread, double u)
{
    const double a = spread->low, b = spread->high;
    double x = PR_NAN;
    switch (spread->kind) {
    case PR_SPREAD_UNIFORM:
        x = a + u * (b - a);
        break;
    case PR_SPREAD_TRIANGLE:
        x = triangle(a, spread->likely, b, u);
        break;
    case PR_SPREAD_NORMAL: {
        const double low = gsl_cdf_ugaussian_P((a - spread->likely) / spread->sd);
        const double high = gsl_cdf_ugaussian_P((b - spread->likely) / spread->sd);
        x = spread->likely + spread->sd * gsl_cdf_ugaussian_Pinv(low + u * (high - low));
        break;
    }
    }
    return isnan(x) ? x : fmin(fmax(x, a), b); /* rounding must not leave the range */
}

double *pr_spread_target(pr_scenario *scenario, const pr_spread *spread)
{
    return (double *)(void *)((char *)scenario + spread->offset);
}

pr_share pr_share_of(size_t count, size_t n)
{
    static const double z = 1.959963984540054; /* 97.5 % of the normal distribution */
    pr_share share = {.count = count, .n = n, .frac = PR_NAN, .low_frac = 0.0, .high_frac = 1.0};
    if (n == 0)
        return share;
    const double m = (double)n, p = (double)count / m, zz = z * z / m;
    const double middle = p + 0.5 * zz;
    const double half = z * sqrt(p * (1.0 - p) / m + 0.25 * zz / m);
    share.frac = p;
    /* exactly 0 and 1 at the ends, where only rounding is left */
    share.low_frac = count == 0 ? 0.0 : (middle - half) / (1.0 + zz);
    share.high_frac = count == n ? 1.0 : (middle + half) / (1.0 + zz);
    return share;
}

static int compare(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

void pr_values_sort(double *values, size_t n)
{
    qsort(values, n, sizeof *values, compare);
}

double pr_values_quantile(const double *sorted, size_t n, double p)
{
    if (n == 0)
        return PR_NAN;
    const double rank = ceil(p * (double)n - 1e-9);
    const size_t i = rank < 1.0 ? 0 : (size_t)rank - 1;
    return sorted[i < n ? i : n - 1];
}
