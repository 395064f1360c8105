/* Alternator, regulator, belt. Equations and sources: alternator.c. Output current is positive. */
#ifndef PR_PHYSICS_ALTERNATOR_H
#define PR_PHYSICS_ALTERNATOR_H

#include "base/number.h"
#include "base/status.h"
#include "base/table.h"
#include <math.h>
#include <stdbool.h>

enum { PR_ALTERNATOR_POINTS_MAX = 12 };
typedef enum pr_sensing { PR_SENSE_TERMINAL, PR_SENSE_BATTERY } pr_sensing;

typedef struct pr_alternator_def {
    int cookie;
    double rated_A, rated_rpm; /* plate: amps at 6000 rpm of the alternator (13.5 V, 23 degC) */
    double idle_A, idle_rpm;   /* amps at its stated low speed, 1500 or 1800 rpm; idle_A NaN: 0.42
                                  of rated_A at 450 rpm above cut-in */
    double cut_in_rpm;         /* first output, default 1050 */
    int n_points;              /* maker's points instead of the plate fit */
    double point_rpm[PR_ALTERNATOR_POINTS_MAX], point_A[PR_ALTERNATOR_POINTS_MAX];
    double pulley_ratio;   /* alternator speed / engine speed, default 2.7 */
    double belt_slip_frac; /* 0 = none .. 1 = no drive at all; lowers the alternator's speed */
    double set_V;          /* at 20 degC, default 14.4 */
    double set_V_per_K;    /* default -0.010 */
    double droop_ohm;      /* default 0.0025 */
    pr_sensing sensing;
    double ramp_s;      /* 0 = none; time from none to rated after a load step */
    double turn_on_rpm; /* alternator rpm where it excites itself; NaN = cut-in */
    double efficiency_full, efficiency_half; /* 0.55, 0.65 */
    double belt_limit_W;                     /* shaft power where the belt slips; NaN = no limit */
    double output_factor; /* scales the whole curve (worn, one diode lost), default 1 */
    double air_degC_rise; /* under-bonnet air above ambient, default 20 */
} pr_alternator_def;

typedef struct pr_alternator {
    pr_alternator_def def;
    double im_A, n0_rpm, nc_rpm; /* h(n) = im (1 - exp(-(n-n0)/nc)); NaN with maker's points */
    pr_table points;             /* n = 0: plate fit */
    double per_eta0, per_eta1;   /* 1 / efficiency = per_eta0 + per_eta1 I / rated */
} pr_alternator;

typedef struct pr_alternator_state {
    double winding_degC;
    double ceiling_A; /* ramp after a load step; ignored when ramp_s = 0 */
} pr_alternator_state;

typedef struct pr_alternator_branch {
    bool running; /* excited and turning */
    double set_V; /* at this temperature, no load */
    double droop_ohm;
    double ceiling_A;         /* ramp limit or +inf */
    double rpm, winding_degC; /* of the alternator */
    double air_degC;          /* around regulator and winding */
    double field_frac;        /* f with the field fed at 13.5 V: depends on the winding only */
} pr_alternator_branch;

pr_alternator_def pr_alternator_def_default(void);
/* The same alternator in another size: its whole curve, and a belt that goes with it. */
void pr_alternator_def_scale(pr_alternator_def *def, double rated_A);
pr_status pr_alternator_derive(const pr_alternator_def *def, pr_alternator *alternator);
pr_alternator_state pr_alternator_state_at(const pr_alternator *alternator, double T_degC);

/* Full-field amps at alternator speed, winding temperature and terminal voltage. */
double pr_alternator_available_A(const pr_alternator *alternator, double rpm, double winding_degC,
                                 double v_V);

/* What follows is inline because it is asked for at every evaluation. */
#define PR_ALTERNATOR_WARM_degC   83.0  /* winding at the plate's test */
#define PR_ALTERNATOR_COPPER_degC 234.5 /* below zero: where copper's resistance would end */
#define PR_ALTERNATOR_WINDING_K   60.0  /* steady rise at the rated output */
#define PR_ALTERNATOR_WINDING_s   600.0
#define PR_ALTERNATOR_RAMP_MARGIN 0.1

/* Set voltage of the regulator at its own temperature. */
static inline double pr_alternator_set_V(const pr_alternator *alternator, double regulator_degC)
{
    return alternator->def.set_V + alternator->def.set_V_per_K * (regulator_degC - 20.0);
}

static inline double pr_alternator_rpm(const pr_alternator *alternator, double engine_rpm)
{
    return engine_rpm * alternator->def.pulley_ratio * (1.0 - alternator->def.belt_slip_frac);
}

