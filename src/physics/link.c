/* Link between two battery nodes. u = v0 - v1, R = contact (or diode) + wires.
 *
 * Switch, relay: I = u/R while closed.
 * Diode: slope 1/R above Vd + w, none below Vd - w, a parabola between (w = 0.05 V), so that
 * current and slope are continuous: I = (u - Vd + w)^2/(4 w R). It needs no `closed`. Leakage is
 * neglected. Charger: output I1 = least of its limit and (Vset - v1)/(droop + wires), never
 * negative, x p(v0); input I0 = I1 (v1 + I1 wires)/(efficiency v0): energy is conserved with the
 * losses named. The wires are counted on the output side. p = 1 above vf, (v0/vf)^2 below, vf = 0.8
 * of the stop voltage: its input is bounded on a failing bus. Between vf and above its input is a
 * constant power. Thresholds are inclusive: closes at v >= close, opens at v <= open. Delays are
 * kept by the engine.
 *
 * Sources: published thresholds of three voltage-sensing relays (13.3/12.8; 13.4/12.9 V, 10 s) and
 * a cut-off (10.5 V 90 s, 12 V 30 s); isolator drop 0.7 V and droop 0.01 ohm common practice, no
 * source. Validity: 12 V systems, quasi-steady (no switching ripple, no inductance). */
#include "physics/link.h"
#include "base/number.h"
#include <math.h>
#include <stddef.h>

#define KNEE_V            0.05
#define CHARGER_DROOP_OHM 0.01
#define LOW_FRAC          0.8

pr_link_def pr_link_def_default(pr_link_kind kind)
{
    return (pr_link_def){
        .cookie = PR_DEF_COOKIE,
        .kind = kind,
        .contact_ohm = 0.0005,
        .rating_A = PR_NAN,
        .close_V = 13.3,
        .open_V = 12.8,
        .close_delay_s = 10.0,
        .open_delay_s = 10.0,
        .senses_both = false,
        .diode_V = 0.7,
        .diode_ohm = 0.002,
        .charger_A = PR_NAN,
        .charger_V = 14.4,
        .charger_efficiency = 0.9,
        .charger_start_V = 13.0,
        .charger_stop_V = 12.4,
    };
}

pr_cutoff_def pr_cutoff_def_default(void)
{
    return (pr_cutoff_def){.off_V = 10.5, .on_V = 12.0, .off_delay_s = 90.0, .on_delay_s = 30.0};
}

static bool within(double x, double low, double high)
{
    return x >= low && x <= high; /* false for NaN */
}

static bool kind_in_range(const pr_link_def *d)
{
    switch (d->kind) {
    case PR_LINK_NONE:
        return true;
    case PR_LINK_SWITCH:
        return within(d->contact_ohm, 1e-6, 1.0);
    case PR_LINK_RELAY:
        return within(d->contact_ohm, 1e-6, 1.0) && within(d->close_V, 8.0, 16.0) &&
               within(d->open_V, 8.0, 16.0) && d->open_V < d->close_V &&
               within(d->close_delay_s, 0.0, 3600.0) && within(d->open_delay_s, 0.0, 3600.0);
    case PR_LINK_DIODE:
        return within(d->diode_V, KNEE_V, 2.0) && within(d->diode_ohm, 1e-5, 1.0);
    case PR_LINK_CHARGER:
        return within(d->charger_A, 0.1, 500.0) && within(d->charger_V, 10.0, 16.0) &&
               within(d->charger_efficiency, 0.3, 1.0) && within(d->charger_start_V, 8.0, 16.0) &&
               within(d->charger_stop_V, 8.0, 16.0) && d->charger_stop_V < d->charger_start_V;
    }
    return false;
}

pr_status pr_link_derive(const pr_link_def *def, pr_link *link)
{
    if (def == NULL || link == NULL || def->cookie != PR_DEF_COOKIE)
        return PR_ERR_INTERNAL;
    if (!kind_in_range(def) || !(isnan(def->rating_A) || within(def->rating_A, 1.0, 2000.0)))
        return PR_ERR_RANGE;
    *link = (pr_link){.def = *def};
    return PR_OK;
}

