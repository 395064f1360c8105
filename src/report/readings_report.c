/* Readings of a voltmeter: see readings_report.h. */
#include "report/readings_report.h"

#include "report/assumptions.h"
#include "report/grid.h"
#include "report/plan_json.h"
#include "report/plan_text.h"

#include <math.h>
#include <string.h>

enum { SENTENCE_BYTES = PR_READINGS_ANSWER_BYTES };

#define append(line, ...) pr_text_append(line, SENTENCE_BYTES, __VA_ARGS__)

static pr_text volts(double value_V)
{
    return pr_text_number(value_V, 1);
}

/* "12.4 to 12.8" */
static pr_text band_text(const pr_reading_band *band)
{
    pr_text text = {"-"};
    if (!isnan(band->V))
        snprintf(text.s, sizeof text.s, "%.40s to %.40s", volts(band->low_V).s,
                 volts(band->high_V).s);
    return text;
}

bool pr_readings_healthy(const pr_readings_report *report)
{
    if (report->ranking == NULL)
        return true;
    for (size_t i = 0; i < report->ranking->n; i++)
        if (report->ranking->fit[i].fault == PR_FAULT_NONE)
            return report->ranking->fit[i].fits;
    return false;
}

static void say_expected(const pr_readings *r, char *line)
{
    const pr_reading_band *at = r->fault[PR_FAULT_NONE].at;
    append(line,
           "Healthy, this rig reads %s V with the engine off and rested, %s V idling with loads "
           "off, %s V with everything on at idle and %s V at fast idle (fuse box).",
           band_text(&at[PR_READING_OFF_RESTED]).s, band_text(&at[PR_READING_IDLE_LOADS_OFF]).s,
           band_text(&at[PR_READING_IDLE_ALL_ON]).s, band_text(&at[PR_READING_FAST_IDLE_ALL_ON]).s);
}

static void say_candidates(const pr_ranking *ranking, char *line)
{
    for (size_t i = 0, n = 0; i < ranking->n; i++)
        if (ranking->fit[i].as_good) {
            append(line, "%s%s",
                   n == 0                        ? ""
                   : n + 1 == ranking->n_as_good ? " or "
                                                 : ", ",
                   pr_fault_words(ranking->fit[i].fault));
            n++;
        }
}

static void say_best(const pr_readings_report *report, char *line)
{
    const pr_ranking *ranking = report->ranking;
    const pr_fit *best = &ranking->fit[0];
    if (!best->fits) {
        append(line,
               "NOTHING FITS: nearest is %s, off by %.2f V more than tolerances explain. "
               "Measure again; it may be two faults at once, or one not listed.",
               pr_fault_words(best->fault), best->worst_V);
        return;
    }
    if (ranking->n_as_good == 1) {
        append(line, "%s: %s. Nothing else in the list explains as well what was measured.",
               best->fault == PR_FAULT_NONE ? "HEALTHY" : "FAULT",
               best->fault == PR_FAULT_NONE ? "the rig reads as it should"
                                            : pr_fault_words(best->fault));
        return;
    }
    append(line, "%s: what was measured does not tell apart ",
           pr_readings_healthy(report) ? "HEALTHY AS FAR AS THIS TELLS" : "FAULT");
    say_candidates(ranking, line);
    append(line, ".");
}

/* What to measure next to part those that are as good as the best one. */
static void say_next(const pr_readings_report *report, char *line)
{
    const pr_ranking *ranking = report->ranking;
    bool asked[PR_READING_COUNT] = {false};
    int n = 0;
    for (size_t i = 1; i < ranking->n; i++) {
        const pr_fit *fit = &ranking->fit[i];
        if (!fit->as_good || fit->next == PR_READING_COUNT || asked[fit->next])
            continue;
        append(line, "%s%s (%s)", n++ == 0 ? "Measure next: " : "; ", pr_reading_words(fit->next),
               pr_reading_key(fit->next));
        asked[fit->next] = true;
    }
    if (n > 0)
        append(line, ".");
    else if (ranking->n_as_good > 1)
        append(line, "No other reading of this list would part them.");
}

void pr_readings_answer(const pr_readings_report *report, char line[PR_READINGS_ANSWER_BYTES])
{
    line[0] = '\0';
    if (report->ranking != NULL)
        say_best(report, line);
}

