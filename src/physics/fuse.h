/* Fuses and breakers: time-current curve, damage accumulated. Source and validity: fuse.c. */
#ifndef PR_PHYSICS_FUSE_H
#define PR_PHYSICS_FUSE_H

#include "base/status.h"
#include "base/table.h"

/* Forms of fuse with a curve of their own; fuse.c has the numbers and where they come from. */
typedef enum pr_fuse_family {
    PR_FUSE_BOLT_DOWN,   /* two studs, 60..600 A */
    PR_FUSE_STRIP,       /* small bolt-down strip, 30..200 A */
    PR_FUSE_LARGE_BLADE, /* large blade and plug-in cartridge, slow, 20..80 A */
    PR_FUSE_BLADE,       /* plug-in blade, 1..40 A */
    PR_FUSE_BREAKER,     /* thermal breaker */
    PR_FUSE_FAMILY_COUNT
} pr_fuse_family;

typedef struct pr_fuse_def {
    int cookie;
    double rating_A; /* 0.5..1000; required */
    int n_points;    /* multiples of the rating and seconds to open (>= 2) */
    double point_ratio[12], point_s[12];
    double cooling_s; /* damage fades with this time constant below rating */
} pr_fuse_def;

typedef struct pr_fuse {
    pr_fuse_def def;
    pr_table ln_s; /* ln seconds against ln ratio */
} pr_fuse;

typedef struct pr_fuse_state {
    double damage_frac; /* opens at 1 */
} pr_fuse_state;

pr_fuse_def pr_fuse_def_default(void); /* a typical bolt-down (MEGA class form) curve, (m) */
pr_fuse_def pr_fuse_def_family(pr_fuse_family family); /* rating still to be given */
pr_status pr_fuse_derive(const pr_fuse_def *def, pr_fuse *fuse);
double pr_fuse_time_s(const pr_fuse *fuse, double i_A); /* +inf: holds for ever */
void pr_fuse_rates(const pr_fuse *fuse, const pr_fuse_state *state, double i_A,
                   pr_fuse_state *rates);

#endif
