/* Conditions that come true within a step: what to watch, how far off it is, when it happens.
 *
 * Each condition has a margin that falls through zero. After a step every margin is known at both
 * ends. If any is negative at the end, the first moment is bracketed: trial times come from
 * straight lines through the margins of those that are negative at the upper end (the earliest is
 * taken, aimed a little to the far side so that the bracket closes from both ends), from halving
 * when that does not shrink the bracket; the state there is the step's interpolant, and the network
 * is solved again if a condition asks for a voltage. A margin that dips below zero and comes back
 * within one step is seen if it is negative at a stage early in the step, where the network is
 * solved anyhow: if that rough solution says so, the interpolant is asked there. A
 * shorter dip is missed. */
#include "base/number.h"
#include "engine/run.h"

#include <math.h>
#include <string.h>

/* A relay that waits for its delay forgets it when the voltage is this far back. */
static const double CALM_V = 1e-3;
static const double BACK_V = 0.05;
/* A rope as long as the way is not at its end before the way is: rounding must not decide. */
static const double ROPE_SPARE_m = 1e-3;

pr_limit pr_watch_limit(pr_watch_kind kind)
{
    switch (kind) {
    case PR_WATCH_RESERVE:
        return PR_LIMIT_RESERVE;
    case PR_WATCH_MOTOR_HEAT:
        return PR_LIMIT_MOTOR_HEAT;
    case PR_WATCH_CABLE_HEAT:
        return PR_LIMIT_CABLE_HEAT;
    case PR_WATCH_RESTART:
        return PR_LIMIT_RESTART;
    case PR_WATCH_VOLTAGE:
        return PR_LIMIT_VOLTAGE;
    default:
        return PR_LIMIT_NONE;
    }
}

pr_field pr_watch_field(pr_watch_kind kind)
{
    switch (kind) {
    case PR_WATCH_FIELD_FULL:
        return PR_FIELD_FULL;
    case PR_WATCH_FIELD_BLOCKED:
        return PR_FIELD_BLOCKED;
    default:
        return PR_FIELD_REGULATED;
    }
}

static void add(pr_run *run, pr_watch_kind kind, int which, double bound)
{
    if (run->n_watches < PR_WATCHES_MAX)
        run->watch[run->n_watches++] = (pr_watch){kind, which, bound};
}

static void watch_limits(pr_run *run)
{
    const pr_limits *l = run->limits;
    if (l->on[PR_LIMIT_RESERVE])
        add(run, PR_WATCH_RESERVE, 0, l->reserve_frac);
    if (l->on[PR_LIMIT_MOTOR_HEAT] && run->system->def.has_winch)
        add(run, PR_WATCH_MOTOR_HEAT, 0, l->motor_max_degC);
    if (l->on[PR_LIMIT_CABLE_HEAT] && run->system->at.n_wires > 0)
        add(run, PR_WATCH_CABLE_HEAT, 0, l->wire_max_degC_margin);
    if (l->on[PR_LIMIT_RESTART])
        add(run, PR_WATCH_RESTART, 0, run->system->def.cranking.min_V + l->restart_margin_V);
}

static void watch_winch(pr_run *run)
{
    const pr_frame *f = &run->frame;
    if (!f->pulling || !run->system->def.has_winch)
        return;
    const double target_m = run->phase->stop_travel_m;
    if (!isnan(target_m))
        add(run, PR_WATCH_TARGET, 0, target_m);
    if (!(f->rope_end_m > target_m - ROPE_SPARE_m))
        add(run, PR_WATCH_ROPE, 0, f->rope_end_m);
}

static void watch_winch_bus(pr_run *run)
{
    const pr_frame *f = &run->frame;
    if (!f->pulling || !run->system->def.has_winch || !f->bus.winch_on)
        return;
    if (f->moving)
        add(run, PR_WATCH_STALL, 0, 0.0);
    add(run, PR_WATCH_CONTACTOR, 0, run->system->def.motor.contactor_drop_out_V);
}

