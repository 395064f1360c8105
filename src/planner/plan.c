/* Plans of the three kinds for one scenario; see plan.h.
 *
 * Pull length, unless given: 30 s (common practice with a loaded winch, no source). When no rests
 * make the recovery possible with that, the longest shorter one that works, not below pull_min;
 * when the start is too low or too hot for a first pull of that length, waiting first and pulling
 * shorter are both planned and the quicker one is taken.
 *
 * Parts of line, unless given: the fewest whose line stays within the winch's rated pull all the
 * way; more, up to blocks + 1, when the recovery is impossible with these. */
#include "planner/plan.h"

#include "base/number.h"
#include "planner/job.h"

#include <math.h>
#include <stdlib.h>

enum { PARTS_MAX = 4 };
/* Rigging a block is work: it must take this share of the time or less. */
static const double WORTH_A_BLOCK = 0.9;

/* What is planned once and shared by all kinds. */
typedef struct planning {
    pr_job job;
    bool exact;            /* rests are told: what searches presume is tried in the end */
    pr_route route, spare; /* as needed; candidates */
    bool shortened;
    int parts_needed, first_parts;
} planning;

static void swap(pr_route *a, pr_route *b)
{
    const pr_route keep = *a;
    *a = *b;
    *b = keep;
}

/* As-needed plan with one pull length into `spare`. */
static pr_status plan_length(planning *p, double pull_s)
{
    p->job.pull_s = pull_s;
    return pr_rests_as_needed(&p->job, &p->spare);
}

/* Longest whole-second pull in [pull_min, below) that works; p->route is it. */
static pr_status shorten(planning *p, double below_s, bool need_no_first_rest, bool *found)
{
    *found = false;
    long low_s = (long)ceil(p->job.plan.pull_min_s), high_s = (long)ceil(below_s);
    for (long at_s = low_s; at_s < high_s;) {
        const pr_status status = plan_length(p, (double)at_s);
        if (status != PR_OK)
            return status;
        if (p->spare.go && (!need_no_first_rest || !(p->spare.first_rest_s > 0.0))) {
            *found = true;
            swap(&p->route, &p->spare);
            low_s = at_s;
        } else if (!*found) {
            return PR_OK; /* not even the shortest */
        } else {
            high_s = at_s;
        }
        if (high_s - low_s <= 1)
            break;
        at_s = low_s + (high_s - low_s) / 2;
    }
    p->job.pull_s = (double)low_s;
    return PR_OK;
}

/* Rests as needed with the parts as rigged; chooses the pull length when the plan def leaves it. */
static pr_status plan_rigged(planning *p)
{
    const double pull_s = p->job.pull_s;
    p->shortened = false;
    pr_status status = plan_length(p, pull_s);
    if (status != PR_OK)
        return status;
    swap(&p->route, &p->spare);
    const bool waits = p->route.go && p->route.first_rest_s > 0.0;
    const bool settled = (p->route.go && !waits) || p->route.gave_up;
    /* so many pulls are the job: shorter ones would be less of it */
    const bool fixed = !isnan(p->job.plan.pull_s) || isinf(p->job.distance_m);
    if (fixed || settled || !(p->job.overload.at_m > 0.0))
        return PR_OK;
    pr_route asked = p->route; /* with the length asked for */
    p->route = (pr_route){0};
    status = shorten(p, pull_s, waits, &p->shortened);
    if (status == PR_OK && (!p->shortened || (waits && asked.end_s <= p->route.end_s))) {
        swap(&p->route, &asked);
        p->shortened = false;
        p->job.pull_s = pull_s;
    }
    pr_route_free(&asked);
    return status;
}

/* A number of parts of line, planned. */
typedef struct rigged {
    pr_route route;
    double pull_s;
    bool shortened;
} rigged;

/* Are more parts worth their blocks? */
static bool is_better(const rigged *more, const rigged *fewer)
{
    const pr_route *a = &more->route, *b = &fewer->route;
    if (a->go != b->go)
        return a->go;
    return a->go ? a->end_s < WORTH_A_BLOCK * b->end_s
                 : pr_route_travel_m(a) > pr_route_travel_m(b);
}

static int best_parts(const rigged *with, int fewest, int most)
{
    int best = fewest;
    for (int parts = fewest + 1; parts <= most; parts++)
        if (is_better(&with[parts], &with[best]))
            best = parts;
    return best;
}

/* Leaves the best of all allowed parts in p->route, and the job as it was for it. From the most
 * down: fewer are hardly ever the better ones here, and are given up once they are not. */
