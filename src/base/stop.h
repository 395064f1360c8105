/* A request to end: Ctrl-C, SIGTERM, SIGHUP. Signals belong to the whole process, and so does the
 * one flag behind this; a program that uses the library and never calls pr_stop_catch() keeps its
 * own handlers and is never asked to stop here. */
#ifndef PR_BASE_STOP_H
#define PR_BASE_STOP_H

#include <stdbool.h>

/* From now on the first request is only noted; a second one ends the program at once. A signal that
 * is ignored on purpose, as under nohup, stays ignored. */
void pr_stop_catch(void);
bool pr_stop_requested(void);

#endif
