/* When the answer is no, or not at once: what ended it, how far it got, what a plan does about it.
 */
#include "test_planner_fixture.h"

static pr_plan make_as_needed(const pr_scenario *s, pr_plan_set *context)
{
    pr_plan plan;
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, &plan, context, NULL), PR_OK);
    return plan;
}

static void discard(pr_plan *plan, pr_scenario *s)
{
    pr_plan_free(plan);
    fixture_free(s);
}

/* Without a block the line would need more than the rated pull: no pull at all. */
static void test_no_above_rated_pull(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->plan.blocks = 0;
    s->system.demand.segments[0].mire = PR_MIRE_BODY;
    pr_plan_set context;
    pr_plan p = make_as_needed(s, &context);
    assert_false(p.go);
    assert_int_equal(p.n_cycles, 0);
    assert_int_equal(p.ended_by, PR_STOP_STALL);
    assert_near(p.overload.at_m, 0.0, 0.0);
    assert_true(p.overload.need_N > p.overload.capacity_N);
    assert_near(p.travel_m, 0.0, 0.0);
    assert_int_equal(context.parts_needed, 2);
    assert_true(context.fall_line_N[PR_CASE_LIKELY] > context.capacity_N);
    discard(&p, s);
}

/* The way gets steeper half way: gets that far, and says what the line would need there. */
static void test_no_overload_on_the_way(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_demand_segment *seg = s->system.demand.segments;
    seg[1] = seg[0];
    seg[0].length_m = 10.0;
    seg[1].length_m = 15.0;
    seg[1].mire = PR_MIRE_BODY;
    seg[1].slope_rad = 0.9;
    s->system.demand.n_segments = 2;
    pr_plan p = make_as_needed(s, NULL);
    assert_false(p.go);
    assert_int_equal(p.ended_by, PR_STOP_STALL);
    assert_near(p.overload.at_m, 10.0, 1e-3);
    assert_near(p.travel_m, 10.0, 2e-3);
    assert_true(p.n_cycles > 0);
    discard(&p, s);
}

/* No alternator: every pull empties, no rest helps; the reserve ends it. */
static void test_no_without_alternator(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.has_alternator = false;
    s->system.start_soc_frac[0] = 0.75;
    s->plan.reserve_frac = 0.70;
    pr_plan p = make_as_needed(s, NULL);
    assert_false(p.go);
    assert_int_equal(p.ended_by, PR_STOP_LIMIT);
    assert_int_equal(p.ended_limit, PR_LIMIT_RESERVE);
    assert_true(p.travel_m > 0.0 && p.travel_m < p.distance_m);
    assert_true(p.n_cycles > 1);
    assert_near(p.least_soc_frac, 0.70, 1e-4);
    discard(&p, s);
}

/* Twice as far as the time allows. */
static void test_no_over_time(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_plan p = make_as_needed(s, NULL);
    assert_true(p.go);
    s->plan.total_max_s = floor(0.5 * p.total_s);
    pr_plan_free(&p);
    p = make_as_needed(s, NULL);
    assert_false(p.go);
    assert_true(p.over_time);
    assert_int_equal(p.ended_by, PR_STOP_TIME);
    assert_true(p.travel_m < p.distance_m);
    discard(&p, s);
}

/* Even a full battery cannot crank this engine: no reserve makes sense, the restart limit says no.
 */
static void test_no_when_full_does_not_crank(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.cranking.warm_A = 900.0;
    s->plan.rest_max_s = 300.0;
    pr_plan_set context;
    pr_plan p = make_as_needed(s, &context);
    assert_true(isnan(context.reserve_computed_frac));
    assert_false(p.go);
    assert_int_equal(p.ended_by, PR_STOP_LIMIT);
    assert_int_equal(p.ended_limit, PR_LIMIT_RESTART);
    assert_near(p.travel_m, 0.0, 1e-6);
    discard(&p, s);
}