static pr_status plan_parts(planning *p, int most)
{
    pr_job *job = &p->job;
    const pr_case which = job->system->def.demand_case;
    const double pull_s = job->pull_s;
    rigged with[PARTS_MAX + 1] = {{{0}}};
    pr_status status = PR_OK;
    for (int parts = most; parts >= p->first_parts && status == PR_OK; parts--) {
        job->pull_s = pull_s;
        if (parts < most) {
            const pr_route *best = &with[best_parts(with, parts + 1, most)].route;
            job->give_up_s = best->go ? best->end_s / WORTH_A_BLOCK : PR_INF;
        }
        status = pr_job_rig(job, parts, which);
        if (status == PR_OK)
            status = plan_rigged(p);
        swap(&with[parts].route, &p->route);
        with[parts].pull_s = job->pull_s;
        with[parts].shortened = p->shortened;
    }
    job->give_up_s = PR_INF;
    const int best = status == PR_OK ? best_parts(with, p->first_parts, most) : most;
    swap(&with[best].route, &p->route);
    job->pull_s = with[best].pull_s;
    p->shortened = with[best].shortened;
    for (int parts = p->first_parts; parts <= most; parts++)
        pr_route_free(&with[parts].route);
    return status == PR_OK ? pr_job_rig(job, best, which) : status;
}

static pr_status choose_parts(planning *p)
{
    pr_job *job = &p->job;
    const pr_system_def *def = &job->system->def;
    p->parts_needed = pr_job_parts_needed(job, def->demand_case);
    p->first_parts = def->rig.parts;
    if (job->plan.parts > 0 || !def->has_winch)
        return plan_rigged(p);
    const int most = job->plan.blocks + 1;
    p->first_parts = p->parts_needed > 0 && p->parts_needed <= most ? p->parts_needed : most;
    return plan_parts(p, most);
}

static pr_status plan_as_needed(planning *p)
{
    p->job.presume = true;
    const pr_status status = choose_parts(p);
    return status == PR_OK && p->exact ? pr_rests_prove(&p->job, &p->route) : status;
}

/* `like`: a plan as needed of much the same recovery, which aims the searches; or NULL. */
static pr_status open_planning(const pr_scenario *scenario, bool exact, const pr_plan *like,
                               planning *p, pr_plan_set *set, pr_diag *diag)
{
    *p = (planning){.exact = exact};
    pr_status status = pr_job_open(scenario, &p->job, diag);
    if (status != PR_OK)
        return status;
    if (like != NULL) {
        const pr_guide guide = {.parts = like->parts,
                                .pull_s = like->pull_s,
                                .pull_rpm = like->pull_rpm,
                                .rest_rpm = like->rest_rpm};
        pr_job_add_guide(&p->job, &guide, like->cycles, like->n_cycles);
    }
    status = plan_as_needed(p);
    if (set == NULL)
        return status;
    set->limits = p->job.asked;
    set->reserve_frac = p->job.asked.reserve_frac;
    set->reserve_computed_frac = p->job.reserve_computed_frac;
    set->parts_needed = p->parts_needed;
    const pr_system *system = p->job.system;
    const pr_system_def *def = &system->def;
    const bool demand = def->has_winch && def->work == PR_WORK_DEMAND;
    for (int i = 0; i < PR_CASE_COUNT; i++) {
        set->demand_N[i] = demand ? pr_demand_resistance_N(&def->demand, 0.0, (pr_case)i) : PR_NAN;
        set->fall_line_N[i] = pr_rig_fall_line_N(&def->rig, set->demand_N[i]);
        set->case_total_s[i] = PR_NAN;
    }
    set->capacity_N =
        def->has_winch
            ? def->motor.rated_pull_N /
                  pr_drum_ratio(&system->drum, pr_drum_layer(&system->drum, def->rope_out_m))
            : PR_NAN;
    return status;
}

static void close_planning(planning *p)
{
    pr_route_free(&p->route);
    pr_route_free(&p->spare);
    pr_job_close(&p->job);
}

/* The even plan from the as-needed one; keeps p->route. */
static pr_status plan_even(planning *p, pr_plan *plan)
{
    pr_route even = {0};
    const pr_status status = pr_rests_even(&p->job, &p->route, &even);
    if (status != PR_OK) {
        pr_route_free(&even);
        return status;
    }
    pr_plan_take_route(plan, PR_PLAN_EVEN, &p->job, &even);
    plan->shortened = p->shortened;
    return PR_OK;
}

