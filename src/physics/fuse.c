/* Fuses and breakers.
 *
 * Opening time: straight lines in ln t against ln(I/rating) through the curve's points. Below the
 *   first point it holds for ever; above the last the element melts before heat leaves it: t ~
 * 1/I^2. Damage: dD/dt = 1/t(I); opens at D = 1. Below the first point dD/dt = -D/tau: the element
 * cools. For one constant current this is the curve; for a varying one the usual sum of shares.
 *
 * The families are the geometric middle of windows of opening times: blade and large blade as in
 * makers' sheets to ISO 8820-3; bolt-down and strip after ISO 8820-5 (m); breaker after SAE J553
 * (m). The windows are wide (a factor of 5 to 60 between earliest and latest): a given fuse may
 * open anywhere in its own. Validity: 23 degC, 32 V; a fuse in a hot place opens earlier: not
 * modelled. */
#include "physics/fuse.h"
#include "base/number.h"
#include <math.h>
#include <stdbool.h>
#include <stddef.h>

#define POINTS_MAX 12

typedef struct curve {
    int n;
    double ratio[6], seconds[6];
    double cooling_s;
} curve;

static const curve families[PR_FUSE_FAMILY_COUNT] = {
    [PR_FUSE_BOLT_DOWN] = {5, {1.15, 1.35, 2.0, 3.5, 5.0}, {14400, 465, 3.9, 1.22, 0.316}, 120},
    [PR_FUSE_STRIP] = {5, {1.15, 1.35, 2.0, 3.5, 6.0}, {14400, 329, 8.7, 0.77, 0.20}, 90},
    [PR_FUSE_LARGE_BLADE] = {5, {1.10, 1.35, 2.0, 3.5, 6.0}, {14400, 329, 10, 1.18, 0.20}, 60},
    [PR_FUSE_BLADE] = {6,
                       {1.10, 1.35, 1.6, 2.0, 3.5, 6.0},
                       {14400, 21.2, 3.5, 0.87, 0.2, 0.055},
                       20},
    [PR_FUSE_BREAKER] = {4, {1.10, 1.35, 2.0, 6.0}, {14400, 600, 20, 1.0}, 60},
};

pr_fuse_def pr_fuse_def_family(pr_fuse_family family)
{
    pr_fuse_def def = {.cookie = PR_DEF_COOKIE, .rating_A = PR_NAN, .cooling_s = PR_NAN};
    if ((int)family < 0 || family >= PR_FUSE_FAMILY_COUNT)
        return def;
    const curve *c = &families[family];
    def.n_points = c->n;
    def.cooling_s = c->cooling_s;
    for (int i = 0; i < c->n; i++) {
        def.point_ratio[i] = c->ratio[i];
        def.point_s[i] = c->seconds[i];
    }
    return def;
}

pr_fuse_def pr_fuse_def_default(void)
{
    return pr_fuse_def_family(PR_FUSE_BOLT_DOWN);
}

pr_status pr_fuse_derive(const pr_fuse_def *def, pr_fuse *fuse)
{
    if (def == NULL || fuse == NULL || def->cookie != PR_DEF_COOKIE)
        return PR_ERR_INTERNAL;
    if (!(def->rating_A >= 0.5 && def->rating_A <= 1000.0) || def->n_points < 2 ||
        def->n_points > POINTS_MAX || !(def->cooling_s > 0.0 && def->cooling_s <= 1e5))
        return PR_ERR_RANGE;
    double ln_ratio[POINTS_MAX], ln_s[POINTS_MAX];
    for (int i = 0; i < def->n_points; i++) {
        if (!(def->point_ratio[i] >= 1.0 && def->point_ratio[i] <= 100.0) ||
            !(def->point_s[i] > 0.0 && def->point_s[i] <= 1e7))
            return PR_ERR_RANGE;
        /* more current opens sooner */
        if (i > 0 && (!(def->point_ratio[i] > def->point_ratio[i - 1]) ||
                      !(def->point_s[i] < def->point_s[i - 1])))
            return PR_ERR_RANGE;
        ln_ratio[i] = log(def->point_ratio[i]);
        ln_s[i] = log(def->point_s[i]);
    }
    *fuse = (pr_fuse){.def = *def};
    return pr_table_init(&fuse->ln_s, PR_TABLE_LINEAR, (size_t)def->n_points, ln_ratio, ln_s);
}

double pr_fuse_time_s(const pr_fuse *fuse, double i_A)
{
    const pr_fuse_def *d = &fuse->def;
    double ratio = fabs(i_A) / d->rating_A;
    if (ratio < d->point_ratio[0])
        return PR_INF;
    int last = d->n_points - 1;
    if (ratio >= d->point_ratio[last]) {
        double share = d->point_ratio[last] / ratio;
        return d->point_s[last] * share * share;
    }
    return exp(pr_table_at(&fuse->ln_s, log(ratio), NULL));
}

void pr_fuse_rates(const pr_fuse *fuse, const pr_fuse_state *state, double i_A,
                   pr_fuse_state *rates)
{
    /* the usual case first: no logarithm below the curve */
    if (fabs(i_A) < fuse->def.point_ratio[0] * fuse->def.rating_A)
        rates->damage_frac = -state->damage_frac / fuse->def.cooling_s;
    else
        rates->damage_frac = 1.0 / pr_fuse_time_s(fuse, i_A);
}
