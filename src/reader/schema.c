/* Look-ups in the schema tables. */
#include "reader/schema.h"

#include <stdio.h>
#include <string.h>

int pr_schema_find(const pr_schema *schema, const char *key)
{
    for (size_t i = 0; i < schema->n_rows; i++)
        if (strcmp(schema->rows[i].key, key) == 0)
            return (int)i;
    return -1;
}

void pr_row_range_text(const pr_row *row, char *text, size_t size)
{
    text[0] = '\0';
    const bool has_range = row->min < row->max;
    if (!has_range)
        return;
    if (row->unit == NULL)
        snprintf(text, size, "%.6g .. %.6g", row->min, row->max);
    else
        snprintf(text, size, "%.6g %s .. %.6g %s", row->min, row->unit, row->max, row->unit);
}
