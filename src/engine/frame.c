/* Builds a frame from the modes: who is switched on, how loads are grouped, what the winch pulls.
 */
#include "engine/frame.h"
#include "base/number.h"

#include <math.h>

/* Inrush is over after so many time constants; see load.c. */
static const double INRUSH_OVER = 40.0;

bool pr_frame_pulls(const pr_phase *phase)
{
    return phase->activity == PR_PULL || phase->activity == PR_PULL_ENGINE_OFF;
}

bool pr_frame_engine_runs(const pr_sim *sim, const pr_phase *phase)
{
    return (phase->activity == PR_REST || phase->activity == PR_PULL) && !sim->modes.engine_dead;
}

pr_load_set pr_frame_loads_wanted(const pr_system *system, const pr_sim *sim, const pr_phase *phase)
{
    const bool resting = phase->activity == PR_REST || phase->activity == PR_ENGINE_OFF;
    return system->loads.wanted[pr_frame_engine_runs(sim, phase)][pr_frame_pulls(phase)][resting] &
           ~(pr_load_set)phase->load_off_mask_lo;
}

pr_load_set pr_frame_loads_on(const pr_system *system, const pr_sim *sim, const pr_phase *phase)
{
    static const int box_run[PR_POSTS] = {PR_RUN_LOADS, PR_RUN_LOADS_SECOND};
    const pr_load_sets *sets = &system->loads;
    const pr_modes *m = &sim->modes;
    pr_load_set off = m->load_dropped | m->fuse_open >> PR_RUN_FIRST_LOAD;
    for (int p = 0; p < PR_POSTS; p++) {
        if (m->fuse_open & pr_set_of(box_run[p]))
            off |= sets->at_post[p];
        if (m->cutoff_open[p])
            off |= sets->at_post[p] & sets->behind_cutoff;
    }
    off |= sets->thermostat & ~m->thermostat_on;
    const pr_load_set on = pr_frame_loads_wanted(system, sim, phase) & ~off;
    for (pr_load_set left = on & sets->duty; left != 0;) {
        const int k = pr_set_take(&left);
        if (!pr_load_duty_on(&system->load[k], sim->time_s, NULL))
            off |= pr_set_of(k);
    }
    return on & ~off;
}

/* Those of the loads that are on that take part in no group. */
static pr_load_set find_singles(const pr_system *system, const pr_sim *sim, pr_load_set on)
{
    pr_load_set singles = on & system->loads.fed_apart;
    for (pr_load_set left = on & system->loads.inrush; left != 0;) {
        const int k = pr_set_take(&left);
        if (sim->time_s - sim->modes.load_since_s[k] < INRUSH_OVER * system->load[k].def.inrush_s)
            singles |= pr_set_of(k);
    }
    return singles;
}

static void add_load(const pr_system *system, const pr_sim *sim, int k, int wire_at, pr_bus *bus)
{
    const pr_load_def *d = &system->load[k].def;
    pr_bus_load *b = &bus->load[bus->n_loads++];
    b->load = &system->load[k];
    b->index = k;
    b->wire_at = wire_at;
    b->since_s = sim->modes.load_since_s[k] - sim->origin_s;
    b->power = d->wire_ohm == 0.0 ? system->powers.of_load[k] : -1;
    b->scale = system->load_scale[k];
    b->floor_V = d->exponent < 1.0 ? PR_LOAD_LOW_FRAC * d->reference_V : 0.0;
}

/* Group of an exponent among those of a box; a new one if there is none yet. */
static pr_bus_group *find_group(pr_bus *bus, pr_bus_box *box, double exponent, int power)
{
    for (int g = box->first_group; g < box->end_group; g++)
        if (bus->group[g].exponent == exponent)
            return &bus->group[g];
    pr_bus_group *new = &bus->group[box->end_group++];
    *new = (pr_bus_group){.exponent = exponent, .power = power, .first = box->first_grouped};
    return new;
}

