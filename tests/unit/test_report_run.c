/* The report of a given schedule, the time series, and tables, from made-up results. */
#include "report/csv.h"
#include "report/grid.h"
#include "report/run_report.h"
#include "report/words.h"
#include "support/check.h"

#include <jansson.h>
#include <locale.h>
#include <stdlib.h>
#include <string.h>

/* rest, 3 x (pull, rest), engine off, crank: nine phases */
enum { PHASES = 9 };
static const pr_activity unrolled[PHASES] = {PR_REST, PR_PULL, PR_REST,       PR_PULL, PR_REST,
                                             PR_PULL, PR_REST, PR_ENGINE_OFF, PR_CRANK};

typedef struct fake {
    pr_scenario scenario;
    pr_limits limits;
    pr_phase_end ends[PHASES];
    pr_run_result run;
} fake;

static void add_entry(pr_scenario *s, pr_activity activity, int repeat, int group)
{
    s->schedule[s->n_schedule++] =
        (pr_schedule_entry){.phase.activity = activity, .repeat = repeat, .group = group};
}

static fake *fake_new(void)
{
    fake *f = calloc(1, sizeof *f);
    assert_non_null(f);
    pr_scenario *s = &f->scenario;
    add_entry(s, PR_REST, 1, 1);
    add_entry(s, PR_PULL, 3, 2);
    add_entry(s, PR_REST, 3, 2);
    add_entry(s, PR_ENGINE_OFF, 1, 3);
    add_entry(s, PR_CRANK, 1, 4);
    s->system.cranking.min_V = 9.6;
    s->system.has_winch = true;
    f->limits = (pr_limits){.reserve_frac = 0.5, .bus_min_V = 10.0, .motor_max_degC = 140.0};
    for (int k = PR_LIMIT_NONE + 1; k < PR_LIMIT_COUNT; k++)
        f->limits.on[k] = true;
    for (int k = 0; k < PHASES; k++) {
        f->ends[k].duration_s = 30.0;
        f->ends[k].first.time_s = 30.0 * k;
        f->ends[k].travel_m = unrolled[k] == PR_PULL ? 1.5 : 0.0;
        f->ends[k].last.soc_frac[0] = 0.7;
        f->ends[k].extremes = (pr_extremes){.least_soc_frac = 0.7,
                                            .least_box_V = unrolled[k] == PR_CRANK ? 9.0 : 12.0,
                                            .most_armature_degC = 80.0,
                                            .least_restart_V = 11.0,
                                            .most_wire_ratio = 0.5};
    }
    f->run = (pr_run_result){s, &f->limits, f->ends, PHASES};
    return f;
}

static void test_run_activity_unrolls_groups(void **state)
{
    (void)state;
    fake *f = fake_new();
    for (size_t k = 0; k < PHASES; k++)
        assert_int_equal(pr_run_activity(&f->scenario, k), unrolled[k]);
    free(f);
}

static void test_run_without_trouble(void **state)
{
    (void)state;
    fake *f = fake_new();
    /* the low voltage while cranking is no trouble */
    assert_int_equal(pr_run_first_trouble(&f->run), PHASES);
    free(f);
}

static void assert_trouble(fake *f, size_t phase, pr_limit limit)
{
    assert_int_equal(pr_run_first_trouble(&f->run), phase);
    assert_int_equal(pr_run_broken_limit(&f->run, phase), limit);
}

static void test_run_finds_each_broken_limit(void **state)
{
    (void)state;
    fake *f = fake_new();
    f->ends[7].extremes.least_soc_frac = 0.49;
    assert_trouble(f, 7, PR_LIMIT_RESERVE);
    f->ends[6].extremes.least_box_V = 9.9;
    assert_trouble(f, 6, PR_LIMIT_VOLTAGE);
    f->ends[5].extremes.most_armature_degC = 141.0;
    assert_trouble(f, 5, PR_LIMIT_MOTOR_HEAT);
    f->ends[4].extremes.most_wire_ratio = 1.01;
    assert_trouble(f, 4, PR_LIMIT_CABLE_HEAT);
    f->ends[3].extremes.least_restart_V = 9.5;
    assert_trouble(f, 3, PR_LIMIT_RESTART);
    f->ends[1].stop = PR_STOP_STALL;
    assert_trouble(f, 1, PR_LIMIT_NONE);
    free(f);
}

static char *text_of(const fake *f)
{
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    const pr_style style = pr_style_default();
    assert_int_equal(pr_run_write_text(&f->run, &style, out), PR_OK);
    fclose(out);
    return text;
}

static void test_run_text_leads_with_the_answer(void **state)
{
    (void)state;
    fake *f = fake_new();
    char *text = text_of(f);
    assert_ptr_equal(strstr(text, "HOLDS: all 9 phases stay inside every limit.\n4.5 m in "), text);
    free(text);
    f->ends[5].extremes.most_armature_degC = 141.0;
    text = text_of(f);
    assert_ptr_equal(strstr(text, "BREAKS in phase 6 (pull, from 2:30): winch motor heat.\n"),
                     text);
    free(text);
    free(f);
}

