/* Runs that must come out the same: recorded or not, in another order, from a checkpoint, at
 * another time, as two batteries or as one. */
#include "../unit/test_engine_rig.h"

static pr_system system_, other_;
static pr_sim sim_, second_;

static int count(void *context, const pr_system *system, const pr_outputs *outputs,
                 const char *event)
{
    (void)system;
    (void)outputs;
    (void)event;
    ++*(int *)context;
    return 0;
}

static void run_recorded(const pr_system_def *def, pr_sim *sim, double interval_s, int *rows)
{
    rig_start(def, &system_, sim);
    const pr_observer observer = {.fn = count, .context = rows, .interval_s = interval_s};
    for (int i = 0; i < 3; i++) {
        pr_phase_end end;
        const pr_phase pull = rig_phase(PR_PULL, 40.0), rest = rig_phase(PR_REST, 140.0);
        assert_int_equal(pr_sim_run(&system_, sim, &pull, NULL, NULL, &observer, &end), PR_OK);
        assert_int_equal(pr_sim_run(&system_, sim, &rest, NULL, NULL, &observer, &end), PR_OK);
    }
}

static void test_record_interval_changes_nothing(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(2);
    int often = 0, seldom = 0;
    run_recorded(&def, &sim_, 0.37, &often);
    run_recorded(&def, &second_, 25.0, &seldom);
    assert_true(often > 1400 && seldom < 100);
    assert_memory_equal(sim_.y, second_.y, sizeof sim_.y);
    assert_memory_equal(sim_.node_V, second_.node_V, sizeof sim_.node_V);
}

static void test_outputs_that_are_not_wanted_change_nothing(void **state)
{
    (void)state;
    static const pr_outputs nothing;
    const pr_system_def def = rig_full(2);
    pr_run_options options = pr_run_options_default();
    options.with_outputs = false;
    rig_start(&def, &system_, &sim_);
    second_ = sim_;
    for (int i = 0; i < 4; i++) {
        const pr_phase phase = rig_phase(i % 2 == 0 ? PR_PULL : PR_REST, 40.0);
        pr_phase_end with, without;
        assert_int_equal(pr_sim_run(&system_, &sim_, &phase, NULL, NULL, NULL, &with), PR_OK);
        assert_int_equal(pr_sim_run(&system_, &second_, &phase, NULL, &options, NULL, &without),
                         PR_OK);
        assert_memory_equal(&sim_, &second_, sizeof sim_);
        assert_true(with.extremes.least_box_V == without.extremes.least_box_V &&
                    with.extremes.least_soc_frac == without.extremes.least_soc_frac &&
                    with.extremes.most_link_A == without.extremes.most_link_A);
        assert_int_equal(with.stop, without.stop);
        assert_true(with.last.post_V[0] > 0.0);
        assert_memory_equal(&without.first, &nothing, sizeof nothing);
        assert_memory_equal(&without.last, &nothing, sizeof nothing);
    }
}

static void test_checkpoint_continues_to_the_bit(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(2);
    rig_start(&def, &system_, &sim_);
    rig_cycles(&system_, &sim_, 3, NULL);
    second_ = sim_; /* the checkpoint */
    rig_cycles(&system_, &sim_, 4, NULL);
    rig_cycles(&system_, &second_, 4, NULL);
    assert_memory_equal(&sim_, &second_, sizeof sim_);
}

static void test_time_shift_changes_nothing(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(2);
    rig_start(&def, &system_, &sim_);
    second_ = sim_;
    second_.time_s = 7200.0;
    rig_cycles(&system_, &sim_, 5, NULL);
    rig_cycles(&system_, &second_, 5, NULL);
    assert_true(second_.time_s == sim_.time_s + 7200.0);
    assert_memory_equal(sim_.y, second_.y, sizeof sim_.y);
}

