/* Quantities: numbers, units, gauges, slopes, and words that are nearly right. Expected values are
 * definitions (SI brochure; inch, pound 1959; horsepower 550 ft lbf/s) or arithmetic on them. */
#include "base/number.h"
#include "reader/nearest.h"
#include "reader/quantity.h"
#include "reader/reader.h"
#include "support/check.h"

#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

static pr_quantities *quantities;

static int set_up(void **state)
{
    (void)state;
    quantities = pr_quantities_new();
    return quantities == NULL;
}

static int tear_down(void **state)
{
    (void)state;
    pr_quantities_free(quantities);
    return 0;
}

static double read_as(const char *text, const char *unit)
{
    double value = PR_NAN;
    char message[PR_QUANTITY_MESSAGE_MAX];
    if (pr_quantity_read(quantities, text, unit, &value, message) != PR_OK)
        fail_msg("\"%s\": %s", text, message);
    return value;
}

static void expect_refusal(const char *text, const char *unit, const char *part)
{
    double value = PR_NAN;
    char message[PR_QUANTITY_MESSAGE_MAX] = "";
    if (pr_quantity_read(quantities, text, unit, &value, message) != PR_ERR_INPUT)
        fail_msg("\"%s\" was taken as %g", text, value);
    if (strstr(message, part) == NULL)
        fail_msg("\"%s\": \"%s\" lacks \"%s\"", text, message, part);
}

static void test_quantity_read_units(void **state)
{
    (void)state;
    static const struct {
        const char *text, *unit;
        double expected;
    } cases[] = {
        {"70 Ah", "Ah", 70.0},
        {"70Ah", "As", 252000.0},
        {"2 h", "s", 7200.0},
        {"120 min", "s", 7200.0},
        {"0.2 mohm", "ohm", 2e-4},
        {"0.2 m\xce\xa9", "ohm", 2e-4},
        {"9500 lbf", "N", 9500 * 0.45359237 * 9.80665},
        {"25 ft", "m", 7.62},
        {"33 ft/min", "m/s", 33 * 0.3048 / 60.0},
        {"33 ft / min", "m/s", 33 * 0.3048 / 60.0},
        {"2 m/min", "m/min", 2.0},
        {"-6 degC", "degC", -6.0},
        {"20 degF", "degC", (20.0 - 32.0) / 1.8},
        {"6 C", "degC", 6.0},
        {"20 F", "degC", (20.0 - 32.0) / 1.8},
        {"5 degrees", "deg", 5.0},
        {"279.15 K", "degC", 6.0},
        {"20 \xc2\xb0"
         "C",
         "degC", 20.0},
        {"12 %", "", 0.12},
        {"12 %", "%", 12.0},
        {"750 rpm", "rpm", 750.0},
        {"-10 mV/K", "V/K", -0.010},
        {"-10 mV/degC", "V/K", -0.010},
        {"6 K/min", "K/s", 0.1},
        {"35 mm2", "mm2", 35.0},
        {"35 mm^2", "mm2", 35.0},
        {"35 mm\xc2\xb2", "mm2", 35.0},
        {"1 hp", "W", 745.699872},
        {"1 kWh", "J", 3.6e6},
        {"2.5 V.A", "W", 2.5},
        {"2.5 V A", "W", 2.5},
        {"1e3 W", "kW", 1.0},
        {"+.5 V", "mV", 500.0},
        {"5. V", "V", 5.0},
        {"\xe2\x88\x92"
         "6 degC",
         "degC", -6.0},
        {"  14.4 V  ", "V", 14.4},
        /* a mass where a weight is wanted, and back: standard gravity */
        {"2650 kg", "N", 2650 * 9.80665},
        {"2.65 t", "N", 2650 * 9.80665},
        {"2650 kgf", "kg", 2650.0},
        {"1 kN", "kg", 1000.0 / 9.80665},
        {"1 lb", "N", 0.45359237 * 9.80665},
        /* capitals are forgiven where they mean one thing only */
        {"70 AH", "Ah", 70.0},
        {"750 RPM", "rpm", 750.0},
        {"5800 Lbs", "kg", 5800 * 0.45359237},
        {"2650 KG", "kg", 2650.0},
    };
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++)
        assert_near(read_as(cases[i].text, cases[i].unit), cases[i].expected,
                    1e-12 * fabs(cases[i].expected) + 1e-12);
}

