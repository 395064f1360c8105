/* The plot of a recovery over time: see recovery_plot.h. */
#include "report/recovery_plot.h"

#include "base/number.h"

#include <stdbool.h>
#include <stdlib.h>

/* A drawing of a page width shows no more; both ends of every phase are always kept. */
enum { ROWS_SHOWN = 400, COLUMNS = 10 };

typedef struct shown_column {
    const char *first, *second; /* of the trace, by the starter's post */
    double factor, offset;
} shown_column;

static void list_columns(const pr_recovery_plot *plot, shown_column columns[COLUMNS])
{
    const double degree_0 = pr_units_shown(plot->units, PR_QUANTITY_TEMPERATURE, 0.0);
    const double degree_1 = pr_units_shown(plot->units, PR_QUANTITY_TEMPERATURE, 1.0) - degree_0;
    const double length = pr_units_shown(plot->units, PR_QUANTITY_DISTANCE, 1.0);
    const shown_column list[COLUMNS] = {
        {"time_s", "time_s", 1.0 / 60.0, 0.0},
        {"soc", "soc_second", 100.0, 0.0},
        {"surface", "surface_second", 100.0, 0.0},
        {"bus_V", "bus_V", 1.0, 0.0},
        {"winch_A", "winch_A", 1.0, 0.0},
        {"alternator_A", "alternator_A", 1.0, 0.0},
        {"battery_A", "battery_second_A", 1.0, 0.0},
        {"armature_degC", "armature_degC", degree_1, degree_0},
        {"case_degC", "case_degC", degree_1, degree_0},
        {"travel_m", "travel_m", length, 0.0},
    };
    for (int k = 0; k < COLUMNS; k++)
        columns[k] = list[k];
}

static double time_of(const pr_trace *trace, size_t row)
{
    return trace->values[row * PR_TRACE_COLUMNS];
}

/* Both ends of a phase stand at the same time. */
static bool is_kept(const pr_trace *trace, size_t row, size_t stride)
{
    if (row == 0 || row + 1 == trace->n_rows || row % stride == 0)
        return true;
    const double t = time_of(trace, row);
    return !(t > time_of(trace, row - 1)) || !(time_of(trace, row + 1) > t);
}

/* Fills rows (room for all of the trace) and returns how many are shown. */
static size_t fill_rows(const pr_recovery_plot *plot, double *rows)
{
    const pr_trace *trace = plot->trace;
    shown_column columns[COLUMNS];
    int index[COLUMNS];
    list_columns(plot, columns);
    for (int k = 0; k < COLUMNS; k++)
        index[k] = pr_trace_column_index(plot->starter_post == PR_POST_MAIN ? columns[k].first
                                                                            : columns[k].second);
    const size_t stride = trace->n_rows / ROWS_SHOWN + 1;
    size_t n = 0;
    for (size_t row = 0; row < trace->n_rows; row++) {
        if (!is_kept(trace, row, stride))
            continue;
        for (int k = 0; k < COLUMNS; k++)
            rows[n * COLUMNS + (size_t)k] =
                index[k] < 0
                    ? PR_NAN
                    : columns[k].factor * trace->values[row * PR_TRACE_COLUMNS + (size_t)index[k]] +
                          columns[k].offset;
        n++;
    }
    return n;
}

/* Start and end of each stretch in which the winch draws current, minutes. */
static size_t fill_pulls(const double *rows, size_t n_rows, double *pulls)
{
    enum { TIME, WINCH = 4 };
    size_t n = 0;
    for (size_t row = 0; row < n_rows; row++) {
        const double *now = &rows[row * COLUMNS];
        if (!(now[WINCH] > 0.0))
            continue;
        if (row == 0 || !(now[WINCH - COLUMNS] > 0.0)) {
            pulls[2 * n] = now[TIME];
            n++;
        }
        pulls[2 * n - 1] = now[TIME];
    }
    return n;
}

static pr_status draw(const pr_recovery_plot *plot, const double *rows, size_t n_rows,
                      const double *pulls, size_t n_pulls, pr_plot_format format, FILE *out,
                      char *message, size_t message_size)
{
    const pr_limits *limits = plot->limits;
    static const double no_pull[2] = {PR_NAN, PR_NAN};
    const pr_plot_table tables[] = {
        {.name = "rows", .n_rows = n_rows, .n_columns = COLUMNS, .values = rows},
        {.name = "pulls",
         .n_rows = n_pulls > 0 ? n_pulls : 1,
         .n_columns = 2,
         .values = n_pulls > 0 ? pulls : no_pull}};
    const pr_plot_variable variables[] = {
        {"title", plot->title, 0.0},
        {"answer", plot->answer, 0.0},
        {"degree", pr_units_name(plot->units, PR_QUANTITY_TEMPERATURE), 0.0},
        {"length", pr_units_name(plot->units, PR_QUANTITY_DISTANCE), 0.0},
        {"has_motor", NULL, plot->has_motor ? 1.0 : 0.0},
        {"has_way", NULL, plot->has_way ? 1.0 : 0.0},
        {"reserve", NULL, limits->on[PR_LIMIT_RESERVE] ? 100.0 * limits->reserve_frac : PR_NAN},
        {"box_min", NULL, limits->on[PR_LIMIT_VOLTAGE] ? limits->bus_min_V : PR_NAN},
        {"motor_max", NULL,
         limits->on[PR_LIMIT_MOTOR_HEAT]
             ? pr_units_shown(plot->units, PR_QUANTITY_TEMPERATURE, limits->motor_max_degC)
             : PR_NAN}};
    const pr_plot picture = {.script = "recovery",
                             .tables = tables,
                             .n_tables = sizeof tables / sizeof tables[0],
                             .variables = variables,
                             .n_variables = sizeof variables / sizeof variables[0]};
    return pr_plot_draw(&picture, format, out, message, message_size);
}

pr_recovery_plot pr_recovery_plot_of(const pr_scenario *scenario, const pr_limits *limits,
                                     const pr_trace *trace, const char *answer, pr_units units)
{
    const pr_system_def *system = &scenario->system;
    return (pr_recovery_plot){.title = scenario->title,
                              .answer = answer != NULL ? answer : "",
                              .trace = trace,
                              .limits = limits,
                              .starter_post = system->starter_post,
                              .winch_post = system->winch_post,
                              .has_motor = system->has_winch,
                              .has_way = system->has_winch && system->work == PR_WORK_DEMAND,
                              .units = units};
}

pr_status pr_recovery_plot_draw(const pr_recovery_plot *plot, pr_plot_format format, FILE *out,
                                char *message, size_t message_size)
{
    const size_t n = plot->trace->n_rows;
    snprintf(message, message_size, "out of memory");
    if (n == 0) {
        snprintf(message, message_size, "nothing was simulated");
        return PR_ERR_INPUT;
    }
    double *rows = calloc(n, COLUMNS * sizeof *rows);
    double *pulls = calloc(n, 2 * sizeof *pulls);
    pr_status status = PR_ERR_NOMEM;
    if (rows != NULL && pulls != NULL) {
        const size_t n_rows = fill_rows(plot, rows);
        const size_t n_pulls = fill_pulls(rows, n_rows, pulls);
        status = draw(plot, rows, n_rows, pulls, n_pulls, format, out, message, message_size);
    }
    free(rows);
    free(pulls);
    return status;
}
