/* The battery in the inner loop: its law at one state, the current that follows from a terminal
 * voltage, and how the state then moves. battery.c has the equations, and functions to be called.
 * Inline, for the network asks for the current at every iteration and for the rest at every
 * evaluation. */
#ifndef PR_PHYSICS_BATTERY_BRANCH_H
#define PR_PHYSICS_BATTERY_BRANCH_H

#include "base/exponential.h"
#include "physics/battery.h"

#include <math.h>

#define PR_LABEL_degC   25.0
#define PR_CELLS        6.0
#define PR_GAS_PER_V    (11.0 / PR_CELLS)
#define PR_GAS_PER_K    0.06
#define PR_GAS_REF_V    (2.23 * PR_CELLS)
#define PR_GAS_FADE_V   0.05
#define PR_ACCEPT_REF_V 14.4

/* rho(s1) = 1 + p (1/u - 1), u = (s1 - x) / (1 - x): R0 / R0(full) in discharge; x is the share
 * that cannot be reached at this temperature, so 1/u - 1 = (1 - s1) / (s1 - x). The pole at u = 0
 * is kept finite. */
static inline double pr_polarisation_factor(double polarisation, double s1, double unreachable)
{
    const double reach = s1 - unreachable;
    return 1.0 + polarisation * (1.0 - s1) / (reach > 1e-6 ? reach : 1e-6);
}

/* x(T) = a d + b d^2 below 25 degC, d = 25 - T; none above. */
static inline double pr_unreachable_frac(const double ab[2], double T_degC)
{
    const double d = PR_LABEL_degC - T_degC;
    const double x = d > 0.0 ? (ab[0] + ab[1] * d) * d : 0.0;
    return x < 0.0 ? 0.0 : x > 0.9 ? 0.9 : x;
}

/* R(T) / R(25 degC). */
static inline double pr_resistance_factor(double per_K, double T_degC)
{
    return pr_exp(per_K * (PR_LABEL_degC - T_degC));
}

static inline double pr_battery_k_factor(const pr_battery *b, double T_degC)
{
    return pr_exp(b->k_per_K * (T_degC - PR_LABEL_degC));
}

static inline double pr_battery_emf_V(const pr_battery *b, double s1, double T_degC)
{
    return pr_table_at(&b->rest_V, s1, NULL) + b->emf_V_per_K * (T_degC - PR_LABEL_degC);
}

static inline double pr_battery_full_ohm(const pr_battery *b, double T_degC)
{
    return b->r25_ohm * pr_resistance_factor(b->r_per_K, T_degC);
}

/* rho */
static inline double pr_battery_surface_factor(const pr_battery *b, double s1, double T_degC)
{
    return pr_polarisation_factor(b->polarisation, s1, pr_unreachable_frac(b->unreachable, T_degC));
}

/* See pr_battery_branch_at. */
static inline void pr_branch_at(const pr_battery *b, const pr_battery_state *s, bool open,
                                pr_battery_branch *branch)
{
    const double s1 = s->q1_As / (b->c_frac * b->qmax_As), dT = s->T_degC - PR_LABEL_degC;
    const pr_two by_T = pr_exp_two(b->k_per_K * dT, b->r_per_K * dT);
    const double r_ohm = b->r25_ohm / by_T[1];
    branch->k_factor = by_T[0];
    branch->e_V = pr_battery_emf_V(b, s1, s->T_degC) + s->v1_V;
    branch->r0_charge_ohm = b->r0_share * r_ohm;
    branch->r0_ohm = branch->r0_charge_ohm * pr_battery_surface_factor(b, s1, s->T_degC);
    branch->r1_ohm = r_ohm - branch->r0_charge_ohm;
    branch->accept_A = b->accept_ref_A * (1.0 - s1); /* overfull: negative, nothing is accepted */
    branch->accept_exponent = b->accept_per_K * dT - b->accept_per_V * PR_ACCEPT_REF_V;
    branch->accept_per_V = b->accept_per_V;
    branch->accept_cap_A = b->accept_cap_A;
    branch->gas_A = b->gas_ref_A;
    branch->gas_exponent = PR_GAS_PER_K * dT - PR_GAS_PER_V * PR_GAS_REF_V;
    branch->open = open;
    branch->no_charge = b->def.chemistry == PR_LIFEPO4 && s->T_degC < b->def.bms_min_charge_degC;
}

/* A current and its slope over the voltage. */
typedef struct pr_tangent {
    double i_A, slope_S;
} pr_tangent;

