/* --plot of a report that is drawn in one go: see plot_output.h. */
#include "cli/plot_output.h"

#include "base/stop.h"
#include "report/outfile.h"

bool pr_plot_wanted(const pr_cli *cli)
{
    const char *path = pr_cli_value(cli, "plot");
    if (path == NULL || pr_plot_format_of(path) != PR_PLOT_FORMATS)
        return true;
    pr_cli_complain(cli, "--plot %s: the name must end in .svg, .png or .pdf", path);
    return false;
}

int pr_plot_output(const pr_cli *cli, pr_draw_fn draw, const void *what)
{
    char message[600] = "";
    pr_outfile file;
    const char *path = pr_cli_value(cli, "plot");
    if (path == NULL)
        return PR_EXIT_DONE;
    if (pr_outfile_open(&file, path, message, sizeof message) != PR_OK) {
        pr_cli_complain(cli, "%s", message);
        return PR_EXIT_FAILED;
    }
    pr_stop_catch(); /* else a request to end would leave gnuplot running and its scratch folder */
    const pr_status status =
        draw(what, pr_plot_format_of(path), file.stream, message, sizeof message);
    if (status != PR_OK && !ferror(file.stream)) {
        pr_outfile_abandon(&file);
        pr_cli_complain(cli, "no plot: %s", message);
        return status == PR_ERR_CANCELLED ? PR_EXIT_FAILED : PR_EXIT_DONE;
    }
    if (pr_outfile_commit(&file, message, sizeof message) != PR_OK) {
        pr_cli_complain(cli, "%s", message);
        return PR_EXIT_FAILED;
    }
    return PR_EXIT_DONE;
}
