/* Plans: every claim of a plan is checked by running the engine again beside the planner. */
#include "base/number.h"
#include "test_planner_fixture.h"

static pr_plan_set *make(const pr_scenario *s)
{
    pr_plan_set *set = calloc(1, sizeof *set);
    assert_non_null(set);
    pr_diag diag = pr_diag_init();
    const pr_status status = pr_plan_make(s, set, &diag, NULL, NULL);
    if (status != PR_OK)
        pr_diag_print(&diag, stderr);
    pr_diag_free(&diag);
    assert_int_equal(status, PR_OK);
    return set;
}

static void discard(pr_plan_set *set)
{
    pr_plan_set_free(set);
    free(set);
}

static bool is_whole(double x)
{
    return x == floor(x);
}

/* Runs the plan's own pulls and rests: each works, and one second less of any rest that is longer
 * than it need be breaks the limit that the plan names. Returns how many rests were proven so. */
static size_t prove_as_needed(const pr_scenario *s, const pr_plan *plan, const pr_limits *limits)
{
    assert_true(plan->go);
    pr_system *system = fixture_system(s, plan);
    pr_sim sim;
    assert_int_equal(pr_sim_start(system, &sim), PR_OK);
    size_t proven = 0;
    for (size_t i = 0; i < plan->n_cycles; i++) {
        const bool first = i == 0, rerig = !first && plan->cycles[i - 1].rerig;
        const double rest_s = first ? plan->first_rest_s : plan->cycles[i - 1].rest_s;
        const double least_s = first ? 0.0 : rerig ? s->plan.rerig_s : s->plan.rest_min_s;
        pr_phase_end end;
        assert_true(is_whole(rest_s));
        assert_true(rest_s >= least_s);
        if (rest_s > least_s) {
            pr_sim less = sim;
            assert_false(
                fixture_step(system, limits, plan, rest_s - 1.0, first, rerig, &less, &end));
            assert_int_equal(end.stop,
                             first ? plan->first_binding_stop : plan->cycles[i - 1].binding_stop);
            if (end.stop == PR_STOP_LIMIT)
                assert_int_equal(end.limit,
                                 first ? plan->first_binding : plan->cycles[i - 1].binding);
            proven++;
        } else if (!first) {
            assert_int_equal(plan->cycles[i - 1].binding, PR_LIMIT_NONE);
        }
        assert_true(fixture_step(system, limits, plan, rest_s, first, rerig, &sim, &end));
        assert_near(end.last.travel_m, plan->cycles[i].travel_m, 0.0);
    }
    assert_near(sim.time_s, plan->total_s, 0.0);
    assert_near(plan->travel_m, plan->distance_m, 1e-3); /* event located to 1 ms */
    free(system);
    return proven;
}

/* The whole recovery with equal rests, by the engine alone. */
static bool even_works(const pr_scenario *s, const pr_plan *plan, const pr_limits *limits,
                       double rest_s, pr_phase_end *end)
{
    pr_system *system = fixture_system(s, plan);
    pr_sim sim;
    assert_int_equal(pr_sim_start(system, &sim), PR_OK);
    bool works = true, over = false;
    for (size_t i = 0; works && !over && i < 1000; i++) {
        const bool first = i == 0, rerig = !first && end->stop == PR_STOP_ROPE;
        const double wait_s = first   ? plan->first_rest_s
                              : rerig ? fmax(rest_s, s->plan.rerig_s)
                                      : rest_s;
        works = fixture_step(system, limits, plan, wait_s, first, rerig, &sim, end);
        over = end->stop == PR_STOP_TRAVEL;
    }
    free(system);
    return works && over;
}

static void prove_even(const pr_scenario *s, const pr_plan *plan, const pr_limits *limits)
{
    pr_phase_end end;
    assert_true(plan->go);
    assert_true(is_whole(plan->rest_s));
    assert_true(even_works(s, plan, limits, plan->rest_s, &end));
    if (plan->rest_s > s->plan.rest_min_s) {
        assert_false(even_works(s, plan, limits, plan->rest_s - 1.0, &end));
        assert_int_equal(end.stop, plan->binding_stop);
        if (end.stop == PR_STOP_LIMIT)
            assert_int_equal(end.limit, plan->binding);
    }
}

