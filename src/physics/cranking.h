/* Restarting the engine: current by engine class and temperature, voltage test. Sources:
 * cranking.c. */
#ifndef PR_PHYSICS_CRANKING_H
#define PR_PHYSICS_CRANKING_H

#include "base/status.h"
#include "physics/battery.h"

typedef enum pr_engine_class {
    PR_ENGINE_PETROL_4,
    PR_ENGINE_PETROL_6,
    PR_ENGINE_PETROL_8,
    PR_ENGINE_DIESEL_4,
    PR_ENGINE_DIESEL_6,
    PR_ENGINE_DIESEL_8,
    PR_ENGINE_CLASS_COUNT
} pr_engine_class;

typedef struct pr_cranking_def {
    int cookie;
    pr_engine_class engine;
    double warm_A;         /* NaN: from the class */
    double cold_factor;    /* at -20 degC; NaN: 2.5 petrol, 1.8 diesel (m) */
    double engine_degC;    /* a warm engine restarts easily; NaN: ambient (worst) */
    double min_V;          /* 9.6 while cranking */
    int attempts;          /* 3 */
    double attempt_s;      /* 5 */
    double leads_ohm;      /* battery to starter, both legs, default 0.001 (m) */
    double least_soc_frac; /* reserve never below this, default 0.3: see cranking.c */
} pr_cranking_def;

pr_cranking_def pr_cranking_def_default(void);
double pr_cranking_current_A(const pr_cranking_def *cranking, double engine_degC);
/* Lowest battery terminal voltage less lead drop in the attempts from this state, V. */
double pr_cranking_voltage_V(const pr_cranking_def *cranking, const pr_battery *battery,
                             const pr_battery_state *state, double engine_degC);
/* Lowest rested state of charge (0..1) that still passes, but at least least_soc_frac;
 * PR_ERR_NO_SOLUTION if even full fails. */
pr_status pr_cranking_reserve_frac(const pr_cranking_def *cranking, const pr_battery *battery,
                                   double battery_degC, double engine_degC, double *soc_frac);

#endif
