/* Wells, resistance and temperature law of a battery from runs at constant current.
 *
 * A constant current I for a time t from full leaves, by the wells' closed form,
 *     qmax (1 - s1) = I t + X I f(k', t),   f = (1 - exp(-k' t)) / k',   X = (1 - c) / c.
 * The voltage law gives the surface state s1 at which this current reaches the end voltage at that
 * time, without knowing the wells:
 *     E(s1) - I (R0 rho(s1) + R1 (1 - exp(-t/tau))) = V_end.
 * So each point (I, t, V_end) is one equation, linear in qmax and X once k' is chosen: two points
 * give both, the others one root in k' (PR_FIT_EXACT), or all of them the least squares of the
 * relative mismatch (PR_FIT_SQUARES).
 * Resistance: the cranking test at -18 degC is linear in R25 once the wells are known; wells and
 * R25 are iterated to their fixed point. Cold: x(0 degC) and x(cold) so that the 10 h current,
 * which ends at 10 h at 25 degC, ends at the chemistry's capacity fractions; closed form. No time
 * stepping; no heap. Sources and validity: docs/physics/battery.md. */
#include "base/number.h"
#include "base/root.h"
#include "physics/battery_law.h"

#include <math.h>
#include <stddef.h>

static const double TEN_HOURS_s = 10.0 * PR_HOUR_s, TEN_HOURS_END_V = 10.5;
/* X between: c = 0.98 is as good as one well; c = 0.05 is no battery */
static const double X_MIN = 0.02, X_MAX = 20.0;
/* k' where no high rate is within the label's resistance: typical of the others */
static const double NO_WISH_K_per_h = 1.0;

/* f(k', t) */
static double lag_s(double k_per_s, double seconds)
{
    return -expm1(-k_per_s * seconds) / k_per_s;
}

/* s1 at the end of one run. Newton's method in w = 1/s1, in which the falling side of
 * E(1/w) - I R0 (1 + p (w - 1)) - I R1 (...) - V_end is nearly straight; kept inside a bracket. */
static pr_status find_end_state(const pr_label_fit *fit, pr_run_point *point)
{
    const double r0_V = point->A * fit->r25_ohm * fit->r0_share, p = fit->polarisation;
    const double rise = -expm1(-point->s / fit->tau_s);
    const double r1_V = point->A * fit->r25_ohm * (1.0 - fit->r0_share) * rise;
    const double full_V = fit->rest_V.y[fit->rest_V.n - 1], level_V = r0_V + r1_V + point->end_V;
    if (!(full_V > level_V))
        return PR_ERR_NO_SOLUTION; /* pulls the full battery below the end voltage at once */
    double low = 1.0, high = p > 0.0 ? 1.0 + (full_V - level_V) / (r0_V * p) : 1e12;
    high = fmin(high, 1e12);
    double w = point->s1 > 0.0 ? 1.0 / point->s1 : 0.5 * high;
    for (int i = 0; i < 200; i++) {
        double slope;
        const double e_V = pr_table_at(&fit->rest_V, 1.0 / w, &slope);
        const double error_V = e_V - level_V - r0_V * p * (w - 1.0);
        if (error_V > 0.0)
            low = w;
        else
            high = w;
        const double step = error_V / (slope / (w * w) + r0_V * p);
        double next = w + step;
        if (!(next >= low && next <= high))
            next = 0.5 * (low + high);
        if (fabs(next - w) <= 1e-9 * w) {
            point->s1 = 1.0 / next;
            return PR_OK;
        }
        w = next;
    }
    return PR_ERR_NO_CONVERGENCE;
}

/* Relative mismatch of one point's equation. */
static double mismatch(const pr_label_fit *fit, const pr_run_point *p)
{
    const double needed_As = p->A * (p->s + fit->x * lag_s(fit->k_per_s, p->s));
    return (fit->qmax_As * (1.0 - p->s1) - needed_As) / (p->A * p->s);
}

