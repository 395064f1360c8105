/* The picture of a study: chance against rest, and what the needed rest hangs on. */
#include "report/risk_report.h"

#include "base/number.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

/* a longer name of an input is shown by its end: there it says which number it is */
enum { BARS_MAX = 10, MARKS = 1 + PR_RISK_HOLDS, KEY_SHOWN = 40 };

/* Chance that a rest is enough: one row per needed rest, minutes and percent. */
static size_t fill_curve(const pr_risk *risk, double *rows)
{
    size_t n = 0;
    for (size_t i = 0; i < risk->n_rests && isfinite(risk->rests[i]); i++) {
        rows[2 * n] = risk->rests[i] / 60.0;
        rows[2 * n + 1] = 100.0 * (double)(i + 1) / (double)risk->n_rests;
        n++;
    }
    return n;
}

/* Rest, chance by the recoveries that checked it: the plan's, then those that hold. */
static void fill_marks(const pr_risk *risk, double marks[2 * MARKS])
{
    marks[0] = risk->rest_s / 60.0;
    marks[1] = 100.0 * risk->holds.frac;
    for (int h = 0; h < PR_RISK_HOLDS; h++) {
        const pr_risk_hold *hold = &risk->hold[h];
        marks[2 + 2 * h] = hold->found ? hold->rest_s / 60.0 : PR_NAN;
        marks[3 + 2 * h] = hold->found ? 100.0 * hold->verified.frac : PR_NAN;
    }
}

/* "plan, 3 min 15 s: 50 %" beside each mark in the key; empty for one that does not exist. */
static pr_text mark_text(const char *what, double rest_s, const pr_share *held)
{
    pr_text text = {""};
    if (!isnan(rest_s))
        snprintf(text.s, sizeof text.s, "%s%.30s: %.20s", what, pr_text_duration(rest_s).s,
                 pr_text_percent(held->frac, 0).s);
    return text;
}

typedef struct bar_texts {
    char text[BARS_MAX][PR_NAME_MAX + 2 * PR_TEXT_BYTES];
    const char *label[BARS_MAX];
} bar_texts;

/* Rest at both ends of each input, minutes (negative: none is long enough), and its index. */
static size_t fill_bars(const pr_risk *risk, pr_units units, double bars[3 * BARS_MAX],
                        bar_texts *texts)
{
    int order[PR_RISK_INPUTS_MAX];
    pr_risk_order(risk, order);
    size_t n = 0;
    for (int k = 0; k < risk->n_inputs && n < BARS_MAX; k++) {
        const pr_risk_input *input = &risk->input[order[k]];
        if (isnan(pr_risk_swing_s(input)) || (n >= 3 && pr_risk_hardly_matters(risk, input)))
            continue;
        const size_t length = strlen(input->spread.key);
        const char *key = input->spread.key + (length > KEY_SHOWN ? length - KEY_SHOWN : 0);
        const double low = input->rest_low_s / 60.0, high = input->rest_high_s / 60.0;
        bars[3 * n] = isfinite(low) ? low : -1.0;
        bars[3 * n + 1] = isfinite(high) ? high : -1.0;
        bars[3 * n + 2] = input->rest.total;
        snprintf(texts->text[n], sizeof texts->text[n], "%s%s: %s to %s",
                 key == input->spread.key ? "" : "...", key,
                 pr_risk_value(input, input->low, units).s,
                 pr_risk_value(input, input->high, units).s);
        texts->label[n] = texts->text[n];
        n++;
    }
    return n;
}

static pr_status draw(const pr_scenario *scenario, const pr_risk *risk, pr_units units,
                      const double *curve, size_t n_curve, pr_plot_format format, FILE *out,
                      char *message, size_t message_size)
{
    double marks[2 * MARKS], bars[3 * BARS_MAX];
    bar_texts texts;
    fill_marks(risk, marks);
    const size_t n_bars = fill_bars(risk, units, bars, &texts);
    const pr_plot_table tables[] = {
        {.name = "curve", .n_rows = n_curve, .n_columns = 2, .values = curve},
        {.name = "marks", .n_rows = MARKS, .n_columns = 2, .values = marks},
        {.name = "bars", .n_rows = n_bars, .n_columns = 3, .values = bars, .labels = texts.label}};
    pr_risk_answer answer;
    pr_risk_answer_make(risk, &answer);
    const pr_text plan = mark_text("plan, ", risk->rest_s, &risk->holds);
    pr_text holds[PR_RISK_HOLDS];
    for (int h = 0; h < PR_RISK_HOLDS; h++)
        holds[h] = mark_text("", risk->hold[h].rest_s, &risk->hold[h].verified);
    const pr_plot_variable variables[] = {{"title", scenario->title, 0.0},
                                          {"answer", answer.line[0], 0.0},
                                          {"plan_text", plan.s, 0.0},
                                          {"first_text", holds[0].s, 0.0},
                                          {"second_text", holds[1].s, 0.0},
                                          {"n_bars", NULL, (double)n_bars},
                                          {"plan_rest", NULL, risk->rest_s / 60.0},
                                          {"longest_rest", NULL, scenario->plan.rest_max_s / 60.0},
                                          {"none_share", NULL, 100.0 * risk->rest_none.frac}};
    const pr_plot picture = {.script = "risk",
                             .tables = tables,
                             .n_tables = sizeof tables / sizeof tables[0],
                             .variables = variables,
                             .n_variables = sizeof variables / sizeof variables[0]};
    if (n_curve < 2 || n_bars == 0) {
        snprintf(message, message_size, "too few recoveries in which any rest helps");
        return PR_ERR_INPUT;
    }
    return pr_plot_draw(&picture, format, out, message, message_size);
}

pr_status pr_risk_plot_draw(const pr_scenario *scenario, const pr_risk *risk, pr_units units,
                            pr_plot_format format, FILE *out, char *message, size_t message_size)
{
    double *curve = malloc((2 * risk->n_rests + 2) * sizeof *curve);
    if (curve == NULL) {
        snprintf(message, message_size, "out of memory");
        return PR_ERR_NOMEM;
    }
    const size_t n = fill_curve(risk, curve);
    const pr_status status =
        draw(scenario, risk, units, curve, n, format, out, message, message_size);
    free(curve);
    return status;
}
