/* What the script brings to life: the timer and the voltmeter box. Without a script the plan is
 * still there, in the answer and in the tables below. */
#include "report/page_html.h"
#include "report/page_parts.h"

static void write_button(FILE *out, const char *id, const char *css_class, const char *text)
{
    fprintf(out, "<button type=\"button\" id=\"%s\" class=\"%s\" hidden>", id, css_class);
    pr_html_text(out, text);
    fputs("</button>\n", out);
}

void pr_page_write_timer(const pr_page *page, FILE *out)
{
    const pr_plan *plan = pr_page_plan(page);
    fputs("<section id=\"timer\" class=\"timer\" data-phase=\"ready\" "
          "aria-labelledby=\"timer-head\">\n<h2 id=\"timer-head\">Timer</h2>\n"
          "<noscript><p>The timer needs scripts, which this browser does not run. Use a watch and "
          "the table below.</p></noscript>\n",
          out);
    fputs("<p id=\"phase\" class=\"phase\">", out);
    fprintf(out, "%zu pull%s to do", plan->n_cycles, plan->n_cycles == 1 ? "" : "s");
    fputs("</p>\n<p id=\"clock\" class=\"clock\" role=\"timer\" aria-live=\"off\">0:00</p>\n"
          "<p id=\"next\" class=\"next\"></p>\n<p id=\"alert\" class=\"alert\" hidden></p>\n"
          "<div id=\"correct\" class=\"row\" role=\"group\" aria-label=\"Correct the length of the "
          "pull\" hidden>"
          "<p class=\"label\">It really took</p>\n"
          "<button type=\"button\" id=\"less\" class=\"side narrow\">\xE2\x88\x92"
          "5 s</button>\n"
          "<button type=\"button\" id=\"more\" class=\"side narrow\">+5 s</button>\n</div>\n<div "
          "class=\"row\">\n",
          out);
    write_button(out, "rope", "side", "Rope is in: set it out");
    write_button(out, "pause", "side", "Pause");
    write_button(out, "out", "side", "We are out");
    write_button(out, "undo", "side", "Take that back");
    write_button(out, "anyway", "side risky", "Pull before the rest is over");
    fputs("</div>\n<progress id=\"progress\" aria-label=\"Pulls done\" value=\"0\" max=\"1\">"
          "</progress>\n<p id=\"tally\" class=\"tally\"></p>\n"
          "<div class=\"row\">\n"
          "<label class=\"check\"><input type=\"checkbox\" id=\"sound\" checked> Beep and vibrate"
          "</label>\n",
          out);
    write_button(out, "reset", "side", "Start the plan over");
    fputs("</div>\n<p id=\"notes\" class=\"fine\"></p>\n"
          "<p id=\"said\" class=\"unseen\" role=\"status\" aria-live=\"polite\"></p>\n</section>\n"
          "<div id=\"bar\" class=\"bar\" role=\"group\" aria-label=\"Timer\" hidden>\n"
          "<button type=\"button\" id=\"main\" class=\"main\">Start pull 1</button>\n</div>\n",
          out);
}

void pr_page_write_meter(const pr_page *page, FILE *out)
{
    fputs("<section id=\"meter\" class=\"meter\" aria-labelledby=\"meter-head\">\n"
          "<h2 id=\"meter-head\">What does the voltmeter say?</h2>\n<div class=\"fields\">\n"
          "<label for=\"moment\">When and where</label>\n<select id=\"moment\">\n",
          out);
    for (int m = 0; m < PR_FIELD_MOMENTS; m++) {
        if (page->table->meter[m].n == 0)
            continue;
        fprintf(out, "<option value=\"%s\">", pr_page_moment_key((pr_field_moment)m));
        pr_html_text(out, pr_page_moment_words((pr_field_moment)m));
        fputs("</option>\n", out);
    }
    fputs("</select>\n<label for=\"volts\">Volts</label>\n"
          "<input id=\"volts\" type=\"text\" inputmode=\"decimal\" autocomplete=\"off\" "
          "maxlength=\"8\" placeholder=\"12.6\">\n</div>\n"
          "<div id=\"verdict\" class=\"verdict\" role=\"status\" aria-live=\"polite\">"
          "<p class=\"word\" id=\"word\">Type a number</p><p id=\"why\">It says pull, wait or stop."
          "</p></div>\n</section>\n",
          out);
}
