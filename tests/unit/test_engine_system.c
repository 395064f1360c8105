/* Descriptions that make no sense are refused by name; start, outputs, trace, names. */
#include "test_engine_rig.h"

#include "engine/trace.h"

static pr_system system_;
static pr_sim sim_;

/* The message of the one mistake that a definition has. */
static void assert_refused(const pr_system_def *def, const char *word)
{
    pr_diag diag = pr_diag_init();
    assert_int_not_equal(pr_system_derive(def, &system_, &diag), PR_OK);
    assert_true(diag.errors >= 1);
    if (strstr(diag.entries[0].text, word) == NULL)
        print_message("'%s' lacks '%s'\n", diag.entries[0].text, word);
    assert_non_null(strstr(diag.entries[0].text, word));
    pr_diag_free(&diag);
}

static void test_derive_refuses_what_was_not_made_by_default(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.cookie = 0;
    assert_int_equal(pr_system_derive(&def, &system_, NULL), PR_ERR_INTERNAL);
}

static void test_derive_names_the_component(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.battery[0].c20_Ah = PR_NAN;
    assert_refused(&def, "battery");
    def = rig_full(2);
    def.battery[1].c20_Ah = -1.0;
    assert_refused(&def, "second battery");
    def = rig_full(1);
    def.alternator.rated_A = 0.0;
    assert_refused(&def, "alternator");
    def = rig_full(1);
    def.motor.rated_A = def.motor.no_load_A;
    assert_refused(&def, "winch motor");
    def = rig_full(1);
    def.drum.drum_m = PR_NAN;
    assert_refused(&def, "drum");
    def = rig_full(1);
    def.load[3].def.exponent = 9.0;
    assert_refused(&def, "load 'heater'");
    def = rig_full(1);
    def.run[PR_RUN_WINCH].def.gauge = 99.0;
    assert_refused(&def, "winch cable");
    def = rig_full(1);
    def.run[PR_RUN_FIRST_LOAD + 2].def.length_m = -1.0;
    assert_refused(&def, "lamps");
    def = rig_full(2);
    def.link.open_V = 14.0;
    assert_refused(&def, "link");
    def = rig_full(1);
    def.demand.weight_N = PR_NAN;
    assert_refused(&def, "recovery");
    def = rig_full(1);
    def.rig.parts = 9;
    assert_refused(&def, "rigging");
}

static void test_derive_refuses_posts_that_do_not_exist(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.winch_post = PR_POST_SECOND;
    assert_refused(&def, "winch");
    def = rig_full(1);
    def.alternator_post = PR_POST_SECOND;
    assert_refused(&def, "alternator");
    def = rig_full(1);
    def.starter_post = PR_POST_SECOND;
    assert_refused(&def, "starter");
    def = rig_full(1);
    def.load[1].post = PR_POST_SECOND;
    assert_refused(&def, "fuel pump");
    def = rig_full(1);
    def.link = pr_link_def_default(PR_LINK_SWITCH);
    assert_refused(&def, "link");
    def = rig_full(1);
    def.n_batteries = 3;
    assert_refused(&def, "batteries");
    def = rig_full(1);
    def.start_soc_frac[0] = 1.2;
    assert_refused(&def, "start charge");
    def = rig_full(1);
    def.has_cutoff[0] = true;
    def.cutoff[0].on_V = 5.0;
    assert_refused(&def, "cut-off");
}

static void test_derive_refuses_a_profile_that_runs_back(void **state)
{
    (void)state;
    static const double s[] = {0.0, 2.0, 1.0}, A[] = {1.0, 2.0, 3.0};
    pr_system_def def = rig_full(1);
    def.work = PR_WORK_CURRENT;
    def.n_profile = 3;
    def.profile_s = s;
    def.profile_A = A;
    assert_refused(&def, "profile");
    def.n_profile = 0;
    assert_refused(&def, "pull current"); /* no constant one either */
}

