/* The tables of the page: pulls, readings, remedies, limits, inputs, cautions. */
#include "report/page_html.h"
#include "report/page_parts.h"

#include "report/cautions.h"
#include "report/remedy_words.h"
#include "report/words.h"

#include <math.h>
#include <string.h>

static void open_section(FILE *out, const char *id, const char *head)
{
    fprintf(out, "<section aria-labelledby=\"%s\">\n<h2 id=\"%s\">", id, id);
    pr_html_text(out, head);
    fputs("</h2>\n", out);
}

static void close_section(FILE *out)
{
    fputs("</section>\n", out);
}

/* A table that scrolls sideways by itself; reachable by keyboard for that. */
static void open_table(FILE *out, const char *label)
{
    fputs("<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"", out);
    pr_html_attribute(out, label);
    fputs("\">\n<table>\n", out);
}

static void close_table(FILE *out)
{
    fputs("</tbody>\n</table>\n</div>\n", out);
}

static void heads(FILE *out, const char *const names[], size_t n)
{
    fputs("<thead><tr>", out);
    for (size_t i = 0; i < n; i++) {
        fputs("<th scope=\"col\">", out);
        pr_html_text(out, names[i]);
        fputs("</th>", out);
    }
    fputs("</tr></thead>\n<tbody>\n", out);
}

static void row_head(FILE *out, const char *text)
{
    fputs("<th scope=\"row\">", out);
    pr_html_text(out, text);
    fputs("</th>", out);
}

static pr_text with_unit(const char *what, pr_units units, pr_quantity quantity)
{
    pr_text text;
    snprintf(text.s, sizeof text.s, "%s %s", what, pr_units_name(units, quantity));
    return text;
}

static void write_reason(const pr_plan *plan, size_t i, FILE *out)
{
    bool cut_short;
    pr_html_element(out, "td", "words", pr_words_cycle_reason(plan, i, &cut_short));
}

void pr_page_write_cycles(const pr_page *page, FILE *out)
{
    const pr_plan *plan = pr_page_plan(page);
    if (plan->status != PR_OK || plan->n_cycles == 0)
        return;
    open_section(out, "pulls", "Pull by pull");
    pr_html_element(out, "p", "fine",
                    "Compare the way after each pull. Much less than this: the ground is worse "
                    "than was assumed; stop and plan again.");
    open_table(out, "Table of pulls");
    const pr_text way = with_unit("Way", page->units, PR_QUANTITY_DISTANCE);
    const pr_text motor = with_unit("Motor", page->units, PR_QUANTITY_TEMPERATURE);
    const char *const names[] = {"No.",    "Starts", "Pull",    "Rest",  way.s,
                                 "Charge", "Low V",  "Crank V", motor.s, "Rest is for"};
    heads(out, names, sizeof names / sizeof names[0]);
    for (size_t i = 0; i < plan->n_cycles; i++) {
        const pr_cycle *c = &plan->cycles[i];
        const pr_extremes *worst = &c->pull.extremes;
        const bool last = i + 1 == plan->n_cycles;
        fprintf(out, "<tr data-pull=\"%zu\">", i);
        row_head(out, pr_text_number((double)(i + 1), 0).s);
        pr_html_element(out, "td", NULL, pr_text_clock(c->start_s).s);
        pr_html_element(out, "td", NULL, pr_text_duration(c->pull_s).s);
        pr_html_element(out, "td", NULL, last ? "" : pr_text_duration(c->rest_s).s);
        pr_html_element(out, "td", NULL,
                        pr_units_number(page->units, PR_QUANTITY_DISTANCE, c->travel_m).s);
        pr_html_element(out, "td", NULL, pr_text_percent(c->soc_after_pull_frac, 0).s);
        pr_html_element(out, "td", NULL, pr_text_number(worst->least_box_V, 1).s);
        pr_html_element(out, "td", NULL, pr_words_crank_V(worst->least_restart_V).s);
        pr_html_element(
            out, "td", NULL,
            pr_units_number(page->units, PR_QUANTITY_TEMPERATURE, worst->most_armature_degC).s);
        write_reason(plan, i, out);
        fputs("</tr>\n", out);
    }
    close_table(out);
    close_section(out);
}

/* Equal neighbours in one row, which says how it stands after the last of them. */
static void write_rest_table(const pr_page *page, const pr_plan *plan, FILE *out)
{
    const pr_text way = with_unit("Way", page->units, PR_QUANTITY_DISTANCE);
    const pr_text motor = with_unit("Motor", page->units, PR_QUANTITY_TEMPERATURE);
    const char *const names[] = {"No.", "Starts", "Pull",  "Rest",
                                 way.s, "Charge", motor.s, "Rest is for"};
    open_table(out, pr_words_plan(plan->kind));
    heads(out, names, sizeof names / sizeof names[0]);
    for (size_t i = 0, next; i < plan->n_cycles; i = next) {
        next = pr_words_span_end(plan, i);
        const pr_cycle *c = &plan->cycles[next - 1];
        double hottest_degC = c->pull.extremes.most_armature_degC;
        for (size_t k = i; k < next; k++)
            hottest_degC = fmax(hottest_degC, plan->cycles[k].pull.extremes.most_armature_degC);
        pr_text number = pr_text_number((double)(i + 1), 0);
        if (next > i + 1)
            snprintf(number.s, sizeof number.s, "%zu to %zu", i + 1, next);
        fputs("<tr>", out);
        row_head(out, number.s);
        pr_html_element(out, "td", NULL, pr_text_clock(plan->cycles[i].start_s).s);
        pr_html_element(out, "td", NULL, pr_text_duration(c->pull_s).s);
        pr_html_element(out, "td", NULL,
                        next == plan->n_cycles ? "" : pr_text_duration(c->rest_s).s);
        pr_html_element(out, "td", NULL,
                        pr_units_number(page->units, PR_QUANTITY_DISTANCE, c->travel_m).s);
        pr_html_element(out, "td", NULL, pr_text_percent(c->soc_after_pull_frac, 0).s);
        pr_html_element(out, "td", NULL,
                        pr_units_number(page->units, PR_QUANTITY_TEMPERATURE, hottest_degC).s);
        write_reason(plan, next - 1, out);
        fputs("</tr>\n", out);
    }
    close_table(out);
}

/* The plans that are quicker than the one that the page is about. */
void pr_page_write_others(const pr_page *page, FILE *out)
{
    const pr_plan_set *set = page->report->set;
    const pr_plan *lead = pr_page_plan(page);
    bool any = false;
    for (int k = 0; k < PR_PLAN_KINDS; k++) {
        const pr_plan *plan = &set->plan[k];
        if (plan == lead || plan->status != PR_OK || !plan->go || plan->n_cycles < 2 ||
            !(plan->total_s < lead->total_s - 30.0))
            continue;
        if (!any)
            open_section(out, "others", "Quicker, by the table");
        any = true;
        pr_html_printf(out, "h3", NULL, "%s: %s", pr_words_plan(plan->kind),
                       pr_text_duration_rough(plan->total_s).s);
        pr_html_printf(out, "p", NULL, "%zu pulls of %s, %s, engine %s rpm, in rests %s rpm.",
                       plan->n_cycles, pr_text_duration(plan->pull_s).s,
                       pr_words_parts(plan->parts, true).s, pr_text_number(plan->pull_rpm, 0).s,
                       pr_text_number(plan->rest_rpm, 0).s);
        if (plan->first_rest_s > 0.0)
            pr_html_printf(out, "p", NULL, "Charge %s first.",
                           pr_text_duration(plan->first_rest_s).s);
        const pr_plan *as_needed = &set->plan[PR_PLAN_AS_NEEDED];
        if (k == PR_PLAN_SHORTEST && as_needed != lead && pr_words_same_pulls(plan, as_needed))
            pr_html_element(out, "p", NULL, "Pulls and rests as above.");
        else
            write_rest_table(page, plan, out);
    }
    if (!any)
        return;
    pr_html_element(out, "p", "fine",
                    "The timer above does not follow these; what it says of pulls that took too "
                    "long does not hold for them.");
    close_section(out);
}

static pr_text band_text(const pr_reading_band *band)
{
    pr_text text = {"-"};
    if (!isnan(band->V))
        snprintf(text.s, sizeof text.s, "%.40s to %.40s", pr_text_number(band->low_V, 1).s,
                 pr_text_number(band->high_V, 1).s);
    return text;
}

static void write_fault(const pr_readings *r, pr_rig_fault fault, FILE *out)
{
    const pr_reading_band *healthy = r->fault[PR_FAULT_NONE].at;
    fputs("<tr>", out);
    row_head(out, pr_fault_words(fault));
    for (int i = 0; i < PR_READING_COUNT; i++) {
        if (isnan(healthy[i].V))
            continue;
        const double V = r->fault[fault].at[i].V;
        const bool differs = !(V >= healthy[i].low_V && V <= healthy[i].high_V);
        pr_html_printf(out, "td", differs ? "off" : NULL, "%.40s%s", pr_text_number(V, 1).s,
                       differs ? "*" : "");
    }
    fputs("</tr>\n", out);
}

void pr_page_write_readings(const pr_page *page, FILE *out)
{
    const pr_readings *r = page->readings;
    if (r == NULL)
        return;
    const pr_reading_band *healthy = r->fault[PR_FAULT_NONE].at;
    open_section(out, "readings", "Readings of this rig");
    pr_html_printf(out, "p", "fine",
                   "Volts. Bands hold about 19 of 20 such rigs and the error of the meter. After a "
                   "pull: %.0f s after a pull of %.0f s.",
                   r->after_pull_s, r->pull_s);
    open_table(out, "Readings of the healthy rig");
    static const char *const names[] = {"Where and when", "Expect", "Healthy"};
    heads(out, names, 3);
    for (int i = 0; i < PR_READING_COUNT; i++) {
        if (isnan(healthy[i].V))
            continue;
        fputs("<tr>", out);
        row_head(out, pr_reading_words((pr_reading)i));
        pr_html_element(out, "td", NULL, pr_text_number(healthy[i].V, 1).s);
        pr_html_element(out, "td", NULL, band_text(&healthy[i]).s);
        fputs("</tr>\n", out);
    }
    close_table(out);
    fputs("<details>\n<summary>With each fault</summary>\n", out);
    pr_html_element(out, "p", "fine",
                    "Columns in the order of the table above; * is outside the healthy band.");
    open_table(out, "Readings with each fault");
    fputs("<thead><tr><th scope=\"col\">Fault</th>", out);
    for (int i = 0, n = 0; i < PR_READING_COUNT; i++)
        if (!isnan(healthy[i].V))
            fprintf(out, "<th scope=\"col\">%d</th>", ++n);
    fputs("</tr></thead>\n<tbody>\n", out);
    for (int f = 0; f < PR_FAULT_COUNT; f++)
        if (r->fault[f].possible)
            write_fault(r, (pr_rig_fault)f, out);
    close_table(out);
    fputs("</details>\n", out);
    close_section(out);
}

void pr_page_write_remedies(const pr_page *page, FILE *out)
{
    const pr_remedy_list *list = page->report->remedies;
    size_t shown = 0;
    for (size_t i = 0; list != NULL && i < list->n; i++)
        shown += pr_remedy_matters(&list->remedy[i]);
    if (shown == 0)
        return;
    open_section(out, "help", "What would help");
    fputs("<ul>\n", out);
    for (size_t i = 0; i < list->n; i++) {
        const pr_remedy *remedy = &list->remedy[i];
        char text[PR_REMEDY_BYTES];
        if (!pr_remedy_matters(remedy))
            continue;
        fputs("<li>", out);
        pr_remedy_text(remedy, page->units, false, text);
        pr_html_text(out, text);
        fputs(": ", out);
        const pr_text effect = pr_remedy_effect(remedy, page->units);
        if (remedy->go)
            pr_html_printf(out, "strong", NULL, "go in %s, %s",
                           pr_text_duration_rough(remedy->total_s).s, effect.s);
        else
            pr_html_printf(out, "strong", NULL, "still a no, %s", effect.s);
        pr_html_printf(out, "span", "fine", " (%s)", pr_remedy_effort(remedy->effort));
        fputs("</li>\n", out);
    }
    fputs("</ul>\n", out);
    pr_html_element(out, "p", "fine", "Each planned again, with rests as needed.");
    close_section(out);
}

static void write_limit(const pr_page *page, pr_limit limit, FILE *out)
{
    const pr_limits *l = &page->report->set->limits;
    const pr_units units = page->units;
    if (!l->on[limit])
        return;
    switch (limit) {
    case PR_LIMIT_RESERVE:
        pr_html_printf(out, "li", NULL, "charge at least %s",
                       pr_text_percent(l->reserve_frac, 0).s);
        break;
    case PR_LIMIT_VOLTAGE:
        pr_html_printf(out, "li", NULL, "fuse box at least %s",
                       pr_units_text(units, PR_QUANTITY_VOLTAGE, l->bus_min_V).s);
        break;
    case PR_LIMIT_MOTOR_HEAT:
        pr_html_printf(out, "li", NULL, "winch motor at most %s",
                       pr_units_text(units, PR_QUANTITY_TEMPERATURE, l->motor_max_degC).s);
        break;
    case PR_LIMIT_CABLE_HEAT:
        pr_html_element(out, "li", NULL, "every cable within its insulation");
        break;
    case PR_LIMIT_RESTART:
        pr_html_printf(
            out, "li", NULL, "the starter would get at least %s",
            pr_units_text(units, PR_QUANTITY_VOLTAGE,
                          page->report->scenario->system.cranking.min_V + l->restart_margin_V)
                .s);
        break;
    default:
        break;
    }
}

void pr_page_write_limits(const pr_page *page, FILE *out)
{
    open_section(out, "limits", "Limits kept at every moment");
    fputs("<ul>\n", out);
    for (int i = PR_LIMIT_NONE + 1; i < PR_LIMIT_COUNT; i++)
        write_limit(page, (pr_limit)i, out);
    const pr_plan *plan = pr_page_plan(page);
    if (plan->status == PR_OK && isfinite(plan->most_anchor_N))
        pr_html_printf(
            out, "li", NULL,
            "anchor, strap and shackles get up to %s as planned; choose them for what the winch "
            "can put on them: %s",
            pr_words_force_and_plate(plan->most_anchor_N, page->units).s,
            pr_words_force_and_plate(pr_words_anchor_most_N(plan, &page->report->scenario->system),
                                     page->units)
                .s);
    fputs("</ul>\n", out);
    close_section(out);
}

/* Catalogue entries and defaults, in the order of the file. */
void pr_page_write_inputs(const pr_page *page, FILE *out)
{
    const pr_scenario *s = page->report->scenario;
    open_section(out, "inputs", "What this stands on");
    fputs("<p>", out);
    pr_html_text(out, s->question);
    fputs("</p>\n<p class=\"fine\">From ", out);
    pr_html_text(out, s->path);
    fputs(".</p>\n", out);
    if (s->n_assumptions > 0) {
        fputs("<details>\n<summary>Assumed, because the file does not say</summary>\n", out);
        open_table(out, "Assumptions");
        static const char *const names[] = {"Key", "Value", "From"};
        heads(out, names, 3);
        for (size_t i = 0; i < s->n_assumptions; i++) {
            fputs("<tr>", out);
            row_head(out, s->assumption[i].key);
            pr_html_element(out, "td", "words", s->assumption[i].value);
            pr_html_element(out, "td", "words", s->assumption[i].source);
            fputs("</tr>\n", out);
        }
        close_table(out);
        fputs("</details>\n", out);
    }
    close_section(out);
}

void pr_page_write_cautions(FILE *out)
{
    open_section(out, "cautions", "Cautions");
    fputs("<ul class=\"cautions\">\n", out);
    for (int i = 0; i < PR_CAUTIONS; i++) {
        pr_html_element(out, "li", NULL, pr_cautions[i].text);
        fputc('\n', out);
    }
    fputs("</ul>\n", out);
    close_section(out);
}
