/* Alternator: plate fit, published curves, output law and its derivatives, every refusal. */
#include "base/number.h"
#include "base/root.h"
#include "physics/alternator.h"
#include "support/check.h"
#include "support/published.h"

#include "physics/wire.h"

#include <math.h>
#include <string.h>

static const double WARM_degC = 83.0; /* winding at the plate's conditions */

static pr_alternator_def plate(double idle_A, double idle_rpm, double rated_A, double rated_rpm)
{
    pr_alternator_def def = pr_alternator_def_default();
    def.idle_A = idle_A;
    def.idle_rpm = idle_rpm;
    def.rated_A = rated_A;
    def.rated_rpm = rated_rpm;
    return def;
}

static pr_alternator derived(pr_alternator_def def)
{
    pr_alternator a;
    assert_int_equal(pr_alternator_derive(&def, &a), PR_OK);
    return a;
}

static pr_alternator label(double rated_A, double rated_rpm)
{
    return derived(plate(PR_NAN, 1500, rated_A, rated_rpm));
}

static pr_alternator_branch branch_of(const pr_alternator *a, double engine_rpm,
                                      double winding_degC)
{
    pr_alternator_state s = pr_alternator_state_at(a, winding_degC);
    s.ceiling_A = 1e3;
    pr_alternator_branch b;
    pr_alternator_branch_at(a, &s, engine_rpm, true, 20.0, &b);
    return b;
}

static void test_derive_plate_fit(void **state)
{
    (void)state;
    const pr_alternator a = derived(plate(60, 1500, 120, 6000));
    pr_published_check("alternator-fit-nc", a.nc_rpm);
    pr_published_check("alternator-fit-im", a.im_A);
    pr_published_check("alternator-fit-3000", pr_alternator_available_A(&a, 3000, WARM_degC, 13.5));
    /* the curve goes through the plate */
    assert_near(pr_alternator_available_A(&a, 1500, WARM_degC, 13.5), 60.0, 1e-6);
    assert_near(pr_alternator_available_A(&a, 6000, WARM_degC, 13.5), 120.0, 1e-6);
    assert_near(pr_alternator_available_A(&a, 1050, WARM_degC, 13.5), 0.0, 1e-12);
    assert_near(pr_alternator_available_A(&a, 500, WARM_degC, 13.5), 0.0, 0.0);
}

static void test_available_hot_and_cold(void **state)
{
    (void)state;
    const pr_alternator a = derived(plate(16, 1300, 48, 5000));
    pr_published_check("alternator-50-hot-1300", pr_alternator_available_A(&a, 1300, 83, 13.5));
    pr_published_check("alternator-50-hot-2500", pr_alternator_available_A(&a, 2500, 83, 13.5));
    pr_published_check("alternator-50-cold-1300", pr_alternator_available_A(&a, 1300, 20, 13.5));
    pr_published_check("alternator-50-cold-2500", pr_alternator_available_A(&a, 2500, 20, 13.5));
}

static void test_available_published_plates(void **state)
{
    (void)state;
    pr_alternator_def def = plate(40, 1500, 78, 6000);
    def.cut_in_rpm = 1100;
    pr_alternator a = derived(def);
    /* a bench test at 14 V: the curve is taken as drawn, so at its own 13.5 V */
    pr_published_check("alternator-80-plate-3000", pr_alternator_available_A(&a, 3000, 83, 13.5));
    pr_published_check("alternator-80-plate-8000", pr_alternator_available_A(&a, 8000, 83, 13.5));
    def = plate(21, 1480, 51, 6000);
    def.cut_in_rpm = 1100;
    a = derived(def);
    pr_published_check("alternator-53-plate-3300", pr_alternator_available_A(&a, 3300, 83, 13.5));
    pr_published_check("alternator-53-plate-8000", pr_alternator_available_A(&a, 8000, 83, 13.5));
    def = plate(33, 1480, 70, 6000);
    def.cut_in_rpm = 1100;
    a = derived(def);
    pr_published_check("alternator-72-plate-3300", pr_alternator_available_A(&a, 3300, 83, 13.5));
    def = plate(18, 1250, 58, 5000);
    def.cut_in_rpm = 900;
    a = derived(def);
    pr_published_check("alternator-58-plate-2500", pr_alternator_available_A(&a, 2500, 83, 13.5));
}

