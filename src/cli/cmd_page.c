/* page FILE: one self-contained HTML file with the plan, a timer and the meter's meaning. */
#include "cli/cli.h"
#include "cli/planned.h"
#include "cli/trace_output.h"

#include "report/page.h"

#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static int run(const pr_cli *cli);

const pr_command pr_command_page = {
    .name = "page",
    .arguments = "FILE",
    .least = 1,
    .most = 1,
    .question = "One HTML file for the phone: plan, pull and rest timer, meter.",
    .text = "Writes a page that works without a network: the answer of 'plan', a timer that walks "
            "through it and knows the rest after a pull that was too long or too short, what a "
            "voltmeter reading means, readings, drawings, and a card that prints on one sheet. "
            "With --json: the tables behind it. ('plan --plot' draws for other uses.)",
    .run = run,
};

typedef struct making {
    pr_planned *planned;
    pr_field_table *table;
    pr_readings *readings;
    pr_trace trace;
    bool has_table, has_readings, has_trace;
} making;

static pr_status write_page(const void *what, const pr_cli *cli, FILE *out)
{
    const making *m = what;
    const pr_plan_report report = pr_planned_report(m->planned);
    const pr_page page = {.report = &report,
                          .table = m->has_table ? m->table : NULL,
                          .readings = m->has_readings ? m->readings : NULL,
                          .trace = m->has_trace ? &m->trace : NULL,
                          .diag = &m->planned->diag,
                          .units = cli->style.units};
    return cli->json ? pr_page_write_json(&page, &m->planned->diag, out)
                     : pr_page_write(&page, out);
}

static pr_status trace_plan(making *m, const pr_plan *plan)
{
    static const double POINTS = 400.0, LEAST_s = 0.5;
    const double interval_s = plan->total_s / POINTS;
    m->trace = pr_trace_init(interval_s > LEAST_s ? interval_s : LEAST_s);
    const pr_observer observer = pr_trace_observer(&m->trace);
    bool holds;
    m->has_trace = true;
    const pr_status status = pr_plan_replay(&m->planned->scenario, plan, &m->planned->set.limits,
                                            NULL, &observer, &holds, NULL);
    return status == PR_OK ? m->trace.status : status;
}

/* Readings are an extra: a rig that gives none costs the page nothing else. */
static pr_status read_rig(making *m)
{
    static const double AFTER_PULL_s = 10.0;
    const pr_status status =
        pr_readings_make(&m->planned->scenario, AFTER_PULL_s, m->readings, NULL);
    m->has_readings = status == PR_OK;
    return status == PR_ERR_NOMEM ? status : PR_OK;
}

static pr_status make(const pr_cli *cli, making *m, const pr_plan *plan)
{
    const pr_planned *p = m->planned;
    pr_status status = plan->n_cycles > 0 ? trace_plan(m, plan) : PR_OK;
    if (status == PR_OK)
        status = read_rig(m);
    if (status != PR_OK || !plan->go)
        return status;
    pr_progress progress = pr_progress_start(cli, "tables for the field");
    status = pr_field_table_make(&p->scenario, plan, &p->set.limits, m->table, pr_progress_update,
                                 &progress);
    pr_progress_end(&progress);
    m->has_table = status == PR_OK;
    return status;
}

static int make_and_write(const pr_cli *cli, making *m)
{
    int exit_status = pr_planned_make(cli, cli->arguments[0], m->planned);
    if (exit_status != PR_EXIT_DONE)
        return exit_status;
    const pr_plan *plan = &m->planned->set.plan[pr_answer_kind(&m->planned->set)];
    const pr_status status = plan->status == PR_OK ? make(cli, m, plan) : plan->status;
    if (status != PR_OK)
        return pr_cli_failed(cli, status, &m->planned->diag);
    exit_status = pr_cli_write(cli, write_page, m);
    return exit_status == PR_EXIT_DONE && !plan->go ? PR_EXIT_NO : exit_status;
}

static int run(const pr_cli *cli)
{
    if (cli->output == NULL && !cli->json && isatty(STDOUT_FILENO)) {
        pr_cli_complain(cli, "a page is no text for a terminal: give --output FILE");
        return PR_EXIT_USAGE;
    }
    making m = {.planned = pr_planned_new(),
                .table = calloc(1, sizeof(pr_field_table)),
                .readings = calloc(1, sizeof(pr_readings))};
    int exit_status;
    if (m.planned == NULL || m.table == NULL || m.readings == NULL)
        exit_status = pr_cli_failed(cli, PR_ERR_NOMEM, NULL);
    else
        exit_status = make_and_write(cli, &m);
    if (m.has_trace)
        pr_trace_free(&m.trace);
    free(m.readings);
    free(m.table);
    pr_planned_free(m.planned);
    return exit_status;
}
