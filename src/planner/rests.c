/* Rests: as needed before each pull, and one equal rest for the whole recovery.
 *
 * As needed, for pull k from the checkpoint after pull k-1:
 *     r_k = smallest whole second in [rest_min, rest_max] with which pull k stays inside all limits
 * Nothing that is taken for granted later can be wrong with this except a pull that no rest up to
 * rest_max makes possible (the way gets harder, say). Then an earlier rest is lengthened by the
 * least that makes the chain up to that pull possible with the longest rests in between: first
 * r_(k-1), then r_(k-2) ... A rest that gets no further by being longer is not repaired: no.
 *
 * Even: r = smallest whole second with which the whole recovery, run from the first pull, stays
 * inside all limits and the total time. A re-rig takes its own time when that is longer. */
#include "planner/job.h"

#include <math.h>
#include <stdlib.h>

enum { REPAIR_DEPTH = 4, REPAIRS_MAX = 200 };

static const pr_sim *checkpoint(const pr_job *job, const pr_route *route)
{
    return route->n == 0 ? &job->start : &route->after[route->n - 1];
}

/* Tries one rest from a checkpoint, then the pulls of a chain with the longest rests between. */
typedef struct rest_search {
    pr_job *job;
    const pr_sim *from;
    bool first, rerig;
    int chain;            /* pulls after this one that must still be possible */
    pr_attempt last_pass; /* the attempt that passed last */
    pr_attempt scratch;
} rest_search;

static pr_status try_rest(void *context, long seconds, pr_trial *trial)
{
    rest_search *s = context;
    pr_attempt *a = &s->scratch;
    pr_status status = pr_job_attempt(s->job, s->from, (double)seconds, s->first, s->rerig, a);
    if (status != PR_OK)
        return status;
    *trial = a->trial;
    if (!trial->pass)
        return PR_OK;
    pr_attempt next = *a;
    for (int i = 0; i < s->chain && !next.at_goal; i++) {
        const bool rerig = next.pull.stop == PR_STOP_ROPE;
        const double rest_s =
            rerig ? fmax(s->job->plan.rest_max_s, s->job->plan.rerig_s) : s->job->plan.rest_max_s;
        const pr_sim from = next.after;
        status = pr_job_attempt(s->job, &from, floor(rest_s), false, rerig, &next);
        if (status != PR_OK)
            return status;
        if (!next.trial.pass) {
            *trial = next.trial;
            trial->score += (double)(i + 1) * s->job->pull_s;
            return PR_OK;
        }
    }
    s->last_pass = *a;
    return PR_OK;
}

/* Points the search at the checkpoint after the last pull of the route. */
static void aim(rest_search *s, const pr_route *route)
{
    s->from = checkpoint(s->job, route);
    s->first = route->n == 0;
    s->rerig = pr_route_needs_rerig(route);
}

/* Finds the rest before the next pull and adds both to the route. */
static pr_status add_next(rest_search *s, pr_route *route, long least_s, long guess_s,
                          pr_smallest *result)
{
    *result = (pr_smallest){0};
    const long most_s = pr_route_rest_max_s(route, s->job);
    if (least_s > most_s)
        return PR_OK;
    guess_s = guess_s < least_s ? least_s : guess_s;
    guess_s = guess_s > most_s ? most_s : guess_s;
    aim(s, route);
    const pr_status status = pr_search_smallest(try_rest, s, least_s, most_s, guess_s, result);
    if (status != PR_OK || !result->found)
        return status;
    return pr_route_add(route, s->job, &s->last_pass, (double)result->seconds, s->rerig,
                        result->has_below ? &result->below : NULL);
}

/* The failed pull that got furthest ends the route: what stopped it is on record. */
static pr_status add_failure(rest_search *s, pr_route *route, long seconds)
{
    aim(s, route);
    pr_trial trial;
    const pr_status status = try_rest(s, seconds, &trial);
    if (status != PR_OK)
        return status;
    route->go = false;
    route->ended_by = trial.stop;
    route->ended_limit = trial.limit;
    return pr_route_add(route, s->job, &s->scratch, (double)seconds, s->rerig, NULL);
}

/* No rest makes the next pull possible: lengthen an earlier one. On success the route is shorter
 * and ends with the pull after the lengthened rest. */
static pr_status repair(rest_search *s, pr_route *route, bool *repaired)
{
    *repaired = false;
    for (int depth = 1; depth <= REPAIR_DEPTH && (size_t)depth <= route->n; depth++) {
        pr_route shorter = *route; /* shares the memory; written to only when found */
        shorter.n = route->n - (size_t)depth;
        const double was_s =
            shorter.n == 0 ? route->first_rest_s : route->cycles[shorter.n - 1].rest_s;
        pr_smallest result;
        s->chain = depth;
        const pr_status status = add_next(s, &shorter, (long)was_s + 1, (long)was_s + 1, &result);
        s->chain = 0;
        if (status != PR_OK)
            return status;
        if (result.found) {
            *route = shorter;
            *repaired = true;
            return PR_OK;
        }
    }
    return PR_OK;
}

static void end_at_goal(const pr_job *job, pr_route *route)
{
    route->go = isinf(job->overload.at_m);
    if (!route->go) {
        route->ended_by = PR_STOP_STALL;
        route->ended_limit = PR_LIMIT_NONE;
    }
}

