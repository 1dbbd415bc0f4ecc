/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/protocol.h"

#include <math.h>
#include <string.h>

static float samples[6] = {0, -1, 0.25f, 1e-30f, 3, -0.5f};
static CwSoundDevice devices[2] = {{(char *)"practice-bay", (char *)"Übungsplatz", 2, 12, 96000, 1},
                                   {(char *)"a", (char *)"b", 32, 0, 44100, 0}};

/* One of each kind, no field left at zero where it need not be. */
static const CwMessage every[] = {
    {.kind = CW_MESSAGE_HELLO, .hello = {CW_PROTOCOL_VERSION, (char *)"tester"}},
    {.kind = CW_MESSAGE_HEARTBEAT, .heartbeat = {4000000000u}},
    {.kind = CW_MESSAGE_LIST},
    {.kind = CW_MESSAGE_PRACTICE, .practice = {7, (char *)"{\"car\":\"rowan-van\"}"}},
    {.kind = CW_MESSAGE_OPEN, .open = {8, (char *)"ALSA: x", (char *)"ALSA: y", 44100.5, 3, 9, 512}},
    {.kind = CW_MESSAGE_PLAY, .play = {9, 48000, {2, {5, 31}}, {2, {80.25, 0}}, -12.5, -6, 50, 1, 96000}},
    {.kind = CW_MESSAGE_FEED, .audio = {9, {1234, 2, 3, samples}}},
    {.kind = CW_MESSAGE_LIVE, .live = {1}},
    {.kind = CW_MESSAGE_STOP},
    {.kind = CW_MESSAGE_QUIT},
    {.kind = CW_MESSAGE_DEVICES, .devices = {2, devices}},
    {.kind = CW_MESSAGE_DONE, .done = {10, 48000}},
    {.kind = CW_MESSAGE_STATUS, .status = {CW_SOUND_FADING, 9, 777, 2, {2, {0.5, 0.25}}, {1, {0.125}}}},
    {.kind = CW_MESSAGE_RECORDING, .audio = {9, {4321, 3, 2, samples}}},
    {.kind = CW_MESSAGE_LIVE_BLOCK, .audio = {0, {1, 1, 6, samples}}},
    {.kind = CW_MESSAGE_FINISHED, .finished = {9, CW_SOUND_ABANDONED, 100, 1, 2, 3}},
    {.kind = CW_MESSAGE_TROUBLE, .trouble = {9, CW_SOUND_ERROR_DEVICE, (char *)"It is gone."}},
};

static GByteArray *encode(const CwMessage *message)
{
  GByteArray *bytes = g_byte_array_new();
  g_assert_true(cw_message_encode(message, bytes));
  return bytes;
}

static void test_every_kind(void)
{
  g_assert_cmpuint(G_N_ELEMENTS(every), ==, CW_MESSAGE_KINDS - 1);
  for (guint i = 0; i < G_N_ELEMENTS(every); i++)
    g_assert_cmpuint(every[i].kind, ==, i + 1);
}

/* All of them in one stream, cut at every possible length of piece: what comes out encodes to the same bytes.
 */
static void test_round_trip(void)
{
  GByteArray *stream = g_byte_array_new();
  for (guint i = 0; i < G_N_ELEMENTS(every); i++)
    g_assert_true(cw_message_encode(&every[i], stream));
  for (guint piece = 1; piece < 80; piece++) {
    CwMessageParser *parser = cw_message_parser_new();
    guint next = 0;
    for (guint at = 0; at < stream->len; at += piece) {
      CwMessage message;
      GError *error = NULL;
      cw_message_parser_push(parser, stream->data + at, MIN(piece, stream->len - at));
      while (cw_message_parser_next(parser, &message, &error)) {
        GByteArray *expected = encode(&every[next++]), *found = encode(&message);
        g_assert_cmpmem(found->data, found->len, expected->data, expected->len);
        g_byte_array_unref(expected);
        g_byte_array_unref(found);
        cw_message_clear(&message);
      }
      g_assert_no_error(error);
    }
    g_assert_cmpuint(next, ==, G_N_ELEMENTS(every));
    cw_message_parser_free(parser);
  }
  g_byte_array_unref(stream);
}

static void test_fields(void)
{
  GByteArray *bytes = encode(&every[CW_MESSAGE_PLAY - 1]);
  CwMessageParser *parser = cw_message_parser_new();
  CwMessage message;
  cw_message_parser_push(parser, bytes->data, bytes->len);
  g_assert_true(cw_message_parser_next(parser, &message, NULL));
  g_assert_cmpuint(message.play.route.value[1], ==, 31);
  g_assert_cmpfloat(message.play.protect_hz.value[0], ==, 80.25);
  g_assert_cmpfloat(message.play.gain_db, ==, -12.5);
  g_assert_cmpuint(message.play.record_frames, ==, 96000);
  cw_message_clear(&message);
  cw_message_parser_free(parser);
  g_byte_array_unref(bytes);
}

