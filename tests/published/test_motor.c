/* Winch motor against tests/published/motor.tsv. */
#include "physics/motor.h"
#include "support/check.h"
#include "support/published.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const double LBF_N = 4.4482216152605, FT_PER_MIN_mps = 0.3048 / 60.0;

/* pull, amps, ft/min of the 9,500 lbf sheet */
static const double SHEET95[6][3] = {{0, 95, 33},    {2000, 205, 14}, {4000, 270, 11},
                                     {6000, 340, 9}, {8000, 405, 7},  {9500, 450, 6}};

static pr_motor_def two_columns(pr_motor_kind kind, double pull_lbf, const double amps[2],
                                const double speed_fpm[2])
{
    pr_motor_def def = pr_motor_def_default(kind);
    def.rated_pull_N = pull_lbf * LBF_N;
    def.no_load_A = amps[0];
    def.rated_A = amps[1];
    def.no_load_mps = speed_fpm[0] * FT_PER_MIN_mps;
    def.rated_mps = speed_fpm[1] * FT_PER_MIN_mps;
    return def;
}

static pr_motor_def sheet95_def(void)
{
    return two_columns(PR_MOTOR_SERIES, 9500, (double[]){95, 450}, (double[]){33, 6});
}

static pr_motor derived(pr_motor_def def)
{
    pr_motor motor;
    assert_int_equal(pr_motor_derive(&def, &motor), PR_OK);
    return motor;
}

static void check_between(const pr_motor *motor, const char *prefix)
{
    for (int k = 1; k < 5; k++) {
        const double amps = pr_motor_pull_A(motor, SHEET95[k][0] * LBF_N);
        const double speed = pr_motor_speed_mps(motor, 12.0, amps, 25.0) / FT_PER_MIN_mps;
        char id[64];
        snprintf(id, sizeof id, "%s_amps_%.0f", prefix, SHEET95[k][0]);
        pr_published_check(id, amps);
        snprintf(id, sizeof id, "%s_speed_%.0f", prefix, SHEET95[k][0]);
        pr_published_check(id, speed);
    }
}

static void test_two_columns_default_saturation(void **unused)
{
    (void)unused;
    const pr_motor motor = derived(sheet95_def());
    check_between(&motor, "motor_sheet95");
    pr_published_check("motor_gear_efficiency", motor.eta);
}

static void test_two_columns_saturation_of_other_motors(void **unused)
{
    (void)unused;
    pr_motor_def def = sheet95_def();
    def.saturation_A = cbrt(0.74 * 1.05 * 1.57) * def.rated_A;
    const pr_motor motor = derived(def);
    check_between(&motor, "motor_blind95");
}

static void test_full_table(void **unused)
{
    (void)unused;
    pr_motor_def def = pr_motor_def_default(PR_MOTOR_SERIES);
    def.n_points = 6;
    for (int k = 0; k < 6; k++) {
        def.point_N[k] = SHEET95[k][0] * LBF_N;
        def.point_A[k] = SHEET95[k][1];
        def.point_mps[k] = SHEET95[k][2] * FT_PER_MIN_mps;
    }
    pr_published_check("motor_fit95_amps_rms", derived(def).fit_rms_A);
}

static void test_low_voltage(void **unused)
{
    (void)unused;
    const pr_motor motor = derived(sheet95_def());
    const double pull = 8000 * LBF_N;
    const double high = pr_motor_current_A(&motor, pull, 12.0, 25.0, NULL, NULL);
    const double low = pr_motor_current_A(&motor, pull, 10.0, 25.0, NULL, NULL);
    pr_published_check("motor_low_voltage_amps", high - low);
    pr_published_check("motor_low_voltage_speed", pr_motor_speed_mps(&motor, 10.0, low, 25.0) /
                                                      pr_motor_speed_mps(&motor, 12.0, high, 25.0));
}

/* Runs the thermal model in steps of 50 ms (Heun); returns the hottest winding. */
static double run_heat(const pr_motor *motor, pr_motor_state *state, double pull_N, double seconds,
                       double ambient_degC)
{
    const double h = 0.05;
    const double amps = pull_N > 0.0 ? pr_motor_pull_A(motor, pull_N) : 0.0;
    double hottest = state->armature_degC;
    for (long k = 0; k < lround(seconds / h); k++) {
        pr_motor_state a, b, half = *state;
        double v = pr_motor_speed_mps(motor, 12.0, amps, half.armature_degC);
        pr_motor_rates(motor, &half, 12.0, amps, pull_N, v, ambient_degC, &a);
        half.armature_degC += h * a.armature_degC;
        half.case_degC += h * a.case_degC;
        v = pr_motor_speed_mps(motor, 12.0, amps, half.armature_degC);
        pr_motor_rates(motor, &half, 12.0, amps, pull_N, v, ambient_degC, &b);
        state->armature_degC += 0.5 * h * (a.armature_degC + b.armature_degC);
        state->case_degC += 0.5 * h * (a.case_degC + b.case_degC);
        hottest = fmax(hottest, state->armature_degC);
    }
    return hottest;
}

static double after_rated_pull_degC(const pr_motor *motor, double seconds, double ambient_degC)
{
    pr_motor_state state = pr_motor_state_at(ambient_degC);
    return run_heat(motor, &state, motor->def.rated_pull_N, seconds, ambient_degC);
}

