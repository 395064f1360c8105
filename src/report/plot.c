/* Plots through gnuplot: see plot.h. */
#include "report/plot.h"

#include "base/folder.h"
#include "report/process.h"
#include "report/text.h"

#include <errno.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <sys/stat.h>
#include <unistd.h>

enum {
    PATH_ROOM = 4096,
    ASSIGNMENT_ROOM = 8192,
    TABLES_MAX = 8,
    VARIABLES_MAX = 48,
    ARGUMENTS = 12
};

static const char *const format_names[PR_PLOT_FORMATS] = {"svg", "png", "pdf"};

pr_plot_format pr_plot_format_of(const char *path)
{
    const char *dot = strrchr(path, '.');
    int k = 0;
    while (k < PR_PLOT_FORMATS && (dot == NULL || strcasecmp(dot + 1, format_names[k]) != 0))
        k++;
    return (pr_plot_format)k;
}

pr_status pr_plots_folder(char *path, size_t size)
{
    return pr_folder_find("PULLREST_PLOTS", "plots", "style.gp", path, size);
}

/* A private folder with the data files and the drawing. */
typedef struct workplace {
    char folder[PATH_ROOM / 4], output[PATH_ROOM / 2];
    char table[TABLES_MAX][PATH_ROOM / 2];
    size_t n_tables;
} workplace;

static pr_status workplace_open(workplace *place, char *message, size_t size)
{
    const char *temporary = getenv("TMPDIR");
    if (temporary == NULL || temporary[0] != '/' || strlen(temporary) > 200)
        temporary = "/tmp";
    *place = (workplace){0};
    snprintf(place->folder, sizeof place->folder, "%s/pullrest-plot-XXXXXX", temporary);
    if (mkdtemp(place->folder) == NULL) {
        snprintf(message, size, "%s: cannot create a temporary folder: %s", temporary,
                 strerror(errno));
        return PR_ERR_IO;
    }
    snprintf(place->output, sizeof place->output, "%s/drawing", place->folder);
    return PR_OK;
}

static void workplace_close(const workplace *place)
{
    for (size_t i = 0; i < place->n_tables; i++)
        unlink(place->table[i]);
    unlink(place->output);
    rmdir(place->folder);
}

/* A label is one field of a tab-separated line; quotes would start a quoted field. */
static void write_label(FILE *out, const char *label)
{
    char printable[PATH_ROOM / 4];
    pr_text_printable(printable, sizeof printable, label);
    for (char *c = printable; *c != '\0'; c++)
        if (*c == '"')
            *c = '\'';
    fprintf(out, "%s\t", printable);
}

static void write_row(const pr_plot_table *table, size_t row, FILE *out)
{
    if (table->labels != NULL)
        write_label(out, table->labels[row]);
    for (size_t k = 0; k < table->n_columns; k++) {
        const double value = table->values[row * table->n_columns + k];
        const char *end = k + 1 < table->n_columns ? "\t" : "\n";
        if (isfinite(value))
            fprintf(out, "%.9g%s", value, end);
        else
            fprintf(out, "NaN%s", end);
    }
}

static pr_status write_table(const pr_plot_table *table, workplace *place, char *message,
                             size_t size)
{
    char name[sizeof place->table[0]];
    snprintf(name, sizeof name, "%s/%zu.tsv", place->folder, place->n_tables);
    memcpy(place->table[place->n_tables++], name, sizeof name);
    FILE *out = fopen(name, "we");
    if (out != NULL)
        for (size_t row = 0; row < table->n_rows; row++)
            write_row(table, row, out);
    int lost = out == NULL || ferror(out);
    if (out != NULL && fclose(out) != 0)
        lost = 1;
    if (lost) {
        snprintf(message, size, "%s: cannot write: %s", name, strerror(errno));
        return PR_ERR_IO;
    }
    return PR_OK;
}

/* Script being assembled: a list of assignments for one -e argument. */
typedef struct assignments {
    char text[ASSIGNMENT_ROOM];
    size_t used;
    bool failed;
} assignments;

static bool is_name(const char *name)
{
    return name[0] != '\0' &&
           strspn(name, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
                        "0123456789_") == strlen(name) &&
           strspn(name, "0123456789") == 0;
}

static void put_character(assignments *list, char c)
{
    if (list->used + 1 < sizeof list->text)
        list->text[list->used++] = c;
    else
        list->failed = true;
    list->text[list->used] = '\0';
}

static void put_plain(assignments *list, const char *text)
{
    for (; *text != '\0'; text++)
        put_character(list, *text);
}

/* Inside single quotes gnuplot expands nothing; a quote is written twice. */
static void assign_text(assignments *list, const char *name, const char *text)
{
    char printable[PATH_ROOM];
    pr_text_printable(printable, sizeof printable, text);
    list->failed = list->failed || !is_name(name);
    put_plain(list, name);
    put_plain(list, "='");
    for (const char *c = printable; *c != '\0'; c++) {
        if (*c == '\'')
            put_character(list, '\'');
        put_character(list, *c);
    }
    put_plain(list, "';");
}

