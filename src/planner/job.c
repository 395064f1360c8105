/* One recovery with all choices made; see job.h.
 *
 * Where the anchors are, how much rope is out, and what it must carry: anchors.c. */
#include "planner/job.h"

#include "base/number.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

double pr_job_default_rpm(const pr_job *job)
{
    return job->system->def.fast_idle_rpm;
}

static void choose_fixed(pr_job *job)
{
    const pr_plan_def *plan = &job->plan;
    job->pull_s = plan->pull_s;
    if (isnan(job->pull_s))
        job->pull_s = floor(fmax(plan->pull_min_s, fmin(30.0, plan->pull_max_s)));
    job->pull_rpm = isnan(plan->pull_rpm) ? pr_job_default_rpm(job) : plan->pull_rpm;
    job->rest_rpm = isnan(plan->rest_rpm) ? pr_job_default_rpm(job) : plan->rest_rpm;
    job->give_up_s = PR_INF;
}

static void warn_of_low_reserve(const pr_job *job, pr_diag *diag)
{
    const double given_frac = job->plan.reserve_frac, computed_frac = job->reserve_computed_frac;
    if (diag != NULL && given_frac < computed_frac) /* false for a NaN */
        pr_diag_add(diag, PR_WARNING, (pr_place){NULL, 0, 0},
                    "reserve: %.0f %% is below the %.0f %% that a cold start takes; the restart is "
                    "still a limit of its own",
                    100.0 * given_frac, 100.0 * computed_frac);
}

/* What a plan lacks that has no goal. */
static const char *lacking(const pr_system_def *def)
{
    if (def->has_winch)
        return "recovery: no distance, so there is nothing to plan; give a distance or steps, or "
               "the number of pulls (plan: pulls)";
    if (def->demand.n_segments > 0)
        return "there is a recovery but no winch in this file, so there is nothing to plan: give "
               "winch:";
    return "no winch and no recovery in this file, so there is nothing to plan; 'budget' and "
           "'readings' are what it can be asked. For a plan it needs winch: and recovery:, or a "
           "current and the number of pulls";
}

static pr_status choose_goal(pr_job *job, const char *path, pr_diag *diag)
{
    const pr_system_def *def = &job->system->def;
    const bool has_way = def->has_winch && def->demand.n_segments > 0;
    job->distance_m = has_way ? pr_demand_distance_m(&def->demand) : PR_INF;
    if (isinf(job->distance_m) && job->plan.pulls <= 0) {
        if (diag != NULL)
            pr_diag_add(diag, PR_ERROR, (pr_place){path[0] != '\0' ? path : NULL, 0, 0}, "%s",
                        lacking(def));
        return PR_ERR_INPUT;
    }
    return PR_OK;
}

static bool plan_def_is_sound(const pr_plan_def *p)
{
    const bool pull = isnan(p->pull_s) || (p->pull_s >= 1.0 && p->pull_s <= 3600.0);
    return p->cookie == PR_DEF_COOKIE && pull && p->pull_min_s >= 1.0 &&
           p->pull_max_s >= p->pull_min_s && p->pull_max_s <= 3600.0 && p->rest_min_s >= 0.0 &&
           p->rest_max_s >= p->rest_min_s && p->rest_max_s <= 86400.0 && p->total_max_s > 0.0 &&
           p->rerig_s >= 0.0 && p->rerig_s <= 86400.0 && !(p->extension_m < 0.0) &&
           !(p->next_anchor_m < 1.0) && p->rope_factor >= 1.0 && p->blocks >= 0 && p->blocks <= 3 &&
           p->parts >= 0 && p->parts <= 4 && p->pulls >= 0 && p->pulls <= PR_CYCLES_MAX;
}

static pr_status refuse_without_recovery(const char *path, pr_diag *diag)
{
    if (diag != NULL)
        pr_diag_add(diag, PR_ERROR, (pr_place){path[0] != '\0' ? path : NULL, 0, 0},
                    "\"recovery\" is missing: the ground, the way out, the rigging; without it "
                    "'budget' and 'readings' are what this file can be asked");
    return PR_ERR_INPUT;
}

