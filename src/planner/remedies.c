/* Remedies; see remedies.h. Each is a copy of the scenario with one change; nothing is estimated.
 *
 *     hand throttle      the next of fast idle, highest speed above the speeds of the plan
 *     loads off          what neither stops the engine nor is essential nor is switched by a
 *                        thermostat: off in pulls, or altogether; in pulls also what is essential
 *                        for driving and has a switch (`when` names pulls, not the engine): lamps
 *     block              one part of line more
 *     lower layer        all usable rope out at the start
 *     shorter pulls      half the pull, where there is a way to go and not a number of pulls
 *     warm battery       25 degC at the start
 *     jump               a battery like the first, full, by 4 m of leads of 25 mm2 (3 AWG is 26.7);
 *                        the other vehicle's alternator is not counted
 *     second battery     like the first and as full, joined as the link's defaults have it; behind
 *                        a diode or charger, which only fill, it feeds the winch
 *     bigger battery     capacity and cranking amps x 1.4, reserve minutes x 1.4^1.18
 *     alternator         one or two steps up the ladder of usual sizes
 *     cable              two gauges thicker, or the next but one metric size
 *     winch fuse         when it opened in a pull: the one that `budget` recommends, with a thicker
 *                        cable when none is right for this one
 *     all that is free   every free change that helps by itself, together, where that is worth half
 *                        a minute or half a metre more than the best of them
 *
 * Pull length, engine speeds and parts of line stay as planned unless they are the change. Sizes
 * and factors are our choice of what can be had; common practice, no source. */
#include "planner/remedies.h"

#include "base/number.h"
#include "planner/budget.h"
#include "planner/job.h"
#include "planner/work.h"

#include <math.h>
#include <stdlib.h>

static const double WORTH_s = 30.0, WORTH_m = 0.5;

typedef struct context {
    const pr_scenario *scenario;
    const pr_plan *plan;        /* as it stands */
    const pr_remedy_list *list; /* found so far */
} context;

/* Changes a copy of the scenario and tells how; false: does not apply. */
typedef bool (*apply_fn)(const context *c, pr_scenario *changed, pr_remedy_change *how);

static bool hand_throttle(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    const pr_system_def *def = &changed->system;
    const double now_rpm = fmin(c->plan->pull_rpm, c->plan->rest_rpm);
    const double next_rpm = now_rpm < def->fast_idle_rpm ? def->fast_idle_rpm : def->max_rpm;
    if (!(next_rpm > now_rpm))
        return false;
    changed->plan.pull_rpm = fmax(next_rpm, c->plan->pull_rpm);
    changed->plan.rest_rpm = fmax(next_rpm, c->plan->rest_rpm);
    how->rpm = next_rpm;
    return true;
}

static bool is_spare(const pr_load_def *load)
{
    return !load->stops_engine && !load->essential && load->cycling != PR_CYCLE_THERMOSTAT;
}

/* Needed for driving, but not for a pull, and not wired to run with the engine. */
static bool is_spare_in_pulls(const pr_load_def *load)
{
    const bool has_switch = (load->when & (PR_WHEN_ALWAYS | PR_WHEN_ENGINE)) == 0;
    return is_spare(load) || (has_switch && !load->stops_engine && load->essential &&
                              load->cycling != PR_CYCLE_THERMOSTAT);
}

static double nominal_A(const pr_load_def *load)
{
    const double each_A = isnan(load->amps_A) ? load->watts_W / load->reference_V : load->amps_A;
    return each_A * load->quantity;
}

static bool loads_off_in_pulls(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    (void)c;
    for (int i = 0; i < changed->system.n_loads; i++) {
        pr_load_def *load = &changed->system.load[i].def;
        const unsigned running = PR_WHEN_ALWAYS | PR_WHEN_ENGINE;
        if (!is_spare_in_pulls(load) || (load->when & (running | PR_WHEN_PULLING)) == 0)
            continue;
        how->lamps = how->lamps || load->essential;
        load->when =
            (load->when & (running | PR_WHEN_RESTING)) != 0 ? PR_WHEN_RESTING : PR_WHEN_NEVER;
        how->off_A += nominal_A(load);
    }
    return how->off_A >= 0.5;
}

