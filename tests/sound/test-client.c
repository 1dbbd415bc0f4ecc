/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The client against the real helper with the practice bay. */
#include "client-bench.h"
#include "simulator/practice_bay.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>

static void test_no_helper(void)
{
  Heard heard;
  CwSoundClient *client = client_bench_make_client("/nowhere/cabinwright-sound", &heard);
  CwSoundJob job;
  client_bench_make_job(&job, NULL, 0, 0);
  job.record_frames = 100;
  cw_sound_client_play_async(client, &job, NULL, client_bench_on_played, &heard);
  client_bench_run_until(&heard.done, 2);
  g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_HELPER);
  client_bench_clear_heard(&heard);
  g_object_unref(client);
}

static void test_wrong_jobs(void)
{
  Heard heard;
  CwSoundClient *client = client_bench_make_client(SOUND_HELPER, &heard);
  float feed[100] = {0};
  for (int wrong = 0; wrong < 8; wrong++) {
    CwSoundJob job;
    client_bench_make_job(&job, feed, 100, 0);
    if (wrong == 0)
      job.rate_hz = NAN;
    else if (wrong == 1)
      job.route.count = 0;
    else if (wrong == 2)
      job.block_frames = 500;
    else if (wrong == 3)
      job.limit_dbfs = 1;
    else if (wrong == 4)
      job.record_frames = G_MAXSIZE;
    else if (wrong == 5)
      job.protect_hz = (CwChannelNumbers){1, {30000}};
    else if (wrong == 6)
      job.feed_frames = 0;
    else
      job.rise_ms = 0;
    CwSoundTake *take = cw_sound_play_and_record(client, &job, &heard.error);
    g_assert_null(take);
    g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_REQUEST);
    g_clear_error(&heard.error);
  }
  client_bench_clear_heard(&heard);
  g_object_unref(client);
}

static void test_devices(void)
{
  Heard heard;
  CwSoundClient *client = client_bench_make_client(SOUND_HELPER, &heard);
  cw_sound_client_refresh_async(client, NULL, client_bench_on_done, &heard);
  client_bench_run_until(&heard.done, 10);
  g_assert_no_error(heard.error);
  guint count, bays = 0;
  const CwSoundDevice *device = cw_sound_client_get_devices(client, &count);
  for (guint i = 0; i < count; i++) {
    g_assert_true(device[i].practice == (strcmp(device[i].name, CW_SOUND_PRACTICE_DEVICE) == 0));
    if (device[i].practice) {
      bays++;
      g_assert_cmpuint(device[i].inputs, ==, 2);
      g_assert_cmpuint(device[i].outputs, ==, 12);
    }
  }
  g_assert_cmpuint(bays, ==, 1);
  client_bench_clear_heard(&heard);
  g_object_unref(client);
}

/* What the helper records in the bay is what the bay computes, sample by sample: nothing is lost, moved or
 * changed on the way through pipes, blocks and rings. */
static void test_same_as_computed(void)
{
  enum { FRAMES = 24000, SILENT = 2600 };
  Heard heard;
  CwSoundClient *client = client_bench_make_client(SOUND_HELPER, &heard);
  float *feed = client_bench_make_tone(FRAMES, 700, 0.1);
  memset(feed, 0, SILENT * sizeof *feed);
  memset(feed + FRAMES - SILENT, 0, SILENT * sizeof *feed);
  CwSoundJob job;
  client_bench_make_job(&job, feed, FRAMES, 3);
  job.record_frames = FRAMES + 4800;
  CwSoundTake *take = cw_sound_play_and_record(client, &job, &heard.error);
  g_assert_no_error(heard.error);
  g_assert_cmpuint(take->frames, ==, job.record_frames);
  g_assert_cmpuint(take->channels, ==, 2);
  g_assert_true(cw_sound_take_is_whole(take, NULL) || take->xruns > 0);

  CwPracticeBay *bay = cw_practice_bay_new(cw_practice_setup_parse("{}", NULL));
  guint route = 3;
  CwPracticeRequest request = {.feed = feed,
                               .frames = FRAMES,
                               .channels = 1,
                               .route = &route,
                               .record_frames = job.record_frames,
                               .rate_hz = RATE_HZ,
                               .quiet = TRUE};
  float *computed = cw_practice_bay_record(bay, &request, NULL);
  double wrong = 0, right = 0, cable = 0;
  for (gsize i = 0; i < take->frames; i++) {
    cable = MAX(cable, fabs(take->sample[2 * i + 1] - computed[2 * i + 1]));
    wrong += pow(take->sample[2 * i] - computed[2 * i], 2);
    right += pow(computed[2 * i], 2);
  }
  g_assert_cmpfloat(cable, <, 1e-6);
  /* The microphone differs by its noise alone: 38 dB SPL beside a tone of some 80. */
  g_assert_cmpfloat(10 * log10(wrong / right), <, -35);
  g_free(computed);
  g_free(feed);
  cw_practice_bay_free(bay);
  cw_sound_take_free(take);
  g_object_unref(client);
}

/* From stop() until the last sound on the cable: 50 ms, and the bay's own latency. The play is recorded, so
 * the samples tell. */
