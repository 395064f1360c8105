/* Search for the smallest whole second: proven against stepping through every second. */
#include "planner/search.h"
#include "support/check.h"

#include <math.h>

typedef struct window {
    long from, to; /* passes in [from, to] */
    int trials;
    long last_pass;
    pr_status status;
    double slope; /* for the search */
} window;

static pr_status try_window(void *context, long seconds, pr_trial *trial)
{
    window *w = context;
    w->trials++;
    trial->pass = seconds >= w->from && seconds <= w->to;
    /* the nearer to the window, the further it got */
    trial->score = seconds < w->from ? (double)(seconds - w->from) : (double)(w->to - seconds);
    trial->limit = seconds < w->from ? PR_LIMIT_MOTOR_HEAT : PR_LIMIT_RESERVE;
    trial->stop = PR_STOP_LIMIT;
    if (trial->pass)
        w->last_pass = seconds;
    return w->status;
}

static pr_status search(window *w, long lo, long hi, long guess, pr_smallest *r)
{
    const pr_search_range range = {.lo = lo, .hi = hi, .guess = guess, .slope = w->slope};
    return pr_search_smallest(try_window, w, &range, r);
}

/* identity: the answer is the threshold itself, from wherever the search starts */
static void test_smallest_any_threshold_any_guess(void **state)
{
    (void)state;
    for (long from = 10; from <= 200; from += 1) {
        for (long guess = 15; guess <= 120; guess += 7) {
            window w = {.from = from, .to = 1000000};
            pr_smallest r;
            assert_int_equal(search(&w, 15, 1800, guess, &r), PR_OK);
            assert_true(r.found);
            const long expected = from > 15 ? from : 15;
            assert_int_equal(r.seconds, expected);
            assert_int_equal(w.last_pass, expected); /* its attempt is the one kept */
            assert_int_equal(r.has_below, expected > 15);
            if (r.has_below)
                assert_int_equal(r.below.limit, PR_LIMIT_MOTOR_HEAT);
        }
    }
}

/* identity: a guess that was right costs two trials, one that was a second off four at most */
static void test_smallest_good_guess_is_cheap(void **state)
{
    (void)state;
    static const struct {
        long guess;
        int trials;
    } rows[] = {{170, 2}, {169, 2}, {171, 4}, {168, 4}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        window w = {.from = 170, .to = 1000000};
        pr_smallest r;
        assert_int_equal(search(&w, 15, 1800, rows[i].guess, &r), PR_OK);
        assert_int_equal(r.seconds, 170);
        assert_true(w.trials <= rows[i].trials);
    }
}

/* identity: a rest that drains leaves a window only */
static void test_smallest_window(void **state)
{
    (void)state;
    for (long from = 20; from < 1700; from += 13) {
        for (long width = 0; width < 40; width += 9) {
            for (long guess = 15; guess <= 400; guess += 77) {
                window w = {.from = from, .to = from + width};
                pr_smallest r;
                assert_int_equal(search(&w, 15, 1800, guess, &r), PR_OK);
                assert_true(r.found);
                assert_int_equal(r.seconds, from);
                assert_true(r.has_below);
                assert_int_equal(r.below.limit, PR_LIMIT_MOTOR_HEAT);
                assert_true(w.trials < 60);
            }
        }
    }
}

/* A limit whose margin is a straight line in the seconds. */
typedef struct line {
    double edge_s, slope;
    pr_limit limit;
    int trials;
} line;

static pr_status try_line(void *context, long seconds, pr_trial *trial)
{
    line *l = context;
    const double inside = l->slope * ((double)seconds - l->edge_s);
    l->trials++;
    *trial = (pr_trial){.pass = inside >= 0.0,
                        .score = inside,
                        .spare = fmax(inside, 0.0),
                        .missing = fmax(-inside, 0.0),
                        .limit = l->limit,
                        .stop = PR_STOP_LIMIT};
    return PR_OK;
}

/* identity: what is presumed is what trying finds, at one trial more at most, also with the slope
 * known to a fifth only; of another limit's slope nothing is presumed */
static void test_smallest_presumed_is_the_same(void **state)
{
    (void)state;
    int presumed = 0;
    for (double edge_s = 20.05; edge_s < 300.0; edge_s += 7.31) {
        for (int off = -2; off <= 2; off++) {
            for (int k = 0; k < 4; k++) {
                static const double known[4] = {0.3, 0.25, 0.36, 0.3};
                const pr_limit limit = k == 3 ? PR_LIMIT_RESERVE : PR_LIMIT_MOTOR_HEAT;
                line tried = {.edge_s = edge_s, .slope = 0.3, .limit = limit}, saved = tried;
                pr_search_range range = {.lo = 15,
                                         .hi = 1800,
                                         .guess = (long)ceil(edge_s) + off,
                                         .slope = known[k],
                                         .limit = PR_LIMIT_MOTOR_HEAT};
                pr_smallest proven, result;
                assert_int_equal(pr_search_smallest(try_line, &tried, &range, &proven), PR_OK);
                assert_false(proven.presumed);
                range.presume = true;
                assert_int_equal(pr_search_smallest(try_line, &saved, &range, &result), PR_OK);
                assert_int_equal(result.seconds, proven.seconds);
                assert_int_equal(result.seconds, (long)ceil(edge_s));
                assert_true(result.has_below);
                assert_int_equal(result.below.limit, limit);
                assert_true(saved.trials <= tried.trials + 1);
                assert_true(!result.presumed || k < 3 || saved.trials > 1);
                presumed += result.presumed;
            }
        }
    }
    assert_true(presumed > 200);
}

static void test_smallest_none(void **state)
{
    (void)state;
    window w = {.from = 2000, .to = 3000};
    pr_smallest r;
    assert_int_equal(search(&w, 15, 1800, 15, &r), PR_OK);
    assert_false(r.found);
    assert_true(r.helps);
    assert_int_equal(r.seconds, 1800); /* got furthest */
    w = (window){.from = 3, .to = 5};  /* every rest does harm */
    assert_int_equal(search(&w, 15, 1800, 40, &r), PR_OK);
    assert_false(r.found);
    assert_false(r.helps);
    assert_int_equal(r.seconds, 15);
    assert_int_equal(r.at.limit, PR_LIMIT_RESERVE);
}

static void test_smallest_single_choice(void **state)
{
    (void)state;
    window w = {.from = 0, .to = 100};
    pr_smallest r;
    assert_int_equal(search(&w, 60, 60, 60, &r), PR_OK);
    assert_true(r.found && r.seconds == 60 && !r.has_below && w.trials == 1);
    w = (window){.from = 70, .to = 100};
    assert_int_equal(search(&w, 60, 60, 60, &r), PR_OK);
    assert_false(r.found);
}

static void test_smallest_passes_failures_on(void **state)
{
    (void)state;
    window w = {.from = 50, .to = 100, .status = PR_ERR_NO_CONVERGENCE};
    pr_smallest r;
    assert_int_equal(search(&w, 15, 1800, 15, &r), PR_ERR_NO_CONVERGENCE);
    assert_false(r.found);
    assert_int_equal(search(&w, 15, 1800, 14, &r), PR_ERR_INTERNAL);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_smallest_any_threshold_any_guess),
        cmocka_unit_test(test_smallest_good_guess_is_cheap),
        cmocka_unit_test(test_smallest_window),
        cmocka_unit_test(test_smallest_presumed_is_the_same),
        cmocka_unit_test(test_smallest_none),
        cmocka_unit_test(test_smallest_single_choice),
        cmocka_unit_test(test_smallest_passes_failures_on),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
