/* Links: published thresholds, currents and Jacobians of every kind, energy, every refusal. */
#include "base/number.h"
#include "physics/link.h"
#include "support/check.h"
#include "support/published.h"

#include <math.h>

static pr_link derived(pr_link_def def)
{
    pr_link link;
    assert_int_equal(pr_link_derive(&def, &link), PR_OK);
    return link;
}

static pr_link of_kind(pr_link_kind kind)
{
    pr_link_def def = pr_link_def_default(kind);
    def.charger_A = 30;
    return derived(def);
}

/* Voltage where a relay changes when it is swept up (open) or down (closed) in steps of 1 mV. */
static double relay_changes_at(const pr_link *link, bool closed)
{
    for (int mV = closed ? 16000 : 8000; mV >= 8000 && mV <= 16000; mV += closed ? -1 : 1)
        if (pr_link_wants(link, closed, mV / 1000.0, 0.0) != 0)
            return mV / 1000.0;
    return PR_NAN;
}

static double cutoff_changes_at(const pr_cutoff_def *cutoff, bool closed)
{
    for (int mV = closed ? 16000 : 8000; mV >= 8000 && mV <= 16000; mV += closed ? -1 : 1)
        if (pr_cutoff_wants(cutoff, closed, mV / 1000.0) != 0)
            return mV / 1000.0;
    return PR_NAN;
}

static void test_thresholds_published(void **state)
{
    (void)state;
    const pr_link a = of_kind(PR_LINK_RELAY); /* the default is unit A's */
    pr_published_check("link-relay-a-close", relay_changes_at(&a, false));
    pr_published_check("link-relay-a-open", relay_changes_at(&a, true));
    pr_link_def def = pr_link_def_default(PR_LINK_RELAY);
    def.close_V = pr_published_expected("link-relay-b-close");
    def.open_V = pr_published_expected("link-relay-b-open");
    const pr_link b = derived(def);
    pr_published_check("link-relay-b-close", relay_changes_at(&b, false));
    pr_published_check("link-relay-b-open", relay_changes_at(&b, true));
    pr_published_check("link-relay-b-delay", b.def.close_delay_s);
    const pr_cutoff_def cutoff = pr_cutoff_def_default();
    pr_published_check("link-cutoff-off", cutoff_changes_at(&cutoff, true));
    pr_published_check("link-cutoff-off-delay", cutoff.off_delay_s);
    pr_published_check("link-cutoff-on", cutoff_changes_at(&cutoff, false));
    pr_published_check("link-cutoff-on-delay", cutoff.on_delay_s);
}

static void test_wants_holds_between(void **state)
{
    (void)state;
    const pr_link relay = of_kind(PR_LINK_RELAY);
    const pr_cutoff_def cutoff = pr_cutoff_def_default();
    for (int mV = 12801; mV < 13300; mV++) {
        assert_int_equal(pr_link_wants(&relay, false, mV / 1000.0, 14), 0); /* senses side 0 */
        assert_int_equal(pr_link_wants(&relay, true, mV / 1000.0, 11), 0);
    }
    for (int mV = 10501; mV < 12000; mV++) {
        assert_int_equal(pr_cutoff_wants(&cutoff, false, mV / 1000.0), 0);
        assert_int_equal(pr_cutoff_wants(&cutoff, true, mV / 1000.0), 0);
    }
    pr_link_def def = pr_link_def_default(PR_LINK_RELAY);
    def.senses_both = true;
    const pr_link both = derived(def);
    assert_int_equal(pr_link_wants(&both, false, 12.5, 13.3), 1);
    assert_int_equal(pr_link_wants(&both, true, 12.5, 13.3), 0);
    assert_int_equal(pr_link_wants(&both, true, 12.5, 12.7), -1);
    const pr_link charger = of_kind(PR_LINK_CHARGER);
    assert_int_equal(pr_link_wants(&charger, false, 12.9, 14), 0);
    assert_int_equal(pr_link_wants(&charger, false, 13.0, 12), 1);
    assert_int_equal(pr_link_wants(&charger, true, 12.5, 14), 0);
    assert_int_equal(pr_link_wants(&charger, true, 12.4, 14), -1);
    const pr_link_kind never[] = {PR_LINK_NONE, PR_LINK_SWITCH, PR_LINK_DIODE};
    for (int k = 0; k < 3; k++) {
        const pr_link link = of_kind(never[k]);
        assert_int_equal(pr_link_wants(&link, false, 15, 15), 0);
        assert_int_equal(pr_link_wants(&link, true, 9, 9), 0);
    }
}

