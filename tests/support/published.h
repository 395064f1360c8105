/* Checks of a computed number against a row of tests/published/<topic>.tsv.
 *
 * Columns: id, input, expected, tolerance, kind, source and, where needed, known.
 *   expected   a number; `a..b`; `>= a`; `<= b`
 *   tolerance  of a number:  `0.03` in the unit of the number, `1 %` of it, `5 pt` (the number is
 * in percent: points), `exact` (1e-9 of it), `>=` or `<=` (the number is a limit), `a..b` (what is
 * allowed; the number is then only nominal) of the others: empty kind       outside | limit |
 * practice | calibration | identity known      reason for a known disagreement: the row is missed
 * and may be missed, but must not be met unnoticed The tables are those in the folder
 * PR_PUBLISHED_DIR of the environment, else of this source tree. If the environment has
 * PR_PUBLISHED_RESULTS, each check appends a line to that file: id, got, verdict (pass, fail,
 * known, unmark), lowest and highest value allowed. */
#ifndef PR_TESTS_SUPPORT_PUBLISHED_H
#define PR_TESTS_SUPPORT_PUBLISHED_H

/* Fails the test if `got` misses the row and the row is not marked as known disagreement, and if it
 * is so marked and `got` meets it. */
void pr_published_check(const char *id, double got);

/* The expected number of a row, for a test that needs it as its input (calibration); a row without
 * one number (a range) fails the test. */
double pr_published_expected(const char *id);

/* What a row allows; for the tests of this file. NULL, or what is wrong with the two texts. */
typedef struct pr_published_band {
    double low, high;
} pr_published_band;
const char *pr_published_parse(const char *expected, const char *tolerance,
                               pr_published_band *band);

#endif
