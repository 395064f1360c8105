/* What the commands share: messages, output, reading a scenario, progress. */
#include "cli/cli.h"

#include "base/clock.h"
#include "base/stop.h"
#include "reader/reader.h"
#include "report/outfile.h"

#include <errno.h>
#include <stdarg.h>
#include <string.h>
#include <unistd.h>

void pr_cli_complain(const pr_cli *cli, const char *format, ...)
{
    char text[1024], printable[1024];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    pr_text_printable(printable, sizeof printable, text);
    fprintf(stderr, "pullrest %s: %s\n", cli->command->name, printable);
}

int pr_cli_failed(const pr_cli *cli, pr_status status, const pr_diag *diag)
{
    if (diag != NULL && diag->errors > 0 && status != PR_ERR_NOMEM)
        return PR_EXIT_USAGE; /* said already, entry by entry */
    pr_cli_complain(cli, "%s", pr_status_text(status));
    return PR_EXIT_FAILED;
}

void pr_cli_print_diag(const pr_cli *cli, const pr_diag *diag)
{
    pr_diag_print_from(diag, cli->quiet ? PR_WARNING : PR_NOTE, stderr);
}

static int write_stdout(const pr_cli *cli, pr_writer_fn write, const void *what)
{
    errno = 0;
    const pr_status status = write(what, cli, stdout);
    if (fflush(stdout) != 0 || ferror(stdout)) {
        pr_cli_complain(cli, "standard output: %s", strerror(errno != 0 ? errno : EIO));
        return PR_EXIT_FAILED;
    }
    return status == PR_OK ? PR_EXIT_DONE : pr_cli_failed(cli, status, NULL);
}

int pr_cli_write_file(const pr_cli *cli, const char *path, pr_writer_fn write, const void *what)
{
    char message[512];
    pr_outfile file;
    if (pr_outfile_open(&file, path, message, sizeof message) != PR_OK) {
        pr_cli_complain(cli, "%s", message);
        return PR_EXIT_FAILED;
    }
    const pr_status status = write(what, cli, file.stream);
    if (status != PR_OK && !ferror(file.stream)) {
        pr_outfile_abandon(&file);
        return pr_cli_failed(cli, status, NULL);
    }
    if (pr_outfile_commit(&file, message, sizeof message) != PR_OK) {
        pr_cli_complain(cli, "%s", message);
        return PR_EXIT_FAILED;
    }
    return PR_EXIT_DONE;
}

int pr_cli_write(const pr_cli *cli, pr_writer_fn write, const void *what)
{
    return cli->output == NULL ? write_stdout(cli, write, what)
                               : pr_cli_write_file(cli, cli->output, write, what);
}

int pr_cli_read_scenario(const pr_cli *cli, const char *path, pr_scenario *scenario, pr_diag *diag)
{
    const pr_status status = pr_scenario_read(path, NULL, scenario, diag);
    if (status == PR_OK)
        return PR_EXIT_DONE;
    pr_cli_print_diag(cli, diag);
    if (status == PR_ERR_IO && diag->errors == 0) {
        pr_cli_complain(cli, "%s: cannot be read", path);
        return PR_EXIT_USAGE;
    }
    return pr_cli_failed(cli, status, diag);
}

pr_progress pr_progress_start(const pr_cli *cli, const char *what)
{
    pr_progress progress = {.cli = cli, .what = what, .start_s = pr_clock_now_s()};
    progress.on = !cli->quiet && isatty(STDERR_FILENO);
    pr_stop_catch();
    return progress;
}

int pr_progress_update(void *context, double done_frac)
{
    enum { QUIET_ms = 500, BETWEEN_ms = 200 };
    pr_progress *progress = context;
    const double t_s = pr_clock_now_s();
    if (progress->on && t_s - progress->start_s > 1e-3 * QUIET_ms &&
        t_s - progress->shown_s > 1e-3 * BETWEEN_ms) {
        fprintf(stderr, "\r%s: %3.0f %%", progress->what, 100.0 * done_frac);
        fflush(stderr);
        progress->shown = true;
        progress->shown_s = t_s;
    }
    return pr_stop_requested();
}

void pr_progress_end(pr_progress *progress)
{
    if (progress->shown)
        fputs("\r\033[K", stderr);
    progress->shown = false;
}
