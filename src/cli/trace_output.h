/* Time series and plot of a run, as --csv and --plot ask for them. */
#ifndef PR_CLI_TRACE_OUTPUT_H
#define PR_CLI_TRACE_OUTPUT_H

#include "cli/cli.h"
#include "engine/trace.h"
#include "report/recovery_plot.h"

/* Is a trace needed, and does --plot name a format? false: bad usage, said. */
bool pr_trace_wanted(const pr_cli *cli, bool *wanted, double *interval_s);

/* The interval asked for, or a longer one (said) that keeps the rows of so long a run within
 * memory. */
double pr_trace_interval_s(const pr_cli *cli, double asked_s, double longest_s);

/* Writes both; PR_EXIT_DONE or PR_EXIT_FAILED. A gnuplot that is missing or fails costs the plot
 * only: it is said, and does not count as a failure, because the answer stands. */
int pr_trace_output(const pr_cli *cli, const pr_trace *trace, const pr_recovery_plot *plot);

#endif
