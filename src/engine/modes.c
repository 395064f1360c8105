/* Modes: what is switched, closed, open or dropped, and what changes them.
 *
 * pr_modes_settle is the event iteration: it applies changes that were due by time, rebuilds and
 * solves the frame, applies every watch whose margin is negative, and repeats until nothing more
 * happens at this instant. A pass does no more than the last one asks for: where something only
 * begins to wait, the frame holds and other things are watched. Each pass must change a mode, and a
 * load that drops out, comes back and drops out again at once is held off for the rest of the
 * phase, so the iteration ends; should it not, that is a status. */
#include "base/number.h"
#include "engine/run.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

/* Accuracy of the network that goes with a tolerance of the steps: 1 mV at 1e-6. */
static const double V_PER_TOLERANCE = 1000.0;
/* Relays take time to move even when their delay is none, converters start and stop softly (m). */
static const double MECHANICAL_S = 0.05, CONVERTER_S = 1.0;
/* Management systems wait so long before they open for a voltage (m). */
static const double BMS_VOLTAGE_DELAY_S = 1.0;
/* A load that comes back and drops out within this chatters. */
static const double CHATTER_S = 1.0;

void pr_run_note(pr_run *run, const char *format, ...)
{
    const bool heard = run->observer != NULL && run->observer->fn != NULL;
    if (!heard || run->n_texts >= PR_TEXTS_MAX)
        return;
    va_list args;
    va_start(args, format);
    vsnprintf(run->text[run->n_texts++], PR_TEXT_SIZE, format, args);
    va_end(args);
}

void pr_run_stop(pr_run *run, pr_stop stop, pr_limit limit, int which)
{
    if (run->stopped)
        return;
    run->stopped = true;
    run->end->stop = stop;
    run->end->limit = limit;
    run->end->which = which;
    if (stop == PR_STOP_LIMIT)
        pr_run_note(run, "limit: %s", pr_limit_name(limit));
    else if (stop != PR_STOP_TIME)
        pr_run_note(run, "%s", pr_stop_name(stop));
}

static const char *run_name(const pr_system *system, int run)
{
    static const char *const names[PR_RUN_FIRST_LOAD] = {"alternator", "winch", "fuse box",
                                                         "second fuse box", "link"};
    return run < PR_RUN_FIRST_LOAD ? names[run] : system->def.load[run - PR_RUN_FIRST_LOAD].name;
}

static bool rule_closes(pr_switch_rule rule, bool pulling)
{
    switch (rule) {
    case PR_SWITCH_CLOSED:
        return true;
    case PR_SWITCH_IN_PULLS:
        return pulling;
    case PR_SWITCH_IN_RESTS:
        return !pulling;
    default:
        return false;
    }
}

static void set_link(pr_run *run, bool closed)
{
    pr_modes *m = &run->sim->modes;
    if (m->link_closed == closed)
        return;
    m->link_closed = closed;
    m->link_switches++;
    pr_run_note(run,
                closed ? "link between the batteries closes" : "link between the batteries opens");
}

void pr_modes_begin(pr_run *run)
{
    const pr_system *system = run->system;
    pr_modes *m = &run->sim->modes;
    const bool runs = pr_frame_engine_runs(run->sim, run->phase);
    m->contactor_open = false;
    m->excited = system->def.has_alternator && runs &&
                 pr_alternator_excites(&system->alternator, run->phase->engine_rpm, m->excited);
    if (system->def.link.kind == PR_LINK_SWITCH)
        set_link(run, rule_closes(system->def.switch_rule, pr_frame_pulls(run->phase)));
    for (int p = 0; p < system->def.n_batteries; p++)
        if (m->battery_open[p] && m->bms_reason[p] == PR_BATTERY_BMS_OVERCURRENT) {
            m->battery_open[p] = false; /* reset by taking the load away */
            m->bms_reason[p] = PR_BATTERY_OK;
        }
    m->load_held = 0;
}

