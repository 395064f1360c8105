/* What a given schedule did: see run_report.h. */
#include "report/run_report.h"

#include "base/number.h"

#include "planner/warnings.h"
#include "report/assumptions.h"
#include "report/grid.h"
#include "report/plan_json.h"
#include "report/plan_text.h"
#include "report/words.h"

#include <math.h>

pr_activity pr_run_activity(const pr_scenario *scenario, size_t k)
{
    const pr_schedule_entry *schedule = scenario->schedule;
    for (int first = 0, after; first < scenario->n_schedule; first = after) {
        after = first + 1;
        while (after < scenario->n_schedule && schedule[first].group != 0 &&
               schedule[after].group == schedule[first].group)
            after++;
        const size_t length = (size_t)(after - first);
        const size_t times = schedule[first].repeat > 1 ? (size_t)schedule[first].repeat : 1;
        if (k < times * length)
            return schedule[(size_t)first + k % length].phase.activity;
        k -= times * length;
    }
    return PR_REST;
}

static const char *activity_key(pr_activity activity)
{
    static const char *const keys[] = {[PR_REST] = "rest",
                                       [PR_PULL] = "pull",
                                       [PR_ENGINE_OFF] = "engine_off",
                                       [PR_PULL_ENGINE_OFF] = "pull_engine_off",
                                       [PR_CRANK] = "crank"};
    return keys[activity];
}

static const char *activity_words(pr_activity activity)
{
    static const char *const words[] = {[PR_REST] = "rest",
                                        [PR_PULL] = "pull",
                                        [PR_ENGINE_OFF] = "engine off",
                                        [PR_PULL_ENGINE_OFF] = "pull, engine off",
                                        [PR_CRANK] = "crank"};
    return words[activity];
}

pr_limit pr_run_broken_limit(const pr_run_result *run, size_t phase)
{
    const pr_extremes *e = &run->ends[phase].extremes;
    const pr_limits *limits = run->limits;
    const pr_activity activity = pr_run_activity(run->scenario, phase);
    /* while cranking the engine is not running yet, and the bus is low because it cranks */
    const bool runs = activity == PR_REST || activity == PR_PULL;
    const double crank_V = run->scenario->system.cranking.min_V + limits->restart_margin_V;
    bool broken[PR_LIMIT_COUNT] = {false};
    broken[PR_LIMIT_RESERVE] = e->least_soc_frac < limits->reserve_frac;
    broken[PR_LIMIT_VOLTAGE] = runs && e->least_box_V < limits->bus_min_V;
    broken[PR_LIMIT_MOTOR_HEAT] = e->most_armature_degC > limits->motor_max_degC;
    broken[PR_LIMIT_CABLE_HEAT] = e->most_wire_ratio > 1.0;
    broken[PR_LIMIT_RESTART] = activity != PR_CRANK && e->least_restart_V < crank_V;
    for (int k = PR_LIMIT_NONE + 1; k < PR_LIMIT_COUNT; k++)
        if (limits->on[k] && broken[k])
            return (pr_limit)k;
    return PR_LIMIT_NONE;
}

static bool is_stopped(const pr_phase_end *end)
{
    return end->stop != PR_STOP_TIME && end->stop != PR_STOP_TRAVEL && end->stop != PR_STOP_ROPE;
}

size_t pr_run_first_trouble(const pr_run_result *run)
{
    size_t k = 0;
    while (k < run->n_ends && !is_stopped(&run->ends[k]) &&
           pr_run_broken_limit(run, k) == PR_LIMIT_NONE)
        k++;
    return k;
}

bool pr_run_holds(const pr_run_result *run)
{
    pr_overload unused;
    return pr_run_first_trouble(run) == run->n_ends &&
           !pr_run_overload(run->scenario, run->ends, run->n_ends, &unused);
}

/* Extremes of the whole run that its summary names. */
typedef struct run_summary {
    double total_s, travel_m, least_soc_frac, least_box_V, most_armature_degC, least_restart_V;
} run_summary;

static run_summary summarize(const pr_run_result *run)
{
    run_summary s = {0.0, 0.0, PR_NAN, PR_NAN, PR_NAN, PR_NAN};
    for (size_t k = 0; k < run->n_ends; k++) {
        const pr_phase_end *end = &run->ends[k];
        s.total_s += end->duration_s;
        s.travel_m += end->travel_m;
        s.least_soc_frac = fmin(s.least_soc_frac, end->extremes.least_soc_frac);
        s.least_box_V = fmin(s.least_box_V, end->extremes.least_box_V);
        s.most_armature_degC = fmax(s.most_armature_degC, end->extremes.most_armature_degC);
        s.least_restart_V = fmin(s.least_restart_V, end->extremes.least_restart_V);
    }
    return s;
}

