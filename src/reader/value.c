/* One value: from a node of the document into the scenario, by its schema row. */
#include "reader/nearest.h"
#include "reader/reading.h"

#include <limits.h>
#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

/* Shown text of a hostile file stays short. */
#define SHOWN "%.60s"

void pr_reader_error(pr_reader *r, pr_place place, const char *format, ...)
{
    char text[600];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    pr_diag_add(r->diag, PR_ERROR, place, "%s", text);
}

void pr_reader_say_once(pr_reader *r, pr_severity severity, pr_place at, const char *text)
{
    for (size_t i = 0; i < r->diag->count; i++) {
        const pr_diag_entry *e = &r->diag->entries[i];
        if (e->line == at.line && e->column == at.column && strcmp(e->text, text) == 0)
            return;
    }
    pr_diag_add(r->diag, severity, at, "%s", text);
}

/* Adds a word to a list of known ones, or an ellipsis when it is full. */
static void list_word(char *list, size_t size, const char *word)
{
    const size_t used = strlen(list);
    if (used >= 3 && strcmp(list + used - 3, "...") == 0)
        return;
    if (used + strlen(word) + 8 > size)
        word = "...";
    snprintf(list + used, size - used, "%s%s", used == 0 ? "" : ", ", word);
}

const char *pr_reader_say_unknown(pr_reader *r, pr_place place, const char *what, const char *given,
                                  const char *const known[], size_t n_known)
{
    const char *nearest = NULL;
    size_t best = SIZE_MAX;
    char list[200] = "";
    for (size_t i = 0; i < n_known; i++) {
        const size_t distance = pr_edit_distance(given, known[i]);
        if (distance < best) {
            best = distance;
            nearest = known[i];
        }
        list_word(list, sizeof list, known[i]);
    }
    if (nearest == NULL || !pr_is_near(best, given))
        nearest = NULL;
    if (nearest != NULL)
        pr_reader_error(r, place, "%s \"" SHOWN "\", nearest is \"%s\"", what, given, nearest);
    else if (n_known == 0)
        pr_reader_error(r, place, "%s \"" SHOWN "\"", what, given);
    else
        pr_reader_error(r, place, "%s \"" SHOWN "\"; known are %s", what, given, list);
    return nearest;
}

void *pr_value_target(pr_reader *r, const pr_row *row, size_t index)
{
    return (char *)r->scenario + row->offset + index * row->stride;
}

/* {low: ...} or so where none can be. */
static bool looks_like_spread(const pr_node *node)
{
    static const char *const keys[] = {"low", "likely", "mean", "sd", "high"};
    for (const pr_node *child = node->first; node->kind == PR_NODE_MAP && child != NULL;
         child = child->next)
        for (size_t k = 0; k < sizeof keys / sizeof *keys; k++)
            if (strcmp(child->key, keys[k]) == 0)
                return true;
    return false;
}

bool pr_value_is_scalar(pr_reader *r, const char *path, const pr_node *node)
{
    if (node->lost)
        return false; /* said where it was lost */
    if (node->kind != PR_NODE_SCALAR) {
        pr_reader_error(
            r, pr_node_place(node), "%s: a single value is wanted, not a %s%s", path,
            node->kind == PR_NODE_MAP ? "map" : "list",
            looks_like_spread(node) ? "; counts, cable sizes and words cannot be a spread" : "");
        return false;
    }
    if (pr_node_is_empty(node)) {
        pr_reader_error(r, pr_node_key_place(node), "%s: the value is missing", path);
        return false;
    }
    return true;
}

static bool note_status(pr_reader *r, pr_status status)
{
    if (status == PR_ERR_NOMEM)
        r->out_of_memory = true;
    return status == PR_OK;
}

double pr_value_shown(pr_reader *r, const pr_row *row, double stored)
{
    double shown = stored;
    if (row->unit != NULL && row->stored != NULL)
        note_status(r, pr_quantity_convert(r->quantities, stored, row->stored, row->unit, &shown));
    return shown;
}

/* Words for an engine speed; false: none of them. */
static bool speed_word(const pr_reader *r, const pr_row *row, const char *text, double *rpm)
{
    if ((row->flags & PR_KEY_OFF) != 0 && (strcmp(text, "off") == 0 || strcmp(text, "no") == 0))
        *rpm = 0.0;
    else if (pr_name_equal(text, "idle"))
        *rpm = r->scenario->system.idle_rpm;
    else if (pr_name_equal(text, "fast idle"))
        *rpm = r->scenario->system.fast_idle_rpm;
    else
        return false;
    return true;
}

