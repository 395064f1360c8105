/* What a file may say about winch, recovery, limits, plan, schedule, situations and spreads. */
#include "reader/schema.h"

static const pr_choice MOTORS[] = {
    {"series", PR_MOTOR_SERIES}, {"permanent magnet", PR_MOTOR_PERMANENT_MAGNET}, {NULL, 0}};
static const pr_choice POSTS[] = {{"main", PR_POST_MAIN}, {"second", PR_POST_SECOND}, {NULL, 0}};
static const pr_choice MIRES[] = {{"none", PR_MIRE_NONE},
                                  {"wheel", PR_MIRE_WHEEL},
                                  {"hub", PR_MIRE_HUB},
                                  {"body", PR_MIRE_BODY},
                                  {NULL, 0}};
static const pr_choice MIRE_METHODS[] = {
    {"civil", PR_MIRE_CIVIL}, {"army", PR_MIRE_ARMY}, {NULL, 0}};
static const pr_choice CASES[] = {
    {"low", PR_CASE_LOW}, {"likely", PR_CASE_LIKELY}, {"high", PR_CASE_HIGH}, {NULL, 0}};

#define QUANTITY(text) .kind = PR_ROW_QUANTITY, .unit = text
#define SHARE          .kind = PR_ROW_QUANTITY, .unit = "%", .stored = ""
#define WEIGHT         .kind = PR_ROW_QUANTITY, .unit = "kg", .stored = "N"
#define FORCE          .kind = PR_ROW_QUANTITY, .unit = "lbf", .stored = "N"

static const pr_row VEHICLE_ROWS[] = {
    {"weight", WEIGHT, .min = 100, .max = 60000, .flags = PR_KEY_REQUIRED,
     PR_AT(system.demand.weight_N),
     .help = "as it stands there: papers, plus cargo, water, fuel, people (a mass is meant as its "
             "weight)"},
    {"engine_space_rise", QUANTITY("K"), .min = 0, .max = 80, .flags = PR_KEY_FINE,
     PR_AT(system.engine_space_rise_K), .source = "see docs/physics/cables.md",
     .help = "air beside the running engine above the outside air"},
};
const pr_schema pr_schema_vehicle = {.name = "vehicle",
                                     .rows = VEHICLE_ROWS,
                                     .n_rows = sizeof VEHICLE_ROWS / sizeof *VEHICLE_ROWS,
                                     .help = "The vehicle that is stuck."};

static const pr_row ROPE_ROWS[] = {
    {"diameter", QUANTITY("mm"), .min = 2, .max = 40, .stored = "m", .flags = PR_KEY_REQUIRED,
     PR_AT(system.drum.rope_m), .help = "thickness of the rope"},
    {"length", QUANTITY("m"), .min = 2, .max = 200, .flags = PR_KEY_REQUIRED,
     PR_AT(system.drum.rope_length_m), .help = "all of it, drum wraps included"},
    {"breaking_force", FORCE, .min = 500, .max = 200000, PR_AT(system.drum.rope_rating_N),
     .fallback = "unknown: not checked", .help = "least breaking force on its tag"},
    {"reserve_wraps", PR_ROW_NUMBER, .min = 0, .max = 20, PR_AT(system.drum.reserve_wraps),
     .source = "usual rule of winch manuals; soft rope often asks for 8 to 10",
     .help = "wraps that must stay on the drum"},
};
const pr_schema pr_schema_rope = {.name = "rope",
                                  .rows = ROPE_ROWS,
                                  .n_rows = sizeof ROPE_ROWS / sizeof *ROPE_ROWS,
                                  .help = "The winch rope."};

