/* Battery parameters from the label.
 *
 * A constant current I for a time t from full leaves, by the wells' closed form,
 *     qmax (1 - s1) = I t + X I f(k', t),   f = (1 - exp(-k' t)) / k',   X = (1 - c) / c.
 * The voltage law gives the surface state s1 at which this current reaches the end voltage at that
 * time, without knowing the wells: E(s1) - I (R0 rho(s1) + R1 (1 - exp(-t/tau))) = V_end. So each
 * point (I, t, V_end) is one equation, linear in qmax and X once k' is chosen; three points leave
 * one root in k'. The points: I20 for 20 h, 25 A for RC, and the high-rate point:
 *     thin plates   Peukert's current for 6 min
 *     thick plates  from Peukert's current at 1 h (or RC if shorter) with exponent 1.59 to 6 min
 *     dual          exponent halfway
 *   (longer than 6 min if the label's resistance forbids that current; user's own point first).
 * A maker's constant-current table: least squares of relative errors over k', with qmax and X from
 * the normal equations; the label's own points take part with ten times the weight.
 * Temperature: kT so that 10 h current, which ends at 10 h at 25 degC, ends at 0.65 of that at
 * -15 degC: again one equation for k'(-15).
 * R25: the cranking test (SAE: -18 degC, 30 s, 7.2 V; EN: 10 s, 7.5 V) is linear in R once the
 * wells are known; wells and R are iterated to a fixed point. Charge: k'c from 1/alpha = 1/alpha_s
 * + (1 - c)/(k'c c), alpha_s = ratio alpha.
 *
 * Times in s, charge in As. Sources and validity: docs/physics/battery.md. */
#include "physics/battery.h"

#include "base/number.h"
#include "base/root.h"
#include "physics/battery_law.h"

#include <math.h>
#include <stddef.h>

static const double HOUR_s = 3600.0, END_V = 10.5, RC_A = 25.0;
static const double R0_SHARE = 0.75, TAU_s = 40.0;
static const double CRANKING_TEST_degC = -18.0, THICK_EXPONENT = 1.59;
static const double COLD_degC = -15.0, COLD_CAPACITY_FRAC = 0.65;

enum { POINTS_MAX = PR_BATTERY_POINTS_MAX + 3 };

/* One constant-current run from full; weight in the least squares. */
typedef struct run_point {
    double A, s, end_V, weight;
    double s1; /* surface state at its end, set for the present resistance */
} run_point;

typedef struct label_fit {
    const pr_battery_chemistry *chemistry;
    pr_table rest_V;
    int n;
    run_point point[POINTS_MAX];
    bool least_squares, user_point, fixed_k;
    double qmax_As, x, k_per_s; /* x: X */
    double k_per_K, r25_ohm;
} label_fit;

pr_battery_def pr_battery_def_default(void)
{
    pr_battery_def def = {
        .cookie = PR_DEF_COOKIE,
        .chemistry = PR_FLOODED,
        .plates = PR_PLATES_THIN,
        .c20_Ah = PR_NAN,
        .rc_min = PR_NAN,
        .cca_A = PR_NAN,
        .cca_standard = PR_CCA_SAE,
        .high_rate_A = PR_NAN,
        .high_rate_s = PR_NAN,
        .n_points = 0,
        .points_end_V = 10.5,
        .resistance_ohm = PR_NAN,
        .health_capacity_frac = 1.0,
        .health_resistance_factor = 1.0,
        .acceptance_factor = 1.0,
        .surface_acceptance_ratio = 3.0,
        .high_rate_factor = 1.0,
        .mass_kg = PR_NAN,
        .case_conductance_W_per_K = PR_NAN,
        .bms_charge_limit_A = PR_NAN,
        .bms_discharge_limit_A = PR_NAN,
        .bms_discharge_delay_s = PR_NAN,
        .bms_low_V = PR_NAN,
        .bms_high_V = PR_NAN,
        .bms_min_charge_degC = PR_NAN,
    };
    return def;
}

static bool within(double value, double low, double high)
{
    return value >= low && value <= high; /* NaN fails */
}

static bool absent_or_within(double value, double low, double high)
{
    return isnan(value) || within(value, low, high);
}

