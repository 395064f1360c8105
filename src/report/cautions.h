/* The cautions that go with every plan and every page. */
#ifndef PR_REPORT_CAUTIONS_H
#define PR_REPORT_CAUTIONS_H

#include <stdbool.h>

enum { PR_CAUTIONS = 11 };
typedef struct pr_caution {
    const char *text;
    bool of_rope; /* for those who winch; the others hold for all work on the electrics, too */
} pr_caution;
extern const pr_caution pr_cautions[PR_CAUTIONS];

#endif
