/* Runs of one battery without a bus, for the tests against published rows. */
#ifndef PR_TESTS_PUBLISHED_BATTERY_RUNS_H
#define PR_TESTS_PUBLISHED_BATTERY_RUNS_H

#include "base/number.h"
#include "physics/battery.h"
#include "support/check.h"

#include <math.h>
#include <stdio.h>

static inline pr_battery run_derived(pr_battery_def def)
{
    pr_battery battery;
    assert_int_equal(pr_battery_derive(&def, &battery), PR_OK);
    return battery;
}

/* 70 Ah / 120 min / 700 A flooded starter battery. */
static inline pr_battery run_starter(void)
{
    pr_battery_def def = pr_battery_def_default();
    def.c20_Ah = 70.0;
    def.rc_min = 120.0;
    def.cca_A = 700.0;
    return run_derived(def);
}

/* From a rested battery at a constant current to an end voltage. */
static inline double run_s(const pr_battery *b, double soc_frac, double T_degC, double amps_A,
                           double end_V)
{
    double seconds = PR_NAN;
    const pr_battery_state start = pr_battery_state_rested(b, soc_frac, T_degC);
    assert_int_equal(pr_battery_discharge_time_s(b, start, -amps_A, end_V, 1e8, &seconds, NULL),
                     PR_OK);
    return seconds;
}

static inline double run_volts(const pr_battery *b, double soc_frac, double T_degC, double amps_A,
                               double seconds)
{
    const pr_battery_state start = pr_battery_state_rested(b, soc_frac, T_degC);
    return pr_battery_voltage_after_V(b, &start, -amps_A, seconds);
}

/* Amps that empty the full battery to 10.5 V in `seconds` at 25 degC. */
static inline double run_amps_for_s(const pr_battery *b, double seconds)
{
    double low = 1e-3, high = 1e4;
    for (int i = 0; i < 100; i++) {
        const double middle = sqrt(low * high);
        if (run_s(b, 1.0, 25.0, middle, 10.5) > seconds)
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* Amps that pull the full battery to 7.2 V in 30 s. */
static inline double run_cranking_amps(const pr_battery *b, double T_degC)
{
    double low = 1.0, high = 12.0 / b->r25_ohm;
    for (int i = 0; i < 100; i++) {
        const double middle = 0.5 * (low + high);
        if (run_volts(b, 1.0, T_degC, middle, 30.0) > 7.2)
            low = middle;
        else
            high = middle;
    }
    return low;
}

/* One step of dt on a charger of at most `limit_A` that holds `set_V`; returns the volts. */
static inline double run_charge_step(const pr_battery *b, pr_battery_state *s, double set_V,
                                     double limit_A, double dt_s, double *i_A)
{
    pr_battery_branch branch;
    pr_battery_branch_at(b, s, false, &branch);
    double v = set_V, i = pr_battery_branch_current_A(&branch, set_V, NULL);
    if (i > limit_A) {
        double low = branch.e_V, high = set_V;
        for (int k = 0; k < 60; k++) {
            v = 0.5 * (low + high);
            if (pr_battery_branch_current_A(&branch, v, NULL) < limit_A)
                low = v;
            else
                high = v;
        }
        i = limit_A;
    }
    pr_battery_state rate;
    pr_battery_rates(b, s, &branch, v, i, s->T_degC, &rate, NULL);
    s->q1_As += rate.q1_As * dt_s;
    s->q2_As += rate.q2_As * dt_s;
    s->v1_V += rate.v1_V * dt_s;
    *i_A = i;
    return v; /* temperature held, as in the tests that are compared with */
}

#endif