static void watch_loads(pr_run *run)
{
    const pr_bus *bus = &run->frame.bus;
    const pr_modes *m = &run->sim->modes;
    for (int p = 0; p < bus->n_posts; p++) {
        const pr_bus_box *box = &bus->box[p];
        if (run->frame.dropout_V[p] > 0.0)
            add(run, PR_WATCH_GROUP_DROP, p, run->frame.dropout_V[p]);
        for (int k = box->first; k < box->first_grouped; k++)
            if (bus->load[k].load->def.dropout_V > 0.0)
                add(run, PR_WATCH_SINGLE_DROP, k, bus->load[k].load->def.dropout_V);
    }
    for (pr_load_set left = m->load_dropped & ~m->load_held; left != 0;) {
        const int k = pr_set_take(&left);
        add(run, PR_WATCH_RETURN, k, run->system->load[k].def.return_V);
    }
}

/* Rise and fall thresholds of a switch with delays: what it waits for now. */
static void watch_switch(pr_run *run, pr_watch_kind rise, int which, bool closed, int pending,
                         double close_V, double open_V)
{
    const pr_watch_kind fall = rise + 1;
    if (pending == 0)
        add(run, closed ? fall : rise, which, closed ? open_V : close_V);
    else if (pending > 0)
        add(run, fall, which, close_V - CALM_V);
    else
        add(run, rise, which, open_V + CALM_V);
}

static void watch_switches(pr_run *run)
{
    const pr_system_def *def = &run->system->def;
    const pr_modes *m = &run->sim->modes;
    const pr_link_def *link = &def->link;
    if (link->kind == PR_LINK_RELAY)
        watch_switch(run, PR_WATCH_LINK_RISE, 0, m->link_closed, m->link_pending, link->close_V,
                     link->open_V);
    else if (link->kind == PR_LINK_CHARGER)
        watch_switch(run, PR_WATCH_LINK_RISE, 0, m->link_closed, m->link_pending,
                     link->charger_start_V, link->charger_stop_V);
    for (int p = 0; p < def->n_batteries; p++)
        if (def->has_cutoff[p])
            watch_switch(run, PR_WATCH_CUTOFF_RISE, p, !m->cutoff_open[p], m->cutoff_pending[p],
                         def->cutoff[p].on_V, def->cutoff[p].off_V);
}

static void watch_batteries(pr_run *run)
{
    const pr_modes *m = &run->sim->modes;
    for (int p = 0; p < run->system->def.n_batteries; p++) {
        const pr_battery_def *d = &run->system->battery[p].def;
        if (d->chemistry != PR_LIFEPO4)
            continue;
        add(run, PR_WATCH_COLD, p, d->bms_min_charge_degC);
        if (m->battery_open[p]) {
            if (m->bms_reason[p] != PR_BATTERY_BMS_OVERCURRENT)
                add(run, PR_WATCH_BMS_BACK, p, 0.0);
        } else if (m->bms_pending[p] != 0) {
            add(run, PR_WATCH_BMS_CALM, p, 0.0);
        } else {
            add(run, PR_WATCH_BMS_CURRENT, p, d->bms_discharge_limit_A);
            add(run, PR_WATCH_BMS_LOW, p, d->bms_low_V);
            add(run, PR_WATCH_BMS_HIGH, p, d->bms_high_V);
        }
    }
}

static void watch_field(pr_run *run)
{
    const pr_bus *bus = &run->frame.bus;
    if (!bus->alternator_on || !run->now->laws.alternator.running)
        return;
    if (bus->field == PR_FIELD_REGULATED) {
        add(run, PR_WATCH_FIELD_FULL, 0, 0.0);
        add(run, PR_WATCH_FIELD_BLOCKED, 0, 0.0);
    } else {
        add(run, bus->field == PR_FIELD_FULL ? PR_WATCH_FIELD_FREE : PR_WATCH_FIELD_OPENS, 0, 0.0);
    }
}

void pr_watches_build(pr_run *run)
{
    run->n_watches = 0;
    watch_winch(run);
    watch_winch_bus(run);
    watch_limits(run);
    if (run->limits->on[PR_LIMIT_VOLTAGE])
        add(run, PR_WATCH_VOLTAGE, 0, run->limits->bus_min_V);
    for (int i = 0; i < run->system->at.n_fuses; i++)
        if (!(run->sim->modes.fuse_open & pr_set_of(run->system->at.fuse_run[i])))
            add(run, PR_WATCH_FUSE, i, 1.0);
    if (run->frame.pulling && run->frame.change_m < PR_INF)
        add(run, PR_WATCH_CHANGE, 0, run->frame.change_m);
    watch_loads(run);
    watch_switches(run);
    watch_batteries(run);
    watch_field(run);
}

