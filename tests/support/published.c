/* Checks against published rows: see published.h. */
#include "support/published.h"
#include "support/check.h"
#include "support/tsv.h"

#include <dirent.h>
#include <fcntl.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

enum { ROW_TEXT_MAX = 400 };

typedef struct published_row {
    char expected[ROW_TEXT_MAX], tolerance[ROW_TEXT_MAX], known[ROW_TEXT_MAX];
    char source[ROW_TEXT_MAX];
} published_row;

/* One number at *text, which is moved behind it and the spaces that follow. */
static int scan_number(const char **text, double *value)
{
    char *end;
    *value = strtod(*text, &end);
    if (end == *text || !isfinite(*value))
        return 0;
    *text = end + strspn(end, " ");
    return 1;
}

static int scan_range(const char *text, pr_published_band *band)
{
    /* strtod takes the first point of "1..2" for a decimal point, so the text is cut before it */
    const char *dots = strstr(text, "..");
    char first[64];
    if (dots == NULL || (size_t)(dots - text) >= sizeof first)
        return 0;
    memcpy(first, text, (size_t)(dots - text));
    first[dots - text] = '\0';
    const char *low = first, *high = dots + 2;
    return scan_number(&low, &band->low) && *low == '\0' && scan_number(&high, &band->high) &&
           *high == '\0' && band->low <= band->high;
}

static const char *parse_tolerance(double expected, const char *tolerance, pr_published_band *band)
{
    double size;
    const char *text = tolerance;
    *band = (pr_published_band){expected, expected};
    if (strcmp(text, ">=") == 0) {
        band->high = HUGE_VAL;
        return NULL;
    }
    if (strcmp(text, "<=") == 0) {
        band->low = -HUGE_VAL;
        return NULL;
    }
    if (strstr(text, "..") != NULL)
        return scan_range(text, band) ? NULL : "the tolerance is no range a..b";
    if (strcmp(text, "exact") == 0) {
        size = expected != 0.0 ? 1e-9 * fabs(expected) : 1e-9;
    } else {
        if (!scan_number(&text, &size) || !(size >= 0.0))
            return "the tolerance is neither a number, nor a range, nor exact, >= or <=";
        if (strcmp(text, "%") == 0)
            size *= 0.01 * fabs(expected);
        else if (*text != '\0' && strcmp(text, "pt") != 0)
            return "the tolerance has a unit: give it in the unit of the expected number";
    }
    /* a number just at the edge is inside, whatever its binary rounding */
    size += 1e-12 * (fabs(expected) + size);
    band->low -= size;
    band->high += size;
    return NULL;
}

const char *pr_published_parse(const char *expected, const char *tolerance, pr_published_band *band)
{
    const int at_least = strncmp(expected, ">=", 2) == 0;
    const int at_most = strncmp(expected, "<=", 2) == 0;
    const char *text = expected + (at_least || at_most ? 2 : 0);
    const int range = strstr(expected, "..") != NULL;
    double value;
    if ((at_least || at_most || range) && *tolerance != '\0')
        return "a limit or range in 'expected' takes no tolerance";
    if (range)
        return scan_range(expected, band) ? NULL : "'expected' is no range a..b";
    if (!scan_number(&text, &value) || *text != '\0')
        return "'expected' is no number, range or limit";
    if (at_least || at_most)
        return parse_tolerance(value, at_least ? ">=" : "<=", band);
    return parse_tolerance(value, tolerance, band);
}

static void keep_text(char to[ROW_TEXT_MAX], const char *from)
{
    snprintf(to, ROW_TEXT_MAX, "%s", from);
}

/* Looks for the row in one table; `known` is a column that a table may lack. */
static int find_in_table(const char *path, const char *id, published_row *row)
{
    pr_tsv table = pr_tsv_read(path);
    int found = 0;
    for (size_t i = 0; i < table.count; i++) {
        if (strcmp(pr_tsv_cell(&table, i, "id"), id) != 0)
            continue;
        found++;
        keep_text(row->expected, pr_tsv_cell(&table, i, "expected"));
        keep_text(row->tolerance, pr_tsv_cell(&table, i, "tolerance"));
        keep_text(row->source, pr_tsv_cell(&table, i, "source"));
        row->known[0] = '\0';
        for (size_t k = 0; k < table.names.count; k++)
            if (strcmp(table.names.cells[k], "known") == 0)
                keep_text(row->known, pr_tsv_cell(&table, i, "known"));
    }
    pr_tsv_free(&table);
    return found;
}

static published_row find_row(const char *id)
{
    const char *folder = getenv("PR_PUBLISHED_DIR");
    if (folder == NULL)
        folder = PR_PUBLISHED_DIR;
    DIR *dir = opendir(folder);
    if (dir == NULL)
        fail_msg("cannot open the folder %s", folder);
    published_row row = {{0}};
    int found = 0;
    for (const struct dirent *entry = readdir(dir); entry != NULL; entry = readdir(dir)) {
        const size_t length = strlen(entry->d_name);
        if (entry->d_name[0] == '.' || length < 4 ||
            strcmp(entry->d_name + length - 4, ".tsv") != 0)
            continue;
        char path[4096];
        snprintf(path, sizeof path, "%s/%s", folder, entry->d_name);
        found += find_in_table(path, id, &row);
    }
    closedir(dir);
    if (found != 1)
        fail_msg("%d rows have the id %s in %s", found, id, folder);
    return row;
}

/* One write to a file opened for appending, so that tests that run at once do not mix their lines.
 */
static void record_result(const char *id, double got, const char *verdict, pr_published_band band)
{
    const char *path = getenv("PR_PUBLISHED_RESULTS");
    if (path == NULL || *path == '\0')
        return;
    char line[1024];
    const int length = snprintf(line, sizeof line, "%s\t%.9g\t%s\t%.9g\t%.9g\n", id, got, verdict,
                                band.low, band.high);
    assert_in_range(length, 1, sizeof line - 1);
    const int file = open(path, O_WRONLY | O_CREAT | O_APPEND, 0666);
    if (file < 0 || write(file, line, (size_t)length) != length || close(file) != 0)
        fail_msg("cannot write %s", path);
}

void pr_published_check(const char *id, double got)
{
    const published_row row = find_row(id);
    pr_published_band band;
    const char *mistake = pr_published_parse(row.expected, row.tolerance, &band);
    if (mistake != NULL)
        fail_msg("row %s: %s", id, mistake);
    const int met = got >= band.low && got <= band.high;
    const int known = row.known[0] != '\0';
    record_result(id, got, met ? (known ? "unmark" : "pass") : (known ? "known" : "fail"), band);
    if (met && known)
        fail_msg("row %s is met now (got %.6g): remove its mark of a known disagreement", id, got);
    if (!met && !known)
        fail_msg("row %s: got %.6g, expected %s (tolerance %s), by %s", id, got, row.expected,
                 row.tolerance[0] != '\0' ? row.tolerance : "none", row.source);
    if (!met)
        print_message("known disagreement %s: got %.6g, expected %s: %s\n", id, got, row.expected,
                      row.known);
}

double pr_published_expected(const char *id)
{
    const published_row row = find_row(id);
    const char *text = row.expected;
    double value = 0.0;
    if (!scan_number(&text, &value) || *text != '\0')
        fail_msg("row %s: '%s' is not one number", id, row.expected);
    return value;
}
