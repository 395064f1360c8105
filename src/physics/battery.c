/* Battery: two-well kinetic charge, one RC branch, charge acceptance, heat.
 *
 * Symbols: i terminal current, positive when charging; q1, q2 charge in the available and the bound
 * well; c share of the first; qmax both when full; T battery temperature, degC.
 *
 * Wells (J. F. Manwell, J. G. McGowan 1993, Solar Energy 50, 399):
 *     dq1/dt = i - ig + k (h2 - h1)      h1 = q1 / c        s1 = h1 / qmax   surface state
 *     dq2/dt =        - k (h2 - h1)      h2 = q2 / (1 - c)  SOC = (q1 + q2) / qmax
 *     k = k' c (1 - c);  k' = k'd while h2 > h1 (bound well feeds the surface), k'c while h1 > h2
 *     k'(T) = k'(25) exp(kT (T - 25))
 *   With delta = h2 - h1 and constant i: delta(t) = d8 + (delta(0) - d8) exp(-k' t), d8 = -i/(c
 * k'), q = q(0) + i t, h1 = q - (1 - c) delta. If delta changes sign the two pieces are joined
 * there. Voltage, discharge (i < 0): V = E(s1) + eT (T - 25) + v1 + i R0 rho,   dv1/dt = (i R1 -
 * v1) / tau R0 = 0.75 R(T), R1 = 0.25 R(T), R(T) = R25 exp(rT (25 - T)) rho = 1 + p (1/u - 1),  u =
 * (s1 - x) / (1 - x): polarisation of the surface (the form of C. M. Shepherd 1965, J. Electrochem.
 * Soc. 112, 657), so V falls without limit as u -> 0 and no current can overdraw the well. x(T) = a
 * d + b d^2, d = 25 - T > 0, else 0: the share of the surface that cannot be reached in the cold.
 * It is not lost, and does not move E. Charge, d = V - E - v1 > 0, main current i_m and gassing
 * i_g, i = i_m + i_g: ohmic        i_o = d / R0 acceptance   i_a = alpha_s (1 - s1) qmax exp(aV (V
 * - 14.4) + aT (T - 25)) i_m = (i_o^-4 + i_a^-4)^(-1/4): a smooth minimum, 16 % below both where
 * they are equal i_g = g exp(11 (V/6 - 2.23) + 0.06 (T - 25)) d^2 / (d^2 + 0.05^2)   (J. Schiffer
 * et al. 2007, J. Power Sources 168, 66; (m)); the last factor removes it at and below rest So i(V)
 * is continuous and strictly rising, with continuous slope but for a kink at d = 0, where 1/(R0
 * rho) becomes 1/R0 (LiFePO4 too cold to charge: becomes zero; i = 0 above). Heat: C dT/dt = i d +
 * E ig + v1^2/R1 - G (T - Tamb).
 *
 * Kinks in the state (rates continuous) that an integrator may want to treat as events: delta = 0
 * (k' changes), i_a reaching the management system's cap, T = 25 degC (x starts). A jump: LiFePO4
 * at its cold-charge limit.
 *
 * Validity: 12 V batteries, -30..60 degC, discharge down to a few volts; hours to days. No ageing,
 * stratification or self-discharge; gas leaves no heat other than counted here. Sources of the
 * numbers and what is a guess: docs/physics/battery.md. */
#include "physics/battery.h"

#include "base/exponential.h"
#include "base/number.h"
#include "base/root.h"
#include "physics/battery_branch.h"
#include "physics/battery_law.h"

#include <math.h>
#include <stddef.h>

double pr_battery_soc_frac(const pr_battery *b, const pr_battery_state *s)
{
    return (s->q1_As + s->q2_As) / b->qmax_As;
}

double pr_battery_surface_frac(const pr_battery *b, const pr_battery_state *s)
{
    return s->q1_As / (b->c_frac * b->qmax_As);
}

double pr_battery_rest_V(const pr_battery *b, double soc_frac, double T_degC)
{
    return pr_battery_emf_V(b, soc_frac, T_degC);
}

double pr_battery_resistance_ohm(const pr_battery *b, const pr_battery_state *s)
{
    const double rho = pr_battery_surface_factor(b, pr_battery_surface_frac(b, s), s->T_degC);
    return pr_battery_full_ohm(b, s->T_degC) * (b->r0_share * rho + 1.0 - b->r0_share);
}

pr_battery_state pr_battery_state_rested(const pr_battery *b, double soc_frac, double T_degC)
{
    return (pr_battery_state){.q1_As = b->c_frac * soc_frac * b->qmax_As,
                              .q2_As = (1.0 - b->c_frac) * soc_frac * b->qmax_As,
                              .v1_V = 0.0,
                              .T_degC = T_degC};
}

typedef struct rest_context {
    const pr_battery *battery;
    double rest_V, T_degC;
} rest_context;

static double rest_error_V(double soc_frac, void *context)
{
    const rest_context *r = context;
    return pr_battery_emf_V(r->battery, soc_frac, r->T_degC) - r->rest_V;
}

