/* The state of a run: its start, a new rig, and the books: what went in, what came out. */
#include "engine/sim.h"
#include "base/number.h"
#include "engine/frame.h"

#include <math.h>
#include <string.h>

/* Books over less than this are judged as if this had passed. */
static const double LEAST_As = 100.0, LEAST_J = 1000.0;

static double or_else(double value, double fallback)
{
    return isnan(value) ? fallback : value;
}

static void start_states(const pr_system *system, pr_sim *sim)
{
    const pr_system_def *def = &system->def;
    const struct pr_layout *at = &system->at;
    double *y = sim->y;
    for (int p = 0; p < def->n_batteries; p++) {
        const pr_battery_state s =
            pr_battery_state_rested(&system->battery[p], def->start_soc_frac[p],
                                    or_else(def->start_battery_degC[p], def->ambient_degC));
        double *b = &y[at->battery[p]];
        b[0] = s.q1_As;
        b[1] = s.q2_As;
        b[2] = s.v1_V;
        b[3] = s.T_degC;
    }
    if (def->has_alternator) {
        const double warm_degC = def->ambient_degC + def->alternator.air_degC_rise;
        const pr_alternator_state s = pr_alternator_state_at(
            &system->alternator, or_else(def->start_winding_degC, warm_degC));
        y[at->alternator] = s.winding_degC;
        y[at->alternator + 1] = s.ceiling_A;
    }
    if (def->has_winch) {
        const pr_motor_state s =
            pr_motor_state_at(or_else(def->start_motor_degC, def->ambient_degC));
        y[at->motor] = s.armature_degC;
        y[at->motor + 1] = s.case_degC;
    }
    for (int i = 0; i < at->n_thermostats; i++)
        y[at->thermostat + i] = system->load[at->thermostat_load[i]].def.start_degC;
    for (int i = 0; i < at->n_wires; i++) {
        const bool warm = system->wire[at->wire_run[i]].def.engine_space;
        y[at->wire + i] = def->ambient_degC + (warm ? def->engine_space_rise_K : 0.0);
    }
}

pr_status pr_sim_start(const pr_system *system, pr_sim *sim)
{
    const pr_system_def *def = &system->def;
    if (def->cookie != PR_DEF_COOKIE || system->n_states > PR_STATE_MAX)
        return PR_ERR_INTERNAL;
    memset(sim, 0, sizeof *sim);
    start_states(system, sim);
    sim->activity = PR_REST;
    sim->engine_rpm = def->idle_rpm;
    for (int n = 0; n < PR_NODES; n++)
        sim->node_V[n] = 12.5;
    for (int k = 0; k < def->n_loads; k++) {
        sim->modes.load_since_s[k] = -1e9; /* on for long: no inrush */
        sim->modes.load_dropped_s[k] = -1e9;
    }
    if (def->has_winch) {
        const double distance_m =
            or_else(def->anchor_distance_m, pr_demand_distance_m(&def->demand));
        sim->rope_out_at_rig_m =
            or_else(def->rope_out_m, distance_m * pr_rig_rope_per_travel(&def->rig));
        if (!(sim->rope_out_at_rig_m > 0.0)) /* current given, no way out: as far as it goes */
            sim->rope_out_at_rig_m = system->drum.usable_rope_m;
    }
    return PR_OK;
}

void pr_sim_rerig(const pr_system *system, pr_sim *sim, double rope_out_m)
{
    sim->rope_out_at_rig_m = rope_out_m;
    sim->travel_at_rig_m = system->def.has_winch ? sim->y[system->at.travel] : 0.0;
    sim->modes.rig_at_stop = false;
}

double pr_sim_ledger(const pr_system *system, const pr_sim *sim, pr_ledger_item item)
{
    return (unsigned)item < PR_LEDGER_COUNT ? sim->y[system->at.ledger + (int)item] : PR_NAN;
}

/* Change of a ledger item since the start. */
static double change(const pr_system *system, const pr_sim *start, const pr_sim *now,
                     pr_ledger_item item)
{
    return pr_sim_ledger(system, now, item) - pr_sim_ledger(system, start, item);
}

void pr_sim_ledger_error(const pr_system *system, const pr_sim *start, const pr_sim *now,
                         double *charge_frac, double *energy_frac)
{
    static const pr_ledger_item sinks_As[] = {PR_LEDGER_BATTERY0_As, PR_LEDGER_BATTERY1_As,
                                              PR_LEDGER_WINCH_As,    PR_LEDGER_LOADS_As,
                                              PR_LEDGER_CRANK_As,    PR_LEDGER_LINK_LOSS_As};
    static const pr_ledger_item sinks_J[] = {
        PR_LEDGER_BATTERY0_J, PR_LEDGER_BATTERY1_J,  PR_LEDGER_WINCH_J,    PR_LEDGER_LOADS_J,
        PR_LEDGER_CRANK_J,    PR_LEDGER_WIRE_HEAT_J, PR_LEDGER_LINK_HEAT_J};
    double sum_As = -change(system, start, now, PR_LEDGER_ALTERNATOR_As), through_As = fabs(sum_As);
    double sum_J = -change(system, start, now, PR_LEDGER_ALTERNATOR_J), through_J = fabs(sum_J);
    for (size_t i = 0; i < sizeof sinks_As / sizeof sinks_As[0]; i++) {
        const double x = change(system, start, now, sinks_As[i]);
        sum_As += x;
        through_As += fabs(x);
    }
    for (size_t i = 0; i < sizeof sinks_J / sizeof sinks_J[0]; i++) {
        const double x = change(system, start, now, sinks_J[i]);
        sum_J += x;
        through_J += fabs(x);
    }
    double charge_As = fabs(sum_As), energy_J = fabs(sum_J);
    /* each battery holds what went in and did not turn to gas */
    for (int p = 0; p < system->def.n_batteries; p++) {
        const double *a = &start->y[system->at.battery[p]], *b = &now->y[system->at.battery[p]];
        const double held_As = (b[0] - a[0]) + (b[1] - a[1]);
        const double in_As =
            change(system, start, now, (pr_ledger_item)(PR_LEDGER_BATTERY0_As + p)) -
            change(system, start, now, (pr_ledger_item)(PR_LEDGER_GAS0_As + p));
        charge_As = fmax(charge_As, fabs(in_As - held_As));
    }
    /* the motor turns what it takes into rope work and heat */
    energy_J = fmax(energy_J, fabs(change(system, start, now, PR_LEDGER_WINCH_J) -
                                   change(system, start, now, PR_LEDGER_ROPE_J) -
                                   change(system, start, now, PR_LEDGER_MOTOR_HEAT_J)));
    /* of a dead system next to nothing passes: an error in that is no share of anything */
    *charge_frac = charge_As / fmax(through_As, LEAST_As);
    *energy_frac = energy_J / fmax(through_J, LEAST_J);
}
