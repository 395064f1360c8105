/* What pictures are given to draw: scripts of our own, in a folder that PULLREST_PLOTS names, print
 * the variables and tables that gnuplot was handed. */
#include "report/plot_curves.h"
#include "report/plot_cycle.h"
#include "report/process.h"
#include "report/readings_report.h"
#include "test_planner_fixture.h"

#include <unistd.h>

enum { BYTES = 400000 };
static char folder[512], got[BYTES], message[300];

static const char *const scripts[][2] = {
    {"style.gp", ""},
    {"cycle.gp", "set print plot_output\nprint title\n"
                 "print sprintf('%.9g %.9g %.9g %.9g', number, count, pull_s, rest_s)\n"
                 "print sprintf('%.9g %.9g %.9g %.9g', lowest_V, back_s, back_V, back_frac)\n"
                 "print sprintf('%.9g %.9g %.9g %.9g', soc_before, soc_after, soc_end, end_frac)\n"
                 "print sprintf('%.9g %.9g %.9g', winch_A, battery_A, alternator_A)\n"
                 "print system('cat '.rows)\nunset print\n"},
    {"readings.gp",
     "set print plot_output\nprint answer\nprint sprintf('%g %g', n_rows, n_columns)\n"
     "print system('cat '.rows)\nprint '--'\nprint system('cat '.heads)\n"
     "print '--'\nprint system('cat '.bands)\nunset print\n"},
    {"winch.gp", "set print plot_output\nprint title\n"
                 "print sprintf('%.9g %.9g %.9g', force_k, speed_k, length_k)\n"
                 "print sprintf('%.9g %.9g', degree_k, degree_0)\n"
                 "print force_name.' '.length_name.' '.degree_name\n"
                 "print sprintf('%.9g', rated_A)\nprint system('cat '.curve)\nunset print\n"},
};
enum { SCRIPTS = sizeof scripts / sizeof scripts[0] };

static int make_scripts(void **state)
{
    (void)state;
    char here[400], path[600];
    assert_non_null(getcwd(here, sizeof here));
    snprintf(folder, sizeof folder, "%s/pictures-XXXXXX", here);
    if (mkdtemp(folder) == NULL)
        return -1;
    setenv("PULLREST_PLOTS", folder, 1);
    for (int i = 0; i < SCRIPTS; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, scripts[i][0]);
        FILE *out = fopen(path, "w");
        assert_non_null(out);
        fputs(scripts[i][1], out);
        fclose(out);
    }
    return 0;
}

static int remove_scripts(void **state)
{
    (void)state;
    char path[600];
    for (int i = 0; i < SCRIPTS; i++) {
        snprintf(path, sizeof path, "%s/%s", folder, scripts[i][0]);
        unlink(path);
    }
    return rmdir(folder);
}

static void need_gnuplot(void)
{
    const char *const arguments[] = {"gnuplot", "--version", NULL};
    pr_process_result result;
    pr_process_run(arguments, 20.0, &result);
    if (result.end != PR_PROCESS_DONE)
        skip();
}

/* A line of what the script printed, from 0. */
static const char *line(int n)
{
    const char *at = got;
    for (; n > 0 && at != NULL; n--) {
        at = strchr(at, '\n');
        at = at == NULL ? NULL : at + 1;
    }
    assert_non_null(at);
    return at;
}

static int numbers(const char *text, double x[], int most)
{
    int n = 0;
    char *end;
    for (; n < most; n++, text = end) {
        x[n] = strtod(text, &end);
        if (end == text || memchr(text, '\n', (size_t)(end - text)) != NULL)
            break;
    }
    return n;
}

/* ---- one pull and its rest */

enum { ROW_PER_s = 4, PULLS = 3, CYCLE_s = 100, PULL_s = 30, FIRST_s = 20 };

static double share(double x)
{
    return x < 0.0 ? 0.0 : x > 1.0 ? 1.0 : x;
}

/* Pulls of 30 s, rests of 70 s. The box falls from 12.6 to 12 V in a pull, jumps to 13.5 V and is
 * at 14 V from 10 s on; each pull takes 1 % of charge, half of it comes back by the end of a rest.
 */
