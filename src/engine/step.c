/* One step of the production integrator, by one of two embedded pairs of Runge and Kutta, whose
 * last stage is the first of the next step:
 *
 *     y1 = y0 + h sum b_i k_i,   error = h sum e_i k_i,   k_i = f(tau + c_i h, y0 + h sum a_ij k_j)
 *
 * A long step is taken by a pair of fifth order. An event often ends a step long before the control
 * of errors would: there a pair of third order with half the evaluations is exact enough, and if it
 * is not the step is taken by the other (pair.c).
 *
 * Sums and interpolant are linear in the k_i, so what adds up to zero in every k_i does so in every
 * state: the ledger closes at events too.
 *
 * The voltage v1 of a battery's RC branch is the fastest state that matters: dv1/dt = n - v1/T with
 * the branch's time constant T and a drive n in proportion to the current, which changes slowly.
 * What v1 would do if n stayed as it is at the start, n0, is known, and how the rest decays is too:
 *
 *     v1(t) = v1(0) g + n0 T (1 - g) + z exp((h - t)/T),   g = exp(-t/T)
 *     dz/dt = (n - n0) exp((t - h)/T),   z(0) = 0
 *
 * (J. D. Lawson, 1967, SIAM J. Numer. Anal. 4, 372). Only z is left to the pair, so that steps are
 * as long as the slower states and the change of the current allow.
 *
 * What the branch stores, T v1^2 / (2 R1) joules, is taken from the battery's heat and given back
 * as fast. In the place of its temperature the pair therefore has u = temperature + q v1^2, with q
 * = T / (2 R1 C) for the heat capacity C and the R1 of the last event, in which that cancels out.
 *
 * The step is accepted when no state's local error exceeds tolerance x scale. A scale is what,
 * times the default tolerance of 1e-6, is small enough to trust: see pr_step_scales. Quadratures
 * are not controlled: they follow from states that are. */
#include "base/exponential.h"
#include "base/number.h"
#include "engine/pair.h"
#include "engine/run.h"

#include <math.h>
#include <string.h>

/* A step is short up to this share of what the other pair is expected to manage. */
static const double SHORT_SHARE = 0.2;
static const double GROWTH_MAX = 10.0;
/* Time constants of a branch that a step may take: rounding of z early in it is exp(h/T) times as
 * much in v1, 1e-8 V at this length. */
static const double BRANCH_STEPS = 20.0;

/* State after a stage: y0 + h sum a_ij k_j, for the entries first..end; the last stage has the
 * weights b_j of the step itself. Written out because this is where a good part of the time goes.
 */
static void combine(const pr_run *run, int stage, double h_s, int first, int end,
                    double *restrict y)
{
    const double *restrict y0 = run->sim->y;
    const double *restrict k0 = run->rate[0], *restrict k1 = run->rate[1];
    const double *restrict k2 = run->rate[2], *restrict k3 = run->rate[3];
    const double *restrict k4 = run->rate[4], *restrict k5 = run->rate[5];
    const double *w = run->pair->weight[stage];
    const double a0 = h_s * w[0], a1 = h_s * w[1], a2 = h_s * w[2], a3 = h_s * w[3],
                 a4 = h_s * w[4], a5 = h_s * w[5];
    switch (stage) {
    case 1:
        for (int i = first; i < end; i++)
            y[i] = y0[i] + a0 * k0[i];
        break;
    case 2:
        for (int i = first; i < end; i++)
            y[i] = y0[i] + (a0 * k0[i] + a1 * k1[i]);
        break;
    case 3:
        for (int i = first; i < end; i++)
            y[i] = y0[i] + (a0 * k0[i] + a1 * k1[i] + a2 * k2[i]);
        break;
    case 4:
        for (int i = first; i < end; i++)
            y[i] = y0[i] + (a0 * k0[i] + a1 * k1[i] + a2 * k2[i] + a3 * k3[i]);
        break;
    case 5:
        for (int i = first; i < end; i++)
            y[i] = y0[i] + (a0 * k0[i] + a1 * k1[i] + a2 * k2[i] + a3 * k3[i] + a4 * k4[i]);
        break;
    default: /* b_1 is zero */
        for (int i = first; i < end; i++)
            y[i] = y0[i] + (a0 * k0[i] + a2 * k2[i] + a3 * k3[i] + a4 * k4[i] + a5 * k5[i]);
        break;
    }
}

