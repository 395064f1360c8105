/* Voltmeter readings by simulation; see readings.h.
 *
 * Each reading is taken from a run of its own that starts with a rested battery at the file's
 * charge and temperature:
 *     off_rested      engine off, all loads off: battery posts
 *     cranking        1 s into cranking: battery posts
 *     idle, fast idle 60 s after the start, everything off that does not keep the engine alive, or
 *                     all loads on at once: fuse box; all on at fast idle: posts and alternator too
 *     in_pull         5 s into a pull at fast idle with the loads that are on in pulls, or when it
 *                     ends before: a winch that stalls at once shows that
 *     after_pull      so many seconds after a pull of 30 s, or as long as it lasts; fast idle
 *
 * Faults: belt slips by a third; no output; one of six diodes open, which costs about a third of
 * the output (m); regulator 0.8 V high or low; 20 mohm in a run; battery with half its capacity and
 * twice its resistance; battery half charged.
 *
 * Tolerances (two standard deviations): set voltage 0.2 V, charge 10 points, loads 10 %,
 * temperature of air and battery 5 K; meter 0.15 V. Their effects are found by simulating each up
 * and down, and add as squares. All of them are our choice; common practice, no source. */
#include "planner/readings.h"

#include "base/number.h"
#include "planner/job.h"
#include "planner/readings_fit.h"

#include <math.h>
#include <stdlib.h>

static const double SETTLE_s = 60.0, CRANK_s = 1.0, EARLY_PULL_s = 5.0, PULL_s = 30.0;
static const double SLIP_FRAC = 1.0 / 3.0, DIODE_FACTOR = 0.67, REGULATOR_V = 0.8;
static const double JOINT_OHM = 0.020, HALF_FRAC = 0.5;
static const double TOLERANCE[PR_VARY_COUNT] = {
    [PR_VARY_SET_V] = 0.2,       /* V */
    [PR_VARY_CHARGE] = 0.10,     /* of full */
    [PR_VARY_LOADS] = 0.10,      /* of the amps */
    [PR_VARY_TEMPERATURE] = 5.0, /* K */
};

static const struct {
    const char *key, *words;
} reading_names[PR_READING_COUNT] = {
    [PR_READING_OFF_RESTED] = {"off_rested", "engine off, rested: battery"},
    [PR_READING_CRANKING] = {"cranking", "cranking: battery"},
    [PR_READING_IDLE_LOADS_OFF] = {"idle_loads_off", "idle, loads off: fuse box"},
    [PR_READING_FAST_IDLE_LOADS_OFF] = {"fast_idle_loads_off", "fast idle, loads off: fuse box"},
    [PR_READING_IDLE_ALL_ON] = {"idle_all_on", "idle, all on: fuse box"},
    [PR_READING_FAST_IDLE_ALL_ON] = {"fast_idle_all_on", "fast idle, all on: fuse box"},
    [PR_READING_ALL_ON_BATTERY] = {"all_on_battery", "fast idle, all on: battery"},
    [PR_READING_ALL_ON_ALTERNATOR] = {"all_on_alternator", "fast idle, all on: alternator"},
    [PR_READING_IN_PULL] = {"in_pull", "5 s into a pull: fuse box"},
    [PR_READING_IN_PULL_WINCH] = {"in_pull_winch", "5 s into a pull: winch motor"},
    [PR_READING_AFTER_PULL] = {"after_pull", "soon after a pull: fuse box"},
};

static const struct {
    const char *key, *words;
} fault_names[PR_FAULT_COUNT] = {
    [PR_FAULT_NONE] = {"healthy", "healthy"},
    [PR_FAULT_BELT_SLIPS] = {"belt_slips", "belt slipping by a third"},
    [PR_FAULT_ALTERNATOR_DEAD] = {"alternator_dead", "alternator dead"},
    [PR_FAULT_DIODE_LOST] = {"diode_lost", "one diode lost"},
    [PR_FAULT_REGULATOR_HIGH] = {"regulator_high", "regulator 0.8 V high"},
    [PR_FAULT_REGULATOR_LOW] = {"regulator_low", "regulator 0.8 V low"},
    [PR_FAULT_JOINT_ALTERNATOR] = {"joint_alternator", "bad joint, alternator to battery"},
    [PR_FAULT_JOINT_BOX] = {"joint_box", "bad joint, battery to fuse box"},
    [PR_FAULT_JOINT_WINCH] = {"joint_winch", "bad joint, battery to winch"},
    [PR_FAULT_JOINT_LINK] = {"joint_link", "bad joint, battery to battery"},
    [PR_FAULT_WEAK_BATTERY] = {"weak_battery", "weak battery"},
    [PR_FAULT_HALF_CHARGED] = {"half_charged", "battery half charged"},
};