static void test_every_mistake_is_reported(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.alternator.rated_A = PR_NAN;
    def.motor.rated_A = PR_NAN;
    def.load[2].def.watts_W = PR_NAN;
    pr_diag diag = pr_diag_init();
    assert_int_not_equal(pr_system_derive(&def, &system_, &diag), PR_OK);
    assert_int_equal(diag.errors, 3);
    pr_diag_free(&diag);
}

/* identity: what is kept of an earlier derivation is what a fresh one finds */
static void test_derived_again_as_afresh(void **state)
{
    (void)state;
    static pr_system again, fresh;
    pr_system_def def = rig_full(2);
    assert_int_equal(pr_system_derive(&def, &again, NULL), PR_OK);
    for (int change = 0; change < 6; change++) {
        double *const value[6] = {&def.battery[0].c20_Ah,   &def.alternator.rated_A,
                                  &def.motor.rated_pull_N,  &def.load[0].def.exponent,
                                  &def.run[0].def.length_m, &def.ambient_degC};
        *value[change] = 1.1 * *value[change] + 0.1;
        assert_int_equal(pr_system_derive_again(&def, &again), PR_OK);
        assert_int_equal(pr_system_derive(&def, &fresh, NULL), PR_OK);
        assert_memory_equal(again.battery, fresh.battery, sizeof fresh.battery);
        assert_memory_equal(&again.alternator, &fresh.alternator, sizeof fresh.alternator);
        assert_memory_equal(&again.motor, &fresh.motor, sizeof fresh.motor);
        assert_memory_equal(again.load, fresh.load, sizeof fresh.load);
        assert_memory_equal(again.wire, fresh.wire, sizeof fresh.wire);
        assert_memory_equal(again.wire_line, fresh.wire_line, sizeof fresh.wire_line);
        assert_memory_equal(again.load_scale, fresh.load_scale, sizeof fresh.load_scale);
        assert_memory_equal(&again.at, &fresh.at, sizeof fresh.at);
    }
    def.battery[0].c20_Ah = PR_NAN;
    assert_int_not_equal(pr_system_derive_again(&def, &again), PR_OK);
}

static void test_start_is_rested(void **state)
{
    (void)state;
    pr_system_def def = rig_full(2);
    def.start_battery_degC[1] = -3.0;
    def.start_motor_degC = 30.0;
    rig_start(&def, &system_, &sim_);
    assert_true(system_.n_states <= PR_STATE_MAX);
    pr_outputs now;
    assert_int_equal(pr_sim_outputs(&system_, &sim_, PR_ENGINE_OFF, &now), PR_OK);
    assert_near(now.soc_frac[0], 0.95, 1e-12);
    assert_near(now.surface_frac[1], 0.95, 1e-12);
    assert_near(now.battery_degC[0], 6.0, 0.0);
    assert_near(now.battery_degC[1], -3.0, 0.0);
    assert_near(now.armature_degC, 30.0, 0.0);
    assert_near(now.winding_degC, 26.0, 0.0); /* ambient and the rise under the bonnet */
    assert_near(now.rope_out_m, 26.0, 1e-12); /* 13 m to the anchor, two parts */
    assert_near(now.alternator_A, 0.0, 0.0);
    assert_true(now.restart_V > 9.0 && now.restart_V < 12.5);
}

/* Sign: charging positive, loads and winch positive, output of the alternator positive. */
static void test_signs(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    sim_.engine_rpm = 1500.0;
    pr_outputs rest, pull;
    assert_int_equal(pr_sim_outputs(&system_, &sim_, PR_REST, &rest), PR_OK);
    assert_int_equal(pr_sim_outputs(&system_, &sim_, PR_PULL, &pull), PR_OK);
    assert_true(rest.battery_A[0] > 0.0 && rest.alternator_A > 0.0 && rest.loads_A > 0.0);
    assert_true(pull.battery_A[0] < -100.0 && pull.winch_A > 100.0 && pull.pull_N > 0.0);
    assert_near(pull.alternator_A, pull.battery_A[0] + pull.winch_A + pull.loads_A, 1e-9);
    assert_true(pull.limited);
    assert_near(pull.alternator_A, pull.alternator_available_A, 1e-6);
    assert_true(pull.shaft_W > pull.alternator_A * pull.alternator_V);
}

