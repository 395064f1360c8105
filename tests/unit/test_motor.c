/* Winch motor: sheet to parameters, force, speed, current, heat. */
#include "base/number.h"
#include "physics/motor.h"
#include "support/check.h"

#include <math.h>

static const double LBF_N = 4.4482216152605, FT_PER_MIN_mps = 0.3048 / 60.0;

static pr_motor_def series_def(void)
{
    pr_motor_def def = pr_motor_def_default(PR_MOTOR_SERIES);
    def.rated_pull_N = 9500 * LBF_N;
    def.no_load_A = 95.0;
    def.rated_A = 450.0;
    def.no_load_mps = 33 * FT_PER_MIN_mps;
    def.rated_mps = 6 * FT_PER_MIN_mps;
    return def;
}

static pr_motor_def magnet_def(void)
{
    pr_motor_def def = pr_motor_def_default(PR_MOTOR_PERMANENT_MAGNET);
    def.rated_pull_N = 2000 * LBF_N;
    def.no_load_A = 30.0;
    def.rated_A = 200.0;
    def.no_load_mps = 25 * FT_PER_MIN_mps;
    def.rated_mps = 9 * FT_PER_MIN_mps;
    return def;
}

static pr_motor derived(pr_motor_def def)
{
    pr_motor motor;
    assert_int_equal(pr_motor_derive(&def, &motor), PR_OK);
    return motor;
}

static void test_derive_refuses_a_definition_without_cookie(void **unused)
{
    (void)unused;
    pr_motor_def def = series_def();
    def.cookie = 0;
    pr_motor motor;
    assert_int_equal(pr_motor_derive(&def, &motor), PR_ERR_INTERNAL);
}

static void test_derive_refuses_a_forgotten_or_impossible_number(void **unused)
{
    (void)unused;
    const struct {
        size_t offset;
        double value;
    } bad[] = {
        {offsetof(pr_motor_def, rated_pull_N), PR_NAN},
        {offsetof(pr_motor_def, no_load_A), PR_NAN},
        {offsetof(pr_motor_def, rated_A), PR_NAN},
        {offsetof(pr_motor_def, no_load_mps), PR_NAN},
        {offsetof(pr_motor_def, rated_mps), PR_NAN},
        {offsetof(pr_motor_def, rated_pull_N), -1.0},
        {offsetof(pr_motor_def, rated_pull_N), PR_INF},
        {offsetof(pr_motor_def, no_load_A), 450.0}, /* no less than rated */
        {offsetof(pr_motor_def, rated_mps), 0.2},   /* no slower than without load */
        {offsetof(pr_motor_def, rated_mps), 0.15},  /* 6.3 kW out of 5.4 kW */
        {offsetof(pr_motor_def, sheet_V), 0.0},
        {offsetof(pr_motor_def, contactor_ohm), -1e-3},
        {offsetof(pr_motor_def, contactor_drop_out_V), 9.0}, /* above the return */
        {offsetof(pr_motor_def, contactor_return_V), 13.0},  /* above the sheet volts */
        {offsetof(pr_motor_def, limit_degC), 20.0},
        {offsetof(pr_motor_def, rated_time_s), 0.0},
        {offsetof(pr_motor_def, rated_rise_K), PR_NAN},
        {offsetof(pr_motor_def, case_tau_s), 0.0},
        {offsetof(pr_motor_def, heat_factor), 0.0},
        {offsetof(pr_motor_def, armature_tau_s), -1.0},
        {offsetof(pr_motor_def, case_ratio), 0.0},
        {offsetof(pr_motor_def, brush_share), 1.0},
        {offsetof(pr_motor_def, saturation_A), 0.0},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        pr_motor_def def = series_def();
        pr_motor motor = {.r_ohm = -7.0};
        *(double *)(void *)((char *)&def + bad[i].offset) = bad[i].value;
        const pr_status status = pr_motor_derive(&def, &motor);
        if (status != PR_ERR_RANGE)
            fail_msg("case %zu: %s", i, pr_status_text(status));
        assert_true(motor.r_ohm == -7.0); /* untouched */
    }
    pr_motor_def def = series_def();
    def.kind = (pr_motor_kind)7;
    pr_motor motor;
    assert_int_equal(pr_motor_derive(&def, &motor), PR_ERR_RANGE);
}

