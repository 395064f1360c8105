/* Curves of the link between two batteries by itself; see curves.h.
 *
 * Amps out of the main post, the link closed (a charger: running), against the volts that the main
 * post has more than the second, which stands at 12.5 V; with the wires of the link, cold. Beside
 * it a hand switch, a diode and a charger of 30 A on the same wires. Then when it is closed (a
 * diode: passes) as the main post goes through a start, a pull of half a minute and one of 6 s:
 * thresholds of link.c, delays as the engine keeps them, a wish must last. The volts of that
 * sequence are our own example. */
#include "planner/curves.h"

#include "base/number.h"

#include <math.h>

enum { STEPS = 120, KINDS = 3 };
static const double SECOND_V = 12.5, LEAST_u_V = -0.5, MOST_u_V = 1.7, BESIDE_A = 30.0;
static const double COLD_degC = 20.0, END_s = 180.0, STEP_s = 0.5;

static double amps_out_A(const pr_link *link, double series_ohm, double v0_V)
{
    const bool closed = link->def.kind != PR_LINK_CHARGER || v0_V > link->def.charger_stop_V;
    double out_A, in_A;
    pr_link_currents_A(link, closed, series_ohm, v0_V, SECOND_V, &out_A, &in_A, NULL);
    return out_A;
}

static pr_status put_amps(const pr_link *link, double series_ohm, pr_curves *out)
{
    static const pr_link_kind kinds[KINDS] = {PR_LINK_SWITCH, PR_LINK_DIODE, PR_LINK_CHARGER};
    pr_link beside[KINDS];
    for (int k = 0; k < KINDS; k++) {
        pr_link_def def = pr_link_def_default(kinds[k]);
        def.charger_A = BESIDE_A;
        const pr_status status = pr_link_derive(&def, &beside[k]);
        if (status != PR_OK)
            return status;
    }
    pr_curves_begin(out, "amps", 2 + KINDS);
    for (int i = 0; i <= STEPS; i++) {
        const double u_V = LEAST_u_V + (MOST_u_V - LEAST_u_V) * i / STEPS;
        double row[2 + KINDS] = {u_V, amps_out_A(link, series_ohm, SECOND_V + u_V)};
        for (int k = 0; k < KINDS; k++)
            row[2 + k] = amps_out_A(&beside[k], series_ohm, SECOND_V + u_V);
        pr_curves_row(out, row);
    }
    return PR_OK;
}

/* Volts at the main post: engine started at 15 s, pulls from 55 to 85 s and from 130 to 136 s. */
static double post_V(double t_s)
{
    static const double course[][2] = {{0, 12.5},     {15, 12.5},  {17, 14.2},  {55, 14.2},
                                       {55.5, 11.8},  {85, 11.8},  {86, 14.2},  {130, 14.2},
                                       {130.5, 11.8}, {136, 11.8}, {137, 14.2}, {180, 14.2}};
    enum { POINTS = sizeof course / sizeof *course };
    int i = 1;
    while (i + 1 < POINTS && t_s > course[i][0])
        i++;
    const double share = (t_s - course[i - 1][0]) / (course[i][0] - course[i - 1][0]);
    return course[i - 1][1] + share * (course[i][1] - course[i - 1][1]);
}

static bool pulls_at(double t_s)
{
    return (t_s >= 55.0 && t_s < 85.0) || (t_s >= 130.0 && t_s < 136.0);
}

static bool switch_closed(pr_switch_rule rule, double t_s)
{
    return rule == PR_SWITCH_CLOSED || (rule == PR_SWITCH_IN_PULLS && pulls_at(t_s)) ||
           (rule == PR_SWITCH_IN_RESTS && !pulls_at(t_s));
}

static void put_window(const pr_link *link, double series_ohm, pr_switch_rule rule, pr_curves *out)
{
    const pr_link_def *d = &link->def;
    const bool senses = d->kind == PR_LINK_RELAY || d->kind == PR_LINK_CHARGER;
    bool closed = false;
    int wish = 0;
    double wished_s = 0.0;
    pr_curves_begin(out, "window", 3);
    for (int i = 0; i * STEP_s <= END_s; i++) {
        const double t_s = i * STEP_s, v_V = post_V(t_s);
        if (d->kind == PR_LINK_SWITCH)
            closed = switch_closed(rule, t_s);
        else if (d->kind == PR_LINK_DIODE)
            closed = amps_out_A(link, series_ohm, v_V) > 0.0;
        const int wants = senses ? pr_link_wants(link, closed, v_V, v_V) : 0;
        if (wants != wish)
            wished_s = t_s;
        wish = wants;
        if (wish != 0 && t_s - wished_s >= (wish > 0 ? d->close_delay_s : d->open_delay_s))
            closed = wish > 0;
        const double row[] = {t_s, v_V, closed ? 1.0 : 0.0};
        pr_curves_row(out, row);
    }
}

pr_status pr_curves_link(const pr_scenario *scenario, const pr_system *system, pr_curves *out)
{
    const pr_link *link = &system->link;
    const pr_link_def *d = &link->def;
    *out = pr_curves_init("link", scenario->title);
    if (system->def.n_batteries < 2 || d->kind == PR_LINK_NONE)
        return PR_ERR_INPUT;
    const double series_ohm = system->def.run[PR_RUN_LINK].present
                                  ? pr_wire_resistance_ohm(&system->wire[PR_RUN_LINK], COLD_degC)
                                  : 0.0;
    const pr_status status = put_amps(link, series_ohm, out);
    if (status != PR_OK)
        return status;
    put_window(link, series_ohm, system->def.switch_rule, out);
    const bool relay = d->kind == PR_LINK_RELAY, charger = d->kind == PR_LINK_CHARGER;
    pr_curves_number_add(out, "relay", relay);
    pr_curves_number_add(out, "charger", charger);
    pr_curves_number_add(out, "diode", d->kind == PR_LINK_DIODE);
    pr_curves_number_add(out, "close_V",
                         relay     ? d->close_V
                         : charger ? d->charger_start_V
                                   : PR_NAN);
    pr_curves_number_add(out, "open_V", relay ? d->open_V : charger ? d->charger_stop_V : PR_NAN);
    pr_curves_number_add(out, "close_s", d->close_delay_s);
    pr_curves_number_add(out, "open_s", d->open_delay_s);
    pr_curves_number_add(out, "rating_A", d->rating_A);
    pr_curves_number_add(out, "wires_mohm", 1e3 * series_ohm);
    pr_curves_number_add(out, "beside_A", BESIDE_A);
    return out->status;
}
