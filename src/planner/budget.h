/* Does the charging system carry what is switched on? Loads against the alternator in each
 * situation, cables, fuses, and how far one gets when the alternator is dead. Method: budget.c. */
#ifndef PR_PLANNER_BUDGET_H
#define PR_PLANNER_BUDGET_H

#include "planner/scenario.h"

/* Engine speeds at which every situation is looked at, beside its own. */
typedef enum pr_budget_speed {
    PR_BUDGET_IDLE,
    PR_BUDGET_FAST_IDLE,
    PR_BUDGET_CRUISE, /* the highest speed that the file allows */
    PR_BUDGET_SPEEDS
} pr_budget_speed;
enum { PR_BUDGET_COLD, PR_BUDGET_HOT, PR_BUDGET_HEATS, PR_BUDGET_CURVE = 60 };

/* A steady state: everything of the situation on at once. */
typedef struct pr_budget_point {
    double engine_rpm, winding_degC;
    double load_A;           /* all loads that are on */
    double available_A;      /* alternator at full field, at this voltage and winding */
    double margin_A;         /* available - load; charging the battery is not counted */
    double average_margin_A; /* the same with loads that cycle at their average */
    double alternator_A;     /* what it gives */
    double battery_A;        /* into all batteries; negative: they help */
    double box_V, post_V, set_V;
    bool limited; /* at full output */
} pr_budget_point;

typedef struct pr_budget_situation {
    char name[PR_NAME_MAX];
    double ambient_degC;
    bool hot;
    bool load_on[PR_LOADS_MAX];
    pr_budget_point own; /* at its own speed, cold or hot as it says */
    pr_budget_point at[PR_BUDGET_SPEEDS][PR_BUDGET_HEATS];
    double balance_rpm; /* least engine speed that carries it, hot; NaN: none up to the highest */
    double soc_per_hour_frac; /* change of the starter battery's charge in the first hour; NaN when
                                 the engine stops within it */
    double full_output_frac;  /* share of the first hour at more than 90 % of full output */
    double runs_s;            /* until the engine stops; infinite: not within a day */
    double stop_V;            /* fuse box when it does; NaN: it does not */
    double no_restart_s; /* from then on it would not crank again; infinite: not within a day */
} pr_budget_situation;

typedef struct pr_budget_load {
    char name[PR_NAME_MAX];
    double amps_A, average_A; /* at charging voltage */
    double watts_W;
    bool stops_engine, essential;
} pr_budget_load;

typedef struct pr_budget_cable {
    int run; /* pr_run_role */
    char name[PR_NAME_MAX];
    char gauge[24];
    double length_m;
    double amps_A;   /* the most that a situation, the alternator or the winch sends through it */
    double steady_A; /* of these, for longer than a pull; 0 for the winch */
    bool pulls_only; /* short pulls: heat after one, not steady */
    double drop_V, drop_frac, allowed_frac; /* of 12 V */
    double degC, insulation_degC, ampacity_A;
    bool melts;     /* the copper would; degC ends there, drop_V at 12 V */
    double melts_s; /* after so long in a pull; 0: in time, without one; NaN: it does not */
    bool drop_ok, heat_ok;
    char recommended[24]; /* "" when it is right as it is or none is thick enough */
    bool none_fits;
} pr_budget_cable;

typedef enum pr_fusing {
    PR_FUSING_NONE,      /* there is no fuse */
    PR_FUSING_TOO_SMALL, /* below the load: opens in use */
    PR_FUSING_TIGHT,     /* load above 80 % of it: may open in time */
    PR_FUSING_RIGHT,
    PR_FUSING_PULLS_ONLY, /* holds a pull and opens on a short; no guard against a long overload */
    PR_FUSING_LARGER,     /* the same, where a smaller usual size does that too and guards more */
    PR_FUSING_TOO_BIG,    /* above what its cable carries */
    PR_FUSING_COUNT
} pr_fusing;

typedef struct pr_budget_fuse {
    int run;
    char name[PR_NAME_MAX];
    double rating_A; /* NaN: none */
    double load_A, ampacity_A;
    pr_fusing verdict;
    double recommended_A; /* NaN: none fits between load and cable */
} pr_budget_fuse;

typedef struct pr_budget_alternator {
    double rated_A;     /* as fitted; NaN: none */
    double most_load_A; /* of any situation, at charging voltage */
    int most_situation;
    double by_load_A;     /* most load and a quarter more */
    double by_idle_A;     /* least usual size that carries every situation hot at idle; NaN: none */
    int idle_situation;   /* the one that asks for it */
    double recommended_A; /* least usual size that does both; NaN: raise the idle */
    double idle_rpm_needed; /* with the present one: least speed that carries all, hot; NaN: none */
    bool enough;            /* every situation carried on the average at its own speed */
} pr_budget_alternator;

typedef struct pr_budget {
    double charging_V;
    double stops_at_V;  /* fuse box voltage at which the engine is taken to stop */
    bool stops_by_load; /* a load says so; else our 10.5 V */
    int n_loads;
    pr_budget_load load[PR_LOADS_MAX];
    int n_situations;
    pr_budget_situation situation[PR_SITUATIONS_MAX];
    pr_budget_alternator alternator;
    /* what the alternator gives over engine speed with the loads and air of most_situation */
    int n_curve; /* 0: no alternator */
    double curve_rpm[PR_BUDGET_CURVE], curve_A[PR_BUDGET_CURVE][PR_BUDGET_HEATS];
    int n_cables;
    pr_budget_cable cable[PR_RUNS_MAX];
    int n_fuses;
    pr_budget_fuse fuse[PR_RUNS_MAX];
    double limp_s;        /* alternator dead, essential loads only, until the engine stops */
    double limp_load_A;   /* at the start of it */
    double limp_soc_frac; /* charge left then; NaN: it does not stop in four days */
} pr_budget;

/* Smallest margin and shortest time matter most to the caller; nothing is rounded here. */
pr_status pr_budget_make(const pr_scenario *scenario, pr_budget *budget, pr_diag *diag);
const char *pr_fusing_key(pr_fusing fusing);
/* Sizes that alternators usually come in, from the least, i = 0; NaN beyond the largest. Common
 * practice, no source. */
double pr_usual_alternator_A(int i);

/* What the link between two batteries carries in a pull and the rest after it, or where nothing
 * pulls while one fills the other (budget_link.c). */
typedef struct pr_budget_link {
    double most_A;   /* at any instant; 0: no link */
    double steady_A; /* still, after ten minutes of rest; most_A where nothing pulls */
} pr_budget_link;
pr_status pr_budget_link_find(const pr_system *system, pr_budget_link *link);

/* Cables and fuses (budget_wires.c), once the situations are known; `system` as derived. */
pr_status pr_budget_wires(const pr_system *system, const double most_run_A[PR_RUNS_MAX],
                          pr_budget *budget);

#endif
