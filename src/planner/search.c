/* Smallest whole number of seconds r in [lo, hi] whose trial passes.
 *
 *     1. at the guess: a pass gallops down, a failure gallops up, steps 1, 2, 4 ...
 *     2. nothing passed, yet the scores differ: a longer rest can also do harm (one that drains),
 * so a window may lie beside the best score: halve the wider gap next to it until both are 1 s
 *     3. between the smallest pass and the failure below it: halve until they are neighbours
 *
 * Proves: r passes and r - 1 fails. When passing is monotone in r this is the smallest; a load that
 * switches on and off in the rest can make it a local edge. Step 2 finds a window when the score
 * has a single peak. */
#include "planner/search.h"

enum { SAMPLES_MAX = 96 };

/* All trials so far, sorted by seconds. */
typedef struct samples {
    pr_trial_fn fn;
    void *context;
    int n;
    long seconds[SAMPLES_MAX];
    pr_trial trial[SAMPLES_MAX];
} samples;

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
    return PR_OK;
}

static pr_status gallop(samples *s, long lo, long hi, long guess)
{
    bool pass;
    pr_status status = try_at(s, guess, &pass);
    if (status != PR_OK)
        return status;
    const bool down = pass;
    const long end = down ? lo : hi;
    /* a failure at the lower bound tells nothing of the scale yet: start with bigger steps */
    long step = !down && guess == lo ? 16 : 1;
    for (long at = guess; at != end && pass == down; step *= 2) {
        if (down)
            at = at - step > lo ? at - step : lo;
        else
            at = at + step < hi ? at + step : hi;
        status = try_at(s, at, &pass);
        if (status != PR_OK)
            return status;
    }
    if (!down && !pass && guess != lo) /* too long rather than too short? */
        status = try_at(s, lo, &pass);
    return status;
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

static pr_status halve(samples *s)
{
    for (int i = first_pass(s); i > 0; i = first_pass(s)) {
        const long fail = s->seconds[i - 1], gap = s->seconds[i] - fail;
        if (gap <= 1)
            break;
        bool pass;
        const pr_status status = try_at(s, fail + gap / 2, &pass);
        if (status != PR_OK)
            return status;
    }
    return PR_OK;
}

pr_status pr_search_smallest(pr_trial_fn fn, void *context, long lo, long hi, long guess,
                             pr_smallest *result)
{
    *result = (pr_smallest){0};
    if (lo > guess || guess > hi)
        return PR_ERR_INTERNAL;
    samples s;
    s.fn = fn;
    s.context = context;
    s.n = 0;
    pr_status status = gallop(&s, lo, hi, guess);
    if (status == PR_OK && first_pass(&s) < 0)
        status = search_window(&s);
    if (status == PR_OK)
        status = halve(&s);
    if (status != PR_OK)
        return status;
    const int pass = first_pass(&s), at = pass >= 0 ? pass : best_failure(&s);
    result->found = pass >= 0;
    result->seconds = s.seconds[at];
    result->at = s.trial[at];
    result->has_below = pass > 0; /* the neighbour: halve saw to that */
    if (pass > 0)
        result->below = s.trial[pass - 1];
    result->helps = s.trial[s.n - 1].score > s.trial[0].score;
    return PR_OK;
}
