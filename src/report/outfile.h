/* A file that is written whole or not at all.
 *
 * The content goes to a temporary file in the same folder; commit flushes it to the disk and
 * renames it over the target, so that a full disk, a crash or a cancelled run never costs the file
 * that was there. A target that is no regular file (a terminal, a pipe, /dev/null) is written
 * directly. */
#ifndef PR_REPORT_OUTFILE_H
#define PR_REPORT_OUTFILE_H

#include "base/status.h"
#include <stdio.h>

typedef struct pr_outfile {
    FILE *stream;    /* write here */
    char *path;      /* final name, links followed; owned */
    char *temporary; /* owned; NULL when written directly */
} pr_outfile;

/* Opens for writing. On failure a sentence that names the file and the cause goes to message. */
pr_status pr_outfile_open(pr_outfile *file, const char *path, char *message, size_t message_size);

/* Makes the content final. On failure the old file, if any, is as it was, and the temporary one is
 * gone. Frees the object in both cases. */
pr_status pr_outfile_commit(pr_outfile *file, char *message, size_t message_size);

/* Drops the content; the old file, if any, is as it was. */
void pr_outfile_abandon(pr_outfile *file);

#endif
