/* The circuit of circuit.h once more, written from docs/physics alone and integrated by SUNDIALS
 * CVODE (Adams) with its own root finding; compared with pullrest at the end of every phase.
 *
 *   crosscheck_cvode FILE LIMITS [CLOSED OPENED SEEN]
 *       FILE: what `crosscheck_dump circuit` printed, parameters and results; the others: least
 *       number of regulator limits to be met, of the relay's closings in rests and openings in
 *       pulls, and of its thresholds found as roots
 *
 * Found by roots: regulator limit (regulated, full field, blocked), charge and discharge, direction
 * of flow between the wells, 25 degC, layers of the drum, thresholds and delays of the relay.
 * Between roots nothing switches; the relay's moves must also come at pullrest's times. */
#include "circuit_model.h"

#include <cvode/cvode.h>
#include <gsl/gsl_errno.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdio.h>
#include <stdlib.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>

static const double TOLERANCE = 1e-6; /* asked of every state, relative */
/* --- derivatives and roots, as CVODE wants them --- */

/* y, dy: of the whole vehicle. */
static void battery_rates(const model *m, int post, const double *y, const flows *f, double *dy)
{
    const battery *b = &m->battery[post];
    y += battery_at(post), dy += battery_at(post);
    const double T = y[T_BATTERY], h1 = y[Q1] / b->c, h2 = y[Q2] / (1.0 - b->c);
    const double kp = (h2 > h1 ? b->kd : b->kc) * exp(b->k_per_K * (T - 25.0));
    const double flow = kp * b->c * (1.0 - b->c) * (h2 - h1);
    const double r1 = (1.0 - b->r0_share) * b->r25 * exp(b->r_per_K * (25.0 - T));
    const double E = rest_V(b, y), d = f->v[post] - E - y[V1];
    const double amps = f->battery_A[post], gas = f->gas_A[post];
    dy[Q1] = amps - gas + flow;
    dy[Q2] = -flow;
    dy[V1] = (amps * r1 - y[V1]) / b->tau;
    dy[T_BATTERY] = (amps * d + E * gas + y[V1] * y[V1] / r1 - b->case_W_per_K * (T - m->ambient)) /
                    b->heat_J_per_K;
}

static void winch_rates(const model *m, const double *y, const flows *f, double *dy)
{
    const double TA = y[T_ARMATURE], TC = y[T_CASE], I = f->winch_A;
    const double R = m->r * (m->brush + (1.0 - m->brush) * (234.5 + TA) / 259.5);
    double friction_W = 0.0;
    dy[TRAVEL] = dy[ROPE_J] = 0.0;
    if (m->pulling) {
        const double K = m->ks * I / (I + m->is), F = m->line_N * m->ratio[m->layer];
        const double v = (f->winch_V - I * R) / K;
        friction_W = (K * I - F) * v;
        dy[TRAVEL] = v * m->ratio[m->layer] / m->parts;
        dy[ROPE_J] = F * v;
    }
    dy[T_ARMATURE] = (I * I * R - m->ga * (TA - TC)) / m->ca;
    dy[T_CASE] = (friction_W + m->ga * (TA - TC) - m->gc * (TC - m->ambient)) / m->cc;
}

static double wire_rate(const model *m, const double *y, int w, double amps)
{
    const double T = wire_degC(y, w), around = m->ambient + m->wire_warm[w] * m->engine_space;
    const double heat_W = amps * amps * m->r20[w] * (234.5 + T) / 254.5;
    return (heat_W - m->wire_G[w] * (T - around)) / m->wire_C[w];
}

