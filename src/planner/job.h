/* One recovery with all choices made: the system as rigged, limits, pull length, engine speeds.
 * Runs single attempts (rest, then pull) from checkpoints and records the route. Internal to the
 * planner. */
#ifndef PR_PLANNER_JOB_H
#define PR_PLANNER_JOB_H

#include "planner/plan.h"
#include "planner/search.h"

enum { PR_CYCLES_MAX = 1000, PR_GUIDES_MAX = 12 };

/* The rests of an earlier route; see guide.c. */
typedef struct pr_guide_mark {
    double travel_m, edge_s, slope; /* after a pull; edge NaN: no limit set that rest */
    pr_limit limit;                 /* that set it */
} pr_guide_mark;

typedef struct pr_guide {
    int parts;
    double pull_s, pull_rpm, rest_rpm;
    size_t n;
    pr_guide_mark *mark; /* owned */
} pr_guide;

typedef struct pr_job {
    pr_system *system; /* owned; parts of line, case and rope out as this job has them */
    pr_plan_def plan;
    pr_limits asked;  /* to be kept */
    pr_limits limits; /* the same with a guard: what is searched with */
    pr_limits
        first_limits; /* in a rest before the first pull: charge may be below its limits yet */
    double reserve_computed_frac;
    pr_run_options options;
    double pull_s, pull_rpm, rest_rpm;
    double distance_m;   /* the goal; infinite when pulls are counted */
    double rope_given_m; /* rope out as the scenario gives it; NaN: from the anchor */
    pr_overload overload;
    double give_up_s; /* a route longer than this is of no use */
    bool presume;     /* searches may presume that a second less fails: see search.h */
    pr_sim start;
    pr_progress_fn progress;
    void *progress_context;
    double done_frac;
    unsigned long simulations;
    int n_guides;
    pr_guide guide[PR_GUIDES_MAX]; /* oldest first */
} pr_job;

/* Rest from a checkpoint, then pull. */
typedef struct pr_attempt {
    pr_sim after;
    bool rested, pulled;     /* pulled: the rest broke no limit */
    pr_phase_end rest, pull; /* zero when it was not run */
    bool at_goal;
    pr_trial trial;
} pr_attempt;

/* Pulls and rests so far, with a checkpoint after each pull. */
typedef struct pr_route {
    size_t n, capacity;
    pr_cycle *cycles;
    pr_sim *after;
    double first_rest_s;
    pr_limit first_binding;
    pr_stop first_binding_stop;
    bool first_presumed; /* as pr_cycle.rest_presumed */
    pr_phase_end first_rest;
    double end_s;
    bool go, over_time, gave_up, equal_rests;
    pr_stop ended_by;
    pr_limit ended_limit;
} pr_route;

/* Derives the scenario's system, its limits and choices as the plan def fixes them (parts 1 when it
 * leaves them open). A job that was opened is closed by pr_job_close, also after a failure. */
pr_status pr_job_open(const pr_scenario *scenario, pr_job *job, pr_diag *diag);
void pr_job_close(pr_job *job);
/* Rigs the line with so many parts for a case of demand, and starts anew. */
pr_status pr_job_rig(pr_job *job, int parts, pr_case which);
/* Fewest parts (1..4) whose line never needs more than winch, rope and block bear; 0 none. */
int pr_job_parts_needed(const pr_job *job, pr_case which);

/* How the rope is set out at a place of the way (anchors.c). */
typedef struct pr_rigged {
    double anchor_m;  /* from the vehicle; infinite: no way is given */
    double rope_m;    /* out from the drum */
    double strap_m;   /* between block (or hook) and anchor */
    double missing_m; /* more of it than is on board; 0: enough, or not known what there is */
    int anchor;       /* 0 the first, 1 the next ... */
} pr_rigged;
pr_rigged pr_job_rigged(const pr_job *job, const pr_rig_def *rig, double travel_m);
/* Times that the rope must be set out from here on. */
long pr_job_rigs_left(const pr_job *job, double travel_m);
/* Sets the rope out again where the vehicle is. */
void pr_job_rerig(const pr_job *job, pr_sim *sim);
/* All rigs of a route so far. */
pr_reach pr_job_reach(const pr_job *job, const pr_cycle *cycles, size_t n_cycles);
/* Where winch, rope, block or anchor first get too much, or the rope does not reach; `all` false:
 * whatever the anchor. */
