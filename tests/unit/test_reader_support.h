/* Scenarios from text, for the tests of the reader. */
#ifndef PR_TESTS_READER_SUPPORT_H
#define PR_TESTS_READER_SUPPORT_H

#include "reader/reader.h"
#include "support/check.h"

#include <stdlib.h>
#include <string.h>

static const pr_reader_options reader_options = {.models_folder = PR_SOURCE_DIR "/models"};

/* Reads a text that must be sound; the caller frees with drop_scenario. */
static inline pr_scenario *take_scenario(const char *text)
{
    pr_scenario *scenario = malloc(sizeof *scenario);
    assert_non_null(scenario);
    pr_diag diag = pr_diag_init();
    const pr_status status = pr_scenario_read_text(PR_SOURCE_DIR "/tests/errors/text", text,
                                                   strlen(text), &reader_options, scenario, &diag);
    if (status != PR_OK) {
        pr_diag_print(&diag, stderr);
        fail_msg("the text was refused");
    }
    pr_diag_free(&diag);
    return scenario;
}

static inline void drop_scenario(pr_scenario *scenario)
{
    pr_scenario_free(scenario);
    free(scenario);
}

/* Spread by key; NULL: none. */
static inline const pr_spread *find_spread(const pr_scenario *scenario, const char *key)
{
    for (int i = 0; i < scenario->n_spreads; i++)
        if (strcmp(scenario->spread[i].key, key) == 0)
            return &scenario->spread[i];
    return NULL;
}

/* Text of an assumption by key; NULL: none. */
static inline const pr_assumption *find_assumption(const pr_scenario *scenario, const char *key)
{
    for (size_t i = 0; i < scenario->n_assumptions; i++)
        if (strcmp(scenario->assumption[i].key, key) == 0)
            return &scenario->assumption[i];
    return NULL;
}

static inline double number_at(const pr_scenario *scenario, const pr_spread *spread)
{
    return *(const double *)(const void *)((const char *)scenario + spread->offset);
}

#endif
