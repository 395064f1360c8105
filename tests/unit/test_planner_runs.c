/* Plans run again, schedules that the user gives, defaults of a scenario. */
#include "engine/trace.h"
#include "test_planner_fixture.h"

static pr_plan make_one(const pr_scenario *s, pr_plan_kind kind)
{
    pr_plan p;
    assert_int_equal(pr_plan_make_one(s, kind, &p, NULL, NULL), PR_OK);
    return p;
}

/* identity: a plan run again with its own settings and the limits that it was searched with holds,
 * ends where and when it said */
static void test_replay_of_the_same(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_plan_set context;
    pr_plan as_needed;
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, &as_needed, &context, NULL), PR_OK);
    pr_plan_free(&as_needed);
    const pr_limits limits = pr_plan_limits_guarded(&context.limits);
    for (int kind = 0; kind < PR_PLAN_KINDS; kind++) {
        pr_plan p = make_one(s, (pr_plan_kind)kind);
        bool holds = false;
        pr_phase_end worst;
        pr_trace trace = pr_trace_init(10.0);
        const pr_observer observer = pr_trace_observer(&trace);
        assert_int_equal(pr_plan_replay(s, &p, &limits, NULL, &observer, &holds, &worst), PR_OK);
        assert_true(holds);
        assert_int_equal(trace.status, PR_OK);
        assert_near(pr_trace_get(&trace, trace.n_rows - 1, "time_s"), p.total_s, 1e-9);
        assert_near(worst.extremes.least_soc_frac, p.least_soc_frac, 0.0);
        assert_near(worst.extremes.least_box_V, p.least_box_V, 0.0);
        assert_near(worst.extremes.most_armature_degC, p.most_armature_degC, 0.0);
        assert_near(worst.last.travel_m, p.travel_m, 0.0);
        pr_trace_free(&trace);
        pr_plan_free(&p);
    }
    fixture_free(s);
}

/* At a tolerance a thousand times tighter the plan holds as well, and comes as near to its limits:
 * to a tenth of the last digit that a report shows (0.1 %, 0.01 V, 0.1 K). */
static void test_replay_tighter(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_plan p = make_one(s, PR_PLAN_EVEN);
    pr_run_options options = pr_run_options_default();
    options.tolerance /= 1000.0;
    bool holds = false;
    pr_phase_end worst;
    assert_int_equal(pr_plan_replay(s, &p, NULL, &options, NULL, &holds, &worst), PR_OK);
    assert_true(holds);
    assert_near(worst.extremes.least_soc_frac, p.least_soc_frac, 1e-4);
    assert_near(worst.extremes.least_box_V, p.least_box_V, 1e-3);
    assert_near(worst.extremes.most_armature_degC, p.most_armature_degC, 1e-2);
    pr_plan_free(&p);
    fixture_free(s);
}

/* On a hotter motor the plan breaks, and by the limit that one expects. */
static void test_replay_on_a_worse_system(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_plan p = make_one(s, PR_PLAN_AS_NEEDED);
    assert_int_equal(p.binding, PR_LIMIT_MOTOR_HEAT);
    s->system.motor.heat_factor = 1.05;
    bool holds = true;
    pr_phase_end worst;
    assert_int_equal(pr_plan_replay(s, &p, NULL, NULL, NULL, &holds, &worst), PR_OK);
    assert_false(holds);
    assert_int_equal(worst.stop, PR_STOP_LIMIT);
    assert_int_equal(worst.limit, PR_LIMIT_MOTOR_HEAT);
    assert_true(worst.last.travel_m < p.travel_m);
    pr_plan_free(&p);
    fixture_free(s);
}

