/* A text table: see grid.h. */
#include "report/grid.h"

#include <libsmartcols.h>
#include <stdlib.h>

struct pr_grid {
    struct libscols_table *table;
    struct libscols_line *line;
    size_t next; /* cell of the line */
    bool failed;
    pr_style style;
};

pr_grid *pr_grid_new(const pr_style *style)
{
    pr_grid *grid = calloc(1, sizeof *grid);
    if (grid == NULL)
        return NULL;
    grid->style = *style;
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
    if (scols_table_new_column(grid->table, head, 0, flags) == NULL)
        grid->failed = true;
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
    const size_t n = grid->next++;
    if (scols_line_set_data(grid->line, n, text) != 0)
        grid->failed = true;
    if (!grid->style.colour || colours[tone] == NULL)
        return;
    struct libscols_cell *cell = scols_line_get_cell(grid->line, n);
    if (cell == NULL || scols_cell_set_color(cell, colours[tone]) != 0)
        grid->failed = true;
}

pr_status pr_grid_print(pr_grid *grid, FILE *out)
{
    if (grid == NULL)
        return PR_ERR_NOMEM;
    if (!grid->failed)
        grid->failed =
            scols_table_set_stream(grid->table, out) != 0 || scols_print_table(grid->table) != 0;
    const pr_status status = grid->failed ? PR_ERR_NOMEM : PR_OK;
    scols_unref_table(grid->table);
    free(grid);
    return status;
}
