/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/protocol_fields.h"

#include <string.h>

/* Reading. A Reader never looks past `left`; once it has failed, every further read fails too. */

typedef struct {
  const guint8 *at;
  gsize left;
  const char *kind;
  GError **error;
} Reader;

static gboolean fail(Reader *reader, const char *field, const char *expected)
{
  g_set_error(reader->error, CW_SOUND_ERROR, CW_SOUND_ERROR_PROTOCOL, "sound message '%s': %s: expected %s",
              reader->kind, field, expected);
  return FALSE;
}

static gboolean get_word(Reader *reader, const char *field, guint32 *value)
{
  if (reader->left < sizeof *value)
    return fail(reader, field, "4 more bytes");
  memcpy(value, reader->at, sizeof *value);
  *value = GUINT32_FROM_LE(*value);
  reader->at += sizeof *value;
  reader->left -= sizeof *value;
  return TRUE;
}

static gboolean get_double(Reader *reader, const char *field, double *value)
{
  guint64 word;
  if (reader->left < sizeof word)
    return fail(reader, field, "8 more bytes");
  memcpy(&word, reader->at, sizeof word);
  word = GUINT64_FROM_LE(word);
  memcpy(value, &word, sizeof *value);
  reader->at += sizeof word;
  reader->left -= sizeof word;
  return TRUE;
}

static gboolean check_bounds(Reader *reader, const CwProtocolField *field, double value)
{
  if (cw_protocol_within(field, value))
    return TRUE;
  char expected[96];
  g_snprintf(expected, sizeof expected, "%g to %g, got %g", field->least, field->most, value);
  return fail(reader, field->name, expected);
}

static gboolean get_text(Reader *reader, const CwProtocolField *field, char **text)
{
  guint32 length;
  if (!get_word(reader, field->name, &length) || !check_bounds(reader, field, length))
    return FALSE;
  if (reader->left < length)
    return fail(reader, field->name, "as many bytes of text as announced");
  if (!g_utf8_validate_len((const char *)reader->at, length, NULL))
    return fail(reader, field->name, "UTF-8 text");
  *text = g_strndup((const char *)reader->at, length);
  reader->at += length;
  reader->left -= length;
  return TRUE;
}

static gboolean get_audio(Reader *reader, const CwProtocolField *field, CwAudioChunk *audio)
{
  if (!get_word(reader, "first frame", &audio->first_frame) ||
      !get_word(reader, "channels", &audio->channels) || !get_word(reader, "frames", &audio->frames))
    return FALSE;
  if (audio->channels < 1 || audio->channels > CW_SOUND_CHANNELS_MOST)
    return fail(reader, "channels", "1 to 32");
  guint64 samples = (guint64)audio->channels * audio->frames;
  if (samples > CW_SOUND_CHUNK_SAMPLES_MOST)
    return fail(reader, "frames", "at most 16384 samples in a chunk");
  if (reader->left != samples * sizeof(float))
    return fail(reader, field->name, "as many samples as announced");
  audio->sample = g_new(float, MAX(samples, 1));
  for (guint64 i = 0; i < samples; i++) {
    guint32 word = 0;
    if (!get_word(reader, field->name, &word))
      return FALSE;
    memcpy(&audio->sample[i], &word, sizeof word);
    if (!cw_protocol_within(field, audio->sample[i]))
      return fail(reader, field->name, "finite samples");
  }
  return TRUE;
}

static gboolean get_devices(Reader *reader, CwMessageDevices *devices)
{
  static const CwProtocolField text = {"device name", FIELD_TEXT, 0, 1, CW_SOUND_TEXT_MOST};
  static const CwProtocolField channels = {"device channels", FIELD_COUNT, 0, 0, CW_SOUND_CHANNELS_MOST};
  static const CwProtocolField rate = {"device rate_hz", FIELD_NUMBER, 0, 0, 1e6};
  static const CwProtocolField practice = {"device practice", FIELD_COUNT, 0, 0, 1};
  guint32 count;
  if (!get_word(reader, "devices", &count))
    return FALSE;
  if (count > CW_SOUND_DEVICES_MOST)
    return fail(reader, "devices", "at most 64");
  devices->device = g_new0(CwSoundDevice, MAX(count, 1));
  devices->count = count;
  for (guint32 i = 0; i < count; i++) {
    CwSoundDevice *device = &devices->device[i];
    if (!get_text(reader, &text, &device->name) || !get_text(reader, &text, &device->label) ||
        !get_word(reader, channels.name, &device->inputs) ||
        !check_bounds(reader, &channels, device->inputs) ||
        !get_word(reader, channels.name, &device->outputs) ||
        !check_bounds(reader, &channels, device->outputs) ||
        !get_double(reader, rate.name, &device->rate_hz) || !check_bounds(reader, &rate, device->rate_hz) ||
        !get_word(reader, practice.name, &device->practice) ||
        !check_bounds(reader, &practice, device->practice))
      return FALSE;
  }
  return TRUE;
}

static gboolean get_list_count(Reader *reader, const CwProtocolField *field, guint32 *count)
{
  guint32 announced;
  if (!get_word(reader, field->name, &announced))
    return FALSE;
  if (announced > CW_SOUND_CHANNELS_MOST)
    return fail(reader, field->name, "at most 32 channels");
  *count = announced;
  return TRUE;
}

