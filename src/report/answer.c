/* The answer in three lines: see answer.h. Each line is to fit a hundred columns. */
#include "report/answer.h"

#include "report/words.h"

#include <math.h>
#include <stdarg.h>
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

static void append(char *line, const char *format, ...) __attribute__((format(printf, 2, 3)));

static void append(char *line, const char *format, ...)
{
    const size_t used = strlen(line);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(line + used, PR_ANSWER_BYTES - used, format, arguments);
    va_end(arguments);
}

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

static void say_rest(char *line, const pr_plan *plan)
{
    double least_s, most_s;
    rest_range(plan, &least_s, &most_s);
    if (plan->kind == PR_PLAN_EVEN || most_s - least_s < 1.0)
        append(line, "rest %s", pr_text_duration(plan->rest_s).s);
    else
        append(line, "rest %s to %s (see table)", pr_text_duration(least_s).s,
               pr_text_duration(most_s).s);
}

static pr_text rpm(double engine_rpm)
{
    return pr_units_text(PR_UNITS_METRIC, PR_QUANTITY_ENGINE_SPEED, engine_rpm);
}

static void say_pulls(char *line, const pr_plan *plan)
{
    const bool same_speed = fabs(plan->pull_rpm - plan->rest_rpm) < 0.5;
    if (plan->first_rest_s > 0.0)
        append(line, "charge %s first, then ", pr_text_duration_rough(plan->first_rest_s).s);
    if (plan->n_cycles == 1) {
        append(line, "one pull of %s at %s", pr_text_duration(plan->cycles[0].pull_s).s,
               rpm(plan->pull_rpm).s);
        return;
    }
    append(line, "pull %s", pr_text_duration(plan->pull_s).s);
    if (!same_speed)
        append(line, " at %s", rpm(plan->pull_rpm).s);
    append(line, ", ");
    say_rest(line, plan);
    append(line, " at %s, %s", rpm(plan->rest_rpm).s, pr_text_times(plan->n_cycles).s);
}

