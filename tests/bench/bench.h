/* What the contestants of the benchmark share: a vehicle, its hour of pulls and rests, and what
 * each of them says about it. */
#ifndef PR_TESTS_BENCH_BENCH_H
#define PR_TESTS_BENCH_BENCH_H

#include "engine/sim.h"

enum { BENCH_CYCLES_MAX = 320 };

/* A vehicle and its recovery: pulls of 40 s and rests of 140 s, no limits, rope set out anew. */
typedef struct bench_case {
    const char *name;
    const pr_system *system;
    int cycles;
    double rpm;
} bench_case;

/* Charge and voltage of each battery at the end of every phase, and what it took. */
typedef struct bench_answer {
    pr_status status;
    int n_phases;
    double soc_frac[2 * BENCH_CYCLES_MAX][PR_POSTS], post_V[2 * BENCH_CYCLES_MAX][PR_POSTS];
    unsigned long evaluations, events, steps;
} bench_answer;

typedef enum bench_solver {
    BENCH_OURS,
    BENCH_GSL_RKF45,
    BENCH_GSL_RKCK,
    BENCH_GSL_RK8PD,
    BENCH_GSL_MSADAMS,
    BENCH_CVODE_ADAMS,
    BENCH_CVODE_BDF,
    BENCH_SOLVERS
} bench_solver;

static inline pr_phase bench_phase(const bench_case *c, int n)
{
    const bool pull = n % 2 == 0;
    return (pr_phase){.activity = pull ? PR_PULL : PR_REST,
                      .engine_rpm = c->rpm,
                      .duration_s = pull ? 40.0 : 140.0,
                      .stop_travel_m = __builtin_nan("")};
}

/* Runs the case with another solver over the engine's own equations and conditions. */
void bench_run_peer(const bench_case *c, bench_solver solver, double tolerance,
                    bench_answer *answer);
/* False: was not there at build time. */
bool bench_has_peer(bench_solver solver);
void bench_note_phase(const bench_case *c, const pr_sim *sim, const double node_V[],
                      bench_answer *answer);

#endif