/* Scenarios in which different limits set the rests. */
enum { ORDINARY, COOL_MOTOR, COLD, SMALL_ALTERNATOR, EASY, TIGHT_RESERVE, VARIANTS };

static pr_scenario *variant(int which)
{
    pr_scenario *s = fixture_new();
    pr_system_def *def = &s->system;
    if (which == COOL_MOTOR || which == COLD || which == SMALL_ALTERNATOR)
        def->motor.heat_factor = 0.5;
    if (which == COLD) {
        def->ambient_degC = -12.0;
        def->start_soc_frac[0] = 0.8;
    }
    if (which == SMALL_ALTERNATOR)
        def->alternator.rated_A = 55.0;
    if (which == EASY || which == TIGHT_RESERVE) {
        def->demand.segments[0].mire = PR_MIRE_NONE;
        for (int i = 0; i < PR_CASE_COUNT; i++)
            def->demand.segments[0].surface_frac[i] = 0.25;
    }
    if (which == TIGHT_RESERVE)
        s->plan.reserve_frac = 0.88;
    return s;
}

static void test_make_every_rest_is_proven(void **state)
{
    (void)state;
    size_t bound[PR_LIMIT_COUNT] = {0}, proven = 0;
    for (int which = 0; which < VARIANTS; which++) {
        pr_scenario *s = variant(which);
        pr_plan_set *set = make(s);
        const pr_limits limits = pr_plan_limits_guarded(&set->limits);
        for (int i = 0; i < PR_PLAN_KINDS; i++) {
            const pr_plan *p = &set->plan[i];
            assert_int_equal(p->kind, i);
            assert_int_equal(p->status, PR_OK);
            assert_true(p->go);
            assert_true(p->charge_error_frac < 1e-9 && p->energy_error_frac < 1e-9);
            if (p->equal_rests)
                prove_even(s, p, &limits);
            else
                proven += prove_as_needed(s, p, &limits);
            for (size_t k = 0; k < p->n_cycles; k++)
                bound[p->cycles[k].binding]++;
        }
        assert_true(set->plan[PR_PLAN_EVEN].equal_rests);
        assert_false(set->plan[PR_PLAN_AS_NEEDED].equal_rests);
        discard(set);
        fixture_free(s);
    }
    assert_true(proven > 50);
    /* the scenarios are only worth something if they meet different limits */
    assert_true(bound[PR_LIMIT_RESERVE] > 0 && bound[PR_LIMIT_MOTOR_HEAT] > 0);
    assert_true(bound[PR_LIMIT_VOLTAGE] > 0 || bound[PR_LIMIT_RESTART] > 0);
}

static void test_shortest_beats_the_others(void **state)
{
    (void)state;
    for (int which = 0; which < VARIANTS; which++) {
        pr_scenario *s = variant(which);
        pr_plan_set *set = make(s);
        const double shortest_s = set->plan[PR_PLAN_SHORTEST].total_s;
        assert_true(round(shortest_s) <= round(set->plan[PR_PLAN_EVEN].total_s));
        assert_true(round(shortest_s) <= round(set->plan[PR_PLAN_AS_NEEDED].total_s));
        discard(set);
        fixture_free(s);
    }
}

/* The search tries few lengths. Against every fifth second, at all parts: within 1 %. */
static void test_shortest_is_near_the_best_of_all(void **state)
{
    (void)state;
    for (int which = 0; which < VARIANTS; which++) {
        pr_scenario *s = variant(which);
        pr_plan shortest, p;
        assert_int_equal(pr_plan_make_one(s, PR_PLAN_SHORTEST, &shortest, NULL, NULL), PR_OK);
        s->plan.pull_rpm = s->plan.rest_rpm = s->system.max_rpm;
        double best_s = PR_INF;
        for (s->plan.parts = 1; s->plan.parts <= s->plan.blocks + 1; s->plan.parts++)
            for (s->plan.pull_s = 10.0; s->plan.pull_s <= 60.0; s->plan.pull_s += 5.0) {
                assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, &p, NULL, NULL), PR_OK);
                if (p.go)
                    best_s = fmin(best_s, p.total_s);
                pr_plan_free(&p);
            }
        assert_true(shortest.total_s <= 1.01 * best_s);
        pr_plan_free(&shortest);
        fixture_free(s);
    }
}

