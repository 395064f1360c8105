/* Formulas that the label solver (battery_label.c) and the running battery (battery.c) share.
 * Symbols and sources: battery.c. Private to these two files. */
#ifndef PR_PHYSICS_BATTERY_LAW_H
#define PR_PHYSICS_BATTERY_LAW_H

#include "physics/battery.h"

#include <math.h>

/* Resistance grows below this surface state and has a pole at zero. */
#define PR_KNEE_FRAC     0.25
#define PR_KNEE_STRENGTH 1.0
#define PR_LABEL_degC    25.0
#define PR_CELLS         6.0

/* What a chemistry brings that no label tells; table in battery_chemistry.c. */
typedef struct pr_battery_chemistry {
    const char *name;
    int n_rest;
    double rest_frac[12], rest_V[12]; /* ascending */
    double emf_V_per_K;
    double rc_factor, rc_power; /* RC = factor C20^power, min */
    double cca_per_Ah[3];       /* SAE, by plates */
    double accept_per_h;        /* alpha: effective acceptance at 14.4 V, 25 degC */
    double r_per_K, r_per_K2;
    double gas_ref_A_per_Ah;
    double kg_per_Ah, J_per_kgK;
} pr_battery_chemistry;

/* NULL for an unknown chemistry. */
const pr_battery_chemistry *pr_battery_chemistry_of(pr_chemistry chemistry);

/* rho(s1): R0 / R0(full). One above the knee; continuous slope; pole at an empty surface. */
static inline double pr_knee_factor(double s1)
{
    if (s1 >= PR_KNEE_FRAC)
        return 1.0;
    const double s = s1 > 1e-6 ? s1 : 1e-6, below = PR_KNEE_FRAC - s;
    return 1.0 + PR_KNEE_STRENGTH * below * below / (PR_KNEE_FRAC * s);
}

/* R(T) / R(25 degC). */
static inline double pr_resistance_factor(double per_K, double per_K2, double T_degC)
{
    const double d = PR_LABEL_degC - T_degC;
    return exp((per_K + per_K2 * d) * d);
}

#endif
