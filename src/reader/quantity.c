/* Quantities: see quantity.h. */
#include "reader/quantity.h"
#include "reader/reader.h"
#include "reader/unit_book.h"

#include <locale.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

/* isdigit depends on the locale, this does not */
static bool is_digit(char c)
{
    return c >= '0' && c <= '9';
}

/* A number in the making: what strtod must read in this locale. */
typedef struct number_text {
    char text[PR_QUANTITY_TEXT_MAX];
    size_t n;
} number_text;

static bool put(number_text *number, const char *s, size_t length)
{
    if (number->n + length + 1 > sizeof number->text)
        return false;
    memcpy(number->text + number->n, s, length);
    number->n += length;
    number->text[number->n] = '\0';
    return true;
}

/* Copies digits from s on; how many there were is added to *seen. */
static const char *put_digits(number_text *number, const char *s, size_t *seen, bool *fits)
{
    const size_t length = strspn(s, "0123456789");
    *fits = *fits && put(number, s, length);
    *seen += length;
    return s + length;
}

bool pr_number_scan(const char *text, const char **end, double *value)
{
    static const char minus_sign[] = "\xe2\x88\x92"; /* typographic minus */
    number_text number = {.n = 0};
    const char *s = text;
    bool fits = true;
    size_t seen = 0;
    if (strncmp(s, minus_sign, 3) == 0) {
        fits = put(&number, "-", 1);
        s += 3;
    } else if (*s == '-' || *s == '+') {
        fits = put(&number, s++, 1);
    }
    s = put_digits(&number, s, &seen, &fits);
    if (*s == '.') {
        /* the point is strtod's, whatever it is here */
        const char *point = localeconv()->decimal_point;
        fits = fits && put(&number, point, strlen(point));
        s = put_digits(&number, s + 1, &seen, &fits);
    }
    if (seen == 0)
        return false;
    /* an exponent only when digits follow: "1 e" is no exponent */
    const size_t sign = *s == 'e' || *s == 'E' ? (size_t)(s[1] == '-' || s[1] == '+') : 0;
    if ((*s == 'e' || *s == 'E') && is_digit(s[1 + sign])) {
        size_t places = 0;
        fits = fits && put(&number, s, 1 + sign);
        s = put_digits(&number, s + 1 + sign, &places, &fits);
        fits = fits && places <= 3;
    }
    if (!fits)
        return false;
    *value = strtod(number.text, NULL);
    *end = s;
    return isfinite(*value);
}

/* Message about a unit that nobody knows, with the nearest that is known. */
static void say_unknown_unit(pr_quantities *q, const char *given, const char *wanted, char *message)
{
    char fits[96];
    pr_quantity_describe(q, wanted, fits, sizeof fits);
    const char *near = pr_unit_nearest(given);
    if (near != NULL)
        snprintf(message, PR_QUANTITY_MESSAGE_MAX,
                 "the unit \"%.24s\" is unknown, nearest \"%s\"; wanted is %s", given, near, fits);
    else
        snprintf(message, PR_QUANTITY_MESSAGE_MAX, "the unit \"%.24s\" is unknown; wanted is %s",
                 given, fits);
}

/* Why a unit does not do. */
static void say_misfit(pr_quantities *q, const char *given, const pr_unit *unit, const char *wanted,
                       char *message)
{
    char fits[96];
    pr_quantity_describe(q, wanted, fits, sizeof fits);
    snprintf(message, PR_QUANTITY_MESSAGE_MAX, "%s is %s; wanted is %s", given,
             pr_unit_kind(q, given, unit), fits);
}

/* Value in `given` to `wanted`. */
/* What people write where only one thing can be meant: C is a coulomb elsewhere. */
static const char *plain_word(const char *given, const char *wanted)
{
    static const struct {
        const char *wanted, *given, *means;
    } words[] = {{"degC", "C", "degC"},
                 {"degC", "F", "degF"},
                 {"deg", "degree", "deg"},
                 {"deg", "degrees", "deg"}};
    for (size_t i = 0; i < sizeof words / sizeof *words; i++)
        if (strcmp(words[i].wanted, wanted) == 0 && strcmp(words[i].given, given) == 0)
            return words[i].means;
    return given;
}

static pr_status convert_given(pr_quantities *q, double value, const char *given,
                               const char *wanted, double *converted, char *message)
{
    given = plain_word(given, wanted);
    if (strcmp(given, wanted) == 0) {
        *converted = value;
        return PR_OK;
    }
    const pr_unit *to = pr_unit_known(q, wanted);
    const pr_unit *from = pr_unit_known(q, given);
    if (pr_unit_out_of_memory(q))
        return PR_ERR_NOMEM;
    if (to == NULL)
        return PR_ERR_INTERNAL;
    pr_status status = PR_ERR_INPUT;
    if (from == NULL)
        say_unknown_unit(q, given, wanted, message);
    else if (strcmp(wanted, "K") == 0 && pr_unit_has_offset(given))
        snprintf(message, PR_QUANTITY_MESSAGE_MAX,
                 "%s is a temperature; wanted is a difference, like 20 K", given);
    else
        status = pr_unit_convert(q, value, from, to, converted);
    if (status == PR_ERR_INPUT && message[0] == '\0')
        say_misfit(q, given, from, wanted, message);
    return status;
}

