/* Units of the text reports: see units.h.
 *
 * shown = value * factor + offset. Factors: 1 ft = 0.3048 m, 1 lb = 0.45359237 kg, standard gravity
 * 9.80665 m/s2, all exact by definition (NIST Special Publication 811, 2008, appendix B);
 * 1 hp = 550 ft lbf/s. */
#include "report/units.h"

#include <math.h>
#include <stdbool.h>

#define FOOT_m        0.3048
#define POUND_kg      0.45359237
#define GRAVITY_mps2  9.80665
#define POUND_FORCE_N (POUND_kg * GRAVITY_mps2)
#define HORSEPOWER_W  (550.0 * FOOT_m * POUND_FORCE_N)

typedef struct shown_unit {
    const char *name;
    double factor, offset;
    int decimals;
    double step; /* rounded to a multiple of this; 0: to the decimals */
} shown_unit;

static const shown_unit shown_units[PR_QUANTITY_COUNT][2] = {
    [PR_QUANTITY_DISTANCE] = {{"m", 1.0, 0.0, 1, 0.0}, {"ft", 1.0 / FOOT_m, 0.0, 0, 0.0}},
    [PR_QUANTITY_FORCE] = {{"kN", 1e-3, 0.0, 1, 0.0}, {"lbf", 1.0 / POUND_FORCE_N, 0.0, 0, 10.0}},
    [PR_QUANTITY_PLATE_FORCE] = {{"kg", 1.0 / GRAVITY_mps2, 0.0, 0, 10.0},
                                 {"lbf", 1.0 / POUND_FORCE_N, 0.0, 0, 10.0}},
    [PR_QUANTITY_WEIGHT] = {{"kg", 1.0 / GRAVITY_mps2, 0.0, 0, 0.0},
                            {"lb", 1.0 / POUND_FORCE_N, 0.0, 0, 0.0}},
    [PR_QUANTITY_TEMPERATURE] = {{"°C", 1.0, 0.0, 0, 0.0}, {"°F", 1.8, 32.0, 0, 0.0}},
    [PR_QUANTITY_TEMPERATURE_STEP] = {{"K", 1.0, 0.0, 0, 0.0}, {"°F", 1.8, 0.0, 0, 0.0}},
    [PR_QUANTITY_ROPE_SPEED] = {{"m/min", 60.0, 0.0, 1, 0.0},
                                {"ft/min", 60.0 / FOOT_m, 0.0, 1, 0.0}},
    [PR_QUANTITY_VOLTAGE] = {{"V", 1.0, 0.0, 1, 0.0}, {"V", 1.0, 0.0, 1, 0.0}},
    [PR_QUANTITY_CURRENT] = {{"A", 1.0, 0.0, 0, 0.0}, {"A", 1.0, 0.0, 0, 0.0}},
    [PR_QUANTITY_CHARGE] = {{"Ah", 1.0 / 3600.0, 0.0, 1, 0.0}, {"Ah", 1.0 / 3600.0, 0.0, 1, 0.0}},
    [PR_QUANTITY_POWER] = {{"W", 1.0, 0.0, 0, 0.0}, {"hp", 1.0 / HORSEPOWER_W, 0.0, 1, 0.0}},
    [PR_QUANTITY_ENGINE_SPEED] = {{"rpm", 1.0, 0.0, 0, 0.0}, {"rpm", 1.0, 0.0, 0, 0.0}},
};

static const shown_unit *unit_of(pr_units units, pr_quantity quantity)
{
    return &shown_units[quantity][units == PR_UNITS_US ? 1 : 0];
}

double pr_units_shown(pr_units units, pr_quantity quantity, double si_value)
{
    const shown_unit *unit = unit_of(units, quantity);
    return si_value * unit->factor + unit->offset;
}

const char *pr_units_name(pr_units units, pr_quantity quantity)
{
    return unit_of(units, quantity)->name;
}

static pr_text number_with(pr_units units, pr_quantity quantity, double si_value, bool whole)
{
    const shown_unit *unit = unit_of(units, quantity);
    double shown = pr_units_shown(units, quantity, si_value);
    if (unit->step > 0.0 && fabs(shown) >= 100.0 * unit->step)
        shown = unit->step * round(shown / unit->step);
    return pr_text_number(shown, whole ? 0 : unit->decimals);
}

pr_text pr_units_number(pr_units units, pr_quantity quantity, double si_value)
{
    return number_with(units, quantity, si_value, false);
}

pr_text pr_units_text(pr_units units, pr_quantity quantity, double si_value)
{
    const double shown = pr_units_shown(units, quantity, si_value);
    /* a whole number of metres reads better in a sentence without its ".0" */
    const bool whole = quantity == PR_QUANTITY_DISTANCE && fabs(shown - round(shown)) < 0.05;
    const pr_text number = number_with(units, quantity, si_value, whole);
    if (!isfinite(si_value))
        return number;
    pr_text with_unit;
    snprintf(with_unit.s, sizeof with_unit.s, "%.60s %s", number.s, pr_units_name(units, quantity));
    return with_unit;
}
