/* Quantities as people write them: "70 Ah", "2/0 AWG", "1:8". Numbers do not depend on the locale.
 *
 * The units are UDUNITS-2 units made in code, each when it is first asked for: reading the
 * library's database costs 10 ms, and its own parser ends the process when memory runs out. */
#ifndef PR_READER_QUANTITY_H
#define PR_READER_QUANTITY_H

#include "base/status.h"
#include "physics/wire.h"

#include <stdbool.h>
#include <stddef.h>

/* Standard gravity: the weight of a mass (exact, 3rd CGPM 1901). */
#define PR_GRAVITY_MPS2 9.80665

typedef struct pr_quantities pr_quantities;

/* NULL when out of memory. */
pr_quantities *pr_quantities_new(void);
void pr_quantities_free(pr_quantities *quantities);

enum { PR_QUANTITY_TEXT_MAX = 64, PR_QUANTITY_MESSAGE_MAX = 240 };

/* Reads a decimal number at the start of text ("-6", "+.5", "1e3"); false when there is none or it
 * does not fit a double. *end is what follows. */
bool pr_number_scan(const char *text, const char **end, double *value);

/* What the text must be, for messages: "a charge, like 70 Ah". */
void pr_quantity_describe(pr_quantities *quantities, const char *unit, char *text, size_t size);

/* Value of text in `unit`. A mass is taken where a force or weight is wanted (x standard gravity).
 * A bare number is refused unless unit is NULL (a plain number or ratio, also "2.7:1").
 * PR_ERR_INPUT: message says why and what fits; PR_ERR_NOMEM. */
pr_status pr_quantity_read(pr_quantities *quantities, const char *text, const char *unit,
                           double *value, char message[PR_QUANTITY_MESSAGE_MAX]);

/* A value from one unit to another; PR_ERR_INTERNAL when they do not fit (table mistakes). */
pr_status pr_quantity_convert(pr_quantities *quantities, double value, const char *from,
                              const char *to, double *converted);

/* "12 %" (rise over run), "1:8", "7 deg" in radians, uphill positive. */
pr_status pr_slope_read(pr_quantities *quantities, const char *text, double *slope_rad,
                        char message[PR_QUANTITY_MESSAGE_MAX]);

/* "2 AWG", "2/0 AWG", "4 SAE", "35 mm2". */
pr_status pr_gauge_read(const char *text, pr_gauge_kind *kind, double *gauge,
                        char message[PR_QUANTITY_MESSAGE_MAX]);

#endif
