/* The catalogue: entries by kind and name, read when they are asked for and not before. */
#ifndef PR_READER_CATALOGUE_H
#define PR_READER_CATALOGUE_H

#include "reader/document.h"
#include "reader/reader.h"

typedef struct pr_catalogue_kind {
    const char *name;  /* "battery" */
    const char *place; /* folder with a file per entry, or one file with all entries */
    bool is_folder;
} pr_catalogue_kind;

enum { PR_CATALOGUE_KINDS = 9, PR_PATH_MAX = 4096 };
extern const pr_catalogue_kind pr_catalogue_kinds[PR_CATALOGUE_KINDS];

typedef struct pr_catalogue_found pr_catalogue_found;
typedef struct pr_catalogue {
    const pr_reader_options *options;
    bool located, missing; /* looked for the folder; found none */
    char folder[PR_PATH_MAX];
    pr_catalogue_found *found;            /* entries asked for so far, each parsed once */
    pr_document entries;                  /* of folders: one file after the other */
    pr_document file[PR_CATALOGUE_KINDS]; /* of single files: loaded once, parsed by entry */
    int file_state[PR_CATALOGUE_KINDS];   /* 0 not yet, 1 loaded, -1 failed */
} pr_catalogue;

pr_catalogue pr_catalogue_init(const pr_reader_options *options);
void pr_catalogue_free(pr_catalogue *catalogue);

/* The map of an entry; NULL after a message at `at` (unknown name: with the nearest one) or in the
 * catalogue's own file. *status tells memory from mistakes. */
const pr_node *pr_catalogue_find(pr_catalogue *catalogue, const char *kind, const char *name,
                                 pr_place at, pr_diag *diag, pr_status *status);

/* Calls back with every name of a kind, sorted for folders, in the file's order else; `line` is
 * where it stands. Stops when the callback returns false. */
typedef bool (*pr_catalogue_name_fn)(void *context, const char *name, const char *file,
                                     size_t line);
pr_status pr_catalogue_names(pr_catalogue *catalogue, size_t kind, pr_catalogue_name_fn fn,
                             void *context, pr_diag *diag);

/* Text of an entry as it stands, inside memory of the catalogue. */
pr_status pr_catalogue_text(pr_catalogue *catalogue, size_t kind, const char *name,
                            const char **text, size_t *size, pr_diag *diag);

#endif