static gboolean stop_now(gpointer client)
{
  cw_sound_client_stop(client);
  return G_SOURCE_REMOVE;
}

/* Returns how long it took from the order to the last faded block. */
static gint64 stop_once(void)
{
  Heard heard;
  CwSoundClient *client = client_bench_make_client(SOUND_HELPER, &heard);
  enum { FRAMES = RATE_HZ * 20 };
  float *feed = client_bench_make_tone(FRAMES, 500, 0.2);
  CwSoundJob job;
  client_bench_make_job(&job, feed, FRAMES, 2);
  job.loop = TRUE;
  cw_sound_client_play_async(client, &job, NULL, client_bench_on_played, &heard);
  while (cw_sound_client_get_state(client) != CW_SOUND_PLAYING)
    client_bench_run_for(0.01);
  client_bench_run_for(0.3);
  g_assert_cmpfloat(heard.output_peak, >, 0.19);
  gint64 start_us = g_get_monotonic_time();
  g_timeout_add(0, stop_now, client);
  client_bench_run_until(&heard.done, 2);
  /* Finished is said once the last faded block is out. */
  gint64 took_us = g_get_monotonic_time() - start_us;
  g_test_message("silent after %.1f ms", (double)took_us / 1000);
  g_assert_no_error(heard.error);
  g_assert_nonnull(heard.take);
  client_bench_run_for(0.15);
  heard.output_peak = 0;
  client_bench_run_for(0.15);
  g_assert_cmpfloat(heard.output_peak, ==, 0);
  g_free(feed);
  client_bench_clear_heard(&heard);
  g_object_unref(client);
  return took_us;
}

/* The samples are judged in the engine's test; this is the way there and back, which a busy machine may hold
 * up: one of five in time. */
static void test_stop(void)
{
  gint64 best_us = G_MAXINT64;
  for (int turn = 0; turn < 5 && best_us >= 50000; turn++)
    best_us = MIN(best_us, stop_once());
  g_assert_cmpint(best_us, <, 50000);
}

/* Stop during a measurement is an error that says so; the client goes on. */
static void test_stop_recording(void)
{
  Heard heard;
  CwSoundClient *client = client_bench_make_client(SOUND_HELPER, &heard);
  enum { FRAMES = RATE_HZ * 5 };
  float *feed = client_bench_make_tone(FRAMES, 500, 0.2);
  CwSoundJob job;
  client_bench_make_job(&job, feed, FRAMES, 2);
  job.record_frames = FRAMES;
  GCancellable *cancellable = g_cancellable_new();
  cw_sound_client_play_async(client, &job, cancellable, client_bench_on_played, &heard);
  while (cw_sound_client_get_state(client) != CW_SOUND_PLAYING)
    client_bench_run_for(0.01);
  g_cancellable_cancel(cancellable);
  client_bench_run_until(&heard.done, 1);
  g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED);
  client_bench_clear_heard(&heard);
  job.feed_frames = job.record_frames = 9600;
  CwSoundTake *take = cw_sound_play_and_record(client, &job, &heard.error);
  g_assert_no_error(heard.error);
  g_assert_cmpuint(take->frames, ==, 9600);
  cw_sound_take_free(take);
  g_object_unref(cancellable);
  g_free(feed);
  g_object_unref(client);
}

/* Too loud for the limit is refused before it sounds. */
static void test_limit(void)
{
  Heard heard;
  CwSoundClient *client = client_bench_make_client(SOUND_HELPER, &heard);
  enum { FRAMES = 4800 };
  float *feed = client_bench_make_tone(FRAMES, 500, 0.9);
  CwSoundJob job;
  client_bench_make_job(&job, feed, FRAMES, 2);
  g_assert_null(cw_sound_play_and_record(client, &job, &heard.error));
  g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_REQUEST);
  g_assert_nonnull(strstr(heard.error->message, "level limit"));
  g_free(feed);
  client_bench_clear_heard(&heard);
  g_object_unref(client);
}

static void test_listen(void)
{
  Heard heard;
  CwSoundClient *client = client_bench_make_client(SOUND_HELPER, &heard);
  CwSoundJob job;
  client_bench_make_job(&job, NULL, 0, 0);
  job.outputs = 12;
  cw_sound_client_listen_async(client, &job, NULL, client_bench_on_done, &heard);
  client_bench_run_until(&heard.done, 5);
  g_assert_no_error(heard.error);
  client_bench_run_for(0.5);
  g_assert_cmpuint(heard.live_frames, >, RATE_HZ / 4);
  g_assert_cmpuint(heard.live_frames, <, RATE_HZ);
  g_assert_cmpuint(heard.levels, >, 2);
  cw_sound_client_unlisten(client);
  client_bench_run_for(0.1);
  guint blocks = heard.live_blocks;
  client_bench_run_for(0.2);
  g_assert_cmpuint(heard.live_blocks, ==, blocks);
  client_bench_clear_heard(&heard);
  g_object_unref(client);
}

