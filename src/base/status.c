/* Texts of the status list. */
#include "base/status.h"

#include <stddef.h>

const char *pr_status_text(pr_status status)
{
    static const char *const texts[] = {
#define PR_STATUS_TEXT(name, text) [name] = text,
        PR_STATUS_LIST(PR_STATUS_TEXT)
#undef PR_STATUS_TEXT
    };
    const size_t i = (size_t)status;
    if (i >= sizeof texts / sizeof texts[0])
        return "unknown status";
    return texts[i];
}