double pr_box_least_V(const pr_system *system, const double box_V[PR_POSTS])
{
    double least_V = PR_INF;
    for (int p = 0; p < system->def.n_batteries; p++)
        if ((system->loads.stops_engine & system->loads.at_post[p]) && box_V[p] < least_V)
            least_V = box_V[p];
    return least_V < PR_INF ? least_V : box_V[PR_POST_MAIN];
}

double pr_wire_margin_K(const pr_system *system, const double wire_degC[], double margin_K)
{
    double least_K = PR_INF;
    for (int i = 0; i < system->at.n_wires; i++) {
        const pr_wire *wire = &system->wire[system->at.wire_run[i]];
        least_K = fmin(least_K, wire->def.insulation_degC - margin_K - wire_degC[i]);
    }
    return least_K;
}

/* Voltage that the relay or charger between the batteries looks at; see link.c. */
static double sensed_V(const pr_run *run, const pr_instant *at)
{
    const double *v = at->flows.node_V;
    const pr_link_def *d = &run->system->def.link;
    return d->kind == PR_LINK_RELAY && d->senses_both ? fmax(v[0], v[1]) : v[0];
}

static double bms_margin(const pr_run *run, pr_battery_event reason, int p, const pr_instant *at)
{
    const pr_battery_def *d = &run->system->battery[p].def;
    const double v_V = at->flows.node_V[p];
    switch (reason) {
    case PR_BATTERY_BMS_OVERCURRENT:
        return d->bms_discharge_limit_A + at->flows.battery_A[p];
    case PR_BATTERY_BMS_LOW_VOLTAGE:
        return v_V - d->bms_low_V;
    default:
        return d->bms_high_V - v_V;
    }
}

/* An emptied battery comes back when something charges it, an overcharged one when something draws.
 */
static double back_margin(const pr_run *run, int p, const pr_instant *at)
{
    const double over_V = at->flows.node_V[p] - at->laws.battery[p].e_V;
    return run->sim->modes.bms_reason[p] == PR_BATTERY_BMS_LOW_VOLTAGE ? BACK_V - over_V
                                                                       : over_V + BACK_V;
}

static inline double bus_margin(const pr_run *run, const pr_watch *w, const pr_instant *at)
{
    const double *v = at->flows.node_V;
    const pr_system_def *def = &run->system->def;
    switch (w->kind) {
    case PR_WATCH_STALL:
        return v[PR_NODE_WINCH] - at->laws.winch_A * at->laws.winch_stall_ohm;
    case PR_WATCH_CONTACTOR:
        return v[def->winch_post] - w->bound;
    case PR_WATCH_VOLTAGE:
        return pr_box_least_V(run->system, &v[PR_NODE_BOX]) - w->bound;
    case PR_WATCH_GROUP_DROP:
        return v[PR_NODE_BOX + w->which] - w->bound;
    case PR_WATCH_SINGLE_DROP:
        return pr_frame_load_V(&run->frame, at, w->which) - w->bound;
    case PR_WATCH_RETURN:
        return w->bound - v[PR_NODE_BOX + (int)def->load[w->which].post];
    case PR_WATCH_LINK_RISE:
        return w->bound - sensed_V(run, at);
    case PR_WATCH_LINK_FALL:
        return sensed_V(run, at) - w->bound;
    case PR_WATCH_CUTOFF_RISE:
        return w->bound - v[w->which];
    case PR_WATCH_CUTOFF_FALL:
        return v[w->which] - w->bound;
    case PR_WATCH_BMS_CURRENT:
        return bms_margin(run, PR_BATTERY_BMS_OVERCURRENT, w->which, at);
    case PR_WATCH_BMS_LOW:
        return bms_margin(run, PR_BATTERY_BMS_LOW_VOLTAGE, w->which, at);
    case PR_WATCH_BMS_HIGH:
        return bms_margin(run, PR_BATTERY_BMS_HIGH_VOLTAGE, w->which, at);
    case PR_WATCH_BMS_CALM: /* true when the reason has gone by a little */
        return CALM_V - bms_margin(run, (pr_battery_event)run->sim->modes.bms_reason[w->which],
                                   w->which, at);
    case PR_WATCH_BMS_BACK:
        return back_margin(run, w->which, at);
    default:
        return pr_frame_field_margin_V(&run->frame, pr_watch_field(w->kind), at) + PR_FIELD_SLACK_V;
    }
}

