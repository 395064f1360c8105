/* The tables of the field against runs by the engine alone: what they say must hold. */
#include "planner/fieldtable.h"
#include "test_planner_fixture.h"

typedef struct world {
    pr_scenario *scenario;
    pr_plan_set set;
    const pr_plan *plan;
    pr_system *system;
    pr_field_table table;
} world;

static int set_up(void **state, pr_limit binding)
{
    world *w = calloc(1, sizeof *w);
    assert_non_null(w);
    w->scenario = fixture_new();
    if (binding == PR_LIMIT_MOTOR_HEAT) {
        w->scenario->system.demand.weight_N *= 1.25;
    } else {
        w->scenario->system.start_soc_frac[0] = 0.56;
        w->scenario->plan.reserve_frac = 0.50;
    }
    assert_int_equal(pr_plan_make(w->scenario, &w->set, NULL, NULL, NULL), PR_OK);
    w->plan = &w->set.plan[PR_PLAN_EVEN];
    assert_true(w->plan->go && w->plan->n_cycles > 8);
    assert_int_equal(w->plan->binding, binding); /* else the tests below would test nothing */
    assert_true(w->plan->rest_s > 30.0);
    w->system = fixture_system(w->scenario, w->plan);
    assert_int_equal(
        pr_field_table_make(w->scenario, w->plan, &w->set.limits, &w->table, NULL, NULL), PR_OK);
    *state = w;
    return 0;
}

static int set_up_heat(void **state)
{
    return set_up(state, PR_LIMIT_MOTOR_HEAT);
}

static int set_up_reserve(void **state)
{
    return set_up(state, PR_LIMIT_RESERVE);
}

static int tear_down(void **state)
{
    world *w = *state;
    free(w->system);
    pr_plan_set_free(&w->set);
    fixture_free(w->scenario);
    free(w);
    return 0;
}

/* A driver who pulls as planned, stops early and, at most `over_most` times, pulls too long; rests
 * by the table, and never longer. */
typedef struct drive {
    const world *w;
    pr_sim sim;
    double pulled_s, later_frac;
    int level, over_most;
    bool rerig;
    size_t n;
    unsigned seed;
    double hottest_degC; /* above the limit, in pulls that kept to the plan */
    double lowest_frac;  /* below the reserve */
} drive;

static double draw(drive *d)
{
    d->seed = d->seed * 1664525u + 1013904223u;
    return (double)(d->seed >> 8) / 16777216.0;
}

static double choose_length(drive *d, bool *over)
{
    const double pull_s = d->w->plan->pull_s, which = draw(d), share = draw(d);
    *over = which > 0.75 && d->level < d->over_most;
    if (*over)
        return round(pull_s * (1.05 + 0.95 * share));
    return which < 0.2 ? round(pull_s * (0.3 + 0.6 * share)) : pull_s;
}

/* Pulls; true when out. Limits of other pulls than those too long are watched. */
static bool drive_pull(drive *d, double length_s, bool over)
{
    const world *w = d->w;
    pr_limits none = w->set.limits;
    for (int i = 0; i < PR_LIMIT_COUNT; i++)
        none.on[i] = false;
    const pr_run_options options = pr_run_options_default();
    const pr_phase pull = {.activity = PR_PULL,
                           .engine_rpm = w->plan->pull_rpm,
                           .duration_s = length_s,
                           .stop_travel_m = w->plan->distance_m};
    pr_phase_end end;
    assert_int_equal(pr_sim_run(w->system, &d->sim, &pull, &none, &options, NULL, &end), PR_OK);
    assert_true(end.stop == PR_STOP_TIME || end.stop == PR_STOP_TRAVEL || end.stop == PR_STOP_ROPE);
    if (!over) {
        const pr_extremes *e = &end.extremes;
        d->hottest_degC =
            fmax(d->hottest_degC, e->most_armature_degC - w->set.limits.motor_max_degC);
        d->lowest_frac = fmax(d->lowest_frac, w->set.limits.reserve_frac - e->least_soc_frac);
        assert_true(e->least_box_V > w->set.limits.bus_min_V);
    }
    d->rerig = end.stop == PR_STOP_ROPE;
    const pr_field_rest rest =
        pr_field_look(&w->table, d->pulled_s, d->level, d->later_frac, end.duration_s);
    assert_int_equal(rest.verdict, PR_FIELD_WAIT);
    d->pulled_s += end.duration_s;
    d->later_frac = rest.later_frac;
    d->level += over;
    d->n++;
    if (end.stop == PR_STOP_TRAVEL)
        return true;
    const pr_phase pause = {.activity = PR_REST,
                            .engine_rpm = w->plan->rest_rpm,
                            .duration_s =
                                d->rerig ? fmax(rest.rest_s, w->table.rerig_s) : rest.rest_s,
                            .stop_travel_m = NOT_GIVEN};
    assert_int_equal(pr_sim_run(w->system, &d->sim, &pause, &none, &options, NULL, &end), PR_OK);
    if (d->rerig)
        pr_sim_rerig(w->system, &d->sim, fixture_rope_m(w->system, d->sim.y[w->system->at.travel]));
    return false;
}

