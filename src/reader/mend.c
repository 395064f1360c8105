/* Unknown keys: told of once, then read as the key that they are nearest to, so that what hangs on
 * their values is checked in the same run. The scenario is refused all the same. */
#include "reader/reading.h"

#include <stdio.h>

const char *pr_key_say_unknown(pr_reader *r, const pr_section *s, const pr_node *node)
{
    const pr_place place = pr_node_key_place(node);
    char what[PR_NAME_MAX + 24];
    snprintf(what, sizeof what, "%s%sunknown key", s->path, s->path[0] == '\0' ? "" : ": ");
    r->unknown_keys++;
    const char *meant = pr_trade_word_key(s->schema, node->key);
    if (meant != NULL) {
        pr_reader_error(r, place, "%s \"%.60s\", here it is \"%s\"", what, node->key, meant);
        return meant;
    }
    const char *home = pr_key_home(s->schema, node->key);
    if (home != NULL) {
        if (home[0] == '\0')
            pr_reader_error(r, place, "%s \"%.60s\": it stands by itself, not in a section", what,
                            node->key);
        else
            pr_reader_error(r, place, "%s \"%.60s\": it belongs in \"%s\"", what, node->key, home);
        return NULL;
    }
    const char *known[PR_ROWS_MAX + 1];
    size_t n = 0;
    for (size_t i = 0; i < s->schema->n_rows; i++)
        known[n++] = s->schema->rows[i].key;
    if (s->schema->catalogue != NULL)
        known[n++] = "use";
    return pr_reader_say_unknown(r, place, what, node->key, known, n);
}

static bool is_sound(const pr_section *s, const pr_node *map)
{
    const pr_node *child = map == NULL ? NULL : map->first;
    while (child != NULL && pr_key_is_known(s->schema, child->key))
        child = child->next;
    return child == NULL;
}

const pr_node *pr_map_mend(pr_reader *r, const pr_section *s, const pr_node *map)
{
    if (is_sound(s, map))
        return map;
    pr_node *mended = pr_node_share(&r->document, map);
    if (mended == NULL) {
        r->out_of_memory = true;
        return map;
    }
    mended->first = mended->last = NULL;
    mended->count = 0;
    for (const pr_node *child = map->first; child != NULL; child = child->next) {
        const char *key = child->key;
        if (!pr_key_is_known(s->schema, key)) {
            key = pr_key_say_unknown(r, s, child);
            if (key == NULL || pr_node_get(map, key) != NULL || pr_node_get(mended, key) != NULL)
                continue;
        }
        pr_node *copy = pr_node_share(&r->document, child);
        if (copy == NULL) {
            r->out_of_memory = true;
            return map;
        }
        copy->key = key;
        pr_node_append(mended, copy);
    }
    return mended;
}
