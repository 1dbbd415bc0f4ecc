/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/survey/tracks.h"
#include "job/output_file.h"
#include "job/recording.h"
#include "job/survey/tracks_paper.h"
#include "survey/recording/volts_tone.h"
#include "vehicle/json/document.h"
#include "vehicle/project/new_file.h"
#include <errno.h>
#include <glib/gi18n-lib.h>
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

/* What each track holds, how to play it, and what it is for; in the order in which they are taken. */
static const struct {
  int fader, volume;
  const char *says, *why;
} plans[CW_STIMULUS_KINDS] = {
    [CW_STIMULUS_LEADS] =
        {CW_FADER_CENTRE, CW_VOLUME_SURVEY,
         N_("A slow sweep on the left channel, then one on the right, between short bursts"),
         N_("Shows what every lead carries: side, band, response, polarity, delay and all-pass filters")},
    [CW_STIMULUS_FRONT] = {CW_FADER_FRONT, CW_VOLUME_SURVEY,
                           N_("A short sweep on both channels, between short bursts"),
                           N_("Leads that fall silent belong to the rear")},
    [CW_STIMULUS_REAR] = {CW_FADER_REAR, CW_VOLUME_SURVEY,
                          N_("A short sweep on both channels, between short bursts"),
                          N_("Leads that fall silent belong to the front")},
    [CW_STIMULUS_QUIET] = {CW_FADER_CENTRE, CW_VOLUME_QUIET,
                           N_("A sweep on both channels, between short bursts"),
                           N_("Shows whether the radio lifts the bass at low volume")},
    [CW_STIMULUS_LOUD] = {CW_FADER_CENTRE, CW_VOLUME_LOUD,
                          N_("A soft sweep, then three tones that rise to full level, on both channels"),
                          N_("Shows where each lead begins to clip, and the highest clean volume")},
};

static char *numbered_name(int number, const char *word, double rate_hz)
{
  if (rate_hz == CW_TRACKS_RATE_HZ)
    return g_strdup_printf("%d-%s.wav", number, word);
  return g_strdup_printf("%d-%s-%d.wav", number, word, (int)lrint(rate_hz));
}

static char *file_name(CwStimulusKind kind, double rate_hz)
{
  return numbered_name((int)kind + 1, cw_stimulus_name(kind), rate_hz);
}

char *cw_job_volts_track_name(double rate_hz)
{
  return numbered_name(CW_STIMULUS_KINDS + 1, "volts", rate_hz);
}

CwRecord *cw_job_volts_take(double rate_hz)
{
  CwRecord *take = cw_record_new(cw_track_take_get_type());
  g_autofree char *name = cw_job_volts_track_name(rate_hz);

  cw_track_take_set_id(take, "volts");
  cw_track_take_set_track(take, name);
  cw_track_take_set_balance(take, CW_BALANCE_CENTRE);
  cw_track_take_set_fader(take, CW_FADER_CENTRE);
  cw_track_take_set_volume(take, CW_VOLUME_SURVEY);
  return take;
}

gboolean cw_job_read_track_name(const char *file, CwStimulusKind *kind, double *rate_hz, GError **error)
{
  g_autofree char *name = g_path_get_basename(file);

  for (int k = 0; k < CW_STIMULUS_KINDS; k++) {
    const char *at = strstr(name, cw_stimulus_name((CwStimulusKind)k));
    guint64 rate = 0;
    if (!at)
      continue;
    *kind = (CwStimulusKind)k;
    *rate_hz = CW_TRACKS_RATE_HZ;
    at += strlen(cw_stimulus_name((CwStimulusKind)k));
    if (*at == '-') {
      g_autofree char *digits = g_strndup(at + 1, strspn(at + 1, "0123456789"));
      if (g_ascii_string_to_unsigned(digits, 10, 32000, 192000, &rate, NULL))
        *rate_hz = (double)rate;
    }
    return TRUE;
  }
  g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_RECORDING,
              "%s is none of the test tracks (leads, front, rear, quiet, loud)", name);
  return FALSE;
}

CwRecord *cw_job_track_index(double rate_hz)
{
  CwRecord *index = cw_record_new(cw_track_index_get_type());

  for (int k = 0; k < CW_STIMULUS_KINDS; k++) {
    CwStimulus s = cw_stimulus_design((CwStimulusKind)k);
    g_autofree char *file = file_name(s.kind, rate_hz);
    CwRecord *track = cw_track_index_add_to_tracks(index), *take = cw_track_index_add_to_takes(index);
    cw_track_set_file(track, file);
    cw_track_set_seconds(track, s.seconds);
    cw_track_set_says(track, _(plans[k].says));
    cw_track_take_set_id(take, cw_stimulus_name(s.kind));
    cw_track_take_set_track(take, file);
    cw_track_take_set_balance(take, CW_BALANCE_CENTRE);
    cw_track_take_set_fader(take, plans[k].fader);
    cw_track_take_set_volume(take, plans[k].volume);
    cw_track_take_set_why(take, _(plans[k].why));
  }
  g_autofree char *volts = cw_job_volts_track_name(rate_hz);
  CwRecord *track = cw_track_index_add_to_tracks(index);
  cw_track_set_file(track, volts);
  cw_track_set_seconds(track, CW_VOLTS_TONE_SECONDS);
  cw_track_set_says(track,
                    _("A steady tone of 113 Hz on both channels, for one reading of the multimeter; no take "
                      "of the survey"));
  return index;
}

