/* Battery in use: wells, voltage, branch, rates, charge, management system, and the pull-and-rest
 * cycles it is there for. */
#include "base/number.h"
#include "physics/battery.h"
#include "support/check.h"

#include <math.h>

static pr_battery starter_of(double c20_Ah)
{
    pr_battery_def def = pr_battery_def_default();
    def.c20_Ah = c20_Ah;
    def.rc_min = c20_Ah * 12.0 / 7.0;
    def.cca_A = 10.0 * c20_Ah;
    pr_battery battery;
    assert_int_equal(pr_battery_derive(&def, &battery), PR_OK);
    return battery;
}

static pr_battery starter(void)
{
    return starter_of(70.0);
}

static pr_battery of_chemistry(pr_chemistry chemistry)
{
    pr_battery_def def = pr_battery_def_default();
    def.chemistry = chemistry;
    def.c20_Ah = 100.0;
    pr_battery battery;
    assert_int_equal(pr_battery_derive(&def, &battery), PR_OK);
    return battery;
}

/* d(state)/dt at a constant terminal current, the voltage being what the branch says. */
static pr_battery_state rates_at(const pr_battery *b, const pr_battery_state *s, double i_A)
{
    pr_battery_branch branch;
    pr_battery_branch_at(b, s, false, &branch);
    const double v = branch.e_V + i_A * branch.r0_ohm; /* of a discharge */
    pr_battery_state rates;
    pr_battery_rates(b, s, &branch, v, i_A, s->T_degC, &rates, NULL);
    rates.T_degC = 0.0; /* the closed form holds the temperature */
    return rates;
}

static pr_battery_state plus(pr_battery_state s, pr_battery_state r, double h)
{
    return (pr_battery_state){s.q1_As + h * r.q1_As, s.q2_As + h * r.q2_As, s.v1_V + h * r.v1_V,
                              s.T_degC + h * r.T_degC};
}

static void runge_kutta(const pr_battery *b, pr_battery_state *s, double i_A, double h)
{
    const pr_battery_state k1 = rates_at(b, s, i_A);
    const pr_battery_state s2 = plus(*s, k1, 0.5 * h), k2 = rates_at(b, &s2, i_A);
    const pr_battery_state s3 = plus(*s, k2, 0.5 * h), k3 = rates_at(b, &s3, i_A);
    const pr_battery_state s4 = plus(*s, k3, h), k4 = rates_at(b, &s4, i_A);
    *s = plus(plus(plus(plus(*s, k1, h / 6), k2, h / 3), k3, h / 3), k4, h / 6);
}

static void test_closed_form_agrees_with_small_steps(void **unused)
{
    (void)unused;
    const pr_battery b = starter();
    const double currents[] = {-300.0, -25.0, -3.5, 0.0};
    for (int k = 0; k < 4; k++)
        for (double T = -20.0; T < 50.0; T += 30.0) {
            pr_battery_state exact = {30e3, 120e3, -0.2, T}, small = exact;
            for (int n = 0; n < 1200; n++)
                runge_kutta(&b, &small, currents[k], 0.05);
            pr_battery_advance_constant(&b, &exact, currents[k], 60.0);
            assert_near(exact.q1_As, small.q1_As, 1e-6);
            assert_near(exact.q2_As, small.q2_As, 1e-6);
            assert_near(exact.v1_V, small.v1_V, 1e-9);
        }
}

/* A full surface over an empty well, then discharged: the flow turns round on the way. */
static void test_closed_form_crosses_equal_heads(void **unused)
{
    (void)unused;
    const pr_battery b = starter();
    pr_battery_state exact = pr_battery_state_rested(&b, 0.8, 25.0);
    exact.q1_As += 2000.0;
    exact.q2_As -= 2000.0;
    pr_battery_state small = exact, parts = exact;
    for (int n = 0; n < 12000; n++)
        runge_kutta(&b, &small, -50.0, 0.05);
    pr_battery_advance_constant(&b, &exact, -50.0, 600.0);
    assert_near(exact.q1_As, small.q1_As, 1e-2); /* the small steps round the corner */
    for (int n = 0; n < 60; n++)
        pr_battery_advance_constant(&b, &parts, -50.0, 10.0);
    assert_near(exact.q1_As, parts.q1_As, 1e-6);
    assert_near(exact.v1_V, parts.v1_V, 1e-12);
}

