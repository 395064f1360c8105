/* Coefficients of the two pairs.
 *
 * Long: the pair 5(4) of J. R. Dormand and P. J. Prince (1980, J. Comp. Appl. Math. 6, 19) with the
 * interpolant of fourth order that goes with it (E. Hairer, S. P. Norsett, G. Wanner, Solving
 * Ordinary Differential Equations I, section II.6).
 * Short: the pair 3(2) of P. Bogacki and L. F. Shampine (1989, Appl. Math. Lett. 2, 321).
 *
 * tests/unit/test_engine_pair.c checks the order conditions. */
#include "engine/pair.h"

const pr_pair pr_pair_long = {
    .last = 6,
    .early = 2,
    .node = {0.0, 1.0 / 5, 3.0 / 10, 4.0 / 5, 8.0 / 9, 1.0, 1.0},
    .weight = {{0.0},
               {1.0 / 5},
               {3.0 / 40, 9.0 / 40},
               {44.0 / 45, -56.0 / 15, 32.0 / 9},
               {19372.0 / 6561, -25360.0 / 2187, 64448.0 / 6561, -212.0 / 729},
               {9017.0 / 3168, -355.0 / 33, 46732.0 / 5247, 49.0 / 176, -5103.0 / 18656},
               {35.0 / 384, 0.0, 500.0 / 1113, 125.0 / 192, -2187.0 / 6784, 11.0 / 84}},
    .error_weight = {71.0 / 57600, 0.0, -71.0 / 16695, 71.0 / 1920, -17253.0 / 339200, 22.0 / 525,
                     -1.0 / 40},
    .dense_weight = {-12715105075.0 / 11282082432.0, 0.0, 87487479700.0 / 32700410799.0,
                     -10690763975.0 / 1880347072.0, 701980252875.0 / 199316789632.0,
                     -1453857185.0 / 822651844.0, 69997945.0 / 29380423.0}};

const pr_pair pr_pair_short = {
    .last = 3,
    .early = 1,
    .node = {0.0, 1.0 / 2, 3.0 / 4, 1.0},
    .weight = {{0.0}, {1.0 / 2}, {0.0, 3.0 / 4}, {2.0 / 9, 1.0 / 3, 4.0 / 9}},
    .error_weight = {-5.0 / 72, 1.0 / 12, 1.0 / 9, -1.0 / 8}};
