/* Loads: published wattages and lamp curves, the law and its slope, switching, every refusal. */
#include "base/number.h"
#include "physics/load.h"
#include "support/check.h"
#include "support/published.h"

#include <math.h>

static const double OLD_s = 1e9; /* long after the inrush */

static pr_load_def amps(double amps_A, double exponent)
{
    pr_load_def def = pr_load_def_default();
    def.amps_A = amps_A;
    def.exponent = exponent;
    return def;
}

static pr_load derived(pr_load_def def)
{
    pr_load load;
    assert_int_equal(pr_load_derive(&def, &load), PR_OK);
    return load;
}

static double current(const pr_load *load, double v_V)
{
    return pr_load_current_A(load, v_V, OLD_s, NULL);
}

static void test_current_published(void **state)
{
    (void)state;
    const double watts[3] = {180, 260, 170};
    double sum_A = 0.0;
    for (int i = 0; i < 3; i++) {
        pr_load_def def = pr_load_def_default();
        def.watts_W = watts[i];
        def.reference_V = 14.0;
        const pr_load load = derived(def);
        sum_A += current(&load, 14.0);
    }
    pr_published_check("load-denton-watts", 14.0 * sum_A);
    pr_published_check("load-denton-amps", sum_A);

    const pr_load lamp = derived(amps(4.0, 0.55));
    const double i0 = current(&lamp, 13.5), i105 = current(&lamp, 1.05 * 13.5);
    pr_published_check("load-lamp-amps-105", 100 * i105 / i0);
    pr_published_check("load-lamp-watts-105", 105 * i105 / i0);
    pr_published_check("load-lamp-watts-80", 0.8 * current(&lamp, 0.8 * 13.5) / i0);
    pr_published_check("load-lamp-watts-120", 1.2 * current(&lamp, 1.2 * 13.5) / i0);
}

static void test_current_closed_forms(void **state)
{
    (void)state;
    const double exponents[] = {-1, -0.5, 0, 0.5, 0.55, 1, 1.6, 2, 3};
    for (int k = 0; k < 9; k++) {
        const pr_load load = derived(amps(10, exponents[k]));
        assert_near(current(&load, 13.5), 10.0, 1e-12);
        for (double v = 8.2; v <= 16; v += 0.3)
            assert_near(current(&load, v), 10 * pow(v / 13.5, exponents[k]), 1e-9);
    }
    /* quantity and watts */
    pr_load_def def = pr_load_def_default();
    def.watts_W = 27;
    def.quantity = 3;
    const pr_load load = derived(def);
    assert_near(load.i0_A, 6.0, 1e-12);
}

static void test_current_bounded_continuous_and_slope(void **state)
{
    (void)state;
    const double exponents[] = {-1, -0.3, 0, 0.5, 0.55, 1, 1.6, 2};
    const double h = 1e-7;
    for (int k = 0; k < 8; k++)
        for (int wired = 0; wired < 2; wired++)
            for (int age = 0; age < 2; age++) {
                pr_load_def def = amps(10, exponents[k]);
                def.wire_ohm = wired ? 0.12 : 0.0; /* 1.2 V of drop at the reference */
                def.inrush_factor = 2.5;
                const pr_load load = derived(def);
                const double age_s = age ? OLD_s : 0.05;
                double before = 0.0;
                int compared = 0;
                for (double v = -1.0; v <= 20; v += 0.01) {
                    double slope;
                    const double i = pr_load_current_A(&load, v, age_s, &slope);
                    assert_true(isfinite(i) && i >= 0.0 && i <= 100.0);
                    assert_true(v > 0.0 || i == 0.0);
                    assert_true(fabs(i - before) < 1.2); /* no jump in 10 mV */
                    const double up = pr_load_current_A(&load, v + h, age_s, NULL);
                    const double down = pr_load_current_A(&load, v - h, age_s, NULL);
                    const double left = (i - down) / h, right = (up - i) / h;
                    if (fabs(left - right) < 1e-3 * (1.0 + fabs(left))) { /* not at its corner */
                        assert_near(slope, 0.5 * (left + right), 1e-4 * (1.0 + fabs(slope)));
                        compared++;
                    }
                    if (exponents[k] >= 0.0)
                        assert_true(slope >= 0.0 && i >= before - 1e-12);
                    before = i;
                }
                assert_true(compared > 2090);
            }
}

