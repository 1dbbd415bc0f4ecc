/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <stdbool.h>
#include <stddef.h>

/* What a cable's strands are made of; in the order of the record's choice "material". */
typedef enum { CW_COPPER, CW_COPPER_CLAD_ALUMINIUM, CW_ALUMINIUM } CwMaterial;

#define CW_COPPER_OHM_MM2_PER_KM 17.241379310344827 /* IEC 60028: 1/58 ohm mm2/m at 20 degrees C */
#define CW_COPPER_PER_KELVIN 0.00393                /* IEC 60028, at 20 degrees C */

double cw_temperature_factor(double celsius);
double cw_material_factor(CwMaterial material);
double cw_solid_ohm_per_km(double size_mm2);
double cw_cable_ohm_per_km(double size_mm2, CwMaterial material, double celsius);
double cw_cable_rating_a(double size_mm2, CwMaterial material);
size_t cw_cable_sizes(const double **sizes_mm2);

double cw_gauge_diameter_mm(int gauge);
double cw_gauge_mm2(int gauge);

double cw_loop_ohm(double ohm_per_km, double one_way_m);
double cw_two_way_drop_v(double ohm_per_km, double one_way_m, double current_a);
double cw_lead_loss_db(double loop_ohm, double load_ohm);
double cw_lead_loss_part(double loop_ohm, double load_ohm);

/* A cable and a fuse for a current, with the numbers that led there. */
typedef struct {
  double size_mm2;                               /* NAN if no standard size will do, or there is no current */
  double fuse_a;                                 /* NAN if the current is above the largest fuse, or none */
  double ohm_per_km;                             /* of that size */
  double drop_v;                                 /* there and back, at the current */
  double rating_a;                               /* of that size */
  double least_for_drop_mm2, least_for_fuse_mm2; /* which of the two decided */
} CwCableChoice;

double cw_fuse_for(double current_a);
size_t cw_fuses(const double **fuses_a);
CwCableChoice cw_choose_cable(double current_a, double one_way_m, CwMaterial material, double most_drop_v);
