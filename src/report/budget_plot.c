/* The budget as a picture: the loads of the heaviest situation stacked, under what the alternator
 * gives over engine speed, cold and hot; a mark for each situation. See budget_report.h. */
#include "report/budget_report.h"

#include "base/number.h"

#include <math.h>
#include <string.h>

enum { SHOWN = 6, CURVE_COLUMNS = 3, BAND_COLUMNS = 2, MARK_COLUMNS = 2 };

typedef struct stack {
    int n;
    double from_to_A[(SHOWN + 1) * BAND_COLUMNS];
    const char *label[SHOWN + 1];
} stack;

static int largest_left(const pr_budget *b, const pr_budget_situation *s, const bool used[])
{
    int best = -1;
    for (int i = 0; i < b->n_loads; i++)
        if (s->load_on[i] && !used[i] && b->load[i].amps_A > 0.0 &&
            (best < 0 || b->load[i].amps_A > b->load[best].amps_A))
            best = i;
    return best;
}

static void push(stack *st, double amps_A, const char *label)
{
    const double from_A = st->n > 0 ? st->from_to_A[BAND_COLUMNS * st->n - 1] : 0.0;
    st->from_to_A[BAND_COLUMNS * st->n] = from_A;
    st->from_to_A[BAND_COLUMNS * st->n + 1] = from_A + amps_A;
    st->label[st->n++] = label;
}

/* The largest loads by name, the rest as one band on top. */
static void pile_up(const pr_budget *b, stack *st)
{
    const pr_budget_situation *s = &b->situation[b->alternator.most_situation];
    bool used[PR_LOADS_MAX] = {false};
    *st = (stack){0};
    for (int i; st->n < SHOWN && (i = largest_left(b, s, used)) >= 0;) {
        used[i] = true;
        push(st, b->load[i].amps_A, b->load[i].name);
    }
    double rest_A = 0.0;
    for (int i; (i = largest_left(b, s, used)) >= 0; rest_A += b->load[i].amps_A)
        used[i] = true;
    if (rest_A > 0.0)
        push(st, rest_A, "all others");
    if (st->n == 0)
        push(st, 0.0, "no load");
}

typedef struct mark_list {
    size_t n;
    double values[PR_SITUATIONS_MAX * MARK_COLUMNS];
    char text[PR_SITUATIONS_MAX][4 * PR_NAME_MAX];
    const char *label[PR_SITUATIONS_MAX];
} mark_list;

/* One mark per situation; those that would lie on each other share one. */
static void place_marks(const pr_budget *b, mark_list *marks)
{
    static const double NEAR_rpm = 60.0, NEAR_FRAC = 0.04;
    const double near_A = NEAR_FRAC * fmax(b->curve_A[b->n_curve - 1][PR_BUDGET_COLD], 1.0);
    marks->n = 0;
    for (int k = 0; k < b->n_situations; k++) {
        const pr_budget_situation *s = &b->situation[k];
        size_t i = 0;
        while (i < marks->n &&
               !(fabs(marks->values[MARK_COLUMNS * i] - s->own.engine_rpm) < NEAR_rpm &&
                 fabs(marks->values[MARK_COLUMNS * i + 1] - s->own.load_A) < near_A))
            i++;
        char *text = marks->text[i];
        if (i < marks->n) {
            const size_t used = strlen(text);
            snprintf(text + used, sizeof marks->text[i] - used, ", %s", s->name);
            continue;
        }
        marks->values[MARK_COLUMNS * i] = s->own.engine_rpm;
        marks->values[MARK_COLUMNS * i + 1] = s->own.load_A;
        snprintf(text, sizeof marks->text[i], "%s", s->name);
        marks->label[i] = text;
        marks->n++;
    }
}

pr_status pr_budget_plot_draw(const pr_scenario *scenario, const pr_budget *budget,
                              pr_plot_format format, FILE *out, char *message, size_t message_size)
{
    const pr_budget *b = budget;
    double curve[PR_BUDGET_CURVE * CURVE_COLUMNS];
    mark_list marks;
    char line[PR_BUDGET_LINES][PR_BUDGET_LINE_BYTES];
    stack st;
    if (b->n_curve == 0) {
        snprintf(message, message_size, "there is no alternator to draw");
        return PR_ERR_INPUT;
    }
    for (int i = 0; i < b->n_curve; i++) {
        curve[CURVE_COLUMNS * i] = b->curve_rpm[i];
        curve[CURVE_COLUMNS * i + 1] = b->curve_A[i][PR_BUDGET_COLD];
        curve[CURVE_COLUMNS * i + 2] = b->curve_A[i][PR_BUDGET_HOT];
    }
    place_marks(b, &marks);
    pile_up(b, &st);
    pr_budget_answer(b, PR_UNITS_METRIC, line);
    const pr_plot_table tables[] = {
        {"curve", (size_t)b->n_curve, CURVE_COLUMNS, curve, NULL},
        {"bands", (size_t)st.n, BAND_COLUMNS, st.from_to_A, st.label},
        {"marks", marks.n, MARK_COLUMNS, marks.values, marks.label},
    };
    const pr_plot_variable variables[] = {
        {"title", scenario->title, 0.0},
        {"answer", line[0], 0.0},
        {"heaviest", b->situation[b->alternator.most_situation].name, 0.0},
        {"idle", NULL, scenario->system.idle_rpm},
        {"fast_idle", NULL, scenario->system.fast_idle_rpm},
    };
    const pr_plot picture = {.script = "budget",
                             .tables = tables,
                             .n_tables = sizeof tables / sizeof *tables,
                             .variables = variables,
                             .n_variables = sizeof variables / sizeof *variables};
    return pr_plot_draw(&picture, format, out, message, message_size);
}