/* Has the last pull ended the recovery, for good or bad? */
static bool is_over(const pr_job *job, pr_route *route, const pr_attempt *last)
{
    const bool counted = job->plan.pulls > 0 && route->n >= (size_t)job->plan.pulls;
    if (last->at_goal || counted) {
        end_at_goal(job, route);
        return true;
    }
    if (route->end_s > job->give_up_s) {
        route->gave_up = true;
        return true;
    }
    if (route->end_s > job->plan.total_max_s || route->n >= PR_CYCLES_MAX) {
        route->over_time = true;
        route->ended_by = PR_STOP_TIME;
        return true;
    }
    return false;
}

/* An overload at the very start: no pull at all. */
static bool is_over_before_start(const pr_job *job, pr_route *route)
{
    if (job->overload.at_m > 0.0)
        return false;
    end_at_goal(job, route);
    return true;
}

static pr_status as_needed(rest_search *s, pr_route *route)
{
    pr_job *job = s->job;
    long guess_s = 0;
    int repairs = 0;
    do {
        const long least_s = pr_route_rest_min_s(route, job);
        const bool rerig = pr_route_needs_rerig(route);
        pr_smallest result;
        pr_status status = add_next(s, route, least_s, rerig ? least_s : guess_s, &result);
        bool repaired = false;
        if (status == PR_OK && !result.found && result.helps && repairs++ < REPAIRS_MAX)
            status = repair(s, route, &repaired);
        if (status != PR_OK)
            return status;
        if (!result.found && !repaired)
            return add_failure(s, route, result.seconds);
        if (!rerig && route->n > 1)
            guess_s = (long)route->cycles[route->n - 2].rest_s;
    } while (!is_over(job, route, &s->last_pass));
    return PR_OK;
}

pr_status pr_rests_as_needed(pr_job *job, pr_route *route)
{
    pr_route_clear(route);
    if (is_over_before_start(job, route))
        return PR_OK;
    rest_search *s = calloc(1, sizeof *s);
    if (s == NULL)
        return PR_ERR_NOMEM;
    s->job = job;
    const pr_status status = as_needed(s, route);
    free(s);
    return status;
}

pr_status pr_rests_run_even(pr_job *job, double first_rest_s, long rest_s, pr_route *route,
                            pr_trial *trial)
{
    pr_route_clear(route);
    *trial = (pr_trial){.stop = PR_STOP_STALL};
    if (is_over_before_start(job, route))
        return PR_OK;
    pr_attempt attempt;
    do {
        const bool first = route->n == 0, rerig = pr_route_needs_rerig(route);
        const double wait_s = first   ? first_rest_s
                              : rerig ? fmax((double)rest_s, ceil(job->plan.rerig_s))
                                      : (double)rest_s;
        pr_status status =
            pr_job_attempt(job, checkpoint(job, route), wait_s, first, rerig, &attempt);
        if (status == PR_OK)
            status = pr_route_add(route, job, &attempt, wait_s, rerig, NULL);
        if (status != PR_OK)
            return status;
        if (!attempt.trial.pass) {
            const size_t passed = attempt.pulled ? route->n - 1 : route->n;
            *trial = attempt.trial;
            trial->score = (double)passed + attempt.trial.score / job->pull_s;
            trial->cycle = passed;
            route->ended_by = trial->stop;
            route->ended_limit = trial->limit;
            return PR_OK;
        }
    } while (!is_over(job, route, &attempt));
    trial->pass = route->go;
    trial->score = (double)route->n;
    trial->cycle = route->n;
    trial->stop = route->go ? attempt.trial.stop : route->ended_by;
    return PR_OK;
}

typedef struct even_search {
    pr_job *job;
    double first_rest_s;
    pr_route *route;
} even_search;

static pr_status try_even(void *context, long seconds, pr_trial *trial)
{
    even_search *s = context;
    return pr_rests_run_even(s->job, s->first_rest_s, seconds, s->route, trial);
}

pr_status pr_rests_even(pr_job *job, double first_rest_s, long guess_s, pr_route *route,
                        long *rest_s)
{
    even_search s = {.job = job, .first_rest_s = first_rest_s, .route = route};
    const long least_s = (long)ceil(job->plan.rest_min_s);
    const long floor_s = (long)floor(job->plan.rest_max_s);
    const long most_s = floor_s > least_s ? floor_s : least_s;
    guess_s = guess_s < least_s ? least_s : guess_s;
    guess_s = guess_s > most_s ? most_s : guess_s;
    pr_smallest result;
    pr_status status = pr_search_smallest(try_even, &s, least_s, most_s, guess_s, &result);
    if (status != PR_OK)
        return status;
    pr_trial trial;
    status = pr_rests_run_even(job, first_rest_s, result.seconds, route, &trial);
    *rest_s = result.seconds;
    if (status == PR_OK && result.found && result.has_below && route->n > 1) {
        /* below.cycle is the pull that failed; the rest that it needs comes before it */
        size_t i = result.below.cycle > 0 ? result.below.cycle - 1 : 0;
        i = i < route->n - 1 ? i : route->n - 2;
        route->cycles[i].binding = result.below.limit;
        route->cycles[i].binding_stop = result.below.stop;
    }
    return status;
}
