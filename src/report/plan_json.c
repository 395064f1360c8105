/* A plan as JSON: see plan_json.h. */
#include "report/plan_json.h"

#include "planner/warnings.h"

#include "report/answer.h"
#include "report/cautions.h"
#include "report/remedy_words.h"
#include "report/words.h"

#include <math.h>

void pr_json_scenario(pr_json *json, const pr_scenario *scenario)
{
    json_t *s = pr_json_object(json, json->root, "scenario");
    pr_json_text(json, s, "file", scenario->path);
    pr_json_text(json, s, "title", scenario->title);
    pr_json_text(json, s, "question", scenario->question);
    pr_json_text(json, s, "battery", scenario->battery_name[PR_POST_MAIN]);
    if (scenario->system.n_batteries > 1)
        pr_json_text(json, s, "second_battery", scenario->battery_name[PR_POST_SECOND]);
    pr_json_text(json, s, "alternator", scenario->alternator_name);
    pr_json_text(json, s, "winch", scenario->winch_name);
    pr_json_text(json, s, "surface", scenario->surface_name);
}

void pr_json_fit(pr_json *json, json_t *object, const pr_table_fit *fit)
{
    pr_json_text(json, object, "key", fit->key);
    pr_json_count(json, object, "points", (unsigned long)fit->n_points);
    pr_json_number(json, object, fit->of_time ? "rms_frac" : "rms_A", fit->rms);
}

static void assumptions_part(pr_json *json, const pr_scenario *scenario)
{
    json_t *fits = pr_json_array(json, json->root, "fits");
    for (int i = 0; i < scenario->n_fits; i++)
        pr_json_fit(json, pr_json_object(json, fits, NULL), &scenario->fit[i]);
    json_t *list = pr_json_array(json, json->root, "assumptions");
    for (size_t i = 0; i < scenario->n_assumptions; i++) {
        json_t *item = pr_json_object(json, list, NULL);
        pr_json_text(json, item, "key", scenario->assumption[i].key);
        pr_json_text(json, item, "value", scenario->assumption[i].value);
        pr_json_text(json, item, "source", scenario->assumption[i].source);
    }
}

static void cautions_part(pr_json *json)
{
    json_t *list = pr_json_array(json, json->root, "cautions");
    for (int i = 0; i < PR_CAUTIONS; i++)
        pr_json_append_text(json, list, pr_cautions[i].text);
}

pr_status pr_json_end_report(pr_json *json, const pr_scenario *scenario, const pr_diag *diag,
                             FILE *out)
{
    assumptions_part(json, scenario);
    cautions_part(json);
    if (diag != NULL)
        pr_json_messages(json, json->root, "messages", diag);
    return pr_json_end(json, out);
}

void pr_json_limits(pr_json *json, json_t *object, const pr_limits *limits)
{
    json_t *on = pr_json_array(json, object, "watched");
    for (int k = PR_LIMIT_NONE + 1; k < PR_LIMIT_COUNT; k++)
        if (limits->on[k])
            pr_json_append_text(json, on, pr_words_limit_key((pr_limit)k));
    pr_json_number(json, object, "reserve_frac", limits->reserve_frac);
    pr_json_number(json, object, "bus_min_V", limits->bus_min_V);
    pr_json_number(json, object, "motor_max_degC", limits->motor_max_degC);
    pr_json_number(json, object, "wire_margin_K", limits->wire_max_degC_margin);
    pr_json_number(json, object, "restart_margin_V", limits->restart_margin_V);
}

void pr_json_phase_end(pr_json *json, json_t *object, const pr_phase_end *end)
{
    const pr_extremes *worst = &end->extremes;
    pr_json_text(json, object, "ended_by", pr_words_stop_key(end->stop));
    if (end->stop == PR_STOP_LIMIT)
        pr_json_text(json, object, "ended_limit", pr_words_limit_key(end->limit));
    pr_json_number(json, object, "duration_s", end->duration_s);
    pr_json_number(json, object, "travel_m", end->travel_m);
    pr_json_number(json, object, "least_soc_frac", worst->least_soc_frac);
    pr_json_number(json, object, "least_box_V", worst->least_box_V);
    pr_json_number(json, object, "least_post_V", worst->least_post_V);
    pr_json_number(json, object, "least_restart_V", worst->least_restart_V);
    pr_json_number(json, object, "most_armature_degC", worst->most_armature_degC);
    pr_json_number(json, object, "most_wire_degC", worst->most_wire_degC);
    pr_json_number(json, object, "most_winch_A", worst->most_winch_A);
    pr_json_number(json, object, "most_link_A", worst->most_link_A);
    pr_json_number(json, object, "most_anchor_N", worst->most_anchor_N);
}

