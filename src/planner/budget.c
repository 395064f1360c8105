/* Loads against the alternator; see budget.h. The engine of the simulator solves every bus.
 *
 * Situation: its loads are on all the time, none of the others; the battery starts at the file's
 * charge, at the situation's temperature. Loads that cycle (flashers, thermostats) count with their
 * full current in load and margin, and with their average in the average margin and over time:
 *     average = amps x duty;    thermostat: duty = warming / (warming + cooling rate)
 * Cold: winding as cold as the air. Hot: the temperature at which the winding stays with this very
 * output, dT/dt = 0 (a root, because output falls as it heats). The margin is available amps less
 * loads: what the battery takes comes on top and fades, so it is shown beside and not counted.
 *
 * A relay or charger between two batteries counts as closed where it would close and stay closed.
 *
 * Over time: an hour is simulated for charge and for the share of time at full output; when the
 * batteries still lose then, up to a day, until a load that keeps the engine alive drops out (else
 * the fuse box falls to 10.5 V: our choice). The moment from which on the engine, stopped, could
 * not be cranked again comes earlier, and is kept.
 *
 * Rating: the least usual size that has a quarter more than the largest load (20-25 % is common
 * practice, no source) and carries every situation hot at idle. Sizes scale the whole curve. */
#include "planner/budget.h"

#include "base/number.h"
#include "base/root.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

static const double HOUR_s = 3600.0, DAY_s = 86400.0, LIMP_MOST_s = 4.0 * 86400.0;
static const double HEADROOM = 1.25, STOP_V = 10.5;

/* Everything that a situation is solved with. */
typedef struct bench {
    const pr_scenario *scenario;
    pr_system base;    /* derived once, nothing cycles */
    pr_system peak;    /* of the present situation: all of it on */
    pr_system average; /* the same, loads that cycle at their average */
    double most_run_A[PR_RUNS_MAX];
} bench;

static double duty_of(const pr_load_def *load)
{
    if (load->cycling == PR_CYCLE_DUTY)
        return load->duty_frac;
    const double both = load->warming_K_per_s + load->cooling_K_per_s;
    if (load->cycling == PR_CYCLE_THERMOSTAT && both > 0.0)
        return load->warming_K_per_s / both;
    return 1.0;
}

static pr_status open_bench(const pr_scenario *scenario, bench *b, pr_diag *diag)
{
    pr_system_def *def = malloc(sizeof *def);
    if (def == NULL)
        return PR_ERR_NOMEM;
    *def = scenario->system;
    for (int k = 0; k < def->n_loads; k++)
        def->load[k].def.cycling = PR_CYCLE_NONE;
    b->scenario = scenario;
    const pr_status status = pr_system_derive(def, &b->base, diag);
    free(def);
    return status;
}

/* A derived system with these loads on, in this air; `average`: loads that cycle count less. */
static pr_status set_loads(const bench *b, const bool on[], double ambient_degC, bool average,
                           pr_system *system)
{
    *system = b->base;
    pr_system_def *def = &system->def;
    if (ambient_degC < def->ambient_degC || ambient_degC > def->ambient_degC)
        for (int p = 0; p < PR_POSTS; p++)
            def->start_battery_degC[p] = PR_NAN; /* as cold as the situation */
    def->ambient_degC = ambient_degC;
    for (int k = 0; k < def->n_loads; k++) {
        pr_load_def *load = &def->load[k].def;
        const double share = average ? duty_of(&b->scenario->system.load[k].def) : 1.0;
        load->when = on[k] ? PR_WHEN_ALWAYS : PR_WHEN_NEVER;
        load->amps_A *= share; /* NaN stays NaN */
        load->watts_W *= share;
        const pr_status status = pr_load_derive(load, &system->load[k]);
        if (status != PR_OK)
            return status;
        system->load_scale[k] *= share; /* what the network sums by */
    }
    pr_system_sort_loads(system);
    return PR_OK;
}

