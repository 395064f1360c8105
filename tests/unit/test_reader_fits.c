/* A label or a table whose fit ends at the edge of its range: the reader says so, once, with how
 * far it is off; and says nothing of a fit that ends inside. That the bounds which the reader
 * looks for are those of the fits is part of what these texts check. */
#include "test_reader_support.h"

#define LABEL         "battery: {chemistry: flooded, capacity: 70 Ah, reserve_capacity: 120 min, "
#define NO_ALTERNATOR "\nalternator: none\n"

/* Reads a sound text; the only message, or none for NULL, begins so. */
static void assert_said(const char *text, pr_severity severity, const char *expected)
{
    pr_scenario *s = malloc(sizeof *s);
    assert_non_null(s);
    pr_diag diag = pr_diag_init();
    const pr_status status =
        pr_scenario_read_text("text", text, strlen(text), &reader_options, s, &diag);
    pr_diag_print(&diag, stderr);
    assert_int_equal(status, PR_OK);
    assert_int_equal(diag.count, expected != NULL);
    if (expected != NULL) {
        assert_int_equal(diag.entries[0].severity, severity);
        assert_int_equal(strncmp(diag.entries[0].text, expected, strlen(expected)), 0);
    }
    pr_diag_free(&diag);
    drop_scenario(s);
}

#define ODD "battery: {chemistry: flooded, capacity: 60 Ah, reserve_capacity: 132 min"
#define ODD_NOTE                                                                                   \
    "battery: this label is not quite met at high current: 250 A empty it in 8.74 min, by "        \
    "Peukert's law in 12 min (the slowest wells that are believed)"

static void test_label_is_noted_when_peukert_is_far(void **state)
{
    (void)state;
    assert_said(ODD "}" NO_ALTERNATOR, PR_NOTE, ODD_NOTE);
    /* wear comes after the fit, and is no part of what the note compares */
    assert_said(ODD ", health: 80 %}" NO_ALTERNATOR, PR_NOTE, ODD_NOTE);
    assert_said("battery: flooded-70-starter" NO_ALTERNATOR, PR_NOTE, NULL); /* inside the range */
    assert_said("battery: flooded-60-starter" NO_ALTERNATOR, PR_NOTE, NULL); /* 11 % off only */
    assert_said("battery: lifepo4-100-deep" NO_ALTERNATOR, PR_NOTE, NULL);   /* wells not fitted */
}

static void test_label_is_noted_once_for_all_variants(void **state)
{
    (void)state;
    assert_said(ODD "}" NO_ALTERNATOR "variants:\n  cold: {air_temperature: -5 degC}\n"
                    "  hot: {air_temperature: 35 degC}\n",
                PR_NOTE, ODD_NOTE);
}

static void test_high_rate_point_at_a_bound_warns(void **state)
{
    (void)state;
    assert_said(
        LABEL
        "cold_cranking: 700 A, high_rate_current: 200 A, high_rate_time: 11.8 min}" NO_ALTERNATOR,
        PR_WARNING, "battery.high_rate_time: not quite met: the nearest battery lasts 11.8");
    assert_said(
        LABEL
        "cold_cranking: 700 A, high_rate_current: 200 A, high_rate_time: 10.9 min}" NO_ALTERNATOR,
        PR_WARNING, NULL);
}

/* The same charge at every current: that is one well, and the polarisation costs some all the same.
 */
static void test_table_without_a_second_well_warns(void **state)
{
    (void)state;
    assert_said(
        "battery: {chemistry: AGM, capacity: 70 Ah, resistance: 5 mohm,\n"
        "  discharge_table: [[100 A, 42 min], [50 A, 84 min], [10 A, 420 min]]}" NO_ALTERNATOR,
        PR_WARNING,
        "battery.discharge_table: not quite met: the nearest battery is 4.2 % off "
        "in time, root mean square (next to no second well)");
    assert_said("battery: agm-55-standby" NO_ALTERNATOR, PR_WARNING, NULL);
}

#define WINCH                                                                                      \
    "battery: flooded-70-starter\nalternator: plate-110\nvehicle: {weight: 2 t}\n"                 \
    "recovery: {surface: grass, distance: 5 m}\nwinch:\n  use: series-9500\n"                      \
    "  rated_pull: 36000 N\n  table:\n"

/* Hardly any current without load, and yet speed as if there were no resistance. */
static void test_sheet_without_resistance_warns(void **state)
{
    (void)state;
    assert_said(WINCH "    - [0 N, 20 A, 0.29418 m/s]\n    - [8000 N, 250 A, 0.09997 m/s]\n"
                      "    - [16000 N, 292.77 A, 0.05997 m/s]\n"
                      "    - [26000 N, 365.15 A, 0.03675 m/s]\n"
                      "    - [36000 N, 425.38 A, 0.02346 m/s]\n",
                PR_WARNING,
                "winch.table: no motor has this table: the nearest, with its resistance "
                "at the edge of what is believed, is 30.7 A off");
    assert_said(WINCH "    - [0 N, 97.59 A, 0.29418 m/s]\n    - [8000 N, 218.22 A, 0.09997 m/s]\n"
                      "    - [16000 N, 292.77 A, 0.05997 m/s]\n"
                      "    - [26000 N, 365.15 A, 0.03675 m/s]\n"
                      "    - [36000 N, 425.38 A, 0.02346 m/s]\n",
                PR_WARNING, NULL);
}

/* Residuals that docs/physics name for the catalogue's tables: 2.4 % and 4.4 A. */
static void test_residuals_are_kept(void **state)
{
    (void)state;
    static const char text[] = "battery: agm-55-standby\nalternator: plate-110\n"
                               "vehicle: {weight: 2 t}\nwinch: series-9500\n"
                               "recovery: {surface: grass, distance: 5 m}\n"
                               "variants:\n  cold: {air_temperature: -5 degC}\n";
    pr_scenario *s = malloc(sizeof *s);
    assert_non_null(s);
    pr_diag diag = pr_diag_init();
    assert_int_equal(pr_scenario_read_text("text", text, strlen(text), &reader_options, s, &diag),
                     PR_OK);
    assert_int_equal(s->n_fits, 2);
    assert_string_equal(s->fit[0].key, "battery.discharge_table");
    assert_true(s->fit[0].of_time);
    assert_int_equal(s->fit[0].n_points, 12);
    assert_near(s->fit[0].rms, 0.024, 0.0005);
    assert_string_equal(s->fit[1].key, "winch.table");
    assert_false(s->fit[1].of_time);
    assert_int_equal(s->fit[1].n_points, 6);
    assert_near(s->fit[1].rms, 4.4, 0.1);
    pr_diag_free(&diag);
    drop_scenario(s);
    s = take_scenario("battery: flooded-70-starter\nalternator: none\n"); /* a label, no table */
    assert_int_equal(s->n_fits, 0);
    drop_scenario(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_label_is_noted_when_peukert_is_far),
        cmocka_unit_test(test_label_is_noted_once_for_all_variants),
        cmocka_unit_test(test_high_rate_point_at_a_bound_warns),
        cmocka_unit_test(test_table_without_a_second_well_warns),
        cmocka_unit_test(test_sheet_without_resistance_warns),
        cmocka_unit_test(test_residuals_are_kept),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
