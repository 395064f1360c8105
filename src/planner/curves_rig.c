/* Curves of ground, rigging, starter, cable, fuse and load by themselves; see curves.h. */
#include "planner/curves.h"

#include "base/number.h"

#include <math.h>

enum { STEPS = 60, PARTS = 4 };

pr_status pr_curves_ground(const pr_scenario *scenario, const pr_system *system, pr_curves *out)
{
    static const pr_mire depths[] = {PR_MIRE_WHEEL, PR_MIRE_HUB, PR_MIRE_BODY};
    static const double STEEPEST = 0.6;
    *out = pr_curves_init("ground", scenario->title);
    if (system->def.demand.n_segments < 1)
        return PR_ERR_INPUT;
    pr_demand_def d = system->def.demand;
    d.segments[0] = d.segments[d.n_segments - 1]; /* the last: firm ground is at its end */
    d.segments[0].length_m = 1.0;
    d.n_segments = 1;
    pr_curves_begin(out, "curve", 7);
    for (int i = 0; i <= STEPS; i++) {
        const double slope = STEEPEST * i / STEPS;
        double row[7] = {slope};
        d.segments[0].slope_rad = atan(slope);
        d.segments[0].mire = PR_MIRE_NONE;
        for (int k = 0; k < PR_CASE_COUNT; k++)
            row[1 + k] = pr_demand_resistance_N(&d, 0.5, (pr_case)k);
        for (int k = 0; k < 3; k++) {
            d.segments[0].mire = depths[k];
            row[4 + k] = pr_demand_resistance_N(&d, 0.5, PR_CASE_LIKELY);
        }
        pr_curves_row(out, row);
    }
    pr_curves_number_add(out, "weight", d.weight_N);
    pr_curves_number_add(out, "margin", d.margin_frac);
    pr_curves_number_add(out, "rated_N",
                         system->def.has_winch ? system->motor.def.rated_pull_N : PR_NAN);
    return out->status;
}

pr_status pr_curves_rigging(const pr_scenario *scenario, const pr_system *system, pr_curves *out)
{
    *out = pr_curves_init("rigging", scenario->title);
    if (!system->def.has_winch)
        return PR_ERR_INPUT;
    const double rated_N = system->motor.def.rated_pull_N;
    pr_rig_def rig = system->def.rig;
    pr_curves_begin(out, "curve", 1 + PARTS);
    for (int i = 0; i <= STEPS; i++) {
        double row[1 + PARTS] = {3.5 * rated_N * i / STEPS};
        for (int p = 1; p <= PARTS; p++) {
            rig.parts = p;
            row[p] = pr_rig_fall_line_N(&rig, row[0]);
        }
        pr_curves_row(out, row);
    }
    pr_curves_begin(out, "layers", 2);
    for (int n = 1; n <= system->drum.layers; n++) {
        const double row[] = {n, rated_N / pr_drum_ratio(&system->drum, n)};
        pr_curves_row(out, row);
    }
    pr_curves_number_add(out, "rated_N", rated_N);
    return out->status;
}

pr_status pr_curves_cranking(const pr_scenario *scenario, const pr_system *system, pr_curves *out)
{
    const pr_cranking_def *c = &system->def.cranking;
    const pr_battery *b = &system->battery[system->def.starter_post];
    *out = pr_curves_init("cranking", scenario->title);
    pr_curves_begin(out, "curve", 4);
    for (int T = -30; T <= 40; T++) {
        const pr_battery_state full = pr_battery_state_rested(b, 1.0, T);
        double least = PR_NAN;
        if (pr_cranking_reserve_frac(c, b, T, T, &least) != PR_OK)
            least = PR_NAN;
        const double row[] = {T, pr_cranking_current_A(c, T), least,
                              pr_cranking_voltage_V(c, b, &full, T)};
        pr_curves_row(out, row);
    }
    pr_curves_number_add(out, "least_V", c->min_V);
    pr_curves_number_add(out, "floor_frac", c->least_soc_frac);
    pr_curves_number_add(out, "cca_A", b->def.cca_A);
    pr_curves_number_add(out, "c20_Ah", b->def.c20_Ah);
    return out->status;
}

/* Heated at a multiple of its ampacity; the middle rule, a second a step. */
static void put_heating(const pr_wire *w, double ambient_degC, pr_curves *out)
{
    enum { TIMES = 4 };
    static const double times[TIMES] = {1.0, 1.5, 2.0, 3.0};
    static const int LAST_s = 600;
    pr_wire_state state[TIMES];
    for (int k = 0; k < TIMES; k++)
        state[k].T_degC = ambient_degC;
    pr_curves_begin(out, "heating", 1 + TIMES);
    for (int t_s = 0; t_s <= LAST_s; t_s++) {
        double row[1 + TIMES] = {t_s};
        for (int k = 0; k < TIMES; k++)
            row[1 + k] = state[k].T_degC < 400.0 ? state[k].T_degC : PR_NAN;
        if (t_s % 2 == 0)
            pr_curves_row(out, row);
        for (int k = 0; k < TIMES && t_s < LAST_s; k++) {
            const double amps_A = times[k] * w->ampacity_A;
            pr_wire_state rates, middle = state[k];
            if (!(state[k].T_degC < 400.0))
                continue;
            pr_wire_rates(w, &state[k], amps_A, ambient_degC, &rates);
            middle.T_degC += 0.5 * rates.T_degC;
            pr_wire_rates(w, &middle, amps_A, ambient_degC, &rates);
            state[k].T_degC += rates.T_degC;
        }
    }
}

