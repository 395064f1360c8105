/* Curves of battery and alternator by themselves; see curves.h.
 *
 * Battery: constant currents from full to 10.5 V (LiFePO4: to its management system's lowest), at
 * 25 degC and at 0, beside Peukert's law t = t20 (I20/I)^n; volts in a pull of a minute and the
 * rest after it, nothing charging; current taken at 14.4 V and 25 degC, rested, just emptied by
 * 300 A, and rested at 0 degC.
 *
 * Alternator: amps at the set voltage, winding at 25 degC, and as hot as this output makes it in
 * air of 40 degC plus the rise under the bonnet: Tw = Tair + 60 (I/rated)^2, by repetition. */
#include "planner/curves.h"

#include "base/number.h"

#include <math.h>

enum { CURRENTS = 4, STEPS = 60 };
static const double PULL_A[CURRENTS] = {100, 200, 300, 400};
static const double PULL_s = 60.0, REST_s = 120.0, CHARGE_V = 14.4, WARM_degC = 25.0;

static double end_V(const pr_battery *b)
{
    return b->def.chemistry == PR_LIFEPO4 ? b->def.bms_low_V : 10.5;
}

static double runtime_s(const pr_battery *b, double amps_A, double T_degC)
{
    double time_s = PR_NAN;
    const double limit_s = 40.0 * 3600.0;
    const pr_battery_state full = pr_battery_state_rested(b, 1.0, T_degC);
    const pr_status status =
        pr_battery_discharge_time_s(b, full, -amps_A, end_V(b), limit_s, &time_s, NULL);
    return status == PR_OK && time_s > 0.0 ? time_s : PR_NAN;
}

static void put_runtimes(const pr_battery *b, pr_curves *out)
{
    const double from_A = b->i20_A, to_A = fmax(500.0, 3.0 * from_A);
    pr_curves_begin(out, "runtime", 4);
    for (int i = 0; i <= STEPS; i++) {
        const double amps_A = from_A * pow(to_A / from_A, (double)i / STEPS);
        const double row[] = {amps_A, runtime_s(b, amps_A, WARM_degC),
                              pr_battery_peukert_s(b, amps_A), runtime_s(b, amps_A, 0.0)};
        pr_curves_row(out, row);
    }
}

static void put_pulls(const pr_battery *b, pr_curves *out)
{
    const pr_battery_state full = pr_battery_state_rested(b, 1.0, WARM_degC);
    pr_curves_begin(out, "pulls", 1 + CURRENTS);
    for (int i = 0; i <= 3 * STEPS; i++) {
        const double t_s = i * (PULL_s + REST_s) / (3 * STEPS);
        double row[1 + CURRENTS] = {t_s};
        for (int k = 0; k < CURRENTS; k++) {
            pr_battery_state emptied = full;
            pr_battery_advance_constant(b, &emptied, -PULL_A[k], PULL_s);
            const double V = t_s <= PULL_s
                                 ? pr_battery_voltage_after_V(b, &full, -PULL_A[k], t_s)
                                 : pr_battery_voltage_after_V(b, &emptied, 0.0, t_s - PULL_s);
            row[1 + k] = V > 6.0 ? V : PR_NAN;
        }
        pr_curves_row(out, row);
    }
}

static double taken_A(const pr_battery *b, const pr_battery_state *state)
{
    pr_battery_branch branch;
    pr_battery_branch_at(b, state, false, &branch);
    return fmax(0.0, pr_battery_branch_current_A(&branch, CHARGE_V, NULL));
}

static void put_charging(const pr_battery *b, pr_curves *out)
{
    static const double FAST_A = 300.0;
    pr_curves_begin(out, "charging", 4);
    for (int i = 0; i <= STEPS; i++) {
        const double soc = 1.0 - 0.7 * i / STEPS;
        const pr_battery_state warm = pr_battery_state_rested(b, soc, WARM_degC);
        const pr_battery_state cold = pr_battery_state_rested(b, soc, 0.0);
        pr_battery_state fresh = pr_battery_state_rested(b, 1.0, WARM_degC);
        /* with health, full is less than the label */
        const double out_s = (1.0 - soc) * b->qmax_As / FAST_A;
        if (out_s > 0.0)
            pr_battery_advance_constant(b, &fresh, -FAST_A, out_s);
        fresh.v1_V = 0.0; /* a moment later */
        const double row[] = {soc, taken_A(b, &warm),
                              pr_battery_surface_frac(b, &fresh) > 0.02 ? taken_A(b, &fresh)
                                                                        : PR_NAN,
                              taken_A(b, &cold)};
        pr_curves_row(out, row);
    }
}

