/* Files in: scenarios, catalogue, quantities. Never runs anything. */
#ifndef PR_READER_READER_H
#define PR_READER_READER_H

#include "base/diag.h"
#include "planner/scenario.h"

/* Where the catalogue lies; found by pr_models_folder when NULL. */
typedef struct pr_reader_options {
    const char *models_folder;
    size_t max_bytes; /* of one file; 0: 1 MiB */
} pr_reader_options;

/* Folder of models/: $PULLREST_MODELS, else relative to the program (build folder or prefix), else
 * the installed one. Writes a path; PR_ERR_IO when none exists. */
pr_status pr_models_folder(char *path, size_t size);

/* Reads and checks a scenario with everything it refers to. All mistakes go to diag; PR_ERR_INPUT
 * if any error. The scenario is complete (defaults in place, listed as assumptions) when PR_OK. */
pr_status pr_scenario_read(const char *path, const pr_reader_options *options,
                           pr_scenario *scenario, pr_diag *diag);
/* The same from memory; `name` stands for the file in messages. */
pr_status pr_scenario_read_text(const char *name, const char *text, size_t size,
                                const pr_reader_options *options, pr_scenario *scenario,
                                pr_diag *diag);

/* Variants of one file (section `variants:` maps a name to overrides of the same schema). */
pr_status pr_scenario_variant_count(const char *path, const pr_reader_options *options,
                                    size_t *count, pr_diag *diag);
pr_status pr_scenario_read_variant(const char *path, size_t index, const pr_reader_options *options,
                                   pr_scenario *scenario, char name[PR_NAME_MAX], pr_diag *diag);

/* One catalogue entry, for `models`. */
typedef struct pr_model_entry {
    char kind[24], name[PR_NAME_MAX], summary[PR_TEXT_MAX], source[PR_TEXT_MAX], evidence[24];
    char file[PR_TEXT_MAX];
    size_t line;
} pr_model_entry;
typedef struct pr_model_list {
    pr_model_entry *entries;
    size_t count;
} pr_model_list;
/* The whole catalogue: every entry is parsed, so that mistakes in any of them come to light. */
pr_status pr_models_list(const pr_reader_options *options, pr_model_list *list, pr_diag *diag);
/* What is of that kind and has that name, of which only that is parsed; NULL: any. Finding nothing
 * is no mistake. */
pr_status pr_models_find(const pr_reader_options *options, const char *kind, const char *name,
                         pr_model_list *list, pr_diag *diag);
void pr_model_list_free(pr_model_list *list);
/* Shows the YAML text of an entry as it stands in the catalogue. */
pr_status pr_models_show(const pr_reader_options *options, const char *name, FILE *out,
                         pr_diag *diag);

/* A quantity in the wanted unit ("70 Ah" in "A.s"); PR_ERR_INPUT and a message when it does not
 * fit. */
pr_status pr_quantity_parse(const char *text, const char *wanted_unit, double *value, char *message,
                            size_t message_size);

/* The input reference (markdown), generated from the schema tables. */
void pr_schema_write_reference(FILE *out);

#endif