static void assert_same_plan(const pr_plan *a, const pr_plan *b)
{
    assert_int_equal(a->n_cycles, b->n_cycles);
    assert_int_equal(a->simulations, b->simulations);
    assert_memory_equal(&a->total_s, &b->total_s, sizeof a->total_s);
    assert_memory_equal(&a->least_soc_frac, &b->least_soc_frac, sizeof a->least_soc_frac);
    assert_memory_equal(&a->meter, &b->meter, sizeof a->meter);
    for (size_t i = 0; i < a->n_cycles; i++) {
        const pr_cycle *x = &a->cycles[i], *y = &b->cycles[i];
        assert_memory_equal(&x->start_s, &y->start_s, sizeof x->start_s);
        assert_memory_equal(&x->pull_s, &y->pull_s, sizeof x->pull_s);
        assert_memory_equal(&x->rest_s, &y->rest_s, sizeof x->rest_s);
        assert_memory_equal(&x->travel_m, &y->travel_m, sizeof x->travel_m);
        assert_memory_equal(&x->soc_after_pull_frac, &y->soc_after_pull_frac,
                            sizeof x->soc_after_pull_frac);
        assert_int_equal(x->binding, y->binding);
    }
}

static void test_make_is_deterministic(void **state)
{
    (void)state;
    pr_scenario *s = variant(ORDINARY);
    pr_plan_set *one = make(s), *two = make(s);
    for (int i = 0; i < PR_PLAN_KINDS; i++)
        assert_same_plan(&one->plan[i], &two->plan[i]);
    pr_plan alone;
    for (int i = 0; i < PR_PLAN_KINDS; i++) { /* and the same when made alone */
        assert_int_equal(pr_plan_make_one(s, (pr_plan_kind)i, &alone, NULL, NULL), PR_OK);
        alone.simulations = one->plan[i].simulations; /* counts what led to it as well */
        assert_same_plan(&one->plan[i], &alone);
        pr_plan_free(&alone);
    }
    discard(one);
    discard(two);
    fixture_free(s);
}

/* What another plan's rests aim is found as without them: the plans for other ground, and for the
 * shortest, against the same planned by itself. */
static void test_look_out_finds_what_a_plan_of_its_own_finds(void **state)
{
    (void)state;
    for (int which = 0; which < VARIANTS; which++) {
        pr_scenario *s = variant(which);
        pr_plan_set *set = make(s);
        for (int k = 0; k < 2 * PR_CASE_COUNT; k++) {
            const pr_plan_kind kind = k % 2 == 0 ? PR_PLAN_EVEN : PR_PLAN_AS_NEEDED;
            pr_plan aimed, alone;
            assert_int_equal(pr_plan_look_out(s, set, kind, (pr_case)(k / 2), &aimed), PR_OK);
            pr_scenario other = *s;
            other.system.demand_case = (pr_case)(k / 2);
            if (other.system.demand_case == PR_CASE_LOW)
                other.plan.parts = set->plan[kind].parts;
            assert_int_equal(pr_plan_make_one(&other, kind, &alone, NULL, NULL), PR_OK);
            alone.simulations = aimed.simulations; /* fewer */
            alone.meter = aimed.meter;             /* left out */
            assert_int_equal(alone.go, aimed.go);
            assert_same_plan(&aimed, &alone);
            pr_plan_free(&aimed);
            pr_plan_free(&alone);
        }
        discard(set);
        fixture_free(s);
    }
}

/* Two parts of line use twice the rope: the line must be set out again on the way. */
static void test_rope_runs_in_and_is_set_out_again(void **state)
{
    (void)state;
    pr_scenario *s = variant(COOL_MOTOR);
    pr_plan_set *set = make(s);
    for (int i = 0; i < PR_PLAN_KINDS; i++) {
        const pr_plan *p = &set->plan[i];
        size_t rerigs = 0;
        for (size_t k = 0; k + 1 < p->n_cycles; k++) {
            assert_int_equal(p->cycles[k].rerig, p->cycles[k].pull.stop == PR_STOP_ROPE);
            rerigs += p->cycles[k].rerig;
            if (p->cycles[k].rerig) {
                assert_true(p->cycles[k].rest_s >= s->plan.rerig_s);
                assert_true(p->cycles[k + 1].layer < p->cycles[k].layer);
            }
        }
        /* usable rope, less than 30 m, is wound at 2 m a metre: 20 m take more than one, less than
         * three rigs */
        assert_int_equal(rerigs, 1);
    }
    discard(set);
    fixture_free(s);
}

