/* The report of a plan, from made-up results: what a driver reads, and what a program reads. */
#include "report/answer.h"
#include "report/plan_json.h"
#include "report/plan_text.h"
#include "report/remedy_words.h"
#include "report/words.h"
#include "support/check.h"

#include <locale.h>
#include <stdlib.h>
#include <string.h>

#define NOT_A_NUMBER __builtin_nan("")

enum { CYCLES = 14 };

typedef struct fake {
    pr_scenario scenario;
    pr_plan_set set;
    pr_remedy_list remedies;
    pr_cycle cycles[CYCLES];
    pr_plan_report report;
} fake;

static void fake_plan(fake *f, pr_plan *plan, pr_plan_kind kind)
{
    *plan = (pr_plan){.kind = kind,
                      .status = PR_OK,
                      .go = true,
                      .pull_s = 30.0,
                      .rest_s = 130.0,
                      .pull_rpm = 1600.0,
                      .rest_rpm = 1600.0,
                      .parts = 1,
                      .n_cycles = CYCLES,
                      .cycles = f->cycles,
                      .total_s = 38.0 * 60.0,
                      .travel_m = 25.0,
                      .distance_m = 25.0,
                      .binding = PR_LIMIT_RESERVE,
                      .binding_stop = PR_STOP_LIMIT,
                      .least_soc_frac = 0.624,
                      .least_box_V = 11.0,
                      .most_armature_degC = 95.0,
                      .least_restart_V = 11.2,
                      .most_anchor_N = 21400.0,
                      .meter = {0.6, 0.04, 0.88, 260.0}};
    plan->overload.at_m = __builtin_inf();
}

static fake *fake_new(void)
{
    fake *f = calloc(1, sizeof *f);
    assert_non_null(f);
    f->scenario.system.ambient_degC = 6.0;
    f->scenario.system.start_soc_frac[0] = 0.95;
    f->scenario.system.cranking.min_V = 9.6;
    strcpy(f->scenario.title, "A \033[31mtitle");
    strcpy(f->scenario.path, "some.yaml");
    f->set.limits = (pr_limits){.reserve_frac = 0.6, .bus_min_V = 10.5, .motor_max_degC = 140.0};
    for (int k = PR_LIMIT_NONE + 1; k < PR_LIMIT_COUNT; k++)
        f->set.limits.on[k] = true;
    f->set.reserve_computed_frac = 0.5;
    for (int k = 0; k < PR_CASE_COUNT; k++)
        f->set.demand_N[k] = 16000.0 + 6000.0 * k;
    f->set.parts_needed = 1;
    for (int i = 0; i < CYCLES; i++)
        f->cycles[i] = (pr_cycle){.start_s = 160.0 * i,
                                  .pull_s = 30.0,
                                  .rest_s = 130.0,
                                  .travel_m = 1.8 * (i + 1),
                                  .layer = 3,
                                  .soc_after_pull_frac = 0.9,
                                  .soc_after_rest_frac = 0.92};
    f->cycles[CYCLES - 1].pull.stop = PR_STOP_TRAVEL;
    for (int k = 0; k < PR_PLAN_KINDS; k++)
        fake_plan(f, &f->set.plan[k], (pr_plan_kind)k);
    f->report = (pr_plan_report){.scenario = &f->scenario, .set = &f->set};
    f->report.outlook[PR_CASE_LOW] = (pr_outlook){true, true, 1440.0, 60.0};
    f->report.outlook[PR_CASE_HIGH] = (pr_outlook){true, false, 0.0, 0.0};
    return f;
}

static void assert_answer(const fake *f, pr_units units, int line, const char *expected)
{
    pr_answer answer;
    pr_answer_make(&f->report, units, &answer);
    assert_string_equal(answer.line[line], expected);
    for (int i = 0; i < PR_ANSWER_LINES; i++)
        assert_true(pr_text_columns(answer.line[i]) <= PR_ANSWER_COLUMNS);
}

