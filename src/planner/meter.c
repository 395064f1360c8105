/* How full is the battery when the meter looks full?
 *
 * After the first pull the engine is left running. Found are the moment when the voltmeter (fuse
 * box) is within 0.1 V of the regulator's set voltage, the share of the pull's charge that is back
 * then, share = (s(t) - s_after) / (s_before - s_after)       s: state of charge of the winch's
 * battery and the time until that share is 0.9. Nothing is a limit here; an hour is the horizon.
 * Both times are bracketed by doubling from a quarter of a second and halved to 0.05 s and 1 s. */
#include "planner/job.h"

#include "base/number.h"

#include <math.h>

static const double HORIZON_s = 3600.0, METER_NEAR_V = 0.1, BACK_FRAC = 0.9;

typedef struct meter {
    pr_job *job;
    pr_limits none;
    pr_post post;
    double before_frac, after_frac;
} meter;

typedef struct moment {
    pr_sim sim;
    double rest_s, short_V, back_frac, soc_frac; /* short_V: meter below the set voltage */
} moment;

static pr_status look(const meter *m, moment *at)
{
    pr_outputs out;
    const pr_status status = pr_sim_outputs(m->job->system, &at->sim, PR_REST, &out);
    if (status != PR_OK)
        return status;
    at->short_V = out.set_V - out.box_V[PR_POST_MAIN];
    at->soc_frac = out.soc_frac[m->post];
    at->back_frac = (at->soc_frac - m->after_frac) / (m->before_frac - m->after_frac);
    return PR_OK;
}

/* Lets the rest go on from `from` until rest_s. */
static pr_status rest_until(const meter *m, const moment *from, double rest_s, moment *to)
{
    *to = *from;
    const pr_phase phase = {.activity = PR_REST,
                            .engine_rpm = m->job->rest_rpm,
                            .duration_s = rest_s - from->rest_s,
                            .stop_travel_m = PR_NAN};
    pr_phase_end end;
    m->job->simulations++;
    const pr_status status =
        pr_sim_run(m->job->system, &to->sim, &phase, &m->none, &m->job->options, NULL, &end);
    to->rest_s = rest_s;
    return status == PR_OK ? look(m, to) : status;
}

static bool meter_is_back(const moment *at)
{
    return at->short_V <= METER_NEAR_V;
}

static bool charge_is_back(const moment *at)
{
    return at->back_frac >= BACK_FRAC;
}

/* First moment at which `is_back`, to `resolution_s`; *found false when not within the horizon. */
static pr_status find(const meter *m, const moment *from, bool (*is_back)(const moment *),
                      double resolution_s, moment *at, bool *found)
{
    moment low = *from, high = *from;
    *found = is_back(&high);
    for (double step_s = 0.25; !*found && low.rest_s < HORIZON_s; step_s *= 2.0) {
        low = high;
        const pr_status status = rest_until(m, &low, fmin(low.rest_s + step_s, HORIZON_s), &high);
        if (status != PR_OK)
            return status;
        *found = is_back(&high);
        if (high.rest_s >= HORIZON_s)
            break;
    }
    while (*found && high.rest_s - low.rest_s > resolution_s) {
        moment middle;
        const pr_status status = rest_until(m, &low, 0.5 * (low.rest_s + high.rest_s), &middle);
        if (status != PR_OK)
            return status;
        if (is_back(&middle))
            high = middle;
        else
            low = middle;
    }
    *at = high;
    return PR_OK;
}

pr_status pr_meter_gap_find(pr_job *job, const pr_route *route, pr_meter_gap *gap)
{
    *gap = (pr_meter_gap){PR_NAN, PR_NAN, PR_NAN, PR_NAN};
    if (route->n == 0 || !job->system->def.has_alternator)
        return PR_OK;
    const pr_phase_end *pull = &route->cycles[0].pull;
    const pr_post post = job->system->def.winch_post;
    const meter m = {.job = job,
                     .none = pr_limits_default(job->system),
                     .post = post,
                     .before_frac = pull->first.soc_frac[post],
                     .after_frac = pull->last.soc_frac[post]};
    if (!(m.before_frac > m.after_frac))
        return PR_OK;
    moment start = {.sim = route->after[0]}, at;
    bool found;
    pr_status status = look(&m, &start);
    if (status == PR_OK)
        status = find(&m, &start, meter_is_back, 0.05, &at, &found);
    if (status == PR_OK && found) {
        gap->meter_back_s = at.rest_s;
        gap->charge_back_frac = at.back_frac;
        gap->soc_then_frac = at.soc_frac;
    }
    if (status == PR_OK)
        status = find(&m, &start, charge_is_back, 1.0, &at, &found);
    if (status == PR_OK && found)
        gap->full_back_s = at.rest_s;
    return status;
}
