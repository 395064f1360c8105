/* Plans: every claim of a plan is checked by running the engine again beside the planner. */
#include "test_planner_fixture.h"

static pr_plan_set *make(const pr_scenario *s)
{
    pr_plan_set *set = calloc(1, sizeof *set);
    assert_non_null(set);
    pr_diag diag = pr_diag_init();
    const pr_status status = pr_plan_make(s, set, &diag, NULL, NULL);
    if (status != PR_OK)
        pr_diag_print(&diag, stderr);
    pr_diag_free(&diag);
    assert_int_equal(status, PR_OK);
    return set;
}

static void discard(pr_plan_set *set)
{
    pr_plan_set_free(set);
    free(set);
}

static bool is_whole(double x)
{
    return x == floor(x);
}

/* Runs the plan's own pulls and rests: each works, and one second less of any rest that is longer
 * than it need be breaks the limit that the plan names. Returns how many rests were proven so. */
static size_t prove_as_needed(const pr_scenario *s, const pr_plan *plan, const pr_limits *limits)
{
    assert_true(plan->go);
    pr_system *system = fixture_system(s, plan);
    pr_sim sim;
    assert_int_equal(pr_sim_start(system, &sim), PR_OK);
    size_t proven = 0;
    for (size_t i = 0; i < plan->n_cycles; i++) {
        const bool first = i == 0, rerig = !first && plan->cycles[i - 1].rerig;
        const double rest_s = first ? plan->first_rest_s : plan->cycles[i - 1].rest_s;
        const double least_s = first ? 0.0 : rerig ? s->plan.rerig_s : s->plan.rest_min_s;
        pr_phase_end end;
        assert_true(is_whole(rest_s));
        assert_true(rest_s >= least_s);
        if (rest_s > least_s) {
            pr_sim less = sim;
            assert_false(
                fixture_step(system, limits, plan, rest_s - 1.0, first, rerig, &less, &end));
            assert_int_equal(end.stop,
                             first ? plan->first_binding_stop : plan->cycles[i - 1].binding_stop);
            if (end.stop == PR_STOP_LIMIT)
                assert_int_equal(end.limit,
                                 first ? plan->first_binding : plan->cycles[i - 1].binding);
            proven++;
        } else if (!first) {
            assert_int_equal(plan->cycles[i - 1].binding, PR_LIMIT_NONE);
        }
        assert_true(fixture_step(system, limits, plan, rest_s, first, rerig, &sim, &end));
        assert_near(end.last.travel_m, plan->cycles[i].travel_m, 0.0);
    }
    assert_near(sim.time_s, plan->total_s, 0.0);
    assert_near(plan->travel_m, plan->distance_m, 1e-3); /* event located to 1 ms */
    free(system);
    return proven;
}

/* The whole recovery with equal rests, by the engine alone. */
static bool even_works(const pr_scenario *s, const pr_plan *plan, const pr_limits *limits,
                       double rest_s, pr_phase_end *end)
{
    pr_system *system = fixture_system(s, plan);
    pr_sim sim;
    assert_int_equal(pr_sim_start(system, &sim), PR_OK);
    bool works = true, over = false;
    for (size_t i = 0; works && !over && i < 1000; i++) {
        const bool first = i == 0, rerig = !first && end->stop == PR_STOP_ROPE;
        const double wait_s = first   ? plan->first_rest_s
                              : rerig ? fmax(rest_s, s->plan.rerig_s)
                                      : rest_s;
        works = fixture_step(system, limits, plan, wait_s, first, rerig, &sim, end);
        over = end->stop == PR_STOP_TRAVEL;
    }
    free(system);
    return works && over;
}

static void prove_even(const pr_scenario *s, const pr_plan *plan, const pr_limits *limits)
{
    pr_phase_end end;
    assert_true(plan->go);
    assert_true(is_whole(plan->rest_s));
    assert_true(even_works(s, plan, limits, plan->rest_s, &end));
    if (plan->rest_s > s->plan.rest_min_s) {
        assert_false(even_works(s, plan, limits, plan->rest_s - 1.0, &end));
        assert_int_equal(end.stop, plan->binding_stop);
        if (end.stop == PR_STOP_LIMIT)
            assert_int_equal(end.limit, plan->binding);
    }
}

static void print_plan(const pr_plan *p)
{
    static const char *const names[] = {"even", "as needed", "shortest"};
    print_message(
        "%s: %s, %d parts, pull %.0f s at %.0f rpm, rest %.0f s at %.0f rpm, first %.0f s, "
        "%zu pulls, %.0f s, %.2f m, binds %s, least %.3f %.2f V %.1f degC, restart %.2f V, "
        "%lu simulations, ledgers %.1e %.1e\n",
        names[p->kind], p->go ? "go" : "no", p->parts, p->pull_s, p->pull_rpm, p->rest_s,
        p->rest_rpm, p->first_rest_s, p->n_cycles, p->total_s, p->travel_m,
        pr_limit_name(p->binding), p->least_soc_frac, p->least_box_V, p->most_armature_degC,
        p->least_restart_V, p->simulations, p->charge_error_frac, p->energy_error_frac);
    if (!p->go)
        print_message("  ended by %s, %s\n", pr_stop_name(p->ended_by),
                      pr_limit_name(p->ended_limit));
}

static void test_make_ordinary(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_plan_set *set = make(s);
    for (int i = 0; i < PR_PLAN_KINDS; i++) {
        const pr_plan *p = &set->plan[i];
        print_plan(p);
        for (size_t k = 0; k < p->n_cycles; k++)
            print_message("   %2zu %6.1f pull %5.2f rest %4.0f %s soc %.4f %.4f V %.2f T %.1f %s\n",
                          k, p->cycles[k].start_s, p->cycles[k].pull_s, p->cycles[k].rest_s,
                          p->cycles[k].rerig ? "rerig" : "", p->cycles[k].soc_after_pull_frac,
                          p->cycles[k].soc_after_rest_frac, p->cycles[k].pull.last.box_V[0],
                          p->cycles[k].pull.last.armature_degC,
                          pr_limit_name(p->cycles[k].binding));
        assert_int_equal(p->status, PR_OK);
        assert_true(p->charge_error_frac < 1e-9 && p->energy_error_frac < 1e-9);
    }
    prove_as_needed(s, &set->plan[PR_PLAN_AS_NEEDED], &set->limits);
    prove_as_needed(s, &set->plan[PR_PLAN_SHORTEST], &set->limits);
    prove_even(s, &set->plan[PR_PLAN_EVEN], &set->limits);
    print_message("meter back %.2f s, charge back %.3f, then %.4f, full back %.0f s; %lu in all\n",
                  set->plan[0].meter.meter_back_s, set->plan[0].meter.charge_back_frac,
                  set->plan[0].meter.soc_then_frac, set->plan[0].meter.full_back_s,
                  set->simulations);
    discard(set);
    fixture_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_make_ordinary),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
