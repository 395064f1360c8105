/* What each chemistry brings that no label tells. Evidence for every number:
 * docs/physics/battery.md; those not read but remembered are listed there as (m). All voltages at
 * 25 degC, whole battery.
 *
 * Rest voltage of acid-starved batteries: Bode's electrode potentials (H. Bode, Lead-Acid
 * Batteries, 1977; polynomials in log10 of the molality as in Sulzer et al. 2019, J. Electrochem.
 * Soc. 166 A2363), with the acid concentration proportional to the state of charge: m = c Vw / ((1
 * - c Ve) Mw),  Vw = 17.5e-6, Ve = 45e-6 m3/mol, Mw = 18.01e-3 kg/mol. */
#include "base/number.h"
#include "physics/battery_law.h"

#include <stddef.h>

#define FLOODED_REST                                                                               \
    .n_rest = 5, .rest_frac = {0.0, 0.25, 0.5, 0.75, 1.0},                                         \
    .rest_V = {11.89, 12.06, 12.24, 12.45, 12.65}
#define LEAD_ACID                                                                                  \
    .usual_exponent = {0.0, 0.0, 1.2}, .emf_V_per_K = 0.0013, .polarisation = {0.15, 0.2, 0.4},    \
    .r_per_K = 0.0175, .k_per_K = 0.025, .capacity_0_frac = 0.86, .cold_degC = -15.0,              \
    .capacity_cold_frac = 0.65, .gas_ref_A_per_Ah = 0.0002

static const pr_battery_chemistry chemistries[PR_CHEMISTRY_COUNT] = {
    [PR_FLOODED] = {.name = "flooded",
                    FLOODED_REST,
                    LEAD_ACID,
                    .rc_factor = 0.7732,
                    .rc_power = 1.1828,
                    .cca_per_Ah = {9.0, 6.8, 5.5},
                    .accept_per_h = 0.88,
                    .kg_per_Ah = 0.25,
                    .J_per_kgK = 1000.0},
    [PR_EFB] = {.name = "EFB",
                FLOODED_REST,
                LEAD_ACID,
                .rc_factor = 0.7732,
                .rc_power = 1.1828,
                .cca_per_Ah = {9.5, 7.0, 6.0},
                .accept_per_h = 1.1,
                .kg_per_Ah = 0.26,
                .J_per_kgK = 1000.0},
    [PR_AGM] = {.name = "AGM",
                .n_rest = 5,
                .rest_frac = {0.0, 0.25, 0.5, 0.75, 1.0},
                .rest_V = {11.7, 12.0, 12.3, 12.6, 12.85},
                .full_acid_mol_per_m3 = {0.0, 0.0, 5200.0},
                LEAD_ACID,
                .rc_factor = 1.1339,
                .rc_power = 1.1201,
                .cca_per_Ah = {10.5, 9.0, 7.0},
                .accept_per_h = 1.1,
                .kg_per_Ah = 0.30,
                .J_per_kgK = 900.0},
    [PR_GEL] = {.name = "gel",
                .full_acid_mol_per_m3 = {5200.0, 5200.0, 5200.0},
                LEAD_ACID,
                .rc_factor = 1.1339,
                .rc_power = 1.1201,
                .cca_per_Ah = {8.0, 7.0, 5.7},
                .accept_per_h = 0.88,
                .kg_per_Ah = 0.32,
                .J_per_kgK = 950.0},
    [PR_LIFEPO4] = {.name = "LiFePO4",
                    .n_rest = 9,
                    .rest_frac = {0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.7, 0.95, 1.0},
                    .rest_V = {10.6, 12.3, 12.75, 12.9, 13.0, 13.1, 13.2, 13.3, 13.45},
                    .emf_V_per_K = 0.0,
                    .usual_exponent = {1.01, 1.01, 1.01},
                    .r0_ohm_Ah = 0.35, /* cells and management system */
                    .polarisation = {0.02, 0.02, 0.02},
                    .r_per_K = 0.02,
                    .k_per_K = 0.025,
                    .capacity_0_frac = 0.92,
                    .cold_degC = -20.0,
                    .capacity_cold_frac = 0.80,
                    .accept_per_h = 10.0,
                    .gas_ref_A_per_Ah = 0.0,
                    .kg_per_Ah = 0.12,
                    .J_per_kgK = 1000.0},
};

const pr_battery_chemistry *pr_battery_chemistry_of(pr_chemistry chemistry)
{
    /* through int: an enum from a caller's memory may hold anything */
    const int index = (int)chemistry;
    return index >= 0 && index < PR_CHEMISTRY_COUNT ? &chemistries[index] : NULL;
}

const char *pr_chemistry_name(pr_chemistry chemistry)
{
    const pr_battery_chemistry *found = pr_battery_chemistry_of(chemistry);
    return found != NULL ? found->name : "unknown";
}

double pr_lead_acid_emf_V(double molality)
{
    const double x = log10(molality);
    const double positive_V = 1.628 + x * (0.074 + x * (0.033 + x * (0.043 + x * 0.022)));
    const double negative_V = -0.295 - x * (0.074 + x * (0.030 + x * (0.031 + x * 0.012)));
    return PR_CELLS * (positive_V - negative_V);
}

static double starved_rest_V(double full_mol_per_m3, double soc_frac)
{
    const double c = full_mol_per_m3 * soc_frac;
    return pr_lead_acid_emf_V(c * 17.5e-6 / ((1.0 - c * 45e-6) * 18.01e-3));
}

pr_status pr_battery_rest_table(const pr_battery_chemistry *chemistry, pr_plates plates,
                                pr_table *rest_V)
{
    const double acid = chemistry->full_acid_mol_per_m3[plates];
    if (!(acid > 0.0))
        return pr_table_init(rest_V, PR_TABLE_MONOTONE, (size_t)chemistry->n_rest,
                             chemistry->rest_frac, chemistry->rest_V);
    /* the polynomials hold down to about 1 % of the acid; 10.4 V at none is a guess that no run
     * reaches, for the surface resistance has its pole there */
    static const double frac[PR_REST_POINTS] = {0.0,   0.01, 0.03, 0.06, 0.1,  0.175,
                                                0.275, 0.4,  0.55, 0.7,  0.85, 1.0};
    double volts[PR_REST_POINTS] = {10.4};
    for (int i = 1; i < PR_REST_POINTS; i++)
        volts[i] = starved_rest_V(acid, frac[i]);
    return pr_table_init(rest_V, PR_TABLE_MONOTONE, PR_REST_POINTS, frac, volts);
}

/* Electrolyte freezing by state of charge: US Army TM 5-1185 table III, -58/-36/-25/-16 degC at
 * 100/75/50/25 %; at 0 % (specific gravity 1.12) -10 degC (m). */
double pr_battery_freezing_degC(const pr_battery *battery, double soc_frac)
{
    static const double frost_degC[] = {-10.0, -16.0, -25.0, -36.0, -58.0};
    if (battery->def.chemistry == PR_LIFEPO4)
        return -PR_INF;
    if (isnan(soc_frac))
        return soc_frac;
    const double x = soc_frac < 0.0 ? 0.0 : soc_frac > 1.0 ? 4.0 : 4.0 * soc_frac;
    const int i = x < 3.0 ? (int)x : 3;
    return frost_degC[i] + (frost_degC[i + 1] - frost_degC[i]) * (x - i);
}
