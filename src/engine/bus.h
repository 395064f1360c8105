/* The electrical network at one instant: node voltages and currents from the components' laws.
 *
 *     alternator --r-- (post) --r-- (box: loads, each with its own wire)
 *                        |  \
 *                     battery --r-- (winch motor)          (MAIN) --r, link-- (SECOND)
 *
 * Kirchhoff's current law at each post p, with x the leaves that hang on it:
 *     i_battery(V_p) + i_crank + sum_x i_x(v_x) - i_alternator(v_a, sense) +/- i_link(V_0, V_1) = 0
 * and Ohm's law to each leaf, V_p - v_x = r_x i_x (alternator: v_a - V_p = r_a i_a). See bus.c for
 * the method. pr_bus holds what stays the same between two events, pr_bus_laws what follows the
 * state. */
#ifndef PR_ENGINE_BUS_H
#define PR_ENGINE_BUS_H

#include "engine/system.h"

typedef enum pr_node {
    PR_NODE_MAIN,
    PR_NODE_SECOND,
    PR_NODE_BOX,
    PR_NODE_BOX_SECOND,
    PR_NODE_ALTERNATOR,
    PR_NODE_WINCH,
    PR_NODES
} pr_node;

/* What holds the alternator's output. Frozen between events, so that the equations are smooth
 * there; ANY: as the component decides. */
typedef enum pr_field {
    PR_FIELD_ANY,
    PR_FIELD_REGULATED,
    PR_FIELD_FULL,
    PR_FIELD_BLOCKED
} pr_field;

/* A load that is on. Singles are evaluated one by one: own wire, feed resistance or inrush. */
typedef struct pr_bus_load {
    const pr_load *load;
    int index;      /* in the system */
    int wire_at;    /* its wire's temperature in the state vector, -1: no wire of its own */
    double since_s; /* switched on at, tau: counted from the start of the phase */
    int power;      /* in the system\'s power table; -1: as pr_load_current_A says */
    double scale, floor_V;
} pr_bus_load;

/* Loads of one exponent a: together scale V^a, as long as V >= floor_V (see load.c). */
typedef struct pr_bus_group {
    double exponent, scale, floor_V;
    int power;      /* in the system's power table, -1: none */
    int first, end; /* its members are those of load[first..end) with its exponent */
} pr_bus_group;

/* The loads at one post: singles are load[first..first_grouped), then groups. Around the voltage of
 * the last event the groups are one polynomial, the sum of those of their powers; so far from its
 * middle it is right to 1e-9 for exponents from -1 to 4. */
#define PR_BOX_REACH 0.03 /* of the voltage */
typedef struct pr_bus_box {
    int first, first_grouped, end;
    int first_group, end_group;
    double middle_V, reach_V; /* of the polynomial; reach 0: none */
    double sum[PR_POWER_ORDER + 1];
} pr_bus_box;

/* Where current can flow. A post without any source is dead: its voltage is zero. */
typedef struct pr_bus_paths {
    bool found, live[PR_POSTS], joined;
    int winch_post, alternator_post; /* -1: off, not turning, or at a dead post */
} pr_bus_paths;

typedef struct pr_bus {
    const pr_system *system;
    int n_posts;
    bool battery_open[PR_POSTS];
    bool alternator_on, winch_on, link_closed, link_open; /* link_open: cut by a fuse */
    pr_alternator_branch alternator;                      /* what of it does not follow the state */
    pr_bus_paths paths; /* what pr_bus_find_paths finds from the above */
    pr_field field;
    double accuracy_V; /* a Newton step shorter than this is the last; 0: as short as is sensible */
    double crank_A[PR_POSTS];
    pr_bus_box box[PR_POSTS];
    int n_loads;
    pr_bus_load load[PR_LOADS_MAX];
    pr_bus_group group[PR_LOADS_MAX];
} pr_bus;

