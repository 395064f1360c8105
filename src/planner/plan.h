/* The plan: pulls, rests, engine speed, parts of line; what binds; go or no-go.
 *
 * Limits hold at every instant of every pull and rest: battery reserve, lowest voltage, motor and
 * cable temperature, restart. A rest is in whole seconds and minimal: one second less breaks a
 * limit in a later pull. Searches are deterministic. */
#ifndef PR_PLANNER_PLAN_H
#define PR_PLANNER_PLAN_H

#include "base/diag.h"
#include "planner/scenario.h"

typedef enum pr_plan_kind {
    PR_PLAN_EVEN,      /* the same rest after every pull, the smallest that works */
    PR_PLAN_AS_NEEDED, /* before each pull the smallest rest that lets it stay inside all limits */
    PR_PLAN_SHORTEST, /* pull length, engine speeds and parts chosen for least total time; its rests
                         are as needed, or equal when that is quicker (fuller battery, faster pulls)
                       */
    PR_PLAN_KINDS
} pr_plan_kind;

typedef struct pr_cycle {
    double start_s, pull_s; /* pull_s: as pulled; shorter when it ended at the goal */
    double rest_s;          /* after this pull; 0 after the last */
    bool rerig;             /* the rest includes setting out the rope again */
    double travel_m;        /* at the end of the pull */
    int layer;
    pr_limit binding;     /* which limit made this rest as long as it is; NONE: rest_min */
    pr_stop binding_stop; /* with one second less the pull would end by this; LIMIT: see binding */
    pr_phase_end pull, rest;
    double soc_after_pull_frac, soc_after_rest_frac;
    double rest_edge_s, rest_slope; /* about where the limit is just met, NaN when none binds; pull
                                       seconds won per second there, 0: not known */
    bool rest_presumed; /* with a second less the pull was not tried; never so in a plan of a set */
} pr_cycle;

/* When the meter looks full, how full is the battery? */
typedef struct pr_meter_gap {
    double
        meter_back_s; /* meter within 0.1 V of its reading after an hour, from the end of the pull;
                         NaN: the alternator does not reach its set voltage within the hour */
    double charge_back_frac; /* share of the pull's charge back at that moment */
    double soc_then_frac;
    double full_back_s; /* time until 90 % of the pull's charge is back; NaN: not in an hour */
} pr_meter_gap;

/* What cannot carry the pull, or cannot be rigged. */
typedef enum pr_overloaded {
    PR_OVERLOADED_WINCH,  /* the line needs more than its rated pull in the layer being wound */
    PR_OVERLOADED_ROPE,   /* the line pulls more than breaking force / rope factor */
    PR_OVERLOADED_BLOCK,  /* gets more than its rating */
    PR_OVERLOADED_ANCHOR, /* the same */
    PR_OVERLOADED_REACH   /* the rope does not reach the anchor, and the strap is too short */
} pr_overloaded;

/* Where the way out first asks too much of the rig. */
typedef struct pr_overload {
    double at_m; /* infinite: nowhere */
    pr_overloaded what;
    double need_N, capacity_N; /* there, on what is overloaded */
    double missing_m;          /* of strap, when the rope does not reach */
} pr_overload;

/* How far the anchors are, and what the rope lacks. */
typedef struct pr_reach {
    double anchor_m;     /* at the start, from the vehicle; infinite: no way is given */
    double rope_m;       /* out from the drum then */
    double strap_m;      /* longest between block (or hook) and anchor, of all rigs; 0 none */
    double new_anchor_m; /* way at which the first new anchor is needed; NaN: none */
    double next_m;       /* from one anchor to the next */
} pr_reach;

