/* Any bytes as the measured log of a winch current: rising times and currents in range, or
 * messages. */
#ifndef _GNU_SOURCE
#define _GNU_SOURCE /* memfd_create */
#endif
#include "fuzz.h"

#include "reader/reading.h"

#include <sys/mman.h>
#include <unistd.h>

static void check_profile(const pr_system_def *def)
{
    FUZZ_CHECK(def->n_profile >= 2 && def->n_profile <= PR_DEMAND_PROFILE_MAX, "%d points",
               def->n_profile);
    FUZZ_CHECK(def->profile_s[0] == 0.0, "starts at %g s", def->profile_s[0]);
    for (int i = 0; i < def->n_profile; i++) {
        FUZZ_CHECK(def->profile_A[i] >= 0.0 && def->profile_A[i] <= 2000.0, "%g A",
                   def->profile_A[i]);
        if (i > 0)
            FUZZ_CHECK(def->profile_s[i] > def->profile_s[i - 1], "point %d: %.17g s after %.17g s",
                       i, def->profile_s[i], def->profile_s[i - 1]);
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static pr_scenario scenario;
    static pr_reader reader;
    const int fd = memfd_create("log", MFD_CLOEXEC);
    if (fd < 0)
        return 0;
    char path[64];
    snprintf(path, sizeof path, "/proc/self/fd/%d", fd);
    pr_diag diag = pr_diag_init();
    scenario = pr_scenario_default();
    reader.diag = &diag;
    reader.scenario = &scenario;
    if (write(fd, data, size) == (ssize_t)size) {
        const bool sound = pr_profile_read(&reader, path, (pr_place){"fuzz.yaml", 1, 1});
        FUZZ_CHECK(sound == (diag.errors == 0), "%zu errors", diag.errors);
        if (sound)
            check_profile(&scenario.system);
    }
    close(fd);
    pr_scenario_free(&scenario);
    pr_diag_free(&diag);
    return 0;
}
