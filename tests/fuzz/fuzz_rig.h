/* A random rig of plausible parts: every number within what the input reference allows and a shop
 * sells. Labels that no component can have are refused by derive, and the input is passed over. */
#ifndef PR_TESTS_FUZZ_RIG_H
#define PR_TESTS_FUZZ_RIG_H

#include "engine/system.h"
#include "fuzz.h"

#include <math.h>

static inline void fuzz_battery(fuzz_bytes *in, pr_system_def *def, int post)
{
    pr_battery_def *b = &def->battery[post];
    b->chemistry = (pr_chemistry)fuzz_choice(in, PR_CHEMISTRY_COUNT);
    b->plates = (pr_plates)fuzz_choice(in, 3);
    b->c20_Ah = fuzz_between(in, 20.0, 220.0);
    b->rc_min = fuzz_maybe(in, 1.3 * b->c20_Ah, 2.1 * b->c20_Ah);
    b->cca_A = fuzz_maybe(in, 4.0 * b->c20_Ah, 11.0 * b->c20_Ah);
    b->cca_standard = fuzz_flag(in) ? PR_CCA_EN : PR_CCA_SAE;
    b->health_capacity_frac = fuzz_between(in, 0.3, 1.0);
    b->health_resistance_factor = fuzz_between(in, 1.0, 4.0);
    b->acceptance_factor = fuzz_between(in, 0.2, 2.0);
    b->surface_acceptance_ratio = fuzz_between(in, 1.0, 5.0);
    def->start_soc_frac[post] = fuzz_between(in, 0.0, 1.0);
    def->start_battery_degC[post] = fuzz_maybe(in, -30.0, 60.0);
}

static inline void fuzz_alternator(fuzz_bytes *in, pr_system_def *def)
{
    pr_alternator_def *a = &def->alternator;
    def->has_alternator = fuzz_choice(in, 8) != 0;
    a->rated_A = fuzz_between(in, 30.0, 300.0);
    a->idle_A = fuzz_maybe(in, 0.1 * a->rated_A, 0.8 * a->rated_A);
    a->pulley_ratio = fuzz_between(in, 1.5, 4.0);
    a->set_V = fuzz_between(in, 13.2, 15.2);
    a->set_V_per_K = fuzz_between(in, -0.02, 0.0);
    a->droop_ohm = fuzz_between(in, 0.0, 0.006);
    a->sensing = fuzz_flag(in) ? PR_SENSE_BATTERY : PR_SENSE_TERMINAL;
    a->ramp_s = fuzz_flag(in) ? fuzz_between(in, 0.5, 10.0) : 0.0;
    a->turn_on_rpm = fuzz_maybe(in, 1000.0, 3000.0);
    a->belt_limit_W = fuzz_maybe(in, 500.0, 6000.0);
    a->belt_slip_frac = fuzz_flag(in) ? fuzz_between(in, 0.0, 0.9) : 0.0;
    def->alternator_post = fuzz_flag(in) && def->n_batteries == 2 ? PR_POST_SECOND : PR_POST_MAIN;
    def->start_winding_degC = fuzz_maybe(in, -20.0, 120.0);
}

