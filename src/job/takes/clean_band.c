/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/takes/clean_band.h"
#include "signal/sort.h"
#include <math.h>

#define LIMIT_PERCENT 3.0
#define LEAST_TAKES 2
#define HALF_STEP (1.0 / 6) /* octaves: points of distortion stand a third apart */

/* How far the response at hz stands above the mean of the octave around it, dB. */
static double above_octave_db(const CwNumbers *response, double hz)
{
  double here = NAN, nearest = INFINITY, sum = 0;
  guint count = 0;

  for (guint i = 0; i < response->n_rows; i++) {
    double apart = log2(cw_numbers_at(response, i, 0) / hz), db = cw_numbers_at(response, i, 1);
    if (isnan(db) || fabs(apart) > 0.5)
      continue;
    sum += pow(10, db / 10);
    count++;
    if (fabs(apart) < nearest) {
      nearest = fabs(apart);
      here = db;
    }
  }
  return count ? here - 10 * log10(sum / count) : 0;
}

/* Percent of the fundamental's own octave at the point nearest to hz; NAN where the take does not say. */
static double distortion_at(CwRecord *take, double hz)
{
  const CwNumbers *rows = cw_take_get_distortion(take), *response = cw_take_get_response(take);

  for (guint i = 0; rows && response && i < rows->n_rows; i++) {
    double at = cw_numbers_at(rows, i, 0), second = cw_numbers_at(rows, i, 1),
           third = cw_numbers_at(rows, i, 2);
    if (fabs(log2(at / hz)) > 0.01 || (isnan(second) && isnan(third)))
      continue;
    double percent = hypot(isnan(second) ? 0 : second, isnan(third) ? 0 : third);
    return percent * pow(10, above_octave_db(response, at) / 20);
  }
  return NAN;
}

static double median_at(CwRecord *vehicle, gint64 output, double hz)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);
  guint n = cw_list_get_length(takes), count = 0;
  g_autofree double *values = g_new(double, n + 1);

  for (guint i = 0; i < n; i++) {
    CwRecord *take = cw_list_get(takes, i);
    double percent;
    if (cw_take_get_output(take) != output || !cw_take_get_accepted(take) ||
        cw_take_get_purpose(take) != CW_PURPOSE_TUNING || isnan(percent = distortion_at(take, hz)))
      continue;
    values[count++] = percent;
  }
  cw_sort_rising(values, count);
  return count >= LEAST_TAKES ? values[(count - 1) / 2] : NAN;
}

CwCleanRange cw_job_clean_range(CwRecord *vehicle, gint64 output, double lowest_hz)
{
  CwCleanRange range = {lowest_hz, NAN, NAN};

  for (int i = 0; i < 30; i++) {
    double hz = 20 * exp2(i / 3.0), percent;
    if (hz < lowest_hz * exp2(-HALF_STEP) || hz > 2 * lowest_hz)
      continue;
    percent = median_at(vehicle, output, hz);
    if (isnan(percent) || percent <= LIMIT_PERCENT)
      continue;
    range.from_hz = fmin(fmax(hz * exp2(HALF_STEP), lowest_hz), 2 * lowest_hz);
    if (isnan(range.worst_percent) || percent > range.worst_percent) {
      range.worst_percent = percent;
      range.worst_hz = hz;
    }
  }
  return range;
}

double cw_job_distortion_percent(CwRecord *vehicle, gint64 output, double hz)
{
  double nearest = 20 * exp2(rint(3 * log2(hz / 20)) / 3);
  return median_at(vehicle, output, nearest);
}
