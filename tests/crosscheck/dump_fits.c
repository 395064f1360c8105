/* Prints what pullrest makes of labels, sheets and plates, and the constant-current battery, for
 * check_scipy.py: one number a line as `name<TAB>value`, every digit. The inputs are printed too,
 * so that both sides work on the same ones. NaN: not given.
 *
 *   crosscheck_dump_fits kinetic | label | winch | alternator */
#include "base/number.h"
#include "physics/alternator.h"
#include "physics/battery.h"
#include "physics/motor.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static void put(const char *group, const char *name, double value)
{
    printf("%s.%s\t%.17g\n", group, name, value);
}

static void put_at(const char *group, const char *name, int index, double value)
{
    printf("%s.%s.%d\t%.17g\n", group, name, index, value);
}

static void require(pr_status status, const char *what)
{
    if (status == PR_OK)
        return;
    fprintf(stderr, "dump_fits: %s: %s\n", what, pr_status_text(status));
    exit(1);
}

/* Labels of usual batteries; amps or ohms, and nowhere a default that the documents give as a range
 * only. */
static pr_battery_def label(pr_chemistry chemistry, pr_plates plates, double c20_Ah, double rc_min,
                            double cca_A)
{
    pr_battery_def def = pr_battery_def_default();
    def.chemistry = chemistry;
    def.plates = plates;
    def.c20_Ah = c20_Ah;
    def.rc_min = rc_min;
    def.cca_A = cca_A;
    return def;
}

static pr_battery derived(const pr_battery_def *def)
{
    pr_battery b;
    require(pr_battery_derive(def, &b), "battery");
    return b;
}

static void put_rest_table(const char *group, const pr_battery *b)
{
    put(group, "rest.n", (double)b->rest_V.n);
    for (size_t i = 0; i < b->rest_V.n; i++) {
        put_at(group, "rest.soc", (int)i, b->rest_V.x[i]);
        put_at(group, "rest.V", (int)i, b->rest_V.y[i]);
    }
}

static void put_battery(const char *group, const pr_battery *b)
{
    put(group, "qmax_As", b->qmax_As);
    put(group, "c", b->c_frac);
    put(group, "k_per_s", b->k_per_s);
    put(group, "k_charge_per_s", b->k_charge_per_s);
    put(group, "r25_ohm", b->r25_ohm);
    put(group, "x_a", b->unreachable[0]);
    put(group, "x_b", b->unreachable[1]);
    put(group, "peukert_n", b->peukert_n);
    put(group, "r0_share", b->r0_share);
    put(group, "tau_s", b->tau_s);
    put_rest_table(group, b);
}

static void put_runs(const char *group, const pr_battery *b)
{
    static const double amps[] = {0.05, 0.3, 1.0, 2.5}; /* of C20 */
    for (int k = 0; k < 4; k++) {
        const double i_A = amps[k] * b->def.c20_Ah;
        double seconds;
        require(pr_battery_discharge_time_s(b, pr_battery_state_rested(b, 1.0, 25.0), -i_A, 10.5,
                                            1e6, &seconds, NULL),
                "run");
        put_at(group, "run_A", k, i_A);
        put_at(group, "run_s", k, seconds);
    }
}

static void dump_label(const char *group, const pr_battery_def *def)
{
    const pr_battery b = derived(def);
    put(group, "chemistry", def->chemistry);
    put(group, "plates", def->plates);
    put(group, "c20_Ah", def->c20_Ah);
    put(group, "rc_min", def->rc_min);
    put(group, "cca_A", def->cca_A);
    put(group, "en", def->cca_standard == PR_CCA_EN);
    put(group, "resistance_ohm", def->resistance_ohm);
    put(group, "high_A", def->high_rate_A);
    put(group, "high_s", def->high_rate_s);
    put(group, "points.n", def->n_points);
    for (int i = 0; i < def->n_points; i++) {
        put_at(group, "points.A", i, def->point_A[i]);
        put_at(group, "points.s", i, def->point_s[i]);
    }
    put_battery(group, &b);
    put_runs(group, &b);
}

