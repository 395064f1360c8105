/* Uncertain numbers: {low:, likely:, high:}, {mean:, sd:, low:, high:} or {low:, high:}. */
#include "reader/reading.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

enum { LOW, LIKELY, MEAN, SD, HIGH, PARTS };
static const char *const PART_NAMES[PARTS] = {"low", "likely", "mean", "sd", "high"};

/* What a spread's map says, still to be judged. */
typedef struct spread_parts {
    const pr_node *node[PARTS];
    double shown[PARTS], stored[PARTS];
} spread_parts;

void pr_spread_drop(pr_reader *r, size_t offset)
{
    pr_scenario *s = r->scenario;
    for (int i = 0; i < s->n_spreads; i++)
        if (s->spread[i].offset == offset) {
            memmove(&s->spread[i], &s->spread[i + 1],
                    (size_t)(s->n_spreads - i - 1) * sizeof s->spread[0]);
            s->n_spreads--;
            return;
        }
}

/* Makes room for a spread that the user asked for by leaving out one of the catalogue. */
static bool evict_one(pr_reader *r)
{
    pr_scenario *s = r->scenario;
    for (int i = s->n_spreads - 1; i >= 0; i--)
        if (s->spread[i].from_catalogue) {
            pr_spread_drop(r, s->spread[i].offset);
            r->spreads_left_out++;
            return true;
        }
    return false;
}

bool pr_spread_add(pr_reader *r, const pr_spread *spread, pr_place place)
{
    pr_scenario *s = r->scenario;
    pr_spread_drop(r, spread->offset);
    if (s->n_spreads == PR_SPREADS_MAX) {
        if (spread->from_catalogue) {
            r->spreads_left_out++;
            return true;
        }
        if (!evict_one(r)) {
            pr_reader_error(r, place, "%s: more than %d numbers with a spread", spread->key,
                            PR_SPREADS_MAX);
            return false;
        }
    }
    s->spread[s->n_spreads++] = *spread;
    return true;
}

/* A standard deviation is a difference: of temperatures in K, of slopes in degrees. */
static pr_row sd_row(const pr_row *row)
{
    pr_row sd = *row;
    sd.min = sd.max = 0.0;
    if (row->unit != NULL && strcmp(row->unit, "degC") == 0)
        sd.unit = "K";
    if (row->kind == PR_ROW_SLOPE || row->kind == PR_ROW_SPEED || row->kind == PR_ROW_CASES)
        sd.kind = PR_ROW_QUANTITY;
    return sd;
}

/* Reads the parts that are there; false after a message. */
static bool read_parts(pr_reader *r, const char *path, const pr_row *row, const pr_node *node,
                       spread_parts *parts)
{
    bool sound = true;
    const pr_row sd = sd_row(row);
    for (const pr_node *child = node->first; child != NULL; child = child->next) {
        int k = 0;
        while (k < PARTS && strcmp(PART_NAMES[k], child->key) != 0)
            k++;
        if (k == PARTS) {
            char what[2 * PR_NAME_MAX];
            snprintf(what, sizeof what, "%s: a spread has no", path);
            pr_reader_say_unknown(r, pr_node_key_place(child), what, child->key, PART_NAMES, PARTS);
            sound = false;
            continue;
        }
        char part[2 * PR_NAME_MAX];
        snprintf(part, sizeof part, "%s.%s", path, child->key);
        parts->node[k] = child;
        sound &= pr_value_number(r, part, k == SD ? &sd : row, child, &parts->shown[k],
                                 &parts->stored[k]);
    }
    return sound;
}

/* low <= middle <= high and a width. */
static bool check_order(pr_reader *r, const char *path, const spread_parts *p, int middle)
{
    const int order[3] = {LOW, middle, HIGH};
    const pr_node *before = NULL;
    double last = 0.0;
    for (int i = 0; i < 3; i++) {
        const pr_node *node = p->node[order[i]];
        if (node == NULL)
            continue;
        if (before != NULL && p->stored[order[i]] < last) {
            pr_reader_error(r, pr_node_place(node), "%s: %s %s is below %s %s", path, node->key,
                            node->text, before->key, before->text);
            return false;
        }
        before = node;
        last = p->stored[order[i]];
    }
    if (p->node[LOW] != NULL && p->node[HIGH] != NULL && !(p->stored[LOW] < p->stored[HIGH])) {
        pr_reader_error(r, pr_node_place(p->node[HIGH]), "%s: low and high are the same", path);
        return false;
    }
    return true;
}

/* Which kind of spread the parts make; false after a message. */
static bool judge_parts(pr_reader *r, const char *path, const pr_node *node, const spread_parts *p,
                        pr_spread_kind *kind)
{
    const bool has[PARTS] = {p->node[LOW] != NULL, p->node[LIKELY] != NULL, p->node[MEAN] != NULL,
                             p->node[SD] != NULL, p->node[HIGH] != NULL};
    if (has[MEAN] && has[SD] && !has[LIKELY]) {
        *kind = PR_SPREAD_NORMAL;
        if (!(p->stored[SD] > 0.0)) {
            pr_reader_error(r, pr_node_place(p->node[SD]), "%s: sd must be above 0", path);
            return false;
        }
        return check_order(r, path, p, MEAN);
    }
    if (has[LOW] && has[HIGH] && !has[MEAN] && !has[SD]) {
        *kind = has[LIKELY] ? PR_SPREAD_TRIANGLE : PR_SPREAD_UNIFORM;
        return check_order(r, path, p, LIKELY);
    }
    pr_reader_error(r, pr_node_place(node),
                    "%s: a spread is {low:, likely:, high:}, {low:, high:} or {mean:, sd:} with "
                    "low: and high: if wanted",
                    path);
    return false;
}

