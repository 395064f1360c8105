/* The schema tables themselves: each row must be usable, and the input reference in docs must be
 * what they make. */
#include "reader/quantity.h"
#include "reader/reader.h"
#include "reader/reading.h"
#include "support/check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static size_t stored_size(const pr_row *row)
{
    switch (row->kind) {
    case PR_ROW_QUANTITY:
    case PR_ROW_NUMBER:
    case PR_ROW_SLOPE:
    case PR_ROW_SPEED:
        return sizeof(double);
    case PR_ROW_CASES:
        return PR_CASE_COUNT * sizeof(double);
    case PR_ROW_COUNT:
    case PR_ROW_CHOICE:
    case PR_ROW_FLAGS:
    case PR_ROW_GAUGE:
    case PR_ROW_YES_NO_INT:
        return sizeof(int);
    case PR_ROW_YES_NO:
        return sizeof(bool);
    case PR_ROW_TEXT:
        return row->size;
    default:
        return 0;
    }
}

static void check_row(pr_quantities *quantities, const pr_schema *schema, const pr_row *row)
{
    if (row->help == NULL || row->help[0] == '\0' || strlen(row->key) >= 40)
        fail_msg("%s.%s: no help, or too long a key", schema->name, row->key);
    for (const char *c = row->key; *c != '\0'; c++)
        assert_true((*c >= 'a' && *c <= 'z') || *c == '_' || (*c >= '0' && *c <= '9'));
    const bool kept = (row->flags & PR_KEY_TRANSIENT) == 0 && stored_size(row) > 0;
    if (kept && (row->offset == 0 && strcmp(row->key, "name") != 0))
        fail_msg("%s.%s: no place in the scenario", schema->name, row->key);
    assert_true(row->offset + stored_size(row) <= sizeof(pr_scenario));
    const bool is_choice = row->kind == PR_ROW_CHOICE || row->kind == PR_ROW_FLAGS;
    assert_int_equal(row->choices != NULL, is_choice);
    assert_int_equal(row->table != NULL, row->kind == PR_ROW_TABLE);
    if (row->kind == PR_ROW_QUANTITY || row->kind == PR_ROW_SPEED || row->kind == PR_ROW_CASES) {
        assert_non_null(row->unit);
        if (!(row->min < row->max))
            fail_msg("%s.%s: no range", schema->name, row->key);
        double stored;
        if (pr_quantity_convert(quantities, row->min, row->unit,
                                row->stored == NULL ? row->unit : row->stored, &stored) != PR_OK)
            fail_msg("%s.%s: units that do not fit", schema->name, row->key);
        char what[120];
        pr_quantity_describe(quantities, row->unit, what, sizeof what);
        if (strstr(what, ", like ") == NULL)
            fail_msg("%s.%s: no words for %s", schema->name, row->key, row->unit);
    }
    if (row->spread_low < row->spread_high) {
        assert_true(row->spread_low >= row->min && row->spread_high <= row->max);
    }
    /* every default that is a number says where it comes from */
    if (row->fallback == NULL && row->kind <= PR_ROW_CHOICE &&
        (row->flags & PR_KEY_REQUIRED) == 0 && (row->flags & PR_KEY_TRANSIENT) == 0 &&
        row->source == NULL && !schema->quiet)
        fail_msg("%s.%s: a default without a source", schema->name, row->key);
}

static void test_schema_rows(void **state)
{
    (void)state;
    pr_quantities *quantities = pr_quantities_new();
    assert_non_null(quantities);
    for (size_t i = 0; i < pr_n_schemas; i++) {
        const pr_schema *schema = pr_schemas[i];
        assert_true(schema->n_rows > 0 && schema->n_rows <= PR_ROWS_MAX);
        assert_non_null(schema->help);
        for (size_t k = 0; k < schema->n_rows; k++) {
            check_row(quantities, schema, &schema->rows[k]);
            /* keys are unique */
            assert_int_equal(pr_schema_find(schema, schema->rows[k].key), (int)k);
        }
        if (schema->selector != NULL)
            assert_true(pr_schema_find(schema, schema->selector) >= 0);
    }
    pr_quantities_free(quantities);
}

