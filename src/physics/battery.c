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
#include "physics/battery_law.h"

#include <math.h>
#include <stddef.h>

static const double GAS_PER_V = 11.0 / PR_CELLS, GAS_PER_K = 0.06;
static const double GAS_REF_V = 2.23 * PR_CELLS, GAS_FADE_V = 0.05;
static const double ACCEPT_REF_V = 14.4;

static double k_factor(const pr_battery *b, double T_degC)
{
    return pr_exp(b->k_per_K * (T_degC - PR_LABEL_degC));
}

static double emf_V(const pr_battery *b, double s1, double T_degC)
{
    return pr_table_at(&b->rest_V, s1, NULL) + b->emf_V_per_K * (T_degC - PR_LABEL_degC);
}

static double full_resistance_ohm(const pr_battery *b, double T_degC)
{
    return b->r25_ohm * pr_resistance_factor(b->r_per_K, T_degC);
}

/* rho */
static double surface_factor(const pr_battery *b, double s1, double T_degC)
{
    return pr_polarisation_factor(b->polarisation, s1, pr_unreachable_frac(b->unreachable, T_degC));
}

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
    return emf_V(b, soc_frac, T_degC);
}

double pr_battery_resistance_ohm(const pr_battery *b, const pr_battery_state *s)
{
    const double rho = surface_factor(b, pr_battery_surface_frac(b, s), s->T_degC);
    return full_resistance_ohm(b, s->T_degC) * (b->r0_share * rho + 1.0 - b->r0_share);
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
    return emf_V(r->battery, soc_frac, r->T_degC) - r->rest_V;
}

pr_status pr_battery_state_from_rest_V(const pr_battery *b, double rest_V, double T_degC,
                                       pr_battery_state *state)
{
    rest_context r = {b, rest_V, T_degC};
    /* a rested battery just off the charger reads a little above the table: that is full */
    const double above_V = rest_V - emf_V(b, 1.0, T_degC);
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
    const double s1 = pr_battery_surface_frac(b, s), dT = s->T_degC - PR_LABEL_degC;
    const double r_ohm = full_resistance_ohm(b, s->T_degC);
    const double e_V = emf_V(b, s1, s->T_degC) + s->v1_V;
    *branch = (pr_battery_branch){
        .e_V = e_V,
        .r0_ohm = b->r0_share * r_ohm * surface_factor(b, s1, s->T_degC),
        .r0_charge_ohm = b->r0_share * r_ohm,
        .r1_ohm = (1.0 - b->r0_share) * r_ohm,
        .accept_A = b->accept_ref_A * (1.0 - s1), /* overfull: negative, nothing is accepted */
        .accept_exponent = b->accept_per_V * (e_V - ACCEPT_REF_V) + b->accept_per_K * dT,
        .accept_per_V = b->accept_per_V,
        .accept_cap_A = b->accept_cap_A,
        .gas_A = b->gas_ref_A,
        .gas_exponent = GAS_PER_V * (e_V - GAS_REF_V) + GAS_PER_K * dT,
        .open = open,
        .no_charge = b->def.chemistry == PR_LIFEPO4 && s->T_degC < b->def.bms_min_charge_degC,
    };
}

/* Gassing current at d volts above rest (d > 0), and its slope. */
static double gas_current_A(const pr_battery_branch *branch, double d, double *slope_S)
{
    if (branch->gas_A <= 0.0)
        return *slope_S = 0.0;
    const double full = branch->gas_A * pr_exp(branch->gas_exponent + GAS_PER_V * d);
    const double w2 = GAS_FADE_V * GAS_FADE_V, per = 1.0 / (d * d + w2), fade = d * d * per;
    *slope_S = full * (GAS_PER_V * fade + 2.0 * d * w2 * per * per);
    return full * fade;
}

/* Main charging current at d volts above rest (d > 0), and its slope. */
static double main_current_A(const pr_battery_branch *branch, double d, double *slope_S)
{
    double accept_A = branch->accept_A, accept_slope_S = 0.0;
    if (accept_A > 0.0 && branch->accept_per_V > 0.0) {
        accept_A *= pr_exp(branch->accept_exponent + branch->accept_per_V * d);
        accept_slope_S = accept_A * branch->accept_per_V;
    }
    if (accept_A > branch->accept_cap_A) {
        accept_A = branch->accept_cap_A;
        accept_slope_S = 0.0;
    }
    const double ohmic_S = 1.0 / branch->r0_charge_ohm, ohmic_A = d * ohmic_S;
    /* (a^-4 + b^-4)^(-1/4) without overflow: the smaller one over a root between 1 and 2^(1/4) */
    const bool by_ohm = ohmic_A < accept_A;
    const double small = by_ohm ? ohmic_A : accept_A, large = by_ohm ? accept_A : ohmic_A;
    if (small <= 0.0)
        return *slope_S = 0.0;
    const double ratio = small / large, ratio2 = ratio * ratio;
    const double of_small = 1.0 / sqrt(sqrt(1.0 + ratio2 * ratio2)), of_large = of_small * ratio;
    const double po = by_ohm ? of_small : of_large, pa = by_ohm ? of_large : of_small;
    const double po2 = po * po, pa2 = pa * pa;
    *slope_S = po2 * po2 * po * ohmic_S + pa2 * pa2 * pa * accept_slope_S;
    return small * of_small;
}

