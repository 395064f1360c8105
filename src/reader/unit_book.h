/* Units of the quantities that people write. Their dimensions are UDUNITS-2 units made in code,
 * each when it is first asked for: reading the library's database costs over 10 ms, and its own
 * parser of texts ends the process when memory runs out. Private to quantity.c. */
#ifndef PR_READER_UNIT_BOOK_H
#define PR_READER_UNIT_BOOK_H

#include "reader/quantity.h"

typedef struct pr_unit pr_unit;

/* The unit that a text means, kept by the book: valid until some 30 others were asked for; NULL:
 * unknown, or out of memory. */
const pr_unit *pr_unit_known(pr_quantities *quantities, const char *text);
bool pr_unit_out_of_memory(const pr_quantities *quantities);
/* Value between units; a mass stands for its weight and the other way round. PR_ERR_INPUT: they do
 * not fit together. */
pr_status pr_unit_convert(pr_quantities *quantities, double value, const pr_unit *from,
                          const pr_unit *to, double *converted);
/* What a unit measures: "a charge". `text` may be NULL. */
const char *pr_unit_kind(pr_quantities *quantities, const char *text, const pr_unit *unit);
/* Is this a scale with a zero of its own, like degC? */
bool pr_unit_has_offset(const char *symbol);
/* Symbol that may have been meant; NULL: none is near. */
const char *pr_unit_nearest(const char *given);

#endif
