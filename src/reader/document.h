/* A YAML file as a tree whose every node knows its place. Strict: one document, no anchors,
 * aliases, tags or doubled keys, bounded depth, size and number of values. */
#ifndef PR_READER_DOCUMENT_H
#define PR_READER_DOCUMENT_H

#include "base/diag.h"
#include "base/status.h"

#include <stdbool.h>
#include <stddef.h>

enum {
    PR_DOCUMENT_BYTES_MAX = 1 << 20,
    PR_DOCUMENT_DEPTH_MAX = 16,
    PR_DOCUMENT_NODES_MAX = 20000,
    PR_KEY_MAX = 64 /* bytes of a key, with its end */
};

typedef enum pr_node_kind { PR_NODE_SCALAR, PR_NODE_MAP, PR_NODE_LIST } pr_node_kind;

/* Owned by its document. Lines and columns count from 1. */
typedef struct pr_node {
    pr_node_kind kind;
    bool plain; /* scalar without quotes */
    bool lost;  /* an alias, or cut off by a mistake: what it lacks is no further mistake */
    const char *file;
    size_t line, column;
    const char *text; /* of a scalar, UTF-8 */
    const char *key;  /* under which it stands in a map; NULL in a list */
    size_t key_line, key_column;
    struct pr_node *first, *last, *next;
    size_t count;
} pr_node;

typedef struct pr_arena_block pr_arena_block;
typedef struct pr_document {
    pr_arena_block *arena;
    pr_node *root;    /* NULL until read */
    const char *text; /* the whole file, ended by 0 */
    size_t size;
    size_t nodes;
} pr_document;

pr_document pr_document_init(void);
void pr_document_free(pr_document *document);

/* Memory that lives as long as the document; NULL when there is none. Zeroed. */
void *pr_document_alloc(pr_document *document, size_t size);
char *pr_document_copy(pr_document *document, const char *text, size_t length);

/* Reads a file whole: plain files only, "-" is the standard input. PR_ERR_INPUT with a message in
 * diag when it cannot be opened, is too large, or is no UTF-8 text. */
pr_status pr_document_load(pr_document *document, const char *path, size_t max_bytes,
                           pr_diag *diag);
/* The same for text in memory, which is copied. */
pr_status pr_document_load_text(pr_document *document, const char *name, const char *text,
                                size_t size, size_t max_bytes, pr_diag *diag);
/* Parses what was loaded, or the part [start, end) of it that begins in line first_line. The root
 * must be a map. After PR_ERR_INPUT the root is what could be read, to find more mistakes in: NULL
 * when that is nothing, marked lost when its end was not seen. */
pr_status pr_document_parse(pr_document *document, const char *name, size_t start, size_t end,
                            size_t first_line, pr_diag *diag);

/* A new empty node of a kind at a place; NULL when out of memory. */
pr_node *pr_node_new(pr_document *document, pr_node_kind kind, const char *file, size_t line,
                     size_t column);
void pr_node_append(pr_node *parent, pr_node *child);
/* Copy of a node that can stand in another parent; its children are shared. */
pr_node *pr_node_share(pr_document *document, const pr_node *node);

/* Child by key; NULL: none, or no map. */
const pr_node *pr_node_get(const pr_node *map, const char *key);
/* Nothing after the key, "~" or "null". */
bool pr_node_is_empty(const pr_node *node);
/* The word "none" (or "no") without quotes. */
bool pr_node_is_none(const pr_node *node);
pr_place pr_node_place(const pr_node *node);
pr_place pr_node_key_place(const pr_node *node); /* of its key; its own in a list */

/* The text's first comment, its lines joined; cut to size - 1 bytes. */
void pr_document_first_comment(const pr_document *document, char *text, size_t size);

#endif
