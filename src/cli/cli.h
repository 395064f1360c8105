/* The command line: one table of commands, one table of options per command, common helpers.
 *
 * To add a command: write cmd_<name>.c with its option table, its pr_command and its run function,
 * declare the pr_command below and add it to the table in main.c and to meson.build. --help, --json
 * and the other common options, strict parsing and the exit status of bad usage come for free. */
#ifndef PR_CLI_CLI_H
#define PR_CLI_CLI_H

#include "base/diag.h"
#include "planner/plan.h"
#include "report/style.h"

/* Exit status of every command. */
enum {
    PR_EXIT_DONE = 0,
    PR_EXIT_NO = 1,    /* it works, and the answer is no */
    PR_EXIT_USAGE = 2, /* bad usage or input */
    PR_EXIT_FAILED = 3 /* a failure of ours, of the disk, of memory; or stopped on request */
};

typedef struct pr_option {
    const char *name;     /* long option without its dashes; NULL ends a table */
    char letter;          /* short option; 0 none */
    const char *argument; /* "FILE"; NULL: takes none */
    const char *help;     /* for --help and the man page; a sentence part without full stop */
    bool repeats;         /* may be given more than once */
} pr_option;

/* Common options that only some commands take. */
enum { PR_TAKES_CSV = 1, PR_TAKES_PLOT = 2 };

struct pr_cli;
typedef struct pr_command {
    const char *name;
    const char *arguments;                /* "FILE", "FILE...", "[NAME]" */
    int least, most;                      /* how many arguments; most < 0: any number */
    const char *question;                 /* what it answers, one line */
    const char *text;                     /* more, for --help */
    unsigned takes;                       /* PR_TAKES_... */
    const pr_option *options;             /* its own */
    int (*run)(const struct pr_cli *cli); /* returns an exit status */
} pr_command;

enum { PR_OPTIONS_MAX = 32, PR_GIVEN_MAX = 64 };
typedef struct pr_given {
    const pr_option *option;
    const char *value; /* "" for an option without argument */
} pr_given;

/* One call, parsed. */
typedef struct pr_cli {
    const pr_command *command;
    int n_arguments;
    char **arguments;
    size_t n_given;
    pr_given given[PR_GIVEN_MAX];
    pr_style style;
    bool json, quiet;
    const char *output; /* NULL: standard output */
} pr_cli;

extern const pr_command pr_command_check, pr_command_models, pr_command_page, pr_command_plan,
    pr_command_risk, pr_command_run;
extern const pr_command pr_command_budget, pr_command_compare, pr_command_readings;

/* Value of an option; NULL when not given. The k-th of one that repeats. */
const char *pr_cli_value(const pr_cli *cli, const char *name);
const char *pr_cli_value_at(const pr_cli *cli, const char *name, size_t k);
/* Number of an option, or *value unchanged when not given; false (and said) when it is no number or
 * outside its range. */
bool pr_cli_number(const pr_cli *cli, const char *name, double least, double most, double *value);

/* Says something on standard error, with the name of the program and the command in front. */
void pr_cli_complain(const pr_cli *cli, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Exit status for a failed status: 2 when the diagnosis holds an error, else 3. */
int pr_cli_failed(const pr_cli *cli, pr_status status, const pr_diag *diag);
/* Prints what the diagnosis holds: errors and warnings always, notes unless --quiet. */
void pr_cli_print_diag(const pr_cli *cli, const pr_diag *diag);

/* Writes the report to --output or to standard output; PR_EXIT_DONE or PR_EXIT_FAILED (said). */
typedef pr_status (*pr_writer_fn)(const void *what, const pr_cli *cli, FILE *out);
int pr_cli_write(const pr_cli *cli, pr_writer_fn write, const void *what);
/* The same into a named file. */
int pr_cli_write_file(const pr_cli *cli, const char *path, pr_writer_fn write, const void *what);

/* Reads a scenario. PR_EXIT_DONE, or the exit status to end with after its mistakes were printed;
 * mere warnings stay in diag, for the caller to print once with what comes later. */
int pr_cli_read_scenario(const pr_cli *cli, const char *path, pr_scenario *scenario, pr_diag *diag);

/* Progress on standard error, after half a second, when that is a terminal; also tells when the
 * user pressed Ctrl-C. The context is a pr_progress. */
typedef struct pr_progress {
    const pr_cli *cli;
    const char *what;
    double start_s, shown_s;
    bool on, shown;
} pr_progress;
pr_progress pr_progress_start(const pr_cli *cli, const char *what);
int pr_progress_update(void *progress, double done_frac);
void pr_progress_end(pr_progress *progress);

#endif
