/* Checks across values. A plate that contradicts itself is a typing mistake or a plate read wrong;
 * better to say so than to compute with it. */
#include "reader/checks.h"
#include "reader/blame.h"
#include "reader/fit_notes.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

/* Five cells of six at rest; common practice, no source. */
static const double DEAD_CELL_V = 10.5;

/* Section by path when it was read without mistakes; else there is nothing to compare. */
static pr_section *sound_section(const pr_reader *r, const char *path)
{
    pr_section *s = pr_section_find(r, path);
    return s != NULL && s->errors == 0 ? s : NULL;
}

/* Place to blame: the first of the keys that the file itself gives, else any that is given. */
static pr_place blame(const pr_section *s, const char *first, const char *second)
{
    return pr_blame_place(s, (const char *const[]){first, second}, 2);
}

/* Both or none. */
static void check_pair(pr_reader *r, pr_section *s, const char *a, const char *b)
{
    if (pr_section_has(s, a) == pr_section_has(s, b))
        return;
    const char *given = pr_section_has(s, a) ? a : b, *lacking = given == a ? b : a;
    pr_reader_error(r, pr_section_at(s, given), "%s.%s: needs \"%s\" beside it", s->path, given,
                    lacking);
    s->errors++;
}

/* Reserve capacity against capacity: Peukert's exponent must be at least 1 (no battery gives more
 * at 25 A than at the 20 h rate) and below 1.8 (worse than any sheet seen). */
static void check_reserve(pr_reader *r, pr_section *s, const pr_battery_def *b)
{
    if (isnan(b->rc_min))
        return;
    const double most_min = b->c20_Ah / 25.0 * 60.0;
    const double i20_A = b->c20_Ah / 20.0;
    const char *text = "most a battery of this capacity can give at 25 A";
    if (b->rc_min > most_min * 1.02) {
        pr_reader_error(r, blame(s, "reserve_capacity", "capacity"),
                        "%s.reserve_capacity: %.4g min at 25 A is more than a %.4g Ah battery "
                        "holds: %.4g min is the %s",
                        s->path, b->rc_min, b->c20_Ah, most_min, text);
        s->errors++;
        return;
    }
    if (i20_A >= 25.0)
        return;
    const double n = log(20.0 * 60.0 / b->rc_min) / log(25.0 / i20_A);
    if (n > 1.8) {
        pr_reader_error(r, blame(s, "reserve_capacity", "capacity"),
                        "%s.reserve_capacity: %.4g min at 25 A is too little for a %.4g Ah battery "
                        "(minutes expected, not Ah?)",
                        s->path, b->rc_min, b->c20_Ah);
        s->errors++;
    }
}

static void check_battery(pr_reader *r, const char *path, size_t post)
{
    pr_section *s = sound_section(r, path);
    if (s == NULL)
        return;
    const pr_battery_def *b = &r->scenario->system.battery[post];
    check_pair(r, s, "high_rate_current", "high_rate_time");
    check_reserve(r, s, b);
    if (!isnan(b->cca_A) && (b->cca_A > 40.0 * b->c20_Ah || b->cca_A < b->c20_Ah)) {
        pr_reader_error(r, blame(s, "cold_cranking", "capacity"),
                        "%s.cold_cranking: %.4g A does not fit %.4g Ah: batteries give 1 to 40 "
                        "cold cranking amps per Ah",
                        path, b->cca_A, b->c20_Ah);
        s->errors++;
    }
    if (!isnan(b->bms_low_V) && !isnan(b->bms_high_V) && !(b->bms_low_V < b->bms_high_V)) {
        pr_reader_error(r, blame(s, "bms_low", "bms_high"), "%s.bms_low: is not below bms_high",
                        path);
        s->errors++;
    }
    if (pr_section_has(s, "rest_voltage") && pr_section_has(s, "state_of_charge")) {
        pr_reader_error(r, pr_section_at(s, "rest_voltage"),
                        "%s.rest_voltage: state_of_charge says that already; give one of the two",
                        path);
        s->errors++;
    }
}

