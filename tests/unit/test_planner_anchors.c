/* Where the anchors are, what strap the rope lacks, and what rope, block and anchor bear. Distances
 * and forces are worked by hand beside each check. */
#include "planner/job.h"
#include "planner/warnings.h"
#include "test_planner_fixture.h"

static pr_job open_job(const pr_scenario *s, int parts)
{
    pr_job job;
    assert_int_equal(pr_job_open(s, &job, NULL), PR_OK);
    assert_int_equal(pr_job_rig(&job, parts, PR_CASE_LIKELY), PR_OK);
    return job;
}

static pr_rigged rigged(const pr_job *job, double travel_m)
{
    return pr_job_rigged(job, &job->system->def.rig, travel_m);
}

/* Single line, 40 m to the anchor, rope shorter: strap; then the same anchor, nearer. */
static void test_rope_shorter_than_the_way_to_the_anchor(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.anchor_distance_m = 40.0;
    for (int parts = 1; parts <= 2; parts++) {
        pr_job job = open_job(s, parts);
        const double rope_m = job.system->drum.usable_rope_m, moves_m = rope_m / parts;
        assert_true(rope_m > 25.0 && rope_m < 30.0);
        assert_near(job.system->def.rope_out_m, rope_m, 1e-9);
        assert_near(rigged(&job, 0.0).strap_m, 40.0 - moves_m, 1e-9);
        const pr_rigged again = rigged(&job, moves_m);
        assert_int_equal(again.anchor, 0);
        assert_near(again.anchor_m, 40.0 - moves_m, 1e-9);
        assert_near(again.rope_m, fmin(parts * (40.0 - moves_m), rope_m), 1e-9);
        assert_true(isinf(job.overload.at_m)); /* nobody said how long the strap is */
        pr_job_close(&job);
    }
    fixture_free(s);
}

/* The strap on board decides; the no says how much is missing. */
static void test_strap_on_board(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.anchor_distance_m = 40.0;
    s->plan.parts = 2;
    pr_job job = open_job(s, 2);
    const double needs_m = 40.0 - 0.5 * job.system->drum.usable_rope_m;
    pr_job_close(&job);
    s->plan.extension_m = needs_m + 0.01;
    job = open_job(s, 2);
    assert_true(isinf(job.overload.at_m));
    pr_job_close(&job);
    s->plan.extension_m = needs_m - 2.0;
    pr_plan plan;
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, &plan, NULL, NULL), PR_OK);
    assert_false(plan.go);
    assert_int_equal(plan.overload.what, PR_OVERLOADED_REACH);
    assert_near(plan.overload.at_m, 0.0, 1e-9);
    assert_near(plan.overload.missing_m, 2.0, 1e-9);
    pr_plan_free(&plan);
    fixture_free(s);
}

/* 4 m to the first anchor, 20 m to go: new ones at 8, 12, 16 m, or 4 + 6 and 16 m when so said. */
static void test_new_anchors(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.anchor_distance_m = 4.0;
    pr_job job = open_job(s, 1);
    assert_int_equal(pr_job_rigs_left(&job, 0.0), 5);
    assert_near(rigged(&job, 4.0).anchor_m, 4.0, 1e-9);
    assert_int_equal(rigged(&job, 4.0).anchor, 1);
    assert_int_equal(rigged(&job, 3.4).anchor, 0); /* 0.6 m: still worth it */
    assert_int_equal(rigged(&job, 3.6).anchor, 1);
    assert_int_equal(rigged(&job, 19.8).anchor, 4); /* 0.2 m, but then it is out */
    pr_job_close(&job);
    s->plan.next_anchor_m = 6.0;
    job = open_job(s, 1);
    assert_int_equal(pr_job_rigs_left(&job, 0.0), 4); /* 4, 10, 16, 22 m */
    assert_near(rigged(&job, 4.0).rope_m, 6.0, 1e-9);
    pr_job_close(&job);
    pr_plan plan;
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, &plan, NULL, NULL), PR_OK);
    assert_near(plan.reach.new_anchor_m, 4.0, 0.2);
    assert_near(plan.reach.next_m, 6.0, 1e-9);
    size_t rerigs = 0;
    for (size_t i = 0; i < plan.n_cycles; i++)
        rerigs += plan.cycles[i].rerig;
    assert_int_equal(rerigs, 3);
    pr_plan_free(&plan);
    fixture_free(s);
}

