/* Fuses and breakers: time-current curve, damage accumulated. Source and validity: fuse.c. */
#ifndef PR_PHYSICS_FUSE_H
#define PR_PHYSICS_FUSE_H

#include "base/status.h"
#include "base/table.h"

typedef struct pr_fuse_def {
    int cookie;
    double rating_A;               /* 1..600 */
    int n_points;                  /* multiples of the rating and seconds to open (>= 2) */
    double point_ratio[12], point_s[12];
    double cooling_s;              /* damage fades with this time constant below rating */
} pr_fuse_def;

typedef struct pr_fuse {
    pr_fuse_def def;
    pr_table ln_s; /* ln seconds against ln ratio */
} pr_fuse;

typedef struct pr_fuse_state {
    double damage_frac; /* opens at 1 */
} pr_fuse_state;

pr_fuse_def pr_fuse_def_default(void); /* a typical bolt-down (MEGA class form) curve, (m) */
pr_status pr_fuse_derive(const pr_fuse_def *def, pr_fuse *fuse);
double pr_fuse_time_s(const pr_fuse *fuse, double i_A); /* +inf: holds for ever */
void pr_fuse_rates(const pr_fuse *fuse, const pr_fuse_state *state, double i_A,
                   pr_fuse_state *rates);

#endif
