/* How sure is the plan?
 *
 * What is asked: the even plan for the likely values (the rest that a driver can remember), carried
 * out with a vehicle, battery, ground ... whose uncertain numbers are drawn from their spreads, all
 * independent of each other. The limits stay those of the plan.
 *
 *   1. chance       N recoveries by the plan. `holds`: out with every limit kept. A plan takes the
 *                   smallest rest that keeps the limits, so about as many recoveries break one a
 *                   little as do not; `out` is what matters in the end: out, and the engine could
 *                   be restarted at every instant.
 *   2. needed rest  for the first of these samples, the smallest rest that would have held
 *   3. sensitivity  Sobol indices of the logarithm of the needed rest (a rest twice as long counts
 *                   the same wherever it starts, and the few longest do not drown the others);
 *                   and the rest needed with one input at its 5 % or 95 % quantile, all else likely
 *   4. hold         the quantile of the needed rest as a plan, checked on recoveries drawn anew;
 *                   when it holds less often than wanted there, the next higher quantiles
 *
 * How much of each, of N samples: every sample for the chance; a fourth of them, at least 64, for
 * the needed rest: its 95 % quantile then lies within some 2 points, as wide as the interval of the
 * hold that is checked on a half; a row of the design for each 7, up to 256: the least with which
 * totals of a tenth stand out from their error (measured on scenarios over seeds); then one for
 * each 16, because a row costs as much as there are inputs. Rows are a power of two, for Sobol.
 *
 * A needed rest that does not exist counts as infinite in quantiles and as rest_max in the indices,
 * which need finite numbers. A recovery that cannot be computed is left out and counted.
 *
 * Points of each stage are drawn before its threads start, and results are gathered in the order of
 * their index afterwards. */
#include "planner/risk.h"

#include "base/number.h"
#include "planner/risk_run.h"

#include <gsl/gsl_errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { STREAM_CHANCE, STREAM_SENSITIVITY, STREAM_HOLD, HOLD_TRIES = 4 };
/* Shares of the samples, and least and most of each stage: see the block above. */
enum {
    REST_SHARE = 4,
    REST_LEAST = 64,
    HOLD_SHARE = 2,
    HOLD_LEAST = 64,
    ROW_SHARE = 7,
    ROW_SHARE_BEYOND = 16,
    ROWS_USUAL = 256,
    ROWS_LEAST = 16
};
/* recoveries that one search for a needed rest takes; only for the estimate of the time left */
static const double SEARCH_UNITS = 4.5, ROW_UNITS = 2.5;

typedef struct study {
    const pr_scenario *scenario; /* with the likely case of demand */
    const pr_risk_options *options;
    pr_risk *risk;
    pr_risk_world world;
    pr_risk_pool pool;
    size_t k, n_rest, n_base, n_verify;
    double *points; /* of the stage that runs */
    pr_risk_outcome *outcomes;
    pr_risk_rest *rests;
    double rest_s; /* of the hold that is checked */
    size_t n_seen; /* points whose needed rest is known and that no design ties together */
    double *seen, *seen_values;
} study;

pr_risk_options pr_risk_options_default(void)
{
    return (pr_risk_options){.cookie = PR_DEF_COOKIE,
                             .samples = 2000,
                             .seed = 1,
                             .sampling = PR_SAMPLING_SOBOL,
                             .hold_frac = {0.90, 0.95},
                             .tolerance = 1e-5};
}

static bool options_are_sound(const pr_risk_options *o)
{
    bool sound = o->samples >= 16 && o->samples <= PR_RISK_SAMPLES_MAX && o->tolerance >= 1e-9 &&
                 o->tolerance <= 1e-3 && o->threads >= 0;
    for (int i = 0; i < PR_RISK_HOLDS; i++)
        sound = sound && o->hold_frac[i] > 0.0 && o->hold_frac[i] < 1.0;
    return sound;
}

static pr_status draw(study *s, unsigned stream, size_t n, size_t dims, pr_sampling_kind *kind)
{
    pr_sampling *sampling;
    free(s->points);
    s->points = malloc(n * dims * sizeof *s->points);
    if (s->points == NULL)
        return PR_ERR_NOMEM;
    const pr_status status =
        pr_sampling_open(s->options->sampling, dims, s->options->seed, stream, &sampling);
    if (status != PR_OK)
        return status;
    if (kind != NULL)
        *kind = pr_sampling_kind_of(sampling);
    pr_sampling_next(sampling, n, s->points);
    pr_sampling_close(sampling);
    return PR_OK;
}

