/* The budget as text: see budget_report.h. */
#include "report/budget_report.h"

#include "report/assumptions.h"
#include "report/grid.h"
#include "report/plan_text.h"

#include <math.h>
#include <stdarg.h>
#include <string.h>

static void keep_first(pr_status *status, pr_status next)
{
    if (*status == PR_OK)
        *status = next;
}

static const char *printable(const char *name, char *text)
{
    pr_text_printable(text, PR_NAME_MAX + 8, name);
    return text;
}

static pr_text amps(double value_A)
{
    return pr_text_number(value_A, fabs(value_A) < 9.95 ? 1 : 0);
}

static pr_text amps_signed(double value_A)
{
    pr_text text;
    snprintf(text.s, sizeof text.s, "%s%.80s", value_A >= 0.5 ? "+" : "",
             pr_text_number(value_A, 0).s);
    return text;
}

static void columns(pr_grid *grid, const char *const heads[], const pr_align align[], size_t n)
{
    for (size_t i = 0; i < n; i++)
        pr_grid_column(grid, heads[i], align[i]);
}
#define COLUMNS(grid, heads, align) columns(grid, heads, align, sizeof heads / sizeof *heads)

/* ---- situations */

static void situation_row(pr_grid *grid, const pr_budget_situation *s, const pr_style *style)
{
    char name[PR_NAME_MAX + 8];
    const pr_budget_point *p = &s->own;
    pr_grid_row(grid);
    pr_grid_cell(grid, printable(s->name, name));
    pr_grid_cell(grid, pr_units_number(style->units, PR_QUANTITY_TEMPERATURE, s->ambient_degC).s);
    pr_grid_cell(grid, pr_text_number(p->engine_rpm, 0).s);
    pr_grid_cell(grid, amps(p->load_A).s);
    pr_grid_cell(grid, amps(p->available_A).s);
    pr_grid_cell_tone(grid, amps_signed(p->margin_A).s,
                      p->margin_A < 0.0 ? PR_TONE_BAD : PR_TONE_PLAIN);
    pr_grid_cell(grid, amps_signed(p->average_margin_A).s);
    pr_grid_cell(grid, amps_signed(p->battery_A).s);
    pr_grid_cell(grid, pr_text_number(p->box_V, 1).s);
    pr_grid_cell(grid, pr_text_percent(s->full_output_frac, 0).s);
    if (isfinite(s->runs_s))
        pr_grid_cell_tone(grid, pr_text_duration_rough(s->runs_s).s, PR_TONE_BAD);
    else
        pr_grid_cell_tone(grid, isfinite(s->no_restart_s) ? "no, flat" : "no",
                          isfinite(s->no_restart_s) ? PR_TONE_BAD : PR_TONE_PLAIN);
}

/* Runs on, but once it is stopped it stays so. */
static void say_flat(const pr_budget_situation *s, const pr_style *style, FILE *out)
{
    char name[PR_NAME_MAX + 8], line[600];
    if (isfinite(s->runs_s) || !isfinite(s->no_restart_s))
        return;
    if (s->no_restart_s < 60.0)
        snprintf(line, sizeof line,
                 "'%s': this battery would not crank the engine; do not stop it.",
                 printable(s->name, name));
    else
        snprintf(line, sizeof line,
                 "'%s': the engine runs on, but after %s the battery would not crank it again; "
                 "switch loads off or raise the idle before.",
                 printable(s->name, name), pr_text_duration_rough(s->no_restart_s).s);
    pr_style_paragraph(style, out, line);
}

static pr_status write_situations(const pr_budget *b, const pr_style *style, FILE *out)
{
    static const pr_align align[] = {PR_ALIGN_LEFT,  PR_ALIGN_RIGHT, PR_ALIGN_RIGHT, PR_ALIGN_RIGHT,
                                     PR_ALIGN_RIGHT, PR_ALIGN_RIGHT, PR_ALIGN_RIGHT, PR_ALIGN_RIGHT,
                                     PR_ALIGN_RIGHT, PR_ALIGN_RIGHT, PR_ALIGN_RIGHT};
    const char *const heads[] = {"situation", pr_units_name(style->units, PR_QUANTITY_TEMPERATURE),
                                 "rpm",       "load A",
                                 "gives A",   "spare A",
                                 "average",   "battery",
                                 "V",         "at full",
                                 "stops in"};
    pr_style_heading(style, out, "Each situation at its own engine speed");
    pr_grid *grid = pr_grid_new(style);
    COLUMNS(grid, heads, align);
    for (int k = 0; k < b->n_situations; k++)
        situation_row(grid, &b->situation[k], style);
    const pr_status status = pr_grid_print(grid, out);
    for (int k = 0; k < b->n_situations; k++)
        say_flat(&b->situation[k], style, out);
    pr_style_paragraph(
        style, out,
        "Load: everything of the situation on at once. Gives: alternator at full "
        "output. Spare: the one less the other; charging the battery is not in it "
        "and stands under battery (negative: the battery helps). Average: with loads "
        "that cycle at their average. V: at the fuse box, at the start. At full: "
        "share of the first hour above 90 % of full output, which wears an "
        "alternator. Stops in: until the engine stops for want of voltage.");
    return status;
}