/* Largest local error over what is allowed; NaN counts as infinite. */
static double worst_error(const pr_run *run, double h_s)
{
    const double *e = run->pair->error_weight;
    const bool is_long = run->pair == &pr_pair_long;
    double worst = 0.0;
    for (int i = 0; i < run->system->at.ledger; i++) {
        double sum = e[0] * run->rate[0][i] + e[1] * run->rate[1][i] + e[2] * run->rate[2][i] +
                     e[3] * run->rate[3][i];
        if (is_long)
            sum += e[4] * run->rate[4][i] + e[5] * run->rate[5][i] + e[6] * run->rate[6][i];
        const double share = fabs(sum) * run->scale[i];
        if (!(share <= worst))
            worst = isnan(share) ? PR_INF : share;
    }
    return h_s * worst;
}

/* Voltages at the times of a step where the network has been solved; of two at one time the later
 * is the better. */
typedef struct track {
    int n;
    double node[PR_STAGES_MAX], node_V[PR_STAGES_MAX][PR_NODES];
} track;

static void track_add(track *t, double node, const double node_V[])
{
    if (t->n == 0 || t->node[t->n - 1] != node)
        t->n++;
    t->node[t->n - 1] = node;
    memcpy(t->node_V[t->n - 1], node_V, sizeof t->node_V[0]);
}

/* What to start from at a time: a line or parabola through the last ones; node_V has the last. */
static void track_guess(const track *t, double node, double node_V[])
{
    if (t->n < 2 || t->node[t->n - 1] == node)
        return;
    const double tb = t->node[t->n - 2], tc = t->node[t->n - 1];
    const double *b = t->node_V[t->n - 2], *c = t->node_V[t->n - 1];
    if (t->n == 2) {
        const double rise = (node - tc) / (tc - tb);
        for (int n = 0; n < PR_NODES; n++)
            node_V[n] = c[n] + rise * (c[n] - b[n]);
        return;
    }
    const double *a = t->node_V[t->n - 3], ta = t->node[t->n - 3];
    const double wa = (node - tb) * (node - tc) / ((ta - tb) * (ta - tc));
    const double wb = (node - ta) * (node - tc) / ((tb - ta) * (tb - tc));
    const double wc = (node - ta) * (node - tb) / ((tc - ta) * (tc - tb));
    for (int n = 0; n < PR_NODES; n++)
        node_V[n] = wa * a[n] + wb * b[n] + wc * c[n];
}

static int branch_at(const pr_run *run, int post)
{
    return run->system->at.battery[post] + 2;
}

/* The temperature comes after v1. */
static int temperature_at(const pr_run *run, int post)
{
    return branch_at(run, post) + 1;
}

/* n of a branch with this voltage and rate of change. */
static double drive_V_per_s(const pr_run *run, int post, double v1_V_per_s, double v1_V)
{
    return v1_V_per_s + v1_V / run->system->battery[post].tau_s;
}

/* From the rates of all states just after an event. */
static void begin_branch(pr_run *run, int post)
{
    const pr_battery *b = &run->system->battery[post];
    const double v1_V = run->sim->y[branch_at(run, post)];
    const double v1_V_per_s = run->rate[0][branch_at(run, post)];
    const double r1_ohm = run->now->laws.battery[post].r1_ohm;
    run->branch_drive_V_per_s[post] = drive_V_per_s(run, post, v1_V_per_s, v1_V);
    run->branch_K_per_V2[post] = b->tau_s / (2.0 * r1_ohm * b->heat_capacity_J_per_K);
    run->rate[0][temperature_at(run, post)] += 2.0 * run->branch_K_per_V2[post] * v1_V * v1_V_per_s;
}

void pr_step_begin(pr_run *run)
{
    const bool hold = run->rates_hold; /* the last stage of a step is the first of the next */
    run->rates_hold = false;
    if (hold)
        memcpy(run->rate[0], run->rate[run->pair->last],
               (size_t)run->system->n_states * sizeof run->rate[0][0]);
    else
        pr_frame_rates(&run->frame, run->sim->y, run->now, run->rate[0]);
    if (run->reference != NULL)
        return;
    for (int p = 0; p < run->system->def.n_batteries; p++) {
        double *rate = &run->rate[0][branch_at(run, p)];
        if (hold) /* there dz/dt is n - n0 */
            run->branch_drive_V_per_s[p] += *rate;
        else
            begin_branch(run, p);
        *rate = 0.0;
    }
}

