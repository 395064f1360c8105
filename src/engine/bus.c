/* The network: Newton's method on posts and leaves at once.
 *
 * At the present voltages each law is replaced by its tangent. A leaf x with current i, slope g and
 * defect e = V - v - r i moves by dv = (dV + e)/(1 + r g) when its post moves by dV, so it loads
 * the post with i + g dv: leaves are eliminated in closed form, whatever r (zero included). Two
 * posts that the link couples leave a 2x2 system. Slopes of batteries, lamps, heaters and the
 * regulator all have one sign, which makes the residual of a post rise with its voltage;
 * constant-power loads and chargers fall, but far less steeply than a battery rises.
 *
 * The currents that are handed out are those of the last tangents, so Kirchhoff's law holds to
 * rounding and Ohm's law too; the components' laws are missed by the square of the last step, which
 * is below accuracy_V (at most 1 mV, some 1e-5 A). A step longer than 2 V is cut. If the iteration
 * does not settle, pr_bus_bracket takes over. */
#include "engine/bus.h"
#include "base/number.h"

#include <math.h>

enum { NEWTON_MAX = 25, SINGLE_MAX = 60 };
/* Terminal voltage of a load behind its own wire; what remains is squared once more. */
static const double SINGLE_DONE_V = 1e-6;
/* Kirchhoff's law must hold to this where bracketing found the voltages. */
static const double RESIDUAL_MAX_A = 1e-6;
static const double STEP_MAX_V = 2.0, LEAST_DONE_V = 1e-7, MOST_DONE_V = 1e-3;
/* A starter does not turn below this (m). */
static const double CRANK_LEAST_V = 5.0;
static const double OVERSHOOT_V = 0.5,
                    WIDE_SENSE_V = -1e9; /* sensed so low that the regulator asks for everything */

/* Tangent of a leaf; dv = (gain dV + e) per. */
typedef struct leaf {
    double i_A, slope_S, ohm, e_V, gain, per;
} leaf;

typedef struct tangents {
    double battery_A[PR_POSTS], battery_S[PR_POSTS], gas_A[PR_POSTS], gas_S[PR_POSTS];
    double crank_A[PR_POSTS], crank_S[PR_POSTS];
    leaf box[PR_POSTS], winch, alternator;
    double single_A[PR_LOADS_MAX], single_S[PR_LOADS_MAX];
    double alternator_sense_S;
    bool limited;
    double link_out_A, link_in_A, link[4];
    double residual_A[PR_POSTS], slope_S[PR_POSTS];
} tangents;

/* Value and slope of a polynomial of the power table at d from the middle of its cell. */
static inline double polynomial(const double c[PR_POWER_ORDER + 1], double d, double *slope)
{
    *slope = c[1] + d * (2.0 * c[2] + d * (3.0 * c[3] + d * (4.0 * c[4] + d * 5.0 * c[5])));
    return c[0] + d * (c[1] + d * (c[2] + d * (c[3] + d * (c[4] + d * c[5]))));
}

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
    const double value = polynomial(bus->system->powers.coefficient[power][cell], d, &slope);
    *slope_S = scale * slope;
    return scale * value;
}

