/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/practice/practice_radio.h"
#include "job/practice/practice_car.h"
#include "job/survey/survey.h"
#include "job/survey/tracks.h"
#include "job/survey/volts.h"
#include <glib/gi18n-lib.h>
#include <json-glib/json-glib.h>
#include <math.h>

#define RATE_HZ 48000.0 /* of the interface */
#define START_SECONDS 1.1
#define AFTER_SECONDS 0.9
#define TONE_SECONDS 4.0 /* of the volts track, which lasts longer */

static const CwPracticeRadio *radio_of(CwRecord *vehicle, GError **error)
{
  const char *car = cw_job_practice_car(vehicle, error);
  return car ? cw_practice_radio_of(car) : NULL;
}

guint cw_job_practice_radio_leads(CwRecord *vehicle)
{
  const CwPracticeRadio *radio = radio_of(vehicle, NULL);
  return radio ? radio->leads : 0;
}

static int step_of(const CwPracticeRadio *radio, CwRecord *take)
{
  int volume = cw_track_take_get_volume(take);
  return volume == CW_VOLUME_LOUD    ? radio->loud_step
         : volume == CW_VOLUME_QUIET ? radio->quiet_step
                                     : radio->survey_step;
}

gint64 cw_job_practice_radio_step(CwRecord *vehicle, CwRecord *take)
{
  const CwPracticeRadio *radio = radio_of(vehicle, NULL);
  return radio ? step_of(radio, take) : CW_NO_INTEGER;
}

/* -1, 0 or 1 of the words left, centre, right or front, centre, rear. */
static double turned(int choice)
{
  return choice - 1;
}

static gboolean check_leads(const CwPracticeRadio *radio, const int *leads, guint n_leads, GError **error)
{
  for (guint i = 0; i < n_leads; i++)
    if (leads[i] < 1 || leads[i] > (int)radio->leads) {
      g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_VEHICLE,
                  "the practice radio has leads 1 to %u, and no lead %d", radio->leads, leads[i]);
      return FALSE;
    }
  return TRUE;
}

static void add_radio(JsonBuilder *json, const CwPracticeRadio *radio, CwRecord *take, const char *track_path,
                      const char *seat_setting, const int *leads, guint n_leads)
{
  json_builder_begin_object(json_builder_set_member_name(json, "radio"));
  json_builder_add_string_value(json_builder_set_member_name(json, "track"), track_path);
  json_builder_add_int_value(json_builder_set_member_name(json, "volume_step"), step_of(radio, take));
  json_builder_add_double_value(json_builder_set_member_name(json, "balance"),
                                turned(cw_track_take_get_balance(take)));
  json_builder_add_double_value(json_builder_set_member_name(json, "fader"),
                                turned(cw_track_take_get_fader(take)));
  json_builder_add_string_value(json_builder_set_member_name(json, "seat_setting"),
                                seat_setting ? seat_setting : "all");
  json_builder_begin_array(json_builder_set_member_name(json, "leads"));
  for (guint i = 0; i < n_leads; i++)
    json_builder_add_int_value(json, leads[i]);
  json_builder_end_array(json);
  json_builder_end_object(json);
}

char *cw_job_practice_radio_setup(CwRecord *vehicle, CwRecord *take, const char *track_path,
                                  const char *seat_setting, const int *leads, guint n_leads, GError **error)
{
  const CwPracticeRadio *radio = radio_of(vehicle, error);

  if (!radio || !check_leads(radio, leads, n_leads, error))
    return NULL;
  g_autoptr(JsonBuilder) json = json_builder_new();
  json_builder_begin_object(json);
  json_builder_add_string_value(json_builder_set_member_name(json, "car"), radio->car);
  add_radio(json, radio, take, track_path, seat_setting, leads, n_leads);
  json_builder_end_object(json);
  JsonNode *root = json_builder_get_root(json);
  char *text = json_to_string(root, FALSE);
  json_node_unref(root);
  return text;
}

/* What the interface records of a track that plays as the take says, which this takes over. */
static CwRecording *record(const CwPracticeRadio *radio, CwRecord *take, CwPracticeRadioPlay play,
                           double *left, double *right, const int *leads, guint n_leads)
{
  double seconds = (double)play.track_frames / play.track_rate_hz;
  CwRecording *r =
      cw_recording_new(RATE_HZ, n_leads, (gsize)((START_SECONDS + seconds + AFTER_SECONDS) * RATE_HZ));

  play.track[0] = left;
  play.track[1] = right;
  play.volume_step = step_of(radio, take);
  play.balance = turned(cw_track_take_get_balance(take));
  play.fader = turned(cw_track_take_get_fader(take));
  play.start_seconds = START_SECONDS;
  for (guint i = 0; i < n_leads; i++)
    cw_practice_radio_record(radio, &play, (guint)leads[i], RATE_HZ, r->frames, r->channel[i]);
  g_free(left);
  g_free(right);
  return r;
}

