/* Rigging and drum against tests/published/rigging.tsv. */
#include "physics/rigging.h"
#include "support/check.h"
#include "support/published.h"

#include <math.h>
#include <stdio.h>

static const double PI = 3.14159265358979323846, FT_m = 0.3048;

static void check_army(const char *name, double resistance, double capacity)
{
    char id[64];
    pr_rig_def rig = pr_rig_def_default();
    rig.parts = pr_rig_parts_needed(&rig, resistance, capacity);
    snprintf(id, sizeof id, "rigging_army_%s_parts", name);
    pr_published_check(id, rig.parts);
    snprintf(id, sizeof id, "rigging_army_%s_tackle", name);
    pr_published_check(id, pr_rig_tackle_resistance_N(&rig, resistance));
    snprintf(id, sizeof id, "rigging_army_%s_fall", name);
    pr_published_check(id, pr_rig_fall_line_N(&rig, resistance));
}

static void test_army_method(void **unused)
{
    (void)unused;
    check_army("6000_2", 12000.0, 9500.0);
    check_army("6000_3", 18000.0, 8000.0);
    check_army("trap", 18000.0, 6100.0);
    pr_rig_def rig = pr_rig_def_default();
    rig.parts = 3;
    pr_published_check("rigging_army_trap_3", pr_rig_fall_line_N(&rig, 18000.0));
}

static pr_rig_def efficient(double efficiency, int parts, int change_direction_blocks)
{
    pr_rig_def rig = pr_rig_def_default();
    rig.friction_per_sheave_frac = 0.0;
    rig.sheave_efficiency = efficiency;
    rig.parts = parts;
    rig.change_direction_blocks = change_direction_blocks;
    return rig;
}

static void test_change_of_direction(void **unused)
{
    (void)unused;
    const pr_rig_def rig = efficient(0.90, 1, 1);
    pr_published_check("rigging_change_of_direction", pr_rig_fall_line_N(&rig, 0.52 * 8580.0));
}

static void test_block_load(void **unused)
{
    (void)unused;
    const int angles[] = {0, 30, 40, 50, 60, 80, 90, 100, 120, 135, 150, 170, 180};
    for (size_t i = 0; i < sizeof angles / sizeof angles[0]; i++) {
        char id[64];
        snprintf(id, sizeof id, "rigging_block_%d", angles[i]);
        pr_published_check(id, pr_rig_block_load_N(1.0, angles[i]));
    }
}

/* The handbook counts the sheave that the lead line leaves over: one that only turns it. */
static void test_lead_line_factors(void **unused)
{
    (void)unused;
    const pr_rig_def two = efficient(1.0 / 1.09, 2, 1), three = efficient(1.0 / 1.09, 3, 1);
    const pr_rig_def four = efficient(1.0 / 1.09, 4, 1), extra = efficient(1.0 / 1.09, 4, 3);
    pr_published_check("rigging_lead_line_2", pr_rig_fall_line_N(&two, 1.0));
    pr_published_check("rigging_lead_line_3", pr_rig_fall_line_N(&three, 1.0));
    pr_published_check("rigging_lead_line_4", pr_rig_fall_line_N(&four, 1.0));
    pr_published_check("rigging_lead_line_4_extra", pr_rig_fall_line_N(&extra, 1.0));
    pr_published_check("rigging_lead_line_6000", pr_rig_fall_line_N(&extra, 6000.0));
}

static void test_ratio_tables(void **unused)
{
    (void)unused;
    for (int parts = 2; parts <= 4; parts++) {
        char id[64];
        const pr_rig_def bronze = efficient(0.96, parts, 1), roller = efficient(0.98, parts, 1);
        snprintf(id, sizeof id, "rigging_ratio_bronze_%d", parts);
        pr_published_check(id, 1.0 / pr_rig_fall_line_N(&bronze, 1.0));
        snprintf(id, sizeof id, "rigging_ratio_roller_%d", parts);
        pr_published_check(id, 1.0 / pr_rig_fall_line_N(&roller, 1.0));
    }
}

static pr_drum derived(double drum_m, double rope_m, double wraps, double nesting,
                       double rope_length_m)
{
    pr_drum_def def = pr_drum_def_default();
    def.drum_m = drum_m;
    def.rope_m = rope_m;
    def.wraps_per_layer = wraps;
    def.nesting = nesting;
    def.rope_length_m = rope_length_m;
    pr_drum drum;
    assert_int_equal(pr_drum_derive(&def, &drum), PR_OK);
    return drum;
}

