/* Notes a request to end: see stop.h. */
#include "base/stop.h"

#include <signal.h>
#include <stddef.h>

static volatile sig_atomic_t requested;

static void note(int number)
{
    (void)number;
    requested = 1;
}

void pr_stop_catch(void)
{
    /* no SA_RESTART: what waits is to wake up */
    struct sigaction action = {.sa_handler = note};
    sigemptyset(&action.sa_mask);
    action.sa_flags = (int)SA_RESETHAND;
    static const int requests[] = {SIGINT, SIGTERM, SIGHUP};
    for (size_t i = 0; i < sizeof requests / sizeof requests[0]; i++) {
        struct sigaction old;
        if (sigaction(requests[i], NULL, &old) == 0 && old.sa_handler == SIG_DFL)
            sigaction(requests[i], &action, NULL);
    }
}

bool pr_stop_requested(void)
{
    return requested != 0;
}
