/* Runs a fuzz target over files, or over every file of folders: seeds and old findings are tests of
 * the ordinary build too, with any compiler. */
#include "fuzz.h"

#include <dirent.h>
#include <string.h>
#include <sys/stat.h>

static size_t ran;

static void replay_file(const char *path)
{
    enum { BYTES_MAX = 1 << 22 };
    static uint8_t data[BYTES_MAX];
    FILE *file = fopen(path, "rb");
    if (file == NULL) {
        perror(path);
        exit(1);
    }
    const size_t size = fread(data, 1, sizeof data, file);
    fclose(file);
    /* a copy of just that size, so that reading beyond it is seen */
    uint8_t *copy = malloc(size > 0 ? size : 1);
    if (copy == NULL)
        exit(1);
    memcpy(copy, data, size);
    fprintf(stderr, "%s\n", path);
    LLVMFuzzerTestOneInput(copy, size);
    free(copy);
    ran++;
}

static void replay(const char *path)
{
    struct stat info;
    if (stat(path, &info) == 0 && !S_ISDIR(info.st_mode)) {
        replay_file(path);
        return;
    }
    struct dirent **entries;
    const int n = scandir(path, &entries, NULL, alphasort);
    if (n < 0) {
        perror(path);
        exit(1);
    }
    for (int i = 0; i < n; i++) {
        char name[4096];
        snprintf(name, sizeof name, "%s/%s", path, entries[i]->d_name);
        if (entries[i]->d_name[0] != '.')
            replay_file(name);
        free(entries[i]);
    }
    free(entries);
}

int main(int argc, char **argv)
{
    for (int i = 1; i < argc; i++)
        replay(argv[i]);
    printf("%zu inputs\n", ran);
    return ran > 0 ? 0 : 1;
}
