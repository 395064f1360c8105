/* pullrest: how long to pull and how long to rest when a vehicle winches itself out.
 *
 * The only installed header. One noun, the recovery: it reads a scenario file, tells what is wrong
 * with it, plans, and simulates a schedule. Everything is in SI units (unit suffix in every name);
 * shares (`_frac`) run from 0 to 1. What comes out is an estimate, not a rating.
 *
 *     pr_recovery *r = pr_recovery_read("ford.yaml", NULL);
 *     if (pr_recovery_plan_all(r, NULL, NULL) <= PR_RECOVERY_NO) { ... pr_recovery_get_plan ... }
 *     pr_recovery_free(r);
 *
 * No function prints, exits or keeps global state. A recovery may be used by one thread at a time,
 * different ones by different threads. Numbers use '.' whatever the locale. */
#ifndef PULLREST_H
#define PULLREST_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

#define PULLREST_VERSION_MAJOR 0
#define PULLREST_VERSION_MINOR 1

#if defined(__GNUC__)
#define PULLREST_API __attribute__((visibility("default")))
#else
#define PULLREST_API
#endif

/* The same numbers as the exit statuses of the program. */
typedef enum pr_recovery_code {
    PR_RECOVERY_DONE = 0,
    PR_RECOVERY_NO = 1,    /* it works, and the answer is no */
    PR_RECOVERY_INPUT = 2, /* the file, or an argument, has mistakes: see the messages */
    PR_RECOVERY_FAILED = 3 /* out of memory, a solver failed, or stopped on request */
} pr_recovery_code;

/* The three answers to 'how long must I rest'. */
typedef enum pr_recovery_way {
    PR_RECOVERY_EVEN = 0,      /* the same rest after every pull, the smallest that works */
    PR_RECOVERY_AS_NEEDED = 1, /* before each pull the smallest rest that it needs */
    PR_RECOVERY_SHORTEST = 2   /* pull length, engine speed and parts of line for least time */
} pr_recovery_way;

typedef struct pr_recovery pr_recovery; /* opaque */

/* A mistake, warning or note. The texts live as long as the recovery. */
typedef struct pr_recovery_message {
    int severity;        /* 0 note, 1 warning, 2 error */
    const char *file;    /* NULL: of no file */
    size_t line, column; /* from 1; 0 unknown */
    const char *text;
} pr_recovery_message;

typedef struct pr_recovery_plan {
    int go;                      /* 1: it gets out within all limits */
    double first_rest_s;         /* charging before the first pull, 0 none */
    double pull_s;               /* length of a pull, 1..600 */
    double rest_s;               /* even: of every rest; else the longest */
    double pull_rpm, rest_rpm;   /* engine speed */
    int parts;                   /* parts of line, 1..4 */
    size_t n_pulls;              /* for pr_recovery_get_pull */
    double total_s;              /* first pull to last */
    double travel_m, distance_m; /* how far it got, of what was wanted; NaN: no distance asked */
    const char *binds;           /* what makes it as long as it is: "battery reserve", "voltage",
                                    "motor heat", "cable heat", "restart"; "" nothing */
    const char *ended_by;        /* no-go: what ended it; "" when go */
    double reserve_frac;         /* charge that is never undercut, from the first pull on */
    double least_charge_frac;    /* from the first pull on, as all that follow but least_box_V */
    double least_box_V;          /* at the fuse box */
    double most_motor_degC;
    double least_restart_V; /* what the starter would get at the worst moment; NaN: not
                               watched */
    double most_anchor_N;
} pr_recovery_plan;

typedef struct pr_recovery_pull {
    double start_s, pull_s; /* since the beginning; shorter when it ended at the goal */
    double rest_s;          /* after this pull, 0 after the last */
    double travel_m;        /* at its end; NaN: no distance asked */
    double charge_after_pull_frac, charge_after_rest_frac;
    double least_box_V, most_motor_degC;
    const char *binds; /* what makes this rest as long as it is; "" nothing */
} pr_recovery_pull;

/* One instant of a simulated schedule. */
typedef struct pr_recovery_sample {
    double time_s, engine_rpm;
    double box_V;     /* what a voltmeter at the fuse box reads */
    double battery_A; /* of the first battery, positive when charging */
    double alternator_A, winch_A, loads_A;
    double charge_frac; /* of the first battery */
    double motor_degC;
    double travel_m, pull_N; /* way so far; pull on the load's line */
    const char *event;       /* "" mostly; valid during the call */
} pr_recovery_sample;

/* Called with each sample; return non-zero to stop (PR_RECOVERY_FAILED). */
typedef int (*pr_recovery_sample_fn)(void *context, const pr_recovery_sample *sample);
/* Called now and then with the share done, 0..1; return non-zero to stop. */
typedef int (*pr_recovery_progress_fn)(void *context, double done_frac);

/* "0.1.0". */
PULLREST_API const char *pr_recovery_version(void);

/* Reads a scenario file (UTF-8 path). `models_folder` is the catalogue; NULL: $PULLREST_MODELS,
 * else found beside the running program, else where the library was installed. NULL only when out
 * of memory: a file with mistakes gives a recovery whose pr_recovery_status is not PR_RECOVERY_DONE
 * and whose messages tell all of them. */
PULLREST_API pr_recovery *pr_recovery_read(const char *path, const char *models_folder);
/* The same from `size` bytes of memory; `name` stands for the file in messages. */
PULLREST_API pr_recovery *pr_recovery_read_text(const char *name, const char *text, size_t size,
                                                const char *models_folder);
PULLREST_API void pr_recovery_free(pr_recovery *recovery); /* NULL is allowed */

/* DONE, INPUT (mistakes in the file) or FAILED. */
PULLREST_API pr_recovery_code pr_recovery_status(const pr_recovery *recovery);
PULLREST_API size_t pr_recovery_message_count(const pr_recovery *recovery);
/* INPUT when index >= count. */
PULLREST_API pr_recovery_code pr_recovery_get_message(const pr_recovery *recovery, size_t index,
                                                      pr_recovery_message *message);
PULLREST_API const char *pr_recovery_title(const pr_recovery *recovery);

/* Makes all three plans. DONE: the even plan is a go; NO: it is not. `progress` may be NULL. What
 * the even plan warns of comes to the messages: show them, they are about what can still end the
 * day. */
PULLREST_API pr_recovery_code pr_recovery_plan_all(pr_recovery *recovery,
                                                   pr_recovery_progress_fn progress, void *context);
/* DONE; INPUT before pr_recovery_plan_all succeeded or for a way that does not exist; FAILED when
 * the search for this way failed. */
PULLREST_API pr_recovery_code pr_recovery_get_plan(const pr_recovery *recovery, pr_recovery_way way,
                                                   pr_recovery_plan *plan);
/* INPUT also when index >= n_pulls. */
PULLREST_API pr_recovery_code pr_recovery_get_pull(const pr_recovery *recovery, pr_recovery_way way,
                                                   size_t index, pr_recovery_pull *pull);

/* Simulates the `schedule:` of the file and gives a sample every `interval_s` (> 0) seconds and at
 * every event. INPUT when the file has none. */
PULLREST_API pr_recovery_code pr_recovery_run_schedule(pr_recovery *recovery, double interval_s,
                                                       pr_recovery_sample_fn sample, void *context);

#ifdef __cplusplus
}
#endif
#endif
