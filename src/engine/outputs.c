/* What a report can ask of one instant, limits and their margins, start and ledger of a run. */
#include "base/number.h"
#include "engine/run.h"

#include <math.h>
#include <string.h>

const char *pr_limit_name(pr_limit limit)
{
    static const char *const names[PR_LIMIT_COUNT] = {"none",       "battery reserve", "voltage",
                                                      "motor heat", "cable heat",      "restart"};
    return (unsigned)limit < PR_LIMIT_COUNT ? names[limit] : "unknown limit";
}

const char *pr_stop_name(pr_stop stop)
{
    static const char *const names[] = {[PR_STOP_TIME] = "time over",
                                        [PR_STOP_TRAVEL] = "distance reached",
                                        [PR_STOP_LIMIT] = "limit reached",
                                        [PR_STOP_STALL] = "winch stalls",
                                        [PR_STOP_FUSE] = "fuse opened",
                                        [PR_STOP_ROPE] = "end of the rope",
                                        [PR_STOP_CONTACTOR] = "winch contactor drops out",
                                        [PR_STOP_ENGINE] = "engine dies",
                                        [PR_STOP_BATTERY_OPEN] =
                                            "battery disconnected by its management system",
                                        [PR_STOP_FAILED] = "calculation failed"};
    return (unsigned)stop <= PR_STOP_FAILED ? names[stop] : "unknown";
}

pr_limits pr_limits_default(const pr_system *system)
{
    pr_limits limits = {.reserve_frac = PR_NAN,
                        .bus_min_V = PR_NAN,
                        .motor_max_degC = PR_NAN,
                        .wire_max_degC_margin = 0.0,
                        .restart_margin_V = 0.0};
    limits.on[PR_LIMIT_CABLE_HEAT] = true;
    if (system->def.has_winch) {
        limits.on[PR_LIMIT_MOTOR_HEAT] = true;
        limits.motor_max_degC = system->def.motor.limit_degC;
    }
    double most_V = -PR_INF;
    for (int k = 0; k < system->def.n_loads; k++)
        if (system->load[k].def.stops_engine)
            most_V = fmax(most_V, system->load[k].def.dropout_V);
    if (most_V > 0.0) {
        limits.on[PR_LIMIT_VOLTAGE] = true;
        limits.bus_min_V = most_V;
    }
    return limits;
}

double pr_restart_V(const pr_system *system, const double y[])
{
    const pr_system_def *def = &system->def;
    const pr_battery_state s = pr_state_battery(system, y, (int)def->starter_post);
    const double engine_degC =
        isnan(def->cranking.engine_degC) ? def->ambient_degC : def->cranking.engine_degC;
    return pr_cranking_voltage_V(&def->cranking, &system->battery[def->starter_post], &s,
                                 engine_degC);
}

double pr_run_restart_V(pr_run *run, const double y[])
{
    const pr_battery_state now =
        pr_state_battery(run->system, y, (int)run->system->def.starter_post);
    const pr_battery_state *was = &run->restart_at;
    if (now.q1_As != was->q1_As || now.q2_As != was->q2_As || now.v1_V != was->v1_V ||
        now.T_degC != was->T_degC) {
        run->restart_V = pr_restart_V(run->system, y);
        run->restart_at = now;
    }
    return run->restart_V;
}

static void fill_electrics(const pr_frame *f, const pr_instant *at, pr_outputs *o)
{
    const pr_bus_flows *x = &at->flows;
    const pr_system *system = f->system;
    for (int p = 0; p < f->bus.n_posts; p++) {
        o->post_V[p] = x->node_V[p];
        o->box_V[p] = x->node_V[PR_NODE_BOX + p];
        o->battery_A[p] = x->battery_A[p];
        o->loads_A += x->box_A[p];
        o->crank_A += x->crank_A[p];
    }
    o->alternator_V = x->node_V[PR_NODE_ALTERNATOR];
    o->winch_V = x->node_V[PR_NODE_WINCH];
    o->winch_A = x->winch_A;
    o->link_A = x->link_out_A;
    o->alternator_A = x->alternator_A;
    if (system->def.has_alternator) {
        const pr_alternator_branch *b = &at->laws.alternator;
        o->set_V = b->set_V;
        o->alternator_available_A =
            pr_alternator_branch_available_A(&system->alternator, b, o->alternator_V);
        o->shaft_W =
            pr_alternator_shaft_W(&system->alternator, b, o->alternator_V, x->alternator_A);
        o->limited = x->limited;
    }
    for (int r = 0; r < PR_RUN_FIRST_LOAD; r++)
        o->run_A[r] = pr_frame_run_A(f, at, r);
}

