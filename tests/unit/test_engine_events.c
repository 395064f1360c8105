/* Every way a phase can end, and that events are found to a millisecond. */
#include "test_engine_rig.h"

static const double EVENT_s = 1e-3; /* promised in the header of the engine's events */

static pr_system system_;
static pr_sim sim_;

static pr_phase_end run_limited(pr_phase phase, const pr_limits *limits)
{
    pr_phase_end end;
    assert_int_equal(pr_sim_run(&system_, &sim_, &phase, limits, NULL, NULL, &end), PR_OK);
    return end;
}

/* Time of the n-th event whose text is exactly this; NaN: none. */
typedef struct listener {
    const char *text;
    int nth, seen;
    double time_s;
} listener;

static int listen(void *context, const pr_system *system, const pr_outputs *outputs,
                  const char *event)
{
    listener *l = context;
    (void)system;
    if (event != NULL && strcmp(event, l->text) == 0 && ++l->seen == l->nth)
        l->time_s = outputs->time_s;
    return 0;
}

static double event_time_s(pr_activity activity, double duration_s, const char *text, int nth)
{
    listener l = {.text = text, .nth = nth, .time_s = PR_NAN};
    const pr_observer observer = {.fn = listen, .context = &l};
    const pr_phase phase = rig_phase(activity, duration_s);
    pr_phase_end end;
    assert_int_equal(pr_sim_run(&system_, &sim_, &phase, NULL, NULL, &observer, &end), PR_OK);
    return l.time_s;
}

static void test_stop_time(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    const pr_phase_end end = rig_run(&system_, &sim_, PR_PULL, 12.3, NULL);
    assert_int_equal(end.stop, PR_STOP_TIME);
    assert_true(end.duration_s == 12.3); /* exactly as asked */
    assert_true(sim_.time_s == 12.3);
    assert_true(end.travel_m > 0.1);
}

static void test_stop_travel(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    pr_phase phase = rig_phase(PR_PULL, 100.0);
    phase.stop_travel_m = 0.5;
    const pr_phase_end end = run_limited(phase, NULL);
    assert_int_equal(end.stop, PR_STOP_TRAVEL);
    assert_near(end.travel_m, 0.5 + 0.5 * EVENT_s * end.last.rope_mps / 2.0,
                EVENT_s * end.last.rope_mps / 2.0);
    /* there already: no time passes */
    const pr_phase_end again = run_limited(phase, NULL);
    assert_int_equal(again.stop, PR_STOP_TRAVEL);
    assert_true(again.duration_s == 0.0);
}

/* The limit holds at the stop and is broken a millisecond later. */
static void check_limit(pr_limit limit, pr_limits limits, pr_activity activity, double rate_per_s)
{
    pr_phase phase = rig_phase(activity, 3000.0);
    limits.on[limit] = true;
    const pr_phase_end end = run_limited(phase, &limits);
    assert_int_equal(end.stop, PR_STOP_LIMIT);
    assert_int_equal(end.limit, limit);
    pr_outputs at;
    assert_int_equal(pr_sim_outputs(&system_, &sim_, activity, &at), PR_OK);
    const double margin = pr_limit_margin(&system_, &limits, limit, &at);
    assert_true(margin >= 0.0);
    assert_true(margin <= rate_per_s * EVENT_s);
    assert_true(end.duration_s > 1.0);
}

static void test_stop_reserve(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    pr_limits limits = rig_no_limits();
    limits.reserve_frac = 0.93;
    check_limit(PR_LIMIT_RESERVE, limits, PR_PULL, 300.0 / 252000.0);
}

static void test_stop_motor_heat(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    pr_limits limits = rig_no_limits();
    limits.motor_max_degC = 40.0;
    check_limit(PR_LIMIT_MOTOR_HEAT, limits, PR_PULL, 3.0);
}

static void test_stop_cable_heat(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    vehicle_wire(&def, PR_RUN_WINCH, PR_GAUGE_MM2, 16.0, 2.5); /* far too thin */
    def.motor.limit_degC = 300.0;
    rig_start(&def, &system_, &sim_);
    check_limit(PR_LIMIT_CABLE_HEAT, rig_no_limits(), PR_PULL, 5.0);
}

static void test_stop_voltage(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    pr_limits limits = rig_no_limits();
    limits.bus_min_V = 11.15;
    check_limit(PR_LIMIT_VOLTAGE, limits, PR_PULL_ENGINE_OFF, 0.5);
}

