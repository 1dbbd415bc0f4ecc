/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The client against the real helper with the practice bay, and against helpers that misbehave. */
#include "sound/client.h"
#include "sound/practice_bay.h"

#include <glib/gstdio.h>
#include <math.h>
#include <string.h>
#include <unistd.h>

#define RATE_HZ 48000

typedef struct {
  CwSoundTake *take;
  GError *error;
  gboolean done;
  char *failed;
  guint levels, live_blocks, devices;
  guint64 live_frames;
  float output_peak;
  CwSoundState state;
} Heard;

static void on_played(GObject *source, GAsyncResult *result, gpointer data)
{
  Heard *heard = data;
  heard->take = cw_sound_client_play_finish(CW_SOUND_CLIENT(source), result, &heard->error);
  heard->done = TRUE;
}

static void on_done(GObject *source, GAsyncResult *result, gpointer data)
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

static CwSoundClient *make_client(const char *helper, Heard *heard)
{
  memset(heard, 0, sizeof *heard);
  CwSoundClient *client = cw_sound_client_new(helper);
  g_signal_connect(client, "failed", G_CALLBACK(on_failed), heard);
  g_signal_connect(client, "levels", G_CALLBACK(on_levels), heard);
  g_signal_connect(client, "live-block", G_CALLBACK(on_live_block), heard);
  return client;
}

static void clear_heard(Heard *heard)
{
  g_clear_pointer(&heard->take, cw_sound_take_free);
  g_clear_error(&heard->error);
  g_clear_pointer(&heard->failed, g_free);
}

/* Runs the loop until the flag is set; fails the test rather than wait for ever. */
static void run_until(const gboolean *done, double seconds)
{
  gint64 until_us = g_get_monotonic_time() + (gint64)(seconds * 1e6);
  while (!*done) {
    g_assert_cmpint(g_get_monotonic_time(), <, until_us);
    g_main_context_iteration(NULL, FALSE);
    g_usleep(500);
  }
}

static void run_for(double seconds)
{
  gint64 until_us = g_get_monotonic_time() + (gint64)(seconds * 1e6);
  while (g_get_monotonic_time() < until_us) {
    g_main_context_iteration(NULL, FALSE);
    g_usleep(500);
  }
}

static float *make_tone(gsize frames, double hz, double level)
{
  float *feed = g_new(float, frames);
  for (gsize i = 0; i < frames; i++)
    feed[i] = (float)(level * sin(2 * G_PI * hz * (double)i / RATE_HZ));
  return feed;
}

static void make_job(CwSoundJob *job, const float *feed, gsize frames, guint32 output)
{
  cw_sound_job_init(job);
  job->rate_hz = RATE_HZ;
  job->block_frames = 256;
  job->feed = feed;
  job->feed_frames = frames;
  job->route = (CwChannelList){1, {output}};
  job->inputs = 2;
}

/* The misbehaving helper does what the name it is called by says. */
static CwSoundClient *make_misbehaving_client(const char *how, Heard *heard, char **path)
{
  char *folder = g_dir_make_tmp("cabinwright-XXXXXX", NULL);
  g_assert_nonnull(folder);
  *path = g_build_filename(folder, how, NULL);
  g_assert_cmpint(symlink(MISBEHAVING_HELPER, *path), ==, 0);
  g_free(folder);
  return make_client(*path, heard);
}

static void remove_link(char *path)
{
  char *folder = g_path_get_dirname(path);
  g_unlink(path);
  g_rmdir(folder);
  g_free(folder);
  g_free(path);
}

/* Whatever goes wrong at play is told in words within a second, and the next job gets a new helper. */
static void test_misbehaving(gconstpointer how)
{
  Heard heard;
  char *path;
  CwSoundClient *client = make_misbehaving_client(how, &heard, &path);
  enum { FRAMES = 2000 };
  float *feed = make_tone(FRAMES, 1000, 0.1);
  CwSoundJob job;
  make_job(&job, feed, FRAMES, 0);
  job.device = "test";
  job.record_frames = FRAMES;
  for (int turn = 0; turn < 2; turn++) {
    gint64 start_us = g_get_monotonic_time();
    cw_sound_client_play_async(client, &job, NULL, on_played, &heard);
    run_until(&heard.done, 5);
    /* One second, and what starting a process takes on a busy machine. */
    g_assert_cmpint(g_get_monotonic_time() - start_us, <, 1600000);
    g_assert_null(heard.take);
    g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_HELPER);
    g_assert_true(g_str_has_prefix(heard.error->message, "The sound helper "));
    g_assert_cmpstr(heard.failed, ==, heard.error->message);
    g_assert_cmpint(cw_sound_client_get_state(client), ==, CW_SOUND_CLOSED);
    heard.done = FALSE;
    clear_heard(&heard);
  }
  g_free(feed);
  g_object_unref(client);
  remove_link(path);
}

