/* The vehicle's electrical system and winch as one description, and its derived, constant form.
 *
 * Network (a tree of at most six nodes, plus the link between the two battery posts):
 *
 *     alternator --wire-- [post] --wire-- fuse box (loads)      post: MAIN or SECOND, each with its
 *                          |  \                                 battery; every attachment names the
 *                       battery --wire-- winch                  post it hangs on
 *
 *     MAIN post --wires, link-- SECOND post
 *
 * Sign: a current is positive INTO the positive terminal of a component. A charging battery is
 * positive, a load and the winch are positive, the alternator is negative in the residual; reports
 * show alternator output as a positive number named `alternator_A`. */
#ifndef PR_ENGINE_SYSTEM_H
#define PR_ENGINE_SYSTEM_H

#include "base/diag.h"
#include "base/status.h"
#include "physics/alternator.h"
#include "physics/battery.h"
#include "physics/cranking.h"
#include "physics/demand.h"
#include "physics/fuse.h"
#include "physics/link.h"
#include "physics/load.h"
#include "physics/motor.h"
#include "physics/rigging.h"
#include "physics/wire.h"

#include <stdint.h>

enum { PR_LOADS_MAX = 48, PR_NAME_MAX = 64, PR_POSTS = 2 };

typedef enum pr_post { PR_POST_MAIN, PR_POST_SECOND } pr_post;

/* Wire runs with a role; the wire of load k is PR_RUN_FIRST_LOAD + k. */
typedef enum pr_run_role {
    PR_RUN_ALTERNATOR, /* alternator to its post */
    PR_RUN_WINCH,      /* post to winch */
    PR_RUN_LOADS,      /* main post to fuse box */
    PR_RUN_LOADS_SECOND,
    PR_RUN_LINK, /* between the posts, in series with the link */
    PR_RUN_FIRST_LOAD,
    PR_RUNS_MAX = PR_RUN_FIRST_LOAD + PR_LOADS_MAX
} pr_run_role;

/* Sets of loads and of wire runs: bit k stands for load or run k. Those of a set of runs from
 * PR_RUN_FIRST_LOAD on are a set of loads. */
typedef uint64_t pr_load_set;
typedef uint64_t pr_run_set;
_Static_assert(PR_RUNS_MAX <= 64, "a set has a bit for each");

static inline uint64_t pr_set_of(int k)
{
    return (uint64_t)1 << k;
}

/* Takes the first out of a set that is not empty. */
static inline int pr_set_take(uint64_t *set)
{
    const int first = __builtin_ctzll(*set);
    *set &= *set - 1;
    return first;
}

typedef struct pr_named_load {
    char name[PR_NAME_MAX];
    pr_load_def def;
    pr_post post;
    bool behind_cutoff; /* switched by the low-voltage cut-off of its post */
} pr_named_load;

typedef struct pr_wire_slot {
    bool present; /* false: no resistance, no heat */
    pr_wire_def def;
    bool has_fuse;
    pr_fuse_def fuse;
} pr_wire_slot;

/* When a hand switch (or hand-forced relay) between the batteries is closed. */
typedef enum pr_switch_rule {
    PR_SWITCH_OPEN,
    PR_SWITCH_CLOSED,
    PR_SWITCH_IN_PULLS, /* joined for pulls, parted in rests */
    PR_SWITCH_IN_RESTS
} pr_switch_rule;

/* What pulls on the rope: computed from the way out, or given. */
typedef enum pr_work_kind { PR_WORK_DEMAND, PR_WORK_CURRENT } pr_work_kind;

