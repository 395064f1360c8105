/* readings FILE: what the voltmeter should show, and which fault fits what it shows. */
#include "cli/cli.h"
#include "cli/plot_output.h"

#include "reader/nearest.h"
#include "reader/reader.h"
#include "report/readings_report.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static int run(const pr_cli *cli);

static const pr_option options[] = {
    {"measured", 'm', "KEY=VOLTS",
     "what the meter showed, as in 'idle_all_on=12.4 V'; several with commas, or given again; "
     "ranks the faults",
     true},
    {"after", 0, "SECONDS", "time after the pull of the reading after_pull, 1 to 600 (10)", false},
    {NULL, 0, NULL, NULL, false}};

const pr_command pr_command_readings = {
    .name = "readings",
    .arguments = "FILE",
    .least = 1,
    .most = 1,
    .question = "What should my voltmeter show, healthy and with each fault?",
    .text =
        "Simulates the rig of FILE with and without each common fault and tells what a voltmeter "
        "shows. With --measured it ranks the faults by how well they explain the readings; the "
        "answer is then no (exit status 1) when the healthy rig does not explain them.",
    .options = options,
    .takes = PR_TAKES_PLOT,
    .run = run,
};

typedef struct read {
    pr_scenario scenario;
    pr_readings readings;
    pr_measured measured;
    pr_ranking ranking;
    bool has_measured;
    pr_diag diag;
} read_rig;

static pr_readings_report report_of(const read_rig *r)
{
    return (pr_readings_report){&r->scenario, &r->readings, r->has_measured ? &r->measured : NULL,
                                r->has_measured ? &r->ranking : NULL};
}

static pr_status write_text(const void *what, const pr_cli *cli, FILE *out)
{
    const pr_readings_report report = report_of(what);
    return pr_readings_write_text(&report, &cli->style, out);
}

static pr_status write_json(const void *what, const pr_cli *cli, FILE *out)
{
    (void)cli;
    const read_rig *r = what;
    const pr_readings_report report = report_of(r);
    return pr_readings_write_json(&report, &r->diag, out);
}

static pr_status draw(const void *what, pr_plot_format format, FILE *out, char *message,
                      size_t message_size)
{
    const pr_readings_report report = report_of(what);
    return pr_readings_plot_draw(&report, format, out, message, message_size);
}

/* Key by its name, spelled with '_', '-' or blanks; PR_READING_COUNT when there is none. */
static pr_reading find_key(const char *key)
{
    for (int i = 0; i < PR_READING_COUNT; i++)
        if (pr_name_equal(key, pr_reading_key((pr_reading)i)))
            return (pr_reading)i;
    return PR_READING_COUNT;
}

/* All keys: what one person calls idle is two readings here. */
static void complain_key(const pr_cli *cli, const char *key)
{
    char known[400] = "";
    for (int i = 0; i < PR_READING_COUNT; i++)
        pr_text_append(known, sizeof known, "%s%s", i == 0 ? "" : ", ",
                       pr_reading_key((pr_reading)i));
    pr_cli_complain(cli, "--measured: there is no reading '%s'; known are %s", key, known);
}

static char *trim(char *text)
{
    text += strspn(text, " \t");
    size_t length = strlen(text);
    while (length > 0 && strchr(" \t", text[length - 1]) != NULL)
        text[--length] = '\0';
    return text;
}

