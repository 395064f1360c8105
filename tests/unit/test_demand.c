/* Pull demand: checks, segments, ranges. */
#include "base/number.h"
#include "physics/demand.h"
#include "support/check.h"

#include <math.h>

/* 10 m of bog to the hub, then 15 m of grass up 10 %. */
static pr_demand_def way(void)
{
    pr_demand_def def = pr_demand_def_default();
    def.weight_N = 25000.0;
    def.n_segments = 2;
    def.segments[0] = (pr_demand_segment){.length_m = 10.0, .mire = PR_MIRE_HUB};
    def.segments[1] = (pr_demand_segment){
        .length_m = 15.0, .slope_rad = atan(0.1), .surface_frac = {0.08, 1.0 / 7.0, 0.2}};
    return def;
}

static void test_check_refuses_bad_numbers(void **unused)
{
    (void)unused;
    pr_demand_def def = way();
    assert_int_equal(pr_demand_check(&def), PR_OK);
    def.cookie = 0;
    assert_int_equal(pr_demand_check(&def), PR_ERR_INTERNAL);
    for (int k = 0; k < 20; k++) {
        def = way();
        switch (k) {
        case 0:
            def.weight_N = PR_NAN;
            break;
        case 1:
            def.weight_N = 0.0;
            break;
        case 2:
            def.weight_N = PR_INF;
            break;
        case 3:
            def.n_segments = 0;
            break;
        case 4:
            def.n_segments = PR_DEMAND_SEGMENTS_MAX + 1;
            break;
        case 5:
            def.segments[1].length_m = 0.0;
            break;
        case 6:
            def.segments[0].length_m = PR_NAN;
            break;
        case 7:
            def.segments[0].length_m = PR_INF;
            break;
        case 8:
            def.segments[1].slope_rad = 1.6;
            break;
        case 9:
            def.segments[1].slope_rad = PR_NAN;
            break;
        case 10:
            def.segments[0].mire = (pr_mire)9;
            break;
        case 11:
            def.segments[1].surface_frac[PR_CASE_LOW] = -0.1;
            break;
        case 12:
            def.segments[1].surface_frac[PR_CASE_LIKELY] = 0.01;
            break;
        case 13:
            def.segments[1].surface_frac[PR_CASE_HIGH] = PR_NAN;
            break;
        case 14:
            def.segments[1].surface_frac[PR_CASE_HIGH] = 9.0;
            break;
        case 15:
            def.mire_method = (pr_mire_method)5;
            break;
        case 16:
            def.damage_frac = -0.1;
            break;
        case 17:
            def.margin_frac = PR_NAN;
            break;
        case 18:
            def.fixed_resistance_N = -1.0;
            break;
        default:
            def.fixed_resistance_N = PR_INF;
            break;
        }
        if (pr_demand_check(&def) != PR_ERR_RANGE)
            fail_msg("case %d", k);
    }
}

static void test_surface_is_not_needed_in_the_mire_nor_with_a_given_force(void **unused)
{
    (void)unused;
    pr_demand_def def = way();
    def.segments[0].surface_frac[PR_CASE_LIKELY] = PR_NAN;
    assert_int_equal(pr_demand_check(&def), PR_OK);
    def = pr_demand_def_default();
    def.fixed_resistance_N = 12345.0;
    def.n_segments = 1;
    def.segments[0].length_m = 7.0;
    assert_int_equal(pr_demand_check(&def), PR_OK);
    /* without margin: the force is what was said */
    for (pr_case which = PR_CASE_LOW; which < PR_CASE_COUNT; which++)
        assert_true(pr_demand_resistance_N(&def, 3.0, which) == 12345.0);
    assert_true(pr_demand_distance_m(&def) == 7.0);
}

static void test_resistance_by_hand(void **unused)
{
    (void)unused;
    const pr_demand_def def = way();
    const double slope = atan(0.1);
    assert_near(pr_demand_resistance_N(&def, 3.0, PR_CASE_LIKELY), 1.2 * 25000.0, 1e-9);
    assert_near(pr_demand_resistance_N(&def, 12.0, PR_CASE_LIKELY),
                1.2 * 25000.0 * (sin(slope) + cos(slope) / 7.0), 1e-9);
    pr_demand_def broken = def;
    broken.damage_frac = 0.67;
    assert_near(pr_demand_resistance_N(&broken, 12.0, PR_CASE_LOW) -
                    pr_demand_resistance_N(&def, 12.0, PR_CASE_LOW),
                1.2 * 25000.0 * 0.67, 1e-9);
}

