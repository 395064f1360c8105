/* Anchors and what the rigging bears; see job.h.
 *
 * Anchors stand in a row ahead: the first at anchor_distance (else at the end of the way, or where
 * the rope given ends), each further one next_anchor beyond the one before (else as far again).
 * Where the rope is set out, the nearest one that is worth it is taken:
 *     rope out = min(p d, usable rope)      strap = d - rope out / p
 * d: vehicle to anchor, p: rope per metre of travel. The strap is taken to be as long as it must
 * be. With all the rope in, the vehicle stands the strap's length before the anchor, and goes on to
 * the same one.
 *
 * Loads for the force T in the winch line: anchor p T, block 2 T cos(theta / 2) (2 T where a block
 * only turns the line: its angle is not known), rope T, which must leave the rope factor. A single
 * line has no block. The winch bears its rated pull in the layer being wound; its motor could give
 * more for a moment, the sheet does not allow it. */
#include "planner/job.h"

#include "base/number.h"

#include <limits.h>
#include <math.h>

/* Nobody rigs to an anchor nearer than this, unless it is the last bit. */
static const double NEAR_m = 0.5;

static double first_anchor_m(const pr_job *job, double per_travel)
{
    const pr_system_def *def = &job->system->def;
    if (!isnan(def->anchor_distance_m))
        return def->anchor_distance_m;
    return isnan(job->rope_given_m) ? job->distance_m : job->rope_given_m / per_travel;
}

static double next_anchor_m(const pr_job *job, double first_m)
{
    return fmax(isnan(job->plan.next_anchor_m) ? first_m : job->plan.next_anchor_m, 1.0);
}

pr_rigged pr_job_rigged(const pr_job *job, const pr_rig_def *rig, double travel_m)
{
    static const double SPECK_m = 1e-3;
    const double per_travel = pr_rig_rope_per_travel(rig);
    const double usable_m = job->system->drum.usable_rope_m;
    const double first_m = first_anchor_m(job, per_travel);
    if (isinf(first_m))
        return (pr_rigged){.anchor_m = first_m, .rope_m = usable_m};
    const double next_m = next_anchor_m(job, first_m);
    double k = fmax(ceil((travel_m + NEAR_m - first_m) / next_m), 0.0);
    const double last_m = first_m + (k - 1.0) * next_m; /* the one before: enough for the rest? */
    if (k > 0.0 && last_m > travel_m && last_m > job->distance_m - SPECK_m)
        k -= 1.0;
    pr_rigged r = {.anchor_m = first_m + k * next_m - travel_m, .anchor = (int)fmin(k, 1e6)};
    r.rope_m = fmin(r.anchor_m * per_travel, usable_m);
    if (!isnan(job->rope_given_m) && !(travel_m > 0.0))
        r.rope_m = job->rope_given_m;
    r.strap_m = fmax(r.anchor_m - r.rope_m / per_travel, 0.0);
    if (r.strap_m < SPECK_m)
        r.strap_m = 0.0;
    const double lacks_m = r.strap_m - job->plan.extension_m;
    r.missing_m = lacks_m > SPECK_m ? lacks_m : 0.0; /* false for a NaN */
    return r;
}

long pr_job_rigs_left(const pr_job *job, double travel_m)
{
    const pr_rig_def *rig = &job->system->def.rig;
    long n = 0;
    for (double x_m = travel_m; x_m < job->distance_m && n < INT_MAX; n++) {
        const double step_m = pr_job_rigged(job, rig, x_m).rope_m / pr_rig_rope_per_travel(rig);
        if (!(step_m > 0.0))
            return LONG_MAX;
        x_m += step_m;
    }
    return n;
}

void pr_job_rerig(const pr_job *job, pr_sim *sim)
{
    const pr_system *system = job->system;
    const double travel_m = system->def.has_winch ? sim->y[system->at.travel] : 0.0;
    pr_sim_rerig(system, sim, pr_job_rigged(job, &system->def.rig, travel_m).rope_m);
}

