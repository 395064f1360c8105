/* The answer in three lines: see answer.h. A line that would be wider than a page is said again
 * with less in it; what is left out stands in the tables below. */
#include "report/answer.h"

#include "report/remedy_words.h"
#include "report/words.h"

#include <math.h>
#include <string.h>

pr_plan_kind pr_answer_kind(const pr_plan_set *set)
{
    int best = PR_PLAN_EVEN;
    for (int k = 0; k < PR_PLAN_KINDS; k++)
        if (set->plan[k].status == PR_OK && set->plan[k].go)
            return (pr_plan_kind)k;
    for (int k = 0; k < PR_PLAN_KINDS; k++) {
        const pr_plan *plan = &set->plan[k], *farthest = &set->plan[best];
        if (plan->status == PR_OK &&
            (farthest->status != PR_OK || plan->travel_m > farthest->travel_m))
            best = k;
    }
    return (pr_plan_kind)best;
}

#define append(line, ...) pr_text_append(line, PR_ANSWER_BYTES, __VA_ARGS__)

static size_t count_rerigs(const pr_plan *plan)
{
    size_t n = 0;
    for (size_t i = 0; i < plan->n_cycles; i++)
        n += plan->cycles[i].rerig;
    return n;
}

/* Shortest and longest rest between pulls, those that set out the rope again left out. */
static void rest_range(const pr_plan *plan, double *least_s, double *most_s)
{
    *least_s = HUGE_VAL;
    *most_s = 0.0;
    for (size_t i = 0; i + 1 < plan->n_cycles; i++) {
        if (plan->cycles[i].rerig)
            continue;
        *least_s = fmin(*least_s, plan->cycles[i].rest_s);
        *most_s = fmax(*most_s, plan->cycles[i].rest_s);
    }
    *least_s = fmin(*least_s, *most_s);
}

/* How much a line may say. To set out the rope is time that nobody finds in pulls and rests: the
 * last to be left out. */
typedef enum detail { TERSE, SHORT, RIG, MEDIUM, FULL } detail;

static void say_rest(char *line, const pr_plan *plan, detail level)
{
    double least_s, most_s;
    rest_range(plan, &least_s, &most_s);
    if (plan->kind == PR_PLAN_EVEN || most_s - least_s < 1.0)
        append(line, "rest %s", pr_text_duration(plan->rest_s).s);
    else if (level <= RIG)
        append(line, "rest to %s", pr_text_duration(most_s).s);
    else
        append(line, "rest %s to %s%s", pr_text_duration(least_s).s, pr_text_duration(most_s).s,
               level == FULL ? " (see table)" : "");
}

static void say_speeds(char *line, const pr_plan *plan)
{
    append(line, " at %s", pr_text_number(plan->pull_rpm, 0).s);
    if (fabs(plan->pull_rpm - plan->rest_rpm) >= 0.5)
        append(line, "/%s", pr_text_number(plan->rest_rpm, 0).s);
    append(line, " rpm");
}

static void say_pulls(char *line, const pr_plan *plan, detail level)
{
    if (plan->first_rest_s > 0.0)
        append(line, level > SHORT ? "charge %s first, then " : "charge %s; ",
               pr_text_duration_rough(plan->first_rest_s).s);
    if (plan->n_cycles == 1) {
        append(line, "one pull of %s", pr_text_duration(plan->cycles[0].pull_s).s);
        say_speeds(line, plan);
        return;
    }
    append(line, "pull %s, ", pr_text_duration(plan->pull_s).s);
    say_rest(line, plan, level);
    say_speeds(line, plan);
    append(line, ", %s", pr_text_times(plan->n_cycles).s);
}

/* ", rope reset 10 min" of the time is setting out the rope again. */
static void say_rerigs(char *line, const pr_plan *plan, detail level)
{
    double rerig_s = 0.0;
    for (size_t i = 0; i < plan->n_cycles; i++)
        rerig_s += plan->cycles[i].rerig ? plan->cycles[i].rest_s : 0.0;
    if (count_rerigs(plan) > 0 && level > TERSE)
        append(line, " + re-rig %s", pr_text_duration_rough(rerig_s).s);
}

