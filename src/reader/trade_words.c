/* What stickers, plates and people call the things that have a key of another name here: an unknown
 * key that is one of these is told of with the key that is meant. Only words that can mean one
 * thing in their section stand here. */
#include "reader/nearest.h"
#include "reader/reading.h"

const pr_trade_word pr_trade_words[] = {
    {&pr_schema_scenario, "ambient", "air_temperature"},
    {&pr_schema_scenario, "temperature", "air_temperature"},
    {&pr_schema_scenario, "starter_battery", "battery"},
    {&pr_schema_scenario, "house_battery", "second_battery"},
    {&pr_schema_scenario, "auxiliary_battery", "second_battery"},
    {&pr_schema_scenario, "generator", "alternator"},
    {&pr_schema_scenario, "consumers", "loads"},
    {&pr_schema_vehicle, "mass", "weight"},
    {&pr_schema_vehicle, "gross_weight", "weight"},
    {&pr_schema_vehicle, "gvm", "weight"},
    {&pr_schema_engine, "type", "class"},
    {&pr_schema_engine, "hand_throttle", "fast_idle"},
    {&pr_schema_engine, "high_idle", "fast_idle"},
    {&pr_schema_battery, "type", "chemistry"},
    {&pr_schema_battery, "ah", "capacity"},
    {&pr_schema_battery, "amp_hours", "capacity"},
    {&pr_schema_battery, "c20", "capacity"},
    {&pr_schema_battery, "rc", "reserve_capacity"},
    {&pr_schema_battery, "reserve", "reserve_capacity"},
    {&pr_schema_battery, "cca", "cold_cranking"},
    {&pr_schema_battery, "cranking", "cold_cranking"},
    {&pr_schema_battery, "cranking_amps", "cold_cranking"},
    {&pr_schema_battery, "charge", "state_of_charge"},
    {&pr_schema_battery, "soc", "state_of_charge"},
    {&pr_schema_battery, "volts", "rest_voltage"},
    {&pr_schema_battery, "voltage", "rest_voltage"},
    {&pr_schema_battery, "soh", "health"},
    {&pr_schema_alternator, "amps", "rated_current"},
    {&pr_schema_alternator, "current", "rated_current"},
    {&pr_schema_alternator, "output", "rated_current"},
    {&pr_schema_alternator, "rating", "rated_current"},
    {&pr_schema_alternator, "rated", "rated_current"},
    {&pr_schema_alternator, "voltage", "set_voltage"},
    {&pr_schema_winch, "capacity", "rated_pull"},
    {&pr_schema_winch, "line_pull", "rated_pull"},
    {&pr_schema_winch, "pull", "rated_pull"},
    {&pr_schema_winch, "rating", "rated_pull"},
    {&pr_schema_winch, "amps", "rated_current"},
    {&pr_schema_winch, "current", "rated_current"},
    {&pr_schema_winch, "line_speed", "rated_speed"},
    {&pr_schema_winch, "pulleys", "blocks"},
    {&pr_schema_winch, "pulley_blocks", "blocks"},
    {&pr_schema_winch, "snatch_blocks", "blocks"},
    {&pr_schema_rope, "strength", "breaking_force"},
    {&pr_schema_cable, "awg", "size"},
    {&pr_schema_cable, "cross_section", "size"},
    {&pr_schema_cable, "gauge", "size"},
    {&pr_schema_load, "amps", "current"},
    {&pr_schema_load, "watts", "power"},
    {&pr_schema_recovery, "length", "distance"},
    {&pr_schema_recovery, "anchor", "anchor_distance"},
    {&pr_schema_recovery, "depth", "mire"},
    {&pr_schema_recovery, "mud", "mire"},
    {&pr_schema_recovery, "grade", "slope"},
    {&pr_schema_recovery, "incline", "slope"},
    {&pr_schema_recovery, "ground", "surface"},
    {&pr_schema_recovery, "strap", "extension"},
    {&pr_schema_recovery, "straps", "extension"},
    {&pr_schema_step, "distance", "length"},
    {&pr_schema_step, "depth", "mire"},
    {&pr_schema_step, "mud", "mire"},
    {&pr_schema_step, "grade", "slope"},
    {&pr_schema_step, "ground", "surface"},
};

const size_t pr_n_trade_words = sizeof pr_trade_words / sizeof *pr_trade_words;

const char *pr_trade_word_key(const pr_schema *schema, const char *word)
{
    for (size_t i = 0; i < pr_n_trade_words; i++)
        if (pr_trade_words[i].schema == schema && pr_name_equal(pr_trade_words[i].word, word))
            return pr_trade_words[i].key;
    return NULL;
}

/* The one section below `outer` that has such a key; NULL: none, or several. */
static const char *section_with(const pr_schema *outer, const char *key)
{
    const char *found = NULL;
    for (size_t i = 0; i < outer->n_rows; i++) {
        const pr_row *row = &outer->rows[i];
        if (row->section == NULL || pr_schema_find(row->section, key) < 0)
            continue;
        if (found != NULL)
            return NULL;
        found = row->key;
    }
    return found;
}

const char *pr_key_home(const pr_schema *schema, const char *key)
{
    if (pr_schema_find(&pr_schema_scenario, key) >= 0)
        return "";
    const char *inner = section_with(schema, key);
    return inner != NULL ? inner : section_with(&pr_schema_scenario, key);
}