static void test_available_published_labels(void **state)
{
    (void)state;
    pr_alternator a = label(51, 6000);
    pr_published_check("alternator-53-label-1480", pr_alternator_available_A(&a, 1480, 83, 13.5));
    pr_published_check("alternator-53-label-3300", pr_alternator_available_A(&a, 3300, 83, 13.5));
    a = label(70, 6000);
    pr_published_check("alternator-72-label-1480", pr_alternator_available_A(&a, 1480, 83, 13.5));
    pr_published_check("alternator-72-label-3300", pr_alternator_available_A(&a, 3300, 83, 13.5));
    a = label(78, 6000);
    pr_published_check("alternator-80-label-1500", pr_alternator_available_A(&a, 1500, 83, 13.5));
    pr_published_check("alternator-80-label-3000", pr_alternator_available_A(&a, 3000, 83, 13.5));
    a = label(58, 5000);
    pr_published_check("alternator-58-label-1250", pr_alternator_available_A(&a, 1250, 83, 13.5));
    pr_published_check("alternator-58-label-2500", pr_alternator_available_A(&a, 2500, 83, 13.5));
    pr_alternator_def def = plate(PR_NAN, 1500, 58, 5000);
    def.cut_in_rpm = 900;
    a = derived(def);
    pr_published_check("alternator-58-label-cut-in-1250",
                       pr_alternator_available_A(&a, 1250, 83, 13.5));
    a = label(168, 5000);
    pr_published_check("alternator-170-label-2500", pr_alternator_available_A(&a, 2500, 83, 13.5));
    a = label(144, 5000);
    pr_published_check("alternator-150-label-2500", pr_alternator_available_A(&a, 2500, 83, 13.5));
    a = label(38, 5000);
    pr_published_check("alternator-38-label-2500", pr_alternator_available_A(&a, 2500, 83, 13.5));
    a = label(35, 5000);
    pr_published_check("alternator-35-label-2500", pr_alternator_available_A(&a, 2500, 83, 13.5));
}

/* outboard: amps against engine speed, no cut-in printed; solve it from the first reading */
static pr_alternator_def outboard(double cut_in_rpm)
{
    pr_alternator_def def = plate(37, 1000, 52, 5000);
    def.cut_in_rpm = cut_in_rpm;
    return def;
}

static double outboard_miss_A(double cut_in_rpm, void *context)
{
    (void)context;
    const pr_alternator a = derived(outboard(cut_in_rpm));
    return pr_alternator_available_A(&a, 600, WARM_degC, 13.5) - 21.0;
}

static void test_available_published_outboard(void **state)
{
    (void)state;
    double cut_in_rpm = PR_NAN;
    assert_int_equal(pr_root_find(outboard_miss_A, NULL, 150, 590, 1e-6, &cut_in_rpm), PR_OK);
    const pr_alternator a = derived(outboard(cut_in_rpm));
    pr_published_check("alternator-outboard-1500", pr_alternator_available_A(&a, 1500, 83, 13.5));
    pr_published_check("alternator-outboard-2000", pr_alternator_available_A(&a, 2000, 83, 13.5));
    pr_published_check("alternator-outboard-2500", pr_alternator_available_A(&a, 2500, 83, 13.5));
}

static void test_machine_curve(void **state)
{
    (void)state;
    pr_alternator_machine m = {
        .inductance_H = 135e-6, .flux_Vs_per_A = 9e-3, .field_A = 3.6, .pole_pairs = 3};
    double isc_A = PR_NAN, n0_rpm = PR_NAN;
    assert_int_equal(pr_alternator_machine_curve(&m, 14.0, &isc_A, &n0_rpm), PR_OK);
    pr_published_check("alternator-machine-isc", isc_A);
    pr_published_check("alternator-machine-n0", n0_rpm);
    assert_int_equal(pr_alternator_machine_curve(&m, 0.0, &isc_A, &n0_rpm), PR_ERR_RANGE);
    m.pole_pairs = 0;
    assert_int_equal(pr_alternator_machine_curve(&m, 14.0, &isc_A, &n0_rpm), PR_ERR_RANGE);
    m.pole_pairs = 3;
    m.inductance_H = 0.0;
    assert_int_equal(pr_alternator_machine_curve(&m, 14.0, &isc_A, &n0_rpm), PR_ERR_RANGE);
    m.inductance_H = 135e-6;
    m.field_A = PR_NAN;
    assert_int_equal(pr_alternator_machine_curve(&m, 14.0, &isc_A, &n0_rpm), PR_ERR_RANGE);
}

