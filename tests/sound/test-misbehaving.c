/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The client against helpers that misbehave. */
#include "client-bench.h"
#include "stopwatch.h"

#include <glib/gstdio.h>
#include <unistd.h>

/* A checked program starts and runs several times slower; the promise in seconds is judged in the plain one.
 */
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define SLOWNESS 4
#else
#define SLOWNESS 1
#endif

/* The misbehaving helper does what the name it is called by says. */
static CwSoundClient *make_misbehaving_client(const char *how, Heard *heard, char **path)
{
  char *folder = g_dir_make_tmp("cabinwright-XXXXXX", NULL);
  g_assert_nonnull(folder);
  *path = g_build_filename(folder, how, NULL);
  g_assert_cmpint(symlink(MISBEHAVING_HELPER, *path), ==, 0);
  g_free(folder);
  return client_bench_make_client(*path, heard);
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
  float *feed = client_bench_make_tone(FRAMES, 1000, 0.1);
  CwSoundJob job;
  client_bench_make_job(&job, feed, FRAMES, 0);
  job.device = "test";
  job.record_frames = FRAMES;
  for (int turn = 0; turn < 2; turn++) {
    Stopwatch watch = stopwatch_start();
    cw_sound_client_play_async(client, &job, NULL, client_bench_on_played, &heard);
    client_bench_run_until(&heard.done, 5);
    /* One second, and what starting a process takes. */
    double seconds = stopwatch_seconds(&watch);
    g_assert_cmpfloat(seconds, <, 1.6 * SLOWNESS * stopwatch_slowness(&watch));
    g_assert_null(heard.take);
    g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_HELPER);
    g_assert_true(g_str_has_prefix(heard.error->message, "The sound helper "));
    g_assert_cmpstr(heard.failed, ==, heard.error->message);
    g_assert_cmpint(cw_sound_client_get_state(client), ==, CW_SOUND_CLOSED);
    heard.done = FALSE;
    client_bench_clear_heard(&heard);
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
  client_bench_make_job(&job, feed, G_N_ELEMENTS(feed), 0);
  job.device = "test";
  job.loop = TRUE;
  cw_sound_client_play_async(client, &job, NULL, client_bench_on_played, &heard);
  while (cw_sound_client_get_state(client) != CW_SOUND_PLAYING)
    client_bench_run_for(0.01);
  Stopwatch watch = stopwatch_start();
  cw_sound_client_stop(client);
  cw_sound_client_stop(client);
  client_bench_run_until(&heard.done, 3);
  double seconds = stopwatch_seconds(&watch);
  g_assert_cmpfloat(seconds, <, 1.1 * SLOWNESS * stopwatch_slowness(&watch));
  g_assert_error(heard.error, CW_SOUND_ERROR, CW_SOUND_ERROR_HELPER);
  client_bench_clear_heard(&heard);
  g_object_unref(client);
  remove_link(path);
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
  return g_test_run();
}
