/* What a person should hear about the fit of a label or a table. Private to this layer. */
#ifndef PR_READER_FIT_NOTES_H
#define PR_READER_FIT_NOTES_H

#include "reader/reading.h"

/* Keeps with the scenario how far the battery is from its table, if it has one. A message when the
 * wells of a battery that can be derived stand at the edge of the range in which they are sought:
 * then the nearest was taken, and the message says how near that is. */
void pr_fit_notes_battery(pr_reader *reader, const pr_section *section, const pr_battery_def *def);
/* The same for a motor that was fitted to a maker's table. */
void pr_fit_notes_motor(pr_reader *reader, const pr_section *section, const pr_motor *motor);

#endif
