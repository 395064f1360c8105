/* Rigs compared on one recovery: the verdict in sentences, a table, JSON, a plot. */
#ifndef PR_REPORT_COMPARE_REPORT_H
#define PR_REPORT_COMPARE_REPORT_H

#include "base/diag.h"
#include "planner/compare.h"
#include "report/plot.h"
#include "report/style.h"

typedef struct pr_compare_report {
    const pr_comparison *comparison;
    const pr_scenario *const *scenarios; /* as many as there are cases */
} pr_compare_report;

pr_status pr_compare_write_text(const pr_compare_report *report, const pr_style *style, FILE *out);
pr_status pr_compare_write_json(const pr_compare_report *report, pr_units units,
                                const pr_diag *diag, FILE *out);
pr_status pr_compare_plot_draw(const pr_compare_report *report, pr_plot_format format, FILE *out,
                               char *message, size_t message_size);

#endif