static double diode_A(const pr_link_def *d, double series_ohm, double u_V, double *slope)
{
    double r_ohm = d->diode_ohm + series_ohm, over_V = u_V - d->diode_V;
    if (over_V <= -KNEE_V) {
        *slope = 0.0;
        return 0.0;
    }
    if (over_V >= KNEE_V) {
        *slope = 1.0 / r_ohm;
        return over_V * *slope;
    }
    double x_V = over_V + KNEE_V;
    *slope = x_V / (2.0 * KNEE_V * r_ohm);
    return 0.5 * x_V * *slope;
}

static void charger_A(const pr_link_def *d, double series_ohm, double v0_V, double v1_V,
                      double *i0_A, double *i1_A, double j[4])
{
    double slope = 1.0 / (CHARGER_DROOP_OHM + series_ohm);
    double full_A = (d->charger_V - v1_V) * slope;
    *i0_A = *i1_A = j[0] = j[1] = j[2] = j[3] = 0.0;
    if (!(full_A > 0.0) || !(v0_V > 0.0))
        return;
    double dfull_dv1 = -slope;
    if (full_A > d->charger_A) {
        full_A = d->charger_A;
        dfull_dv1 = 0.0;
    }
    double low_V = LOW_FRAC * d->charger_stop_V, p = 1.0, dp = 0.0;
    if (v0_V < low_V) {
        p = v0_V * v0_V / (low_V * low_V);
        dp = 2.0 * v0_V / (low_V * low_V);
    }
    double i1 = p * full_A, per = 1.0 / (d->charger_efficiency * v0_V);
    double out_V = v1_V + i1 * series_ohm;
    *i1_A = i1;
    j[2] = dp * full_A;
    j[3] = p * dfull_dv1;
    /* a node below zero takes no power from the charger */
    if (!(out_V > 0.0))
        return;
    *i0_A = i1 * out_V * per;
    double dW_di1 = v1_V + 2.0 * i1 * series_ohm;
    j[0] = dW_di1 * j[2] * per - *i0_A / v0_V;
    j[1] = (dW_di1 * j[3] + i1) * per;
}

void pr_link_currents_A(const pr_link *link, bool closed, double series_ohm, double v0_V,
                        double v1_V, double *i0_A, double *i1_A, double jacobian[4])
{
    const pr_link_def *d = &link->def;
    double slope = 0.0, i_A = 0.0, local[4];
    double *j = jacobian != NULL ? jacobian : local;
    if (d->kind == PR_LINK_CHARGER && closed) {
        charger_A(d, series_ohm, v0_V, v1_V, i0_A, i1_A, j);
        return;
    }
    if (d->kind == PR_LINK_DIODE) {
        i_A = diode_A(d, series_ohm, v0_V - v1_V, &slope);
    } else if (closed && (d->kind == PR_LINK_SWITCH || d->kind == PR_LINK_RELAY)) {
        slope = 1.0 / (d->contact_ohm + series_ohm);
        i_A = (v0_V - v1_V) * slope;
    }
    *i0_A = *i1_A = i_A;
    j[0] = j[2] = slope;
    j[1] = j[3] = -slope;
}

static int hysteresis(bool closed, bool at_close, bool at_open)
{
    if (closed)
        return at_open ? -1 : 0;
    return at_close ? 1 : 0;
}

int pr_link_wants(const pr_link *link, bool closed, double v0_V, double v1_V)
{
    const pr_link_def *d = &link->def;
    if (d->kind == PR_LINK_CHARGER)
        return hysteresis(closed, v0_V >= d->charger_start_V, v0_V <= d->charger_stop_V);
    if (d->kind != PR_LINK_RELAY)
        return 0;
    /* dual sensing: either side may close it, both must be low to open it */
    double v_V = d->senses_both && v1_V > v0_V ? v1_V : v0_V;
    return hysteresis(closed, v_V >= d->close_V, v_V <= d->open_V);
}

int pr_cutoff_wants(const pr_cutoff_def *cutoff, bool closed, double v_V)
{
    return hysteresis(closed, v_V >= cutoff->on_V, v_V <= cutoff->off_V);
}
