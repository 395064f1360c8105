/* The simulation: copyable state, phases, limits, and the run loop that owns time. */
#ifndef PR_ENGINE_SIM_H
#define PR_ENGINE_SIM_H

#include "engine/system.h"

enum { PR_STATE_MAX = 8 + 2 + 2 + 1 + 32 + PR_LOADS_MAX + 2 * PR_RUNS_MAX };

typedef enum pr_activity {
    PR_REST,       /* engine running, winch still */
    PR_PULL,       /* engine running, winch loaded */
    PR_ENGINE_OFF, /* engine off, winch still */
    PR_PULL_ENGINE_OFF,
    PR_CRANK /* starter engaged: cranking current at the starter post */
} pr_activity;

/* Quadratures kept in the state vector with the same weights as the states: they close. */
typedef enum pr_ledger_item {
    PR_LEDGER_BATTERY0_As,
    PR_LEDGER_BATTERY1_As, /* through the terminal */
    PR_LEDGER_GAS0_As,
    PR_LEDGER_GAS1_As, /* part that does not charge */
    PR_LEDGER_ALTERNATOR_As,
    PR_LEDGER_WINCH_As,
    PR_LEDGER_LOADS_As,
    PR_LEDGER_CRANK_As,
    PR_LEDGER_LINK_LOSS_As, /* out of MAIN less into SECOND (charger) */
    PR_LEDGER_ALTERNATOR_J,
    PR_LEDGER_LOADS_J,
    PR_LEDGER_CRANK_J,
    PR_LEDGER_WINCH_J, /* electrical, at the motor */
    PR_LEDGER_ROPE_J,  /* mechanical, at the rope */
    PR_LEDGER_MOTOR_HEAT_J,
    PR_LEDGER_WIRE_HEAT_J,
    PR_LEDGER_LINK_HEAT_J,
    PR_LEDGER_BATTERY0_J,
    PR_LEDGER_BATTERY1_J, /* into the terminal */
    PR_LEDGER_BATTERY0_HEAT_J,
    PR_LEDGER_BATTERY1_HEAT_J,
    PR_LEDGER_FULL_OUTPUT_s, /* time the alternator gave more than 90 % of what was available */
    PR_LEDGER_COUNT
} pr_ledger_item;

typedef enum pr_limit {
    PR_LIMIT_NONE,
    PR_LIMIT_RESERVE, /* state of charge of the starter battery */
    PR_LIMIT_VOLTAGE, /* fuse box voltage that stops the engine */
    PR_LIMIT_MOTOR_HEAT,
    PR_LIMIT_CABLE_HEAT,
    PR_LIMIT_RESTART, /* cranking would fail now */
    PR_LIMIT_COUNT
} pr_limit;
const char *pr_limit_name(pr_limit limit); /* "battery reserve", "voltage", "motor heat", ... */

typedef struct pr_limits {
    bool on[PR_LIMIT_COUNT];
    double reserve_frac;
    double bus_min_V;
    double motor_max_degC;
    double wire_max_degC_margin; /* stay this far below each insulation limit, K, default 0 */
    double restart_margin_V;     /* above cranking.min_V, default 0 */
} pr_limits;
/* Limits off except those that always hold; reserve NaN = to be computed by the planner. */
pr_limits pr_limits_default(const pr_system *system);

/* Why a phase ended. */
typedef enum pr_stop {
    PR_STOP_TIME,         /* its duration passed */
    PR_STOP_TRAVEL,       /* reached the distance asked for */
    PR_STOP_LIMIT,        /* see limit */
    PR_STOP_STALL,        /* the winch cannot move this load at this voltage */
    PR_STOP_FUSE,         /* a fuse in the winch or main path opened */
    PR_STOP_ROPE,         /* rope all in, or at its reserve wraps; or at the anchor */
    PR_STOP_CONTACTOR,    /* the winch contactor dropped out */
    PR_STOP_ENGINE,       /* the load that keeps the engine alive dropped out */
    PR_STOP_BATTERY_OPEN, /* a management system disconnected the battery that feeds the winch */
    PR_STOP_FAILED        /* solver failure: status tells */
} pr_stop;
const char *pr_stop_name(pr_stop stop);

/* Discrete part of the state. Plain data. */
typedef struct pr_modes {
    bool excited, link_closed, contactor_open, engine_dead, rig_at_stop;
    int link_pending; /* +1 closing, -1 opening, 0 none */
    double link_due_s;
    bool cutoff_open[PR_POSTS];
    int cutoff_pending[PR_POSTS];
    double cutoff_due_s[PR_POSTS];
    bool battery_open[PR_POSTS];
    int bms_pending[PR_POSTS];
    double bms_due_s[PR_POSTS];
    int bms_reason[PR_POSTS]; /* pr_battery_event that opens or opened it */
    pr_run_set fuse_open;
    pr_load_set load_dropped, thermostat_on;
    pr_load_set load_on;                 /* switched on, as of the last event */
    pr_load_set load_held;               /* chattered: stays dropped for the rest of the phase */
    double load_dropped_s[PR_LOADS_MAX]; /* dropped out at */
    double load_since_s[PR_LOADS_MAX];   /* switched on at; for inrush */
    unsigned link_switches;              /* hunting counter */
} pr_modes;

