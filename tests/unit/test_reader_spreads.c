/* Spreads and variants: uncertain numbers reach the scenario with their place in it, and overrides
 * of a file keep what they must. */
#include "test_reader_support.h"

#include <dirent.h>
#include <math.h>
#include <stdio.h>
#include <unistd.h>

#define BASE "battery: flooded-70-starter\nalternator: plate-110\n"

static void test_spread_kinds(void **state)
{
    (void)state;
    pr_scenario *s =
        take_scenario(BASE "air_temperature: {mean: 5 degC, sd: 3 K}\n"
                           "vehicle: {weight: {low: 2400 kg, likely: 2650 kg, high: 3 t}}\n"
                           "engine: {idle: {low: 700 rpm, high: 800 rpm}}\n"
                           "limits: {reserve: {mean: 60 %, sd: 5 %, low: 50 %, high: 65 %}}\n");
    const pr_spread *weight = find_spread(s, "vehicle.weight");
    assert_int_equal(weight->kind, PR_SPREAD_TRIANGLE);
    assert_near(weight->low, 2400 * 9.80665, 1e-9);
    assert_near(weight->high, 3000 * 9.80665, 1e-9);
    assert_near(number_at(s, weight), 2650 * 9.80665, 1e-9);
    assert_ptr_equal((const char *)s + weight->offset, &s->system.demand.weight_N);
    assert_false(weight->from_catalogue);
    const pr_spread *air = find_spread(s, "air_temperature");
    assert_int_equal(air->kind, PR_SPREAD_NORMAL);
    assert_near(air->sd, 3.0, 1e-12);
    assert_near(air->low, 5.0 - 15.0, 1e-9); /* cut at five standard deviations */
    assert_near(number_at(s, air), 5.0, 1e-12);
    const pr_spread *idle = find_spread(s, "engine.idle");
    assert_int_equal(idle->kind, PR_SPREAD_UNIFORM);
    assert_near(number_at(s, idle), 750.0, 1e-12);
    const pr_spread *reserve = find_spread(s, "limits.reserve");
    assert_near(reserve->high, 0.65, 1e-15);
    assert_near(reserve->sd, 0.05, 1e-15);
    drop_scenario(s);
}

static void test_spread_section_and_second_battery(void **state)
{
    (void)state;
    pr_scenario *s =
        take_scenario(BASE "second_battery: agm-55-dual\n"
                           "spreads:\n"
                           "  second_battery.state_of_charge: {low: 50 %, high: 90 %}\n"
                           "  battery.health: {low: 60 %, likely: 70 %, high: 80 %}\n"
                           "  air_temperature: {low: -5 degC, high: 5 degC}\n");
    const pr_spread *charge = find_spread(s, "second_battery.state_of_charge");
    assert_ptr_equal((const char *)s + charge->offset, &s->system.start_soc_frac[1]);
    assert_near(s->system.start_soc_frac[1], 0.7, 1e-12);
    assert_near(s->system.battery[0].health_capacity_frac, 0.7, 1e-12);
    int same = 0; /* the default's spread gave way */
    for (int i = 0; i < s->n_spreads; i++)
        same += strcmp(s->spread[i].key, "battery.health") == 0;
    assert_int_equal(same, 1);
    drop_scenario(s);
}

static void test_surface_cases_are_a_spread(void **state)
{
    (void)state;
    pr_scenario *s = take_scenario(
        BASE
        "vehicle: {weight: 2 t}\nwinch: series-9500\nrecovery: {surface: bog, distance: 5 m}\n");
    const pr_spread *share = find_spread(s, "recovery.surface.rolling_resistance");
    assert_non_null(share);
    assert_true(share->from_catalogue);
    const pr_demand_segment *step = &s->system.demand.segments[0];
    assert_ptr_equal((const char *)s + share->offset, &step->surface_frac[PR_CASE_LIKELY]);
    assert_near(share->low, step->surface_frac[PR_CASE_LOW], 0.0);
    assert_near(share->high, step->surface_frac[PR_CASE_HIGH], 0.0);
    drop_scenario(s);
    /* sunk in: the surface does not count */
    s = take_scenario(BASE "vehicle: {weight: 2 t}\nwinch: series-9500\n"
                           "recovery: {surface: bog, mire: hub, distance: 5 m}\n");
    assert_null(find_spread(s, "recovery.surface.rolling_resistance"));
    drop_scenario(s);
}

