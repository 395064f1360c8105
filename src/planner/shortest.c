/* The recovery of least total time: pull length, engine speeds and parts of line.
 *
 * A candidate is a recovery with rests as needed; its time includes every re-rig. Candidates, what
 * the plan def fixes excepted:
 *     parts of line     from the fewest that pull it to blocks + 1
 *     pull length       10, 15, 20, 25, 30, 40, 50, 60 s within the allowed range and both its
 * ends, then whole seconds around the best: +-4, +-2, +-1, as long as it gets better engine speeds
 * idle, fast idle, highest; the search runs at the highest, then every other pair is tried at the
 * best of the above Compared by time in whole seconds, then fewer parts, lower speeds, the shorter
 * pull: the same answer whatever the order. Total time against pull length has many small steps (a
 * pull more or less), so this is the best of those tried, not a proven optimum. */
#include "planner/job.h"

#include "base/number.h"

#include <math.h>

enum { SPEEDS_MAX = 3, LENGTHS_MAX = 12 };

typedef struct choice {
    double pull_s, pull_rpm, rest_rpm;
    int parts;
    bool go;
    double total_s, travel_m;
} choice;

typedef struct shortest {
    pr_job *job;
    pr_route *best_route, spare;
    choice best;
    bool any;
} shortest;

static int compare_numbers(double a, double b)
{
    return (a > b) - (a < b);
}

/* < 0: a is better */
static int compare(const choice *a, const choice *b)
{
    if (a->go != b->go)
        return a->go ? -1 : 1;
    int order = a->go ? compare_numbers(round(a->total_s), round(b->total_s))
                      : compare_numbers(b->travel_m, a->travel_m);
    if (order == 0)
        order = (a->parts > b->parts) - (a->parts < b->parts);
    if (order == 0)
        order = compare_numbers(a->rest_rpm, b->rest_rpm);
    if (order == 0)
        order = compare_numbers(a->pull_rpm, b->pull_rpm);
    return order != 0 ? order : compare_numbers(a->pull_s, b->pull_s);
}

static pr_status set_choice(pr_job *job, const choice *c)
{
    job->pull_s = c->pull_s;
    job->pull_rpm = c->pull_rpm;
    job->rest_rpm = c->rest_rpm;
    const pr_system_def *def = &job->system->def;
    return def->rig.parts == c->parts ? PR_OK : pr_job_rig(job, c->parts, def->demand_case);
}

/* Plans a candidate; keeps it when it is better than the best so far. */
static pr_status try_choice(shortest *s, choice c)
{
    pr_status status = set_choice(s->job, &c);
    if (status != PR_OK)
        return status;
    s->job->give_up_s = s->any && s->best.go ? s->best.total_s + 1.0 : PR_INF;
    status = pr_rests_as_needed(s->job, &s->spare);
    s->job->give_up_s = PR_INF;
    if (status != PR_OK || s->spare.gave_up)
        return status;
    c.go = s->spare.go;
    c.total_s = s->spare.end_s;
    c.travel_m = pr_route_travel_m(&s->spare);
    if (!s->any || compare(&c, &s->best) < 0) {
        s->any = true;
        s->best = c;
        const pr_route keep = *s->best_route;
        *s->best_route = s->spare;
        s->spare = keep;
    }
    return PR_OK;
}

static int lengths(const pr_plan_def *plan, double length_s[LENGTHS_MAX])
{
    if (!isnan(plan->pull_s)) {
        length_s[0] = plan->pull_s;
        return 1;
    }
    static const double grid_s[] = {10.0, 15.0, 20.0, 25.0, 30.0, 40.0, 50.0, 60.0};
    const double low_s = ceil(plan->pull_min_s), high_s = fmax(floor(plan->pull_max_s), low_s);
    int n = 0;
    length_s[n++] = low_s;
    for (size_t i = 0; i < sizeof grid_s / sizeof *grid_s; i++)
        if (grid_s[i] > low_s && grid_s[i] < high_s)
            length_s[n++] = grid_s[i];
    if (high_s > low_s)
        length_s[n++] = high_s;
    return n;
}

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

static pr_status search_lengths(shortest *s, int parts, double pull_rpm, double rest_rpm)
{
    double length_s[LENGTHS_MAX];
    const int n = lengths(&s->job->plan, length_s);
    for (int i = n - 1; i >= 0; i--) { /* long pulls first: mostly the shorter time to give up at */
        const pr_status status = try_choice(s, (choice){.pull_s = length_s[i],
                                                        .pull_rpm = pull_rpm,
                                                        .rest_rpm = rest_rpm,
                                                        .parts = parts});
        if (status != PR_OK)
            return status;
    }
    return PR_OK;
}

static pr_status refine_length(shortest *s)
{
    const pr_plan_def *plan = &s->job->plan;
    if (!isnan(plan->pull_s))
        return PR_OK;
    for (double step_s = 4.0; step_s >= 1.0; step_s /= 2.0) {
        for (int side = -1; side <= 1; side += 2) {
            choice c = s->best;
            c.pull_s += side * step_s;
            if (c.pull_s < ceil(plan->pull_min_s) || c.pull_s > floor(plan->pull_max_s))
                continue;
            const pr_status status = try_choice(s, c);
            if (status != PR_OK)
                return status;
        }
    }
    return PR_OK;
}

static pr_status refine_speeds(shortest *s, const double pull_rpm[], int n_pull,
                               const double rest_rpm[], int n_rest)
{
    const choice centre = s->best;
    for (int i = 0; i < n_pull; i++) {
        for (int k = 0; k < n_rest; k++) {
            choice c = centre;
            c.pull_rpm = pull_rpm[i];
            c.rest_rpm = rest_rpm[k];
            if (i == n_pull - 1 && k == n_rest - 1)
                continue; /* the centre itself */
            const pr_status status = try_choice(s, c);
            if (status != PR_OK)
                return status;
        }
    }
    return PR_OK;
}

pr_status pr_shortest_find(pr_job *job, int first_parts, pr_route *route)
{
    shortest s = {.job = job, .best_route = route};
    double pull_rpm[SPEEDS_MAX], rest_rpm[SPEEDS_MAX];
    const int n_pull = speeds(job, job->plan.pull_rpm, pull_rpm);
    const int n_rest = speeds(job, job->plan.rest_rpm, rest_rpm);
    const bool rigs = job->plan.parts == 0 && job->system->def.has_winch;
    const int last_parts =
        rigs && job->plan.blocks + 1 > first_parts ? job->plan.blocks + 1 : first_parts;
    pr_status status = PR_OK;
    for (int parts = first_parts; parts <= last_parts && status == PR_OK; parts++)
        status = search_lengths(&s, parts, pull_rpm[n_pull - 1], rest_rpm[n_rest - 1]);
    if (status == PR_OK)
        status = refine_length(&s);
    if (status == PR_OK && s.best.go)
        status = refine_speeds(&s, pull_rpm, n_pull, rest_rpm, n_rest);
    if (status == PR_OK)
        status = set_choice(job, &s.best);
    pr_route_free(&s.spare);
    return status;
}
