/* Prints what pullrest itself computes, for the comparison programs: one number a line as
 * `name<TAB>value`, every digit.
 *
 *   crosscheck_dump circuit CASE TOLERANCE   parameters and start of a case of circuit.h, then the
 *                                            state and charges at the end of each phase
 *   crosscheck_dump trace CASE TOLERANCE     rows of time, voltages and currents, once a second
 *
 * What follows from labels and sheets is in dump_fits.c. */
#include "circuit.h"

#include "engine/trace.h"

#include <stdlib.h>
#include <string.h>

static pr_system system_;
static pr_sim sim_;

static void put(const char *name, double value)
{
    printf("%s\t%.17g\n", name, value);
}

static void put_at(const char *name, int index, double value)
{
    printf("%s.%d\t%.17g\n", name, index, value);
}

/* The values of the second battery begin with `second.`. */
static void put_of(int post, const char *name, double value)
{
    printf("%s%s\t%.17g\n", post == 0 ? "" : "second.", name, value);
}

static void put_battery(int post)
{
    const pr_battery *b = &system_.battery[post];
    put_of(post, "qmax_As", b->qmax_As);
    put_of(post, "c", b->c_frac);
    put_of(post, "k_discharge_per_s", b->k_per_s);
    put_of(post, "k_charge_per_s", b->k_charge_per_s);
    put_of(post, "k_per_K", b->k_per_K);
    put_of(post, "r25_ohm", b->r25_ohm);
    put_of(post, "r0_share", b->r0_share);
    put_of(post, "r_per_K", b->r_per_K);
    put_of(post, "tau_s", b->tau_s);
    put_of(post, "polarisation", b->polarisation);
    put_of(post, "x_a", b->unreachable[0]);
    put_of(post, "x_b", b->unreachable[1]);
    put_of(post, "emf_V_per_K", b->emf_V_per_K);
    put_of(post, "rest.n", (double)b->rest_V.n);
    for (size_t i = 0; i < b->rest_V.n; i++) {
        char name[32];
        snprintf(name, sizeof name, "rest.soc.%zu", i);
        put_of(post, name, b->rest_V.x[i]);
        snprintf(name, sizeof name, "rest.V.%zu", i);
        put_of(post, name, b->rest_V.y[i]);
    }
    /* alpha_s qmax, health and all */
    put_of(post, "accept_A", b->accept_ref_A);
    put_of(post, "c20_Ah", b->def.c20_Ah);
    put_of(post, "health", b->def.health_capacity_frac);
    put_of(post, "gas_A", b->gas_ref_A);
    put_of(post, "heat_J_per_K", b->heat_capacity_J_per_K);
    put_of(post, "case_W_per_K", b->case_conductance_W_per_K);
}

static void put_alternator(const pr_alternator *a)
{
    put("im_A", a->im_A);
    put("n0_rpm", a->n0_rpm);
    put("nc_rpm", a->nc_rpm);
    put("rated_A", a->def.rated_A);
    put("pulley", a->def.pulley_ratio);
    put("set_V", a->def.set_V);
    put("set_V_per_K", a->def.set_V_per_K);
    put("droop_ohm", a->def.droop_ohm);
    put("air_rise_K", a->def.air_degC_rise);
    put("sense_battery", a->def.sensing == PR_SENSE_BATTERY);
}

static void put_motor(const pr_motor *m)
{
    put("motor_ohm", m->r_ohm);
    put("ks", m->ks_Vs_per_m);
    put("is_A", m->is_A);
    put("eta", m->eta);
    put("f0_N", m->f0_N);
    put("brush_share", m->def.brush_share);
    put("contactor_ohm", m->def.contactor_ohm);
    put("ca_J_per_K", m->c_armature_J_per_K);
    put("cc_J_per_K", m->c_case_J_per_K);
    put("ga_W_per_K", m->g_armature_W_per_K);
    put("gc_W_per_K", m->g_case_W_per_K);
}

/* The last two with two batteries only. */
static const int RUNS[] = {PR_RUN_ALTERNATOR,     PR_RUN_WINCH,        PR_RUN_LOADS,
                           PR_RUN_FIRST_LOAD + 2, PR_RUN_LOADS_SECOND, PR_RUN_LINK};

