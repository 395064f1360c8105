/* The vehicle as one description: defaults, derivation of every component, layout of the state.
 *
 * The flat state vector holds, in this order: batteries (wells, RC branch, temperature), alternator
 * (winding, ramp), winch motor (armature, case), travel, thermostats, wires, fuses, and last the
 * quadratures of the ledger, which nothing else depends on. Components that are absent take no
 * room. */
#include "engine/system.h"
#include "base/number.h"
#include "engine/sim.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Wires of loads are judged hot, and with some distance from where their voltage is not determined.
 */
static const double HOT_WIRE_degC = 100.0, WIRE_SLOPE_MAX = 0.8;
static const pr_place NOWHERE = {NULL, 0, 0};

pr_system_def pr_system_def_default(void)
{
    pr_system_def def = {
        .cookie = PR_DEF_COOKIE,
        .ambient_degC = 25.0,
        .engine_space_rise_K = 20.0,
        .n_batteries = 1,
        .starter_post = PR_POST_MAIN,
        .has_alternator = true,
        .alternator = pr_alternator_def_default(),
        .alternator_post = PR_POST_MAIN,
        .start_winding_degC = PR_NAN,
        .idle_rpm = 800.0,
        .fast_idle_rpm = 1500.0,
        .max_rpm = 2500.0,
        .link = pr_link_def_default(PR_LINK_NONE),
        .switch_rule = PR_SWITCH_CLOSED,
        .has_winch = true,
        .motor = pr_motor_def_default(PR_MOTOR_SERIES),
        .winch_post = PR_POST_MAIN,
        .start_motor_degC = PR_NAN,
        .drum = pr_drum_def_default(),
        .rig = pr_rig_def_default(),
        .rope_out_m = PR_NAN,
        .anchor_distance_m = PR_NAN,
        .work = PR_WORK_DEMAND,
        .demand = pr_demand_def_default(),
        .demand_case = PR_CASE_LIKELY,
        .pull_A = PR_NAN,
        .cranking = pr_cranking_def_default(),
    };
    for (int p = 0; p < PR_POSTS; p++) {
        def.battery[p] = pr_battery_def_default();
        def.start_soc_frac[p] = 1.0;
        def.start_battery_degC[p] = PR_NAN;
        def.cutoff[p] = pr_cutoff_def_default();
    }
    for (int k = 0; k < PR_LOADS_MAX; k++)
        def.load[k].def = pr_load_def_default();
    for (int r = 0; r < PR_RUNS_MAX; r++) {
        def.run[r].def = pr_wire_def_default();
        def.run[r].fuse = pr_fuse_def_default();
    }
    return def;
}

/* What the system has of an earlier derivation that holds still: a component follows from its own
 * description alone. */
typedef struct kept {
    bool battery[PR_POSTS], alternator, link, motor, drum;
    bool load[PR_LOADS_MAX], wire[PR_RUNS_MAX], fuse[PR_RUNS_MAX];
} kept;

/* Collects what goes wrong while components are derived. */
typedef struct derivation {
    pr_diag *diag;
    pr_status status; /* the first failure */
    kept kept;
} derivation;

static void fail(derivation *d, pr_status status, const char *what)
{
    if (status == PR_OK)
        return;
    if (d->status == PR_OK)
        d->status = status;
    if (d->diag != NULL)
        pr_diag_add(d->diag, PR_ERROR, NOWHERE, "%s: %s", what, pr_status_text(status));
}

static void require(derivation *d, bool holds, const char *what)
{
    if (holds)
        return;
    if (d->status == PR_OK)
        d->status = PR_ERR_RANGE;
    if (d->diag != NULL)
        pr_diag_add(d->diag, PR_ERROR, NOWHERE, "%s", what);
}

static bool within(double x, double low, double high)
{
    return x >= low && x <= high; /* false for NaN */
}

static bool post_exists(const pr_system_def *def, pr_post post)
{
    return (int)post >= 0 && (int)post < def->n_batteries;
}