static void test_current_driver_saturates(void **state)
{
    (void)state;
    /* constant power down to 60 % of the reference, then it lets go */
    const pr_load led = derived(amps(10, -1));
    assert_near(13.5 * 10, 8.1 * current(&led, 8.1), 1e-9);
    assert_near(9.0 * current(&led, 9.0), 135, 1e-9);
    assert_near(current(&led, 4.05), 0.5 * current(&led, 8.1), 1e-9);
    assert_near(current(&led, 0.0), 0.0, 0.0);
}

static void test_current_behind_a_wire(void **state)
{
    (void)state;
    pr_load_def def = amps(10, 1); /* 1.35 ohm */
    def.wire_ohm = 0.15;
    pr_load load = derived(def);
    assert_near(current(&load, 12.0), 12.0 / 1.5, 1e-9); /* Ohm's law */
    def.exponent = -1; /* 135 W behind 0.15 ohm at 12 V: V_L^2 - 12 V_L + 20.25 = 0 */
    load = derived(def);
    const double v_load = 6.0 + sqrt(36.0 - 20.25);
    assert_near(current(&load, 12.0), 135.0 / v_load, 1e-9);
}

static void test_current_inrush(void **state)
{
    (void)state;
    pr_load_def def = amps(10, 1);
    def.inrush_factor = 5;
    def.inrush_s = 0.2;
    const pr_load load = derived(def);
    assert_near(pr_load_current_A(&load, 13.5, 0.0, NULL), 50.0, 1e-9);
    assert_near(pr_load_current_A(&load, 13.5, 0.2, NULL), 10 * (1 + 4 * exp(-1)), 1e-9);
    assert_near(pr_load_current_A(&load, 13.5, 7.99, NULL), 10.0, 1e-9);
    assert_near(pr_load_current_A(&load, 13.5, 8.01, NULL), 10.0, 0.0);
    assert_near(pr_load_current_A(&load, 13.5, -1.0, NULL), 50.0, 1e-9); /* not yet started */
    double before = 60.0;
    for (double t = 0; t < 3; t += 0.01) {
        const double i = pr_load_current_A(&load, 13.5, t, NULL);
        assert_true(i < before);
        before = i;
    }
}

static bool wanted(unsigned when, bool engine, bool pulling, bool resting)
{
    pr_load_def def = amps(1, 0);
    def.when = when;
    const pr_load load = derived(def);
    return pr_load_wanted(&load, engine, pulling, resting);
}

static void test_wanted_conditions(void **state)
{
    (void)state;
    assert_true(wanted(PR_WHEN_ALWAYS, false, false, false));
    assert_false(wanted(PR_WHEN_ENGINE, false, true, true));
    assert_true(wanted(PR_WHEN_ENGINE, true, false, false));
    assert_true(wanted(PR_WHEN_PULLING, false, true, false));
    assert_false(wanted(PR_WHEN_PULLING, true, false, true));
    assert_true(wanted(PR_WHEN_RESTING, false, false, true));
    assert_false(wanted(PR_WHEN_RESTING, true, true, false));
    assert_true(wanted(PR_WHEN_PULLING | PR_WHEN_RESTING, false, false, true));
    assert_false(wanted(PR_WHEN_NEVER, true, true, true));
    assert_false(wanted(PR_WHEN_NEVER | PR_WHEN_ALWAYS, true, true, true));
}

