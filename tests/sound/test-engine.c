/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "callback-guard.h"
#include "sound/engine/engine.h"

#include <linux/seccomp.h>
#include <math.h>
#include <string.h>
#include <sys/prctl.h>
#include <sys/syscall.h>
#include <sys/wait.h>
#include <unistd.h>

#define RATE_HZ 48000.0
#define BLOCK 256u

/* A play of a sine (or, at 0 Hz, a constant) of `level` to one output. */
static CwPlayback *make_play(guint32 frames, double hz, double level, CwMessagePlay asked)
{
  GError *error = NULL;
  asked.serial = 1;
  asked.feed_frames = frames;
  if (asked.route.count == 0)
    asked.route = (CwChannelList){1, {0}};
  asked.protect_hz.count = asked.route.count;
  CwPlayback *playback = cw_playback_new(&asked, RATE_HZ, 2, &error);
  g_assert_no_error(error);
  float *sample = g_new(float, frames *asked.route.count);
  for (guint32 i = 0; i < frames; i++)
    for (guint32 k = 0; k < asked.route.count; k++)
      sample[i * asked.route.count + k] = (float)(hz > 0 ? level * sin(2 * G_PI * hz * i / RATE_HZ) : level);
  CwAudioChunk chunk = {0, asked.route.count, frames, sample};
  g_assert_true(cw_playback_load(playback, &chunk, &error));
  g_assert_true(cw_playback_is_loaded(playback));
  g_free(sample);
  return playback;
}

static CwEngine *begin(CwPlayback *playback)
{
  CwEngine *engine = cw_engine_new(RATE_HZ, 1, 2);
  cw_engine_begin(engine, playback);
  return engine;
}

/* Runs one block with the program alive; input is a count of frames. Returns output 0 in `out`. */
static void run_block(CwEngine *engine, float *out, guint32 *frame)
{
  float input[BLOCK], output[2 * BLOCK];
  for (guint32 i = 0; i < BLOCK; i++)
    input[i] = (float)(*frame + i) / 1e6f;
  cw_engine_process(engine, input, output, BLOCK, FALSE);
  for (guint32 i = 0; out && i < BLOCK; i++)
    out[i] = output[2 * i];
  *frame += BLOCK;
}

/* 50 ms up, 25 ms down, both without a step; level between. */
static void test_fades(void)
{
  enum { FRAMES = 48 * 256 };
  CwEngine *engine = begin(make_play(FRAMES, 0, 0.5, (CwMessagePlay){.rise_ms = 50}));
  float out[FRAMES + BLOCK];
  guint32 frame = 0;
  for (guint32 at = 0; at < FRAMES + BLOCK; at += BLOCK)
    run_block(engine, out + at, &frame);
  g_assert_cmpfloat(fabsf(out[0]), <, 1e-5f);
  g_assert_cmpfloat(fabsf(out[1200] - 0.25f), <, 1e-3f); /* half way up after 25 ms */
  for (int i = 2400; i < FRAMES - 1200; i++)
    g_assert_cmpfloat(out[i], ==, 0.5f);
  g_assert_cmpfloat(fabsf(out[FRAMES - 1]), <, 1e-5f);
  for (int i = 1; i < FRAMES + (int)BLOCK; i++)
    g_assert_cmpfloat(fabsf(out[i] - out[i - 1]), <, 0.5f * (float)G_PI / 2 / 1200 * 1.01f);
  CwPlayback *finished = cw_engine_take_finished(engine);
  g_assert_nonnull(finished);
  g_assert_cmpint(finished->ending, ==, CW_SOUND_COMPLETE);
  cw_playback_free(finished);
  cw_engine_free(engine);
}

/* From the stop until silence: at most 25 ms and a block. */
static void test_stop(void)
{
  CwEngine *engine = begin(make_play(480, 0, 0.5, (CwMessagePlay){.rise_ms = 50, .loop = 1}));
  float out[BLOCK], last = 0;
  guint32 frame = 0;
  while (frame < 12000)
    run_block(engine, out, &frame);
  g_assert_cmpfloat(out[BLOCK - 1], ==, 0.5f);
  last = out[BLOCK - 1];
  cw_engine_stop(engine);
  guint32 stopped = frame, silent = 0;
  while (frame < stopped + 4800) {
    run_block(engine, out, &frame);
    cw_engine_stop(engine); /* a second stop does not begin the fade anew */
    for (guint32 i = 0; i < BLOCK; i++) {
      g_assert_cmpfloat(last - out[i], >=, 0);
      g_assert_cmpfloat(last - out[i], <, 0.001f);
      last = out[i];
      if (last == 0 && silent == 0)
        silent = frame - BLOCK + i;
    }
  }
  g_assert_cmpuint(silent - stopped, <=, 1200 + BLOCK);
  CwPlayback *finished = cw_engine_take_finished(engine);
  g_assert_cmpint(finished->ending, ==, CW_SOUND_STOPPED);
  cw_playback_free(finished);
  cw_engine_free(engine);
}