static void test_derive_says_when_no_motor_has_the_numbers(void **unused)
{
    (void)unused;
    /* constant flux: more force per amp than the no-load speed allows */
    pr_motor_def def = series_def();
    def.kind = PR_MOTOR_PERMANENT_MAGNET;
    pr_motor motor;
    assert_int_equal(pr_motor_derive(&def, &motor), PR_ERR_NO_SOLUTION);
    /* no saturation at all: the speed would have to fall more than it does */
    def = series_def();
    def.no_load_mps = 22.8 * FT_PER_MIN_mps;
    def.saturation_A = 1e9;
    assert_int_equal(pr_motor_derive(&def, &motor), PR_ERR_NO_SOLUTION);
}

static void assert_column(const pr_motor *m, double pull_N, double amps, double speed_mps)
{
    assert_near(pr_motor_pull_A(m, pull_N), amps, 1e-9 * amps);
    assert_near(pr_motor_speed_mps(m, m->def.sheet_V, amps, 25.0), speed_mps, 1e-9);
}

static void assert_both_columns(const pr_motor *m)
{
    assert_column(m, 0.0, m->def.no_load_A, m->def.no_load_mps);
    assert_column(m, m->def.rated_pull_N, m->def.rated_A, m->def.rated_mps);
    assert_true(m->eta > 0.0 && m->eta <= 1.0 && m->f0_N >= 0.0 && m->r_ohm > 0.0);
}

static void test_two_columns_are_met(void **unused)
{
    (void)unused;
    pr_motor m = derived(series_def());
    assert_both_columns(&m);
    assert_near(m.is_A, 600.0, 1e-9);
    assert_true(isnan(m.fit_rms_A));
    m = derived(magnet_def());
    assert_both_columns(&m);
    assert_true(m.is_A == 0.0);
    pr_motor_def def = series_def();
    def.saturation_A = 450.0;
    m = derived(def);
    assert_both_columns(&m);
    assert_true(m.is_A == 450.0);
}

/* A sheet whose speed falls little: with the default saturation hardly any resistance would be
 * left. */
static void test_saturation_gives_way_where_the_default_is_implausible(void **unused)
{
    (void)unused;
    pr_motor_def def = series_def();
    def.rated_pull_N = 12500 * LBF_N;
    def.no_load_A = 80.0;
    def.rated_A = 460.0;
    def.no_load_mps = 22.8 * FT_PER_MIN_mps;
    const pr_motor m = derived(def);
    assert_both_columns(&m);
    assert_true(m.is_A < 0.9 * 4.0 / 3.0 * 460.0);
    assert_true(m.r_ohm * 460.0 >= 0.15 * 12.0);
}

/* Rows of the sheet that a motor itself gives. */
static void fill_rows(pr_motor_def *def, const pr_motor *m, int n, double least_N)
{
    def->n_points = n;
    for (int j = 0; j < n; j++) {
        const double pull = least_N + (m->def.rated_pull_N - least_N) * j / (n - 1);
        def->point_N[j] = pull;
        def->point_A[j] = pr_motor_pull_A(m, pull);
        def->point_mps[j] = pr_motor_speed_mps(m, 12.0, def->point_A[j], 25.0);
    }
}

static void assert_same_motor(const pr_motor *got, const pr_motor *want, double relative)
{
    assert_near(got->r_ohm, want->r_ohm, relative * want->r_ohm);
    assert_near(got->ks_Vs_per_m, want->ks_Vs_per_m, relative * want->ks_Vs_per_m);
    assert_near(got->is_A, want->is_A, relative * want->is_A);
    assert_near(got->eta, want->eta, relative);
    assert_near(got->f0_N, want->f0_N, relative * want->f0_N);
}

