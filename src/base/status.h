/* Status codes of every fallible function, and their texts, in one list. */
#ifndef PR_BASE_STATUS_H
#define PR_BASE_STATUS_H

/* name, text: what a person is told when nothing more precise is known. */
#define PR_STATUS_LIST(X)                                                                          \
    X(PR_OK, "done")                                                                               \
    X(PR_ERR_NOMEM, "out of memory")                                                               \
    X(PR_ERR_IO, "cannot read or write a file")                                                    \
    X(PR_ERR_INPUT, "the input has mistakes")                                                      \
    X(PR_ERR_RANGE, "a value is outside its allowed range")                                        \
    X(PR_ERR_VALIDITY, "outside the range in which the model holds")                               \
    X(PR_ERR_NO_SOLUTION, "the equations have no solution for these values")                       \
    X(PR_ERR_NO_CONVERGENCE, "an iteration did not converge")                                      \
    X(PR_ERR_STEP_LIMIT, "the time step became too small or the steps too many")                   \
    X(PR_ERR_CANCELLED, "stopped on request")                                                      \
    X(PR_ERR_INTERNAL, "internal error")

typedef enum pr_status {
#define PR_STATUS_ENUM(name, text) name,
    PR_STATUS_LIST(PR_STATUS_ENUM)
#undef PR_STATUS_ENUM
} pr_status;

/* Mark of a definition that came from its default function; derive refuses any other. */
enum { PR_DEF_COOKIE = 0x70756c6c };

/* Text of a status; never NULL. */
const char *pr_status_text(pr_status status);

#endif
