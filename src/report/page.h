/* One HTML file for the phone: the answer, a pull and rest timer, what the meter means, the plan,
 * and a card to print. It loads nothing; its script only looks things up in tables that the planner
 * made. */
#ifndef PR_REPORT_PAGE_H
#define PR_REPORT_PAGE_H

#include "engine/trace.h"
#include "planner/fieldtable.h"
#include "planner/readings.h"
#include "report/answer.h"
#include "report/json.h"

typedef struct pr_page {
    const pr_plan_report *report;
    const pr_field_table *table; /* NULL: the plan is a no, there is nothing to time */
    const pr_readings *readings; /* NULL: not computed */
    const pr_trace *trace;       /* NULL: no plots */
    const pr_diag *diag;         /* its warnings stand below the answer; may be NULL */
    pr_units units;
} pr_page;

pr_status pr_page_write(const pr_page *page, FILE *out);
/* The tables of the page, and answers looked up in them by the planner at many points: what the
 * page must answer, too. */
pr_status pr_page_write_json(const pr_page *page, const pr_diag *diag, FILE *out);

#endif