static void begin_branches(pr_run *run, double h_s)
{
    const double *node = run->pair->node;
    for (int p = 0; p < run->system->def.n_batteries; p++)
        for (int s = 1; s <= run->pair->last; s++)
            run->branch_left_frac[p][s] =
                s > 1 && node[s] == node[s - 1]
                    ? run->branch_left_frac[p][s - 1]
                    : pr_exp(-node[s] * h_s / run->system->battery[p].tau_s);
}

/* v1 when `left_frac` is left of what it was at the start of the step, from z. */
static double branch_V(const pr_run *run, int post, double left_frac, double z_V)
{
    const double end_frac = run->branch_left_frac[post][run->pair->last];
    const double goal_V = run->branch_drive_V_per_s[post] * run->system->battery[post].tau_s;
    const double start_V = run->sim->y[branch_at(run, post)];
    return goal_V + (start_V - goal_V) * left_frac + z_V * left_frac / end_frac;
}

/* Temperature less u, both since the start of the step. */
static double branch_K(const pr_run *run, int post, double v1_V)
{
    const double start_V = run->sim->y[branch_at(run, post)];
    return run->branch_K_per_V2[post] * (start_V * start_V - v1_V * v1_V);
}

/* A stage has v1(0) + z in the place of v1, and u in that of the temperature. */
static void put_branches(const pr_run *run, int stage, double y[])
{
    for (int p = 0; p < run->system->def.n_batteries; p++) {
        const int i = branch_at(run, p);
        y[i] = branch_V(run, p, run->branch_left_frac[p][stage], y[i] - run->sim->y[i]);
        y[temperature_at(run, p)] += branch_K(run, p, y[i]);
    }
}

/* The rate of v1 becomes that of z, and the rate of the temperature that of u. */
static void take_branches(pr_run *run, int stage, const double y[])
{
    for (int p = 0; p < run->system->def.n_batteries; p++) {
        const int i = branch_at(run, p);
        const double *left_frac = run->branch_left_frac[p];
        double *rate = &run->rate[stage][i];
        run->rate[stage][temperature_at(run, p)] += 2.0 * run->branch_K_per_V2[p] * y[i] * *rate;
        *rate = (drive_V_per_s(run, p, *rate, y[i]) - run->branch_drive_V_per_s[p]) *
                (left_frac[run->pair->last] / left_frac[stage]);
    }
}

static pr_status try_pair(pr_run *run, const pr_pair *pair, double h_s, double *error)
{
    const int n_dynamic = run->system->at.ledger;
    double node_V[PR_NODES];
    track solved;
    solved.n = 0;
    run->pair = pair;
    memcpy(node_V, run->now->flows.node_V, sizeof node_V);
    track_add(&solved, 0.0, node_V);
    begin_branches(run, h_s);
    for (int s = 1; s <= pair->last; s++) {
        pr_instant *at = s == pair->early ? &run->early : run->next;
        combine(run, s, h_s, 0, n_dynamic, run->y1);
        put_branches(run, s, run->y1);
        track_guess(&solved, pair->node[s], node_V);
        const pr_status status =
            pr_frame_solve(&run->frame, run->tau_s + pair->node[s] * h_s, run->y1, node_V, at);
        run->sim->n_bus_solves++;
        if (status != PR_OK)
            return status;
        track_add(&solved, pair->node[s], node_V);
        pr_frame_rates(&run->frame, run->y1, at, run->rate[s]);
        take_branches(run, s, run->y1);
    }
    combine(run, pair->last, h_s, n_dynamic, run->system->n_states, run->y1);
    *error = worst_error(run, h_s);
    return PR_OK;
}

static pr_status try_embedded(pr_run *run, double h_s, double *error)
{
    if (h_s <= SHORT_SHARE * run->guess_s) {
        const pr_status status = try_pair(run, &pr_pair_short, h_s, error);
        if (status == PR_OK && *error <= 1.0)
            return PR_OK;
    }
    return try_pair(run, &pr_pair_long, h_s, error);
}

/* The interpolant of one state between y0 and y1. */
static inline double between(const pr_run *run, int i, double y0, double y1, double theta)
{
    const double h_s = run->h_s, rest = 1.0 - theta;
    const int last = run->pair->last;
    double sum = 0.0;
    for (int s = 0; s <= last; s++)
        sum += run->pair->dense_weight[s] * run->rate[s][i];
    const double r2 = y1 - y0, r3 = h_s * run->rate[0][i] - r2;
    const double r4 = r2 - h_s * run->rate[last][i] - r3, r5 = h_s * sum;
    return y0 + theta * (r2 + rest * (r3 + theta * (r4 + rest * r5)));
}

