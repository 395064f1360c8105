/* Risk: sampled systems, replays, needed rests, chances; threads change nothing. */
#include "planner/risk.h"

#include "unit/test_planner_fixture.h"

#include "planner/risk_run.h"

static void add_spread(pr_scenario *s, const char *key, double *field, pr_spread_kind kind,
                       double low, double likely, double high)
{
    pr_spread *p = &s->spread[s->n_spreads++];
    *p = (pr_spread){.kind = kind, .low = low, .likely = likely, .high = high, .sd = NOT_GIVEN};
    p->offset = (size_t)((const char *)field - (const char *)s);
    if (kind == PR_SPREAD_NORMAL)
        p->sd = 0.25 * (high - low);
    snprintf(p->key, sizeof p->key, "%s", key);
    *field = likely;
}

/* The fixture's recovery with spreads on every kind of component. */
static pr_scenario *uncertain_new(void)
{
    pr_scenario *s = fixture_new();
    pr_system_def *def = &s->system;
    def->demand.segments[0].length_m = 8.0; /* short: these tests replay it many times */
    add_spread(s, "weight", &def->demand.weight_N, PR_SPREAD_NORMAL, 23e3, 26e3, 29e3);
    add_spread(s, "slope", &def->demand.segments[0].slope_rad, PR_SPREAD_UNIFORM, .05, .09, .13);
    add_spread(s, "health", &def->battery[0].health_capacity_frac, PR_SPREAD_TRIANGLE, .7, .9, 1.0);
    add_spread(s, "charge", &def->start_soc_frac[0], PR_SPREAD_TRIANGLE, .8, .95, 1.0);
    add_spread(s, "alternator", &def->alternator.output_factor, PR_SPREAD_TRIANGLE, .8, 1.0, 1.05);
    add_spread(s, "heat", &def->motor.rated_rise_K, PR_SPREAD_TRIANGLE, 80.0, 100.0, 125.0);
    add_spread(s, "air", &def->ambient_degC, PR_SPREAD_UNIFORM, -5.0, 6.0, 20.0);
    add_spread(s, "lamps", &def->load[1].def.amps_A, PR_SPREAD_TRIANGLE, 5.0, 9.0, 12.0);
    add_spread(s, "cable", &def->run[PR_RUN_WINCH].def.length_m, PR_SPREAD_UNIFORM, 1.8, 2.2, 3.0);
    add_spread(s, "rope", &def->drum.rope_m, PR_SPREAD_UNIFORM, .008, .0083, .009);
    return s;
}

static pr_risk_options small_options(void)
{
    pr_risk_options o = pr_risk_options_default();
    o.samples = 64;
    o.threads = 1;
    return o;
}

typedef struct opened {
    pr_scenario *scenario;
    pr_risk *risk; /* its inputs, plan, limits */
    pr_risk_world world;
    pr_risk_bench *bench;
} opened;

static opened open_world(void)
{
    opened o = {.scenario = uncertain_new()};
    o.risk = calloc(1, sizeof *o.risk);
    o.bench = malloc(sizeof *o.bench);
    assert_non_null(o.risk);
    assert_non_null(o.bench);
    pr_plan_set set;
    assert_int_equal(pr_plan_make_one(o.scenario, PR_PLAN_EVEN, &o.risk->plan, &set, NULL), PR_OK);
    assert_true(o.risk->plan.go);
    o.risk->limits = set.limits;
    pr_plan_set_free(&set);
    assert_int_equal(pr_risk_inputs_list(o.scenario, o.risk, NULL), PR_OK);
    assert_int_equal(pr_risk_world_open(o.scenario, &o.risk->plan, &o.risk->limits, o.risk->input,
                                        o.risk->n_inputs, 1e-6, &o.world),
                     PR_OK);
    pr_risk_bench_open(&o.world, o.bench);
    return o;
}

static void close_world(opened *o)
{
    pr_risk_world_close(&o->world);
    pr_risk_free(o->risk);
    free(o->risk);
    free(o->bench);
    fixture_free(o->scenario);
}

static double *points_new(size_t n, size_t dims)
{
    double *points = malloc(n * dims * sizeof *points);
    assert_non_null(points);
    pr_sampling *sampling;
    assert_int_equal(pr_sampling_open(PR_SAMPLING_PLAIN, dims, 5, 0, &sampling), PR_OK);
    pr_sampling_next(sampling, n, points);
    pr_sampling_close(sampling);
    return points;
}

/* Every input has its quantile, in the system as in the scenario; the mire factor makes the
 * resistance of the equation in docs/physics/demand.md. */
