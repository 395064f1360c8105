/* Remedies: each is the plan of the changed scenario; ranking; nothing is invented. */
#include "planner/remedies.h"
#include "test_planner_fixture.h"

static pr_remedy_list *find(const pr_scenario *s, pr_plan *base)
{
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, base, NULL, NULL), PR_OK);
    pr_remedy_list *list = calloc(1, sizeof *list);
    assert_non_null(list);
    assert_int_equal(pr_remedies_find(s, base, list, NULL, NULL), PR_OK);
    return list;
}

static const pr_remedy *get(const pr_remedy_list *list, pr_remedy_kind kind)
{
    for (size_t i = 0; i < list->n; i++)
        if (list->remedy[i].kind == kind)
            return &list->remedy[i];
    return NULL;
}

/* Battery and alternator set the rests: what gives or keeps charge must help. */
static pr_scenario *weak_electrics(void)
{
    pr_scenario *s = fixture_new();
    s->system.motor.heat_factor = 0.3;
    s->system.ambient_degC = -10.0;
    s->system.start_soc_frac[0] = 0.8;
    s->system.alternator.rated_A = 45.0;
    s->plan.reserve_frac = 0.55;
    s->plan.pull_rpm = s->plan.rest_rpm = s->system.idle_rpm;
    return s;
}

/* The order that the header promises. */
static int group(const pr_remedy *r)
{
    if (r->turns_to_go)
        return 0;
    return r->saved_s >= 30.0 || r->gained_m >= 0.5 ? 1 : 2;
}

static void assert_ranked(const pr_remedy_list *list)
{
    for (size_t i = 0; i < list->n; i++) {
        const pr_remedy *r = &list->remedy[i];
        assert_int_equal(r->status, PR_OK);
        if (i == 0)
            continue;
        const pr_remedy *before = &list->remedy[i - 1];
        assert_true(group(before) <= group(r));
        if (group(before) == group(r) && group(r) < 2) {
            assert_true(before->effort <= r->effort);
            if (before->effort == r->effort && r->turns_to_go)
                assert_true(before->total_s <= r->total_s);
        }
    }
}

/* A remedy's effect is that of planning the changed scenario. */
static void assert_effect(const pr_remedy *r, const pr_scenario *changed, const pr_plan *base)
{
    pr_plan p;
    pr_scenario *same = malloc(sizeof *same);
    assert_non_null(same);
    *same = *changed;
    same->plan.pull_s = base->pull_s;
    if (same->plan.parts == 0)
        same->plan.parts = base->parts;
    assert_int_equal(pr_plan_make_one(same, PR_PLAN_AS_NEEDED, &p, NULL, NULL), PR_OK);
    assert_int_equal(r->go, p.go);
    assert_near(r->total_s, p.total_s, 0.0);
    assert_near(r->travel_m, p.travel_m, 0.0);
    assert_int_equal(r->n_cycles, p.n_cycles);
    pr_plan_free(&p);
    free(same);
}

