/* What a scenario file says arrives in the scenario: values, catalogue entries with overrides,
 * defaults and their list, loads, cables, schedule, situations. Expected numbers are those of the
 * text above each check, converted by definition (standard gravity 9.80665 m/s2). */
#include "planner/plan.h"
#include "test_reader_support.h"

#include <math.h>

#define BASE  "battery: flooded-70-starter\nalternator: plate-110\n"
#define STUCK BASE "vehicle: {weight: 2 t}\nwinch: series-9500\n"

static void test_read_values_in_si(void **state)
{
    (void)state;
    pr_scenario *s =
        take_scenario("# Does it work?\n# Second line.\n\n# not this\n"
                      "title: A title, \xc3\xa4 too\n"
                      "air_temperature: 20 degF\n"
                      "vehicle: {weight: 5800 lb}\n"
                      "engine: {class: diesel 6, idle: 700 rpm, attempts: 4, least_charge: 45 %}\n"
                      "battery:\n"
                      "  chemistry: AGM\n"
                      "  plates: deep cycle\n"
                      "  capacity: 100 Ah\n"
                      "  reserve_capacity: 3 h\n"
                      "  cold_cranking: 0.7 kA\n"
                      "  cold_cranking_standard: EN\n"
                      "  state_of_charge: 80 %\n"
                      "alternator: {rated_current: 90 A, sensing: battery,\n"
                      "  set_voltage_slope: -3.5 mV/K}\n"
                      "limits: {lowest_voltage: 10 V, reserve: 60 %}\n"
                      "plan: {pull: 0.5 min, longest_total: 90 min, rest_engine: idle}\n");
    assert_string_equal(s->title, "A title, \xc3\xa4 too");
    assert_string_equal(s->question, "Does it work? Second line.");
    assert_near(s->system.ambient_degC, (20.0 - 32.0) / 1.8, 1e-12);
    assert_near(s->system.demand.weight_N, 5800 * 0.45359237 * 9.80665, 1e-8);
    assert_int_equal(s->system.cranking.engine, PR_ENGINE_DIESEL_6);
    assert_int_equal(s->system.cranking.attempts, 4);
    assert_near(s->system.cranking.least_soc_frac, 0.45, 1e-15);
    assert_int_equal(s->system.battery[0].chemistry, PR_AGM);
    assert_int_equal(s->system.battery[0].plates, PR_PLATES_THICK);
    assert_near(s->system.battery[0].rc_min, 180.0, 1e-9);
    assert_near(s->system.battery[0].cca_A, 700.0, 1e-9);
    assert_int_equal(s->system.battery[0].cca_standard, PR_CCA_EN);
    assert_near(s->system.start_soc_frac[0], 0.8, 1e-15);
    assert_int_equal(s->system.alternator.sensing, PR_SENSE_BATTERY);
    assert_near(s->system.alternator.set_V_per_K, -0.0035, 1e-15);
    assert_near(s->plan.bus_min_V, 10.0, 0.0);
    assert_near(s->plan.reserve_frac, 0.6, 1e-15);
    assert_near(s->plan.pull_s, 30.0, 1e-12);
    assert_near(s->plan.total_max_s, 5400.0, 1e-9);
    assert_near(s->plan.rest_rpm, 700.0, 0.0); /* idle: of this engine */
    assert_false(s->system.has_winch);
    assert_string_equal(s->battery_name[0], "as given");
    drop_scenario(s);
}

static void test_catalogue_entry_with_overrides(void **state)
{
    (void)state;
    pr_scenario *s = take_scenario("battery: {use: Flooded 70 starter, capacity: 75 Ah}\n"
                                   "alternator: {use: plate_110, pulley_ratio: \"3:1\"}\n");
    assert_near(s->system.battery[0].c20_Ah, 75.0, 0.0);    /* overridden */
    assert_near(s->system.battery[0].rc_min, 120.0, 1e-12); /* the entry's */
    assert_near(s->system.alternator.pulley_ratio, 3.0, 0.0);
    assert_null(find_spread(s, "battery.capacity")); /* a plain number has none */
    assert_null(find_spread(s, "alternator.pulley_ratio"));
    assert_non_null(find_spread(s, "alternator.low_current"));
    assert_non_null(strstr(find_assumption(s, "battery")->source, "catalogue, "));
    drop_scenario(s);
}

