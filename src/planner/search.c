/* Smallest whole number of seconds r in [lo, hi] whose trial passes.
 *
 *     1. at the guess: a pass gallops down, a failure gallops up, steps 1, 2, 4 ...; when it is
 *        known how far a trial is from the edge and how that changes with r, it jumps there
 *     2. nothing passed, yet the scores differ: a longer rest can also do harm (one that drains),
 * so a window may lie beside the best score: halve the wider gap next to it until both are 1 s
 *     3. between the smallest pass and the failure below it: by a straight line, or a parabola when
 *        there is a third trial beside them, and by halving when that is slow, until they are
 *        neighbours
 *
 * Where the caller allows it, a pass with less to spare than (nearly) what one second is worth is
 * taken for the smallest: the limit that is nearest to it would be broken with one second less.
 *
 * Proves: r passes and, unless presumed, r - 1 fails. When passing is monotone in r this is the
 * smallest; a load that switches on and off in the rest can make it a local edge. Step 2 finds a
 * window when the score has a single peak. Distances and slopes choose the next trial, and the
 * answer only where presumed. */
#include "planner/search.h"

#include "base/number.h"

#include <math.h>

enum { SAMPLES_MAX = 128, JUMPS_MAX = 4, SCALE_UNKNOWN_s = 16 };
/* Share of what a second is worth, by the slope, that the presumed smallest pass may spare. Slopes
 * are from neighbours: over some thousand searches one in 400 was so wrong that it mattered. */
static const double TRUST = 0.75;

/* All trials so far, sorted by seconds. */
typedef struct samples {
    pr_trial_fn fn;
    void *context;
    const pr_search_range *range;
    double slope;
    pr_limit limit; /* of the slope */
    int n;
    long seconds[SAMPLES_MAX];
    pr_trial trial[SAMPLES_MAX];
} samples;

/* Slope from the new trial at i and the one below or above it, if both failed or both passed. */
static void learn_slope(samples *s, int i)
{
    for (int k = i - 1; k <= i; k++) {
        if (k < 0 || k + 1 >= s->n)
            continue;
        const pr_trial *low = &s->trial[k], *high = &s->trial[k + 1];
        if (low->pass != high->pass || low->limit != high->limit ||
            (!low->pass && low->cycle != high->cycle))
            continue;
        const double rise = low->pass ? high->spare - low->spare : low->missing - high->missing;
        if (!(rise > 0.0))
            continue;
        s->slope = rise / (double)(s->seconds[k + 1] - s->seconds[k]);
        s->limit = low->limit;
    }
}

static pr_status try_at(samples *s, long seconds, bool *pass)
{
    if (s->n >= SAMPLES_MAX)
        return PR_ERR_STEP_LIMIT;
    pr_trial trial = {0};
    const pr_status status = s->fn(s->context, seconds, &trial);
    if (status != PR_OK)
        return status;
    int i = s->n++;
    for (; i > 0 && s->seconds[i - 1] > seconds; i--) {
        s->seconds[i] = s->seconds[i - 1];
        s->trial[i] = s->trial[i - 1];
    }
    s->seconds[i] = seconds;
    s->trial[i] = trial;
    *pass = trial.pass;
    learn_slope(s, i);
    return PR_OK;
}

static int first_pass(const samples *s)
{
    for (int i = 0; i < s->n; i++)
        if (s->trial[i].pass)
            return i;
    return -1;
}

static int best_failure(const samples *s)
{
    int best = 0;
    for (int i = 1; i < s->n; i++)
        if (s->trial[i].score > s->trial[best].score)
            best = i;
    return best;
}

/* Would the nearest limit of pass i be broken with one second less? */
static bool is_presumed_edge(const samples *s, int i)
{
    const pr_trial *t = &s->trial[i];
    return s->range->presume && t->limit != PR_LIMIT_NONE && t->limit == s->limit &&
           t->spare > 0.0 && t->spare < TRUST * s->slope;
}

/* Whole seconds that failure i lacks; 0: cannot tell. */
static long seconds_missing(const samples *s, int i)
{
    const double missing = s->trial[i].missing;
    if (!(s->slope > 0.0) || !(missing > 0.0))
        return 0;
    const double seconds = ceil(missing / s->slope);
    return seconds < (double)(s->range->hi - s->range->lo) ? (long)seconds : 0;
}

