/* One sampled recovery: inputs set, system derived, plan replayed. Internal to risk. */
#ifndef PR_PLANNER_RISK_RUN_H
#define PR_PLANNER_RISK_RUN_H

#include "planner/job.h"
#include "planner/risk.h"

/* What all samples share; const while threads run. */
typedef struct pr_risk_world {
    const pr_scenario *scenario;
    pr_job job;        /* with the likely values; owns its system */
    pr_limits watched; /* none but the restart, which never ends a phase: extremes only */
    int n_inputs;
    const pr_risk_input *input;
    int parts;
    double first_rest_s, rest_s;
    double slope; /* change of the margin per unit of log rest, near the plan's rest */
} pr_risk_world;

/* One thread's own: no heap is used while samples run. */
typedef struct pr_risk_bench {
    pr_scenario scenario; /* borrows the owned parts */
    pr_system system;
    bool derived; /* the system is whole: the last derivation did not fail */
    pr_job job;
    pr_sim sim, before;
    pr_phase_end end;
    unsigned long recoveries;
} pr_risk_bench;

typedef struct pr_risk_outcome {
    pr_status status; /* other than PR_OK: not computed */
    bool holds, at_goal, overload, over_time;
    pr_stop ended_by; /* TIME or TRAVEL: nothing stopped it */
    pr_limit first;   /* the limit that broke first */
    bool broken[PR_LIMIT_COUNT];
    double margin; /* the tightest, scaled; negative when any is broken; HARD and below: stuck */
    size_t pulls;
    double total_s, travel_m, least_soc_frac, least_box_V, least_restart_V, most_armature_degC;
} pr_risk_outcome;

/* A needed rest: s, infinite when none helps, and the recovery with it. */
typedef struct pr_risk_rest {
    pr_status status;
    double rest_s, total_s, margin, slope; /* of the margin over log rest, there */
} pr_risk_rest;

/* Opens the world for a plan; the inputs must outlive it. */
pr_status pr_risk_world_open(const pr_scenario *scenario, const pr_plan *plan,
                             const pr_limits *limits, const pr_risk_input *input, int n_inputs,
                             double tolerance, pr_risk_world *world);
void pr_risk_world_close(pr_risk_world *world);
void pr_risk_bench_open(const pr_risk_world *world, pr_risk_bench *bench);

/* Sets every input to its quantile and derives the system. */
pr_status pr_risk_bench_set(const pr_risk_world *world, const double *u, pr_risk_bench *bench);
/* Replays the plan with equal rests on the system as set. */
void pr_risk_replay(const pr_risk_world *world, double rest_s, pr_risk_bench *bench,
                    pr_risk_outcome *outcome);
/* Smallest rest with which the recovery holds, to 1 s or 2 %, from its replay at a rest of from_s.
 * What it returns was replayed, and held. */
void pr_risk_rest_find(const pr_risk_world *world, double from_s, const pr_risk_outcome *at_from,
                       pr_risk_bench *bench, pr_risk_rest *rest);

/* Rest needed by a system that is much like another: from its replay at the other's needed rest,
 * extrapolated along the margin. False when they differ too much for that. */
bool pr_risk_rest_guess(const pr_risk_rest *like, const pr_risk_outcome *outcome,
                        pr_risk_rest *rest);

/* The uncertain inputs of a scenario; messages about those that are none go to diag. */
pr_status pr_risk_inputs_list(const pr_scenario *scenario, pr_risk *risk, pr_diag *diag);
/* With one input at either end, the system must still be one; says which input it is about. */
pr_status pr_risk_inputs_check(const pr_risk_world *world, pr_risk_bench *bench, pr_diag *diag);
/* Quantiles at which every input has its likely value. */
void pr_risk_likely_quantiles(const pr_risk_world *world, double *u);

typedef struct pr_risk_counts {
    size_t computed, holds, out, stuck, overload, over_time;
    size_t breaks[PR_LIMIT_COUNT], first[PR_LIMIT_COUNT];
    pr_status why_not; /* of the first that was not computed */
} pr_risk_counts;
pr_risk_counts pr_risk_count(const pr_risk_outcome *outcomes, size_t n);
/* Sorts the values. */
pr_risk_spread pr_risk_spread_of(double *values, size_t n, bool worst_is_low);
/* scratch: room for n numbers. */
pr_risk_spread pr_risk_total_spread(const pr_risk_outcome *outcomes, size_t n, double *scratch);
/* Shares and spreads of the plan's recoveries. */
void pr_risk_tell_chance(const pr_risk_outcome *outcomes, size_t n, double *scratch, pr_risk *risk);

/* Work for threads: task(context, bench, index) for each index; results go where index says. */
typedef void (*pr_risk_task_fn)(void *context, pr_risk_bench *bench, size_t index);
typedef struct pr_risk_pool {
    int threads;
    pr_risk_bench *bench; /* one each; owned */
    pr_progress_fn progress;
    void *progress_context;
    double done_before, done_all; /* units of work in earlier stages, and in all */
} pr_risk_pool;
pr_status pr_risk_pool_open(const pr_risk_world *world, int threads, pr_risk_pool *pool);
void pr_risk_pool_close(pr_risk_pool *pool);
/* Runs n tasks of `unit` units of work each. *done: tasks 0 .. done - 1 are finished. */
pr_status pr_risk_pool_run(pr_risk_pool *pool, pr_risk_task_fn task, void *context, size_t n,
                           double unit, size_t *done);

#endif