/* Starts far below the reserve: first a rest, the smallest that lets the first pull stay inside. */
static void test_start_below_reserve_rests_first(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->plan.reserve_frac = 0.60;
    s->system.start_soc_frac[0] = 0.50;
    pr_plan_set context;
    pr_plan p = make_as_needed(s, &context);
    const pr_limits limits = pr_plan_limits_guarded(&context.limits);
    assert_true(p.go);
    assert_true(p.first_rest_s > 0.0);
    assert_int_equal(p.first_binding, PR_LIMIT_RESERVE);
    pr_system *system = fixture_system(s, &p);
    pr_sim start, sim;
    pr_phase_end end;
    assert_int_equal(pr_sim_start(system, &start), PR_OK);
    sim = start;
    assert_true(fixture_step(system, &limits, &p, p.first_rest_s, true, false, &sim, &end));
    sim = start;
    assert_false(fixture_step(system, &limits, &p, p.first_rest_s - 1.0, true, false, &sim, &end));
    assert_int_equal(end.limit, PR_LIMIT_RESERVE);
    free(system);
    discard(&p, s);
}

/* The same, but the longest rest is too short for it. */
static void test_start_below_reserve_cannot(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->plan.reserve_frac = 0.80;
    s->system.start_soc_frac[0] = 0.40;
    s->plan.rest_max_s = 120.0;
    pr_plan p = make_as_needed(s, NULL);
    assert_false(p.go);
    assert_int_equal(p.ended_limit, PR_LIMIT_RESERVE);
    assert_near(p.first_rest_s, 120.0, 0.0); /* tried as long as it may */
    assert_near(p.travel_m, 0.0, 1e-6);
    discard(&p, s);
}

/* Longest pull that an otherwise equal scenario allows when its length is given. */
static double longest_given(pr_scenario *s, double from_s)
{
    for (double pull_s = from_s; pull_s >= s->plan.pull_min_s; pull_s -= 1.0) {
        s->plan.pull_s = pull_s;
        pr_plan p = make_as_needed(s, NULL);
        const bool go = p.go && !(p.first_rest_s > 0.0);
        pr_plan_free(&p);
        if (go)
            return pull_s;
    }
    return NOT_GIVEN;
}

/* A motor that would be too hot after the usual 30 s: the longest pull that works is found. */
static void test_pull_is_shortened(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.motor.heat_factor = 10.0;
    s->system.demand.segments[0].length_m = 2.0;
    pr_plan p = make_as_needed(s, NULL);
    assert_true(p.go);
    assert_true(p.shortened);
    assert_true(p.pull_s < 30.0 && p.pull_s >= s->plan.pull_min_s && p.pull_s == floor(p.pull_s));
    assert_near(p.pull_s, longest_given(s, 30.0), 0.0);
    discard(&p, s);
}

static void test_no_when_shortest_pull_is_too_long(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.motor.heat_factor = 10.0;
    s->plan.motor_max_degC = 30.0;
    pr_plan p = make_as_needed(s, NULL);
    assert_false(p.go);
    assert_false(p.shortened);
    assert_int_equal(p.ended_limit, PR_LIMIT_MOTOR_HEAT);
    discard(&p, s);
}

static void test_pull_given_is_kept(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.motor.heat_factor = 10.0;
    s->plan.pull_s = 30.0;
    pr_plan p = make_as_needed(s, NULL);
    assert_false(p.go);
    assert_near(p.pull_s, 30.0, 0.0);
    assert_int_equal(p.ended_limit, PR_LIMIT_MOTOR_HEAT);
    discard(&p, s);
}

/* Can the pull after this rest, and those up to pull `last`, be done with the longest rests
 * between? */
static bool can_reach(const pr_scenario *s, const pr_system *system, const pr_limits *limits,
                      const pr_plan *p, pr_sim sim, double rest_s, size_t pull, size_t last)
{
    pr_phase_end end;
    for (; pull <= last; pull++) {
        if (!fixture_step(system, limits, p, rest_s, pull == 0, false, &sim, &end))
            return false;
        if (end.stop == PR_STOP_TRAVEL)
            return true;
        rest_s = s->plan.rest_max_s;
    }
    return true;
}

/* The last metre takes much more, and the longest rest allowed is too short to make up for it after
 * the smallest rests before: earlier rests must be longer than the pulls right after them need. */
static pr_scenario *trap_new(void)
{
    pr_scenario *s = fixture_new();
    pr_demand_segment *seg = s->system.demand.segments;
    seg[0].mire = PR_MIRE_NONE;
    for (int i = 0; i < PR_CASE_COUNT; i++)
        seg[0].surface_frac[i] = 0.25;
    seg[1] = seg[0];
    seg[1].mire = PR_MIRE_BODY;
    seg[0].length_m = 9.0;
    seg[1].length_m = 1.0;
    s->system.demand.n_segments = 2;
    s->system.start_soc_frac[0] = 0.80;
    s->plan.reserve_frac = 0.70;
    s->plan.rest_max_s = 300.0;
    s->plan.pull_s = 30.0;
    return s;
}