/* The tone for the multimeter, which is none of the takes. */
static void append_volts(GString *text, CwRecord *track)
{
  g_string_append_printf(
      text,
      _("For levels in volts, once, before or after the takes:\n"
        "   %s  (%.0f s, may loop)\n"
        "   %s.\n"
        "   Volume: survey volume. Balance and fader: centre. Recorder's input as for the takes.\n"
        "   Set the multimeter to volts AC, hold it on the two wires of one lead that is being recorded and\n"
        "   that carries the bass, record five seconds, and note what it reads, with three digits, and the\n"
        "   lead: lead ......  reads ............ V\n\n"),
      cw_track_get_file(track), cw_track_get_seconds(track), cw_track_get_says(track));
}

char *cw_job_track_list(CwRecord *index)
{
  static const char *const volumes[] = {N_("survey volume"), N_("highest volume"), N_("low volume")};
  static const char *const faders[] = {N_("full front"), N_("centre"), N_("full rear")};
  GString *text = g_string_new(_(
      "TEST TRACKS FOR THE FACTORY RADIO\n\n"
      "Copy the WAV files to a USB stick or whatever the radio plays without loss. Set tone controls, sound\n"
      "effects and seat setting as the customer has them, balance to the centre, and note the volume steps.\n"
      "Survey volume: about two thirds of the scale. Low volume: a quarter of the scale less.\n"
      "Start the recording, then the track; stop the recording when the track has ended. Do not touch the\n"
      "radio in between. Disconnect the factory speakers at least for the loud track: its tones end at full\n"
      "level. Stop the player after the last take.\n\n"));
  CwList *takes = cw_track_index_get_takes(index), *tracks = cw_track_index_get_tracks(index);

  for (guint i = 0; i < cw_list_get_length(takes); i++) {
    CwRecord *take = cw_list_get(takes, i),
             *track = cw_list_find_text_at(tracks, CW_TRACK_FIELD_FILE, cw_track_take_get_track(take));
    g_string_append_printf(
        text, _("%u  %s  (%.0f s)\n   %s.\n   Volume: %s. Balance: centre. Fader: %s.\n   Why: %s.\n\n"),
        i + 1, cw_track_take_get_track(take), ceil(cw_track_get_seconds(track)), cw_track_get_says(track),
        _(volumes[cw_track_take_get_volume(take)]), _(faders[cw_track_take_get_fader(take)]),
        cw_track_take_get_why(take));
  }
  append_volts(text, cw_list_get(tracks, cw_list_get_length(tracks) - 1));
  return g_string_free(text, FALSE);
}

static gboolean write_text(const char *folder, const char *name, const char *text, CwReplace replace,
                           GError **error)
{
  g_autofree char *path = g_build_filename(folder, name, NULL);

  return cw_job_write_file(path, text, -1, replace, error);
}

static gboolean write_volts(const char *folder, double rate_hz, CwReplace replace, GError **error)
{
  g_autofree char *name = cw_job_volts_track_name(rate_hz), *path = g_build_filename(folder, name, NULL);
  g_autoptr(CwRecording) r = cw_recording_new(rate_hz, 2, (gsize)lrint(CW_VOLTS_TONE_SECONDS * rate_hz));

  cw_volts_tone_render(rate_hz, r->channel[0]);
  memcpy(r->channel[1], r->channel[0], r->frames * sizeof(double));
  return cw_recording_write(r, path, 16, replace, error);
}

static gboolean write_track(const char *folder, CwStimulusKind kind, double rate_hz, CwReplace replace,
                            GError **error)
{
  CwStimulus s = cw_stimulus_design(kind);
  g_autofree char *name = file_name(kind, rate_hz), *path = g_build_filename(folder, name, NULL);
  g_autoptr(CwRecording) r = cw_recording_new(rate_hz, 2, cw_stimulus_frames(&s, rate_hz));

  cw_stimulus_render(&s, rate_hz, r->channel[0], r->channel[1]);
  return cw_recording_write(r, path, 16, replace, error);
}

gboolean cw_job_write_tracks(const char *folder, double rate_hz, CwReplace replace, GError **error)
{
  if (rate_hz != 44100 && rate_hz != 48000 && rate_hz != 88200 && rate_hz != 96000) {
    g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_FILE, "rate: %g is not 44100, 48000, 88200 or 96000",
                rate_hz);
    return FALSE;
  }
  if (g_mkdir_with_parents(folder, 0777) != 0) {
    g_set_error(error, CW_JOB_ERROR, CW_JOB_ERROR_FILE, "%s: cannot be made: %s", folder, g_strerror(errno));
    return FALSE;
  }
  for (int k = 0; k < CW_STIMULUS_KINDS; k++)
    if (!write_track(folder, (CwStimulusKind)k, rate_hz, replace, error))
      return FALSE;
  if (!write_volts(folder, rate_hz, replace, error))
    return FALSE;
  g_autoptr(CwRecord) index = cw_job_track_index(rate_hz);
  g_autofree char *json = cw_record_to_indented_json(index), *list = cw_job_track_list(index);
  g_autoptr(GBytes) paper = cw_job_track_paper(index, g_get_real_time() / G_USEC_PER_SEC, error);
  if (!paper || !write_text(folder, "tracks.json", json, replace, error) ||
      !write_text(folder, "tracks.txt", list, replace, error))
    return FALSE;
  g_autofree char *path = g_build_filename(folder, "tracks.pdf", NULL);
  return cw_job_write_file(path, g_bytes_get_data(paper, NULL), (gssize)g_bytes_get_size(paper), replace,
                           error);
}