static void replay_point(study *s, pr_risk_bench *bench, const double *u, double rest_s,
                         pr_risk_outcome *outcome)
{
    const pr_status status = pr_risk_bench_set(&s->world, u, bench);
    if (status == PR_OK)
        pr_risk_replay(&s->world, rest_s, bench, outcome);
    else
        *outcome = (pr_risk_outcome){.status = status};
}

static void chance_task(void *context, pr_risk_bench *bench, size_t index)
{
    study *s = context;
    replay_point(s, bench, &s->points[index * s->k], s->world.rest_s, &s->outcomes[index]);
}

static void hold_task(void *context, pr_risk_bench *bench, size_t index)
{
    study *s = context;
    replay_point(s, bench, &s->points[index * s->k], s->rest_s, &s->outcomes[index]);
}

/* What the indices are of; NaN: could not be computed. */
static double value_of(const study *s, const pr_risk_rest *rest)
{
    const double most_s = s->scenario->plan.rest_max_s;
    return rest->status == PR_OK ? log(fmin(rest->rest_s, most_s) + 1.0) : PR_NAN;
}

static void note_seen(study *s, const double *u, const pr_risk_rest *rest)
{
    const double value = value_of(s, rest);
    if (isnan(value))
        return;
    memcpy(&s->seen[s->n_seen * s->k], u, s->k * sizeof *u);
    s->seen_values[s->n_seen++] = value;
}

/* Needed rest of a sample whose replay by the plan is known already. */
static void rest_task(void *context, pr_risk_bench *bench, size_t index)
{
    study *s = context;
    const pr_risk_outcome *known = &s->outcomes[index];
    s->rests[index] = (pr_risk_rest){.status = known->status};
    if (known->status == PR_OK)
        s->rests[index].status = pr_risk_bench_set(&s->world, &s->points[index * s->k], bench);
    if (s->rests[index].status == PR_OK)
        pr_risk_rest_find(&s->world, s->world.rest_s, known, bench, &s->rests[index]);
}

/* `like`: a needed rest that this one is perhaps close to, or NULL. */
static void rest_at(study *s, pr_risk_bench *bench, const double *u, const pr_risk_rest *like,
                    pr_risk_rest *rest)
{
    const bool near = like != NULL && like->status == PR_OK && isfinite(like->rest_s);
    const double from_s = near ? like->rest_s : s->world.rest_s;
    pr_risk_outcome outcome;
    replay_point(s, bench, u, from_s, &outcome);
    *rest = (pr_risk_rest){.status = outcome.status};
    if (outcome.status != PR_OK)
        return;
    if (near && pr_risk_rest_guess(like, &outcome, rest))
        return;
    pr_risk_rest_find(&s->world, from_s, &outcome, bench, rest);
}

/* A row of the design in all its blocks. What differs from A in one input only often needs the rest
 * that A needs: a good place to begin. */
static void sensitivity_task(void *context, pr_risk_bench *bench, size_t row)
{
    study *s = context;
    double u[PR_RISK_INPUTS_MAX];
    const pr_risk_rest *a = &s->rests[row];
    for (size_t block = 0; block < s->k + 2; block++) {
        const size_t index = block * s->n_base + row;
        pr_sensitivity_point(s->points, s->n_base, s->k, index, u);
        rest_at(s, bench, u, block < 2 ? NULL : a, &s->rests[index]);
    }
}

/* Task 2i: input i at 5 %, 2i + 1: at 95 %; the rows of points are the likely quantiles. */
static void swing_task(void *context, pr_risk_bench *bench, size_t index)
{
    study *s = context;
    double u[PR_RISK_INPUTS_MAX];
    for (size_t i = 0; i < s->k; i++)
        u[i] = s->points[i];
    u[index / 2] = index % 2 == 0 ? 0.05 : 0.95;
    rest_at(s, bench, u, NULL, &s->rests[index]);
}

