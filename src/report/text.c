/* Small pieces of text: see text.h. */
#include "report/text.h"

#include "base/utf8.h"

#include <ctype.h>
#include <math.h>
#include <stdarg.h>
#include <stdbool.h>
#include <string.h>

enum { MINUTE_s = 60, HOUR_s = 3600, LONGEST_s = 1000 * HOUR_s };

static pr_text no_value(double value)
{
    pr_text text = {"-"}; /* minus infinity is the largest of no values: none */
    if (isinf(value) && value > 0.0)
        snprintf(text.s, sizeof text.s, "unlimited");
    return text;
}

/* Puts a comma before every third digit of the whole part, counted from its end. */
static void group_thousands(char *to, size_t size, const char *from)
{
    const size_t sign = from[0] == '-' ? 1 : 0;
    const size_t whole = strcspn(from + sign, ".") + sign;
    size_t used = 0;
    for (size_t i = 0; from[i] != '\0' && used + 2 < size; i++) {
        if (i > sign && i < whole && (whole - i) % 3 == 0)
            to[used++] = ',';
        to[used++] = from[i];
    }
    to[used] = '\0';
}

pr_text pr_text_number(double value, int decimals)
{
    if (!isfinite(value))
        return no_value(value);
    pr_text text = {""};
    char plain[PR_TEXT_BYTES];
    if (fabs(value) >= 1e15) { /* no ruler reads this; keep it short */
        snprintf(text.s, sizeof text.s, "%.3g", value);
        return text;
    }
    snprintf(plain, sizeof plain, "%.*f", decimals, value);
    /* a negative number that rounds to nothing is nothing */
    const char *digits = plain;
    if (plain[0] == '-' && strspn(plain + 1, "0.") == strlen(plain + 1))
        digits = plain + 1;
    group_thousands(text.s, sizeof text.s, digits);
    return text;
}

/* Hours and minutes; seconds must be a whole number of minutes. */
static pr_text hours_minutes(long seconds)
{
    pr_text text;
    if (seconds >= HOUR_s)
        snprintf(text.s, sizeof text.s, "%ld h %02ld min", seconds / HOUR_s,
                 seconds % HOUR_s / MINUTE_s);
    else
        snprintf(text.s, sizeof text.s, "%ld min", seconds / MINUTE_s);
    return text;
}

static long round_to(double seconds, long step)
{
    return step * lround(seconds / (double)step);
}

pr_text pr_text_duration(double seconds)
{
    if (!isfinite(seconds) || fabs(seconds) > LONGEST_s)
        return no_value(isnan(seconds) ? seconds : copysign(HUGE_VAL, seconds));
    pr_text text;
    const long whole = round_to(fmax(seconds, 0.0), 1);
    if (whole >= HOUR_s)
        return hours_minutes(round_to(seconds, MINUTE_s));
    if (whole < MINUTE_s)
        snprintf(text.s, sizeof text.s, "%ld s", whole);
    else if (whole % MINUTE_s == 0)
        snprintf(text.s, sizeof text.s, "%ld min", whole / MINUTE_s);
    else
        snprintf(text.s, sizeof text.s, "%ld min %ld s", whole / MINUTE_s, whole % MINUTE_s);
    return text;
}

pr_text pr_text_duration_rough(double seconds)
{
    if (!isfinite(seconds) || seconds < 10 * MINUTE_s || seconds > LONGEST_s)
        return pr_text_duration(seconds);
    return hours_minutes(round_to(seconds, MINUTE_s));
}

pr_text pr_text_clock(double seconds)
{
    if (!isfinite(seconds) || fabs(seconds) > LONGEST_s)
        return no_value(isnan(seconds) ? seconds : copysign(HUGE_VAL, seconds));
    pr_text text;
    const long whole = round_to(fmax(seconds, 0.0), 1);
    if (whole >= HOUR_s)
        snprintf(text.s, sizeof text.s, "%ld:%02ld:%02ld", whole / HOUR_s,
                 whole % HOUR_s / MINUTE_s, whole % MINUTE_s);
    else
        snprintf(text.s, sizeof text.s, "%ld:%02ld", whole / MINUTE_s, whole % MINUTE_s);
    return text;
}

pr_text pr_text_percent(double frac, int decimals)
{
    const pr_text number = pr_text_number(100.0 * frac, decimals);
    if (!isfinite(frac))
        return number;
    pr_text text; /* a number is far shorter than the room */
    snprintf(text.s, sizeof text.s, "%.*s %%", (int)sizeof text.s - 3, number.s);
    return text;
}