const char *pr_reading_key(pr_reading reading)
{
    return (unsigned)reading < PR_READING_COUNT ? reading_names[reading].key : "none";
}

const char *pr_reading_words(pr_reading reading)
{
    return (unsigned)reading < PR_READING_COUNT ? reading_names[reading].words : "none";
}

const char *pr_fault_key(pr_rig_fault fault)
{
    return (unsigned)fault < PR_FAULT_COUNT ? fault_names[fault].key : "none";
}

const char *pr_fault_words(pr_rig_fault fault)
{
    return (unsigned)fault < PR_FAULT_COUNT ? fault_names[fault].words : "none";
}

/* ---- faults and tolerances as changes of the description */

/* A run that the file leaves out gets a short thick cable, so that its joint can go bad. */
static void spoil_joint(pr_wire_slot *slot)
{
    if (!slot->present) {
        slot->present = true;
        slot->def = pr_wire_def_default();
        slot->def.gauge_kind = PR_GAUGE_MM2;
        slot->def.gauge = 50.0;
        slot->def.length_m = 0.1;
        slot->def.joints = 0;
    }
    slot->def.extra_ohm += JOINT_OHM;
}

static bool is_possible(const pr_system_def *def, pr_rig_fault fault)
{
    switch (fault) {
    case PR_FAULT_BELT_SLIPS:
    case PR_FAULT_ALTERNATOR_DEAD:
    case PR_FAULT_DIODE_LOST:
    case PR_FAULT_REGULATOR_HIGH:
    case PR_FAULT_REGULATOR_LOW:
    case PR_FAULT_JOINT_ALTERNATOR:
        return def->has_alternator;
    case PR_FAULT_JOINT_WINCH:
        return def->has_winch;
    case PR_FAULT_JOINT_LINK:
        return def->n_batteries > 1 && def->link.kind != PR_LINK_NONE;
    default:
        return true;
    }
}

static void spoil(pr_system_def *def, pr_rig_fault fault)
{
    const pr_post post = def->starter_post;
    pr_alternator_def *a = &def->alternator;
    switch (fault) {
    case PR_FAULT_BELT_SLIPS:
        a->belt_slip_frac = 1.0 - (1.0 - a->belt_slip_frac) * (1.0 - SLIP_FRAC);
        break;
    case PR_FAULT_ALTERNATOR_DEAD:
        a->belt_slip_frac = 1.0;
        break;
    case PR_FAULT_DIODE_LOST:
        a->output_factor *= DIODE_FACTOR;
        break;
    case PR_FAULT_REGULATOR_HIGH:
        a->set_V += REGULATOR_V;
        break;
    case PR_FAULT_REGULATOR_LOW:
        a->set_V -= REGULATOR_V;
        break;
    case PR_FAULT_JOINT_ALTERNATOR:
        spoil_joint(&def->run[PR_RUN_ALTERNATOR]);
        break;
    case PR_FAULT_JOINT_BOX:
        spoil_joint(&def->run[PR_RUN_LOADS]);
        break;
    case PR_FAULT_JOINT_WINCH:
        spoil_joint(&def->run[PR_RUN_WINCH]);
        break;
    case PR_FAULT_JOINT_LINK:
        spoil_joint(&def->run[PR_RUN_LINK]);
        break;
    case PR_FAULT_WEAK_BATTERY:
        def->battery[post].health_capacity_frac =
            fmax(0.1, HALF_FRAC * def->battery[post].health_capacity_frac);
        def->battery[post].health_resistance_factor =
            fmin(5.0, 2.0 * def->battery[post].health_resistance_factor);
        break;
    case PR_FAULT_HALF_CHARGED:
        def->start_soc_frac[post] = HALF_FRAC;
        break;
    default:
        break;
    }
}

/* Changes one thing by its tolerance, up (sign 1) or down (-1). False: there is no room. */
static bool vary(pr_system_def *def, pr_spread_of_rig which, double sign)
{
    const double by = sign * TOLERANCE[which];
    double *soc_frac = &def->start_soc_frac[def->starter_post];
    switch (which) {
    case PR_VARY_SET_V:
        def->alternator.set_V += by;
        return def->has_alternator;
    case PR_VARY_CHARGE:
        *soc_frac += by;
        return *soc_frac <= 1.0 && *soc_frac >= 0.0;
    case PR_VARY_LOADS:
        for (int k = 0; k < def->n_loads; k++) {
            def->load[k].def.amps_A *= 1.0 + by; /* NaN stays NaN */
            def->load[k].def.watts_W *= 1.0 + by;
        }
        return true;
    case PR_VARY_TEMPERATURE:
        def->ambient_degC += by;
        for (int p = 0; p < PR_POSTS; p++)
            def->start_battery_degC[p] += by;
        return true;
    case PR_VARY_COUNT:
        break;
    }
    return false;
}