static pr_status find_chance(study *s)
{
    pr_risk *r = s->risk;
    pr_status status = draw(s, STREAM_CHANCE, r->asked, s->k, &r->sampling);
    if (status != PR_OK)
        return status;
    status = pr_risk_pool_run(&s->pool, chance_task, s, r->asked, 1.0, &r->done);
    if (status != PR_OK && status != PR_ERR_CANCELLED)
        return status;
    double *scratch = malloc(r->asked * sizeof *scratch);
    if (scratch == NULL)
        return PR_ERR_NOMEM;
    pr_risk_tell_chance(s->outcomes, r->done, scratch, r);
    free(scratch);
    if (status == PR_OK && 20 * r->not_computed > r->done)
        return r->why_not; /* a study that leaves out so much says nothing */
    return status;
}

static pr_status find_rests(study *s)
{
    pr_risk *r = s->risk;
    const pr_status status =
        pr_risk_pool_run(&s->pool, rest_task, s, s->n_rest, SEARCH_UNITS, &r->rest_done);
    if (status != PR_OK && status != PR_ERR_CANCELLED)
        return status;
    double *rests = malloc(s->n_rest * sizeof *rests);
    double *totals = malloc(s->n_rest * sizeof *totals);
    if (rests == NULL || totals == NULL) {
        free(rests);
        free(totals);
        return PR_ERR_NOMEM;
    }
    r->rests = rests;
    size_t none = 0, enough = 0;
    for (size_t i = 0; i < r->rest_done; i++) {
        const pr_risk_rest *rest = &s->rests[i];
        if (rest->status != PR_OK)
            continue;
        note_seen(s, &s->points[i * s->k], rest);
        totals[r->n_rests] = rest->total_s;
        rests[r->n_rests++] = rest->rest_s;
        none += isinf(rest->rest_s) ? 1 : 0;
        enough += rest->rest_s <= s->world.rest_s ? 1 : 0;
    }
    r->rest_none = pr_share_of(none, r->n_rests);
    r->rest_enough = pr_share_of(enough, r->n_rests);
    r->rest = pr_risk_spread_of(rests, r->n_rests, false);
    r->rest_total_s = pr_risk_spread_of(totals, r->n_rests, false);
    free(totals);
    return status;
}

static pr_status find_sensitivity(study *s)
{
    pr_risk *r = s->risk;
    const size_t size = pr_sensitivity_size(s->n_base, s->k);
    size_t done;
    pr_status status = draw(s, STREAM_SENSITIVITY, s->n_base, 2 * s->k, NULL);
    if (status == PR_OK)
        status = pr_risk_pool_run(&s->pool, sensitivity_task, s, s->n_base,
                                  ROW_UNITS * (double)(s->k + 2), &done);
    if (status != PR_OK)
        return status;
    double *values = malloc(size * sizeof *values);
    pr_sensitivity *indices = malloc(s->k * sizeof *indices);
    status = PR_ERR_NOMEM;
    if (values != NULL && indices != NULL) {
        double u[PR_RISK_INPUTS_MAX];
        for (size_t i = 0; i < size; i++) {
            values[i] = value_of(s, &s->rests[i]);
            if (i >= 2 * s->n_base)
                continue;
            pr_sensitivity_point(s->points, s->n_base, s->k, i, u);
            note_seen(s, u, &s->rests[i]); /* A and B */
        }
        r->sensitivity_status =
            pr_sensitivity_totals(values, s->n_base, s->k, s->options->seed, indices);
        if (r->sensitivity_status == PR_OK)
            r->sensitivity_status =
                pr_sensitivity_alone(s->seen, s->seen_values, s->n_seen, s->k, indices);
        r->base_rows = s->n_base;
        for (size_t i = 0; i < s->k && r->sensitivity_status == PR_OK; i++)
            r->input[i].rest = indices[i];
        status = PR_OK;
    }
    free(indices);
    free(values);
    return status;
}

static pr_status find_swings(study *s)
{
    size_t done;
    pr_risk_likely_quantiles(&s->world, s->points);
    const pr_status status =
        pr_risk_pool_run(&s->pool, swing_task, s, 2 * s->k, SEARCH_UNITS + 1.0, &done);
    for (size_t i = 0; i < done; i++) {
        const double rest_s = s->rests[i].status == PR_OK ? s->rests[i].rest_s : PR_NAN;
        pr_risk_input *input = &s->risk->input[i / 2];
        *(i % 2 == 0 ? &input->rest_low_s : &input->rest_high_s) = rest_s;
    }
    return status;
}