static inline void fuzz_load(fuzz_bytes *in, pr_system_def *def)
{
    static const double exponents[] = {-1.0, 0.0, 0.55, 1.0, 1.6, 2.0};
    static const unsigned when[] = {PR_WHEN_ALWAYS, PR_WHEN_ENGINE, PR_WHEN_PULLING,
                                    PR_WHEN_RESTING, PR_WHEN_NEVER};
    pr_named_load *load = &def->load[def->n_loads];
    pr_load_def *d = &load->def;
    snprintf(load->name, sizeof load->name, "load %d", def->n_loads++);
    d->amps_A = fuzz_between(in, 0.2, 60.0);
    d->exponent = exponents[fuzz_choice(in, 6)];
    d->when = when[fuzz_choice(in, 5)];
    const unsigned more = fuzz_byte(in);
    load->post = (more & 1) && def->n_batteries == 2 ? PR_POST_SECOND : PR_POST_MAIN;
    load->behind_cutoff = (more & 2) != 0;
    if (more & 4) {
        d->dropout_V = fuzz_between(in, 6.0, 12.5);
        d->return_V = d->dropout_V + fuzz_between(in, 0.0, 1.5);
        d->stops_engine = (more & 8) != 0;
    }
    if (more & 16) {
        d->inrush_factor = fuzz_between(in, 1.0, 8.0);
        d->inrush_s = fuzz_between(in, 0.02, 3.0);
    }
    if ((more & 96) == 32) {
        d->cycling = PR_CYCLE_DUTY;
        d->duty_frac = fuzz_between(in, 0.0, 1.0);
        d->period_s = fuzz_between(in, 0.5, 300.0);
    } else if ((more & 96) == 64) {
        d->cycling = PR_CYCLE_THERMOSTAT;
        d->on_degC = fuzz_between(in, 60.0, 110.0);
        d->off_degC = d->on_degC - fuzz_between(in, 1.0, 15.0);
        d->start_degC = fuzz_between(in, 20.0, 110.0);
        d->warming_K_per_s = fuzz_between(in, 0.005, 1.0);
        d->cooling_K_per_s = fuzz_between(in, 0.005, 1.0);
    }
}

static inline void fuzz_wire(fuzz_bytes *in, pr_system_def *def, int run)
{
    static const double areas[] = {0.75, 1.5, 2.5, 6.0, 16.0, 25.0, 35.0, 50.0, 70.0, 95.0};
    pr_wire_slot *slot = &def->run[run];
    const unsigned how = fuzz_byte(in);
    slot->present = (how & 1) != 0;
    if (!slot->present)
        return;
    slot->def.gauge_kind = PR_GAUGE_MM2;
    slot->def.gauge = areas[fuzz_choice(in, 10)];
    slot->def.length_m = fuzz_between(in, 0.2, 8.0);
    slot->def.return_kind = (how & 2) ? PR_RETURN_CHASSIS : PR_RETURN_CABLE;
    slot->def.engine_space = (how >> 2) & 1;
    slot->has_fuse = (how & 8) != 0;
    if (slot->has_fuse) {
        slot->fuse = pr_fuse_def_family((pr_fuse_family)fuzz_choice(in, PR_FUSE_FAMILY_COUNT));
        slot->fuse.rating_A = fuzz_between(in, 5.0, 600.0);
    }
}

static inline void fuzz_winch(fuzz_bytes *in, pr_system_def *def)
{
    def->has_winch = fuzz_choice(in, 16) != 0;
    def->motor =
        pr_motor_def_default(fuzz_choice(in, 4) != 0 ? PR_MOTOR_SERIES : PR_MOTOR_PERMANENT_MAGNET);
    pr_motor_def *m = &def->motor;
    /* sheets of both kinds, pulled apart a little */
    static const double sheets[][5] = {{8.9e3, 30.0, 200.0, 0.127, 0.046},
                                       {15.6e3, 15.0, 200.0, 0.102, 0.028},
                                       {26.7e3, 65.0, 300.0, 0.163, 0.041},
                                       {42.3e3, 95.0, 450.0, 0.168, 0.0305},
                                       {53.4e3, 80.0, 460.0, 0.127, 0.028}};
    const double *sheet = sheets[fuzz_choice(in, 5)];
    m->rated_pull_N = sheet[0] * fuzz_between(in, 0.9, 1.1);
    m->no_load_A = sheet[1] * fuzz_between(in, 0.8, 1.2);
    m->rated_A = sheet[2] * fuzz_between(in, 0.9, 1.1);
    m->no_load_mps = sheet[3] * fuzz_between(in, 0.8, 1.2);
    m->rated_mps = sheet[4] * fuzz_between(in, 0.8, 1.2);
    m->rated_time_s = fuzz_between(in, 20.0, 180.0);
    m->heat_factor = fuzz_between(in, 0.5, 2.0);
    def->drum.drum_m = fuzz_between(in, 0.05, 0.09);
    def->drum.rope_m = fuzz_between(in, 0.006, 0.012);
    def->drum.width_m = fuzz_between(in, 0.10, 0.30);
    def->drum.rope_length_m = fuzz_between(in, 15.0, 45.0);
    def->rig.parts = 1 + fuzz_choice(in, 4);
    def->rope_out_m = fuzz_maybe(in, 1.0, 40.0);
    def->anchor_distance_m = fuzz_maybe(in, 2.0, 40.0);
    def->winch_post = fuzz_flag(in) && def->n_batteries == 2 ? PR_POST_SECOND : PR_POST_MAIN;
    def->start_motor_degC = fuzz_maybe(in, -20.0, 120.0);
}

