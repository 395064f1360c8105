/* The catalogue as a whole: where it lies, what is in it, and an entry as it stands. */
#include "base/folder.h"
#include "reader/catalogue.h"
#include "reader/nearest.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

pr_status pr_models_folder(char *path, size_t size)
{
    return pr_folder_find("PULLREST_MODELS", "models", "surfaces.yaml", path, size);
}

typedef struct collector {
    pr_catalogue *catalogue;
    pr_model_list *list;
    const char *name; /* the only one wanted; NULL: all */
    size_t capacity, kind;
    pr_diag *diag;
    pr_status status;
} collector;

static void copy_text(char *target, size_t size, const pr_node *entry, const char *key)
{
    const pr_node *node = pr_node_get(entry, key);
    if (node != NULL && node->kind == PR_NODE_SCALAR)
        snprintf(target, size, "%s", node->text);
}

static bool collect(void *context, const char *name, const char *file, size_t line)
{
    collector *c = context;
    pr_model_list *list = c->list;
    if (c->name != NULL && strcmp(c->name, name) != 0)
        return true;
    if (list->count == c->capacity) {
        c->capacity = c->capacity == 0 ? 128 : 2 * c->capacity;
        pr_model_entry *grown = realloc(list->entries, c->capacity * sizeof *grown);
        if (grown == NULL) {
            c->status = PR_ERR_NOMEM;
            return false;
        }
        list->entries = grown;
    }
    const char *kind = pr_catalogue_kinds[c->kind].name;
    pr_status status;
    const pr_node *entry =
        pr_catalogue_find(c->catalogue, kind, name, (pr_place){file, line, 1}, c->diag, &status);
    if (entry == NULL) {
        c->status = status;
        return status != PR_ERR_NOMEM;
    }
    pr_model_entry *e = &list->entries[list->count++];
    memset(e, 0, sizeof *e);
    snprintf(e->kind, sizeof e->kind, "%s", kind);
    snprintf(e->name, sizeof e->name, "%s", name);
    snprintf(e->file, sizeof e->file, "%s", file);
    e->line = line;
    copy_text(e->summary, sizeof e->summary, entry, "summary");
    copy_text(e->source, sizeof e->source, entry, "source");
    copy_text(e->evidence, sizeof e->evidence, entry, "evidence");
    return true;
}

pr_status pr_models_find(const pr_reader_options *options, const char *kind, const char *name,
                         pr_model_list *list, pr_diag *diag)
{
    pr_catalogue catalogue = pr_catalogue_init(options);
    *list = (pr_model_list){0};
    collector c = {
        .catalogue = &catalogue, .list = list, .name = name, .diag = diag, .status = PR_OK};
    pr_status worst = PR_OK;
    for (c.kind = 0; c.kind < PR_CATALOGUE_KINDS; c.kind++) {
        if (kind != NULL && strcmp(kind, pr_catalogue_kinds[c.kind].name) != 0)
            continue;
        const pr_status status = pr_catalogue_names(&catalogue, c.kind, collect, &c, diag);
        if (status != PR_OK)
            worst = status;
        if (status == PR_ERR_IO)
            break; /* no catalogue: said once */
    }
    if (c.status != PR_OK)
        worst = c.status;
    pr_catalogue_free(&catalogue);
    if (worst != PR_OK)
        pr_model_list_free(list);
    return worst;
}

pr_status pr_models_list(const pr_reader_options *options, pr_model_list *list, pr_diag *diag)
{
    return pr_models_find(options, NULL, NULL, list, diag);
}

void pr_model_list_free(pr_model_list *list)
{
    free(list->entries);
    *list = (pr_model_list){0};
}

/* Nearest of all names in the list. */
static void say_unknown(const pr_reader_options *options, const char *name, pr_diag *diag)
{
    pr_model_list list;
    if (pr_models_list(options, &list, diag) != PR_OK)
        return;
    size_t best = SIZE_MAX, at = 0;
    for (size_t i = 0; i < list.count; i++) {
        const size_t distance = pr_name_distance(name, list.entries[i].name);
        if (distance < best) {
            best = distance;
            at = i;
        }
    }
    if (list.count > 0)
        pr_diag_add(diag, PR_ERROR, (pr_place){NULL, 0, 0},
                    "the catalogue has no entry \"%.60s\", nearest is \"%s\" (%s)", name,
                    list.entries[at].name, list.entries[at].kind);
    pr_model_list_free(&list);
}

pr_status pr_models_show(const pr_reader_options *options, const char *name, FILE *out,
                         pr_diag *diag)
{
    pr_catalogue catalogue = pr_catalogue_init(options);
    pr_status status = PR_OK;
    bool found = false;
    for (size_t k = 0; k < PR_CATALOGUE_KINDS && status != PR_ERR_NOMEM && status != PR_ERR_IO;
         k++) {
        const char *text;
        size_t size;
        status = pr_catalogue_text(&catalogue, k, name, &text, &size, diag);
        if (status != PR_OK)
            continue;
        found = true;
        fprintf(out, "# %s\n", pr_catalogue_kinds[k].name);
        fwrite(text, 1, size, out);
    }
    pr_catalogue_free(&catalogue);
    if (found)
        return ferror(out) ? PR_ERR_IO : PR_OK;
    if (status == PR_ERR_NOMEM || status == PR_ERR_IO)
        return status;
    say_unknown(options, name, diag);
    return PR_ERR_INPUT;
}
