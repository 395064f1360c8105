/* The card: one sheet of paper to laminate, seen only in print. What does not fit on a sheet stays
 * on the screen, so that its rows are bounded whatever the plan. */
#include "report/page_html.h"
#include "report/page_parts.h"

#include "report/cautions.h"
#include "report/words.h"

#include <math.h>
#include <string.h>

enum { PULL_ROWS = 28, REST_ROWS = 8 };

/* A box to tick for every pull of a row. */
static void write_boxes(size_t n, FILE *out)
{
    fputs("<td class=\"boxes\">", out);
    for (size_t i = 0; i < n; i++)
        fputs("\u25a1", out);
    fputs("</td>", out);
}

/* Setting out the rope and being out stand in rows of their own. */
static bool is_apart(const pr_plan *plan, size_t i)
{
    return i + 1 == plan->n_cycles || plan->cycles[i].rerig;
}

static void write_pulls(const pr_page *page, FILE *out)
{
    const pr_plan *plan = pr_page_plan(page);
    const size_t stride = (plan->n_cycles + PULL_ROWS - 1) / PULL_ROWS;
    bool cut_short;
    const char *done = pr_words_cycle_reason(plan, plan->n_cycles - 1, &cut_short);
    fputs("<div><h3>Pulls", out);
    if (stride > 1)
        fprintf(out, ", up to %zu a row", stride);
    fprintf(out,
            "</h3><table><thead><tr><th>No.</th><th>Pull</th><th>Rest</th><th>Way %s</th>"
            "<th>Done</th></tr></thead><tbody>\n",
            pr_units_name(page->units, PR_QUANTITY_DISTANCE));
    for (size_t i = 0, told = 0; i < plan->n_cycles; i++) {
        const pr_cycle *c = &plan->cycles[i];
        const bool last = i + 1 == plan->n_cycles;
        if ((i + 1) % stride != 0 && !is_apart(plan, i) && !is_apart(plan, i + 1))
            continue;
        fputs("<tr>", out);
        if (i > told)
            pr_html_printf(out, "td", NULL, "%zu to %zu", told + 1, i + 1);
        else
            pr_html_printf(out, "td", NULL, "%zu", i + 1);
        pr_html_element(out, "td", NULL, pr_text_duration(c->pull_s).s);
        pr_html_printf(out, "td", NULL, "%s%s", last ? done : pr_text_duration(c->rest_s).s,
                       c->rerig ? ", rope" : "");
        pr_html_element(out, "td", NULL,
                        pr_units_number(page->units, PR_QUANTITY_DISTANCE, c->travel_m).s);
        write_boxes(i + 1 - told, out);
        fputs("</tr>\n", out);
        told = i + 1;
    }
    fputs("</tbody></table></div>\n", out);
}

static pr_text entry_text(const pr_field_rest *rest)
{
    pr_text text = {"stop"};
    if (rest->verdict == PR_FIELD_STOP)
        return text;
    const pr_text clock = pr_text_clock(rest->rest_s);
    if (!(rest->later_frac > 0.0))
        return clock;
    snprintf(text.s, sizeof text.s, "%.20s +%.0f%%", clock.s, 100.0 * rest->later_frac);
    return text;
}

/* Paper does not count pulls that were too long: the highest level there can be at a row, for so
 * many fit into what was pulled. A pull as planned after pulls as planned is the plan; after one
 * too long it counts as the next longer length, whose entry is never less (fieldtable.c). */
static int worst_level(const pr_field_table *t, int row, int length)
{
    if (length == t->planned)
        return 0;
    const double fit = floor((t->row[row].pulled_s + 0.5) / t->length_s[t->planned]);
    return fit < PR_FIELD_LEVELS - 1 ? (int)fit : PR_FIELD_LEVELS - 1;
}

/* The worst of the rows from k up to the next one that is shown. */
static pr_field_rest worst_rest(const pr_field_table *t, int k, int stride, int length)
{
    pr_field_rest worst = t->row[k].rest[worst_level(t, k, length)][length];
    for (int i = k + 1; i <= k + stride && i < t->n_rows; i++) {
        const pr_field_rest *other = &t->row[i].rest[worst_level(t, i, length)][length];
        worst.rest_s = fmax(worst.rest_s, other->rest_s);
        worst.later_frac = fmax(worst.later_frac, other->later_frac);
        if (other->verdict == PR_FIELD_STOP)
            worst.verdict = PR_FIELD_STOP;
    }
    return worst;
}

/* A given current knows no ground that a pull could fall on. */
bool pr_page_short_pull_asks_more(const pr_page *page)
{
    const pr_field_table *t = page->table;
    for (int k = 0; k < t->n_rows && page->report->scenario->system.has_winch; k++)
        for (int l = 0; l < t->planned; l++) {
            const pr_field_rest *shorter = &t->row[k].rest[0][l];
            const pr_field_rest *planned = &t->row[k].rest[0][t->planned];
            if (shorter->rest_s > planned->rest_s || shorter->later_frac > planned->later_frac)
                return true;
        }
    return false;
}

