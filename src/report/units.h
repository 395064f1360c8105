/* Units of the text reports: SI inside, converted here and nowhere else. JSON and CSV always carry
 * the inside units, with the unit in the key. */
#ifndef PR_REPORT_UNITS_H
#define PR_REPORT_UNITS_H

#include "report/text.h"

typedef enum pr_units { PR_UNITS_METRIC, PR_UNITS_US } pr_units;

typedef enum pr_quantity {
    PR_QUANTITY_DISTANCE,         /* m: m, ft */
    PR_QUANTITY_FORCE,            /* N: kN, lbf */
    PR_QUANTITY_PLATE_FORCE,      /* N: kg, lbf, as winch and strap plates have it */
    PR_QUANTITY_WEIGHT,           /* N: kg, lb of the mass that weighs this */
    PR_QUANTITY_TEMPERATURE,      /* degC: °C, °F */
    PR_QUANTITY_TEMPERATURE_STEP, /* K: K, °F */
    PR_QUANTITY_ROPE_SPEED,       /* m/s: m/min, ft/min */
    PR_QUANTITY_VOLTAGE,          /* V */
    PR_QUANTITY_CURRENT,          /* A */
    PR_QUANTITY_CHARGE,           /* As: Ah */
    PR_QUANTITY_POWER,            /* W: W, hp */
    PR_QUANTITY_ENGINE_SPEED,     /* rpm */
    PR_QUANTITY_COUNT
} pr_quantity;

/* The number in the unit that is shown. */
double pr_units_shown(pr_units units, pr_quantity quantity, double si_value);
/* "ft", "kN", "°C"; never NULL. */
const char *pr_units_name(pr_units units, pr_quantity quantity);
/* "82 ft", "21.4 kN": with the decimals that a person needs. */
pr_text pr_units_text(pr_units units, pr_quantity quantity, double si_value);
/* The same number without its unit, for a table whose head names the unit. */
pr_text pr_units_number(pr_units units, pr_quantity quantity, double si_value);

#endif
