/* Plans a recovery through the library and prints it pull by pull.
 * usage: example SCENARIO.yaml [MODELS_FOLDER] */
#include <pullrest.h>

#include <stdio.h>

static void print_messages(const pr_recovery *recovery)
{
    size_t i;
    for (i = 0; i < pr_recovery_message_count(recovery); i++) {
        pr_recovery_message m;
        if (pr_recovery_get_message(recovery, i, &m) == PR_RECOVERY_DONE)
            fprintf(stderr, "%s:%lu:%lu: %s\n", m.file ? m.file : "", (unsigned long)m.line,
                    (unsigned long)m.column, m.text);
    }
}

static int print_plan(const pr_recovery *recovery)
{
    pr_recovery_plan plan;
    size_t i;
    if (pr_recovery_get_plan(recovery, PR_RECOVERY_EVEN, &plan) != PR_RECOVERY_DONE)
        return PR_RECOVERY_FAILED;
    printf("%s: pull %.0f s, rest %.0f s, %lu times, %.0f s in all; %s\n", plan.go ? "GO" : "NO-GO",
           plan.pull_s, plan.rest_s, (unsigned long)plan.n_pulls, plan.total_s,
           plan.go ? plan.binds : plan.ended_by);
    for (i = 0; i < plan.n_pulls; i++) {
        pr_recovery_pull pull;
        if (pr_recovery_get_pull(recovery, PR_RECOVERY_EVEN, i, &pull) != PR_RECOVERY_DONE)
            return PR_RECOVERY_FAILED;
        printf("pull %lu at %.0f s: %.1f m, charge %.2f, %.1f V at least, motor %.0f degC\n",
               (unsigned long)(i + 1), pull.start_s, pull.travel_m, pull.charge_after_pull_frac,
               pull.least_box_V, pull.most_motor_degC);
    }
    return PR_RECOVERY_DONE;
}

int main(int argc, char **argv)
{
    pr_recovery *recovery;
    int code;
    if (argc < 2) {
        fputs("usage: example SCENARIO.yaml [MODELS_FOLDER]\n", stderr);
        return PR_RECOVERY_INPUT;
    }
    recovery = pr_recovery_read(argv[1], argc > 2 ? argv[2] : NULL);
    if (recovery == NULL)
        return PR_RECOVERY_FAILED;
    code = (int)pr_recovery_plan_all(recovery, NULL, NULL);
    print_messages(recovery);
    if (code <= PR_RECOVERY_NO && print_plan(recovery) != PR_RECOVERY_DONE)
        code = PR_RECOVERY_FAILED;
    pr_recovery_free(recovery);
    return code;
}
