/* Pieces of the page; internal to page*.c. */
#ifndef PR_REPORT_PAGE_PARTS_H
#define PR_REPORT_PAGE_PARTS_H

#include "report/page.h"

/* The plan that the page is about. */
const pr_plan *pr_page_plan(const pr_page *page);

/* page_data.c: the tables that the script reads, as JSON into `object`. */
void pr_page_data(const pr_page *page, pr_json *json, json_t *object);
/* As a <script> element, marked with a hash of its content. */
pr_status pr_page_write_data(const pr_page *page, FILE *out);
const char *pr_page_verdict_key(pr_field_verdict verdict); /* "pull", "wait", "stop" */
const char *pr_page_moment_key(pr_field_moment moment);    /* "off", "pulling" ... */
const char *pr_page_moment_words(pr_field_moment moment);
const char *pr_page_reason_words(pr_field_moment moment, pr_field_reason reason);

/* page_live.c: timer and voltmeter box, which the script brings to life. */
void pr_page_write_timer(const pr_page *page, FILE *out);
void pr_page_write_meter(const pr_page *page, FILE *out);

/* page_sections.c: what one reads at home. */
void pr_page_write_cycles(const pr_page *page, FILE *out);
void pr_page_write_others(const pr_page *page, FILE *out);
void pr_page_write_readings(const pr_page *page, FILE *out);
void pr_page_write_remedies(const pr_page *page, FILE *out);
void pr_page_write_limits(const pr_page *page, FILE *out);
void pr_page_write_inputs(const pr_page *page, FILE *out);
void pr_page_write_cautions(FILE *out);

/* page_plot.c: drawings in the width of a phone, in the colours of the page. */
void pr_page_write_plots(const pr_page *page, FILE *out);

/* page_card.c: one sheet of paper. */
void pr_page_write_card(const pr_page *page, const pr_answer *answer, FILE *out);

/* Why a pull that was cut short may ask for a longer rest than one as planned. */
#define PR_PAGE_SHORT_PULL_WORDS                                                                   \
    "A pull cut short can ask for more rest: the later pulls then fall on other ground, and "      \
    "where it is hardest the plan has nothing to spare."
/* Does an entry of the tables do so? */
bool pr_page_short_pull_asks_more(const pr_page *page);

/* "double line with 1 block + 12.6 m of strap" */
pr_text pr_page_rope_text(const pr_page *page);
/* "3 min 15 s", or "15 s to 5 min 20 s" when the rests differ; re-rigs left out. */
pr_text pr_page_rest_text(const pr_plan *plan);

#endif
