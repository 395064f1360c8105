/* risk FILE: uncertain inputs; chance that the plan holds, the rest that does, what matters. */
#include "cli/plot_output.h"

#include "base/clock.h"
#include "reader/reader.h"
#include "report/risk_report.h"

#include <errno.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static int run(const pr_cli *cli);

static const pr_option options[] = {
    {"samples", 'n', "N", "recoveries that the chance is counted from, 16 to 100000 (2000)", false},
    {"seed", 's', "N", "another seed draws other recoveries (1)", false},
    {"threads", 't', "N", "threads, 1 to 64 (one per processor); changes no result", false},
    {"points", 0, "sobol|plain", "even (sobol, default) or plain random points", false},
    {"hold", 'H', "PERCENT", "find the rest that holds with this chance; 'no' when there is none",
     false},
    {NULL, 0, NULL, NULL, false}};

const pr_command pr_command_risk = {
    .name = "risk",
    .arguments = "FILE",
    .least = 1,
    .most = 1,
    .question = "How sure is the plan, what decides it, and which rest is safer?",
    .text = "Replays the plan with every number that has a spread drawn from it: how often which "
            "limit breaks, which rest would have been needed, which input matters, and the rest "
            "that holds in 90 and 95 of 100 recoveries. Ctrl-C ends it and prints what is known so "
            "far; the exit status is then 3.",
    .takes = PR_TAKES_PLOT,
    .options = options,
    .run = run,
};

typedef struct study {
    pr_scenario scenario;
    pr_risk risk;
    pr_risk_options options;
    pr_diag diag;
    pr_units units;
} study;

/* Progress with the time left: on a terminal in place, else as a line now and then. */
typedef struct teller {
    pr_progress interrupt; /* says nothing itself; knows of Ctrl-C */
    bool on, terminal, shown;
    double start_s, shown_s;
} teller;

static int tell(void *context, double done_frac)
{
    static const double QUIET_s = 0.5, IN_PLACE_s = 0.2, LINES_s = 5.0;
    teller *t = context;
    const int stop = pr_progress_update(&t->interrupt, done_frac);
    const double now = pr_clock_now_s(), spent_s = now - t->start_s;
    const double since_s = now - t->shown_s;
    if (!t->on || spent_s < QUIET_s || since_s < (t->terminal ? IN_PLACE_s : LINES_s) ||
        !(done_frac > 0.0))
        return stop;
    fprintf(stderr, "%srisk: %.0f %%, about %s left%s", t->terminal ? "\r" : "", 100.0 * done_frac,
            pr_text_duration(ceil(spent_s * (1.0 - done_frac) / done_frac)).s,
            t->terminal ? "   " : "\n");
    fflush(stderr);
    t->shown = true;
    t->shown_s = now;
    return stop;
}

static bool read_count(const pr_cli *cli, const char *name, double least, double most,
                       double *value)
{
    if (!pr_cli_number(cli, name, least, most, value))
        return false;
    if (*value == floor(*value))
        return true;
    pr_cli_complain(cli, "--%s must be a whole number", name);
    return false;
}

static bool read_options(const pr_cli *cli, pr_risk_options *o)
{
    double samples = (double)o->samples, seed = (double)o->seed, threads = 0.0,
           hold = 100.0 * o->hold_frac[0];
    if (!read_count(cli, "samples", 16, PR_RISK_SAMPLES_MAX, &samples) ||
        !read_count(cli, "seed", 0, 4294967295.0, &seed) ||
        !pr_cli_number(cli, "hold", 1, 99.9, &hold))
        return false;
    if (pr_cli_value(cli, "threads") != NULL &&
        !read_count(cli, "threads", 1, PR_RISK_THREADS_MAX, &threads))
        return false;
    const char *points = pr_cli_value(cli, "points");
    if (points != NULL && strcmp(points, "plain") == 0) {
        o->sampling = PR_SAMPLING_PLAIN;
    } else if (points != NULL && strcmp(points, "sobol") != 0) {
        pr_cli_complain(cli, "--points must be sobol or plain, not '%s'", points);
        return false;
    }
    o->samples = (size_t)samples;
    o->seed = (unsigned long)seed;
    o->threads = (int)threads;
    o->hold_frac[0] = hold / 100.0;
    if (fabs(hold - 95.0) < 0.01)
        o->hold_frac[1] = 0.90;
    return true;
}

static pr_status write_text(const void *what, const pr_cli *cli, FILE *out)
{
    const study *s = what;
    return pr_risk_write_text(&s->scenario, &s->risk, &s->options, &cli->style, out);
}

static pr_status write_json(const void *what, const pr_cli *cli, FILE *out)
{
    (void)cli;
    const study *s = what;
    return pr_risk_write_json(&s->scenario, &s->risk, &s->options, &s->diag, out);
}

static pr_status draw(const void *what, pr_plot_format format, FILE *out, char *message,
                      size_t message_size)
{
    const study *s = what;
    return pr_risk_plot_draw(&s->scenario, &s->risk, s->units, format, out, message, message_size);
}

static int write_all(const pr_cli *cli, const study *s)
{
    int exit_status = s->risk.cancelled ? PR_EXIT_DONE : pr_plot_output(cli, draw, s);
    const int written = pr_cli_write(cli, cli->json ? write_json : write_text, s);
    return written > exit_status ? written : exit_status;
}

/* No plan at all, or the chance that was asked for is not to be had. */
static bool answer_is_no(const pr_cli *cli, const pr_risk *risk)
{
    if (!risk->plan.go)
        return true;
    return pr_cli_value(cli, "hold") != NULL &&
           !(risk->hold[0].found && risk->hold[0].verified_well);
}

static int find_and_write(const pr_cli *cli, study *s)
{
    teller t = {.interrupt = pr_progress_start(cli, "risk"),
                .on = !cli->quiet,
                .terminal = isatty(STDERR_FILENO) != 0,
                .start_s = pr_clock_now_s()};
    t.interrupt.on = false;
    t.shown_s = t.start_s;
    s->options.progress = tell;
    s->options.progress_context = &t;
    const pr_status status = pr_risk_find(&s->scenario, &s->options, &s->risk, &s->diag);
    if (t.shown && t.terminal)
        fputs("\r\033[K", stderr);
    pr_cli_print_diag(cli, &s->diag);
    if (status != PR_OK && status != PR_ERR_CANCELLED)
        return pr_cli_failed(cli, status, &s->diag);
    const int exit_status = write_all(cli, s);
    if (status == PR_ERR_CANCELLED) {
        pr_cli_complain(cli, "stopped on request; this is what was known by then");
        return PR_EXIT_FAILED;
    }
    return exit_status == PR_EXIT_DONE && answer_is_no(cli, &s->risk) ? PR_EXIT_NO : exit_status;
}

static int run(const pr_cli *cli)
{
    study *s = calloc(1, sizeof *s);
    if (s == NULL)
        return pr_cli_failed(cli, PR_ERR_NOMEM, NULL);
    s->scenario = pr_scenario_default();
    s->diag = pr_diag_init();
    s->options = pr_risk_options_default();
    int status = PR_EXIT_USAGE;
    s->units = cli->style.units;
    if (pr_plot_wanted(cli) && read_options(cli, &s->options))
        status = pr_cli_read_scenario(cli, cli->arguments[0], &s->scenario, &s->diag);
    if (status == PR_EXIT_DONE)
        status = find_and_write(cli, s);
    pr_risk_free(&s->risk);
    pr_scenario_free(&s->scenario);
    pr_diag_free(&s->diag);
    free(s);
    return status;
}
