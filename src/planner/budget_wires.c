/* Cables and fuses of a budget; see budget.h.
 *
 * Amps of a run: the most in any situation, at any speed, cold or hot. Alternator: its whole
 * output, cold, at the highest speed, because it gives that after a hard discharge. Winch: the
 * sheet's amps at rated pull, for the time that the sheet allows. Link between batteries: also what
 * such a pull sends through it and the rest after it (budget_link.c), the one by the heat of a
 * pull, what stays for longer as steady; without a winch what one battery takes from the other.
 *
 * Drop: 3 % of 12 V for what charges, or keeps the engine or the people safe (alternator, fuse box
 * feed, loads that stop the engine or are essential), 10 % for the rest (ABYC E-11, 11.14.2.6, as
 * quoted by boat builders' wiring tables). Heat: steady, from the temperature of the air around the
 * run; of the winch run after one pull. A cable that would get as hot as copper melts (1084.62
 * degC, ITS-90) is said to melt, and heat and drop end there: at most the whole 12 V, as the amps
 * asked for would not flow.
 *
 * Fuse: not above the cable's continuous amps; the load at most 80 % of it (common practice, no
 * source). Winch: must hold the rated amps for the rated time and open on two, three and five times
 * its rating before the cable reaches its short-circuit limit. Link: as any other where a usual
 * size can be that, else like the winch's. */
#include "planner/budget.h"

#include "base/number.h"

#include <math.h>
#include <stdio.h>

static const double NOMINAL_V = 12.0, CRITICAL_FRAC = 0.03, OTHER_FRAC = 0.10;
static const double LOAD_SHARE = 0.8, COPPER_MELTS_degC = 1084.62;

static const char *run_name(const pr_system_def *def, int run)
{
    static const char *const names[PR_RUN_FIRST_LOAD] = {
        "alternator to battery", "battery to winch", "battery to fuse box",
        "second battery to its fuse box", "battery to battery"};
    return run < PR_RUN_FIRST_LOAD ? names[run] : def->load[run - PR_RUN_FIRST_LOAD].name;
}

static bool is_critical(const pr_system_def *def, int run)
{
    if (run == PR_RUN_ALTERNATOR || run == PR_RUN_LOADS || run == PR_RUN_LOADS_SECOND)
        return true;
    if (run < PR_RUN_FIRST_LOAD)
        return false;
    const pr_load_def *load = &def->load[run - PR_RUN_FIRST_LOAD].def;
    return load->stops_engine || load->essential;
}

static double air_degC(const pr_system_def *def, const pr_wire_def *wire)
{
    return def->ambient_degC + (wire->engine_space ? def->engine_space_rise_K : 0.0);
}

/* Heat of a run; where the copper melts it ends. */
typedef struct heat {
    double degC;
    double melts_s; /* into a pull; 0: in time; NaN: it does not */
} heat;

/* Winch amps for the time of the sheet, from the temperature of the air. */
static heat after_pull(const pr_system *system, const pr_wire *wire, double amps_A)
{
    enum { STEPS = 600 };
    const double air = air_degC(&system->def, &wire->def);
    const double step_s = system->motor.def.rated_time_s / STEPS;
    pr_wire_state state = {air};
    for (int i = 0; i < STEPS; i++) { /* midpoint rule; heat changes over minutes */
        pr_wire_state rates, middle;
        pr_wire_rates(wire, &state, amps_A, air, &rates);
        middle.T_degC = state.T_degC + 0.5 * step_s * rates.T_degC;
        pr_wire_rates(wire, &middle, amps_A, air, &rates);
        state.T_degC += step_s * rates.T_degC;
        if (state.T_degC >= COPPER_MELTS_degC)
            return (heat){COPPER_MELTS_degC, (i + 1) * step_s};
    }
    return (heat){state.T_degC, PR_NAN};
}

/* What a run carries: at most, and for longer than a pull. */
typedef struct flow {
    double most_A, steady_A;
    bool pulls; /* the most is for a pull only */
} flow;

/* The heat of a pull, or of what is left of its amps all day. */
static heat heat_of(const pr_system *system, const pr_wire *wire, const flow *f)
{
    const double steady_degC =
        pr_wire_steady_degC(wire, f->steady_A, air_degC(&system->def, &wire->def));
    const heat pull = f->pulls ? after_pull(system, wire, f->most_A) : (heat){-PR_INF, PR_NAN};
    if (!isnan(pull.melts_s) || pull.degC >= steady_degC)
        return pull;
    return steady_degC < COPPER_MELTS_degC ? (heat){steady_degC, PR_NAN}
                                           : (heat){COPPER_MELTS_degC, 0.0};
}

/* Thicker and thicker until the heat of a pull is bearable. Asking for a share of the amps with the
 * same share of the drop asks for the same resistance and less of the continuous amps. */
