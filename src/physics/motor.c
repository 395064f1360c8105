/* Winch motor with gearbox and drum, referred to the rope on the first layer.
 *
 *     K = Ks I / (I + Is)     flux: field in series, saturating    (K = Ks with permanent magnets)
 *     v = (V - I R) / K       rope speed at motor voltage V
 *     F = eta K I - F0        pull; eta: gears, F0: drag that is there without load
 *
 * F + F0 = eta Ks I^2 / (I + Is) gives the current that a pull needs, whatever the voltage:
 *     G = (F + F0) / (eta Ks),   I = (G + sqrt(G^2 + 4 G Is)) / 2
 * If V <= I R the motor stalls and draws V / R.
 *
 * The parameters come from the winch sheet: motor_sheet.c.
 *
 * Heat, two nodes (see motor.h for the split):
 *     C_A dTA/dt = I^2 R(TA) - gA (TA - TC)
 *     C_C dTC/dt = (K I - F) v + gA (TA - TC) - gC (TC - Tair)
 *     R(T) = R25 (b + (1 - b) (234.5 + T) / 259.5)    copper; brushes b do not change
 *     C_C = ratio C_A,  gA = C_A / tauA,  gC = (C_A + C_C) / tauC
 * C_A so that a pull at the rated load from 25 degC heats the winding by the given rise in the
 * given time. Copper: 234.5 degC is the inferred zero-resistance temperature (IEC 60034-1).
 *
 * Validity: between no load and rated pull, sheet volts +/- 30 %; brushes in order; no eddy or
 * windage loss that grows with speed other than through F0. */
#include "physics/motor.h"

#include "base/number.h"
#include "base/root.h"

#include <math.h>
#include <stddef.h>

static const double COPPER_ZERO_degC = -234.5, SHEET_degC = 25.0;

pr_motor_def pr_motor_def_default(pr_motor_kind kind)
{
    pr_motor_def def = {
        .cookie = PR_DEF_COOKIE,
        .kind = kind,
        .sheet_V = 12.0,
        .rated_pull_N = PR_NAN,
        .no_load_A = PR_NAN,
        .rated_A = PR_NAN,
        .no_load_mps = PR_NAN,
        .rated_mps = PR_NAN,
        .contactor_ohm = 0.0004,
        .contactor_drop_out_V = 6.0,
        .contactor_return_V = 8.0,
        .limit_degC = 155.0,
        .rated_time_s = 60.0,
        .rated_rise_K = 100.0,
        .case_tau_s = 2800.0,
        .heat_factor = 1.0,
        .armature_tau_s = 400.0,
        .case_ratio = 9.0,
        .brush_share = 0.2,
        .saturation_A = PR_NAN,
    };
    for (int i = 0; i < PR_MOTOR_POINTS_MAX; i++)
        def.point_N[i] = def.point_A[i] = def.point_mps[i] = PR_NAN;
    return def;
}

static int in_range(double x, double least, double most)
{
    return x >= least && x <= most;
}

static int sheet_is_sound(const pr_motor_def *def)
{
    /* a table may begin under load and leave the no-load column open */
    const int no_load_open = def->n_points > 0 && isnan(def->no_load_A) && isnan(def->no_load_mps);
    return in_range(def->sheet_V, 5.0, 60.0) && in_range(def->rated_pull_N, 100.0, 1e6) &&
           in_range(def->rated_A, 1.0, 2000.0) && in_range(def->rated_mps, 1e-4, 5.0) &&
           (no_load_open ||
            (in_range(def->no_load_A, 0.1, 1000.0) && def->rated_A > def->no_load_A &&
             def->no_load_mps > def->rated_mps && def->no_load_mps <= 10.0)) &&
           /* no more at the rope than went in */
           def->rated_pull_N * def->rated_mps < def->sheet_V * def->rated_A;
}

static int table_is_sound(const pr_motor_def *def)
{
    if (def->n_points == 0)
        return 1;
    if (def->n_points < 3 || def->n_points > PR_MOTOR_POINTS_MAX)
        return 0;
    for (int j = 0; j < def->n_points; j++) {
        if (!in_range(def->point_N[j], 0.0, 1e6) || !in_range(def->point_A[j], 0.1, 2000.0) ||
            !in_range(def->point_mps[j], 1e-4, 10.0))
            return 0;
        /* a heavier pull takes more amps; coarse rounding may hide that it is slower */
        if (j > 0 &&
            (def->point_N[j] <= def->point_N[j - 1] || def->point_A[j] <= def->point_A[j - 1] ||
             def->point_mps[j] > def->point_mps[j - 1]))
            return 0;
    }
    const int last = def->n_points - 1;
    return def->point_mps[0] > def->point_mps[last] &&
           def->point_N[last] * def->point_mps[last] < def->sheet_V * def->point_A[last];
}

