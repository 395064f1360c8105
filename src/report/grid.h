/* A text table: columns, then cells row by row. Printed through libsmartcols, which needs a UTF-8
 * LC_CTYPE to measure what is not ASCII. A failure is kept and told by pr_grid_print. */
#ifndef PR_REPORT_GRID_H
#define PR_REPORT_GRID_H

#include "base/status.h"
#include "report/style.h"

typedef struct pr_grid pr_grid;

typedef enum pr_align {
    PR_ALIGN_LEFT,
    PR_ALIGN_RIGHT,
    PR_ALIGN_WRAP /* left; takes what the others leave and wraps */
} pr_align;

/* NULL when out of memory; every function below accepts that and print reports it. */
pr_grid *pr_grid_new(const pr_style *style);
void pr_grid_column(pr_grid *grid, const char *head, pr_align align);
void pr_grid_row(pr_grid *grid);
/* The next cell of the row. */
void pr_grid_cell(pr_grid *grid, const char *text);
void pr_grid_cell_tone(pr_grid *grid, const char *text, pr_tone tone);
/* Prints and frees. */
pr_status pr_grid_print(pr_grid *grid, FILE *out);

#endif
