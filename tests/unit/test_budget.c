/* Budgets: sums and steady states against published values, each verdict against a second way to
 * come to it, and what runs over time against the engine alone. */
#include "planner/budget.h"
#include "support/published.h"
#include "test_planner_fixture.h"

static pr_budget *budget_of(const pr_scenario *s)
{
    pr_budget *b = malloc(sizeof *b);
    assert_non_null(b);
    pr_diag diag = pr_diag_init();
    const pr_status status = pr_budget_make(s, b, &diag);
    if (status != PR_OK)
        pr_diag_print(&diag, stderr);
    pr_diag_free(&diag);
    assert_int_equal(status, PR_OK);
    return b;
}

static void situation(pr_scenario *s, double rpm, double ambient_degC, bool hot)
{
    pr_situation *x = &s->situation[s->n_situations++];
    *x = (pr_situation){.engine_rpm = rpm, .ambient_degC = ambient_degC, .hot = hot};
    snprintf(x->name, sizeof x->name, "situation %d", s->n_situations);
    for (int k = 0; k < s->system.n_loads; k++)
        x->load_on[k] = true;
}

static void watts(pr_system_def *def, const char *name, double watts_W, double duty_frac)
{
    fixture_load(def, name, 0.0, PR_WHEN_ENGINE);
    pr_load_def *load = &def->load[def->n_loads - 1].def;
    load->amps_A = NOT_GIVEN;
    load->watts_W = watts_W;
    load->reference_V = 14.0;
    if (duty_frac < 1.0) {
        load->cycling = PR_CYCLE_DUTY;
        load->duty_frac = duty_frac;
        load->period_s = 60.0;
    }
}

static void test_budget_average_of_a_handbook_vehicle(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.n_loads = 0;
    s->system.alternator.set_V = 14.0;
    s->system.alternator.set_V_per_K = 0.0;
    watts(&s->system, "always", 180.0, 1.0);
    watts(&s->system, "prolonged", 260.0, 1.0);
    watts(&s->system, "intermittent", 1700.0, 0.1);
    pr_budget *b = budget_of(s);
    double sum_A = 0.0;
    for (int k = 0; k < b->n_loads; k++)
        sum_A += b->load[k].average_A;
    assert_near(b->charging_V, 14.0, 1e-12);
    pr_published_check("budget-denton-average", sum_A);
    free(b);
    /* the network sums by the average too: as if a tenth of the load were on all the time */
    situation(s, 2000.0, 20.0, false);
    b = budget_of(s);
    const pr_budget_point cycled = b->situation[0].own;
    assert_true(cycled.average_margin_A > cycled.margin_A + 80.0); /* 1530 W at 13 to 14 V */
    free(b);
    s->system.n_loads--;
    watts(&s->system, "steady", 170.0, 1.0);
    b = budget_of(s);
    assert_near(b->situation[0].own.margin_A, cycled.average_margin_A, 1e-9);
    free(b);
    fixture_free(s);
}

static void test_budget_voltage_with_everything_on(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.n_loads = 1;
    s->system.load[0].def.amps_A = 110.0 / 1.6;
    fixture_wire(&s->system, PR_RUN_LOADS, 16.0, 1.0);
    situation(s, 1300.0, 25.0, true);
    pr_budget *b = budget_of(s);
    pr_published_check("budget-all-on-1300", b->situation[0].own.box_V);
    pr_published_check("budget-all-on-1300-posts", b->situation[0].own.post_V);
    assert_true(b->situation[0].own.margin_A > 0.0);
    assert_true(b->alternator.enough);
    free(b);
    fixture_free(s);
}

/* Too many loads: voltage falls towards 12 V, then the engine stops when the engine alone says so.
 */
