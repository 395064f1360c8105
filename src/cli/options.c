/* Parsing by getopt_long, stricter than it: no abbreviated options, none twice, only known values.
 */
#include "cli/options.h"

#include <getopt.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <unistd.h>

static const pr_option common_options[] = {
    {"json", 'j', NULL, "write JSON (SI units, whatever --units says) instead of text", false},
    {"units", 'u', "metric|us", "units of the text and the plot: metric (default) or us", false},
    {"output", 'o', "FILE", "write the report to FILE instead of standard output", false},
    {"all", 'a', NULL, "leave nothing out: every default with its source, every row", false},
    {"quiet", 'q', NULL, "the answer and its warnings only; no tables, notes or progress", false},
    {"help", 'h', NULL, "show this help and end", false},
    {NULL, 0, NULL, NULL, false}};

static const pr_option csv_options[] = {
    {"csv", 'c', "FILE", "write the time series to FILE (SI units)", false},
    {"every", 'e', "SECONDS", "time between its rows, 0.1 to 600 (1)", false},
    {NULL, 0, NULL, NULL, false}};

static const pr_option plot_options[] = {
    {"plot", 'p', "FILE", "draw to FILE; its end decides: .svg, .png or .pdf", false},
    {NULL, 0, NULL, NULL, false}};

/* All options of a command, its own first. */
typedef struct option_list {
    size_t n;
    const pr_option *option[PR_OPTIONS_MAX];
} option_list;

static void add_options(option_list *list, const pr_option *options)
{
    for (; options != NULL && options->name != NULL && list->n < PR_OPTIONS_MAX; options++)
        list->option[list->n++] = options;
}

static option_list list_options(const pr_command *command)
{
    option_list list = {0};
    add_options(&list, command->options);
    if (command->takes & PR_TAKES_CSV)
        add_options(&list, csv_options);
    if (command->takes & PR_TAKES_PLOT)
        add_options(&list, plot_options);
    add_options(&list, common_options);
    return list;
}

static const pr_option *find_option(const pr_cli *cli, const char *name)
{
    for (size_t i = 0; i < cli->n_given; i++)
        if (strcmp(cli->given[i].option->name, name) == 0)
            return cli->given[i].option;
    return NULL;
}

const char *pr_cli_value_at(const pr_cli *cli, const char *name, size_t k)
{
    for (size_t i = 0; i < cli->n_given; i++)
        if (strcmp(cli->given[i].option->name, name) == 0 && k-- == 0)
            return cli->given[i].value;
    return NULL;
}

const char *pr_cli_value(const pr_cli *cli, const char *name)
{
    return pr_cli_value_at(cli, name, 0);
}

bool pr_cli_number(const pr_cli *cli, const char *name, double least, double most, double *value)
{
    const char *text = pr_cli_value(cli, name);
    if (text == NULL)
        return true;
    char *end;
    const double number = strtod(text, &end);
    if (end == text || *end != '\0' || !(number >= least && number <= most)) {
        pr_cli_complain(cli, "--%s must be a number from %g to %g, not '%s'", name, least, most,
                        text);
        return false;
    }
    *value = number;
    return true;
}

/* What getopt_long needs: long options in order, and the short ones as one text. */
typedef struct getopt_tables {
    struct option longs[PR_OPTIONS_MAX + 1];
    char shorts[2 * PR_OPTIONS_MAX + 2];
} getopt_tables;

enum { LONG_BASE = 1000 };

static void make_tables(const option_list *list, getopt_tables *tables)
{
    size_t used = 0;
    *tables = (getopt_tables){0};
    tables->shorts[used++] = ':';
    for (size_t i = 0; i < list->n; i++) {
        const pr_option *o = list->option[i];
        tables->longs[i] =
            (struct option){o->name, o->argument != NULL ? required_argument : no_argument, NULL,
                            LONG_BASE + (int)i};
        if (o->letter != 0) {
            tables->shorts[used++] = o->letter;
            if (o->argument != NULL)
                tables->shorts[used++] = ':';
        }
    }
}

