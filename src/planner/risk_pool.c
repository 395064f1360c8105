/* The threads of a study: a bench for each, and how far the study is. */
#include "planner/risk_run.h"
#include "planner/work.h"

#include <stdlib.h>

_Static_assert((int)PR_RISK_THREADS_MAX <= (int)PR_WORK_THREADS_MAX, "every thread has its bench");

typedef struct stage {
    pr_risk_pool *pool;
    pr_risk_task_fn task;
    void *context;
    double unit;
} stage;

static void run_task(void *context, int worker, size_t index)
{
    const stage *s = context;
    s->task(s->context, &s->pool->bench[worker], index);
}

static int tell(void *context, size_t finished)
{
    const stage *s = context;
    const pr_risk_pool *pool = s->pool;
    const double done = (pool->done_before + s->unit * (double)finished) / pool->done_all;
    return pool->progress(pool->progress_context, done < 1.0 ? done : 1.0);
}

pr_status pr_risk_pool_open(const pr_risk_world *world, int threads, pr_risk_pool *pool)
{
    pool->threads = pr_work_threads(threads);
    pool->bench = malloc((size_t)pool->threads * sizeof *pool->bench);
    if (pool->bench == NULL)
        return PR_ERR_NOMEM;
    for (int t = 0; t < pool->threads; t++)
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
    stage s = {.pool = pool, .task = task, .context = context, .unit = unit};
    const pr_status status =
        pr_work_run(run_task, &s, n, pool->threads, pool->progress != NULL ? tell : NULL, &s, done);
    pool->done_before += unit * (double)n;
    return status;
}