/* "114 (+76)" */
static void point_cell(pr_grid *grid, const pr_budget_point *p)
{
    pr_text text;
    snprintf(text.s, sizeof text.s, "%.40s (%.40s)", pr_text_number(p->available_A, 0).s,
             amps_signed(p->margin_A).s);
    pr_grid_cell_tone(grid, text.s, p->margin_A < 0.0 ? PR_TONE_BAD : PR_TONE_PLAIN);
}

static pr_status write_speeds(const pr_budget *b, const pr_style *style, FILE *out)
{
    static const pr_align align[] = {PR_ALIGN_LEFT,  PR_ALIGN_RIGHT, PR_ALIGN_RIGHT,
                                     PR_ALIGN_RIGHT, PR_ALIGN_RIGHT, PR_ALIGN_RIGHT,
                                     PR_ALIGN_RIGHT, PR_ALIGN_RIGHT};
    static const char *const names[] = {"idle", "fast idle", "highest"};
    pr_text text[2 * PR_BUDGET_SPEEDS] = {{""}};
    const char *heads[2 + 2 * PR_BUDGET_SPEEDS] = {"situation"};
    for (int v = 0; v < PR_BUDGET_SPEEDS; v++)
        for (int h = 0; h < PR_BUDGET_HEATS; h++) {
            snprintf(text[2 * v + h].s, sizeof text[0].s, "%s %s", names[v],
                     h == PR_BUDGET_HOT ? "hot" : "cold");
            heads[1 + 2 * v + h] = text[2 * v + h].s;
        }
    heads[7] = "carries from";
    char title[400];
    const pr_budget_situation *first = &b->situation[0];
    snprintf(title, sizeof title,
             "What the alternator gives, A (to spare): idle %s, fast idle %s, highest %s rpm",
             pr_text_number(first->at[PR_BUDGET_IDLE][0].engine_rpm, 0).s,
             pr_text_number(first->at[PR_BUDGET_FAST_IDLE][0].engine_rpm, 0).s,
             pr_text_number(first->at[PR_BUDGET_CRUISE][0].engine_rpm, 0).s);
    pr_style_heading(style, out, title);
    pr_grid *grid = pr_grid_new(style);
    COLUMNS(grid, heads, align);
    for (int k = 0; k < b->n_situations; k++) {
        const pr_budget_situation *s = &b->situation[k];
        char name[PR_NAME_MAX + 8];
        pr_grid_row(grid);
        pr_grid_cell(grid, printable(s->name, name));
        for (int v = 0; v < PR_BUDGET_SPEEDS; v++)
            for (int h = 0; h < PR_BUDGET_HEATS; h++)
                point_cell(grid, &s->at[v][h]);
        pr_text rpm;
        snprintf(rpm.s, sizeof rpm.s, "%.80s rpm",
                 pr_text_number(10.0 * ceil(0.1 * s->balance_rpm), 0).s);
        pr_grid_cell(grid, isnan(s->balance_rpm) ? "no speed" : rpm.s);
    }
    return pr_grid_print(grid, out);
}

