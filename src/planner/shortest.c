/* The recovery of least total time: pull length, engine speeds and parts of line.
 *
 * A candidate is a recovery with rests as needed; its time includes every re-rig. What the plan def
 * fixes stays fixed. The plan as needed is the first candidate; then, with both engine speeds at
 * the highest, parts of line   from the fewest that pull it to blocks + 1, with that plan's pull
 * length pull length     for each of these within 5 % of the best, whole seconds: 15 s longer,
 * shorter, then where a parabola through the three best neighbours has its vertex, until a trial
 * gains less than 0.1 %, six at most engine speeds   lower in the rest, lower in the pull, as long
 * as that is not slower equal rests     at the best of these; and the plan with even rests Compared
 * by time in whole seconds, then fewer parts, lower speeds, the shorter pull. The time has many
 * small steps over the pull length (a pull more or less), and more engine speed is taken to charge
 * no less, so this is the best of those tried, not a proven optimum. */
#include "planner/job.h"

#include "base/number.h"

#include <math.h>
#include <stdlib.h>

enum { SPEEDS_MAX = 3, PARTS_MAX = 4, LENGTHS_MAX = 7, PULLS_MAX = 100 };
static const double NEAR = 1.05, FAR_AWAY_s = 1e9, STRIDE_s = 15.0, WORTHWHILE = 0.001;
/* What a quieter engine may cost: nobody revs it higher for 2 s in a quarter of an hour. */
static const double NOISE_WORTH = 0.002;

typedef struct choice {
    double pull_s, pull_rpm, rest_rpm;
    int parts;
    double cost_s; /* total time; a no: beyond all times, less the further it gets; infinite:
                      unknown */
} choice;

typedef struct shortest {
    pr_job *job;
    bool exact;             /* the best is proven */
    pr_route *route, spare; /* route: of the best */
    choice best, known;     /* known: the plan as needed, known before */
    const pr_known *before;
    double pulling_s; /* of the known plan: pulls times their length */
} shortest;

static void swap_routes(shortest *s)
{
    const pr_route keep = *s->route;
    *s->route = s->spare;
    s->spare = keep;
}

static int compare_numbers(double a, double b)
{
    return (a > b) - (a < b);
}

/* < 0: a is better */
static int compare(const choice *a, const choice *b)
{
    const bool no = a->cost_s > 0.5 * FAR_AWAY_s && b->cost_s > 0.5 * FAR_AWAY_s;
    int order = no ? compare_numbers(a->cost_s, b->cost_s)
                   : compare_numbers(round(a->cost_s), round(b->cost_s));
    if (order == 0)
        order = (a->parts > b->parts) - (a->parts < b->parts);
    if (order == 0)
        order = compare_numbers(a->rest_rpm, b->rest_rpm);
    if (order == 0)
        order = compare_numbers(a->pull_rpm, b->pull_rpm);
    return order != 0 ? order : compare_numbers(a->pull_s, b->pull_s);
}

static double cost_s(bool go, double total_s, double travel_m)
{
    return go ? total_s : FAR_AWAY_s - travel_m;
}

static pr_status set_choice(pr_job *job, const choice *c)
{
    job->pull_s = c->pull_s;
    job->pull_rpm = c->pull_rpm;
    job->rest_rpm = c->rest_rpm;
    const pr_system_def *def = &job->system->def;
    return def->rig.parts == c->parts ? PR_OK : pr_job_rig(job, c->parts, def->demand_case);
}

static bool is_known(const shortest *s, const choice *c)
{
    return c->parts == s->known.parts && c->pull_s == s->known.pull_s &&
           c->pull_rpm == s->known.pull_rpm && c->rest_rpm == s->known.rest_rpm;
}

/* Keeps what a candidate like the known plan came to: remedies ask for the same. */
static void note_tried(shortest *s)
{
    pr_plan *plan = s->before->as_needed;
    if (s->spare.gave_up || s->job->pull_s != plan->pull_s)
        return;
    pr_plan *more = realloc(plan->tried, (plan->n_tried + 1) * sizeof *more);
    if (more == NULL)
        return; /* it will be planned again */
    plan->tried = more;
    pr_plan *tried = &more[plan->n_tried++];
    pr_plan_tell_route(tried, PR_PLAN_AS_NEEDED, s->job, &s->spare);
    tried->cycles = NULL;
}