/* Stopped before its first block, a play never sounds. */
static void test_stop_before(void)
{
  CwEngine *engine = begin(make_play(480, 0, 0.5, (CwMessagePlay){.rise_ms = 50, .loop = 1}));
  cw_engine_stop(engine);
  CwPlayback *finished = cw_engine_take_finished(engine);
  g_assert_nonnull(finished);
  cw_playback_free(finished);
  float out[BLOCK];
  guint32 frame = 0;
  run_block(engine, out, &frame);
  for (guint32 i = 0; i < BLOCK; i++)
    g_assert_cmpfloat(out[i], ==, 0);
  cw_engine_free(engine);
}

/* With heartbeats it plays on for two seconds; without, it is silent after one second and the fade. */
static void test_dead_man(void)
{
  CwEngine *engine = begin(make_play(480, 0, 0.5, (CwMessagePlay){.rise_ms = 50, .loop = 1}));
  float out[BLOCK];
  guint32 frame = 0;
  while (frame < 2 * RATE_HZ) {
    cw_engine_beat(engine);
    run_block(engine, out, &frame);
  }
  g_assert_cmpfloat(out[BLOCK - 1], ==, 0.5f);
  guint32 last_beat = frame;
  CwPlayback *finished = NULL;
  while (!finished && frame < last_beat + 2 * RATE_HZ) {
    run_block(engine, out, &frame);
    finished = cw_engine_take_finished(engine);
  }
  g_assert_nonnull(finished);
  g_assert_cmpint(finished->ending, ==, CW_SOUND_ABANDONED);
  g_assert_cmpfloat(out[BLOCK - 1], ==, 0);
  g_assert_cmpuint(frame - last_beat, <=, (guint32)(1.05 * RATE_HZ));
  cw_playback_free(finished);
  cw_engine_free(engine);
}

/* The level of a tone of a whole number of Hz behind the protection, relative to the feed, over one second.
 */
static double tone_level(double hz, double protect_hz)
{
  enum { FRAMES = 130000 };
  CwMessagePlay asked = {.rise_ms = 50, .protect_hz = {1, {protect_hz}}};
  CwEngine *engine = begin(make_play(FRAMES, hz, 0.5, asked));
  float out[BLOCK];
  guint32 frame = 0;
  CwComplex sum = 0;
  while (frame < 2 * RATE_HZ) {
    cw_engine_beat(engine);
    run_block(engine, out, &frame);
    for (guint32 i = 0; i < BLOCK; i++) {
      guint32 at = frame - BLOCK + i;
      if (at >= RATE_HZ && at < 2 * RATE_HZ)
        sum += out[i] * cexp(-2 * G_PI * I * hz * at / RATE_HZ);
    }
  }
  cw_engine_free(engine);
  return 20 * log10(2 * cabs(sum) / RATE_HZ / 0.5);
}

/* Butterworth of fourth order: 10 log10(1 + (corner / f)^8) dB down, with frequencies pre-warped. */
static void test_protection(void)
{
  const double corner_hz = 2000, frequencies_hz[] = {500, 1000, 2000, 4000, 9000};
  for (guint i = 0; i < G_N_ELEMENTS(frequencies_hz); i++) {
    double ratio = tan(G_PI * corner_hz / RATE_HZ) / tan(G_PI * frequencies_hz[i] / RATE_HZ);
    double expected_db = -10 * log10(1 + pow(ratio, 8));
    g_assert_cmpfloat(fabs(tone_level(frequencies_hz[i], corner_hz) - expected_db), <, 0.001);
  }
  g_assert_cmpfloat(fabs(tone_level(50, 0)), <, 0.001);
}