/* With equal rests only the one before the pull that fails with one second less has a binding. */
typedef struct pr_plan {
    pr_plan_kind kind;
    pr_status status; /* PR_OK; else the search itself failed (never a plausible number) */
    bool go;
    double first_rest_s;    /* engine on, before the first pull; 0 when the start is good enough */
    pr_limit first_binding; /* what asks for it */
    pr_stop first_binding_stop;
    pr_phase_end first_rest; /* zero when there is none */
    bool over_time;          /* no-go because total_max_s passed */
    pr_overload overload;    /* a no-go that ends there by STALL */
    pr_reach reach;
    bool equal_rests;      /* all rests but re-rigs are rest_s */
    bool shortened;        /* pull_s is shorter than asked by default because a limit needs it */
    double pull_s, rest_s; /* asked for; rest_s: even rest, else the longest */
    double pull_rpm, rest_rpm;
    int parts;
    size_t n_cycles;
    pr_cycle *cycles; /* owned; up to where it got when no-go */
    double total_s, travel_m, distance_m;
    pr_limit binding; /* the limit that binds the whole plan: of most rests, then of the last */
    pr_stop binding_stop;
    size_t binding_cycle; /* the last cycle whose rest it sets */
    pr_stop ended_by;     /* no-go: what ended it; TIME: total_max_s or too many cycles */
    pr_limit ended_limit;
    double least_soc_frac, least_box_V, most_armature_degC, least_restart_V, most_anchor_N;
    double most_wire_ratio; /* of all cables: heat above the air, as a share of what it may be */
    int most_wire_run;      /* the cable that is so; -1: none */
    pr_meter_gap meter;     /* after the first pull */
    double charge_error_frac, energy_error_frac; /* ledgers of the plan's own run */
    unsigned long simulations;
    /* as needed: the same with other engine speeds or parts, as far as tried; without cycles */
    size_t n_tried;
    struct pr_plan *tried; /* owned */
} pr_plan;

typedef struct pr_plan_set {
    pr_limits limits; /* to be kept; searched with a guard, see below */
    double reserve_frac,
        reserve_computed_frac; /* used; lowest that still cranks, NaN if even full fails */
    pr_plan plan[PR_PLAN_KINDS];
    double demand_N[PR_CASE_COUNT], fall_line_N[PR_CASE_COUNT], capacity_N; /* at the start */
    bool case_go[PR_CASE_COUNT]; /* does the even plan hold in low, likely, high demand? */
    double case_total_s[PR_CASE_COUNT];
    int parts_needed;          /* fewest parts that move it, whatever the anchor; 0 none */
    unsigned long simulations; /* rests and pulls run for all of it */
} pr_plan_set;

/* Progress, called now and then with a fraction done; returns non-zero to cancel. May be NULL. */
typedef int (*pr_progress_fn)(void *context, double done_frac);

/* Plans all three kinds. PR_OK with go = false is an honest 'no'. diag gets component errors. */
pr_status pr_plan_make(const pr_scenario *scenario, pr_plan_set *set, pr_diag *diag,
                       pr_progress_fn progress, void *progress_context);
/* The same without the cases of demand. */
pr_status pr_plan_make_kinds(const pr_scenario *scenario, pr_plan_set *set, pr_diag *diag);
/* One kind only, with all choices fixed by the plan def (used by risk). */
pr_status pr_plan_make_one(const pr_scenario *scenario, pr_plan_kind kind, pr_plan *plan,
                           pr_plan_set *context, pr_diag *diag);
/* The plan of a kind in kinder or worse ground, made anew, as needed where the shortest is asked
 * for; without its meter gap. In kinder ground the rope stays rigged as it is. `set`: what was made
 * for the scenario. */
pr_status pr_plan_look_out(const pr_scenario *scenario, const pr_plan_set *set, pr_plan_kind kind,
                           pr_case which, pr_plan *plan);
void pr_plan_free(pr_plan *plan);
void pr_plan_set_free(pr_plan_set *set);

/* Simulates a given plan's pulls and rests again (other tolerance, other system): does it hold? */
pr_status pr_plan_replay(const pr_scenario *scenario, const pr_plan *plan, const pr_limits *limits,
                         const pr_run_options *options, const pr_observer *observer, bool *holds,
                         pr_phase_end *worst);

/* Limits of a scenario with everything computed: reserve from cranking, voltage from loads. */
pr_status pr_plan_limits(const pr_scenario *scenario, const pr_system *system, pr_limits *limits,
                         double *reserve_computed_frac);
/* The same, tighter by what a run of hours may err at its tolerance. Rests are searched, and are
 * the smallest, with these, so that a plan also keeps the limits when it is run more exactly. */
pr_limits pr_plan_limits_guarded(const pr_limits *limits);

/* Parts of line that `run` rigs: those given, else those that the plan as needed chooses; 1 when
 * there is nothing to choose. */
pr_status pr_schedule_parts(const pr_scenario *scenario, int *parts);
/* Runs the schedule of the scenario; ends[] gets one entry per phase run. */
pr_status pr_schedule_run(const pr_scenario *scenario, const pr_observer *observer,
                          pr_phase_end *ends, size_t ends_capacity, size_t *n_ends, pr_diag *diag);

#endif
