/* Drawings of the plan's run as inline SVG: as wide as a phone, text at its reading size, colours
 * by the style of the page so that they follow light, dark and print. */
#include "report/page_html.h"
#include "report/page_parts.h"

#include <math.h>

enum { WIDTH = 340, HEIGHT = 170, LEFT = 38, RIGHT = 8, TOP = 10, BOTTOM = 24, POINTS_MAX = 500 };

typedef struct panel {
    const char *id, *head;
    const char *first, *second; /* column of the trace, by the starter's post */
    double factor, offset;
    double limit; /* NaN: none */
    const char *limit_words;
    int decimals;
    double span_least; /* smallest range that the axis shows */
} panel;

typedef struct axis {
    double low, high, step;
    double minutes;
} axis;

static double nice_step(double span, double n)
{
    const double raw = span / n, power = pow(10.0, floor(log10(raw)));
    const double share = raw / power;
    return power * (share < 1.5 ? 1.0 : share < 3.5 ? 2.0 : share < 7.5 ? 5.0 : 10.0);
}

static double value_at(const pr_trace *trace, const panel *p, int column, size_t row)
{
    return p->factor * trace->values[row * PR_TRACE_COLUMNS + (size_t)column] + p->offset;
}

static double minutes_at(const pr_trace *trace, size_t row)
{
    return trace->values[row * PR_TRACE_COLUMNS] / 60.0;
}

static bool find_axis(const pr_trace *trace, const panel *p, int column, axis *a)
{
    double low = HUGE_VAL, high = -HUGE_VAL;
    for (size_t row = 0; row < trace->n_rows; row++) {
        const double y = value_at(trace, p, column, row);
        if (isfinite(y)) {
            low = fmin(low, y);
            high = fmax(high, y);
        }
    }
    if (!(low <= high))
        return false;
    if (!isnan(p->limit)) {
        low = fmin(low, p->limit);
        high = fmax(high, p->limit);
    }
    if (high - low < p->span_least)
        high = low + p->span_least;
    a->step = nice_step(high - low, 4.0);
    a->low = a->step * floor(low / a->step);
    a->high = a->step * ceil(high / a->step);
    a->minutes = fmax(minutes_at(trace, trace->n_rows - 1), 1e-3);
    return true;
}

static double x_of(const axis *a, double minutes)
{
    return LEFT + (WIDTH - LEFT - RIGHT) * minutes / a->minutes;
}

static double y_of(const axis *a, double y)
{
    return TOP + (HEIGHT - TOP - BOTTOM) * (a->high - y) / (a->high - a->low);
}

static void write_grid(const axis *a, int decimals, FILE *out)
{
    const int n = (int)lround((a->high - a->low) / a->step);
    for (int i = 0; i <= n; i++) {
        const double y = a->low + a->step * (double)i;
        fprintf(out, "<path class=\"grid\" d=\"M%d %.1fH%d\"/>", LEFT, y_of(a, y), WIDTH - RIGHT);
        fprintf(out, "<text x=\"%d\" y=\"%.1f\" class=\"end\">%s</text>\n", LEFT - 5,
                y_of(a, y) + 4.0, pr_text_number(y, decimals).s);
    }
    const double step = nice_step(a->minutes, 5.0);
    for (double m = 0.0; m <= a->minutes * 1.0001; m += step) {
        const double x = x_of(a, m);
        const bool last = m + step > a->minutes * 1.0001;
        fprintf(out, "<text x=\"%.1f\" y=\"%d\" class=\"%s\">%.4g%s</text>\n",
                last ? fmin(x, WIDTH - RIGHT - 12.0) : x, HEIGHT - 6, "mid", m, last ? " min" : "");
    }
}

/* Shaded bands where the winch draws current. */
static void write_pulls(const pr_trace *trace, const axis *a, FILE *out)
{
    const int winch = pr_trace_column_index("winch_A");
    double from = -1.0;
    for (size_t row = 0; row < trace->n_rows; row++) {
        const bool on = trace->values[row * PR_TRACE_COLUMNS + (size_t)winch] > 0.0;
        const double m = minutes_at(trace, row);
        if (on && from < 0.0)
            from = m;
        if (from >= 0.0 && (!on || row + 1 == trace->n_rows)) {
            fprintf(
                out, "<rect class=\"band\" x=\"%.1f\" y=\"%d\" width=\"%.1f\" height=\"%d\"/>\n",
                x_of(a, from), TOP, fmax(x_of(a, m) - x_of(a, from), 0.8), HEIGHT - TOP - BOTTOM);
            from = -1.0;
        }
    }
}

