/* Rigging and drum.
 *
 * Drum, constant torque:
 *     D_n = D + d + 2 d k (n - 1)      pitch diameter of layer n; D drum, d rope
 *     F_n = F_1 D_1 / D_n              pull at the rope;  speed the other way round
 *     L_n = sum of w pi D_i, i = 1..n  rope on the drum when layer n is full; w wraps per layer
 *     k = sqrt(3)/2 = 0.866 when each wrap lies in the groove between two below, 1 when on top of
 * one
 *
 * Tackle with p parts of line, s = p - 1 + c sheaves (c: blocks that only turn the line), legs
 * spread by theta (two parts or more): Army (FM 9-43-2, FM 20-22): TR = 0.10 s LR,  T = (LR + TR) /
 * (p cos(theta/2)) by sheave efficiency e:     T = LR / (e^c (1 + e + ... + e^(p-1)) cos(theta/2))
 * LR load resistance, TR tackle resistance, T force in the winch line (fall line). The second is
 * the usual lead-line formula of wire rope handbooks. block or anchor between two legs at theta: 2
 * T cos(theta/2) anchor of p parts: p T cos(theta/2)   (friction neglected: on the safe side) rope
 * wound per metre of travel: p cos(theta/2)
 *
 * Validity: rope wound evenly and under load; a rope that was wound loose or piled on one side
 * reaches the next layer earlier. Angles are those of the moment; they open as the load nears. */
#include "physics/rigging.h"

#include "base/number.h"

#include <math.h>

enum { PARTS_MAX = 4, LAYERS_MAX = 12 };
static const double PI = 3.14159265358979323846;

pr_drum_def pr_drum_def_default(void)
{
    return (pr_drum_def){
        .cookie = PR_DEF_COOKIE,
        .drum_m = PR_NAN,
        .rope_m = PR_NAN,
        .width_m = PR_NAN,
        .wraps_per_layer = PR_NAN,
        .rope_length_m = PR_NAN,
        .nesting = 1.0,
        .reserve_wraps = 5.0,
        .rope_rating_N = PR_NAN,
    };
}

static int in_range(double x, double least, double most)
{
    return x >= least && x <= most;
}

static int drum_def_is_sound(const pr_drum_def *def)
{
    const int wraps_given = !isnan(def->wraps_per_layer);
    return in_range(def->drum_m, 0.01, 2.0) && in_range(def->rope_m, 0.001, 0.1) &&
           def->rope_m < def->drum_m && in_range(def->rope_length_m, 0.5, 1000.0) &&
           (wraps_given ? in_range(def->wraps_per_layer, 1.0, 200.0)
                        : in_range(def->width_m, def->rope_m, 5.0)) &&
           in_range(def->nesting, 0.5, 1.2) && in_range(def->reserve_wraps, 0.0, 50.0) &&
           !(def->rope_rating_N <= 0.0);
}

pr_status pr_drum_derive(const pr_drum_def *def, pr_drum *drum)
{
    if (def->cookie != PR_DEF_COOKIE)
        return PR_ERR_INTERNAL;
    if (!drum_def_is_sound(def))
        return PR_ERR_RANGE;
    *drum = (pr_drum){.def = *def};
    drum->wraps_per_layer =
        isnan(def->wraps_per_layer) ? floor(def->width_m / def->rope_m) : def->wraps_per_layer;
    double on_drum_m = 0.0;
    for (int n = 0; n < LAYERS_MAX && on_drum_m < def->rope_length_m; n++) {
        drum->layer_diameter_m[n] =
            def->drum_m + def->rope_m + 2.0 * def->rope_m * def->nesting * n;
        on_drum_m += drum->wraps_per_layer * PI * drum->layer_diameter_m[n];
        drum->layer_end_m[n] = on_drum_m;
        drum->layers = n + 1;
    }
    if (on_drum_m < def->rope_length_m) /* more rope than the drum takes */
        return PR_ERR_NO_SOLUTION;
    drum->usable_rope_m = def->rope_length_m - def->reserve_wraps * PI * drum->layer_diameter_m[0];
    return drum->usable_rope_m > 0.0 ? PR_OK : PR_ERR_RANGE;
}