/* GO: pull 30 s, rest 2 min 10 s at 1,600 rpm, 14 times: 38 min for 25 m, single line. */
static void say_go_with(char *line, const pr_plan *plan, pr_units units, detail level)
{
    line[0] = '\0';
    append(line, "GO: ");
    say_pulls(line, plan, level);
    say_rerigs(line, plan, level);
    append(line, ": %s", pr_text_duration_rough(plan->total_s).s);
    if (!isfinite(plan->distance_m)) { /* a job of so many pulls at a given current */
        append(line, ".");
        return;
    }
    if (level > RIG)
        append(line, " for %s", pr_units_text(units, PR_QUANTITY_DISTANCE, plan->distance_m).s);
    if (level == TERSE && plan->parts > 2)
        append(line, ", %d parts.", plan->parts);
    else
        append(line, ", %s.", pr_words_parts(plan->parts, level == FULL).s);
}

static void say_go(char *line, const pr_plan *plan, pr_units units)
{
    for (int level = FULL; level >= TERSE; level--) {
        say_go_with(line, plan, units, (detail)level);
        if (pr_text_columns(line) <= PR_ANSWER_COLUMNS)
            return;
    }
}

/* The limit with the least margin beside the one that binds. */
static pr_limit nearest_other(const pr_plan *plan, const pr_plan_set *set,
                              const pr_system_def *system, pr_limit but)
{
    pr_limit nearest = PR_LIMIT_NONE;
    double least = HUGE_VAL;
    for (int k = PR_LIMIT_NONE + 1; k < PR_LIMIT_COUNT; k++) {
        const double margin = pr_words_margin_frac(plan, set, system, (pr_limit)k);
        if (k != (int)but && margin < least) {
            least = margin;
            nearest = (pr_limit)k;
        }
    }
    return nearest;
}

/* "winch motor heat (to 140 of 140 °C)" */
static void say_limit(char *line, const pr_plan *plan, const pr_plan_set *set,
                      const pr_system_def *system, pr_limit limit, pr_units units)
{
    const pr_text nearness = pr_words_nearness(plan, set, system, limit, units);
    append(line, "%s", pr_words_limit(limit));
    if (nearness.s[0] != '\0')
        append(line, " (%s)", nearness.s);
}

static bool is_go(const pr_plan *plan)
{
    return plan->status == PR_OK && plan->go;
}

/* Another plan that is much quicker, or NULL; of two, the one with the usual pulls unless the
 * shortest is much quicker again. */
static const pr_plan *quicker(const pr_plan_set *set, const pr_plan *plan)
{
    const double much_frac = 0.85;
    const pr_plan *best = plan;
    for (int k = PR_PLAN_AS_NEEDED; k < PR_PLAN_KINDS; k++)
        if (is_go(&set->plan[k]) && set->plan[k].total_s < much_frac * best->total_s)
            best = &set->plan[k];
    return best != plan ? best : NULL;
}

/* " Quicker: double line, pulls of 15 s: 1 h 20 min." names what is different about it. */
static void say_quicker(char *line, const pr_plan *plan, const pr_plan *other)
{
    const size_t length = strlen(line);
    const bool other_pulls = fabs(other->pull_s - plan->pull_s) >= 0.5;
    const bool only_speed =
        other->kind != PR_PLAN_AS_NEEDED && other->parts == plan->parts && !other_pulls;
    append(line, " Quicker: ");
    if (other->kind == PR_PLAN_AS_NEEDED)
        append(line, "rest as needed (table below), ");
    if (other->parts != plan->parts)
        append(line, "%s, ", pr_words_parts(other->parts, false).s);
    if (other_pulls)
        append(line, "pulls of %s, ", pr_text_duration(other->pull_s).s);
    if (only_speed)
        append(line, "engine at %s rpm, ", pr_text_number(other->pull_rpm, 0).s);
    append(line, "%s.", pr_text_duration_rough(other->total_s).s);
    if (pr_text_columns(line) <= PR_ANSWER_COLUMNS)
        return;
    line[length] = '\0';
    append(line, " Quicker, see below: %s.", pr_text_duration_rough(other->total_s).s);
}

/* The quickest of what costs nothing, where it halves the time; NULL: nothing does. */
static const pr_remedy *free_shortcut(const pr_remedy_list *list, double total_s)
{
    const double much_frac = 0.5;
    const pr_remedy *best = NULL;
    double least_s = much_frac * total_s;
    for (size_t i = 0; list != NULL && i < list->n; i++) {
        const pr_remedy *r = &list->remedy[i];
        if (r->status != PR_OK || !r->go || r->effort != PR_EFFORT_FREE || r->total_s > least_s)
            continue;
        best = r;
        least_s = r->total_s;
    }
    return best;
}