/* More uncertain numbers than are kept: those of the file stay, those of the catalogue give way. */
static void test_spreads_overflow(void **state)
{
    (void)state;
    static char text[8000];
    size_t n = (size_t)snprintf(text, sizeof text, BASE "loads:\n");
    for (int i = 0; i < PR_LOADS_MAX; i++)
        n += (size_t)snprintf(text + n, sizeof text - n,
                              "  - {name: l%d, current: {low: 1 A, high: 2 A},"
                              " reference_voltage: {low: 12 V, high: 13 V}}\n",
                              i);
    pr_scenario *scenario = malloc(sizeof *scenario);
    assert_non_null(scenario);
    pr_diag diag = pr_diag_init();
    assert_int_equal(pr_scenario_read_text("overflow", text, n, &reader_options, scenario, &diag),
                     PR_ERR_INPUT);
    assert_non_null(strstr(diag.entries[0].text, "more than 64 numbers with a spread"));
    pr_diag_free(&diag);
    free(scenario);
    /* 48 of the file beside some 15 of the catalogue and defaults */
    n = (size_t)snprintf(text, sizeof text, BASE "loads:\n");
    for (int i = 0; i < PR_LOADS_MAX; i++)
        n += (size_t)snprintf(text + n, sizeof text - n,
                              "  - {name: l%d, current: {low: 1 A, high: 2 A}%s}\n", i,
                              i < 10 ? ", exponent: {low: 0, high: 1}" : "");
    pr_scenario *s = take_scenario(text);
    assert_int_equal(s->n_spreads, PR_SPREADS_MAX);
    int own = 0;
    for (int i = 0; i < s->n_spreads; i++)
        own += !s->spread[i].from_catalogue;
    assert_int_equal(own, PR_LOADS_MAX + 10);
    drop_scenario(s);
}

/* Every spread of every scenario of ours: the place holds the likely value, inside its limits. */
static void check_spreads(const pr_scenario *s)
{
    for (int i = 0; i < s->n_spreads; i++) {
        const pr_spread *p = &s->spread[i];
        assert_true(p->offset % sizeof(double) == 0 && p->offset < sizeof *s);
        assert_near(number_at(s, p), p->likely, 1e-12 * fabs(p->likely));
        assert_true(p->low <= p->likely && p->likely <= p->high && p->low < p->high);
        assert_int_equal(p->kind == PR_SPREAD_NORMAL, p->sd > 0.0);
    }
}

static void read_variant(const char *path, size_t index, pr_scenario *s, char name[PR_NAME_MAX])
{
    pr_diag diag = pr_diag_init();
    const pr_status status = pr_scenario_read_variant(path, index, &reader_options, s, name, &diag);
    pr_diag_print(&diag, stderr);
    assert_int_equal(status, PR_OK);
    pr_diag_free(&diag);
}

