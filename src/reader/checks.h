/* What must fit together once all values are read. Private to this layer. */
#ifndef PR_READER_CHECKS_H
#define PR_READER_CHECKS_H

#include "reader/reading.h"

/* Contradictions between values, with messages at the value to blame; then each component is
 * derived, so that a label no battery can have is reported at its place in the file. */
void pr_checks_run(pr_reader *reader);

#endif
