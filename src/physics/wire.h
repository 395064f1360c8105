/* Cables and joints: resistance, heat, ampacity, adiabatic limit. Equations and sources: wire.c. */
#ifndef PR_PHYSICS_WIRE_H
#define PR_PHYSICS_WIRE_H

#include "base/status.h"

typedef enum pr_gauge_kind { PR_GAUGE_MM2, PR_GAUGE_AWG, PR_GAUGE_SAE } pr_gauge_kind;
typedef enum pr_return { PR_RETURN_CABLE, PR_RETURN_CHASSIS } pr_return;

typedef struct pr_wire_def {
    int cookie;
    pr_gauge_kind gauge_kind;
    double gauge;    /* mm2, or number: 2, 1, 0, -1 (2/0), -2 (3/0), -3 (4/0) */
    double length_m; /* one way; both legs are counted when the return is a cable */
    pr_return return_kind;
    double chassis_ohm;     /* return through the chassis, default 0.0005 (m) */
    int parallel;           /* cables side by side, default 1 */
    int joints;             /* crimps, studs, lugs in both legs, default 4 */
    double joint_ohm;       /* each, default 0.0002 (m) */
    double extra_ohm;       /* a corroded joint, a switch, a contactor; default 0 */
    double insulation_degC; /* 60, 75, 90, 105, 125; default 105 */
    int engine_space;       /* 1: runs in the engine space */
} pr_wire_def;

typedef struct pr_wire {
    pr_wire_def def;
    double area_mm2;
    double r20_ohm;               /* copper, both legs, at 20 degC */
    double fixed_ohm;             /* joints, chassis, extra: no temperature */
    double heat_capacity_J_per_K; /* of the copper */
    double conductance_W_per_K;   /* from the ampacity table */
    double ampacity_A;            /* continuous, in its place */
} pr_wire;

typedef struct pr_wire_state {
    double T_degC;
} pr_wire_state;

#define PR_WIRE_COPPER_degC 234.5 /* below zero: where copper's resistance would end */

/* Inline: asked for at every evaluation. */
static inline double pr_wire_copper_ohm(const pr_wire *wire, double T_degC)
{
    return wire->r20_ohm * (PR_WIRE_COPPER_degC + T_degC) * (1.0 / (PR_WIRE_COPPER_degC + 20.0));
}

static inline double pr_wire_resistance_ohm(const pr_wire *wire, double T_degC)
{
    return pr_wire_copper_ohm(wire, T_degC) + wire->fixed_ohm;
}

pr_wire_def pr_wire_def_default(void);
pr_status pr_wire_derive(const pr_wire_def *def, pr_wire *wire);
double pr_wire_area_mm2(pr_gauge_kind kind, double gauge); /* NaN outside the tables */
/* Resistance of one metre of one conductor at 20 degC; NaN outside the tables. */
double pr_wire_r20_ohm_per_m(pr_gauge_kind kind, double gauge);
/* ambient_degC: the air around the cable, in an engine space the warmer air there. */
void pr_wire_rates(const pr_wire *wire, const pr_wire_state *state, double i_A, double ambient_degC,
                   pr_wire_state *rates);
double pr_wire_steady_degC(const pr_wire *wire, double i_A, double ambient_degC);
/* IEC 60949 adiabatic constant k, A s^0.5 / mm2, copper, between two temperatures. */
double pr_wire_adiabatic_k(double from_degC, double to_degC);
/* Temperature after `seconds` at i_A with no cooling. */
double pr_wire_adiabatic_degC(const pr_wire *wire, double from_degC, double i_A, double seconds);
/* Seconds at i_A until the short-circuit limit of the insulation (160 degC up to 105 degC
 * insulation, 250 degC above; IEC 60364-5-54), no cooling. */
double pr_wire_adiabatic_s(const pr_wire *wire, double from_degC, double i_A);
/* Ampacity of one conductor in its place (33 CFR 183.425 form), A. */
double pr_wire_ampacity_A(double area_mm2, double insulation_degC, int engine_space);
/* Smallest gauge index of the kind that carries i_A and keeps the drop below drop_V at 60 degC.
 * NaN when none does. */
double pr_wire_recommend(const pr_wire_def *like, double i_A, double drop_V);
/* "2 AWG", "2/0 AWG", "35 mm2", "2 SAE". */
void pr_wire_gauge_text(pr_gauge_kind kind, double gauge, char *text, unsigned long size);

#endif
