/* Numbers, durations, wrapped sentences, units of the reports. */
#include "report/text.h"
#include "report/units.h"
#include "support/check.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static void test_append_marks_what_it_cuts(void **state)
{
    (void)state;
    char text[12] = "";
    assert_true(pr_text_append(text, sizeof text, "%d m", 25));
    assert_true(pr_text_append(text, sizeof text, " %s", "far"));
    assert_string_equal(text, "25 m far");
    assert_true(pr_text_append(text, sizeof text, "%s", "/2."));
    assert_string_equal(text, "25 m far/2.");
    assert_false(pr_text_append(text, sizeof text, "%s", "5"));
    assert_string_equal(text, "25 m far...");
    /* not in the middle of a letter */
    char degrees[12] = "at most";
    assert_false(pr_text_append(degrees, sizeof degrees, "%s", "\u00b0\u00b0 or more"));
    assert_string_equal(degrees, "at most...");
}

static void test_number_groups_thousands(void **state)
{
    (void)state;
    assert_string_equal(pr_text_number(0.0, 0).s, "0");
    assert_string_equal(pr_text_number(999.0, 0).s, "999");
    assert_string_equal(pr_text_number(1600.0, 0).s, "1,600");
    assert_string_equal(pr_text_number(-1234567.891, 2).s, "-1,234,567.89");
    assert_string_equal(pr_text_number(999999.6, 0).s, "1,000,000");
    assert_string_equal(pr_text_number(-0.04, 1).s, "0.0");
    assert_string_equal(pr_text_number((double)NAN, 1).s, "-");
    assert_string_equal(pr_text_number(HUGE_VAL, 1).s, "unlimited");
}

static void test_number_stays_within_its_room(void **state)
{
    (void)state;
    assert_true(strlen(pr_text_number(1.797e308, 12).s) < PR_TEXT_BYTES);
    assert_true(strlen(pr_text_number(-9.99e14, 30).s) < PR_TEXT_BYTES);
}

static void test_duration_carries_seconds(void **state)
{
    (void)state;
    assert_string_equal(pr_text_duration(0.0).s, "0 s");
    assert_string_equal(pr_text_duration(45.2).s, "45 s");
    assert_string_equal(pr_text_duration(59.6).s, "1 min");
    assert_string_equal(pr_text_duration(130.0).s, "2 min 10 s");
    assert_string_equal(pr_text_duration(3599.7).s, "1 h 00 min");
    assert_string_equal(pr_text_duration(3720.0).s, "1 h 02 min");
    assert_string_equal(pr_text_duration((double)NAN).s, "-");
    assert_string_equal(pr_text_duration(HUGE_VAL).s, "unlimited");
    assert_string_equal(pr_text_duration(1e300).s, "unlimited");
}

static void test_duration_rough_drops_seconds_of_a_long_time(void **state)
{
    (void)state;
    assert_string_equal(pr_text_duration_rough(130.0).s, "2 min 10 s");
    assert_string_equal(pr_text_duration_rough(38 * 60 + 12).s, "38 min");
    assert_string_equal(pr_text_duration_rough(59 * 60 + 40).s, "1 h 00 min");
    assert_string_equal(pr_text_duration_rough(2 * 3600 + 5 * 60).s, "2 h 05 min");
}

static void test_clock_and_times(void **state)
{
    (void)state;
    assert_string_equal(pr_text_clock(0.0).s, "0:00");
    assert_string_equal(pr_text_clock(725.4).s, "12:05");
    assert_string_equal(pr_text_clock(3725.0).s, "1:02:05");
    assert_string_equal(pr_text_percent(0.7249, 0).s, "72 %");
    assert_string_equal(pr_text_times(1).s, "once");
    assert_string_equal(pr_text_times(2).s, "twice");
    assert_string_equal(pr_text_times(14).s, "14 times");
}

static void test_printable_shows_controls_and_broken_utf8(void **state)
{
    (void)state;
    char to[64];
    pr_text_printable(to, sizeof to, "mud \033[2J\n");
    assert_string_equal(to, "mud \\x1b[2J\\x0a");
    pr_text_printable(to, sizeof to,
                      "gr\xc3\xa4"
                      "ben \xff\xc3");
    assert_string_equal(to, "gr\xc3\xa4"
                            "ben \\xff\\xc3");
    pr_text_printable(to, sizeof to,
                      "\xe2\x80\xae"
                      "abc"); /* U+202E turns the text around */
    assert_string_equal(to, "\\xe2\\x80\\xae"
                            "abc");
    pr_text_printable(to, sizeof to, "\xed\xa0\x80"); /* a surrogate */
    assert_string_equal(to, "\\xed\\xa0\\x80");
    char small[8];
    pr_text_printable(small, sizeof small, "0123456789");
    assert_string_equal(small, "0123...");
    pr_text_printable(small, sizeof small, "0123456");
    assert_string_equal(small, "0123456");
}