static double gauge_for_pulls(const pr_system *system, const pr_wire_def *like, double amps_A,
                              double drop_V)
{
    enum { STEPS = 40 };
    for (int i = 1; i <= STEPS; i++) {
        const double share = (double)i / STEPS;
        pr_wire_def wire_def = *like;
        wire_def.gauge = pr_wire_recommend(like, amps_A * share, drop_V * share);
        pr_wire wire;
        if (isnan(wire_def.gauge))
            return PR_NAN;
        if (pr_wire_derive(&wire_def, &wire) == PR_OK &&
            after_pull(system, &wire, amps_A).degC <= like->insulation_degC)
            return wire_def.gauge;
    }
    return PR_NAN;
}

static void recommend(const pr_system *system, const pr_wire_def *like, pr_budget_cable *c)
{
    if (c->drop_ok && c->heat_ok)
        return;
    const double drop_V = c->allowed_frac * NOMINAL_V;
    double gauge = pr_wire_recommend(like, c->steady_A, drop_V);
    if (c->pulls_only) {
        const double in_pulls = gauge_for_pulls(system, like, c->amps_A, drop_V);
        /* the thicker of both; NaN, none, stays */
        if (!(pr_wire_area_mm2(like->gauge_kind, gauge) >
              pr_wire_area_mm2(like->gauge_kind, in_pulls)))
            gauge = in_pulls;
    }
    c->none_fits = isnan(gauge);
    if (!c->none_fits)
        pr_wire_gauge_text(like->gauge_kind, gauge, c->recommended, sizeof c->recommended);
}

static void judge_cable(const pr_system *system, int run, const flow *f, pr_budget *budget)
{
    const pr_system_def *def = &system->def;
    const pr_wire *wire = &system->wire[run];
    pr_budget_cable *c = &budget->cable[budget->n_cables++];
    c->run = run;
    snprintf(c->name, sizeof c->name, "%s", run_name(def, run));
    pr_wire_gauge_text(wire->def.gauge_kind, wire->def.gauge, c->gauge, sizeof c->gauge);
    c->length_m = wire->def.length_m;
    c->amps_A = f->most_A;
    c->steady_A = f->steady_A;
    c->pulls_only = f->pulls;
    c->insulation_degC = wire->def.insulation_degC;
    c->ampacity_A = wire->ampacity_A;
    const heat hot = heat_of(system, wire, f);
    c->degC = hot.degC;
    c->melts = !isnan(hot.melts_s);
    c->melts_s = hot.melts_s;
    c->drop_V = fmin(f->most_A * pr_wire_resistance_ohm(wire, c->degC), NOMINAL_V);
    c->drop_frac = c->drop_V / NOMINAL_V;
    c->allowed_frac = is_critical(def, run) ? CRITICAL_FRAC : OTHER_FRAC;
    c->drop_ok = c->drop_frac <= c->allowed_frac;
    c->heat_ok = c->degC <= c->insulation_degC && f->steady_A <= c->ampacity_A;
    recommend(system, &wire->def, c);
}

/* ---- fuses */

static const double usual_fuses_A[] = {1.0,   2.0,   3.0,   5.0,   7.5,   10.0,  15.0,
                                       20.0,  25.0,  30.0,  40.0,  50.0,  60.0,  70.0,
                                       80.0,  100.0, 125.0, 150.0, 175.0, 200.0, 225.0,
                                       250.0, 300.0, 350.0, 400.0, 450.0, 500.0, 600.0};
enum { USUAL_FUSES = sizeof usual_fuses_A / sizeof *usual_fuses_A };

static bool guards_against_shorts(const pr_fuse *fuse, const pr_wire *wire, double from_degC)
{
    static const double multiples[] = {2.0, 3.0, 5.0};
    for (int i = 0; i < 3; i++) {
        const double amps_A = multiples[i] * fuse->def.rating_A;
        if (!(pr_fuse_time_s(fuse, amps_A) < pr_wire_adiabatic_s(wire, from_degC, amps_A)))
            return false;
    }
    return true;
}

static pr_fusing judge_pulls(const pr_system *system, const pr_fuse *fuse, const pr_wire *wire,
                             double amps_A)
{
    if (pr_fuse_time_s(fuse, amps_A) < system->motor.def.rated_time_s)
        return PR_FUSING_TOO_SMALL;
    if (wire == NULL)
        return PR_FUSING_RIGHT;
    if (!guards_against_shorts(fuse, wire, air_degC(&system->def, &wire->def)))
        return PR_FUSING_TOO_BIG;
    return fuse->def.rating_A <= wire->ampacity_A ? PR_FUSING_RIGHT : PR_FUSING_PULLS_ONLY;
}

static pr_fusing judge_steady(double rating_A, double ampacity_A, double amps_A)
{
    if (rating_A < amps_A)
        return PR_FUSING_TOO_SMALL;
    if (rating_A > ampacity_A) /* never with NaN: no cable known */
        return PR_FUSING_TOO_BIG;
    return amps_A > LOAD_SHARE * rating_A ? PR_FUSING_TIGHT : PR_FUSING_RIGHT;
}