static void test_answer_of_a_go(void **state)
{
    (void)state;
    fake *f = fake_new();
    assert_answer(f, PR_UNITS_METRIC, 0,
                  "GO: pull 30 s, rest 2 min 10 s at 1,600 rpm, 14 times: 38 min for 25 m, single "
                  "line.");
    assert_answer(
        f, PR_UNITS_METRIC, 1,
        "What binds: battery reserve (to 62 %, keep 60 %). Next: low voltage (to 11.00 V, at "
        "least 10.50 V).");
    assert_answer(f, PR_UNITS_METRIC, 2,
                  "If 16.0 kN (1,630 kg) moves it: 24 min. If it takes 28.0 kN (2,860 kg): NO-GO.");
    assert_answer(f, PR_UNITS_US, 2,
                  "If 3,600 lbf moves it: 24 min. If it takes 6,290 lbf: NO-GO.");
    f->report.outlook[PR_CASE_HIGH] = (pr_outlook){true, true, 45.0, 0.0, 1}; /* one pull */
    assert_answer(f, PR_UNITS_METRIC, 2,
                  "If 16.0 kN (1,630 kg) moves it: 24 min. If it takes 28.0 kN (2,860 kg): 45 s.");
    f->report.outlook[PR_CASE_HIGH] = (pr_outlook){true, true, 2700.0, 183.0, 1};
    assert_answer(f, PR_UNITS_METRIC, 2,
                  "If 16.0 kN (1,630 kg) moves it: 24 min. If it takes 28.0 kN (2,860 kg): 45 min, "
                  "rests to 3 min 3 s.");
    /* shorter rests than the likely plan's, because it is rigged otherwise: that is said first */
    f->report.outlook[PR_CASE_HIGH] = (pr_outlook){true, true, 6420.0, 100.0, 2};
    assert_answer(f, PR_UNITS_METRIC, 2,
                  "If 16.0 kN (1,630 kg) moves it: 24 min. If it takes 28.0 kN (2,860 kg): 1 h "
                  "47 min, double line.");
    free(f);
}

/* Pulls and rests do not add up to the time without it. */
static void test_answer_tells_the_rerig(void **state)
{
    (void)state;
    fake *f = fake_new();
    f->cycles[5].rerig = true;
    f->cycles[5].rest_s = 600.0;
    assert_answer(
        f, PR_UNITS_METRIC, 0,
        "GO: pull 30 s, rest 2 min 10 s at 1,600 rpm, 14 times + re-rig 10 min: 38 min for 25 m, "
        "single line.");
    f->set.plan[PR_PLAN_EVEN].parts = 2;
    f->set.plan[PR_PLAN_EVEN].total_s += 3600.0;
    assert_answer(
        f, PR_UNITS_METRIC, 0,
        "GO: pull 30 s, rest 2 min 10 s at 1,600 rpm, 14 times + re-rig 10 min: 1 h 38 min, "
        "double line.");
    free(f);
}

/* Downhill it needs no pull: what then matters stands in the place of the outlook. */
static void test_answer_downhill(void **state)
{
    (void)state;
    fake *f = fake_new();
    f->set.demand_N[PR_CASE_LIKELY] = 0.0;
    assert_answer(
        f, PR_UNITS_METRIC, 2,
        "It rolls by itself: a person at the brake or chocks, nobody below; a winch is no "
        "brake.");
    free(f);
}

/* The longest that may have to be said still fits a line. */
static void test_answer_drops_detail_to_fit(void **state)
{
    (void)state;
    fake *f = fake_new();
    pr_plan *plan = &f->set.plan[PR_PLAN_AS_NEEDED];
    f->set.plan[PR_PLAN_EVEN].go = false;
    plan->first_rest_s = 1500.0;
    plan->pull_rpm = 2500.0;
    plan->parts = 3;
    plan->total_s = 3.9 * 3600.0;
    f->cycles[3].rest_s = 449.0;
    f->cycles[5].rerig = true;
    assert_answer(
        f, PR_UNITS_METRIC, 0,
        "GO: charge 25 min; pull 30 s, rest to 7 min 29 s at 2,500/1,600 rpm, 14 times: 3 h "
        "54 min, 3 parts.");
    free(f);
}

