/* What must balance in every run: charge, energy, and the state of charge as a pure count of
 * charge. */
#include "../unit/test_engine_rig.h"

static const double CLOSED = 1e-9; /* promised: charge and energy close to this share */

static pr_system system_;
static pr_sim sim_, start_;

static void assert_books_close(const pr_system_def *def, int cycles)
{
    rig_start(def, &system_, &sim_);
    start_ = sim_;
    rig_cycles(&system_, &sim_, cycles, NULL);
    double charge, energy;
    pr_sim_ledger_error(&system_, &start_, &sim_, &charge, &energy);
    assert_true(charge >= 0.0 && charge <= CLOSED);
    assert_true(energy >= 0.0 && energy <= CLOSED);
    assert_true(pr_sim_ledger(&system_, &sim_, PR_LEDGER_WINCH_As) > 1000.0);
}

static void test_books_close_with_one_battery(void **state)
{
    (void)state;
    pr_system_def def = rig_bare(1);
    assert_books_close(&def, 20);
    def = rig_full(1);
    assert_books_close(&def, 20);
    def.alternator.sensing = PR_SENSE_BATTERY;
    def.alternator.ramp_s = 3.0;
    def.alternator.belt_limit_W = 2000.0;
    assert_books_close(&def, 10);
}

static void test_books_close_over_every_link(void **state)
{
    (void)state;
    static const pr_link_kind kinds[] = {PR_LINK_NONE, PR_LINK_SWITCH, PR_LINK_RELAY, PR_LINK_DIODE,
                                         PR_LINK_CHARGER};
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        pr_system_def def = rig_full(2);
        def.link = pr_link_def_default(kinds[i]);
        def.link.charger_A = 30.0;
        def.start_soc_frac[1] = 0.6;
        assert_books_close(&def, 5);
        if (kinds[i] != PR_LINK_NONE)
            assert_true(pr_sim_ledger(&system_, &sim_, PR_LEDGER_LINK_HEAT_J) > 0.0);
        if (kinds[i] == PR_LINK_CHARGER)
            assert_true(pr_sim_ledger(&system_, &sim_, PR_LEDGER_LINK_LOSS_As) > 0.0);
    }
}

static void test_books_close_with_lithium_and_a_magnet_motor(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    const pr_motor_def series = def.motor;
    def.battery[0] = pr_battery_def_default();
    def.battery[0].chemistry = PR_LIFEPO4;
    def.battery[0].c20_Ah = 100.0;
    def.motor = pr_motor_def_default(PR_MOTOR_PERMANENT_MAGNET);
    def.motor.rated_pull_N = series.rated_pull_N;
    def.motor.no_load_A = 60.0;
    def.motor.rated_A = 450.0;
    def.motor.no_load_mps = 0.055;
    def.motor.rated_mps = 0.0305;
    assert_books_close(&def, 10);
}

static void test_books_close_through_cranking_and_engine_off(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.load[7].def.when = PR_WHEN_ALWAYS;
    rig_start(&def, &system_, &sim_);
    start_ = sim_;
    rig_run(&system_, &sim_, PR_PULL_ENGINE_OFF, 20.0, NULL);
    rig_run(&system_, &sim_, PR_ENGINE_OFF, 100.0, NULL);
    rig_run(&system_, &sim_, PR_CRANK, 5.0, NULL);
    rig_run(&system_, &sim_, PR_REST, 300.0, NULL);
    double charge, energy;
    pr_sim_ledger_error(&system_, &start_, &sim_, &charge, &energy);
    assert_true(charge <= CLOSED && energy <= CLOSED);
    assert_true(pr_sim_ledger(&system_, &sim_, PR_LEDGER_CRANK_As) > 100.0);
}

/* State of charge moves by the charge that went through the terminal less gas, and by nothing else.
 */
static void test_soc_is_a_pure_count(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    const double before = rig_soc(&system_, &sim_, 0);
    rig_cycles(&system_, &sim_, 20, NULL);
    const double counted_As = pr_sim_ledger(&system_, &sim_, PR_LEDGER_BATTERY0_As) -
                              pr_sim_ledger(&system_, &sim_, PR_LEDGER_GAS0_As);
    assert_near(rig_soc(&system_, &sim_, 0) - before, counted_As / system_.battery[0].qmax_As,
                1e-12);
}

/* After a long rest both wells stand at one level and the RC branch is empty. */
static void test_rest_ends_at_equal_heads(void **state)
{
    (void)state;
    pr_system_def def = rig_bare(1);
    def.has_alternator = false;
    rig_start(&def, &system_, &sim_);
    rig_run(&system_, &sim_, PR_PULL_ENGINE_OFF, 40.0, NULL);
    const pr_phase_end rest = rig_run(&system_, &sim_, PR_ENGINE_OFF, 400000.0, NULL);
    assert_near(rest.last.surface_frac[0], rest.last.soc_frac[0], 1e-6);
    assert_near(
        rest.last.post_V[0],
        pr_battery_rest_V(&system_.battery[0], rest.last.soc_frac[0], rest.last.battery_degC[0]),
        1e-5);
}

/* Time at full output: all of a pull that takes more than the alternator has, none without it. */
static void test_full_output_time(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    rig_run(&system_, &sim_, PR_PULL, 30.0, NULL);
    assert_near(pr_sim_ledger(&system_, &sim_, PR_LEDGER_FULL_OUTPUT_s), 30.0, 1e-6);
    rig_run(&system_, &sim_, PR_ENGINE_OFF, 30.0, NULL);
    assert_near(pr_sim_ledger(&system_, &sim_, PR_LEDGER_FULL_OUTPUT_s), 30.0, 1e-6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_books_close_with_one_battery),
        cmocka_unit_test(test_books_close_over_every_link),
        cmocka_unit_test(test_books_close_with_lithium_and_a_magnet_motor),
        cmocka_unit_test(test_books_close_through_cranking_and_engine_off),
        cmocka_unit_test(test_soc_is_a_pure_count),
        cmocka_unit_test(test_rest_ends_at_equal_heads),
        cmocka_unit_test(test_full_output_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
