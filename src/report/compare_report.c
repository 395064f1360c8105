/* Rigs compared on one recovery: see compare_report.h. */
#include "report/compare_report.h"

#include "base/number.h"
#include "report/assumptions.h"
#include "report/grid.h"
#include "report/plan_json.h"
#include "report/plan_text.h"
#include "report/words.h"

#include <math.h>
#include <string.h>

enum { SENTENCE_BYTES = 500 };
static const double NOTABLE_s = 30.0; /* shorter differences are said to be none */

static const struct {
    unsigned flag;
    const char *words, *key;
} differences[] = {
    {PR_DIFFERENCE_SECOND_BATTERY, "the second battery", "second_battery"},
    {PR_DIFFERENCE_BIGGER_ALTERNATOR, "the bigger alternator", "bigger_alternator"},
    {PR_DIFFERENCE_BIGGER_BATTERY, "the bigger battery", "bigger_battery"},
    {PR_DIFFERENCE_MORE_PARTS, "another pulley block", "more_parts"},
    {PR_DIFFERENCE_FASTER_ENGINE, "the faster engine", "faster_engine"},
    {PR_DIFFERENCE_CABLE, "the thicker winch cable", "thicker_cable"},
    {PR_DIFFERENCE_OTHER_WINCH, "the other winch", "other_winch"},
    {PR_DIFFERENCE_LESS, "the smaller battery or alternator", "less"},
};
static const struct {
    unsigned flag;
    const char *words, *key;
} conditions[] = {
    {PR_DIFFERENCE_GROUND, "weight, way or ground", "ground"},
    {PR_DIFFERENCE_WEATHER, "air temperature", "weather"},
    {PR_DIFFERENCE_START, "charge at the start", "start"},
};
enum {
    DIFFERENCES = sizeof differences / sizeof *differences,
    CONDITIONS = sizeof conditions / sizeof *conditions
};

#define append(line, ...) pr_text_append(line, SENTENCE_BYTES, __VA_ARGS__)

static int count_differences(unsigned flags)
{
    int total = 0;
    for (int i = 0; i < DIFFERENCES; i++)
        total += (flags & differences[i].flag) != 0;
    return total;
}

/* "the second battery and the bigger alternator"; "the change" when it is nothing of that. */
static void say_what(char *line, unsigned flags)
{
    int said = 0;
    const int total = count_differences(flags);
    for (int i = 0; i < DIFFERENCES; i++)
        if (flags & differences[i].flag) {
            append(line, "%s%s",
                   said == 0           ? ""
                   : said + 1 == total ? " and "
                                       : ", ",
                   differences[i].words);
            said++;
        }
    if (total == 0)
        append(line, "the change");
}

static const char *name_of(const pr_comparison *c, size_t k, char *text, size_t size)
{
    pr_text_printable(text, size, c->cases[k].name);
    return text;
}

static void say_failure(char *line, const pr_plan *plan, pr_units units)
{
    if (isfinite(plan->distance_m))
        append(line, "it gets %s of %s and then ",
               pr_units_text(units, PR_QUANTITY_DISTANCE, plan->travel_m).s,
               pr_units_text(units, PR_QUANTITY_DISTANCE, plan->distance_m).s);
    if (plan->over_time)
        append(line, "the time allowed is over");
    else if (plan->ended_by == PR_STOP_STALL && isfinite(plan->overload.at_m))
        append(line, "it is too heavy: the line must pull %s, the winch is rated for %s",
               pr_units_text(units, PR_QUANTITY_FORCE, plan->overload.need_N).s,
               pr_units_text(units, PR_QUANTITY_FORCE, plan->overload.capacity_N).s);
    else if (plan->ended_by == PR_STOP_LIMIT)
        append(line, "the limit of %s ends it", pr_words_limit(plan->ended_limit));
    else
        append(line, "%s", pr_words_stop(plan->ended_by));
}