static void test_answer_of_a_quicker_plan(void **state)
{
    (void)state;
    fake *f = fake_new();
    f->set.plan[PR_PLAN_AS_NEEDED].total_s = 1500.0;
    f->set.plan[PR_PLAN_SHORTEST].total_s = 1400.0;
    assert_answer(f, PR_UNITS_METRIC, 1,
                  "What binds: battery reserve (to 62 %, keep 60 %). Quicker: rest as needed "
                  "(table below), 25 min.");
    f->set.plan[PR_PLAN_SHORTEST].total_s = 1000.0;
    f->set.plan[PR_PLAN_SHORTEST].parts = 2;
    f->set.plan[PR_PLAN_SHORTEST].pull_s = 15.0;
    assert_answer(
        f, PR_UNITS_METRIC, 1,
        "What binds: battery reserve (to 62 %, keep 60 %). Quicker: double line, pulls of 15 s, 17 "
        "min.");
    f->set.plan[PR_PLAN_SHORTEST].parts = 1;
    f->set.plan[PR_PLAN_SHORTEST].pull_s = 30.0;
    f->set.plan[PR_PLAN_SHORTEST].pull_rpm = 2500.0;
    assert_answer(f, PR_UNITS_METRIC, 1,
                  "What binds: battery reserve (to 62 %, keep 60 %). Quicker: engine at 2,500 rpm, "
                  "17 min.");
    /* what costs nothing and halves even that goes before it */
    f->report.remedies = &f->remedies;
    f->remedies.n = 2;
    f->remedies.remedy[0] = (pr_remedy){.kind = PR_REMEDY_LOWER_LAYER,
                                        .effort = PR_EFFORT_FREE,
                                        .change = {.layer = 1, .anchor_m = 28.6},
                                        .go = true,
                                        .total_s = 499.0};
    f->remedies.remedy[1] = (pr_remedy){
        .kind = PR_REMEDY_SECOND_SWITCH, .effort = PR_EFFORT_BUY, .go = true, .total_s = 100.0};
    assert_answer(f, PR_UNITS_METRIC, 1,
                  "What binds: battery reserve. Quicker: all rope out, an anchor 28.6 m away, "
                  "8 min 19 s.");
    f->remedies.remedy[0].total_s = 501.0;
    assert_answer(f, PR_UNITS_METRIC, 1,
                  "What binds: battery reserve (to 62 %, keep 60 %). Quicker: engine at 2,500 rpm, "
                  "17 min.");
    free(f);
}

/* Which cable, how hot, of how much. */
static void test_answer_names_the_cable(void **state)
{
    (void)state;
    fake *f = fake_new();
    f->scenario.system.ambient_degC = 5.0;
    f->scenario.system.run[PR_RUN_WINCH].present = true;
    f->scenario.system.run[PR_RUN_WINCH].def.insulation_degC = 105.0;
    pr_plan *plan = &f->set.plan[PR_PLAN_EVEN];
    plan->binding = PR_LIMIT_CABLE_HEAT;
    plan->most_wire_run = PR_RUN_WINCH;
    plan->most_wire_ratio = 0.99;
    assert_answer(
        f, PR_UNITS_METRIC, 1,
        "What binds: cable heat (winch cable to 104 of 105 °C). Next: battery reserve (to "
        "62 %, keep 60 %).");
    plan->binding = PR_LIMIT_RESERVE; /* nearer than any other */
    assert_answer(f, PR_UNITS_METRIC, 1,
                  "What binds: battery reserve (to 62 %, keep 60 %). Next: cable heat (winch cable "
                  "to 104 of 105 °C).");
    plan->binding = PR_LIMIT_CABLE_HEAT;
    plan->most_wire_run = PR_RUN_FIRST_LOAD; /* not there: nothing is made up */
    pr_answer answer;
    pr_answer_make(&f->report, PR_UNITS_METRIC, &answer);
    assert_non_null(strstr(answer.line[1], "What binds: cable heat. "));
    free(f);
}

static void make_no(fake *f)
{
    for (int k = 0; k < PR_PLAN_KINDS; k++) {
        f->set.plan[k].go = false;
        f->set.plan[k].travel_m = 6.2;
        f->set.plan[k].total_s = 720.0;
        f->set.plan[k].n_cycles = 4;
        f->set.plan[k].ended_by = PR_STOP_LIMIT;
        f->set.plan[k].ended_limit = PR_LIMIT_RESERVE;
    }
}

