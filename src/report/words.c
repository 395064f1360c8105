/* Words for limits, stops and plans: see words.h. */
#include "report/words.h"

#include "base/number.h"

#include <math.h>
#include <stdarg.h>

const char *pr_words_limit(pr_limit limit)
{
    static const char *const words[PR_LIMIT_COUNT] = {
        [PR_LIMIT_NONE] = "rope handling",    [PR_LIMIT_RESERVE] = "battery reserve",
        [PR_LIMIT_VOLTAGE] = "low voltage",   [PR_LIMIT_MOTOR_HEAT] = "winch motor heat",
        [PR_LIMIT_CABLE_HEAT] = "cable heat", [PR_LIMIT_RESTART] = "restart of the engine",
    };
    return words[limit];
}

const char *pr_words_limit_key(pr_limit limit)
{
    static const char *const keys[PR_LIMIT_COUNT] = {
        [PR_LIMIT_NONE] = "none",
        [PR_LIMIT_RESERVE] = "reserve",
        [PR_LIMIT_VOLTAGE] = "voltage",
        [PR_LIMIT_MOTOR_HEAT] = "motor_heat",
        [PR_LIMIT_CABLE_HEAT] = "cable_heat",
        [PR_LIMIT_RESTART] = "restart",
    };
    return keys[limit];
}

typedef struct stop_words {
    const char *key, *text, *noun;
} stop_words;

static const stop_words stops[] = {
    [PR_STOP_TIME] = {"time", "the time was over", "rope handling"},
    [PR_STOP_TRAVEL] = {"travel", "the distance was covered", "the distance"},
    [PR_STOP_LIMIT] = {"limit", "a limit was reached", "a limit"},
    [PR_STOP_STALL] = {"stall", "the winch stalled", "winch stall"},
    [PR_STOP_FUSE] = {"fuse", "a fuse opened", "a fuse"},
    [PR_STOP_ROPE] = {"rope", "the rope or the way to the anchor ran out", "rope length"},
    [PR_STOP_CONTACTOR] = {"contactor", "the winch contactor dropped out", "winch contactor"},
    [PR_STOP_ENGINE] = {"engine", "the engine died: too little voltage for what keeps it running",
                        "engine dying"},
    [PR_STOP_BATTERY_OPEN] = {"battery_open", "the battery's own protection switched it off",
                              "battery protection"},
    [PR_STOP_FAILED] = {"failed", "the computation failed", "the computation"},
};

const char *pr_words_binding(pr_limit limit, pr_stop stop)
{
    return limit == PR_LIMIT_NONE ? stops[stop].noun : pr_words_limit(limit);
}

const char *pr_words_stop(pr_stop stop)
{
    return stops[stop].text;
}

const char *pr_words_stop_key(pr_stop stop)
{
    return stops[stop].key;
}

const char *pr_words_plan(pr_plan_kind kind)
{
    static const char *const words[PR_PLAN_KINDS] = {"even rest", "rest as needed",
                                                     "shortest time"};
    return words[kind];
}

const char *pr_words_plan_key(pr_plan_kind kind)
{
    static const char *const keys[PR_PLAN_KINDS] = {"even", "as_needed", "shortest"};
    return keys[kind];
}

const char *pr_words_case_key(pr_case which)
{
    static const char *const keys[PR_CASE_COUNT] = {"low", "likely", "high"};
    return keys[which];
}

const char *const pr_words_pull_given =
    "The pull is given as a winch current, so better or worse ground is not computed.";

pr_text pr_words_parts(int parts, bool with_blocks)
{
    pr_text text;
    if (parts <= 1)
        snprintf(text.s, sizeof text.s, "single line");
    else if (parts == 2)
        snprintf(text.s, sizeof text.s, "double line%s", with_blocks ? " with 1 block" : "");
    else if (with_blocks)
        snprintf(text.s, sizeof text.s, "%d-part line with %d blocks", parts, parts - 1);
    else
        snprintf(text.s, sizeof text.s, "%d-part line", parts);
    return text;
}

