/* The run loop: one phase from its start to whatever ends it.
 *
 * Each round: choose a step that ends no later than the next change known in advance; try it;
 * shorten it until its error is small enough; look for the first condition that comes true in it;
 * move to there, or to the end of the step; let the modes settle; report. Time is origin + tau, and
 * every tau between the ends of the phase is a whole number of ticks, so that no rounding builds up
 * and a phase that starts later runs the same. Records are taken from the interpolant and do not
 * touch the steps. */
#include "engine/run.h"
#include "base/number.h"

#include <math.h>
#include <string.h>

/* Time constants after which nothing is left of an inrush. */
static const double INRUSH_OVER = 15.0, INRUSH_STEPS = 1.7;
static const double STRETCH = 1.06, EQUAL_STEPS = 3.0;
static const double FIRST_STEP_S = 2.0, LEAST_STEP_S = 16.0 * PR_TICK_S;

pr_run_options pr_run_options_default(void)
{
    return (pr_run_options){.stepper = PR_STEPPER_EMBEDDED,
                            .tolerance = 1e-6,
                            .max_steps = 100000,
                            .with_outputs = true};
}

static inline void lower(double *least, double value)
{
    if (value < *least)
        *least = value;
}

static inline void raise(double *most, double value)
{
    if (value > *most)
        *most = value;
}

/* The extremes take in what the network does at the present instant. */
static void watch_network(pr_run *run)
{
    const pr_system *system = run->system;
    const pr_bus_flows *x = &run->now->flows;
    pr_extremes *e = &run->end->extremes;
    lower(&e->least_box_V, pr_box_least_V(system, &x->node_V[PR_NODE_BOX]));
    for (int p = 0; p < system->def.n_batteries; p++)
        lower(&e->least_post_V, x->node_V[p]);
    raise(&e->most_winch_A, x->winch_A);
    raise(&e->most_link_A, pr_frame_run_A(&run->frame, run->now, PR_RUN_LINK));
    if (system->def.has_winch)
        raise(&e->most_anchor_N, pr_rig_anchor_load_N(&system->def.rig, run->frame.fall_line_N));
}

/* The extremes take in the present state. */
static void watch_states(pr_run *run)
{
    const pr_system *system = run->system;
    const double *y = run->sim->y, ambient_degC = system->def.ambient_degC;
    pr_extremes *e = &run->end->extremes;
    const int starter = (int)system->def.starter_post;
    const pr_battery_state s = pr_state_battery(system, y, starter);
    lower(&e->least_soc_frac, pr_battery_soc_frac(&system->battery[starter], &s));
    if (system->def.has_winch)
        raise(&e->most_armature_degC, y[system->at.motor]);
    for (int i = 0; i < system->at.n_wires; i++) {
        const double T_degC = y[system->at.wire + i];
        const pr_wire *wire = &system->wire[system->at.wire_run[i]];
        const double ratio = (T_degC - ambient_degC) / (wire->def.insulation_degC - ambient_degC);
        raise(&e->most_wire_degC, T_degC);
        if (ratio > e->most_wire_ratio) {
            e->most_wire_ratio = ratio;
            e->most_wire_run = system->at.wire_run[i];
        }
    }
    if (run->with_restart)
        e->least_restart_V = fmin(e->least_restart_V, pr_run_restart_V(run, y)); /* NaN gives way */
}

static pr_status observe(pr_run *run, const double y[], const pr_instant *at, double time_s,
                         const char *event)
{
    pr_outputs outputs;
    if (run->observer == NULL || run->observer->fn == NULL)
        return PR_OK;
    pr_outputs_fill(&run->frame, run->sim, y, at, true, &outputs);
    outputs.time_s = time_s;
    return run->observer->fn(run->observer->context, run->system, &outputs, event) != 0
               ? PR_ERR_CANCELLED
               : PR_OK;
}