static void test_answer_of_a_no(void **state)
{
    (void)state;
    fake *f = fake_new();
    make_no(f);
    assert_answer(f, PR_UNITS_METRIC, 0,
                  "NO-GO: it gets 6.2 m of 25 m in 12 min (4 pulls, single line), then it ends.");
    assert_answer(f, PR_UNITS_METRIC, 1, "What ends it: battery reserve (to 62 %, keep 60 %).");
    assert_answer(f, PR_UNITS_METRIC, 2,
                  "Nothing computed gets it out. Do not start; get help, or dig and unload.");
    f->set.parts_needed = 3;
    assert_answer(f, PR_UNITS_METRIC, 2,
                  "Best remedy: 2 blocks more, for a 3-part line; then plan again.");
    f->report.remedies = &f->remedies;
    f->remedies.n = 2;
    f->remedies.remedy[0] = (pr_remedy){.status = PR_ERR_NO_CONVERGENCE, .go = true};
    f->remedies.remedy[1] =
        (pr_remedy){.kind = PR_REMEDY_SECOND_SWITCH, .go = true, .total_s = 2520.0};
    assert_answer(
        f, PR_UNITS_METRIC, 2,
        "Best remedy: second battery like the first, joined by a hand switch: then 42 min.");
    f->set.parts_needed = 1;
    /* about as far: the free one, which stands first; half a metre further: the other */
    f->remedies.remedy[0] = (pr_remedy){.kind = PR_REMEDY_SHORTER_PULLS,
                                        .effort = PR_EFFORT_FREE,
                                        .change = {.pull_s = 15.0, .was_s = 30.0},
                                        .gained_m = 3.6};
    f->remedies.remedy[1] =
        (pr_remedy){.kind = PR_REMEDY_JUMP,
                    .effort = PR_EFFORT_BORROW,
                    .change = {.gauge_kind = PR_GAUGE_MM2, .gauge = 25.0, .awg = 3.0},
                    .gained_m = 3.9};
    assert_answer(
        f, PR_UNITS_METRIC, 2,
        "Nothing computed gets it out; best: shorter pulls: 15 s instead of 30 s (3.6 m further).");
    f->remedies.remedy[1].gained_m = 4.2;
    assert_answer(f, PR_UNITS_METRIC, 2,
                  "Nothing computed gets it out; best: jump leads (25 mm2) from another vehicle "
                  "(4.2 m further).");
    assert_answer(f, PR_UNITS_US, 2,
                  "Nothing computed gets it out; best: jump leads (3 AWG) from another vehicle "
                  "(14 ft further).");
    free(f);
}

static void test_remedies_say_what_they_save_and_cost(void **state)
{
    (void)state;
    const pr_remedy saves = {.go = true, .saved_s = 184.0}, costs = {.go = true, .saved_s = -40.0},
                    turns = {.go = true, .turns_to_go = true, .saved_s = NOT_A_NUMBER},
                    further = {.gained_m = 12.0},
                    failed = {.status = PR_ERR_NO_CONVERGENCE, .go = true, .saved_s = 184.0};
    assert_string_equal(pr_remedy_effect(&saves, PR_UNITS_METRIC).s, "saves 3 min 4 s");
    assert_string_equal(pr_remedy_effect(&costs, PR_UNITS_METRIC).s, "costs 40 s");
    assert_string_equal(pr_remedy_effect(&turns, PR_UNITS_METRIC).s, "turns no into go");
    assert_string_equal(pr_remedy_effect(&further, PR_UNITS_METRIC).s, "12 m further");
    assert_true(pr_remedy_matters(&saves) && pr_remedy_matters(&turns) &&
                pr_remedy_matters(&further));
    assert_false(pr_remedy_matters(&costs) || pr_remedy_matters(&failed));
}

static void assert_remedy(pr_remedy_kind kind, pr_remedy_change change, pr_units units,
                          const char *expected)
{
    const pr_remedy remedy = {.kind = kind, .effort = PR_EFFORT_BUY, .change = change};
    char text[PR_REMEDY_BYTES];
    pr_remedy_text(&remedy, units, false, text);
    assert_string_equal(text, expected);
}

static void test_remedies_in_the_units_of_the_report(void **state)
{
    (void)state;
    const pr_remedy_change warm = {.battery_degC = 25.0};
    assert_remedy(PR_REMEDY_WARM_BATTERY, warm, PR_UNITS_METRIC,
                  "battery warmed to 25 °C before the start (drive, or a warm place)");
    assert_remedy(PR_REMEDY_WARM_BATTERY, warm, PR_UNITS_US,
                  "battery warmed to 77 °F before the start (drive, or a warm place)");
    const pr_remedy_change rope = {.layer = 1, .anchor_m = 24.4};
    assert_remedy(PR_REMEDY_LOWER_LAYER, rope, PR_UNITS_US,
                  "pay out all the rope but the reserve wraps, to an anchor 80 ft away: layer 1");
    const pr_remedy_change fuse = {.rated_A = 300.0,
                                   .was_A = 100.0,
                                   .gauge_kind = PR_GAUGE_MM2,
                                   .gauge = 35.0,
                                   .was_gauge = 6.0};
    assert_remedy(PR_REMEDY_WINCH_FUSE, fuse, PR_UNITS_METRIC,
                  "winch fuse of 300 A instead of 100 A, and its cable of 35 mm2, not 6 mm2; never "
                  "bridge or swap a fuse for one that the cable cannot bear");
    const pr_remedy_change all = {.together =
                                      1u << PR_REMEDY_HAND_THROTTLE | 1u << PR_REMEDY_LOADS_OFF};
    assert_remedy(PR_REMEDY_ALL_FREE, all, PR_UNITS_METRIC,
                  "all that is free, at once: hand throttle, loads off in rests too");
    for (int kind = 0; kind < PR_REMEDY_COUNT; kind++) { /* none is without words */
        const pr_remedy remedy = {.kind = (pr_remedy_kind)kind};
        char text[PR_REMEDY_BYTES];
        pr_remedy_text(&remedy, PR_UNITS_METRIC, true, text);
        assert_true(strlen(text) > 10);
    }
}