/* A wrong practice setup is told by the next job, and a right one is heard by the one after. */
static void test_practice_setup(void)
{
  Heard heard;
  CwSoundClient *client = client_bench_make_client(SOUND_HELPER, &heard);
  enum { FRAMES = 4800 };
  float *feed = client_bench_make_tone(FRAMES, 500, 0.1);
  CwSoundJob job;
  client_bench_make_job(&job, feed, FRAMES, 7);
  job.record_frames = FRAMES;
  cw_sound_client_set_practice(client, "{\"seat\":\"roof\"}");
  g_assert_null(cw_sound_play_and_record(client, &job, &heard.error));
  g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_PRACTICE);
  g_clear_error(&heard.error);
  cw_sound_client_set_practice(client, "{\"car\":\"rowan-van\"}");
  job.route.value[0] = 8;
  g_assert_null(cw_sound_play_and_record(client, &job, &heard.error));
  g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_DEVICE);
  g_clear_error(&heard.error);
  job.route.value[0] = 7;
  CwSoundTake *take = cw_sound_play_and_record(client, &job, &heard.error);
  g_assert_no_error(heard.error);
  cw_sound_take_free(take);
  job.device = "no such device";
  g_assert_null(cw_sound_play_and_record(client, &job, &heard.error));
  g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_DEVICE);
  client_bench_clear_heard(&heard);
  g_free(feed);
  g_object_unref(client);
}

/* A second of 500 Hz on the left channel, 16-bit; the caller removes it. */
static char *write_track(void)
{
  enum { FRAMES = 44100 };
  g_autofree gint16 *samples = g_new0(gint16, 2 * FRAMES);
  g_autofree char *folder = g_dir_make_tmp("track-XXXXXX", NULL);
  char *path = g_build_filename(folder, "track.wav", NULL);
  const guint32 bytes = 4 * FRAMES,
                head[] = {GUINT32_TO_LE(0x46464952), GUINT32_TO_LE(36 + bytes), GUINT32_TO_LE(0x45564157),
                          GUINT32_TO_LE(0x20746d66), GUINT32_TO_LE(16),         GUINT32_TO_LE(1 | 2 << 16),
                          GUINT32_TO_LE(44100),      GUINT32_TO_LE(4 * 44100),  GUINT32_TO_LE(4 | 16 << 16),
                          GUINT32_TO_LE(0x61746164), GUINT32_TO_LE(bytes)};
  g_autoptr(GByteArray) file = g_byte_array_new();
  for (int i = 0; i < FRAMES; i++)
    samples[2 * i] = (gint16)GINT16_TO_LE((gint16)(8000 * sin(2 * G_PI * 500 * i / 44100)));
  g_byte_array_append(file, (const guint8 *)head, sizeof head);
  g_byte_array_append(file, (const guint8 *)samples, bytes);
  g_assert_true(g_file_set_contents(path, (const char *)file->data, (gssize)file->len, NULL));
  return path;
}

static double peak_of(const CwSoundTake *take, guint channel, double from_seconds, double to_seconds)
{
  double peak = 0;
  for (gsize i = (gsize)(from_seconds * take->rate_hz); i < (gsize)(to_seconds * take->rate_hz); i++)
    peak = fmax(peak, fabs(take->sample[i * take->channels + channel]));
  return peak;
}

/* The practice radio begins its track a little after the device was opened; lead 1 is of its left side, lead
 * 2 of its right. */
static void test_practice_radio(void)
{
  Heard heard;
  CwSoundClient *client = client_bench_make_client(SOUND_HELPER, &heard);
  g_autofree char *track = write_track(), *folder = g_path_get_dirname(track);
  g_autofree char *setup =
      g_strdup_printf("{\"car\":\"alder-tourer\",\"radio\":{\"track\":\"%s\",\"leads\":[1,2]}}", track);
  CwSoundJob job;
  cw_sound_job_init(&job);
  job.inputs = 2;
  job.record_frames = (gsize)(1.6 * job.rate_hz);
  cw_sound_client_set_practice(client, setup);
  CwSoundTake *take = cw_sound_play_and_record(client, &job, &heard.error);
  g_assert_no_error(heard.error);
  double silent = peak_of(take, 0, 0, 0.7);
  g_assert_cmpfloat(peak_of(take, 0, 1.1, 1.5), >, 30 * silent);
  g_assert_cmpfloat(peak_of(take, 1, 1.1, 1.5), <, 3 * silent);
  cw_sound_take_free(take);
  client_bench_clear_heard(&heard);
  g_unlink(track);
  g_rmdir(folder);
  g_object_unref(client);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/client/no-helper", test_no_helper);
  g_test_add_func("/client/wrong-jobs", test_wrong_jobs);
  g_test_add_func("/client/devices", test_devices);
  g_test_add_func("/client/same-as-computed", test_same_as_computed);
  g_test_add_func("/client/stop", test_stop);
  g_test_add_func("/client/stop-recording", test_stop_recording);
  g_test_add_func("/client/limit", test_limit);
  g_test_add_func("/client/listen", test_listen);
  g_test_add_func("/client/practice-setup", test_practice_setup);
  g_test_add_func("/client/practice-radio", test_practice_radio);
  return g_test_run();
}
