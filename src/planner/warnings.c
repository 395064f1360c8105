/* Warnings from the phases of a plan or a run; see warnings.h.
 *
 * Engine: nothing here computes how far a loaded alternator pulls the speed down; that hangs on
 * idle control and throttle, which nobody can read off a plate. Instead its shaft power is held
 * against what an engine of the class gives at that speed with the throttle open,
 *     P = T 2 pi n / 60
 * T from 0.7 MPa of mean pressure (diesel, not yet boosted: 0.65) and the displacement usual for
 * the class: 2, 3.5, 5 and 2.5, 4.2, 6.5 litres. (m) all of it. Told is more than a tenth of that
 * at idle, where a governor has little to give, and a fifth on the hand throttle (m).
 *
 * Belt: reached is its limit when the shaft takes 99 % of it. Hunting: four moves of the link or
 * more in one phase. Freezing: the least charge of the whole run in the air as it is, with 3 K to
 * spare, because a battery that is left after the work cools down to that. */
#include "planner/warnings.h"

#include "base/number.h"

#include <math.h>

static const double RADPS_PER_RPM = 0.10471975512;
static const double AT_IDLE = 1.1, IDLE_SHARE = 0.10, THROTTLE_SHARE = 0.20;
static const double BELT_REACHED = 0.99, FREEZING_SPARE_K = 3.0;
enum { HUNTING = 4 };

/* Moment of an engine with the throttle open, at low speed, N m. */
static const double open_throttle_Nm[PR_ENGINE_CLASS_COUNT] = {
    [PR_ENGINE_PETROL_4] = 110.0, [PR_ENGINE_PETROL_6] = 195.0, [PR_ENGINE_PETROL_8] = 280.0,
    [PR_ENGINE_DIESEL_4] = 130.0, [PR_ENGINE_DIESEL_6] = 215.0, [PR_ENGINE_DIESEL_8] = 335.0,
};

/* What was seen so far. */
typedef struct watch {
    const pr_system_def *def;
    size_t pulls, pulls_opened; /* link open in the course of them */
    size_t engine_phases, asleep, belt_phases;
    double total_s;
    double most_link_A;
    unsigned link_switches, most_switches;
    double excess, shaft_W, shaft_share, shaft_rpm; /* excess: share over what is told */
    double asleep_rpm;
    double least_soc_frac[PR_POSTS];
} watch;

static watch watch_new(const pr_system_def *def)
{
    return (watch){.def = def, .least_soc_frac = {1.0, 1.0}};
}

static bool pulls(const pr_phase_end *end)
{
    return end->activity == PR_PULL || end->activity == PR_PULL_ENGINE_OFF;
}

static void see_shaft(watch *w, const pr_outputs *o)
{
    const unsigned class = (unsigned)w->def->cranking.engine;
    if (!(o->engine_rpm > 0.0) || class >= PR_ENGINE_CLASS_COUNT)
        return;
    const double gives_W = open_throttle_Nm[class] * RADPS_PER_RPM * o->engine_rpm;
    const double share = o->shaft_W / gives_W;
    const bool idles = o->engine_rpm <= AT_IDLE * w->def->idle_rpm;
    const double excess = share / (idles ? IDLE_SHARE : THROTTLE_SHARE);
    if (excess <= w->excess)
        return;
    w->excess = excess;
    w->shaft_W = o->shaft_W;
    w->shaft_share = share;
    w->shaft_rpm = o->engine_rpm;
}

static void see_alternator(watch *w, const pr_phase_end *end)
{
    const pr_outputs *first = &end->first, *last = &end->last;
    if (!w->def->has_alternator || !(first->engine_rpm > 0.0))
        return;
    w->engine_phases++;
    see_shaft(w, first);
    see_shaft(w, last);
    const double belt_W = BELT_REACHED * w->def->alternator.belt_limit_W; /* NaN: no limit */
    if (first->shaft_W >= belt_W || last->shaft_W >= belt_W)
        w->belt_phases++;
    if (!(first->alternator_available_A > 0.0) && !(last->alternator_available_A > 0.0)) {
        w->asleep++;
        w->asleep_rpm = fmax(w->asleep_rpm, first->engine_rpm);
    }
}

static void see(watch *w, const pr_phase_end *end)
{
    if (!(end->duration_s > 0.0))
        return;
    w->total_s += end->duration_s;
    w->pulls += pulls(end);
    w->pulls_opened += pulls(end) && end->link_opens > 0;
    w->most_link_A = fmax(w->most_link_A, end->extremes.most_link_A);
    w->link_switches += end->link_switches;
    if (end->link_switches > w->most_switches)
        w->most_switches = end->link_switches;
    for (int p = 0; p < w->def->n_batteries; p++)
        w->least_soc_frac[p] =
            fmin(w->least_soc_frac[p], fmin(end->first.soc_frac[p], end->last.soc_frac[p]));
    see_alternator(w, end);
}

#define SAY(diag, ...) pr_diag_add(diag, PR_WARNING, (pr_place){NULL, 0, 0}, __VA_ARGS__)