static pr_status write_loads(const pr_budget *b, const pr_style *style, FILE *out)
{
    static const pr_align align[] = {PR_ALIGN_LEFT,  PR_ALIGN_RIGHT, PR_ALIGN_RIGHT,
                                     PR_ALIGN_RIGHT, PR_ALIGN_LEFT,  PR_ALIGN_WRAP};
    static const char *const heads[] = {"load", "A", "average A", "W", "", "on in"};
    char title[80];
    snprintf(title, sizeof title, "Loads at charging voltage, %.1f V", b->charging_V);
    pr_style_heading(style, out, title);
    pr_grid *grid = pr_grid_new(style);
    COLUMNS(grid, heads, align);
    for (int i = 0; i < b->n_loads; i++) {
        const pr_budget_load *load = &b->load[i];
        char name[PR_NAME_MAX + 8], in[PR_SITUATIONS_MAX * (PR_NAME_MAX + 8)] = "";
        int n = 0;
        for (int k = 0; k < b->n_situations; k++)
            if (b->situation[k].load_on[i]) {
                snprintf(in + strlen(in), sizeof in - strlen(in), "%s%s", n++ > 0 ? ", " : "",
                         printable(b->situation[k].name, name));
            }
        pr_grid_row(grid);
        pr_grid_cell(grid, printable(load->name, name));
        pr_grid_cell(grid, amps(load->amps_A).s);
        pr_grid_cell(grid, amps(load->average_A).s);
        pr_grid_cell(grid, pr_text_number(load->watts_W, 0).s);
        pr_grid_cell(grid, load->stops_engine ? "stops the engine"
                           : load->essential  ? "essential"
                                              : "");
        pr_grid_cell(grid, n == b->n_situations ? "all" : n == 0 ? "none" : in);
    }
    return pr_grid_print(grid, out);
}

/* ---- cables and fuses */

static pr_text cable_verdict(const pr_budget_cable *c)
{
    pr_text text, bad;
    if (c->drop_ok && c->heat_ok) {
        snprintf(text.s, sizeof text.s, "right");
        return text;
    }
    if (c->melts && c->melts_s > 0.0)
        snprintf(bad.s, sizeof bad.s, "melts %.0f s into a pull", ceil(c->melts_s));
    else
        snprintf(bad.s, sizeof bad.s, "%s",
                 c->melts       ? "melts"
                 : c->none_fits ? "too thin"
                 : c->heat_ok   ? "drops too much"
                                : "too hot");
    if (c->none_fits)
        snprintf(text.s, sizeof text.s, "%.60s; shorten or double it", bad.s);
    else
        snprintf(text.s, sizeof text.s, "%.60s: %s", bad.s, c->recommended);
    return text;
}

static pr_status write_cables(const pr_budget *b, const pr_style *style, FILE *out)
{
    static const pr_align align[] = {PR_ALIGN_LEFT,  PR_ALIGN_RIGHT, PR_ALIGN_RIGHT,
                                     PR_ALIGN_RIGHT, PR_ALIGN_RIGHT, PR_ALIGN_RIGHT,
                                     PR_ALIGN_RIGHT, PR_ALIGN_RIGHT, PR_ALIGN_LEFT};
    const char *const heads[] = {
        "cable",  "size",       pr_units_name(style->units, PR_QUANTITY_DISTANCE),    "A",
        "drop V", "drop (may)", pr_units_name(style->units, PR_QUANTITY_TEMPERATURE), "carries A",
        "verdict"};
    pr_style_heading(style, out, "Cables at the most that goes through them");
    pr_grid *grid = pr_grid_new(style);
    COLUMNS(grid, heads, align);
    for (int i = 0; i < b->n_cables; i++) {
        const pr_budget_cable *c = &b->cable[i];
        char name[PR_NAME_MAX + 8];
        pr_text drop;
        const pr_text verdict = cable_verdict(c);
        snprintf(drop.s, sizeof drop.s, "%.1f %% (%.0f %%)", 100.0 * c->drop_frac,
                 100.0 * c->allowed_frac);
        pr_grid_row(grid);
        pr_grid_cell(grid, printable(c->name, name));
        pr_grid_cell(grid, c->gauge);
        pr_grid_cell(grid, pr_units_number(style->units, PR_QUANTITY_DISTANCE, c->length_m).s);
        pr_grid_cell(grid, amps(c->amps_A).s);
        pr_grid_cell(grid, pr_text_number(c->drop_V, 2).s);
        pr_grid_cell(grid, drop.s);
        pr_grid_cell(grid, pr_units_number(style->units, PR_QUANTITY_TEMPERATURE, c->degC).s);
        pr_grid_cell(grid, amps(c->ampacity_A).s);
        pr_grid_cell_tone(grid, verdict.s, c->drop_ok && c->heat_ok ? PR_TONE_PLAIN : PR_TONE_BAD);
    }
    const pr_status status = pr_grid_print(grid, out);
    pr_style_paragraph(
        style, out,
        "The winch cable at the amps of rated pull, hot after one pull as long as the sheet "
        "allows; battery to battery at what such a pull sends through it, without a winch at what "
        "one takes from the other at the charge of the file, a hand switch closed; the "
        "alternator's at its full output, cold; all others steady. A gauge after the colon is the "
        "thinnest that does.");
    return status;
}

