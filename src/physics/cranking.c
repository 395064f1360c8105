/* Restarting the engine.
 *
 *     I(T) = I_warm (1 + (F - 1) ((25 - T) / 45)^2)  below 25 degC, I_warm above;  F =
 * I(-20)/I_warm V = E(s1) + v1(t) - I (R0 rho(s1) + leads)     wells and v1 in closed form for
 * constant I The square fits one engine that was published at three temperatures (1.9 L, service
 * manual 1998: 70-110 A hot, 90-130 A at 5 degC, 230-280 A at -20 degC); a straight line or an
 * exponential is too high at 5 degC. Attempts: `attempts` runs of `attempt_s` on end. The pauses
 * between them, in which the battery recovers a little, are not counted, so the answer is on the
 * safe side. At constant current the voltage falls, or, from a battery still recovering from a
 * pull, rises before it falls: the lowest value is at the start or at the end.
 *
 * Reserve: the root of that voltage over the state of charge, never below least_soc_frac. By the
 * voltage alone a good battery would turn a warm engine at a few per cent; no measurement of
 * starter batteries supports the model there, the trade says about half (no source), and one weak
 * cell ends it. 0.3 is a guess on the safe side of the model.
 *
 * Warm currents. Petrol: upper end of what is usual at room temperature, service manual 1998.
 * Diesel: (m), about 250-500 A by size; colder engines draw 1.8 times that at -20 degC (m).
 * Validity: 12 V starters, -30 degC and above; the short inrush of a locked starter is not in it.
 */
#include "physics/cranking.h"

#include "base/number.h"
#include "base/root.h"

#include <math.h>

static const double WARM_degC = 25.0, COLD_degC = -20.0;

static const double class_warm_A[PR_ENGINE_CLASS_COUNT] = {
    [PR_ENGINE_PETROL_4] = 100.0, [PR_ENGINE_PETROL_6] = 125.0, [PR_ENGINE_PETROL_8] = 150.0,
    [PR_ENGINE_DIESEL_4] = 250.0, [PR_ENGINE_DIESEL_6] = 350.0, [PR_ENGINE_DIESEL_8] = 500.0,
};

pr_cranking_def pr_cranking_def_default(void)
{
    pr_cranking_def def = {
        .cookie = PR_DEF_COOKIE,
        .engine = PR_ENGINE_PETROL_4,
        .warm_A = PR_NAN,
        .cold_factor = PR_NAN,
        .engine_degC = PR_NAN,
        .min_V = 9.6,
        .attempts = 3,
        .attempt_s = 5.0,
        .leads_ohm = 0.001,
        .least_soc_frac = 0.3,
    };
    return def;
}

static bool def_is_valid(const pr_cranking_def *def)
{
    const int engine = (int)def->engine;
    return def->cookie == PR_DEF_COOKIE && engine >= 0 && engine < PR_ENGINE_CLASS_COUNT &&
           (isnan(def->warm_A) || (def->warm_A > 0.0 && def->warm_A <= 2000.0)) &&
           (isnan(def->cold_factor) || (def->cold_factor >= 1.0 && def->cold_factor <= 6.0)) &&
           def->min_V >= 6.0 && def->min_V <= 12.0 && def->attempts >= 1 && def->attempts <= 20 &&
           def->attempt_s > 0.0 && def->attempt_s <= 60.0 && def->leads_ohm >= 0.0 &&
           def->leads_ohm <= 0.1 && def->least_soc_frac >= 0.0 && def->least_soc_frac <= 1.0;
}

double pr_cranking_current_A(const pr_cranking_def *def, double engine_degC)
{
    if (!def_is_valid(def) || !isfinite(engine_degC))
        return PR_NAN;
    const bool diesel = def->engine >= PR_ENGINE_DIESEL_4;
    const double warm_A = isnan(def->warm_A) ? class_warm_A[def->engine] : def->warm_A;
    const double factor = isnan(def->cold_factor) ? (diesel ? 1.8 : 2.5) : def->cold_factor;
    const double cold = fmax(WARM_degC - engine_degC, 0.0) / (WARM_degC - COLD_degC);
    return warm_A * (1.0 + (factor - 1.0) * cold * cold);
}

double pr_cranking_voltage_V(const pr_cranking_def *def, const pr_battery *battery,
                             const pr_battery_state *state, double engine_degC)
{
    const double amps_A = pr_cranking_current_A(def, engine_degC);
    const double seconds = def->attempts * def->attempt_s;
    return pr_battery_least_voltage_V(battery, state, amps_A, seconds) - amps_A * def->leads_ohm;
}

typedef struct reserve_context {
    const pr_cranking_def *def;
    const pr_battery *battery;
    double battery_degC, engine_degC;
} reserve_context;

static double reserve_error_V(double soc_frac, void *context)
{
    const reserve_context *r = context;
    const pr_battery_state state = pr_battery_state_rested(r->battery, soc_frac, r->battery_degC);
    return pr_cranking_voltage_V(r->def, r->battery, &state, r->engine_degC) - r->def->min_V;
}

pr_status pr_cranking_reserve_frac(const pr_cranking_def *def, const pr_battery *battery,
                                   double battery_degC, double engine_degC, double *soc_frac)
{
    if (!def_is_valid(def))
        return PR_ERR_RANGE;
    reserve_context r = {def, battery, battery_degC, engine_degC};
    const double full_V = reserve_error_V(1.0, &r), empty_V = reserve_error_V(0.0, &r);
    if (isnan(full_V) || isnan(empty_V))
        return PR_ERR_VALIDITY;
    if (full_V < 0.0)
        return PR_ERR_NO_SOLUTION;
    double least = 0.0;
    if (empty_V < 0.0) {
        const pr_status status = pr_root_find(reserve_error_V, &r, 0.0, 1.0, 1e-9, &least);
        if (status != PR_OK)
            return status;
    }
    *soc_frac = fmax(least, def->least_soc_frac);
    return PR_OK;
}