static void test_table_of_a_motor_gives_it_back(void **unused)
{
    (void)unused;
    pr_motor_def odd = series_def();
    odd.saturation_A = 500.0;
    const pr_motor want[2] = {derived(odd), derived(magnet_def())};
    for (int k = 0; k < 2; k++) {
        for (int n = 4; n <= PR_MOTOR_POINTS_MAX; n += 4) {
            pr_motor_def def = pr_motor_def_default(want[k].def.kind);
            fill_rows(&def, &want[k], n, 0.0);
            const pr_motor got = derived(def);
            assert_same_motor(&got, &want[k], 1e-7);
            assert_near(got.fit_rms_A, 0.0, 1e-6);
            assert_near(got.def.rated_A, want[k].def.rated_A, 1e-9);
            assert_near(got.def.no_load_mps, want[k].def.no_load_mps, 1e-12);
        }
    }
}

static void test_table_may_begin_under_load(void **unused)
{
    (void)unused;
    const pr_motor want = derived(series_def());
    pr_motor_def def = pr_motor_def_default(PR_MOTOR_SERIES);
    fill_rows(&def, &want, 5, 5000.0);
    const pr_motor got = derived(def);
    assert_same_motor(&got, &want, 1e-6);
    assert_near(got.def.no_load_A, 95.0, 1e-4);
    assert_near(got.def.no_load_mps, want.def.no_load_mps, 1e-6);
}

static void test_table_with_given_saturation_keeps_it(void **unused)
{
    (void)unused;
    const pr_motor other = derived(series_def());
    pr_motor_def def = pr_motor_def_default(PR_MOTOR_SERIES);
    fill_rows(&def, &other, 6, 0.0);
    def.saturation_A = 500.0;
    const pr_motor got = derived(def);
    assert_near(got.is_A, 500.0, 1e-9);
    assert_true(got.fit_rms_A > 0.1);
}

static double sheet_cost(const pr_motor *m)
{
    double sum = 0.0;
    for (int j = 0; j < m->def.n_points; j++) {
        const double force = m->eta * m->ks_Vs_per_m, g = (m->def.point_N[j] + m->f0_N) / force;
        const double amps = 0.5 * (g + sqrt(g * g + 4.0 * g * m->is_A));
        const double k = m->ks_Vs_per_m * amps / (amps + m->is_A);
        const double speed = (12.0 - amps * m->r_ohm) / k;
        sum += pow((amps / m->def.point_A[j] - 1.0) / 0.02, 2);
        sum += pow((speed / m->def.point_mps[j] - 1.0) / 0.05, 2);
    }
    return sum;
}

static void test_table_fit_is_the_least_sum(void **unused)
{
    (void)unused;
    pr_motor_def def = pr_motor_def_default(PR_MOTOR_SERIES);
    const double rows[6][3] = {{0, 95, 33},    {2000, 205, 14}, {4000, 270, 11},
                               {6000, 340, 9}, {8000, 405, 7},  {9500, 450, 6}};
    def.n_points = 6;
    for (int j = 0; j < 6; j++) {
        def.point_N[j] = rows[j][0] * LBF_N;
        def.point_A[j] = rows[j][1];
        def.point_mps[j] = rows[j][2] * FT_PER_MIN_mps;
    }
    const pr_motor best = derived(def);
    const double least = sheet_cost(&best);
    const size_t parameters[] = {offsetof(pr_motor, r_ohm), offsetof(pr_motor, ks_Vs_per_m),
                                 offsetof(pr_motor, is_A), offsetof(pr_motor, eta),
                                 offsetof(pr_motor, f0_N)};
    for (size_t p = 0; p < sizeof parameters / sizeof parameters[0]; p++) {
        for (int sign = -1; sign <= 1; sign += 2) {
            pr_motor other = best;
            *(double *)(void *)((char *)&other + parameters[p]) *= 1.0 + sign * 1e-4;
            assert_true(sheet_cost(&other) > least);
        }
    }
}

