/* What would make the recovery possible or quicker: each practical change planned again. */
#ifndef PR_PLANNER_REMEDIES_H
#define PR_PLANNER_REMEDIES_H

#include "planner/plan.h"

typedef enum pr_effort {
    PR_EFFORT_FREE,   /* on the spot, with what is there */
    PR_EFFORT_BORROW, /* needs someone, or something to be fetched */
    PR_EFFORT_BUY     /* parts to fit before the next trip */
} pr_effort;

typedef enum pr_remedy_kind {
    PR_REMEDY_HAND_THROTTLE,
    PR_REMEDY_LOADS_OFF_IN_PULLS,
    PR_REMEDY_LOADS_OFF,
    PR_REMEDY_BLOCK,
    PR_REMEDY_LOWER_LAYER,
    PR_REMEDY_SHORTER_PULLS,
    PR_REMEDY_WARM_BATTERY,
    PR_REMEDY_JUMP,
    PR_REMEDY_SECOND_SWITCH,
    PR_REMEDY_SECOND_RELAY,
    PR_REMEDY_SECOND_DIODE,
    PR_REMEDY_SECOND_CHARGER,
    PR_REMEDY_BIGGER_BATTERY,
    PR_REMEDY_ALTERNATOR_ONE_UP,
    PR_REMEDY_ALTERNATOR_TWO_UP,
    PR_REMEDY_THICKER_CABLE,
    PR_REMEDY_WINCH_FUSE,
    PR_REMEDY_ALL_FREE, /* together, where two or more of the free ones help */
    PR_REMEDY_COUNT
} pr_remedy_kind;

/* The values that were computed with; those of its kind hold. Words are made of them in report. */
typedef struct pr_remedy_change {
    double rpm;               /* HAND_THROTTLE */
    double off_A;             /* LOADS_OFF, also in pulls: what those take */
    bool lamps;               /* LOADS_OFF_IN_PULLS: also what is needed for driving */
    int parts;                /* BLOCK: of line */
    int layer;                /* LOWER_LAYER: that is wound first */
    double anchor_m;          /* LOWER_LAYER: that far away */
    double pull_s, was_s;     /* SHORTER_PULLS */
    double battery_degC;      /* WARM_BATTERY */
    double capacity_Ah;       /* BIGGER_BATTERY */
    double rated_A;           /* ALTERNATOR, SECOND_CHARGER, WINCH_FUSE */
    double was_A;             /* WINCH_FUSE */
    pr_gauge_kind gauge_kind; /* THICKER_CABLE, WINCH_FUSE (whose cable may stay), JUMP */
    double gauge, was_gauge;
    double awg;        /* JUMP: the nearest of the other sizes */
    unsigned together; /* ALL_FREE: 1u << kind of each */
} pr_remedy_change;

typedef struct pr_remedy {
    pr_remedy_kind kind;
    pr_effort effort;
    pr_remedy_change change;
    pr_status status;          /* other than PR_OK: could not be computed; the rest is void */
    bool go, turns_to_go;      /* turns_to_go: it was a no without */
    double total_s, saved_s;   /* saved: against the plan as it stands; NaN unless both are go */
    double travel_m, gained_m; /* gained: how much further a no gets */
    double longest_rest_s, least_soc_frac;
    size_t n_cycles;
    pr_limit binding, ended_limit;
    pr_stop ended_by;
} pr_remedy;

typedef struct pr_remedy_list {
    size_t n;
    pr_remedy remedy[PR_REMEDY_COUNT]; /* best first */
    unsigned long simulations;
} pr_remedy_list;

/* Is there anything to remedy: a no, or rests that a limit makes longer than they need be? */
bool pr_remedies_wanted(const pr_plan *as_needed);

/* Plans each change that applies to the scenario, with rests as needed, and ranks: a no that
 * becomes a go first, then what saves half a minute or more (or gets a no further), then the rest;
 * within each the cheaper effort first, then the larger effect. */
pr_status pr_remedies_find(const pr_scenario *scenario, const pr_plan *as_needed,
                           pr_remedy_list *list, pr_progress_fn progress, void *progress_context);

#endif