static void check_alternator(pr_reader *r)
{
    pr_section *s = sound_section(r, "alternator");
    if (s == NULL)
        return;
    const pr_alternator_def *a = &r->scenario->system.alternator;
    const size_t errors = r->diag->errors;
    if (!isnan(a->idle_A) && a->idle_A >= a->rated_A)
        pr_reader_error(r, blame(s, "low_current", "rated_current"),
                        "alternator.low_current: %.4g A is not below the rated %.4g A", a->idle_A,
                        a->rated_A);
    if (a->idle_rpm >= a->rated_rpm)
        pr_reader_error(r, blame(s, "low_speed", "rated_speed"),
                        "alternator.low_speed: %.4g rpm is not below the rated %.4g rpm",
                        a->idle_rpm, a->rated_rpm);
    if (a->cut_in_rpm >= a->idle_rpm)
        pr_reader_error(r, blame(s, "cut_in", "low_speed"),
                        "alternator.cut_in: %.4g rpm is not below low_speed, %.4g rpm",
                        a->cut_in_rpm, a->idle_rpm);
    if (a->n_points > 0 && a->point_A[a->n_points - 1] > 2.0 * a->rated_A)
        pr_reader_error(r, blame(s, "output_table", "rated_current"),
                        "alternator.output_table: ends at %.4g A, the plate says %.4g A",
                        a->point_A[a->n_points - 1], a->rated_A);
    if (r->diag->errors == errors)
        pr_blame_alternator(r, s, a);
    s->errors += r->diag->errors - errors;
}

static void check_engine(pr_reader *r)
{
    pr_section *s = sound_section(r, "engine");
    if (s == NULL)
        return;
    const pr_system_def *d = &r->scenario->system;
    if (d->idle_rpm > d->fast_idle_rpm)
        pr_reader_error(r, blame(s, "idle", "fast_idle"),
                        "engine.idle: %.4g rpm is above fast_idle, %.4g rpm", d->idle_rpm,
                        d->fast_idle_rpm);
    if (d->fast_idle_rpm > d->max_rpm)
        pr_reader_error(r, blame(s, "fast_idle", "highest"),
                        "engine.fast_idle: %.4g rpm is above highest, %.4g rpm", d->fast_idle_rpm,
                        d->max_rpm);
}

/* Whatever names a battery must name one that is there. */
static void check_posts(pr_reader *r)
{
    const struct {
        const char *path, *key;
        pr_post post;
    } uses[] = {
        {"engine", "starter", r->scenario->system.starter_post},
        {"alternator", "feeds", r->scenario->system.alternator_post},
        {"winch", "fed_from", r->scenario->system.winch_post},
    };
    if (r->scenario->system.n_batteries > 1 || r->cut)
        return;
    for (size_t i = 0; i < sizeof uses / sizeof *uses; i++) {
        const pr_section *s = pr_section_find(r, uses[i].path);
        if (s != NULL && uses[i].post == PR_POST_SECOND)
            pr_reader_error(r, pr_section_at(s, uses[i].key), "%s.%s: there is no second battery",
                            uses[i].path, uses[i].key);
    }
    for (const pr_section *s = r->first; s != NULL; s = s->next)
        if (s->schema == &pr_schema_load &&
            r->scenario->system.load[s->index].post == PR_POST_SECOND)
            pr_reader_error(r, pr_section_at(s, "fed_from"),
                            "%s.fed_from: there is no second battery", s->path);
}

static void check_link(pr_reader *r)
{
    pr_section *s = sound_section(r, "link");
    if (s == NULL)
        return;
    const pr_link_def *l = &r->scenario->system.link;
    const size_t errors = r->diag->errors;
    if (l->kind == PR_LINK_RELAY && !(l->open_V < l->close_V))
        pr_reader_error(r, blame(s, "open_voltage", "close_voltage"),
                        "link.open_voltage: %.4g V is not below close_voltage, %.4g V", l->open_V,
                        l->close_V);
    if (l->kind == PR_LINK_CHARGER && isnan(l->charger_A))
        pr_reader_error(r, s->place, "link: \"charger_current\" is missing: its output amps");
    if (l->kind == PR_LINK_CHARGER && !(l->charger_stop_V < l->charger_start_V))
        pr_reader_error(r, blame(s, "charger_stop", "charger_start"),
                        "link.charger_stop: %.4g V is not below charger_start, %.4g V",
                        l->charger_stop_V, l->charger_start_V);
    s->errors += r->diag->errors - errors;
}