static const pr_row DRUM_ROWS[] = {
    {"diameter", QUANTITY("mm"), .min = 10, .max = 1000, .stored = "m", .flags = PR_KEY_REQUIRED,
     PR_AT(system.drum.drum_m), .help = "bare drum, under the rope"},
    {"width", QUANTITY("mm"), .min = 10, .max = 2000, .flags = PR_KEY_OTHER, .stored = "m",
     PR_AT(system.drum.width_m), .fallback = "give this or wraps_per_layer",
     .help = "between the flanges"},
    {"wraps_per_layer", PR_ROW_NUMBER, .min = 1, .max = 200, .flags = PR_KEY_OTHER,
     PR_AT(system.drum.wraps_per_layer), .fallback = "from the width",
     .help = "wraps that lie side by side"},
    {"nesting", PR_ROW_NUMBER, .min = 0.5, .max = 1.2, .flags = PR_KEY_FINE,
     PR_AT(system.drum.nesting), .source = "sheets of small winches, see docs/physics/rigging.md",
     .help = "rise of a layer over rope diameter: 0.866 nested, 1 stacked"},
};
const pr_schema pr_schema_drum = {.name = "drum",
                                  .rows = DRUM_ROWS,
                                  .n_rows = sizeof DRUM_ROWS / sizeof *DRUM_ROWS,
                                  .help = "The winch drum."};

#define MOTOR(field) PR_AT(system.motor.field)
static const pr_table_form SHEET = {
    .columns = 3,
    .rows_min = 3,
    .rows_max = PR_MOTOR_POINTS_MAX,
    .column = {{"pull", "lbf", "N", 0.0, 60000.0, +1, offsetof(pr_scenario, system.motor.point_N)},
               {"current", "A", NULL, 0.5, 2000.0, +1, offsetof(pr_scenario, system.motor.point_A)},
               {"rope speed", "m/min", "m/s", 0.01, 200.0, 0,
                offsetof(pr_scenario, system.motor.point_mps)}},
    .count_offset = offsetof(pr_scenario, system.motor.n_points)};