typedef struct pr_bus_laws {
    double tau_s;
    pr_battery_branch battery[PR_POSTS];
    pr_alternator_branch alternator;
    double box_ohm[PR_POSTS], alternator_ohm, winch_ohm, link_ohm; /* in series; 0: none */
    double winch_A,
        winch_stall_ohm;           /* i = min(winch_A, v / stall), the law of pr_motor_current_A */
    double load_ohm[PR_LOADS_MAX]; /* wires of the singles, as bus.load[] */
    double load_inrush[PR_LOADS_MAX]; /* factor on their current now, as bus.load[] */
} pr_bus_laws;

typedef struct pr_bus_flows {
    double node_V[PR_NODES];
    double battery_A[PR_POSTS], crank_A[PR_POSTS], alternator_A, winch_A;
    double gas_A[PR_POSTS]; /* part of battery_A that does not charge */
    double box_A[PR_POSTS];
    double box_W[PR_POSTS];        /* at the loads' own terminals */
    double load_wire_W[PR_POSTS];  /* in the wires of the singles */
    double single_A[PR_LOADS_MAX]; /* as bus.load[]; only singles are filled */
    double link_out_A, link_in_A;  /* out of MAIN, into SECOND */
    bool limited;                  /* the alternator gives all it can */
    int iterations;
} pr_bus_flows;

/* Conductance to ground of a post whose battery takes no current whatever its voltage
 * (disconnected, too cold to charge, full lithium), so that the voltage is determined where nothing
 * else determines it: below what the ledgers can see. */
#define PR_BUS_LEAK_S 1e-12

/* To be called when the bus has been described, and whenever its switches have changed. */
void pr_bus_find_paths(pr_bus *bus);

/* Solves the network; node_V is the start and takes the solution. Kirchhoff's law holds to 1e-9 A.
 * PR_ERR_NO_SOLUTION: no voltages from 0 to 40 V satisfy it; PR_ERR_VALIDITY: a law gave no number.
 */
pr_status pr_bus_solve(const pr_bus *bus, const pr_bus_laws *laws, double node_V[PR_NODES],
                       pr_bus_flows *flows);

/* The same by nested bracketing only: slow, cannot miss. Used when Newton's method fails, and by
 * the tests. */
pr_status pr_bus_bracket(const pr_bus *bus, const pr_bus_laws *laws, double node_V[PR_NODES],
                         pr_bus_flows *flows);

/* Sum of currents out of a post at given flows; zero but for rounding. */
double pr_bus_residual_A(const pr_bus *bus, const pr_bus_flows *flows, int post);

/* Laws of the leaves, shared by both methods. */
double pr_bus_single_A(const pr_bus *bus, const pr_bus_laws *laws, int k, double box_V,
                       double *slope_S);
/* Current of load[k], one of a group. */
double pr_bus_grouped_A(const pr_bus *bus, int k, double box_V);
/* Current of all groups of a box. */
double pr_bus_groups_A(const pr_bus *bus, const pr_bus_box *box, double box_V, double *slope_S);
/* Sums the groups of a box into a polynomial around a voltage. */
void pr_bus_sum_groups(const pr_bus *bus, pr_bus_box *box, double box_V);
/* Does so if the voltage is not near the middle of the last one. */
void pr_bus_centre_groups(const pr_bus *bus, pr_bus_box *box, double box_V);
double pr_bus_winch_A(const pr_bus_laws *laws, double v_V, double *slope_S);
/* Starter: its current down to the voltage where it no longer turns, below in proportion. */
double pr_bus_crank_A(const pr_bus *bus, int post, double v_V, double *slope_S);
double pr_bus_alternator_A(const pr_bus *bus, const pr_bus_laws *laws, double v_V, double sense_V,
                           double *slope_S, double *sense_slope_S, bool *limited);
/* Whose voltage the regulator looks at: its post's, or the alternator's own. At full field what
 * ends an overshoot looks at the post in any case, see bus.c. */
static inline bool pr_bus_senses_post(const pr_bus *bus)
{
    return bus->field == PR_FIELD_FULL || bus->system->def.alternator.sensing == PR_SENSE_BATTERY;
}

#endif
