/* Runs another program without a shell, with a time limit, and keeps the end of what it complained
 * about. Its input is empty and its output is dropped. */
#ifndef PR_REPORT_PROCESS_H
#define PR_REPORT_PROCESS_H

typedef enum pr_process_end {
    PR_PROCESS_DONE,    /* it ran; see exit_status */
    PR_PROCESS_MISSING, /* there is no such program */
    PR_PROCESS_TIMEOUT, /* it was killed */
    PR_PROCESS_STOPPED, /* it was killed, because we are requested to stop (base/stop.h) */
    PR_PROCESS_FAILED   /* it could not be started or watched, or a signal ended it; see errors */
} pr_process_end;

typedef struct pr_process_result {
    pr_process_end end;
    int exit_status;
    char errors[400]; /* last line of its standard error, printable */
} pr_process_result;

/* arguments[0] is looked up in PATH; the list ends with NULL. */
void pr_process_run(const char *const arguments[], double timeout_s, pr_process_result *result);

#endif