/* Checks one rest on recoveries drawn anew. */
static pr_status verify(study *s, double *scratch, pr_risk_hold *hold)
{
    size_t done;
    s->rest_s = hold->rest_s;
    const pr_status status = pr_risk_pool_run(&s->pool, hold_task, s, s->n_verify, 1.0, &done);
    const pr_risk_counts c = pr_risk_count(s->outcomes, done);
    hold->verified = pr_share_of(c.holds, c.computed);
    hold->verified_well = hold->verified.high_frac >= hold->want_frac;
    hold->total_s = pr_risk_total_spread(s->outcomes, done, scratch);
    return status;
}

static pr_status find_hold(study *s, double *scratch, pr_risk_hold *hold)
{
    const pr_risk *r = s->risk;
    pr_status status = PR_OK;
    /* each further try takes a tenth of what is left above the share that was wanted */
    for (int try = 0; try < HOLD_TRIES && status == PR_OK; try++) {
        const double p = 1.0 - (1.0 - hold->want_frac) * (1.0 - 0.1 * try);
        const double rest_s = ceil(pr_values_quantile(r->rests, r->n_rests, p));
        if (!isfinite(rest_s))
            return PR_OK; /* not found, or the last try stands */
        if (hold->found && !(rest_s > hold->rest_s))
            continue;
        hold->found = true;
        hold->rest_s = rest_s;
        status = verify(s, scratch, hold);
        if (hold->verified.frac >= hold->want_frac)
            break;
    }
    return status;
}

static pr_status find_holds(study *s)
{
    double *scratch = malloc(s->n_verify * sizeof *scratch);
    if (scratch == NULL)
        return PR_ERR_NOMEM;
    pr_status status = draw(s, STREAM_HOLD, s->n_verify, s->k, NULL);
    for (int h = 0; h < PR_RISK_HOLDS && status == PR_OK; h++)
        status = find_hold(s, scratch, &s->risk->hold[h]);
    free(scratch);
    return status;
}

/* Slope of the margin over log rest for the likely system: a first step for every search. */
static void find_slope(study *s)
{
    double u[PR_RISK_INPUTS_MAX];
    pr_risk_likely_quantiles(&s->world, u);
    pr_risk_bench *bench = &s->pool.bench[0];
    pr_risk_outcome low, high;
    const double rest_s = s->world.rest_s;
    replay_point(s, bench, u, 0.8 * rest_s, &low);
    replay_point(s, bench, u, 1.25 * rest_s, &high);
    const double run = log((1.25 * rest_s + 5.0) / (0.8 * rest_s + 5.0));
    const double slope = (high.margin - low.margin) / run;
    if (low.status == PR_OK && high.status == PR_OK && slope > 0.2 && slope < 50.0)
        s->world.slope = slope;
}

static size_t power_of_two_below(size_t n)
{
    size_t p = 1;
    while (2 * p <= n)
        p *= 2;
    return p;
}

/* A share of the samples, at least so many; all of them where there are fewer. */
static size_t part_of(size_t asked, size_t share, size_t least)
{
    const size_t part = asked / share > least ? asked / share : least;
    return part < asked ? part : asked;
}

static void share_out_work(study *s)
{
    pr_risk *r = s->risk;
    r->asked = s->options->samples;
    s->k = (size_t)r->n_inputs;
    s->n_rest = r->rest_asked = part_of(r->asked, REST_SHARE, REST_LEAST);
    s->n_verify = r->asked >= HOLD_LEAST ? r->asked / HOLD_SHARE : r->asked;
    const size_t few = r->asked / ROW_SHARE, many = r->asked / ROW_SHARE_BEYOND;
    const size_t rows = few < ROWS_USUAL ? few : many > ROWS_USUAL ? many : ROWS_USUAL;
    s->n_base = power_of_two_below(rows > ROWS_LEAST ? rows : ROWS_LEAST);
    s->pool.progress = s->options->progress;
    s->pool.progress_context = s->options->progress_context;
    s->pool.done_before = 0.0;
    s->pool.done_all = (double)r->asked + SEARCH_UNITS * (double)s->n_rest +
                       ROW_UNITS * (double)pr_sensitivity_size(s->n_base, s->k) +
                       (SEARCH_UNITS + 1.0) * (double)(2 * s->k) +
                       2.0 * PR_RISK_HOLDS * (double)s->n_verify;
}

