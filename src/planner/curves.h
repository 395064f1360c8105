/* How one component behaves, or one choice of the plan, as tables for a picture: SI units, nothing
 * of how it is drawn. The names of tables and numbers are those that the scripts in plots/ use;
 * each script's head says what the columns are. */
#ifndef PR_PLANNER_CURVES_H
#define PR_PLANNER_CURVES_H

#include "planner/plan.h"

enum { PR_CURVES_TABLES = 4, PR_CURVES_NUMBERS = 24, PR_CURVES_COLUMNS = 12 };

typedef struct pr_curve_table {
    const char *name; /* a literal */
    size_t n_columns, n_rows, capacity;
    double *values; /* owned, row-major; NaN: nothing there */
} pr_curve_table;

typedef struct pr_curve_number {
    const char *name; /* a literal */
    double value;
} pr_curve_number;

typedef struct pr_curves {
    const char *script; /* "battery": plots/battery.gp */
    char title[PR_TEXT_MAX], note[2 * PR_TEXT_MAX];
    size_t n_tables, n_numbers;
    pr_curve_table table[PR_CURVES_TABLES];
    pr_curve_number number[PR_CURVES_NUMBERS];
    pr_status status; /* PR_ERR_NOMEM when a row was lost */
} pr_curves;

pr_curves pr_curves_init(const char *script, const char *title);
void pr_curves_free(pr_curves *curves);
/* Starts a table; rows go to the one that was started last. */
void pr_curves_begin(pr_curves *curves, const char *name, size_t n_columns);
void pr_curves_row(pr_curves *curves, const double row[]);
void pr_curves_number_add(pr_curves *curves, const char *name, double value);

typedef enum pr_curve_kind {
    PR_CURVE_BATTERY,    /* runtime beside Peukert's line, voltage in pulls, current taken back */
    PR_CURVE_ALTERNATOR, /* amps cold and hot with the loads, set voltage, shaft power */
    PR_CURVE_WINCH,      /* amps and rope speed at several voltages */
    PR_CURVE_HEAT,       /* of the winch motor: in pulls and rests, time allowed */
    PR_CURVE_GROUND,     /* force against slope, by surface and depth */
    PR_CURVE_RIGGING,    /* force in the line by parts, beside what the drum's layers give */
    PR_CURVE_CRANKING,   /* cranking amps and the charge to keep, against temperature */
    PR_CURVE_CABLE,      /* of the winch: temperature in a pull, drop by length */
    PR_CURVE_FUSE,       /* seconds to open; of the winch cable's fuse */
    PR_CURVE_LOAD,       /* amps against voltage; of the first load */
    PR_CURVE_LINK,       /* between batteries: amps against volts, when it is closed */
    PR_CURVE_KINDS
} pr_curve_kind;

/* What one component of a scenario does by itself. PR_ERR_INPUT: the scenario has none. */
pr_status pr_curves_make(const pr_scenario *scenario, pr_curve_kind kind, pr_curves *curves);

/* Rest that a pull of another length needs, and the total time, at several engine speeds in the
 * rest; `chosen` is marked. Every other choice is that of the chosen plan. */
pr_status pr_curves_rests(const pr_scenario *scenario, const pr_plan *chosen, pr_curves *curves,
                          pr_progress_fn progress, void *progress_context);

/* Of pr_curves_make, by component. */
pr_status pr_curves_battery(const pr_scenario *scenario, const pr_system *system, pr_curves *out);
pr_status pr_curves_alternator(const pr_scenario *scenario, const pr_system *system,
                               pr_curves *out);
pr_status pr_curves_winch(const pr_scenario *scenario, const pr_system *system, pr_curves *out);
pr_status pr_curves_heat(const pr_scenario *scenario, const pr_system *system, pr_curves *out);
pr_status pr_curves_ground(const pr_scenario *scenario, const pr_system *system, pr_curves *out);
pr_status pr_curves_rigging(const pr_scenario *scenario, const pr_system *system, pr_curves *out);
pr_status pr_curves_cranking(const pr_scenario *scenario, const pr_system *system, pr_curves *out);
pr_status pr_curves_cable(const pr_scenario *scenario, const pr_system *system, pr_curves *out);
pr_status pr_curves_fuse(const pr_scenario *scenario, const pr_system *system, pr_curves *out);
pr_status pr_curves_load(const pr_scenario *scenario, const pr_system *system, pr_curves *out);
pr_status pr_curves_link(const pr_scenario *scenario, const pr_system *system, pr_curves *out);

#endif
