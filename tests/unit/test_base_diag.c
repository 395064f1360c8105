/* Diagnostics: order of printing, what is kept and what only counted, hostile text. */
#include "base/diag.h"
#include "support/check.h"

#include <stdlib.h>
#include <string.h>

/* What pr_diag_print writes; the caller frees it. */
static char *printed(const pr_diag *diag)
{
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    pr_diag_print(diag, out);
    assert_int_equal(fclose(out), 0);
    return text;
}

static void assert_printed(const pr_diag *diag, const char *expected)
{
    char *text = printed(diag);
    assert_string_equal(text, expected);
    free(text);
}

static void test_diag_print_sorted_by_place(void **state)
{
    (void)state;
    pr_diag diag = pr_diag_init();
    pr_diag_add(&diag, PR_ERROR, (pr_place){"b.yaml", 1, 1}, "fifth");
    pr_diag_add(&diag, PR_ERROR, (pr_place){"a.yaml", 10, 1}, "fourth");
    pr_diag_add(&diag, PR_WARNING, (pr_place){"a.yaml", 9, 7}, "third");
    pr_diag_add(&diag, PR_NOTE, (pr_place){"a.yaml", 9, 3}, "second");
    pr_diag_add(&diag, PR_ERROR, (pr_place){NULL, 0, 0}, "first");
    assert_printed(&diag, "error: first\n"
                          "a.yaml:9:3: note: second\n"
                          "a.yaml:9:7: warning: third\n"
                          "a.yaml:10:1: error: fourth\n"
                          "b.yaml:1:1: error: fifth\n");
    assert_int_equal(diag.errors, 3);
    assert_int_equal(diag.warnings, 1);
    assert_int_equal(diag.notes, 1);
    pr_diag_free(&diag);
}

static void test_diag_print_from_leaves_out_what_is_less(void **state)
{
    (void)state;
    char *text = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&text, &size);
    assert_non_null(out);
    pr_diag diag = pr_diag_init();
    pr_diag_add(&diag, PR_NOTE, (pr_place){NULL, 0, 0}, "by the way");
    pr_diag_add(&diag, PR_WARNING, (pr_place){NULL, 0, 0}, "look out");
    pr_diag_print_from(&diag, PR_WARNING, out);
    assert_int_equal(fclose(out), 0);
    assert_string_equal(text, "warning: look out\n");
    free(text);
    pr_diag_free(&diag);
}

static void test_diag_print_same_place_in_order_of_adding(void **state)
{
    (void)state;
    pr_diag diag = pr_diag_init();
    for (int i = 0; i < 30; i++)
        pr_diag_add(&diag, PR_ERROR, (pr_place){"a", 1, 1}, "%d", i);
    char expected[30 * 32] = "";
    for (int i = 0; i < 30; i++) {
        char line[32];
        snprintf(line, sizeof line, "a:1:1: error: %d\n", i);
        strncat(expected, line, sizeof expected - strlen(expected) - 1);
    }
    assert_printed(&diag, expected);
    pr_diag_free(&diag);
}

static void test_diag_print_unknown_parts_of_place(void **state)
{
    (void)state;
    pr_diag diag = pr_diag_init();
    pr_diag_add(&diag, PR_ERROR, (pr_place){"a", 0, 0}, "whole file");
    pr_diag_add(&diag, PR_ERROR, (pr_place){"a", 2, 0}, "whole line");
    pr_diag_add(&diag, PR_ERROR, (pr_place){NULL, 3, 4}, "no name");
    assert_printed(&diag, "3:4: error: no name\n"
                          "a: error: whole file\n"
                          "a:2: error: whole line\n");
    pr_diag_free(&diag);
}

static void test_diag_add_beyond_limit_is_counted(void **state)
{
    (void)state;
    pr_diag diag = pr_diag_init();
    for (size_t i = 0; i < PR_DIAG_MAX + 7; i++)
        pr_diag_add(&diag, i % 2 == 0 ? PR_ERROR : PR_WARNING, (pr_place){"a", i + 1, 1}, "x");
    assert_int_equal(diag.count, PR_DIAG_MAX);
    assert_int_equal(diag.errors + diag.warnings, PR_DIAG_MAX + 7);
    assert_int_equal(diag.errors, (PR_DIAG_MAX + 8) / 2);
    assert_int_equal(diag.out_of_memory, 0);
    char *text = printed(&diag);
    assert_non_null(strstr(text, "a:200:1: warning: x\nand 7 more messages\n"));
    free(text);
    pr_diag_free(&diag);
    assert_int_equal(diag.count, 0);
    assert_null(diag.entries);
}