double pr_watch_margin(pr_run *run, const pr_watch *w, const double y[], const pr_instant *at)
{
    const pr_system *system = run->system;
    switch (w->kind) {
    case PR_WATCH_ROPE:
    case PR_WATCH_TARGET:
    case PR_WATCH_CHANGE:
        return w->bound - y[system->at.travel];
    case PR_WATCH_RESERVE: {
        const pr_battery_state s = pr_state_battery(system, y, (int)system->def.starter_post);
        return pr_battery_soc_frac(&system->battery[system->def.starter_post], &s) - w->bound;
    }
    case PR_WATCH_MOTOR_HEAT:
        return w->bound - y[system->at.motor];
    case PR_WATCH_CABLE_HEAT:
        return pr_wire_margin_K(system, &y[system->at.wire], w->bound);
    case PR_WATCH_RESTART:
        return pr_run_restart_V(run, y) - w->bound;
    case PR_WATCH_COLD: {
        const double above_K = y[system->at.battery[w->which] + 3] - w->bound;
        return run->now->laws.battery[w->which].no_charge ? -above_K : above_K;
    }
    case PR_WATCH_FUSE:
        return w->bound - y[system->at.fuse + w->which];
    default:
        return bus_margin(run, w, at);
    }
}

/* Margins of some watches at a time within the step. */
typedef struct probe {
    double since_s;
    double margin[PR_WATCHES_MAX];
    bool crossed; /* any is negative */
} probe;

/* Part of the state, from the entry `first` up to `end`. */
typedef struct span {
    int first, end;
} span;

/* What a watch looks at. */
static span states_watched(const pr_system *system, const pr_watch *w)
{
    const struct pr_layout *at = &system->at;
    switch (w->kind) {
    case PR_WATCH_ROPE:
    case PR_WATCH_TARGET:
    case PR_WATCH_CHANGE:
        return (span){at->travel, at->travel + 1};
    case PR_WATCH_RESERVE:
    case PR_WATCH_RESTART:
        return (span){at->battery[system->def.starter_post],
                      at->battery[system->def.starter_post] + 4};
    case PR_WATCH_MOTOR_HEAT:
        return (span){at->motor, at->motor + 1};
    case PR_WATCH_CABLE_HEAT:
        return (span){at->wire, at->fuse};
    case PR_WATCH_COLD:
        return (span){at->battery[w->which] + 3, at->battery[w->which] + 4};
    case PR_WATCH_FUSE:
        return (span){at->fuse + w->which, at->fuse + w->which + 1};
    default: /* all that the network depends on */
        return (span){0, at->fuse};
    }
}

static pr_status take_probe(pr_run *run, const bool wanted[], double since_s, probe *p)
{
    double y[PR_STATE_MAX], node_V[PR_NODES];
    pr_instant at;
    span all = {PR_STATE_MAX, 0};
    bool with_bus = false;
    for (int i = 0; i < run->n_watches; i++) {
        if (!wanted[i])
            continue;
        const span one = states_watched(run->system, &run->watch[i]);
        all.first = one.first < all.first ? one.first : all.first;
        all.end = one.end > all.end ? one.end : all.end;
        with_bus = with_bus || run->watch[i].kind >= PR_WATCH_NEED_BUS;
    }
    pr_status status = pr_step_at(run, since_s, all.first, all.end, y);
    if (status == PR_OK && with_bus) {
        memcpy(node_V, run->now->flows.node_V, sizeof node_V);
        status = pr_frame_solve(&run->frame, run->tau_s + since_s, y, node_V, &at);
        run->sim->n_bus_solves++;
    }
    p->since_s = since_s;
    p->crossed = false;
    for (int i = 0; status == PR_OK && i < run->n_watches; i++) {
        if (!wanted[i])
            continue;
        p->margin[i] = pr_watch_margin(run, &run->watch[i], y, &at);
        if (isnan(p->margin[i]))
            status = PR_ERR_VALIDITY;
        p->crossed = p->crossed || p->margin[i] < 0.0;
    }
    return status;
}