/* Smooth minimum (a^-4 + b^-4)^(-1/4) of two currents and its slope, without overflow: the smaller
 * one times q^(1/4), q = 1 / (1 + r^4), r = smaller / larger; di/da = (i / a)^5. */
static inline pr_tangent pr_smooth_least(pr_tangent a, pr_tangent b)
{
    const bool by_a = a.i_A < b.i_A;
    const pr_tangent small = by_a ? a : b, large = by_a ? b : a;
    if (small.i_A <= 0.0)
        return (pr_tangent){0.0, 0.0};
    const double r = small.i_A / large.i_A, r2 = r * r, r4 = r2 * r2, q = 1.0 / (1.0 + r4);
    const double share = sqrt(sqrt(q));
    return (pr_tangent){small.i_A * share, q * share * (small.slope_S + r4 * r * large.slope_S)};
}

/* Charging current at d volts above rest (d > 0). *gas: the part of it that does not charge. */
static inline pr_tangent pr_branch_charging(const pr_battery_branch *branch, double v_V, double d,
                                            pr_tangent *gas)
{
    const pr_two growth = pr_exp_two(branch->accept_exponent + branch->accept_per_V * v_V,
                                     branch->gas_exponent + PR_GAS_PER_V * v_V);
    const double accept_A = branch->accept_A * growth[0], gas_A = branch->gas_A * growth[1];
    const bool capped = accept_A > branch->accept_cap_A;
    const pr_tangent accept = {capped ? branch->accept_cap_A : accept_A,
                               capped ? 0.0 : accept_A * branch->accept_per_V};
    const double ohmic_S = 1.0 / branch->r0_charge_ohm;
    const pr_tangent main = pr_smooth_least((pr_tangent){d * ohmic_S, ohmic_S}, accept);
    const double w2 = PR_GAS_FADE_V * PR_GAS_FADE_V, d2 = d * d, per = 1.0 / (d2 + w2);
    const double faded = gas_A * per;
    *gas = (pr_tangent){faded * d2, faded * (PR_GAS_PER_V * d2 + 2.0 * w2 * per * d)};
    return (pr_tangent){main.i_A + gas->i_A, main.slope_S + gas->slope_S};
}

/* The whole current; *gas: the part of it that does not charge. */
static inline pr_tangent pr_branch_tangent(const pr_battery_branch *branch, double v_V,
                                           pr_tangent *gas)
{
    *gas = (pr_tangent){0.0, 0.0};
    if (branch->open)
        return *gas;
    const double d = v_V - branch->e_V;
    if (d <= 0.0) {
        const double slope_S = 1.0 / branch->r0_ohm;
        return (pr_tangent){d * slope_S, slope_S};
    }
    if (branch->no_charge)
        return (pr_tangent){isnan(d) ? d : 0.0, 0.0};
    return pr_branch_charging(branch, v_V, d, gas);
}

/* Heat from the terminal current; `gas_A` is its gassing part. */
static inline double pr_branch_heat_W(const pr_battery_state *s, const pr_battery_branch *branch,
                                      double v_V, double i_A, double gas_A)
{
    /* with the switch open the terminal voltage is the bus's, not the battery's */
    const double loss_W = branch->open ? 0.0 : i_A * (v_V - branch->e_V);
    return loss_W + (branch->e_V - s->v1_V) * gas_A + s->v1_V * s->v1_V / branch->r1_ohm;
}

/* As pr_battery_rates with the gassing part as the bus solved it; returns the heat, W. */
static inline double pr_branch_rates(const pr_battery *b, const pr_battery_state *s,
                                     const pr_battery_branch *branch, double v_V, double i_A,
                                     double gas_A, double ambient_degC, pr_battery_state *rates)
{
    /* c (1 - c) (h2 - h1) */
    const double head_As = b->c_frac * s->q2_As - (1.0 - b->c_frac) * s->q1_As;
    const double k_per_s = head_As > 0.0 ? b->k_per_s : b->k_charge_per_s;
    const double flow_A = branch->k_factor * k_per_s * head_As;
    const double heat_W = pr_branch_heat_W(s, branch, v_V, i_A, gas_A);
    const double cooling_W = b->case_conductance_W_per_K * (s->T_degC - ambient_degC);
    rates->q1_As = i_A - gas_A + flow_A;
    rates->q2_As = -flow_A;
    rates->v1_V = (i_A * branch->r1_ohm - s->v1_V) / b->tau_s;
    rates->T_degC = (heat_W - cooling_W) / b->heat_capacity_J_per_K;
    return heat_W;
}

#endif
