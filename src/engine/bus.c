/* The network: Newton's method on posts and leaves at once.
 *
 * At the present voltages each law is replaced by its tangent. A leaf that takes i with slope g at
 * v, behind r from its post at V, takes (i + g (V + dV - v))/(1 + r g) when the post moves by dV:
 * leaves are eliminated in closed form, whatever r (zero included), and follow by Ohm's law. Two
 * posts that the link couples leave a 2x2 system. Slopes of batteries, lamps, heaters and the
 * regulator all have one sign, which makes the residual of a post rise with its voltage;
 * constant-power loads and chargers fall, but far less steeply than a battery rises.
 *
 * The currents that are handed out are those of the last tangents, so Kirchhoff's law holds to
 * rounding and Ohm's law too; the components' laws are missed by the square of the last step, which
 * is below accuracy_V (at most 1 mV, some 1e-5 A). A step longer than 2 V is cut; so is one that
 * turns back for the second time, to half of the last, for between two steep laws that meet in a
 * kink whole steps can go to and fro for ever. A step that was cut is never the last. If the
 * iteration does not settle, pr_bus_bracket takes over. */
#include "engine/bus.h"
#include "engine/bus_groups.h"
#include "physics/battery_branch.h"

#include <math.h>

/* Kept out of line, so that the usual path through a solution is short. */
#define RARE __attribute__((noinline))

enum { NEWTON_MAX = 25 };
/* Kirchhoff's law must hold to this where bracketing found the voltages. */
static const double RESIDUAL_MAX_A = 1e-6;
static const double STEP_MAX_V = 2.0, LEAST_DONE_V = 1e-6, MOST_DONE_V = 1e-3;
/* A starter does not turn below this (m). */
static const double CRANK_LEAST_V = 5.0;
static const double OVERSHOOT_V = 0.5;

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
    switch (bus->field) {
    case PR_FIELD_REGULATED:
        *sense_slope_S = -1.0 / b->droop_ohm;
        return (sense_V - b->set_V) * *sense_slope_S;
    case PR_FIELD_FULL:
        return full_A(bus, laws, v_V, sense_V, slope_S, sense_slope_S);
    case PR_FIELD_BLOCKED:
        return 0.0;
    default:
        return pr_alternator_branch_current_A(&bus->system->alternator, b, v_V, sense_V, slope_S,
                                              sense_slope_S, limited);
    }
}

double pr_bus_alternator_A(const pr_bus *bus, const pr_bus_laws *laws, double v_V, double sense_V,
                           double *slope_S, double *sense_slope_S, bool *limited)
{
    return alternator_A(bus, laws, v_V, sense_V, slope_S, sense_slope_S, limited);
}

/* Does the link let current pass between the posts (a diode: perhaps)? */
static bool link_joins(const pr_bus *bus)
{
    const pr_link_kind kind = bus->system->def.link.kind;
    if (bus->n_posts < 2 || bus->link_open || kind == PR_LINK_NONE)
        return false;
    return kind == PR_LINK_DIODE || bus->link_closed;
}

void pr_bus_find_paths(pr_bus *bus)
{
    const pr_system_def *def = &bus->system->def;
    const bool alternator_on = bus->alternator_on && bus->alternator.running;
    bool fed[PR_POSTS];
    for (int p = 0; p < PR_POSTS; p++)
        fed[p] = p < bus->n_posts &&
                 (!bus->battery_open[p] || (alternator_on && (int)def->alternator_post == p));
    pr_bus_paths *x = &bus->paths;
    *x = (pr_bus_paths){.found = true, .winch_post = -1, .alternator_post = -1};
    x->joined = link_joins(bus) && (fed[0] || fed[1]);
    for (int p = 0; p < PR_POSTS; p++)
        x->live[p] = fed[p] || x->joined;
    if (bus->winch_on && x->live[def->winch_post])
        x->winch_post = (int)def->winch_post;
    if (alternator_on)
        x->alternator_post = (int)def->alternator_post;
}

/* A current and its slopes over the voltages of both posts. */
typedef struct plane {
    double i_A, slope_S[PR_POSTS];
} plane;

/* One solution on its way. What a post and its leaves draw is a current at the post's present
 * voltage and its slope over that voltage. A dead post has no voltage and takes no step. */
typedef struct newton {
    bool limited;
    double v_V[PR_NODES], step_V[PR_POSTS], box_step_V[PR_POSTS];
    pr_tangent post[PR_POSTS]; /* all of it, the link left out */
    pr_tangent battery[PR_POSTS], gas[PR_POSTS], crank[PR_POSTS], box[PR_POSTS];
    pr_tangent winch, alternator;
    pr_tangent single[PR_LOADS_MAX]; /* over the voltage of their box */
    plane link_out, link_in;
} newton;