/* qmax and X by least squares of the first n points for the present k'; exact for two. */
static void solve_linear(pr_label_fit *fit, int n)
{
    double aa = 0.0, ab = 0.0, bb = 0.0, ay = 0.0, by = 0.0;
    for (int i = 0; i < n; i++) {
        const pr_run_point *p = &fit->point[i];
        const double a = (1.0 - p->s1) / (p->A * p->s);
        const double b = -lag_s(fit->k_per_s, p->s) / p->s;
        aa += a * a;
        ab += a * b;
        bb += b * b;
        ay += a;
        by += b;
    }
    const double det = aa * bb - ab * ab;
    fit->qmax_As = (ay * bb - by * ab) / det;
    fit->x = (aa * by - ab * ay) / det;
}

/* As solve_linear, but with X at its bound, and qmax alone fitted, where the points ask for less: a
 * battery that gives as much at a high rate as at a low one has a single well. */
static void solve_bounded(pr_label_fit *fit)
{
    solve_linear(fit, fit->n);
    if (fit->x >= X_MIN)
        return;
    double aa = 0.0, ay = 0.0;
    fit->x = X_MIN;
    for (int i = 0; i < fit->n; i++) {
        const pr_run_point *p = &fit->point[i];
        const double a = (1.0 - p->s1) / (p->A * p->s);
        aa += a * a;
        ay += a * (1.0 + fit->x * lag_s(fit->k_per_s, p->s) / p->s);
    }
    fit->qmax_As = ay / aa;
}

static bool wells_make_sense(const pr_label_fit *fit)
{
    return isfinite(fit->qmax_As) && fit->qmax_As > 0.0 && fit->x >= X_MIN && fit->x <= X_MAX;
}

/* Mean mismatch of the points after the first two, with those two met. */
static double high_rate_mismatch(double log_k, void *context)
{
    pr_label_fit *fit = context;
    fit->k_per_s = exp(log_k) / PR_HOUR_s;
    solve_linear(fit, 2);
    double sum = 0.0;
    int counted = 0;
    for (int i = 2; i < fit->n; i++)
        if (!isnan(fit->point[i].s1)) {
            sum += mismatch(fit, &fit->point[i]);
            counted++;
        }
    return sum / counted;
}

static double sum_of_squares(double log_k, void *context)
{
    pr_label_fit *fit = context;
    fit->k_per_s = exp(log_k) / PR_HOUR_s;
    solve_bounded(fit);
    if (!wells_make_sense(fit))
        return PR_INF;
    double sum = 0.0;
    for (int i = 0; i < fit->n; i++) {
        const double m = mismatch(fit, &fit->point[i]);
        sum += m * m;
    }
    return sum;
}

enum { K_GRID = 19 };

/* k' between 0.4 and 100 per hour. Slower wells would not have caught up after 20 h, and a battery
 * at the end of its capacity test would not be empty. */
static double grid_log_k(int i)
{
    return log(0.4) + log(250.0) * i / (K_GRID - 1);
}

/* A root between two log k', with wells that make sense. */
static bool root_between(pr_label_fit *fit, double low, double high)
{
    double root;
    if (pr_root_find(high_rate_mismatch, fit, low, high, 1e-13, &root) != PR_OK)
        return false;
    high_rate_mismatch(root, fit);
    return wells_make_sense(fit);
}

/* From the fast end: slower roots, where they exist, are nearly one well with a huge qmax. */
static pr_status fit_exact(pr_label_fit *fit)
{
    /* the root of the last round is near */
    if (fit->k_per_s > 0.0) {
        const double last = log(fit->k_per_s * PR_HOUR_s);
        if (root_between(fit, fmax(last - 0.2, grid_log_k(0)), last + 0.2))
            return PR_OK;
    }
    double best = PR_INF, best_log_k = 0.0, previous = PR_NAN;
    for (int i = K_GRID - 1; i >= 0; i--) {
        const double log_k = grid_log_k(i), m = high_rate_mismatch(log_k, fit);
        if (wells_make_sense(fit) && fabs(m) < best) {
            best = fabs(m);
            best_log_k = log_k;
        }
        if (i < K_GRID - 1 && (m > 0.0) != (previous > 0.0) &&
            root_between(fit, log_k, grid_log_k(i + 1)))
            return PR_OK;
        previous = m;
    }
    /* the first two points hold in any case; the high-rate end as near as two wells can come */
    if (!isfinite(best) || (fit->third_must_hold && best > 0.05))
        return PR_ERR_NO_SOLUTION;
    high_rate_mismatch(best_log_k, fit);
    return PR_OK;
}