static void say_what_binds(char *line, const pr_plan_report *report, const pr_plan *plan,
                           bool how_near, pr_units units)
{
    if (plan->binding != PR_LIMIT_NONE && how_near) {
        append(line, "What binds: ");
        say_limit(line, plan, report->set, &report->scenario->system, plan->binding, units);
        append(line, ".");
    } else if (plan->binding != PR_LIMIT_NONE || plan->binding_stop != PR_STOP_TIME) {
        append(line, "What binds: %s.", pr_words_binding(plan->binding, plan->binding_stop));
    } else {
        append(line, "Nothing binds%s.",
               plan->n_cycles > 1 ? ": handling the rope sets the rests" : "");
    }
}

/* "What binds: winch motor heat. Quicker: all rope out, an anchor 28.6 m away, 4 min 33 s." */
static void say_shortcut(char *line, const pr_plan_report *report, const pr_plan *plan,
                         const pr_remedy *free, pr_units units)
{
    char text[PR_REMEDY_BYTES];
    pr_remedy_text(free, units, true, text);
    const pr_text total = pr_text_duration_rough(free->total_s);
    for (int how_near = 1; how_near >= 0; how_near--) {
        line[0] = '\0';
        say_what_binds(line, report, plan, how_near != 0, units);
        append(line, " Quicker: %s, %s.", text, total.s);
        if (pr_text_columns(line) <= PR_ANSWER_COLUMNS)
            return;
    }
    line[0] = '\0';
    say_what_binds(line, report, plan, true, units);
    append(line, " Quicker, and free (see below): %s.", total.s);
}

static void say_next(char *line, const pr_plan_report *report, const pr_plan *plan, pr_units units)
{
    const pr_system_def *system = &report->scenario->system;
    const pr_limit nearest = nearest_other(plan, report->set, system, plan->binding);
    const size_t length = strlen(line);
    if (nearest == PR_LIMIT_NONE)
        return;
    append(line, plan->binding == PR_LIMIT_NONE ? " Nearest: " : " Next: ");
    say_limit(line, plan, report->set, system, nearest, units);
    append(line, ".");
    if (pr_text_columns(line) > PR_ANSWER_COLUMNS)
        line[length] = '\0';
}

static void say_binding(char *line, const pr_plan_report *report, const pr_plan *plan,
                        pr_units units)
{
    const pr_plan *other = quicker(report->set, plan);
    const double least_s = other != NULL ? other->total_s : plan->total_s;
    const pr_remedy *shortcut = free_shortcut(report->remedies, least_s);
    if (shortcut != NULL) {
        say_shortcut(line, report, plan, shortcut, units);
        return;
    }
    say_what_binds(line, report, plan, true, units);
    if (other != NULL)
        say_quicker(line, plan, other);
    else
        say_next(line, report, plan, units);
}

static void say_outlook(char *line, const pr_plan_report *report, const pr_plan *plan,
                        pr_case which, bool with_rests, pr_units units)
{
    const pr_outlook *outlook = &report->outlook[which];
    append(line, which == PR_CASE_LOW ? "If " : " If it takes ");
    append(line, "%s", pr_words_force_and_plate(report->set->demand_N[which], units).s);
    append(line, which == PR_CASE_LOW ? " moves it: " : ": ");
    if (!outlook->known || !outlook->go) {
        append(line, outlook->known ? "NO-GO." : "not computed.");
        return;
    }
    append(line, "%s", pr_text_duration_rough(outlook->total_s).s);
    if (outlook->parts > 0 && outlook->parts != plan->parts)
        append(line, ", %s", pr_words_parts(outlook->parts, false).s);
    if (which == PR_CASE_HIGH && with_rests && outlook->rest_s > 0.0) /* one pull has none */
        append(line, ", rests to %s", pr_text_duration(outlook->rest_s).s);
    append(line, ".");
}

