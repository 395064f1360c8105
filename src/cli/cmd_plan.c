/* plan FILE: pulls, rests, engine speed, total time, what binds, go or no-go. */
#include "cli/cli.h"
#include "cli/planned.h"
#include "cli/plot_kind.h"
#include "cli/trace_output.h"

#include "report/plan_json.h"
#include "report/plan_text.h"

static int run(const pr_cli *cli);

static const pr_option options[] = {
    PR_OPTION_PLOT_KIND("recovery (all of it), cycle (one pull), rests (by pull length), battery, "
                        "alternator, winch, heat (of its motor), ground, rigging, starter, cable "
                        "(of the winch), fuse, link (of two batteries)"),
    PR_OPTION_PLOT_CYCLE,
    {NULL, 0, NULL, NULL, false}};

const pr_command pr_command_plan = {
    .name = "plan",
    .arguments = "FILE",
    .least = 1,
    .most = 1,
    .question = "How long to pull, how long to rest, how often? Go or no-go.",
    .text = "Plans the recovery that FILE describes in three ways: the same rest after every pull, "
            "each rest as short as it may be, and the shortest time. The first three lines are the "
            "answer; above them stand warnings of what breaks no limit and needs seeing to. The "
            "plot and the time series are of the plan that these lines are about.",
    .takes = PR_TAKES_CSV | PR_TAKES_PLOT,
    .options = options,
    .run = run,
};

static pr_status write_text(const void *what, const pr_cli *cli, FILE *out)
{
    const pr_plan_report report = pr_planned_report(what);
    return pr_plan_write_text(&report, &cli->style, out);
}

static pr_status write_json(const void *what, const pr_cli *cli, FILE *out)
{
    const pr_planned *planned = what;
    const pr_plan_report report = pr_planned_report(planned);
    return pr_plan_write_json(&report, cli->style.units, &planned->diag, out);
}

static int write_trace(const pr_cli *cli, const pr_planned *p, const pr_answer *answer,
                       double interval_s)
{
    const pr_plan *plan = &p->set.plan[answer->kind];
    pr_trace trace = pr_trace_init(pr_trace_interval_s(cli, interval_s, plan->total_s));
    const pr_observer observer = pr_trace_observer(&trace);
    bool holds;
    pr_status status =
        pr_plan_replay(&p->scenario, plan, &p->set.limits, NULL, &observer, &holds, NULL);
    if (status == PR_OK)
        status = trace.status;
    int exit_status;
    if (status != PR_OK) {
        exit_status = pr_cli_failed(cli, status, NULL);
    } else {
        const pr_recovery_plot plot = pr_recovery_plot_of(&p->scenario, &p->set.limits, &trace,
                                                          answer->line[0], cli->style.units);
        exit_status = pr_trace_output(cli, &trace, &plot);
    }
    pr_trace_free(&trace);
    return exit_status;
}

/* The pictures that need no trace. */
static int draw_other(const pr_cli *cli, const pr_planned *planned)
{
    pr_plot_kind kind;
    if (pr_cli_value(cli, "plot") == NULL || !pr_plot_kind_of(cli, &kind))
        return PR_EXIT_DONE;
    switch (kind.family) {
    case PR_PLOT_RESTS:
        return pr_plot_kind_rests(cli, &planned->scenario, &planned->set.plan[PR_PLAN_EVEN]);
    case PR_PLOT_CURVES:
        return pr_plot_kind_curves(cli, &planned->scenario, kind.curve);
    case PR_PLOT_RECOVERY:
    case PR_PLOT_CYCLE:
        break;
    }
    return PR_EXIT_DONE;
}

static int write_all(const pr_cli *cli, const pr_planned *planned, bool traced, double interval_s)
{
    const pr_plan_report report = pr_planned_report(planned);
    pr_answer answer;
    pr_answer_make(&report, cli->style.units, &answer);
    int exit_status = traced ? write_trace(cli, planned, &answer, interval_s) : PR_EXIT_DONE;
    const int drawn = draw_other(cli, planned);
    exit_status = drawn > exit_status ? drawn : exit_status;
    const int written = pr_cli_write(cli, cli->json ? write_json : write_text, planned);
    exit_status = written > exit_status ? written : exit_status;
    if (planned->set.plan[answer.kind].status != PR_OK)
        exit_status = PR_EXIT_FAILED;
    return exit_status == PR_EXIT_DONE && !answer.go ? PR_EXIT_NO : exit_status;
}

static int run(const pr_cli *cli)
{
    bool traced;
    double interval_s;
    if (!pr_trace_wanted(cli, &traced, &interval_s))
        return PR_EXIT_USAGE;
    pr_planned *planned = pr_planned_new();
    if (planned == NULL)
        return pr_cli_failed(cli, PR_ERR_NOMEM, NULL);
    int status = pr_planned_make(cli, cli->arguments[0], planned);
    if (status == PR_EXIT_DONE)
        status = write_all(cli, planned, traced, interval_s);
    pr_planned_free(planned);
    return status;
}