/* Minimum of f in [low, high] by golden section. */
static double golden_minimum(pr_scalar_fn f, void *context, double low, double high)
{
    const double g = 0.5 * (sqrt(5.0) - 1.0);
    double a = high - g * (high - low), b = low + g * (high - low);
    double fa = f(a, context), fb = f(b, context);
    while (high - low > 1e-7) {
        if (fa < fb) {
            high = b;
            b = a;
            fb = fa;
            a = high - g * (high - low);
            fa = f(a, context);
        } else {
            low = a;
            a = b;
            fa = fb;
            b = low + g * (high - low);
            fb = f(b, context);
        }
    }
    return 0.5 * (low + high);
}

static pr_status fit_squares(pr_label_fit *fit)
{
    int best = 0;
    double best_sum = PR_INF;
    for (int i = 0; i < K_GRID; i++) {
        const double sum = sum_of_squares(grid_log_k(i), fit);
        if (sum < best_sum) {
            best_sum = sum;
            best = i;
        }
    }
    if (!isfinite(best_sum))
        return PR_ERR_NO_SOLUTION;
    const double low = grid_log_k(best > 0 ? best - 1 : 0);
    const double high = grid_log_k(best < K_GRID - 1 ? best + 1 : best);
    const double log_k = golden_minimum(sum_of_squares, fit, low, high);
    return isfinite(sum_of_squares(log_k, fit)) ? PR_OK : PR_ERR_NO_SOLUTION;
}

/* k' given: the first two points, or the first alone when they leave no second well. */
static pr_status fit_fixed_k(pr_label_fit *fit)
{
    solve_linear(fit, 2);
    if (!(fit->x >= X_MIN)) {
        const pr_run_point *p = &fit->point[0];
        fit->x = X_MIN;
        fit->qmax_As = p->A * (p->s + fit->x * lag_s(fit->k_per_s, p->s)) / (1.0 - p->s1);
        if (fabs(mismatch(fit, &fit->point[1])) > 0.05)
            return PR_ERR_NO_SOLUTION;
    }
    return wells_make_sense(fit) ? PR_OK : PR_ERR_NO_SOLUTION;
}

static pr_status fit_wells(pr_label_fit *fit)
{
    int wishes = 0;
    for (int i = 0; i < fit->n; i++) {
        const pr_status status = find_end_state(fit, &fit->point[i]);
        const bool wish = fit->kind == PR_FIT_EXACT && i >= 2 && !fit->third_must_hold;
        if (status != PR_OK && !wish)
            return status;
        if (status != PR_OK)
            fit->point[i].s1 = PR_NAN; /* the resistance forbids this current */
        else if (i >= 2)
            wishes++;
    }
    if (fit->kind == PR_FIT_SQUARES)
        return fit_squares(fit);
    if (fit->fixed_k)
        return fit_fixed_k(fit);
    if (wishes == 0) {
        fit->k_per_s = NO_WISH_K_per_h / PR_HOUR_s;
        return fit_fixed_k(fit);
    }
    return fit_exact(fit);
}

/* x at a temperature, from the capacity left there at the 10 h rate `amps_A`. */
static double unreachable_at(const pr_label_fit *fit, double amps_A, double T_degC,
                             double capacity_frac)
{
    const double dT = T_degC - PR_LABEL_degC, seconds = capacity_frac * TEN_HOURS_s;
    const double k_per_s = fit->k_per_s * exp(fit->chemistry->k_per_K * dT);
    const double s1 = 1.0 - amps_A * (seconds + fit->x * lag_s(k_per_s, seconds)) / fit->qmax_As;
    const double r_ohm = fit->r25_ohm * pr_resistance_factor(fit->chemistry->r_per_K, T_degC);
    const double e_V = pr_table_at(&fit->rest_V, s1, NULL) + fit->chemistry->emf_V_per_K * dT;
    const double left_V = e_V - TEN_HOURS_END_V - amps_A * r_ohm * (1.0 - fit->r0_share);
    const double rho = left_V / (amps_A * r_ohm * fit->r0_share);
    if (!(rho > 1.0) || !(s1 > 0.0))
        return 0.0; /* resistance and slow wells alone take that much */
    const double u = fit->polarisation / (rho - 1.0 + fit->polarisation);
    return fmax(0.0, (s1 - u) / (1.0 - u));
}

