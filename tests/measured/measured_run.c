/* Runs the measured 17 Ah battery through a measured discharge and the rest after it.
 *
 *   measured_run label    END_V                            < PROFILE
 *   measured_run capacity END_V AH                         < PROFILE
 *   measured_run times    END_V A HOURS [A HOURS]...       < PROFILE
 *   measured_run volts    END_V QMAX_AH C K_PER_H R25_OHM P < PROFILE
 *
 * label: nothing is known but 17 Ah at the 20 h rate, AGM, thick plates. capacity: the same with
 * the capacity that was measured. times: discharges as amps and hours to 10.5 V, as a maker's table
 * of constant currents. volts: wells, resistance and polarisation set directly.
 *
 * PROFILE: rows of seconds, amps (positive = charging), degC, from the instant the load comes on;
 * first the discharge, then the rest. The battery starts rested and full. Prints `run SECONDS VOLTS
 * SOC` for each row up to the simulated battery's own end at END_V (with the last amps, if it
 * outlasts the measured one), `end SECONDS`, then `rest SECONDS VOLTS SOC` for the rows of the
 * rest, counted from the end of the load. */
#include "base/number.h"
#include "physics/battery.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { ROWS_MAX = 4000 };

typedef struct row {
    double s, A, degC;
} row;

static row rows[ROWS_MAX];
static const double LOADED_A = -0.2; /* below: the load is on */

static int read_rows(void)
{
    int n = 0;
    while (n < ROWS_MAX && scanf("%lf %lf %lf", &rows[n].s, &rows[n].A, &rows[n].degC) == 3)
        n++;
    return n;
}

static double volts_after(const pr_battery *b, const pr_battery_state *s, double i_A, double dt_s)
{
    return pr_battery_voltage_after_V(b, s, i_A, dt_s);
}

/* Seconds in which the load takes the battery to the end voltage, which it passes within dt. */
static double seconds_to_end(const pr_battery *b, const pr_battery_state *s, double i_A,
                             double dt_s, double end_V)
{
    double low = 0.0, high = dt_s;
    for (int k = 0; k < 40; k++) {
        const double middle = 0.5 * (low + high);
        if (volts_after(b, s, i_A, middle) > end_V)
            low = middle;
        else
            high = middle;
    }
    return high;
}

/* Discharges to the end voltage; the time that takes. */
static double discharge(const pr_battery *b, pr_battery_state *s, int loaded, double end_V)
{
    double t = rows[0].s;
    for (int k = 0; t < 10.0 * rows[loaded - 1].s; k++) {
        const row *from = &rows[k < loaded ? k : loaded - 1];
        const double dt_s = k + 1 < loaded ? rows[k + 1].s - from->s : 60.0;
        s->T_degC = from->degC;
        if (!(volts_after(b, s, from->A, dt_s) > end_V)) {
            const double last_s = seconds_to_end(b, s, from->A, dt_s, end_V);
            pr_battery_advance_constant(b, s, from->A, last_s);
            return t + last_s;
        }
        pr_battery_advance_constant(b, s, from->A, dt_s);
        t += dt_s;
        printf("run\t%.1f\t%.6f\t%.6f\n", t, volts_after(b, s, from->A, 0.0),
               pr_battery_soc_frac(b, s));
    }
    return PR_NAN;
}

static void rest(const pr_battery *b, pr_battery_state *s, int loaded, int n)
{
    for (int k = loaded; k + 1 < n; k++) {
        s->T_degC = rows[k].degC;
        pr_battery_advance_constant(b, s, 0.0, rows[k + 1].s - rows[k].s);
        printf("rest\t%.1f\t%.6f\t%.6f\n", rows[k + 1].s - rows[loaded].s,
               volts_after(b, s, 0.0, 0.0), pr_battery_soc_frac(b, s));
    }
}

static pr_status make_battery(const char *kind, int n, char **number, pr_battery *b)
{
    const bool volts = strcmp(kind, "volts") == 0;
    pr_battery_def def = pr_battery_def_default();
    def.chemistry = PR_AGM;
    def.plates = PR_PLATES_THICK;
    def.c20_Ah = strcmp(kind, "capacity") == 0 && n == 1 ? atof(number[0]) : 17.0;
    if (strcmp(kind, "times") == 0)
        for (int k = 0; k + 1 < n && def.n_points < PR_BATTERY_POINTS_MAX; k += 2) {
            def.point_A[def.n_points] = atof(number[k]);
            def.point_s[def.n_points++] = 3600.0 * atof(number[k + 1]);
        }
    const pr_status status = pr_battery_derive(&def, b);
    if (status != PR_OK || !volts)
        return status;
    if (n != 5)
        return PR_ERR_RANGE;
    b->qmax_As = 3600.0 * atof(number[0]);
    b->c_frac = atof(number[1]);
    b->k_per_s = b->k_charge_per_s = atof(number[2]) / 3600.0;
    b->r25_ohm = atof(number[3]);
    b->polarisation = atof(number[4]);
    return PR_OK;
}

int main(int argc, char **argv)
{
    if (argc < 3) {
        fprintf(stderr, "usage: measured_run label|capacity|times|volts END_V NUMBER...\n");
        return 2;
    }
    pr_battery b;
    const pr_status status = make_battery(argv[1], argc - 3, argv + 3, &b);
    const int n = read_rows();
    int loaded = 0;
    while (loaded < n && rows[loaded].A < LOADED_A)
        loaded++;
    if (status != PR_OK || loaded < 2 || loaded + 2 > n) {
        fprintf(stderr, "measured_run: %s\n", status != PR_OK ? pr_status_text(status) : "rows");
        return 1;
    }
    pr_battery_state s = pr_battery_state_rested(&b, 1.0, rows[0].degC);
    printf("battery\t%.6g\t%.6g\t%.6g\t%.6g\t%.6g\n", b.qmax_As / 3600.0, b.c_frac,
           b.k_per_s * 3600.0, b.r25_ohm, b.fit_rms_frac);
    const double end_s = discharge(&b, &s, loaded, atof(argv[2]));
    printf("end\t%.3f\n", end_s);
    rest(&b, &s, loaded, n);
    return isfinite(end_s) ? 0 : 1;
}