static void test_bench_set_sets_every_input(void **state)
{
    (void)state;
    opened o = open_world();
    const size_t k = (size_t)o.world.n_inputs;
    double *points = points_new(20, k);
    for (size_t i = 0; i < 20; i++) {
        const double *u = &points[i * k];
        assert_int_equal(pr_risk_bench_set(&o.world, u, o.bench), PR_OK);
        const pr_demand_def *demand = &o.bench->system.def.demand;
        double factor = NOT_GIVEN;
        for (size_t j = 0; j < k; j++) {
            const pr_risk_input *input = &o.world.input[j];
            const double value = pr_spread_value(&input->spread, u[j]);
            if (input->is_mire)
                factor = value;
            else
                assert_near(*pr_spread_target(&o.bench->scenario, &input->spread), value, 0.0);
        }
        const double expected_N = (1.0 + demand->margin_frac) * demand->weight_N *
                                  (sin(demand->segments[0].slope_rad) + factor);
        assert_near(pr_demand_resistance_N(demand, 0.0, PR_CASE_LIKELY), expected_N, 1e-6);
        assert_near(demand->weight_N, o.bench->scenario.system.demand.weight_N, 0.0);
        assert_near(o.bench->system.def.battery[0].health_capacity_frac,
                    o.bench->scenario.system.battery[0].health_capacity_frac, 0.0);
    }
    free(points);
    close_world(&o);
}

/* All inputs likely: nothing but the plan's own recovery. */
static void test_replay_at_likely_values_is_the_plan(void **state)
{
    (void)state;
    opened o = open_world();
    double u[PR_RISK_INPUTS_MAX];
    pr_risk_likely_quantiles(&o.world, u);
    for (int i = 0; i < o.world.n_inputs; i++) /* to a double's last digits */
        assert_near(pr_spread_value(&o.world.input[i].spread, u[i]), o.world.input[i].spread.likely,
                    1e-9 * fabs(o.world.input[i].spread.likely) + 1e-12);
    pr_risk_outcome outcome;
    assert_int_equal(pr_risk_bench_set(&o.world, u, o.bench), PR_OK);
    pr_risk_replay(&o.world, o.world.rest_s, o.bench, &outcome);
    assert_int_equal(outcome.status, PR_OK);
    assert_true(outcome.at_goal);
    assert_int_equal(outcome.pulls, o.risk->plan.n_cycles);
    assert_near(outcome.total_s, o.risk->plan.total_s, 0.5);
    assert_near(outcome.least_soc_frac, o.risk->plan.least_soc_frac, 1e-4);
    assert_near(outcome.most_armature_degC, o.risk->plan.most_armature_degC, 0.2);
    close_world(&o);
}

/* The verdict by extremes, limits only watched, against the planner's replay, limits obeyed. */
static void test_replay_agrees_with_plan_replay(void **state)
{
    (void)state;
    enum { N = 60 };
    opened o = open_world();
    const size_t k = (size_t)o.world.n_inputs;
    double *points = points_new(N, k);
    pr_scenario *sampled = malloc(sizeof *sampled);
    assert_non_null(sampled);
    int held = 0, differ = 0;
    for (size_t i = 0; i < N; i++) {
        pr_risk_outcome outcome;
        assert_int_equal(pr_risk_bench_set(&o.world, &points[i * k], o.bench), PR_OK);
        pr_risk_replay(&o.world, o.world.rest_s, o.bench, &outcome);
        assert_int_equal(outcome.status, PR_OK);
        *sampled = o.bench->scenario;
        bool holds;
        pr_phase_end worst;
        assert_int_equal(
            pr_plan_replay(sampled, &o.risk->plan, &o.risk->limits, NULL, NULL, &holds, &worst),
            PR_OK);
        held += holds;
        if (holds == outcome.holds) {
            if (!holds && worst.stop == PR_STOP_LIMIT)
                assert_int_equal(worst.limit, outcome.first);
            continue;
        }
        differ++; /* only what lies on the edge may be judged otherwise */
        assert_true(fabs(outcome.margin) < 0.02);
    }
    assert_true(held > 5 && held < N - 5); /* both kinds were seen */
    assert_true(differ <= 2);
    free(sampled);
    free(points);
    close_world(&o);
}