static void test_defaults_are_listed(void **state)
{
    (void)state;
    pr_scenario *s = take_scenario(BASE);
    const pr_assumption *a = find_assumption(s, "battery.health");
    assert_non_null(a);
    assert_string_equal(a->value, "100 %");
    assert_non_null(find_assumption(s, "engine.class"));
    assert_non_null(find_assumption(s, "air_temperature"));
    assert_string_equal(find_assumption(s, "cables.alternator")->value,
                        "6 AWG, 1.5 m, chassis return");
    assert_non_null(find_assumption(s, "loads"));        /* none is a default, and a kind one */
    assert_null(find_assumption(s, "battery.capacity")); /* the entry gave it */
    assert_null(find_assumption(s, "battery.bms_low"));  /* no business of a lead battery */
    drop_scenario(s);
    s = take_scenario("battery: {use: flooded-70-starter, health: 90 %}\nalternator: none\n"
                      "loads: none\n");
    assert_null(find_assumption(s, "loads"));          /* said */
    assert_null(find_assumption(s, "battery.health")); /* given */
    assert_null(find_spread(s, "battery.health"));
    assert_false(s->system.has_alternator);
    assert_false(s->system.run[PR_RUN_ALTERNATOR].present);
    drop_scenario(s);
}

static void test_cables_given_assumed_and_none(void **state)
{
    (void)state;
    pr_scenario *s = take_scenario(
        STUCK
        "recovery: {surface: grass, distance: 5 m}\n"
        "cables:\n"
        "  winch: {use: 35-mm2, length: 8 ft, joints: 6, fuse: {use: bolt-down, rating: 400 A}}\n"
        "  alternator: none\n"
        "  loads: {size: 2/0 AWG, length: 1 m, return: chassis, fuse: 150 A}\n");
    const pr_wire_slot *winch = &s->system.run[PR_RUN_WINCH];
    assert_true(winch->present);
    assert_int_equal(winch->def.gauge_kind, PR_GAUGE_MM2);
    assert_near(winch->def.gauge, 35.0, 0.0);
    assert_near(winch->def.length_m, 8 * 0.3048, 1e-12);
    assert_int_equal(winch->def.joints, 6);
    assert_true(winch->has_fuse);
    assert_near(winch->fuse.rating_A, 400.0, 0.0);
    assert_false(s->system.run[PR_RUN_ALTERNATOR].present);
    assert_near(s->system.run[PR_RUN_LOADS].def.gauge, -1.0, 0.0);
    assert_int_equal(s->system.run[PR_RUN_LOADS].def.return_kind, PR_RETURN_CHASSIS);
    assert_near(s->system.run[PR_RUN_LOADS].fuse.rating_A, 150.0, 0.0);
    assert_false(s->system.run[PR_RUN_LINK].present);
    drop_scenario(s);
    /* nothing said: a usual cable, by the winch's amps */
    s = take_scenario(STUCK "recovery: {surface: grass, distance: 5 m}\n");
    assert_true(s->system.run[PR_RUN_WINCH].present);
    assert_near(s->system.run[PR_RUN_WINCH].def.gauge, 2.0, 0.0);
    assert_non_null(find_assumption(s, "cables.winch"));
    drop_scenario(s);
}