/* ---- the readings of one rig */

typedef struct reader {
    pr_job job;
    pr_scenario *scenario;               /* changed copy */
    unsigned long engine_only, in_pulls; /* masks: loads to switch off by hand */
    pr_run_options options;
    pr_limits none;
    double after_pull_s;
} reader;

/* All loads are on unless a mask takes them off; none cycles. */
static void free_the_loads(reader *r, const pr_system_def *as_given)
{
    pr_system_def *def = &r->scenario->system;
    r->engine_only = r->in_pulls = 0;
    for (int k = 0; k < def->n_loads; k++) {
        const pr_load_def *given = &as_given->load[k].def;
        pr_load_def *load = &def->load[k].def;
        const unsigned running = PR_WHEN_ALWAYS | PR_WHEN_ENGINE;
        if (!given->stops_engine)
            r->engine_only |= 1UL << k;
        if ((given->when & (running | PR_WHEN_PULLING)) == 0)
            r->in_pulls |= 1UL << k;
        load->when = PR_WHEN_ALWAYS;
        load->cycling = PR_CYCLE_NONE;
    }
}

static pr_status run_phase(reader *r, pr_sim *sim, pr_activity activity, double rpm,
                           double duration_s, unsigned long off, pr_phase_end *end)
{
    const pr_phase phase = {.activity = activity,
                            .engine_rpm = rpm,
                            .duration_s = duration_s,
                            .stop_travel_m = PR_NAN,
                            .load_off_mask_lo = off};
    return pr_sim_run(r->job.system, sim, &phase, &r->none, &r->options, NULL, end);
}

static pr_status read_start(reader *r, double V[])
{
    const pr_post post = r->job.system->def.starter_post;
    pr_phase_end end;
    pr_sim sim = r->job.start;
    pr_status status = run_phase(r, &sim, PR_ENGINE_OFF, 0.0, CRANK_s, ~0UL, &end);
    V[PR_READING_OFF_RESTED] = end.last.post_V[post];
    sim = r->job.start;
    if (status == PR_OK)
        status = run_phase(r, &sim, PR_CRANK, 0.0, CRANK_s, r->engine_only, &end);
    V[PR_READING_CRANKING] = end.last.post_V[post];
    return status;
}

static pr_status read_running(reader *r, double V[])
{
    const pr_system_def *def = &r->job.system->def;
    const struct {
        pr_reading reading;
        double rpm;
        unsigned long off;
    } rows[] = {{PR_READING_IDLE_LOADS_OFF, def->idle_rpm, r->engine_only},
                {PR_READING_FAST_IDLE_LOADS_OFF, def->fast_idle_rpm, r->engine_only},
                {PR_READING_IDLE_ALL_ON, def->idle_rpm, 0},
                {PR_READING_FAST_IDLE_ALL_ON, def->fast_idle_rpm, 0}};
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        pr_sim sim = r->job.start;
        pr_phase_end end;
        const pr_status status =
            run_phase(r, &sim, PR_REST, rows[i].rpm, SETTLE_s, rows[i].off, &end);
        if (status != PR_OK)
            return status;
        V[rows[i].reading] = end.last.box_V[PR_POST_MAIN];
        if (rows[i].reading == PR_READING_FAST_IDLE_ALL_ON) {
            V[PR_READING_ALL_ON_BATTERY] = end.last.post_V[def->starter_post];
            if (def->has_alternator)
                V[PR_READING_ALL_ON_ALTERNATOR] = end.last.alternator_V;
        }
    }
    return PR_OK;
}

static pr_status read_pull(reader *r, double V[])
{
    const pr_system_def *def = &r->job.system->def;
    pr_sim sim = r->job.start;
    pr_phase_end end;
    pr_status status =
        run_phase(r, &sim, PR_PULL, def->fast_idle_rpm, EARLY_PULL_s, r->in_pulls, &end);
    if (status != PR_OK)
        return status;
    V[PR_READING_IN_PULL] = end.last.box_V[PR_POST_MAIN];
    V[PR_READING_IN_PULL_WINCH] = end.last.winch_V;
    if (end.stop == PR_STOP_TIME)
        status = run_phase(r, &sim, PR_PULL, def->fast_idle_rpm, PULL_s - EARLY_PULL_s, r->in_pulls,
                           &end);
    if (status == PR_OK)
        status =
            run_phase(r, &sim, PR_REST, def->fast_idle_rpm, r->after_pull_s, r->in_pulls, &end);
    if (status == PR_OK)
        V[PR_READING_AFTER_PULL] = end.last.box_V[PR_POST_MAIN];
    return status;
}

