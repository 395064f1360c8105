/* Cables and their fuses, with the cables that are assumed when the file names none. */
#include "reader/reading.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* Cables with a role, by their key in `cables`. */
static const struct role {
    const char *key;
    pr_run_role run;
} ROLES[] = {{"winch", PR_RUN_WINCH},
             {"alternator", PR_RUN_ALTERNATOR},
             {"loads", PR_RUN_LOADS},
             {"second_loads", PR_RUN_LOADS_SECOND},
             {"link", PR_RUN_LINK}};
enum { N_ROLES = sizeof ROLES / sizeof *ROLES };

static void read_fuse(pr_reader *r, const char *cable, size_t run, const pr_layers *outer)
{
    const pr_node *node = pr_layers_get(outer, "fuse");
    if (node == NULL || pr_node_is_none(node))
        return;
    pr_wire_slot *slot = &r->scenario->system.run[run];
    const pr_layers layers = pr_layers_within(r, &pr_schema_fuse, outer, "fuse");
    const int form = pr_layers_choice(&layers, &pr_schema_fuse, "form");
    slot->fuse = pr_fuse_def_family(form == INT_MIN ? PR_FUSE_BOLT_DOWN : (pr_fuse_family)form);
    slot->has_fuse = true;
    char path[PR_NAME_MAX + 8];
    snprintf(path, sizeof path, "%s.fuse", cable);
    pr_section_read(r, &pr_schema_fuse, path, run, &layers, pr_node_key_place(node));
}

void pr_read_cable(pr_reader *r, const char *path, size_t run, const pr_layers *layers,
                   pr_place place)
{
    pr_wire_slot *slot = &r->scenario->system.run[run];
    slot->def = pr_wire_def_default();
    slot->present = true;
    pr_section_read(r, &pr_schema_cable, path, run, layers, place);
    read_fuse(r, path, run, layers);
}

/* Adds "key: text" to a map that stands for what the file does not say. */
static bool put(pr_reader *r, pr_node *map, const char *key, const char *text)
{
    pr_node *node = pr_node_new(&r->document, PR_NODE_SCALAR, map->file, map->line, map->column);
    if (node == NULL) {
        r->out_of_memory = true;
        return false;
    }
    node->key = key;
    node->text = text;
    node->plain = true;
    pr_node_append(map, node);
    return true;
}

/* A usual cable where the file names none. */
static void assume_cable(pr_reader *r, const struct role *role, const char *size,
                         const char *length, bool chassis)
{
    const pr_node *root = r->document.root;
    pr_node *map = pr_node_new(&r->document, PR_NODE_MAP, root->file, root->line, root->column);
    if (map == NULL) {
        r->out_of_memory = true;
        return;
    }
    if (!put(r, map, "size", size) || !put(r, map, "length", length) ||
        (chassis && !put(r, map, "return", "chassis")))
        return;
    char path[PR_NAME_MAX], value[PR_NAME_MAX];
    snprintf(path, sizeof path, "cables.%s", role->key);
    snprintf(value, sizeof value, "%s, %s%s", size, length, chassis ? ", chassis return" : "");
    pr_assume(r, path, value, "common practice, no source");
    pr_read_cable(r, path, role->run, &(pr_layers){.own = map}, pr_node_place(root));
}

static void assume_missing(pr_reader *r, const struct role *role)
{
    const pr_system_def *s = &r->scenario->system;
    if (role->run == PR_RUN_WINCH && s->has_winch) {
        double amps_A = s->motor.rated_A;
        if (isnan(amps_A) && s->motor.n_points > 0)
            amps_A = s->motor.point_A[s->motor.n_points - 1];
        assume_cable(r, role,
                     amps_A <= 250.0   ? "6 AWG"
                     : amps_A <= 500.0 ? "2 AWG"
                                       : "1/0 AWG",
                     "2.5 m", false);
    } else if (role->run == PR_RUN_ALTERNATOR && s->has_alternator) {
        const double amps_A = s->alternator.n_points > 0
                                  ? s->alternator.point_A[s->alternator.n_points - 1]
                                  : s->alternator.rated_A;
        assume_cable(r, role,
                     amps_A <= 60.0    ? "8 AWG"
                     : amps_A <= 110.0 ? "6 AWG"
                     : amps_A <= 160.0 ? "4 AWG"
                                       : "1/0 AWG",
                     "1.5 m", true);
    } else if (role->run == PR_RUN_LINK && s->link.kind != PR_LINK_NONE) {
        assume_cable(r, role, "2 AWG", "2 m", true);
    }
}

static void read_role(pr_reader *r, const struct role *role, const pr_node *cables)
{
    const pr_node *node = pr_node_get(cables, role->key);
    if (node == NULL) {
        assume_missing(r, role);
        return;
    }
    if (pr_node_is_none(node)) /* no cable: no loss */
        return;
    char path[PR_NAME_MAX];
    snprintf(path, sizeof path, "cables.%s", role->key);
    const pr_layers layers = pr_layers_of(r, &pr_schema_cable, node);
    pr_read_cable(r, path, role->run, &layers, pr_node_key_place(node));
}

void pr_read_cables(pr_reader *r, const pr_node *root)
{
    const pr_node *cables = pr_node_get(root, "cables");
    if (cables != NULL && cables->kind != PR_NODE_MAP) {
        if (!pr_node_is_empty(cables))
            pr_reader_error(r, pr_node_place(cables), "cables: a map of cables is wanted");
        cables = NULL;
    }
    for (const pr_node *child = cables == NULL ? NULL : cables->first; child != NULL;
         child = child->next)
        if (pr_schema_find(&pr_schema_cables, child->key) < 0) {
            const char *known[N_ROLES];
            for (int i = 0; i < N_ROLES; i++)
                known[i] = ROLES[i].key;
            pr_reader_say_unknown(r, pr_node_key_place(child), "cables: unknown key", child->key,
                                  known, N_ROLES);
        }
    for (int i = 0; i < N_ROLES; i++)
        read_role(r, &ROLES[i], cables);
}
