/* Battery parameters from the label: ranges, defaults, and the points that the fit must meet.
 *
 * Points (I, t) to 10.5 V at 25 degC: I20 for 20 h; 25 A for RC; and the high-rate end:
 *     thin plates   Peukert's line, C(I) = C20 (I20/I)^(n-1), n = ln(20 h/RC) / ln(25 A/I20)
 *     thick plates  that line down to 1 h (RC if shorter), then exponent 1.59
 *     dual          exponent halfway
 *   at 6, 12 and 24 min, the mean mismatch of the three zero (longer times if the label's
 * resistance forbids the current; for a battery with RC below 24 min one point between 20 h and
 * RC). A user's own high-rate point takes their place and must hold. A maker's constant-current
 * table takes the place of all but I20 and a given RC, which have ten times its weight. Charge: k'c
 * from 1/alpha = 1/alpha_s + (1 - c)/(k'c c), alpha_s = ratio alpha. How the points become wells
 * and resistance: battery_fit.c. Sources: docs/physics/battery.md. */
#include "physics/battery.h"

#include "base/number.h"
#include "base/root.h"
#include "physics/battery_law.h"

#include <math.h>
#include <stddef.h>

static const double END_V = 10.5, RC_A = 25.0;
static const double R0_SHARE = 0.75, TAU_s = 40.0;
/* cranking tests, -18 degC: SAE J537 and EN 50342-1 */
static const double SAE_s = 30.0, SAE_V = 7.2, EN_s = 10.0, EN_V = 7.5;
static const double THICK_EXPONENT = 1.59, SHORT_s = 360.0, LITHIUM_K_PER_h = 6.0;

pr_battery_def pr_battery_def_default(void)
{
    pr_battery_def def = {
        .cookie = PR_DEF_COOKIE,
        .chemistry = PR_FLOODED,
        .plates = PR_PLATES_THIN,
        .c20_Ah = PR_NAN,
        .rc_min = PR_NAN,
        .cca_A = PR_NAN,
        .cca_standard = PR_CCA_SAE,
        .high_rate_A = PR_NAN,
        .high_rate_s = PR_NAN,
        .n_points = 0,
        .points_end_V = 10.5,
        .resistance_ohm = PR_NAN,
        .health_capacity_frac = 1.0,
        .health_resistance_factor = 1.0,
        .acceptance_factor = 1.0,
        .surface_acceptance_ratio = 2.0,
        .high_rate_factor = 1.0,
        .mass_kg = PR_NAN,
        .case_conductance_W_per_K = PR_NAN,
        .bms_charge_limit_A = PR_NAN,
        .bms_discharge_limit_A = PR_NAN,
        .bms_discharge_delay_s = PR_NAN,
        .bms_low_V = PR_NAN,
        .bms_high_V = PR_NAN,
        .bms_min_charge_degC = PR_NAN,
    };
    return def;
}

static bool within(double value, double low, double high)
{
    return value >= low && value <= high; /* NaN fails */
}

static bool absent_or_within(double value, double low, double high)
{
    return isnan(value) || within(value, low, high);
}

static bool ranges_hold(const pr_battery_def *d)
{
    bool ok =
        (int)d->plates >= 0 && (int)d->plates <= PR_PLATES_THICK &&
        (d->cca_standard == PR_CCA_SAE || d->cca_standard == PR_CCA_EN) &&
        within(d->c20_Ah, 1.0, 400.0) && absent_or_within(d->rc_min, 0.2, 2000.0) &&
        absent_or_within(d->cca_A, 5.0, 5000.0) && absent_or_within(d->high_rate_A, 1.0, 5000.0) &&
        absent_or_within(d->high_rate_s, 10.0, 36000.0) &&
        isnan(d->high_rate_A) == isnan(d->high_rate_s) &&
        absent_or_within(d->resistance_ohm, 1e-4, 1.0) &&
        within(d->health_capacity_frac, 0.1, 1.0) &&
        within(d->health_resistance_factor, 1.0, 5.0) && within(d->acceptance_factor, 0.1, 5.0) &&
        within(d->surface_acceptance_ratio, 1.05, 20.0) && within(d->high_rate_factor, 0.5, 1.5) &&
        absent_or_within(d->mass_kg, 0.1, 500.0) &&
        absent_or_within(d->case_conductance_W_per_K, 0.0, 1000.0) && d->n_points >= 0 &&
        d->n_points <= PR_BATTERY_POINTS_MAX && within(d->points_end_V, 9.0, 11.5);
    for (int i = 0; ok && i < d->n_points; i++)
        ok = within(d->point_A[i], 0.01, 5000.0) && within(d->point_s[i], 10.0, 400.0 * 3600.0);
    ok = ok && absent_or_within(d->bms_charge_limit_A, 0.0, 2000.0) &&
         absent_or_within(d->bms_discharge_limit_A, 1.0, 5000.0) &&
         absent_or_within(d->bms_discharge_delay_s, 0.0, 600.0) &&
         absent_or_within(d->bms_low_V, 6.0, 12.0) && absent_or_within(d->bms_high_V, 13.5, 16.0) &&
         absent_or_within(d->bms_min_charge_degC, -40.0, 20.0);
    return ok;
}

