/* Tables for pictures of components: each against its sheet, its label, or what physics says of the
 * shape, not against the functions that made it. */
#include "planner/curves.h"
#include "test_planner_fixture.h"

static pr_curves make(const pr_scenario *s, pr_curve_kind kind)
{
    pr_curves c;
    assert_int_equal(pr_curves_make(s, kind, &c), PR_OK);
    return c;
}

static const pr_curve_table *table(const pr_curves *c, const char *name)
{
    for (size_t i = 0; i < c->n_tables; i++)
        if (strcmp(c->table[i].name, name) == 0)
            return &c->table[i];
    fail_msg("no table %s", name);
    return NULL;
}

static double cell(const pr_curve_table *t, size_t row, size_t column)
{
    assert_true(row < t->n_rows && column < t->n_columns);
    return t->values[row * t->n_columns + column];
}

static double number(const pr_curves *c, const char *name)
{
    for (size_t i = 0; i < c->n_numbers; i++)
        if (strcmp(c->number[i].name, name) == 0)
            return c->number[i].value;
    fail_msg("no number %s", name);
    return NOT_GIVEN;
}

/* Column y where column 0 is x, straight between rows. */
static double at(const pr_curve_table *t, double x, size_t y)
{
    for (size_t i = 1; i < t->n_rows; i++) {
        const double a = cell(t, i - 1, 0), b = cell(t, i, 0);
        if ((x - a) * (x - b) <= 0.0)
            return cell(t, i - 1, y) + (x - a) / (b - a) * (cell(t, i, y) - cell(t, i - 1, y));
    }
    fail_msg("%s: %g is outside", t->name, x);
    return NOT_GIVEN;
}

/* Never against `sign`; gaps are skipped. Returns how many values there are. */
static size_t assert_monotone(const pr_curve_table *t, size_t column, double sign)
{
    double last = NOT_GIVEN;
    size_t n = 0;
    for (size_t i = 0; i < t->n_rows; i++) {
        const double x = cell(t, i, column);
        if (isnan(x))
            continue;
        if (n++ > 0 && sign * (x - last) < -1e-9 * fabs(last))
            fail_msg("%s, column %zu, row %zu: %g after %g", t->name, column, i, x, last);
        last = x;
    }
    return n;
}

static void test_battery_runs_as_its_label_says(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_curves c = make(s, PR_CURVE_BATTERY);
    const pr_curve_table *t = table(&c, "runtime");
    assert_near(cell(t, 0, 0), 70.0 / 20.0, 1e-9);
    assert_near(cell(t, 0, 1), 20.0 * 3600.0, 0.02 * 20.0 * 3600.0); /* the label's 20 h rate */
    assert_near(at(t, 25.0, 1), 7200.0, 0.02 * 7200.0);              /* reserve: 25 A, 120 min */
    assert_true(assert_monotone(t, 1, -1.0) > 50);
    for (size_t i = 0; i < t->n_rows; i++)
        assert_true(!(cell(t, i, 3) > cell(t, i, 1))); /* the cold one never lasts longer */
    const double slope =
        log(cell(t, 40, 2) / cell(t, 10, 2)) / log(cell(t, 40, 0) / cell(t, 10, 0));
    assert_near(-slope, number(&c, "peukert"), 1e-9); /* t I^n is the same all along */

    t = table(&c, "pulls");
    assert_near(cell(t, t->n_rows - 1, 0), 180.0, 1e-9);
    for (size_t k = 1; k < 4; k++) { /* the more amps, the lower, in the pull and after it */
        assert_true(at(t, 59.0, k + 1) < at(t, 59.0, k) - 0.3);
        assert_true(at(t, 180.0, k + 1) < at(t, 180.0, k));
        assert_true(at(t, 59.0, k) < at(t, 1.0, k) && at(t, 180.0, k) > at(t, 62.0, k));
    }

    t = table(&c, "charging");
    assert_near(cell(t, 0, 0), 1.0, 0.0);
    for (size_t i = 5; i < t->n_rows; i++) {
        assert_true(cell(t, i, 3) < cell(t, i, 1));          /* cold takes less */
        assert_true(!(cell(t, i, 2) < cell(t, i, 1) - 1.0)); /* just emptied does not */
    }
    assert_true(assert_monotone(t, 1, 1.0) == t->n_rows); /* the emptier, the more */
    assert_near(number(&c, "end_V"), 10.5, 0.0);
    assert_near(number(&c, "lead"), 1.0, 0.0);
    pr_curves_free(&c);

    s->system.battery[0] = pr_battery_def_default();
    s->system.battery[0].chemistry = PR_LIFEPO4;
    s->system.battery[0].c20_Ah = 100.0;
    c = make(s, PR_CURVE_BATTERY);
    assert_near(number(&c, "lead"), 0.0, 0.0);
    t = table(&c, "runtime");
    assert_near(cell(t, 0, 1), 20.0 * 3600.0, 0.05 * 20.0 * 3600.0);
    assert_near(at(t, 50.0, 1), 7200.0, 0.06 * 7200.0); /* hardly any Peukert effect */
    pr_curves_free(&c);
    fixture_free(s);
}

