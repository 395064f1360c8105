/* Readings of a voltmeter as text, JSON and picture; with a ranking when something was measured. */
#ifndef PR_REPORT_READINGS_REPORT_H
#define PR_REPORT_READINGS_REPORT_H

#include "base/diag.h"
#include "planner/readings.h"
#include "report/plot.h"
#include "report/style.h"

enum { PR_READINGS_ANSWER_BYTES = 700 };

typedef struct pr_readings_report {
    const pr_scenario *scenario;
    const pr_readings *readings;
    const pr_measured *measured; /* NULL: nothing was measured */
    const pr_ranking *ranking;
} pr_readings_report;

/* Is the rig healthy as far as the readings tell? True when nothing was measured. */
bool pr_readings_healthy(const pr_readings_report *report);

pr_status pr_readings_write_text(const pr_readings_report *report, const pr_style *style,
                                 FILE *out);
pr_status pr_readings_write_json(const pr_readings_report *report, const pr_diag *diag, FILE *out);

/* What the ranking says, in a sentence; empty without one. */
void pr_readings_answer(const pr_readings_report *report, char line[PR_READINGS_ANSWER_BYTES]);
/* Bands of the healthy rig and of each fault (plots/readings.gp), and what was measured. */
pr_status pr_readings_plot_draw(const pr_readings_report *report, pr_plot_format format, FILE *out,
                                char *message, size_t message_size);

#endif
