/* How a report is to look: decided by the command line, obeyed by every writer. */
#ifndef PR_REPORT_STYLE_H
#define PR_REPORT_STYLE_H

#include "report/units.h"
#include <stdbool.h>

typedef struct pr_style {
    pr_units units;
    bool colour;  /* the reader is at a terminal that wants it */
    bool brief;   /* the answer only */
    bool all;     /* every default, every pull */
    size_t width; /* columns; 40..100 */
} pr_style;

pr_style pr_style_default(void); /* metric, no colour, 100 columns */

/* Good news, bad news, a heading; used in fprintf as "%s...%s" with pr_style_off. "" without
 * colour. */
typedef enum pr_tone {
    PR_TONE_PLAIN,
    PR_TONE_GOOD,
    PR_TONE_BAD,
    PR_TONE_HEAD,
    PR_TONE_COUNT
} pr_tone;
const char *pr_style_on(const pr_style *style, pr_tone tone);
const char *pr_style_off(const pr_style *style, pr_tone tone);

/* A heading with an empty line before it. */
void pr_style_heading(const pr_style *style, FILE *out, const char *text);
/* A paragraph, wrapped. */
void pr_style_paragraph(const pr_style *style, FILE *out, const char *text);
/* A list item, wrapped and indented. */
void pr_style_item(const pr_style *style, FILE *out, const char *text);

#endif