static inline double current_after(const pr_tangent *t, double step_V)
{
    return t->i_A + t->slope_S * step_V;
}

static inline double plane_after(const plane *p, const double step_V[PR_POSTS])
{
    return p->i_A + p->slope_S[0] * step_V[0] + p->slope_S[1] * step_V[1];
}

/* A leaf eliminated from its post's equation: it draws `own` at a voltage that is ahead_V below its
 * post's, and takes its part of what ohm leaves of the steps. */
static inline pr_tangent behind_ohm(pr_tangent own, double ohm, double ahead_V)
{
    const double per = 1.0 / (1.0 + ohm * own.slope_S);
    return (pr_tangent){(own.i_A + own.slope_S * ahead_V) * per, own.slope_S * per};
}

static inline void load_post(newton *x, int post, const pr_tangent *t)
{
    x->post[post].i_A += t->i_A;
    x->post[post].slope_S += t->slope_S;
}

static inline bool has_loads(const pr_bus_box *box)
{
    return box->first < box->end;
}

static inline void tangent_box(const pr_bus *bus, const pr_bus_laws *laws, int post, newton *x)
{
    const pr_bus_box *box = &bus->box[post];
    const double box_V = x->v_V[PR_NODE_BOX + post];
    pr_tangent all = {0.0, 0.0};
    if (box->first_group < box->end_group) {
        double slope_S;
        const double i_A = pr_bus_box_groups_A(bus, box, box_V, &slope_S);
        all = (pr_tangent){i_A, slope_S};
    }
    for (int k = box->first; k < box->first_grouped; k++) {
        double slope_S;
        const double i_A = pr_bus_single_A(bus, laws, k, box_V, &slope_S);
        x->single[k] = (pr_tangent){i_A, slope_S};
        all.i_A += i_A;
        all.slope_S += slope_S;
    }
    x->box[post] = behind_ohm(all, laws->box_ohm[post], x->v_V[post] - box_V);
    load_post(x, post, &x->box[post]);
}

static inline void tangent_post(const pr_bus *bus, const pr_bus_laws *laws, int post, newton *x)
{
    const double v_V = x->v_V[post];
    x->battery[post] = pr_branch_tangent(&laws->battery[post], v_V, &x->gas[post]);
    x->post[post] = x->battery[post];
    if (x->battery[post].slope_S == 0.0)
        x->post[post] = (pr_tangent){PR_BUS_LEAK_S * v_V, PR_BUS_LEAK_S};
    if (bus->crank_A[post] > 0.0) {
        double slope_S;
        const double i_A = pr_bus_crank_A(bus, post, v_V, &slope_S);
        x->crank[post] = (pr_tangent){i_A, slope_S};
        load_post(x, post, &x->crank[post]);
    }
    if (has_loads(&bus->box[post]))
        tangent_box(bus, laws, post, x);
}

static inline void tangent_winch(const pr_bus *bus, const pr_bus_laws *laws, newton *x)
{
    const double motor_V = x->v_V[PR_NODE_WINCH];
    pr_tangent own;
    own.i_A = pr_bus_winch_A(laws, motor_V, &own.slope_S);
    x->winch = behind_ohm(own, laws->winch_ohm, x->v_V[bus->paths.winch_post] - motor_V);
    load_post(x, bus->paths.winch_post, &x->winch);
}

/* Its current runs the other way. A regulator is a straight line behind the wire too; remote
 * sensing adds the post's own voltage, or leaves nothing else. */
static inline void tangent_alternator(const pr_bus *bus, const pr_bus_laws *laws, newton *x)
{
    const int post = bus->paths.alternator_post;
    const double ohm = laws->alternator_ohm;
    const double own_V = x->v_V[PR_NODE_ALTERNATOR], post_V = x->v_V[post];
    const bool remote = pr_bus_senses_post(bus);
    x->limited = bus->field == PR_FIELD_FULL;
    if (bus->field == PR_FIELD_REGULATED) {
        const double slope_S = 1.0 / (laws->alternator.droop_ohm + (remote ? 0.0 : ohm));
        x->alternator = (pr_tangent){(post_V - laws->alternator.set_V) * slope_S, slope_S};
    } else {
        double slope_S, sense_S;
        bool limited;
        const double i_A =
            alternator_A(bus, laws, own_V, remote ? post_V : own_V, &slope_S, &sense_S, &limited);
        const pr_tangent own = {-i_A, remote ? -slope_S : -(slope_S + sense_S)};
        x->alternator = behind_ohm(own, ohm, post_V - own_V);
        if (remote)
            x->alternator.slope_S -= sense_S / (1.0 + ohm * own.slope_S);
        x->limited = limited;
    }
    load_post(x, post, &x->alternator);
}