static void test_loads_list_and_map(void **state)
{
    (void)state;
    static const char *const texts[] = {
        BASE "loads:\n  - fuel-pump\n"
             "  - {use: headlamps-halogen, when: never, quantity: 4}\n"
             "  - {name: box, power: 60 W, when: [pulling, resting], drop_out: 10 V,\n"
             "     cable: {size: 4 mm2, length: 3 m, fuse: {use: blade, rating: 15 A}}}\n",
        BASE "loads:\n  fuel-pump:\n"
             "  headlamps-halogen: {when: never, quantity: 4}\n"
             "  box: {power: 60 W, when: [pulling, resting], drop_out: 10 V,\n"
             "     cable: {size: 4 mm2, length: 3 m, fuse: {use: blade, rating: 15 A}}}\n"};
    for (int i = 0; i < 2; i++) {
        pr_scenario *s = take_scenario(texts[i]);
        assert_int_equal(s->system.n_loads, 3);
        const pr_named_load *load = s->system.load;
        assert_string_equal(load[0].name, "fuel-pump");
        assert_true(load[0].def.stops_engine);
        assert_int_equal(load[1].def.when, PR_WHEN_NEVER);
        assert_int_equal(load[1].def.quantity, 4);
        assert_near(load[1].def.watts_W, 55.0, 0.0);
        assert_string_equal(load[2].name, "box");
        assert_int_equal(load[2].def.when, PR_WHEN_PULLING | PR_WHEN_RESTING);
        assert_near(load[2].def.return_V, 10.5, 1e-12); /* half a volt above drop-out */
        assert_true(s->system.run[PR_RUN_FIRST_LOAD + 2].present);
        assert_near(s->system.run[PR_RUN_FIRST_LOAD + 2].def.gauge, 4.0, 0.0);
        assert_near(s->system.run[PR_RUN_FIRST_LOAD + 2].fuse.rating_A, 15.0, 0.0);
        drop_scenario(s);
    }
}

static void test_load_current_replaces_power_of_catalogue(void **state)
{
    (void)state;
    pr_scenario *s = take_scenario(BASE "loads: [{use: headlamps-halogen, current: 9 A}]\n");
    assert_near(s->system.load[0].def.amps_A, 9.0, 0.0);
    assert_true(isnan(s->system.load[0].def.watts_W));
    drop_scenario(s);
}

static void test_load_cycling(void **state)
{
    (void)state;
    pr_scenario *s = take_scenario(
        BASE "loads:\n"
             "  - {name: a, current: 1 A, duty: 30 %}\n"
             "  - {name: b, current: 1 A, on_at: 95 degC, off_at: 90 degC, drift: 6 K/min,\n"
             "     pull_back: 12 K/min}\n"
             "  - {name: c, current: 1 A, duty: 100 %}\n");
    assert_int_equal(s->system.load[0].def.cycling, PR_CYCLE_DUTY);
    assert_near(s->system.load[0].def.period_s, 60.0, 0.0);
    assert_int_equal(s->system.load[1].def.cycling, PR_CYCLE_THERMOSTAT);
    assert_near(s->system.load[1].def.warming_K_per_s, 0.1, 1e-12);
    assert_near(s->system.load[1].def.start_degC, 90.0, 1e-9);
    assert_int_equal(s->system.load[2].def.cycling, PR_CYCLE_NONE);
    drop_scenario(s);
}

static void test_two_batteries_and_link(void **state)
{
    (void)state;
    pr_scenario *s = take_scenario(
        BASE "second_battery: {use: agm-55-dual, state_of_charge: 70 %, temperature: 5 degC}\n"
             "link: {use: relay-13.4, open_delay: 5 s}\n"
             "second_cutoff: {off_voltage: 11 V}\n"
             "engine: {use: petrol-4, starter: main}\n"
             "loads: [{use: fridge, fed_from: second}]\n");
    assert_int_equal(s->system.n_batteries, 2);
    assert_near(s->system.start_soc_frac[1], 0.7, 1e-15);
    assert_near(s->system.start_battery_degC[1], 5.0, 1e-12);
    assert_true(isnan(s->system.start_battery_degC[0]));
    assert_int_equal(s->system.link.kind, PR_LINK_RELAY);
    assert_near(s->system.link.close_V, 13.4, 1e-12);
    assert_near(s->system.link.open_delay_s, 5.0, 0.0);
    assert_true(s->system.has_cutoff[1] && !s->system.has_cutoff[0]);
    assert_int_equal(s->system.load[0].post, PR_POST_SECOND);
    assert_true(s->system.load[0].behind_cutoff);
    assert_true(s->system.run[PR_RUN_LINK].present); /* assumed */
    assert_non_null(find_spread(s, "second_battery.capacity"));
    drop_scenario(s);
}

