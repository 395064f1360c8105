/* The clock of the operating system that does not jump. */
#include "base/clock.h"

#include <time.h>

double pr_clock_now_s(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return (double)t.tv_sec + 1e-9 * (double)t.tv_nsec;
}
