/* Recovery: ground, way out, rigging; or the winch current itself. */
#include "reader/reading.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* The ground of a step: mire replaces a surface, and one of them must be there. */
static void settle_ground(pr_reader *r, const pr_section *s, size_t k, bool inherits)
{
    pr_demand_segment *step = &r->scenario->system.demand.segments[k];
    const pr_row *share = &pr_schema_surface.rows[0];
    if (step->mire != PR_MIRE_NONE) {
        /* the surface does not count, so neither does its spread */
        pr_spread_drop(r, share->offset + k * share->stride + PR_CASE_LIKELY * sizeof(double));
        return;
    }
    if (!pr_section_has(s, "surface") && !inherits)
        pr_reader_error(r, s->place, "%s: \"surface\" or \"mire\" is missing: the ground", s->path);
}

static void read_step(pr_reader *r, const pr_node *item, size_t k, bool has_surface)
{
    char path[PR_NAME_MAX];
    snprintf(path, sizeof path, "recovery.steps.%zu", k + 1);
    pr_demand_segment *steps = r->scenario->system.demand.segments;
    if (k > 0 && has_surface)
        memcpy(steps[k].surface_frac, steps[0].surface_frac, sizeof steps[0].surface_frac);
    const pr_layers layers = pr_layers_of(r, &pr_schema_step, item);
    pr_section *s = pr_section_read(r, &pr_schema_step, path, k, &layers, pr_node_place(item));
    if (s != NULL && s->errors == 0)
        settle_ground(r, s, k, has_surface);
}

static void read_steps(pr_reader *r, const pr_section *recovery, const pr_node *list)
{
    static const char *const single[] = {"distance", "slope", "mire"};
    for (int i = 0; i < 3; i++)
        if (pr_section_has(recovery, single[i]))
            pr_reader_error(r, pr_section_at(recovery, single[i]),
                            "recovery.%s: steps say that already; give one of the two", single[i]);
    if (list->lost)
        return;
    if (list->kind != PR_NODE_LIST || list->count == 0 || list->count > PR_DEMAND_SEGMENTS_MAX) {
        pr_reader_error(r, pr_node_place(list),
                        "recovery.steps: a list of 1 .. %d pieces is wanted",
                        PR_DEMAND_SEGMENTS_MAX);
        return;
    }
    const bool has_surface = pr_section_has(recovery, "surface");
    /* a surface of the whole way stands in step 0, which is read last, so that the others see it */
    size_t k = 1;
    for (const pr_node *item = list->first->next; item != NULL; item = item->next)
        read_step(r, item, k++, has_surface);
    read_step(r, list->first, 0, has_surface);
    r->scenario->system.demand.n_segments = (int)list->count;
}

/* Winch amps given directly: no ground, no way. */
static void read_current(pr_reader *r, const pr_section *s, const pr_node *profile)
{
    r->scenario->system.work = PR_WORK_CURRENT;
    if (pr_section_has(s, "current") && profile != NULL)
        pr_reader_error(r, pr_section_at(s, "current"),
                        "recovery: give current or profile, not both");
    if (profile != NULL && pr_value_is_scalar(r, "recovery.profile", profile))
        (void)pr_profile_read(r, profile->text, pr_node_place(profile));
}

static void read_way(pr_reader *r, const pr_section *s)
{
    const bool computed = !pr_section_has(s, "resistance");
    const pr_node *steps = pr_node_get(s->layers.own, "steps");
    if (steps != NULL) {
        read_steps(r, s, steps);
    } else {
        r->scenario->system.demand.n_segments = 1;
        if (!pr_section_has(s, "distance"))
            pr_reader_error(r, s->place, "recovery: \"distance\" is missing: %s",
                            s->schema->rows[0].help);
        if (computed)
            settle_ground(r, s, 0, false);
    }
    if (computed && pr_section_find(r, "vehicle") == NULL && !r->cut)
        pr_reader_error(r, pr_node_place(r->document.root), "\"vehicle\" is missing: its weight");
}

static bool node_names_mud(const pr_node *own)
{
    const pr_node *mire = pr_node_get(own, "mire");
    return mire != NULL && !pr_node_is_none(mire);
}

/* A winch in a file without a recovery: loads and meter can be asked, with a pull at rated amps. */
static void assume_pull(pr_reader *r)
{
    pr_system_def *system = &r->scenario->system;
    const pr_motor_def *m = &system->motor;
    system->work = PR_WORK_CURRENT;
    system->pull_A = m->n_points > 0 ? m->point_A[m->n_points - 1] : m->rated_A;
    r->scenario->no_recovery = true;
    char value[PR_NAME_MAX];
    snprintf(value, sizeof value, "a pull at %.4g A, rated", system->pull_A);
    pr_assume(r, "recovery", value, "none in this file: enough for budget and readings");
}

void pr_read_recovery(pr_reader *r, const pr_node *root)
{
    const pr_node *node = pr_node_get(root, "recovery");
    pr_scenario *scenario = r->scenario;
    if (node == NULL || pr_node_is_none(node)) {
        if (scenario->system.has_winch)
            assume_pull(r);
        return;
    }
    const pr_layers layers = pr_layers_of(r, &pr_schema_recovery, node);
    pr_section *s =
        pr_section_read(r, &pr_schema_recovery, "recovery", 0, &layers, pr_node_key_place(node));
    if (s == NULL)
        return;
    const pr_node *profile = pr_node_get(layers.own, "profile");
    if (pr_section_has(s, "current") || profile != NULL)
        read_current(r, s, profile);
    else if (s->errors == 0 || pr_node_get(layers.own, "steps") != NULL)
        read_way(r, s); /* steps have mistakes of their own */
    const pr_section *surface = pr_section_find(r, "recovery.surface");
    const char *name = node_names_mud(layers.own) ? "mire" : "as given";
    if (surface != NULL && surface->layers.entry != NULL)
        name = surface->layers.entry;
    snprintf(scenario->surface_name, sizeof scenario->surface_name, "%s", name);
}