static void fit_cold(pr_label_fit *fit)
{
    pr_run_point p = {
        .A = 0.09 * fit->qmax_As / PR_HOUR_s, .s = TEN_HOURS_s, .end_V = TEN_HOURS_END_V};
    /* its end state hardly depends on the current: a few rounds settle it */
    for (int i = 0; i < 4; i++) {
        if (find_end_state(fit, &p) != PR_OK)
            return;
        p.A = fit->qmax_As * (1.0 - p.s1) / (p.s + fit->x * lag_s(fit->k_per_s, p.s));
    }
    const pr_battery_chemistry *c = fit->chemistry;
    const double d0 = PR_LABEL_degC, d1 = PR_LABEL_degC - c->cold_degC;
    const double x0 = unreachable_at(fit, p.A, 0.0, c->capacity_0_frac);
    const double x1 = fmax(x0, unreachable_at(fit, p.A, c->cold_degC, c->capacity_cold_frac));
    fit->unreachable[1] = (x1 / d1 - x0 / d0) / (d1 - d0);
    fit->unreachable[0] = x0 / d0 - fit->unreachable[1] * d0;
}

/* R25 at which the cranking test ends on its voltage, with the present wells. */
static double cranking_resistance_ohm(const pr_label_fit *fit)
{
    const double dT = PR_CRANKING_degC - PR_LABEL_degC, seconds = fit->cranking_s;
    const double k_per_s = fit->k_per_s * exp(fit->chemistry->k_per_K * dT);
    const double used_As = fit->cranking_A * (seconds + fit->x * lag_s(k_per_s, seconds));
    const double s1 = 1.0 - used_As / fit->qmax_As;
    const double x = pr_unreachable_frac(fit->unreachable, PR_CRANKING_degC);
    if (!(s1 > x))
        return PR_NAN;
    const double e_V = pr_table_at(&fit->rest_V, s1, NULL) + fit->chemistry->emf_V_per_K * dT;
    const double rise = -expm1(-seconds / fit->tau_s);
    const double factor = fit->r0_share * pr_polarisation_factor(fit->polarisation, s1, x) +
                          (1.0 - fit->r0_share) * rise;
    return (e_V - fit->cranking_V) /
           (fit->cranking_A * factor *
            pr_resistance_factor(fit->chemistry->r_per_K, PR_CRANKING_degC));
}

/* The resistance that the cranking test asks for, less the one the wells were found with. */
static pr_status cranking_excess(pr_label_fit *fit, double r25_ohm, double *excess_ohm)
{
    fit->r25_ohm = r25_ohm;
    const pr_status status = fit_wells(fit);
    if (status != PR_OK)
        return status;
    fit_cold(fit);
    const double asked_ohm = cranking_resistance_ohm(fit);
    *excess_ohm = asked_ohm - r25_ohm;
    return asked_ohm > 0.0 ? PR_OK : PR_ERR_NO_SOLUTION;
}

/* Secant on the excess; the first step is the plain fixed-point one, which nearly arrives. */
pr_status pr_battery_fit(pr_label_fit *fit)
{
    if (isnan(fit->cranking_A)) {
        const pr_status status = fit_wells(fit);
        if (status == PR_OK)
            fit_cold(fit);
        return status;
    }
    double r = fit->r25_ohm, excess, slope = -1.0;
    pr_status status = cranking_excess(fit, r, &excess);
    for (int round = 0; status == PR_OK && round < 60; round++) {
        const double next = r - excess / slope;
        double next_excess;
        status = cranking_excess(fit, next, &next_excess);
        if (status != PR_OK)
            return status;
        if (fabs(next_excess) <= 1e-11 * next) {
            /* a hair less, so that rounding cannot make the labelled test fail */
            fit->r25_ohm = (1.0 - 1e-10) * next;
            return PR_OK;
        }
        const double found = (next_excess - excess) / (next - r);
        slope = found < -0.3 && found > -3.0 ? found : -1.0;
        r = next;
        excess = next_excess;
    }
    return status == PR_OK ? PR_ERR_NO_CONVERGENCE : status;
}