static void say_first(char *line, const pr_comparison *c, pr_units units)
{
    char name[PR_NAME_MAX + 8];
    const pr_plan *plan = pr_compared_plan(c, 0);
    line[0] = '\0';
    if (plan->go) {
        append(line, "GO as '%s' is: %s at best", name_of(c, 0, name, sizeof name),
               pr_text_duration_rough(plan->total_s).s);
        if (c->cases[0].plan[PR_PLAN_EVEN].go)
            append(line, ", %s with the same rest after every pull",
                   pr_text_duration_rough(c->cases[0].plan[PR_PLAN_EVEN].total_s).s);
        append(line, ".");
        return;
    }
    append(line, "NO-GO as '%s' is: ", name_of(c, 0, name, sizeof name));
    say_failure(line, plan, units);
    append(line, ".");
}

static void say_bought(char *line, const pr_comparison *c, size_t k, double saved_s, bool many)
{
    const char *s = many ? "" : "s";
    const double more_frac =
        pr_compared_plan(c, k)->least_soc_frac - pr_compared_plan(c, 0)->least_soc_frac;
    if (saved_s >= NOTABLE_s)
        append(line, "save%s %s (%s in all)", s, pr_text_duration_rough(saved_s).s,
               pr_text_duration_rough(pr_compared_plan(c, k)->total_s).s);
    else if (saved_s <= -NOTABLE_s)
        append(line, "cost%s %s (%s in all)", s, pr_text_duration_rough(-saved_s).s,
               pr_text_duration_rough(pr_compared_plan(c, k)->total_s).s);
    else
        append(line, "change%s the time by less than half a minute", s);
    if (fabs(more_frac) >= 0.01)
        append(line, ", and the lowest charge is %.0f points %s", fabs(100.0 * more_frac),
               more_frac > 0.0 ? "higher" : "lower");
}

/* Case k against the first, in a sentence: is it needed for this job, and what does it buy? */
static void say_case(char *line, const pr_comparison *c, size_t k, pr_units units)
{
    char name[PR_NAME_MAX + 8];
    double saved_s;
    const pr_compare_verdict verdict = pr_compare_judge(c, k, &saved_s);
    line[0] = '\0';
    append(line, "'%s': ", name_of(c, k, name, sizeof name));
    say_what(line, c->cases[k].differences);
    const bool many = count_differences(c->cases[k].differences) > 1;
    const char *is = many ? "are" : "is", *it = many ? "they" : "it";
    switch (verdict) {
    case PR_VERDICT_NEEDED:
        append(line, " %s needed, and enough: go in %s.", is,
               pr_text_duration_rough(pr_compared_plan(c, k)->total_s).s);
        break;
    case PR_VERDICT_NO_HELP:
        append(line, " %s not enough: ", is);
        say_failure(line, pr_compared_plan(c, k), units);
        append(line, ".");
        break;
    case PR_VERDICT_HARMS:
        append(line, " turn%s it into a no-go: ", many ? "" : "s");
        say_failure(line, pr_compared_plan(c, k), units);
        append(line, ".");
        break;
    case PR_VERDICT_SAFER:
        append(line, " %s needed only if the ground is as bad as it may be; %s ", is, it);
        say_bought(line, c, k, saved_s, many);
        append(line, ".");
        break;
    case PR_VERDICT_NOT_NEEDED:
        if (saved_s <= -NOTABLE_s)
            append(line, " %s not stop this job, but %s ", many ? "do" : "does", it);
        else
            append(line, " %s not needed for this job; %s ", is, it);
        say_bought(line, c, k, saved_s, many);
        append(line, ".");
        break;
    }
}

static bool says_good(pr_compare_verdict verdict)
{
    return verdict != PR_VERDICT_NO_HELP && verdict != PR_VERDICT_HARMS;
}

