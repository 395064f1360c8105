/* Any bytes as a scenario file: a complete scenario, or messages that say why not. */
#include "fuzz.h"

#include "reader/reader.h"

#include <string.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const pr_reader_options options = {.models_folder = PR_SOURCE_DIR "/models"};
    static pr_scenario scenario;
    static pr_system system_;
    pr_diag diag = pr_diag_init();
    const pr_status status =
        pr_scenario_read_text("fuzz.yaml", (const char *)data, size, &options, &scenario, &diag);
    FUZZ_CHECK(status == PR_OK || status == PR_ERR_INPUT, "%s", pr_status_text(status));
    FUZZ_CHECK((status == PR_OK) == (diag.errors == 0), "%s with %zu errors",
               pr_status_text(status), diag.errors);
    for (size_t i = 0; i < diag.count; i++) {
        FUZZ_CHECK(diag.entries[i].text[0] != '\0', "message %zu is empty", i);
        for (const char *c = diag.entries[i].text; *c != '\0'; c++)
            FUZZ_CHECK((unsigned char)*c >= ' ' && *c != 0x7f, "control character in a message");
    }
    if (status == PR_OK) { /* what was accepted can be built: the reader checks that */
        const pr_status derived = pr_system_derive(&scenario.system, &system_, &diag);
        FUZZ_CHECK(derived == PR_OK, "derive: %s", pr_status_text(derived));
    }
    pr_scenario_free(&scenario);
    pr_diag_free(&diag);
    return 0;
}