static void test_segments_end_where_they_say(void **unused)
{
    (void)unused;
    const pr_demand_def def = way();
    assert_true(pr_demand_distance_m(&def) == 25.0);
    assert_true(pr_demand_segment_end_m(&def, -1.0) == 10.0);
    assert_true(pr_demand_segment_end_m(&def, 0.0) == 10.0);
    assert_true(pr_demand_segment_end_m(&def, 9.999999) == 10.0);
    assert_true(pr_demand_segment_end_m(&def, 10.0) == 25.0);
    assert_true(pr_demand_segment_end_m(&def, 25.0) == 25.0);
    assert_true(pr_demand_segment_end_m(&def, 99.0) == 25.0);
    const double bog = pr_demand_resistance_N(&def, 5.0, PR_CASE_LIKELY);
    const double grass = pr_demand_resistance_N(&def, 20.0, PR_CASE_LIKELY);
    assert_true(pr_demand_resistance_N(&def, -1.0, PR_CASE_LIKELY) == bog);
    assert_true(pr_demand_resistance_N(&def, 9.999999, PR_CASE_LIKELY) == bog);
    assert_true(pr_demand_resistance_N(&def, 10.0, PR_CASE_LIKELY) == grass);
    assert_true(pr_demand_resistance_N(&def, 99.0, PR_CASE_LIKELY) == grass);
}

static void test_outside_validity_is_nan(void **unused)
{
    (void)unused;
    pr_demand_def def = way();
    assert_true(isnan(pr_demand_resistance_N(&def, PR_NAN, PR_CASE_LIKELY)));
    assert_true(isnan(pr_demand_resistance_N(&def, 1.0, PR_CASE_COUNT)));
    def.n_segments = 0;
    assert_true(isnan(pr_demand_resistance_N(&def, 1.0, PR_CASE_LIKELY)));
    assert_true(isnan(pr_demand_segment_end_m(&def, 1.0)));
    assert_true(isnan(pr_demand_mire_factor(PR_MIRE_NONE, PR_MIRE_ARMY, PR_CASE_COUNT)));
    assert_true(isnan(pr_demand_mire_factor((pr_mire)9, PR_MIRE_ARMY, PR_CASE_LOW)));
    assert_true(isnan(pr_demand_mire_factor(PR_MIRE_HUB, (pr_mire_method)9, PR_CASE_LOW)));
}

static void test_mire_factors_rise_with_depth_and_case(void **unused)
{
    (void)unused;
    for (pr_mire_method method = PR_MIRE_CIVIL; method <= PR_MIRE_ARMY; method++) {
        for (pr_mire mire = PR_MIRE_WHEEL; mire <= PR_MIRE_BODY; mire++) {
            const double low = pr_demand_mire_factor(mire, method, PR_CASE_LOW);
            const double likely = pr_demand_mire_factor(mire, method, PR_CASE_LIKELY);
            const double high = pr_demand_mire_factor(mire, method, PR_CASE_HIGH);
            assert_true(low < likely && likely < high);
            if (mire > PR_MIRE_WHEEL)
                assert_true(likely > pr_demand_mire_factor(mire - 1, method, PR_CASE_LIKELY));
        }
        assert_true(pr_demand_mire_factor(PR_MIRE_NONE, method, PR_CASE_LIKELY) == 0.0);
    }
}

static void test_resistance_rises_with_slope_and_case_and_is_never_negative(void **unused)
{
    (void)unused;
    pr_demand_def def = way();
    def.n_segments = 1;
    def.segments[0] = def.segments[1];
    double before = -1.0;
    for (int degrees = -40; degrees <= 60; degrees++) {
        def.segments[0].slope_rad = degrees * 3.14159265358979323846 / 180.0;
        const double low = pr_demand_resistance_N(&def, 1.0, PR_CASE_LOW);
        const double likely = pr_demand_resistance_N(&def, 1.0, PR_CASE_LIKELY);
        const double high = pr_demand_resistance_N(&def, 1.0, PR_CASE_HIGH);
        assert_true(low >= 0.0 && low <= likely && likely <= high);
        assert_true(likely >= before);
        before = likely;
    }
    def.segments[0].slope_rad = -0.7;
    assert_true(pr_demand_resistance_N(&def, 1.0, PR_CASE_LIKELY) == 0.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_check_refuses_bad_numbers),
        cmocka_unit_test(test_surface_is_not_needed_in_the_mire_nor_with_a_given_force),
        cmocka_unit_test(test_resistance_by_hand),
        cmocka_unit_test(test_segments_end_where_they_say),
        cmocka_unit_test(test_outside_validity_is_nan),
        cmocka_unit_test(test_mire_factors_rise_with_depth_and_case),
        cmocka_unit_test(test_resistance_rises_with_slope_and_case_and_is_never_negative),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
