/* A study of uncertain inputs as JSON: see risk_report.h. A time that does not exist (no rest is
 * long enough) is null, as is an index that was not found. */
#include "report/risk_report.h"

#include "base/number.h"
#include "report/json.h"
#include "report/plan_json.h"
#include "report/words.h"

static void put_share(pr_json *json, json_t *parent, const char *key, const pr_share *share)
{
    json_t *o = pr_json_object(json, parent, key);
    pr_json_count(json, o, "count", (unsigned long)share->count);
    pr_json_count(json, o, "of", (unsigned long)share->n);
    pr_json_number(json, o, "frac", share->frac);
    pr_json_number(json, o, "low_frac", share->low_frac);
    pr_json_number(json, o, "high_frac", share->high_frac);
}

static void put_spread(pr_json *json, json_t *parent, const char *key, const pr_risk_spread *spread)
{
    json_t *o = pr_json_object(json, parent, key);
    pr_json_number(json, o, "q05", spread->q05);
    pr_json_number(json, o, "q50", spread->q50);
    pr_json_number(json, o, "q90", spread->q90);
    pr_json_number(json, o, "q95", spread->q95);
    pr_json_number(json, o, "worst", spread->worst);
}

static void put_chances(pr_json *json, json_t *parent, const pr_risk *risk)
{
    json_t *o = pr_json_object(json, parent, "chances");
    pr_json_count(json, o, "asked", (unsigned long)risk->asked);
    pr_json_count(json, o, "done", (unsigned long)risk->done);
    pr_json_count(json, o, "not_computed", (unsigned long)risk->not_computed);
    put_share(json, o, "holds", &risk->holds);
    put_share(json, o, "out_able_to_restart", &risk->out);
    put_share(json, o, "stuck", &risk->stuck);
    put_share(json, o, "overload", &risk->overload);
    put_share(json, o, "over_time", &risk->over_time);
    json_t *breaks = pr_json_object(json, o, "breaks");
    json_t *first = pr_json_object(json, o, "breaks_first");
    for (int l = PR_LIMIT_NONE + 1; l < PR_LIMIT_COUNT; l++) {
        put_share(json, breaks, pr_words_limit_key((pr_limit)l), &risk->breaks[l]);
        put_share(json, first, pr_words_limit_key((pr_limit)l), &risk->first[l]);
    }
    put_share(json, first, "none", &risk->first[PR_LIMIT_NONE]);
}

static void put_inputs(pr_json *json, json_t *parent, const pr_risk *risk)
{
    static const char *const kinds[] = {[PR_SPREAD_TRIANGLE] = "triangle",
                                        [PR_SPREAD_NORMAL] = "normal",
                                        [PR_SPREAD_UNIFORM] = "uniform"};
    json_t *list = pr_json_array(json, parent, "inputs");
    int order[PR_RISK_INPUTS_MAX];
    pr_risk_order(risk, order);
    for (int k = 0; k < risk->n_inputs; k++) {
        const pr_risk_input *input = &risk->input[order[k]];
        const pr_spread *s = &input->spread;
        json_t *o = pr_json_object(json, list, NULL);
        pr_json_text(json, o, "key", s->key);
        pr_json_text(json, o, "kind", kinds[s->kind]);
        pr_json_flag(json, o, "by_default", s->from_catalogue);
        pr_json_number(json, o, "low", s->low);
        pr_json_number(json, o, "likely", s->likely);
        pr_json_number(json, o, "high", s->high);
        pr_json_number(json, o, "sd", s->kind == PR_SPREAD_NORMAL ? s->sd : PR_NAN);
        pr_json_number(json, o, "q05", input->low);
        pr_json_number(json, o, "q95", input->high);
        pr_json_number(json, o, "rest_at_q05_s", input->rest_low_s);
        pr_json_number(json, o, "rest_at_q95_s", input->rest_high_s);
        pr_json_number(json, o, "first", input->rest.first);
        pr_json_number(json, o, "first_error", input->rest.first_error);
        pr_json_number(json, o, "total", input->rest.total);
        pr_json_number(json, o, "total_error", input->rest.total_error);
        pr_json_flag(json, o, "ranked",
                     pr_sensitivity_is_sure(input->rest.total, input->rest.total_error));
    }
}