/* What the two columns say is taken from the table where it is not given. */
static void fill_from_table(pr_motor_def *def)
{
    const int last = def->n_points - 1;
    if (last < 0 || last >= PR_MOTOR_POINTS_MAX)
        return;
    const int starts_at_rest = def->point_N[0] == 0.0;
    if (isnan(def->rated_pull_N))
        def->rated_pull_N = def->point_N[last];
    if (isnan(def->rated_A))
        def->rated_A = def->point_A[last];
    if (isnan(def->rated_mps))
        def->rated_mps = def->point_mps[last];
    if (isnan(def->no_load_A) && starts_at_rest)
        def->no_load_A = def->point_A[0];
    if (isnan(def->no_load_mps) && starts_at_rest)
        def->no_load_mps = def->point_mps[0];
}

static int extras_are_sound(const pr_motor_def *def)
{
    return in_range(def->contactor_ohm, 0.0, 0.1) &&
           in_range(def->contactor_drop_out_V, 0.0, def->contactor_return_V) &&
           in_range(def->contactor_return_V, 0.0, def->sheet_V) &&
           in_range(def->limit_degC, 60.0, 300.0) && in_range(def->rated_time_s, 1.0, 3600.0) &&
           in_range(def->rated_rise_K, 5.0, 250.0) && in_range(def->case_tau_s, 60.0, 36000.0) &&
           in_range(def->heat_factor, 0.1, 10.0) && in_range(def->armature_tau_s, 10.0, 7200.0) &&
           in_range(def->case_ratio, 0.1, 100.0) && in_range(def->brush_share, 0.0, 0.9) &&
           !(def->saturation_A <= 0.0);
}

static void prepare(pr_motor *m)
{
    m->force_Vs_per_m = m->eta * m->ks_Vs_per_m;
    m->r_ohm_per_K = m->r_ohm * (1.0 - m->def.brush_share) / (SHEET_degC - COPPER_ZERO_degC);
    m->r_zero_ohm = m->r_ohm - m->r_ohm_per_K * SHEET_degC;
}

static void set_heat_capacity(pr_motor *m, double c_armature_J_per_K)
{
    const pr_motor_def *d = &m->def;
    m->c_armature_J_per_K = c_armature_J_per_K;
    m->c_case_J_per_K = d->case_ratio * c_armature_J_per_K;
    m->g_armature_W_per_K = c_armature_J_per_K / d->armature_tau_s;
    m->g_case_W_per_K = (m->c_armature_J_per_K + m->c_case_J_per_K) / d->case_tau_s;
}

static void add_scaled(pr_motor_state *s, const pr_motor_state *rates, double h_s)
{
    s->armature_degC += h_s * rates->armature_degC;
    s->case_degC += h_s * rates->case_degC;
}

static pr_motor_state rated_rates(const pr_motor *m, const pr_motor_state *s)
{
    const pr_motor_def *d = &m->def;
    int stalled; /* a hot motor may not manage what it did cold */
    const double i_A =
        pr_motor_current_A(m, d->rated_pull_N, d->sheet_V, s->armature_degC, NULL, &stalled);
    const double speed = stalled ? 0.0 : pr_motor_speed_mps(m, d->sheet_V, i_A, s->armature_degC);
    pr_motor_state rates;
    pr_motor_rates(m, s, d->sheet_V, i_A, d->rated_pull_N, speed, SHEET_degC, &rates);
    return rates;
}

/* Rise of the winding in the rated time, less the rise it should have (classic Runge-Kutta; steps
 * far below both time constants). */
