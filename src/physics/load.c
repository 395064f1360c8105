/* Electrical loads.
 *
 * I = I0 (V/Vref)^a: a = -1 constant power (LED driver), 0 constant current (electronics, solenoid
 *   driver), 0.55 filament lamp, 1 heater, 1.6 to 2 fan or pump.
 * Below 0.6 Vref a load with a < 1 follows a straight line to zero at 0 V: a driver that cannot
 * keep its power up, and a law that is bounded, so that the bus always has a solution. None below 0
 * V. Inrush: x (1 + (m - 1) exp(-age/tau)), from m at the start. Feed: with a wire of R ohm, I =
 * f(V - I R), Newton; R I0 <= 0.3 Vref keeps it single-valued. Duty: on for the first part of each
 * period, counted from the start of the run. Thermostat: what the load cools warms at a steady rate
 * while off, cools while on; on at on_degC, off at off_degC (swap signs for a heater). Drop-out:
 * off at dropout_V, back at return_V.
 *
 * Sources: exponents of fans from the cube law of power with a motor whose speed follows voltage;
 * of filament lamps 0.55 (lamp engineers' rule, IES handbook (m)); Denton for wattages.
 * Validity: 8..16 V. */
#include "physics/load.h"
#include "base/exponential.h"
#include "base/number.h"
#include <math.h>
#include <stddef.h>

#define FEED_DROP_FRAC 0.3
#define INRUSH_OVER    40.0

pr_load_def pr_load_def_default(void)
{
    return (pr_load_def){
        .cookie = PR_DEF_COOKIE,
        .amps_A = PR_NAN,
        .watts_W = PR_NAN,
        .reference_V = 13.5,
        .exponent = 0.0,
        .when = PR_WHEN_ALWAYS,
        .quantity = 1,
        .cycling = PR_CYCLE_NONE,
        .duty_frac = PR_NAN,
        .period_s = PR_NAN,
        .on_degC = PR_NAN,
        .off_degC = PR_NAN,
        .start_degC = PR_NAN,
        .warming_K_per_s = PR_NAN,
        .cooling_K_per_s = PR_NAN,
        .inrush_factor = 1.0,
        .inrush_s = 0.1,
        .dropout_V = PR_NAN,
        .return_V = PR_NAN,
        .stops_engine = false,
        .essential = false,
        .wire_ohm = 0.0,
    };
}

static bool within(double x, double low, double high)
{
    return x >= low && x <= high; /* false for NaN */
}

static bool cycling_in_range(const pr_load_def *d)
{
    switch (d->cycling) {
    case PR_CYCLE_NONE:
        return true;
    case PR_CYCLE_DUTY:
        return within(d->duty_frac, 0.0, 1.0) && within(d->period_s, 0.1, 1e6);
    case PR_CYCLE_THERMOSTAT:
        return within(d->on_degC, -60.0, 400.0) && within(d->off_degC, -60.0, 400.0) &&
               d->off_degC != d->on_degC && within(d->start_degC, -60.0, 400.0) &&
               within(d->warming_K_per_s, 1e-6, 100.0) && within(d->cooling_K_per_s, 1e-6, 100.0);
    }
    return false;
}

static bool dropout_in_range(const pr_load_def *d)
{
    if (isnan(d->dropout_V))
        return isnan(d->return_V);
    return within(d->dropout_V, 1.0, 15.0) && within(d->return_V, d->dropout_V, 16.0);
}

pr_status pr_load_derive(const pr_load_def *def, pr_load *load)
{
    if (def == NULL || load == NULL || def->cookie != PR_DEF_COOKIE)
        return PR_ERR_INTERNAL;
    const unsigned all =
        PR_WHEN_ALWAYS | PR_WHEN_ENGINE | PR_WHEN_PULLING | PR_WHEN_RESTING | PR_WHEN_NEVER;
    if (isnan(def->amps_A) == isnan(def->watts_W) || !within(def->reference_V, 6.0, 32.0) ||
        !within(def->exponent, -1.0, 4.0) || def->when == 0 || (def->when & ~all) != 0 ||
        !within(def->quantity, 0, 100) || !within(def->inrush_factor, 1.0, 20.0) ||
        !within(def->inrush_s, 1e-3, 600.0) || !cycling_in_range(def) || !dropout_in_range(def))
        return PR_ERR_RANGE;
    double each_A = isnan(def->amps_A) ? def->watts_W / def->reference_V : def->amps_A;
    if (!within(each_A, 0.0, 1000.0))
        return PR_ERR_RANGE;
    double i0_A = each_A * def->quantity;
    if (!within(def->wire_ohm, 0.0, 100.0) ||
        def->wire_ohm * i0_A * def->inrush_factor > FEED_DROP_FRAC * def->reference_V)
        return PR_ERR_RANGE;
    *load = (pr_load){.def = *def, .i0_A = i0_A};
    return PR_OK;
}

