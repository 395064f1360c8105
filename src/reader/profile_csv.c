/* Measured log of the winch current: a CSV file with the columns time_s and current_A, others are
 * passed over. It is read line by line whatever its size. Kept are the time, the current and the
 * charge since the start of every line, or, when these do not fit any more, of every second, fourth
 * ... line. In the end the currents of a thinned log are the means between the lines kept, I = (Q2
 * - Q1)/(t2 - t1) at (t1 + t2)/2, and those of the first and last piece at its ends, so that the
 * charge stays what was measured. */
#include "reader/reading.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

enum { LINE_MAX_BYTES = 1024, COLUMNS_MAX = 64, ERRORS_MAX = 10 };

typedef struct log_reader {
    pr_reader *r;
    FILE *file;
    char path[PR_PATH_MAX];
    char line[LINE_MAX_BYTES];
    size_t line_number, errors;
    int time_column, current_column;
    double *time_s, *current_A, *charge_As; /* PR_DEMAND_PROFILE_MAX each */
    size_t n, rows, stride;                 /* every stride-th row is kept */
    double first_s, last_s, last_A, last_As;
} log_reader;

static void complain(log_reader *log, size_t column, const char *text, const char *cell)
{
    log->errors++;
    pr_reader_error(log->r, (pr_place){log->path, log->line_number, column}, "%s%s%.40s%s", text,
                    cell[0] == '\0' ? "" : ": \"", cell, cell[0] == '\0' ? "" : "\"");
}

/* Next line without its end; false at the end of the file. A line too long or with a zero byte is a
 * mistake and ends the reading. */
static bool next_line(log_reader *log)
{
    size_t n = 0;
    int c;
    log->line_number++;
    while ((c = getc_unlocked(log->file)) != EOF && c != '\n') {
        if (c == '\0' || n + 1 >= sizeof log->line) {
            complain(log, n + 1, c == '\0' ? "a zero byte: this is no text file" : "line too long",
                     "");
            log->errors = ERRORS_MAX;
            return false;
        }
        log->line[n++] = (char)c;
    }
    if (n > 0 && log->line[n - 1] == '\r')
        n--;
    log->line[n] = '\0';
    return c != EOF || n > 0;
}

/* Start of cell k in the line and its length; NULL when there are fewer. */
static const char *cell_at(const char *line, int k, size_t *length)
{
    for (; k > 0; k--) {
        line = strchr(line, ',');
        if (line == NULL)
            return NULL;
        line++;
    }
    line += strspn(line, " \t\"");
    *length = strcspn(line, ",");
    while (*length > 0 && strchr(" \t\"", line[*length - 1]) != NULL)
        --*length;
    return line;
}

static bool read_head(log_reader *log)
{
    log->time_column = log->current_column = -1;
    if (!next_line(log)) {
        if (log->errors == 0)
            complain(log, 1, "the file is empty", "");
        return false;
    }
    const char *line = strncmp(log->line, "\xef\xbb\xbf", 3) == 0 ? log->line + 3 : log->line;
    size_t length;
    const char *cell;
    for (int k = 0; k < COLUMNS_MAX && (cell = cell_at(line, k, &length)) != NULL; k++) {
        if (length == 6 && strncmp(cell, "time_s", 6) == 0)
            log->time_column = k;
        if (length == 9 && strncmp(cell, "current_A", 9) == 0)
            log->current_column = k;
    }
    if (log->time_column >= 0 && log->current_column >= 0)
        return true;
    complain(log, 1, "the first line must name the columns time_s and current_A", log->line);
    return false;
}

static bool read_number(log_reader *log, int column, double low, double high, const char *range,
                        double *value)
{
    size_t length = 0;
    const char *cell = cell_at(log->line, column, &length), *end;
    if (cell == NULL) {
        complain(log, strlen(log->line) + 1, "the line has too few columns", "");
        return false;
    }
    char text[PR_QUANTITY_TEXT_MAX] = "";
    memcpy(text, cell, length < sizeof text ? length : sizeof text - 1);
    const size_t at = (size_t)(cell - log->line) + 1;
    if (length >= sizeof text || !pr_number_scan(text, &end, value) || *end != '\0') {
        complain(log, at, "not a number", text);
        return false;
    }
    if (*value >= low && *value <= high)
        return true;
    complain(log, at, range, text);
    return false;
}

static void keep_row(log_reader *log)
{
    log->time_s[log->n] = log->last_s;
    log->current_A[log->n] = log->last_A;
    log->charge_As[log->n++] = log->last_As;
}

/* Forgets every second of the rows kept. */
static void thin(log_reader *log)
{
    size_t k = 0;
    for (size_t i = 0; i < log->n; i += 2, k++) {
        log->time_s[k] = log->time_s[i];
        log->current_A[k] = log->current_A[i];
        log->charge_As[k] = log->charge_As[i];
    }
    log->n = k;
    log->stride *= 2;
}