pr_status pr_curves_battery(const pr_scenario *scenario, const pr_system *system, pr_curves *out)
{
    const pr_battery *b = &system->battery[system->def.winch_post];
    *out = pr_curves_init("battery", scenario->title);
    put_runtimes(b, out);
    put_pulls(b, out);
    put_charging(b, out);
    pr_curves_number_add(out, "c20_Ah", b->def.c20_Ah);
    pr_curves_number_add(out, "rc_min", b->def.rc_min);
    pr_curves_number_add(out, "cca_A", b->def.cca_A);
    pr_curves_number_add(out, "peukert", b->peukert_n);
    pr_curves_number_add(out, "end_V", end_V(b));
    pr_curves_number_add(out, "lead", b->def.chemistry == PR_LIFEPO4 ? 0.0 : 1.0);
    return out->status;
}

typedef struct spot {
    double amps_A, winding_degC, shaft_W;
} spot;

static spot spot_at(const pr_alternator *a, double engine_rpm, double ambient_degC, bool hot)
{
    static const double HEAT_K = 60.0;
    const double air_degC = ambient_degC + a->def.air_degC_rise;
    pr_alternator_state state = pr_alternator_state_at(a, hot ? air_degC : WARM_degC);
    state.ceiling_A = PR_INF;
    pr_alternator_branch branch;
    spot s = {0};
    for (int i = 0; i < (hot ? 40 : 1); i++) {
        pr_alternator_branch_at(a, &state, engine_rpm, true, ambient_degC, &branch);
        s.amps_A = pr_alternator_branch_available_A(a, &branch, branch.set_V);
        s.winding_degC = state.winding_degC;
        const double share = s.amps_A / a->def.rated_A;
        state.winding_degC += 0.5 * (air_degC + HEAT_K * share * share - state.winding_degC);
    }
    s.shaft_W = pr_alternator_shaft_W(a, &branch, branch.set_V, s.amps_A);
    return s;
}

pr_status pr_curves_alternator(const pr_scenario *scenario, const pr_system *system, pr_curves *out)
{
    static const double COOL_degC = 5.0, HOT_degC = 40.0;
    const pr_alternator *a = &system->alternator;
    *out = pr_curves_init("alternator", scenario->title);
    if (!system->def.has_alternator)
        return PR_ERR_INPUT;
    const double to_rpm = fmax(system->def.max_rpm, 3000.0);
    pr_curves_begin(out, "curve", 5);
    for (int i = 0; i <= 2 * STEPS; i++) {
        const double rpm = to_rpm * i / (2 * STEPS);
        const spot cold = spot_at(a, rpm, COOL_degC, false), hot = spot_at(a, rpm, HOT_degC, true);
        const double row[] = {rpm, cold.amps_A, hot.amps_A, hot.winding_degC, hot.shaft_W};
        pr_curves_row(out, row);
    }
    pr_curves_begin(out, "setting", 2);
    for (int T = -30; T <= 90; T += 5) {
        const double row[] = {T, pr_alternator_set_V(a, T)};
        pr_curves_row(out, row);
    }
    double loads_A = 0.0;
    for (int i = 0; i < system->def.n_loads; i++)
        if (pr_load_wanted(&system->load[i], true, false, true))
            loads_A += pr_load_current_A(&system->load[i], 13.5, 1e9, NULL);
    const spot idle = spot_at(a, system->def.idle_rpm, HOT_degC, true);
    const spot fast = spot_at(a, system->def.fast_idle_rpm, HOT_degC, true);
    pr_curves_number_add(out, "loads", loads_A);
    pr_curves_number_add(out, "idle", system->def.idle_rpm);
    pr_curves_number_add(out, "fast_idle", system->def.fast_idle_rpm);
    pr_curves_number_add(out, "idle_A", idle.amps_A);
    pr_curves_number_add(out, "fast_A", fast.amps_A);
    pr_curves_number_add(out, "rated_A", a->def.rated_A);
    pr_curves_number_add(out, "ratio", a->def.pulley_ratio);
    return out->status;
}
