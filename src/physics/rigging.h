/* Rigging and drum: sheaves, parts of line, legs, layers, rope left. Sources: rigging.c. */
#ifndef PR_PHYSICS_RIGGING_H
#define PR_PHYSICS_RIGGING_H

#include "base/status.h"

typedef struct pr_drum_def {
    int cookie;
    double drum_m, rope_m;  /* drum diameter, rope diameter */
    double width_m;         /* between flanges; or wraps per layer */
    double wraps_per_layer; /* NaN: from width */
    double rope_length_m;
    double nesting;       /* k: 1 wrap on wrap (default), 0.866 in the grooves */
    double reserve_wraps; /* left on the drum, default 5 */
    double rope_rating_N; /* minimum breaking force of the rope; NaN unknown */
} pr_drum_def;

typedef struct pr_drum {
    pr_drum_def def;
    double wraps_per_layer;
    int layers;                  /* when all rope is on the drum */
    double layer_end_m[12];      /* rope on drum when layer n is full */
    double layer_diameter_m[12]; /* pitch diameter D_n */
    double usable_rope_m;        /* rope less reserve wraps */
} pr_drum;

pr_drum_def pr_drum_def_default(void);
pr_status pr_drum_derive(const pr_drum_def *def, pr_drum *drum);
/* Layer (1 = first) being wound when rope_out_m is off the drum. */
int pr_drum_layer(const pr_drum *drum, double rope_out_m);
/* D_n / D_1 >= 1: pull at the rope = first-layer pull / ratio, speed = first-layer speed x ratio.
 */
double pr_drum_ratio(const pr_drum *drum, int layer);
/* Rope out at which winding in leaves this layer for the next one (smaller rope_out); 0 when last.
 */
double pr_drum_layer_end_rope_out_m(const pr_drum *drum, int layer);

/* Rigging. parts = lines that pull on the load (1 = single line). Army method (FM 9-43-2): tackle
 * resistance 10 % of the load resistance per sheave. */
typedef struct pr_rig_def {
    int cookie;
    int parts;                       /* 1..4 */
    int change_direction_blocks;     /* blocks that only turn the line */
    double friction_per_sheave_frac; /* 0.10 of load resistance (Army); 0 uses efficiency instead */
    double sheave_efficiency;        /* tension kept over a sheave when the above is 0; 0.90 */
    double leg_angle_deg;            /* between the legs of a two-part line, 0 = parallel */
    double anchor_rating_N, block_rating_N; /* NaN unknown */
} pr_rig_def;

pr_rig_def pr_rig_def_default(void);
pr_status pr_rig_check(const pr_rig_def *rig);
/* Force the winch line must pull for a load resistance, N (fall line). */
double pr_rig_fall_line_N(const pr_rig_def *rig, double resistance_N);
double pr_rig_tackle_resistance_N(const pr_rig_def *rig, double resistance_N);
int pr_rig_sheaves(const pr_rig_def *rig);
/* Smallest parts of line (1..4) whose fall line stays below capacity_N; 0 when none. */
int pr_rig_parts_needed(const pr_rig_def *rig, double resistance_N, double capacity_N);
/* 2 T cos(theta/2): force on a block or anchor whose two legs make angle theta. */
double pr_rig_block_load_N(double line_N, double angle_deg);
double pr_rig_anchor_load_N(const pr_rig_def *rig, double fall_line_N);
/* Rope wound per metre of vehicle travel. */
double pr_rig_rope_per_travel(const pr_rig_def *rig);

#endif