static void test_rest_voltage_gives_charge(void **state)
{
    (void)state;
    /* Discover Battery table: 12.45 V rested is 75 % (25 degC) */
    pr_scenario *s = take_scenario(
        "battery: {use: flooded-70-starter, rest_voltage: 12.45 V}\nalternator: none\n");
    assert_near(s->system.start_soc_frac[0], 0.75, 0.02);
    drop_scenario(s);
}

/* A voltmeter that reads less than empty: an answer and one warning, not an error of the file. */
static void test_rest_voltage_of_a_flat_battery_warns(void **state)
{
    (void)state;
    static const char *const texts[] = {
        "battery: {use: flooded-70-starter, rest_voltage: 11.0 V}\nalternator: none\n"
        "variants:\n  cold: {air_temperature: 25 degC}\n",
        "battery: {use: flooded-70-starter, rest_voltage: 8.2 V}\nalternator: none\n"};
    for (int i = 0; i < 2; i++) {
        pr_scenario *s = malloc(sizeof *s);
        assert_non_null(s);
        pr_diag diag = pr_diag_init();
        assert_int_equal(
            pr_scenario_read_text("text", texts[i], strlen(texts[i]), &reader_options, s, &diag),
            PR_OK);
        assert_near(s->system.start_soc_frac[0], 0.0, 0.0);
        assert_int_equal(diag.count, 1);
        assert_int_equal(diag.entries[0].severity, PR_WARNING);
        assert_non_null(strstr(diag.entries[0].text, "flat, 0 % is used"));
        assert_non_null(strstr(diag.entries[0].text, "jump-start and charge it"));
        assert_int_equal(strstr(diag.entries[0].text, "a cell may be dead") != NULL, i == 1);
        pr_diag_free(&diag);
        drop_scenario(s);
    }
}

/* The longest default text is kept whole. */
static void test_assumption_is_not_cut(void **state)
{
    (void)state;
    pr_scenario *s = take_scenario(STUCK "recovery: {surface: gravel, distance: 8 m}\n");
    const pr_assumption *a = find_assumption(s, "limits.lowest_voltage");
    assert_non_null(a);
    const char *end = "stops the engine, else 10.5 V";
    assert_string_equal(a->value + strlen(a->value) - strlen(end), end);
    drop_scenario(s);
}

static void test_recovery_single_way(void **state)
{
    (void)state;
    pr_scenario *s = take_scenario(
        STUCK "recovery: {surface: gravel, slope: \"1:8\", distance: 80 ft, damage: 67 %,\n"
              "  margin: 10 %, anchor_distance: 22 m, leg_angle: 60 deg, block_rating: 5 t}\n"
              "plan: {pulls: 3}\n");
    const pr_demand_def *d = &s->system.demand;
    assert_int_equal(s->system.work, PR_WORK_DEMAND);
    assert_int_equal(d->n_segments, 1);
    assert_near(d->segments[0].length_m, 80 * 0.3048, 1e-12);
    assert_near(d->segments[0].slope_rad, atan(0.125), 1e-15);
    assert_near(d->segments[0].surface_frac[PR_CASE_LIKELY], 0.25, 1e-12); /* Army, 1/4 */
    assert_true(d->segments[0].surface_frac[PR_CASE_LOW] < 0.25);
    assert_near(d->damage_frac, 0.67, 1e-12);
    assert_near(d->margin_frac, 0.10, 1e-12);
    assert_near(s->system.rig.block_rating_N, 5000 * 9.80665, 1e-8);
    assert_near(s->system.rig.leg_angle_deg, 60.0, 1e-12);
    assert_string_equal(s->surface_name, "gravel");
    assert_int_equal(s->plan.pulls, 3);
    drop_scenario(s);
}

