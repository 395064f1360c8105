/* A remedy in words: what to do, what it buys, what it takes. */
#ifndef PR_REPORT_REMEDY_WORDS_H
#define PR_REPORT_REMEDY_WORDS_H

#include "planner/remedies.h"
#include "report/units.h"

enum { PR_REMEDY_BYTES = 240 };

/* What to do, with the values that were computed with: "alternator of 160 A". Brief: without what
 * is only said about it. */
void pr_remedy_text(const pr_remedy *remedy, pr_units units, bool brief,
                    char text[PR_REMEDY_BYTES]);
/* "turns no into go", "saves 3 min 4 s", "12 m further". */
pr_text pr_remedy_effect(const pr_remedy *remedy, pr_units units);
/* "free", "needs help", "parts to fit". */
const char *pr_remedy_effort(pr_effort effort);
/* Is it worth a line: does it make a go of a no, save half a minute or get half a metre further? */
bool pr_remedy_matters(const pr_remedy *remedy);

#endif
