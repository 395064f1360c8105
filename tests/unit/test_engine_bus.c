/* The network against circuits solved by hand and against plain bracketing. */
#include "test_engine_rig.h"

#include "engine/frame.h"

/* A network of ideal parts: batteries e behind r, everything else absent. */
typedef struct circuit {
    pr_system system;
    pr_bus bus;
    pr_bus_laws laws;
    double node_V[PR_NODES];
    pr_bus_flows flows;
} circuit;

static circuit circuit_make(int n_posts)
{
    circuit c = {.bus = {.n_posts = n_posts}};
    c.system.def.n_batteries = n_posts;
    for (int p = 0; p < PR_POSTS; p++) {
        c.bus.battery_open[p] = p >= n_posts;
        c.laws.battery[p] = (pr_battery_branch){.e_V = 12.0,
                                                .r0_ohm = 0.01,
                                                .r0_charge_ohm = 0.01,
                                                .accept_A = 1e12,
                                                .accept_cap_A = 1e12};
    }
    for (int n = 0; n < PR_NODES; n++)
        c.node_V[n] = 12.0;
    return c;
}

static void circuit_solve(circuit *c)
{
    c->bus.system = &c->system;
    c->bus.alternator = c->laws.alternator;
    pr_bus_find_paths(&c->bus);
    assert_int_equal(pr_bus_solve(&c->bus, &c->laws, c->node_V, &c->flows), PR_OK);
    for (int p = 0; p < c->bus.n_posts; p++)
        assert_near(pr_bus_residual_A(&c->bus, &c->flows, p), 0.0, 1e-9);
}

/* One load as a group of its own, seen by the box of a post. */
static void circuit_group(circuit *c, int post, pr_load *load, double exponent)
{
    *load = (pr_load){.def = pr_load_def_default(), .i0_A = 10.0};
    load->def.exponent = exponent;
    c->bus.load[0] = (pr_bus_load){.load = load, .wire_at = -1, .since_s = -1e9, .power = -1};
    c->bus.n_loads = 1;
    c->bus.group[0] = (pr_bus_group){.exponent = exponent,
                                     .power = -1,
                                     .scale = 10.0 * pow(13.5, -exponent),
                                     .floor_V = exponent < 1.0 ? 0.6 * 13.5 : 0.0,
                                     .first = 0,
                                     .end = 1};
    for (int p = 0; p < PR_POSTS; p++)
        c->bus.box[p] = p == post  ? (pr_bus_box){0, 0, 1, 0, 1}
                        : p < post ? (pr_bus_box){0}
                                   : (pr_bus_box){1, 1, 1, 1, 1};
}

static void test_bus_heater_behind_wire(void **state)
{
    (void)state;
    circuit c = circuit_make(1);
    pr_load load;
    circuit_group(&c, 0, &load, 1.0);
    c.laws.box_ohm[0] = 0.04;
    circuit_solve(&c);
    /* 1.35 ohm in series with 0.05 ohm on 12 V */
    const double i_A = 12.0 / (1.35 + 0.05);
    assert_near(c.flows.box_A[0], i_A, 1e-9);
    assert_near(c.flows.node_V[PR_NODE_BOX], 1.35 * i_A, 1e-9);
    assert_near(c.flows.battery_A[0], -i_A, 1e-9);
    assert_near(c.flows.box_W[0], 1.35 * i_A * i_A, 1e-8);
}

static void test_bus_constant_power_load(void **state)
{
    (void)state;
    circuit c = circuit_make(1);
    pr_load load;
    circuit_group(&c, 0, &load, -1.0);
    c.laws.box_ohm[0] = 0.09;
    circuit_solve(&c);
    /* 135 W behind 0.1 ohm: V^2 - 12 V + 13.5 = 0, the upper root */
    assert_near(c.flows.node_V[PR_NODE_BOX], 6.0 + sqrt(36.0 - 13.5), 1e-9);
}

static void test_bus_load_on_its_own_wire(void **state)
{
    (void)state;
    circuit c = circuit_make(1);
    pr_load load;
    circuit_group(&c, 0, &load, 1.0);
    c.bus.box[0] = (pr_bus_box){0, 1, 1, 0, 0}; /* a single now */
    c.laws.load_ohm[0] = 0.04;
    circuit_solve(&c);
    const double i_A = 12.0 / (1.35 + 0.05);
    assert_near(c.flows.single_A[0], i_A, 1e-9);
    assert_near(c.flows.load_wire_W[0], 0.04 * i_A * i_A, 1e-9);
    assert_near(c.flows.box_W[0], 1.35 * i_A * i_A, 1e-8);
}

