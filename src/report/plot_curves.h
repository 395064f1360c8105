/* Pictures of one component's behaviour, or of one choice of the plan (plots/<script>.gp). */
#ifndef PR_REPORT_PLOT_CURVES_H
#define PR_REPORT_PLOT_CURVES_H

#include "planner/curves.h"
#include "report/plot.h"
#include "report/units.h"

typedef struct pr_curves_plot {
    const pr_curves *curves;
    pr_units units;
} pr_curves_plot;

/* `what` is a pr_curves_plot; see pr_draw_fn of the command line. Scripts get the tables in SI and
 * the units to show as variables: force_k, force_name; speed_k, speed_name; length_k, length_name;
 * degree_k, degree_0, degree_name (shown = k x SI + 0). */
pr_status pr_curves_plot_draw(const void *what, pr_plot_format format, FILE *out, char *message,
                              size_t message_size);

#endif
