/* The circuit of circuit.h once more, written from docs/physics alone and integrated by SUNDIALS
 * CVODE (Adams) with its own root finding; compared with pullrest at the end of every phase.
 *
 *   crosscheck_cvode FILE EVENTS   FILE: what `crosscheck_dump circuit` printed, parameters and
 *                                  results; EVENTS: least number of regulator limits to be met
 *
 * Found by roots: regulator limit (regulated, full field, blocked), charge and discharge, direction
 * of flow between the wells, 25 degC, layers of the drum. Between roots nothing switches. */
#include <cvode/cvode.h>
#include <gsl/gsl_errno.h>
#include <gsl/gsl_interp.h>
#include <gsl/gsl_roots.h>
#include <math.h>
#include <nvector/nvector_serial.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sunnonlinsol/sunnonlinsol_fixedpoint.h>

static const double PI = 3.14159265358979323846;
static const double TOLERANCE = 1e-6; /* asked of every state, relative */

/* --- parameters: name, number of the phase or piece, value --- */

enum { ENTRIES = 2000, WIRES = 4, LOADS = 16, REST = 16, LAYERS = 12 };
static struct {
    char name[40];
    double value;
} entries_[ENTRIES];
static int n_entries_;

static double get(const char *name)
{
    for (int i = 0; i < n_entries_; i++)
        if (strcmp(entries_[i].name, name) == 0)
            return entries_[i].value;
    fprintf(stderr, "no value for %s\n", name);
    exit(1);
}

static double get_at(const char *name, int index)
{
    char full[64];
    snprintf(full, sizeof full, "%s.%d", name, index);
    return get(full);
}

static void read_entries(const char *path)
{
    FILE *in = fopen(path, "r");
    if (in == NULL) {
        perror(path);
        exit(1);
    }
    while (n_entries_ < ENTRIES &&
           fscanf(in, "%39s %lf", entries_[n_entries_].name, &entries_[n_entries_].value) == 2)
        n_entries_++;
    fclose(in);
}

/* --- the model --- */

typedef enum field { REGULATED, FULL, BLOCKED } field;
enum { Q1, Q2, V1, T_BATTERY, T_WINDING, T_ARMATURE, T_CASE, TRAVEL, T_WIRE, BATTERY_As = 12 };
enum { GAS_As = 13, ALTERNATOR_As, WINCH_As, LOADS_As, ROPE_J, STATES };
enum { W_ALTERNATOR, W_WINCH, W_BOX, W_LOAD };

typedef struct model {
    /* battery.md */
    double qmax, c, kd, kc, k_per_K, r25, r0_share, r_per_K, tau, p, xa, xb, eT, accept, gas;
    double heat_J_per_K, case_W_per_K;
    int n_rest;
    double rest_soc[REST], rest_V[REST];
    gsl_interp *rest;
    /* alternator.md */
    double im, n0, nc, rated, pulley, set, set_per_K, droop, air_rise;
    bool sense_battery;
    /* motor.md */
    double r, ks, is, eta, f0, brush, contactor, ca, cc, ga, gc;
    /* cables.md */
    double r20[WIRES], fixed[WIRES], wire_C[WIRES], wire_G[WIRES], wire_warm[WIRES];
    /* loads.md */
    int n_loads, wired;
    double i0[LOADS], a[LOADS], inrush[LOADS], inrush_s[LOADS];
    bool only_pulling[LOADS];
    /* demand.md, rigging.md */
    double line_N, parts, rope_out_0, rope_length, layer_end[LAYERS], ratio[LAYERS];
    double ambient, engine_space;
    /* what a phase and the events set */
    bool pulling;
    double rpm, start_s;
    field field;
    int layer; /* 0: the first */
} model;

typedef struct flows {
    double v, box, alternator_V, winch_V;
    double battery_A, gas_A, alternator_A, winch_A, loads_A, wired_A;
} flows;