static pr_text clause(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* Two short pieces in a short sentence: fits, and is cut if it ever does not. */
static pr_text clause(const char *format, ...)
{
    pr_text text;
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text.s, sizeof text.s, format, arguments);
    va_end(arguments);
    return text;
}

pr_text pr_words_fit(const pr_table_fit *fit)
{
    if (fit->of_time)
        return clause("off by %.2g %% in time, root mean square of %d points", 100.0 * fit->rms,
                      fit->n_points);
    return clause("off by %.2g A, root mean square of %d points", fit->rms, fit->n_points);
}

static pr_text volts(double value_V)
{
    pr_text text = pr_text_number(value_V, 2);
    pr_text with_unit;
    snprintf(with_unit.s, sizeof with_unit.s, "%.60s V", text.s);
    return with_unit;
}

/* "the 100 A winch fuse opened at 275 A": what it carried just before. */
static pr_text fuse_opened(const pr_phase_end *end, const pr_system_def *system)
{
    static const char *const names[PR_RUN_FIRST_LOAD] = {
        [PR_RUN_ALTERNATOR] = "alternator fuse",
        [PR_RUN_WINCH] = "winch fuse",
        [PR_RUN_LOADS] = "fuse of the fuse box",
        [PR_RUN_LOADS_SECOND] = "fuse of the second fuse box",
        [PR_RUN_LINK] = "fuse between the batteries",
    };
    const int run = end->which;
    if (run < 0 || run >= PR_RUN_FIRST_LOAD || !system->run[run].has_fuse)
        return clause("%s", stops[PR_STOP_FUSE].text);
    return clause("the %.12s A %s opened at %.12s A",
                  pr_text_number(system->run[run].fuse.rating_A, 0).s, names[run],
                  pr_text_number(fabs(end->last.run_A[run]), 0).s);
}

pr_text pr_words_end(const pr_phase_end *end, const pr_system_def *system)
{
    pr_text text = end->stop == PR_STOP_LIMIT  ? clause("%s", pr_words_limit(end->limit))
                   : end->stop == PR_STOP_FUSE ? fuse_opened(end, system)
                                               : clause("%s", pr_words_stop(end->stop));
    if (!end->engine_died || end->stop == PR_STOP_ENGINE)
        return text;
    return clause("%.70s; the engine died", text.s);
}

pr_text pr_words_plate_force(double value_N, pr_units units)
{
    return pr_units_text(units, units == PR_UNITS_US ? PR_QUANTITY_FORCE : PR_QUANTITY_PLATE_FORCE,
                         value_N);
}

pr_text pr_words_force_and_plate(double value_N, pr_units units)
{
    const pr_text plain = pr_units_text(units, PR_QUANTITY_FORCE, value_N);
    if (units == PR_UNITS_US)
        return plain;
    return clause("%.40s (%.40s)", plain.s, pr_words_plate_force(value_N, units).s);
}

pr_text pr_words_overload(const pr_overload *o, double rope_factor, pr_units units)
{
    const pr_text need = pr_units_text(units, PR_QUANTITY_FORCE, o->need_N);
    const pr_text plate = pr_words_plate_force(o->need_N, units);
    const pr_text rated = pr_words_plate_force(o->capacity_N, units);
    switch (o->what) {
    case PR_OVERLOADED_WINCH:
        return clause("the line must pull %.20s, the winch can pull %.20s on that layer of rope",
                      need.s, pr_units_text(units, PR_QUANTITY_FORCE, o->capacity_N).s);
    case PR_OVERLOADED_ROPE:
        return clause("the line must pull %.20s, the rope bears %.20s (breaking force / %.8s)",
                      need.s, pr_units_text(units, PR_QUANTITY_FORCE, o->capacity_N).s,
                      pr_text_number(rope_factor, 2).s);
    case PR_OVERLOADED_BLOCK:
        return clause("a block would get %.20s, it is rated for %.20s", plate.s, rated.s);
    case PR_OVERLOADED_ANCHOR:
        return clause("the anchor would get %.20s, it is rated for %.20s", plate.s, rated.s);
    case PR_OVERLOADED_REACH:
        return clause("the rope does not reach the anchor: %.20s of strap are missing",
                      pr_units_text(units, PR_QUANTITY_DISTANCE, o->missing_m).s);
    }
    return (pr_text){""};
}

