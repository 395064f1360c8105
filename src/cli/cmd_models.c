/* models [NAME]: the catalogue of components. */
#include "cli/cli.h"

#include "reader/reader.h"
#include "report/grid.h"
#include "report/json.h"

#include <string.h>

static int run(const pr_cli *cli);

static const pr_option options[] = {
    {"kind", 'k', "KIND", "list one kind only: batteries, winches ...", false},
    {NULL, 0, NULL, NULL, false}};

const pr_command pr_command_models = {
    .name = "models",
    .arguments = "[NAME]",
    .least = 0,
    .most = 1,
    .question = "Which batteries, alternators, winches ... are known? Lists or shows them.",
    .text =
        "Without NAME lists every component that a file may 'use'; with NAME shows its values as "
        "they stand in the catalogue, with source and kind of evidence. (m) marks a value from "
        "memory.",
    .options = options,
    .run = run,
};

typedef struct shown {
    const pr_model_list *list;
    const char *kind; /* NULL: all */
    const char *name;
    pr_diag *diag;
} shown;

static bool is_wanted(const shown *s, const pr_model_entry *entry)
{
    return (s->kind == NULL || strcmp(entry->kind, s->kind) == 0) &&
           (s->name == NULL || strcmp(entry->name, s->name) == 0);
}

static pr_status write_list(const void *what, const pr_cli *cli, FILE *out)
{
    const shown *s = what;
    pr_grid *grid = pr_grid_new(&cli->style);
    pr_grid_column(grid, "kind", PR_ALIGN_LEFT);
    pr_grid_column(grid, "name", PR_ALIGN_LEFT);
    pr_grid_column(grid, "evidence", PR_ALIGN_LEFT);
    pr_grid_column(grid, "what it is", PR_ALIGN_WRAP);
    for (size_t i = 0; i < s->list->count; i++) {
        const pr_model_entry *entry = &s->list->entries[i];
        if (!is_wanted(s, entry))
            continue;
        pr_grid_row(grid);
        pr_grid_cell(grid, entry->kind);
        pr_grid_cell(grid, entry->name);
        pr_grid_cell(grid, entry->evidence);
        pr_grid_cell(grid, entry->summary);
    }
    return pr_grid_print(grid, out);
}

static pr_status write_json(const void *what, const pr_cli *cli, FILE *out)
{
    (void)cli;
    const shown *s = what;
    pr_json json = pr_json_begin("models");
    json_t *models = pr_json_array(&json, json.root, "models");
    for (size_t i = 0; i < s->list->count; i++) {
        const pr_model_entry *entry = &s->list->entries[i];
        if (!is_wanted(s, entry))
            continue;
        json_t *item = pr_json_object(&json, models, NULL);
        pr_json_text(&json, item, "kind", entry->kind);
        pr_json_text(&json, item, "name", entry->name);
        pr_json_text(&json, item, "summary", entry->summary);
        pr_json_text(&json, item, "source", entry->source);
        pr_json_text(&json, item, "evidence", entry->evidence);
        pr_json_text(&json, item, "file", entry->file);
        pr_json_count(&json, item, "line", entry->line);
    }
    return pr_json_end(&json, out);
}

static pr_status write_entry(const void *what, const pr_cli *cli, FILE *out)
{
    (void)cli;
    const shown *s = what;
    return pr_models_show(NULL, s->name, out, s->diag);
}

/* How many entries are wanted; says which is unknown when none is. */
static size_t count_wanted(const pr_cli *cli, const shown *s)
{
    size_t n = 0;
    for (size_t i = 0; i < s->list->count; i++)
        n += is_wanted(s, &s->list->entries[i]);
    if (n == 0 && s->name != NULL)
        pr_cli_complain(cli, "there is no model '%s'; 'pullrest models' lists them", s->name);
    else if (n == 0 && s->kind != NULL)
        pr_cli_complain(cli, "there is no kind '%s'; 'pullrest models' lists them", s->kind);
    return n;
}

static int run(const pr_cli *cli)
{
    pr_model_list list = {0};
    pr_diag diag = pr_diag_init();
    shown s = {.list = &list, .kind = pr_cli_value(cli, "kind"), .diag = &diag};
    if (cli->n_arguments == 1)
        s.name = cli->arguments[0];
    int exit_status;
    const pr_status status = pr_models_list(NULL, &list, &diag);
    pr_cli_print_diag(cli, &diag);
    if (status != PR_OK)
        exit_status = pr_cli_failed(cli, status, &diag);
    else if (count_wanted(cli, &s) == 0 && (s.name != NULL || s.kind != NULL))
        exit_status = PR_EXIT_USAGE;
    else
        exit_status = pr_cli_write(cli,
                                   cli->json        ? write_json
                                   : s.name != NULL ? write_entry
                                                    : write_list,
                                   &s);
    pr_model_list_free(&list);
    pr_diag_free(&diag);
    return exit_status;
}