static void read_battery(model *m)
{
    m->qmax = get("qmax_As");
    m->c = get("c");
    m->kd = get("k_discharge_per_s");
    m->kc = get("k_charge_per_s");
    m->k_per_K = get("k_per_K");
    m->r25 = get("r25_ohm");
    m->r0_share = get("r0_share");
    m->r_per_K = get("r_per_K");
    m->tau = get("tau_s");
    m->p = get("polarisation");
    m->xa = get("x_a");
    m->xb = get("x_b");
    m->eT = get("emf_V_per_K");
    m->accept = get("accept_A");
    m->gas = 0.020 * get("c20_Ah") / 100.0;
    m->heat_J_per_K = get("heat_J_per_K");
    m->case_W_per_K = get("case_W_per_K");
    m->n_rest = (int)get("rest.n");
    for (int i = 0; i < m->n_rest; i++) {
        m->rest_soc[i] = get_at("rest.soc", i);
        m->rest_V[i] = get_at("rest.V", i);
    }
    m->rest = gsl_interp_alloc(gsl_interp_steffen, (size_t)m->n_rest);
    gsl_interp_init(m->rest, m->rest_soc, m->rest_V, (size_t)m->n_rest);
}

static void read_machines(model *m)
{
    m->im = get("im_A");
    m->n0 = get("n0_rpm");
    m->nc = get("nc_rpm");
    m->rated = get("rated_A");
    m->pulley = get("pulley");
    m->set = get("set_V");
    m->set_per_K = get("set_V_per_K");
    m->droop = get("droop_ohm");
    m->air_rise = get("air_rise_K");
    m->sense_battery = get("sense_battery") > 0.5;
    m->r = get("motor_ohm");
    m->ks = get("ks");
    m->is = get("is_A");
    m->eta = get("eta");
    m->f0 = get("f0_N");
    m->brush = get("brush_share");
    m->contactor = get("contactor_ohm");
    m->ca = get("ca_J_per_K");
    m->cc = get("cc_J_per_K");
    m->ga = get("ga_W_per_K");
    m->gc = get("gc_W_per_K");
}

static void read_wires_and_loads(model *m)
{
    for (int i = 0; i < WIRES; i++) {
        m->r20[i] = get_at("wire.r20_ohm", i);
        m->fixed[i] = get_at("wire.fixed_ohm", i);
        m->wire_C[i] = get_at("wire.C", i);
        m->wire_G[i] = get_at("wire.G", i);
        m->wire_warm[i] = get_at("wire.warm", i);
    }
    m->n_loads = (int)get("load.n");
    m->wired = (int)get("load.wired");
    for (int k = 0; k < m->n_loads; k++) {
        m->i0[k] = get_at("load.i0_A", k);
        m->a[k] = get_at("load.exponent", k);
        m->inrush[k] = get_at("load.inrush", k);
        m->inrush_s[k] = get_at("load.inrush_s", k);
        m->only_pulling[k] = get_at("load.pulling", k) > 0.5;
    }
}

/* Hub-deep mire, civil school: factor 1.00 likely. Layers from drum and rope. */
static void read_rope(model *m)
{
    const double mire = 1.0;
    const double load_N = (1.0 + get("margin")) * get("weight_N") * (sin(get("slope_rad")) + mire);
    m->parts = get("parts");
    m->line_N = load_N * (1.0 + get("sheave_frac") * (m->parts - 1.0)) / m->parts;
    m->rope_length = get("rope_length_m");
    m->rope_out_0 = m->parts * get("anchor_m");
    const double d = get("rope_m"), wraps = floor(get("width_m") / d);
    double on_drum = 0.0;
    for (int n = 0; n < LAYERS; n++) {
        const double D = get("drum_m") + d + 2.0 * d * get("nesting") * n;
        on_drum += wraps * PI * D;
        m->layer_end[n] = on_drum;
        m->ratio[n] = D / (get("drum_m") + d);
    }
    m->ambient = get("ambient_degC");
    m->engine_space = get("engine_space_K");
}

static double on_drum_m(const model *m, const double *y)
{
    return m->rope_length - (m->rope_out_0 - m->parts * y[TRAVEL]);
}

/* --- one instant --- */

typedef struct unknown {
    double (*f)(double x, void *context);
    void *context;
} unknown;

/* Root of f in [low, high], by Brent's method of GSL, to the last digits. */
static double solve(double (*f)(double, void *), void *context, double low, double high)
{
    gsl_function function = {.function = f, .params = context};
    gsl_root_fsolver *s = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
    if (gsl_root_fsolver_set(s, &function, low, high) != GSL_SUCCESS) {
        fprintf(stderr, "no root between %g and %g\n", low, high);
        exit(1);
    }
    for (int i = 0; i < 200; i++) {
        gsl_root_fsolver_iterate(s);
        if (gsl_root_fsolver_x_upper(s) - gsl_root_fsolver_x_lower(s) <= 4e-15 * fabs(high))
            break;
    }
    const double x = gsl_root_fsolver_root(s);
    gsl_root_fsolver_free(s);
    return x;
}

