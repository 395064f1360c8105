/* Status texts: every code has its own, and a wrong code does not crash. */
#include "base/status.h"
#include "support/check.h"

#include <string.h>

static void test_status_text_every_code_has_one(void **state)
{
    (void)state;
#define CHECK_TEXT(name, text) assert_string_equal(pr_status_text(name), text);
    PR_STATUS_LIST(CHECK_TEXT)
#undef CHECK_TEXT
}

static void test_status_text_no_two_alike(void **state)
{
    (void)state;
    for (int i = PR_OK; i <= PR_ERR_INTERNAL; i++)
        for (int k = PR_OK; k < i; k++)
            assert_string_not_equal(pr_status_text((pr_status)i), pr_status_text((pr_status)k));
}

static void test_status_text_unknown_code(void **state)
{
    (void)state;
    assert_string_equal(pr_status_text((pr_status)1000), "unknown status");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_status_text_every_code_has_one),
        cmocka_unit_test(test_status_text_no_two_alike),
        cmocka_unit_test(test_status_text_unknown_code),
    };
    return cmocka_run_group_tests_name("base_status", tests, NULL, NULL);
}
