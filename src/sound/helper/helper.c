/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The sound helper: a program of its own that owns the sound devices. Started by the programs with a pipe on
 * standard input and one on standard output; speaks the protocol of protocol.h. It never blocks on either
 * pipe, goes on answering while a device stalls, and fades to silence on stop, on the end of its input, and
 * without heartbeats.
 */
#include "sound/helper/device_thread.h"

#include <errno.h>
#include <fcntl.h>
#include <glib-unix.h>
#include <math.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#define TURN_MS 5 /* between looks at the engine */
#define STATUS_MS 50
#define DEVICE_START_MS 4000 /* from opening to the first block: sound servers take their time */
#define DEVICE_SETTLE_MS                                                                                     \
  500                       /* after the first block: sound servers find their latency only then, by a slip */
#define DEVICE_STILL_MS 700 /* a device that asks for nothing this long is gone */
#define DEVICE_ANSWER_MS 8000
#define FADE_OUT_MS 120 /* at the end: time for the stop fade and the device's buffer */
/* What may wait for a program that does not read: recordings in full, the input stream hardly at all. */
#define LIVE_WAITING_MOST (512u << 10)
#define WAITING_MOST (192u << 20)

typedef struct {
  int in, out;
  GByteArray *waiting;
  gsize written;
  CwMessageParser *parser;
  CwDeviceThread *devices;
  CwEngine *engine;       /* NULL: nothing open */
  guint32 opening_serial; /* of an open that is done once the first block has come; 0: none */
  guint requests;         /* with the device thread */
  gint64 asked_us;
  CwPlayback *loading;
  guint32 playing_serial;  /* 0: none */
  guint32 recording_frame; /* next to be sent */
  guint32 live_frame;
  gboolean live, practice;
  guint32 blocks;
  gint64 blocks_us, settled_us, status_us;
  gboolean greeted, leaving;
} Helper;

static void tell(Helper *helper, const CwMessage *message)
{
  if (helper->waiting->len > WAITING_MOST) {
    helper->leaving = TRUE; /* nobody has read for minutes */
    return;
  }
  cw_message_encode(message, helper->waiting);
}

static void send_trouble(Helper *helper, guint32 serial, guint32 code, const char *words)
{
  char text[CW_SOUND_TEXT_MOST];
  g_strlcpy(text, words, sizeof text);
  if (!g_utf8_validate(text, -1, NULL))
    *(char *)g_utf8_find_prev_char(text, text + strlen(text)) = '\0';
  tell(helper,
       &(CwMessage){.kind = CW_MESSAGE_TROUBLE, .trouble = {serial, code, *text ? text : (char *)"unknown"}});
}

/* Under which of the protocol's codes an error is told. */
static guint32 code_of(const GError *error)
{
  if (error->domain == CW_PRACTICE_ERROR)
    return CW_SOUND_ERROR_PRACTICE;
  return error->domain == CW_SOUND_ERROR ? (guint32)error->code : CW_SOUND_ERROR_REQUEST;
}

static void send_error(Helper *helper, guint32 serial, GError *error)
{
  send_trouble(helper, serial, code_of(error), error->message);
  g_error_free(error);
}

static void flush(Helper *helper)
{
  if (helper->written < helper->waiting->len) {
    gssize wrote =
        write(helper->out, helper->waiting->data + helper->written, helper->waiting->len - helper->written);
    if (wrote > 0)
      helper->written += (gsize)wrote;
    else if (wrote < 0 && errno != EAGAIN && errno != EINTR)
      helper->leaving = TRUE;
  }
  if (helper->written == helper->waiting->len) {
    g_byte_array_set_size(helper->waiting, 0);
    helper->written = 0;
  } else if (helper->written > 1 << 20) {
    g_byte_array_remove_range(helper->waiting, 0, (guint)helper->written);
    helper->written = 0;
  }
}

/* What the engine has for the program. */