static const pr_row WINCH_ROWS[] = {
    {"motor", PR_ROW_CHOICE, MOTOR(kind), .choices = MOTORS, .source = "usual in vehicle winches",
     .help = "series-wound or permanent magnet; the sheet says which"},
    {"sheet_voltage", QUANTITY("V"), .min = 6, .max = 48, .flags = PR_KEY_FINE | PR_KEY_OTHER,
     MOTOR(sheet_V), .source = "nominal", .help = "at which the sheet holds"},
    {"rated_pull", FORCE, .min = 500, .max = 60000, .flags = PR_KEY_REQUIRED, MOTOR(rated_pull_N),
     .help = "first layer (rope almost out), single line"},
    {"no_load_current", QUANTITY("A"), .min = 1, .max = 300, .flags = PR_KEY_OTHER,
     MOTOR(no_load_A), .fallback = "from the table", .help = "sheet: amps without load"},
    {"rated_current", QUANTITY("A"), .min = 10, .max = 2000, .flags = PR_KEY_OTHER, MOTOR(rated_A),
     .fallback = "from the table", .help = "sheet: amps at rated pull"},
    {"no_load_speed", QUANTITY("m/min"), .min = 0.3, .max = 100, .flags = PR_KEY_OTHER,
     .stored = "m/s", MOTOR(no_load_mps), .fallback = "from the table",
     .help = "sheet: rope speed without load"},
    {"rated_speed", QUANTITY("m/min"), .min = 0.05, .max = 50, .flags = PR_KEY_OTHER,
     .stored = "m/s", MOTOR(rated_mps), .fallback = "from the table",
     .help = "sheet: rope speed at rated pull"},
    {"table", PR_ROW_TABLE, MOTOR(point_N), .table = &SHEET,
     .help = "sheet, first layer: [[0 lbf, 95 A, 33 ft/min], [2000 lbf, 205 A, 14 ft/min], ...]"},
    {"contactor_resistance", QUANTITY("mohm"), .min = 0, .max = 50, .stored = "ohm",
     .flags = PR_KEY_FINE, MOTOR(contactor_ohm), .source = "(m)",
     .help = "of the contactor's closed contacts"},
    {"contactor_drop_out", QUANTITY("V"), .min = 1, .max = 11, .flags = PR_KEY_FINE,
     MOTOR(contactor_drop_out_V), .source = "(m)", .help = "coil voltage below which it opens"},
    {"contactor_return", QUANTITY("V"), .min = 1, .max = 11.9, .flags = PR_KEY_FINE,
     MOTOR(contactor_return_V), .source = "(m)",
     .help = "coil voltage above which it closes again"},
    {"temperature_limit", QUANTITY("degC"), .min = 80, .max = 250, .flags = PR_KEY_FINE,
     MOTOR(limit_degC), .source = "insulation class F, IEC 60085", .help = "of the winding"},
    {"rated_time", QUANTITY("s"), .min = 5, .max = 1800, MOTOR(rated_time_s),
     .source = "winch manuals: at most a minute at or near rated pull",
     .help = "allowed at rated pull, from cold"},
    {"rated_rise", QUANTITY("K"), .min = 20, .max = 200, .flags = PR_KEY_FINE, MOTOR(rated_rise_K),
     .source = "a guess that keeps class F, see docs/physics/motor.md", .spread_low = 80,
     .spread_high = 125, .help = "rise of the winding in that time"},
    {"case_time_constant", QUANTITY("min"), .min = 1, .max = 600, .stored = "s",
     .flags = PR_KEY_FINE, MOTOR(case_tau_s), .source = "(m)", .spread_low = 25, .spread_high = 60,
     .help = "case to air"},
    {"armature_time_constant", QUANTITY("min"), .min = 0.2, .max = 120, .stored = "s",
     .flags = PR_KEY_FINE, MOTOR(armature_tau_s), .source = "(m)", .spread_low = 4,
     .spread_high = 11, .help = "armature to case"},
    {"case_ratio", PR_ROW_NUMBER, .min = 0.1, .max = 100, .flags = PR_KEY_FINE, MOTOR(case_ratio),
     .source = "the whole winch, (m)", .help = "heat capacity of the winch's body over armature"},
    {"heat_factor", PR_ROW_NUMBER, .min = 0.1, .max = 10, .flags = PR_KEY_FINE | PR_KEY_OTHER,
     MOTOR(heat_factor), .source = "as the sheet says", .help = "scales all temperature rises"},
    {"brush_share", SHARE, .min = 0, .max = 90, .flags = PR_KEY_FINE, MOTOR(brush_share),
     .source = "(m)", .help = "of the resistance, which does not grow with heat"},
    {"saturation_current", .only = 1u << PR_MOTOR_SERIES, QUANTITY("A"), .min = 1, .max = 5000,
     .flags = PR_KEY_FINE | PR_KEY_OTHER, MOTOR(saturation_A), .fallback = "from the sheet",
     .source = "see docs/physics/motor.md", .help = "series motor: amps at half of the full field"},
    {"drum", PR_ROW_SECTION, .flags = PR_KEY_REQUIRED | PR_KEY_ALWAYS, .section = &pr_schema_drum,
     .help = "the drum"},
    {"rope", PR_ROW_SECTION, .flags = PR_KEY_REQUIRED | PR_KEY_ALWAYS, .section = &pr_schema_rope,
     .help = "the rope"},
    {"fed_from", PR_ROW_CHOICE, .flags = PR_KEY_STAYS, PR_AT(system.winch_post), .choices = POSTS,
     .source = "usual wiring", .help = "battery it hangs on"},
    {"temperature", QUANTITY("degC"), .min = -50, .max = 150, .flags = PR_KEY_STAYS,
     PR_AT(system.start_motor_degC), .fallback = "air_temperature", .source = "cold: no pull yet",
     .help = "of its motor at the start"},
    {"blocks", PR_ROW_COUNT, .min = 0, .max = 3, .flags = PR_KEY_STAYS, PR_AT(plan.blocks),
     .source = "none named",
     .help = "pulley blocks at hand: with n of them up to n + 1 parts of line"},
};
const pr_schema pr_schema_winch = {.name = "winch",
                                   .selector = "motor",
                                   .catalogue = "winch",
                                   .scalar = "use",
                                   .rows = WINCH_ROWS,
                                   .n_rows = sizeof WINCH_ROWS / sizeof *WINCH_ROWS,
                                   .help = "The winch: what its sheet says, drum and rope."};

