/* HTML, written safely: text from anywhere goes through one of these, each for its own place.
 * Broken UTF-8, control characters and characters that turn the direction of writing become U+FFFD.
 */
#ifndef PR_REPORT_PAGE_HTML_H
#define PR_REPORT_PAGE_HTML_H

#include <stdio.h>

/* Between tags. */
void pr_html_text(FILE *out, const char *text);
/* Inside an attribute that stands in double quotes. */
void pr_html_attribute(FILE *out, const char *text);
/* JSON inside <script type="application/json">: no byte of it can end the element or open a
 * comment. `json` must be JSON in ASCII. */
void pr_html_script_json(FILE *out, const char *json);

/* <tag class="css_class">text</tag>; css_class and tag are ours (no text of a user), css_class may
 * be NULL. */
void pr_html_element(FILE *out, const char *tag, const char *css_class, const char *text);
/* The same, printf's way; the text is escaped as a whole. At most 1,000 bytes. */
void pr_html_printf(FILE *out, const char *tag, const char *css_class, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

#endif