pr_reach pr_job_reach(const pr_job *job, const pr_cycle *cycles, size_t n_cycles)
{
    const pr_system_def *def = &job->system->def;
    if (!def->has_winch)
        return (pr_reach){.anchor_m = PR_INF, .new_anchor_m = PR_NAN, .next_m = PR_NAN};
    const double first_m = first_anchor_m(job, pr_rig_rope_per_travel(&def->rig));
    pr_rigged r = pr_job_rigged(job, &def->rig, 0.0);
    pr_reach reach = {.anchor_m = r.anchor_m,
                      .rope_m = r.rope_m,
                      .strap_m = r.strap_m,
                      .new_anchor_m = PR_NAN,
                      .next_m = next_anchor_m(job, first_m)};
    for (size_t i = 0; i < n_cycles; i++) {
        if (!cycles[i].rerig)
            continue;
        r = pr_job_rigged(job, &def->rig, cycles[i].travel_m);
        reach.strap_m = fmax(reach.strap_m, r.strap_m);
        if (r.anchor > 0 && isnan(reach.new_anchor_m))
            reach.new_anchor_m = cycles[i].travel_m;
    }
    return reach;
}

/* Is x more than y allows? Nothing is, when y is not known. */
static bool exceeds(double x, double y)
{
    return !isnan(y) && !(x <= y);
}

static double block_load_N(const pr_rig_def *rig, double line_N)
{
    if (pr_rig_sheaves(rig) == 0)
        return 0.0;
    return pr_rig_block_load_N(line_N, rig->change_direction_blocks > 0 ? 0.0 : rig->leg_angle_deg);
}

/* What gets too much when the line pulls `need_N`, in the order in which more parts help. */
static bool is_overloaded(const pr_job *job, const pr_rig_def *rig, double need_N,
                          double capacity_N, bool all, pr_overload *o)
{
    const double rope_N = job->system->drum.def.rope_rating_N / job->plan.rope_factor;
    const struct {
        pr_overloaded what;
        double need_N, capacity_N;
    } check[] = {
        {PR_OVERLOADED_WINCH, need_N, capacity_N},
        {PR_OVERLOADED_ROPE, need_N, rope_N},
        {PR_OVERLOADED_BLOCK, block_load_N(rig, need_N), rig->block_rating_N},
        {PR_OVERLOADED_ANCHOR, pr_rig_anchor_load_N(rig, need_N), rig->anchor_rating_N},
    };
    const size_t n = sizeof check / sizeof check[0] - (all ? 0 : 1);
    for (size_t i = 0; i < n; i++) {
        if (!exceeds(check[i].need_N, check[i].capacity_N))
            continue;
        o->what = check[i].what;
        o->need_N = check[i].need_N;
        o->capacity_N = check[i].capacity_N;
        return true;
    }
    return false;
}

/* Walks the way out, rig by rig, layer by layer, segment by segment. */
pr_overload pr_job_overload(const pr_job *job, const pr_rig_def *rig, pr_case which, bool all)
{
    const pr_system *system = job->system;
    const pr_system_def *def = &system->def;
    pr_overload o = {.at_m = PR_INF};
    if (!def->has_winch || def->work != PR_WORK_DEMAND)
        return o;
    const double per_travel = pr_rig_rope_per_travel(rig), nudge_m = 1e-6;
    double rope_m = 0.0;
    for (double x_m = 0.0; x_m < job->distance_m;) {
        if (!(rope_m > 0.0)) {
            const pr_rigged r = pr_job_rigged(job, rig, x_m);
            rope_m = r.rope_m;
            if (!(rope_m > 0.0))
                return o;
            if (all && r.missing_m > 0.0) /* just before the rope is in, so that it ends there */
                return (pr_overload){.at_m = fmax(x_m - 1e-3, 0.0),
                                     .what = PR_OVERLOADED_REACH,
                                     .missing_m = r.missing_m};
        }
        const int layer = pr_drum_layer(&system->drum, rope_m);
        const double resistance_N = pr_demand_resistance_N(&def->demand, x_m, which);
        const double need_N = pr_rig_fall_line_N(rig, resistance_N);
        const double capacity_N = def->motor.rated_pull_N / pr_drum_ratio(&system->drum, layer);
        if (is_overloaded(job, rig, need_N, capacity_N, all, &o)) {
            o.at_m = x_m;
            return o;
        }
        const double layer_end_m = pr_drum_layer_end_rope_out_m(&system->drum, layer);
        const double to_layer_m = (rope_m - layer_end_m) / per_travel;
        const double to_segment_m = pr_demand_segment_end_m(&def->demand, x_m) - x_m;
        const double step_m = fmax(fmin(to_layer_m, to_segment_m), 0.0) + nudge_m;
        x_m += step_m;
        rope_m -= step_m * per_travel;
    }
    return o;
}