#define STEP(field) PR_AT_OF(system.demand.segments, field)
static const pr_row SURFACE_ROWS[] = {
    {"rolling_resistance", PR_ROW_CASES, .unit = "%", .stored = "", .min = 0.1, .max = 300,
     .flags = PR_KEY_REQUIRED, STEP(surface_frac),
     .help = "pull on the level over weight: one share, or {low: 15 %, likely: 25 %, high: 40 %}"},
};
const pr_schema pr_schema_surface = {
    .name = "surface",
    .catalogue = "surface",
    .scalar = "use",
    .rows = SURFACE_ROWS,
    .n_rows = sizeof SURFACE_ROWS / sizeof *SURFACE_ROWS,
    .help = "The ground: a name of the catalogue, or its rolling resistance."};

static const pr_row STEP_ROWS[] = {
    {"length", QUANTITY("m"), .min = 0.1, .max = 1000, .flags = PR_KEY_REQUIRED, STEP(length_m),
     .help = "of this piece of the way"},
    {"slope", PR_ROW_SLOPE, .unit = "deg", .stored = "rad", .min = -45, .max = 60,
     .flags = PR_KEY_OTHER, STEP(slope_rad), .source = "level",
     .help = "uphill positive: 12 %, 1:8 or 7 deg"},
    {"surface", PR_ROW_SECTION, .section = &pr_schema_surface, .help = "the ground",
     .fallback = "that of `recovery`"},
    {"mire", PR_ROW_CHOICE, .flags = PR_KEY_OTHER, STEP(mire), .choices = MIRES,
     .source = "not sunk in",
     .help = "how deep it sits: none, wheel, hub or body; replaces the surface"},
};
const pr_schema pr_schema_step = {
    .name = "step",
    .rows = STEP_ROWS,
    .n_rows = sizeof STEP_ROWS / sizeof *STEP_ROWS,
    .help = "One piece of the way out, where it changes. They follow each other."};

