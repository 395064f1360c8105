/* Parameters and network of circuit_model.h; the equations are those of docs/physics. */
#include "circuit_model.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static const double PI = 3.14159265358979323846;

/* --- parameters: name, number of the phase or piece, value --- */

enum { ENTRIES = 2000 };
static struct {
    char name[40];
    double value;
} entries_[ENTRIES];
static int n_entries_;

double get(const char *name)
{
    for (int i = 0; i < n_entries_; i++)
        if (strcmp(entries_[i].name, name) == 0)
            return entries_[i].value;
    fprintf(stderr, "no value for %s\n", name);
    exit(1);
}

double get_at(const char *name, int index)
{
    char full[64];
    snprintf(full, sizeof full, "%s.%d", name, index);
    return get(full);
}

void read_entries(const char *path)
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

/* The values of the second battery begin with `second.`. */
static double get_of(int post, const char *name)
{
    char full[64];
    snprintf(full, sizeof full, "%s%s", post == 0 ? "" : "second.", name);
    return get(full);
}

static void read_battery(battery *b, int post)
{
    b->qmax = get_of(post, "qmax_As");
    b->c = get_of(post, "c");
    b->kd = get_of(post, "k_discharge_per_s");
    b->kc = get_of(post, "k_charge_per_s");
    b->k_per_K = get_of(post, "k_per_K");
    b->r25 = get_of(post, "r25_ohm");
    b->r0_share = get_of(post, "r0_share");
    b->r_per_K = get_of(post, "r_per_K");
    b->tau = get_of(post, "tau_s");
    b->p = get_of(post, "polarisation");
    b->xa = get_of(post, "x_a");
    b->xb = get_of(post, "x_b");
    b->eT = get_of(post, "emf_V_per_K");
    b->accept = get_of(post, "accept_A");
    b->gas = 0.020 * get_of(post, "c20_Ah") / 100.0;
    b->heat_J_per_K = get_of(post, "heat_J_per_K");
    b->case_W_per_K = get_of(post, "case_W_per_K");
    b->n_rest = (int)get_of(post, "rest.n");
    for (int i = 0; i < b->n_rest && i < REST; i++) {
        char name[40];
        snprintf(name, sizeof name, "rest.soc.%d", i);
        b->rest_soc[i] = get_of(post, name);
        snprintf(name, sizeof name, "rest.V.%d", i);
        b->rest_V[i] = get_of(post, name);
    }
    b->rest = gsl_interp_alloc(gsl_interp_steffen, (size_t)b->n_rest);
    gsl_interp_init(b->rest, b->rest_soc, b->rest_V, (size_t)b->n_rest);
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
    const int n_wires = m->n_posts > 1 ? WIRES : SINGLE_WIRES;
    for (int i = 0; i < n_wires; i++) {
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
        m->post[k] = (int)get_at("load.post", k);
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

static void read_link(model *m)
{
    m->contact = get("contact_ohm");
    m->close_V = get("close_V");
    m->open_V = get("open_V");
    m->close_delay_s = get("close_delay_s");
    m->open_delay_s = get("open_delay_s");
}

void read_model(model *m)
{
    m->n_posts = (int)get("posts");
    for (int p = 0; p < m->n_posts; p++)
        read_battery(&m->battery[p], p);
    read_machines(m);
    read_wires_and_loads(m);
    read_rope(m);
    if (m->n_posts > 1)
        read_link(m);
    m->due_s = (double)INFINITY;
}

double on_drum_m(const model *m, const double *y)
{
    return m->rope_length - (m->rope_out_0 - m->parts * y[TRAVEL]);
}

int battery_at(int post)
{
    return post == 0 ? Q1 : PAIR;
}

double wire_degC(const double *y, int wire)
{
    return wire < SINGLE_WIRES ? y[T_WIRE + wire] : y[T_WIRE_PAIR + wire - SINGLE_WIRES];
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
    int post;
    double supply_V; /* of the leaf that is being solved */
    flows *f;
} instant;

static double wire_ohm(const model *m, const double *y, int w)
{
    return m->r20[w] * (234.5 + wire_degC(y, w)) / 254.5 + m->fixed[w];
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
        if (k != at->m->wired && at->m->post[k] == at->post)
            sum += load_A(at, k, box);
    if (at->m->post[at->m->wired] != at->post)
        return sum;
    instant leaf = *at;
    leaf.supply_V = box;
    at->f->wired_A = load_A(at, at->m->wired, solve(wired_gap, &leaf, 0.0, box));
    return sum + at->f->wired_A;
}

static double box_gap(double v, void *context)
{
    instant *at = context;
    const int wire = at->post == 0 ? W_BOX : W_BOX1;
    return at->supply_V - v - wire_ohm(at->m, at->y, wire) * loads_A(at, v);
}

double full_field_A(const model *m, const double *y, double v)
{
    const double f = sqrt((234.5 + 83.0) / (234.5 + y[T_WINDING])), sv = 15.3 / (v + 1.8);
    const double n = f * sv * m->rpm * m->pulley;
    return n > m->n0 ? f * m->im * (1.0 - exp(-(n - m->n0) / m->nc)) : 0.0;
}

double set_V(const model *m)
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

double rest_V(const battery *b, const double *y)
{
    const double s1 = y[Q1] / (b->c * b->qmax);
    return gsl_interp_eval(b->rest, b->rest_soc, b->rest_V, fmin(s1, 1.0), NULL) +
           b->eT * (y[T_BATTERY] - 25.0);
}

static double battery_A(const battery *b, const double *y, double v, double *gas_A)
{
    const double s1 = y[Q1] / (b->c * b->qmax), T = y[T_BATTERY], cold = fmax(25.0 - T, 0.0);
    const double r0 = b->r0_share * b->r25 * exp(b->r_per_K * (25.0 - T));
    const double d = v - rest_V(b, y) - y[V1];
    *gas_A = 0.0;
    if (d <= 0.0) {
        const double x = fmin(fmax(b->xa * cold + b->xb * cold * cold, 0.0), 0.9);
        const double u = (s1 - x) / (1.0 - x);
        return d / (r0 * (1.0 + b->p * (1.0 / u - 1.0)));
    }
    const double io = d / r0;
    const double ia = b->accept * (1.0 - s1) * exp(0.74 * (v - 14.4)) * exp2((T - 25.0) / 19.0);
    *gas_A =
        b->gas * exp(11.0 * (v / 6.0 - 2.23) + 0.06 * (T - 25.0)) * d * d / (d * d + 0.05 * 0.05);
    return pow(pow(io, -4.0) + pow(ia, -4.0), -0.25) + *gas_A;
}

static double winch_A(const model *m)
{
    if (!m->pulling)
        return 0.0;
    const double F = m->line_N * m->ratio[m->layer], G = (F + m->f0) / (m->eta * m->ks);
    return 0.5 * (G + sqrt(G * G + 4.0 * G * m->is));
}

/* What battery and loads of a post take from it. */
static double post_takes_A(instant *at, double v)
{
    const int p = at->post;
    flows *f = at->f;
    instant leaf = *at;
    leaf.supply_V = v;
    f->v[p] = v;
    f->battery_A[p] = battery_A(&at->m->battery[p], at->y + battery_at(p), v, &f->gas_A[p]);
    f->box[p] = solve(box_gap, &leaf, 0.0, v);
    f->loads_A[p] = loads_A(at, f->box[p]);
    return f->battery_A[p] + f->loads_A[p];
}

/* At the second post: what it takes less what the link brings from the first, at supply_V. */
static double second_sum(double v, void *context)
{
    instant *at = context;
    const double ohm = at->m->contact + wire_ohm(at->m, at->y, W_LINK);
    at->f->link_A = at->m->closed ? (at->supply_V - v) / ohm : 0.0;
    return post_takes_A(at, v) - at->f->link_A;
}

static double first_sum(double v, void *context)
{
    instant *at = context;
    flows *f = at->f;
    if (at->m->closed) {
        instant second = *at;
        second.post = 1;
        second.supply_V = v;
        second_sum(solve(second_sum, &second, 9.0, 16.0), &second);
    }
    f->alternator_A = alternator_A(at, v);
    f->winch_A = winch_A(at->m);
    return post_takes_A(at, v) + f->winch_A + f->link_A - f->alternator_A;
}

void solve_bus(const model *m, double t, const double *y, flows *f)
{
    *f = (flows){.link_A = 0.0};
    instant at = {.m = m, .y = y, .t = t, .f = f};
    first_sum(solve(first_sum, &at, 9.0, 16.0), &at);
    if (m->n_posts > 1 && !m->closed) {
        instant second = {.m = m, .y = y, .t = t, .f = f, .post = 1};
        second_sum(solve(second_sum, &second, 9.0, 16.0), &second);
    }
    f->alternator_V = f->v[0] + wire_ohm(m, y, W_ALTERNATOR) * f->alternator_A;
    f->winch_V = f->v[0] - (wire_ohm(m, y, W_WINCH) + m->contactor) * f->winch_A;
}
