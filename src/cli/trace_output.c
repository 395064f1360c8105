/* Time series and plot of a run: see trace_output.h. */
#include "cli/trace_output.h"

#include "cli/plot_kind.h"
#include "report/csv.h"
#include "report/outfile.h"
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

static pr_status draw_kind(const pr_plot_kind *kind, const pr_recovery_plot *plot,
                           pr_plot_format format, FILE *out, char *message, size_t message_size)
{
    if (kind->family == PR_PLOT_CYCLE)
        return pr_cycle_plot_draw(plot, kind->cycle, plot->winch_post, format, out, message,
                                  message_size);
    return pr_recovery_plot_draw(plot, format, out, message, message_size);
}

static int draw(const pr_cli *cli, const char *path, const pr_plot_kind *kind,
                const pr_recovery_plot *plot)
{
    char message[600] = "";
    pr_outfile file;
    if (pr_outfile_open(&file, path, message, sizeof message) != PR_OK) {
        pr_cli_complain(cli, "%s", message);
        return PR_EXIT_FAILED;
    }
    const pr_status status =
        draw_kind(kind, plot, pr_plot_format_of(path), file.stream, message, sizeof message);
    if (status != PR_OK && !ferror(file.stream)) {
        pr_outfile_abandon(&file);
        pr_cli_complain(cli, "no plot: %s", message);
        return PR_EXIT_DONE;
    }
    if (pr_outfile_commit(&file, message, sizeof message) != PR_OK) {
        pr_cli_complain(cli, "%s", message);
        return PR_EXIT_FAILED;
    }
    return PR_EXIT_DONE;
}

int pr_trace_output(const pr_cli *cli, const pr_trace *trace, const pr_recovery_plot *plot)
{
    const char *csv_path = pr_cli_value(cli, "csv"), *plot_path = pr_cli_value(cli, "plot");
    int worst = PR_EXIT_DONE;
    if (csv_path != NULL)
        worst = pr_cli_write_file(cli, csv_path, write_csv, trace);
    pr_plot_kind kind;
    if (plot_path != NULL && pr_plot_kind_of(cli, &kind) && pr_plot_kind_traced(&kind)) {
        const int status = draw(cli, plot_path, &kind, plot);
        worst = status > worst ? status : worst;
    }
    return worst;
}
