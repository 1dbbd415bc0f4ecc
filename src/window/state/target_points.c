/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/state/target_points.h"

#include "signal/log_grid.h"

#include <math.h>

#define APART exp2(1 / 24.0)
#define ROOM 1.0001 /* a point may stand as near as that to the least distance */

static double hz_at(const CwNumbers *target, guint point)
{
  return cw_numbers_at(target, point, 0);
}

static double db_at(const CwNumbers *target, guint point)
{
  return cw_numbers_at(target, point, 1);
}

/* In steps that are read easily. */
static double rounded_hz(double hz)
{
  return hz < 100 ? round(hz * 10) / 10 : round(hz);
}

CwNumbers *cw_target_move(const CwNumbers *target, guint point, double hz, double db)
{
  guint count = target->n_rows;
  g_autofree double *all_hz = g_new(double, count), *all_db = g_new(double, count);
  double low = point ? hz_at(target, point - 1) * APART : CW_TARGET_LOWEST_HZ,
         high = point + 1 < count ? hz_at(target, point + 1) / APART : CW_TARGET_HIGHEST_HZ;
  for (guint i = 0; i < count; i++) {
    all_hz[i] = hz_at(target, i);
    all_db[i] = db_at(target, i);
  }
  if (low <= high) /* a file may have points closer than that: they keep their frequency */
    all_hz[point] = CLAMP(rounded_hz(hz), low, high);
  all_db[point] = CLAMP(round(db * 10) / 10, -CW_TARGET_MOST_DB, CW_TARGET_MOST_DB);
  return cw_numbers_new_curve(count, all_hz, all_db);
}

CwNumbers *cw_target_add(const CwNumbers *target, double hz, double db, guint *point)
{
  guint count = target ? target->n_rows : 0, at = 0;
  g_autofree double *all_hz = g_new(double, count + 1), *all_db = g_new(double, count + 1);
  hz = CLAMP(rounded_hz(hz), CW_TARGET_LOWEST_HZ, CW_TARGET_HIGHEST_HZ);
  while (at < count && hz_at(target, at) < hz)
    at++;
  if ((at && hz * ROOM < hz_at(target, at - 1) * APART) ||
      (at < count && hz > ROOM * hz_at(target, at) / APART))
    return NULL;
  for (guint i = 0; i < count; i++) {
    all_hz[i + (i >= at)] = hz_at(target, i);
    all_db[i + (i >= at)] = db_at(target, i);
  }
  all_hz[at] = hz;
  all_db[at] = CLAMP(round(db * 10) / 10, -CW_TARGET_MOST_DB, CW_TARGET_MOST_DB);
  *point = at;
  return cw_numbers_new_curve(count + 1, all_hz, all_db);
}

CwNumbers *cw_target_remove(const CwNumbers *target, guint point)
{
  guint count = target->n_rows;
  g_autofree double *all_hz = g_new(double, count), *all_db = g_new(double, count);
  if (count <= 2 || point >= count)
    return NULL;
  for (guint i = 0; i < count; i++) {
    if (i == point)
      continue;
    all_hz[i - (i > point)] = hz_at(target, i);
    all_db[i - (i > point)] = db_at(target, i);
  }
  return cw_numbers_new_curve(count - 1, all_hz, all_db);
}

double cw_target_level_db(const CwNumbers *target, double hz)
{
  guint count = target ? target->n_rows : 0;
  g_autofree double *all_hz = g_new(double, count + 1), *all_db = g_new(double, count + 1);
  for (guint i = 0; i < count; i++) {
    all_hz[i] = hz_at(target, i);
    all_db[i] = db_at(target, i);
  }
  return count ? cw_log_grid_interpolate(all_hz, all_db, count, hz) : 0;
}
