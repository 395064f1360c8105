/* The page as a whole: see page.h. */
#include "report/page.h"

#include "report/page_assets.h"
#include "report/page_html.h"
#include "report/page_parts.h"
#include "report/words.h"

#include <math.h>
#include <string.h>

const pr_plan *pr_page_plan(const pr_page *page)
{
    const pr_plan_set *set = page->report->set;
    return &set->plan[pr_answer_kind(set)];
}

pr_text pr_page_rest_text(const pr_plan *plan)
{
    double least_s = HUGE_VAL, most_s = 0.0;
    for (size_t i = 0; i + 1 < plan->n_cycles; i++)
        if (!plan->cycles[i].rerig) {
            least_s = fmin(least_s, plan->cycles[i].rest_s);
            most_s = fmax(most_s, plan->cycles[i].rest_s);
        }
    if (!(most_s - least_s >= 1.0))
        return pr_text_duration(plan->rest_s);
    pr_text text;
    snprintf(text.s, sizeof text.s, "%.40s to %.40s", pr_text_duration(least_s).s,
             pr_text_duration(most_s).s);
    return text;
}

pr_text pr_page_rope_text(const pr_page *page)
{
    const pr_plan *plan = pr_page_plan(page);
    pr_text rope = pr_words_parts(plan->parts, true);
    if (plan->reach.strap_m > 0.0) {
        const pr_text strap = pr_units_text(page->units, PR_QUANTITY_DISTANCE, plan->reach.strap_m);
        snprintf(rope.s, sizeof rope.s, "%.40s + %.20s of strap",
                 pr_words_parts(plan->parts, true).s, strap.s);
    }
    return rope;
}

/* Everything that a browser could load or send is forbidden; our own style and script are allowed
 * by their hashes. */
static void write_head(const pr_page *page, FILE *out)
{
    const pr_scenario *scenario = page->report->scenario;
    fprintf(out,
            "<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n"
            "<meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; "
            "style-src '%s'; script-src '%s'; base-uri 'none'; form-action 'none'\">\n",
            pr_page_style_hash, pr_page_script_hash);
    fputs("<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n"
          "<meta name=\"color-scheme\" content=\"light dark\">\n"
          "<meta name=\"referrer\" content=\"no-referrer\">\n"
          "<meta name=\"format-detection\" content=\"telephone=no\">\n"
          "<meta name=\"generator\" content=\"pullrest " PR_VERSION "\">\n<title>",
          out);
    pr_html_text(out, scenario->title[0] != '\0' ? scenario->title : "Winch plan");
    fprintf(out, "</title>\n<style>%s</style>\n</head>\n", pr_page_style);
}

static void write_top(const pr_page *page, FILE *out)
{
    const pr_scenario *scenario = page->report->scenario;
    fputs("<header class=\"top\">\n<p class=\"title\">", out);
    pr_html_text(out, scenario->title[0] != '\0' ? scenario->title : scenario->path);
    fputs("</p>\n<button type=\"button\" id=\"theme\" class=\"small\" hidden>Light or dark</button>"
          "\n</header>\n",
          out);
}

static void write_figure(FILE *out, const char *name, const char *value)
{
    fputs("<div>", out);
    pr_html_element(out, "dt", NULL, name);
    pr_html_element(out, "dd", NULL, value);
    fputs("</div>\n", out);
}

static pr_text speeds(const pr_plan *plan)
{
    pr_text text;
    const pr_text pull = pr_text_number(plan->pull_rpm, 0);
    const pr_text rest = pr_text_number(plan->rest_rpm, 0);
    if (fabs(plan->pull_rpm - plan->rest_rpm) < 0.5)
        snprintf(text.s, sizeof text.s, "%.30s rpm, rests too", pull.s);
    else
        snprintf(text.s, sizeof text.s, "%.30s rpm, rests %.30s", pull.s, rest.s);
    return text;
}

/* The numbers to remember. */
static void write_figures(const pr_page *page, FILE *out)
{
    const pr_plan *plan = pr_page_plan(page);
    pr_text total = pr_text_duration_rough(plan->total_s);
    fputs("<dl class=\"figures\">\n", out);
    if (plan->first_rest_s > 0.0)
        write_figure(out, "Charge first", pr_text_duration(plan->first_rest_s).s);
    write_figure(out, "Pull", pr_text_duration(plan->pull_s).s);
    if (plan->n_cycles > 1)
        write_figure(out, "Then rest", pr_page_rest_text(plan).s);
    write_figure(out, "Pulls", pr_text_number((double)plan->n_cycles, 0).s);
    fputs("</dl>\n<dl class=\"figures minor\">\n", out);
    write_figure(out, "Engine", speeds(plan).s);
    write_figure(out, "Rope", pr_page_rope_text(page).s);
    if (isfinite(plan->distance_m)) {
        pr_text both;
        snprintf(both.s, sizeof both.s, "%.40s for %.40s", total.s,
                 pr_units_text(page->units, PR_QUANTITY_DISTANCE, plan->distance_m).s);
        total = both;
    }
    write_figure(out, "In all", total.s);
    fputs("</dl>\n", out);
}

static void write_warnings(const pr_diag *diag, FILE *out)
{
    for (size_t i = 0; diag != NULL && i < diag->count; i++)
        if (diag->entries[i].severity == PR_WARNING)
            pr_html_printf(out, "p", "warning", "Warning: %s", diag->entries[i].text);
}

static void write_answer(const pr_page *page, const pr_answer *answer, FILE *out)
{
    fprintf(out, "<section class=\"answer %s\" aria-label=\"Answer\">\n", answer->go ? "go" : "no");
    pr_html_printf(out, "h1", NULL, "%s", answer->go ? "GO" : "NO-GO");
    if (answer->go)
        write_figures(page, out);
    for (int i = answer->go ? 1 : 0; i < PR_ANSWER_LINES; i++)
        if (answer->line[i][0] != '\0')
            pr_html_element(out, "p", NULL, answer->line[i]);
    write_warnings(page->diag, out);
    pr_html_element(out, "p", "fine",
                    "An estimate, not a rating. Makers' manuals, local codes and licensed practice "
                    "come first.");
    fputs("</section>\n", out);
}

pr_status pr_page_write(const pr_page *page, FILE *out)
{
    pr_answer answer;
    pr_answer_make(page->report, page->units, &answer);
    const bool live = page->table != NULL;
    write_head(page, out);
    fputs("<body>\n", out);
    write_top(page, out);
    fputs("<main>\n", out);
    write_answer(page, &answer, out);
    if (live) {
        pr_page_write_timer(page, out);
        pr_page_write_meter(page, out);
    } else {
        pr_page_write_remedies(page, out);
    }
    pr_page_write_cautions(out);
    pr_page_write_cycles(page, out);
    if (live)
        pr_page_write_others(page, out);
    pr_page_write_readings(page, out);
    pr_page_write_plots(page, out);
    if (live)
        pr_page_write_remedies(page, out);
    pr_page_write_limits(page, out);
    pr_page_write_inputs(page, out);
    fputs("</main>\n", out);
    pr_page_write_card(page, &answer, out);
    pr_status status = live ? pr_page_write_data(page, out) : PR_OK;
    fprintf(out, "<script>%s</script>\n</body>\n</html>\n", pr_page_script);
    if (status == PR_OK && ferror(out))
        status = PR_ERR_IO;
    return status;
}