/* Rest after a pull that was shorter or longer. */
static void write_rests(const pr_page *page, FILE *out)
{
    const pr_field_table *t = page->table;
    const int stride = (t->n_rows + REST_ROWS - 1) / REST_ROWS;
    fputs("<div><h3>Rest, if the pull took</h3><table><thead><tr><th>From</th>", out);
    for (int l = 0; l < PR_FIELD_LENGTHS; l++)
        pr_html_printf(out, "th", NULL, "%.0f s", t->length_s[l]);
    fputs("</tr></thead><tbody>\n", out);
    for (int k = 0; k < t->n_rows; k += stride) {
        fputs("<tr>", out);
        pr_html_printf(out, "td", NULL, "%.0f s", t->row[k].pulled_s);
        for (int l = 0; l < PR_FIELD_LENGTHS; l++) {
            const pr_field_rest worst = worst_rest(t, k, stride, l);
            pr_html_element(out, "td", NULL, entry_text(&worst).s);
        }
        fputs("</tr>\n", out);
    }
    fprintf(out,
            "</tbody></table><p>From: seconds pulled before, in all. Holds also after %d earlier "
            "pulls that took too long (one as planned then counts as the next longer); more of "
            "them: plan again. +5%%: later rests, too, are longer by that.",
            PR_FIELD_LEVELS - 1);
    if (pr_page_short_pull_asks_more(page))
        fprintf(out, " %s", PR_PAGE_SHORT_PULL_WORDS);
    fputs("</p></div>\n", out);
}

static void write_bands(const pr_page *page, FILE *out)
{
    fputs("<div><h3>Voltmeter</h3><table><tbody>\n", out);
    for (int m = 0; m < PR_FIELD_RESTED; m++) {
        const pr_field_bands *bands = &page->table->meter[m];
        if (bands->n == 0)
            continue;
        fputs("<tr><th colspan=\"2\">", out);
        pr_html_text(out, pr_page_moment_words((pr_field_moment)m));
        fputs("</th></tr>\n", out);
        for (int i = bands->n - 1; i >= 0; i--) {
            const pr_field_band *b = &bands->band[i];
            fputs("<tr>", out);
            if (i == 0)
                pr_html_printf(out, "td", NULL, "below %.2f V",
                               bands->n > 1 ? bands->band[1].from_V : 40.0);
            else
                pr_html_printf(out, "td", NULL, "from %.2f V", b->from_V);
            static const char *const verdicts[] = {"pull", "wait", "stop"};
            if (b->reason == PR_FIELD_CHARGE_FIRST)
                pr_html_printf(out, "td", "word", "charge %s first", pr_text_duration(b->wait_s).s);
            else if (b->reason == PR_FIELD_ENGINE_ON)
                pr_html_element(out, "td", "word", "engine is on: see below");
            else if (m == PR_FIELD_RESTING && b->reason == PR_FIELD_AS_PLANNED)
                pr_html_element(out, "td", "word", "charging: rest by the clock");
            else
                pr_html_element(out, "td", "word", verdicts[b->verdict]);
            fputs("</tr>\n", out);
        }
    }
    fputs("</tbody></table></div>\n", out);
}

/* How to rig it, and for what. */
static void write_rope(const pr_page *page, FILE *out)
{
    const pr_plan *plan = pr_page_plan(page);
    if (!isfinite(plan->most_anchor_N))
        return;
    const double most_N = pr_words_anchor_most_N(plan, &page->report->scenario->system);
    pr_html_printf(out, "p", NULL,
                   "Rope: %s. Anchor, strap, shackles: up to %s as planned; the winch can put %s "
                   "on them.",
                   pr_page_rope_text(page).s,
                   pr_words_force_and_plate(plan->most_anchor_N, page->units).s,
                   pr_words_force_and_plate(most_N, page->units).s);
}

void pr_page_write_card(const pr_page *page, const pr_answer *answer, FILE *out)
{
    const pr_scenario *s = page->report->scenario;
    fputs("<section class=\"card\" aria-hidden=\"true\">\n", out);
    pr_html_element(out, "p", "card-title", s->title[0] != '\0' ? s->title : s->path);
    pr_html_element(out, "p", "card-answer", answer->line[0]);
    /* what is quicker by a list has no list here */
    const char *quicker = strstr(answer->line[1], " Quicker:");
    const int keep = quicker != NULL ? (int)(quicker - answer->line[1]) : PR_ANSWER_BYTES;
    pr_html_printf(out, "p", NULL, "%.*s", keep, answer->line[1]);
    pr_html_element(out, "p", NULL, answer->line[2]);
    if (page->table != NULL) {
        write_rope(page, out);
        fputs("<div class=\"card-columns\">\n", out);
        write_pulls(page, out);
        fputs("<div>\n", out);
        write_rests(page, out);
        write_bands(page, out);
        fputs("</div>\n</div>\n", out);
    }
    fputs("<h3>Cautions</h3><ul>\n", out);
    for (int i = 0; i < PR_CAUTIONS; i++)
        pr_html_element(out, "li", NULL, pr_cautions[i].text);
    fputs("</ul>\n</section>\n", out);
}
