/* The circuit of circuit.h written from docs/physics alone: parameters, and one instant of the
 * network. circuit_cvode.c integrates it. Nothing of pullrest is included here. */
#ifndef PR_TESTS_CROSSCHECK_CIRCUIT_MODEL_H
#define PR_TESTS_CROSSCHECK_CIRCUIT_MODEL_H

#include <gsl/gsl_interp.h>
#include <stdbool.h>

typedef enum field { REGULATED, FULL, BLOCKED } field;

/* With one battery the state ends before PAIR. */
enum { Q1, Q2, V1, T_BATTERY, T_WINDING, T_ARMATURE, T_CASE, TRAVEL, T_WIRE, BATTERY_As = 12 };
enum { GAS_As = 13, ALTERNATOR_As, WINCH_As, LOADS_As, ROPE_J, PAIR };
enum { T_WIRE_PAIR = PAIR + 4, BATTERY1_As = T_WIRE_PAIR + 2, GAS1_As, LINK_J, STATES };
enum { W_ALTERNATOR, W_WINCH, W_BOX, W_LOAD, SINGLE_WIRES, W_BOX1 = SINGLE_WIRES, W_LINK, WIRES };
enum { LOADS = 16, REST = 16, LAYERS = 12, POSTS = 2 };

/* battery.md */
typedef struct battery {
    double qmax, c, kd, kc, k_per_K, r25, r0_share, r_per_K, tau, p, xa, xb, eT, accept, gas;
    double heat_J_per_K, case_W_per_K;
    int n_rest;
    double rest_soc[REST], rest_V[REST];
    gsl_interp *rest;
} battery;

typedef struct model {
    int n_posts;
    battery battery[POSTS];
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
    int post[LOADS];
    /* links.md */
    double contact, close_V, open_V, close_delay_s, open_delay_s;
    /* demand.md, rigging.md */
    double line_N, parts, rope_out_0, rope_length, layer_end[LAYERS], ratio[LAYERS];
    double ambient, engine_space;
    /* what a phase and the events set */
    bool pulling, closed;
    double rpm, start_s;
    double due_s; /* the relay moves then; infinite: it does not wait */
    field field;
    int layer; /* 0: the first */
} model;

typedef struct flows {
    double v[POSTS], box[POSTS], alternator_V, winch_V;
    double battery_A[POSTS], gas_A[POSTS], loads_A[POSTS];
    double alternator_A, winch_A, wired_A;
    double link_A; /* from the first post to the second */
} flows;

/* What the file of crosscheck_dump says; a name that is not there ends the program. */
void read_entries(const char *path);
double get(const char *name);
double get_at(const char *name, int index);
void read_model(model *m);

double on_drum_m(const model *m, const double *y);
double wire_degC(const double *y, int wire);
double full_field_A(const model *m, const double *y, double v);
double set_V(const model *m);
/* E at the surface state with its temperature; y: the four states of the battery. */
double rest_V(const battery *b, const double *y);
/* Where the states of the battery at a post begin. */
int battery_at(int post);
/* The network at an instant, with regime, layer and relay as the model has them. */
void solve_bus(const model *m, double t, const double *y, flows *f);

#endif
