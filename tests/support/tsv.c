/* Reader of tab-separated tables: see tsv.h. */
#include "support/tsv.h"
#include "support/check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static char *read_whole_file(const char *path)
{
    FILE *in = fopen(path, "rb");
    if (in == NULL)
        fail_msg("cannot open %s", path);
    char *text = NULL;
    size_t size = 0;
    const ssize_t length = getdelim(&text, &size, '\0', in);
    if (length < 0 || ferror(in) || strlen(text) != (size_t)length)
        fail_msg("cannot read %s, or it is empty or has a zero byte", path);
    fclose(in);
    return text;
}

/* Cuts white space off both ends of the cell from `start` up to `end`. */
static const char *trim(char *start, char *end)
{
    while (start < end && (*start == ' ' || *start == '\r'))
        start++;
    while (end > start && (end[-1] == ' ' || end[-1] == '\r'))
        end--;
    *end = '\0';
    return start;
}

static pr_tsv_row cut_line(char *line, size_t number, const char *path)
{
    pr_tsv_row row = {.line = number};
    for (char *cell = line; cell != NULL;) {
        char *tab = strchr(cell, '\t');
        if (row.count == PR_TSV_COLUMNS_MAX)
            fail_msg("%s:%zu: more than %d columns", path, number, PR_TSV_COLUMNS_MAX);
        row.cells[row.count++] = trim(cell, tab != NULL ? tab : cell + strlen(cell));
        cell = tab != NULL ? tab + 1 : NULL;
    }
    return row;
}

pr_tsv pr_tsv_read(const char *path)
{
    pr_tsv table = {.text = read_whole_file(path)};
    size_t lines = 1;
    for (const char *c = table.text; *c != '\0'; c++)
        lines += *c == '\n';
    table.rows = calloc(lines, sizeof *table.rows);
    assert_non_null(table.rows);

    char *line = table.text;
    for (size_t number = 1; line != NULL; number++) {
        char *end = strchr(line, '\n');
        if (end != NULL)
            *end = '\0';
        if (line[0] != '#' && line[strspn(line, " \t\r")] != '\0') {
            const pr_tsv_row row = cut_line(line, number, path);
            if (table.names.count == 0)
                table.names = row;
            else
                table.rows[table.count++] = row;
            if (row.count > table.names.count)
                fail_msg("%s:%zu: more cells than columns", path, number);
        }
        line = end != NULL ? end + 1 : NULL;
    }
    if (table.names.count == 0)
        fail_msg("%s: no line that names the columns", path);
    return table;
}

void pr_tsv_free(pr_tsv *table)
{
    free(table->rows);
    free(table->text);
    *table = (pr_tsv){0};
}

const char *pr_tsv_cell(const pr_tsv *table, size_t row, const char *column)
{
    assert_true(row < table->count);
    for (size_t i = 0; i < table->names.count; i++)
        if (strcmp(table->names.cells[i], column) == 0)
            return i < table->rows[row].count ? table->rows[row].cells[i] : "";
    fail_msg("the table has no column '%s'", column);
    return "";
}

double pr_tsv_number(const pr_tsv *table, size_t row, const char *column)
{
    const char *cell = pr_tsv_cell(table, row, column);
    char *end;
    const double value = strtod(cell, &end);
    if (end == cell || *end != '\0' || !isfinite(value))
        fail_msg("line %zu, column %s: '%s' is not a number", table->rows[row].line, column, cell);
    return value;
}
