/* What can only help never hurts, and what can only hurt never helps. */
#include "../unit/test_engine_rig.h"

static pr_system system_;
static pr_sim sim_;

/* Rounding and local errors of two runs that should be equal may differ by this share of charge. */
static const double SAME_frac = 2e-6;

static void test_more_rest_never_ends_with_less_charge(void **state)
{
    (void)state;
    double last = 0.0;
    const pr_system_def def = rig_full(1);
    for (double rest_s = 10.0; rest_s <= 640.0; rest_s *= 2.0) {
        rig_start(&def, &system_, &sim_);
        for (int i = 0; i < 5; i++) {
            rig_run(&system_, &sim_, PR_PULL, 30.0, NULL);
            rig_run(&system_, &sim_, PR_REST, rest_s, NULL);
        }
        const double soc = rig_soc(&system_, &sim_, 0);
        assert_true(soc >= last - SAME_frac);
        last = soc;
    }
}

/* The same current from the same charge: a colder battery sags more and cranks worse. */
static void test_colder_is_never_better(void **state)
{
    (void)state;
    double last_V = 0.0, last_restart_V = 0.0, last_gain = 0.0;
    for (double T_degC = -30.0; T_degC <= 40.0; T_degC += 10.0) {
        pr_system_def def = rig_full(1);
        def.ambient_degC = T_degC;
        def.work = PR_WORK_CURRENT;
        def.pull_A = 200.0;
        def.start_soc_frac[0] = 0.8;
        rig_start(&def, &system_, &sim_);
        const pr_phase_end pull = rig_run(&system_, &sim_, PR_PULL_ENGINE_OFF, 30.0, NULL);
        pr_outputs now;
        assert_int_equal(pr_sim_outputs(&system_, &sim_, PR_ENGINE_OFF, &now), PR_OK);
        assert_true(pull.last.post_V[0] >= last_V);
        assert_true(now.restart_V >= last_restart_V);
        const double before = rig_soc(&system_, &sim_, 0);
        rig_run(&system_, &sim_, PR_REST, 300.0, NULL);
        const double gain = rig_soc(&system_, &sim_, 0) - before;
        assert_true(gain >= last_gain - SAME_frac);
        last_V = pull.last.post_V[0];
        last_restart_V = now.restart_V;
        last_gain = gain;
    }
}

static void test_thicker_cable_never_lowers_the_voltage(void **state)
{
    (void)state;
    double last_V = 0.0, last_m = 0.0;
    for (double awg = 6.0; awg >= -3.0; awg -= awg > 2.0 ? 2.0 : 1.0) {
        pr_system_def def = rig_full(1);
        vehicle_wire(&def, PR_RUN_WINCH, PR_GAUGE_AWG, awg, 2.5);
        rig_start(&def, &system_, &sim_);
        const pr_phase_end pull = rig_run(&system_, &sim_, PR_PULL, 20.0, NULL);
        assert_true(pull.last.winch_V >= last_V);
        assert_true(pull.travel_m >= last_m);
        last_V = pull.last.winch_V;
        last_m = pull.travel_m;
    }
}

static void test_bigger_alternator_never_ends_with_less_charge(void **state)
{
    (void)state;
    double last = 0.0;
    for (double rated_A = 55.0; rated_A < 300.0; rated_A += 25.0) {
        pr_system_def def = rig_full(1);
        def.alternator.rated_A = rated_A;
        def.alternator.idle_A = 0.5 * rated_A;
        rig_start(&def, &system_, &sim_);
        rig_cycles(&system_, &sim_, 5, NULL);
        const double soc = rig_soc(&system_, &sim_, 0);
        assert_true(soc >= last - SAME_frac);
        last = soc;
    }
}

static void test_harder_pull_never_goes_further(void **state)
{
    (void)state;
    double last_m = PR_INF, last_soc = 1.0;
    for (double kg = 1000.0; kg <= 3500.0; kg += 500.0) {
        pr_system_def def = rig_full(1);
        def.demand.weight_N = 9.81 * kg;
        rig_start(&def, &system_, &sim_);
        const pr_phase_end pull = rig_run(&system_, &sim_, PR_PULL, 20.0, NULL);
        assert_true(pull.travel_m <= last_m);
        assert_true(pull.last.soc_frac[0] <= last_soc);
        last_m = pull.travel_m;
        last_soc = pull.last.soc_frac[0];
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_more_rest_never_ends_with_less_charge),
        cmocka_unit_test(test_colder_is_never_better),
        cmocka_unit_test(test_thicker_cable_never_lowers_the_voltage),
        cmocka_unit_test(test_bigger_alternator_never_ends_with_less_charge),
        cmocka_unit_test(test_harder_pull_never_goes_further),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
