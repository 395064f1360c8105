/* Tables for the field; see fieldtable.h.
 *
 * Position. Where a driver stands in the plan is told by the seconds pulled so far, not by the
 * number of pulls: after two half pulls the way is that of one. The planned rest at a position is
 * that of the pull which ends there; between two of them the longer one; after the last one the
 * longest of the plan. Rests that set out the rope count as the longest other rest, because at
 * another position the rope is not in.
 *
 * Rest after a pull of length L that begins at row k: from the state before pull k, L is pulled
 * with all limits off (it has happened). A rest r now and a share f by which all later rests are
 * longer than planned are such that all pulls that follow, as planned, stay inside all limits until
 * the goal; of f = 0, 5 % .. 100 % and, for each, the smallest r = rest_min + 5 s x n, the pair is
 * taken that costs least time. (A plan is minimal to the second: a pull that is only moved can miss
 * a limit by a hair many pulls later, where no rest now helps, but slightly longer rests do.) For L
 * at least as planned r is never less than the planned rest. A limit that L itself breaks is on
 * record. Total time is no limit here.
 *
 * Level. Level 0: the state before pull k is the plan's. Level j: the pull before it was pulled for
 * the longest length of the table from level j - 1, and rested as that entry says. So a second pull
 * that is too long is looked up from a state that has a first one in it, at its most recent. Where
 * a level cannot be reached (too early, or out already) the level below stands in.
 *
 * An entry is never less than that of a shorter pull on the same side of the planned length, or of
 * a lower level. A pull that ended early counts as the worse of the entries around it. */
#include "planner/fieldtable.h"

#include "base/number.h"
#include "planner/job.h"

#include <math.h>
#include <stdlib.h>

static const double STEP_s = 5.0, SAME_s = 0.5; /* of rests; lengths that count as one */

/* Before a pull. */
typedef struct field_state {
    bool reached;
    pr_sim sim;
    double pulled_s, later_frac;
    size_t pulls;
} field_state;

typedef struct field {
    pr_job job;
    pr_limits none;
    const pr_plan *plan;
    pr_field_table *table;
    double *after_s; /* seconds pulled after each pull of the plan */
    pr_progress_fn progress;
    void *context;
} field;

/* Rest of a cycle without the time for the rope. */
static double cycle_rest_s(const pr_plan *plan, size_t i)
{
    return i + 1 >= plan->n_cycles || plan->cycles[i].rerig ? plan->rest_s : plan->cycles[i].rest_s;
}

static double floor_rest_s(const field *f, double rest_s)
{
    return fmax(rest_s, ceil(f->job.plan.rest_min_s));
}

static double planned_rest_s(const field *f, double pulled_s)
{
    const pr_plan *plan = f->plan;
    size_t i = 0;
    while (i < plan->n_cycles && f->after_s[i] < pulled_s - SAME_s)
        i++;
    if (i >= plan->n_cycles)
        return floor_rest_s(f, plan->rest_s);
    double rest_s = cycle_rest_s(plan, i);
    if (i > 0 && fabs(f->after_s[i] - pulled_s) > SAME_s)
        rest_s = fmax(rest_s, cycle_rest_s(plan, i - 1));
    return floor_rest_s(f, rest_s);
}

static pr_status run(field *f, pr_sim *sim, pr_activity activity, double duration_s,
                     pr_phase_end *end)
{
    const double goal_m = activity == PR_PULL ? f->job.distance_m : PR_INF;
    const pr_phase phase = {.activity = activity,
                            .engine_rpm = activity == PR_PULL ? f->job.pull_rpm : f->job.rest_rpm,
                            .duration_s = duration_s,
                            .stop_travel_m = isinf(goal_m) ? PR_NAN : goal_m};
    f->job.simulations++;
    return pr_sim_run(f->job.system, sim, &phase, &f->none, &f->job.options, NULL, end);
}

static bool is_counted_out(const field *f, size_t pulls)
{
    return f->job.plan.pulls > 0 && pulls >= (size_t)f->job.plan.pulls;
}

/* A pull that is over, whatever it broke. */
typedef struct pulled {
    field_state after;
    bool rope_in, out;
    pr_limit broke;
    pr_stop stop;
} pulled;