static void assign_number(assignments *list, const char *name, double value)
{
    char digits[40];
    snprintf(digits, sizeof digits, isfinite(value) ? "=%.9g;" : "=NaN;", value);
    /* an integer literal would divide as an integer in the script */
    if (isfinite(value) && strpbrk(digits, ".e") == NULL)
        snprintf(digits, sizeof digits, "=%.1f;", value);
    list->failed = list->failed || !is_name(name);
    put_plain(list, name);
    put_plain(list, digits);
}

static pr_status copy_out(const char *path, FILE *out, char *message, size_t size)
{
    FILE *in = fopen(path, "rbe");
    if (in == NULL) {
        snprintf(message, size, "gnuplot drew nothing");
        return PR_ERR_IO;
    }
    char block[16384];
    size_t n, all = 0;
    while ((n = fread(block, 1, sizeof block, in)) > 0) {
        all += n;
        if (fwrite(block, 1, n, out) != n)
            break;
    }
    const bool failed = ferror(in) || ferror(out);
    fclose(in);
    if (failed)
        snprintf(message, size, "cannot copy the drawing: %s", strerror(errno));
    else if (all == 0)
        snprintf(message, size, "gnuplot drew nothing");
    return failed || all == 0 ? PR_ERR_IO : PR_OK;
}

static pr_status run_gnuplot(const assignments *list, const char *script, double timeout_s,
                             char *message, size_t size)
{
    /* -d: no start-up file of the user changes what we draw */
    const char *const arguments[ARGUMENTS] = {"gnuplot", "-d", "-e", list->text, script, NULL};
    pr_process_result result;
    pr_process_run(arguments, timeout_s, &result);
    switch (result.end) {
    case PR_PROCESS_DONE:
        if (result.exit_status == 0)
            return PR_OK;
        snprintf(message, size, "gnuplot failed: %s",
                 result.errors[0] != '\0' ? result.errors : "it gave no reason");
        break;
    case PR_PROCESS_MISSING:
        snprintf(message, size, "gnuplot is not installed; install it to get plots");
        break;
    case PR_PROCESS_TIMEOUT:
        snprintf(message, size, "gnuplot took more than %.0f s and was stopped", timeout_s);
        break;
    case PR_PROCESS_STOPPED:
        snprintf(message, size, "stopped on request");
        return PR_ERR_CANCELLED;
    case PR_PROCESS_FAILED:
        snprintf(message, size, "gnuplot could not be run: %s", result.errors);
        break;
    }
    return PR_ERR_IO;
}

static pr_status assemble(const pr_plot *plot, pr_plot_format format, const char *folder,
                          workplace *place, assignments *list, char *message, size_t size)
{
    if (plot->n_tables > TABLES_MAX || plot->n_variables > VARIABLES_MAX ||
        !is_name(plot->script) || format >= PR_PLOT_FORMATS)
        return PR_ERR_INTERNAL;
    for (size_t i = 0; i < plot->n_tables; i++) {
        const pr_status status = write_table(&plot->tables[i], place, message, size);
        if (status != PR_OK)
            return status;
        assign_text(list, plot->tables[i].name, place->table[i]);
    }
    for (size_t i = 0; i < plot->n_variables; i++) {
        const pr_plot_variable *v = &plot->variables[i];
        if (v->text != NULL)
            assign_text(list, v->name, v->text);
        else
            assign_number(list, v->name, v->number);
    }
    assign_text(list, "plot_format", format_names[format]);
    assign_text(list, "plot_output", place->output);
    assign_text(list, "plot_folder", folder);
    if (list->failed) {
        snprintf(message, size, "the variables of the plot are too long");
        return PR_ERR_INTERNAL;
    }
    return PR_OK;
}

pr_status pr_plot_draw(const pr_plot *plot, pr_plot_format format, FILE *out, char *message,
                       size_t message_size)
{
    char folder[PATH_ROOM], script[PATH_ROOM + 64];
    snprintf(message, message_size, "the plot could not be drawn");
    if (pr_plots_folder(folder, sizeof folder) != PR_OK) {
        snprintf(message, message_size, "the folder of the plot scripts was not found");
        return PR_ERR_IO;
    }
    snprintf(script, sizeof script, "%s/%s.gp", folder, plot->script);

    workplace place;
    assignments list = {0};
    pr_status status = workplace_open(&place, message, message_size);
    if (status != PR_OK)
        return status;
    status = assemble(plot, format, folder, &place, &list, message, message_size);
    if (status == PR_OK)
        status = run_gnuplot(&list, script, plot->timeout_s > 0.0 ? plot->timeout_s : 30.0, message,
                             message_size);
    if (status == PR_OK)
        status = copy_out(place.output, out, message, message_size);
    workplace_close(&place);
    return status;
}
