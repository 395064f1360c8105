/* Do the pairs have the order that they are said to have?
 *
 * A Runge-Kutta method has order p if for every rooted tree t with up to p vertices
 *     sum_j b_j phi_j(t) = 1 / gamma(t),   phi_j(t) = prod over subtrees u of sum_k a_jk phi_k(u),
 *     gamma(t) = order(t) prod gamma(u);
 * an interpolant, if sum_j b_j(theta) phi_j(t) = theta^order(t) / gamma(t). Source: E. Hairer, S.
 * P. Norsett, G. Wanner, Solving Ordinary Differential Equations I, theorem II.2.13 and section
 * II.6; trees as in its table II.2.2. */
#include "engine/pair.h"
#include "support/check.h"

#include <math.h>
#include <stdbool.h>

enum { TREES = 17, CHILDREN = 4 };

/* Subtrees at the root, as places in this list from 1; 0: none. */
static const int child_of[TREES + 1][CHILDREN] = {
    {0},          {0},       {1},    {1, 1}, {2},    {1, 1, 1}, {1, 2}, {3}, {4},
    {1, 1, 1, 1}, {1, 1, 2}, {1, 3}, {1, 4}, {2, 2}, {5},       {6},    {7}, {8}};

typedef struct tree {
    int order;
    double gamma, phi[PR_STAGES_MAX];
} tree;

static tree grow(const pr_pair *pair, const tree grown[], const int children[])
{
    tree t = {.order = 1, .gamma = 1.0};
    for (int j = 0; j <= pair->last; j++)
        t.phi[j] = 1.0;
    for (int c = 0; c < CHILDREN && children[c] > 0; c++) {
        const tree *u = &grown[children[c]];
        t.order += u->order;
        t.gamma *= u->gamma;
        for (int j = 0; j <= pair->last; j++) {
            double sum = 0.0;
            for (int k = 0; k < j; k++)
                sum += pair->weight[j][k] * u->phi[k];
            t.phi[j] *= sum;
        }
    }
    t.gamma *= t.order;
    return t;
}

static void grow_all(const pr_pair *pair, tree grown[TREES + 1])
{
    for (int n = 1; n <= TREES; n++)
        grown[n] = grow(pair, grown, child_of[n]);
}

static double weigh(const pr_pair *pair, const double b[], const tree *t)
{
    double sum = 0.0;
    for (int j = 0; j <= pair->last; j++)
        sum += b[j] * t->phi[j];
    return sum;
}

/* b_j(theta): the interpolant of h = 1, y0 = 0 and rates that are zero but for one. */
static void weigh_between(const pr_pair *pair, double theta, double b[PR_STAGES_MAX])
{
    const double rest = 1.0 - theta;
    for (int j = 0; j <= pair->last; j++) {
        const double r2 = j < pair->last ? pair->weight[pair->last][j] : 0.0;
        const double r3 = (j == 0 ? 1.0 : 0.0) - r2;
        const double r4 = r2 - (j == pair->last ? 1.0 : 0.0) - r3, r5 = pair->dense_weight[j];
        b[j] = theta * (r2 + rest * (r3 + theta * (r4 + rest * r5)));
    }
}

static void check_orders(const pr_pair *pair, int order, int error_order, int dense_order)
{
    tree grown[TREES + 1];
    double step[PR_STAGES_MAX] = {0.0};
    bool error_sees_next = false;
    grow_all(pair, grown);
    for (int j = 0; j < pair->last; j++)
        step[j] = pair->weight[pair->last][j];
    for (int j = 0; j <= pair->last; j++)
        assert_near(grown[2].phi[j], pair->node[j], 1e-15); /* a row adds up to its node */
    for (int n = 1; n <= TREES; n++) {
        const tree *t = &grown[n];
        if (t->order <= order)
            assert_near(weigh(pair, step, t), 1.0 / t->gamma, 1e-15);
        const double error = weigh(pair, pair->error_weight, t);
        if (t->order <= error_order)
            assert_near(error, 0.0, 1e-15);
        else if (t->order == error_order + 1)
            error_sees_next = error_sees_next || fabs(error) > 1e-4;
        for (int k = 1; k < 8 && t->order <= dense_order; k++) {
            const double theta = k / 8.0;
            double b[PR_STAGES_MAX];
            weigh_between(pair, theta, b);
            assert_near(weigh(pair, b, t), pow(theta, t->order) / t->gamma, 1e-15);
        }
    }
    assert_true(error_sees_next);
}

static void test_long_pair_has_orders_5_4_4(void **state)
{
    (void)state;
    check_orders(&pr_pair_long, 5, 4, 4);
}

static void test_short_pair_has_orders_3_2_3(void **state)
{
    (void)state;
    check_orders(&pr_pair_short, 3, 2, 3);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_long_pair_has_orders_5_4_4),
        cmocka_unit_test(test_short_pair_has_orders_3_2_3),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