static bool says(const pr_diag *diag, const char *words)
{
    for (size_t i = 0; i < diag->count; i++)
        if (strstr(diag->entries[i].text, words) != NULL)
            return true;
    return false;
}

static void warnings(const pr_scenario *s, pr_plan *plan, pr_diag *diag)
{
    *diag = pr_diag_init();
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, plan, NULL, NULL), PR_OK);
    pr_warnings_of_rig(s, plan, diag);
}

/* T = R (1 + 0.1 s) / p; anchor p T, block 2 T. A rating between planned and winch maximum warns,
 * one below the plan is a no. */
static void test_ratings(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->plan.parts = 2;
    const double r_N = pr_demand_resistance_N(&s->system.demand, 0.0, PR_CASE_LIKELY);
    const double line_N = r_N * 1.1 / 2.0, most_N = s->system.motor.rated_pull_N;
    assert_true(line_N < most_N);
    double *const ratings[] = {&s->system.rig.anchor_rating_N, &s->system.rig.block_rating_N,
                               &s->system.drum.rope_rating_N};
    const double planned_N[] = {2.0 * line_N, 2.0 * line_N, 1.25 * line_N};
    const double least_N[] = {2.0 * most_N, 2.0 * most_N, most_N};
    const pr_overloaded what[] = {PR_OVERLOADED_ANCHOR, PR_OVERLOADED_BLOCK, PR_OVERLOADED_ROPE};
    static const char *const words[] = {"anchor: rated", "block: rated", "rope: it breaks"};
    for (int k = 0; k < 3; k++) {
        const struct {
            double rating_N;
            bool go, warns;
        } cases[] = {{0.999 * planned_N[k], false, k == 2},
                     {1.001 * planned_N[k], true, true},
                     {1.001 * least_N[k], true, false}};
        for (size_t i = 0; i < 3; i++) {
            *ratings[k] = cases[i].rating_N;
            pr_plan plan;
            pr_diag diag;
            warnings(s, &plan, &diag);
            assert_int_equal(plan.go, cases[i].go);
            if (plan.go)
                assert_int_equal(says(&diag, words[k]), cases[i].warns);
            else
                assert_int_equal(plan.overload.what, what[k]);
            pr_diag_free(&diag);
            pr_plan_free(&plan);
        }
        *ratings[k] = NOT_GIVEN;
    }
    s->system.rig.anchor_rating_N = 5000.0 * 9.80665;
    pr_plan plan;
    pr_diag diag;
    warnings(s, &plan, &diag);
    assert_true(says(&diag, "anchor: rated for 5,000 kg (11,000 lbf), but the winch can put "));
    pr_diag_free(&diag);
    pr_plan_free(&plan);
    fixture_free(s);
}

/* A weak block or rope asks for more parts of line; a weak anchor is not helped by them. */
static void test_parts_that_spare_the_rope(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->plan.blocks = 3;
    s->system.anchor_distance_m = 7.0; /* four parts of it are on the drum */
    const double r_N = pr_demand_resistance_N(&s->system.demand, 0.0, PR_CASE_LIKELY);
    s->system.drum.rope_rating_N = 1.25 * 0.43 * r_N; /* T: R, 0.55 R, 0.4 R */
    pr_job job = open_job(s, 1);
    assert_int_equal(pr_job_parts_needed(&job, PR_CASE_LIKELY), 3);
    pr_job_close(&job);
    s->system.rig.anchor_rating_N = 0.5 * r_N;
    job = open_job(s, 1);
    assert_int_equal(pr_job_parts_needed(&job, PR_CASE_LIKELY), 3); /* whatever the anchor */
    assert_int_equal(pr_job_rig(&job, 3, PR_CASE_LIKELY), PR_OK);
    assert_int_equal(job.overload.what, PR_OVERLOADED_ANCHOR);
    pr_job_close(&job);
    fixture_free(s);
}

/* 15 % of rolling resistance at most on a slope of 30 %: it rolls. */
static void test_downhill(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_demand_segment *way = s->system.demand.segments;
    way->mire = PR_MIRE_NONE;
    for (int i = 0; i < PR_CASE_COUNT; i++)
        way->surface_frac[i] = 0.05 + 0.05 * i;
    for (int downhill = 0; downhill <= 1; downhill++) {
        way->slope_rad = downhill ? -0.291 : 0.0;
        pr_plan plan;
        pr_diag diag;
        warnings(s, &plan, &diag);
        assert_int_equal(says(&diag, "roll downhill by itself"), downhill);
        pr_diag_free(&diag);
        pr_plan_free(&plan);
    }
    fixture_free(s);
}

