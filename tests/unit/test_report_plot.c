/* Running gnuplot: hostile texts stay texts, and every failure is told. The scripts here are
 * written by the test itself into a folder that PULLREST_PLOTS names. */
#include "report/plot.h"
#include "report/process.h"
#include "support/check.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

static char folder[512];

static void put(const char *name, const char *text)
{
    char path[600];
    snprintf(path, sizeof path, "%s/%s", folder, name);
    FILE *out = fopen(path, "w");
    assert_non_null(out);
    fputs(text, out);
    fclose(out);
}

static int make_scripts(void **state)
{
    (void)state;
    char here[400];
    assert_non_null(getcwd(here, sizeof here));
    snprintf(folder, sizeof folder, "%s/plot-XXXXXX", here);
    if (mkdtemp(folder) == NULL)
        return -1;
    setenv("PULLREST_PLOTS", folder, 1);
    put("style.gp", "");
    put("echo.gp", "set print plot_output\nprint title\nprint sprintf('%.3f', half / 2)\n"
                   "print exists('none') ? sprintf('%g', none) : 'gone'\nunset print\n");
    put("rows.gp", "set print plot_output\nstats numbers using 2 nooutput\n"
                   "print sprintf('%d %g', STATS_records, STATS_sum)\nunset print\n");
    put("bad.gp", "plot nonsense(\n");
    put("slow.gp", "pause 30\n");
    put("idle.gp", "x = 1\n");
    return 0;
}

static int remove_scripts(void **state)
{
    (void)state;
    static const char *const names[] = {"style.gp", "echo.gp", "rows.gp",
                                        "bad.gp",   "slow.gp", "idle.gp"};
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        char path[600];
        snprintf(path, sizeof path, "%s/%s", folder, names[i]);
        unlink(path);
    }
    return rmdir(folder);
}

static pr_status draw(const pr_plot *plot, char *got, size_t size, char message[300])
{
    FILE *out = fmemopen(got, size, "w");
    assert_non_null(out);
    const pr_status status = pr_plot_draw(plot, PR_PLOT_SVG, out, message, 300);
    fclose(out);
    return status;
}

static int has_gnuplot(void)
{
    const char *const arguments[] = {"gnuplot", "--version", NULL};
    pr_process_result result;
    pr_process_run(arguments, 20.0, &result);
    return result.end == PR_PROCESS_DONE;
}

static void test_draw_hands_over_hostile_text_unchanged(void **state)
{
    (void)state;
    if (!has_gnuplot())
        skip();
    const char *hostile = "it's '; system 'touch owned'; `touch owned` @x $(id) \\n %s \" |";
    const pr_plot_variable variables[] = {
        {"title", hostile, 0.0}, {"half", NULL, 1.0}, {"none", NULL, (double)NAN}};
    const pr_plot plot = {.script = "echo", .variables = variables, .n_variables = 3};
    char got[400] = "", message[300], expected[400];
    assert_int_equal(draw(&plot, got, sizeof got, message), PR_OK);
    snprintf(expected, sizeof expected, "%s\n0.500\n", hostile);
    assert_memory_equal(got, expected, strlen(expected));
    assert_int_not_equal(access("owned", F_OK), 0);
}

static void test_draw_hands_over_rows_and_labels(void **state)
{
    (void)state;
    if (!has_gnuplot())
        skip();
    const double values[] = {1.5, (double)NAN, 2.5};
    const char *const labels[] = {"a\tb", "\"quoted", "c"};
    const pr_plot_table table = {
        .name = "numbers", .n_rows = 3, .n_columns = 1, .values = values, .labels = labels};
    const pr_plot plot = {.script = "rows", .tables = &table, .n_tables = 1};
    char got[100] = "", message[300];
    assert_int_equal(draw(&plot, got, sizeof got, message), PR_OK);
    assert_string_equal(got, "2 4\n");
}

