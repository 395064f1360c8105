/* How full is the battery when the meter looks full?
 *
 * After the first pull the engine is left running for an hour. The meter (fuse box) looks full when
 * it is within 0.1 V of what it reads at the end of the hour, provided that the regulator, not the
 * alternator's ability, holds the voltage by then; drops on the way make that less than the set
 * voltage. Found are the moment, the share of the pull's charge that is back at it,
 *     share = (s(t) - s_after) / (s_before - s_after)       s: state of charge of the winch's
 * battery and the time until that share is 0.9. Nothing is a limit here. The hour is run in pieces
 * that double from a quarter of a second; in the piece where it happens halving finds the moment,
 * to 0.05 s and 1 s. A meter that dips again later (a fan starts) has been back all the same. */
#include "planner/job.h"

#include "base/number.h"

#include <math.h>
#include <stdlib.h>

enum { PIECES_MAX = 16 };
static const double HORIZON_s = 3600.0, FIRST_s = 0.25, METER_NEAR_V = 0.1, BACK_FRAC = 0.9;

typedef struct moment {
    pr_sim sim;
    double rest_s, box_V, back_frac, soc_frac;
    bool limited; /* the alternator gives all it can, which may be nothing */
} moment;

typedef struct meter {
    pr_job *job;
    pr_limits none;
    pr_post post;
    double before_frac, after_frac;
    double full_V; /* reading after an hour */
    int n;
    moment at[PIECES_MAX]; /* ends of the pieces */
} meter;

static pr_status look(const meter *m, moment *at)
{
    pr_outputs out;
    const pr_status status = pr_sim_outputs(m->job->system, &at->sim, PR_REST, &out);
    if (status != PR_OK)
        return status;
    at->box_V = out.box_V[PR_POST_MAIN];
    at->limited = out.limited || !(out.alternator_available_A > 0.0);
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

static pr_status run_hour(meter *m)
{
    pr_status status = look(m, &m->at[0]);
    m->n = 1;
    for (double step_s = FIRST_s; status == PR_OK && m->n < PIECES_MAX; step_s *= 2.0) {
        const moment *last = &m->at[m->n - 1];
        if (last->rest_s >= HORIZON_s)
            break;
        status = rest_until(m, last, fmin(last->rest_s + step_s, HORIZON_s), &m->at[m->n]);
        m->n++;
    }
    m->full_V = m->at[m->n - 1].box_V;
    return status;
}

static bool meter_is_back(const meter *m, const moment *at)
{
    return at->box_V >= m->full_V - METER_NEAR_V;
}

static bool charge_is_back(const meter *m, const moment *at)
{
    (void)m;
    return at->back_frac >= BACK_FRAC;
}

/* First moment at which `is_back`, to `resolution_s`; *found false when not within the hour. */
static pr_status find(const meter *m, bool (*is_back)(const meter *, const moment *),
                      double resolution_s, moment *at, bool *found)
{
    int i = 0;
    while (i < m->n && !is_back(m, &m->at[i]))
        i++;
    *found = i < m->n;
    if (!*found)
        return PR_OK;
    moment low = m->at[i > 0 ? i - 1 : 0];
    *at = m->at[i];
    while (at->rest_s - low.rest_s > resolution_s) {
        moment middle;
        const pr_status status = rest_until(m, &low, 0.5 * (low.rest_s + at->rest_s), &middle);
        if (status != PR_OK)
            return status;
        if (is_back(m, &middle))
            *at = middle;
        else
            low = middle;
    }
    return PR_OK;
}

static pr_status fill(meter *m, pr_meter_gap *gap)
{
    moment at;
    bool found;
    pr_status status = run_hour(m);
    if (status == PR_OK && !m->at[m->n - 1].limited) {
        status = find(m, meter_is_back, 0.05, &at, &found);
        if (status == PR_OK && found) {
            gap->meter_back_s = at.rest_s;
            gap->charge_back_frac = at.back_frac;
            gap->soc_then_frac = at.soc_frac;
        }
    }
    if (status == PR_OK)
        status = find(m, charge_is_back, 1.0, &at, &found);
    if (status == PR_OK && found)
        gap->full_back_s = at.rest_s;
    return status;
}

pr_status pr_meter_gap_find(pr_job *job, const pr_route *route, pr_meter_gap *gap)
{
    *gap = (pr_meter_gap){PR_NAN, PR_NAN, PR_NAN, PR_NAN};
    if (route->n == 0 || !job->system->def.has_alternator)
        return PR_OK;
    const pr_phase_end *pull = &route->cycles[0].pull;
    const pr_post post = job->system->def.winch_post;
    const double before_frac = pull->first.soc_frac[post], after_frac = pull->last.soc_frac[post];
    if (!(before_frac > after_frac))
        return PR_OK;
    meter *m = calloc(1, sizeof *m);
    if (m == NULL)
        return PR_ERR_NOMEM;
    m->job = job;
    m->post = post;
    m->before_frac = before_frac;
    m->after_frac = after_frac;
    m->at[0].sim = route->after[0];
    const pr_status status = fill(m, gap);
    free(m);
    return status;
}
