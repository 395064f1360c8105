/* Derivatives of the state: the physics in its order.
 *
 * Components give their laws at the state, the bus finds voltages and currents that satisfy them
 * all, and each component then says how its state moves. The ledger's quadratures are powers and
 * currents at the same instant, so that sums that vanish at every instant vanish in the ledger. */
#include "base/number.h"
#include "engine/frame.h"
#include "physics/battery_branch.h"

#include <math.h>

/* Kept out of line, so that the usual path through an evaluation is short. */
#define RARE __attribute__((noinline))

/* More than this share of what the alternator could give counts as full output. */
static const double FULL_OUTPUT_FRAC = 0.9;
/* Accuracy of a network whose regime is sought: well below the slack, for errors left are its
 * square. */
static const double REGIME_V = 1e-5;
/* A winch known only by its current keeps it down to this voltage. */
static const double SINK_V = 1.0;

static inline double larger(double a, double b)
{
    return a > b ? a : b;
}

static inline pr_battery_state battery_state(const pr_system *system, const double y[], int post)
{
    const double *s = &y[system->at.battery[post]];
    return (pr_battery_state){.q1_As = s[0], .q2_As = s[1], .v1_V = s[2], .T_degC = s[3]};
}

pr_battery_state pr_state_battery(const pr_system *system, const double y[], int post)
{
    return battery_state(system, y, post);
}

static pr_alternator_state alternator_state(const pr_system *system, const double y[])
{
    const double *s = &y[system->at.alternator];
    return (pr_alternator_state){.winding_degC = s[0], .ceiling_A = s[1]};
}

static pr_motor_state motor_state(const pr_system *system, const double y[])
{
    const double *s = &y[system->at.motor];
    return (pr_motor_state){.armature_degC = s[0], .case_degC = s[1]};
}

