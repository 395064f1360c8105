/* Units: see unit_book.h.
 *
 * A unit is a product of symbols with / . * or a blank between them, each with an exponent of one
 * digit: "ft/min", "mV/K", "mm2". A symbol means `scale` times another such product, or stands for
 * itself (base units). Angles and turns are base units of their own here, so that "30 deg" never
 * passes for a share. Definitions: SI brochure; pound 0.45359237 kg, foot 0.3048 m (exact, 1959);
 * horsepower 745.699872 W (550 ft lbf/s). */
#include "reader/unit_book.h"
#include "reader/nearest.h"

#include <ctype.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <udunits2.h>

#define DEGREE "\xc2\xb0"

typedef struct unit_def {
    const char *symbol;
    double scale;
    const char *of; /* NULL: a base unit */
    double offset;  /* in the unit itself: degC is K with its zero at 273.15 */
} unit_def;

static const unit_def UNITS[] = {
    {"kg", 1.0, NULL},
    {"m", 1.0, NULL},
    {"s", 1.0, NULL},
    {"A", 1.0, NULL},
    {"K", 1.0, NULL},
    {"rad", 1.0, NULL},
    {"rev", 1.0, NULL},
    {"%", 0.01, ""},
    {"percent", 0.01, ""},
    {"g", 1e-3, "kg"},
    {"t", 1e3, "kg"},
    {"tonne", 1e3, "kg"},
    {"tonnes", 1e3, "kg"},
    {"lb", 0.45359237, "kg"},
    {"lbs", 0.45359237, "kg"},
    {"N", 1.0, "kg.m/s2"},
    {"kN", 1e3, "N"},
    {"lbf", 0.45359237 * PR_GRAVITY_MPS2, "N"},
    {"kgf", PR_GRAVITY_MPS2, "N"},
    {"cm", 1e-2, "m"},
    {"mm", 1e-3, "m"},
    {"km", 1e3, "m"},
    {"in", 0.0254, "m"},
    {"ft", 0.3048, "m"},
    {"feet", 0.3048, "m"},
    {"yd", 0.9144, "m"},
    {"metre", 1.0, "m"},
    {"metres", 1.0, "m"},
    {"meter", 1.0, "m"},
    {"meters", 1.0, "m"},
    {"ms", 1e-3, "s"},
    {"sec", 1.0, "s"},
    {"seconds", 1.0, "s"},
    {"min", 60.0, "s"},
    {"minute", 60.0, "s"},
    {"minutes", 60.0, "s"},
    {"h", 3600.0, "s"},
    {"hr", 3600.0, "s"},
    {"hour", 3600.0, "s"},
    {"hours", 3600.0, "s"},
    {"mA", 1e-3, "A"},
    {"kA", 1e3, "A"},
    {"amp", 1.0, "A"},
    {"amps", 1.0, "A"},
    {"As", 1.0, "A.s"},
    {"Ah", 3600.0, "A.s"},
    {"mAh", 3.6, "A.s"},
    {"J", 1.0, "N.m"},
    {"kJ", 1e3, "J"},
    {"Wh", 3600.0, "J"},
    {"kWh", 3.6e6, "J"},
    {"W", 1.0, "J/s"},
    {"kW", 1e3, "W"},
    {"hp", 745.699872, "W"},
    {"watt", 1.0, "W"},
    {"watts", 1.0, "W"},
    {"V", 1.0, "W/A"},
    {"mV", 1e-3, "V"},
    {"volt", 1.0, "V"},
    {"volts", 1.0, "V"},
    {"ohm", 1.0, "V/A"},
    {"ohms", 1.0, "V/A"},
    {"mohm", 1e-3, "ohm"},
    {"uohm", 1e-6, "ohm"},
    {"\xce\xa9", 1.0, "ohm"}, /* Greek capital omega */
    {"m\xce\xa9", 1e-3, "ohm"},
    {"\xe2\x84\xa6", 1.0, "ohm"}, /* ohm sign */
    {"m\xe2\x84\xa6", 1e-3, "ohm"},
    {"degC", 1.0, "K", 273.15},
    {DEGREE "C", 1.0, "K", 273.15},
    {"degF", 5.0 / 9.0, "K", 459.67},
    {DEGREE "F", 5.0 / 9.0, "K", 459.67},
    {"deg", 0.017453292519943295, "rad"},
    {DEGREE, 0.017453292519943295, "rad"},
    {"rpm", 1.0, "rev/min"},
};
enum { N_UNITS = sizeof UNITS / sizeof *UNITS, TERMS_MAX = 6, SYMBOL_MAX = 16, KNOWN_MAX = 64 };

/* What a quantity is called, with examples; the first whose unit fits. K and degC share a dimension
 * and are told apart by name. */
