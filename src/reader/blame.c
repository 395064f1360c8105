/* Values that do not go together: see blame.h. A label is tried again without each of its optional
 * values; when that does, the value is to blame, and halving finds how far it might have gone. */
#include "reader/blame.h"

#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

void pr_blame_given(const pr_section *s, char *text, size_t size)
{
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = 0; i < s->schema->n_rows; i++) {
        const pr_node *node = s->given[i];
        if (node == NULL || isnan(s->value[i]) || node->kind != PR_NODE_SCALAR)
            continue;
        const int n = snprintf(text + used, size - used, "%s%s %.24s", used == 0 ? "" : ", ",
                               s->schema->rows[i].key, node->text);
        if (n < 0 || (size_t)n >= size - used) {
            snprintf(text + used, size - used, "%s", used + 4 < size ? "..." : "");
            return;
        }
        used += (size_t)n;
    }
}

pr_place pr_blame_place(const pr_section *s, const char *const keys[], size_t n)
{
    for (size_t i = 0; i < n; i++) {
        const int row = keys[i] == NULL ? -1 : pr_schema_find(s->schema, keys[i]);
        if (row >= 0 && s->given[row] != NULL && !s->from_catalogue[row])
            return pr_node_place(s->given[row]);
    }
    return n == 0 ? s->place : pr_section_at(s, keys[0]);
}

/* What a label may leave out. */
static const struct optional {
    const char *key, *second; /* a pair goes together */
    size_t offset, offset2;
} OPTIONAL[] = {
    {"reserve_capacity", NULL, offsetof(pr_battery_def, rc_min), 0},
    {"cold_cranking", NULL, offsetof(pr_battery_def, cca_A), 0},
    {"resistance", NULL, offsetof(pr_battery_def, resistance_ohm), 0},
    {"high_rate_time", "high_rate_current", offsetof(pr_battery_def, high_rate_s),
     offsetof(pr_battery_def, high_rate_A)},
    {"discharge_table", NULL, offsetof(pr_battery_def, n_points), 0},
};
enum { N_OPTIONAL = sizeof OPTIONAL / sizeof *OPTIONAL, TABLE = N_OPTIONAL - 1 };

static double *field(pr_battery_def *def, size_t offset)
{
    return (double *)(void *)((char *)def + offset);
}

static bool does(const pr_battery_def *def, pr_battery *made)
{
    return pr_battery_derive(def, made) == PR_OK;
}

static bool does_without(const pr_battery_def *def, int k, pr_battery *made)
{
    pr_battery_def less = *def;
    if (k == TABLE)
        less.n_points = 0;
    else
        *field(&less, OPTIONAL[k].offset) = PR_NAN;
    if (OPTIONAL[k].second != NULL)
        *field(&less, OPTIONAL[k].offset2) = PR_NAN;
    return does(&less, made);
}

/* The last value that still does, between one that does not and the one that the rest implies. */
static double last_that_does(const pr_battery_def *def, int k, const pr_battery *implied)
{
    pr_battery_def trial = *def, filled = implied->def;
    pr_battery made;
    double *value = field(&trial, OPTIONAL[k].offset);
    double bad = *value, good = *field(&filled, OPTIONAL[k].offset);
    if (OPTIONAL[k].offset == offsetof(pr_battery_def, resistance_ohm) && isnan(good))
        good = implied->r25_ohm * implied->r0_share;
    *value = good;
    if (OPTIONAL[k].second != NULL || k == TABLE || isnan(good) || !does(&trial, &made))
        return PR_NAN;
    for (int i = 0; i < 24; i++) {
        *value = 0.5 * (good + bad);
        if (does(&trial, &made))
            good = *value;
        else
            bad = *value;
    }
    return good;
}