/* A checkpoint is a copy of this. */
typedef struct pr_sim {
    double y[PR_STATE_MAX];
    pr_modes modes;
    double origin_s; /* start of the current phase; t = origin + n h + offset, never summed */
    double time_s;
    double phase_start_s;
    double rope_out_at_rig_m,
        travel_at_rig_m; /* rope out = at_rig - parts (travel - travel_at_rig) */
    pr_activity activity;
    double engine_rpm;
    double node_V[6];     /* warm start of the bus */
    double begun_V[5][6]; /* by activity: what it was when such a phase began last, 0: never */
    double step_s[5];     /* by activity: good first step of a phase */
    int field[5];         /* regime of the alternator in which such a phase began last */
    unsigned long n_steps, n_rejected, n_bus_solves, n_events;
} pr_sim;

typedef struct pr_phase {
    pr_activity activity;
    double engine_rpm;
    double duration_s;              /* > 0; upper bound */
    double stop_travel_m;           /* pulls: stop at this distance; NaN none */
    unsigned long load_off_mask_lo; /* loads 0..63 switched off by hand in this phase */
} pr_phase;

/* Everything a report can ask of one instant; computed, not stored. */
typedef struct pr_outputs {
    double time_s, engine_rpm;
    double post_V[PR_POSTS], box_V[PR_POSTS], alternator_V, winch_V, set_V;
    double battery_A[PR_POSTS], alternator_A, alternator_available_A, winch_A, loads_A, link_A,
        crank_A;
    double load_A[PR_LOADS_MAX], run_A[PR_RUNS_MAX];
    double soc_frac[PR_POSTS], surface_frac[PR_POSTS], battery_degC[PR_POSTS];
    double winding_degC, armature_degC, case_degC, run_degC[PR_RUNS_MAX];
    double travel_m, rope_out_m, rope_mps, pull_N, capacity_N, restart_V, shaft_W;
    int layer;
    bool limited; /* alternator at full field, ramp or belt */
} pr_outputs;

typedef struct pr_extremes {
    double least_soc_frac, least_box_V, least_post_V, most_armature_degC, most_wire_degC,
        least_restart_V, most_winch_A, most_link_A, most_anchor_N;
    int most_wire_run;      /* which run came closest to its insulation limit */
    double most_wire_ratio; /* (T - ambient) / (insulation - ambient) there */
} pr_extremes;

/* Of nothing yet, and of what the vehicle does not have or was not watched: a least is
 * infinite or, of restarts, NaN; a most is minus infinite, of amps and newtons 0. */
pr_extremes pr_extremes_none(void);
/* Takes in those of another phase. */
void pr_extremes_merge(pr_extremes *all, const pr_extremes *one);

typedef struct pr_phase_end {
    pr_stop stop;
    pr_limit limit;
    int which;                          /* load, run or battery index the stop is about; -1 none */
    pr_activity activity;               /* of the phase */
    double duration_s, travel_m;        /* of this phase */
    double full_output_s;               /* of it, alternator above 90 % of what it could give */
    unsigned link_switches, link_opens; /* the link's moves; those of them that open it */
    bool engine_died;                   /* whatever the stop */
    pr_extremes extremes;
    pr_outputs first, last; /* just after the start, just before the end; zero if not wanted */
} pr_phase_end;

/* Called at every record time, at both ends of a phase and at each event; may be NULL. Returning
 * non-zero cancels the run (PR_ERR_CANCELLED). */
typedef int (*pr_observer_fn)(void *context, const pr_system *system, const pr_outputs *outputs,
                              const char *event);
typedef struct pr_observer {
    pr_observer_fn fn;
    void *context;
    double interval_s; /* > 0; dense output, does not change the steps */
} pr_observer;

typedef enum pr_stepper {
    PR_STEPPER_EMBEDDED,
    PR_STEPPER_REFERENCE
} pr_stepper; /* reference: GSL */
typedef struct pr_run_options {
    pr_stepper stepper;
    double tolerance;        /* relative local error per step, 1e-6 default; 1e-12..1e-3 */
    unsigned long max_steps; /* per phase, default 100000 */
    bool with_outputs;       /* first and last of the phase's end are wanted, default true */
} pr_run_options;
pr_run_options pr_run_options_default(void);

/* Rested system at its start state. */
pr_status pr_sim_start(const pr_system *system, pr_sim *sim);
/* Runs one phase from the present state to its end. Deterministic. Any failure of a solver is a
 * status and stop = PR_STOP_FAILED; sim is then as it was at the last accepted step. */
pr_status pr_sim_run(const pr_system *system, pr_sim *sim, const pr_phase *phase,
                     const pr_limits *limits, const pr_run_options *options,
                     const pr_observer *observer, pr_phase_end *end);
/* Rope set out again to `rope_out_m` (re-rig); time passes in the rest phase the planner adds. */
void pr_sim_rerig(const pr_system *system, pr_sim *sim, double rope_out_m);
/* Outputs at the present state with an activity (solves the bus). */
pr_status pr_sim_outputs(const pr_system *system, const pr_sim *sim, pr_activity activity,
                         pr_outputs *outputs);
/* Margin of each limit (> 0 inside) at given outputs; NaN when the limit is off. */
double pr_limit_margin(const pr_system *system, const pr_limits *limits, pr_limit limit,
                       const pr_outputs *outputs);
double pr_sim_ledger(const pr_system *system, const pr_sim *sim, pr_ledger_item item);
/* Largest relative closing error of the charge and of the energy ledger since the start; start is
 * the sim as pr_sim_start gave it. Relative to all that passed, but at
 * least to 100 As and 1 kJ. */
void pr_sim_ledger_error(const pr_system *system, const pr_sim *start, const pr_sim *now,
                         double *charge_frac, double *energy_frac);

#endif