#define RIG(field) PR_AT(system.rig.field)
static const pr_row RECOVERY_ROWS[] = {
    {"distance", QUANTITY("m"), .min = 0.1, .max = 1000, .flags = PR_KEY_OTHER, STEP(length_m),
     .fallback = "give this or steps", .help = "to firm ground"},
    {"slope", PR_ROW_SLOPE, .unit = "deg", .stored = "rad", .min = -45, .max = 60,
     .flags = PR_KEY_OTHER, STEP(slope_rad), .source = "level",
     .help = "uphill positive: 12 %, 1:8 or 7 deg"},
    {"surface", PR_ROW_SECTION, .section = &pr_schema_surface,
     .help = "the ground under the wheels"},
    {"mire", PR_ROW_CHOICE, .flags = PR_KEY_OTHER, STEP(mire), .choices = MIRES,
     .source = "not sunk in",
     .help = "how deep it sits: none, wheel, hub or body; replaces the surface"},
    {"steps", PR_ROW_SPECIAL, .section = &pr_schema_step,
     .help = "a list of pieces instead of the four above, where the way changes"},
    {"mire_method", PR_ROW_CHOICE, PR_AT(system.demand.mire_method), .choices = MIRE_METHODS,
     .source = "milder civil practice",
     .help = "civil: 0.75, 1, 1.33 of the weight; army: 1, 2, 3"},
    {"damage", SHARE, .min = 0, .max = 300, .flags = PR_KEY_OTHER, PR_AT(system.demand.damage_frac),
     .source = "none", .help = "what drags besides, over the weight: 67 % for all wheels locked"},
    {"margin", SHARE, .min = 0, .max = 200, PR_AT(system.demand.margin_frac),
     .source = "common practice", .help = "added to the sum"},
    {"resistance", FORCE, .min = 50, .max = 500000, .flags = PR_KEY_OTHER,
     PR_AT(system.demand.fixed_resistance_N), .fallback = "from the above",
     .help = "load resistance given directly, instead of all the above"},
    {"case", PR_ROW_CHOICE, PR_AT(system.demand_case), .choices = CASES, .source = "the likely one",
     .help = "which end of the ground's range is planned for"},
    {"anchor_distance", QUANTITY("m"), .min = 1, .max = 1000, PR_AT(system.anchor_distance_m),
     .fallback = "the distance to go", .help = "vehicle to anchor at the start"},
    {"next_anchor", QUANTITY("m"), .min = 1, .max = 1000, PR_AT(plan.next_anchor_m),
     .fallback = "as far as to the first", .source = "a guess: look before you start",
     .help = "from one anchor to the next, where the way goes on past the first"},
    {"extension", QUANTITY("m"), .min = 0, .max = 500, PR_AT(plan.extension_m),
     .fallback = "unknown: the plan says how much it needs",
     .help = "strap or chain on board, to put between block (or hook) and anchor"},
    {"rope_out", QUANTITY("m"), .min = 0, .max = 500, .flags = PR_KEY_FINE | PR_KEY_OTHER,
     PR_AT(system.rope_out_m), .fallback = "anchor_distance times parts of line",
     .help = "rope off the drum at the start"},
    {"leg_angle", QUANTITY("deg"), .min = 0, .max = 170, RIG(leg_angle_deg), .source = "parallel",
     .help = "between the two legs of the line at the block"},
    {"turning_blocks", PR_ROW_COUNT, .min = 0, .max = 4, .flags = PR_KEY_OTHER,
     RIG(change_direction_blocks), .source = "none", .help = "blocks that only turn the line"},
    {"sheave_loss", SHARE, .min = 0, .max = 50, .flags = PR_KEY_FINE, RIG(friction_per_sheave_frac),
     .source = "FM 9-43-2", .help = "of the load resistance, per sheave"},
    {"sheave_efficiency", SHARE, .min = 50, .max = 100, .flags = PR_KEY_FINE | PR_KEY_OTHER,
     RIG(sheave_efficiency), .source = "rope handbooks",
     .help = "tension kept over a sheave; used when sheave_loss is 0 %"},
    {"anchor_rating", FORCE, .min = 100, .max = 500000, RIG(anchor_rating_N),
     .fallback = "unknown: not checked", .help = "what the anchor or its strap is good for"},
    {"block_rating", FORCE, .min = 100, .max = 500000, RIG(block_rating_N),
     .fallback = "unknown: not checked", .help = "on the block's plate"},
    {"current", QUANTITY("A"), .min = 0, .max = 2000, .flags = PR_KEY_OTHER, PR_AT(system.pull_A),
     .fallback = "from the pull", .help = "winch amps given directly: the same in all pulls"},
    {"profile", PR_ROW_SPECIAL, .fallback = "from the pull",
     .help = "winch amps from a log: a CSV file with the columns time_s and current_A, beside this "
             "file; it begins anew with each pull"},
};
const pr_schema pr_schema_recovery = {
    .name = "recovery",
    .rows = RECOVERY_ROWS,
    .n_rows = sizeof RECOVERY_ROWS / sizeof *RECOVERY_ROWS,
    .help = "What must be done: the ground, the way out, the rigging."};

static const pr_row LIMITS_ROWS[] = {
    {"reserve", SHARE, .min = 5, .max = 100, PR_AT(plan.reserve_frac),
     .fallback = "what still restarts the engine, with reserve_margin", .source = "computed",
     .help = "least state of charge of the starter battery, at any time"},
    {"reserve_margin", SHARE, .min = 0, .max = 50, PR_AT(plan.reserve_margin_frac),
     .source = "common practice, no source", .help = "added to a computed reserve"},
    {"lowest_voltage", QUANTITY("V"), .min = 6, .max = 13, PR_AT(plan.bus_min_V),
     .fallback = "0.3 V above the highest drop-out of a load that stops the engine, else 10.5 V",
     .source = "computed", .help = "at the fuse box, at any time"},
    {"motor_temperature", QUANTITY("degC"), .min = 60, .max = 240, PR_AT(plan.motor_max_degC),
     .fallback = "15 K below the winch's temperature_limit", .source = "common practice, no source",
     .help = "of the winch motor's winding"},
    {"rope_factor", PR_ROW_NUMBER, .min = 1, .max = 10, PR_AT(plan.rope_factor),
     .source = "an end fitting and wear take a fifth; common practice, no source",
     .help = "breaking force of the rope over the pull in it, at least"},
};
const pr_schema pr_schema_limits = {.name = "limits",
                                    .rows = LIMITS_ROWS,
                                    .n_rows = sizeof LIMITS_ROWS / sizeof *LIMITS_ROWS,
                                    .help = "What must hold at every instant."};

