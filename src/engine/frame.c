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

bool pr_frame_load_is_wanted(const pr_system *system, const pr_sim *sim, const pr_phase *phase,
                             int k)
{
    if (k < 64 && (phase->load_off_mask_lo >> k & 1UL))
        return false;
    const bool resting = phase->activity == PR_REST || phase->activity == PR_ENGINE_OFF;
    return pr_load_wanted(&system->load[k], pr_frame_engine_runs(sim, phase), pr_frame_pulls(phase),
                          resting);
}

bool pr_frame_load_is_on(const pr_system *system, const pr_sim *sim, const pr_phase *phase, int k)
{
    const pr_modes *m = &sim->modes;
    const pr_named_load *named = &system->def.load[k];
    const int box = named->post == PR_POST_MAIN ? PR_RUN_LOADS : PR_RUN_LOADS_SECOND;
    if (!pr_frame_load_is_wanted(system, sim, phase, k) || m->load_dropped[k] ||
        m->fuse_open[box] || m->fuse_open[PR_RUN_FIRST_LOAD + k])
        return false;
    if (named->behind_cutoff && m->cutoff_open[named->post])
        return false;
    if (named->def.cycling == PR_CYCLE_NONE)
        return true;
    if (named->def.cycling == PR_CYCLE_THERMOSTAT)
        return m->thermostat_on[k];
    return pr_load_duty_on(&system->load[k], sim->time_s, NULL);
}

static bool is_single(const pr_system *system, const pr_sim *sim, int k)
{
    const pr_load_def *d = &system->load[k].def;
    return system->def.run[PR_RUN_FIRST_LOAD + k].present || d->wire_ohm > 0.0 ||
           (d->inrush_factor > 1.0 &&
            sim->time_s - sim->modes.load_since_s[k] < INRUSH_OVER * d->inrush_s);
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
static void group_loads(const pr_system *system, const pr_sim *sim, const int members[], int n,
                        pr_bus *bus, pr_bus_box *box)
{
    for (int i = 0; i < n; i++) {
        const int k = members[i];
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

static void build_loads(const pr_system *system, const pr_sim *sim, pr_bus *bus)
{
    int n_groups = 0;
    bus->n_loads = 0;
    for (int p = 0; p < bus->n_posts; p++) {
        int members[PR_LOADS_MAX], n = 0;
        pr_bus_box *box = &bus->box[p];
        box->first = bus->n_loads;
        for (int k = 0; k < system->def.n_loads; k++) {
            if (!sim->modes.load_on[k] || (int)system->def.load[k].post != p)
                continue;
            const bool wired = system->def.run[PR_RUN_FIRST_LOAD + k].present;
            if (is_single(system, sim, k))
                add_load(system, sim, k, wired ? load_wire_at(system, k) : -1, bus);
            else
                members[n++] = k;
        }
        box->first_grouped = bus->n_loads;
        box->first_group = box->end_group = n_groups;
        group_loads(system, sim, members, n, bus, box);
        n_groups = box->end_group;
        box->first_cell = -1; /* summed when the voltage is known */
    }
    for (int p = bus->n_posts; p < PR_POSTS; p++)
        bus->box[p] = (pr_bus_box){bus->n_loads, bus->n_loads, bus->n_loads,
                                   n_groups,     n_groups,     .first_cell = -1};
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
    for (int k = 0; k < system->def.n_loads; k++)
        f->place[k] = -1;
    for (int k = 0; k < f->bus.n_loads; k++)
        f->place[f->bus.load[k].index] = k;
}

static void build_thermostats(const pr_system *system, const pr_sim *sim, const pr_phase *phase,
                              pr_frame *f)
{
    for (int i = 0; i < system->at.n_thermostats; i++) {
        const int k = system->at.thermostat_load[i];
        /* what is not wanted now is neither heated nor cooled */
        const bool wanted = pr_frame_load_is_wanted(system, sim, phase, k);
        f->thermostat_K_per_s[i] =
            wanted ? pr_load_thermostat_K_per_s(&system->load[k], sim->modes.load_on[k]) : 0.0;
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
                         !m->fuse_open[PR_RUN_ALTERNATOR];
    bus->winch_on = frame->pulling && (def->has_winch || def->work == PR_WORK_CURRENT) &&
                    !m->contactor_open && !m->fuse_open[PR_RUN_WINCH];
    bus->link_closed = m->link_closed;
    bus->link_open = m->fuse_open[PR_RUN_LINK];
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
    build_loads(system, sim, bus);
    build_wires(system, frame);
    build_thermostats(system, sim, phase, frame);
    frame->moving = false;
    frame->layer = 0;
    frame->resistance_N = frame->fall_line_N = frame->pull_N = frame->pull_A = 0.0;
    frame->change_m = frame->rope_end_m = PR_INF;
    frame->ratio = frame->rope_per_travel = 1.0;
    if (def->has_winch && frame->pulling)
        build_pull(system, sim, frame);
}
