/* Rest against pull length at several engine speeds: the even plan made anew for each pair, all
 * other choices kept. See curves.h. */
#include "planner/curves.h"

#include "base/number.h"

#include <math.h>
#include <stdlib.h>

enum { SPEEDS = 3, LENGTHS = 10 };

typedef struct sweep {
    pr_scenario scenario;
    double rpm[SPEEDS];
    double rest_s[SPEEDS], total_s[SPEEDS];
} sweep;

static pr_status plan_one(sweep *s, double pull_s, int k)
{
    pr_plan plan = {0};
    s->scenario.plan.pull_s = pull_s;
    s->scenario.plan.rest_rpm = s->rpm[k];
    const pr_status status = pr_plan_make_one(&s->scenario, PR_PLAN_EVEN, &plan, NULL, NULL);
    const bool good = status == PR_OK && plan.status == PR_OK && plan.go;
    s->rest_s[k] = good ? plan.rest_s : PR_NAN;
    s->total_s[k] = good ? plan.total_s : PR_NAN;
    pr_plan_free(&plan);
    return status == PR_ERR_NOMEM ? status : PR_OK; /* no rest works: a gap in the curve */
}

static pr_status sweep_all(sweep *s, pr_curves *curves, pr_progress_fn progress, void *context)
{
    static const double length_s[LENGTHS] = {8, 12, 16, 20, 25, 30, 36, 43, 51, 60};
    pr_curves_begin(curves, "rows", 1 + 2 * SPEEDS);
    for (int i = 0; i < LENGTHS; i++) {
        double row[1 + 2 * SPEEDS] = {length_s[i]};
        for (int k = 0; k < SPEEDS; k++) {
            const pr_status status = plan_one(s, length_s[i], k);
            if (status != PR_OK)
                return status;
            row[1 + k] = s->rest_s[k];
            row[1 + SPEEDS + k] = s->total_s[k];
        }
        pr_curves_row(curves, row);
        if (progress != NULL && progress(context, (i + 1.0) / LENGTHS) != 0)
            return PR_ERR_CANCELLED;
    }
    return curves->status;
}

pr_status pr_curves_rests(const pr_scenario *scenario, const pr_plan *chosen, pr_curves *curves,
                          pr_progress_fn progress, void *progress_context)
{
    const pr_system_def *system = &scenario->system;
    *curves = pr_curves_init("rests", scenario->title);
    sweep *s = malloc(sizeof *s);
    if (s == NULL)
        return PR_ERR_NOMEM;
    s->scenario = *scenario; /* a plain copy that borrows what the original owns */
    s->scenario.plan.parts = chosen->parts;
    s->scenario.plan.pull_rpm = chosen->pull_rpm;
    s->rpm[0] = system->idle_rpm;
    s->rpm[1] = system->fast_idle_rpm;
    s->rpm[2] = system->max_rpm;
    const pr_status status = sweep_all(s, curves, progress, progress_context);
    static const char *const names[SPEEDS] = {"rpm_1", "rpm_2", "rpm_3"};
    for (int k = 0; k < SPEEDS; k++)
        pr_curves_number_add(curves, names[k], s->rpm[k]);
    pr_curves_number_add(curves, "rest_min", scenario->plan.rest_min_s);
    pr_curves_number_add(curves, "chosen_pull",
                         chosen->go && chosen->equal_rests ? chosen->pull_s : PR_NAN);
    pr_curves_number_add(curves, "chosen_rest", chosen->rest_s);
    pr_curves_number_add(curves, "chosen_total", chosen->total_s);
    free(s);
    return status == PR_OK ? curves->status : status;
}
