/* What a voltmeter should show on this very rig, healthy and with each common fault; which readings
 * tell faults apart; and which fault fits what was measured. Method: readings.c. */
#ifndef PR_PLANNER_READINGS_H
#define PR_PLANNER_READINGS_H

#include "planner/scenario.h"

typedef enum pr_reading {
    PR_READING_OFF_RESTED,
    PR_READING_CRANKING,
    PR_READING_IDLE_LOADS_OFF,
    PR_READING_FAST_IDLE_LOADS_OFF,
    PR_READING_IDLE_ALL_ON,
    PR_READING_FAST_IDLE_ALL_ON,
    PR_READING_ALL_ON_BATTERY,    /* fast idle, all on, at the battery's posts */
    PR_READING_ALL_ON_ALTERNATOR, /* the same, at the alternator's stud */
    PR_READING_IN_PULL,
    PR_READING_IN_PULL_WINCH, /* at the winch motor */
    PR_READING_AFTER_PULL,
    PR_READING_COUNT
} pr_reading;

typedef enum pr_rig_fault {
    PR_FAULT_NONE,
    PR_FAULT_BELT_SLIPS,
    PR_FAULT_ALTERNATOR_DEAD,
    PR_FAULT_DIODE_LOST,
    PR_FAULT_REGULATOR_HIGH,
    PR_FAULT_REGULATOR_LOW,
    PR_FAULT_JOINT_ALTERNATOR,
    PR_FAULT_JOINT_BOX,
    PR_FAULT_JOINT_WINCH,
    PR_FAULT_JOINT_LINK,
    PR_FAULT_WEAK_BATTERY,
    PR_FAULT_HALF_CHARGED,
    PR_FAULT_COUNT
} pr_rig_fault;

/* What may differ from what the file says without being a fault. */
typedef enum pr_spread_of_rig {
    PR_VARY_SET_V,
    PR_VARY_CHARGE,
    PR_VARY_LOADS,
    PR_VARY_TEMPERATURE,
    PR_VARY_COUNT
} pr_spread_of_rig;

typedef struct pr_reading_band {
    double V;                     /* expected; NaN: cannot be read on this rig */
    double low_V, high_V;         /* where about 19 of 20 such rigs lie, error of the meter in it */
    double vary_V[PR_VARY_COUNT]; /* change for one tolerance of each, the larger of both ways */
    double up_V[PR_VARY_COUNT], down_V[PR_VARY_COUNT]; /* most that each raises, lowers it; >= 0 */
} pr_reading_band;

typedef struct pr_fault_readings {
    bool possible; /* this rig can have it */
    pr_reading_band at[PR_READING_COUNT];
} pr_fault_readings;

/* The two readings that tell a pair of faults apart best. */
typedef struct pr_fault_pair {
    pr_rig_fault a, b;
    pr_reading first, second; /* PR_READING_COUNT: there is none */
    double first_V, second_V; /* how far apart the two faults are there */
    bool told_apart;          /* by more than meter and tolerances blur */
} pr_fault_pair;

enum { PR_FAULT_PAIRS_MAX = PR_FAULT_COUNT * (PR_FAULT_COUNT - 1) / 2 };

typedef struct pr_readings {
    double after_pull_s, pull_s;
    pr_fault_readings fault[PR_FAULT_COUNT];
    size_t n_pairs;
    pr_fault_pair pair[PR_FAULT_PAIRS_MAX];
} pr_readings;

typedef struct pr_measured {
    bool given[PR_READING_COUNT];
    double V[PR_READING_COUNT];
} pr_measured;

typedef struct pr_fit {
    pr_rig_fault fault;
    double chi2;     /* generalised least squares, tolerances allowed for */
    double worst_V;  /* largest difference that the tolerances do not explain */
    bool fits;       /* no worse than one in twenty such rigs would be */
    bool as_good;    /* cannot be told from the best one by what was measured */
    pr_reading next; /* what to measure to tell it from the best one; COUNT: nothing would */
} pr_fit;

typedef struct pr_ranking {
    size_t n, n_measured;
    pr_fit fit[PR_FAULT_COUNT]; /* best first */
    size_t n_as_good;           /* of the first ones, the best included */
} pr_ranking;

/* Keys: "idle_all_on"; words: "idling, everything on, at the fuse box". */
const char *pr_reading_key(pr_reading reading);
const char *pr_reading_words(pr_reading reading);
const char *pr_fault_key(pr_rig_fault fault);
const char *pr_fault_words(pr_rig_fault fault);

/* Simulates every reading for every fault and every tolerance. after_pull_s: 1..600. */
pr_status pr_readings_make(const pr_scenario *scenario, double after_pull_s, pr_readings *readings,
                           pr_diag *diag);
/* Ranks the faults by how well they explain what was measured; at least one reading, of those that
 * the rig can give (PR_ERR_INPUT). */
pr_status pr_readings_rank(const pr_readings *readings, const pr_measured *measured,
                           pr_ranking *ranking);

#endif