pr_status pr_battery_state_from_rest_V(const pr_battery *b, double rest_V, double T_degC,
                                       pr_battery_state *state)
{
    rest_context r = {b, rest_V, T_degC};
    /* a rested battery just off the charger reads a little above the table: that is full */
    const double above_V = rest_V - pr_battery_emf_V(b, 1.0, T_degC);
    if (!isfinite(rest_V) || !isfinite(T_degC) || above_V > 0.25 || rest_error_V(0.0, &r) > 0.0)
        return PR_ERR_RANGE;
    double soc_frac = 1.0;
    if (above_V < 0.0) {
        const pr_status status = pr_root_find(rest_error_V, &r, 0.0, 1.0, 1e-12, &soc_frac);
        if (status != PR_OK)
            return status;
    }
    *state = pr_battery_state_rested(b, soc_frac, T_degC);
    return PR_OK;
}

void pr_battery_branch_at(const pr_battery *b, const pr_battery_state *s, bool open,
                          pr_battery_branch *branch)
{
    pr_branch_at(b, s, open, branch);
}

double pr_battery_branch_parts_A(const pr_battery_branch *branch, double v_V, double *dI_dV,
                                 double *gas_A, double *dgas_dV)
{
    pr_tangent gas;
    const pr_tangent all = pr_branch_tangent(branch, v_V, &gas);
    *dI_dV = all.slope_S;
    *gas_A = gas.i_A;
    *dgas_dV = gas.slope_S;
    return all.i_A;
}

double pr_battery_branch_current_A(const pr_battery_branch *branch, double v_V, double *dI_dV)
{
    double slope_S, gas_A, gas_slope_S;
    const double i_A = pr_battery_branch_parts_A(branch, v_V, &slope_S, &gas_A, &gas_slope_S);
    if (dI_dV != NULL)
        *dI_dV = slope_S;
    return i_A;
}

/* Part of the current that does not charge. */
static double gas_at_A(const pr_battery_branch *branch, double v_V)
{
    pr_tangent gas;
    pr_branch_tangent(branch, v_V, &gas);
    return gas.i_A;
}

void pr_battery_powers_W(const pr_battery *b, const pr_battery_state *s,
                         const pr_battery_branch *branch, double v_V, double i_A,
                         double *chemical_W, double *heat_W)
{
    (void)b;
    const double gas_A = gas_at_A(branch, v_V);
    *chemical_W = (branch->e_V - s->v1_V) * (i_A - gas_A);
    *heat_W = pr_branch_heat_W(s, branch, v_V, i_A, gas_A);
}

void pr_battery_rates(const pr_battery *b, const pr_battery_state *s,
                      const pr_battery_branch *branch, double v_V, double i_A, double ambient_degC,
                      pr_battery_state *rates, double *gas_A)
{
    const double gas = gas_at_A(branch, v_V);
    pr_branch_rates(b, s, branch, v_V, i_A, gas, ambient_degC, rates);
    if (gas_A != NULL)
        *gas_A = gas;
}

/* Head difference after dt at constant current while its sign does not change. */
static double delta_after(double delta, double i_A, double c, double k_per_s, double dt_s)
{
    const double end = -i_A / (c * k_per_s);
    return delta - (end - delta) * expm1(-k_per_s * dt_s);
}

static void advance_wells(const pr_battery *b, pr_battery_state *s, double i_A, double dt_s)
{
    const double c = b->c_frac, kT = pr_battery_k_factor(b, s->T_degC);
    const double total = s->q1_As + s->q2_As + i_A * dt_s;
    double delta = s->q2_As / (1.0 - c) - s->q1_As / c;
    /* zero takes the sign it is about to have */
    const bool feeding = delta > 0.0 || (delta == 0.0 && i_A < 0.0);
    const double k_per_s = kT * (feeding ? b->k_per_s : b->k_charge_per_s);
    double after = delta_after(delta, i_A, c, k_per_s, dt_s);
    if (feeding ? after < 0.0 : after > 0.0) {
        const double end = -i_A / (c * k_per_s);
        const double crossing_s = log1p(-delta / end) / k_per_s;
        const double k2_per_s = kT * (feeding ? b->k_charge_per_s : b->k_per_s);
        after = delta_after(0.0, i_A, c, k2_per_s, dt_s - crossing_s);
    }
    s->q1_As = c * (total - (1.0 - c) * after);
    s->q2_As = total - s->q1_As;
}

/* r_ohm: the full resistance, which depends on nothing but the temperature. */
static void advance(const pr_battery *b, pr_battery_state *s, double r_ohm, double i_A, double dt_s)
{
    advance_wells(b, s, i_A, dt_s);
    const double steady_V = i_A * (1.0 - b->r0_share) * r_ohm;
    s->v1_V -= (steady_V - s->v1_V) * expm1(-dt_s / b->tau_s);
}

void pr_battery_advance_constant(const pr_battery *b, pr_battery_state *s, double i_A, double dt_s)
{
    advance(b, s, pr_battery_full_ohm(b, s->T_degC), i_A, dt_s);
}

typedef struct charge_context {
    pr_battery_branch branch;
    double i_A;
} charge_context;