static void apply_due(pr_run *run)
{
    const pr_system *system = run->system;
    pr_modes *m = &run->sim->modes;
    const double t = run->sim->time_s;
    if (m->link_pending != 0 && t >= m->link_due_s) {
        set_link(run, m->link_pending > 0);
        m->link_pending = 0;
    }
    for (int p = 0; p < system->def.n_batteries; p++) {
        if (m->cutoff_pending[p] != 0 && t >= m->cutoff_due_s[p]) {
            m->cutoff_open[p] = m->cutoff_pending[p] < 0;
            m->cutoff_pending[p] = 0;
            pr_run_note(run, "low-voltage cut-off %s", m->cutoff_open[p] ? "opens" : "closes");
        }
        if (m->bms_pending[p] != 0 && t >= m->bms_due_s[p]) {
            m->battery_open[p] = true;
            m->bms_pending[p] = 0;
            pr_run_note(run, "battery %d disconnected by its management system", p + 1);
        }
    }
    for (int i = 0; i < system->at.n_thermostats; i++) {
        const int k = system->at.thermostat_load[i];
        const int wants =
            pr_load_thermostat_wants(&system->load[k], m->thermostat_on & pr_set_of(k),
                                     run->sim->y[system->at.thermostat + i]);
        if (wants > 0)
            m->thermostat_on |= pr_set_of(k);
        else if (wants < 0)
            m->thermostat_on &= ~pr_set_of(k);
    }
}

/* Brings load_on up to date. */
static void switch_loads(pr_run *run)
{
    const pr_system *system = run->system;
    pr_modes *m = &run->sim->modes;
    const bool at_start = run->tau_s == 0.0;
    const pr_load_set now_on = pr_frame_loads_on(system, run->sim, run->phase);
    pr_load_set changed = now_on ^ m->load_on;
    m->load_on = now_on;
    while (changed != 0) {
        const int k = pr_set_take(&changed);
        const bool on = now_on & pr_set_of(k);
        if (on)
            m->load_since_s[k] = run->sim->time_s;
        if (!at_start)
            pr_run_note(run, "%s %s", system->def.load[k].name, on ? "on" : "off");
    }
}

/* The engine dies with a load that it needs and that its supply no longer reaches. */
static void check_engine(pr_run *run)
{
    const pr_system *system = run->system;
    if (!pr_frame_engine_runs(run->sim, run->phase))
        return;
    const pr_modes *m = &run->sim->modes;
    const pr_load_sets *sets = &system->loads;
    const pr_load_set cycling = sets->duty | sets->thermostat; /* may be off by itself */
    pr_load_set failed = sets->stops_engine & ~m->load_on & (m->load_dropped | ~cycling) &
                         pr_frame_loads_wanted(system, run->sim, run->phase);
    if (failed == 0)
        return;
    run->sim->modes.engine_dead = true;
    run->sim->modes.excited = false;
    if (run->stopped) /* by what took its supply */
        pr_run_note(run, "%s", pr_stop_name(PR_STOP_ENGINE));
    pr_run_stop(run, PR_STOP_ENGINE, PR_LIMIT_NONE, pr_set_take(&failed));
}

static void drop_load(pr_run *run, int k)
{
    pr_modes *m = &run->sim->modes;
    const double t = run->sim->time_s;
    const char *name = run->system->def.load[k].name;
    if (t - m->load_since_s[k] < CHATTER_S && t - m->load_dropped_s[k] < 2.0 * CHATTER_S) {
        m->load_held |= pr_set_of(k);
        pr_run_note(run, "%s chatters and stays off", name);
    } else {
        pr_run_note(run, "%s drops out", name);
    }
    m->load_dropped |= pr_set_of(k);
    m->load_dropped_s[k] = t;
}

static void drop_group(pr_run *run, int post)
{
    const pr_bus_box *box = &run->frame.bus.box[post];
    const double box_V = run->now->flows.node_V[PR_NODE_BOX + post];
    for (int k = box->first_grouped; k < box->end; k++)
        if (pr_load_wants(run->frame.bus.load[k].load, true, box_V) < 0)
            drop_load(run, run->frame.bus.load[k].index);
}

static void open_fuse(pr_run *run, int which)
{
    const int r = run->system->at.fuse_run[which];
    run->sim->modes.fuse_open |= pr_set_of(r);
    pr_run_note(run, "fuse of %s opens", run_name(run->system, r));
    if (r < PR_RUN_FIRST_LOAD)
        pr_run_stop(run, PR_STOP_FUSE, PR_LIMIT_NONE, r);
}