static void test_alternator_cold_hot_and_its_power(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_curves c = make(s, PR_CURVE_ALTERNATOR);
    const pr_curve_table *t = table(&c, "curve");
    assert_near(cell(t, 0, 1), 0.0, 0.0); /* stands still */
    assert_monotone(t, 1, 1.0);
    const double set_V = at(table(&c, "setting"), 25.0, 1);
    assert_true(set_V > 13.5 && set_V < 15.0);
    assert_true(assert_monotone(table(&c, "setting"), 1, -1.0) == 25);
    bool gives = false;
    for (size_t i = 0; i < t->n_rows; i++) {
        const double hot_A = cell(t, i, 2);
        assert_true(!(hot_A > cell(t, i, 1)));
        if (hot_A < 5.0)
            continue;
        gives = true;
        assert_true(cell(t, i, 3) > 40.0 && cell(t, i, 3) < 220.0);
        /* the belt gives more than comes out, and no alternator of this kind wastes three quarters
         */
        assert_true(cell(t, i, 4) > hot_A * 12.0 && cell(t, i, 4) < 4.0 * hot_A * 15.0);
    }
    assert_true(gives);
    /* rated warm at speed (ISO 8854): a cold winding gives more, one in hot air somewhat less */
    assert_true(at(t, 2900.0, 1) > 110.0 && at(t, 2900.0, 1) < 130.0);
    assert_true(at(t, 2900.0, 2) < 110.0 && at(t, 2900.0, 2) > 90.0);
    assert_near(number(&c, "rated_A"), 110.0, 0.0);
    assert_near(at(t, 750.0, 2), number(&c, "idle_A"), 1.0);
    assert_near(at(t, 1600.0, 2), number(&c, "fast_A"), 1.0);
    /* ignition 8, lamps 9 and fan 12 A at their own voltage, near 13.5 V */
    assert_true(number(&c, "loads") > 24.0 && number(&c, "loads") < 30.0);
    pr_curves_free(&c);
    s->system.has_alternator = false;
    s->system.run[PR_RUN_ALTERNATOR].present = false;
    assert_int_equal(pr_curves_make(s, PR_CURVE_ALTERNATOR, &c), PR_ERR_INPUT);
    pr_curves_free(&c);
    fixture_free(s);
}

