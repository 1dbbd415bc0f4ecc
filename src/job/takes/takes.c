/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/takes/takes.h"
#include "job/findings/review.h"
#include "job/sheet/microphone.h"
#include "job/takes/feed_record.h"
#include "job/takes/feeds.h"
#include "job/takes/first_sounds.h"
#include "job/takes/positions.h"
#include "job/takes/take_checks.h"
#include <glib/gi18n-lib.h>
#include <math.h>

static char *new_id(CwRecord *vehicle, gint64 output, const char *position)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);

  for (guint n = cw_list_get_length(takes) + 1;; n++) {
    char *id = g_strdup_printf("%u-output-%d-%s", n, (int)output, position);
    if (!cw_list_find_text_at(takes, CW_TAKE_FIELD_ID, id))
      return id;
    g_free(id);
  }
}

/* The fault in words; for noise, with the band in which it is. */
static char *say_fault(CwTakeFault fault, const CwTakeResult *result)
{
  double low_hz, high_hz;
  const char *words = _(cw_take_fault_text(fault));

  if (fault == CW_TAKE_QUIET && cw_job_noisy_band(result, &low_hz, &high_hz))
    return g_strdup_printf(_("%s (noise from %.0f to %.0f Hz)"), words, low_hz, high_hz);
  return g_strdup(words);
}

static void write_reasons(CwRecord *take, const CwTakeResult *result)
{
  g_autoptr(GStrvBuilder) builder = g_strv_builder_new();

  for (unsigned fault = 1; fault <= CW_TAKE_LAST_FAULT; fault <<= 1) {
    g_autofree char *words = result->faults & fault ? say_fault((CwTakeFault)fault, result) : NULL;
    if (words)
      g_strv_builder_add(builder, words);
  }
  g_auto(GStrv) reasons = g_strv_builder_end(builder);
  cw_take_set_reasons(take, (const char *const *)reasons);
}

/* How far above the noise, in third octaves. */
static void write_snr(CwRecord *take, const CwTakeResult *result)
{
  double hz[CW_TAKE_POINTS], db[CW_TAKE_POINTS];
  guint count = 0;

  for (guint i = 0; i < CW_TAKE_POINTS; i += CW_TAKE_POINTS_PER_OCTAVE / 3)
    if (!isnan(result->band_snr_db[i])) {
      hz[count] = result->hz[i];
      db[count++] = CLAMP(result->band_snr_db[i], -100, 200);
    }
  if (count)
    cw_take_take_snr_bands(take, cw_numbers_new_curve(count, hz, db));
}

static void write_curves(CwRecord *take, const CwTakeResult *result)
{
  double rows[3 * CW_TAKE_DISTORTION_POINTS];
  guint count = 0, first = 0, last = CW_TAKE_POINTS;

  while (first < last && isnan(result->db[first]))
    first++;
  while (last > first && isnan(result->db[last - 1]))
    last--;
  cw_take_take_response(take, cw_numbers_new_curve(last - first, result->hz + first, result->db + first));
  for (guint i = 0; i < CW_TAKE_DISTORTION_POINTS; i++) {
    if (isnan(result->second_percent[i]) && isnan(result->third_percent[i]))
      continue;
    rows[3 * count] = result->distortion_hz[i];
    rows[3 * count + 1] = result->second_percent[i];
    rows[3 * count + 2] = result->third_percent[i];
    count++;
  }
  cw_take_take_distortion(take, cw_numbers_new(count, 3, rows));
  if (!isnan(result->rattle_hz)) {
    CwRecord *rattle = cw_take_make_rattle(take);
    cw_rattle_set_hz(rattle, result->rattle_hz);
    cw_rattle_set_db(rattle, result->rattle_db);
  }
}

