/* Defaults of a scenario and of what the planner may choose. Sources of the numbers: handling times
 * and pull lengths are common practice with a loaded winch (pull for half a minute, then look and
 * rest), no source; every one is an input. */
#include "planner/scenario.h"

#include "base/number.h"

#include <stdlib.h>

pr_plan_def pr_plan_def_default(void)
{
    return (pr_plan_def){
        .cookie = PR_DEF_COOKIE,
        .pull_s = PR_NAN,
        .pull_min_s = 10.0,
        .pull_max_s = 60.0,
        .rest_min_s = 15.0,
        .rest_max_s = 1800.0,
        .total_max_s = 4.0 * 3600.0,
        .pull_rpm = PR_NAN,
        .rest_rpm = PR_NAN,
        .blocks = 0,
        .parts = 0,
        .pulls = 0,
        .rerig_s = 600.0,
        .extension_m = PR_NAN,
        .next_anchor_m = PR_NAN,
        .rope_factor = 1.25, /* an end fitting and wear cost a fifth of new rope */
        .reserve_frac = PR_NAN,
        .reserve_margin_frac = 0.10,
        .bus_min_V = PR_NAN,
        .motor_max_degC = PR_NAN,
    };
}

pr_scenario pr_scenario_default(void)
{
    return (pr_scenario){
        .system = pr_system_def_default(),
        .plan = pr_plan_def_default(),
    };
}

void pr_scenario_free(pr_scenario *scenario)
{
    if (scenario == NULL)
        return;
    free(scenario->assumption);
    free(scenario->profile);
    scenario->assumption = NULL;
    scenario->n_assumptions = 0;
    scenario->profile = NULL;
    scenario->system.profile_s = NULL;
    scenario->system.profile_A = NULL;
    scenario->system.n_profile = 0;
}