static double charge_error_A(double v_V, void *context)
{
    const charge_context *c = context;
    return pr_battery_branch_current_A(&c->branch, v_V, NULL) - c->i_A;
}

/* Terminal voltage at a state under a charging current: acceptance and gassing decide it. */
static double charging_voltage_V(const pr_battery *b, const pr_battery_state *s, double i_A)
{
    charge_context c = {.i_A = i_A};
    pr_battery_branch_at(b, s, false, &c.branch);
    double v_V;
    const double e_V = c.branch.e_V;
    return pr_root_find(charge_error_A, &c, e_V, e_V + 20.0, 1e-9, &v_V) == PR_OK ? v_V : PR_NAN;
}

static double discharging_voltage_V(const pr_battery *b, const pr_battery_state *s, double r_ohm,
                                    double i_A)
{
    const double s1 = pr_battery_surface_frac(b, s), r0_ohm = b->r0_share * r_ohm;
    return pr_battery_emf_V(b, s1, s->T_degC) + s->v1_V +
           i_A * r0_ohm * pr_battery_surface_factor(b, s1, s->T_degC);
}

double pr_battery_voltage_after_V(const pr_battery *b, const pr_battery_state *s, double i_A,
                                  double seconds)
{
    const double r_ohm = pr_battery_full_ohm(b, s->T_degC);
    pr_battery_state end = *s;
    if (seconds > 0.0)
        advance(b, &end, r_ohm, i_A, seconds);
    return i_A > 0.0 ? charging_voltage_V(b, &end, i_A)
                     : discharging_voltage_V(b, &end, r_ohm, i_A);
}

double pr_battery_least_voltage_V(const pr_battery *b, const pr_battery_state *s, double out_A,
                                  double seconds)
{
    const double r_ohm = pr_battery_full_ohm(b, s->T_degC);
    pr_battery_state end = *s;
    advance(b, &end, r_ohm, -out_A, seconds);
    const double first_V = discharging_voltage_V(b, s, r_ohm, -out_A);
    const double last_V = discharging_voltage_V(b, &end, r_ohm, -out_A);
    return first_V < last_V ? first_V : last_V; /* not fmin: it would hide a NaN */
}

typedef struct discharge_context {
    const pr_battery *battery;
    const pr_battery_state *start;
    double i_A, end_V;
} discharge_context;

static double discharge_error_V(double seconds, void *context)
{
    const discharge_context *d = context;
    return pr_battery_voltage_after_V(d->battery, d->start, d->i_A, seconds) - d->end_V;
}

pr_status pr_battery_discharge_time_s(const pr_battery *b, pr_battery_state start, double i_A,
                                      double end_V, double limit_s, double *time_s,
                                      pr_battery_state *end)
{
    if (!(i_A < 0.0) || !isfinite(i_A) || !isfinite(end_V) || !(limit_s > 0.0))
        return PR_ERR_RANGE;
    discharge_context d = {b, &start, i_A, end_V};
    double low_s = 0.0, high_s = 0.0, error_V = discharge_error_V(0.0, &d);
    if (isnan(error_V))
        return PR_ERR_VALIDITY;
    /* from a recovering state the voltage may rise before it falls: look outwards, doubling */
    for (double t = 1.0; error_V > 0.0; t *= 2.0) {
        if (high_s >= limit_s)
            return PR_ERR_NO_SOLUTION;
        low_s = high_s;
        high_s = fmin(t, limit_s);
        error_V = discharge_error_V(high_s, &d);
        if (isnan(error_V))
            return PR_ERR_VALIDITY;
    }
    double found_s = 0.0;
    if (high_s > 0.0) {
        const pr_status status =
            pr_root_find(discharge_error_V, &d, low_s, high_s, 1e-9 * high_s, &found_s);
        if (status != PR_OK)
            return status;
    }
    *time_s = found_s;
    if (end != NULL) {
        *end = start;
        pr_battery_advance_constant(b, end, i_A, found_s);
    }
    return PR_OK;
}

double pr_battery_peukert_s(const pr_battery *b, double amps_A)
{
    return 20.0 * 3600.0 * b->def.health_capacity_frac * pow(b->i20_A / amps_A, b->peukert_n);
}

pr_battery_event pr_battery_limit(const pr_battery *b, const pr_battery_state *s, double v_V,
                                  double i_A)
{
    const pr_battery_def *def = &b->def;
    if (def->chemistry != PR_LIFEPO4)
        return PR_BATTERY_OK;
    if (-i_A > def->bms_discharge_limit_A)
        return PR_BATTERY_BMS_OVERCURRENT;
    if (v_V < def->bms_low_V)
        return PR_BATTERY_BMS_LOW_VOLTAGE;
    if (v_V > def->bms_high_V)
        return PR_BATTERY_BMS_HIGH_VOLTAGE;
    const double e_V = pr_battery_emf_V(b, pr_battery_surface_frac(b, s), s->T_degC) + s->v1_V;
    if (s->T_degC < def->bms_min_charge_degC && v_V > e_V)
        return PR_BATTERY_BMS_COLD_CHARGE;
    return PR_BATTERY_OK;
}