static void dump_labels(void)
{
    pr_battery_def def = label(PR_FLOODED, PR_PLATES_THIN, 70.0, 120.0, 700.0);
    dump_label("flooded-70", &def);
    def = label(PR_FLOODED, PR_PLATES_THIN, 45.0, PR_NAN, 400.0);
    dump_label("flooded-45-no-rc", &def);
    def = label(PR_EFB, PR_PLATES_THIN, 70.0, 115.0, 720.0);
    def.cca_standard = PR_CCA_EN;
    dump_label("efb-70-en", &def);
    def = label(PR_AGM, PR_PLATES_DUAL, 75.0, 140.0, 720.0);
    dump_label("agm-75-dual", &def);
    def = label(PR_FLOODED, PR_PLATES_THICK, 105.0, 175.0, 580.0);
    dump_label("flooded-105-thick", &def);
    def = label(PR_FLOODED, PR_PLATES_THIN, 70.0, 120.0, 700.0);
    def.high_rate_A = 250.0;
    def.high_rate_s = 7.5 * 60.0;
    dump_label("flooded-70-own-point", &def);
    /* maker's constant-current table of a 55.4 Ah AGM, 1.75 V a cell, 7.5 mohm (battery.tsv) */
    static const double sheet[][2] = {{135.3, 5},  {98.7, 10},  {78.9, 15},  {63.6, 20},
                                      {48.7, 30},  {36.3, 45},  {28.9, 60},  {17.9, 120},
                                      {13.7, 180}, {9.08, 300}, {5.39, 600}, {2.80, 1200}};
    def = label(PR_AGM, PR_PLATES_THICK, 55.4, PR_NAN, PR_NAN);
    def.resistance_ohm = 0.0075;
    def.n_points = 12;
    for (int i = 0; i < def.n_points; i++) {
        def.point_A[i] = sheet[i][0];
        def.point_s[i] = sheet[i][1] * 60.0;
    }
    dump_label("agm-55-table", &def);
}

/* One battery through currents of either sign at a temperature; the wells cross both ways. */
static void dump_run(const char *group, const pr_battery *b, double soc_frac, double T_degC)
{
    static const double step[][2] = {{-300, 40}, {0, 240},  {60, 600},  {-150, 300}, {20, 3600},
                                     {-5, 5000}, {0, 7200}, {-400, 30}, {80, 1200}};
    pr_battery_state s = pr_battery_state_rested(b, soc_frac, T_degC);
    put_battery(group, b);
    put(group, "T_degC", T_degC);
    put(group, "q1_As", s.q1_As);
    put(group, "q2_As", s.q2_As);
    const int n = (int)(sizeof step / sizeof step[0]);
    put(group, "steps", n);
    for (int i = 0; i < n; i++) {
        pr_battery_advance_constant(b, &s, step[i][0], step[i][1]);
        put_at(group, "A", i, step[i][0]);
        put_at(group, "s", i, step[i][1]);
        put_at(group, "q1_As", i, s.q1_As);
        put_at(group, "q2_As", i, s.q2_As);
        put_at(group, "v1_V", i, s.v1_V);
    }
}

static void dump_kinetic(void)
{
    pr_battery_def def = label(PR_FLOODED, PR_PLATES_THIN, 70.0, 120.0, 700.0);
    pr_battery b = derived(&def);
    dump_run("warm", &b, 0.9, 25.0);
    dump_run("cold", &b, 0.8, -10.0);
    def = label(PR_FLOODED, PR_PLATES_THICK, 105.0, 175.0, 580.0);
    b = derived(&def);
    dump_run("deep", &b, 0.7, 40.0);
}

static void put_motor(const char *group, const pr_motor_def *def)
{
    pr_motor m;
    require(pr_motor_derive(def, &m), "winch");
    put(group, "magnet", def->kind == PR_MOTOR_PERMANENT_MAGNET);
    put(group, "sheet_V", def->sheet_V);
    put(group, "rise_K", def->rated_rise_K);
    put(group, "rise_s", def->rated_time_s);
    put(group, "to_case_s", def->armature_tau_s);
    put(group, "to_air_s", def->case_tau_s);
    put(group, "case_ratio", def->case_ratio);
    put(group, "brush_share", def->brush_share);
    put(group, "points.n", def->n_points);
    for (int i = 0; i < def->n_points; i++) {
        put_at(group, "points.N", i, def->point_N[i]);
        put_at(group, "points.A", i, def->point_A[i]);
        put_at(group, "points.mps", i, def->point_mps[i]);
    }
    put(group, "rated_N", m.def.rated_pull_N);
    put(group, "no_load_A", m.def.no_load_A);
    put(group, "rated_A", m.def.rated_A);
    put(group, "no_load_mps", m.def.no_load_mps);
    put(group, "rated_mps", m.def.rated_mps);
    put(group, "r_ohm", m.r_ohm);
    put(group, "ks", m.ks_Vs_per_m);
    put(group, "is_A", m.is_A);
    put(group, "eta", m.eta);
    put(group, "f0_N", m.f0_N);
    put(group, "c_armature", m.c_armature_J_per_K);
    put(group, "g_armature", m.g_armature_W_per_K);
    put(group, "g_case", m.g_case_W_per_K);
    for (int k = 0; k < 3; k++) {
        const double pull_N = m.def.rated_pull_N * (0.2 + 0.35 * k);
        put_at(group, "pull_N", k, pull_N);
        put_at(group, "pull_A", k, pr_motor_pull_A(&m, pull_N));
        put_at(group, "stall_N", k, pr_motor_stall_N(&m, 4.0 + 3.0 * k, 25.0 + 50.0 * k));
    }
}

