/* Rigs that the tests of the engine share: a vehicle of round numbers, one or two batteries. */
#ifndef PR_TESTS_ENGINE_RIG_H
#define PR_TESTS_ENGINE_RIG_H

#include "base/number.h"
#include "engine/sim.h"
#include "support/check.h"
#include "support/vehicle.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

static inline pr_named_load rig_load(const char *name, double watts_W, double exponent)
{
    pr_named_load load = {.def = pr_load_def_default()};
    snprintf(load.name, sizeof load.name, "%s", name);
    load.def.watts_W = watts_W;
    load.def.exponent = exponent;
    load.def.when = PR_WHEN_ENGINE;
    return load;
}

/* Loads of every law; the second battery, if any, feeds every other one. */
static inline void rig_loads(pr_system_def *def)
{
    static const struct {
        const char *name;
        double watts_W, exponent;
    } loads[] = {{"engine control", 60, 0}, {"fuel pump", 90, 0}, {"lamps", 120, 0.55},
                 {"heater", 130, 1},        {"fan", 200, 1.6},    {"blower", 25, 1.6},
                 {"light bar", 40, -1},     {"radio", 30, 0}};
    def->n_loads = 8;
    for (int k = 0; k < def->n_loads; k++) {
        def->load[k] = rig_load(loads[k].name, loads[k].watts_W, loads[k].exponent);
        def->load[k].post = def->n_batteries == 2 && k % 2 == 1 ? PR_POST_SECOND : PR_POST_MAIN;
    }
    pr_load_def *fan = &def->load[4].def;
    fan->cycling = PR_CYCLE_THERMOSTAT;
    fan->on_degC = 95.0;
    fan->off_degC = 90.0;
    fan->start_degC = 92.0;
    fan->warming_K_per_s = 0.1;
    fan->cooling_K_per_s = 0.2;
    fan->inrush_factor = 3.0;
    fan->inrush_s = 0.3;
    def->load[0].def.stops_engine = true;
    def->load[0].def.dropout_V = 8.5;
    def->load[0].def.return_V = 9.5;
}

static inline void rig_wires(pr_system_def *def)
{
    vehicle_wire(def, PR_RUN_ALTERNATOR, PR_GAUGE_AWG, 6.0, 1.5);
    vehicle_wire(def, PR_RUN_WINCH, PR_GAUGE_AWG, 0.0, 2.5);
    vehicle_wire(def, PR_RUN_LOADS, PR_GAUGE_AWG, 8.0, 1.0);
    vehicle_wire(def, PR_RUN_LOADS_SECOND, PR_GAUGE_AWG, 8.0, 1.0);
    vehicle_wire(def, PR_RUN_LINK, PR_GAUGE_AWG, 2.0, 1.5);
    vehicle_wire(def, PR_RUN_FIRST_LOAD + 2, PR_GAUGE_MM2, 2.5, 3.0);
    vehicle_wire(def, PR_RUN_FIRST_LOAD + 4, PR_GAUGE_MM2, 4.0, 2.0);
}

static inline pr_system_def rig_bare(int n_batteries)
{
    pr_system_def def = pr_system_def_default();
    def.n_batteries = n_batteries;
    def.ambient_degC = 6.0;
    for (int p = 0; p < n_batteries; p++) {
        vehicle_battery(&def, p);
        def.start_soc_frac[p] = 0.95;
    }
    def.alternator.rated_A = 110.0;
    def.alternator.idle_A = 55.0;
    if (n_batteries == 2)
        def.link = pr_link_def_default(PR_LINK_RELAY);
    vehicle_winch(&def);
    def.anchor_distance_m = 13.0;
    return def;
}

/* Everything on: loads, wires, thermostat, inrush, relay. */
static inline pr_system_def rig_full(int n_batteries)
{
    pr_system_def def = rig_bare(n_batteries);
    rig_loads(&def);
    rig_wires(&def);
    return def;
}

/* Derived and at its start; static because it is large. */
static inline void rig_start(const pr_system_def *def, pr_system *system, pr_sim *sim)
{
    pr_diag diag = pr_diag_init();
    const pr_status status = pr_system_derive(def, system, &diag);
    if (status != PR_OK)
        pr_diag_print(&diag, stderr);
    pr_diag_free(&diag);
    assert_int_equal(status, PR_OK);
    assert_int_equal(pr_sim_start(system, sim), PR_OK);
}

static inline pr_phase rig_phase(pr_activity activity, double duration_s)
{
    return (pr_phase){.activity = activity,
                      .engine_rpm = 1500.0,
                      .duration_s = duration_s,
                      .stop_travel_m = PR_NAN};
}

static inline pr_limits rig_no_limits(void)
{
    return (pr_limits){
        .on = {false}, .reserve_frac = PR_NAN, .bus_min_V = PR_NAN, .motor_max_degC = PR_NAN};
}

/* Runs a phase without limits; any end but a failed calculation will do. */
static inline pr_phase_end rig_run(const pr_system *system, pr_sim *sim, pr_activity activity,
                                   double duration_s, const pr_run_options *options)
{
    const pr_phase phase = rig_phase(activity, duration_s);
    pr_phase_end end;
    assert_int_equal(pr_sim_run(system, sim, &phase, NULL, options, NULL, &end), PR_OK);
    return end;
}

/* `cycles` pulls of 40 s with rests of 140 s; the rope is set out again as needed. */
static inline void rig_cycles(const pr_system *system, pr_sim *sim, int cycles,
                              const pr_run_options *options)
{
    for (int i = 0; i < cycles; i++) {
        if (i % 6 == 5)
            pr_sim_rerig(system, sim, 26.0);
        rig_run(system, sim, PR_PULL, 40.0, options);
        rig_run(system, sim, PR_REST, 140.0, options);
    }
}

static inline double rig_soc(const pr_system *system, const pr_sim *sim, int post)
{
    const double *s = &sim->y[system->at.battery[post]];
    return (s[0] + s[1]) / system->battery[post].qmax_As;
}

#endif
