/* How long does an hour of recovery take, and how wrong is it?
 *
 *   bench_hour SCENARIO ROUNDS [SMALL.tsv]
 *
 * Two vehicles: `full` is the scenario (two batteries, eight loads, every heat node), `small` has
 * one battery, an alternator, one load and a winch of constant current. Each is run for 20 cycles
 * of 40 s pull and 140 s rest by the engine and by general solvers over the same equations and
 * events (peers.c), at several tolerances. Every round runs each of them once, so that whatever
 * else the machine does hits all alike; the median of the rounds is printed, in processor time of
 * this thread. The error is the worst of the ends of all phases against GSL's pair of orders 8 and
 * 9 at 1e-12. Output: one line for each, separated by tabs; `#` starts a heading.
 *
 * With a third argument the parameters and results of `small` are written there, for ngspice. */
#include "bench.h"

#include "base/number.h"
#include "reader/reader.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

enum { ROUNDS_MAX = 101, TRIALS_MAX = 96 };

static pr_system full_, small_, fewer_;
static pr_scenario scenario_;

static const char *const names_[BENCH_SOLVERS] = {
    "pullrest", "GSL rkf45", "GSL rkck", "GSL rk8pd", "GSL msadams", "CVODE Adams", "CVODE BDF"};

typedef struct trial {
    const bench_case *c;
    bench_solver solver;
    double tolerance;
    double us[ROUNDS_MAX];
    double soc_error_frac, error_V;
    bench_answer answer;
} trial;

static double now_us(void)
{
    struct timespec t;
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return 1e6 * (double)t.tv_sec + 1e-3 * (double)t.tv_nsec;
}

void bench_note_phase(const bench_case *c, const pr_sim *sim, const double node_V[],
                      bench_answer *answer)
{
    const pr_system *s = c->system;
    for (int p = 0; p < s->def.n_batteries; p++) {
        const double *y = &sim->y[s->at.battery[p]];
        answer->soc_frac[answer->n_phases][p] = (y[0] + y[1]) / s->battery[p].qmax_As;
        answer->post_V[answer->n_phases][p] = node_V[p];
    }
    answer->n_phases++;
}

static void run_ours(const bench_case *c, pr_stepper stepper, double tolerance,
                     bench_answer *answer)
{
    static pr_sim sim;
    pr_run_options options = pr_run_options_default();
    options.stepper = stepper;
    options.tolerance = tolerance;
    options.with_outputs = false; /* the others give none either */
    answer->n_phases = 0;
    answer->status = pr_sim_start(c->system, &sim);
    for (int n = 0; answer->status == PR_OK && n < 2 * c->cycles; n++) {
        const pr_phase phase = bench_phase(c, n);
        pr_phase_end end;
        answer->status = pr_sim_run(c->system, &sim, &phase, NULL, &options, NULL, &end);
        bench_note_phase(c, &sim, sim.node_V, answer);
    }
    answer->evaluations = sim.n_bus_solves;
    answer->events = sim.n_events;
    answer->steps = sim.n_steps;
}

static void run_trial(trial *t)
{
    if (t->solver == BENCH_OURS)
        run_ours(t->c, PR_STEPPER_EMBEDDED, t->tolerance, &t->answer);
    else
        bench_run_peer(t->c, t->solver, t->tolerance, &t->answer);
}

static void take_errors(trial *t, const bench_answer *exact)
{
    t->soc_error_frac = t->error_V = t->answer.status == PR_OK ? 0.0 : PR_NAN;
    for (int n = 0; t->answer.status == PR_OK && n < exact->n_phases; n++)
        for (int p = 0; p < t->c->system->def.n_batteries; p++) {
            t->soc_error_frac =
                fmax(t->soc_error_frac, fabs(t->answer.soc_frac[n][p] - exact->soc_frac[n][p]));
            t->error_V = fmax(t->error_V, fabs(t->answer.post_V[n][p] - exact->post_V[n][p]));
        }
}

static int by_size(const void *a, const void *b)
{
    const double x = *(const double *)a, y = *(const double *)b;
    return (x > y) - (x < y);
}

