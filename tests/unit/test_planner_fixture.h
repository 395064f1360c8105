/* A recovery built in code, and a second, plain way to run one: by the engine alone. */
#ifndef PR_TESTS_PLANNER_FIXTURE_H
#define PR_TESTS_PLANNER_FIXTURE_H

#include "planner/plan.h"
#include "support/check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define NOT_GIVEN __builtin_nan("")

static inline void fixture_load(pr_system_def *def, const char *name, double amps_A, unsigned when)
{
    pr_named_load *load = &def->load[def->n_loads++];
    snprintf(load->name, sizeof load->name, "%s", name);
    load->def = pr_load_def_default();
    load->def.amps_A = amps_A;
    load->def.when = when;
}

static inline void fixture_wire(pr_system_def *def, pr_run_role role, double mm2, double length_m)
{
    pr_wire_slot *slot = &def->run[role];
    slot->present = true;
    slot->def = pr_wire_def_default();
    slot->def.gauge_kind = PR_GAUGE_MM2;
    slot->def.gauge = mm2;
    slot->def.length_m = length_m;
}

/* Winch sheet: 9,500 lbf class, 12 V, first and last column of checks in tests/published. */
static inline void fixture_winch(pr_system_def *def)
{
    pr_motor_def *m = &def->motor;
    m->rated_pull_N = 9500.0 * 4.4482216;
    m->no_load_A = 95.0;
    m->rated_A = 450.0;
    m->no_load_mps = 33.0 * 0.3048 / 60.0;
    m->rated_mps = 6.0 * 0.3048 / 60.0;
    def->drum.drum_m = 0.0635;
    def->drum.rope_m = 0.0083;
    def->drum.width_m = 0.225;
    def->drum.rope_length_m = 30.0;
}

/* A 2,650 kg vehicle, wheel-deep, 20 m to firm ground, petrol six, 70 Ah, 110 A, two parts of line.
 */
static inline pr_scenario *fixture_new(void)
{
    pr_scenario *s = malloc(sizeof *s);
    assert_non_null(s);
    *s = pr_scenario_default();
    pr_system_def *def = &s->system;
    def->ambient_degC = 6.0;
    def->battery[0].chemistry = PR_FLOODED;
    def->battery[0].c20_Ah = 70.0;
    def->battery[0].rc_min = 120.0;
    def->battery[0].cca_A = 700.0;
    def->start_soc_frac[0] = 0.95;
    def->alternator.rated_A = 110.0;
    def->idle_rpm = 750.0;
    def->fast_idle_rpm = 1600.0;
    def->cranking.engine = PR_ENGINE_PETROL_6;
    fixture_winch(def);
    fixture_wire(def, PR_RUN_WINCH, 35.0, 2.2);
    fixture_wire(def, PR_RUN_ALTERNATOR, 16.0, 1.5);
    fixture_load(def, "ignition", 8.0, PR_WHEN_ENGINE);
    def->load[0].def.stops_engine = true;
    def->load[0].def.dropout_V = 9.5;
    def->load[0].def.return_V = 10.0;
    fixture_load(def, "lamps", 9.0, PR_WHEN_PULLING | PR_WHEN_RESTING);
    fixture_load(def, "fan", 12.0, PR_WHEN_ENGINE);
    def->load[2].def.essential = true;
    def->demand.weight_N = 2650.0 * 9.80665;
    def->demand.n_segments = 1;
    def->demand.segments[0].length_m = 20.0;
    def->demand.segments[0].slope_rad = 0.09;
    def->demand.segments[0].mire = PR_MIRE_WHEEL;
    def->anchor_distance_m = 22.0;
    s->plan.blocks = 1;
    return s;
}

static inline void fixture_free(pr_scenario *s)
{
    pr_scenario_free(s);
    free(s);
}

/* The plan's system as rigged, derived once more by the test. */
static inline pr_system *fixture_system(const pr_scenario *s, const pr_plan *plan)
{
    pr_system *system = malloc(sizeof *system);
    assert_non_null(system);
    pr_system_def *def = malloc(sizeof *def);
    assert_non_null(def);
    *def = s->system;
    if (def->has_winch)
        def->rig.parts = plan->parts;
    assert_int_equal(pr_system_derive(def, system, NULL), PR_OK);
    if (def->has_winch && isnan(def->rope_out_m))
        system->def.rope_out_m =
            fmin(def->anchor_distance_m * pr_rig_rope_per_travel(&system->def.rig),
                 system->drum.usable_rope_m);
    free(def);
    return system;
}

/* A rig as described, derived and at its start; to be freed. */
static inline pr_system *fixture_start(const pr_system_def *def, pr_sim *sim)
{
    pr_system *system = malloc(sizeof *system);
    assert_non_null(system);
    assert_int_equal(pr_system_derive(def, system, NULL), PR_OK);
    assert_int_equal(pr_sim_start(system, sim), PR_OK);
    return system;
}

/* One phase by the engine alone, which no limit ends. */
static inline pr_phase_end fixture_run(const pr_system *system, pr_sim *sim, pr_activity activity,
                                       double rpm, double duration_s)
{
    pr_limits none = pr_limits_default(system);
    for (int i = 0; i < PR_LIMIT_COUNT; i++)
        none.on[i] = false;
    const pr_run_options options = pr_run_options_default();
    const pr_phase phase = {.activity = activity,
                            .engine_rpm = rpm,
                            .duration_s = duration_s,
                            .stop_travel_m = NOT_GIVEN};
    pr_phase_end end;
    assert_int_equal(pr_sim_run(system, sim, &phase, &none, &options, NULL, &end), PR_OK);
    return end;
}

/* Rope out when it is set out again on the way: to the anchor, as far as it goes. */
static inline double fixture_rope_m(const pr_system *system, double travel_m)
{
    return fmin((system->def.anchor_distance_m - travel_m) *
                    pr_rig_rope_per_travel(&system->def.rig),
                system->drum.usable_rope_m);
}

/* Rest, then pull, by the engine alone. False when a limit or stop ended either before its time. */
static inline bool fixture_step(const pr_system *system, const pr_limits *limits,
                                const pr_plan *plan, double rest_s, bool first, bool rerig,
                                pr_sim *sim, pr_phase_end *end)
{
    const pr_run_options options = pr_run_options_default();
    if (rest_s > 0.0) {
        pr_limits in_rest = *limits;
        if (first)
            for (int i = 0; i < PR_LIMIT_COUNT; i++)
                in_rest.on[i] = i == PR_LIMIT_VOLTAGE;
        const pr_phase rest = {.activity = PR_REST,
                               .engine_rpm = plan->rest_rpm,
                               .duration_s = rest_s,
                               .stop_travel_m = NOT_GIVEN};
        assert_int_equal(pr_sim_run(system, sim, &rest, &in_rest, &options, NULL, end), PR_OK);
        if (end->stop != PR_STOP_TIME)
            return false;
    }
    if (rerig)
        pr_sim_rerig(system, sim, fixture_rope_m(system, sim->y[system->at.travel]));
    const pr_phase pull = {.activity = PR_PULL,
                           .engine_rpm = plan->pull_rpm,
                           .duration_s = plan->pull_s,
                           .stop_travel_m = isinf(plan->distance_m) ? NOT_GIVEN : plan->distance_m};
    assert_int_equal(pr_sim_run(system, sim, &pull, limits, &options, NULL, end), PR_OK);
    return end->stop == PR_STOP_TIME || end->stop == PR_STOP_TRAVEL || end->stop == PR_STOP_ROPE;
}

#endif