static void cycle(pr_json *json, json_t *list, const pr_cycle *c)
{
    json_t *item = pr_json_object(json, list, NULL);
    pr_json_number(json, item, "start_s", c->start_s);
    pr_json_number(json, item, "pull_s", c->pull_s);
    pr_json_number(json, item, "rest_s", c->rest_s);
    pr_json_flag(json, item, "rerig", c->rerig);
    pr_json_number(json, item, "travel_m", c->travel_m);
    pr_json_count(json, item, "layer", (unsigned long)c->layer);
    pr_json_text(json, item, "rest_set_by", pr_words_limit_key(c->binding));
    pr_json_text(json, item, "rest_set_by_stop", pr_words_stop_key(c->binding_stop));
    pr_json_number(json, item, "soc_after_pull_frac", c->soc_after_pull_frac);
    pr_json_number(json, item, "soc_after_rest_frac", c->soc_after_rest_frac);
    pr_json_phase_end(json, pr_json_object(json, item, "pull"), &c->pull);
}

static void meter(pr_json *json, json_t *object, const pr_meter_gap *gap)
{
    json_t *m = pr_json_object(json, object, "meter");
    pr_json_number(json, m, "meter_back_s", gap->meter_back_s);
    pr_json_number(json, m, "charge_back_frac", gap->charge_back_frac);
    pr_json_number(json, m, "soc_then_frac", gap->soc_then_frac);
    pr_json_number(json, m, "charge_back_90_s", gap->full_back_s);
}

static void reach(pr_json *json, json_t *object, const pr_reach *r)
{
    json_t *o = pr_json_object(json, object, "reach");
    pr_json_number(json, o, "anchor_m", r->anchor_m);
    pr_json_number(json, o, "rope_m", r->rope_m);
    pr_json_number(json, o, "strap_m", r->strap_m);
    pr_json_number(json, o, "new_anchor_m", r->new_anchor_m);
    pr_json_number(json, o, "next_anchor_m", r->next_m);
}

/* Nearest to what its insulation bears. */
static void hottest_cable(pr_json *json, json_t *object, const pr_plan *plan,
                          const pr_system_def *system)
{
    pr_text name;
    double degC;
    if (!pr_words_hottest_cable(plan, system, &name, &degC))
        return;
    json_t *o = pr_json_object(json, object, "hottest_cable");
    pr_json_text(json, o, "name", name.s);
    pr_json_number(json, o, "most_degC", degC);
    pr_json_number(json, o, "insulation_degC",
                   system->run[plan->most_wire_run].def.insulation_degC);
}

static void overload(pr_json *json, json_t *object, const pr_overload *at)
{
    if (isinf(at->at_m))
        return;
    json_t *o = pr_json_object(json, object, "overload");
    pr_json_text(json, o, "what", pr_words_overloaded_key(at->what));
    pr_json_number(json, o, "at_m", at->at_m);
    pr_json_number(json, o, "need_N", at->need_N);
    pr_json_number(json, o, "capacity_N", at->capacity_N);
    pr_json_number(json, o, "missing_m", at->missing_m);
}

void pr_json_plan(pr_json *json, json_t *object, const pr_plan *plan, const pr_system_def *system)
{
    pr_json_text(json, object, "status",
                 plan->status == PR_OK ? "ok" : pr_status_text(plan->status));
    if (plan->status != PR_OK)
        return;
    pr_json_flag(json, object, "go", plan->go);
    pr_json_number(json, object, "first_rest_s", plan->first_rest_s);
    pr_json_number(json, object, "pull_s", plan->pull_s);
    pr_json_number(json, object, "rest_s", plan->rest_s);
    pr_json_number(json, object, "pull_rpm", plan->pull_rpm);
    pr_json_number(json, object, "rest_rpm", plan->rest_rpm);
    pr_json_count(json, object, "parts", (unsigned long)plan->parts);
    pr_json_count(json, object, "pulls", plan->n_cycles);
    pr_json_number(json, object, "total_s", plan->total_s);
    pr_json_number(json, object, "travel_m", plan->travel_m);
    pr_json_number(json, object, "distance_m", plan->distance_m);
    pr_json_text(json, object, "binding", pr_words_limit_key(plan->binding));
    pr_json_text(json, object, "binding_stop", pr_words_stop_key(plan->binding_stop));
    pr_json_flag(json, object, "pull_shortened", plan->shortened);
    if (!plan->go) {
        pr_json_flag(json, object, "over_time", plan->over_time);
        pr_json_text(json, object, "ended_by", pr_words_stop_key(plan->ended_by));
        pr_json_text(json, object, "ended_limit", pr_words_limit_key(plan->ended_limit));
    }
    pr_json_number(json, object, "least_soc_frac", plan->least_soc_frac);
    pr_json_number(json, object, "least_box_V", plan->least_box_V);
    pr_json_number(json, object, "least_restart_V", plan->least_restart_V);
    pr_json_number(json, object, "full_output_frac", pr_plan_full_output_frac(plan));
    pr_json_number(json, object, "most_armature_degC", plan->most_armature_degC);
    pr_json_number(json, object, "most_anchor_N", plan->most_anchor_N);
    hottest_cable(json, object, plan, system);
    reach(json, object, &plan->reach);
    overload(json, object, &plan->overload);
    meter(json, object, &plan->meter);
    pr_json_number(json, object, "charge_error_frac", plan->charge_error_frac);
    pr_json_number(json, object, "energy_error_frac", plan->energy_error_frac);
    pr_json_count(json, object, "simulations", plan->simulations);
    json_t *cycles = pr_json_array(json, object, "cycles");
    for (size_t i = 0; i < plan->n_cycles; i++)
        cycle(json, cycles, &plan->cycles[i]);
}

