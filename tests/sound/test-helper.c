/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The helper itself, spoken to by hand: what it does when the program is silent, gone, or talks nonsense.
 * What it plays is seen on the practice bay's cable (input 1), which is as late as the bay says. */
#include "sound/protocol.h"
#include "stopwatch.h"

#include <gio/gio.h>
#include <math.h>
#include <string.h>

#define RATE_HZ 48000
#define LATENCY_MS 18.4 /* of the Alder Tourer's bay */

typedef struct {
  GSubprocess *process;
  GOutputStream *to;
  GInputStream *from;
  CwMessageParser *parser;
  guint64 live_frames;   /* heard so far */
  guint64 sounded_until; /* the last of them that was not silent */
  float cable;           /* the latest peak on the cable */
} Bench;

static void say(Bench *bench, const CwMessage *message)
{
  GByteArray *bytes = g_byte_array_new();
  g_assert_true(cw_message_encode(message, bytes));
  g_output_stream_write_all(bench->to, bytes->data, bytes->len, NULL, NULL, NULL);
  g_byte_array_unref(bytes);
}

static Bench start(void)
{
  GError *error = NULL;
  Bench bench = {0};
  bench.process = g_subprocess_new(G_SUBPROCESS_FLAGS_STDIN_PIPE | G_SUBPROCESS_FLAGS_STDOUT_PIPE |
                                       G_SUBPROCESS_FLAGS_STDERR_SILENCE,
                                   &error, SOUND_HELPER, NULL);
  g_assert_no_error(error);
  bench.to = g_subprocess_get_stdin_pipe(bench.process);
  bench.from = g_subprocess_get_stdout_pipe(bench.process);
  bench.parser = cw_message_parser_new();
  say(&bench, &(CwMessage){.kind = CW_MESSAGE_HELLO, .hello = {CW_PROTOCOL_VERSION, (char *)"test"}});
  return bench;
}

static void note_live(Bench *bench, const CwAudioChunk *audio)
{
  bench->cable = 0;
  for (guint32 i = 0; i < audio->frames; i++) {
    float cable = fabsf(audio->sample[2 * i + 1]);
    bench->cable = MAX(bench->cable, cable);
    if (cable > 0)
      bench->sounded_until = bench->live_frames + i + 1;
  }
  bench->live_frames += audio->frames;
}

/* Reads until a message of the kind comes, which the caller clears; FALSE at the end of the stream. */
static gboolean hear(Bench *bench, CwMessageKind kind, CwMessage *message)
{
  for (;;) {
    GError *error = NULL;
    while (cw_message_parser_next(bench->parser, message, &error)) {
      if (message->kind == CW_MESSAGE_LIVE_BLOCK)
        note_live(bench, &message->audio.audio);
      if (message->kind == kind)
        return TRUE;
      cw_message_clear(message);
    }
    g_assert_no_error(error);
    guint8 bytes[65536];
    gssize got = g_input_stream_read(bench->from, bytes, sizeof bytes, NULL, NULL);
    if (got <= 0)
      return FALSE;
    cw_message_parser_push(bench->parser, bytes, (gsize)got);
  }
}

static void hear_for(Bench *bench, guint64 frames, gboolean alive)
{
  guint64 until = bench->live_frames + frames;
  while (bench->live_frames < until) {
    CwMessage message;
    g_assert_true(hear(bench, CW_MESSAGE_LIVE_BLOCK, &message));
    cw_message_clear(&message);
    if (alive)
      say(bench, &(CwMessage){.kind = CW_MESSAGE_HEARTBEAT});
  }
}

/* Opens the bay, listens, and plays a tone without end, until it is there in full. */
static void play(Bench *bench)
{
  static float tone[4800];
  CwMessage message;
  for (guint i = 0; i < G_N_ELEMENTS(tone); i++)
    tone[i] = (float)(0.3 * sin(2 * G_PI * 1000 * i / RATE_HZ));
  say(bench, &(CwMessage){.kind = CW_MESSAGE_OPEN,
                          .open = {1, (char *)CW_SOUND_PRACTICE_DEVICE, (char *)"", RATE_HZ, 2, 12, 256}});
  g_assert_true(hear(bench, CW_MESSAGE_DONE, &message));
  say(bench, &(CwMessage){.kind = CW_MESSAGE_LIVE, .live = {1}});
  say(bench, &(CwMessage){.kind = CW_MESSAGE_PLAY,
                          .play = {2, G_N_ELEMENTS(tone), {1, {2}}, {1, {0}}, 0, -6, 50, 1, 0}});
  say(bench, &(CwMessage){.kind = CW_MESSAGE_FEED, .audio = {2, {0, 1, G_N_ELEMENTS(tone), tone}}});
  hear_for(bench, RATE_HZ / 2, TRUE);
  g_assert_cmpfloat(bench->cable, >, 0.29f);
}

