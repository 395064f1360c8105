/* Text from anywhere stays text, in each place of a page. */
#include "report/page_html.h"
#include "support/check.h"

#include <stdlib.h>
#include <string.h>

typedef void (*writer)(FILE *out, const char *text);

static void assert_written(writer write, const char *text, const char *expected)
{
    char *got = NULL;
    size_t size = 0;
    FILE *out = open_memstream(&got, &size);
    assert_non_null(out);
    write(out, text);
    assert_int_equal(fclose(out), 0);
    assert_string_equal(got, expected);
    free(got);
}

#define BAD "\xEF\xBF\xBD"

static void test_html_text_escapes_markup(void **state)
{
    (void)state;
    assert_written(pr_html_text, "a < b & c > \"d\" 'e'",
                   "a &lt; b &amp; c &gt; &quot;d&quot; &#39;e&#39;");
    assert_written(pr_html_text, "</title><script>", "&lt;/title&gt;&lt;script&gt;");
    assert_written(pr_html_text, "", "");
}

static void test_html_text_keeps_sound_utf8(void **state)
{
    (void)state;
    assert_written(pr_html_text,
                   "20 \xC2\xB0"
                   "C \xE2\x88\x92 \xF0\x9F\x9A\x99",
                   "20 \xC2\xB0"
                   "C \xE2\x88\x92 \xF0\x9F\x9A\x99");
}

static void test_html_text_replaces_broken_utf8(void **state)
{
    (void)state;
    assert_written(pr_html_text, "\x80", BAD);
    assert_written(pr_html_text, "\xC3(", BAD "(");
    assert_written(pr_html_text, "\xE2\x88", BAD BAD);                 /* cut off at the end */
    assert_written(pr_html_text, "\xC0\xBC", BAD BAD);                 /* "<" too long */
    assert_written(pr_html_text, "\xE0\x80\xBC", BAD BAD BAD);         /* and longer */
    assert_written(pr_html_text, "\xED\xA0\x80", BAD BAD BAD);         /* half a pair */
    assert_written(pr_html_text, "\xF4\x90\x80\x80", BAD BAD BAD BAD); /* beyond the last */
    assert_written(pr_html_text, "\xFF<", BAD "&lt;");
}

static void test_html_text_replaces_what_is_not_seen(void **state)
{
    (void)state;
    assert_written(pr_html_text, "a\x01\x1b[2J\x7f", "a" BAD BAD "[2J" BAD);
    assert_written(pr_html_text,
                   "\xE2\x80\xAE"
                   "abc\xE2\x81\xA6",
                   BAD "abc" BAD);
    assert_written(pr_html_text, "\xEF\xBB\xBF\xEF\xBF\xBE\xC2\x85", BAD BAD BAD);
}

static void test_html_attribute_stays_on_one_line(void **state)
{
    (void)state;
    assert_written(pr_html_attribute, "x\" onload=\"y\n\tz", "x&quot; onload=&quot;y  z");
}

static void test_html_script_json_cannot_end_the_script(void **state)
{
    (void)state;
    assert_written(pr_html_script_json, "[\"</script><!--&'\"]",
                   "[\"\\u003c/script\\u003e\\u003c!--\\u0026\\u0027\"]");
    assert_written(pr_html_script_json, "{\"a\":1.5}", "{\"a\":1.5}");
}

static void put_element(FILE *out, const char *text)
{
    pr_html_element(out, "td", "words", text);
    pr_html_printf(out, "p", NULL, "%s: %d", text, 7);
}

static void test_html_element_escapes_its_text(void **state)
{
    (void)state;
    assert_written(put_element, "<b>", "<td class=\"words\">&lt;b&gt;</td><p>&lt;b&gt;: 7</p>");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_html_text_escapes_markup),
        cmocka_unit_test(test_html_text_keeps_sound_utf8),
        cmocka_unit_test(test_html_text_replaces_broken_utf8),
        cmocka_unit_test(test_html_text_replaces_what_is_not_seen),
        cmocka_unit_test(test_html_attribute_stays_on_one_line),
        cmocka_unit_test(test_html_script_json_cannot_end_the_script),
        cmocka_unit_test(test_html_element_escapes_its_text),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
