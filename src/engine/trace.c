/* Trace: rows of named columns, grown as an observer reports. */
#include "engine/trace.h"
#include "base/number.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

const pr_trace_column pr_trace_columns[PR_TRACE_COLUMNS] = {
    {"time_s", "s", "time since the start of the run"},
    {"engine_rpm", "rpm", "engine speed, 0 when off"},
    {"bus_V", "V", "voltage at the fuse box of the main battery"},
    {"post_V", "V", "voltage at the posts of the main battery"},
    {"second_V", "V", "voltage at the posts of the second battery"},
    {"alternator_V", "V", "voltage at the alternator"},
    {"winch_V", "V", "voltage at the winch motor"},
    {"soc", "1", "state of charge of the main battery"},
    {"surface", "1", "charge at the surface of its plates"},
    {"soc_second", "1", "state of charge of the second battery"},
    {"surface_second", "1", "charge at the surface of its plates"},
    {"battery_A", "A", "current into the main battery (negative: discharge)"},
    {"battery_second_A", "A", "current into the second battery"},
    {"alternator_A", "A", "alternator output"},
    {"alternator_available_A", "A", "most that the alternator could give"},
    {"winch_A", "A", "winch current"},
    {"loads_A", "A", "current of all loads"},
    {"link_A", "A", "current from the main battery into the link"},
    {"battery_degC", "degC", "temperature of the main battery"},
    {"winding_degC", "degC", "temperature of the alternator's winding"},
    {"armature_degC", "degC", "temperature of the winch motor's armature"},
    {"case_degC", "degC", "temperature of the winch motor's case"},
    {"winch_cable_degC", "degC", "temperature of the winch cable"},
    {"travel_m", "m", "distance the vehicle has moved"},
    {"pull_N", "N", "pull in the winch line"},
    {"restart_V", "V", "voltage if the engine were cranked now"},
};

pr_trace pr_trace_init(double interval_s)
{
    return (pr_trace){.interval_s = interval_s, .status = PR_OK};
}

void pr_trace_free(pr_trace *trace)
{
    free(trace->values);
    free(trace->events);
    *trace = pr_trace_init(trace->interval_s);
}

static int grow(void **items, size_t *capacity, size_t needed, size_t size)
{
    if (needed <= *capacity)
        return 1;
    size_t next = *capacity < 64 ? 64 : *capacity;
    while (next < needed)
        next += next / 2;
    if (next > SIZE_MAX / size)
        return 0;
    void *p = realloc(*items, next * size);
    if (p == NULL)
        return 0;
    *items = p;
    *capacity = next;
    return 1;
}

static void add_row(pr_trace *trace, const pr_outputs *o)
{
    const double row[PR_TRACE_COLUMNS] = {o->time_s,
                                          o->engine_rpm,
                                          o->box_V[0],
                                          o->post_V[0],
                                          o->post_V[1],
                                          o->alternator_V,
                                          o->winch_V,
                                          o->soc_frac[0],
                                          o->surface_frac[0],
                                          o->soc_frac[1],
                                          o->surface_frac[1],
                                          o->battery_A[0],
                                          o->battery_A[1],
                                          o->alternator_A,
                                          o->alternator_available_A,
                                          o->winch_A,
                                          o->loads_A,
                                          o->link_A,
                                          o->battery_degC[0],
                                          o->winding_degC,
                                          o->armature_degC,
                                          o->case_degC,
                                          o->run_degC[PR_RUN_WINCH],
                                          o->travel_m,
                                          o->pull_N,
                                          o->restart_V};
    void *values = trace->values;
    if (!grow(&values, &trace->capacity, trace->n_rows + 1, sizeof row)) {
        trace->status = PR_ERR_NOMEM;
        return;
    }
    trace->values = values;
    memcpy(&trace->values[trace->n_rows * PR_TRACE_COLUMNS], row, sizeof row);
    trace->n_rows++;
}

static void add_event(pr_trace *trace, double time_s, const char *text)
{
    void *events = trace->events;
    if (!grow(&events, &trace->events_capacity, trace->n_events + 1, sizeof trace->events[0])) {
        trace->status = PR_ERR_NOMEM;
        return;
    }
    trace->events = events;
    pr_trace_event *event = &trace->events[trace->n_events++];
    event->time_s = time_s;
    snprintf(event->text, sizeof event->text, "%s", text);
}

static int append(void *context, const pr_system *system, const pr_outputs *outputs,
                  const char *event)
{
    pr_trace *trace = context;
    (void)system;
    /* several events at one instant share a row */
    const bool same = event != NULL && trace->n_rows > 0 && trace->n_events > 0 &&
                      trace->events[trace->n_events - 1].time_s == outputs->time_s &&
                      strcmp(event, "start") != 0;
    if (!same)
        add_row(trace, outputs);
    if (event != NULL)
        add_event(trace, outputs->time_s, event);
    return trace->status != PR_OK;
}

pr_observer pr_trace_observer(pr_trace *trace)
{
    return (pr_observer){.fn = append, .context = trace, .interval_s = trace->interval_s};
}

int pr_trace_column_index(const char *column)
{
    for (int i = 0; i < PR_TRACE_COLUMNS; i++)
        if (strcmp(pr_trace_columns[i].name, column) == 0)
            return i;
    return -1;
}

double pr_trace_get(const pr_trace *trace, size_t row, const char *column)
{
    const int i = pr_trace_column_index(column);
    if (i < 0 || row >= trace->n_rows)
        return PR_NAN;
    return trace->values[row * PR_TRACE_COLUMNS + (size_t)i];
}
