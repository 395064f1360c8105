/* A trace as CSV (RFC 4180): one head line of column names, SI units in the names, the event that
 * happened at a row in the last column. */
#ifndef PR_REPORT_CSV_H
#define PR_REPORT_CSV_H

#include "engine/trace.h"

pr_status pr_trace_write_csv(const pr_trace *trace, FILE *out);

#endif