static void test_remedies_of_weak_electrics(void **state)
{
    (void)state;
    pr_scenario *s = weak_electrics();
    pr_plan base;
    pr_remedy_list *list = find(s, &base);
    assert_false(base.go);
    assert_true(pr_remedies_wanted(&base));
    assert_ranked(list);
    assert_int_equal(list->remedy[0].effort, PR_EFFORT_FREE);
    assert_true(list->remedy[0].turns_to_go);
    const pr_remedy *throttle = get(list, PR_REMEDY_HAND_THROTTLE);
    assert_true(throttle != NULL && throttle->turns_to_go);
    const pr_remedy *alternator = get(list, PR_REMEDY_ALTERNATOR_TWO_UP);
    assert_true(alternator != NULL && alternator->turns_to_go);
    /* monotone: the bigger alternator of the two is not the slower one */
    assert_true(alternator->total_s <= get(list, PR_REMEDY_ALTERNATOR_ONE_UP)->total_s);
    const pr_remedy *warm = get(list, PR_REMEDY_WARM_BATTERY);
    assert_true(warm != NULL && (warm->turns_to_go || warm->gained_m > 0.0));
    /* all but the rope, which has nowhere further to go with two parts */
    assert_null(get(list, PR_REMEDY_LOWER_LAYER));

    pr_scenario *changed = malloc(sizeof *changed);
    assert_non_null(changed);
    *changed = *s;
    changed->plan.pull_rpm = changed->plan.rest_rpm = s->system.fast_idle_rpm;
    assert_effect(throttle, changed, &base);
    *changed = *s;
    changed->system.alternator.rated_A = 70.0;
    assert_effect(alternator, changed, &base);
    *changed = *s;
    changed->plan.blocks = 2;
    changed->plan.parts = 3;
    assert_effect(get(list, PR_REMEDY_BLOCK), changed, &base);
    *changed = *s;
    changed->system.run[PR_RUN_WINCH].def.gauge = 70.0;
    assert_effect(get(list, PR_REMEDY_THICKER_CABLE), changed, &base);
    free(changed);
    pr_plan_free(&base);
    free(list);
    fixture_free(s);
}

/* Above the rated pull on a high layer: the block, or the anchor further away, turns it. */
static void test_remedies_of_overload(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->plan.blocks = 0;
    s->system.anchor_distance_m = 6.0;
    s->system.demand.segments[0].length_m = 4.0;
    pr_plan base;
    pr_remedy_list *list = find(s, &base);
    assert_false(base.go);
    assert_int_equal(base.ended_by, PR_STOP_STALL);
    assert_ranked(list);
    const pr_remedy *block = get(list, PR_REMEDY_BLOCK), *layer = get(list, PR_REMEDY_LOWER_LAYER);
    assert_true(block != NULL && block->turns_to_go);
    assert_int_equal(block->effort, PR_EFFORT_BUY);
    assert_true(layer != NULL && layer->turns_to_go);
    assert_int_equal(list->remedy[0].kind, PR_REMEDY_LOWER_LAYER); /* the free one first */
    /* nothing electrical lifts a rating */
    assert_false(get(list, PR_REMEDY_BIGGER_BATTERY)->go);
    assert_false(get(list, PR_REMEDY_ALTERNATOR_TWO_UP)->go);
    pr_plan_free(&base);
    free(list);
    fixture_free(s);
}

/* A fuse that opens at once: the right one, and nothing else, turns it. */
static void test_remedy_of_a_small_fuse(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    pr_wire_slot *slot = &s->system.run[PR_RUN_WINCH];
    slot->has_fuse = true;
    slot->fuse = pr_fuse_def_default();
    slot->fuse.rating_A = 60.0;
    pr_plan base;
    pr_remedy_list *list = find(s, &base);
    assert_false(base.go);
    assert_int_equal(base.ended_by, PR_STOP_FUSE);
    const pr_remedy *fuse = get(list, PR_REMEDY_WINCH_FUSE);
    assert_true(fuse != NULL && fuse->turns_to_go);
    assert_ptr_equal(fuse, &list->remedy[0]);
    assert_near(fuse->change.was_A, 60.0, 0.0);
    assert_near(fuse->change.gauge, fuse->change.was_gauge, 0.0);
    const double rating_A = fuse->change.rated_A;
    /* as `budget` recommends it: holds the sheet's 450 A for the time of the sheet */
    assert_true(rating_A >= 175.0 && rating_A <= 450.0);
    pr_scenario *changed = malloc(sizeof *changed);
    assert_non_null(changed);
    *changed = *s;
    changed->system.run[PR_RUN_WINCH].fuse.rating_A = rating_A;
    assert_effect(fuse, changed, &base);
    free(changed);
    pr_plan_free(&base);
    free(list);

    slot->def.gauge = 6.0; /* bears no fuse that the winch leaves whole: both are changed */
    list = find(s, &base);
    fuse = get(list, PR_REMEDY_WINCH_FUSE);
    assert_non_null(fuse);
    assert_near(fuse->change.was_gauge, 6.0, 0.0);
    assert_true(fuse->change.gauge > 6.0);
    pr_plan_free(&base);
    free(list);

    slot->fuse.rating_A = 500.0; /* did not open: nothing to say */
    slot->def.gauge = 35.0;
    list = find(s, &base);
    assert_null(get(list, PR_REMEDY_WINCH_FUSE));
    pr_plan_free(&base);
    free(list);
    fixture_free(s);
}

