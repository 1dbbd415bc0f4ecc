/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/takes/take_checks.h"
#include "job/takes/positions.h"
#include "signal/sort.h"
#include <math.h>

#define SAME_RMS_DB                                                                                          \
  1.0 /* two takes of one speaker at one place; two speakers differ by several decibels at the least */
#define SAME_ARRIVAL_MS 0.03 /* a centimetre */
#define SAME_LEAST_POINTS (2 * CW_TAKE_POINTS_PER_OCTAVE)
#define MOVED_PPM                                                                                            \
  6.0 /* over a feed of some seconds: two centimetres; a recorder's clock keeps within one or two */
#define CLOCK_LEAST_TAKES 3
#define NOISY_DB 20.0

static gssize point_of(double hz)
{
  return lrint(log2(hz / CW_TAKE_LOW_HZ) * CW_TAKE_POINTS_PER_OCTAVE);
}

/* rms of the difference between two responses, level and all; NAN for too few points in common. */
static double difference_db(const CwNumbers *one, const CwNumbers *other)
{
  double squares = 0;
  guint count = 0;

  if (!one || !other || !one->n_rows || !other->n_rows)
    return NAN;
  gssize from = point_of(cw_numbers_at(one, 0, 0)) - point_of(cw_numbers_at(other, 0, 0));
  for (guint i = 0; i < one->n_rows; i++) {
    gssize at = from + (gssize)i;
    double difference = at >= 0 && at < (gssize)other->n_rows
                            ? cw_numbers_at(one, i, 1) - cw_numbers_at(other, (guint)at, 1)
                            : NAN;
    if (isnan(difference))
      continue;
    squares += difference * difference;
    count++;
  }
  return count >= SAME_LEAST_POINTS ? sqrt(squares / count) : NAN;
}

gint64 cw_job_same_speaker(CwRecord *vehicle, const CwTakeLikeness *like)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);

  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    gint64 other = cw_speaker_get_output(cw_list_get(speakers, i));
    CwRecord *take =
        other != like->output ? cw_job_find_take(vehicle, other, like->position, like->purpose) : NULL;
    if (!take || cw_take_get_timing(take) != like->timing ||
        !(difference_db(cw_take_get_response(take), like->response) < SAME_RMS_DB))
      continue;
    double apart = fabs(cw_take_get_arrival_ms(take) - like->arrival_ms);
    if (like->timing != CW_TIMING_LOOPBACK || apart < SAME_ARRIVAL_MS)
      return other;
  }
  return CW_NO_INTEGER;
}

static gboolean is_another(CwRecord *vehicle, gint64 output, const char *position, CwTakeTiming timing,
                           CwPurpose purpose, const CwTakeResult *result)
{
  CwNumbers *response = cw_numbers_new_curve(CW_TAKE_POINTS, result->hz, result->db);
  CwTakeLikeness like = {output, position, timing, purpose, response, 1e3 * result->arrival_seconds};
  gboolean found = cw_job_same_speaker(vehicle, &like) != CW_NO_INTEGER;

  cw_numbers_unref(response);
  return found;
}

static gboolean clock_differs(CwRecord *vehicle, const CwTakeResult *result)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);
  g_autofree double *ppm = g_new(double, cw_list_get_length(takes) + 1);
  guint count = 0;

  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    CwRecord *take = cw_list_get(takes, i);
    double own = cw_take_get_clock_ppm(take);
    if (cw_take_get_accepted(take) && !isnan(own))
      ppm[count++] = own;
  }
  cw_sort_rising(ppm, count);
  return count >= CLOCK_LEAST_TAKES && ppm[count - 1] - ppm[0] < MOVED_PPM &&
         fabs(result->player_ppm - ppm[count / 2]) > MOVED_PPM;
}

unsigned cw_job_check_take(CwRecord *vehicle, gint64 output, const char *position, CwTakeTiming timing,
                           CwPurpose purpose, const CwTakeResult *result)
{
  unsigned faults = 0;

  if (result->faults || !result->impulse)
    return 0;
  if (is_another(vehicle, output, position, timing, purpose, result))
    faults |= CW_TAKE_WRONG_SPEAKER;
  if (timing == CW_TIMING_MARKER && clock_differs(vehicle, result))
    faults |= CW_TAKE_MOVED;
  return faults;
}

gboolean cw_job_noisy_band(const CwTakeResult *result, double *low_hz, double *high_hz)
{
  guint run = 0, best = 0, best_end = 0;

  for (guint i = 0; i < CW_TAKE_POINTS; i++) {
    run = result->band_snr_db[i] < NOISY_DB ? run + 1 : 0;
    if (run > best) {
      best = run;
      best_end = i;
    }
  }
  if (best < CW_TAKE_POINTS_PER_OCTAVE / 3)
    return FALSE;
  *low_hz = result->hz[best_end + 1 - best];
  *high_hz = result->hz[best_end];
  return TRUE;
}