/* Plans a candidate and fills in its cost; keeps it when it is better than the best so far. One
 * that takes `near` times as long as the best is given up. */
static pr_status try_choice(shortest *s, choice *c, double near)
{
    if (is_known(s, c)) { /* no better than the best */
        c->cost_s = s->known.cost_s;
        return pr_route_copy(s->before->route, &s->spare);
    }
    pr_status status = set_choice(s->job, c);
    if (status != PR_OK)
        return status;
    s->job->give_up_s = s->best.cost_s < FAR_AWAY_s / 2.0 ? near * s->best.cost_s + 1.0 : PR_INF;
    status = pr_rests_as_needed(s->job, &s->spare);
    s->job->give_up_s = PR_INF;
    if (status != PR_OK)
        return status;
    note_tried(s);
    c->cost_s = s->spare.gave_up
                    ? PR_INF
                    : cost_s(s->spare.go, s->spare.end_s, pr_route_travel_m(&s->spare));
    if (!isinf(c->cost_s) && compare(c, &s->best) < 0) {
        s->best = *c;
        swap_routes(s);
    }
    return PR_OK;
}

/* Allowed speeds in rising order. */
static int speeds(const pr_job *job, double fixed_rpm, double rpm[SPEEDS_MAX])
{
    const pr_system_def *def = &job->system->def;
    if (!isnan(fixed_rpm)) {
        rpm[0] = fixed_rpm;
        return 1;
    }
    const double all[SPEEDS_MAX] = {def->idle_rpm, def->fast_idle_rpm, def->max_rpm};
    int n = 0;
    for (int i = 0; i < SPEEDS_MAX; i++)
        if (n == 0 || all[i] > rpm[n - 1])
            rpm[n++] = all[i];
    return n;
}

/* Lengths tried so far with the other choices fixed, sorted. */
typedef struct lengths {
    int n, best;
    choice at[LENGTHS_MAX];
} lengths;

static void insert(lengths *l, const choice *c)
{
    int i = l->n++;
    for (; i > 0 && l->at[i - 1].pull_s > c->pull_s; i--)
        l->at[i] = l->at[i - 1];
    l->at[i] = *c;
    l->best = 0;
    for (int k = 1; k < l->n; k++)
        if (l->at[k].cost_s < l->at[l->best].cost_s)
            l->best = k;
}

/* Vertex of the parabola through the best and its neighbours (the two nearest at an end); NaN when
 * it has none, or a cost is not known. */
static double vertex_s(const lengths *l)
{
    int i = l->best - 1;
    i = i < 0 ? 0 : i + 2 >= l->n ? l->n - 3 : i;
    if (l->n < 3)
        return PR_NAN;
    const choice *a = &l->at[i], *b = a + 1, *c = a + 2;
    const double p = (b->pull_s - a->pull_s) * (b->cost_s - c->cost_s);
    const double q = (b->pull_s - c->pull_s) * (b->cost_s - a->cost_s);
    const double curve = p - q; /* negative for a valley */
    const double x =
        b->pull_s - 0.5 * ((b->pull_s - a->pull_s) * p - (b->pull_s - c->pull_s) * q) / curve;
    return curve < 0.0 && isfinite(x) ? round(x) : PR_NAN;
}

/* Next length to try; NaN: none. */
static double next_length_s(const lengths *l, double least_s, double most_s)
{
    const double best_s = l->at[l->best].pull_s;
    const bool lowest = l->best == 0, highest = l->best == l->n - 1;
    double low_s = lowest ? fmax(best_s - STRIDE_s, least_s) : l->at[l->best - 1].pull_s + 1.0;
    double high_s = highest ? fmin(best_s + STRIDE_s, most_s) : l->at[l->best + 1].pull_s - 1.0;
    double x = vertex_s(l);
    if (isnan(x)) /* longer pulls first: they take fewer trials */
        x = highest && high_s > best_s ? high_s : lowest ? low_s : best_s + 0.5 * (high_s - best_s);
    x = fmax(low_s, fmin(high_s, floor(x)));
    if (x == best_s) /* the wider side has more to give */
        x = high_s - best_s > best_s - low_s ? best_s + 1.0 : best_s - 1.0;
    return x >= low_s && x <= high_s ? x : PR_NAN;
}