static void check_cutoffs(pr_reader *r)
{
    static const char *const paths[PR_POSTS] = {"cutoff", "second_cutoff"};
    for (int p = 0; p < PR_POSTS; p++) {
        const pr_section *s = sound_section(r, paths[p]);
        const pr_cutoff_def *c = &r->scenario->system.cutoff[p];
        if (s != NULL && !(c->off_V < c->on_V))
            pr_reader_error(r, blame(s, "off_voltage", "on_voltage"),
                            "%s.off_voltage: %.4g V is not below on_voltage, %.4g V", paths[p],
                            c->off_V, c->on_V);
    }
}

/* Numbers of the sheet that are there: from the two columns, or not at all. */
static void check_sheet(pr_reader *r, pr_section *s, const pr_motor_def *m)
{
    static const char *const columns[] = {"no_load_current", "rated_current", "no_load_speed",
                                          "rated_speed"};
    const bool has_table = pr_section_has(s, "table");
    const size_t errors = r->diag->errors;
    for (int i = 0; i < 4; i++)
        if (!has_table && !pr_section_has(s, columns[i]))
            pr_reader_error(r, s->place, "winch: \"%s\" is missing (or give the sheet as `table`)",
                            columns[i]);
    if (m->no_load_A >= m->rated_A)
        pr_reader_error(r, blame(s, "rated_current", "no_load_current"),
                        "winch.rated_current: %.4g A is not above the %.4g A without load",
                        m->rated_A, m->no_load_A);
    if (m->rated_mps >= m->no_load_mps)
        pr_reader_error(r, blame(s, "rated_speed", "no_load_speed"),
                        "winch.rated_speed: %.4g m/min is not below the %.4g m/min without load",
                        m->rated_mps * 60.0, m->no_load_mps * 60.0);
    const double out_W = m->rated_pull_N * m->rated_mps, in_W = m->sheet_V * m->rated_A;
    if (out_W >= in_W && r->diag->errors == errors)
        pr_reader_error(r, blame(s, "rated_pull", "rated_speed"),
                        "winch.rated_pull: at rated_speed it gives %.4g W, but takes only %.4g W",
                        out_W, in_W);
    if (!(m->contactor_drop_out_V < m->contactor_return_V))
        pr_reader_error(r, blame(s, "contactor_drop_out", "contactor_return"),
                        "winch.contactor_drop_out: is not below contactor_return");
    if (m->contactor_return_V >= m->sheet_V)
        pr_reader_error(r, blame(s, "contactor_return", "sheet_voltage"),
                        "winch.contactor_return: is not below sheet_voltage");
}

/* The batteries of this program are for 12 V. */
static void check_winch_voltage(pr_reader *r, const pr_section *s, const pr_motor_def *m)
{
    static const double SYSTEM_V = 12.0, OFF_FRAC = 0.4;
    if (!(fabs(m->sheet_V / SYSTEM_V - 1.0) > OFF_FRAC))
        return;
    char text[300];
    snprintf(text, sizeof text,
             "winch.sheet_voltage: this sheet is for %.3g V, the vehicle has %.3g V: it turns far "
             "from its sheet's speed, or its contactor does not close; take the %.3g V winch",
             m->sheet_V, SYSTEM_V, SYSTEM_V);
    const int row = pr_schema_find(s->schema, "sheet_voltage");
    const bool own = row >= 0 && s->given[row] != NULL && !s->from_catalogue[row];
    pr_reader_say_once(r, PR_WARNING, own ? pr_node_place(s->given[row]) : s->place, text);
}

