/* Scenario files: document, sections, checks; the result is complete or there are messages. */
#include "reader/checks.h"
#include "reader/reading.h"

#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

/* For each variant the file is parsed anew; so many are read for more mistakes when the rest has
 * some. */
enum { VARIANTS_MAX = 64, BESIDE_MISTAKES_MAX = 16 };

/* What a file and its variants have in common; lent to one reader at a time. */
typedef struct common {
    pr_catalogue catalogue;
    pr_quantities *quantities; /* NULL: not yet */
    size_t n_told;             /* messages about the file without its variants, the first ones */
} common;

static common common_init(const pr_reader_options *options)
{
    return (common){.catalogue = pr_catalogue_init(options)};
}

static void common_free(common *c)
{
    pr_quantities_free(c->quantities);
    pr_catalogue_free(&c->catalogue);
}

static pr_status reader_init(pr_reader *r, common *c, pr_scenario *scenario, pr_diag *diag)
{
    memset(r, 0, sizeof *r);
    r->options = c->catalogue.options;
    r->diag = diag;
    r->scenario = scenario;
    r->document = pr_document_init();
    if (c->quantities == NULL)
        c->quantities = pr_quantities_new();
    r->catalogue = c->catalogue;
    r->quantities = c->quantities;
    return r->quantities == NULL ? PR_ERR_NOMEM : PR_OK;
}

/* Gives back what was lent. A catalogue that may have mistakes is read anew by the next, lest it
 * keep a copy of them for each variant. */
static void reader_free(pr_reader *r, common *c, pr_status status)
{
    c->catalogue = r->catalogue;
    if (status != PR_OK) {
        pr_catalogue_free(&c->catalogue);
        c->catalogue = pr_catalogue_init(r->options);
    }
    pr_document_free(&r->document);
}

/* Fills the scenario from a root map. */
static void read_root(pr_reader *r, const pr_node *root)
{
    const pr_layers layers = {.own = root};
    const pr_section *s =
        pr_section_read(r, &pr_schema_scenario, "", 0, &layers, pr_node_place(root));
    if (s == NULL)
        return;
    root = s->layers.own;
    pr_read_batteries(r, root);
    pr_read_alternator(r, root);
    pr_read_winch(r, root);
    pr_read_loads(r, root);
    pr_read_cables(r, root);
    pr_read_recovery(r, root);
    pr_read_schedule(r, root);
    pr_read_situations(r, root);
    pr_spreads_section_read(r, pr_node_get(root, "spreads"));
    pr_checks_run(r);
    if (r->spreads_left_out > 0)
        pr_diag_add(r->diag, PR_NOTE, pr_node_place(root),
                    "%zu uncertain numbers of the catalogue are left out: at most %d are kept",
                    r->spreads_left_out, PR_SPREADS_MAX);
}

static void name_scenario(pr_reader *r, const char *path)
{
    pr_scenario *s = r->scenario;
    snprintf(s->path, sizeof s->path, "%s", path);
    pr_document_first_comment(&r->document, s->question, sizeof s->question);
    const char *slash = strrchr(path, '/');
    snprintf(s->title, sizeof s->title, "%s", slash == NULL ? path : slash + 1);
}

static const pr_node *variant_list(const pr_node *root)
{
    const pr_node *variants = pr_node_get(root, "variants");
    return variants == NULL || pr_node_is_empty(variants) ? NULL : variants;
}

/* Shape of the section `variants`. */
static void check_variants(pr_reader *r, const pr_node *root)
{
    const pr_node *variants = variant_list(root);
    if (variants == NULL)
        return;
    if (variants->kind != PR_NODE_MAP) {
        pr_reader_error(r, pr_node_place(variants),
                        "variants: a map from names to overrides is wanted");
        return;
    }
    if (variants->count > VARIANTS_MAX)
        pr_reader_error(r, pr_node_place(variants), "variants: %zu of them, at most %d are taken",
                        variants->count, VARIANTS_MAX);
    for (const pr_node *v = variants->first; v != NULL; v = v->next) {
        if (v->kind != PR_NODE_MAP && !pr_node_is_empty(v))
            pr_reader_error(r, pr_node_place(v), "variants.%s: a map of overrides is wanted",
                            v->key);
        const pr_node *nested = pr_node_get(v, "variants");
        if (nested != NULL)
            pr_reader_error(r, pr_node_key_place(nested), "variants.%s: variants have no variants",
                            v->key);
    }
}