static bool in_range(pr_reader *r, const char *path, const pr_row *row, const pr_node *node,
                     double shown)
{
    /* a limit written in another unit must not fail by the last bit of its conversion */
    const double slack = 1e-9 * fmax(fabs(row->min), fabs(row->max));
    if (row->min == row->max || (shown >= row->min - slack && shown <= row->max + slack))
        return true;
    char range[80];
    pr_row_range_text(row, range, sizeof range);
    pr_reader_error(r, pr_node_place(node), "%s: \"" SHOWN "\" is outside %s", path, node->text,
                    range);
    return false;
}

bool pr_value_number(pr_reader *r, const char *path, const pr_row *row, const pr_node *node,
                     double *shown, double *stored)
{
    char message[PR_QUANTITY_MESSAGE_MAX] = "", range[80];
    if (!pr_value_is_scalar(r, path, node))
        return false;
    pr_status status;
    if (row->kind == PR_ROW_SPEED && speed_word(r, row, node->text, stored)) {
        *shown = *stored;
        return true;
    }
    if (row->kind == PR_ROW_SLOPE) {
        status = pr_slope_read(r->quantities, node->text, stored, message);
        *shown = status == PR_OK ? pr_value_shown(r, row, *stored) : PR_NAN;
    } else {
        status = pr_quantity_read(r->quantities, node->text, row->unit, shown, message);
        *stored = *shown;
        if (status == PR_OK && row->stored != NULL)
            status = pr_quantity_convert(r->quantities, *shown, row->unit, row->stored, stored);
    }
    if (status == PR_ERR_INPUT) {
        pr_row_range_text(row, range, sizeof range);
        pr_reader_error(r, pr_node_place(node), "%s: \"" SHOWN "\": %s%s%s%s", path, node->text,
                        message, range[0] == '\0' ? "" : " (", range, range[0] == '\0' ? "" : ")");
    }
    return note_status(r, status) && in_range(r, path, row, node, *shown);
}

int pr_value_choice_peek(const pr_choice choices[], const pr_node *node)
{
    for (const pr_choice *c = choices; c->name != NULL && node != NULL; c++)
        if (node->kind == PR_NODE_SCALAR && pr_name_equal(c->name, node->text))
            return c->value;
    return INT_MIN;
}

int pr_value_choice(pr_reader *r, const char *path, const pr_choice choices[], const pr_node *node)
{
    if (!pr_value_is_scalar(r, path, node))
        return INT_MIN;
    const char *known[16];
    size_t n = 0;
    for (const pr_choice *c = choices; c->name != NULL && n < 16; c++) {
        if (pr_name_equal(c->name, node->text))
            return c->value;
        known[n++] = c->name;
    }
    char what[PR_NAME_MAX + 24];
    snprintf(what, sizeof what, "%s: unknown word", path);
    pr_reader_say_unknown(r, pr_node_place(node), what, node->text, known, n);
    return INT_MIN;
}

static bool read_flags(pr_reader *r, const char *path, const pr_row *row, const pr_node *node,
                       unsigned *flags)
{
    *flags = 0;
    if (node->kind != PR_NODE_LIST) {
        const int value = pr_value_choice(r, path, row->choices, node);
        *flags = value == INT_MIN ? 0 : (unsigned)value;
        return value != INT_MIN;
    }
    bool sound = true;
    for (const pr_node *item = node->first; item != NULL; item = item->next) {
        const int value = pr_value_choice(r, path, row->choices, item);
        sound = sound && value != INT_MIN;
        *flags |= value == INT_MIN ? 0 : (unsigned)value;
    }
    if (node->first == NULL)
        pr_reader_error(r, pr_node_place(node), "%s: the list is empty", path);
    return sound && node->first != NULL;
}

static bool read_yes_no(pr_reader *r, const char *path, const pr_node *node, bool *yes)
{
    static const pr_choice words[] = {{"yes", 1}, {"no", 0}, {"true", 1}, {"false", 0}, {NULL, 0}};
    const int value = pr_value_choice(r, path, words, node);
    *yes = value == 1;
    return value != INT_MIN;
}

static bool read_text(pr_reader *r, const char *path, const pr_row *row, const pr_node *node,
                      char *target)
{
    if (!pr_value_is_scalar(r, path, node))
        return false;
    if (strlen(node->text) >= row->size) {
        pr_reader_error(r, pr_node_place(node), "%s: longer than %zu bytes", path, row->size - 1);
        return false;
    }
    if (strchr(node->text, '\n') != NULL) {
        pr_reader_error(r, pr_node_place(node), "%s: must stand on one line", path);
        return false;
    }
    if (target != NULL)
        snprintf(target, row->size, "%s", node->text);
    return true;
}

