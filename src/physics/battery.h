/* Battery: two-well kinetic charge, one RC branch, charge acceptance, heat. Equations and sources:
 * battery.c. Currents are positive when charging. All voltages are of the whole battery. */
#ifndef PR_PHYSICS_BATTERY_H
#define PR_PHYSICS_BATTERY_H

#include "base/status.h"
#include "base/table.h"
#include <stdbool.h>

typedef enum pr_chemistry {
    PR_FLOODED,
    PR_EFB,
    PR_AGM,
    PR_GEL,
    PR_LIFEPO4,
    PR_CHEMISTRY_COUNT
} pr_chemistry;

/* Plate build sets the high-rate end: thin = starter, thick = deep-cycle and standby. */
typedef enum pr_plates { PR_PLATES_THIN, PR_PLATES_DUAL, PR_PLATES_THICK } pr_plates;

/* Standard of the cold-cranking amps on the label. */
typedef enum pr_cranking_standard { PR_CCA_SAE, PR_CCA_EN } pr_cranking_standard;

enum { PR_BATTERY_POINTS_MAX = 16 };

/* What is printed on the label, and the sourced defaults for what is not. NaN = not given. */
typedef struct pr_battery_def {
    int cookie; /* set by pr_battery_def_default */
    pr_chemistry chemistry;
    pr_plates plates;
    double c20_Ah; /* capacity at the 20 h rate to 10.5 V, 25 degC; 1..400; required */
    double rc_min; /* reserve capacity: minutes at 25 A to 10.5 V, 25 degC; NaN: from c20 */
    double cca_A;  /* cold cranking amps; NaN: from c20 (default ratio per chemistry and plates) */
    pr_cranking_standard cca_standard;
    double high_rate_A, high_rate_s; /* a user's own third point; NaN: Peukert or plate rule */
    int n_points;                    /* a maker's constant-current table, 0 = none */
    double point_A[PR_BATTERY_POINTS_MAX], point_s[PR_BATTERY_POINTS_MAX];
    double points_end_V;             /* end voltage of that table, default 10.5 */
    double resistance_ohm;           /* R0 by sheet or tester, 25 degC, full; NaN: from CCA */
    double health_capacity_frac;     /* left of the label capacity, 0.1..1, default 1 */
    double health_resistance_factor; /* 1 = new, 1..5 */
    double acceptance_factor;        /* scales charge acceptance, default 1 (0.1..5) */
    double surface_acceptance_ratio; /* alpha_s / alpha, default 2: a guess, see docs */
    double high_rate_factor;         /* scales the time at the high-rate point, 0.5..1.5, 1 */
    double mass_kg;                  /* NaN: from c20 and chemistry */
    double case_conductance_W_per_K; /* NaN: from mass */
    /* LiFePO4 management system; ignored for lead. NaN: default per Ah */
    double bms_charge_limit_A, bms_discharge_limit_A, bms_discharge_delay_s;
    double bms_low_V, bms_high_V, bms_min_charge_degC;
} pr_battery_def;

/* Derived once by pr_battery_derive; const afterwards. Fields are read by tests and reports. */
typedef struct pr_battery {
    pr_battery_def def; /* with every NaN replaced by the value used */
    double peukert_n;   /* exponent between 20 h and RC */
    double i20_A;
    double qmax_As; /* both wells, 25 degC, with health */
    double c_frac;  /* share of the first (available) well */
    double k_per_s; /* k' at 25 degC, discharge */
    double k_charge_per_s;
    double r25_ohm;  /* total (R0 + R1) at 25 degC */
    double r0_share; /* 0.75 */
    double tau_s;    /* 40 s */
    double heat_capacity_J_per_K, case_conductance_W_per_K;
    double fit_rms_frac;   /* relative rms of time over a maker's table; NaN when none was given */
    pr_table rest_V;       /* rested voltage against state of charge, 25 degC */
    double emf_V_per_K;    /* change of the rested voltage with temperature */
    double k_per_K;        /* both k' grow by exp(k_per_K (T - 25)) */
    double r_per_K;        /* R(T) = r25 exp(r_per_K (25 - T)) */
    double unreachable[2]; /* a, b: share of the surface out of reach in the cold, a d + b d^2 */
    double polarisation;   /* p: in discharge R0 grows by 1 + p (1/u - 1), u the surface in reach */
    double accept_ref_A;   /* surface acceptance at 14.4 V, 25 degC with the surface empty */
    double accept_per_K, accept_per_V; /* exponents of its growth; 0 for LiFePO4 */
    double accept_cap_A;               /* management system's charge limit; infinite for lead */
    double gas_ref_A;                  /* gassing current at 13.38 V (2.23 V a cell), 25 degC */
} pr_battery;

typedef struct pr_battery_state {
    double q1_As, q2_As; /* charge in the available and the bound well */
    double v1_V;         /* RC branch voltage, positive when charging */
    double T_degC;
} pr_battery_state;