static bool loads_off(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    (void)c;
    for (int i = 0; i < changed->system.n_loads; i++) {
        pr_load_def *load = &changed->system.load[i].def;
        const unsigned winching =
            PR_WHEN_ALWAYS | PR_WHEN_ENGINE | PR_WHEN_PULLING | PR_WHEN_RESTING;
        if (!is_spare(load) || (load->when & winching) == 0)
            continue;
        load->when = PR_WHEN_NEVER;
        how->off_A += nominal_A(load);
    }
    return how->off_A >= 0.5;
}

static bool block(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    const int parts = c->plan->parts + 1;
    if (!changed->system.has_winch || parts < 2 || parts > 4)
        return false;
    changed->plan.parts = parts;
    if (changed->plan.blocks < parts - 1)
        changed->plan.blocks = parts - 1;
    how->parts = parts;
    return true;
}

static bool lower_layer(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    pr_system_def *def = &changed->system;
    pr_drum drum;
    if (!def->has_winch || pr_drum_derive(&def->drum, &drum) != PR_OK)
        return false;
    pr_rig_def rig = def->rig;
    rig.parts = c->plan->parts;
    const int layer = pr_drum_layer(&drum, drum.usable_rope_m);
    if (pr_drum_layer(&drum, c->plan->reach.rope_m) <= layer)
        return false;
    def->rope_out_m = PR_NAN;
    def->anchor_distance_m = drum.usable_rope_m / pr_rig_rope_per_travel(&rig);
    changed->plan.next_anchor_m = PR_NAN;
    how->layer = layer;
    how->anchor_m = def->anchor_distance_m;
    return true;
}

static bool shorter_pulls(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    const double half_s = fmax(floor(0.5 * c->plan->pull_s), ceil(changed->plan.pull_min_s));
    if (!(half_s < c->plan->pull_s) || !isfinite(c->plan->distance_m))
        return false; /* half of each of so many pulls would be half the work */
    changed->plan.pull_s = half_s;
    how->pull_s = half_s;
    how->was_s = c->plan->pull_s;
    return true;
}

static bool warm_battery(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    (void)c;
    static const double WARM_degC = 25.0, COOL_degC = 15.0;
    pr_system_def *def = &changed->system;
    const double now_degC = isnan(def->start_battery_degC[def->winch_post])
                                ? def->ambient_degC
                                : def->start_battery_degC[def->winch_post];
    if (!(now_degC < COOL_degC))
        return false;
    for (int p = 0; p < def->n_batteries; p++)
        def->start_battery_degC[p] = WARM_degC;
    how->battery_degC = WARM_degC;
    return true;
}

static bool add_battery(pr_scenario *changed, pr_link_kind kind)
{
    pr_system_def *def = &changed->system;
    if (def->n_batteries != 1)
        return false;
    def->n_batteries = 2;
    def->battery[PR_POST_SECOND] = def->battery[PR_POST_MAIN];
    def->start_soc_frac[PR_POST_SECOND] = def->start_soc_frac[PR_POST_MAIN];
    def->start_battery_degC[PR_POST_SECOND] = def->start_battery_degC[PR_POST_MAIN];
    def->link = pr_link_def_default(kind);
    def->switch_rule = PR_SWITCH_CLOSED;
    def->run[PR_RUN_LINK].present = true;
    def->run[PR_RUN_LINK].has_fuse = false;
    pr_wire_def *wire = &def->run[PR_RUN_LINK].def;
    if (def->run[PR_RUN_WINCH].present) {
        *wire = def->run[PR_RUN_WINCH].def; /* as thick as what it must help to feed */
        wire->extra_ohm = 0.0;
    } else {
        *wire = pr_wire_def_default();
        wire->gauge_kind = PR_GAUGE_MM2;
        wire->gauge = 50.0;
    }
    wire->length_m = 1.0;
    return true;
}

