/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/job_error.h"
#include "tuning/car/car.h"
#include "vehicle/project/project.h"

G_BEGIN_DECLS

/* The car as its accepted takes show it, as plain numbers for the tuning room. seat NULL for all seats.
 * purpose as in cw_job_analyse_take(). Takes timed by markers are brought to one time base; takes without
 * timing are placed by the sheet's distances. Outputs come in the order of the sheet's speakers. NULL with
 * error where an output has no take, or takes do not fit together. Free with cw_car_free(). */
CwCar *cw_job_measured_car(CwProject *project, const char *seat, CwPurpose purpose, GError **error);

/* Names the positions that the car's places stand for, in order; free with g_strfreev(). */
char **cw_job_measured_places(CwRecord *vehicle, const char *seat);

G_END_DECLS
