/* Readings: healthy values against service data, faults against a second way to compute them, and
 * the ranking against faults that were simulated on purpose. */
#include "planner/readings.h"
#include "support/published.h"
#include "test_planner_fixture.h"

static pr_readings *readings_of(const pr_scenario *s)
{
    pr_readings *r = malloc(sizeof *r);
    assert_non_null(r);
    pr_diag diag = pr_diag_init();
    assert_int_equal(pr_readings_make(s, 10.0, r, &diag), PR_OK);
    assert_int_equal(diag.errors, 0);
    pr_diag_free(&diag);
    return r;
}

/* A rig with enough to switch on. */
static pr_scenario *rig(void)
{
    pr_scenario *s = fixture_new();
    s->system.ambient_degC = 20.0;
    fixture_load(&s->system, "lights and heater", 30.0, PR_WHEN_NEVER);
    return s;
}

static double at(const pr_readings *r, pr_rig_fault fault, pr_reading reading)
{
    return r->fault[fault].at[reading].V;
}

static void test_readings_healthy_as_service_data_have_it(void **state)
{
    (void)state;
    pr_scenario *s = rig();
    s->system.start_soc_frac[0] = 1.0;
    s->system.fast_idle_rpm = 1500.0;
    pr_readings *r = readings_of(s);
    const double off_V = at(r, PR_FAULT_NONE, PR_READING_OFF_RESTED);
    pr_published_check("readings-off", off_V);
    pr_published_check("readings-no-load-1500",
                       at(r, PR_FAULT_NONE, PR_READING_FAST_IDLE_LOADS_OFF));
    pr_published_check("readings-no-load-rise",
                       at(r, PR_FAULT_NONE, PR_READING_FAST_IDLE_LOADS_OFF) - off_V);
    pr_published_check("readings-idle-low", at(r, PR_FAULT_NONE, PR_READING_IDLE_LOADS_OFF));
    double least_V = HUGE_VAL, most_V = 0.0;
    for (int i = PR_READING_IDLE_LOADS_OFF; i <= PR_READING_ALL_ON_ALTERNATOR; i++) {
        least_V = fmin(least_V, at(r, PR_FAULT_NONE, (pr_reading)i));
        most_V = fmax(most_V, at(r, PR_FAULT_NONE, (pr_reading)i));
    }
    pr_published_check("readings-healthy-least", least_V);
    pr_published_check("readings-healthy-most", most_V);
    free(r);
    s->system.fast_idle_rpm = 2000.0;
    r = readings_of(s);
    pr_published_check("readings-load-rise", at(r, PR_FAULT_NONE, PR_READING_ALL_ON_BATTERY) -
                                                 at(r, PR_FAULT_NONE, PR_READING_OFF_RESTED));
    free(r);
    fixture_free(s);
}

/* One reading again, by the engine alone. */
static void test_readings_equal_a_run_of_the_engine(void **state)
{
    (void)state;
    pr_scenario *s = rig();
    pr_readings *r = readings_of(s);
    pr_system_def *def = malloc(sizeof *def);
    assert_non_null(def);
    *def = s->system;
    for (int k = 0; k < def->n_loads; k++)
        def->load[k].def.when = PR_WHEN_ALWAYS;
    def->alternator.belt_slip_frac = 1.0 / 3.0;
    pr_sim sim;
    pr_system *system = fixture_start(def, &sim);
    const pr_phase_end end = fixture_run(system, &sim, PR_REST, def->idle_rpm, 60.0);
    assert_near(at(r, PR_FAULT_BELT_SLIPS, PR_READING_IDLE_ALL_ON), end.last.box_V[0], 1e-9);
    free(def);
    free(system);
    free(r);
    fixture_free(s);
}