static void write_curve(const pr_trace *trace, const panel *p, int column, const axis *a, FILE *out)
{
    const size_t stride = trace->n_rows / POINTS_MAX + 1;
    fputs("<path class=\"curve\" d=\"", out);
    char verb = 'M';
    for (size_t row = 0; row < trace->n_rows; row++) {
        /* both ends of a phase stand at the same time: always kept */
        const bool end = row == 0 || row + 1 == trace->n_rows ||
                         !(minutes_at(trace, row) > minutes_at(trace, row - 1)) ||
                         !(minutes_at(trace, row + 1) > minutes_at(trace, row));
        const double y = value_at(trace, p, column, row);
        if ((!end && row % stride != 0) || !isfinite(y))
            continue;
        fprintf(out, "%c%.1f %.1f", verb, x_of(a, minutes_at(trace, row)), y_of(a, y));
        verb = 'L';
    }
    fputs("\"/>\n", out);
}

static void extremes(const pr_trace *trace, const panel *p, int column, double *low, double *high)
{
    *low = HUGE_VAL;
    *high = -HUGE_VAL;
    for (size_t row = 0; row < trace->n_rows; row++) {
        *low = fmin(*low, value_at(trace, p, column, row));
        *high = fmax(*high, value_at(trace, p, column, row));
    }
}

static void write_panel(const pr_page *page, const panel *p, FILE *out)
{
    const pr_trace *trace = page->trace;
    const pr_post post = page->report->scenario->system.starter_post;
    const int column = pr_trace_column_index(post == PR_POST_MAIN ? p->first : p->second);
    axis a;
    if (column < 0 || !find_axis(trace, p, column, &a))
        return;
    double low, high;
    extremes(trace, p, column, &low, &high);
    fputs("<figure>\n<figcaption>", out);
    pr_html_printf(out, "strong", NULL, "%s", p->head);
    pr_html_printf(out, "span", NULL, " from %s to %s", pr_text_number(low, p->decimals).s,
                   pr_text_number(high, p->decimals).s);
    if (!isnan(p->limit))
        pr_html_printf(out, "span", NULL, "; %s %s", p->limit_words,
                       pr_text_number(p->limit, p->decimals).s);
    fprintf(out,
            "</figcaption>\n<svg viewBox=\"0 0 %d %d\" role=\"img\" aria-label=\"%s over time\">\n",
            WIDTH, HEIGHT, p->head);
    write_pulls(trace, &a, out);
    write_grid(&a, a.step < 1.0 ? 1 : 0, out);
    if (!isnan(p->limit))
        fprintf(out, "<path class=\"limit\" d=\"M%d %.1fH%d\"/>\n", LEFT, y_of(&a, p->limit),
                WIDTH - RIGHT);
    write_curve(trace, p, column, &a, out);
    fputs("</svg>\n</figure>\n", out);
}

static double limit_of(const pr_page *page, pr_limit limit, double value)
{
    return page->report->set->limits.on[limit] ? value : __builtin_nan("");
}

void pr_page_write_plots(const pr_page *page, FILE *out)
{
    if (page->trace == NULL || page->trace->n_rows < 2)
        return;
    const pr_limits *l = &page->report->set->limits;
    const pr_units u = page->units;
    const double degree_0 = pr_units_shown(u, PR_QUANTITY_TEMPERATURE, 0.0);
    const double degree_1 = pr_units_shown(u, PR_QUANTITY_TEMPERATURE, 1.0) - degree_0;
    pr_text motor, way;
    snprintf(motor.s, sizeof motor.s, "Winch motor, %s", pr_units_name(u, PR_QUANTITY_TEMPERATURE));
    snprintf(way.s, sizeof way.s, "Way, %s", pr_units_name(u, PR_QUANTITY_DISTANCE));
    const panel panels[] = {
        {"charge", "Real charge, %", "soc", "soc_second", 100.0, 0.0,
         limit_of(page, PR_LIMIT_RESERVE, 100.0 * l->reserve_frac), "keep", 0, 10.0},
        {"volts", "Fuse box, V", "bus_V", "bus_V", 1.0, 0.0,
         limit_of(page, PR_LIMIT_VOLTAGE, l->bus_min_V), "at least", 1, 1.0},
        {"heat", motor.s, "armature_degC", "armature_degC", degree_1, degree_0,
         limit_of(page, PR_LIMIT_MOTOR_HEAT,
                  pr_units_shown(u, PR_QUANTITY_TEMPERATURE, l->motor_max_degC)),
         "at most", 0, 10.0},
        {"way", way.s, "travel_m", "travel_m", pr_units_shown(u, PR_QUANTITY_DISTANCE, 1.0), 0.0,
         __builtin_nan(""), "", 1, 1.0},
    };
    fputs("<section aria-labelledby=\"plots\">\n<h2 id=\"plots\">The plan over time</h2>\n"
          "<p class=\"fine\">Bands are pulls, dashes are limits.</p>\n<div class=\"plots\">\n",
          out);
    for (size_t i = 0; i < sizeof panels / sizeof panels[0]; i++)
        write_panel(page, &panels[i], out);
    fputs("</div>\n</section>\n", out);
}
