/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/takes/feeds.h"
#include "job/takes/feed_record.h"
#include "measuring/search_tone.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define WANTED_SNR_DB 30.0 /* from here on level and arrival are as good as they get */
#define CLIPPED_STEP_DB 6.0

/* Common practice, no source: what a driver of each kind bears when nothing is known of it. */
static double guess_by_way(CwWay way)
{
  switch (way) {
  case CW_WAY_HIGH:
    return 3500;
  case CW_WAY_MID:
    return 350;
  case CW_WAY_SUB:
    return 25;
  case CW_WAY_LOW:
  case CW_WAY_FULL:
  default:
    return 80;
  }
}

double cw_job_lowest_hz(CwRecord *speaker)
{
  double lowest = cw_speaker_get_lowest_hz(speaker), resonance = cw_speaker_get_fs_hz(speaker);

  if (!isnan(lowest))
    return lowest;
  return fmax(guess_by_way(cw_speaker_get_way(speaker)), isnan(resonance) ? 0 : 1.5 * resonance);
}

static CwRecord *speaker_of(CwRecord *vehicle, gint64 output, const char *what, GError **error)
{
  CwRecord *speaker = cw_vehicle_find_speaker(vehicle, output);
  if (!speaker)
    cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "%s: the vehicle has no speaker on output %d", what,
                  (int)output);
  return speaker;
}

static double processor_rate(CwRecord *vehicle)
{
  return cw_processor_get_sample_rate_hz(cw_vehicle_get_processor(vehicle));
}

gint64 cw_job_choose_marker(CwRecord *vehicle, gint64 output)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  static const CwWay ways[] = {CW_WAY_HIGH, CW_WAY_FULL, CW_WAY_MID, CW_WAY_LOW};

  for (guint w = 0; w < G_N_ELEMENTS(ways); w++)
    for (guint i = 0; i < cw_list_get_length(speakers); i++) {
      CwRecord *speaker = cw_list_get(speakers, i);
      if (cw_speaker_get_way(speaker) == ways[w] && cw_speaker_get_output(speaker) != output)
        return cw_speaker_get_output(speaker);
    }
  return 0;
}

static CwRecord *noted_feed(CwRecord *vehicle, gint64 output)
{
  return cw_list_find_integer_at(cw_vehicle_get_feeds(vehicle), CW_FEED_FIELD_OUTPUT, output);
}

static gboolean plan_feed(CwRecord *vehicle, gint64 output, gint64 marker_output, double level_dbfs,
                          guint repeats, GError **error)
{
  CwRecord *speaker = speaker_of(vehicle, output, "output", error), *marker = NULL, *noted;
  double rate_hz = processor_rate(vehicle);
  CwSweepFeed feed;

  if (!speaker || (marker_output && !(marker = speaker_of(vehicle, marker_output, "marker", error))))
    return FALSE;
  if (marker_output == output)
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE,
                         "marker: output %d cannot mark its own sweep; name another", (int)output);
  if (!(level_dbfs >= -80 && level_dbfs <= -1))
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "level: %g dBFS is not between -80 and -1", level_dbfs);
  feed = cw_repeated_feed_design(cw_job_lowest_hz(speaker), rate_hz, level_dbfs,
                                 marker ? cw_job_lowest_hz(marker) : 0, repeats);
  if (!(noted = noted_feed(vehicle, output))) {
    noted = cw_vehicle_add_to_feeds(vehicle);
    cw_feed_set_output(noted, output);
  }
  cw_feed_write(noted, &feed, rate_hz, level_dbfs);
  cw_feed_set_marker_output(noted, marker ? marker_output : CW_NO_INTEGER);
  return TRUE;
}

gboolean cw_job_plan_feed(CwRecord *vehicle, gint64 output, gint64 marker_output, double level_dbfs,
                          GError **error)
{
  return plan_feed(vehicle, output, marker_output, level_dbfs, 1, error);
}

gboolean cw_job_plan_repeated_feed(CwRecord *vehicle, gint64 output, gint64 marker_output, double level_dbfs,
                                   guint repeats, GError **error)
{
  if (repeats < 1 || repeats > CW_FEED_REPEATS_MOST)
    return cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "repeats: %u is not between 1 and %d", repeats,
                         CW_FEED_REPEATS_MOST);
  return plan_feed(vehicle, output, marker_output, level_dbfs, repeats, error);
}