static int n_runs(const pr_system *s)
{
    return s->def.n_batteries > 1 ? 6 : 4;
}

static void put_wires(const pr_system *s)
{
    for (int i = 0; i < n_runs(s); i++) {
        const pr_wire *w = &s->wire[RUNS[i]];
        put_at("wire.r20_ohm", i, w->r20_ohm);
        put_at("wire.fixed_ohm", i, w->fixed_ohm);
        put_at("wire.C", i, w->heat_capacity_J_per_K);
        put_at("wire.G", i, w->conductance_W_per_K);
        put_at("wire.warm", i, w->def.engine_space);
    }
}

static void put_loads(const pr_system *s)
{
    for (int k = 0; k < s->def.n_loads; k++) {
        const pr_load *load = &s->load[k];
        put_at("load.i0_A", k, load->i0_A);
        put_at("load.exponent", k, load->def.exponent);
        put_at("load.pulling", k, load->def.when == PR_WHEN_PULLING);
        put_at("load.inrush", k, load->def.inrush_factor);
        put_at("load.inrush_s", k, load->def.inrush_s);
        put_at("load.post", k, s->def.load[k].post);
    }
    put("load.n", s->def.n_loads);
    put("load.wired", 2);
}

/* What the rope must pull and where the drum's layers end: the inputs, not the results. */
static void put_rope(const pr_system *s)
{
    put("weight_N", s->def.demand.weight_N);
    put("slope_rad", s->def.demand.segments[0].slope_rad);
    put("margin", s->def.demand.margin_frac);
    put("drum_m", s->def.drum.drum_m);
    put("rope_m", s->def.drum.rope_m);
    put("width_m", s->def.drum.width_m);
    put("nesting", s->def.drum.nesting);
    put("rope_length_m", s->def.drum.rope_length_m);
    put("parts", s->def.rig.parts);
    put("sheave_frac", s->def.rig.friction_per_sheave_frac);
    put("anchor_m", s->def.anchor_distance_m);
}

static void put_link(const pr_link_def *link)
{
    put("contact_ohm", link->contact_ohm);
    put("close_V", link->close_V);
    put("open_V", link->open_V);
    put("close_delay_s", link->close_delay_s);
    put("open_delay_s", link->open_delay_s);
}

static void put_run(const circuit_case *run)
{
    put("ambient_degC", system_.def.ambient_degC);
    put("engine_space_K", system_.def.engine_space_rise_K);
    put("start_soc", system_.def.start_soc_frac[0]);
    put("posts", system_.def.n_batteries);
    put("phases", 2 * run->cycles);
    put("pull_s", run->pull_s);
    put("rest_s", run->rest_s);
    put("pull_rpm", CIRCUIT_PULL_RPM);
    put("rest_rpm", run->rest_rpm);
}

/* Where the temperature of a run is among the states. */
static double run_degC(int run)
{
    for (int i = 0; i < system_.at.n_wires; i++)
        if (system_.at.wire_run[i] == run)
            return sim_.y[system_.at.wire + i];
    return PR_NAN;
}

static void put_state_of(int post, int phase)
{
    static const char *const names[] = {"q1_As", "q2_As", "v1_V", "battery_degC"};
    char name[32];
    for (int i = 0; i < 4; i++) {
        snprintf(name, sizeof name, "%s.%d", names[i], phase);
        put_of(post, name, sim_.y[system_.at.battery[post] + i]);
    }
    snprintf(name, sizeof name, "battery_As.%d", phase);
    put_of(post, name, pr_sim_ledger(&system_, &sim_, PR_LEDGER_BATTERY0_As + (unsigned)post));
    snprintf(name, sizeof name, "gas_As.%d", phase);
    put_of(post, name, pr_sim_ledger(&system_, &sim_, PR_LEDGER_GAS0_As + (unsigned)post));
}