static void check_topology(derivation *d, const pr_system_def *def)
{
    require(d, within(def->ambient_degC, -60.0, 70.0), "ambient: must be -60..70 degC");
    require(d, within(def->engine_space_rise_K, 0.0, 80.0), "engine space: must be 0..80 K warmer");
    require(d, def->n_batteries == 1 || def->n_batteries == 2, "batteries: must be one or two");
    require(d, post_exists(def, def->starter_post), "starter: its battery does not exist");
    require(d, !def->has_alternator || post_exists(def, def->alternator_post),
            "alternator: its battery does not exist");
    require(d, !def->has_winch || post_exists(def, def->winch_post),
            "winch: its battery does not exist");
    require(d, def->link.kind == PR_LINK_NONE || def->n_batteries == 2,
            "link: needs a second battery");
    require(d, def->n_loads >= 0 && def->n_loads <= PR_LOADS_MAX, "loads: too many");
    require(d,
            within(def->idle_rpm, 100.0, 10000.0) && within(def->fast_idle_rpm, 100.0, 10000.0) &&
                within(def->max_rpm, 100.0, 10000.0),
            "engine: speeds must be 100..10000 rpm");
    for (int p = 0; p < def->n_batteries && p < PR_POSTS; p++) {
        require(d, within(def->start_soc_frac[p], 0.0, 1.0), "battery: start charge must be 0..1");
        require(
            d, isnan(def->start_battery_degC[p]) || within(def->start_battery_degC[p], -60.0, 80.0),
            "battery: start temperature must be -60..80 degC");
        if (def->has_cutoff[p]) {
            const pr_cutoff_def *c = &def->cutoff[p];
            require(d,
                    within(c->off_V, 1.0, 16.0) && within(c->on_V, c->off_V, 16.0) &&
                        within(c->off_delay_s, 0.0, 1e5) && within(c->on_delay_s, 0.0, 1e5),
                    "cut-off: voltages or delays out of range");
        }
    }
}

static void check_work(derivation *d, const pr_system_def *def)
{
    if (def->work == PR_WORK_DEMAND) {
        if (def->has_winch)
            fail(d, pr_demand_check(&def->demand), "recovery");
        return;
    }
    if (def->n_profile == 0) {
        require(d, within(def->pull_A, 0.0, 2000.0), "pull current: must be 0..2000 A");
        return;
    }
    bool sound = def->n_profile >= 2 && def->profile_s != NULL && def->profile_A != NULL;
    for (int i = 0; sound && i < def->n_profile; i++)
        sound = within(def->profile_A[i], 0.0, 2000.0) && isfinite(def->profile_s[i]) &&
                (i == 0 || def->profile_s[i] > def->profile_s[i - 1]);
    require(d, sound, "pull profile: times must rise, amps must be 0..2000");
}

/* A load that draws more the lower its voltage, behind a wire: below a certain resistance it finds
 * its voltage from any start, above it there are two voltages or none. The law is steepest where it
 * ends. */
static void check_load_wires(derivation *d, const pr_system_def *def, const pr_system *system)
{
    for (int k = 0; k < def->n_loads && k < PR_LOADS_MAX; k++) {
        const pr_load_def *load = &system->load[k].def;
        const int run = PR_RUN_FIRST_LOAD + k;
        if (!def->run[run].present || !(load->exponent < 0.0))
            continue;
        const double ohm = pr_wire_resistance_ohm(&system->wire[run], HOT_WIRE_degC);
        const double slope_S = load->inrush_factor * system->load[k].i0_A * -load->exponent *
                               pow(PR_LOAD_LOW_FRAC, load->exponent - 1.0) / load->reference_V;
        if (ohm * slope_S < WIRE_SLOPE_MAX)
            continue;
        char what[PR_NAME_MAX + 80];
        snprintf(what, sizeof what, "load '%.63s': its wire is too thin for it to start",
                 def->load[k].name);
        require(d, false, what);
    }
}

