/* Rests: as needed before each pull, and one equal rest for the whole recovery.
 *
 * As needed, for pull k from the checkpoint after pull k-1:
 *     r_k = smallest whole second in [rest_min, rest_max] with which pull k stays inside all limits
 * (searched with what search.c may presume; pr_rests_prove runs the trials that were left out).
 * That can lead into a trap: a pull that no rest up to rest_max makes possible any more (the way
 * gets harder, or the motor's case has stored so much heat that resting warms its winding). Then an
 * earlier rest, 1, 2, 4 ... pulls back, is lengthened by the least that makes the chain up to that
 * pull possible with the longest rests in between, and so is every rest after it up to that pull;
 * unless the recovery gets no further even with the longest rests everywhere: then it is a no.
 *
 * Even: r = smallest whole second with which the whole recovery, run from the first pull, stays
 * inside all limits and the total time. A re-rig takes its own time when that is longer. */
#include "planner/job.h"

#include "base/number.h"

#include <math.h>
#include <stdlib.h>

/* What repairs may cost before a trap is taken for a no. */
enum { REPAIR_SIMULATIONS_MAX = 800, AHEAD_MAX = 16 };
/* Where the even rest is looked for: by so much above the mean of rests as needed, as a share of
 * the way to the longest, in steps of this share of it. */
static const double EVEN_ABOVE_MEAN = 0.3, EVEN_STEP = 1.0 / 16.0;

static const pr_sim *checkpoint(const pr_job *job, const pr_route *route)
{
    return route->n == 0 ? &job->start : &route->after[route->n - 1];
}

