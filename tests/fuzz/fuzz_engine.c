/* Random phases of a random rig. Whatever the engine says it computed must be finite, closed and in
 * time; what it cannot compute it must say. */
#include "engine/sim.h"
#include "fuzz_rig.h"

/* Promised to 1e-9 of what flowed; where next to nothing flows there is only rounding. */
static const double CLOSED = 1e-8, LEAST_As = 100.0, LEAST_J = 1000.0;

enum { PHASES_MAX = 12 };

static void check_numbers(const pr_system *system, const pr_sim *sim, const pr_phase_end *end)
{
    for (int i = 0; i < system->n_states; i++)
        FUZZ_CHECK(isfinite(sim->y[i]), "state %d is %g", i, sim->y[i]);
    const pr_outputs *out = &end->last;
    for (int p = 0; p < system->def.n_batteries; p++) {
        FUZZ_CHECK(out->soc_frac[p] > -1e-3 && out->soc_frac[p] < 1.05, "battery %d at %g", p,
                   out->soc_frac[p]);
        FUZZ_CHECK(out->battery_degC[p] > -60.0 && out->battery_degC[p] < 300.0,
                   "battery %d at %g degC", p, out->battery_degC[p]);
        FUZZ_CHECK(isfinite(out->post_V[p]) && out->post_V[p] < 40.0, "post %d at %g V", p,
                   out->post_V[p]);
    }
}

static void check_time(const pr_sim *before, const pr_sim *sim, const pr_phase *phase,
                       const pr_phase_end *end)
{
    FUZZ_CHECK(end->duration_s >= 0.0 && end->duration_s <= phase->duration_s + 1e-6,
               "%g s of %g s", end->duration_s, phase->duration_s);
    FUZZ_CHECK(fabs(sim->time_s - before->time_s - end->duration_s) < 1e-6,
               "clock went on by %.9g s in %.9g s", sim->time_s - before->time_s, end->duration_s);
    if (end->stop == PR_STOP_TIME)
        FUZZ_CHECK(fabs(end->duration_s - phase->duration_s) < 1e-5, "ended after %.9g s of %.9g s",
                   end->duration_s, phase->duration_s);
    FUZZ_CHECK(end->travel_m >= -1e-9, "travelled %g m", end->travel_m);
}

static double flowed(const pr_system *system, const pr_sim *start, const pr_sim *sim,
                     const pr_ledger_item *items, size_t n)
{
    double sum = 0.0;
    for (size_t i = 0; i < n; i++)
        sum += fabs(pr_sim_ledger(system, sim, items[i]) - pr_sim_ledger(system, start, items[i]));
    return sum;
}

static void check_books(const pr_system *system, const pr_sim *start, const pr_sim *sim)
{
    static const pr_ledger_item charges[] = {PR_LEDGER_BATTERY0_As, PR_LEDGER_BATTERY1_As,
                                             PR_LEDGER_WINCH_As, PR_LEDGER_LOADS_As};
    static const pr_ledger_item energies[] = {PR_LEDGER_BATTERY0_J, PR_LEDGER_BATTERY1_J,
                                              PR_LEDGER_WINCH_J, PR_LEDGER_LOADS_J};
    double charge, energy;
    pr_sim_ledger_error(system, start, sim, &charge, &energy);
    if (flowed(system, start, sim, charges, 4) > LEAST_As)
        FUZZ_CHECK(charge >= 0.0 && charge < CLOSED, "charge is off by %g", charge);
    if (flowed(system, start, sim, energies, 4) > LEAST_J)
        FUZZ_CHECK(energy >= 0.0 && energy < CLOSED, "energy is off by %g", energy);
}

static pr_limits random_limits(fuzz_bytes *in, const pr_system *system)
{
    pr_limits limits = pr_limits_default(system);
    const unsigned on = fuzz_byte(in);
    for (int i = 1; i < PR_LIMIT_COUNT; i++)
        limits.on[i] = ((on >> i) & 1) != 0;
    limits.reserve_frac = fuzz_between(in, 0.2, 0.9);
    limits.bus_min_V = fuzz_between(in, 8.0, 12.5);
    limits.motor_max_degC = fuzz_between(in, 60.0, 180.0);
    return limits;
}

static pr_phase random_phase(fuzz_bytes *in, const pr_system *system)
{
    pr_activity activity = (pr_activity)fuzz_choice(in, 5);
    if (!system->def.has_winch && (activity == PR_PULL || activity == PR_PULL_ENGINE_OFF))
        activity = PR_REST;
    return (pr_phase){.activity = activity,
                      .engine_rpm = fuzz_between(in, 500.0, 3000.0),
                      .duration_s = fuzz_flag(in) ? fuzz_between(in, 0.01, 60.0)
                                                  : fuzz_between(in, 10.0, 1800.0),
                      .stop_travel_m = fuzz_maybe(in, 0.0, 30.0)};
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static pr_system system;
    static pr_sim sim, start, before;
    fuzz_bytes in = {data, size};
    pr_system_def def = fuzz_rig(&in);
    if (pr_system_derive(&def, &system, NULL) != PR_OK || pr_sim_start(&system, &sim) != PR_OK)
        return 0;
    start = sim;
    const pr_limits limits = random_limits(&in, &system);
    const int phases = 1 + fuzz_choice(&in, PHASES_MAX);
    for (int i = 0; i < phases; i++) {
        const pr_phase phase = random_phase(&in, &system);
        pr_phase_end end;
        before = sim;
        if (i % 4 == 3 && system.def.has_winch)
            pr_sim_rerig(&system, &sim, 0.8 * system.drum.usable_rope_m);
        const pr_status status =
            pr_sim_run(&system, &sim, &phase, i % 2 == 0 ? &limits : NULL, NULL, NULL, &end);
        /* a battery that cannot give what a starter takes: said, and nothing else was computed */
        if (status == PR_ERR_NO_SOLUTION && phase.activity == PR_CRANK)
            return 0;
        FUZZ_CHECK(status == PR_OK, "phase %d (activity %d): %s", i, phase.activity,
                   pr_status_text(status));
        check_numbers(&system, &sim, &end);
        check_time(&before, &sim, &phase, &end);
        check_books(&system, &start, &sim);
    }
    return 0;
}