static void finish(Bench *bench)
{
  CwMessage message;
  g_output_stream_close(bench->to, NULL, NULL);
  Stopwatch watch = stopwatch_start();
  g_assert_false(hear(bench, CW_MESSAGE_DEVICES, &message));
  g_assert_true(g_subprocess_wait(bench->process, NULL, NULL));
  g_assert_true(g_subprocess_get_if_exited(bench->process));
  g_assert_cmpint(g_subprocess_get_exit_status(bench->process), ==, 0);
  double seconds = stopwatch_seconds(&watch);
  g_assert_cmpfloat(seconds, <, stopwatch_slowness(&watch));
  cw_message_parser_free(bench->parser);
  g_object_unref(bench->process);
}

/* By the samples: what had been heard when stop was said, and when it fell silent. */
static void test_stop(void)
{
  Bench bench = start();
  play(&bench);
  guint64 said = bench.live_frames;
  say(&bench, &(CwMessage){.kind = CW_MESSAGE_STOP});
  CwMessage message;
  g_assert_true(hear(&bench, CW_MESSAGE_FINISHED, &message));
  g_assert_cmpuint(message.finished.ending, ==, CW_SOUND_STOPPED);
  hear_for(&bench, RATE_HZ / 5, TRUE);
  g_assert_cmpfloat(bench.cable, ==, 0);
  double silent_ms = (double)(bench.sounded_until - said) * 1000 / RATE_HZ - LATENCY_MS;
  g_test_message("silent %.1f ms after stop", silent_ms);
  g_assert_cmpfloat(silent_ms, >, 0);
  g_assert_cmpfloat(silent_ms, <, 50);
  finish(&bench);
}

static void test_silent_program(void)
{
  Bench bench = start();
  play(&bench);
  guint64 last_beat = bench.live_frames;
  hear_for(&bench, RATE_HZ * 3 / 2, FALSE);
  g_assert_cmpfloat(bench.cable, ==, 0);
  double silent_ms = (double)(bench.sounded_until - last_beat) * 1000 / RATE_HZ - LATENCY_MS;
  g_test_message("silent %.1f ms after the last heartbeat", silent_ms);
  g_assert_cmpfloat(silent_ms, >, 900);
  g_assert_cmpfloat(silent_ms, <, 1050);
  finish(&bench);
}

/* The end of its input is the program's death: silence, then its own end. */
static void test_gone_program(void)
{
  Bench bench = start();
  play(&bench);
  guint64 last = bench.live_frames;
  finish(&bench);
  /* It went on for the fade and not for long. */
  g_assert_cmpuint(bench.live_frames - last, <, RATE_HZ / 4);
}

static void test_rubbish(void)
{
  for (int turn = 0; turn < 5; turn++) {
    Bench bench = start();
    guint8 bytes[512];
    for (guint i = 0; i < sizeof bytes; i++)
      bytes[i] = (guint8)g_test_rand_int();
    g_output_stream_write_all(bench.to, bytes, sizeof bytes, NULL, NULL, NULL);
    CwMessage message;
    g_assert_true(hear(&bench, CW_MESSAGE_TROUBLE, &message));
    g_assert_cmpuint(message.trouble.code, ==, CW_SOUND_ERROR_PROTOCOL);
    cw_message_clear(&message);
    finish(&bench);
  }
}