typedef struct instant {
    const model *m;
    const double *y;
    double t;
    double supply_V; /* of the leaf that is being solved */
    flows *f;
} instant;

static double wire_ohm(const model *m, const double *y, int w)
{
    return m->r20[w] * (234.5 + y[T_WIRE + w]) / 254.5 + m->fixed[w];
}

static double load_A(const instant *at, int k, double v)
{
    const model *m = at->m;
    if (m->only_pulling[k] && !m->pulling)
        return 0.0;
    const double vref = 13.5, low = 0.6 * vref, age = at->t - m->start_s;
    const double i = v >= low || m->a[k] >= 1.0 ? m->i0[k] * pow(v / vref, m->a[k])
                                                : m->i0[k] * pow(low / vref, m->a[k]) * v / low;
    const double inrush = 1.0 + (m->inrush[k] - 1.0) * exp(-age / m->inrush_s[k]);
    return m->only_pulling[k] ? i * inrush : i;
}

static double wired_gap(double v, void *context)
{
    const instant *at = context;
    return at->supply_V - v - wire_ohm(at->m, at->y, W_LOAD) * load_A(at, at->m->wired, v);
}

static double loads_A(instant *at, double box)
{
    double sum = 0.0;
    for (int k = 0; k < at->m->n_loads; k++)
        if (k != at->m->wired)
            sum += load_A(at, k, box);
    instant leaf = *at;
    leaf.supply_V = box;
    at->f->wired_A = load_A(at, at->m->wired, solve(wired_gap, &leaf, 0.0, box));
    return sum + at->f->wired_A;
}

static double box_gap(double v, void *context)
{
    instant *at = context;
    return at->supply_V - v - wire_ohm(at->m, at->y, W_BOX) * loads_A(at, v);
}

static double full_field_A(const model *m, const double *y, double v)
{
    const double f = sqrt((234.5 + 83.0) / (234.5 + y[T_WINDING])), sv = 15.3 / (v + 1.8);
    const double n = f * sv * m->rpm * m->pulley;
    return n > m->n0 ? f * m->im * (1.0 - exp(-(n - m->n0) / m->nc)) : 0.0;
}

static double set_V(const model *m)
{
    return m->set + m->set_per_K * (m->ambient + m->air_rise - 20.0);
}

static double full_gap(double i, void *context)
{
    const instant *at = context;
    const double r = wire_ohm(at->m, at->y, W_ALTERNATOR);
    return full_field_A(at->m, at->y, at->supply_V + r * i) - i;
}

static double alternator_A(const instant *at, double v)
{
    const model *m = at->m;
    if (m->field == BLOCKED)
        return 0.0;
    const double r = m->sense_battery ? 0.0 : wire_ohm(m, at->y, W_ALTERNATOR);
    if (m->field == REGULATED)
        return (set_V(m) - v) / (m->droop + r);
    instant leaf = *at;
    leaf.supply_V = v;
    return solve(full_gap, &leaf, 0.0, 2.0 * m->im);
}

/* E at the surface state with its temperature, and the voltage without current, E + v1. */
static double rest_V(const model *m, const double *y)
{
    const double s1 = y[Q1] / (m->c * m->qmax);
    return gsl_interp_eval(m->rest, m->rest_soc, m->rest_V, fmin(s1, 1.0), NULL) +
           m->eT * (y[T_BATTERY] - 25.0);
}

static double battery_A(const model *m, const double *y, double v, double *gas_A)
{
    const double s1 = y[Q1] / (m->c * m->qmax), T = y[T_BATTERY], cold = fmax(25.0 - T, 0.0);
    const double r0 = m->r0_share * m->r25 * exp(m->r_per_K * (25.0 - T));
    const double d = v - rest_V(m, y) - y[V1];
    *gas_A = 0.0;
    if (d <= 0.0) {
        const double x = fmin(fmax(m->xa * cold + m->xb * cold * cold, 0.0), 0.9);
        const double u = (s1 - x) / (1.0 - x);
        return d / (r0 * (1.0 + m->p * (1.0 / u - 1.0)));
    }
    const double io = d / r0;
    const double ia = m->accept * (1.0 - s1) * exp(0.74 * (v - 14.4)) * exp2((T - 25.0) / 19.0);
    *gas_A =
        m->gas * exp(11.0 * (v / 6.0 - 2.23) + 0.06 * (T - 25.0)) * d * d / (d * d + 0.05 * 0.05);
    return pow(pow(io, -4.0) + pow(ia, -4.0), -0.25) + *gas_A;
}