static bool ranges_hold(const pr_battery_def *d)
{
    bool ok =
        (int)d->plates >= 0 && (int)d->plates <= PR_PLATES_THICK &&
        (d->cca_standard == PR_CCA_SAE || d->cca_standard == PR_CCA_EN) &&
        within(d->c20_Ah, 1.0, 400.0) && absent_or_within(d->rc_min, 0.2, 2000.0) &&
        absent_or_within(d->cca_A, 5.0, 5000.0) && absent_or_within(d->high_rate_A, 1.0, 5000.0) &&
        absent_or_within(d->high_rate_s, 10.0, 36000.0) &&
        isnan(d->high_rate_A) == isnan(d->high_rate_s) &&
        absent_or_within(d->resistance_ohm, 1e-4, 1.0) &&
        within(d->health_capacity_frac, 0.1, 1.0) &&
        within(d->health_resistance_factor, 1.0, 5.0) && within(d->acceptance_factor, 0.1, 5.0) &&
        within(d->surface_acceptance_ratio, 1.05, 20.0) && within(d->high_rate_factor, 0.5, 1.5) &&
        absent_or_within(d->mass_kg, 0.1, 500.0) &&
        absent_or_within(d->case_conductance_W_per_K, 0.0, 1000.0) && d->n_points >= 0 &&
        d->n_points <= PR_BATTERY_POINTS_MAX && within(d->points_end_V, 9.0, 11.5);
    for (int i = 0; ok && i < d->n_points; i++)
        ok = within(d->point_A[i], 0.01, 5000.0) && within(d->point_s[i], 10.0, 400.0 * 3600.0);
    ok = ok && absent_or_within(d->bms_charge_limit_A, 0.0, 2000.0) &&
         absent_or_within(d->bms_discharge_limit_A, 1.0, 5000.0) &&
         absent_or_within(d->bms_discharge_delay_s, 0.0, 600.0) &&
         absent_or_within(d->bms_low_V, 6.0, 12.0) && absent_or_within(d->bms_high_V, 13.5, 16.0) &&
         absent_or_within(d->bms_min_charge_degC, -40.0, 20.0);
    return ok;
}

static void set_if_nan(double *value, double fallback)
{
    if (isnan(*value))
        *value = fallback;
}

static void fill_defaults(pr_battery_def *d, const pr_battery_chemistry *chemistry)
{
    set_if_nan(&d->rc_min, chemistry->rc_factor * pow(d->c20_Ah, chemistry->rc_power));
    set_if_nan(&d->cca_A, chemistry->cca_per_Ah[d->plates] * d->c20_Ah);
    set_if_nan(&d->mass_kg, chemistry->kg_per_Ah * d->c20_Ah);
    set_if_nan(&d->case_conductance_W_per_K, 0.11 * d->mass_kg);
    set_if_nan(&d->bms_charge_limit_A, 0.5 * d->c20_Ah);
    set_if_nan(&d->bms_discharge_limit_A, d->c20_Ah);
    set_if_nan(&d->bms_discharge_delay_s, 5.0);
    set_if_nan(&d->bms_low_V, 10.0);
    set_if_nan(&d->bms_high_V, 14.8);
    set_if_nan(&d->bms_min_charge_degC, 0.0);
}

/* Voltage of a full-resistance battery at surface state s1, t seconds into a run, at 25 degC. */
typedef struct voltage_context {
    const label_fit *fit;
    const run_point *point;
} voltage_context;

static double end_error_V(double s1, void *context)
{
    const voltage_context *v = context;
    const double rise = -expm1(-v->point->s / TAU_s);
    const double r_ohm =
        v->fit->r25_ohm * (R0_SHARE * pr_knee_factor(s1) + (1.0 - R0_SHARE) * rise);
    return pr_table_at(&v->fit->rest_V, s1, NULL) - v->point->A * r_ohm - v->point->end_V;
}

static pr_status find_end_states(label_fit *fit)
{
    for (int i = 0; i < fit->n; i++) {
        voltage_context v = {fit, &fit->point[i]};
        const pr_status status = pr_root_find(end_error_V, &v, 1e-6, 1.0, 1e-12, &fit->point[i].s1);
        if (status != PR_OK)
            return PR_ERR_NO_SOLUTION;
    }
    return PR_OK;
}

