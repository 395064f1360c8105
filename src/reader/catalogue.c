/* Catalogue: see catalogue.h.
 *
 * Batteries, alternators and winches have a file each, of which only the one used is read. The
 * other kinds share a file per kind; of it only the lines of the entry used are parsed: an entry
 * begins with its name in the first column and ends before the next line that begins there. */
#include "reader/catalogue.h"
#include "reader/nearest.h"

#include <dirent.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>

const pr_catalogue_kind pr_catalogue_kinds[PR_CATALOGUE_KINDS] = {
    {"battery", "batteries", true},      {"alternator", "alternators", true},
    {"winch", "winches", true},          {"engine", "engines.yaml", false},
    {"link", "links.yaml", false},       {"load", "loads.yaml", false},
    {"surface", "surfaces.yaml", false}, {"cable", "cables.yaml", false},
    {"fuse", "fuses.yaml", false},
};

/* An entry that was parsed; lives in the arena of `entries`. */
struct pr_catalogue_found {
    pr_catalogue_found *next;
    int kind;
    const pr_node *node;
    char name[PR_KEY_MAX]; /* canonical */
};

pr_catalogue pr_catalogue_init(const pr_reader_options *options)
{
    return (pr_catalogue){.options = options};
}

void pr_catalogue_free(pr_catalogue *catalogue)
{
    pr_document_free(&catalogue->entries); /* with what was found */
    catalogue->found = NULL;
    for (int i = 0; i < PR_CATALOGUE_KINDS; i++)
        pr_document_free(&catalogue->file[i]);
}

static size_t max_bytes(const pr_catalogue *catalogue)
{
    return catalogue->options == NULL ? 0 : catalogue->options->max_bytes;
}

/* Finds the folder once; a message the first time it is missing. */
static bool locate(pr_catalogue *c, pr_place at, pr_diag *diag)
{
    if (c->located)
        return !c->missing;
    c->located = true;
    if (c->options != NULL && c->options->models_folder != NULL)
        c->missing = (size_t)snprintf(c->folder, sizeof c->folder, "%s",
                                      c->options->models_folder) >= sizeof c->folder;
    else
        c->missing = pr_models_folder(c->folder, sizeof c->folder) != PR_OK;
    if (c->missing)
        pr_diag_add(diag, PR_ERROR, at,
                    "the folder of the catalogue was not found (PULLREST_MODELS can name it)");
    return !c->missing;
}

static int kind_index(const char *kind)
{
    for (int i = 0; i < PR_CATALOGUE_KINDS; i++)
        if (strcmp(pr_catalogue_kinds[i].name, kind) == 0)
            return i;
    return -1;
}

static bool join(char path[PR_PATH_MAX], const char *folder, const char *name, const char *ending)
{
    const int n = snprintf(path, PR_PATH_MAX, "%s/%s%s", folder, name, ending);
    return n > 0 && n < PR_PATH_MAX;
}

/* One entry of a single file: its name, the bytes it takes, its first line and the one after it. */
typedef struct slice {
    char name[PR_KEY_MAX];
    size_t start, end, line, next_line;
} slice;

static bool starts_entry(char c)
{
    return c != '#' && c != ' ' && c != '\t' && c != '\n' && c != '\r' && c != '-' && c != '%';
}

/* Where the next line begins, or the text ends. */
static size_t line_end(const pr_document *d, size_t at)
{
    const char *end = memchr(d->text + at, '\n', d->size - at);
    return end == NULL ? d->size : (size_t)(end - d->text) + 1;
}