static void set_if_nan(double *value, double fallback)
{
    if (isnan(*value))
        *value = fallback;
}

/* RC where the label is silent. */
static double usual_reserve_min(const pr_battery_def *d, const pr_battery_chemistry *chemistry)
{
    const double exponent = chemistry->usual_exponent[d->plates];
    if (exponent > 0.0)
        return 20.0 * 60.0 * pow(d->c20_Ah / 20.0 / RC_A, exponent);
    return chemistry->rc_factor * pow(d->c20_Ah, chemistry->rc_power);
}

static void fill_defaults(pr_battery_def *d, const pr_battery_chemistry *chemistry)
{
    /* a maker's table tells RC itself, once it is fitted */
    if (d->n_points == 0)
        set_if_nan(&d->rc_min, usual_reserve_min(d, chemistry));
    if (isnan(d->cca_A) && isnan(d->resistance_ohm)) {
        if (chemistry->r0_ohm_Ah > 0.0)
            d->resistance_ohm = chemistry->r0_ohm_Ah / d->c20_Ah;
        else
            d->cca_A = chemistry->cca_per_Ah[d->plates] * d->c20_Ah;
    }
    set_if_nan(&d->mass_kg, chemistry->kg_per_Ah * d->c20_Ah);
    set_if_nan(&d->case_conductance_W_per_K, 0.11 * d->mass_kg);
    set_if_nan(&d->bms_charge_limit_A, 0.5 * d->c20_Ah);
    set_if_nan(&d->bms_discharge_limit_A, d->c20_Ah);
    set_if_nan(&d->bms_discharge_delay_s, 5.0);
    set_if_nan(&d->bms_low_V, 10.0);
    set_if_nan(&d->bms_high_V, 14.8);
    set_if_nan(&d->bms_min_charge_degC, 0.0);
}

static void add_point(pr_label_fit *fit, double amps_A, double seconds, double end_V)
{
    fit->point[fit->n++] = (pr_run_point){amps_A, seconds, end_V, PR_NAN};
}

/* Current and time on the plate kind's line below the bend. */
typedef struct plate_line {
    double bend_s, bend_A, exponent, factor; /* factor: on the time, def->high_rate_factor */
} plate_line;

static double line_A(const plate_line *line, double seconds)
{
    return line->bend_A * pow(line->bend_s / seconds, 1.0 / line->exponent);
}

static void add_line_point(pr_label_fit *fit, const plate_line *line, double seconds)
{
    add_point(fit, line_A(line, seconds), seconds * line->factor, END_V);
}

/* The high-rate points of the plate kind (see the header of this file). */
static void add_plate_points(pr_label_fit *fit, const pr_battery_def *d, double n)
{
    const double i20_A = d->c20_Ah / 20.0, t20_s = 20.0 * PR_HOUR_s, rc_s = d->rc_min * 60.0;
    plate_line line = {
        .bend_s = fmin(PR_HOUR_s, rc_s), .exponent = n, .factor = d->high_rate_factor};
    line.bend_A = i20_A * pow(t20_s / line.bend_s, 1.0 / n);
    if (rc_s < 4.0 * SHORT_s) {
        /* a small battery: RC is itself a high rate */
        add_line_point(fit, &line, t20_s * pow(i20_A / RC_A, 0.5 * n));
        return;
    }
    line.exponent = fmax(n, n + 0.5 * (double)d->plates * (THICK_EXPONENT - n));
    const double full_V = fit->rest_V.y[fit->rest_V.n - 1];
    double seconds = SHORT_s;
    while (seconds < 0.25 * rc_s && full_V - 1.3 * fit->r25_ohm * line_A(&line, seconds) < END_V)
        seconds *= 1.5;
    add_line_point(fit, &line, seconds);
    add_line_point(fit, &line, 2.0 * seconds);
    add_line_point(fit, &line, 4.0 * seconds);
}