static void test_set_V_against_temperature(void **state)
{
    (void)state;
    const pr_alternator a = label(100, 6000);
    pr_published_check("alternator-set-60", pr_alternator_set_V(&a, 60.0));
    pr_published_check("alternator-set-cold", pr_alternator_set_V(&a, -20.0));
    pr_published_check("alternator-set-20", pr_alternator_set_V(&a, 20.0));
    pr_published_check("alternator-set-hot", pr_alternator_set_V(&a, 60.0));
    pr_published_check("alternator-set-very-hot", pr_alternator_set_V(&a, 80.0));
    /* the branch takes the air around the regulator: 20 degC ambient + 20 K */
    const pr_alternator_branch b = branch_of(&a, 1000, 40);
    assert_near(b.air_degC, 40.0, 0.0);
    assert_near(b.set_V, 14.2, 1e-12);
}

static void test_shaft_power(void **state)
{
    (void)state;
    const pr_alternator a = label(100, 6000);
    pr_alternator_branch b = branch_of(&a, 1800.0 / 2.7, 83);
    const double P_W = pr_alternator_shaft_W(&a, &b, 14.0, 100.0);
    pr_published_check("alternator-shaft", P_W);
    pr_published_check("alternator-torque", pr_alternator_torque_Nm(&b, P_W));
    assert_near(pr_alternator_shaft_W(&a, &b, 14.0, 50.0), 14.0 * 50.0 / 0.65, 1e-9);
    assert_near(pr_alternator_shaft_W(&a, &b, 14.0, 0.0), 0.0, 0.0);
    b.running = false;
    assert_near(pr_alternator_shaft_W(&a, &b, 14.0, 50.0), 0.0, 0.0);
    b.rpm = 0.0;
    assert_near(pr_alternator_torque_Nm(&b, 100.0), 0.0, 0.0);
}

/* Terminal voltage where the output law gives i_A. */
typedef struct at_amps {
    const pr_alternator *a;
    const pr_alternator_branch *b;
    double i_A;
} at_amps;

static double amps_miss(double v_V, void *context)
{
    const at_amps *c = context;
    return pr_alternator_branch_current_A(c->a, c->b, v_V, v_V, NULL, NULL, NULL) - c->i_A;
}

static double volts_at(const pr_alternator *a, const pr_alternator_branch *b, double i_A)
{
    at_amps c = {a, b, i_A};
    double v_V = 0.0;
    /* zero when the demand is met at no voltage */
    return pr_root_find(amps_miss, &c, 1.0, 16.0, 1e-9, &v_V) == PR_OK ? v_V : 0.0;
}

static void test_branch_current_in_use(void **state)
{
    (void)state;
    pr_alternator_def def = plate(60, 1500, 120, 6000);
    pr_alternator a = derived(def);
    pr_alternator_branch b = branch_of(&a, 1300, 83);
    pr_published_check("alternator-healthy", volts_at(&a, &b, 60));
    const double full_A = pr_alternator_branch_available_A(&a, &b, 13.5);
    pr_published_check("alternator-overloaded", volts_at(&a, &b, 1.1 * full_A));

    /* 2 m of 25 mm2, return through the chassis */
    pr_wire_def cable = pr_wire_def_default();
    cable.gauge_kind = PR_GAUGE_MM2;
    cable.gauge = 25;
    cable.length_m = 2;
    cable.return_kind = PR_RETURN_CHASSIS;
    pr_wire wire;
    assert_int_equal(pr_wire_derive(&cable, &wire), PR_OK);
    const double drop_V = full_A / 1.6 * pr_wire_resistance_ohm(&wire, 40);
    pr_published_check("alternator-all-on", volts_at(&a, &b, full_A / 1.6) - drop_V);
    def.set_V = 14.1;
    a = derived(def);
    b = branch_of(&a, 1300, 83);
    pr_published_check("alternator-all-on-14.1", volts_at(&a, &b, full_A / 1.6) - drop_V);
}

