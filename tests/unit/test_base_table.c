/* Tables against gsl_interp_steffen and gsl_interp_linear, and what the interpolation promises. */
#include "base/number.h"
#include "base/table.h"
#include "support/check.h"

#include <gsl/gsl_interp.h>
#include <gsl/gsl_rng.h>
#include <math.h>

static const double ref_x[] = {-3.0, -1.0, 0.0, 0.5, 2.0, 7.0, 7.5, 20.0};
static const double ref_y[] = {4.0, 1.0, 1.0, -2.0, 5.0, 5.5, 90.0, 3.0};
enum { REF_N = sizeof ref_x / sizeof ref_x[0] };

/* Values and slopes at many places between n points agree with GSL's to rounding. */
static void assert_like_gsl(pr_table_kind kind, size_t n, const double *x, const double *y)
{
    pr_table table;
    assert_int_equal(pr_table_init(&table, kind, n, x, y), PR_OK);
    gsl_interp *interp =
        gsl_interp_alloc(kind == PR_TABLE_LINEAR ? gsl_interp_linear : gsl_interp_steffen, n);
    assert_non_null(interp);
    gsl_interp_init(interp, x, y, n);
    double size = 0.0;
    for (size_t i = 0; i < n; i++)
        size = fmax(size, fabs(y[i]));
    for (int k = 0; k < 997; k++) {
        const double at = x[0] + (x[n - 1] - x[0]) * k / 997.0;
        double slope;
        const double value = pr_table_at(&table, at, &slope);
        const double slope_ref = gsl_interp_eval_deriv(interp, x, y, at, NULL);
        assert_near(value, gsl_interp_eval(interp, x, y, at, NULL), 1e-13 * size);
        assert_near(slope, slope_ref, 1e-12 * (size + fabs(slope_ref)));
    }
    gsl_interp_free(interp);
}

static void test_table_at_monotone_like_gsl_steffen(void **state)
{
    (void)state;
    assert_like_gsl(PR_TABLE_MONOTONE, REF_N, ref_x, ref_y);
}

static void test_table_at_linear_like_gsl(void **state)
{
    (void)state;
    assert_like_gsl(PR_TABLE_LINEAR, REF_N, ref_x, ref_y);
}

static void test_table_at_random_points_like_gsl_steffen(void **state)
{
    (void)state;
    gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
    for (int run = 0; run < 100; run++) {
        double x[PR_TABLE_MAX], y[PR_TABLE_MAX], at = gsl_rng_uniform(rng);
        const size_t n = 3 + (size_t)run % (PR_TABLE_MAX - 2);
        for (size_t i = 0; i < n; i++) {
            at += 0.01 + gsl_rng_uniform(rng);
            x[i] = at;
            y[i] = 10.0 * gsl_rng_uniform(rng) - 5.0;
        }
        assert_like_gsl(PR_TABLE_MONOTONE, n, x, y);
    }
    gsl_rng_free(rng);
}

static void test_table_at_points_exact(void **state)
{
    (void)state;
    for (int kind = PR_TABLE_LINEAR; kind <= PR_TABLE_MONOTONE; kind++) {
        pr_table table;
        assert_int_equal(pr_table_init(&table, (pr_table_kind)kind, REF_N, ref_x, ref_y), PR_OK);
        for (size_t i = 0; i < REF_N; i++)
            assert_true(pr_table_at(&table, ref_x[i], NULL) == ref_y[i]);
    }
}

static void test_table_at_outside_holds_end(void **state)
{
    (void)state;
    for (int kind = PR_TABLE_LINEAR; kind <= PR_TABLE_MONOTONE; kind++) {
        pr_table table;
        double slope = 1.0;
        assert_int_equal(pr_table_init(&table, (pr_table_kind)kind, REF_N, ref_x, ref_y), PR_OK);
        assert_true(pr_table_at(&table, -1e300, &slope) == ref_y[0]);
        assert_true(slope == 0.0);
        slope = 1.0;
        assert_true(pr_table_at(&table, PR_INF, &slope) == ref_y[REF_N - 1]);
        assert_true(slope == 0.0);
        assert_true(isnan(pr_table_at(&table, PR_NAN, &slope)));
        assert_true(isnan(slope));
    }
}

static void test_table_at_rising_points_never_fall(void **state)
{
    (void)state;
    const double x[] = {0, 1, 2, 3, 4, 10}, y[] = {0, 0, 0.1, 100, 100, 101};
    pr_table table;
    assert_int_equal(pr_table_init(&table, PR_TABLE_MONOTONE, 6, x, y), PR_OK);
    double before = -1.0;
    for (int k = 0; k <= 2000; k++) {
        const double value = pr_table_at(&table, 10.0 * k / 2000.0, NULL);
        assert_true(value >= before - 1e-12);
        before = value;
    }
}

static void test_table_init_one_and_two_points(void **state)
{
    (void)state;
    const double x[] = {1.0, 3.0}, y[] = {5.0, 9.0};
    pr_table table;
    double slope;
    assert_int_equal(pr_table_init(&table, PR_TABLE_MONOTONE, 1, x, y), PR_OK);
    assert_true(pr_table_at(&table, 1.0, &slope) == 5.0 && slope == 0.0);
    assert_true(pr_table_at(&table, 2.0, NULL) == 5.0);
    assert_int_equal(pr_table_init(&table, PR_TABLE_MONOTONE, 2, x, y), PR_OK);
    assert_true(pr_table_at(&table, 1.5, &slope) == 6.0 && slope == 2.0); /* (9-5)/(3-1) */
}

static void test_table_init_bad_points(void **state)
{
    (void)state;
    const double good[PR_TABLE_MAX + 1] = {0};
    const double same[] = {1, 1}, falling[] = {2, 1}, x[] = {0, 1}, not_finite[] = {0, PR_INF};
    const double nan_y[] = {PR_NAN, 0}, huge[] = {-1.7e308, 1.7e308};
    pr_table t;
    for (int kind = PR_TABLE_LINEAR; kind <= PR_TABLE_MONOTONE; kind++) {
        const pr_table_kind k = (pr_table_kind)kind;
        assert_int_equal(pr_table_init(&t, k, 0, good, good), PR_ERR_RANGE);
        assert_int_equal(pr_table_init(&t, k, PR_TABLE_MAX + 1, good, good), PR_ERR_RANGE);
        assert_int_equal(pr_table_init(&t, k, 2, same, x), PR_ERR_RANGE);
        assert_int_equal(pr_table_init(&t, k, 2, falling, x), PR_ERR_RANGE);
        assert_int_equal(pr_table_init(&t, k, 2, not_finite, x), PR_ERR_RANGE);
        assert_int_equal(pr_table_init(&t, k, 2, x, nan_y), PR_ERR_RANGE);
        assert_int_equal(pr_table_init(&t, k, 2, x, huge), PR_ERR_RANGE);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_table_at_monotone_like_gsl_steffen),
        cmocka_unit_test(test_table_at_linear_like_gsl),
        cmocka_unit_test(test_table_at_random_points_like_gsl_steffen),
        cmocka_unit_test(test_table_at_points_exact),
        cmocka_unit_test(test_table_at_outside_holds_end),
        cmocka_unit_test(test_table_at_rising_points_never_fall),
        cmocka_unit_test(test_table_init_one_and_two_points),
        cmocka_unit_test(test_table_init_bad_points),
    };
    return cmocka_run_group_tests_name("base_table", tests, NULL, NULL);
}