static void test_budget_over_demand_runs_as_the_engine_does(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    situation(s, 750.0, 25.0, true);
    pr_budget *b = budget_of(s);
    const double gives_A = b->situation[0].own.available_A;
    free(b);
    s->system.n_loads = 1;
    s->system.load[0].def.amps_A = 1.3 * gives_A;
    b = budget_of(s);
    const pr_budget_situation *x = &b->situation[0];
    assert_true(x->own.margin_A < 0.0 && x->own.battery_A < 0.0 && x->own.limited);
    assert_false(b->alternator.enough);
    assert_true(isfinite(x->runs_s) && x->runs_s > 600.0);
    assert_near(x->full_output_frac, 1.0, 1e-9);

    s->system.load[0].def.when = PR_WHEN_ALWAYS;
    s->system.ambient_degC = 25.0;
    s->system.start_winding_degC = x->own.winding_degC;
    pr_sim sim;
    pr_system *system = fixture_start(&s->system, &sim);
    pr_phase_end end = fixture_run(system, &sim, PR_REST, 750.0, 600.0);
    pr_published_check("budget-over-demand", end.last.box_V[0]);
    end = fixture_run(system, &sim, PR_REST, 750.0, 1e5);
    assert_int_equal(end.stop, PR_STOP_ENGINE);
    assert_near(x->runs_s, sim.time_s, 1e-3 * sim.time_s); /* other steps, local error 1e-6 */
    free(system);
    free(b);
    fixture_free(s);
}

static void test_budget_balance_speed_is_where_margin_is_nil(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    fixture_load(&s->system, "heater", 60.0, PR_WHEN_NEVER);
    situation(s, 750.0, 30.0, true);
    pr_budget *b = budget_of(s);
    const double rpm = b->situation[0].balance_rpm;
    assert_true(rpm > 600.0 && rpm < 2000.0);
    assert_near(b->alternator.idle_rpm_needed, rpm, 0.0);
    free(b);
    s->situation[0].engine_rpm = rpm;
    b = budget_of(s);
    assert_near(b->situation[0].own.margin_A, 0.0, 0.2); /* rpm to 1 in 1: about 0.1 A per rpm */
    free(b);
    fixture_free(s);
}

static void test_budget_hot_gives_less_than_cold(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_budget *b = budget_of(s);
    for (int v = 0; v < PR_BUDGET_SPEEDS; v++) {
        const pr_budget_point *cold = &b->situation[0].at[v][PR_BUDGET_COLD];
        const pr_budget_point *hot = &b->situation[0].at[v][PR_BUDGET_HOT];
        assert_true(hot->available_A < cold->available_A);
        assert_true(hot->winding_degC > cold->winding_degC + 20.0);
        /* Kirchhoff at the posts */
        assert_near(hot->alternator_A, hot->load_A + hot->battery_A, 1e-6);
    }
    free(b);
    fixture_free(s);
}

/* The recommended size does what is asked of it, and the next smaller one does not. */
static void test_budget_rating_is_the_least_that_does(void **state)
{
    (void)state;
    static const double below_A[] = {45.0, 45.0, 55.0, 70.0, 90.0, 110.0, 130.0, 160.0, 200.0};
    pr_scenario *s = fixture_new();
    fixture_load(&s->system, "heater", 45.0, PR_WHEN_NEVER);
    pr_budget *b = budget_of(s);
    const double rating_A = b->alternator.recommended_A, load_A = b->alternator.most_load_A;
    assert_near(b->alternator.by_load_A, 1.25 * load_A, 1e-9);
    assert_true(rating_A >= b->alternator.by_load_A && rating_A >= b->alternator.by_idle_A);
    free(b);
    int i = 0;
    while (below_A[i + 1] < rating_A)
        i++;
    s->system.alternator.rated_A = rating_A;
    b = budget_of(s);
    assert_true(b->situation[0].at[PR_BUDGET_IDLE][PR_BUDGET_HOT].margin_A >= 0.0);
    free(b);
    s->system.alternator.rated_A = below_A[i];
    b = budget_of(s);
    assert_true(below_A[i] < 1.25 * load_A ||
                b->situation[0].at[PR_BUDGET_IDLE][PR_BUDGET_HOT].margin_A < 0.0);
    free(b);
    fixture_free(s);
}

static const pr_budget_cable *cable_of(const pr_budget *b, int run)
{
    for (int i = 0; i < b->n_cables; i++)
        if (b->cable[i].run == run)
            return &b->cable[i];
    fail();
}

static const pr_budget_fuse *fuse_of(const pr_budget *b, int run)
{
    for (int i = 0; i < b->n_fuses; i++)
        if (b->fuse[i].run == run)
            return &b->fuse[i];
    fail();
}