/* f(k', t) */
static double lag_s(double k_per_s, double seconds)
{
    return -expm1(-k_per_s * seconds) / k_per_s;
}

/* Relative mismatch of one point's equation. */
static double mismatch(const label_fit *fit, const run_point *p)
{
    const double asked_As = p->A * p->s;
    return (fit->qmax_As * (1.0 - p->s1) - fit->x * p->A * lag_s(fit->k_per_s, p->s)) / asked_As -
           1.0;
}

/* qmax and X by weighted least squares of the first n points for the present k'; exact for two. */
static void solve_linear(label_fit *fit, int n)
{
    double aa = 0.0, ab = 0.0, bb = 0.0, ay = 0.0, by = 0.0;
    for (int i = 0; i < n; i++) {
        const run_point *p = &fit->point[i];
        const double a = (1.0 - p->s1) / (p->A * p->s);
        const double b = -lag_s(fit->k_per_s, p->s) / p->s, w = p->weight * p->weight;
        aa += w * a * a;
        ab += w * a * b;
        bb += w * b * b;
        ay += w * a;
        by += w * b;
    }
    const double det = aa * bb - ab * ab;
    fit->qmax_As = (ay * bb - by * ab) / det;
    fit->x = (aa * by - ab * ay) / det;
}

static bool wells_make_sense(const label_fit *fit)
{
    return isfinite(fit->qmax_As) && fit->qmax_As > 0.0 && fit->x >= 0.02 && fit->x <= 20.0;
}

static double third_mismatch(double log_k, void *context)
{
    label_fit *fit = context;
    fit->k_per_s = exp(log_k) / HOUR_s;
    solve_linear(fit, 2);
    return mismatch(fit, &fit->point[2]);
}

static double sum_of_squares(double log_k, label_fit *fit)
{
    fit->k_per_s = exp(log_k) / HOUR_s;
    solve_linear(fit, fit->n);
    if (!wells_make_sense(fit))
        return PR_INF;
    double sum = 0.0;
    for (int i = 0; i < fit->n; i++) {
        const double m = fit->point[i].weight * mismatch(fit, &fit->point[i]);
        sum += m * m;
    }
    return sum;
}

enum { K_GRID = 25 };

/* k' between 0.1 and 100 per hour. */
static double grid_log_k(int i)
{
    return log(0.1) + log(1000.0) * i / (K_GRID - 1);
}

static pr_status fit_three_points(label_fit *fit)
{
    double best = PR_INF, best_log_k = 0.0;
    double previous = PR_NAN;
    for (int i = K_GRID - 1; i >= 0; i--) {
        const double log_k = grid_log_k(i), m = third_mismatch(log_k, fit);
        const bool sensible = wells_make_sense(fit);
        if (sensible && fabs(m) < best) {
            best = fabs(m);
            best_log_k = log_k;
        }
        if (i < K_GRID - 1 && (m > 0.0) != (previous > 0.0)) {
            double root;
            if (pr_root_find(third_mismatch, fit, log_k, grid_log_k(i + 1), 1e-12, &root) ==
                PR_OK) {
                third_mismatch(root, fit);
                if (wells_make_sense(fit))
                    return PR_OK;
            }
        }
        previous = m;
    }
    /* the first two points always hold; the high-rate end only as near as two wells can come */
    if (!isfinite(best) || (fit->user_point && best > 0.05))
        return PR_ERR_NO_SOLUTION;
    third_mismatch(best_log_k, fit);
    return PR_OK;
}

static pr_status fit_table(label_fit *fit)
{
    int best = -1;
    double best_sum = PR_INF;
    for (int i = 0; i < K_GRID; i++) {
        const double sum = sum_of_squares(grid_log_k(i), fit);
        if (sum < best_sum) {
            best_sum = sum;
            best = i;
        }
    }
    if (best < 0)
        return PR_ERR_NO_SOLUTION;
    /* golden section around the best grid point */
    const double g = 0.5 * (sqrt(5.0) - 1.0);
    double low = grid_log_k(best > 0 ? best - 1 : 0);
    double high = grid_log_k(best < K_GRID - 1 ? best + 1 : best);
    double a = high - g * (high - low), b = low + g * (high - low);
    double fa = sum_of_squares(a, fit), fb = sum_of_squares(b, fit);
    for (int i = 0; i < 40; i++) {
        if (fa < fb) {
            high = b;
            b = a;
            fb = fa;
            a = high - g * (high - low);
            fa = sum_of_squares(a, fit);
        } else {
            low = a;
            a = b;
            fa = fb;
            b = low + g * (high - low);
            fb = sum_of_squares(b, fit);
        }
    }
    return isfinite(sum_of_squares(0.5 * (low + high), fit)) ? PR_OK : PR_ERR_NO_SOLUTION;
}