static void test_available_falls_with_heat(void **state)
{
    (void)state;
    const pr_alternator a = derived(plate(60, 1500, 120, 6000));
    for (double rpm = 1000; rpm <= 9000; rpm += 250)
        for (double T = -40; T < 200; T += 20) {
            const double cooler = pr_alternator_available_A(&a, rpm, T, 13.5);
            const double hotter = pr_alternator_available_A(&a, rpm, T + 20, 13.5);
            assert_true(hotter < cooler || cooler == 0.0);
        }
    for (double rpm = 1000; rpm < 9000; rpm += 100)
        assert_true(pr_alternator_available_A(&a, rpm + 100, 83, 13.5) >=
                    pr_alternator_available_A(&a, rpm, 83, 13.5));
    /* sv and f of the equations in alternator.c: same curve, other speed and scale */
    const double f = sqrt(12.0 / 13.5 * (234.5 + 83) / (234.5 + 40)), sv = 15.3 / (12.0 + 1.8);
    assert_near(pr_alternator_available_A(&a, 1600, 40, 12.0),
                f * pr_alternator_available_A(&a, f * sv * 1600, 83, 13.5), 1e-9);
    /* near cut-in a lower voltage gives more */
    assert_true(pr_alternator_available_A(&a, 1200, 83, 12.0) >
                pr_alternator_available_A(&a, 1200, 83, 14.0));
    assert_near(pr_alternator_available_A(&a, 3000, 83, 0.0), 0.0, 0.0);
    assert_near(pr_alternator_available_A(&a, 0, 83, 13.5), 0.0, 0.0);
    assert_true(isnan(pr_alternator_available_A(&a, 3000, -300, 13.5)));
    assert_true(isnan(pr_alternator_available_A(&a, 3000, 83, PR_NAN)));
    assert_true(isnan(pr_alternator_available_A(&a, PR_NAN, 83, 13.5)));
}

/* Sweeps the law at one sensing: falling, continuous, derivatives true between its corners. */
static void sweep_law(const pr_alternator *a, const pr_alternator_branch *b)
{
    const double h = 1e-6;
    int compared = 0;
    for (int k = 0; k <= 1600; k++) {
        const double v = 0.01 * k;
        double dv, ds;
        bool limited;
        const double i = pr_alternator_branch_current_A(a, b, v, v, &dv, &ds, &limited);
        assert_true(i >= 0.0 && isfinite(i) && dv <= 0.0 && ds <= 0.0);
        const double up = pr_alternator_branch_current_A(a, b, v + h, v + h, NULL, NULL, NULL);
        const double down = pr_alternator_branch_current_A(a, b, v - h, v - h, NULL, NULL, NULL);
        assert_true(up <= i && i <= down);
        /* never steeper than the regulator line */
        assert_true(down - up <= 2.0 * h / a->def.droop_ohm * (1.0 + 1e-6) + 1e-9);
        const double left = (down - i) / h, right = (i - up) / h;
        if (v > 0.0 && fabs(left - right) < 1e-4 * (fabs(left) + 1.0)) { /* no corner here */
            assert_near(-(dv + ds), 0.5 * (left + right), 1e-4 * (fabs(left) + 1.0));
            compared++;
        }
    }
    assert_true(compared > 1590);
}

static void test_branch_current_law(void **state)
{
    (void)state;
    pr_alternator_def def = plate(60, 1500, 120, 6000);
    for (int kind = 0; kind < 4; kind++) {
        def.belt_limit_W = kind & 1 ? 1800.0 : PR_NAN;
        def.ramp_s = kind & 2 ? 4.0 : 0.0;
        const pr_alternator a = derived(def);
        const double engine_rpm[] = {380, 450, 700, 1500, 3000};
        for (int n = 0; n < 5; n++) {
            pr_alternator_branch b = branch_of(&a, engine_rpm[n], 60);
            sweep_law(&a, &b);
            if (kind & 2) {
                b.ceiling_A = 40.0;
                sweep_law(&a, &b);
            }
        }
    }
}

