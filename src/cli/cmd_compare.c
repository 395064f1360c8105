/* compare FILE...: the same recovery with several rigs or variants. */
#include "cli/cli.h"
#include "cli/plot_output.h"

#include "reader/reader.h"
#include "report/compare_report.h"

#include <stdlib.h>
#include <string.h>

static int run(const pr_cli *cli);

const pr_command pr_command_compare = {
    .name = "compare",
    .arguments = "FILE...",
    .least = 1,
    .most = PR_COMPARE_MAX,
    .question = "Is a second battery, or any other change, needed for this recovery?",
    .text =
        "Plans every FILE, and every entry of its 'variants:', and holds them against the first. "
        "The first lines say whether the first does the job, and for each other whether it is "
        "needed and what it buys. The answer is no (exit status 1) when none does the job.",
    .takes = PR_TAKES_PLOT,
    .run = run,
};

typedef struct compared {
    size_t n;
    pr_scenario *scenario[PR_COMPARE_MAX];
    char name[PR_COMPARE_MAX][PR_NAME_MAX];
    pr_comparison comparison;
    pr_diag diag;
} compared;

static pr_compare_report report_of(const compared *c)
{
    return (pr_compare_report){&c->comparison, (const pr_scenario *const *)c->scenario};
}

static pr_status write_text(const void *what, const pr_cli *cli, FILE *out)
{
    const pr_compare_report report = report_of(what);
    return pr_compare_write_text(&report, &cli->style, out);
}

static pr_status write_json(const void *what, const pr_cli *cli, FILE *out)
{
    const compared *c = what;
    const pr_compare_report report = report_of(c);
    return pr_compare_write_json(&report, cli->style.units, &c->diag, out);
}

static pr_status draw(const void *what, pr_plot_format format, FILE *out, char *message,
                      size_t message_size)
{
    const pr_compare_report report = report_of(what);
    return pr_compare_plot_draw(&report, format, out, message, message_size);
}

/* "rigs/two-batteries.yaml" is "two-batteries". */
static void name_by_file(const char *path, char name[PR_NAME_MAX])
{
    const char *slash = strrchr(path, '/'), *file = slash != NULL ? slash + 1 : path;
    const char *dot = strrchr(file, '.');
    const size_t length = dot != NULL && dot != file ? (size_t)(dot - file) : strlen(file);
    snprintf(name, PR_NAME_MAX, "%.*s", (int)(length < PR_NAME_MAX ? length : PR_NAME_MAX - 1),
             file);
}

/* Place for one scenario more; NULL: said. */
static pr_scenario *add(const pr_cli *cli, compared *c, int *exit_status)
{
    if (c->n == PR_COMPARE_MAX) {
        pr_cli_complain(cli, "more than %d files and variants", PR_COMPARE_MAX);
        *exit_status = PR_EXIT_USAGE;
        return NULL;
    }
    pr_scenario *scenario = malloc(sizeof *scenario);
    if (scenario == NULL) {
        *exit_status = pr_cli_failed(cli, PR_ERR_NOMEM, NULL);
        return NULL;
    }
    *scenario = pr_scenario_default();
    c->scenario[c->n++] = scenario;
    return scenario;
}

static int read_file(const pr_cli *cli, const char *path, compared *c)
{
    int exit_status = PR_EXIT_DONE;
    size_t variants = 0;
    pr_scenario *scenario = add(cli, c, &exit_status);
    if (scenario == NULL)
        return exit_status;
    name_by_file(path, c->name[c->n - 1]);
    exit_status = pr_cli_read_scenario(cli, path, scenario, &c->diag);
    if (exit_status != PR_EXIT_DONE)
        return exit_status;
    pr_diag known = pr_diag_init(); /* the base was read with its variants: all is said already */
    pr_status status = pr_scenario_variant_count(path, NULL, &variants, &known);
    for (size_t i = 0; i < variants && status == PR_OK && exit_status == PR_EXIT_DONE; i++) {
        scenario = add(cli, c, &exit_status);
        if (scenario != NULL)
            status = pr_scenario_read_variant(path, i, NULL, scenario, c->name[c->n - 1], &known);
    }
    if (status != PR_OK && exit_status == PR_EXIT_DONE) {
        pr_cli_print_diag(cli, &known);
        exit_status = pr_cli_failed(cli, status, &known);
    }
    pr_diag_free(&known);
    return exit_status;
}

static int compare_and_write(const pr_cli *cli, compared *c)
{
    if (c->n < 2) {
        pr_cli_complain(cli,
                        "%s: nothing to compare with: name a second file, or add 'variants:' "
                        "to this one",
                        cli->arguments[0]);
        return PR_EXIT_USAGE;
    }
    const char *names[PR_COMPARE_MAX];
    for (size_t k = 0; k < c->n; k++)
        names[k] = c->name[k];
    pr_progress progress = pr_progress_start(cli, "comparing");
    const pr_status status =
        pr_compare_make((const pr_scenario *const *)c->scenario, names, c->n, &c->comparison,
                        &c->diag, pr_progress_update, &progress);
    pr_progress_end(&progress);
    pr_cli_print_diag(cli, &c->diag);
    if (status != PR_OK)
        return pr_cli_failed(cli, status, &c->diag);
    int exit_status = pr_plot_output(cli, draw, c);
    const int written = pr_cli_write(cli, cli->json ? write_json : write_text, c);
    exit_status = written > exit_status ? written : exit_status;
    bool any = false;
    for (size_t k = 0; k < c->n; k++)
        any = any || pr_compared_plan(&c->comparison, k)->go;
    return exit_status == PR_EXIT_DONE && !any ? PR_EXIT_NO : exit_status;
}

static int run(const pr_cli *cli)
{
    if (!pr_plot_wanted(cli))
        return PR_EXIT_USAGE;
    compared *c = calloc(1, sizeof *c);
    if (c == NULL)
        return pr_cli_failed(cli, PR_ERR_NOMEM, NULL);
    c->diag = pr_diag_init();
    int status = PR_EXIT_DONE;
    for (int i = 0; i < cli->n_arguments; i++) { /* mistakes of all files at once */
        const int read = read_file(cli, cli->arguments[i], c);
        status = read > status ? read : status;
        if (read != PR_EXIT_DONE) {
            pr_diag_free(&c->diag);
            c->diag = pr_diag_init();
        }
    }
    if (status == PR_EXIT_DONE)
        status = compare_and_write(cli, c);
    pr_comparison_free(&c->comparison);
    for (size_t k = 0; k < c->n; k++) {
        pr_scenario_free(c->scenario[k]);
        free(c->scenario[k]);
    }
    pr_diag_free(&c->diag);
    free(c);
    return status;
}