static bool read_count(pr_reader *r, const char *path, const pr_row *row, const pr_node *node,
                       double *value)
{
    double shown;
    if (!pr_value_number(r, path, row, node, &shown, value))
        return false;
    if (*value == floor(*value))
        return true;
    pr_reader_error(r, pr_node_place(node), "%s: \"" SHOWN "\" is not a whole number", path,
                    node->text);
    return false;
}

static bool read_cases(pr_reader *r, const char *path, const pr_row *row, const pr_node *node,
                       size_t index, bool from_catalogue, double *likely)
{
    double *share = pr_value_target(r, row, index);
    const size_t offset = row->offset + index * row->stride + PR_CASE_LIKELY * sizeof(double);
    if (node->kind == PR_NODE_MAP) {
        pr_spread spread;
        if (!pr_spread_parse(r, path, row, offset, node, from_catalogue, &spread) ||
            !pr_spread_add(r, &spread, pr_node_place(node)))
            return false;
        share[PR_CASE_LOW] = spread.low;
        share[PR_CASE_HIGH] = spread.high;
        *likely = spread.likely;
    } else {
        double shown;
        if (!pr_value_number(r, path, row, node, &shown, likely))
            return false;
        pr_spread_drop(r, offset);
        share[PR_CASE_LOW] = share[PR_CASE_HIGH] = *likely;
    }
    share[PR_CASE_LIKELY] = *likely;
    return true;
}

/* A number of a table's cell. */
static bool read_cell(pr_reader *r, const char *path, const struct pr_table_column *column,
                      const pr_node *node, double *stored)
{
    char where[2 * PR_NAME_MAX + 40];
    snprintf(where, sizeof where, "%s, %s", path, column->what);
    const pr_row row = {.key = column->what,
                        .kind = column->unit == NULL ? PR_ROW_NUMBER : PR_ROW_QUANTITY,
                        .unit = column->unit,
                        .stored = column->stored,
                        .min = column->min,
                        .max = column->max};
    double shown;
    return pr_value_number(r, where, &row, node, &shown, stored);
}

static bool read_table_row(pr_reader *r, const char *path, const pr_row *row, const pr_node *line,
                           size_t n, size_t index, bool *check_order)
{
    const pr_table_form *form = row->table;
    if (line->kind != PR_NODE_LIST || line->count != form->columns) {
        pr_reader_error(r, pr_node_place(line), "%s: a line must be a list of %zu values", path,
                        form->columns);
        return false;
    }
    bool sound = true;
    const pr_node *cell = line->first;
    for (size_t k = 0; k < form->columns; k++, cell = cell->next) {
        const struct pr_table_column *column = &form->column[k];
        double *target =
            (double *)(void *)((char *)r->scenario + column->offset + index * row->stride);
        if (!read_cell(r, path, column, cell, &target[n])) {
            sound = false;
            continue;
        }
        if (n > 0 && *check_order && column->order != 0 &&
            !(column->order > 0 ? target[n] > target[n - 1] : target[n] < target[n - 1])) {
            pr_reader_error(r, pr_node_place(cell),
                            "%s: \"" SHOWN "\": the %s must %s from line to line", path, cell->text,
                            column->what, column->order > 0 ? "rise" : "fall");
            sound = false;
        }
    }
    *check_order = sound;
    return sound;
}

static bool read_table(pr_reader *r, const char *path, const pr_row *row, const pr_node *node,
                       size_t index)
{
    const pr_table_form *form = row->table;
    if (node->kind != PR_NODE_LIST) {
        pr_reader_error(r, pr_node_place(node),
                        "%s: a list of lines is wanted, like [[...], [...]]", path);
        return false;
    }
    if (node->count < form->rows_min || node->count > form->rows_max) {
        pr_reader_error(r, pr_node_place(node), "%s: %zu lines; %zu .. %zu are wanted", path,
                        node->count, form->rows_min, form->rows_max);
        return false;
    }
    bool sound = true, check_order = false;
    size_t n = 0;
    for (const pr_node *line = node->first; line != NULL; line = line->next)
        sound &= read_table_row(r, path, row, line, n++, index, &check_order);
    *(int *)(void *)((char *)r->scenario + form->count_offset + index * row->stride) = (int)n;
    return sound;
}