static void test_bus_winch_draws_its_current(void **state)
{
    (void)state;
    circuit c = circuit_make(1);
    c.bus.winch_on = true;
    c.laws.winch_A = 300.0;
    c.laws.winch_stall_ohm = 0.012;
    c.laws.winch_ohm = 0.002;
    circuit_solve(&c);
    assert_near(c.flows.node_V[PR_NODE_MAIN], 12.0 - 3.0, 1e-9);
    assert_near(c.flows.node_V[PR_NODE_WINCH], 12.0 - 3.6, 1e-9);
    assert_near(c.flows.winch_A, 300.0, 1e-9);
}

static void test_bus_winch_stalled(void **state)
{
    (void)state;
    circuit c = circuit_make(1);
    c.bus.winch_on = true;
    c.laws.winch_A = 900.0;
    c.laws.winch_stall_ohm = 0.012;
    c.laws.winch_ohm = 0.002;
    circuit_solve(&c);
    assert_near(c.flows.winch_A, 12.0 / 0.024, 1e-8);
}

/* The winch's law in the bus is that of the motor. */
static void test_bus_winch_law_is_the_motors(void **state)
{
    (void)state;
    pr_system_def def = rig_bare(1);
    pr_motor motor;
    assert_int_equal(pr_motor_derive(&def.motor, &motor), PR_OK);
    for (double v_V = 0.0; v_V < 14.0; v_V += 0.7) {
        const pr_bus_laws laws = {.winch_A = pr_motor_pull_A(&motor, 20000.0),
                                  .winch_stall_ohm = pr_motor_resistance_ohm(&motor, 80.0)};
        double slope_S, expected_S;
        const double i_A = pr_bus_winch_A(&laws, v_V, &slope_S);
        assert_near(i_A, pr_motor_current_A(&motor, 20000.0, v_V, 80.0, &expected_S, NULL), 1e-9);
        assert_near(slope_S, expected_S, 1e-9);
    }
}

static void test_bus_joined_batteries_equalise(void **state)
{
    (void)state;
    circuit c = circuit_make(2);
    c.system.def.link = pr_link_def_default(PR_LINK_SWITCH);
    c.system.def.link.contact_ohm = 0.001;
    c.system.link.def = c.system.def.link;
    c.bus.link_closed = true;
    c.laws.battery[0].e_V = 12.7;
    c.laws.battery[1].e_V = 11.9;
    /* the first takes current out, the second charges: both 4 mohm; loop 15 mohm */
    c.laws.battery[0].r0_ohm = c.laws.battery[1].r0_charge_ohm = 0.004;
    c.laws.link_ohm = 0.006;
    circuit_solve(&c);
    /* 12.7 V joined to 11.9 V, loop 15 mohm: 53.3 A (arithmetic) */
    assert_near(c.flows.link_out_A, 0.8 / 0.015, 1e-6);
    assert_near(c.flows.battery_A[1], 0.8 / 0.015, 1e-6);
    assert_near(c.flows.link_in_A, c.flows.link_out_A, 1e-12);
}

/* Alternator of 14.4 V with droop, through a wire, into a heater; the battery does not charge. */
static circuit circuit_with_alternator(pr_load *load)
{
    circuit c = circuit_make(1);
    pr_alternator_def def = pr_alternator_def_default();
    def.rated_A = 110.0;
    def.idle_A = 55.0;
    assert_int_equal(pr_alternator_derive(&def, &c.system.alternator), PR_OK);
    c.system.def.has_alternator = true;
    c.system.def.alternator = c.system.alternator.def;
    c.bus.alternator_on = true;
    const pr_alternator_state hot = pr_alternator_state_at(&c.system.alternator, 20.0);
    pr_alternator_branch_at(&c.system.alternator, &hot, 2000.0, true, 0.0, &c.laws.alternator);
    c.laws.alternator_ohm = 0.005;
    c.laws.battery[0].no_charge = true;
    circuit_group(&c, 0, load, 1.0);
    return c;
}

static void test_bus_regulated_alternator(void **state)
{
    (void)state;
    pr_load load;
    circuit c = circuit_with_alternator(&load);
    circuit_solve(&c);
    /* set 14.4 V at 20 degC: 14.4 = I (droop 2.5 mohm + wire 5 mohm + heater 1.35 ohm) */
    const double i_A = 14.4 / (0.0025 + 0.005 + 1.35);
    assert_near(c.flows.alternator_A, i_A, 1e-6);
    assert_near(c.flows.node_V[PR_NODE_ALTERNATOR], 14.4 - 0.0025 * i_A, 1e-8);
    assert_near(c.flows.battery_A[0], 0.0, 1e-12);
    assert_false(c.flows.limited);
}

