/* JSON of a report: one formatter of numbers (6 significant digits), keys in the order they were
 * set, SI units with the unit in the key, null for a number that does not exist. */
#ifndef PR_REPORT_JSON_H
#define PR_REPORT_JSON_H

#include "base/diag.h"
#include "base/status.h"
#include <jansson.h>
#include <stdbool.h>
#include <stdio.h>

/* Builds an object piece by piece; a failure is kept in `failed` and ends in PR_ERR_NOMEM. */
typedef struct pr_json {
    json_t *root;
    bool failed;
} pr_json;

/* Object that opens every document: program, version, command. */
pr_json pr_json_begin(const char *command);

/* Setters; `object` may be NULL after a failure. Text that is no UTF-8 has its bad bytes as \xNN.
 */
void pr_json_number(pr_json *json, json_t *object, const char *key, double value);
void pr_json_count(pr_json *json, json_t *object, const char *key, unsigned long value);
void pr_json_text(pr_json *json, json_t *object, const char *key, const char *text);
void pr_json_flag(pr_json *json, json_t *object, const char *key, bool value);
/* New object or array under a key, or at the end of an array when key is NULL; borrowed. */
json_t *pr_json_object(pr_json *json, json_t *parent, const char *key);
json_t *pr_json_array(pr_json *json, json_t *parent, const char *key);
void pr_json_append_text(pr_json *json, json_t *array, const char *text);
void pr_json_append_number(pr_json *json, json_t *array, double value);

/* Messages of a diagnosis as an array of {severity, file, line, column, text}. */
void pr_json_messages(pr_json *json, json_t *object, const char *key, const pr_diag *diag);

/* Writes, ends with a new line, and frees. */
pr_status pr_json_end(pr_json *json, FILE *out);

#endif