static void test_duty(void **state)
{
    (void)state;
    pr_load_def def = amps(1, 0);
    double next;
    pr_load load = derived(def);
    assert_true(pr_load_duty_on(&load, 5, &next)); /* no cycling */
    assert_true(next == PR_INF);
    def.cycling = PR_CYCLE_DUTY;
    def.duty_frac = 0.3;
    def.period_s = 7.1;
    load = derived(def);
    /* walk from change to change: alternates, always forward, on for the duty, never drifts */
    double t = 0.0, on_s = 0.0;
    bool on = pr_load_duty_on(&load, t, &next);
    assert_true(on);
    for (int k = 1; k <= 20000; k++) {
        assert_true(next > t);
        on_s += on ? next - t : 0.0;
        t = next;
        const bool now = pr_load_duty_on(&load, t, &next);
        assert_true(now != on);
        on = now;
    }
    assert_near(t, 10000 * 7.1, 1e-6);
    assert_near(on_s / t, 0.3, 1e-9);
    assert_true(pr_load_duty_on(&load, 7.1 * 3 + 2.12, NULL));
    assert_false(pr_load_duty_on(&load, 7.1 * 3 + 2.14, NULL));
    def.duty_frac = 0.0;
    load = derived(def);
    assert_false(pr_load_duty_on(&load, 3, &next));
    assert_true(next == PR_INF);
    def.duty_frac = 1.0;
    load = derived(def);
    assert_true(pr_load_duty_on(&load, 3, &next));
    assert_true(next == PR_INF);
}

static void test_thermostat(void **state)
{
    (void)state;
    pr_load_def def = amps(20, 1.6);
    pr_load load = derived(def);
    assert_int_equal(pr_load_thermostat_wants(&load, true, 200), 0); /* has none */
    assert_near(pr_load_thermostat_K_per_s(&load, true), 0.0, 0.0);
    def.cycling = PR_CYCLE_THERMOSTAT;
    def.on_degC = 96;
    def.off_degC = 90;
    def.start_degC = 85;
    def.warming_K_per_s = 0.05;
    def.cooling_K_per_s = 0.1;
    load = derived(def);
    assert_int_equal(pr_load_thermostat_wants(&load, false, 95.9), 0);
    assert_int_equal(pr_load_thermostat_wants(&load, false, 96), 1);
    assert_int_equal(pr_load_thermostat_wants(&load, true, 90.1), 0);
    assert_int_equal(pr_load_thermostat_wants(&load, true, 90), -1);
    assert_near(pr_load_thermostat_K_per_s(&load, false), 0.05, 0.0);
    assert_near(pr_load_thermostat_K_per_s(&load, true), -0.1, 0.0);
    /* a heater: on when cold */
    def.on_degC = 3;
    def.off_degC = 8;
    load = derived(def);
    assert_int_equal(pr_load_thermostat_wants(&load, false, 3), 1);
    assert_int_equal(pr_load_thermostat_wants(&load, false, 5), 0);
    assert_int_equal(pr_load_thermostat_wants(&load, true, 5), 0);
    assert_int_equal(pr_load_thermostat_wants(&load, true, 8), -1);
    assert_near(pr_load_thermostat_K_per_s(&load, true), 0.1, 0.0);
    assert_near(pr_load_thermostat_K_per_s(&load, false), -0.05, 0.0);
}

static void test_dropout_and_return(void **state)
{
    (void)state;
    pr_load_def def = amps(8, 0);
    pr_load load = derived(def);
    assert_int_equal(pr_load_wants(&load, true, 0.0), 0); /* works at any voltage */
    assert_int_equal(pr_load_wants(&load, false, 0.0), 1);
    def.dropout_V = 9.0;
    def.return_V = 10.5;
    load = derived(def);
    assert_int_equal(pr_load_wants(&load, true, 9.01), 0);
    assert_int_equal(pr_load_wants(&load, true, 9.0), -1);
    assert_int_equal(pr_load_wants(&load, false, 10.49), 0);
    assert_int_equal(pr_load_wants(&load, false, 10.5), 1);
}