static void test_bus_remote_sensing_makes_up_for_the_wire(void **state)
{
    (void)state;
    pr_load load;
    circuit c = circuit_with_alternator(&load);
    c.system.def.alternator.sensing = c.system.alternator.def.sensing = PR_SENSE_BATTERY;
    circuit_solve(&c);
    const double i_A = 14.4 / (0.0025 + 1.35);
    assert_near(c.flows.node_V[PR_NODE_MAIN], 1.35 * i_A, 1e-8);
    assert_near(c.flows.node_V[PR_NODE_ALTERNATOR], 1.355 * i_A, 1e-8);
}

static void test_bus_post_without_source_is_dead(void **state)
{
    (void)state;
    circuit c = circuit_make(2);
    pr_load load;
    circuit_group(&c, 1, &load, 0.55);
    c.bus.battery_open[1] = true;
    c.laws.battery[1].open = true;
    circuit_solve(&c);
    assert_near(c.flows.node_V[PR_NODE_SECOND], 0.0, 0.0);
    assert_near(c.flows.box_A[1], 0.0, 0.0);
    assert_near(c.flows.node_V[PR_NODE_MAIN], 12.0, 1e-9);
}

static void test_bus_feeds_a_dead_battery_post_over_the_link(void **state)
{
    (void)state;
    circuit c = circuit_make(2);
    pr_load load;
    circuit_group(&c, 1, &load, 1.0);
    c.bus.battery_open[1] = c.laws.battery[1].open = true;
    c.system.def.link = pr_link_def_default(PR_LINK_DIODE);
    c.system.link.def = c.system.def.link;
    c.laws.link_ohm = 0.013;
    circuit_solve(&c);
    /* 12 V less 0.7 V over 10 + 2 + 13 mohm and 1.35 ohm */
    const double i_A = 11.3 / (0.025 + 1.35);
    assert_near(c.flows.link_in_A, i_A, 1e-6);
    assert_near(c.flows.node_V[PR_NODE_SECOND], 1.35 * i_A, 1e-6);
}

static void test_bus_says_when_a_law_gives_no_number(void **state)
{
    (void)state;
    circuit c = circuit_make(1);
    c.laws.battery[0].e_V = PR_NAN;
    c.bus.system = &c.system;
    pr_bus_find_paths(&c.bus);
    assert_int_not_equal(pr_bus_solve(&c.bus, &c.laws, c.node_V, &c.flows), PR_OK);
}

/* Polynomials of the groups against the loads' own law, one by one. */
static void test_bus_groups_follow_the_law(void **state)
{
    (void)state;
    static pr_system system;
    static pr_sim sim;
    static pr_frame frame;
    const pr_system_def def = rig_full(1);
    const pr_phase phase = rig_phase(PR_REST, 1.0);
    rig_start(&def, &system, &sim);
    rig_run(&system, &sim, PR_REST, 1.0, NULL);
    pr_frame_build(&system, &sim, &phase, 0.0, &frame);
    for (double v_V = 5.0, share = -0.99; v_V < 18.5; v_V += 0.013, share *= -1.0) {
        pr_bus_box box = frame.bus.box[0];
        /* at either end of what the polynomial reaches */
        pr_bus_sum_groups(&frame.bus, &box, v_V / (1.0 + share * PR_BOX_REACH));
        double slope_S, sum_A = 0.0, sum_S = 0.0;
        const double i_A = pr_bus_groups_A(&frame.bus, &box, v_V, &slope_S);
        for (int k = box.first_grouped; k < box.end; k++) {
            double slope;
            sum_A += pr_load_current_A(frame.bus.load[k].load, v_V, 1e9, &slope);
            sum_S += slope;
        }
        assert_true(box.end - box.first_grouped >= 5);
        assert_near(i_A, sum_A, 2e-9 * sum_A);
        assert_near(slope_S, sum_S, 1e-6);
    }
}

/* ---- many networks, Newton against bracketing ---- */

static double draw(unsigned long long *seed, double low, double high)
{
    *seed = *seed * 6364136223846793005ULL + 1442695040888963407ULL;
    return low + (high - low) * (double)(*seed >> 11) / 9007199254740992.0;
}

static void random_laws(unsigned long long *seed, const pr_system *system, circuit *c)
{
    for (int p = 0; p < c->bus.n_posts; p++) {
        const pr_battery_state s = pr_battery_state_rested(
            &system->battery[p], draw(seed, 0.1, 1.0), draw(seed, -20.0, 40.0));
        c->bus.battery_open[p] = draw(seed, 0.0, 1.0) < 0.1;
        pr_battery_branch_at(&system->battery[p], &s, c->bus.battery_open[p], &c->laws.battery[p]);
        c->laws.box_ohm[p] = draw(seed, -0.01, 0.02);
        c->laws.box_ohm[p] = fmax(c->laws.box_ohm[p], 0.0);
    }
    c->laws.link_ohm = draw(seed, 0.0, 0.01);
    c->laws.alternator_ohm = fmax(draw(seed, -0.003, 0.01), 0.0);
    c->laws.winch_ohm = draw(seed, 0.0, 0.004);
    c->laws.winch_A = draw(seed, 50.0, 500.0);
    c->laws.winch_stall_ohm = draw(seed, 0.005, 0.015);
    c->bus.winch_on = draw(seed, 0.0, 1.0) < 0.5;
    c->bus.link_closed = draw(seed, 0.0, 1.0) < 0.5;
    c->bus.alternator_on = draw(seed, 0.0, 1.0) < 0.8;
    const pr_alternator_state a = {.winding_degC = draw(seed, 0.0, 120.0), .ceiling_A = 1e9};
    pr_alternator_branch_at(&system->alternator, &a, draw(seed, 500.0, 3000.0),
                            c->bus.alternator_on, 20.0, &c->laws.alternator);
}