static void derive_batteries(derivation *d, const pr_system_def *def, pr_system *system)
{
    static const char *const names[PR_POSTS] = {"battery", "second battery"};
    for (int p = 0; p < def->n_batteries && p < PR_POSTS; p++)
        if (!d->kept.battery[p])
            fail(d, pr_battery_derive(&def->battery[p], &system->battery[p]), names[p]);
}

/* The same about something of a load's; the name is put together only when it is needed. */
static void fail_load(derivation *d, pr_status status, const char *what, const pr_named_load *load)
{
    char text[PR_NAME_MAX + 32];
    if (status == PR_OK)
        return;
    snprintf(text, sizeof text, "%s '%.63s'", what, load->name);
    fail(d, status, text);
}

static void fail_run(derivation *d, pr_status status, const pr_system_def *def, int run)
{
    static const char *const names[PR_RUN_FIRST_LOAD] = {
        "alternator cable", "winch cable", "fuse box cable", "second fuse box cable", "link cable"};
    if (run < PR_RUN_FIRST_LOAD)
        fail(d, status, names[run]);
    else
        fail_load(d, status, "wire of load", &def->load[run - PR_RUN_FIRST_LOAD]);
}

static void derive_runs(derivation *d, const pr_system_def *def, pr_system *system)
{
    for (int r = 0; r < PR_RUNS_MAX && r < PR_RUN_FIRST_LOAD + def->n_loads; r++) {
        const pr_wire_slot *slot = &def->run[r];
        if (slot->present && !d->kept.wire[r])
            fail_run(d, pr_wire_derive(&slot->def, &system->wire[r]), def, r);
        if (slot->has_fuse && !d->kept.fuse[r])
            fail_run(d, pr_fuse_derive(&slot->fuse, &system->fuse[r]), def, r);
    }
}

static void derive_loads(derivation *d, const pr_system_def *def, pr_system *system)
{
    for (int k = 0; k < def->n_loads && k < PR_LOADS_MAX; k++) {
        const pr_named_load *load = &def->load[k];
        if (!d->kept.load[k])
            fail_load(d, pr_load_derive(&load->def, &system->load[k]), "load", load);
        if (!post_exists(def, load->post))
            fail_load(d, PR_ERR_RANGE, "load", load);
    }
}

static void derive_winch(derivation *d, const pr_system_def *def, pr_system *system)
{
    if (!def->has_winch)
        return;
    if (!d->kept.motor)
        fail(d, pr_motor_derive(&def->motor, &system->motor), "winch motor");
    if (!d->kept.drum)
        fail(d, pr_drum_derive(&def->drum, &system->drum), "winch drum");
    fail(d, pr_rig_check(&def->rig), "rigging");
    require(d, isnan(def->rope_out_m) || within(def->rope_out_m, 0.0, 1e4),
            "rope out: must be 0..10000 m");
    require(d, isnan(def->anchor_distance_m) || within(def->anchor_distance_m, 0.0, 1e4),
            "anchor: distance must be 0..10000 m");
}

static double wire_rate(const pr_wire *wire, double i_A, double T_degC, double ambient_degC)
{
    const pr_wire_state state = {.T_degC = T_degC};
    pr_wire_state rates;
    pr_wire_rates(wire, &state, i_A, ambient_degC, &rates);
    return rates.T_degC;
}

/* The law of a wire is straight in i^2, T and the air around it: a few values tell all of it. The
 * air of the engine space stays warmer by the same amount when the engine is off for a while. */
static pr_wire_line find_wire_line(const pr_system_def *def, const pr_wire *wire)
{
    pr_wire_line line;
    line.c = wire_rate(wire, 0.0, 0.0, 0.0);
    line.g = wire_rate(wire, 0.0, 0.0, 1.0) - line.c;
    line.a = wire_rate(wire, 1.0, 0.0, 0.0) - line.c;
    line.b = wire_rate(wire, 1.0, 1.0, 0.0) - (line.a + line.c - line.g);
    if (wire->def.engine_space)
        line.c += line.g * def->engine_space_rise_K;
    return line;
}