static pr_status observe_now(pr_run *run, const char *event)
{
    pr_status status = PR_OK;
    if (event != NULL)
        status = observe(run, run->sim->y, run->now, run->sim->time_s, event);
    for (int i = 0; status == PR_OK && i < run->n_texts; i++)
        status = observe(run, run->sim->y, run->now, run->sim->time_s, run->text[i]);
    run->n_texts = 0;
    return status;
}

/* Records at whole multiples of the interval after the start of the step; the end of the phase
 * makes a row of its own. */
static pr_status record_step(pr_run *run, double used_s)
{
    if (run->observer == NULL || run->observer->fn == NULL || !(run->observer->interval_s > 0.0))
        return PR_OK;
    const double start_s = run->sim->time_s, interval_s = run->observer->interval_s;
    const bool to_the_end = run->tau_s + used_s >= run->end_s;
    double node_V[PR_NODES], y[PR_STATE_MAX];
    memcpy(node_V, run->now->flows.node_V, sizeof node_V);
    for (double k = floor(start_s / interval_s) + 1.0;; k += 1.0) {
        const double since_s = k * interval_s - start_s;
        if (to_the_end ? !(since_s < used_s) : !(since_s <= used_s))
            return PR_OK;
        if (!(since_s > 0.0))
            continue;
        pr_instant at;
        pr_status status = pr_step_at(run, since_s, 0, run->system->n_states, y);
        if (status == PR_OK)
            status = pr_frame_solve(&run->frame, run->tau_s + since_s, y, node_V, &at);
        if (status == PR_OK)
            status = observe(run, y, &at, k * interval_s, NULL);
        if (status != PR_OK)
            return status;
    }
}

static double to_tick(double s)
{
    return PR_TICK_S * floor(s / PR_TICK_S);
}

/* Time of the next step's end at the latest; after now by a tick at least. */
static double horizon_s(const pr_run *run)
{
    double next_s = pr_modes_next_s(run);
    if (next_s < run->end_s) {
        next_s = PR_TICK_S * ceil(next_s / PR_TICK_S);
        next_s = fmax(next_s, to_tick(run->tau_s) + PR_TICK_S);
    }
    return fmin(next_s, run->end_s);
}

/* Step towards a horizon: neither past it nor so that a sliver remains; the last few are equal, and
 * a little longer than recommended if that saves one: the recommendation aims below the error
 * allowed. */
static double fit_step_s(const pr_run *run, double h_s, double until_s)
{
    const double left_s = until_s - run->tau_s, n = ceil(left_s / (STRETCH * h_s));
    if (n <= 1.0)
        return left_s;
    if (n <= EQUAL_STEPS)
        h_s = left_s / n;
    return fmax(to_tick(h_s), PR_TICK_S);
}

/* A step that satisfies the error control; *h_s is the first try and takes what was taken. */
static pr_status accept_step(pr_run *run, double until_s, double *h_s, double *error)
{
    double want_s = *h_s;
    for (;;) {
        *h_s = fit_step_s(run, want_s, until_s);
        const pr_status status = pr_step_try(run, *h_s, error);
        if (status == PR_OK && *error <= 1.0)
            return PR_OK;
        run->sim->n_rejected++;
        want_s = *h_s * (status == PR_OK ? pr_step_change(*error) : 0.25);
        if (want_s < LEAST_STEP_S)
            return status != PR_OK ? status : PR_ERR_STEP_LIMIT;
    }
}

/* Time at more than 90 % of output within the part of the step that is used; see
 * pr_frame_full_output_A. */
static double full_output_s(double from_A, double to_A, double used_s)
{
    if (from_A <= 0.0 && to_A <= 0.0)
        return 0.0;
    if (from_A > 0.0 && to_A > 0.0)
        return used_s;
    return used_s * fmax(from_A, to_A) / fabs(from_A - to_A);
}