static void test_quantity_read_plain_numbers(void **state)
{
    (void)state;
    assert_near(read_as("2.7", NULL), 2.7, 0.0);
    assert_near(read_as("2.7:1", NULL), 2.7, 0.0);
    assert_near(read_as("27:10", NULL), 2.7, 1e-15);
    expect_refusal("2.7:0", NULL, "follows the number");
    expect_refusal("2.7 V", NULL, "\"V\" follows the number; wanted is a plain number");
    expect_refusal("5/16", NULL, "follows the number");
}

static void test_quantity_read_refusals(void **state)
{
    (void)state;
    expect_refusal("70", "Ah", "a unit is missing; wanted is a charge, like 70 Ah");
    expect_refusal("70 V", "Ah", "V is a voltage; wanted is a charge");
    expect_refusal("70 A", "Ah", "A is a current; wanted is a charge");
    expect_refusal("70 Wh", "Ah", "Wh is an energy; wanted is a charge");
    expect_refusal("30 deg", "%", "deg is an angle; wanted is a share");
    expect_refusal("30 %", "deg", "% is a share; wanted is an angle");
    expect_refusal("30 rpm", "deg", "rpm is a speed of rotation");
    expect_refusal("20 degC", "K", "degC is a temperature; wanted is a difference");
    expect_refusal("20 degF", "K", "wanted is a difference");
    expect_refusal("20 mV/degF", "mV/K", "unknown");
    expect_refusal("20 m/s", "m", "m/s is a speed");
    expect_refusal("20 MW", "W", "the unit \"MW\" is unknown");
    expect_refusal("20 MA", "A", "the unit \"MA\" is unknown"); /* never 20 mA */
    expect_refusal("9,500 lbf", "N", "a comma in a number can mean two things");
    expect_refusal("2,5 V", "V", "a comma in a number can mean two things");
    expect_refusal("", "V", "no value");
    expect_refusal("   ", "V", "no value");
    expect_refusal("V", "V", "does not start with a number");
    expect_refusal("nan V", "V", "does not start with a number");
    expect_refusal("inf V", "V", "does not start with a number");
    expect_refusal("-V", "V", "does not start with a number");
    expect_refusal("1e400 V", "V", "the number is too large or too long");
    expect_refusal("1e9999999999 V", "V", "the number is too large or too long");
    expect_refusal("1.2.3 V", "V", "unknown");
    expect_refusal("0x10 V", "V", "unknown");
    expect_refusal("1 m^9", "m", "unknown");
    expect_refusal("1 m/", "m", "unknown");
    expect_refusal("1 /s", "s", "unknown");
    expect_refusal("1 m.m.m.m.m.m.m.m", "m", "unknown");
    expect_refusal("1 second since 1970-01-01", "s", "unknown");
    expect_refusal("1 lg(re 1 mW)", "W", "unknown");
    expect_refusal("6 C", "K", "unknown, nearest \"degC\""); /* a difference, or a coulomb? */
    expect_refusal("6 degrees", "degC", "unknown");
    expect_refusal("6 metrs", "m", "nearest \"metre\"");
    expect_refusal("11111111111111111111111111111111111111111111111111111111111111111 V", "V",
                   "longer than 63 bytes");
}

