/* The budget's answer in three lines: see budget_report.h. */
#include "report/budget_report.h"

#include <math.h>
#include <string.h>

static const double SOC_HELD_frac = 1e-3; /* in an hour, of the battery that cranks */

#define append(line, ...) pr_text_append(line, PR_BUDGET_LINE_BYTES, __VA_ARGS__)

static const pr_budget_situation *tightest(const pr_budget *b)
{
    const pr_budget_situation *worst = &b->situation[0];
    for (int k = 1; k < b->n_situations; k++)
        if (b->situation[k].own.average_margin_A < worst->own.average_margin_A)
            worst = &b->situation[k];
    return worst;
}

static void say_alternator(const pr_budget *b, char *line)
{
    const pr_budget_situation *s = tightest(b);
    char name[PR_NAME_MAX + 8];
    pr_text_printable(name, sizeof name, s->name);
    if (isnan(b->alternator.rated_A)) {
        append(line, "NO alternator: the battery carries everything.");
        return;
    }
    if (b->alternator.enough) {
        append(line,
               "ENOUGH: the %.0f A alternator carries every situation; least to spare, %.0f A, "
               "in '%s' at %s rpm.",
               b->alternator.rated_A, s->own.average_margin_A, name,
               pr_text_number(s->own.engine_rpm, 0).s);
        return;
    }
    append(line, "NOT ENOUGH: '%s' at %s rpm takes %.0f A more than the %.0f A alternator gives",
           name, pr_text_number(s->own.engine_rpm, 0).s, -s->own.average_margin_A,
           b->alternator.rated_A);
    if (isfinite(s->runs_s))
        append(line, "; the engine stops after %s.", pr_text_duration_rough(s->runs_s).s);
    else if (s->no_restart_s >= 60.0 && isfinite(s->no_restart_s))
        append(line, "; no restart after %s.", pr_text_duration_rough(s->no_restart_s).s);
    else if (s->soc_per_hour_frac > -SOC_HELD_frac)
        append(line, "; the second battery loses charge."); /* behind an open link */
    else
        append(line, "; the battery loses charge.");
}

static void say_remedy(const pr_budget *b, char *line)
{
    const pr_budget_alternator *a = &b->alternator;
    if (isnan(a->rated_A))
        return;
    if (isnan(a->recommended_A))
        append(line, "No usual alternator carries all of it hot at idle.");
    else if (a->rated_A >= a->recommended_A)
        append(line,
               "Its rating has the quarter to spare that it should have (%.0f A or more asked "
               "for), hot idle included.",
               a->recommended_A);
    else
        append(line,
               "Recommended: %.0f A or more (largest load %.0f A and a quarter; carries all of "
               "it hot at idle).",
               a->recommended_A, a->most_load_A);
    if (isnan(a->idle_rpm_needed))
        append(line,
               " With the present one no engine speed carries all of it hot: switch loads off.");
    else if (a->idle_rpm_needed > 350.0)
        append(line, " The present one carries all of it hot from %s rpm.",
               pr_text_number(10.0 * ceil(0.1 * a->idle_rpm_needed), 0).s);
}

static void say_rest(const pr_budget *b, char *line)
{
    int cables = 0, fuses = 0, missing = 0, melts = -1;
    for (int i = 0; i < b->n_cables; i++) {
        cables += !(b->cable[i].drop_ok && b->cable[i].heat_ok);
        if (b->cable[i].melts && melts < 0)
            melts = i;
    }
    for (int i = 0; i < b->n_fuses; i++) {
        missing += b->fuse[i].verdict == PR_FUSING_NONE;
        fuses +=
            b->fuse[i].verdict == PR_FUSING_TOO_BIG || b->fuse[i].verdict == PR_FUSING_TOO_SMALL;
    }
    append(line, "%d of %d cables too thin", cables, b->n_cables);
    if (melts >= 0) {
        char name[PR_NAME_MAX + 8];
        pr_text_printable(name, sizeof name, b->cable[melts].name);
        append(line, " ('%s' melts: do not use it)", name);
    }
    if (b->n_fuses > missing)
        append(line, ", %d of %d fuses wrong", fuses, b->n_fuses - missing);
    if (missing > 0)
        append(line, ", %d cable%s without a fuse", missing, missing == 1 ? "" : "s");
    append(line, ". ");
    if (isfinite(b->limp_s))
        append(line, "Limp home, alternator dead, essential loads only (%.0f A): %s.",
               b->limp_load_A, pr_text_duration_rough(b->limp_s).s);
    else
        append(line, "Limp home, alternator dead: more than four days, nothing essential draws.");
}

void pr_budget_answer(const pr_budget *budget, pr_units units,
                      char line[PR_BUDGET_LINES][PR_BUDGET_LINE_BYTES])
{
    (void)units; /* amps, volts and minutes are the same in both */
    for (int i = 0; i < PR_BUDGET_LINES; i++)
        line[i][0] = '\0';
    say_alternator(budget, line[0]);
    say_remedy(budget, line[1]);
    say_rest(budget, line[2]);
}
