/* A trace as CSV: see csv.h. Numbers have 6 significant digits, the time (first column) 9, so that
 * events stay apart that lie milliseconds from each other. */
#include "report/csv.h"

#include <math.h>
#include <string.h>

static void write_field(FILE *out, const char *text)
{
    if (strpbrk(text, ",\"\r\n") == NULL) {
        fputs(text, out);
        return;
    }
    fputc('"', out);
    for (; *text != '\0'; text++) {
        if (*text == '"')
            fputc('"', out);
        fputc(*text, out);
    }
    fputc('"', out);
}

static void write_number(FILE *out, double value, int digits)
{
    if (isfinite(value)) /* else an empty field */
        fprintf(out, "%.*g", digits, value);
    fputc(',', out);
}

pr_status pr_trace_write_csv(const pr_trace *trace, FILE *out)
{
    for (int k = 0; k < PR_TRACE_COLUMNS; k++) {
        write_field(out, pr_trace_columns[k].name);
        fputc(',', out);
    }
    fputs("event\r\n", out);
    size_t next = 0; /* event not yet written; both lists are in order of time */
    for (size_t row = 0; row < trace->n_rows; row++) {
        const double *values = &trace->values[row * PR_TRACE_COLUMNS];
        for (int k = 0; k < PR_TRACE_COLUMNS; k++)
            write_number(out, values[k], k == 0 ? 9 : 6);
        if (next < trace->n_events && trace->events[next].time_s <= values[0])
            write_field(out, trace->events[next++].text);
        fputs("\r\n", out);
    }
    return ferror(out) ? PR_ERR_IO : trace->status;
}