/* Means between the rows kept, in place of the currents at them: one point more. */
static void average(log_reader *log)
{
    const double end_s = log->last_s;
    double before_s = log->time_s[0], before_As = log->charge_As[0], mean_A = 0.0;
    for (size_t i = 1; i < log->n; i++) {
        const double at_s = log->time_s[i], at_As = log->charge_As[i];
        mean_A = (at_As - before_As) / (at_s - before_s);
        log->time_s[i] = 0.5 * (before_s + at_s);
        log->current_A[i] = mean_A;
        before_s = at_s;
        before_As = at_As;
    }
    log->current_A[0] = log->current_A[1];
    log->time_s[log->n] = end_s;
    log->current_A[log->n++] = mean_A;
}

/* The rows are all read: the last one belongs to the profile whatever the stride. */
static void finish(log_reader *log)
{
    if (log->time_s[log->n - 1] < log->last_s)
        keep_row(log);
    if (log->stride > 1)
        average(log);
}

static void take_row(log_reader *log)
{
    double time_s, current_A;
    const bool has_time =
        read_number(log, log->time_column, -1e9, 1e9, "time beyond 1e9 s", &time_s);
    const bool has_current = read_number(log, log->current_column, 0.0, 2000.0,
                                         "current outside 0 .. 2000 A", &current_A);
    if (!has_time || !has_current)
        return;
    if (log->rows > 0 && !(time_s - log->first_s > log->last_s)) {
        size_t length = 0;
        const char *cell = cell_at(log->line, log->time_column, &length);
        const size_t at = (size_t)(cell - log->line);
        log->line[at + length] = '\0'; /* the line is done with */
        complain(log, at + 1, "the time does not rise", cell);
        return;
    }
    if (log->rows == 0)
        log->first_s = time_s;
    const double before_s = log->last_s;
    log->last_s = time_s - log->first_s;
    if (log->rows > 0)
        log->last_As += 0.5 * (log->last_A + current_A) * (log->last_s - before_s);
    log->last_A = current_A;
    /* room for the last row and for the point that averaging adds */
    if (log->rows++ % log->stride == 0) {
        keep_row(log);
        if (log->n == PR_DEMAND_PROFILE_MAX - 2)
            thin(log);
    }
}

/* Path of the log beside the scenario file. */
static bool locate(log_reader *log, const char *path)
{
    const char *scenario = log->r->scenario->path, *slash = strrchr(scenario, '/');
    int n;
    if (path[0] == '/' || slash == NULL)
        n = snprintf(log->path, sizeof log->path, "%s", path);
    else
        n = snprintf(log->path, sizeof log->path, "%.*s/%s", (int)(slash - scenario), scenario,
                     path);
    return n >= 0 && (size_t)n < sizeof log->path;
}

static FILE *open_log(log_reader *log)
{
    struct stat info;
    const int fd = open(log->path, O_RDONLY | O_NONBLOCK | O_CLOEXEC);
    if (fd < 0 || fstat(fd, &info) != 0 || !S_ISREG(info.st_mode)) {
        pr_reader_error(log->r, (pr_place){log->path, 0, 0}, "cannot be opened: %s",
                        fd < 0 ? strerror(errno) : "is no plain file");
        if (fd >= 0)
            close(fd);
        return NULL;
    }
    FILE *file = fdopen(fd, "r");
    if (file == NULL)
        close(fd);
    log->r->out_of_memory = log->r->out_of_memory || file == NULL;
    return file;
}

static bool read_rows(log_reader *log)
{
    if (!read_head(log))
        return false;
    while (log->errors < ERRORS_MAX && next_line(log))
        if (log->line[strspn(log->line, " \t")] != '\0')
            take_row(log);
    if (ferror(log->file))
        complain(log, 0, "cannot be read", strerror(errno));
    if (log->errors == 0 && log->n < 2)
        complain(log, 1, "at least two lines of numbers are wanted", "");
    if (log->errors == 0)
        finish(log);
    return log->errors == 0;
}

bool pr_profile_read(pr_reader *r, const char *path, pr_place place)
{
    log_reader log = {.r = r, .stride = 1};
    if (!locate(&log, path)) {
        pr_reader_error(r, place, "recovery.profile: the path is too long");
        return false;
    }
    /* times, currents, and the charges while reading: one block that the scenario owns */
    double *memory = calloc(3 * (size_t)PR_DEMAND_PROFILE_MAX, sizeof *memory);
    log.file = memory == NULL ? NULL : open_log(&log);
    if (log.file == NULL) {
        r->out_of_memory = r->out_of_memory || memory == NULL;
        free(memory);
        return false;
    }
    log.time_s = memory;
    log.current_A = memory + PR_DEMAND_PROFILE_MAX;
    log.charge_As = log.current_A + PR_DEMAND_PROFILE_MAX;
    const bool sound = read_rows(&log);
    fclose(log.file);
    if (!sound) {
        free(memory);
        return false;
    }
    if (log.stride > 1)
        pr_diag_add(r->diag, PR_NOTE, place, "recovery.profile: %zu lines averaged into %zu points",
                    log.rows, log.n);
    free(r->scenario->profile);
    r->scenario->profile = memory;
    r->scenario->system.profile_s = log.time_s;
    r->scenario->system.profile_A = log.current_A;
    r->scenario->system.n_profile = (int)log.n;
    return true;
}
