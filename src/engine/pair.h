/* Embedded pairs of explicit Runge-Kutta methods with interpolants: coefficients only.
 *
 *     y1 = y0 + h sum b_i k_i,   error = h sum e_i k_i,   k_i = f(tau + c_i h, y0 + h sum a_ij k_j)
 *
 * The last stage is the rate at the end of the step and the first stage of the next. Between the
 * ends, with s the last stage,
 *
 *     y(theta) = y0 + theta (r2 + (1-theta) (r3 + theta (r4 + (1-theta) r5)))
 *     r2 = y1 - y0, r3 = h k_1 - r2, r4 = r2 - h k_s - r3, r5 = h sum d_i k_i
 *
 * which is Hermite's cubic and d's term of fourth order. */
#ifndef PR_ENGINE_PAIR_H
#define PR_ENGINE_PAIR_H

enum { PR_STAGES_MAX = 7 };

typedef struct pr_pair {
    int last;                                        /* stage at the end of the step */
    int early;                                       /* the stage that events.c looks at */
    double node[PR_STAGES_MAX];                      /* c */
    double weight[PR_STAGES_MAX][PR_STAGES_MAX - 1]; /* a; the row of the last stage is b */
    double error_weight[PR_STAGES_MAX];              /* e */
    double dense_weight[PR_STAGES_MAX];              /* d */
} pr_pair;

/* Orders 5(4), six evaluations a step, interpolant of fourth order. b_2 is zero. */
extern const pr_pair pr_pair_long;
/* Orders 3(2), three evaluations a step, interpolant of third order. */
extern const pr_pair pr_pair_short;

#endif