static void test_order_of_loads_changes_nothing(void **state)
{
    (void)state;
    static const int order[8] = {5, 2, 7, 0, 4, 1, 6, 3};
    const pr_system_def def = rig_full(2);
    pr_system_def shuffled = def;
    for (int k = 0; k < 8; k++) {
        shuffled.load[k] = def.load[order[k]];
        shuffled.run[PR_RUN_FIRST_LOAD + k] = def.run[PR_RUN_FIRST_LOAD + order[k]];
    }
    rig_start(&def, &system_, &sim_);
    rig_start(&shuffled, &other_, &second_);
    rig_cycles(&system_, &sim_, 10, NULL);
    rig_cycles(&other_, &second_, 10, NULL);
    for (int i = 0; i < system_.at.wire; i++) /* wires of loads lie in another order */
        assert_near(second_.y[i], sim_.y[i], 1e-12 * fabs(sim_.y[i]) + 1e-15);
    for (int i = 0; i < PR_LEDGER_COUNT; i++) {
        const double a = pr_sim_ledger(&system_, &sim_, (pr_ledger_item)i);
        assert_near(pr_sim_ledger(&other_, &second_, (pr_ledger_item)i), a, 1e-12 * fabs(a));
    }
}

/* Names and what is switched off change nothing either. */
static void test_idle_second_battery_changes_nothing(void **state)
{
    (void)state;
    const pr_system_def one = rig_full(1);
    pr_system_def two = rig_full(2);
    for (int k = 0; k < two.n_loads; k++)
        two.load[k].post = PR_POST_MAIN;
    two.link = pr_link_def_default(PR_LINK_SWITCH);
    two.switch_rule = PR_SWITCH_OPEN;
    two.start_battery_degC[1] = two.ambient_degC;
    rig_start(&one, &system_, &sim_);
    rig_start(&two, &other_, &second_);
    rig_cycles(&system_, &sim_, 10, NULL);
    rig_cycles(&other_, &second_, 10, NULL);
    assert_near(rig_soc(&other_, &second_, 0), rig_soc(&system_, &sim_, 0), 1e-12);
    assert_near(rig_soc(&other_, &second_, 1), 0.95, 1e-15);
    assert_near(second_.y[other_.at.motor], sim_.y[system_.at.motor], 1e-9);
}

/* Twice the battery: twice the charge and acceptance, half of the resistance. */
static pr_battery doubled(pr_battery b)
{
    b.qmax_As *= 2.0;
    b.r25_ohm *= 0.5;
    b.accept_ref_A *= 2.0;
    b.accept_cap_A *= 2.0;
    b.gas_ref_A *= 2.0;
    b.heat_capacity_J_per_K *= 2.0;
    b.case_conductance_W_per_K *= 2.0;
    return b;
}

static void test_two_equal_batteries_are_one_of_twice_the_size(void **state)
{
    (void)state;
    pr_system_def one = rig_full(1), two = rig_full(2);
    for (int k = 0; k < two.n_loads; k++)
        two.load[k].post = PR_POST_MAIN;
    two.link = pr_link_def_default(PR_LINK_SWITCH);
    two.switch_rule = PR_SWITCH_CLOSED;
    two.link.contact_ohm = 1e-6;
    two.run[PR_RUN_LINK].present = false;
    rig_start(&one, &system_, &sim_);
    system_.battery[0] = doubled(system_.battery[0]);
    assert_int_equal(pr_sim_start(&system_, &sim_), PR_OK);
    rig_start(&two, &other_, &second_);
    const pr_run_options fine = {.tolerance = 1e-9, .max_steps = 100000};
    rig_cycles(&system_, &sim_, 5, &fine);
    rig_cycles(&other_, &second_, 5, &fine);
    pr_outputs a, b;
    assert_int_equal(pr_sim_outputs(&system_, &sim_, PR_PULL, &a), PR_OK);
    assert_int_equal(pr_sim_outputs(&other_, &second_, PR_PULL, &b), PR_OK);
    /* the microohm of the link lets 150 A drop 0.15 mV; half of that is seen at each post, and some
     * 0.1 mV in 10 mohm moves 10 mA for five times 40 s out of 250,000 As */
    assert_near(b.box_V[0], a.box_V[0], 1.5e-4);
    assert_near(0.5 * (b.soc_frac[0] + b.soc_frac[1]), a.soc_frac[0], 1e-6);
    assert_near(b.soc_frac[0], b.soc_frac[1], 2e-5);
    assert_near(b.battery_A[0] + b.battery_A[1], a.battery_A[0], 0.05);
}