static inline void take_tangents(const pr_bus *bus, const pr_bus_laws *laws, newton *x)
{
    if (bus->paths.live[0])
        tangent_post(bus, laws, 0, x);
    if (bus->paths.live[1])
        tangent_post(bus, laws, 1, x);
    if (bus->paths.winch_post >= 0)
        tangent_winch(bus, laws, x);
    if (bus->paths.alternator_post >= 0)
        tangent_alternator(bus, laws, x);
}

/* Steps of the posts from the tangents. */
static inline void solve_posts(const pr_bus *bus, const pr_bus_laws *laws, newton *x)
{
    const pr_tangent *main = &x->post[0], *second = &x->post[1];
    if (!bus->paths.joined) {
        x->step_V[0] = bus->paths.live[0] ? -main->i_A / main->slope_S : 0.0;
        x->step_V[1] = bus->paths.live[1] ? -second->i_A / second->slope_S : 0.0;
        return;
    }
    double out_A, in_A, j[4];
    pr_link_tangent_A(&bus->system->link, bus->link_closed, laws->link_ohm, x->v_V[0], x->v_V[1],
                      &out_A, &in_A, j);
    x->link_out = (plane){out_A, {j[0], j[1]}};
    x->link_in = (plane){in_A, {j[2], j[3]}};
    const double a = main->slope_S + j[0], b = j[1], c = j[2], d = second->slope_S - j[3];
    const double f = main->i_A + out_A, g = in_A - second->i_A;
    const double per = 1.0 / (a * d + b * c);
    x->step_V[0] = -(f * d + b * g) * per;
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

/* Moves a leaf with its post, whose step is known: its current by its tangent, its voltage by Ohm's
 * law. Returns its step. */
static inline double move_leaf(newton *x, int node, int post, const pr_tangent *leaf, double ohm,
                               double *i_A)
{
    const double before_V = x->v_V[node];
    *i_A = current_after(leaf, x->step_V[post]);
    x->v_V[node] = x->v_V[post] - ohm * *i_A;
    return x->v_V[node] - before_V;
}

/* Moves every voltage; returns the longest step. */
static inline double move(const pr_bus *bus, const pr_bus_laws *laws, newton *x,
                          pr_bus_flows *flows)
{
    double most_V = larger(fabs(x->step_V[0]), fabs(x->step_V[1]));
    for (int p = 0; p < PR_POSTS; p++)
        x->v_V[p] += x->step_V[p];
    for (int p = 0; p < PR_POSTS; p++)
        if (bus->paths.live[p] && has_loads(&bus->box[p])) {
            x->box_step_V[p] =
                move_leaf(x, PR_NODE_BOX + p, p, &x->box[p], laws->box_ohm[p], &flows->box_A[p]);
            most_V = larger(fabs(x->box_step_V[p]), most_V);
        }
    if (bus->paths.winch_post >= 0)
        most_V = larger(fabs(move_leaf(x, PR_NODE_WINCH, bus->paths.winch_post, &x->winch,
                                       laws->winch_ohm, &flows->winch_A)),
                        most_V);
    if (bus->paths.alternator_post >= 0) {
        double minus_A;
        most_V = larger(fabs(move_leaf(x, PR_NODE_ALTERNATOR, bus->paths.alternator_post,
                                       &x->alternator, laws->alternator_ohm, &minus_A)),
                        most_V);
        flows->alternator_A = -minus_A;
    }
    return most_V;
}

/* Currents of a box after the last step, and the power of its loads and of their own wires. */
static inline void hand_out_box(const pr_bus *bus, const pr_bus_laws *laws, int p, newton *x,
                                pr_bus_flows *flows)
{
    const pr_bus_box *box = &bus->box[p];
    if (!bus->paths.live[p] || !has_loads(box)) {
        x->v_V[PR_NODE_BOX + p] = x->v_V[p];
        flows->box_A[p] = flows->box_W[p] = flows->load_wire_W[p] = 0.0;
        for (int k = box->first; k < box->first_grouped; k++)
            flows->single_A[k] = 0.0;
        return;
    }
    double wires_W = 0.0;
    for (int k = box->first; k < box->first_grouped; k++) {
        const double i_A = current_after(&x->single[k], x->box_step_V[p]);
        flows->single_A[k] = i_A;
        wires_W += laws->load_ohm[k] * i_A * i_A;
    }
    flows->load_wire_W[p] = wires_W;
    flows->box_W[p] = x->v_V[PR_NODE_BOX + p] * flows->box_A[p] - wires_W;
}

static inline void hand_out_post(const pr_bus *bus, const pr_bus_laws *laws, int p, newton *x,
                                 pr_bus_flows *flows)
{
    flows->crank_A[p] = flows->battery_A[p] = flows->gas_A[p] = 0.0;
    if (bus->paths.live[p]) {
        const double step_V = x->step_V[p];
        flows->battery_A[p] = current_after(&x->battery[p], step_V);
        flows->gas_A[p] = current_after(&x->gas[p], step_V);
        if (bus->crank_A[p] > 0.0)
            flows->crank_A[p] = current_after(&x->crank[p], step_V);
    }
    hand_out_box(bus, laws, p, x, flows);
}

/* What the moves of the leaves have not handed out yet. */
static inline void hand_out(const pr_bus *bus, const pr_bus_laws *laws, newton *x,
                            pr_bus_flows *flows)
{
    const pr_system_def *def = &bus->system->def;
    hand_out_post(bus, laws, 0, x, flows);
    hand_out_post(bus, laws, 1, x, flows);
    if (bus->paths.winch_post < 0) {
        flows->winch_A = 0.0;
        x->v_V[PR_NODE_WINCH] = x->v_V[def->winch_post];
    }
    flows->limited = bus->paths.alternator_post >= 0 && x->limited;
    if (bus->paths.alternator_post < 0) {
        flows->alternator_A = 0.0;
        x->v_V[PR_NODE_ALTERNATOR] = x->v_V[def->alternator_post];
    }
    flows->link_out_A = flows->link_in_A = 0.0;
    if (bus->paths.joined) {
        flows->link_out_A = plane_after(&x->link_out, x->step_V);
        flows->link_in_A = plane_after(&x->link_in, x->step_V);
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

/* By bracketing, which closes on a jump as well as on a root. */
static RARE pr_status solve_slowly(const pr_bus *bus, const pr_bus_laws *laws,
                                   double node_V[PR_NODES], pr_bus_flows *flows)
{
    double v_V[PR_NODES];
    const pr_status status = pr_bus_bracket(bus, laws, v_V, flows);
    if (status != PR_OK)
        return status;
    for (int p = 0; p < bus->n_posts; p++)
        if (bus->paths.live[p] && !(fabs(pr_bus_residual_A(bus, flows, p)) <= RESIDUAL_MAX_A))
            return PR_ERR_NO_SOLUTION;
    for (int n = 0; n < PR_NODES; n++)
        node_V[n] = v_V[n];
    return PR_OK;
}

static inline void begin(const pr_bus *bus, const double node_V[PR_NODES], newton *x)
{
    for (int n = 0; n < PR_NODES; n++)
        x->v_V[n] = node_V[n];
    for (int p = 0; p < PR_POSTS; p++) {
        x->step_V[p] = 0.0;
        if (!bus->paths.live[p])
            x->v_V[p] = 0.0;
    }
}

pr_status pr_bus_solve(const pr_bus *bus, const pr_bus_laws *laws, double node_V[PR_NODES],
                       pr_bus_flows *flows)
{
    if (!bus->paths.found)
        return PR_ERR_INTERNAL;
    newton x;
    begin(bus, node_V, &x);
    const double done_V = within(bus->accuracy_V, LEAST_DONE_V, MOST_DONE_V);
    bool turned = false;
    for (int n = 1; n <= NEWTON_MAX; n++) {
        const double last_V[PR_POSTS] = {x.step_V[0], x.step_V[1]};
        take_tangents(bus, laws, &x);
        solve_posts(bus, laws, &x);
        const bool turns =
            n > 1 && (x.step_V[0] * last_V[0] < 0.0 || x.step_V[1] * last_V[1] < 0.0);
        bool whole = true;
        if (!(fabs(x.step_V[0]) + fabs(x.step_V[1]) <= STEP_MAX_V) || (turns && turned)) {
            if (!isfinite(x.step_V[0] + x.step_V[1]))
                break;
            whole = cut_steps(x.step_V, last_V);
        }
        turned = turned || turns;
        if (move(bus, laws, &x, flows) <= done_V && whole) {
            hand_out(bus, laws, &x, flows);
            flows->iterations = n;
            for (int k = 0; k < PR_NODES; k++)
                node_V[k] = x.v_V[k];
            return PR_OK;
        }
    }
    return solve_slowly(bus, laws, node_V, flows);
}
