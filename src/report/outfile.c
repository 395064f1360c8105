/* A file that is written whole or not at all: see outfile.h. */
#include "report/outfile.h"

#include <errno.h>
#include <fcntl.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { ATTEMPTS = 100 };

static pr_status fail(char *message, size_t size, const char *path, const char *what, int cause)
{
    snprintf(message, size, "%s: %s: %s", path, what, strerror(cause));
    return cause == ENOMEM ? PR_ERR_NOMEM : PR_ERR_IO;
}

static void release(pr_outfile *file)
{
    free(file->path);
    free(file->temporary);
    *file = (pr_outfile){0};
}

/* Length of the folder part of a path, its last slash included. */
static size_t folder_length(const char *path)
{
    const char *slash = strrchr(path, '/');
    return slash == NULL ? 0 : (size_t)(slash - path) + 1;
}

/* Creates `<folder>/.<name>.<pid>-<k>.part`; returns the descriptor, or -1 with errno set. */
static int create_temporary(const char *path, char **name)
{
    const size_t room = strlen(path) + 48;
    const size_t folder = folder_length(path);
    *name = malloc(room);
    if (*name == NULL)
        return -1;
    for (int k = 0; k < ATTEMPTS; k++) {
        /* a long name is cut so that the temporary one stays within what a folder can hold */
        snprintf(*name, room, "%.*s.%.200s.%ld-%d.part", (int)folder, path, path + folder,
                 (long)getpid(), k);
        const int fd = open(*name, O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0666);
        if (fd >= 0)
            return fd;
        if (errno != EEXIST)
            break;
    }
    const int cause = errno;
    free(*name);
    *name = NULL;
    errno = cause;
    return -1;
}

static int open_direct(const char *path)
{
    return open(path, O_WRONLY | O_CLOEXEC | O_NOCTTY);
}

/* The file that a rename has to replace: a link is followed, so that the link itself survives. */
static char *target_of(const char *path)
{
    char *target = realpath(path, NULL);
    return target != NULL || errno != ENOENT ? target : strdup(path);
}

/* Opens the descriptor: direct for what is no regular file, else a temporary file beside it. */
static int open_target(pr_outfile *file, const char **what)
{
    struct stat old;
    const int exists = stat(file->path, &old) == 0;
    *what = "cannot write";
    if (!exists && errno != ENOENT)
        return -1;
    if (exists && S_ISDIR(old.st_mode)) {
        errno = EISDIR;
        return -1;
    }
    if (exists && !S_ISREG(old.st_mode))
        return open_direct(file->path);
    if (exists && access(file->path, W_OK) != 0) /* a rename would not respect it */
        return -1;
    *what = "cannot create a file in this folder";
    const int fd = create_temporary(file->path, &file->temporary);
    if (fd >= 0 && exists)
        (void)!fchmod(fd, old.st_mode & 0777);
    return fd;
}

pr_status pr_outfile_open(pr_outfile *file, const char *path, char *message, size_t message_size)
{
    *file = (pr_outfile){0};
    if (path[0] == '\0')
        return fail(message, message_size, "(no name)", "cannot write", ENOENT);
    file->path = target_of(path);
    if (file->path == NULL)
        return fail(message, message_size, path, "cannot write", errno);

    const char *what;
    const int fd = open_target(file, &what);
    if (fd >= 0)
        file->stream = fdopen(fd, "w");
    if (file->stream == NULL) {
        const int cause = errno;
        if (fd >= 0)
            close(fd);
        if (file->temporary != NULL)
            unlink(file->temporary);
        release(file);
        return fail(message, message_size, path, what, cause);
    }
    return PR_OK;
}

/* Makes the rename itself last: the folder's entry is flushed too. Not every file system can. */
static void flush_folder(const char *path)
{
    const size_t length = folder_length(path);
    char *folder = length == 0 ? strdup(".") : strndup(path, length);
    if (folder == NULL)
        return;
    const int fd = open(folder, O_RDONLY | O_DIRECTORY | O_CLOEXEC);
    if (fd >= 0) {
        (void)!fsync(fd);
        close(fd);
    }
    free(folder);
}

/* Why an earlier write failed: by now errno may tell of something else, so fail once more. */
static int cause_of_failure(FILE *stream)
{
    clearerr(stream);
    errno = 0;
    const bool works = fputc('\n', stream) != EOF && fflush(stream) == 0;
    return works || errno == 0 ? EIO : errno;
}

pr_status pr_outfile_commit(pr_outfile *file, char *message, size_t message_size)
{
    int cause = 0;
    if (fflush(file->stream) != 0 || ferror(file->stream))
        cause = cause_of_failure(file->stream);
    if (cause == 0 && file->temporary != NULL && fsync(fileno(file->stream)) != 0)
        cause = errno;
    if (fclose(file->stream) != 0 && cause == 0)
        cause = errno;
    file->stream = NULL;
    if (cause == 0 && file->temporary != NULL && rename(file->temporary, file->path) != 0)
        cause = errno;
    pr_status status = PR_OK;
    if (cause != 0) {
        status = fail(message, message_size, file->path, "writing failed", cause);
        if (file->temporary != NULL)
            unlink(file->temporary);
    } else if (file->temporary != NULL) {
        flush_folder(file->path);
    }
    release(file);
    return status;
}

void pr_outfile_abandon(pr_outfile *file)
{
    if (file->stream != NULL)
        fclose(file->stream);
    if (file->temporary != NULL)
        unlink(file->temporary);
    release(file);
}
