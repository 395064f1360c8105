/* Sections: maps with a schema, laid over a catalogue entry. */
#include "reader/nearest.h"
#include "reader/reading.h"

#include <limits.h>
#include <stdio.h>
#include <string.h>

/* What every catalogue entry says about itself; allowed wherever `use` is. */
static const char *const ENTRY_KEYS[] = {"use", "summary", "source", "evidence"};
enum { N_ENTRY_KEYS = sizeof ENTRY_KEYS / sizeof *ENTRY_KEYS, ENTRY_TEXT_BYTES = 600 };

static const pr_choice EVIDENCE[] = {{"outside", 0},  {"sheet", 1},  {"part sheet", 2},
                                     {"standard", 3}, {"memory", 4}, {"default", 5},
                                     {"practice", 6}, {NULL, 0}};

const pr_node *pr_layers_get(const pr_layers *layers, const char *key)
{
    const pr_node *own = pr_node_get(layers->own, key);
    return own != NULL ? own : pr_node_get(layers->catalogue, key);
}

/* Looks the entry up that a node names. */
static void use_entry(pr_reader *r, const pr_schema *schema, const pr_node *name, pr_layers *layers)
{
    char path[PR_NAME_MAX];
    const bool was_lost = layers->lost;
    snprintf(path, sizeof path, "%s.use", schema->name);
    layers->lost = true;
    if (!pr_value_is_scalar(r, path, name))
        return;
    pr_status status;
    const pr_node *entry = pr_catalogue_find(&r->catalogue, schema->catalogue, name->text,
                                             pr_node_place(name), r->diag, &status);
    if (status == PR_ERR_NOMEM)
        r->out_of_memory = true;
    if (entry == NULL)
        return;
    /* the catalogue's own spelling: a file's name, or the key in a file of several */
    char canonical[PR_KEY_MAX];
    const char *spelt = entry->key;
    if (spelt == NULL && pr_name_canonical(name->text, canonical, sizeof canonical))
        spelt = pr_document_copy(&r->document, canonical, strlen(canonical));
    if (spelt == NULL)
        r->out_of_memory = true;
    layers->catalogue = entry;
    layers->entry = spelt;
    layers->lost = was_lost;
}

pr_layers pr_layers_of(pr_reader *r, const pr_schema *schema, const pr_node *node)
{
    pr_layers layers = {0};
    if (node == NULL || pr_node_is_empty(node))
        return (pr_layers){.lost = node != NULL && node->lost};
    layers.lost = node->lost;
    if (node->kind == PR_NODE_MAP) {
        layers.own = node;
        const pr_node *use = pr_node_get(node, "use");
        if (use != NULL && schema->catalogue != NULL)
            use_entry(r, schema, use, &layers);
        return layers;
    }
    if (node->kind == PR_NODE_LIST || schema->scalar == NULL) {
        pr_reader_error(r, pr_node_place(node), "%s: a map of keys is wanted, not a %s",
                        schema->name, node->kind == PR_NODE_LIST ? "list" : "single value");
        return layers;
    }
    if (strcmp(schema->scalar, "use") == 0) {
        use_entry(r, schema, node, &layers);
        return layers;
    }
    /* short for a map with one key */
    pr_node *map = pr_node_new(&r->document, PR_NODE_MAP, node->file, node->line, node->column);
    pr_node *value = pr_node_share(&r->document, node);
    if (map == NULL || value == NULL) {
        r->out_of_memory = true;
        return layers;
    }
    value->key = schema->scalar;
    value->key_line = node->line;
    value->key_column = node->column;
    pr_node_append(map, value);
    layers.own = map;
    return layers;
}

pr_layers pr_layers_within(pr_reader *r, const pr_schema *schema, const pr_layers *outer,
                           const char *key)
{
    pr_layers layers = pr_layers_of(r, schema, pr_node_get(outer->own, key));
    if (layers.catalogue == NULL) {
        const pr_layers below = pr_layers_of(r, schema, pr_node_get(outer->catalogue, key));
        layers.catalogue = below.own != NULL ? below.own : below.catalogue;
        layers.lost = layers.lost || below.lost;
    }
    return layers;
}

