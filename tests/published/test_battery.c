/* Battery labels, cranking tests, cold and rest voltage against tests/published/battery.tsv. */
#include "battery_runs.h"

#include "physics/battery_law.h"
#include "support/published.h"

static void check_d(const char *format, int number, double got)
{
    char id[64];
    snprintf(id, sizeof id, format, number);
    pr_published_check(id, got);
}

static void test_label_is_met(void **unused)
{
    (void)unused;
    const pr_battery b = run_starter();
    pr_published_check("battery_20h_h", run_s(&b, 1.0, 25.0, 3.5, 10.5) / 3600.0);
    pr_published_check("battery_rc_min", run_s(&b, 1.0, 25.0, 25.0, 10.5) / 60.0);
    pr_published_check("battery_peukert_n", b.peukert_n);
    const int amps[] = {100, 200, 300};
    for (int k = 0; k < 3; k++)
        check_d("battery_peukert_%dA_min", amps[k], run_s(&b, 1.0, 25.0, amps[k], 10.5) / 60.0);
    pr_published_check("battery_cca_sae_V", run_volts(&b, 1.0, -18.0, 700.0, 30.0));
}

static void test_defaults(void **unused)
{
    (void)unused;
    pr_battery_def def = pr_battery_def_default();
    def.c20_Ah = 55.0;
    pr_published_check("battery_default_rc_55_min", run_derived(def).def.rc_min);
    def.c20_Ah = 70.0;
    pr_published_check("battery_ah_per_rc", 70.0 / run_derived(def).def.rc_min);
    def.c20_Ah = 60.0;
    const pr_battery b60 = run_derived(def);
    pr_published_check("battery_60_measured_h", run_s(&b60, 1.0, 25.0, 3.0, 10.5) / 3600.0);
    def.c20_Ah = 100.0;
    def.plates = PR_PLATES_THICK;
    const pr_battery thick = run_derived(def);
    pr_published_check("battery_tubular_3c_min", run_s(&thick, 1.0, 25.0, 300.0, 10.5) / 60.0);
    def.chemistry = PR_AGM;
    def.c20_Ah = 14.0;
    pr_published_check("battery_sw14_mass_kg", run_derived(def).def.mass_kg);
    def.c20_Ah = 7.58;
    pr_published_check("battery_sp75_mass_kg", run_derived(def).def.mass_kg);
    def.c20_Ah = 40.0;
    pr_published_check("battery_40_mass_kg", run_derived(def).def.mass_kg);
}

static void test_load_tests(void **unused)
{
    (void)unused;
    const pr_battery b = run_starter();
    pr_published_check("battery_load_test_21_V", run_volts(&b, 1.0, 21.0, 350.0, 15.0));
    pr_published_check("battery_load_test_10_V", run_volts(&b, 1.0, 10.0, 350.0, 15.0));
    pr_published_check("battery_load_test_m1_V", run_volts(&b, 1.0, -1.0, 350.0, 15.0));
    pr_published_check("battery_load_test_m12_V", run_volts(&b, 1.0, -12.0, 350.0, 15.0));
    pr_published_check("battery_load_test_m18_V", run_volts(&b, 1.0, -18.0, 350.0, 15.0));
    pr_published_check("battery_load_test_75_V", run_volts(&b, 0.75, 20.0, 350.0, 15.0));
}

static void test_european_cranking(void **unused)
{
    (void)unused;
    pr_battery_def def = pr_battery_def_default();
    def.c20_Ah = 70.0;
    def.cca_A = 680.0;
    def.cca_standard = PR_CCA_EN;
    const pr_battery b = run_derived(def);
    const double reduced_A = 0.6 * def.cca_A;
    pr_published_check("battery_cca_en_V", run_volts(&b, 1.0, -18.0, def.cca_A, 10.0));
    pr_battery_state s = pr_battery_state_rested(&b, 1.0, -18.0);
    pr_battery_advance_constant(&b, &s, -def.cca_A, 10.0);
    pr_battery_advance_constant(&b, &s, 0.0, 10.0);
    double seconds = PR_NAN;
    assert_int_equal(pr_battery_discharge_time_s(&b, s, -reduced_A, 6.0, 1e4, &seconds, NULL),
                     PR_OK);
    pr_published_check("battery_cca_en_6V_s", seconds);
    pr_published_check("battery_cca_din_V", run_volts(&b, 1.0, -18.0, reduced_A, 30.0));
    pr_published_check("battery_cca_din_6V_s", run_s(&b, 1.0, -18.0, reduced_A, 6.0));
}

