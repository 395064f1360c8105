/* One scenario while it is read: what all parts of the reader share. Private to this layer. */
#ifndef PR_READER_READING_H
#define PR_READER_READING_H

#include "reader/catalogue.h"
#include "reader/quantity.h"
#include "reader/schema.h"

/* Where a section's values come from; `own` overrides `catalogue`. Either may be NULL. */
typedef struct pr_layers {
    const pr_node *catalogue, *own;
    const char *entry; /* catalogue name, NULL: none */
    bool lost; /* an entry that was not found, or a map cut off: what it lacks is no mistake */
} pr_layers;

/* A section that was read: places and values for the checks that follow. Lives in the document. */
typedef struct pr_section {
    const pr_schema *schema;
    char path[PR_NAME_MAX];
    size_t index;   /* which battery, cable, load, step */
    pr_place place; /* of the section in the scenario file */
    pr_layers layers;
    const pr_node *given[PR_ROWS_MAX]; /* what gave the value; NULL: default */
    bool from_catalogue[PR_ROWS_MAX];
    double value[PR_ROWS_MAX]; /* as stored; NaN when there is none */
    size_t errors;             /* of this section and those within, less unknown keys */
    struct pr_section *next;
} pr_section;

typedef struct pr_reader {
    const pr_reader_options *options;
    pr_diag *diag;
    pr_quantities *quantities;
    pr_catalogue catalogue;
    pr_document document;
    pr_scenario *scenario;
    pr_section *first, *last; /* all sections, in the order read */
    size_t assumption_capacity;
    size_t spreads_left_out;
    unsigned used[PR_LOADS_MAX]; /* PR_USED_ of each load */
    size_t unknown_keys;         /* told of, and read as what they are nearest to */
    bool cut;                    /* the file was not read to its end: what it lacks may follow */
    bool out_of_memory;
} pr_reader;