static pr_status read_rig(reader *r, double V[PR_READING_COUNT], pr_diag *diag)
{
    r->scenario->plan.pulls = 1; /* no goal is needed */
    if (r->scenario->no_recovery && diag != NULL)
        pr_diag_add(diag, PR_NOTE, (pr_place){r->scenario->path, 0, 0},
                    "no recovery in this file: the pull is one at the winch's rated %.0f A",
                    r->scenario->system.pull_A);
    r->scenario->no_recovery = false;
    pr_status status = pr_job_open(r->scenario, &r->job, diag);
    const pr_system_def *def = &r->scenario->system;
    const bool pulls = def->has_winch || def->work == PR_WORK_CURRENT;
    if (status == PR_OK && def->has_winch) {
        const int needed = pr_job_parts_needed(&r->job, def->demand_case);
        const int parts = r->scenario->plan.parts > 0 ? r->scenario->plan.parts
                          : needed > 0                ? needed
                                                      : r->scenario->plan.blocks + 1;
        status = pr_job_rig(&r->job, parts, def->demand_case);
    }
    if (status == PR_OK) {
        r->none = pr_limits_default(r->job.system);
        for (int i = 0; i < PR_LIMIT_COUNT; i++)
            r->none.on[i] = false;
        status = read_start(r, V);
    }
    if (status == PR_OK)
        status = read_running(r, V);
    if (status == PR_OK && pulls)
        status = read_pull(r, V);
    pr_job_close(&r->job);
    return status;
}

/* The readings with a fault and, unless sign is 0, with one thing varied. */
static pr_status read_changed(const pr_scenario *scenario, pr_rig_fault fault,
                              pr_spread_of_rig varied, double sign, reader *r, double V[],
                              pr_diag *diag)
{
    *r->scenario = *scenario; /* borrows what the scenario owns */
    for (int i = 0; i < PR_READING_COUNT; i++)
        V[i] = PR_NAN;
    spoil(&r->scenario->system, fault);
    if ((sign > 0.0 || sign < 0.0) && !vary(&r->scenario->system, varied, sign))
        return PR_OK; /* no room that way: nothing to read */
    free_the_loads(r, &scenario->system);
    return read_rig(r, V, diag);
}

/* The larger of the changes up and down counts: near the point where the alternator is just full
 * they differ much. */
static pr_status read_fault(const pr_scenario *scenario, pr_rig_fault fault, reader *r,
                            pr_fault_readings *out, pr_diag *diag)
{
    double V[PR_READING_COUNT], other_V[PR_READING_COUNT];
    out->possible = true;
    pr_status status = read_changed(scenario, fault, PR_VARY_COUNT, 0.0, r, V, diag);
    for (int i = 0; i < PR_READING_COUNT; i++)
        out->at[i] = (pr_reading_band){.V = V[i]};
    for (int v = 0; v < PR_VARY_COUNT; v++)
        for (double sign = 1.0; sign >= -1.0 && status == PR_OK; sign -= 2.0) {
            status = read_changed(scenario, fault, (pr_spread_of_rig)v, sign, r, other_V, diag);
            for (int i = 0; i < PR_READING_COUNT && status == PR_OK; i++) {
                const double change_V = sign * (other_V[i] - V[i]);
                pr_reading_band *at = &out->at[i];
                if (fabs(change_V) > fabs(at->vary_V[v])) /* never with NaN */
                    at->vary_V[v] = change_V;
                at->up_V[v] = fmax(at->up_V[v], other_V[i] - V[i]); /* ignores NaN */
                at->down_V[v] = fmax(at->down_V[v], V[i] - other_V[i]);
            }
        }
    for (int i = 0; i < PR_READING_COUNT; i++)
        pr_readings_set_band(&out->at[i]);
    return status;
}

pr_status pr_readings_make(const pr_scenario *scenario, double after_pull_s, pr_readings *readings,
                           pr_diag *diag)
{
    *readings = (pr_readings){.after_pull_s = after_pull_s, .pull_s = PULL_s};
    if (!(after_pull_s >= 1.0 && after_pull_s <= 600.0))
        return PR_ERR_RANGE;
    reader *r = calloc(1, sizeof *r);
    pr_scenario *changed = malloc(sizeof *changed);
    pr_status status = r != NULL && changed != NULL ? PR_OK : PR_ERR_NOMEM;
    if (status == PR_OK) {
        r->scenario = changed;
        r->options = pr_run_options_default();
        r->after_pull_s = after_pull_s;
    }
    for (int f = 0; f < PR_FAULT_COUNT && status == PR_OK; f++)
        if (is_possible(&scenario->system, (pr_rig_fault)f))
            status = read_fault(scenario, (pr_rig_fault)f, r, &readings->fault[f],
                                f == PR_FAULT_NONE ? diag : NULL);
    free(changed);
    free(r);
    if (status == PR_OK)
        pr_readings_pair(readings);
    return status;
}
