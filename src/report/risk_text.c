/* A study of uncertain inputs as text: see risk_report.h. */
#include "report/risk_report.h"

#include "report/cautions.h"
#include "report/grid.h"
#include "report/words.h"

#include <math.h>
#include <string.h>

enum { SENTENCE_BYTES = 700, LINE_COLUMNS = 100 };

#define append(line, ...) pr_text_append(line, PR_RISK_LINE_BYTES, __VA_ARGS__)

/* "38 %", and a decimal where a whole number would say none or all. */
static pr_text percent(double frac)
{
    const bool near_end = (frac > 0.0 && frac < 0.015) || (frac > 0.985 && frac < 1.0);
    return pr_text_percent(frac, near_end ? 1 : 0);
}

/* "none" for a rest or time that does not exist. */
static pr_text duration_or_none(double seconds)
{
    if (isinf(seconds)) {
        const pr_text none = {"none"};
        return none;
    }
    return pr_text_duration(round(seconds));
}

double pr_risk_swing_s(const pr_risk_input *input)
{
    return fabs(input->rest_high_s - input->rest_low_s);
}

static double weight_of(const pr_risk_input *input)
{
    return isnan(input->rest.total) ? -1.0 : input->rest.total;
}

static bool is_ranked(const pr_risk_input *input)
{
    return pr_sensitivity_is_sure(input->rest.total, input->rest.total_error);
}

/* What can be told from chance first. Indices that differ by less than a thousandth are alike: the
 * swing decides. */
static bool comes_before(const pr_risk_input *a, const pr_risk_input *b)
{
    if (is_ranked(a) != is_ranked(b))
        return is_ranked(a);
    if (fabs(weight_of(a) - weight_of(b)) > 1e-3)
        return weight_of(a) > weight_of(b);
    const double x = pr_risk_swing_s(a), y = pr_risk_swing_s(b);
    return !isnan(x) && (isnan(y) || x > y);
}

void pr_risk_order(const pr_risk *risk, int order[PR_RISK_INPUTS_MAX])
{
    for (int i = 0; i < risk->n_inputs; i++) {
        int k = i;
        for (; k > 0 && comes_before(&risk->input[i], &risk->input[order[k - 1]]); k--)
            order[k] = order[k - 1];
        order[k] = i;
    }
}

/* How a unit of files is shown: as a quantity of the report, in its units, else in its own. */
typedef struct shown_unit {
    const char *unit, *stored; /* as in pr_spread */
    pr_quantity quantity;      /* PR_QUANTITY_COUNT: none, but times the factor */
    double factor;
} shown_unit;

static const shown_unit shown_units[] = {
    {"kg", "N", PR_QUANTITY_WEIGHT, 0.0},
    {"lbf", "N", PR_QUANTITY_FORCE, 0.0},
    {"m", NULL, PR_QUANTITY_DISTANCE, 0.0},
    {"degC", NULL, PR_QUANTITY_TEMPERATURE, 0.0},
    {"K", NULL, PR_QUANTITY_TEMPERATURE_STEP, 0.0},
    {"m/min", "m/s", PR_QUANTITY_ROPE_SPEED, 0.0},
    {"A", NULL, PR_QUANTITY_CURRENT, 0.0},
    {"rpm", NULL, PR_QUANTITY_ENGINE_SPEED, 0.0},
    {"mm", "m", PR_QUANTITY_COUNT, 1e3},
    {"mohm", "ohm", PR_QUANTITY_COUNT, 1e3},
    {"mV/K", "V/K", PR_QUANTITY_COUNT, 1e3},
    {"K/min", "K/s", PR_QUANTITY_COUNT, 60.0},
    {"min", "s", PR_QUANTITY_COUNT, 1.0 / 60.0},
    {"h", "s", PR_QUANTITY_COUNT, 1.0 / 3600.0},
};

static bool is_unit(const shown_unit *shown, const pr_spread *spread)
{
    const char *stored = spread->stored != NULL ? spread->stored : "";
    return strcmp(shown->unit, spread->unit) == 0 &&
           strcmp(shown->stored != NULL ? shown->stored : "", stored) == 0;
}

