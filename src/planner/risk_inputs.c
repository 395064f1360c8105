/* The uncertain inputs of a study: the scenario's spreads, and the mire factor of each depth that
 * the way out has, whose low, likely and high are those of the demand's cases. */
#include "planner/risk_run.h"

#include "base/number.h"

#include <math.h>
#include <stdio.h>

static void say(pr_diag *diag, const char *key, const char *what)
{
    if (diag != NULL)
        pr_diag_add(diag, PR_ERROR, (pr_place){NULL, 0, 0}, "%s%s%s", key, key[0] != 0 ? ": " : "",
                    what);
}

static void add_mire(const pr_scenario *scenario, pr_mire depth, pr_risk *risk)
{
    static const char *const names[] = {"", "wheel", "hub", "body"};
    const pr_demand_def *demand = &scenario->system.demand;
    bool any = false;
    for (int i = 0; i < demand->n_segments; i++)
        any = any || demand->segments[i].mire == depth;
    if (!any)
        return;
    pr_risk_input *input = &risk->input[risk->n_inputs++];
    *input = (pr_risk_input){.is_mire = true, .depth = depth};
    pr_spread *s = &input->spread;
    snprintf(s->key, sizeof s->key, "recovery.mire (%s)", names[depth]);
    s->kind = PR_SPREAD_TRIANGLE;
    s->low = pr_demand_mire_factor(depth, demand->mire_method, PR_CASE_LOW);
    s->likely = pr_demand_mire_factor(depth, demand->mire_method, PR_CASE_LIKELY);
    s->high = pr_demand_mire_factor(depth, demand->mire_method, PR_CASE_HIGH);
    s->sd = PR_NAN;
    s->unit = "%";
    s->stored = "";
    s->from_catalogue = true;
}

static void add_margin(const pr_scenario *scenario, pr_risk *risk)
{
    const size_t offset = offsetof(pr_scenario, system.demand.margin_frac);
    const double margin_frac = scenario->system.demand.margin_frac;
    bool given = !(margin_frac > 0.0);
    for (int i = 0; i < risk->n_inputs; i++)
        given = given || risk->input[i].spread.offset == offset;
    if (given)
        return;
    pr_risk_input *input = &risk->input[risk->n_inputs++];
    *input = (pr_risk_input){.spread = {.key = "recovery.margin",
                                        .offset = offset,
                                        .kind = PR_SPREAD_UNIFORM,
                                        .low = 0.0,
                                        .likely = margin_frac,
                                        .high = margin_frac,
                                        .sd = PR_NAN,
                                        .unit = "%",
                                        .stored = "",
                                        .from_catalogue = true}};
}

pr_status pr_risk_inputs_list(const pr_scenario *scenario, pr_risk *risk, pr_diag *diag)
{
    if (scenario->n_spreads < 0 || scenario->n_spreads > PR_SPREADS_MAX)
        return PR_ERR_INTERNAL;
    for (int i = 0; i < scenario->n_spreads; i++) {
        const pr_spread *s = &scenario->spread[i];
        if (pr_spread_check(s) != PR_OK) {
            say(diag, s->key, "its spread has no width, or likely lies outside low and high");
            return PR_ERR_INPUT;
        }
        risk->input[risk->n_inputs++] = (pr_risk_input){.spread = *s};
    }
    const pr_system_def *def = &scenario->system;
    if (def->has_winch && def->work == PR_WORK_DEMAND && isnan(def->demand.fixed_resistance_N)) {
        add_margin(scenario, risk);
        for (int depth = PR_MIRE_WHEEL; depth <= PR_MIRE_BODY; depth++)
            add_mire(scenario, (pr_mire)depth, risk);
    }
    if (risk->n_inputs == 0) {
        say(diag, "", "risk: no number of this scenario has a spread");
        return PR_ERR_INPUT;
    }
    for (int i = 0; i < risk->n_inputs; i++) {
        pr_risk_input *input = &risk->input[i];
        input->low = pr_spread_value(&input->spread, 0.05);
        input->high = pr_spread_value(&input->spread, 0.95);
        input->rest_low_s = input->rest_high_s = PR_NAN;
        input->rest = (pr_sensitivity){PR_NAN, PR_NAN, PR_NAN, PR_NAN};
    }
    return PR_OK;
}

/* Quantile of an input at its likely value: by halving, for triangles and normals alike. */
static double likely_quantile(const pr_spread *spread)
{
    double low = 0.0, high = 1.0;
    for (int i = 0; i < 60; i++) {
        const double middle = 0.5 * (low + high);
        if (pr_spread_value(spread, middle) < spread->likely)
            low = middle;
        else
            high = middle;
    }
    return 0.5 * (low + high);
}

void pr_risk_likely_quantiles(const pr_risk_world *world, double *u)
{
    for (int i = 0; i < world->n_inputs; i++)
        u[i] = likely_quantile(&world->input[i].spread);
}

pr_status pr_risk_inputs_check(const pr_risk_world *world, pr_risk_bench *bench, pr_diag *diag)
{
    double u[PR_RISK_INPUTS_MAX] = {0};
    pr_risk_likely_quantiles(world, u);
    for (size_t i = 0; i < 2 * (size_t)world->n_inputs; i++) {
        const double keep = u[i / 2];
        u[i / 2] = i % 2 == 0 ? 0.0 : 1.0;
        const pr_status status = pr_risk_bench_set(world, u, bench);
        u[i / 2] = keep;
        if (status == PR_OK)
            continue;
        say(diag, world->input[i / 2].spread.key,
            i % 2 == 0 ? "its low end does not fit the rest of the scenario"
                       : "its high end does not fit the rest of the scenario");
        return PR_ERR_INPUT;
    }
    return PR_OK;
}