static double winch_A(const model *m)
{
    if (!m->pulling)
        return 0.0;
    const double F = m->line_N * m->ratio[m->layer], G = (F + m->f0) / (m->eta * m->ks);
    return 0.5 * (G + sqrt(G * G + 4.0 * G * m->is));
}

static double post_sum(double v, void *context)
{
    instant *at = context;
    flows *f = at->f;
    instant leaf = *at;
    leaf.supply_V = v;
    f->v = v;
    f->battery_A = battery_A(at->m, at->y, v, &f->gas_A);
    f->box = solve(box_gap, &leaf, 0.0, v);
    f->loads_A = loads_A(at, f->box);
    f->alternator_A = alternator_A(at, v);
    f->winch_A = winch_A(at->m);
    return f->battery_A + f->loads_A + f->winch_A - f->alternator_A;
}

static void solve_bus(const model *m, double t, const double *y, flows *f)
{
    instant at = {.m = m, .y = y, .t = t, .f = f};
    post_sum(solve(post_sum, &at, 9.0, 16.0), &at);
    f->alternator_V = f->v + wire_ohm(m, y, W_ALTERNATOR) * f->alternator_A;
    f->winch_V = f->v - (wire_ohm(m, y, W_WINCH) + m->contactor) * f->winch_A;
}

/* --- derivatives and roots, as CVODE wants them --- */

