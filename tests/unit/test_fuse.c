/* Fuses: windows of the standards' forms, curve, accumulated damage, every refusal. */
#include "base/number.h"
#include "physics/fuse.h"
#include "support/check.h"
#include "support/published.h"

#include <math.h>

static pr_fuse rated(pr_fuse_family family, double rating_A)
{
    pr_fuse_def def = pr_fuse_def_family(family);
    def.rating_A = rating_A;
    pr_fuse fuse;
    assert_int_equal(pr_fuse_derive(&def, &fuse), PR_OK);
    return fuse;
}

static void test_time_published_windows(void **state)
{
    (void)state;
    pr_fuse f = rated(PR_FUSE_LARGE_BLADE, 40);
    pr_published_check("fuse-large-blade-135", pr_fuse_time_s(&f, 1.35 * 40));
    pr_published_check("fuse-large-blade-200", pr_fuse_time_s(&f, 2.0 * 40));
    pr_published_check("fuse-large-blade-350", pr_fuse_time_s(&f, 3.5 * 40));
    pr_published_check("fuse-large-blade-600", pr_fuse_time_s(&f, 6.0 * 40));
    const double far_A = 400;
    pr_published_check("fuse-large-blade-i2t", far_A * far_A * pr_fuse_time_s(&f, far_A));
    f = rated(PR_FUSE_BLADE, 40);
    pr_published_check("fuse-blade-135", pr_fuse_time_s(&f, 1.35 * 40));
    pr_published_check("fuse-blade-160", pr_fuse_time_s(&f, 1.6 * 40));
    pr_published_check("fuse-blade-200", pr_fuse_time_s(&f, 2.0 * 40));
    pr_published_check("fuse-blade-350", pr_fuse_time_s(&f, 3.5 * 40));
    pr_published_check("fuse-blade-600", pr_fuse_time_s(&f, 6.0 * 40));
    pr_published_check("fuse-blade-i2t", far_A * far_A * pr_fuse_time_s(&f, far_A));
    f = rated(PR_FUSE_BOLT_DOWN, 300);
    pr_published_check("fuse-bolt-down-135", pr_fuse_time_s(&f, 1.35 * 300));
    pr_published_check("fuse-bolt-down-200", pr_fuse_time_s(&f, 2.0 * 300));
    pr_published_check("fuse-bolt-down-350", pr_fuse_time_s(&f, 3.5 * 300));
    pr_published_check("fuse-bolt-down-500", pr_fuse_time_s(&f, 5.0 * 300));
}

static void test_rates_hold_at_rating(void **state)
{
    (void)state;
    double worst = 0.0;
    for (int family = 0; family < PR_FUSE_FAMILY_COUNT; family++) {
        const pr_fuse f = rated((pr_fuse_family)family, 100);
        pr_fuse_state s = {0.0}, r;
        for (int minute = 0; minute < 240; minute++) {
            pr_fuse_rates(&f, &s, 100, &r);
            s.damage_frac += 60 * r.damage_frac;
        }
        worst = fmax(worst, s.damage_frac);
        assert_true(pr_fuse_time_s(&f, 100) == PR_INF);
    }
    pr_published_check("fuse-holds-100", worst);
}

static void test_time_curve(void **state)
{
    (void)state;
    for (int family = 0; family < PR_FUSE_FAMILY_COUNT; family++) {
        const pr_fuse f = rated((pr_fuse_family)family, 100);
        const pr_fuse_def *d = &f.def;
        for (int i = 0; i < d->n_points; i++) /* through its points */
            assert_near(pr_fuse_time_s(&f, 100 * d->point_ratio[i]) / d->point_s[i], 1.0, 1e-9);
        /* more current never opens later, and no jumps; the sign of a current does not matter */
        double before = pr_fuse_time_s(&f, 100 * d->point_ratio[0]);
        for (double i_A = 100 * d->point_ratio[0]; i_A < 5000; i_A *= 1.001) {
            const double t = pr_fuse_time_s(&f, i_A);
            assert_true(t <= before * (1 + 1e-12) && t > before * 0.95);
            assert_near(pr_fuse_time_s(&f, -i_A), t, 0.0);
            before = t;
        }
        /* far above: constant I2t */
        assert_near(1e6 * pr_fuse_time_s(&f, 1000) / (4e6 * pr_fuse_time_s(&f, 2000)), 1.0, 1e-12);
    }
}

static void test_rates_add_shares_and_cool(void **state)
{
    (void)state;
    const pr_fuse f = rated(PR_FUSE_BOLT_DOWN, 200);
    pr_fuse_state s = {0.0}, r;
    /* half of the time at one current, half at another: opens */
    const double t1 = pr_fuse_time_s(&f, 500), t2 = pr_fuse_time_s(&f, 300);
    pr_fuse_rates(&f, &s, 500, &r);
    s.damage_frac += 0.5 * t1 * r.damage_frac;
    pr_fuse_rates(&f, &s, -300, &r);
    s.damage_frac += 0.5 * t2 * r.damage_frac;
    assert_near(s.damage_frac, 1.0, 1e-9);
    /* cools below its curve: by 1/e in cooling_s, never below nothing */
    s.damage_frac = 0.6;
    pr_fuse_rates(&f, &s, 100, &r);
    assert_near(r.damage_frac, -0.6 / f.def.cooling_s, 1e-15);
    s.damage_frac = 0.0;
    pr_fuse_rates(&f, &s, 0, &r);
    assert_near(r.damage_frac, 0.0, 0.0);
}

#define REFUSES(field, value)                                                                      \
    do {                                                                                           \
        pr_fuse_def bad = pr_fuse_def_default();                                                   \
        bad.rating_A = 100;                                                                        \
        bad.field = (value);                                                                       \
        assert_int_equal(pr_fuse_derive(&bad, &fuse), PR_ERR_RANGE);                               \
    } while (0)

static void test_derive_refuses(void **state)
{
    (void)state;
    pr_fuse fuse;
    pr_fuse_def def = pr_fuse_def_default();
    assert_int_equal(pr_fuse_derive(&def, &fuse), PR_ERR_RANGE); /* the rating is required */
    def.rating_A = 100;
    assert_int_equal(pr_fuse_derive(NULL, &fuse), PR_ERR_INTERNAL);
    assert_int_equal(pr_fuse_derive(&def, NULL), PR_ERR_INTERNAL);
    def.cookie = 1;
    assert_int_equal(pr_fuse_derive(&def, &fuse), PR_ERR_INTERNAL);
    REFUSES(rating_A, 0.1);
    REFUSES(rating_A, 2000);
    REFUSES(n_points, 1);
    REFUSES(n_points, 13);
    REFUSES(point_ratio[0], 0.9);  /* below the rating */
    REFUSES(point_ratio[1], 1.15); /* not rising */
    REFUSES(point_ratio[1], PR_NAN);
    REFUSES(point_ratio[4], 200);
    REFUSES(point_s[1], 20000); /* more current, more time */
    REFUSES(point_s[4], 0);
    REFUSES(point_s[4], PR_NAN);
    REFUSES(cooling_s, 0);
    REFUSES(cooling_s, PR_NAN);
    def = pr_fuse_def_family((pr_fuse_family)99);
    def.rating_A = 100;
    assert_int_equal(pr_fuse_derive(&def, &fuse), PR_ERR_RANGE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_time_published_windows),
        cmocka_unit_test(test_rates_hold_at_rating),
        cmocka_unit_test(test_time_curve),
        cmocka_unit_test(test_rates_add_shares_and_cool),
        cmocka_unit_test(test_derive_refuses),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