static void random_loads(unsigned long long *seed, const pr_system *system, circuit *c)
{
    int n = 0;
    for (int p = 0; p < c->bus.n_posts; p++) {
        pr_bus_box *box = &c->bus.box[p];
        box->first = n;
        for (int k = 0; k < system->def.n_loads; k++) {
            if ((int)system->def.load[k].post != p)
                continue;
            c->bus.load[n] =
                (pr_bus_load){.load = &system->load[k],
                              .index = k,
                              .wire_at = 0,
                              .power = k % 3 == 0 ? -1 : system->powers.of_load[k],
                              .scale = system->load_scale[k],
                              .floor_V = system->load[k].def.exponent < 1.0 ? 8.1 : 0.0,
                              .since_s = draw(seed, -3, 0)};
            c->laws.load_inrush[n] = pr_load_inrush(&system->load[k], -c->bus.load[n].since_s);
            c->laws.load_ohm[n++] = draw(seed, 0.0, 0.05);
        }
        box->first_grouped = box->end = n;
        box->first_group = box->end_group = 0;
        box->reach_V = 0.0;
    }
    c->bus.n_loads = n;
}

static void test_bus_newton_agrees_with_bracketing(void **state)
{
    (void)state;
    static const pr_link_kind kinds[] = {PR_LINK_SWITCH, PR_LINK_DIODE, PR_LINK_CHARGER};
    static pr_system system;
    static circuit c;
    pr_sim sim;
    unsigned long long seed = 7;
    for (int n = 0; n < 600; n++) {
        pr_system_def def = rig_full(1 + n % 2);
        def.link = pr_link_def_default(n % 2 == 0 ? PR_LINK_NONE : kinds[n / 2 % 3]);
        def.link.charger_A = 30.0;
        def.alternator.sensing = n % 5 == 0 ? PR_SENSE_BATTERY : PR_SENSE_TERMINAL;
        def.alternator.belt_limit_W = n % 7 == 0 ? 2000.0 : PR_NAN;
        if (n < 12) /* deriving a battery takes a while: only so many different ones */
            rig_start(&def, &system, &sim);
        else
            system.def.alternator.sensing = system.alternator.def.sensing = def.alternator.sensing;
        c = circuit_make(system.def.n_batteries);
        c.system = system;
        random_laws(&seed, &system, &c);
        random_loads(&seed, &system, &c);
        circuit_solve(&c);
        double node_V[PR_NODES];
        pr_bus_flows plain;
        assert_int_equal(pr_bus_bracket(&c.bus, &c.laws, node_V, &plain), PR_OK);
        for (int k = 0; k < 2 * c.bus.n_posts - (c.bus.n_posts == 1); k++)
            assert_near(c.flows.node_V[k], node_V[k], 1e-7);
        assert_near(c.flows.alternator_A, plain.alternator_A, 2e-4);
        assert_near(c.flows.winch_A, plain.winch_A, 1e-5);
        assert_near(c.flows.link_in_A, plain.link_in_A, 2e-4);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_bus_heater_behind_wire),
        cmocka_unit_test(test_bus_constant_power_load),
        cmocka_unit_test(test_bus_load_on_its_own_wire),
        cmocka_unit_test(test_bus_winch_draws_its_current),
        cmocka_unit_test(test_bus_winch_stalled),
        cmocka_unit_test(test_bus_winch_law_is_the_motors),
        cmocka_unit_test(test_bus_joined_batteries_equalise),
        cmocka_unit_test(test_bus_regulated_alternator),
        cmocka_unit_test(test_bus_remote_sensing_makes_up_for_the_wire),
        cmocka_unit_test(test_bus_post_without_source_is_dead),
        cmocka_unit_test(test_bus_feeds_a_dead_battery_post_over_the_link),
        cmocka_unit_test(test_bus_says_when_a_law_gives_no_number),
        cmocka_unit_test(test_bus_groups_follow_the_law),
        cmocka_unit_test(test_bus_newton_agrees_with_bracketing),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