/* Share of the plate's field at 13.5 V. */
static inline double pr_alternator_field_frac(double winding_degC)
{
    return sqrt((PR_ALTERNATOR_COPPER_degC + PR_ALTERNATOR_WARM_degC) /
                (PR_ALTERNATOR_COPPER_degC + winding_degC));
}

/* What of a branch follows the state. */
static inline void pr_alternator_branch_follow(const pr_alternator *alternator,
                                               const pr_alternator_state *state,
                                               pr_alternator_branch *branch)
{
    branch->ceiling_A = alternator->def.ramp_s > 0.0 ? state->ceiling_A : PR_INF;
    branch->winding_degC = state->winding_degC;
    branch->field_frac = pr_alternator_field_frac(state->winding_degC);
}

/* Branch at an engine speed. `excited` as kept by the engine (see turn_on). */
static inline void pr_alternator_branch_at(const pr_alternator *alternator,
                                           const pr_alternator_state *state, double engine_rpm,
                                           bool excited, double ambient_degC,
                                           pr_alternator_branch *branch)
{
    const pr_alternator_def *d = &alternator->def;
    branch->rpm = pr_alternator_rpm(alternator, engine_rpm);
    branch->running = excited && branch->rpm > 0.0;
    branch->air_degC = ambient_degC + (engine_rpm > 0.0 ? d->air_degC_rise : 0.0);
    branch->set_V = pr_alternator_set_V(alternator, branch->air_degC);
    branch->droop_ohm = d->droop_ohm;
    pr_alternator_branch_follow(alternator, state, branch);
}

/* `limited` does not matter: the ramp follows the output itself, whatever holds it. Nor does the
 * ambient, for the branch knows the air around the winding. */
static inline void pr_alternator_rates(const pr_alternator *alternator,
                                       const pr_alternator_state *state,
                                       const pr_alternator_branch *branch, double i_A, bool limited,
                                       double ambient_degC, pr_alternator_state *rates)
{
    (void)limited;
    (void)ambient_degC;
    const pr_alternator_def *d = &alternator->def;
    const double share = i_A / d->rated_A;
    const double steady_degC = branch->air_degC + PR_ALTERNATOR_WINDING_K * share * share;
    rates->winding_degC = (steady_degC - state->winding_degC) / PR_ALTERNATOR_WINDING_s;
    rates->ceiling_A = 0.0;
    if (d->ramp_s > 0.0) {
        const double aim_A = i_A + PR_ALTERNATOR_RAMP_MARGIN * d->rated_A;
        const double follow = (aim_A - state->ceiling_A) / (PR_ALTERNATOR_RAMP_MARGIN * d->ramp_s);
        rates->ceiling_A = fmin(d->rated_A / d->ramp_s, follow);
    }
}

/* Output amps (>= 0) at terminal voltage v_V with the sensed voltage sense_V (= v_V for terminal
 * sensing, where the caller adds the two partial derivatives); pointers may be NULL. *limited: full
 * field, ramp or belt holds it. Falling in v_V and sense_V. */
double pr_alternator_branch_current_A(const pr_alternator *alternator,
                                      const pr_alternator_branch *branch, double v_V,
                                      double sense_V, double *dI_dv, double *dI_dsense,
                                      bool *limited);
/* Largest amps available at v_V in this branch (belt included), and their slope. */
double pr_alternator_branch_most_A(const pr_alternator *alternator,
                                   const pr_alternator_branch *branch, double v_V, double *dI_dv);
/* The same without the slope. */
double pr_alternator_branch_available_A(const pr_alternator *alternator,
                                        const pr_alternator_branch *branch, double v_V);

double pr_alternator_shaft_W(const pr_alternator *alternator, const pr_alternator_branch *branch,
                             double v_V, double i_A);

/* Torque on the alternator's shaft, N m; 0 at standstill. */
double pr_alternator_torque_Nm(const pr_alternator_branch *branch, double shaft_W);

/* Claw-pole machine with a diode bridge at constant voltage: I = isc sqrt(1 - (n0/n)^2). For
 * machines known by their constants; gives the plate numbers that derive asks for. */
typedef struct pr_alternator_machine {
    double inductance_H;  /* per phase */
    double flux_Vs_per_A; /* back electromotive force per field amp and electrical rad/s, peak */
    double field_A;       /* full field */
    int pole_pairs;
} pr_alternator_machine;
pr_status pr_alternator_machine_curve(const pr_alternator_machine *machine, double v_V,
                                      double *isc_A, double *n0_rpm);

/* Hysteresis of self excitation: next value of `excited` at an engine speed. */
bool pr_alternator_excites(const pr_alternator *alternator, double engine_rpm, bool excited);

#endif