/* x^a with the common exponents free of transcendental functions. */
static double power(double x, double a)
{
    if (a == 0.0)
        return 1.0;
    if (a == 1.0)
        return x;
    if (a == -1.0)
        return 1.0 / x;
    if (a == 2.0)
        return x * x;
    if (a == 0.5)
        return sqrt(x);
    return pow(x, a);
}

/* The law at the load's own terminals. */
static double terminal_A(const pr_load *load, double v_V, double *dI_dV)
{
    double a = load->def.exponent, x = v_V / load->def.reference_V;
    if (!(x > 0.0)) {
        *dI_dV = 0.0;
        return 0.0;
    }
    if (x < PR_LOAD_LOW_FRAC && a < 1.0) {
        *dI_dV =
            load->i0_A * power(PR_LOAD_LOW_FRAC, a) / (PR_LOAD_LOW_FRAC * load->def.reference_V);
        return *dI_dV * v_V;
    }
    double i_A = load->i0_A * power(x, a);
    *dI_dV = a * i_A / v_V;
    return i_A;
}

double pr_load_inrush(const pr_load *load, double age_s)
{
    const pr_load_def *d = &load->def;
    if (!(d->inrush_factor > 1.0) || age_s >= INRUSH_OVER * d->inrush_s)
        return 1.0;
    return 1.0 + (d->inrush_factor - 1.0) * pr_exp(-(age_s > 0.0 ? age_s : 0.0) / d->inrush_s);
}

double pr_load_current_A(const pr_load *load, double v_V, double age_s, double *dI_dV)
{
    const pr_load_def *d = &load->def;
    const double factor = pr_load_inrush(load, age_s);
    double slope, i_A = factor * terminal_A(load, v_V, &slope);
    slope *= factor;
    if (d->wire_ohm > 0.0) {
        /* solve I = f(V - I R); f bends at most once in the range, so few steps do */
        for (int k = 0; k < 30; k++) {
            double residual = i_A - factor * terminal_A(load, v_V - i_A * d->wire_ohm, &slope);
            slope *= factor;
            double step = residual / (1.0 + d->wire_ohm * slope);
            i_A -= step;
            if (fabs(step) <= 1e-13 * (fabs(i_A) + 1e-3))
                break;
        }
        slope /= 1.0 + d->wire_ohm * slope;
    }
    if (dI_dV != NULL)
        *dI_dV = slope;
    return i_A;
}

bool pr_load_wanted(const pr_load *load, bool engine_running, bool pulling, bool resting)
{
    unsigned when = load->def.when;
    if (when & PR_WHEN_NEVER)
        return false;
    return (when & PR_WHEN_ALWAYS) || ((when & PR_WHEN_ENGINE) && engine_running) ||
           ((when & PR_WHEN_PULLING) && pulling) || ((when & PR_WHEN_RESTING) && resting);
}

bool pr_load_duty_on(const pr_load *load, double time_s, double *next_change_s)
{
    double duty = load->def.duty_frac, period_s = load->def.period_s;
    double next_s = PR_INF;
    bool on = true;
    if (load->def.cycling == PR_CYCLE_DUTY && duty < 1.0) {
        on = false;
        if (duty > 0.0) {
            double k = floor(time_s / period_s);
            /* the quotient may round to the wrong side of a change that we announced ourselves */
            if (time_s >= (k + 1.0) * period_s)
                k += 1.0;
            else if (time_s < k * period_s)
                k -= 1.0;
            double off_s = k * period_s + duty * period_s;
            on = time_s < off_s;
            next_s = on ? off_s : (k + 1.0) * period_s;
        }
    }
    if (next_change_s != NULL)
        *next_change_s = next_s;
    return on;
}

int pr_load_thermostat_wants(const pr_load *load, bool on, double T_degC)
{
    const pr_load_def *d = &load->def;
    if (d->cycling != PR_CYCLE_THERMOSTAT)
        return 0;
    bool cooler = d->on_degC > d->off_degC;
    if (!on)
        return (cooler ? T_degC >= d->on_degC : T_degC <= d->on_degC) ? 1 : 0;
    return (cooler ? T_degC <= d->off_degC : T_degC >= d->off_degC) ? -1 : 0;
}

double pr_load_thermostat_K_per_s(const pr_load *load, bool on)
{
    const pr_load_def *d = &load->def;
    if (d->cycling != PR_CYCLE_THERMOSTAT)
        return 0.0;
    double rate = on ? -d->cooling_K_per_s : d->warming_K_per_s;
    return d->on_degC > d->off_degC ? rate : -rate;
}

int pr_load_wants(const pr_load *load, bool working, double v_V)
{
    if (isnan(load->def.dropout_V))
        return working ? 0 : 1;
    if (working)
        return v_V <= load->def.dropout_V ? -1 : 0;
    return v_V >= load->def.return_V ? 1 : 0;
}