static int rates(realtype t, N_Vector yv, N_Vector dyv, void *context)
{
    const model *m = context;
    const double *y = N_VGetArrayPointer(yv);
    double *dy = N_VGetArrayPointer(dyv);
    flows f;
    solve_bus(m, t, y, &f);
    battery_rates(m, 0, y, &f, dy);
    winch_rates(m, y, &f, dy);
    const double share = f.alternator_A / m->rated, air = m->ambient + m->air_rise;
    dy[T_WINDING] = (air + 60.0 * share * share - y[T_WINDING]) / 600.0;
    const double amps[SINGLE_WIRES] = {f.alternator_A, f.winch_A, f.loads_A[0], f.wired_A};
    for (int w = 0; w < SINGLE_WIRES; w++)
        dy[T_WIRE + w] = wire_rate(m, y, w, amps[w]);
    dy[BATTERY_As] = f.battery_A[0];
    dy[GAS_As] = f.gas_A[0];
    dy[ALTERNATOR_As] = f.alternator_A;
    dy[WINCH_As] = f.winch_A;
    dy[LOADS_As] = f.loads_A[0] + f.loads_A[1];
    if (m->n_posts == 1)
        return 0;
    battery_rates(m, 1, y, &f, dy);
    dy[T_WIRE_PAIR] = wire_rate(m, y, W_BOX1, f.loads_A[1]);
    dy[T_WIRE_PAIR + 1] = wire_rate(m, y, W_LINK, f.link_A);
    dy[BATTERY1_As] = f.battery_A[1];
    dy[GAS1_As] = f.gas_A[1];
    dy[LINK_J] = f.link_A * (f.v[0] - f.v[1]);
    return 0;
}

enum { ROOT_FIELD, ROOT_BLOCK, ROOT_LAYER, ROOT_WISH, ROOT_DUE, ROOT_CHARGE };
enum { ROOT_FLOW = ROOT_CHARGE + POSTS, ROOT_25 = ROOT_FLOW + POSTS, ROOTS = ROOT_25 + POSTS };

/* A wish of the relay comes true, or, while it waits, is forgotten: 1 mV back (engine.md). */
static double wish_margin(const model *m, double v)
{
    const double sign = m->closed ? 1.0 : -1.0, bound = m->closed ? m->open_V : m->close_V;
    return isinf(m->due_s) ? sign * (v - bound) : sign * (bound - v) + 1e-3;
}

static int root_values(realtype t, N_Vector yv, realtype *g, void *context)
{
    const model *m = context;
    const double *y = N_VGetArrayPointer(yv);
    flows f;
    solve_bus(m, t, y, &f);
    const double sense = m->sense_battery ? f.v[0] : f.alternator_V;
    g[ROOT_FIELD] = m->field == REGULATED ? full_field_A(m, y, f.alternator_V) - f.alternator_A
                    : m->field == FULL    ? set_V(m) - sense - m->droop * f.alternator_A
                                          : sense - set_V(m);
    g[ROOT_BLOCK] = m->field == REGULATED ? f.alternator_A : 1.0;
    g[ROOT_LAYER] = m->layer_end[m->layer] - on_drum_m(m, y);
    g[ROOT_WISH] = m->n_posts > 1 ? wish_margin(m, f.v[0]) : 1.0;
    g[ROOT_DUE] = isinf(m->due_s) ? 1.0 : m->due_s - t;
    for (int p = 0; p < POSTS; p++) {
        const double *yb = y + battery_at(p);
        const battery *b = &m->battery[p];
        const bool here = p < m->n_posts;
        g[ROOT_CHARGE + p] = here ? f.v[p] - rest_V(b, yb) - yb[V1] : 1.0;
        g[ROOT_FLOW + p] = here ? yb[Q2] / (1.0 - b->c) - yb[Q1] / b->c : 1.0;
        g[ROOT_25 + p] = here ? yb[T_BATTERY] - 25.0 : 1.0;
    }
    return 0;
}

/* The regime that fits at the start of a phase. */
static void find_field(model *m, double t, const double *y)
{
    flows f;
    m->field = REGULATED;
    solve_bus(m, t, y, &f);
    if (f.alternator_A < 0.0)
        m->field = BLOCKED;
    else if (f.alternator_A > full_field_A(m, y, f.alternator_V))
        m->field = FULL;
}