static bool has_way(const pr_run_result *run)
{
    const pr_system_def *system = &run->scenario->system;
    return system->has_winch && system->work == PR_WORK_DEMAND;
}

static void write_verdict(const pr_run_result *run, const pr_style *style, FILE *out)
{
    pr_overload overload;
    const bool overloaded = pr_run_overload(run->scenario, run->ends, run->n_ends, &overload);
    const size_t trouble = pr_run_first_trouble(run);
    const pr_tone tone = pr_run_holds(run) ? PR_TONE_GOOD : PR_TONE_BAD;
    fputs(pr_style_on(style, tone), out);
    if (overloaded) /* first: it is what hurts people */
        fprintf(out, "OVERLOADS: %s.\n",
                pr_words_overload(&overload, run->scenario->plan.rope_factor, style->units).s);
    if (trouble < run->n_ends) {
        const pr_phase_end *end = &run->ends[trouble];
        const pr_limit limit = pr_run_broken_limit(run, trouble);
        fprintf(out, "BREAKS in phase %zu (%s, from %s): %s.\n", trouble + 1,
                activity_words(pr_run_activity(run->scenario, trouble)),
                pr_text_clock(end->first.time_s).s,
                is_stopped(end) ? pr_words_end(end, &run->scenario->system).s
                                : pr_words_limit(limit));
    }
    if (pr_run_holds(run))
        fprintf(out, "HOLDS: all %zu phases stay inside every limit.\n", run->n_ends);
    fputs(pr_style_off(style, tone), out);
}

static void write_answer(const pr_run_result *run, const run_summary *s, const pr_style *style,
                         FILE *out)
{
    write_verdict(run, style, out);
    if (has_way(run))
        fprintf(out, "%s in ", pr_units_text(style->units, PR_QUANTITY_DISTANCE, s->travel_m).s);
    const pr_phase_end *last = &run->ends[run->n_ends - 1];
    const pr_post post = run->scenario->system.starter_post;
    fprintf(out, "%s%s%s. Charge at the end %s, lowest %s.\n", pr_text_duration_rough(s->total_s).s,
            has_way(run) ? ", " : "",
            has_way(run) ? pr_words_parts(run->scenario->plan.parts, false).s : "",
            pr_text_percent(last->last.soc_frac[post], 0).s,
            pr_text_percent(s->least_soc_frac, 0).s);
    fprintf(out, "Fuse box lowest %s, a restart would see %s at least",
            pr_units_text(style->units, PR_QUANTITY_VOLTAGE, s->least_box_V).s,
            pr_units_text(style->units, PR_QUANTITY_VOLTAGE, s->least_restart_V).s);
    if (run->scenario->system.has_winch)
        fprintf(out, ", winch motor up to %s",
                pr_units_text(style->units, PR_QUANTITY_TEMPERATURE, s->most_armature_degC).s);
    fputs(".\n", out);
    const double full_frac = pr_run_full_output_frac(run->ends, run->n_ends);
    if (!style->brief && full_frac > 0.0)
        fprintf(out, "Alternator above 90 %% of what it can give for %s of the time.\n",
                pr_text_percent(full_frac, 0).s);
}

static void phase_row(pr_grid *grid, const pr_run_result *run, size_t k, double way_m,
                      const pr_style *style)
{
    const pr_phase_end *end = &run->ends[k];
    const pr_limit limit = pr_run_broken_limit(run, k);
    const pr_post post = run->scenario->system.starter_post;
    pr_grid_row(grid);
    pr_grid_cell(grid, pr_text_number((double)(k + 1), 0).s);
    pr_grid_cell(grid, activity_words(pr_run_activity(run->scenario, k)));
    pr_grid_cell(grid, pr_text_clock(end->first.time_s).s);
    pr_grid_cell(grid, pr_text_duration(end->duration_s).s);
    pr_grid_cell(grid, pr_text_number(end->last.engine_rpm, 0).s);
    if (has_way(run))
        pr_grid_cell(grid, pr_units_number(style->units, PR_QUANTITY_DISTANCE, way_m).s);
    pr_grid_cell(grid, pr_text_percent(end->last.soc_frac[post], 0).s);
    pr_grid_cell(grid, pr_text_number(end->extremes.least_box_V, 1).s);
    pr_grid_cell(grid, pr_words_crank_V(end->extremes.least_restart_V).s);
    const pr_text motor =
        pr_units_number(style->units, PR_QUANTITY_TEMPERATURE, end->extremes.most_armature_degC);
    if (run->scenario->system.has_winch)
        pr_grid_cell(grid, motor.s);
    if (is_stopped(end))
        pr_grid_cell_tone(grid, pr_words_end(end, &run->scenario->system).s, PR_TONE_BAD);
    else if (limit != PR_LIMIT_NONE)
        pr_grid_cell_tone(grid, pr_words_limit(limit), PR_TONE_BAD);
    else if (end->stop != PR_STOP_TIME)
        pr_grid_cell(grid, pr_words_stop(end->stop));
}

