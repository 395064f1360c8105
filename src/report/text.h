/* Small pieces of text for people: numbers, durations, wrapped sentences, names made safe.
 *
 * A pr_text is returned by value, so that pieces can stand as arguments of one printf. Numbers use
 * the comma for thousands and the point for decimals whatever the locale; LC_NUMERIC must be "C",
 * which is how a program starts. */
#ifndef PR_REPORT_TEXT_H
#define PR_REPORT_TEXT_H

#include <stdbool.h>
#include <stddef.h>
#include <stdio.h>

enum { PR_TEXT_BYTES = 96 };
typedef struct pr_text {
    char s[PR_TEXT_BYTES];
} pr_text;

/* "1,600", "12.7", "-0.5"; "-" when value is not a number, "unlimited" when +infinite. */
pr_text pr_text_number(double value, int decimals);

/* To the second: "45 s", "2 min 10 s", "1 h 02 min"; "-" for NaN. */
pr_text pr_text_duration(double seconds);

/* To what matters in a total: under 10 min as above, else whole minutes: "38 min", "1 h 05 min". */
pr_text pr_text_duration_rough(double seconds);

/* "0:00", "12:05", "1:02:05": time on a stop watch. */
pr_text pr_text_clock(double seconds);

/* "72 %" of a fraction. */
pr_text pr_text_percent(double frac, int decimals);

/* "once", "twice", "14 times". */
pr_text pr_text_times(size_t count);

/* Copies text with control characters and broken UTF-8 as \xNN, so that a name from a file cannot
 * drive a terminal; what does not fit ends in "...". size >= 8. */
void pr_text_printable(char *to, size_t size, const char *from);

/* Appends to a text in a buffer of `size` bytes (>= 8). What does not fit ends in "..." for all to
 * see, and false tells it. */
bool pr_text_append(char *text, size_t size, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Columns that UTF-8 text takes (one per character; our texts hold no wide or joining ones). */
size_t pr_text_columns(const char *text);

/* Prints text wrapped at `width` columns: `first` before the first line, `rest` blanks before the
 * others. Ends with a new line. */
void pr_text_wrap(FILE *out, const char *text, size_t width, const char *first, size_t rest);

/* Copies text with a new line instead of a blank wherever a line would grow beyond `width`. */
void pr_text_fold(char *to, size_t size, const char *text, size_t width);

#endif