static void test_winch_goes_through_its_sheet(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    const pr_motor_def *m = &s->system.motor;
    pr_curves c = make(s, PR_CURVE_WINCH);
    const pr_curve_table *t = table(&c, "curve");
    assert_near(number(&c, "volt_2"), 12.0, 1e-12);
    assert_near(at(t, 0.0, 1), m->no_load_A, 1.0);
    assert_near(at(t, m->rated_pull_N, 1), m->rated_A, 4.0);
    assert_near(at(t, 0.0, 3), m->no_load_mps, 0.02 * m->no_load_mps);
    assert_near(at(t, m->rated_pull_N, 3), m->rated_mps, 0.05 * m->rated_mps);
    assert_true(assert_monotone(t, 1, 1.0) == t->n_rows);
    size_t moves[4];
    for (size_t k = 0; k < 4; k++)
        moves[k] = assert_monotone(t, 2 + k, -1.0);
    for (size_t k = 1; k < 4; k++) { /* fewer volts: slower, and it stalls at no higher a pull */
        assert_true(moves[k] <= moves[k - 1]);
        assert_true(cell(t, 20, 2 + k) < cell(t, 20, 1 + k));
    }
    for (size_t i = 0; i < t->n_rows; i++) /* back EMF: as much slower for each volt and a half */
        assert_near(cell(t, i, 2) - cell(t, i, 3), cell(t, i, 3) - cell(t, i, 4), 1e-9);
    t = table(&c, "layers");
    assert_near(cell(t, 0, 1), m->rated_pull_N, 1e-6 * m->rated_pull_N);
    assert_true(t->n_rows >= 3 && assert_monotone(t, 1, -1.0) == t->n_rows);
    /* the force falls as the layer's radius grows: (D + d) / (D + 3 d) for the second */
    const pr_drum_def *d = &s->system.drum;
    const double ratio = cell(t, 1, 1) / cell(t, 0, 1);
    assert_true(ratio >= (d->drum_m + d->rope_m) / (d->drum_m + 3.0 * d->rope_m) - 1e-9);
    assert_true(ratio < 1.0 - d->rope_m / (d->drum_m + 3.0 * d->rope_m));
    assert_true(assert_monotone(t, 2, 1.0) == t->n_rows);
    assert_true(cell(t, t->n_rows - 1, 2) >= d->rope_length_m - 1e-9);
    pr_curves_free(&c);
    fixture_free(s);
}

static void test_winch_motor_warms_and_is_allowed_less_the_second_time(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_curves c = make(s, PR_CURVE_HEAT);
    const pr_curve_table *t = table(&c, "warming");
    const double most_degC = number(&c, "most");
    assert_near(most_degC, number(&c, "class_limit") - 15.0, 1e-12);
    assert_near(number(&c, "amps_1"), s->system.motor.rated_A, 4.0);
    size_t peak[4];
    for (size_t k = 0; k < 4; k++) {
        assert_near(cell(t, 0, 1 + k), s->system.ambient_degC, 0.0);
        peak[k] = 0;
        for (size_t i = 0; i < t->n_rows; i++)
            if (cell(t, i, 1 + k) > cell(t, peak[k], 1 + k))
                peak[k] = i;
        assert_true(cell(t, peak[k], 1 + k) < most_degC + 15.0); /* a step of 5 s late at most */
        assert_true(cell(t, t->n_rows - 1, 1 + k) < cell(t, peak[k], 1 + k) - 5.0); /* cools */
    }
    assert_true(peak[0] > 0 && peak[0] < peak[1] && peak[1] <= peak[2] && peak[2] <= peak[3]);
    t = table(&c, "allowed");
    assert_true(assert_monotone(t, 1, -1.0) > 10 && assert_monotone(t, 2, -1.0) > 10);
    for (size_t i = 0; i < t->n_rows; i++)
        assert_true(!(cell(t, i, 2) >= cell(t, i, 1))); /* what is left of the heat shortens it */
    pr_curves_free(&c);
    s->plan.motor_max_degC = 100.0;
    c = make(s, PR_CURVE_HEAT);
    assert_near(number(&c, "most"), 100.0, 0.0);
    pr_curves_free(&c);
    fixture_free(s);
}

static void test_ground_pulls_back_by_slope_and_depth(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    const double rolling[] = {0.10, 0.15, 0.20};
    memcpy(s->system.demand.segments[0].surface_frac, rolling, sizeof rolling);
    pr_curves c = make(s, PR_CURVE_GROUND);
    const pr_curve_table *t = table(&c, "curve");
    const double weight_N = 2650.0 * 9.80665;
    assert_near(number(&c, "weight"), weight_N, 1e-6);
    assert_near(number(&c, "rated_N"), s->system.motor.rated_pull_N, 0.0);
    assert_near(cell(t, 0, 2), (1.0 + number(&c, "margin")) * 0.15 * weight_N, 1e-6);
    for (size_t i = 0; i < t->n_rows; i++) {
        assert_true(cell(t, i, 1) <= cell(t, i, 2) && cell(t, i, 2) <= cell(t, i, 3));
        assert_true(cell(t, i, 4) < cell(t, i, 5) && cell(t, i, 5) < cell(t, i, 6));
        assert_true(cell(t, i, 2) <= cell(t, i, 4)); /* no mire is the least */
        /* never below what gravity alone takes on that slope */
        assert_true(cell(t, i, 1) >= weight_N * sin(atan(cell(t, i, 0))) * (1.0 - 1e-9));
    }
    for (size_t k = 1; k < 7; k++)
        assert_true(assert_monotone(t, k, 1.0) == t->n_rows);
    pr_curves_free(&c);
    s->system.demand.n_segments = 0;
    s->system.work = PR_WORK_CURRENT;
    s->system.pull_A = 300.0;
    assert_int_equal(pr_curves_make(s, PR_CURVE_GROUND, &c), PR_ERR_INPUT);
    pr_curves_free(&c);
    fixture_free(s);
}

