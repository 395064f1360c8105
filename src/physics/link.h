/* Link between two battery nodes: hand switch, voltage-sensing relay, diode, DC-DC charger. */
#ifndef PR_PHYSICS_LINK_H
#define PR_PHYSICS_LINK_H

#include "base/status.h"
#include <stdbool.h>

typedef enum pr_link_kind {
    PR_LINK_NONE,
    PR_LINK_SWITCH, /* by hand: closed when, see engine/system.h */
    PR_LINK_RELAY,  /* voltage-sensing */
    PR_LINK_DIODE,  /* isolator, from node 0 to node 1 */
    PR_LINK_CHARGER /* DC-DC charger from node 0 to node 1 */
} pr_link_kind;

typedef struct pr_link_def {
    int cookie;
    pr_link_kind kind;
    double contact_ohm;                     /* closed; default 0.0005, cables are separate wires */
    double rating_A;                        /* continuous; NaN = unknown */
    double close_V, open_V;                 /* relay, either side; 13.3, 12.8 */
    double close_delay_s, open_delay_s;     /* 10, 10 */
    bool senses_both;                       /* relay looks at both sides (dual sensing) */
    double diode_V, diode_ohm;              /* 0.7 at small current, 0.002 */
    double charger_A, charger_V;            /* output limit and set voltage */
    double charger_efficiency;              /* 0.9 */
    double charger_start_V, charger_stop_V; /* input thresholds, 13.0, 12.4 */
} pr_link_def;

typedef struct pr_link {
    pr_link_def def;
} pr_link;

pr_link_def pr_link_def_default(pr_link_kind kind);
pr_status pr_link_derive(const pr_link_def *def, pr_link *link);

/* `closed` is the switch or relay, or a charger that is running; a diode needs none.
 * Currents out of node 0 (*i0_A) and into node 1 (*i1_A; differs for a charger) at the node
 * voltages, with the 2x2 Jacobian [di0/dv0, di0/dv1, di1/dv0, di1/dv1] (may be NULL).
 * series_ohm: the wires of the link, in series. */
void pr_link_currents_A(const pr_link *link, bool closed, double series_ohm, double v0_V,
                        double v1_V, double *i0_A, double *i1_A, double jacobian[4]);

/* The same, inline for the contacts of a switch or relay: the network asks at every iteration. */
static inline void pr_link_tangent_A(const pr_link *link, bool closed, double series_ohm,
                                     double v0_V, double v1_V, double *i0_A, double *i1_A,
                                     double j[4])
{
    const pr_link_kind kind = link->def.kind;
    if (!closed || (kind != PR_LINK_SWITCH && kind != PR_LINK_RELAY)) {
        pr_link_currents_A(link, closed, series_ohm, v0_V, v1_V, i0_A, i1_A, j);
        return;
    }
    const double slope_S = 1.0 / (link->def.contact_ohm + series_ohm);
    *i0_A = *i1_A = (v0_V - v1_V) * slope_S;
    j[0] = j[2] = slope_S;
    j[1] = j[3] = -slope_S;
}

/* Relay and charger thresholds: +1 wants to close, -1 wants to open, 0 holds. */
int pr_link_wants(const pr_link *link, bool closed, double v0_V, double v1_V);

/* Low-voltage cut-off (of a load group): same idea. */
typedef struct pr_cutoff_def {
    double off_V, on_V, off_delay_s, on_delay_s; /* 10.5, 12.0, 90, 30 */
} pr_cutoff_def;
pr_cutoff_def pr_cutoff_def_default(void);
int pr_cutoff_wants(const pr_cutoff_def *cutoff, bool closed, double v_V);

#endif