/* Loads of one post that share an exponent become a group: one power for all of them. */
static void group_loads(const pr_system *system, const pr_sim *sim, pr_load_set members,
                        pr_bus *bus, pr_bus_box *box)
{
    while (members != 0) {
        const int k = pr_set_take(&members);
        const double a = system->load[k].def.exponent;
        pr_bus_group *g = find_group(bus, box, a, system->powers.of_load[k]);
        add_load(system, sim, k, -1, bus);
        const double floor_V = bus->load[bus->n_loads - 1].floor_V;
        g->scale += system->load_scale[k];
        if (floor_V > g->floor_V)
            g->floor_V = floor_V;
    }
    box->end = bus->n_loads;
    for (int g = box->first_group; g < box->end_group; g++)
        bus->group[g].end = box->end;
}

/* Where the wire of a load that has one is in the state vector. */
static int load_wire_at(const pr_system *system, int k)
{
    int i = 0;
    while (system->at.wire_run[i] != PR_RUN_FIRST_LOAD + k)
        i++;
    return system->at.wire + i;
}

static double highest_dropout_V(const pr_system *system, pr_load_set loads)
{
    double most_V = -PR_INF;
    while (loads != 0) {
        const double dropout_V = system->load[pr_set_take(&loads)].def.dropout_V;
        if (dropout_V > most_V) /* not if NaN: it works at any voltage */
            most_V = dropout_V;
    }
    return most_V;
}

static void build_loads(const pr_system *system, const pr_sim *sim, pr_frame *f)
{
    pr_bus *bus = &f->bus;
    int n_groups = 0;
    bus->n_loads = 0;
    for (int p = 0; p < bus->n_posts; p++) {
        const pr_load_set here = f->loads_on & system->loads.at_post[p];
        const pr_load_set grouped = here & ~f->singles;
        pr_bus_box *box = &bus->box[p];
        box->first = bus->n_loads;
        for (pr_load_set left = here & f->singles; left != 0;) {
            const int k = pr_set_take(&left);
            const bool wired = system->def.run[PR_RUN_FIRST_LOAD + k].present;
            add_load(system, sim, k, wired ? load_wire_at(system, k) : -1, bus);
        }
        box->first_grouped = bus->n_loads;
        box->first_group = box->end_group = n_groups;
        group_loads(system, sim, grouped, bus, box);
        n_groups = box->end_group;
        box->middle_V = box->reach_V = 0.0; /* summed when the voltage is known */
        f->dropout_V[p] = highest_dropout_V(system, grouped);
    }
    for (int p = bus->n_posts; p < PR_POSTS; p++)
        bus->box[p] = (pr_bus_box){bus->n_loads, bus->n_loads, bus->n_loads, n_groups, n_groups};
    for (int k = 0; k < system->def.n_loads; k++)
        f->place[k] = -1;
    for (int k = 0; k < bus->n_loads; k++)
        f->place[bus->load[k].index] = k;
}

double pr_frame_rope_out_m(const pr_system *system, const pr_sim *sim, double travel_m)
{
    return sim->rope_out_at_rig_m -
           pr_rig_rope_per_travel(&system->def.rig) * (travel_m - sim->travel_at_rig_m);
}

/* What the winch pulls here, and where along the way that changes. */
static void build_pull(const pr_system *system, const pr_sim *sim, pr_frame *f)
{
    const pr_system_def *def = &system->def;
    const double travel_m = sim->y[system->at.travel];
    f->rope_per_travel = pr_rig_rope_per_travel(&def->rig);
    f->rope_end_m = sim->travel_at_rig_m + sim->rope_out_at_rig_m / f->rope_per_travel;
    const double rope_out_m = pr_frame_rope_out_m(system, sim, travel_m);
    f->layer = pr_drum_layer(&system->drum, rope_out_m);
    f->ratio = pr_drum_ratio(&system->drum, f->layer);
    const double layer_end_m =
        travel_m +
        (rope_out_m - pr_drum_layer_end_rope_out_m(&system->drum, f->layer)) / f->rope_per_travel;
    f->change_m = f->layer < system->drum.layers ? layer_end_m : PR_INF;
    f->moving = def->work == PR_WORK_DEMAND;
    if (!f->moving)
        return;
    f->resistance_N = pr_demand_resistance_N(&def->demand, travel_m, def->demand_case);
    f->fall_line_N = pr_rig_fall_line_N(&def->rig, f->resistance_N);
    f->pull_N = f->fall_line_N * f->ratio;
    f->pull_A = pr_motor_pull_A(&system->motor, f->pull_N);
    const double segment_end_m = pr_demand_segment_end_m(&def->demand, travel_m);
    if (segment_end_m > travel_m && segment_end_m < f->change_m &&
        isnan(def->demand.fixed_resistance_N))
        f->change_m = segment_end_m;
}