/* State, layer, relay and charges at the end of a phase. */
static void put_state(int phase, const pr_outputs *o)
{
    static const struct {
        const char *name;
        pr_ledger_item item;
    } books[] = {{"alternator_As", PR_LEDGER_ALTERNATOR_As},
                 {"winch_As", PR_LEDGER_WINCH_As},
                 {"loads_As", PR_LEDGER_LOADS_As},
                 {"rope_J", PR_LEDGER_ROPE_J},
                 {"link_J", PR_LEDGER_LINK_HEAT_J}};
    const double *y = sim_.y;
    for (int p = 0; p < system_.def.n_batteries; p++)
        put_state_of(p, phase);
    put_at("winding_degC", phase, y[system_.at.alternator]);
    put_at("armature_degC", phase, y[system_.at.motor]);
    put_at("case_degC", phase, y[system_.at.motor + 1]);
    put_at("travel_m", phase, y[system_.at.travel]);
    for (int i = 0; i < n_runs(&system_); i++)
        printf("wire_degC%d.%d\t%.17g\n", i, phase, run_degC(RUNS[i]));
    for (size_t i = 0; i < sizeof books / sizeof books[0]; i++)
        put_at(books[i].name, phase, pr_sim_ledger(&system_, &sim_, books[i].item));
    if (o == NULL)
        return;
    put_at("post_V", phase, o->post_V[0]);
    put_at("box_V", phase, o->box_V[0]);
    put_at("second.post_V", phase, o->post_V[1]);
    put_at("second.box_V", phase, o->box_V[1]);
    put_at("layer", phase, o->layer);
    put_at("closed", phase, sim_.modes.link_closed);
}

static int put_row(void *context, const pr_system *system, const pr_outputs *o, const char *event)
{
    (void)context, (void)system, (void)event;
    printf("%.9f\t%.9g\t%.9g\t%.9g\t%.9g\t%.9g\t%.9g\n", o->time_s, o->post_V[0], o->box_V[0],
           o->battery_A[0], o->alternator_A, o->winch_A, o->loads_A);
    return 0;
}

/* A move of the relay, as pullrest reports it. */
static int put_move(void *context, const pr_system *system, const pr_outputs *o, const char *event)
{
    int *n = context;
    (void)system;
    if (event != NULL && strstr(event, "link between the batteries") != NULL)
        put_at("relay_s", (*n)++, o->time_s);
    return 0;
}

static int run_circuit(const circuit_case *run, bool trace, double tolerance)
{
    int n_moves = 0;
    const pr_observer rows = {.fn = put_row, .interval_s = 1.0};
    const pr_observer moves = {.fn = put_move, .context = &n_moves, .interval_s = 1e6};
    pr_run_options options = pr_run_options_default();
    options.tolerance = tolerance;
    for (int n = 0; n < 2 * run->cycles; n++) {
        const pr_phase phase = circuit_phase(run, n);
        pr_phase_end end;
        const pr_status status =
            pr_sim_run(&system_, &sim_, &phase, NULL, &options, trace ? &rows : &moves, &end);
        if (status != PR_OK || end.stop != PR_STOP_TIME) {
            fprintf(stderr, "phase %d: %s, %s\n", n, pr_status_text(status),
                    pr_stop_name(end.stop));
            return 1;
        }
        if (!trace)
            put_state(n + 1, &end.last);
    }
    if (!trace)
        put("relay_moves", n_moves);
    return 0;
}

static const circuit_case *find_case(const char *name)
{
    for (size_t i = 0; i < sizeof CIRCUIT_CASES / sizeof CIRCUIT_CASES[0]; i++)
        if (strcmp(name, CIRCUIT_CASES[i].name) == 0)
            return &CIRCUIT_CASES[i];
    return NULL;
}

int main(int argc, char **argv)
{
    if (argc != 4)
        return 2;
    const bool trace = strcmp(argv[1], "trace") == 0;
    const circuit_case *run = find_case(argv[2]);
    if (run == NULL)
        return 2;
    const pr_system_def def = circuit_def(run);
    pr_diag diag = pr_diag_init();
    if (pr_system_derive(&def, &system_, &diag) != PR_OK ||
        pr_sim_start(&system_, &sim_) != PR_OK) {
        pr_diag_print(&diag, stderr);
        return 1;
    }
    pr_diag_free(&diag);
    if (!trace) {
        for (int p = 0; p < def.n_batteries; p++)
            put_battery(p);
        put_alternator(&system_.alternator);
        put_motor(&system_.motor);
        put_wires(&system_);
        put_loads(&system_);
        put_rope(&system_);
        put_link(&system_.def.link);
        put_run(run);
        put_state(0, NULL);
    }
    return run_circuit(run, trace, atof(argv[3]));
}