/* --- the run --- */

static int n_states(const model *m)
{
    return m->n_posts > 1 ? STATES : PAIR;
}

static int n_events_[ROOTS];
static int n_closed_pull_, n_closed_rest_, n_opened_pull_, n_opened_rest_, n_forgotten_;

/* The relay starts to wait, or forgets it. */
static void take_wish(model *m, double t)
{
    const bool waits = !isinf(m->due_s);
    n_forgotten_ += waits;
    m->due_s = t + (m->closed ? m->open_delay_s : m->close_delay_s);
    if (waits)
        m->due_s = (double)INFINITY;
}

/* pullrest moves the relay this much later at most: it goes on from the far side of a bracket of
 * 0.5 ms (engine.md). */
static const double LATE_S = 0.5e-3, ROUNDING_S = 2e-6;
static int n_moves_;
static bool in_time_ = true;
static double latest_s_;

static void move_relay(model *m, double t)
{
    if (n_moves_ < (int)get("relay_moves")) {
        const double late_s = get_at("relay_s", n_moves_) - t;
        in_time_ = in_time_ && late_s >= -ROUNDING_S && late_s <= LATE_S + ROUNDING_S;
        latest_s_ = fmax(latest_s_, fabs(late_s));
    }
    n_moves_++;
    m->closed = !m->closed;
    m->due_s = (double)INFINITY;
    if (m->closed)
        ++*(m->pulling ? &n_closed_pull_ : &n_closed_rest_);
    else
        ++*(m->pulling ? &n_opened_pull_ : &n_opened_rest_);
}

/* After a jump of the voltages, at the start of a phase and when the relay has moved: the regime
 * that fits, and what the relay wishes. */
static void settle(model *m, double t, const double *y)
{
    find_field(m, t, y);
    if (m->n_posts == 1)
        return;
    flows f;
    solve_bus(m, t, y, &f);
    if (wish_margin(m, f.v[0]) <= 0.0)
        take_wish(m, t);
}

static void take_roots(model *m, double t, const double *y, const int found[ROOTS])
{
    for (int i = 0; i < ROOTS; i++)
        n_events_[i] += found[i] != 0;
    if (found[ROOT_LAYER] != 0)
        m->layer++;
    if (found[ROOT_DUE] != 0) {
        move_relay(m, t);
        settle(m, t, y);
        return;
    }
    if (found[ROOT_WISH] != 0)
        take_wish(m, t);
    if (found[ROOT_FIELD] != 0)
        m->field = m->field == REGULATED ? FULL : REGULATED;
    else if (found[ROOT_BLOCK] != 0)
        m->field = BLOCKED;
}

static void need(int flag, const char *what)
{
    if (flag >= 0)
        return;
    fprintf(stderr, "%s: CVODE says %d\n", what, flag);
    exit(1);
}

static void run_phase(void *cvode, model *m, N_Vector y, double from_s, double to_s)
{
    double t = from_s;
    settle(m, t, N_VGetArrayPointer(y));
    need(CVodeReInit(cvode, t, y), "restart");
    need(CVodeSetStopTime(cvode, to_s), "stop time");
    /* the inrush would be over before an error control that starts from a long step sees it */
    need(CVodeSetInitStep(cvode, 1e-4), "first step");
    for (;;) {
        const int flag = CVode(cvode, to_s, y, &t, CV_NORMAL);
        need(flag, "step");
        if (flag != CV_ROOT_RETURN)
            return;
        int found[ROOTS];
        need(CVodeGetRootInfo(cvode, found), "roots");
        take_roots(m, t, N_VGetArrayPointer(y), found);
        need(CVodeReInit(cvode, t, y), "restart");
        need(CVodeSetStopTime(cvode, to_s), "stop time");
    }
}