static pr_limit broken_limit(const field *f, const pr_phase_end *end)
{
    static const double SPECK = 1e-6; /* planned pulls end on a limit, give or take this */
    const pr_extremes *e = &end->extremes;
    const pr_limits *l = &f->job.limits;
    if (l->on[PR_LIMIT_VOLTAGE] && e->least_box_V < l->bus_min_V - SPECK)
        return PR_LIMIT_VOLTAGE;
    if (l->on[PR_LIMIT_RESTART] &&
        e->least_restart_V < f->job.system->def.cranking.min_V + l->restart_margin_V - SPECK)
        return PR_LIMIT_RESTART;
    if (l->on[PR_LIMIT_RESERVE] && e->least_soc_frac < l->reserve_frac - SPECK)
        return PR_LIMIT_RESERVE;
    if (l->on[PR_LIMIT_MOTOR_HEAT] && e->most_armature_degC > l->motor_max_degC + SPECK)
        return PR_LIMIT_MOTOR_HEAT;
    if (l->on[PR_LIMIT_CABLE_HEAT] &&
        pr_limit_margin(f->job.system, l, PR_LIMIT_CABLE_HEAT, &end->last) < -SPECK)
        return PR_LIMIT_CABLE_HEAT;
    return PR_LIMIT_NONE;
}

/* Is the vehicle there already? A rope as long as the way leaves a speck of it. */
static bool is_there(const field *f, const pr_sim *sim)
{
    static const double SPECK_m = 1e-3;
    const pr_system *system = f->job.system;
    return system->def.has_winch && sim->y[system->at.travel] > f->job.distance_m - SPECK_m;
}

static pr_status pull(field *f, const field_state *before, double length_s, pulled *p)
{
    pr_phase_end end;
    *p = (pulled){.after = *before, .stop = PR_STOP_TIME, .out = is_there(f, &before->sim)};
    if (p->out)
        return PR_OK;
    const pr_status status = run(f, &p->after.sim, PR_PULL, length_s, &end);
    if (status != PR_OK)
        return status;
    p->after.pulled_s += end.duration_s;
    p->after.pulls++;
    pr_job_settle_pull(&f->job, &end);
    p->rope_in = end.stop == PR_STOP_ROPE;
    p->out = end.stop == PR_STOP_TRAVEL || is_counted_out(f, p->after.pulls);
    p->broke = broken_limit(f, &end);
    if (end.stop != PR_STOP_TIME && !p->rope_in && !p->out)
        p->stop = end.stop;
    return PR_OK;
}

static pr_status rest(field *f, field_state *state, double rest_s, bool rerig)
{
    pr_phase_end end;
    pr_status status = PR_OK;
    if (rest_s > 0.0)
        status = run(f, &state->sim, PR_REST, rest_s, &end);
    if (rerig)
        pr_job_rerig(&f->job, &state->sim);
    return status;
}

static double longer_s(double rest_s, double later_frac)
{
    return ceil(rest_s * (1.0 + later_frac) - 1e-9);
}

/* Does the plan hold from here on, after this rest? */
typedef struct rest_trial {
    field *f;
    const pulled *from;
    double later_frac;
} rest_trial;

static pr_status try_units(void *context, long units, pr_trial *trial)
{
    const rest_trial *t = context;
    field *f = t->f;
    pr_sim sim = t->from->after.sim;
    double pulled_s = t->from->after.pulled_s;
    double rest_s = ceil(f->job.plan.rest_min_s) + STEP_s * (double)units;
    bool rerig = t->from->rope_in, first = true; /* the rest may begin outside of a limit */
    *trial = (pr_trial){.stop = PR_STOP_TIME};
    for (size_t n = t->from->after.pulls; n < 2 * (size_t)PR_CYCLES_MAX;) {
        pr_attempt a;
        const pr_status status = pr_job_attempt(&f->job, &sim, rest_s, first, rerig, &a);
        if (status != PR_OK)
            return status;
        trial->pass = a.trial.pass;
        trial->limit = a.trial.limit;
        trial->stop = a.trial.stop;
        trial->score = (double)n * f->job.pull_s + a.trial.score;
        n++;
        if (!a.trial.pass || a.at_goal || is_counted_out(f, n) || is_there(f, &a.after))
            return PR_OK;
        sim = a.after;
        pulled_s += a.pull.duration_s;
        rerig = a.pull.stop == PR_STOP_ROPE;
        rest_s = longer_s(planned_rest_s(f, pulled_s), t->later_frac);
        if (rerig)
            rest_s = fmax(rest_s, ceil(f->job.plan.rerig_s));
        first = false;
    }
    trial->pass = false;
    return PR_OK;
}

