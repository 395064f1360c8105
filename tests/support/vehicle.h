/* Parts of the vehicle of round numbers, ours, that the engine's tests and the cross-checks run. */
#ifndef PR_TESTS_SUPPORT_VEHICLE_H
#define PR_TESTS_SUPPORT_VEHICLE_H

#include "engine/system.h"

/* A 2,600 kg vehicle, hub-deep on a gentle slope, two parts of line, 9,500 lbf class winch. */
static inline void vehicle_winch(pr_system_def *def)
{
    def->motor.rated_pull_N = 42258.0;
    def->motor.no_load_A = 95.0;
    def->motor.rated_A = 450.0;
    def->motor.no_load_mps = 0.168;
    def->motor.rated_mps = 0.0305;
    def->drum.drum_m = 0.064;
    def->drum.rope_m = 0.0083;
    def->drum.width_m = 0.23;
    def->drum.rope_length_m = 30.0;
    def->demand.weight_N = 2600.0 * 9.81;
    def->demand.n_segments = 1;
    def->demand.segments[0].length_m = 25.0;
    def->demand.segments[0].slope_rad = 0.05;
    def->demand.segments[0].mire = PR_MIRE_HUB;
    def->rig.parts = 2;
}

static inline void vehicle_battery(pr_system_def *def, int post)
{
    def->battery[post].chemistry = PR_FLOODED;
    def->battery[post].c20_Ah = 70.0;
    def->battery[post].rc_min = 120.0;
    def->battery[post].cca_A = 700.0;
}

static inline void vehicle_wire(pr_system_def *def, int run, pr_gauge_kind kind, double gauge,
                                double length_m)
{
    def->run[run].present = true;
    def->run[run].def.gauge_kind = kind;
    def->run[run].def.gauge = gauge;
    def->run[run].def.length_m = length_m;
}

#endif