/* Every unit that a table of ours names must be known here: a misspelt one is PR_ERR_INTERNAL. */
static void test_quantity_convert(void **state)
{
    (void)state;
    double value;
    assert_int_equal(pr_quantity_convert(quantities, 95.0, "%", "", &value), PR_OK);
    assert_near(value, 0.95, 1e-15);
    assert_int_equal(pr_quantity_convert(quantities, 1.0, "kg", "N", &value), PR_OK);
    assert_near(value, PR_GRAVITY_MPS2, 0.0);
    assert_int_equal(pr_quantity_convert(quantities, 1.0, "kg", "V", &value), PR_ERR_INTERNAL);
    assert_int_equal(pr_quantity_convert(quantities, 1.0, "nonsense", "V", &value),
                     PR_ERR_INTERNAL);
}

static void test_quantity_many_odd_units(void **state)
{
    (void)state;
    /* more different units than are kept */
    for (int i = 1; i < 100; i++) {
        char text[32];
        snprintf(text, sizeof text, "1 V%s%s", i % 2 ? ".A" : "/A", i % 3 ? ".s" : "");
        double value;
        char message[PR_QUANTITY_MESSAGE_MAX];
        pr_quantity_read(quantities, text, "m", &value, message);
        snprintf(text, sizeof text, "1 m%d.s%d.A%d", i % 3 + 1, i / 3 % 3 + 1, i / 9 % 3 + 1);
        assert_int_equal(pr_quantity_read(quantities, text, "m", &value, message), PR_ERR_INPUT);
    }
    assert_near(read_as("25 ft", "m"), 7.62, 1e-12);
}

static void test_number_scan_ignores_locale(void **state)
{
    (void)state;
    const char *end;
    double value;
    /* where the machine has such a locale; "C" else, and then nothing is shown */
    if (setlocale(LC_ALL, "de_DE.UTF-8") == NULL && setlocale(LC_ALL, "fr_FR.UTF-8") == NULL)
        print_message("no locale with a decimal comma here\n");
    assert_true(pr_number_scan("2.5 V", &end, &value));
    assert_near(value, 2.5, 0.0);
    assert_string_equal(end, " V");
    setlocale(LC_ALL, "C");
    assert_true(pr_number_scan("1e", &end, &value)); /* no digits after it: not an exponent */
    assert_string_equal(end, "e");
    assert_false(pr_number_scan(".", &end, &value));
    assert_false(pr_number_scan("", &end, &value));
}

static void test_slope_read(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        double slope_rad;
    } cases[] = {{"12 %", 0.11942892601833845},                                      /* atan 0.12 */
                 {"1:8", 0.12435499454676144},                                       /* atan 1/8 */
                 {"1 in 8", 0.12435499454676144},    {"7 deg", 0.12217304763960307}, /* 7 pi/180 */
                 {"7 degrees", 0.12217304763960307}, {"-12 %", -0.11942892601833845}, {"0 %", 0.0},
                 {"100 %", 0.78539816339744831}};
    char message[PR_QUANTITY_MESSAGE_MAX];
    double slope_rad;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_int_equal(pr_slope_read(quantities, cases[i].text, &slope_rad, message), PR_OK);
        assert_near(slope_rad, cases[i].slope_rad, 1e-15);
    }
    static const char *const bad[] = {"12",    "12 m",   "one in eight", "1:0", "1:-8",
                                      "1:8 m", "1 in 0", "1 in",         ""};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
        assert_int_equal(pr_slope_read(quantities, bad[i], &slope_rad, message), PR_ERR_INPUT);
        assert_non_null(strstr(message, "a slope, like 12 %, 1:8 or 7 deg"));
    }
}