/* The pump of the boat builders' example on a wire that is too thin. */
static double pump_gauge(bool essential)
{
    pr_scenario *s = fixture_new();
    s->system.n_loads = 0;
    fixture_load(&s->system, "pump", 10.0, PR_WHEN_ENGINE);
    s->system.load[0].def.essential = essential;
    fixture_wire(&s->system, PR_RUN_FIRST_LOAD, 0.0, 10.5 * 0.3048);
    s->system.run[PR_RUN_FIRST_LOAD].def.gauge_kind = PR_GAUGE_AWG;
    s->system.run[PR_RUN_FIRST_LOAD].def.gauge = 22.0;
    pr_budget *b = budget_of(s);
    const pr_budget_cable *c = cable_of(b, PR_RUN_FIRST_LOAD);
    assert_false(c->drop_ok && c->heat_ok);
    const double gauge = strtod(c->recommended, NULL);
    free(b);
    fixture_free(s);
    return gauge;
}

static void test_budget_recommends_cables_of_the_tables(void **state)
{
    (void)state;
    pr_published_check("budget-drop-10", pump_gauge(false));
    pr_published_check("budget-drop-3", pump_gauge(true));
}

static pr_fusing verdict(double wire_mm2, double load_A, double fuse_A)
{
    pr_scenario *s = fixture_new();
    s->system.n_loads = 0;
    fixture_load(&s->system, "lamp", load_A, PR_WHEN_ENGINE);
    fixture_wire(&s->system, PR_RUN_FIRST_LOAD, wire_mm2, 1.0);
    pr_wire_slot *slot = &s->system.run[PR_RUN_FIRST_LOAD];
    slot->has_fuse = fuse_A > 0.0;
    slot->fuse = pr_fuse_def_family(PR_FUSE_BLADE);
    slot->fuse.rating_A = fuse_A;
    pr_budget *b = budget_of(s);
    const pr_fusing got = fuse_of(b, PR_RUN_FIRST_LOAD)->verdict;
    free(b);
    fixture_free(s);
    return got;
}

static void test_budget_judges_fuses(void **state)
{
    (void)state;
    /* 1.5 mm2 lies between 18 and 14 AWG: 20 to 35 A (33 CFR 183.425, 105 degC) */
    assert_int_equal(verdict(1.5, 5.0, 10.0), PR_FUSING_RIGHT);
    assert_int_equal(verdict(1.5, 9.0, 10.0), PR_FUSING_TIGHT);
    assert_int_equal(verdict(1.5, 12.0, 10.0), PR_FUSING_TOO_SMALL);
    assert_int_equal(verdict(1.5, 5.0, 40.0), PR_FUSING_TOO_BIG);
    assert_int_equal(verdict(1.5, 5.0, 0.0), PR_FUSING_NONE);
}

static void test_budget_winch_cable_and_fuse_are_for_pulls(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_wire_slot *slot = &s->system.run[PR_RUN_WINCH];
    slot->has_fuse = true;
    slot->fuse = pr_fuse_def_default();
    slot->fuse.rating_A = 100.0;
    pr_budget *b = budget_of(s);
    const pr_budget_fuse *f = fuse_of(b, PR_RUN_WINCH);
    assert_int_equal(f->verdict, PR_FUSING_TOO_SMALL);
    assert_near(f->load_A, s->system.motor.rated_A, 0.0);
    const double rating_A = f->recommended_A;
    free(b);
    slot->fuse.rating_A = rating_A;
    b = budget_of(s);
    f = fuse_of(b, PR_RUN_WINCH);
    assert_true(f->verdict == PR_FUSING_PULLS_ONLY || f->verdict == PR_FUSING_RIGHT);
    /* a bigger one that still opens in time: not called right beside a smaller that should be */
    slot->fuse.rating_A = rating_A + 50.0;
    pr_budget *larger = budget_of(s);
    assert_int_equal(fuse_of(larger, PR_RUN_WINCH)->verdict, PR_FUSING_LARGER);
    assert_near(fuse_of(larger, PR_RUN_WINCH)->recommended_A, rating_A, 0.0);
    assert_string_equal(pr_fusing_key(PR_FUSING_LARGER), "larger_than_needed");
    free(larger);
    const pr_budget_cable *c = cable_of(b, PR_RUN_WINCH);
    assert_true(c->pulls_only && c->degC > s->system.ambient_degC && c->degC < 105.0);
    free(b);
    fixture_free(s);
}

