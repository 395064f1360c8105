/* The card: one sheet of paper to laminate, seen only in print. What does not fit on a sheet stays
 * on the screen, so that its rows are bounded whatever the plan. */
#include "report/page_html.h"
#include "report/page_parts.h"

#include "report/cautions.h"
#include "report/words.h"

#include <math.h>
#include <string.h>

enum { PULL_ROWS = 28, REST_ROWS = 8 };

static void write_pulls(const pr_page *page, FILE *out)
{
    const pr_plan *plan = pr_page_plan(page);
    const size_t stride = (plan->n_cycles + PULL_ROWS - 1) / PULL_ROWS;
    fputs("<div><h3>Pulls", out);
    if (stride > 1)
        fprintf(out, ", every %zu", stride);
    fprintf(out,
            "</h3><table><thead><tr><th>No.</th><th>Pull</th><th>Rest</th><th>Way %s</th>"
            "<th>Done</th></tr></thead><tbody>\n",
            pr_units_name(page->units, PR_QUANTITY_DISTANCE));
    for (size_t i = 0; i < plan->n_cycles; i++) {
        const pr_cycle *c = &plan->cycles[i];
        const bool last = i + 1 == plan->n_cycles;
        if ((i + 1) % stride != 0 && !last && !c->rerig)
            continue;
        fputs("<tr>", out);
        pr_html_element(out, "td", NULL, pr_text_number((double)(i + 1), 0).s);
        pr_html_element(out, "td", NULL, pr_text_duration(c->pull_s).s);
        pr_html_printf(out, "td", NULL, "%s%s", last ? "out" : pr_text_duration(c->rest_s).s,
                       c->rerig ? ", rope" : "");
        pr_html_element(out, "td", NULL,
                        pr_units_number(page->units, PR_QUANTITY_DISTANCE, c->travel_m).s);
        fputs("<td></td></tr>\n", out);
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

/* Rest after a pull that was shorter or longer. Paper does not count: the highest level. */
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
            pr_field_rest worst = t->row[k].rest[PR_FIELD_LEVELS - 1][l];
            for (int i = k; i <= k + stride && i < t->n_rows; i++) {
                const pr_field_rest *other = &t->row[i].rest[PR_FIELD_LEVELS - 1][l];
                worst.rest_s = fmax(worst.rest_s, other->rest_s);
                worst.later_frac = fmax(worst.later_frac, other->later_frac);
                if (other->verdict == PR_FIELD_STOP)
                    worst.verdict = PR_FIELD_STOP;
            }
            pr_html_element(out, "td", NULL, entry_text(&worst).s);
        }
        fputs("</tr>\n", out);
    }
    fprintf(out,
            "</tbody></table><p>From: seconds pulled before, in all. Holds also after %d earlier "
            "pulls that took too long; more of them: plan again. +5%%: later rests, too, are "
            "longer by that.</p></div>\n",
            PR_FIELD_LEVELS - 1);
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
                pr_html_printf(out, "td", NULL, "below %.2f",
                               bands->n > 1 ? bands->band[1].from_V : 40.0);
            else
                pr_html_printf(out, "td", NULL, "from %.2f", b->from_V);
            static const char *const verdicts[] = {"pull", "wait", "stop"};
            if (b->reason == PR_FIELD_CHARGE_FIRST)
                pr_html_printf(out, "td", "word", "charge %s first", pr_text_duration(b->wait_s).s);
            else if (m == PR_FIELD_RESTING && b->reason == PR_FIELD_AS_PLANNED)
                pr_html_element(out, "td", "word", "charging: rest by the clock");
            else
                pr_html_element(out, "td", "word", verdicts[b->verdict]);
            fputs("</tr>\n", out);
        }
    }
    fputs("</tbody></table></div>\n", out);
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
        fputs("<div class=\"card-columns\">\n", out);
        write_pulls(page, out);
        fputs("<div>\n", out);
        write_rests(page, out);
        write_bands(page, out);
        fputs("</div>\n</div>\n", out);
    }
    fputs("<h3>Cautions</h3><ul>\n", out);
    for (int i = 0; i < PR_CAUTIONS; i++)
        pr_html_element(out, "li", NULL, pr_cautions[i]);
    fputs("</ul>\n</section>\n", out);
}
