/* One pull and the rest after it, close up (plots/cycle.gp), from a trace: where the winch's amps
 * come from, what the meter shows, and how much of the charge is really back. */
#ifndef PR_REPORT_PLOT_CYCLE_H
#define PR_REPORT_PLOT_CYCLE_H

#include "report/recovery_plot.h"

/* cycle counts from 1; 0: the one in the middle. PR_ERR_INPUT with a sentence when the trace has no
 * such pull. The trace should have rows every quarter of a second. */
pr_status pr_cycle_plot_draw(const pr_recovery_plot *plot, size_t cycle, pr_post winch_post,
                             pr_plot_format format, FILE *out, char *message, size_t message_size);

#endif