static guint32 send_audio(Helper *helper, CwMessageKind kind, guint32 serial, guint32 first_frame,
                          guint32 (*read_frames)(CwEngine *, float *, guint32))
{
  static float sample[CW_SOUND_CHUNK_SAMPLES_MOST];
  guint32 channels = cw_engine_get_inputs(helper->engine), frames;
  if (channels == 0)
    return first_frame;
  while ((frames = read_frames(helper->engine, sample, CW_SOUND_CHUNK_SAMPLES_MOST / channels)) > 0) {
    for (gsize i = 0; i < (gsize)frames * channels; i++)
      if (!(fabsf(sample[i]) <= 1e6f)) /* a broken device may deliver anything */
        sample[i] = 0;
    if (kind == CW_MESSAGE_RECORDING || helper->waiting->len < LIVE_WAITING_MOST)
      tell(helper, &(CwMessage){.kind = kind, .audio = {serial, {first_frame, channels, frames, sample}}});
    first_frame += frames;
  }
  return first_frame;
}

static void send_finished(Helper *helper, const CwPlayback *playback)
{
  tell(helper, &(CwMessage){.kind = CW_MESSAGE_FINISHED,
                            .finished = {playback->asked.serial, playback->ending, playback->recorded_frames,
                                         playback->xruns, playback->lost_frames, playback->limited_samples}});
}

static void look_at_engine(Helper *helper)
{
  if (!helper->engine)
    return;
  CwPlayback *finished = helper->playing_serial ? cw_engine_take_finished(helper->engine) : NULL;
  if (helper->playing_serial)
    helper->recording_frame = send_audio(helper, CW_MESSAGE_RECORDING, helper->playing_serial,
                                         helper->recording_frame, cw_engine_read_recording);
  if (helper->live)
    helper->live_frame =
        send_audio(helper, CW_MESSAGE_LIVE_BLOCK, 0, helper->live_frame, cw_engine_read_live);
  if (finished) {
    send_finished(helper, finished);
    cw_playback_free(finished);
    helper->playing_serial = 0;
  }
}

static void device_is_gone(Helper *helper)
{
  if (helper->playing_serial)
    tell(helper, &(CwMessage){.kind = CW_MESSAGE_FINISHED,
                              .finished = {helper->playing_serial, CW_SOUND_DEVICE_GONE,
                                           helper->recording_frame, 1, 0, 0}});
  send_trouble(helper, 0, CW_SOUND_ERROR_DEVICE,
               helper->opening_serial ? "The sound device opens, but asks for no sound."
                                      : "The sound device has stopped; it may have been unplugged.");
  helper->opening_serial = 0;
  /* The engine stays with the device thread: its callback may yet come back. */
  helper->engine = NULL;
  helper->playing_serial = 0;
  helper->live = FALSE;
}

static void watch_devices(Helper *helper, gint64 now_us)
{
  if (helper->requests > 0 && now_us - helper->asked_us > DEVICE_ANSWER_MS * 1000) {
    send_trouble(helper, 0, CW_SOUND_ERROR_DEVICE, "The sound device does not answer.");
    helper->asked_us = G_MAXINT64 / 2;
  }
  if (!helper->engine)
    return;
  guint32 blocks = cw_engine_get_blocks(helper->engine);
  gint64 patience_ms = helper->settled_us == 0 ? DEVICE_START_MS : DEVICE_STILL_MS;
  if (blocks != helper->blocks) {
    helper->blocks = blocks;
    helper->blocks_us = now_us;
    if (helper->settled_us == 0)
      helper->settled_us = now_us + (helper->practice ? 0 : DEVICE_SETTLE_MS * 1000);
    if (helper->opening_serial && now_us >= helper->settled_us) {
      tell(helper, &(CwMessage){.kind = CW_MESSAGE_DONE,
                                .done = {helper->opening_serial, cw_engine_get_rate_hz(helper->engine)}});
      helper->opening_serial = 0;
    }
  } else if (now_us - helper->blocks_us > patience_ms * 1000) {
    device_is_gone(helper);
  }
}

static void send_status(Helper *helper, gint64 now_us)
{
  if (now_us - helper->status_us < STATUS_MS * 1000)
    return;
  helper->status_us = now_us;
  CwMessage message = {.kind = CW_MESSAGE_STATUS};
  if (helper->engine)
    cw_engine_read_status(helper->engine, &message.status);
  if (helper->requests > 0 || helper->opening_serial)
    message.status.state = CW_SOUND_BUSY;
  else if (helper->loading)
    message.status.state = CW_SOUND_LOADING;
  message.status.serial = helper->playing_serial;
  tell(helper, &message);
}