static bool is_good(pr_fusing verdict)
{
    return verdict == PR_FUSING_RIGHT || verdict == PR_FUSING_PULLS_ONLY;
}

/* Least usual fuse that is right for a steady load; NaN when there is none. */
static double steady_fuse_A(double ampacity_A, double amps_A)
{
    for (int i = 0; i < USUAL_FUSES; i++)
        if (judge_steady(usual_fuses_A[i], ampacity_A, amps_A) == PR_FUSING_RIGHT)
            return usual_fuses_A[i];
    return PR_NAN;
}

/* The same for pulls, and what flows for longer. */
static double pulls_fuse_A(const pr_system *system, int run, const pr_wire *wire, const flow *f)
{
    pr_fuse_def def =
        system->def.run[run].has_fuse ? system->def.run[run].fuse : pr_fuse_def_default();
    for (int i = 0; i < USUAL_FUSES; i++) {
        pr_fuse fuse;
        def.rating_A = usual_fuses_A[i];
        if (pr_fuse_derive(&def, &fuse) != PR_OK)
            return PR_NAN;
        if (def.rating_A * LOAD_SHARE >= f->steady_A &&
            is_good(judge_pulls(system, &fuse, wire, f->most_A)))
            return def.rating_A;
    }
    return PR_NAN;
}

static void judge_fuse(const pr_system *system, int run, const flow *through, pr_budget *budget)
{
    const pr_wire_slot *slot = &system->def.run[run];
    const pr_wire *wire = slot->present ? &system->wire[run] : NULL;
    pr_budget_fuse *f = &budget->fuse[budget->n_fuses++];
    f->run = run;
    snprintf(f->name, sizeof f->name, "%s", run_name(&system->def, run));
    f->rating_A = slot->has_fuse ? slot->fuse.rating_A : PR_NAN;
    f->load_A = through->most_A;
    f->ampacity_A = wire != NULL ? wire->ampacity_A : PR_NAN;
    f->recommended_A = run == PR_RUN_WINCH ? PR_NAN : steady_fuse_A(f->ampacity_A, through->most_A);
    /* no usual fuse lies above it all and below what the cable carries */
    const bool by_pulls = through->pulls && isnan(f->recommended_A);
    if (by_pulls)
        f->recommended_A = pulls_fuse_A(system, run, wire, through);
    if (!slot->has_fuse)
        f->verdict = PR_FUSING_NONE;
    else if (by_pulls && f->rating_A >= through->steady_A)
        f->verdict = judge_pulls(system, &system->fuse[run], wire, through->most_A);
    else
        f->verdict = judge_steady(f->rating_A, f->ampacity_A,
                                  by_pulls ? through->steady_A : through->most_A);
    if (f->verdict == PR_FUSING_PULLS_ONLY && f->rating_A > f->recommended_A)
        f->verdict = PR_FUSING_LARGER;
}

const char *pr_fusing_key(pr_fusing fusing)
{
    static const char *const keys[PR_FUSING_COUNT] = {
        "none", "too_small", "tight", "right", "pulls_only", "larger_than_needed", "too_big"};
    return (unsigned)fusing < PR_FUSING_COUNT ? keys[fusing] : "unknown";
}

static flow flow_of(const pr_system *system, int run, const double most_run_A[],
                    const pr_budget_link *link, const pr_budget *budget)
{
    double amps_A = most_run_A[run];
    if (run == PR_RUN_WINCH) /* from the table when there is one */
        return (flow){.most_A = system->motor.def.rated_A, .pulls = true};
    if (run == PR_RUN_LINK) {
        const double steady_A = fmax(amps_A, link->steady_A);
        return (flow){fmax(steady_A, link->most_A), steady_A, link->most_A > steady_A};
    }
    if (run == PR_RUN_ALTERNATOR)
        for (int k = 0; k < budget->n_situations; k++)
            amps_A =
                fmax(amps_A, budget->situation[k].at[PR_BUDGET_CRUISE][PR_BUDGET_COLD].available_A);
    return (flow){amps_A, amps_A, false};
}

pr_status pr_budget_wires(const pr_system *system, const double most_run_A[PR_RUNS_MAX],
                          pr_budget *budget)
{
    const pr_system_def *def = &system->def;
    pr_budget_link link;
    const pr_status status = pr_budget_link_find(system, &link);
    if (status != PR_OK)
        return status;
    budget->n_cables = budget->n_fuses = 0;
    for (int run = 0; run < PR_RUN_FIRST_LOAD + def->n_loads; run++) {
        if (run == PR_RUN_WINCH && !def->has_winch)
            continue;
        const pr_wire_slot *slot = &def->run[run];
        const flow f = flow_of(system, run, most_run_A, &link, budget);
        if (slot->present)
            judge_cable(system, run, &f, budget);
        if (slot->present || slot->has_fuse)
            judge_fuse(system, run, &f, budget);
    }
    return PR_OK;
}