pr_status pr_job_open(const pr_scenario *scenario, pr_job *job, pr_diag *diag)
{
    *job = (pr_job){.plan = scenario->plan, .options = pr_run_options_default()};
    if (!plan_def_is_sound(&job->plan))
        return scenario->plan.cookie == PR_DEF_COOKIE ? PR_ERR_RANGE : PR_ERR_INTERNAL;
    if (scenario->no_recovery)
        return refuse_without_recovery(scenario->path, diag);
    job->system = malloc(sizeof *job->system);
    if (job->system == NULL)
        return PR_ERR_NOMEM;
    pr_status status = pr_system_derive(&scenario->system, job->system, diag);
    if (status == PR_OK)
        status = pr_plan_limits(scenario, job->system, &job->asked, &job->reserve_computed_frac);
    if (status != PR_OK)
        return status;
    job->limits = pr_plan_limits_guarded(&job->asked);
    /* before the first pull only the engine must keep running: charge and heat are what they are */
    job->first_limits = job->limits;
    for (int i = 0; i < PR_LIMIT_COUNT; i++)
        job->first_limits.on[i] = i == PR_LIMIT_VOLTAGE && job->limits.on[i];
    job->rope_given_m = job->system->def.rope_out_m;
    choose_fixed(job);
    warn_of_low_reserve(job, diag);
    status = choose_goal(job, scenario->path, diag);
    if (status != PR_OK)
        return status;
    return pr_job_rig(job, job->plan.parts > 0 ? job->plan.parts : 1, scenario->system.demand_case);
}

void pr_job_close(pr_job *job)
{
    pr_job_free_guides(job);
    free(job->system);
    job->system = NULL;
}

pr_status pr_job_rig(pr_job *job, int parts, pr_case which)
{
    pr_system_def *def = &job->system->def;
    job->overload = (pr_overload){.at_m = PR_INF};
    if (def->has_winch) {
        def->rig.parts = parts;
        def->demand_case = which;
        const pr_status status = pr_rig_check(&def->rig);
        if (status != PR_OK)
            return status;
        def->rope_out_m = pr_job_rigged(job, &def->rig, 0.0).rope_m;
        job->overload = pr_job_overload(job, &def->rig, which, true);
    }
    return pr_sim_start(job->system, &job->start);
}

int pr_job_parts_needed(const pr_job *job, pr_case which)
{
    pr_rig_def rig = job->system->def.rig;
    for (rig.parts = 1; rig.parts <= 4; rig.parts++)
        if (isinf(pr_job_overload(job, &rig, which, false).at_m))
            return rig.parts;
    return 0;
}

static bool pull_counts(pr_stop stop)
{
    return stop == PR_STOP_TIME || stop == PR_STOP_TRAVEL || stop == PR_STOP_ROPE;
}

/* For how much longer a pull that ended well could have gone on, by its mean use of each limit's
 * margin, and which limit that is. An estimate. */
static double spare_s(const pr_job *job, const pr_phase_end *pull, pr_limit *nearest)
{
    double least_s = PR_INF;
    *nearest = PR_LIMIT_NONE;
    for (int i = PR_LIMIT_NONE + 1; i < PR_LIMIT_COUNT; i++) {
        const double before = pr_limit_margin(job->system, &job->limits, (pr_limit)i, &pull->first);
        const double after = pr_limit_margin(job->system, &job->limits, (pr_limit)i, &pull->last);
        if (!(before > after && after >= 0.0)) /* true for a NaN */
            continue;
        const double limit_s = after / (before - after) * pull->duration_s;
        if (limit_s < least_s) {
            least_s = limit_s;
            *nearest = (pr_limit)i;
        }
    }
    return isinf(least_s) ? 0.0 : least_s;
}

/* A failed pull scores by how long it lasted; one that could not even start, below zero by how far
 * it is outside the limit; a failed rest below all pulls. */
static double score_of(const pr_job *job, const pr_phase_end *end, bool pull)
{
    static const double REST_FAILED = -1e9, AT_ONCE_s = 2e-3;
    if (!pull)
        return REST_FAILED + end->duration_s;
    if (end->stop != PR_STOP_LIMIT || end->duration_s > AT_ONCE_s)
        return end->duration_s;
    const double margin = pr_limit_margin(job->system, &job->limits, end->limit, &end->last);
    return margin < 0.0 ? margin : end->duration_s;
}