/* Copies text without blanks at its ends; false when it is too long. */
static bool trim(const char *text, char trimmed[PR_QUANTITY_TEXT_MAX])
{
    while (*text == ' ' || *text == '\t')
        text++;
    size_t n = strlen(text);
    while (n > 0 && (text[n - 1] == ' ' || text[n - 1] == '\t'))
        n--;
    if (n >= PR_QUANTITY_TEXT_MAX)
        return false;
    memcpy(trimmed, text, n);
    trimmed[n] = '\0';
    return true;
}

static void say_no_number(pr_quantities *q, const char *text, const char *unit, char *message)
{
    char fits[96];
    pr_quantity_describe(q, unit, fits, sizeof fits);
    if (text[0] == '\0')
        snprintf(message, PR_QUANTITY_MESSAGE_MAX, "no value; wanted is %s", fits);
    else if (is_digit(text[strspn(text, "+-.")]))
        snprintf(message, PR_QUANTITY_MESSAGE_MAX,
                 "the number is too large or too long; wanted is %s", fits);
    else
        snprintf(message, PR_QUANTITY_MESSAGE_MAX, "it does not start with a number; wanted is %s",
                 fits);
}

/* "2.7:1" as a ratio; *value holds the first number and is divided by the second. */
static bool read_ratio(const char *rest, double *value)
{
    double second;
    const char *end;
    if (rest[0] != ':' || !pr_number_scan(rest + 1, &end, &second) || *end != '\0' ||
        !(second > 0.0))
        return false;
    *value /= second;
    return isfinite(*value);
}

pr_status pr_quantity_read(pr_quantities *q, const char *text, const char *unit, double *value,
                           char message[PR_QUANTITY_MESSAGE_MAX])
{
    char trimmed[PR_QUANTITY_TEXT_MAX], fits[96];
    message[0] = '\0';
    if (!trim(text, trimmed)) {
        snprintf(message, PR_QUANTITY_MESSAGE_MAX, "longer than %d bytes",
                 PR_QUANTITY_TEXT_MAX - 1);
        return PR_ERR_INPUT;
    }
    const char *rest;
    if (!pr_number_scan(trimmed, &rest, value)) {
        say_no_number(q, trimmed, unit, message);
        return pr_unit_out_of_memory(q) ? PR_ERR_NOMEM : PR_ERR_INPUT;
    }
    rest += strspn(rest, " \t");
    if (unit == NULL) {
        if (*rest == '\0' || read_ratio(rest, value))
            return PR_OK;
        snprintf(message, PR_QUANTITY_MESSAGE_MAX,
                 "\"%.24s\" follows the number; wanted is a plain number", rest);
        return PR_ERR_INPUT;
    }
    if (*rest != '\0' && *rest != ',')
        return convert_given(q, *value, rest, unit, value, message);
    pr_quantity_describe(q, unit, fits, sizeof fits);
    if (*rest == '\0')
        snprintf(message, PR_QUANTITY_MESSAGE_MAX, "a unit is missing; wanted is %s", fits);
    else
        snprintf(message, PR_QUANTITY_MESSAGE_MAX,
                 "a comma in a number can mean two things: write 9500 or 2.5; wanted is %s", fits);
    return PR_ERR_INPUT;
}

/* "1 in 10", of which the 1 is read already. */
static bool read_one_in(const char *rest, double *value)
{
    double second;
    const char *end;
    if (strncmp(rest, "in ", 3) != 0 || !pr_number_scan(rest + 3, &end, &second) || *end != '\0' ||
        !(second > 0.0))
        return false;
    *value /= second;
    return isfinite(*value);
}