/* Headlamps have a switch and may be dark in a pull; a radio that is always on and what stops the
 * engine stay. */
static void test_remedy_lamps_off_in_pulls(void **state)
{
    (void)state;
    pr_scenario *s = weak_electrics();
    pr_system_def *def = &s->system;
    for (int k = 0; k < def->n_loads; k++)
        def->load[k].def.essential = true;
    fixture_load(def, "radio", 1.0, PR_WHEN_ALWAYS);
    def->load[def->n_loads - 1].def.essential = true;
    pr_plan base;
    pr_remedy_list *list = find(s, &base);
    const pr_remedy *off = get(list, PR_REMEDY_LOADS_OFF_IN_PULLS);
    assert_non_null(off);
    assert_true(off->change.lamps);
    assert_near(off->change.off_A, 9.0, 0.5); /* the lamps of the fixture, and nothing else */
    assert_true(base.go ? off->saved_s > 0.0 : off->turns_to_go || off->gained_m > 0.0);
    assert_null(get(list, PR_REMEDY_LOADS_OFF));
    pr_scenario *changed = malloc(sizeof *changed);
    assert_non_null(changed);
    *changed = *s;
    changed->system.load[1].def.when = PR_WHEN_RESTING;
    assert_effect(off, changed, &base);
    free(changed);
    pr_plan_free(&base);
    free(list);
    fixture_free(s);
}

/* The diode fills the second battery, which feeds the winch; the starter's own stays whole. */
static void test_remedy_second_battery_by_diode(void **state)
{
    (void)state;
    pr_scenario *s = weak_electrics();
    pr_plan base;
    pr_remedy_list *list = find(s, &base);
    const pr_remedy *diode = get(list, PR_REMEDY_SECOND_DIODE);
    assert_non_null(diode);
    assert_int_equal(diode->effort, PR_EFFORT_BUY);
    pr_scenario *changed = malloc(sizeof *changed);
    assert_non_null(changed);
    *changed = *s;
    pr_system_def *def = &changed->system;
    def->n_batteries = 2;
    def->battery[1] = def->battery[0];
    def->start_soc_frac[1] = def->start_soc_frac[0];
    def->start_battery_degC[1] = def->start_battery_degC[0];
    def->link = pr_link_def_default(PR_LINK_DIODE);
    def->switch_rule = PR_SWITCH_CLOSED;
    def->winch_post = PR_POST_SECOND;
    def->run[PR_RUN_LINK] = def->run[PR_RUN_WINCH];
    def->run[PR_RUN_LINK].has_fuse = false;
    def->run[PR_RUN_LINK].def.length_m = 1.0;
    assert_effect(diode, changed, &base);
    free(changed);
    pr_plan_free(&base);
    free(list);
    fixture_free(s);
}