static void test_currents_published(void **state)
{
    (void)state;
    const pr_link sw = of_kind(PR_LINK_SWITCH);
    double i0, i1;
    pr_link_currents_A(&sw, true, 0.015 - sw.def.contact_ohm, 12.7, 11.9, &i0, &i1, NULL);
    pr_published_check("link-equalise", i0);
    assert_near(i1, i0, 0.0);
    const pr_link diode = of_kind(PR_LINK_DIODE);
    double drop_V = 0.0;
    for (drop_V = 0.0, i0 = 0.0; i0 < 70.0; drop_V += 0.001)
        pr_link_currents_A(&diode, false, 0.0, 14.0, 14.0 - drop_V, &i0, &i1, NULL);
    pr_published_check("link-diode-70A", drop_V);
}

static void test_currents_open_is_nothing(void **state)
{
    (void)state;
    for (int kind = PR_LINK_NONE; kind <= PR_LINK_CHARGER; kind++) {
        if (kind == PR_LINK_DIODE)
            continue;
        const pr_link link = of_kind((pr_link_kind)kind);
        double i0 = 1, i1 = 1, j[4] = {1, 1, 1, 1};
        pr_link_currents_A(&link, false, 0.005, 14, 11, &i0, &i1, j);
        assert_near(fabs(i0) + fabs(i1) + fabs(j[0]) + fabs(j[1]) + fabs(j[2]) + fabs(j[3]), 0, 0);
    }
    const pr_link none = of_kind(PR_LINK_NONE);
    double i0, i1;
    pr_link_currents_A(&none, true, 0.005, 14, 11, &i0, &i1, NULL);
    assert_near(fabs(i0) + fabs(i1), 0, 0);
    const pr_link diode = of_kind(PR_LINK_DIODE); /* blocks backwards, closed or not */
    pr_link_currents_A(&diode, true, 0.005, 11, 14, &i0, &i1, NULL);
    assert_near(fabs(i0) + fabs(i1), 0, 0);
}

/* Jacobian against central differences, away from the corners of the laws. */
/* Returns how many of the two columns were compared. The bend of the diode's knee (1/(2 w R) =
 * 1,700 A/V2) over h is the tolerance. */
static int check_jacobian(const pr_link *link, double series_ohm, double v0, double v1)
{
    const double h = 1e-6;
    int compared = 0;
    double i0, i1, j[4], a0, a1, b0, b1;
    pr_link_currents_A(link, true, series_ohm, v0, v1, &i0, &i1, j);
    assert_true(isfinite(i0) && isfinite(i1));
    for (int side = 0; side < 2; side++) {
        const double d0 = side ? 0 : h, d1 = side ? h : 0;
        pr_link_currents_A(link, true, series_ohm, v0 + d0, v1 + d1, &a0, &a1, NULL);
        pr_link_currents_A(link, true, series_ohm, v0 - d0, v1 - d1, &b0, &b1, NULL);
        if (fabs((a0 - i0) - (i0 - b0)) + fabs((a1 - i1) - (i1 - b1)) < 1e-2 * h) {
            assert_near(j[side], (a0 - b0) / (2 * h), 2e-3 + 1e-4 * fabs(j[side]));
            assert_near(j[2 + side], (a1 - b1) / (2 * h), 2e-3 + 1e-4 * fabs(j[2 + side]));
            compared++;
        }
        /* continuous, also over the corners */
        assert_true(fabs(a0 - i0) < 1e4 * h && fabs(a1 - i1) < 1e4 * h);
    }
    return compared;
}

static void test_currents_jacobian(void **state)
{
    (void)state;
    for (int kind = PR_LINK_SWITCH; kind <= PR_LINK_CHARGER; kind++) {
        const pr_link link = of_kind((pr_link_kind)kind);
        int compared = 0, possible = 0;
        for (double v0 = -1; v0 < 16; v0 += 0.173)
            for (double v1 = -1; v1 < 16; v1 += 0.191) {
                compared += check_jacobian(&link, 0.004, v0, v1);
                possible += 2;
            }
        assert_true(compared > 0.99 * possible);
        assert_int_equal(check_jacobian(&link, 0.004, 11.98 + link.def.diode_V, 12.0), 2);
        assert_int_equal(check_jacobian(&link, 0.004, 12.03 + link.def.diode_V, 12.0), 2);
    }
}

static void test_currents_passive_laws_rise(void **state)
{
    (void)state;
    for (int kind = PR_LINK_SWITCH; kind <= PR_LINK_DIODE; kind++) {
        const pr_link link = of_kind((pr_link_kind)kind);
        double before = -PR_INF, i0, i1;
        for (double u = -3; u < 3; u += 0.001) {
            pr_link_currents_A(&link, true, 0.003, 12 + u, 12, &i0, &i1, NULL);
            assert_true(i0 >= before && i1 == i0);
            assert_true(u * i0 >= 0.0); /* takes energy, never gives it */
            before = i0;
        }
    }
}