static void write_answer(const pr_comparison *c, const pr_style *style, FILE *out)
{
    char line[SENTENCE_BYTES];
    say_first(line, c, style->units);
    const pr_tone tone = pr_compared_plan(c, 0)->go ? PR_TONE_GOOD : PR_TONE_BAD;
    fprintf(out, "%s%s%s\n", pr_style_on(style, tone), line, pr_style_off(style, tone));
    for (size_t k = 1; k < c->n; k++) {
        say_case(line, c, k, style->units);
        pr_style_paragraph(style, out, line);
    }
}

static void columns(pr_grid *grid, const pr_style *style)
{
    static const char *const heads[] = {"best",        "pulls", "of",     "rest to",
                                        "charge/keep", "low V", "crank V"};
    pr_text motor, anchor;
    snprintf(motor.s, sizeof motor.s, "motor %s",
             pr_units_name(style->units, PR_QUANTITY_TEMPERATURE));
    snprintf(anchor.s, sizeof anchor.s, "anchor %s",
             pr_units_name(style->units, PR_QUANTITY_FORCE));
    pr_grid_column(grid, "case", PR_ALIGN_LEFT);
    for (size_t i = 0; i < sizeof heads / sizeof *heads; i++)
        pr_grid_column(grid, heads[i], PR_ALIGN_RIGHT);
    pr_grid_column(grid, motor.s, PR_ALIGN_RIGHT);
    pr_grid_column(grid, anchor.s, PR_ALIGN_RIGHT);
    pr_grid_column(grid, "if worse", PR_ALIGN_RIGHT);
}

static void row(pr_grid *grid, const pr_comparison *c, size_t k, const pr_style *style)
{
    const pr_compared *x = &c->cases[k];
    const pr_plan *p = pr_compared_plan(c, k);
    char name[PR_NAME_MAX + 8];
    pr_grid_row(grid);
    pr_grid_cell(grid, name_of(c, k, name, sizeof name));
    pr_grid_cell_tone(grid, p->go ? pr_text_duration_rough(p->total_s).s : "no-go",
                      p->go ? PR_TONE_GOOD : PR_TONE_BAD);
    pr_grid_cell(grid, pr_text_number((double)p->n_cycles, 0).s);
    pr_grid_cell(grid, pr_text_duration(p->pull_s).s);
    pr_grid_cell(grid, pr_text_duration(p->rest_s).s);
    pr_text charge;
    snprintf(charge.s, sizeof charge.s, "%.0f/%.0f %%", 100.0 * p->least_soc_frac,
             100.0 * x->limits.reserve_frac);
    pr_grid_cell(grid, charge.s);
    pr_grid_cell(grid, pr_text_number(p->least_box_V, 1).s);
    pr_grid_cell(grid, pr_words_crank_V(p->least_restart_V).s);
    pr_grid_cell(grid,
                 pr_units_number(style->units, PR_QUANTITY_TEMPERATURE, p->most_armature_degC).s);
    const bool has_rope = p->most_anchor_N > 0.0; /* else the pull is a current: no ground */
    pr_grid_cell(grid, has_rope
                           ? pr_units_number(style->units, PR_QUANTITY_FORCE, p->most_anchor_N).s
                           : "-");
    pr_grid_cell(grid, !has_rope    ? "-"
                       : x->hard_go ? pr_text_duration_rough(x->hard_total_s).s
                                    : "no-go");
}

static pr_status write_table(const pr_comparison *c, const pr_style *style, FILE *out)
{
    pr_style_heading(style, out,
                     c->kind == PR_PLAN_SHORTEST ? "Side by side, each in its shortest time"
                                                 : "Side by side, each rest as long as needed");
    pr_grid *grid = pr_grid_new(style);
    columns(grid, style);
    for (size_t k = 0; k < c->n; k++)
        row(grid, c, k, style);
    const pr_status status = pr_grid_print(grid, out);
    pr_style_paragraph(
        style, out,
        "Charge, low V (fuse box), crank V (what a restart would see) and motor are "
        "the worst of the whole recovery. If worse: shortest time where the ground is "
        "as bad as it may be.");
    return status;
}