/* A cable that no pull would leave whole: said to melt, after the time that heat without loss takes
 * (IEC 60949), and no volts beyond those of a battery. */
static void test_budget_winch_cable_that_melts(void **state)
{
    (void)state;
    static const double awg[] = {14.0, 18.0, 22.0};
    pr_scenario *s = fixture_new();
    pr_wire_slot *slot = &s->system.run[PR_RUN_WINCH];
    slot->def.gauge_kind = PR_GAUGE_AWG;
    for (int i = 0; i < 3; i++) {
        slot->def.gauge = awg[i];
        pr_budget *b = budget_of(s);
        const pr_budget_cable *c = cable_of(b, PR_RUN_WINCH);
        assert_true(c->melts && !c->heat_ok && !c->drop_ok);
        assert_near(c->degC, 1084.62, 0.0);
        assert_near(c->drop_V, 12.0, 0.0);
        assert_near(c->drop_frac, 1.0, 0.0);
        /* 1084.62 degC by t = (S k / I)^2; loss of heat adds little in so few seconds, and the
         * answer is a multiple of a 600th of the pull */
        const double air_degC =
            s->system.ambient_degC + (slot->def.engine_space ? s->system.engine_space_rise_K : 0.0);
        const double step_s = s->system.motor.rated_time_s / 600.0;
        const double root = pr_wire_adiabatic_k(air_degC, 1084.62) *
                            pr_wire_area_mm2(PR_GAUGE_AWG, awg[i]) / c->amps_A;
        print_message("%g AWG at %.0f A melts after %.2f s, without loss %.2f s\n", awg[i],
                      c->amps_A, c->melts_s, root * root);
        assert_true(c->melts_s > 0.9 * root * root &&
                    c->melts_s < 1.1 * root * root + 2.0 * step_s);
        assert_true(c->recommended[0] != '\0' || c->none_fits);
        free(b);
    }
    /* a load that goes on for ever: no time is told */
    fixture_load(&s->system, "heater", 200.0, PR_WHEN_ENGINE);
    const int run = PR_RUN_FIRST_LOAD + s->system.n_loads - 1;
    fixture_wire(&s->system, (pr_run_role)run, 1.0, 2.0);
    situation(s, 2000.0, 25.0, false);
    pr_budget *b = budget_of(s);
    const pr_budget_cable *c = cable_of(b, run);
    assert_true(c->melts && c->melts_s == 0.0 && c->drop_V <= 12.0);
    assert_false(cable_of(b, PR_RUN_ALTERNATOR)->melts);
    assert_true(isnan(cable_of(b, PR_RUN_ALTERNATOR)->melts_s));
    free(b);
    fixture_free(s);
}

/* Limp home: a constant current from the battery alone, as the battery's own function has it. */
static void test_budget_limp_home_like_a_bare_battery(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.ambient_degC = 25.0;
    s->system.n_loads = 1;
    s->system.load[0].def.exponent = 0.0;
    s->system.load[0].def.amps_A = 15.0;
    s->system.load[0].def.dropout_V = 10.5;
    s->system.load[0].def.return_V = 11.0;
    pr_budget *b = budget_of(s);
    pr_battery battery;
    assert_int_equal(pr_battery_derive(&s->system.battery[0], &battery), PR_OK);
    double time_s;
    assert_int_equal(pr_battery_discharge_time_s(&battery,
                                                 pr_battery_state_rested(&battery, 0.95, 25.0),
                                                 -15.0, 10.5, 1e6, &time_s, NULL),
                     PR_OK);
    print_message("limp %.0f s, battery alone %.0f s\n", b->limp_s, time_s);
    assert_near(b->limp_s, time_s, 0.01 * time_s); /* the battery warms a little in the engine */
    free(b);
    fixture_free(s);
}

