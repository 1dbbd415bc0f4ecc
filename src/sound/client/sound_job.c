/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/client/sound_job.h"

void cw_sound_job_init(CwSoundJob *job)
{
  g_return_if_fail(job != NULL);
  *job = (CwSoundJob){.device = CW_SOUND_PRACTICE_DEVICE,
                      .rate_hz = 48000,
                      .block_frames = 512,
                      .limit_dbfs = -6,
                      .rise_ms = 50};
}

guint32 cw_sound_job_outputs(const CwSoundJob *job)
{
  guint32 outputs = job->outputs;
  if (job->feed)
    for (guint32 i = 0; i < job->route.count; i++)
      outputs = MAX(outputs, job->route.value[i] + 1);
  return outputs;
}

void cw_sound_job_copy(CwSoundJob *to, const CwSoundJob *from)
{
  *to = *from;
  to->device = g_strdup(from->device);
  to->input_device = g_strdup(from->input_device ? from->input_device : "");
  if (!from->feed) {
    to->feed_frames = 0;
    to->route.count = to->protect_hz.count = 0;
    to->loop = FALSE;
  }
}

void cw_sound_job_clear(CwSoundJob *job)
{
  g_free((char *)job->device);
  g_free((char *)job->input_device);
  job->device = job->input_device = NULL;
}

static gboolean refuse(GError **error, const char *field, const char *expected)
{
  g_set_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_REQUEST, "Sound job: %s: expected %s", field, expected);
  return FALSE;
}

static gboolean check_feed(const CwSoundJob *job, GError **error)
{
  if (job->route.count < 1 || job->route.count > CW_SOUND_CHANNELS_MOST)
    return refuse(error, "route", "1 to 32 channels");
  for (guint32 i = 0; i < job->route.count; i++)
    if (job->route.value[i] >= CW_SOUND_CHANNELS_MOST)
      return refuse(error, "route", "outputs 0 to 31");
  if (job->feed_frames < 1 || job->feed_frames > CW_SOUND_SAMPLES_MOST / job->route.count)
    return refuse(error, "feed_frames", "1 frame to 32 Mi samples in all");
  if (job->protect_hz.count != 0 && job->protect_hz.count != job->route.count)
    return refuse(error, "protect_hz", "none, or one for each channel of the feed");
  for (guint32 i = 0; i < job->protect_hz.count; i++)
    if (!(job->protect_hz.value[i] >= 0 && job->protect_hz.value[i] < job->rate_hz / 2))
      return refuse(error, "protect_hz", "0 to half the rate");
  if (!(job->gain_db >= -200 && job->gain_db <= 40))
    return refuse(error, "gain_db", "-200 to 40");
  if (!(job->limit_dbfs >= -200 && job->limit_dbfs <= 0))
    return refuse(error, "limit_dbfs", "-200 to 0");
  if (job->rise_ms < 50 || job->rise_ms > 60000)
    return refuse(error, "rise_ms", "50 to 60000");
  return TRUE;
}

gboolean cw_sound_job_check(const CwSoundJob *job, GError **error)
{
  if (!job->device || !*job->device)
    return refuse(error, "device", "a device name");
  if (!(job->rate_hz >= CW_SOUND_RATE_LEAST_HZ && job->rate_hz <= CW_SOUND_RATE_MOST_HZ))
    return refuse(error, "rate_hz", "8000 to 192000");
  if (job->block_frames < 32 || job->block_frames > 8192 ||
      (job->block_frames & (job->block_frames - 1)) != 0)
    return refuse(error, "block_frames", "a power of two from 32 to 8192");
  if (job->inputs > CW_SOUND_CHANNELS_MOST)
    return refuse(error, "inputs", "0 to 32");
  if (job->outputs > CW_SOUND_CHANNELS_MOST)
    return refuse(error, "outputs", "0 to 32");
  if (job->record_frames > 0) {
    if (job->inputs < 1)
      return refuse(error, "inputs", "at least 1 to record");
    if (job->record_frames > CW_SOUND_SAMPLES_MOST / job->inputs)
      return refuse(error, "record_frames", "at most 32 Mi samples in all");
    if (job->feed && job->loop)
      return refuse(error, "record_frames", "0 for a loop");
  }
  return job->feed ? check_feed(job, error) : TRUE;
}

void cw_sound_take_free(CwSoundTake *take)
{
  if (!take)
    return;
  g_free(take->sample);
  g_free(take);
}

gboolean cw_sound_take_is_whole(const CwSoundTake *take, char **reason)
{
  g_return_val_if_fail(take != NULL, FALSE);
  char *words = NULL;
  if (take->xruns > 0)
    words = g_strdup_printf(
        "The sound was interrupted while it played (%u gaps). Use larger blocks, or close other programs.",
        take->xruns);
  else if (take->lost_frames > 0)
    words = g_strdup_printf("%u frames of the recording were lost because the computer was too busy.",
                            take->lost_frames);
  else if (take->limited_samples > 0)
    words = g_strdup_printf("The level limit had to change %u samples of what was played. Play it quieter.",
                            take->limited_samples);
  gboolean whole = words == NULL;
  if (reason)
    *reason = words;
  else
    g_free(words);
  return whole;
}