static void test_variants(void **state)
{
    (void)state;
    static const char text[] =
        "battery: {use: flooded-70-starter, capacity: 75 Ah, state_of_charge: 80 %}\n"
        "second_battery: agm-55-dual\n"
        "link: hand-switch\n"
        "alternator: {use: plate-110, set_voltage: 14.2 V}\n"
        "loads: [fuel-pump, headlamps-halogen, stereo]\n"
        "variants:\n"
        "  as it is:\n"
        "  cold: {air_temperature: -20 degC, battery: {health: 80 %}}\n"
        "  other battery: {battery: {use: agm-95-starter}}\n"
        "  by one word: {alternator: plate-180}\n"
        "  one battery: {second_battery: none, link: none}\n"
        "  lights out: {loads: {headlamps-halogen: {when: never}, stereo: none, fridge: }}\n"
        "  other loads: {loads: [fridge]}\n";
    char path[] = "reader-variants-XXXXXX";
    const int fd = mkstemp(path);
    assert_true(fd >= 0);
    FILE *file = fdopen(fd, "w");
    fputs(text, file);
    fclose(file);
    pr_diag diag = pr_diag_init();
    size_t count;
    assert_int_equal(pr_scenario_variant_count(path, &reader_options, &count, &diag), PR_OK);
    assert_int_equal(count, 7);
    pr_scenario *s = malloc(sizeof *s);
    assert_non_null(s);
    char name[PR_NAME_MAX];

    read_variant(path, 0, s, name);
    assert_string_equal(name, "as it is");
    assert_near(s->system.battery[0].c20_Ah, 75.0, 0.0);
    pr_scenario_free(s);

    read_variant(path, 1, s, name);
    assert_near(s->system.ambient_degC, -20.0, 1e-12);
    assert_near(s->system.battery[0].c20_Ah, 75.0, 0.0); /* the same battery, less healthy */
    assert_near(s->system.battery[0].health_capacity_frac, 0.8, 1e-12);
    pr_scenario_free(s);

    read_variant(path, 2, s, name);
    assert_near(s->system.battery[0].c20_Ah, 95.0, 0.0);  /* another make: its own label */
    assert_near(s->system.start_soc_frac[0], 0.8, 1e-12); /* as full as the old one */
    pr_scenario_free(s);

    read_variant(path, 3, s, name);
    assert_near(s->system.alternator.rated_A, 180.0, 0.0);
    assert_near(s->system.alternator.set_V, 14.4, 1e-12); /* not the old one's 14.2 V */
    pr_scenario_free(s);

    read_variant(path, 4, s, name);
    assert_int_equal(s->system.n_batteries, 1);
    assert_int_equal(s->system.link.kind, PR_LINK_NONE);
    pr_scenario_free(s);

    read_variant(path, 5, s, name);
    assert_int_equal(s->system.n_loads, 3);
    assert_int_equal(s->system.load[1].def.when, PR_WHEN_NEVER);
    assert_string_equal(s->system.load[2].name, "fridge");
    pr_scenario_free(s);

    read_variant(path, 6, s, name);
    assert_int_equal(s->system.n_loads, 1);
    pr_scenario_free(s);

    assert_int_equal(pr_scenario_read_variant(path, 7, &reader_options, s, name, &diag),
                     PR_ERR_RANGE);
    pr_diag_free(&diag);
    free(s);
    unlink(path);
}

static void check_scenario(const char *name)
{
    char path[600];
    snprintf(path, sizeof path, PR_SOURCE_DIR "/scenarios/%s", name);
    pr_scenario *s = malloc(sizeof *s);
    assert_non_null(s);
    pr_diag diag = pr_diag_init();
    const pr_status status = pr_scenario_read(path, &reader_options, s, &diag);
    if (status != PR_OK || diag.warnings > 0) {
        pr_diag_print(&diag, stderr);
        fail_msg("%s was refused", path);
    }
    /* the first comment asks the question that the file answers */
    if (strchr(s->question, '?') == NULL || strcmp(s->title, name) == 0)
        fail_msg("%s: no question in the first comment, or no title", name);
    check_spreads(s);
    pr_diag_free(&diag);
    drop_scenario(s);
}

static void test_scenarios_of_ours(void **state)
{
    (void)state;
    DIR *dir = opendir(PR_SOURCE_DIR "/scenarios");
    assert_non_null(dir);
    int files = 0;
    for (struct dirent *entry; (entry = readdir(dir)) != NULL;) {
        const size_t n = strlen(entry->d_name);
        if (n < 6 || strcmp(entry->d_name + n - 5, ".yaml") != 0)
            continue;
        check_scenario(entry->d_name);
        files++;
    }
    closedir(dir);
    assert_true(files >= 9); /* the list must not vanish unseen */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_spread_kinds),
        cmocka_unit_test(test_spread_section_and_second_battery),
        cmocka_unit_test(test_surface_cases_are_a_spread),
        cmocka_unit_test(test_spreads_overflow),
        cmocka_unit_test(test_variants),
        cmocka_unit_test(test_scenarios_of_ours),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