static void test_branch_current_partial_derivatives(void **state)
{
    (void)state;
    pr_alternator_def def = plate(60, 1500, 120, 6000);
    def.sensing = PR_SENSE_BATTERY;
    const pr_alternator a = derived(def);
    const pr_alternator_branch b = branch_of(&a, 560, 70);
    double dv, ds;
    bool limited;
    /* full field: the output answers to the terminal only */
    double i = pr_alternator_branch_current_A(&a, &b, 13.0, 12.6, &dv, &ds, &limited);
    assert_true(limited);
    assert_near(ds, 0.0, 0.0);
    const double h = 1e-5;
    const double up = pr_alternator_branch_current_A(&a, &b, 13.0 + h, 12.6, NULL, NULL, NULL);
    const double down = pr_alternator_branch_current_A(&a, &b, 13.0 - h, 12.6, NULL, NULL, NULL);
    assert_near(dv, (up - down) / (2 * h), 1e-6 * fabs(dv));
    assert_true(dv < 0.0);
    assert_near(i, pr_alternator_branch_available_A(&a, &b, 13.0), 0.0);
    /* regulator: to the sensed voltage only */
    i = pr_alternator_branch_current_A(&a, &b, 14.3, 14.15, &dv, &ds, &limited);
    assert_false(limited);
    assert_near(dv, 0.0, 0.0);
    assert_near(ds, -1.0 / 0.0025, 1e-9);
    assert_near(i, (14.2 - 14.15) / 0.0025, 1e-9);
    /* above the set voltage: nothing, and nothing back */
    i = pr_alternator_branch_current_A(&a, &b, 15.0, 15.0, &dv, &ds, &limited);
    assert_near(i, 0.0, 0.0);
    assert_near(dv, 0.0, 0.0);
    assert_near(ds, 0.0, 0.0);
    assert_false(limited);
}

static void test_branch_current_idle_machine(void **state)
{
    (void)state;
    const pr_alternator a = label(100, 6000);
    pr_alternator_state s = pr_alternator_state_at(&a, 20);
    pr_alternator_branch b;
    bool limited = true;
    pr_alternator_branch_at(&a, &s, 1000, false, 20, &b);
    assert_false(b.running);
    assert_near(pr_alternator_branch_current_A(&a, &b, 12, 12, NULL, NULL, &limited), 0, 0);
    assert_false(limited);
    assert_near(pr_alternator_branch_available_A(&a, &b, 12), 0, 0);
    pr_alternator_branch_at(&a, &s, 0, true, 20, &b);
    assert_false(b.running);
    assert_near(b.air_degC, 20, 0); /* a stopped engine does not warm the air */
    /* excited but too slow to give anything: at its limit, and says so */
    pr_alternator_branch_at(&a, &s, 300, true, 20, &b);
    assert_true(b.running);
    assert_near(pr_alternator_branch_current_A(&a, &b, 13.5, 13.5, NULL, NULL, &limited), 0, 0);
    assert_true(limited);
}

static void test_belt_limit(void **state)
{
    (void)state;
    pr_alternator_def def = plate(60, 1500, 120, 6000);
    def.belt_limit_W = 1500;
    const pr_alternator a = derived(def);
    const pr_alternator_branch b = branch_of(&a, 2000, 83);
    bool limited = false;
    for (double v = 8; v < 14; v += 0.5) {
        const double i = pr_alternator_branch_current_A(&a, &b, v, v, NULL, NULL, &limited);
        assert_true(limited);
        assert_near(pr_alternator_shaft_W(&a, &b, v, i), 1500, 1e-6);
    }
    /* near the set voltage the regulator asks for less than the belt carries */
    const double i = pr_alternator_branch_current_A(&a, &b, 14.1, 14.1, NULL, NULL, &limited);
    assert_false(limited);
    assert_true(pr_alternator_shaft_W(&a, &b, 14.1, i) < 1500);
}

