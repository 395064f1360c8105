/* One pull and its rest close up: see plot_cycle.h.
 *
 * The meter's share: where the fuse box stands between the lowest of the pull (0) and what it reads
 * at the end of the rest (1): what a driver takes the needle for. The battery's share: charge back
 * over charge taken by the pull. The meter looks full when it is within 0.2 V of its last reading,
 * nearer than one reads a needle. */
#include "report/plot_cycle.h"

#include "base/number.h"

#include <stdlib.h>

enum { COLUMNS = 8, ROWS_SHOWN = 900 };
static const double BEFORE_s = 10.0, METER_NEAR_V = 0.2;

typedef struct span {
    size_t before, start, stop, end; /* rows: a little earlier, pull, its end, end of the rest */
    size_t number, count;            /* which pull, of how many */
} span;

typedef struct view {
    const pr_trace *trace;
    int time, winch, box, soc, battery, alternator, loads;
    span at;
} view;

static double value(const view *v, size_t row, int column)
{
    return column < 0 ? PR_NAN : v->trace->values[row * PR_TRACE_COLUMNS + (size_t)column];
}

static bool pulls(const view *v, size_t row)
{
    return value(v, row, v->winch) > 0.0;
}

static view look(const pr_trace *trace, pr_post post)
{
    const bool main = post == PR_POST_MAIN;
    return (view){.trace = trace,
                  .time = pr_trace_column_index("time_s"),
                  .winch = pr_trace_column_index("winch_A"),
                  .box = pr_trace_column_index("bus_V"),
                  .soc = pr_trace_column_index(main ? "soc" : "soc_second"),
                  .battery = pr_trace_column_index(main ? "battery_A" : "battery_second_A"),
                  .alternator = pr_trace_column_index("alternator_A"),
                  .loads = pr_trace_column_index("loads_A")};
}

/* First row of the k-th pull, counted from 1; n_rows when there is none. */
static size_t pull_start(const view *v, size_t k)
{
    size_t n = 0;
    for (size_t row = 0; row < v->trace->n_rows; row++)
        if (pulls(v, row) && (row == 0 || !pulls(v, row - 1)) && ++n == k)
            return row;
    return v->trace->n_rows;
}

static size_t count_pulls(const view *v)
{
    size_t n = 0;
    while (pull_start(v, n + 1) < v->trace->n_rows)
        n++;
    return n;
}

static bool find_span(view *v, size_t cycle)
{
    const size_t rows = v->trace->n_rows;
    v->at.count = count_pulls(v);
    v->at.number = cycle > 0 ? cycle : (v->at.count + 1) / 2;
    v->at.start = pull_start(v, v->at.number);
    if (v->at.number == 0 || v->at.start == rows)
        return false;
    v->at.stop = v->at.start;
    while (v->at.stop + 1 < rows && pulls(v, v->at.stop + 1))
        v->at.stop++;
    v->at.end = v->at.stop;
    while (v->at.end + 1 < rows && !pulls(v, v->at.end + 1))
        v->at.end++;
    v->at.before = v->at.start;
    while (v->at.before > 0 &&
           value(v, v->at.start, v->time) - value(v, v->at.before - 1, v->time) <= BEFORE_s)
        v->at.before--;
    return true;
}

typedef struct figures {
    double soc_before, soc_after, soc_end, lowest_V, last_V;
    double back_s, back_V, back_frac; /* when the meter looks full; NaN: not in this rest */
    double most_winch_A, battery_A, alternator_A; /* the latter when the winch takes that most */
} figures;

static double back_at(const view *v, const figures *f, size_t row)
{
    const double taken = f->soc_before - f->soc_after;
    return taken > 0.0 ? (value(v, row, v->soc) - f->soc_after) / taken : PR_NAN;
}

static figures measure(const view *v)
{
    figures f = {.soc_before = value(v, v->at.start, v->soc),
                 .soc_after = value(v, v->at.stop, v->soc),
                 .soc_end = value(v, v->at.end, v->soc),
                 .lowest_V = PR_INF,
                 .last_V = value(v, v->at.end, v->box),
                 .back_s = PR_NAN,
                 .back_V = PR_NAN,
                 .back_frac = PR_NAN};
    for (size_t row = v->at.start; row <= v->at.stop; row++) {
        const double V = value(v, row, v->box), A = value(v, row, v->winch);
        f.lowest_V = V < f.lowest_V ? V : f.lowest_V;
        f.most_winch_A = A > f.most_winch_A ? A : f.most_winch_A;
    }
    /* the last of several such moments, for then the battery is weakest */
    for (size_t row = v->at.start; row <= v->at.stop; row++)
        if (value(v, row, v->winch) >= f.most_winch_A - 0.5) {
            f.battery_A = value(v, row, v->battery);
            f.alternator_A = value(v, row, v->alternator);
        }
    for (size_t row = v->at.stop + 1; row <= v->at.end && !(f.back_s >= 0.0); row++)
        if (value(v, row, v->box) >= f.last_V - METER_NEAR_V) {
            f.back_s = value(v, row, v->time) - value(v, v->at.stop, v->time);
            f.back_V = value(v, row, v->box);
            f.back_frac = back_at(v, &f, row);
        }
    return f;
}

