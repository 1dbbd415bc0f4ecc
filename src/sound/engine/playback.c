/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/engine/playback.h"

#include <math.h>
#include <string.h>

CwPlayback *cw_playback_new(const CwMessagePlay *asked, double rate_hz, guint32 outputs, GError **error)
{
  g_return_val_if_fail(asked != NULL && rate_hz > 0, NULL);
  if (asked->feed_frames > 0 && (asked->route.count < 1 || asked->protect_hz.count != asked->route.count ||
                                 asked->feed_frames > CW_SOUND_SAMPLES_MOST / asked->route.count)) {
    g_set_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_REQUEST,
                "Play: expected a route and a protection for each channel");
    return NULL;
  }
  for (guint32 i = 0; asked->feed_frames > 0 && i < asked->route.count; i++)
    if (asked->route.value[i] >= outputs) {
      g_set_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_REQUEST, "Play: route: output %u, expected below %u",
                  asked->route.value[i], outputs);
      return NULL;
    }

  CwPlayback *playback = g_new0(CwPlayback, 1);
  playback->asked = *asked;
  playback->rate_hz = rate_hz;
  playback->channels = asked->feed_frames > 0 ? asked->route.count : 0;
  playback->feed = g_try_new0(float, MAX(1, (gsize)asked->feed_frames * playback->channels));
  if (!playback->feed) {
    g_set_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_REQUEST,
                "Play: not enough memory for a feed of %u frames", asked->feed_frames);
    g_free(playback);
    return NULL;
  }
  playback->gain = (float)pow(10, asked->gain_db / 20);
  playback->limit = (float)pow(10, asked->limit_dbfs / 20);
  playback->rise_frames = (guint32)(MAX(asked->rise_ms, 50) * rate_hz / 1000);
  playback->fade_frames = (guint32)(CW_PLAYBACK_STOP_FADE_MS * rate_hz / 1000);
  for (guint32 i = 0; i < playback->channels; i++)
    if (asked->protect_hz.value[i] > 0)
      playback->sections[i] = cw_crossover_design(
          CW_FILTER_BUTTERWORTH, CW_HIGH_PASS, CW_PLAYBACK_PROTECT_ORDER,
          MIN(asked->protect_hz.value[i], rate_hz * 0.45), rate_hz, playback->protect[i], NULL);
  return playback;
}

void cw_playback_free(CwPlayback *playback)
{
  if (!playback)
    return;
  g_free(playback->feed);
  g_free(playback);
}

gboolean cw_playback_load(CwPlayback *playback, const CwAudioChunk *chunk, GError **error)
{
  g_return_val_if_fail(playback != NULL && chunk != NULL, FALSE);
  if (chunk->channels != playback->channels || chunk->first_frame != playback->loaded_frames ||
      chunk->frames > playback->asked.feed_frames - playback->loaded_frames) {
    g_set_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_REQUEST, "Feed: frame %u does not follow on frame %u",
                chunk->first_frame, playback->loaded_frames);
    return FALSE;
  }
  memcpy(playback->feed + (gsize)playback->loaded_frames * playback->channels, chunk->sample,
         (gsize)chunk->frames * chunk->channels * sizeof(float));
  playback->loaded_frames += chunk->frames;
  return TRUE;
}

gboolean cw_playback_is_loaded(const CwPlayback *playback)
{
  return playback->loaded_frames == playback->asked.feed_frames;
}

gboolean cw_playback_check_level(const CwPlayback *playback, GError **error)
{
  float peak = 0;
  gsize samples = (gsize)playback->loaded_frames * playback->channels;
  for (gsize i = 0; i < samples; i++)
    peak = MAX(peak, fabsf(playback->feed[i]));
  peak *= playback->gain;
  if (peak <= playback->limit * 1.0001f)
    return TRUE;
  g_set_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_REQUEST,
              "The sound would peak at %.1f dBFS, above the level limit of %.1f dBFS.", 20 * log10(peak),
              playback->asked.limit_dbfs);
  return FALSE;
}

/* Raised cosine from 0 at 0 to 1 at `length`. */
static double ease(double at, double length)
{
  return at >= length ? 1 : 0.5 - 0.5 * cos(G_PI * at / length);
}

/* What the fades leave of frame `position`, counted from the start of the play. */
static double fade_at(const CwPlayback *playback, guint64 position)
{
  double fade = ease((double)position + 1, playback->rise_frames);
  if (!playback->asked.loop)
    fade = MIN(fade, ease((double)(playback->asked.feed_frames - 1 - position), playback->fade_frames));
  return fade;
}

/* One channel of the feed through gain and protection into scratch; returns how many frames there are. */
static guint32 render_channel(CwPlayback *playback, guint32 channel, guint32 frames, double *scratch)
{
  guint64 at = playback->position_frames, length = playback->asked.feed_frames;
  guint32 count =
      playback->asked.loop ? frames : (guint32)MIN((guint64)frames, at < length ? length - at : 0);
  guint64 in_feed = playback->asked.loop ? at % length : at;
  const float *feed = playback->feed + channel;
  for (guint32 i = 0; i < count; i++) {
    scratch[i] = feed[in_feed * playback->channels] * playback->gain;
    if (++in_feed == length)
      in_feed = 0;
  }
  if (playback->sections[channel] > 0)
    cw_cascade_run_stream(playback->protect[channel], playback->sections[channel],
                          playback->protect_state[channel], scratch, count);
  return count;
}

static double closing_at(const CwPlayback *playback, guint32 frame)
{
  if (!playback->closing)
    return 1;
  return frame < playback->closing_frames ? ease(playback->closing_frames - 1 - frame, playback->fade_frames)
                                          : 0;
}

/* Nothing above the limit leaves, whatever routes and filters have made of the feed. */
static void limit(CwPlayback *playback, float *output, guint32 outputs, guint32 frames)
{
  for (gsize i = 0; i < (gsize)frames * outputs; i++) {
    if (!(fabsf(output[i]) <= playback->limit)) {
      output[i] = isnan(output[i]) ? 0 : copysignf(playback->limit, output[i]);
      playback->limited_samples++;
    }
  }
}

void cw_playback_render(CwPlayback *playback, float *output, guint32 outputs, guint32 frames, double *scratch)
{
  for (guint32 channel = 0; channel < playback->channels; channel++) {
    guint32 count = render_channel(playback, channel, frames, scratch);
    float *out = output + playback->asked.route.value[channel];
    for (guint32 i = 0; i < count; i++) {
      double fade = fade_at(playback, playback->position_frames + i) * closing_at(playback, i);
      out[(gsize)i * outputs] += (float)(scratch[i] * fade);
    }
  }
  limit(playback, output, outputs, frames);
  playback->closing_frames -= MIN(playback->closing_frames, frames);
  playback->position_frames += frames;
}

void cw_playback_close(CwPlayback *playback, CwSoundEnding ending)
{
  if (playback->closing)
    return;
  playback->closing = TRUE;
  playback->ending = ending;
  playback->closing_frames = playback->fade_frames;
}

gboolean cw_playback_is_over(const CwPlayback *playback)
{
  if (playback->closing && playback->closing_frames == 0)
    return TRUE;
  return !playback->asked.loop && playback->position_frames >= playback->asked.feed_frames &&
         playback->position_frames >= playback->asked.record_frames;
}