static void put_row(pr_trace *trace, double t_s)
{
    double *row = &trace->values[trace->n_rows++ * PR_TRACE_COLUMNS];
    const int cycle = (int)floor((t_s - FIRST_s) / CYCLE_s);
    const double in_s = t_s - FIRST_s - cycle * CYCLE_s;
    const bool pulls = cycle >= 0 && in_s <= PULL_s;
    const double rest_s = in_s - PULL_s;
    double taken = cycle < 0 ? 0.0 : 0.005 * cycle + 0.01 * share(in_s / PULL_s);
    if (!pulls && cycle >= 0)
        taken -= 0.005 * share(rest_s / (CYCLE_s - PULL_s));
    row[pr_trace_column_index("time_s")] = t_s;
    row[pr_trace_column_index("winch_A")] = pulls ? 250.0 + in_s : 0.0;
    row[pr_trace_column_index("bus_V")] = pulls       ? 12.6 - 0.6 * in_s / PULL_s
                                          : cycle < 0 ? 14.0
                                                      : 13.5 + 0.5 * share(rest_s / 10.0);
    row[pr_trace_column_index("soc")] = 0.9 - taken;
    row[pr_trace_column_index("soc_second")] = 0.5;
    row[pr_trace_column_index("battery_A")] = pulls ? -200.0 - in_s : 30.0;
    row[pr_trace_column_index("alternator_A")] = pulls ? 80.0 : 50.0;
    row[pr_trace_column_index("loads_A")] = 20.0;
}

static pr_trace made_trace(void)
{
    pr_trace trace = pr_trace_init(1.0 / ROW_PER_s);
    const int rows = (FIRST_s + PULLS * CYCLE_s) * ROW_PER_s;
    trace.values = calloc((size_t)rows * PR_TRACE_COLUMNS, sizeof *trace.values);
    assert_non_null(trace.values);
    trace.capacity = (size_t)rows;
    for (int i = 0; i < rows; i++)
        put_row(&trace, (double)i / ROW_PER_s);
    return trace;
}

static pr_status draw_cycle(const pr_trace *trace, size_t cycle, pr_post post)
{
    pr_limits limits = {0};
    limits.on[PR_LIMIT_VOLTAGE] = true;
    limits.bus_min_V = 10.5;
    const pr_recovery_plot plot = {
        .title = "it's {a} \"title\"", .trace = trace, .limits = &limits};
    memset(got, 0, sizeof got);
    FILE *out = fmemopen(got, sizeof got, "w");
    assert_non_null(out);
    const pr_status status =
        pr_cycle_plot_draw(&plot, cycle, post, PR_PLOT_SVG, out, message, sizeof message);
    fclose(out);
    return status;
}

static void test_cycle_shows_pull_and_rest_as_they_were(void **state)
{
    (void)state;
    need_gnuplot();
    pr_trace trace = made_trace();
    double x[8];
    for (size_t cycle = 0; cycle <= PULLS; cycle++) {
        assert_int_equal(draw_cycle(&trace, cycle, PR_POST_MAIN), PR_OK);
        assert_memory_equal(line(0), "it's {a} \"title\"\n", 17);
        assert_int_equal(numbers(line(1), x, 8), 4);
        const double number = cycle == 0 ? 2.0 : (double)cycle; /* none asked: the middle */
        assert_near(x[0], number, 0.0);
        assert_near(x[1], PULLS, 0.0);
        assert_near(x[2], PULL_s, 1e-6);
        assert_near(x[3], CYCLE_s - PULL_s, 0.3); /* to the last row before the next */
        assert_int_equal(numbers(line(2), x, 8), 4);
        assert_near(x[0], 12.0, 1e-6);
        assert_near(x[1], 6.0, 1.0 / ROW_PER_s + 1e-6); /* 13.8 V of 13.5 + 0.5 t/10 */
        assert_near(x[2], 13.8, 0.02);
        assert_near(x[3], 0.005 * 6.0 / 70.0 / 0.01,
                    0.005); /* the needle is there, the charge not */
        assert_int_equal(numbers(line(3), x, 8), 4);
        assert_near(x[0], 0.9 - 0.005 * (number - 1.0), 1e-6);
        assert_near(x[0] - x[1], 0.01, 1e-6);
        assert_near(x[3], 0.5, 0.01);
        assert_true(numbers(line(4), x, 8) == 3);
        assert_near(x[0], 280.0, 1e-6);
        /* the rows: time from the start of the pull, to the end of the rest */
        double last_s = -100.0;
        int n = 0;
        for (int i = 5; numbers(line(i), x, 8) == 8; i++, n++) {
            assert_true(x[0] > last_s && x[0] >= -10.0 - 1e-9);
            assert_near(x[4], 20.0, 1e-9);
            const bool resting = x[0] > PULL_s + 1e-9;
            assert_int_equal(!isnan(x[6]), resting);
            assert_true(!resting || x[6] > 0.7); /* the meter's share: 1.5 of 2 V at once */
            assert_true(!resting || (x[7] >= -1e-9 && x[7] < 0.51));
            last_s = x[0];
        }
        assert_true(n > 200);
        assert_near(last_s, CYCLE_s - 0.25, 1e-6);
    }
    pr_trace_free(&trace);
}

