/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/kinds/kinds.h"
#include "vehicle/project/project.h"

extern const char sample_intake[];
extern const char sample_version_1[];
CwRecord *sample_vehicle(void);
void sample_add_take(CwRecord *vehicle, const char *id, int output, int place, guint n_points);
void sample_random_edit(CwRecord *vehicle, GRand *random);

char *sample_folder(void);
void sample_remove_folder(const char *folder);
CwSamples *sample_samples(int number);
void sample_check_samples(CwProject *project, const char *name, int number);