const char *pr_words_overloaded_key(pr_overloaded what)
{
    static const char *const keys[] = {[PR_OVERLOADED_WINCH] = "winch",
                                       [PR_OVERLOADED_ROPE] = "rope",
                                       [PR_OVERLOADED_BLOCK] = "block",
                                       [PR_OVERLOADED_ANCHOR] = "anchor",
                                       [PR_OVERLOADED_REACH] = "reach"};
    return keys[what];
}

const char *pr_words_cycle_reason(const pr_plan *plan, size_t i, bool *cut_short)
{
    const pr_cycle *c = &plan->cycles[i];
    const bool last = i + 1 == plan->n_cycles;
    const bool as_planned = c->pull.stop == PR_STOP_TIME || c->pull.stop == PR_STOP_TRAVEL;
    *cut_short = c->pull.stop == PR_STOP_LIMIT || (last && !as_planned);
    if (c->pull.stop == PR_STOP_LIMIT)
        return pr_words_limit(c->pull.limit);
    if (*cut_short)
        return pr_words_stop(c->pull.stop);
    if (last) /* so many pulls were the job, or the time for it is over */
        return c->pull.stop == PR_STOP_TRAVEL ? "out" : plan->go ? "done" : "";
    if (c->rerig)
        return "rope set out again";
    /* of an even rest only one pull decides, the others get it as well */
    const bool decides = c->binding != PR_LIMIT_NONE || c->binding_stop != PR_STOP_TIME;
    if (!decides && plan->kind == PR_PLAN_EVEN && plan->binding != PR_LIMIT_NONE)
        return "";
    return pr_words_binding(c->binding, c->binding_stop);
}

static const double TOLD_APART_s = 0.5;

size_t pr_words_span_end(const pr_plan *plan, size_t first)
{
    const pr_cycle *c = &plan->cycles[first];
    size_t next = first + 1;
    for (; !c->rerig && next + 1 < plan->n_cycles; next++) {
        const pr_cycle *other = &plan->cycles[next];
        if (other->rerig || other->binding != c->binding ||
            other->binding_stop != c->binding_stop ||
            fabs(other->rest_s - c->rest_s) >= TOLD_APART_s ||
            fabs(other->pull_s - c->pull_s) >= TOLD_APART_s)
            break;
    }
    return next;
}

bool pr_words_same_pulls(const pr_plan *a, const pr_plan *b)
{
    bool same = a->status == PR_OK && b->status == PR_OK && a->go && b->go &&
                a->parts == b->parts && a->n_cycles == b->n_cycles &&
                fabs(a->first_rest_s - b->first_rest_s) < TOLD_APART_s;
    for (size_t i = 0; same && i < a->n_cycles; i++)
        same = fabs(a->cycles[i].pull_s - b->cycles[i].pull_s) < TOLD_APART_s &&
               fabs(a->cycles[i].rest_s - b->cycles[i].rest_s) < TOLD_APART_s;
    return same;
}

pr_text pr_words_crank_V(double value_V)
{
    const pr_text none = {"none"};
    return value_V < 1.0 ? none : pr_text_number(value_V, 1);
}

bool pr_words_hottest_cable(const pr_plan *plan, const pr_system_def *system, pr_text *name,
                            double *degC)
{
    static const char *const names[PR_RUN_FIRST_LOAD] = {[PR_RUN_ALTERNATOR] = "alternator cable",
                                                         [PR_RUN_WINCH] = "winch cable",
                                                         [PR_RUN_LOADS] = "fuse box cable",
                                                         [PR_RUN_LOADS_SECOND] =
                                                             "second fuse box cable",
                                                         [PR_RUN_LINK] = "cable between batteries"};
    const int run = plan->most_wire_run;
    if (run < 0 || run >= PR_RUNS_MAX || !system->run[run].present ||
        !isfinite(plan->most_wire_ratio))
        return false;
    *degC = system->ambient_degC +
            plan->most_wire_ratio * (system->run[run].def.insulation_degC - system->ambient_degC);
    if (run < PR_RUN_FIRST_LOAD)
        snprintf(name->s, sizeof name->s, "%s", names[run]);
    else
        snprintf(name->s, sizeof name->s, "cable of %.30s",
                 system->load[run - PR_RUN_FIRST_LOAD].name);
    return true;
}

