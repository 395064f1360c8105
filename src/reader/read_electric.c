/* Batteries, link, cut-offs, alternator, winch. */
#include "reader/reading.h"

#include <limits.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

/* Name of what a section describes, for reports. */
static void keep_name(char name[PR_NAME_MAX], const pr_layers *layers, const char *otherwise)
{
    snprintf(name, PR_NAME_MAX, "%s", layers->entry != NULL ? layers->entry : otherwise);
}

static bool is_given(const pr_node *node)
{
    return node != NULL && !pr_node_is_none(node);
}

static void read_battery(pr_reader *r, const pr_node *node, size_t post, const char *path)
{
    const pr_layers layers = pr_layers_of(r, &pr_schema_battery, node);
    pr_section_read(r, &pr_schema_battery, path, post, &layers, pr_node_key_place(node));
    keep_name(r->scenario->battery_name[post], &layers, "as given");
}

static void read_cutoff(pr_reader *r, const pr_node *root, size_t post, const char *path)
{
    const pr_node *node = pr_node_get(root, path);
    if (!is_given(node))
        return;
    const pr_layers layers = pr_layers_of(r, &pr_schema_cutoff, node);
    pr_section_read(r, &pr_schema_cutoff, path, post, &layers, pr_node_key_place(node));
    r->scenario->system.has_cutoff[post] = true;
    if ((int)post >= r->scenario->system.n_batteries && !r->cut)
        pr_reader_error(r, pr_node_key_place(node), "%s: there is no second battery", path);
}

static void read_link(pr_reader *r, const pr_node *root)
{
    const pr_node *node = pr_node_get(root, "link");
    if (!is_given(node))
        return;
    const pr_layers layers = pr_layers_of(r, &pr_schema_link, node);
    const int kind = pr_layers_choice(&layers, &pr_schema_link, "kind");
    r->scenario->system.link =
        pr_link_def_default(kind == INT_MIN ? PR_LINK_SWITCH : (pr_link_kind)kind);
    pr_section_read(r, &pr_schema_link, "link", 0, &layers, pr_node_key_place(node));
    if (r->scenario->system.n_batteries < 2 && !r->cut)
        pr_reader_error(r, pr_node_key_place(node), "link: there is no second battery to join");
}

void pr_read_batteries(pr_reader *r, const pr_node *root)
{
    const pr_node *main_node = pr_node_get(root, "battery");
    const pr_node *second_node = pr_node_get(root, "second_battery");
    if (is_given(main_node))
        read_battery(r, main_node, PR_POST_MAIN, "battery");
    else if (main_node != NULL || !r->cut)
        pr_reader_error(
            r, main_node == NULL ? pr_node_place(root) : pr_node_place(main_node),
            "\"battery\" is missing: what its label says, or one of the catalogue, like "
            "`battery: flooded-70-starter` (`models` lists them)");
    if (is_given(second_node)) {
        r->scenario->system.n_batteries = 2;
        read_battery(r, second_node, PR_POST_SECOND, "second_battery");
    }
    read_link(r, root);
    read_cutoff(r, root, PR_POST_MAIN, "cutoff");
    read_cutoff(r, root, PR_POST_SECOND, "second_cutoff");
}

void pr_read_alternator(pr_reader *r, const pr_node *root)
{
    const pr_node *node = pr_node_get(root, "alternator");
    r->scenario->system.has_alternator = is_given(node);
    if (node == NULL && !r->cut)
        pr_reader_error(r, pr_node_place(root),
                        "\"alternator\" is missing: give it, or say `alternator: none`");
    if (!is_given(node))
        return;
    const pr_layers layers = pr_layers_of(r, &pr_schema_alternator, node);
    pr_section_read(r, &pr_schema_alternator, "alternator", 0, &layers, pr_node_key_place(node));
    keep_name(r->scenario->alternator_name, &layers, "as given");
}

void pr_read_winch(pr_reader *r, const pr_node *root)
{
    const pr_node *node = pr_node_get(root, "winch");
    r->scenario->system.has_winch = is_given(node);
    if (!is_given(node))
        return;
    const pr_layers layers = pr_layers_of(r, &pr_schema_winch, node);
    const int kind = pr_layers_choice(&layers, &pr_schema_winch, "motor");
    r->scenario->system.motor =
        pr_motor_def_default(kind == INT_MIN ? PR_MOTOR_SERIES : (pr_motor_kind)kind);
    pr_section_read(r, &pr_schema_winch, "winch", 0, &layers, pr_node_key_place(node));
    keep_name(r->scenario->winch_name, &layers, "as given");
}
