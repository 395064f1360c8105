/* One phase being run: everything run.c, events.c, modes.c and the steppers share. */
#ifndef PR_ENGINE_RUN_H
#define PR_ENGINE_RUN_H

#include "engine/frame.h"
#include "engine/sim.h"

/* Ends of steps lie on multiples of this, so that time is origin + n tick exactly: 2^-20 s. */
#define PR_TICK_S (1.0 / 1048576.0)
/* Events are located within this. */
#define PR_EVENT_S (0.5e-3)

/* Conditions that are watched within a step. Positive margin: not yet. Those before NEED_BUS depend
 * on the state alone. The order is that of precedence when several come true together. */
typedef enum pr_watch_kind {
    PR_WATCH_TARGET, /* travel asked for */
    PR_WATCH_ROPE,   /* all rope wound in */
    PR_WATCH_RESERVE,
    PR_WATCH_MOTOR_HEAT,
    PR_WATCH_CABLE_HEAT,
    PR_WATCH_RESTART,
    PR_WATCH_FUSE,   /* which: index among the fuses */
    PR_WATCH_COLD,   /* which: battery; charging becomes possible or impossible */
    PR_WATCH_CHANGE, /* demand or layer changes here */
    PR_WATCH_NEED_BUS,
    PR_WATCH_STALL = PR_WATCH_NEED_BUS,
    PR_WATCH_CONTACTOR,
    PR_WATCH_VOLTAGE,
    PR_WATCH_GROUP_DROP,  /* which: post; highest drop-out among the grouped loads */
    PR_WATCH_SINGLE_DROP, /* which: place in bus.load[] */
    PR_WATCH_RETURN,      /* which: load */
    PR_WATCH_LINK_RISE,   /* sensed voltage rises above bound */
    PR_WATCH_LINK_FALL,
    PR_WATCH_CUTOFF_RISE, /* which: post */
    PR_WATCH_CUTOFF_FALL,
    PR_WATCH_BMS_CURRENT, /* which: battery */
    PR_WATCH_BMS_LOW,
    PR_WATCH_BMS_HIGH,
    PR_WATCH_BMS_CALM,   /* the reason of a pending opening went away */
    PR_WATCH_BMS_BACK,   /* may be connected again */
    PR_WATCH_FIELD_FULL, /* regulator reaches what the alternator can give */
    PR_WATCH_FIELD_FREE, /* or comes back below it */
    PR_WATCH_FIELD_BLOCKED,
    PR_WATCH_FIELD_OPENS
} pr_watch_kind;

typedef struct pr_watch {
    pr_watch_kind kind;
    int which;
    double bound;
} pr_watch;

enum { PR_WATCHES_MAX = 192, PR_TEXTS_MAX = 16, PR_TEXT_SIZE = 112 };

struct pr_reference; /* step_reference.c */

typedef struct pr_run {
    const pr_system *system;
    pr_sim *sim;
    const pr_phase *phase;
    const pr_limits *limits;
    const pr_observer *observer;
    pr_run_options options;
    pr_phase_end *end;
    bool with_restart;           /* restart voltage is wanted at every step */
    pr_battery_state restart_at; /* asked for several times at one state: the last answer */
    double restart_V;

    double tau_s, end_s; /* now, and the end of the phase */
    double guess_s;      /* next step to try; 0: none yet */
    bool has_learned;    /* from the first long step of the phase */
    pr_frame frame;
    pr_instant *now;        /* at tau_s */
    pr_instant *next;       /* at the end of the step that was tried */
    pr_frame frame_before;  /* just before an event, while that is being settled */
    pr_instant *before;     /* the same; NULL: no event */
    pr_instant instants[2]; /* that these point to */
    int n_watches;
    pr_watch watch[PR_WATCHES_MAX];
    double margin[PR_WATCHES_MAX];      /* at tau_s */
    double next_margin[PR_WATCHES_MAX]; /* at the end of the step that was tried */

    /* the step that is tried: from y0 = sim->y at tau_s over h_s to y1 */
    double h_s;
    const struct pr_pair *pair;            /* that it was tried with */
    double rate[7][PR_STATE_MAX];          /* its stages; rate[0] at tau_s */
    double branch_drive_V_per_s[PR_POSTS]; /* of v1 at tau_s: see step.c */
    double branch_K_per_V2[PR_POSTS];      /* temperature that v1 squared stands for there */
    double branch_left_frac[PR_POSTS][7];  /* share of v1 that is left at each stage */
    double scale[PR_STATE_MAX];            /* of local errors */
    double y1[PR_STATE_MAX];
    pr_instant early; /* three tenths into it, or half way, roughly: a stage */
    bool has_early;
    bool rates_hold;                /* the last stage's rates are those at tau_s */
    struct pr_reference *reference; /* NULL: embedded */

    bool stopped;
    int n_texts;
    char text[PR_TEXTS_MAX][PR_TEXT_SIZE]; /* events at tau_s not yet reported */
} pr_run;

