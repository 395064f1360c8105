/* Winch motor with its gearbox, drum-referred at the first layer: force, rope speed, current, heat.
 * Equations and sources: motor.c.
 *
 * v_V is always the voltage at the motor's own posts, downstream of cable and contactor; the caller
 * puts contactor_ohm in series with the cable. The sheet's volts are taken to stand there too.
 *
 * Where the energy goes (closes exactly, and the engine keeps a ledger of it):
 *     electrical in   v i           = rope out + armature heat + case heat
 *     rope out        pull speed
 *     armature heat   i^2 R(T)        copper of armature and field, brushes: the winding node
 *     case heat       (K i - pull) speed   gearbox, bearings, iron: the case node
 *     to the air      g_case (case - ambient), from the case node only
 * heat_factor makes the same losses heat faster by dividing both heat capacities and conductances,
 * so that it changes temperatures and no power. */
#ifndef PR_PHYSICS_MOTOR_H
#define PR_PHYSICS_MOTOR_H

#include "base/status.h"
#include <math.h>

typedef enum pr_motor_kind { PR_MOTOR_SERIES, PR_MOTOR_PERMANENT_MAGNET } pr_motor_kind;
enum { PR_MOTOR_POINTS_MAX = 12 };

/* The winch sheet, first layer. */
typedef struct pr_motor_def {
    int cookie;
    pr_motor_kind kind;
    double sheet_V;                /* 12 */
    double rated_pull_N;           /* required */
    double no_load_A, rated_A;     /* required */
    double no_load_mps, rated_mps; /* rope speed; required */
    int n_points;                  /* full table instead (>= 3); fills the above */
    double point_N[PR_MOTOR_POINTS_MAX], point_A[PR_MOTOR_POINTS_MAX],
        point_mps[PR_MOTOR_POINTS_MAX];
    double contactor_ohm;                            /* default 0.0004 (m) */
    double contactor_drop_out_V, contactor_return_V; /* coil; 6.0, 8.0 (m) */
    double limit_degC;                               /* winding, class F 155 */
    double rated_time_s;   /* allowed at rated pull from 25 degC, default 60 */
    double rated_rise_K;   /* rise in that time, default 100 */
    double case_tau_s;     /* cooling of the case, default 2800 (m) */
    double heat_factor;    /* scales temperature rises, default 1 */
    double armature_tau_s; /* armature to case, default 400 (m) */
    double case_ratio;     /* heat capacity of body / armature, default 9: the whole winch, (m) */
    double brush_share;    /* of R at 25 degC, the same when hot, 0.2 (m) */
    double saturation_A;   /* Is of a series motor; NaN: from the sheet */
} pr_motor_def;

typedef struct pr_motor {
    pr_motor_def def;
    double r_ohm;             /* at 25 degC, brushes included */
    double ks_Vs_per_m, is_A; /* K = ks I / (I + is) (series); K = ks (permanent magnet) */
    double eta, f0_N;         /* F = eta K I - F0 */
    double c_armature_J_per_K, c_case_J_per_K;
    double g_armature_W_per_K;      /* armature to case */
    double g_case_W_per_K;          /* case to air */
    double fit_rms_A;               /* over a full table; NaN when none */
    double force_Vs_per_m;          /* eta ks */
    double r_zero_ohm, r_ohm_per_K; /* the resistance at 0 degC and its growth */
} pr_motor;

typedef struct pr_motor_state {
    double armature_degC, case_degC;
} pr_motor_state;

pr_motor_def pr_motor_def_default(pr_motor_kind kind);
/* PR_ERR_RANGE: a value outside its range or a sheet that contradicts itself; PR_ERR_NO_SOLUTION:
 * no motor of this kind has these numbers. */
pr_status pr_motor_derive(const pr_motor_def *def, pr_motor *motor);
/* Its first half: r_ohm, ks, is, eta, f0 and fit_rms_A from motor->def. */
pr_status pr_motor_fit_sheet(pr_motor *motor);
pr_motor_state pr_motor_state_at(double T_degC);

/* What follows is inline where it is asked for at every evaluation. */

/* Amps needed for a first-layer pull (>= 0), closed form; independent of voltage. */
static inline double pr_motor_pull_A(const pr_motor *motor, double pull_N)
{
    const double g = (pull_N + motor->f0_N) / motor->force_Vs_per_m;
    /* Is = 0 with permanent magnets: the root is g itself */
    return 0.5 * (g + sqrt(g * (g + 4.0 * motor->is_A)));
}

/* Its inverse: first-layer pull at a current; negative below the no-load current. */
static inline double pr_motor_pull_N(const pr_motor *motor, double i_A)
{
    if (!(i_A > 0.0))
        return -motor->f0_N;
    return motor->force_Vs_per_m * i_A * i_A / (i_A + motor->is_A) - motor->f0_N;
}

/* Resistance of armature, field, brushes at a temperature. */
static inline double pr_motor_resistance_ohm(const pr_motor *motor, double armature_degC)
{
    return motor->r_zero_ohm + motor->r_ohm_per_K * armature_degC;
}

/* First-layer rope speed at motor terminal voltage and current; <= 0: stalled. */
static inline double pr_motor_speed_mps(const pr_motor *motor, double v_V, double i_A,
                                        double armature_degC)
{
    if (!(i_A > 0.0))
        return 0.0;
    const double back_V = v_V - i_A * pr_motor_resistance_ohm(motor, armature_degC);
    return back_V * (i_A + motor->is_A) / (motor->ks_Vs_per_m * i_A);
}

/* Current at terminal voltage v_V when loaded with pull_N: pull amps, or v/R when stalled.
 * *dI_dV and *stalled may be NULL. Non-decreasing in v_V. */
double pr_motor_current_A(const pr_motor *motor, double pull_N, double v_V, double armature_degC,
                          double *dI_dV, int *stalled);
/* All heat made in motor and gearbox, W: electrical input less mechanical output. */
static inline double pr_motor_heat_W(const pr_motor *motor, double v_V, double i_A, double pull_N,
                                     double speed_mps)
{
    (void)motor; /* whatever is not taken by the rope is heat */
    return v_V * i_A - pull_N * speed_mps;
}

/* Rates while drawing i_A at v_V and turning at speed (first layer) against pull_N; i_A 0 = rest.
 */
static inline void pr_motor_rates(const pr_motor *motor, const pr_motor_state *state, double v_V,
                                  double i_A, double pull_N, double speed_mps, double ambient_degC,
                                  pr_motor_state *rates)
{
    const double heat_W = pr_motor_heat_W(motor, v_V, i_A, pull_N, speed_mps);
    const double armature_W = i_A * i_A * pr_motor_resistance_ohm(motor, state->armature_degC);
    const double inward_W = motor->g_armature_W_per_K * (state->armature_degC - state->case_degC);
    const double outward_W = motor->g_case_W_per_K * (state->case_degC - ambient_degC);
    rates->armature_degC = (armature_W - inward_W) / motor->c_armature_J_per_K;
    rates->case_degC = (heat_W - armature_W + inward_W - outward_W) / motor->c_case_J_per_K;
}

/* What the case gives to the air, W. */
double pr_motor_to_air_W(const pr_motor *motor, const pr_motor_state *state, double ambient_degC);
/* Largest first-layer pull that still moves at this voltage (stall pull). */
double pr_motor_stall_N(const pr_motor *motor, double v_V, double armature_degC);
/* Hysteresis of the contactor: whether it is closed at this coil voltage. */
int pr_motor_contactor_closes(const pr_motor *motor, double coil_V, int closed);

#endif
