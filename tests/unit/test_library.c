/* The library as a program uses it, through its one header: answers, messages, and what it says to
 * a caller who asks too early, too much or wrongly. */
#include "pullrest.h"

#include "support/check.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static const char MODELS[] = PR_SOURCE_DIR "/models";
static const char DEMO[] = PR_SOURCE_DIR "/scenarios/demo.yaml";

static const char SHORT_WAY[] = "title: Six metres of wet clay\n"
                                "air_temperature: 10 degC\n"
                                "vehicle: {weight: 2400 kg}\n"
                                "battery: {use: flooded-70-starter, state_of_charge: 95 %}\n"
                                "alternator: plate-110\n"
                                "winch: {use: series-9500, blocks: 1}\n"
                                "loads: [ignition-and-injection]\n"
                                "recovery: {surface: wet-clay, distance: 6 m, slope: 8 %, "
                                "anchor_distance: 12 m}\n";
static const char TIMES[] = "schedule:\n"
                            "  - {pull: 20 s}\n"
                            "  - {rest: 40 s}\n";

static pr_recovery *of_text(const char *text)
{
    pr_recovery *r = pr_recovery_read_text("memory", text, strlen(text), MODELS);
    assert_non_null(r);
    return r;
}

/* What stands in a file as an error, with its place. */
static void assert_error(const pr_recovery *r, size_t line, const char *words)
{
    pr_recovery_message m;
    for (size_t i = 0; pr_recovery_get_message(r, i, &m) == PR_RECOVERY_DONE; i++)
        if (m.severity == 2 && m.line == line && strstr(m.text, words) != NULL) {
            assert_string_equal(m.file, "memory");
            assert_true(line == 0 || m.column > 0);
            return;
        }
    fail_msg("no error in line %zu with '%s'", line, words);
}

static void test_version_is_that_of_the_header(void **state)
{
    (void)state;
    char start[32];
    snprintf(start, sizeof start, "%d.%d.", PULLREST_VERSION_MAJOR, PULLREST_VERSION_MINOR);
    assert_memory_equal(pr_recovery_version(), start, strlen(start));
}

static int count_progress(void *context, double done_frac)
{
    double *last = context;
    assert_true(done_frac >= 0.0 && done_frac <= 1.0);
    *last = done_frac;
    return 0;
}

static void test_plans_of_a_file_hang_together(void **state)
{
    (void)state;
    pr_recovery *r = pr_recovery_read(DEMO, MODELS);
    assert_non_null(r);
    assert_int_equal(pr_recovery_status(r), PR_RECOVERY_DONE);
    assert_string_equal(pr_recovery_title(r), "Loaded utility pickup in a clay ford");
    double done = -1.0;
    assert_int_equal(pr_recovery_plan_all(r, count_progress, &done), PR_RECOVERY_DONE);
    assert_true(done > 0.0);
    double total_s[3];
    for (int way = PR_RECOVERY_EVEN; way <= PR_RECOVERY_SHORTEST; way++) {
        pr_recovery_plan p;
        pr_recovery_pull pull = {0};
        assert_int_equal(pr_recovery_get_plan(r, (pr_recovery_way)way, &p), PR_RECOVERY_DONE);
        assert_int_equal(p.go, 1);
        assert_string_equal(p.ended_by, "");
        assert_near(p.distance_m, 25.0, 1e-9); /* 4 + 6 + 15 m in the file */
        assert_near(p.travel_m, p.distance_m, 1e-3);
        assert_true(p.n_pulls > 1 && p.parts >= 1 && p.parts <= 2);
        assert_true(p.least_charge_frac >= p.reserve_frac);
        assert_true(p.most_motor_degC > 6.0 && p.most_anchor_N > 1000.0);
        /* the pulls and rests add up to the whole, each no farther than the next */
        double clock_s = p.first_rest_s, way_m = 0.0, least_V = 99.0;
        for (size_t i = 0; i < p.n_pulls; i++) {
            assert_int_equal(pr_recovery_get_pull(r, (pr_recovery_way)way, i, &pull),
                             PR_RECOVERY_DONE);
            assert_near(pull.start_s, clock_s, 1e-6);
            assert_true(pull.travel_m > way_m && pull.pull_s <= p.pull_s + 1e-9);
            assert_true(pull.charge_after_rest_frac >= pull.charge_after_pull_frac);
            assert_true(pull.most_motor_degC <= p.most_motor_degC);
            way_m = pull.travel_m;
            least_V = fmin(least_V, pull.least_box_V);
            clock_s += pull.pull_s + pull.rest_s;
        }
        assert_near(clock_s, p.total_s, 1e-6);
        assert_near(way_m, p.travel_m, 1e-9);
        assert_true(p.least_box_V <= least_V + 1e-12);
        assert_near(pull.rest_s, 0.0, 0.0); /* after the last */
        assert_int_equal(pr_recovery_get_pull(r, (pr_recovery_way)way, p.n_pulls, &pull),
                         PR_RECOVERY_INPUT);
        total_s[way] = p.total_s;
    }
    assert_true(total_s[PR_RECOVERY_AS_NEEDED] <= total_s[PR_RECOVERY_EVEN]);
    assert_true(total_s[PR_RECOVERY_SHORTEST] <= total_s[PR_RECOVERY_AS_NEEDED] + 0.01);
    pr_recovery_plan none;
    assert_int_equal(pr_recovery_get_plan(r, (pr_recovery_way)3, &none), PR_RECOVERY_INPUT);
    assert_int_equal(pr_recovery_get_plan(r, (pr_recovery_way)-1, &none), PR_RECOVERY_INPUT);
    pr_recovery_free(r);
}