static void test_charge_is_kept(void **unused)
{
    (void)unused;
    const pr_battery b = starter();
    pr_battery_state s = pr_battery_state_rested(&b, 0.9, 10.0);
    const double before = s.q1_As + s.q2_As;
    pr_battery_advance_constant(&b, &s, -300.0, 40.0);
    pr_battery_advance_constant(&b, &s, 0.0, 240.0);
    pr_battery_advance_constant(&b, &s, 30.0, 100.0);
    assert_near(s.q1_As + s.q2_As - before, -12000.0 + 3000.0, 1e-9);
    pr_battery_branch branch;
    pr_battery_branch_at(&b, &s, false, &branch);
    for (double v = 8.0; v < 16.0; v += 0.5) {
        const double i = pr_battery_branch_current_A(&branch, v, NULL);
        pr_battery_state rates;
        double gas = PR_NAN;
        pr_battery_rates(&b, &s, &branch, v, i, 10.0, &rates, &gas);
        assert_near(rates.q1_As + rates.q2_As, i - gas, 1e-9 * (1.0 + fabs(i)));
        assert_true(gas >= 0.0 && gas <= fabs(i));
    }
}

static void test_rest_ends_at_equal_heads(void **unused)
{
    (void)unused;
    const pr_battery b = starter();
    pr_battery_state s = pr_battery_state_rested(&b, 1.0, 25.0);
    pr_battery_advance_constant(&b, &s, -300.0, 200.0);
    const double soc = pr_battery_soc_frac(&b, &s);
    assert_true(pr_battery_surface_frac(&b, &s) < soc - 0.1);
    pr_battery_advance_constant(&b, &s, 0.0, 72.0 * 3600.0);
    assert_near(pr_battery_soc_frac(&b, &s), soc, 1e-12);
    assert_near(pr_battery_surface_frac(&b, &s), soc, 1e-12);
    assert_near(pr_battery_voltage_after_V(&b, &s, 0.0, 0.0), pr_battery_rest_V(&b, soc, 25.0),
                1e-9);
}

static void test_discharge_time_ends_at_its_voltage(void **unused)
{
    (void)unused;
    const pr_battery b = starter();
    const pr_battery_state full = pr_battery_state_rested(&b, 1.0, 0.0);
    for (double amps = 5.0; amps < 600.0; amps *= 2.0) {
        double seconds = PR_NAN;
        pr_battery_state end;
        assert_int_equal(pr_battery_discharge_time_s(&b, full, -amps, 9.6, 1e7, &seconds, &end),
                         PR_OK);
        assert_near(pr_battery_voltage_after_V(&b, &full, -amps, seconds), 9.6, 1e-5);
        assert_near(pr_battery_soc_frac(&b, &end), 1.0 - amps * seconds / b.qmax_As, 1e-12);
    }
    double seconds = PR_NAN;
    /* already below: no time at all */
    assert_int_equal(pr_battery_discharge_time_s(&b, full, -900.0, 11.0, 1e7, &seconds, NULL),
                     PR_OK);
    assert_near(seconds, 0.0, 0.0);
    assert_int_equal(pr_battery_discharge_time_s(&b, full, -5.0, 9.6, 60.0, &seconds, NULL),
                     PR_ERR_NO_SOLUTION);
    assert_int_equal(pr_battery_discharge_time_s(&b, full, 5.0, 9.6, 60.0, &seconds, NULL),
                     PR_ERR_RANGE);
    assert_int_equal(pr_battery_discharge_time_s(&b, full, PR_NAN, 9.6, 60.0, &seconds, NULL),
                     PR_ERR_RANGE);
    pr_battery_state broken = full;
    broken.q1_As = PR_NAN;
    assert_int_equal(pr_battery_discharge_time_s(&b, broken, -5.0, 9.6, 60.0, &seconds, NULL),
                     PR_ERR_VALIDITY);
}

static void test_second_pull_after_a_rest(void **unused)
{
    (void)unused;
    const pr_battery b = starter();
    pr_battery_state s = pr_battery_state_rested(&b, 1.0, 25.0), rested;
    double first = PR_NAN, at_once = PR_NAN, later = PR_NAN;
    assert_int_equal(pr_battery_discharge_time_s(&b, s, -300.0, 10.5, 1e5, &first, &s), PR_OK);
    rested = s;
    pr_battery_advance_constant(&b, &rested, 0.0, 3600.0);
    assert_int_equal(pr_battery_discharge_time_s(&b, s, -300.0, 10.5, 1e5, &at_once, NULL), PR_OK);
    assert_int_equal(pr_battery_discharge_time_s(&b, rested, -300.0, 10.5, 1e5, &later, NULL),
                     PR_OK);
    assert_near(at_once, 0.0, 1e-3);
    assert_true(later > 60.0 && later < first);
}

