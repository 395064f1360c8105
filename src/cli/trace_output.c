/* Time series and plot of a run: see trace_output.h. */
#include "cli/trace_output.h"

#include "cli/plot_kind.h"
#include "cli/plot_output.h"
#include "report/csv.h"
#include "report/plot.h"
#include "report/plot_cycle.h"

bool pr_trace_wanted(const pr_cli *cli, bool *wanted, double *interval_s)
{
    const char *plot = pr_cli_value(cli, "plot");
    pr_plot_kind kind;
    if (!pr_plot_kind_of(cli, &kind))
        return false;
    *interval_s = kind.family == PR_PLOT_CYCLE ? 0.25 : 1.0; /* the meter is back within seconds */
    *wanted = (plot != NULL && pr_plot_kind_traced(&kind)) || pr_cli_value(cli, "csv") != NULL;
    if (plot != NULL && pr_plot_format_of(plot) == PR_PLOT_FORMATS) {
        pr_cli_complain(cli, "--plot %s: the name must end in .svg, .png or .pdf", plot);
        return false;
    }
    return pr_cli_number(cli, "every", 0.1, 600.0, interval_s);
}

double pr_trace_interval_s(const pr_cli *cli, double asked_s, double longest_s)
{
    enum { ROWS_MAX = 400000 }; /* some 80 MB */
    const double least_s = longest_s / ROWS_MAX;
    if (asked_s >= least_s)
        return asked_s;
    if (!cli->quiet && pr_cli_value(cli, "csv") != NULL)
        pr_cli_complain(cli, "so long a run gets a row every %.3g s", least_s);
    return least_s;
}

static pr_status write_csv(const void *what, const pr_cli *cli, FILE *out)
{
    (void)cli;
    return pr_trace_write_csv(what, out);
}

/* What draw() needs beside the format. */
typedef struct drawing {
    pr_plot_kind kind;
    const pr_recovery_plot *plot;
} drawing;

static pr_status draw(const void *what, pr_plot_format format, FILE *out, char *message,
                      size_t message_size)
{
    const drawing *d = what;
    if (d->kind.family == PR_PLOT_CYCLE)
        return pr_cycle_plot_draw(d->plot, d->kind.cycle, d->plot->winch_post, format, out, message,
                                  message_size);
    return pr_recovery_plot_draw(d->plot, format, out, message, message_size);
}

int pr_trace_output(const pr_cli *cli, const pr_trace *trace, const pr_recovery_plot *plot)
{
    const char *csv_path = pr_cli_value(cli, "csv"), *plot_path = pr_cli_value(cli, "plot");
    int worst = PR_EXIT_DONE;
    if (csv_path != NULL)
        worst = pr_cli_write_file(cli, csv_path, write_csv, trace);
    drawing d = {.plot = plot};
    if (plot_path != NULL && pr_plot_kind_of(cli, &d.kind) && pr_plot_kind_traced(&d.kind)) {
        const int status = pr_plot_output(cli, draw, &d);
        worst = status > worst ? status : worst;
    }
    return worst;
}