typedef struct pr_system_def {
    int cookie;
    double ambient_degC;
    double engine_space_rise_K; /* air near the engine above ambient while it runs, default 20 */
    int n_batteries;            /* 1 or 2 */
    pr_battery_def battery[PR_POSTS];
    double start_soc_frac[PR_POSTS];
    double start_battery_degC[PR_POSTS]; /* NaN: ambient */
    pr_post starter_post;                /* which battery restarts the engine */
    bool has_alternator;
    pr_alternator_def alternator;
    pr_post alternator_post;
    double start_winding_degC;               /* NaN: ambient + air_degC_rise (warm engine) */
    double idle_rpm, fast_idle_rpm, max_rpm; /* engine: idle, hand throttle, highest allowed */
    int n_loads;
    pr_named_load load[PR_LOADS_MAX];
    bool has_cutoff[PR_POSTS];
    pr_cutoff_def cutoff[PR_POSTS];
    pr_wire_slot run[PR_RUNS_MAX];
    pr_link_def link; /* PR_LINK_NONE unless two batteries */
    pr_switch_rule switch_rule;
    bool has_winch;
    pr_motor_def motor;
    pr_post winch_post;
    double start_motor_degC; /* NaN: ambient */
    pr_drum_def drum;
    pr_rig_def rig;
    double rope_out_m;        /* at the start, from the drum; NaN: anchor_distance x parts */
    double anchor_distance_m; /* vehicle to anchor at the start; NaN: the distance to travel */
    pr_work_kind work;
    pr_demand_def demand;
    pr_case demand_case;                 /* which of low, likely, high is simulated */
    double pull_A;                       /* PR_WORK_CURRENT: constant winch amps, or */
    const double *profile_s, *profile_A; /* a measured profile, time from the start of each pull */
    int n_profile;                       /* borrowed arrays, must outlive the system */
    pr_cranking_def cranking;
} pr_system_def;

/* V^a around the middles of cells of the bus voltage, as polynomials: what loads draw without
 * pow(). Half a cell away the fifth order is right to 1e-9 for exponents from -1 to 4. */
enum { PR_POWERS_MAX = 12, PR_POWER_CELLS = 24, PR_POWER_ORDER = 5 };
typedef struct pr_power_table {
    int n; /* different exponents among the loads; more than fit: by pow() */
    double exponent[PR_POWERS_MAX];
    double coefficient[PR_POWERS_MAX][PR_POWER_CELLS][PR_POWER_ORDER + 1];
    int of_load[PR_LOADS_MAX]; /* index of the load's exponent, -1: none */
} pr_power_table;
#define PR_POWER_LOW_V  6.0
#define PR_POWER_CELL_V 0.5

/* Loads that have something in common. */
typedef struct pr_load_sets {
    pr_load_set at_post[PR_POSTS], behind_cutoff, stops_engine;
    pr_load_set duty, thermostat;
    pr_load_set wanted[2][2][2]; /* engine running, pulling, resting: as pr_load_wanted says */
    pr_load_set fed_apart;       /* by a wire or feed resistance of their own */
    pr_load_set inrush;          /* take more at first */
} pr_load_sets;

/* What pr_wire_rates says, as numbers: dT/dt = i^2 (a + b T) - g (T - ambient) + c. */
typedef struct pr_wire_line {
    double a, b, g, c;
} pr_wire_line;

/* Derived once; const afterwards; large, no heap. */
typedef struct pr_system {
    pr_system_def def;
    pr_battery battery[PR_POSTS];
    pr_alternator alternator;
    pr_load load[PR_LOADS_MAX];
    pr_wire wire[PR_RUNS_MAX];
    pr_fuse fuse[PR_RUNS_MAX];
    pr_link link;
    pr_motor motor;
    pr_drum drum;
    pr_wire_line wire_line[PR_RUNS_MAX]; /* by place among the wires of the state vector */
    pr_power_table powers;
    double load_scale[PR_LOADS_MAX]; /* I = scale V^a */
    pr_load_sets loads;
    int n_states; /* length of the flat state vector */
    /* engine-private compiled form (layout, groups of loads ...) is appended by system.c */
    struct pr_layout {
        int battery[PR_POSTS], alternator, motor, travel, ledger;
        int thermostat, n_thermostats, thermostat_load[PR_LOADS_MAX];
        int wire, n_wires, wire_run[PR_RUNS_MAX];
        int fuse, n_fuses, fuse_run[PR_RUNS_MAX];
    } at;
} pr_system;

pr_system_def pr_system_def_default(void);

/* Derives every component. A failing one adds a diagnostic that names it to `diag` (may be NULL).
 */
pr_status pr_system_derive(const pr_system_def *def, pr_system *system, pr_diag *diag);
/* The same for a system that was derived before, with PR_OK: of components whose descriptions are
 * the same, byte by byte, what was derived is kept. */
pr_status pr_system_derive_again(const pr_system_def *def, pr_system *system);
/* Brings its sets of loads up to date; needed where load[] is changed afterwards. */
void pr_system_sort_loads(pr_system *system);

#endif
