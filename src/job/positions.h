/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "vehicle/kinds.h"

G_BEGIN_DECLS

/* The board of outputs by positions: what is to be measured, and what has been. */

/* The latest accepted take of an output at a position, or NULL. */
CwRecord *cw_job_find_take(CwRecord *vehicle, gint64 output, const char *position, int purpose);

/* The positions to measure at a seat, NULL-terminated ("driver/1" ...); free with g_strfreev(). */
char **cw_job_positions(CwRecord *vehicle, const char *seat);

G_END_DECLS