static void say_worse(char *line, const pr_plan_report *report, const pr_plan *plan, pr_units units)
{
    if (isnan(report->set->demand_N[PR_CASE_LIKELY])) {
        append(line, "%s", pr_words_pull_given);
        return;
    }
    if (!(report->set->demand_N[PR_CASE_LIKELY] > 0.0)) {
        append(line, "It rolls by itself: a person at the brake or chocks, nobody below; a winch "
                     "is no brake.");
        return;
    }
    for (int with_rests = 1; with_rests >= 0; with_rests--) {
        line[0] = '\0';
        say_outlook(line, report, plan, PR_CASE_LOW, false, units);
        say_outlook(line, report, plan, PR_CASE_HIGH, with_rests != 0, units);
        if (pr_text_columns(line) <= PR_ANSWER_COLUMNS)
            return;
    }
}

static bool moves_at_all(const pr_plan *plan)
{
    return plan->n_cycles > 0 && (plan->travel_m > 0.005 || !isfinite(plan->distance_m));
}

/* Nothing moves, and the charge at the start is below what must be kept: no rest was enough. */
static bool starts_flat(const pr_plan *plan, const pr_plan_set *set, const pr_system_def *system)
{
    return !moves_at_all(plan) && !isfinite(plan->overload.at_m) &&
           set->limits.on[PR_LIMIT_RESERVE] &&
           system->start_soc_frac[system->starter_post] < set->limits.reserve_frac;
}

static void say_no_go(char *line, const pr_plan *plan, bool flat, pr_units units)
{
    append(line, "NO-GO: ");
    if (flat) {
        append(line, "the battery is too flat to begin.");
        return;
    }
    if (!moves_at_all(plan)) {
        append(line, plan->ended_by == PR_STOP_LIMIT ? "no pull stays inside the limits."
                                                     : "this rig does not move it.");
        return;
    }
    append(line, "it gets %s", pr_units_text(units, PR_QUANTITY_DISTANCE, plan->travel_m).s);
    if (isfinite(plan->distance_m))
        append(line, " of %s", pr_units_text(units, PR_QUANTITY_DISTANCE, plan->distance_m).s);
    append(line, " in %s (%zu pull%s, %s), then it ends.", pr_text_duration_rough(plan->total_s).s,
           plan->n_cycles, plan->n_cycles == 1 ? "" : "s", pr_words_parts(plan->parts, false).s);
}

static void say_end(char *line, const pr_plan *plan, const pr_plan_set *set,
                    const pr_scenario *scenario, pr_units units)
{
    const pr_system_def *system = &scenario->system;
    append(line, "What ends it: ");
    if (plan->over_time)
        append(line, "the time allowed, %s, is over; what binds is %s",
               pr_text_duration_rough(scenario->plan.total_max_s).s,
               pr_words_binding(plan->binding, plan->binding_stop));
    else if (plan->ended_by == PR_STOP_STALL && isfinite(plan->overload.at_m))
        append(line, "%s", pr_words_overload(&plan->overload, scenario->plan.rope_factor, units).s);
    else if (plan->ended_by == PR_STOP_LIMIT)
        say_limit(line, plan, set, system, plan->ended_limit, units);
    else if (plan->n_cycles > 0 && plan->cycles[plan->n_cycles - 1].pull.stop == plan->ended_by)
        append(line, "%s", pr_words_end(&plan->cycles[plan->n_cycles - 1].pull, system).s);
    else
        append(line, "%s", pr_words_stop(plan->ended_by));
    append(line, ".");
}

static void say_flat_end(char *line, const pr_plan *plan, const pr_plan_set *set,
                         const pr_scenario *scenario)
{
    const pr_system_def *system = &scenario->system;
    append(line, "What ends it: battery reserve (at %s, keep %s)",
           pr_text_percent(system->start_soc_frac[system->starter_post], 0).s,
           pr_text_percent(set->limits.reserve_frac, 0).s);
    if (system->has_alternator)
        append(line, "; %s at %s rpm does not fill it up enough",
               pr_text_duration_rough(scenario->plan.rest_max_s).s,
               pr_text_number(plan->rest_rpm, 0).s);
    append(line, ".");
}

static const double WORTH_m = 0.5;

/* The first that makes a go of it; else the one that gets farthest, but of those that get about as
 * far the cheapest: they stand in that order. */
static const pr_remedy *best_remedy(const pr_remedy_list *list)
{
    const pr_remedy *best = NULL;
    for (size_t i = 0; list != NULL && i < list->n; i++) {
        const pr_remedy *r = &list->remedy[i];
        if (r->status != PR_OK)
            continue;
        if (r->go)
            return r;
        if (r->gained_m >= WORTH_m + (best == NULL ? 0.0 : best->gained_m))
            best = r;
    }
    return best;
}