pr_text pr_risk_value(const pr_risk_input *input, double value, pr_units units)
{
    const pr_spread *spread = &input->spread;
    pr_text plain;
    if (spread->unit == NULL) {
        snprintf(plain.s, sizeof plain.s, "%.3g", value);
        return plain;
    }
    if (strcmp(spread->unit, "%") == 0)
        return pr_text_percent(value, 0);
    if (spread->stored != NULL && strcmp(spread->stored, "rad") == 0) /* a slope */
        return pr_text_percent(tan(value), 0);
    double factor = 1.0;
    for (size_t i = 0; i < sizeof shown_units / sizeof shown_units[0]; i++) {
        const shown_unit *shown = &shown_units[i];
        if (!is_unit(shown, spread))
            continue;
        if (shown->quantity != PR_QUANTITY_COUNT)
            return pr_units_text(units, shown->quantity, value);
        factor = shown->factor;
    }
    snprintf(plain.s, sizeof plain.s, "%.3g %s", factor * value, spread->unit);
    return plain;
}

static void say_chance(const pr_risk *risk, pr_risk_answer *answer)
{
    char *line = answer->line[0];
    if (risk->cancelled && risk->done < risk->asked)
        append(line, "STOPPED after %s of %s. ", pr_text_number((double)risk->done, 0).s,
               pr_text_number((double)risk->asked, 0).s);
    else if (risk->cancelled)
        append(line, "STOPPED early. ");
    if (risk->holds.n == 0) {
        append(line, "Nothing is known yet.");
        return;
    }
    if (!risk->plan.go)
        append(line, "NO PLAN for the likely values. ");
    else if (!risk->cancelled)
        append(line, "%s: ",
               answer->good                 ? "SOUND"
               : risk->out.low_frac >= 0.95 ? "TIGHT"
                                            : "RISKY");
    append(line, "Rest %s keeps all limits in %s of %s recoveries; %s get out able to restart.",
           pr_text_duration(risk->rest_s).s, percent(risk->holds.frac).s,
           pr_text_number((double)risk->holds.n, 0).s, percent(risk->out.frac).s);
}

static void say_causes(const pr_risk *risk, pr_risk_answer *answer)
{
    char *line = answer->line[1];
    int worst = PR_LIMIT_NONE;
    for (int l = 1; l < PR_LIMIT_COUNT; l++)
        if (risk->first[l].count > risk->first[worst].count)
            worst = l;
    if (risk->holds.n == 0)
        append(line, "No limit was judged.");
    else if (risk->first[worst].count == 0)
        append(line, "No limit broke.");
    else if (worst == PR_LIMIT_NONE)
        append(line, "Most often it ends without a limit broken: %s are stuck.",
               percent(risk->stuck.frac).s);
    else
        append(line, "First to break: %s (%s).", pr_words_limit((pr_limit)worst),
               percent(risk->first[worst].frac).s);
    int order[PR_RISK_INPUTS_MAX];
    pr_risk_order(risk, order);
    if (risk->base_rows > 0 && risk->sensitivity_status == PR_OK &&
        !is_ranked(&risk->input[order[0]])) {
        append(line, " Too few samples to say what the rest hangs on.");
    } else if (risk->base_rows > 0 && risk->sensitivity_status == PR_OK) {
        const char *most = risk->input[order[0]].spread.key;
        append(line, " The rest hangs on %s", most);
        const char *next = risk->n_inputs > 1 ? risk->input[order[1]].spread.key : "";
        const bool fits = strlen(line) + strlen(next) + sizeof ", then ." <= LINE_COLUMNS;
        if (fits && risk->n_inputs > 1 && is_ranked(&risk->input[order[1]]))
            append(line, ", then %s", next);
        append(line, ".");
    }
}

