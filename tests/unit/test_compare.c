/* Comparisons: every case is planned again beside the comparison, and the verdict must follow from
 * what the two plans say. */
#include "planner/compare.h"
#include "test_planner_fixture.h"

static void add_second_battery(pr_scenario *s)
{
    pr_system_def *def = &s->system;
    def->n_batteries = 2;
    def->battery[1] = def->battery[0];
    def->start_soc_frac[1] = def->start_soc_frac[0];
    def->link = pr_link_def_default(PR_LINK_SWITCH);
    def->switch_rule = PR_SWITCH_CLOSED;
    fixture_wire(def, PR_RUN_LINK, 35.0, 1.0);
}

/* A small battery and a small alternator at freezing point, and an hour and a half until dark. */
static void weaken(pr_scenario *s)
{
    s->system.ambient_degC = 0.0;
    s->system.start_soc_frac[0] = 0.70;
    s->system.alternator.rated_A = 55.0;
    s->system.battery[0].c20_Ah = 50.0;
    s->system.battery[0].rc_min = 80.0;
    s->system.battery[0].cca_A = 450.0;
    s->plan.total_max_s = 5400.0;
}

static pr_comparison compare2(const pr_scenario *a, const pr_scenario *b)
{
    const pr_scenario *both[] = {a, b};
    const char *names[] = {"as it is", "changed"};
    pr_comparison c;
    pr_diag diag = pr_diag_init();
    assert_int_equal(pr_compare_make(both, names, 2, &c, &diag, NULL, NULL), PR_OK);
    assert_int_equal(diag.errors, 0);
    pr_diag_free(&diag);
    return c;
}

static void test_compare_make_equals_single_plans(void **state)
{
    (void)state;
    pr_scenario *a = fixture_new(), *b = fixture_new();
    add_second_battery(b);
    pr_comparison c = compare2(a, b);
    const pr_scenario *both[] = {a, b};
    for (size_t k = 0; k < 2; k++) {
        pr_plan plan;
        assert_int_equal(pr_plan_make_one(both[k], c.kind, &plan, NULL, NULL), PR_OK);
        assert_near(pr_compared_plan(&c, k)->total_s, plan.total_s, 0.0);
        assert_near(pr_compared_plan(&c, k)->least_soc_frac, plan.least_soc_frac, 0.0);
        assert_int_equal(pr_compared_plan(&c, k)->go, plan.go);
        pr_plan_free(&plan);
    }
    pr_comparison_free(&c);
    fixture_free(a);
    fixture_free(b);
}

static void test_compare_second_battery_saves_time_but_is_not_needed(void **state)
{
    (void)state;
    pr_scenario *a = fixture_new(), *b = fixture_new();
    add_second_battery(b);
    pr_comparison c = compare2(a, b);
    double saved_s;
    const pr_compare_verdict verdict = pr_compare_judge(&c, 1, &saved_s);
    print_message("kind %d: %.0f s and %.0f s, hard %d %d, verdict %d\n", c.kind,
                  pr_compared_plan(&c, 0)->total_s, pr_compared_plan(&c, 1)->total_s,
                  c.cases[0].hard_go, c.cases[1].hard_go, verdict);
    assert_int_equal(c.cases[1].differences, PR_DIFFERENCE_SECOND_BATTERY);
    assert_true(verdict == PR_VERDICT_NOT_NEEDED || verdict == PR_VERDICT_SAFER);
    assert_int_equal(verdict == PR_VERDICT_SAFER, c.cases[1].hard_go && !c.cases[0].hard_go);
    assert_near(saved_s, pr_compared_plan(&c, 0)->total_s - pr_compared_plan(&c, 1)->total_s, 0.0);
    assert_true(saved_s > 0.0);
    pr_comparison_free(&c);
    fixture_free(a);
    fixture_free(b);
}

