/* Curves of the winch by itself; see curves.h.
 *
 * Sheet: amps for a pull do not depend on the voltage, the rope's speed does; first layer, motor at
 * 25 degC, volts at its own posts, to the pull at which it stalls.
 *
 * Heat: pulls at shares of the rated pull, 12 V at the posts, from the outside air until the
 * winding reaches its limit, then rest; by the middle rule in steps of a quarter of a second (the
 * fastest time constant is minutes). Time allowed: the same from the outside air, and again after
 * one such pull and a rest of 5 min. */
#include "planner/curves.h"

#include "base/number.h"

#include <math.h>

enum { VOLTS = 4, SHARES = 4, PULLS = 60 };
static const double AT_V[VOLTS] = {13.5, 12.0, 10.5, 9.0};
static const double SHARE[SHARES] = {1.0, 0.75, 0.5, 0.25};
static const double STEP_s = 0.25, LONGEST_s = 600.0, WINDOW_s = 1200.0, SUPPLY_V = 12.0;

pr_status pr_curves_winch(const pr_scenario *scenario, const pr_system *system, pr_curves *out)
{
    const pr_motor *m = &system->motor;
    const double scale = m->def.sheet_V / SUPPLY_V;
    static const char *const names[VOLTS] = {"volt_1", "volt_2", "volt_3", "volt_4"};
    *out = pr_curves_init("winch", scenario->title);
    if (!system->def.has_winch)
        return PR_ERR_INPUT;
    pr_curves_begin(out, "curve", 2 + VOLTS);
    for (int i = 0; i <= 2 * PULLS; i++) {
        const double pull_N = 1.5 * m->def.rated_pull_N * i / (2 * PULLS);
        const double amps_A = pr_motor_pull_A(m, pull_N);
        double row[2 + VOLTS] = {pull_N, amps_A};
        for (int k = 0; k < VOLTS; k++) {
            const double v = pr_motor_speed_mps(m, scale * AT_V[k], amps_A, 25.0);
            row[2 + k] = v > 0.0 ? v : PR_NAN;
        }
        pr_curves_row(out, row);
    }
    pr_curves_begin(out, "layers", 3);
    for (int n = 1; n <= system->drum.layers; n++) {
        const double row[] = {n, m->def.rated_pull_N / pr_drum_ratio(&system->drum, n),
                              system->drum.layer_end_m[n - 1]};
        pr_curves_row(out, row);
    }
    for (int k = 0; k < VOLTS; k++)
        pr_curves_number_add(out, names[k], scale * AT_V[k]);
    pr_curves_number_add(out, "rated_N", m->def.rated_pull_N);
    pr_curves_number_add(out, "rated_A", m->def.rated_A);
    pr_curves_number_add(out, "rated_mps", m->def.rated_mps);
    pr_curves_number_add(out, "no_load_A", m->def.no_load_A);
    pr_curves_number_add(out, "no_load_mps", m->def.no_load_mps);
    pr_curves_number_add(out, "sheet_V", m->def.sheet_V);
    return out->status;
}

/* A pull (share > 0) or a rest (share 0) of one step. */
typedef struct heater {
    const pr_motor *motor;
    double supply_V, ambient_degC;
} heater;

static void rates_of(const heater *h, const pr_motor_state *state, double share,
                     pr_motor_state *rates)
{
    const double pull_N = share * h->motor->def.rated_pull_N;
    double amps_A = 0.0, speed = 0.0;
    if (share > 0.0) {
        amps_A =
            pr_motor_current_A(h->motor, pull_N, h->supply_V, state->armature_degC, NULL, NULL);
        speed = fmax(0.0, pr_motor_speed_mps(h->motor, h->supply_V, amps_A, state->armature_degC));
    }
    pr_motor_rates(h->motor, state, h->supply_V, amps_A, pull_N, speed, h->ambient_degC, rates);
}