static void test_stop_restart(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.start_soc_frac[0] = 0.6;
    rig_start(&def, &system_, &sim_);
    pr_limits limits = rig_no_limits();
    pr_outputs now;
    assert_int_equal(pr_sim_outputs(&system_, &sim_, PR_REST, &now), PR_OK);
    limits.restart_margin_V = now.restart_V - def.cranking.min_V - 0.2;
    check_limit(PR_LIMIT_RESTART, limits, PR_PULL, 0.1);
}

static void test_limit_broken_at_the_start(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    pr_limits limits = rig_no_limits();
    limits.on[PR_LIMIT_RESERVE] = true;
    limits.reserve_frac = 0.96;
    const pr_phase_end end = run_limited(rig_phase(PR_PULL, 30.0), &limits);
    assert_int_equal(end.stop, PR_STOP_LIMIT);
    assert_int_equal(end.limit, PR_LIMIT_RESERVE);
    assert_true(end.duration_s == 0.0);
    assert_true(sim_.time_s == 0.0);
}

/* The drop at the start of a pull belongs to the extremes although no step ends there. */
static void test_extremes_see_both_sides(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    rig_run(&system_, &sim_, PR_PULL, 5.0, NULL);
    const pr_phase_end end = rig_run(&system_, &sim_, PR_REST, 5.0, NULL);
    assert_true(end.extremes.least_box_V > 13.0);
    const pr_phase_end pull = rig_run(&system_, &sim_, PR_PULL, 5.0, NULL);
    assert_true(pull.extremes.least_box_V <= pull.first.box_V[0]);
    assert_true(pull.extremes.least_box_V <= pull.last.box_V[0]);
    assert_true(pull.first.box_V[0] < end.last.box_V[0] - 1.0);
}

static void test_stop_stall(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.rig.parts = 1;
    def.demand.fixed_resistance_N = 150000.0; /* three times what it can pull */
    rig_start(&def, &system_, &sim_);
    const pr_phase_end end = run_limited(rig_phase(PR_PULL, 30.0), NULL);
    assert_int_equal(end.stop, PR_STOP_STALL);
    assert_true(end.duration_s == 0.0);
}

/* On its last charge the winch slows and stops some time into the pull. */
static void test_stop_stall_as_the_battery_sags(void **state)
{
    (void)state;
    pr_system_def def = rig_bare(1);
    def.has_alternator = false;
    def.start_soc_frac[0] = 0.25;
    def.motor.contactor_drop_out_V = 0.0;
    rig_start(&def, &system_, &sim_);
    pr_sim_rerig(&system_, &sim_, 28.0);
    const pr_phase_end end = run_limited(rig_phase(PR_PULL_ENGINE_OFF, 3000.0), NULL);
    assert_int_equal(end.stop, PR_STOP_STALL);
    assert_true(end.duration_s > 10.0);
    assert_true(fabs(end.last.rope_mps) < 1e-4);
}

static void test_stop_rope(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    pr_sim_rerig(&system_, &sim_, 1.0);
    const pr_phase_end end = run_limited(rig_phase(PR_PULL, 300.0), NULL);
    assert_int_equal(end.stop, PR_STOP_ROPE);
    assert_near(end.travel_m, 0.5, 1e-4); /* two parts of line: half of the rope */
    assert_true(sim_.modes.rig_at_stop);
    pr_sim_rerig(&system_, &sim_, 29.9); /* into the reserve wraps */
    assert_false(sim_.modes.rig_at_stop);
    const pr_phase_end wraps = run_limited(rig_phase(PR_PULL, 300.0), NULL);
    assert_int_equal(wraps.stop, PR_STOP_ROPE);
    assert_true(wraps.duration_s == 0.0);
}

/* A rope as long as the way: the way's end is what counts, whatever the rounding of each. */
static void test_rope_as_long_as_the_way(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    for (int n = 1; n <= 20; n++) {
        const double way_m = 0.1 * n;
        rig_start(&def, &system_, &sim_);
        pr_sim_rerig(&system_, &sim_, 2.0 * way_m);
        pr_phase phase = rig_phase(PR_PULL, 300.0);
        phase.stop_travel_m = way_m;
        const pr_phase_end end = run_limited(phase, NULL);
        assert_int_equal(end.stop, PR_STOP_TRAVEL);
        assert_near(end.travel_m, way_m, 1e-4);
    }
}