static void warn_of_link(const watch *w, pr_diag *diag)
{
    const pr_link_def *link = &w->def->link;
    if (w->most_link_A > link->rating_A) /* false for a NaN */
        SAY(diag,
            "link: up to %.0f A go through it, rated for %.0f A, and its contacts may weld: fit "
            "one rated for more, or leave the batteries parted",
            w->most_link_A, link->rating_A);
    if (link->kind == PR_LINK_RELAY && w->pulls_opened > 0)
        SAY(diag,
            "link: the relay opens in %zu of %zu pulls and leaves the winch one battery: force it "
            "closed in pulls if its rating allows, or count on one",
            w->pulls_opened, w->pulls);
    if (w->most_switches >= HUNTING &&
        (link->kind == PR_LINK_RELAY || link->kind == PR_LINK_CHARGER))
        SAY(diag,
            "link: it opens and closes %u times in %.0f min (hunting): thicker cable between the "
            "batteries, or its voltages further apart",
            w->link_switches, fmax(w->total_s / 60.0, 1.0));
}

static void warn_of_sleep(const watch *w, pr_diag *diag)
{
    const pr_alternator_def *a = &w->def->alternator;
    if (w->engine_phases == 0 || w->asleep < w->engine_phases)
        return;
    const double wakes_rpm = isnan(a->turn_on_rpm) ? a->cut_in_rpm : a->turn_on_rpm;
    const double engine_rpm = wakes_rpm / (a->pulley_ratio * (1.0 - a->belt_slip_frac));
    if (isfinite(engine_rpm))
        SAY(diag,
            "alternator: it never wakes at %.0f rpm and charges nothing: it wakes at %.0f rpm of "
            "the engine, so rev it past that, and plan with more than idle",
            w->asleep_rpm, ceil(engine_rpm / 10.0) * 10.0);
    else
        SAY(diag, "alternator: the belt does not turn it, and it charges nothing: see to the belt");
}

static void warn_of_engine(const watch *w, pr_diag *diag)
{
    if (w->belt_phases > 0)
        SAY(diag,
            "alternator: the belt slips at its limit of %.0f W in %zu of %zu pulls and rests, and "
            "charge is lost: tighten it, or fit a wider one",
            w->def->alternator.belt_limit_W, w->belt_phases, w->engine_phases);
    if (w->excess > 1.0)
        SAY(diag,
            "engine: the alternator takes %.1f kW at %.0f rpm, %.0f %% of what such an engine "
            "gives there (rule of thumb): it will sag or stall, hold the speed by hand throttle",
            w->shaft_W / 1000.0, w->shaft_rpm, 100.0 * w->shaft_share);
}

static void warn_of_frost(const watch *w, pr_diag *diag)
{
    for (int p = 0; p < w->def->n_batteries; p++) {
        /* the freezing point hangs on the chemistry and the charge alone */
        const pr_battery battery = {.def.chemistry = w->def->battery[p].chemistry};
        const double frost_degC = pr_battery_freezing_degC(&battery, w->least_soc_frac[p]);
        if (frost_degC + FREEZING_SPARE_K >= w->def->ambient_degC)
            SAY(diag,
                "%s: at %.0f %% it freezes at %.0f °C (%.0f °F), and the air is at %.0f °C: charge "
                "it before it is left standing; never charge or crank a frozen one",
                p == PR_POST_MAIN ? "battery" : "second battery", 100.0 * w->least_soc_frac[p],
                frost_degC, 1.8 * frost_degC + 32.0, w->def->ambient_degC);
    }
}

static void tell(const watch *w, pr_diag *diag)
{
    if (w->total_s > 0.0) {
        warn_of_link(w, diag);
        warn_of_sleep(w, diag);
        warn_of_engine(w, diag);
        warn_of_frost(w, diag);
    }
}

static watch watch_plan(const pr_system_def *def, const pr_plan *plan)
{
    watch w = watch_new(def);
    see(&w, &plan->first_rest);
    for (size_t i = 0; i < plan->n_cycles; i++) {
        see(&w, &plan->cycles[i].pull);
        see(&w, &plan->cycles[i].rest);
    }
    return w;
}

void pr_warnings_of_plan(const pr_scenario *scenario, const pr_plan *plan, pr_diag *diag)
{
    if (plan->status != PR_OK || diag == NULL)
        return;
    const watch w = watch_plan(&scenario->system, plan);
    tell(&w, diag);
}

void pr_warnings_of_run(const pr_scenario *scenario, const pr_phase_end *ends, size_t n,
                        pr_diag *diag)
{
    watch w = watch_new(&scenario->system);
    for (size_t i = 0; i < n; i++)
        see(&w, &ends[i]);
    if (diag != NULL)
        tell(&w, diag);
}

/* Of phases with the engine on; those know themselves by their speed. */
static void add_share(const pr_phase_end *end, double *engine_s, double *full_s)
{
    if (end->duration_s > 0.0 && end->first.engine_rpm > 0.0) {
        *engine_s += end->duration_s;
        *full_s += end->full_output_s;
    }
}

double pr_plan_full_output_frac(const pr_plan *plan)
{
    double engine_s = 0.0, full_s = 0.0;
    add_share(&plan->first_rest, &engine_s, &full_s);
    for (size_t i = 0; i < plan->n_cycles; i++) {
        add_share(&plan->cycles[i].pull, &engine_s, &full_s);
        add_share(&plan->cycles[i].rest, &engine_s, &full_s);
    }
    return engine_s > 0.0 ? full_s / engine_s : PR_NAN;
}

double pr_run_full_output_frac(const pr_phase_end *ends, size_t n)
{
    double engine_s = 0.0, full_s = 0.0;
    for (size_t i = 0; i < n; i++)
        add_share(&ends[i], &engine_s, &full_s);
    return engine_s > 0.0 ? full_s / engine_s : PR_NAN;
}
