/* Root finding: roots that are known in closed form, hard shapes, and every refusal. */
#include "base/number.h"
#include "base/root.h"
#include "support/check.h"

#include <math.h>

typedef struct calls {
    int count;
} calls;

static double cosine_minus_x(double x, void *context)
{
    ((calls *)context)->count++;
    return cos(x) - x;
}

static double cubic(double x, void *context)
{
    (void)context;
    return x * x * x - 2.0 * x - 5.0;
}

/* flat and steep at once: interpolation alone creeps */
static double ninth_power(double x, void *context)
{
    ((calls *)context)->count++;
    const double u = x - 0.1;
    return u * u * u * u * u * u * u * u * u;
}

static double jump(double x, void *context)
{
    (void)context;
    return x < 0.3 ? -1.0 : 2.0;
}

static double pole(double x, void *context)
{
    (void)context;
    return x <= 0.0 ? -PR_INF : log(x) - 1.0;
}

static double nan_in_the_middle(double x, void *context)
{
    (void)context;
    return x > 0.2 && x < 0.8 ? PR_NAN : x - 0.5;
}

static double identity(double x, void *context)
{
    (void)context;
    return x;
}

static void test_root_find_known_roots(void **state)
{
    (void)state;
    double root;
    calls k = {0};
    /* Dottie number; OEIS A003957 */
    assert_int_equal(pr_root_find(cosine_minus_x, &k, 0.0, 1.0, 1e-14, &root), PR_OK);
    assert_near(root, 0.739085133215160641655, 1e-14);
    assert_in_range(k.count, 3, 12);
    /* Wallis's example for Newton's method, 1685; OEIS A007493 */
    assert_int_equal(pr_root_find(cubic, NULL, 3.0, 2.0, 1e-14, &root), PR_OK);
    assert_near(root, 2.094551481542326591482, 1e-14);
}

static void test_root_find_tolerance_is_met(void **state)
{
    (void)state;
    for (double tolerance = 1e-2; tolerance > 1e-15; tolerance *= 0.1) {
        double root;
        calls k = {0};
        assert_int_equal(pr_root_find(ninth_power, &k, -1.0, 1.0, tolerance, &root), PR_OK);
        assert_near(root, 0.1, tolerance + 1e-16);
        assert_in_range(k.count, 3, 250);
    }
}

static void test_root_find_zero_at_either_end(void **state)
{
    (void)state;
    double root;
    assert_int_equal(pr_root_find(identity, NULL, 0.0, 3.0, 1e-6, &root), PR_OK);
    assert_true(root == 0.0);
    assert_int_equal(pr_root_find(identity, NULL, -3.0, 0.0, 1e-6, &root), PR_OK);
    assert_true(root == 0.0);
}

static void test_root_find_jump_and_infinite_value(void **state)
{
    (void)state;
    double root;
    assert_int_equal(pr_root_find(jump, NULL, 0.0, 1.0, 1e-9, &root), PR_OK);
    assert_near(root, 0.3, 1e-9);
    assert_int_equal(pr_root_find(pole, NULL, 0.0, 10.0, 1e-9, &root), PR_OK);
    assert_near(root, 2.718281828459045, 1e-9); /* e */
}

static void test_root_find_refusals(void **state)
{
    (void)state;
    double root = 42.0;
    assert_int_equal(pr_root_find(identity, NULL, 1.0, 2.0, 1e-9, &root), PR_ERR_NO_SOLUTION);
    assert_int_equal(pr_root_find(nan_in_the_middle, NULL, 0.0, 1.0, 1e-9, &root), PR_ERR_VALIDITY);
    assert_int_equal(pr_root_find(nan_in_the_middle, NULL, 0.5, 1.0, 1e-9, &root), PR_ERR_VALIDITY);
    assert_int_equal(pr_root_find(identity, NULL, PR_NAN, 1.0, 1e-9, &root), PR_ERR_RANGE);
    assert_int_equal(pr_root_find(identity, NULL, -1.0, PR_INF, 1e-9, &root), PR_ERR_RANGE);
    assert_int_equal(pr_root_find(identity, NULL, -1.0, 1.0, -1e-9, &root), PR_ERR_RANGE);
    assert_int_equal(pr_root_find(identity, NULL, -1.0, 1.0, PR_NAN, &root), PR_ERR_RANGE);
    assert_true(root == 42.0); /* nothing plausible is left behind */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_root_find_known_roots),
        cmocka_unit_test(test_root_find_tolerance_is_met),
        cmocka_unit_test(test_root_find_zero_at_either_end),
        cmocka_unit_test(test_root_find_jump_and_infinite_value),
        cmocka_unit_test(test_root_find_refusals),
    };
    return cmocka_run_group_tests_name("base_root", tests, NULL, NULL);
}
