/* The defaults that an answer stands on, as text: those that matter most, or all of them. */
#ifndef PR_REPORT_ASSUMPTIONS_H
#define PR_REPORT_ASSUMPTIONS_H

#include "planner/scenario.h"
#include "report/style.h"

/* rig_alone: of the rig, not of recovery, limits and plan: for a report that pulls nothing. */
pr_status pr_assumptions_write_text(const pr_scenario *scenario, bool rig_alone,
                                    const pr_style *style, FILE *out);

#endif
