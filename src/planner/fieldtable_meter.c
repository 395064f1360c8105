/* Bands of voltmeter readings; see fieldtable.h.
 *
 * Engine off. For charges from 20 % to full in steps of 5 points: what the rested battery reads
 * (one second with everything off, all batteries alike), and the shortest wait, in steps of 30 s
 * with the engine on, after which the whole plan holds from that charge. Heat is left out: a meter
 * tells nothing of it, and a fuller battery only pulls faster. A reading counts as the charge of
 * the step below it. Below the charge at which the starter still turns the engine: stop. A quarter
 * of a volt above a full battery is one that was charged lately; three quarters above it something
 * charges right now (common practice, no source): the reading says nothing, and is no go.
 *
 * In a pull: below the voltage at which the engine may stop: stop; below what the plan expects in
 * this pull, less the error of the meter: the pull is to end now.
 *
 * Resting. The plan is run once more, and once more with a dead alternator from each pull on. With
 *     healthy = lowest reading from 10 s after a pull on,  dead = highest reading without output
 * a reading below dead + 0.15 V is that of a dead alternator; below healthy - 0.25 V (meter 0.15 V
 * and set voltage 0.2 V, as squares) it charges less than the plan counts on; more than 0.35 V
 * above the highest reading is overcharging. When dead + 0.15 V > healthy the two meet at healthy:
 * rather a false alarm than a dead alternator unseen. */
#include "planner/fieldtable.h"

#include "base/number.h"
#include "planner/job.h"

#include <math.h>
#include <stdlib.h>

static const double EARLY_s = 10.0, WAIT_STEP_s = 30.0, LEAST_SOC = 0.20, SOC_STEP = 0.05;
static const double TOLERANCE_V = 0.25, OVER_V = 0.35, NOT_RESTED_V = 0.25, CHARGED_V = 0.75,
                    LAST_REST_s = 60.0;

/* Bounds have the digits that a meter shows. */
static void add_band(pr_field_bands *bands, pr_field_band band)
{
    band.from_V = round(100.0 * band.from_V) / 100.0;
    if (bands->n < PR_FIELD_BANDS_MAX)
        bands->band[bands->n++] = band;
}

static pr_field_band plain(double from_V, pr_field_verdict verdict, pr_field_reason reason)
{
    return (pr_field_band){from_V, verdict, reason, PR_NAN, PR_NAN};
}

/* ---- engine off */

typedef struct off_search {
    pr_scenario *scenario; /* changed copy that borrows what the original owns */
    pr_plan plan;          /* plain copy, with another first rest */
    pr_limits limits;
    double start_frac; /* the plan's */
    bool ready;        /* it needs no rest before its first pull */
    unsigned long simulations;
} off_search;

static pr_status try_wait(void *context, long units, pr_trial *trial)
{
    off_search *s = context;
    bool holds;
    pr_phase_end worst;
    s->plan.first_rest_s = WAIT_STEP_s * (double)units;
    s->simulations += s->plan.n_cycles;
    const pr_status status =
        pr_plan_replay(s->scenario, &s->plan, &s->limits, NULL, NULL, &holds, &worst);
    *trial = (pr_trial){.pass = holds, .stop = worst.stop, .limit = worst.limit};
    trial->score = worst.last.time_s - s->plan.first_rest_s;
    return status;
}

/* What a rested battery reads, all loads off. */
static pr_status read_rested(const pr_scenario *scenario, double *V)
{
    pr_job job;
    pr_phase_end end;
    pr_status status = pr_job_open(scenario, &job, NULL);
    if (status == PR_OK) {
        const pr_phase phase = {.activity = PR_ENGINE_OFF,
                                .duration_s = 1.0,
                                .stop_travel_m = PR_NAN,
                                .load_off_mask_lo = ~0UL};
        pr_limits none = job.limits;
        for (int i = 0; i < PR_LIMIT_COUNT; i++)
            none.on[i] = false;
        status = pr_sim_run(job.system, &job.start, &phase, &none, &job.options, NULL, &end);
        if (status == PR_OK)
            *V = end.last.post_V[job.system->def.starter_post];
    }
    pr_job_close(&job);
    return status;
}