static void test_rigging_shares_the_force(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_curves c = make(s, PR_CURVE_RIGGING);
    const pr_curve_table *t = table(&c, "curve");
    for (size_t i = 1; i < t->n_rows; i++) {
        const double load_N = cell(t, i, 0);
        assert_near(cell(t, i, 1), load_N, 0.02 * load_N); /* a straight line */
        for (size_t p = 2; p <= 4; p++) {
            assert_true(cell(t, i, p) > load_N / (double)p); /* sheaves take their part */
            assert_true(cell(t, i, p) < cell(t, i, p - 1));
        }
    }
    assert_near(cell(table(&c, "layers"), 0, 1), number(&c, "rated_N"), 1e-6);
    pr_curves_free(&c);
    fixture_free(s);
}

static void test_cranking_asks_for_more_when_cold(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_curves c = make(s, PR_CURVE_CRANKING);
    const pr_curve_table *t = table(&c, "curve");
    assert_near(cell(t, 0, 0), -30.0, 0.0);
    assert_true(assert_monotone(t, 1, -1.0) == 71);
    assert_true(assert_monotone(t, 2, -1.0) > 20);
    assert_true(assert_monotone(t, 3, 1.0) == 71);
    /* where the full battery stays above the least voltage there is a charge to keep, else none */
    for (size_t i = 0; i < t->n_rows; i++) {
        const double keep = cell(t, i, 2), full_V = cell(t, i, 3);
        if (!isnan(keep))
            assert_true(keep >= number(&c, "floor_frac") - 1e-9 && keep <= 1.0 &&
                        full_V >= number(&c, "least_V") - 1e-6);
        else
            assert_true(full_V < number(&c, "least_V") + 0.05);
    }
    assert_near(number(&c, "cca_A"), 700.0, 0.0);
    pr_curves_free(&c);
    fixture_free(s);
}

static void test_cable_warms_to_its_rating_at_its_ampacity(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.ambient_degC = 30.0; /* the air that ampacity tables are for */
    pr_curves c = make(s, PR_CURVE_CABLE);
    const pr_curve_table *t = table(&c, "drop");
    for (size_t i = 2; i < t->n_rows; i++) {
        assert_near(cell(t, i, 1), 0.5 * cell(t, i, 2), 1e-12);
        assert_near(cell(t, i, 3), 2.0 * cell(t, i, 2), 1e-12);
        /* straight in length: the joints are the same whatever it is */
        assert_near(cell(t, i, 2) - cell(t, i - 1, 2), cell(t, 1, 2) - cell(t, 0, 2), 1e-9);
    }
    assert_true(2.0 * cell(t, 0, 2) > cell(t, 1, 2));
    t = table(&c, "heating");
    for (size_t k = 1; k <= 4; k++) {
        assert_near(cell(t, 0, k), 30.0, 0.0);
        assert_monotone(t, k, 1.0);
    }
    const double last_degC = cell(t, t->n_rows - 1, 1), insulation_degC = number(&c, "insulation");
    assert_true(last_degC < insulation_degC && last_degC > 0.7 * insulation_degC);
    assert_true(at(t, 60.0, 2) > at(t, 60.0, 1) && at(t, 60.0, 3) > at(t, 60.0, 2));
    assert_true(isnan(cell(t, t->n_rows - 1, 4))); /* three times: beyond what is shown */
    assert_near(number(&c, "area"), 35.0, 0.0);
    pr_curves_free(&c);
    s->system.run[PR_RUN_WINCH].present = false;
    assert_int_equal(pr_curves_make(s, PR_CURVE_CABLE, &c), PR_ERR_INPUT);
    pr_curves_free(&c);
    fixture_free(s);
}