static void write_answer(const pr_readings_report *report, const pr_style *style, FILE *out)
{
    char line[SENTENCE_BYTES] = "", second[SENTENCE_BYTES] = "";
    if (report->ranking == NULL) {
        say_expected(report->readings, line);
        append(
            second, "Alternator dead: %s V at idle with everything on.",
            band_text(&report->readings->fault[PR_FAULT_ALTERNATOR_DEAD].at[PR_READING_IDLE_ALL_ON])
                .s);
        if (!report->readings->fault[PR_FAULT_ALTERNATOR_DEAD].possible)
            second[0] = '\0';
        pr_style_paragraph(style, out, line);
    } else {
        const pr_tone tone = pr_readings_healthy(report) ? PR_TONE_GOOD : PR_TONE_BAD;
        say_best(report, line);
        say_next(report, second);
        fputs(pr_style_on(style, tone), out);
        pr_style_paragraph(style, out, line);
        fputs(pr_style_off(style, tone), out);
    }
    if (second[0] != '\0')
        pr_style_paragraph(style, out, second);
}

static pr_status write_healthy(const pr_readings_report *report, const pr_style *style, FILE *out)
{
    const pr_reading_band *at = report->readings->fault[PR_FAULT_NONE].at;
    char title[120];
    snprintf(title, sizeof title, "Healthy (after a pull: %.0f s after a pull of %.0f s)",
             report->readings->after_pull_s, report->readings->pull_s);
    pr_style_heading(style, out, title);
    pr_grid *grid = pr_grid_new(style);
    pr_grid_column(grid, "where and when", PR_ALIGN_LEFT);
    pr_grid_column(grid, "expect V", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "band V", PR_ALIGN_RIGHT);
    if (report->measured != NULL)
        pr_grid_column(grid, "measured V", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "key for --measured", PR_ALIGN_LEFT);
    for (int i = 0; i < PR_READING_COUNT; i++) {
        if (isnan(at[i].V))
            continue;
        pr_grid_row(grid);
        pr_grid_cell(grid, pr_reading_words((pr_reading)i));
        pr_grid_cell(grid, volts(at[i].V).s);
        pr_grid_cell(grid, band_text(&at[i]).s);
        if (report->measured != NULL) {
            const double V = report->measured->V[i];
            const bool out_of_band = V < at[i].low_V || V > at[i].high_V;
            pr_grid_cell_tone(grid, report->measured->given[i] ? pr_text_number(V, 2).s : "",
                              out_of_band ? PR_TONE_BAD : PR_TONE_PLAIN);
        }
        pr_grid_cell(grid, pr_reading_key((pr_reading)i));
    }
    return pr_grid_print(grid, out);
}

static pr_status write_ranking(const pr_readings_report *report, const pr_style *style, FILE *out)
{
    pr_style_heading(style, out, "How well each explains what was measured");
    pr_grid *grid = pr_grid_new(style);
    pr_grid_column(grid, "fault", PR_ALIGN_LEFT);
    pr_grid_column(grid, "off by V", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "misfit", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "", PR_ALIGN_LEFT);
    pr_grid_column(grid, "told from the best by", PR_ALIGN_WRAP);
    for (size_t i = 0; i < report->ranking->n; i++) {
        const pr_fit *fit = &report->ranking->fit[i];
        pr_grid_row(grid);
        pr_grid_cell(grid, pr_fault_words(fit->fault));
        pr_grid_cell(grid, pr_text_number(fit->worst_V, 2).s);
        pr_grid_cell(grid, pr_text_number(fit->chi2, 1).s);
        pr_grid_cell(grid, i == 0 ? "best" : fit->as_good ? "as good" : fit->fits ? "fits" : "");
        pr_grid_cell(grid, fit->next == PR_READING_COUNT ? "" : pr_reading_words(fit->next));
    }
    const pr_status status = pr_grid_print(grid, out);
    pr_style_paragraph(style, out,
                       "Off by: what tolerances of the rig do not explain. Misfit: sum of squares "
                       "over the meter's error (0.075 V), tolerances allowed for.");
    return status;
}

static void fault_columns(pr_grid *grid, const pr_reading_band *healthy)
{
    static const char *const heads[PR_READING_COUNT] = {"off",     "crank",   "idle", "fast",
                                                        "idle on", "fast on", "batt", "alt",
                                                        "pull",    "winch",   "after"};
    pr_grid_column(grid, "V", PR_ALIGN_LEFT);
    for (int i = 0; i < PR_READING_COUNT; i++)
        if (!isnan(healthy[i].V))
            pr_grid_column(grid, heads[i], PR_ALIGN_RIGHT);
}