/* How much longer a pull that failed should have gone on: to its end, or to the goal. */
static double missing_s(const pr_job *job, const pr_phase_end *pull)
{
    const double left_s = job->pull_s - pull->duration_s;
    const double left_m = fmin(job->distance_m, job->overload.at_m) - pull->last.travel_m;
    const double speed_mps = pull->last.rope_mps / pr_rig_rope_per_travel(&job->system->def.rig);
    return speed_mps > 0.0 ? fmin(left_s, left_m / speed_mps) : left_s;
}

static pr_trial judge(const pr_job *job, const pr_phase_end *end, bool pull)
{
    pr_trial trial = {
        .pass = pull ? pull_counts(end->stop) : end->stop == PR_STOP_TIME,
        .score = score_of(job, end, pull),
        .limit = end->limit,
        .stop = end->stop,
    };
    if (pull && trial.pass)
        trial.spare = spare_s(job, end, &trial.limit);
    if (pull && !trial.pass)
        trial.missing = missing_s(job, end);
    return trial;
}

/* Rope that is left is used up by a pull of its own only if it is worth one, or if to set it out
 * from here takes one rig more on the rest of the way. */
void pr_job_settle_pull(const pr_job *job, pr_phase_end *pull)
{
    static const double STUB_s = 2.0, STUB_m = 0.1;
    const pr_system_def *def = &job->system->def;
    if (pull->stop != PR_STOP_TIME || !def->has_winch || !(def->rope_out_m > 0.0))
        return;
    const double per_travel = pr_rig_rope_per_travel(&def->rig);
    const double left_m = pull->last.rope_out_m / per_travel;
    const double stub_m = fmax(STUB_m, STUB_s * pull->last.rope_mps / per_travel);
    if (!(left_m <= stub_m))
        return;
    const double way_m = fmin(job->distance_m, job->overload.at_m) - pull->last.travel_m;
    const double here_m = pull->last.travel_m;
    if (isinf(way_m) || pr_job_rigs_left(job, here_m) <= pr_job_rigs_left(job, here_m + left_m))
        pull->stop = PR_STOP_ROPE;
}

static pr_status tell_progress(pr_job *job)
{
    enum { EVERY = 64 };
    if (job->progress == NULL || job->simulations % EVERY != 0)
        return PR_OK;
    return job->progress(job->progress_context, job->done_frac) != 0 ? PR_ERR_CANCELLED : PR_OK;
}

pr_status pr_job_attempt(pr_job *job, const pr_sim *from, double rest_s, bool first, bool rerig,
                         pr_attempt *attempt)
{
    job->simulations++;
    pr_status status = tell_progress(job);
    attempt->after = *from;
    attempt->rested = rest_s > 0.0;
    attempt->pulled = false;
    attempt->at_goal = false;
    memset(&attempt->rest, 0, sizeof attempt->rest);
    memset(&attempt->pull, 0, sizeof attempt->pull);
    if (status == PR_OK && attempt->rested) {
        const pr_phase phase = {.activity = PR_REST,
                                .engine_rpm = job->rest_rpm,
                                .duration_s = rest_s,
                                .stop_travel_m = PR_NAN};
        status = pr_sim_run(job->system, &attempt->after, &phase,
                            first ? &job->first_limits : &job->limits, &job->options, NULL,
                            &attempt->rest);
        attempt->trial = judge(job, &attempt->rest, false);
        if (status == PR_OK && !attempt->trial.pass)
            return PR_OK;
    }
    if (status != PR_OK)
        return status;
    if (rerig)
        pr_job_rerig(job, &attempt->after);
    const double goal_m = fmin(job->distance_m, job->overload.at_m);
    const pr_phase phase = {.activity = PR_PULL,
                            .engine_rpm = job->pull_rpm,
                            .duration_s = job->pull_s,
                            .stop_travel_m = isinf(goal_m) ? PR_NAN : goal_m};
    status = pr_sim_run(job->system, &attempt->after, &phase, &job->limits, &job->options, NULL,
                        &attempt->pull);
    pr_job_settle_pull(job, &attempt->pull);
    attempt->pulled = true;
    attempt->trial = judge(job, &attempt->pull, true);
    attempt->at_goal = attempt->pull.stop == PR_STOP_TRAVEL;
    return status;
}
