/* Warnings about ropes, blocks and anchors of a plan; see warnings.h.
 *
 * As planned nothing is above its rating, or the plan is a no. Told here is what the winch could
 * put on them when the line jams: T of the rated pull on the first layer. */
#include "planner/warnings.h"

#include "base/number.h"

#include <math.h>
#include <stdio.h>

/* Less than this is a step nearer before the first pull. */
static const double WORTH_A_STRAP_m = 0.5;
static const double N_PER_KG = 9.80665, LBF_PER_N = 0.224808943, FT_PER_M = 3.280839895;

#define SAY(diag, ...) pr_diag_add(diag, PR_WARNING, (pr_place){NULL, 0, 0}, __VA_ARGS__)

typedef struct words {
    char text[64];
} words;

/* "2,480": three digits that count, of a number that may have six and more before the point. */
static words grouped(double x)
{
    const double step = x < 1000.0 ? 1.0 : pow(10.0, floor(log10(x)) - 2.0);
    const long n = lround(fmin(x, 1e9) / step) * lround(step);
    words w;
    if (n < 1000)
        snprintf(w.text, sizeof w.text, "%ld", n);
    else if (n < 1000000)
        snprintf(w.text, sizeof w.text, "%ld,%03ld", n / 1000, n % 1000);
    else
        snprintf(w.text, sizeof w.text, "%ld,%03ld,%03ld", n / 1000000, n / 1000 % 1000, n % 1000);
    return w;
}

/* "2,480 kg (5,470 lbf)". Both worlds: a diagnosis does not know the units of the report. */
static words force(double force_N)
{
    const words kg = grouped(force_N / N_PER_KG), lbf = grouped(force_N * LBF_PER_N);
    words w;
    snprintf(w.text, sizeof w.text, "%.20s kg (%.20s lbf)", kg.text, lbf.text);
    return w;
}

static void warn_of_rating(const char *what, double most_N, double rated_N, pr_diag *diag)
{
    if (most_N > rated_N) /* false for a NaN */
        SAY(diag,
            "%s: rated for %s, but the winch can put %s on it when the line jams: take a stronger "
            "one",
            what, force(rated_N).text, force(most_N).text);
}

static void warn_of_ratings(const pr_system_def *def, int parts, pr_diag *diag)
{
    pr_rig_def rig = def->rig;
    rig.parts = parts;
    const double line_N = def->motor.rated_pull_N;
    const double angle_deg = rig.change_direction_blocks > 0 ? 0.0 : rig.leg_angle_deg;
    warn_of_rating("anchor", pr_rig_anchor_load_N(&rig, line_N), rig.anchor_rating_N, diag);
    if (pr_rig_sheaves(&rig) > 0)
        warn_of_rating("block", pr_rig_block_load_N(line_N, angle_deg), rig.block_rating_N, diag);
    if (line_N > def->drum.rope_rating_N) /* false for a NaN */
        SAY(diag,
            "rope: it breaks at %s, less than the winch pulls: %s; change it, and stand clear of "
            "it",
            force(def->drum.rope_rating_N).text, force(line_N).text);
}

/* What a run puts on anchor, block and rope, beside what they bear; false: it has none. */
enum { RIG_LOADS = 3 };
static bool run_loads(const pr_scenario *scenario, const pr_phase_end *ends, size_t n,
                      pr_overload loads[RIG_LOADS])
{
    const pr_system_def *def = &scenario->system;
    if (!def->has_winch || def->work != PR_WORK_DEMAND)
        return false;
    pr_rig_def rig = def->rig;
    rig.parts = scenario->plan.parts > 0 ? scenario->plan.parts : 1;
    double anchor_N = 0.0;
    for (size_t i = 0; i < n; i++)
        anchor_N = fmax(anchor_N, ends[i].extremes.most_anchor_N);
    const double line_N = anchor_N / pr_rig_anchor_load_N(&rig, 1.0);
    const double angle_deg = rig.change_direction_blocks > 0 ? 0.0 : rig.leg_angle_deg;
    const double block_N = pr_rig_sheaves(&rig) > 0 ? pr_rig_block_load_N(line_N, angle_deg) : 0.0;
    const double rope_N = def->drum.rope_rating_N / scenario->plan.rope_factor;
    loads[0] = (pr_overload){PR_INF, PR_OVERLOADED_ANCHOR, anchor_N, rig.anchor_rating_N, 0.0};
    loads[1] = (pr_overload){PR_INF, PR_OVERLOADED_BLOCK, block_N, rig.block_rating_N, 0.0};
    loads[2] = (pr_overload){PR_INF, PR_OVERLOADED_ROPE, line_N, rope_N, 0.0};
    return true;
}