static bool read_gauge(pr_reader *r, const char *path, const pr_row *row, const pr_node *node,
                       size_t index)
{
    char message[PR_QUANTITY_MESSAGE_MAX];
    if (!pr_value_is_scalar(r, path, node))
        return false;
    pr_gauge_kind kind;
    double gauge;
    const pr_status status = pr_gauge_read(node->text, &kind, &gauge, message);
    if (status != PR_OK) {
        pr_reader_error(r, pr_node_place(node), "%s: \"" SHOWN "\": %s", path, node->text, message);
        return false;
    }
    *(pr_gauge_kind *)pr_value_target(r, row, index) = kind;
    *(double *)(void *)((char *)r->scenario + row->offset2 + index * row->stride) = gauge;
    return true;
}

/* A double with or without a spread. */
static bool read_double(pr_reader *r, const pr_section *section, const char *path,
                        const pr_row *row, const pr_node *node, bool from_catalogue, double *value)
{
    const size_t offset = row->offset + section->index * row->stride;
    const bool transient = (row->flags & PR_KEY_TRANSIENT) != 0;
    double shown;
    if (node->kind == PR_NODE_MAP && !transient) {
        pr_spread spread;
        if (!pr_spread_parse(r, path, row, offset, node, from_catalogue, &spread) ||
            !pr_spread_add(r, &spread, pr_node_place(node)))
            return false;
        *value = spread.likely;
    } else if (!pr_value_number(r, path, row, node, &shown, value)) {
        return false;
    } else if (!transient) {
        pr_spread_drop(r, offset);
    }
    if (!transient)
        *(double *)pr_value_target(r, row, section->index) = *value;
    return true;
}

/* A choice, flags, yes or no, a whole number: stored as an int of some sort. */
static bool read_discrete(pr_reader *r, const pr_section *section, const char *path,
                          const pr_row *row, const pr_node *node, double *value)
{
    void *target =
        (row->flags & PR_KEY_TRANSIENT) != 0 ? NULL : pr_value_target(r, row, section->index);
    bool yes;
    unsigned flags;
    int choice;
    switch (row->kind) {
    case PR_ROW_COUNT:
        if (!read_count(r, path, row, node, value))
            return false;
        break;
    case PR_ROW_CHOICE:
        choice = pr_value_choice(r, path, row->choices, node);
        *value = choice;
        if (choice == INT_MIN)
            return false;
        break;
    case PR_ROW_FLAGS:
        if (!read_flags(r, path, row, node, &flags))
            return false;
        *value = flags;
        break;
    default:
        if (!read_yes_no(r, path, node, &yes))
            return false;
        *value = yes;
    }
    if (target != NULL && row->kind == PR_ROW_YES_NO)
        *(bool *)target = *value != 0.0;
    else if (target != NULL)
        *(int *)target = (int)*value; /* enums and flags have the size of an int */
    return true;
}

bool pr_value_read(pr_reader *r, pr_section *section, int index, const pr_node *node,
                   bool from_catalogue)
{
    const pr_row *row = &section->schema->rows[index];
    char path[2 * PR_NAME_MAX];
    snprintf(path, sizeof path, "%s%s%s", section->path, section->path[0] == '\0' ? "" : ".",
             row->key);
    double value = PR_NAN;
    bool sound = false;
    if (node->lost && row->kind < PR_ROW_SECTION) {
        section->given[index] = node;
        section->layers.lost = true;
        return false;
    }
    switch (row->kind) {
    case PR_ROW_QUANTITY:
    case PR_ROW_NUMBER:
    case PR_ROW_SLOPE:
    case PR_ROW_SPEED:
        sound = read_double(r, section, path, row, node, from_catalogue, &value);
        break;
    case PR_ROW_CASES:
        sound = read_cases(r, path, row, node, section->index, from_catalogue, &value);
        break;
    case PR_ROW_GAUGE:
        sound = read_gauge(r, path, row, node, section->index);
        break;
    case PR_ROW_TEXT:
        sound = read_text(r, path, row, node, pr_value_target(r, row, section->index));
        break;
    case PR_ROW_TABLE:
        sound = read_table(r, path, row, node, section->index);
        break;
    case PR_ROW_COUNT:
    case PR_ROW_CHOICE:
    case PR_ROW_FLAGS:
    case PR_ROW_YES_NO:
    case PR_ROW_YES_NO_INT:
        sound = read_discrete(r, section, path, row, node, &value);
        break;
    case PR_ROW_SECTION:
    case PR_ROW_SPECIAL:
        return true;
    }
    section->given[index] = node;
    section->from_catalogue[index] = from_catalogue;
    section->value[index] = value;
    return sound;
}