static void test_rated_pull_heat(void **unused)
{
    (void)unused;
    pr_motor_def def = sheet95_def();
    const pr_motor motor = derived(def);
    pr_published_check("motor_rated_60s", after_rated_pull_degC(&motor, 60.0, 25.0));
    pr_published_check("motor_rated_120s", after_rated_pull_degC(&motor, 120.0, 25.0));
    pr_published_check("motor_hot_day_mean", after_rated_pull_degC(&motor, 60.0, 40.0));
    pr_published_check("motor_limit_class_f", def.limit_degC);
    def.rated_time_s = 120.0;
    const pr_motor patient = derived(def);
    pr_published_check("motor_rated_120s_declared", after_rated_pull_degC(&patient, 120.0, 25.0));
}

static void test_duty_for_ever(void **unused)
{
    (void)unused;
    const pr_motor motor = derived(sheet95_def());
    pr_motor_state state = pr_motor_state_at(25.0);
    double hottest = 25.0, before = 0.0;
    int cycles = 0;
    /* until a cycle adds less than a hundredth of a degree */
    while (hottest - before > 0.01 && cycles++ < 200) {
        before = hottest;
        hottest =
            fmax(hottest, run_heat(&motor, &state, 0.65 * motor.def.rated_pull_N, 45.0, 25.0));
        run_heat(&motor, &state, 0.0, 14.0 * 60.0 + 15.0, 25.0);
    }
    assert_in_range(cycles, 3, 199);
    pr_published_check("motor_duty_65", hottest);
}

static void test_trade_amps(void **unused)
{
    (void)unused;
    const pr_motor motor =
        derived(two_columns(PR_MOTOR_SERIES, 9000, (double[]){65, 480}, (double[]){33, 6}));
    pr_published_check("motor_trade_9000_amps", pr_motor_pull_A(&motor, 4000 * LBF_N));
}

static void test_permanent_magnet_stall(void **unused)
{
    (void)unused;
    const pr_motor motor = derived(
        two_columns(PR_MOTOR_PERMANENT_MAGNET, 2000, (double[]){30, 200}, (double[]){25, 9}));
    pr_published_check("motor_pm2000_stall", pr_motor_stall_N(&motor, 12.0, 25.0) / LBF_N);
}

/* Flux per amp alone: a motor without resistance turns at V / K. */
static double flux_of(const pr_motor *motor, double amps)
{
    return 1.0 / pr_motor_speed_mps(motor, 1.0, amps, 25.0);
}

static pr_motor flux_only(double ks, double is_A)
{
    pr_motor motor;
    memset(&motor, 0, sizeof motor);
    motor.ks_Vs_per_m = ks;
    motor.is_A = is_A;
    return motor;
}

static void test_flux_form_of_a_measured_curve(void **unused)
{
    (void)unused;
    /* 181 = k 100 / (100 + Is), 221.5 = k 175 / (175 + Is) */
    const double is_A = (221.5 - 181.0) / (181.0 / 100.0 - 221.5 / 175.0);
    const pr_motor motor = flux_only(181.0 * (100.0 + is_A) / 100.0, is_A);
    for (int amps = 25; amps <= 150; amps += 25) {
        if (amps == 100)
            continue;
        char id[64];
        snprintf(id, sizeof id, "motor_flux_%d", amps);
        pr_published_check(id, flux_of(&motor, amps));
    }
}

static void test_flux_exercises(void **unused)
{
    (void)unused;
    /* K25 / K75 = 0.45 */
    const double is_A = (75.0 - 0.45 * 75.0) / (0.45 * 3.0 - 1.0);
    const pr_motor saturating = flux_only(1.0, is_A);
    const double volts = (230.0 - 25.0 * 0.22) / (230.0 - 75.0 * 0.22);
    pr_published_check("motor_flux_45",
                       900.0 * volts * flux_of(&saturating, 75.0) / flux_of(&saturating, 25.0));
    const pr_motor straight = flux_only(1e12, 1e12);
    const double full = 250.0 - 6.0 - 85.0 * 0.15;
    pr_published_check("motor_unsaturated_100", 600.0 * (250.0 - 6.0 - 100.0 * 0.15) / full *
                                                    flux_of(&straight, 85.0) /
                                                    flux_of(&straight, 100.0));
    pr_published_check("motor_unsaturated_40", 600.0 * (250.0 - 6.0 - 40.0 * 0.15) / full *
                                                   flux_of(&straight, 85.0) /
                                                   flux_of(&straight, 40.0));
}

static void test_copper(void **unused)
{
    (void)unused;
    pr_motor_def def = sheet95_def();
    def.brush_share = 0.0;
    const pr_motor motor = derived(def);
    const double cold = pr_motor_resistance_ohm(&motor, 25.0);
    pr_published_check("motor_copper_50", pr_motor_resistance_ohm(&motor, 50.0) / cold);
    pr_published_check("motor_copper_100", pr_motor_resistance_ohm(&motor, 100.0) / cold);
    pr_published_check("motor_copper_150", pr_motor_resistance_ohm(&motor, 150.0) / cold);
    pr_published_check("motor_copper_200", pr_motor_resistance_ohm(&motor, 200.0) / cold);
    pr_published_check(
        "motor_copper_alpha",
        pr_motor_resistance_ohm(&motor, 21.0) / pr_motor_resistance_ohm(&motor, 20.0) - 1.0);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_two_columns_default_saturation),
        cmocka_unit_test(test_two_columns_saturation_of_other_motors),
        cmocka_unit_test(test_full_table),
        cmocka_unit_test(test_low_voltage),
        cmocka_unit_test(test_rated_pull_heat),
        cmocka_unit_test(test_duty_for_ever),
        cmocka_unit_test(test_trade_amps),
        cmocka_unit_test(test_permanent_magnet_stall),
        cmocka_unit_test(test_flux_form_of_a_measured_curve),
        cmocka_unit_test(test_flux_exercises),
        cmocka_unit_test(test_copper),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