/* One "key=12.4 V"; false: said. */
static bool take_reading(const pr_cli *cli, char *text, pr_measured *measured)
{
    static const double LEAST_V = 0.0, MOST_V = 40.0;
    char *equals = strchr(text, '=');
    if (equals == NULL) {
        pr_cli_complain(cli,
                        "--measured: '%s' must be a key, '=' and volts, as in "
                        "'idle_all_on=12.4 V'",
                        trim(text));
        return false;
    }
    *equals = '\0';
    const char *key = trim(text), *value = trim(equals + 1);
    const pr_reading reading = find_key(key);
    if (reading == PR_READING_COUNT) {
        complain_key(cli, key);
        return false;
    }
    char *end;
    double V = strtod(value, &end);
    if (end == value || *end != '\0') { /* not a bare number: with a unit */
        char message[300] = "";
        if (pr_quantity_parse(value, "V", &V, message, sizeof message) != PR_OK) {
            pr_cli_complain(cli, "--measured %s: '%s' is no voltage: %s", key, value, message);
            return false;
        }
    }
    if (!(V >= LEAST_V && V <= MOST_V)) {
        pr_cli_complain(cli, "--measured %s: %s is not from %g V to %g V", key, value, LEAST_V,
                        MOST_V);
        return false;
    }
    if (measured->given[reading]) {
        pr_cli_complain(cli, "--measured: %s is given twice", key);
        return false;
    }
    measured->given[reading] = true;
    measured->V[reading] = V;
    return true;
}

/* All of --measured; every mistake is said. */
static int take_measured(const pr_cli *cli, read_rig *r)
{
    bool sound = true;
    const char *value;
    for (size_t k = 0; (value = pr_cli_value_at(cli, "measured", k)) != NULL; k++) {
        char *copy = strdup(value), *rest = copy, *part;
        if (copy == NULL)
            return pr_cli_failed(cli, PR_ERR_NOMEM, NULL);
        while ((part = strsep(&rest, ",")) != NULL)
            sound = take_reading(cli, part, &r->measured) && sound;
        free(copy);
        r->has_measured = true;
    }
    return sound ? PR_EXIT_DONE : PR_EXIT_USAGE;
}

/* Readings that this very rig cannot give. */
static int check_measured(const pr_cli *cli, const read_rig *r)
{
    int exit_status = PR_EXIT_DONE;
    for (int i = 0; i < PR_READING_COUNT; i++)
        if (r->measured.given[i] && isnan(r->readings.fault[PR_FAULT_NONE].at[i].V)) {
            pr_cli_complain(cli,
                            "--measured: this rig has no reading '%s' (no winch, no alternator, "
                            "or no pull that lasts so long)",
                            pr_reading_key((pr_reading)i));
            exit_status = PR_EXIT_USAGE;
        }
    return exit_status;
}

static int read_and_write(const pr_cli *cli, read_rig *r, double after_s)
{
    pr_status status = pr_readings_make(&r->scenario, after_s, &r->readings, &r->diag);
    pr_cli_print_diag(cli, &r->diag);
    if (status != PR_OK)
        return pr_cli_failed(cli, status, &r->diag);
    if (r->has_measured) {
        const int sound = check_measured(cli, r);
        if (sound != PR_EXIT_DONE)
            return sound;
        status = pr_readings_rank(&r->readings, &r->measured, &r->ranking);
        if (status != PR_OK)
            return pr_cli_failed(cli, status, NULL);
    }
    const pr_readings_report report = report_of(r);
    int exit_status = pr_plot_output(cli, draw, r);
    const int written = pr_cli_write(cli, cli->json ? write_json : write_text, r);
    exit_status = written > exit_status ? written : exit_status;
    return exit_status == PR_EXIT_DONE && !pr_readings_healthy(&report) ? PR_EXIT_NO : exit_status;
}

static int run(const pr_cli *cli)
{
    double after_s = 10.0;
    if (!pr_plot_wanted(cli) || !pr_cli_number(cli, "after", 1.0, 600.0, &after_s))
        return PR_EXIT_USAGE;
    read_rig *r = calloc(1, sizeof *r);
    if (r == NULL)
        return pr_cli_failed(cli, PR_ERR_NOMEM, NULL);
    r->scenario = pr_scenario_default();
    r->diag = pr_diag_init();
    int status = take_measured(cli, r);
    if (status == PR_EXIT_DONE)
        status = pr_cli_read_scenario(cli, cli->arguments[0], &r->scenario, &r->diag);
    if (status == PR_EXIT_DONE)
        status = read_and_write(cli, r, after_s);
    pr_scenario_free(&r->scenario);
    pr_diag_free(&r->diag);
    free(r);
    return status;
}
