/* Trace: named columns with units over time, filled by an observer. */
#ifndef PR_ENGINE_TRACE_H
#define PR_ENGINE_TRACE_H

#include "engine/sim.h"

typedef struct pr_trace_column {
    const char *name; /* stable, with unit suffix: "soc", "bus_V", "winch_A" ... */
    const char *unit; /* "1", "V", "A", "degC", "m", "rpm" */
    const char *help;
} pr_trace_column;

enum { PR_TRACE_COLUMNS = 26 };
extern const pr_trace_column pr_trace_columns[PR_TRACE_COLUMNS];

typedef struct pr_trace_event {
    double time_s;
    char text[64];
} pr_trace_event;

typedef struct pr_trace {
    size_t n_rows, capacity;
    double *values; /* row-major, PR_TRACE_COLUMNS per row */
    size_t n_events, events_capacity;
    pr_trace_event *events;
    double interval_s;
    pr_status status; /* PR_ERR_NOMEM when a row was lost */
} pr_trace;

pr_trace pr_trace_init(double interval_s);
void pr_trace_free(pr_trace *trace);
/* Observer that appends to the trace; the trace must outlive it. */
pr_observer pr_trace_observer(pr_trace *trace);
double pr_trace_get(const pr_trace *trace, size_t row,
                    const char *column);       /* NaN: no such column */
int pr_trace_column_index(const char *column); /* -1: none */

#endif
