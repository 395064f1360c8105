/* Warnings from made-up phases: each comes when it must, and only then. */
#include "planner/warnings.h"

#include "base/number.h"
#include "support/check.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { PHASES = 6 };

typedef struct made {
    pr_scenario scenario;
    pr_phase_end ends[PHASES]; /* pull, rest, pull, rest ... */
    pr_diag diag;
} made;

static pr_outputs quiet_outputs(void)
{
    return (pr_outputs){.engine_rpm = 1500.0,
                        .alternator_A = 40.0,
                        .alternator_available_A = 80.0,
                        .shaft_W = 900.0,
                        .soc_frac = {0.9, 0.9}};
}

/* A rig and its run that give no cause. */
static made *made_new(void)
{
    made *m = calloc(1, sizeof *m);
    assert_non_null(m);
    m->scenario = pr_scenario_default();
    pr_system_def *def = &m->scenario.system;
    def->n_batteries = 2;
    def->link = pr_link_def_default(PR_LINK_RELAY);
    def->link.rating_A = 100.0;
    def->idle_rpm = 750.0;
    def->cranking.engine = PR_ENGINE_PETROL_6;
    def->alternator.belt_limit_W = 3000.0;
    def->ambient_degC = -20.0;
    for (int i = 0; i < PHASES; i++)
        m->ends[i] = (pr_phase_end){.activity = i % 2 == 0 ? PR_PULL : PR_REST,
                                    .duration_s = 30.0,
                                    .first = quiet_outputs(),
                                    .last = quiet_outputs(),
                                    .extremes = {.most_link_A = 99.0}};
    m->diag = pr_diag_init();
    return m;
}

static void made_free(made *m)
{
    pr_diag_free(&m->diag);
    free(m);
}

static void assert_says(made *m, const char *const texts[], size_t n)
{
    pr_diag_free(&m->diag);
    pr_warnings_of_run(&m->scenario, m->ends, PHASES, &m->diag);
    assert_int_equal(m->diag.errors, 0);
    assert_int_equal(m->diag.warnings, n);
    for (size_t i = 0; i < n; i++)
        assert_non_null(strstr(m->diag.entries[i].text, texts[i]));
}

static void assert_says_one(made *m, const char *text)
{
    assert_says(m, &text, 1);
}

static void test_nothing_to_say(void **state)
{
    (void)state;
    made *m = made_new();
    assert_says(m, NULL, 0);
    m->scenario.system.link.rating_A = PR_NAN; /* not known: not compared */
    m->ends[0].extremes.most_link_A = 1000.0;
    assert_says(m, NULL, 0);
    pr_warnings_of_run(&m->scenario, m->ends, 0, &m->diag); /* nothing was run */
    pr_warnings_of_run(&m->scenario, m->ends, PHASES, NULL);
    assert_int_equal(m->diag.count, 0);
    made_free(m);
}

static void test_link(void **state)
{
    (void)state;
    made *m = made_new();
    m->ends[3].extremes.most_link_A = 130.4;
    assert_says_one(m, "link: up to 130 A go through it, rated for 100 A");
    m->ends[3].extremes.most_link_A = 0.0;
    m->ends[0].link_opens = m->ends[0].link_switches = 1;
    m->ends[4].link_opens = m->ends[4].link_switches = 1;
    m->ends[1].link_opens = m->ends[1].link_switches = 1; /* in a rest: as it should */
    assert_says_one(m, "link: the relay opens in 2 of 3 pulls");
    m->scenario.system.link.kind = PR_LINK_SWITCH; /* by hand: meant */
    assert_says(m, NULL, 0);
    m->scenario.system.link.kind = PR_LINK_RELAY;
    m->ends[0].link_opens = m->ends[4].link_opens = 0;
    m->ends[1].link_switches = 4;
    assert_says_one(m, "link: it opens and closes 6 times in 3 min (hunting)");
    m->ends[1].link_switches = 3;
    assert_says(m, NULL, 0);
    made_free(m);
}

static void test_alternator_that_never_wakes(void **state)
{
    (void)state;
    made *m = made_new();
    pr_alternator_def *a = &m->scenario.system.alternator;
    a->cut_in_rpm = 1050.0;
    a->turn_on_rpm = 3200.0;
    a->pulley_ratio = 2.7;
    for (int i = 0; i < PHASES; i++) {
        m->ends[i].first.engine_rpm = m->ends[i].last.engine_rpm = 750.0;
        m->ends[i].first.alternator_available_A = m->ends[i].last.alternator_available_A = 0.0;
        m->ends[i].first.shaft_W = m->ends[i].last.shaft_W = 0.0;
    }
    /* 3200/2.7 = 1185 rpm of the engine, told in tens upwards */
    assert_says_one(m, "never wakes at 750 rpm and charges nothing: it wakes at 1190 rpm");
    a->belt_slip_frac = 1.0;
    assert_says_one(m, "the belt does not turn it");
    m->ends[5].last.alternator_available_A = 30.0; /* once awake is enough */
    assert_says(m, NULL, 0);
    made_free(m);
}

