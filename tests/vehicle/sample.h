/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/kinds.h"

extern const char sample_intake[];
CwRecord *sample_vehicle(void);
void sample_add_take(CwRecord *vehicle, const char *id, int output, int place, guint n_points);
void sample_random_edit(CwRecord *vehicle, GRand *random);
