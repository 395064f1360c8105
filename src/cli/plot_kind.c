/* --plot-kind: see plot_kind.h. */
#include "cli/plot_kind.h"

#include "cli/plot_output.h"
#include "report/plot_curves.h"

#include <string.h>

static const struct {
    const char *name;
    pr_plot_family family;
    pr_curve_kind curve;
} kinds[] = {
    {"recovery", PR_PLOT_RECOVERY, PR_CURVE_KINDS},
    {"cycle", PR_PLOT_CYCLE, PR_CURVE_KINDS},
    {"rests", PR_PLOT_RESTS, PR_CURVE_KINDS},
    {"battery", PR_PLOT_CURVES, PR_CURVE_BATTERY},
    {"alternator", PR_PLOT_CURVES, PR_CURVE_ALTERNATOR},
    {"winch", PR_PLOT_CURVES, PR_CURVE_WINCH},
    {"heat", PR_PLOT_CURVES, PR_CURVE_HEAT},
    {"ground", PR_PLOT_CURVES, PR_CURVE_GROUND},
    {"rigging", PR_PLOT_CURVES, PR_CURVE_RIGGING},
    {"starter", PR_PLOT_CURVES, PR_CURVE_CRANKING},
    {"cable", PR_PLOT_CURVES, PR_CURVE_CABLE},
    {"fuse", PR_PLOT_CURVES, PR_CURVE_FUSE},
    {"load", PR_PLOT_CURVES, PR_CURVE_LOAD},
    {"link", PR_PLOT_CURVES, PR_CURVE_LINK},
};
enum { KINDS = sizeof kinds / sizeof kinds[0] };

/* A command offers the kinds that its own help names. */
static bool is_offered(const pr_cli *cli, const char *name)
{
    const size_t length = strlen(name);
    const pr_option *option = cli->command->options;
    while (option->name != NULL && strcmp(option->name, "plot-kind") != 0)
        option++;
    if (option->name == NULL)
        return false;
    for (const char *at = strstr(option->help, name); at != NULL; at = strstr(at + 1, name))
        if (at > option->help && at[-1] == ' ' &&
            (at[length] == ',' || at[length] == ' ' || at[length] == '\0'))
            return true;
    return false;
}

bool pr_plot_kind_of(const pr_cli *cli, pr_plot_kind *kind)
{
    const char *name = pr_cli_value(cli, "plot-kind");
    double cycle = 0.0;
    *kind = (pr_plot_kind){PR_PLOT_RECOVERY, PR_CURVE_KINDS, 0};
    if (!pr_cli_number(cli, "plot-cycle", 1.0, 1e5, &cycle))
        return false;
    if ((name != NULL || cycle > 0.0) && pr_cli_value(cli, "plot") == NULL) {
        pr_cli_complain(cli, "--plot-kind and --plot-cycle need --plot FILE");
        return false;
    }
    kind->cycle = (size_t)cycle;
    if (name == NULL)
        return true;
    for (size_t i = 0; i < KINDS; i++)
        if (strcmp(kinds[i].name, name) == 0 && is_offered(cli, name)) {
            kind->family = kinds[i].family;
            kind->curve = kinds[i].curve;
            return true;
        }
    pr_cli_complain(cli, "there is no --plot-kind '%s'; --help lists them", name);
    return false;
}

bool pr_plot_kind_traced(const pr_plot_kind *kind)
{
    return kind->family == PR_PLOT_RECOVERY || kind->family == PR_PLOT_CYCLE;
}

static int draw(const pr_cli *cli, pr_status status, pr_curves *curves)
{
    int exit_status;
    if (status == PR_ERR_INPUT) {
        pr_cli_complain(cli, "there is nothing to draw: the file has no such component");
        exit_status = PR_EXIT_USAGE;
    } else if (status != PR_OK) {
        exit_status = pr_cli_failed(cli, status, NULL);
    } else {
        const pr_curves_plot plot = {curves, cli->style.units};
        exit_status = pr_plot_output(cli, pr_curves_plot_draw, &plot);
    }
    pr_curves_free(curves);
    return exit_status;
}

int pr_plot_kind_curves(const pr_cli *cli, const pr_scenario *scenario, pr_curve_kind curve)
{
    pr_curves curves;
    const pr_status status = pr_curves_make(scenario, curve, &curves);
    return draw(cli, status, &curves);
}

int pr_plot_kind_rests(const pr_cli *cli, const pr_scenario *scenario, const pr_plan *plan)
{
    pr_curves curves;
    pr_progress progress = pr_progress_start(cli, "planning other pulls");
    const pr_status status =
        pr_curves_rests(scenario, plan, &curves, pr_progress_update, &progress);
    pr_progress_end(&progress);
    return draw(cli, status, &curves);
}
