/* Alternator, regulator, belt.
 *
 * Speed curve at 13.5 V with a warm winding (83 degC, the end of the ISO 8854 test at 23 degC):
 *     h(n) = Im (1 - exp(-(n - n0)/nc)), n > n0, else 0
 *   Im and nc from the plate: h(idle rpm) = idle amps, h(rated rpm) = rated amps. With a = idle -
 * n0 and b = rated - n0 the ratio (1 - exp(-a/nc)) / (1 - exp(-b/nc)) falls from 1 to a/b as nc
 * grows, so there is one root when a/b < idle amps / rated amps < 1. A plate without idle amps:
 * 0.42 of the rated ones at n0 + 450 rpm (makers' service data, docs/physics/alternator.md). Or the
 * maker's points, monotone between. Other voltages and temperatures: available = k f h(f sv n), f =
 * sqrt((Vf/13.5) (234.5 + 83)/(234.5 + Tw)), sv = 15.3/(V + 1.8) k: output factor (wear, a lost
 * diode); f: field current through a hot winding fed with Vf, with a saturating magnet (square
 * root); sv: speed for the same electromotive force, two diodes 1.8 V. Vf = V in
 * pr_alternator_available_A. In the branch Vf = 13.5 V: the field current lags the bus by some 0.2
 * s (m), and an output that rises with the bus voltage would give the bus two solutions. Error of
 * that: sqrt(V/13.5), +6 % at 12 V, -3 % at 14.4 V. Regulator: I = (Vset(T) - Vsense)/droop, Vset =
 * set + slope (T - 20); output is the least of regulator, full field, ramp ceiling and belt; never
 * negative (the diodes block). Ramp: d ceiling/dt = min(rated/ramp, (I + m - ceiling)/(0.1 ramp)),
 * m = 0.1 rated: the ceiling keeps a tenth of the rating above the output, falls within ramp/10,
 * rises by the rating in ramp. Winding: dTw/dt = (Tair + 60 (I/IR)^2 - Tw)/600; Tair = ambient +
 * rise while the engine turns. Shaft: P = V I/eta, 1/eta linear in I/IR through the half and the
 * full load efficiency. Belt: the output is held where P reaches the limit: friction gives way
 * without stopping the drive. A belt that slips all the time is belt_slip_frac: n = ratio (1 -
 * slip) x engine speed. Self excitation: on at turn_on_rpm, off below 0.9 of the smaller of cut-in
 * and turn-on (m).
 *
 * Sources: Bradfield, white paper on alternator efficiency (0.55 at full output); ISO 8854 (test
 * conditions); Caliskan, Perreault, Jahns, Kassakian 2003 (bridge at constant voltage). Validity:
 * 8..16 V, -40..200 degC winding, steady field; published curves are met within about 10 %. */
#include "physics/alternator.h"
#include "base/exponential.h"
#include "base/number.h"
#include "base/root.h"
#include <math.h>
#include <stddef.h>

#define IDLE_SHARE     0.42
#define IDLE_ABOVE_RPM 450.0
#define PLATE_V        13.5
#define DIODES_V       1.8
#define DROP_OUT       0.9
#define RAD_S_PER_RPM  0.10471975511965977

pr_alternator_def pr_alternator_def_default(void)
{
    return (pr_alternator_def){
        .cookie = PR_DEF_COOKIE,
        .rated_A = PR_NAN,
        .rated_rpm = 6000.0,
        .idle_A = PR_NAN,
        .idle_rpm = 1500.0,
        .cut_in_rpm = 1050.0,
        .n_points = 0,
        .pulley_ratio = 2.7,
        .belt_slip_frac = 0.0,
        .set_V = 14.4,
        .set_V_per_K = -0.010,
        .droop_ohm = 0.0025,
        .sensing = PR_SENSE_TERMINAL,
        .ramp_s = 0.0,
        .turn_on_rpm = PR_NAN,
        .efficiency_full = 0.55,
        .efficiency_half = 0.65,
        .belt_limit_W = PR_NAN,
        .output_factor = 1.0,
        .air_degC_rise = 20.0,
    };
}

