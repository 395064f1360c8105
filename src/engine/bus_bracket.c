/* The network by nested bracketing: the fallback of bus.c and what the tests compare it with.
 *
 * Every leaf is solved for its own voltage in a bracket that its law gives: a load or the winch
 * lies between 0 and its post, the alternator between its post and its post plus r times what it
 * gives there. So the residual of a post becomes a function of the post's voltage alone, and with
 * two posts that of MAIN becomes a function of MAIN's alone, SECOND solved inside. The root is
 * looked for downwards from 40 V: where constant-power loads leave two, the working one is the
 * higher. */
#include "base/number.h"
#include "base/root.h"
#include "engine/bus.h"

#include <math.h>

static const double TOP_V = 40.0, COARSE_V = 0.5;

typedef struct bracketing {
    const pr_bus *bus;
    const pr_bus_laws *laws;
    double v_V[PR_NODES];
    pr_bus_flows *flows;
    int post;         /* of the leaf or residual that is being solved */
    pr_status status; /* first failure inside */
} bracketing;

static double note_failure(bracketing *b, pr_status status)
{
    if (b->status == PR_OK)
        b->status = status;
    return PR_NAN;
}

static double box_A(bracketing *b, int post, double box_V)
{
    const pr_bus_box *box = &b->bus->box[post];
    double slope_S, sum_A = pr_bus_groups_A(b->bus, box, box_V, &slope_S);
    for (int k = box->first; k < box->first_grouped; k++)
        sum_A += pr_bus_single_A(b->bus, b->laws, k, box_V, &slope_S);
    return sum_A;
}

static double box_defect(double box_V, void *context)
{
    bracketing *b = context;
    return box_V + b->laws->box_ohm[b->post] * box_A(b, b->post, box_V) - b->v_V[b->post];
}

static double winch_defect(double v_V, void *context)
{
    bracketing *b = context;
    double slope_S;
    return v_V + b->laws->winch_ohm * pr_bus_winch_A(b->laws, v_V, &slope_S) - b->v_V[b->post];
}

static double alternator_A(bracketing *b, double v_V)
{
    double slope_S, sense_S;
    const bool remote = pr_bus_senses_post(b->bus);
    return pr_bus_alternator_A(b->bus, b->laws, v_V, remote ? b->v_V[b->post] : v_V, &slope_S,
                               &sense_S, &b->flows->limited);
}

static double alternator_defect(double v_V, void *context)
{
    bracketing *b = context;
    return v_V - b->laws->alternator_ohm * alternator_A(b, v_V) - b->v_V[b->post];
}

static double solve_leaf(bracketing *b, int post, double ohm, pr_scalar_fn defect, double low_V,
                         double high_V)
{
    if (!(ohm > 0.0) || low_V == high_V)
        return b->v_V[post];
    double v_V = PR_NAN;
    b->post = post;
    const pr_status status = pr_root_find(defect, b, low_V, high_V, 0.0, &v_V);
    return status == PR_OK ? v_V : note_failure(b, status);
}

/* Currents of everything on a post at its voltage; the sum, link left out. */
static double settle_post(bracketing *b, int p)
{
    pr_bus_flows *f = b->flows;
    const double post_V = b->v_V[p], low_V = fmin(post_V, 0.0), high_V = fmax(post_V, 0.0);
    double slope_S;
    double gas_S;
    f->battery_A[p] =
        pr_battery_branch_parts_A(&b->laws->battery[p], post_V, &slope_S, &f->gas_A[p], &gas_S);
    const bool level = slope_S == 0.0;
    f->crank_A[p] = pr_bus_crank_A(b->bus, p, post_V, &slope_S);
    b->v_V[PR_NODE_BOX + p] = solve_leaf(b, p, b->laws->box_ohm[p], box_defect, low_V, high_V);
    f->box_A[p] = box_A(b, p, b->v_V[PR_NODE_BOX + p]);
    double sum_A = f->battery_A[p] + f->crank_A[p] + f->box_A[p];
    if (level)
        sum_A += PR_BUS_LEAK_S * post_V;
    if (b->bus->paths.winch_post == p) {
        b->v_V[PR_NODE_WINCH] = solve_leaf(b, p, b->laws->winch_ohm, winch_defect, low_V, high_V);
        sum_A += f->winch_A = pr_bus_winch_A(b->laws, b->v_V[PR_NODE_WINCH], &slope_S);
    }
    if (b->bus->paths.alternator_post == p) {
        b->post = p;
        const double drop_V = b->laws->alternator_ohm * alternator_A(b, post_V);
        const double most_V = drop_V > 0.0 ? post_V + drop_V + 1e-9 : post_V; /* rounding */
        b->v_V[PR_NODE_ALTERNATOR] =
            solve_leaf(b, p, b->laws->alternator_ohm, alternator_defect, post_V, most_V);
        b->post = p;
        sum_A -= f->alternator_A = alternator_A(b, b->v_V[PR_NODE_ALTERNATOR]);
    }
    return sum_A;
}