static void test_run_names_what_ended_a_phase(void **state)
{
    (void)state;
    fake *f = fake_new();
    pr_system_def *system = &f->scenario.system;
    system->run[PR_RUN_WINCH].has_fuse = true;
    system->run[PR_RUN_WINCH].fuse.rating_A = 100.0;
    pr_phase_end *end = &f->ends[3];
    end->stop = PR_STOP_FUSE;
    end->which = PR_RUN_WINCH;
    end->last.run_A[PR_RUN_WINCH] = 274.8;
    char *text = text_of(f);
    assert_ptr_equal(strstr(text, "BREAKS in phase 4 (pull, from 1:30): the 100 A winch fuse "
                                  "opened at 275 A.\n"),
                     text);
    free(text);
    *end = (pr_phase_end){.stop = PR_STOP_BATTERY_OPEN, .engine_died = true, .which = 0};
    assert_string_equal(pr_words_end(end, system).s,
                        "the battery's own protection switched it off; the engine died");
    *end = (pr_phase_end){.stop = PR_STOP_LIMIT, .limit = PR_LIMIT_MOTOR_HEAT, .which = -1};
    assert_string_equal(pr_words_end(end, system).s, "winch motor heat");
    *end = (pr_phase_end){.stop = PR_STOP_FUSE, .which = -1}; /* not known which */
    assert_string_equal(pr_words_end(end, system).s, "a fuse opened");
    free(f);
}

static void test_run_json(void **state)
{
    (void)state;
    fake *f = fake_new();
    f->ends[5].stop = PR_STOP_FUSE;
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(pr_run_write_json(&f->run, NULL, out), PR_OK);
    fclose(out);
    json_t *root = json_loads(text, 0, NULL);
    json_t *answer = json_object_get(root, "answer");
    assert_true(json_is_false(json_object_get(answer, "holds")));
    assert_int_equal(json_integer_value(json_object_get(answer, "first_trouble")), 6);
    json_t *phases = json_object_get(root, "phases");
    assert_int_equal(json_array_size(phases), PHASES);
    assert_string_equal(json_string_value(json_object_get(json_array_get(phases, 5), "ended_by")),
                        "fuse");
    assert_string_equal(json_string_value(json_object_get(json_array_get(phases, 8), "activity")),
                        "crank");
    json_decref(root);
    free(text);
    free(f);
}

static void test_csv_has_units_events_and_gaps(void **state)
{
    (void)state;
    double values[2 * PR_TRACE_COLUMNS] = {0};
    pr_trace_event event = {10.125, "fuse \"A\", opened"};
    pr_trace trace = {.n_rows = 2, .values = values, .n_events = 1, .events = &event};
    values[PR_TRACE_COLUMNS] = 10.125;
    values[1] = __builtin_nan("");
    values[2] = 12.3456789;
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(pr_trace_write_csv(&trace, out), PR_OK);
    fclose(out);
    assert_ptr_equal(strstr(text, "time_s,engine_rpm,"), text);
    assert_non_null(strstr(text, ",event\r\n0,,12.3457,"));
    assert_non_null(strstr(text, "\r\n10.125,"));
    assert_non_null(strstr(text, ",\"fuse \"\"A\"\", opened\"\r\n"));
    free(text);
    trace.status = PR_ERR_NOMEM; /* rows were lost */
    out = fopen("/dev/null", "w");
    assert_int_equal(pr_trace_write_csv(&trace, out), PR_ERR_NOMEM);
    fclose(out);
}

static void test_grid_folds_between_words(void **state)
{
    (void)state;
    pr_style style = pr_style_default();
    style.width = 40;
    pr_grid *grid = pr_grid_new(&style);
    pr_grid_column(grid, "name", PR_ALIGN_LEFT);
    pr_grid_column(grid, "n", PR_ALIGN_RIGHT);
    pr_grid_column(grid, "text", PR_ALIGN_WRAP);
    pr_grid_row(grid);
    pr_grid_cell(grid, "20 °C");
    pr_grid_cell(grid, "7");
    pr_grid_cell(grid, "switch off what the engine does not need (9 A)");
    pr_grid_row(grid);
    pr_grid_cell(grid, "short");
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(pr_grid_print(grid, out), PR_OK);
    fclose(out);
    assert_string_equal(text, "name   n  text\n"
                              "20 °C  7  switch off what the engine\n"
                              "          does not need (9 A)\n"
                              "short\n");
    free(text);
}

static void test_grid_without_memory_is_told(void **state)
{
    (void)state;
    pr_grid_column(NULL, "a", PR_ALIGN_LEFT);
    pr_grid_row(NULL);
    pr_grid_cell(NULL, "b");
    assert_int_equal(pr_grid_print(NULL, stdout), PR_ERR_NOMEM);
}

int main(void)
{
    setlocale(LC_CTYPE, "C.UTF-8");
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_run_activity_unrolls_groups),
        cmocka_unit_test(test_run_without_trouble),
        cmocka_unit_test(test_run_finds_each_broken_limit),
        cmocka_unit_test(test_run_text_leads_with_the_answer),
        cmocka_unit_test(test_run_names_what_ended_a_phase),
        cmocka_unit_test(test_run_json),
        cmocka_unit_test(test_csv_has_units_events_and_gaps),
        cmocka_unit_test(test_grid_folds_between_words),
        cmocka_unit_test(test_grid_without_memory_is_told),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