/* `enough`: less charge already was. The plan's own start is, however much its pulls move about. */
static pr_status judge_charge(off_search *s, double soc_frac, double restart_frac, bool enough,
                              pr_field_band *band)
{
    for (int p = 0; p < PR_POSTS; p++)
        s->scenario->system.start_soc_frac[p] = soc_frac;
    *band = plain(PR_NAN, PR_FIELD_STOP, PR_FIELD_NO_RESTART);
    band->soc_frac = soc_frac;
    pr_status status = read_rested(s->scenario, &band->from_V);
    if (status != PR_OK || soc_frac < restart_frac)
        return status;
    if (enough || (s->ready && soc_frac >= s->start_frac)) {
        band->verdict = PR_FIELD_PULL;
        band->reason = PR_FIELD_AS_PLANNED;
        band->wait_s = 0.0;
        return PR_OK;
    }
    const pr_search_range range = {
        .lo = 0, .hi = (long)floor(s->scenario->plan.rest_max_s / WAIT_STEP_s), .guess = 0};
    pr_smallest found;
    status = pr_search_smallest(try_wait, s, &range, &found);
    if (!found.found) {
        band->reason = PR_FIELD_TOO_EMPTY;
    } else {
        band->wait_s = WAIT_STEP_s * (double)found.seconds;
        band->verdict = found.seconds > 0 ? PR_FIELD_WAIT : PR_FIELD_PULL;
        band->reason = found.seconds > 0 ? PR_FIELD_CHARGE_FIRST : PR_FIELD_AS_PLANNED;
    }
    return status;
}

static bool says_the_same(const pr_field_band *a, const pr_field_band *b)
{
    const bool wait = fabs(a->wait_s - b->wait_s) < 1.0 || (isnan(a->wait_s) && isnan(b->wait_s));
    return a->verdict == b->verdict && a->reason == b->reason && wait;
}

static pr_status make_off(off_search *s, double restart_frac, pr_field_bands *bands)
{
    static const double APART_V = 0.005; /* nearer readings are one: the emptier counts */
    double V = 0.0;
    const int steps = (int)lround((1.0 - LEAST_SOC) / SOC_STEP);
    bool enough = false;
    for (int i = 0; i <= steps; i++) {
        pr_field_band band;
        const pr_status status =
            judge_charge(s, LEAST_SOC + SOC_STEP * (double)i, restart_frac, enough, &band);
        if (status != PR_OK)
            return status;
        enough = band.verdict == PR_FIELD_PULL;
        if (i > 0 && !(band.from_V > V + APART_V))
            continue;
        V = band.from_V;
        if (i == 0)
            band.from_V = 0.0;
        if (bands->n == 0 || !says_the_same(&bands->band[bands->n - 1], &band))
            add_band(bands, band);
    }
    add_band(bands, plain(V + NOT_RESTED_V, PR_FIELD_WAIT, PR_FIELD_NOT_RESTED));
    add_band(bands, plain(V + CHARGED_V, PR_FIELD_STOP, PR_FIELD_ENGINE_ON));
    return PR_OK;
}

static pr_status make_off_bands(const pr_scenario *scenario, pr_job *job, const pr_plan *plan,
                                pr_field_table *table)
{
    pr_scenario *copy = malloc(sizeof *copy);
    if (copy == NULL)
        return PR_ERR_NOMEM;
    *copy = *scenario;
    copy->plan.total_max_s = PR_INF; /* waiting costs time, not safety */
    off_search s = {.scenario = copy, .plan = *plan, .limits = job->limits};
    s.start_frac = scenario->system.start_soc_frac[scenario->system.starter_post];
    s.ready = !(plan->first_rest_s > 0.0);
    s.limits.on[PR_LIMIT_MOTOR_HEAT] = s.limits.on[PR_LIMIT_CABLE_HEAT] = false;
    const double computed = job->reserve_computed_frac;
    const pr_status status =
        make_off(&s, isnan(computed) ? 0.0 : computed, &table->meter[PR_FIELD_OFF]);
    job->simulations += s.simulations;
    free(copy);
    return status;
}

/* ---- resting */

typedef struct rest_readings {
    double healthy_low_V, healthy_high_V, dead_high_V;
} rest_readings;

/* Rests from a copy of the state, and gathers the least and the most that the meter shows from
 * EARLY_s on. */
static pr_status rest_and_read(pr_job *job, const pr_limits *none, pr_sim *sim, double rest_s,
                               double *least_V, double *most_V)
{
    const double part_s[] = {fmin(EARLY_s, rest_s), fmax(rest_s - EARLY_s, 0.0)};
    for (int i = 0; i < 2; i++) {
        if (!(part_s[i] > 0.0))
            continue;
        const pr_phase phase = {.activity = PR_REST,
                                .engine_rpm = job->rest_rpm,
                                .duration_s = part_s[i],
                                .stop_travel_m = PR_NAN};
        pr_phase_end end;
        job->simulations++;
        const pr_status status =
            pr_sim_run(job->system, sim, &phase, none, &job->options, NULL, &end);
        if (status != PR_OK)
            return status;
        *least_V = fmin(*least_V, end.last.box_V[PR_POST_MAIN]);
        *most_V = fmax(*most_V, end.last.box_V[PR_POST_MAIN]);
    }
    return PR_OK;
}