/* Peukert's exponent of two points, 20 h and RC. */
static double peukert_exponent(const pr_battery_def *d)
{
    return log(20.0 * 60.0 / d->rc_min) / log(RC_A / (d->c20_Ah / 20.0));
}

/* RC as usual for the capacity; for a small battery, which 25 A would overtax, a point on the same
 * Peukert line at a lower current. */
static void add_usual_reserve_point(pr_label_fit *fit, const pr_battery_def *d)
{
    const double i20_A = d->c20_Ah / 20.0, amps_A = fmin(RC_A, 1.5 * d->c20_Ah);
    const double seconds = 20.0 * PR_HOUR_s * pow(i20_A / amps_A, peukert_exponent(d));
    add_point(fit, amps_A, seconds, END_V);
}

static pr_status collect_points(pr_label_fit *fit, const pr_battery_def *d, bool rc_given)
{
    const bool table = d->n_points > 0;
    fit->kind = table ? PR_FIT_SQUARES : PR_FIT_EXACT;
    fit->fixed_k = d->chemistry == PR_LIFEPO4 && !table;
    if (d->n_points < 3)
        add_point(fit, d->c20_Ah / 20.0, 20.0 * PR_HOUR_s, END_V);
    if (rc_given && d->n_points < 3)
        add_point(fit, RC_A, d->rc_min * 60.0, END_V);
    else if (!table)
        add_usual_reserve_point(fit, d);
    for (int i = 0; i < d->n_points; i++)
        add_point(fit, d->point_A[i], d->point_s[i], d->points_end_V);
    if (table)
        return fit->n >= 3 ? PR_OK : PR_ERR_RANGE;
    if (fit->fixed_k) {
        fit->k_per_s = LITHIUM_K_PER_h / PR_HOUR_s;
    } else if (!isnan(d->high_rate_A)) {
        fit->third_must_hold = true;
        add_point(fit, d->high_rate_A, d->high_rate_s * d->high_rate_factor, END_V);
    } else {
        add_plate_points(fit, d, peukert_exponent(d));
    }
    return PR_OK;
}

static void set_resistance_question(pr_label_fit *fit, const pr_battery_def *d)
{
    const bool sae = d->cca_standard == PR_CCA_SAE;
    fit->cranking_s = sae ? SAE_s : EN_s;
    fit->cranking_V = sae ? SAE_V : EN_V;
    if (isnan(d->resistance_ohm)) {
        const double full_V = fit->rest_V.y[fit->rest_V.n - 1];
        fit->cranking_A = d->cca_A;
        fit->r25_ohm = 0.55 * (full_V - fit->cranking_V) / d->cca_A;
    } else {
        fit->cranking_A = PR_NAN;
        fit->r25_ohm = d->resistance_ohm / R0_SHARE;
    }
}

/* Root mean square of the relative errors of time over the maker's table. */
static double table_rms(const pr_battery *b)
{
    double sum = 0.0;
    for (int i = 0; i < b->def.n_points; i++) {
        double seconds = 0.0;
        if (pr_battery_discharge_time_s(b, pr_battery_state_rested(b, 1.0, PR_LABEL_degC),
                                        -b->def.point_A[i], b->def.points_end_V, 1e7, &seconds,
                                        NULL) != PR_OK)
            return PR_NAN;
        const double error = seconds / b->def.point_s[i] - 1.0;
        sum += error * error;
    }
    return sqrt(sum / b->def.n_points);
}

/* What the fitted battery says of a table: how well it meets it, and RC if the label did not. */
static pr_status judge_table(pr_battery *b)
{
    b->fit_rms_frac = table_rms(b);
    if (!isfinite(b->fit_rms_frac))
        return PR_ERR_NO_SOLUTION;
    if (!isnan(b->def.rc_min))
        return PR_OK;
    double seconds;
    const pr_status status = pr_battery_discharge_time_s(
        b, pr_battery_state_rested(b, 1.0, PR_LABEL_degC), -RC_A, END_V, 1e7, &seconds, NULL);
    if (status != PR_OK || !(seconds > 0.0))
        return PR_ERR_NO_SOLUTION;
    b->def.rc_min = seconds / 60.0;
    b->peukert_n = peukert_exponent(&b->def);
    return PR_OK;
}

static double cranking_error_V(double amps_A, void *context)
{
    const pr_battery *b = context;
    const bool sae = b->def.cca_standard == PR_CCA_SAE;
    const pr_battery_state full = pr_battery_state_rested(b, 1.0, PR_CRANKING_degC);
    return pr_battery_voltage_after_V(b, &full, -amps_A, sae ? SAE_s : EN_s) - (sae ? SAE_V : EN_V);
}

