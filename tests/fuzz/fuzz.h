/* What the fuzz targets share: bytes that become numbers within ranges, and a check that holds in
 * every build. */
#ifndef PR_TESTS_FUZZ_H
#define PR_TESTS_FUZZ_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

/* Ends the process with a message when something that must hold does not: that is a finding. */
#define FUZZ_CHECK(condition, ...)                                                                 \
    do {                                                                                           \
        if (!(condition)) {                                                                        \
            fprintf(stderr, "%s:%d: %s: ", __FILE__, __LINE__, #condition);                        \
            fprintf(stderr, __VA_ARGS__);                                                          \
            fputc('\n', stderr);                                                                   \
            abort();                                                                               \
        }                                                                                          \
    } while (0)

/* Bytes are used up from the front; when there are none left, every further one is 0. */
typedef struct fuzz_bytes {
    const uint8_t *at;
    size_t left;
} fuzz_bytes;

static inline unsigned fuzz_byte(fuzz_bytes *bytes)
{
    if (bytes->left == 0)
        return 0;
    bytes->left--;
    return *bytes->at++;
}

/* One byte: both ends of the range and 254 numbers between them. */
static inline double fuzz_between(fuzz_bytes *bytes, double low, double high)
{
    return low + (high - low) * fuzz_byte(bytes) / 255.0;
}

/* 0 .. n - 1 */
static inline int fuzz_choice(fuzz_bytes *bytes, int n)
{
    return (int)(fuzz_byte(bytes) % (unsigned)n);
}

static inline bool fuzz_flag(fuzz_bytes *bytes)
{
    return (fuzz_byte(bytes) & 1) != 0;
}

/* NaN, that is not given, once in four. */
static inline double fuzz_maybe(fuzz_bytes *bytes, double low, double high)
{
    const bool given = fuzz_choice(bytes, 4) != 0;
    const double value = fuzz_between(bytes, low, high);
    return given ? value : __builtin_nan("");
}

#endif
