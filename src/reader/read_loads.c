/* Loads, and lists of loads by name. */
#include "reader/nearest.h"
#include "reader/reading.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Layers of one item: a name, a map with or without `use`, or a key with such a map under it. */
static pr_layers item_layers(pr_reader *r, const pr_node *item)
{
    const bool named = item->key != NULL;
    const bool is_full = pr_node_get(item, "use") != NULL || pr_node_get(item, "current") != NULL ||
                         pr_node_get(item, "power") != NULL;
    if (!named || (item->kind == PR_NODE_MAP && is_full) ||
        (item->kind != PR_NODE_MAP && !pr_node_is_empty(item)))
        return pr_layers_of(r, &pr_schema_load, item);
    /* a map from catalogue names: the key is the name */
    pr_node *name =
        pr_node_new(&r->document, PR_NODE_SCALAR, item->file, item->key_line, item->key_column);
    if (name == NULL) {
        r->out_of_memory = true;
        return (pr_layers){0};
    }
    name->text = item->key;
    pr_layers layers = pr_layers_of(r, &pr_schema_load, name);
    if (item->kind == PR_NODE_MAP)
        layers.own = item;
    return layers;
}

static void name_load(pr_reader *r, const pr_section *s, const pr_node *item, size_t k)
{
    pr_named_load *load = &r->scenario->system.load[k];
    if (load->name[0] == '\0' && item->key != NULL)
        snprintf(load->name, sizeof load->name, "%s", item->key);
    if (load->name[0] == '\0' && s->layers.entry != NULL)
        snprintf(load->name, sizeof load->name, "%s", s->layers.entry);
    if (load->name[0] == '\0')
        snprintf(load->name, sizeof load->name, "load %zu", k + 1);
    for (size_t i = 0; i < k; i++)
        if (pr_name_equal(r->scenario->system.load[i].name, load->name))
            pr_reader_error(r, s->place,
                            "loads: \"%s\" stands twice; give one of them another `name`, or use "
                            "`quantity`",
                            load->name);
}

/* Amps or watts: what the file itself gives replaces what the catalogue gave. */
static void settle_current(pr_reader *r, const pr_section *s, pr_load_def *def)
{
    const int amps = pr_schema_find(s->schema, "current"),
              watts = pr_schema_find(s->schema, "power");
    const bool has_amps = s->given[amps] != NULL, has_watts = s->given[watts] != NULL;
    if (has_amps && has_watts) {
        if (s->from_catalogue[amps] && !s->from_catalogue[watts])
            def->amps_A = PR_NAN;
        else if (s->from_catalogue[watts] && !s->from_catalogue[amps])
            def->watts_W = PR_NAN;
        else
            pr_reader_error(r, pr_section_at(s, "power"), "%s: give current or power, not both",
                            s->path);
    } else if (!has_amps && !has_watts) {
        pr_reader_error(r, s->place, "%s: \"current\" or \"power\" is missing", s->path);
    }
}

static void settle_thermostat(pr_reader *r, const pr_section *s, pr_load_def *def)
{
    static const char *const needed[] = {"on_at", "off_at", "drift", "pull_back"};
    bool complete = true;
    for (int i = 0; i < 4; i++)
        if (!pr_section_has(s, needed[i])) {
            pr_reader_error(r, s->place, "%s: a thermostat needs \"%s\"", s->path, needed[i]);
            complete = false;
        }
    if (complete && def->on_degC == def->off_degC)
        pr_reader_error(r, pr_section_at(s, "off_at"), "%s: off_at is the same as on_at", s->path);
    def->cycling = PR_CYCLE_THERMOSTAT;
    if (isnan(def->start_degC))
        def->start_degC = def->off_degC;
}

static void settle_cycling(pr_reader *r, const pr_section *s, pr_load_def *def)
{
    const bool duty = pr_section_has(s, "duty");
    const bool thermostat = pr_section_has(s, "on_at") || pr_section_has(s, "off_at");
    if (duty && thermostat)
        pr_reader_error(r, pr_section_at(s, "duty"), "%s: give duty or a thermostat, not both",
                        s->path);
    else if (thermostat)
        settle_thermostat(r, s, def);
    else if (duty && def->duty_frac < 1.0)
        def->cycling = PR_CYCLE_DUTY;
    if (def->cycling == PR_CYCLE_DUTY && isnan(def->period_s))
        def->period_s = 60.0;
}

