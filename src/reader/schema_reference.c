/* The input reference, written from the schema tables and the defaults that the physics sets. */
#include "reader/reading.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const char HEAD[] =
    "# Input reference\n"
    "\n"
    "Written by the program from the tables that it reads with (`src/reader/schema_*.c`); a test\n"
    "keeps this file in step with them. For files to start from see `scenarios/`.\n"
    "\n"
    "A scenario is a YAML file in UTF-8, at most 1 MiB: one document, no anchors, aliases or "
    "tags.\n"
    "Keys are written as below; a misspelt one is an error that names the nearest.\n"
    "\n"
    "- **Quantities** carry their unit: `70 Ah`, `9500 lbf`, `25 ft`, `-6 degC`, `12 %`, `0.2 "
    "mohm`,\n"
    "  `120 min`, `750 rpm`. A bare number is refused where a unit is needed. Any unit of the "
    "right\n"
    "  kind will do: a length in m, cm, mm, ft, in; a time in s, min, h; a force in N, kN, lbf, "
    "kgf.\n"
    "  A mass (kg, t, lb) is taken where a weight or force is wanted, by standard gravity\n"
    "  9.80665 m/s2. Decimal point, no thousands separator.\n"
    "- **Slopes** are `12 %` (rise over run), `1:8`, `1 in 8` or `7 deg`; downhill is negative.\n"
    "- **Cable sizes** are `2 AWG`, `2/0 AWG`, `4 SAE` or `35 mm2`.\n"
    "- **Spreads**: any number but a count or a cable size may be\n"
    "  `{low: 60 %, likely: 80 %, high: 100 %}`, `{low:, high:}` or `{mean:, sd:}` with `low:` "
    "and\n"
    "  `high:` if wanted; `risk` varies it, all else takes the likely value or the mean.\n"
    "- **Catalogue**: `use: NAME` takes an entry of `models/` (`pullrest models` lists them); "
    "keys\n"
    "  beside it override the entry's. Without `use` the component is stated in full. An entry "
    "may\n"
    "  also say `summary`, `source` and `evidence`: outside (measured or published by others), "
    "sheet\n"
    "  (a maker's), part sheet, standard, memory, default, practice (no source).\n"
    "- **Defaults** hold for what is not given; each answer lists those that were used. (m) marks "
    "a\n"
    "  number from memory.\n";

/* A table cell must not hold the bar that separates cells. */
static void write_cell(FILE *out, const char *text)
{
    for (; *text != '\0'; text++) {
        if (*text == '|')
            fputc('\\', out);
        fputc(*text, out);
    }
}

static void write_kind(pr_reader *r, FILE *out, const pr_row *row)
{
    char text[120];
    pr_row_range_text(row, text, sizeof text);
    switch (row->kind) {
    case PR_ROW_CHOICE:
    case PR_ROW_FLAGS:
        for (const pr_choice *c = row->choices; c->name != NULL; c++)
            fprintf(out, "%s%s", c == row->choices ? "" : ", ", c->name);
        return;
    case PR_ROW_YES_NO:
    case PR_ROW_YES_NO_INT:
        fputs("yes, no", out);
        return;
    case PR_ROW_GAUGE:
        fputs("a cable size", out);
        return;
    case PR_ROW_TEXT:
        fprintf(out, "text, at most %zu bytes", row->size - 1);
        return;
    case PR_ROW_TABLE:
        fprintf(out, "%zu .. %zu lines of %s", row->table->rows_min, row->table->rows_max,
                row->table->column[0].what);
        for (size_t k = 1; k < row->table->columns; k++)
            fprintf(out, ", %s", row->table->column[k].what);
        return;
    case PR_ROW_SECTION:
    case PR_ROW_SPECIAL:
        if (row->section != NULL)
            fprintf(out, "see [%s](#%s)", row->section->name, row->section->name);
        return;
    case PR_ROW_COUNT:
        fprintf(out, "whole, %s", text);
        return;
    case PR_ROW_SLOPE:
        fprintf(out, "a slope, %s", text);
        return;
    default:
        break;
    }
    char what[120];
    pr_quantity_describe(r->quantities, row->unit, what, sizeof what);
    const char *comma = strstr(what, ", like");
    fprintf(out, "%.*s%s%s", comma == NULL ? (int)strlen(what) : (int)(comma - what), what,
            text[0] == '\0' ? "" : ", ", text);
}

static void write_default(pr_reader *r, FILE *out, const pr_row *row)
{
    char text[200];
    if ((row->flags & PR_KEY_REQUIRED) != 0) {
        fputs("**required**", out);
        return;
    }
    pr_row_default_text(r, row, 0, text, sizeof text);
    write_cell(out, text);
    if (text[0] != '\0' && row->source != NULL) {
        fputs("; ", out);
        write_cell(out, row->source);
    }
    if (row->spread_low < row->spread_high)
        fprintf(out, "; `risk` varies it over %.4g .. %.4g%s%s", row->spread_low, row->spread_high,
                row->unit == NULL ? "" : " ", row->unit == NULL ? "" : row->unit);
}

static void write_row(pr_reader *r, FILE *out, const pr_schema *schema, const pr_row *row)
{
    fprintf(out, "| `%s` | ", row->key);
    write_kind(r, out, row);
    fputs(" | ", out);
    write_default(r, out, row);
    fputs(" | ", out);
    write_cell(out, row->help);
    if (row->only != 0) {
        const pr_row *selector = &schema->rows[pr_schema_find(schema, schema->selector)];
        fprintf(out, " (only for %s:", schema->selector);
        for (const pr_choice *c = selector->choices; c->name != NULL; c++)
            if ((row->only & 1u << c->value) != 0)
                fprintf(out, " %s", c->name);
        fputc(')', out);
    }
    if ((row->flags & PR_KEY_FINE) != 0)
        fputs(" *(rarely given)*", out);
    fputs(" |\n", out);
}

static void write_schema(pr_reader *r, FILE *out, const pr_schema *schema)
{
    fprintf(out, "\n## %s\n\n%s\n", schema->name, schema->help);
    if (schema->catalogue != NULL)
        fprintf(out, "`use` names an entry of the catalogue (kind %s).\n", schema->catalogue);
    fputs("\n| key | value | default | meaning |\n|---|---|---|---|\n", out);
    for (size_t i = 0; i < schema->n_rows; i++)
        write_row(r, out, schema, &schema->rows[i]);
}

void pr_schema_write_reference(FILE *out)
{
    pr_reader r = {.quantities = pr_quantities_new(), .scenario = malloc(sizeof(pr_scenario))};
    if (r.quantities != NULL && r.scenario != NULL) {
        *r.scenario = pr_scenario_default();
        r.scenario->system.link = pr_link_def_default(PR_LINK_SWITCH);
        r.scenario->schedule[0].repeat = 1;
        fputs(HEAD, out);
        for (size_t i = 0; i < pr_n_schemas; i++)
            write_schema(&r, out, pr_schemas[i]);
    } else {
        fputs("out of memory\n", out);
    }
    pr_quantities_free(r.quantities);
    free(r.scenario);
}