/* Earliest zero of the straight lines between two probes, as a share of the bracket. */
static double first_zero(const pr_run *run, const bool wanted[], const probe *low,
                         const probe *high)
{
    double share = 1.0;
    for (int i = 0; i < run->n_watches; i++)
        if (wanted[i] && high->margin[i] < 0.0 && low->margin[i] >= 0.0)
            share = fmin(share, low->margin[i] / (low->margin[i] - high->margin[i]));
    return share;
}

/* Narrows the bracket between two probes; a third is to work with. */
static pr_status close_bracket(pr_run *run, const bool wanted[], probe **low, probe **high,
                               probe *spare)
{
    double last_width_s = PR_INF;
    for (int n = 0; (*high)->since_s - (*low)->since_s > PR_EVENT_S; n++) {
        const double low_s = (*low)->since_s, width_s = (*high)->since_s - low_s;
        double share = first_zero(run, wanted, *low, *high);
        /* aim past the expected zero, alternately on both sides of it */
        const double nudge = 0.4 * PR_EVENT_S / width_s;
        share = n % 2 == 0 ? share + nudge : share - nudge;
        if (n > 3 && width_s > 0.5 * last_width_s)
            share = 0.5;
        share = fmin(fmax(share, nudge), 1.0 - nudge);
        if (n % 2 == 1)
            last_width_s = width_s;
        const double since_s = PR_TICK_S * rint((low_s + share * width_s) / PR_TICK_S);
        const pr_status status = take_probe(run, wanted, since_s, spare);
        if (status != PR_OK)
            return status;
        probe **end = spare->crossed ? high : low, *left = *end;
        *end = spare;
        spare = left;
    }
    return PR_OK;
}

/* Brackets the first of the wanted watches that comes true by the end of the step or, if all are
 * still false there, by the early stage; *found false: the interpolant does not confirm it. */
static pr_status bracket(pr_run *run, const bool wanted[], bool by_end, bool *found,
                         pr_limit *limit, double *low_s, double *high_s)
{
    const size_t size = (size_t)run->n_watches * sizeof run->margin[0];
    probe probes[3], *low = &probes[0], *high = &probes[1];
    pr_status status = PR_OK;
    low->since_s = 0.0;
    memcpy(low->margin, run->margin, size);
    high->since_s = run->h_s;
    high->crossed = by_end;
    if (by_end)
        memcpy(high->margin, run->next_margin, size);
    else
        status = take_probe(run, wanted, run->early.tau_s - run->tau_s, high);
    *found = high->crossed;
    if (status != PR_OK || !high->crossed)
        return status;
    status = close_bracket(run, wanted, &low, &high, &probes[2]);
    for (int i = run->n_watches - 1; i >= 0; i--) /* the first in order of precedence wins */
        if (wanted[i] && high->margin[i] < 0.0 &&
            pr_watch_limit(run->watch[i].kind) != PR_LIMIT_NONE)
            *limit = pr_watch_limit(run->watch[i].kind);
    *low_s = low->since_s;
    *high_s = high->since_s;
    return status;
}

/* Which watches that look at the network came true early in the step? */
static bool look_early(const pr_run *run, bool wanted[])
{
    bool any = false;
    for (int i = 0; i < run->n_watches; i++) {
        const pr_watch *w = &run->watch[i];
        /* the regulator's regimes only follow what the others do */
        wanted[i] = w->kind >= PR_WATCH_NEED_BUS && w->kind < PR_WATCH_FIELD_FULL &&
                    bus_margin(run, w, &run->early) < 0.0;
        any = any || wanted[i];
    }
    return any;
}

pr_status pr_events_locate(pr_run *run, bool *found, pr_limit *limit, double *low_s, double *high_s)
{
    bool wanted[PR_WATCHES_MAX], any = false;
    *found = false;
    *limit = PR_LIMIT_NONE;
    for (int i = 0; i < run->n_watches; i++) {
        const double margin = pr_watch_margin(run, &run->watch[i], run->y1, run->next);
        if (isnan(margin))
            return PR_ERR_VALIDITY;
        run->next_margin[i] = margin;
        wanted[i] = margin < 0.0;
        any = any || wanted[i];
    }
    if (any || (run->has_early && look_early(run, wanted)))
        return bracket(run, wanted, any, found, limit, low_s, high_s);
    return PR_OK;
}
