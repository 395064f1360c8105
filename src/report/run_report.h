/* What a given schedule did, phase by phase, as text and as JSON. */
#ifndef PR_REPORT_RUN_REPORT_H
#define PR_REPORT_RUN_REPORT_H

#include "base/diag.h"
#include "planner/plan.h"
#include "report/style.h"

typedef struct pr_run_result {
    const pr_scenario *scenario;
    const pr_limits *limits; /* that a plan would keep; the run itself does not stop at them */
    const pr_phase_end *ends;
    size_t n_ends;
} pr_run_result;

/* First phase that breaks a limit or is stopped by the machinery; n_ends when all is well. */
size_t pr_run_first_trouble(const pr_run_result *run);
/* No limit is broken, no phase stopped, and anchor, block and rope bear it. */
bool pr_run_holds(const pr_run_result *run);
/* Limit that this phase breaks first in the order of pr_limit; NONE. */
pr_limit pr_run_broken_limit(const pr_run_result *run, size_t phase);
/* What the k-th phase run does: the schedule with its repeated groups unrolled. */
pr_activity pr_run_activity(const pr_scenario *scenario, size_t k);

pr_status pr_run_write_text(const pr_run_result *run, const pr_style *style, FILE *out);
pr_status pr_run_write_json(const pr_run_result *run, const pr_diag *diag, FILE *out);

#endif
