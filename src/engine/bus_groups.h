/* The groups of a box, inline: the network asks for them at every iteration. Private to bus*.c. */
#ifndef PR_ENGINE_BUS_GROUPS_H
#define PR_ENGINE_BUS_GROUPS_H

#include "engine/bus.h"

#include <math.h>

/* Value and slope of a polynomial at d from its middle. */
static inline double pr_bus_polynomial(const double c[PR_POWER_ORDER + 1], double d, double *slope)
{
    double value = c[PR_POWER_ORDER], rise = 0.0;
    for (int k = PR_POWER_ORDER - 1; k >= 0; k--) {
        rise = rise * d + value;
        value = value * d + c[k];
    }
    *slope = rise;
    return value;
}

/* Out of reach of the polynomial. */
double pr_bus_far_groups_A(const pr_bus *bus, const pr_bus_box *box, double box_V, double *slope_S);

/* See pr_bus_groups_A. */
static inline double pr_bus_box_groups_A(const pr_bus *bus, const pr_bus_box *box, double box_V,
                                         double *slope_S)
{
    const double d = box_V - box->middle_V;
    if (fabs(d) < box->reach_V)
        return pr_bus_polynomial(box->sum, d, slope_S);
    return pr_bus_far_groups_A(bus, box, box_V, slope_S);
}

#endif