bool pr_run_overload(const pr_scenario *scenario, const pr_phase_end *ends, size_t n,
                     pr_overload *worst)
{
    pr_overload loads[RIG_LOADS];
    double excess = 1.0;
    if (!run_loads(scenario, ends, n, loads))
        return false;
    for (size_t i = 0; i < RIG_LOADS; i++) {
        if (!(loads[i].need_N > excess * loads[i].capacity_N)) /* true for a NaN */
            continue;
        excess = loads[i].need_N / loads[i].capacity_N;
        *worst = loads[i];
    }
    return excess > 1.0;
}

void pr_warnings_of_run_rig(const pr_scenario *scenario, const pr_phase_end *ends, size_t n,
                            pr_diag *diag)
{
    static const char *const names[RIG_LOADS] = {"anchor", "block", "rope"};
    pr_overload loads[RIG_LOADS];
    if (diag == NULL || !run_loads(scenario, ends, n, loads))
        return;
    for (size_t i = 0; i < RIG_LOADS; i++)
        if (loads[i].need_N > loads[i].capacity_N) /* false for a NaN */
            SAY(diag,
                "%s: gets %s, rated for %s: do not do this; a stronger one, or more parts of line "
                "where that spares it",
                names[i], force(loads[i].need_N).text, force(loads[i].capacity_N).text);
}

static void warn_of_reach(const pr_scenario *scenario, const pr_plan *plan, pr_diag *diag)
{
    const pr_reach *r = &plan->reach;
    if (r->strap_m >= WORTH_A_STRAP_m && isnan(scenario->plan.extension_m))
        SAY(diag,
            "rope: %.1f m (%.0f ft) of strap must go between %s and anchor, %.1f m away: not on "
            "board (extension:)? Then take a nearer anchor",
            r->strap_m, ceil(r->strap_m * FT_PER_M), plan->parts > 1 ? "block" : "hook",
            r->anchor_m);
    if (isfinite(r->new_anchor_m) && isnan(scenario->plan.next_anchor_m))
        SAY(diag,
            "anchor: reached after %.1f m (%.0f ft); the plan takes a new one %.1f m (%.0f ft) "
            "further: look first whether there is one, and say so (next_anchor:)",
            r->new_anchor_m, r->new_anchor_m * FT_PER_M, r->next_m, r->next_m * FT_PER_M);
}

/* Where the slope pulls as much as the ground holds back, at its kindest. */
static void warn_of_rolling(const pr_demand_def *demand, pr_diag *diag)
{
    const double way_m = pr_demand_distance_m(demand);
    for (double x_m = 0.0; x_m < way_m; x_m = pr_demand_segment_end_m(demand, x_m) + 1e-9)
        if (!(pr_demand_resistance_N(demand, x_m, PR_CASE_LOW) > 0.0)) {
            SAY(diag,
                "slope: from %.1f m on it may roll downhill by itself: a person at the brake or "
                "chocks, the line tight, nobody below; a winch is no brake",
                x_m);
            return;
        }
}

void pr_warnings_of_rig(const pr_scenario *scenario, const pr_plan *plan, pr_diag *diag)
{
    const pr_system_def *def = &scenario->system;
    if (plan->status != PR_OK || diag == NULL || !def->has_winch || def->work != PR_WORK_DEMAND)
        return;
    if (plan->overload.what == PR_OVERLOADED_WINCH || isinf(plan->overload.at_m))
        warn_of_ratings(def, plan->parts, diag);
    if (plan->n_cycles > 0)
        warn_of_reach(scenario, plan, diag);
    if (isnan(def->demand.fixed_resistance_N))
        warn_of_rolling(&def->demand, diag);
}
