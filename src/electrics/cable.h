/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <stdbool.h>
#include <stddef.h>

/* What a cable's strands are made of; in the order of the record's choice "material". */
typedef enum { CW_COPPER, CW_COPPER_CLAD_ALUMINIUM, CW_ALUMINIUM } CwMaterial;

/* Copper at 20 degrees C, IEC 60028, from memory: 1/58 ohm mm2/m, and what a kelvin adds. */
#define CW_COPPER_OHM_MM2_PER_KM 17.241379310344827
#define CW_COPPER_PER_KELVIN 0.00393

/* Resistance at a temperature by that at 20 degrees C, of copper; aluminium's is near enough the same.
 * CW_FROM_MEMORY, as the two figures above: electrics/provenance.h. */
double cw_temperature_factor(double celsius);

/* Resistance by that of copper of the same size. Aluminium: 28.264 / 17.241 ohm mm2/km; copper-clad
 * aluminium: the middle of what is met with 10 to 15 % copper by volume, CW_COMMON_PRACTICE. */
double cw_material_factor(CwMaterial material);

/* Resistance of solid copper at 20 degrees C, ohm per km: resistivity by area. */
double cw_solid_ohm_per_km(double size_mm2);

/* Most resistance of flexible cable, ohm per km: IEC 60228 class 5 at the standard sizes; between them
 * resistance times size goes evenly with the logarithm of the size, beyond them it stays. size_mm2 above 0,
 * else NAN. */
double cw_cable_ohm_per_km(double size_mm2, CwMaterial material, double celsius);

/* The standard sizes of IEC 60228 class 5, mm2, rising; static. Returns how many. */
size_t cw_cable_sizes(const double **sizes_mm2);

/* Diameter (mm) and area (mm2) of an American gauge (ASTM B258); 1/0 is 0, 2/0 is -1, 4/0 is -3. */
double cw_gauge_diameter_mm(int gauge);
double cw_gauge_mm2(int gauge);

/* Resistance there and back, ohm. */
double cw_loop_ohm(double ohm_per_km, double one_way_m);

/* Voltage lost there and back, V. */
double cw_two_way_drop_v(double ohm_per_km, double one_way_m, double current_a);

/* Level at a load behind a speaker lead, dB (below 0): the divider of the two. */
double cw_lead_loss_db(double loop_ohm, double load_ohm);

/* Part of the power that stays in the lead, 0 to 1. */
double cw_lead_loss_part(double loop_ohm, double load_ohm);