/* A joint drops amps times 20 mohm more, where the alternator does not change what it gives. */
static void test_readings_bad_joints_drop_as_ohm_says(void **state)
{
    (void)state;
    pr_scenario *s = rig();
    pr_readings *r = readings_of(s);
    const double box_V = at(r, PR_FAULT_JOINT_BOX, PR_READING_FAST_IDLE_ALL_ON);
    const double post_V = at(r, PR_FAULT_JOINT_BOX, PR_READING_ALL_ON_BATTERY);
    assert_near(post_V - box_V, 0.020 * 59.0, 0.01); /* 8 + 9 + 12 + 30 A, all constant-current */
    assert_near(at(r, PR_FAULT_JOINT_WINCH, PR_READING_IN_PULL),
                at(r, PR_FAULT_NONE, PR_READING_IN_PULL), 1e-6);
    assert_true(at(r, PR_FAULT_JOINT_WINCH, PR_READING_IN_PULL_WINCH) <
                at(r, PR_FAULT_NONE, PR_READING_IN_PULL_WINCH) - 3.0);
    assert_near(at(r, PR_FAULT_REGULATOR_HIGH, PR_READING_FAST_IDLE_LOADS_OFF) -
                    at(r, PR_FAULT_NONE, PR_READING_FAST_IDLE_LOADS_OFF),
                0.8, 0.1); /* less what more charging current drops */
    assert_true(at(r, PR_FAULT_ALTERNATOR_DEAD, PR_READING_IDLE_ALL_ON) <
                at(r, PR_FAULT_NONE, PR_READING_OFF_RESTED));
    free(r);
    fixture_free(s);
}

/* Feeds each fault's own readings back, blurred by less than a meter blurs. */
static void test_readings_rank_finds_every_fault(void **state)
{
    (void)state;
    pr_scenario *s = rig();
    pr_readings *r = readings_of(s);
    for (int f = 0; f < PR_FAULT_COUNT; f++) {
        if (!r->fault[f].possible)
            continue;
        pr_measured measured = {0};
        for (int i = 0; i < PR_READING_COUNT; i++) {
            measured.given[i] = true;
            measured.V[i] = r->fault[f].at[i].V + (i % 2 == 0 ? 0.04 : -0.04);
        }
        pr_ranking ranking;
        assert_int_equal(pr_readings_rank(r, &measured, &ranking), PR_OK);
        assert_int_equal(ranking.fit[0].fault, f);
        assert_true(ranking.fit[0].fits);
        /* by belt or by diode, too little output is too little output */
        const bool weak = f == PR_FAULT_BELT_SLIPS || f == PR_FAULT_DIODE_LOST;
        assert_int_equal(ranking.n_as_good, weak ? 2 : 1);
        if (weak)
            assert_int_equal(ranking.fit[1].fault, PR_FAULT_BELT_SLIPS + PR_FAULT_DIODE_LOST - f);
        for (size_t i = 1; i < ranking.n; i++)
            assert_true(ranking.fit[i].chi2 >= ranking.fit[i - 1].chi2);
    }
    free(r);
    fixture_free(s);
}

static void test_readings_rank_says_what_it_cannot_tell(void **state)
{
    (void)state;
    pr_scenario *s = rig();
    pr_readings *r = readings_of(s);
    pr_measured measured = {0};
    pr_ranking ranking;
    assert_int_equal(pr_readings_rank(r, &measured, &ranking), PR_ERR_INPUT);
    /* at rest a dead alternator looks like a healthy one */
    measured.given[PR_READING_OFF_RESTED] = true;
    measured.V[PR_READING_OFF_RESTED] = at(r, PR_FAULT_NONE, PR_READING_OFF_RESTED);
    assert_int_equal(pr_readings_rank(r, &measured, &ranking), PR_OK);
    assert_true(ranking.n_as_good > 5);
    bool healthy = false, dead = false;
    for (size_t i = 0; i < ranking.n; i++) {
        healthy = healthy || (ranking.fit[i].fault == PR_FAULT_NONE && ranking.fit[i].as_good);
        dead = dead || (ranking.fit[i].fault == PR_FAULT_ALTERNATOR_DEAD && ranking.fit[i].as_good);
    }
    assert_true(healthy && dead);
    /* and what is asked for next does tell them apart */
    const pr_fit *other = NULL;
    for (size_t i = 1; i < ranking.n; i++)
        if (ranking.fit[i].fault == PR_FAULT_ALTERNATOR_DEAD)
            other = &ranking.fit[i];
    assert_non_null(other);
    assert_true(other->next != PR_READING_COUNT && other->next != PR_READING_OFF_RESTED);
    measured.given[other->next] = true;
    measured.V[other->next] = at(r, PR_FAULT_ALTERNATOR_DEAD, other->next);
    assert_int_equal(pr_readings_rank(r, &measured, &ranking), PR_OK);
    assert_int_equal(ranking.fit[0].fault, PR_FAULT_ALTERNATOR_DEAD);
    free(r);
    fixture_free(s);
}