static void test_limits_computed_and_given(void **state)
{
    (void)state;
    pr_scenario *s = variant(ORDINARY);
    pr_system *system = malloc(sizeof *system);
    assert_non_null(system);
    assert_int_equal(pr_system_derive(&s->system, system, NULL), PR_OK);
    pr_limits limits;
    double computed_frac, direct_frac;
    assert_int_equal(pr_plan_limits(s, system, &limits, &computed_frac), PR_OK);
    assert_int_equal(
        pr_cranking_reserve_frac(&s->system.cranking, &system->battery[0], 6.0, 6.0, &direct_frac),
        PR_OK);
    assert_near(computed_frac, direct_frac, 0.0);
    assert_near(limits.reserve_frac, computed_frac + s->plan.reserve_margin_frac, 1e-15);
    assert_near(limits.bus_min_V, 9.5 + 0.3, 1e-12); /* drop-out of the ignition, and the margin */
    assert_near(limits.motor_max_degC, 155.0 - 15.0,
                1e-12); /* class F (IEC 60085), and the margin */
    for (int i = PR_LIMIT_NONE + 1; i < PR_LIMIT_COUNT; i++)
        assert_true(limits.on[i]);
    /* the guard tightens each of them, by less than anyone can read */
    const pr_limits guarded = pr_plan_limits_guarded(&limits);
    assert_near(guarded.reserve_frac - limits.reserve_frac, 0.5e-4, 0.5e-4);
    assert_near(guarded.bus_min_V - limits.bus_min_V, 0.5e-2, 0.5e-2);
    assert_near(limits.motor_max_degC - guarded.motor_max_degC, 0.05, 0.05);
    assert_true(guarded.wire_max_degC_margin > limits.wire_max_degC_margin);
    assert_true(guarded.restart_margin_V > limits.restart_margin_V);
    s->plan.reserve_frac = 0.5;
    s->plan.bus_min_V = 11.0;
    s->plan.motor_max_degC = 120.0;
    assert_int_equal(pr_plan_limits(s, system, &limits, &computed_frac), PR_OK);
    assert_near(limits.reserve_frac, 0.5, 0.0);
    assert_near(limits.bus_min_V, 11.0, 0.0);
    assert_near(limits.motor_max_degC, 120.0, 0.0);
    free(system);
    fixture_free(s);
}

/* A given current, so many times: 300 A x 40 s, no way out to travel. */
static void test_counted_pulls_of_given_current(void **state)
{
    (void)state;
    pr_scenario *s = variant(ORDINARY);
    s->system.ambient_degC = 25.0;
    s->system.has_winch = false;
    s->system.work = PR_WORK_CURRENT;
    s->system.pull_A = 300.0;
    s->plan.pull_s = 40.0;
    s->plan.pulls = 12;
    s->plan.reserve_frac = 0.80;
    pr_plan_set *set = make(s);
    for (int i = 0; i < PR_PLAN_KINDS; i++) {
        const pr_plan *p = &set->plan[i];
        assert_true(p->go);
        assert_int_equal(p->n_cycles, 12);
        for (size_t k = 0; k < p->n_cycles; k++)
            assert_near(p->cycles[k].pull_s, 40.0, 1e-9);
        assert_true(p->least_soc_frac >= 0.80 - 1e-6);
        assert_int_equal(p->binding, PR_LIMIT_RESERVE);
    }
    discard(set);
    s->plan.pulls = 0; /* neither a distance nor a number */
    s->system.demand.n_segments = 0;
    pr_plan p;
    pr_diag diag = pr_diag_init();
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_EVEN, &p, NULL, &diag), PR_ERR_INPUT);
    assert_int_equal(diag.errors, 1);
    pr_diag_free(&diag);
    fixture_free(s);
}

