/* Comparison of two numbers that says by how much they differ. */
#include "support/check.h"

#include <math.h>

void pr_assert_near(double got, double expected, double tolerance, const char *what,
                    const char *file, int line)
{
    const double error = fabs(got - expected);
    if (error <= tolerance)
        return;
    print_error("%s is %.15g, expected %.15g, off by %.3g, allowed %.3g\n", what, got, expected,
                error, tolerance);
    _fail(file, line);
}
