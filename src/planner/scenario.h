/* What one scenario file says, typed and in SI: the system, the plan wanted, a schedule, spreads.
 * The reader fills it; planner and reports use it. */
#ifndef PR_PLANNER_SCENARIO_H
#define PR_PLANNER_SCENARIO_H

#include "engine/sim.h"

enum { PR_TEXT_MAX = 200, PR_SCHEDULE_MAX = 200, PR_SPREADS_MAX = 64, PR_SITUATIONS_MAX = 12 };

/* What the planner may choose and must respect. NaN = planner decides. */
typedef struct pr_plan_def {
    int cookie;
    double pull_s;                 /* length of a pull; NaN: 30 s, shorter if a limit asks for it */
    double pull_min_s, pull_max_s; /* choices of the shortest plan: 10..60 */
    double rest_min_s;             /* 15: handling the rope takes that anyway */
    double rest_max_s;             /* 1800 for one rest */
    double total_max_s;            /* 4 h */
    double pull_rpm, rest_rpm;     /* engine; NaN: fast idle in both */
    int blocks;                    /* pulley blocks at hand: parts of line up to blocks + 1 */
    int parts;                  /* 0: fewest that pull it, more if that saves a tenth of the time */
    int pulls;                  /* 0: until the distance is done; else so many pulls are the job */
    double rerig_s;             /* time to set out the rope again, 600 */
    double extension_m;         /* strap on board for between block and anchor; NaN: unknown */
    double next_anchor_m;       /* from one anchor to the next; NaN: as far as to the first */
    double rope_factor;         /* breaking force over the line's pull, at least; 1.25 */
    double reserve_frac;        /* NaN: computed from cranking */
    double reserve_margin_frac; /* added to a computed reserve, 0.10 */
    double bus_min_V;      /* NaN: highest drop-out of an engine-stopping load + 0.3, else 10.5 */
    double motor_max_degC; /* NaN: the motor's class limit less 15 K */
} pr_plan_def;
pr_plan_def pr_plan_def_default(void);

/* A line of the schedule that `run` simulates. */
typedef struct pr_schedule_entry {
    pr_phase phase;
    int repeat; /* the group of entries with the same group number is repeated so often */
    int group;
} pr_schedule_entry;

typedef enum pr_spread_kind {
    PR_SPREAD_TRIANGLE,
    PR_SPREAD_NORMAL,
    PR_SPREAD_UNIFORM
} pr_spread_kind;
/* An uncertain number: where it lives in pr_scenario, and how it spreads (SI units). */
typedef struct pr_spread {
    char key[PR_NAME_MAX]; /* "battery.health", "recovery.weight" ... */
    size_t offset;         /* of a double in pr_scenario */
    pr_spread_kind kind;
    double low, likely, high;  /* triangle and uniform; normal: limits and mean */
    double sd;                 /* normal only */
    const char *unit, *stored; /* in which files have it, and in which it stands here; NULL: none,
                                  and the same */
    bool from_catalogue;
} pr_spread;

/* A number that the file did not give: shown, so that nobody trusts a default unknowingly. */
typedef struct pr_assumption {
    char key[PR_NAME_MAX];
    char value[PR_TEXT_MAX], source[PR_TEXT_MAX];
} pr_assumption;

/* A maker's table that a component was fitted to, and how far from it the nearest one is. */
typedef struct pr_table_fit {
    char key[PR_NAME_MAX]; /* "battery.discharge_table" */
    int n_points;
    double rms;   /* root mean square over the points: share of the time, or A */
    bool of_time; /* of a battery; else of a winch's amps */
} pr_table_fit;

/* A situation of `budget`: which loads are on, how fast the engine turns, how warm it is. */
typedef struct pr_situation {
    char name[PR_NAME_MAX];
    bool load_on[PR_LOADS_MAX];
    double engine_rpm, ambient_degC;
    bool hot; /* alternator at its steady hot temperature; else cold */
} pr_situation;

typedef struct pr_scenario {
    char path[PR_TEXT_MAX], title[PR_TEXT_MAX], question[PR_TEXT_MAX];
    pr_system_def system;
    bool no_recovery; /* the file says not what to do: it can be budgeted and read, not planned */
    char battery_name[PR_POSTS][PR_NAME_MAX], alternator_name[PR_NAME_MAX], winch_name[PR_NAME_MAX],
        surface_name[PR_NAME_MAX];
    pr_plan_def plan;
    int n_schedule;
    pr_schedule_entry schedule[PR_SCHEDULE_MAX];
    int n_spreads;
    pr_spread spread[PR_SPREADS_MAX];
    int n_situations;
    pr_situation situation[PR_SITUATIONS_MAX];
    int n_fits;
    pr_table_fit fit[PR_POSTS + 1]; /* batteries and winch */
    size_t n_assumptions;
    pr_assumption *assumption; /* owned */
    double *profile;           /* owned storage behind system.profile_* */
} pr_scenario;

pr_scenario pr_scenario_default(void);
void pr_scenario_free(pr_scenario *scenario);

#endif