typedef struct kind_name {
    const char *unit, *what, *example;
} kind_name;
static const kind_name KINDS[] = {
    {"K", "a temperature difference", "20 K"},
    {"degC", "a temperature", "-6 degC or 20 degF"},
    {"A", "a current", "60 A"},
    {"Ah", "a charge", "70 Ah"},
    {"V", "a voltage", "14.4 V"},
    {"ohm", "a resistance", "0.2 mohm"},
    {"W", "a power", "55 W"},
    {"s", "a time", "40 s, 120 min or 20 h"},
    {"m", "a length", "25 m, 80 ft or 8 mm"},
    {"m/s", "a speed", "2 m/min or 6 ft/min"},
    {"kg", "a mass or weight", "2650 kg or 5800 lb"},
    {"N", "a force or weight", "9500 lbf, 42 kN or 2650 kg"},
    {"%", "a share", "95 %"},
    {"rpm", "a speed of rotation", "750 rpm"},
    {"deg", "an angle", "30 deg"},
    {"mm2", "an area", "35 mm2"},
    {"V/K", "a voltage per kelvin", "-10 mV/K"},
    {"W/K", "a heat conductance", "2 W/K"},
    {"K/s", "a rate of temperature", "6 K/min"},
    {"J", "an energy", "500 Wh"},
};
enum { N_KINDS = sizeof KINDS / sizeof *KINDS };

/* SI value = scale x (number + offset), in a dimension that the library keeps. */
struct pr_unit {
    double scale, offset;
    ut_unit *dimension; /* product of base units; NULL: not made yet */
};

/* A product of units that was asked for before. */
typedef struct known_unit {
    char text[SYMBOL_MAX];
    pr_unit unit;
} known_unit;

struct pr_quantities {
    ut_system *system;
    pr_unit unit[N_UNITS]; /* of the table, made when first asked for */
    known_unit known[KNOWN_MAX];
    int n_known;
    unsigned n_forgotten;
    ut_error_message_handler old_handler;
    bool out_of_memory;
};

/* Short of memory the library may return a unit that it has freed already, with a status of
 * success. It complains before that, to a handler without a context: hence this one variable of a
 * thread. For the same reason the library is asked for products of base units only, one step at a
 * time: scaled units made inside it crash when memory runs out half-way. */
static _Thread_local bool complained;

static int note_complaint(const char *format, va_list arguments)
{
    (void)format;
    (void)arguments;
    complained = true;
    return 0;
}

/* Did the library complain since this was last asked? */
static bool take_complaint(void)
{
    const bool failed = complained;
    complained = false;
    return failed;
}

/* Result of a call to the library, NULL (and noted) unless it is sound. */
static ut_unit *sound(pr_quantities *q, ut_unit *made)
{
    if (!take_complaint() && made != NULL)
        return made;
    q->out_of_memory = true;
    return NULL;
}

pr_quantities *pr_quantities_new(void)
{
    pr_quantities *q = calloc(1, sizeof *q);
    if (q == NULL)
        return NULL;
    /* it would print to stderr */
    q->old_handler = ut_set_error_message_handler(note_complaint);
    q->system = ut_new_system();
    if (take_complaint())
        q->system = NULL; /* lost: the library may have freed it */
    if (q->system == NULL) {
        pr_quantities_free(q);
        return NULL;
    }
    return q;
}

void pr_quantities_free(pr_quantities *q)
{
    if (q == NULL)
        return;
    for (int i = 0; i < N_UNITS; i++)
        ut_free(q->unit[i].dimension);
    for (int i = 0; i < q->n_known; i++)
        ut_free(q->known[i].unit.dimension);
    ut_free_system(q->system);
    ut_set_error_message_handler(q->old_handler);
    free(q);
}

static bool unit_of(pr_quantities *q, const char *text, size_t length, int depth, pr_unit *unit);

/* The unit of table row i, made from its definition; NULL: out of memory. */
static const pr_unit *unit_at(pr_quantities *q, int i, int depth)
{
    pr_unit *unit = &q->unit[i];
    const unit_def *def = &UNITS[i];
    if (unit->dimension != NULL)
        return unit;
    if (def->of == NULL) {
        *unit = (pr_unit){.scale = 1.0, .dimension = sound(q, ut_new_base_unit(q->system))};
    } else if (unit_of(q, def->of, strlen(def->of), depth + 1, unit)) {
        unit->scale *= def->scale;
        unit->offset = def->offset;
    }
    return unit->dimension == NULL ? NULL : unit;
}

/* Row of a symbol, -1: unknown. Capitals are forgiven ("AH", "RPM", "Lbs") where they cannot mean
 * another unit; a leading m (milli) is never read from an M (mega). */