/* Defaults that the physics sets must lie within the ranges that the reader allows. */
static void test_schema_defaults_in_range(void **state)
{
    (void)state;
    pr_quantities *quantities = pr_quantities_new();
    pr_scenario *scenario = malloc(sizeof *scenario);
    assert_non_null(scenario);
    *scenario = pr_scenario_default();
    size_t checked = 0;
    for (size_t i = 0; i < pr_n_schemas; i++)
        for (size_t k = 0; k < pr_schemas[i]->n_rows; k++) {
            const pr_row *row = &pr_schemas[i]->rows[k];
            if (row->kind != PR_ROW_QUANTITY && row->kind != PR_ROW_NUMBER &&
                row->kind != PR_ROW_SLOPE)
                continue;
            if ((row->flags & PR_KEY_TRANSIENT) != 0 || pr_schemas[i]->quiet)
                continue;
            const double stored =
                *(const double *)(const void *)((const char *)scenario + row->offset);
            double shown = stored;
            if (isnan(stored))
                continue;
            if (row->stored != NULL)
                assert_int_equal(
                    pr_quantity_convert(quantities, stored, row->stored, row->unit, &shown), PR_OK);
            if (shown < row->min - 1e-9 || shown > row->max + 1e-9)
                fail_msg("%s.%s: default %g is outside %g .. %g", pr_schemas[i]->name, row->key,
                         shown, row->min, row->max);
            checked++;
        }
    assert_true(checked > 40);
    free(scenario);
    pr_quantities_free(quantities);
}

/* docs/input_reference.md in step with the tables. To write it anew, run this test with
 * PR_WRITE_REFERENCE=1 in the environment. */
static void test_reference_in_step(void **state)
{
    (void)state;
    static const char path[] = PR_SOURCE_DIR "/docs/input_reference.md";
    char *made = NULL, *kept = NULL;
    size_t made_size = 0, kept_size = 0;
    FILE *out = open_memstream(&made, &made_size);
    assert_non_null(out);
    pr_schema_write_reference(out);
    assert_int_equal(fclose(out), 0);
    const char *write = getenv("PR_WRITE_REFERENCE");
    if (write != NULL && strcmp(write, "1") == 0) {
        FILE *file = fopen(path, "we");
        assert_non_null(file);
        assert_int_equal(fwrite(made, 1, made_size, file), made_size);
        assert_int_equal(fclose(file), 0);
    }
    FILE *file = fopen(path, "re");
    assert_non_null(file);
    kept = malloc(made_size + 2);
    assert_non_null(kept);
    kept_size = fread(kept, 1, made_size + 1, file);
    fclose(file);
    size_t line = 1, at = 0;
    while (at < made_size && at < kept_size && made[at] == kept[at])
        line += made[at++] == '\n';
    if (made_size != kept_size || at < made_size)
        fail_msg("docs/input_reference.md differs from the tables in line %zu: write it anew by "
                 "running this test with PR_WRITE_REFERENCE=1",
                 line);
    free(made);
    free(kept);
}

/* Each stands for a key of its section, and is none itself. */
static void test_trade_words(void **state)
{
    (void)state;
    for (size_t i = 0; i < pr_n_trade_words; i++) {
        const pr_trade_word *w = &pr_trade_words[i];
        if (pr_schema_find(w->schema, w->key) < 0 || pr_schema_find(w->schema, w->word) >= 0)
            fail_msg("%s: \"%s\" for \"%s\"", w->schema->name, w->word, w->key);
        assert_string_equal(pr_trade_word_key(w->schema, w->word), w->key);
    }
    assert_null(pr_trade_word_key(&pr_schema_battery, "amps")); /* of an alternator */
    assert_string_equal(pr_key_home(&pr_schema_winch, "breaking_force"), "rope");
    assert_null(pr_key_home(&pr_schema_winch, "diameter")); /* of the rope and of the drum */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_schema_rows),
        cmocka_unit_test(test_schema_defaults_in_range),
        cmocka_unit_test(test_reference_in_step),
        cmocka_unit_test(test_trade_words),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
