/* The winch sheet turned into R, Ks, Is, eta, F0 (symbols: motor.c).
 *
 * Two columns (F1, I1, v1), (F2, I2, v2) at V, and a given Is. With g(I) = I / (I + Is):
 *     eta Ks = (F2 - F1) / (I2 g2 - I1 g1),        F0 = eta Ks I1 g1 - F1
 *     q = v1 g1 / (v2 g2) = (V - I1 R) / (V - I2 R)  ->  R = V (q - 1) / (q I2 - I1)
 *     Ks = (V - I2 R) / (v2 g2)
 * Series motors leave one number open: four equations, five unknowns. Is = 4/3 of the rated amps is
 * taken. Published series motors give 0.74 (220 V 100 A machine, magnetisation table), 1.05 (11
 * inch traction motor) and 1.57 (textbook motor with 45 % of the flux at a third of the current) of
 * their rated amps, the one winch with a full table 1.47. If 4/3 gives a motor that cannot be
 * (limits below), the nearest Is that gives one. Permanent magnets: g = 1, nothing is open.
 *
 * Table of n >= 3 rows: least squares of the 2 n residuals
 *     (I(Fj) / Ij - 1) / 0.02,    (v(Fj) / vj - 1) / 0.05
 * over the logarithms of eta Ks, F0, Ks, R and Is, by Levenberg-Marquardt with exact derivatives;
 * the weights are about what sheets round to. Is, and the share of the voltage that R takes at the
 * last row, are held inside wide bounds. */
#include "physics/motor.h"

#include "base/number.h"

#include <math.h>
#include <string.h>

/* Is / rated amps when two columns are all there is */
static const double SATURATION_RATIO = 4.0 / 3.0;
/* Share of the volts that R takes at the rated point: stall at 1.05 to 7 times the rated amps (lock
 * tests of vehicle starters, the nearest kin: 0.15 to 0.2 of the volts at their load test); gears
 * that give back 15 to 90 %. */
static const double COPPER_SHARE_LEAST = 0.15, COPPER_SHARE_MOST = 0.95;
static const double ETA_LEAST = 0.15, ETA_MOST = 0.9;
static const double AMPS_WEIGHT = 1.0 / 0.02, SPEED_WEIGHT = 1.0 / 0.05;

typedef struct column {
    double F_N, I_A, v_mps;
} column;

static double flux(double i_A, double is_A)
{
    return i_A / (i_A + is_A);
}

/* False when no motor with this Is has these two columns. */
static int solve_two_columns(pr_motor *m, column low, column high, double is_A)
{
    const double g1 = flux(low.I_A, is_A), g2 = flux(high.I_A, is_A);
    const double q = low.v_mps * g1 / (high.v_mps * g2);
    const double v_V = m->def.sheet_V;
    m->is_A = is_A;
    m->r_ohm = v_V * (q - 1.0) / (q * high.I_A - low.I_A);
    m->ks_Vs_per_m = (v_V - high.I_A * m->r_ohm) / (high.v_mps * g2);
    const double force_per_A = (high.F_N - low.F_N) / (high.I_A * g2 - low.I_A * g1);
    m->eta = force_per_A / m->ks_Vs_per_m;
    m->f0_N = force_per_A * low.I_A * g1 - low.F_N;
    return q > 1.0 && m->ks_Vs_per_m > 0.0 && m->eta > 0.0 && m->eta <= 1.0 && m->f0_N >= 0.0;
}

static int is_plausible(const pr_motor *m, column high)
{
    const double share = m->r_ohm * high.I_A / m->def.sheet_V;
    return share >= COPPER_SHARE_LEAST && share <= COPPER_SHARE_MOST && m->eta >= ETA_LEAST &&
           m->eta <= ETA_MOST;
}

/* The nearest Is to the default ratio, up or down, that makes a plausible motor; failing that, any
 * motor. */
static pr_status search_saturation(pr_motor *m, column low, column high)
{
    for (int any = 0; any <= 1; any++) {
        double up_A = SATURATION_RATIO * high.I_A, down_A = up_A;
        for (int i = 0; i < 160; i++) {
            if (solve_two_columns(m, low, high, up_A) && (any || is_plausible(m, high)))
                return PR_OK;
            if (solve_two_columns(m, low, high, down_A) && (any || is_plausible(m, high)))
                return PR_OK;
            up_A *= 1.02;
            down_A /= 1.02;
        }
    }
    return PR_ERR_NO_SOLUTION;
}

static pr_status fit_two_columns(pr_motor *m, column low, column high)
{
    if (m->def.kind == PR_MOTOR_SERIES && isnan(m->def.saturation_A))
        return search_saturation(m, low, high);
    const double is_A = m->def.kind == PR_MOTOR_SERIES ? m->def.saturation_A : 0.0;
    return solve_two_columns(m, low, high, is_A) ? PR_OK : PR_ERR_NO_SOLUTION;
}

