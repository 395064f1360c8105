/* models [NAME]: the catalogue of components. */
#include "cli/cli.h"

#include "cli/plot_kind.h"
#include "cli/plot_output.h"
#include "reader/nearest.h"
#include "reader/reader.h"
#include "report/grid.h"
#include "report/plan_json.h"
#include "report/words.h"

#include <stdlib.h>
#include <string.h>

static int run(const pr_cli *cli);

static const pr_option options[] = {
    {"kind", 'k', "KIND", "list one kind only: battery, winch ...", false},
    PR_OPTION_PLOT_KIND("of a winch: winch (amps and speed), heat, rigging"),
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
        "memory. With NAME and --plot draws how it behaves.",
    .takes = PR_TAKES_PLOT,
    .options = options,
    .run = run,
};

/* What was asked for: NULL is any kind, any name. */
typedef struct shown {
    const pr_model_list *list;
    const char *kind, *name;
    pr_diag *diag;
} shown;

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
        pr_grid_row(grid);
        pr_grid_cell(grid, entry->kind);
        pr_grid_cell(grid, entry->name);
        pr_grid_cell(grid, entry->evidence);
        pr_grid_cell(grid, entry->summary);
    }
    return pr_grid_print(grid, out);
}

/* A scenario around one component; its name is one of the catalogue's, so it is safe in the text.
 */
static void write_around(const char *kind, const char *name, char *text, size_t size)
{
    const bool is_surface = strcmp(kind, "surface") == 0, is_link = strcmp(kind, "link") == 0;
#define CHOICE(what, usual) (strcmp(kind, what) == 0 ? name : (usual))
    snprintf(text, size,
             "title: \"%s\"\nair_temperature: 25 degC\nvehicle: {weight: 2500 kg}\nengine: %s\n"
             "battery: %s\nalternator: %s\nwinch: {use: %s, blocks: 3}\nloads: [%s]\n"
             "cables: {winch: {%s: %s, length: 2 m, fuse: {use: %s, rating: %s}}}\n"
             "recovery: {surface: %s, distance: 10 m%s}\n%s%s\n",
             name, CHOICE("engine", "petrol-6"), CHOICE("battery", "flooded-70-starter"),
             CHOICE("alternator", "plate-110"), CHOICE("winch", "series-9500"),
             CHOICE("load", "fuel-pump"), "use", CHOICE("cable", "35-mm2"),
             CHOICE("fuse", "bolt-down"),
             strcmp(name, "blade") == 0      ? "30 A"
             : strstr(name, "blade") != NULL ? "60 A"
                                             : "200 A",
             CHOICE("surface", "grass"), is_surface ? ", slope: 0 %" : "",
             is_link ? "second_battery: flooded-70-starter\nlink: " : "", is_link ? name : "");
#undef CHOICE
}

/* The rig that write_around makes, read; a failure is told in *diag. The caller frees. */
static pr_status read_around(const pr_model_entry *entry, pr_scenario **scenario, pr_diag *diag)
{
    enum { TEXT_BYTES = 2048 };
    char text[TEXT_BYTES];
    write_around(entry->kind, entry->name, text, sizeof text);
    *scenario = malloc(sizeof **scenario);
    if (*scenario == NULL)
        return PR_ERR_NOMEM;
    **scenario = pr_scenario_default();
    return pr_scenario_read_text(entry->name, text, strlen(text), NULL, *scenario, diag);
}

static void free_around(pr_scenario *scenario)
{
    if (scenario != NULL)
        pr_scenario_free(scenario);
    free(scenario);
}

/* How far an entry is from the maker's table that it was fitted to. */
static bool find_fit(const pr_model_entry *entry, pr_table_fit *fit)
{
    const char *key = strcmp(entry->kind, "battery") == 0 ? "battery.discharge_table"
                      : strcmp(entry->kind, "winch") == 0 ? "winch.table"
                                                          : NULL;
    if (key == NULL)
        return false;
    pr_scenario *scenario;
    pr_diag unheard = pr_diag_init();
    bool found = false;
    if (read_around(entry, &scenario, &unheard) == PR_OK)
        for (int i = 0; i < scenario->n_fits; i++)
            if (strcmp(scenario->fit[i].key, key) == 0) {
                *fit = scenario->fit[i];
                found = true;
            }
    pr_diag_free(&unheard);
    free_around(scenario);
    return found;
}

static pr_status write_entry(const void *what, const pr_cli *cli, FILE *out)
{
    (void)cli;
    const shown *s = what;
    const pr_status status = pr_models_show(NULL, s->name, out, s->diag);
    pr_table_fit fit;
    if (status == PR_OK && find_fit(&s->list->entries[0], &fit))
        fprintf(out, "# fitted to this table: %s\n", pr_words_fit(&fit).s);
    return status;
}

static pr_status write_json(const void *what, const pr_cli *cli, FILE *out)
{
    (void)cli;
    const shown *s = what;
    pr_json json = pr_json_begin("models");
    json_t *models = pr_json_array(&json, json.root, "models");
    for (size_t i = 0; i < s->list->count; i++) {
        const pr_model_entry *entry = &s->list->entries[i];
        json_t *item = pr_json_object(&json, models, NULL);
        pr_json_text(&json, item, "kind", entry->kind);
        pr_json_text(&json, item, "name", entry->name);
        pr_json_text(&json, item, "summary", entry->summary);
        pr_json_text(&json, item, "source", entry->source);
        pr_json_text(&json, item, "evidence", entry->evidence);
        pr_json_text(&json, item, "file", entry->file);
        pr_json_count(&json, item, "line", entry->line);
        pr_table_fit fit;
        if (s->name != NULL && find_fit(entry, &fit))
            pr_json_fit(&json, pr_json_object(&json, item, "fit"), &fit);
    }
    return pr_json_end(&json, out);
}