/* The entry that begins at or after s->end; false: none. */
static bool next_slice(const pr_document *d, slice *s)
{
    size_t at = s->end;
    s->line = s->next_line == 0 ? 1 : s->next_line;
    for (; at < d->size && !starts_entry(d->text[at]); s->line++)
        at = line_end(d, at);
    if (at >= d->size)
        return false;
    s->start = at;
    const size_t length = strcspn(d->text + at, ":\n");
    const size_t kept = length < PR_KEY_MAX ? length : PR_KEY_MAX - 1;
    memcpy(s->name, d->text + at, kept);
    s->name[kept] = '\0';
    s->next_line = s->line;
    do {
        at = line_end(d, at);
        s->next_line++;
    } while (at < d->size && !starts_entry(d->text[at]));
    s->end = at;
    return true;
}

/* Loads the single file of a kind once. */
static pr_status load_file(pr_catalogue *c, int kind, pr_diag *diag)
{
    if (c->file_state[kind] != 0)
        return c->file_state[kind] > 0 ? PR_OK : PR_ERR_INPUT;
    char path[PR_PATH_MAX];
    pr_status status = PR_ERR_INPUT;
    if (join(path, c->folder, pr_catalogue_kinds[kind].place, ""))
        status = pr_document_load(&c->file[kind], path, max_bytes(c), diag);
    c->file_state[kind] = status == PR_OK ? 1 : -1;
    return status;
}

