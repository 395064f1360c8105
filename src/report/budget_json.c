/* The budget as JSON: see budget_report.h. */
#include "report/budget_report.h"

#include "base/number.h"
#include "report/plan_json.h"

#include <math.h>
#include <stdlib.h>

static const char *const speed_keys[PR_BUDGET_SPEEDS] = {"idle", "fast_idle", "highest"};

static void point(pr_json *json, json_t *o, const pr_budget_point *p)
{
    pr_json_number(json, o, "engine_rpm", p->engine_rpm);
    pr_json_number(json, o, "winding_degC", p->winding_degC);
    pr_json_number(json, o, "load_A", p->load_A);
    pr_json_number(json, o, "available_A", p->available_A);
    pr_json_number(json, o, "margin_A", p->margin_A);
    pr_json_number(json, o, "average_margin_A", p->average_margin_A);
    pr_json_number(json, o, "alternator_A", p->alternator_A);
    pr_json_number(json, o, "battery_A", p->battery_A);
    pr_json_number(json, o, "box_V", p->box_V);
    pr_json_number(json, o, "post_V", p->post_V);
    pr_json_flag(json, o, "full_output", p->limited);
}

static void situation(pr_json *json, json_t *list, const pr_budget *b, const pr_budget_situation *s)
{
    json_t *item = pr_json_object(json, list, NULL);
    pr_json_text(json, item, "name", s->name);
    pr_json_number(json, item, "ambient_degC", s->ambient_degC);
    pr_json_flag(json, item, "hot", s->hot);
    json_t *on = pr_json_array(json, item, "loads_on");
    for (int i = 0; i < b->n_loads; i++)
        if (s->load_on[i])
            pr_json_append_text(json, on, b->load[i].name);
    point(json, pr_json_object(json, item, "own"), &s->own);
    for (int v = 0; v < PR_BUDGET_SPEEDS; v++) {
        json_t *speed = pr_json_object(json, item, speed_keys[v]);
        point(json, pr_json_object(json, speed, "cold"), &s->at[v][PR_BUDGET_COLD]);
        point(json, pr_json_object(json, speed, "hot"), &s->at[v][PR_BUDGET_HOT]);
    }
    pr_json_number(json, item, "balance_rpm", s->balance_rpm);
    pr_json_number(json, item, "soc_per_hour_frac", s->soc_per_hour_frac);
    pr_json_number(json, item, "full_output_frac", s->full_output_frac);
    pr_json_number(json, item, "runs_s", isinf(s->runs_s) ? PR_NAN : s->runs_s);
    pr_json_number(json, item, "no_restart_s", isinf(s->no_restart_s) ? PR_NAN : s->no_restart_s);
}

static void wires(pr_json *json, const pr_budget *b)
{
    json_t *cables = pr_json_array(json, json->root, "cables");
    for (int i = 0; i < b->n_cables; i++) {
        const pr_budget_cable *c = &b->cable[i];
        json_t *item = pr_json_object(json, cables, NULL);
        pr_json_text(json, item, "name", c->name);
        pr_json_text(json, item, "size", c->gauge);
        pr_json_number(json, item, "length_m", c->length_m);
        pr_json_number(json, item, "amps_A", c->amps_A);
        pr_json_flag(json, item, "pulls_only", c->pulls_only);
        pr_json_number(json, item, "steady_A", c->steady_A);
        pr_json_number(json, item, "drop_V", c->drop_V);
        pr_json_number(json, item, "drop_frac", c->drop_frac);
        pr_json_number(json, item, "allowed_frac", c->allowed_frac);
        pr_json_number(json, item, "degC", c->degC);
        pr_json_number(json, item, "insulation_degC", c->insulation_degC);
        pr_json_number(json, item, "ampacity_A", c->ampacity_A);
        pr_json_flag(json, item, "melts", c->melts);
        pr_json_number(json, item, "melts_after_s", c->melts_s > 0.0 ? c->melts_s : PR_NAN);
        pr_json_flag(json, item, "drop_ok", c->drop_ok);
        pr_json_flag(json, item, "heat_ok", c->heat_ok);
        pr_json_text(json, item, "recommended", c->recommended);
    }
    json_t *fuses = pr_json_array(json, json->root, "fuses");
    for (int i = 0; i < b->n_fuses; i++) {
        const pr_budget_fuse *f = &b->fuse[i];
        json_t *item = pr_json_object(json, fuses, NULL);
        pr_json_text(json, item, "name", f->name);
        pr_json_number(json, item, "rating_A", f->rating_A);
        pr_json_number(json, item, "load_A", f->load_A);
        pr_json_number(json, item, "ampacity_A", f->ampacity_A);
        pr_json_text(json, item, "verdict", pr_fusing_key(f->verdict));
        pr_json_number(json, item, "recommended_A", f->recommended_A);
    }
}

