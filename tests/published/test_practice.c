/* What is common practice with a loaded winch, against the catalogue and the demo's plan. */
#include "base/number.h"
#include "planner/plan.h"
#include "reader/reader.h"
#include "support/check.h"
#include "support/published.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const pr_reader_options OPTIONS = {.models_folder = PR_SOURCE_DIR "/models"};
static const double FULL_SIZE_N = 8000.0 * 4.448, CAR_V = 14.0;

/* A rig of one winch and one alternator of the catalogue; the caller frees it. */
static pr_scenario *rig_of(const char *winch, const char *alternator)
{
    char text[300];
    snprintf(text, sizeof text, "battery: flooded-70-starter\nalternator: %s\nwinch: %s\n",
             alternator, winch);
    pr_scenario *scenario = malloc(sizeof *scenario);
    assert_non_null(scenario);
    pr_diag diag = pr_diag_init();
    assert_int_equal(pr_scenario_read_text("rig", text, strlen(text), &OPTIONS, scenario, &diag),
                     PR_OK);
    pr_diag_free(&diag);
    return scenario;
}

static double rated_A(const char *winch)
{
    pr_scenario *scenario = rig_of(winch, "plate-110");
    pr_motor motor;
    assert_int_equal(pr_motor_derive(&scenario->system.motor, &motor), PR_OK);
    const int counts = motor.def.rated_pull_N >= FULL_SIZE_N && motor.def.sheet_V < CAR_V;
    pr_scenario_free(scenario);
    free(scenario);
    return counts ? motor.def.rated_A : PR_INF;
}

static double most_A(const char *alternator)
{
    pr_scenario *scenario = rig_of("none", alternator);
    const pr_alternator_def *a = &scenario->system.alternator;
    const double amps_A = a->n_points > 0 ? a->point_A[a->n_points - 1] : a->rated_A;
    pr_scenario_free(scenario);
    free(scenario);
    return amps_A;
}

static void test_full_pull_is_beyond_any_alternator(void **state)
{
    (void)state;
    pr_model_list list = {0};
    pr_diag diag = pr_diag_init();
    assert_int_equal(pr_models_list(&OPTIONS, &list, &diag), PR_OK);
    double least_A = PR_INF, alternator_A = 0.0;
    int winches = 0;
    for (size_t i = 0; i < list.count; i++) {
        const pr_model_entry *entry = &list.entries[i];
        if (strcmp(entry->kind, "winch") == 0) {
            const double amps_A = rated_A(entry->name);
            winches += isfinite(amps_A);
            least_A = fmin(least_A, amps_A);
        } else if (strcmp(entry->kind, "alternator") == 0) {
            alternator_A = fmax(alternator_A, most_A(entry->name));
        }
    }
    assert_true(winches >= 5); /* a list that names kinds otherwise must not pass unseen */
    assert_true(alternator_A > 0.0);
    pr_published_check("practice_rated_A", least_A);
    pr_published_check("practice_beyond_alternator", least_A / alternator_A);
    pr_model_list_free(&list);
    pr_diag_free(&diag);
}

static void test_plan_pulls_as_long_as_is_usual(void **state)
{
    (void)state;
    pr_scenario *scenario = malloc(sizeof *scenario);
    assert_non_null(scenario);
    pr_diag diag = pr_diag_init();
    assert_int_equal(
        pr_scenario_read(PR_SOURCE_DIR "/scenarios/demo.yaml", &OPTIONS, scenario, &diag), PR_OK);
    assert_true(isnan(scenario->plan.pull_s));
    pr_plan_set set = {0};
    assert_int_equal(pr_plan_make(scenario, &set, &diag, NULL, NULL), PR_OK);
    pr_published_check("practice_pull_s", set.plan[PR_PLAN_AS_NEEDED].cycles[0].pull_s);
    pr_plan_set_free(&set);
    pr_scenario_free(scenario);
    free(scenario);
    pr_diag_free(&diag);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_full_pull_is_beyond_any_alternator),
        cmocka_unit_test(test_plan_pulls_as_long_as_is_usual),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
