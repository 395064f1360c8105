/* Readings of a voltmeter as text and JSON; with a ranking when something was measured. */
#ifndef PR_REPORT_READINGS_REPORT_H
#define PR_REPORT_READINGS_REPORT_H

#include "base/diag.h"
#include "planner/readings.h"
#include "report/style.h"

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

#endif
