/* How sure is the plan? The recovery replayed with uncertain inputs drawn from their spreads:
 * chance that each limit breaks, the rest that is needed, what matters most, the rest that holds
 * with a given chance. Definitions and methods: risk.c. */
#ifndef PR_PLANNER_RISK_H
#define PR_PLANNER_RISK_H

#include "planner/plan.h"
#include "planner/sampling.h"
#include "planner/sensitivity.h"

enum {
    PR_RISK_INPUTS_MAX = PR_SPREADS_MAX + PR_MIRE_BODY + 1, /* mire depths, margin */
    PR_RISK_SAMPLES_MAX = 100000,
    PR_RISK_THREADS_MAX = 64,
    PR_RISK_HOLDS = 2
};

typedef struct pr_risk_options {
    int cookie;
    size_t samples; /* recoveries that the chance is counted from, 2000; 16..PR_RISK_SAMPLES_MAX */
    unsigned long seed;
    int threads; /* 0: one per processor; changes no result */
    pr_sampling_kind sampling;
    double hold_frac[PR_RISK_HOLDS]; /* 0.90, 0.95: rests that hold with these chances */
    double tolerance;                /* of the integration, 1e-5 */
    pr_progress_fn progress;         /* non-zero ends the work: PR_ERR_CANCELLED */
    void *progress_context;
} pr_risk_options;
pr_risk_options pr_risk_options_default(void);

/* An uncertain input. Values are as the scenario stores them (SI). */
typedef struct pr_risk_input {
    pr_spread spread;
    bool is_mire; /* the mire factor of every segment of that depth; spread.offset means nothing */
    pr_mire depth;
    double low, high;               /* its 5 % and 95 % quantile */
    double rest_low_s, rest_high_s; /* rest needed there, all else likely; infinite: none helps */
    pr_sensitivity rest;            /* of the needed rest; NaN when unknown */
} pr_risk_input;

/* Quantiles over the samples; infinite where too many have none. */
typedef struct pr_risk_spread {
    double q05, q50, q90, q95, worst;
} pr_risk_spread;

typedef struct pr_risk_hold {
    double want_frac;
    bool found;         /* false: no rest up to rest_max holds so often */
    double rest_s;      /* whole seconds */
    pr_share verified;  /* how often it held in recoveries drawn anew */
    bool verified_well; /* its share reaches what is wanted, within the 95 % interval */
    pr_risk_spread total_s;
} pr_risk_hold;

typedef struct pr_risk {
    pr_plan plan; /* even plan for the likely values; owned */
    pr_limits limits;
    double rest_s; /* the rest that was judged: the plan's, or rest_max when there is no plan */
    int n_inputs;
    pr_risk_input input[PR_RISK_INPUTS_MAX];
    pr_sampling_kind sampling; /* as used */

    size_t asked, done;  /* recoveries of the plan: wanted, finished */
    size_t not_computed; /* of them: no system, or the solver failed; left out of all shares */
    pr_status why_not;   /* of the first of these */
    pr_share holds;      /* out, with every limit kept */
    pr_share out;        /* out, and the engine could be restarted all the time */
    pr_share breaks[PR_LIMIT_COUNT]; /* this limit was broken at some time */
    pr_share first[PR_LIMIT_COUNT];  /* this limit broke first; NONE: something else did */
    pr_share stuck;                  /* did not get out at all */
    pr_share overload;  /* more than winch, rope, block or anchor bear; part of stuck */
    pr_share over_time; /* not out within the longest time */
    pr_risk_spread least_soc_frac, least_box_V, least_restart_V, most_armature_degC, total_s;

    size_t rest_asked, rest_done;      /* samples whose needed rest was searched */
    pr_share rest_none;                /* no rest helps */
    pr_share rest_enough;              /* the plan's rest or less is enough */
    pr_risk_spread rest, rest_total_s; /* needed rest, s, and the total time with it */
    double *rests; /* sorted needed rests, rest_done - not computed of them; owned */
    size_t n_rests;

    size_t base_rows; /* of the sensitivity design; 0: not done */
    pr_status sensitivity_status;
    pr_risk_hold hold[PR_RISK_HOLDS];
    unsigned long recoveries; /* simulated in all */
    bool cancelled;           /* what is known so far */
} pr_risk;

/* PR_ERR_INPUT with a message in diag: a spread is none, or no number has one. PR_ERR_CANCELLED:
 * *risk holds what is known. */
pr_status pr_risk_find(const pr_scenario *scenario, const pr_risk_options *options, pr_risk *risk,
                       pr_diag *diag);
void pr_risk_free(pr_risk *risk);

#endif