static void test_derive_refuses_bad_tables(void **unused)
{
    (void)unused;
    const pr_motor want = derived(series_def());
    pr_motor_def good = pr_motor_def_default(PR_MOTOR_SERIES);
    fill_rows(&good, &want, 5, 0.0);
    pr_motor motor;
    for (int k = 0; k < 8; k++) {
        pr_motor_def def = good;
        if (k == 0)
            def.n_points = 2;
        if (k == 1)
            def.n_points = PR_MOTOR_POINTS_MAX + 1;
        if (k == 2)
            def.n_points = -1;
        if (k == 3)
            def.point_N[2] = def.point_N[1];
        if (k == 4)
            def.point_A[2] = def.point_A[1];
        if (k == 5)
            def.point_mps[2] = 1.01 * def.point_mps[1];
        if (k == 6)
            def.point_A[3] = PR_NAN;
        if (k == 7)
            def.point_mps[4] = 0.0;
        if (pr_motor_derive(&def, &motor) != PR_ERR_RANGE)
            fail_msg("case %d", k);
    }
}

static void test_pull_and_amps_are_inverse_and_rising(void **unused)
{
    (void)unused;
    const pr_motor motors[2] = {derived(series_def()), derived(magnet_def())};
    for (int k = 0; k < 2; k++) {
        double before = 0.0;
        for (int j = 0; j <= 120; j++) {
            const double pull = 0.01 * j * motors[k].def.rated_pull_N;
            const double amps = pr_motor_pull_A(&motors[k], pull);
            assert_near(pr_motor_pull_N(&motors[k], amps), pull, 1e-9 * 1e5);
            assert_true(amps > before);
            before = amps;
        }
        assert_near(pr_motor_pull_N(&motors[k], 0.0), -motors[k].f0_N, 0.0);
        assert_near(pr_motor_pull_N(&motors[k], -5.0), -motors[k].f0_N, 0.0);
    }
}

static void test_speed_falls_with_pull_heat_and_low_volts(void **unused)
{
    (void)unused;
    const pr_motor m = derived(series_def());
    double before = 1e9;
    for (int j = 0; j <= 100; j++) {
        const double amps = pr_motor_pull_A(&m, 0.01 * j * m.def.rated_pull_N);
        const double speed = pr_motor_speed_mps(&m, 12.0, amps, 25.0);
        assert_true(speed < before);
        assert_true(pr_motor_speed_mps(&m, 12.0, amps, 125.0) < speed);
        assert_true(pr_motor_speed_mps(&m, 10.0, amps, 25.0) < speed);
        before = speed;
    }
    assert_true(pr_motor_speed_mps(&m, 12.0, 0.0, 25.0) == 0.0);
    assert_true(pr_motor_speed_mps(&m, 12.0, -1.0, 25.0) == 0.0);
}

static void test_current_is_continuous_at_the_stall(void **unused)
{
    (void)unused;
    const pr_motor m = derived(series_def());
    const double pull = 6000 * LBF_N, amps = pr_motor_pull_A(&m, pull);
    const double stall_V = amps * pr_motor_resistance_ohm(&m, 80.0);
    int stalled = -1;
    double slope = -1.0;
    assert_near(pr_motor_current_A(&m, pull, stall_V * (1.0 + 1e-9), 80.0, &slope, &stalled), amps,
                1e-6);
    assert_int_equal(stalled, 0);
    assert_true(slope == 0.0);
    assert_near(pr_motor_current_A(&m, pull, stall_V * (1.0 - 1e-9), 80.0, &slope, &stalled), amps,
                1e-6);
    assert_int_equal(stalled, 1);
    /* the pull that just stalls here is this one */
    assert_near(pr_motor_stall_N(&m, stall_V, 80.0), pull, 1e-6);
    assert_near(pr_motor_speed_mps(&m, stall_V, amps, 80.0), 0.0, 1e-12);
}

static void test_current_slope_is_that_of_finite_differences(void **unused)
{
    (void)unused;
    const pr_motor m = derived(series_def());
    double before = -1.0;
    for (int j = 1; j < 130; j++) {
        const double v = 0.1 * j, h = 1e-5;
        double slope;
        const double amps = pr_motor_current_A(&m, 30000.0, v, 60.0, &slope, NULL);
        const double more = pr_motor_current_A(&m, 30000.0, v + h, 60.0, NULL, NULL);
        const double less = pr_motor_current_A(&m, 30000.0, v - h, 60.0, NULL, NULL);
        assert_near(slope, (more - less) / (2.0 * h), 1e-6 * fabs(slope) + 1e-9);
        assert_true(amps >= before && more >= less);
        before = amps;
    }
}