/* How many can be read. */
static size_t variants_of(const pr_node *root)
{
    const pr_node *list = variant_list(root);
    const bool readable = list != NULL && list->kind == PR_NODE_MAP && list->count <= VARIANTS_MAX;
    return readable ? list->count : 0;
}

/* NULL: there are not so many. */
static const pr_node *variant_by_index(const pr_node *root, size_t variant)
{
    if (variant >= variants_of(root))
        return NULL;
    const pr_node *v = variant_list(root)->first;
    for (size_t i = 0; i < variant; i++)
        v = v->next;
    return v;
}

/* Root of the variant by index, or the root itself for SIZE_MAX. */
static const pr_node *choose_root(pr_reader *r, size_t variant)
{
    const pr_node *root = r->document.root;
    if (variant == SIZE_MAX)
        return root;
    const pr_node *v = variant_by_index(root, variant);
    if (v == NULL)
        return NULL;
    if (v->kind != PR_NODE_MAP)
        return root; /* "as it is:" with nothing under it */
    const pr_node *merged = pr_variant_merge(&r->document, root, v);
    if (merged == NULL)
        r->out_of_memory = true;
    return merged;
}

/* Reads one root into a fresh scenario; the document is loaded and parsed. */
static pr_status read_document(pr_reader *r, const char *path, size_t variant)
{
    *r->scenario = pr_scenario_default();
    name_scenario(r, path);
    const size_t errors = r->diag->errors;
    check_variants(r, r->document.root);
    const pr_node *root = choose_root(r, variant);
    if (root == NULL)
        return r->out_of_memory ? PR_ERR_NOMEM : PR_ERR_RANGE;
    r->cut = r->document.root->lost;
    /* the places of assumed values are those of the document */
    read_root(r, root);
    if (r->out_of_memory || r->diag->out_of_memory)
        return PR_ERR_NOMEM;
    return r->diag->errors > errors ? PR_ERR_INPUT : PR_OK;
}

/* Where a scenario comes from: a file, or text under a name. */
typedef struct source {
    const char *path, *text;
    size_t size;
} source;

static pr_status load(pr_reader *r, const source *from)
{
    const size_t max_bytes = r->options == NULL ? 0 : r->options->max_bytes;
    pr_status status = from->text == NULL
                           ? pr_document_load(&r->document, from->path, max_bytes, r->diag)
                           : pr_document_load_text(&r->document, from->path, from->text, from->size,
                                                   max_bytes, r->diag);
    if (status == PR_OK)
        status = pr_document_parse(&r->document, from->path, 0, r->document.size, 1, r->diag);
    return status;
}

/* Does a value of the variant itself, not of what it is laid over, stand at this place? */
static bool is_given_at(const pr_node *node, size_t line, size_t column)
{
    if (node->kind == PR_NODE_SCALAR)
        return node->line == line && node->column == column;
    for (const pr_node *child = node->first; child != NULL; child = child->next)
        if (is_given_at(child, line, column))
            return true;
    return false;
}

/* Was this said before? What the file without variants lacks or has wrong, each variant has from
 * it, at the same place or where a map of its own was laid over. */
static bool is_told(const pr_diag *diag, size_t n_told, const pr_node *v, const pr_diag_entry *e)
{
    for (size_t i = 0; i < diag->count; i++) {
        const pr_diag_entry *told = &diag->entries[i];
        if (told->severity != e->severity || strcmp(told->text, e->text) != 0)
            continue;
        const bool same_file = told->file == e->file || (told->file != NULL && e->file != NULL &&
                                                         strcmp(told->file, e->file) == 0);
        if (same_file && told->line == e->line && told->column == e->column)
            return true;
        if (i < n_told && v != NULL && !is_given_at(v, e->line, e->column))
            return true;
    }
    return false;
}

/* Messages of one variant to those of the file; those that were only counted stay so. */
static void pass_on(const pr_diag *own, size_t n_told, const pr_node *v, pr_diag *diag)
{
    size_t errors = 0;
    for (size_t i = 0; i < own->count; i++) {
        const pr_diag_entry *e = &own->entries[i];
        errors += e->severity == PR_ERROR;
        if (!is_told(diag, n_told, v, e))
            pr_diag_add(diag, e->severity, (pr_place){e->file, e->line, e->column}, "%s", e->text);
    }
    diag->errors += own->errors - errors;
    if (own->out_of_memory)
        diag->out_of_memory = 1;
}

