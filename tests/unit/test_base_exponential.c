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

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_exp_is_right_to_rounding),
        cmocka_unit_test(test_exp_at_the_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