/* What lies outside the healthy band is in colour. */
static pr_status write_faults(const pr_readings *r, const pr_style *style, FILE *out)
{
    const pr_reading_band *healthy = r->fault[PR_FAULT_NONE].at;
    pr_style_heading(style, out, "With each fault");
    pr_grid *grid = pr_grid_new(style);
    fault_columns(grid, healthy);
    for (int f = 0; f < PR_FAULT_COUNT; f++) {
        if (!r->fault[f].possible)
            continue;
        pr_grid_row(grid);
        pr_grid_cell(grid, pr_fault_words((pr_rig_fault)f));
        for (int i = 0; i < PR_READING_COUNT; i++) {
            if (isnan(healthy[i].V))
                continue;
            const double V = r->fault[f].at[i].V;
            const bool differs = !(V >= healthy[i].low_V && V <= healthy[i].high_V);
            pr_text text;
            snprintf(text.s, sizeof text.s, "%.40s%s", volts(V).s, differs ? "*" : " ");
            pr_grid_cell_tone(grid, text.s, differs ? PR_TONE_BAD : PR_TONE_PLAIN);
        }
    }
    const pr_status status = pr_grid_print(grid, out);
    pr_style_paragraph(style, out,
                       "Columns in the order of the table of the healthy rig; * outside its band. "
                       "Where a winch cannot pull at all, its columns show what the meter reads "
                       "while it stalls.");
    return status;
}

static const pr_fault_pair *pair_of(const pr_readings *r, pr_rig_fault a, pr_rig_fault b)
{
    for (size_t i = 0; i < r->n_pairs; i++)
        if ((r->pair[i].a == a && r->pair[i].b == b) || (r->pair[i].a == b && r->pair[i].b == a))
            return &r->pair[i];
    return NULL;
}

static void pair_cells(pr_grid *grid, const pr_fault_pair *p)
{
    if (p->first == PR_READING_COUNT || !p->told_apart) {
        pr_grid_cell(grid, "cannot be told apart by a voltmeter");
        return;
    }
    pr_text text;
    snprintf(text.s, sizeof text.s, "%s (%.1f V); %s", pr_reading_key(p->first), fabs(p->first_V),
             pr_reading_key(p->second));
    pr_grid_cell(grid, text.s);
}

/* Two readings for each fault against healthy, and for the pairs that are hardest to tell apart. */
static pr_status write_pairs(const pr_readings *r, const pr_style *style, FILE *out)
{
    static const double CLEAR_V = 0.5;
    pr_style_heading(style, out, "The two readings that tell them apart");
    pr_grid *grid = pr_grid_new(style);
    pr_grid_column(grid, "this", PR_ALIGN_LEFT);
    pr_grid_column(grid, "from that", PR_ALIGN_LEFT);
    pr_grid_column(grid, "by", PR_ALIGN_LEFT);
    for (int a = 0; a < PR_FAULT_COUNT; a++)
        for (int b = a + 1; b < PR_FAULT_COUNT; b++) {
            const pr_fault_pair *p = pair_of(r, (pr_rig_fault)a, (pr_rig_fault)b);
            if (p == NULL || (a != PR_FAULT_NONE && p->told_apart && fabs(p->first_V) >= CLEAR_V))
                continue;
            pr_grid_row(grid);
            pr_grid_cell(grid, pr_fault_words((pr_rig_fault)b));
            pr_grid_cell(grid, pr_fault_words((pr_rig_fault)a));
            pair_cells(grid, p);
        }
    const pr_status status = pr_grid_print(grid, out);
    pr_style_paragraph(style, out,
                       "Pairs of faults that lie half a volt or more apart in some reading are "
                       "left out here; --json has every pair.");
    return status;
}