static pr_status read_rests(pr_job *job, pr_job *dead, const pr_plan *plan, rest_readings *r)
{
    pr_limits none = job->limits;
    for (int i = 0; i < PR_LIMIT_COUNT; i++)
        none.on[i] = false;
    double unused = 0.0;
    pr_sim sim = job->start;
    pr_status status = PR_OK;
    if (plan->first_rest_s > 0.0)
        status = rest_and_read(job, &none, &sim, plan->first_rest_s, &unused, &unused);
    for (size_t k = 0; k < plan->n_cycles && status == PR_OK; k++) {
        const pr_cycle *cycle = &plan->cycles[k];
        if (!(cycle->pull_s > 1e-3))
            continue; /* a speck of way was left */
        const double rest_s = cycle->rest_s > 0.0 ? cycle->rest_s : LAST_REST_s;
        const pr_phase phase = {.activity = PR_PULL,
                                .engine_rpm = job->pull_rpm,
                                .duration_s = cycle->pull_s,
                                .stop_travel_m = PR_NAN};
        pr_phase_end end;
        job->simulations++;
        status = pr_sim_run(job->system, &sim, &phase, &none, &job->options, NULL, &end);
        pr_sim without = sim;
        if (status == PR_OK)
            status = rest_and_read(job, &none, &sim, rest_s, &r->healthy_low_V, &r->healthy_high_V);
        if (status == PR_OK)
            status = rest_and_read(dead, &none, &without, rest_s, &unused, &r->dead_high_V);
        if (cycle->rerig)
            pr_job_rerig(job, &sim);
    }
    return status;
}

static pr_status make_rest_bands(const pr_scenario *scenario, pr_job *job, const pr_plan *plan,
                                 pr_field_table *table)
{
    pr_scenario *copy = malloc(sizeof *copy);
    if (copy == NULL)
        return PR_ERR_NOMEM;
    *copy = *scenario;
    copy->system.alternator.belt_slip_frac = 1.0;
    pr_job dead;
    rest_readings r = {PR_INF, 0.0, 0.0};
    pr_status status = pr_job_open(copy, &dead, NULL);
    if (status == PR_OK && dead.system->def.has_winch)
        status = pr_job_rig(&dead, plan->parts, scenario->system.demand_case);
    dead.rest_rpm = job->rest_rpm;
    if (status == PR_OK)
        status = read_rests(job, &dead, plan, &r);
    pr_job_close(&dead);
    free(copy);
    if (status != PR_OK)
        return status;
    double dead_V = r.dead_high_V + PR_FIELD_METER_V;
    double little_V = fmax(dead_V, r.healthy_low_V - TOLERANCE_V);
    if (dead_V > r.healthy_low_V)
        dead_V = little_V = r.healthy_low_V;
    for (int m = PR_FIELD_RESTING; m <= PR_FIELD_RESTED; m++) {
        pr_field_bands *bands = &table->meter[m];
        add_band(bands, plain(0.0, PR_FIELD_STOP, PR_FIELD_NOT_CHARGING));
        if (little_V > dead_V)
            add_band(bands, plain(dead_V, PR_FIELD_WAIT, PR_FIELD_CHARGES_LITTLE));
        add_band(bands, plain(little_V, m == PR_FIELD_RESTED ? PR_FIELD_PULL : PR_FIELD_WAIT,
                              PR_FIELD_AS_PLANNED));
        add_band(bands, plain(r.healthy_high_V + OVER_V, PR_FIELD_STOP, PR_FIELD_OVERCHARGING));
    }
    return PR_OK;
}

/* ---- in a pull */

static void make_pull_bands(pr_field_table *table)
{
    pr_field_bands *bands = &table->meter[PR_FIELD_PULLING];
    const double stop_V = isnan(table->bus_min_V) ? 0.0 : table->bus_min_V;
    double low_V = PR_INF;
    for (int k = 0; k < table->n_rows; k++)
        low_V = fmin(low_V, table->row[k].low_V);
    if (stop_V > 0.0)
        add_band(bands, plain(0.0, PR_FIELD_STOP, PR_FIELD_BELOW_LIMIT));
    if (low_V > stop_V)
        add_band(bands, plain(stop_V, PR_FIELD_WAIT, PR_FIELD_BELOW_PLAN));
    add_band(bands, plain(fmax(low_V, stop_V), PR_FIELD_PULL, PR_FIELD_AS_PLANNED));
    const pr_field_bands *rest = &table->meter[PR_FIELD_RESTING];
    if (rest->n > 0)
        add_band(bands,
                 plain(rest->band[rest->n - 1].from_V, PR_FIELD_STOP, PR_FIELD_OVERCHARGING));
}

pr_status pr_field_meter_make(const pr_scenario *scenario, pr_job *job, const pr_plan *plan,
                              pr_field_table *table)
{
    pr_status status = make_off_bands(scenario, job, plan, table);
    if (status == PR_OK && job->system->def.has_alternator)
        status = make_rest_bands(scenario, job, plan, table);
    if (status == PR_OK)
        make_pull_bands(table);
    return status;
}