static void test_answer_when_it_does_not_move(void **state)
{
    (void)state;
    fake *f = fake_new();
    make_no(f);
    for (int k = 0; k < PR_PLAN_KINDS; k++) {
        pr_plan *plan = &f->set.plan[k];
        plan->travel_m = 0.0;
        plan->n_cycles = 0;
        plan->ended_by = PR_STOP_STALL;
        plan->overload = (pr_overload){0.0, PR_OVERLOADED_WINCH, 53000.0, 22400.0, 0.0};
    }
    assert_answer(f, PR_UNITS_METRIC, 0, "NO-GO: this rig does not move it.");
    assert_answer(
        f, PR_UNITS_METRIC, 1,
        "What ends it: the line must pull 53.0 kN, the winch can pull 22.4 kN on that layer of "
        "rope.");
    for (int k = 0; k < PR_PLAN_KINDS; k++) { /* it could, but what for? */
        f->set.plan[k].ended_by = PR_STOP_LIMIT;
        f->set.plan[k].ended_limit = PR_LIMIT_RESTART;
    }
    assert_answer(f, PR_UNITS_METRIC, 0, "NO-GO: no pull stays inside the limits.");
    free(f);
}

/* What is too weak is named with both loads, as plates tell them, and what to take instead. */
static void test_answer_of_weak_tackle(void **state)
{
    (void)state;
    fake *f = fake_new();
    make_no(f);
    const struct {
        pr_overload overload;
        const char *end, *remedy;
    } cases[] = {
        {{0.0, PR_OVERLOADED_ANCHOR, 24300.0, 4903.0, 0.0},
         "What ends it: the anchor would get 2,480 kg, it is rated for 500 kg.",
         "Best remedy: an anchor for 2,480 kg, or two that share it; then plan again."},
        {{0.0, PR_OVERLOADED_BLOCK, 24300.0, 2942.0, 0.0},
         "What ends it: a block would get 2,480 kg, it is rated for 300 kg.",
         "Best remedy: a block for 2,480 kg; then plan again."},
        {{0.0, PR_OVERLOADED_ROPE, 17500.0, 10700.0, 0.0},
         "What ends it: the line must pull 17.5 kN, the rope bears 10.7 kN (breaking force / "
         "1.25).",
         "Best remedy: a rope that breaks at 21.9 kN or more; then plan again."},
        {{0.0, PR_OVERLOADED_REACH, 0.0, 0.0, 7.6},
         "What ends it: the rope does not reach the anchor: 7.6 m of strap are missing.",
         "Best remedy: 7.6 m more of strap or chain, or an anchor that much nearer."},
    };
    f->scenario.plan.rope_factor = 1.25;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        for (int k = 0; k < PR_PLAN_KINDS; k++) {
            f->set.plan[k].n_cycles = 0;
            f->set.plan[k].ended_by = PR_STOP_STALL;
            f->set.plan[k].overload = cases[i].overload;
        }
        assert_answer(f, PR_UNITS_METRIC, 1, cases[i].end);
        assert_answer(f, PR_UNITS_METRIC, 2, cases[i].remedy);
    }
    free(f);
}

