/* A remedy in words: see remedy_words.h. */
#include "report/remedy_words.h"

#include <math.h>

#define append(...) pr_text_append(text, PR_REMEDY_BYTES, __VA_ARGS__)

typedef struct gauge_text {
    char s[24];
} gauge_text;

static gauge_text gauge(pr_gauge_kind kind, double size)
{
    gauge_text text = {""};
    pr_wire_gauge_text(kind, size, text.s, sizeof text.s);
    return text;
}

/* Those that may be put together, as they stand in a list. */
static void say_all_free(const pr_remedy_change *c, char *text)
{
    static const char *const words[PR_REMEDY_COUNT] = {
        [PR_REMEDY_HAND_THROTTLE] = "hand throttle",
        [PR_REMEDY_LOADS_OFF_IN_PULLS] = "loads off in pulls",
        [PR_REMEDY_LOADS_OFF] = "loads off in rests too",
        [PR_REMEDY_BLOCK] = "one part of line more",
        [PR_REMEDY_LOWER_LAYER] = "all the rope out",
        [PR_REMEDY_SHORTER_PULLS] = "shorter pulls",
    };
    append("all that is free, at once");
    const char *before = ": ";
    for (int kind = 0; kind < PR_REMEDY_COUNT; kind++) {
        if ((c->together & 1u << kind) == 0 || words[kind] == NULL)
            continue;
        append("%s%s", before, words[kind]);
        before = ", ";
    }
}

static void say_fuse(const pr_remedy_change *c, bool brief, char *text)
{
    append("winch fuse of %.0f A instead of %.0f A", c->rated_A, c->was_A);
    if (c->gauge < c->was_gauge || c->gauge > c->was_gauge)
        append(", and its cable of %s, not %s", gauge(c->gauge_kind, c->gauge).s,
               gauge(c->gauge_kind, c->was_gauge).s);
    if (!brief)
        append("; never bridge or swap a fuse for one that the cable cannot bear");
}

static void say_rope(const pr_remedy_change *c, pr_units units, bool brief, char *text)
{
    const pr_text away = pr_units_text(units, PR_QUANTITY_DISTANCE, c->anchor_m);
    if (brief)
        append("all rope out, an anchor %s away", away.s);
    else
        append("pay out all the rope but the reserve wraps, to an anchor %s away: layer %d", away.s,
               c->layer);
}

/* What can be done on the spot, or with help; false: none of these. */
static bool say_on_the_spot(const pr_remedy *remedy, pr_units units, bool brief, char *text)
{
    const pr_remedy_change *c = &remedy->change;
    switch (remedy->kind) {
    case PR_REMEDY_HAND_THROTTLE:
        append("hand throttle: engine at %s rpm in pulls and rests", pr_text_number(c->rpm, 0).s);
        return true;
    case PR_REMEDY_LOADS_OFF_IN_PULLS:
        append("switch off in pulls what the engine does not need%s (%.0f A)",
               c->lamps ? ", lamps too: use a torch" : "", c->off_A);
        return true;
    case PR_REMEDY_LOADS_OFF:
        append("keep everything off that the engine does not need, rests too (%.0f A)", c->off_A);
        return true;
    case PR_REMEDY_LOWER_LAYER:
        say_rope(c, units, brief, text);
        return true;
    case PR_REMEDY_SHORTER_PULLS:
        append("shorter pulls: %.0f s instead of %.0f s", c->pull_s, c->was_s);
        return true;
    case PR_REMEDY_WARM_BATTERY:
        append("battery warmed to %s before the start%s",
               pr_units_text(units, PR_QUANTITY_TEMPERATURE, c->battery_degC).s,
               brief ? "" : " (drive, or a warm place)");
        return true;
    case PR_REMEDY_JUMP:
        append("jump leads (%s) from another vehicle%s",
               units == PR_UNITS_US ? gauge(PR_GAUGE_AWG, c->awg).s
                                    : gauge(c->gauge_kind, c->gauge).s,
               brief ? "" : "; only its battery is counted");
        return true;
    case PR_REMEDY_ALL_FREE:
        say_all_free(c, text);
        return true;
    default:
        return false;
    }
}

static void say_to_fit(const pr_remedy *remedy, bool brief, char *text)
{
    const pr_remedy_change *c = &remedy->change;
    switch (remedy->kind) {
    case PR_REMEDY_BLOCK:
        if (remedy->effort == PR_EFFORT_FREE)
            append("rig %d parts of line: you have the pulley block for it", c->parts);
        else
            append("one pulley block more (%d in all): %d parts of line", c->parts - 1, c->parts);
        break;
    case PR_REMEDY_SECOND_SWITCH:
        append("second battery like the first, joined by a hand switch");
        break;
    case PR_REMEDY_SECOND_RELAY:
        append("second battery like the first, joined by a voltage-sensing relay");
        break;
    case PR_REMEDY_SECOND_DIODE:
        append("second battery for the winch alone, filled through an isolator diode");
        break;
    case PR_REMEDY_SECOND_CHARGER:
        append("second battery for the winch alone, filled by a %.0f A DC-DC charger", c->rated_A);
        break;
    case PR_REMEDY_BIGGER_BATTERY:
        append("bigger battery: %.0f Ah", c->capacity_Ah);
        break;
    case PR_REMEDY_ALTERNATOR_ONE_UP:
    case PR_REMEDY_ALTERNATOR_TWO_UP:
        append("alternator of %.0f A", c->rated_A);
        break;
    case PR_REMEDY_THICKER_CABLE:
        append("winch cable of %s instead of %s", gauge(c->gauge_kind, c->gauge).s,
               gauge(c->gauge_kind, c->was_gauge).s);
        break;
    case PR_REMEDY_WINCH_FUSE:
        say_fuse(c, brief, text);
        break;
    default:
        break;
    }
}

void pr_remedy_text(const pr_remedy *remedy, pr_units units, bool brief, char text[PR_REMEDY_BYTES])
{
    text[0] = '\0';
    if (!say_on_the_spot(remedy, units, brief, text))
        say_to_fit(remedy, brief, text);
}

pr_text pr_remedy_effect(const pr_remedy *remedy, pr_units units)
{
    if (remedy->turns_to_go)
        return (pr_text){"turns no into go"};
    pr_text text;
    if (remedy->go)
        snprintf(text.s, sizeof text.s, "%s %.60s", remedy->saved_s < 0.0 ? "costs" : "saves",
                 pr_text_duration_rough(fabs(remedy->saved_s)).s);
    else
        snprintf(text.s, sizeof text.s, "%.60s further",
                 pr_units_text(units, PR_QUANTITY_DISTANCE, remedy->gained_m).s);
    return text;
}

const char *pr_remedy_effort(pr_effort effort)
{
    switch (effort) {
    case PR_EFFORT_FREE:
        return "free";
    case PR_EFFORT_BORROW:
        return "needs help";
    case PR_EFFORT_BUY:
        return "parts to fit";
    }
    return "unknown";
}

bool pr_remedy_matters(const pr_remedy *remedy)
{
    const double least_s = 30.0, least_m = 0.5;
    return remedy->status == PR_OK &&
           (remedy->turns_to_go || (remedy->go && remedy->saved_s >= least_s) ||
            (!remedy->go && remedy->gained_m >= least_m));
}
