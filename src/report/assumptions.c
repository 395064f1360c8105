/* The defaults that an answer stands on: see assumptions.h.
 *
 * A file leaves out far more than a driver can read, so that only the keys below are shown unless
 * all are asked for: what one can find out or change on the spot, or what moves the answer most.
 * Entries taken from the catalogue are always shown. */
#include "report/assumptions.h"

#include "report/grid.h"
#include "report/words.h"

#include <string.h>

static const char *const telling[] = {
    "air_temperature",
    "engine.class",
    "engine.idle",
    "engine.fast_idle",
    "engine.temperature",
    "battery.plates",
    "battery.reserve_capacity",
    "battery.cold_cranking",
    "battery.health",
    "battery.state_of_charge",
    "battery.temperature",
    "second_battery.reserve_capacity",
    "second_battery.cold_cranking",
    "second_battery.health",
    "second_battery.state_of_charge",
    "alternator.low_current",
    "alternator.pulley_ratio",
    "alternator.set_voltage",
    "alternator.output_factor",
    "cables.winch",
    "cables.alternator",
    "cables.link",
    "loads",
    "winch.motor",
    "winch.rated_time",
    "winch.rated_rise",
    "winch.blocks",
    "winch.rope.reserve_wraps",
    "recovery.mire",
    "recovery.mire_method",
    "recovery.slope",
    "recovery.margin",
    "recovery.anchor_distance",
    "limits.reserve",
    "limits.reserve_margin",
    "limits.lowest_voltage",
    "limits.motor_temperature",
    "plan.pull",
    "plan.shortest_rest",
    "plan.longest_total",
    "plan.pull_engine",
    "plan.rest_engine",
    "plan.rerig_time",
};

static bool is_telling(const pr_assumption *assumption)
{
    if (strncmp(assumption->source, "catalogue", 9) == 0)
        return true;
    for (size_t i = 0; i < sizeof telling / sizeof telling[0]; i++)
        if (strcmp(assumption->key, telling[i]) == 0)
            return true;
    return false;
}

static void add_row(pr_grid *grid, const pr_assumption *assumption)
{
    char text[2 * PR_TEXT_MAX + 8];
    const bool sourced = assumption->source[0] != '\0';
    snprintf(text, sizeof text, sourced ? "%s (%s)" : "%s%s", assumption->value,
             assumption->source);
    pr_grid_row(grid);
    pr_grid_cell(grid, assumption->key);
    pr_grid_cell(grid, text);
}

/* What a maker's table says, and the nearest component does not. */
static void write_fits(const pr_scenario *scenario, const pr_style *style, FILE *out)
{
    if (!style->all || scenario->n_fits == 0)
        return;
    pr_style_heading(style, out, "Fitted to tables of the makers");
    for (int i = 0; i < scenario->n_fits; i++)
        fprintf(out, "%s: %s\n", scenario->fit[i].key, pr_words_fit(&scenario->fit[i]).s);
}

static bool is_of_rig(const pr_assumption *assumption)
{
    static const char *const others[] = {"recovery", "limits.", "plan."};
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++)
        if (strncmp(assumption->key, others[i], strlen(others[i])) == 0)
            return false;
    return true;
}

pr_status pr_assumptions_write_text(const pr_scenario *scenario, bool rig_alone,
                                    const pr_style *style, FILE *out)
{
    size_t left = 0;
    write_fits(scenario, style, out);
    pr_style_heading(style, out, "Assumed, because the file does not say");
    if (scenario->n_assumptions == 0) {
        fprintf(out, "nothing\n");
        return PR_OK;
    }
    pr_grid *grid = pr_grid_new(style);
    pr_grid_column(grid, "key", PR_ALIGN_LEFT);
    pr_grid_column(grid, "value (from)", PR_ALIGN_WRAP);
    for (size_t i = 0; i < scenario->n_assumptions; i++) {
        const pr_assumption *assumption = &scenario->assumption[i];
        if (rig_alone && !is_of_rig(assumption))
            continue;
        if (style->all || is_telling(assumption))
            add_row(grid, assumption);
        else
            left++;
    }
    const pr_status status = pr_grid_print(grid, out);
    if (left > 0)
        fprintf(out, "and %zu finer values by default: --all lists them.\n", left);
    return status;
}