/* A drum, wrap on wrap, whose second layer pulls `second` when the first pulls `first`, and takes
 * `length_m` of rope on the first. */
static pr_drum from_two_layers(double first, double second, double length_m)
{
    const double pitch_m = 0.1; /* any: only ratios count */
    const double rope_m = 0.5 * pitch_m * (first / second - 1.0);
    const double wraps = length_m / (PI * pitch_m);
    return derived(pitch_m - rope_m, rope_m, wraps, 1.0, 6.5 * length_m);
}

static void check_pulls(const char *prefix, const pr_drum *drum, double first, int from, int to)
{
    for (int n = from; n <= to; n++) {
        char id[64];
        snprintf(id, sizeof id, "%s_pull_%d", prefix, n);
        pr_published_check(id, first / pr_drum_ratio(drum, n));
    }
}

static void check_rope(const char *prefix, const pr_drum *drum, double unit_m, int from, int to)
{
    for (int n = from; n <= to; n++) {
        char id[64];
        snprintf(id, sizeof id, "%s_rope_%d", prefix, n);
        pr_published_check(id, drum->layer_end_m[n - 1] / unit_m);
    }
}

static void test_drum_35t(void **unused)
{
    (void)unused;
    pr_drum_def def = pr_drum_def_default();
    def.drum_m = 0.229;
    def.rope_m = 0.029;
    def.width_m = 0.508;
    def.nesting = 0.866;
    def.rope_length_m = 70.0;
    pr_drum drum;
    assert_int_equal(pr_drum_derive(&def, &drum), PR_OK);
    pr_published_check("drum_35t_wraps", drum.wraps_per_layer);
    check_pulls("drum_35t", &drum, 35000.0, 2, 4);
    check_rope("drum_35t", &drum, 1.0, 1, 4);
    pr_published_check("drum_35t_mean",
                       500.0 * (drum.layer_diameter_m[0] + drum.layer_diameter_m[3]));
    pr_published_check("drum_35t_full", 1000.0 * (drum.layer_diameter_m[3] + def.rope_m));
}

static void test_drums_from_two_layers(void **unused)
{
    (void)unused;
    const pr_drum army = from_two_layers(20000.0, 18173.0, 10.0);
    check_pulls("drum_20000", &army, 20000.0, 3, 5);
    const pr_drum light = from_two_layers(8000.0, 6777.0, 10.0);
    check_pulls("drum_8000", &light, 8000.0, 3, 4);
    const pr_drum hydraulic = from_two_layers(20000.0, 16600.0, 35.0 * FT_m);
    check_pulls("drum_h20000", &hydraulic, 20000.0, 3, 5);
    check_rope("drum_h20000", &hydraulic, FT_m, 2, 5);
    for (int n = 2; n <= 5; n++) {
        char id[64];
        snprintf(id, sizeof id, "drum_h20000_speed_%d", n);
        pr_published_check(id, 22.0 * pr_drum_ratio(&hydraulic, n));
    }
}

static void test_drums_of_the_class(void **unused)
{
    (void)unused;
    const double drum_m = 0.064, rope_m = 0.008, first_turn_m = PI * (drum_m + rope_m);
    const pr_drum small = derived(drum_m, rope_m, 6.0 / first_turn_m, 1.0, 24.0);
    check_pulls("drum_3629", &small, 3629.0, 2, 4);
    check_rope("drum_3629", &small, 1.0, 2, 3);
    const pr_drum large = derived(drum_m, rope_m, 15.0 * FT_m / first_turn_m, 1.0, 105.0 * FT_m);
    check_pulls("drum_9500", &large, 9500.0, 2, 5);
    check_rope("drum_9500", &large, FT_m, 2, 4);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_army_method),
        cmocka_unit_test(test_change_of_direction),
        cmocka_unit_test(test_block_load),
        cmocka_unit_test(test_lead_line_factors),
        cmocka_unit_test(test_ratio_tables),
        cmocka_unit_test(test_drum_35t),
        cmocka_unit_test(test_drums_from_two_layers),
        cmocka_unit_test(test_drums_of_the_class),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