static void settle_dropout(pr_reader *r, const pr_section *s, pr_load_def *def)
{
    if (isnan(def->dropout_V)) {
        if (pr_section_has(s, "comes_back"))
            pr_reader_error(r, pr_section_at(s, "comes_back"), "%s: comes_back needs drop_out",
                            s->path);
        return;
    }
    if (isnan(def->return_V))
        def->return_V = def->dropout_V + 0.5;
    if (def->return_V < def->dropout_V)
        pr_reader_error(r, pr_section_at(s, "comes_back"), "%s: comes_back is below drop_out",
                        s->path);
}

static void read_load(pr_reader *r, const pr_node *item, size_t k)
{
    char path[PR_NAME_MAX];
    const pr_layers layers = item_layers(r, item);
    pr_named_load *load = &r->scenario->system.load[k];
    load->def = pr_load_def_default();
    if (item->key != NULL || layers.entry != NULL)
        snprintf(path, sizeof path, "loads.%.40s", item->key != NULL ? item->key : layers.entry);
    else
        snprintf(path, sizeof path, "loads.%zu", k + 1);
    pr_section *s = pr_section_read(r, &pr_schema_load, path, k, &layers, pr_node_key_place(item));
    if (s == NULL)
        return;
    name_load(r, s, item, k);
    r->used[k] = pr_section_has(s, "used") ? (unsigned)pr_section_value(s, "used") : PR_USED_ANY;
    if (s->errors > 0)
        return;
    const size_t errors = r->diag->errors;
    settle_current(r, s, &load->def);
    settle_cycling(r, s, &load->def);
    settle_dropout(r, s, &load->def);
    s->errors += r->diag->errors - errors;
    const pr_node *cable = pr_layers_get(&layers, "cable");
    if (cable == NULL || pr_node_is_none(cable))
        return;
    const pr_layers inner = pr_layers_within(r, &pr_schema_cable, &layers, "cable");
    char cable_path[PR_NAME_MAX + 8];
    snprintf(cable_path, sizeof cable_path, "%s.cable", path);
    pr_read_cable(r, cable_path, PR_RUN_FIRST_LOAD + k, &inner, pr_node_key_place(cable));
}

void pr_read_loads(pr_reader *r, const pr_node *root)
{
    const pr_node *loads = pr_node_get(root, "loads");
    if (loads == NULL && !r->cut)
        pr_assume(r, "loads", "none", "and a running engine alone takes 2 to 20 A: name its loads");
    if (loads == NULL || pr_node_is_empty(loads) || pr_node_is_none(loads))
        return;
    if (loads->kind == PR_NODE_SCALAR) {
        pr_reader_error(r, pr_node_place(loads), "loads: a list of loads is wanted");
        return;
    }
    size_t k = 0;
    for (const pr_node *item = loads->first; item != NULL; item = item->next, k++) {
        if (k == PR_LOADS_MAX) {
            pr_reader_error(r, pr_node_key_place(item), "loads: more than %d", PR_LOADS_MAX);
            break;
        }
        r->scenario->system.n_loads = (int)k + 1;
        read_load(r, item, k);
    }
}

/* Index of a load by name; -1 after a message. */
static int find_load(pr_reader *r, const char *path, const pr_node *node)
{
    if (!pr_value_is_scalar(r, path, node))
        return -1;
    const char *known[PR_LOADS_MAX];
    const int n = r->scenario->system.n_loads;
    if (r->cut && n == 0)
        return -1; /* they may have followed */
    for (int k = 0; k < n; k++) {
        known[k] = r->scenario->system.load[k].name;
        if (pr_name_equal(known[k], node->text))
            return k;
    }
    char what[2 * PR_NAME_MAX];
    snprintf(what, sizeof what, "%s: this file has no load", path);
    pr_reader_say_unknown(r, pr_node_place(node), what, node->text, known, (size_t)n);
    return -1;
}

unsigned long pr_read_load_names(pr_reader *r, const char *path, const pr_node *node)
{
    const int n = r->scenario->system.n_loads;
    unsigned long mask = 0;
    if (node->kind == PR_NODE_SCALAR && node->plain && strcmp(node->text, "all") == 0)
        return n == 0 ? 0 : ~0ul >> (64 - n);
    if (node->kind == PR_NODE_SCALAR && pr_node_is_none(node))
        return 0;
    if (node->kind == PR_NODE_MAP) {
        pr_reader_error(r, pr_node_place(node), "%s: a list of names is wanted", path);
        return 0;
    }
    const pr_node *item = node->kind == PR_NODE_LIST ? node->first : node;
    for (; item != NULL; item = node->kind == PR_NODE_LIST ? item->next : NULL) {
        const int k = find_load(r, path, item);
        if (k >= 0)
            mask |= 1ul << k;
    }
    return mask;
}