static void test_rest_find_holds_and_less_does_not(void **state)
{
    (void)state;
    enum { N = 25 };
    opened o = open_world();
    const size_t k = (size_t)o.world.n_inputs;
    double *points = points_new(N, k);
    int found = 0;
    for (size_t i = 0; i < N; i++) {
        pr_risk_outcome outcome;
        pr_risk_rest rest;
        assert_int_equal(pr_risk_bench_set(&o.world, &points[i * k], o.bench), PR_OK);
        pr_risk_replay(&o.world, o.world.rest_s, o.bench, &outcome);
        pr_risk_rest_find(&o.world, o.world.rest_s, &outcome, o.bench, &rest);
        assert_int_equal(rest.status, PR_OK);
        if (isinf(rest.rest_s)) {
            pr_risk_replay(&o.world, o.scenario->plan.rest_max_s, o.bench, &outcome);
            assert_false(outcome.holds);
            continue;
        }
        found++;
        pr_risk_replay(&o.world, rest.rest_s, o.bench, &outcome);
        assert_true(outcome.holds);
        assert_near(outcome.total_s, rest.total_s, 1e-9);
        if (!(rest.rest_s > o.scenario->plan.rest_min_s))
            continue;
        const double less_s = rest.rest_s - fmax(1.0, 0.02 * rest.rest_s) - 1e-6;
        pr_risk_replay(&o.world, less_s, o.bench, &outcome);
        assert_false(outcome.holds);
    }
    assert_true(found > N / 2);
    free(points);
    close_world(&o);
}

static void assert_same_risk(const pr_risk *a, const pr_risk *b)
{
    assert_int_equal(a->n_rests, b->n_rests);
    assert_memory_equal(a->rests, b->rests, a->n_rests * sizeof *a->rests);
    assert_memory_equal(&a->holds, &b->holds, sizeof a->holds);
    assert_memory_equal(&a->out, &b->out, sizeof a->out);
    assert_memory_equal(a->breaks, b->breaks, sizeof a->breaks);
    assert_memory_equal(a->first, b->first, sizeof a->first);
    assert_memory_equal(&a->total_s, &b->total_s, sizeof a->total_s);
    assert_memory_equal(&a->least_soc_frac, &b->least_soc_frac, sizeof a->least_soc_frac);
    assert_int_equal(a->recoveries, b->recoveries);
    for (int i = 0; i < a->n_inputs; i++) {
        assert_memory_equal(&a->input[i].rest, &b->input[i].rest, sizeof a->input[i].rest);
        assert_memory_equal(&a->input[i].rest_low_s, &b->input[i].rest_low_s, sizeof(double));
    }
    for (int h = 0; h < PR_RISK_HOLDS; h++) {
        assert_memory_equal(&a->hold[h].rest_s, &b->hold[h].rest_s, sizeof(double));
        assert_int_equal(a->hold[h].verified.count, b->hold[h].verified.count);
    }
}

static void test_find_threads_change_nothing(void **state)
{
    (void)state;
    pr_scenario *s = uncertain_new();
    pr_risk_options options = small_options();
    pr_risk *one = malloc(sizeof *one), *three = malloc(sizeof *three);
    assert_non_null(one);
    assert_non_null(three);
    assert_int_equal(pr_risk_find(s, &options, one, NULL), PR_OK);
    options.threads = 3;
    assert_int_equal(pr_risk_find(s, &options, three, NULL), PR_OK);
    assert_same_risk(one, three);
    pr_risk_free(three);
    options.seed = 2;
    assert_int_equal(pr_risk_find(s, &options, three, NULL), PR_OK);
    assert_memory_not_equal(one->rests, three->rests, one->n_rests * sizeof *one->rests);
    pr_risk_free(one);
    pr_risk_free(three);
    free(one);
    free(three);
    fixture_free(s);
}

static void test_find_shares_add_up(void **state)
{
    (void)state;
    pr_scenario *s = uncertain_new();
    const pr_risk_options options = small_options();
    pr_risk *r = malloc(sizeof *r);
    assert_non_null(r);
    assert_int_equal(pr_risk_find(s, &options, r, NULL), PR_OK);
    assert_int_equal(r->done, 64);
    assert_int_equal(r->not_computed, 0);
    size_t failed = 0;
    for (int l = 0; l < PR_LIMIT_COUNT; l++) {
        failed += r->first[l].count;
        assert_true(l == PR_LIMIT_NONE || r->breaks[l].count >= r->first[l].count);
    }
    assert_int_equal(failed + r->holds.count, r->done);
    assert_true(r->out.count >= r->holds.count);
    assert_int_equal(r->out.count + r->stuck.count + r->over_time.count <= r->done, 1);
    assert_true(r->rest.q05 <= r->rest.q50 && r->rest.q50 <= r->rest.q95);
    assert_true(r->least_soc_frac.worst <= r->least_soc_frac.q05);
    /* the same samples: what needs no more rest than the plan's is what the plan holds for */
    size_t enough = 0;
    for (size_t i = 0; i < r->n_rests; i++)
        enough += r->rests[i] <= r->rest_s;
    assert_int_equal(enough, r->rest_enough.count);
    for (int h = 0; h < PR_RISK_HOLDS; h++)
        assert_true(r->hold[h].found ? r->hold[h].rest_s >= r->rest.q50 : r->rest_none.count > 0);
    pr_risk_free(r);
    free(r);
    fixture_free(s);
}