static const pr_option *option_of(const option_list *list, int code)
{
    if (code >= LONG_BASE)
        return list->option[code - LONG_BASE];
    for (size_t i = 0; i < list->n; i++)
        if (list->option[i]->letter == code)
            return list->option[i];
    return NULL;
}

/* getopt_long takes "--js" for "--json"; a script written so breaks when an option is added. */
static bool is_abbreviated(const pr_option *option, char *const argv[])
{
    const bool separate = option->argument != NULL && optarg == argv[optind - 1];
    const char *token = argv[optind - (separate ? 2 : 1)];
    return strncmp(token, "--", 2) == 0 && strcspn(token + 2, "=") != strlen(option->name);
}

static bool take(pr_cli *cli, const pr_option *option, char *const argv[], bool is_long)
{
    if (is_long && is_abbreviated(option, argv)) {
        pr_cli_complain(cli, "write --%s in full", option->name);
        return false;
    }
    if (!option->repeats && find_option(cli, option->name) != NULL) {
        pr_cli_complain(cli, "--%s is given twice", option->name);
        return false;
    }
    if (option->argument != NULL && optarg[0] == '\0') {
        pr_cli_complain(cli, "--%s has an empty %s", option->name, option->argument);
        return false;
    }
    if (cli->n_given >= PR_GIVEN_MAX) {
        pr_cli_complain(cli, "too many options");
        return false;
    }
    cli->given[cli->n_given++] = (pr_given){option, option->argument != NULL ? optarg : ""};
    return true;
}

static void complain_unknown(const pr_cli *cli, int code, char *const argv[])
{
    if (code == ':')
        pr_cli_complain(cli, "%s needs a value", argv[optind - 1]);
    else if (optopt >= LONG_BASE)
        pr_cli_complain(cli, "%s takes no value", argv[optind - 1]);
    else if (optopt != 0)
        pr_cli_complain(cli, "there is no option -%c", optopt);
    else
        pr_cli_complain(cli, "there is no option %s", argv[optind - 1]);
}

/* Width of the terminal, within what reads well; a hundred columns when there is none. */
static size_t text_width(bool terminal)
{
    enum { NARROWEST = 40, WIDEST = 100 };
    struct winsize size;
    if (!terminal || ioctl(STDOUT_FILENO, TIOCGWINSZ, &size) != 0 || size.ws_col == 0)
        return WIDEST;
    return size.ws_col < NARROWEST ? NARROWEST : size.ws_col > WIDEST ? WIDEST : size.ws_col;
}

static bool wants_colour(bool terminal)
{
    const char *no = getenv("NO_COLOR"), *term = getenv("TERM");
    return terminal && (no == NULL || no[0] == '\0') && term != NULL && strcmp(term, "dumb") != 0;
}

static bool settle(pr_cli *cli)
{
    const char *units = pr_cli_value(cli, "units");
    cli->style = pr_style_default();
    if (units != NULL && strcmp(units, "us") == 0) {
        cli->style.units = PR_UNITS_US;
    } else if (units != NULL && strcmp(units, "metric") != 0) {
        pr_cli_complain(cli, "--units must be metric or us, not '%s'", units);
        return false;
    }
    cli->json = pr_cli_value(cli, "json") != NULL;
    cli->quiet = pr_cli_value(cli, "quiet") != NULL;
    cli->output = pr_cli_value(cli, "output");
    const bool terminal = cli->output == NULL && isatty(STDOUT_FILENO);
    cli->style.brief = cli->quiet;
    cli->style.all = pr_cli_value(cli, "all") != NULL;
    cli->style.width = text_width(terminal);
    cli->style.colour = wants_colour(terminal);
    return true;
}

