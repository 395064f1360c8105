/* UTF-8 as RFC 3629 has it: shortest form, no surrogates, at most U+10FFFF. */
#ifndef PR_BASE_UTF8_H
#define PR_BASE_UTF8_H

#include <stddef.h>
#include <stdint.h>

/* Length in bytes of the character at text, and its code; 0 if it is not well-formed, and then code
 * is left as it is. The text ends with a 0, which counts as a character of one byte. */
size_t pr_utf8_decode(const char *text, uint32_t *code);

#endif
