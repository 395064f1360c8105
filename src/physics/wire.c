/* Cables and joints.
 *
 * Area: AWG d = 0.127 mm x 92^((36 - n)/39) (ASTM B258); SAE gauge: least circular mils of SAE
 *   J1127 and J1128 (table below); mm2 as given.
 * Resistance at 20 degC per metre of conductor: AWG and SAE 1.02 x 17.241 nohm m / area (annealed
 *   copper, IEC 60028; strands 2 % longer, as in NEC chapter 9 table 8); mm2: the greatest of IEC
 *   60228 class 5, between its sizes by area. R(T) = R20 (234.5 + T)/254.5; joints, chassis
 * constant. Ampacity: 33 CFR 183.425 table 5, straight in ln-ln between sizes and straight in the
 * insulation rating; engine space by its note 1. Below 18 AWG in proportion to the area; above 4/0
 * to its root (both on the low side; (m)). Heat: C dT/dt = I^2 Rc(T) - G (T - Ta), Ta the air
 * around the cable (the caller knows whether that is the warmer air of an engine space). G is such
 * that the ampacity outside the engine space ends at the insulation's rating in air of 30 degC; the
 * factors of note 1 then follow within 2 % from 50 degC air. C is the copper alone, 3.45 J/(K cm3)
 * (IEC 60949); insulation would slow it. Adiabatic (IEC 60949): I sqrt(t) / S = k = 226
 * sqrt(ln((234.5 + Tf)/(234.5 + Ti))).
 *
 * Validity: stranded copper, one or few cables in free air, below 50 V; -40..300 degC. Bundles and
 * conduit carry less: not modelled. */
#include "physics/wire.h"
#include "base/number.h"
#include <math.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

#define COPPER_OHM_MM2_PER_M 0.017241
#define STRAND_LAY           1.02
#define HEAT_J_PER_K_MM2_M   3.45
#define ADIABATIC_COPPER     226.0
#define MM2_PER_CIRCULAR_MIL 5.067074790974977e-4
#define TABLE_AIR_DEGC       30.0
#define SIZING_DEGC          60.0

#define COUNT(a) (sizeof(a) / sizeof((a)[0]))

/* SAE gauge number and least area in circular mils, SAE J1127 / J1128 as printed in marine cable
 * tables; no 3 gauge. */
static const struct {
    double gauge, circular_mils;
} sae_table[] = {
    {-3, 205500}, {-2, 158600}, {-1, 125100}, {0, 98980}, {1, 77790},
    {2, 62450},   {4, 37360},   {6, 24538},   {8, 14810}, {10, 9343},
    {12, 5833},   {14, 3702},   {16, 2336},   {18, 1537}, {20, 1072},
};

/* IEC 60228 table 3, class 5, plain copper: greatest ohm/km at 20 degC. */
static const struct {
    double mm2, mohm_per_m;
} class5_table[] = {
    {0.5, 39.0},   {0.75, 26.0},  {1.0, 19.5},    {1.5, 13.3},    {2.5, 7.98},    {4.0, 4.95},
    {6.0, 3.30},   {10.0, 1.91},  {16.0, 1.21},   {25.0, 0.780},  {35.0, 0.554},  {50.0, 0.386},
    {70.0, 0.272}, {95.0, 0.206}, {120.0, 0.161}, {150.0, 0.129}, {185.0, 0.106}, {240.0, 0.0801},
};

enum { INSULATIONS = 7 };
static const double insulation_table_degC[INSULATIONS] = {60, 75, 80, 90, 105, 125, 200};
/* note 1: factor in engine spaces, by insulation */
static const double engine_factor[INSULATIONS] = {0.58, 0.75, 0.78, 0.82, 0.85, 0.89, 1.00};

