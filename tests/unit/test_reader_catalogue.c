/* The catalogue: every entry must be readable, derivable and say where it comes from; and it must
 * be as wide as promised. Names of makers have no place in it. */
#include "test_reader_support.h"

#include <math.h>
#include <stdio.h>

/* A scenario around one entry of a kind; empty for a kind that stands in none by itself. */
static void scenario_around(const pr_model_entry *e, char *text, size_t size)
{
    static const char *const form[][2] = {
        {"battery", "battery: %s\nalternator: none\n"},
        {"alternator", "battery: flooded-70-starter\nalternator: %s\n"},
        {"winch", "battery: flooded-70-starter\nalternator: plate-110\nvehicle: {weight: 2 t}\n"
                  "recovery: {surface: grass, distance: 5 m}\nwinch: %s\n"},
        {"engine", "battery: flooded-70-starter\nalternator: none\nengine: %s\n"},
        {"link", "battery: flooded-70-starter\nsecond_battery: agm-55-dual\nalternator: plate-110\n"
                 "link: %s\n"},
        {"load", "battery: flooded-70-starter\nalternator: none\nloads: [%s]\n"},
        {"surface", "battery: flooded-70-starter\nalternator: none\nwinch: series-9500\n"
                    "vehicle: {weight: 2 t}\nrecovery: {surface: %s, distance: 5 m}\n"},
        {"cable", "battery: flooded-70-starter\nalternator: none\n"
                  "cables: {loads: {use: %s, length: 1 m}}\n"},
        {"fuse", "battery: flooded-70-starter\nalternator: none\n"
                 "cables: {loads: {size: 2 AWG, length: 1 m, fuse: {use: %s, rating: 100 A}}}\n"}};
    text[0] = '\0';
    for (size_t i = 0; i < sizeof form / sizeof *form; i++) {
        const char *gap = strstr(form[i][1], "%s");
        if (strcmp(form[i][0], e->kind) == 0)
            snprintf(text, size, "%.*s%s%s", (int)(gap - form[i][1]), form[i][1], e->name, gap + 2);
    }
}

static void test_every_entry_is_sound(void **state)
{
    (void)state;
    pr_model_list list;
    pr_diag diag = pr_diag_init();
    const pr_status status = pr_models_list(&reader_options, &list, &diag);
    pr_diag_print(&diag, stderr);
    assert_int_equal(status, PR_OK);
    pr_diag_free(&diag);
    for (size_t i = 0; i < list.count; i++) {
        const pr_model_entry *e = &list.entries[i];
        char text[600];
        scenario_around(e, text, sizeof text);
        assert_true(text[0] != '\0');
        pr_scenario *s = malloc(sizeof *s);
        assert_non_null(s);
        diag = pr_diag_init();
        if (pr_scenario_read_text(e->name, text, strlen(text), &reader_options, s, &diag) !=
            PR_OK) {
            pr_diag_print(&diag, stderr);
            fail_msg("%s %s is not sound", e->kind, e->name);
        }
        pr_diag_free(&diag);
        drop_scenario(s);
        if (e->summary[0] == '\0' || e->source[0] == '\0' || e->evidence[0] == '\0')
            fail_msg("%s %s does not say what it is and where it comes from", e->kind, e->name);
    }
    pr_model_list_free(&list);
}

static void test_catalogue_is_wide(void **state)
{
    (void)state;
    static const struct {
        const char *kind;
        size_t least;
    } promised[] = {{"battery", 12}, {"alternator", 10}, {"winch", 10}, {"load", 30}, {"link", 5},
                    {"surface", 7},  {"engine", 6},      {"fuse", 4},   {"cable", 40}};
    pr_model_list list;
    pr_diag diag = pr_diag_init();
    assert_int_equal(pr_models_list(&reader_options, &list, &diag), PR_OK);
    for (size_t k = 0; k < sizeof promised / sizeof *promised; k++) {
        size_t n = 0;
        for (size_t i = 0; i < list.count; i++)
            n += strcmp(list.entries[i].kind, promised[k].kind) == 0;
        if (n < promised[k].least)
            fail_msg("%zu of kind %s, %zu promised", n, promised[k].kind, promised[k].least);
    }
    pr_model_list_free(&list);
    pr_diag_free(&diag);
}

/* Five chemistries and three kinds of plates among the batteries. */
static void test_batteries_are_varied(void **state)
{
    (void)state;
    pr_model_list list;
    pr_diag diag = pr_diag_init();
    assert_int_equal(pr_models_list(&reader_options, &list, &diag), PR_OK);
    unsigned chemistries = 0, plates = 0;
    for (size_t i = 0; i < list.count; i++) {
        if (strcmp(list.entries[i].kind, "battery") != 0)
            continue;
        char text[200];
        snprintf(text, sizeof text, "battery: %s\nalternator: none\n", list.entries[i].name);
        pr_scenario *s = take_scenario(text);
        chemistries |= 1u << s->system.battery[0].chemistry;
        plates |= 1u << s->system.battery[0].plates;
        drop_scenario(s);
    }
    assert_int_equal(chemistries, (1u << PR_CHEMISTRY_COUNT) - 1);
    assert_int_equal(plates, 7u);
    pr_model_list_free(&list);
    pr_diag_free(&diag);
}

static const pr_spread *spread_of(const pr_scenario *s, const char *key)
{
    for (int i = 0; i < s->n_spreads; i++)
        if (strcmp(s->spread[i].key, key) == 0)
            return &s->spread[i];
    return NULL;
}