static void check_winch(pr_reader *r)
{
    pr_section *s = sound_section(r, "winch");
    if (s == NULL)
        return;
    const size_t errors = r->diag->errors;
    check_sheet(r, s, &r->scenario->system.motor);
    check_winch_voltage(r, s, &r->scenario->system.motor);
    const pr_drum_def *d = &r->scenario->system.drum;
    const pr_section *drum = pr_section_find(r, "winch.drum"),
                     *rope = pr_section_find(r, "winch.rope");
    if (drum != NULL && isnan(d->width_m) && isnan(d->wraps_per_layer))
        pr_reader_error(r, drum->place, "winch.drum: \"width\" or \"wraps_per_layer\" is missing");
    if (rope != NULL && d->rope_m >= d->drum_m)
        pr_reader_error(r, blame(rope, "diameter", NULL),
                        "winch.rope.diameter: the rope is not thinner than the drum");
    else if (rope != NULL && !isnan(d->width_m) && d->width_m < d->rope_m)
        pr_reader_error(r, blame(rope, "diameter", NULL),
                        "winch.rope.diameter: the rope is thicker than the drum is wide");
    s->errors += r->diag->errors - errors;
}

static void check_plan(pr_reader *r)
{
    const pr_section *s = sound_section(r, "plan");
    if (s == NULL || r->cut)
        return;
    const pr_plan_def *p = &r->scenario->plan;
    if (p->pull_min_s > p->pull_max_s)
        pr_reader_error(r, blame(s, "shortest_pull", "longest_pull"),
                        "plan.shortest_pull: %.4g s is above longest_pull, %.4g s", p->pull_min_s,
                        p->pull_max_s);
    if (p->rest_min_s > p->rest_max_s)
        pr_reader_error(r, blame(s, "shortest_rest", "longest_rest"),
                        "plan.shortest_rest: %.4g s is above longest_rest, %.4g s", p->rest_min_s,
                        p->rest_max_s);
    if (p->parts > p->blocks + 1)
        pr_reader_error(r, blame(s, "parts", NULL),
                        "plan.parts: %d parts of line need %d block%s, winch.blocks says %d",
                        p->parts, p->parts - 1, p->parts == 2 ? "" : "s", p->blocks);
    const pr_section *recovery = sound_section(r, "recovery");
    if (recovery != NULL && r->scenario->system.work == PR_WORK_CURRENT && p->pulls == 0 &&
        r->scenario->n_schedule == 0)
        pr_reader_error(r, recovery->place,
                        "recovery: with a current or profile the job is a number of pulls: "
                        "plan.pulls is missing");
}

/* Message for a component that cannot be derived. */
static bool derived(pr_reader *r, pr_section *s, pr_status status, const char *why)
{
    if (status == PR_OK)
        return true;
    char given[200];
    pr_blame_given(s, given, sizeof given);
    if (status == PR_ERR_NO_SOLUTION || status == PR_ERR_RANGE)
        pr_reader_error(r, s->place, "%s: %s%s%s", s->path, why, given[0] == '\0' ? "" : ": ",
                        given);
    else
        pr_reader_error(r, s->place, "%s: %s", s->path, pr_status_text(status));
    s->errors++;
    return false;
}

/* A flat battery is an answer, 0 %; more than full is no rested battery. */
static void charge_from_rest_voltage(pr_reader *r, const pr_section *s, const pr_battery *battery,
                                     size_t post)
{
    pr_system_def *system = &r->scenario->system;
    const double rest_V = pr_section_value(s, "rest_voltage");
    const double given_degC = system->start_battery_degC[post];
    const double T_degC = isnan(given_degC) ? system->ambient_degC : given_degC;
    const double empty_V = pr_battery_rest_V(battery, 0.0, T_degC);
    const pr_place at = pr_section_at(s, "rest_voltage");
    pr_battery_state state;
    if (pr_battery_state_from_rest_V(battery, rest_V, T_degC, &state) == PR_OK) {
        system->start_soc_frac[post] = pr_battery_soc_frac(battery, &state);
    } else if (rest_V < empty_V) {
        char text[300];
        system->start_soc_frac[post] = 0.0;
        snprintf(text, sizeof text,
                 "%s.rest_voltage: %.4g V: flat, 0 %% is used (%.2f V is empty): jump-start and "
                 "charge it before the first pull%s",
                 s->path, rest_V, empty_V,
                 rest_V < DEAD_CELL_V ? "; a cell may be dead, then it needs another battery" : "");
        pr_reader_say_once(r, PR_WARNING, at, text);
    } else {
        pr_reader_error(r, at,
                        "%s.rest_voltage: %.4g V: a rested battery of this kind shows %.2f V empty "
                        "and %.2f V full at %.4g degC: measure some hours after charging, or give "
                        "state_of_charge",
                        s->path, rest_V, empty_V, pr_battery_rest_V(battery, 1.0, T_degC), T_degC);
    }
}