/* 33 CFR 183.425 table 5, amps by insulation. */
static const struct {
    double awg, amps[INSULATIONS];
} ampacity_table[] = {
    {18, {10, 10, 15, 20, 20, 25, 25}},        {16, {15, 15, 20, 25, 25, 30, 35}},
    {14, {20, 20, 25, 30, 35, 40, 45}},        {12, {25, 25, 35, 40, 45, 50, 55}},
    {10, {40, 40, 50, 55, 60, 70, 70}},        {8, {55, 65, 70, 70, 80, 90, 100}},
    {6, {80, 95, 100, 100, 120, 125, 135}},    {4, {105, 125, 130, 135, 160, 170, 180}},
    {3, {120, 145, 150, 155, 180, 195, 210}},  {2, {140, 170, 175, 180, 210, 225, 240}},
    {1, {165, 195, 210, 210, 245, 265, 280}},  {0, {195, 230, 245, 245, 285, 305, 325}},
    {-1, {225, 265, 285, 285, 330, 355, 370}}, {-2, {260, 310, 330, 330, 385, 410, 430}},
    {-3, {300, 360, 385, 385, 445, 475, 510}},
};

static bool within(double x, double low, double high)
{
    return x >= low && x <= high; /* false for NaN */
}

pr_wire_def pr_wire_def_default(void)
{
    return (pr_wire_def){
        .cookie = PR_DEF_COOKIE,
        .gauge_kind = PR_GAUGE_AWG,
        .gauge = PR_NAN,
        .length_m = PR_NAN,
        .return_kind = PR_RETURN_CABLE,
        .chassis_ohm = 0.0005,
        .parallel = 1,
        .joints = 4,
        .joint_ohm = 0.0002,
        .extra_ohm = 0.0,
        .insulation_degC = 105.0,
        .engine_space = 0,
    };
}

static double awg_mm2(double gauge)
{
    double d_mm = 0.127 * pow(92.0, (36.0 - gauge) / 39.0);
    return M_PI / 4.0 * d_mm * d_mm;
}

double pr_wire_area_mm2(pr_gauge_kind kind, double gauge)
{
    switch (kind) {
    case PR_GAUGE_MM2:
        return within(gauge, 0.2, 300.0) ? gauge : PR_NAN;
    case PR_GAUGE_AWG:
        return within(gauge, -3.0, 24.0) && gauge == floor(gauge) ? awg_mm2(gauge) : PR_NAN;
    case PR_GAUGE_SAE:
        for (size_t i = 0; i < COUNT(sae_table); i++)
            if (gauge == sae_table[i].gauge)
                return sae_table[i].circular_mils * MM2_PER_CIRCULAR_MIL;
        return PR_NAN;
    }
    return PR_NAN;
}

/* R x area between the sizes of the class 5 table: it varies slowly, so straight lines do. */
static double class5_mohm_per_m(double mm2)
{
    const size_t last = COUNT(class5_table) - 1;
    size_t i = 0;
    while (i < last && class5_table[i + 1].mm2 < mm2)
        i++;
    size_t j = i < last ? i + 1 : last;
    double low = class5_table[i].mm2, high = class5_table[j].mm2;
    double w = high > low ? (mm2 - low) / (high - low) : 0.0;
    w = w < 0.0 ? 0.0 : w > 1.0 ? 1.0 : w;
    if (w == 1.0 && mm2 == high)
        return class5_table[j].mohm_per_m;
    if (w == 0.0 && mm2 == low)
        return class5_table[i].mohm_per_m;
    double product =
        (1.0 - w) * low * class5_table[i].mohm_per_m + w * high * class5_table[j].mohm_per_m;
    return product / mm2;
}

double pr_wire_r20_ohm_per_m(pr_gauge_kind kind, double gauge)
{
    double mm2 = pr_wire_area_mm2(kind, gauge);
    if (isnan(mm2))
        return PR_NAN;
    if (kind == PR_GAUGE_MM2)
        return 1e-3 * class5_mohm_per_m(mm2);
    return STRAND_LAY * COPPER_OHM_MM2_PER_M / mm2;
}