static void test_cycle_of_the_second_battery(void **state)
{
    (void)state;
    need_gnuplot();
    pr_trace trace = made_trace();
    double x[8];
    assert_int_equal(draw_cycle(&trace, 1, PR_POST_SECOND), PR_OK);
    assert_int_equal(numbers(line(3), x, 4), 4);
    assert_near(x[0], 0.5, 0.0); /* its charge, of which nothing was taken: no share of it */
    assert_near(x[1], 0.5, 0.0);
    assert_true(isnan(x[3]));
    pr_trace_free(&trace);
}

static void test_cycle_that_is_not_there(void **state)
{
    (void)state;
    pr_trace trace = made_trace();
    assert_int_equal(draw_cycle(&trace, PULLS + 1, PR_POST_MAIN), PR_ERR_INPUT);
    assert_string_equal(message, "there is no pull 4, only 3");
    trace.n_rows = FIRST_s * ROW_PER_s; /* before the first */
    assert_int_equal(draw_cycle(&trace, 0, PR_POST_MAIN), PR_ERR_INPUT);
    assert_string_equal(message, "there is no pull 0, only 0");
    trace.n_rows = 0;
    assert_int_equal(draw_cycle(&trace, 1, PR_POST_MAIN), PR_ERR_INPUT);
    pr_trace_free(&trace);
}

/* ---- readings */

static void draw_readings(const pr_readings_report *report)
{
    memset(got, 0, sizeof got);
    FILE *out = fmemopen(got, sizeof got, "w");
    assert_non_null(out);
    const pr_status status =
        pr_readings_plot_draw(report, PR_PLOT_SVG, out, message, sizeof message);
    fclose(out);
    if (status != PR_OK)
        fail_msg("%s", message);
}

/* Bands, one line each: column, row, low, value, high on the column's scale, volts, marked. */
static int check_bands(const pr_readings *r, int n_rows, int n_columns)
{
    const char *at = strstr(strstr(got, "--\n") + 3, "--\n") + 3;
    double x[7];
    int n = 0;
    for (; numbers(at, x, 7) == 7; n++, at = strchr(at, '\n') + 1) {
        assert_true(x[0] >= 0 && x[0] < n_columns && x[1] >= 0 && x[1] < n_rows);
        assert_true(x[2] >= -1e-9 && x[2] <= x[3] && x[3] <= x[4] && x[4] <= 1.0 + 1e-9);
        if (x[1] == 0.0)
            assert_near(x[6], 0.0, 0.0); /* the healthy rig is within its own band */
        bool known = false;              /* its volts are those of some fault */
        for (int f = 0; f < PR_FAULT_COUNT; f++)
            for (int i = 0; i < PR_READING_COUNT; i++)
                known = known || fabs(r->fault[f].at[i].V - x[5]) < 1e-6;
        assert_true(known);
    }
    return n;
}

