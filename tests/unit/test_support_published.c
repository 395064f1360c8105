/* The checker of published rows itself: what each form of expected and tolerance allows, and that
 * it fails when it should. */
#include "base/number.h"
#include "support/check.h"
#include "support/published.h"

#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

typedef struct folder {
    char path[64], table[80], results[80];
} folder;

static const char rows[] = "# a comment\n"
                           "id\tinput\texpected\ttolerance\tkind\tsource\tknown\n"
                           "near\tx\t12.65\t0.03\toutside\tsomewhere\n"
                           "missed\tx\t10\t1 %\toutside\tsomewhere\tthe model is too simple\n"
                           "limit\tx\t>= 9.6\t\tlimit\tsomewhere\n"
                           "twice\tx\t1\texact\tidentity\tsomewhere\n"
                           "twice\tx\t1\texact\tidentity\tsomewhere\n"
                           "wrong\tx\t1\t2 mV\toutside\tsomewhere\n";

static int make_folder(void **state)
{
    folder *f = calloc(1, sizeof *f);
    assert_non_null(f);
    snprintf(f->path, sizeof f->path, "published-XXXXXX");
    assert_non_null(mkdtemp(f->path));
    snprintf(f->table, sizeof f->table, "%s/rows.tsv", f->path);
    snprintf(f->results, sizeof f->results, "%s/results", f->path);
    FILE *out = fopen(f->table, "w");
    assert_non_null(out);
    assert_true(fputs(rows, out) >= 0 && fclose(out) == 0);
    setenv("PR_PUBLISHED_DIR", f->path, 1);
    setenv("PR_PUBLISHED_RESULTS", f->results, 1);
    *state = f;
    return 0;
}

static int remove_folder(void **state)
{
    folder *f = *state;
    unlink(f->results);
    unlink(f->table);
    rmdir(f->path);
    free(f);
    return 0;
}

/* 1 if the check of `got` against row `id` fails its test. */
static const char *checked_id;
static double checked_got;

static void check_row(void **state)
{
    (void)state;
    pr_published_check(checked_id, checked_got);
}

static int check_fails(const char *id, double got)
{
    checked_id = id;
    checked_got = got;
    const pid_t child = fork();
    if (child == 0) {
        const int nowhere = open("/dev/null", O_WRONLY);
        if (nowhere < 0 || dup2(nowhere, 1) < 0 || dup2(nowhere, 2) < 0)
            _exit(99);
        const struct CMUnitTest tests[] = {cmocka_unit_test(check_row)};
        _exit(cmocka_run_group_tests(tests, NULL, NULL));
    }
    int status;
    assert_int_equal(waitpid(child, &status, 0), child);
    assert_true(WIFEXITED(status) && WEXITSTATUS(status) <= 1);
    return WEXITSTATUS(status);
}

static void test_published_check_verdicts(void **state)
{
    const folder *f = *state;
    assert_int_equal(check_fails("near", 12.68), 0);
    assert_int_equal(check_fails("near", 12.681), 1);
    assert_int_equal(check_fails("near", PR_NAN), 1);
    assert_int_equal(check_fails("limit", 9.6), 0);
    assert_int_equal(check_fails("limit", 9.59), 1);
    assert_int_equal(check_fails("missed", 10.2), 0);  /* marked as known */
    assert_int_equal(check_fails("missed", 10.05), 1); /* the mark must go */

    char text[1000] = "";
    FILE *in = fopen(f->results, "r");
    assert_non_null(in);
    assert_true(fread(text, 1, sizeof text - 1, in) > 0);
    fclose(in);
    assert_string_equal(text, "near\t12.68\tpass\t12.62\t12.68\n"
                              "near\t12.681\tfail\t12.62\t12.68\n"
                              "near\tnan\tfail\t12.62\t12.68\n"
                              "limit\t9.6\tpass\t9.6\tinf\n"
                              "limit\t9.59\tfail\t9.6\tinf\n"
                              "missed\t10.2\tknown\t9.9\t10.1\n"
                              "missed\t10.05\tunmark\t9.9\t10.1\n");
}

static void test_published_check_rows_that_cannot_be_used(void **state)
{
    (void)state;
    assert_int_equal(check_fails("absent", 1.0), 1);
    assert_int_equal(check_fails("twice", 1.0), 1);
    assert_int_equal(check_fails("wrong", 1.0), 1);
}

static void test_published_expected_reads_the_row(void **state)
{
    (void)state;
    assert_near(pr_published_expected("near"), 12.65, 0.0);
}

static void test_published_parse_forms(void **state)
{
    (void)state;
    static const struct {
        const char *expected, *tolerance;
        double low, high;
    } cases[] = {
        {"12.65", "0.03", 12.62, 12.68},
        {"12.65", ".03", 12.62, 12.68},
        {"-200", "1 %", -202, -198},
        {"200", "1%", 198, 202},
        {"65", "5 pt", 60, 70},
        {"1e9", "exact", 1e9 - 1, 1e9 + 1},
        {"0", "exact", -1e-9, 1e-9},
        {"9.6", ">=", 9.6, PR_INF},
        {"155", "<=", -PR_INF, 155},
        {">= 9.6", "", 9.6, PR_INF},
        {"<=155", "", -PR_INF, 155},
        {"7.2..7.6", "", 7.2, 7.6},
        {"7.2 .. 7.6", "", 7.2, 7.6},
        {"-58..-36", "", -58, -36},
        {"7", "7..8", 7, 8},
        {"5", "0", 5, 5},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        pr_published_band band;
        assert_null(pr_published_parse(cases[i].expected, cases[i].tolerance, &band));
        if (band.low != cases[i].low)
            assert_near(band.low, cases[i].low, 1e-9 + 1e-11 * fabs(cases[i].low));
        if (band.high != cases[i].high)
            assert_near(band.high, cases[i].high, 1e-9 + 1e-11 * fabs(cases[i].high));
    }
}

static void test_published_parse_refusals(void **state)
{
    (void)state;
    static const char *const cases[][2] = {
        {"", "1"},       {"about 5", "1"}, {"5 V", "1"},   {"5", ""},       {"5", "2 mV"},
        {"5", "-1"},     {"5", "wide"},    {"5", "nan"},   {"1..2", "1"},   {"2..1", ""},
        {"1..", ""},     {"..2", ""},      {">=", ""},     {">= 5", "1"},   {"5", "3.."},
        {"1..2..3", ""}, {"inf", "1"},     {"nan", "0.1"}, {">= 1..2", ""}, {"5", "> 3"},
    };
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        pr_published_band band;
        assert_non_null(pr_published_parse(cases[i][0], cases[i][1], &band));
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup_teardown(test_published_check_verdicts, make_folder, remove_folder),
        cmocka_unit_test_setup_teardown(test_published_check_rows_that_cannot_be_used, make_folder,
                                        remove_folder),
        cmocka_unit_test_setup_teardown(test_published_expected_reads_the_row, make_folder,
                                        remove_folder),
        cmocka_unit_test(test_published_parse_forms),
        cmocka_unit_test(test_published_parse_refusals),
    };
    return cmocka_run_group_tests_name("support_published", tests, NULL, NULL);
}
