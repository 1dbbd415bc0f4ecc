/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "electrics/cone.h"
#include <math.h>

#define AIR_DENSITY_KG_M3 1.204 /* dry air, 20 degrees C, 101325 Pa (ISO 9613-1) */
#define SOUND_M_PER_S 343.2
#define RESISTANCE_PART 0.8 /* of the nominal impedance: common practice, no source */

bool cw_cone_is_known(const CwCone *cone)
{
  return cone->resonance_hz > 0 && cone->total_q > 0 && cone->compliance_l > 0 && cone->cone_area_cm2 > 0 &&
         cone->nominal_ohm > 0 && cone->travel_peak_mm > 0;
}

/* Metres a volt far below resonance: Bl / (Re k), with k = rho c^2 Sd^2 / Vas and Bl^2 = 2 pi fs m Re / Q. */
static double static_travel_m(const CwCone *cone)
{
  double area = 1e-4 * cone->cone_area_cm2, w = 2 * M_PI * cone->resonance_hz,
         stiffness =
             AIR_DENSITY_KG_M3 * SOUND_M_PER_S * SOUND_M_PER_S * area * area / (1e-3 * cone->compliance_l),
         mass = stiffness / (w * w), resistance = RESISTANCE_PART * cone->nominal_ohm;
  return sqrt(w * mass / (cone->total_q * resistance)) / stiffness;
}

double cw_cone_travel_mm(const CwCone *cone, double hz, double volts)
{
  double u = hz / cone->resonance_hz, real = 1 - u * u, imaginary = u / cone->total_q;
  return 1e3 * M_SQRT2 * volts * static_travel_m(cone) / hypot(real, imaginary);
}

double cw_cone_most_volts(const CwCone *cone, double hz)
{
  return cone->travel_peak_mm / cw_cone_travel_mm(cone, hz, 1);
}
