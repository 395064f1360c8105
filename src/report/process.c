/* Runs another program: see process.h. The pipe of its standard error tells both what it says and
 * when it is gone, so that waiting costs nothing. */
#define _GNU_SOURCE /* pipe2 */
#include "report/process.h"

#include "base/clock.h"
#include "base/stop.h"
#include "report/text.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdio.h>
#include <string.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

enum { KEPT = 4000, ASK_ms = 200 }; /* how often a request to stop is looked for, at least */

/* The last KEPT bytes of what was read. */
typedef struct tail {
    char text[2 * KEPT + 1];
    size_t used;
} tail;

static void tail_add(tail *t, const char *bytes, size_t n)
{
    if (t->used + n > 2 * KEPT) {
        const size_t keep = t->used < KEPT ? t->used : KEPT;
        memmove(t->text, t->text + t->used - keep, keep);
        t->used = keep;
    }
    memcpy(t->text + t->used, bytes, n);
    t->used += n;
}

/* Last line that is not empty. */
static void tail_last_line(tail *t, char *line, size_t size)
{
    while (t->used > 0 && strchr("\n\r \t", t->text[t->used - 1]) != NULL)
        t->used--;
    t->text[t->used] = '\0';
    const char *start = strrchr(t->text, '\n');
    start = start == NULL ? t->text : start + 1;
    pr_text_printable(line, size, start + strspn(start, " \t"));
}

/* Reads until the other side closes, the time is over or a stop is requested; 0, ETIMEDOUT,
 * ECANCELED or another errno. */
static int read_until_closed(int fd, double deadline_s, tail *t)
{
    for (;;) {
        const double left_s = deadline_s - pr_clock_now_s();
        if (left_s <= 0.0)
            return ETIMEDOUT;
        if (pr_stop_requested())
            return ECANCELED;
        /* a request wakes poll, unless it comes between the question above and poll */
        const double wait_ms = fmin(1000.0 * left_s, ASK_ms);
        struct pollfd p = {.fd = fd, .events = POLLIN};
        const int ready = poll(&p, 1, (int)wait_ms + 1);
        if (ready < 0 && errno != EINTR)
            return errno;
        if (ready <= 0)
            continue;
        char block[1024];
        const ssize_t n = read(fd, block, sizeof block);
        if (n == 0)
            return 0;
        if (n < 0 && errno != EINTR)
            return errno;
        if (n > 0)
            tail_add(t, block, (size_t)n);
    }
}

/* Starts it with empty input, dropped output, standard error into `fd`; 0 or an errno. */
static int start(const char *const arguments[], int fd, pid_t *pid)
{
    if (arguments[0] == NULL)
        return EINVAL;
    posix_spawn_file_actions_t actions;
    posix_spawnattr_t attributes;
    sigset_t standard;
    sigemptyset(&standard);
    sigaddset(&standard, SIGPIPE);
    sigaddset(&standard, SIGINT);
    sigaddset(&standard, SIGXFSZ);
    int cause = posix_spawn_file_actions_init(&actions);
    if (cause != 0)
        return cause;
    cause = posix_spawnattr_init(&attributes);
    if (cause != 0) {
        posix_spawn_file_actions_destroy(&actions);
        return cause;
    }
    cause = posix_spawn_file_actions_addopen(&actions, STDIN_FILENO, "/dev/null", O_RDONLY, 0);
    if (cause == 0)
        cause = posix_spawn_file_actions_addopen(&actions, STDOUT_FILENO, "/dev/null", O_WRONLY, 0);
    if (cause == 0)
        cause = posix_spawn_file_actions_adddup2(&actions, fd, STDERR_FILENO);
    if (cause == 0)
        cause = posix_spawnattr_setsigdefault(&attributes, &standard);
    if (cause == 0)
        cause = posix_spawnattr_setflags(&attributes, POSIX_SPAWN_SETSIGDEF);
    /* posix_spawnp does not change the strings, though its type does not say so */
    char *copy[16];
    size_t n = 0;
    for (; n < 15 && arguments[n] != NULL; n++)
        memcpy(&copy[n], &arguments[n], sizeof copy[n]);
    copy[n] = NULL;
    if (cause == 0)
        cause = posix_spawnp(pid, copy[0], &actions, &attributes, copy, environ);
    posix_spawnattr_destroy(&attributes);
    posix_spawn_file_actions_destroy(&actions);
    return cause;
}

static int wait_for(pid_t pid)
{
    int status = 0;
    while (waitpid(pid, &status, 0) < 0)
        if (errno != EINTR)
            return -1;
    return status;
}

/* A program that closes its standard error and goes on is given the rest of the time, too. */
static int watch(pid_t pid, int fd, double timeout_s, tail *t, int *wait_status)
{
    const double deadline_s = pr_clock_now_s() + timeout_s;
    int cause = read_until_closed(fd, deadline_s, t);
    while (cause == 0) {
        const pid_t gone = waitpid(pid, wait_status, WNOHANG);
        if (gone != 0)
            return gone == pid ? 0 : errno;
        if (pr_stop_requested())
            cause = ECANCELED;
        else if (pr_clock_now_s() > deadline_s)
            cause = ETIMEDOUT;
        else
            nanosleep(&(struct timespec){.tv_nsec = 2000000}, NULL);
    }
    kill(pid, SIGKILL);
    *wait_status = wait_for(pid);
    return cause;
}

void pr_process_run(const char *const arguments[], double timeout_s, pr_process_result *result)
{
    *result = (pr_process_result){.end = PR_PROCESS_FAILED, .exit_status = -1};
    int ends[2];
    pid_t pid;
    if (pipe2(ends, O_CLOEXEC) != 0) {
        snprintf(result->errors, sizeof result->errors, "%s", strerror(errno));
        return;
    }
    const int cause = start(arguments, ends[1], &pid);
    close(ends[1]);
    if (cause != 0) {
        close(ends[0]);
        result->end = cause == ENOENT ? PR_PROCESS_MISSING : PR_PROCESS_FAILED;
        snprintf(result->errors, sizeof result->errors, "%s", strerror(cause));
        return;
    }
    tail t = {.used = 0};
    int status = 0;
    const int trouble = watch(pid, ends[0], timeout_s, &t, &status);
    close(ends[0]);
    tail_last_line(&t, result->errors, sizeof result->errors);
    if (trouble == ETIMEDOUT) {
        result->end = PR_PROCESS_TIMEOUT;
    } else if (trouble == ECANCELED) {
        result->end = PR_PROCESS_STOPPED;
    } else if (trouble != 0) {
        snprintf(result->errors, sizeof result->errors, "%s", strerror(trouble));
    } else if (WIFEXITED(status)) {
        result->end = WEXITSTATUS(status) == 127 ? PR_PROCESS_MISSING : PR_PROCESS_DONE;
        result->exit_status = WEXITSTATUS(status);
    } else {
        snprintf(result->errors, sizeof result->errors, "ended by signal %d", WTERMSIG(status));
    }
}