/* Index of what an entry says about itself; -1: not that. */
static int entry_key(const pr_schema *schema, const char *key)
{
    for (int k = 0; schema->catalogue != NULL && k < N_ENTRY_KEYS; k++)
        if (strcmp(key, ENTRY_KEYS[k]) == 0)
            return k;
    return -1;
}

bool pr_key_is_known(const pr_schema *schema, const char *key)
{
    return pr_schema_find(schema, key) >= 0 || entry_key(schema, key) >= 0;
}

/* summary, source, evidence, use: checked, and kept nowhere. */
static bool is_entry_key(pr_reader *r, const pr_section *s, const pr_node *node)
{
    const int k = entry_key(s->schema, node->key);
    if (k < 0)
        return false;
    char path[2 * PR_NAME_MAX];
    snprintf(path, sizeof path, "%s.%s", s->path, node->key);
    if (k == 3)
        (void)pr_value_choice(r, path, EVIDENCE, node);
    else if (k > 0 && pr_value_is_scalar(r, path, node) && strlen(node->text) >= ENTRY_TEXT_BYTES)
        pr_reader_error(r, pr_node_place(node), "%s: longer than %d bytes", path,
                        ENTRY_TEXT_BYTES - 1);
    return true;
}

static void read_layer(pr_reader *r, pr_section *s, const pr_node *map, bool from_catalogue)
{
    if (map == NULL)
        return;
    for (const pr_node *child = map->first; child != NULL; child = child->next) {
        const int row = pr_schema_find(s->schema, child->key);
        if (row >= 0)
            (void)pr_value_read(r, s, row, child, from_catalogue);
        else if (!is_entry_key(r, s, child))
            (void)pr_key_say_unknown(r, s, child);
    }
}

/* Does a row speak about this kind of thing? Reads the selector as it stands in the scenario. */
bool pr_row_applies(pr_reader *r, const pr_section *s, const pr_row *row)
{
    if (row->only == 0 || s->schema->selector == NULL)
        return true;
    const pr_row *selector = &s->schema->rows[pr_schema_find(s->schema, s->schema->selector)];
    const int value = *(const int *)pr_value_target(r, selector, s->index);
    return value < 0 || value > 31 || (row->only & 1u << value) != 0;
}

/* The word of a choice, for messages. */
static const char *choice_name(const pr_choice choices[], int value)
{
    for (const pr_choice *c = choices; c->name != NULL; c++)
        if (c->value == value)
            return c->name;
    return "?";
}

static void check_applies(pr_reader *r, pr_section *s)
{
    const int selector =
        s->schema->selector == NULL ? -1 : pr_schema_find(s->schema, s->schema->selector);
    for (size_t i = 0; selector >= 0 && i < s->schema->n_rows; i++) {
        const pr_row *row = &s->schema->rows[i];
        if (s->given[i] == NULL || pr_row_applies(r, s, row))
            continue;
        const int value = *(const int *)pr_value_target(r, &s->schema->rows[selector], s->index);
        pr_reader_error(r, pr_node_key_place(s->given[i]), "%s.%s: does not go with %s: %s",
                        s->path, row->key, s->schema->selector,
                        choice_name(s->schema->rows[selector].choices, value));
    }
}

static void check_required(pr_reader *r, const pr_section *s)
{
    for (size_t i = 0; i < s->schema->n_rows; i++) {
        const pr_row *row = &s->schema->rows[i];
        if ((row->flags & PR_KEY_REQUIRED) == 0 || row->kind >= PR_ROW_SECTION ||
            s->given[i] != NULL)
            continue;
        char fits[120] = "", range[80];
        if (row->unit != NULL)
            pr_quantity_describe(r->quantities, row->unit, fits, sizeof fits);
        pr_row_range_text(row, range, sizeof range);
        pr_reader_error(r, s->place, "%s: \"%s\" is missing: %s%s%s%s%s", s->path, row->key,
                        row->help, fits[0] == '\0' ? "" : "; ", fits, range[0] == '\0' ? "" : ", ",
                        range);
    }
}