/* ---- steady states */

typedef struct winding_search {
    const pr_system *system;
    pr_sim sim;
    pr_outputs outputs;
    pr_status status;
} winding_search;

static double winding_rate(double winding_degC, void *context)
{
    winding_search *w = context;
    const pr_system *system = w->system;
    w->sim.y[system->at.alternator] = winding_degC;
    w->status = pr_sim_outputs(system, &w->sim, PR_REST, &w->outputs);
    if (w->status != PR_OK)
        return PR_NAN;
    const pr_alternator_state state = {winding_degC, system->def.alternator.rated_A};
    pr_alternator_state rates;
    pr_alternator_branch branch;
    pr_alternator_branch_at(&system->alternator, &state, w->sim.engine_rpm, true,
                            system->def.ambient_degC, &branch);
    pr_alternator_rates(&system->alternator, &state, &branch, w->outputs.alternator_A,
                        w->outputs.limited, system->def.ambient_degC, &rates);
    return rates.winding_degC;
}

/* Loads have been on for long: what they take when switched on is over. */
static pr_status start_settled(const pr_system *system, pr_sim *sim)
{
    const pr_status status = pr_sim_start(system, sim);
    for (int k = 0; k < system->def.n_loads; k++)
        if (system->def.load[k].def.when != PR_WHEN_NEVER)
            sim->modes.load_on |= pr_set_of(k);
    return status;
}

/* A relay or charger between the batteries has had time to close, if it would, and stay so. */
static pr_status settle_link(const pr_system *system, pr_sim *sim, pr_outputs *o)
{
    const pr_link_kind kind = system->def.link.kind;
    pr_status status = pr_sim_outputs(system, sim, PR_REST, o);
    if (status != PR_OK || system->def.n_batteries < 2 ||
        (kind != PR_LINK_RELAY && kind != PR_LINK_CHARGER) ||
        pr_link_wants(&system->link, false, o->post_V[0], o->post_V[1]) <= 0)
        return status;
    sim->modes.link_closed = true;
    status = pr_sim_outputs(system, sim, PR_REST, o);
    if (status == PR_OK && pr_link_wants(&system->link, true, o->post_V[0], o->post_V[1]) < 0) {
        sim->modes.link_closed = false; /* it would open again at once */
        status = pr_sim_outputs(system, sim, PR_REST, o);
    }
    return status;
}

/* The bus with the winding cold, or as hot as it gets. */
static pr_status solve_state(const pr_system *system, double rpm, bool hot, pr_outputs *outputs)
{
    static const double HOTTEST_K = 200.0; /* 60 K at rated output; this is beyond any */
    winding_search w = {.system = system};
    pr_status status = start_settled(system, &w.sim);
    if (status != PR_OK)
        return status;
    const double air_degC = system->def.ambient_degC;
    w.sim.engine_rpm = rpm;
    if (system->def.has_alternator)
        w.sim.y[system->at.alternator] = air_degC;
    status = settle_link(system, &w.sim, outputs);
    if (status != PR_OK || !hot || !system->def.has_alternator)
        return status;
    double winding_degC = air_degC;
    status = pr_root_find(winding_rate, &w, air_degC, air_degC + HOTTEST_K, 1e-3, &winding_degC);
    if (status != PR_OK)
        return w.status != PR_OK ? w.status : status;
    w.sim.y[system->at.alternator] = winding_degC;
    return settle_link(system, &w.sim, outputs);
}