/* What the device thread answers. */

static void on_answer(Helper *helper, CwDeviceAnswer *answer)
{
  helper->requests--;
  helper->asked_us = g_get_monotonic_time();
  if (answer->kind == CW_MESSAGE_OPEN && answer->engine) {
    helper->engine = answer->engine;
    helper->opening_serial = answer->serial;
    helper->practice = answer->practice;
    helper->blocks = 0;
    helper->settled_us = 0;
    helper->blocks_us = helper->asked_us;
    cw_engine_set_live(helper->engine, helper->live);
  } else if (answer->error) {
    send_error(helper, answer->serial, g_steal_pointer(&answer->error));
  } else if (answer->kind == CW_MESSAGE_LIST) {
    tell(helper, &(CwMessage){.kind = CW_MESSAGE_DEVICES,
                              .devices = {MIN(answer->devices->len, CW_SOUND_DEVICES_MOST),
                                          (CwSoundDevice *)(gpointer)answer->devices->data}});
  } else {
    tell(helper, &(CwMessage){.kind = CW_MESSAGE_DONE, .done = {answer->serial, 0}});
  }
  cw_device_answer_free(answer);
}

/* What the program says. */

static void ask_devices(Helper *helper, const CwMessage *message)
{
  if (message->kind != CW_MESSAGE_LIST) {
    /* The engine goes with what was open. */
    if (helper->playing_serial)
      tell(helper, &(CwMessage){.kind = CW_MESSAGE_FINISHED,
                                .finished = {helper->playing_serial, CW_SOUND_STOPPED,
                                             helper->recording_frame, 0, 0, 0}});
    helper->playing_serial = helper->opening_serial = 0;
    helper->engine = NULL;
    helper->live = FALSE;
    g_clear_pointer(&helper->loading, cw_playback_free);
  }
  if (helper->requests++ == 0)
    helper->asked_us = g_get_monotonic_time();
  cw_device_thread_ask(helper->devices, message);
}

static void begin_when_loaded(Helper *helper)
{
  GError *error = NULL;
  if (!helper->loading || !cw_playback_is_loaded(helper->loading))
    return;
  CwPlayback *playback = g_steal_pointer(&helper->loading);
  if (!cw_playback_check_level(playback, &error)) {
    send_error(helper, playback->asked.serial, error);
    cw_playback_free(playback);
    return;
  }
  helper->playing_serial = playback->asked.serial;
  helper->recording_frame = 0;
  cw_engine_begin(helper->engine, playback);
}

static void on_play(Helper *helper, const CwMessagePlay *play)
{
  GError *error = NULL;
  if (!helper->engine || helper->opening_serial || helper->playing_serial || helper->loading) {
    send_trouble(helper, play->serial, CW_SOUND_ERROR_REQUEST,
                 helper->engine ? "Another sound is still being played." : "No sound device is open.");
    return;
  }
  helper->loading = cw_playback_new(play, cw_engine_get_rate_hz(helper->engine),
                                    cw_engine_get_outputs(helper->engine), &error);
  if (!helper->loading)
    send_error(helper, play->serial, error);
  begin_when_loaded(helper);
}

static void on_feed(Helper *helper, const CwMessageAudio *feed)
{
  GError *error = NULL;
  if (!helper->loading || feed->serial != helper->loading->asked.serial)
    return; /* of a play that was stopped or refused meanwhile */
  if (!cw_playback_load(helper->loading, &feed->audio, &error)) {
    send_error(helper, feed->serial, error);
    g_clear_pointer(&helper->loading, cw_playback_free);
  }
  begin_when_loaded(helper);
}

static void on_stop(Helper *helper)
{
  if (helper->loading) {
    helper->loading->ending = CW_SOUND_STOPPED;
    send_finished(helper, helper->loading);
    g_clear_pointer(&helper->loading, cw_playback_free);
  }
  if (helper->engine && helper->playing_serial)
    cw_engine_stop(helper->engine);
}