static void test_recovery_steps(void **state)
{
    (void)state;
    pr_scenario *s =
        take_scenario(STUCK "recovery:\n  surface: grass\n  mire_method: army\n  steps:\n"
                            "    - {length: 4 m, mire: hub}\n"
                            "    - {length: 6 m, slope: 5 %}\n"
                            "    - {length: 9 m, surface: {rolling_resistance: 30 %}}\n");
    const pr_demand_def *d = &s->system.demand;
    assert_int_equal(d->n_segments, 3);
    assert_int_equal(d->mire_method, PR_MIRE_ARMY);
    assert_int_equal(d->segments[0].mire, PR_MIRE_HUB);
    assert_near(d->segments[1].surface_frac[PR_CASE_LIKELY], 1.0 / 7.0, 1e-6); /* Army, grass */
    assert_near(d->segments[2].surface_frac[PR_CASE_LOW], 0.30, 1e-12);
    assert_near(d->segments[2].surface_frac[PR_CASE_HIGH], 0.30, 1e-12);
    assert_near(d->segments[1].length_m + d->segments[2].length_m, 15.0, 1e-12);
    drop_scenario(s);
}

static void test_recovery_by_current(void **state)
{
    (void)state;
    pr_scenario *s =
        take_scenario(STUCK "recovery: {current: 300 A}\nplan: {pulls: 10, pull: 40 s}\n");
    assert_int_equal(s->system.work, PR_WORK_CURRENT);
    assert_near(s->system.pull_A, 300.0, 0.0);
    assert_int_equal(s->system.n_profile, 0);
    drop_scenario(s);
    s = take_scenario(STUCK "recovery: {profile: profile-good.csv}\nplan: {pulls: 10}\n");
    assert_int_equal(s->system.n_profile, 4);
    assert_near(s->system.profile_s[3], 30.0, 0.0);
    assert_near(s->system.profile_A[1], 310.0, 0.0);
    drop_scenario(s);
}

static void test_schedule(void **state)
{
    (void)state;
    pr_scenario *s = take_scenario(BASE "engine: {idle: 750 rpm, fast_idle: 1600 rpm}\n"
                                        "loads: [fuel-pump, headlamps-halogen]\n"
                                        "schedule:\n"
                                        "  - {rest: 1 min, engine: off}\n"
                                        "  - repeat: 5\n"
                                        "    steps:\n"
                                        "      - {pull: 40 s, switch_off: [headlamps-halogen]}\n"
                                        "      - {rest: 140 s, engine: idle}\n"
                                        "  - {pull: 20 s, engine: off, distance: 3 m}\n"
                                        "  - {crank: 5 s}\n");
    const pr_schedule_entry *e = s->schedule;
    assert_int_equal(s->n_schedule, 5);
    assert_int_equal(e[0].phase.activity, PR_ENGINE_OFF);
    assert_int_equal(e[1].phase.activity, PR_PULL);
    assert_int_equal(e[1].repeat, 5);
    assert_int_equal(e[1].group, e[2].group);
    assert_int_not_equal(e[0].group, e[1].group);
    assert_int_equal(e[1].phase.load_off_mask_lo, 2);
    assert_near(e[1].phase.engine_rpm, 1600.0, 0.0);
    assert_near(e[2].phase.engine_rpm, 750.0, 0.0);
    assert_near(e[2].phase.duration_s, 140.0, 0.0);
    assert_int_equal(e[3].phase.activity, PR_PULL_ENGINE_OFF);
    assert_near(e[3].phase.stop_travel_m, 3.0, 0.0);
    assert_true(isnan(e[1].phase.stop_travel_m));
    assert_int_equal(e[4].phase.activity, PR_CRANK);
    drop_scenario(s);
}

