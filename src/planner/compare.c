/* Cases side by side; see compare.h. Nothing is estimated: every figure is from a plan of its own.
 *
 * Side by side stand the shortest plans: each rig at its best, with the pull length and engine
 * speed that suit it. Plans with a given pull would not be fair: a weak rig has to pull in shorter
 * bites, which heat less and rest less, and would seem the quicker one. Where some case goes only
 * with one of the other plans (the search for the shortest is not exhaustive), rests as needed
 * stand there for all. */
#include "planner/compare.h"

#include "base/number.h"
#include "planner/job.h"
#include "planner/work.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* Smaller differences of a plate are none. */
static const double SAME_FRAC = 0.02;

static bool more(double a, double b)
{
    return a > b * (1.0 + SAME_FRAC);
}

static double winch_rpm(const pr_scenario *s)
{
    return isnan(s->plan.rest_rpm) ? s->system.fast_idle_rpm : s->plan.rest_rpm;
}

static double rated_A(const pr_system_def *def)
{
    if (!def->has_alternator)
        return 0.0;
    const pr_alternator_def *a = &def->alternator;
    return a->n_points > 0 ? a->point_A[a->n_points - 1] : a->rated_A;
}

static double cable_mm2(const pr_system_def *def)
{
    const pr_wire_slot *w = &def->run[PR_RUN_WINCH];
    return w->present ? w->def.parallel * pr_wire_area_mm2(w->def.gauge_kind, w->def.gauge) : 0.0;
}

static bool differs(double a, double b)
{
    return !(isnan(a) && isnan(b)) && !(fabs(a - b) <= 1e-9 * fmax(1.0, fabs(b)));
}

static bool other_way(const pr_system_def *a, const pr_system_def *b)
{
    const pr_demand_def *x = &a->demand, *y = &b->demand;
    if (a->work != b->work || differs(a->anchor_distance_m, b->anchor_distance_m) ||
        differs(x->weight_N, y->weight_N) || x->n_segments != y->n_segments ||
        x->mire_method != y->mire_method || differs(x->damage_frac, y->damage_frac) ||
        differs(x->margin_frac, y->margin_frac) ||
        differs(x->fixed_resistance_N, y->fixed_resistance_N))
        return true;
    for (int i = 0; i < x->n_segments; i++) {
        const pr_demand_segment *p = &x->segments[i], *q = &y->segments[i];
        bool other = differs(p->length_m, q->length_m) || differs(p->slope_rad, q->slope_rad) ||
                     p->mire != q->mire;
        for (int c = 0; c < PR_CASE_COUNT; c++)
            other = other || differs(p->surface_frac[c], q->surface_frac[c]);
        if (other)
            return true;
    }
    return a->work == PR_WORK_CURRENT && differs(a->pull_A, b->pull_A);
}

static unsigned find_differences(const pr_scenario *first, const pr_scenario *other)
{
    const pr_system_def *a = &first->system, *b = &other->system;
    unsigned d = 0;
    if (b->n_batteries > a->n_batteries)
        d |= PR_DIFFERENCE_SECOND_BATTERY;
    if (more(rated_A(b), rated_A(a)))
        d |= PR_DIFFERENCE_BIGGER_ALTERNATOR;
    if (more(b->battery[b->winch_post].c20_Ah, a->battery[a->winch_post].c20_Ah))
        d |= PR_DIFFERENCE_BIGGER_BATTERY;
    if (b->n_batteries < a->n_batteries || more(rated_A(a), rated_A(b)) ||
        more(a->battery[a->winch_post].c20_Ah, b->battery[b->winch_post].c20_Ah))
        d |= PR_DIFFERENCE_LESS;
    if (other->plan.parts > first->plan.parts || other->plan.blocks > first->plan.blocks)
        d |= PR_DIFFERENCE_MORE_PARTS;
    if (winch_rpm(other) > winch_rpm(first))
        d |= PR_DIFFERENCE_FASTER_ENGINE;
    if (more(cable_mm2(b), cable_mm2(a)))
        d |= PR_DIFFERENCE_CABLE;
    if (differs(a->motor.rated_pull_N, b->motor.rated_pull_N) ||
        differs(a->motor.rated_A, b->motor.rated_A))
        d |= PR_DIFFERENCE_OTHER_WINCH;
    if (other_way(a, b) || first->plan.pulls != other->plan.pulls)
        d |= PR_DIFFERENCE_GROUND;
    if (differs(a->ambient_degC, b->ambient_degC))
        d |= PR_DIFFERENCE_WEATHER;
    if (differs(a->start_soc_frac[a->starter_post], b->start_soc_frac[b->starter_post]))
        d |= PR_DIFFERENCE_START;
    return d;
}

static pr_status plan_hard(const pr_scenario *scenario, pr_compared *c, unsigned long *simulations)
{
    pr_scenario *hard = malloc(sizeof *hard);
    if (hard == NULL)
        return PR_ERR_NOMEM;
    *hard = *scenario; /* borrows what the scenario owns */
    hard->system.demand_case = PR_CASE_HIGH;
    pr_plan plan;
    const pr_status status =
        pr_plan_make_variant(hard, PR_PLAN_SHORTEST, &c->plan[PR_PLAN_AS_NEEDED], &plan);
    if (status == PR_OK) {
        c->hard_go = plan.go;
        c->hard_total_s = plan.total_s;
        c->hard_travel_m = plan.travel_m;
        *simulations += plan.simulations;
    }
    pr_plan_free(&plan);
    free(hard);
    return status;
}

