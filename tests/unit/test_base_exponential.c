/* pr_exp against the mathematical library in extended precision. */
#include "base/exponential.h"
#include "base/number.h"
#include "support/check.h"

#include <float.h>
#include <math.h>

/* Largest relative error over evenly spaced arguments. */
static double worst_error(double from, double to, int n)
{
    double worst = 0.0;
    for (int i = 0; i <= n; i++) {
        const double x = from + (to - from) * i / n;
        const long double right = expl((long double)x);
        worst = fmax(worst, (double)fabsl(((long double)pr_exp(x) - right) / right));
    }
    return worst;
}

static void test_exp_is_right_to_rounding(void **state)
{
    (void)state;
    /* under valgrind a long double is computed as a double, which cannot judge one */
    volatile long double one = 1.0L;
    if (one + LDBL_EPSILON == 1.0L)
        skip();
    assert_true(worst_error(-3.0, 3.0, 200003) < 2.5e-16);
    assert_true(worst_error(-699.9, 699.9, 200003) < 2.5e-16);
}

static void test_exp_at_the_ends(void **state)
{
    (void)state;
    assert_true(pr_exp(0.0) == 1.0);
    assert_true(pr_exp(-PR_INF) == 0.0);
    assert_true(pr_exp(PR_INF) == PR_INF);
    assert_true(pr_exp(710.0) == PR_INF);
    assert_true(pr_exp(-745.0) > 0.0 && pr_exp(-746.0) == 0.0);
    assert_true(isnan(pr_exp(PR_NAN)));
}

static void test_exp_of_two_is_that_of_each(void **state)
{
    (void)state;
    for (double x = -760.0; x < 760.0; x += 0.37) {
        const pr_two y = pr_exp_two(x, 300.0 - x);
        assert_true(y[0] == pr_exp(x) && y[1] == pr_exp(300.0 - x));
    }
    const pr_two none = pr_exp_two(PR_NAN, 0.0), far = pr_exp_two(1.0, -PR_INF);
    assert_true(isnan(none[0]) && none[1] == 1.0);
    assert_true(far[0] == pr_exp(1.0) && far[1] == 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_exp_is_right_to_rounding),
        cmocka_unit_test(test_exp_at_the_ends),
        cmocka_unit_test(test_exp_of_two_is_that_of_each),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
