/* A plan as text, for a driver: the answer in three lines, the pulls, the plans side by side, what
 * the meter hides, what was assumed, cautions. */
#ifndef PR_REPORT_PLAN_TEXT_H
#define PR_REPORT_PLAN_TEXT_H

#include "report/answer.h"
#include "report/style.h"

/* With style->brief the three lines only. */
pr_status pr_plan_write_text(const pr_plan_report *report, const pr_style *style, FILE *out);

/* Parts that other reports show too. */
void pr_write_assumptions_text(const pr_scenario *scenario, const pr_style *style, FILE *out,
                               pr_status *status);
void pr_write_cautions_text(const pr_style *style, FILE *out);

#endif
