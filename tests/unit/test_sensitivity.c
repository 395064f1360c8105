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

enum { K_MAX = 8 };

/* Runs the design on a function of k uniform inputs; alone from its blocks A and B. */
static void indices_by(function_fn f, size_t n, size_t k, pr_sampling_kind kind, unsigned long seed,
                       pr_sensitivity *out)
{
    const size_t size = pr_sensitivity_size(n, k);
    double *base = malloc(n * 2 * k * sizeof *base);
    double *points = malloc(size * k * sizeof *points);
    double *values = malloc(size * sizeof *values);
    assert_non_null(base);
    assert_non_null(points);
    assert_non_null(values);
    pr_sampling *s;
    assert_int_equal(pr_sampling_open(kind, 2 * k, seed, 0, &s), PR_OK);
    pr_sampling_next(s, n, base);
    pr_sampling_close(s);
    for (size_t i = 0; i < size; i++) {
        assert_true(k <= K_MAX);
        pr_sensitivity_point(base, n, k, i, &points[i * k]);
        values[i] = f(&points[i * k]);
    }
    assert_int_equal(pr_sensitivity_totals(values, n, k, seed, out), PR_OK);
    assert_int_equal(pr_sensitivity_alone(points, values, 2 * n, k, out), PR_OK);
    free(values);
    free(points);
    free(base);
}

static void indices_of(function_fn f, size_t n, size_t k, pr_sampling_kind kind,
                       pr_sensitivity *out)
{
    indices_by(f, n, k, kind, 1, out);
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

/* Nil in 17 of 20 points, like a rest that most vehicles do not need; each input by its weight. */
static double rare(const double *u)
{
    static const double weight[K_MAX] = {3.0, 2.0, 1.5, 1.0, 1.0, 0.7, 0.5, 0.3};
    double sum = 0.0;
    for (int i = 0; i < K_MAX; i++)
        sum += weight[i] * u[i];
    return log(1.0 + fmax(sum - 6.25, 0.0));
}

/* What is told as error must cover how shares scatter over seeds, also where few rows differ. */
static void assert_error_covers_scatter(size_t n)
{
    enum { SEEDS = 60 };
    pr_sensitivity truth[K_MAX], s[K_MAX];
    indices_of(rare, 16384, K_MAX, PR_SAMPLING_PLAIN, truth);
    double squares[2] = {0.0, 0.0}, squares_of[2][K_MAX] = {{0.0}};
    int beyond[2] = {0, 0}, surely_wrong = 0;
    for (unsigned long seed = 1; seed <= SEEDS; seed++) {
        indices_by(rare, n, K_MAX, PR_SAMPLING_PLAIN, seed, s);
        for (int i = 0; i < K_MAX; i++) {
            const double z[2] = {(s[i].first - truth[i].first) / s[i].first_error,
                                 (s[i].total - truth[i].total) / s[i].total_error};
            for (int w = 0; w < 2; w++) {
                squares[w] += z[w] * z[w] / (SEEDS * K_MAX);
                squares_of[w][i] += z[w] * z[w] / SEEDS;
                beyond[w] += fabs(z[w]) > 3.0;
            }
            /* a share that is called sure is off by itself no oftener than by two errors: 1 in 40
             */
            surely_wrong += pr_sensitivity_is_sure(s[i].total, s[i].total_error) &&
                            fabs(s[i].total - truth[i].total) > s[i].total;
        }
    }
    for (int w = 0; w < 2; w++) {
        print_message("%zu rows, %s: off by %.2f told errors (rms), beyond three: %d of %d\n", n,
                      w == 0 ? "alone" : "total", sqrt(squares[w]), beyond[w], SEEDS * K_MAX);
        assert_true(sqrt(squares[w]) < 1.2);
        assert_true(beyond[w] < SEEDS * K_MAX / 50);
        for (int i = 0; i < K_MAX; i++)
            assert_true(sqrt(squares_of[w][i]) < 1.5);
    }
    assert_true(surely_wrong < SEEDS * K_MAX / 40);
}

static void test_indices_errors_cover_the_scatter(void **state)
{
    (void)state;
    assert_error_covers_scatter(64);
    assert_error_covers_scatter(256);
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
    assert_int_equal(pr_sensitivity_totals(same, 4, 1, 1, s), PR_ERR_VALIDITY);
    assert_int_equal(pr_sensitivity_totals(same, 1, 1, 1, s), PR_ERR_RANGE);
    assert_int_equal(pr_sensitivity_alone(same, same, 12, 1, s), PR_ERR_VALIDITY);
    assert_int_equal(pr_sensitivity_alone(same, same, 1, 1, s), PR_ERR_RANGE);
    same[3] = PR_INF;
    assert_int_equal(pr_sensitivity_totals(same, 4, 1, 1, s), PR_ERR_VALIDITY);
    assert_int_equal(pr_sensitivity_alone(same, same, 12, 1, s), PR_ERR_VALIDITY);
}

int main(void)
{
    gsl_set_error_handler_off();
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_indices_ishigami),
        cmocka_unit_test(test_indices_errors_are_honest),
        cmocka_unit_test(test_indices_errors_cover_the_scatter),
        cmocka_unit_test(test_indices_linear_function),
        cmocka_unit_test(test_point_blocks),
        cmocka_unit_test(test_indices_refuse),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
