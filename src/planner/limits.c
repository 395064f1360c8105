/* Limits of a plan with everything computed that the user did not give.
 *
 *     reserve   = s_crank + margin
 *     bus       = 0.3 V above the highest drop-out of a load that stops the engine, else 10.5 V
 *     motor     = insulation class limit of the motor - 15 K
 *
 * s_crank: lowest rested state of charge from which the starter still gets its voltage in all
 * attempts, at the cold of the start.
 *
 * The restart itself is a limit of its own at every instant; the reserve adds the margin for what
 * the label does not tell. 10.5 V, 0.3 V and 15 K are our choice; common practice, no source. */
#include "planner/plan.h"

#include "base/number.h"

#include <math.h>

static const double BUS_MIN_V = 10.5, BUS_MARGIN_V = 0.3;
static const double MOTOR_MARGIN_K = 15.0;

static double engine_stop_V(const pr_system_def *def)
{
    double most_V = PR_NAN;
    for (int i = 0; i < def->n_loads; i++) {
        const pr_load_def *load = &def->load[i].def;
        if (load->stops_engine && !isnan(load->dropout_V))
            most_V = fmax(most_V, load->dropout_V); /* fmax ignores the NaN it starts with */
    }
    return isnan(most_V) ? BUS_MIN_V : most_V + BUS_MARGIN_V;
}

/* NaN in *soc_frac when even a full battery does not crank: not a failure, the plan says so. */
static pr_status cranking_reserve(const pr_system *system, double *soc_frac)
{
    const pr_system_def *def = &system->def;
    const pr_post post = def->starter_post;
    const double battery_degC =
        isnan(def->start_battery_degC[post]) ? def->ambient_degC : def->start_battery_degC[post];
    const double engine_degC =
        isnan(def->cranking.engine_degC) ? def->ambient_degC : def->cranking.engine_degC;
    const pr_status status = pr_cranking_reserve_frac(&def->cranking, &system->battery[post],
                                                      battery_degC, engine_degC, soc_frac);
    if (status == PR_ERR_NO_SOLUTION) {
        *soc_frac = PR_NAN;
        return PR_OK;
    }
    return status;
}

pr_status pr_plan_limits(const pr_scenario *scenario, const pr_system *system, pr_limits *limits,
                         double *reserve_computed_frac)
{
    const pr_plan_def *plan = &scenario->plan;
    if (plan->cookie != PR_DEF_COOKIE)
        return PR_ERR_INTERNAL;
    double computed_frac = PR_NAN;
    const pr_status status = cranking_reserve(system, &computed_frac);
    if (status != PR_OK)
        return status;
    *limits = pr_limits_default(system);
    limits->reserve_frac = isnan(plan->reserve_frac)
                               ? fmin(computed_frac + plan->reserve_margin_frac, 1.0)
                               : plan->reserve_frac;
    if (isnan(computed_frac) && isnan(plan->reserve_frac))
        limits->reserve_frac = PR_NAN;
    limits->bus_min_V = isnan(plan->bus_min_V) ? engine_stop_V(&system->def) : plan->bus_min_V;
    limits->motor_max_degC = isnan(plan->motor_max_degC)
                                 ? system->def.motor.limit_degC - MOTOR_MARGIN_K
                                 : plan->motor_max_degC;
    limits->on[PR_LIMIT_RESERVE] = !isnan(limits->reserve_frac);
    limits->on[PR_LIMIT_VOLTAGE] = true;
    limits->on[PR_LIMIT_MOTOR_HEAT] = system->def.has_winch;
    limits->on[PR_LIMIT_CABLE_HEAT] = true;
    limits->on[PR_LIMIT_RESTART] = true;
    *reserve_computed_frac = computed_frac;
    return PR_OK;
}

pr_limits pr_plan_limits_guarded(const pr_limits *limits)
{
    /* twice and more what recoveries of one to two hours at the default tolerance were off the same
     * at a tight one: 2.6e-5, 0.3 mV, 5 mK */
    static const double CHARGE_FRAC = 6e-5, VOLTAGE_V = 1e-3, HEAT_K = 0.02;
    pr_limits guarded = *limits;
    guarded.reserve_frac += CHARGE_FRAC;
    guarded.bus_min_V += VOLTAGE_V;
    guarded.motor_max_degC -= HEAT_K;
    guarded.wire_max_degC_margin += HEAT_K;
    guarded.restart_margin_V += VOLTAGE_V;
    return guarded;
}
