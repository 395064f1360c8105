/* Bands, pairs and fit of readings; internal to readings.c and readings_fit.c. */
#ifndef PR_PLANNER_READINGS_FIT_H
#define PR_PLANNER_READINGS_FIT_H

#include "planner/readings.h"

void pr_readings_set_band(pr_reading_band *band);
/* Fills readings->pair. */
void pr_readings_pair(pr_readings *readings);

#endif