static void on_message(Helper *helper, const CwMessage *message)
{
  if (!helper->greeted) {
    helper->greeted = message->kind == CW_MESSAGE_HELLO && message->hello.version == CW_PROTOCOL_VERSION;
    helper->leaving = !helper->greeted;
    return;
  }
  switch (message->kind) {
  case CW_MESSAGE_HEARTBEAT:
    if (helper->engine)
      cw_engine_beat(helper->engine);
    break;
  case CW_MESSAGE_LIST:
  case CW_MESSAGE_PRACTICE:
  case CW_MESSAGE_OPEN:
    ask_devices(helper, message);
    break;
  case CW_MESSAGE_PLAY:
    on_play(helper, &message->play);
    break;
  case CW_MESSAGE_FEED:
    on_feed(helper, &message->audio);
    break;
  case CW_MESSAGE_LIVE:
    helper->live = message->live.on;
    if (helper->engine)
      cw_engine_set_live(helper->engine, helper->live);
    break;
  case CW_MESSAGE_STOP:
    on_stop(helper);
    break;
  default: /* quit, and what only a helper may say */
    helper->leaving = TRUE;
    break;
  }
}

static void read_program(Helper *helper)
{
  guint8 bytes[65536];
  gssize got = read(helper->in, bytes, sizeof bytes);
  if (got == 0 || (got < 0 && errno != EAGAIN && errno != EINTR)) {
    helper->leaving = TRUE;
    return;
  }
  if (got < 0)
    return;
  CwMessage message;
  GError *error = NULL;
  cw_message_parser_push(helper->parser, bytes, (gsize)got);
  while (!helper->leaving && cw_message_parser_next(helper->parser, &message, &error)) {
    on_message(helper, &message);
    cw_message_clear(&message);
  }
  if (error) {
    send_error(helper, 0, error);
    helper->leaving = TRUE;
  }
}

static void turn(Helper *helper)
{
  struct pollfd wait[3] = {{helper->in, POLLIN, 0},
                           {cw_device_thread_get_fd(helper->devices), POLLIN, 0},
                           {helper->out, POLLOUT, 0}};
  nfds_t count = helper->waiting->len > helper->written ? 3 : 2;
  poll(wait, count, helper->engine ? TURN_MS : STATUS_MS);
  if (wait[0].revents)
    read_program(helper);
  CwDeviceAnswer *answer;
  while ((answer = cw_device_thread_take(helper->devices)) != NULL)
    on_answer(helper, answer);
  gint64 now_us = g_get_monotonic_time();
  watch_devices(helper, now_us);
  look_at_engine(helper);
  send_status(helper, now_us);
  flush(helper);
}

/* Silence first, then go. The device may hang: then it is left to the system. */
static void leave(Helper *helper)
{
  on_stop(helper);
  gint64 until_us = g_get_monotonic_time() + FADE_OUT_MS * 1000;
  while (helper->engine && helper->playing_serial && g_get_monotonic_time() < until_us) {
    g_usleep(TURN_MS * 1000);
    look_at_engine(helper);
  }
  flush(helper);
  cw_device_thread_close(helper->devices, 300);
  _exit(0);
}

int main(void)
{
  signal(SIGPIPE, SIG_IGN);
  Helper helper = {.in = STDIN_FILENO, .waiting = g_byte_array_new(), .parser = cw_message_parser_new()};
  /* The libraries below print where they like: keep the protocol's pipe out of their reach. */
  helper.out = fcntl(STDOUT_FILENO, F_DUPFD_CLOEXEC, 3);
  if (helper.out < 0 || dup2(STDERR_FILENO, STDOUT_FILENO) < 0) {
    fprintf(
        stderr,
        "cabinwright-sound: it is started by cabinwright and needs pipes on standard input and output.\n");
    return 2;
  }
  g_unix_set_fd_nonblocking(helper.in, TRUE, NULL);
  g_unix_set_fd_nonblocking(helper.out, TRUE, NULL);
  helper.devices = cw_device_thread_new();
  tell(&helper,
       &(CwMessage){.kind = CW_MESSAGE_HELLO, .hello = {CW_PROTOCOL_VERSION, (char *)"cabinwright-sound"}});
  while (!helper.leaving)
    turn(&helper);
  leave(&helper);
}