static pr_text cable_nearness(const pr_plan *plan, const pr_plan_set *set,
                              const pr_system_def *system, pr_units units)
{
    pr_text name;
    double degC;
    if (!pr_words_hottest_cable(plan, system, &name, &degC))
        return (pr_text){""};
    const double limit_degC =
        system->run[plan->most_wire_run].def.insulation_degC - set->limits.wire_max_degC_margin;
    return clause("%.40s to %s of %s", name.s,
                  pr_units_number(units, PR_QUANTITY_TEMPERATURE, degC).s,
                  pr_units_text(units, PR_QUANTITY_TEMPERATURE, limit_degC).s);
}

pr_text pr_words_nearness(const pr_plan *plan, const pr_plan_set *set, const pr_system_def *system,
                          pr_limit limit, pr_units units)
{
    switch (limit) {
    case PR_LIMIT_RESERVE:
        return clause("to %s, keep %s", pr_text_percent(plan->least_soc_frac, 0).s,
                      pr_text_percent(set->limits.reserve_frac, 0).s);
    case PR_LIMIT_VOLTAGE:
        return clause("to %s, at least %s", volts(plan->least_box_V).s,
                      volts(set->limits.bus_min_V).s);
    case PR_LIMIT_MOTOR_HEAT:
        return clause("to %s of %s",
                      pr_units_number(units, PR_QUANTITY_TEMPERATURE, plan->most_armature_degC).s,
                      pr_units_text(units, PR_QUANTITY_TEMPERATURE, set->limits.motor_max_degC).s);
    case PR_LIMIT_RESTART:
        return clause("to %s, needs %s", volts(plan->least_restart_V).s,
                      volts(system->cranking.min_V + set->limits.restart_margin_V).s);
    case PR_LIMIT_CABLE_HEAT:
        return cable_nearness(plan, set, system, units);
    case PR_LIMIT_NONE:
    case PR_LIMIT_COUNT:
        break;
    }
    return (pr_text){""};
}

double pr_words_margin_frac(const pr_plan *plan, const pr_plan_set *set,
                            const pr_system_def *system, pr_limit limit)
{
    /* spans are for comparing limits with each other in a sentence, nothing is decided by them */
    const double volt_span_V = 2.0;
    const pr_limits *limits = &set->limits;
    if (!limits->on[limit])
        return PR_NAN;
    switch (limit) {
    case PR_LIMIT_RESERVE:
        return (plan->least_soc_frac - limits->reserve_frac) /
               (system->start_soc_frac[system->starter_post] - limits->reserve_frac);
    case PR_LIMIT_VOLTAGE:
        return (plan->least_box_V - limits->bus_min_V) / volt_span_V;
    case PR_LIMIT_MOTOR_HEAT:
        return (limits->motor_max_degC - plan->most_armature_degC) /
               (limits->motor_max_degC - system->ambient_degC);
    case PR_LIMIT_RESTART:
        return (plan->least_restart_V - system->cranking.min_V - limits->restart_margin_V) /
               volt_span_V;
    case PR_LIMIT_CABLE_HEAT:
        return plan->most_wire_run >= 0 ? 1.0 - plan->most_wire_ratio : PR_NAN;
    case PR_LIMIT_NONE:
    case PR_LIMIT_COUNT:
        break;
    }
    return PR_NAN;
}

double pr_words_anchor_most_N(const pr_plan *plan, const pr_system_def *system)
{
    pr_rig_def rig = system->rig;
    rig.parts = plan->parts;
    return pr_rig_anchor_load_N(&rig, system->motor.rated_pull_N);
}