static void test_stop_fuse(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.run[PR_RUN_WINCH].has_fuse = true;
    def.run[PR_RUN_WINCH].fuse.rating_A = 100.0;
    rig_start(&def, &system_, &sim_);
    const pr_phase_end end = run_limited(rig_phase(PR_PULL, 300.0), NULL);
    assert_int_equal(end.stop, PR_STOP_FUSE);
    assert_int_equal(end.which, PR_RUN_WINCH);
    /* its current hardly changes: the time of the curve at the mean of first and last */
    const double mean_A = 0.5 * (end.first.winch_A + end.last.winch_A);
    assert_near(end.duration_s, pr_fuse_time_s(&system_.fuse[PR_RUN_WINCH], mean_A),
                0.02 * end.duration_s);
    /* it stays open: the winch does not move again */
    const pr_phase_end again = run_limited(rig_phase(PR_PULL, 5.0), NULL);
    assert_true(again.travel_m == 0.0);
}

static void test_stop_contactor(void **state)
{
    (void)state;
    pr_system_def def = rig_bare(1);
    def.motor.contactor_drop_out_V = 10.9;
    def.motor.contactor_return_V = 11.2;
    rig_start(&def, &system_, &sim_);
    const pr_phase_end end = run_limited(rig_phase(PR_PULL_ENGINE_OFF, 3000.0), NULL);
    assert_int_equal(end.stop, PR_STOP_CONTACTOR);
    assert_near(end.last.post_V[0], 10.9, 1e-3);
}

static void test_stop_engine(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.n_loads = 4; /* no fan that starts */
    def.load[0].def.dropout_V = 11.3;
    def.load[0].def.return_V = 11.8;
    rig_start(&def, &system_, &sim_);
    const pr_phase_end end = run_limited(rig_phase(PR_PULL, 3000.0), NULL);
    assert_int_equal(end.stop, PR_STOP_ENGINE);
    assert_int_equal(end.which, 0);
    assert_true(sim_.modes.engine_dead);
    assert_near(end.last.box_V[0], 11.3, 1e-3);
    /* the alternator is gone until the engine has been cranked */
    const pr_phase_end rest = rig_run(&system_, &sim_, PR_REST, 10.0, NULL);
    assert_true(rest.last.alternator_A == 0.0);
    const pr_phase_end crank = rig_run(&system_, &sim_, PR_CRANK, 2.0, NULL);
    assert_true(crank.first.crank_A > 50.0);
    assert_true(crank.first.post_V[0] < rest.last.post_V[0]);
    const pr_phase_end after = rig_run(&system_, &sim_, PR_REST, 10.0, NULL);
    assert_true(after.last.alternator_A > 0.0);
}

static pr_system_def lithium_rig(void)
{
    pr_system_def def = rig_bare(1);
    def.ambient_degC = 20.0;
    def.battery[0] = pr_battery_def_default();
    def.battery[0].chemistry = PR_LIFEPO4;
    def.battery[0].c20_Ah = 100.0;
    return def;
}

static void test_stop_battery_open_by_current(void **state)
{
    (void)state;
    pr_system_def def = lithium_rig();
    def.has_alternator = false;
    def.battery[0].bms_discharge_limit_A = 150.0;
    def.battery[0].bms_discharge_delay_s = 3.0;
    rig_start(&def, &system_, &sim_);
    const pr_phase_end end = run_limited(rig_phase(PR_PULL_ENGINE_OFF, 60.0), NULL);
    assert_int_equal(end.stop, PR_STOP_BATTERY_OPEN);
    assert_near(end.duration_s, 3.0, EVENT_s);
    /* the next phase finds it connected again */
    const pr_phase_end rest = rig_run(&system_, &sim_, PR_ENGINE_OFF, 10.0, NULL);
    assert_true(rest.last.post_V[0] > 12.0);
}

/* The winch is still on when the battery leaves: what keeps the engine running drops out in that
 * instant, and no rest afterwards finds it running. */
