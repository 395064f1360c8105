/* Battery label to parameters: what must be met, what is refused, what stays the same under
 * scaling. */
#include "base/number.h"
#include "physics/battery.h"
#include "support/check.h"

#include <math.h>

static pr_battery_def starter_def(void)
{
    pr_battery_def def = pr_battery_def_default();
    def.c20_Ah = 70.0;
    def.rc_min = 120.0;
    def.cca_A = 700.0;
    return def;
}

static pr_battery derived(pr_battery_def def)
{
    pr_battery battery;
    assert_int_equal(pr_battery_derive(&def, &battery), PR_OK);
    return battery;
}

static double run_s(const pr_battery *b, double amps_A, double end_V)
{
    double seconds = PR_NAN;
    assert_int_equal(pr_battery_discharge_time_s(b, pr_battery_state_rested(b, 1.0, 25.0), -amps_A,
                                                 end_V, 1e8, &seconds, NULL),
                     PR_OK);
    return seconds;
}

/* 20 h and RC are the definition of the label (SAE J537, IEC 60095-1); 1 % is what we promise. */
static void test_derive_meets_the_label_for_every_chemistry_and_plates(void **unused)
{
    (void)unused;
    const double labels[][2] = {{20, PR_NAN}, {45, 70}, {70, PR_NAN}, {95, 160}, {110, 200}};
    for (int chemistry = 0; chemistry < PR_CHEMISTRY_COUNT; chemistry++)
        for (int plates = PR_PLATES_THIN; plates <= PR_PLATES_THICK; plates++)
            for (size_t k = 0; k < sizeof labels / sizeof labels[0]; k++) {
                pr_battery_def def = pr_battery_def_default();
                def.chemistry = (pr_chemistry)chemistry;
                def.plates = (pr_plates)plates;
                def.c20_Ah = labels[k][0];
                if (chemistry != PR_LIFEPO4)
                    def.rc_min = labels[k][1];
                const pr_battery b = derived(def);
                assert_near(run_s(&b, def.c20_Ah / 20.0, 10.5), 72000.0, 720.0);
                assert_near(run_s(&b, 25.0, 10.5), 60.0 * b.def.rc_min, 0.6 * b.def.rc_min);
                assert_true(b.c_frac > 0.0 && b.c_frac < 1.0 && b.k_charge_per_s >= b.k_per_s);
                assert_true(b.qmax_As > 3600.0 * def.c20_Ah);
            }
}

static void test_derive_meets_the_cranking_test(void **unused)
{
    (void)unused;
    const pr_battery sae = derived(starter_def());
    pr_battery_state cold = pr_battery_state_rested(&sae, 1.0, -18.0);
    /* SAE J537: 30 s, 7.2 V */
    assert_near(pr_battery_voltage_after_V(&sae, &cold, -700.0, 30.0), 7.2, 1e-8);

    pr_battery_def def = starter_def();
    def.cca_standard = PR_CCA_EN;
    const pr_battery en = derived(def);
    cold = pr_battery_state_rested(&en, 1.0, -18.0);
    /* EN 50342-1: 10 s, 7.5 V */
    assert_near(pr_battery_voltage_after_V(&en, &cold, -700.0, 10.0), 7.5, 1e-8);
}

static void test_derive_reports_the_amps_of_a_given_resistance(void **unused)
{
    (void)unused;
    const pr_battery from_amps = derived(starter_def());
    pr_battery_def def = starter_def();
    def.cca_A = PR_NAN;
    def.resistance_ohm = from_amps.def.resistance_ohm;
    const pr_battery from_ohms = derived(def);
    assert_near(from_ohms.def.cca_A, 700.0, 1e-3);
    assert_near(from_ohms.r25_ohm, from_amps.r25_ohm, 1e-15);
}

static void test_derive_takes_the_users_high_rate_point(void **unused)
{
    (void)unused;
    pr_battery_def def = starter_def();
    def.high_rate_A = 250.0;
    def.high_rate_s = 420.0;
    pr_battery b = derived(def);
    assert_near(run_s(&b, 250.0, 10.5), 420.0, 0.5);
    assert_near(run_s(&b, 25.0, 10.5), 7200.0, 1.0);
    def.high_rate_factor = 1.1;
    b = derived(def);
    assert_near(run_s(&b, 250.0, 10.5), 462.0, 0.5);
    /* more charge in 6 min than the label has in an hour */
    def.high_rate_factor = 1.0;
    def.high_rate_s = 1500.0;
    assert_int_equal(pr_battery_derive(&def, &b), PR_ERR_NO_SOLUTION);
}

static void test_high_rate_factor_scales_the_high_rate_end(void **unused)
{
    (void)unused;
    pr_battery_def def = starter_def();
    def.high_rate_factor = 0.9;
    const pr_battery low = derived(def);
    def.high_rate_factor = 1.0;
    const pr_battery mid = derived(def);
    assert_true(run_s(&low, 200.0, 10.5) < 0.95 * run_s(&mid, 200.0, 10.5));
    assert_near(run_s(&low, 25.0, 10.5), 7200.0, 1.0);
}