static const char *fuse_words(pr_fusing verdict)
{
    static const char *const words[PR_FUSING_COUNT] = {
        [PR_FUSING_NONE] = "no fuse",
        [PR_FUSING_TOO_SMALL] = "too small",
        [PR_FUSING_TIGHT] = "right, but tight",
        [PR_FUSING_RIGHT] = "right",
        [PR_FUSING_PULLS_ONLY] = "right for pulls and shorts; no guard against a long overload",
        [PR_FUSING_LARGER] = "holds a pull and opens on a short, but the smaller one guards more",
        [PR_FUSING_TOO_BIG] = "too big for its cable"};
    return words[verdict];
}

static pr_status write_fuses(const pr_budget *b, const pr_style *style, FILE *out)
{
    static const pr_align align[] = {PR_ALIGN_LEFT,  PR_ALIGN_RIGHT, PR_ALIGN_RIGHT,
                                     PR_ALIGN_RIGHT, PR_ALIGN_RIGHT, PR_ALIGN_WRAP};
    static const char *const heads[] = {"fuse",      "A",      "load A", "cable carries A",
                                        "should be", "verdict"};
    pr_style_heading(style, out, "Fuses");
    pr_grid *grid = pr_grid_new(style);
    COLUMNS(grid, heads, align);
    for (int i = 0; i < b->n_fuses; i++) {
        const pr_budget_fuse *f = &b->fuse[i];
        char name[PR_NAME_MAX + 8];
        const bool bad = f->verdict == PR_FUSING_TOO_BIG || f->verdict == PR_FUSING_TOO_SMALL;
        pr_grid_row(grid);
        pr_grid_cell(grid, printable(f->name, name));
        pr_grid_cell(grid, amps(f->rating_A).s);
        pr_grid_cell(grid, amps(f->load_A).s);
        pr_grid_cell(grid, amps(f->ampacity_A).s);
        const bool keep = f->verdict == PR_FUSING_RIGHT || f->verdict == PR_FUSING_PULLS_ONLY;
        pr_grid_cell(grid, keep                      ? "as it is"
                           : isnan(f->recommended_A) ? "thicker cable first"
                                                     : amps(f->recommended_A).s);
        pr_grid_cell_tone(grid, fuse_words(f->verdict), bad ? PR_TONE_BAD : PR_TONE_PLAIN);
    }
    return pr_grid_print(grid, out);
}

static void write_limp(const pr_budget *b, const pr_style *style, FILE *out)
{
    char text[900];
    pr_style_heading(style, out, "Limp home with a dead alternator");
    if (isfinite(b->limp_s))
        snprintf(
            text, sizeof text,
            "With only what the engine needs and what is essential on (%.0f A at the start) the "
            "battery keeps the engine alive for %s, from the charge and at the temperature of "
            "the file; %s of its charge is left when the fuse box reaches %.1f V%s. Do not "
            "stop the engine: it may not crank again.",
            b->limp_load_A, pr_text_duration_rough(b->limp_s).s,
            pr_text_percent(b->limp_soc_frac, 0).s, b->stops_at_V,
            b->stops_by_load ? "" : " (assumed: no load says where the engine stops)");
    else
        snprintf(text, sizeof text, "No essential load draws anything worth speaking of.");
    pr_style_paragraph(style, out, text);
}

pr_status pr_budget_write_text(const pr_scenario *scenario, const pr_budget *budget,
                               const pr_style *style, FILE *out)
{
    char line[PR_BUDGET_LINES][PR_BUDGET_LINE_BYTES];
    pr_budget_answer(budget, style->units, line);
    const pr_tone tone = budget->alternator.enough ? PR_TONE_GOOD : PR_TONE_BAD;
    fputs(pr_style_on(style, tone), out);
    pr_style_paragraph(style, out, line[0]);
    fputs(pr_style_off(style, tone), out);
    for (int i = 1; i < PR_BUDGET_LINES; i++)
        if (line[i][0] != '\0')
            pr_style_paragraph(style, out, line[i]);
    if (style->brief)
        return PR_OK;
    pr_status status = write_situations(budget, style, out);
    keep_first(&status, write_speeds(budget, style, out));
    if (budget->n_loads > 0)
        keep_first(&status, write_loads(budget, style, out));
    if (budget->n_cables > 0)
        keep_first(&status, write_cables(budget, style, out));
    if (budget->n_fuses > 0)
        keep_first(&status, write_fuses(budget, style, out));
    write_limp(budget, style, out);
    keep_first(&status, pr_assumptions_write_text(scenario, true, style, out));
    pr_write_cautions_text(false, style, out);
    return status;
}