/* Adds an error with printf's format. */
void pr_reader_error(pr_reader *reader, pr_place place, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
/* Adds a message unless it stands there already: a file with variants is read several times. */
void pr_reader_say_once(pr_reader *reader, pr_severity severity, pr_place place, const char *text);

/* Unknown word `given` at a place: names the nearest of `known`, and returns it, else lists them
 * and returns NULL. */
const char *pr_reader_say_unknown(pr_reader *reader, pr_place place, const char *what,
                                  const char *given, const char *const known[], size_t n_known);

/* value.c: one value of a section, from a node into the scenario. False after a message. */
bool pr_value_read(pr_reader *reader, pr_section *section, int row, const pr_node *node,
                   bool from_catalogue);
/* A single number for a row, without spread, in the row's shown unit and as stored. */
bool pr_value_number(pr_reader *reader, const char *path, const pr_row *row, const pr_node *node,
                     double *shown, double *stored);
double pr_value_shown(pr_reader *reader, const pr_row *row, double stored);
/* Value of a choice; INT_MIN after a message. */
int pr_value_choice(pr_reader *reader, const char *path, const pr_choice choices[],
                    const pr_node *node);
/* The same without messages: INT_MIN when there is no node or no such word. */
int pr_value_choice_peek(const pr_choice choices[], const pr_node *node);
void *pr_value_target(pr_reader *reader, const pr_row *row, size_t index);
/* Node is a single value with something in it; message if not. */
bool pr_value_is_scalar(pr_reader *reader, const char *path, const pr_node *node);

/* spread.c: a number written as {low:, likely:, high:} or {mean:, sd:}. */
bool pr_spread_parse(pr_reader *reader, const char *path, const pr_row *row, size_t offset,
                     const pr_node *node, bool from_catalogue, pr_spread *spread);
void pr_spread_drop(pr_reader *reader, size_t offset);
void pr_spread_default(pr_reader *reader, const char *path, const pr_row *row, size_t offset);
bool pr_spread_add(pr_reader *reader, const pr_spread *spread, pr_place place);
/* The section `spreads:`. */
void pr_spreads_section_read(pr_reader *reader, const pr_node *node);

/* mend.c: the file's map of a section with unknown keys told of and replaced by what they mean or
 * are nearest to, others left out. */
const pr_node *pr_map_mend(pr_reader *reader, const pr_section *section, const pr_node *map);
/* The same for one key that was found unknown; what it means or is nearest to, or NULL. */
const char *pr_key_say_unknown(pr_reader *reader, const pr_section *section, const pr_node *node);

/* trade_words.c: what people call that which has another key here. */
typedef struct pr_trade_word {
    const pr_schema *schema;
    const char *word, *key;
} pr_trade_word;
extern const pr_trade_word pr_trade_words[];
extern const size_t pr_n_trade_words;
/* The key of a section that such a word means; NULL: none is known. */
const char *pr_trade_word_key(const pr_schema *schema, const char *word);
/* Where a key that this section does not know belongs: a section's name, "" for the file's top;
 * NULL: nowhere, or in several places. */
const char *pr_key_home(const pr_schema *schema, const char *key);

/* section.c: maps with a schema. */
pr_layers pr_layers_of(pr_reader *reader, const pr_schema *schema, const pr_node *node);
/* The layers of a section within one that has layers. */
pr_layers pr_layers_within(pr_reader *reader, const pr_schema *schema, const pr_layers *outer,
                           const char *key);
const pr_node *pr_layers_get(const pr_layers *layers, const char *key);
/* Value of a choice before the section is read; INT_MIN: not given or unknown. */
int pr_layers_choice(const pr_layers *layers, const pr_schema *schema, const char *key);
/* Reads all rows of a section but the special ones; NULL only when out of memory. */
pr_section *pr_section_read(pr_reader *reader, const pr_schema *schema, const char *path,
                            size_t index, const pr_layers *layers, pr_place place);
/* One of the rows, or what every catalogue entry says about itself. */
bool pr_key_is_known(const pr_schema *schema, const char *key);
bool pr_section_has(const pr_section *section, const char *key);
double pr_section_value(const pr_section *section, const char *key);
/* Place of a key's value, else of the section. */
pr_place pr_section_at(const pr_section *section, const char *key);
pr_section *pr_section_find(const pr_reader *reader, const char *path);

/* Does a row speak about this kind of thing (selector of the schema)? */
bool pr_row_applies(pr_reader *reader, const pr_section *section, const pr_row *row);

/* assume.c: what the file did not say. */
void pr_assume(pr_reader *reader, const char *key, const char *value, const char *source);
void pr_assume_entry(pr_reader *reader, const pr_section *section);
void pr_assume_section(pr_reader *reader, const pr_section *section);
void pr_row_default_text(pr_reader *reader, const pr_row *row, size_t index, char *text,
                         size_t size);

/* The parts of a scenario. Each reads its sections from the root's children. */
void pr_read_engine(pr_reader *reader, const pr_node *root);
void pr_read_batteries(pr_reader *reader, const pr_node *root);
void pr_read_alternator(pr_reader *reader, const pr_node *root);
void pr_read_winch(pr_reader *reader, const pr_node *root);
void pr_read_cables(pr_reader *reader, const pr_node *root);
void pr_read_cable(pr_reader *reader, const char *path, size_t run, const pr_layers *layers,
                   pr_place place);
void pr_read_loads(pr_reader *reader, const pr_node *root);
void pr_read_recovery(pr_reader *reader, const pr_node *root);
void pr_read_schedule(pr_reader *reader, const pr_node *root);
void pr_read_situations(pr_reader *reader, const pr_node *root);
/* Bit set of loads named in a list (or the word all); message for unknown names. */
unsigned long pr_read_load_names(pr_reader *reader, const char *path, const pr_node *node);

/* profile_csv.c: a measured log of the winch current. False after a message. */
bool pr_profile_read(pr_reader *reader, const char *path, pr_place place);

/* variants.c: root of the scenario with a variant's overrides laid over; NULL: out of memory. */
const pr_node *pr_variant_merge(pr_document *document, const pr_node *root, const pr_node *variant);

#endif
