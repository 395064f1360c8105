/* Restarting the engine against tests/published/cranking.tsv. */
#include "battery_runs.h"

#include "physics/cranking.h"
#include "support/published.h"

static pr_cranking_def of_class(pr_engine_class engine)
{
    pr_cranking_def def = pr_cranking_def_default();
    def.engine = engine;
    return def;
}

static void test_currents(void **unused)
{
    (void)unused;
    const pr_cranking_def four = of_class(PR_ENGINE_PETROL_4), six = of_class(PR_ENGINE_PETROL_6),
                          eight = of_class(PR_ENGINE_PETROL_8);
    pr_published_check("cranking_petrol_4_A", pr_cranking_current_A(&four, 25.0));
    pr_published_check("cranking_petrol_6_A", pr_cranking_current_A(&six, 25.0));
    pr_published_check("cranking_petrol_8_A", pr_cranking_current_A(&eight, 25.0));
    pr_published_check("cranking_petrol_4_limit_A", pr_cranking_current_A(&four, 25.0));
    pr_published_check("cranking_petrol_6_limit_A", pr_cranking_current_A(&six, 25.0));
    pr_published_check("cranking_petrol_8_limit_A", pr_cranking_current_A(&eight, 25.0));
    pr_published_check("cranking_19_hot_A", pr_cranking_current_A(&four, 90.0));
    pr_published_check("cranking_19_room_A", pr_cranking_current_A(&four, 20.0));
    pr_published_check("cranking_19_5_A", pr_cranking_current_A(&four, 5.0));
    pr_published_check("cranking_19_m20_A", pr_cranking_current_A(&four, -20.0));
    pr_published_check("cranking_attempts_s", four.attempts * four.attempt_s);
}

static double volts(pr_engine_class engine, double soc_frac, double T_degC)
{
    const pr_battery b = run_starter();
    const pr_battery_state s = pr_battery_state_rested(&b, soc_frac, T_degC);
    const pr_cranking_def def = of_class(engine);
    return pr_cranking_voltage_V(&def, &b, &s, T_degC);
}

static void test_voltages(void **unused)
{
    (void)unused;
    pr_published_check("cranking_starter_warm_V", volts(PR_ENGINE_PETROL_8, 1.0, 25.0));
    pr_published_check("cranking_starter_cold_V", volts(PR_ENGINE_PETROL_4, 1.0, -20.0));
    pr_published_check("cranking_half_charge_starts_V", volts(PR_ENGINE_PETROL_4, 0.5, 20.0));
    pr_published_check("cranking_half_charge_cold_V", volts(PR_ENGINE_PETROL_4, 0.5, -20.0));
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_currents),
        cmocka_unit_test(test_voltages),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