static void answer_part(pr_json *json, const pr_budget *b, pr_units units)
{
    char line[PR_BUDGET_LINES][PR_BUDGET_LINE_BYTES];
    pr_budget_answer(b, units, line);
    json_t *answer = pr_json_object(json, json->root, "answer");
    pr_json_flag(json, answer, "enough", b->alternator.enough);
    json_t *text = pr_json_array(json, answer, "text");
    for (int i = 0; i < PR_BUDGET_LINES; i++)
        if (line[i][0] != '\0')
            pr_json_append_text(json, text, line[i]);
    const pr_budget_alternator *a = &b->alternator;
    json_t *o = pr_json_object(json, json->root, "alternator");
    pr_json_number(json, o, "rated_A", a->rated_A);
    pr_json_number(json, o, "most_load_A", a->most_load_A);
    pr_json_number(json, o, "by_load_A", a->by_load_A);
    pr_json_number(json, o, "by_hot_idle_A", a->by_idle_A);
    pr_json_number(json, o, "recommended_A", a->recommended_A);
    pr_json_number(json, o, "carries_all_hot_from_rpm", a->idle_rpm_needed);
    json_t *limp = pr_json_object(json, json->root, "limp_home");
    pr_json_number(json, limp, "duration_s", isinf(b->limp_s) ? PR_NAN : b->limp_s);
    pr_json_number(json, limp, "load_A", b->limp_load_A);
    pr_json_number(json, limp, "soc_left_frac", b->limp_soc_frac);
    pr_json_number(json, limp, "stops_at_V", b->stops_at_V);
    pr_json_flag(json, limp, "stops_by_load", b->stops_by_load);
}

pr_status pr_budget_write_json(const pr_scenario *scenario, const pr_budget *budget, pr_units units,
                               const pr_diag *diag, FILE *out)
{
    pr_json json = pr_json_begin("budget");
    pr_json_scenario(&json, scenario);
    answer_part(&json, budget, units);
    pr_json_number(&json, json.root, "charging_V", budget->charging_V);
    json_t *loads = pr_json_array(&json, json.root, "loads");
    for (int i = 0; i < budget->n_loads; i++) {
        json_t *item = pr_json_object(&json, loads, NULL);
        pr_json_text(&json, item, "name", budget->load[i].name);
        pr_json_number(&json, item, "amps_A", budget->load[i].amps_A);
        pr_json_number(&json, item, "average_A", budget->load[i].average_A);
        pr_json_number(&json, item, "watts_W", budget->load[i].watts_W);
        pr_json_flag(&json, item, "stops_engine", budget->load[i].stops_engine);
        pr_json_flag(&json, item, "essential", budget->load[i].essential);
    }
    json_t *situations = pr_json_array(&json, json.root, "situations");
    for (int k = 0; k < budget->n_situations; k++)
        situation(&json, situations, budget, &budget->situation[k]);
    wires(&json, budget);
    return pr_json_end_report(&json, scenario, diag, out);
}
