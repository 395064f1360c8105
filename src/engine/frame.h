/* What stays the same between two events, and the derivatives of the state there.
 *
 * A frame is built from the modes (what is switched on, closed, open) after every event; within it
 * the right-hand side is smooth. Time within a phase is tau, counted from the phase's start. */
#ifndef PR_ENGINE_FRAME_H
#define PR_ENGINE_FRAME_H

#include "engine/bus.h"
#include "engine/sim.h"

typedef struct pr_frame {
    const pr_system *system;
    pr_bus bus;
    double origin_s; /* time at tau = 0 */
    double engine_rpm;
    bool engine_running, pulling;
    bool moving; /* the winch winds against a demand; else it draws a given current */
    int layer;
    double resistance_N, fall_line_N; /* load resistance; winch line */
    double pull_N, pull_A;            /* first-layer pull and its amps (demand) */
    double ratio, rope_per_travel;
    double change_m;   /* travel at which demand or layer changes; infinite: never */
    double rope_end_m; /* travel at which the rope is all in */
    double thermostat_K_per_s[PR_LOADS_MAX];
    int wire_at[PR_RUN_FIRST_LOAD]; /* by main run: its wire in the state vector, -1: none */
    int n_main_wires;               /* wires before those of loads */
    int place[PR_LOADS_MAX];        /* by load: where it is in bus.load[], -1: off */
    bool has_loads;                 /* what is said of loads and wires holds for these: */
    pr_load_set loads_on, singles;  /* on, and of them not in a group */
    double dropout_V[PR_POSTS];     /* highest of those in groups; -infinite: none drops out */
    double crank_A;
} pr_frame;

/* Everything at one instant of a frame. */
typedef struct pr_instant {
    double tau_s;
    pr_bus_laws laws;
    pr_bus_flows flows;
    double pull_N, speed_mps; /* of the first layer: now */
} pr_instant;

/* Loads that their conditions ask for, and those of them that cycle and supply let be on. */
pr_load_set pr_frame_loads_wanted(const pr_system *system, const pr_sim *sim,
                                  const pr_phase *phase);
pr_load_set pr_frame_loads_on(const pr_system *system, const pr_sim *sim, const pr_phase *phase);
bool pr_frame_engine_runs(const pr_sim *sim, const pr_phase *phase);
bool pr_frame_pulls(const pr_phase *phase);

/* Builds the frame of the present modes; y and time from the sim. One that has loads keeps them if
 * the same are on: it was built earlier in this phase, and they have been on since. */
void pr_frame_build(const pr_system *system, const pr_sim *sim, const pr_phase *phase,
                    double accuracy_V, pr_frame *frame);

/* Laws, bus and winch at a state; node_V is the warm start and takes the solution. */
pr_status pr_frame_solve(const pr_frame *frame, double tau_s, const double y[],
                         double node_V[PR_NODES], pr_instant *at);
/* Solves, finds which regime the alternator is in, and freezes it. `guess`: regime to try first. */
pr_status pr_frame_settle_field(pr_frame *frame, pr_field guess, double tau_s, const double y[],
                                double node_V[PR_NODES], pr_instant *at);
/* The laws of the regimes agree where they meet; only this far beyond counts as having crossed. */
#define PR_FIELD_SLACK_V 1e-6
/* Margin, V, before the alternator leaves its frozen regime for another; negative: it has left. */
double pr_frame_field_margin_V(const pr_frame *frame, pr_field leaves_to, const pr_instant *at);
/* Derivatives of every state and of the ledger at an instant that has been solved. */
void pr_frame_rates(const pr_frame *frame, const double y[], const pr_instant *at, double dy[]);
/* Alternator output above 90 % of what it could give: positive counts as full output. Not smooth,
 * so its time is kept by the run loop and not integrated with the states. */
double pr_frame_full_output_A(const pr_frame *frame, const pr_instant *at);
/* Current of a wire run at an instant (the larger side of a charger). */
double pr_frame_run_A(const pr_frame *frame, const pr_instant *at, int run);
/* Current of any load at an instant; 0 when it is off. */
double pr_frame_load_A(const pr_frame *frame, const pr_instant *at, int load);
/* Voltage at the terminals of bus.load[k]. */
double pr_frame_load_V(const pr_frame *frame, const pr_instant *at, int k);
/* Index of the last point of the current profile at or before tau; -1: before the first. */
int pr_profile_interval(const pr_system_def *def, double tau_s);
pr_battery_state pr_state_battery(const pr_system *system, const double y[], int post);
double pr_frame_rope_out_m(const pr_system *system, const pr_sim *sim, double travel_m);

#endif