static pr_status solve_point(const pr_system *peak, const pr_system *average, double rpm, bool hot,
                             pr_budget_point *point, double most_run_A[])
{
    pr_outputs o, mean;
    pr_status status = solve_state(peak, rpm, hot, &o);
    if (status == PR_OK)
        status = solve_state(average, rpm, hot, &mean);
    if (status != PR_OK)
        return status;
    *point = (pr_budget_point){
        .engine_rpm = rpm,
        .winding_degC = o.winding_degC,
        .load_A = o.loads_A,
        .available_A = o.alternator_available_A,
        .margin_A = o.alternator_available_A - o.loads_A,
        .average_margin_A = mean.alternator_available_A - mean.loads_A,
        .alternator_A = o.alternator_A,
        .battery_A = o.battery_A[0] + o.battery_A[1],
        .box_V = o.box_V[PR_POST_MAIN],
        .post_V = o.post_V[PR_POST_MAIN],
        .set_V = o.set_V,
        .limited = o.limited,
    };
    for (int r = 0; r < PR_RUNS_MAX && most_run_A != NULL; r++)
        most_run_A[r] = fmax(most_run_A[r], fabs(o.run_A[r]));
    return PR_OK;
}

typedef struct balance_search {
    const pr_system *system;
    pr_status status;
} balance_search;

static double hot_margin_A(double rpm, void *context)
{
    balance_search *s = context;
    pr_outputs o;
    s->status = solve_state(s->system, rpm, true, &o);
    return s->status == PR_OK ? o.alternator_available_A - o.loads_A : PR_NAN;
}

/* Least engine speed whose hot output carries the loads; NaN when even the highest does not. */
static pr_status find_balance_rpm(const pr_system *peak, double *rpm)
{
    balance_search s = {.system = peak};
    const double least_rpm = 300.0, most_rpm = peak->def.max_rpm;
    *rpm = PR_NAN;
    const double most_A = hot_margin_A(most_rpm, &s);
    if (s.status != PR_OK || !(most_A >= 0.0))
        return s.status;
    if (hot_margin_A(least_rpm, &s) >= 0.0) {
        *rpm = least_rpm;
        return s.status;
    }
    const pr_status status = pr_root_find(hot_margin_A, &s, least_rpm, most_rpm, 1.0, rpm);
    return s.status != PR_OK ? s.status : status;
}

/* ---- over time */

static double engine_stop_V(const pr_system *system)
{
    double most_V = PR_NAN;
    for (int k = 0; k < system->def.n_loads; k++)
        if (system->def.load[k].def.stops_engine)
            most_V = fmax(most_V, system->def.load[k].def.dropout_V); /* ignores NaN */
    return most_V;
}

/* Runs the engine until it stops, or could not be restarted where that is asked, or the time is
 * over. */
static pr_status run_on(const pr_system *system, pr_sim *sim, double rpm, double duration_s,
                        bool to_restart, pr_phase_end *end)
{
    pr_limits limits = pr_limits_default(system);
    for (int i = 0; i < PR_LIMIT_COUNT; i++)
        limits.on[i] = false;
    if (isnan(engine_stop_V(system))) {
        limits.on[PR_LIMIT_VOLTAGE] = true;
        limits.bus_min_V = STOP_V;
    }
    limits.on[PR_LIMIT_RESTART] = to_restart;
    const pr_run_options options = pr_run_options_default();
    const pr_phase phase = {
        .activity = PR_REST, .engine_rpm = rpm, .duration_s = duration_s, .stop_travel_m = PR_NAN};
    return pr_sim_run(system, sim, &phase, &limits, &options, NULL, end);
}

/* To a moment, and on past the one from which on there is no restart. `first` stays that of the
 * call. */
static pr_status run_past_restart(const pr_system *system, pr_sim *sim, double until_s,
                                  pr_budget_situation *s, pr_phase_end *end)
{
    const double rpm = s->own.engine_rpm;
    pr_status status = run_on(system, sim, rpm, until_s - sim->time_s, isinf(s->no_restart_s), end);
    if (status != PR_OK || end->stop != PR_STOP_LIMIT || end->limit != PR_LIMIT_RESTART)
        return status;
    const pr_outputs first = end->first;
    s->no_restart_s = sim->time_s;
    if (sim->time_s < until_s)
        status = run_on(system, sim, rpm, until_s - sim->time_s, false, end);
    else
        end->stop = PR_STOP_TIME;
    end->first = first;
    return status;
}