static int cancel_at_half_of_the_chance(void *context, double done_frac)
{
    (void)done_frac;
    return ++*(int *)context >= 30;
}

static void test_find_cancelled_tells_what_is_known(void **state)
{
    (void)state;
    pr_scenario *s = uncertain_new();
    pr_risk_options options = small_options();
    int calls = 0;
    options.progress = cancel_at_half_of_the_chance;
    options.progress_context = &calls;
    pr_risk *r = malloc(sizeof *r);
    assert_non_null(r);
    assert_int_equal(pr_risk_find(s, &options, r, NULL), PR_ERR_CANCELLED);
    assert_true(r->cancelled);
    assert_int_equal(r->done, 30);
    assert_int_equal(r->holds.n, 30);
    assert_int_equal(r->n_rests, 0);
    assert_false(r->hold[0].found);
    pr_risk_free(r);
    free(r);
    fixture_free(s);
}

static void test_find_refuses(void **state)
{
    (void)state;
    pr_scenario *s = uncertain_new();
    pr_risk_options options = small_options();
    pr_risk *r = malloc(sizeof *r);
    assert_non_null(r);
    pr_diag diag = pr_diag_init();
    s->spread[2].likely = 0.2; /* below its low */
    assert_int_equal(pr_risk_find(s, &options, r, &diag), PR_ERR_INPUT);
    assert_non_null(strstr(diag.entries[0].text, "health"));
    pr_risk_free(r);
    pr_diag_free(&diag);
    diag = pr_diag_init();
    s->spread[2].likely = 0.9;
    s->spread[5].high = 1e9; /* a heat rise that no motor has */
    assert_int_equal(pr_risk_find(s, &options, r, &diag), PR_ERR_INPUT);
    assert_non_null(strstr(diag.entries[0].text, "heat: its high end"));
    pr_risk_free(r);
    pr_diag_free(&diag);
    options.samples = 1;
    assert_int_equal(pr_risk_find(s, &options, r, NULL), PR_ERR_RANGE);
    options = (pr_risk_options){.samples = 64};
    assert_int_equal(pr_risk_find(s, &options, r, NULL), PR_ERR_INTERNAL);
    free(r);
    fixture_free(s);
}

static void test_find_needs_a_spread(void **state)
{
    (void)state;
    pr_scenario *s = uncertain_new();
    const pr_risk_options options = small_options();
    pr_diag diag = pr_diag_init();
    pr_risk *r = malloc(sizeof *r);
    assert_non_null(r);
    s->n_spreads = 0;
    s->system.demand.margin_frac = 0.0;
    s->system.demand.segments[0].mire = PR_MIRE_NONE;
    for (int c = 0; c < PR_CASE_COUNT; c++)
        s->system.demand.segments[0].surface_frac[c] = 0.5;
    assert_int_equal(pr_risk_find(s, &options, r, &diag), PR_ERR_INPUT);
    assert_int_equal(diag.errors, 1);
    pr_risk_free(r);
    pr_diag_free(&diag);
    free(r);
    fixture_free(s);
}

/* Likely ground, but the winch cannot do what the high case asks: stuck there, whatever the rest.
 */
static void test_find_counts_overload_as_stuck(void **state)
{
    (void)state;
    pr_scenario *s = uncertain_new();
    pr_risk_options options = small_options();
    pr_risk *r = malloc(sizeof *r);
    assert_non_null(r);
    s->spread[0].high = 90e3;
    s->spread[0].kind = PR_SPREAD_UNIFORM;
    assert_int_equal(pr_risk_find(s, &options, r, NULL), PR_OK);
    assert_true(r->overload.count > 16);
    assert_true(r->stuck.count >= r->overload.count);
    assert_true(r->rest_none.frac > 0.2);
    assert_false(r->hold[1].found); /* no rest helps */
    pr_risk_free(r);
    free(r);
    fixture_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bench_set_sets_every_input),
        cmocka_unit_test(test_replay_at_likely_values_is_the_plan),
        cmocka_unit_test(test_replay_agrees_with_plan_replay),
        cmocka_unit_test(test_rest_find_holds_and_less_does_not),
        cmocka_unit_test(test_find_threads_change_nothing),
        cmocka_unit_test(test_find_shares_add_up),
        cmocka_unit_test(test_find_cancelled_tells_what_is_known),
        cmocka_unit_test(test_find_refuses),
        cmocka_unit_test(test_find_needs_a_spread),
        cmocka_unit_test(test_find_counts_overload_as_stuck),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