/* A repeated group runs as a whole, over and over: pull, rest, pull, rest, and not pull, pull. */
static void test_schedule_repeats_a_group_as_a_whole(void **state)
{
    (void)state;
    pr_scenario *s = take_scenario(BASE "schedule:\n"
                                        "  - repeat: 3\n"
                                        "    steps: [{pull: 10 s}, {rest: 20 s}]\n");
    static const double lasts_s[] = {10.0, 20.0, 10.0, 20.0, 10.0, 20.0};
    enum { N = sizeof lasts_s / sizeof *lasts_s };
    pr_phase_end ends[N];
    size_t n = 0;
    assert_true(s->schedule[0].group > 0); /* 0: an entry of its own, repeated alone */
    assert_int_equal(pr_schedule_run(s, NULL, ends, N, &n, NULL), PR_OK);
    assert_int_equal(n, N);
    for (size_t i = 0; i < n; i++)
        assert_near(ends[i].last.time_s - ends[i].first.time_s, lasts_s[i], 1e-9);
    drop_scenario(s);
}

static void test_situations(void **state)
{
    (void)state;
    pr_scenario *s =
        take_scenario(BASE "engine: {idle: 700 rpm}\nair_temperature: 30 degC\n"
                           "loads: [fuel-pump, headlamps-halogen, heated-rear-window]\n");
    assert_int_equal(s->n_situations, 5); /* day, night, hot, cold, everything */
    assert_true(s->situation[0].load_on[0] && !s->situation[0].load_on[1]);
    assert_true(s->situation[1].load_on[1]);
    assert_true(s->situation[3].load_on[2] && !s->situation[2].load_on[2]);
    assert_near(s->situation[0].ambient_degC, 30.0, 1e-12);
    drop_scenario(s);
    s = take_scenario(BASE "loads: [fuel-pump, headlamps-halogen]\nsituations:\n"
                           "  dark: {without: [fuel-pump], air_temperature: -5 degC, hot: yes,\n"
                           "    engine: fast idle}\n"
                           "  bright: {loads: [fuel-pump]}\n");
    assert_int_equal(s->n_situations, 2);
    assert_string_equal(s->situation[0].name, "dark");
    assert_true(!s->situation[0].load_on[0] && s->situation[0].load_on[1] && s->situation[0].hot);
    assert_near(s->situation[0].engine_rpm, s->system.fast_idle_rpm, 0.0);
    assert_true(s->situation[1].load_on[0] && !s->situation[1].load_on[1]);
    drop_scenario(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_read_values_in_si),
        cmocka_unit_test(test_catalogue_entry_with_overrides),
        cmocka_unit_test(test_defaults_are_listed),
        cmocka_unit_test(test_cables_given_assumed_and_none),
        cmocka_unit_test(test_loads_list_and_map),
        cmocka_unit_test(test_load_current_replaces_power_of_catalogue),
        cmocka_unit_test(test_load_cycling),
        cmocka_unit_test(test_two_batteries_and_link),
        cmocka_unit_test(test_rest_voltage_gives_charge),
        cmocka_unit_test(test_rest_voltage_of_a_flat_battery_warns),
        cmocka_unit_test(test_assumption_is_not_cut),
        cmocka_unit_test(test_recovery_single_way),
        cmocka_unit_test(test_recovery_steps),
        cmocka_unit_test(test_recovery_by_current),
        cmocka_unit_test(test_schedule),
        cmocka_unit_test(test_schedule_repeats_a_group_as_a_whole),
        cmocka_unit_test(test_situations),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
