/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/record/numbers.h"

G_BEGIN_DECLS

/* The points of a target curve (Hz, dB), changed one at a time. Each gives another curve, the caller's;
 * frequencies keep rising, at least a 24th of an octave apart, within 10 Hz to 24 kHz; levels stay within 30
 * dB. */
#define CW_TARGET_MOST_DB 30.0
#define CW_TARGET_LOWEST_HZ 10.0
#define CW_TARGET_HIGHEST_HZ 24000.0

/* A point set to a frequency and level, or as near as its neighbours let it come. */
CwNumbers *cw_target_move(const CwNumbers *target, guint point, double hz, double db);

/* A point more, whose place in the curve is given back. NULL where there is no room for it between two
 * others. */
CwNumbers *cw_target_add(const CwNumbers *target, double hz, double db, guint *point);

/* A point less; NULL where fewer than two would stay. */
CwNumbers *cw_target_remove(const CwNumbers *target, guint point);

/* The level at a frequency: straight lines over log frequency, level beyond the ends. */
double cw_target_level_db(const CwNumbers *target, double hz);

G_END_DECLS