/* Fills in what a run starts from; the large arrays are left as they are. */
void pr_run_begin(pr_run *run, const pr_system *system, pr_sim *sim, const pr_phase *phase,
                  const pr_limits *limits, const pr_run_options *options,
                  const pr_observer *observer, pr_phase_end *end);

/* What was next is now, and the other way round. */
static inline void pr_run_turn(pr_run *run)
{
    pr_instant *was = run->now;
    run->now = run->next;
    run->next = was;
}

/* Rates at the start of the next step. */
void pr_step_begin(pr_run *run);
/* Tries a step of h_s; *error is the local error over what is allowed (> 1: reject). A failure of
 * the bus inside the step is a status, and the step may be tried again shorter. */
pr_status pr_step_try(pr_run *run, double h_s, double *error);
/* Entries first..end at least of the state at a time within the step that was tried. */
pr_status pr_step_at(const pr_run *run, double since_s, int first, int end, double y[]);
void pr_step_scales(pr_run *run);
double pr_step_longest_s(const pr_run *run); /* that can be tried */
double pr_step_change(double error);         /* factor for the next step */
/* Was the step taken by the pair for short ones? It says nothing about longer ones. */
bool pr_step_is_short(const pr_run *run);

pr_status pr_reference_open(pr_run *run);
void pr_reference_close(pr_run *run);
pr_status pr_reference_try(pr_run *run, double h_s, double *error);
pr_status pr_reference_at(const pr_run *run, double since_s, double y[]);

/* Watches of the present frame, and the margin of one at a state. */
void pr_watches_build(pr_run *run);
double pr_watch_margin(pr_run *run, const pr_watch *watch, const double y[], const pr_instant *at);
/* Looks for a watch that comes true in the step; *found false: none. [*low_s, *high_s] brackets the
 * first one within PR_EVENT_S: still false at low, true at high. *limit: that limit, if it is one.
 */
pr_status pr_events_locate(pr_run *run, bool *found, pr_limit *limit, double *low_s,
                           double *high_s);
pr_field pr_watch_field(pr_watch_kind kind); /* regime that a FIELD watch leads to */
pr_limit pr_watch_limit(pr_watch_kind kind); /* NONE: not a limit */

/* Modes at the start of a phase. */
void pr_modes_begin(pr_run *run);
/* Whatever follows at once at the present instant: applies what has come true, rebuilds and solves
 * the frame, again until nothing changes. frame_holds: frame and `now` are those of this instant,
 * and nothing is due by time; an event that only moves the regulator then costs one solution. */
pr_status pr_modes_settle(pr_run *run, bool frame_holds);
/* Time of the next change that is known in advance (tau), or infinity. */
double pr_modes_next_s(const pr_run *run);

void pr_run_stop(pr_run *run, pr_stop stop, pr_limit limit, int which);
void pr_run_note(pr_run *run, const char *format, ...) __attribute__((format(printf, 2, 3)));

void pr_outputs_fill(const pr_frame *frame, const pr_sim *sim, const double y[],
                     const pr_instant *at, bool with_restart, pr_outputs *outputs);
double pr_restart_V(const pr_system *system, const double y[]);
double pr_run_restart_V(pr_run *run, const double y[]); /* the same, remembered */
double pr_box_least_V(const pr_system *system, const double box_V[PR_POSTS]);
double pr_wire_margin_K(const pr_system *system, const double wire_degC[], double margin_K);

#endif