static void test_belt_slip(void **state)
{
    (void)state;
    pr_alternator_def def = plate(60, 1500, 120, 6000);
    const pr_alternator whole = derived(def);
    def.belt_slip_frac = 1.0 / 3.0;
    const pr_alternator slips = derived(def);
    const pr_alternator_branch w = branch_of(&whole, 800, 83), s = branch_of(&slips, 1200, 83);
    assert_near(s.rpm, w.rpm, 1e-9); /* a third of slip = two thirds of the engine speed */
    def.belt_slip_frac = 1.0;
    const pr_alternator gone = derived(def);
    assert_false(branch_of(&gone, 3000, 83).running);
    assert_false(pr_alternator_excites(&gone, 3000, true));
}

static void test_output_factor_scales(void **state)
{
    (void)state;
    pr_alternator_def def = plate(60, 1500, 120, 6000);
    const pr_alternator whole = derived(def);
    def.output_factor = 0.62;
    const pr_alternator worn = derived(def);
    assert_near(pr_alternator_available_A(&worn, 2500, 90, 13.0),
                0.62 * pr_alternator_available_A(&whole, 2500, 90, 13.0), 1e-9);
    def.output_factor = 0.0; /* dead */
    const pr_alternator dead = derived(def);
    assert_near(pr_alternator_available_A(&dead, 2500, 90, 13.0), 0.0, 0.0);
}

static void test_rates_winding(void **state)
{
    (void)state;
    const pr_alternator a = derived(plate(60, 1500, 120, 6000));
    pr_alternator_branch b = branch_of(&a, 1500, 100);
    pr_alternator_state s = {.winding_degC = 100}, r;
    /* rests at air + 60 K at the rated output: 20 + 20 + 60 */
    pr_alternator_rates(&a, &s, &b, 120, true, 20, &r);
    assert_near(r.winding_degC, 0.0, 1e-12);
    assert_near(r.ceiling_A, 0.0, 0.0);
    pr_alternator_rates(&a, &s, &b, 60, false, 20, &r);
    assert_near(r.winding_degC, -45.0 / 600.0, 1e-12);
}

static void test_rates_ramp(void **state)
{
    (void)state;
    pr_alternator_def def = plate(60, 1500, 120, 6000);
    def.ramp_s = 5;
    const pr_alternator a = derived(def);
    pr_alternator_state s = pr_alternator_state_at(&a, 83), r;
    assert_near(s.ceiling_A, 12.0, 1e-12);
    pr_alternator_branch b;
    /* a step of load: full output is reached in `ramp_s`, give or take the starting tenth */
    const double dt = 1e-3;
    double t = 0.0;
    for (; t < 20.0; t += dt) {
        pr_alternator_branch_at(&a, &s, 2000, true, 20, &b);
        const double i = pr_alternator_branch_current_A(&a, &b, 12.5, 12.5, NULL, NULL, NULL);
        if (i < b.ceiling_A - 1e-9)
            break;
        pr_alternator_rates(&a, &s, &b, i, true, 20, &r);
        assert_near(r.ceiling_A, 120.0 / 5.0, 1e-9);
        s.ceiling_A += dt * r.ceiling_A;
    }
    assert_near(t, 4.6, 0.3);
    /* the load goes: the ceiling follows down to the output and its tenth */
    for (int k = 0; k < 5000; k++) {
        pr_alternator_branch_at(&a, &s, 2000, true, 20, &b);
        pr_alternator_rates(&a, &s, &b, 10, false, 20, &r);
        s.ceiling_A += dt * r.ceiling_A;
    }
    assert_near(s.ceiling_A, 22.0, 0.1);
}

static void test_excites_with_hysteresis(void **state)
{
    (void)state;
    pr_alternator_def def = plate(60, 1500, 120, 6000);
    def.turn_on_rpm = 2000;
    def.pulley_ratio = 2.0;
    const pr_alternator a = derived(def);
    assert_false(pr_alternator_excites(&a, 999, false));
    assert_true(pr_alternator_excites(&a, 1000, false));
    assert_true(pr_alternator_excites(&a, 600, true)); /* 1200 rpm: keeps itself excited */
    assert_true(pr_alternator_excites(&a, 473, true)); /* 946 > 0.9 x 1050 */
    assert_false(pr_alternator_excites(&a, 472, true));
    def.turn_on_rpm = PR_NAN;
    const pr_alternator lamp = derived(def);
    assert_true(pr_alternator_excites(&lamp, 525, false)); /* at cut-in */
    assert_false(pr_alternator_excites(&lamp, 524, false));
}