static double drain_A(const pr_outputs *o)
{
    return -(o->battery_A[0] + o->battery_A[1]);
}

static pr_status follow(const bench *b, pr_budget_situation *s)
{
    static const double STEADY_A = 0.05;
    const pr_system *system = &b->average;
    const pr_post post = system->def.starter_post;
    pr_sim sim;
    pr_phase_end end;
    pr_status status = start_settled(system, &sim);
    if (system->def.has_alternator)
        sim.y[system->at.alternator] = s->own.winding_degC;
    s->runs_s = s->no_restart_s = PR_INF;
    if (status == PR_OK)
        status = run_past_restart(system, &sim, HOUR_s, s, &end);
    if (status != PR_OK)
        return status;
    s->stop_V = s->soc_per_hour_frac = PR_NAN;
    s->full_output_frac = pr_sim_ledger(system, &sim, PR_LEDGER_FULL_OUTPUT_s) / sim.time_s;
    if (end.stop == PR_STOP_TIME) {
        s->soc_per_hour_frac = end.last.soc_frac[post] - end.first.soc_frac[post];
        if (drain_A(&end.last) > STEADY_A)
            status = run_past_restart(system, &sim, DAY_s, s, &end);
    }
    if (status == PR_OK && end.stop != PR_STOP_TIME) {
        s->runs_s = sim.time_s;
        s->stop_V = end.last.box_V[PR_POST_MAIN];
    }
    return status;
}

static pr_status limp(bench *b, pr_budget *budget)
{
    const pr_system_def *def = &b->scenario->system;
    bool on[PR_LOADS_MAX];
    for (int k = 0; k < def->n_loads; k++)
        on[k] = def->load[k].def.essential || def->load[k].def.stops_engine;
    pr_sim sim;
    pr_phase_end end;
    pr_status status = set_loads(b, on, def->ambient_degC, true, &b->average);
    b->average.alternator.def.belt_slip_frac = 1.0; /* it stands still */
    if (status == PR_OK)
        status = start_settled(&b->average, &sim);
    if (status == PR_OK)
        status = run_on(&b->average, &sim, def->idle_rpm, LIMP_MOST_s, false, &end);
    if (status != PR_OK)
        return status;
    const bool stopped = end.stop != PR_STOP_TIME;
    budget->limp_s = stopped ? end.duration_s : PR_INF;
    budget->limp_load_A = end.first.loads_A;
    budget->limp_soc_frac = stopped ? end.last.soc_frac[def->starter_post] : PR_NAN;
    return PR_OK;
}

/* ---- the alternator to have */

/* Does an alternator of this rating carry the situation, hot at idle? */
static pr_status carries(bench *b, const pr_budget_situation *s, double rating_A, bool *carries_it)
{
    pr_status status = set_loads(b, s->load_on, s->ambient_degC, false, &b->peak);
    pr_alternator_def def = b->scenario->system.alternator;
    pr_alternator_def_scale(&def, rating_A);
    pr_outputs o = {0};
    if (status == PR_OK)
        status = pr_alternator_derive(&def, &b->peak.alternator);
    b->peak.def.alternator = def;
    if (status == PR_OK)
        status = solve_state(&b->peak, b->peak.def.idle_rpm, true, &o);
    *carries_it = status == PR_OK && o.alternator_available_A >= o.loads_A;
    return status;
}

double pr_usual_alternator_A(int i)
{
    static const double usual_A[] = {45.0,  55.0,  70.0,  90.0,  110.0, 130.0,
                                     160.0, 200.0, 250.0, 300.0, 350.0};
    enum { SIZES = sizeof usual_A / sizeof *usual_A };
    return i >= 0 && i < SIZES ? usual_A[i] : PR_NAN;
}