static void build_wires(const pr_system *system, pr_frame *f)
{
    for (int r = 0; r < PR_RUN_FIRST_LOAD; r++)
        f->wire_at[r] = -1;
    int i = 0;
    for (; i < system->at.n_wires && system->at.wire_run[i] < PR_RUN_FIRST_LOAD; i++)
        f->wire_at[system->at.wire_run[i]] = system->at.wire + i;
    f->n_main_wires = i;
}

/* Loads and wires, unless those of an earlier frame still hold. */
static void place_loads(const pr_system *system, const pr_sim *sim, pr_frame *f)
{
    const pr_load_set on = sim->modes.load_on, singles = find_singles(system, sim, on);
    if (f->has_loads && f->loads_on == on && f->singles == singles)
        return;
    f->has_loads = true;
    f->loads_on = on;
    f->singles = singles;
    build_loads(system, sim, f);
    build_wires(system, f);
}

static void build_thermostats(const pr_system *system, const pr_sim *sim, const pr_phase *phase,
                              pr_frame *f)
{
    const pr_load_set wanted = pr_frame_loads_wanted(system, sim, phase);
    for (int i = 0; i < system->at.n_thermostats; i++) {
        const int k = system->at.thermostat_load[i];
        const bool on = sim->modes.load_on & pr_set_of(k);
        /* what is not wanted now is neither heated nor cooled */
        f->thermostat_K_per_s[i] =
            wanted & pr_set_of(k) ? pr_load_thermostat_K_per_s(&system->load[k], on) : 0.0;
    }
}

void pr_frame_build(const pr_system *system, const pr_sim *sim, const pr_phase *phase,
                    double accuracy_V, pr_frame *frame)
{
    const pr_system_def *def = &system->def;
    const pr_modes *m = &sim->modes;
    pr_bus *bus = &frame->bus;
    frame->system = bus->system = system;
    frame->origin_s = sim->origin_s;
    frame->engine_running = pr_frame_engine_runs(sim, phase);
    frame->engine_rpm = frame->engine_running ? phase->engine_rpm : 0.0;
    frame->pulling = pr_frame_pulls(phase);

    bus->n_posts = def->n_batteries;
    bus->field = PR_FIELD_ANY;
    bus->accuracy_V = accuracy_V;
    bus->alternator_on = def->has_alternator && frame->engine_running && m->excited &&
                         !(m->fuse_open & pr_set_of(PR_RUN_ALTERNATOR));
    bus->winch_on = frame->pulling && (def->has_winch || def->work == PR_WORK_CURRENT) &&
                    !m->contactor_open && !(m->fuse_open & pr_set_of(PR_RUN_WINCH));
    bus->link_closed = m->link_closed;
    bus->link_open = m->fuse_open & pr_set_of(PR_RUN_LINK);
    for (int p = 0; p < PR_POSTS; p++) {
        bus->battery_open[p] = p >= def->n_batteries || m->battery_open[p];
        bus->crank_A[p] = 0.0;
    }
    frame->crank_A = 0.0;
    if (phase->activity == PR_CRANK) {
        const double engine_degC =
            isnan(def->cranking.engine_degC) ? def->ambient_degC : def->cranking.engine_degC;
        frame->crank_A = pr_cranking_current_A(&def->cranking, engine_degC);
        bus->crank_A[def->starter_post] = frame->crank_A;
    }
    place_loads(system, sim, frame);
    build_thermostats(system, sim, phase, frame);
    frame->moving = false;
    frame->layer = 0;
    frame->resistance_N = frame->fall_line_N = frame->pull_N = frame->pull_A = 0.0;
    frame->change_m = frame->rope_end_m = PR_INF;
    frame->ratio = frame->rope_per_travel = 1.0;
    if (def->has_winch && frame->pulling)
        build_pull(system, sim, frame);
}