static pr_status fit_wells(label_fit *fit)
{
    const pr_status status = find_end_states(fit);
    if (status != PR_OK)
        return status;
    if (fit->least_squares)
        return fit_table(fit);
    if (!fit->fixed_k)
        return fit_three_points(fit);
    fit->k_per_s = 6.0 / HOUR_s;
    solve_linear(fit, 2);
    if (!(fit->x >= 0.02)) {
        fit->x = 0.02; /* nearly one well; the second point is then checked */
        fit->qmax_As = fit->point[0].A *
                       (fit->point[0].s + fit->x * lag_s(fit->k_per_s, fit->point[0].s)) /
                       (1.0 - fit->point[0].s1);
        if (fabs(mismatch(fit, &fit->point[1])) > 0.05)
            return PR_ERR_NO_SOLUTION;
    }
    return wells_make_sense(fit) ? PR_OK : PR_ERR_NO_SOLUTION;
}

typedef struct lag_context {
    double seconds, wanted_s;
} lag_context;

static double lag_error_s(double log_k, void *context)
{
    const lag_context *l = context;
    return lag_s(exp(log_k) / HOUR_s, l->seconds) - l->wanted_s;
}

/* kT from the capacity that is left in the cold at the 10 h rate. */
static void fit_temperature(label_fit *fit)
{
    const double hour10_s = 10.0 * HOUR_s, start_k = fit->k_per_s * HOUR_s;
    /* the 10 h current; its end state hardly depends on it, so a few rounds settle it */
    run_point p = {.A = 0.09 * fit->qmax_As / hour10_s * 10.0, .s = hour10_s, .end_V = END_V};
    voltage_context v = {fit, &p};
    for (int i = 0; i < 4; i++) {
        if (pr_root_find(end_error_V, &v, 1e-6, 1.0, 1e-9, &p.s1) != PR_OK)
            return;
        p.A = fit->qmax_As * (1.0 - p.s1) / (hour10_s + fit->x * lag_s(fit->k_per_s, hour10_s));
    }
    const double cold_s = COLD_CAPACITY_FRAC * hour10_s;
    const lag_context wanted = {cold_s, (fit->qmax_As * (1.0 - p.s1) / p.A - cold_s) / fit->x};
    double log_k = log(start_k);
    lag_context l = wanted;
    if (pr_root_find(lag_error_s, &l, log(start_k) - 8.0, log(start_k), 1e-9, &log_k) != PR_OK)
        log_k = log(start_k) - 8.0; /* even a closed well leaves more than that */
    const double per_K = (log(start_k) - log_k) / (PR_LABEL_degC - COLD_degC);
    fit->k_per_K = fmin(fmax(per_K, 0.01), 0.06);
}

/* R25 at which the cranking test ends on its voltage, with the present wells. */
static double cranking_resistance_ohm(const label_fit *fit, const pr_battery_def *d)
{
    const bool sae = d->cca_standard == PR_CCA_SAE;
    const double seconds = sae ? 30.0 : 10.0, end_V = sae ? 7.2 : 7.5;
    const double dT = CRANKING_TEST_degC - PR_LABEL_degC;
    const double k_per_s = fit->k_per_s * exp(fit->k_per_K * dT);
    const double used_As = d->cca_A * (seconds + fit->x * lag_s(k_per_s, seconds));
    const double s1 = 1.0 - used_As / fit->qmax_As;
    if (!(s1 > 0.0))
        return PR_NAN;
    const double e_V = pr_table_at(&fit->rest_V, s1, NULL) + fit->chemistry->emf_V_per_K * dT;
    const double rise = -expm1(-seconds / TAU_s);
    const double factor = R0_SHARE * pr_knee_factor(s1) + (1.0 - R0_SHARE) * rise;
    return (e_V - end_V) / (d->cca_A * factor *
                            pr_resistance_factor(fit->chemistry->r_per_K, fit->chemistry->r_per_K2,
                                                 CRANKING_TEST_degC));
}