/* Does the even plan hold, and in how long, when the ground is kinder or worse? */
static pr_status run_cases(planning *p, const pr_plan *even, pr_plan_set *set)
{
    const pr_system_def *def = &p->job.system->def;
    const pr_case planned = def->demand_case;
    const bool current = def->work == PR_WORK_CURRENT; /* whatever the ground */
    pr_route route = {0};
    pr_status status = PR_OK;
    for (int i = 0; i < PR_CASE_COUNT && status == PR_OK; i++) {
        const bool known = (pr_case)i == planned || current;
        if (known || !(even->total_s > 0.0)) {
            set->case_go[i] = even->go && known;
            set->case_total_s[i] = set->case_go[i] ? even->total_s : PR_NAN;
            continue;
        }
        pr_trial trial;
        status = pr_job_rig(&p->job, even->parts, (pr_case)i);
        if (status == PR_OK)
            status = pr_rests_run_even(&p->job, even->first_rest_s,
                                       lround(fmax(even->rest_s, p->job.plan.rest_min_s)), &route,
                                       &trial);
        if (status == PR_OK) {
            set->case_go[i] = route.go;
            set->case_total_s[i] = route.go ? route.end_s : PR_NAN;
        }
    }
    pr_route_free(&route);
    const pr_status back = pr_job_rig(&p->job, even->parts, planned);
    return status == PR_OK ? back : status;
}

static pr_status tell(planning *p, double done_frac)
{
    p->job.done_frac = done_frac;
    if (p->job.progress != NULL && p->job.progress(p->job.progress_context, done_frac) != 0)
        return PR_ERR_CANCELLED;
    return PR_OK;
}

/* With the same choices the first pull is the same. */
static bool pulls_alike(const pr_job *job, const pr_route *route, const pr_plan *plan)
{
    return job->pull_s == plan->pull_s && job->pull_rpm == plan->pull_rpm &&
           job->rest_rpm == plan->rest_rpm && job->system->def.rig.parts == plan->parts &&
           route->first_rest_s == plan->first_rest_s;
}

/* Leaves the job with other choices. with_meter: as_needed, which is p->route, has its gap. */
static pr_status plan_shortest(planning *p, pr_plan *as_needed, const pr_plan *even,
                               bool with_meter, pr_plan *plan)
{
    pr_route route = {0};
    pr_meter_gap gap = {PR_NAN, PR_NAN, PR_NAN, PR_NAN};
    const pr_known known = {.as_needed = as_needed, .even = even, .route = &p->route};
    pr_status status = pr_shortest_find(&p->job, p->first_parts, p->exact, &known, &route);
    if (status == PR_OK && with_meter) {
        if (pulls_alike(&p->job, &route, as_needed))
            gap = as_needed->meter;
        else
            status = pr_meter_gap_find(&p->job, &route, &gap);
    }
    if (status != PR_OK) {
        pr_route_free(&route);
        return status;
    }
    pr_plan_take_route(plan, PR_PLAN_SHORTEST, &p->job, &route);
    plan->meter = gap;
    return PR_OK;
}

/* The plan as needed; keeps p->route. */
static pr_status take_as_needed(planning *p, pr_plan *plan)
{
    pr_route copy = {0};
    const pr_status status = pr_route_copy(&p->route, &copy);
    if (status == PR_OK)
        pr_plan_take_route(plan, PR_PLAN_AS_NEEDED, &p->job, &copy);
    else
        pr_route_free(&copy);
    return status;
}

static pr_status plan_all(planning *p, bool with_cases, pr_plan_set *set)
{
    pr_plan *even = &set->plan[PR_PLAN_EVEN], *as_needed = &set->plan[PR_PLAN_AS_NEEDED];
    const unsigned long before = p->job.simulations;
    pr_meter_gap gap;
    pr_status status = tell(p, 0.2);
    if (status == PR_OK)
        status = pr_meter_gap_find(&p->job, &p->route, &gap);
    const unsigned long after_gap = p->job.simulations;
    if (status == PR_OK)
        status = plan_even(p, even);
    if (status != PR_OK)
        return status;
    even->simulations -= after_gap;
    even->meter = gap;
    status = take_as_needed(p, as_needed);
    if (status != PR_OK)
        return status;
    as_needed->simulations = before;
    as_needed->shortened = p->shortened;
    as_needed->meter = gap; /* the same first pull */
    if (with_cases)
        status = run_cases(p, even, set);
    if (status == PR_OK)
        status = tell(p, 0.4);
    const unsigned long before_shortest = p->job.simulations;
    if (status == PR_OK)
        status = plan_shortest(p, as_needed, even, true, &set->plan[PR_PLAN_SHORTEST]);
    if (status == PR_OK)
        set->plan[PR_PLAN_SHORTEST].simulations -= before_shortest;
    set->simulations = p->job.simulations;
    return status == PR_OK ? tell(p, 1.0) : status;
}

static void clear_set(pr_plan_set *set)
{
    *set = (pr_plan_set){0};
    for (int i = 0; i < PR_PLAN_KINDS; i++) {
        set->plan[i].kind = (pr_plan_kind)i;
        set->plan[i].status = PR_ERR_INTERNAL; /* until it is made */
    }
}

