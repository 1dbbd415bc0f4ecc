/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/takes/arrivals.h"
#include "job/findings/review.h"
#include "job/job_error.h"
#include "job/takes/heard_car.h"
#include "job/takes/positions.h"
#include <math.h>

#define LONGEST_ARRIVAL_MS 500.0 /* the kept response after its beginning */

static double sheet_cm(CwRecord *speaker, const char *position)
{
  const CwNumbers *distances = cw_speaker_get_distance_cm(speaker);
  const char *end = strrchr(position, '/');
  g_autofree char *seat = end ? g_strndup(position, (gsize)(end - position)) : g_strdup(position);

  return distances ? cw_numbers_named(distances, seat) : NAN;
}

static int by_output_and_position(gconstpointer a, gconstpointer b, gpointer car)
{
  const CwExpectedArrival *one = a, *other = b;
  int first = cw_heard_car_index(car, cw_take_get_output(one->take)),
      second = cw_heard_car_index(car, cw_take_get_output(other->take));

  return first != second ? first - second
                         : g_strcmp0(cw_take_get_position(one->take), cw_take_get_position(other->take));
}

GArray *cw_job_list_arrivals(CwRecord *vehicle, const char *position)
{
  g_autoptr(CwHeardCar) car = cw_job_hear_car(vehicle);
  GArray *list = g_array_new(FALSE, FALSE, sizeof(CwExpectedArrival));

  for (guint i = 0; i < car->takes->len; i++) {
    CwRecord *take = g_ptr_array_index(car->takes, i);
    CwRecord *speaker = cw_vehicle_find_speaker(vehicle, cw_take_get_output(take));
    if (position && !g_str_equal(position, cw_take_get_position(take)))
      continue;
    CwExpectedArrival one = {take, speaker, sheet_cm(speaker, cw_take_get_position(take)),
                             1e3 * car->expected_seconds[i]};
    g_array_append_val(list, one);
  }
  g_array_sort_with_data(list, by_output_and_position, car);
  return list;
}

CwRecord *cw_job_set_arrival(CwRecord *vehicle, gint64 output, const char *position, double arrival_ms,
                             GError **error)
{
  CwRecord *take = cw_job_find_take(vehicle, output, position, CW_PURPOSE_TUNING);

  if (!take || cw_take_get_timing(take) == CW_TIMING_NONE) {
    cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "output %d at %s: no accepted take that was timed",
                  (int)output, position);
    return NULL;
  }
  double start_ms = cw_take_get_blob_start_ms(take);
  if (!isnan(arrival_ms) && !(arrival_ms > start_ms && arrival_ms < start_ms + LONGEST_ARRIVAL_MS)) {
    cw_job_refuse(error, CW_JOB_ERROR_VEHICLE,
                  "arrival: %g ms is not within the take's response, %.1f to %.1f ms", arrival_ms, start_ms,
                  start_ms + LONGEST_ARRIVAL_MS);
    return NULL;
  }
  cw_take_set_arrival_set_ms(take, arrival_ms);
  cw_job_review(vehicle);
  return take;
}
