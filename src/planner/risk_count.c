/* Counting and ordering what came of many recoveries, in the order of their index. */
#include "planner/risk_run.h"

#include <math.h>

pr_risk_spread pr_risk_spread_of(double *values, size_t n, bool worst_is_low)
{
    pr_values_sort(values, n);
    return (pr_risk_spread){
        .q05 = pr_values_quantile(values, n, 0.05),
        .q50 = pr_values_quantile(values, n, 0.50),
        .q90 = pr_values_quantile(values, n, 0.90),
        .q95 = pr_values_quantile(values, n, 0.95),
        .worst = pr_values_quantile(values, n, worst_is_low ? 0.0 : 1.0),
    };
}

/* One figure of every computed outcome, gathered and ordered. */
typedef double (*figure_fn)(const pr_risk_outcome *outcome);
static double least_soc(const pr_risk_outcome *o)
{
    return o->least_soc_frac;
}
static double least_box(const pr_risk_outcome *o)
{
    return o->least_box_V;
}
static double least_restart(const pr_risk_outcome *o)
{
    return o->least_restart_V;
}
static double most_armature(const pr_risk_outcome *o)
{
    return o->most_armature_degC;
}
static double total(const pr_risk_outcome *o)
{
    return o->total_s;
}

static pr_risk_spread gather(const pr_risk_outcome *outcomes, size_t n, figure_fn figure,
                             bool worst_is_low, double *scratch)
{
    size_t kept = 0;
    for (size_t i = 0; i < n; i++)
        if (outcomes[i].status == PR_OK && !isnan(figure(&outcomes[i])))
            scratch[kept++] = figure(&outcomes[i]);
    return pr_risk_spread_of(scratch, kept, worst_is_low);
}

static void count_one(const pr_risk_outcome *o, pr_risk_counts *c)
{
    c->computed++;
    c->holds += o->holds;
    c->out += o->at_goal && !o->broken[PR_LIMIT_RESTART];
    c->stuck += !o->at_goal && !o->over_time;
    c->overload += o->overload;
    c->over_time += o->over_time;
    for (int l = 0; l < PR_LIMIT_COUNT; l++)
        c->breaks[l] += o->broken[l];
    if (!o->holds)
        c->first[o->first]++;
}

pr_risk_counts pr_risk_count(const pr_risk_outcome *outcomes, size_t n)
{
    pr_risk_counts c = {.why_not = PR_OK};
    for (size_t i = 0; i < n; i++) {
        if (outcomes[i].status == PR_OK)
            count_one(&outcomes[i], &c);
        else if (c.why_not == PR_OK)
            c.why_not = outcomes[i].status;
    }
    return c;
}

pr_risk_spread pr_risk_total_spread(const pr_risk_outcome *outcomes, size_t n, double *scratch)
{
    return gather(outcomes, n, total, false, scratch);
}

void pr_risk_tell_chance(const pr_risk_outcome *outcomes, size_t n, double *scratch, pr_risk *risk)
{
    const pr_risk_counts c = pr_risk_count(outcomes, n);
    risk->why_not = c.why_not;
    risk->not_computed = n - c.computed;
    risk->holds = pr_share_of(c.holds, c.computed);
    risk->out = pr_share_of(c.out, c.computed);
    risk->stuck = pr_share_of(c.stuck, c.computed);
    risk->overload = pr_share_of(c.overload, c.computed);
    risk->over_time = pr_share_of(c.over_time, c.computed);
    for (int l = 0; l < PR_LIMIT_COUNT; l++) {
        risk->breaks[l] = pr_share_of(c.breaks[l], c.computed);
        risk->first[l] = pr_share_of(c.first[l], c.computed);
    }
    risk->least_soc_frac = gather(outcomes, n, least_soc, true, scratch);
    risk->least_box_V = gather(outcomes, n, least_box, true, scratch);
    risk->least_restart_V = gather(outcomes, n, least_restart, true, scratch);
    risk->most_armature_degC = gather(outcomes, n, most_armature, false, scratch);
    risk->total_s = pr_risk_total_spread(outcomes, n, scratch);
}
