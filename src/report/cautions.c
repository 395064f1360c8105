/* The cautions: common practice of recovery and battery work, stated in our own words; makers'
 * manuals and local rules come before all of them. */
#include "report/cautions.h"

const pr_caution pr_cautions[PR_CAUTIONS] = {
    {"This is an estimate from plates and labels, not a rating. The manuals of the winch, the "
     "vehicle and the battery, local codes and licensed practice come first.",
     false},
    {"Tell someone where you are and when you will call again, before the first pull.", true},
    {"Nobody in line with the rope, ever. Stand clear by 1.5 to 2 lengths of the line that is out, "
     "and out of the bight of a block.",
     true},
    {"Lay a damper on the line. Wear gloves. Keep hands away from the rope, the fairlead and the "
     "drum while it turns.",
     true},
    {"Never shock-load: take up the slack slowly, never drive against a tight line, never pull "
     "with a jerk.",
     true},
    {"Keep the reserve wraps on the drum; they hold the rope, its end fitting does not.", true},
    {"Anchor, block, straps and shackles must each hold what the winch can put on them when the "
     "line jams, not only what the plan needs.",
     true},
    {"A lead battery gives off explosive gas when charged hard. No sparks or flames; disconnect "
     "the negative lead before any work on the electrics.",
     false},
    {"The winch motor and its cables get hot enough to burn. Feel for heat from outside; when in "
     "doubt rest longer than the plan says.",
     false},
    {"The winch feed needs a fuse or breaker and an isolator that you can reach when it runs on.",
     false},
    {"Stop at once if the engine stumbles, a light goes dim, a cable smells, or a pull is much "
     "slower than in the table: the ground is worse than was assumed. Plan again.",
     false},
};
