/* Search upwards from the program, then from the library. */
#define _GNU_SOURCE /* dladdr */
#include "base/folder.h"

#include <dlfcn.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { PATH_ROOM = 4096, LEVELS = 5 };

static bool try_folder(const char *base, const char *between, const char *name, const char *probe,
                       char *path, size_t size)
{
    char file[PATH_ROOM];
    struct stat info;
    int n = snprintf(file, sizeof file, "%s/%s%s/%s", base, between, name, probe);
    if (n < 0 || (size_t)n >= sizeof file || stat(file, &info) != 0)
        return false;
    n = snprintf(path, size, "%s/%s%s", base, between, name);
    return n >= 0 && (size_t)n < size;
}

/* A build folder lies anywhere and names its source tree in a file. */
static bool try_source_root(const char *base, const char *name, const char *probe, char *path,
                            size_t size)
{
    char file[PATH_ROOM], root[PATH_ROOM];
    const int n = snprintf(file, sizeof file, "%s/pullrest-source-root", base);
    if (n < 0 || (size_t)n >= sizeof file)
        return false;
    FILE *in = fopen(file, "re");
    if (in == NULL)
        return false;
    const bool read = fgets(root, sizeof root, in) != NULL;
    fclose(in);
    if (!read)
        return false;
    root[strcspn(root, "\n")] = '\0';
    return try_folder(root, "", name, probe, path, size);
}

/* From a file upwards: share/ beside bin/ or lib/, or the source tree of a build folder. The text
 * `file` is used up. */
static bool search_upwards(char *file, const char *name, const char *probe, char *path, size_t size)
{
    for (int up = 0; up < LEVELS; up++) {
        char *slash = strrchr(file, '/');
        if (slash == NULL || slash == file)
            return false;
        *slash = '\0';
        if (try_folder(file, "share/pullrest/", name, probe, path, size) ||
            try_folder(file, "", name, probe, path, size) ||
            try_source_root(file, name, probe, path, size))
            return true;
    }
    return false;
}

pr_status pr_folder_find(const char *variable, const char *name, const char *probe, char *path,
                         size_t size)
{
    const char *chosen = getenv(variable);
    if (chosen != NULL && chosen[0] != '\0')
        return (size_t)snprintf(path, size, "%s", chosen) < size ? PR_OK : PR_ERR_IO;
    char file[PATH_ROOM];
    const ssize_t n = readlink("/proc/self/exe", file, sizeof file - 1);
    if (n > 0) {
        file[n] = '\0';
        if (search_upwards(file, name, probe, path, size))
            return PR_OK;
    }
    /* another program uses the library: from where that was loaded */
    static const char inside = 0;
    Dl_info library;
    if (dladdr(&inside, &library) != 0 && library.dli_fname != NULL &&
        (size_t)snprintf(file, sizeof file, "%s", library.dli_fname) < sizeof file &&
        search_upwards(file, name, probe, path, size))
        return PR_OK;
    return PR_ERR_IO;
}
