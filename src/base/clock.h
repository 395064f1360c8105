/* Seconds on a clock that is never set: for time limits and progress, never for results. */
#ifndef PR_BASE_CLOCK_H
#define PR_BASE_CLOCK_H

double pr_clock_now_s(void);

#endif