static bool jump(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    (void)c;
    if (!add_battery(changed, PR_LINK_SWITCH))
        return false;
    pr_system_def *def = &changed->system;
    def->start_soc_frac[PR_POST_SECOND] = 1.0;
    pr_wire_def *wire = &def->run[PR_RUN_LINK].def;
    *wire = pr_wire_def_default();
    wire->gauge_kind = how->gauge_kind = PR_GAUGE_MM2;
    wire->gauge = how->gauge = 25.0;
    how->awg = 3.0;
    wire->length_m = 4.0;
    return true;
}

static bool second_switch(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    (void)c;
    (void)how;
    return add_battery(changed, PR_LINK_SWITCH);
}

static bool second_relay(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    (void)c;
    (void)how;
    return add_battery(changed, PR_LINK_RELAY);
}

/* A diode or charger only fills: the winch moves to the battery behind it, the starter keeps its
 * own. */
static bool second_diode(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    (void)c;
    (void)how;
    if (!changed->system.has_winch || !add_battery(changed, PR_LINK_DIODE))
        return false;
    changed->system.winch_post = PR_POST_SECOND;
    return true;
}

static bool second_charger(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    (void)c;
    static const double CHARGER_A = 40.0;
    if (!changed->system.has_winch || !add_battery(changed, PR_LINK_CHARGER))
        return false;
    changed->system.winch_post = PR_POST_SECOND;
    changed->system.link.charger_A = how->rated_A = CHARGER_A;
    changed->system.link.charger_V = changed->system.alternator.set_V;
    return true;
}

static bool bigger_battery(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    (void)c;
    static const double FACTOR = 1.4, RC_EXPONENT = 1.18; /* as in IEC 60095-1's rule */
    pr_battery_def *b = &changed->system.battery[changed->system.winch_post];
    b->c20_Ah *= FACTOR; /* NaN stays NaN: derived from the capacity */
    b->rc_min *= pow(FACTOR, RC_EXPONENT);
    b->cca_A *= FACTOR;
    b->high_rate_A *= FACTOR;
    b->resistance_ohm /= FACTOR;
    b->mass_kg *= FACTOR;
    b->case_conductance_W_per_K *= FACTOR;
    b->bms_charge_limit_A *= FACTOR;
    b->bms_discharge_limit_A *= FACTOR;
    for (int i = 0; i < b->n_points; i++)
        b->point_A[i] *= FACTOR;
    how->capacity_Ah = b->c20_Ah;
    return true;
}

static bool bigger_alternator(pr_scenario *changed, int steps, pr_remedy_change *how)
{
    if (!changed->system.has_alternator)
        return false;
    pr_alternator_def *a = &changed->system.alternator;
    int i = 0;
    while (pr_usual_alternator_A(i) < a->rated_A * 1.05)
        i++;
    const double rated_A = pr_usual_alternator_A(i + steps - 1);
    if (isnan(rated_A))
        return false;
    pr_alternator_def_scale(a, rated_A);
    how->rated_A = a->rated_A;
    return true;
}

static bool alternator_one_up(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    (void)c;
    return bigger_alternator(changed, 1, how);
}

static bool alternator_two_up(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    (void)c;
    return bigger_alternator(changed, 2, how);
}

/* Two gauges thicker, or the next but one metric size; false: there is none. */
static bool thicken(pr_wire_def *wire)
{
    static const double metric_mm2[] = {6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0, 95.0, 120.0};
    enum { SIZES = sizeof metric_mm2 / sizeof *metric_mm2 };
    if (wire->gauge_kind == PR_GAUGE_MM2) {
        int i = 0;
        while (i < SIZES && metric_mm2[i] <= wire->gauge)
            i++;
        if (i + 1 >= SIZES)
            return false;
        wire->gauge = metric_mm2[i + 1];
    } else {
        wire->gauge -= 2.0;
    }
    return !isnan(pr_wire_area_mm2(wire->gauge_kind, wire->gauge));
}

static bool thicker_cable(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    (void)c;
    if (!changed->system.run[PR_RUN_WINCH].present)
        return false;
    pr_wire_def *wire = &changed->system.run[PR_RUN_WINCH].def;
    how->was_gauge = wire->gauge;
    if (!thicken(wire))
        return false;
    how->gauge_kind = wire->gauge_kind;
    how->gauge = wire->gauge;
    return true;
}