static void test_readings_are_laid_out_by_column_and_fault(void **state)
{
    (void)state;
    need_gnuplot();
    pr_scenario *s = fixture_new();
    pr_readings *r = malloc(sizeof *r);
    assert_non_null(r);
    assert_int_equal(pr_readings_make(s, 10.0, r, NULL), PR_OK);
    int possible = 0, columns = 0;
    for (int f = 0; f < PR_FAULT_COUNT; f++)
        possible += r->fault[f].possible;
    for (int i = 0; i < PR_READING_COUNT; i++)
        columns += !isnan(r->fault[PR_FAULT_NONE].at[i].V);
    pr_readings_report report = {.scenario = s, .readings = r};
    draw_readings(&report);
    double x[8];
    assert_int_equal(got[0], '\n'); /* no answer without a measurement */
    assert_int_equal(numbers(line(1), x, 2), 2);
    assert_near(x[0], possible, 0.0);
    assert_near(x[1], columns, 0.0);
    assert_true(strstr(got, pr_fault_words(PR_FAULT_ALTERNATOR_DEAD)) != NULL);
    assert_true(strstr(got, pr_fault_words(PR_FAULT_JOINT_LINK)) == NULL); /* there is no link */
    assert_true(check_bands(r, possible, columns) > possible * columns / 2);

    /* the dead alternator's own reading: it leads, and the answer says so */
    pr_measured measured = {0};
    measured.given[PR_READING_IDLE_ALL_ON] = measured.given[PR_READING_FAST_IDLE_LOADS_OFF] = true;
    measured.V[PR_READING_IDLE_ALL_ON] =
        r->fault[PR_FAULT_ALTERNATOR_DEAD].at[PR_READING_IDLE_ALL_ON].V;
    measured.V[PR_READING_FAST_IDLE_LOADS_OFF] =
        r->fault[PR_FAULT_ALTERNATOR_DEAD].at[PR_READING_FAST_IDLE_LOADS_OFF].V;
    pr_ranking ranking;
    assert_int_equal(pr_readings_rank(r, &measured, &ranking), PR_OK);
    report.measured = &measured;
    report.ranking = &ranking;
    draw_readings(&report);
    const char *dead = pr_fault_words(PR_FAULT_ALTERNATOR_DEAD);
    assert_true(strstr(got, dead) != NULL && strstr(got, dead) < strchr(got, '\n'));
    const char *first_row = line(2);
    if (first_row[0] == '"')
        first_row++;
    assert_memory_equal(first_row, dead, strlen(dead));
    bool stands = false; /* what was measured, at the end of its column's head */
    for (const char *at = strstr(got, "--\n") + 3; *at != '-' && !stands;
         at = strchr(at, '\n') + 1) {
        const char *last = strchr(at, '\n');
        while (last > at && last[-1] != '\t')
            last--;
        stands = fabs(strtod(last, NULL) - measured.V[PR_READING_IDLE_ALL_ON]) < 1e-3;
    }
    assert_true(stands);
    free(r);
    fixture_free(s);
}

/* ---- curves */

static void test_curves_go_out_in_the_units_asked_for(void **state)
{
    (void)state;
    need_gnuplot();
    pr_scenario *s = fixture_new();
    snprintf(s->title, sizeof s->title, "a 'winch' {}");
    pr_curves curves;
    assert_int_equal(pr_curves_make(s, PR_CURVE_WINCH, &curves), PR_OK);
    for (int us = 0; us <= 1; us++) {
        const pr_curves_plot plot = {&curves, us ? PR_UNITS_US : PR_UNITS_METRIC};
        memset(got, 0, sizeof got);
        FILE *out = fmemopen(got, sizeof got, "w");
        assert_non_null(out);
        assert_int_equal(pr_curves_plot_draw(&plot, PR_PLOT_SVG, out, message, sizeof message),
                         PR_OK);
        fclose(out);
        double x[8];
        assert_memory_equal(line(0), "a 'winch' {}\n", 13);
        assert_int_equal(numbers(line(1), x, 3), 3);
        assert_near(x[0], us ? 1.0 / 4.4482216 : 1e-3, 1e-6); /* lbf or kN of a newton */
        assert_near(x[1], us ? 60.0 / 0.3048 : 60.0, 1e-4);   /* ft/min or m/min of 1 m/s */
        assert_near(x[2], us ? 1.0 / 0.3048 : 1.0, 1e-6);
        assert_int_equal(numbers(line(2), x, 2), 2);
        assert_near(x[0], us ? 1.8 : 1.0, 1e-9);
        assert_near(x[1], us ? 32.0 : 0.0, 1e-9);
        assert_true(strncmp(line(3), us ? "lbf ft " : "kN m ", us ? 7 : 5) == 0);
        assert_int_equal(numbers(line(4), x, 1), 1);
        assert_near(x[0], 450.0, 1e-9);
        size_t n = 0;
        for (; numbers(line(5 + (int)n), x, 6) == 6; n++)
            assert_near(x[0], curves.table[0].values[6 * n], 1e-4 * (1.0 + x[0])); /* SI */
        assert_int_equal(n, curves.table[0].n_rows);
    }
    pr_curves_free(&curves);
    fixture_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_cycle_shows_pull_and_rest_as_they_were),
        cmocka_unit_test(test_cycle_of_the_second_battery),
        cmocka_unit_test(test_cycle_that_is_not_there),
        cmocka_unit_test(test_readings_are_laid_out_by_column_and_fault),
        cmocka_unit_test(test_curves_go_out_in_the_units_asked_for),
    };
    return cmocka_run_group_tests(tests, make_scripts, remove_scripts);
}