static pr_status recommend_rating(bench *b, pr_budget *budget)
{
    pr_budget_alternator *a = &budget->alternator;
    a->by_load_A = HEADROOM * a->most_load_A;
    a->by_idle_A = pr_usual_alternator_A(0);
    for (int k = 0, i = 0; k < budget->n_situations; k++) {
        bool enough = false;
        for (; !isnan(pr_usual_alternator_A(i)) && !enough; i += !enough) {
            const pr_status status =
                carries(b, &budget->situation[k], pr_usual_alternator_A(i), &enough);
            if (status != PR_OK)
                return status;
            if (!enough)
                a->idle_situation = k;
        }
        a->by_idle_A = enough ? pr_usual_alternator_A(i) : PR_NAN;
        if (!enough)
            break;
    }
    int i = 0;
    while (pr_usual_alternator_A(i) < a->by_load_A || pr_usual_alternator_A(i) < a->by_idle_A)
        i++;
    a->recommended_A = isnan(a->by_idle_A) ? PR_NAN : pr_usual_alternator_A(i);
    return PR_OK;
}

static void judge_alternator(const pr_system_def *def, pr_budget *budget)
{
    pr_budget_alternator *a = &budget->alternator;
    a->rated_A = def->has_alternator ? def->alternator.rated_A : PR_NAN;
    a->enough = def->has_alternator;
    a->idle_rpm_needed = a->most_load_A = 0.0;
    for (int k = 0; k < budget->n_situations; k++) {
        const pr_budget_situation *s = &budget->situation[k];
        double load_A = 0.0;
        for (int i = 0; i < budget->n_loads; i++)
            load_A += s->load_on[i] ? budget->load[i].amps_A : 0.0;
        if (load_A > a->most_load_A) {
            a->most_load_A = load_A;
            a->most_situation = k;
        }
        a->enough = a->enough && s->own.average_margin_A >= 0.0;
        a->idle_rpm_needed = isnan(s->balance_rpm) || isnan(a->idle_rpm_needed)
                                 ? PR_NAN
                                 : fmax(a->idle_rpm_needed, s->balance_rpm);
    }
}

/* From below idle to the highest speed. */
static pr_status draw_curve(bench *b, pr_budget *budget)
{
    const pr_system_def *def = &b->base.def;
    const pr_budget_situation *s = &budget->situation[budget->alternator.most_situation];
    const double from_rpm = 0.6 * def->idle_rpm, to_rpm = fmax(def->max_rpm, 1.2 * from_rpm);
    pr_status status = set_loads(b, s->load_on, s->ambient_degC, false, &b->peak);
    for (int i = 0; i < PR_BUDGET_CURVE && status == PR_OK; i++) {
        const double rpm = from_rpm + (to_rpm - from_rpm) * i / (PR_BUDGET_CURVE - 1);
        budget->curve_rpm[i] = rpm;
        for (int h = 0; h < PR_BUDGET_HEATS && status == PR_OK; h++) {
            pr_outputs o;
            status = solve_state(&b->peak, rpm, h == PR_BUDGET_HOT, &o);
            budget->curve_A[i][h] = status == PR_OK ? o.alternator_available_A : PR_NAN;
        }
    }
    budget->n_curve = PR_BUDGET_CURVE;
    return status;
}

/* ---- all of it */

