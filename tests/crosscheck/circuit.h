/* The vehicle that the cross-checks run: one battery or two with a relay, every law of load, heated
 * wires. The numbers are round and ours. */
#ifndef PR_TESTS_CROSSCHECK_CIRCUIT_H
#define PR_TESTS_CROSSCHECK_CIRCUIT_H

#include "base/number.h"
#include "engine/sim.h"
#include "support/vehicle.h"

#include <math.h>
#include <stdio.h>

enum { CIRCUIT_LOADS = 7 };
static const double CIRCUIT_PULL_RPM = 1500.0;

/* regulator: in the rests the alternator goes from full field to its regulator and back.
 * layer: the rope fills a layer of the drum in a pull.
 * relay: a second battery behind a voltage-sensing relay that closes in the rests, taking a
 * regulated alternator to full field, and opens in the pulls.
 * hunting: the emptier second battery pulls the volts down, the relay opens again.
 * trailer: a long thin cable; closing hardly moves the volts, which pass the threshold slowly. */
typedef struct circuit_case {
    const char *name;
    pr_sensing sensing;
    double start_soc_frac, anchor_m, pull_s, rest_s, rest_rpm;
    int cycles;
    double second_soc_frac;  /* NaN: one battery */
    double link_awg, link_m; /* cable to it */
} circuit_case;
static const circuit_case CIRCUIT_CASES[] = {
    {"regulator", PR_SENSE_BATTERY, 0.86, 11.9, 20.0, 400.0, 583.0, 7, PR_NAN, 0.0, 0.0},
    {"layer", PR_SENSE_TERMINAL, 0.90, 14.0, 40.0, 300.0, 600.0, 7, PR_NAN, 0.0, 0.0},
    {"relay", PR_SENSE_BATTERY, 0.92, 11.5, 30.0, 300.0, 800.0, 4, 0.80, 4.0, 2.0},
    {"hunting", PR_SENSE_BATTERY, 0.80, 11.5, 30.0, 300.0, 600.0, 2, 0.65, 4.0, 2.0},
    {"trailer", PR_SENSE_BATTERY, 0.80, 11.5, 20.0, 300.0, 545.0, 5, 0.75, 16.0, 8.0},
};

static inline void circuit_loads(pr_system_def *def)
{
    static const struct {
        const char *name;
        double watts_W, exponent;
        unsigned when;
    } loads[CIRCUIT_LOADS] = {
        {"engine control", 60, 0, PR_WHEN_ENGINE}, {"fuel pump", 90, 0, PR_WHEN_ENGINE},
        {"lamps", 120, 0.55, PR_WHEN_ENGINE},      {"heater", 130, 1, PR_WHEN_ENGINE},
        {"fan", 200, 1.6, PR_WHEN_ENGINE},         {"light bar", 40, -1, PR_WHEN_ENGINE},
        {"work lamps", 110, 0.55, PR_WHEN_PULLING}};
    def->n_loads = CIRCUIT_LOADS;
    for (int k = 0; k < CIRCUIT_LOADS; k++) {
        pr_named_load *load = &def->load[k];
        load->def = pr_load_def_default();
        snprintf(load->name, sizeof load->name, "%s", loads[k].name);
        load->def.watts_W = loads[k].watts_W;
        load->def.exponent = loads[k].exponent;
        load->def.when = loads[k].when;
    }
    def->load[6].def.inrush_factor = 3.0;
    def->load[6].def.inrush_s = 0.3;
    vehicle_wire(def, PR_RUN_ALTERNATOR, PR_GAUGE_AWG, 6.0, 1.5);
    vehicle_wire(def, PR_RUN_WINCH, PR_GAUGE_AWG, 0.0, 2.5);
    vehicle_wire(def, PR_RUN_LOADS, PR_GAUGE_AWG, 8.0, 1.0);
    vehicle_wire(def, PR_RUN_FIRST_LOAD + 2, PR_GAUGE_MM2, 2.5, 3.0);
    def->run[PR_RUN_ALTERNATOR].def.engine_space = 1;
}

/* A second battery of another kind, with loads of its own. */
static inline void circuit_pair(pr_system_def *def, const circuit_case *run)
{
    def->n_batteries = 2;
    def->start_battery_degC[1] = 27.0;
    def->battery[1].chemistry = PR_AGM;
    def->battery[1].plates = PR_PLATES_DUAL;
    def->battery[1].c20_Ah = 95.0;
    def->battery[1].rc_min = 180.0;
    def->battery[1].cca_A = 800.0;
    def->start_soc_frac[1] = run->second_soc_frac;
    static const struct {
        const char *name;
        double watts_W, exponent;
    } loads[] = {{"cool box", 45, -1}, {"cabin lamps", 25, 0.55}};
    for (size_t k = 0; k < sizeof loads / sizeof loads[0]; k++) {
        pr_named_load *load = &def->load[def->n_loads++];
        load->def = pr_load_def_default();
        snprintf(load->name, sizeof load->name, "%s", loads[k].name);
        load->def.watts_W = loads[k].watts_W;
        load->def.exponent = loads[k].exponent;
        load->def.when = PR_WHEN_ENGINE;
        load->post = PR_POST_SECOND;
    }
    vehicle_wire(def, PR_RUN_LOADS_SECOND, PR_GAUGE_AWG, 10.0, 2.0);
    vehicle_wire(def, PR_RUN_LINK, PR_GAUGE_AWG, run->link_awg, run->link_m);
    def->link = pr_link_def_default(PR_LINK_RELAY);
    def->link.close_V = 13.3;
    def->link.open_V = 12.8;
    def->link.close_delay_s = 12.0;
    def->link.open_delay_s = 7.0;
}

static inline pr_system_def circuit_def(const circuit_case *run)
{
    pr_system_def def = pr_system_def_default();
    def.n_batteries = 1;
    def.ambient_degC = 18.0;
    def.start_battery_degC[0] = 24.0;
    vehicle_battery(&def, 0);
    def.start_soc_frac[0] = run->start_soc_frac;
    def.alternator.rated_A = 110.0;
    def.alternator.idle_A = 55.0;
    def.alternator.sensing = run->sensing;
    circuit_loads(&def);
    vehicle_winch(&def);
    def.anchor_distance_m = run->anchor_m;
    if (!isnan(run->second_soc_frac))
        circuit_pair(&def, run);
    return def;
}

/* Phase n of the run: pull and rest in turns. */
static inline pr_phase circuit_phase(const circuit_case *run, int n)
{
    const bool pull = n % 2 == 0;
    return (pr_phase){.activity = pull ? PR_PULL : PR_REST,
                      .engine_rpm = pull ? CIRCUIT_PULL_RPM : run->rest_rpm,
                      .duration_s = pull ? run->pull_s : run->rest_s,
                      .stop_travel_m = PR_NAN};
}

#endif
