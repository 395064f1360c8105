/* What the files of the battery share: chemistry data, formulas used by the label fit and by the
 * running battery alike, and the fit itself. Symbols and sources: battery.c. Private to battery*.c.
 */
#ifndef PR_PHYSICS_BATTERY_LAW_H
#define PR_PHYSICS_BATTERY_LAW_H

#include "physics/battery_branch.h"

#define PR_CRANKING_degC (-18.0) /* SAE J537, EN 50342-1 */
#define PR_HOUR_s        3600.0
#define PR_REST_POINTS   12

/* What a chemistry brings that no label tells; the numbers are in battery_chemistry.c. Arrays of
 * three are by plates: thin, dual, thick. */
typedef struct pr_battery_chemistry {
    const char *name;
    int n_rest;
    double rest_frac[PR_REST_POINTS], rest_V[PR_REST_POINTS]; /* ascending */
    double full_acid_mol_per_m3[3]; /* > 0: acid runs out with the charge, rest voltage by Bode */
    double emf_V_per_K;
    double rc_factor, rc_power; /* usual RC = factor C20^power, min, */
    double usual_exponent[3];   /* or, where this is not 0, by this Peukert exponent */
    double cca_per_Ah[3];       /* SAE; 0: resistance by capacity instead */
    double r0_ohm_Ah; /* R0 = r0_ohm_Ah / C20 where no cranking amps and no ohms are given */
    double polarisation[3];
    double r_per_K, k_per_K;
    double capacity_0_frac, cold_degC, capacity_cold_frac; /* 10 h rate, of that at 25 degC */
    double accept_per_h; /* alpha: effective acceptance at 14.4 V, 25 degC */
    double gas_ref_A_per_Ah;
    double kg_per_Ah, J_per_kgK;
} pr_battery_chemistry;

/* NULL for an unknown chemistry. */
const pr_battery_chemistry *pr_battery_chemistry_of(pr_chemistry chemistry);

pr_status pr_battery_rest_table(const pr_battery_chemistry *chemistry, pr_plates plates,
                                pr_table *rest_V);

/* One constant-current run from full to an end voltage at 25 degC. */
typedef struct pr_run_point {
    double A, s, end_V;
    double s1; /* surface state at its end, found for the present resistance; NaN: left out */
} pr_run_point;

enum { PR_FIT_POINTS_MAX = PR_BATTERY_POINTS_MAX + 3 };

/* How the wells follow from the points. */
typedef enum pr_fit_kind {
    PR_FIT_EXACT,  /* points 0 and 1 exactly, the mean mismatch of the others zero */
    PR_FIT_SQUARES /* all points by least squares of the relative mismatch */
} pr_fit_kind;

/* The label as equations and, after pr_battery_fit, the battery that answers to it. */
typedef struct pr_label_fit {
    const pr_battery_chemistry *chemistry;
    pr_fit_kind kind;
    bool third_must_hold; /* a user's own point; else those after the first two are wishes */
    bool fixed_k;         /* k' is given (LiFePO4) */
    int n;
    pr_run_point point[PR_FIT_POINTS_MAX];
    double cranking_A, cranking_s, cranking_V; /* cranking test; NaN amps: r25 is given */
    double polarisation, r0_share, tau_s;
    pr_table rest_V;
    double r25_ohm;             /* in: first guess or given; out */
    double qmax_As, x, k_per_s; /* x: X = (1 - c) / c */
    double unreachable[2];
} pr_label_fit;

pr_status pr_battery_fit(pr_label_fit *fit);

#endif