static unsigned all_conditions(void)
{
    unsigned flags = 0;
    for (int i = 0; i < CONDITIONS; i++)
        flags |= conditions[i].flag;
    return flags;
}

/* Is case k in the sentence of an earlier one with the same differences? */
static bool said_before(const pr_comparison *c, size_t k)
{
    for (size_t j = 1; j < k; j++)
        if (((c->cases[j].differences ^ c->cases[k].differences) & all_conditions()) == 0)
            return true;
    return false;
}

/* The rig alone explains the difference only where all else is the same. */
static void write_warnings(const pr_comparison *c, const pr_style *style, FILE *out)
{
    char first[PR_NAME_MAX + 8];
    name_of(c, 0, first, sizeof first);
    for (size_t k = 1; k < c->n; k++) {
        char names[SENTENCE_BYTES] = "", line[SENTENCE_BYTES] = "", name[PR_NAME_MAX + 8];
        const unsigned other = c->cases[k].differences & all_conditions();
        if (other == 0 || said_before(c, k))
            continue;
        for (int i = 0; i < CONDITIONS; i++)
            if (other & conditions[i].flag)
                append(line, "%s%s", line[0] != '\0' ? "; " : "", conditions[i].words);
        size_t same = 0;
        for (size_t j = k; j < c->n; j++)
            if ((c->cases[j].differences & all_conditions()) == other)
                append(names, "%s'%s'", same++ > 0 ? ", " : "", name_of(c, j, name, sizeof name));
        char sentence[2 * SENTENCE_BYTES + 200];
        snprintf(sentence, sizeof sentence,
                 "%s %s not the same job as '%s' (other %s), so that the rig alone does not "
                 "explain what comes out.",
                 names, same > 1 ? "are" : "is", first, line);
        fputc('\n', out);
        pr_style_paragraph(style, out, sentence);
    }
}

pr_status pr_compare_write_text(const pr_compare_report *report, const pr_style *style, FILE *out)
{
    const pr_comparison *c = report->comparison;
    write_answer(c, style, out);
    if (style->brief)
        return PR_OK;
    pr_status status = write_table(c, style, out);
    write_warnings(c, style, out);
    const pr_status assumed = pr_assumptions_write_text(report->scenarios[0], false, style, out);
    pr_write_cautions_text(true, style, out);
    return status != PR_OK ? status : assumed;
}

static const char *verdict_key(pr_compare_verdict verdict)
{
    static const char *const keys[] = {[PR_VERDICT_NOT_NEEDED] = "not_needed",
                                       [PR_VERDICT_NEEDED] = "needed",
                                       [PR_VERDICT_SAFER] = "needed_if_ground_is_worse",
                                       [PR_VERDICT_NO_HELP] = "not_enough",
                                       [PR_VERDICT_HARMS] = "harms"};
    return keys[verdict];
}

static void case_json(pr_json *json, json_t *list, const pr_compare_report *report, size_t k,
                      pr_units units)
{
    const pr_comparison *c = report->comparison;
    const pr_compared *x = &c->cases[k];
    char line[SENTENCE_BYTES];
    json_t *item = pr_json_object(json, list, NULL);
    pr_json_text(json, item, "name", x->name);
    pr_json_text(json, item, "file", report->scenarios[k]->path);
    if (k > 0) {
        double saved_s;
        const pr_compare_verdict verdict = pr_compare_judge(c, k, &saved_s);
        say_case(line, c, k, units);
        pr_json_text(json, item, "verdict", verdict_key(verdict));
        pr_json_flag(json, item, "enough", says_good(verdict));
        pr_json_number(json, item, "saved_s", saved_s);
        pr_json_text(json, item, "text", line);
        json_t *differs = pr_json_array(json, item, "differences");
        for (int i = 0; i < DIFFERENCES; i++)
            if (x->differences & differences[i].flag)
                pr_json_append_text(json, differs, differences[i].key);
        for (int i = 0; i < CONDITIONS; i++)
            if (x->differences & conditions[i].flag)
                pr_json_append_text(json, differs, conditions[i].key);
    }
    pr_json_limits(json, pr_json_object(json, item, "limits"), &x->limits);
    pr_json_number(json, item, "restart_margin_V",
                   pr_compared_plan(c, k)->least_restart_V - x->min_crank_V);
    pr_json_flag(json, item, "worse_ground_go", x->hard_go);
    pr_json_number(json, item, "worse_ground_total_s", x->hard_go ? x->hard_total_s : PR_NAN);
    json_t *plans = pr_json_object(json, item, "plans");
    for (int kind = 0; kind < PR_PLAN_KINDS; kind++)
        pr_json_plan(json, pr_json_object(json, plans, pr_words_plan_key((pr_plan_kind)kind)),
                     &x->plan[kind], &report->scenarios[k]->system);
}

