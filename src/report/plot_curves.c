/* Pictures of curves: see plot_curves.h. */
#include "report/plot_curves.h"

enum { VARIABLES = PR_CURVES_NUMBERS + 12 };

typedef struct list {
    size_t n;
    pr_plot_variable item[VARIABLES];
} list;

static void add_number(list *l, const char *name, double value)
{
    l->item[l->n++] = (pr_plot_variable){name, NULL, value};
}

static void add_text(list *l, const char *name, const char *text)
{
    l->item[l->n++] = (pr_plot_variable){name, text, 0.0};
}

static void add_units(list *l, pr_units units)
{
    const double degree_0 = pr_units_shown(units, PR_QUANTITY_TEMPERATURE, 0.0);
    add_number(l, "force_k", pr_units_shown(units, PR_QUANTITY_FORCE, 1.0));
    add_text(l, "force_name", pr_units_name(units, PR_QUANTITY_FORCE));
    add_text(l, "force_format", units == PR_UNITS_US ? "%.0f" : "%.1f");
    add_number(l, "speed_k", pr_units_shown(units, PR_QUANTITY_ROPE_SPEED, 1.0));
    add_text(l, "speed_name", pr_units_name(units, PR_QUANTITY_ROPE_SPEED));
    add_number(l, "length_k", pr_units_shown(units, PR_QUANTITY_DISTANCE, 1.0));
    add_text(l, "length_name", pr_units_name(units, PR_QUANTITY_DISTANCE));
    add_number(l, "degree_k", pr_units_shown(units, PR_QUANTITY_TEMPERATURE, 1.0) - degree_0);
    add_number(l, "degree_0", degree_0);
    add_text(l, "degree_name", pr_units_name(units, PR_QUANTITY_TEMPERATURE));
}

pr_status pr_curves_plot_draw(const void *what, pr_plot_format format, FILE *out, char *message,
                              size_t message_size)
{
    const pr_curves_plot *plot = what;
    const pr_curves *curves = plot->curves;
    pr_plot_table tables[PR_CURVES_TABLES];
    list variables = {0};
    for (size_t i = 0; i < curves->n_tables; i++) {
        const pr_curve_table *t = &curves->table[i];
        tables[i] = (pr_plot_table){
            .name = t->name, .n_rows = t->n_rows, .n_columns = t->n_columns, .values = t->values};
    }
    add_text(&variables, "title", curves->title);
    add_text(&variables, "note", curves->note);
    for (size_t i = 0; i < curves->n_numbers; i++)
        add_number(&variables, curves->number[i].name, curves->number[i].value);
    add_units(&variables, plot->units);
    const pr_plot picture = {.script = curves->script,
                             .tables = tables,
                             .n_tables = curves->n_tables,
                             .variables = variables.item,
                             .n_variables = variables.n};
    return pr_plot_draw(&picture, format, out, message, message_size);
}
