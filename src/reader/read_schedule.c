/* Schedule of `run`, and situations of `budget`. */
#include "reader/reading.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static void settle_phase(pr_reader *r, const pr_section *s, pr_phase *phase)
{
    const bool pull = pr_section_has(s, "pull"), rest = pr_section_has(s, "rest"),
               crank = pr_section_has(s, "crank");
    if (pull + rest + crank != 1) {
        pr_reader_error(r, s->place, "%s: one of pull, rest and crank is wanted", s->path);
        return;
    }
    const bool off = phase->engine_rpm == 0.0;
    phase->activity = crank  ? PR_CRANK
                      : pull ? (off ? PR_PULL_ENGINE_OFF : PR_PULL)
                             : (off ? PR_ENGINE_OFF : PR_REST);
    if (crank && !pr_section_has(s, "engine"))
        phase->engine_rpm = 0.0;
    if (!pull && pr_section_has(s, "distance"))
        pr_reader_error(r, pr_section_at(s, "distance"), "%s: only a pull has a distance", s->path);
    const pr_node *names = pr_node_get(s->layers.own, "switch_off");
    char path[PR_NAME_MAX + 16];
    snprintf(path, sizeof path, "%s.switch_off", s->path);
    if (names != NULL)
        phase->load_off_mask_lo = pr_read_load_names(r, path, names);
}

static bool has_room(pr_reader *r, const pr_node *item)
{
    if (r->scenario->n_schedule < PR_SCHEDULE_MAX)
        return true;
    pr_reader_error(r, pr_node_place(item), "schedule: more than %d lines", PR_SCHEDULE_MAX);
    return false;
}

static bool read_phase(pr_reader *r, const pr_node *item, int group, int repeat)
{
    if (!has_room(r, item))
        return false;
    const size_t k = (size_t)r->scenario->n_schedule++;
    pr_schedule_entry *entry = &r->scenario->schedule[k];
    *entry = (pr_schedule_entry){.repeat = repeat, .group = group};
    entry->phase.duration_s = entry->phase.stop_travel_m = PR_NAN;
    entry->phase.engine_rpm = r->scenario->system.fast_idle_rpm;
    char path[PR_NAME_MAX];
    snprintf(path, sizeof path, "schedule.%zu", k + 1);
    const pr_layers layers = pr_layers_of(r, &pr_schema_phase, item);
    pr_section *s = pr_section_read(r, &pr_schema_phase, path, k, &layers, pr_node_place(item));
    if (s != NULL && s->errors == 0)
        settle_phase(r, s, &entry->phase);
    return true;
}

static bool read_group(pr_reader *r, const pr_node *item, int group)
{
    if (!has_room(r, item))
        return false;
    char path[PR_NAME_MAX];
    snprintf(path, sizeof path, "schedule, group %d", group);
    const size_t k = (size_t)r->scenario->n_schedule;
    r->scenario->schedule[k].repeat = 1;
    const pr_layers layers = pr_layers_of(r, &pr_schema_phase_group, item);
    pr_section_read(r, &pr_schema_phase_group, path, k, &layers, pr_node_place(item));
    const int repeat = r->scenario->schedule[k].repeat;
    const pr_node *steps = pr_node_get(item, "steps");
    if (item->lost && steps == NULL)
        return true;
    if (steps == NULL || steps->kind != PR_NODE_LIST || steps->count == 0) {
        pr_reader_error(r, steps == NULL ? pr_node_place(item) : pr_node_place(steps),
                        "%s: \"steps\" must be a list of lines", path);
        return true;
    }
    for (const pr_node *step = steps->first; step != NULL; step = step->next)
        if (!read_phase(r, step, group, repeat))
            return false;
    return true;
}