static void test_outputs_leave_the_sim_alone(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(2);
    rig_start(&def, &system_, &sim_);
    rig_run(&system_, &sim_, PR_REST, 30.0, NULL);
    const pr_sim before = sim_;
    pr_outputs now;
    for (int a = PR_REST; a <= PR_CRANK; a++)
        assert_int_equal(pr_sim_outputs(&system_, &sim_, (pr_activity)a, &now), PR_OK);
    assert_memory_equal(&before, &sim_, sizeof before);
}

static void test_default_limits(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    const pr_limits limits = pr_limits_default(&system_);
    assert_true(limits.on[PR_LIMIT_MOTOR_HEAT] && limits.on[PR_LIMIT_CABLE_HEAT]);
    assert_true(limits.on[PR_LIMIT_VOLTAGE]);
    assert_near(limits.bus_min_V, 8.5, 0.0); /* where the engine control lets go */
    assert_near(limits.motor_max_degC, 155.0, 0.0);
    assert_false(limits.on[PR_LIMIT_RESERVE] || limits.on[PR_LIMIT_RESTART]);
    assert_true(isnan(limits.reserve_frac));
}

/* The numbers that stand for the law of a wire say what the law says. */
static void test_wire_lines_are_the_law(void **state)
{
    (void)state;
    pr_system_def def = rig_full(2);
    def.run[PR_RUN_ALTERNATOR].def.engine_space = 1;
    rig_start(&def, &system_, &sim_);
    assert_int_equal(system_.at.n_wires, 7);
    for (int i = 0; i < system_.at.n_wires; i++) {
        const pr_wire *wire = &system_.wire[system_.at.wire_run[i]];
        const pr_wire_line *w = &system_.wire_line[i];
        for (double i_A = 0.0; i_A < 500.0; i_A += 130.0)
            for (double T_degC = -30.0; T_degC < 150.0; T_degC += 45.0) {
                const pr_wire_state at = {.T_degC = T_degC};
                pr_wire_state rates;
                pr_wire_rates(wire, &at, i_A, wire->def.engine_space ? 37.0 : 17.0, &rates);
                const double line =
                    i_A * i_A * (w->a + w->b * T_degC) - w->g * (T_degC - 17.0) + w->c;
                assert_near(line, rates.T_degC, 1e-10 * (1.0 + fabs(rates.T_degC)));
            }
    }
}

static void assert_same_extremes(const pr_extremes *a, const pr_extremes *b)
{
    assert_true(a->least_soc_frac == b->least_soc_frac && a->least_box_V == b->least_box_V);
    assert_true(a->least_post_V == b->least_post_V && a->most_wire_run == b->most_wire_run);
    assert_true(a->most_armature_degC == b->most_armature_degC);
    assert_true(a->most_wire_degC == b->most_wire_degC);
    assert_true(a->most_wire_ratio == b->most_wire_ratio);
    assert_true(a->most_winch_A == b->most_winch_A && a->most_link_A == b->most_link_A);
    assert_true(a->most_anchor_N == b->most_anchor_N);
    assert_true(a->least_restart_V == b->least_restart_V ||
                (isnan(a->least_restart_V) && isnan(b->least_restart_V)));
}

/* Whatever the order, and nothing adds nothing: what a phase did not watch, or the vehicle does not
 * have, never hides what another phase saw. */
