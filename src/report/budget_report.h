/* The budget as text, JSON and a plot. */
#ifndef PR_REPORT_BUDGET_REPORT_H
#define PR_REPORT_BUDGET_REPORT_H

#include "base/diag.h"
#include "planner/budget.h"
#include "report/plot.h"
#include "report/style.h"

pr_status pr_budget_write_text(const pr_scenario *scenario, const pr_budget *budget,
                               const pr_style *style, FILE *out);
pr_status pr_budget_write_json(const pr_scenario *scenario, const pr_budget *budget, pr_units units,
                               const pr_diag *diag, FILE *out);
pr_status pr_budget_plot_draw(const pr_scenario *scenario, const pr_budget *budget,
                              pr_plot_format format, FILE *out, char *message, size_t message_size);

enum { PR_BUDGET_LINES = 3, PR_BUDGET_LINE_BYTES = 400 };
/* The answer: does the alternator carry it; what rating; what else is wrong, and limp-home. */
void pr_budget_answer(const pr_budget *budget, pr_units units,
                      char line[PR_BUDGET_LINES][PR_BUDGET_LINE_BYTES]);

#endif