/* v1 and the temperature of a battery at a time within the step. */
static void branch_between(const pr_run *run, int post, double since_s, double *v1_V,
                           double *T_degC)
{
    const double *y0 = run->sim->y, *y1 = run->y1, theta = since_s / run->h_s;
    const int i = branch_at(run, post), j = temperature_at(run, post);
    const double left_frac = pr_exp(-since_s / run->system->battery[post].tau_s);
    const double end_frac = run->branch_left_frac[post][run->pair->last];
    const double end_z_V = y1[i] - branch_V(run, post, end_frac, 0.0);
    *v1_V = branch_V(run, post, left_frac, between(run, i, 0.0, end_z_V, theta));
    const double end_u_K = y1[j] - branch_K(run, post, y1[i]);
    *T_degC = between(run, j, y0[j], end_u_K, theta) + branch_K(run, post, *v1_V);
}

/* y may be run->y1. */
static void at_embedded(const pr_run *run, double since_s, int first, int end, double y[])
{
    const int n_batteries = run->system->def.n_batteries;
    const double *y0 = run->sim->y, *y1 = run->y1, theta = since_s / run->h_s;
    double v1_V[PR_POSTS], T_degC[PR_POSTS];
    for (int p = 0; p < n_batteries; p++)
        if (temperature_at(run, p) >= first && branch_at(run, p) < end)
            branch_between(run, p, since_s, &v1_V[p], &T_degC[p]);
    for (int i = first; i < end; i++)
        y[i] = between(run, i, y0[i], y1[i], theta);
    for (int p = 0; p < n_batteries; p++) {
        if (branch_at(run, p) >= first && branch_at(run, p) < end)
            y[branch_at(run, p)] = v1_V[p];
        if (temperature_at(run, p) >= first && temperature_at(run, p) < end)
            y[temperature_at(run, p)] = T_degC[p];
    }
}

pr_status pr_step_try(pr_run *run, double h_s, double *error)
{
    run->h_s = h_s;
    run->has_early = run->reference == NULL;
    return run->reference != NULL ? pr_reference_try(run, h_s, error)
                                  : try_embedded(run, h_s, error);
}

pr_status pr_step_at(const pr_run *run, double since_s, int first, int end, double y[])
{
    if (since_s == run->h_s) {
        memcpy(&y[first], &run->y1[first], (size_t)(end - first) * sizeof y[0]);
        return PR_OK;
    }
    if (run->reference != NULL)
        return pr_reference_at(run, since_s, y);
    at_embedded(run, since_s, first, end, y);
    return PR_OK;
}

/* What counts as 1 in each state: a local error of tolerance x this is allowed. With 1e-6: a
 * quarter of a millionth of the battery's charge, 0.03 mV in the RC branch (a regulated battery
 * turns an error of it into current), 0.01 K, 0.1 mm, 0.01 A of ramp, 1e-4 of a fuse. An hour of
 * pulls and rests then ends within 1e-5 of the charge. */
void pr_step_scales(pr_run *run)
{
    const pr_system *system = run->system;
    const struct pr_layout *at = &system->at;
    double *s = run->scale;
    const double per = 1.0 / run->options.tolerance;
    for (int i = 0; i < system->n_states; i++)
        s[i] = 1e-4 * per; /* temperatures and the ramp */
    for (int p = 0; p < system->def.n_batteries; p++) {
        s[at->battery[p]] = s[at->battery[p] + 1] = 4.0 * per / system->battery[p].qmax_As;
        s[at->battery[p] + 2] = 3e-2 * per;
    }
    if (system->def.has_winch)
        s[at->travel] = 1e-2 * per;
    for (int i = 0; i < at->n_thermostats; i++)
        s[at->thermostat + i] = 0.0; /* straight lines */
    for (int i = 0; i < at->n_fuses; i++)
        s[at->fuse + i] = 1e-2 * per;
}

double pr_step_longest_s(const pr_run *run)
{
    double least_s = PR_INF;
    for (int p = 0; run->reference == NULL && p < run->system->def.n_batteries; p++)
        least_s = fmin(least_s, BRANCH_STEPS * run->system->battery[p].tau_s);
    return least_s;
}

double pr_step_change(double error)
{
    if (!(error > 1e-6))
        return GROWTH_MAX;
    return fmin(GROWTH_MAX, fmax(0.15, 0.9 * pow(error, -0.2)));
}

bool pr_step_is_short(const pr_run *run)
{
    return run->reference == NULL && run->pair == &pr_pair_short;
}
