/* Sensitivity indices against functions whose indices are known in closed form. */
#include "planner/sensitivity.h"

#include "base/number.h"
#include "planner/sampling.h"
#include "support/check.h"
#include "support/published.h"

#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static const double PI = 3.14159265358979323846;

typedef double (*function_fn)(const double *u);

/* Runs the design on a function of k uniform inputs. */
static void indices_of(function_fn f, size_t n, size_t k, pr_sampling_kind kind,
                       pr_sensitivity *out)
{
    double *base = malloc(n * 2 * k * sizeof *base);
    double *values = malloc(pr_sensitivity_size(n, k) * sizeof *values);
    assert_non_null(base);
    assert_non_null(values);
    pr_sampling *s;
    assert_int_equal(pr_sampling_open(kind, 2 * k, 1, 0, &s), PR_OK);
    pr_sampling_next(s, n, base);
    pr_sampling_close(s);
    for (size_t i = 0; i < pr_sensitivity_size(n, k); i++) {
        double u[8];
        assert_true(k <= 8);
        pr_sensitivity_point(base, n, k, i, u);
        values[i] = f(u);
    }
    assert_int_equal(pr_sensitivity_indices(values, n, k, 1, out), PR_OK);
    free(values);
    free(base);
}

/* sin x1 + a sin^2 x2 + b x3^4 sin x1 on [-pi, pi]^3, a = 7, b = 0.1 */
static double ishigami(const double *u)
{
    const double x1 = PI * (2.0 * u[0] - 1.0), x2 = PI * (2.0 * u[1] - 1.0),
                 x3 = PI * (2.0 * u[2] - 1.0);
    return sin(x1) + 7.0 * sin(x2) * sin(x2) + 0.1 * pow(x3, 4.0) * sin(x1);
}

static void test_indices_ishigami(void **state)
{
    (void)state;
    pr_sensitivity s[3];
    indices_of(ishigami, 8192, 3, PR_SAMPLING_SOBOL, s);
    for (int i = 0; i < 3; i++) {
        char id[40];
        snprintf(id, sizeof id, "risk.ishigami.first_%d", i + 1);
        pr_published_check(id, s[i].first);
        snprintf(id, sizeof id, "risk.ishigami.total_%d", i + 1);
        pr_published_check(id, s[i].total);
    }
}

/* With plain points the estimates must lie within four of their own standard errors. */
static void test_indices_errors_are_honest(void **state)
{
    (void)state;
    pr_sensitivity s[3];
    indices_of(ishigami, 512, 3, PR_SAMPLING_PLAIN, s);
    for (int i = 0; i < 3; i++) {
        char id[40];
        snprintf(id, sizeof id, "risk.ishigami.first_%d", i + 1);
        assert_true(fabs(s[i].first - pr_published_expected(id)) < 4.0 * s[i].first_error);
        snprintf(id, sizeof id, "risk.ishigami.total_%d", i + 1);
        assert_true(fabs(s[i].total - pr_published_expected(id)) < 4.0 * s[i].total_error);
        assert_true(s[i].total_error > 0.0 && s[i].total_error < 0.15);
    }
}

static double linear(const double *u)
{
    return 100.0 + 1.0 * u[0] + 2.0 * u[1] + 3.0 * u[2];
}

/* Identity: variances 1/12, 4/12, 9/12 add up, so S = ST = 1/14, 4/14, 9/14. */
static void test_indices_linear_function(void **state)
{
    (void)state;
    pr_sensitivity s[3];
    indices_of(linear, 4096, 3, PR_SAMPLING_SOBOL, s);
    const double expected[3] = {1.0 / 14.0, 4.0 / 14.0, 9.0 / 14.0};
    for (int i = 0; i < 3; i++) {
        assert_near(s[i].first, expected[i], 0.005);
        assert_near(s[i].total, expected[i], 0.005);
    }
}

static void test_point_blocks(void **state)
{
    (void)state;
    const double base[2][4] = {{0.1, 0.2, 0.3, 0.4}, {0.5, 0.6, 0.7, 0.8}};
    const double expected[8][2] = {{0.1, 0.2}, {0.5, 0.6}, {0.3, 0.4}, {0.7, 0.8},
                                   {0.3, 0.2}, {0.7, 0.6}, {0.1, 0.4}, {0.5, 0.8}};
    assert_int_equal(pr_sensitivity_size(2, 2), 8);
    for (size_t i = 0; i < 8; i++) {
        double u[2];
        pr_sensitivity_point(&base[0][0], 2, 2, i, u);
        assert_near(u[0], expected[i][0], 0.0);
        assert_near(u[1], expected[i][1], 0.0);
    }
}

static void test_indices_refuse(void **state)
{
    (void)state;
    double same[12] = {0};
    pr_sensitivity s[1];
    assert_int_equal(pr_sensitivity_indices(same, 4, 1, 1, s), PR_ERR_VALIDITY);
    assert_int_equal(pr_sensitivity_indices(same, 1, 1, 1, s), PR_ERR_RANGE);
    same[3] = PR_INF;
    assert_int_equal(pr_sensitivity_indices(same, 4, 1, 1, s), PR_ERR_VALIDITY);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_indices_ishigami),
        cmocka_unit_test(test_indices_errors_are_honest),
        cmocka_unit_test(test_indices_linear_function),
        cmocka_unit_test(test_point_blocks),
        cmocka_unit_test(test_indices_refuse),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