static const struct {
    const char *name;
    double floor, atol; /* what it is compared to at least; absolute tolerance of CVODE */
} states_[STATES] = {
    [Q1] = {"q1_As", 1.0, 1e-6},
    [Q2] = {"q2_As", 1.0, 1e-6},
    [V1] = {"v1_V", 0.1, 1e-12},
    [T_BATTERY] = {"battery_degC", 1.0, 1e-10},
    [T_WINDING] = {"winding_degC", 1.0, 1e-10},
    [T_ARMATURE] = {"armature_degC", 1.0, 1e-10},
    [T_CASE] = {"case_degC", 1.0, 1e-10},
    [TRAVEL] = {"travel_m", 0.1, 1e-11},
    [T_WIRE] = {"wire_degC0", 1.0, 1e-10},
    [T_WIRE + 1] = {"wire_degC1", 1.0, 1e-10},
    [T_WIRE + 2] = {"wire_degC2", 1.0, 1e-10},
    [T_WIRE + 3] = {"wire_degC3", 1.0, 1e-10},
    [BATTERY_As] = {"battery_As", 2700.0, 1e-5},
    [GAS_As] = {"gas_As", 10.0, 1e-7},
    [ALTERNATOR_As] = {"alternator_As", 100.0, 1e-5},
    [WINCH_As] = {"winch_As", 100.0, 1e-5},
    [LOADS_As] = {"loads_As", 100.0, 1e-5},
    [ROPE_J] = {"rope_J", 100.0, 1e-5},
    [PAIR + Q1] = {"second.q1_As", 1.0, 1e-6},
    [PAIR + Q2] = {"second.q2_As", 1.0, 1e-6},
    [PAIR + V1] = {"second.v1_V", 0.1, 1e-12},
    [PAIR + T_BATTERY] = {"second.battery_degC", 1.0, 1e-10},
    [T_WIRE_PAIR] = {"wire_degC4", 1.0, 1e-10},
    [T_WIRE_PAIR + 1] = {"wire_degC5", 1.0, 1e-10},
    [BATTERY1_As] = {"second.battery_As", 2700.0, 1e-5},
    [GAS1_As] = {"second.gas_As", 10.0, 1e-7},
    [LINK_J] = {"link_J", 100.0, 1e-5},
};

static double gap_of(double mine, double theirs, double least)
{
    return fabs(mine - theirs) / fmax(fabs(theirs), least);
}

/* Largest relative difference at the end of a phase, also in the voltages. */
static double compare(const model *m, int phase, double t, const double *y, double worst[])
{
    static const char *const posts[POSTS] = {"post_V", "second.post_V"};
    static const char *const boxes[POSTS] = {"box_V", "second.box_V"};
    double most = 0.0;
    for (int i = 0; i < n_states(m); i++) {
        const double e = gap_of(y[i], get_at(states_[i].name, phase), states_[i].floor);
        worst[i] = fmax(worst[i], e);
        most = fmax(most, e);
    }
    flows f;
    solve_bus(m, t, y, &f);
    for (int p = 0; p < m->n_posts; p++) {
        most = fmax(most, gap_of(f.v[p], get_at(posts[p], phase), 1.0));
        most = fmax(most, gap_of(f.box[p], get_at(boxes[p], phase), 1.0));
    }
    if (m->layer + 1 != (int)get_at("layer", phase))
        most = 1.0;
    if (m->n_posts > 1 && m->closed != (get_at("closed", phase) > 0.5))
        most = 1.0;
    return most;
}