void pr_alternator_def_scale(pr_alternator_def *def, double rated_A)
{
    const double factor = rated_A / def->rated_A;
    def->rated_A = rated_A;
    def->idle_A *= factor; /* NaN stays NaN */
    def->belt_limit_W *= factor;
    for (int i = 0; i < def->n_points; i++)
        def->point_A[i] *= factor;
}

static bool within(double x, double low, double high)
{
    return x >= low && x <= high; /* false for NaN */
}

static bool def_in_range(const pr_alternator_def *d)
{
    return within(d->rated_A, 5.0, 600.0) && within(d->rated_rpm, 1000.0, 20000.0) &&
           within(d->cut_in_rpm, 100.0, 5000.0) && within(d->pulley_ratio, 0.5, 6.0) &&
           within(d->belt_slip_frac, 0.0, 1.0) && within(d->set_V, 10.0, 16.0) &&
           within(d->set_V_per_K, -0.05, 0.05) && within(d->droop_ohm, 1e-4, 0.1) &&
           (d->sensing == PR_SENSE_TERMINAL || d->sensing == PR_SENSE_BATTERY) &&
           within(d->ramp_s, 0.0, 60.0) &&
           (isnan(d->turn_on_rpm) || within(d->turn_on_rpm, 100.0, 20000.0)) &&
           within(d->efficiency_full, 0.1, 0.98) && within(d->efficiency_half, 0.1, 0.98) &&
           (isnan(d->belt_limit_W) || within(d->belt_limit_W, 1.0, 1e5)) &&
           within(d->output_factor, 0.0, 2.0) && within(d->air_degC_rise, 0.0, 100.0) &&
           d->n_points >= 0 && d->n_points <= PR_ALTERNATOR_POINTS_MAX;
}

typedef struct plate_ratio {
    double a_rpm, b_rpm, ratio;
} plate_ratio;

static double plate_residual(double nc_rpm, void *context)
{
    const plate_ratio *p = context;
    return expm1(-p->a_rpm / nc_rpm) / expm1(-p->b_rpm / nc_rpm) - p->ratio;
}

/* Im and nc from the two plate points. */
static pr_status fit_plate(pr_alternator *alternator)
{
    const pr_alternator_def *d = &alternator->def;
    plate_ratio p = {d->idle_rpm - d->cut_in_rpm, d->rated_rpm - d->cut_in_rpm,
                     d->idle_A / d->rated_A};
    if (!(p.a_rpm > 0.0) || !(p.b_rpm > p.a_rpm) || !(p.ratio > 0.0) || !(p.ratio < 1.0))
        return PR_ERR_RANGE;
    /* a straight line or less from cut-in: no saturating curve goes through such a plate */
    if (p.ratio <= p.a_rpm / p.b_rpm * (1.0 + 1e-3))
        return PR_ERR_NO_SOLUTION;
    double nc_rpm = PR_NAN;
    pr_status status =
        pr_root_find(plate_residual, &p, p.a_rpm / 30.0, p.b_rpm * 1e4, 1e-9 * p.b_rpm, &nc_rpm);
    if (status != PR_OK)
        return status;
    alternator->nc_rpm = nc_rpm;
    alternator->n0_rpm = d->cut_in_rpm;
    alternator->im_A = -d->rated_A / expm1(-p.b_rpm / nc_rpm);
    return PR_OK;
}

/* The maker's points, led down to zero at cut-in when they begin above it. */
static pr_status take_points(pr_alternator *alternator)
{
    const pr_alternator_def *d = &alternator->def;
    double rpm[PR_ALTERNATOR_POINTS_MAX + 1], amps[PR_ALTERNATOR_POINTS_MAX + 1];
    size_t n = 0;
    if (!(d->point_rpm[0] > 0.0) || !(d->point_A[0] >= 0.0))
        return PR_ERR_RANGE;
    if (d->point_A[0] > 0.0) {
        if (!(d->cut_in_rpm < d->point_rpm[0]))
            return PR_ERR_RANGE;
        rpm[n] = d->cut_in_rpm;
        amps[n++] = 0.0;
    }
    for (int i = 0; i < d->n_points; i++) {
        if (!isfinite(d->point_rpm[i]) || !within(d->point_A[i], 0.0, 1000.0))
            return PR_ERR_RANGE;
        if (i > 0 &&
            (!(d->point_rpm[i] > d->point_rpm[i - 1]) || !(d->point_A[i] >= d->point_A[i - 1])))
            return PR_ERR_RANGE;
        rpm[n] = d->point_rpm[i];
        amps[n++] = d->point_A[i];
    }
    alternator->im_A = alternator->nc_rpm = PR_NAN;
    alternator->n0_rpm = rpm[0];
    return pr_table_init(&alternator->points, PR_TABLE_MONOTONE, n, rpm, amps);
}