static pr_battery_def table_def(double size)
{
    /* a table of our own, exponent 1.2; not a check against anything */
    const double hours[] = {0.25, 0.5, 1, 2, 5, 10, 20};
    pr_battery_def def = pr_battery_def_default();
    def.chemistry = PR_AGM;
    def.plates = PR_PLATES_THICK;
    def.c20_Ah = 60.0 * size;
    def.resistance_ohm = 0.006 / size;
    def.n_points = 7;
    for (int k = 0; k < 7; k++) {
        def.point_A[k] = 3.0 * size * pow(20.0 / hours[k], 1.0 / 1.2);
        def.point_s[k] = 3600.0 * hours[k];
    }
    return def;
}

static void test_derive_fits_a_makers_table(void **unused)
{
    (void)unused;
    const pr_battery b = derived(table_def(1.0));
    assert_true(b.fit_rms_frac < 0.06);
    double sum = 0.0;
    for (int k = 0; k < 7; k++) {
        const double error = run_s(&b, b.def.point_A[k], 10.5) / b.def.point_s[k] - 1.0;
        sum += error * error;
    }
    assert_near(b.fit_rms_frac, sqrt(sum / 7.0), 1e-9);
    assert_near(run_s(&b, 25.0, 10.5), 60.0 * b.def.rc_min, 1e-3);
}

/* A table and a resistance say all there is of the size: everything else must scale with it. */
static void test_twice_the_table_is_twice_the_battery(void **unused)
{
    (void)unused;
    const pr_battery one = derived(table_def(1.0)), two = derived(table_def(2.0));
    assert_near(two.qmax_As / one.qmax_As, 2.0, 1e-6);
    assert_near(two.r25_ohm * 2.0 / one.r25_ohm, 1.0, 1e-6);
    assert_near(two.c_frac, one.c_frac, 1e-6);
    assert_near(two.accept_ref_A / one.accept_ref_A, 2.0, 1e-6);
    assert_near(two.gas_ref_A / one.gas_ref_A, 2.0, 1e-6);
    assert_near(two.heat_capacity_J_per_K / one.heat_capacity_J_per_K, 2.0, 1e-6);
    assert_near(two.case_conductance_W_per_K / one.case_conductance_W_per_K, 2.0, 1e-6);
    const pr_battery_state s1 = pr_battery_state_rested(&one, 0.7, 5.0);
    const pr_battery_state s2 = pr_battery_state_rested(&two, 0.7, 5.0);
    pr_battery_branch b1, b2;
    pr_battery_branch_at(&one, &s1, false, &b1);
    pr_battery_branch_at(&two, &s2, false, &b2);
    for (double v = 9.0; v < 15.5; v += 0.25)
        assert_near(pr_battery_branch_current_A(&b2, v, NULL),
                    2.0 * pr_battery_branch_current_A(&b1, v, NULL), 1e-3);
}

static void test_health_comes_off_the_new_battery(void **unused)
{
    (void)unused;
    pr_battery_def def = starter_def();
    const pr_battery new = derived(def);
    def.health_capacity_frac = 0.6;
    def.health_resistance_factor = 1.5;
    const pr_battery worn = derived(def);
    assert_near(worn.qmax_As, 0.6 * new.qmax_As, 1e-6);
    assert_near(worn.r25_ohm, 1.5 * new.r25_ohm, 1e-12);
    assert_near(worn.accept_ref_A, 0.6 * new.accept_ref_A, 1e-9);
    assert_true(run_s(&worn, 25.0, 10.5) < 0.6 * 7200.0);
}

static void test_effective_acceptance_is_alpha(void **unused)
{
    (void)unused;
    for (double ratio = 1.5; ratio < 2.1; ratio += 0.25) {
        pr_battery_def def = starter_def();
        def.surface_acceptance_ratio = ratio;
        const pr_battery b = derived(def);
        const double surface_per_h = b.accept_ref_A / b.qmax_As * 3600.0;
        const double well_h = (1.0 - b.c_frac) / b.c_frac / (b.k_charge_per_s * 3600.0);
        /* flooded 0.8 x 1.1 per hour: AGM measurement at 29 degC, see docs */
        assert_near(1.0 / (1.0 / surface_per_h + well_h), 0.88, 1e-9);
    }
}