/* A relay that would close counts as closed: the alternator carries the second battery's loads. */
static void test_budget_relay_has_closed(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_system_def *def = &s->system;
    def->n_batteries = 2;
    def->battery[1] = def->battery[0];
    def->start_soc_frac[1] = 0.9;
    def->link = pr_link_def_default(PR_LINK_RELAY);
    fixture_wire(def, PR_RUN_LINK, 35.0, 1.0);
    fixture_load(def, "fridge", 6.0, PR_WHEN_ALWAYS);
    def->load[def->n_loads - 1].post = PR_POST_SECOND;
    pr_budget *b = budget_of(s);
    const pr_budget_point *p = &b->situation[0].own;
    assert_near(p->alternator_A, p->load_A + p->battery_A, 1e-6);
    assert_true(p->battery_A > 0.0);
    assert_true(cable_of(b, PR_RUN_LINK)->amps_A > 6.0);
    free(b);
    fixture_free(s);
}

/* It runs on at a low voltage, but what is left would not crank it: told with the moment. */
static void test_budget_tells_when_it_would_not_crank(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    situation(s, 750.0, 25.0, true);
    pr_budget *b = budget_of(s);
    assert_true(isinf(b->situation[0].no_restart_s) && isinf(b->situation[0].runs_s));
    const double gives_A = b->situation[0].own.available_A;
    free(b);
    s->system.load[0].def.dropout_V = 6.0; /* the engine computer bears nearly anything */
    s->system.load[0].def.return_V = 6.5;
    s->system.load[1].def.amps_A = gives_A - 5.0;
    b = budget_of(s);
    const pr_budget_situation *x = &b->situation[0];
    print_message("would not crank after %.0f s, runs %.0f s\n", x->no_restart_s, x->runs_s);
    assert_true(isinf(x->runs_s));
    assert_true(x->no_restart_s > 600.0 && x->no_restart_s < 86400.0);
    assert_true(x->soc_per_hour_frac < -0.01);
    free(b);
    fixture_free(s);
}

/* The winch on a second battery, helped through a thin cable. */
static pr_scenario *winch_on_second(double link_mm2, double fuse_A)
{
    pr_scenario *s = fixture_new();
    pr_system_def *def = &s->system;
    def->n_batteries = 2;
    def->battery[1] = def->battery[0];
    def->start_soc_frac[1] = 0.9;
    def->link = pr_link_def_default(PR_LINK_SWITCH);
    def->switch_rule = PR_SWITCH_CLOSED;
    def->winch_post = PR_POST_SECOND;
    fixture_wire(def, PR_RUN_LINK, link_mm2, 2.0);
    def->run[PR_RUN_LINK].has_fuse = true;
    def->run[PR_RUN_LINK].fuse = pr_fuse_def_default();
    def->run[PR_RUN_LINK].fuse.rating_A = fuse_A;
    return s;
}

/* No less than what the same rig's own pull sends through the link, by the engine alone. */
static void test_budget_link_carries_a_pull(void **state)
{
    (void)state;
    pr_scenario *s = winch_on_second(6.0, 60.0);
    pr_budget *b = budget_of(s);
    const pr_budget_cable *c = cable_of(b, PR_RUN_LINK);
    const pr_budget_fuse *f = fuse_of(b, PR_RUN_LINK);
    s->system.rig.parts = 2;
    s->system.run[PR_RUN_LINK].has_fuse = false; /* it would open */
    pr_sim sim;
    pr_system *system = fixture_start(&s->system, &sim);
    const pr_phase_end end = fixture_run(system, &sim, PR_PULL, s->system.max_rpm, 60.0);
    print_message("link: budget %.1f A, the pull %.1f A at %.0f A in the winch, cable %.1f A\n",
                  c->amps_A, end.extremes.most_link_A, end.extremes.most_winch_A, c->ampacity_A);
    assert_true(end.extremes.most_winch_A < s->system.motor.rated_A);
    assert_true(end.extremes.most_link_A > 30.0);
    assert_true(c->amps_A >= end.extremes.most_link_A);
    assert_true(c->amps_A > c->ampacity_A &&
                c->pulls_only); /* so it is more than it may for long */
    assert_near(f->load_A, c->amps_A, 0.0);
    assert_true(f->recommended_A > c->steady_A && !(f->recommended_A < 40.0));
    assert_int_not_equal(f->verdict, PR_FUSING_RIGHT);
    free(system);
    free(b);
    fixture_free(s);
}

