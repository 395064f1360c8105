/* Logs of the winch current: any size in bounded memory, and the charge stays what was measured. */
#include "test_reader_support.h"

#include <math.h>
#include <stdio.h>
#include <sys/resource.h>
#include <unistd.h>

static const char SCENARIO[] = "battery: flooded-70-starter\nalternator: none\n"
                               "recovery: {profile: reader-profile.csv}\nplan: {pulls: 1}\n";

/* A winch that starts with a rush, then swings with the ground. */
static double current_A(double t_s)
{
    return 250.0 + 200.0 * exp(-t_s / 0.5) + 40.0 * sin(t_s) + 10.0 * sin(7.3 * t_s);
}

static void write_log(size_t rows, double step_s)
{
    FILE *file = fopen("reader-profile.csv", "we");
    assert_non_null(file);
    fputs("battery_V, \"time_s\" ,current_A\r\n", file);
    for (size_t i = 0; i < rows; i++) {
        const double t_s = 100.0 + (double)i * step_s; /* the log's clock runs before the pull */
        fprintf(file, "12.1,%.6f, %.3f \r\n", t_s, current_A((double)i * step_s));
    }
    fclose(file);
}

static pr_scenario *read_log(void)
{
    pr_scenario *s = malloc(sizeof *s);
    assert_non_null(s);
    pr_diag diag = pr_diag_init();
    const pr_status status =
        pr_scenario_read_text("profile", SCENARIO, sizeof SCENARIO - 1, &reader_options, s, &diag);
    if (status != PR_OK) {
        pr_diag_print(&diag, stderr);
        fail_msg("the log was refused");
    }
    pr_diag_free(&diag);
    unlink("reader-profile.csv");
    return s;
}

static double charge_As(const pr_scenario *s)
{
    double sum_As = 0.0;
    for (int i = 1; i < s->system.n_profile; i++)
        sum_As += 0.5 * (s->system.profile_A[i] + s->system.profile_A[i - 1]) *
                  (s->system.profile_s[i] - s->system.profile_s[i - 1]);
    return sum_As;
}

/* Integral of current_A from 0. */
static double true_charge_As(double t_s)
{
    return 250.0 * t_s + 100.0 * (1.0 - exp(-t_s / 0.5)) + 40.0 * (1.0 - cos(t_s)) +
           10.0 / 7.3 * (1.0 - cos(7.3 * t_s));
}

static void test_profile_short_log_is_kept(void **state)
{
    (void)state;
    write_log(1000, 0.05);
    pr_scenario *s = read_log();
    assert_int_equal(s->system.n_profile, 1000);
    assert_near(s->system.profile_s[0], 0.0, 0.0);
    assert_near(s->system.profile_s[999], 49.95, 1e-6);
    assert_near(s->system.profile_A[0], 450.0, 1e-3);
    drop_scenario(s);
}

static void test_profile_long_log_is_merged(void **state)
{
    (void)state;
    write_log(50000, 0.001);
    pr_scenario *s = read_log();
    assert_true(s->system.n_profile <= PR_DEMAND_PROFILE_MAX);
    assert_true(s->system.n_profile > PR_DEMAND_PROFILE_MAX / 4);
    assert_near(s->system.profile_s[0], 0.0, 0.0);
    assert_near(s->system.profile_s[s->system.n_profile - 1], 49.999, 1e-6);
    for (int i = 1; i < s->system.n_profile; i++)
        assert_true(s->system.profile_s[i] > s->system.profile_s[i - 1]);
    assert_near(charge_As(s), true_charge_As(49.999), 2e-4 * true_charge_As(49.999));
    /* and in every part of it, not only in the sum */
    for (int i = 1; i + 1 < s->system.n_profile; i++)
        assert_near(s->system.profile_A[i], current_A(s->system.profile_s[i]), 2.0);
    drop_scenario(s);
}

/* Half a million lines of 250 A: read once, nothing kept but the points. */
static void test_profile_huge_log_needs_no_memory(void **state)
{
    (void)state;
    enum { ROWS = 500000 };
    FILE *file = fopen("reader-profile.csv", "we");
    assert_non_null(file);
    fputs("time_s,current_A\n", file);
    for (int i = 0; i < ROWS; i++)
        fprintf(file, "%d,250\n", i);
    fclose(file);
    struct rusage before, after;
    getrusage(RUSAGE_SELF, &before);
    pr_scenario *s = read_log();
    getrusage(RUSAGE_SELF, &after);
    assert_true(s->system.n_profile <= PR_DEMAND_PROFILE_MAX);
    assert_near(charge_As(s), 250.0 * (ROWS - 1), 1e-6 * 250.0 * ROWS);
    assert_true(after.ru_maxrss - before.ru_maxrss < 4 * 1024); /* KiB; the numbers take 8 MiB */
    drop_scenario(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_profile_short_log_is_kept),
        cmocka_unit_test(test_profile_long_log_is_merged),
        cmocka_unit_test(test_profile_huge_log_needs_no_memory),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