static pr_status plan_case(const pr_scenario *scenario, pr_compared *c, pr_diag *diag,
                           unsigned long *simulations)
{
    pr_plan_set *set = calloc(1, sizeof *set);
    if (set == NULL)
        return PR_ERR_NOMEM;
    const pr_status status = pr_plan_make_kinds(scenario, set, diag);
    memcpy(c->plan, set->plan, sizeof c->plan); /* they are the case's from now on */
    *simulations += set->simulations;
    c->limits = set->limits;
    c->reserve_computed_frac = set->reserve_computed_frac;
    c->min_crank_V = scenario->system.cranking.min_V;
    free(set);
    return status == PR_OK ? plan_hard(scenario, c, simulations) : status;
}

static pr_plan_kind choose_kind(const pr_comparison *comparison)
{
    for (size_t k = 0; k < comparison->n; k++) {
        const pr_plan *plan = comparison->cases[k].plan;
        if (plan[PR_PLAN_AS_NEEDED].go && !plan[PR_PLAN_SHORTEST].go)
            return PR_PLAN_AS_NEEDED;
    }
    return PR_PLAN_SHORTEST;
}

/* All cases, each planned by itself. */
typedef struct cases {
    const pr_scenario *const *scenarios;
    pr_compared *compared;
    pr_status status[PR_COMPARE_MAX];
    pr_diag diag[PR_COMPARE_MAX];
    unsigned long simulations[PR_COMPARE_MAX];
    size_t n;
    pr_progress_fn progress;
    void *progress_context;
} cases;

static void try_case(void *whole, int worker, size_t k)
{
    (void)worker;
    cases *all = whole;
    all->status[k] =
        plan_case(all->scenarios[k], &all->compared[k], &all->diag[k], &all->simulations[k]);
}

static int tell(void *whole, size_t finished)
{
    const cases *all = whole;
    return all->progress(all->progress_context, (double)finished / (double)all->n);
}

/* What there is to say of a case that was tried. */
static void say_case(const cases *all, size_t k, pr_diag *diag)
{
    for (size_t i = 0; i < all->diag[k].count; i++) {
        const pr_diag_entry *e = &all->diag[k].entries[i];
        pr_diag_add(diag, e->severity, (pr_place){e->file, e->line, e->column}, "%s", e->text);
    }
    if (all->status[k] != PR_OK)
        pr_diag_add(diag, PR_NOTE, (pr_place){all->scenarios[k]->path, 0, 0},
                    "'%s' cannot be planned: %s", all->compared[k].name,
                    pr_status_text(all->status[k]));
}

static pr_status plan_cases(cases *all, pr_comparison *comparison, pr_diag *diag)
{
    for (size_t k = 0; k < all->n; k++)
        all->diag[k] = pr_diag_init();
    size_t done;
    pr_status status =
        pr_work_run(try_case, all, all->n, 0, all->progress != NULL ? tell : NULL, all, &done);
    for (size_t k = 0; k < done; k++) {
        comparison->simulations += all->simulations[k];
        if (diag != NULL)
            say_case(all, k, diag);
        if (all->status[k] == PR_OK)
            continue;
        status = all->status[k];
        break;
    }
    for (size_t k = 0; k < all->n; k++)
        pr_diag_free(&all->diag[k]);
    return status;
}

pr_status pr_compare_make(const pr_scenario *const scenarios[], const char *const names[], size_t n,
                          pr_comparison *comparison, pr_diag *diag, pr_progress_fn progress,
                          void *progress_context)
{
    *comparison = (pr_comparison){0};
    if (n < 2 || n > PR_COMPARE_MAX)
        return PR_ERR_RANGE;
    comparison->cases = calloc(n, sizeof *comparison->cases);
    if (comparison->cases == NULL)
        return PR_ERR_NOMEM;
    comparison->n = n;
    for (size_t k = 0; k < n; k++) {
        pr_compared *c = &comparison->cases[k];
        snprintf(c->name, sizeof c->name, "%s", names[k]);
        c->differences = k > 0 ? find_differences(scenarios[0], scenarios[k]) : 0;
    }
    cases all = {.scenarios = scenarios,
                 .compared = comparison->cases,
                 .n = n,
                 .progress = progress,
                 .progress_context = progress_context};
    const pr_status status = plan_cases(&all, comparison, diag);
    if (status != PR_OK)
        return status;
    comparison->kind = choose_kind(comparison);
    return PR_OK;
}

void pr_comparison_free(pr_comparison *comparison)
{
    for (size_t k = 0; k < comparison->n; k++)
        for (int kind = 0; kind < PR_PLAN_KINDS; kind++)
            pr_plan_free(&comparison->cases[k].plan[kind]);
    free(comparison->cases);
    *comparison = (pr_comparison){0};
}

const pr_plan *pr_compared_plan(const pr_comparison *comparison, size_t k)
{
    return &comparison->cases[k].plan[comparison->kind];
}

pr_compare_verdict pr_compare_judge(const pr_comparison *comparison, size_t k, double *saved_s)
{
    const pr_compared *first = &comparison->cases[0], *other = &comparison->cases[k];
    const bool was = pr_compared_plan(comparison, 0)->go, is = pr_compared_plan(comparison, k)->go;
    if (saved_s != NULL)
        *saved_s = was && is ? pr_compared_plan(comparison, 0)->total_s -
                                   pr_compared_plan(comparison, k)->total_s
                             : PR_NAN;
    if (!was)
        return is ? PR_VERDICT_NEEDED : PR_VERDICT_NO_HELP;
    if (!is)
        return PR_VERDICT_HARMS;
    return other->hard_go && !first->hard_go ? PR_VERDICT_SAFER : PR_VERDICT_NOT_NEEDED;
}