/* Taylor polynomials of V^a about the middle of every cell. */
static void expand_power(double exponent, double coefficient[][PR_POWER_ORDER + 1])
{
    for (int cell = 0; cell < PR_POWER_CELLS; cell++) {
        const double middle_V = PR_POWER_LOW_V + PR_POWER_CELL_V * (cell + 0.5);
        double c = pow(middle_V, exponent);
        for (int k = 0; k <= PR_POWER_ORDER; k++) {
            coefficient[cell][k] = c;
            c *= (exponent - k) / ((k + 1) * middle_V);
        }
    }
}

/* Exponents that the table has already stay in it. */
static void tabulate_powers(const pr_system_def *def, pr_power_table *table)
{
    for (int k = 0; k < def->n_loads; k++) {
        const double a = def->load[k].def.exponent;
        int i = 0;
        while (i < table->n && table->exponent[i] != a)
            i++;
        if (i == table->n && i < PR_POWERS_MAX) {
            table->exponent[i] = a;
            expand_power(a, table->coefficient[i]);
            table->n++;
        }
        table->of_load[k] = i < table->n ? i : -1;
    }
}

void pr_system_sort_loads(pr_system *system)
{
    pr_load_sets *sets = &system->loads;
    *sets = (pr_load_sets){0};
    for (int k = 0; k < system->def.n_loads; k++) {
        const pr_named_load *named = &system->def.load[k];
        const pr_load_def *d = &system->load[k].def;
        const pr_load_set one = pr_set_of(k);
        sets->at_post[named->post] |= one;
        sets->behind_cutoff |= named->behind_cutoff ? one : 0;
        sets->stops_engine |= d->stops_engine ? one : 0;
        sets->duty |= d->cycling == PR_CYCLE_DUTY ? one : 0;
        sets->thermostat |= d->cycling == PR_CYCLE_THERMOSTAT ? one : 0;
        const bool wired = system->def.run[PR_RUN_FIRST_LOAD + k].present;
        sets->fed_apart |= wired || d->wire_ohm > 0.0 ? one : 0;
        sets->inrush |= d->inrush_factor > 1.0 ? one : 0;
        for (int i = 0; i < 8; i++)
            if (pr_load_wanted(&system->load[k], i & 4, i & 2, i & 1))
                sets->wanted[i >> 2 & 1][i >> 1 & 1][i & 1] |= one;
    }
}

static int take(int *next, int n)
{
    const int first = *next;
    *next += n;
    return first;
}

/* Where each component's numbers lie in the state vector; see the head of this file. */
static void lay_out(const pr_system_def *def, pr_system *system)
{
    int next = 0;
    struct pr_layout *at = &system->at;
    for (int p = 0; p < PR_POSTS; p++)
        at->battery[p] = take(&next, p < def->n_batteries ? 4 : 0);
    at->alternator = take(&next, def->has_alternator ? 2 : 0);
    at->motor = take(&next, def->has_winch ? 2 : 0);
    at->travel = take(&next, def->has_winch ? 1 : 0);
    at->thermostat = next;
    for (int k = 0; k < def->n_loads; k++)
        if (def->load[k].def.cycling == PR_CYCLE_THERMOSTAT)
            at->thermostat_load[at->n_thermostats++] = k;
    next += at->n_thermostats;
    at->wire = next;
    for (int r = 0; r < PR_RUN_FIRST_LOAD + def->n_loads; r++)
        if (def->run[r].present)
            at->wire_run[at->n_wires++] = r;
    next += at->n_wires;
    at->fuse = next;
    for (int r = 0; r < PR_RUN_FIRST_LOAD + def->n_loads; r++)
        if (def->run[r].has_fuse)
            at->fuse_run[at->n_fuses++] = r;
    next += at->n_fuses;
    at->ledger = next;
    system->n_states = next + PR_LEDGER_COUNT;
}

