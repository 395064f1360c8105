/* Parsing of a command's arguments, and its help, from the option tables. */
#ifndef PR_CLI_OPTIONS_H
#define PR_CLI_OPTIONS_H

#include "cli/cli.h"

typedef enum pr_parsed { PR_PARSED_RUN, PR_PARSED_HELP, PR_PARSED_BAD } pr_parsed;

/* argv[0] is the command's name. Mistakes are said on standard error. */
pr_parsed pr_options_parse(const pr_command *command, int argc, char **argv, pr_cli *cli);
void pr_options_help(const pr_command *command, size_t width, FILE *out);
/* The command and every option of it, tab separated: "command", name, arguments, question, text;
 * "option", command, name, letter, argument, help. Man pages and completions are made of it. */
void pr_options_dump(const pr_command *command, FILE *out);

#endif