/* A plan run again as a schedule is the same recovery, the parts of line too, given or chosen. */
static void test_schedule_is_rigged_as_the_plan(void **state)
{
    (void)state;
    for (int parts = 0; parts <= 2; parts += 2) {
        pr_scenario *s = fixture_new();
        s->plan.parts = parts;
        pr_plan plan;
        assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, &plan, NULL, NULL), PR_OK);
        assert_true(plan.go && plan.parts == 2 && plan.n_cycles < PR_SCHEDULE_MAX / 2);
        for (size_t i = 0; i < plan.n_cycles; i++) {
            pr_schedule_entry *entry = &s->schedule[s->n_schedule++];
            *entry = (pr_schedule_entry){.phase = {PR_PULL, plan.pull_rpm, plan.cycles[i].pull_s,
                                                   .stop_travel_m = NOT_GIVEN}};
            if (plan.cycles[i].rest_s > 0.0)
                s->schedule[s->n_schedule++] =
                    (pr_schedule_entry){.phase = {PR_REST, plan.rest_rpm, plan.cycles[i].rest_s,
                                                  .stop_travel_m = NOT_GIVEN}};
        }
        int rigs = 0;
        assert_int_equal(pr_schedule_parts(s, &rigs), PR_OK);
        assert_int_equal(rigs, 2);
        pr_phase_end *ends = calloc((size_t)s->n_schedule, sizeof *ends);
        assert_non_null(ends);
        size_t n = 0;
        assert_int_equal(pr_schedule_run(s, NULL, ends, (size_t)s->n_schedule, &n, NULL), PR_OK);
        assert_int_equal(n, s->n_schedule);
        const pr_phase_end *first = &plan.cycles[0].pull, *last = &ends[n - 1];
        const pr_phase_end *planned = &plan.cycles[plan.n_cycles - 1].pull;
        assert_near(ends[0].first.pull_N, first->first.pull_N, 1e-6 * first->first.pull_N);
        assert_near(ends[0].extremes.most_winch_A, first->extremes.most_winch_A, 1e-3);
        assert_near(last->last.travel_m, planned->last.travel_m, 1e-3);
        assert_near(last->last.soc_frac[0], planned->last.soc_frac[0], 1e-4);
        assert_int_equal(pr_schedule_parts(s, &s->plan.parts), PR_OK); /* as the program asks */
        assert_int_equal(s->plan.parts, 2);
        free(ends);
        pr_plan_free(&plan);
        fixture_free(s);
    }
}

/* So many pulls at a current are the job: no plan does less of it, none pulls shorter. */
static void test_given_pulls_keep_their_length(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.work = PR_WORK_CURRENT;
    s->system.pull_A = 250.0;
    s->system.has_winch = false;
    s->plan.pulls = 4;
    for (int flat = 0; flat <= 1; flat++) {
        s->system.start_soc_frac[0] = flat ? 0.55 : 0.95;
        pr_plan_set set;
        assert_int_equal(pr_plan_make(s, &set, NULL, NULL, NULL), PR_OK);
        for (int k = 0; k < PR_PLAN_KINDS; k++)
            assert_near(set.plan[k].pull_s, 30.0, 0.0);
        pr_plan_set_free(&set);
    }
    fixture_free(s);
}

/* Charged before the first pull: the start is not what the plan comes down to. */
static void test_charge_first_is_no_low(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.start_soc_frac[0] = 0.35;
    pr_plan plan;
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_EVEN, &plan, NULL, NULL), PR_OK);
    assert_true(plan.go && plan.first_rest_s > 60.0);
    double reserve_frac;
    pr_job job = open_job(s, 2);
    reserve_frac = job.asked.reserve_frac;
    pr_job_close(&job);
    assert_true(reserve_frac > 0.36);
    assert_true(plan.least_soc_frac >= reserve_frac);
    pr_plan_free(&plan);
    fixture_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_rope_shorter_than_the_way_to_the_anchor),
        cmocka_unit_test(test_strap_on_board),
        cmocka_unit_test(test_new_anchors),
        cmocka_unit_test(test_ratings),
        cmocka_unit_test(test_parts_that_spare_the_rope),
        cmocka_unit_test(test_downhill),
        cmocka_unit_test(test_schedule_is_rigged_as_the_plan),
        cmocka_unit_test(test_given_pulls_keep_their_length),
        cmocka_unit_test(test_charge_first_is_no_low),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