static pr_status run_stages(study *s)
{
    const size_t most_rests = pr_sensitivity_size(s->n_base, s->k) + 2 * s->k + s->n_rest;
    s->outcomes = malloc(s->risk->asked * sizeof *s->outcomes);
    s->rests = malloc(most_rests * sizeof *s->rests);
    const size_t most_seen = s->n_rest + 2 * s->n_base;
    s->seen = malloc(most_seen * s->k * sizeof *s->seen);
    s->seen_values = malloc(most_seen * sizeof *s->seen_values);
    if (s->outcomes == NULL || s->rests == NULL || s->seen == NULL || s->seen_values == NULL)
        return PR_ERR_NOMEM;
    find_slope(s);
    pr_status status = find_chance(s);
    if (status == PR_OK)
        status = find_rests(s);
    if (status == PR_OK)
        status = find_holds(s);
    if (status == PR_OK)
        status = find_sensitivity(s);
    if (status == PR_OK)
        status = find_swings(s);
    return status;
}

static pr_status plan_likely(const pr_scenario *scenario, pr_risk *risk, pr_diag *diag)
{
    pr_plan_set set;
    const pr_status status = pr_plan_make_one(scenario, PR_PLAN_EVEN, &risk->plan, &set, diag);
    if (status != PR_OK)
        return status;
    risk->limits = set.limits;
    pr_plan_set_free(&set);
    risk->rest_s = risk->plan.go ? fmax(risk->plan.rest_s, scenario->plan.rest_min_s)
                                 : scenario->plan.rest_max_s;
    risk->plan.rest_s = risk->rest_s;
    return PR_OK;
}

static pr_status find(study *s, pr_diag *diag)
{
    pr_risk *r = s->risk;
    pr_status status = pr_risk_inputs_list(s->scenario, r, diag);
    if (status == PR_OK)
        status = plan_likely(s->scenario, r, diag);
    if (status == PR_OK)
        status = pr_risk_world_open(s->scenario, &r->plan, &r->limits, r->input, r->n_inputs,
                                    s->options->tolerance, &s->world);
    if (status != PR_OK)
        return status;
    share_out_work(s);
    status = pr_risk_pool_open(&s->world, s->options->threads, &s->pool);
    if (status == PR_OK)
        status = pr_risk_inputs_check(&s->world, &s->pool.bench[0], diag);
    if (status == PR_OK)
        status = run_stages(s);
    for (int t = 0; s->pool.bench != NULL && t < s->pool.threads; t++)
        r->recoveries += s->pool.bench[t].recoveries;
    r->cancelled = status == PR_ERR_CANCELLED;
    return status;
}

pr_status pr_risk_find(const pr_scenario *scenario, const pr_risk_options *options, pr_risk *risk,
                       pr_diag *diag)
{
    *risk = (pr_risk){.sensitivity_status = PR_ERR_CANCELLED};
    if (options->cookie != PR_DEF_COOKIE)
        return PR_ERR_INTERNAL;
    if (!options_are_sound(options))
        return PR_ERR_RANGE;
    for (int h = 0; h < PR_RISK_HOLDS; h++)
        risk->hold[h] = (pr_risk_hold){.want_frac = options->hold_frac[h], .rest_s = PR_NAN};
    study *s = calloc(1, sizeof *s);
    pr_scenario *likely = malloc(sizeof *likely);
    pr_status status = PR_ERR_NOMEM;
    if (s != NULL && likely != NULL) {
        *likely = *scenario; /* what it owns stays the caller's */
        likely->system.demand_case = PR_CASE_LIKELY;
        *s = (study){.scenario = likely, .options = options, .risk = risk};
        gsl_error_handler_t *handler = gsl_set_error_handler_off();
        status = find(s, diag);
        gsl_set_error_handler(handler);
        pr_risk_pool_close(&s->pool);
        pr_risk_world_close(&s->world);
        free(s->points);
        free(s->outcomes);
        free(s->rests);
        free(s->seen);
        free(s->seen_values);
    }
    free(likely);
    free(s);
    return status;
}

void pr_risk_free(pr_risk *risk)
{
    pr_plan_free(&risk->plan);
    free(risk->rests);
    risk->rests = NULL;
    risk->n_rests = 0;
}