static inline void fuzz_demand(fuzz_bytes *in, pr_system_def *def)
{
    pr_demand_def *d = &def->demand;
    d->weight_N = fuzz_between(in, 6e3, 70e3);
    d->mire_method = fuzz_flag(in) ? PR_MIRE_ARMY : PR_MIRE_CIVIL;
    d->n_segments = 1 + fuzz_choice(in, 3);
    for (int i = 0; i < d->n_segments; i++) {
        d->segments[i].length_m = fuzz_between(in, 0.5, 30.0);
        d->segments[i].slope_rad = fuzz_between(in, -0.2, 0.6);
        const double likely = fuzz_between(in, 0.03, 0.5);
        d->segments[i].surface_frac[PR_CASE_LOW] = 0.8 * likely;
        d->segments[i].surface_frac[PR_CASE_LIKELY] = likely;
        d->segments[i].surface_frac[PR_CASE_HIGH] = 1.3 * likely;
        d->segments[i].mire = (pr_mire)fuzz_choice(in, 4);
    }
    if (fuzz_choice(in, 8) == 0) {
        def->work = PR_WORK_CURRENT;
        def->pull_A = fuzz_between(in, 50.0, 500.0);
    }
}

static inline void fuzz_second(fuzz_bytes *in, pr_system_def *def)
{
    def->n_batteries = 1 + fuzz_choice(in, 2);
    fuzz_battery(in, def, PR_POST_MAIN);
    if (def->n_batteries == 1)
        return;
    fuzz_battery(in, def, PR_POST_SECOND);
    def->link = pr_link_def_default((pr_link_kind)fuzz_choice(in, 5));
    def->link.contact_ohm = fuzz_between(in, 0.0001, 0.005);
    def->link.close_delay_s = fuzz_between(in, 0.0, 30.0);
    def->link.open_delay_s = fuzz_between(in, 0.0, 30.0);
    def->link.senses_both = fuzz_flag(in);
    def->link.charger_A = fuzz_between(in, 5.0, 60.0);
    def->switch_rule = (pr_switch_rule)fuzz_choice(in, 4);
    def->starter_post = fuzz_flag(in) ? PR_POST_SECOND : PR_POST_MAIN;
}

static inline pr_system_def fuzz_rig(fuzz_bytes *in)
{
    pr_system_def def = pr_system_def_default();
    def.ambient_degC = fuzz_between(in, -25.0, 50.0);
    fuzz_second(in, &def);
    fuzz_alternator(in, &def);
    fuzz_winch(in, &def);
    fuzz_demand(in, &def);
    def.cranking.engine = (pr_engine_class)fuzz_choice(in, PR_ENGINE_CLASS_COUNT);
    def.cranking.engine_degC = fuzz_maybe(in, -20.0, 90.0);
    for (int p = 0; p < PR_POSTS; p++)
        def.has_cutoff[p] = fuzz_flag(in) && p < def.n_batteries;
    for (int run = 0; run < PR_RUN_FIRST_LOAD; run++)
        fuzz_wire(in, &def, run);
    const int n_loads = fuzz_choice(in, 13);
    for (int k = 0; k < n_loads; k++) {
        fuzz_load(in, &def);
        fuzz_wire(in, &def, PR_RUN_FIRST_LOAD + k);
    }
    return def;
}

#endif