static inline bool is_tabulated(int power, double v_V, double floor_V)
{
    return power >= 0 && v_V >= floor_V && v_V >= PR_POWER_LOW_V &&
           v_V < PR_POWER_LOW_V + PR_POWER_CELL_V * PR_POWER_CELLS;
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

double pr_bus_group_A(const pr_bus *bus, const pr_bus_group *group, double box_V, double *slope_S)
{
    if (is_tabulated(group->power, box_V, group->floor_V))
        return tabulated_A(bus, group->power, group->scale, box_V, slope_S);
    double sum_A = 0.0, sum_S = 0.0;
    for (int k = group->first; k < group->end; k++) {
        double slope;
        sum_A += pr_load_current_A(bus->load[k].load, box_V, PR_INF, &slope);
        sum_S += slope;
    }
    *slope_S = sum_S;
    return sum_A;
}

void pr_bus_sum_groups(pr_bus *bus, pr_bus_box *box, double box_V)
{
    double d;
    const int first = cell_at(box_V, &d) - PR_BOX_CELLS / 2;
    box->first_cell = -1;
    if (!(box_V > PR_POWER_LOW_V) || first < 0 || first + PR_BOX_CELLS > PR_POWER_CELLS)
        return;
    for (int g = box->first_group; g < box->end_group; g++)
        if (bus->group[g].power < 0 ||
            PR_POWER_LOW_V + PR_POWER_CELL_V * first < bus->group[g].floor_V)
            return;
    box->first_cell = first;
    for (int cell = 0; cell < PR_BOX_CELLS; cell++) {
        double sum[PR_POWER_ORDER + 1] = {0.0};
        for (int g = box->first_group; g < box->end_group; g++) {
            const double *c = bus->system->powers.coefficient[bus->group[g].power][first + cell];
            for (int k = 0; k <= PR_POWER_ORDER; k++)
                sum[k] += bus->group[g].scale * c[k];
        }
        for (int k = 0; k <= PR_POWER_ORDER; k++)
            box->sum[cell][k] = sum[k];
    }
}

void pr_bus_centre_groups(pr_bus *bus, pr_bus_box *box, double box_V)
{
    double d;
    if (box->first_cell < 0 || cell_at(box_V, &d) != box->first_cell + PR_BOX_CELLS / 2)
        pr_bus_sum_groups(bus, box, box_V);
}

double pr_bus_groups_A(const pr_bus *bus, const pr_bus_box *box, double box_V, double *slope_S)
{
    if (box->first_cell >= 0 && box_V >= PR_POWER_LOW_V) {
        double d;
        const int cell = cell_at(box_V, &d) - box->first_cell;
        if (cell >= 0 && cell < PR_BOX_CELLS)
            return polynomial(box->sum[cell], d, slope_S);
    }
    double sum_A = 0.0, sum_S = 0.0;
    for (int g = box->first_group; g < box->end_group; g++) {
        double slope;
        sum_A += pr_bus_group_A(bus, &bus->group[g], box_V, &slope);
        sum_S += slope;
    }
    *slope_S = sum_S;
    return sum_A;
}

double pr_bus_winch_A(const pr_bus_laws *laws, double v_V, double *slope_S)
{
    const bool stalled = v_V <= laws->winch_A * laws->winch_stall_ohm;
    *slope_S = stalled ? 1.0 / laws->winch_stall_ohm : 0.0;
    return stalled ? v_V / laws->winch_stall_ohm : laws->winch_A;
}

double pr_bus_crank_A(const pr_bus *bus, int post, double v_V, double *slope_S)
{
    const bool turns = v_V >= CRANK_LEAST_V;
    *slope_S = turns ? 0.0 : bus->crank_A[post] / CRANK_LEAST_V;
    return turns ? bus->crank_A[post] : *slope_S * v_V;
}

double pr_bus_alternator_A(const pr_bus *bus, const pr_bus_laws *laws, double v_V, double sense_V,
                           double *slope_S, double *sense_slope_S, bool *limited)
{
    const pr_alternator_branch *b = &laws->alternator;
    *limited = bus->field == PR_FIELD_FULL;
    *slope_S = *sense_slope_S = 0.0;
    if (!b->running || bus->field == PR_FIELD_BLOCKED)
        return 0.0;
    if (bus->field == PR_FIELD_REGULATED) {
        *sense_slope_S = -1.0 / b->droop_ohm;
        return (b->set_V - sense_V) / b->droop_ohm;
    }
    const double sense = bus->field == PR_FIELD_FULL ? WIDE_SENSE_V : sense_V;
    const double i_A = pr_alternator_branch_current_A(&bus->system->alternator, b, v_V, sense,
                                                      slope_S, sense_slope_S, limited);
    if (bus->field != PR_FIELD_FULL)
        return i_A;
    /* a step may look beyond the moment when the regulator takes over; if nothing else takes the
     * current there, it does so half a volt late rather than never */
    const double most_A = fmax((b->set_V + OVERSHOOT_V - sense_V) / b->droop_ohm, 0.0);
    *sense_slope_S = 0.0;
    if (!(i_A > most_A))
        return i_A;
    *slope_S = 0.0;
    *sense_slope_S = most_A > 0.0 ? -1.0 / b->droop_ohm : 0.0;
    return most_A;
}

bool pr_bus_leaks(const pr_bus *bus, const pr_bus_laws *laws, int post)
{
    const pr_battery_branch *battery = &laws->battery[post];
    const bool full = battery->accept_A <= 0.0 && battery->gas_A <= 0.0; /* only lithium */
    return bus->battery_open[post] || battery->no_charge || full;
}

bool pr_bus_link_joins(const pr_bus *bus)
{
    const pr_link_kind kind = bus->system->def.link.kind;
    if (bus->n_posts < 2 || bus->link_open || kind == PR_LINK_NONE)
        return false;
    return kind == PR_LINK_DIODE || bus->link_closed;
}

static bool has_source(const pr_bus *bus, const pr_bus_laws *laws, int post)
{
    return !bus->battery_open[post] || (bus->alternator_on && laws->alternator.running &&
                                        (int)bus->system->def.alternator_post == post);
}

bool pr_bus_is_live(const pr_bus *bus, const pr_bus_laws *laws, int post)
{
    if (post >= bus->n_posts)
        return false;
    return has_source(bus, laws, post) ||
           (pr_bus_link_joins(bus) && has_source(bus, laws, 1 - post));
}

static inline leaf make_leaf(double post_V, double v_V, double ohm, double i_A, double slope_S)
{
    const double per = 1.0 / (1.0 + ohm * slope_S);
    return (leaf){i_A, slope_S, ohm, post_V - v_V - ohm * i_A, 1.0, per};
}

static void tangent_box(const pr_bus *bus, const pr_bus_laws *laws, int post, const double v_V[],
                        tangents *t)
{
    const pr_bus_box *box = &bus->box[post];
    const double ohm = laws->box_ohm[post];
    const double box_V = ohm > 0.0 ? v_V[PR_NODE_BOX + post] : v_V[post];
    double slope_S, slope, i_A = pr_bus_groups_A(bus, box, box_V, &slope_S);
    for (int k = box->first; k < box->first_grouped; k++) {
        i_A += t->single_A[k] = pr_bus_single_A(bus, laws, k, box_V, &slope);
        slope_S += t->single_S[k] = slope;
    }
    t->box[post] = make_leaf(v_V[post], box_V, ohm, i_A, slope_S);
}

static void tangent_winch(const pr_bus *bus, const pr_bus_laws *laws, const double v_V[],
                          tangents *t)
{
    const double ohm = laws->winch_ohm, post_V = v_V[bus->system->def.winch_post];
    const double motor_V = ohm > 0.0 ? v_V[PR_NODE_WINCH] : post_V;
    double slope_S;
    const double i_A = pr_bus_winch_A(laws, motor_V, &slope_S);
    t->winch = make_leaf(post_V, motor_V, ohm, i_A, slope_S);
}

/* As a leaf with its current the other way round; remote sensing adds the post's own voltage. */
static void tangent_alternator(const pr_bus *bus, const pr_bus_laws *laws, const double v_V[],
                               tangents *t)
{
    const double ohm = laws->alternator_ohm, post_V = v_V[bus->system->def.alternator_post];
    const double own_V = ohm > 0.0 ? v_V[PR_NODE_ALTERNATOR] : post_V;
    const bool remote = bus->system->def.alternator.sensing == PR_SENSE_BATTERY;
    double slope_S, sense_S;
    const double i_A = pr_bus_alternator_A(bus, laws, own_V, remote ? post_V : own_V, &slope_S,
                                           &sense_S, &t->limited);
    if (!remote) {
        slope_S += sense_S;
        sense_S = 0.0;
    }
    t->alternator_sense_S = sense_S;
    t->alternator = (leaf){i_A,
                           slope_S,
                           ohm,
                           post_V + ohm * i_A - own_V,
                           1.0 + ohm * sense_S,
                           1.0 / (1.0 - ohm * slope_S)};
}

static inline void load_post(tangents *t, int post, const leaf *x)
{
    t->residual_A[post] += x->i_A + x->slope_S * x->per * x->e_V;
    t->slope_S[post] += x->slope_S * x->per * x->gain;
}

static void take_tangents(const pr_bus *bus, const pr_bus_laws *laws, const double v_V[],
                          const bool live[], tangents *t)
{
    for (int p = 0; p < bus->n_posts; p++) {
        if (!live[p])
            continue;
        t->battery_A[p] = pr_battery_branch_parts_A(&laws->battery[p], v_V[p], &t->battery_S[p],
                                                    &t->gas_A[p], &t->gas_S[p]);
        t->crank_A[p] = pr_bus_crank_A(bus, p, v_V[p], &t->crank_S[p]);
        t->residual_A[p] = t->battery_A[p] + t->crank_A[p];
        t->slope_S[p] = t->battery_S[p] + t->crank_S[p];
        if (pr_bus_leaks(bus, laws, p)) {
            t->residual_A[p] += PR_BUS_LEAK_S * v_V[p];
            t->slope_S[p] += PR_BUS_LEAK_S;
        }
        tangent_box(bus, laws, p, v_V, t);
        load_post(t, p, &t->box[p]);
    }
    const pr_system_def *def = &bus->system->def;
    if (bus->winch_on && live[def->winch_post]) {
        tangent_winch(bus, laws, v_V, t);
        load_post(t, (int)def->winch_post, &t->winch);
    }
    if (bus->alternator_on && live[def->alternator_post]) {
        const int p = (int)def->alternator_post;
        tangent_alternator(bus, laws, v_V, t);
        const leaf *a = &t->alternator;
        t->residual_A[p] -= a->i_A + a->slope_S * a->per * a->e_V;
        t->slope_S[p] -= a->slope_S * a->per * a->gain + t->alternator_sense_S;
    }
}

/* Steps of the posts from the tangents. False: the matrix says nothing. */
static bool solve_posts(const pr_bus *bus, const pr_bus_laws *laws, const double v_V[],
                        const bool live[], bool joined, tangents *t, double step_V[])
{
    if (!joined) {
        for (int p = 0; p < bus->n_posts; p++) {
            step_V[p] = live[p] ? -t->residual_A[p] / t->slope_S[p] : 0.0;
            if (!isfinite(step_V[p]))
                return false;
        }
        return true;
    }
    const double *j = t->link;
    pr_link_currents_A(&bus->system->link, bus->link_closed, laws->link_ohm, v_V[0], v_V[1],
                       &t->link_out_A, &t->link_in_A, t->link);
    const double a = t->slope_S[0] + j[0], b = j[1], c = -j[2], d = t->slope_S[1] - j[3];
    const double f = -(t->residual_A[0] + t->link_out_A), g = -(t->residual_A[1] - t->link_in_A);
    const double determinant = a * d - b * c;
    step_V[0] = (f * d - b * g) / determinant;
    step_V[1] = (a * g - c * f) / determinant;
    return isfinite(step_V[0]) && isfinite(step_V[1]);
}

static inline double leaf_step_V(const leaf *x, double post_step_V)
{
    return (x->gain * post_step_V + x->e_V) * x->per;
}

/* The larger; NaN wins, so that it is seen. */
static inline double larger(double a, double b)
{
    return a <= b ? b : a;
}

/* Moves every voltage; returns the longest step. */
static double move(const pr_bus *bus, const bool live[], const tangents *t, const double step_V[],
                   double v_V[])
{
    const pr_system_def *def = &bus->system->def;
    double most_V = 0.0;
    for (int p = 0; p < bus->n_posts; p++) {
        if (!live[p])
            continue;
        const double box_V = leaf_step_V(&t->box[p], step_V[p]);
        most_V = larger(fabs(box_V), larger(fabs(step_V[p]), most_V));
        v_V[p] += step_V[p];
        v_V[PR_NODE_BOX + p] = t->box[p].ohm > 0.0 ? v_V[PR_NODE_BOX + p] + box_V : v_V[p];
    }
    if (bus->winch_on && live[def->winch_post]) {
        const double v = leaf_step_V(&t->winch, step_V[def->winch_post]);
        most_V = larger(fabs(v), most_V);
        v_V[PR_NODE_WINCH] = t->winch.ohm > 0.0 ? v_V[PR_NODE_WINCH] + v : v_V[def->winch_post];
    } else {
        v_V[PR_NODE_WINCH] = v_V[def->winch_post];
    }
    if (bus->alternator_on && live[def->alternator_post]) {
        const double v = leaf_step_V(&t->alternator, step_V[def->alternator_post]);
        most_V = larger(fabs(v), most_V);
        v_V[PR_NODE_ALTERNATOR] =
            t->alternator.ohm > 0.0 ? v_V[PR_NODE_ALTERNATOR] + v : v_V[def->alternator_post];
    } else {
        v_V[PR_NODE_ALTERNATOR] = v_V[def->alternator_post];
    }
    return most_V;
}

static double leaf_A(const leaf *x, double post_step_V)
{
    return x->i_A + x->slope_S * leaf_step_V(x, post_step_V);
}

/* Power of the loads and of their own wires at the currents of the last tangents. */
static void share_out_box(const pr_bus *bus, const pr_bus_laws *laws, int post, const tangents *t,
                          double box_step_V, pr_bus_flows *flows)
{
    const pr_bus_box *box = &bus->box[post];
    double wires_W = 0.0;
    for (int k = box->first; k < box->first_grouped; k++) {
        const double i_A = t->single_A[k] + t->single_S[k] * box_step_V;
        flows->single_A[k] = i_A;
        wires_W += laws->load_ohm[k] * i_A * i_A;
    }
    flows->load_wire_W[post] = wires_W;
    flows->box_W[post] = flows->node_V[PR_NODE_BOX + post] * flows->box_A[post] - wires_W;
}

/* Currents of the last tangents after the last step. */
static void hand_out(const pr_bus *bus, const pr_bus_laws *laws, const bool live[], bool joined,
                     const tangents *t, const double step_V[], const double v_V[],
                     pr_bus_flows *flows)
{
    const pr_system_def *def = &bus->system->def;
    for (int n = 0; n < PR_NODES; n++)
        flows->node_V[n] = v_V[n];
    for (int p = 0; p < PR_POSTS; p++) {
        const bool on = p < bus->n_posts && live[p];
        flows->crank_A[p] = on ? t->crank_A[p] + t->crank_S[p] * step_V[p] : 0.0;
        flows->battery_A[p] = on ? t->battery_A[p] + t->battery_S[p] * step_V[p] : 0.0;
        flows->gas_A[p] = on ? t->gas_A[p] + t->gas_S[p] * step_V[p] : 0.0;
        flows->box_A[p] = on ? leaf_A(&t->box[p], step_V[p]) : 0.0;
        flows->box_W[p] = flows->load_wire_W[p] = 0.0;
        if (on)
            share_out_box(bus, laws, p, t, leaf_step_V(&t->box[p], step_V[p]), flows);
        else
            for (int k = bus->box[p].first; k < bus->box[p].first_grouped; k++)
                flows->single_A[k] = 0.0;
    }
    const int w = (int)def->winch_post, a = (int)def->alternator_post;
    flows->winch_A = bus->winch_on && live[w] ? leaf_A(&t->winch, step_V[w]) : 0.0;
    flows->alternator_A = 0.0;
    flows->limited = false;
    if (bus->alternator_on && live[a]) {
        flows->alternator_A = leaf_A(&t->alternator, step_V[a]) + t->alternator_sense_S * step_V[a];
        flows->limited = t->limited;
    }
    flows->link_out_A = flows->link_in_A = 0.0;
    if (joined) {
        flows->link_out_A = t->link_out_A + t->link[0] * step_V[0] + t->link[1] * step_V[1];
        flows->link_in_A = t->link_in_A + t->link[2] * step_V[0] + t->link[3] * step_V[1];
    }
}

double pr_bus_residual_A(const pr_bus *bus, const pr_bus_flows *flows, int post)
{
    const pr_system_def *def = &bus->system->def;
    double sum_A = flows->battery_A[post] + flows->crank_A[post] + flows->box_A[post];
    if ((int)def->winch_post == post)
        sum_A += flows->winch_A;
    if ((int)def->alternator_post == post)
        sum_A -= flows->alternator_A;
    return sum_A + (post == 0 ? flows->link_out_A : -flows->link_in_A);
}

pr_status pr_bus_solve(const pr_bus *bus, const pr_bus_laws *laws, double node_V[PR_NODES],
                       pr_bus_flows *flows)
{
    bool live[PR_POSTS];
    tangents t;
    double v_V[PR_NODES];
    for (int n = 0; n < PR_NODES; n++)
        v_V[n] = node_V[n];
    for (int p = 0; p < PR_POSTS; p++) {
        live[p] = pr_bus_is_live(bus, laws, p);
        if (!live[p])
            v_V[p] = v_V[PR_NODE_BOX + p] = 0.0;
    }
    const bool joined = pr_bus_link_joins(bus) && live[0] && live[1];
    const double done_V = fmin(fmax(bus->accuracy_V, LEAST_DONE_V), MOST_DONE_V);
    for (int n = 1; n <= NEWTON_MAX; n++) {
        double step_V[PR_POSTS] = {0.0, 0.0};
        take_tangents(bus, laws, v_V, live, &t);
        if (!solve_posts(bus, laws, v_V, live, joined, &t, step_V))
            break;
        const double longest_V = larger(fabs(step_V[0]), fabs(step_V[1]));
        if (longest_V > STEP_MAX_V) {
            step_V[0] *= STEP_MAX_V / longest_V;
            step_V[1] *= STEP_MAX_V / longest_V;
        }
        const double moved_V = move(bus, live, &t, step_V, v_V);
        if (moved_V <= done_V) {
            hand_out(bus, laws, live, joined, &t, step_V, v_V, flows);
            flows->iterations = n;
            for (int k = 0; k < PR_NODES; k++)
                node_V[k] = v_V[k];
            return PR_OK;
        }
        if (!isfinite(moved_V))
            break;
    }
    const pr_status status = pr_bus_bracket(bus, laws, v_V, flows);
    if (status != PR_OK)
        return status;
    /* a bracket closes on a jump as well as on a root */
    for (int p = 0; p < bus->n_posts; p++)
        if (live[p] && !(fabs(pr_bus_residual_A(bus, flows, p)) <= RESIDUAL_MAX_A))
            return PR_ERR_NO_SOLUTION;
    for (int k = 0; k < PR_NODES; k++)
        node_V[k] = v_V[k];
    return PR_OK;
}
