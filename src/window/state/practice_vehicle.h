/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* The practice bay's vehicles, kept in the user's data folder. Cars: "alder-tourer", "rowan-van". */
char *cw_practice_path(const char *car);
CwProject *cw_practice_open(const char *car, GError **error);
gboolean cw_practice_set_aside(const char *car, GError **error);
const char *cw_practice_car_of(CwRecord *vehicle);
char *cw_practice_setup(CwRecord *vehicle, const char *position, guint seed, const char *table);

G_END_DECLS