/* Moves the sim to a time within the step that was accepted. */
static pr_status move_to(pr_run *run, double used_s, double tau_s)
{
    const pr_system *system = run->system;
    const double full_A = pr_frame_full_output_A(&run->frame, run->now);
    if (used_s == run->h_s) {
        pr_run_turn(run);
    } else if (used_s > 0.0) {
        const pr_status status = pr_step_at(run, used_s, 0, system->n_states, run->y1);
        if (status != PR_OK)
            return status;
        double node_V[PR_NODES];
        memcpy(node_V, run->now->flows.node_V, sizeof node_V);
        const pr_status solved = pr_frame_solve(&run->frame, tau_s, run->y1, node_V, run->next);
        run->sim->n_bus_solves++;
        if (solved != PR_OK)
            return solved;
        pr_run_turn(run);
    } else {
        return PR_OK;
    }
    run->y1[system->at.ledger + PR_LEDGER_FULL_OUTPUT_s] =
        run->sim->y[system->at.ledger + PR_LEDGER_FULL_OUTPUT_s] +
        full_output_s(full_A, pr_frame_full_output_A(&run->frame, run->now), used_s);
    memcpy(run->sim->y, run->y1, (size_t)system->n_states * sizeof run->y1[0]);
    memcpy(run->sim->node_V, run->now->flows.node_V, sizeof run->sim->node_V);
    run->tau_s = tau_s;
    run->sim->time_s = run->sim->origin_s + tau_s;
    run->sim->n_steps++;
    return PR_OK;
}

/* First or last outputs of the phase. */
static void fill_end(pr_run *run, const pr_frame *frame, const pr_instant *at, pr_outputs *outputs)
{
    if (!run->options.with_outputs)
        return;
    pr_outputs_fill(frame, run->sim, run->sim->y, at, false, outputs);
    if (run->with_restart)
        outputs->restart_V = pr_run_restart_V(run, run->sim->y);
}

/* What follows from an event; if that ends the phase, the last outputs are those before it. */
static pr_status settle_and_watch(pr_run *run, bool by_time)
{
    run->sim->n_events++;
    if (run->options.with_outputs)
        run->frame_before = run->frame;
    run->before = run->now;
    const pr_status status = pr_modes_settle(run, !by_time);
    if (status != PR_OK)
        return status;
    watch_network(run); /* the state is as it was */
    if (run->stopped)
        fill_end(run, &run->frame_before, run->before, &run->end->last);
    run->before = NULL;
    return PR_OK;
}

/* Inrush is over before the error control of a long step would notice it: steps grow with its age,
 * and have stages within three time constants of its start. */
static double inrush_step_s(const pr_run *run)
{
    double most_s = PR_INF;
    const pr_bus *bus = &run->frame.bus;
    for (int p = 0; p < bus->n_posts; p++)
        for (int k = bus->box[p].first; k < bus->box[p].first_grouped; k++) {
            const pr_load_def *d = &bus->load[k].load->def;
            const double age_s = run->tau_s - bus->load[k].since_s;
            if (d->inrush_factor > 1.0 && age_s < INRUSH_OVER * d->inrush_s)
                most_s = fmin(most_s, INRUSH_STEPS * (d->inrush_s + age_s));
        }
    return most_s;
}

/* First try of the next step: what the last long one recommends; before the first of a phase, what
 * the first of the last phase of its kind did. */
static double guess_step_s(pr_run *run)
{
    const double last_s = run->sim->step_s[run->phase->activity];
    if (!(run->guess_s > 0.0))
        run->guess_s = last_s > 0.0 ? last_s : FIRST_STEP_S;
    return fmin(run->guess_s, fmin(inrush_step_s(run), pr_step_longest_s(run)));
}

/* Learns from a step that was accepted after `first_s` had been tried for it. */
static void learn_step(pr_run *run, double first_s, double taken_s, double error, bool at_horizon)
{
    if (pr_step_is_short(run))
        return;
    const bool held_back = first_s < run->guess_s;
    double next_s = taken_s * pr_step_change(error);
    if ((at_horizon || held_back) && taken_s <= first_s) /* cut: says only that longer may do */
        next_s = fmax(next_s, run->guess_s);
    if (!run->has_learned && !held_back) {
        run->sim->step_s[run->phase->activity] = next_s;
        run->has_learned = true;
    }
    run->guess_s = next_s;
}