/* The winch fuse that `budget` recommends for a rig; NaN when none fits its cable. */
static double right_winch_fuse_A(const pr_system_def *def)
{
    double rating_A = PR_NAN;
    pr_system *system = malloc(sizeof *system);
    pr_budget *budget = calloc(1, sizeof *budget);
    static const double no_situations_A[PR_RUNS_MAX];
    if (system != NULL && budget != NULL && pr_system_derive(def, system, NULL) == PR_OK &&
        pr_budget_wires(system, no_situations_A, budget) == PR_OK)
        for (int i = 0; i < budget->n_fuses; i++)
            if (budget->fuse[i].run == PR_RUN_WINCH)
                rating_A = budget->fuse[i].recommended_A;
    free(budget);
    free(system);
    return rating_A;
}

static bool winch_fuse(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    enum { CABLES = 4 };
    const size_t n = c->plan->n_cycles;
    if (n == 0 || c->plan->cycles[n - 1].pull.stop != PR_STOP_FUSE ||
        c->plan->cycles[n - 1].pull.which != PR_RUN_WINCH)
        return false;
    pr_wire_slot *slot = &changed->system.run[PR_RUN_WINCH];
    how->was_A = slot->fuse.rating_A;
    how->was_gauge = slot->def.gauge;
    double is_A = right_winch_fuse_A(&changed->system);
    int cables = 0;
    while (isnan(is_A) && slot->present && cables++ < CABLES && thicken(&slot->def))
        is_A = right_winch_fuse_A(&changed->system);
    if (!(is_A > how->was_A))
        return false;
    slot->fuse.rating_A = how->rated_A = is_A;
    how->gauge_kind = slot->def.gauge_kind;
    how->gauge = slot->def.gauge;
    return true;
}

static bool all_free(const context *c, pr_scenario *changed, pr_remedy_change *how);

static const struct {
    pr_effort effort;
    apply_fn apply;
} remedies[PR_REMEDY_COUNT] = {
    [PR_REMEDY_HAND_THROTTLE] = {PR_EFFORT_FREE, hand_throttle},
    [PR_REMEDY_LOADS_OFF_IN_PULLS] = {PR_EFFORT_FREE, loads_off_in_pulls},
    [PR_REMEDY_LOADS_OFF] = {PR_EFFORT_FREE, loads_off},
    [PR_REMEDY_BLOCK] = {PR_EFFORT_BUY, block}, /* free when at hand */
    [PR_REMEDY_LOWER_LAYER] = {PR_EFFORT_FREE, lower_layer},
    [PR_REMEDY_SHORTER_PULLS] = {PR_EFFORT_FREE, shorter_pulls},
    [PR_REMEDY_WARM_BATTERY] = {PR_EFFORT_BORROW, warm_battery},
    [PR_REMEDY_JUMP] = {PR_EFFORT_BORROW, jump},
    [PR_REMEDY_SECOND_SWITCH] = {PR_EFFORT_BUY, second_switch},
    [PR_REMEDY_SECOND_RELAY] = {PR_EFFORT_BUY, second_relay},
    [PR_REMEDY_SECOND_DIODE] = {PR_EFFORT_BUY, second_diode},
    [PR_REMEDY_SECOND_CHARGER] = {PR_EFFORT_BUY, second_charger},
    [PR_REMEDY_BIGGER_BATTERY] = {PR_EFFORT_BUY, bigger_battery},
    [PR_REMEDY_ALTERNATOR_ONE_UP] = {PR_EFFORT_BUY, alternator_one_up},
    [PR_REMEDY_ALTERNATOR_TWO_UP] = {PR_EFFORT_BUY, alternator_two_up},
    [PR_REMEDY_THICKER_CABLE] = {PR_EFFORT_BUY, thicker_cable},
    [PR_REMEDY_WINCH_FUSE] = {PR_EFFORT_BUY, winch_fuse},
    [PR_REMEDY_ALL_FREE] = {PR_EFFORT_FREE, all_free},
};

