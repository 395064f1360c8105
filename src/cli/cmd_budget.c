/* budget FILE: loads against the alternator, cables, fuses, limp-home. */
#include "cli/cli.h"
#include "cli/plot_output.h"

#include "report/budget_report.h"

#include <stdlib.h>

static int run(const pr_cli *cli);

const pr_command pr_command_budget = {
    .name = "budget",
    .arguments = "FILE",
    .least = 1,
    .most = 1,
    .question = "Does the alternator carry all that I switch on? Are cables and fuses right?",
    .text =
        "Holds the loads of FILE against the alternator in each of its 'situations:' (or five "
        "usual ones), cold and hot, at idle, fast idle and the highest speed; sizes alternator, "
        "cables and fuses; and tells how far one gets with a dead alternator. The answer is no "
        "(exit status 1) when a situation takes more, on the average, than the alternator gives.",
    .takes = PR_TAKES_PLOT,
    .run = run,
};

typedef struct budgeted {
    pr_scenario scenario;
    pr_budget budget;
    pr_diag diag;
} budgeted;

static pr_status write_text(const void *what, const pr_cli *cli, FILE *out)
{
    const budgeted *b = what;
    return pr_budget_write_text(&b->scenario, &b->budget, &cli->style, out);
}

static pr_status write_json(const void *what, const pr_cli *cli, FILE *out)
{
    const budgeted *b = what;
    return pr_budget_write_json(&b->scenario, &b->budget, cli->style.units, &b->diag, out);
}

static pr_status draw(const void *what, pr_plot_format format, FILE *out, char *message,
                      size_t message_size)
{
    const budgeted *b = what;
    return pr_budget_plot_draw(&b->scenario, &b->budget, format, out, message, message_size);
}

static int budget_and_write(const pr_cli *cli, budgeted *b)
{
    const pr_status status = pr_budget_make(&b->scenario, &b->budget, &b->diag);
    pr_cli_print_diag(cli, &b->diag);
    if (status != PR_OK)
        return pr_cli_failed(cli, status, &b->diag);
    int exit_status = pr_plot_output(cli, draw, b);
    const int written = pr_cli_write(cli, cli->json ? write_json : write_text, b);
    exit_status = written > exit_status ? written : exit_status;
    return exit_status == PR_EXIT_DONE && !b->budget.alternator.enough ? PR_EXIT_NO : exit_status;
}

static int run(const pr_cli *cli)
{
    if (!pr_plot_wanted(cli))
        return PR_EXIT_USAGE;
    budgeted *b = calloc(1, sizeof *b);
    if (b == NULL)
        return pr_cli_failed(cli, PR_ERR_NOMEM, NULL);
    b->scenario = pr_scenario_default();
    b->diag = pr_diag_init();
    int status = pr_cli_read_scenario(cli, cli->arguments[0], &b->scenario, &b->diag);
    if (status == PR_EXIT_DONE)
        status = budget_and_write(cli, b);
    pr_scenario_free(&b->scenario);
    pr_diag_free(&b->diag);
    free(b);
    return status;
}