static void test_derive_makers_points(void **state)
{
    (void)state;
    pr_alternator_def def = pr_alternator_def_default();
    const double rpm[] = {1500, 2000, 3000, 6000}, amps[] = {40, 56, 69, 78};
    def.rated_A = 78;
    def.n_points = 4;
    memcpy(def.point_rpm, rpm, sizeof rpm);
    memcpy(def.point_A, amps, sizeof amps);
    const pr_alternator a = derived(def);
    assert_true(isnan(a.im_A) && isnan(a.nc_rpm));
    for (int i = 0; i < 4; i++)
        assert_near(pr_alternator_available_A(&a, rpm[i], 83, 13.5), amps[i], 1e-9);
    assert_near(pr_alternator_available_A(&a, 1050, 83, 13.5), 0.0, 1e-12); /* led to cut-in */
    assert_near(pr_alternator_available_A(&a, 9000, 83, 13.5), 78.0, 1e-9); /* held */
    const pr_alternator_branch b = branch_of(&a, 600, 70);
    sweep_law(&a, &b);

    pr_alternator other;
    pr_alternator_def bad = def;
    bad.point_rpm[0] = 1000; /* output below cut-in */
    assert_int_equal(pr_alternator_derive(&bad, &other), PR_ERR_RANGE);
    bad = def;
    bad.point_A[2] = 50; /* falls with speed */
    assert_int_equal(pr_alternator_derive(&bad, &other), PR_ERR_RANGE);
    bad = def;
    bad.point_rpm[2] = 2000; /* twice the same speed */
    assert_int_equal(pr_alternator_derive(&bad, &other), PR_ERR_RANGE);
    bad = def;
    bad.point_A[0] = PR_NAN;
    assert_int_equal(pr_alternator_derive(&bad, &other), PR_ERR_RANGE);
    bad = def;
    bad.point_rpm[0] = -1;
    assert_int_equal(pr_alternator_derive(&bad, &other), PR_ERR_RANGE);
    bad = def;
    bad.point_A[3] = PR_INF;
    assert_int_equal(pr_alternator_derive(&bad, &other), PR_ERR_RANGE);
    bad = def;
    bad.point_rpm[3] = PR_INF;
    assert_int_equal(pr_alternator_derive(&bad, &other), PR_ERR_RANGE);
    bad = def;
    bad.point_A[0] = 0.0; /* the points bring their own cut-in */
    assert_int_equal(pr_alternator_derive(&bad, &other), PR_OK);
    assert_near(other.n0_rpm, 1500, 0.0);
}

#define REFUSES(field, value, status)                                                              \
    do {                                                                                           \
        pr_alternator_def bad = plate(60, 1500, 120, 6000);                                        \
        bad.field = (value);                                                                       \
        assert_int_equal(pr_alternator_derive(&bad, &a), (status));                                \
    } while (0)