static void test_way_gets_harder(void **state)
{
    (void)state;
    pr_scenario *s = trap_new();
    pr_plan_set context;
    pr_plan p = make_as_needed(s, &context);
    const pr_limits limits = pr_plan_limits_guarded(&context.limits);
    assert_true(p.go);
    pr_system *system = fixture_system(s, &p);
    pr_sim sim;
    pr_phase_end end;
    assert_int_equal(pr_sim_start(system, &sim), PR_OK);
    size_t for_later = 0;
    for (size_t i = 0; i < p.n_cycles; i++) {
        const double rest_s = i == 0 ? p.first_rest_s : p.cycles[i - 1].rest_s;
        pr_sim less = sim;
        if (i > 0 && rest_s > s->plan.rest_min_s) {
            /* one second less leaves this pull or a later one impossible */
            assert_false(can_reach(s, system, &limits, &p, sim, rest_s - 1.0, i, p.n_cycles - 1));
            for_later += fixture_step(system, &limits, &p, rest_s - 1.0, false, false, &less, &end);
        }
        assert_true(fixture_step(system, &limits, &p, rest_s, i == 0, false, &sim, &end));
    }
    assert_true(for_later > 0); /* else this was no trap */
    free(system);
    discard(&p, s);
}

/* The same trap, too deep: a no, although no rest was spared. */
static void test_way_gets_too_hard(void **state)
{
    (void)state;
    pr_scenario *s = trap_new();
    s->system.demand.segments[1].length_m = 4.0;
    s->plan.rest_max_s = 100.0;
    pr_plan p = make_as_needed(s, NULL);
    assert_false(p.go);
    assert_int_equal(p.ended_limit, PR_LIMIT_RESERVE);
    assert_true(p.travel_m > 9.0 && p.travel_m < 13.0);
    discard(&p, s);
}

static void test_warns_of_a_low_reserve(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->plan.reserve_frac = 0.05;
    pr_plan p;
    pr_diag diag = pr_diag_init();
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, &p, NULL, &diag), PR_OK);
    assert_int_equal(diag.warnings, 1);
    assert_int_equal(diag.errors, 0);
    pr_diag_free(&diag);
    discard(&p, s);
}

static void test_refuses_bad_choices(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_plan p;
    pr_plan_set set;
    s->plan.rest_max_s = 1.0; /* below rest_min */
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_EVEN, &p, NULL, NULL), PR_ERR_RANGE);
    assert_int_equal(p.status, PR_ERR_RANGE);
    assert_int_equal(pr_plan_make(s, &set, NULL, NULL, NULL), PR_ERR_RANGE);
    for (int i = 0; i < PR_PLAN_KINDS; i++) {
        assert_int_equal(set.plan[i].status, PR_ERR_RANGE);
        assert_false(set.plan[i].go);
    }
    pr_plan_set_free(&set);
    s->plan = (pr_plan_def){0}; /* not from its default function */
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_EVEN, &p, NULL, NULL), PR_ERR_INTERNAL);
    s->plan = pr_plan_def_default();
    s->system.battery[0].c20_Ah = NOT_GIVEN;
    pr_diag diag = pr_diag_init();
    assert_int_not_equal(pr_plan_make_one(s, PR_PLAN_EVEN, &p, NULL, &diag), PR_OK);
    assert_true(diag.errors > 0);
    pr_diag_free(&diag);
    fixture_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_no_above_rated_pull),
        cmocka_unit_test(test_no_overload_on_the_way),
        cmocka_unit_test(test_no_without_alternator),
        cmocka_unit_test(test_no_over_time),
        cmocka_unit_test(test_no_when_full_does_not_crank),
        cmocka_unit_test(test_start_below_reserve_rests_first),
        cmocka_unit_test(test_start_below_reserve_cannot),
        cmocka_unit_test(test_pull_is_shortened),
        cmocka_unit_test(test_no_when_shortest_pull_is_too_long),
        cmocka_unit_test(test_pull_given_is_kept),
        cmocka_unit_test(test_way_gets_harder),
        cmocka_unit_test(test_way_gets_too_hard),
        cmocka_unit_test(test_warns_of_a_low_reserve),
        cmocka_unit_test(test_refuses_bad_choices),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