static const pr_row PLAN_ROWS[] = {
    {"pull", QUANTITY("s"), .min = 2, .max = 600, PR_AT(plan.pull_s),
     .fallback = "30 s, shorter if a limit asks for it", .source = "common practice, no source",
     .help = "length of a pull"},
    {"shortest_pull", QUANTITY("s"), .min = 2, .max = 600, PR_AT(plan.pull_min_s),
     .source = "common practice, no source", .help = "that the shortest plan may choose"},
    {"longest_pull", QUANTITY("s"), .min = 2, .max = 600, PR_AT(plan.pull_max_s),
     .source = "winch manuals: at most a minute near rated pull",
     .help = "that the shortest plan may choose"},
    {"shortest_rest", QUANTITY("s"), .min = 0, .max = 3600, PR_AT(plan.rest_min_s),
     .source = "handling the rope takes that anyway", .help = "between two pulls"},
    {"longest_rest", QUANTITY("min"), .min = 0.1, .max = 600, .stored = "s", PR_AT(plan.rest_max_s),
     .source = "patience", .help = "between two pulls"},
    {"longest_total", QUANTITY("h"), .min = 0.05, .max = 48, .stored = "s", PR_AT(plan.total_max_s),
     .source = "daylight", .help = "for the whole recovery"},
    {"pull_engine", PR_ROW_SPEED, .unit = "rpm", .min = 300, .max = 6000, PR_AT(plan.pull_rpm),
     .fallback = "fast idle", .source = "common practice, no source",
     .help = "engine in pulls: idle, fast idle, or a speed"},
    {"rest_engine", PR_ROW_SPEED, .unit = "rpm", .min = 300, .max = 6000, PR_AT(plan.rest_rpm),
     .fallback = "fast idle", .source = "common practice, no source",
     .help = "engine in rests: idle, fast idle, or a speed"},
    {"parts", PR_ROW_COUNT, .min = 1, .max = 4, .flags = PR_KEY_OTHER, PR_AT(plan.parts),
     .fallback = "fewest that pull it", .source = "computed",
     .help = "parts of line: 1 single line, 2 with one block"},
    {"pulls", PR_ROW_COUNT, .min = 1, .max = 500, .flags = PR_KEY_OTHER, PR_AT(plan.pulls),
     .fallback = "until the distance is done", .help = "so many pulls are the job"},
    {"rerig_time", QUANTITY("min"), .min = 0, .max = 240, .stored = "s", PR_AT(plan.rerig_s),
     .source = "common practice, no source", .help = "to set out the rope again"},
};
const pr_schema pr_schema_plan = {.name = "plan",
                                  .rows = PLAN_ROWS,
                                  .n_rows = sizeof PLAN_ROWS / sizeof *PLAN_ROWS,
                                  .help = "What the planner may choose."};