static void test_extremes_merge_in_any_order(void **state)
{
    (void)state;
    const pr_extremes none = pr_extremes_none();
    pr_extremes pull = none, rest = none;
    pull.least_soc_frac = 0.7;
    pull.least_box_V = 10.9;
    pull.least_post_V = 11.2;
    pull.most_armature_degC = 95.0;
    pull.most_winch_A = 320.0;
    pull.most_wire_run = 1;
    pull.most_wire_degC = 60.0;
    pull.most_wire_ratio = 0.6;
    pull.most_anchor_N = 2e4;
    rest.least_soc_frac = 0.72;
    rest.least_box_V = 13.1;
    rest.least_restart_V = 9.6;
    rest.most_link_A = 40.0;
    rest.most_wire_run = 4;
    rest.most_wire_degC = 70.0;
    rest.most_wire_ratio = 0.5;
    pr_extremes one = none, other = none;
    pr_extremes_merge(&one, &pull);
    assert_same_extremes(&one, &pull);
    pr_extremes_merge(&one, &rest);
    pr_extremes_merge(&other, &rest);
    pr_extremes_merge(&other, &none);
    assert_same_extremes(&other, &rest);
    pr_extremes_merge(&other, &pull);
    assert_same_extremes(&one, &other);
    assert_near(one.least_soc_frac, 0.7, 0.0);
    assert_near(one.least_restart_V, 9.6, 0.0);
    assert_near(one.most_link_A, 40.0, 0.0);
    assert_near(one.most_wire_degC, 70.0, 0.0);
    assert_int_equal(one.most_wire_run, 1); /* the closest to its own limit, not the hottest */
}

static void test_names(void **state)
{
    (void)state;
    for (int i = 0; i < PR_LIMIT_COUNT; i++)
        assert_true(strlen(pr_limit_name((pr_limit)i)) > 3);
    for (int i = 0; i <= PR_STOP_FAILED; i++)
        assert_true(strlen(pr_stop_name((pr_stop)i)) > 3);
    assert_non_null(pr_limit_name((pr_limit)99));
    assert_non_null(pr_stop_name((pr_stop)-1));
}

static void test_trace_has_rows_at_the_interval_and_at_events(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    pr_trace trace = pr_trace_init(1.0);
    const pr_observer observer = pr_trace_observer(&trace);
    const pr_phase phase = rig_phase(PR_REST, 40.0);
    pr_phase_end end;
    assert_int_equal(pr_sim_run(&system_, &sim_, &phase, NULL, NULL, &observer, &end), PR_OK);
    /* start, 39 inside, the fan at 30 s, the end */
    assert_true(trace.n_rows >= 41 && trace.n_rows <= 43);
    assert_int_equal(trace.n_events, 3);
    assert_string_equal(trace.events[0].text, "start");
    assert_string_equal(trace.events[1].text, "fan on");
    assert_string_equal(trace.events[2].text, "end");
    for (size_t i = 1; i < trace.n_rows; i++)
        assert_true(pr_trace_get(&trace, i, "time_s") >= pr_trace_get(&trace, i - 1, "time_s"));
    assert_near(pr_trace_get(&trace, trace.n_rows - 1, "time_s"), 40.0, 0.0);
    assert_near(pr_trace_get(&trace, 0, "soc"), 0.95, 1e-12);
    assert_true(isnan(pr_trace_get(&trace, 0, "no such column")));
    assert_true(isnan(pr_trace_get(&trace, trace.n_rows, "soc")));
    pr_trace_free(&trace);
}

static void test_trace_columns_have_names_and_units(void **state)
{
    (void)state;
    for (int i = 0; i < PR_TRACE_COLUMNS; i++) {
        assert_true(strlen(pr_trace_columns[i].unit) > 0 && strlen(pr_trace_columns[i].help) > 0);
        assert_int_equal(pr_trace_column_index(pr_trace_columns[i].name), i);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_derive_refuses_what_was_not_made_by_default),
        cmocka_unit_test(test_derive_names_the_component),
        cmocka_unit_test(test_derive_refuses_posts_that_do_not_exist),
        cmocka_unit_test(test_derive_refuses_a_profile_that_runs_back),
        cmocka_unit_test(test_every_mistake_is_reported),
        cmocka_unit_test(test_derived_again_as_afresh),
        cmocka_unit_test(test_start_is_rested),
        cmocka_unit_test(test_signs),
        cmocka_unit_test(test_outputs_leave_the_sim_alone),
        cmocka_unit_test(test_default_limits),
        cmocka_unit_test(test_wire_lines_are_the_law),
        cmocka_unit_test(test_extremes_merge_in_any_order),
        cmocka_unit_test(test_names),
        cmocka_unit_test(test_trace_has_rows_at_the_interval_and_at_events),
        cmocka_unit_test(test_trace_columns_have_names_and_units),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
