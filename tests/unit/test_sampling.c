/* Points, spreads, shares. */
#include "planner/sampling.h"

#include "support/check.h"
#include "support/published.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { DIMS = 5, N = 1000 };

static void draw(pr_sampling_kind kind, size_t dims, unsigned long seed, unsigned stream, size_t n,
                 size_t by, double *points)
{
    pr_sampling *s;
    assert_int_equal(pr_sampling_open(kind, dims, seed, stream, &s), PR_OK);
    for (size_t i = 0; i < n; i += by)
        pr_sampling_next(s, i + by <= n ? by : n - i, &points[i * dims]);
    pr_sampling_close(s);
}

static void test_sampling_same_seed_same_points(void **state)
{
    (void)state;
    static double a[N * DIMS], b[N * DIMS];
    for (int kind = PR_SAMPLING_SOBOL; kind <= PR_SAMPLING_PLAIN; kind++) {
        draw((pr_sampling_kind)kind, DIMS, 7, 0, N, N, a);
        draw((pr_sampling_kind)kind, DIMS, 7, 0, N, 33, b);
        assert_memory_equal(a, b, sizeof a);
        draw((pr_sampling_kind)kind, DIMS, 8, 0, N, N, b);
        assert_memory_not_equal(a, b, sizeof a);
        draw((pr_sampling_kind)kind, DIMS, 7, 1, N, N, b);
        assert_memory_not_equal(a, b, sizeof a);
        for (size_t i = 0; i < N * DIMS; i++)
            assert_true(a[i] > 0.0 && a[i] < 1.0);
    }
}

/* Error of the mean of prod (1 + (u_j - 1/2)/2), whose integral is 1. */
static double mean_error(pr_sampling_kind kind, size_t n)
{
    double *u = malloc(n * DIMS * sizeof *u), sum = 0.0;
    assert_non_null(u);
    draw(kind, DIMS, 3, 0, n, n, u);
    for (size_t i = 0; i < n; i++) {
        double product = 1.0;
        for (size_t j = 0; j < DIMS; j++)
            product *= 1.0 + 0.5 * (u[i * DIMS + j] - 0.5);
        sum += product;
    }
    free(u);
    return fabs(sum / (double)n - 1.0);
}

/* Plain: 1/sqrt(n). The product's deviation is 0.33, so 4 of its standard errors are 0.042. */
static void test_sampling_sobol_integrates_better_than_plain(void **state)
{
    (void)state;
    assert_true(mean_error(PR_SAMPLING_PLAIN, 1024) < 4.0 * 0.33 / sqrt(1024.0));
    assert_true(mean_error(PR_SAMPLING_SOBOL, 1024) < 0.33 / sqrt(1024.0) / 10.0);
    assert_true(mean_error(PR_SAMPLING_SOBOL, 16384) < mean_error(PR_SAMPLING_SOBOL, 256));
}

static void test_sampling_many_dimensions_become_plain(void **state)
{
    (void)state;
    pr_sampling *s;
    assert_int_equal(pr_sampling_open(PR_SAMPLING_SOBOL, PR_SOBOL_DIMS_MAX, 1, 0, &s), PR_OK);
    assert_int_equal(pr_sampling_kind_of(s), PR_SAMPLING_SOBOL);
    pr_sampling_close(s);
    assert_int_equal(pr_sampling_open(PR_SAMPLING_SOBOL, PR_SOBOL_DIMS_MAX + 1, 1, 0, &s), PR_OK);
    assert_int_equal(pr_sampling_kind_of(s), PR_SAMPLING_PLAIN);
    pr_sampling_close(s);
    assert_int_equal(pr_sampling_open(PR_SAMPLING_SOBOL, 0, 1, 0, &s), PR_ERR_RANGE);
    assert_null(s);
}

static pr_spread spread_of(pr_spread_kind kind, double low, double likely, double high, double sd)
{
    return (pr_spread){.kind = kind, .low = low, .likely = likely, .high = high, .sd = sd};
}

/* The distribution function at the quantile gives the probability back. */
static void test_spread_value_inverts_its_distribution(void **state)
{
    (void)state;
    const pr_spread uniform = spread_of(PR_SPREAD_UNIFORM, 2.0, 3.0, 6.0, 0.0);
    const pr_spread triangle = spread_of(PR_SPREAD_TRIANGLE, 2.0, 3.0, 6.0, 0.0);
    const pr_spread normal = spread_of(PR_SPREAD_NORMAL, 2.0, 3.0, 6.0, 1.2);
    const double cut_low = gsl_cdf_ugaussian_P(-1.0 / 1.2), cut_high = gsl_cdf_ugaussian_P(2.5);
    for (double u = 0.01; u < 1.0; u += 0.07) {
        assert_near(gsl_cdf_flat_P(pr_spread_value(&uniform, u), 2.0, 6.0), u, 1e-12);
        const double t = pr_spread_value(&triangle, u);
        assert_near(t < 3.0 ? (t - 2.0) * (t - 2.0) / 4.0 : 1.0 - (6.0 - t) * (6.0 - t) / 12.0, u,
                    1e-12);
        const double x = pr_spread_value(&normal, u);
        assert_true(x >= 2.0 && x <= 6.0);
        assert_near((gsl_cdf_gaussian_P(x - 3.0, 1.2) - cut_low) / (cut_high - cut_low), u, 1e-9);
    }
}