static drive run_drive(const world *w, unsigned seed, int over_most)
{
    drive d = {
        .w = w, .over_most = over_most, .seed = seed, .hottest_degC = -1e9, .lowest_frac = -1.0};
    assert_int_equal(pr_sim_start(w->system, &d.sim), PR_OK);
    bool out = false;
    while (!out && d.n < 10 * w->plan->n_cycles) {
        bool over;
        const double length_s = choose_length(&d, &over);
        out = drive_pull(&d, length_s, over);
    }
    assert_true(out);
    return d;
}

static void test_look_as_planned_is_the_plan(void **state)
{
    const world *w = *state;
    double pulled_s = 0.0;
    for (size_t i = 0; i + 1 < w->plan->n_cycles; i++) {
        const pr_cycle *c = &w->plan->cycles[i];
        const pr_field_rest rest = pr_field_look(&w->table, pulled_s, 0, 0.0, w->plan->pull_s);
        assert_int_equal(rest.verdict, PR_FIELD_WAIT);
        assert_near(rest.rest_s, c->rerig ? w->plan->rest_s : c->rest_s, 1e-9);
        assert_near(rest.later_frac, 0.0, 1e-12);
        pulled_s += c->pull_s;
    }
}

/* One pull of another length, then the plan: the remainder holds exactly, by definition. */
static void test_one_odd_pull_keeps_all_limits(void **state)
{
    const world *w = *state;
    for (int k = 0; k < w->table.n_rows; k += 3)
        for (int l = 0; l < PR_FIELD_LENGTHS; l++) {
            drive d = {.w = w, .hottest_degC = -1e9, .lowest_frac = -1.0};
            assert_int_equal(pr_sim_start(w->system, &d.sim), PR_OK);
            bool out = false;
            for (int i = 0; !out && d.n < 200; i++)
                out = drive_pull(&d, i == k ? w->table.length_s[l] : w->plan->pull_s,
                                 i == k && l > w->table.planned);
            assert_true(out);
            assert_true(d.hottest_degC < 0.01 && d.lowest_frac < 1e-4);
        }
}

/* Many odd pulls: the tables look at one at a time, so that nothing proves that limits are kept to
 * the last digit; they are to within half a degree and a fifth of a point. */
static void test_many_odd_pulls_stay_near_the_limits(void **state)
{
    const world *w = *state;
    double hottest_degC = -1e9, lowest_frac = -1.0;
    for (unsigned seed = 1; seed <= 200; seed++) {
        const drive d = run_drive(w, seed * 7919u, PR_FIELD_LEVELS - 1);
        hottest_degC = fmax(hottest_degC, d.hottest_degC);
        lowest_frac = fmax(lowest_frac, d.lowest_frac);
    }
    print_message("missed by %.2f K and %.2f points\n", hottest_degC, 100.0 * lowest_frac);
    assert_true(hottest_degC < 0.5);
    assert_true(lowest_frac < 0.002);
}

static void test_longer_pulls_never_need_less(void **state)
{
    const world *w = *state;
    const double pull_s = w->plan->pull_s;
    for (double at_s = 0.0; at_s < 400.0; at_s += 17.0)
        for (int level = 0; level < PR_FIELD_LEVELS; level++) {
            double rest_s = 0.0;
            for (double length_s = pull_s; length_s < 2.0 * pull_s; length_s += 1.0) {
                const pr_field_rest rest = pr_field_look(&w->table, at_s, level, 0.0, length_s);
                assert_true(rest.rest_s >= rest_s);
                rest_s = rest.rest_s;
            }
        }
    const pr_field_rest beyond = pr_field_look(&w->table, 0.0, 0, 0.0, 2.5 * pull_s);
    assert_int_equal(beyond.verdict, PR_FIELD_STOP);
}

