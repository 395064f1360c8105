/* check FILE...: every mistake of every file in one run. */
#include "cli/cli.h"

#include "reader/reader.h"
#include "report/plan_json.h"
#include "report/words.h"

#include <stdlib.h>
#include <string.h>

static int run(const pr_cli *cli);

const pr_command pr_command_check = {
    .name = "check",
    .arguments = "FILE...",
    .least = 1,
    .most = -1,
    .question = "Are these files right? Lists every mistake at once.",
    .text = "Reads each file and all that it refers to, as plan would, and runs nothing. Mistakes "
            "are listed as file:line:column with the key, the value and what is allowed. Of a "
            "maker's table that a battery or winch is fitted to it says how far the fit is off.",
    .run = run,
};

typedef struct checked_file {
    const char *path;
    pr_status status;
    size_t assumptions;
    bool no_recovery;
    int n_fits;
    pr_table_fit fit[PR_POSTS + 1];
    pr_diag diag;
} checked_file;

typedef struct checked {
    int n;
    checked_file *files;
} checked;

static void check_file(checked_file *file)
{
    static const size_t scenario_size = sizeof(pr_scenario);
    file->diag = pr_diag_init();
    pr_scenario *scenario = malloc(scenario_size); /* too large for the stack */
    if (scenario == NULL) {
        file->status = PR_ERR_NOMEM;
        return;
    }
    *scenario = pr_scenario_default();
    file->status = pr_scenario_read(file->path, NULL, scenario, &file->diag);
    file->assumptions = scenario->n_assumptions;
    file->no_recovery = file->status == PR_OK && scenario->no_recovery;
    file->n_fits = file->status == PR_OK ? scenario->n_fits : 0;
    memcpy(file->fit, scenario->fit, sizeof file->fit);
    pr_scenario_free(scenario);
    free(scenario);
}

static const char *verdict(const checked_file *file)
{
    return file->status != PR_OK ? "has mistakes" : file->diag.warnings > 0 ? "warnings" : "ok";
}

static pr_status write_text(const void *what, const pr_cli *cli, FILE *out)
{
    const checked *all = what;
    for (int i = 0; i < all->n; i++) {
        const checked_file *file = &all->files[i];
        char path[PR_TEXT_MAX];
        if (cli->quiet && file->status == PR_OK)
            continue;
        pr_text_printable(path, sizeof path, file->path);
        fprintf(out, "%s: %s", path, verdict(file));
        if (file->diag.errors > 0)
            fprintf(out, " (%zu)", file->diag.errors);
        else if (file->status != PR_OK)
            fprintf(out, " (%s)", pr_status_text(file->status));
        else if (file->assumptions > 0)
            fprintf(out, ", %zu values by default", file->assumptions);
        fputs(file->no_recovery ? "; no recovery: for budget and readings only\n" : "\n", out);
        for (int k = 0; k < file->n_fits; k++)
            fprintf(out, "  %s: %s\n", file->fit[k].key, pr_words_fit(&file->fit[k]).s);
    }
    return PR_OK;
}

static pr_status write_json(const void *what, const pr_cli *cli, FILE *out)
{
    (void)cli;
    const checked *all = what;
    pr_json json = pr_json_begin("check");
    json_t *list = pr_json_array(&json, json.root, "files");
    for (int i = 0; i < all->n; i++) {
        const checked_file *file = &all->files[i];
        json_t *item = pr_json_object(&json, list, NULL);
        pr_json_text(&json, item, "file", file->path);
        pr_json_flag(&json, item, "ok", file->status == PR_OK);
        pr_json_count(&json, item, "errors", file->diag.errors);
        pr_json_count(&json, item, "warnings", file->diag.warnings);
        pr_json_count(&json, item, "assumptions", file->assumptions);
        json_t *fits = pr_json_array(&json, item, "fits");
        for (int k = 0; k < file->n_fits; k++)
            pr_json_fit(&json, pr_json_object(&json, fits, NULL), &file->fit[k]);
        pr_json_messages(&json, item, "messages", &file->diag);
    }
    return pr_json_end(&json, out);
}

static int exit_of(const checked_file *file)
{
    if (file->status == PR_OK)
        return PR_EXIT_DONE;
    const bool ours = file->status == PR_ERR_NOMEM || file->status == PR_ERR_INTERNAL;
    return ours ? PR_EXIT_FAILED : PR_EXIT_USAGE;
}

/* Why a file could not be checked. */
static const char *failure_of(const checked *all)
{
    for (int i = 0; i < all->n; i++)
        if (exit_of(&all->files[i]) == PR_EXIT_FAILED)
            return pr_status_text(all->files[i].status);
    return pr_status_text(PR_ERR_INTERNAL);
}

static int run(const pr_cli *cli)
{
    checked all = {.n = cli->n_arguments};
    all.files = calloc((size_t)all.n, sizeof *all.files);
    if (all.files == NULL)
        return pr_cli_failed(cli, PR_ERR_NOMEM, NULL);
    int worst = PR_EXIT_DONE;
    for (int i = 0; i < all.n; i++) {
        all.files[i].path = cli->arguments[i];
        check_file(&all.files[i]);
        pr_cli_print_diag(cli, &all.files[i].diag);
        const int status = exit_of(&all.files[i]);
        worst = status > worst ? status : worst;
    }
    int written = PR_EXIT_DONE;
    if (worst == PR_EXIT_FAILED) /* what is known is not all there is: no report */
        pr_cli_complain(cli, "%s", failure_of(&all));
    else
        written = pr_cli_write(cli, cli->json ? write_json : write_text, &all);
    for (int i = 0; i < all.n; i++)
        pr_diag_free(&all.files[i].diag);
    free(all.files);
    return written > worst ? written : worst;
}