static void assert_branch_is_smooth(const pr_battery *b, const pr_battery_state *s)
{
    pr_battery_branch branch;
    pr_battery_branch_at(b, s, false, &branch);
    double last = pr_battery_branch_current_A(&branch, 5.0, NULL);
    for (double v = 5.01; v < 20.0; v += 0.01) {
        double slope;
        const double i = pr_battery_branch_current_A(&branch, v, &slope);
        assert_true(i >= last && slope >= 0.0);
        last = i;
        if (fabs(v - branch.e_V) < 1e-4)
            continue; /* polarisation ends where charge begins: a kink, see battery.c */
        const double up = pr_battery_branch_current_A(&branch, v + 1e-6, NULL);
        const double down = pr_battery_branch_current_A(&branch, v - 1e-6, NULL);
        assert_near(slope, (up - down) / 2e-6, 1e-4 * (slope + 1.0));
    }
    assert_near(pr_battery_branch_current_A(&branch, branch.e_V, NULL), 0.0, 1e-12);
    assert_near(pr_battery_branch_current_A(&branch, branch.e_V + 1e-9, NULL), 0.0, 1e-4);
    assert_near(pr_battery_branch_current_A(&branch, branch.e_V - 1e-9, NULL), 0.0, 1e-4);
}

static void test_branch_is_continuous_and_rising(void **unused)
{
    (void)unused;
    for (int chemistry = 0; chemistry < PR_CHEMISTRY_COUNT; chemistry++) {
        const pr_battery b = of_chemistry((pr_chemistry)chemistry);
        for (double soc = 0.1; soc <= 1.0; soc += 0.3)
            for (double T = -15.0; T < 50.0; T += 20.0) {
                pr_battery_state s = pr_battery_state_rested(&b, soc, T);
                assert_branch_is_smooth(&b, &s);
                s.v1_V = -0.3;
                s.q1_As *= 0.8;
                assert_branch_is_smooth(&b, &s);
            }
        const pr_battery_state overfull = pr_battery_state_rested(&b, 1.0 + 1e-9, 25.0);
        assert_branch_is_smooth(&b, &overfull);
    }
}

static void test_open_battery_carries_nothing(void **unused)
{
    (void)unused;
    const pr_battery b = starter();
    const pr_battery_state s = pr_battery_state_rested(&b, 0.5, 25.0);
    pr_battery_branch branch;
    pr_battery_branch_at(&b, &s, true, &branch);
    double slope = PR_NAN, gas = PR_NAN;
    assert_near(pr_battery_branch_current_A(&branch, 14.0, &slope), 0.0, 0.0);
    assert_near(slope, 0.0, 0.0);
    pr_battery_state rates;
    pr_battery_rates(&b, &s, &branch, 14.0, 0.0, 25.0, &rates, &gas);
    assert_near(gas, 0.0, 0.0);
    assert_near(rates.q1_As, 0.0, 1e-9);
    assert_near(rates.T_degC, 0.0, 1e-12);
}

static void test_power_balances(void **unused)
{
    (void)unused;
    const pr_battery b = starter();
    pr_battery_state s = pr_battery_state_rested(&b, 0.7, 15.0);
    s.v1_V = -0.15;
    pr_battery_branch branch;
    pr_battery_branch_at(&b, &s, false, &branch);
    for (double v = 8.0; v < 15.6; v += 0.2) {
        const double i = pr_battery_branch_current_A(&branch, v, NULL);
        pr_battery_state rates;
        double chemical = PR_NAN, heat = PR_NAN;
        pr_battery_powers_W(&b, &s, &branch, v, i, &chemical, &heat);
        pr_battery_rates(&b, &s, &branch, v, i, 15.0, &rates, NULL);
        /* d/dt of C v1^2 / 2 with C = tau / R1 */
        const double stored = b.tau_s / branch.r1_ohm * s.v1_V * rates.v1_V;
        assert_near(chemical + heat + stored, v * i, 1e-9 * (1.0 + fabs(v * i)));
        assert_true(heat >= 0.0);
        assert_near(rates.T_degC * b.heat_capacity_J_per_K, heat, 1e-9 * (1.0 + heat));
    }
}