static void test_resistance_rises_with_copper_not_with_brushes(void **unused)
{
    (void)unused;
    pr_motor_def def = series_def();
    def.brush_share = 0.3;
    const pr_motor m = derived(def);
    assert_near(pr_motor_resistance_ohm(&m, 25.0), m.r_ohm, 1e-12);
    assert_near(pr_motor_resistance_ohm(&m, 125.0),
                m.r_ohm * (0.3 + 0.7 * (234.5 + 125.0) / (234.5 + 25.0)), 1e-12);
}

/* What comes in leaves at the rope, stays in the two nodes or goes to the air. */
static void assert_energy_closes(const pr_motor *m, double v_V, double pull_N, double ta, double tc)
{
    const double amps = pr_motor_current_A(m, pull_N, v_V, ta, NULL, NULL);
    const double speed = fmax(0.0, pr_motor_speed_mps(m, v_V, amps, ta));
    const pr_motor_state state = {.armature_degC = ta, .case_degC = tc};
    pr_motor_state rates;
    pr_motor_rates(m, &state, v_V, amps, pull_N, speed, 15.0, &rates);
    const double stored =
        m->c_armature_J_per_K * rates.armature_degC + m->c_case_J_per_K * rates.case_degC;
    const double in_W = v_V * amps;
    assert_near(stored + pr_motor_to_air_W(m, &state, 15.0) + pull_N * speed, in_W, 1e-9 * in_W);
    assert_near(pr_motor_heat_W(m, v_V, amps, pull_N, speed), in_W - pull_N * speed, 1e-9 * in_W);
    /* neither node is ever cooled by the losses */
    assert_true(pr_motor_heat_W(m, v_V, amps, pull_N, speed) >=
                amps * amps * pr_motor_resistance_ohm(m, ta) * (1.0 - 1e-12));
}

static void test_energy_closes(void **unused)
{
    (void)unused;
    pr_motor_def warm = series_def();
    warm.heat_factor = 1.7;
    const pr_motor motors[3] = {derived(series_def()), derived(warm), derived(magnet_def())};
    for (int k = 0; k < 3; k++)
        for (int j = 0; j <= 20; j++)
            for (double v = 3.0; v < 15.0; v += 2.3)
                assert_energy_closes(&motors[k], v, 0.06 * j * motors[k].def.rated_pull_N,
                                     -10.0 + 9.0 * j, 5.0 + 3.0 * j);
}

static void test_stalled_motor_heats_the_winding_only(void **unused)
{
    (void)unused;
    const pr_motor m = derived(series_def());
    const pr_motor_state cold = pr_motor_state_at(20.0);
    const double amps = pr_motor_current_A(&m, 1e6, 8.0, 20.0, NULL, NULL);
    pr_motor_state rates;
    pr_motor_rates(&m, &cold, 8.0, amps, 1e6, 0.0, 20.0, &rates);
    assert_near(rates.armature_degC, 8.0 * amps / m.c_armature_J_per_K, 1e-9);
    assert_near(rates.case_degC, 0.0, 1e-9);
}

/* Explicit steps of 10 ms against the calibration inside derive. */
static double rated_rise_K(const pr_motor *m, double seconds)
{
    pr_motor_state s = pr_motor_state_at(25.0), a, b;
    const double h = 0.01;
    for (long k = 0; k < lround(seconds / h); k++) {
        pr_motor_state mid = s;
        const double amps = pr_motor_pull_A(m, m->def.rated_pull_N);
        double v = pr_motor_speed_mps(m, m->def.sheet_V, amps, s.armature_degC);
        pr_motor_rates(m, &s, m->def.sheet_V, amps, m->def.rated_pull_N, v, 25.0, &a);
        mid.armature_degC += 0.5 * h * a.armature_degC;
        mid.case_degC += 0.5 * h * a.case_degC;
        v = pr_motor_speed_mps(m, m->def.sheet_V, amps, mid.armature_degC);
        pr_motor_rates(m, &mid, m->def.sheet_V, amps, m->def.rated_pull_N, v, 25.0, &b);
        s.armature_degC += h * b.armature_degC;
        s.case_degC += h * b.case_degC;
    }
    return s.armature_degC - 25.0;
}