static void add_point(label_fit *fit, double amps_A, double seconds, double end_V, double weight)
{
    fit->point[fit->n++] = (run_point){amps_A, seconds, end_V, weight, PR_NAN};
}

/* The high-rate point of the plate kind (see the header of this file). */
static void add_plate_point(label_fit *fit, const pr_battery_def *d, double n)
{
    const double i20_A = d->c20_Ah / 20.0, rc_s = d->rc_min * 60.0, t20_s = 20.0 * HOUR_s;
    if (rc_s < 1440.0) {
        /* a small battery: RC is the high-rate end, the third point lies between */
        const double amps_A = sqrt(i20_A * RC_A);
        add_point(fit, amps_A, t20_s * pow(i20_A / amps_A, n) * d->high_rate_factor, END_V, 1.0);
        return;
    }
    const double share = 0.5 * (double)d->plates, exponent = n + share * (THICK_EXPONENT - n);
    const double bend_s = fmin(HOUR_s, rc_s), bend_A = i20_A * pow(t20_s / bend_s, 1.0 / n);
    double seconds = 360.0, amps_A;
    for (;;) {
        amps_A = bend_A * pow(bend_s / seconds, 1.0 / fmax(exponent, n));
        const double first_V = fit->rest_V.y[fit->rest_V.n - 1] - 1.3 * amps_A * fit->r25_ohm;
        if (first_V > END_V || 2.0 * seconds > 0.5 * rc_s)
            break;
        seconds *= 1.5;
    }
    add_point(fit, amps_A, seconds * d->high_rate_factor, END_V, 1.0);
}

static pr_status collect_points(label_fit *fit, const pr_battery_def *d, double n, bool rc_given)
{
    const double weight = d->n_points > 0 ? 10.0 : 1.0;
    add_point(fit, d->c20_Ah / 20.0, 20.0 * HOUR_s, END_V, weight);
    fit->fixed_k = d->chemistry == PR_LIFEPO4 && d->n_points == 0;
    if (d->n_points > 0) {
        if (rc_given)
            add_point(fit, RC_A, d->rc_min * 60.0, END_V, weight);
        for (int i = 0; i < d->n_points; i++)
            add_point(fit, d->point_A[i], d->point_s[i], d->points_end_V, 1.0);
        fit->least_squares = true;
        return fit->n >= 3 ? PR_OK : PR_ERR_RANGE;
    }
    add_point(fit, RC_A, d->rc_min * 60.0, END_V, weight);
    if (fit->fixed_k)
        return PR_OK;
    if (!isnan(d->high_rate_A)) {
        fit->user_point = true;
        add_point(fit, d->high_rate_A, d->high_rate_s * d->high_rate_factor, END_V, 1.0);
    } else {
        add_plate_point(fit, d, n);
    }
    return PR_OK;
}

/* Wells and resistance to their fixed point. */
static pr_status fit_label(label_fit *fit, const pr_battery_def *d)
{
    for (int round = 0; round < 60; round++) {
        const pr_status status = fit_wells(fit);
        if (status != PR_OK)
            return status;
        fit_temperature(fit);
        if (!isnan(d->resistance_ohm))
            return PR_OK;
        const double next_ohm = cranking_resistance_ohm(fit, d);
        if (!(next_ohm > 0.0))
            return PR_ERR_NO_SOLUTION;
        const bool settled = fabs(next_ohm - fit->r25_ohm) <= 1e-12 * next_ohm;
        fit->r25_ohm = next_ohm;
        if (settled)
            return PR_OK;
    }
    return PR_ERR_NO_CONVERGENCE;
}