/* Feeds bytes to a parser until it is silent; returns whether it refused them, with words. */
static gboolean is_refused(const guint8 *data, gsize length)
{
  CwMessageParser *parser = cw_message_parser_new();
  CwMessage message;
  GError *error = NULL;
  cw_message_parser_push(parser, data, length);
  while (cw_message_parser_next(parser, &message, &error)) {
    /* Whatever is let through must be fit to be sent. */
    g_byte_array_unref(encode(&message));
    cw_message_clear(&message);
  }
  gboolean refused = error != NULL;
  if (refused) {
    g_assert_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_PROTOCOL);
    g_assert_true(g_str_has_prefix(error->message, "sound message"));
    g_clear_error(&error);
    /* It stays refused. */
    cw_message_parser_push(parser, data, length);
    g_assert_false(cw_message_parser_next(parser, &message, &error));
    g_assert_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_PROTOCOL);
    g_clear_error(&error);
  }
  cw_message_parser_free(parser);
  return refused;
}

static void test_rubbish(void)
{
  guint8 bytes[256];
  for (int turn = 0; turn < 2000; turn++) {
    for (guint i = 0; i < sizeof bytes; i++)
      bytes[i] = (guint8)g_test_rand_int();
    g_assert_true(is_refused(bytes, sizeof bytes));
  }
}

/* Right messages with a few bytes changed: refused or understood, never anything else. */
static void test_damaged(void)
{
  guint refused = 0, turns = 0;
  for (guint i = 0; i < G_N_ELEMENTS(every); i++) {
    GByteArray *bytes = encode(&every[i]);
    for (int turn = 0; turn < 500; turn++, turns++) {
      guint8 *copy = g_memdup2(bytes->data, bytes->len);
      int changes = g_test_rand_int_range(1, 4);
      for (int k = 0; k < changes; k++)
        copy[g_test_rand_int_range(0, (gint32)bytes->len)] ^= (guint8)(1 << g_test_rand_int_range(0, 8));
      refused += is_refused(copy, bytes->len) ? 1 : 0;
      g_free(copy);
    }
    g_byte_array_unref(bytes);
  }
  g_assert_cmpuint(refused, >, turns / 4);
}

/* Puts one 32-bit word in place of another and expects refusal. */
static void assert_word_refused(guint message, guint offset, guint32 word)
{
  GByteArray *bytes = encode(&every[message - 1]);
  word = GUINT32_TO_LE(word);
  g_assert_cmpuint(offset + sizeof word, <=, bytes->len);
  memcpy(bytes->data + offset, &word, sizeof word);
  g_assert_true(is_refused(bytes->data, bytes->len));
  g_byte_array_unref(bytes);
}

static void test_bounds(void)
{
  const guint payload = CW_MESSAGE_HEAD_BYTES;
  assert_word_refused(CW_MESSAGE_STOP, 8, CW_MESSAGE_PAYLOAD_MOST + 1); /* length */
  assert_word_refused(CW_MESSAGE_STOP, 8, 0xffffffff);
  assert_word_refused(CW_MESSAGE_STOP, 4, 0);
  assert_word_refused(CW_MESSAGE_STOP, 4, CW_MESSAGE_KINDS);
  assert_word_refused(CW_MESSAGE_LIVE, payload, 2);
  assert_word_refused(CW_MESSAGE_FEED, payload + 8, 0); /* channels */
  assert_word_refused(CW_MESSAGE_FEED, payload + 8, 33);
  assert_word_refused(CW_MESSAGE_FEED, payload + 12, 0x80000000); /* frames */
  assert_word_refused(CW_MESSAGE_FEED, payload + 12, 4);          /* more than there are */
  assert_word_refused(CW_MESSAGE_FEED, payload + 16, 0x7fc00000); /* not a number */
  assert_word_refused(CW_MESSAGE_FEED, payload + 16, 0x7f800000); /* infinite */
  assert_word_refused(CW_MESSAGE_PLAY, payload + 8, 33);          /* channels routed */
  assert_word_refused(CW_MESSAGE_PLAY, payload + 12, 32);         /* an output */
  assert_word_refused(CW_MESSAGE_DEVICES, payload, 65);
  assert_word_refused(CW_MESSAGE_DEVICES, payload + 4, 0xfffffff0); /* length of a name */
  assert_word_refused(CW_MESSAGE_TROUBLE, payload + 8, 0);          /* no words */
  assert_word_refused(CW_MESSAGE_HELLO, payload + 8, 0x00ff00ff);   /* text with a null and not UTF-8 */
}

/* What is out of bounds cannot be sent by mistake either. */
static void test_encode_refuses(void)
{
  GByteArray *bytes = g_byte_array_new();
  CwMessage message = every[CW_MESSAGE_PLAY - 1];
  message.play.gain_db = NAN;
  g_test_expect_message(NULL, G_LOG_LEVEL_CRITICAL, "*gain_db is out of its bounds*");
  g_assert_false(cw_message_encode(&message, bytes));
  g_test_assert_expected_messages();
  g_assert_cmpuint(bytes->len, ==, 0);
  g_byte_array_unref(bytes);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/protocol/every-kind", test_every_kind);
  g_test_add_func("/protocol/round-trip", test_round_trip);
  g_test_add_func("/protocol/fields", test_fields);
  g_test_add_func("/protocol/rubbish", test_rubbish);
  g_test_add_func("/protocol/damaged", test_damaged);
  g_test_add_func("/protocol/bounds", test_bounds);
  g_test_add_func("/protocol/encode-refuses", test_encode_refuses);
  return g_test_run();
}