static void battery_rates(const model *m, const double *y, const flows *f, double *dy)
{
    const double T = y[T_BATTERY], h1 = y[Q1] / m->c, h2 = y[Q2] / (1.0 - m->c);
    const double kp = (h2 > h1 ? m->kd : m->kc) * exp(m->k_per_K * (T - 25.0));
    const double flow = kp * m->c * (1.0 - m->c) * (h2 - h1);
    const double r1 = (1.0 - m->r0_share) * m->r25 * exp(m->r_per_K * (25.0 - T));
    const double E = rest_V(m, y), d = f->v - E - y[V1];
    dy[Q1] = f->battery_A - f->gas_A + flow;
    dy[Q2] = -flow;
    dy[V1] = (f->battery_A * r1 - y[V1]) / m->tau;
    dy[T_BATTERY] = (f->battery_A * d + E * f->gas_A + y[V1] * y[V1] / r1 -
                     m->case_W_per_K * (T - m->ambient)) /
                    m->heat_J_per_K;
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

static int rates(realtype t, N_Vector yv, N_Vector dyv, void *context)
{
    const model *m = context;
    const double *y = N_VGetArrayPointer(yv);
    double *dy = N_VGetArrayPointer(dyv);
    flows f;
    solve_bus(m, t, y, &f);
    battery_rates(m, y, &f, dy);
    winch_rates(m, y, &f, dy);
    const double share = f.alternator_A / m->rated, air = m->ambient + m->air_rise;
    dy[T_WINDING] = (air + 60.0 * share * share - y[T_WINDING]) / 600.0;
    const double amps[WIRES] = {f.alternator_A, f.winch_A, f.loads_A, f.wired_A};
    for (int w = 0; w < WIRES; w++) {
        const double T = y[T_WIRE + w], around = m->ambient + m->wire_warm[w] * m->engine_space;
        const double heat_W = amps[w] * amps[w] * m->r20[w] * (234.5 + T) / 254.5;
        dy[T_WIRE + w] = (heat_W - m->wire_G[w] * (T - around)) / m->wire_C[w];
    }
    dy[BATTERY_As] = f.battery_A;
    dy[GAS_As] = f.gas_A;
    dy[ALTERNATOR_As] = f.alternator_A;
    dy[WINCH_As] = f.winch_A;
    dy[LOADS_As] = f.loads_A;
    return 0;
}

enum { ROOT_FIELD, ROOT_BLOCK, ROOT_CHARGE, ROOT_FLOW, ROOT_25, ROOT_LAYER, ROOTS };

static int root_values(realtype t, N_Vector yv, realtype *g, void *context)
{
    const model *m = context;
    const double *y = N_VGetArrayPointer(yv);
    flows f;
    solve_bus(m, t, y, &f);
    const double sense = m->sense_battery ? f.v : f.alternator_V;
    g[ROOT_FIELD] = m->field == REGULATED ? full_field_A(m, y, f.alternator_V) - f.alternator_A
                    : m->field == FULL    ? set_V(m) - sense - m->droop * f.alternator_A
                                          : sense - set_V(m);
    g[ROOT_BLOCK] = m->field == REGULATED ? f.alternator_A : 1.0;
    g[ROOT_CHARGE] = f.v - rest_V(m, y) - y[V1];
    g[ROOT_FLOW] = y[Q2] / (1.0 - m->c) - y[Q1] / m->c;
    g[ROOT_25] = y[T_BATTERY] - 25.0;
    g[ROOT_LAYER] = m->layer_end[m->layer] - on_drum_m(m, y);
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

static int n_events_[ROOTS];

static void take_roots(model *m, const int found[ROOTS])
{
    for (int i = 0; i < ROOTS; i++)
        n_events_[i] += found[i] != 0;
    if (found[ROOT_FIELD] != 0)
        m->field = m->field == REGULATED ? FULL : REGULATED;
    else if (found[ROOT_BLOCK] != 0)
        m->field = BLOCKED;
    if (found[ROOT_LAYER] != 0)
        m->layer++;
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
    find_field(m, t, N_VGetArrayPointer(y));
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
        take_roots(m, found);
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
};

/* Largest relative difference at the end of a phase, also in the voltages. */
static double compare(const model *m, int phase, double t, const double *y, double worst[])
{
    double most = 0.0;
    for (int i = 0; i < STATES; i++) {
        const double theirs = get_at(states_[i].name, phase);
        const double e = fabs(y[i] - theirs) / fmax(fabs(theirs), states_[i].floor);
        worst[i] = fmax(worst[i], e);
        most = fmax(most, e);
    }
    flows f;
    solve_bus(m, t, y, &f);
    const double v = fabs(f.v - get_at("post_V", phase)) / f.v;
    const double box = fabs(f.box - get_at("box_V", phase)) / f.box;
    if (m->layer + 1 != (int)get_at("layer", phase))
        most = 1.0;
    return fmax(most, fmax(v, box));
}

static void *open_cvode(SUNContext context, model *m, N_Vector y, SUNNonlinearSolver *solver)
{
    void *cvode = CVodeCreate(CV_ADAMS, context);
    N_Vector atol = N_VClone(y);
    for (int i = 0; i < STATES; i++)
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
    int falling[ROOTS] = {[ROOT_FIELD] = -1, [ROOT_BLOCK] = -1, [ROOT_LAYER] = -1};
    need(CVodeSetRootDirection(cvode, falling), "directions");
    need(CVodeSetNoInactiveRootWarn(cvode), "warnings");
    N_VDestroy(atol);
    return cvode;
}

static void print_result(const double worst[STATES])
{
    for (int i = 0; i < STATES; i++)
        printf("  %-14s %.1e\n", states_[i].name, worst[i]);
    printf(
        "events: regulator %d, blocked %d, charge/discharge %d, wells %d, 25 degC %d, layer %d\n",
        n_events_[ROOT_FIELD], n_events_[ROOT_BLOCK], n_events_[ROOT_CHARGE], n_events_[ROOT_FLOW],
        n_events_[ROOT_25], n_events_[ROOT_LAYER]);
}

int main(int argc, char **argv)
{
    if (argc != 3)
        return 2;
    gsl_set_error_handler_off();
    read_entries(argv[1]);
    static model m;
    read_battery(&m);
    read_machines(&m);
    read_wires_and_loads(&m);
    read_rope(&m);
    while (on_drum_m(&m, (double[STATES]){0.0}) >= m.layer_end[m.layer])
        m.layer++;
    SUNContext context;
    need(SUNContext_Create(NULL, &context), "context");
    N_Vector y = N_VNew_Serial(STATES, context);
    for (int i = 0; i < STATES; i++)
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
    print_result(worst);
    printf("largest relative difference %.2e, allowed %.0e\n", most, TOLERANCE);
    CVodeFree(&cvode);
    SUNNonlinSolFree(solver);
    N_VDestroy(y);
    SUNContext_Free(&context);
    return most <= TOLERANCE && n_events_[ROOT_FIELD] >= atoi(argv[2]) ? 0 : 1;
}