/* With no tolerance left the fit is ordinary least squares: (d / s)^2. */
static void test_readings_chi2_of_one_reading(void **state)
{
    (void)state;
    pr_scenario *s = rig();
    pr_readings *r = readings_of(s);
    for (int f = 0; f < PR_FAULT_COUNT; f++)
        for (int v = 0; v < PR_VARY_COUNT; v++)
            r->fault[f].at[PR_READING_IDLE_ALL_ON].vary_V[v] = 0.0;
    pr_measured measured = {0};
    measured.given[PR_READING_IDLE_ALL_ON] = true;
    measured.V[PR_READING_IDLE_ALL_ON] = at(r, PR_FAULT_NONE, PR_READING_IDLE_ALL_ON) + 0.15;
    pr_ranking ranking;
    assert_int_equal(pr_readings_rank(r, &measured, &ranking), PR_OK);
    for (size_t i = 0; i < ranking.n; i++)
        if (ranking.fit[i].fault == PR_FAULT_NONE) {
            assert_near(ranking.fit[i].chi2, 4.0, 1e-9); /* two standard deviations of 0.075 V */
            assert_near(ranking.fit[i].worst_V, 0.15, 1e-9);
        }
    free(r);
    fixture_free(s);
}

static void test_readings_bands_hold_the_meter_and_the_tolerances(void **state)
{
    (void)state;
    pr_scenario *s = rig();
    pr_readings *r = readings_of(s);
    const pr_reading_band *off = &r->fault[PR_FAULT_NONE].at[PR_READING_OFF_RESTED];
    const pr_reading_band *run = &r->fault[PR_FAULT_NONE].at[PR_READING_FAST_IDLE_LOADS_OFF];
    assert_true(off->high_V - off->V >= 0.15 && off->high_V - off->V < 0.3);
    assert_near(run->vary_V[PR_VARY_SET_V], 0.2, 0.02);
    assert_true(run->high_V - run->V >= hypot(0.15, 0.18) && run->V - run->low_V >= 0.25);
    assert_true(run->high_V - run->low_V < 0.7);
    assert_near(off->vary_V[PR_VARY_SET_V], 0.0, 0.0);
    for (size_t i = 0; i < r->n_pairs; i++)
        assert_true(r->pair[i].first != r->pair[i].second);
    free(r);
    fixture_free(s);
}

static void test_readings_of_a_rig_without_winch_or_alternator(void **state)
{
    (void)state;
    pr_scenario *s = rig();
    s->system.has_winch = false;
    s->system.run[PR_RUN_WINCH].present = false;
    s->system.has_alternator = false;
    s->system.run[PR_RUN_ALTERNATOR].present = false;
    pr_readings *r = readings_of(s);
    assert_true(isnan(at(r, PR_FAULT_NONE, PR_READING_IN_PULL)));
    assert_true(isnan(at(r, PR_FAULT_NONE, PR_READING_ALL_ON_ALTERNATOR)));
    assert_false(r->fault[PR_FAULT_BELT_SLIPS].possible);
    assert_false(r->fault[PR_FAULT_JOINT_WINCH].possible);
    pr_measured measured = {0};
    pr_ranking ranking;
    measured.given[PR_READING_IN_PULL] = true;
    measured.V[PR_READING_IN_PULL] = 11.0;
    assert_int_equal(pr_readings_rank(r, &measured, &ranking), PR_ERR_INPUT);
    free(r);
    assert_int_equal(pr_readings_make(s, 0.0, &(pr_readings){0}, NULL), PR_ERR_RANGE);
    fixture_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_readings_healthy_as_service_data_have_it),
        cmocka_unit_test(test_readings_equal_a_run_of_the_engine),
        cmocka_unit_test(test_readings_bad_joints_drop_as_ohm_says),
        cmocka_unit_test(test_readings_rank_finds_every_fault),
        cmocka_unit_test(test_readings_rank_says_what_it_cannot_tell),
        cmocka_unit_test(test_readings_chi2_of_one_reading),
        cmocka_unit_test(test_readings_bands_hold_the_meter_and_the_tolerances),
        cmocka_unit_test(test_readings_of_a_rig_without_winch_or_alternator),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