/* Every label value from memory says how far it may be off, and a battery is left at every corner
 * of what the values may be together. */
static void check_label_range(const pr_scenario *s)
{
    static const char *const keys[] = {"battery.capacity", "battery.reserve_capacity",
                                       "battery.cold_cranking"};
    const pr_battery_def *given = &s->system.battery[0];
    const double likely[] = {given->c20_Ah, given->rc_min, given->cca_A};
    for (unsigned corner = 0; corner < 8; corner++) {
        pr_battery_def def = *given;
        double *const value[] = {&def.c20_Ah, &def.rc_min, &def.cca_A};
        for (unsigned k = 0; k < 3; k++) {
            const pr_spread *spread = spread_of(s, keys[k]);
            if (isnan(likely[k]))
                continue;
            assert_non_null(spread);
            *value[k] = (corner >> k & 1u) != 0 ? spread->high : spread->low;
        }
        pr_battery made;
        assert_int_equal(pr_battery_derive(&def, &made), PR_OK);
    }
}

static void test_label_numbers_from_memory_have_ranges(void **state)
{
    (void)state;
    pr_model_list list;
    pr_diag diag = pr_diag_init();
    assert_int_equal(pr_models_list(&reader_options, &list, &diag), PR_OK);
    int n = 0;
    for (size_t i = 0; i < list.count; i++) {
        const pr_model_entry *entry = &list.entries[i];
        if (strcmp(entry->kind, "battery") != 0 || strcmp(entry->evidence, "memory") != 0)
            continue;
        char text[200];
        snprintf(text, sizeof text, "battery: %s\nalternator: none\n", entry->name);
        pr_scenario *s = take_scenario(text);
        check_label_range(s);
        drop_scenario(s);
        n++;
    }
    assert_true(n >= 10);
    pr_model_list_free(&list);
    pr_diag_free(&diag);
}

static void find(const char *kind, const char *name, size_t wanted, pr_model_list *list)
{
    pr_diag diag = pr_diag_init();
    assert_int_equal(pr_models_find(&reader_options, kind, name, list, &diag), PR_OK);
    assert_int_equal(list->count, wanted);
    assert_int_equal(diag.errors, 0);
    pr_diag_free(&diag);
}

static void test_models_find(void **state)
{
    (void)state;
    pr_model_list list;
    find(NULL, "series-9500", 1, &list);
    assert_string_equal(list.entries[0].kind, "winch");
    assert_non_null(strstr(list.entries[0].file, "/winches/series-9500.yaml"));
    pr_model_list_free(&list);
    find("load", "fuel-pump", 1, &list);
    assert_int_equal(strncmp(list.entries[0].name, "fuel-pump", 10), 0);
    assert_true(list.entries[0].line > 1);
    pr_model_list_free(&list);
    find("winch", "fuel-pump", 0, &list); /* there is one, of another kind */
    pr_model_list_free(&list);
    find(NULL, "no-such-thing", 0, &list);
    pr_model_list_free(&list);
}

static void show(const char *name, pr_status expected, char *text, size_t size)
{
    pr_diag diag = pr_diag_init();
    FILE *out = fmemopen(text, size, "w");
    assert_non_null(out);
    assert_int_equal(pr_models_show(&reader_options, name, out, &diag), expected);
    fclose(out);
    assert_int_equal(diag.errors, expected == PR_OK ? 0 : 1);
    if (diag.errors > 0)
        snprintf(text, size, "%s", diag.entries[0].text);
    pr_diag_free(&diag);
}

static void test_models_show(void **state)
{
    (void)state;
    char text[4000];
    show("flooded-70-starter", PR_OK, text, sizeof text);
    assert_non_null(strstr(text, "# battery\n"));
    assert_non_null(strstr(text, "cold_cranking: {low: 630 A, likely: 700 A"));
    show("2/0 AWG", PR_OK, text, sizeof text);
    assert_non_null(strstr(text, "size: 2/0 AWG"));
    assert_null(strstr(text, "3/0 AWG")); /* nothing of the next entry */
    show("series-95000", PR_ERR_INPUT, text, sizeof text);
    assert_non_null(strstr(text, "no entry \"series-95000\", nearest is \"series-9500\" (winch)"));
    show("../surfaces", PR_ERR_INPUT, text, sizeof text);
}

static void test_models_folder(void **state)
{
    (void)state;
    char path[4096], tiny[4];
    const char *before = getenv("PULLREST_MODELS");
    char *kept = before == NULL ? NULL : strdup(before);
    assert_int_equal(setenv("PULLREST_MODELS", "/some/where", 1), 0);
    assert_int_equal(pr_models_folder(path, sizeof path), PR_OK);
    assert_string_equal(path, "/some/where");
    assert_int_equal(pr_models_folder(tiny, sizeof tiny), PR_ERR_IO);
    if (kept != NULL)
        setenv("PULLREST_MODELS", kept, 1);
    else
        unsetenv("PULLREST_MODELS");
    free(kept);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_every_entry_is_sound),
        cmocka_unit_test(test_catalogue_is_wide),
        cmocka_unit_test(test_batteries_are_varied),
        cmocka_unit_test(test_models_show),
        cmocka_unit_test(test_label_numbers_from_memory_have_ranges),
        cmocka_unit_test(test_models_find),
        cmocka_unit_test(test_models_folder),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
