/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/handover/compare.h"
#include "signal/sort.h"

#include "signal/log_grid.h"
#include "signal/response/bands.h"
#include "vehicle/kinds/kinds.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define SURE 0.5 /* of a polarity's confidence, on the mean */
#define BANDS 10 /* octaves from 31.5 Hz to 16 kHz */
#define FIRST_BAND (-5)
#define POINTS_A_BAND 3 /* at the least, for a band to count */
#define PER_OCTAVE 12
#define LEAST_COMMON 3 /* outputs, for their median to say what all have in common */

/* What differs at every position of one output. */
typedef struct {
  guint positions, refused;
  double band_sum[BANDS];
  guint band_count[BANDS];
  double arrival_sum;
  guint arrivals;
  double polarity_before, polarity_after; /* sums of the confidences, with sign */
  guint polarities, rattles;
  double rattle_hz; /* the last new one's */
} Gathered;

static gboolean is_of(CwRecord *take, gint64 output, const char *position)
{
  return cw_take_get_output(take) == output && g_str_equal(cw_take_get_position(take), position);
}

/* The latest take of an output at a position that is (or is not) in the earlier state. */
static CwRecord *find_latest(CwList *takes, CwList *earlier, gint64 output, const char *position,
                             gboolean want_new)
{
  for (guint i = cw_list_get_length(takes); i-- > 0;) {
    CwRecord *take = cw_list_get(takes, i);
    gboolean is_new = !cw_list_find_text_at(earlier, CW_TAKE_FIELD_ID, cw_take_get_id(take));
    if (is_new == want_new && is_of(take, output, position) && (want_new || cw_take_get_accepted(take)))
      return take;
  }
  return NULL;
}

static gboolean tells_polarity(CwRecord *take)
{
  return cw_take_has_polarity(take) && cw_take_get_polarity(take) != CW_HEARD_OPEN;
}

static double signed_confidence(CwRecord *take)
{
  return cw_take_get_polarity_confidence(take) * (cw_take_get_polarity(take) == CW_HEARD_INVERTED ? -1 : 1);
}

/* A curve's columns; NULL where it is empty. */
static guint split_curve(CwRecord *take, double **hz, double **db)
{
  const CwNumbers *curve = cw_take_get_response(take);
  guint count = curve ? curve->n_rows : 0;
  *hz = g_new(double, count + 1);
  *db = g_new(double, count + 1);
  for (guint i = 0; i < count; i++) {
    (*hz)[i] = cw_numbers_at(curve, i, 0);
    (*db)[i] = cw_numbers_at(curve, i, 1);
  }
  return count;
}

/* Adds the difference of two responses, octave by octave, where both are known; without extrapolating either.
 */
static void gather_response(CwRecord *before, CwRecord *after, Gathered *g)
{
  g_autofree double *hz0 = NULL, *db0 = NULL, *hz1 = NULL, *db1 = NULL;
  guint n0 = split_curve(before, &hz0, &db0), n1 = split_curve(after, &hz1, &db1);
  for (int band = 0; band < BANDS && n0 && n1; band++) {
    CwBand octave = cw_band(1, FIRST_BAND + band);
    double sum = 0;
    guint count = 0;
    for (int k = 0; k < PER_OCTAVE; k++) {
      double at = octave.low_hz * exp2((k + 0.5) / PER_OCTAVE);
      if (at < fmax(hz0[0], hz1[0]) || at > fmin(hz0[n0 - 1], hz1[n1 - 1]))
        continue;
      double difference =
          cw_log_grid_interpolate(hz1, db1, n1, at) - cw_log_grid_interpolate(hz0, db0, n0, at);
      if (isnan(difference))
        continue;
      sum += difference;
      count++;
    }
    if (count < POINTS_A_BAND)
      continue;
    g->band_sum[band] += sum / count;
    g->band_count[band]++;
  }
}

static void gather_position(CwRecord *before, CwRecord *after, Gathered *g)
{
  if (!cw_take_get_accepted(after)) {
    double level = cw_take_get_level_db_spl(after), snr = cw_take_get_snr_db(after);
    /* clipped or disturbed takes are the technician's to take again and say nothing of the car */
    g->refused += !cw_take_get_clipped(after) && !cw_take_get_disturbed(after) &&
                  (isnan(level) || isnan(snr) || level < cw_take_get_level_db_spl(before) - 20);
    return;
  }
  g->positions++;
  gather_response(before, after, g);
  double arrival = cw_take_get_arrival_ms(after) - cw_take_get_arrival_ms(before);
  if (!isnan(arrival) && cw_take_get_timing(after) == cw_take_get_timing(before)) {
    g->arrival_sum += arrival;
    g->arrivals++;
  }
  if (tells_polarity(before) && tells_polarity(after)) {
    g->polarity_before += signed_confidence(before);
    g->polarity_after += signed_confidence(after);
    g->polarities++;
  }
  CwRecord *rattle = cw_take_get_rattle(after);
  if (rattle && !cw_take_get_rattle(before)) {
    g->rattles++;
    g->rattle_hz = cw_rattle_get_hz(rattle);
  }
}