/* A switch with delays saw its voltage cross: starts waiting, or stops waiting. */
static void see_threshold(const pr_run *run, int *pending, double *due_s, int direction,
                          double delay_s)
{
    if (*pending != 0) {
        *pending = 0;
        return;
    }
    *pending = direction;
    *due_s = run->sim->time_s + fmax(delay_s, MECHANICAL_S);
}

static void see_link(pr_run *run, int direction)
{
    pr_modes *m = &run->sim->modes;
    const pr_link_def *d = &run->system->def.link;
    const double delay_s = direction > 0 ? d->close_delay_s : d->open_delay_s;
    see_threshold(run, &m->link_pending, &m->link_due_s, direction,
                  d->kind == PR_LINK_CHARGER ? fmax(delay_s, CONVERTER_S) : delay_s);
}

static void see_cutoff(pr_run *run, int p, int direction)
{
    pr_modes *m = &run->sim->modes;
    const pr_cutoff_def *d = &run->system->def.cutoff[p];
    see_threshold(run, &m->cutoff_pending[p], &m->cutoff_due_s[p], direction,
                  direction > 0 ? d->on_delay_s : d->off_delay_s);
}

static void see_bms(pr_run *run, int p, pr_battery_event reason)
{
    pr_modes *m = &run->sim->modes;
    m->bms_reason[p] = (int)reason;
    m->bms_pending[p] = -1;
    m->bms_due_s[p] = run->sim->time_s + (reason == PR_BATTERY_BMS_OVERCURRENT
                                              ? run->system->battery[p].def.bms_discharge_delay_s
                                              : BMS_VOLTAGE_DELAY_S);
}

static void connect_battery(pr_run *run, int p)
{
    pr_modes *m = &run->sim->modes;
    m->battery_open[p] = false;
    m->bms_reason[p] = PR_BATTERY_OK;
    pr_run_note(run, "battery %d connected again by its management system", p + 1);
}

static void open_contactor(pr_run *run)
{
    run->sim->modes.contactor_open = true;
    pr_run_stop(run, PR_STOP_CONTACTOR, PR_LIMIT_NONE, -1);
}

/* What a watch that came true does. */
static void act(pr_run *run, const pr_watch *w)
{
    pr_modes *m = &run->sim->modes;
    switch (w->kind) {
    case PR_WATCH_ROPE:
        m->rig_at_stop = true;
        pr_run_stop(run, PR_STOP_ROPE, PR_LIMIT_NONE, -1);
        break;
    case PR_WATCH_TARGET:
        pr_run_stop(run, PR_STOP_TRAVEL, PR_LIMIT_NONE, -1);
        break;
    case PR_WATCH_STALL:
        pr_run_stop(run, PR_STOP_STALL, PR_LIMIT_NONE, -1);
        break;
    case PR_WATCH_CONTACTOR:
        open_contactor(run);
        break;
    case PR_WATCH_FUSE:
        open_fuse(run, w->which);
        break;
    case PR_WATCH_GROUP_DROP:
        drop_group(run, w->which);
        break;
    case PR_WATCH_SINGLE_DROP:
        drop_load(run, run->frame.bus.load[w->which].index);
        break;
    case PR_WATCH_RETURN:
        m->load_dropped &= ~pr_set_of(w->which);
        break;
    case PR_WATCH_LINK_RISE:
    case PR_WATCH_LINK_FALL:
        see_link(run, w->kind == PR_WATCH_LINK_RISE ? 1 : -1);
        break;
    case PR_WATCH_CUTOFF_RISE:
    case PR_WATCH_CUTOFF_FALL:
        see_cutoff(run, w->which, w->kind == PR_WATCH_CUTOFF_RISE ? 1 : -1);
        break;
    case PR_WATCH_BMS_CURRENT:
        see_bms(run, w->which, PR_BATTERY_BMS_OVERCURRENT);
        break;
    case PR_WATCH_BMS_LOW:
        see_bms(run, w->which, PR_BATTERY_BMS_LOW_VOLTAGE);
        break;
    case PR_WATCH_BMS_HIGH:
        see_bms(run, w->which, PR_BATTERY_BMS_HIGH_VOLTAGE);
        break;
    case PR_WATCH_BMS_CALM:
        m->bms_pending[w->which] = 0;
        break;
    case PR_WATCH_BMS_BACK:
        connect_battery(run, w->which);
        break;
    default: /* the frame is rebuilt, which is all that demand, layer and regulator need */
        break;
    }
}

