/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Plays a measuring feed through the real sound helper and prints the response that the take analysis finds,
 * a line "hz db" a point. Run by test-real-filter.py, which puts a known filter between player and recorder.
 */
#include "measuring/take.h"
#include "sound/client/client.h"
#include <math.h>
#include <stdio.h>

static CwSoundTake *play(CwSoundClient *client, const CwSweepFeed *feed, double rate_hz)
{
  gsize frames = cw_sweep_feed_frames(feed, rate_hz);
  double *sweep = cw_alloc_real(frames);
  g_autofree float *samples = g_new(float, frames);
  g_autoptr(GError) error = NULL;
  CwSoundJob job;
  CwSoundTake *take;

  cw_sweep_feed_render(feed, rate_hz, sweep, NULL);
  for (gsize i = 0; i < frames; i++)
    samples[i] = (float)sweep[i];
  cw_free(sweep);
  cw_sound_job_init(&job);
  job.device = g_getenv("BENCH_DEVICE");
  job.input_device = g_getenv("BENCH_INPUT_DEVICE");
  job.rate_hz = rate_hz;
  job.block_frames = 2048;
  job.feed = samples;
  job.feed_frames = frames;
  job.route.count = 1;
  job.route.value[0] = 0;
  job.inputs = 2;
  job.record_frames = frames + (gsize)(0.8 * rate_hz);
  job.outputs = 2;
  take = cw_sound_play_and_record(client, &job, &error);
  if (!take)
    fprintf(stderr, "%s\n", error->message);
  return take;
}

/* On a wire without noise a sweep a quarter as long does, and the sound server has less time to drop samples
 * in. */
static CwSweepFeed short_feed(double rate_hz)
{
  CwSweepFeed feed = cw_sweep_feed_design(24, rate_hz, -18, 0);

  feed.sweep = cw_sweep_design(feed.sweep.start_hz, feed.sweep.stop_hz, 0.21, -18, 24);
  feed.seconds = feed.sweep_at + feed.sweep.seconds + 0.75;
  return feed;
}

int main(void)
{
  double rate_hz = g_ascii_strtod(g_getenv("BENCH_RATE_HZ"), NULL);
  CwSweepFeed feed = short_feed(rate_hz);
  CwSoundClient *client = cw_sound_client_new(SOUND_HELPER);
  CwSoundTake *take = play(client, &feed, rate_hz);
  double *microphone;
  CwTakeResult result;

  if (!take)
    return 1;
  microphone = cw_alloc_real(take->frames);
  for (gsize i = 0; i < take->frames; i++)
    microphone[i] = take->sample[i * take->channels];
  CwTakeInput input = {.feed = &feed,
                       .timing = CW_TIMING_NONE,
                       .microphone = microphone,
                       .frames = take->frames,
                       .rate_hz = rate_hz,
                       .spl_at_full_scale = 0};
  cw_take_analyse(&input, &result);
  fprintf(stderr, "faults %u, gaps %u\n", result.faults, take->xruns);
  for (gsize i = 0; i < CW_TAKE_POINTS; i++)
    if (!isnan(result.db[i]))
      printf("%.6f %.6f\n", result.hz[i], result.db[i]);
  cw_take_result_clear(&result);
  cw_free(microphone);
  cw_sound_take_free(take);
  g_object_unref(client);
  return 0;
}