CwRecord *cw_job_feed_of(CwRecord *vehicle, gint64 output, gboolean with_marker, GError **error)
{
  CwRecord *speaker = speaker_of(vehicle, output, "output", error), *noted = noted_feed(vehicle, output);

  if (!speaker)
    return NULL;
  if (noted && cw_feed_is_whole(noted)) {
    if (!with_marker || cw_feed_has_marker_low_hz(noted))
      return cw_record_copy(noted);
    cw_job_refuse(error, CW_JOB_ERROR_VEHICLE,
                  "output %d: its feed was made without a marker; make one with a marker and record that",
                  (int)output);
    return NULL;
  }
  if (with_marker) {
    cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "output %d: no feed with a marker has been made for it yet",
                  (int)output);
    return NULL;
  }
  double rate_hz = processor_rate(vehicle);
  CwSweepFeed plain = cw_sweep_feed_design(cw_job_lowest_hz(speaker), rate_hz, CW_FEED_LEVEL_DBFS, 0);
  CwRecord *feed = cw_record_new(cw_feed_get_type());
  cw_feed_set_output(feed, output);
  cw_feed_write(feed, &plain, rate_hz, CW_FEED_LEVEL_DBFS);
  return feed;
}

gboolean cw_job_read_feed(CwRecord *vehicle, gint64 output, gboolean with_marker, CwSweepFeed *feed,
                          double *rate_hz, GError **error)
{
  g_autoptr(CwRecord) record = cw_job_feed_of(vehicle, output, with_marker, error);

  if (!record)
    return FALSE;
  *feed = cw_feed_read(record);
  *rate_hz = cw_feed_get_rate_hz(record);
  return TRUE;
}

CwRecord *cw_job_feed_of_take(CwRecord *vehicle, CwRecord *take)
{
  return cw_take_has_feed(take) ? cw_take_get_feed(take) : noted_feed(vehicle, cw_take_get_output(take));
}

CwRecording *cw_job_render_feed(const CwSweepFeed *feed, double rate_hz)
{
  CwRecording *r = cw_recording_new(rate_hz, feed->has_marker ? 2 : 1, cw_sweep_feed_frames(feed, rate_hz));
  cw_sweep_feed_render(feed, rate_hz, r->channel[0], feed->has_marker ? r->channel[1] : NULL);
  return r;
}

/* The output's last take, accepted or not. */
static CwRecord *last_take(CwRecord *vehicle, gint64 output)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);

  for (guint i = cw_list_get_length(takes); i-- > 0;)
    if (cw_take_get_output(cw_list_get(takes, i)) == output)
      return cw_list_get(takes, i);
  return NULL;
}

char *cw_job_plan_next_feed(CwRecord *vehicle, gint64 output, double most_dbfs, GError **error)
{
  CwRecord *take = last_take(vehicle, output), *record = noted_feed(vehicle, output);
  double level = record ? cw_feed_get_level_dbfs(record) : CW_FEED_LEVEL_DBFS,
         snr = take ? cw_take_get_snr_db(take) : NAN, chosen = level;
  guint repeats = 1, had = record ? (guint)cw_feed_get_repeats(record) : 1;
  gint64 marker =
      record && cw_feed_get_marker_output(record) != CW_NO_INTEGER ? cw_feed_get_marker_output(record) : 0;

  if (take && cw_take_get_clipped(take)) {
    chosen = fmax(level - CLIPPED_STEP_DB, -60);
    repeats = had;
  } else if (!isnan(snr) && snr < WANTED_SNR_DB) {
    double lacking = WANTED_SNR_DB - snr + 10 * log10(had); /* of one sweep alone */
    chosen = fmax(level, fmin(level + ceil(lacking), most_dbfs));
    lacking -= chosen - level;
    while (lacking > 0.5 && repeats < CW_FEED_REPEATS_MOST) {
      repeats *= 2;
      lacking -= 10 * log10(2);
    }
  } else {
    repeats = had;
  }
  if (!plan_feed(vehicle, output, marker, chosen, repeats, error))
    return NULL;
  if (chosen == level && repeats == had)
    return g_strdup_printf(_("%.0f dBFS, as before"), chosen);
  if (chosen < level)
    return g_strdup_printf(_("%.0f dBFS: the last take was clipped"), chosen);
  return g_strdup_printf(ngettext("%.0f dBFS, %u sweep: the last take stood %.0f dB above the noise",
                                  "%.0f dBFS, %u sweeps: the last take stood %.0f dB above the noise",
                                  repeats),
                         chosen, repeats, snr);
}

CwRecording *cw_job_search_tone(CwRecord *vehicle, gint64 output, double hz, double level_dbfs,
                                double rate_hz, GError **error)
{
  CwRecord *speaker = speaker_of(vehicle, output, "output", error);

  if (!speaker)
    return NULL;
  if (!(hz >= CW_SEARCH_LOW_HZ && hz <= CW_SEARCH_HIGH_HZ) || !(level_dbfs >= -80 && level_dbfs <= -1)) {
    cw_job_refuse(error, CW_JOB_ERROR_VEHICLE, "search: 20 to 2000 Hz and -80 to -1 dBFS were expected");
    return NULL;
  }
  CwSearchTone tone = cw_search_tone_design(hz, cw_job_lowest_hz(speaker), level_dbfs);
  CwRecording *recording = cw_recording_new(rate_hz, 1, cw_search_tone_frames(&tone, rate_hz));
  cw_search_tone_render(&tone, rate_hz, recording->channel[0]);
  return recording;
}