/* Every round runs every trial once. */
static void time_trials(trial trials[], int n, int rounds)
{
    for (int round = 0; round < rounds; round++)
        for (int i = 0; i < n; i++) {
            const double start_us = now_us();
            run_trial(&trials[i]);
            trials[i].us[round] = now_us() - start_us;
        }
    for (int i = 0; i < n; i++)
        qsort(trials[i].us, (size_t)rounds, sizeof trials[i].us[0], by_size);
}

static void print_trials(const trial trials[], int n, int rounds)
{
    for (int i = 0; i < n; i++) {
        const trial *t = &trials[i];
        printf("%s\t%s\t%.0e\t%.1f\t%.1f\t%.2e\t%.2e\t%lu\t%lu\t%lu\t%s\n", t->c->name,
               names_[t->solver], t->tolerance, t->us[rounds / 2], t->us[0], t->soc_error_frac,
               t->error_V, t->answer.steps, t->answer.evaluations, t->answer.events,
               pr_status_text(t->answer.status));
    }
    fflush(stdout);
}

static void compare_solvers(const bench_case *c, int rounds, bench_answer *exact)
{
    static trial trials[TRIALS_MAX];
    int n = 0;
    run_ours(c, PR_STEPPER_REFERENCE, 1e-12, exact);
    if (exact->status != PR_OK) {
        fprintf(stderr, "%s: reference: %s\n", c->name, pr_status_text(exact->status));
        exit(1);
    }
    for (int solver = 0; solver < BENCH_SOLVERS; solver++)
        for (int power = solver == BENCH_OURS ? -4 : -5; power >= -9; power--)
            if (bench_has_peer((bench_solver)solver))
                trials[n++] =
                    (trial){.c = c, .solver = (bench_solver)solver, .tolerance = pow(10.0, power)};
    time_trials(trials, n, rounds);
    for (int i = 0; i < n; i++)
        take_errors(&trials[i], exact);
    print_trials(trials, n, rounds);
}

/* Cost against cycles, and against loads: the scenario with its last loads taken away. */
static void scale(const bench_case *c, int rounds)
{
    static trial t;
    static const int cycles[] = {1, 5, 20, 80, 320};
    printf("# cycles\tus\tsteps\n");
    for (size_t i = 0; i < sizeof cycles / sizeof cycles[0]; i++) {
        bench_case some = *c;
        some.cycles = cycles[i];
        t = (trial){.c = &some, .tolerance = pr_run_options_default().tolerance};
        time_trials(&t, 1, rounds);
        printf("cycles\t%d\t%.1f\t%lu\n", cycles[i], t.us[rounds / 2], t.answer.steps);
    }
    printf("# loads\tus\tsteps\n");
    for (int loads = 0; loads <= c->system->def.n_loads; loads++) {
        pr_system_def def = c->system->def;
        for (int k = loads; k < def.n_loads; k++)
            def.run[PR_RUN_FIRST_LOAD + k].present = false;
        def.n_loads = loads;
        if (pr_system_derive(&def, &fewer_, NULL) != PR_OK)
            continue;
        bench_case some = *c;
        some.system = &fewer_;
        t = (trial){.c = &some, .tolerance = pr_run_options_default().tolerance};
        time_trials(&t, 1, rounds);
        printf("loads\t%d\t%.1f\t%lu\n", loads, t.us[rounds / 2], t.answer.steps);
    }
}

static pr_system_def small_def(void)
{
    pr_system_def def = pr_system_def_default();
    def.n_batteries = 1;
    def.ambient_degC = 18.0;
    def.battery[0].chemistry = PR_FLOODED;
    def.battery[0].c20_Ah = 70.0;
    def.battery[0].rc_min = 120.0;
    def.battery[0].cca_A = 700.0;
    def.start_soc_frac[0] = 0.95;
    def.alternator.rated_A = 110.0;
    def.alternator.idle_A = 55.0;
    def.n_loads = 1;
    def.load[0].def = pr_load_def_default();
    snprintf(def.load[0].name, sizeof def.load[0].name, "heater");
    def.load[0].def.watts_W = 270.0;
    def.load[0].def.exponent = 1.0;
    def.load[0].def.when = PR_WHEN_ALWAYS;
    def.has_winch = false;
    def.work = PR_WORK_CURRENT;
    def.pull_A = 300.0;
    return def;
}