#define PHASE(field) PR_AT_OF(schedule, phase.field)
static const pr_row PHASE_ROWS[] = {
    {"pull", QUANTITY("s"), .min = 0.1, .max = 3600, PHASE(duration_s), .fallback = "",
     .help = "pull so long (or rest, or crank: one of the three)"},
    {"rest", QUANTITY("s"), .min = 0.1, .max = 2e5, PHASE(duration_s), .fallback = "",
     .help = "rest so long"},
    {"crank", QUANTITY("s"), .min = 0.1, .max = 60, PHASE(duration_s), .fallback = "",
     .help = "run the starter so long"},
    {"engine", PR_ROW_SPEED, .unit = "rpm", .min = 300, .max = 6000, .flags = PR_KEY_OFF,
     PHASE(engine_rpm), .fallback = "fast idle", .help = "idle, fast idle, a speed, or off"},
    {"distance", QUANTITY("m"), .min = 0.01, .max = 1000, PHASE(stop_travel_m),
     .fallback = "the whole time", .help = "a pull stops when the vehicle has moved so far in it"},
    {"switch_off", PR_ROW_SPECIAL, .fallback = "none",
     .help = "names of loads switched off by hand"},
};
const pr_schema pr_schema_phase = {.name = "phase",
                                   .quiet = true,
                                   .rows = PHASE_ROWS,
                                   .n_rows = sizeof PHASE_ROWS / sizeof *PHASE_ROWS,
                                   .help = "One line of `schedule`, which `run` simulates."};

static const pr_row GROUP_ROWS[] = {
    {"repeat", PR_ROW_COUNT, .min = 1, .max = 500, PR_AT_OF(schedule, repeat),
     .help = "so many times"},
    {"steps", PR_ROW_SPECIAL, .section = &pr_schema_phase, .help = "these lines"},
};
const pr_schema pr_schema_phase_group = {
    .name = "repeated phases",
    .quiet = true,
    .rows = GROUP_ROWS,
    .n_rows = sizeof GROUP_ROWS / sizeof *GROUP_ROWS,
    .help = "Lines of `schedule` that are repeated: {repeat: 5, steps: [...]}."};

#define SITUATION(field) PR_AT_OF(situation, field)
static const pr_row SITUATION_ROWS[] = {
    {"loads", PR_ROW_SPECIAL, .fallback = "all", .help = "names of the loads that are on; or all"},
    {"without", PR_ROW_SPECIAL, .fallback = "none", .help = "names of loads that are off"},
    {"engine", PR_ROW_SPEED, .unit = "rpm", .min = 300, .max = 6000, SITUATION(engine_rpm),
     .fallback = "idle", .help = "idle, fast idle, or a speed"},
    {"air_temperature", QUANTITY("degC"), .min = -50, .max = 60, SITUATION(ambient_degC),
     .fallback = "air_temperature of the file", .help = "of the situation"},
    {"hot", PR_ROW_YES_NO, SITUATION(hot), .source = "no",
     .help = "alternator hot from long work, else cold"},
};
const pr_schema pr_schema_situation = {
    .name = "situation",
    .quiet = true,
    .rows = SITUATION_ROWS,
    .n_rows = sizeof SITUATION_ROWS / sizeof *SITUATION_ROWS,
    .help = "`situations` maps a name to these keys, for `budget`. Without it five usual ones are "
            "made from the loads."};

static const pr_row SPREAD_ROWS[] = {
    {"low", PR_ROW_SPECIAL, .help = "least value"},
    {"likely", PR_ROW_SPECIAL, .help = "most likely value: a triangle over low .. high"},
    {"mean", PR_ROW_SPECIAL, .help = "with sd: a normal distribution, cut at low and high"},
    {"sd", PR_ROW_SPECIAL, .help = "standard deviation"},
    {"high", PR_ROW_SPECIAL,
     .help = "largest value; low and high alone: anything between is equally likely"},
};
const pr_schema pr_schema_spread = {
    .name = "spread",
    .quiet = true,
    .rows = SPREAD_ROWS,
    .n_rows = sizeof SPREAD_ROWS / sizeof *SPREAD_ROWS,
    .help = "Any number but a count or a cable size may be written as a spread, for `risk`; other "
            "commands take the likely value or the mean. `spreads` maps the path of a number, like "
            "battery.health, to a spread, where that reads better."};

