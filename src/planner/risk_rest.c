/* The rest that a sampled system needs: smallest equal rest with which the recovery holds.
 *
 * The tightest margin m of a replay rises with x = log rest. From a first rest the root of m(x)
 * is bracketed by secants (the first with the slope of the likely system) and closed in from both
 * sides, until a rest that holds and one that does not are 1 s or 2 % apart. A replay that got
 * stuck has no smooth margin; the bracket is then halved.
 *
 * Proves: the rest given held. Not proven: that no much shorter one does, where longer rests do
 * harm (one that drains); and a rest so long that the time runs out counts as too long. */
#include "planner/risk_run.h"

#include "base/number.h"

#include <math.h>

enum { ROUNDS_MAX = 30 };
static const double SMOOTH = -9.0;   /* margins below are of stuck recoveries */
static const double STEP_MOST = 1.1; /* of log rest, at once */
static const double BASE_S = 5.0;    /* x = log(rest + 5 s): a rest may be zero */

typedef struct side {
    bool known;
    double rest_s, x, margin;
} side;

typedef struct bracket {
    double least_s, most_s, slope;
    side fail, pass;
    bool holds;     /* of the pass: got out in time as well */
    double total_s; /* of the pass */
    int closing;    /* rounds with both sides known */
} bracket;

static double x_of(double rest_s)
{
    return log(rest_s + BASE_S);
}

static double rest_of(double x)
{
    return exp(x) - BASE_S;
}

static double tolerance_s(double rest_s)
{
    return fmax(1.0, 0.02 * rest_s);
}

static bool is_smooth(const side *s)
{
    return s->known && s->margin > SMOOTH;
}

static void take(bracket *b, double rest_s, const pr_risk_outcome *o)
{
    const bool kept = o->first == PR_LIMIT_NONE && (o->at_goal || o->over_time);
    side *into = kept ? &b->pass : &b->fail;
    const side other = *into;
    *into = (side){.known = true, .rest_s = rest_s, .x = x_of(rest_s), .margin = o->margin};
    if (is_smooth(&other) && is_smooth(into) && fabs(other.x - into->x) > 1e-6) {
        const double slope = (other.margin - into->margin) / (other.x - into->x);
        if (slope > 0.05 && slope < 100.0)
            b->slope = slope;
    }
    if (kept) {
        b->holds = o->holds;
        b->total_s = o->total_s;
    }
}

static double clamp(double x, double low, double high)
{
    return fmin(fmax(x, low), high);
}

/* With one side known: as far as the slope says, a little past the root. */
static double reach(const bracket *b)
{
    const side *s = b->pass.known ? &b->pass : &b->fail;
    double step = b->pass.known ? -STEP_MOST : STEP_MOST;
    if (is_smooth(s) && isfinite(s->margin))
        step = clamp(-s->margin / b->slope, -STEP_MOST, STEP_MOST);
    const double past_s = 0.7 * tolerance_s(s->rest_s);
    const double rest_s = rest_of(s->x + step) + (b->pass.known ? -past_s : past_s);
    return clamp(rest_s, b->least_s, b->most_s);
}

/* With both known: the secant's root, a little past it; every third round the middle, so that a
 * bent margin cannot hold it up. */
static double close_in(bracket *b)
{
    const double low = b->fail.rest_s, high = b->pass.rest_s, tolerance = tolerance_s(high);
    const double middle = rest_of(0.5 * (b->fail.x + b->pass.x));
    double at = middle;
    const bool secant = ++b->closing % 3 != 0;
    if (secant && is_smooth(&b->fail) && isfinite(b->pass.margin)) {
        const double run = b->pass.margin - b->fail.margin;
        const double root = rest_of(b->fail.x - b->fail.margin * (b->pass.x - b->fail.x) / run);
        /* the side that is farther from the root moves */
        at = root - low > high - root ? root - 0.45 * tolerance : root + 0.45 * tolerance;
    }
    return clamp(at, low + 0.2 * tolerance, high - 0.2 * tolerance);
}

static bool is_closed(const bracket *b)
{
    if (b->pass.known && b->fail.known)
        return b->pass.rest_s - b->fail.rest_s <= tolerance_s(b->pass.rest_s) ||
               b->pass.rest_s <= b->fail.rest_s;
    return b->pass.known ? b->pass.rest_s <= b->least_s : b->fail.rest_s >= b->most_s;
}

void pr_risk_rest_find(const pr_risk_world *world, double from_s, const pr_risk_outcome *at_from,
                       pr_risk_bench *bench, pr_risk_rest *rest)
{
    const pr_plan_def *plan = &bench->job.plan;
    *rest = (pr_risk_rest){
        .status = at_from->status, .rest_s = PR_INF, .total_s = PR_INF, .margin = PR_NAN};
    if (rest->status != PR_OK || at_from->overload)
        return; /* no rest makes a winch stronger */
    bracket b = {.least_s = fmax(plan->rest_min_s, 0.0),
                 .most_s = fmax(plan->rest_max_s, plan->rest_min_s),
                 .slope = world->slope};
    take(&b, from_s, at_from);
    for (int round = 0; round < ROUNDS_MAX && !is_closed(&b); round++) {
        const bool both = b.pass.known && b.fail.known;
        const double at_s = both ? close_in(&b) : reach(&b);
        pr_risk_outcome o;
        pr_risk_replay(world, at_s, bench, &o);
        rest->status = o.status;
        if (o.status != PR_OK)
            return;
        take(&b, at_s, &o);
    }
    if (b.pass.known && b.holds) {
        rest->rest_s = b.pass.rest_s;
        rest->total_s = b.total_s;
        rest->margin = b.pass.margin;
        rest->slope = b.slope;
    }
}

bool pr_risk_rest_guess(const pr_risk_rest *like, const pr_risk_outcome *outcome,
                        pr_risk_rest *rest)
{
    static const double LOG_MOST = 0.08; /* of the rest: beyond, the margin bends too much */
    const double step = -(outcome->margin - like->margin) / like->slope;
    if (!outcome->at_goal || !(fabs(step) < LOG_MOST))
        return false;
    *rest = *like;
    rest->rest_s = rest_of(x_of(like->rest_s) + step);
    rest->total_s = outcome->total_s;
    return true;
}