static bool kind_of_entry(const char *kind, pr_curve_kind *curve)
{
    static const struct {
        const char *kind;
        pr_curve_kind curve;
    } list[] = {{"battery", PR_CURVE_BATTERY}, {"alternator", PR_CURVE_ALTERNATOR},
                {"winch", PR_CURVE_WINCH},     {"engine", PR_CURVE_CRANKING},
                {"surface", PR_CURVE_GROUND},  {"cable", PR_CURVE_CABLE},
                {"fuse", PR_CURVE_FUSE},       {"load", PR_CURVE_LOAD},
                {"link", PR_CURVE_LINK}};
    for (size_t i = 0; i < sizeof list / sizeof *list; i++)
        if (strcmp(list[i].kind, kind) == 0) {
            *curve = list[i].curve;
            return true;
        }
    return false;
}

static int draw_entry(const pr_cli *cli, const pr_model_entry *entry)
{
    pr_plot_kind asked;
    pr_curve_kind curve;
    if (!pr_plot_wanted(cli) || !pr_plot_kind_of(cli, &asked))
        return PR_EXIT_USAGE;
    if (!kind_of_entry(entry->kind, &curve)) {
        pr_cli_complain(cli, "no picture is made of a %s", entry->kind);
        return PR_EXIT_USAGE;
    }
    if (asked.family == PR_PLOT_CURVES && curve != PR_CURVE_WINCH && asked.curve != curve) {
        pr_cli_complain(cli, "--plot-kind chooses among pictures of a winch");
        return PR_EXIT_USAGE;
    }
    if (asked.family == PR_PLOT_CURVES)
        curve = asked.curve;
    pr_scenario *scenario;
    pr_diag diag = pr_diag_init();
    const pr_status status = read_around(entry, &scenario, &diag);
    int exit_status;
    if (status == PR_OK) {
        if (curve == PR_CURVE_CABLE) /* whose summary begins with its size */
            snprintf(scenario->title, sizeof scenario->title, "%s", entry->summary);
        else
            snprintf(scenario->title, sizeof scenario->title, "%s: %.120s", entry->name,
                     entry->summary);
        exit_status = pr_plot_kind_curves(cli, scenario, curve);
    } else {
        pr_cli_print_diag(cli, &diag);
        exit_status = pr_cli_failed(cli, status, &diag);
    }
    pr_diag_free(&diag);
    free_around(scenario);
    return exit_status;
}

static int draw_wanted(const pr_cli *cli, const shown *s)
{
    if (pr_cli_value(cli, "plot") == NULL)
        return PR_EXIT_DONE;
    if (s->name != NULL)
        return draw_entry(cli, &s->list->entries[0]);
    pr_cli_complain(cli, "--plot draws one component: give its NAME");
    return PR_EXIT_USAGE;
}

/* Name of the catalogue nearest to one that is not in it; NULL: none is near. */
static const char *nearest_name(const pr_model_list *all, const char *name)
{
    size_t least = 2 + strlen(name) / 3;
    const char *nearest = NULL;
    for (size_t i = 0; i < all->count; i++) {
        const size_t distance = pr_name_distance(name, all->entries[i].name);
        if (distance < least) {
            least = distance;
            nearest = all->entries[i].name;
        }
    }
    return nearest;
}

static void say_no_model(const pr_cli *cli, const shown *s)
{
    pr_model_list all = {0};
    pr_diag unheard = pr_diag_init();
    const char *nearest = NULL;
    if (pr_models_find(NULL, s->kind, NULL, &all, &unheard) == PR_OK)
        nearest = nearest_name(&all, s->name);
    pr_cli_complain(cli, "there is no model '%s'%s%s%s; 'pullrest models' lists them", s->name,
                    nearest == NULL ? "" : ", nearest is '", nearest == NULL ? "" : nearest,
                    nearest == NULL ? "" : "'");
    pr_model_list_free(&all);
    pr_diag_free(&unheard);
}

static void say_none(const pr_cli *cli, const shown *s)
{
    if (s->name != NULL)
        say_no_model(cli, s);
    else
        pr_cli_complain(cli, "there is no kind '%s'; 'pullrest models' lists them", s->kind);
}

static int run(const pr_cli *cli)
{
    pr_model_list list = {0};
    pr_diag diag = pr_diag_init();
    shown s = {.list = &list, .kind = pr_cli_value(cli, "kind"), .diag = &diag};
    if (cli->n_arguments == 1)
        s.name = cli->arguments[0];
    int exit_status;
    const pr_status status = pr_models_find(NULL, s.kind, s.name, &list, &diag);
    pr_cli_print_diag(cli, &diag);
    if (status != PR_OK)
        exit_status = pr_cli_failed(cli, status, &diag);
    else if (list.count == 0 && (s.name != NULL || s.kind != NULL)) {
        say_none(cli, &s);
        exit_status = PR_EXIT_USAGE;
    } else if ((exit_status = draw_wanted(cli, &s)) == PR_EXIT_DONE)
        exit_status = pr_cli_write(cli,
                                   cli->json        ? write_json
                                   : s.name != NULL ? write_entry
                                                    : write_list,
                                   &s);
    pr_model_list_free(&list);
    pr_diag_free(&diag);
    return exit_status;
}