pr_status pr_slope_read(pr_quantities *q, const char *text, double *slope_rad,
                        char message[PR_QUANTITY_MESSAGE_MAX])
{
    static const char wanted[] = "a slope, like 12 %, 1:8 or 7 deg";
    char trimmed[PR_QUANTITY_TEXT_MAX];
    const char *rest;
    double value;
    message[0] = '\0';
    if (!trim(text, trimmed) || !pr_number_scan(trimmed, &rest, &value)) {
        snprintf(message, PR_QUANTITY_MESSAGE_MAX, "not a number; wanted is %s", wanted);
        return PR_ERR_INPUT;
    }
    rest += strspn(rest, " \t");
    double rise = value;
    if (read_ratio(rest, &rise) || read_one_in(rest, &rise)) {
        *slope_rad = atan(rise);
        return PR_OK;
    }
    if (*rest == '\0') {
        snprintf(message, PR_QUANTITY_MESSAGE_MAX, "a unit is missing; wanted is %s", wanted);
        return PR_ERR_INPUT;
    }
    pr_status status = convert_given(q, value, rest, "deg", slope_rad, message);
    if (status == PR_OK)
        return pr_quantity_convert(q, *slope_rad, "deg", "rad", slope_rad);
    if (status == PR_ERR_INPUT) {
        message[0] = '\0';
        status = convert_given(q, value, rest, "%", slope_rad, message);
        if (status == PR_OK)
            *slope_rad = atan(*slope_rad / 100.0);
        else if (status == PR_ERR_INPUT)
            snprintf(message, PR_QUANTITY_MESSAGE_MAX,
                     "\"%.24s\" is no unit of a slope; wanted is %s", rest, wanted);
    }
    return status;
}

pr_status pr_quantity_parse(const char *text, const char *wanted_unit, double *value, char *message,
                            size_t message_size)
{
    char full[PR_QUANTITY_MESSAGE_MAX] = "";
    pr_quantities *q = pr_quantities_new();
    if (q == NULL)
        return PR_ERR_NOMEM;
    const pr_status status = pr_quantity_read(q, text, wanted_unit, value, full);
    pr_quantities_free(q);
    if (message_size > 0)
        snprintf(message, message_size, "%s", full);
    return status;
}

/* "2/0", "0000" or "2" as the number of the wire type: 2, 0 (1/0), -1 (2/0) ... */
static bool read_gauge_number(const char *text, size_t n, double *gauge)
{
    char word[8];
    if (n == 0 || n >= sizeof word)
        return false;
    memcpy(word, text, n);
    word[n] = '\0';
    if (n == 3 && word[1] == '/' && word[2] == '0' && word[0] >= '1' && word[0] <= '4') {
        *gauge = 1.0 - (word[0] - '0');
        return true;
    }
    if (strspn(word, "0") == n && n <= 4) {
        *gauge = 1.0 - (double)n;
        return true;
    }
    if (strspn(word, "0123456789") != n || n > 2)
        return false;
    *gauge = 0.0;
    for (size_t i = 0; i < n; i++)
        *gauge = 10.0 * *gauge + (word[i] - '0');
    return true;
}

pr_status pr_gauge_read(const char *text, pr_gauge_kind *kind, double *gauge,
                        char message[PR_QUANTITY_MESSAGE_MAX])
{
    static const char wanted[] = "a cable size, like 2 AWG, 2/0 AWG, 4 SAE or 35 mm2";
    char trimmed[PR_QUANTITY_TEXT_MAX];
    message[0] = '\0';
    bool understood = false;
    if (trim(text, trimmed)) {
        const size_t n = strspn(trimmed, "0123456789/.");
        const char *unit = trimmed + n + strspn(trimmed + n, " ");
        const char *end;
        if (strcasecmp(unit, "mm2") == 0 || strcmp(unit, "mm\xc2\xb2") == 0 ||
            strcmp(unit, "mm^2") == 0) {
            *kind = PR_GAUGE_MM2;
            understood = pr_number_scan(trimmed, &end, gauge) && end == trimmed + n;
        } else if (strcasecmp(unit, "AWG") == 0 || strcasecmp(unit, "SAE") == 0) {
            *kind = strcasecmp(unit, "AWG") == 0 ? PR_GAUGE_AWG : PR_GAUGE_SAE;
            understood = read_gauge_number(trimmed, n, gauge);
        } else if (n == 0 &&
                   (strncasecmp(trimmed, "AWG ", 4) == 0 || strncasecmp(trimmed, "SAE ", 4) == 0)) {
            *kind = strncasecmp(trimmed, "AWG", 3) == 0 ? PR_GAUGE_AWG : PR_GAUGE_SAE;
            const char *number = trimmed + 4 + strspn(trimmed + 4, " ");
            understood = read_gauge_number(number, strlen(number), gauge);
        }
    }
    if (!understood) {
        snprintf(message, PR_QUANTITY_MESSAGE_MAX, "wanted is %s", wanted);
        return PR_ERR_INPUT;
    }
    if (!isnan(pr_wire_area_mm2(*kind, *gauge)))
        return PR_OK;
    snprintf(message, PR_QUANTITY_MESSAGE_MAX, "no such size; %s",
             *kind == PR_GAUGE_MM2   ? "0.2 mm2 .. 300 mm2 are known"
             : *kind == PR_GAUGE_AWG ? "24 AWG .. 4/0 AWG are known"
                                     : "20 SAE .. 4/0 SAE are known, even numbers down to 2");
    return PR_ERR_INPUT;
}
