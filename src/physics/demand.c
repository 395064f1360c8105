/* Pull demand: what the rope must overcome to move the vehicle.
 *
 *     R = (1 + m) W (sin a + g + d)
 *
 *     W   weight with cargo, a   slope of the segment (downhill negative)
 *     g   ground: f cos a on a surface with rolling fraction f, or, mired, the mire factor M alone
 *     d   damage: what drags besides (0.67 for locked wheels), m   margin
 *
 * never below zero. A resistance given directly replaces all of it, margin included.
 *
 * Mire factors, by how deep the vehicle sits (wheels, hubs or fenders, body): 1, 2, 3 times the
 * weight by the Army's recovery manuals (FM 20-22, FM 9-43-2, FM 4-30.31); 0.75, 1, 1.33 in milder
 * civil practice (no source). A depth is a guess, so each has a range. Civil: a step of the
 * ladder (x 3/4, x 4/3) either way. Army: from the civil figure up to half a class deeper. The two
 * ranges are our choice.
 *
 * Validity: slow and steady pull, wheels free to turn. Jerks, suction that lets go at once, stumps
 * and rocks in the way, and wheels that help by driving are not in it. */
#include "physics/demand.h"

#include "base/number.h"

#include <math.h>

pr_demand_def pr_demand_def_default(void)
{
    pr_demand_def def = {
        .cookie = PR_DEF_COOKIE,
        .weight_N = PR_NAN,
        .mire_method = PR_MIRE_CIVIL,
        .margin_frac = 0.20,
        .fixed_resistance_N = PR_NAN,
    };
    for (int i = 0; i < PR_DEMAND_SEGMENTS_MAX; i++) {
        pr_demand_segment *s = &def.segments[i];
        s->length_m = PR_NAN;
        for (int k = 0; k < PR_CASE_COUNT; k++)
            s->surface_frac[k] = PR_NAN;
    }
    return def;
}

static int segment_is_sound(const pr_demand_segment *s, int computed)
{
    if (!(s->length_m > 0.0) || !isfinite(s->length_m))
        return 0;
    if (!computed)
        return 1;
    if (!(fabs(s->slope_rad) < 1.5) || (unsigned)s->mire > PR_MIRE_BODY)
        return 0;
    if (s->mire != PR_MIRE_NONE)
        return 1;
    return s->surface_frac[PR_CASE_LOW] >= 0.0 &&
           s->surface_frac[PR_CASE_LIKELY] >= s->surface_frac[PR_CASE_LOW] &&
           s->surface_frac[PR_CASE_HIGH] >= s->surface_frac[PR_CASE_LIKELY] &&
           s->surface_frac[PR_CASE_HIGH] <= 5.0;
}

pr_status pr_demand_check(const pr_demand_def *demand)
{
    if (demand->cookie != PR_DEF_COOKIE)
        return PR_ERR_INTERNAL;
    const int computed = isnan(demand->fixed_resistance_N);
    if (!computed &&
        (!(demand->fixed_resistance_N >= 0.0) || !isfinite(demand->fixed_resistance_N)))
        return PR_ERR_RANGE;
    if (computed && (!(demand->weight_N > 0.0) || !isfinite(demand->weight_N)))
        return PR_ERR_RANGE;
    if (!(demand->damage_frac >= 0.0 && demand->damage_frac <= 5.0) ||
        !(demand->margin_frac >= 0.0 && demand->margin_frac <= 5.0) ||
        (unsigned)demand->mire_method > PR_MIRE_ARMY)
        return PR_ERR_RANGE;
    if (demand->n_segments < 1 || demand->n_segments > PR_DEMAND_SEGMENTS_MAX)
        return PR_ERR_RANGE;
    for (int i = 0; i < demand->n_segments; i++)
        if (!segment_is_sound(&demand->segments[i], computed))
            return PR_ERR_RANGE;
    return PR_OK;
}

double pr_demand_mire_factor(pr_mire mire, pr_mire_method method, pr_case which)
{
    static const double factor[2][4][PR_CASE_COUNT] = {
        [PR_MIRE_CIVIL] = {[PR_MIRE_WHEEL] = {0.75 * 0.75, 0.75, 1.0},
                           [PR_MIRE_HUB] = {0.75, 1.0, 4.0 / 3.0},
                           [PR_MIRE_BODY] = {1.0, 1.33, 1.33 * 4.0 / 3.0}},
        [PR_MIRE_ARMY] = {[PR_MIRE_WHEEL] = {0.75, 1.0, 1.5},
                          [PR_MIRE_HUB] = {1.0, 2.0, 2.5},
                          [PR_MIRE_BODY] = {1.33, 3.0, 3.5}},
    };
    if ((unsigned)mire > PR_MIRE_BODY || (unsigned)method > PR_MIRE_ARMY ||
        (unsigned)which >= PR_CASE_COUNT)
        return PR_NAN;
    return factor[method][mire][which];
}

/* Index of the segment that holds x and its end; a boundary belongs to the segment ahead. */
static int segment_at(const pr_demand_def *demand, double x_m, double *end_m)
{
    int i = 0;
    double end = demand->segments[0].length_m;
    while (i + 1 < demand->n_segments && !(x_m < end))
        end += demand->segments[++i].length_m;
    *end_m = end;
    return i;
}

double pr_demand_resistance_N(const pr_demand_def *demand, double x_m, pr_case which)
{
    if (!isnan(demand->fixed_resistance_N))
        return demand->fixed_resistance_N;
    if (demand->n_segments < 1 || isnan(x_m) || (unsigned)which >= PR_CASE_COUNT)
        return PR_NAN;
    double end_m;
    const pr_demand_segment *s = &demand->segments[segment_at(demand, x_m, &end_m)];
    const double ground = s->mire != PR_MIRE_NONE
                              ? pr_demand_mire_factor(s->mire, demand->mire_method, which)
                              : s->surface_frac[which] * cos(s->slope_rad);
    const double total = sin(s->slope_rad) + ground + demand->damage_frac;
    return (1.0 + demand->margin_frac) * demand->weight_N * (total < 0.0 ? 0.0 : total);
}

double pr_demand_distance_m(const pr_demand_def *demand)
{
    double sum = 0.0;
    for (int i = 0; i < demand->n_segments; i++)
        sum += demand->segments[i].length_m;
    return sum;
}

double pr_demand_segment_end_m(const pr_demand_def *demand, double x_m)
{
    if (demand->n_segments < 1)
        return PR_NAN;
    double end_m;
    segment_at(demand, x_m, &end_m);
    return end_m;
}
