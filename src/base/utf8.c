/* UTF-8: see utf8.h. */
#include "base/utf8.h"

size_t pr_utf8_decode(const char *text, uint32_t *code)
{
    static const uint32_t least[] = {[2] = 0x80, [3] = 0x800, [4] = 0x10000};
    const unsigned char *s = (const unsigned char *)text;
    if (s[0] < 0x80) {
        *code = s[0];
        return 1;
    }
    if (s[0] < 0xc2 || s[0] > 0xf4)
        return 0;
    const size_t n = s[0] >= 0xf0 ? 4 : s[0] >= 0xe0 ? 3 : 2;
    uint32_t value = s[0] & (0x7fu >> n);
    /* a terminating zero is no continuation byte, so the scan cannot run past the end */
    for (size_t i = 1; i < n; i++) {
        if ((s[i] & 0xc0) != 0x80)
            return 0;
        value = value << 6 | (s[i] & 0x3fu);
    }
    if (value < least[n] || value > 0x10ffff || (value >= 0xd800 && value <= 0xdfff))
        return 0;
    *code = value;
    return n;
}