static void say_hold(const pr_risk *risk, pr_risk_answer *answer)
{
    char *line = answer->line[2];
    int said = 0;
    for (int h = 0; h < PR_RISK_HOLDS; h++) {
        const pr_risk_hold *hold = &risk->hold[h];
        if (!hold->found)
            continue;
        append(line, said++ == 0 ? "Rest %s to hold in %s" : ", %s in %s",
               pr_text_duration(hold->rest_s).s, percent(hold->want_frac).s);
        append(line, " (checked: %s)", percent(hold->verified.frac).s);
    }
    if (said > 0) {
        append(line, ".");
        return;
    }
    if (risk->n_rests == 0)
        append(line, "The rest that would hold more often was not looked for");
    else
        append(line, "No rest holds so often: in %s none is long enough",
               percent(risk->rest_none.frac).s);
    if (risk->n_rests > 0 && risk->overload.count > 0)
        append(line, "; %s ask too much of winch, rope or anchor", percent(risk->overload.frac).s);
    append(line, ".");
}

void pr_risk_answer_make(const pr_risk *risk, pr_risk_answer *answer)
{
    *answer = (pr_risk_answer){.good = risk->plan.go && risk->holds.frac >= 0.9};
    say_chance(risk, answer);
    say_causes(risk, answer);
    say_hold(risk, answer);
}

static void keep_first(pr_status *status, pr_status next)
{
    if (*status == PR_OK)
        *status = next;
}

static pr_text interval(const pr_share *share)
{
    pr_text text;
    snprintf(text.s, sizeof text.s, "%.20s to %.20s", percent(share->low_frac).s,
             percent(share->high_frac).s);
    return text;
}

static void share_row(pr_grid *grid, const char *what, const pr_share *share)
{
    pr_grid_row(grid);
    pr_grid_cell(grid, what);
    pr_grid_cell(grid, percent(share->frac).s);
    pr_grid_cell(grid, interval(share).s);
}

static pr_status write_chances(const pr_risk *risk, const pr_style *style, FILE *out)
{
    pr_style_heading(style, out, "Chances, going by the plan");
    pr_grid *grid = pr_grid_new(style);
    pr_grid_column(grid, "what", PR_ALIGN_LEFT);
    pr_grid_column(grid, "share", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "95 % sure within", PR_ALIGN_RIGHT);
    share_row(grid, "every limit kept", &risk->holds);
    share_row(grid, "out, and able to restart all the time", &risk->out);
    for (int l = 1; l < PR_LIMIT_COUNT; l++) {
        char what[80];
        if (!risk->limits.on[l])
            continue;
        snprintf(what, sizeof what, "breaks: %s", pr_words_limit((pr_limit)l));
        share_row(grid, what, &risk->breaks[l]);
        if (risk->first[l].count > 0 && risk->first[l].count != risk->breaks[l].count) {
            snprintf(what, sizeof what, "  as the first");
            share_row(grid, what, &risk->first[l]);
        }
    }
    if (risk->overload.count > 0)
        share_row(grid, "asks too much of winch, rope or anchor", &risk->overload);
    if (risk->stuck.count > 0)
        share_row(grid, "does not get out", &risk->stuck);
    if (risk->over_time.count > 0)
        share_row(grid, "not out within the longest time", &risk->over_time);
    return pr_grid_print(grid, out);
}

static void spread_row(pr_grid *grid, const char *what, const pr_risk_spread *spread,
                       pr_text (*text)(double value, pr_units units), pr_units units)
{
    const double values[] = {spread->q05, spread->q50, spread->q95, spread->worst};
    if (isnan(spread->q50))
        return;
    pr_grid_row(grid);
    pr_grid_cell(grid, what);
    for (int i = 0; i < 4; i++)
        pr_grid_cell(grid, text(values[i], units).s);
}

static pr_text text_share(double value, pr_units units)
{
    (void)units;
    return pr_text_percent(value, 0);
}
/* Below nothing: the battery has no voltage left at the starter's current. */
static pr_text text_volts(double value, pr_units units)
{
    if (value < 0.0)
        return (pr_text){"none"};
    return pr_units_text(units, PR_QUANTITY_VOLTAGE, value);
}
static pr_text text_heat(double value, pr_units units)
{
    return pr_units_text(units, PR_QUANTITY_TEMPERATURE, value);
}
static pr_text text_time(double value, pr_units units)
{
    (void)units;
    return duration_or_none(value);
}