/* Two channels on one output add up above the limit: cut there, counted, and told. */
static void test_limit(void)
{
  CwMessagePlay asked = {.rise_ms = 50, .route = {2, {1, 1}}, .limit_dbfs = 20 * log10(0.6)};
  CwPlayback *playback = make_play(9600, 0, 0.5, asked);
  g_assert_true(cw_playback_check_level(playback, NULL)); /* each alone is below */
  CwEngine *engine = begin(playback);
  float output[2 * BLOCK], most = 0;
  for (int block = 0; block < 40; block++) {
    cw_engine_process(engine, NULL, output, BLOCK, FALSE);
    for (guint32 i = 0; i < BLOCK; i++) {
      g_assert_cmpfloat(output[2 * i], ==, 0);
      most = MAX(most, output[2 * i + 1]);
    }
  }
  g_assert_cmpfloat(fabsf(most - 0.6f), <, 1e-6f);
  CwPlayback *finished = cw_engine_take_finished(engine);
  g_assert_cmpuint(finished->limited_samples, >, 1000);
  cw_playback_free(finished);
  cw_engine_free(engine);

  GError *error = NULL;
  playback = make_play(100, 0, 0.5, (CwMessagePlay){.rise_ms = 50, .gain_db = 6.1, .limit_dbfs = 0});
  g_assert_false(cw_playback_check_level(playback, &error));
  g_assert_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_REQUEST);
  g_error_free(error);
  cw_playback_free(playback);
}

/* The recording is the input from the play's first frame, in order; what nobody fetches is lost and said to
 * be. */
static void test_recording(void)
{
  enum { FRAMES = 5000 };
  CwEngine *engine = cw_engine_new(RATE_HZ, 1, 2);
  guint32 frame = 0;
  run_block(engine, NULL, &frame);
  cw_engine_begin(engine, make_play(100, 0, 0.5, (CwMessagePlay){.rise_ms = 50, .record_frames = FRAMES}));
  CwPlayback *finished = NULL;
  float got[FRAMES + 100];
  guint32 count = 0;
  while (!finished) {
    run_block(engine, NULL, &frame);
    finished = cw_engine_take_finished(engine);
    count += cw_engine_read_recording(engine, got + count, G_N_ELEMENTS(got) - count);
  }
  g_assert_cmpuint(count, ==, FRAMES);
  g_assert_cmpuint(finished->recorded_frames, ==, FRAMES);
  for (guint32 i = 0; i < FRAMES; i++)
    g_assert_cmpfloat(got[i], ==, (float)(BLOCK + i) / 1e6f);
  cw_playback_free(finished);

  const guint32 many = (guint32)RATE_HZ * 8;
  cw_engine_begin(engine, make_play(100, 0, 0.5, (CwMessagePlay){.rise_ms = 50, .record_frames = many}));
  finished = NULL;
  while (!finished) {
    cw_engine_beat(engine);
    run_block(engine, NULL, &frame);
    finished = cw_engine_take_finished(engine);
  }
  g_assert_cmpuint(finished->lost_frames, >, 0);
  g_assert_cmpuint(finished->lost_frames + finished->recorded_frames, ==, many);
  cw_playback_free(finished);
  cw_engine_free(engine);
}

static void test_gaps(void)
{
  CwEngine *engine = begin(make_play(9600, 0, 0.5, (CwMessagePlay){.rise_ms = 50}));
  float output[2 * BLOCK];
  for (int block = 0; block < 40; block++)
    cw_engine_process(engine, NULL, output, BLOCK, block == 7 || block == 9);
  CwPlayback *finished = cw_engine_take_finished(engine);
  g_assert_cmpuint(finished->xruns, ==, 2);
  cw_playback_free(finished);
  cw_engine_free(engine);
}

/* Everything that the callback can meet: begin, play, protect, record, live, stop, end. */
static CwEngine *make_busy(void)
{
  CwMessagePlay asked = {.rise_ms = 50, .loop = 1, .route = {2, {0, 1}}, .protect_hz = {2, {100, 2000}}};
  CwEngine *engine = begin(make_play(4800, 300, 0.2, asked));
  cw_engine_set_live(engine, TRUE);
  return engine;
}

static void run_busy(CwEngine *engine, guint blocks)
{
  static float input[BLOCK], output[2 * BLOCK];
  for (guint block = 0; block < blocks; block++) {
    if (block == blocks / 2)
      cw_engine_stop(engine);
    cw_engine_process(engine, input, output, BLOCK, block == 3);
  }
}