/* A no that each free change only makes less of: together they are planned too. */
static void test_remedy_all_that_is_free(void **state)
{
    (void)state;
    pr_scenario *s = weak_electrics();
    fixture_load(&s->system, "heater", 10.0, PR_WHEN_ENGINE);
    s->plan.total_max_s = 3600.0;
    pr_plan base;
    pr_remedy_list *list = find(s, &base);
    assert_false(base.go);
    const pr_remedy *all = get(list, PR_REMEDY_ALL_FREE);
    assert_non_null(all);
    assert_int_equal(all->effort, PR_EFFORT_FREE);
    assert_int_equal(all->status, PR_OK);
    assert_true(all->change.together & 1u << PR_REMEDY_HAND_THROTTLE);
    assert_true(all->change.together &
                (1u << PR_REMEDY_LOADS_OFF | 1u << PR_REMEDY_LOADS_OFF_IN_PULLS));
    int helping = 0;
    for (size_t i = 0; i < list->n; i++) {
        const pr_remedy *r = &list->remedy[i];
        if (r->effort != PR_EFFORT_FREE || r == all)
            continue;
        helping += r->turns_to_go || r->gained_m > 0.0;
        assert_true(all->travel_m >= r->travel_m - 0.01);
    }
    assert_true(helping >= 2);
    pr_plan_free(&base);
    free(list);
    fixture_free(s);
}

static void test_remedies_that_do_not_apply(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.has_alternator = false;
    s->system.ambient_degC = 25.0;
    s->system.run[PR_RUN_WINCH].present = false;
    s->plan.pull_rpm = s->plan.rest_rpm = s->system.max_rpm;
    s->plan.pull_s = s->plan.pull_min_s;
    s->system.n_loads = 1;
    pr_plan base;
    pr_remedy_list *list = find(s, &base);
    static const pr_remedy_kind absent[] = {
        PR_REMEDY_ALTERNATOR_ONE_UP, PR_REMEDY_ALTERNATOR_TWO_UP,  PR_REMEDY_WARM_BATTERY,
        PR_REMEDY_THICKER_CABLE,     PR_REMEDY_HAND_THROTTLE,      PR_REMEDY_SHORTER_PULLS,
        PR_REMEDY_LOADS_OFF,         PR_REMEDY_LOADS_OFF_IN_PULLS,
    };
    for (size_t i = 0; i < sizeof absent / sizeof *absent; i++)
        assert_null(get(list, absent[i]));
    assert_non_null(get(list, PR_REMEDY_BIGGER_BATTERY));
    assert_non_null(get(list, PR_REMEDY_JUMP));
    pr_plan_free(&base);
    free(list);
    fixture_free(s);
}

/* A recovery that needs no longer rests than handling takes has nothing to remedy. */
static void test_remedies_not_wanted(void **state)
{
    (void)state;
    pr_scenario *s = fixture_new();
    s->system.demand.segments[0].length_m = 2.0;
    pr_plan p;
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, &p, NULL, NULL), PR_OK);
    assert_true(p.go);
    assert_false(pr_remedies_wanted(&p));
    pr_plan_free(&p);
    fixture_free(s);
}

static int cancel_third(void *context, double done_frac)
{
    (void)done_frac;
    return ++*(int *)context >= 3;
}

static void test_remedies_cancelled(void **state)
{
    (void)state;
    pr_scenario *s = weak_electrics();
    pr_plan base;
    assert_int_equal(pr_plan_make_one(s, PR_PLAN_AS_NEEDED, &base, NULL, NULL), PR_OK);
    pr_remedy_list list;
    int calls = 0;
    assert_int_equal(pr_remedies_find(s, &base, &list, cancel_third, &calls), PR_ERR_CANCELLED);
    assert_true(list.n <= 3); /* what was found until then is still there */
    assert_int_equal(calls, 3);
    pr_plan_free(&base);
    fixture_free(s);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_remedies_of_weak_electrics),
        cmocka_unit_test(test_remedies_of_overload),
        cmocka_unit_test(test_remedy_of_a_small_fuse),
        cmocka_unit_test(test_remedy_lamps_off_in_pulls),
        cmocka_unit_test(test_remedy_second_battery_by_diode),
        cmocka_unit_test(test_remedy_all_that_is_free),
        cmocka_unit_test(test_remedies_that_do_not_apply),
        cmocka_unit_test(test_remedies_not_wanted),
        cmocka_unit_test(test_remedies_cancelled),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