static int find_unit(const char *symbol)
{
    for (int i = 0; i < N_UNITS; i++)
        if (strcmp(UNITS[i].symbol, symbol) == 0)
            return i;
    if (strlen(symbol) < 2 || symbol[0] == 'M')
        return -1;
    for (int i = 0; i < N_UNITS; i++)
        if (strcasecmp(UNITS[i].symbol, symbol) == 0)
            return i;
    return -1;
}

/* One symbol with its exponent, cut from the front of text. */
typedef struct unit_term {
    char symbol[SYMBOL_MAX];
    int exponent;
} unit_term;

static bool is_separator(char c)
{
    return c == '/' || c == '.' || c == '*' || c == ' ';
}

static bool next_term(const char **text, const char *end, unit_term *term)
{
    size_t n = 0;
    const char *s = *text;
    for (; s < end && !is_separator(*s) && *s != '^' && !isdigit((unsigned char)*s); s++) {
        if (strncmp(s, "\xc2\xb2", 2) == 0) /* superscript two */
            break;
        if (n + 1 >= SYMBOL_MAX)
            return false;
        term->symbol[n++] = *s;
    }
    term->symbol[n] = '\0';
    term->exponent = 1;
    if (s < end && strncmp(s, "\xc2\xb2", 2) == 0) {
        term->exponent = 2;
        s += 2;
    } else {
        if (s < end && *s == '^')
            s++;
        if (s < end && isdigit((unsigned char)*s))
            term->exponent = *s++ - '0';
    }
    *text = s;
    return n > 0 && term->exponent >= 1 && term->exponent <= 3 && (s == end || is_separator(*s));
}

/* dimension to the power of exponent; NULL: out of memory. The caller frees it. */
static ut_unit *raised(pr_quantities *q, const ut_unit *dimension, int exponent)
{
    return sound(q, exponent == 1 ? ut_clone(dimension) : ut_raise(dimension, exponent));
}

/* Multiplies or divides the product by a term; false: unknown or out of memory. */
static bool apply_term(pr_quantities *q, pr_unit *product, const unit_term *term, bool divide,
                       bool alone, int depth)
{
    int row = find_unit(term->symbol);
    /* inside a product a degree is a difference: 10 mV/degC = 10 mV/K */
    if (row >= 0 && !alone && UNITS[row].offset != 0.0)
        row = strchr(term->symbol, 'F') == NULL ? find_unit("K") : -1;
    const pr_unit *unit = row < 0 ? NULL : unit_at(q, row, depth);
    ut_unit *power = unit == NULL ? NULL : raised(q, unit->dimension, term->exponent);
    if (power != NULL && divide) {
        ut_unit *inverse = sound(q, ut_invert(power));
        ut_free(power);
        power = inverse;
    }
    ut_unit *result = power == NULL ? NULL : sound(q, ut_multiply(product->dimension, power));
    ut_free(power);
    if (result == NULL)
        return false;
    ut_free(product->dimension);
    product->dimension = result;
    for (int k = 0; k < term->exponent; k++)
        product->scale = divide ? product->scale / unit->scale : product->scale * unit->scale;
    product->offset = alone ? unit->offset : 0.0;
    return true;
}

/* One after the other the terms of a text; false: unknown or out of memory. */
static bool apply_text(pr_quantities *q, pr_unit *product, const char *s, const char *end,
                       int depth)
{
    bool divide = false;
    for (int n = 0; s < end; n++) {
        unit_term term;
        if (n >= TERMS_MAX || !next_term(&s, end, &term) ||
            !apply_term(q, product, &term, divide, n == 0 && s == end && term.exponent == 1, depth))
            return false;
        while (s < end && *s == ' ')
            s++;
        divide = s < end && *s == '/';
        if (s < end && (*s == '/' || *s == '.' || *s == '*') && ++s == end)
            return false;
        while (s < end && *s == ' ')
            s++;
    }
    return true;
}

/* The unit that the text means, whose dimension the caller frees; false: unknown, or out of memory.
 */
static bool unit_of(pr_quantities *q, const char *text, size_t length, int depth, pr_unit *unit)
{
    *unit = (pr_unit){.scale = 1.0};
    if (depth > 8)
        return false;
    unit->dimension = sound(q, ut_get_dimensionless_unit_one(q->system));
    if (unit->dimension != NULL && apply_text(q, unit, text, text + length, depth))
        return true;
    ut_free(unit->dimension);
    unit->dimension = NULL;
    return false;
}