/* Smallest rest now, with later rests longer by later_frac. */
static pr_status find_rest_now(rest_trial *t, double guess_s, pr_smallest *found)
{
    const pr_plan_def *def = &t->f->job.plan;
    const double least_s = ceil(def->rest_min_s);
    const long most = (long)floor(fmax(def->rest_max_s - least_s, 0.0) / STEP_s);
    const long guess = (long)ceil((guess_s - least_s) / STEP_s);
    const pr_search_range range = {.lo = 0,
                                   .hi = most,
                                   .guess = guess < 0      ? 0
                                            : guess > most ? most
                                                           : guess};
    return pr_search_smallest(try_units, t, &range, found);
}

static pr_status find_rest(field *f, const pulled *p, double guess_s, pr_field_rest *entry)
{
    static const double shares[] = {0.0, 0.05, 0.10, 0.15, 0.20, 0.30, 0.40, 0.50, 0.75, 1.0};
    const double planned_s = planned_rest_s(f, p->after.pulled_s);
    const size_t done = p->after.pulls, all = f->plan->n_cycles;
    const double later_s = planned_s * (done < all ? (double)(all - done) : 1.0);
    double least_cost_s = PR_INF;
    entry->verdict = PR_FIELD_STOP;
    entry->rest_s = f->job.plan.rest_max_s;
    entry->later_frac = p->after.later_frac;
    for (size_t i = 0; i < sizeof shares / sizeof *shares; i++) {
        rest_trial t = {f, p, shares[i]};
        if (shares[i] < p->after.later_frac || shares[i] * later_s >= least_cost_s)
            continue;
        pr_smallest found;
        const pr_status status = find_rest_now(&t, guess_s, &found);
        if (status != PR_OK)
            return status;
        const double rest_s = ceil(f->job.plan.rest_min_s) + STEP_s * (double)found.seconds;
        const double cost_s = fmax(rest_s - planned_s, 0.0) + shares[i] * later_s;
        if (!found.found || !(cost_s < least_cost_s))
            continue;
        least_cost_s = cost_s;
        *entry = (pr_field_rest){PR_FIELD_WAIT, rest_s, shares[i], entry->broke, entry->stop};
    }
    return PR_OK;
}

static void worsen(pr_field_rest *entry, const pr_field_rest *other)
{
    if (other->verdict == PR_FIELD_STOP)
        entry->verdict = PR_FIELD_STOP;
    entry->rest_s = fmax(entry->rest_s, other->rest_s);
    entry->later_frac = fmax(entry->later_frac, other->later_frac);
}

/* One entry, and the state after it. */
static pr_status make_entry(field *f, const field_state *before, int level, int length,
                            const pr_field_rest *shorter, pulled *p, pr_field_rest *entry)
{
    pr_field_table *table = f->table;
    pr_status status = pull(f, before, table->length_s[length], p);
    if (status != PR_OK)
        return status;
    const double planned_s = planned_rest_s(f, p->after.pulled_s);
    const bool as_planned = level == 0 && length == table->planned;
    *entry = (pr_field_rest){PR_FIELD_WAIT, longer_s(planned_s, before->later_frac),
                             before->later_frac, p->broke, p->stop};
    if (p->stop != PR_STOP_TIME)
        entry->verdict = PR_FIELD_STOP;
    else if (!as_planned && !p->out)
        status = find_rest(f, p, shorter != NULL ? shorter->rest_s : planned_s, entry);
    if (length >= table->planned)
        entry->rest_s = fmax(entry->rest_s, longer_s(planned_s, before->later_frac));
    if (shorter != NULL)
        worsen(entry, shorter);
    return status;
}

/* The entries of one level of a row; *next is the state that leads to the next level. */
static pr_status make_level(field *f, const field_state *before, int level, pr_field_row *row,
                            field_state *next)
{
    next->reached = false;
    for (int l = 0; l < PR_FIELD_LENGTHS; l++) {
        pr_field_rest *entry = &row->rest[level][l];
        pulled p;
        pr_status status = make_entry(
            f, before, level, l, l > 0 && l != f->table->planned ? &entry[-1] : NULL, &p, entry);
        if (status != PR_OK)
            return status;
        if (level > 0)
            worsen(entry, &row->rest[level - 1][l]);
        if (l <= f->table->planned || entry->verdict == PR_FIELD_STOP || p.out)
            continue;
        *next = p.after;
        next->reached = true;
        next->later_frac = entry->later_frac;
        const double rest_s =
            p.rope_in ? fmax(entry->rest_s, ceil(f->job.plan.rerig_s)) : entry->rest_s;
        status = rest(f, next, rest_s, p.rope_in);
        if (status != PR_OK)
            return status;
    }
    return PR_OK;
}