/* Whole seconds that a pass could do without, 1 at least; 0: cannot tell. A little less than the
 * slope says: it is steeper below. To the edge, or where that need not be tried, to the pass above
 * it. */
static long seconds_to_spare(const samples *s, int i)
{
    static const double STEEPER = 0.95;
    const double spare = s->trial[i].spare;
    if (!(s->slope > 0.0) || !(spare > 0.0))
        return 0;
    const double seconds = STEEPER * spare / s->slope;
    return (long)fmin(fmax(s->range->presume ? floor(seconds) : round(seconds), 1.0), 1e6);
}

static long first_step(const samples *s)
{
    return s->range->step > 0 ? s->range->step : 1;
}

static pr_status gallop_down(samples *s)
{
    const long lo = s->range->lo;
    bool pass = true;
    pr_status status = PR_OK;
    long at = s->range->guess, step = first_step(s);
    for (int jumps = 0; status == PR_OK && pass && at > lo;) {
        if (is_presumed_edge(s, first_pass(s)))
            break;
        /* to the whole second nearest to the edge: most likely the failure that is wanted or the
         * pass above it */
        const long jump = jumps < JUMPS_MAX ? seconds_to_spare(s, first_pass(s)) : 0;
        jumps++;
        at -= jump > 0 ? jump : step;
        at = at > lo ? at : lo;
        step *= 2;
        status = try_at(s, at, &pass);
    }
    return status;
}

static pr_status gallop_up(samples *s)
{
    const long lo = s->range->lo, hi = s->range->hi;
    long at = s->range->guess, step = at == lo ? SCALE_UNKNOWN_s : first_step(s);
    bool pass = false;
    pr_status status = PR_OK;
    for (int jumps = 0; status == PR_OK && !pass && at < hi;) {
        /* s->n - 1: the failure at `at` is the highest so far */
        const long jump = jumps < JUMPS_MAX ? seconds_missing(s, s->n - 1) : 0;
        if (jump > 0) {
            jumps++;
            at = at + jump < hi ? at + jump : hi;
            step = jump > step ? jump : step;
        } else {
            at = at + step < hi ? at + step : hi;
            step *= 2;
        }
        status = try_at(s, at, &pass);
    }
    if (status == PR_OK && !pass && s->range->guess != lo) /* too long rather than too short? */
        status = try_at(s, lo, &pass);
    return status;
}

static bool scores_differ(const samples *s)
{
    for (int i = 1; i < s->n; i++)
        if (s->trial[i].score < s->trial[0].score || s->trial[i].score > s->trial[0].score)
            return true;
    return false;
}

static pr_status search_window(samples *s)
{
    bool pass = false;
    while (!pass && scores_differ(s)) {
        const int best = best_failure(s);
        const long left = best > 0 ? s->seconds[best] - s->seconds[best - 1] : 0;
        const long right = best + 1 < s->n ? s->seconds[best + 1] - s->seconds[best] : 0;
        if (left <= 1 && right <= 1)
            break;
        const long at = left > right ? s->seconds[best] - left / 2 : s->seconds[best] + right / 2;
        const pr_status status = try_at(s, at, &pass);
        if (status != PR_OK)
            return status;
    }
    return PR_OK;
}

/* How far a trial is inside the edge, negative outside; NaN: not known. */
static double inside(const pr_trial *t)
{
    const double x = t->pass ? t->spare : -t->missing;
    return x > 0.0 || x < 0.0 ? x : PR_NAN;
}

/* Root of the parabola x(f) through three points. */
static double root_of_parabola(const double x[3], const double f[3])
{
    return x[0] * f[1] * f[2] / ((f[0] - f[1]) * (f[0] - f[2])) +
           x[1] * f[0] * f[2] / ((f[1] - f[0]) * (f[1] - f[2])) +
           x[2] * f[0] * f[1] / ((f[2] - f[0]) * (f[2] - f[1]));
}