static void test_fuse_opens_the_sooner_the_more(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_curves c;
    assert_int_equal(pr_curves_make(s, PR_CURVE_FUSE, &c), PR_ERR_INPUT);
    pr_curves_free(&c);
    pr_wire_slot *slot = &s->system.run[PR_RUN_WINCH];
    slot->has_fuse = true;
    slot->fuse = pr_fuse_def_family(PR_FUSE_BLADE);
    slot->fuse.rating_A = 60.0;
    c = make(s, PR_CURVE_FUSE);
    const pr_curve_table *t = table(&c, "curve");
    assert_true(isinf(cell(t, 0, 1))); /* holds its rating for ever */
    for (size_t k = 1; k < t->n_columns; k++)
        assert_monotone(t, k, -1.0);
    assert_true(at(t, 2.0, 1) < 120.0 && at(t, 6.0, 1) < 1.0);
    for (size_t i = 0; i < t->n_rows; i++) { /* it is one of the families beside it */
        const double own = cell(t, i, 1), family = cell(t, i, 2 + PR_FUSE_BLADE);
        assert_true(own == family || fabs(own - family) < 1e-9 * family);
    }
    assert_near(number(&c, "rating_A"), 60.0, 0.0);
    pr_curves_free(&c);
    fixture_free(s);
}

static void test_load_by_voltage_and_time(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_load_def *load = &s->system.load[0].def;
    load->exponent = 0.5;
    load->dropout_V = 9.5;
    load->return_V = 10.0;
    load->inrush_factor = 6.0;
    load->inrush_s = 0.1;
    pr_curves c = make(s, PR_CURVE_LOAD);
    const pr_curve_table *t = table(&c, "curve");
    const double at_V = number(&c, "reference_V"), amps_A = number(&c, "reference_A");
    assert_near(amps_A, 8.0, 1e-9);
    assert_near(at(t, at_V, 1), amps_A, 0.01 * amps_A);
    assert_near(at(t, 9.0, 1), 0.0, 0.0); /* dropped out */
    assert_near(at(t, 15.0, 1) / at(t, 12.0, 1), sqrt(15.0 / 12.0), 1e-3);
    t = table(&c, "start");
    assert_near(cell(t, 0, 1), 6.0 * amps_A, 0.01 * amps_A);
    assert_near(cell(t, t->n_rows - 1, 1), amps_A, 0.01 * amps_A);
    assert_monotone(t, 1, -1.0);
    pr_curves_free(&c);
    s->system.n_loads = 0;
    assert_int_equal(pr_curves_make(s, PR_CURVE_LOAD, &c), PR_ERR_INPUT);
    pr_curves_free(&c);
    fixture_free(s);
}

static pr_scenario *with_link(pr_link_kind kind)
{
    pr_scenario *s = fixture_new();
    pr_system_def *def = &s->system;
    def->n_batteries = 2;
    def->battery[1] = def->battery[0];
    def->start_soc_frac[1] = 0.9;
    def->link = pr_link_def_default(kind);
    def->link.charger_A = 20.0;
    fixture_wire(def, PR_RUN_LINK, 16.0, 2.0);
    return s;
}

static void test_link_amps_by_kind(void **state)
{
    (void)state;
    pr_scenario *s = with_link(PR_LINK_RELAY);
    pr_curves c = make(s, PR_CURVE_LINK);
    const pr_curve_table *t = table(&c, "amps");
    const double ohm = 1e-3 * number(&c, "wires_mohm") + s->system.link.contact_ohm;
    assert_true(ohm > 0.003 && ohm < 0.02); /* 4 m of 16 mm2 are 4.8 mohm, joints beside it */
    for (size_t i = 0; i < t->n_rows; i++) {
        const double u_V = cell(t, i, 0);
        assert_near(cell(t, i, 1), u_V / ohm, 1e-6 * fabs(u_V / ohm) + 1e-9); /* Ohm's law */
        assert_near(cell(t, i, 2), cell(t, i, 1), 1e-9); /* a hand switch has the same contact */
        if (u_V <= 0.0)                                  /* nothing goes back through a diode */
            assert_near(cell(t, i, 3), 0.0, 1e-3);
        else
            assert_true(cell(t, i, 3) <= cell(t, i, 2));
    }
    assert_monotone(t, 3, 1.0);
    assert_true(at(t, 0.3, 3) < 1.0 && at(t, 1.5, 3) > 20.0); /* it lets go at some 0.7 V */
    assert_near(number(&c, "relay"), 1.0, 0.0);
    assert_near(number(&c, "close_V"), 13.3, 0.0);
    pr_curves_free(&c);
    fixture_free(s);
    s = with_link(PR_LINK_CHARGER);
    c = make(s, PR_CURVE_LINK);
    t = table(&c, "amps");
    assert_near(at(t, -0.4, 1), 0.0, 0.0);                     /* below its threshold */
    assert_true(at(t, 1.0, 1) > 20.0 && at(t, 1.0, 1) < 30.0); /* 20 A out and its losses */
    assert_near(number(&c, "charger"), 1.0, 0.0);
    assert_near(number(&c, "open_V"), 12.4, 0.0);
    pr_curves_free(&c);
    fixture_free(s);
}

