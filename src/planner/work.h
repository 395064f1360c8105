/* Tasks shared out to threads by number. Each task writes only what its number owns, so that
 * neither their order nor the number of threads can change a result. */
#ifndef PR_PLANNER_WORK_H
#define PR_PLANNER_WORK_H

#include "base/status.h"

#include <stddef.h>

enum { PR_WORK_THREADS_MAX = 64 };

/* worker: 0 .. threads - 1; of each one task runs at a time. */
typedef void (*pr_work_fn)(void *context, int worker, size_t index);
/* Told on the caller's thread, now and then and in the end, how many tasks are finished; non-zero:
 * enough. */
typedef int (*pr_work_tell_fn)(void *context, size_t finished);

/* As many threads as asked for, within what is possible; 0: one for each processor. */
int pr_work_threads(int asked);
/* Runs tasks 0 .. n - 1, the caller's thread being worker 0. *done: tasks 0 .. done - 1 are
 * finished. tell: may be NULL; PR_ERR_CANCELLED: it said that it is enough. */
pr_status pr_work_run(pr_work_fn fn, void *context, size_t n, int threads, pr_work_tell_fn tell,
                      void *tell_context, size_t *done);

#endif
