/* Diagnostics: what is wrong, where, and with which value; collected in an object the caller owns.
 * A reader adds every mistake it finds and goes on; the caller prints them all at once. */
#ifndef PR_BASE_DIAG_H
#define PR_BASE_DIAG_H

#include <stddef.h>
#include <stdio.h>

typedef enum pr_severity { PR_NOTE, PR_WARNING, PR_ERROR } pr_severity;

/* Place in a file; line and column count from 1, 0 = not known. `file` may be NULL. */
typedef struct pr_place {
    const char *file;
    size_t line, column;
} pr_place;

typedef struct pr_diag_entry {
    pr_severity severity;
    char *file; /* owned copy or NULL */
    size_t line, column;
    char *text; /* owned */
} pr_diag_entry;

/* At most PR_DIAG_MAX entries are kept; further ones are only counted. */
enum { PR_DIAG_MAX = 200 };

typedef struct pr_diag {
    pr_diag_entry *entries;
    size_t count, capacity;
    size_t errors, warnings, notes; /* all that were added, kept or not */
    int out_of_memory;              /* an entry was lost: the caller must report PR_ERR_NOMEM */
} pr_diag;

pr_diag pr_diag_init(void);
void pr_diag_free(pr_diag *diag);

/* Adds one entry. `format` is printf's; the text is bounded (1,000 bytes) and control characters in
 * it are shown as \xNN, so that a hostile file cannot drive the terminal. */
void pr_diag_add(pr_diag *diag, pr_severity severity, pr_place place, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* Prints every kept entry as `file:line:column: error: text`, in order of file, line, column, and
 * the number of those not kept. */
void pr_diag_print(const pr_diag *diag, FILE *out);
/* The same of those that are at least so severe. */
void pr_diag_print_from(const pr_diag *diag, pr_severity least, FILE *out);

#endif