static pr_status write_spreads(const pr_risk *risk, const pr_style *style, FILE *out)
{
    pr_style_heading(style, out, "Spread of what happens");
    pr_grid *grid = pr_grid_new(style);
    pr_grid_column(grid, "what", PR_ALIGN_LEFT);
    pr_grid_column(grid, "5 % below", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "middle", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "5 % above", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "worst seen", PR_ALIGN_RIGHT);
    const pr_units u = style->units;
    spread_row(grid, "least charge", &risk->least_soc_frac, text_share, u);
    spread_row(grid, "lowest fuse box voltage", &risk->least_box_V, text_volts, u);
    spread_row(grid, "lowest voltage in a restart", &risk->least_restart_V, text_volts, u);
    spread_row(grid, "hottest winding", &risk->most_armature_degC, text_heat, u);
    spread_row(grid, "total time by the plan", &risk->total_s, text_time, u);
    if (risk->n_rests > 0) {
        spread_row(grid, "rest that is needed", &risk->rest, text_time, u);
        spread_row(grid, "total time with that rest", &risk->rest_total_s, text_time, u);
    }
    return pr_grid_print(grid, out);
}

static pr_status write_holds(const pr_risk *risk, const pr_style *style, FILE *out)
{
    pr_style_heading(style, out, "Rests that hold more often");
    pr_grid *grid = pr_grid_new(style);
    pr_grid_column(grid, "wanted", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "rest", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "held, drawn anew", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "95 % sure within", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "total time, middle", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "5 % above", PR_ALIGN_RIGHT);
    for (int h = 0; h < PR_RISK_HOLDS; h++) {
        const pr_risk_hold *hold = &risk->hold[h];
        pr_grid_row(grid);
        pr_grid_cell(grid, percent(hold->want_frac).s);
        pr_grid_cell(grid, hold->found ? pr_text_duration(hold->rest_s).s : "none");
        pr_grid_cell_tone(grid, hold->found ? percent(hold->verified.frac).s : "-",
                          hold->found && !hold->verified_well ? PR_TONE_BAD : PR_TONE_PLAIN);
        pr_grid_cell(grid, hold->found ? interval(&hold->verified).s : "-");
        pr_grid_cell(grid, hold->found ? duration_or_none(hold->total_s.q50).s : "-");
        pr_grid_cell(grid, hold->found ? duration_or_none(hold->total_s.q95).s : "-");
    }
    return pr_grid_print(grid, out);
}

/* What cannot be told from chance: only that it is less than its value and two errors. */
static pr_text index_text(double value, double error)
{
    pr_text text = {"-"};
    if (isnan(value))
        return text;
    if (pr_sensitivity_is_sure(value, error))
        snprintf(text.s, sizeof text.s, "%.2f ± %.2f", value, error);
    else if (value + 2.0 * error < 1.0)
        snprintf(text.s, sizeof text.s, "below %.2f", fmax(value + 2.0 * error, 0.01));
    else
        return (pr_text){"unsure"};
    return text;
}

/* Inputs that would only lengthen the table; all of them are in the JSON. */
bool pr_risk_hardly_matters(const pr_risk *risk, const pr_risk_input *input)
{
    const bool small_swing = pr_risk_swing_s(input) < 0.05 * risk->rest_s;
    return small_swing && !(input->rest.total >= 0.01);
}

