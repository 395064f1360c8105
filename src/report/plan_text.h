/* A plan as text, for a driver: the answer in three lines, the pulls, the plans side by side, what
 * the meter hides, what was assumed, cautions. */
#ifndef PR_REPORT_PLAN_TEXT_H
#define PR_REPORT_PLAN_TEXT_H

#include "report/answer.h"
#include "report/style.h"

/* With style->brief the three lines only. */
pr_status pr_plan_write_text(const pr_plan_report *report, const pr_style *style, FILE *out);

/* The last part of every report. */
/* without those about the rope: for a report that pulls nothing */
void pr_write_cautions_text(bool with_rope, const pr_style *style, FILE *out);

#endif
