/* What a driver looks up at the winch: the rest that is needed after a pull that was shorter or
 * longer than planned, and what a voltmeter reading means. Tables, computed once; looking up is
 * comparing numbers, so that a page can do it without any physics. Method: fieldtable.c. */
#ifndef PR_PLANNER_FIELDTABLE_H
#define PR_PLANNER_FIELDTABLE_H

#include "planner/plan.h"

#define PR_FIELD_METER_V 0.15 /* error of a meter, as for readings */
enum { PR_FIELD_LENGTHS = 7, PR_FIELD_LEVELS = 3, PR_FIELD_ROWS_MAX = 48, PR_FIELD_BANDS_MAX = 24 };

typedef enum pr_field_verdict { PR_FIELD_PULL, PR_FIELD_WAIT, PR_FIELD_STOP } pr_field_verdict;

/* After a pull. */
typedef struct pr_field_rest {
    pr_field_verdict verdict; /* WAIT: rest_s; STOP: no rest up to the longest one is enough */
    double rest_s;            /* whole seconds; without the time to set out the rope */
    double later_frac;        /* all rests after this one longer than planned by this share */
    pr_limit broke;           /* limit that a pull of this length breaks itself; NONE */
    pr_stop stop; /* TIME, or the machinery that ends such a pull (STALL, FUSE, ENGINE ...) */
} pr_field_rest;

/* One row: before it so many seconds were pulled in all, as planned. Level: how many pulls before
 * it were longer than planned, at most PR_FIELD_LEVELS - 1 counted. */
typedef struct pr_field_row {
    double pulled_s;
    double low_V; /* lowest reading at the fuse box that agrees with the plan in this pull */
    pr_field_rest rest[PR_FIELD_LEVELS][PR_FIELD_LENGTHS];
} pr_field_row;

/* Where and when a meter is read. */
typedef enum pr_field_moment {
    PR_FIELD_OFF,     /* engine off, nothing drawn for hours: battery posts */
    PR_FIELD_PULLING, /* fuse box, as are the next two */
    PR_FIELD_RESTING, /* engine on, some seconds after a pull or later */
    PR_FIELD_RESTED,  /* engine on, the rest is over */
    PR_FIELD_MOMENTS
} pr_field_moment;

typedef enum pr_field_reason {
    PR_FIELD_AS_PLANNED,
    PR_FIELD_CHARGE_FIRST,   /* engine on for wait_s before the first pull */
    PR_FIELD_TOO_EMPTY,      /* no wait up to the longest one is enough */
    PR_FIELD_NO_RESTART,     /* the starter may not turn the engine */
    PR_FIELD_BELOW_LIMIT,    /* under the voltage that stops the engine */
    PR_FIELD_BELOW_PLAN,     /* in a pull: lower than the plan expects */
    PR_FIELD_CHARGES_LITTLE, /* resting: lower than the plan expects */
    PR_FIELD_NOT_CHARGING,   /* resting: what this rig shows with a dead alternator */
    PR_FIELD_OVERCHARGING,   /* above what the regulator sets */
    PR_FIELD_NOT_RESTED,     /* engine off: more than any rested battery shows */
    PR_FIELD_ENGINE_ON,      /* engine off: more than a battery shows by itself at all */
    PR_FIELD_NO_READING,     /* no voltage of such a rig */
    PR_FIELD_REASONS
} pr_field_reason;

/* Readings from from_V up to the next band. */
typedef struct pr_field_band {
    double from_V;
    pr_field_verdict verdict;
    pr_field_reason reason;
    double wait_s;   /* CHARGE_FIRST; else NaN */
    double soc_frac; /* OFF: charge that this reading stands for; else NaN */
} pr_field_band;

/* Ascending from 0 V. For PULLING these hold for the lowest pull of the plan; each row has its own
 * low_V. Empty: the rig has no such reading. */
typedef struct pr_field_bands {
    int n;
    pr_field_band band[PR_FIELD_BANDS_MAX];
} pr_field_bands;

typedef struct pr_field_table {
    double length_s[PR_FIELD_LENGTHS]; /* of pulls, ascending */
    int planned;                       /* index of the length that the plan asks for */
    int n_rows;
    pr_field_row row[PR_FIELD_ROWS_MAX];
    double longest_s; /* longest rest between two pulls of the plan */
    double rerig_s;
    double bus_min_V; /* below it the engine may stop */
    pr_field_bands meter[PR_FIELD_MOMENTS];
    unsigned long simulations;
} pr_field_table;

/* For a plan that goes, made from this scenario (PR_ERR_INPUT for any other). */
pr_status pr_field_table_make(const pr_scenario *scenario, const pr_plan *plan,
                              const pr_limits *limits, pr_field_table *table,
                              pr_progress_fn progress, void *progress_context);

/* Rest after a pull of length_s that began when pulled_s had been pulled in all, `level` pulls
 * before it too long, and earlier entries had asked for rests longer by later_frac (the largest).
 * The next longer entry and the worse of two rows count. */
pr_field_rest pr_field_look(const pr_field_table *table, double pulled_s, int level,
                            double later_frac, double length_s);
/* What a reading means; pulled_s matters in a pull only. A band of verdict STOP for what is no
 * voltage. */
pr_field_band pr_field_read(const pr_field_table *table, pr_field_moment moment, double pulled_s,
                            double V);

/* Bands of the meter (fieldtable_meter.c); job as the plan has it. Internal. */
struct pr_job;
pr_status pr_field_meter_make(const pr_scenario *scenario, struct pr_job *job, const pr_plan *plan,
                              pr_field_table *table);

#endif