/* Rows close to a switch are all kept, the others thinned. */
static size_t fill(const view *v, const figures *f, double *rows)
{
    const size_t stride = (v->at.end - v->at.before) / ROWS_SHOWN + 1;
    const double rise_V = f->last_V - f->lowest_V;
    size_t n = 0;
    for (size_t row = v->at.before; row <= v->at.end; row++) {
        const bool near = (row + 8 > v->at.start && row < v->at.start + 24) ||
                          (row + 8 > v->at.stop && row < v->at.stop + 40) || row == v->at.end;
        if (!near && row % stride != 0)
            continue;
        const bool resting = row > v->at.stop;
        const double line[COLUMNS] = {
            value(v, row, v->time) - value(v, v->at.start, v->time),
            value(v, row, v->winch),
            value(v, row, v->alternator),
            value(v, row, v->battery),
            value(v, row, v->loads),
            value(v, row, v->box),
            resting && rise_V > 0.0 ? (value(v, row, v->box) - f->lowest_V) / rise_V : PR_NAN,
            resting ? back_at(v, f, row) : PR_NAN};
        for (int k = 0; k < COLUMNS; k++)
            rows[n * COLUMNS + (size_t)k] = line[k];
        n++;
    }
    return n;
}

static pr_status draw(const view *v, const pr_recovery_plot *plot, const double *rows,
                      size_t n_rows, pr_plot_format format, FILE *out, char *message,
                      size_t message_size)
{
    const figures f = measure(v);
    const double pull_s = value(v, v->at.stop, v->time) - value(v, v->at.start, v->time);
    const pr_plot_table tables[] = {
        {.name = "rows", .n_rows = n_rows, .n_columns = COLUMNS, .values = rows}};
    const pr_limits *limits = plot->limits;
    const pr_plot_variable variables[] = {
        {"title", plot->title, 0.0},
        {"number", NULL, (double)v->at.number},
        {"count", NULL, (double)v->at.count},
        {"pull_s", NULL, pull_s},
        {"rest_s", NULL, value(v, v->at.end, v->time) - value(v, v->at.stop, v->time)},
        {"winch_A", NULL, f.most_winch_A},
        {"battery_A", NULL, -f.battery_A},
        {"alternator_A", NULL, f.alternator_A},
        {"lowest_V", NULL, f.lowest_V},
        {"back_s", NULL, f.back_s},
        {"back_V", NULL, f.back_V},
        {"back_frac", NULL, f.back_frac},
        {"end_frac", NULL, back_at(v, &f, v->at.end)},
        {"soc_before", NULL, f.soc_before},
        {"soc_after", NULL, f.soc_after},
        {"soc_end", NULL, f.soc_end},
        {"box_min", NULL, limits->on[PR_LIMIT_VOLTAGE] ? limits->bus_min_V : PR_NAN}};
    const pr_plot picture = {.script = "cycle",
                             .tables = tables,
                             .n_tables = sizeof tables / sizeof *tables,
                             .variables = variables,
                             .n_variables = sizeof variables / sizeof *variables};
    return pr_plot_draw(&picture, format, out, message, message_size);
}

pr_status pr_cycle_plot_draw(const pr_recovery_plot *plot, size_t cycle, pr_post winch_post,
                             pr_plot_format format, FILE *out, char *message, size_t message_size)
{
    view v = look(plot->trace, winch_post);
    if (!find_span(&v, cycle)) {
        snprintf(message, message_size, "there is no pull %zu, only %zu", v.at.number, v.at.count);
        return PR_ERR_INPUT;
    }
    double *rows = calloc(v.at.end - v.at.before + 1, COLUMNS * sizeof *rows);
    snprintf(message, message_size, "out of memory");
    if (rows == NULL)
        return PR_ERR_NOMEM;
    const figures f = measure(&v);
    const size_t n_rows = fill(&v, &f, rows);
    const pr_status status = draw(&v, plot, rows, n_rows, format, out, message, message_size);
    free(rows);
    return status;
}