static void test_derive_names_the_defaults_it_used(void **unused)
{
    (void)unused;
    pr_battery_def def = pr_battery_def_default();
    for (int chemistry = 0; chemistry < PR_CHEMISTRY_COUNT; chemistry++) {
        def.chemistry = (pr_chemistry)chemistry;
        def.c20_Ah = 80.0;
        const pr_battery b = derived(def);
        assert_true(isfinite(b.def.rc_min) && isfinite(b.def.cca_A));
        assert_true(isfinite(b.def.resistance_ohm) && isfinite(b.def.mass_kg));
        assert_true(isfinite(b.def.case_conductance_W_per_K) && isfinite(b.def.bms_low_V));
        assert_true(isnan(b.fit_rms_frac));
    }
}

typedef void (*spoiler)(pr_battery_def *def);

static void assert_refused(spoiler spoil, pr_status expected)
{
    pr_battery_def def = starter_def();
    pr_battery b;
    assert_int_equal(pr_battery_derive(&def, &b), PR_OK);
    spoil(&def);
    assert_int_equal(pr_battery_derive(&def, &b), expected);
}

#define SPOIL(name, statement)                                                                     \
    static void name(pr_battery_def *def)                                                          \
    {                                                                                              \
        statement;                                                                                 \
    }
SPOIL(no_cookie, def->cookie = 0)
SPOIL(no_capacity, def->c20_Ah = PR_NAN)
SPOIL(small_capacity, def->c20_Ah = 0.5)
SPOIL(large_capacity, def->c20_Ah = 500.0)
SPOIL(infinite_capacity, def->c20_Ah = PR_INF)
SPOIL(odd_chemistry, def->chemistry = (pr_chemistry)17)
SPOIL(odd_plates, def->plates = (pr_plates)3)
SPOIL(odd_standard, def->cca_standard = (pr_cranking_standard)9)
SPOIL(long_reserve, def->rc_min = 169.0) /* 25 A for 169 min is 70.4 Ah */
SPOIL(short_reserve, def->rc_min = 40.0)
SPOIL(negative_reserve, def->rc_min = -1.0)
SPOIL(small_amps, def->cca_A = 1.0)
SPOIL(half_a_point, def->high_rate_A = 200.0)
SPOIL(bad_health, def->health_capacity_frac = 1.2)
SPOIL(bad_resistance_health, def->health_resistance_factor = 0.5)
SPOIL(bad_ratio, def->surface_acceptance_ratio = 1.0)
SPOIL(bad_factor, def->high_rate_factor = 2.0)
SPOIL(bad_acceptance, def->acceptance_factor = PR_NAN)
SPOIL(many_points, def->n_points = PR_BATTERY_POINTS_MAX + 1)
SPOIL(empty_points, def->n_points = 3; def->point_A[0] = PR_NAN)
SPOIL(bad_end, def->points_end_V = 12.0)
SPOIL(bad_mass, def->mass_kg = -3.0)
SPOIL(huge_resistance, def->resistance_ohm = 0.1)

static void test_derive_refuses_what_cannot_be(void **unused)
{
    (void)unused;
    const spoiler out_of_range[] = {
        no_cookie,        no_capacity, small_capacity, large_capacity, infinite_capacity,
        odd_chemistry,    odd_plates,  odd_standard,   long_reserve,   short_reserve,
        negative_reserve, small_amps,  half_a_point,   bad_health,     bad_resistance_health,
        bad_ratio,        bad_factor,  bad_acceptance, many_points,    empty_points,
        bad_end,          bad_mass};
    for (size_t k = 0; k < sizeof out_of_range / sizeof out_of_range[0]; k++)
        assert_refused(out_of_range[k], PR_ERR_RANGE);
    /* 25 A through 0.13 ohm is below 10.5 V at once: no battery has this RC */
    assert_refused(huge_resistance, PR_ERR_NO_SOLUTION);
}

static void test_derive_needs_three_points_in_all(void **unused)
{
    (void)unused;
    pr_battery_def def = table_def(1.0);
    def.n_points = 1;
    pr_battery b;
    assert_int_equal(pr_battery_derive(&def, &b), PR_ERR_RANGE);
    def.rc_min = 90.0; /* 20 h, RC and the one point */
    assert_int_equal(pr_battery_derive(&def, &b), PR_OK);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_derive_meets_the_label_for_every_chemistry_and_plates),
        cmocka_unit_test(test_derive_meets_the_cranking_test),
        cmocka_unit_test(test_derive_reports_the_amps_of_a_given_resistance),
        cmocka_unit_test(test_derive_takes_the_users_high_rate_point),
        cmocka_unit_test(test_high_rate_factor_scales_the_high_rate_end),
        cmocka_unit_test(test_derive_fits_a_makers_table),
        cmocka_unit_test(test_twice_the_table_is_twice_the_battery),
        cmocka_unit_test(test_health_comes_off_the_new_battery),
        cmocka_unit_test(test_effective_acceptance_is_alpha),
        cmocka_unit_test(test_derive_names_the_defaults_it_used),
        cmocka_unit_test(test_derive_refuses_what_cannot_be),
        cmocka_unit_test(test_derive_needs_three_points_in_all),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
