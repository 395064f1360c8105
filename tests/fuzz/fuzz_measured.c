/* Any text as --measured: one that cannot be read is bad usage, whatever it holds. A sound one goes
 * on to the scenario, which does not exist: bad input. */
#include "cli/cli.h"
#include "cli/options.h"
#include "fuzz.h"

#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char OPTION[] = "--measured=";
    char *option = malloc(sizeof OPTION + size);
    if (option == NULL)
        return 0;
    memcpy(option, OPTION, sizeof OPTION - 1);
    if (size > 0)
        memcpy(option + sizeof OPTION - 1, data, size);
    option[sizeof OPTION - 1 + size] = '\0';
    char command[] = "readings", file[] = "no/such/file.yaml";
    char *argv[] = {command, option, file, NULL};
    static pr_cli cli;
    if (pr_options_parse(&pr_command_readings, 3, argv, &cli) == PR_PARSED_RUN) {
        const int status = pr_command_readings.run(&cli);
        FUZZ_CHECK(status == PR_EXIT_USAGE, "exit status %d", status);
    }
    free(option);
    return 0;
}
