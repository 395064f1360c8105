/* Loaded before a program (LD_PRELOAD), makes one thing go wrong in it.
 *
 *     BREAK_ALLOCATION=n   the n-th allocation fails, once
 *     BREAK_COUNT=file     the number of allocations is written there at the end
 *     BREAK_CLOCK=1        every look at a clock gives another time, forwards or back
 */
#define _GNU_SOURCE
#include <errno.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdio.h>
#include <stdlib.h>
#include <sys/syscall.h>
#include <sys/time.h>
#include <time.h>
#include <unistd.h>

/* glibc's own, under the names that it keeps for this purpose */
void *__libc_malloc(size_t size);
void *__libc_calloc(size_t n, size_t size);
void *__libc_realloc(void *old, size_t size);

static atomic_ulong allocations;
static unsigned long failing;
static const char *count_file;
static int clock_jumps;

__attribute__((constructor)) static void prepare(void)
{
    const char *n = getenv("BREAK_ALLOCATION");
    failing = n != NULL ? strtoul(n, NULL, 10) : 0;
    count_file = getenv("BREAK_COUNT");
    clock_jumps = getenv("BREAK_CLOCK") != NULL;
    atomic_store(&allocations, 0); /* what the loader took before is no business of ours */
}

__attribute__((destructor)) static void tell(void)
{
    const unsigned long n = atomic_load(&allocations);
    FILE *out = count_file != NULL ? fopen(count_file, "w") : NULL;
    if (out == NULL)
        return;
    fprintf(out, "%lu\n", n);
    fclose(out);
}

static int fails(void)
{
    const unsigned long n = atomic_fetch_add(&allocations, 1) + 1;
    if (n != failing)
        return 0;
    errno = ENOMEM;
    return 1;
}

__attribute__((visibility("default"))) void *malloc(size_t size)
{
    return fails() ? NULL : __libc_malloc(size);
}

__attribute__((visibility("default"))) void *calloc(size_t n, size_t size)
{
    return fails() ? NULL : __libc_calloc(n, size);
}

__attribute__((visibility("default"))) void *realloc(void *old, size_t size)
{
    return fails() ? NULL : __libc_realloc(old, size);
}

/* Days forwards and back, by a sequence that is the same in every run. */
static long jump_s(void)
{
    static atomic_ulong looks;
    return (long)((atomic_fetch_add(&looks, 1) * 7919UL) % 2000003UL) - 1000000L;
}

__attribute__((visibility("default"))) int clock_gettime(clockid_t id, struct timespec *t)
{
    const int result = (int)syscall(SYS_clock_gettime, id, t);
    if (result == 0 && clock_jumps)
        t->tv_sec += jump_s();
    return result;
}

__attribute__((visibility("default"))) time_t time(time_t *t)
{
    struct timespec now;
    clock_gettime(CLOCK_REALTIME, &now);
    if (t != NULL)
        *t = now.tv_sec;
    return now.tv_sec;
}
