/* JSON of a report: see json.h. */
#include "report/json.h"

#include "report/text.h"

#include <math.h>
#include <string.h>

enum { DIGITS = 6, INDENT = 2 };

/* Hands `value` over to `parent`; true when it arrived. */
static bool put(pr_json *json, json_t *parent, const char *key, json_t *value)
{
    int failed;
    if (key != NULL)
        failed = json_object_set_new(parent, key, value);
    else
        failed = json_array_append_new(parent, value);
    if (failed)
        json->failed = true;
    return !failed;
}

static json_t *number(double value)
{
    return isfinite(value) ? json_real(value) : json_null();
}

static json_t *safe_text(const char *text)
{
    json_t *plain = json_string(text);
    if (plain != NULL)
        return plain;
    char printable[4096]; /* no UTF-8: the only cause left beside memory */
    pr_text_printable(printable, sizeof printable, text);
    return json_string(printable);
}

pr_json pr_json_begin(const char *command)
{
    pr_json json = {.root = json_object()};
    json.failed = json.root == NULL;
    pr_json_text(&json, json.root, "program", "pullrest");
    pr_json_text(&json, json.root, "version", PR_VERSION);
    pr_json_text(&json, json.root, "command", command);
    return json;
}

void pr_json_number(pr_json *json, json_t *object, const char *key, double value)
{
    put(json, object, key, number(value));
}

void pr_json_count(pr_json *json, json_t *object, const char *key, unsigned long value)
{
    put(json, object, key, json_integer((json_int_t)value));
}

void pr_json_text(pr_json *json, json_t *object, const char *key, const char *text)
{
    put(json, object, key, safe_text(text));
}

void pr_json_flag(pr_json *json, json_t *object, const char *key, bool value)
{
    put(json, object, key, json_boolean(value));
}

json_t *pr_json_object(pr_json *json, json_t *parent, const char *key)
{
    json_t *object = json_object();
    return put(json, parent, key, object) ? object : NULL;
}

json_t *pr_json_array(pr_json *json, json_t *parent, const char *key)
{
    json_t *array = json_array();
    return put(json, parent, key, array) ? array : NULL;
}

void pr_json_append_text(pr_json *json, json_t *array, const char *text)
{
    put(json, array, NULL, safe_text(text));
}

void pr_json_append_number(pr_json *json, json_t *array, double value)
{
    put(json, array, NULL, number(value));
}

void pr_json_messages(pr_json *json, json_t *object, const char *key, const pr_diag *diag)
{
    static const char *const severities[] = {
        [PR_NOTE] = "note", [PR_WARNING] = "warning", [PR_ERROR] = "error"};
    json_t *list = pr_json_array(json, object, key);
    for (size_t i = 0; i < diag->count; i++) {
        const pr_diag_entry *entry = &diag->entries[i];
        json_t *item = pr_json_object(json, list, NULL);
        pr_json_text(json, item, "severity", severities[entry->severity]);
        if (entry->file != NULL)
            pr_json_text(json, item, "file", entry->file);
        if (entry->line > 0)
            pr_json_count(json, item, "line", entry->line);
        if (entry->column > 0)
            pr_json_count(json, item, "column", entry->column);
        pr_json_text(json, item, "text", entry->text);
    }
}

pr_status pr_json_end(pr_json *json, FILE *out)
{
    pr_status status = json->failed ? PR_ERR_NOMEM : PR_OK;
    if (status == PR_OK) {
        /* 0.5, not 5e-1 or 0.5000000000000001: %.6g */
        const size_t flags = JSON_INDENT(INDENT) | JSON_REAL_PRECISION(DIGITS);
        if (json_dumpf(json->root, out, flags) != 0)
            status = PR_ERR_IO;
        else
            fputc('\n', out);
    }
    json_decref(json->root);
    *json = (pr_json){0};
    return status;
}