/* One step and the event that cuts it short, if any. */
static pr_status advance(pr_run *run)
{
    const double until_s = horizon_s(run), first_s = guess_step_s(run);
    double h_s = first_s, error;
    pr_step_begin(run);
    pr_status status = accept_step(run, until_s, &h_s, &error);
    if (status != PR_OK)
        return status;
    bool found;
    pr_limit limit;
    double low_s = 0.0, high_s = h_s;
    status = pr_events_locate(run, &found, &limit, &low_s, &high_s);
    if (status != PR_OK)
        return status;
    learn_step(run, first_s, h_s, error, h_s == until_s - run->tau_s);
    const double used_s = !found ? h_s : limit != PR_LIMIT_NONE ? low_s : high_s;
    const bool at_horizon = used_s == until_s - run->tau_s;
    status = record_step(run, used_s);
    if (status == PR_OK)
        status = move_to(run, used_s, at_horizon ? until_s : run->tau_s + used_s);
    if (status != PR_OK)
        return status;
    watch_network(run);
    watch_states(run);
    if (limit != PR_LIMIT_NONE)
        pr_run_stop(run, PR_STOP_LIMIT, limit, -1);
    else if (run->tau_s == run->end_s && !found)
        pr_run_stop(run, PR_STOP_TIME, PR_LIMIT_NONE, -1);
    if (run->stopped) {
        fill_end(run, &run->frame, run->now, &run->end->last);
        return PR_OK;
    }
    if (found || at_horizon)
        return settle_and_watch(run, at_horizon);
    run->rates_hold = run->reference == NULL;
    memcpy(run->margin, run->next_margin, (size_t)run->n_watches * sizeof run->margin[0]);
    return PR_OK;
}

static bool phase_is_sound(const pr_run *run)
{
    const pr_phase *p = run->phase;
    const pr_run_options *o = &run->options;
    const pr_limits *l = run->limits;
    return (unsigned)p->activity <= PR_CRANK && p->duration_s > 0.0 && p->duration_s <= 1e8 &&
           p->engine_rpm >= 0.0 && p->engine_rpm <= 20000.0 && o->tolerance >= 1e-12 &&
           o->tolerance <= 1e-3 && o->max_steps > 0 &&
           !(l->on[PR_LIMIT_RESERVE] && isnan(l->reserve_frac)) &&
           !(l->on[PR_LIMIT_VOLTAGE] && isnan(l->bus_min_V)) &&
           !(l->on[PR_LIMIT_MOTOR_HEAT] && isnan(l->motor_max_degC));
}

static pr_status start_phase(pr_run *run)
{
    pr_sim *sim = run->sim;
    sim->origin_s = sim->phase_start_s = sim->time_s;
    sim->activity = run->phase->activity;
    sim->engine_rpm = run->phase->engine_rpm;
    double *begun_V = sim->begun_V[sim->activity];
    if (begun_V[0] > 0.0) /* nearer than where a phase of another kind ended */
        memcpy(sim->node_V, begun_V, sizeof sim->node_V);
    pr_step_scales(run);
    pr_modes_begin(run);
    const pr_status status = pr_modes_settle(run, false);
    if (status != PR_OK)
        return status;
    sim->field[sim->activity] = (int)run->frame.bus.field;
    memcpy(begun_V, run->now->flows.node_V, sizeof run->now->flows.node_V);
    watch_network(run);
    watch_states(run);
    fill_end(run, &run->frame, run->now, &run->end->first);
    run->end->last = run->end->first;
    return observe_now(run, "start");
}

