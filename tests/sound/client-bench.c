/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "client-bench.h"

#include <math.h>
#include <string.h>

void client_bench_on_played(GObject *source, GAsyncResult *result, gpointer data)
{
  Heard *heard = data;
  heard->take = cw_sound_client_play_finish(CW_SOUND_CLIENT(source), result, &heard->error);
  heard->done = TRUE;
}

void client_bench_on_done(GObject *source, GAsyncResult *result, gpointer data)
{
  Heard *heard = data;
  cw_sound_client_refresh_finish(CW_SOUND_CLIENT(source), result, &heard->error);
  heard->done = TRUE;
}

static void on_failed(CwSoundClient *client, const char *words, Heard *heard)
{
  g_free(heard->failed);
  heard->failed = g_strdup(words);
}

static void on_levels(CwSoundClient *client, const CwSoundLevels *levels, Heard *heard)
{
  heard->levels++;
  for (guint i = 0; i < levels->output_peak.count; i++)
    heard->output_peak = MAX(heard->output_peak, (float)levels->output_peak.value[i]);
}

static void on_live_block(CwSoundClient *client, const CwAudioChunk *audio, Heard *heard)
{
  heard->live_blocks++;
  heard->live_frames += audio->frames;
  g_assert_cmpuint(audio->channels, ==, 2);
}

CwSoundClient *client_bench_make_client(const char *helper, Heard *heard)
{
  memset(heard, 0, sizeof *heard);
  CwSoundClient *client = cw_sound_client_new(helper);
  g_signal_connect(client, "failed", G_CALLBACK(on_failed), heard);
  g_signal_connect(client, "levels", G_CALLBACK(on_levels), heard);
  g_signal_connect(client, "live-block", G_CALLBACK(on_live_block), heard);
  return client;
}

void client_bench_clear_heard(Heard *heard)
{
  g_clear_pointer(&heard->take, cw_sound_take_free);
  g_clear_error(&heard->error);
  g_clear_pointer(&heard->failed, g_free);
}

/* Runs the loop until the flag is set; fails the test rather than wait for ever. What is given is what an idle
 * machine needs; on a busy one a process alone may take many seconds to start. */
void client_bench_run_until(const gboolean *done, double seconds)
{
  gint64 until_us = g_get_monotonic_time() + (gint64)((10 * seconds + 60) * 1e6);
  while (!*done) {
    g_assert_cmpint(g_get_monotonic_time(), <, until_us);
    g_main_context_iteration(NULL, FALSE);
    g_usleep(500);
  }
}

void client_bench_run_for(double seconds)
{
  gint64 until_us = g_get_monotonic_time() + (gint64)(seconds * 1e6);
  while (g_get_monotonic_time() < until_us) {
    g_main_context_iteration(NULL, FALSE);
    g_usleep(500);
  }
}

float *client_bench_make_tone(gsize frames, double hz, double level)
{
  float *feed = g_new(float, frames);
  for (gsize i = 0; i < frames; i++)
    feed[i] = (float)(level * sin(2 * G_PI * hz * (double)i / RATE_HZ));
  return feed;
}

void client_bench_make_job(CwSoundJob *job, const float *feed, gsize frames, guint32 output)
{
  cw_sound_job_init(job);
  job->rate_hz = RATE_HZ;
  job->block_frames = 256;
  job->feed = feed;
  job->feed_frames = frames;
  job->route = (CwChannelList){1, {output}};
  job->inputs = 2;
}
