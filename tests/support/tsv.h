/* Tables of tab-separated values as the tests use them: lines that start with '#' and empty lines
 * are skipped, the first other line names the columns, a row may leave out columns at its end. */
#ifndef PR_TESTS_SUPPORT_TSV_H
#define PR_TESTS_SUPPORT_TSV_H

#include <stddef.h>

enum { PR_TSV_COLUMNS_MAX = 32 };

typedef struct pr_tsv_row {
    size_t line; /* in the file, from 1 */
    size_t count;
    const char *cells[PR_TSV_COLUMNS_MAX]; /* white space at both ends removed */
} pr_tsv_row;

typedef struct pr_tsv {
    char *text; /* the whole file, cut into cells */
    pr_tsv_row names;
    pr_tsv_row *rows;
    size_t count;
} pr_tsv;

/* Reads a table; a file that cannot be read or has more cells than columns fails the test. */
pr_tsv pr_tsv_read(const char *path);
void pr_tsv_free(pr_tsv *table);

/* The cell of a row in the named column; "" if the row has none, a failed test if the table has no
 * such column. */
const char *pr_tsv_cell(const pr_tsv *table, size_t row, const char *column);

/* The same as a number; anything but one whole finite number fails the test. */
double pr_tsv_number(const pr_tsv *table, size_t row, const char *column);

#endif