static void test_colder_is_never_better(void **unused)
{
    (void)unused;
    for (int chemistry = 0; chemistry < PR_CHEMISTRY_COUNT; chemistry++) {
        const pr_battery b = of_chemistry((pr_chemistry)chemistry);
        double last_s[3] = {PR_INF, PR_INF, PR_INF}, last_A = PR_INF;
        for (double T = 45.0; T > -30.0; T -= 5.0) {
            const double amps[] = {10.0, 60.0, 200.0};
            for (int k = 0; k < 3; k++) {
                double seconds = PR_NAN;
                assert_int_equal(pr_battery_discharge_time_s(&b,
                                                             pr_battery_state_rested(&b, 1.0, T),
                                                             -amps[k], 10.5, 1e7, &seconds, NULL),
                                 PR_OK);
                assert_true(seconds <= last_s[k]);
                last_s[k] = seconds;
            }
            const pr_battery_state half = pr_battery_state_rested(&b, 0.5, T);
            pr_battery_branch branch;
            pr_battery_branch_at(&b, &half, false, &branch);
            const double taken = pr_battery_branch_current_A(&branch, 14.0, NULL);
            assert_true(taken <= last_A * 1.001 + 1e-9); /* E rises a little when warm */
            last_A = taken;
        }
    }
}

static void test_larger_fuller_and_younger_are_never_worse(void **unused)
{
    (void)unused;
    double last_s = 0.0;
    for (double c20 = 40.0; c20 < 130.0; c20 += 10.0) {
        const pr_battery b = starter_of(c20);
        double seconds = PR_NAN;
        assert_int_equal(pr_battery_discharge_time_s(&b, pr_battery_state_rested(&b, 1.0, 10.0),
                                                     -250.0, 9.6, 1e7, &seconds, NULL),
                         PR_OK);
        assert_true(seconds > last_s);
        last_s = seconds;
    }
    const pr_battery b = starter();
    double last_V = 0.0;
    for (double soc = 0.05; soc <= 1.0; soc += 0.05) {
        const pr_battery_state s = pr_battery_state_rested(&b, soc, 10.0);
        const double v = pr_battery_voltage_after_V(&b, &s, -200.0, 5.0);
        assert_true(v > last_V);
        last_V = v;
    }
}

static void test_rest_voltage_and_back(void **unused)
{
    (void)unused;
    for (int chemistry = 0; chemistry < PR_CHEMISTRY_COUNT; chemistry++) {
        const pr_battery b = of_chemistry((pr_chemistry)chemistry);
        for (double soc = 0.0; soc < 1.01; soc += 0.1)
            for (double T = -20.0; T < 41.0; T += 20.0) {
                pr_battery_state s;
                const double v = pr_battery_rest_V(&b, soc, T);
                assert_int_equal(pr_battery_state_from_rest_V(&b, v, T, &s), PR_OK);
                assert_near(pr_battery_soc_frac(&b, &s), fmin(soc, 1.0), 1e-9);
                assert_near(s.T_degC, T, 0.0);
            }
    }
    const pr_battery b = starter();
    pr_battery_state s;
    assert_int_equal(pr_battery_state_from_rest_V(&b, 12.75, 25.0, &s), PR_OK);
    assert_near(pr_battery_soc_frac(&b, &s), 1.0, 1e-12); /* just off the charger: full */
    assert_int_equal(pr_battery_state_from_rest_V(&b, 13.5, 25.0, &s), PR_ERR_RANGE);
    assert_int_equal(pr_battery_state_from_rest_V(&b, 11.5, 25.0, &s), PR_ERR_RANGE);
    assert_int_equal(pr_battery_state_from_rest_V(&b, PR_NAN, 25.0, &s), PR_ERR_RANGE);
}

static void test_nan_is_passed_on(void **unused)
{
    (void)unused;
    const pr_battery b = starter();
    pr_battery_state s = pr_battery_state_rested(&b, 0.5, PR_NAN);
    assert_true(isnan(pr_battery_voltage_after_V(&b, &s, -10.0, 5.0)));
    assert_true(isnan(pr_battery_resistance_ohm(&b, &s)));
    pr_battery_branch branch;
    pr_battery_branch_at(&b, &s, false, &branch);
    assert_true(isnan(pr_battery_branch_current_A(&branch, 12.0, NULL)));
    s = pr_battery_state_rested(&b, 0.5, 25.0);
    pr_battery_branch_at(&b, &s, false, &branch);
    assert_true(isnan(pr_battery_branch_current_A(&branch, PR_NAN, NULL)));
    assert_true(isnan(pr_battery_freezing_degC(&b, PR_NAN)));
}