const pr_unit *pr_unit_known(pr_quantities *q, const char *text)
{
    for (int i = 0; i < q->n_known; i++)
        if (strcmp(q->known[i].text, text) == 0)
            return &q->known[i].unit;
    const size_t length = strlen(text);
    pr_unit unit;
    if (length >= SYMBOL_MAX || !unit_of(q, text, length, 0, &unit))
        return NULL;
    known_unit *kept = &q->known[q->n_known];
    if (q->n_known < KNOWN_MAX) {
        q->n_known++;
    } else {
        /* a file of odd units: forget the oldest of the later half, never one just handed out */
        kept = &q->known[KNOWN_MAX / 2 + q->n_forgotten++ % (KNOWN_MAX / 2)];
        ut_free(kept->unit.dimension);
    }
    memcpy(kept->text, text, length + 1);
    kept->unit = unit;
    return &kept->unit;
}

static bool same_dimension(const pr_unit *a, const pr_unit *b)
{
    return ut_compare(a->dimension, b->dimension) == 0;
}

/* Factor from a mass to its weight in SI units, the other way round, 1 within a dimension; 0: the
 * units do not fit. */
static double factor_between(pr_quantities *q, const pr_unit *from, const pr_unit *to)
{
    if (same_dimension(from, to))
        return 1.0;
    const pr_unit *kg = pr_unit_known(q, "kg"), *newton = pr_unit_known(q, "N");
    if (kg == NULL || newton == NULL)
        return 0.0;
    if (same_dimension(from, kg) && same_dimension(to, newton))
        return PR_GRAVITY_MPS2;
    return same_dimension(from, newton) && same_dimension(to, kg) ? 1.0 / PR_GRAVITY_MPS2 : 0.0;
}

pr_status pr_unit_convert(pr_quantities *q, double value, const pr_unit *from, const pr_unit *to,
                          double *converted)
{
    const double factor = factor_between(q, from, to);
    if (factor == 0.0)
        return q->out_of_memory ? PR_ERR_NOMEM : PR_ERR_INPUT;
    *converted = (value + from->offset) * (from->scale / to->scale * factor) - to->offset;
    return PR_OK;
}

pr_status pr_quantity_convert(pr_quantities *q, double value, const char *from, const char *to,
                              double *converted)
{
    if (strcmp(from, to) == 0) {
        *converted = value;
        return PR_OK;
    }
    const pr_unit *a = pr_unit_known(q, from), *b = a == NULL ? NULL : pr_unit_known(q, to);
    pr_status status = PR_ERR_INTERNAL;
    if (a != NULL && b != NULL)
        status = pr_unit_convert(q, value, a, b, converted);
    if (q->out_of_memory)
        return PR_ERR_NOMEM;
    return status == PR_ERR_INPUT ? PR_ERR_INTERNAL : status;
}

/* Kind of a unit given as text or already made; NULL: none of the table. */
static const kind_name *kind_of(pr_quantities *q, const char *text, const pr_unit *unit)
{
    for (int i = 0; text != NULL && i < N_KINDS; i++)
        if (strcmp(KINDS[i].unit, text) == 0)
            return &KINDS[i];
    for (int i = 1; i < N_KINDS; i++) { /* 0 is K, which only its name tells from degC */
        const pr_unit *of_kind = pr_unit_known(q, KINDS[i].unit);
        if (of_kind != NULL && same_dimension(of_kind, unit))
            return &KINDS[i];
    }
    return NULL;
}

void pr_quantity_describe(pr_quantities *q, const char *unit, char *text, size_t size)
{
    if (unit == NULL) {
        snprintf(text, size, "a plain number, like 2.5");
        return;
    }
    const pr_unit *made = pr_unit_known(q, unit);
    const kind_name *kind = made == NULL ? NULL : kind_of(q, unit, made);
    if (kind != NULL)
        snprintf(text, size, "%s, like %s", kind->what, kind->example);
    else
        snprintf(text, size, "a quantity in %s", unit);
}

bool pr_unit_has_offset(const char *symbol)
{
    const int row = find_unit(symbol);
    return row >= 0 && UNITS[row].offset != 0.0;
}

const char *pr_unit_kind(pr_quantities *q, const char *text, const pr_unit *unit)
{
    const kind_name *kind = kind_of(q, text, unit);
    return kind == NULL ? "another kind of quantity" : kind->what;
}

bool pr_unit_out_of_memory(const pr_quantities *q)
{
    return q->out_of_memory;
}

const char *pr_unit_nearest(const char *given)
{
    if (strcmp(given, "C") == 0 || strcmp(given, "F") == 0)
        return given[0] == 'C' ? "degC" : "degF";
    const char *nearest = NULL;
    size_t best = 3;
    for (int i = 0; i < N_UNITS && strlen(given) > 2; i++) {
        const size_t distance = pr_edit_distance(given, UNITS[i].symbol);
        if (distance < best) {
            best = distance;
            nearest = UNITS[i].symbol;
        }
    }
    return nearest;
}