/* A slower system needs more pulls than the plan has: the replay goes on with its rests. */
static void test_replay_goes_on_when_slower(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.motor.heat_factor = 0.3;
    pr_plan p = make_one(s, PR_PLAN_EVEN);
    s->system.run[PR_RUN_WINCH].def.extra_ohm = 0.001; /* a poor joint costs volts, so speed */
    pr_limits limits;
    pr_system *system = fixture_system(s, &p);
    double computed;
    assert_int_equal(pr_plan_limits(s, system, &limits, &computed), PR_OK);
    limits.on[PR_LIMIT_RESERVE] = limits.on[PR_LIMIT_VOLTAGE] = false;
    limits.on[PR_LIMIT_CABLE_HEAT] = false;
    bool holds = false;
    pr_phase_end worst;
    pr_trace trace = pr_trace_init(10.0);
    const pr_observer observer = pr_trace_observer(&trace);
    assert_int_equal(pr_plan_replay(s, &p, &limits, NULL, &observer, &holds, &worst), PR_OK);
    assert_true(holds);
    assert_true(pr_trace_get(&trace, trace.n_rows - 1, "time_s") > p.total_s + p.rest_s);
    pr_trace_free(&trace);
    free(system);
    pr_plan_free(&p);
    fixture_free(s);
}

static void add_entry(pr_scenario *s, pr_activity activity, double seconds, int repeat, int group)
{
    s->schedule[s->n_schedule++] = (pr_schedule_entry){
        .phase = {.activity = activity,
                  .engine_rpm = activity == PR_CRANK ? 0.0 : s->system.fast_idle_rpm,
                  .duration_s = seconds,
                  .stop_travel_m = NOT_GIVEN},
        .repeat = repeat,
        .group = group,
    };
}

static void test_schedule_repeats_groups(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    add_entry(s, PR_REST, 5.0, 1, 0);
    add_entry(s, PR_PULL, 20.0, 3, 1);
    add_entry(s, PR_REST, 40.0, 3, 1);
    add_entry(s, PR_ENGINE_OFF, 10.0, 2, 0);
    static const pr_activity expected[] = {PR_REST, PR_PULL, PR_REST,       PR_PULL,      PR_REST,
                                           PR_PULL, PR_REST, PR_ENGINE_OFF, PR_ENGINE_OFF};
    enum { N = sizeof expected / sizeof *expected };
    pr_phase_end ends[16];
    size_t n = 0;
    assert_int_equal(pr_schedule_run(s, NULL, ends, 16, &n, NULL), PR_OK);
    assert_int_equal(n, N);
    double time_s = 0.0;
    for (size_t i = 0; i < n; i++) {
        const bool pulls = expected[i] == PR_PULL;
        assert_near(ends[i].first.time_s, time_s, 1e-9);
        time_s += i == 0 ? 5.0 : pulls ? 20.0 : expected[i] == PR_REST ? 40.0 : 10.0;
        assert_near(ends[i].last.time_s, time_s, 1e-9);
        assert_int_equal(ends[i].travel_m > 0.0, pulls);
        if (expected[i] == PR_ENGINE_OFF)
            assert_true(ends[i].last.alternator_A <= 0.0);
    }
    /* more phases than there is room for is an error, not a shorter answer */
    assert_int_equal(pr_schedule_run(s, NULL, ends, 4, &n, NULL), PR_ERR_RANGE);
    assert_int_equal(n, 4);
    fixture_free(s);
}

/* The rope runs in; pulls get nowhere until a rest is long enough to set it out again. */
static void test_schedule_rope(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.rope_out_m = 1.0;
    s->system.anchor_distance_m = NOT_GIVEN; /* where the rope ends, and so on */
    s->system.demand.segments[0].mire = PR_MIRE_NONE;
    for (int i = 0; i < PR_CASE_COUNT; i++)
        s->system.demand.segments[0].surface_frac[i] = 0.1;
    add_entry(s, PR_PULL, 60.0, 1, 0);
    add_entry(s, PR_REST, 60.0, 1, 0);
    add_entry(s, PR_PULL, 60.0, 1, 0);
    add_entry(s, PR_REST, s->plan.rerig_s, 1, 0);
    add_entry(s, PR_PULL, 60.0, 1, 0);
    pr_phase_end ends[8];
    size_t n = 0;
    assert_int_equal(pr_schedule_run(s, NULL, ends, 8, &n, NULL), PR_OK);
    assert_int_equal(n, 5);
    assert_int_equal(ends[0].stop, PR_STOP_ROPE);
    assert_near(ends[0].last.travel_m, 1.0, 1e-3);
    assert_near(ends[2].travel_m, 0.0, 1e-6);
    assert_near(ends[4].last.travel_m, 2.0, 1e-3);
    fixture_free(s);
}