static int compare_names(const void *a, const void *b)
{
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* Names of a folder's entries, sorted, as a growing array that the caller frees. */
static pr_status folder_names(const char *folder, char ***names, size_t *count)
{
    DIR *dir = opendir(folder);
    *names = NULL;
    *count = 0;
    if (dir == NULL)
        return PR_ERR_IO;
    pr_status status = PR_OK;
    size_t room = 0;
    for (struct dirent *entry; status == PR_OK && (entry = readdir(dir)) != NULL;) {
        const size_t n = strlen(entry->d_name);
        if (entry->d_name[0] == '.' || n <= 5 || strcmp(entry->d_name + n - 5, ".yaml") != 0)
            continue;
        if (*count == room) {
            room = room == 0 ? 32 : 2 * room;
            char **grown = realloc(*names, room * sizeof **names);
            if (grown == NULL) {
                status = PR_ERR_NOMEM;
                break;
            }
            *names = grown;
        }
        char *name = strndup(entry->d_name, n - 5);
        if (name == NULL)
            status = PR_ERR_NOMEM;
        else
            (*names)[(*count)++] = name;
    }
    closedir(dir);
    if (*count > 1)
        qsort(*names, *count, sizeof **names, compare_names);
    return status;
}

static pr_status names_of_folder(pr_catalogue *c, size_t kind, pr_catalogue_name_fn fn,
                                 void *context, pr_diag *diag)
{
    char folder[PR_PATH_MAX], path[2 * PR_PATH_MAX];
    char **names;
    size_t count;
    if (!join(folder, c->folder, pr_catalogue_kinds[kind].place, ""))
        return PR_ERR_IO;
    pr_status status = folder_names(folder, &names, &count);
    if (status == PR_ERR_IO)
        pr_diag_add(diag, PR_ERROR, (pr_place){folder, 0, 0}, "cannot be opened: %s",
                    strerror(errno));
    bool go_on = status == PR_OK;
    for (size_t i = 0; i < count; i++) {
        snprintf(path, sizeof path, "%s/%s.yaml", folder, names[i]);
        go_on = go_on && fn(context, names[i], path, 1);
        free(names[i]);
    }
    free(names);
    return status == PR_ERR_IO ? PR_ERR_INPUT : status;
}

pr_status pr_catalogue_names(pr_catalogue *c, size_t kind, pr_catalogue_name_fn fn, void *context,
                             pr_diag *diag)
{
    if (!locate(c, (pr_place){NULL, 0, 0}, diag))
        return PR_ERR_IO;
    if (pr_catalogue_kinds[kind].is_folder)
        return names_of_folder(c, kind, fn, context, diag);
    const pr_status status = load_file(c, (int)kind, diag);
    if (status != PR_OK)
        return status;
    char path[PR_PATH_MAX];
    slice s = {0};
    if (!join(path, c->folder, pr_catalogue_kinds[kind].place, ""))
        return PR_ERR_IO;
    while (next_slice(&c->file[kind], &s) && fn(context, s.name, path, s.line))
        continue;
    return PR_OK;
}

/* The nearest of all names that were seen; of several that are as near, and near, the first. */
enum { NEAREST_MAX = 3 };
typedef struct nearest_name {
    const char *wanted;
    char name[NEAREST_MAX][PR_KEY_MAX];
    size_t n, distance;
} nearest_name;

static bool look_nearer(void *context, const char *name, const char *file, size_t line)
{
    (void)file;
    (void)line;
    nearest_name *nearest = context;
    const size_t distance = pr_name_distance(nearest->wanted, name);
    if (distance < nearest->distance)
        nearest->n = 0;
    else if (distance > nearest->distance || distance > 1 || nearest->n == NEAREST_MAX)
        return true;
    nearest->distance = distance;
    snprintf(nearest->name[nearest->n++], PR_KEY_MAX, "%s", name);
    return true;
}

static void say_unknown(pr_catalogue *c, int kind, const char *name, pr_place at, pr_diag *diag)
{
    nearest_name nearest = {.wanted = name, .distance = 1000};
    pr_catalogue_names(c, (size_t)kind, look_nearer, &nearest, diag);
    const char *what = pr_catalogue_kinds[kind].name;
    char names[NEAREST_MAX * (PR_KEY_MAX + 8)] = "";
    for (size_t i = 0; i < nearest.n; i++) {
        const size_t used = strlen(names);
        snprintf(names + used, sizeof names - used, "%s\"%s\"",
                 i == 0               ? ""
                 : i + 1 == nearest.n ? " or "
                                      : ", ",
                 nearest.name[i]);
    }
    if (nearest.n > 0 && nearest.distance <= 2 + strlen(name) / 2)
        pr_diag_add(diag, PR_ERROR, at,
                    "the catalogue has no %s \"%.60s\", nearest is %s (`models` lists them)", what,
                    name, names);
    else
        pr_diag_add(diag, PR_ERROR, at,
                    "the catalogue has no %s \"%.60s\" (`models` lists what there is)", what, name);
}

/* Parses the file of an entry in a folder. */
static const pr_node *find_in_folder(pr_catalogue *c, int kind, const char *canonical,
                                     const char *name, pr_place at, pr_diag *diag,
                                     pr_status *status)
{
    char folder[PR_PATH_MAX], path[PR_PATH_MAX];
    *status = PR_ERR_INPUT;
    if (!join(folder, c->folder, pr_catalogue_kinds[kind].place, "") ||
        !join(path, folder, canonical, ".yaml"))
        return NULL;
    FILE *probe = fopen(path, "re");
    if (probe == NULL && errno == ENOENT) {
        say_unknown(c, kind, name, at, diag);
        return NULL;
    }
    if (probe != NULL)
        fclose(probe);
    *status = pr_document_load(&c->entries, path, max_bytes(c), diag);
    if (*status == PR_OK)
        *status = pr_document_parse(&c->entries, path, 0, c->entries.size, 1, diag);
    return *status == PR_OK ? c->entries.root : NULL;
}

static bool find_slice(const pr_document *d, const char *canonical, slice *s)
{
    *s = (slice){0};
    while (next_slice(d, s)) {
        char name[PR_KEY_MAX];
        if (pr_name_canonical(s->name, name, sizeof name) && strcmp(name, canonical) == 0)
            return true;
    }
    return false;
}

static const pr_node *find_in_file(pr_catalogue *c, int kind, const char *canonical,
                                   const char *name, pr_place at, pr_diag *diag, pr_status *status)
{
    *status = load_file(c, kind, diag);
    if (*status != PR_OK)
        return NULL;
    slice s;
    pr_document *file = &c->file[kind];
    if (!find_slice(file, canonical, &s)) {
        say_unknown(c, kind, name, at, diag);
        *status = PR_ERR_INPUT;
        return NULL;
    }
    char path[PR_PATH_MAX];
    *status = PR_ERR_IO;
    if (!join(path, c->folder, pr_catalogue_kinds[kind].place, ""))
        return NULL;
    *status = pr_document_parse(file, path, s.start, s.end, s.line, diag);
    if (*status != PR_OK)
        return NULL;
    const pr_node *entry = file->root->first;
    if (entry == NULL || entry->kind != PR_NODE_MAP) {
        pr_diag_add(diag, PR_ERROR, pr_node_place(file->root), "an entry must be a map of keys");
        *status = PR_ERR_INPUT;
        return NULL;
    }
    return entry;
}

static const pr_node *look_up(const pr_catalogue *c, int kind, const char *canonical)
{
    for (const pr_catalogue_found *f = c->found; f != NULL; f = f->next)
        if (f->kind == kind && strcmp(f->name, canonical) == 0)
            return f->node;
    return NULL;
}

/* Keeps an entry for the next who asks; one that finds no memory is parsed again. */
static void remember(pr_catalogue *c, int kind, const char *canonical, const pr_node *node)
{
    pr_catalogue_found *f = pr_document_alloc(&c->entries, sizeof *f);
    if (f == NULL)
        return;
    *f = (pr_catalogue_found){.next = c->found, .kind = kind, .node = node};
    memcpy(f->name, canonical, strlen(canonical) + 1);
    c->found = f;
}

const pr_node *pr_catalogue_find(pr_catalogue *c, const char *kind, const char *name, pr_place at,
                                 pr_diag *diag, pr_status *status)
{
    const int k = kind_index(kind);
    char canonical[PR_KEY_MAX];
    *status = k < 0 ? PR_ERR_INTERNAL : PR_ERR_INPUT;
    if (k < 0 || !locate(c, at, diag))
        return NULL;
    /* only letters, digits and '-' are left, so a name cannot lead out of the folder */
    if (!pr_name_canonical(name, canonical, sizeof canonical)) {
        pr_diag_add(diag, PR_ERROR, at, "\"%.60s\" is no name of a %s", name, kind);
        return NULL;
    }
    const pr_node *node = look_up(c, k, canonical);
    if (node != NULL) {
        *status = PR_OK;
        return node;
    }
    node = pr_catalogue_kinds[k].is_folder ? find_in_folder(c, k, canonical, name, at, diag, status)
                                           : find_in_file(c, k, canonical, name, at, diag, status);
    if (node != NULL)
        remember(c, k, canonical, node);
    return node;
}

pr_status pr_catalogue_text(pr_catalogue *c, size_t kind, const char *name, const char **text,
                            size_t *size, pr_diag *diag)
{
    char canonical[PR_KEY_MAX], folder[PR_PATH_MAX], path[PR_PATH_MAX];
    if (!locate(c, (pr_place){NULL, 0, 0}, diag))
        return PR_ERR_IO;
    if (!pr_name_canonical(name, canonical, sizeof canonical))
        return PR_ERR_INPUT;
    if (!pr_catalogue_kinds[kind].is_folder) {
        slice s;
        pr_status status = load_file(c, (int)kind, diag);
        if (status != PR_OK || !find_slice(&c->file[kind], canonical, &s))
            return status == PR_OK ? PR_ERR_INPUT : status;
        *text = c->file[kind].text + s.start;
        *size = s.end - s.start;
        return PR_OK;
    }
    if (!join(folder, c->folder, pr_catalogue_kinds[kind].place, "") ||
        !join(path, folder, canonical, ".yaml"))
        return PR_ERR_INPUT;
    FILE *probe = fopen(path, "re");
    if (probe == NULL)
        return PR_ERR_INPUT;
    fclose(probe);
    const pr_status status = pr_document_load(&c->entries, path, max_bytes(c), diag);
    *text = c->entries.text;
    *size = c->entries.size;
    return status;
}
