/* Who is to blame when values that are each allowed do not go together. Private to this layer. */
#ifndef PR_READER_BLAME_H
#define PR_READER_BLAME_H

#include "reader/reading.h"

/* The numbers of a section that were given, as "capacity 55 Ah, resistance 190 mohm"; cut to size.
 */
void pr_blame_given(const pr_section *section, char *text, size_t size);
/* The place of the first key that the file itself gives, else of the section. */
pr_place pr_blame_place(const pr_section *section, const char *const keys[], size_t n);

/* A label that no battery has: the one value without which it would do, and how far it may go; or
 * all of them. */
void pr_blame_battery(pr_reader *reader, const pr_section *section, const pr_battery_def *def);
/* A message for every way in which plate, cut-in, table and efficiencies contradict each other. */
void pr_blame_alternator(pr_reader *reader, const pr_section *section,
                         const pr_alternator_def *def);

#endif
