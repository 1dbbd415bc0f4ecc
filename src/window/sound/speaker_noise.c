/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/sound/speaker_noise.h"

#include "job/takes/feeds.h"
#include "signal/stimulus/noise.h"
#include "window/state/words.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define SECONDS 2.0
#define OCTAVES 2.0 /* above the lowest safe frequency: enough to tell a speaker by */

typedef struct {
  CwSession *session;
  CwSoundDesk *desk;
  float *feed;
} Sounding;

static void on_played(GObject *source, GAsyncResult *result, gpointer data)
{
  Sounding *sounding = data;
  g_autoptr(GError) error = NULL;
  g_autoptr(CwSoundTake) take = cw_sound_client_play_finish(CW_SOUND_CLIENT(source), result, &error);
  cw_sound_desk_set_playing(sounding->desk, NULL);
  cw_session_set_playing(sounding->session, CW_NO_INTEGER);
  if (error && !g_error_matches(error, CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED))
    cw_session_tell(sounding->session, CW_TOLD_FAILED,
                    _("It did not sound: %s. Look at the device, then try again."), error->message);
  g_object_unref(sounding->session);
  g_object_unref(sounding->desk);
  g_free(sounding->feed);
  g_free(sounding);
}

/* Pink noise whose peaks lie at the desk's level. */
static float *render(double low_hz, double rate_hz, double level_dbfs, gsize frames)
{
  CwPinkNoise noise = {.seed = 1,
                       .low_hz = low_hz,
                       .high_hz = fmin(low_hz * exp2(OCTAVES), 0.45 * rate_hz),
                       .rms = 0.1,
                       .most_crest_db = 10};
  g_autofree double *samples = g_new(double, frames);
  float *feed = g_new(float, frames);
  double peak = 0;
  cw_pink_noise_render(&noise, rate_hz, frames, samples);
  for (gsize i = 0; i < frames; i++)
    peak = fmax(peak, fabs(samples[i]));
  for (gsize i = 0; i < frames; i++)
    feed[i] = peak > 0 ? (float)(samples[i] / peak * pow(10, level_dbfs / 20)) : 0;
  return feed;
}

/* Plays the sounding's feed on an output, once or until Stop. */
static void play(Sounding *sounding, gint64 output, double rate_hz, gsize frames, gboolean loop,
                 const char *words)
{
  const CwSoundDevice *device = cw_sound_desk_find_device(sounding->desk);
  CwRecord *speaker = cw_vehicle_find_speaker(cw_session_get_vehicle(sounding->session), output);
  CwSoundJob job;
  cw_sound_job_init(&job);
  job.device = cw_sound_desk_get_device(sounding->desk);
  job.rate_hz = rate_hz;
  job.feed = sounding->feed;
  job.feed_frames = frames;
  job.route.count = job.protect_hz.count = 1;
  job.route.value[0] = !device || output <= device->outputs ? (guint32)(output - 1) : 0;
  job.protect_hz.value[0] = 0.5 * cw_job_lowest_hz(speaker);
  job.limit_dbfs = CW_DESK_LIMIT_DBFS;
  job.rise_ms = 200;
  job.loop = loop;
  job.inputs = device ? MIN(device->inputs, 2) : 2;
  job.heard = TRUE;
  cw_sound_desk_set_playing(sounding->desk, words);
  cw_session_set_playing(sounding->session, output);
  cw_sound_client_play_async(cw_sound_desk_get_client(sounding->desk), &job, NULL, on_played, sounding);
}

static Sounding *new_sounding(CwSession *session, CwSoundDesk *desk, float *feed)
{
  Sounding *sounding = g_new(Sounding, 1);
  *sounding = (Sounding){g_object_ref(session), g_object_ref(desk), feed};
  return sounding;
}

static double rate_of(CwSoundDesk *desk)
{
  const CwSoundDevice *device = cw_sound_desk_find_device(desk);
  return device ? device->rate_hz : 48000;
}

/* Sounds one output for two seconds, at the desk's level. Does nothing while something plays. */
void cw_speaker_noise_play(CwSession *session, CwSoundDesk *desk, gint64 output)
{
  CwRecord *speaker = cw_vehicle_find_speaker(cw_session_get_vehicle(session), output);
  double rate_hz = rate_of(desk);
  gsize frames = (gsize)(SECONDS * rate_hz);
  if (!speaker || cw_sound_desk_get_playing(desk))
    return;
  g_autofree char *name = cw_say_speaker(speaker), *words = g_strdup_printf(_("Noise: %s"), name);
  float *feed = render(cw_job_lowest_hz(speaker), rate_hz, cw_sound_desk_get_level_dbfs(desk), frames);
  play(new_sounding(session, desk, feed), output, rate_hz, frames, FALSE, words);
}

void cw_speaker_noise_search(CwSession *session, CwSoundDesk *desk, gint64 output, double hz)
{
  double rate_hz = rate_of(desk);
  g_autoptr(GError) error = NULL;
  if (cw_sound_desk_get_playing(desk))
    return;
  g_autoptr(CwRecording) tone = cw_job_search_tone(cw_session_get_vehicle(session), output, hz,
                                                   cw_sound_desk_get_level_dbfs(desk), rate_hz, &error);
  if (!tone) {
    cw_session_tell(session, CW_TOLD_FAILED, _("It did not sound: %s."), error->message);
    return;
  }
  g_autofree char *name = cw_say_output(cw_session_get_vehicle(session), output);
  g_autofree char *words = g_strdup_printf(_("%s around %.0f Hz until Stop"), name, hz);
  float *feed = g_new(float, tone->frames);
  for (gsize i = 0; i < tone->frames; i++)
    feed[i] = (float)tone->channel[0][i];
  play(new_sounding(session, desk, feed), output, rate_hz, tone->frames, TRUE, words);
}