/* Currents of the loads that are on, which are those of their wires. */
static void fill_loads(const pr_frame *f, const pr_instant *at, pr_outputs *o)
{
    for (int p = 0; p < f->bus.n_posts; p++) {
        const pr_bus_box *box = &f->bus.box[p];
        for (int k = box->first; k < box->end; k++) {
            const double i_A = k < box->first_grouped ? at->flows.single_A[k]
                                                      : pr_bus_grouped_A(&f->bus, k, o->box_V[p]);
            o->load_A[f->bus.load[k].index] = i_A;
            o->run_A[PR_RUN_FIRST_LOAD + f->bus.load[k].index] = i_A;
        }
    }
}

static void fill_states(const pr_frame *f, const double y[], pr_outputs *o)
{
    const pr_system *system = f->system;
    for (int p = 0; p < system->def.n_batteries; p++) {
        const pr_battery_state s = pr_state_battery(system, y, p);
        o->soc_frac[p] = pr_battery_soc_frac(&system->battery[p], &s);
        o->surface_frac[p] = pr_battery_surface_frac(&system->battery[p], &s);
        o->battery_degC[p] = s.T_degC;
    }
    if (system->def.has_alternator)
        o->winding_degC = y[system->at.alternator];
    for (int r = 0; r < PR_RUNS_MAX; r++)
        o->run_degC[r] = PR_NAN;
    for (int i = 0; i < system->at.n_wires; i++)
        o->run_degC[system->at.wire_run[i]] = y[system->at.wire + i];
}

static void fill_winch(const pr_frame *f, const pr_sim *sim, const double y[], const pr_instant *at,
                       pr_outputs *o)
{
    const pr_system *system = f->system;
    if (!system->def.has_winch)
        return;
    o->armature_degC = y[system->at.motor];
    o->case_degC = y[system->at.motor + 1];
    o->travel_m = y[system->at.travel];
    o->rope_out_m = pr_frame_rope_out_m(system, sim, o->travel_m);
    o->layer = pr_drum_layer(&system->drum, o->rope_out_m);
    o->capacity_N = system->def.motor.rated_pull_N / pr_drum_ratio(&system->drum, o->layer);
    if (f->bus.winch_on) {
        o->pull_N = at->pull_N / f->ratio;
        o->rope_mps = at->speed_mps * f->ratio;
    }
}

void pr_outputs_fill(const pr_frame *frame, const pr_sim *sim, const double y[],
                     const pr_instant *at, bool with_restart, pr_outputs *outputs)
{
    memset(outputs, 0, sizeof *outputs);
    outputs->time_s = frame->origin_s + at->tau_s;
    outputs->engine_rpm = frame->engine_rpm;
    fill_electrics(frame, at, outputs);
    fill_loads(frame, at, outputs);
    fill_states(frame, y, outputs);
    fill_winch(frame, sim, y, at, outputs);
    outputs->restart_V = with_restart ? pr_restart_V(frame->system, y) : PR_NAN;
}

pr_status pr_sim_outputs(const pr_system *system, const pr_sim *sim, pr_activity activity,
                         pr_outputs *outputs)
{
    const pr_phase phase = {.activity = activity,
                            .engine_rpm = sim->engine_rpm,
                            .duration_s = 1.0,
                            .stop_travel_m = PR_NAN};
    pr_phase_end end;
    end.stop = PR_STOP_TIME;
    pr_sim trial = *sim; /* modes are settled on a copy: asking changes nothing */
    trial.origin_s = trial.time_s;
    pr_run run;
    pr_run_begin(&run, system, &trial, &phase, NULL, NULL, NULL, &end);
    pr_modes_begin(&run);
    const pr_status status = pr_modes_settle(&run, false);
    if (status != PR_OK)
        return status;
    pr_outputs_fill(&run.frame, &trial, trial.y, run.now, true, outputs);
    return PR_OK;
}

static double cable_margin_K(const pr_system *system, const pr_limits *limits,
                             const pr_outputs *outputs)
{
    double wire_degC[PR_RUNS_MAX];
    for (int i = 0; i < system->at.n_wires; i++)
        wire_degC[i] = outputs->run_degC[system->at.wire_run[i]];
    return pr_wire_margin_K(system, wire_degC, limits->wire_max_degC_margin);
}

double pr_limit_margin(const pr_system *system, const pr_limits *limits, pr_limit limit,
                       const pr_outputs *outputs)
{
    if ((unsigned)limit >= PR_LIMIT_COUNT || !limits->on[limit])
        return PR_NAN;
    switch (limit) {
    case PR_LIMIT_RESERVE:
        return outputs->soc_frac[system->def.starter_post] - limits->reserve_frac;
    case PR_LIMIT_VOLTAGE:
        return pr_box_least_V(system, outputs->box_V) - limits->bus_min_V;
    case PR_LIMIT_MOTOR_HEAT:
        return system->def.has_winch ? limits->motor_max_degC - outputs->armature_degC : PR_NAN;
    case PR_LIMIT_CABLE_HEAT:
        return system->at.n_wires > 0 ? cable_margin_K(system, limits, outputs) : PR_NAN;
    case PR_LIMIT_RESTART:
        return outputs->restart_V - system->def.cranking.min_V - limits->restart_margin_V;
    default:
        return PR_NAN;
    }
}