/* Engine off: the charge behind each band, simulated anew, gives that reading and that verdict. */
static void test_meter_off_agrees_with_runs(void **state)
{
    const world *w = *state;
    const pr_field_bands *bands = &w->table.meter[PR_FIELD_OFF];
    assert_true(bands->n >= 3);
    int seen = 0;
    for (int i = 1; i < bands->n; i++) {
        const pr_field_band *b = &bands->band[i];
        if (b->verdict == PR_FIELD_STOP || isnan(b->soc_frac))
            continue;
        pr_scenario s = *w->scenario;
        s.system.start_soc_frac[0] = b->soc_frac;
        pr_plan plan = *w->plan;
        plan.first_rest_s = b->wait_s;
        pr_limits limits = w->set.limits;
        limits.on[PR_LIMIT_MOTOR_HEAT] = limits.on[PR_LIMIT_CABLE_HEAT] = false;
        bool holds;
        assert_int_equal(pr_plan_replay(&s, &plan, &limits, NULL, NULL, &holds, NULL), PR_OK);
        assert_true(holds);
        const pr_field_band read = pr_field_read(&w->table, PR_FIELD_OFF, 0.0, b->from_V + 0.001);
        assert_int_equal(read.verdict, b->verdict);
        seen++;
    }
    assert_true(seen >= 1);
    /* what an alternator shows is no word about the battery, and no reason to wait */
    for (double V = 14.0; V < 18.0; V += 0.5) {
        const pr_field_band read = pr_field_read(&w->table, PR_FIELD_OFF, 0.0, V);
        assert_int_equal(read.verdict, PR_FIELD_STOP);
        assert_int_equal(read.reason, PR_FIELD_ENGINE_ON);
    }
}

/* Ends of every pull and rest of the plan read as planned; a dead alternator does not. */
static void test_meter_agrees_with_the_plan(void **state)
{
    const world *w = *state;
    double pulled_s = 0.0;
    for (size_t i = 0; i + 1 < w->plan->n_cycles; i++) {
        const pr_cycle *c = &w->plan->cycles[i];
        const pr_field_band in_pull =
            pr_field_read(&w->table, PR_FIELD_PULLING, pulled_s, c->pull.extremes.least_box_V);
        assert_int_equal(in_pull.verdict, PR_FIELD_PULL);
        const double rest_V = c->rest.last.box_V[0];
        assert_int_equal(pr_field_read(&w->table, PR_FIELD_RESTING, pulled_s, rest_V).verdict,
                         PR_FIELD_WAIT);
        assert_int_equal(pr_field_read(&w->table, PR_FIELD_RESTED, pulled_s, rest_V).verdict,
                         PR_FIELD_PULL);
        pulled_s += c->pull_s;
    }
    assert_int_equal(pr_field_read(&w->table, PR_FIELD_RESTED, 0.0, 12.3).reason,
                     PR_FIELD_NOT_CHARGING);
    assert_int_equal(pr_field_read(&w->table, PR_FIELD_RESTED, 0.0, 15.4).reason,
                     PR_FIELD_OVERCHARGING);
    assert_int_equal(pr_field_read(&w->table, PR_FIELD_PULLING, 0.0, 8.0).verdict, PR_FIELD_STOP);
    assert_int_equal(pr_field_read(&w->table, PR_FIELD_OFF, 0.0, NOT_GIVEN).reason,
                     PR_FIELD_NO_READING);
    assert_int_equal(pr_field_read(&w->table, PR_FIELD_OFF, 0.0, -1.0).reason, PR_FIELD_NO_READING);
}

static void test_make_refuses_a_no(void **state)
{
    const world *w = *state;
    pr_plan no = *w->plan;
    no.go = false;
    pr_field_table *table = malloc(sizeof *table);
    assert_non_null(table);
    assert_int_equal(pr_field_table_make(w->scenario, &no, &w->set.limits, table, NULL, NULL),
                     PR_ERR_INPUT);
    free(table);
}

static int cancel(void *context, double done_frac)
{
    (void)context;
    return done_frac > 0.2;
}

static void test_make_can_be_cancelled(void **state)
{
    const world *w = *state;
    pr_field_table *table = malloc(sizeof *table);
    assert_non_null(table);
    assert_int_equal(pr_field_table_make(w->scenario, w->plan, &w->set.limits, table, cancel, NULL),
                     PR_ERR_CANCELLED);
    free(table);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_look_as_planned_is_the_plan),
        cmocka_unit_test(test_one_odd_pull_keeps_all_limits),
        cmocka_unit_test(test_many_odd_pulls_stay_near_the_limits),
        cmocka_unit_test(test_longer_pulls_never_need_less),
        cmocka_unit_test(test_meter_off_agrees_with_runs),
        cmocka_unit_test(test_meter_agrees_with_the_plan),
        cmocka_unit_test(test_make_refuses_a_no),
        cmocka_unit_test(test_make_can_be_cancelled),
    };
    return cmocka_run_group_tests_name("motor heat binds", tests, set_up_heat, tear_down) +
           cmocka_run_group_tests_name("reserve binds", tests, set_up_reserve, tear_down);
}
