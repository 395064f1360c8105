/* e^x to the last digit but one, without a call: the derivatives of the state need it a dozen times
 * each, and the same digits must come out on every machine, which a library does not promise.
 *
 * x = n ln 2 / 64 + r with |r| <= ln 2 / 128, so e^x = 2^(n/64) e^r: the first from a table of 64
 * numbers and the exponent of the result, the second from its series to the fifth power, whose
 * remainder is below 4e-17. ln 2 / 64 is kept in two parts, the first short enough for n times it
 * to be exact. Outside of |x| < 700 the library decides. */
#ifndef PR_BASE_EXPONENTIAL_H
#define PR_BASE_EXPONENTIAL_H

#include <math.h>
#include <stdint.h>
#include <string.h>

extern const double pr_exp_table[64]; /* 2^(i/64) */

static inline double pr_exp(double x)
{
    if (!(fabs(x) < 700.0))
        return exp(x);
    const double to_whole = 0x1.8p52; /* added, it rounds to a whole number in the low bits */
    const double shifted = x * 0x1.71547652b82fep+6 + to_whole, n = shifted - to_whole;
    const double r = (x - n * 0x1.62e42fe000000p-7) - n * 0x1.f473de6af278fp-36;
    uint64_t bits, power;
    memcpy(&bits, &shifted, sizeof bits);
    memcpy(&power, &pr_exp_table[bits & 63], sizeof power);
    power += bits >> 6 << 52;
    double scale;
    memcpy(&scale, &power, sizeof scale);
    const double r2 = r * r;
    return scale +
           scale * (r + r2 * (0.5 + r * (1.0 / 6.0)) + r2 * r2 * (1.0 / 24.0 + r * (1.0 / 120.0)));
}

/* Two numbers that the processor works on side by side. */
typedef double pr_two __attribute__((vector_size(2 * sizeof(double))));
typedef uint64_t pr_two_bits __attribute__((vector_size(2 * sizeof(uint64_t))));

/* The numbers of pr_exp, twice each: GCC loads them at once only if it does not know them. */
extern const struct pr_exp_numbers {
    pr_two to_whole, per_part, part, part_rest, c2, c3, c4, c5;
} pr_exp_numbers;

pr_two pr_exp_two_far(double x, double y); /* any two */

/* e^x and e^y, to the digit what pr_exp says, for little more than the price of one. */
static inline pr_two pr_exp_two(double x, double y)
{
    if (!(fabs(x) + fabs(y) < 700.0))
        return pr_exp_two_far(x, y);
    const struct pr_exp_numbers *c = &pr_exp_numbers;
    const pr_two z = {x, y}, shifted = z * c->per_part + c->to_whole, n = shifted - c->to_whole;
    const pr_two r = (z - n * c->part) - n * c->part_rest, r2 = r * r;
    const pr_two_bits bits = (pr_two_bits)shifted;
    const pr_two root = {pr_exp_table[bits[0] & 63], pr_exp_table[bits[1] & 63]};
    const pr_two scale = (pr_two)((pr_two_bits)root + (bits >> 6 << 52));
    return scale + scale * (r + r2 * (c->c2 + r * c->c3) + r2 * r2 * (c->c4 + r * c->c5));
}

#endif