int pr_drum_layer(const pr_drum *drum, double rope_out_m)
{
    const double on_drum_m = drum->def.rope_length_m - rope_out_m;
    int n = 1;
    while (n < drum->layers && on_drum_m >= drum->layer_end_m[n - 1])
        n++;
    return n;
}

double pr_drum_ratio(const pr_drum *drum, int layer)
{
    if (layer < 1 || layer > drum->layers)
        return PR_NAN;
    return drum->layer_diameter_m[layer - 1] / drum->layer_diameter_m[0];
}

double pr_drum_layer_end_rope_out_m(const pr_drum *drum, int layer)
{
    if (layer < 1 || layer > drum->layers)
        return PR_NAN;
    if (layer == drum->layers)
        return 0.0;
    return drum->def.rope_length_m - drum->layer_end_m[layer - 1];
}

pr_rig_def pr_rig_def_default(void)
{
    return (pr_rig_def){
        .cookie = PR_DEF_COOKIE,
        .parts = 1,
        .friction_per_sheave_frac = 0.10,
        .sheave_efficiency = 0.90,
        .anchor_rating_N = PR_NAN,
        .block_rating_N = PR_NAN,
    };
}

pr_status pr_rig_check(const pr_rig_def *rig)
{
    if (rig->cookie != PR_DEF_COOKIE)
        return PR_ERR_INTERNAL;
    const int sound =
        rig->parts >= 1 && rig->parts <= PARTS_MAX && rig->change_direction_blocks >= 0 &&
        rig->change_direction_blocks <= 4 && in_range(rig->friction_per_sheave_frac, 0.0, 0.5) &&
        in_range(rig->sheave_efficiency, 0.5, 1.0) && in_range(rig->leg_angle_deg, 0.0, 170.0) &&
        !(rig->anchor_rating_N <= 0.0) && !(rig->block_rating_N <= 0.0);
    return sound ? PR_OK : PR_ERR_RANGE;
}

int pr_rig_sheaves(const pr_rig_def *rig)
{
    return rig->parts - 1 + rig->change_direction_blocks;
}

/* cos(theta/2) of the legs; a single line has no legs */
static double leg_cosine(const pr_rig_def *rig)
{
    return rig->parts < 2 ? 1.0 : cos(0.5 * rig->leg_angle_deg * PI / 180.0);
}

/* Load resistance that one newton in the winch line overcomes, by sheave efficiency. */
static double efficient_advantage(const pr_rig_def *rig)
{
    double tension = 1.0, sum = 0.0;
    for (int i = 0; i < rig->change_direction_blocks; i++)
        tension *= rig->sheave_efficiency;
    for (int i = 0; i < rig->parts; i++) {
        sum += tension;
        tension *= rig->sheave_efficiency;
    }
    return sum;
}

double pr_rig_fall_line_N(const pr_rig_def *rig, double resistance_N)
{
    const double advantage =
        rig->friction_per_sheave_frac > 0.0
            ? rig->parts / (1.0 + rig->friction_per_sheave_frac * pr_rig_sheaves(rig))
            : efficient_advantage(rig);
    return resistance_N / (advantage * leg_cosine(rig));
}

double pr_rig_tackle_resistance_N(const pr_rig_def *rig, double resistance_N)
{
    /* what all parts would lift without friction, less the load */
    return pr_rig_fall_line_N(rig, resistance_N) * rig->parts * leg_cosine(rig) - resistance_N;
}

int pr_rig_parts_needed(const pr_rig_def *rig, double resistance_N, double capacity_N)
{
    pr_rig_def trial = *rig;
    for (trial.parts = 1; trial.parts <= PARTS_MAX; trial.parts++)
        if (pr_rig_fall_line_N(&trial, resistance_N) < capacity_N)
            return trial.parts;
    return 0;
}

double pr_rig_block_load_N(double line_N, double angle_deg)
{
    return 2.0 * line_N * cos(0.5 * angle_deg * PI / 180.0);
}

double pr_rig_anchor_load_N(const pr_rig_def *rig, double fall_line_N)
{
    return rig->parts * fall_line_N * leg_cosine(rig);
}

double pr_rig_rope_per_travel(const pr_rig_def *rig)
{
    return rig->parts * leg_cosine(rig);
}