static double link_A(bracketing *b, int post)
{
    if (!b->bus->paths.joined)
        return 0.0;
    pr_bus_flows *f = b->flows;
    pr_link_currents_A(&b->bus->system->link, b->bus->link_closed, b->laws->link_ohm, b->v_V[0],
                       b->v_V[1], &f->link_out_A, &f->link_in_A, NULL);
    return post == 0 ? f->link_out_A : -f->link_in_A;
}

/* Highest root of a residual, looked for from above. */
static pr_status find_highest(pr_scalar_fn residual, bracketing *b, double *root_V)
{
    double high_V = TOP_V, at_high = residual(high_V, b);
    while (high_V > 0.0) {
        const double low_V = fmax(0.0, high_V - COARSE_V), at_low = residual(low_V, b);
        if (b->status != PR_OK || isnan(at_low) || isnan(at_high))
            return b->status != PR_OK ? b->status : PR_ERR_VALIDITY;
        if ((at_low <= 0.0) != (at_high <= 0.0))
            return pr_root_find(residual, b, low_V, high_V, 0.0, root_V);
        high_V = low_V;
        at_high = at_low;
    }
    return PR_ERR_NO_SOLUTION;
}

static double second_residual(double v_V, void *context)
{
    bracketing *b = context;
    b->v_V[1] = v_V;
    const double sum_A = settle_post(b, 1);
    return sum_A + link_A(b, 1);
}

static double main_residual(double v_V, void *context)
{
    bracketing *b = context;
    b->v_V[0] = v_V;
    double sum_A = settle_post(b, 0);
    if (b->bus->paths.joined) {
        double second_V = PR_NAN;
        /* SECOND's residual rises from below at 0 V to above at the top: one bracket is enough */
        pr_status status = pr_root_find(second_residual, b, 0.0, TOP_V, 0.0, &second_V);
        if (status != PR_OK)
            return note_failure(b, status);
        second_residual(second_V, b);
        sum_A += link_A(b, 0);
    }
    return sum_A;
}

static void fill_boxes(bracketing *b)
{
    for (int p = 0; p < b->bus->n_posts; p++) {
        if (!b->bus->paths.live[p])
            continue;
        const pr_bus_box *box = &b->bus->box[p];
        const double box_V = b->v_V[PR_NODE_BOX + p];
        double slope_S;
        for (int k = box->first; k < box->first_grouped; k++) {
            const double i_A = pr_bus_single_A(b->bus, b->laws, k, box_V, &slope_S);
            b->flows->single_A[k] = i_A;
            b->flows->load_wire_W[p] += b->laws->load_ohm[k] * i_A * i_A;
        }
        b->flows->box_W[p] = box_V * b->flows->box_A[p] - b->flows->load_wire_W[p];
    }
}

pr_status pr_bus_bracket(const pr_bus *bus, const pr_bus_laws *laws, double node_V[PR_NODES],
                         pr_bus_flows *flows)
{
    const pr_system_def *def = &bus->system->def;
    bracketing b = {.bus = bus, .laws = laws, .flows = flows, .status = PR_OK};
    *flows = (pr_bus_flows){.iterations = 0};
    pr_status status = PR_OK;
    double root_V;
    if (bus->paths.live[0]) {
        status = find_highest(main_residual, &b, &root_V);
        if (status == PR_OK)
            main_residual(root_V, &b);
    }
    if (status == PR_OK && bus->paths.live[1] && !bus->paths.joined) {
        status = find_highest(second_residual, &b, &root_V);
        if (status == PR_OK)
            second_residual(root_V, &b);
    }
    if (status == PR_OK)
        status = b.status;
    if (status != PR_OK)
        return status;
    if (bus->paths.winch_post < 0)
        b.v_V[PR_NODE_WINCH] = b.v_V[def->winch_post];
    if (bus->paths.alternator_post < 0)
        b.v_V[PR_NODE_ALTERNATOR] = b.v_V[def->alternator_post];
    fill_boxes(&b);
    for (int n = 0; n < PR_NODES; n++)
        flows->node_V[n] = node_V[n] = b.v_V[n];
    return PR_OK;
}
