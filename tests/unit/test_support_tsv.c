/* The reader of tab-separated test tables. */
#include "support/check.h"
#include "support/tsv.h"

#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

static void test_tsv_read_rows_and_cells(void **state)
{
    (void)state;
    char path[] = "table-XXXXXX";
    const int file = mkstemp(path);
    assert_true(file >= 0);
    FILE *out = fdopen(file, "w");
    assert_non_null(out);
    fputs("# comment\n\nname\tvalue\tnote\r\n a b \t1.5 \t\r\n  \t \n#x\ty\nlast\t-2e3", out);
    assert_int_equal(fclose(out), 0);

    pr_tsv table = pr_tsv_read(path);
    unlink(path);
    assert_int_equal(table.count, 2);
    assert_int_equal(table.rows[0].line, 4);
    assert_int_equal(table.rows[1].line, 7);
    assert_string_equal(pr_tsv_cell(&table, 0, "name"), "a b");
    assert_string_equal(pr_tsv_cell(&table, 0, "note"), "");
    assert_string_equal(pr_tsv_cell(&table, 1, "name"), "last");
    assert_string_equal(pr_tsv_cell(&table, 1, "note"), ""); /* left out at the end */
    assert_near(pr_tsv_number(&table, 0, "value"), 1.5, 0.0);
    assert_near(pr_tsv_number(&table, 1, "value"), -2000.0, 0.0);
    pr_tsv_free(&table);
}

int main(void)
{
    const struct CMUnitTest tests[] = {cmocka_unit_test(test_tsv_read_rows_and_cells)};
    return cmocka_run_group_tests_name("support_tsv", tests, NULL, NULL);
}
