/* --plot-kind: which picture --plot draws. */
#ifndef PR_CLI_PLOT_KIND_H
#define PR_CLI_PLOT_KIND_H

#include "cli/cli.h"
#include "planner/curves.h"

typedef enum pr_plot_family {
    PR_PLOT_RECOVERY, /* everything over time: from a trace */
    PR_PLOT_CYCLE,    /* one pull and its rest: from a trace */
    PR_PLOT_RESTS,    /* rest against pull length: by planning again */
    PR_PLOT_CURVES    /* one component by itself */
} pr_plot_family;

typedef struct pr_plot_kind {
    pr_plot_family family;
    pr_curve_kind curve; /* PR_PLOT_CURVES */
    size_t cycle;        /* PR_PLOT_CYCLE: which pull, from 1; 0: the middle one */
} pr_plot_kind;

/* Options for the tables of commands. */
#define PR_OPTION_PLOT_KIND(kinds)                                                                 \
    {                                                                                              \
        "plot-kind", 0, "KIND", "what --plot draws: " kinds, false                                 \
    }
#define PR_OPTION_PLOT_CYCLE                                                                       \
    {                                                                                              \
        "plot-cycle", 0, "N", "which pull --plot-kind cycle draws (the one in the middle)", false  \
    }

/* What was asked for; recovery when nothing was. false: no such kind, or a bad number; said. */
bool pr_plot_kind_of(const pr_cli *cli, pr_plot_kind *kind);
/* Is it drawn from a trace? */
bool pr_plot_kind_traced(const pr_plot_kind *kind);
/* A component of the scenario drawn to --plot. PR_EXIT_DONE, PR_EXIT_USAGE (the scenario has no
 * such component) or PR_EXIT_FAILED; said. */
int pr_plot_kind_curves(const pr_cli *cli, const pr_scenario *scenario, pr_curve_kind curve);
/* The same for rest against pull length around a plan. */
int pr_plot_kind_rests(const pr_cli *cli, const pr_scenario *scenario, const pr_plan *plan);

#endif