pr_overload pr_job_overload(const pr_job *job, const pr_rig_def *rig, pr_case which, bool all);
double pr_job_default_rpm(const pr_job *job);

/* Settles how a pull ended: one that stopped by the clock and leaves rope for less than a pull of
 * its own has ended the rope, which is then set out again. */
void pr_job_settle_pull(const pr_job *job, pr_phase_end *pull);
pr_status pr_job_attempt(pr_job *job, const pr_sim *from, double rest_s, bool first, bool rerig,
                         pr_attempt *attempt);

void pr_route_clear(pr_route *route); /* keeps its memory */
void pr_route_free(pr_route *route);
pr_status pr_route_copy(const pr_route *from, pr_route *to);
/* Appends an attempt and the rest that came before it; `below`: the failed attempt with one second
 * less, or NULL. */
pr_status pr_route_add(pr_route *route, const pr_job *job, const pr_attempt *attempt, double rest_s,
                       bool rerig, const pr_trial *below);
/* True when the last pull left no rope to wind. */
bool pr_route_needs_rerig(const pr_route *route);
double pr_route_travel_m(const pr_route *route);
/* Shortest rest allowed after the last pull, whole seconds, and longest. */
long pr_route_rest_min_s(const pr_route *route, const pr_job *job);
long pr_route_rest_max_s(const pr_route *route, const pr_job *job);

/* Keeps the rests between n cycles, planned with the choices of `like`, as a guide; the oldest one
 * makes room. */
void pr_job_add_guide(pr_job *job, const pr_guide *like, const pr_cycle *cycles, size_t n);
void pr_job_free_guides(pr_job *job);
/* The guide that is most like the job as it stands; NULL when there is none with as many parts. */
const pr_guide *pr_job_find_guide(const pr_job *job);
/* About where the edge of the rest after the last pull of the route will be: the mark for it, whose
 * slope is 0 when it is not known. */
bool pr_guide_rest(const pr_guide *guide, const pr_job *job, const pr_route *route,
                   pr_guide_mark *mark);

/* What there is to tell of a route as a plan, whose cycles stay the route's; no ledgers. */
void pr_plan_tell_route(pr_plan *plan, pr_plan_kind kind, const pr_job *job, const pr_route *route);
/* Moves the route into a plan; the route is empty afterwards. */
void pr_plan_take_route(pr_plan *plan, pr_plan_kind kind, const pr_job *job, pr_route *route);

/* Rests (rests.c). PR_OK with route->go = false is an honest no. */
pr_status pr_rests_as_needed(pr_job *job, pr_route *route);
/* Tries what the search presumed, and searches without presuming when it was wrong. For the route
 * as the job stands. */
pr_status pr_rests_prove(pr_job *job, pr_route *route);
/* Looks for the even rest near what `as_needed` suggests; takes its first rest over. */
pr_status pr_rests_even(pr_job *job, const pr_route *as_needed, pr_route *route);
/* The recovery with equal rests of rest_s after a first rest of first_rest_s, to its end. */
pr_status pr_rests_run_even(pr_job *job, double first_rest_s, long rest_s, pr_route *route,
                            pr_trial *trial);

/* Plan without its meter gap, with rests as the searches presume, for one of many variants
 * (plan.c). `like`: a plan as needed of much the same recovery, which aims the searches; or NULL.
 * The plan is freed by the caller, also after a failure. */
pr_status pr_plan_make_variant(const pr_scenario *scenario, pr_plan_kind kind, const pr_plan *like,
                               pr_plan *plan);

/* When the meter looks full (meter.c); after the first pull of the route. */
pr_status pr_meter_gap_find(pr_job *job, const pr_route *route, pr_meter_gap *gap);

/* What is planned before the shortest, with the job as it stands then. */
typedef struct pr_known {
    pr_plan *as_needed; /* keeps what was tried with its pull length */
    const pr_plan *even;
    const pr_route *route; /* of as_needed */
} pr_known;

/* Chooses pull length, speeds and parts for least time (shortest.c); exact: what searches presumed
 * of the best is tried. The job is left as chosen. */
pr_status pr_shortest_find(pr_job *job, int first_parts, bool exact, const pr_known *known,
                           pr_route *route);

#endif
