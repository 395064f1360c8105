/* Tables for pictures, and which maker makes which: see curves.h. */
#include "planner/curves.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

pr_curves pr_curves_init(const char *script, const char *title)
{
    pr_curves curves = {.script = script, .status = PR_OK};
    snprintf(curves.title, sizeof curves.title, "%s", title);
    return curves;
}

void pr_curves_free(pr_curves *curves)
{
    for (size_t i = 0; i < curves->n_tables; i++)
        free(curves->table[i].values);
    *curves = (pr_curves){.status = PR_OK};
}

void pr_curves_begin(pr_curves *curves, const char *name, size_t n_columns)
{
    if (curves->n_tables == PR_CURVES_TABLES || n_columns > PR_CURVES_COLUMNS) {
        curves->status = PR_ERR_INTERNAL;
        return;
    }
    curves->table[curves->n_tables++] = (pr_curve_table){.name = name, .n_columns = n_columns};
}

void pr_curves_row(pr_curves *curves, const double row[])
{
    if (curves->status != PR_OK || curves->n_tables == 0)
        return;
    pr_curve_table *t = &curves->table[curves->n_tables - 1];
    if (t->n_rows == t->capacity) {
        const size_t next = t->capacity == 0 ? 64 : 2 * t->capacity;
        const size_t row_bytes = t->n_columns * sizeof *t->values;
        double *values = next > SIZE_MAX / row_bytes ? NULL : realloc(t->values, next * row_bytes);
        if (values == NULL) {
            curves->status = PR_ERR_NOMEM;
            return;
        }
        t->values = values;
        t->capacity = next;
    }
    memcpy(&t->values[t->n_rows * t->n_columns], row, t->n_columns * sizeof *row);
    t->n_rows++;
}

void pr_curves_number_add(pr_curves *curves, const char *name, double value)
{
    if (curves->n_numbers == PR_CURVES_NUMBERS)
        curves->status = PR_ERR_INTERNAL;
    else
        curves->number[curves->n_numbers++] = (pr_curve_number){name, value};
}

typedef pr_status (*maker)(const pr_scenario *scenario, const pr_system *system, pr_curves *out);

static const maker makers[PR_CURVE_KINDS] = {
    [PR_CURVE_BATTERY] = pr_curves_battery,   [PR_CURVE_ALTERNATOR] = pr_curves_alternator,
    [PR_CURVE_WINCH] = pr_curves_winch,       [PR_CURVE_HEAT] = pr_curves_heat,
    [PR_CURVE_GROUND] = pr_curves_ground,     [PR_CURVE_RIGGING] = pr_curves_rigging,
    [PR_CURVE_CRANKING] = pr_curves_cranking, [PR_CURVE_CABLE] = pr_curves_cable,
    [PR_CURVE_FUSE] = pr_curves_fuse,         [PR_CURVE_LOAD] = pr_curves_load,
    [PR_CURVE_LINK] = pr_curves_link};

pr_status pr_curves_make(const pr_scenario *scenario, pr_curve_kind kind, pr_curves *curves)
{
    *curves = pr_curves_init("", scenario->title);
    if (kind >= PR_CURVE_KINDS)
        return PR_ERR_INTERNAL;
    pr_system *system = malloc(sizeof *system);
    if (system == NULL)
        return PR_ERR_NOMEM;
    pr_status status = pr_system_derive(&scenario->system, system, NULL);
    if (status == PR_OK)
        status = makers[kind](scenario, system, curves);
    free(system);
    return status == PR_OK ? curves->status : status;
}