static void test_charger_energy_and_limits(void **state)
{
    (void)state;
    const pr_link c = of_kind(PR_LINK_CHARGER);
    const double wires_ohm = 0.006;
    double i0, i1;
    for (double v0 = 0.5; v0 < 16; v0 += 0.25)
        for (double v1 = 0; v1 < 16; v1 += 0.25) {
            pr_link_currents_A(&c, true, wires_ohm, v0, v1, &i0, &i1, NULL);
            assert_true(i0 >= 0 && i1 >= 0 && i1 <= 30 + 1e-12);
            /* what comes out, the wires' heat included, is efficiency x what goes in */
            assert_near(0.9 * v0 * i0, i1 * (v1 + i1 * wires_ohm), 1e-9);
        }
    pr_link_currents_A(&c, true, wires_ohm, 13.5, 12.5, &i0, &i1, NULL);
    assert_near(i1, 30, 1e-12); /* at its limit */
    pr_link_currents_A(&c, true, wires_ohm, 13.5, 14.2, &i0, &i1, NULL);
    assert_near(i1, 0.2 / (0.01 + wires_ohm), 1e-9); /* holding its voltage */
    pr_link_currents_A(&c, true, wires_ohm, 13.5, 14.5, &i0, &i1, NULL);
    assert_near(fabs(i0) + fabs(i1), 0, 0); /* full: nothing, and nothing back */
    /* a failing bus is not drained by a constant power */
    double most = 0.0;
    for (double v0 = 0; v0 < 16; v0 += 0.01) {
        pr_link_currents_A(&c, true, wires_ohm, v0, 13.0, &i0, &i1, NULL);
        most = fmax(most, i0);
    }
    assert_true(most < 30 * 13.2 / (0.9 * 0.8 * 12.4) + 0.01);
}

#define REFUSES(kind_, field, value)                                                               \
    do {                                                                                           \
        pr_link_def bad = pr_link_def_default(kind_);                                              \
        bad.charger_A = 30;                                                                        \
        bad.field = (value);                                                                       \
        assert_int_equal(pr_link_derive(&bad, &link), PR_ERR_RANGE);                               \
    } while (0)

static void test_derive_refuses(void **state)
{
    (void)state;
    pr_link link;
    pr_link_def def = pr_link_def_default(PR_LINK_SWITCH);
    assert_int_equal(pr_link_derive(NULL, &link), PR_ERR_INTERNAL);
    assert_int_equal(pr_link_derive(&def, NULL), PR_ERR_INTERNAL);
    def.cookie = 0;
    assert_int_equal(pr_link_derive(&def, &link), PR_ERR_INTERNAL);
    def = pr_link_def_default(PR_LINK_CHARGER);
    assert_int_equal(pr_link_derive(&def, &link), PR_ERR_RANGE); /* its amps are required */
    REFUSES((pr_link_kind)9, rating_A, 100);
    REFUSES(PR_LINK_SWITCH, contact_ohm, 0);
    REFUSES(PR_LINK_SWITCH, rating_A, 0);
    REFUSES(PR_LINK_RELAY, contact_ohm, PR_NAN);
    REFUSES(PR_LINK_RELAY, open_V, 13.3); /* no hysteresis */
    REFUSES(PR_LINK_RELAY, close_V, 20);
    REFUSES(PR_LINK_RELAY, open_V, 5);
    REFUSES(PR_LINK_RELAY, close_delay_s, -1);
    REFUSES(PR_LINK_RELAY, open_delay_s, PR_NAN);
    REFUSES(PR_LINK_DIODE, diode_V, 0);
    REFUSES(PR_LINK_DIODE, diode_ohm, 0);
    REFUSES(PR_LINK_CHARGER, charger_A, 0);
    REFUSES(PR_LINK_CHARGER, charger_V, 20);
    REFUSES(PR_LINK_CHARGER, charger_efficiency, 1.1);
    REFUSES(PR_LINK_CHARGER, charger_efficiency, 0.1);
    REFUSES(PR_LINK_CHARGER, charger_stop_V, 13.0);
    REFUSES(PR_LINK_CHARGER, charger_start_V, 17);
    REFUSES(PR_LINK_CHARGER, charger_stop_V, 5);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_thresholds_published),
        cmocka_unit_test(test_wants_holds_between),
        cmocka_unit_test(test_currents_published),
        cmocka_unit_test(test_currents_open_is_nothing),
        cmocka_unit_test(test_currents_jacobian),
        cmocka_unit_test(test_currents_passive_laws_rise),
        cmocka_unit_test(test_charger_energy_and_limits),
        cmocka_unit_test(test_derive_refuses),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