/* What nobody gave: defaults, with the spread they bring. */
static void take_defaults(pr_reader *r, const pr_section *s)
{
    for (size_t i = 0; i < s->schema->n_rows; i++) {
        const pr_row *row = &s->schema->rows[i];
        if (s->given[i] != NULL || row->spread_low >= row->spread_high ||
            !pr_row_applies(r, s, row))
            continue;
        char path[2 * PR_NAME_MAX];
        snprintf(path, sizeof path, "%s.%s", s->path, row->key);
        pr_spread_default(r, path, row, row->offset + s->index * row->stride);
    }
    pr_assume_section(r, s);
}

static void read_inner_sections(pr_reader *r, pr_section *s)
{
    for (size_t i = 0; i < s->schema->n_rows; i++) {
        const pr_row *row = &s->schema->rows[i];
        if (row->kind != PR_ROW_SECTION)
            continue;
        const pr_node *node = pr_layers_get(&s->layers, row->key);
        if (node == NULL && ((row->flags & PR_KEY_ALWAYS) == 0 || s->layers.lost))
            continue;
        char path[2 * PR_NAME_MAX];
        snprintf(path, sizeof path, "%s%s%s", s->path, s->path[0] == '\0' ? "" : ".", row->key);
        const pr_layers layers = pr_layers_within(r, row->section, &s->layers, row->key);
        const pr_node *own = pr_node_get(s->layers.own, row->key);
        pr_section_read(r, row->section, path, s->index, &layers,
                        own != NULL ? pr_node_key_place(own) : s->place);
        s->given[i] = node;
    }
}

pr_section *pr_section_read(pr_reader *r, const pr_schema *schema, const char *path, size_t index,
                            const pr_layers *layers, pr_place place)
{
    pr_section *s = pr_document_alloc(&r->document, sizeof *s);
    if (s == NULL) {
        r->out_of_memory = true;
        return NULL;
    }
    const size_t errors = r->diag->errors, unknown = r->unknown_keys;
    s->schema = schema;
    s->index = index;
    s->place = place;
    s->layers = *layers;
    snprintf(s->path, sizeof s->path, "%s", path);
    for (int i = 0; i < PR_ROWS_MAX; i++)
        s->value[i] = PR_NAN;
    if (r->last == NULL)
        r->first = s;
    else
        r->last->next = s;
    r->last = s;
    if (layers->entry != NULL)
        pr_assume_entry(r, s);
    s->layers.own = pr_map_mend(r, s, layers->own);
    read_layer(r, s, layers->catalogue, true);
    read_layer(r, s, s->layers.own, false);
    check_applies(r, s);
    if (!s->layers.lost)
        check_required(r, s);
    take_defaults(r, s);
    read_inner_sections(r, s);
    s->errors = r->diag->errors - errors - (r->unknown_keys - unknown) + s->layers.lost;
    return s;
}

bool pr_section_has(const pr_section *s, const char *key)
{
    const int row = pr_schema_find(s->schema, key);
    return row >= 0 && s->given[row] != NULL;
}

double pr_section_value(const pr_section *s, const char *key)
{
    const int row = pr_schema_find(s->schema, key);
    return row < 0 ? PR_NAN : s->value[row];
}

pr_place pr_section_at(const pr_section *s, const char *key)
{
    const int row = pr_schema_find(s->schema, key);
    if (row < 0 || s->given[row] == NULL)
        return s->place;
    return pr_node_place(s->given[row]);
}

pr_section *pr_section_find(const pr_reader *r, const char *path)
{
    for (pr_section *s = r->first; s != NULL; s = s->next)
        if (strcmp(s->path, path) == 0)
            return s;
    return NULL;
}

int pr_layers_choice(const pr_layers *layers, const pr_schema *schema, const char *key)
{
    const int row = pr_schema_find(schema, key);
    if (row < 0)
        return INT_MIN;
    return pr_value_choice_peek(schema->rows[row].choices, pr_layers_get(layers, key));
}