/* ---- table ---- */

enum { P_FORCE, P_DRAG, P_K, P_R, P_IS, P_COUNT, RESIDUALS_MAX = 2 * PR_MOTOR_POINTS_MAX };

typedef struct table_fit {
    const pr_motor_def *def;
    double x[P_COUNT]; /* logarithms */
    double least[P_COUNT], most[P_COUNT];
    int held[P_COUNT];
} table_fit;

/* Residuals of row j and their derivatives by each parameter. */
static void row_residuals(const table_fit *fit, const double x[], int j, double r[2],
                          double d[2][P_COUNT])
{
    const pr_motor_def *def = fit->def;
    const double force = exp(x[P_FORCE]), drag = exp(x[P_DRAG]), k = exp(x[P_K]), ohm = exp(x[P_R]);
    const double is = def->kind == PR_MOTOR_SERIES ? exp(x[P_IS]) : 0.0;
    const double g = (def->point_N[j] + drag) / force;
    const double i = 0.5 * (g + sqrt(g * (g + 4.0 * is)));
    const double sum = i + is, back = def->sheet_V - i * ohm;
    const double v = back * sum / (k * i);
    /* g = i^2 / (i + is), solved for the change of i */
    const double dg_di = i * (i + 2.0 * is) / (sum * sum);
    double di[P_COUNT] = {0}, dv[P_COUNT] = {0};
    di[P_FORCE] = -g / dg_di;
    di[P_DRAG] = drag / force / dg_di;
    di[P_IS] = is * (i * i / (sum * sum)) / dg_di;
    const double dv_di = (-ohm * sum / i - back * is / (i * i)) / k;
    for (int p = 0; p < P_COUNT; p++)
        dv[p] = dv_di * di[p];
    dv[P_K] -= v;
    dv[P_R] -= ohm * sum / k;
    dv[P_IS] += is * back / (k * i);
    const double wi = AMPS_WEIGHT / def->point_A[j], wv = SPEED_WEIGHT / def->point_mps[j];
    r[0] = wi * i - AMPS_WEIGHT;
    r[1] = wv * v - SPEED_WEIGHT;
    for (int p = 0; p < P_COUNT; p++) {
        d[0][p] = wi * di[p];
        d[1][p] = wv * dv[p];
    }
}

/* Half sum of squares at x; normal matrix and gradient unless NULL. */
static double normal_equations(const table_fit *fit, const double x[], double n[P_COUNT][P_COUNT],
                               double gradient[P_COUNT])
{
    double cost = 0.0;
    if (n) {
        memset(n, 0, sizeof(double[P_COUNT][P_COUNT]));
        memset(gradient, 0, sizeof(double[P_COUNT]));
    }
    for (int j = 0; j < fit->def->n_points; j++) {
        double r[2], d[2][P_COUNT];
        row_residuals(fit, x, j, r, d);
        for (int e = 0; e < 2; e++) {
            cost += 0.5 * r[e] * r[e];
            for (int p = 0; n && p < P_COUNT; p++) {
                gradient[p] += d[e][p] * r[e];
                for (int q = 0; q < P_COUNT; q++)
                    n[p][q] += d[e][p] * d[e][q];
            }
        }
    }
    return cost;
}

/* Solves a x = b for a symmetric positive matrix (Gauss, in place). False if it is singular. */
static int solve(double a[P_COUNT][P_COUNT], double b[P_COUNT])
{
    for (int p = 0; p < P_COUNT; p++) {
        if (!(a[p][p] > 0.0))
            return 0;
        for (int q = p + 1; q < P_COUNT; q++) {
            const double f = a[q][p] / a[p][p];
            for (int s = p; s < P_COUNT; s++)
                a[q][s] -= f * a[p][s];
            b[q] -= f * b[p];
        }
    }
    for (int p = P_COUNT - 1; p >= 0; p--) {
        for (int s = p + 1; s < P_COUNT; s++)
            b[p] -= a[p][s] * b[s];
        b[p] /= a[p][p];
    }
    return 1;
}

/* Damped step from fit->x into `next`; a parameter that would leave its bounds is put on the bound
 * and held there from now on. Returns the largest move, NaN if there is none. */
