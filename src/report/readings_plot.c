/* The readings as a picture: one column per reading, one row per fault, the bands where the meter
 * may stand over the band of the healthy rig. See readings_report.h.
 *
 * Each column has its own scale, so that a band of a tenth of a volt shows: x = (V - least) /
 * (most - least) over all faults that the rig can have and what was measured. */
#include "report/readings_report.h"

#include "base/number.h"

#include <math.h>

enum { BAND_COLUMNS = 7, HEAD_COLUMNS = 4, CELLS = PR_FAULT_COUNT * PR_READING_COUNT };

typedef struct table_values {
    size_t n_bands, n_heads, n_rows;
    double bands[CELLS * BAND_COLUMNS];
    double heads[PR_READING_COUNT * HEAD_COLUMNS];
    double rows[PR_FAULT_COUNT];
    const char *head[PR_READING_COUNT], *row[PR_FAULT_COUNT];
} table_values;

typedef struct scale {
    double least_V, most_V;
} scale;

static double on_scale(const scale *s, double V)
{
    return (V - s->least_V) / (s->most_V - s->least_V);
}

static scale scale_of(const pr_readings_report *report, int reading)
{
    static const double NARROWEST_V = 0.4;
    const pr_readings *r = report->readings;
    scale s = {PR_INF, -PR_INF};
    for (int f = 0; f < PR_FAULT_COUNT; f++)
        if (r->fault[f].possible) {
            s.least_V = fmin(s.least_V, r->fault[f].at[reading].low_V);
            s.most_V = fmax(s.most_V, r->fault[f].at[reading].high_V);
        }
    if (report->measured != NULL && report->measured->given[reading]) {
        s.least_V = fmin(s.least_V, report->measured->V[reading]);
        s.most_V = fmax(s.most_V, report->measured->V[reading]);
    }
    const double wider_V = fmax(0.0, NARROWEST_V - (s.most_V - s.least_V)) / 2.0;
    return (scale){s.least_V - wider_V, s.most_V + wider_V};
}

/* Order of the rows: the healthy rig, then as listed; with a ranking the best first. */
static size_t order_faults(const pr_readings_report *report, pr_rig_fault order[PR_FAULT_COUNT])
{
    size_t n = 0;
    if (report->ranking != NULL) {
        for (size_t i = 0; i < report->ranking->n; i++)
            order[n++] = report->ranking->fit[i].fault;
        return n;
    }
    for (int f = 0; f < PR_FAULT_COUNT; f++)
        if (report->readings->fault[f].possible)
            order[n++] = (pr_rig_fault)f;
    return n;
}

static void fill_column(const pr_readings_report *report, int reading, const pr_rig_fault *order,
                        table_values *t)
{
    const pr_readings *r = report->readings;
    const pr_reading_band *healthy = &r->fault[PR_FAULT_NONE].at[reading];
    const scale s = scale_of(report, reading);
    const bool measured = report->measured != NULL && report->measured->given[reading];
    for (size_t k = 0; k < t->n_rows; k++) {
        const pr_reading_band *band = &r->fault[order[k]].at[reading];
        if (isnan(band->V))
            continue;
        double *cell = &t->bands[BAND_COLUMNS * t->n_bands++];
        cell[0] = (double)t->n_heads;
        cell[1] = (double)k;
        cell[2] = on_scale(&s, band->low_V);
        cell[3] = on_scale(&s, band->V);
        cell[4] = on_scale(&s, band->high_V);
        cell[5] = band->V;
        cell[6] = band->V >= healthy->low_V && band->V <= healthy->high_V ? 0.0 : 1.0;
    }
    double *head = &t->heads[HEAD_COLUMNS * t->n_heads];
    head[0] = on_scale(&s, healthy->low_V);
    head[1] = on_scale(&s, healthy->high_V);
    head[2] = measured ? on_scale(&s, report->measured->V[reading]) : PR_NAN;
    head[3] = measured ? report->measured->V[reading] : PR_NAN;
    t->head[t->n_heads++] = pr_reading_words((pr_reading)reading);
}

static void fill(const pr_readings_report *report, table_values *t)
{
    pr_rig_fault order[PR_FAULT_COUNT];
    *t = (table_values){.n_rows = order_faults(report, order)};
    for (size_t k = 0; k < t->n_rows; k++) {
        t->rows[k] = (double)k;
        t->row[k] = pr_fault_words(order[k]);
    }
    for (int i = 0; i < PR_READING_COUNT; i++)
        if (!isnan(report->readings->fault[PR_FAULT_NONE].at[i].V))
            fill_column(report, i, order, t);
}

pr_status pr_readings_plot_draw(const pr_readings_report *report, pr_plot_format format, FILE *out,
                                char *message, size_t message_size)
{
    table_values t;
    char answer[PR_READINGS_ANSWER_BYTES] = "";
    fill(report, &t);
    if (report->ranking != NULL)
        pr_readings_answer(report, answer);
    const pr_plot_table tables[] = {{"bands", t.n_bands, BAND_COLUMNS, t.bands, NULL},
                                    {"heads", t.n_heads, HEAD_COLUMNS, t.heads, t.head},
                                    {"rows", t.n_rows, 1, t.rows, t.row}};
    const pr_plot_variable variables[] = {{"title", report->scenario->title, 0.0},
                                          {"answer", answer, 0.0},
                                          {"n_rows", NULL, (double)t.n_rows},
                                          {"n_columns", NULL, (double)t.n_heads}};
    const pr_plot picture = {.script = "readings",
                             .tables = tables,
                             .n_tables = sizeof tables / sizeof *tables,
                             .variables = variables,
                             .n_variables = sizeof variables / sizeof *variables};
    return pr_plot_draw(&picture, format, out, message, message_size);
}
