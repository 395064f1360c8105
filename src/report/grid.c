/* A text table: see grid.h. */
#include "report/grid.h"

#include <libsmartcols.h>
#include <stdlib.h>
#include <string.h>

enum { COLUMNS_MAX = 24, NARROWEST = 16, CELL_BYTES = 1024 };

struct pr_grid {
    struct libscols_table *table;
    struct libscols_line *line;
    size_t next;                /* cell of the line */
    size_t n, wrapped;          /* columns; the one that wraps, n_max for none */
    size_t widest[COLUMNS_MAX]; /* of each column so far */
    bool failed;
    pr_style style;
};

pr_grid *pr_grid_new(const pr_style *style)
{
    pr_grid *grid = calloc(1, sizeof *grid);
    if (grid == NULL)
        return NULL;
    grid->style = *style;
    grid->wrapped = COLUMNS_MAX;
    grid->table = scols_new_table();
    if (grid->table == NULL) {
        free(grid);
        return NULL;
    }
    /* the width is ours to decide, on a terminal or not, so that a report is the same everywhere */
    grid->failed = scols_table_set_column_separator(grid->table, "  ") != 0 ||
                   scols_table_set_termforce(grid->table, SCOLS_TERMFORCE_ALWAYS) != 0 ||
                   scols_table_set_termwidth(grid->table, style->width) != 0 ||
                   scols_table_enable_colors(grid->table, style->colour) != 0;
    return grid;
}

void pr_grid_column(pr_grid *grid, const char *head, pr_align align)
{
    if (grid == NULL)
        return;
    const int flags = align == PR_ALIGN_RIGHT  ? SCOLS_FL_RIGHT
                      : align == PR_ALIGN_WRAP ? SCOLS_FL_WRAP
                                               : 0;
    struct libscols_column *column = scols_table_new_column(grid->table, head, 0, flags);
    if (column == NULL || grid->n >= COLUMNS_MAX) {
        grid->failed = true;
        return;
    }
    if (align == PR_ALIGN_WRAP) { /* at our own new lines, which stand between words */
        grid->wrapped = grid->n;
        if (scols_column_set_safechars(column, "\n") != 0 ||
            scols_column_set_wrapfunc(column, scols_wrapnl_chunksize, scols_wrapnl_nextchunk,
                                      NULL) != 0)
            grid->failed = true;
    }
    grid->widest[grid->n++] = pr_text_columns(head);
}

void pr_grid_row(pr_grid *grid)
{
    if (grid == NULL)
        return;
    grid->line = scols_table_new_line(grid->table, NULL);
    grid->next = 0;
    grid->failed = grid->failed || grid->line == NULL;
}

void pr_grid_cell(pr_grid *grid, const char *text)
{
    pr_grid_cell_tone(grid, text, PR_TONE_PLAIN);
}

void pr_grid_cell_tone(pr_grid *grid, const char *text, pr_tone tone)
{
    static const char *const colours[PR_TONE_COUNT] = {NULL, "green", "red", "bold"};
    if (grid == NULL || grid->line == NULL)
        return;
    const size_t n = grid->next++, columns = pr_text_columns(text);
    if (n < COLUMNS_MAX && columns > grid->widest[n])
        grid->widest[n] = columns;
    if (scols_line_set_data(grid->line, n, text) != 0)
        grid->failed = true;
    if (!grid->style.colour || colours[tone] == NULL)
        return;
    struct libscols_cell *cell = scols_line_get_cell(grid->line, n);
    if (cell == NULL || scols_cell_set_color(cell, colours[tone]) != 0)
        grid->failed = true;
}

/* Breaks the text of a cell to a width. */
static void fold_cell(pr_grid *grid, struct libscols_cell *cell, size_t room)
{
    const char *text = cell != NULL ? scols_cell_get_data(cell) : NULL;
    char folded[CELL_BYTES], printable[CELL_BYTES];
    if (text == NULL)
        return;
    pr_text_printable(printable, sizeof printable, text);
    pr_text_fold(folded, sizeof folded, printable, room);
    if (scols_cell_set_data(cell, folded) != 0)
        grid->failed = true;
}

/* Breaks the cells of the wrapping column to what the others leave. */
static void fold(pr_grid *grid, struct libscols_iter *lines)
{
    size_t taken = 0;
    for (size_t k = 0; k < grid->n; k++)
        taken += k == grid->wrapped ? 0 : grid->widest[k] + 2;
    const size_t room =
        taken + NARROWEST < grid->style.width ? grid->style.width - taken : NARROWEST;
    struct libscols_line *line;
    scols_reset_iter(lines, SCOLS_ITER_FORWARD);
    while (scols_table_next_line(grid->table, lines, &line) == 0)
        fold_cell(grid, scols_line_get_cell(line, grid->wrapped), room);
}