static void test_no_allocation_no_lock(void)
{
  if (!cw_guard_works()) {
    g_test_skip("the sanitizer stands where the guard would");
    return;
  }
  /* The guard itself must see what it is there for. */
  cw_guard_begin();
  g_free(g_malloc(10));
  GMutex mutex;
  g_mutex_init(&mutex);
  g_assert_cmpuint(cw_guard_end(), >=, 2);
  pthread_mutex_t lock = PTHREAD_MUTEX_INITIALIZER;
  cw_guard_begin();
  pthread_mutex_lock(&lock);
  g_assert_cmpuint(cw_guard_end(), ==, 1);
  pthread_mutex_unlock(&lock);

  CwEngine *engine = make_busy();
  cw_guard_begin();
  run_busy(engine, 200);
  g_assert_cmpuint(cw_guard_end(), ==, 0);
  cw_playback_free(cw_engine_take_finished(engine));
  cw_engine_free(engine);
}

/* In a process that the kernel ends at its first system call (but for read, write and exit). */
static void test_no_system_call(void)
{
  if (!cw_guard_works()) {
    g_test_skip("the sanitizer enters the system itself");
    return;
  }
  CwEngine *engine = make_busy();
  pid_t child = fork();
  g_assert_cmpint(child, >=, 0);
  if (child == 0) {
    prctl(PR_SET_SECCOMP, SECCOMP_MODE_STRICT);
    run_busy(engine, 200);
    syscall(SYS_exit, 42);
  }
  int status;
  g_assert_cmpint(waitpid(child, &status, 0), ==, child);
  g_assert_true(WIFEXITED(status));
  g_assert_cmpint(WEXITSTATUS(status), ==, 42);
  cw_engine_free(engine);
}

typedef struct {
  CwEngine *engine;
  gint leave;
} Device;

static gpointer run_device(gpointer data)
{
  Device *device = data;
  float input[BLOCK] = {0}, output[2 * BLOCK];
  while (!g_atomic_int_get(&device->leave)) {
    cw_engine_process(device->engine, input, output, BLOCK, FALSE);
    g_thread_yield();
  }
  return NULL;
}

/* Both threads at once, for the thread sanitizer: plays begun, stopped, fetched while the callback runs. */
static void test_two_threads(void)
{
  Device device = {cw_engine_new(RATE_HZ, 1, 2), 0};
  GThread *thread = g_thread_new("device", run_device, &device);
  cw_engine_set_live(device.engine, TRUE);
  for (int play = 0; play < 60; play++) {
    cw_engine_begin(device.engine,
                    make_play(2000, 400, 0.2, (CwMessagePlay){.rise_ms = 50, .record_frames = 3000}));
    CwPlayback *finished = NULL;
    for (int turn = 0; !finished; turn++) {
      float sample[512];
      CwMessageStatus status;
      cw_engine_beat(device.engine);
      if (play % 3 == 1 && turn == 2)
        cw_engine_stop(device.engine);
      finished = cw_engine_take_finished(device.engine);
      while (cw_engine_read_recording(device.engine, sample, G_N_ELEMENTS(sample)) > 0)
        ;
      cw_engine_read_live(device.engine, sample, G_N_ELEMENTS(sample));
      cw_engine_read_status(device.engine, &status);
      g_thread_yield();
    }
    g_assert_true(play % 3 == 1 || finished->ending == CW_SOUND_COMPLETE);
    cw_playback_free(finished);
  }
  g_atomic_int_set(&device.leave, 1);
  g_thread_join(thread);
  cw_engine_free(device.engine);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/engine/fades", test_fades);
  g_test_add_func("/engine/stop", test_stop);
  g_test_add_func("/engine/stop-before", test_stop_before);
  g_test_add_func("/engine/dead-man", test_dead_man);
  g_test_add_func("/engine/protection", test_protection);
  g_test_add_func("/engine/limit", test_limit);
  g_test_add_func("/engine/recording", test_recording);
  g_test_add_func("/engine/gaps", test_gaps);
  g_test_add_func("/engine/no-allocation-no-lock", test_no_allocation_no_lock);
  g_test_add_func("/engine/no-system-call", test_no_system_call);
  g_test_add_func("/engine/two-threads", test_two_threads);
  return g_test_run();
}
