/* A study of uncertain inputs as text, JSON and a plot (plots/risk.gp). */
#ifndef PR_REPORT_RISK_REPORT_H
#define PR_REPORT_RISK_REPORT_H

#include "planner/risk.h"
#include "report/plot.h"
#include "report/style.h"

enum { PR_RISK_LINES = 3, PR_RISK_LINE_BYTES = 240 };

/* The answer in three lines: how often the plan holds; what breaks and what matters; the rest that
 * holds. */
typedef struct pr_risk_answer {
    bool good; /* holds in nine of ten or more */
    char line[PR_RISK_LINES][PR_RISK_LINE_BYTES];
} pr_risk_answer;
void pr_risk_answer_make(const pr_risk *risk, pr_risk_answer *answer);

pr_status pr_risk_write_text(const pr_scenario *scenario, const pr_risk *risk,
                             const pr_risk_options *options, const pr_style *style, FILE *out);
pr_status pr_risk_write_json(const pr_scenario *scenario, const pr_risk *risk,
                             const pr_risk_options *options, const pr_diag *diag, FILE *out);
pr_status pr_risk_plot_draw(const pr_scenario *scenario, const pr_risk *risk, pr_units units,
                            pr_plot_format format, FILE *out, char *message, size_t message_size);

/* Inputs by what they do to the needed rest, most first: total index, then swing. */
void pr_risk_order(const pr_risk *risk, int order[PR_RISK_INPUTS_MAX]);
/* Changes the rest by less than a twentieth, and makes less than a hundredth of its spread. */
bool pr_risk_hardly_matters(const pr_risk *risk, const pr_risk_input *input);
/* Longer of the rests needed at both ends less the shorter; infinite when one end has none. */
double pr_risk_swing_s(const pr_risk_input *input);
/* A value of an input in a unit that its name tells; a plain number when it tells none. */
pr_text pr_risk_value(const pr_risk_input *input, double value, pr_units units);

#endif