static char *wrapped(const char *text, size_t width, const char *first, size_t rest)
{
    char *got;
    size_t size;
    FILE *out = open_memstream(&got, &size);
    pr_text_wrap(out, text, width, first, rest);
    fclose(out);
    return got;
}

static void test_wrap_counts_characters_not_bytes(void **state)
{
    (void)state;
    char *got = wrapped("one two three", 7, "- ", 2);
    assert_string_equal(got, "- one\n  two\n  three\n");
    free(got);
    got = wrapped("20 °C 30 °C", 11, "", 0);
    assert_string_equal(got, "20 °C 30 °C\n");
    free(got);
    got = wrapped("to 42.3 kN now", 8, "", 0); /* a number keeps its unit */
    assert_string_equal(got, "to\n42.3 kN\nnow\n");
    free(got);
    got = wrapped("averylongword b", 5, "", 0);
    assert_string_equal(got, "averylongword\nb\n");
    free(got);
    got = wrapped("", 5, "", 0);
    assert_string_equal(got, "\n");
    free(got);
}

/* NIST SP 811 (2008), appendix B.8: 1 ft = 0.3048 m; 1 lb = 0.453 592 37 kg; 1 lbf = 4.448 222 N */
static void test_units_against_nist_factors(void **state)
{
    (void)state;
    assert_near(pr_units_shown(PR_UNITS_US, PR_QUANTITY_DISTANCE, 0.3048), 1.0, 1e-12);
    assert_near(pr_units_shown(PR_UNITS_US, PR_QUANTITY_FORCE, 4.448222), 1.0, 1e-6);
    assert_near(pr_units_shown(PR_UNITS_METRIC, PR_QUANTITY_PLATE_FORCE, 9.80665), 1.0, 1e-12);
    assert_near(pr_units_shown(PR_UNITS_US, PR_QUANTITY_WEIGHT, 0.45359237 * 9.80665), 1.0, 1e-12);
    assert_near(pr_units_shown(PR_UNITS_US, PR_QUANTITY_TEMPERATURE, 100.0), 212.0, 1e-12);
    assert_near(pr_units_shown(PR_UNITS_US, PR_QUANTITY_TEMPERATURE_STEP, 100.0), 180.0, 1e-12);
    assert_near(pr_units_shown(PR_UNITS_US, PR_QUANTITY_ROPE_SPEED, 0.00508), 1.0, 1e-12);
    assert_near(pr_units_shown(PR_UNITS_US, PR_QUANTITY_POWER, 745.6999), 1.0, 1e-6);
}

static void test_units_text_rounds_as_people_do(void **state)
{
    (void)state;
    assert_string_equal(pr_units_text(PR_UNITS_METRIC, PR_QUANTITY_DISTANCE, 25.0).s, "25 m");
    assert_string_equal(pr_units_text(PR_UNITS_METRIC, PR_QUANTITY_DISTANCE, 6.24).s, "6.2 m");
    assert_string_equal(pr_units_text(PR_UNITS_US, PR_QUANTITY_DISTANCE, 25.0).s, "82 ft");
    assert_string_equal(pr_units_text(PR_UNITS_US, PR_QUANTITY_FORCE, 21400.0).s, "4,810 lbf");
    assert_string_equal(pr_units_text(PR_UNITS_METRIC, PR_QUANTITY_FORCE, 21400.0).s, "21.4 kN");
    assert_string_equal(pr_units_text(PR_UNITS_METRIC, PR_QUANTITY_TEMPERATURE, 139.6).s, "140 °C");
    assert_string_equal(pr_units_text(PR_UNITS_METRIC, PR_QUANTITY_FORCE, (double)NAN).s, "-");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_append_marks_what_it_cuts),
        cmocka_unit_test(test_number_groups_thousands),
        cmocka_unit_test(test_number_stays_within_its_room),
        cmocka_unit_test(test_duration_carries_seconds),
        cmocka_unit_test(test_duration_rough_drops_seconds_of_a_long_time),
        cmocka_unit_test(test_clock_and_times),
        cmocka_unit_test(test_printable_shows_controls_and_broken_utf8),
        cmocka_unit_test(test_wrap_counts_characters_not_bytes),
        cmocka_unit_test(test_units_against_nist_factors),
        cmocka_unit_test(test_units_text_rounds_as_people_do),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