pr_status pr_alternator_derive(const pr_alternator_def *def, pr_alternator *alternator)
{
    if (def == NULL || alternator == NULL || def->cookie != PR_DEF_COOKIE)
        return PR_ERR_INTERNAL;
    pr_alternator_def d = *def;
    if (!def_in_range(&d))
        return PR_ERR_RANGE;
    if (isnan(d.idle_A)) {
        d.idle_A = IDLE_SHARE * d.rated_A;
        d.idle_rpm = d.cut_in_rpm + IDLE_ABOVE_RPM;
    }
    if (isnan(d.turn_on_rpm))
        d.turn_on_rpm = d.cut_in_rpm;
    *alternator = (pr_alternator){.def = d};
    alternator->per_eta1 = 2.0 / d.efficiency_full - 2.0 / d.efficiency_half;
    alternator->per_eta0 = 1.0 / d.efficiency_full - alternator->per_eta1;
    /* shaft power must grow with output for the belt limit to have one answer */
    if (!(alternator->per_eta0 > 0.0) || !(alternator->per_eta1 >= 0.0))
        return PR_ERR_RANGE;
    return d.n_points > 0 ? take_points(alternator) : fit_plate(alternator);
}

pr_alternator_state pr_alternator_state_at(const pr_alternator *alternator, double T_degC)
{
    return (pr_alternator_state){.winding_degC = T_degC,
                                 .ceiling_A = PR_ALTERNATOR_RAMP_MARGIN * alternator->def.rated_A};
}

/* h(n) and its slope. */
static inline double speed_curve_A(const pr_alternator *a, double rpm, double *dA_drpm)
{
    if (a->points.n == 0) {
        if (rpm <= a->n0_rpm) {
            *dA_drpm = 0.0;
            return 0.0;
        }
        double rest = pr_exp((a->n0_rpm - rpm) / a->nc_rpm);
        *dA_drpm = a->im_A / a->nc_rpm * rest;
        return a->im_A * (1.0 - rest);
    }
    return pr_table_at(&a->points, rpm, dA_drpm);
}

static inline double full_field_A(const pr_alternator *a, double rpm, double field, double v_V,
                                  double *dI_dv)
{
    double v = v_V > 0.0 ? v_V : 0.0;
    double per_V = 1.0 / (v + DIODES_V);
    double n_rpm = field * rpm * (PLATE_V + DIODES_V) * per_V;
    double slope = 0.0;
    double i_A = speed_curve_A(a, n_rpm, &slope);
    double scale = field * a->def.output_factor;
    *dI_dv = v_V > 0.0 ? -scale * slope * n_rpm * per_V : 0.0;
    return scale * i_A;
}

double pr_alternator_available_A(const pr_alternator *alternator, double rpm, double winding_degC,
                                 double v_V)
{
    if (!(v_V > 0.0) || !(rpm > 0.0) || !(winding_degC > -200.0))
        return v_V <= 0.0 || rpm <= 0.0 ? 0.0 : PR_NAN;
    double field = pr_alternator_field_frac(winding_degC) * sqrt(v_V / PLATE_V);
    double slope;
    return full_field_A(alternator, rpm, field, v_V, &slope);
}

/* Amps where the shaft power reaches the belt's limit: V I (e0 + e1 I/IR) = P. */
static double belt_A(const pr_alternator *a, double v_V, double *dI_dv)
{
    double v = v_V > 1.0 ? v_V : 1.0;
    double e0 = a->per_eta0, e1 = a->per_eta1 / a->def.rated_A;
    double g = a->def.belt_limit_W / v; /* = I (e0 + e1 I) */
    double root = sqrt(e0 * e0 + 4.0 * e1 * g);
    double i_A = 2.0 * g / (e0 + root);
    *dI_dv = v_V > 1.0 ? -g / (v * root) : 0.0;
    return i_A;
}

