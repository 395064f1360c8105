/* Which fault explains what was measured; see readings.h.
 *
 * With d = measured - expected, J the changes for each tolerance (two standard deviations of the
 * rig, so J/2 for one) and s the meter's standard deviation, the rig may be anything within its
 * tolerances. The least of |d - J t|^2 / s^2 + |2 t|^2 over t is
 *     chi2 = d' C^-1 d,   C = s^2 I + (J/2)(J/2)'
 * (generalised least squares, the tolerances as prior). A fault fits when chi2 is below the 95 %
 * point of the chi-square distribution for as many readings (GSL). Two faults cannot be told apart
 * by what was measured when their expected values differ by less than the meter's error, 2 s, in
 * each of these readings, or when their chi2 differ by less than 3.84, the 95 % point for one
 * reading.
 *
 * The same measure ranks readings for a pair of faults: |Va - Vb| / sqrt(sa^2 + sb^2), s^2 = meter
 * + tolerances of each, but what both share cancels: only the difference of their changes counts.
 */
#include "planner/readings_fit.h"

#include "base/number.h"

#include <gsl/gsl_cdf.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <string.h>

static const double METER_V = 0.075; /* one standard deviation: 0.05..0.1 V for a cheap meter */
static const double SURE = 0.95, APART_CHI2 = 3.84;

void pr_readings_set_band(pr_reading_band *band)
{
    double up = 4.0 * METER_V * METER_V, down = up;
    for (int v = 0; v < PR_VARY_COUNT; v++) {
        up += band->up_V[v] * band->up_V[v];
        down += band->down_V[v] * band->down_V[v];
    }
    band->low_V = band->V - sqrt(down);
    band->high_V = band->V + sqrt(up);
}

/* ---- pairs */

/* How many standard deviations a reading lies apart for two faults; 0 when it cannot be read. */
static double distance(const pr_reading_band *a, const pr_reading_band *b)
{
    if (isnan(a->V) || isnan(b->V))
        return 0.0;
    double sum = METER_V * METER_V;
    for (int v = 0; v < PR_VARY_COUNT; v++) {
        const double half_V = 0.5 * fmax(fabs(a->vary_V[v]), fabs(b->vary_V[v]));
        sum += half_V * half_V;
    }
    return fabs(a->V - b->V) / sqrt(sum);
}

static pr_reading best_reading(const pr_readings *readings, pr_rig_fault a, pr_rig_fault b,
                               const bool skip[PR_READING_COUNT], double *apart)
{
    pr_reading best = PR_READING_COUNT;
    *apart = 0.0;
    for (int i = 0; i < PR_READING_COUNT; i++) {
        const double d = distance(&readings->fault[a].at[i], &readings->fault[b].at[i]);
        if (!skip[i] && d > *apart) {
            *apart = d;
            best = (pr_reading)i;
        }
    }
    return best;
}

static double apart_V(const pr_readings *readings, pr_rig_fault a, pr_rig_fault b, pr_reading at)
{
    return at == PR_READING_COUNT ? PR_NAN
                                  : readings->fault[b].at[at].V - readings->fault[a].at[at].V;
}

void pr_readings_pair(pr_readings *readings)
{
    static const double TOLD = 2.0; /* standard deviations */
    readings->n_pairs = 0;
    for (int a = 0; a < PR_FAULT_COUNT; a++)
        for (int b = a + 1; b < PR_FAULT_COUNT; b++) {
            if (!readings->fault[a].possible || !readings->fault[b].possible)
                continue;
            bool skip[PR_READING_COUNT] = {false};
            double first, second;
            pr_fault_pair *p = &readings->pair[readings->n_pairs++];
            *p = (pr_fault_pair){.a = (pr_rig_fault)a, .b = (pr_rig_fault)b};
            p->first = best_reading(readings, p->a, p->b, skip, &first);
            if (p->first != PR_READING_COUNT)
                skip[p->first] = true;
            p->second = best_reading(readings, p->a, p->b, skip, &second);
            p->first_V = apart_V(readings, p->a, p->b, p->first);
            p->second_V = apart_V(readings, p->a, p->b, p->second);
            p->told_apart = hypot(first, second) >= TOLD;
        }
}

/* ---- fit */

typedef struct workspace {
    size_t n;
    int reading[PR_READING_COUNT];
    double d[PR_READING_COUNT];
    double c[PR_READING_COUNT * PR_READING_COUNT];
} workspace;

