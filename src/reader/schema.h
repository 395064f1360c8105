/* The tables that say what a file may hold: one row per key. Parsing, range checks, messages and
 * the input reference are all made from them. */
#ifndef PR_READER_SCHEMA_H
#define PR_READER_SCHEMA_H

#include "base/number.h"
#include "planner/scenario.h"

typedef enum pr_row_kind {
    PR_ROW_QUANTITY, /* a number with a unit: a double */
    PR_ROW_NUMBER,   /* a plain number or ratio: a double */
    PR_ROW_COUNT,    /* a whole number: an int */
    PR_ROW_SLOPE,    /* "12 %", "1:8", "7 deg": a double, radians */
    PR_ROW_SPEED,    /* engine speed, or "idle", "fast idle": a double, rpm */
    PR_ROW_CASES,    /* a share, or low, likely, high: double[PR_CASE_COUNT] */
    PR_ROW_GAUGE,    /* cable size: kind at `offset`, number at `offset2` */
    PR_ROW_CHOICE,   /* one word of a list: an int or enum */
    PR_ROW_FLAGS,    /* one or several words of a list, or-ed: an unsigned */
    PR_ROW_YES_NO,   /* a bool */
    PR_ROW_YES_NO_INT,
    PR_ROW_TEXT,    /* a char array of `size` bytes */
    PR_ROW_TABLE,   /* rows of numbers: see pr_table_form */
    PR_ROW_SECTION, /* a map with its own schema, same instance */
    PR_ROW_SPECIAL  /* read by its own code; here for its name and help */
} pr_row_kind;

enum {
    PR_KEY_REQUIRED = 1,
    PR_KEY_STAYS = 2,     /* describes the state or the place, not the make: a variant that names
                             another catalogue entry keeps it */
    PR_KEY_FINE = 4,      /* inside the model; most people never give it */
    PR_KEY_TRANSIENT = 8, /* kept by the reader only, not in the scenario (offset is not used) */
    PR_KEY_ALWAYS = 16,   /* a section whose defaults hold even when the file does not name it */
    PR_KEY_OFF = 32,      /* an engine speed that may be "off" (0 rpm) */
    PR_KEY_OTHER =
        64 /* another way to say something, or an extra: leaving it out assumes nothing */
};

/* When one would have a load on; makes the default situations of `budget`. */
enum { PR_USED_DAY = 1, PR_USED_NIGHT = 2, PR_USED_HOT = 4, PR_USED_COLD = 8, PR_USED_ANY = 15 };

typedef struct pr_choice {
    const char *name;
    int value;
} pr_choice;

/* A table in the file, [[60 A, 1500 rpm], ...]: up to three columns, each an array of doubles. */
enum { PR_TABLE_COLUMNS_MAX = 3 };
typedef struct pr_table_form {
    size_t columns, rows_min, rows_max;
    struct pr_table_column {
        const char *what, *unit, *stored; /* as in pr_row */
        double min, max;
        int order; /* +1: must rise from row to row, -1: must fall, 0: free */
        size_t offset;
    } column[PR_TABLE_COLUMNS_MAX];
    size_t count_offset; /* of the int that holds the number of rows */
} pr_table_form;

typedef struct pr_schema pr_schema;

typedef struct pr_row {
    const char *key;
    pr_row_kind kind;
    unsigned flags;
    const char *unit;      /* unit shown, in which min and max stand; NULL: none */
    const char *stored;    /* unit in the scenario; NULL: the same */
    double min, max;       /* min == max: no range */
    size_t offset, stride; /* in pr_scenario, of the first instance; from one to the next */
    size_t offset2;
    size_t size;
    const char *fallback; /* default in words, where it is computed later; "": none; NULL: see the
                             scenario */
    const char *help;
    const char *source;       /* of the default */
    const pr_choice *choices; /* ended by a NULL name */
    const pr_schema *section;
    const pr_table_form *table;
    double spread_low, spread_high; /* of the default, as shown; equal: none */
    unsigned only; /* bit set of the values of the schema's selector that it applies to; 0: all */
} pr_row;

struct pr_schema {
    const char *name; /* of the section */
    const char *help;
    const char *catalogue; /* kind of entries that `use` names; NULL: none */
    const char *selector;  /* key of the choice that rows with `only` look at */
    const char *scalar;    /* key meant when the section is one word; NULL: must be a map */
    bool quiet;            /* its defaults are no assumptions worth telling */
    const pr_row *rows;
    size_t n_rows;
};

enum { PR_ROWS_MAX = 40 }; /* keys of one section */

extern const pr_schema pr_schema_scenario, pr_schema_vehicle, pr_schema_engine, pr_schema_battery,
    pr_schema_link, pr_schema_cutoff, pr_schema_alternator, pr_schema_winch, pr_schema_rope,
    pr_schema_drum, pr_schema_cables, pr_schema_cable, pr_schema_fuse, pr_schema_load,
    pr_schema_recovery, pr_schema_step, pr_schema_surface, pr_schema_limits, pr_schema_plan,
    pr_schema_phase, pr_schema_phase_group, pr_schema_situation, pr_schema_spread;

/* All of them, in the order of the input reference. */
extern const pr_schema *const pr_schemas[];
extern const size_t pr_n_schemas;

/* Row by key; -1: none. */
int pr_schema_find(const pr_schema *schema, const char *key);
/* "5 m .. 100 m", "at least 1", ...; empty when the row has no range. */
void pr_row_range_text(const pr_row *row, char *text, size_t size);

/* Helps to write the tables: where a field lies, and how far to the next instance. */
#define PR_AT(field) .offset = offsetof(pr_scenario, field)
#define PR_AT_OF(array, field)                                                                     \
    .offset = offsetof(pr_scenario, array[0].field), .stride = sizeof(((pr_scenario *)0)->array[0])
#define PR_AT_ITEM(array)                                                                          \
    .offset = offsetof(pr_scenario, array[0]), .stride = sizeof(((pr_scenario *)0)->array[0])
#define PR_TABLE_AT(field) .offset = offsetof(pr_scenario, field)

#endif