static void test_cranking_power_in_the_cold(void **unused)
{
    (void)unused;
    const pr_battery b = run_starter();
    const double warm = run_cranking_amps(&b, 27.0), zero = run_cranking_amps(&b, 0.0),
                 cold = run_cranking_amps(&b, -18.0);
    pr_published_check("battery_cranking_0_pct", 100.0 * zero / warm);
    pr_published_check("battery_cranking_m18_pct", 100.0 * cold / warm);
    pr_published_check("battery_mca_ratio", zero / cold);
    pr_published_check("battery_ca_ratio", zero / cold);
    pr_published_check("battery_ca_ratio_range", zero / cold);
}

/* Capacity at a temperature over that at 25 degC, at the current that empties it in `seconds`. */
static double capacity_frac(const pr_battery *b, double seconds, double T_degC)
{
    const double amps = run_amps_for_s(b, seconds);
    return run_s(b, 1.0, T_degC, amps, 10.5) / run_s(b, 1.0, 25.0, amps, 10.5);
}

static pr_battery agm(double c20_Ah)
{
    pr_battery_def def = pr_battery_def_default();
    def.chemistry = PR_AGM;
    def.plates = PR_PLATES_THICK;
    def.c20_Ah = c20_Ah;
    return run_derived(def);
}

static void test_capacity_in_the_cold(void **unused)
{
    (void)unused;
    const pr_battery b55 = agm(55.0), b14 = agm(14.0), b40 = agm(40.0), starter = run_starter();
    pr_published_check("battery_capacity_40", capacity_frac(&b55, 36000.0, 40.0));
    pr_published_check("battery_capacity_0", capacity_frac(&b55, 36000.0, 0.0));
    pr_published_check("battery_capacity_m15", capacity_frac(&b55, 36000.0, -15.0));
    pr_published_check("battery_sw14_capacity_40", capacity_frac(&b14, 72000.0, 40.0));
    pr_published_check("battery_sw14_capacity_0", capacity_frac(&b14, 72000.0, 0.0));
    pr_published_check("battery_sw14_capacity_m15", capacity_frac(&b14, 72000.0, -15.0));
    pr_published_check("battery_40_capacity_30", capacity_frac(&b40, 72000.0, 30.0));
    pr_published_check("battery_40_capacity_10", capacity_frac(&b40, 72000.0, 10.0));
    pr_published_check("battery_40_capacity_m10", capacity_frac(&b40, 72000.0, -10.0));
    const int degC[] = {40, 10, 0};
    for (int k = 0; k < 3; k++) {
        check_d("battery_2h_capacity_%d", degC[k], capacity_frac(&starter, 7200.0, degC[k]));
        check_d("battery_15min_capacity_%d", degC[k], capacity_frac(&starter, 900.0, degC[k]));
    }
}

static void test_lithium_in_the_cold(void **unused)
{
    (void)unused;
    pr_battery_def def = pr_battery_def_default();
    def.chemistry = PR_LIFEPO4;
    def.c20_Ah = 300.0;
    const pr_battery b = run_derived(def);
    const double third = run_s(&b, 1.0, 25.0, 100.0, 10.0);
    pr_published_check("battery_lfp_capacity_0", run_s(&b, 1.0, 0.0, 100.0, 10.0) / third);
    pr_published_check("battery_lfp_capacity_m20", run_s(&b, 1.0, -20.0, 100.0, 10.0) / third);
    pr_published_check("battery_lfp_capacity_m30",
                       run_s(&b, 1.0, -30.0, 300.0, 10.0) / run_s(&b, 1.0, 25.0, 300.0, 10.0));
    pr_published_check("battery_lfp_r0_mohm", 1e3 * b.r0_share * b.r25_ohm);
}

/* Acid of the flooded table: % charge, specific gravity in thousandths, mass fraction at 15 degC.
 */
static const double ACID[5][3] = {
    {100, 1265, 0.352}, {75, 1225, 0.304}, {50, 1190, 0.261}, {25, 1155, 0.216}, {0, 1120, 0.170}};

