/* plan FILE: pulls, rests, engine speed, total time, what binds, go or no-go. */
#include "cli/cli.h"
#include "cli/trace_output.h"

#include "report/answer.h"
#include "report/plan_json.h"
#include "report/plan_text.h"

#include <stdlib.h>

static int run(const pr_cli *cli);

const pr_command pr_command_plan = {
    .name = "plan",
    .arguments = "FILE",
    .least = 1,
    .most = 1,
    .question = "How long to pull, how long to rest, how often? Go or no-go.",
    .text = "Plans the recovery that FILE describes in three ways: the same rest after every pull, "
            "each "
            "rest as short as it may be, and the shortest time. The first three lines are the "
            "answer. The plot and the time series are of the plan that these lines are about.",
    .takes = PR_TAKES_CSV | PR_TAKES_PLOT,
    .run = run,
};

typedef struct planned {
    pr_scenario scenario;
    pr_plan_set set;
    pr_diag diag;
} planned;

static pr_status write_text(const void *what, const pr_cli *cli, FILE *out)
{
    const planned *p = what;
    return pr_plan_write_text(&p->scenario, &p->set, NULL, &cli->style, out);
}

static pr_status write_json(const void *what, const pr_cli *cli, FILE *out)
{
    const planned *p = what;
    return pr_plan_write_json(&p->scenario, &p->set, NULL, cli->style.units, &p->diag, out);
}

static int write_trace(const pr_cli *cli, const planned *p, const pr_answer *answer,
                       double interval_s)
{
    pr_trace trace = pr_trace_init(interval_s);
    const pr_observer observer = pr_trace_observer(&trace);
    const pr_plan *plan = &p->set.plan[answer->kind];
    bool holds;
    pr_status status =
        pr_plan_replay(&p->scenario, plan, &p->set.limits, NULL, &observer, &holds, NULL);
    if (status == PR_OK)
        status = trace.status;
    int exit_status;
    if (status != PR_OK) {
        exit_status = pr_cli_failed(cli, status, NULL);
    } else {
        const pr_recovery_plot plot = {.title = p->scenario.title,
                                       .answer = answer->line[0],
                                       .trace = &trace,
                                       .limits = &p->set.limits,
                                       .starter_post = p->scenario.system.starter_post,
                                       .units = cli->style.units};
        exit_status = pr_trace_output(cli, &trace, &plot);
    }
    pr_trace_free(&trace);
    return exit_status;
}

static int plan_and_write(const pr_cli *cli, planned *p, bool traced, double interval_s)
{
    pr_progress progress = pr_progress_start(cli, "planning");
    const pr_status status =
        pr_plan_make(&p->scenario, &p->set, &p->diag, pr_progress_update, &progress);
    pr_progress_end(&progress);
    pr_cli_print_diag(cli, &p->diag);
    if (status != PR_OK)
        return pr_cli_failed(cli, status, &p->diag);

    pr_answer answer;
    pr_answer_make(&p->scenario, &p->set, NULL, cli->style.units, &answer);
    int exit_status = traced ? write_trace(cli, p, &answer, interval_s) : PR_EXIT_DONE;
    const int written = pr_cli_write(cli, cli->json ? write_json : write_text, p);
    exit_status = written > exit_status ? written : exit_status;
    if (p->set.plan[answer.kind].status != PR_OK)
        exit_status = PR_EXIT_FAILED;
    return exit_status == PR_EXIT_DONE && !answer.go ? PR_EXIT_NO : exit_status;
}

static int run(const pr_cli *cli)
{
    bool traced;
    double interval_s;
    if (!pr_trace_wanted(cli, &traced, &interval_s))
        return PR_EXIT_USAGE;
    planned *p = calloc(1, sizeof *p);
    if (p == NULL)
        return pr_cli_failed(cli, PR_ERR_NOMEM, NULL);
    p->scenario = pr_scenario_default();
    p->diag = pr_diag_init();
    int status = pr_cli_read_scenario(cli, cli->arguments[0], &p->scenario, &p->diag);
    if (status == PR_EXIT_DONE)
        status = plan_and_write(cli, p, traced, interval_s);
    pr_plan_set_free(&p->set);
    pr_scenario_free(&p->scenario);
    pr_diag_free(&p->diag);
    free(p);
    return status;
}