/* Too flat to begin: what it has, what it must keep, what to do. */
/* One rule for text and page: what a rest is for, what ended a pull. */
static void test_reason_of_a_rest(void **state)
{
    (void)state;
    pr_cycle cycles[4] = {{.binding = PR_LIMIT_RESERVE, .binding_stop = PR_STOP_TIME},
                          {.binding = PR_LIMIT_NONE, .binding_stop = PR_STOP_TIME},
                          {.rerig = true, .binding = PR_LIMIT_RESERVE},
                          {.binding = PR_LIMIT_NONE}};
    for (int i = 0; i < 4; i++)
        cycles[i].pull.stop = PR_STOP_TIME;
    cycles[3].pull.stop = PR_STOP_TRAVEL;
    pr_plan plan = {.kind = PR_PLAN_EVEN,
                    .status = PR_OK,
                    .go = true,
                    .binding = PR_LIMIT_RESERVE,
                    .cycles = cycles,
                    .n_cycles = 4};
    bool cut_short;
    static const char *const even[] = {"battery reserve", "", "rope set out again", "out"};
    for (size_t i = 0; i < 4; i++) {
        assert_string_equal(pr_words_cycle_reason(&plan, i, &cut_short), even[i]);
        assert_false(cut_short);
    }
    plan.kind = PR_PLAN_AS_NEEDED;
    assert_string_equal(pr_words_cycle_reason(&plan, 1, &cut_short), "rope handling");
    cycles[3].pull.stop = PR_STOP_TIME; /* so many pulls were asked for */
    assert_string_equal(pr_words_cycle_reason(&plan, 3, &cut_short), "done");
    cycles[3].pull.stop = PR_STOP_STALL;
    assert_string_equal(pr_words_cycle_reason(&plan, 3, &cut_short), pr_words_stop(PR_STOP_STALL));
    assert_true(cut_short);
    cycles[1].pull.stop = PR_STOP_LIMIT;
    cycles[1].pull.limit = PR_LIMIT_MOTOR_HEAT;
    assert_string_equal(pr_words_cycle_reason(&plan, 1, &cut_short), "winch motor heat");
    assert_true(cut_short);
}

static void test_answer_of_a_flat_battery(void **state)
{
    (void)state;
    fake *f = fake_new();
    make_no(f);
    f->scenario.system.start_soc_frac[0] = 0.0;
    f->scenario.system.has_alternator = true;
    f->scenario.plan.rest_max_s = 1800.0;
    for (int k = 0; k < PR_PLAN_KINDS; k++) {
        f->set.plan[k].travel_m = 0.0;
        f->set.plan[k].n_cycles = 1;
        f->set.plan[k].ended_by = PR_STOP_STALL;
    }
    assert_answer(f, PR_UNITS_METRIC, 0, "NO-GO: the battery is too flat to begin.");
    assert_answer(f, PR_UNITS_METRIC, 1,
                  "What ends it: battery reserve (at 0 %, keep 60 %); 30 min at 1,600 rpm does not "
                  "fill it up enough.");
    assert_answer(
        f, PR_UNITS_METRIC, 2,
        "Jump-start it, then charge longer (plan again with plan.longest_rest: 2 h) or from "
        "another vehicle.");
    f->report.remedies = &f->remedies;
    f->remedies.n = 1;
    f->remedies.remedy[0] =
        (pr_remedy){.kind = PR_REMEDY_SECOND_SWITCH, .go = true, .total_s = 2520.0};
    assert_answer(
        f, PR_UNITS_METRIC, 2,
        "Best remedy: second battery like the first, joined by a hand switch: then 42 min.");
    assert_string_equal(pr_words_crank_V(-97393.4).s, "none");
    assert_string_equal(pr_words_crank_V(11.24).s, "11.2");
    free(f);
}

static void test_answer_never_makes_up_a_number(void **state)
{
    (void)state;
    fake *f = fake_new();
    for (int k = 0; k < PR_PLAN_KINDS; k++)
        f->set.plan[k].status = PR_ERR_NO_CONVERGENCE;
    pr_answer answer;
    pr_answer_make(&f->report, PR_UNITS_METRIC, &answer);
    assert_false(answer.go);
    assert_string_equal(answer.line[0],
                        "NO ANSWER: the search for a plan failed: an iteration did not converge.");
    for (int i = 0; i < PR_ANSWER_LINES; i++)
        assert_null(strpbrk(answer.line[i], "0123456789"));
    free(f);
}

static char *text_of(const fake *f, pr_style style)
{
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(pr_plan_write_text(&f->report, &style, out), PR_OK);
    fclose(out);
    return text;
}

static void test_text_keeps_the_width_and_hides_controls(void **state)
{
    (void)state;
    fake *f = fake_new();
    for (size_t width = 60; width <= 100; width += 40) {
        pr_style style = pr_style_default();
        style.width = width;
        char *text = text_of(f, style);
        assert_null(strchr(text, '\033'));
        assert_non_null(strstr(text, "A \\x1b[31mtitle"));
        for (char *line = strtok(text, "\n"); width == 100 && line != NULL;
             line = strtok(NULL, "\n"))
            assert_true(pr_text_columns(line) <= 100);
        free(text);
    }
    free(f);
}