static void test_spread_value_triangle_with_likely_at_an_end(void **state)
{
    (void)state;
    const pr_spread falling = spread_of(PR_SPREAD_TRIANGLE, 1.0, 1.0, 3.0, 0.0);
    const pr_spread rising = spread_of(PR_SPREAD_TRIANGLE, 1.0, 3.0, 3.0, 0.0);
    assert_near(pr_spread_value(&falling, 0.0), 1.0, 1e-12);
    assert_near(pr_spread_value(&falling, 0.75), 2.0, 1e-12);
    assert_near(pr_spread_value(&rising, 0.25), 2.0, 1e-12);
    assert_near(pr_spread_value(&rising, 1.0), 3.0, 1e-12);
}

static void test_spread_check_refuses(void **state)
{
    (void)state;
    pr_spread s = spread_of(PR_SPREAD_TRIANGLE, 1.0, 2.0, 3.0, 0.0);
    assert_int_equal(pr_spread_check(&s), PR_OK);
    s.likely = 3.5;
    assert_int_equal(pr_spread_check(&s), PR_ERR_RANGE);
    s = spread_of(PR_SPREAD_UNIFORM, 3.0, 2.0, 1.0, 0.0);
    assert_int_equal(pr_spread_check(&s), PR_ERR_RANGE);
    s = spread_of(PR_SPREAD_NORMAL, 1.0, 2.0, 3.0, 0.0);
    assert_int_equal(pr_spread_check(&s), PR_ERR_RANGE);
    s = spread_of(PR_SPREAD_NORMAL, 1.0, 2.0, __builtin_inf(), 1.0);
    assert_int_equal(pr_spread_check(&s), PR_ERR_RANGE);
    s = spread_of(PR_SPREAD_UNIFORM, 1.0, 2.0, 3.0, 0.0);
    s.offset = sizeof(pr_scenario);
    assert_int_equal(pr_spread_check(&s), PR_ERR_RANGE);
    s.offset = 4;
    assert_int_equal(pr_spread_check(&s), PR_ERR_RANGE);
}

static void test_share_of_published_intervals(void **state)
{
    (void)state;
    pr_published_check("risk.wilson.81_of_263.low", pr_share_of(81, 263).low_frac);
    pr_published_check("risk.wilson.81_of_263.high", pr_share_of(81, 263).high_frac);
    pr_published_check("risk.wilson.15_of_148.low", pr_share_of(15, 148).low_frac);
    pr_published_check("risk.wilson.15_of_148.high", pr_share_of(15, 148).high_frac);
    pr_published_check("risk.wilson.0_of_20.high", pr_share_of(0, 20).high_frac);
    pr_published_check("risk.wilson.1_of_29.low", pr_share_of(1, 29).low_frac);
    pr_published_check("risk.wilson.1_of_29.high", pr_share_of(1, 29).high_frac);
}

static void test_share_of_ends(void **state)
{
    (void)state;
    assert_near(pr_share_of(0, 20).low_frac, 0.0, 0.0);
    assert_near(pr_share_of(20, 20).high_frac, 1.0, 0.0);
    const pr_share none = pr_share_of(0, 0);
    assert_true(isnan(none.frac));
    assert_near(none.high_frac - none.low_frac, 1.0, 0.0);
}

static void test_values_quantile_is_one_of_them(void **state)
{
    (void)state;
    double v[] = {5.0, 1.0, __builtin_inf(), 2.0, 4.0, 3.0, 7.0, 6.0, 9.0, 8.0};
    pr_values_sort(v, 10);
    assert_near(pr_values_quantile(v, 10, 0.5), 5.0, 0.0);
    assert_near(pr_values_quantile(v, 10, 0.9), 9.0, 0.0);
    assert_true(isinf(pr_values_quantile(v, 10, 0.95)));
    assert_near(pr_values_quantile(v, 10, 0.0), 1.0, 0.0);
    assert_near(pr_values_quantile(v, 10, 0.1), 1.0, 0.0);
    assert_true(isnan(pr_values_quantile(v, 0, 0.5)));
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_sampling_same_seed_same_points),
        cmocka_unit_test(test_sampling_sobol_integrates_better_than_plain),
        cmocka_unit_test(test_sampling_many_dimensions_become_plain),
        cmocka_unit_test(test_spread_value_inverts_its_distribution),
        cmocka_unit_test(test_spread_value_triangle_with_likely_at_an_end),
        cmocka_unit_test(test_spread_check_refuses),
        cmocka_unit_test(test_share_of_published_intervals),
        cmocka_unit_test(test_share_of_ends),
        cmocka_unit_test(test_values_quantile_is_one_of_them),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