/* Least of full field, ramp and belt, with its slope. */
static inline double ceiling_A(const pr_alternator *a, const pr_alternator_branch *b, double v_V,
                               double *dI_dv)
{
    double i_A = full_field_A(a, b->rpm, b->field_frac, v_V, dI_dv);
    if (b->ceiling_A < i_A) {
        i_A = b->ceiling_A > 0.0 ? b->ceiling_A : 0.0;
        *dI_dv = 0.0;
    }
    if (!isnan(a->def.belt_limit_W)) {
        double slope, belt = belt_A(a, v_V, &slope);
        if (belt < i_A) {
            i_A = belt;
            *dI_dv = slope;
        }
    }
    return i_A;
}

double pr_alternator_branch_most_A(const pr_alternator *alternator,
                                   const pr_alternator_branch *branch, double v_V, double *dI_dv)
{
    if (branch->running)
        return ceiling_A(alternator, branch, v_V, dI_dv);
    return *dI_dv = 0.0;
}

double pr_alternator_branch_available_A(const pr_alternator *alternator,
                                        const pr_alternator_branch *branch, double v_V)
{
    double slope;
    return pr_alternator_branch_most_A(alternator, branch, v_V, &slope);
}

double pr_alternator_branch_current_A(const pr_alternator *alternator,
                                      const pr_alternator_branch *branch, double v_V,
                                      double sense_V, double *dI_dv, double *dI_dsense,
                                      bool *limited)
{
    double i_A = 0.0, slope_v = 0.0, slope_sense = 0.0;
    bool held = false;
    if (branch->running && sense_V < branch->set_V) {
        double wanted_A = (branch->set_V - sense_V) / branch->droop_ohm;
        double most_A = ceiling_A(alternator, branch, v_V, &slope_v);
        held = !(wanted_A <= most_A);
        if (held) {
            i_A = most_A;
        } else {
            i_A = wanted_A;
            slope_v = 0.0;
            slope_sense = -1.0 / branch->droop_ohm;
        }
    }
    if (dI_dv != NULL)
        *dI_dv = slope_v;
    if (dI_dsense != NULL)
        *dI_dsense = slope_sense;
    if (limited != NULL)
        *limited = held;
    return i_A;
}

double pr_alternator_shaft_W(const pr_alternator *alternator, const pr_alternator_branch *branch,
                             double v_V, double i_A)
{
    if (!branch->running)
        return 0.0;
    return v_V * i_A *
           (alternator->per_eta0 + alternator->per_eta1 * i_A / alternator->def.rated_A);
}

double pr_alternator_torque_Nm(const pr_alternator_branch *branch, double shaft_W)
{
    return branch->rpm > 0.0 ? shaft_W / (branch->rpm * RAD_S_PER_RPM) : 0.0;
}

pr_status pr_alternator_machine_curve(const pr_alternator_machine *machine, double v_V,
                                      double *isc_A, double *n0_rpm)
{
    double flux_Vs = machine->flux_Vs_per_A * machine->field_A;
    if (!(machine->inductance_H > 0.0) || !(flux_Vs > 0.0) || machine->pole_pairs < 1 ||
        !(v_V > 0.0))
        return PR_ERR_RANGE;
    /* phase current I at short circuit is flux/L; the bridge averages 3/pi of its peak. Output
     * begins where the peak reaches the fundamental of the bridge's square wave, 2 V/pi. */
    *isc_A = 3.0 / M_PI * flux_Vs / machine->inductance_H;
    double omega_rad_s = 2.0 * v_V / M_PI / flux_Vs;
    *n0_rpm = omega_rad_s / (RAD_S_PER_RPM * machine->pole_pairs);
    return PR_OK;
}

bool pr_alternator_excites(const pr_alternator *alternator, double engine_rpm, bool excited)
{
    const pr_alternator_def *d = &alternator->def;
    double rpm = pr_alternator_rpm(alternator, engine_rpm);
    return rpm >= (excited ? DROP_OUT * fmin(d->cut_in_rpm, d->turn_on_rpm) : d->turn_on_rpm);
}
