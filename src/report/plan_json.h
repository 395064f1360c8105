/* A plan as JSON. Keys are listed in docs/manual.md; SI units. */
#ifndef PR_REPORT_PLAN_JSON_H
#define PR_REPORT_PLAN_JSON_H

#include "report/answer.h"
#include "report/json.h"
#include "report/units.h"

/* units: of the sentences under answer.text only. diag: warnings of the reader, may be NULL. */
pr_status pr_plan_write_json(const pr_plan_report *report, pr_units units, const pr_diag *diag,
                             FILE *out);

/* Parts that other reports share. */
void pr_json_scenario(pr_json *json, const pr_scenario *scenario);
/* How far a component is from the table that it was fitted to. */
void pr_json_fit(pr_json *json, json_t *object, const pr_table_fit *fit);
/* What every report ends with: defaults in use, all fits under "fits", cautions, and the warnings
 * of the reader (diag may be NULL). Then as pr_json_end. */
pr_status pr_json_end_report(pr_json *json, const pr_scenario *scenario, const pr_diag *diag,
                             FILE *out);
void pr_json_limits(pr_json *json, json_t *object, const pr_limits *limits);
/* One phase that was run: why it ended, how far, its extremes. */
void pr_json_phase_end(pr_json *json, json_t *object, const pr_phase_end *end);
void pr_json_plan(pr_json *json, json_t *object, const pr_plan *plan, const pr_system_def *system);

#endif