static void write_small(const char *path, const bench_case *c, const bench_answer *exact)
{
    FILE *out = fopen(path, "w");
    if (out == NULL) {
        perror(path);
        exit(1);
    }
    const pr_battery *b = &c->system->battery[0];
    const pr_alternator *a = &c->system->alternator;
    const struct {
        const char *name;
        double value;
    } values[] = {{"qmax_As", b->qmax_As},
                  {"c", b->c_frac},
                  {"k_discharge_per_s", b->k_per_s},
                  {"k_charge_per_s", b->k_charge_per_s},
                  {"k_per_K", b->k_per_K},
                  {"r25_ohm", b->r25_ohm},
                  {"r0_share", b->r0_share},
                  {"r_per_K", b->r_per_K},
                  {"tau_s", b->tau_s},
                  {"polarisation", b->polarisation},
                  {"x_a", b->unreachable[0]},
                  {"x_b", b->unreachable[1]},
                  {"emf_V_per_K", b->emf_V_per_K},
                  {"rest.n", (double)b->rest_V.n},
                  {"accept_A", b->accept_ref_A},
                  {"gas_A", b->gas_ref_A},
                  {"heat_J_per_K", b->heat_capacity_J_per_K},
                  {"case_W_per_K", b->case_conductance_W_per_K},
                  {"start_soc", c->system->def.start_soc_frac[0]},
                  {"ambient_degC", c->system->def.ambient_degC},
                  {"im_A", a->im_A},
                  {"n0_rpm", a->n0_rpm},
                  {"nc_rpm", a->nc_rpm},
                  {"rated_A", a->def.rated_A},
                  {"pulley", a->def.pulley_ratio},
                  {"set_V", a->def.set_V},
                  {"set_V_per_K", a->def.set_V_per_K},
                  {"droop_ohm", a->def.droop_ohm},
                  {"air_rise_K", a->def.air_degC_rise},
                  {"rpm", c->rpm},
                  {"load_A", c->system->load[0].i0_A},
                  {"pull_A", c->system->def.pull_A},
                  {"cycles", c->cycles}};
    for (size_t i = 0; i < sizeof values / sizeof values[0]; i++)
        fprintf(out, "%s\t%.17g\n", values[i].name, values[i].value);
    for (size_t i = 0; i < b->rest_V.n; i++)
        fprintf(out, "rest.soc.%zu\t%.17g\nrest.V.%zu\t%.17g\n", i, b->rest_V.x[i], i,
                b->rest_V.y[i]);
    for (int n = 0; n < exact->n_phases; n++)
        fprintf(out, "soc.%d\t%.17g\npost_V.%d\t%.17g\n", n, exact->soc_frac[n][0], n,
                exact->post_V[n][0]);
    fclose(out);
}

static bool derive(const pr_system_def *def, pr_system *system)
{
    pr_diag diag = pr_diag_init();
    const bool good = pr_system_derive(def, system, &diag) == PR_OK;
    pr_diag_print(&diag, stderr);
    pr_diag_free(&diag);
    return good;
}

int main(int argc, char **argv)
{
    static bench_answer exact;
    const int rounds = argc > 2 ? atoi(argv[2]) : 0;
    if (argc < 3 || rounds < 1 || rounds > ROUNDS_MAX)
        return 2;
    pr_diag diag = pr_diag_init();
    scenario_ = pr_scenario_default();
    if (pr_scenario_read(argv[1], NULL, &scenario_, &diag) != PR_OK) {
        pr_diag_print(&diag, stderr);
        return 2;
    }
    const pr_system_def small = small_def();
    if (!derive(&scenario_.system, &full_) || !derive(&small, &small_))
        return 1;
    const bench_case full_case = {"full", &full_, 20, scenario_.system.fast_idle_rpm};
    const bench_case small_case = {"small", &small_, 20, 1500.0};
    printf("# states\t%d full, %d small\n", full_.at.ledger, small_.at.ledger);
    printf("# case\tsolver\ttolerance\tus\tleast us\terror of charge\terror V\tsteps\t"
           "evaluations\tevents\tstatus\n");
    compare_solvers(&full_case, rounds, &exact);
    compare_solvers(&small_case, rounds, &exact);
    if (argc > 3)
        write_small(argv[3], &small_case, &exact);
    scale(&full_case, rounds);
    pr_scenario_free(&scenario_);
    pr_diag_free(&diag);
    return 0;
}
