/* cmocka with the headers that it wants before it, and the comparison of numbers that we need. */
#ifndef PR_TESTS_SUPPORT_CHECK_H
#define PR_TESTS_SUPPORT_CHECK_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* Fails unless |got - expected| <= tolerance; NaN on any side fails. */
#define assert_near(got, expected, tolerance)                                                      \
    pr_assert_near((got), (expected), (tolerance), #got, __FILE__, __LINE__)

/* cmocka leaves the test here; the analysers of the compilers do not know that by themselves */
void _fail(const char *const file, const int line) __attribute__((noreturn));

void pr_assert_near(double got, double expected, double tolerance, const char *what,
                    const char *file, int line);

#endif