static void test_text_has_all_its_parts(void **state)
{
    (void)state;
    fake *f = fake_new();
    pr_assumption assumption = {"winch.rated_time", "60 s", "default"};
    f->scenario.assumption = &assumption;
    f->scenario.n_assumptions = 1;
    char *text = text_of(f, pr_style_default());
    static const char *const parts[] = {"GO: ",
                                        "\nWhat binds: ",
                                        "\nIf 16.0 kN (1,630 kg) moves it: ",
                                        "Pull by pull, even rest",
                                        "Three ways to do it",
                                        "When the meter looks full",
                                        "4 % of",
                                        "What it has to pull",
                                        "Limits kept",
                                        "winch.rated_time  60 s (default)",
                                        "Cautions",
                                        "not a rating"};
    const char *at = text;
    for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++) {
        const char *found = strstr(at, parts[i]);
        if (found == NULL)
            fail_msg("'%s' is missing or out of order", parts[i]);
        at = found;
    }
    free(text);
    free(f);
}

static void test_text_is_brief_when_asked(void **state)
{
    (void)state;
    fake *f = fake_new();
    pr_style style = pr_style_default();
    style.brief = true;
    char *text = text_of(f, style);
    size_t lines = 0;
    for (const char *c = text; *c != '\0'; c++)
        lines += *c == '\n';
    assert_int_equal(lines, 3);
    free(text);
    free(f);
}

static void test_text_leaves_out_the_middle_of_many_pulls(void **state)
{
    (void)state;
    fake *f = fake_new();
    pr_cycle *many = calloc(100, sizeof *many);
    assert_non_null(many);
    f->set.plan[PR_PLAN_EVEN].cycles = many;
    f->set.plan[PR_PLAN_EVEN].n_cycles = 100;
    char *text = text_of(f, pr_style_default());
    assert_non_null(strstr(text, "(Pulls 25 to 92 are left out here"));
    free(text);
    free(many);
    free(f);
}

/* Where the last of the parts stands, each behind the one before. */
static const char *find_in_order(const char *text, const char *const parts[], size_t n)
{
    const char *at = text;
    for (size_t i = 0; i < n; i++) {
        at = strstr(at, parts[i]);
        if (at == NULL)
            fail_msg("'%s' is missing or out of order in\n%s", parts[i], text);
    }
    return at;
}

/* Rests that differ from pull to pull stand in a table with way, charge and reason, equal
 * neighbours in one row; the shortest plan, when it is the same, is not printed again. */
static void test_text_has_a_table_of_rests_as_needed(void **state)
{
    (void)state;
    fake *f = fake_new();
    pr_cycle rests[CYCLES];
    memcpy(rests, f->cycles, sizeof rests);
    for (int i = 0; i < CYCLES; i++) {
        rests[i].rest_s = i < 4 ? 15.0 : 60.0 + i;
        rests[i].binding = i < 4 ? PR_LIMIT_NONE : PR_LIMIT_MOTOR_HEAT;
        rests[i].pull.extremes.most_armature_degC = 50.0 + i;
        rests[i].soc_after_pull_frac = 0.9 - 0.01 * i;
    }
    rests[6].rerig = true;
    for (int k = PR_PLAN_AS_NEEDED; k < PR_PLAN_KINDS; k++)
        f->set.plan[k].cycles = rests;
    static const char *const same[] = {"Pull by pull, rest as needed: 38 min",
                                       "1 to 4    0:00  30 s        15 s    7.2    87 %",
                                       "53  rope handling",
                                       "5   10:40  30 s   1 min 4 s    9.0    86 %",
                                       "54  winch motor heat",
                                       "rope set out again",
                                       "14   34:40  30 s               25.2",
                                       "Pull by pull, shortest time\nAs above"};
    char *text = text_of(f, pr_style_default());
    assert_null(strstr(find_in_order(text, same, sizeof same / sizeof same[0]), "starts"));
    free(text);
    f->set.plan[PR_PLAN_SHORTEST].parts = 2; /* as many pulls, but not the same recovery */
    static const char *const other[] = {"Pull by pull, shortest time: 38 min", "starts"};
    text = text_of(f, pr_style_default());
    assert_null(strstr(text, "As above"));
    find_in_order(text, other, 2);
    free(text);
    free(f);
}

