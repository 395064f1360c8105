/* UTF-8 against the definition of RFC 3629, section 3, and what section 4 keeps out. */
#include "base/utf8.h"
#include "support/check.h"

#include <stdbool.h>

enum { CODES = 0x110000, SURROGATES = 0x800 };

/* Section 3's table. */
static size_t encode(uint32_t code, char *to)
{
    const size_t n = code < 0x80 ? 1 : code < 0x800 ? 2 : code < 0x10000 ? 3 : 4;
    static const unsigned first[] = {[1] = 0x00, [2] = 0xc0, [3] = 0xe0, [4] = 0xf0};
    for (size_t i = n; i-- > 1; code >>= 6)
        to[i] = (char)(0x80 | (code & 0x3f));
    to[0] = (char)(first[n] | code);
    to[n] = '\0';
    return n;
}

static void test_utf8_every_code(void **state)
{
    (void)state;
    char text[8];
    for (uint32_t code = 0; code < CODES; code++) {
        const size_t n = encode(code, text);
        uint32_t got = 7;
        const size_t length = pr_utf8_decode(text, &got);
        const bool surrogate = code >= 0xd800 && code < 0xd800 + SURROGATES;
        if (length != (surrogate ? 0 : n) || got != (surrogate ? 7 : code))
            fail_msg("U+%04X: %zu bytes, U+%04X", (unsigned)code, length, (unsigned)got);
    }
}

/* Of all runs of up to three bytes as many are well-formed as there are codes: no longer form. */
static void test_utf8_no_two_ways(void **state)
{
    (void)state;
    size_t found[5] = {0};
    for (uint32_t bits = 0; bits < 0x1000000; bits++) {
        const char text[4] = {(char)(bits >> 16), (char)(bits >> 8), (char)bits, '\0'};
        uint32_t code;
        const size_t n = pr_utf8_decode(text, &code);
        found[n]++;
    }
    assert_int_equal(found[1], 0x80 * 0x10000);
    assert_int_equal(found[2], (0x800 - 0x80) * 0x100);
    assert_int_equal(found[3], 0x10000 - 0x800 - SURROGATES);
    assert_int_equal(found[4], 0);
}

static void test_utf8_malformed(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "\x80",         "\xbf",         "\xc0\x80",         "\xc1\xbf",         "\xc3",
        "\xe0\x9f\xbf", "\xe2\x82",     "\xed\xa0\x80",     "\xf0\x8f\xbf\xbf", "\xf0\x9f\x98",
        "\xf5\x80\x80", "\xfe\xff\xff", "\xf4\x90\x80\x80", "\xf8\x88\x80\x80", "\xff"};
    for (size_t i = 0; i < sizeof texts / sizeof *texts; i++) {
        uint32_t code = 7;
        assert_int_equal(pr_utf8_decode(texts[i], &code), 0);
        assert_int_equal(code, 7);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_utf8_every_code),
        cmocka_unit_test(test_utf8_no_two_ways),
        cmocka_unit_test(test_utf8_malformed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
