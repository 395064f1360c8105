/* Rigging and drum: layers, rope, tackle, errors. */
#include "base/number.h"
#include "physics/rigging.h"
#include "support/check.h"

#include <math.h>

static const double PI = 3.14159265358979323846;

static pr_drum_def drum_def(void)
{
    pr_drum_def def = pr_drum_def_default();
    def.drum_m = 0.064;
    def.rope_m = 0.008;
    def.width_m = 0.224;
    def.rope_length_m = 28.0;
    return def;
}

static pr_drum derived(pr_drum_def def)
{
    pr_drum drum;
    assert_int_equal(pr_drum_derive(&def, &drum), PR_OK);
    return drum;
}

static void test_drum_refuses_bad_numbers(void **unused)
{
    (void)unused;
    const struct {
        size_t offset;
        double value;
    } bad[] = {
        {offsetof(pr_drum_def, drum_m), PR_NAN},
        {offsetof(pr_drum_def, drum_m), 0.0},
        {offsetof(pr_drum_def, rope_m), PR_NAN},
        {offsetof(pr_drum_def, rope_m), 0.07},
        {offsetof(pr_drum_def, width_m), PR_NAN},
        {offsetof(pr_drum_def, width_m), 0.004},
        {offsetof(pr_drum_def, rope_length_m), PR_NAN},
        {offsetof(pr_drum_def, rope_length_m), -1.0},
        {offsetof(pr_drum_def, nesting), 0.2},
        {offsetof(pr_drum_def, nesting), 1.5},
        {offsetof(pr_drum_def, reserve_wraps), -1.0},
        {offsetof(pr_drum_def, wraps_per_layer), 0.5},
        {offsetof(pr_drum_def, rope_rating_N), 0.0},
    };
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++) {
        pr_drum_def def = drum_def();
        pr_drum drum;
        *(double *)(void *)((char *)&def + bad[i].offset) = bad[i].value;
        if (pr_drum_derive(&def, &drum) != PR_ERR_RANGE)
            fail_msg("case %zu", i);
    }
    pr_drum_def def = drum_def();
    pr_drum drum;
    def.cookie = 1;
    assert_int_equal(pr_drum_derive(&def, &drum), PR_ERR_INTERNAL);
    def = drum_def();
    def.rope_length_m = 900.0; /* more than twelve layers */
    assert_int_equal(pr_drum_derive(&def, &drum), PR_ERR_NO_SOLUTION);
    def = drum_def();
    def.rope_length_m = 1.0; /* less than the reserve wraps */
    assert_int_equal(pr_drum_derive(&def, &drum), PR_ERR_RANGE);
}

static void test_drum_first_layer_and_reserve(void **unused)
{
    (void)unused;
    const pr_drum drum = derived(drum_def());
    assert_true(drum.wraps_per_layer == 28.0);
    assert_near(drum.layer_diameter_m[0], 0.072, 1e-15);
    assert_near(drum.layer_end_m[0], 28.0 * PI * 0.072, 1e-12);
    assert_near(drum.usable_rope_m, 28.0 - 5.0 * PI * 0.072, 1e-12);
    pr_drum_def given = drum_def();
    given.width_m = PR_NAN;
    given.wraps_per_layer = 28.0;
    assert_near(derived(given).layer_end_m[2], drum.layer_end_m[2], 1e-12);
}

static void test_layer_changes_where_it_says(void **unused)
{
    (void)unused;
    const pr_drum drum = derived(drum_def());
    assert_true(drum.layers >= 3);
    assert_int_equal(pr_drum_layer(&drum, 28.0), 1);
    assert_int_equal(pr_drum_layer(&drum, 100.0), 1); /* more out than there is */
    assert_int_equal(pr_drum_layer(&drum, 0.0), drum.layers);
    assert_int_equal(pr_drum_layer(&drum, -1.0), drum.layers);
    for (int n = 1; n < drum.layers; n++) {
        const double out = pr_drum_layer_end_rope_out_m(&drum, n);
        assert_int_equal(pr_drum_layer(&drum, out + 1e-9), n);
        assert_int_equal(pr_drum_layer(&drum, out - 1e-9), n + 1);
        assert_true(out > pr_drum_layer_end_rope_out_m(&drum, n + 1));
    }
    assert_true(pr_drum_layer_end_rope_out_m(&drum, drum.layers) == 0.0);
}

static void test_ratio_rises_by_equal_steps(void **unused)
{
    (void)unused;
    const pr_drum drum = derived(drum_def());
    assert_true(pr_drum_ratio(&drum, 1) == 1.0);
    const double step = pr_drum_ratio(&drum, 2) - 1.0;
    assert_near(step, 2.0 * 0.008 * drum.def.nesting / 0.072, 1e-12);
    for (int n = 2; n <= drum.layers; n++)
        assert_near(pr_drum_ratio(&drum, n) - pr_drum_ratio(&drum, n - 1), step, 1e-12);
    assert_true(isnan(pr_drum_ratio(&drum, 0)));
    assert_true(isnan(pr_drum_ratio(&drum, drum.layers + 1)));
    assert_true(isnan(pr_drum_layer_end_rope_out_m(&drum, 0)));
    assert_true(isnan(pr_drum_layer_end_rope_out_m(&drum, drum.layers + 1)));
}