/* Index i and weight w of insulation_degC between columns i and i + 1. */
static bool insulation_column(double insulation_degC, size_t *i, double *w)
{
    if (!within(insulation_degC, insulation_table_degC[0], insulation_table_degC[INSULATIONS - 1]))
        return false;
    *i = 0;
    while (*i < INSULATIONS - 2 && insulation_table_degC[*i + 1] <= insulation_degC)
        ++*i;
    *w = (insulation_degC - insulation_table_degC[*i]) /
         (insulation_table_degC[*i + 1] - insulation_table_degC[*i]);
    return true;
}

static double row_A(size_t row, size_t i, double w)
{
    return (1.0 - w) * ampacity_table[row].amps[i] + w * ampacity_table[row].amps[i + 1];
}

double pr_wire_ampacity_A(double area_mm2, double insulation_degC, int engine_space)
{
    const size_t last = COUNT(ampacity_table) - 1;
    size_t i;
    double w;
    if (!within(area_mm2, 0.2, 300.0) || !insulation_column(insulation_degC, &i, &w))
        return PR_NAN;
    double place = engine_space ? (1.0 - w) * engine_factor[i] + w * engine_factor[i + 1] : 1.0;
    double smallest_mm2 = awg_mm2(ampacity_table[0].awg);
    double largest_mm2 = awg_mm2(ampacity_table[last].awg);
    if (area_mm2 <= smallest_mm2)
        return place * row_A(0, i, w) * area_mm2 / smallest_mm2;
    if (area_mm2 >= largest_mm2)
        return place * row_A(last, i, w) * sqrt(area_mm2 / largest_mm2);
    size_t row = 0;
    while (awg_mm2(ampacity_table[row + 1].awg) < area_mm2)
        row++;
    double low = awg_mm2(ampacity_table[row].awg), high = awg_mm2(ampacity_table[row + 1].awg);
    double low_A = row_A(row, i, w), high_A = row_A(row + 1, i, w);
    return place * low_A * pow(high_A / low_A, log(area_mm2 / low) / log(high / low));
}

static bool def_in_range(const pr_wire_def *d)
{
    return within(d->length_m, 0.01, 100.0) && within(d->chassis_ohm, 0.0, 1.0) &&
           (d->return_kind == PR_RETURN_CABLE || d->return_kind == PR_RETURN_CHASSIS) &&
           d->parallel >= 1 && d->parallel <= 8 && d->joints >= 0 && d->joints <= 100 &&
           within(d->joint_ohm, 0.0, 1.0) && within(d->extra_ohm, 0.0, 100.0) &&
           within(d->insulation_degC, 60.0, 200.0);
}

pr_status pr_wire_derive(const pr_wire_def *def, pr_wire *wire)
{
    if (def == NULL || wire == NULL || def->cookie != PR_DEF_COOKIE)
        return PR_ERR_INTERNAL;
    if (!def_in_range(def))
        return PR_ERR_RANGE;
    double mm2 = pr_wire_area_mm2(def->gauge_kind, def->gauge);
    if (isnan(mm2))
        return PR_ERR_RANGE;
    double n = def->parallel;
    double legs = def->return_kind == PR_RETURN_CABLE ? 2.0 : 1.0;
    double run_m = legs * def->length_m;
    double ohm_per_m = pr_wire_r20_ohm_per_m(def->gauge_kind, def->gauge);
    double open_air_A = pr_wire_ampacity_A(mm2, def->insulation_degC, 0);
    *wire = (pr_wire){.def = *def, .area_mm2 = mm2};
    wire->r20_ohm = ohm_per_m * run_m / n;
    wire->fixed_ohm = def->joints * def->joint_ohm + def->extra_ohm +
                      (def->return_kind == PR_RETURN_CHASSIS ? def->chassis_ohm : 0.0);
    wire->heat_capacity_J_per_K = HEAT_J_PER_K_MM2_M * mm2 * run_m * n;
    wire->ampacity_A = n * pr_wire_ampacity_A(mm2, def->insulation_degC, def->engine_space != 0);
    double hot_ohm_per_m =
        ohm_per_m * (PR_WIRE_COPPER_degC + def->insulation_degC) / (PR_WIRE_COPPER_degC + 20.0);
    wire->conductance_W_per_K = n * run_m * open_air_A * open_air_A * hot_ohm_per_m /
                                (def->insulation_degC - TABLE_AIR_DEGC);
    return PR_OK;
}