/* The runs that exist in this topology; a cable whose ends do not exist carries nothing. */
static void drop_idle_runs(pr_system_def *def)
{
    if (!def->has_alternator)
        def->run[PR_RUN_ALTERNATOR] = (pr_wire_slot){0};
    if (!def->has_winch && def->work == PR_WORK_DEMAND)
        def->run[PR_RUN_WINCH] = (pr_wire_slot){0};
    if (def->n_batteries < 2) {
        def->run[PR_RUN_LOADS_SECOND] = (pr_wire_slot){0};
        def->run[PR_RUN_LINK] = (pr_wire_slot){0};
    }
    if (def->link.kind == PR_LINK_NONE)
        def->run[PR_RUN_LINK] = (pr_wire_slot){0};
}

static pr_status derive(derivation *d, const pr_system_def *given, pr_system *system)
{
    system->def = *given;
    check_topology(d, given);
    if (d->status != PR_OK)
        return d->status;
    drop_idle_runs(&system->def);
    const pr_system_def *def = &system->def;
    check_work(d, def);
    derive_batteries(d, def, system);
    if (def->has_alternator && !d->kept.alternator)
        fail(d, pr_alternator_derive(&def->alternator, &system->alternator), "alternator");
    derive_loads(d, def, system);
    derive_runs(d, def, system);
    if (def->link.kind != PR_LINK_NONE && !d->kept.link)
        fail(d, pr_link_derive(&def->link, &system->link), "link between the batteries");
    derive_winch(d, def, system);
    if (d->status == PR_OK)
        check_load_wires(d, def, system);
    if (d->status != PR_OK)
        return d->status;
    system->at = (struct pr_layout){0};
    lay_out(def, system);
    for (int i = 0; i < system->at.n_wires; i++)
        system->wire_line[i] = find_wire_line(def, &system->wire[system->at.wire_run[i]]);
    tabulate_powers(def, &system->powers);
    pr_system_sort_loads(system);
    for (int k = 0; k < def->n_loads; k++) {
        const pr_load *load = &system->load[k];
        system->load_scale[k] = load->i0_A * pow(load->def.reference_V, -load->def.exponent);
    }
    return PR_OK;
}

pr_status pr_system_derive(const pr_system_def *def, pr_system *system, pr_diag *diag)
{
    if (def == NULL || system == NULL || def->cookie != PR_DEF_COOKIE)
        return PR_ERR_INTERNAL;
    memset(system, 0, sizeof *system);
    derivation d = {.diag = diag, .status = PR_OK};
    return derive(&d, def, system);
}

static bool same(const void *a, const void *b, size_t size)
{
    return memcmp(a, b, size) == 0;
}

/* What was derived from one description and holds for another. */
static kept find_kept(const pr_system_def *was, const pr_system_def *is)
{
    kept k = {.alternator = was->has_alternator &&
                            same(&was->alternator, &is->alternator, sizeof is->alternator),
              .link =
                  was->link.kind != PR_LINK_NONE && same(&was->link, &is->link, sizeof is->link),
              .motor = was->has_winch && same(&was->motor, &is->motor, sizeof is->motor),
              .drum = was->has_winch && same(&was->drum, &is->drum, sizeof is->drum)};
    for (int p = 0; p < was->n_batteries; p++)
        k.battery[p] = same(&was->battery[p], &is->battery[p], sizeof is->battery[p]);
    for (int i = 0; i < was->n_loads; i++)
        k.load[i] = same(&was->load[i].def, &is->load[i].def, sizeof is->load[i].def);
    for (int r = 0; r < PR_RUN_FIRST_LOAD + was->n_loads; r++) {
        const pr_wire_slot *a = &was->run[r], *b = &is->run[r];
        k.wire[r] = a->present && same(&a->def, &b->def, sizeof b->def);
        k.fuse[r] = a->has_fuse && same(&a->fuse, &b->fuse, sizeof b->fuse);
    }
    return k;
}

pr_status pr_system_derive_again(const pr_system_def *def, pr_system *system)
{
    if (def == NULL || system == NULL || def->cookie != PR_DEF_COOKIE)
        return PR_ERR_INTERNAL;
    derivation d = {.status = PR_OK, .kept = find_kept(&system->def, def)};
    if (system->powers.n + def->n_loads > PR_POWERS_MAX)
        system->powers.n = 0; /* room for all that may be new */
    return derive(&d, def, system);
}