/* Reads the variant by index, or the file without its variants for SIZE_MAX. */
static pr_status read_one(const source *from, common *c, size_t variant, pr_scenario *scenario,
                          char name[PR_NAME_MAX], size_t *n_variants, pr_diag *diag)
{
    pr_reader r;
    pr_diag own = pr_diag_init();
    *scenario = (pr_scenario){0}; /* the caller's memory may hold anything */
    pr_status status = reader_init(&r, c, scenario, variant == SIZE_MAX ? diag : &own);
    if (status == PR_OK)
        status = load(&r, from);
    if (status == PR_OK || (status == PR_ERR_INPUT && r.document.root != NULL)) {
        /* what could be parsed is read too: its mistakes are told in the same run */
        const pr_status read = read_document(&r, from->path, variant);
        status = status == PR_OK || read == PR_ERR_NOMEM ? read : status;
    }
    const pr_node *root = r.document.root, *v = variant_by_index(root, variant);
    if (n_variants != NULL)
        *n_variants = variants_of(root);
    if (status == PR_OK && name != NULL)
        snprintf(name, PR_NAME_MAX, "%s", v->key);
    if (status != PR_OK) {
        pr_scenario_free(scenario);
        *scenario = (pr_scenario){0};
    }
    pass_on(&own, c->n_told, v, diag);
    pr_diag_free(&own);
    reader_free(&r, c, status);
    return status;
}

/* Every variant must be sound too: its mistakes belong to this file. */
static pr_status check_all_variants(const source *from, common *c, size_t count, pr_diag *diag)
{
    pr_status worst = PR_OK;
    pr_scenario *scratch = count == 0 ? NULL : malloc(sizeof *scratch);
    if (count > 0 && scratch == NULL)
        return PR_ERR_NOMEM;
    c->n_told = diag->count;
    for (size_t i = 0; worst != PR_ERR_NOMEM && i < count && diag->errors < PR_DIAG_MAX; i++) {
        const pr_status status = read_one(from, c, i, scratch, NULL, NULL, diag);
        pr_scenario_free(scratch);
        if (status != PR_OK)
            worst = status;
    }
    free(scratch);
    return worst;
}

static pr_status read_base(const source *from, const pr_reader_options *options,
                           pr_scenario *scenario, pr_diag *diag)
{
    size_t n_variants = 0;
    common c = common_init(options);
    pr_status status = read_one(from, &c, SIZE_MAX, scenario, NULL, &n_variants, diag);
    if (status != PR_OK && n_variants > BESIDE_MISTAKES_MAX)
        n_variants = BESIDE_MISTAKES_MAX;
    if (status == PR_OK || status == PR_ERR_INPUT) {
        const pr_status variants = check_all_variants(from, &c, n_variants, diag);
        if (variants != PR_OK) {
            pr_scenario_free(scenario);
            *scenario = (pr_scenario){0};
            status = variants;
        }
    }
    common_free(&c);
    return status;
}

static pr_status count_variants(const source *from, common *c, size_t *count, pr_diag *diag)
{
    pr_reader r;
    *count = 0;
    pr_status status = reader_init(&r, c, NULL, diag);
    if (status == PR_OK)
        status = load(&r, from);
    if (status == PR_OK) {
        const size_t errors = diag->errors;
        check_variants(&r, r.document.root);
        *count = variants_of(r.document.root);
        status = diag->errors > errors ? PR_ERR_INPUT : PR_OK;
    }
    reader_free(&r, c, status);
    return status;
}

pr_status pr_scenario_read(const char *path, const pr_reader_options *options,
                           pr_scenario *scenario, pr_diag *diag)
{
    return read_base(&(source){.path = path}, options, scenario, diag);
}

pr_status pr_scenario_read_text(const char *name, const char *text, size_t size,
                                const pr_reader_options *options, pr_scenario *scenario,
                                pr_diag *diag)
{
    return read_base(&(source){.path = name, .text = text, .size = size}, options, scenario, diag);
}

pr_status pr_scenario_variant_count(const char *path, const pr_reader_options *options,
                                    size_t *count, pr_diag *diag)
{
    common c = common_init(options);
    const pr_status status = count_variants(&(source){.path = path}, &c, count, diag);
    common_free(&c);
    return status;
}

pr_status pr_scenario_read_variant(const char *path, size_t index, const pr_reader_options *options,
                                   pr_scenario *scenario, char name[PR_NAME_MAX], pr_diag *diag)
{
    common c = common_init(options);
    const pr_status status =
        read_one(&(source){.path = path}, &c, index, scenario, name, NULL, diag);
    common_free(&c);
    return status;
}