/* A closed switch of no resistance makes one node of two: it does not matter where things hang. */
static void test_closed_switch_makes_one_node(void **state)
{
    (void)state;
    pr_system_def here = rig_full(2);
    here.link = pr_link_def_default(PR_LINK_SWITCH);
    here.link.contact_ohm = 1e-6;
    here.switch_rule = PR_SWITCH_CLOSED;
    here.run[PR_RUN_LINK].present = false;
    here.run[PR_RUN_LOADS].present = here.run[PR_RUN_LOADS_SECOND].present = false;
    for (int k = 0; k < here.n_loads; k++)
        here.load[k].post = PR_POST_MAIN;
    pr_system_def there = here;
    there.winch_post = there.alternator_post = PR_POST_SECOND;
    for (int k = 0; k < there.n_loads; k++)
        there.load[k].post = PR_POST_SECOND;
    rig_start(&here, &system_, &sim_);
    rig_start(&there, &other_, &second_);
    rig_cycles(&system_, &sim_, 5, NULL);
    rig_cycles(&other_, &second_, 5, NULL);
    const double soc = rig_soc(&system_, &sim_, 0) + rig_soc(&system_, &sim_, 1);
    assert_near(rig_soc(&other_, &second_, 0) + rig_soc(&other_, &second_, 1), soc, 1e-5);
    assert_near(second_.y[other_.at.travel], sim_.y[system_.at.travel], 1e-3);
}

/* The limit is where the run without limits passes it, from both sides. */
static void test_limit_from_both_sides(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    const pr_sim start = sim_;
    pr_limits limits = rig_no_limits();
    limits.on[PR_LIMIT_RESERVE] = true;
    limits.reserve_frac = 0.93;
    pr_phase phase = rig_phase(PR_PULL, 60.0);
    pr_phase_end end;
    assert_int_equal(pr_sim_run(&system_, &sim_, &phase, &limits, NULL, NULL, &end), PR_OK);
    assert_int_equal(end.stop, PR_STOP_LIMIT);
    const double at_s = end.duration_s;
    sim_ = start;
    phase.duration_s = at_s - 0.002;
    assert_int_equal(pr_sim_run(&system_, &sim_, &phase, &limits, NULL, NULL, &end), PR_OK);
    assert_int_equal(end.stop, PR_STOP_TIME);
    sim_ = start;
    phase.duration_s = at_s + 0.002;
    assert_int_equal(pr_sim_run(&system_, &sim_, &phase, &limits, NULL, NULL, &end), PR_OK);
    assert_int_equal(end.stop, PR_STOP_LIMIT);
    sim_ = start;
    phase.duration_s = at_s;
    assert_int_equal(pr_sim_run(&system_, &sim_, &phase, NULL, NULL, NULL, &end), PR_OK);
    assert_near(end.last.soc_frac[0], 0.93, 2e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_record_interval_changes_nothing),
        cmocka_unit_test(test_outputs_that_are_not_wanted_change_nothing),
        cmocka_unit_test(test_checkpoint_continues_to_the_bit),
        cmocka_unit_test(test_time_shift_changes_nothing),
        cmocka_unit_test(test_order_of_loads_changes_nothing),
        cmocka_unit_test(test_idle_second_battery_changes_nothing),
        cmocka_unit_test(test_two_equal_batteries_are_one_of_twice_the_size),
        cmocka_unit_test(test_closed_switch_makes_one_node),
        cmocka_unit_test(test_limit_from_both_sides),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