static void check_supply(pr_run *run)
{
    const pr_system_def *def = &run->system->def;
    if (run->frame.pulling && run->sim->modes.battery_open[def->winch_post])
        pr_run_stop(run, PR_STOP_BATTERY_OPEN, PR_LIMIT_NONE, (int)def->winch_post);
}

/* Rope at its reserve wraps or off the drum: nothing to pull with. */
static void check_rope(pr_run *run)
{
    if (!run->frame.pulling || !run->system->def.has_winch)
        return;
    const double out_m =
        pr_frame_rope_out_m(run->system, run->sim, run->sim->y[run->system->at.travel]);
    if (out_m > run->system->drum.usable_rope_m * (1.0 + 1e-12)) {
        run->sim->modes.rig_at_stop = true;
        pr_run_stop(run, PR_STOP_ROPE, PR_LIMIT_NONE, -1);
    }
}

/* With the winch off the coil has its voltage back: the contactor would close again at once. */
static void note_chatter(pr_run *run)
{
    const double coil_V = run->now->flows.node_V[run->system->def.winch_post];
    if (run->end->stop == PR_STOP_CONTACTOR &&
        pr_motor_contactor_closes(&run->system->motor, coil_V, 0))
        pr_run_note(run, "winch contactor chatters");
}

/* What has to be done anew. */
typedef enum need {
    NEED_NOTHING,
    NEED_WATCHES, /* something waits, or does so no longer: other things are watched */
    NEED_FIELD,   /* the alternator's regime is another */
    NEED_FRAME    /* everything */
} need;

static need need_after(pr_watch_kind kind)
{
    if (kind >= PR_WATCH_FIELD_FULL)
        return NEED_FIELD;
    const bool waits = kind >= PR_WATCH_LINK_RISE && kind <= PR_WATCH_BMS_CALM;
    return waits ? NEED_WATCHES : NEED_FRAME;
}

/* Margins of the watches at the present instant, and what those that came true need. */
static pr_status take_margins(pr_run *run, need *all)
{
    *all = NEED_NOTHING;
    for (int i = 0; i < run->n_watches; i++) {
        run->margin[i] = pr_watch_margin(run, &run->watch[i], run->sim->y, run->now);
        if (isnan(run->margin[i]))
            return PR_ERR_VALIDITY;
        if (run->margin[i] >= 0.0)
            continue;
        const need one = need_after(run->watch[i].kind);
        *all = *all == NEED_NOTHING || *all == one ? one : NEED_FRAME;
    }
    return PR_OK;
}

/* Applies what has come true, in order of precedence, up to a stop. */
static void apply_watches(pr_run *run)
{
    const int n = run->n_watches;
    for (int i = 0; i < n && !run->stopped; i++) {
        const pr_watch w = run->watch[i];
        if (run->margin[i] >= 0.0)
            continue;
        if (pr_watch_limit(w.kind) != PR_LIMIT_NONE)
            pr_run_stop(run, PR_STOP_LIMIT, pr_watch_limit(w.kind), -1);
        else
            act(run, &w);
    }
}

/* Regime to try first where a watch says that the present one is left. */
static pr_field expect_field(const pr_run *run)
{
    for (int i = 0; i < run->n_watches; i++)
        if (run->watch[i].kind >= PR_WATCH_FIELD_FULL && run->margin[i] < 0.0)
            return pr_watch_field(run->watch[i].kind);
    return run->frame.bus.field;
}

static pr_status solve_frame(pr_run *run, pr_field guess)
{
    run->sim->n_bus_solves++;
    if (run->now == run->before) /* which is to stay as it is */
        pr_run_turn(run);
    const pr_status status = pr_frame_settle_field(&run->frame, guess, run->tau_s, run->sim->y,
                                                   run->sim->node_V, run->now);
    if (status == PR_OK)
        pr_watches_build(run);
    return status;
}

/* The frame of the modes as they are now. */
static pr_status renew_frame(pr_run *run)
{
    apply_due(run);
    switch_loads(run);
    check_engine(run);
    const pr_field guess = run->frame.bus.field;
    pr_frame_build(run->system, run->sim, run->phase, V_PER_TOLERANCE * run->options.tolerance,
                   &run->frame);
    return solve_frame(run, guess);
}