static void test_rig_refuses_bad_numbers(void **unused)
{
    (void)unused;
    pr_rig_def rig = pr_rig_def_default();
    assert_int_equal(pr_rig_check(&rig), PR_OK);
    rig.cookie = 0;
    assert_int_equal(pr_rig_check(&rig), PR_ERR_INTERNAL);
    for (int k = 0; k < 10; k++) {
        rig = pr_rig_def_default();
        if (k == 0)
            rig.parts = 0;
        if (k == 1)
            rig.parts = 5;
        if (k == 2)
            rig.change_direction_blocks = -1;
        if (k == 3)
            rig.friction_per_sheave_frac = -0.1;
        if (k == 4)
            rig.friction_per_sheave_frac = PR_NAN;
        if (k == 5)
            rig.sheave_efficiency = 1.01;
        if (k == 6)
            rig.leg_angle_deg = 175.0;
        if (k == 7)
            rig.leg_angle_deg = -1.0;
        if (k == 8)
            rig.anchor_rating_N = 0.0;
        if (k == 9)
            rig.block_rating_N = -5.0;
        if (pr_rig_check(&rig) != PR_ERR_RANGE)
            fail_msg("case %d", k);
    }
}

static void test_single_line_pulls_the_load(void **unused)
{
    (void)unused;
    const pr_rig_def rig = pr_rig_def_default();
    assert_int_equal(pr_rig_sheaves(&rig), 0);
    assert_true(pr_rig_fall_line_N(&rig, 1234.5) == 1234.5);
    assert_true(pr_rig_tackle_resistance_N(&rig, 1234.5) == 0.0);
    assert_true(pr_rig_rope_per_travel(&rig) == 1.0);
    assert_true(pr_rig_anchor_load_N(&rig, 1234.5) == 1234.5);
}

/* Work of the rope is never less than work on the load, and equal without friction. */
static void test_tackle_gives_no_work_away(void **unused)
{
    (void)unused;
    for (int parts = 1; parts <= 4; parts++) {
        for (int blocks = 0; blocks <= 2; blocks++) {
            for (double angle = 0.0; angle <= 120.0; angle += 30.0) {
                pr_rig_def rig = pr_rig_def_default();
                rig.parts = parts;
                rig.change_direction_blocks = blocks;
                rig.leg_angle_deg = angle;
                const double rope = pr_rig_rope_per_travel(&rig);
                const double army = pr_rig_fall_line_N(&rig, 1000.0) * rope;
                rig.friction_per_sheave_frac = 0.0;
                const double by_efficiency = pr_rig_fall_line_N(&rig, 1000.0) * rope;
                rig.sheave_efficiency = 1.0;
                assert_near(pr_rig_fall_line_N(&rig, 1000.0) * rope, 1000.0, 1e-9);
                assert_near(pr_rig_tackle_resistance_N(&rig, 1000.0), 0.0, 1e-9);
                const int sheaves = parts - 1 + blocks;
                assert_int_equal(pr_rig_sheaves(&rig), sheaves);
                assert_near(army, 1000.0 * (1.0 + 0.1 * sheaves), 1e-9);
                if (sheaves > 0)
                    assert_true(by_efficiency > 1000.0);
            }
        }
    }
}

static void test_spread_legs_need_more(void **unused)
{
    (void)unused;
    pr_rig_def rig = pr_rig_def_default();
    rig.parts = 2;
    const double parallel = pr_rig_fall_line_N(&rig, 1000.0);
    rig.leg_angle_deg = 120.0;
    assert_near(pr_rig_fall_line_N(&rig, 1000.0), 2.0 * parallel, 1e-9);
    assert_near(pr_rig_anchor_load_N(&rig, 500.0), 500.0, 1e-9);
    /* one line has no legs */
    rig.parts = 1;
    assert_true(pr_rig_fall_line_N(&rig, 1000.0) == 1000.0);
}

static void test_parts_needed_is_the_least(void **unused)
{
    (void)unused;
    const pr_rig_def rig = pr_rig_def_default();
    assert_int_equal(pr_rig_parts_needed(&rig, 1000.0, 1000.1), 1);
    assert_int_equal(pr_rig_parts_needed(&rig, 1000.0, 1000.0), 2); /* must stay below */
    assert_int_equal(pr_rig_parts_needed(&rig, 1000.0, 100.0), 0);
    int before = 1;
    for (double load = 100.0; load < 4000.0; load += 50.0) {
        const int parts = pr_rig_parts_needed(&rig, load, 1000.0);
        if (parts == 0)
            break;
        assert_true(parts >= before);
        before = parts;
    }
    assert_int_equal(before, 4);
}

static void test_block_load_falls_with_the_angle(void **unused)
{
    (void)unused;
    assert_near(pr_rig_block_load_N(1000.0, 0.0), 2000.0, 1e-9);
    for (double angle = 1.0; angle <= 180.0; angle += 1.0)
        assert_true(pr_rig_block_load_N(1000.0, angle) < pr_rig_block_load_N(1000.0, angle - 1.0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_drum_refuses_bad_numbers),
        cmocka_unit_test(test_drum_first_layer_and_reserve),
        cmocka_unit_test(test_layer_changes_where_it_says),
        cmocka_unit_test(test_ratio_rises_by_equal_steps),
        cmocka_unit_test(test_rig_refuses_bad_numbers),
        cmocka_unit_test(test_single_line_pulls_the_load),
        cmocka_unit_test(test_tackle_gives_no_work_away),
        cmocka_unit_test(test_spread_legs_need_more),
        cmocka_unit_test(test_parts_needed_is_the_least),
        cmocka_unit_test(test_block_load_falls_with_the_angle),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
