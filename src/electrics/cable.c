/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "electrics/cable.h"

#include <math.h>

/* Size; most resistance at 20 degrees C of plain copper of class 5, flexible (IEC 60228); current that a
 * single cable bears without end at 70 degrees C of its core in 30 degrees C of air (small-craft practice
 * after ISO 10133: from memory, and on the careful side for an engine bay only if the fuse is chosen by it).
 */
static const struct {
  double size_mm2, ohm_per_km, rating_a;
} standard[] = {
    {0.5, 39.0, 7},   {0.75, 26.0, 10}, {1, 19.5, 14},    {1.5, 13.3, 18},  {2.5, 7.98, 25},
    {4, 4.95, 35},    {6, 3.30, 45},    {10, 1.91, 65},   {16, 1.21, 90},   {25, 0.780, 120},
    {35, 0.554, 160}, {50, 0.386, 210}, {70, 0.272, 265}, {95, 0.206, 310}, {120, 0.161, 360},
};

static const double sizes_mm2[] = {0.5, 0.75, 1, 1.5, 2.5, 4, 6, 10, 16, 25, 35, 50, 70, 95, 120};

/* Blade fuses up to 80 A (ISO 8820-3), strip fuses above (ISO 8820-5); the lists are from memory. */
static const double fuses_a[] = {1,  2,  3,  4,   5,   7.5, 10,  15,  20,  25,  30,  35,  40,  50,
                                 60, 70, 80, 100, 125, 150, 175, 200, 225, 250, 300, 350, 400, 500};

#define N_STANDARD (sizeof standard / sizeof standard[0])

_Static_assert(N_STANDARD == sizeof sizes_mm2 / sizeof sizes_mm2[0], "one size a row");

/* Resistance at a temperature by that at 20 degrees C, of copper; aluminium's is near enough the same. */
double cw_temperature_factor(double celsius)
{
  return 1 + CW_COPPER_PER_KELVIN * (celsius - 20);
}

/* Resistance by that of copper of the same size. Aluminium: 28.264 / 17.241 ohm mm2/km; copper-clad
 * aluminium: the middle of what is met with 10 to 15 % copper by volume (common practice). */
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

/* Resistance of solid copper at 20 degrees C, ohm per km: resistivity by area. */
double cw_solid_ohm_per_km(double size_mm2)
{
  return CW_COPPER_OHM_MM2_PER_KM / size_mm2;
}

/* The standard sizes, rising; returns how many. */
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

/* Most resistance of flexible cable, ohm per km: IEC 60228 class 5 at the standard sizes; between them
 * resistance times size goes evenly with the logarithm of the size, beyond them it stays. size_mm2 above 0,
 * else NAN. */
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

/* Current that a cable bears for long, A: the table's at the standard sizes, between them by the power law
 * through both neighbours. Other metals bear less by the root of their resistance, for the same heat. */
double cw_cable_rating_a(double size_mm2, CwMaterial material)
{
  double towards_next;
  if (!(size_mm2 > 0))
    return NAN;
  size_t row = find_row(size_mm2, &towards_next);
  double ratio = standard[row + 1].rating_a / standard[row].rating_a;
  return standard[row].rating_a * pow(ratio, towards_next) / sqrt(cw_material_factor(material));
}

/* Diameter of an American gauge, mm (ASTM B258); 00 is -1, 000 is -2, 0000 is -3. */
double cw_gauge_diameter_mm(int gauge)
{
  return 0.127 * pow(92, (36 - gauge) / 39.0);
}

/* Area of a gauge, mm2. */
double cw_gauge_mm2(int gauge)
{
  double diameter_mm = cw_gauge_diameter_mm(gauge);
  return M_PI / 4 * diameter_mm * diameter_mm;
}

/* Resistance there and back, ohm. */
double cw_loop_ohm(double ohm_per_km, double one_way_m)
{
  return 2 * one_way_m * ohm_per_km / 1000;
}

/* Voltage lost there and back, V. */
double cw_two_way_drop_v(double ohm_per_km, double one_way_m, double current_a)
{
  return cw_loop_ohm(ohm_per_km, one_way_m) * current_a;
}

/* Level at a load behind a speaker lead, dB (below 0): the divider of the two. */
double cw_lead_loss_db(double loop_ohm, double load_ohm)
{
  return 20 * log10(load_ohm / (load_ohm + loop_ohm));
}

/* Part of the power that stays in the lead, 0 to 1. */
double cw_lead_loss_part(double loop_ohm, double load_ohm)
{
  return loop_ohm / (load_ohm + loop_ohm);
}

/* The standard fuses, rising; returns how many. */
size_t cw_fuses(const double **fuses)
{
  *fuses = fuses_a;
  return sizeof fuses_a / sizeof fuses_a[0];
}

/* The smallest standard fuse not below a current, A; NAN if there is none. */
double cw_fuse_for(double current_a)
{
  for (size_t i = 0; i < sizeof fuses_a / sizeof fuses_a[0]; i++)
    if (fuses_a[i] >= current_a)
      return fuses_a[i];
  return NAN;
}

/* The smallest standard size that loses at most most_drop_v there and back at 20 degrees C, and whose rating
 * is not below the smallest standard fuse for the current: the fuse protects the cable. */
CwCableChoice cw_choose_cable(double current_a, double one_way_m, CwMaterial material, double most_drop_v)
{
  CwCableChoice choice = {.size_mm2 = NAN,
                          .fuse_a = cw_fuse_for(current_a),
                          .ohm_per_km = NAN,
                          .drop_v = NAN,
                          .rating_a = NAN,
                          .least_for_drop_mm2 = NAN,
                          .least_for_fuse_mm2 = NAN};
  if (!(current_a > 0)) { /* nothing to feed yet */
    choice.fuse_a = NAN;
    return choice;
  }
  for (size_t i = N_STANDARD; i-- > 0;) {
    double size = standard[i].size_mm2;
    if (cw_two_way_drop_v(cw_cable_ohm_per_km(size, material, 20), one_way_m, current_a) <= most_drop_v)
      choice.least_for_drop_mm2 = size;
    if (cw_cable_rating_a(size, material) >= choice.fuse_a)
      choice.least_for_fuse_mm2 = size;
  }
  if (isnan(choice.least_for_drop_mm2) || isnan(choice.least_for_fuse_mm2))
    return choice;
  choice.size_mm2 = fmax(choice.least_for_drop_mm2, choice.least_for_fuse_mm2);
  choice.ohm_per_km = cw_cable_ohm_per_km(choice.size_mm2, material, 20);
  choice.drop_v = cw_two_way_drop_v(choice.ohm_per_km, one_way_m, current_a);
  choice.rating_a = cw_cable_rating_a(choice.size_mm2, material);
  return choice;
}
