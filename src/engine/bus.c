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
 * is below accuracy_V (at most 1 mV, some 1e-5 A). A step longer than 2 V is cut; so is one that
 * goes back further than half of the last, for between two steep laws that meet in a kink whole
 * steps can go to and fro for ever. A step that was cut is never the last. If the iteration does
 * not settle, pr_bus_bracket takes over. */
#include "engine/bus.h"
#include "base/number.h"
#include "physics/battery_branch.h"

#include <math.h>

/* Kept out of line, so that the usual path through a solution is short. */
#define RARE __attribute__((noinline))

enum { NEWTON_MAX = 25, SINGLE_MAX = 60 };
/* Terminal voltage of a load behind its own wire; what remains is squared once more. */
static const double SINGLE_DONE_V = 1e-6;
/* Kirchhoff's law must hold to this where bracketing found the voltages. */
static const double RESIDUAL_MAX_A = 1e-6;
static const double STEP_MAX_V = 2.0, LEAST_DONE_V = 1e-7, MOST_DONE_V = 1e-3;
/* A starter does not turn below this (m). */
static const double CRANK_LEAST_V = 5.0;
static const double OVERSHOOT_V = 0.5;

/* Value and slope of a polynomial of the power table at d from the middle of its cell. */
static inline double polynomial(const double c[PR_POWER_ORDER + 1], double d, double *slope)
{
    double value = c[PR_POWER_ORDER], rise = 0.0;
    for (int k = PR_POWER_ORDER - 1; k >= 0; k--) {
        rise = rise * d + value;
        value = value * d + c[k];
    }
    *slope = rise;
    return value;
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

double pr_bus_grouped_A(const pr_bus *bus, int k, double box_V)
{
    const pr_bus_load *b = &bus->load[k];
    double slope_S;
    return is_tabulated(b->power, box_V, b->floor_V)
               ? tabulated_A(bus, b->power, b->scale, box_V, &slope_S)
               : pr_load_current_A(b->load, box_V, PR_INF, NULL);
}

double pr_bus_group_A(const pr_bus *bus, const pr_bus_group *group, double box_V, double *slope_S)
{
    if (is_tabulated(group->power, box_V, group->floor_V))
        return tabulated_A(bus, group->power, group->scale, box_V, slope_S);
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

void pr_bus_sum_groups(pr_bus *bus, pr_bus_box *box, double box_V)
{
    double d;
    const int middle = cell_at(box_V, &d), first = middle - PR_BOX_CELLS / 2;
    box->first_cell = -1;
    if (box->first_group == box->end_group || !(box_V > PR_POWER_LOW_V) || first < 0 ||
        first + PR_BOX_CELLS > PR_POWER_CELLS)
        return;
    for (int g = box->first_group; g < box->end_group; g++)
        if (bus->group[g].power < 0 ||
            PR_POWER_LOW_V + PR_POWER_CELL_V * first < bus->group[g].floor_V)
            return;
    box->first_cell = first;
    box->middle_V = PR_POWER_LOW_V + PR_POWER_CELL_V * (middle + 0.5);
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

/* Groups of a box outside of its middle cell. */
static RARE double far_groups_A(const pr_bus *bus, const pr_bus_box *box, double box_V,
                                double *slope_S)
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

static inline double groups_A(const pr_bus *bus, const pr_bus_box *box, double box_V,
                              double *slope_S)
{
    const double d = box_V - box->middle_V; /* of no meaning without cells */
    if (box->first_cell >= 0 && fabs(d) < 0.5 * PR_POWER_CELL_V)
        return polynomial(box->sum[PR_BOX_CELLS / 2], d, slope_S);
    return far_groups_A(bus, box, box_V, slope_S);
}

double pr_bus_groups_A(const pr_bus *bus, const pr_bus_box *box, double box_V, double *slope_S)
{
    return groups_A(bus, box, box_V, slope_S);
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

/* All the alternator can give; a step may look beyond the moment when the regulator takes over. If
 * nothing else takes the current there, it does so half a volt late rather than never. Half a volt
 * of the post, as the steps of posts are cut at kinks and those of leaves are not; and as steeply
 * below zero, where no solution lies, so that no step goes astray on a level law. */
static inline double full_A(const pr_bus *bus, const pr_bus_laws *laws, double v_V, double sense_V,
                            double *slope_S, double *sense_slope_S)
{
    const pr_alternator_branch *b = &laws->alternator;
    const double i_A = pr_alternator_branch_most_A(&bus->system->alternator, b, v_V, slope_S);
    const double over_V = b->set_V + OVERSHOOT_V - sense_V;
    if (i_A * b->droop_ohm <= over_V)
        return i_A;
    *slope_S = 0.0;
    *sense_slope_S = -1.0 / b->droop_ohm;
    return over_V / b->droop_ohm;
}

static inline double alternator_A(const pr_bus *bus, const pr_bus_laws *laws, double v_V,
                                  double sense_V, double *slope_S, double *sense_slope_S,
                                  bool *limited)
{
    const pr_alternator_branch *b = &laws->alternator;
    *limited = bus->field == PR_FIELD_FULL;
    *slope_S = *sense_slope_S = 0.0;
    if (!b->running || bus->field == PR_FIELD_BLOCKED)
        return 0.0;
    if (bus->field == PR_FIELD_REGULATED) {
        const double per_ohm = 1.0 / b->droop_ohm;
        *sense_slope_S = -per_ohm;
        return (b->set_V - sense_V) * per_ohm;
    }
    if (bus->field == PR_FIELD_FULL)
        return full_A(bus, laws, v_V, sense_V, slope_S, sense_slope_S);
    return pr_alternator_branch_current_A(&bus->system->alternator, b, v_V, sense_V, slope_S,
                                          sense_slope_S, limited);
}

double pr_bus_alternator_A(const pr_bus *bus, const pr_bus_laws *laws, double v_V, double sense_V,
                           double *slope_S, double *sense_slope_S, bool *limited)
{
    return alternator_A(bus, laws, v_V, sense_V, slope_S, sense_slope_S, limited);
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

/* A leaf eliminated from its post's equation: when the post moves by dV its own voltage moves by
 * v0_V + v1 dV and its current becomes i0_A + g_S dV. */
typedef struct leaf {
    double i0_A, g_S, v0_V, v1;
} leaf;

/* One solution on its way. */
typedef struct newton {
    int winch_post, alternator_post; /* -1: off */
    bool live[PR_POSTS], joined, limited;
    double leak_S[PR_POSTS];
    double v_V[PR_NODES], step_V[PR_POSTS];
    double residual_A[PR_POSTS], slope_S[PR_POSTS];
    pr_tangent battery[PR_POSTS], gas[PR_POSTS], crank[PR_POSTS];
    leaf box[PR_POSTS], winch, alternator;
    pr_tangent single[PR_LOADS_MAX];
    double link_out_A, link_in_A, link[4];
} newton;

/* Leaf that draws i with slope g at v, behind ohm from a post. */
static inline leaf make_leaf(double post_V, double v_V, double ohm, double i_A, double slope_S)
{
    const double per = 1.0 / (1.0 + ohm * slope_S), v0_V = (post_V - v_V - ohm * i_A) * per;
    return (leaf){i_A + slope_S * v0_V, slope_S * per, v0_V, per};
}

static inline void load_post(newton *x, int post, double i_A, double slope_S)
{
    x->residual_A[post] += i_A;
    x->slope_S[post] += slope_S;
}

static inline void tangent_box(const pr_bus *bus, const pr_bus_laws *laws, int post, newton *x)
{
    const pr_bus_box *box = &bus->box[post];
    if (box->first == box->end) { /* follows its post */
        x->box[post] = (leaf){0.0, 0.0, x->v_V[post] - x->v_V[PR_NODE_BOX + post], 1.0};
        return;
    }
    const double post_V = x->v_V[post], box_V = x->v_V[PR_NODE_BOX + post];
    double slope_S = 0.0, i_A = 0.0;
    if (box->first_group < box->end_group)
        i_A = groups_A(bus, box, box_V, &slope_S);
    for (int k = box->first; k < box->first_grouped; k++) {
        pr_tangent *single = &x->single[k];
        single->i_A = pr_bus_single_A(bus, laws, k, box_V, &single->slope_S);
        i_A += single->i_A;
        slope_S += single->slope_S;
    }
    x->box[post] = make_leaf(post_V, box_V, laws->box_ohm[post], i_A, slope_S);
    load_post(x, post, x->box[post].i0_A, x->box[post].g_S);
}

static inline void tangent_post(const pr_bus *bus, const pr_bus_laws *laws, int post, newton *x)
{
    const double v_V = x->v_V[post];
    x->battery[post] = pr_branch_tangent(&laws->battery[post], v_V, &x->gas[post]);
    x->residual_A[post] = x->battery[post].i_A + x->leak_S[post] * v_V;
    x->slope_S[post] = x->battery[post].slope_S + x->leak_S[post];
    if (bus->crank_A[post] > 0.0) {
        pr_tangent *crank = &x->crank[post];
        crank->i_A = pr_bus_crank_A(bus, post, v_V, &crank->slope_S);
        load_post(x, post, crank->i_A, crank->slope_S);
    }
    tangent_box(bus, laws, post, x);
}

static inline void tangent_winch(const pr_bus_laws *laws, newton *x)
{
    const double motor_V = x->v_V[PR_NODE_WINCH];
    double slope_S;
    const double i_A = pr_bus_winch_A(laws, motor_V, &slope_S);
    x->winch = make_leaf(x->v_V[x->winch_post], motor_V, laws->winch_ohm, i_A, slope_S);
    load_post(x, x->winch_post, x->winch.i0_A, x->winch.g_S);
}

/* As a leaf with its current the other way round; remote sensing adds the post's own voltage. */
static inline void tangent_alternator(const pr_bus *bus, const pr_bus_laws *laws, newton *x)
{
    const double ohm = laws->alternator_ohm, post_V = x->v_V[x->alternator_post];
    const double own_V = x->v_V[PR_NODE_ALTERNATOR];
    const bool remote = pr_bus_senses_post(bus);
    double slope_S, sense_S;
    const double i_A =
        alternator_A(bus, laws, own_V, remote ? post_V : own_V, &slope_S, &sense_S, &x->limited);
    if (!remote) {
        slope_S += sense_S;
        sense_S = 0.0;
    }
    const double per = 1.0 / (1.0 - ohm * slope_S), v0_V = (post_V + ohm * i_A - own_V) * per;
    const double v1 = (1.0 + ohm * sense_S) * per;
    x->alternator = (leaf){i_A + slope_S * v0_V, slope_S * v1 + sense_S, v0_V, v1};
    load_post(x, x->alternator_post, -x->alternator.i0_A, -x->alternator.g_S);
}

static inline void take_tangents(const pr_bus *bus, const pr_bus_laws *laws, newton *x)
{
    if (x->live[0])
        tangent_post(bus, laws, 0, x);
    if (x->live[1])
        tangent_post(bus, laws, 1, x);
    if (x->winch_post >= 0)
        tangent_winch(laws, x);
    if (x->alternator_post >= 0)
        tangent_alternator(bus, laws, x);
}

/* Steps of the posts from the tangents. */
static inline void solve_posts(const pr_bus *bus, const pr_bus_laws *laws, newton *x)
{
    if (!x->joined) {
        for (int p = 0; p < PR_POSTS; p++)
            x->step_V[p] = x->live[p] ? -x->residual_A[p] / x->slope_S[p] : 0.0;
        return;
    }
    const double *j = x->link;
    pr_link_currents_A(&bus->system->link, bus->link_closed, laws->link_ohm, x->v_V[0], x->v_V[1],
                       &x->link_out_A, &x->link_in_A, x->link);
    const double a = x->slope_S[0] + j[0], b = j[1], c = -j[2], d = x->slope_S[1] - j[3];
    const double f = -(x->residual_A[0] + x->link_out_A), g = -(x->residual_A[1] - x->link_in_A);
    const double per = 1.0 / (a * d - b * c);
    x->step_V[0] = (f * d - b * g) * per;
    x->step_V[1] = (a * g - c * f) * per;
}

static inline double larger(double a, double b)
{
    return a > b ? a : b;
}

/* Cuts steps that lead too far, or back where they came from: a law with a kink can throw them to
 * and fro for ever. Returns whether they are still whole. */
static RARE bool cut_steps(double step_V[PR_POSTS], const double last_V[PR_POSTS])
{
    const double longest_V = larger(fabs(step_V[0]), fabs(step_V[1]));
    double share = STEP_MAX_V < longest_V ? STEP_MAX_V / longest_V : 1.0;
    for (int p = 0; p < PR_POSTS; p++)
        if (step_V[p] * last_V[p] < 0.0 && share * fabs(step_V[p]) > 0.5 * fabs(last_V[p]))
            share = 0.5 * fabs(last_V[p]) / fabs(step_V[p]);
    for (int p = 0; p < PR_POSTS; p++)
        step_V[p] *= share;
    return share == 1.0;
}

static inline bool keep_steps_short(double step_V[PR_POSTS], const double last_V[PR_POSTS])
{
    const bool fine = fabs(step_V[0]) <= STEP_MAX_V && fabs(step_V[1]) <= STEP_MAX_V &&
                      step_V[0] * last_V[0] >= 0.0 && step_V[1] * last_V[1] >= 0.0;
    return fine || cut_steps(step_V, last_V);
}

/* Moves a leaf's voltage with its post; returns the longest step so far. */
static inline double move_leaf(const leaf *l, int node, int post, double most_V, newton *x)
{
    const double step_V = l->v0_V + l->v1 * x->step_V[post];
    x->v_V[node] += step_V;
    return larger(fabs(step_V), most_V);
}

/* Moves every voltage; returns the longest step. */
static inline double move(newton *x)
{
    double most_V = 0.0;
    for (int p = 0; p < PR_POSTS; p++) {
        if (!x->live[p])
            continue;
        x->v_V[p] += x->step_V[p];
        most_V = larger(fabs(x->step_V[p]), most_V);
        most_V = move_leaf(&x->box[p], PR_NODE_BOX + p, p, most_V, x);
    }
    if (x->winch_post >= 0)
        most_V = move_leaf(&x->winch, PR_NODE_WINCH, x->winch_post, most_V, x);
    if (x->alternator_post >= 0)
        most_V = move_leaf(&x->alternator, PR_NODE_ALTERNATOR, x->alternator_post, most_V, x);
    return most_V;
}

static inline double current_after(const pr_tangent *t, double step_V)
{
    return t->i_A + t->slope_S * step_V;
}

static inline double leaf_A(const leaf *l, double step_V)
{
    return l->i0_A + l->g_S * step_V;
}

static void clear_post(const pr_bus *bus, int p, pr_bus_flows *flows)
{
    flows->crank_A[p] = flows->battery_A[p] = flows->gas_A[p] = 0.0;
    flows->box_A[p] = flows->box_W[p] = flows->load_wire_W[p] = 0.0;
    for (int k = bus->box[p].first; k < bus->box[p].first_grouped; k++)
        flows->single_A[k] = 0.0;
}

/* Currents of a post after the last step, and the power of its loads and of their own wires. */
static inline void hand_out_post(const pr_bus *bus, const pr_bus_laws *laws, int p, const newton *x,
                                 pr_bus_flows *flows)
{
    if (!x->live[p]) {
        clear_post(bus, p, flows);
        return;
    }
    const pr_bus_box *box = &bus->box[p];
    const double step_V = x->step_V[p], box_step_V = x->box[p].v0_V + x->box[p].v1 * step_V;
    flows->battery_A[p] = current_after(&x->battery[p], step_V);
    flows->gas_A[p] = current_after(&x->gas[p], step_V);
    flows->crank_A[p] = bus->crank_A[p] > 0.0 ? current_after(&x->crank[p], step_V) : 0.0;
    flows->box_A[p] = leaf_A(&x->box[p], step_V);
    double wires_W = 0.0;
    for (int k = box->first; k < box->first_grouped; k++) {
        const double i_A = current_after(&x->single[k], box_step_V);
        flows->single_A[k] = i_A;
        wires_W += laws->load_ohm[k] * i_A * i_A;
    }
    flows->load_wire_W[p] = wires_W;
    flows->box_W[p] = x->v_V[PR_NODE_BOX + p] * flows->box_A[p] - wires_W;
}

/* Currents of the last tangents after the last step. */
static inline void hand_out(const pr_bus *bus, const pr_bus_laws *laws, newton *x,
                            pr_bus_flows *flows)
{
    const pr_system_def *def = &bus->system->def;
    hand_out_post(bus, laws, 0, x, flows);
    hand_out_post(bus, laws, 1, x, flows);
    flows->winch_A = flows->alternator_A = 0.0;
    flows->limited = false;
    if (x->winch_post >= 0)
        flows->winch_A = leaf_A(&x->winch, x->step_V[x->winch_post]);
    else
        x->v_V[PR_NODE_WINCH] = x->v_V[def->winch_post];
    if (x->alternator_post >= 0) {
        flows->alternator_A = leaf_A(&x->alternator, x->step_V[x->alternator_post]);
        flows->limited = x->limited;
    } else {
        x->v_V[PR_NODE_ALTERNATOR] = x->v_V[def->alternator_post];
    }
    flows->link_out_A = flows->link_in_A = 0.0;
    if (x->joined) {
        const double *j = x->link, *step_V = x->step_V;
        flows->link_out_A = x->link_out_A + j[0] * step_V[0] + j[1] * step_V[1];
        flows->link_in_A = x->link_in_A + j[2] * step_V[0] + j[3] * step_V[1];
    }
    for (int n = 0; n < PR_NODES; n++)
        flows->node_V[n] = x->v_V[n];
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

static inline double within(double x, double low, double high)
{
    return x < low ? low : x > high ? high : x;
}

/* What does not change from one iteration to the next. */
static inline void begin(const pr_bus *bus, const pr_bus_laws *laws, const double node_V[PR_NODES],
                         newton *x)
{
    const pr_system_def *def = &bus->system->def;
    for (int n = 0; n < PR_NODES; n++)
        x->v_V[n] = node_V[n];
    const bool joins = pr_bus_link_joins(bus);
    for (int p = 0; p < PR_POSTS; p++) {
        x->live[p] = p < bus->n_posts &&
                     (has_source(bus, laws, p) || (joins && has_source(bus, laws, 1 - p)));
        x->step_V[p] = 0.0;
        x->leak_S[p] = x->live[p] && pr_bus_leaks(bus, laws, p) ? PR_BUS_LEAK_S : 0.0;
        if (!x->live[p])
            x->v_V[p] = x->v_V[PR_NODE_BOX + p] = 0.0;
        if (!(laws->box_ohm[p] > 0.0))
            x->v_V[PR_NODE_BOX + p] = x->v_V[p];
    }
    x->joined = joins && x->live[0] && x->live[1];
    x->winch_post = bus->winch_on && x->live[def->winch_post] ? (int)def->winch_post : -1;
    x->alternator_post =
        bus->alternator_on && x->live[def->alternator_post] ? (int)def->alternator_post : -1;
    /* without a wire a leaf is at its post's voltage, and the steps keep it there */
    if (!(laws->winch_ohm > 0.0))
        x->v_V[PR_NODE_WINCH] = x->v_V[def->winch_post];
    if (!(laws->alternator_ohm > 0.0))
        x->v_V[PR_NODE_ALTERNATOR] = x->v_V[def->alternator_post];
}

/* By bracketing, which closes on a jump as well as on a root. */
static RARE pr_status solve_slowly(const pr_bus *bus, const pr_bus_laws *laws, const newton *x,
                                   double node_V[PR_NODES], pr_bus_flows *flows)
{
    double v_V[PR_NODES];
    const pr_status status = pr_bus_bracket(bus, laws, v_V, flows);
    if (status != PR_OK)
        return status;
    for (int p = 0; p < bus->n_posts; p++)
        if (x->live[p] && !(fabs(pr_bus_residual_A(bus, flows, p)) <= RESIDUAL_MAX_A))
            return PR_ERR_NO_SOLUTION;
    for (int n = 0; n < PR_NODES; n++)
        node_V[n] = v_V[n];
    return PR_OK;
}

pr_status pr_bus_solve(const pr_bus *bus, const pr_bus_laws *laws, double node_V[PR_NODES],
                       pr_bus_flows *flows)
{
    newton x;
    begin(bus, laws, node_V, &x);
    const double done_V = within(bus->accuracy_V, LEAST_DONE_V, MOST_DONE_V);
    for (int n = 1; n <= NEWTON_MAX; n++) {
        const double last_V[PR_POSTS] = {x.step_V[0], x.step_V[1]};
        take_tangents(bus, laws, &x);
        solve_posts(bus, laws, &x);
        if (!isfinite(x.step_V[0] + x.step_V[1]))
            break;
        const bool whole = keep_steps_short(x.step_V, last_V);
        const double moved_V = move(&x);
        if (moved_V <= done_V && whole) {
            hand_out(bus, laws, &x, flows);
            flows->iterations = n;
            for (int k = 0; k < PR_NODES; k++)
                node_V[k] = x.v_V[k];
            return PR_OK;
        }
    }
    return solve_slowly(bus, laws, &x, node_V, flows);
}
