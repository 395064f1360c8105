/* --plot of a report that is drawn in one go. */
#ifndef PR_CLI_PLOT_OUTPUT_H
#define PR_CLI_PLOT_OUTPUT_H

#include "cli/cli.h"
#include "report/plot.h"

typedef pr_status (*pr_draw_fn)(const void *what, pr_plot_format format, FILE *out, char *message,
                                size_t message_size);

/* Does --plot, when given, name a format? false: bad usage, said. */
bool pr_plot_wanted(const pr_cli *cli);
/* Draws to --plot, if it is given. PR_EXIT_DONE or PR_EXIT_FAILED (said). A gnuplot that is missing
 * or fails costs the plot only: that is said and is no failure, because the answer stands. A
 * request to stop meanwhile is one: said, PR_EXIT_FAILED. */
int pr_plot_output(const pr_cli *cli, pr_draw_fn draw, const void *what);

#endif
