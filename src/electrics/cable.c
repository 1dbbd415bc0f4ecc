/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "electrics/cable.h"

#include <math.h>

/* Size; most resistance at 20 degrees C of plain copper of class 5, flexible (IEC 60228). */
static const struct {
  double size_mm2, ohm_per_km;
} standard[] = {
    {0.5, 39.0}, {0.75, 26.0}, {1, 19.5},   {1.5, 13.3}, {2.5, 7.98}, {4, 4.95},   {6, 3.30},    {10, 1.91},
    {16, 1.21},  {25, 0.780},  {35, 0.554}, {50, 0.386}, {70, 0.272}, {95, 0.206}, {120, 0.161},
};

static const double sizes_mm2[] = {0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120};

#define N_STANDARD (sizeof standard / sizeof standard[0])

_Static_assert(N_STANDARD == sizeof sizes_mm2 / sizeof sizes_mm2[0], "one size a row");

double cw_temperature_factor(double celsius)
{
  return 1 + CW_COPPER_PER_KELVIN * (celsius - 20);
}

double cw_material_factor(CwMaterial material)
{
  switch (material) {
  case CW_COPPER:
    return 1;
  case CW_COPPER_CLAD_ALUMINIUM:
    return 1.55;
  case CW_ALUMINIUM:
    return 28.264 / 17.241;
  }
  return NAN;
}

double cw_solid_ohm_per_km(double size_mm2)
{
  return CW_COPPER_OHM_MM2_PER_KM / size_mm2;
}

size_t cw_cable_sizes(const double **sizes)
{
  *sizes = sizes_mm2;
  return N_STANDARD;
}

/* The row at or below a size, and how far towards the next (by the logarithm of the size), 0 to 1. */
static size_t find_row(double size_mm2, double *towards_next)
{
  size_t row = 0;
  while (row + 2 < N_STANDARD && standard[row + 1].size_mm2 <= size_mm2)
    row++;
  *towards_next =
      log(size_mm2 / standard[row].size_mm2) / log(standard[row + 1].size_mm2 / standard[row].size_mm2);
  return row;
}

double cw_cable_ohm_per_km(double size_mm2, CwMaterial material, double celsius)
{
  double towards_next;
  if (!(size_mm2 > 0))
    return NAN;
  size_t row = find_row(size_mm2, &towards_next);
  towards_next = fmin(fmax(towards_next, 0), 1);
  double one = standard[row].ohm_per_km * standard[row].size_mm2;
  double other = standard[row + 1].ohm_per_km * standard[row + 1].size_mm2;
  double ohm_mm2 = one + towards_next * (other - one);
  return ohm_mm2 / size_mm2 * cw_material_factor(material) * cw_temperature_factor(celsius);
}

double cw_gauge_diameter_mm(int gauge)
{
  return 0.127 * pow(92, (36 - gauge) / 39.0);
}

double cw_gauge_mm2(int gauge)
{
  double diameter_mm = cw_gauge_diameter_mm(gauge);
  return M_PI / 4 * diameter_mm * diameter_mm;
}

double cw_loop_ohm(double ohm_per_km, double one_way_m)
{
  return 2 * one_way_m * ohm_per_km / 1000;
}

double cw_two_way_drop_v(double ohm_per_km, double one_way_m, double current_a)
{
  return cw_loop_ohm(ohm_per_km, one_way_m) * current_a;
}

double cw_lead_loss_db(double loop_ohm, double load_ohm)
{
  return 20 * log10(load_ohm / (load_ohm + loop_ohm));
}

double cw_lead_loss_part(double loop_ohm, double load_ohm)
{
  return loop_ohm / (load_ohm + loop_ohm);
}
