/* Words: see nearest.h. */
#include "reader/nearest.h"

#include <ctype.h>
#include <string.h>

enum { WORD_MAX = 63 };

static size_t least(size_t a, size_t b)
{
    return a < b ? a : b;
}

size_t pr_edit_distance(const char *a, const char *b)
{
    const size_t n = strnlen(a, WORD_MAX), m = strnlen(b, WORD_MAX);
    size_t rows[3][WORD_MAX + 1]; /* of the classic table only three are needed */
    size_t *before = rows[0], *above = rows[1], *row = rows[2];
    for (size_t j = 0; j <= m; j++)
        above[j] = j;
    memcpy(before, above, sizeof rows[0]);
    for (size_t i = 1; i <= n; i++) {
        const int x = tolower((unsigned char)a[i - 1]);
        row[0] = i;
        for (size_t j = 1; j <= m; j++) {
            const int y = tolower((unsigned char)b[j - 1]);
            row[j] = least(above[j - 1] + (x != y), least(above[j], row[j - 1]) + 1);
            if (i > 1 && j > 1 && x == tolower((unsigned char)b[j - 2]) &&
                y == tolower((unsigned char)a[i - 2]))
                row[j] = least(row[j], before[j - 2] + 1);
        }
        size_t *const oldest = before;
        before = above;
        above = row;
        row = oldest;
    }
    return above[m];
}

size_t pr_name_distance(const char *given, const char *name)
{
    size_t best = pr_edit_distance(given, name);
    const char *word = name;
    while (strpbrk(name, "-_ ") != NULL && *word != '\0') {
        char part[WORD_MAX + 1];
        const size_t n = strcspn(word, "-_ ");
        memcpy(part, word, least(n, WORD_MAX));
        part[least(n, WORD_MAX)] = '\0';
        best = least(best, pr_edit_distance(given, part) + 1);
        word += n;
        word += strspn(word, "-_ ");
    }
    return best;
}

bool pr_is_near(size_t distance, const char *word)
{
    return distance <= 1 + strnlen(word, WORD_MAX) / 3 && distance < strnlen(word, WORD_MAX);
}

bool pr_name_canonical(const char *name, char *canonical, size_t size)
{
    size_t n = 0;
    bool gap = false;
    for (; *name != '\0'; name++) {
        const unsigned char c = (unsigned char)*name;
        if (c < 128 && !isalnum(c)) {
            gap = n > 0;
            continue;
        }
        if (n + gap + 1 >= size)
            return false;
        if (gap)
            canonical[n++] = '-';
        gap = false;
        canonical[n++] = (char)(c < 128 ? tolower(c) : c);
    }
    canonical[n] = '\0';
    return n > 0;
}

bool pr_name_equal(const char *a, const char *b)
{
    char x[WORD_MAX + 1], y[WORD_MAX + 1];
    return pr_name_canonical(a, x, sizeof x) && pr_name_canonical(b, y, sizeof y) &&
           strcmp(x, y) == 0;
}