static void say_best(char *line, const pr_remedy *best, pr_units units)
{
    for (int brief = 0; brief <= 1; brief++) {
        char text[PR_REMEDY_BYTES];
        line[0] = '\0';
        pr_remedy_text(best, units, brief != 0, text);
        if (best->go)
            append(line, "Best remedy: %s: then %s.", text,
                   pr_text_duration_rough(best->total_s).s);
        else
            append(line, "Nothing computed gets it out; best: %s (%s further).", text,
                   pr_units_text(units, PR_QUANTITY_DISTANCE, best->gained_m).s);
        if (pr_text_columns(line) <= PR_ANSWER_COLUMNS)
            return;
    }
}

/* What holds, or reaches; false: another rig is no help there. */
static bool say_stronger(char *line, const pr_plan *plan, double rope_factor, pr_units units)
{
    const pr_overload *o = &plan->overload;
    if (plan->ended_by != PR_STOP_STALL || !isfinite(o->at_m))
        return false;
    const pr_text need = pr_words_plate_force(o->need_N, units);
    switch (o->what) {
    case PR_OVERLOADED_ANCHOR:
        append(line, "Best remedy: an anchor for %s, or two that share it; then plan again.",
               need.s);
        return true;
    case PR_OVERLOADED_BLOCK:
        append(line, "Best remedy: a block for %s; then plan again.", need.s);
        return true;
    case PR_OVERLOADED_ROPE:
        append(line, "Best remedy: a rope that breaks at %s or more; then plan again.",
               pr_units_text(units, PR_QUANTITY_FORCE, rope_factor * o->need_N).s);
        return true;
    case PR_OVERLOADED_REACH:
        append(line, "Best remedy: %s more of strap or chain, or an anchor that much nearer.",
               pr_units_text(units, PR_QUANTITY_DISTANCE, o->missing_m).s);
        return true;
    case PR_OVERLOADED_WINCH:
        break;
    }
    return false;
}

static void say_remedy(char *line, const pr_plan_report *report, const pr_plan *plan,
                       pr_units units)
{
    const pr_remedy *best = best_remedy(report->remedies);
    if ((best == NULL || !best->go) &&
        say_stronger(line, plan, report->scenario->plan.rope_factor, units))
        return;
    const int at_hand = report->scenario->plan.blocks + 1, needed = report->set->parts_needed;
    const bool flat = starts_flat(plan, report->set, &report->scenario->system);
    if (flat && (best == NULL || !best->go))
        append(line,
               "Jump-start it, then charge longer (plan again with plan.longest_rest: 2 h) or "
               "from another vehicle.");
    else if (needed > at_hand && (best == NULL || !best->go))
        append(line, "Best remedy: %d block%s more, for a %d-part line; then plan again.",
               needed - at_hand, needed - at_hand == 1 ? "" : "s", needed);
    else if (best != NULL)
        say_best(line, best, units);
    else
        append(line, "Nothing computed gets it out. Do not start; get help, or dig and unload.");
}

void pr_answer_make(const pr_plan_report *report, pr_units units, pr_answer *answer)
{
    const pr_plan_set *set = report->set;
    *answer = (pr_answer){.kind = pr_answer_kind(set)};
    const pr_plan *plan = &set->plan[answer->kind];
    const pr_system_def *system = &report->scenario->system;
    answer->go = plan->status == PR_OK && plan->go;
    if (plan->status != PR_OK) {
        append(answer->line[0], "NO ANSWER: the search for a plan failed: %s.",
               pr_status_text(plan->status));
        append(answer->line[1], "Nothing can be said about this recovery from this file.");
        append(answer->line[2], "Do not start on the strength of this run.");
    } else if (answer->go) {
        say_go(answer->line[0], plan, units);
        say_binding(answer->line[1], report, plan, units);
        say_worse(answer->line[2], report, plan, units);
    } else {
        const bool flat = starts_flat(plan, set, system);
        say_no_go(answer->line[0], plan, flat, units);
        if (flat)
            say_flat_end(answer->line[1], plan, set, report->scenario);
        else
            say_end(answer->line[1], plan, set, report->scenario, units);
        say_remedy(answer->line[2], report, plan, units);
    }
}
