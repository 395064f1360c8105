/* Tasks shared out to threads; see work.h. Whoever is free takes the next number. The caller's
 * thread works too, and is the one that tells. */
#include "planner/work.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdlib.h>
#include <unistd.h>

typedef struct round_of_work {
    pr_work_fn fn;
    void *context;
    size_t n;
    pr_work_tell_fn tell;
    void *tell_context;
    atomic_size_t next, finished;
    atomic_bool cancelled;
    unsigned char *is_done; /* by task; each is written by one thread and read after joining */
} round_of_work;

typedef struct worker {
    round_of_work *work;
    int number;
} worker;

static void *run_tasks(void *context)
{
    const worker *w = context;
    round_of_work *work = w->work;
    for (;;) {
        if (atomic_load(&work->cancelled))
            return NULL;
        const size_t i = atomic_fetch_add(&work->next, 1);
        if (i >= work->n)
            return NULL;
        work->fn(work->context, w->number, i);
        work->is_done[i] = 1;
        const size_t finished = atomic_fetch_add(&work->finished, 1) + 1;
        if (w->number == 0 && work->tell != NULL && work->tell(work->tell_context, finished) != 0)
            atomic_store(&work->cancelled, true);
    }
}

int pr_work_threads(int asked)
{
    if (asked <= 0)
        asked = (int)sysconf(_SC_NPROCESSORS_ONLN);
    return asked < 1 ? 1 : asked > PR_WORK_THREADS_MAX ? PR_WORK_THREADS_MAX : asked;
}

pr_status pr_work_run(pr_work_fn fn, void *context, size_t n, int threads, pr_work_tell_fn tell,
                      void *tell_context, size_t *done)
{
    *done = 0;
    if (n == 0)
        return PR_OK;
    round_of_work work = {
        .fn = fn, .context = context, .n = n, .tell = tell, .tell_context = tell_context};
    atomic_init(&work.next, 0);
    atomic_init(&work.finished, 0);
    atomic_init(&work.cancelled, false);
    work.is_done = calloc(n, 1);
    if (work.is_done == NULL)
        return PR_ERR_NOMEM;
    threads = pr_work_threads(threads);
    pthread_t thread[PR_WORK_THREADS_MAX];
    worker workers[PR_WORK_THREADS_MAX];
    int started = 1;
    workers[0] = (worker){&work, 0};
    for (int t = 1; t < threads; t++)
        workers[t] = (worker){&work, t};
    /* a thread that cannot be had is one that is not needed: the others do its work */
    while (started < threads && (size_t)started < n &&
           pthread_create(&thread[started], NULL, run_tasks, &workers[started]) == 0)
        started++;
    run_tasks(&workers[0]);
    for (int t = 1; t < started; t++)
        pthread_join(thread[t], NULL);
    while (*done < n && work.is_done[*done] != 0)
        ++*done;
    free(work.is_done);
    /* the last may have been another thread's */
    if (!atomic_load(&work.cancelled) && tell != NULL && tell(tell_context, n) != 0)
        atomic_store(&work.cancelled, true);
    return atomic_load(&work.cancelled) ? PR_ERR_CANCELLED : PR_OK;
}