static void test_a_way_that_is_too_heavy_is_a_no(void **state)
{
    (void)state;
    char text[sizeof SHORT_WAY];
    memcpy(text, SHORT_WAY, sizeof text);
    memcpy(strstr(text, "slope: 8 %"), "slope: 60%", 10);
    memcpy(strstr(text, "2400 kg"), "9900 kg", 7);
    pr_recovery *r = of_text(text);
    assert_int_equal(pr_recovery_plan_all(r, NULL, NULL), PR_RECOVERY_NO);
    pr_recovery_plan p;
    assert_int_equal(pr_recovery_get_plan(r, PR_RECOVERY_EVEN, &p), PR_RECOVERY_DONE);
    assert_int_equal(p.go, 0);
    assert_true(p.ended_by[0] != '\0');
    assert_true(!(p.travel_m >= p.distance_m));
    pr_recovery_free(r);
}

static int stop_planning(void *context, double done_frac)
{
    (void)context;
    (void)done_frac;
    return 1;
}

static void test_planning_stops_when_asked_and_can_be_done_again(void **state)
{
    (void)state;
    pr_recovery *r = of_text(SHORT_WAY);
    pr_recovery_plan p;
    assert_int_equal(pr_recovery_get_plan(r, PR_RECOVERY_EVEN, &p), PR_RECOVERY_INPUT); /* early */
    assert_int_equal(pr_recovery_plan_all(r, stop_planning, NULL), PR_RECOVERY_FAILED);
    assert_error(r, 0, "stopped on request");
    assert_int_equal(pr_recovery_plan_all(r, stop_planning, NULL), PR_RECOVERY_FAILED); /* still */
    assert_int_equal(pr_recovery_get_plan(r, PR_RECOVERY_EVEN, &p), PR_RECOVERY_INPUT);
    pr_recovery_free(r);

    r = of_text(SHORT_WAY);
    assert_int_equal(pr_recovery_plan_all(r, NULL, NULL), PR_RECOVERY_DONE);
    assert_int_equal(pr_recovery_get_plan(r, PR_RECOVERY_EVEN, &p), PR_RECOVERY_DONE);
    const double total_s = p.total_s;
    assert_int_equal(pr_recovery_plan_all(r, NULL, NULL), PR_RECOVERY_DONE);
    assert_int_equal(pr_recovery_get_plan(r, PR_RECOVERY_EVEN, &p), PR_RECOVERY_DONE);
    assert_near(p.total_s, total_s, 0.0);
    pr_recovery_free(r);
}

static void test_mistakes_are_all_told_and_nothing_is_planned(void **state)
{
    (void)state;
    pr_recovery *r = of_text("battery: {use: flooded-70-startr}\nalternator: plate-110\n"
                             "air_temperature: 20 furlongs\n");
    assert_int_equal(pr_recovery_status(r), PR_RECOVERY_INPUT);
    assert_true(pr_recovery_message_count(r) >= 2);
    assert_error(r, 1, "flooded-70-starter"); /* the nearest there is */
    assert_error(r, 3, "furlongs");
    pr_recovery_message m;
    assert_int_equal(pr_recovery_get_message(r, pr_recovery_message_count(r), &m),
                     PR_RECOVERY_INPUT);
    assert_int_equal(pr_recovery_plan_all(r, NULL, NULL), PR_RECOVERY_INPUT);
    pr_recovery_plan p;
    pr_recovery_pull pull;
    assert_int_equal(pr_recovery_get_plan(r, PR_RECOVERY_EVEN, &p), PR_RECOVERY_INPUT);
    assert_int_equal(pr_recovery_get_pull(r, PR_RECOVERY_EVEN, 0, &pull), PR_RECOVERY_INPUT);
    pr_recovery_free(r);
    r = pr_recovery_read("there/is/no/such/file.yaml", MODELS);
    assert_non_null(r);
    assert_int_equal(pr_recovery_status(r), PR_RECOVERY_INPUT);
    assert_int_equal(pr_recovery_message_count(r), 1);
    pr_recovery_free(r);
    pr_recovery_free(NULL);
}

