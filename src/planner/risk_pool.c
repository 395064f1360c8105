/* Threads that share out tasks by number. Each task writes only what its number owns, so that
 * neither their order nor the number of threads can change a result. The caller's thread works too,
 * and is the one that tells progress. */
#include "planner/risk_run.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <unistd.h>

typedef struct round_of_work {
    pr_risk_task_fn task;
    void *context;
    size_t n;
    atomic_size_t next, finished;
    atomic_bool cancelled;
    unsigned char *is_done; /* by task; each is written by one thread and read after joining */
} round_of_work;

typedef struct worker {
    round_of_work *work;
    pr_risk_bench *bench;
    pr_risk_pool *pool; /* of the thread that tells progress; else NULL */
    double unit;
} worker;

static void tell(const worker *w)
{
    const pr_risk_pool *pool = w->pool;
    const double finished = (double)atomic_load(&w->work->finished);
    const double done = (pool->done_before + w->unit * finished) / pool->done_all;
    if (pool->progress(pool->progress_context, done < 1.0 ? done : 1.0) != 0)
        atomic_store(&w->work->cancelled, true);
}

static void *run_tasks(void *context)
{
    worker *w = context;
    round_of_work *work = w->work;
    for (;;) {
        if (atomic_load(&work->cancelled))
            return NULL;
        const size_t i = atomic_fetch_add(&work->next, 1);
        if (i >= work->n)
            return NULL;
        work->task(work->context, w->bench, i);
        work->is_done[i] = 1;
        atomic_fetch_add(&work->finished, 1);
        if (w->pool != NULL && w->pool->progress != NULL)
            tell(w);
    }
}

pr_status pr_risk_pool_open(const pr_risk_world *world, int threads, pr_risk_pool *pool)
{
    if (threads <= 0)
        threads = (int)sysconf(_SC_NPROCESSORS_ONLN);
    threads = threads < 1 ? 1 : threads > PR_RISK_THREADS_MAX ? PR_RISK_THREADS_MAX : threads;
    pool->threads = threads;
    pool->bench = malloc((size_t)threads * sizeof *pool->bench);
    if (pool->bench == NULL)
        return PR_ERR_NOMEM;
    for (int t = 0; t < threads; t++)
        pr_risk_bench_open(world, &pool->bench[t]);
    return PR_OK;
}

void pr_risk_pool_close(pr_risk_pool *pool)
{
    free(pool->bench);
    pool->bench = NULL;
}

pr_status pr_risk_pool_run(pr_risk_pool *pool, pr_risk_task_fn task, void *context, size_t n,
                           double unit, size_t *done)
{
    *done = 0;
    if (n == 0)
        return PR_OK;
    round_of_work work = {.task = task, .context = context, .n = n};
    atomic_init(&work.next, 0);
    atomic_init(&work.finished, 0);
    atomic_init(&work.cancelled, false);
    work.is_done = calloc(n, 1);
    if (work.is_done == NULL)
        return PR_ERR_NOMEM;
    pthread_t thread[PR_RISK_THREADS_MAX];
    worker workers[PR_RISK_THREADS_MAX];
    int started = 1;
    workers[0] = (worker){&work, &pool->bench[0], pool, unit};
    for (int t = 1; t < pool->threads; t++)
        workers[t] = (worker){&work, &pool->bench[t], NULL, unit};
    /* a thread that cannot be had is one that is not needed: the others do its work */
    while (started < pool->threads && (size_t)started < n &&
           pthread_create(&thread[started], NULL, run_tasks, &workers[started]) == 0)
        started++;
    run_tasks(&workers[0]);
    for (int t = 1; t < started; t++)
        pthread_join(thread[t], NULL);
    while (*done < n && work.is_done[*done] != 0)
        ++*done;
    free(work.is_done);
    pool->done_before += unit * (double)n;
    return *done == n ? PR_OK : PR_ERR_CANCELLED;
}
