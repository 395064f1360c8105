/* The cautions that go with every plan and every page. */
#ifndef PR_REPORT_CAUTIONS_H
#define PR_REPORT_CAUTIONS_H

#include <stddef.h>

enum { PR_CAUTIONS = 11 };
extern const char *const pr_cautions[PR_CAUTIONS];

#endif
