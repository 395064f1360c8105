/* Near the end of the rope: no pull of a second or two only to wind in what is left, and no rig
 * more than the rope needs. */
#include "planner/job.h"
#include "test_planner_fixture.h"

/* One settled pull that stopped by the clock: is the rope to be set out again? Way in all 40 m,
 * single line, 20 m of rope at a rig, rope coming in at 0.03 m/s. */
static bool is_rope_in(double travel_m, double rope_out_m, pr_stop stop)
{
    pr_system *system = calloc(1, sizeof *system);
    assert_non_null(system);
    system->def.has_winch = true;
    system->def.rope_out_m = 20.0;
    system->def.rig = pr_rig_def_default();
    system->def.rig.parts = 1;
    system->def.anchor_distance_m = travel_m + rope_out_m; /* to the anchor, then 20 m more */
    system->drum.usable_rope_m = 20.0;
    pr_job job = {.system = system,
                  .plan = pr_plan_def_default(),
                  .distance_m = 40.0,
                  .rope_given_m = NOT_GIVEN,
                  .overload.at_m = __builtin_inf()};
    job.plan.next_anchor_m = 20.0;
    pr_phase_end pull = {.stop = stop};
    pull.last.travel_m = travel_m;
    pull.last.rope_out_m = rope_out_m;
    pull.last.rope_mps = 0.03;
    pr_job_settle_pull(&job, &pull);
    free(system);
    assert_true(pull.stop == stop || pull.stop == PR_STOP_ROPE);
    return pull.stop == PR_STOP_ROPE;
}

static void test_what_is_left_of_the_rope(void **state)
{
    (void)state;
    assert_true(is_rope_in(22.0, 0.05, PR_STOP_TIME));   /* under two seconds */
    assert_true(is_rope_in(22.0, 0.09, PR_STOP_TIME));   /* under a tenth of a metre */
    assert_false(is_rope_in(22.0, 0.12, PR_STOP_TIME));  /* four seconds: a pull of its own */
    assert_false(is_rope_in(22.0, 0.05, PR_STOP_LIMIT)); /* did not end well */
    assert_false(is_rope_in(39.97, 0.05, PR_STOP_TIME)); /* it is out before the rope is in */
    /* from 19.95 m the second 20 m would end 5 cm short of the goal: wind in what is left */
    assert_false(is_rope_in(19.95, 0.05, PR_STOP_TIME));
}

/* Every length of pull: whole pulls up to the end of the rope but for the last one of a rig. */
static void test_no_pull_of_a_second(void **state)
{
    (void)state;
    size_t settled = 0;
    for (double pull_s = 20.0; pull_s <= 40.0; pull_s += 1.0) {
        pr_scenario *s = fixture_new();
        s->plan.pull_s = pull_s;
        s->plan.total_max_s = 4.0 * 3600.0;
        pr_plan plan;
        assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, &plan, NULL, NULL), PR_OK);
        assert_true(plan.go);
        size_t rerigs = 0;
        for (size_t i = 0; i + 1 < plan.n_cycles; i++) {
            const pr_cycle *c = &plan.cycles[i];
            assert_true(c->pull_s >= 2.0);
            assert_int_equal(c->rerig, c->pull.stop == PR_STOP_ROPE);
            settled += c->rerig && c->pull.last.rope_out_m > 1e-3;
            rerigs += c->rerig;
        }
        assert_int_equal(rerigs, 1);
        /* the plan run again finds the same ends */
        bool holds;
        assert_int_equal(pr_plan_replay(s, &plan, NULL, NULL, NULL, &holds, NULL), PR_OK);
        assert_true(holds);
        pr_plan_free(&plan);
        fixture_free(s);
    }
    assert_true(settled > 0); /* else this shows nothing */
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_what_is_left_of_the_rope),
        cmocka_unit_test(test_no_pull_of_a_second),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
