/* What a plan or a run shows that breaks no limit and yet deserves a line: a relay beyond its
 * rating, an alternator that never wakes, acid that can freeze ... Each warning is one sentence
 * that ends with what to do; text, JSON and page take it from the diagnosis as it stands. */
#ifndef PR_PLANNER_WARNINGS_H
#define PR_PLANNER_WARNINGS_H

#include "planner/plan.h"

/* Adds the warnings of a plan's pulls and rests to `diag`; nothing for a plan that failed. */
void pr_warnings_of_plan(const pr_scenario *scenario, const pr_plan *plan, pr_diag *diag);
/* Those of its ropes, blocks and anchors (warnings_rig.c). */
void pr_warnings_of_rig(const pr_scenario *scenario, const pr_plan *plan, pr_diag *diag);
/* What a schedule puts on them above their rating, rigged with plan.parts. */
void pr_warnings_of_run_rig(const pr_scenario *scenario, const pr_phase_end *ends, size_t n,
                            pr_diag *diag);
/* Of these the one furthest above its rating; false: none is. */
bool pr_run_overload(const pr_scenario *scenario, const pr_phase_end *ends, size_t n,
                     pr_overload *worst);
/* The same for the phases of a schedule that was run. */
void pr_warnings_of_run(const pr_scenario *scenario, const pr_phase_end *ends, size_t n,
                        pr_diag *diag);

/* Share of the time with the engine on at which the alternator gives more than 90 % of what it
 * could; continuous full output shortens its life. NaN when the engine is never on. */
double pr_plan_full_output_frac(const pr_plan *plan);
double pr_run_full_output_frac(const pr_phase_end *ends, size_t n);

#endif