static CwTakeOutcome *make_outcome(CwRecord *vehicle, gint64 output, const char *position,
                                   CwTakeTiming timing, CwPurpose purpose, double rate_hz,
                                   const CwTakeResult *result)
{
  CwTakeOutcome *outcome = g_new0(CwTakeOutcome, 1);
  CwRecord *take = outcome->take = cw_record_new(cw_take_get_type());
  g_autofree char *id = new_id(vehicle, output, position), *now = cw_now_utc();

  cw_take_set_id(take, id);
  cw_take_set_output(take, output);
  cw_take_set_position(take, position);
  cw_take_set_purpose(take, purpose);
  cw_take_set_timing(take, timing);
  cw_take_set_accepted(take, result->faults == 0);
  write_reasons(take, result);
  cw_take_set_clipped(take, (result->faults & CW_TAKE_CLIPPED) != 0);
  cw_take_set_disturbed(take, (result->faults & CW_TAKE_DISTURBED) != 0);
  cw_take_set_rate_hz(take, rate_hz);
  cw_take_set_made_utc(take, now);
  if (!result->impulse)
    return outcome;
  cw_job_write_edges(take, &result->edges, timing != CW_TIMING_NONE);
  cw_take_set_latency_ms(take, 1e3 * result->latency_seconds);
  if (result->edges.count)
    cw_take_set_polarity(take, result->polarity < 0 ? CW_HEARD_INVERTED : CW_POLARITY_NORMAL);
  cw_take_set_polarity_confidence(take, 0.5 + 0.5 * result->polarity_confidence);
  cw_take_set_level_db_spl(take, result->level_db_spl);
  cw_take_set_snr_db(take, result->snr_db);
  cw_take_set_clock_ppm(take, timing == CW_TIMING_MARKER ? result->player_ppm : NAN);
  write_curves(take, result);
  write_snr(take, result);
  cw_take_set_blob(take, id);
  cw_take_set_blob_start_ms(take, 1e3 * result->impulse_start_seconds);
  outcome->impulse = cw_samples_new(result->impulse_rate_hz, 1, result->impulse_frames, result->impulse);
  return outcome;
}

CwTakeOutcome *cw_job_analyse_take(CwRecord *vehicle, gint64 output, const char *position,
                                   CwTakeTiming timing, CwPurpose purpose, const CwRecording *recording,
                                   GError **error)
{
  CwTakeResult result;
  CwTakeOutcome *outcome;
  double *hz = NULL, *db = NULL;

  if (!cw_job_check_position(vehicle, position, error))
    return NULL;
  g_autoptr(CwRecord) played = cw_job_feed_of(vehicle, output, timing == CW_TIMING_MARKER, error);
  if (!played)
    return NULL;
  if (timing == CW_TIMING_LOOPBACK && recording->channels < 2) {
    g_set_error_literal(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING,
                        "one channel; timing by loopback needs the feed in channel 2");
    return NULL;
  }
  CwSweepFeed feed = cw_feed_read(played);
  CwTakeInput input = {.feed = &feed,
                       .timing = timing,
                       .microphone = recording->channel[0],
                       .loopback = timing == CW_TIMING_LOOPBACK ? recording->channel[1] : NULL,
                       .frames = recording->frames,
                       .rate_hz = recording->rate_hz};
  cw_job_set_microphone(vehicle, &input, &hz, &db);
  cw_take_analyse(&input, &result);
  result.faults |= cw_job_check_take(vehicle, output, position, timing, purpose, &result);
  outcome = make_outcome(vehicle, output, position, timing, purpose, recording->rate_hz, &result);
  cw_take_set_feed(outcome->take, played);
  cw_take_result_clear(&result);
  g_free(hz);
  g_free(db);
  return outcome;
}

void cw_take_outcome_free(CwTakeOutcome *outcome)
{
  if (!outcome)
    return;
  g_clear_object(&outcome->take);
  g_clear_pointer(&outcome->impulse, cw_samples_free);
  g_free(outcome);
}

CwRecord *cw_job_store_take(CwProject *project, CwTakeOutcome *outcome)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  CwList *takes = cw_vehicle_get_takes(vehicle);

  if (cw_list_find_text_at(
          takes, CW_TAKE_FIELD_ID,
          cw_take_get_id(outcome->take))) { /* another take came in while this one was analysed */
    g_autofree char *id =
        new_id(vehicle, cw_take_get_output(outcome->take), cw_take_get_position(outcome->take));
    cw_take_set_id(outcome->take, id);
    if (outcome->impulse)
      cw_take_set_blob(outcome->take, id);
  }
  if (outcome->impulse)
    cw_project_put_samples(project, cw_take_get_blob(outcome->take), outcome->impulse);
  cw_list_append(takes, outcome->take);
  cw_job_find_missing_edges(project,
                            NULL); /* what cannot be read does not keep this take from being stored */
  cw_job_review(vehicle);
  return cw_list_get(takes, cw_list_get_length(takes) - 1);
}
