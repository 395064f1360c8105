/* How a report is to look: see style.h. Colours are the terminal's own (ECMA-48 SGR), so that they
 * suit a light and a dark screen; nothing is said by colour alone. */
#include "report/style.h"

pr_style pr_style_default(void)
{
    return (pr_style){.units = PR_UNITS_METRIC, .width = 100};
}

const char *pr_style_on(const pr_style *style, pr_tone tone)
{
    static const char *const codes[PR_TONE_COUNT] = {"", "\033[1;32m", "\033[1;31m", "\033[1m"};
    return style->colour ? codes[tone] : "";
}

const char *pr_style_off(const pr_style *style, pr_tone tone)
{
    return style->colour && tone != PR_TONE_PLAIN ? "\033[0m" : "";
}

void pr_style_heading(const pr_style *style, FILE *out, const char *text)
{
    fprintf(out, "\n%s%s%s\n", pr_style_on(style, PR_TONE_HEAD), text,
            pr_style_off(style, PR_TONE_HEAD));
}

void pr_style_paragraph(const pr_style *style, FILE *out, const char *text)
{
    pr_text_wrap(out, text, style->width, "", 0);
}

void pr_style_item(const pr_style *style, FILE *out, const char *text)
{
    pr_text_wrap(out, text, style->width, "  - ", 4);
}
