/* What each chemistry brings that no label tells. Evidence for every number:
 * docs/physics/battery.md; those not read but remembered are listed there as (m). All voltages at
 * 25 degC, whole battery. */
#include "base/number.h"
#include "physics/battery_law.h"

#include <stddef.h>

static const pr_battery_chemistry chemistries[PR_CHEMISTRY_COUNT] = {
    [PR_FLOODED] = {.name = "flooded",
                    .n_rest = 5,
                    .rest_frac = {0.0, 0.25, 0.5, 0.75, 1.0},
                    .rest_V = {11.89, 12.06, 12.24, 12.45, 12.65},
                    .emf_V_per_K = 0.0013,
                    .rc_factor = 0.7732,
                    .rc_power = 1.1828,
                    .cca_per_Ah = {9.0, 6.8, 5.5},
                    .accept_per_h = 0.88,
                    .r_per_K = 0.0204,
                    .r_per_K2 = 0.0,
                    .gas_ref_A_per_Ah = 0.0002,
                    .kg_per_Ah = 0.25,
                    .J_per_kgK = 1000.0},
    [PR_EFB] = {.name = "EFB",
                .n_rest = 5,
                .rest_frac = {0.0, 0.25, 0.5, 0.75, 1.0},
                .rest_V = {11.89, 12.06, 12.24, 12.45, 12.65},
                .emf_V_per_K = 0.0013,
                .rc_factor = 0.7732,
                .rc_power = 1.1828,
                .cca_per_Ah = {9.5, 7.0, 6.0},
                .accept_per_h = 1.1,
                .r_per_K = 0.0204,
                .r_per_K2 = 0.0,
                .gas_ref_A_per_Ah = 0.0002,
                .kg_per_Ah = 0.26,
                .J_per_kgK = 1000.0},
    [PR_AGM] = {.name = "AGM",
                .n_rest = 5,
                .rest_frac = {0.0, 0.25, 0.5, 0.75, 1.0},
                .rest_V = {11.6, 12.0, 12.3, 12.6, 12.85},
                .emf_V_per_K = 0.0013,
                .rc_factor = 1.1339,
                .rc_power = 1.1201,
                .cca_per_Ah = {10.5, 9.0, 7.0},
                .accept_per_h = 1.1,
                .r_per_K = 0.0204,
                .r_per_K2 = 0.0,
                .gas_ref_A_per_Ah = 0.0002,
                .kg_per_Ah = 0.30,
                .J_per_kgK = 900.0},
    [PR_GEL] = {.name = "gel",
                .n_rest = 5,
                .rest_frac = {0.0, 0.25, 0.5, 0.75, 1.0},
                .rest_V = {11.7, 12.0, 12.3, 12.6, 12.85},
                .emf_V_per_K = 0.0013,
                .rc_factor = 1.1339,
                .rc_power = 1.1201,
                .cca_per_Ah = {8.0, 7.0, 5.7},
                .accept_per_h = 0.88,
                .r_per_K = 0.0204,
                .r_per_K2 = 0.0,
                .gas_ref_A_per_Ah = 0.0002,
                .kg_per_Ah = 0.32,
                .J_per_kgK = 950.0},
    [PR_LIFEPO4] = {.name = "LiFePO4",
                    .n_rest = 9,
                    .rest_frac = {0.0, 0.05, 0.1, 0.2, 0.3, 0.4, 0.7, 0.95, 1.0},
                    .rest_V = {10.6, 12.3, 12.75, 12.9, 13.0, 13.1, 13.2, 13.3, 13.45},
                    .emf_V_per_K = 0.0,
                    .rc_factor = 2.35,
                    .rc_power = 1.0,
                    .cca_per_Ah = {10.0, 8.0, 6.0},
                    .accept_per_h = 10.0,
                    .r_per_K = 0.03,
                    .r_per_K2 = 0.0,
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