static pr_status run_phase(pr_run *run)
{
    pr_status status = start_phase(run);
    if (status == PR_OK && run->options.stepper == PR_STEPPER_REFERENCE)
        status = pr_reference_open(run);
    for (unsigned long n = 0; status == PR_OK && !run->stopped; n++) {
        status = n < run->options.max_steps ? advance(run) : PR_ERR_STEP_LIMIT;
        if (status == PR_OK && run->n_texts > 0)
            status = observe_now(run, NULL);
    }
    pr_reference_close(run);
    if (status == PR_OK && run->end->stop == PR_STOP_TIME)
        status = observe_now(run, "end");
    return status;
}

void pr_run_begin(pr_run *run, const pr_system *system, pr_sim *sim, const pr_phase *phase,
                  const pr_limits *limits, const pr_run_options *options,
                  const pr_observer *observer, pr_phase_end *end)
{
    static const pr_limits no_limits = {.on = {false}};
    run->system = system;
    run->sim = sim;
    run->phase = phase;
    run->limits = limits != NULL ? limits : &no_limits;
    run->options = options != NULL ? *options : pr_run_options_default();
    run->observer = observer;
    run->end = end;
    run->with_restart = run->limits->on[PR_LIMIT_RESTART] || observer != NULL;
    run->restart_at = (pr_battery_state){.q1_As = PR_NAN};
    run->now = &run->instants[0];
    run->next = &run->instants[1];
    run->before = NULL;
    run->tau_s = 0.0;
    run->end_s = phase->duration_s;
    run->guess_s = 0.0;
    run->has_learned = false;
    run->frame.has_loads = false;
    run->frame.bus.field = (pr_field)sim->field[phase->activity];
    run->n_watches = 0;
    run->has_early = run->rates_hold = false;
    run->reference = NULL;
    run->stopped = false;
    run->n_texts = 0;
}

/* What a phase is told apart from the next by, in states and modes that run on. */
typedef struct books {
    double travel_m, full_output_s;
    unsigned link_switches;
    bool link_closed, engine_dead;
} books;

static books books_of(const pr_system *system, const pr_sim *sim)
{
    return (books){.travel_m = system->def.has_winch ? sim->y[system->at.travel] : 0.0,
                   .full_output_s = sim->y[system->at.ledger + PR_LEDGER_FULL_OUTPUT_s],
                   .link_switches = sim->modes.link_switches,
                   .link_closed = sim->modes.link_closed,
                   .engine_dead = sim->modes.engine_dead};
}

static void close_books(const pr_system *system, const pr_sim *sim, const books *before,
                        pr_phase_end *end)
{
    const books after = books_of(system, sim);
    end->travel_m = after.travel_m - before->travel_m;
    end->full_output_s = after.full_output_s - before->full_output_s;
    end->link_switches = after.link_switches - before->link_switches;
    end->link_opens = (end->link_switches + (before->link_closed ? 1U : 0U)) / 2U;
    end->engine_died = after.engine_dead && !before->engine_dead;
}

pr_status pr_sim_run(const pr_system *system, pr_sim *sim, const pr_phase *phase,
                     const pr_limits *limits, const pr_run_options *options,
                     const pr_observer *observer, pr_phase_end *end)
{
    pr_run run; /* large: not cleared as a whole */
    pr_run_begin(&run, system, sim, phase, limits, options, observer, end);
    *end = (pr_phase_end){.stop = PR_STOP_FAILED,
                          .limit = PR_LIMIT_NONE,
                          .which = -1,
                          .activity = phase->activity,
                          .extremes = pr_extremes_none()};
    if (!phase_is_sound(&run))
        return PR_ERR_RANGE;
    const books before = books_of(system, sim);
    const pr_status status = run_phase(&run);
    end->duration_s = run.tau_s;
    close_books(system, sim, &before, end);
    if (status != PR_OK) {
        end->stop = PR_STOP_FAILED;
        end->limit = PR_LIMIT_NONE;
        return status;
    }
    if (phase->activity == PR_CRANK && end->stop == PR_STOP_TIME)
        sim->modes.engine_dead = false; /* it was cranked to the end: it runs again */
    return PR_OK;
}
