/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/takes/identify.h"
#include "job/takes/positions.h"
#include "measuring/take.h"
#include "signal/sort.h"
#include <math.h>

#define BAND_POINTS 16 /* of a take's response in a third octave */
#define LEAST_OUTPUTS 3
#define LEAST_PLACES 3 /* at a seat, to say which of them is off */
#define OFF_M 0.25
#define SEAT_FITS_M 0.12

/* Between which frequencies speakers of a way end to play; wide, as makes differ; common practice, no source.
 */
static const double tops_hz[][2] = {[CW_WAY_HIGH] = {6500, 40000},
                                    [CW_WAY_MID] = {2200, 16000},
                                    [CW_WAY_LOW] = {800, 9000},
                                    [CW_WAY_FULL] = {1800, 40000},
                                    [CW_WAY_SUB] = {40, 600}};

static double distance_m(CwRecord *speaker, const char *seat)
{
  const CwNumbers *distances = cw_speaker_get_distance_cm(speaker);
  return distances ? 0.01 * cw_numbers_named(distances, seat) : NAN;
}

static void read_bands(CwRecord *take, double *level_db)
{
  const CwNumbers *response = cw_take_get_response(take);
  double sum[CW_IDENTITY_BANDS] = {0}, count[CW_IDENTITY_BANDS] = {0};

  for (guint i = 0; response && i < response->n_rows; i++) {
    double hz = cw_numbers_at(response, i, 0), db = cw_numbers_at(response, i, 1);
    long band = lrint(3 * log2(hz / CW_IDENTITY_LOW_HZ));
    if (isnan(db) || band < 0 || band >= CW_IDENTITY_BANDS)
      continue;
    sum[band] += pow(10, db / 10);
    count[band]++;
  }
  for (guint b = 0; b < CW_IDENTITY_BANDS; b++)
    level_db[b] = count[b] >= BAND_POINTS / 3 ? 10 * log10(sum[b] / count[b]) : NAN;
}

static double sweep_low_hz(CwRecord *vehicle, gint64 output)
{
  CwRecord *feed = cw_list_find_integer_at(cw_vehicle_get_feeds(vehicle), CW_FEED_FIELD_OUTPUT, output);
  return feed ? cw_feed_get_start_hz(feed) : 20;
}

CwSpeakerIdentity *cw_job_identify(CwRecord *vehicle, const CwHeardCar *car)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);
  guint count = cw_list_get_length(takes);
  g_autofree CwSpeakerSheet *sheet = g_new0(CwSpeakerSheet, car->outputs + 1);
  g_autofree CwSpeakerTake *take = g_new0(CwSpeakerTake, count + 1);
  g_autofree double *distance = g_new0(double, car->outputs * car->seats + 1);
  CwSpeakerIdentity *identity = g_new0(CwSpeakerIdentity, car->outputs + 1);
  gsize used = 0;

  for (guint o = 0; o < car->outputs; o++) {
    CwWay way = cw_speaker_get_way(car->speaker[o]);
    double lowest_hz = cw_speaker_get_lowest_hz(car->speaker[o]);
    sheet[o] =
        (CwSpeakerSheet){isnan(lowest_hz) ? 20 : lowest_hz, tops_hz[way][0], tops_hz[way][1], car->mate[o]};
    for (guint s = 0; s < car->seats; s++)
      distance[o * car->seats + s] = distance_m(car->speaker[o], car->seat[s]);
  }
  for (guint i = 0; i < count; i++) {
    CwRecord *record = cw_list_get(takes, i);
    int output = cw_heard_car_index(car, cw_take_get_output(record));
    if (output < 0 || cw_job_find_take(vehicle, cw_take_get_output(record), cw_take_get_position(record),
                                       CW_PURPOSE_TUNING) != record)
      continue;
    take[used] = (CwSpeakerTake){.output = (gsize)output,
                                 .sweep_low_hz = sweep_low_hz(vehicle, cw_take_get_output(record))};
    read_bands(record, take[used++].level_db);
  }
  CwIdentityProblem problem = {car->outputs, car->seats, used, sheet, distance, car->sounds->distance, take};
  cw_identity_judge(&problem, identity);
  return identity;
}

/* How much later an output's sound arrives at a place than at its seat's other places, in metres; NAN where
 * that is not known. */
static double later_m(CwRecord *vehicle, CwRecord *speaker, const char *seat, const char *position)
{
  g_auto(GStrv) positions = cw_job_positions(vehicle, seat);
  g_autofree double *others = g_new(double, g_strv_length(positions) + 1);
  double own = NAN;
  gsize count = 0;

  for (guint i = 0; positions[i]; i++) {
    CwRecord *take =
        cw_job_find_take(vehicle, cw_speaker_get_output(speaker), positions[i], CW_PURPOSE_TUNING);
    if (!take || cw_take_get_timing(take) != CW_TIMING_LOOPBACK || isnan(cw_take_get_arrival_ms(take)) ||
        cw_take_get_arrival_by(take) == CW_ARRIVAL_DISTANCE)
      continue;
    if (g_str_equal(positions[i], position))
      own = cw_take_get_arrival_ms(take);
    else
      others[count++] = cw_take_get_arrival_ms(take);
  }
  if (count < LEAST_PLACES - 1)
    return NAN;
  return 1e-3 * (own - cw_median(others, count)) * cw_speed_of_sound(cw_vehicle_get_temperature_c(vehicle));
}

/* The rms over the outputs of what a place is off, with what the way to another seat's head would explain
 * taken off; infinite where too few outputs tell. */
static double rms_off(CwRecord *vehicle, const CwHeardCar *car, const char *seat, const char *position,
                      const char *other)
{
  double squares = 0, count = 0;

  for (guint o = 0; o < car->outputs; o++) {
    double off = cw_speaker_get_way(car->speaker[o]) == CW_WAY_SUB
                     ? NAN
                     : later_m(vehicle, car->speaker[o], seat, position);
    if (other)
      off -= distance_m(car->speaker[o], other) - distance_m(car->speaker[o], seat);
    if (isnan(off))
      continue;
    squares += off * off;
    count++;
  }
  return count >= LEAST_OUTPUTS ? sqrt(squares / count) : INFINITY;
}

guint cw_job_find_misplaced_positions(CwRecord *vehicle, const CwHeardCar *car, CwMisplacedPosition *found,
                                      guint most)
{
  guint count = 0;

  for (guint s = 0; s < car->seats; s++) {
    g_auto(GStrv) positions = cw_job_positions(vehicle, car->seat[s]);
    for (guint i = 0; positions[i] && count < most; i++) {
      double off = rms_off(vehicle, car, car->seat[s], positions[i], NULL);
      if (!isfinite(off) || off < OFF_M)
        continue;
      found[count] = (CwMisplacedPosition){.off_m = off};
      for (guint k = 0; k < car->takes->len; k++)
        if (g_str_equal(cw_take_get_position(g_ptr_array_index(car->takes, k)), positions[i]))
          found[count].position = cw_take_get_position(g_ptr_array_index(car->takes, k));
      for (guint other = 0; other < car->seats; other++)
        if (other != s && rms_off(vehicle, car, car->seat[s], positions[i], car->seat[other]) < SEAT_FITS_M)
          found[count].seat = car->seat[other];
      count += found[count].position != NULL;
    }
  }
  return count;
}