static void derive_battery(pr_reader *r, const char *path, size_t post)
{
    pr_section *s = sound_section(r, path);
    pr_battery battery;
    if (s == NULL)
        return;
    const pr_status label = pr_battery_derive(&r->scenario->system.battery[post], &battery);
    if (label == PR_ERR_NO_SOLUTION || label == PR_ERR_RANGE) {
        pr_blame_battery(r, s, &r->scenario->system.battery[post]);
        s->errors++;
        return;
    }
    if (!derived(r, s, label, "no such battery"))
        return;
    pr_fit_notes_battery(r, s, &r->scenario->system.battery[post]);
    if (pr_section_has(s, "rest_voltage"))
        charge_from_rest_voltage(r, s, &battery, post);
}

static void derive_winch(pr_reader *r)
{
    pr_section *s = sound_section(r, "winch");
    if (s == NULL)
        return;
    pr_motor motor;
    if (derived(r, s, pr_motor_derive(&r->scenario->system.motor, &motor),
                "no motor of this kind has such a sheet"))
        pr_fit_notes_motor(r, s, &motor);
    pr_section *rope = sound_section(r, "winch.rope");
    pr_drum drum;
    if (rope != NULL) {
        const pr_status status = pr_drum_derive(&r->scenario->system.drum, &drum);
        derived(r, rope, status,
                status == PR_ERR_RANGE ? "nothing is left of it beside the reserve wraps"
                                       : "more rope than the drum takes");
    }
}

static void derive_runs_and_loads(pr_reader *r)
{
    pr_system_def *d = &r->scenario->system;
    for (pr_section *s = r->first; s != NULL; s = s->next) {
        if (s->errors > 0)
            continue;
        if (s->schema == &pr_schema_cable) {
            pr_wire wire;
            derived(r, s, pr_wire_derive(&d->run[s->index].def, &wire), "no such cable");
        } else if (s->schema == &pr_schema_fuse) {
            pr_fuse fuse;
            derived(r, s, pr_fuse_derive(&d->run[s->index].fuse, &fuse), "no such fuse");
        } else if (s->schema == &pr_schema_load) {
            pr_load load;
            derived(r, s, pr_load_derive(&d->load[s->index].def, &load), "no such load");
        }
    }
}

static void derive_all(pr_reader *r)
{
    pr_system_def *d = &r->scenario->system;
    derive_battery(r, "battery", PR_POST_MAIN);
    derive_battery(r, "second_battery", PR_POST_SECOND);
    pr_section *alternator = sound_section(r, "alternator");
    pr_alternator made;
    if (alternator != NULL)
        derived(r, alternator, pr_alternator_derive(&d->alternator, &made),
                "no output curve goes through these points");
    pr_section *link_section = sound_section(r, "link");
    pr_link link_made;
    if (link_section != NULL)
        derived(r, link_section, pr_link_derive(&d->link, &link_made), "no such link");
    derive_winch(r);
    derive_runs_and_loads(r);
    pr_section *recovery = sound_section(r, "recovery");
    if (recovery != NULL && d->has_winch) {
        derived(r, recovery, pr_rig_check(&d->rig), "these do not go together");
        if (r->diag->errors == 0 && d->work == PR_WORK_DEMAND)
            derived(r, recovery, pr_demand_check(&d->demand), "no such recovery");
    }
}

void pr_checks_run(pr_reader *r)
{
    check_battery(r, "battery", PR_POST_MAIN);
    check_battery(r, "second_battery", PR_POST_SECOND);
    check_alternator(r);
    check_engine(r);
    check_posts(r);
    check_link(r);
    check_cutoffs(r);
    check_winch(r);
    check_plan(r);
    derive_all(r);
}