/* `first` has been tried. */
static pr_status search_lengths(shortest *s, const choice *first)
{
    const pr_plan_def *plan = &s->job->plan;
    if (!isnan(plan->pull_s) || isinf(s->job->distance_m))
        return PR_OK; /* half of each of so many pulls would be half the work */
    const double many_s = fmin(ceil(s->pulling_s / PULLS_MAX), first->pull_s);
    const double least_s = fmax(ceil(plan->pull_min_s), many_s);
    const double most_s = fmax(floor(plan->pull_max_s), least_s);
    lengths l = {0};
    insert(&l, first);
    while (l.n < LENGTHS_MAX) {
        choice c = *first;
        const double before_s = l.at[l.best].cost_s;
        c.pull_s = next_length_s(&l, least_s, most_s);
        if (isnan(c.pull_s))
            break;
        const pr_status status = try_choice(s, &c, NEAR);
        if (status != PR_OK)
            return status;
        insert(&l, &c);
        if (l.n > 3 && before_s - l.at[l.best].cost_s < WORTHWHILE * before_s)
            break;
    }
    return PR_OK;
}

/* Is a candidate with a lower speed good enough, though not quicker? Never slower than the plan
 * known before. */
static bool is_as_good(const shortest *s, const choice *c)
{
    return c->cost_s < 0.5 * FAR_AWAY_s && c->cost_s <= (1.0 + NOISE_WORTH) * s->best.cost_s &&
           round(c->cost_s) <= round(s->known.cost_s);
}

/* Lower speeds as long as they are hardly slower; the lowest first. */
static pr_status lower_speeds(shortest *s, const double rpm[], int n, bool in_pull)
{
    for (int i = 0; i < n; i++) {
        choice c = s->best;
        double *chosen_rpm = in_pull ? &c.pull_rpm : &c.rest_rpm;
        if (rpm[i] >= *chosen_rpm)
            break;
        *chosen_rpm = rpm[i];
        const pr_status status = try_choice(s, &c, 1.0 + NOISE_WORTH);
        if (status != PR_OK || compare(&c, &s->best) == 0) /* it is the best now */
            return status;
        if (is_as_good(s, &c)) {
            s->best = c;
            swap_routes(s); /* try_choice left its route in the spare */
            return PR_OK;
        }
    }
    return PR_OK;
}

static pr_status search_all(shortest *s, int first_parts)
{
    const pr_plan_def *plan = &s->job->plan;
    double pull_rpm[SPEEDS_MAX], rest_rpm[SPEEDS_MAX];
    const int n_pull = speeds(s->job, plan->pull_rpm, pull_rpm);
    const int n_rest = speeds(s->job, plan->rest_rpm, rest_rpm);
    const bool rigs = plan->parts == 0 && s->job->system->def.has_winch;
    const int last_parts = rigs && plan->blocks + 1 > first_parts ? plan->blocks + 1 : first_parts;
    choice with[PARTS_MAX + 1];
    pr_status status = PR_OK;
    const double pull_s = s->best.pull_s;
    for (int parts = first_parts; parts <= last_parts && status == PR_OK; parts++) {
        with[parts] = (choice){.pull_s = pull_s,
                               .pull_rpm = pull_rpm[n_pull - 1],
                               .rest_rpm = rest_rpm[n_rest - 1],
                               .parts = parts};
        status = try_choice(s, &with[parts], NEAR);
    }
    for (int parts = first_parts; parts <= last_parts && status == PR_OK; parts++)
        if (with[parts].cost_s <= NEAR * s->best.cost_s)
            status = search_lengths(s, &with[parts]);
    if (status == PR_OK)
        status = lower_speeds(s, rest_rpm, n_rest, false);
    return status == PR_OK ? lower_speeds(s, pull_rpm, n_pull, true) : status;
}