static void test_engine_dies_with_the_battery_that_opens(void **state)
{
    (void)state;
    pr_system_def def = lithium_rig();
    def.battery[0].bms_discharge_limit_A = 150.0;
    def.battery[0].bms_discharge_delay_s = 3.0;
    def.n_loads = 1;
    def.load[0] = rig_load("engine control", 60.0, 0.0);
    def.load[0].def.stops_engine = true;
    def.load[0].def.dropout_V = 8.0;
    def.load[0].def.return_V = 9.0;
    rig_start(&def, &system_, &sim_);
    const pr_phase_end end = run_limited(rig_phase(PR_PULL, 60.0), NULL);
    assert_int_equal(end.stop, PR_STOP_BATTERY_OPEN);
    assert_near(end.duration_s, 3.0, EVENT_s);
    assert_true(end.engine_died);
    assert_true(end.last.engine_rpm > 0.0); /* just before */
    const pr_phase_end rest = rig_run(&system_, &sim_, PR_REST, 10.0, NULL);
    assert_near(rest.last.engine_rpm, 0.0, 1e-12);
    assert_near(rest.last.alternator_A, 0.0, 1e-12);
    assert_false(rest.engine_died); /* that was before */

    def.load[0].def.dropout_V = PR_NAN; /* it can live on nothing, and so does the engine */
    def.load[0].def.return_V = PR_NAN;
    rig_start(&def, &system_, &sim_);
    assert_false(run_limited(rig_phase(PR_PULL, 60.0), NULL).engine_died);
}

static void test_phase_counts_the_links_moves_and_full_output(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(2);
    rig_start(&def, &system_, &sim_);
    const pr_phase_end closes = rig_run(&system_, &sim_, PR_REST, 30.0, NULL);
    assert_int_equal(closes.activity, PR_REST);
    assert_int_equal(closes.link_switches, 1);
    assert_int_equal(closes.link_opens, 0);
    const double before_s = pr_sim_ledger(&system_, &sim_, PR_LEDGER_FULL_OUTPUT_s);
    const pr_phase_end opens = rig_run(&system_, &sim_, PR_PULL, 30.0, NULL);
    assert_int_equal(opens.activity, PR_PULL);
    assert_int_equal(opens.link_switches, 1);
    assert_int_equal(opens.link_opens, 1);
    assert_near(opens.full_output_s, 30.0, 0.5); /* a pull takes all there is */
    assert_near(opens.full_output_s,
                pr_sim_ledger(&system_, &sim_, PR_LEDGER_FULL_OUTPUT_s) - before_s, 1e-9);
}

static void test_battery_opens_when_empty_and_comes_back_with_the_alternator(void **state)
{
    (void)state;
    pr_system_def def = lithium_rig();
    def.start_soc_frac[0] = 0.05;
    def.n_loads = 1;
    def.load[0] = rig_load("heater", 600.0, 1.0);
    def.load[0].def.when = PR_WHEN_ALWAYS;
    rig_start(&def, &system_, &sim_);
    const pr_phase_end off = rig_run(&system_, &sim_, PR_ENGINE_OFF, 3600.0, NULL);
    assert_true(sim_.modes.battery_open[0]);
    assert_near(off.last.post_V[0], 0.0, 1e-12);
    assert_near(off.last.loads_A, 0.0, 1e-12);
    const pr_phase_end on = rig_run(&system_, &sim_, PR_REST, 60.0, NULL);
    assert_false(sim_.modes.battery_open[0]);
    assert_true(on.last.battery_A[0] > 1.0);
}

static void test_stop_failed_on_nonsense(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    const pr_sim before = sim_;
    pr_phase_end end;
    pr_phase phase = rig_phase(PR_PULL, -1.0);
    assert_int_equal(pr_sim_run(&system_, &sim_, &phase, NULL, NULL, NULL, &end), PR_ERR_RANGE);
    assert_int_equal(end.stop, PR_STOP_FAILED);
    phase.duration_s = PR_NAN;
    assert_int_equal(pr_sim_run(&system_, &sim_, &phase, NULL, NULL, NULL, &end), PR_ERR_RANGE);
    pr_limits limits = rig_no_limits();
    limits.on[PR_LIMIT_RESERVE] = true; /* on, but never given */
    phase = rig_phase(PR_PULL, 1.0);
    assert_int_equal(pr_sim_run(&system_, &sim_, &phase, &limits, NULL, NULL, &end), PR_ERR_RANGE);
    assert_memory_equal(&before, &sim_, sizeof before);
}

