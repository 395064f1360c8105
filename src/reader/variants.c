/* Variants: the same file with some keys overridden. */
#include "reader/nearest.h"
#include "reader/reading.h"

#include <string.h>

static pr_node *merge_maps(pr_document *d, const pr_node *base, const pr_node *over,
                           const pr_schema *schema);

/* Schema of the section under a key; NULL: none that matters here. */
static const pr_schema *inner_schema(const pr_schema *schema, const char *key)
{
    const int row = schema == NULL ? -1 : pr_schema_find(schema, key);
    return row < 0 ? NULL : schema->rows[row].section;
}

/* Another make takes the place of the old: keys about the old make go, its state and place stay. */
static bool is_kept(const pr_schema *schema, const char *key)
{
    const int row = schema == NULL ? -1 : pr_schema_find(schema, key);
    return row >= 0 && (schema->rows[row].flags & PR_KEY_STAYS) != 0;
}

static bool add_copy(pr_document *d, pr_node *map, const pr_node *node, const pr_node *key)
{
    pr_node *copy = pr_node_share(d, node);
    if (copy == NULL)
        return false;
    copy->key = key->key;
    copy->key_line = key->key_line;
    copy->key_column = key->key_column;
    pr_node_append(map, copy);
    return true;
}

/* A section named by one word, as the map that it is short for. */
static const pr_node *as_map(pr_document *d, const pr_schema *schema, const pr_node *node)
{
    if (node->kind != PR_NODE_SCALAR || schema == NULL || schema->scalar == NULL ||
        pr_node_is_none(node) || pr_node_is_empty(node))
        return node;
    pr_node *map = pr_node_new(d, PR_NODE_MAP, node->file, node->line, node->column);
    if (map == NULL)
        return NULL;
    const pr_node key = {.key = schema->scalar, .key_line = node->line, .key_column = node->column};
    return add_copy(d, map, node, &key) ? map : NULL;
}

/* Name of an item of the list of loads. */
static const char *load_name(const pr_node *item)
{
    if (item->key != NULL)
        return item->key;
    if (item->kind == PR_NODE_SCALAR)
        return item->text;
    const pr_node *name = pr_node_get(item, "name");
    if (name == NULL)
        name = pr_node_get(item, "use");
    return name != NULL && name->kind == PR_NODE_SCALAR ? name->text : "";
}

/* An item of a list as a map with `use`. */
static const pr_node *load_map(pr_document *d, const pr_node *item)
{
    return item->kind == PR_NODE_SCALAR ? as_map(d, &pr_schema_load, item) : item;
}

static const pr_node *find_override(const pr_node *over, const char *name)
{
    for (const pr_node *child = over->first; child != NULL; child = child->next)
        if (pr_name_equal(child->key, name))
            return child;
    return NULL;
}

/* Loads given as a map in a variant change those of the list with the same name; `none` takes one
 * out; other names are added. */
static pr_node *merge_loads(pr_document *d, const pr_node *base, const pr_node *over)
{
    pr_node *list = pr_node_new(d, PR_NODE_LIST, base->file, base->line, base->column);
    if (list == NULL)
        return NULL;
    for (const pr_node *item = base->first; item != NULL; item = item->next) {
        const pr_node *change = find_override(over, load_name(item));
        if (change != NULL && pr_node_is_none(change))
            continue;
        const pr_node *merged = load_map(d, item);
        if (merged != NULL && change != NULL && change->kind == PR_NODE_MAP)
            merged = merge_maps(d, merged, change, &pr_schema_load);
        if (merged == NULL || !add_copy(d, list, merged, item))
            return NULL;
    }
    for (const pr_node *child = over->first; child != NULL; child = child->next) {
        bool known = false;
        for (const pr_node *item = base->first; item != NULL; item = item->next)
            known = known || pr_name_equal(child->key, load_name(item));
        if (!known && !add_copy(d, list, child, child))
            return NULL;
    }
    return list;
}

static const pr_node *merge_values(pr_document *d, const pr_node *base, const pr_node *over,
                                   const pr_schema *schema)
{
    if (schema == &pr_schema_load && base->kind != PR_NODE_SCALAR && over->kind == PR_NODE_MAP)
        return merge_loads(d, base, over);
    if (over->kind == PR_NODE_LIST || pr_node_is_none(over))
        return over;
    base = as_map(d, schema, base);
    over = as_map(d, schema, over);
    if (base == NULL || over == NULL)
        return NULL;
    if (base->kind != PR_NODE_MAP || over->kind != PR_NODE_MAP)
        return over;
    return merge_maps(d, base, over, schema);
}

static pr_node *merge_maps(pr_document *d, const pr_node *base, const pr_node *over,
                           const pr_schema *schema)
{
    pr_node *map = pr_node_new(d, PR_NODE_MAP, over->file, over->line, over->column);
    if (map == NULL)
        return NULL;
    map->lost = base->lost || over->lost;
    const bool other_make = pr_node_get(over, "use") != NULL;
    for (const pr_node *child = base->first; child != NULL; child = child->next)
        if (pr_node_get(over, child->key) == NULL && (!other_make || is_kept(schema, child->key)) &&
            !add_copy(d, map, child, child))
            return NULL;
    for (const pr_node *child = over->first; child != NULL; child = child->next) {
        const pr_node *below = pr_node_get(base, child->key);
        const pr_schema *inner = inner_schema(schema, child->key);
        const bool is_fresh = below == NULL || (other_make && !is_kept(schema, child->key));
        const pr_node *value = is_fresh ? child : merge_values(d, below, child, inner);
        if (value == NULL || !add_copy(d, map, value, child))
            return NULL;
    }
    return map;
}

const pr_node *pr_variant_merge(pr_document *d, const pr_node *root, const pr_node *variant)
{
    return merge_maps(d, root, variant, &pr_schema_scenario);
}
