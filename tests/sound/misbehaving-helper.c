/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A sound helper that does one thing wrong: the one that it is called by (a link's name). Good enough at
 * everything else to get there.
 */
#include "sound/protocol.h"

#include <poll.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

static void say_bytes(const void *bytes, gsize length)
{
  const char *at = bytes;
  while (length > 0) {
    gssize wrote = write(STDOUT_FILENO, at, length);
    if (wrote <= 0)
      exit(0);
    at += wrote;
    length -= (gsize)wrote;
  }
}

static void say(const CwMessage *message)
{
  GByteArray *bytes = g_byte_array_new();
  cw_message_encode(message, bytes);
  say_bytes(bytes->data, bytes->len);
  g_byte_array_unref(bytes);
}

static void say_status(CwSoundState state, guint32 serial, guint32 position)
{
  say(&(CwMessage){.kind = CW_MESSAGE_STATUS, .status = {state, serial, position, 0, {0}, {0}}});
}

static void hang(void)
{
  for (;;)
    pause();
}

static G_GNUC_NORETURN void flood(void)
{
  for (;;)
    say_status(CW_SOUND_IDLE, 0, 0);
}

/* A head that announces more than there may be. */
static void lie(void)
{
  const guint32 head[3] = {GUINT32_TO_LE(0x31535743u), GUINT32_TO_LE(CW_MESSAGE_TROUBLE),
                           GUINT32_TO_LE(0xfffffff0u)};
  say_bytes(head, sizeof head);
  hang();
}

static void talk_rubbish(void)
{
  guint32 word = 12345;
  for (int i = 0; i < 1000; i++) {
    word = word * 1664525u + 1013904223u;
    say_bytes(&word, sizeof word);
  }
  hang();
}

/* One byte of a status every 50 ms: always busy, never done. */
static void dribble(void)
{
  GByteArray *bytes = g_byte_array_new();
  cw_message_encode(&(CwMessage){.kind = CW_MESSAGE_STATUS}, bytes);
  for (guint i = 0; i < bytes->len; i++) {
    say_bytes(bytes->data + i, 1);
    g_usleep(50000);
  }
}

static void misbehave_at_play(const char *how, const CwMessagePlay *play)
{
  if (strcmp(how, "dies") == 0)
    abort();
  if (strcmp(how, "hangs") == 0)
    hang();
  if (strcmp(how, "floods") == 0)
    flood();
  if (strcmp(how, "lies") == 0)
    lie();
  if (strcmp(how, "rubbish") == 0)
    talk_rubbish();
  if (strcmp(how, "dribbles") == 0)
    dribble();
  if (strcmp(how, "too-much") == 0) {
    float sample[512] = {0};
    for (guint32 at = 0; at < play->record_frames + 1024; at += 256)
      say(&(CwMessage){.kind = CW_MESSAGE_RECORDING, .audio = {play->serial, {at, 2, 256, sample}}});
    hang();
  }
}

static void answer(const char *how, const CwMessage *message, guint32 *playing)
{
  if (message->kind == CW_MESSAGE_LIST) {
    CwSoundDevice device = {(char *)"test", (char *)"Test", 2, 2, 48000, 0};
    say(&(CwMessage){.kind = CW_MESSAGE_DEVICES, .devices = {1, &device}});
  } else if (message->kind == CW_MESSAGE_PRACTICE) {
    say(&(CwMessage){.kind = CW_MESSAGE_DONE, .done = {message->practice.serial, 0}});
  } else if (message->kind == CW_MESSAGE_OPEN) {
    say(&(CwMessage){.kind = CW_MESSAGE_DONE, .done = {message->open.serial, message->open.rate_hz}});
  } else if (message->kind == CW_MESSAGE_PLAY) {
    *playing = message->play.serial;
    misbehave_at_play(how, &message->play);
  } else if (message->kind == CW_MESSAGE_STOP && strcmp(how, "deaf") != 0) {
    say(&(CwMessage){.kind = CW_MESSAGE_FINISHED, .finished = {*playing, CW_SOUND_STOPPED, 0, 0, 0, 0}});
  }
}

int main(int argc, char **argv)
{
  const char *how = strrchr(argv[0], '/');
  how = how ? how + 1 : argv[0];
  if (strcmp(how, "mute") == 0)
    hang();
  guint32 version = strcmp(how, "old") == 0 ? CW_PROTOCOL_VERSION + 41 : CW_PROTOCOL_VERSION, playing = 0,
          turns = 0;
  if (strcmp(how, "stranger") == 0)
    say_status(CW_SOUND_IDLE, 0, 0);
  say(&(CwMessage){.kind = CW_MESSAGE_HELLO, .hello = {version, (char *)"misbehaving"}});
  CwMessageParser *parser = cw_message_parser_new();
  for (;;) {
    struct pollfd in = {STDIN_FILENO, POLLIN, 0};
    guint8 bytes[65536];
    CwMessage message;
    if (poll(&in, 1, 50) > 0) {
      gssize got = read(STDIN_FILENO, bytes, sizeof bytes);
      if (got <= 0)
        return 0;
      cw_message_parser_push(parser, bytes, (gsize)got);
      while (cw_message_parser_next(parser, &message, NULL)) {
        answer(how, &message, &playing);
        cw_message_clear(&message);
      }
    }
    /* "stalls": the helper answers, but the sound stands still. */
    say_status(playing ? CW_SOUND_PLAYING : CW_SOUND_IDLE, playing, strcmp(how, "stalls") == 0 ? 7 : ++turns);
  }
}
