/* Diagnostics: see diag.h. Texts come from files that nobody vouches for, so everything that is
 * kept is bounded, and everything that is printed is free of control characters. */
#include "base/diag.h"
#include "base/utf8.h"

#include <stdarg.h>
#include <stdlib.h>
#include <string.h>

enum { TEXT_MAX = 1000, FIRST_CAPACITY = 8 };

pr_diag pr_diag_init(void)
{
    return (pr_diag){0};
}

void pr_diag_free(pr_diag *diag)
{
    for (size_t i = 0; i < diag->count; i++) {
        free(diag->entries[i].file);
        free(diag->entries[i].text);
    }
    free(diag->entries);
    *diag = pr_diag_init();
}

/* Length in bytes of the printable character at text; 0 if it is a control character (C0, delete,
 * C1) or no well-formed UTF-8. */
static size_t printable_length(const char *text)
{
    uint32_t code;
    const size_t n = pr_utf8_decode(text, &code);
    return n == 0 || code < 0x20 || (code >= 0x7f && code < 0xa0) ? 0 : n;
}

/* Copies `from` into `to` (`room` bytes, at least 4) with unprintable bytes as \xNN; what does not
 * fit is replaced by "...". */
static void copy_printable(char *to, size_t room, const char *from)
{
    static const char digits[] = "0123456789abcdef";
    size_t used = 0, safe = 0; /* safe: where "..." still fits */
    while (*from != '\0') {
        const size_t n = printable_length(from);
        const size_t need = n == 0 ? 4 : n;
        if (used + need + 1 > room) {
            memcpy(to + safe, "...", 4);
            return;
        }
        if (n == 0) {
            const unsigned char byte = (unsigned char)*from;
            const char hex[4] = {'\\', 'x', digits[byte >> 4], digits[byte & 15]};
            memcpy(to + used, hex, 4);
            from += 1;
        } else {
            memcpy(to + used, from, n);
            from += n;
        }
        used += need;
        if (used + 4 <= room)
            safe = used;
    }
    to[used] = '\0';
}

static char *copy_text(const char *text)
{
    const size_t size = strlen(text) + 1;
    char *copy = malloc(size);
    if (copy != NULL)
        memcpy(copy, text, size);
    return copy;
}

static int reserve_entry(pr_diag *diag)
{
    if (diag->count < diag->capacity)
        return 1;
    const size_t capacity = diag->capacity == 0 ? FIRST_CAPACITY : 2 * diag->capacity;
    pr_diag_entry *entries = realloc(diag->entries, capacity * sizeof *entries);
    if (entries == NULL)
        return 0;
    diag->entries = entries;
    diag->capacity = capacity;
    return 1;
}

void pr_diag_add(pr_diag *diag, pr_severity severity, pr_place place, const char *format, ...)
{
    if (severity == PR_ERROR)
        diag->errors++;
    else if (severity == PR_WARNING)
        diag->warnings++;
    else
        diag->notes++;
    if (diag->count >= PR_DIAG_MAX)
        return;

    char raw[TEXT_MAX + 4], shown[TEXT_MAX];
    va_list arguments;
    va_start(arguments, format);
    const int length = vsnprintf(raw, sizeof raw, format, arguments);
    va_end(arguments);
    if (length < 0)
        copy_printable(shown, sizeof shown, "(the message could not be formatted)");
    else
        copy_printable(shown, sizeof shown, raw);

    pr_diag_entry entry = {.severity = severity, .line = place.line, .column = place.column};
    entry.text = copy_text(shown);
    entry.file = place.file == NULL ? NULL : copy_text(place.file);
    if (entry.text == NULL || (place.file != NULL && entry.file == NULL) || !reserve_entry(diag)) {
        free(entry.text);
        free(entry.file);
        diag->out_of_memory = 1;
        return;
    }
    diag->entries[diag->count++] = entry;
}

/* Order of printing: file (those without one first), line, column. */
static int compare_places(const pr_diag_entry *a, const pr_diag_entry *b)
{
    if (a->file == NULL || b->file == NULL) {
        if (a->file != b->file)
            return a->file == NULL ? -1 : 1;
    } else {
        const int order = strcmp(a->file, b->file);
        if (order != 0)
            return order;
    }
    if (a->line != b->line)
        return a->line < b->line ? -1 : 1;
    if (a->column != b->column)
        return a->column < b->column ? -1 : 1;
    return 0;
}

/* Fills order[] with the indices of the entries, sorted; of equal places the first added comes
 * first. Insertion keeps that, and at PR_DIAG_MAX entries costs nothing that matters. */
static void sort_entries(const pr_diag *diag, size_t order[PR_DIAG_MAX])
{
    for (size_t i = 0; i < diag->count; i++) {
        size_t k = i;
        for (; k > 0 && compare_places(&diag->entries[order[k - 1]], &diag->entries[i]) > 0; k--)
            order[k] = order[k - 1];
        order[k] = i;
    }
}

static const char *severity_text(pr_severity severity)
{
    switch (severity) {
    case PR_NOTE:
        return "note";
    case PR_WARNING:
        return "warning";
    case PR_ERROR:
        break;
    }
    return "error";
}

static void print_entry(const pr_diag_entry *entry, FILE *out)
{
    if (entry->file != NULL) {
        char file[TEXT_MAX];
        copy_printable(file, sizeof file, entry->file);
        fprintf(out, "%s:", file);
    }
    if (entry->line > 0)
        fprintf(out, "%zu:", entry->line);
    if (entry->line > 0 && entry->column > 0)
        fprintf(out, "%zu:", entry->column);
    if (entry->file != NULL || entry->line > 0)
        fputc(' ', out);
    fprintf(out, "%s: %s\n", severity_text(entry->severity), entry->text);
}

void pr_diag_print(const pr_diag *diag, FILE *out)
{
    pr_diag_print_from(diag, PR_NOTE, out);
}

void pr_diag_print_from(const pr_diag *diag, pr_severity least, FILE *out)
{
    size_t order[PR_DIAG_MAX];
    sort_entries(diag, order);
    for (size_t i = 0; i < diag->count; i++)
        if (diag->entries[order[i]].severity >= least)
            print_entry(&diag->entries[order[i]], out);
    const size_t added = diag->errors + diag->warnings + diag->notes;
    if (added > diag->count)
        fprintf(out, "and %zu more message%s\n", added - diag->count,
                added - diag->count == 1 ? "" : "s");
}