static void test_stop_failed_when_steps_run_out(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    pr_run_options options = pr_run_options_default();
    options.max_steps = 2;
    const pr_phase phase = rig_phase(PR_REST, 3000.0);
    pr_phase_end end;
    assert_int_equal(pr_sim_run(&system_, &sim_, &phase, NULL, &options, NULL, &end),
                     PR_ERR_STEP_LIMIT);
    assert_int_equal(end.stop, PR_STOP_FAILED);
    assert_true(sim_.time_s > 0.0 && sim_.time_s < 3000.0);
}

static void test_state_that_is_no_number_is_a_status(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    sim_.y[system_.at.battery[0]] = PR_NAN;
    const pr_phase phase = rig_phase(PR_REST, 10.0);
    pr_phase_end end;
    assert_int_not_equal(pr_sim_run(&system_, &sim_, &phase, NULL, NULL, NULL, &end), PR_OK);
    assert_int_equal(end.stop, PR_STOP_FAILED);
}

/* Takes the voltage of every record; a fall is what cannot be. */
static int watch_rise(void *context, const pr_system *system, const pr_outputs *o,
                      const char *event)
{
    (void)system;
    (void)event;
    double *at = context; /* last, greatest fall */
    at[1] = fmax(at[1], at[0] - o->post_V[0]);
    at[0] = o->post_V[0];
    return 0;
}

/* A battery left alone after a pull recovers and does nothing else, however many time constants of
 * its branch a step is long: what decays in it must not bring rounding to light. */
static void test_battery_left_alone_only_recovers(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.n_loads = 0;
    def.has_winch = def.has_alternator = false;
    def.work = PR_WORK_CURRENT;
    def.pull_A = 200.0;
    for (int r = 0; r < PR_RUNS_MAX; r++)
        def.run[r].present = false;
    rig_start(&def, &system_, &sim_);
    rig_run(&system_, &sim_, PR_PULL_ENGINE_OFF, 30.0, NULL);
    sim_.y[system_.at.battery[0] + 3] = def.ambient_degC; /* cooling lowers the voltage */
    double at[2] = {0.0, 0.0};
    const pr_observer observer = {watch_rise, at, 100.0};
    const pr_phase phase = rig_phase(PR_ENGINE_OFF, 1e5);
    pr_phase_end end;
    assert_int_equal(pr_sim_run(&system_, &sim_, &phase, NULL, NULL, &observer, &end), PR_OK);
    assert_true(at[0] > 12.0);
    assert_near(at[1], 0.0, 1e-5);
}

/* ---- switching inside a phase ---- */

static void test_thermostat_switches_on_time(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(1);
    /* 92 degC, on at 95, 0.1 K/s: 30 s; off at 90, 0.2 K/s: 25 s later; then 50 + 25 s */
    rig_start(&def, &system_, &sim_);
    assert_near(event_time_s(PR_REST, 200.0, "fan on", 1), 30.0, EVENT_s);
    rig_start(&def, &system_, &sim_);
    assert_near(event_time_s(PR_REST, 200.0, "fan off", 1), 55.0, EVENT_s);
    rig_start(&def, &system_, &sim_);
    assert_near(event_time_s(PR_REST, 200.0, "fan off", 2), 130.0, EVENT_s);
}

static void test_duty_switches_on_time(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.load[3].def.cycling = PR_CYCLE_DUTY;
    def.load[3].def.duty_frac = 0.3;
    def.load[3].def.period_s = 7.0;
    rig_start(&def, &system_, &sim_);
    assert_near(event_time_s(PR_REST, 30.0, "heater off", 1), 2.1, EVENT_s);
    rig_start(&def, &system_, &sim_);
    assert_near(event_time_s(PR_REST, 30.0, "heater on", 3), 21.0, EVENT_s);
}

static void test_relay_closes_after_its_delay(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(2);
    rig_start(&def, &system_, &sim_);
    pr_outputs now;
    assert_int_equal(pr_sim_outputs(&system_, &sim_, PR_REST, &now), PR_OK);
    assert_true(now.post_V[0] > 13.3); /* closes at once but for the delay of 10 s */
    assert_near(event_time_s(PR_REST, 30.0, "link between the batteries closes", 1), 10.0, EVENT_s);
    /* and opens 10 s into a pull, if the voltage is below from the start */
    assert_int_equal(pr_sim_outputs(&system_, &sim_, PR_PULL, &now), PR_OK);
    assert_true(now.post_V[0] < 12.8);
    assert_near(event_time_s(PR_PULL, 30.0, "link between the batteries opens", 1) - 30.0, 10.0,
                EVENT_s);
    assert_int_equal(sim_.modes.link_switches, 2);
}