static void test_an_empty_surface_gives_nothing_and_does_not_overdraw(void **unused)
{
    (void)unused;
    const pr_battery b = starter();
    pr_battery_state s = {0.0, 0.5 * (1.0 - b.c_frac) * b.qmax_As, 0.0, 25.0};
    pr_battery_branch branch;
    pr_battery_branch_at(&b, &s, false, &branch);
    assert_true(pr_battery_branch_current_A(&branch, 6.0, NULL) > -0.1);
    assert_true(pr_battery_branch_current_A(&branch, 14.4, NULL) > 10.0);
    pr_battery_advance_constant(&b, &s, 0.0, 600.0);
    pr_battery_branch_at(&b, &s, false, &branch);
    assert_true(pr_battery_branch_current_A(&branch, 6.0, NULL) < -100.0);
}

static void test_lithium_management(void **unused)
{
    (void)unused;
    const pr_battery b = of_chemistry(PR_LIFEPO4);
    pr_battery_state s = pr_battery_state_rested(&b, 0.5, -1.0);
    pr_battery_branch branch;
    pr_battery_branch_at(&b, &s, false, &branch);
    assert_near(pr_battery_branch_current_A(&branch, 14.4, NULL), 0.0, 0.0);
    assert_true(pr_battery_branch_current_A(&branch, 12.0, NULL) < -50.0);
    assert_int_equal(pr_battery_limit(&b, &s, 14.4, 0.0), PR_BATTERY_BMS_COLD_CHARGE);
    s.T_degC = 20.0;
    pr_battery_branch_at(&b, &s, false, &branch);
    /* default charge limit 0.5 C20 */
    assert_true(pr_battery_branch_current_A(&branch, 14.4, NULL) <= 50.0);
    assert_true(pr_battery_branch_current_A(&branch, 14.4, NULL) > 45.0);
    assert_int_equal(pr_battery_limit(&b, &s, 13.0, -50.0), PR_BATTERY_OK);
    assert_int_equal(pr_battery_limit(&b, &s, 12.5, -150.0), PR_BATTERY_BMS_OVERCURRENT);
    assert_int_equal(pr_battery_limit(&b, &s, 9.9, -50.0), PR_BATTERY_BMS_LOW_VOLTAGE);
    assert_int_equal(pr_battery_limit(&b, &s, 15.0, 5.0), PR_BATTERY_BMS_HIGH_VOLTAGE);
    assert_true(isinf(pr_battery_freezing_degC(&b, 0.5)));
    const pr_battery lead = starter();
    s = pr_battery_state_rested(&lead, 0.5, -20.0);
    assert_int_equal(pr_battery_limit(&lead, &s, 5.0, -900.0), PR_BATTERY_OK);
}

static void test_lithium_has_no_peukert_steepness(void **unused)
{
    (void)unused;
    const pr_battery b = of_chemistry(PR_LIFEPO4);
    double slow = PR_NAN, fast = PR_NAN;
    const pr_battery_state full = pr_battery_state_rested(&b, 1.0, 25.0);
    assert_int_equal(pr_battery_discharge_time_s(&b, full, -5.0, 10.5, 1e7, &slow, NULL), PR_OK);
    assert_int_equal(pr_battery_discharge_time_s(&b, full, -100.0, 10.5, 1e7, &fast, NULL), PR_OK);
    assert_true(100.0 * fast > 0.9 * 5.0 * slow); /* 1 C gives nine tenths (m) */
}

/* One step on an alternator that gives at most alt_A and holds set_V. */
static double bus_step(const pr_battery *b, pr_battery_state *s, double load_A, double alt_A,
                       double dt_s, double ambient_degC)
{
    const double set_V = 14.4;
    pr_battery_branch branch;
    pr_battery_branch_at(b, s, false, &branch);
    double v = set_V, i = pr_battery_branch_current_A(&branch, v, NULL);
    if (i + load_A > alt_A) {
        i = alt_A - load_A;
        double low = 2.0, high = set_V;
        for (int k = 0; k < 50; k++) {
            v = 0.5 * (low + high);
            if (pr_battery_branch_current_A(&branch, v, NULL) < i)
                low = v;
            else
                high = v;
        }
    }
    pr_battery_state rates;
    pr_battery_rates(b, s, &branch, v, i, ambient_degC, &rates, NULL);
    *s = plus(*s, rates, dt_s);
    return v;
}