pr_status pr_compare_write_json(const pr_compare_report *report, pr_units units,
                                const pr_diag *diag, FILE *out)
{
    const pr_comparison *c = report->comparison;
    char line[SENTENCE_BYTES];
    pr_json json = pr_json_begin("compare");
    pr_json_scenario(&json, report->scenarios[0]);
    json_t *answer = pr_json_object(&json, json.root, "answer");
    say_first(line, c, units);
    pr_json_flag(&json, answer, "go", pr_compared_plan(c, 0)->go);
    pr_json_text(&json, answer, "text", line);
    pr_json_text(&json, answer, "plan", pr_words_plan_key(c->kind));
    json_t *list = pr_json_array(&json, json.root, "cases");
    for (size_t k = 0; k < c->n; k++)
        case_json(&json, list, report, k, units);
    return pr_json_end_report(&json, report->scenarios[0], diag, out);
}

/* Minutes of pulling, resting, setting out the rope; charge at its lowest, and what is kept. */
static void plot_row(const pr_comparison *c, size_t k, double row_values[])
{
    const pr_plan *p = pr_compared_plan(c, k);
    double pull_s = 0.0, rest_s = p->first_rest_s, rerig_s = 0.0;
    for (size_t i = 0; i < p->n_cycles; i++) {
        const bool last = i + 1 == p->n_cycles;
        pull_s += p->cycles[i].pull_s;
        *(p->cycles[i].rerig ? &rerig_s : &rest_s) += last ? 0.0 : p->cycles[i].rest_s;
    }
    row_values[0] = pull_s / 60.0;
    row_values[1] = rest_s / 60.0;
    row_values[2] = rerig_s / 60.0;
    row_values[3] = 100.0 * p->least_soc_frac;
    row_values[4] = 100.0 * c->cases[k].limits.reserve_frac;
    row_values[5] = p->go ? 1.0 : 0.0;
}

pr_status pr_compare_plot_draw(const pr_compare_report *report, pr_plot_format format, FILE *out,
                               char *message, size_t message_size)
{
    enum { COLUMNS = 6 };
    const pr_comparison *c = report->comparison;
    double values[PR_COMPARE_MAX * COLUMNS];
    const char *labels[PR_COMPARE_MAX];
    char line[SENTENCE_BYTES];
    for (size_t k = 0; k < c->n; k++) {
        plot_row(c, k, &values[k * COLUMNS]);
        labels[k] = c->cases[k].name;
    }
    say_first(line, c, PR_UNITS_METRIC);
    const pr_plot_table table = {
        .name = "cases", .n_rows = c->n, .n_columns = COLUMNS, .values = values, .labels = labels};
    const pr_plot_variable variables[] = {
        {"title", report->scenarios[0]->title, 0.0},
        {"answer", line, 0.0},
        {"n_cases", NULL, (double)c->n},
    };
    const pr_plot picture = {.script = "compare",
                             .tables = &table,
                             .n_tables = 1,
                             .variables = variables,
                             .n_variables = sizeof variables / sizeof *variables};
    return pr_plot_draw(&picture, format, out, message, message_size);
}
