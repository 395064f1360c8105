/* Plans of a random recovery. A plan given out as 'go' must keep its limits when it is simulated
 * again with a tolerance ten times tighter, but for the error that is promised: 1e-5 of state of
 * charge, 1 mV, and as small a share of temperatures. */
#include "fuzz_rig.h"
#include "planner/plan.h"

static void fuzz_wishes(fuzz_bytes *in, pr_plan_def *plan)
{
    plan->pull_s = fuzz_maybe(in, 5.0, 60.0);
    plan->rest_min_s = fuzz_between(in, 5.0, 60.0);
    plan->rest_max_s = fuzz_between(in, 60.0, 1800.0);
    plan->total_max_s = fuzz_between(in, 600.0, 14400.0);
    plan->pull_rpm = fuzz_maybe(in, 800.0, 2500.0);
    plan->rest_rpm = fuzz_maybe(in, 800.0, 2500.0);
    plan->blocks = fuzz_choice(in, 4);
    plan->parts = fuzz_choice(in, plan->blocks + 2);
    plan->pulls = fuzz_flag(in) ? fuzz_choice(in, 20) : 0;
    plan->rerig_s = fuzz_between(in, 60.0, 900.0);
    plan->reserve_frac = fuzz_maybe(in, 0.2, 0.9);
}

/* The same limits, less the promised error. */
static pr_limits relaxed(const pr_limits *limits)
{
    pr_limits r = *limits;
    r.reserve_frac -= 2e-5;
    r.bus_min_V -= 2e-3;
    r.motor_max_degC += 0.02;
    r.wire_max_degC_margin -= 0.02;
    r.restart_margin_V -= 2e-3;
    return r;
}

static void check_plan(const pr_scenario *scenario, const pr_plan *plan, const pr_limits *limits)
{
    FUZZ_CHECK(isfinite(plan->total_s) && plan->total_s >= 0.0, "%g s", plan->total_s);
    FUZZ_CHECK(plan->n_cycles > 0, "go without a pull");
    FUZZ_CHECK(plan->charge_error_frac < 1e-8 && plan->energy_error_frac < 1e-8,
               "ledgers off by %g, %g", plan->charge_error_frac, plan->energy_error_frac);
    pr_run_options tight = pr_run_options_default();
    tight.tolerance *= 0.1;
    const pr_limits r = relaxed(limits);
    bool holds = false;
    pr_phase_end worst = {0};
    const pr_status status = pr_plan_replay(scenario, plan, &r, &tight, NULL, &holds, &worst);
    FUZZ_CHECK(status == PR_OK, "replay: %s", pr_status_text(status));
    FUZZ_CHECK(holds, "kind %d does not hold: %s, %s", plan->kind, pr_stop_name(worst.stop),
               pr_limit_name(worst.limit));
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static pr_scenario scenario;
    static pr_system system;
    fuzz_bytes in = {data, size};
    scenario = pr_scenario_default();
    fuzz_wishes(&in, &scenario.plan);
    scenario.system = fuzz_rig(&in);
    if (pr_system_derive(&scenario.system, &system, NULL) != PR_OK)
        return 0;
    pr_plan_set set = {0};
    const pr_status status = pr_plan_make(&scenario, &set, NULL, NULL, NULL);
    FUZZ_CHECK(status == PR_OK || status == PR_ERR_INPUT || status == PR_ERR_RANGE, "%s",
               pr_status_text(status));
    for (int k = 0; status == PR_OK && k < PR_PLAN_KINDS; k++) {
        FUZZ_CHECK(set.plan[k].status == PR_OK, "kind %d: %s", k,
                   pr_status_text(set.plan[k].status));
        if (set.plan[k].go)
            check_plan(&scenario, &set.plan[k], &set.limits);
    }
    pr_plan_set_free(&set);
    return 0;
}
