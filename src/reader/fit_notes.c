/* What fits leave over, and those that ended at a bound: see fit_notes.h.
 *
 * The bounds are those of physics/battery_fit.c (k' between 0.4 and 100 per hour; X, the bound
 * well over the available one, at least 0.02) and physics/motor_sheet.c (saturation between 0.02
 * and 50 times the amps of the last line, resistance between 0.02 and 0.95 of its volts over its
 * amps). A table or a high-rate point that is missed is a warning's worth. A plain label is met at
 * 20 h and at its reserve capacity in any case. Beyond these it is compared with Peukert's law,
 * which the model follows within some 10 % for ordinary starter batteries, many of which end at the
 * slow bound; a miss of more than half as much again is a note. */
#include "reader/fit_notes.h"

#include "base/number.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { MESSAGE_BYTES = 400 };

static const double SLOWEST_per_h = 0.4, FASTEST_per_h = 100.0, LEAST_BOUND_WELL = 0.02;
static const double LEAST_SATURATION = 0.02, MOST_SATURATION = 50.0;
static const double LEAST_DROP_FRAC = 0.02, MOST_DROP_FRAC = 0.95;
/* a search stops this near its end */
static const double NEAR = 1e-5;
static const double PEUKERT_MISS_FRAC = 0.15;

static bool is_at(double value, double bound)
{
    return fabs(value / bound - 1.0) <= NEAR;
}

/* What the wells ran into; NULL: nothing. */
static const char *bound_of_wells(const pr_battery *b)
{
    const double k_per_h = 3600.0 * b->k_per_s;
    if (is_at((1.0 - b->c_frac) / b->c_frac, LEAST_BOUND_WELL))
        return "next to no second well";
    if (is_at(k_per_h, SLOWEST_per_h))
        return "the slowest wells that are believed";
    return is_at(k_per_h, FASTEST_per_h) ? "the fastest wells that are believed" : NULL;
}

/* Minutes to 10.5 V from full at a current; NaN: not reached. */
static double minutes_to_empty(const pr_battery *b, double amps_A)
{
    double time_s;
    const pr_battery_state full = pr_battery_state_rested(b, 1.0, 25.0);
    if (pr_battery_discharge_time_s(b, full, -amps_A, 10.5, 1e6, &time_s, NULL) != PR_OK)
        return PR_NAN;
    return time_s / 60.0;
}

static void compare_with_peukert(pr_reader *r, const pr_section *s, const pr_battery *b,
                                 const char *with)
{
    const double mid_min = 12.0; /* in the middle of the times that the fit looks at */
    const double amps_A = b->i20_A * pow(20.0 * 60.0 / mid_min, 1.0 / b->peukert_n);
    const double found_min = minutes_to_empty(b, amps_A);
    char text[MESSAGE_BYTES];
    if (!(fabs(found_min / mid_min - 1.0) > PEUKERT_MISS_FRAC))
        return; /* near, or NaN: the resistance alone forbids that current */
    snprintf(text, sizeof text,
             "%s: this label is not quite met at high current: %.3g A empty it in %.3g min, by "
             "Peukert's law in %.3g min (%s)",
             s->path, amps_A, found_min, mid_min, with);
    pr_reader_say_once(r, PR_NOTE, s->place, text);
}

/* A section that is read again, as a variant, is the same fit. */
static void keep_fit(pr_reader *r, const pr_section *s, const char *key, int n_points, double rms,
                     bool of_time)
{
    enum { FITS_MAX = sizeof r->scenario->fit / sizeof *r->scenario->fit };
    pr_table_fit fit = {.n_points = n_points, .rms = rms, .of_time = of_time};
    snprintf(fit.key, sizeof fit.key, "%.40s.%.20s", s->path, key);
    int i = 0;
    while (i < r->scenario->n_fits && strcmp(r->scenario->fit[i].key, fit.key) != 0)
        i++;
    if (i == FITS_MAX)
        return;
    r->scenario->fit[i] = fit;
    if (i == r->scenario->n_fits)
        r->scenario->n_fits++;
}

void pr_fit_notes_battery(pr_reader *r, const pr_section *s, const pr_battery_def *def)
{
    pr_battery_def as_new = *def; /* as labelled: wear comes after the fit */
    as_new.health_capacity_frac = as_new.health_resistance_factor = 1.0;
    pr_battery b;
    if (pr_battery_derive(&as_new, &b) != PR_OK)
        return;
    const char *with = bound_of_wells(&b);
    char text[MESSAGE_BYTES];
    if (def->n_points > 0)
        keep_fit(r, s, "discharge_table", def->n_points, b.fit_rms_frac, true);
    if (with == NULL)
        return;
    if (def->n_points > 0) {
        snprintf(text, sizeof text,
                 "%s.discharge_table: not quite met: the nearest battery is %.2g %% off in time, "
                 "root mean square (%s)",
                 s->path, 100.0 * b.fit_rms_frac, with);
        pr_reader_say_once(r, PR_WARNING, pr_section_at(s, "discharge_table"), text);
    } else if (!isnan(def->high_rate_A)) {
        snprintf(text, sizeof text,
                 "%s.high_rate_time: not quite met: the nearest battery lasts %.3g min of these "
                 "%.3g min (%s)",
                 s->path, minutes_to_empty(&b, def->high_rate_A), def->high_rate_s / 60.0, with);
        pr_reader_say_once(r, PR_WARNING, pr_section_at(s, "high_rate_time"), text);
    } else {
        compare_with_peukert(r, s, &b, with);
    }
}

void pr_fit_notes_motor(pr_reader *r, const pr_section *s, const pr_motor *m)
{
    const pr_motor_def *d = &m->def;
    if (d->n_points == 0)
        return;
    keep_fit(r, s, "table", d->n_points, m->fit_rms_A, false);
    const double last_A = d->point_A[d->n_points - 1];
    const double drop_frac = m->r_ohm * last_A / d->sheet_V;
    const char *what = NULL;
    if (is_at(drop_frac, LEAST_DROP_FRAC) || is_at(drop_frac, MOST_DROP_FRAC))
        what = "resistance";
    else if (d->kind == PR_MOTOR_SERIES && isnan(d->saturation_A) &&
             (is_at(m->is_A / last_A, LEAST_SATURATION) ||
              is_at(m->is_A / last_A, MOST_SATURATION)))
        what = "saturation";
    if (what == NULL)
        return;
    char text[MESSAGE_BYTES];
    snprintf(text, sizeof text,
             "%s.table: no motor has this table: the nearest, with its %s at the edge of what is "
             "believed, is %.3g A off, root mean square",
             s->path, what, m->fit_rms_A);
    pr_reader_say_once(r, PR_WARNING, pr_section_at(s, "table"), text);
}