static json_t *json_of(const fake *f)
{
    char *text;
    size_t size;
    FILE *out = open_memstream(&text, &size);
    assert_int_equal(pr_plan_write_json(&f->report, PR_UNITS_METRIC, NULL, out), PR_OK);
    fclose(out);
    json_t *root = json_loads(text, 0, NULL);
    assert_non_null(root);
    free(text);
    return root;
}

static json_t *at(json_t *root, const char *a, const char *b, const char *c)
{
    json_t *found = json_object_get(root, a);
    if (b != NULL)
        found = json_object_get(found, b);
    if (c != NULL)
        found = json_object_get(found, c);
    return found;
}

static void test_json_carries_the_plan(void **state)
{
    (void)state;
    fake *f = fake_new();
    f->set.plan[PR_PLAN_EVEN].meter.full_back_s = NOT_A_NUMBER;
    f->set.plan[PR_PLAN_EVEN].least_soc_frac = 2.0 / 3.0;
    json_t *root = json_of(f);
    assert_true(json_is_true(at(root, "answer", "go", NULL)));
    assert_string_equal(json_string_value(at(root, "answer", "plan", NULL)), "even");
    assert_int_equal(json_array_size(at(root, "answer", "text", NULL)), 3);
    assert_near(json_real_value(at(root, "plans", "even", "total_s")), 2280.0, 0.0);
    assert_near(json_real_value(at(root, "plans", "even", "least_soc_frac")), 0.666667, 0.0);
    assert_int_equal(json_array_size(at(root, "plans", "even", "cycles")), CYCLES);
    json_t *meter = at(root, "plans", "even", "meter");
    assert_true(json_is_null(json_object_get(meter, "charge_back_90_s")));
    assert_near(json_real_value(at(root, "demand", "high", "demand_N")), 28000.0, 0.0);
    assert_true(json_is_false(at(root, "demand", "high", "go")));
    assert_true(json_array_size(json_object_get(root, "cautions")) > 5);
    json_decref(root);
    free(f);
}

static void test_json_keeps_text_that_is_no_utf8(void **state)
{
    (void)state;
    fake *f = fake_new();
    strcpy(f->scenario.title, "bad \xff byte");
    json_t *root = json_of(f);
    assert_string_equal(json_string_value(at(root, "scenario", "title", NULL)), "bad \\xff byte");
    json_decref(root);
    free(f);
}

static void test_writers_tell_a_failing_stream(void **state)
{
    (void)state;
    fake *f = fake_new();
    FILE *out = fopen("/dev/full", "w");
    if (out == NULL) {
        free(f);
        skip();
    }
    setvbuf(out, NULL, _IONBF, 0);
    assert_int_equal(pr_plan_write_json(&f->report, PR_UNITS_METRIC, NULL, out), PR_ERR_IO);
    fclose(out);
    free(f);
}

int main(void)
{
    setlocale(LC_CTYPE, "C.UTF-8");
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_reason_of_a_rest),
        cmocka_unit_test(test_answer_of_a_go),
        cmocka_unit_test(test_answer_tells_the_rerig),
        cmocka_unit_test(test_answer_downhill),
        cmocka_unit_test(test_answer_drops_detail_to_fit),
        cmocka_unit_test(test_answer_of_a_quicker_plan),
        cmocka_unit_test(test_answer_names_the_cable),
        cmocka_unit_test(test_answer_of_a_no),
        cmocka_unit_test(test_remedies_in_the_units_of_the_report),
        cmocka_unit_test(test_answer_when_it_does_not_move),
        cmocka_unit_test(test_answer_of_weak_tackle),
        cmocka_unit_test(test_remedies_say_what_they_save_and_cost),
        cmocka_unit_test(test_answer_of_a_flat_battery),
        cmocka_unit_test(test_answer_never_makes_up_a_number),
        cmocka_unit_test(test_text_keeps_the_width_and_hides_controls),
        cmocka_unit_test(test_text_has_all_its_parts),
        cmocka_unit_test(test_text_is_brief_when_asked),
        cmocka_unit_test(test_text_has_a_table_of_rests_as_needed),
        cmocka_unit_test(test_text_leaves_out_the_middle_of_many_pulls),
        cmocka_unit_test(test_json_carries_the_plan),
        cmocka_unit_test(test_json_keeps_text_that_is_no_utf8),
        cmocka_unit_test(test_writers_tell_a_failing_stream),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