/* The way out is 20 m: a schedule that pulls on stops there. */
static void test_schedule_ends_at_the_goal(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.demand.segments[0].length_m = 1.0;
    add_entry(s, PR_PULL, 30.0, 50, 1);
    add_entry(s, PR_REST, 15.0, 50, 1);
    pr_phase_end ends[100];
    size_t n = 0;
    assert_int_equal(pr_schedule_run(s, NULL, ends, 100, &n, NULL), PR_OK);
    assert_true(n < 10);
    assert_int_equal(ends[n - 1].stop, PR_STOP_TRAVEL);
    assert_near(ends[n - 1].last.travel_m, 1.0, 1e-3);
    s->n_schedule = 0;
    assert_int_equal(pr_schedule_run(s, NULL, ends, 100, &n, NULL), PR_ERR_INPUT);
    fixture_free(s);
}

/* Past the motor's class and below the voltage of the control unit a pull still takes its time. */
static void test_schedule_is_not_stopped_by_a_limit(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.motor.limit_degC = 60.0;
    s->system.start_motor_degC = 59.0;
    add_entry(s, PR_PULL, 20.0, 1, 0);
    add_entry(s, PR_CRANK, 5.0, 1, 0);
    pr_phase_end ends[2];
    size_t n = 0;
    assert_int_equal(pr_schedule_run(s, NULL, ends, 2, &n, NULL), PR_OK);
    assert_int_equal(ends[0].stop, PR_STOP_TIME);
    assert_true(ends[0].extremes.most_armature_degC > s->system.motor.limit_degC + 5.0);
    s->system.load[0].def.dropout_V = 12.4; /* a limit that cranking breaks */
    s->system.load[0].def.return_V = 12.6;
    s->schedule[0] = s->schedule[1];
    s->n_schedule = 1;
    assert_int_equal(pr_schedule_run(s, NULL, ends, 2, &n, NULL), PR_OK);
    assert_int_equal(ends[0].stop, PR_STOP_TIME);
    assert_near(ends[0].duration_s, 5.0, 1e-9);
    assert_true(ends[0].extremes.least_box_V < 12.4);
    fixture_free(s);
}

static void test_scenario_default_and_free(void **state)
{
    (void)state;
    pr_scenario s = pr_scenario_default();
    assert_int_equal(s.plan.cookie, PR_DEF_COOKIE);
    assert_int_equal(s.system.cookie, PR_DEF_COOKIE);
    s.assumption = malloc(sizeof *s.assumption);
    s.profile = malloc(4 * sizeof *s.profile);
    s.system.profile_s = s.profile;
    pr_scenario_free(&s);
    assert_null(s.assumption);
    assert_null(s.system.profile_s);
    pr_scenario_free(&s); /* twice does no harm */
    pr_scenario_free(NULL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_replay_of_the_same),
        cmocka_unit_test(test_replay_tighter),
        cmocka_unit_test(test_replay_on_a_worse_system),
        cmocka_unit_test(test_replay_goes_on_when_slower),
        cmocka_unit_test(test_schedule_repeats_groups),
        cmocka_unit_test(test_schedule_rope),
        cmocka_unit_test(test_schedule_ends_at_the_goal),
        cmocka_unit_test(test_schedule_is_not_stopped_by_a_limit),
        cmocka_unit_test(test_scenario_default_and_free),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