static pr_status tell(const field *f, double done_frac)
{
    return f->progress != NULL && f->progress(f->context, done_frac) != 0 ? PR_ERR_CANCELLED
                                                                          : PR_OK;
}

/* Pull k as planned and the rest after it. */
static pr_status go_on(field *f, size_t k, field_state *state)
{
    const pr_cycle *cycle = &f->plan->cycles[k];
    pulled p;
    const pr_status status = pull(f, state, f->job.pull_s, &p);
    if (status != PR_OK)
        return status;
    *state = p.after;
    return rest(f, state, cycle->rest_s, cycle->rerig);
}

/* Long plans have a row for every second, third ... pull: work grows with pulls times rows. */
static size_t choose_stride(size_t n_pulls)
{
    enum { WORK = 1500, ROWS_LEAST = 6 };
    size_t rows = WORK / n_pulls;
    rows = rows < ROWS_LEAST ? ROWS_LEAST : rows > PR_FIELD_ROWS_MAX ? PR_FIELD_ROWS_MAX : rows;
    return (n_pulls + rows - 1) / rows;
}

static pr_status make_rows(field *f)
{
    const pr_plan *plan = f->plan;
    pr_field_table *table = f->table;
    const size_t stride = choose_stride(plan->n_cycles);
    field_state state[PR_FIELD_LEVELS] = {{.reached = true, .sim = f->job.start}};
    pr_status status = rest(f, &state[0], plan->first_rest_s, false);
    for (size_t k = 0; k < plan->n_cycles && status == PR_OK; k++) {
        field_state next[PR_FIELD_LEVELS] = {0};
        if (k % stride == 0) {
            pr_field_row *row = &table->row[table->n_rows++];
            *row = (pr_field_row){.pulled_s = state[0].pulled_s, .low_V = PR_INF};
            for (int j = 0; j < PR_FIELD_LEVELS && status == PR_OK; j++) {
                field_state unused = {0};
                field_state *to = j + 1 < PR_FIELD_LEVELS ? &next[j + 1] : &unused;
                if (state[j].reached)
                    status = make_level(f, &state[j], j, row, to);
                else
                    for (int l = 0; l < PR_FIELD_LENGTHS; l++)
                        row->rest[j][l] = row->rest[j - 1][l];
            }
        }
        pr_field_row *row = &table->row[table->n_rows - 1];
        const double low_V = plan->cycles[k].pull.extremes.least_box_V - PR_FIELD_METER_V;
        row->low_V = fmin(row->low_V, round(100.0 * low_V) / 100.0);
        next[0] = state[0];
        if (status == PR_OK)
            status = go_on(f, k, &next[0]);
        for (int j = 0; j < PR_FIELD_LEVELS; j++)
            state[j] = next[j];
        if (status == PR_OK)
            status = tell(f, (double)(k + 1) / (double)plan->n_cycles);
    }
    return status;
}

static void choose_lengths(pr_field_table *table, double pull_s)
{
    static const double share[PR_FIELD_LENGTHS] = {1.0 / 3.0, 2.0 / 3.0, 1.0, 7.0 / 6.0,
                                                   4.0 / 3.0, 5.0 / 3.0, 2.0};
    table->planned = 2;
    for (int l = 0; l < PR_FIELD_LENGTHS; l++)
        table->length_s[l] = l == table->planned ? pull_s : ceil(share[l] * pull_s);
}

static pr_status open_field(field *f, const pr_scenario *scenario, const pr_plan *plan,
                            const pr_limits *limits)
{
    pr_status status = pr_job_open(scenario, &f->job, NULL);
    if (status != PR_OK)
        return status;
    f->job.limits = *limits;
    if (f->job.system->def.has_winch)
        status = pr_job_rig(&f->job, plan->parts, scenario->system.demand_case);
    f->job.pull_s = plan->pull_s;
    f->job.pull_rpm = plan->pull_rpm;
    f->job.rest_rpm = plan->rest_rpm;
    f->none = *limits;
    for (int i = 0; i < PR_LIMIT_COUNT; i++)
        f->none.on[i] = false;
    f->after_s = malloc(plan->n_cycles * sizeof *f->after_s);
    if (f->after_s == NULL)
        return PR_ERR_NOMEM;
    double sum_s = 0.0;
    for (size_t i = 0; i < plan->n_cycles; i++)
        f->after_s[i] = sum_s += plan->cycles[i].pull_s;
    return status;
}