static bool fill(const pr_fault_readings *fault, const pr_measured *measured, workspace *w)
{
    w->n = 0;
    for (int i = 0; i < PR_READING_COUNT; i++)
        if (measured->given[i]) {
            w->d[w->n] = measured->V[i] - fault->at[i].V;
            if (!isfinite(w->d[w->n]))
                return false; /* cannot be read with this fault: it does not last so long */
            w->reading[w->n++] = i;
        }
    for (size_t i = 0; i < w->n; i++)
        for (size_t k = 0; k < w->n; k++) {
            double sum = i == k ? METER_V * METER_V : 0.0;
            for (int v = 0; v < PR_VARY_COUNT; v++)
                sum +=
                    0.25 * fault->at[w->reading[i]].vary_V[v] * fault->at[w->reading[k]].vary_V[v];
            w->c[i * w->n + k] = sum;
        }
    return true;
}

/* chi2 = d' x with C x = d; what the meter must have erred by is s^2 x. */
static pr_status fit_fault(const pr_fault_readings *fault, const pr_measured *measured, pr_fit *fit)
{
    workspace w;
    fit->chi2 = fit->worst_V = PR_INF;
    if (!fill(fault, measured, &w))
        return PR_OK;
    double x[PR_READING_COUNT];
    memcpy(x, w.d, sizeof x);
    gsl_matrix_view c = gsl_matrix_view_array(w.c, w.n, w.n);
    gsl_vector_view solution = gsl_vector_view_array(x, w.n);
    if (gsl_linalg_cholesky_decomp1(&c.matrix) != GSL_SUCCESS ||
        gsl_linalg_cholesky_svx(&c.matrix, &solution.vector) != GSL_SUCCESS)
        return PR_ERR_NO_SOLUTION;
    fit->chi2 = fit->worst_V = 0.0;
    for (size_t i = 0; i < w.n; i++) {
        fit->chi2 += w.d[i] * x[i];
        fit->worst_V = fmax(fit->worst_V, METER_V * METER_V * fabs(x[i]));
    }
    return PR_OK;
}

static void sort_fits(pr_ranking *ranking)
{
    for (size_t i = 1; i < ranking->n; i++) {
        const pr_fit fit = ranking->fit[i];
        size_t k = i;
        for (; k > 0 && ranking->fit[k - 1].chi2 > fit.chi2; k--)
            ranking->fit[k] = ranking->fit[k - 1];
        ranking->fit[k] = fit;
    }
}

static bool same_within_meter(const pr_readings *readings, const pr_measured *measured,
                              pr_rig_fault a, pr_rig_fault b)
{
    for (int i = 0; i < PR_READING_COUNT; i++)
        if (measured->given[i] &&
            !(fabs(readings->fault[a].at[i].V - readings->fault[b].at[i].V) < 2.0 * METER_V))
            return false;
    return true;
}

static void mark_as_good(const pr_readings *readings, const pr_measured *measured,
                         pr_ranking *ranking)
{
    const pr_fit *best = &ranking->fit[0];
    ranking->n_as_good = 0;
    for (size_t i = 0; i < ranking->n; i++) {
        pr_fit *fit = &ranking->fit[i];
        double apart;
        fit->as_good = i == 0 || fit->chi2 - best->chi2 < APART_CHI2 ||
                       same_within_meter(readings, measured, fit->fault, best->fault);
        fit->next = i == 0
                        ? PR_READING_COUNT
                        : best_reading(readings, best->fault, fit->fault, measured->given, &apart);
        if (i > 0 && apart < 2.0)
            fit->next = PR_READING_COUNT;
        ranking->n_as_good += fit->as_good;
    }
}

static pr_status rank(const pr_readings *readings, const pr_measured *measured, pr_ranking *ranking)
{
    const double bound = gsl_cdf_chisq_Pinv(SURE, (double)ranking->n_measured);
    for (int f = 0; f < PR_FAULT_COUNT; f++) {
        if (!readings->fault[f].possible)
            continue;
        pr_fit *fit = &ranking->fit[ranking->n++];
        fit->fault = (pr_rig_fault)f;
        const pr_status status = fit_fault(&readings->fault[f], measured, fit);
        if (status != PR_OK)
            return status;
        fit->fits = fit->chi2 <= bound;
    }
    sort_fits(ranking);
    mark_as_good(readings, measured, ranking);
    return PR_OK;
}

pr_status pr_readings_rank(const pr_readings *readings, const pr_measured *measured,
                           pr_ranking *ranking)
{
    *ranking = (pr_ranking){0};
    for (int i = 0; i < PR_READING_COUNT; i++)
        if (measured->given[i]) {
            if (isnan(readings->fault[PR_FAULT_NONE].at[i].V) || !isfinite(measured->V[i]))
                return PR_ERR_INPUT;
            ranking->n_measured++;
        }
    if (ranking->n_measured == 0)
        return PR_ERR_INPUT;
    gsl_error_handler_t *handler = gsl_set_error_handler_off();
    const pr_status status = rank(readings, measured, ranking);
    gsl_set_error_handler(handler);
    return status;
}