/* A helper that plays on after stop is ended by force within a second. */
static void test_deaf(void)
{
  Heard heard;
  char *path;
  CwSoundClient *client = make_misbehaving_client("deaf", &heard, &path);
  float feed[2000] = {0};
  CwSoundJob job;
  make_job(&job, feed, G_N_ELEMENTS(feed), 0);
  job.device = "test";
  job.loop = TRUE;
  cw_sound_client_play_async(client, &job, NULL, on_played, &heard);
  while (cw_sound_client_get_state(client) != CW_SOUND_PLAYING)
    run_for(0.01);
  gint64 start_us = g_get_monotonic_time();
  cw_sound_client_stop(client);
  cw_sound_client_stop(client);
  run_until(&heard.done, 3);
  g_assert_cmpint(g_get_monotonic_time() - start_us, <, 1100000);
  g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_HELPER);
  clear_heard(&heard);
  g_object_unref(client);
  remove_link(path);
}

static void test_no_helper(void)
{
  Heard heard;
  CwSoundClient *client = make_client("/nowhere/cabinwright-sound", &heard);
  CwSoundJob job;
  make_job(&job, NULL, 0, 0);
  job.record_frames = 100;
  cw_sound_client_play_async(client, &job, NULL, on_played, &heard);
  run_until(&heard.done, 2);
  g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_HELPER);
  clear_heard(&heard);
  g_object_unref(client);
}

static void test_wrong_jobs(void)
{
  Heard heard;
  CwSoundClient *client = make_client(SOUND_HELPER, &heard);
  float feed[100] = {0};
  for (int wrong = 0; wrong < 8; wrong++) {
    CwSoundJob job;
    make_job(&job, feed, 100, 0);
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
  clear_heard(&heard);
  g_object_unref(client);
}

static void test_devices(void)
{
  Heard heard;
  CwSoundClient *client = make_client(SOUND_HELPER, &heard);
  cw_sound_client_refresh_async(client, NULL, on_done, &heard);
  run_until(&heard.done, 10);
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
  clear_heard(&heard);
  g_object_unref(client);
}

/* What the helper records in the bay is what the bay computes, sample by sample: nothing is lost, moved or
 * changed on the way through pipes, blocks and rings. */
static void test_same_as_computed(void)
{
  enum { FRAMES = 24000, SILENT = 2600 };
  Heard heard;
  CwSoundClient *client = make_client(SOUND_HELPER, &heard);
  float *feed = make_tone(FRAMES, 700, 0.1);
  memset(feed, 0, SILENT * sizeof *feed);
  memset(feed + FRAMES - SILENT, 0, SILENT * sizeof *feed);
  CwSoundJob job;
  make_job(&job, feed, FRAMES, 3);
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

static void test_stop(void)
{
  Heard heard;
  CwSoundClient *client = make_client(SOUND_HELPER, &heard);
  enum { FRAMES = RATE_HZ * 20 };
  float *feed = make_tone(FRAMES, 500, 0.2);
  CwSoundJob job;
  make_job(&job, feed, FRAMES, 2);
  job.loop = TRUE;
  cw_sound_client_play_async(client, &job, NULL, on_played, &heard);
  while (cw_sound_client_get_state(client) != CW_SOUND_PLAYING)
    run_for(0.01);
  run_for(0.3);
  g_assert_cmpfloat(heard.output_peak, >, 0.19);
  gint64 start_us = g_get_monotonic_time();
  g_timeout_add(0, stop_now, client);
  run_until(&heard.done, 2);
  /* Finished is said once the last faded block is out. */
  gint64 took_us = g_get_monotonic_time() - start_us;
  g_test_message("silent after %.1f ms", (double)took_us / 1000);
  g_assert_cmpint(took_us, <, 50000);
  g_assert_no_error(heard.error);
  g_assert_nonnull(heard.take);
  run_for(0.15);
  heard.output_peak = 0;
  run_for(0.15);
  g_assert_cmpfloat(heard.output_peak, ==, 0);
  g_free(feed);
  clear_heard(&heard);
  g_object_unref(client);
}

/* Stop during a measurement is an error that says so; the client goes on. */
static void test_stop_recording(void)
{
  Heard heard;
  CwSoundClient *client = make_client(SOUND_HELPER, &heard);
  enum { FRAMES = RATE_HZ * 5 };
  float *feed = make_tone(FRAMES, 500, 0.2);
  CwSoundJob job;
  make_job(&job, feed, FRAMES, 2);
  job.record_frames = FRAMES;
  GCancellable *cancellable = g_cancellable_new();
  cw_sound_client_play_async(client, &job, cancellable, on_played, &heard);
  while (cw_sound_client_get_state(client) != CW_SOUND_PLAYING)
    run_for(0.01);
  g_cancellable_cancel(cancellable);
  run_until(&heard.done, 1);
  g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_STOPPED);
  clear_heard(&heard);
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
  CwSoundClient *client = make_client(SOUND_HELPER, &heard);
  enum { FRAMES = 4800 };
  float *feed = make_tone(FRAMES, 500, 0.9);
  CwSoundJob job;
  make_job(&job, feed, FRAMES, 2);
  g_assert_null(cw_sound_play_and_record(client, &job, &heard.error));
  g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_REQUEST);
  g_assert_nonnull(strstr(heard.error->message, "level limit"));
  g_free(feed);
  clear_heard(&heard);
  g_object_unref(client);
}