#define REFUSES(def, field, value)                                                                 \
    do {                                                                                           \
        pr_load_def bad = (def);                                                                   \
        bad.field = (value);                                                                       \
        assert_int_equal(pr_load_derive(&bad, &load), PR_ERR_RANGE);                               \
    } while (0)

static void test_derive_refuses(void **state)
{
    (void)state;
    pr_load load;
    pr_load_def def = pr_load_def_default();
    assert_int_equal(pr_load_derive(&def, &load), PR_ERR_RANGE); /* amps or watts are required */
    def.amps_A = 5;
    assert_int_equal(pr_load_derive(NULL, &load), PR_ERR_INTERNAL);
    assert_int_equal(pr_load_derive(&def, NULL), PR_ERR_INTERNAL);
    def.cookie = 0;
    assert_int_equal(pr_load_derive(&def, &load), PR_ERR_INTERNAL);
    def.cookie = PR_DEF_COOKIE;
    REFUSES(def, watts_W, 60); /* both */
    REFUSES(def, amps_A, -1);
    REFUSES(def, amps_A, 2000);
    REFUSES(def, amps_A, PR_INF);
    REFUSES(def, reference_V, 0);
    REFUSES(def, exponent, -2);
    REFUSES(def, exponent, PR_NAN);
    REFUSES(def, when, 0);
    REFUSES(def, when, 64);
    REFUSES(def, quantity, -1);
    REFUSES(def, quantity, 101);
    REFUSES(def, inrush_factor, 0.5);
    REFUSES(def, inrush_s, 0);
    REFUSES(def, dropout_V, 9); /* without a return voltage */
    REFUSES(def, return_V, 9);
    REFUSES(def, wire_ohm, -1);
    REFUSES(def, wire_ohm, 1.0); /* 5 V of drop */
    REFUSES(def, cycling, (pr_cycling)9);
    pr_load_def duty = def;
    duty.cycling = PR_CYCLE_DUTY;
    REFUSES(duty, period_s, 60); /* no duty */
    duty.duty_frac = 0.5;
    REFUSES(duty, period_s, 0);
    REFUSES(duty, period_s, PR_NAN);
    duty.period_s = 60;
    REFUSES(duty, duty_frac, 1.5);
    pr_load_def hot = def;
    hot.cycling = PR_CYCLE_THERMOSTAT;
    hot.on_degC = 95;
    hot.off_degC = 90;
    hot.start_degC = 80;
    hot.warming_K_per_s = hot.cooling_K_per_s = 0.1;
    assert_int_equal(pr_load_derive(&hot, &load), PR_OK);
    REFUSES(hot, off_degC, 95);
    REFUSES(hot, on_degC, PR_NAN);
    REFUSES(hot, off_degC, 500);
    REFUSES(hot, start_degC, PR_NAN);
    REFUSES(hot, warming_K_per_s, 0);
    REFUSES(hot, cooling_K_per_s, -1);
    pr_load_def drops = def;
    drops.dropout_V = 9;
    drops.return_V = 10;
    assert_int_equal(pr_load_derive(&drops, &load), PR_OK);
    REFUSES(drops, return_V, 8.9);
    REFUSES(drops, dropout_V, 0.1);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_current_published),
        cmocka_unit_test(test_current_closed_forms),
        cmocka_unit_test(test_current_bounded_continuous_and_slope),
        cmocka_unit_test(test_current_driver_saturates),
        cmocka_unit_test(test_current_behind_a_wire),
        cmocka_unit_test(test_current_inrush),
        cmocka_unit_test(test_wanted_conditions),
        cmocka_unit_test(test_duty),
        cmocka_unit_test(test_thermostat),
        cmocka_unit_test(test_dropout_and_return),
        cmocka_unit_test(test_derive_refuses),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