static void test_cases_of_demand(void **state)
{
    (void)state;
    pr_scenario *s = variant(COOL_MOTOR);
    pr_plan_set *set = make(s);
    assert_true(set->case_go[PR_CASE_LIKELY] && set->case_go[PR_CASE_LOW]);
    assert_near(set->case_total_s[PR_CASE_LIKELY], set->plan[PR_PLAN_EVEN].total_s, 0.0);
    assert_true(set->case_total_s[PR_CASE_LOW] < set->case_total_s[PR_CASE_LIKELY]);
    /* the rest is the smallest for the likely case: it cannot hold for worse ground */
    assert_false(set->case_go[PR_CASE_HIGH]);
    assert_true(isnan(set->case_total_s[PR_CASE_HIGH]));
    assert_true(set->demand_N[PR_CASE_LOW] < set->demand_N[PR_CASE_LIKELY] &&
                set->demand_N[PR_CASE_LIKELY] < set->demand_N[PR_CASE_HIGH]);
    /* identity: (W sin a + M W) 1.2, and two parts by the Army's 10 % a sheave */
    const double weight_N = s->system.demand.weight_N;
    assert_near(set->demand_N[PR_CASE_LIKELY], 1.2 * weight_N * (sin(0.09) + 0.75), 1e-6);
    assert_near(set->fall_line_N[PR_CASE_LIKELY], set->demand_N[PR_CASE_LIKELY] * 1.1 / 2.0, 1e-6);
    assert_true(set->fall_line_N[PR_CASE_LIKELY] < set->capacity_N);
    discard(set);
    fixture_free(s);
}

/* The meter looks full long before the charge is back: the point of the whole exercise. */
static void test_meter_gap(void **state)
{
    (void)state;
    pr_scenario *s = variant(COOL_MOTOR);
    pr_plan_set *set = make(s);
    const pr_meter_gap *gap = &set->plan[PR_PLAN_EVEN].meter;
    assert_true(gap->meter_back_s >= 0.0 && gap->meter_back_s < 5.0);
    assert_true(gap->charge_back_frac >= 0.0 && gap->charge_back_frac < 0.1);
    assert_true(gap->full_back_s > 60.0); /* a quarter of an Ah or more at what a battery takes */
    assert_true(gap->soc_then_frac < s->system.start_soc_frac[0]);
    discard(set);
    s->system.has_alternator = false;
    pr_plan p;
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, &p, NULL, NULL), PR_OK);
    assert_true(isnan(p.meter.meter_back_s) && isnan(p.meter.full_back_s));
    pr_plan_free(&p);
    /* nor has one that never wakes, whose voltage comes to rest all the same */
    s->system.has_alternator = true;
    s->system.alternator.turn_on_rpm = 9000.0;
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, &p, NULL, NULL), PR_OK);
    assert_true(p.n_cycles > 0 && isnan(p.meter.meter_back_s));
    pr_plan_free(&p);
    fixture_free(s);
}

static int cancel_after(void *context, double done_frac)
{
    int *left = context;
    assert_true(done_frac >= 0.0 && done_frac <= 1.0);
    return (*left)-- <= 0;
}

static void test_cancelled(void **state)
{
    (void)state;
    pr_scenario *s = variant(ORDINARY);
    for (int calls = 0; calls < 6; calls++) {
        int left = calls;
        pr_plan_set set;
        assert_int_equal(pr_plan_make(s, &set, NULL, cancel_after, &left), PR_ERR_CANCELLED);
        assert_int_equal(set.plan[PR_PLAN_SHORTEST].status, PR_ERR_CANCELLED);
        pr_plan_set_free(&set);
    }
    fixture_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_make_every_rest_is_proven),
        cmocka_unit_test(test_shortest_beats_the_others),
        cmocka_unit_test(test_shortest_is_near_the_best_of_all),
        cmocka_unit_test(test_make_is_deterministic),
        cmocka_unit_test(test_look_out_finds_what_a_plan_of_its_own_finds),
        cmocka_unit_test(test_rope_runs_in_and_is_set_out_again),
        cmocka_unit_test(test_limits_computed_and_given),
        cmocka_unit_test(test_counted_pulls_of_given_current),
        cmocka_unit_test(test_cases_of_demand),
        cmocka_unit_test(test_meter_gap),
        cmocka_unit_test(test_cancelled),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