static void answer_part(pr_json *json, const pr_answer *answer)
{
    json_t *object = pr_json_object(json, json->root, "answer");
    pr_json_flag(json, object, "go", answer->go);
    pr_json_text(json, object, "plan", pr_words_plan_key(answer->kind));
    json_t *text = pr_json_array(json, object, "text");
    for (int i = 0; i < PR_ANSWER_LINES; i++)
        pr_json_append_text(json, text, answer->line[i]);
}

static void demand_part(pr_json *json, const pr_plan_report *report)
{
    const pr_plan_set *set = report->set;
    json_t *demand = pr_json_object(json, json->root, "demand");
    for (int k = 0; k < PR_CASE_COUNT; k++) {
        json_t *one = pr_json_object(json, demand, pr_words_case_key((pr_case)k));
        pr_json_number(json, one, "demand_N", set->demand_N[k]);
        pr_json_number(json, one, "fall_line_N", set->fall_line_N[k]);
        pr_json_flag(json, one, "even_plan_holds", set->case_go[k]);
        pr_json_number(json, one, "even_plan_total_s", set->case_total_s[k]);
        if (!report->outlook[k].known)
            continue;
        pr_json_flag(json, one, "go", report->outlook[k].go);
        pr_json_number(json, one, "total_s", report->outlook[k].total_s);
        pr_json_number(json, one, "longest_rest_s", report->outlook[k].rest_s);
        pr_json_number(json, one, "parts", report->outlook[k].parts);
    }
    pr_json_number(json, demand, "capacity_N", set->capacity_N);
    pr_json_count(json, demand, "parts_needed", (unsigned long)set->parts_needed);
}

static void remedies_part(pr_json *json, const pr_remedy_list *list, pr_units units)
{
    if (list == NULL)
        return;
    json_t *remedies = pr_json_array(json, json->root, "remedies");
    for (size_t i = 0; i < list->n; i++) {
        const pr_remedy *remedy = &list->remedy[i];
        char text[PR_REMEDY_BYTES];
        json_t *item = pr_json_object(json, remedies, NULL);
        pr_remedy_text(remedy, units, false, text);
        pr_json_text(json, item, "change", text);
        pr_json_text(json, item, "effort", pr_remedy_effort(remedy->effort));
        if (remedy->status != PR_OK) {
            pr_json_text(json, item, "status", pr_status_text(remedy->status));
            continue;
        }
        pr_json_text(json, item, "status", "ok");
        pr_json_flag(json, item, "go", remedy->go);
        pr_json_flag(json, item, "turns_to_go", remedy->turns_to_go);
        pr_json_number(json, item, "total_s", remedy->total_s);
        pr_json_number(json, item, "saved_s", remedy->saved_s);
        pr_json_number(json, item, "travel_m", remedy->travel_m);
        pr_json_number(json, item, "gained_m", remedy->gained_m);
        pr_json_number(json, item, "longest_rest_s", remedy->longest_rest_s);
        pr_json_number(json, item, "least_soc_frac", remedy->least_soc_frac);
        pr_json_count(json, item, "pulls", remedy->n_cycles);
        pr_json_text(json, item, "binding",
                     pr_words_limit_key(remedy->go ? remedy->binding : remedy->ended_limit));
    }
}

pr_status pr_plan_write_json(const pr_plan_report *report, pr_units units, const pr_diag *diag,
                             FILE *out)
{
    const pr_scenario *scenario = report->scenario;
    const pr_plan_set *set = report->set;
    pr_answer answer;
    pr_answer_make(report, units, &answer);
    pr_json json = pr_json_begin("plan");
    pr_json_scenario(&json, scenario);
    answer_part(&json, &answer);
    json_t *limits = pr_json_object(&json, json.root, "limits");
    pr_json_limits(&json, limits, &set->limits);
    pr_json_number(&json, limits, "reserve_computed_frac", set->reserve_computed_frac);
    demand_part(&json, report);
    json_t *plans = pr_json_object(&json, json.root, "plans");
    for (int k = 0; k < PR_PLAN_KINDS; k++)
        pr_json_plan(&json, pr_json_object(&json, plans, pr_words_plan_key((pr_plan_kind)k)),
                     &set->plan[k], &scenario->system);
    remedies_part(&json, report->remedies, units);
    return pr_json_end_report(&json, scenario, diag, out);
}
