/* The production stepper against GSL's Prince-Dormand pair 8(9) over the same derivatives and
 * events. */
#include "../unit/test_engine_rig.h"

static pr_system system_;
static pr_sim sim_, reference_;

enum { CYCLES = 5, HOUR_CYCLES = 20 };

static pr_run_options options_with(pr_stepper stepper, double tolerance)
{
    pr_run_options options = pr_run_options_default();
    options.stepper = stepper;
    options.tolerance = tolerance;
    return options;
}

/* What a state is compared to: its own size, but at least what matters of it. */
static double size_of(const pr_system *system, const pr_sim *sim, int i)
{
    double floor = 1.0; /* kelvin, metres */
    for (int p = 0; p < system->def.n_batteries; p++)
        if (i == system->at.battery[p] + 2)
            floor = 0.1; /* volts of the RC branch */
    if (i >= system->at.fuse && i < system->at.ledger)
        floor = 0.1; /* damage of a fuse */
    return fmax(fabs(sim->y[i]), floor);
}

static double worst_state(const pr_system *system, const pr_sim *a, const pr_sim *b)
{
    double worst = 0.0;
    for (int i = 0; i < system->at.ledger; i++) {
        const double e = fabs(a->y[i] - b->y[i]) / size_of(system, b, i);
        worst = e > worst ? e : worst;
    }
    return worst;
}

static void run_both(const pr_system_def *def, double tolerance, int cycles)
{
    const pr_run_options production = options_with(PR_STEPPER_EMBEDDED, tolerance);
    const pr_run_options reference = options_with(PR_STEPPER_REFERENCE, 1e-11);
    rig_start(def, &system_, &sim_);
    reference_ = sim_;
    rig_cycles(&system_, &sim_, cycles, &production);
    rig_cycles(&system_, &reference_, cycles, &reference);
}

static void assert_agrees(const pr_system_def *def)
{
    run_both(def, 1e-10, CYCLES);
    assert_true(worst_state(&system_, &sim_, &reference_) <= 1e-6);
    /* quadratures too: charge and energy, to a millionth of what passed */
    for (int i = 0; i < PR_LEDGER_FULL_OUTPUT_s; i++) {
        const double a = pr_sim_ledger(&system_, &reference_, (pr_ledger_item)i);
        assert_near(pr_sim_ledger(&system_, &sim_, (pr_ledger_item)i), a, 1e-6 * fabs(a) + 1e-3);
    }
}

static void test_agrees_with_one_battery(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    assert_agrees(&def);
}

static void test_agrees_with_two_batteries_and_a_relay(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(2);
    assert_agrees(&def);
}

static void test_agrees_with_ramp_fuses_and_changing_demand(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.alternator.ramp_s = 5.0;
    def.run[PR_RUN_WINCH].has_fuse = true;
    def.run[PR_RUN_WINCH].fuse.rating_A = 250.0;
    def.demand.n_segments = 3;
    def.demand.segments[1] = def.demand.segments[2] = def.demand.segments[0];
    def.demand.segments[0].length_m = 0.4;
    def.demand.segments[1].length_m = 1.1;
    def.demand.segments[1].mire = PR_MIRE_WHEEL;
    assert_agrees(&def);
}

static void test_agrees_with_a_charger_and_lithium(void **state)
{
    (void)state;
    pr_system_def def = rig_full(2);
    def.battery[1] = pr_battery_def_default();
    def.battery[1].chemistry = PR_LIFEPO4;
    def.battery[1].c20_Ah = 100.0;
    def.start_soc_frac[1] = 0.5;
    def.link = pr_link_def_default(PR_LINK_CHARGER);
    def.link.charger_A = 30.0;
    assert_agrees(&def);
}

/* Default tolerance, an hour of recovery: state of charge to 1e-5, voltage to 1 mV; with everything
 * on, where events keep the steps short, and with steps as long as they get. */
static void test_default_tolerance_is_as_promised(void **state)
{
    (void)state;
    for (int n = 0; n < 4; n++) {
        const int batteries = 1 + n % 2;
        pr_system_def def = rig_full(batteries);
        if (n >= 2) {
            def.load[4].def.cycling = PR_CYCLE_NONE;
            def.load[4].def.inrush_factor = 1.0;
            def.work = PR_WORK_CURRENT;
            def.pull_A = 300.0;
        }
        run_both(&def, pr_run_options_default().tolerance, HOUR_CYCLES);
        pr_outputs a, b;
        assert_int_equal(pr_sim_outputs(&system_, &sim_, PR_PULL, &a), PR_OK);
        assert_int_equal(pr_sim_outputs(&system_, &reference_, PR_PULL, &b), PR_OK);
        for (int p = 0; p < batteries; p++) {
            assert_near(a.soc_frac[p], b.soc_frac[p], 1e-5);
            assert_near(a.surface_frac[p], b.surface_frac[p], 2e-5);
            assert_near(a.box_V[p], b.box_V[p], 1e-3);
        }
        assert_near(a.armature_degC, b.armature_degC, 0.1);
    }
}

/* Each hundredfold tighter tolerance is at least five times nearer, a millionfold a thousand
 * times. It cannot be in proportion to the end: events are located to half a millisecond whatever
 * the tolerance, and a relay that moves 0.3 ms later shifts a wire of 0.03 K/ms by 1e-6 of 10 K. */
static void test_converges_as_tolerance_tightens(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(2);
    double first = 0.0, last = 1.0;
    for (double tolerance = 1e-5; tolerance > 5e-12; tolerance *= 1e-2) {
        run_both(&def, tolerance, CYCLES);
        const double error = worst_state(&system_, &sim_, &reference_);
        assert_true(error < 0.2 * last);
        first = first > 0.0 ? first : error;
        last = error;
    }
    assert_true(last < first / 1000.0);
}

/* One stop found by both: within a millisecond. */
static void test_events_at_the_same_time(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    pr_limits limits = rig_no_limits();
    limits.on[PR_LIMIT_MOTOR_HEAT] = true;
    limits.motor_max_degC = 45.0;
    double stop_s[2];
    for (int k = 0; k < 2; k++) {
        const pr_run_options options = options_with(
            k == 0 ? PR_STEPPER_EMBEDDED : PR_STEPPER_REFERENCE, k == 0 ? 1e-6 : 1e-11);
        const pr_phase phase = rig_phase(PR_PULL, 300.0);
        pr_phase_end end;
        rig_start(&def, &system_, &sim_);
        assert_int_equal(pr_sim_run(&system_, &sim_, &phase, &limits, &options, NULL, &end), PR_OK);
        assert_int_equal(end.stop, PR_STOP_LIMIT);
        stop_s[k] = end.duration_s;
    }
    assert_near(stop_s[0], stop_s[1], 1e-3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_agrees_with_one_battery),
        cmocka_unit_test(test_agrees_with_two_batteries_and_a_relay),
        cmocka_unit_test(test_agrees_with_ramp_fuses_and_changing_demand),
        cmocka_unit_test(test_agrees_with_a_charger_and_lithium),
        cmocka_unit_test(test_default_tolerance_is_as_promised),
        cmocka_unit_test(test_converges_as_tolerance_tightens),
        cmocka_unit_test(test_events_at_the_same_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