/* Limits of a normal spread where none are given: the row's range, at most five deviations. */
static void cut_normal(pr_reader *r, const pr_row *row, const spread_parts *p, pr_spread *spread)
{
    double low = -PR_INF, high = PR_INF;
    if (row->min < row->max) {
        low = row->min;
        high = row->max;
        if (row->unit != NULL && row->stored != NULL) {
            pr_quantity_convert(r->quantities, row->min, row->unit, row->stored, &low);
            pr_quantity_convert(r->quantities, row->max, row->unit, row->stored, &high);
        }
    }
    const double mean = p->stored[MEAN], five = 5.0 * p->stored[SD];
    spread->sd = p->stored[SD];
    spread->likely = mean;
    spread->low = p->node[LOW] != NULL ? p->stored[LOW] : fmax(low, mean - five);
    spread->high = p->node[HIGH] != NULL ? p->stored[HIGH] : fmin(high, mean + five);
}

bool pr_spread_parse(pr_reader *r, const char *path, const pr_row *row, size_t offset,
                     const pr_node *node, bool from_catalogue, pr_spread *spread)
{
    spread_parts p = {0};
    *spread = (pr_spread){.offset = offset,
                          .unit = row->unit,
                          .stored = row->stored,
                          .from_catalogue = from_catalogue,
                          .sd = PR_NAN};
    if (!read_parts(r, path, row, node, &p) || !judge_parts(r, path, node, &p, &spread->kind))
        return false;
    snprintf(spread->key, sizeof spread->key, "%s", path);
    if (spread->kind == PR_SPREAD_NORMAL) {
        cut_normal(r, row, &p, spread);
        return true;
    }
    spread->low = p.stored[LOW];
    spread->high = p.stored[HIGH];
    spread->likely = p.node[LIKELY] != NULL ? p.stored[LIKELY] : 0.5 * (spread->low + spread->high);
    return true;
}

/* The spread that a default brings along. */
void pr_spread_default(pr_reader *r, const char *path, const pr_row *row, size_t offset)
{
    if (!(row->spread_low < row->spread_high))
        return;
    const double now = *(const double *)(const void *)((const char *)r->scenario + offset);
    if (isnan(now))
        return;
    pr_spread spread = {.offset = offset,
                        .unit = row->unit,
                        .stored = row->stored,
                        .kind = PR_SPREAD_TRIANGLE,
                        .sd = PR_NAN,
                        .likely = now,
                        .low = row->spread_low,
                        .high = row->spread_high,
                        .from_catalogue = true};
    if (row->unit != NULL && row->stored != NULL) {
        pr_quantity_convert(r->quantities, row->spread_low, row->unit, row->stored, &spread.low);
        pr_quantity_convert(r->quantities, row->spread_high, row->unit, row->stored, &spread.high);
    }
    spread.low = fmin(spread.low, now);
    spread.high = fmax(spread.high, now);
    snprintf(spread.key, sizeof spread.key, "%s", path);
    pr_spread_add(r, &spread, (pr_place){NULL, 0, 0});
}

/* Section and row that a path like "winch.rope.length" means; false after a message. */
static bool find_number(pr_reader *r, const pr_node *item, pr_section **section, int *row)
{
    char path[PR_KEY_MAX];
    snprintf(path, sizeof path, "%s", item->key);
    char *dot = strrchr(path, '.');
    const char *key = dot == NULL ? path : dot + 1;
    if (dot != NULL)
        *dot = '\0';
    *section = pr_section_find(r, dot == NULL ? "" : path);
    if (*section == NULL) {
        const char *known[64];
        size_t n = 0;
        for (const pr_section *s = r->first; s != NULL && n < 64; s = s->next)
            if (s->path[0] != '\0')
                known[n++] = s->path;
        pr_reader_say_unknown(r, pr_node_key_place(item), "spreads: this file has no section", path,
                              known, n);
        return false;
    }
    *row = pr_schema_find((*section)->schema, key);
    const pr_row_kind kind = *row < 0 ? PR_ROW_SPECIAL : (*section)->schema->rows[*row].kind;
    if (kind <= PR_ROW_CASES && kind != PR_ROW_COUNT &&
        ((*section)->schema->rows[*row].flags & PR_KEY_TRANSIENT) == 0)
        return true;
    const char *known[PR_ROWS_MAX];
    size_t n = 0;
    for (size_t i = 0; i < (*section)->schema->n_rows; i++)
        if ((*section)->schema->rows[i].kind <= PR_ROW_CASES &&
            (*section)->schema->rows[i].kind != PR_ROW_COUNT)
            known[n++] = (*section)->schema->rows[i].key;
    pr_reader_say_unknown(r, pr_node_key_place(item), "spreads: no number is called", key, known,
                          n);
    return false;
}

void pr_spreads_section_read(pr_reader *r, const pr_node *node)
{
    if (node == NULL || pr_node_is_empty(node))
        return;
    if (node->kind != PR_NODE_MAP) {
        pr_reader_error(r, pr_node_place(node), "spreads: a map from paths to spreads is wanted");
        return;
    }
    for (const pr_node *item = node->first; item != NULL; item = item->next) {
        pr_section *section;
        int row;
        if (item->kind != PR_NODE_MAP) {
            pr_reader_error(r, pr_node_place(item),
                            "spreads.%s: a spread is {low:, likely:, high:} or so", item->key);
            continue;
        }
        if (find_number(r, item, &section, &row))
            (void)pr_value_read(r, section, row, item, false);
    }
}