/* Power by hand: 195 N m at 750 rpm is 15.3 kW, at 1500 rpm 30.6 kW; a tenth and a fifth of it. */
static void test_shaft_power(void **state)
{
    (void)state;
    made *m = made_new();
    m->scenario.system.alternator.belt_limit_W = PR_NAN;
    m->ends[2].last.shaft_W = 6000.0;
    assert_says(m, NULL, 0);
    m->ends[2].last.shaft_W = 6300.0;
    assert_says_one(m, "engine: the alternator takes 6.3 kW at 1500 rpm, 21 % of");
    m->ends[2].last = quiet_outputs();
    m->ends[2].last.engine_rpm = 750.0;
    m->ends[2].last.shaft_W = 1500.0;
    assert_says(m, NULL, 0);
    m->ends[2].last.shaft_W = 1600.0;
    assert_says_one(m, "engine: the alternator takes 1.6 kW at 750 rpm, 10 % of");
    made_free(m);
}

static void test_belt(void **state)
{
    (void)state;
    made *m = made_new();
    m->ends[0].first.shaft_W = m->ends[0].last.shaft_W = m->ends[2].first.shaft_W = 2999.0;
    assert_says_one(m, "the belt slips at its limit of 3000 W in 2 of 6 pulls and rests");
    made_free(m);
}

/* The table of the model: -25 degC at 50 %, -36 at 75 %. */
static void test_freezing(void **state)
{
    (void)state;
    made *m = made_new();
    m->ends[3].last.soc_frac[1] = 0.5;
    assert_says(m, NULL, 0); /* 5 K to spare */
    m->scenario.system.ambient_degC = -22.0;
    assert_says_one(m, "second battery: at 50 % it freezes at -25");
    m->scenario.system.battery[1].chemistry = PR_LIFEPO4;
    assert_says(m, NULL, 0);
    m->ends[3].first.soc_frac[0] = 0.25;
    assert_says_one(m, "battery: at 25 % it freezes at -16 °C (3 °F), and the air is at -22 °C");
    made_free(m);
}

/* A plan's phases are seen, all of them, and those that were not run are not. */
static void test_plan(void **state)
{
    (void)state;
    made *m = made_new();
    pr_cycle cycles[2] = {{.pull = m->ends[0], .rest = m->ends[1]}, {.pull = m->ends[2]}};
    pr_plan plan = {.cycles = cycles, .n_cycles = 2};
    cycles[0].pull.full_output_s = 15.0;
    cycles[1].rest.full_output_s = 99.0; /* of a rest that was not run */
    assert_near(pr_plan_full_output_frac(&plan), 15.0 / 90.0, 1e-12);
    pr_warnings_of_plan(&m->scenario, &plan, &m->diag);
    assert_int_equal(m->diag.count, 0);
    plan.first_rest = m->ends[1];
    plan.first_rest.full_output_s = 30.0;
    plan.first_rest.extremes.most_link_A = 101.0;
    assert_near(pr_plan_full_output_frac(&plan), 45.0 / 120.0, 1e-12);
    plan.status = PR_ERR_NO_CONVERGENCE;
    pr_warnings_of_plan(&m->scenario, &plan, &m->diag);
    assert_int_equal(m->diag.count, 0);
    plan.status = PR_OK;
    pr_warnings_of_plan(&m->scenario, &plan, &m->diag);
    assert_int_equal(m->diag.warnings, 1);
    assert_true(isnan(pr_run_full_output_frac(m->ends, 0)));
    made_free(m);
}

/* Single line: what the anchor gets is what the rope pulls. */
static void test_run_overload(void **state)
{
    (void)state;
    made *m = made_new();
    pr_system_def *def = &m->scenario.system;
    pr_overload worst;
    def->has_winch = true;
    def->work = PR_WORK_DEMAND;
    m->scenario.plan.parts = 1;
    m->scenario.plan.rope_factor = 1.25;
    m->ends[2].extremes.most_anchor_N = 5000.0;
    def->rig.anchor_rating_N = def->drum.rope_rating_N = PR_NAN; /* not known: not compared */
    assert_false(pr_run_overload(&m->scenario, m->ends, PHASES, &worst));
    def->rig.anchor_rating_N = 4000.0;
    assert_true(pr_run_overload(&m->scenario, m->ends, PHASES, &worst));
    assert_int_equal(worst.what, PR_OVERLOADED_ANCHOR);
    assert_near(worst.need_N, 5000.0, 1e-9);
    assert_near(worst.capacity_N, 4000.0, 1e-9);
    def->drum.rope_rating_N = 4800.0; /* bears 3,840 N: worse still */
    assert_true(pr_run_overload(&m->scenario, m->ends, PHASES, &worst));
    assert_int_equal(worst.what, PR_OVERLOADED_ROPE);
    assert_near(worst.capacity_N, 3840.0, 1e-9);
    pr_warnings_of_run_rig(&m->scenario, m->ends, PHASES, &m->diag);
    assert_int_equal(m->diag.warnings, 2);
    made_free(m);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_nothing_to_say),
        cmocka_unit_test(test_link),
        cmocka_unit_test(test_alternator_that_never_wakes),
        cmocka_unit_test(test_shaft_power),
        cmocka_unit_test(test_belt),
        cmocka_unit_test(test_freezing),
        cmocka_unit_test(test_plan),
        cmocka_unit_test(test_run_overload),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
