/* run FILE: simulates the schedule that the file gives. */
#include "cli/cli.h"
#include "cli/plot_kind.h"
#include "cli/trace_output.h"

#include "planner/warnings.h"
#include "report/run_report.h"

#include <stdlib.h>

static int run(const pr_cli *cli);

static const pr_option options[] = {PR_OPTION_PLOT_KIND("recovery (all of it), cycle (one pull)"),
                                    PR_OPTION_PLOT_CYCLE,
                                    {NULL, 0, NULL, NULL, false}};

const pr_command pr_command_run = {
    .name = "run",
    .arguments = "FILE",
    .least = 1,
    .most = 1,
    .question = "What happens in the pulls and rests that the file gives?",
    .text =
        "Simulates the 'schedule:' of FILE. Nothing is planned and no limit stops it; what a limit "
        "would have stopped is reported, and the answer is then no (exit status 1), as it is when "
        "anchor, block or rope get more than they are rated for. The line has the parts that the "
        "file gives (plan: parts), else those that 'plan' rigs. Warnings stand above the answer.",
    .takes = PR_TAKES_CSV | PR_TAKES_PLOT,
    .options = options,
    .run = run,
};

/* A schedule of PR_SCHEDULE_MAX entries, each repeated, is never longer than this. */
enum { PHASES_MAX = 20000 };

typedef struct ran {
    pr_scenario scenario;
    pr_system system;
    pr_limits limits;
    pr_diag diag;
    pr_phase_end *ends;
    size_t n_ends;
} ran;

static pr_run_result result_of(const ran *r)
{
    return (pr_run_result){&r->scenario, &r->limits, r->ends, r->n_ends};
}

static pr_status write_text(const void *what, const pr_cli *cli, FILE *out)
{
    const pr_run_result result = result_of(what);
    return pr_run_write_text(&result, &cli->style, out);
}

static pr_status write_json(const void *what, const pr_cli *cli, FILE *out)
{
    (void)cli;
    const ran *r = what;
    const pr_run_result result = result_of(r);
    return pr_run_write_json(&result, &r->diag, out);
}

static size_t count_phases(const pr_scenario *scenario)
{
    size_t n = 0;
    for (int i = 0; i < scenario->n_schedule; i++)
        n += scenario->schedule[i].repeat > 1 ? (size_t)scenario->schedule[i].repeat : 1;
    return n;
}

static pr_status simulate(ran *r, const pr_observer *observer)
{
    const size_t phases = count_phases(&r->scenario);
    if (phases == 0 || phases > PHASES_MAX) {
        pr_diag_add(&r->diag, PR_ERROR, (pr_place){r->scenario.path, 0, 0},
                    phases == 0 ? "there is no schedule: run simulates one that the file gives (as "
                                  "scenarios/schedule-pulls.yaml does); plan makes one"
                                : "the schedule has too many phases");
        return PR_ERR_INPUT;
    }
    r->ends = calloc(phases, sizeof *r->ends);
    if (r->ends == NULL)
        return PR_ERR_NOMEM;
    double reserve_frac;
    pr_status status = pr_system_derive(&r->scenario.system, &r->system, &r->diag);
    if (status == PR_OK)
        status = pr_plan_limits(&r->scenario, &r->system, &r->limits, &reserve_frac);
    if (status == PR_OK)
        status = pr_schedule_parts(&r->scenario, &r->scenario.plan.parts);
    if (status == PR_OK)
        status = pr_schedule_run(&r->scenario, observer, r->ends, phases, &r->n_ends, &r->diag);
    return status;
}

static int write_all(const pr_cli *cli, const ran *r, const pr_trace *trace, bool traced)
{
    const pr_run_result result = result_of(r);
    int exit_status = PR_EXIT_DONE;
    if (traced) {
        const pr_recovery_plot plot = pr_recovery_plot_of(
            &r->scenario, &r->limits, trace, "the schedule as given", cli->style.units);
        exit_status = pr_trace_output(cli, trace, &plot);
    }
    const int written = pr_cli_write(cli, cli->json ? write_json : write_text, r);
    exit_status = written > exit_status ? written : exit_status;
    return exit_status == PR_EXIT_DONE && !pr_run_holds(&result) ? PR_EXIT_NO : exit_status;
}

/* Watching makes the engine look at the restart at every step, even when nothing is recorded. */
static int watch_only(void *context, const pr_system *system, const pr_outputs *outputs,
                      const char *event)
{
    (void)context;
    (void)system;
    (void)outputs;
    (void)event;
    return 0;
}

static double longest_s(const pr_scenario *scenario)
{
    double total_s = 0.0;
    for (int i = 0; i < scenario->n_schedule; i++)
        total_s += scenario->schedule[i].phase.duration_s *
                   (scenario->schedule[i].repeat > 1 ? scenario->schedule[i].repeat : 1);
    return total_s;
}

static int run_and_write(const pr_cli *cli, ran *r, bool traced, double interval_s)
{
    pr_trace trace = pr_trace_init(pr_trace_interval_s(cli, interval_s, longest_s(&r->scenario)));
    const pr_observer watching = {.fn = watch_only, .interval_s = 3600.0};
    const pr_observer tracing = pr_trace_observer(&trace);
    pr_status status = simulate(r, traced ? &tracing : &watching);
    if (status == PR_OK && traced)
        status = trace.status;
    if (status == PR_OK)
        pr_warnings_of_run(&r->scenario, r->ends, r->n_ends, &r->diag);
    if (status == PR_OK)
        pr_warnings_of_run_rig(&r->scenario, r->ends, r->n_ends, &r->diag);
    pr_cli_print_diag(cli, &r->diag);
    const int exit_status =
        status == PR_OK ? write_all(cli, r, &trace, traced) : pr_cli_failed(cli, status, &r->diag);
    pr_trace_free(&trace);
    return exit_status;
}

static int run(const pr_cli *cli)
{
    bool traced;
    double interval_s;
    if (!pr_trace_wanted(cli, &traced, &interval_s))
        return PR_EXIT_USAGE;
    ran *r = calloc(1, sizeof *r);
    if (r == NULL)
        return pr_cli_failed(cli, PR_ERR_NOMEM, NULL);
    r->scenario = pr_scenario_default();
    r->diag = pr_diag_init();
    int status = pr_cli_read_scenario(cli, cli->arguments[0], &r->scenario, &r->diag);
    if (status == PR_EXIT_DONE)
        status = run_and_write(cli, r, traced, interval_s);
    free(r->ends);
    pr_scenario_free(&r->scenario);
    pr_diag_free(&r->diag);
    free(r);
    return status;
}