typedef struct samples {
    size_t n, events, stop_after;
    double last_s, most_A, travel_m, charge_V;
} samples;

static int take_sample(void *context, const pr_recovery_sample *sample)
{
    samples *s = context;
    assert_true(sample->time_s >= s->last_s);
    assert_true(sample->box_V > 5.0 && sample->box_V < 16.0);
    assert_true(sample->charge_frac > 0.0 && sample->charge_frac <= 1.0);
    assert_non_null(sample->event);
    s->last_s = sample->time_s;
    s->travel_m = sample->travel_m;
    s->most_A = fmax(s->most_A, sample->winch_A);
    s->events += sample->event[0] != '\0';
    return ++s->n == s->stop_after;
}

static void test_schedule_is_sampled_to_its_end(void **state)
{
    (void)state;
    char text[sizeof SHORT_WAY + sizeof TIMES];
    snprintf(text, sizeof text, "%s%s", SHORT_WAY, TIMES);
    pr_recovery *r = of_text(text);
    samples s = {0};
    assert_int_equal(pr_recovery_run_schedule(r, 1.0, take_sample, &s), PR_RECOVERY_DONE);
    assert_near(s.last_s, 60.0, 1e-9); /* 20 s and 40 s */
    assert_true(s.n >= 61 && s.most_A > 100.0 && s.travel_m > 0.2);
    samples coarse = {0};
    assert_int_equal(pr_recovery_run_schedule(r, 30.0, take_sample, &coarse), PR_RECOVERY_DONE);
    assert_true(coarse.n < s.n);
    assert_near(coarse.travel_m, s.travel_m, 1e-12); /* watching does not change it */
    samples stopped = {.stop_after = 5};
    assert_int_equal(pr_recovery_run_schedule(r, 1.0, take_sample, &stopped), PR_RECOVERY_FAILED);
    assert_int_equal(stopped.n, 5);
    pr_recovery_free(r);
}

static void test_schedule_asked_for_wrongly(void **state)
{
    (void)state;
    samples s = {0};
    pr_recovery *r = of_text(SHORT_WAY);
    assert_int_equal(pr_recovery_run_schedule(r, 1.0, take_sample, &s), PR_RECOVERY_INPUT);
    pr_recovery_free(r);
    char text[sizeof SHORT_WAY + sizeof TIMES];
    snprintf(text, sizeof text, "%s%s", SHORT_WAY, TIMES);
    r = of_text(text);
    assert_int_equal(pr_recovery_run_schedule(r, 0.0, take_sample, &s), PR_RECOVERY_INPUT);
    assert_int_equal(pr_recovery_run_schedule(r, (double)NAN, take_sample, &s), PR_RECOVERY_INPUT);
    assert_int_equal(pr_recovery_run_schedule(r, 1.0, NULL, NULL), PR_RECOVERY_INPUT);
    pr_recovery_free(r);
    r = of_text("battery: 7\n");
    assert_int_equal(pr_recovery_run_schedule(r, 1.0, take_sample, &s), PR_RECOVERY_INPUT);
    pr_recovery_free(r);
    assert_int_equal(s.n, 0);
}

/* What the program warns of above the plan, the library has among its messages, once. */
static void test_warnings_of_a_plan_are_told_once(void **state)
{
    (void)state;
    char text[sizeof SHORT_WAY + 32];
    const char *end = strrchr(SHORT_WAY, '}');
    snprintf(text, sizeof text, "%.*s, anchor_rating: 2 t}\n", (int)(end - SHORT_WAY), SHORT_WAY);
    pr_recovery *r = of_text(text);
    const size_t before = pr_recovery_message_count(r);
    for (int i = 0; i < 2; i++)
        assert_int_equal(pr_recovery_plan_all(r, NULL, NULL), PR_RECOVERY_DONE);
    int told = 0;
    pr_recovery_message m;
    for (size_t i = before; pr_recovery_get_message(r, i, &m) == PR_RECOVERY_DONE; i++)
        told += m.severity == 1 && strstr(m.text, "anchor: rated for 2,000 kg") != NULL;
    assert_int_equal(told, 1);
    pr_recovery_free(r);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_version_is_that_of_the_header),
        cmocka_unit_test(test_plans_of_a_file_hang_together),
        cmocka_unit_test(test_a_way_that_is_too_heavy_is_a_no),
        cmocka_unit_test(test_planning_stops_when_asked_and_can_be_done_again),
        cmocka_unit_test(test_mistakes_are_all_told_and_nothing_is_planned),
        cmocka_unit_test(test_schedule_is_sampled_to_its_end),
        cmocka_unit_test(test_schedule_asked_for_wrongly),
        cmocka_unit_test(test_warnings_of_a_plan_are_told_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