/* Tries one rest from a checkpoint, then the pulls of a chain with the longest rests between. */
typedef struct rest_search {
    pr_job *job;
    const pr_sim *from;
    bool first, rerig;
    size_t target; /* pull (from 0) that every rest must leave possible */
    size_t chain;  /* so many pulls after this one */
    pr_trial trap; /* how the target failed */
    size_t ahead;  /* pulls beyond the failed one that the next repair shall leave possible */
    unsigned long repair_simulations;
    double rested_travel_m; /* with the longest rests; NaN: not known yet */
    double slope;           /* pull seconds won per second of rest, as the last search found it */
    pr_limit limit;         /* that the slope is of */
    const pr_guide *guide;  /* or NULL */
    pr_attempt last_pass;   /* the attempt that passed last */
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
    for (size_t i = 0; i < s->chain && !next.at_goal; i++) {
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

static long clamp(long x, long least, long most)
{
    return x < least ? least : x > most ? most : x;
}

/* What makes the rest as long as it is; stop TIME: nothing does. */
static pr_trial reason(const rest_search *s, const pr_route *route, const pr_smallest *result)
{
    if (result->seconds <= pr_route_rest_min_s(route, s->job))
        return (pr_trial){.stop = PR_STOP_TIME};
    /* none below was tried when it is as short as it was, which led into the trap */
    return result->has_below ? result->below : s->trap;
}

/* Keeps with the last cycle where the edge of its rest is, for those that come after. */
static void note_edge(pr_route *route, const pr_smallest *result)
{
    if (route->n == 0)
        return;
    pr_cycle *cycle = &route->cycles[route->n - 1];
    const double spare = result->at.spare, slope = result->slope;
    cycle->rest_slope = result->has_below && result->below.limit == result->limit ? slope : 0.0;
    cycle->rest_edge_s = PR_NAN;
    if (result->has_below)
        cycle->rest_edge_s =
            (double)result->seconds - (slope > 0.0 && spare > 0.0 ? fmin(spare / slope, 1.0) : 0.5);
}

/* Finds the rest before the next pull and adds both to the route. */
static pr_status add_next(rest_search *s, pr_route *route, long least_s, long guess_s,
                          pr_smallest *result)
{
    *result = (pr_smallest){0};
    const long most_s = pr_route_rest_max_s(route, s->job);
    if (least_s > most_s)
        return PR_OK;
    aim(s, route);
    s->chain = s->target > route->n ? s->target - route->n : 0;
    const pr_search_range range = {.lo = least_s,
                                   .hi = most_s,
                                   .guess = clamp(guess_s, least_s, most_s),
                                   .slope = s->chain == 0 ? s->slope : 0.0,
                                   .limit = s->limit,
                                   .presume = s->chain == 0 && s->job->presume};
    const pr_status status = pr_search_smallest(try_rest, s, &range, result);
    if (s->chain == 0) {
        s->slope = result->slope;
        s->limit = result->limit;
    }
    if (status != PR_OK || !result->found)
        return status;
    note_edge(route, result);
    const pr_trial why = reason(s, route, result);
    const bool binds = why.stop != PR_STOP_TIME;
    *(route->n == 0 ? &route->first_presumed : &route->cycles[route->n - 1].rest_presumed) =
        binds && result->presumed;
    return pr_route_add(route, s->job, &s->last_pass, (double)result->seconds, s->rerig,
                        binds ? &why : NULL);
}

/* The failed pull that got furthest ends the route: what stopped it is on record. */
static pr_status add_failure(rest_search *s, pr_route *route, long seconds)
{
    aim(s, route);
    s->chain = 0;
    pr_trial trial;
    const pr_status status = try_rest(s, seconds, &trial);
    if (status != PR_OK)
        return status;
    route->go = false;
    route->ended_by = trial.stop;
    route->ended_limit = trial.limit;
    return pr_route_add(route, s->job, &s->scratch, (double)seconds, s->rerig, NULL);
}

/* How far the recovery gets with the longest rests: beyond that no repair can lead. */
static pr_status find_rested_travel(rest_search *s)
{
    pr_job *job = s->job;
    pr_route rested = {0};
    pr_trial trial;
    const double total_max_s = job->plan.total_max_s, most_s = floor(job->plan.rest_max_s);
    job->plan.total_max_s = PR_INF;
    const pr_status status = pr_rests_run_even(job, most_s, (long)most_s, &rested, &trial);
    job->plan.total_max_s = total_max_s;
    s->rested_travel_m = rested.go ? PR_INF : pr_route_travel_m(&rested);
    pr_route_free(&rested);
    return status;
}

/* Lengthens the rest `depth` pulls back. On success the route is shorter and ends with the pull
 * after the lengthened rest. */
static pr_status lengthen(rest_search *s, pr_route *route, size_t depth, bool *done)
{
    pr_route shorter = *route; /* shares the memory; written to only when found */
    shorter.n = route->n - depth;
    const double was_s = shorter.n == 0 ? route->first_rest_s : route->cycles[shorter.n - 1].rest_s;
    pr_smallest result;
    const long least_s = (long)was_s + (depth == 1); /* that one has failed as it is */
    const pr_status status = add_next(s, &shorter, least_s, least_s, &result);
    *done = status == PR_OK && result.found;
    if (*done)
        *route = shorter;
    return status;
}

/* Lengthens the rest 1, 2, 4 ... pulls back so that pull `target` is possible. */
static pr_status reach(rest_search *s, pr_route *route, size_t target, bool *done)
{
    *done = false;
    s->target = target; /* from now on, until it is behind */
    for (size_t depth = 1; !*done && route->n > 0; depth *= 2) {
        const bool last = depth >= route->n;
        const pr_status status = lengthen(s, route, last ? route->n : depth, done);
        if (status != PR_OK || last)
            return status;
    }
    return PR_OK;
}

/* No rest makes the next pull possible: lengthen an earlier one. Traps come in rows (what is left
 * is hard), so each looks twice as far ahead as the one before. */
static pr_status repair(rest_search *s, pr_route *route, const pr_trial *failed, bool *repaired)
{
    *repaired = false;
    const unsigned long before = s->job->simulations;
    pr_status status = isnan(s->rested_travel_m) ? find_rested_travel(s) : PR_OK;
    if (status != PR_OK || !(s->rested_travel_m > pr_route_travel_m(route)) ||
        s->repair_simulations > REPAIR_SIMULATIONS_MAX)
        return status;
    s->trap = *failed;
    if (s->ahead > 0)
        status = reach(s, route, route->n + s->ahead, repaired);
    if (status == PR_OK && !*repaired)
        status = reach(s, route, route->n, repaired);
    s->ahead = s->ahead == 0 ? 1 : s->ahead < AHEAD_MAX ? 2 * s->ahead : s->ahead;
    s->repair_simulations += s->job->simulations - before;
    return status;
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

static double edge_of(const pr_cycle *cycle)
{
    return isnan(cycle->rest_edge_s) ? cycle->rest_s : cycle->rest_edge_s;
}

/* Where the edge may be without a guide: the last two rests go on in a line, unless they differ a
 * lot. */
static double guess_edge_s(const pr_route *route)
{
    static const double SMOOTH_s = 30.0;
    if (route->n < 2)
        return 0;
    const pr_cycle *last = &route->cycles[route->n - 2];
    if (last->rerig)
        return 0;
    if (route->n < 3 || last[-1].rerig || last->binding_stop == PR_STOP_TIME)
        return edge_of(last);
    const double step_s = edge_of(last) - edge_of(last - 1);
    return edge_of(last) + (fabs(step_s) <= SMOOTH_s ? step_s : 0.25 * step_s);
}

/* Where to look first, and with which slope. */
static long find_guess(rest_search *s, const pr_route *route)
{
    pr_guide_mark mark;
    if (s->guide == NULL || route->n == 0 || !pr_guide_rest(s->guide, s->job, route, &mark))
        mark = (pr_guide_mark){.edge_s = guess_edge_s(route)};
    if (mark.slope > 0.0) {
        s->slope = mark.slope;
        s->limit = mark.limit;
    }
    /* the second next to the edge; the one above it when that may be all that is tried */
    return (long)fmax(s->job->presume ? ceil(mark.edge_s) : round(mark.edge_s), 0.0);
}

/* The next rest and pull. While a target lies ahead the longest rest is known to reach it: look
 * from there down, and take it as it is once repairs have cost enough. */
static pr_status advance(rest_search *s, pr_route *route, pr_smallest *result)
{
    const long least_s = pr_route_rest_min_s(route, s->job);
    const long most_s = pr_route_rest_max_s(route, s->job);
    if (s->target <= route->n)
        return add_next(s, route, least_s,
                        pr_route_needs_rerig(route) ? least_s : find_guess(s, route), result);
    const unsigned long before = s->job->simulations;
    const bool spent = s->repair_simulations > REPAIR_SIMULATIONS_MAX;
    const pr_status status = add_next(s, route, spent ? most_s : least_s, most_s, result);
    s->repair_simulations += s->job->simulations - before;
    return status;
}

static pr_status as_needed(rest_search *s, pr_route *route)
{
    do {
        pr_smallest result;
        pr_status status = advance(s, route, &result);
        if (status == PR_OK && !result.found && s->chain > 0) {
            s->target = 0; /* out of reach after all: as far as it goes */
            status = advance(s, route, &result);
        }
        bool repaired = false;
        if (status == PR_OK && !result.found)
            status = repair(s, route, &result.at, &repaired);
        if (status != PR_OK)
            return status;
        if (!result.found && !repaired)
            return add_failure(s, route, result.seconds);
    } while (!is_over(s->job, route, &s->last_pass));
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
    s->rested_travel_m = PR_NAN;
    s->guide = pr_job_find_guide(job);
    const pr_status status = as_needed(s, route);
    const pr_guide like = {.parts = job->system->def.rig.parts,
                           .pull_s = job->pull_s,
                           .pull_rpm = job->pull_rpm,
                           .rest_rpm = job->rest_rpm};
    pr_job_add_guide(job, &like, route->cycles, route->n);
    free(s);
    return status;
}

/* The rest before pull i with a second less, if that was presumed to fail: does it? */
static pr_status prove_rest(pr_job *job, pr_route *route, size_t i, bool *proven)
{
    pr_cycle *before = i > 0 ? &route->cycles[i - 1] : NULL;
    *proven = true;
    if (!(before != NULL ? before->rest_presumed : route->first_presumed))
        return PR_OK;
    const double rest_s = before != NULL ? before->rest_s : route->first_rest_s;
    pr_attempt below;
    const pr_status status =
        pr_job_attempt(job, before != NULL ? &route->after[i - 1] : &job->start, rest_s - 1.0,
                       before == NULL, before != NULL && before->rerig, &below);
    if (status != PR_OK)
        return status;
    *proven = !below.trial.pass;
    *(before != NULL ? &before->binding : &route->first_binding) = below.trial.limit;
    *(before != NULL ? &before->binding_stop : &route->first_binding_stop) = below.trial.stop;
    *(before != NULL ? &before->rest_presumed : &route->first_presumed) = false;
    return PR_OK;
}

pr_status pr_rests_prove(pr_job *job, pr_route *route)
{
    bool proven = true;
    for (size_t i = 0; i < route->n && proven; i++) {
        const pr_status status = prove_rest(job, route, i, &proven);
        if (status != PR_OK)
            return status;
    }
    if (proven)
        return PR_OK;
    job->presume = false;
    const pr_status status = pr_rests_as_needed(job, route);
    job->presume = true;
    return status;
}

pr_status pr_rests_run_even(pr_job *job, double first_rest_s, long rest_s, pr_route *route,
                            pr_trial *trial)
{
    pr_route_clear(route);
    route->equal_rests = true;
    *trial = (pr_trial){.stop = PR_STOP_STALL};
    if (is_over_before_start(job, route))
        return PR_OK;
    pr_attempt attempt;
    double spare_s = PR_INF;
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
            trial->score = (double)passed * job->pull_s + attempt.trial.score;
            trial->cycle = passed;
            route->ended_by = trial->stop;
            route->ended_limit = trial->limit;
            return PR_OK;
        }
        if (attempt.trial.spare > 0.0)
            spare_s = fmin(spare_s, attempt.trial.spare);
    } while (!is_over(job, route, &attempt));
    trial->pass = route->go;
    trial->spare = route->go && !isinf(spare_s) ? spare_s : 0.0;
    trial->score = (double)route->n * job->pull_s;
    trial->cycle = route->n;
    trial->stop = route->go ? attempt.trial.stop : route->ended_by;
    return PR_OK;
}

typedef struct even_search {
    pr_job *job;
    double first_rest_s;
    pr_route *route, spare; /* route: of the last pass, else of the last trial */
    bool passed;
} even_search;

static pr_status try_even(void *context, long seconds, pr_trial *trial)
{
    even_search *s = context;
    const pr_status status = pr_rests_run_even(s->job, s->first_rest_s, seconds, &s->spare, trial);
    if (status == PR_OK && (trial->pass || !s->passed)) {
        const pr_route keep = *s->route;
        *s->route = s->spare;
        s->spare = keep;
        s->passed = trial->pass;
    }
    return status;
}

static pr_status search_even(even_search *s, long guess_s, pr_smallest *result)
{
    const pr_job *job = s->job;
    const long least_s = (long)ceil(job->plan.rest_min_s);
    const long most_s = (long)fmax(floor(job->plan.rest_max_s), (double)least_s);
    const long guess_in_s = clamp(guess_s, least_s, most_s);
    const pr_search_range range = {.lo = least_s,
                                   .hi = most_s,
                                   .guess = guess_in_s,
                                   .step = 1 + (long)(EVEN_STEP * (double)guess_in_s)};
    pr_status status = pr_search_smallest(try_even, s, &range, result);
    pr_trial trial;
    if (status == PR_OK && !result->found) /* the one that got furthest is on record */
        status = pr_rests_run_even(s->job, s->first_rest_s, result->seconds, s->route, &trial);
    return status;
}

/* Where to look for the even rest first: between the longest rest as needed and the largest mean of
 * rests up to one, both of which it is seldom outside. */
static long guess_even(const pr_route *as_needed)
{
    double longest_s = 0.0, sum_s = 0.0, mean_s = 0.0, n = 0.0;
    for (size_t i = 0; i + 1 < as_needed->n; i++) {
        if (as_needed->cycles[i].rerig)
            continue;
        n += 1.0;
        sum_s += as_needed->cycles[i].rest_s;
        mean_s = fmax(mean_s, sum_s / n);
        longest_s = fmax(longest_s, as_needed->cycles[i].rest_s);
    }
    return (long)(mean_s + EVEN_ABOVE_MEAN * (longest_s - mean_s));
}

pr_status pr_rests_even(pr_job *job, const pr_route *as_needed, pr_route *route)
{
    even_search s = {.job = job, .first_rest_s = as_needed->first_rest_s, .route = route};
    pr_smallest result;
    const pr_status status = search_even(&s, guess_even(as_needed), &result);
    pr_route_free(&s.spare);
    if (status != PR_OK)
        return status;
    route->first_binding = as_needed->first_binding;
    route->first_binding_stop = as_needed->first_binding_stop;
    if (result.found && result.has_below && route->n > 1) {
        /* below.cycle is the pull that failed; the rest that it needs comes before it */
        size_t i = result.below.cycle > 0 ? result.below.cycle - 1 : 0;
        i = i < route->n - 1 ? i : route->n - 2;
        route->cycles[i].binding = result.below.limit;
        route->cycles[i].binding_stop = result.below.stop;
    }
    return PR_OK;
}