static void step(const heater *h, pr_motor_state *state, double share)
{
    pr_motor_state rates, middle;
    rates_of(h, state, share, &rates);
    middle.armature_degC = state->armature_degC + 0.5 * STEP_s * rates.armature_degC;
    middle.case_degC = state->case_degC + 0.5 * STEP_s * rates.case_degC;
    rates_of(h, &middle, share, &rates);
    state->armature_degC += STEP_s * rates.armature_degC;
    state->case_degC += STEP_s * rates.case_degC;
}

/* Pulls until the winding is as hot as it may be; PR_NAN when that takes more than the longest. */
static double pull_until(const heater *h, pr_motor_state *state, double share, double most_degC)
{
    double t_s = 0.0;
    while (state->armature_degC < most_degC && t_s < LONGEST_s) {
        step(h, state, share);
        t_s += STEP_s;
    }
    return state->armature_degC < most_degC ? PR_NAN : t_s;
}

static void put_warming(const heater *h, double most_degC, pr_curves *out)
{
    static const double ROW_s = 5.0;
    pr_motor_state state[SHARES];
    bool resting[SHARES] = {false};
    for (int k = 0; k < SHARES; k++)
        state[k] = pr_motor_state_at(h->ambient_degC);
    pr_curves_begin(out, "warming", 1 + SHARES);
    double next_s = 0.0;
    for (int n = 0; n * STEP_s <= WINDOW_s; n++) {
        const double t_s = n * STEP_s;
        if (t_s >= next_s) {
            double row[1 + SHARES] = {t_s};
            for (int k = 0; k < SHARES; k++)
                row[1 + k] = state[k].armature_degC;
            pr_curves_row(out, row);
            next_s += ROW_s;
        }
        for (int k = 0; k < SHARES; k++) {
            resting[k] = resting[k] || state[k].armature_degC >= most_degC || t_s >= LONGEST_s;
            step(h, &state[k], resting[k] ? 0.0 : SHARE[k]);
        }
    }
}

static void put_allowed(const heater *h, double most_degC, pr_curves *out)
{
    static const double REST_s = 300.0;
    static const int last = PULLS / 2;
    pr_curves_begin(out, "allowed", 3);
    for (int i = 0; i <= last; i++) {
        const double share = 0.2 + 0.9 * i / last;
        pr_motor_state state = pr_motor_state_at(h->ambient_degC);
        double row[3] = {share * h->motor->def.rated_pull_N, PR_NAN, PR_NAN};
        row[1] = pull_until(h, &state, share, most_degC);
        if (isfinite(row[1])) {
            for (int n = 0; n * STEP_s < REST_s; n++)
                step(h, &state, 0.0);
            row[2] = pull_until(h, &state, share, most_degC);
        }
        pr_curves_row(out, row);
    }
}

pr_status pr_curves_heat(const pr_scenario *scenario, const pr_system *system, pr_curves *out)
{
    const pr_motor *m = &system->motor;
    *out = pr_curves_init("heat", scenario->title);
    if (!system->def.has_winch)
        return PR_ERR_INPUT;
    const heater h = {m, m->def.sheet_V, system->def.ambient_degC};
    const double most_degC = isfinite(scenario->plan.motor_max_degC) ? scenario->plan.motor_max_degC
                                                                     : m->def.limit_degC - 15.0;
    put_warming(&h, most_degC, out);
    put_allowed(&h, most_degC, out);
    static const char *const names[SHARES] = {"amps_1", "amps_2", "amps_3", "amps_4"};
    for (int k = 0; k < SHARES; k++)
        pr_curves_number_add(out, names[k], pr_motor_pull_A(m, SHARE[k] * m->def.rated_pull_N));
    pr_curves_number_add(out, "rated_N", m->def.rated_pull_N);
    pr_curves_number_add(out, "most", most_degC);
    pr_curves_number_add(out, "class_limit", m->def.limit_degC);
    pr_curves_number_add(out, "ambient", h.ambient_degC);
    return out->status;
}
