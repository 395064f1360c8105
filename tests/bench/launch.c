/* Runs a command from a small process, so that its peak memory is its own: Linux counts what the
 * caller held when it forked.
 *
 *   bench_launch COMMAND ARGUMENT...
 *
 * Prints processor ms, wall ms, peak MB and exit status; what the command prints is dropped. */
#include <fcntl.h>
#include <stdio.h>
#include <sys/resource.h>
#include <sys/time.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

static double now_ms(void)
{
    struct timespec t;
    clock_gettime(CLOCK_MONOTONIC, &t);
    return 1e3 * (double)t.tv_sec + 1e-6 * (double)t.tv_nsec;
}

static double ms(struct timeval t)
{
    return 1e3 * (double)t.tv_sec + 1e-3 * (double)t.tv_usec;
}

int main(int argc, char **argv)
{
    if (argc < 2)
        return 2;
    const double start_ms = now_ms();
    const pid_t child = fork();
    if (child == 0) {
        const int sink = open("/dev/null", O_WRONLY);
        dup2(sink, STDOUT_FILENO);
        dup2(sink, STDERR_FILENO);
        execvp(argv[1], &argv[1]);
        _exit(127);
    }
    int status;
    struct rusage used;
    if (child < 0 || wait4(child, &status, 0, &used) != child)
        return 1;
    printf("%.2f %.2f %.2f %d\n", ms(used.ru_utime) + ms(used.ru_stime), now_ms() - start_ms,
           (double)used.ru_maxrss / 1024.0, WIFEXITED(status) ? WEXITSTATUS(status) : -1);
    return 0;
}