pr_text pr_text_times(size_t count)
{
    pr_text text;
    if (count == 1)
        snprintf(text.s, sizeof text.s, "once");
    else if (count == 2)
        snprintf(text.s, sizeof text.s, "twice");
    else
        snprintf(text.s, sizeof text.s, "%zu times", count);
    return text;
}

/* Bytes of the well-formed, printable UTF-8 character at text; 0 when it is none. */
static size_t character_bytes(const char *text)
{
    uint32_t code;
    const size_t n = pr_utf8_decode(text, &code);
    const bool control = n > 0 && (code < 0x20 || (code >= 0x7f && code < 0xa0));
    const bool turns_text =
        n > 0 && ((code >= 0x202a && code <= 0x202e) || (code >= 0x2066 && code <= 0x2069));
    return control || turns_text ? 0 : n;
}

void pr_text_printable(char *to, size_t size, const char *from)
{
    size_t used = 0, safe = 0; /* safe: the last place where "..." still fits */
    for (const char *s = from; *s != '\0';) {
        char piece[8];
        const size_t n = character_bytes(s);
        const size_t length = n > 0 ? n : 4;
        if (n > 0)
            memcpy(piece, s, n);
        else
            snprintf(piece, sizeof piece, "\\x%02x", (unsigned)(unsigned char)*s);
        if (used + length + 1 > size) {
            memcpy(to + safe, "...", 4);
            return;
        }
        memcpy(to + used, piece, length);
        used += length;
        if (used + 4 <= size)
            safe = used;
        s += n > 0 ? n : 1;
    }
    to[used] = '\0';
}

size_t pr_text_columns(const char *text)
{
    size_t columns = 0;
    for (; *text != '\0'; text++)
        columns += ((unsigned char)*text & 0xc0) != 0x80;
    return columns;
}

/* Columns of the first `bytes` bytes. */
static size_t columns_of(const char *text, size_t bytes)
{
    size_t columns = 0;
    for (size_t i = 0; i < bytes; i++)
        columns += ((unsigned char)text[i] & 0xc0) != 0x80;
    return columns;
}

/* Bytes up to the next place where a line may break: a blank, but not one between a number and its
 * unit. */
static size_t word_bytes(const char *text)
{
    size_t n = strcspn(text, " ");
    while (text[n] == ' ' && text[n + 1] != '\0' && text[n + 1] != ' ' && n > 0 &&
           isdigit((unsigned char)text[n - 1]))
        n += 1 + strcspn(text + n + 1, " ");
    return n;
}

void pr_text_wrap(FILE *out, const char *text, size_t width, const char *first, size_t rest)
{
    size_t column = pr_text_columns(first);
    int empty = 1; /* no word on this line yet */
    fputs(first, out);
    for (text += strspn(text, " "); *text != '\0'; text += strspn(text, " ")) {
        const size_t bytes = word_bytes(text);
        const size_t columns = columns_of(text, bytes);
        if (!empty && column + 1 + columns > width) {
            fprintf(out, "\n%*s", (int)rest, "");
            column = rest;
            empty = 1;
        }
        if (!empty)
            fputc(' ', out);
        fwrite(text, 1, bytes, out);
        column += columns + (empty ? 0 : 1);
        empty = 0;
        text += bytes;
    }
    fputc('\n', out);
}

void pr_text_fold(char *to, size_t size, const char *text, size_t width)
{
    size_t column = 0;
    snprintf(to, size, "%s", text);
    for (char *at = to; *at != '\0';) {
        const size_t bytes = word_bytes(at), columns = columns_of(at, bytes);
        if (column > 0 && column + 1 + columns > width) {
            at[-1] = '\n';
            column = 0;
        }
        column += columns + (column > 0 ? 1 : 0);
        at += bytes;
        at += *at == ' ' ? 1 : 0;
    }
}

bool pr_text_append(char *text, size_t size, const char *format, ...)
{
    static const char mark[] = "...";
    const size_t used = strlen(text);
    va_list arguments;
    va_start(arguments, format);
    const int n = vsnprintf(text + used, size - used, format, arguments);
    va_end(arguments);
    if (n >= 0 && (size_t)n < size - used)
        return true;
    /* a letter is not cut in the middle: its further bytes are 10xxxxxx */
    size_t end = strlen(text);
    if (end > size - sizeof mark)
        end = size - sizeof mark;
    while (end > 0 && ((unsigned char)text[end] & 0xC0) == 0x80)
        end--;
    memcpy(text + end, mark, sizeof mark);
    return false;
}