static void list_loads(const bench *b, pr_budget *budget)
{
    const pr_system *system = &b->base;
    budget->n_loads = system->def.n_loads;
    budget->charging_V =
        system->def.has_alternator
            ? pr_alternator_set_V(&system->alternator,
                                  system->def.ambient_degC + system->def.alternator.air_degC_rise)
            : 14.0;
    for (int k = 0; k < budget->n_loads; k++) {
        pr_budget_load *load = &budget->load[k];
        snprintf(load->name, sizeof load->name, "%s", system->def.load[k].name);
        load->amps_A = pr_load_current_A(&system->load[k], budget->charging_V, PR_INF, NULL);
        load->watts_W = load->amps_A * budget->charging_V;
        load->average_A = load->amps_A * duty_of(&b->scenario->system.load[k].def);
        load->stops_engine = system->def.load[k].def.stops_engine;
        load->essential = system->def.load[k].def.essential;
    }
    budget->stops_at_V = engine_stop_V(system);
    budget->stops_by_load = !isnan(budget->stops_at_V);
    if (!budget->stops_by_load)
        budget->stops_at_V = STOP_V;
}

static pr_status solve_situation(bench *b, const pr_situation *given, pr_budget_situation *s)
{
    snprintf(s->name, sizeof s->name, "%s", given->name);
    s->ambient_degC = given->ambient_degC;
    s->hot = given->hot;
    for (int k = 0; k < PR_LOADS_MAX; k++)
        s->load_on[k] = given->load_on[k];
    pr_status status = set_loads(b, s->load_on, s->ambient_degC, false, &b->peak);
    if (status == PR_OK)
        status = set_loads(b, s->load_on, s->ambient_degC, true, &b->average);
    if (status == PR_OK)
        status =
            solve_point(&b->peak, &b->average, given->engine_rpm, s->hot, &s->own, b->most_run_A);
    const pr_system_def *def = &b->base.def;
    const double rpm[PR_BUDGET_SPEEDS] = {def->idle_rpm, def->fast_idle_rpm, def->max_rpm};
    for (int v = 0; v < PR_BUDGET_SPEEDS; v++)
        for (int h = 0; h < PR_BUDGET_HEATS && status == PR_OK; h++)
            status = solve_point(&b->peak, &b->average, rpm[v], h == PR_BUDGET_HOT, &s->at[v][h],
                                 b->most_run_A);
    s->balance_rpm = PR_NAN;
    if (status == PR_OK && def->has_alternator)
        status = find_balance_rpm(&b->peak, &s->balance_rpm);
    return status == PR_OK ? follow(b, s) : status;
}

/* A scenario that names none: everything at once, hot, at idle. */
static pr_situation only_situation(const pr_system_def *def)
{
    pr_situation all = {.name = "everything at once",
                        .engine_rpm = def->idle_rpm,
                        .ambient_degC = def->ambient_degC,
                        .hot = true};
    for (int k = 0; k < def->n_loads; k++)
        all.load_on[k] = true;
    return all;
}

static pr_status make(bench *b, pr_budget *budget)
{
    const pr_scenario *scenario = b->scenario;
    pr_status status = PR_OK;
    list_loads(b, budget);
    const pr_situation all = only_situation(&b->base.def);
    budget->n_situations = scenario->n_situations > 0 ? scenario->n_situations : 1;
    for (int k = 0; k < budget->n_situations && status == PR_OK; k++)
        status = solve_situation(b, scenario->n_situations > 0 ? &scenario->situation[k] : &all,
                                 &budget->situation[k]);
    if (status != PR_OK)
        return status;
    judge_alternator(&b->base.def, budget);
    if (b->base.def.has_alternator)
        status = recommend_rating(b, budget);
    if (status == PR_OK && b->base.def.has_alternator)
        status = draw_curve(b, budget);
    if (status == PR_OK)
        status = limp(b, budget);
    if (status == PR_OK)
        status = pr_budget_wires(&b->base, b->most_run_A, budget);
    return status;
}

pr_status pr_budget_make(const pr_scenario *scenario, pr_budget *budget, pr_diag *diag)
{
    *budget = (pr_budget){.limp_s = PR_NAN};
    bench *b = calloc(1, sizeof *b);
    if (b == NULL)
        return PR_ERR_NOMEM;
    pr_status status = open_bench(scenario, b, diag);
    if (status == PR_OK)
        status = make(b, budget);
    free(b);
    return status;
}