/* Those before it have been planned, each by itself. */
static bool all_free(const context *c, pr_scenario *changed, pr_remedy_change *how)
{
    int n = 0;
    for (size_t i = 0; i < c->list->n; i++) {
        const pr_remedy *r = &c->list->remedy[i];
        const bool helps = r->turns_to_go || r->saved_s > 0.0 || r->gained_m > 0.0;
        pr_remedy_change its_own = {0};
        if (r->effort != PR_EFFORT_FREE || r->status != PR_OK || !helps)
            continue;
        /* loads may be off already: by the other of the two */
        (void)remedies[r->kind].apply(c, changed, &its_own);
        how->together |= 1u << r->kind;
        n++;
    }
    return n >= 2;
}

bool pr_remedies_wanted(const pr_plan *as_needed)
{
    return as_needed->status == PR_OK &&
           (!as_needed->go || as_needed->binding_stop != PR_STOP_TIME);
}

/* The throttle as the search for the shortest plan tried it already; NULL: it did not. */
static const pr_plan *find_tried(const context *c, const pr_scenario *changed, pr_remedy_kind kind)
{
    for (size_t i = 0; kind == PR_REMEDY_HAND_THROTTLE && i < c->plan->n_tried; i++) {
        const pr_plan *p = &c->plan->tried[i];
        if (p->parts == c->plan->parts && p->pull_s == changed->plan.pull_s &&
            p->pull_rpm == changed->plan.pull_rpm && p->rest_rpm == changed->plan.rest_rpm)
            return p;
    }
    return NULL;
}

static void evaluate(const context *c, const pr_scenario *changed, pr_remedy *remedy,
                     unsigned long *simulations)
{
    pr_plan plan;
    const pr_plan *tried = find_tried(c, changed, remedy->kind);
    if (tried != NULL) {
        plan = *tried; /* owns nothing */
        plan.simulations = 0;
        remedy->status = PR_OK;
    } else {
        remedy->status = pr_plan_make_variant(changed, PR_PLAN_AS_NEEDED, c->plan, &plan);
    }
    remedy->saved_s = remedy->gained_m = PR_NAN;
    if (remedy->status == PR_OK) {
        remedy->go = plan.go;
        remedy->turns_to_go = plan.go && !c->plan->go;
        remedy->total_s = plan.total_s;
        remedy->travel_m = plan.travel_m;
        remedy->longest_rest_s = plan.rest_s;
        remedy->least_soc_frac = plan.least_soc_frac;
        remedy->n_cycles = plan.n_cycles;
        remedy->binding = plan.binding;
        remedy->ended_limit = plan.ended_limit;
        remedy->ended_by = plan.ended_by;
        if (plan.go && c->plan->go)
            remedy->saved_s = c->plan->total_s - plan.total_s;
        if (!plan.go && !c->plan->go)
            remedy->gained_m = plan.travel_m - c->plan->travel_m;
        *simulations += plan.simulations;
    }
    pr_plan_free(&plan);
}

/* 0 turns no into go, 1 worth it, 2 little or no effect, 3 harmful or not computed */
static int rank(const pr_remedy *r)
{
    if (r->status != PR_OK)
        return 4;
    if (r->turns_to_go)
        return 0;
    if (r->saved_s >= WORTH_s || r->gained_m >= WORTH_m)
        return 1;
    return r->saved_s > -WORTH_s || r->gained_m > -WORTH_m ? 2 : 3;
}

static double effect(const pr_remedy *r)
{
    if (r->turns_to_go)
        return -r->total_s;
    if (!isnan(r->saved_s))
        return r->saved_s;
    return isnan(r->gained_m) ? 0.0 : r->gained_m;
}

static int compare(const void *left, const void *right)
{
    const pr_remedy *a = left, *b = right;
    if (rank(a) != rank(b))
        return rank(a) - rank(b);
    if (a->effort != b->effort)
        return (int)a->effort - (int)b->effort;
    const double more_a = effect(a), more_b = effect(b);
    if (more_a > more_b || more_a < more_b)
        return more_a > more_b ? -1 : 1;
    return (int)a->kind - (int)b->kind;
}