static void assert_fails(const char *script, double timeout_s, const char *expected)
{
    const pr_plot plot = {.script = script, .timeout_s = timeout_s};
    char got[100], message[300] = "";
    assert_int_equal(draw(&plot, got, sizeof got, message), PR_ERR_IO);
    if (strstr(message, expected) == NULL)
        fail_msg("'%s' lacks '%s'", message, expected);
}

static void test_draw_tells_each_failure(void **state)
{
    (void)state;
    if (!has_gnuplot())
        skip();
    assert_fails("bad", 20.0, "gnuplot failed: ");
    assert_fails("absent", 20.0, "gnuplot failed: ");
    assert_fails("slow", 0.3, "took more than");
    assert_fails("idle", 20.0, "drew nothing");
}

static void test_draw_without_gnuplot(void **state)
{
    (void)state;
    char *path = strdup(getenv("PATH"));
    setenv("PATH", folder, 1);
    assert_fails("idle", 20.0, "not installed");
    setenv("PATH", path, 1);
    free(path);
}

static void test_draw_refuses_a_name_that_is_no_name(void **state)
{
    (void)state;
    const pr_plot_variable variable = {"x=1;y", NULL, 1.0};
    const pr_plot plot = {.script = "idle", .variables = &variable, .n_variables = 1};
    const pr_plot climbing = {.script = "../idle"};
    char got[100], message[300];
    assert_int_equal(draw(&plot, got, sizeof got, message), PR_ERR_INTERNAL);
    assert_int_equal(draw(&climbing, got, sizeof got, message), PR_ERR_INTERNAL);
}

static void test_format_of_a_name(void **state)
{
    (void)state;
    assert_int_equal(pr_plot_format_of("a.svg"), PR_PLOT_SVG);
    assert_int_equal(pr_plot_format_of("x/a.b.PNG"), PR_PLOT_PNG);
    assert_int_equal(pr_plot_format_of("a.pdf"), PR_PLOT_PDF);
    assert_int_equal(pr_plot_format_of("svg"), PR_PLOT_FORMATS);
    assert_int_equal(pr_plot_format_of("a.svg/b"), PR_PLOT_FORMATS);
}

static void test_process_keeps_the_last_words(void **state)
{
    (void)state;
    pr_process_result result;
    const char *const talks[] = {"sh", "-c", "echo first >&2; echo 'last \033 words' >&2; exit 3",
                                 NULL};
    pr_process_run(talks, 20.0, &result);
    assert_int_equal(result.end, PR_PROCESS_DONE);
    assert_int_equal(result.exit_status, 3);
    assert_string_equal(result.errors, "last \\x1b words");
    const char *const much[] = {
        "sh", "-c", "yes 0123456789 | head -c 300000 >&2; echo >&2; echo end >&2", NULL};
    pr_process_run(much, 20.0, &result);
    assert_int_equal(result.end, PR_PROCESS_DONE);
    assert_string_equal(result.errors, "end");
    const char *const killed[] = {"sh", "-c", "kill -9 $$", NULL};
    pr_process_run(killed, 20.0, &result);
    assert_int_equal(result.end, PR_PROCESS_FAILED);
    const char *const quiet[] = {"sh", "-c", "exec 2>&-; sleep 20", NULL};
    pr_process_run(quiet, 0.2, &result);
    assert_int_equal(result.end, PR_PROCESS_TIMEOUT);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_draw_hands_over_hostile_text_unchanged),
        cmocka_unit_test(test_draw_hands_over_rows_and_labels),
        cmocka_unit_test(test_draw_tells_each_failure),
        cmocka_unit_test(test_draw_without_gnuplot),
        cmocka_unit_test(test_draw_refuses_a_name_that_is_no_name),
        cmocka_unit_test(test_format_of_a_name),
        cmocka_unit_test(test_process_keeps_the_last_words),
    };
    return cmocka_run_group_tests(tests, make_scripts, remove_scripts);
}