void pr_read_schedule(pr_reader *r, const pr_node *root)
{
    const pr_node *list = pr_node_get(root, "schedule");
    if (list == NULL || pr_node_is_empty(list))
        return;
    if (list->kind != PR_NODE_LIST) {
        pr_reader_error(r, pr_node_place(list), "schedule: a list of lines is wanted");
        return;
    }
    int group = 1; /* 0 means: not repeated together */
    for (const pr_node *item = list->first; item != NULL; item = item->next, group++) {
        const bool repeats =
            pr_node_get(item, "repeat") != NULL || pr_node_get(item, "steps") != NULL;
        if (!(repeats ? read_group(r, item, group) : read_phase(r, item, group, 1)))
            return;
    }
}

static void read_situation(pr_reader *r, const pr_node *item, size_t k)
{
    char path[2 * PR_NAME_MAX];
    snprintf(path, sizeof path, "situations.%s", item->key);
    pr_situation *situation = &r->scenario->situation[k];
    situation->engine_rpm = r->scenario->system.idle_rpm;
    situation->ambient_degC = r->scenario->system.ambient_degC;
    snprintf(situation->name, sizeof situation->name, "%s", item->key);
    const pr_layers layers = pr_layers_of(r, &pr_schema_situation, item);
    pr_section_read(r, &pr_schema_situation, path, k, &layers, pr_node_key_place(item));
    unsigned long on = ~0ul;
    const pr_node *names = pr_node_get(layers.own, "loads");
    const pr_node *without = pr_node_get(layers.own, "without");
    if (names != NULL)
        on = pr_read_load_names(r, path, names);
    if (without != NULL)
        on &= ~pr_read_load_names(r, path, without);
    for (int i = 0; i < r->scenario->system.n_loads; i++)
        situation->load_on[i] = (on >> i & 1ul) != 0;
}

/* Five that every vehicle meets. The loads say when one would have them on. */
static void assume_situations(pr_reader *r)
{
    static const struct {
        const char *name;
        unsigned used;
        bool cruises, hot;
        double warmer_K, ambient_degC; /* NaN: as warm as the file says */
    } usual[] = {
        {"day road", PR_USED_DAY, true, false, 0.0, PR_NAN},
        {"night crawl", PR_USED_NIGHT, false, false, 0.0, PR_NAN},
        {"hot slow trail", PR_USED_DAY | PR_USED_HOT, false, true, 0.0, 40.0},
        {"cold night", PR_USED_NIGHT | PR_USED_COLD, false, false, 0.0, -15.0},
        {"everything at once", PR_USED_ANY, false, true, 0.0, PR_NAN},
    };
    pr_scenario *s = r->scenario;
    for (size_t k = 0; k < sizeof usual / sizeof *usual; k++) {
        pr_situation *situation = &s->situation[k];
        snprintf(situation->name, sizeof situation->name, "%s", usual[k].name);
        situation->engine_rpm = usual[k].cruises ? s->system.max_rpm : s->system.idle_rpm;
        situation->ambient_degC =
            isnan(usual[k].ambient_degC) ? s->system.ambient_degC : usual[k].ambient_degC;
        situation->hot = usual[k].hot;
        for (int i = 0; i < s->system.n_loads; i++)
            situation->load_on[i] = (r->used[i] & usual[k].used) != 0;
    }
    s->n_situations = (int)(sizeof usual / sizeof *usual);
    if (s->system.n_loads > 0)
        pr_assume(r, "situations", "five usual ones", "common practice, no source");
}

void pr_read_situations(pr_reader *r, const pr_node *root)
{
    const pr_node *map = pr_node_get(root, "situations");
    if (map == NULL || pr_node_is_empty(map)) {
        assume_situations(r);
        return;
    }
    if (map->kind != PR_NODE_MAP) {
        pr_reader_error(r, pr_node_place(map),
                        "situations: a map from names to situations is wanted");
        return;
    }
    size_t k = 0;
    for (const pr_node *item = map->first; item != NULL; item = item->next, k++) {
        if (k == PR_SITUATIONS_MAX) {
            pr_reader_error(r, pr_node_key_place(item), "situations: more than %d",
                            PR_SITUATIONS_MAX);
            return;
        }
        r->scenario->n_situations = (int)k + 1;
        read_situation(r, item, k);
    }
}
