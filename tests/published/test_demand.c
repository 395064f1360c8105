/* Pull demand against tests/published/demand.tsv. Weights may be in any unit of force. */
#include "physics/demand.h"
#include "support/check.h"
#include "support/published.h"

#include <math.h>
#include <stdio.h>

static const double DEG = 3.14159265358979323846 / 180.0;

/* One metre of way without margin. */
static pr_demand_def way(double weight, double fraction, double slope_rad)
{
    pr_demand_def def = pr_demand_def_default();
    def.weight_N = weight;
    def.margin_frac = 0.0;
    def.n_segments = 1;
    def.segments[0] = (pr_demand_segment){
        .length_m = 1.0, .slope_rad = slope_rad, .surface_frac = {fraction, fraction, fraction}};
    return def;
}

static double pull(const pr_demand_def *def, pr_case which)
{
    assert_int_equal(pr_demand_check(def), PR_OK);
    return pr_demand_resistance_N(def, 0.5, which);
}

static double likely(pr_demand_def def)
{
    return pull(&def, PR_CASE_LIKELY);
}

static void test_surfaces(void **unused)
{
    (void)unused;
    pr_published_check("demand_hard_tenth", likely(way(4000.0, 0.1, 0.0)));
    pr_published_check("demand_grass_third", likely(way(4000.0, 0.33, 0.0)));
    pr_published_check("demand_wet_sand_kg", likely(way(2400.0, 1.0 / 6.0, 0.0)));
}

static void test_trade_fractions_against_handbooks(void **unused)
{
    (void)unused;
    pr_published_check("demand_handbook_sand", likely(way(1.0, 1.0 / 4.0, 0.0)));
    pr_published_check("demand_handbook_sand_cars", likely(way(1.0, 1.0 / 4.0, 0.0)));
    pr_published_check("demand_handbook_gravel", likely(way(1.0, 1.0 / 4.0, 0.0)));
    pr_published_check("demand_handbook_soil", likely(way(1.0, 1.0 / 7.0, 0.0)));
    pr_published_check("demand_handbook_road", likely(way(1.0, 1.0 / 25.0, 0.0)));
}

static void test_mire(void **unused)
{
    (void)unused;
    const char *names[] = {
        [PR_MIRE_WHEEL] = "wheel", [PR_MIRE_HUB] = "hub", [PR_MIRE_BODY] = "body"};
    for (pr_mire mire = PR_MIRE_WHEEL; mire <= PR_MIRE_BODY; mire++) {
        char id[64];
        pr_demand_def def = way(11200.0, 0.0, 0.0);
        def.segments[0].mire = mire;
        def.mire_method = PR_MIRE_ARMY;
        snprintf(id, sizeof id, "demand_mire_army_%s", names[mire]);
        pr_published_check(id, likely(def));
        def.weight_N = 1.0;
        def.mire_method = PR_MIRE_CIVIL;
        snprintf(id, sizeof id, "demand_mire_civil_%s", names[mire]);
        pr_published_check(id, likely(def));
    }
}

static void test_slopes(void **unused)
{
    (void)unused;
    for (int grade = 20; grade <= 100; grade += 20) {
        char id[64];
        snprintf(id, sizeof id, "demand_grade_%d", grade);
        pr_published_check(id, likely(way(1.0, 0.0, atan(grade / 100.0))));
    }
    pr_published_check("demand_slope_30", likely(way(5700.0, 0.0, 30.0 * DEG)));
    pr_published_check("demand_slope_15", likely(way(5700.0, 0.0, 15.0 * DEG)));
    pr_published_check("demand_slope_60pct", likely(way(6000.0, 0.0, atan(0.6))));
}

static void test_sums(void **unused)
{
    (void)unused;
    /* the sheet's slope table says .17 for 10 degrees */
    pr_demand_def def = way(20000.0, 0.0, asin(0.17));
    def.segments[0].mire = PR_MIRE_HUB;
    def.damage_frac = 0.67;
    pr_published_check("demand_sheet_sum", likely(def));
    def.margin_frac = 0.20;
    pr_published_check("demand_sheet_margin", likely(def));
    def = way(5700.0, 0.0, 15.0 * DEG);
    def.segments[0].mire = PR_MIRE_BODY;
    pr_published_check("demand_body_deep_slope", likely(def));
    def.segments[0].slope_rad = 0.0;
    pr_published_check("demand_body_deep_high", pull(&def, PR_CASE_HIGH));
}

static void test_rolling_up_a_grade(void **unused)
{
    (void)unused;
    const double large[][2] = {{5, 6670},  {10, 5020}, {20, 3400}, {30, 2610},
                               {50, 1860}, {70, 1530}, {100, 1290}};
    for (size_t i = 0; i < sizeof large / sizeof large[0]; i++) {
        char id[64];
        snprintf(id, sizeof id, "demand_rolling10_%.0f", large[i][0]);
        pr_published_check(id, likely(way(large[i][1], 0.10, atan(large[i][0] / 100.0))));
    }
    const double small[][2] = {{5, 10000}, {10, 7500}, {20, 5100},
                               {30, 3900}, {50, 2700}, {70, 2200}};
    for (size_t i = 0; i < sizeof small / sizeof small[0]; i++) {
        char id[64];
        snprintf(id, sizeof id, "demand_rolling15_%.0f", small[i][0]);
        pr_published_check(id, likely(way(small[i][1], 0.10, atan(small[i][0] / 100.0))));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_surfaces), cmocka_unit_test(test_trade_fractions_against_handbooks),
        cmocka_unit_test(test_mire),     cmocka_unit_test(test_slopes),
        cmocka_unit_test(test_sums),     cmocka_unit_test(test_rolling_up_a_grade),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
