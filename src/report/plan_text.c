/* A plan as text: see plan_text.h. */
#include "report/plan_text.h"

#include "planner/warnings.h"

#include "report/answer.h"
#include "report/assumptions.h"
#include "report/cautions.h"
#include "report/grid.h"
#include "report/remedy_words.h"
#include "report/words.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

enum { SENTENCE_BYTES = 600, ROWS_MAX = 40, ROWS_FIRST = 24, ROWS_LAST = 8 };

static void say(const pr_style *style, FILE *out, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* One formatted, wrapped paragraph. */
static void say(const pr_style *style, FILE *out, const char *format, ...)
{
    char sentence[SENTENCE_BYTES];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(sentence, sizeof sentence, format, arguments);
    va_end(arguments);
    pr_style_paragraph(style, out, sentence);
}

static void keep_first(pr_status *status, pr_status next)
{
    if (*status == PR_OK)
        *status = next;
}

static void write_answer(const pr_answer *answer, const pr_style *style, FILE *out)
{
    const pr_tone tone = answer->go ? PR_TONE_GOOD : PR_TONE_BAD;
    fprintf(out, "%s%s%s\n", pr_style_on(style, tone), answer->line[0], pr_style_off(style, tone));
    for (int i = 1; i < PR_ANSWER_LINES; i++)
        fprintf(out, "%s\n", answer->line[i]);
}

static void write_question(const pr_scenario *scenario, const pr_style *style, FILE *out)
{
    char title[PR_TEXT_MAX], question[PR_TEXT_MAX], path[PR_TEXT_MAX];
    pr_text_printable(title, sizeof title, scenario->title);
    pr_text_printable(question, sizeof question, scenario->question);
    pr_text_printable(path, sizeof path, scenario->path);
    fputc('\n', out);
    say(style, out, "%s%s%s", title, title[0] != '\0' ? ", from " : "From ", path);
    if (question[0] != '\0')
        pr_style_paragraph(style, out, question);
}

/* "m" in the head of a column: "way, m". */
static pr_text head(const char *what, pr_quantity quantity, const pr_style *style)
{
    pr_text text;
    snprintf(text.s, sizeof text.s, "%s %s", what, pr_units_name(style->units, quantity));
    return text;
}

/* A pull that is given as a current has no rope, no way and no winch to get hot. */
static bool has_rope(const pr_plan *plan)
{
    return isfinite(plan->distance_m) || plan->travel_m > 0.0 || plan->most_anchor_N > 0.0;
}

static void cycle_columns(pr_grid *grid, const pr_plan *plan, const pr_style *style)
{
    pr_grid_column(grid, "", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "starts", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "pull", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "then rest", PR_ALIGN_RIGHT);
    if (has_rope(plan))
        pr_grid_column(grid, head("way", PR_QUANTITY_DISTANCE, style).s, PR_ALIGN_RIGHT);
    pr_grid_column(grid, "charge", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "rested", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "low V", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "crank V", PR_ALIGN_RIGHT);
    if (has_rope(plan))
        pr_grid_column(grid, head("motor", PR_QUANTITY_TEMPERATURE, style).s, PR_ALIGN_RIGHT);
    pr_grid_column(grid, "because of", PR_ALIGN_LEFT);
}

/* The last cell of a row: in red when the pull was cut short. */
static void reason_cell(pr_grid *grid, const pr_plan *plan, size_t i)
{
    bool cut_short;
    const char *words = pr_words_cycle_reason(plan, i, &cut_short);
    if (cut_short)
        pr_grid_cell_tone(grid, words, PR_TONE_BAD);
    else
        pr_grid_cell(grid, words);
}

/* Pulls first..last, whose rests are the same, in one row: the worst of each, and how it stands
 * after the last. */
static void cycle_row(pr_grid *grid, const pr_plan *plan, size_t first, size_t last,
                      const pr_style *style)
{
    const pr_cycle *cycle = &plan->cycles[last];
    const bool ends = last + 1 == plan->n_cycles;
    pr_extremes worst = plan->cycles[first].pull.extremes;
    for (size_t i = first + 1; i <= last; i++)
        pr_extremes_merge(&worst, &plan->cycles[i].pull.extremes);
    pr_text number = pr_text_number((double)(first + 1), 0);
    if (last > first)
        snprintf(number.s, sizeof number.s, "%zu to %zu", first + 1, last + 1);
    pr_grid_row(grid);
    pr_grid_cell(grid, number.s);
    pr_grid_cell(grid, pr_text_clock(plan->cycles[first].start_s).s);
    pr_grid_cell(grid, pr_text_duration(cycle->pull_s).s);
    pr_grid_cell(grid, ends ? "" : pr_text_duration(cycle->rest_s).s);
    if (has_rope(plan))
        pr_grid_cell(grid, pr_units_number(style->units, PR_QUANTITY_DISTANCE, cycle->travel_m).s);
    pr_grid_cell(grid, pr_text_percent(cycle->soc_after_pull_frac, 0).s);
    pr_grid_cell(grid, ends ? "" : pr_text_percent(cycle->soc_after_rest_frac, 0).s);
    pr_grid_cell(grid, pr_text_number(worst.least_box_V, 1).s);
    pr_grid_cell(grid, pr_words_crank_V(worst.least_restart_V).s);
    if (has_rope(plan))
        pr_grid_cell(
            grid,
            pr_units_number(style->units, PR_QUANTITY_TEMPERATURE, worst.most_armature_degC).s);
    reason_cell(grid, plan, last);
}

static void gap_row(pr_grid *grid)
{
    pr_grid_row(grid);
    pr_grid_cell(grid, "...");
}

static void first_rest(const pr_plan *plan, const pr_style *style, FILE *out)
{
    const bool because = plan->go || plan->first_binding != PR_LIMIT_NONE;
    if (plan->first_rest_s > 0.0)
        say(style, out, "Before the first pull: engine on at %s rpm for %s (%s).",
            pr_text_number(plan->rest_rpm, 0).s, pr_text_duration(plan->first_rest_s).s,
            because ? pr_words_binding(plan->first_binding, plan->first_binding_stop)
                    : "as long as one rest may be");
}

static void write_cycles(const pr_plan *plan, const pr_style *style, FILE *out, pr_status *status)
{
    if (plan->n_cycles == 0)
        return;
    pr_text title;
    snprintf(title.s, sizeof title.s, "Pull by pull, %s", pr_words_plan(plan->kind));
    pr_style_heading(style, out, title.s);
    first_rest(plan, style, out);
    pr_grid *grid = pr_grid_new(style);
    cycle_columns(grid, plan, style);
    const bool all = style->all || plan->n_cycles <= ROWS_MAX;
    for (size_t i = 0; i < plan->n_cycles; i++) {
        if (all || i < ROWS_FIRST || i + ROWS_LAST >= plan->n_cycles)
            cycle_row(grid, plan, i, i, style);
        else if (i == ROWS_FIRST)
            gap_row(grid);
    }
    keep_first(status, pr_grid_print(grid, out));
    if (!all)
        say(style, out, "(Pulls %d to %zu are left out here; --all shows them.)", ROWS_FIRST + 1,
            plan->n_cycles - ROWS_LAST);
}

/* One row of the table that sets the plans side by side. */
typedef pr_text (*plan_cell_fn)(const pr_plan *plan, pr_units units);

static pr_text cell_go(const pr_plan *plan, pr_units units)
{
    (void)units;
    pr_text text;
    if (plan->status != PR_OK)
        snprintf(text.s, sizeof text.s, "search failed");
    else
        snprintf(text.s, sizeof text.s, "%s", plan->go ? "go" : "no-go");
    return text;
}

static pr_text cell_first(const pr_plan *plan, pr_units units)
{
    (void)units;
    return plan->first_rest_s > 0.0 ? pr_text_duration(plan->first_rest_s) : (pr_text){"no"};
}

static pr_text cell_pull(const pr_plan *plan, pr_units units)
{
    (void)units;
    return pr_text_duration(plan->pull_s);
}

static pr_text cell_rest(const pr_plan *plan, pr_units units)
{
    (void)units;
    return pr_text_duration(plan->rest_s);
}

static pr_text cell_rpm(const pr_plan *plan, pr_units units)
{
    (void)units;
    pr_text text;
    const pr_text pull = pr_text_number(plan->pull_rpm, 0),
                  rest = pr_text_number(plan->rest_rpm, 0);
    if (fabs(plan->pull_rpm - plan->rest_rpm) < 0.5)
        return pull;
    snprintf(text.s, sizeof text.s, "%.30s / %.30s", pull.s, rest.s);
    return text;
}

static pr_text cell_parts(const pr_plan *plan, pr_units units)
{
    (void)units;
    return pr_text_number(plan->parts, 0);
}

static pr_text cell_pulls(const pr_plan *plan, pr_units units)
{
    (void)units;
    return pr_text_number((double)plan->n_cycles, 0);
}

static pr_text cell_total(const pr_plan *plan, pr_units units)
{
    (void)units;
    return pr_text_duration_rough(plan->total_s);
}

static pr_text cell_way(const pr_plan *plan, pr_units units)
{
    return pr_units_text(units, PR_QUANTITY_DISTANCE, plan->travel_m);
}

static pr_text cell_soc(const pr_plan *plan, pr_units units)
{
    (void)units;
    return pr_text_percent(plan->least_soc_frac, 0);
}

static pr_text cell_box(const pr_plan *plan, pr_units units)
{
    return pr_units_text(units, PR_QUANTITY_VOLTAGE, plan->least_box_V);
}

static pr_text cell_restart(const pr_plan *plan, pr_units units)
{
    (void)units;
    pr_text text = pr_words_crank_V(plan->least_restart_V);
    if (text.s[0] != 'n')
        snprintf(text.s, sizeof text.s, "%.40s V", pr_words_crank_V(plan->least_restart_V).s);
    return text;
}

static pr_text cell_full_output(const pr_plan *plan, pr_units units)
{
    (void)units;
    const double frac = pr_plan_full_output_frac(plan);
    const pr_text none = {"-"};
    return isnan(frac) ? none : pr_text_percent(frac, 0);
}

static pr_text cell_motor(const pr_plan *plan, pr_units units)
{
    return pr_units_text(units, PR_QUANTITY_TEMPERATURE, plan->most_armature_degC);
}

/* What to put between block (or hook) and anchor. */
static pr_text cell_strap(const pr_plan *plan, pr_units units)
{
    return plan->reach.strap_m > 0.0
               ? pr_units_text(units, PR_QUANTITY_DISTANCE, plan->reach.strap_m)
               : (pr_text){"no"};
}

static pr_text cell_new_anchor(const pr_plan *plan, pr_units units)
{
    return isfinite(plan->reach.new_anchor_m)
               ? pr_units_text(units, PR_QUANTITY_DISTANCE, plan->reach.new_anchor_m)
               : (pr_text){"no"};
}

static pr_text cell_anchor(const pr_plan *plan, pr_units units)
{
    return pr_units_text(units, PR_QUANTITY_FORCE, plan->most_anchor_N);
}

static pr_text cell_binds(const pr_plan *plan, pr_units units)
{
    (void)units;
    pr_text text;
    const char *words = plan->go          ? pr_words_binding(plan->binding, plan->binding_stop)
                        : plan->over_time ? "time allowed"
                                          : pr_words_binding(plan->ended_limit, plan->ended_by);
    snprintf(text.s, sizeof text.s, "%s", words);
    return text;
}

static const struct plan_row {
    const char *name;
    plan_cell_fn cell;
    bool of_rope, rare; /* rare: left out where no plan needs it */
} plan_rows[] = {
    {"answer", cell_go, false, false},
    {"charge first", cell_first, false, false},
    {"pull for", cell_pull, false, false},
    {"rest (longest)", cell_rest, false, false},
    {"engine rpm, pull / rest", cell_rpm, false, false},
    {"parts of line", cell_parts, true, false},
    {"strap before the anchor", cell_strap, true, true},
    {"new anchor needed after", cell_new_anchor, true, true},
    {"pulls", cell_pulls, false, false},
    {"total time", cell_total, false, false},
    {"gets", cell_way, true, false},
    {"least charge", cell_soc, false, false},
    {"lowest fuse box voltage", cell_box, false, false},
    {"lowest restart voltage", cell_restart, false, false},
    {"time at full alternator output", cell_full_output, false, false},
    {"hottest winch motor", cell_motor, true, false},
    {"most load on the anchor", cell_anchor, true, false},
    {"what binds or ends it", cell_binds, false, false},
};

/* The pulls of a plan that is not the one to lead with, equal neighbours in one row. */
static void write_other(const pr_plan *plan, const pr_style *style, FILE *out, pr_status *status)
{
    size_t rows = 0, row = 0;
    for (size_t i = 0; i < plan->n_cycles; i = pr_words_span_end(plan, i))
        rows++;
    pr_text title;
    snprintf(title.s, sizeof title.s, "Pull by pull, %s: %.40s", pr_words_plan(plan->kind),
             pr_text_duration_rough(plan->total_s).s);
    pr_style_heading(style, out, title.s);
    first_rest(plan, style, out);
    pr_grid *grid = pr_grid_new(style);
    cycle_columns(grid, plan, style);
    const bool all = style->all || rows <= ROWS_MAX;
    for (size_t i = 0, next; i < plan->n_cycles; i = next, row++) {
        next = pr_words_span_end(plan, i);
        if (all || row < ROWS_FIRST || row + ROWS_LAST >= rows)
            cycle_row(grid, plan, i, next - 1, style);
        else if (row == ROWS_FIRST)
            gap_row(grid);
    }
    keep_first(status, pr_grid_print(grid, out));
    if (!all)
        say(style, out, "(%zu rows are left out here; --all shows them.)",
            rows - ROWS_FIRST - ROWS_LAST);
}

/* Of the other plans those whose rests differ from pull to pull; what was shown is not repeated. */
static void write_others(const pr_plan_set *set, pr_plan_kind lead, const pr_style *style,
                         FILE *out, pr_status *status)
{
    for (int k = PR_PLAN_AS_NEEDED; k < PR_PLAN_KINDS; k++) {
        const pr_plan *plan = &set->plan[k], *as_needed = &set->plan[PR_PLAN_AS_NEEDED];
        if (k == (int)lead || plan->status != PR_OK || !plan->go || plan->n_cycles < 2 ||
            pr_words_span_end(plan, 0) + 1 >= plan->n_cycles)
            continue;
        if (k == PR_PLAN_SHORTEST && pr_words_same_pulls(plan, as_needed)) {
            pr_style_heading(style, out, "Pull by pull, shortest time");
            say(style, out, "As above, with the engine at %s rpm in pulls and %s rpm in rests.",
                pr_text_number(plan->pull_rpm, 0).s, pr_text_number(plan->rest_rpm, 0).s);
        } else {
            write_other(plan, style, out, status);
        }
    }
}

static bool is_left_out(const struct plan_row *row, const pr_plan_set *set, pr_plan_kind lead)
{
    bool needed = !row->rare;
    for (int k = 0; k < PR_PLAN_KINDS; k++)
        needed = needed || strcmp(row->cell(&set->plan[k], PR_UNITS_METRIC).s, "no") != 0;
    return !needed || (row->of_rope && !has_rope(&set->plan[lead]));
}

static void write_side_by_side(const pr_plan_set *set, pr_plan_kind lead, const pr_style *style,
                               FILE *out, pr_status *status)
{
    size_t pulls = 0;
    for (int k = 0; k < PR_PLAN_KINDS; k++)
        pulls += set->plan[k].n_cycles;
    if (pulls == 0)
        return;
    pr_style_heading(style, out, "Three ways to do it");
    pr_grid *grid = pr_grid_new(style);
    pr_grid_column(grid, "", PR_ALIGN_LEFT);
    for (int k = 0; k < PR_PLAN_KINDS; k++)
        pr_grid_column(grid, pr_words_plan((pr_plan_kind)k), PR_ALIGN_RIGHT);
    for (size_t i = 0; i < sizeof plan_rows / sizeof plan_rows[0]; i++) {
        if (is_left_out(&plan_rows[i], set, lead))
            continue;
        pr_grid_row(grid);
        pr_grid_cell(grid, plan_rows[i].name);
        for (int k = 0; k < PR_PLAN_KINDS; k++) {
            const pr_plan *plan = &set->plan[k];
            const bool shown = i == 0 || plan->status == PR_OK;
            const pr_tone tone = i > 0 ? PR_TONE_PLAIN : plan->go ? PR_TONE_GOOD : PR_TONE_BAD;
            pr_grid_cell_tone(grid, shown ? plan_rows[i].cell(plan, style->units).s : "-", tone);
        }
    }
    keep_first(status, pr_grid_print(grid, out));
    write_others(set, lead, style, out, status);
}

/* What changes next to nothing stands in the JSON only. */
static void write_remedies(const pr_plan_report *report, const pr_style *style, FILE *out,
                           pr_status *status)
{
    const pr_remedy_list *list = report->remedies;
    size_t shown = 0;
    for (size_t i = 0; list != NULL && i < list->n; i++)
        shown += pr_remedy_matters(&list->remedy[i]);
    if (shown == 0)
        return;
    pr_style_heading(style, out, "What would help, with rests as needed");
    pr_grid *grid = pr_grid_new(style);
    pr_grid_column(grid, "answer", PR_ALIGN_LEFT);
    pr_grid_column(grid, "total time", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "effect", PR_ALIGN_LEFT);
    pr_grid_column(grid, "effort", PR_ALIGN_LEFT);
    pr_grid_column(grid, "change", PR_ALIGN_WRAP);
    for (size_t i = 0; i < list->n; i++) {
        const pr_remedy *remedy = &list->remedy[i];
        char text[PR_REMEDY_BYTES];
        if (!pr_remedy_matters(remedy))
            continue;
        pr_grid_row(grid);
        pr_grid_cell_tone(grid, remedy->go ? "go" : "no-go",
                          remedy->go ? PR_TONE_GOOD : PR_TONE_PLAIN);
        pr_grid_cell(grid, remedy->go ? pr_text_duration_rough(remedy->total_s).s : "-");
        pr_grid_cell(grid, pr_remedy_effect(remedy, style->units).s);
        pr_grid_cell(grid, pr_remedy_effort(remedy->effort));
        pr_remedy_text(remedy, style->units, false, text);
        pr_grid_cell(grid, text);
    }
    keep_first(status, pr_grid_print(grid, out));
}

/* Later pulls start from less behind the same meter: the one that starts from least. */
static void write_worst_meter(const pr_plan *plan, pr_post post, const pr_style *style, FILE *out)
{
    static const double TOLD_FRAC = 0.01;
    const pr_meter_gap *meter = &plan->meter;
    double least_frac = meter->soc_then_frac - TOLD_FRAC;
    size_t worst = 0;
    for (size_t i = 0; i + 1 < plan->n_cycles; i++) {
        const pr_phase_end *rest = &plan->cycles[i].rest;
        if (rest->duration_s < meter->meter_back_s || !(rest->last.soc_frac[post] < least_frac))
            continue;
        least_frac = rest->last.soc_frac[post];
        worst = i + 1;
    }
    if (worst > 0)
        say(style, out, "Before pull %zu it reads the same, and the battery is at %s.", worst + 1,
            pr_text_percent(least_frac, 0).s);
}

static void write_meter(const pr_plan *plan, pr_post post, const pr_style *style, FILE *out)
{
    const pr_meter_gap *meter = &plan->meter;
    if (plan->n_cycles == 0)
        return;
    pr_style_heading(style, out, "When the meter looks full");
    if (isfinite(meter->meter_back_s))
        say(style, out,
            "After the first pull the voltmeter is back at the set voltage in %s. By then %s of "
            "what the pull took is back, and the battery is at %s.",
            meter->meter_back_s < 1.0 ? "less than a second"
                                      : pr_text_duration(meter->meter_back_s).s,
            meter->charge_back_frac < 0.005 ? "nothing"
                                            : pr_text_percent(meter->charge_back_frac, 0).s,
            pr_text_percent(meter->soc_then_frac, 0).s);
    else if (plan->cycles[0].pull.first.alternator_available_A > 0.0)
        say(style, out, "With the engine on, the voltmeter shows the alternator, not the battery.");
    else
        say(style, out,
            "Nothing charges: the voltmeter shows the battery, recovering from the "
            "pull, and rises without any charge coming back.");
    if (isfinite(meter->meter_back_s))
        write_worst_meter(plan, post, style, out);
    if (isfinite(meter->full_back_s))
        say(style, out, "It takes %s until 90 %% of what the first pull took is back.",
            pr_text_duration(meter->full_back_s).s);
    else
        say(style, out, "Even an hour does not bring back 90 %% of what the first pull took.");
    say(style, out, "Rest by the clock, not by the meter.");
}

static pr_text force(double value_N, const pr_style *style)
{
    return pr_units_text(style->units, PR_QUANTITY_FORCE, value_N);
}

static void write_demand(const pr_scenario *scenario, const pr_plan_set *set, const pr_plan *plan,
                         const pr_style *style, FILE *out)
{
    if (scenario->system.work != PR_WORK_DEMAND || !isfinite(set->demand_N[PR_CASE_LIKELY]))
        return;
    pr_style_heading(style, out, "What it has to pull");
    say(style, out,
        "To move the vehicle at the start takes %s, between %s and %s. With a %s the winch line "
        "pulls %s; on this layer of rope the winch can pull %s.",
        pr_words_force_and_plate(set->demand_N[PR_CASE_LIKELY], style->units).s,
        force(set->demand_N[PR_CASE_LOW], style).s, force(set->demand_N[PR_CASE_HIGH], style).s,
        pr_words_parts(plan->parts, true).s, force(set->fall_line_N[PR_CASE_LIKELY], style).s,
        force(set->capacity_N, style).s);
    if (isfinite(plan->most_anchor_N))
        say(style, out,
            "Anchor, strap and shackles get up to %s as planned; choose them for what the winch "
            "can put on them: %s.",
            pr_words_force_and_plate(plan->most_anchor_N, style->units).s,
            pr_words_force_and_plate(pr_words_anchor_most_N(plan, &scenario->system), style->units)
                .s);
}

static void item(const pr_style *style, FILE *out, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

static void item(const pr_style *style, FILE *out, const char *format, ...)
{
    char sentence[SENTENCE_BYTES];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(sentence, sizeof sentence, format, arguments);
    va_end(arguments);
    pr_style_item(style, out, sentence);
}

static void write_limits(const pr_scenario *scenario, const pr_plan_set *set, const pr_style *style,
                         FILE *out)
{
    const pr_limits *limits = &set->limits;
    pr_style_heading(style, out, "Limits kept at every moment");
    if (limits->on[PR_LIMIT_RESERVE] && isfinite(set->reserve_computed_frac))
        item(style, out, "charge at least %s (the engine still cranks down to %s)",
             pr_text_percent(limits->reserve_frac, 0).s,
             pr_text_percent(set->reserve_computed_frac, 0).s);
    else if (limits->on[PR_LIMIT_RESERVE])
        item(style, out, "charge at least %s", pr_text_percent(limits->reserve_frac, 0).s);
    if (limits->on[PR_LIMIT_VOLTAGE])
        item(style, out, "fuse box at least %s",
             pr_units_text(style->units, PR_QUANTITY_VOLTAGE, limits->bus_min_V).s);
    if (limits->on[PR_LIMIT_MOTOR_HEAT])
        item(style, out, "winch motor at most %s",
             pr_units_text(style->units, PR_QUANTITY_TEMPERATURE, limits->motor_max_degC).s);
    if (limits->on[PR_LIMIT_CABLE_HEAT])
        item(style, out, "every cable within its insulation");
    if (limits->on[PR_LIMIT_RESTART])
        item(style, out, "the starter would get at least %s",
             pr_units_text(style->units, PR_QUANTITY_VOLTAGE,
                           scenario->system.cranking.min_V + limits->restart_margin_V)
                 .s);
}

void pr_write_cautions_text(bool with_rope, const pr_style *style, FILE *out)
{
    pr_style_heading(style, out, "Cautions");
    for (int i = 0; i < PR_CAUTIONS; i++)
        if (with_rope || !pr_cautions[i].of_rope)
            pr_style_item(style, out, pr_cautions[i].text);
}

pr_status pr_plan_write_text(const pr_plan_report *report, const pr_style *style, FILE *out)
{
    pr_answer answer;
    pr_status status = PR_OK;
    pr_answer_make(report, style->units, &answer);
    write_answer(&answer, style, out);
    if (style->brief)
        return PR_OK;
    const pr_scenario *scenario = report->scenario;
    const pr_plan_set *set = report->set;
    const pr_plan *plan = &set->plan[answer.kind];
    write_question(scenario, style, out);
    if (plan->status == PR_OK) {
        write_cycles(plan, style, out, &status);
        write_side_by_side(set, answer.kind, style, out, &status);
        write_remedies(report, style, out, &status);
        write_meter(plan, scenario->system.winch_post, style, out);
        write_demand(scenario, set, plan, style, out);
        write_limits(scenario, set, style, out);
    }
    keep_first(&status, pr_assumptions_write_text(scenario, false, style, out));
    pr_write_cautions_text(true, style, out);
    return status;
}