/* State of charge in the middle of the 20th pull of 300 A x 40 s with 110 A of alternator. */
static double settled_soc(double rest_s, double T_degC)
{
    const pr_battery b = starter();
    pr_battery_state s = pr_battery_state_rested(&b, 1.0, T_degC);
    double before = 1.0;
    for (int cycle = 0; cycle < 20; cycle++) {
        before = pr_battery_soc_frac(&b, &s);
        for (int k = 0; k < 80; k++)
            bus_step(&b, &s, 300.0, 110.0, 0.5, T_degC);
        if (cycle == 19)
            break;
        for (int k = 0; k < (int)(rest_s / 0.5); k++)
            bus_step(&b, &s, 0.0, 110.0, 0.5, T_degC);
    }
    return 0.5 * (before + pr_battery_soc_frac(&b, &s));
}

/* What the design expects of the cycles the program is for; the ratio alpha_s / alpha was set so.
 */
static void test_pulls_and_rests_settle(void **unused)
{
    (void)unused;
    const double warm4 = settled_soc(240.0, 25.0), warm2 = settled_soc(120.0, 25.0);
    assert_near(warm4, 0.90, 0.03);
    assert_near(warm2, 0.80, 0.03);
    const double cold4 = settled_soc(240.0, 0.0), cold2 = settled_soc(120.0, 0.0);
    assert_near(warm4 - cold4, 0.15, 0.05);
    assert_near(warm2 - cold2, 0.15, 0.05);
}

static void test_the_meter_is_back_before_the_charge(void **unused)
{
    (void)unused;
    const pr_battery b = starter();
    pr_battery_state s = pr_battery_state_rested(&b, 0.9, 25.0);
    for (int k = 0; k < 400; k++)
        bus_step(&b, &s, 300.0, 110.0, 0.1, 25.0);
    const double after_pull = pr_battery_soc_frac(&b, &s);
    double v = 0.0;
    for (int k = 0; k < 10; k++)
        v = bus_step(&b, &s, 0.0, 110.0, 0.1, 25.0);
    assert_near(v, 14.4, 1e-9); /* one second */
    const double at_meter = pr_battery_soc_frac(&b, &s);
    assert_true(at_meter - after_pull < 0.05 * (0.9 - after_pull));
}

static void test_names_and_freezing(void **unused)
{
    (void)unused;
    assert_string_equal(pr_chemistry_name(PR_AGM), "AGM");
    assert_string_equal(pr_chemistry_name(PR_CHEMISTRY_COUNT), "unknown");
    const pr_battery b = starter();
    double last = PR_INF;
    for (double soc = -0.1; soc < 1.15; soc += 0.05) {
        const double frost = pr_battery_freezing_degC(&b, soc);
        assert_true(frost <= last && frost <= -10.0);
        last = frost;
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_closed_form_agrees_with_small_steps),
        cmocka_unit_test(test_closed_form_crosses_equal_heads),
        cmocka_unit_test(test_charge_is_kept),
        cmocka_unit_test(test_rest_ends_at_equal_heads),
        cmocka_unit_test(test_discharge_time_ends_at_its_voltage),
        cmocka_unit_test(test_second_pull_after_a_rest),
        cmocka_unit_test(test_branch_is_continuous_and_rising),
        cmocka_unit_test(test_open_battery_carries_nothing),
        cmocka_unit_test(test_power_balances),
        cmocka_unit_test(test_colder_is_never_better),
        cmocka_unit_test(test_larger_fuller_and_younger_are_never_worse),
        cmocka_unit_test(test_rest_voltage_and_back),
        cmocka_unit_test(test_nan_is_passed_on),
        cmocka_unit_test(test_an_empty_surface_gives_nothing_and_does_not_overdraw),
        cmocka_unit_test(test_lithium_management),
        cmocka_unit_test(test_lithium_has_no_peukert_steepness),
        cmocka_unit_test(test_pulls_and_rests_settle),
        cmocka_unit_test(test_the_meter_is_back_before_the_charge),
        cmocka_unit_test(test_names_and_freezing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