static void test_rest_voltage(void **unused)
{
    (void)unused;
    const pr_battery flooded = run_starter();
    for (int k = 0; k < 5; k++) {
        const double frac = ACID[k][2], molality = frac / (0.09808 * (1.0 - frac));
        const int percent = (int)ACID[k][0];
        check_d("battery_rest_flooded_%d_V", percent,
                pr_battery_rest_V(&flooded, percent / 100.0, 25.0));
        check_d("battery_bode_%d_V", (int)ACID[k][1], pr_lead_acid_emf_V(molality));
        check_d("battery_bode_vs_table_%d_V", percent, pr_lead_acid_emf_V(molality));
    }
    pr_published_check("battery_rest_cold_V", pr_battery_rest_V(&flooded, 1.0, -1.1));

    pr_battery_def def = pr_battery_def_default();
    def.c20_Ah = 100.0;
    def.chemistry = PR_GEL;
    const pr_battery gel = run_derived(def);
    const int starved[] = {100, 80, 50, 30, 20, 10};
    for (int k = 0; k < 6; k++)
        check_d("battery_rest_starved_%d_V", starved[k],
                pr_battery_rest_V(&gel, starved[k] / 100.0, 25.0));
    def.chemistry = PR_LIFEPO4;
    const pr_battery lithium = run_derived(def);
    const int full[] = {74, 50, 25, 10};
    for (int k = 0; k < 4; k++)
        check_d("battery_rest_lfp_%d_V", full[k],
                pr_battery_rest_V(&lithium, full[k] / 100.0, 25.0));
}

static void test_freezing(void **unused)
{
    (void)unused;
    const pr_battery b = run_starter();
    const int percent[] = {100, 75, 50, 25};
    for (int k = 0; k < 4; k++)
        check_d("battery_freezing_%d_degC", percent[k],
                pr_battery_freezing_degC(&b, percent[k] / 100.0));
    pr_published_check("battery_freezing_50_other", pr_battery_freezing_degC(&b, 0.5));
}

/* Three runs of the textbook model: no resistance, ends when the first well is empty. */
static void test_kinetic_ratios(void **unused)
{
    (void)unused;
    pr_label_fit fit = {.chemistry = pr_battery_chemistry_of(PR_FLOODED),
                        .third_must_hold = true,
                        .n = 3,
                        .cranking_A = PR_NAN,
                        .r0_share = 0.75,
                        .tau_s = 40.0,
                        .r25_ohm = 1e-12};
    const double hours[3] = {20.0, 10.0, 1.0}, charge[3] = {1.0, 0.93, 0.60};
    for (int k = 0; k < 3; k++)
        fit.point[k] = (pr_run_point){charge[k] / hours[k], hours[k] * 3600.0, 10.5, PR_NAN};
    assert_int_equal(pr_table_init(&fit.rest_V, PR_TABLE_LINEAR, 2, (double[]){0.0, 1.0},
                                   (double[]){10.5, 12.5}),
                     PR_OK);
    assert_int_equal(pr_battery_fit(&fit), PR_OK);
    pr_published_check("battery_kinetic_k_per_h", fit.k_per_s * 3600.0);
    pr_published_check("battery_kinetic_c", 1.0 / (1.0 + fit.x));
}

static void test_second_pull(void **unused)
{
    (void)unused;
    const pr_battery b = run_starter();
    pr_battery_state s = pr_battery_state_rested(&b, 1.0, 25.0);
    double first = PR_NAN, second = PR_NAN;
    assert_int_equal(pr_battery_discharge_time_s(&b, s, -300.0, 10.5, 1e5, &first, &s), PR_OK);
    pr_battery_advance_constant(&b, &s, 0.0, 3600.0);
    assert_int_equal(pr_battery_discharge_time_s(&b, s, -300.0, 10.5, 1e5, &second, &s), PR_OK);
    pr_published_check("battery_second_pull_s", second);
    pr_published_check("battery_second_pull_soc",
                       pr_battery_soc_frac(&b, &s) - (1.0 - 300.0 * (first + second) / b.qmax_As));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_label_is_met),
        cmocka_unit_test(test_defaults),
        cmocka_unit_test(test_load_tests),
        cmocka_unit_test(test_european_cranking),
        cmocka_unit_test(test_cranking_power_in_the_cold),
        cmocka_unit_test(test_capacity_in_the_cold),
        cmocka_unit_test(test_lithium_in_the_cold),
        cmocka_unit_test(test_rest_voltage),
        cmocka_unit_test(test_freezing),
        cmocka_unit_test(test_kinetic_ratios),
        cmocka_unit_test(test_second_pull),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
