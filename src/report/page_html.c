/* Escaping for HTML: see page_html.h. The rules are those of the HTML standard: in text and in
 * quoted attributes only & < > " ' matter; inside a script element any "<" could, so that JSON
 * there has none. */
#include "report/page_html.h"

#include "base/utf8.h"

#include <stdarg.h>
#include <stdbool.h>
#include <stdint.h>
#include <string.h>

static const uint32_t REPLACEMENT = 0xFFFD;

/* Decodes one character; returns the bytes taken. What is no UTF-8 takes one byte. */
static size_t decode(const char *text, uint32_t *code)
{
    const size_t n = pr_utf8_decode(text, code);
    if (n > 0)
        return n;
    *code = REPLACEMENT;
    return 1;
}

static bool is_unfit(uint32_t c)
{
    const bool control = (c < 0x20 && c != '\n' && c != '\t') || (c >= 0x7F && c < 0xA0);
    const bool direction = (c >= 0x202A && c <= 0x202E) || (c >= 0x2066 && c <= 0x2069) ||
                           c == 0x200E || c == 0x200F || c == 0x061C;
    const bool nobody = (c & 0xFFFE) == 0xFFFE || (c >= 0xFDD0 && c <= 0xFDEF) || c == 0xFEFF;
    return control || direction || nobody || c == 0x2028 || c == 0x2029;
}

static void escape(FILE *out, const char *text, bool attribute)
{
    while (*text != '\0') {
        uint32_t c;
        const size_t n = decode(text, &c);
        if (c == '&')
            fputs("&amp;", out);
        else if (c == '<')
            fputs("&lt;", out);
        else if (c == '>')
            fputs("&gt;", out);
        else if (c == '"')
            fputs("&quot;", out);
        else if (c == '\'')
            fputs("&#39;", out);
        else if (attribute && (c == '\n' || c == '\t'))
            fputc(' ', out);
        else if (c == REPLACEMENT || is_unfit(c))
            fputs("\xEF\xBF\xBD", out);
        else
            fwrite(text, 1, n, out);
        text += n;
    }
}

void pr_html_text(FILE *out, const char *text)
{
    escape(out, text, false);
}

void pr_html_attribute(FILE *out, const char *text)
{
    escape(out, text, true);
}

void pr_html_script_json(FILE *out, const char *json)
{
    for (const unsigned char *s = (const unsigned char *)json; *s != '\0'; s++)
        if (*s == '<' || *s == '>' || *s == '&' || *s == '\'' || *s >= 0x7F)
            fprintf(out, "\\u%04x", *s);
        else
            fputc(*s, out);
}

void pr_html_element(FILE *out, const char *tag, const char *css_class, const char *text)
{
    if (css_class != NULL)
        fprintf(out, "<%s class=\"%s\">", tag, css_class);
    else
        fprintf(out, "<%s>", tag);
    pr_html_text(out, text);
    fprintf(out, "</%s>", tag);
}

void pr_html_printf(FILE *out, const char *tag, const char *css_class, const char *format, ...)
{
    char text[1000];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    pr_html_element(out, tag, css_class, text);
}