CwRecording *cw_job_practice_radio_record(CwRecord *vehicle, CwRecord *take, const char *seat_setting,
                                          const int *leads, guint n_leads, guint64 seed, GError **error)
{
  const CwPracticeRadio *radio = radio_of(vehicle, error);
  CwStimulusKind kind;
  double rate_hz;

  if (!radio || !check_leads(radio, leads, n_leads, error) ||
      !cw_job_read_track_name(cw_track_take_get_track(take), &kind, &rate_hz, error))
    return NULL;
  CwStimulus s = cw_stimulus_design(kind);
  gsize frames = cw_stimulus_frames(&s, rate_hz);
  double *left = g_new0(double, frames), *right = g_new0(double, frames);
  cw_stimulus_render(&s, rate_hz, left, right);
  CwPracticeRadioPlay play = {.track_frames = frames,
                              .track_rate_hz = rate_hz,
                              .seat_set = seat_setting && !g_str_equal(seat_setting, "all"),
                              .seed = seed};
  return record(radio, take, play, left, right, leads, n_leads);
}

/* What a multimeter shows of the middle of a recording: the effective value, in whole millivolts. */
static double read_meter(const CwRecording *r, double volts_per_full_scale)
{
  gsize from = r->frames / 3, to = r->frames * 2 / 3;
  double power = 0;

  for (gsize i = from; i < to; i++)
    power += r->channel[0][i] * r->channel[0][i] / (double)(to - from);
  return rint(1000 * volts_per_full_scale * sqrt(power)) / 1000;
}

CwRecording *cw_job_practice_tone(CwRecord *vehicle, int lead, guint64 seed, double *meter_v, GError **error)
{
  const CwPracticeRadio *radio = radio_of(vehicle, error);
  gsize whole = (gsize)lrint(CW_VOLTS_TONE_SECONDS * CW_TRACKS_RATE_HZ),
        frames = (gsize)lrint(TONE_SECONDS * CW_TRACKS_RATE_HZ);

  if (!radio || !check_leads(radio, &lead, 1, error))
    return NULL;
  double *left = g_new(double, whole);
  cw_volts_tone_render(CW_TRACKS_RATE_HZ, left);
  double *right = g_memdup2(left, whole * sizeof *left);
  g_autoptr(CwRecord) take = cw_job_volts_take(CW_TRACKS_RATE_HZ);
  CwPracticeRadioPlay play = {.track_frames = frames, .track_rate_hz = CW_TRACKS_RATE_HZ, .seed = seed};
  CwRecording *r = record(radio, take, play, left, right, &lead, 1);
  *meter_v = read_meter(r, CW_PRACTICE_VOLTS_PER_FULL_SCALE);
  return r;
}

/* The multimeter on the first lead that carries the tone. */
static gboolean read_volts(CwRecord *vehicle, guint leads, GError **error)
{
  for (guint lead = 1; lead <= leads; lead++) {
    double meter_v;
    g_clear_error(error);
    g_autoptr(CwRecording) tone = cw_job_practice_tone(vehicle, (int)lead, 50 + lead, &meter_v, error);
    if (tone && cw_job_read_volts(vehicle, tone, 0, meter_v, lead, NULL, error))
      return TRUE;
  }
  return FALSE;
}

/* Records and hears one take. */
static gboolean hear_take(CwSurveyWork *work, CwRecord *vehicle, CwRecord *take, const int *leads,
                          guint n_leads, guint64 seed, GError **error)
{
  CwStimulusKind kind;
  double rate_hz;
  g_autoptr(CwRecording) r = cw_job_practice_radio_record(vehicle, take, "all", leads, n_leads, seed, error);

  if (!r || !cw_job_read_track_name(cw_track_take_get_track(take), &kind, &rate_hz, error))
    return FALSE;
  g_autofree char *wrong =
      cw_survey_work_hear(work, kind, leads, n_leads, cw_job_practice_radio_step(vehicle, take), "all", r);
  if (!wrong)
    return TRUE;
  g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING, "practice radio, take %s: %s",
              cw_track_take_get_id(take), wrong);
  return FALSE;
}

gboolean cw_job_practice_survey(CwProject *project, GCancellable *cancellable, CwProgress progress,
                                gpointer data, GError **error)
{
  CwRecord *vehicle = cw_project_get_vehicle(project);
  guint n_leads = cw_job_practice_radio_leads(vehicle);
  g_autoptr(CwRecord) index = cw_job_track_index(CW_TRACKS_RATE_HZ);
  CwList *takes = cw_track_index_get_takes(index);
  int leads[CW_PRACTICE_LEADS_MOST];

  if (n_leads == 0)
    return TRUE;
  for (guint i = 0; i < n_leads; i++)
    leads[i] = (int)i + 1;
  if (!read_volts(vehicle, n_leads, error))
    return FALSE;
  g_autoptr(CwSurveyWork) work = cw_survey_work_new_live(vehicle, cw_job_volts_at_full_scale(vehicle));
  for (guint t = 0; t < cw_list_get_length(takes); t++) {
    if (g_cancellable_set_error_if_cancelled(cancellable, error))
      return FALSE;
    if (progress)
      progress((double)t / cw_list_get_length(takes), _("Listening to the factory radio"), data);
    if (!hear_take(work, vehicle, cw_list_get(takes, t), leads, n_leads, t, error))
      return FALSE;
  }
  if (!cw_survey_work_conclude(work, error))
    return FALSE;
  cw_survey_work_store(work, project);
  return cw_project_commit(project, _("Survey of the factory signal"), error);
}