int pr_profile_interval(const pr_system_def *def, double tau_s)
{
    int low = 0, high = def->n_profile - 1;
    if (tau_s < def->profile_s[low] || tau_s >= def->profile_s[high])
        return tau_s < def->profile_s[low] ? -1 : high;
    while (high - low > 1) {
        const int middle = (low + high) / 2;
        if (def->profile_s[middle] <= tau_s)
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* Amps of a profile at a time from the start of the pull: straight between points, held outside. */
static double profile_A(const pr_system_def *def, double tau_s)
{
    const double *s = def->profile_s, *a = def->profile_A;
    const int i = pr_profile_interval(def, tau_s);
    if (i < 0 || i == def->n_profile - 1)
        return i < 0 ? a[0] : a[i];
    return a[i] + (a[i + 1] - a[i]) * (tau_s - s[i]) / (s[i + 1] - s[i]);
}

static inline double run_ohm(const pr_frame *f, const double y[], pr_run_role run)
{
    const int at = f->wire_at[run];
    return at < 0 ? 0.0 : pr_wire_resistance_ohm(&f->system->wire[run], y[at]);
}

static inline void take_series_ohms(const pr_frame *f, const double y[], pr_bus_laws *laws)
{
    const pr_system_def *def = &f->system->def;
    laws->alternator_ohm = run_ohm(f, y, PR_RUN_ALTERNATOR);
    laws->winch_ohm = run_ohm(f, y, PR_RUN_WINCH);
    if (def->has_winch)
        laws->winch_ohm += def->motor.contactor_ohm;
    laws->box_ohm[0] = run_ohm(f, y, PR_RUN_LOADS);
    laws->box_ohm[1] = run_ohm(f, y, PR_RUN_LOADS_SECOND);
    laws->link_ohm = run_ohm(f, y, PR_RUN_LINK);
}

/* Wires and inrush of the singles of a post. */
static RARE void take_singles(const pr_frame *f, const pr_bus_box *box, double tau_s,
                              const double y[], pr_bus_laws *laws)
{
    for (int k = box->first; k < box->first_grouped; k++) {
        const pr_bus_load *b = &f->bus.load[k];
        const pr_wire *wire = &f->system->wire[PR_RUN_FIRST_LOAD + b->index];
        laws->load_ohm[k] = b->wire_at < 0 ? 0.0 : pr_wire_resistance_ohm(wire, y[b->wire_at]);
        laws->load_inrush[k] = pr_load_inrush(b->load, tau_s - b->since_s);
    }
}

static inline void take_winch_law(const pr_frame *f, double tau_s, const double y[],
                                  pr_bus_laws *laws)
{
    const pr_system_def *def = &f->system->def;
    if (!f->bus.winch_on)
        return;
    laws->winch_A = f->moving            ? f->pull_A
                    : def->n_profile > 0 ? profile_A(def, tau_s)
                                         : def->pull_A;
    if (def->has_winch)
        laws->winch_stall_ohm = pr_motor_resistance_ohm(&f->system->motor, y[f->system->at.motor]);
    else
        laws->winch_stall_ohm = laws->winch_A > 0.0 ? SINK_V / laws->winch_A : 1.0;
}

static inline void take_battery_law(const pr_frame *f, int post, const double y[],
                                    pr_bus_laws *laws)
{
    const pr_battery_state s = battery_state(f->system, y, post);
    pr_branch_at(&f->system->battery[post], &s, f->bus.battery_open[post], &laws->battery[post]);
}

static inline void take_laws(const pr_frame *f, double tau_s, const double y[], pr_bus_laws *laws)
{
    const pr_system *system = f->system;
    laws->tau_s = tau_s;
    take_battery_law(f, 0, y, laws);
    if (f->bus.n_posts > 1)
        take_battery_law(f, 1, y, laws);
    laws->alternator = f->bus.alternator;
    if (laws->alternator.running) {
        const pr_alternator_state s = alternator_state(system, y);
        pr_alternator_branch_follow(&system->alternator, &s, &laws->alternator);
    }
    take_series_ohms(f, y, laws);
    for (int p = 0; p < PR_POSTS; p++)
        if (f->bus.box[p].first < f->bus.box[p].first_grouped)
            take_singles(f, &f->bus.box[p], tau_s, y, laws);
    take_winch_law(f, tau_s, y, laws);
}

/* Only the current is known: the pull that goes with it, and the speed. Below its no-load current
 * the sheet says nothing; there the speed falls to zero with the current. */
static void move_by_current(const pr_frame *f, double v_V, double i_A, double armature_degC,
                            pr_instant *at)
{
    const pr_motor *motor = &f->system->motor;
    const double no_load_A = pr_motor_pull_A(motor, 0.0), used_A = larger(i_A, no_load_A);
    const double speed = pr_motor_speed_mps(motor, v_V, used_A, armature_degC);
    at->pull_N = larger(pr_motor_pull_N(motor, i_A), 0.0);
    at->speed_mps = larger(speed, 0.0) * (i_A < used_A ? i_A / used_A : 1.0);
}

/* Speed and pull that go with the winch's voltage and current. */
static void move_winch(const pr_frame *f, const double y[], pr_instant *at)
{
    at->pull_N = at->speed_mps = 0.0;
    if (!f->bus.winch_on || !f->system->def.has_winch)
        return;
    const double v_V = at->flows.node_V[PR_NODE_WINCH], i_A = at->flows.winch_A;
    const double armature_degC = y[f->system->at.motor];
    if (!f->moving) {
        move_by_current(f, v_V, i_A, armature_degC, at);
        return;
    }
    at->pull_N = f->pull_N;
    at->speed_mps = pr_motor_speed_mps(&f->system->motor, v_V, i_A, armature_degC);
}

pr_status pr_frame_solve(const pr_frame *frame, double tau_s, const double y[],
                         double node_V[PR_NODES], pr_instant *at)
{
    at->tau_s = tau_s;
    take_laws(frame, tau_s, y, &at->laws);
    const pr_status status = pr_bus_solve(&frame->bus, &at->laws, node_V, &at->flows);
    if (status == PR_OK)
        move_winch(frame, y, at);
    return status;
}

/* How far the solution is from leaving a regime; all agree where they meet. */
double pr_frame_field_margin_V(const pr_frame *frame, pr_field leaves_to, const pr_instant *at)
{
    const pr_alternator *alternator = &frame->system->alternator;
    const pr_alternator_branch *b = &at->laws.alternator;
    const double own_V = at->flows.node_V[PR_NODE_ALTERNATOR], i_A = at->flows.alternator_A;
    const double sense_V = alternator->def.sensing == PR_SENSE_BATTERY
                               ? at->flows.node_V[frame->system->def.alternator_post]
                               : own_V;
    switch (frame->bus.field) {
    case PR_FIELD_REGULATED:
        if (leaves_to == PR_FIELD_BLOCKED)
            return i_A * b->droop_ohm;
        return (pr_alternator_branch_available_A(alternator, b, own_V) - i_A) * b->droop_ohm;
    case PR_FIELD_FULL:
        return b->set_V - sense_V - i_A * b->droop_ohm;
    default:
        return sense_V - b->set_V;
    }
}

/* Solves in the regimes one after the other until one fits. */
static pr_status find_field(pr_frame *frame, pr_field guess, double tau_s, const double y[],
                            double node_V[PR_NODES], pr_instant *at)
{
    frame->bus.field = guess == PR_FIELD_ANY ? PR_FIELD_REGULATED : guess;
    pr_status status = pr_frame_solve(frame, tau_s, y, node_V, at);
    if (!frame->bus.alternator_on || !at->laws.alternator.running)
        return status;
    /* the residual rises with voltage whatever the regime, so the first that fits is the right one
     */
    for (int n = 0; n < 4 && status == PR_OK; n++) {
        pr_field next = frame->bus.field;
        if (frame->bus.field != PR_FIELD_REGULATED) {
            if (pr_frame_field_margin_V(frame, PR_FIELD_REGULATED, at) < -0.5 * PR_FIELD_SLACK_V)
                next = PR_FIELD_REGULATED;
        } else if (pr_frame_field_margin_V(frame, PR_FIELD_FULL, at) < -0.5 * PR_FIELD_SLACK_V) {
            next = PR_FIELD_FULL;
        } else if (pr_frame_field_margin_V(frame, PR_FIELD_BLOCKED, at) < -0.5 * PR_FIELD_SLACK_V) {
            next = PR_FIELD_BLOCKED;
        }
        if (next == frame->bus.field)
            return PR_OK;
        frame->bus.field = next;
        status = pr_frame_solve(frame, tau_s, y, node_V, at);
    }
    /* no regime fits to the last digit, or one of them has no solution: as the component decides */
    frame->bus.field = PR_FIELD_ANY;
    status = pr_frame_solve(frame, tau_s, y, node_V, at);
    if (status == PR_OK)
        frame->bus.field = at->flows.limited              ? PR_FIELD_FULL
                           : at->flows.alternator_A > 0.0 ? PR_FIELD_REGULATED
                                                          : PR_FIELD_BLOCKED;
    return status;
}

static void take_alternator(pr_frame *frame, const double y[])
{
    const pr_system *system = frame->system;
    frame->bus.alternator = (pr_alternator_branch){.running = false};
    if (!system->def.has_alternator)
        return;
    const pr_alternator_state s = alternator_state(system, y);
    pr_alternator_branch_at(&system->alternator, &s, frame->engine_rpm, frame->bus.alternator_on,
                            system->def.ambient_degC, &frame->bus.alternator);
}

pr_status pr_frame_settle_field(pr_frame *frame, pr_field guess, double tau_s, const double y[],
                                double node_V[PR_NODES], pr_instant *at)
{
    /* where regimes meet the laws have a kink, and a rough solution would not know which side it is
     * on */
    const double accuracy_V = frame->bus.accuracy_V;
    frame->bus.accuracy_V = accuracy_V < REGIME_V ? accuracy_V : REGIME_V;
    take_alternator(frame, y);
    pr_bus_find_paths(&frame->bus);
    for (int p = 0; p < frame->bus.n_posts; p++)
        pr_bus_centre_groups(&frame->bus, &frame->bus.box[p], node_V[PR_NODE_BOX + p]);
    const pr_status status = find_field(frame, guess, tau_s, y, node_V, at);
    frame->bus.accuracy_V = accuracy_V;
    for (int p = 0; status == PR_OK && p < frame->bus.n_posts; p++)
        pr_bus_centre_groups(&frame->bus, &frame->bus.box[p], node_V[PR_NODE_BOX + p]);
    return status;
}

double pr_frame_load_A(const pr_frame *frame, const pr_instant *at, int load)
{
    const int k = frame->place[load], post = (int)frame->system->def.load[load].post;
    if (k < 0)
        return 0.0;
    if (k < frame->bus.box[post].first_grouped)
        return at->flows.single_A[k];
    return pr_bus_grouped_A(&frame->bus, k, at->flows.node_V[PR_NODE_BOX + post]);
}

double pr_frame_load_V(const pr_frame *frame, const pr_instant *at, int k)
{
    const pr_bus_load *b = &frame->bus.load[k];
    const int p = (int)frame->system->def.load[b->index].post;
    const double box_V = at->flows.node_V[PR_NODE_BOX + p];
    return b->wire_at < 0 ? box_V : box_V - at->laws.load_ohm[k] * at->flows.single_A[k];
}

/* Currents of the runs that do not belong to a load. */
static inline void take_run_currents(const pr_bus_flows *flows, double run_A[PR_RUN_FIRST_LOAD])
{
    const double out_A = fabs(flows->link_out_A), in_A = fabs(flows->link_in_A);
    run_A[PR_RUN_ALTERNATOR] = flows->alternator_A;
    run_A[PR_RUN_WINCH] = flows->winch_A;
    run_A[PR_RUN_LOADS] = flows->box_A[0];
    run_A[PR_RUN_LOADS_SECOND] = flows->box_A[1];
    run_A[PR_RUN_LINK] = out_A > in_A ? out_A : in_A;
}

double pr_frame_run_A(const pr_frame *frame, const pr_instant *at, int run)
{
    if (run >= PR_RUN_FIRST_LOAD)
        return pr_frame_load_A(frame, at, run - PR_RUN_FIRST_LOAD);
    double run_A[PR_RUN_FIRST_LOAD];
    take_run_currents(&at->flows, run_A);
    return run_A[run];
}

static inline void battery_rates(const pr_frame *f, int post, const double y[],
                                 const pr_instant *at, double dy[])
{
    const pr_system *system = f->system;
    const pr_battery_state s = battery_state(system, y, post);
    const double v_V = at->flows.node_V[post], i_A = at->flows.battery_A[post];
    const double gas_A = at->flows.gas_A[post];
    pr_battery_state rates;
    const double heat_W = pr_branch_rates(&system->battery[post], &s, &at->laws.battery[post], v_V,
                                          i_A, gas_A, system->def.ambient_degC, &rates);
    double *d = &dy[system->at.battery[post]], *ledger = &dy[system->at.ledger];
    d[0] = rates.q1_As;
    d[1] = rates.q2_As;
    d[2] = rates.v1_V;
    d[3] = rates.T_degC;
    ledger[PR_LEDGER_BATTERY0_As + post] = i_A;
    ledger[PR_LEDGER_GAS0_As + post] = gas_A;
    ledger[PR_LEDGER_BATTERY0_J + post] = v_V * i_A;
    ledger[PR_LEDGER_BATTERY0_HEAT_J + post] = heat_W;
}

static inline void no_battery_rates(const pr_frame *f, double dy[])
{
    double *ledger = &dy[f->system->at.ledger];
    ledger[PR_LEDGER_BATTERY1_As] = ledger[PR_LEDGER_GAS1_As] = 0.0;
    ledger[PR_LEDGER_BATTERY1_J] = ledger[PR_LEDGER_BATTERY1_HEAT_J] = 0.0;
}

static inline void alternator_rates(const pr_frame *f, const double y[], const pr_instant *at,
                                    double dy[])
{
    const pr_system *system = f->system;
    double *ledger = &dy[system->at.ledger];
    ledger[PR_LEDGER_ALTERNATOR_As] = at->flows.alternator_A;
    ledger[PR_LEDGER_ALTERNATOR_J] = at->flows.node_V[PR_NODE_ALTERNATOR] * at->flows.alternator_A;
    if (!system->def.has_alternator)
        return;
    const pr_alternator_state s = alternator_state(system, y);
    pr_alternator_state rates;
    pr_alternator_rates(&system->alternator, &s, &at->laws.alternator, at->flows.alternator_A,
                        at->flows.limited, system->def.ambient_degC, &rates);
    dy[system->at.alternator] = rates.winding_degC;
    dy[system->at.alternator + 1] = rates.ceiling_A;
}

double pr_frame_full_output_A(const pr_frame *frame, const pr_instant *at)
{
    const double i_A = at->flows.alternator_A;
    if (!frame->bus.alternator_on || !(i_A > 0.0))
        return -1.0;
    if (frame->bus.field == PR_FIELD_FULL)
        return i_A;
    return i_A - FULL_OUTPUT_FRAC * pr_alternator_branch_available_A(
                                        &frame->system->alternator, &at->laws.alternator,
                                        at->flows.node_V[PR_NODE_ALTERNATOR]);
}

static inline void winch_rates(const pr_frame *f, const double y[], const pr_instant *at,
                               double dy[])
{
    const pr_system *system = f->system;
    double *ledger = &dy[system->at.ledger];
    const double i_A = at->flows.winch_A, v_V = at->flows.node_V[PR_NODE_WINCH];
    const double rope_W = at->pull_N * at->speed_mps;
    ledger[PR_LEDGER_WINCH_As] = i_A;
    ledger[PR_LEDGER_WINCH_J] = v_V * i_A;
    ledger[PR_LEDGER_ROPE_J] = rope_W;
    ledger[PR_LEDGER_MOTOR_HEAT_J] = v_V * i_A - rope_W;
    if (!system->def.has_winch)
        return;
    const pr_motor_state s = motor_state(system, y);
    pr_motor_state rates;
    pr_motor_rates(&system->motor, &s, v_V, i_A, at->pull_N, at->speed_mps,
                   system->def.ambient_degC, &rates);
    dy[system->at.motor] = rates.armature_degC;
    dy[system->at.motor + 1] = rates.case_degC;
    dy[system->at.travel] = at->speed_mps * f->ratio / f->rope_per_travel;
}

static inline double wire_rate(const pr_wire_line *w, double i_A, double T_degC,
                               double ambient_degC)
{
    return i_A * i_A * (w->a + w->b * T_degC) - w->g * (T_degC - ambient_degC) + w->c;
}

static inline void wire_rates(const pr_frame *f, const double y[], const pr_instant *at,
                              double dy[])
{
    const pr_system *system = f->system;
    const double ambient_degC = system->def.ambient_degC;
    const double *T_degC = &y[system->at.wire];
    double *rate = &dy[system->at.wire];
    double run_A[PR_RUN_FIRST_LOAD];
    take_run_currents(&at->flows, run_A);
    int i = 0;
    for (; i < f->n_main_wires; i++)
        rate[i] = wire_rate(&system->wire_line[i], run_A[system->at.wire_run[i]], T_degC[i],
                            ambient_degC);
    for (; i < system->at.n_wires; i++) {
        /* a load with a wire is a single */
        const int k = f->place[system->at.wire_run[i] - PR_RUN_FIRST_LOAD];
        rate[i] = wire_rate(&system->wire_line[i], k < 0 ? 0.0 : at->flows.single_A[k], T_degC[i],
                            ambient_degC);
    }
}

static inline void fuse_rates(const pr_frame *f, const double y[], const pr_instant *at,
                              double dy[])
{
    const pr_system *system = f->system;
    for (int i = 0; i < system->at.n_fuses; i++) {
        const int run = system->at.fuse_run[i], at_i = system->at.fuse + i;
        const pr_fuse_state s = {.damage_frac = y[at_i]};
        pr_fuse_state rates;
        pr_fuse_rates(&system->fuse[run], &s, pr_frame_run_A(f, at, run), &rates);
        dy[at_i] = rates.damage_frac;
    }
}

/* What the network as a whole draws and loses. */
static inline void network_ledger(const pr_frame *f, const pr_instant *at, double dy[])
{
    const pr_bus_flows *x = &at->flows;
    const pr_bus_laws *r = &at->laws;
    double *ledger = &dy[f->system->at.ledger];
    double loads_A = 0.0, loads_W = 0.0, crank_A = 0.0, crank_W = 0.0, wires_W = 0.0;
    for (int p = 0; p < PR_POSTS; p++) { /* a post that is not there carries nothing */
        loads_A += x->box_A[p];
        loads_W += x->box_W[p];
        crank_A += x->crank_A[p];
        crank_W += x->crank_A[p] * x->node_V[p];
        wires_W += r->box_ohm[p] * x->box_A[p] * x->box_A[p] + x->load_wire_W[p];
    }
    wires_W += r->alternator_ohm * x->alternator_A * x->alternator_A +
               r->winch_ohm * x->winch_A * x->winch_A;
    ledger[PR_LEDGER_LOADS_As] = loads_A;
    ledger[PR_LEDGER_LOADS_J] = loads_W;
    ledger[PR_LEDGER_CRANK_As] = crank_A;
    ledger[PR_LEDGER_CRANK_J] = crank_W;
    ledger[PR_LEDGER_WIRE_HEAT_J] = wires_W;
    ledger[PR_LEDGER_LINK_LOSS_As] = x->link_out_A - x->link_in_A;
    ledger[PR_LEDGER_LINK_HEAT_J] = x->node_V[0] * x->link_out_A - x->node_V[1] * x->link_in_A;
    ledger[PR_LEDGER_FULL_OUTPUT_s] = 0.0; /* kept by the run loop */
}

void pr_frame_rates(const pr_frame *frame, const double y[], const pr_instant *at, double dy[])
{
    battery_rates(frame, 0, y, at, dy);
    if (frame->bus.n_posts > 1)
        battery_rates(frame, 1, y, at, dy);
    else
        no_battery_rates(frame, dy);
    alternator_rates(frame, y, at, dy);
    winch_rates(frame, y, at, dy);
    for (int i = 0; i < frame->system->at.n_thermostats; i++)
        dy[frame->system->at.thermostat + i] = frame->thermostat_K_per_s[i];
    wire_rates(frame, y, at, dy);
    fuse_rates(frame, y, at, dy);
    network_ledger(frame, at, dy);
}