/* Several at once, against the best of them alone: worth the trouble? */
static bool adds_enough(const pr_remedy_list *list, const pr_remedy *all)
{
    if (all->status != PR_OK)
        return false;
    for (size_t i = 0; i < list->n; i++) {
        const pr_remedy *r = &list->remedy[i];
        if (r->effort != PR_EFFORT_FREE || r->status != PR_OK || (all->go && !r->go))
            continue;
        if (r->go ? !all->go || all->total_s > r->total_s - WORTH_s
                  : all->travel_m < r->travel_m + WORTH_m)
            return false;
    }
    return true;
}

/* Every remedy by itself, by kind, as far as it applies. */
typedef struct search {
    context c;
    bool applies[PR_REMEDY_COUNT];
    pr_remedy remedy[PR_REMEDY_COUNT];
    unsigned long simulations[PR_REMEDY_COUNT];
    pr_progress_fn progress;
    void *progress_context;
} search;

static void try_remedy(void *whole, int worker, size_t kind)
{
    (void)worker;
    search *s = whole;
    const context *c = &s->c;
    pr_remedy *remedy = &s->remedy[kind];
    *remedy = (pr_remedy){.kind = (pr_remedy_kind)kind, .effort = remedies[kind].effort};
    pr_scenario *changed = malloc(sizeof *changed);
    if (changed == NULL) {
        remedy->status = PR_ERR_NOMEM;
        return;
    }
    *changed = *c->scenario; /* borrows what the scenario owns */
    /* one change only: pull and line stay as planned unless they are the change */
    changed->plan.pull_s = c->plan->pull_s;
    if (c->scenario->system.has_winch)
        changed->plan.parts = c->plan->parts;
    s->applies[kind] = remedies[kind].apply(c, changed, &remedy->change);
    if (s->applies[kind]) {
        if (kind == PR_REMEDY_BLOCK && c->plan->parts <= c->scenario->plan.blocks)
            remedy->effort = PR_EFFORT_FREE;
        evaluate(c, changed, remedy, &s->simulations[kind]);
    }
    free(changed);
}

static int tell(void *whole, size_t finished)
{
    const search *s = whole;
    return s->progress == NULL
               ? 0
               : s->progress(s->progress_context, (double)finished / (double)PR_REMEDY_COUNT);
}

/* Puts one that was tried into the list, if it belongs there. */
static pr_status list_remedy(const search *s, size_t kind, pr_remedy_list *list)
{
    list->simulations += s->simulations[kind];
    if (s->remedy[kind].status == PR_ERR_NOMEM)
        return PR_ERR_NOMEM;
    if (s->applies[kind] && (kind != PR_REMEDY_ALL_FREE || adds_enough(list, &s->remedy[kind])))
        list->remedy[list->n++] = s->remedy[kind];
    return PR_OK;
}

pr_status pr_remedies_find(const pr_scenario *scenario, const pr_plan *as_needed,
                           pr_remedy_list *list, pr_progress_fn progress, void *progress_context)
{
    *list = (pr_remedy_list){0};
    search *s = calloc(1, sizeof *s);
    if (s == NULL)
        return PR_ERR_NOMEM;
    s->c = (context){.scenario = scenario, .plan = as_needed, .list = list};
    s->progress = progress;
    s->progress_context = progress_context;
    size_t done;
    pr_status status = pr_work_run(try_remedy, s, PR_REMEDY_ALL_FREE, 0, tell, s, &done);
    for (size_t kind = 0; kind < PR_REMEDY_ALL_FREE && status == PR_OK; kind++)
        status = list_remedy(s, kind, list);
    if (status == PR_OK) { /* looks at what the others came to */
        try_remedy(s, 0, PR_REMEDY_ALL_FREE);
        status = list_remedy(s, PR_REMEDY_ALL_FREE, list);
    }
    if (status == PR_OK && tell(s, PR_REMEDY_COUNT) != 0)
        status = PR_ERR_CANCELLED;
    free(s);
    qsort(list->remedy, list->n, sizeof *list->remedy, compare);
    return status;
}
