/* Extremes of several phases as one; see sim.h. */
#include "engine/sim.h"

#include "base/number.h"

#include <math.h>

pr_extremes pr_extremes_none(void)
{
    return (pr_extremes){.least_soc_frac = PR_INF,
                         .least_box_V = PR_INF,
                         .least_post_V = PR_INF,
                         .most_armature_degC = -PR_INF,
                         .most_wire_degC = -PR_INF,
                         .least_restart_V = PR_NAN,
                         .most_winch_A = 0.0,
                         .most_link_A = 0.0,
                         .most_anchor_N = 0.0,
                         .most_wire_run = -1,
                         .most_wire_ratio = -PR_INF};
}

void pr_extremes_merge(pr_extremes *all, const pr_extremes *one)
{
    all->least_soc_frac = fmin(all->least_soc_frac, one->least_soc_frac);
    all->least_box_V = fmin(all->least_box_V, one->least_box_V);
    all->least_post_V = fmin(all->least_post_V, one->least_post_V);
    all->most_armature_degC = fmax(all->most_armature_degC, one->most_armature_degC);
    all->most_wire_degC = fmax(all->most_wire_degC, one->most_wire_degC);
    all->least_restart_V = fmin(all->least_restart_V, one->least_restart_V); /* NaN gives way */
    all->most_winch_A = fmax(all->most_winch_A, one->most_winch_A);
    all->most_link_A = fmax(all->most_link_A, one->most_link_A);
    all->most_anchor_N = fmax(all->most_anchor_N, one->most_anchor_N);
    if (one->most_wire_run >= 0 && !(one->most_wire_ratio <= all->most_wire_ratio)) {
        all->most_wire_ratio = one->most_wire_ratio;
        all->most_wire_run = one->most_wire_run;
    }
}