static pr_status write_phases(const pr_run_result *run, const pr_style *style, FILE *out)
{
    pr_text way, motor;
    snprintf(way.s, sizeof way.s, "way %s", pr_units_name(style->units, PR_QUANTITY_DISTANCE));
    snprintf(motor.s, sizeof motor.s, "motor %s",
             pr_units_name(style->units, PR_QUANTITY_TEMPERATURE));
    pr_style_heading(style, out, "Phase by phase");
    pr_grid *grid = pr_grid_new(style);
    pr_grid_column(grid, "", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "phase", PR_ALIGN_LEFT);
    pr_grid_column(grid, "starts", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "lasts", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "rpm", PR_ALIGN_RIGHT);
    if (has_way(run))
        pr_grid_column(grid, way.s, PR_ALIGN_RIGHT);
    pr_grid_column(grid, "charge", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "low V", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "crank V", PR_ALIGN_RIGHT);
    if (run->scenario->system.has_winch)
        pr_grid_column(grid, motor.s, PR_ALIGN_RIGHT);
    pr_grid_column(grid, "limit broken, or stop", PR_ALIGN_WRAP);
    double way_m = 0.0;
    for (size_t k = 0; k < run->n_ends; k++) {
        way_m += run->ends[k].travel_m;
        phase_row(grid, run, k, way_m, style);
    }
    return pr_grid_print(grid, out);
}

pr_status pr_run_write_text(const pr_run_result *run, const pr_style *style, FILE *out)
{
    if (run->n_ends == 0)
        return PR_ERR_INTERNAL;
    const run_summary summary = summarize(run);
    write_answer(run, &summary, style, out);
    if (style->brief)
        return PR_OK;
    const pr_status status = write_phases(run, style, out);
    const pr_status assumed = pr_assumptions_write_text(run->scenario, false, style, out);
    pr_write_cautions_text(true, style, out);
    return status == PR_OK ? assumed : status;
}

static void phase_json(pr_json *json, json_t *list, const pr_run_result *run, size_t k)
{
    const pr_phase_end *end = &run->ends[k];
    json_t *item = pr_json_object(json, list, NULL);
    pr_json_text(json, item, "activity", activity_key(pr_run_activity(run->scenario, k)));
    pr_json_number(json, item, "start_s", end->first.time_s);
    pr_json_number(json, item, "engine_rpm", end->last.engine_rpm);
    pr_json_text(json, item, "breaks", pr_words_limit_key(pr_run_broken_limit(run, k)));
    pr_json_phase_end(json, item, end);
    pr_json_number(json, item, "soc_end_frac",
                   end->last.soc_frac[run->scenario->system.starter_post]);
    pr_json_number(json, item, "box_end_V", end->last.box_V[PR_POST_MAIN]);
}

pr_status pr_run_write_json(const pr_run_result *run, const pr_diag *diag, FILE *out)
{
    if (run->n_ends == 0)
        return PR_ERR_INTERNAL;
    const run_summary s = summarize(run);
    pr_json json = pr_json_begin("run");
    pr_json_scenario(&json, run->scenario);
    json_t *answer = pr_json_object(&json, json.root, "answer");
    const size_t trouble = pr_run_first_trouble(run);
    pr_overload overload;
    pr_json_flag(&json, answer, "holds", pr_run_holds(run));
    if (trouble < run->n_ends)
        pr_json_count(&json, answer, "first_trouble", trouble + 1);
    if (pr_run_overload(run->scenario, run->ends, run->n_ends, &overload))
        pr_json_text(&json, answer, "overloaded", pr_words_overloaded_key(overload.what));
    if (has_way(run))
        pr_json_count(&json, answer, "parts", (unsigned long)run->scenario->plan.parts);
    pr_json_number(&json, answer, "total_s", s.total_s);
    pr_json_number(&json, answer, "travel_m", s.travel_m);
    pr_json_number(&json, answer, "least_soc_frac", s.least_soc_frac);
    pr_json_number(&json, answer, "least_box_V", s.least_box_V);
    pr_json_number(&json, answer, "least_restart_V", s.least_restart_V);
    pr_json_number(&json, answer, "most_armature_degC", s.most_armature_degC);
    pr_json_number(&json, answer, "full_output_frac",
                   pr_run_full_output_frac(run->ends, run->n_ends));
    pr_json_limits(&json, pr_json_object(&json, json.root, "limits"), run->limits);
    json_t *phases = pr_json_array(&json, json.root, "phases");
    for (size_t k = 0; k < run->n_ends; k++)
        phase_json(&json, phases, run, k);
    return pr_json_end_report(&json, run->scenario, diag, out);
}