double pr_battery_branch_parts_A(const pr_battery_branch *branch, double v_V, double *dI_dV,
                                 double *gas_A, double *dgas_dV)
{
    *dI_dV = *gas_A = *dgas_dV = 0.0;
    if (branch->open)
        return 0.0;
    const double d = v_V - branch->e_V;
    if (d <= 0.0) {
        *dI_dV = 1.0 / branch->r0_ohm;
        return d * *dI_dV;
    }
    if (branch->no_charge)
        return isnan(d) ? d : 0.0;
    const double i_A = main_current_A(branch, d, dI_dV);
    *gas_A = gas_current_A(branch, d, dgas_dV);
    *dI_dV += *dgas_dV;
    return i_A + *gas_A;
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
    const double d = v_V - branch->e_V;
    double slope_S;
    return branch->open || branch->no_charge || d <= 0.0 ? 0.0 : gas_current_A(branch, d, &slope_S);
}

/* Heat from the terminal current; `gas_A` is its gassing part. */
static double heat_at_W(const pr_battery_state *s, const pr_battery_branch *branch, double v_V,
                        double i_A, double gas_A)
{
    /* with the switch open the terminal voltage is the bus's, not the battery's */
    const double loss_W = branch->open ? 0.0 : i_A * (v_V - branch->e_V);
    return loss_W + (branch->e_V - s->v1_V) * gas_A + s->v1_V * s->v1_V / branch->r1_ohm;
}

void pr_battery_powers_W(const pr_battery *b, const pr_battery_state *s,
                         const pr_battery_branch *branch, double v_V, double i_A,
                         double *chemical_W, double *heat_W)
{
    (void)b;
    const double gas_A = gas_at_A(branch, v_V);
    *chemical_W = (branch->e_V - s->v1_V) * (i_A - gas_A);
    *heat_W = heat_at_W(s, branch, v_V, i_A, gas_A);
}

void pr_battery_rates_gassing(const pr_battery *b, const pr_battery_state *s,
                              const pr_battery_branch *branch, double v_V, double i_A, double gas_A,
                              double ambient_degC, pr_battery_state *rates)
{
    const double c = b->c_frac, delta = s->q2_As / (1.0 - c) - s->q1_As / c;
    const double k_per_s = k_factor(b, s->T_degC) * (delta > 0.0 ? b->k_per_s : b->k_charge_per_s);
    const double flow_A = k_per_s * c * (1.0 - c) * delta;
    const double cooling_W = b->case_conductance_W_per_K * (s->T_degC - ambient_degC);
    *rates = (pr_battery_state){
        .q1_As = i_A - gas_A + flow_A,
        .q2_As = -flow_A,
        .v1_V = (i_A * branch->r1_ohm - s->v1_V) / b->tau_s,
        .T_degC = (heat_at_W(s, branch, v_V, i_A, gas_A) - cooling_W) / b->heat_capacity_J_per_K,
    };
}

void pr_battery_rates(const pr_battery *b, const pr_battery_state *s,
                      const pr_battery_branch *branch, double v_V, double i_A, double ambient_degC,
                      pr_battery_state *rates, double *gas_A)
{
    const double gas = gas_at_A(branch, v_V);
    pr_battery_rates_gassing(b, s, branch, v_V, i_A, gas, ambient_degC, rates);
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
    const double c = b->c_frac, kT = k_factor(b, s->T_degC);
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

void pr_battery_advance_constant(const pr_battery *b, pr_battery_state *s, double i_A, double dt_s)
{
    advance_wells(b, s, i_A, dt_s);
    const double steady_V = i_A * (1.0 - b->r0_share) * full_resistance_ohm(b, s->T_degC);
    s->v1_V -= (steady_V - s->v1_V) * expm1(-dt_s / b->tau_s);
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

double pr_battery_voltage_after_V(const pr_battery *b, const pr_battery_state *s, double i_A,
                                  double seconds)
{
    pr_battery_state end = *s;
    if (seconds > 0.0)
        pr_battery_advance_constant(b, &end, i_A, seconds);
    if (i_A > 0.0)
        return charging_voltage_V(b, &end, i_A);
    const double s1 = pr_battery_surface_frac(b, &end);
    const double r0_ohm = b->r0_share * full_resistance_ohm(b, end.T_degC);
    return emf_V(b, s1, end.T_degC) + end.v1_V + i_A * r0_ohm * surface_factor(b, s1, end.T_degC);
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
    const double e_V = emf_V(b, pr_battery_surface_frac(b, s), s->T_degC) + s->v1_V;
    if (s->T_degC < def->bms_min_charge_degC && v_V > e_V)
        return PR_BATTERY_BMS_COLD_CHARGE;
    return PR_BATTERY_OK;
}
