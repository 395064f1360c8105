/* The plot of a recovery over time (plots/recovery.gp) from a trace. */
#ifndef PR_REPORT_RECOVERY_PLOT_H
#define PR_REPORT_RECOVERY_PLOT_H

#include "engine/trace.h"
#include "report/plot.h"
#include "report/units.h"

typedef struct pr_recovery_plot {
    const char *title, *answer; /* two lines above the panels */
    const pr_trace *trace;
    const pr_limits *limits;
    pr_post starter_post; /* whose charge is drawn */
    pr_units units;
} pr_recovery_plot;

pr_status pr_recovery_plot_draw(const pr_recovery_plot *plot, pr_plot_format format, FILE *out,
                                char *message, size_t message_size);

#endif
