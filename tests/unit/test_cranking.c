/* Restarting the engine: current, lowest voltage of the attempts, reserve, refusals. */
#include "base/number.h"
#include "physics/cranking.h"
#include "support/check.h"

#include <math.h>

static pr_battery battery_of(double c20_Ah, double cca_A)
{
    pr_battery_def def = pr_battery_def_default();
    def.c20_Ah = c20_Ah;
    def.cca_A = cca_A;
    pr_battery b;
    assert_int_equal(pr_battery_derive(&def, &b), PR_OK);
    return b;
}

static void test_current_by_class_and_temperature(void **unused)
{
    (void)unused;
    pr_cranking_def def = pr_cranking_def_default();
    double last_A = 0.0;
    for (int engine = 0; engine < PR_ENGINE_CLASS_COUNT; engine++) {
        def.engine = (pr_engine_class)engine;
        const double warm = pr_cranking_current_A(&def, 25.0);
        const double factor = engine < PR_ENGINE_DIESEL_4 ? 2.5 : 1.8;
        assert_true(warm > last_A); /* the classes are listed by their appetite */
        assert_near(pr_cranking_current_A(&def, 90.0), warm, 0.0);
        assert_near(pr_cranking_current_A(&def, -20.0), factor * warm, 1e-9);
        last_A = warm;
    }
    def.warm_A = 140.0;
    def.cold_factor = 2.0;
    assert_near(pr_cranking_current_A(&def, 25.0), 140.0, 0.0);
    assert_near(pr_cranking_current_A(&def, -20.0), 280.0, 1e-9);
}

static void test_voltage_is_the_lowest_of_the_attempts(void **unused)
{
    (void)unused;
    const pr_battery b = battery_of(70.0, 700.0);
    pr_cranking_def def = pr_cranking_def_default();
    const double amps = pr_cranking_current_A(&def, 0.0);
    pr_battery_state s = pr_battery_state_rested(&b, 0.6, 0.0);
    double lowest = PR_INF;
    for (double t = 0.0; t <= 15.0; t += 0.1)
        lowest = fmin(lowest, pr_battery_voltage_after_V(&b, &s, -amps, t) - amps * def.leads_ohm);
    assert_near(pr_cranking_voltage_V(&def, &b, &s, 0.0), lowest, 1e-6);

    /* straight after a pull the battery recovers while it cranks: the start is the lowest */
    pr_battery_advance_constant(&b, &s, -500.0, 30.0);
    lowest = PR_INF;
    for (double t = 0.0; t <= 15.0; t += 0.1)
        lowest = fmin(lowest, pr_battery_voltage_after_V(&b, &s, -amps, t) - amps * def.leads_ohm);
    assert_near(pr_cranking_voltage_V(&def, &b, &s, 0.0), lowest, 1e-6);
    assert_true(pr_battery_voltage_after_V(&b, &s, -amps, 15.0) >
                pr_battery_voltage_after_V(&b, &s, -amps, 0.0));
}

static void test_reserve_is_where_it_just_starts(void **unused)
{
    (void)unused;
    const pr_battery b = battery_of(70.0, 700.0);
    pr_cranking_def def = pr_cranking_def_default();
    def.least_soc_frac = 0.0;
    double last = 0.0;
    for (double T = 20.0; T > -25.0; T -= 10.0) {
        double soc = PR_NAN;
        assert_int_equal(pr_cranking_reserve_frac(&def, &b, T, T, &soc), PR_OK);
        const pr_battery_state s = pr_battery_state_rested(&b, soc, T);
        assert_near(pr_cranking_voltage_V(&def, &b, &s, T), 9.6, 1e-5);
        assert_true(soc > last); /* colder needs more */
        last = soc;
    }
}

static void test_reserve_has_a_floor(void **unused)
{
    (void)unused;
    const pr_battery b = battery_of(70.0, 700.0);
    pr_cranking_def def = pr_cranking_def_default();
    double soc = PR_NAN;
    assert_int_equal(pr_cranking_reserve_frac(&def, &b, 20.0, 20.0, &soc), PR_OK);
    assert_near(soc, 0.3, 0.0); /* default, a guess: cranking.c */
    assert_int_equal(pr_cranking_reserve_frac(&def, &b, -20.0, -20.0, &soc), PR_OK);
    assert_true(soc > 0.35);
    def.least_soc_frac = 1.5;
    assert_int_equal(pr_cranking_reserve_frac(&def, &b, 20.0, 20.0, &soc), PR_ERR_RANGE);
}

static void test_more_attempts_need_more(void **unused)
{
    (void)unused;
    const pr_battery b = battery_of(45.0, 400.0);
    pr_cranking_def def = pr_cranking_def_default();
    def.least_soc_frac = 0.0;
    double three = PR_NAN, ten = PR_NAN, leads = PR_NAN;
    assert_int_equal(pr_cranking_reserve_frac(&def, &b, 0.0, 0.0, &three), PR_OK);
    def.attempts = 10;
    assert_int_equal(pr_cranking_reserve_frac(&def, &b, 0.0, 0.0, &ten), PR_OK);
    def.attempts = 3;
    def.leads_ohm = 0.004;
    assert_int_equal(pr_cranking_reserve_frac(&def, &b, 0.0, 0.0, &leads), PR_OK);
    assert_true(ten > three && leads > three);
}

static void test_too_small_a_battery_has_no_reserve(void **unused)
{
    (void)unused;
    const pr_battery b = battery_of(20.0, 180.0);
    pr_cranking_def def = pr_cranking_def_default();
    def.engine = PR_ENGINE_DIESEL_8;
    double soc = PR_NAN;
    assert_int_equal(pr_cranking_reserve_frac(&def, &b, -10.0, -10.0, &soc), PR_ERR_NO_SOLUTION);
}

static void test_refusals(void **unused)
{
    (void)unused;
    const pr_battery b = battery_of(70.0, 700.0);
    const pr_battery_state s = pr_battery_state_rested(&b, 1.0, 20.0);
    pr_cranking_def def[7];
    for (int k = 0; k < 7; k++)
        def[k] = pr_cranking_def_default();
    def[0].cookie = 0;
    def[1].engine = (pr_engine_class)40;
    def[2].warm_A = -5.0;
    def[3].cold_factor = 0.5;
    def[4].min_V = PR_NAN;
    def[5].attempts = 0;
    def[6].leads_ohm = -0.001;
    for (int k = 0; k < 7; k++) {
        double soc = PR_NAN;
        assert_int_equal(pr_cranking_reserve_frac(&def[k], &b, 20.0, 20.0, &soc), PR_ERR_RANGE);
        assert_true(isnan(pr_cranking_current_A(&def[k], 20.0)));
        assert_true(isnan(pr_cranking_voltage_V(&def[k], &b, &s, 20.0)));
    }
    const pr_cranking_def good = pr_cranking_def_default();
    double soc = PR_NAN;
    assert_true(isnan(pr_cranking_current_A(&good, PR_NAN)));
    assert_int_equal(pr_cranking_reserve_frac(&good, &b, PR_NAN, 20.0, &soc), PR_ERR_VALIDITY);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_current_by_class_and_temperature),
        cmocka_unit_test(test_voltage_is_the_lowest_of_the_attempts),
        cmocka_unit_test(test_reserve_is_where_it_just_starts),
        cmocka_unit_test(test_reserve_has_a_floor),
        cmocka_unit_test(test_more_attempts_need_more),
        cmocka_unit_test(test_too_small_a_battery_has_no_reserve),
        cmocka_unit_test(test_refusals),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
