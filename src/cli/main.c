/* pullrest: the table of commands, and what happens before and after one. */
#include "cli/cli.h"
#include "cli/options.h"

#include <fcntl.h>
#include <locale.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>
#include <wchar.h>

static const pr_command *const commands[] = {
    &pr_command_plan,   &pr_command_run,      &pr_command_compare,
    &pr_command_budget, &pr_command_readings, &pr_command_risk,
    &pr_command_page,   &pr_command_check,    &pr_command_models,
};
enum { COMMANDS = sizeof commands / sizeof commands[0] };

static void write_help(FILE *out)
{
    fputs(
        "pullrest tells how long to pull and how long to rest when a vehicle has to winch itself\n"
        "out alone: without killing its engine, its winch or the battery that must restart it.\n"
        "\nUsage: pullrest COMMAND [OPTION]... [FILE]...\n\nCommands:\n",
        out);
    for (size_t i = 0; i < COMMANDS; i++)
        fprintf(out, "  %-9s %-10s %s\n", commands[i]->name, commands[i]->arguments,
                commands[i]->question);
    fputs("\n'pullrest COMMAND --help' tells the options of a command; 'pullrest --version' the "
          "version.\n"
          "Exit status: 0 done, 1 the answer is no, 2 bad usage or input, 3 failure.\n"
          "What comes out is an estimate, not a rating: see the cautions with every plan.\n",
          out);
}

static const pr_command *find_command(const char *name)
{
    for (size_t i = 0; i < COMMANDS; i++)
        if (strcmp(commands[i]->name, name) == 0)
            return commands[i];
    return NULL;
}

/* The command that begins like the name, when there is only one. */
static const pr_command *guess_command(const char *name)
{
    const pr_command *guess = NULL;
    for (size_t i = 0; i < COMMANDS; i++)
        if (strncmp(commands[i]->name, name, 2) == 0) {
            if (guess != NULL)
                return NULL;
            guess = commands[i];
        }
    return guess;
}

static int bad_command(const char *name)
{
    const pr_command *guess = guess_command(name);
    char shown[256];
    pr_text_printable(shown, sizeof shown, name);
    fprintf(stderr, "pullrest: there is no command '%s'", shown);
    if (strchr(name, '.') != NULL) /* a file: a command comes first */
        fprintf(stderr, "; did you mean 'plan %s'?", shown);
    else if (guess != NULL)
        fprintf(stderr, "; did you mean '%s'?", guess->name);
    fputs(" ('pullrest --help' lists them)\n", stderr);
    return PR_EXIT_USAGE;
}

/* What does not need a command; -1 when it does. */
static int run_plain(int argc, char **argv)
{
    if (argc < 2) {
        write_help(stderr);
        return PR_EXIT_USAGE;
    }
    if (strcmp(argv[1], "--help") == 0 || strcmp(argv[1], "-h") == 0) {
        write_help(stdout);
        return PR_EXIT_DONE;
    }
    if (strcmp(argv[1], "help") == 0) { /* what others call it */
        const pr_command *command = argc > 2 ? find_command(argv[2]) : NULL;
        if (argc > 2 && command == NULL)
            return bad_command(argv[2]);
        if (command == NULL)
            write_help(stdout);
        else
            pr_options_help(command, pr_style_default().width, stdout);
        return PR_EXIT_DONE;
    }
    if (strcmp(argv[1], "--version") == 0) {
        fputs("pullrest " PR_VERSION "\n", stdout);
        return PR_EXIT_DONE;
    }
    if (strcmp(argv[1], "--help-all") == 0) { /* for the man page and the completions */
        for (size_t i = 0; i < COMMANDS; i++)
            pr_options_dump(commands[i], stdout);
        return PR_EXIT_DONE;
    }
    return -1;
}

static int run(int argc, char **argv)
{
    const int plain = run_plain(argc, argv);
    if (plain >= 0)
        return plain;
    const pr_command *command = find_command(argv[1]);
    if (command == NULL)
        return bad_command(argv[1]);
    pr_cli cli;
    switch (pr_options_parse(command, argc - 1, argv + 1, &cli)) {
    case PR_PARSED_HELP:
        pr_options_help(command, pr_style_default().width, stdout);
        return PR_EXIT_DONE;
    case PR_PARSED_BAD:
        return PR_EXIT_USAGE;
    case PR_PARSED_RUN:
        break;
    }
    return command->run(&cli);
}

/* A standard stream that is closed would let the next file we open take its number, and messages
 * would end up in it. Read-only, so that writing to it stays an error. */
static void hold_standard_streams(void)
{
    int fd;
    do
        fd = open("/dev/null", O_RDONLY);
    while (fd >= 0 && fd <= STDERR_FILENO);
    if (fd >= 0)
        close(fd);
}

/* Text is UTF-8 wherever we run; numbers stay as in C (LC_NUMERIC is not touched). False when the
 * tables of letters, which are loaded at the first use, did not find memory: every letter beyond
 * ASCII would come out wrong. */
static bool write_utf8(void)
{
    if (setlocale(LC_CTYPE, "C.UTF-8") == NULL)
        setlocale(LC_CTYPE, "");
    wchar_t letter;
    mbstate_t state = {0};
    return MB_CUR_MAX < 4 || mbrtowc(&letter, "\xc2\xb0", 2, &state) == 2;
}

int main(int argc, char **argv)
{
    hold_standard_streams();
    if (!write_utf8()) {
        fprintf(stderr, "pullrest: %s\n", pr_status_text(PR_ERR_NOMEM));
        return PR_EXIT_FAILED;
    }
    signal(SIGPIPE, SIG_IGN); /* a closed pipe is an error like a full disk */
    signal(SIGXFSZ, SIG_IGN); /* so is a file as large as the user's limit allows */
    int status = run(argc, argv);
    if (fflush(stdout) != 0 || ferror(stdout) || close(STDOUT_FILENO) != 0) {
        if (status != PR_EXIT_FAILED)
            perror("pullrest: standard output");
        status = PR_EXIT_FAILED;
    }
    return status;
}