static double rise_error_K(double c_armature_J_per_K, void *context)
{
    pr_motor m = *(const pr_motor *)context;
    set_heat_capacity(&m, c_armature_J_per_K);
    const int steps = 4 + (int)(10.0 * m.def.rated_time_s / m.def.armature_tau_s);
    const double h_s = m.def.rated_time_s / steps;
    pr_motor_state s = pr_motor_state_at(SHEET_degC);
    for (int i = 0; i < steps; i++) {
        pr_motor_state at = s;
        const pr_motor_state k1 = rated_rates(&m, &at);
        add_scaled(&at, &k1, 0.5 * h_s);
        const pr_motor_state k2 = rated_rates(&m, &at);
        at = s;
        add_scaled(&at, &k2, 0.5 * h_s);
        const pr_motor_state k3 = rated_rates(&m, &at);
        at = s;
        add_scaled(&at, &k3, h_s);
        const pr_motor_state k4 = rated_rates(&m, &at);
        add_scaled(&s, &k1, h_s / 6.0);
        add_scaled(&s, &k2, h_s / 3.0);
        add_scaled(&s, &k3, h_s / 3.0);
        add_scaled(&s, &k4, h_s / 6.0);
    }
    return s.armature_degC - SHEET_degC - m.def.rated_rise_K;
}

static pr_status calibrate_heat(pr_motor *m)
{
    const pr_motor_def *d = &m->def;
    /* without any cooling and with R as hot as it gets: twice that is more than can be needed */
    const double hot_ohm = pr_motor_resistance_ohm(m, SHEET_degC + d->rated_rise_K);
    double most = 2.0 * d->rated_A * d->rated_A * hot_ohm * d->rated_time_s / d->rated_rise_K;
    for (int i = 0; i < 30 && rise_error_K(0.5 * most, m) < 0.0; i++)
        most *= 0.5;
    double c_armature = PR_NAN;
    const pr_status status =
        pr_root_find(rise_error_K, m, 0.5 * most, most, most * 1e-10, &c_armature);
    if (status != PR_OK)
        return status;
    set_heat_capacity(m, c_armature);
    m->c_armature_J_per_K /= d->heat_factor;
    m->c_case_J_per_K /= d->heat_factor;
    m->g_armature_W_per_K /= d->heat_factor;
    m->g_case_W_per_K /= d->heat_factor;
    return PR_OK;
}

pr_status pr_motor_derive(const pr_motor_def *def, pr_motor *motor)
{
    if (def->cookie != PR_DEF_COOKIE)
        return PR_ERR_INTERNAL;
    pr_motor m = {.def = *def};
    fill_from_table(&m.def);
    if ((unsigned)def->kind > PR_MOTOR_PERMANENT_MAGNET || !sheet_is_sound(&m.def) ||
        !table_is_sound(&m.def) || !extras_are_sound(&m.def))
        return PR_ERR_RANGE;
    pr_status status = pr_motor_fit_sheet(&m);
    if (status != PR_OK)
        return status;
    prepare(&m);
    if (isnan(m.def.no_load_A)) {
        m.def.no_load_A = pr_motor_pull_A(&m, 0.0);
        m.def.no_load_mps = pr_motor_speed_mps(&m, def->sheet_V, m.def.no_load_A, SHEET_degC);
    }
    status = calibrate_heat(&m);
    if (status == PR_OK)
        *motor = m;
    return status;
}

pr_motor_state pr_motor_state_at(double T_degC)
{
    return (pr_motor_state){.armature_degC = T_degC, .case_degC = T_degC};
}

double pr_motor_current_A(const pr_motor *motor, double pull_N, double v_V, double armature_degC,
                          double *dI_dV, int *stalled)
{
    const double pull_A = pr_motor_pull_A(motor, pull_N);
    const double r_ohm = pr_motor_resistance_ohm(motor, armature_degC);
    const int stall = v_V <= pull_A * r_ohm;
    if (dI_dV)
        *dI_dV = stall ? 1.0 / r_ohm : 0.0;
    if (stalled)
        *stalled = stall;
    return stall ? v_V / r_ohm : pull_A;
}

double pr_motor_to_air_W(const pr_motor *motor, const pr_motor_state *state, double ambient_degC)
{
    return motor->g_case_W_per_K * (state->case_degC - ambient_degC);
}

double pr_motor_stall_N(const pr_motor *motor, double v_V, double armature_degC)
{
    return pr_motor_pull_N(motor, v_V / pr_motor_resistance_ohm(motor, armature_degC));
}

int pr_motor_contactor_closes(const pr_motor *motor, double coil_V, int closed)
{
    return coil_V >= (closed ? motor->def.contactor_drop_out_V : motor->def.contactor_return_V);
}