/* Share of the time from a to b in which a link is closed. */
static double closed(const pr_scenario *s, double from_s, double to_s)
{
    pr_curves c = make(s, PR_CURVE_LINK);
    const pr_curve_table *t = table(&c, "window");
    double sum = 0.0, n = 0.0;
    for (size_t i = 0; i < t->n_rows; i++)
        if (cell(t, i, 0) >= from_s && cell(t, i, 0) < to_s) {
            sum += cell(t, i, 2);
            n += 1.0;
        }
    pr_curves_free(&c);
    return sum / n;
}

/* The engine starts at 15 s; pulls from 55 to 85 s and from 130 to 136 s. */
static void test_link_is_closed_when_its_kind_has_it(void **state)
{
    (void)state;
    pr_scenario *s = with_link(PR_LINK_RELAY);
    assert_near(closed(s, 0.0, 25.0), 0.0, 0.0); /* 10 s above 13.3 V first */
    assert_near(closed(s, 30.0, 64.0), 1.0, 0.0);
    assert_near(closed(s, 66.0, 94.0), 0.0, 0.0);  /* 10 s below 12.8 V: open, and 10 s above */
    assert_near(closed(s, 98.0, 180.0), 1.0, 0.0); /* a pull of 6 s is over before it opens */
    s->system.link.open_delay_s = 2.0;
    assert_near(closed(s, 134.0, 136.0), 0.0, 0.0);
    fixture_free(s);
    s = with_link(PR_LINK_SWITCH);
    static const struct {
        pr_switch_rule rule;
        double in_pulls, in_rests;
    } rules[] = {{PR_SWITCH_OPEN, 0.0, 0.0},
                 {PR_SWITCH_CLOSED, 1.0, 1.0},
                 {PR_SWITCH_IN_PULLS, 1.0, 0.0},
                 {PR_SWITCH_IN_RESTS, 0.0, 1.0}};
    for (size_t i = 0; i < sizeof rules / sizeof *rules; i++) {
        s->system.switch_rule = rules[i].rule;
        assert_near(closed(s, 55.0, 85.0), rules[i].in_pulls, 0.0);
        assert_near(closed(s, 130.0, 136.0), rules[i].in_pulls, 0.0);
        assert_near(closed(s, 85.0, 130.0), rules[i].in_rests, 0.0);
    }
    fixture_free(s);
    s = with_link(PR_LINK_DIODE);
    assert_near(closed(s, 20.0, 55.0), 1.0, 0.0); /* 14.2 V against 12.5 */
    assert_near(closed(s, 56.0, 85.0), 0.0, 0.0); /* the pull is fed from the main battery alone */
    fixture_free(s);
}