static pr_motor_def sheet_of(pr_motor_kind kind, int n, const double rows[][3])
{
    const double lbf_N = 4.4482216152605, fpm_mps = 0.3048 / 60.0;
    pr_motor_def def = pr_motor_def_default(kind);
    if (n > 2)
        def.n_points = n;
    for (int i = 0; i < def.n_points; i++) {
        def.point_N[i] = rows[i][0] * lbf_N;
        def.point_A[i] = rows[i][1];
        def.point_mps[i] = rows[i][2] * fpm_mps;
    }
    def.rated_pull_N = rows[n - 1][0] * lbf_N;
    def.no_load_A = rows[0][1];
    def.rated_A = rows[n - 1][1];
    def.no_load_mps = rows[0][2] * fpm_mps;
    def.rated_mps = rows[n - 1][2] * fpm_mps;
    return def;
}

static void dump_winch(void)
{
    /* lbf, A, ft/min: maker's sheet of a 9,500 lbf series winch (motor.tsv); a made-up magnet one
     */
    static const double series[][3] = {{0, 95, 33},    {2000, 205, 14}, {4000, 270, 11},
                                       {6000, 340, 9}, {8000, 405, 7},  {9500, 450, 6}};
    static const double ends[][3] = {{0, 95, 33}, {9500, 450, 6}};
    static const double magnet[][3] = {{0, 15, 12}, {2500, 160, 5}};
    static const double magnets[][3] = {
        {0, 15, 12}, {800, 60, 9.6}, {1700, 112, 7.4}, {2500, 160, 5}};
    pr_motor_def def = sheet_of(PR_MOTOR_SERIES, 6, series);
    put_motor("series-table", &def);
    def = sheet_of(PR_MOTOR_SERIES, 2, ends);
    put_motor("series-columns", &def);
    def = sheet_of(PR_MOTOR_PERMANENT_MAGNET, 2, magnet);
    put_motor("magnet-columns", &def);
    def = sheet_of(PR_MOTOR_PERMANENT_MAGNET, 4, magnets);
    put_motor("magnet-table", &def);
}

static void put_alternator(const char *group, const pr_alternator_def *def)
{
    static const double at[][3] = {
        {1600, 83, 13.5}, {2200, 20, 12.2}, {3500, 110, 14.1}, {6500, 140, 14.4}};
    pr_alternator a;
    require(pr_alternator_derive(def, &a), "alternator");
    put(group, "rated_A", def->rated_A);
    put(group, "rated_rpm", def->rated_rpm);
    put(group, "idle_A", def->idle_A);
    put(group, "idle_rpm", def->idle_rpm);
    put(group, "cut_in_rpm", def->cut_in_rpm);
    put(group, "im_A", a.im_A);
    put(group, "nc_rpm", a.nc_rpm);
    for (int k = 0; k < 4; k++) {
        put_at(group, "rpm", k, at[k][0]);
        put_at(group, "degC", k, at[k][1]);
        put_at(group, "V", k, at[k][2]);
        put_at(group, "A", k, pr_alternator_available_A(&a, at[k][0], at[k][1], at[k][2]));
    }
}

static void dump_alternator(void)
{
    pr_alternator_def def = pr_alternator_def_default();
    def.rated_A = 120.0;
    def.idle_A = 60.0;
    def.idle_rpm = 1500.0;
    put_alternator("plate-120", &def);
    def.rated_A = 180.0;
    def.idle_A = 92.0;
    def.idle_rpm = 1800.0;
    def.cut_in_rpm = 1150.0;
    put_alternator("plate-180", &def);
    def = pr_alternator_def_default();
    def.rated_A = 55.0;
    def.idle_A = 15.0;
    def.idle_rpm = 1800.0;
    def.cut_in_rpm = 1250.0;
    put_alternator("plate-55-late", &def);
    def = pr_alternator_def_default();
    def.rated_A = 90.0;
    put_alternator("rated-only-90", &def);
}

int main(int argc, char **argv)
{
    static const struct {
        const char *name;
        void (*dump)(void);
    } what[] = {{"kinetic", dump_kinetic},
                {"label", dump_labels},
                {"winch", dump_winch},
                {"alternator", dump_alternator}};
    for (size_t i = 0; argc == 2 && i < sizeof what / sizeof what[0]; i++)
        if (strcmp(argv[1], what[i].name) == 0) {
            what[i].dump();
            return 0;
        }
    fprintf(stderr, "usage: crosscheck_dump_fits kinetic|label|winch|alternator\n");
    return 2;
}