static pr_status renew(pr_run *run, need what)
{
    pr_status status = PR_OK;
    if (what == NEED_WATCHES)
        pr_watches_build(run);
    else if (what == NEED_FIELD)
        status = solve_frame(run, expect_field(run));
    else if (what == NEED_FRAME)
        status = renew_frame(run);
    if (status == PR_OK && what == NEED_FRAME) {
        check_rope(run);
        check_supply(run);
    }
    return status;
}

static pr_status settle(pr_run *run, bool frame_holds)
{
    const int passes = 16 + 4 * run->system->def.n_loads;
    need what = frame_holds ? NEED_NOTHING : NEED_FRAME;
    for (int n = 0; n < passes; n++) {
        pr_status status = renew(run, what);
        if (status == PR_OK && !run->stopped)
            status = take_margins(run, &what);
        if (status != PR_OK)
            return status;
        if (run->stopped || what == NEED_NOTHING) {
            note_chatter(run);
            return PR_OK;
        }
        if (what == NEED_FIELD)
            continue;
        apply_watches(run);
        if (run->stopped && !run->sim->modes.contactor_open)
            return PR_OK;
        if (run->stopped)
            run->n_watches = 0; /* one more solution, without the winch */
    }
    return PR_ERR_NO_CONVERGENCE;
}

/* What lost its battery or its fuse in this instant drops out in the same one, and may take the
 * engine along: nobody lets go of the winch so quickly. The stop stays what it was. */
static pr_status drop_after_stop(pr_run *run)
{
    const int passes = 2 + 2 * run->system->def.n_loads;
    bool drops = run->end->stop == PR_STOP_FUSE || run->end->stop == PR_STOP_BATTERY_OPEN;
    for (int n = 0; drops && n < passes; n++) {
        const pr_status status = renew_frame(run);
        if (status != PR_OK)
            return status;
        drops = false;
        for (int i = 0; i < run->n_watches; i++) {
            const pr_watch w = run->watch[i];
            if ((w.kind != PR_WATCH_GROUP_DROP && w.kind != PR_WATCH_SINGLE_DROP) ||
                !(pr_watch_margin(run, &w, run->sim->y, run->now) < 0.0))
                continue;
            act(run, &w);
            drops = true;
        }
    }
    return drops ? PR_ERR_NO_CONVERGENCE : PR_OK;
}

pr_status pr_modes_settle(pr_run *run, bool frame_holds)
{
    const pr_status status = settle(run, frame_holds);
    return status == PR_OK && run->stopped ? drop_after_stop(run) : status;
}

static void sooner(double *next_s, double at_s)
{
    if (at_s < *next_s)
        *next_s = at_s;
}

double pr_modes_next_s(const pr_run *run)
{
    const pr_system *system = run->system;
    const pr_modes *m = &run->sim->modes;
    const double origin_s = run->sim->origin_s;
    double next_s = PR_INF;
    if (m->link_pending != 0)
        sooner(&next_s, m->link_due_s - origin_s);
    for (int p = 0; p < system->def.n_batteries; p++) {
        if (m->cutoff_pending[p] != 0)
            sooner(&next_s, m->cutoff_due_s[p] - origin_s);
        if (m->bms_pending[p] != 0)
            sooner(&next_s, m->bms_due_s[p] - origin_s);
    }
    for (pr_load_set left = system->loads.duty; left != 0;) {
        double change_s;
        pr_load_duty_on(&system->load[pr_set_take(&left)], run->sim->time_s, &change_s);
        sooner(&next_s, change_s - origin_s);
    }
    for (int i = 0; i < system->at.n_thermostats; i++) {
        const int k = system->at.thermostat_load[i];
        const pr_load_def *d = &system->load[k].def;
        const double rate = run->frame.thermostat_K_per_s[i];
        const double target_degC = m->thermostat_on & pr_set_of(k) ? d->off_degC : d->on_degC;
        const double wait_s = (target_degC - run->sim->y[system->at.thermostat + i]) / rate;
        if (rate != 0.0 && wait_s >= 0.0)
            sooner(&next_s, run->tau_s + wait_s);
    }
    const pr_system_def *def = &system->def;
    if (run->frame.bus.winch_on && !run->frame.moving && def->n_profile > 0) {
        const int next = pr_profile_interval(def, run->tau_s) + 1;
        if (next < def->n_profile)
            sooner(&next_s, def->profile_s[next]);
    }
    return next_s;
}