static Gathered gather_output(CwRecord *then, CwRecord *now, gint64 output)
{
  CwList *earlier = cw_vehicle_get_takes(then), *takes = cw_vehicle_get_takes(now);
  const char *const *seats = cw_vehicle_get_seats(now);
  gint64 most = cw_vehicle_get_positions_per_seat(now);
  Gathered g = {.rattle_hz = NAN};
  for (guint s = 0; seats[s]; s++)
    for (gint64 place = 0; place <= most; place++) {
      g_autofree char *position = g_strdup_printf("%s/%d", seats[s], (int)place);
      CwRecord *before = find_latest(earlier, earlier, output, position, FALSE),
               *after = find_latest(takes, earlier, output, position, TRUE);
      if (before && after)
        gather_position(before, after, &g);
    }
  return g;
}

/* The median of what is known among count values; NAN if nothing is. */
static double median(const double *values, guint count)
{
  g_autofree double *known = g_new(double, count + 1);
  guint n = 0;
  for (guint i = 0; i < count; i++)
    if (!isnan(values[i]))
      known[n++] = values[i];
  return cw_median(known, n);
}

static CwOutputChange describe(const Gathered *g, CwRecord *speaker)
{
  CwOutputChange change = {.output = cw_speaker_get_output(speaker),
                           .name = g_strdup(cw_speaker_get_name(speaker)),
                           .positions = g->positions,
                           .refused = g->refused,
                           .band_hz = NAN,
                           .band_db = 0,
                           .rattle_hz = NAN};
  double bands[BANDS];
  for (int band = 0; band < BANDS; band++)
    bands[band] = g->band_count[band] ? g->band_sum[band] / g->band_count[band] : NAN;
  change.level_db = median(bands, BANDS);
  for (int band = 0; band < BANDS; band++)
    if (fabs(bands[band] - change.level_db) > fabs(change.band_db)) {
      change.band_db = bands[band] - change.level_db;
      change.band_hz = cw_band(1, FIRST_BAND + band).centre_hz;
    }
  change.arrival_ms = g->arrivals ? g->arrival_sum / g->arrivals : NAN;
  change.swapped = g->polarities && fabs(g->polarity_before) > SURE * g->polarities &&
                   fabs(g->polarity_after) > SURE * g->polarities &&
                   g->polarity_before * g->polarity_after < 0;
  if (g->rattles >= 2 && 2 * g->rattles > g->positions)
    change.rattle_hz = g->rattle_hz;
  return change;
}

/* What all outputs have in common lies with the microphone; it is told apart and taken off. */
static void take_common_off(CwComparison *comparison)
{
  g_autofree double *level = g_new(double, comparison->n_outputs + 1),
                    *arrival = g_new(double, comparison->n_outputs + 1);
  for (guint i = 0; i < comparison->n_outputs; i++) {
    level[i] = comparison->outputs[i].level_db;
    arrival[i] = comparison->outputs[i].arrival_ms;
  }
  if (comparison->n_outputs >= LEAST_COMMON) {
    comparison->common_db = median(level, comparison->n_outputs);
    comparison->common_ms = median(arrival, comparison->n_outputs);
  }
  for (guint i = 0; i < comparison->n_outputs; i++) {
    comparison->outputs[i].level_db -= isnan(comparison->common_db) ? 0 : comparison->common_db;
    comparison->outputs[i].arrival_ms -= isnan(comparison->common_ms) ? 0 : comparison->common_ms;
  }
}

CwComparison *cw_job_compare(CwProject *project, const char *since, GError **error)
{
  static const CwFieldId compared[] = {CW_VEHICLE_FIELD_REFERENCE,
                                       CW_VEHICLE_FIELD_DESCRIPTION,
                                       CW_VEHICLE_FIELD_DRIVER_SIDE,
                                       CW_VEHICLE_FIELD_SEATS,
                                       CW_VEHICLE_FIELD_POSITIONS_PER_SEAT,
                                       CW_VEHICLE_FIELD_TARGET,
                                       CW_VEHICLE_FIELD_SPEAKERS,
                                       CW_VEHICLE_FIELD_MICROPHONE,
                                       CW_VEHICLE_FIELD_SUPPLY,
                                       CW_VEHICLE_FIELD_AMPLIFIERS,
                                       CW_VEHICLE_FIELD_PROCESSOR,
                                       CW_VEHICLE_FIELD_MAP_PROOFS,
                                       CW_VEHICLE_FIELD_LEVELS,
                                       CW_VEHICLE_FIELD_TUNE,
                                       CW_NO_FIELD};
  CwRecord *now = cw_project_get_vehicle(project);
  g_autoptr(CwRecord) then = cw_project_read_restore_point(project, since, error);
  CwList *speakers = cw_vehicle_get_speakers(now);
  if (!then)
    return NULL;
  CwComparison *comparison = g_new0(CwComparison, 1);
  comparison->since = g_strdup(since);
  comparison->changes = cw_compare_records(then, now, compared);
  comparison->outputs = g_new0(CwOutputChange, cw_list_get_length(speakers) + 1);
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *speaker = cw_list_get(speakers, i);
    Gathered gathered = gather_output(then, now, cw_speaker_get_output(speaker));
    if (gathered.positions + gathered.refused > 0)
      comparison->outputs[comparison->n_outputs++] = describe(&gathered, speaker);
  }
  take_common_off(comparison);
  return comparison;
}

void cw_comparison_free(CwComparison *comparison)
{
  if (!comparison)
    return;
  for (guint i = 0; i < comparison->n_outputs; i++)
    g_free(comparison->outputs[i].name);
  g_free(comparison->outputs);
  g_ptr_array_unref(comparison->changes);
  g_free(comparison->since);
  g_free(comparison);
}
