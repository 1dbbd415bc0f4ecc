/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/takes/first_sounds.h"
#include "job/takes/feeds.h"
#include "job/takes/heard_car.h"
#include "measuring/take.h"
#include <math.h>

/* In parts of one, as a record keeps it, so that what is stored and read again is the same. */
static double in_steps(double value, double steps)
{
  return rint(value * steps) / steps;
}

void cw_job_write_edges(CwRecord *take, const CwEdges *edges, gboolean timed)
{
  double rows[3 * CW_EDGES_MOST], onset[CW_ONSET_POINTS];
  gsize best = 0;

  for (gsize i = 0; i < edges->count; i++) {
    rows[3 * i] = in_steps(1e3 * edges->edge[i].seconds, 1e4);
    rows[3 * i + 1] = in_steps(edges->edge[i].height, 1e4);
    rows[3 * i + 2] = in_steps(edges->edge[i].likelihood, 1e4);
    if (edges->edge[i].likelihood > edges->edge[best].likelihood)
      best = i;
  }
  cw_take_take_edges(take, cw_numbers_new((guint)edges->count, 3, rows));
  cw_take_set_edges_noise(take, in_steps(edges->count ? edges->noise : 0, 1e4));
  if (edges->count == 0)
    return;
  for (gsize i = 0; i < CW_ONSET_POINTS; i++)
    onset[i] = in_steps(edges->onset[i], 1e4);
  cw_take_take_onset(take, cw_numbers_new(CW_ONSET_POINTS, 1, onset));
  cw_take_set_edges_high_hz(take, rint(edges->high_hz));
  if (!timed)
    return;
  cw_take_set_arrival_ms(take, rows[3 * best]);
  cw_take_set_arrival_by(take, CW_ARRIVAL_SOUND);
}

gboolean cw_job_first_sound_is_inverted(CwRecord *take)
{
  const CwNumbers *edges = cw_take_get_edges(take);
  double arrival_ms = cw_take_get_arrival_ms(take);
  guint at;

  if (!edges || edges->n_rows == 0)
    return FALSE;
  at = (guint)cw_job_likeliest_edge(edges);
  for (guint i = 0; i < edges->n_rows && !isnan(arrival_ms); i++)
    if (fabs(cw_numbers_at(edges, i, 0) - arrival_ms) < 1e-3)
      at = i;
  return cw_numbers_at(edges, at, 1) < 0;
}

gboolean cw_take_source_read(CwProject *project, CwRecord *take, CwTakeSource *source, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project), *feed = cw_job_feed_of_take(vehicle, take);
  const CwNumbers *snr = cw_take_get_snr_bands(take);
  guint bands = snr ? snr->n_rows : 0;
  gsize known = 0;

  *source = (CwTakeSource){.samples = cw_project_get_samples(project, cw_take_get_blob(take), error),
                           .snr_hz = g_new(double, bands + 1),
                           .snr_db = g_new(double, bands + 1)};
  if (!source->samples)
    return FALSE;
  for (guint i = 0; i < bands; i++)
    if (!isnan(cw_numbers_at(snr, i, 1))) {
      source->snr_hz[known] = cw_numbers_at(snr, i, 0);
      source->snr_db[known++] = cw_numbers_at(snr, i, 1);
    }
  source->edges =
      (CwEdgeSource){source->samples->values,
                     source->samples->n_frames,
                     source->samples->rate_hz,
                     feed ? cw_feed_get_start_hz(feed) : 20,
                     cw_take_top_hz(feed ? cw_feed_get_stop_hz(feed) : 20000, cw_take_get_rate_hz(take)),
                     source->snr_hz,
                     source->snr_db,
                     known};
  return TRUE;
}

void cw_take_source_clear(CwTakeSource *source)
{
  g_clear_pointer(&source->samples, cw_samples_free);
  g_clear_pointer(&source->snr_hz, g_free);
  g_clear_pointer(&source->snr_db, g_free);
}

static gboolean find_edges_of(CwProject *project, CwRecord *take, GError **error)
{
  CwTakeSource source;
  CwEdges edges;
  gboolean read = cw_take_source_read(project, take, &source, error);

  if (read) {
    cw_take_find_edges(&source.edges, &edges);
    for (gsize i = 0; i < edges.count; i++)
      edges.edge[i].seconds += 1e-3 * cw_take_get_blob_start_ms(take);
    cw_job_write_edges(take, &edges, cw_take_get_timing(take) != CW_TIMING_NONE);
  }
  cw_take_source_clear(&source);
  return read;
}

gboolean cw_job_find_missing_edges(CwProject *project, GError **error)
{
  CwList *takes = cw_vehicle_get_takes(cw_project_get_vehicle(project));

  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    CwRecord *take = cw_list_get(takes, i);
    if (cw_take_get_accepted(take) && !cw_job_has_edges(take) && *cw_take_get_blob(take) &&
        !find_edges_of(project, take, error))
      return FALSE;
  }
  return TRUE;
}

static void settle_take(CwRecord *take, const CwTakeArrival *arrival)
{
  static const int by[] = {[CW_ARRIVAL_BY_SOUND] = CW_ARRIVAL_SOUND,
                           [CW_ARRIVAL_BY_DISTANCE] = CW_ARRIVAL_DISTANCE,
                           [CW_ARRIVAL_BY_BOTH] = CW_ARRIVAL_BOTH};
  double by_hand = cw_take_get_arrival_set_ms(take);

  if (!isnan(by_hand)) {
    cw_take_set_arrival_ms(take, by_hand);
    cw_take_set_arrival_doubt_us(take, NAN);
    cw_take_set_arrival_by(take, CW_ARRIVAL_HAND);
    return;
  }
  if (arrival->by == CW_ARRIVAL_BY_NOTHING)
    return;
  cw_take_set_arrival_ms(take, in_steps(1e3 * arrival->seconds, 1e4));
  cw_take_set_arrival_doubt_us(take, rint(1e6 * arrival->doubt_seconds));
  cw_take_set_arrival_by(take, by[arrival->by]);
}

void cw_job_settle_first_sounds(CwRecord *vehicle)
{
  g_autoptr(CwHeardCar) car = cw_job_hear_car(vehicle);
  CwList *takes = cw_vehicle_get_takes(vehicle);

  for (guint i = 0; i < car->takes->len; i++)
    settle_take(g_ptr_array_index(car->takes, i), &car->sounds->take[i]);
  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    CwRecord *take = cw_list_get(takes, i);
    int output = cw_heard_car_index(car, cw_take_get_output(take));
    if (output < 0 || !car->heard[output] || !cw_job_has_edges(take) ||
        cw_take_get_purpose(take) != CW_PURPOSE_TUNING)
      continue;
    double inverted = car->verdict[output].inverted, certainty = fmax(inverted, 1 - inverted);
    cw_take_set_polarity(take, certainty < CW_POLARITY_NAMED ? CW_HEARD_OPEN
                               : inverted > 0.5              ? CW_HEARD_INVERTED
                                                             : CW_HEARD_NORMAL);
    cw_take_set_polarity_confidence(take, in_steps(certainty, 1e3));
  }
}