pr_status pr_readings_write_text(const pr_readings_report *report, const pr_style *style, FILE *out)
{
    write_answer(report, style, out);
    if (style->brief)
        return PR_OK;
    pr_status status[5] = {PR_OK};
    if (report->ranking != NULL)
        status[0] = write_ranking(report, style, out);
    status[1] = write_healthy(report, style, out);
    status[2] = write_faults(report->readings, style, out);
    status[3] = write_pairs(report->readings, style, out);
    status[4] =
        pr_assumptions_write_text(report->scenario, report->scenario->no_recovery, style, out);
    pr_write_cautions_text(report->scenario->system.has_winch, style, out);
    for (int i = 0; i < 5; i++)
        if (status[i] != PR_OK)
            return status[i];
    return PR_OK;
}

static void fault_json(pr_json *json, json_t *faults, const pr_readings *r, pr_rig_fault fault)
{
    json_t *item = pr_json_object(json, faults, NULL);
    pr_json_text(json, item, "key", pr_fault_key(fault));
    pr_json_text(json, item, "name", pr_fault_words(fault));
    json_t *readings = pr_json_object(json, item, "readings");
    for (int i = 0; i < PR_READING_COUNT; i++) {
        const pr_reading_band *band = &r->fault[fault].at[i];
        if (isnan(r->fault[PR_FAULT_NONE].at[i].V))
            continue;
        json_t *o = pr_json_object(json, readings, pr_reading_key((pr_reading)i));
        pr_json_number(json, o, "expected_V", band->V);
        pr_json_number(json, o, "low_V", band->low_V);
        pr_json_number(json, o, "high_V", band->high_V);
    }
}

static void pairs_json(pr_json *json, const pr_readings *r)
{
    json_t *list = pr_json_array(json, json->root, "pairs");
    for (size_t i = 0; i < r->n_pairs; i++) {
        const pr_fault_pair *p = &r->pair[i];
        json_t *item = pr_json_object(json, list, NULL);
        pr_json_text(json, item, "a", pr_fault_key(p->a));
        pr_json_text(json, item, "b", pr_fault_key(p->b));
        pr_json_flag(json, item, "told_apart", p->told_apart);
        pr_json_text(json, item, "first", pr_reading_key(p->first));
        pr_json_number(json, item, "first_V", p->first_V);
        pr_json_text(json, item, "second", pr_reading_key(p->second));
        pr_json_number(json, item, "second_V", p->second_V);
    }
}

static void ranking_json(pr_json *json, const pr_readings_report *report)
{
    json_t *measured = pr_json_object(json, json->root, "measured_V");
    for (int i = 0; i < PR_READING_COUNT; i++)
        if (report->measured->given[i])
            pr_json_number(json, measured, pr_reading_key((pr_reading)i), report->measured->V[i]);
    json_t *list = pr_json_array(json, json->root, "ranking");
    for (size_t i = 0; i < report->ranking->n; i++) {
        const pr_fit *fit = &report->ranking->fit[i];
        json_t *item = pr_json_object(json, list, NULL);
        pr_json_text(json, item, "fault", pr_fault_key(fit->fault));
        pr_json_number(json, item, "misfit", fit->chi2);
        pr_json_number(json, item, "off_by_V", fit->worst_V);
        pr_json_flag(json, item, "fits", fit->fits);
        pr_json_flag(json, item, "as_good_as_best", fit->as_good);
        if (fit->next != PR_READING_COUNT)
            pr_json_text(json, item, "told_from_best_by", pr_reading_key(fit->next));
    }
}

pr_status pr_readings_write_json(const pr_readings_report *report, const pr_diag *diag, FILE *out)
{
    const pr_readings *r = report->readings;
    char line[SENTENCE_BYTES] = "";
    pr_json json = pr_json_begin("readings");
    pr_json_scenario(&json, report->scenario);
    json_t *answer = pr_json_object(&json, json.root, "answer");
    if (report->ranking != NULL) {
        say_best(report, line);
        pr_json_flag(&json, answer, "healthy", pr_readings_healthy(report));
    } else {
        say_expected(r, line);
    }
    pr_json_text(&json, answer, "text", line);
    if (report->ranking != NULL)
        ranking_json(&json, report);
    pr_json_number(&json, json.root, "pull_s", r->pull_s);
    pr_json_number(&json, json.root, "after_pull_s", r->after_pull_s);
    json_t *faults = pr_json_array(&json, json.root, "faults");
    for (int f = 0; f < PR_FAULT_COUNT; f++)
        if (r->fault[f].possible)
            fault_json(&json, faults, r, (pr_rig_fault)f);
    pairs_json(&json, r);
    return pr_json_end_report(&json, report->scenario, diag, out);
}
