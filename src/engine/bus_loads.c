/* What the loads of a fuse box draw: one by one where a load has a wire of its own or an inrush,
 * else as groups of one exponent each, whose sum is a polynomial around the present voltage. */
#include "base/number.h"
#include "engine/bus_groups.h"

#include <math.h>

enum { SINGLE_MAX = 60 };
/* Terminal voltage of a load behind its own wire; what remains is squared once more. */
static const double SINGLE_DONE_V = 1e-6;

/* Cell of the power table that holds a voltage within it, and the distance from its middle. */
static inline int cell_at(double v_V, double *d)
{
    const double x = (v_V - PR_POWER_LOW_V) * (1.0 / PR_POWER_CELL_V);
    const int cell = (int)x;
    *d = v_V - (PR_POWER_LOW_V + PR_POWER_CELL_V * (cell + 0.5));
    return cell;
}

/* scale V^a from the power table; V must lie in the table. */
static inline double tabulated_A(const pr_bus *bus, int power, double scale, double v_V,
                                 double *slope_S)
{
    double d, slope;
    const int cell = cell_at(v_V, &d);
    const double value = pr_bus_polynomial(bus->system->powers.coefficient[power][cell], d, &slope);
    *slope_S = scale * slope;
    return scale * value;
}

static inline bool in_table(double v_V)
{
    return v_V >= PR_POWER_LOW_V && v_V < PR_POWER_LOW_V + PR_POWER_CELL_V * PR_POWER_CELLS;
}

static inline bool is_tabulated(int power, double v_V, double floor_V)
{
    return power >= 0 && v_V >= floor_V && in_table(v_V);
}

/* Current of a single at its own terminals. */
static double terminal_A(const pr_bus *bus, const pr_bus_laws *laws, int k, double v_V,
                         double *slope_S)
{
    const pr_bus_load *b = &bus->load[k];
    if (is_tabulated(b->power, v_V, b->floor_V))
        return tabulated_A(bus, b->power, b->scale * laws->load_inrush[k], v_V, slope_S);
    return pr_load_current_A(b->load, v_V, laws->tau_s - b->since_s, slope_S);
}

double pr_bus_single_A(const pr_bus *bus, const pr_bus_laws *laws, int k, double box_V,
                       double *slope_S)
{
    const double ohm = laws->load_ohm[k];
    double slope, i_A = terminal_A(bus, laws, k, box_V, &slope);
    if (!(ohm > 0.0) || !(box_V > 0.0)) {
        *slope_S = slope;
        return i_A;
    }
    /* v + r f(v) = V, rising in v (system.c refuses wires for which it is not): Newton's method
     * from the tangent at V, inside a bracket; f is nearly straight over the drop, so two steps do
     */
    double low_V = 0.0, high_V = box_V, v_V = box_V - ohm * i_A / (1.0 + ohm * slope);
    for (int n = 0; n < SINGLE_MAX; n++) {
        if (!(v_V > low_V && v_V < high_V))
            v_V = 0.5 * (low_V + high_V);
        i_A = terminal_A(bus, laws, k, v_V, &slope);
        const double defect = v_V + ohm * i_A - box_V;
        *(defect > 0.0 ? &high_V : &low_V) = v_V;
        const double step_V = defect / (1.0 + ohm * slope);
        if (!(fabs(step_V) > SINGLE_DONE_V)) {
            i_A -= slope * step_V;
            break;
        }
        v_V -= step_V;
    }
    *slope_S = slope / (1.0 + ohm * slope);
    return i_A;
}

double pr_bus_grouped_A(const pr_bus *bus, int k, double box_V)
{
    const pr_bus_load *b = &bus->load[k];
    double slope_S;
    return is_tabulated(b->power, box_V, b->floor_V)
               ? tabulated_A(bus, b->power, b->scale, box_V, &slope_S)
               : pr_load_current_A(b->load, box_V, PR_INF, NULL);
}

/* A group below its floor or outside of the table: load by load. */
static double summed_A(const pr_bus *bus, const pr_bus_group *group, double box_V, double *slope_S)
{
    double sum_A = 0.0, sum_S = 0.0;
    for (int k = group->first; k < group->end; k++) {
        double slope;
        if (bus->load[k].load->def.exponent != group->exponent)
            continue;
        sum_A += pr_load_current_A(bus->load[k].load, box_V, PR_INF, &slope);
        sum_S += slope;
    }
    *slope_S = sum_S;
    return sum_A;
}

static inline double group_A(const pr_bus *bus, const pr_bus_group *group, double box_V,
                             double *slope_S)
{
    return is_tabulated(group->power, box_V, group->floor_V)
               ? tabulated_A(bus, group->power, group->scale, box_V, slope_S)
               : summed_A(bus, group, box_V, slope_S);
}

/* The table has the polynomial of V^a about the middle m of a cell; about V its coefficients are
 * those times (V/m)^a (m/V)^k. */
void pr_bus_sum_groups(const pr_bus *bus, pr_bus_box *box, double box_V)
{
    const double reach_V = PR_BOX_REACH * box_V;
    box->middle_V = box->reach_V = 0.0;
    if (!in_table(box_V))
        return;
    double d, slope, sum[PR_POWER_ORDER + 1] = {0.0};
    const int cell = cell_at(box_V, &d);
    for (int g = box->first_group; g < box->end_group; g++) {
        const pr_bus_group *group = &bus->group[g];
        if (group->power < 0 || box_V < group->floor_V + reach_V)
            return;
        const double *c = bus->system->powers.coefficient[group->power][cell];
        const double scale = group->scale * pr_bus_polynomial(c, d, &slope) / c[0];
        for (int k = 0; k <= PR_POWER_ORDER; k++)
            sum[k] += scale * c[k];
    }
    double share = 1.0; /* (m/V)^k */
    for (int k = 0; k <= PR_POWER_ORDER; k++) {
        box->sum[k] = sum[k] * share;
        share *= (box_V - d) / box_V;
    }
    box->middle_V = box_V;
    box->reach_V = reach_V;
}

void pr_bus_centre_groups(const pr_bus *bus, pr_bus_box *box, double box_V)
{
    if (!(fabs(box_V - box->middle_V) <= 0.6 * box->reach_V))
        pr_bus_sum_groups(bus, box, box_V);
}

double pr_bus_far_groups_A(const pr_bus *bus, const pr_bus_box *box, double box_V, double *slope_S)
{
    double sum_A = 0.0, sum_S = 0.0;
    for (int g = box->first_group; g < box->end_group; g++) {
        double slope;
        sum_A += group_A(bus, &bus->group[g], box_V, &slope);
        sum_S += slope;
    }
    *slope_S = sum_S;
    return sum_A;
}

double pr_bus_groups_A(const pr_bus *bus, const pr_bus_box *box, double box_V, double *slope_S)
{
    return pr_bus_box_groups_A(bus, box, box_V, slope_S);
}