void pr_blame_battery(pr_reader *r, const pr_section *s, const pr_battery_def *def)
{
    char given[200];
    pr_blame_given(s, given, sizeof given);
    for (int k = 0; k < N_OPTIONAL; k++) {
        pr_battery made;
        const struct optional *o = &OPTIONAL[k];
        if (!pr_section_has(s, o->key) || !does_without(def, k, &made))
            continue;
        const char *const keys[] = {o->key, o->second, "capacity"};
        const double most = last_that_does(def, k, &made);
        const pr_row *row = &s->schema->rows[pr_schema_find(s->schema, o->key)];
        char allowed[80] = "";
        if (!isnan(most))
            snprintf(allowed, sizeof allowed, "; %s %.3g %s goes with the rest",
                     most < pr_section_value(s, o->key) ? "up to" : "from",
                     pr_value_shown(r, row, most), row->unit);
        pr_reader_error(r, pr_blame_place(s, keys, 3), "%s.%s: no battery has such a label (%s)%s",
                        s->path, o->key, given, allowed);
        return;
    }
    pr_reader_error(r, pr_blame_place(s, (const char *const[]){"capacity"}, 1),
                    "%s: no battery has such a label: %s do not go together", s->path, given);
}

static void blame_table(pr_reader *r, const pr_section *s, const pr_alternator_def *a)
{
    if (a->n_points > 0 && a->point_A[0] > 0.0 && a->cut_in_rpm >= a->point_rpm[0])
        pr_reader_error(r, pr_blame_place(s, (const char *const[]){"output_table", "cut_in"}, 2),
                        "%s.output_table: begins with %.4g A at %.4g rpm, not above cut_in, %.4g "
                        "rpm; give a lower cut_in, or a first line with 0 A",
                        s->path, a->point_A[0], a->point_rpm[0], a->cut_in_rpm);
}

/* A curve that bends down goes through cut-in and both plate points only when the lower one lies
 * above the straight line to the other. */
static void blame_plate(pr_reader *r, const pr_section *s, const pr_alternator_def *a)
{
    static const char *const keys[] = {"low_current", "rated_current", "cut_in"};
    if (a->n_points > 0 || isnan(a->idle_A))
        return;
    const double line_A =
        a->rated_A * (a->idle_rpm - a->cut_in_rpm) / (a->rated_rpm - a->cut_in_rpm) * (1.0 + 1e-3);
    if (a->idle_A <= line_A)
        pr_reader_error(r, pr_blame_place(s, keys, 3),
                        "%s.low_current: %.4g A at %.4g rpm is too little for %.4g A at %.4g rpm: "
                        "with output from %.4g rpm on, more than %.3g A is wanted",
                        s->path, a->idle_A, a->idle_rpm, a->rated_A, a->rated_rpm, a->cut_in_rpm,
                        line_A);
}

void pr_blame_alternator(pr_reader *r, const pr_section *s, const pr_alternator_def *a)
{
    static const char *const shares[] = {"efficiency_full", "efficiency_half"};
    static const char *const speeds[] = {"rated_speed", "cut_in"};
    static const double LOW_ABOVE_rpm = 450.0; /* of a plate without its lower point */
    blame_table(r, s, a);
    blame_plate(r, s, a);
    if (isnan(a->idle_A) && a->n_points == 0 && a->rated_rpm <= a->cut_in_rpm + LOW_ABOVE_rpm)
        pr_reader_error(r, pr_blame_place(s, speeds, 2),
                        "%s.rated_speed: %.4g rpm is not above %.4g rpm, cut_in and %.0f rpm",
                        s->path, a->rated_rpm, a->cut_in_rpm + LOW_ABOVE_rpm, LOW_ABOVE_rpm);
    if (a->efficiency_half < a->efficiency_full || a->efficiency_half >= 2.0 * a->efficiency_full)
        pr_reader_error(r, pr_blame_place(s, shares, 2),
                        "%s.efficiency_full: %.4g %%; with efficiency_half, %.4g %%, it must be "
                        "above %.4g %% and at most that",
                        s->path, 100.0 * a->efficiency_full, 100.0 * a->efficiency_half,
                        50.0 * a->efficiency_half);
}