/* Does heat set the rests? It fades fastest from the hottest, so rests as needed are the quickest.
 */
static bool bound_by_heat(const pr_route *route)
{
    size_t heat = 0, other = 0;
    for (size_t i = 0; i < route->n; i++) {
        const pr_limit limit = route->cycles[i].binding;
        heat += limit == PR_LIMIT_MOTOR_HEAT || limit == PR_LIMIT_CABLE_HEAT;
        other += route->cycles[i].binding_stop != PR_STOP_TIME;
    }
    return 2 * heat >= other;
}

static choice known_choice(const pr_plan *plan)
{
    return (choice){.pull_s = plan->pull_s,
                    .pull_rpm = plan->pull_rpm,
                    .rest_rpm = plan->rest_rpm,
                    .parts = plan->parts,
                    .cost_s = cost_s(plan->go, plan->total_s, plan->travel_m)};
}

/* Can equal rests be quicker than the route? Not when the longest that could be, its mean, breaks a
 * limit: shorter ones charge and cool less. */
static pr_status even_may_win(shortest *s, bool *may)
{
    const pr_route *route = s->route;
    double sum_s = 0.0, n = 0.0;
    for (size_t i = 0; i + 1 < route->n; i++) {
        sum_s += route->cycles[i].rerig ? 0.0 : route->cycles[i].rest_s;
        n += route->cycles[i].rerig ? 0.0 : 1.0;
    }
    pr_trial trial;
    const pr_status status = pr_rests_run_even(
        s->job, route->first_rest_s, n > 0.0 ? lround(ceil(sum_s / n)) : 0, &s->spare, &trial);
    *may = trial.pass;
    return status;
}

/* Equal rests with the best choices: a fuller battery pulls faster. */
static pr_status try_even(shortest *s)
{
    bool may = true;
    pr_status status = set_choice(s->job, &s->best);
    if (status == PR_OK && s->exact)
        status = pr_rests_prove(s->job, s->route);
    if (status != PR_OK || !s->route->go || bound_by_heat(s->route))
        return status;
    status = even_may_win(s, &may);
    if (status != PR_OK || !may)
        return status;
    status = pr_rests_even(s->job, s->route, &s->spare);
    if (status == PR_OK && s->spare.go && round(s->spare.end_s) < round(s->best.cost_s)) {
        s->best.cost_s = s->spare.end_s;
        swap_routes(s);
    }
    return status;
}

/* The even plan that is known already may still be the quickest. */
static pr_status consider_known_even(shortest *s, const pr_plan *even)
{
    const choice c = known_choice(even);
    if (!even->go || compare(&c, &s->best) >= 0)
        return PR_OK;
    s->best = c;
    pr_trial trial;
    pr_status status = set_choice(s->job, &c);
    if (status == PR_OK)
        status =
            pr_rests_run_even(s->job, even->first_rest_s, lround(even->rest_s), s->route, &trial);
    s->route->first_binding = even->first_binding;
    s->route->first_binding_stop = even->first_binding_stop;
    for (size_t i = 0; i < s->route->n && i < even->n_cycles; i++) {
        s->route->cycles[i].binding = even->cycles[i].binding;
        s->route->cycles[i].binding_stop = even->cycles[i].binding_stop;
    }
    return status;
}

pr_status pr_shortest_find(pr_job *job, int first_parts, bool exact, const pr_known *known,
                           pr_route *route)
{
    const pr_plan *as_needed = known->as_needed;
    shortest s = {.job = job,
                  .exact = exact,
                  .route = route,
                  .best = known_choice(as_needed),
                  .before = known,
                  .pulling_s = (double)as_needed->n_cycles * as_needed->pull_s};
    s.known = s.best;
    pr_status status = pr_route_copy(known->route, route);
    if (status != PR_OK || !(job->overload.at_m > 0.0)) /* no parts at hand move it */
        return status;
    status = search_all(&s, first_parts);
    if (status == PR_OK)
        status = try_even(&s);
    if (status == PR_OK)
        status = consider_known_even(&s, known->even);
    pr_route_free(&s.spare);
    return status;
}
