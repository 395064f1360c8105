/* Plots: a fixed gnuplot script from plots/, tables of numbers, and variables.
 *
 * The script, its data and its output lie in a private temporary folder or in plots/; no name and
 * no text of a user becomes part of a command: variables are gnuplot literals in which everything
 * is quoted, and no shell is involved. A missing or failing gnuplot is a status and a sentence;
 * nothing else depends on it. */
#ifndef PR_REPORT_PLOT_H
#define PR_REPORT_PLOT_H

#include "base/status.h"
#include <stddef.h>
#include <stdio.h>

typedef enum pr_plot_format {
    PR_PLOT_SVG,
    PR_PLOT_PNG,
    PR_PLOT_PDF,
    PR_PLOT_FORMATS
} pr_plot_format;

/* A variable of the script: a text when `text` is set, else a number (NaN: gnuplot's NaN). */
typedef struct pr_plot_variable {
    const char *name;
    const char *text;
    double number;
} pr_plot_variable;

/* A table becomes a file, tab separated, one line per row, and the script finds the file's name in
 * the variable `name`. NaN is written as NaN. */
typedef struct pr_plot_table {
    const char *name;
    size_t n_rows, n_columns;
    const double *values;      /* row-major */
    const char *const *labels; /* one per row, the first column in the file; NULL: none */
} pr_plot_table;

typedef struct pr_plot {
    const char *script; /* "recovery": plots/recovery.gp */
    const pr_plot_table *tables;
    size_t n_tables;
    const pr_plot_variable *variables;
    size_t n_variables;
    double timeout_s; /* 0: 30 s */
} pr_plot;

/* Format by the end of a file name; PR_PLOT_FORMATS when it is none of them. */
pr_plot_format pr_plot_format_of(const char *path);

/* Folder of plots/: $PULLREST_PLOTS, else relative to the program, else the installed one. */
pr_status pr_plots_folder(char *path, size_t size);

/* Draws into an open stream. PR_ERR_IO with a sentence in message when gnuplot is missing, fails or
 * takes too long; PR_ERR_CANCELLED when a stop is requested meanwhile. */
pr_status pr_plot_draw(const pr_plot *plot, pr_plot_format format, FILE *out, char *message,
                       size_t message_size);

#endif