/* Cranking amps that the battery would be labelled with, where its resistance was given instead. */
static pr_status find_cranking_amps(pr_battery *b)
{
    const double most_A = 12.0 / b->r25_ohm;
    return pr_root_find(cranking_error_V, b, 1e-3 * most_A, most_A, 1e-6 * most_A, &b->def.cca_A);
}

static void set_charge(pr_battery *b, const pr_battery_chemistry *chemistry)
{
    const pr_battery_def *d = &b->def;
    const bool lead = d->chemistry != PR_LIFEPO4;
    const double alpha = chemistry->accept_per_h / PR_HOUR_s * d->acceptance_factor;
    const double surface = d->surface_acceptance_ratio * alpha;
    const double share = (1.0 - b->c_frac) / b->c_frac;
    b->k_charge_per_s = lead ? fmax(b->k_per_s, share / (1.0 / alpha - 1.0 / surface)) : b->k_per_s;
    b->accept_ref_A = surface * b->qmax_As;
    b->accept_per_V = lead ? 0.74 : 0.0;
    b->accept_per_K = lead ? log(2.0) / 19.0 : 0.0;
    b->accept_cap_A = lead ? PR_INF : d->bms_charge_limit_A;
    b->gas_ref_A = chemistry->gas_ref_A_per_Ah * d->c20_Ah * d->health_capacity_frac;
}

static void set_wells(pr_battery *b, const pr_label_fit *fit)
{
    b->qmax_As = fit->qmax_As;
    b->c_frac = 1.0 / (1.0 + fit->x);
    b->k_per_s = b->k_charge_per_s = fit->k_per_s;
    b->k_per_K = fit->chemistry->k_per_K;
    b->unreachable[0] = fit->unreachable[0];
    b->unreachable[1] = fit->unreachable[1];
    b->r25_ohm = fit->r25_ohm;
    b->r0_share = fit->r0_share;
    b->tau_s = fit->tau_s;
    b->polarisation = fit->polarisation;
    b->r_per_K = fit->chemistry->r_per_K;
    b->emf_V_per_K = fit->chemistry->emf_V_per_K;
    b->rest_V = fit->rest_V;
    b->fit_rms_frac = PR_NAN;
}

pr_status pr_battery_derive(const pr_battery_def *def, pr_battery *battery)
{
    const pr_battery_chemistry *chemistry = pr_battery_chemistry_of(def->chemistry);
    if (def->cookie != PR_DEF_COOKIE || chemistry == NULL || !ranges_hold(def))
        return PR_ERR_RANGE;
    *battery = (pr_battery){.def = *def, .i20_A = def->c20_Ah / 20.0};
    pr_battery_def *d = &battery->def;
    fill_defaults(d, chemistry);
    battery->peukert_n = peukert_exponent(d);
    /* below 1 a high rate would give more charge than a low one; above 1.6 no plate is that bad */
    const double least = d->chemistry == PR_LIFEPO4 ? 0.98 : 1.0;
    if (!isnan(d->rc_min) && !within(battery->peukert_n, least, 1.6))
        return PR_ERR_RANGE;

    pr_label_fit fit = {.chemistry = chemistry,
                        .polarisation = chemistry->polarisation[d->plates],
                        .r0_share = R0_SHARE,
                        .tau_s = TAU_s};
    pr_status status = pr_battery_rest_table(chemistry, d->plates, &fit.rest_V);
    set_resistance_question(&fit, d);
    if (status == PR_OK)
        status = collect_points(&fit, d, !isnan(def->rc_min));
    if (status == PR_OK)
        status = pr_battery_fit(&fit);
    if (status != PR_OK)
        return status;
    set_wells(battery, &fit);
    d->resistance_ohm = R0_SHARE * fit.r25_ohm;
    if (d->n_points > 0)
        status = judge_table(battery);
    if (status == PR_OK && isnan(d->cca_A))
        status = find_cranking_amps(battery);

    /* the label is of the new battery: wear comes last */
    battery->qmax_As *= d->health_capacity_frac;
    battery->r25_ohm *= d->health_resistance_factor;
    battery->heat_capacity_J_per_K = d->mass_kg * chemistry->J_per_kgK;
    battery->case_conductance_W_per_K = d->case_conductance_W_per_K;
    set_charge(battery, chemistry);
    return status;
}