static const pr_row SCENARIO_ROWS[] = {
    {"title", PR_ROW_TEXT, PR_AT(title), .size = PR_TEXT_MAX, .fallback = "the file's name",
     .help = "one line"},
    {"question", PR_ROW_TEXT, PR_AT(question), .size = PR_TEXT_MAX,
     .fallback = "the file's first comment", .help = "what this file asks"},
    {"air_temperature", QUANTITY("degC"), .min = -50, .max = 60, PR_AT(system.ambient_degC),
     .source = "room temperature: give it, cold matters", .help = "outside"},
    {"vehicle", PR_ROW_SECTION, .section = &pr_schema_vehicle, .help = "the vehicle"},
    {"engine", PR_ROW_SECTION, .flags = PR_KEY_ALWAYS, .section = &pr_schema_engine,
     .help = "the engine"},
    {"battery", PR_ROW_SPECIAL, .flags = PR_KEY_REQUIRED, .section = &pr_schema_battery,
     .help = "the battery, or the first of two"},
    {"second_battery", PR_ROW_SPECIAL, .section = &pr_schema_battery, .fallback = "none",
     .help = "keys as `battery`"},
    {"link", PR_ROW_SPECIAL, .section = &pr_schema_link, .fallback = "none",
     .help = "between the two batteries"},
    {"cutoff", PR_ROW_SPECIAL, .section = &pr_schema_cutoff, .fallback = "none",
     .help = "low-voltage cut-off at the main battery"},
    {"second_cutoff", PR_ROW_SPECIAL, .section = &pr_schema_cutoff, .fallback = "none",
     .help = "the same at the second battery"},
    {"alternator", PR_ROW_SPECIAL, .flags = PR_KEY_REQUIRED, .section = &pr_schema_alternator,
     .help = "the alternator, or none"},
    {"winch", PR_ROW_SPECIAL, .section = &pr_schema_winch, .fallback = "none", .help = "the winch"},
    {"cables", PR_ROW_SPECIAL, .section = &pr_schema_cables, .help = "the heavy cables"},
    {"loads", PR_ROW_SPECIAL, .section = &pr_schema_load, .fallback = "none",
     .help = "a list of what else takes current"},
    {"recovery", PR_ROW_SPECIAL, .section = &pr_schema_recovery, .fallback = "none",
     .help = "what must be done; `budget` and `readings` do without"},
    {"limits", PR_ROW_SECTION, .flags = PR_KEY_ALWAYS, .section = &pr_schema_limits,
     .help = "what must hold"},
    {"plan", PR_ROW_SECTION, .flags = PR_KEY_ALWAYS, .section = &pr_schema_plan,
     .help = "what the planner may choose"},
    {"schedule", PR_ROW_SPECIAL, .section = &pr_schema_phase, .fallback = "none",
     .help = "pulls and rests that `run` simulates"},
    {"situations", PR_ROW_SPECIAL, .section = &pr_schema_situation, .fallback = "five usual ones",
     .help = "for `budget`"},
    {"variants", PR_ROW_SPECIAL, .fallback = "none",
     .help = "for `compare`: maps a name to overrides, written like the file itself"},
    {"spreads", PR_ROW_SPECIAL, .section = &pr_schema_spread, .fallback = "none",
     .help = "for `risk`: maps a number's path to its spread"},
};
const pr_schema pr_schema_scenario = {.name = "scenario",
                                      .rows = SCENARIO_ROWS,
                                      .n_rows = sizeof SCENARIO_ROWS / sizeof *SCENARIO_ROWS,
                                      .help = "The file as a whole."};

const pr_schema *const pr_schemas[] = {
    &pr_schema_scenario,    &pr_schema_vehicle,   &pr_schema_engine,     &pr_schema_battery,
    &pr_schema_link,        &pr_schema_cutoff,    &pr_schema_alternator, &pr_schema_winch,
    &pr_schema_rope,        &pr_schema_drum,      &pr_schema_cables,     &pr_schema_cable,
    &pr_schema_fuse,        &pr_schema_load,      &pr_schema_recovery,   &pr_schema_surface,
    &pr_schema_step,        &pr_schema_limits,    &pr_schema_plan,       &pr_schema_phase,
    &pr_schema_phase_group, &pr_schema_situation, &pr_schema_spread,
};
const size_t pr_n_schemas = sizeof pr_schemas / sizeof(const pr_schema *);