/* A third trial beside the bracket of failure i - 1 and pass i, the nearer one; -1: none. */
static int third_trial(const samples *s, int i)
{
    const pr_trial *fail = &s->trial[i - 1];
    int below = i - 2, above = i + 1 < s->n ? i + 1 : -1;
    if (below >= 0 && (s->trial[below].limit != fail->limit ||
                       s->trial[below].cycle != fail->cycle || isnan(inside(&s->trial[below]))))
        below = -1;
    if (above >= 0 && isnan(inside(&s->trial[above])))
        above = -1;
    if (below < 0 || above < 0)
        return below < 0 ? above : below;
    return s->seconds[i - 1] - s->seconds[below] < s->seconds[above] - s->seconds[i] ? below
                                                                                     : above;
}

/* Where the edge is between failure i - 1 and pass i; NaN: cannot tell. */
static double crossing(const samples *s, int i)
{
    const double x0 = (double)s->seconds[i - 1], x1 = (double)s->seconds[i];
    const double f0 = inside(&s->trial[i - 1]), f1 = inside(&s->trial[i]);
    if (isnan(f0) || isnan(f1))
        return !(s->slope > 0.0) ? PR_NAN : isnan(f0) ? x1 - f1 / s->slope : x0 - f0 / s->slope;
    const int k = third_trial(s, i);
    if (k >= 0) {
        const double x[3] = {x0, x1, (double)s->seconds[k]};
        const double f[3] = {f0, f1, inside(&s->trial[k])};
        const double root = root_of_parabola(x, f);
        if (root > x0 && root < x1)
            return root;
    }
    return x0 + (x1 - x0) * f0 / (f0 - f1);
}

static pr_status close_in(samples *s)
{
    int slow = 0; /* trials in a row that left more than half of the gap */
    for (int i = first_pass(s); i > 0; i = first_pass(s)) {
        const long fail = s->seconds[i - 1], gap = s->seconds[i] - fail;
        if (gap <= 1 || is_presumed_edge(s, i))
            break;
        const double edge = slow < 2 ? crossing(s, i) - (double)fail : PR_NAN;
        const double whole = s->range->presume ? ceil(edge) : round(edge);
        const long step = isnan(edge) ? gap / 2 : (long)fmin(fmax(whole, 1.0), (double)(gap - 1));
        bool pass;
        const pr_status status = try_at(s, fail + step, &pass);
        if (status != PR_OK)
            return status;
        slow = 2 * (pass ? step : gap - step) > gap && slow < 2 ? slow + 1 : 0;
    }
    return PR_OK;
}

pr_status pr_search_smallest(pr_trial_fn fn, void *context, const pr_search_range *range,
                             pr_smallest *result)
{
    *result = (pr_smallest){.slope = range->slope, .limit = range->limit};
    if (range->lo > range->guess || range->guess > range->hi)
        return PR_ERR_INTERNAL;
    samples s;
    s.fn = fn;
    s.context = context;
    s.range = range;
    s.slope = range->slope;
    s.limit = range->limit;
    s.n = 0;
    bool pass;
    pr_status status = try_at(&s, range->guess, &pass);
    if (status == PR_OK)
        status = pass ? gallop_down(&s) : gallop_up(&s);
    if (status == PR_OK && first_pass(&s) < 0)
        status = search_window(&s);
    if (status == PR_OK)
        status = close_in(&s);
    if (status != PR_OK)
        return status;
    const int first = first_pass(&s), at = first >= 0 ? first : best_failure(&s);
    result->found = first >= 0;
    result->seconds = s.seconds[at];
    result->at = s.trial[at];
    const bool tried_below = first > 0 && s.seconds[first - 1] == s.seconds[first] - 1;
    result->has_below = first >= 0 && s.seconds[first] > range->lo;
    result->presumed = result->has_below && !tried_below;
    if (tried_below)
        result->below = s.trial[first - 1];
    else if (result->presumed)
        result->below = (pr_trial){
            .limit = result->at.limit,
            .stop = PR_STOP_LIMIT,
        };
    result->helps = s.trial[s.n - 1].score > s.trial[0].score;
    result->slope = s.slope;
    result->limit = s.limit;
    return PR_OK;
}
