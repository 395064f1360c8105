/* What the file did not say: the defaults in use, with their sources, so that nobody trusts one
 * without knowing. */
#include "reader/reading.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

void pr_assume(pr_reader *r, const char *key, const char *value, const char *source)
{
    pr_scenario *s = r->scenario;
    if (s->n_assumptions == r->assumption_capacity) {
        const size_t capacity = r->assumption_capacity == 0 ? 64 : 2 * r->assumption_capacity;
        pr_assumption *grown = realloc(s->assumption, capacity * sizeof *grown);
        if (grown == NULL) {
            r->out_of_memory = true;
            return;
        }
        s->assumption = grown;
        r->assumption_capacity = capacity;
    }
    pr_assumption *a = &s->assumption[s->n_assumptions++];
    memset(a, 0, sizeof *a);
    snprintf(a->key, sizeof a->key, "%s", key);
    snprintf(a->value, sizeof a->value, "%s", value);
    snprintf(a->source, sizeof a->source, "%s", source);
}

void pr_assume_entry(pr_reader *r, const pr_section *s)
{
    const pr_node *evidence = pr_node_get(s->layers.catalogue, "evidence");
    const pr_node *source = pr_node_get(s->layers.catalogue, "source");
    char text[PR_TEXT_MAX];
    snprintf(text, sizeof text, "catalogue, %s: %.120s",
             evidence == NULL || evidence->text == NULL ? "evidence not stated" : evidence->text,
             source == NULL || source->text == NULL ? "no source" : source->text);
    pr_assume(r, s->path, s->layers.entry, text);
}

/* Words of a choice or of several flags. */
static void words_text(const pr_row *row, int value, char *text, size_t size)
{
    size_t used = 0;
    text[0] = '\0';
    for (const pr_choice *c = row->choices; c->name != NULL; c++) {
        const bool holds = row->kind == PR_ROW_CHOICE ? c->value == value
                                                      : ((unsigned)value & (unsigned)c->value) != 0;
        if (!holds || used >= size)
            continue;
        const int n = snprintf(text + used, size - used, "%s%s", used == 0 ? "" : ", ", c->name);
        used += n < 0 ? 0 : (size_t)n;
        if (row->kind == PR_ROW_CHOICE)
            return;
    }
}

static void number_text(pr_reader *r, const pr_row *row, double stored, char *text, size_t size)
{
    const double shown = pr_value_shown(r, row, stored);
    if (row->unit == NULL)
        snprintf(text, size, "%.4g", shown);
    else
        snprintf(text, size, "%.4g %s", shown, row->unit);
}

void pr_row_default_text(pr_reader *r, const pr_row *row, size_t index, char *text, size_t size)
{
    text[0] = '\0';
    if (row->fallback != NULL) {
        snprintf(text, size, "%s", row->fallback);
        return;
    }
    if ((row->flags & (PR_KEY_REQUIRED | PR_KEY_TRANSIENT)) != 0)
        return;
    const void *at = pr_value_target(r, row, index);
    switch (row->kind) {
    case PR_ROW_QUANTITY:
    case PR_ROW_NUMBER:
    case PR_ROW_SLOPE:
    case PR_ROW_SPEED:
        if (!isnan(*(const double *)at))
            number_text(r, row, *(const double *)at, text, size);
        break;
    case PR_ROW_COUNT:
        snprintf(text, size, "%d", *(const int *)at);
        break;
    case PR_ROW_CHOICE:
    case PR_ROW_FLAGS:
        words_text(row, *(const int *)at, text, size);
        break;
    case PR_ROW_YES_NO:
        snprintf(text, size, "%s", *(const bool *)at ? "yes" : "no");
        break;
    case PR_ROW_YES_NO_INT:
        snprintf(text, size, "%s", *(const int *)at != 0 ? "yes" : "no");
        break;
    default:
        break;
    }
}

void pr_assume_section(pr_reader *r, const pr_section *s)
{
    if (s->schema->quiet)
        return;
    /* what people know comes first, the inside of the models after it */
    for (int fine = 0; fine < 2; fine++)
        for (size_t i = 0; i < s->schema->n_rows; i++) {
            const pr_row *row = &s->schema->rows[i];
            if (s->given[i] != NULL || row->kind >= PR_ROW_TEXT ||
                (row->flags & PR_KEY_OTHER) != 0 || ((row->flags & PR_KEY_FINE) != 0) != fine ||
                !pr_row_applies(r, s, row))
                continue;
            char key[2 * PR_NAME_MAX], value[PR_TEXT_MAX];
            pr_row_default_text(r, row, s->index, value, sizeof value);
            snprintf(key, sizeof key, "%s%s%s", s->path, s->path[0] == '\0' ? "" : ".", row->key);
            if (value[0] != '\0')
                pr_assume(r, key, value, row->source == NULL ? "" : row->source);
        }
}
