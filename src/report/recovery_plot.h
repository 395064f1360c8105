/* The plot of a recovery over time (plots/recovery.gp) from a trace. */
#ifndef PR_REPORT_RECOVERY_PLOT_H
#define PR_REPORT_RECOVERY_PLOT_H

#include "engine/trace.h"
#include "planner/scenario.h"
#include "report/plot.h"
#include "report/units.h"
#include <stdbool.h>

typedef struct pr_recovery_plot {
    const char *title, *answer; /* two lines above the panels */
    const pr_trace *trace;
    const pr_limits *limits;
    pr_post starter_post; /* whose charge is drawn */
    pr_post winch_post;   /* whose charge is drawn close up */
    bool has_motor,
        has_way; /* is there a winch motor, a way to go? else their panels are left out */
    pr_units units;
} pr_recovery_plot;

/* Plot of a scenario's run; answer may be NULL. */
pr_recovery_plot pr_recovery_plot_of(const pr_scenario *scenario, const pr_limits *limits,
                                     const pr_trace *trace, const char *answer, pr_units units);

pr_status pr_recovery_plot_draw(const pr_recovery_plot *plot, pr_plot_format format, FILE *out,
                                char *message, size_t message_size);

#endif