void pr_wire_rates(const pr_wire *wire, const pr_wire_state *state, double i_A, double ambient_degC,
                   pr_wire_state *rates)
{
    double heat_W = i_A * i_A * pr_wire_copper_ohm(wire, state->T_degC);
    double lost_W = wire->conductance_W_per_K * (state->T_degC - ambient_degC);
    rates->T_degC = (heat_W - lost_W) / wire->heat_capacity_J_per_K;
}

double pr_wire_steady_degC(const pr_wire *wire, double i_A, double ambient_degC)
{
    /* I^2 R20 (234.5 + T)/254.5 = G (T - Ta) */
    double per_K = i_A * i_A * wire->r20_ohm / (PR_WIRE_COPPER_degC + 20.0);
    double rest = wire->conductance_W_per_K - per_K;
    if (!(rest > 0.0))
        return PR_INF; /* heats for ever: resistance grows faster than cooling */
    return (per_K * PR_WIRE_COPPER_degC + wire->conductance_W_per_K * ambient_degC) / rest;
}

double pr_wire_adiabatic_k(double from_degC, double to_degC)
{
    if (!(from_degC > -PR_WIRE_COPPER_degC) || !(to_degC >= from_degC))
        return PR_NAN;
    return ADIABATIC_COPPER *
           sqrt(log((PR_WIRE_COPPER_degC + to_degC) / (PR_WIRE_COPPER_degC + from_degC)));
}

double pr_wire_adiabatic_degC(const pr_wire *wire, double from_degC, double i_A, double seconds)
{
    double s = i_A / (wire->area_mm2 * wire->def.parallel) / ADIABATIC_COPPER;
    return (PR_WIRE_COPPER_degC + from_degC) * exp(s * s * seconds) - PR_WIRE_COPPER_degC;
}

double pr_wire_adiabatic_s(const pr_wire *wire, double from_degC, double i_A)
{
    double limit_degC = wire->def.insulation_degC <= 105.0 ? 160.0 : 250.0;
    if (from_degC >= limit_degC)
        return 0.0;
    double k = pr_wire_adiabatic_k(from_degC, limit_degC);
    double root = k * wire->area_mm2 * wire->def.parallel / i_A;
    return root * root;
}

/* Sizes on sale, thin to thick. */
static const double awg_sizes[] = {18, 16, 14, 12, 10, 8, 6, 4, 2, 1, 0, -1, -2, -3};
static const double mm2_sizes[] = {0.75, 1.0, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120};

double pr_wire_recommend(const pr_wire_def *like, double i_A, double drop_V)
{
    bool metric = like->gauge_kind == PR_GAUGE_MM2;
    const double *sizes = metric ? mm2_sizes : awg_sizes;
    size_t n = metric ? COUNT(mm2_sizes) : COUNT(awg_sizes);
    if (!(i_A >= 0.0) || !(drop_V > 0.0))
        return PR_NAN;
    for (size_t i = 0; i < n; i++) {
        pr_wire_def def = *like;
        pr_wire wire;
        def.gauge = sizes[i];
        if (pr_wire_derive(&def, &wire) != PR_OK)
            return PR_NAN;
        if (wire.ampacity_A >= i_A && i_A * pr_wire_resistance_ohm(&wire, SIZING_DEGC) <= drop_V)
            return sizes[i];
    }
    return PR_NAN;
}

void pr_wire_gauge_text(pr_gauge_kind kind, double gauge, char *text, unsigned long size)
{
    const char *name = kind == PR_GAUGE_SAE ? "SAE" : "AWG";
    if (kind == PR_GAUGE_MM2)
        snprintf(text, size, "%g mm2", gauge);
    else if (gauge <= 0.0)
        snprintf(text, size, "%g/0 %s", 1.0 - gauge, name);
    else
        snprintf(text, size, "%g %s", gauge, name);
}