/* Electrical law of the battery frozen at one state: current as a function of terminal voltage. */
typedef struct pr_battery_branch {
    double e_V;           /* E(s1,T) + v1: voltage at zero current */
    double r0_ohm;        /* series resistance now, in discharge (v_V < e_V) */
    double r0_charge_ohm; /* and in charge */
    double r1_ohm;        /* of the RC branch now */
    double k_factor;      /* k' now / k' at 25 degC */
    double accept_A; /* acceptance at v_V is accept_A exp(accept_exponent + accept_per_V v_V) */
    double accept_exponent, accept_per_V;
    double accept_cap_A;        /* but never more than this */
    double gas_A, gas_exponent; /* gassing gas_A exp(gas_exponent + 11/6 v_V), fades at e_V */
    bool open;                  /* disconnected (management system): current is zero */
    bool no_charge;             /* too cold to charge (management system): discharge only */
} pr_battery_branch;

/* Why a battery is disconnected, or a limit is near. */
typedef enum pr_battery_event {
    PR_BATTERY_OK,
    PR_BATTERY_BMS_OVERCURRENT,
    PR_BATTERY_BMS_LOW_VOLTAGE,
    PR_BATTERY_BMS_HIGH_VOLTAGE,
    PR_BATTERY_BMS_COLD_CHARGE
} pr_battery_event;

pr_battery_def pr_battery_def_default(void);

/* Solves wells, resistance and the rest from the label. PR_ERR_RANGE: a field outside its range or
 * plates that contradict each other (RC above what c20 allows ...); PR_ERR_NO_SOLUTION: no two-well
 * battery has this label. */
pr_status pr_battery_derive(const pr_battery_def *def, pr_battery *battery);

/* Rested battery at a state of charge (0..1) and temperature. */
pr_battery_state pr_battery_state_rested(const pr_battery *battery, double soc_frac, double T_degC);

/* Rested battery whose open-circuit voltage is given; PR_ERR_RANGE outside the table. */
pr_status pr_battery_state_from_rest_V(const pr_battery *battery, double rest_V, double T_degC,
                                       pr_battery_state *state);

double pr_battery_soc_frac(const pr_battery *battery, const pr_battery_state *state);
double pr_battery_surface_frac(const pr_battery *battery, const pr_battery_state *state); /* s1 */
double pr_battery_rest_V(const pr_battery *battery, double soc_frac, double T_degC);

/* Freezing point of the electrolyte at this state of charge; -inf for LiFePO4. */
double pr_battery_freezing_degC(const pr_battery *battery, double soc_frac);

/* R0 + R1 at this state and temperature. */
double pr_battery_resistance_ohm(const pr_battery *battery, const pr_battery_state *state);

/* Outputs: the branch at a state, then its current (positive = charging) and dI/dV >= 0 at a
 * terminal voltage. `open` disconnects. Continuous and monotone in v_V. */
void pr_battery_branch_at(const pr_battery *battery, const pr_battery_state *state, bool open,
                          pr_battery_branch *branch);
double pr_battery_branch_current_A(const pr_battery_branch *branch, double v_V, double *dI_dV);
/* The same, with the part that gasses and its slope. */
double pr_battery_branch_parts_A(const pr_battery_branch *branch, double v_V, double *dI_dV,
                                 double *gas_A, double *dgas_dV);

/* Time derivatives at terminal voltage v_V and current i_A as the bus solved them. rates uses the
 * same struct, each field per second. *gas_A (may be NULL): part of i_A that does not charge. */
void pr_battery_rates(const pr_battery *battery, const pr_battery_state *state,
                      const pr_battery_branch *branch, double v_V, double i_A, double ambient_degC,
                      pr_battery_state *rates, double *gas_A);

/* Chemical (reversible) power E*i that goes in and the heat that comes out, W; their sum is the
 * terminal power v_V * i_A less what the RC branch stores. */
void pr_battery_powers_W(const pr_battery *battery, const pr_battery_state *state,
                         const pr_battery_branch *branch, double v_V, double i_A,
                         double *chemical_W, double *heat_W);

/* Constant-current runs from a state, without a bus: time to end_V (s), or PR_ERR_NO_SOLUTION when
 * it is not reached in limit_s. i_A is negative (discharge). Used by derive, budget and tests. */
pr_status pr_battery_discharge_time_s(const pr_battery *battery, pr_battery_state start, double i_A,
                                      double end_V, double limit_s, double *time_s,
                                      pr_battery_state *end);

/* Exact advance at constant current (wells and RC branch closed form, temperature held; all of a
 * charging current goes in: no gassing, no limit of acceptance). */
void pr_battery_advance_constant(const pr_battery *battery, pr_battery_state *state, double i_A,
                                 double dt_s);

/* Terminal voltage after `seconds` at constant current, temperature held, start unchanged. Of a
 * charging current: the voltage that makes the battery take it then; NaN if none below e_V + 20. */
double pr_battery_voltage_after_V(const pr_battery *battery, const pr_battery_state *state,
                                  double i_A, double seconds);
/* The lower of the voltages at the start and at the end of such a discharge of out_A (>= 0). */
double pr_battery_least_voltage_V(const pr_battery *battery, const pr_battery_state *state,
                                  double out_A, double seconds);

/* Peukert time from full at a constant current (positive amps here), s. */
double pr_battery_peukert_s(const pr_battery *battery, double amps_A);

/* Management-system limit that this state and current violate (delay is the engine's). */
pr_battery_event pr_battery_limit(const pr_battery *battery, const pr_battery_state *state,
                                  double v_V, double i_A);
const char *pr_chemistry_name(pr_chemistry chemistry);

/* Rest voltage of six lead-acid cells, 25 degC, for an acid of this molality, mol/kg (Bode 1977).
 */
double pr_lead_acid_emf_V(double molality);

#endif
