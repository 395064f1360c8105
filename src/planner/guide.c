/* Guides: the rests of an earlier route, to aim the searches of one that is much like it.
 *
 * Two routes with as many parts of line need nearly the same rests at the same place, when only
 * engine speeds or a component differ, and rests in about the same ratio, when the pulls are longer
 * or shorter. So the guess for the next rest is what the guide had there, shifted by (or in the
 * ratio of) how far the last rest was from the guide's. A guess says only where a search begins:
 * what is found is found as without it, in fewer trials. */
#include "planner/job.h"

#include "base/number.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void drop_oldest(pr_job *job)
{
    free(job->guide[0].mark);
    memmove(&job->guide[0], &job->guide[1], (PR_GUIDES_MAX - 1) * sizeof job->guide[0]);
    job->n_guides--;
}

void pr_job_add_guide(pr_job *job, const pr_guide *like, const pr_cycle *cycles, size_t n)
{
    if (n < 2)
        return;
    pr_guide_mark *mark = malloc(n * sizeof *mark);
    if (mark == NULL)
        return; /* nothing depends on it */
    for (size_t i = 0; i < n; i++)
        mark[i] = (pr_guide_mark){.travel_m = cycles[i].travel_m,
                                  .edge_s = cycles[i].rest_edge_s,
                                  .slope = cycles[i].rest_slope,
                                  .limit = cycles[i].binding};
    if (job->n_guides == PR_GUIDES_MAX)
        drop_oldest(job);
    pr_guide *guide = &job->guide[job->n_guides++];
    *guide = *like;
    guide->n = n - 1;
    guide->mark = mark;
}

void pr_job_free_guides(pr_job *job)
{
    for (int i = 0; i < job->n_guides; i++)
        free(job->guide[i].mark);
    job->n_guides = 0;
}

/* Pulls as long weigh most; then engine speeds, by their ratio: charging levels off. */
static double unlikeness(const pr_guide *g, const pr_job *job)
{
    return 10.0 * fabs(log(g->pull_s / job->pull_s)) + fabs(log(g->pull_rpm / job->pull_rpm)) +
           fabs(log(g->rest_rpm / job->rest_rpm));
}

const pr_guide *pr_job_find_guide(const pr_job *job)
{
    const pr_guide *best = NULL;
    for (int i = job->n_guides - 1; i >= 0; i--) { /* of equals the last */
        const pr_guide *g = &job->guide[i];
        if (g->parts == job->system->def.rig.parts &&
            (best == NULL || unlikeness(g, job) < unlikeness(best, job)))
            best = g;
    }
    return best;
}

/* What the guide had after so many pulls, or else at that place, between its marks; edge NaN: no
 * limit set that rest, or the guide ends before. */
static pr_guide_mark mark_at(const pr_guide *g, const pr_job *job, size_t pulls, double travel_m)
{
    static const pr_guide_mark none = {.edge_s = PR_NAN};
    const bool alike = g->pull_s == job->pull_s;
    if (isinf(job->distance_m))
        return alike && pulls <= g->n ? g->mark[pulls - 1] : none;
    size_t i = 0;
    while (i + 1 < g->n && g->mark[i + 1].travel_m <= travel_m)
        i++;
    const pr_guide_mark *low = &g->mark[i], *high = i + 1 < g->n ? low + 1 : low;
    const double way_m = high->travel_m - low->travel_m;
    const double w = way_m > 0.0 ? fmin(fmax((travel_m - low->travel_m) / way_m, 0.0), 1.0) : 0.0;
    pr_guide_mark mark = w < 0.5 ? *low : *high;
    if (w > 0.02 && w < 0.98 && !isnan(low->edge_s) && !isnan(high->edge_s))
        mark.edge_s = low->edge_s + w * (high->edge_s - low->edge_s);
    return mark;
}

bool pr_guide_rest(const pr_guide *g, const pr_job *job, const pr_route *route, pr_guide_mark *mark)
{
    const size_t n = route->n;
    *mark = mark_at(g, job, n, route->cycles[n - 1].travel_m);
    if (isnan(mark->edge_s))
        return false;
    const bool alike = g->pull_s == job->pull_s;
    mark->slope = alike ? mark->slope : 0.0;
    const pr_cycle *last = n > 1 ? &route->cycles[n - 2] : NULL;
    if (last == NULL)
        return alike;
    const pr_guide_mark was = mark_at(g, job, n - 1, last->travel_m);
    if (isnan(was.edge_s) || isnan(last->rest_edge_s))
        return alike && isnan(was.edge_s) && isnan(last->rest_edge_s); /* begins here in both */
    mark->edge_s += alike ? last->rest_edge_s - was.edge_s
                          : mark->edge_s * (last->rest_edge_s / was.edge_s - 1.0);
    return true;
}