static void test_compare_needed_when_only_the_other_goes(void **state)
{
    (void)state;
    pr_scenario *a = fixture_new(), *b = fixture_new();
    weaken(a);
    weaken(b);
    add_second_battery(b);
    b->system.battery[1].c20_Ah = 110.0;
    b->system.battery[1].rc_min = 200.0;
    b->system.battery[1].cca_A = 900.0;
    b->system.start_soc_frac[1] = 1.0;
    pr_comparison c = compare2(a, b);
    print_message("go %d and %d\n", pr_compared_plan(&c, 0)->go, pr_compared_plan(&c, 1)->go);
    assert_false(pr_compared_plan(&c, 0)->go);
    assert_true(pr_compared_plan(&c, 1)->go);
    double saved_s;
    assert_int_equal(pr_compare_judge(&c, 1, &saved_s), PR_VERDICT_NEEDED);
    assert_true(isnan(saved_s)); /* nothing to hold it against */
    pr_comparison_free(&c);

    c = compare2(b, a); /* the other way round: taking it away harms */
    assert_int_equal(pr_compare_judge(&c, 1, NULL), PR_VERDICT_HARMS);
    assert_true((c.cases[1].differences & PR_DIFFERENCE_LESS) != 0);
    pr_comparison_free(&c);
    fixture_free(a);
    fixture_free(b);
}

static void test_compare_sees_every_difference(void **state)
{
    (void)state;
    pr_scenario *a = fixture_new(), *b = fixture_new();
    b->system.alternator.rated_A = 160.0;
    b->system.fast_idle_rpm = 2000.0;
    b->system.run[PR_RUN_WINCH].def.gauge = 70.0;
    b->system.demand.segments[0].slope_rad = 0.0;
    b->system.ambient_degC = 20.0;
    b->system.start_soc_frac[0] = 1.0;
    pr_comparison c = compare2(a, b);
    assert_int_equal(c.cases[1].differences, PR_DIFFERENCE_BIGGER_ALTERNATOR |
                                                 PR_DIFFERENCE_FASTER_ENGINE | PR_DIFFERENCE_CABLE |
                                                 PR_DIFFERENCE_GROUND | PR_DIFFERENCE_WEATHER |
                                                 PR_DIFFERENCE_START);
    pr_comparison_free(&c);
    fixture_free(a);
    fixture_free(b);
}

static void test_compare_same_rig_twice_differs_in_nothing(void **state)
{
    (void)state;
    pr_scenario *a = fixture_new(), *b = fixture_new();
    pr_comparison c = compare2(a, b);
    double saved_s;
    assert_int_equal(pr_compare_judge(&c, 1, &saved_s), PR_VERDICT_NOT_NEEDED);
    assert_near(saved_s, 0.0, 0.0);
    assert_int_equal(c.cases[1].differences, 0);
    pr_comparison_free(&c);
    fixture_free(a);
    fixture_free(b);
}

static int cancel(void *context, double done_frac)
{
    (void)done_frac;
    ++*(int *)context;
    return 1;
}

static void test_compare_make_refuses_and_cancels(void **state)
{
    (void)state;
    pr_scenario *a = fixture_new(), *b = fixture_new();
    const pr_scenario *both[] = {a, b};
    const char *names[] = {"a", "b"};
    pr_comparison c;
    int calls = 0;
    assert_int_equal(pr_compare_make(both, names, 1, &c, NULL, NULL, NULL), PR_ERR_RANGE);
    pr_comparison_free(&c);
    assert_int_equal(pr_compare_make(both, names, 2, &c, NULL, cancel, &calls), PR_ERR_CANCELLED);
    assert_int_equal(calls, 1);
    pr_comparison_free(&c);
    b->system.battery[0].c20_Ah = -1.0;
    pr_diag diag = pr_diag_init();
    assert_int_equal(pr_compare_make(both, names, 2, &c, &diag, NULL, NULL), PR_ERR_RANGE);
    assert_true(diag.count > 0);
    pr_diag_free(&diag);
    pr_comparison_free(&c);
    fixture_free(a);
    fixture_free(b);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_compare_make_equals_single_plans),
        cmocka_unit_test(test_compare_second_battery_saves_time_but_is_not_needed),
        cmocka_unit_test(test_compare_needed_when_only_the_other_goes),
        cmocka_unit_test(test_compare_sees_every_difference),
        cmocka_unit_test(test_compare_same_rig_twice_differs_in_nothing),
        cmocka_unit_test(test_compare_make_refuses_and_cancels),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