static void test_relay_forgets_when_the_voltage_comes_back(void **state)
{
    (void)state;
    const pr_system_def def = rig_full(2);
    rig_start(&def, &system_, &sim_);
    rig_run(&system_, &sim_, PR_REST, 60.0, NULL);
    assert_true(sim_.modes.link_closed);
    rig_run(&system_, &sim_, PR_PULL, 5.0, NULL);
    assert_int_equal(sim_.modes.link_pending, -1);
    rig_run(&system_, &sim_, PR_REST, 5.0, NULL);
    assert_int_equal(sim_.modes.link_pending, 0);
    assert_true(sim_.modes.link_closed);
}

static void test_cutoff_opens_after_its_delay(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.has_cutoff[0] = true;
    def.cutoff[0].off_V = 12.0;
    def.cutoff[0].on_V = 13.0;
    def.load[7].behind_cutoff = true;
    def.load[7].def.when = PR_WHEN_ALWAYS;
    rig_start(&def, &system_, &sim_);
    assert_near(event_time_s(PR_PULL, 95.0, "radio off", 1), 90.0, EVENT_s);
    assert_near(event_time_s(PR_REST, 40.0, "radio on", 1) - 95.0, 30.0, EVENT_s);
}

static void test_load_drops_out_and_returns(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.load[7].def.dropout_V = 11.5;
    def.load[7].def.return_V = 12.5;
    rig_start(&def, &system_, &sim_);
    rig_run(&system_, &sim_, PR_PULL, 30.0, NULL);
    assert_true(sim_.modes.load_dropped & pr_set_of(7));
    assert_false(sim_.modes.load_held & pr_set_of(7));
    const pr_phase_end rest = rig_run(&system_, &sim_, PR_REST, 30.0, NULL);
    assert_false(sim_.modes.load_dropped & pr_set_of(7));
    assert_true(rest.last.load_A[7] > 1.0);
}

/* Its own current pulls the voltage below its drop-out; without it the voltage is above its return.
 */
static void test_chattering_load_is_held_off(void **state)
{
    (void)state;
    pr_system_def def = rig_bare(1);
    def.has_alternator = false;
    def.n_loads = 1;
    def.load[0] = rig_load("big lamp", 600.0, 1.0);
    def.load[0].def.when = PR_WHEN_ALWAYS;
    def.load[0].def.dropout_V = 12.2;
    def.load[0].def.return_V = 12.25;
    vehicle_wire(&def, PR_RUN_LOADS, PR_GAUGE_AWG, 10.0, 4.0);
    rig_start(&def, &system_, &sim_);
    const pr_phase_end end = rig_run(&system_, &sim_, PR_ENGINE_OFF, 60.0, NULL);
    assert_int_equal(end.stop, PR_STOP_TIME);
    assert_true(sim_.modes.load_held & pr_set_of(0));
    assert_true(sim_.n_steps < 50);
}

static void test_layer_and_demand_change_on_the_way(void **state)
{
    (void)state;
    pr_system_def def = rig_full(1);
    def.demand.n_segments = 2;
    def.demand.segments[1] = def.demand.segments[0];
    def.demand.segments[0].length_m = 0.3;
    def.demand.segments[1].mire = PR_MIRE_WHEEL;
    rig_start(&def, &system_, &sim_);
    const double hard_N = pr_demand_resistance_N(&def.demand, 0.0, PR_CASE_LIKELY);
    const double easy_N = pr_demand_resistance_N(&def.demand, 0.4, PR_CASE_LIKELY);
    const pr_phase_end end = rig_run(&system_, &sim_, PR_PULL, 30.0, NULL);
    assert_near(end.first.pull_N, pr_rig_fall_line_N(&def.rig, hard_N), 1e-6);
    assert_near(end.last.pull_N, pr_rig_fall_line_N(&def.rig, easy_N), 1e-6);
    assert_true(end.last.travel_m > 0.3);
    /* winding a whole layer: the pull in the line is the same, the amps grow with the layer */
    const int layer = end.last.layer;
    pr_phase_end later = end;
    for (int i = 0; i < 20 && later.last.layer == layer; i++)
        later = rig_run(&system_, &sim_, PR_PULL, 30.0, NULL);
    assert_true(later.last.layer > layer);
    assert_true(later.last.winch_A > end.last.winch_A * 1.02);
}