/* What comes in the wrong order is answered in words, and the helper goes on. */
static void test_wrong_order(void)
{
  Bench bench = start();
  CwMessage message;
  float sample[4] = {0};
  const CwMessage play_nothing = {.kind = CW_MESSAGE_PLAY,
                                  .play = {5, 10, {1, {0}}, {1, {0}}, 0, -6, 50, 0, 0}};
  say(&bench, &(CwMessage){.kind = CW_MESSAGE_FEED, .audio = {9, {0, 1, 4, sample}}});
  say(&bench, &(CwMessage){.kind = CW_MESSAGE_STOP});
  say(&bench, &play_nothing);
  g_assert_true(hear(&bench, CW_MESSAGE_TROUBLE, &message));
  g_assert_cmpuint(message.trouble.serial, ==, 5);
  cw_message_clear(&message);
  say(&bench, &(CwMessage){.kind = CW_MESSAGE_OPEN,
                           .open = {1, (char *)CW_SOUND_PRACTICE_DEVICE, (char *)"", RATE_HZ, 2, 2, 256}});
  g_assert_true(hear(&bench, CW_MESSAGE_DONE, &message));
  say(&bench, &play_nothing);
  say(&bench, &(CwMessage){.kind = CW_MESSAGE_FEED, .audio = {5, {1, 1, 4, sample}}});
  g_assert_true(hear(&bench, CW_MESSAGE_TROUBLE, &message));
  g_assert_nonnull(strstr(message.trouble.text, "does not follow"));
  cw_message_clear(&message);
  CwMessage wrong_route = play_nothing;
  wrong_route.play.route.value[0] = 2;
  say(&bench, &wrong_route);
  g_assert_true(hear(&bench, CW_MESSAGE_TROUBLE, &message));
  g_assert_nonnull(strstr(message.trouble.text, "route"));
  cw_message_clear(&message);
  say(&bench, &(CwMessage){.kind = CW_MESSAGE_LIST});
  g_assert_true(hear(&bench, CW_MESSAGE_DEVICES, &message));
  cw_message_clear(&message);
  finish(&bench);
}

/* A device whose callbacks stop coming, as when it is unplugged, is told within a second. */
static void test_dead_device(void)
{
  Bench bench = start();
  CwMessage message;
  say(&bench, &(CwMessage){.kind = CW_MESSAGE_PRACTICE,
                           .practice = {3, (char *)"{\"device\":{\"stalls_after_s\":0.8}}"}});
  g_assert_true(hear(&bench, CW_MESSAGE_DONE, &message));
  play(&bench);
  Stopwatch watch = stopwatch_start();
  g_assert_true(hear(&bench, CW_MESSAGE_FINISHED, &message));
  g_assert_cmpuint(message.finished.ending, ==, CW_SOUND_DEVICE_GONE);
  g_assert_true(hear(&bench, CW_MESSAGE_TROUBLE, &message));
  g_assert_cmpuint(message.trouble.code, ==, CW_SOUND_ERROR_DEVICE);
  g_assert_cmpuint(message.trouble.serial, ==, 0);
  cw_message_clear(&message);
  /* 0.5 s of the 0.8 s had been heard. */
  double seconds = stopwatch_seconds(&watch);
  g_assert_cmpfloat(seconds, <, 1.3 + 0.2 * stopwatch_slowness(&watch));
  finish(&bench);
}

/* A gap in the sound is told with the take. */
static void test_gap(void)
{
  Bench bench = start();
  CwMessage message;
  say(&bench, &(CwMessage){.kind = CW_MESSAGE_PRACTICE,
                           .practice = {3, (char *)"{\"device\":{\"gap_after_s\":0.3}}"}});
  g_assert_true(hear(&bench, CW_MESSAGE_DONE, &message));
  say(&bench, &(CwMessage){.kind = CW_MESSAGE_OPEN,
                           .open = {1, (char *)CW_SOUND_PRACTICE_DEVICE, (char *)"", RATE_HZ, 2, 2, 256}});
  g_assert_true(hear(&bench, CW_MESSAGE_DONE, &message));
  say(&bench, &(CwMessage){.kind = CW_MESSAGE_PLAY, .play = {5, 0, {0}, {0}, 0, -6, 50, 0, RATE_HZ / 2}});
  guint32 recorded = 0;
  while (recorded < RATE_HZ / 2) {
    g_assert_true(hear(&bench, CW_MESSAGE_RECORDING, &message));
    g_assert_cmpuint(message.audio.audio.first_frame, ==, recorded);
    recorded += message.audio.audio.frames;
    cw_message_clear(&message);
    say(&bench, &(CwMessage){.kind = CW_MESSAGE_HEARTBEAT});
  }
  g_assert_true(hear(&bench, CW_MESSAGE_FINISHED, &message));
  g_assert_cmpuint(message.finished.ending, ==, CW_SOUND_COMPLETE);
  g_assert_cmpuint(message.finished.xruns, >=, 1);
  finish(&bench);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/helper/stop", test_stop);
  g_test_add_func("/helper/silent-program", test_silent_program);
  g_test_add_func("/helper/gone-program", test_gone_program);
  g_test_add_func("/helper/rubbish", test_rubbish);
  g_test_add_func("/helper/wrong-order", test_wrong_order);
  g_test_add_func("/helper/dead-device", test_dead_device);
  g_test_add_func("/helper/gap", test_gap);
  return g_test_run();
}
