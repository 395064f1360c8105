/* Not-a-number (a value that is not given) and infinity as doubles. math.h's NAN and INFINITY are
 * of type float, and clang's -Wdouble-promotion rightly complains where they stand for a double. */
#ifndef PR_BASE_NUMBER_H
#define PR_BASE_NUMBER_H

#define PR_NAN __builtin_nan("")
#define PR_INF __builtin_inf()

#endif