/* Root mean square of the relative errors of time over the maker's table. */
static double table_rms(const pr_battery *b)
{
    double sum = 0.0;
    for (int i = 0; i < b->def.n_points; i++) {
        double seconds = 0.0;
        if (pr_battery_discharge_time_s(b, pr_battery_state_rested(b, 1.0, PR_LABEL_degC),
                                        -b->def.point_A[i], b->def.points_end_V, 1e7, &seconds,
                                        NULL) != PR_OK)
            return PR_NAN;
        const double error = seconds / b->def.point_s[i] - 1.0;
        sum += error * error;
    }
    return b->def.n_points > 0 ? sqrt(sum / b->def.n_points) : PR_NAN;
}

static void set_charge(pr_battery *b, const pr_battery_chemistry *chemistry)
{
    const pr_battery_def *d = &b->def;
    const bool lead = d->chemistry != PR_LIFEPO4;
    const double alpha = chemistry->accept_per_h / HOUR_s * d->acceptance_factor;
    const double surface = d->surface_acceptance_ratio * alpha;
    b->k_charge_per_s = b->k_per_s;
    if (lead)
        b->k_charge_per_s =
            fmax(b->k_per_s, (1.0 - b->c_frac) / b->c_frac / (1.0 / alpha - 1.0 / surface));
    b->accept_ref_A = surface * b->qmax_As;
    b->accept_per_V = lead ? 0.74 : 0.0;
    b->accept_per_K = lead ? log(2.0) / 19.0 : 0.0;
    b->accept_cap_A = lead ? PR_INF : d->bms_charge_limit_A;
    b->gas_ref_A = chemistry->gas_ref_A_per_Ah * d->c20_Ah * d->health_capacity_frac;
}

static void finish(pr_battery *b, const label_fit *fit)
{
    const pr_battery_def *d = &b->def;
    b->qmax_As = fit->qmax_As * d->health_capacity_frac;
    b->c_frac = 1.0 / (1.0 + fit->x);
    b->k_per_s = fit->k_per_s;
    b->k_per_K = fit->k_per_K;
    b->r25_ohm = fit->r25_ohm * d->health_resistance_factor;
    b->r0_share = R0_SHARE;
    b->tau_s = TAU_s;
    b->r_per_K = fit->chemistry->r_per_K;
    b->r_per_K2 = fit->chemistry->r_per_K2;
    b->emf_V_per_K = fit->chemistry->emf_V_per_K;
    b->rest_V = fit->rest_V;
    b->heat_capacity_J_per_K = d->mass_kg * fit->chemistry->J_per_kgK;
    b->case_conductance_W_per_K = d->case_conductance_W_per_K;
    set_charge(b, fit->chemistry);
    b->fit_rms_frac = table_rms(b);
}

pr_status pr_battery_derive(const pr_battery_def *def, pr_battery *battery)
{
    const pr_battery_chemistry *chemistry = pr_battery_chemistry_of(def->chemistry);
    if (def->cookie != PR_DEF_COOKIE || chemistry == NULL || !ranges_hold(def))
        return PR_ERR_RANGE;
    *battery = (pr_battery){.def = *def, .i20_A = def->c20_Ah / 20.0};
    pr_battery_def *d = &battery->def;
    fill_defaults(d, chemistry);
    battery->peukert_n = log(20.0 * 60.0 / d->rc_min) / log(RC_A / battery->i20_A);
    /* below 1 a high rate would give more charge than a low one; above 1.6 no maker's plate does */
    if (!within(battery->peukert_n, d->chemistry == PR_LIFEPO4 ? 0.98 : 1.0, 1.6))
        return PR_ERR_RANGE;

    label_fit fit = {.chemistry = chemistry};
    pr_status status = pr_table_init(&fit.rest_V, PR_TABLE_MONOTONE, (size_t)chemistry->n_rest,
                                     chemistry->rest_frac, chemistry->rest_V);
    if (status != PR_OK)
        return status;
    /* first guess of the cranking fit, or the final value when it was measured */
    fit.r25_ohm = isnan(d->resistance_ohm)
                      ? 0.35 * (chemistry->rest_V[chemistry->n_rest - 1] - 7.2) / d->cca_A
                      : d->resistance_ohm;
    status = collect_points(&fit, d, battery->peukert_n, !isnan(def->rc_min));
    if (status == PR_OK)
        status = fit_label(&fit, d);
    if (status != PR_OK)
        return status;
    finish(battery, &fit);
    d->resistance_ohm = fit.r25_ohm;
    return PR_OK;
}
