/* What limits, stops and plans are called when a driver reads of them. */
#ifndef PR_REPORT_WORDS_H
#define PR_REPORT_WORDS_H

#include "planner/remedies.h"
#include "report/units.h"

/* "battery reserve"; for NONE "rope handling", because that is what a rest is for then. */
const char *pr_words_limit(pr_limit limit);
/* Key of JSON: "reserve", "voltage" ... */
const char *pr_words_limit_key(pr_limit limit);
/* What makes a rest as long as it is: the limit, or what would have stopped the next pull. */
const char *pr_words_binding(pr_limit limit, pr_stop stop);
/* What happened: "the winch stalled". */
const char *pr_words_stop(pr_stop stop);
const char *pr_words_stop_key(pr_stop stop);
/* What ended a phase, with the name of the limit or fuse, and whether the engine died of it. */
pr_text pr_words_end(const pr_phase_end *end, const pr_system_def *system);
/* What is too weak, or too short, where a plan ends. */
pr_text pr_words_overload(const pr_overload *o, double rope_factor, pr_units units);
/* Key of JSON: "winch", "rope" ... */
const char *pr_words_overloaded_key(pr_overloaded what);
/* As plates of blocks and straps tell it: "2,480 kg", "5,470 lbf". */
pr_text pr_words_plate_force(double value_N, pr_units units);
/* "34.0 kN (3,470 kg)", "7,640 lbf". */
pr_text pr_words_force_and_plate(double value_N, pr_units units);
/* "even rest", "rests as needed", "shortest time"; key "even", "as_needed", "shortest". */
const char *pr_words_plan(pr_plan_kind kind);
const char *pr_words_plan_key(pr_plan_kind kind);
const char *pr_words_case_key(pr_case which); /* "low", "likely", "high" */

/* "single line", "double line with 1 block", "3-part line with 2 blocks"; or without the blocks. */
pr_text pr_words_parts(int parts, bool with_blocks);
/* Said instead of a pull that was computed. */
extern const char *const pr_words_pull_given;

/* What made the rest after the i-th pull as long as it is, "" when another pull did; or what ended
 * the pull, where it was cut short or was the last. */
const char *pr_words_cycle_reason(const pr_plan *plan, size_t i, bool *cut_short);

/* One behind the last of the pulls from `first` on that have the same rest for the same reason, as
 * far as a reader can tell; the last pull and one before a re-rig stand alone. */
size_t pr_words_span_end(const pr_plan *plan, size_t first);
/* The same pulls and rests with as many parts, as far as a reader can tell. */
bool pr_words_same_pulls(const pr_plan *a, const pr_plan *b);

/* Voltage that the starter would get, without its unit; "none" where no current could be had. */
pr_text pr_words_crank_V(double value_V);

/* "off by 2.4 % in time, root mean square of 12 points": a component and its maker's table. */
pr_text pr_words_fit(const pr_table_fit *fit);

/* The cable that came nearest to what its insulation bears, and how hot; false: not known. */
bool pr_words_hottest_cable(const pr_plan *plan, const pr_system_def *system, pr_text *name,
                            double *degC);

/* One limit of a plan, how near it comes: "charge to 62 %, keep 60 %". Empty when not known. */
pr_text pr_words_nearness(const pr_plan *plan, const pr_plan_set *set, const pr_system_def *system,
                          pr_limit limit, pr_units units);
/* What is left of the limit's usual span: 1 far away, 0 reached; NaN when off or not known. */
double pr_words_margin_frac(const pr_plan *plan, const pr_plan_set *set,
                            const pr_system_def *system, pr_limit limit);

/* Force on the anchor when the winch pulls all that its sheet gives on the first layer, with the
 * plan's parts of line. More than the plan asks for: an anchor should hold it, because a line that
 * jams meets it. */
double pr_words_anchor_most_N(const pr_plan *plan, const pr_system_def *system);

#endif