/* GO: pull 30 s, rest 2 min 10 s at 1,600 rpm, 14 times: 38 min for 25 m, single line. */
static void say_go(char *line, const pr_plan *plan, pr_units units)
{
    append(line, "GO: ");
    say_pulls(line, plan);
    append(line, ": %s", pr_text_duration_rough(plan->total_s).s);
    if (isfinite(plan->distance_m))
        append(line, " for %s", pr_units_text(units, PR_QUANTITY_DISTANCE, plan->distance_m).s);
    append(line, ", %s", pr_words_parts(plan->parts).s);
    const size_t rerigs = count_rerigs(plan);
    if (rerigs > 0)
        append(line, ", rope reset %s", pr_text_times(rerigs).s);
    append(line, ".");
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

static void say_binding(char *line, const pr_plan *plan, const pr_plan_set *set,
                        const pr_system_def *system, pr_units units)
{
    if (plan->binding == PR_LIMIT_NONE && plan->binding_stop == PR_STOP_TIME) {
        const pr_limit nearest = nearest_other(plan, set, system, PR_LIMIT_NONE);
        append(line, "Nothing binds: no rest is longer than handling the rope takes. Nearest: %s.",
               pr_words_nearness(plan, set, system, nearest, units).s);
        return;
    }
    const pr_text nearness = pr_words_nearness(plan, set, system, plan->binding, units);
    append(line, "What binds: %s", pr_words_binding(plan->binding, plan->binding_stop));
    if (nearness.s[0] != '\0')
        append(line, "; %s", nearness.s);
    append(line, ".");
}

static void say_worse(char *line, const pr_plan_set *set, pr_units units)
{
    const pr_text easy = pr_units_text(units, PR_QUANTITY_FORCE, set->demand_N[PR_CASE_LOW]);
    const pr_text hard = pr_units_text(units, PR_QUANTITY_FORCE, set->demand_N[PR_CASE_HIGH]);
    append(line, "If it is stuck less (%s): ", easy.s);
    if (set->case_go[PR_CASE_LOW])
        append(line, "%s. ", pr_text_duration_rough(set->case_total_s[PR_CASE_LOW]).s);
    else
        append(line, "the same plan breaks a limit. ");
    append(line, "If it is stuck worse (%s): ", hard.s);
    if (set->case_go[PR_CASE_HIGH])
        append(line, "the plan holds, %s.",
               pr_text_duration_rough(set->case_total_s[PR_CASE_HIGH]).s);
    else
        append(line, "this plan does NOT hold.");
}

static bool moves_at_all(const pr_plan *plan)
{
    return plan->travel_m > 0.005;
}

static void say_no_go(char *line, const pr_plan *plan, pr_units units)
{
    append(line, "NO-GO: ");
    if (plan->n_cycles == 0 || !moves_at_all(plan)) {
        append(line, "this rig does not move it.");
        return;
    }
    append(line, "it gets %s", pr_units_text(units, PR_QUANTITY_DISTANCE, plan->travel_m).s);
    if (isfinite(plan->distance_m))
        append(line, " of %s", pr_units_text(units, PR_QUANTITY_DISTANCE, plan->distance_m).s);
    append(line, " in %s (%zu pull%s, %s), then it ends.", pr_text_duration_rough(plan->total_s).s,
           plan->n_cycles, plan->n_cycles == 1 ? "" : "s", pr_words_parts(plan->parts).s);
}

static void say_end(char *line, const pr_plan *plan, const pr_plan_set *set,
                    const pr_system_def *system, pr_units units)
{
    append(line, "What ends it: ");
    if (plan->over_time) {
        append(line, "the time allowed, %s, is over.", pr_text_duration_rough(plan->total_s).s);
        return;
    }
    if (plan->ended_by == PR_STOP_STALL && isfinite(plan->overload.at_m)) {
        append(line, "too heavy: the line must pull %s there, the winch is rated for %s.",
               pr_units_text(units, PR_QUANTITY_FORCE, plan->overload.need_N).s,
               pr_units_text(units, PR_QUANTITY_FORCE, plan->overload.capacity_N).s);
        return;
    }
    if (plan->ended_by != PR_STOP_LIMIT) {
        append(line, "%s.", pr_words_stop(plan->ended_by));
        return;
    }
    const pr_text nearness = pr_words_nearness(plan, set, system, plan->ended_limit, units);
    append(line, "%s", pr_words_limit(plan->ended_limit));
    if (nearness.s[0] != '\0')
        append(line, "; %s", nearness.s);
    append(line, ".");
}

static void say_remedy(char *line, const pr_plan *plan, const pr_plan_set *set,
                       const pr_plan_def *choices, const char *remedy)
{
    const int parts_at_hand = choices->blocks + 1;
    if (remedy != NULL)
        append(line, "Best remedy: %s.", remedy);
    else if (set->parts_needed > parts_at_hand)
        append(line,
               "Best remedy: %d more block%s: a %d-part line brings the pull within the winch.",
               set->parts_needed - parts_at_hand, set->parts_needed - parts_at_hand == 1 ? "" : "s",
               set->parts_needed);
    else if (set->parts_needed == 0)
        append(line, "Best remedy: dig and unload first: even a 4-part line cannot move this.");
    else if (set->parts_needed > plan->parts)
        append(line, "Best remedy: a %s.", pr_words_parts(set->parts_needed).s);
    else
        append(line, "Do not start: get help, or change the rig and plan again.");
}

void pr_answer_make(const pr_scenario *scenario, const pr_plan_set *set, const char *remedy,
                    pr_units units, pr_answer *answer)
{
    *answer = (pr_answer){.kind = pr_answer_kind(set)};
    const pr_plan *plan = &set->plan[answer->kind];
    const pr_system_def *system = &scenario->system;
    answer->go = plan->status == PR_OK && plan->go;
    if (plan->status != PR_OK) {
        append(answer->line[0], "NO ANSWER: the search for a plan failed: %s.",
               pr_status_text(plan->status));
        append(answer->line[1], "Nothing can be said about this recovery from this file.");
        append(answer->line[2], "Do not start on the strength of this run.");
    } else if (answer->go) {
        say_go(answer->line[0], plan, units);
        say_binding(answer->line[1], plan, set, system, units);
        say_worse(answer->line[2], set, units);
    } else {
        say_no_go(answer->line[0], plan, units);
        say_end(answer->line[1], plan, set, system, units);
        say_remedy(answer->line[2], plan, set, &scenario->plan, remedy);
    }
}