static void test_gauge_read(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        pr_gauge_kind kind;
        double gauge;
    } cases[] = {{"2 AWG", PR_GAUGE_AWG, 2},     {"2/0 AWG", PR_GAUGE_AWG, -1},
                 {"4/0 AWG", PR_GAUGE_AWG, -3},  {"1/0 awg", PR_GAUGE_AWG, 0},
                 {"0 AWG", PR_GAUGE_AWG, 0},     {"0000 AWG", PR_GAUGE_AWG, -3},
                 {"AWG 2", PR_GAUGE_AWG, 2},     {"4 SAE", PR_GAUGE_SAE, 4},
                 {"35 mm2", PR_GAUGE_MM2, 35},   {"35 mm\xc2\xb2", PR_GAUGE_MM2, 35},
                 {"2.5 mm2", PR_GAUGE_MM2, 2.5}, {"35mm2", PR_GAUGE_MM2, 35}};
    char message[PR_QUANTITY_MESSAGE_MAX];
    pr_gauge_kind kind;
    double gauge;
    for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
        assert_int_equal(pr_gauge_read(cases[i].text, &kind, &gauge, message), PR_OK);
        assert_int_equal(kind, cases[i].kind);
        assert_near(gauge, cases[i].gauge, 0.0);
    }
    static const char *const bad[] = {"2",       "2 gauge", "AWG",    "5/0 AWG", "0/0 AWG",
                                      "2/1 AWG", "3 SAE",   "99 AWG", "0.1 mm2", "1e9 mm2",
                                      "-2 AWG",  "2.5 AWG", "",       "mm2",     "2 AWG x"};
    for (size_t i = 0; i < sizeof bad / sizeof *bad; i++)
        if (pr_gauge_read(bad[i], &kind, &gauge, message) != PR_ERR_INPUT)
            fail_msg("\"%s\" was taken as %g", bad[i], gauge);
}

static void test_edit_distance(void **state)
{
    (void)state;
    assert_int_equal(pr_edit_distance("", ""), 0);
    assert_int_equal(pr_edit_distance("abc", ""), 3);
    assert_int_equal(pr_edit_distance("kitten", "sitting"), 3); /* the textbook pair */
    assert_int_equal(pr_edit_distance("capasity", "capacity"), 1);
    assert_int_equal(pr_edit_distance("batteyr", "battery"), 1); /* neighbours swapped */
    assert_int_equal(pr_edit_distance("Battery", "battery"), 0);
    assert_int_equal(pr_name_distance("mud", "shallow-mud"), 1);
    assert_int_equal(pr_name_distance("mud", "bog"), 3);
    assert_int_equal(pr_name_distance("shalow-mud", "shallow-mud"), 1);
    assert_int_equal(pr_name_distance("bog", "bog"), 0);
    assert_true(pr_is_near(1, "wnch"));
    assert_false(pr_is_near(2, "x"));
    char canonical[64];
    assert_true(pr_name_canonical("  Petrol_6 ", canonical, sizeof canonical));
    assert_string_equal(canonical, "petrol-6");
    assert_false(pr_name_canonical("../..", canonical, sizeof canonical));
    assert_false(pr_name_canonical("abc", canonical, 3));
    assert_true(pr_name_equal("fast idle", "FAST-IDLE"));
    assert_false(pr_name_equal("", ""));
}

static void test_quantity_parse_public(void **state)
{
    (void)state;
    double value;
    char message[200];
    assert_int_equal(pr_quantity_parse("70 Ah", "A.s", &value, message, sizeof message), PR_OK);
    assert_near(value, 252000.0, 1e-9);
    assert_int_equal(pr_quantity_parse("12.4 A", "V", &value, message, sizeof message),
                     PR_ERR_INPUT);
    assert_string_equal(message, "A is a current; wanted is a voltage, like 14.4 V");
    char tiny[8]; /* a short buffer is not overrun */
    assert_int_equal(pr_quantity_parse("x", "V", &value, tiny, sizeof tiny), PR_ERR_INPUT);
    assert_int_equal(strlen(tiny), 7);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_quantity_read_units),
        cmocka_unit_test(test_quantity_read_plain_numbers),
        cmocka_unit_test(test_quantity_read_refusals),
        cmocka_unit_test(test_quantity_convert),
        cmocka_unit_test(test_quantity_many_odd_units),
        cmocka_unit_test(test_number_scan_ignores_locale),
        cmocka_unit_test(test_slope_read),
        cmocka_unit_test(test_gauge_read),
        cmocka_unit_test(test_edit_distance),
        cmocka_unit_test(test_quantity_parse_public),
    };
    return cmocka_run_group_tests(tests, set_up, tear_down);
}