static void test_tables_are_bounded(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_curves c;
    assert_int_equal(pr_curves_make(s, PR_CURVE_KINDS, &c), PR_ERR_INTERNAL);
    assert_int_equal(pr_curves_make(s, PR_CURVE_LINK, &c), PR_ERR_INPUT); /* one battery */
    pr_curves_free(&c);
    s->system.battery[0].c20_Ah = -1.0;
    assert_int_not_equal(pr_curves_make(s, PR_CURVE_BATTERY, &c), PR_OK);
    pr_curves_free(&c);
    fixture_free(s);

    c = pr_curves_init("script", "title");
    const double row[] = {1.0, 2.0};
    pr_curves_row(&c, row); /* to no table */
    assert_int_equal(c.n_tables, 0);
    for (int i = 0; i < PR_CURVES_TABLES; i++)
        pr_curves_begin(&c, "t", 2);
    for (int i = 0; i < 200; i++)
        pr_curves_row(&c, row);
    assert_int_equal(c.status, PR_OK);
    assert_int_equal(c.table[PR_CURVES_TABLES - 1].n_rows, 200);
    assert_near(cell(&c.table[PR_CURVES_TABLES - 1], 199, 1), 2.0, 0.0);
    pr_curves_begin(&c, "one too many", 2);
    assert_int_equal(c.status, PR_ERR_INTERNAL);
    pr_curves_row(&c, row);
    assert_int_equal(c.table[PR_CURVES_TABLES - 1].n_rows, 200); /* nothing into the wrong one */
    pr_curves_free(&c);
    c = pr_curves_init("script", "title");
    pr_curves_begin(&c, "wide", PR_CURVES_COLUMNS + 1);
    assert_int_equal(c.status, PR_ERR_INTERNAL);
    pr_curves_free(&c);
    for (int i = 0; i <= PR_CURVES_NUMBERS; i++) {
        assert_int_equal(c.status, PR_OK);
        pr_curves_number_add(&c, "n", i);
    }
    assert_int_equal(c.status, PR_ERR_INTERNAL);
}

static int stop_at_once(void *context, double done_frac)
{
    *(double *)context = done_frac;
    return 1;
}

/* Longer pulls want longer rests, a faster engine shorter ones, and where the chosen pull stands
 * its rest is that of the plan. */
static void test_rests_by_length_and_engine_speed(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->plan.pull_s = 30.0;
    s->system.demand.segments[0].length_m = 6.0;
    pr_plan plan = {0};
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_EVEN, &plan, NULL, NULL), PR_OK);
    assert_true(plan.go);
    pr_curves c;
    assert_int_equal(pr_curves_rests(s, &plan, &c, NULL, NULL), PR_OK);
    const pr_curve_table *t = table(&c, "rows");
    assert_near(number(&c, "rpm_1"), 750.0, 0.0);
    assert_near(number(&c, "rpm_2"), 1600.0, 0.0);
    assert_near(number(&c, "chosen_pull"), 30.0, 0.0);
    assert_near(at(t, 30.0, 2), plan.rest_s, 0.0); /* at fast idle, as planned */
    assert_near(at(t, 30.0, 5), plan.total_s, 1e-6);
    for (size_t i = 0; i < t->n_rows; i++) {
        assert_true(!(cell(t, i, 2) > cell(t, i, 1)));
        for (size_t k = 1; k <= 3; k++)
            assert_true(!(cell(t, i, k) < number(&c, "rest_min")));
    }
    pr_curves_free(&c);
    double done = 0.0;
    assert_int_equal(pr_curves_rests(s, &plan, &c, stop_at_once, &done), PR_ERR_CANCELLED);
    assert_near(done, 0.1, 1e-12);
    assert_int_equal(table(&c, "rows")->n_rows, 1);
    pr_curves_free(&c);
    plan.go = false; /* nothing to mark */
    assert_int_equal(pr_curves_rests(s, &plan, &c, stop_at_once, &done), PR_ERR_CANCELLED);
    assert_true(isnan(number(&c, "chosen_pull")));
    pr_curves_free(&c);
    pr_plan_free(&plan);
    fixture_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_battery_runs_as_its_label_says),
        cmocka_unit_test(test_alternator_cold_hot_and_its_power),
        cmocka_unit_test(test_winch_goes_through_its_sheet),
        cmocka_unit_test(test_winch_motor_warms_and_is_allowed_less_the_second_time),
        cmocka_unit_test(test_ground_pulls_back_by_slope_and_depth),
        cmocka_unit_test(test_rigging_shares_the_force),
        cmocka_unit_test(test_cranking_asks_for_more_when_cold),
        cmocka_unit_test(test_cable_warms_to_its_rating_at_its_ampacity),
        cmocka_unit_test(test_fuse_opens_the_sooner_the_more),
        cmocka_unit_test(test_load_by_voltage_and_time),
        cmocka_unit_test(test_link_amps_by_kind),
        cmocka_unit_test(test_link_is_closed_when_its_kind_has_it),
        cmocka_unit_test(test_tables_are_bounded),
        cmocka_unit_test(test_rests_by_length_and_engine_speed),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
