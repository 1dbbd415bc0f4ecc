/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include <stdbool.h>

/* A loudspeaker's small-signal parameters as data sheets give them (Thiele 1961, Small 1972). */
typedef struct {
  double resonance_hz;   /* fs, in free air or on a large baffle; in a closed box that of the system */
  double total_q;        /* Qts; of the system likewise */
  double compliance_l;   /* Vas, litres; of the system: Vas Vb / (Vas + Vb) */
  double cone_area_cm2;  /* Sd */
  double nominal_ohm;    /* Re is taken as 0.8 of it: common practice, no source */
  double travel_peak_mm; /* Xmax, one way */
} CwCone;

/* Whether all that travel depends on is known (above 0). */
bool cw_cone_is_known(const CwCone *cone);

/* Peak travel, mm, of the cone at hz for a sine of volts RMS: x0 |X(jw)| with X(s) = 1 / (1 + s / (w0 Q) +
 * s^2 / w0^2) (Small, JAES 20, 1972, Direct-Radiator Loudspeaker System Analysis). Q is taken as the
 * electrical one, as mechanical losses are small: travel is overrated a little, never underrated. */
double cw_cone_travel_mm(const CwCone *cone, double hz, double volts);

/* The most volts RMS at hz at which the cone stays within its travel. */
double cw_cone_most_volts(const CwCone *cone, double hz);