pr_status pr_curves_cable(const pr_scenario *scenario, const pr_system *system, pr_curves *out)
{
    static const double LONGEST_m = 8.0, WARM_degC = 60.0;
    *out = pr_curves_init("cable", scenario->title);
    if (!system->def.run[PR_RUN_WINCH].present)
        return PR_ERR_INPUT;
    const pr_wire *w = &system->wire[PR_RUN_WINCH];
    pr_curves_begin(out, "drop", 4);
    for (int i = 1; i <= STEPS; i++) {
        pr_wire_def def = w->def;
        pr_wire longer;
        def.length_m = LONGEST_m * i / STEPS;
        const pr_status status = pr_wire_derive(&def, &longer);
        if (status != PR_OK)
            return status;
        const double r_ohm = pr_wire_resistance_ohm(&longer, WARM_degC);
        const double row[] = {def.length_m, 0.5 * w->ampacity_A * r_ohm, w->ampacity_A * r_ohm,
                              2.0 * w->ampacity_A * r_ohm};
        pr_curves_row(out, row);
    }
    put_heating(w, system->def.ambient_degC, out);
    pr_curves_number_add(out, "ampacity_A", w->ampacity_A);
    pr_curves_number_add(out, "insulation", w->def.insulation_degC);
    pr_curves_number_add(out, "area", w->area_mm2);
    pr_curves_number_add(out, "ambient", system->def.ambient_degC);
    return out->status;
}

pr_status pr_curves_fuse(const pr_scenario *scenario, const pr_system *system, pr_curves *out)
{
    const pr_wire_slot *slot = &system->def.run[PR_RUN_WINCH];
    *out = pr_curves_init("fuse", scenario->title);
    if (!slot->present || !slot->has_fuse)
        return PR_ERR_INPUT;
    pr_fuse family[PR_FUSE_FAMILY_COUNT];
    for (int k = 0; k < PR_FUSE_FAMILY_COUNT; k++) {
        pr_fuse_def def = pr_fuse_def_family((pr_fuse_family)k);
        def.rating_A = slot->fuse.rating_A;
        const pr_status status = pr_fuse_derive(&def, &family[k]);
        if (status != PR_OK)
            return status;
    }
    pr_curves_begin(out, "curve", 2 + PR_FUSE_FAMILY_COUNT);
    for (int i = 0; i <= 2 * STEPS; i++) {
        const double ratio = pow(10.0, (double)i / (2 * STEPS));
        double row[2 + PR_FUSE_FAMILY_COUNT] = {
            ratio, pr_fuse_time_s(&system->fuse[PR_RUN_WINCH], ratio * slot->fuse.rating_A)};
        for (int k = 0; k < PR_FUSE_FAMILY_COUNT; k++)
            row[2 + k] = pr_fuse_time_s(&family[k], ratio * slot->fuse.rating_A);
        pr_curves_row(out, row);
    }
    pr_curves_number_add(out, "rating_A", slot->fuse.rating_A);
    return out->status;
}

pr_status pr_curves_load(const pr_scenario *scenario, const pr_system *system, pr_curves *out)
{
    *out = pr_curves_init("load", scenario->title);
    if (system->def.n_loads < 1)
        return PR_ERR_INPUT;
    const pr_load *load = &system->load[0];
    pr_curves_begin(out, "curve", 2);
    for (int i = 0; i <= 2 * STEPS; i++) {
        const double V = 16.0 * i / (2 * STEPS);
        const bool works = pr_load_wants(load, true, V) >= 0;
        const double row[] = {V, works ? pr_load_current_A(load, V, 1e9, NULL) : 0.0};
        pr_curves_row(out, row);
    }
    pr_curves_begin(out, "start", 2);
    for (int i = 0; i <= 2 * STEPS; i++) {
        const double t_s = 2.0 * i / (2 * STEPS);
        const double row[] = {t_s, pr_load_current_A(load, load->def.reference_V, t_s, NULL)};
        pr_curves_row(out, row);
    }
    pr_curves_number_add(out, "reference_V", load->def.reference_V);
    pr_curves_number_add(out, "reference_A", load->i0_A);
    pr_curves_number_add(out, "exponent", load->def.exponent);
    pr_curves_number_add(out, "dropout_V", load->def.dropout_V);
    return out->status;
}
