/* Pull demand: what it takes to move the vehicle: slope, ground, mire, damage. Sources: demand.c.
 */
#ifndef PR_PHYSICS_DEMAND_H
#define PR_PHYSICS_DEMAND_H

#include "base/status.h"

enum { PR_DEMAND_SEGMENTS_MAX = 16, PR_DEMAND_PROFILE_MAX = 4096 };
typedef enum pr_mire { PR_MIRE_NONE, PR_MIRE_WHEEL, PR_MIRE_HUB, PR_MIRE_BODY } pr_mire;
typedef enum pr_mire_method { PR_MIRE_CIVIL, PR_MIRE_ARMY } pr_mire_method; /* 0.75/1/1.33; 1/2/3 */
typedef enum pr_case { PR_CASE_LOW, PR_CASE_LIKELY, PR_CASE_HIGH, PR_CASE_COUNT } pr_case;

/* The way out, in order; the demand may change along it (break-out, then easier). */
typedef struct pr_demand_segment {
    double length_m;
    double slope_rad;
    double surface_frac[PR_CASE_COUNT]; /* rolling resistance / weight: low, likely, high */
    pr_mire mire;                       /* replaces the surface fraction */
} pr_demand_segment;

typedef struct pr_demand_def {
    int cookie;
    double weight_N; /* with cargo */
    int n_segments;
    pr_demand_segment segments[PR_DEMAND_SEGMENTS_MAX];
    pr_mire_method mire_method;
    double damage_frac;        /* e.g. 0.67 W for locked wheels */
    double margin_frac;        /* 0.20 */
    double fixed_resistance_N; /* given directly instead of all the above; NaN = computed */
} pr_demand_def;

pr_demand_def pr_demand_def_default(void);
pr_status pr_demand_check(const pr_demand_def *demand);
/* Mire factor low / likely / high for a depth and method. */
double pr_demand_mire_factor(pr_mire mire, pr_mire_method method, pr_case which);
/* Load resistance at distance x_m along the way, margin included, N. */
double pr_demand_resistance_N(const pr_demand_def *demand, double x_m, pr_case which);
double pr_demand_distance_m(const pr_demand_def *demand);
/* End of the segment that contains x_m (for events). */
double pr_demand_segment_end_m(const pr_demand_def *demand, double x_m);

#endif