/* Two outputs into one file would lose one of them. */
static bool outputs_differ(const pr_cli *cli)
{
    static const char *const names[] = {"output", "csv", "plot"};
    for (size_t i = 0; i < 3; i++)
        for (size_t k = i + 1; k < 3; k++) {
            const char *a = pr_cli_value(cli, names[i]), *b = pr_cli_value(cli, names[k]);
            if (a != NULL && b != NULL && strcmp(a, b) == 0) {
                pr_cli_complain(cli, "--%s and --%s name the same file", names[i], names[k]);
                return false;
            }
        }
    return true;
}

static bool count_fits(const pr_cli *cli)
{
    const pr_command *c = cli->command;
    if (cli->n_arguments < c->least) {
        pr_cli_complain(cli, "needs %s", c->arguments);
        return false;
    }
    if (c->most >= 0 && cli->n_arguments > c->most) {
        const char *surplus = cli->arguments[c->most];
        if (c->most > 1)
            pr_cli_complain(cli, "takes at most %d files; '%s' is one too many", c->most, surplus);
        else
            pr_cli_complain(cli, "unexpected argument '%s'", surplus);
        return false;
    }
    return true;
}

pr_parsed pr_options_parse(const pr_command *command, int argc, char **argv, pr_cli *cli)
{
    const option_list list = list_options(command);
    getopt_tables tables;
    make_tables(&list, &tables);
    *cli = (pr_cli){.command = command};
    opterr = 0;
    optind = 0; /* GNU: start afresh */
    int code;
    while ((code = getopt_long(argc, argv, tables.shorts, tables.longs, NULL)) != -1) {
        if (code == '?' || code == ':') {
            complain_unknown(cli, code, argv);
            return PR_PARSED_BAD;
        }
        if (!take(cli, option_of(&list, code), argv, code >= LONG_BASE))
            return PR_PARSED_BAD;
        if (pr_cli_value(cli, "help") != NULL)
            return PR_PARSED_HELP;
    }
    cli->n_arguments = argc - optind;
    cli->arguments = argv + optind;
    return settle(cli) && count_fits(cli) && outputs_differ(cli) ? PR_PARSED_RUN : PR_PARSED_BAD;
}

static void help_option(const pr_option *option, size_t width, FILE *out)
{
    enum { INDENT = 26 };
    char left[80];
    const char letter[] = {'-', option->letter, ',', ' ', '\0'};
    snprintf(left, sizeof left, "  %s--%s%s%s", option->letter != 0 ? letter : "    ", option->name,
             option->argument != NULL ? " " : "", option->argument != NULL ? option->argument : "");
    char first[96];
    snprintf(first, sizeof first, "%-*s", INDENT, left);
    if (strlen(left) + 1 >= INDENT) { /* the text begins on a line of its own */
        fprintf(out, "%s\n", left);
        snprintf(first, sizeof first, "%*s", INDENT, "");
    }
    pr_text_wrap(out, option->help, width, first, INDENT);
}

void pr_options_help(const pr_command *command, size_t width, FILE *out)
{
    fprintf(out, "Usage: pullrest %s [OPTION]... %s\n\n", command->name, command->arguments);
    pr_text_wrap(out, command->question, width, "", 0);
    if (command->text != NULL) {
        fputc('\n', out);
        pr_text_wrap(out, command->text, width, "", 0);
    }
    fputs("\nOptions:\n", out);
    const option_list list = list_options(command);
    for (size_t i = 0; i < list.n; i++)
        help_option(list.option[i], width, out);
    fputs("\nExit status: 0 done, 1 the answer is no, 2 bad usage or input, 3 failure.\n", out);
}

void pr_options_dump(const pr_command *command, FILE *out)
{
    fprintf(out, "command\t%s\t%s\t%s\t%s\n", command->name, command->arguments, command->question,
            command->text != NULL ? command->text : "");
    const option_list list = list_options(command);
    for (size_t i = 0; i < list.n; i++) {
        const pr_option *o = list.option[i];
        const char letter[] = {o->letter, '\0'};
        fprintf(out, "option\t%s\t%s\t%s\t%s\t%s\n", command->name, o->name, letter,
                o->argument != NULL ? o->argument : "", o->help);
    }
}