static void put_holds(pr_json *json, json_t *parent, const pr_risk *risk)
{
    json_t *list = pr_json_array(json, parent, "hold");
    for (int h = 0; h < PR_RISK_HOLDS; h++) {
        const pr_risk_hold *hold = &risk->hold[h];
        json_t *o = pr_json_object(json, list, NULL);
        pr_json_number(json, o, "want_frac", hold->want_frac);
        pr_json_flag(json, o, "found", hold->found);
        if (!hold->found)
            continue;
        pr_json_number(json, o, "rest_s", hold->rest_s);
        pr_json_flag(json, o, "verified_well", hold->verified_well);
        put_share(json, o, "verified", &hold->verified);
        put_spread(json, o, "total_s", &hold->total_s);
    }
}

pr_status pr_risk_write_json(const pr_scenario *scenario, const pr_risk *risk,
                             const pr_risk_options *options, const pr_diag *diag, FILE *out)
{
    pr_risk_answer answer;
    pr_risk_answer_make(risk, &answer);
    pr_json json = pr_json_begin("risk");
    pr_json_scenario(&json, scenario);
    json_t *lines = pr_json_array(&json, json.root, "answer");
    for (int i = 0; i < PR_RISK_LINES; i++)
        pr_json_append_text(&json, lines, answer.line[i]);
    pr_json_flag(&json, json.root, "cancelled", risk->cancelled);
    pr_json_count(&json, json.root, "seed", options->seed);
    pr_json_text(&json, json.root, "points",
                 risk->sampling == PR_SAMPLING_SOBOL ? "sobol" : "plain");
    pr_json_count(&json, json.root, "recoveries", risk->recoveries);
    json_t *plan = pr_json_object(&json, json.root, "plan");
    pr_json_flag(&json, plan, "go", risk->plan.go);
    pr_json_number(&json, plan, "pull_s", risk->plan.pull_s);
    pr_json_number(&json, plan, "rest_s", risk->rest_s);
    pr_json_number(&json, plan, "first_rest_s", risk->plan.first_rest_s);
    pr_json_count(&json, plan, "pulls", (unsigned long)risk->plan.n_cycles);
    pr_json_count(&json, plan, "parts", (unsigned long)risk->plan.parts);
    pr_json_limits(&json, pr_json_object(&json, json.root, "limits"), &risk->limits);
    put_chances(&json, json.root, risk);
    put_spread(&json, json.root, "least_soc_frac", &risk->least_soc_frac);
    put_spread(&json, json.root, "least_box_V", &risk->least_box_V);
    put_spread(&json, json.root, "least_restart_V", &risk->least_restart_V);
    put_spread(&json, json.root, "most_armature_degC", &risk->most_armature_degC);
    put_spread(&json, json.root, "total_s", &risk->total_s);
    json_t *rest = pr_json_object(&json, json.root, "needed_rest");
    pr_json_count(&json, rest, "asked", (unsigned long)risk->rest_asked);
    pr_json_count(&json, rest, "done", (unsigned long)risk->rest_done);
    put_share(&json, rest, "none", &risk->rest_none);
    put_share(&json, rest, "plan_is_enough", &risk->rest_enough);
    put_spread(&json, rest, "rest_s", &risk->rest);
    put_spread(&json, rest, "total_s", &risk->rest_total_s);
    put_holds(&json, json.root, risk);
    pr_json_count(&json, json.root, "design_rows", (unsigned long)risk->base_rows);
    put_inputs(&json, json.root, risk);
    return pr_json_end_report(&json, scenario, diag, out);
}