static void test_derive_refuses(void **state)
{
    (void)state;
    pr_alternator a;
    pr_alternator_def good = plate(60, 1500, 120, 6000);
    assert_int_equal(pr_alternator_derive(NULL, &a), PR_ERR_INTERNAL);
    assert_int_equal(pr_alternator_derive(&good, NULL), PR_ERR_INTERNAL);
    REFUSES(cookie, 0, PR_ERR_INTERNAL);
    REFUSES(rated_A, PR_NAN, PR_ERR_RANGE); /* required */
    REFUSES(rated_A, 4.9, PR_ERR_RANGE);
    REFUSES(rated_A, 601, PR_ERR_RANGE);
    REFUSES(rated_rpm, 500, PR_ERR_RANGE);
    REFUSES(cut_in_rpm, 50, PR_ERR_RANGE);
    REFUSES(cut_in_rpm, 1500, PR_ERR_RANGE); /* no output at the idle speed of the plate */
    REFUSES(idle_A, 120, PR_ERR_RANGE);      /* idle amps not below rated */
    REFUSES(idle_A, 0, PR_ERR_RANGE);
    REFUSES(idle_rpm, 6000, PR_ERR_RANGE);
    REFUSES(idle_A, 10, PR_ERR_NO_SOLUTION); /* below the straight line from cut-in: 10.9 A */
    REFUSES(pulley_ratio, 0.4, PR_ERR_RANGE);
    REFUSES(belt_slip_frac, -0.1, PR_ERR_RANGE);
    REFUSES(belt_slip_frac, 1.1, PR_ERR_RANGE);
    REFUSES(set_V, 9, PR_ERR_RANGE);
    REFUSES(set_V_per_K, 1, PR_ERR_RANGE);
    REFUSES(droop_ohm, 0, PR_ERR_RANGE);
    REFUSES(sensing, (pr_sensing)7, PR_ERR_RANGE);
    REFUSES(ramp_s, -1, PR_ERR_RANGE);
    REFUSES(turn_on_rpm, 5, PR_ERR_RANGE);
    REFUSES(efficiency_full, 0, PR_ERR_RANGE);
    REFUSES(efficiency_half, 1.2, PR_ERR_RANGE);
    REFUSES(efficiency_full, 0.9, PR_ERR_RANGE); /* full above half load: shaft power not convex */
    REFUSES(efficiency_full, 0.3, PR_ERR_RANGE); /* more out than in at small loads */
    REFUSES(belt_limit_W, 0, PR_ERR_RANGE);
    REFUSES(output_factor, -1, PR_ERR_RANGE);
    REFUSES(air_degC_rise, -1, PR_ERR_RANGE);
    REFUSES(n_points, -1, PR_ERR_RANGE);
    REFUSES(n_points, PR_ALTERNATOR_POINTS_MAX + 1, PR_ERR_RANGE);
    assert_int_equal(pr_alternator_derive(&good, &a), PR_OK);
}

/* Another size of the same kind: at every speed the output by the same factor, and the belt too. */
static void test_def_scale_scales_all_of_it(void **state)
{
    (void)state;
    pr_alternator_def def = plate(50.0, 1500.0, 100.0, 6000.0), twice = def;
    def.belt_limit_W = twice.belt_limit_W = 900.0;
    pr_alternator_def_scale(&twice, 200.0);
    assert_near(twice.idle_A, 100.0, 1e-12);
    assert_near(twice.belt_limit_W, 1800.0, 1e-9);
    const pr_alternator a = derived(def), b = derived(twice);
    for (double rpm = 500.0; rpm < 3000.0; rpm += 100.0) {
        const pr_alternator_branch at = branch_of(&a, rpm, 25.0);
        const pr_alternator_branch at_twice = branch_of(&b, rpm, 25.0);
        assert_near(pr_alternator_branch_available_A(&b, &at_twice, 13.0),
                    2.0 * pr_alternator_branch_available_A(&a, &at, 13.0), 1e-6);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_def_scale_scales_all_of_it),
        cmocka_unit_test(test_derive_plate_fit),
        cmocka_unit_test(test_available_hot_and_cold),
        cmocka_unit_test(test_available_published_plates),
        cmocka_unit_test(test_available_published_labels),
        cmocka_unit_test(test_available_published_outboard),
        cmocka_unit_test(test_machine_curve),
        cmocka_unit_test(test_set_V_against_temperature),
        cmocka_unit_test(test_shaft_power),
        cmocka_unit_test(test_branch_current_in_use),
        cmocka_unit_test(test_available_falls_with_heat),
        cmocka_unit_test(test_branch_current_law),
        cmocka_unit_test(test_branch_current_partial_derivatives),
        cmocka_unit_test(test_branch_current_idle_machine),
        cmocka_unit_test(test_belt_limit),
        cmocka_unit_test(test_belt_slip),
        cmocka_unit_test(test_output_factor_scales),
        cmocka_unit_test(test_rates_winding),
        cmocka_unit_test(test_rates_ramp),
        cmocka_unit_test(test_excites_with_hysteresis),
        cmocka_unit_test(test_derive_makers_points),
        cmocka_unit_test(test_derive_refuses),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