static double damped_step(table_fit *fit, double lambda, double next[P_COUNT])
{
    double n[P_COUNT][P_COUNT], step[P_COUNT];
    normal_equations(fit, fit->x, n, step);
    for (int p = 0; p < P_COUNT; p++) {
        step[p] = -step[p];
        n[p][p] *= 1.0 + lambda;
        if (!fit->held[p])
            continue;
        for (int q = 0; q < P_COUNT; q++)
            n[p][q] = n[q][p] = 0.0;
        n[p][p] = 1.0;
        step[p] = 0.0;
    }
    if (!solve(n, step))
        return PR_NAN;
    double largest = 0.0;
    for (int p = 0; p < P_COUNT; p++) {
        next[p] = fit->x[p] + step[p];
        if (next[p] < fit->least[p] || next[p] > fit->most[p]) {
            next[p] = next[p] < fit->least[p] ? fit->least[p] : fit->most[p];
            fit->held[p] = 1;
        }
        largest = fmax(largest, fabs(next[p] - fit->x[p]));
    }
    return largest;
}

static pr_status minimise(table_fit *fit)
{
    double lambda = 1e-3, cost = normal_equations(fit, fit->x, NULL, NULL);
    for (int i = 0; i < 300; i++) {
        double next[P_COUNT];
        const double move = damped_step(fit, lambda, next);
        if (isnan(move))
            return PR_ERR_NO_SOLUTION;
        const double next_cost = normal_equations(fit, next, NULL, NULL);
        /* near the bottom the cost is flat to rounding: let the steps run out there */
        if (next_cost <= cost * (1.0 + 1e-12)) {
            memcpy(fit->x, next, sizeof next);
            cost = next_cost;
            if (move < 1e-11 && lambda <= 1e-3)
                return PR_OK;
            lambda = fmax(0.1 * lambda, 1e-12);
        } else {
            lambda *= 10.0;
        }
    }
    return PR_ERR_NO_CONVERGENCE;
}

static void start_fit(table_fit *fit, const pr_motor *m, column high)
{
    const double share_ohm = m->def.sheet_V / high.I_A;
    fit->x[P_FORCE] = log(m->eta * m->ks_Vs_per_m);
    fit->x[P_DRAG] = log(fmax(m->f0_N, 1e-4 * high.F_N));
    fit->x[P_K] = log(m->ks_Vs_per_m);
    fit->x[P_R] = log(m->r_ohm);
    fit->x[P_IS] = m->def.kind == PR_MOTOR_SERIES ? log(m->is_A) : 0.0;
    for (int p = 0; p < P_COUNT; p++) {
        fit->least[p] = fit->x[p] - 10.0;
        fit->most[p] = fit->x[p] + 10.0;
    }
    fit->least[P_R] = log(0.02 * share_ohm);
    fit->most[P_R] = log(COPPER_SHARE_MOST * share_ohm);
    fit->least[P_IS] = log(0.02 * high.I_A);
    fit->most[P_IS] = log(50.0 * high.I_A);
    if (m->def.kind != PR_MOTOR_SERIES || !isnan(m->def.saturation_A))
        fit->held[P_IS] = 1;
}

static pr_status fit_table(pr_motor *m, column high)
{
    table_fit fit = {.def = &m->def};
    start_fit(&fit, m, high);
    const pr_status status = minimise(&fit);
    if (status != PR_OK)
        return status;
    m->ks_Vs_per_m = exp(fit.x[P_K]);
    m->eta = exp(fit.x[P_FORCE]) / m->ks_Vs_per_m;
    m->f0_N = exp(fit.x[P_DRAG]);
    m->r_ohm = exp(fit.x[P_R]);
    m->is_A = m->def.kind == PR_MOTOR_SERIES ? exp(fit.x[P_IS]) : 0.0;
    double sum = 0.0;
    for (int j = 0; j < m->def.n_points; j++) {
        double r[2], d[2][P_COUNT];
        row_residuals(&fit, fit.x, j, r, d);
        const double error_A = r[0] / AMPS_WEIGHT * m->def.point_A[j];
        sum += error_A * error_A;
    }
    m->fit_rms_A = sqrt(sum / m->def.n_points);
    return m->eta <= 1.0 ? PR_OK : PR_ERR_NO_SOLUTION;
}

pr_status pr_motor_fit_sheet(pr_motor *motor)
{
    const pr_motor_def *d = &motor->def;
    motor->fit_rms_A = PR_NAN;
    if (d->n_points == 0)
        return fit_two_columns(motor, (column){0.0, d->no_load_A, d->no_load_mps},
                               (column){d->rated_pull_N, d->rated_A, d->rated_mps});
    const int last = d->n_points - 1;
    const column low = {d->point_N[0], d->point_A[0], d->point_mps[0]};
    const column high = {d->point_N[last], d->point_A[last], d->point_mps[last]};
    const pr_status status = fit_two_columns(motor, low, high);
    return status == PR_OK ? fit_table(motor, high) : status;
}