/* Lines without the blanks that pad an empty last cell. */
static void write_trimmed(const char *text, FILE *out)
{
    for (const char *line = text, *end; *line != '\0'; line = *end == '\n' ? end + 1 : end) {
        end = line + strcspn(line, "\n");
        size_t n = (size_t)(end - line);
        while (n > 0 && line[n - 1] == ' ')
            n--;
        fwrite(line, 1, n, out);
        fputc('\n', out);
    }
}

/* Bytes that are not blank. */
static size_t ink(const char *text)
{
    size_t n = 0;
    for (; text != NULL && *text != '\0'; text++)
        n += *text != ' ' && *text != '\n';
    return n;
}

static size_t ink_of_cells(const pr_grid *grid, struct libscols_iter *lines)
{
    size_t n = 0;
    for (size_t k = 0; k < grid->n; k++)
        n += ink(
            scols_cell_get_data(scols_column_get_header(scols_table_get_column(grid->table, k))));
    struct libscols_line *line;
    scols_reset_iter(lines, SCOLS_ITER_FORWARD);
    while (scols_table_next_line(grid->table, lines, &line) == 0)
        for (size_t k = 0; k < grid->n; k++) {
            struct libscols_cell *cell = scols_line_get_cell(line, k);
            n += cell != NULL ? ink(scols_cell_get_data(cell)) : 0;
        }
    return n;
}

/* Finds the lines of a wrapped cell from *at on, one after the other, and moves *at behind them.
 * Only their plain letters are looked for: others may be spelled out where there is no UTF-8. */
static bool cell_is_printed(const char *cell, const char **at)
{
    char part[CELL_BYTES];
    while (cell != NULL && *cell != '\0') {
        const size_t length = strcspn(cell, "\n");
        size_t n = 0;
        while (n < length && n + 1 < sizeof part && (unsigned char)cell[n] < 0x80) {
            part[n] = cell[n];
            n++;
        }
        part[n] = '\0';
        const char *found = strstr(*at, part);
        if (found == NULL)
            return false;
        *at = found + n;
        cell += length + (cell[length] == '\n');
    }
    return true;
}

/* Is the wrapped column printed whole and in its order? */
static bool wrapped_is_printed(const pr_grid *grid, struct libscols_iter *lines, const char *text)
{
    struct libscols_line *line;
    const char *at = text;
    scols_reset_iter(lines, SCOLS_ITER_FORWARD);
    while (scols_table_next_line(grid->table, lines, &line) == 0) {
        struct libscols_cell *cell = scols_line_get_cell(line, grid->wrapped);
        if (cell != NULL && !cell_is_printed(scols_cell_get_data(cell), &at))
            return false;
    }
    return true;
}

static void print_trimmed(pr_grid *grid, struct libscols_iter *lines, FILE *out)
{
    char *text = NULL;
    size_t size = 0;
    FILE *memory = open_memstream(&text, &size);
    if (memory == NULL) {
        grid->failed = true;
        return;
    }
    grid->failed =
        scols_table_set_stream(grid->table, memory) != 0 || scols_print_table(grid->table) != 0;
    /* the library passes over a cell, or prints the rest of it after the next one, when memory for
     * it fails, and does not tell */
    if (fclose(memory) != 0 || text == NULL || ink(text) < ink_of_cells(grid, lines) ||
        (grid->wrapped < grid->n && !wrapped_is_printed(grid, lines, text)))
        grid->failed = true;
    if (!grid->failed)
        write_trimmed(text, out);
    free(text);
}

pr_status pr_grid_print(pr_grid *grid, FILE *out)
{
    if (grid == NULL)
        return PR_ERR_NOMEM;
    struct libscols_iter *lines = scols_new_iter(SCOLS_ITER_FORWARD);
    grid->failed = grid->failed || lines == NULL;
    if (!grid->failed && grid->wrapped < grid->n)
        fold(grid, lines);
    /* the library prints nothing, not even the heads, when there is no line */
    if (!grid->failed && scols_table_get_nlines(grid->table) > 0)
        print_trimmed(grid, lines, out);
    scols_free_iter(lines);
    const pr_status status = grid->failed ? PR_ERR_NOMEM : PR_OK;
    scols_unref_table(grid->table);
    free(grid);
    return status;
}