static gboolean get_field(Reader *reader, const CwProtocolField *field, gpointer member)
{
  switch (field->type) {
  case FIELD_COUNT:
    return get_word(reader, field->name, member) && check_bounds(reader, field, *(guint32 *)member);
  case FIELD_NUMBER:
    return get_double(reader, field->name, member) && check_bounds(reader, field, *(double *)member);
  case FIELD_TEXT:
    return get_text(reader, field, member);
  case FIELD_AUDIO:
    return get_audio(reader, field, member);
  case FIELD_DEVICES:
    return get_devices(reader, member);
  case FIELD_CHANNELS: {
    CwChannelList *list = member;
    if (!get_list_count(reader, field, &list->count))
      return FALSE;
    for (guint32 i = 0; i < list->count; i++)
      if (!get_word(reader, field->name, &list->value[i]) || !check_bounds(reader, field, list->value[i]))
        return FALSE;
    return TRUE;
  }
  case FIELD_NUMBERS: {
    CwChannelNumbers *list = member;
    if (!get_list_count(reader, field, &list->count))
      return FALSE;
    for (guint32 i = 0; i < list->count; i++)
      if (!get_double(reader, field->name, &list->value[i]) || !check_bounds(reader, field, list->value[i]))
        return FALSE;
    return TRUE;
  }
  }
  return FALSE;
}

static gboolean decode(guint32 kind, const guint8 *payload, gsize length, CwMessage *message, GError **error)
{
  const CwProtocolKind *row = cw_protocol_kind(kind);
  Reader reader = {payload, length, row->name, error};
  memset(message, 0, sizeof *message);
  message->kind = (CwMessageKind)kind;
  for (gsize i = 0; i < row->fields; i++)
    if (!get_field(&reader, &row->field[i], G_STRUCT_MEMBER_P(message, row->field[i].offset)))
      goto wrong;
  if (reader.left > 0) {
    fail(&reader, "payload", "nothing after its last field");
    goto wrong;
  }
  return TRUE;
wrong:
  cw_message_clear(message);
  return FALSE;
}

struct CwMessageParser {
  GByteArray *bytes;
  gsize taken; /* bytes at the front that belong to messages already returned */
  GError *error;
};

CwMessageParser *cw_message_parser_new(void)
{
  CwMessageParser *parser = g_new0(CwMessageParser, 1);
  parser->bytes = g_byte_array_new();
  return parser;
}

void cw_message_parser_free(CwMessageParser *parser)
{
  if (!parser)
    return;
  g_byte_array_unref(parser->bytes);
  g_clear_error(&parser->error);
  g_free(parser);
}

void cw_message_parser_push(CwMessageParser *parser, const guint8 *bytes, gsize length)
{
  g_return_if_fail(parser != NULL && (bytes != NULL || length == 0) && length <= G_MAXUINT / 4);
  if (parser->error)
    return;
  if (parser->taken > 0) {
    g_byte_array_remove_range(parser->bytes, 0, (guint)parser->taken);
    parser->taken = 0;
  }
  g_byte_array_append(parser->bytes, bytes, (guint)length);
}

static guint32 word_at(const guint8 *bytes)
{
  guint32 word;
  memcpy(&word, bytes, sizeof word);
  return GUINT32_FROM_LE(word);
}

gboolean cw_message_parser_next(CwMessageParser *parser, CwMessage *message, GError **error)
{
  g_return_val_if_fail(parser != NULL && message != NULL, FALSE);
  memset(message, 0, sizeof *message);
  const guint8 *at = parser->bytes->data + parser->taken;
  gsize left = parser->bytes->len - parser->taken;

  if (!parser->error && left >= CW_MESSAGE_HEAD_BYTES) {
    guint32 kind = word_at(at + 4), length = word_at(at + 8);
    if (word_at(at) != CW_PROTOCOL_MAGIC)
      g_set_error(&parser->error, CW_SOUND_ERROR, CW_SOUND_ERROR_PROTOCOL,
                  "sound message: expected the four bytes that begin a message");
    else if (kind < 1 || kind >= CW_MESSAGE_KINDS)
      g_set_error(&parser->error, CW_SOUND_ERROR, CW_SOUND_ERROR_PROTOCOL,
                  "sound message: kind %u is not known", kind);
    else if (length > CW_MESSAGE_PAYLOAD_MOST)
      g_set_error(&parser->error, CW_SOUND_ERROR, CW_SOUND_ERROR_PROTOCOL,
                  "sound message '%s': expected at most %u bytes, %u announced", cw_message_kind_name(kind),
                  CW_MESSAGE_PAYLOAD_MOST, length);
    else if (left < CW_MESSAGE_HEAD_BYTES + length)
      return FALSE;
    else if (decode(kind, at + CW_MESSAGE_HEAD_BYTES, length, message, &parser->error)) {
      parser->taken += CW_MESSAGE_HEAD_BYTES + length;
      return TRUE;
    }
  }
  if (parser->error && error)
    *error = g_error_copy(parser->error);
  return FALSE;
}