static void test_rated_pull_rises_as_declared(void **unused)
{
    (void)unused;
    const double times[] = {5.0, 60.0, 300.0, 1800.0};
    for (size_t k = 0; k < sizeof times / sizeof times[0]; k++) {
        pr_motor_def def = k % 2 ? magnet_def() : series_def();
        def.rated_time_s = times[k];
        def.rated_rise_K = 80.0;
        const pr_motor m = derived(def);
        assert_near(rated_rise_K(&m, times[k]), 80.0, 0.01);
    }
}

static void test_heat_factor_heats_faster(void **unused)
{
    (void)unused;
    pr_motor_def def = series_def();
    const double plain = rated_rise_K(&(pr_motor[]){derived(def)}[0], 5.0);
    def.heat_factor = 1.5;
    const double hot = rated_rise_K(&(pr_motor[]){derived(def)}[0], 5.0);
    assert_near(hot / plain, 1.5, 0.02);
}

static void test_rest_cools_to_the_air_without_crossing(void **unused)
{
    (void)unused;
    const pr_motor m = derived(series_def());
    pr_motor_state s = {.armature_degC = 140.0, .case_degC = 50.0}, r;
    double before = s.armature_degC;
    for (int k = 0; k < 40000; k++) {
        pr_motor_rates(&m, &s, 0.0, 0.0, 0.0, 0.0, 10.0, &r);
        s.armature_degC += r.armature_degC;
        s.case_degC += r.case_degC;
        assert_true(s.armature_degC < before && s.armature_degC > s.case_degC);
        before = s.armature_degC;
    }
    assert_near(s.armature_degC, 10.0, 0.01);
    assert_near(s.case_degC, 10.0, 0.01);
}

static void test_contactor_has_hysteresis(void **unused)
{
    (void)unused;
    const pr_motor m = derived(series_def());
    assert_true(pr_motor_contactor_closes(&m, 6.0, 1));
    assert_false(pr_motor_contactor_closes(&m, 5.99, 1));
    assert_false(pr_motor_contactor_closes(&m, 7.99, 0));
    assert_true(pr_motor_contactor_closes(&m, 8.0, 0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_derive_refuses_a_definition_without_cookie),
        cmocka_unit_test(test_derive_refuses_a_forgotten_or_impossible_number),
        cmocka_unit_test(test_derive_says_when_no_motor_has_the_numbers),
        cmocka_unit_test(test_two_columns_are_met),
        cmocka_unit_test(test_saturation_gives_way_where_the_default_is_implausible),
        cmocka_unit_test(test_table_of_a_motor_gives_it_back),
        cmocka_unit_test(test_table_may_begin_under_load),
        cmocka_unit_test(test_table_with_given_saturation_keeps_it),
        cmocka_unit_test(test_table_fit_is_the_least_sum),
        cmocka_unit_test(test_derive_refuses_bad_tables),
        cmocka_unit_test(test_pull_and_amps_are_inverse_and_rising),
        cmocka_unit_test(test_speed_falls_with_pull_heat_and_low_volts),
        cmocka_unit_test(test_current_is_continuous_at_the_stall),
        cmocka_unit_test(test_current_slope_is_that_of_finite_differences),
        cmocka_unit_test(test_resistance_rises_with_copper_not_with_brushes),
        cmocka_unit_test(test_energy_closes),
        cmocka_unit_test(test_stalled_motor_heats_the_winding_only),
        cmocka_unit_test(test_rated_pull_rises_as_declared),
        cmocka_unit_test(test_heat_factor_heats_faster),
        cmocka_unit_test(test_rest_cools_to_the_air_without_crossing),
        cmocka_unit_test(test_contactor_has_hysteresis),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