static void test_diag_add_long_text_is_bounded(void **state)
{
    (void)state;
    char text[5000];
    memset(text, 'y', sizeof text);
    text[sizeof text - 1] = '\0';
    pr_diag diag = pr_diag_init();
    pr_diag_add(&diag, PR_ERROR, (pr_place){0}, "%s", text);
    const char *kept = diag.entries[0].text;
    assert_int_equal(strlen(kept), 999);
    assert_string_equal(kept + 995, "y...");
    /* the cut never splits a character, nor an escape */
    memset(text, 1, sizeof text - 1);
    pr_diag_add(&diag, PR_ERROR, (pr_place){0}, "%s", text);
    assert_string_equal(diag.entries[1].text + strlen(diag.entries[1].text) - 7, "\\x01...");
    for (size_t i = 0; i + 2 < sizeof text; i += 2)
        memcpy(text + i, "\xc3\xa9", 2);
    pr_diag_add(&diag, PR_ERROR, (pr_place){0}, "x%s", text);
    assert_string_equal(diag.entries[2].text + strlen(diag.entries[2].text) - 5, "\xc3\xa9...");
    pr_diag_free(&diag);
}

static void test_diag_add_text_that_just_fits(void **state)
{
    (void)state;
    char text[1000];
    memset(text, 'z', sizeof text);
    text[999] = '\0';
    pr_diag diag = pr_diag_init();
    pr_diag_add(&diag, PR_NOTE, (pr_place){0}, "%s", text);
    assert_string_equal(diag.entries[0].text, text);
    pr_diag_free(&diag);
}

static void test_diag_add_control_characters_are_shown(void **state)
{
    (void)state;
    pr_diag diag = pr_diag_init();
    pr_diag_add(&diag, PR_ERROR, (pr_place){"a\033]2;b\n", 1, 1}, "%s", "\033[31mred\r\n\t\x7f");
    pr_diag_add(&diag, PR_ERROR, (pr_place){"c", 1, 1}, "%s",
                "\xc2\x9b"
                "31m");
    assert_printed(&diag, "a\\x1b]2;b\\x0a:1:1: error: \\x1b[31mred\\x0d\\x0a\\x09\\x7f\n"
                          "c:1:1: error: \\xc2\\x9b31m\n");
    pr_diag_free(&diag);
}

static void test_diag_add_utf8_kept_and_broken_bytes_shown(void **state)
{
    (void)state;
    static const struct {
        const char *given, *shown;
    } cases[] = {
        {"6 \xc2\xb0"
         "C, \xe2\x82\xac, \xf0\x9f\x9a\x99",
         "6 \xc2\xb0"
         "C, \xe2\x82\xac, \xf0\x9f\x9a\x99"},
        {"\xc3", "\\xc3"},                            /* cut short */
        {"\xe2\x82", "\\xe2\\x82"},                   /* cut short */
        {"\xff\xfe", "\\xff\\xfe"},                   /* never in UTF-8 */
        {"\xc0\xaf", "\\xc0\\xaf"},                   /* longer than needed */
        {"\xe0\x80\xaf", "\\xe0\\x80\\xaf"},          /* longer than needed */
        {"\xed\xa0\x80", "\\xed\\xa0\\x80"},          /* surrogate */
        {"\xf4\x90\x80\x80", "\\xf4\\x90\\x80\\x80"}, /* beyond U+10FFFF */
        {"\xf0\x80\x80\x80", "\\xf0\\x80\\x80\\x80"}, /* longer than needed */
        {"\x80", "\\x80"},                            /* continuation alone */
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        pr_diag diag = pr_diag_init();
        pr_diag_add(&diag, PR_ERROR, (pr_place){0}, "%s", cases[i].given);
        assert_string_equal(diag.entries[0].text, cases[i].shown);
        pr_diag_free(&diag);
    }
}

static void test_diag_add_owns_its_copies(void **state)
{
    (void)state;
    char file[] = "a.yaml";
    pr_diag diag = pr_diag_init();
    pr_diag_add(&diag, PR_ERROR, (pr_place){file, 1, 1}, "x");
    file[0] = 'b';
    assert_printed(&diag, "a.yaml:1:1: error: x\n");
    pr_diag_free(&diag);
    pr_diag_free(&diag); /* twice is harmless */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_diag_print_sorted_by_place),
        cmocka_unit_test(test_diag_print_from_leaves_out_what_is_less),
        cmocka_unit_test(test_diag_print_same_place_in_order_of_adding),
        cmocka_unit_test(test_diag_print_unknown_parts_of_place),
        cmocka_unit_test(test_diag_add_beyond_limit_is_counted),
        cmocka_unit_test(test_diag_add_long_text_is_bounded),
        cmocka_unit_test(test_diag_add_text_that_just_fits),
        cmocka_unit_test(test_diag_add_control_characters_are_shown),
        cmocka_unit_test(test_diag_add_utf8_kept_and_broken_bytes_shown),
        cmocka_unit_test(test_diag_add_owns_its_copies),
    };
    return cmocka_run_group_tests_name("base_diag", tests, NULL, NULL);
}