static pr_status make_set(const pr_scenario *scenario, bool with_cases, pr_plan_set *set,
                          pr_diag *diag, pr_progress_fn progress, void *progress_context)
{
    clear_set(set);
    planning p;
    pr_status status = open_planning(scenario, true, NULL, &p, set, diag);
    p.job.progress = progress;
    p.job.progress_context = progress_context;
    if (status == PR_OK)
        status = plan_all(&p, with_cases, set);
    for (int i = 0; i < PR_PLAN_KINDS; i++)
        if (set->plan[i].status == PR_ERR_INTERNAL && status != PR_OK)
            set->plan[i].status = status;
    close_planning(&p);
    return status;
}

pr_status pr_plan_make(const pr_scenario *scenario, pr_plan_set *set, pr_diag *diag,
                       pr_progress_fn progress, void *progress_context)
{
    return make_set(scenario, true, set, diag, progress, progress_context);
}

pr_status pr_plan_make_kinds(const pr_scenario *scenario, pr_plan_set *set, pr_diag *diag)
{
    return make_set(scenario, false, set, diag, NULL, NULL);
}

static pr_status make_kind(planning *p, pr_plan_kind kind, bool with_meter, pr_plan *plan)
{
    pr_meter_gap gap = {PR_NAN, PR_NAN, PR_NAN, PR_NAN};
    pr_status status = PR_OK;
    if (kind == PR_PLAN_SHORTEST) {
        pr_plan as_needed = {0}, even = {0};
        if (with_meter)
            status = pr_meter_gap_find(&p->job, &p->route, &gap);
        if (status == PR_OK)
            status = plan_even(p, &even);
        if (status == PR_OK)
            status = take_as_needed(p, &as_needed);
        as_needed.meter = gap;
        if (status == PR_OK)
            status = plan_shortest(p, &as_needed, &even, with_meter, plan);
        pr_plan_free(&as_needed);
        pr_plan_free(&even);
        return status;
    }
    if (with_meter)
        status = pr_meter_gap_find(&p->job, &p->route, &gap);
    if (status != PR_OK)
        return status;
    if (kind == PR_PLAN_EVEN)
        status = plan_even(p, plan);
    else
        pr_plan_take_route(plan, kind, &p->job, &p->route);
    plan->meter = gap;
    plan->shortened = p->shortened;
    return status;
}

static pr_status make_one(const pr_scenario *scenario, pr_plan_kind kind, bool exact,
                          const pr_plan *like, pr_plan *plan, pr_plan_set *context, pr_diag *diag)
{
    *plan = (pr_plan){.kind = kind, .status = PR_ERR_INTERNAL};
    if ((unsigned)kind >= PR_PLAN_KINDS)
        return PR_ERR_INTERNAL;
    planning p;
    pr_status status = open_planning(scenario, exact, like, &p, context, diag);
    if (status == PR_OK)
        status = make_kind(&p, kind, exact, plan);
    if (status != PR_OK)
        plan->status = status;
    close_planning(&p);
    return status;
}

pr_status pr_plan_make_one(const pr_scenario *scenario, pr_plan_kind kind, pr_plan *plan,
                           pr_plan_set *context, pr_diag *diag)
{
    if (context != NULL)
        clear_set(context);
    return make_one(scenario, kind, true, NULL, plan, context, diag);
}

pr_status pr_plan_make_variant(const pr_scenario *scenario, pr_plan_kind kind, const pr_plan *like,
                               pr_plan *plan)
{
    return make_one(scenario, kind, false, like, plan, NULL, NULL);
}

pr_status pr_plan_look_out(const pr_scenario *scenario, const pr_plan_set *set, pr_plan_kind kind,
                           pr_case which, pr_plan *plan)
{
    pr_scenario *other = malloc(sizeof *other);
    if (other == NULL)
        return PR_ERR_NOMEM;
    *other = *scenario; /* a plain copy that borrows what the original owns */
    other->system.demand_case = which;
    if (which == PR_CASE_LOW)
        other->plan.parts = set->plan[kind].parts;
    const pr_plan_kind made = kind == PR_PLAN_SHORTEST ? PR_PLAN_AS_NEEDED : kind;
    const pr_status status = pr_plan_make_variant(other, made, &set->plan[PR_PLAN_AS_NEEDED], plan);
    free(other);
    return status;
}

void pr_plan_free(pr_plan *plan)
{
    free(plan->cycles);
    free(plan->tried);
    plan->cycles = NULL;
    plan->tried = NULL;
    plan->n_cycles = plan->n_tried = 0;
}

void pr_plan_set_free(pr_plan_set *set)
{
    for (int i = 0; i < PR_PLAN_KINDS; i++)
        pr_plan_free(&set->plan[i]);
}