pr_status pr_field_table_make(const pr_scenario *scenario, const pr_plan *plan,
                              const pr_limits *limits, pr_field_table *table,
                              pr_progress_fn progress, void *progress_context)
{
    *table = (pr_field_table){0};
    if (plan->status != PR_OK || !plan->go || plan->n_cycles == 0)
        return PR_ERR_INPUT;
    field *f = calloc(1, sizeof *f);
    if (f == NULL)
        return PR_ERR_NOMEM;
    f->plan = plan;
    f->table = table;
    f->progress = progress;
    f->context = progress_context;
    choose_lengths(table, plan->pull_s);
    pr_status status = open_field(f, scenario, plan, limits);
    if (status == PR_OK) {
        table->longest_s = floor_rest_s(f, plan->rest_s);
        table->rerig_s = ceil(f->job.plan.rerig_s);
        table->bus_min_V = limits->on[PR_LIMIT_VOLTAGE] ? limits->bus_min_V : PR_NAN;
        status = make_rows(f);
    }
    if (status == PR_OK)
        status = pr_field_meter_make(scenario, &f->job, plan, table);
    table->simulations = f->job.simulations;
    free(f->after_s);
    pr_job_close(&f->job);
    free(f);
    return status;
}

/* ---- looking up */

/* The last row that begins at or before this position. */
static int row_at(const pr_field_table *table, double pulled_s)
{
    int k = table->n_rows - 1;
    while (k > 0 && table->row[k].pulled_s > pulled_s + SAME_s)
        k--;
    return k;
}

/* Does the row begin here? The next one counts as well when it does not. */
static bool is_between(const pr_field_table *table, int k, double pulled_s)
{
    return k + 1 < table->n_rows && fabs(table->row[k].pulled_s - pulled_s) > SAME_s;
}

pr_field_rest pr_field_look(const pr_field_table *table, double pulled_s, int level,
                            double later_frac, double length_s)
{
    int l = 0;
    while (l < PR_FIELD_LENGTHS && table->length_s[l] < length_s - SAME_s)
        l++;
    const bool beyond = l == PR_FIELD_LENGTHS;
    l = beyond ? PR_FIELD_LENGTHS - 1 : l;
    const int j = level < 0 ? 0 : level >= PR_FIELD_LEVELS ? PR_FIELD_LEVELS - 1 : level;
    const int k = row_at(table, pulled_s);
    const bool early = l == table->planned && l > 0 && length_s < table->length_s[l] - SAME_s;
    pr_field_rest entry = table->row[k].rest[j][l];
    if (early)
        worsen(&entry, &table->row[k].rest[j][l - 1]);
    double planned_s = table->row[k].rest[0][table->planned].rest_s;
    if (is_between(table, k, pulled_s)) {
        const pr_field_rest *next = &table->row[k + 1].rest[j][l];
        worsen(&entry, next);
        if (early)
            worsen(&entry, &next[-1]);
        planned_s = fmax(planned_s, table->row[k + 1].rest[0][table->planned].rest_s);
        if (entry.broke == PR_LIMIT_NONE)
            entry.broke = next->broke;
        if (entry.stop == PR_STOP_TIME)
            entry.stop = next->stop;
    }
    if (beyond)
        entry.verdict = PR_FIELD_STOP;
    entry.later_frac = fmax(entry.later_frac, later_frac);
    if (l >= table->planned)
        entry.rest_s = fmax(entry.rest_s, longer_s(planned_s, entry.later_frac));
    return entry;
}

pr_field_band pr_field_read(const pr_field_table *table, pr_field_moment moment, double pulled_s,
                            double V)
{
    static const double MOST_V = 40.0;
    static const pr_field_band no_reading = {0.0, PR_FIELD_STOP, PR_FIELD_NO_READING, PR_NAN,
                                             PR_NAN};
    if (!(V >= 0.0 && V <= MOST_V) || (unsigned)moment >= PR_FIELD_MOMENTS ||
        table->meter[moment].n == 0)
        return no_reading;
    const pr_field_bands *bands = &table->meter[moment];
    int i = bands->n - 1;
    while (i > 0 && V < bands->band[i].from_V)
        i--;
    pr_field_band band = bands->band[i];
    if (moment != PR_FIELD_PULLING || band.reason != PR_FIELD_AS_PLANNED)
        return band;
    /* better than the lowest pull of all; as good as this one has to be? */
    const int k = row_at(table, pulled_s);
    double low_V = table->row[k].low_V;
    if (is_between(table, k, pulled_s))
        low_V = fmin(low_V, table->row[k + 1].low_V);
    if (V < low_V) {
        band.verdict = PR_FIELD_WAIT;
        band.reason = PR_FIELD_BELOW_PLAN;
    }
    return band;
}