static void test_profile_is_followed(void **state)
{
    (void)state;
    static const double s[] = {0.0, 2.0, 5.0, 5.5, 20.0}, A[] = {50.0, 300.0, 280.0, 0.0, 0.0};
    pr_system_def def = rig_full(1);
    def.work = PR_WORK_CURRENT;
    def.profile_s = s;
    def.profile_A = A;
    def.n_profile = 5;
    rig_start(&def, &system_, &sim_);
    const pr_phase_end end = rig_run(&system_, &sim_, PR_PULL, 10.0, NULL);
    assert_near(end.first.winch_A, 50.0, 1e-9);
    assert_near(end.extremes.most_winch_A, 300.0, 1e-9);
    /* area under the profile: 350 + 870 + 70 */
    assert_near(pr_sim_ledger(&system_, &sim_, PR_LEDGER_WINCH_As), 1290.0, 1e-6);
}

static int cancel_third(void *context, const pr_system *system, const pr_outputs *outputs,
                        const char *event)
{
    int *calls = context;
    (void)system;
    (void)outputs;
    (void)event;
    return ++*calls == 3;
}

static void test_observer_can_cancel(void **state)
{
    (void)state;
    int calls = 0;
    const pr_system_def def = rig_full(1);
    rig_start(&def, &system_, &sim_);
    const pr_observer observer = {.fn = cancel_third, .context = &calls, .interval_s = 1.0};
    const pr_phase phase = rig_phase(PR_REST, 10.0);
    pr_phase_end end;
    assert_int_equal(pr_sim_run(&system_, &sim_, &phase, NULL, NULL, &observer, &end),
                     PR_ERR_CANCELLED);
    assert_int_equal(calls, 3); /* start, 1 s, 2 s */
    assert_int_equal(end.stop, PR_STOP_FAILED);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_stop_time),
        cmocka_unit_test(test_stop_travel),
        cmocka_unit_test(test_stop_reserve),
        cmocka_unit_test(test_stop_motor_heat),
        cmocka_unit_test(test_stop_cable_heat),
        cmocka_unit_test(test_stop_voltage),
        cmocka_unit_test(test_stop_restart),
        cmocka_unit_test(test_limit_broken_at_the_start),
        cmocka_unit_test(test_extremes_see_both_sides),
        cmocka_unit_test(test_stop_stall),
        cmocka_unit_test(test_stop_stall_as_the_battery_sags),
        cmocka_unit_test(test_stop_rope),
        cmocka_unit_test(test_rope_as_long_as_the_way),
        cmocka_unit_test(test_stop_fuse),
        cmocka_unit_test(test_stop_contactor),
        cmocka_unit_test(test_stop_engine),
        cmocka_unit_test(test_stop_battery_open_by_current),
        cmocka_unit_test(test_engine_dies_with_the_battery_that_opens),
        cmocka_unit_test(test_phase_counts_the_links_moves_and_full_output),
        cmocka_unit_test(test_battery_opens_when_empty_and_comes_back_with_the_alternator),
        cmocka_unit_test(test_stop_failed_on_nonsense),
        cmocka_unit_test(test_stop_failed_when_steps_run_out),
        cmocka_unit_test(test_state_that_is_no_number_is_a_status),
        cmocka_unit_test(test_battery_left_alone_only_recovers),
        cmocka_unit_test(test_thermostat_switches_on_time),
        cmocka_unit_test(test_duty_switches_on_time),
        cmocka_unit_test(test_relay_closes_after_its_delay),
        cmocka_unit_test(test_relay_forgets_when_the_voltage_comes_back),
        cmocka_unit_test(test_cutoff_opens_after_its_delay),
        cmocka_unit_test(test_load_drops_out_and_returns),
        cmocka_unit_test(test_chattering_load_is_held_off),
        cmocka_unit_test(test_layer_and_demand_change_on_the_way),
        cmocka_unit_test(test_profile_is_followed),
        cmocka_unit_test(test_observer_can_cancel),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