static pr_status write_inputs(const pr_risk *risk, const pr_style *style, FILE *out)
{
    int order[PR_RISK_INPUTS_MAX];
    pr_risk_order(risk, order);
    pr_style_heading(style, out, "What the needed rest hangs on");
    pr_grid *grid = pr_grid_new(style);
    pr_grid_column(grid, "input", PR_ALIGN_LEFT);
    pr_grid_column(grid, "low (5 %)", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "rest there", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "high (5 %)", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "rest there", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "alone", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "in all", PR_ALIGN_RIGHT);
    size_t small = 0, unranked = 0;
    for (int k = 0; k < risk->n_inputs; k++) {
        const pr_risk_input *input = &risk->input[order[k]];
        if (!style->all && pr_risk_hardly_matters(risk, input)) {
            small++;
            continue;
        }
        unranked += !is_ranked(input);
        pr_grid_row(grid);
        pr_grid_cell(grid, input->spread.key);
        pr_grid_cell(grid, pr_risk_value(input, input->low, style->units).s);
        pr_grid_cell(grid, duration_or_none(input->rest_low_s).s);
        pr_grid_cell(grid, pr_risk_value(input, input->high, style->units).s);
        pr_grid_cell(grid, duration_or_none(input->rest_high_s).s);
        pr_grid_cell(grid, index_text(input->rest.first, input->rest.first_error).s);
        pr_grid_cell(grid, index_text(input->rest.total, input->rest.total_error).s);
    }
    const pr_status status = pr_grid_print(grid, out);
    char text[SENTENCE_BYTES];
    if (unranked > 0 && risk->sensitivity_status == PR_OK) {
        snprintf(text, sizeof text,
                 "The last %zu are too small to rank with %zu rows (in all: 'below'); more "
                 "--samples rank more of them.",
                 unranked, risk->base_rows);
        pr_style_paragraph(style, out, text);
    }
    if (small > 0) {
        snprintf(text, sizeof text,
                 "%zu more change the rest by less than a twentieth and make less than a hundredth "
                 "of its spread.",
                 small);
        pr_style_paragraph(style, out, text);
    }
    return status;
}

static void write_method(const pr_risk *risk, const pr_risk_options *options, const pr_style *style,
                         FILE *out)
{
    char text[SENTENCE_BYTES];
    pr_style_heading(style, out, "How this was found");
    snprintf(text, sizeof text,
             "%s recoveries simulated in all: %s by the plan, the needed rest of %s of these, the "
             "rests that hold checked on others, and %zu rows of a design for what matters (alone: "
             "share of the spread that knowing this one number would take away; in all: with what "
             "it does together with others). %s points, seed %lu.",
             pr_text_number((double)risk->recoveries, 0).s, pr_text_number((double)risk->done, 0).s,
             pr_text_number((double)risk->rest_done, 0).s, risk->base_rows,
             risk->sampling == PR_SAMPLING_SOBOL ? "Sobol" : "Random", options->seed);
    pr_style_paragraph(style, out, text);
    pr_style_paragraph(
        style, out,
        "The plan is followed whatever happens, as one does who cannot see the charge; "
        "its limits are those of the likely values. It takes the shortest rest that "
        "keeps them, so a share near one half is no fault of the plan. Inputs are taken "
        "as independent; of the margin on the pull, each recovery has between none and all.");
    if (risk->not_computed > 0) {
        snprintf(text, sizeof text,
                 "%zu of %zu recoveries could not be computed (%s) and are left out.",
                 risk->not_computed, risk->done, pr_status_text(risk->why_not));
        pr_style_paragraph(style, out, text);
    }
}

pr_status pr_risk_write_text(const pr_scenario *scenario, const pr_risk *risk,
                             const pr_risk_options *options, const pr_style *style, FILE *out)
{
    pr_risk_answer answer;
    pr_risk_answer_make(risk, &answer);
    const pr_tone tone = answer.good ? PR_TONE_GOOD : PR_TONE_BAD;
    fprintf(out, "%s%s%s\n", pr_style_on(style, tone), answer.line[0], pr_style_off(style, tone));
    for (int i = 1; i < PR_RISK_LINES; i++)
        fprintf(out, "%s\n", answer.line[i]);
    if (style->brief)
        return PR_OK;
    char title[PR_TEXT_MAX];
    pr_text_printable(title, sizeof title, scenario->title);
    fputc('\n', out);
    pr_style_paragraph(style, out, title);
    pr_status status = PR_OK;
    if (risk->holds.n > 0) {
        keep_first(&status, write_chances(risk, style, out));
        keep_first(&status, write_spreads(risk, style, out));
    }
    if (risk->n_rests > 0)
        keep_first(&status, write_holds(risk, style, out));
    if (!risk->cancelled)
        keep_first(&status, write_inputs(risk, style, out));
    write_method(risk, options, style, out);
    pr_style_heading(style, out, "Cautions");
    for (int i = 0; i < PR_CAUTIONS; i++)
        pr_style_item(style, out, pr_cautions[i].text);
    return status;
}