static void *open_cvode(SUNContext context, model *m, N_Vector y, SUNNonlinearSolver *solver)
{
    void *cvode = CVodeCreate(CV_ADAMS, context);
    N_Vector atol = N_VClone(y);
    for (int i = 0; i < n_states(m); i++)
        NV_Ith_S(atol, i) = states_[i].atol;
    *solver = SUNNonlinSol_FixedPoint(y, 0, context);
    need(CVodeInit(cvode, rates, 0.0, y), "start");
    need(CVodeSVtolerances(cvode, 1e-12, atol), "tolerances");
    need(CVodeSetNonlinearSolver(cvode, *solver), "solver");
    need(CVodeSetUserData(cvode, m), "data");
    need(CVodeSetMaxNumSteps(cvode, 1000000), "steps");
    need(CVodeSetMaxStep(cvode, 2.0), "longest step");
    need(CVodeRootInit(cvode, ROOTS, root_values), "roots");
    /* a regime or layer is left when its margin falls; it begins with a margin that rises */
    int falling[ROOTS] = {
        [ROOT_FIELD] = -1, [ROOT_BLOCK] = -1, [ROOT_LAYER] = -1, [ROOT_WISH] = -1, [ROOT_DUE] = -1};
    need(CVodeSetRootDirection(cvode, falling), "directions");
    need(CVodeSetNoInactiveRootWarn(cvode), "warnings");
    N_VDestroy(atol);
    return cvode;
}

static void print_result(const model *m, const double worst[STATES])
{
    for (int i = 0; i < n_states(m); i++)
        printf("  %-20s %.1e\n", states_[i].name, worst[i]);
    for (int p = 0; p < m->n_posts; p++)
        printf("battery %d: charge/discharge %d, wells %d, 25 degC %d\n", p,
               n_events_[ROOT_CHARGE + p], n_events_[ROOT_FLOW + p], n_events_[ROOT_25 + p]);
    printf("regulator %d, blocked %d, layer %d\n", n_events_[ROOT_FIELD], n_events_[ROOT_BLOCK],
           n_events_[ROOT_LAYER]);
    printf("relay: closed in pulls %d, in rests %d; opened in pulls %d, in rests %d; forgot %d; "
           "thresholds found as roots %d\n"
           "       %d moves, pullrest %d, at most %.1e s apart\n",
           n_closed_pull_, n_closed_rest_, n_opened_pull_, n_opened_rest_, n_forgotten_,
           n_events_[ROOT_WISH], n_moves_, (int)get("relay_moves"), latest_s_);
}

int main(int argc, char **argv)
{
    if (argc < 3)
        return 2;
    gsl_set_error_handler_off();
    read_entries(argv[1]);
    static model m;
    read_model(&m);
    while (on_drum_m(&m, (double[STATES]){0.0}) >= m.layer_end[m.layer])
        m.layer++;
    SUNContext context;
    need(SUNContext_Create(NULL, &context), "context");
    N_Vector y = N_VNew_Serial(n_states(&m), context);
    for (int i = 0; i < n_states(&m); i++)
        NV_Ith_S(y, i) = get_at(states_[i].name, 0);
    SUNNonlinearSolver solver;
    void *cvode = open_cvode(context, &m, y, &solver);
    double worst[STATES] = {0.0}, most = 0.0, t = 0.0;
    for (int n = 0; n < (int)get("phases"); n++) {
        m.pulling = n % 2 == 0;
        m.rpm = get(m.pulling ? "pull_rpm" : "rest_rpm");
        m.start_s = t;
        const double end_s = t + get(m.pulling ? "pull_s" : "rest_s");
        run_phase(cvode, &m, y, t, end_s);
        t = end_s;
        most = fmax(most, compare(&m, n + 1, t, N_VGetArrayPointer(y), worst));
    }
    print_result(&m, worst);
    printf("largest relative difference %.2e, allowed %.0e\n", most, TOLERANCE);
    CVodeFree(&cvode);
    SUNNonlinSolFree(solver);
    N_VDestroy(y);
    SUNContext_Free(&context);
    const int met[] = {n_events_[ROOT_FIELD], n_closed_rest_, n_opened_pull_, n_events_[ROOT_WISH]};
    bool good = most <= TOLERANCE && in_time_ && n_moves_ == (int)get("relay_moves");
    for (int i = 0; i + 2 < argc && i < 4; i++)
        good = good && met[i] >= atoi(argv[i + 2]);
    return good ? 0 : 1;
}
