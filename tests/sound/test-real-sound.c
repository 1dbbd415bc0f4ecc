/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The real helper over a real sound system: run by pulse-bench.sh, whose device is a wire. What is played
 * comes back, late by a whole number of frames and otherwise the same. */
#include "signal/fft.h"
#include "sound/client/client.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

enum { FRAMES = 33600, SILENT = 4800, RECORDED = FRAMES + 19200 };

/* Noise between two silences, the same at every run. */
static float *make_feed(void)
{
  float *feed = g_new0(float, FRAMES);
  guint32 word = 1;
  for (int i = SILENT; i < FRAMES - SILENT; i++) {
    word = word * 1664525u + 1013904223u;
    feed[i] = 0.25f * ((float)(word >> 8) / 8388608.0f - 1.0f);
  }
  return feed;
}

/* By how many frames channel 0 of the take is later than the feed: the highest place of their correlation. */
static int find_delay(const float *feed, const CwSoundTake *take)
{
  gsize size = cw_fft_good_length(FRAMES + RECORDED), bins = size / 2 + 1;
  const CwFft *fft = cw_fft_get(size);
  double *a = cw_alloc_real(size), *b = cw_alloc_real(size);
  CwComplex *spectrum_a = cw_alloc_complex(bins), *spectrum_b = cw_alloc_complex(bins);
  for (gsize i = 0; i < FRAMES; i++)
    a[i] = feed[i];
  for (gsize i = 0; i < take->frames; i++)
    b[i] = take->sample[i * take->channels];
  cw_fft_forward(fft, a, spectrum_a);
  cw_fft_forward(fft, b, spectrum_b);
  for (gsize k = 0; k < bins; k++)
    spectrum_b[k] *= conj(spectrum_a[k]);
  cw_fft_inverse(fft, spectrum_b, b);
  int best = 0;
  for (int i = 1; i < RECORDED - FRAMES; i++)
    if (fabs(b[i]) > fabs(b[best]))
      best = i;
  cw_free(a);
  cw_free(b);
  cw_free(spectrum_a);
  cw_free(spectrum_b);
  return best;
}

static void make_job(CwSoundJob *job, const float *feed)
{
  cw_sound_job_init(job);
  job->device = g_getenv("BENCH_DEVICE");
  job->input_device = g_getenv("BENCH_INPUT_DEVICE");
  job->rate_hz = g_ascii_strtod(g_getenv("BENCH_RATE_HZ"), NULL);
  job->block_frames = 2048;
  job->feed = feed;
  job->feed_frames = FRAMES;
  job->inputs = 2;
  job->record_frames = RECORDED;
  job->outputs = 2;
}

/* Whether channel `output` of the take is the feed times gain, delay_frames late, and the other channel
 * silent. The wire carries 32-bit floats. */
static gboolean is_same(const CwSoundTake *take, const float *feed, guint32 output, double gain,
                        int *delay_frames)
{
  CwSoundTake routed = *take;
  routed.sample += output;
  *delay_frames = find_delay(feed, &routed);
  double most = 0, other = 0;
  for (int i = SILENT; i < FRAMES - SILENT; i++) {
    most = MAX(most, fabs(take->sample[2 * (i + *delay_frames) + output] - gain * feed[i]));
    other = MAX(other, fabs(take->sample[2 * (i + *delay_frames) + 1 - output]));
  }
  return most < 1e-6 && other < 1e-6;
}

/* Plays until a take comes back right. On a busy machine the sound server itself drops or repeats samples,
 * now and then without saying so to anyone; what passes here once in ten times is the helper's doing, what
 * fails ten times is its fault. */
static void play_until_same(CwSoundClient *client, const CwSoundJob *job, double gain)
{
  for (int turn = 0; turn < 10; turn++) {
    GError *error = NULL;
    char *reason = NULL;
    CwSoundTake *take = cw_sound_play_and_record(client, job, &error);
    g_assert_no_error(error);
    g_assert_cmpfloat(take->rate_hz, ==, job->rate_hz);
    int delay_frames = 0;
    gboolean whole = cw_sound_take_is_whole(take, &reason), same = FALSE;
    if (whole) {
      g_assert_cmpuint(take->frames, ==, RECORDED);
      same = is_same(take, job->feed, job->route.value[0], gain, &delay_frames);
    }
    g_test_message("output %u, try %d: %s, %.1f ms", job->route.value[0] + 1, turn + 1,
                   same    ? "the same"
                   : whole ? "not the same"
                           : reason,
                   delay_frames * 1000 / job->rate_hz);
    g_free(reason);
    cw_sound_take_free(take);
    if (same)
      return;
  }
  g_assert_not_reached();
}

static void test_listed(void)
{
  CwSoundClient *client = cw_sound_client_new(SOUND_HELPER);
  gboolean done = FALSE;
  g_signal_connect_swapped(client, "devices-changed", G_CALLBACK(g_atomic_int_inc), &done);
  cw_sound_client_refresh_async(client, NULL, NULL, NULL);
  gint64 until_us = g_get_monotonic_time() + 100 * G_USEC_PER_SEC;
  while (!done && g_get_monotonic_time() < until_us) {
    g_main_context_iteration(NULL, FALSE);
    g_usleep(1000);
  }
  guint count, found = 0;
  const CwSoundDevice *device = cw_sound_client_get_devices(client, &count);
  for (guint i = 0; i < count; i++) {
    g_test_message("%s: %u in, %u out, %g Hz", device[i].name, device[i].inputs, device[i].outputs,
                   device[i].rate_hz);
    found += strcmp(device[i].name, g_getenv("BENCH_DEVICE")) == 0 && device[i].outputs >= 2 ? 1 : 0;
    found += strcmp(device[i].name, g_getenv("BENCH_INPUT_DEVICE")) == 0 && device[i].inputs >= 2 ? 1 : 0;
  }
  g_assert_cmpuint(found, ==, 2);
  g_object_unref(client);
}

/* Each output comes back on its own input, and with its gain. */
static void test_loop(void)
{
  CwSoundClient *client = cw_sound_client_new(SOUND_HELPER);
  float *feed = make_feed();
  CwSoundJob job;
  make_job(&job, feed);
  for (guint32 output = 0; output < 2; output++) {
    job.route = (CwChannelList){1, {output}};
    job.gain_db = output ? -20 : 0;
    play_until_same(client, &job, output ? 0.1 : 1);
  }
  g_free(feed);
  g_object_unref(client);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  if (!g_getenv("BENCH_DEVICE")) {
    g_printerr("Run this by pulse-bench.sh.\n");
    return 77;
  }
  g_test_add_func("/real-sound/listed", test_listed);
  g_test_add_func("/real-sound/loop", test_loop);
  return g_test_run();
}