/* Without a winch: what the emptier battery takes, for hours. */
static void test_budget_link_without_a_winch(void **state)
{
    (void)state;
    pr_scenario *s = winch_on_second(6.0, 60.0);
    s->system.has_winch = false;
    s->system.run[PR_RUN_WINCH].present = false;
    s->system.winch_post = PR_POST_MAIN;
    s->system.start_soc_frac[1] = 0.4;
    pr_budget *b = budget_of(s);
    const pr_budget_cable *c = cable_of(b, PR_RUN_LINK);
    assert_true(c->amps_A > 20.0 && c->amps_A < 110.0);
    assert_near(c->steady_A, c->amps_A, 0.0);
    assert_false(c->pulls_only);
    free(b);
    fixture_free(s);
}

/* Where a usual fuse is above a pull and below what the cable carries, that one is asked for. */
static void test_budget_link_of_thick_cable(void **state)
{
    (void)state;
    pr_scenario *s = winch_on_second(35.0, 300.0);
    s->system.winch_post = PR_POST_MAIN; /* the second only helps */
    s->system.start_soc_frac[1] = 0.7;
    pr_budget *b = budget_of(s);
    const pr_budget_cable *c = cable_of(b, PR_RUN_LINK);
    const pr_budget_fuse *f = fuse_of(b, PR_RUN_LINK);
    assert_true(c->amps_A < c->ampacity_A);
    assert_int_equal(f->verdict, PR_FUSING_TOO_BIG);
    assert_true(0.8 * f->recommended_A >= c->amps_A && f->recommended_A <= c->ampacity_A);
    free(b);
    s->system.switch_rule = PR_SWITCH_OPEN; /* closed by hand one day */
    b = budget_of(s);
    assert_true(cable_of(b, PR_RUN_LINK)->amps_A > 50.0);
    free(b);
    s->system.battery[0].c20_Ah = s->system.battery[1].c20_Ah = 12.0; /* too small for the winch */
    s->system.battery[0].cca_A = s->system.battery[1].cca_A = 150.0;
    s->system.battery[0].rc_min = s->system.battery[1].rc_min = NOT_GIVEN;
    b = budget_of(s);
    assert_true(isfinite(cable_of(b, PR_RUN_LINK)->amps_A));
    free(b);
    fixture_free(s);
}

static void test_budget_without_alternator_or_loads(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.has_alternator = false;
    s->system.run[PR_RUN_ALTERNATOR].present = false;
    pr_budget *b = budget_of(s);
    assert_false(b->alternator.enough);
    assert_true(isnan(b->alternator.rated_A));
    assert_true(b->situation[0].own.margin_A < 0.0);
    assert_true(isfinite(b->situation[0].runs_s));
    free(b);
    s->system.n_loads = 0;
    b = budget_of(s);
    assert_near(b->alternator.most_load_A, 0.0, 0.0);
    assert_false(b->stops_by_load);
    assert_true(isinf(b->limp_s));
    free(b);
    fixture_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_budget_average_of_a_handbook_vehicle),
        cmocka_unit_test(test_budget_voltage_with_everything_on),
        cmocka_unit_test(test_budget_over_demand_runs_as_the_engine_does),
        cmocka_unit_test(test_budget_balance_speed_is_where_margin_is_nil),
        cmocka_unit_test(test_budget_hot_gives_less_than_cold),
        cmocka_unit_test(test_budget_rating_is_the_least_that_does),
        cmocka_unit_test(test_budget_recommends_cables_of_the_tables),
        cmocka_unit_test(test_budget_judges_fuses),
        cmocka_unit_test(test_budget_winch_cable_and_fuse_are_for_pulls),
        cmocka_unit_test(test_budget_winch_cable_that_melts),
        cmocka_unit_test(test_budget_limp_home_like_a_bare_battery),
        cmocka_unit_test(test_budget_relay_has_closed),
        cmocka_unit_test(test_budget_tells_when_it_would_not_crank),
        cmocka_unit_test(test_budget_link_carries_a_pull),
        cmocka_unit_test(test_budget_link_without_a_winch),
        cmocka_unit_test(test_budget_link_of_thick_cable),
        cmocka_unit_test(test_budget_without_alternator_or_loads),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
