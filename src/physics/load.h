/* Electrical loads: current against voltage, conditions, duty, thermostat, inrush, drop-out. */
#ifndef PR_PHYSICS_LOAD_H
#define PR_PHYSICS_LOAD_H

#include "base/status.h"
#include <stdbool.h>

/* Below this share of the reference voltage a load with an exponent < 1 is a straight line to zero.
 */
#define PR_LOAD_LOW_FRAC 0.6

/* When a load is on; flags are or-ed. ALWAYS includes engine off. */
typedef enum pr_when {
    PR_WHEN_ALWAYS = 1,
    PR_WHEN_ENGINE = 2,  /* engine running */
    PR_WHEN_PULLING = 4, /* only in pulls */
    PR_WHEN_RESTING = 8, /* only in rests */
    PR_WHEN_NEVER = 16   /* listed, switched off; budget situations may switch it on */
} pr_when;

typedef enum pr_cycling { PR_CYCLE_NONE, PR_CYCLE_DUTY, PR_CYCLE_THERMOSTAT } pr_cycling;

typedef struct pr_load_def {
    int cookie;
    double amps_A;      /* at reference_V; either this or watts */
    double watts_W;     /* at reference_V; NaN if amps given */
    double reference_V; /* default 13.5 */
    double exponent; /* I = I0 (V/Vref)^a; driver -1, electronics 0, lamp 0.55, heater 1, fan 1.6 */
    unsigned when;   /* pr_when flags */
    int quantity;
    pr_cycling cycling;
    double duty_frac, period_s;              /* PR_CYCLE_DUTY */
    double on_degC, off_degC, start_degC;    /* PR_CYCLE_THERMOSTAT: hysteresis */
    double warming_K_per_s, cooling_K_per_s; /* rate while off / while on, of what it keeps cool */
    double inrush_factor, inrush_s; /* current = factor x, decaying with inrush_s after a start */
    double dropout_V, return_V;     /* NaN = works at any voltage */
    bool stops_engine;              /* the engine dies when this drops out */
    bool essential;                 /* kept on in limp-home */
    double wire_ohm;                /* feed resistance when its wire is not modelled, 0 */
} pr_load_def;

typedef struct pr_load {
    pr_load_def def;
    double i0_A; /* quantity included, at reference_V */
} pr_load;

pr_load_def pr_load_def_default(void);
pr_status pr_load_derive(const pr_load_def *def, pr_load *load);
/* Amps (>= 0) at bus voltage v_V, and slope; age_s = time since it was switched on (inrush). */
double pr_load_current_A(const pr_load *load, double v_V, double age_s, double *dI_dV);
/* Factor on its current so long after it was switched on. */
double pr_load_inrush(const pr_load *load, double age_s);
/* Is it wanted in this situation? duty cycling not included. */
bool pr_load_wanted(const pr_load *load, bool engine_running, bool pulling, bool resting);
/* Drop-out and return voltage: -1 stops working, +1 works again, 0 as it was. */
int pr_load_wants(const pr_load *load, bool working, double v_V);
/* Thermostat: +1 wants to switch on, -1 off, 0 holds; and how fast what it cools (or heats, when
 * on_degC is the lower) changes. The engine keeps that temperature, from start_degC. */
int pr_load_thermostat_wants(const pr_load *load, bool on, double T_degC);
double pr_load_thermostat_K_per_s(const pr_load *load, bool on);
/* Duty: on or off at `time_s` since the run began, and the time of the next change. */
bool pr_load_duty_on(const pr_load *load, double time_s, double *next_change_s);

#endif