static void test_listen(void)
{
  Heard heard;
  CwSoundClient *client = make_client(SOUND_HELPER, &heard);
  CwSoundJob job;
  make_job(&job, NULL, 0, 0);
  job.outputs = 12;
  cw_sound_client_listen_async(client, &job, NULL, on_done, &heard);
  run_until(&heard.done, 5);
  g_assert_no_error(heard.error);
  run_for(0.5);
  g_assert_cmpuint(heard.live_frames, >, RATE_HZ / 4);
  g_assert_cmpuint(heard.live_frames, <, RATE_HZ);
  g_assert_cmpuint(heard.levels, >, 2);
  cw_sound_client_unlisten(client);
  run_for(0.1);
  guint blocks = heard.live_blocks;
  run_for(0.2);
  g_assert_cmpuint(heard.live_blocks, ==, blocks);
  clear_heard(&heard);
  g_object_unref(client);
}

/* A wrong practice setup is told by the next job, and a right one is heard by the one after. */
static void test_practice_setup(void)
{
  Heard heard;
  CwSoundClient *client = make_client(SOUND_HELPER, &heard);
  enum { FRAMES = 4800 };
  float *feed = make_tone(FRAMES, 500, 0.1);
  CwSoundJob job;
  make_job(&job, feed, FRAMES, 7);
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
  clear_heard(&heard);
  g_free(feed);
  g_object_unref(client);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  static const char *const ways[] = {"dies",     "hangs",  "floods", "lies", "rubbish", "dribbles",
                                     "too-much", "stalls", "mute",   "old",  "stranger"};
  for (guint i = 0; i < G_N_ELEMENTS(ways); i++) {
    char *path = g_strdup_printf("/client/misbehaving/%s", ways[i]);
    g_test_add_data_func(path, ways[i], test_misbehaving);
    g_free(path);
  }
  g_test_add_func("/client/misbehaving/deaf", test_deaf);
  g_test_add_func("/client/no-helper", test_no_helper);
  g_test_add_func("/client/wrong-jobs", test_wrong_jobs);
  g_test_add_func("/client/devices", test_devices);
  g_test_add_func("/client/same-as-computed", test_same_as_computed);
  g_test_add_func("/client/stop", test_stop);
  g_test_add_func("/client/stop-recording", test_stop_recording);
  g_test_add_func("/client/limit", test_limit);
  g_test_add_func("/client/listen", test_listen);
  g_test_add_func("/client/practice-setup", test_practice_setup);
  return g_test_run();
}
