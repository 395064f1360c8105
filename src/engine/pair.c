/* Coefficients of the two pairs.
 *
 * Long: the method of fifth order of J. C. Butcher (1964, J. Austral. Math. Soc. 4, 179), whose
 * step is Boole's rule. Its stages are evenly spaced and its coefficients small, so that they stay
 * near the solution where a step is several times as long as the fastest decay; where the rates
 * hardly depend on the state, the usual thing here, its order is six. Error estimate and
 * interpolant are ours: with the rate at the end as a seventh stage, the order conditions up to the
 * fourth leave one error estimate up to a factor, chosen so that its conditions of fifth order are
 * missed by as much (0.0010, root of the sum of squares) as by the pair 5(4) of Dormand and Prince
 * (0.0012), and one quartic that continues its slope from step to step.
 *
 * Short: the pair 3(2) of P. Bogacki and L. F. Shampine (1989, Appl. Math. Lett. 2, 321).
 *
 * tests/unit/test_pair.c checks the order conditions. */
#include "engine/pair.h"

const pr_pair pr_pair_long = {
    .last = 6,
    .early = 2,
    .node = {0.0, 1.0 / 4, 1.0 / 4, 1.0 / 2, 3.0 / 4, 1.0, 1.0},
    .weight = {{0.0},
               {1.0 / 4},
               {1.0 / 8, 1.0 / 8},
               {0.0, -1.0 / 2, 1.0},
               {3.0 / 16, 0.0, 0.0, 9.0 / 16},
               {-3.0 / 7, 2.0 / 7, 12.0 / 7, -12.0 / 7, 8.0 / 7},
               {7.0 / 90, 0.0, 32.0 / 90, 12.0 / 90, 32.0 / 90, 7.0 / 90}},
    .error_weight = {-1.0 / 450, 0.0, 2.0 / 225, -1.0 / 75, 2.0 / 225, -49.0 / 1800, 1.0 / 40},
    .dense_weight = {-10.0 / 9, 0.0, 16.0 / 9, 4.0 / 3, -32.0 / 9, 14.0 / 9, 0.0}};

const pr_pair pr_pair_short = {
    .last = 3,
    .early = 1,
    .node = {0.0, 1.0 / 2, 3.0 / 4, 1.0},
    .weight = {{0.0}, {1.0 / 2}, {0.0, 3.0 / 4}, {2.0 / 9, 1.0 / 3, 4.0 / 9}},
    .error_weight = {-5.0 / 72, 1.0 / 12, 1.0 / 9, -1.0 / 8}};
