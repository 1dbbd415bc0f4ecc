/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/protocol.h"

#include <math.h>
#include <string.h>

#define MAGIC 0x31535743u /* "CWS1" */

G_DEFINE_QUARK(cw - sound - error - quark, cw_sound_error)

/* Every kind is one row of fields; encoding, decoding, bounds and freeing all follow from it. */
typedef enum {
  FIELD_COUNT,
  FIELD_NUMBER,
  FIELD_TEXT,
  FIELD_CHANNELS,
  FIELD_NUMBERS,
  FIELD_AUDIO,
  FIELD_DEVICES
} FieldType;

typedef struct {
  const char *name;
  FieldType type;
  gsize offset;       /* in CwMessage */
  double least, most; /* of the number, or of each number in a list; of a text: its bytes */
} Field;

typedef struct {
  const char *name;
  const Field *field;
  gsize fields;
} Kind;

#define AT(part, member) G_STRUCT_OFFSET(CwMessage, part.member)
#define SERIAL(part)                                                                                         \
  {                                                                                                          \
    "serial", FIELD_COUNT, AT(part, serial), 0, G_MAXUINT32                                                  \
  }

static const Field hello_fields[] = {
    {"version", FIELD_COUNT, AT(hello, version), 0, G_MAXUINT32},
    {"program", FIELD_TEXT, AT(hello, program), 0, CW_SOUND_TEXT_MOST},
};
static const Field heartbeat_fields[] = {{"count", FIELD_COUNT, AT(heartbeat, count), 0, G_MAXUINT32}};
static const Field practice_fields[] = {
    SERIAL(practice),
    {"text", FIELD_TEXT, AT(practice, text), 0, CW_SOUND_PRACTICE_TEXT_MOST},
};
static const Field open_fields[] = {
    SERIAL(open),
    {"device", FIELD_TEXT, AT(open, device), 1, CW_SOUND_TEXT_MOST},
    {"input_device", FIELD_TEXT, AT(open, input_device), 0, CW_SOUND_TEXT_MOST},
    {"rate_hz", FIELD_NUMBER, AT(open, rate_hz), CW_SOUND_RATE_LEAST_HZ, CW_SOUND_RATE_MOST_HZ},
    {"inputs", FIELD_COUNT, AT(open, inputs), 0, CW_SOUND_CHANNELS_MOST},
    {"outputs", FIELD_COUNT, AT(open, outputs), 0, CW_SOUND_CHANNELS_MOST},
    {"block_frames", FIELD_COUNT, AT(open, block_frames), 32, 8192},
};
static const Field play_fields[] = {
    SERIAL(play),
    {"feed_frames", FIELD_COUNT, AT(play, feed_frames), 0, CW_SOUND_SAMPLES_MOST},
    {"route", FIELD_CHANNELS, AT(play, route), 0, CW_SOUND_CHANNELS_MOST - 1},
    {"protect_hz", FIELD_NUMBERS, AT(play, protect_hz), 0, CW_SOUND_RATE_MOST_HZ / 2},
    {"gain_db", FIELD_NUMBER, AT(play, gain_db), -200, 40},
    {"limit_dbfs", FIELD_NUMBER, AT(play, limit_dbfs), -200, 0},
    {"rise_ms", FIELD_COUNT, AT(play, rise_ms), 0, 60000},
    {"loop", FIELD_COUNT, AT(play, loop), 0, 1},
    {"record_frames", FIELD_COUNT, AT(play, record_frames), 0, CW_SOUND_SAMPLES_MOST},
};
static const Field audio_fields[] = {SERIAL(audio), {"audio", FIELD_AUDIO, AT(audio, audio), -1e6, 1e6}};
static const Field live_fields[] = {{"on", FIELD_COUNT, AT(live, on), 0, 1}};
static const Field devices_fields[] = {
    {"devices", FIELD_DEVICES, G_STRUCT_OFFSET(CwMessage, devices), 0, CW_SOUND_DEVICES_MOST},
};
static const Field done_fields[] = {
    SERIAL(done),
    {"rate_hz", FIELD_NUMBER, AT(done, rate_hz), 0, CW_SOUND_RATE_MOST_HZ},
};
static const Field status_fields[] = {
    {"state", FIELD_COUNT, AT(status, state), 0, CW_SOUND_STATES - 1},
    SERIAL(status),
    {"position_frames", FIELD_COUNT, AT(status, position_frames), 0, G_MAXUINT32},
    {"xruns", FIELD_COUNT, AT(status, xruns), 0, G_MAXUINT32},
    {"input_peak", FIELD_NUMBERS, AT(status, input_peak), 0, 1e6},
    {"output_peak", FIELD_NUMBERS, AT(status, output_peak), 0, 1e6},
};
static const Field finished_fields[] = {
    SERIAL(finished),
    {"ending", FIELD_COUNT, AT(finished, ending), 0, CW_SOUND_ENDINGS - 1},
    {"recorded_frames", FIELD_COUNT, AT(finished, recorded_frames), 0, CW_SOUND_SAMPLES_MOST},
    {"xruns", FIELD_COUNT, AT(finished, xruns), 0, G_MAXUINT32},
    {"lost_frames", FIELD_COUNT, AT(finished, lost_frames), 0, G_MAXUINT32},
    {"limited_samples", FIELD_COUNT, AT(finished, limited_samples), 0, G_MAXUINT32},
};
static const Field trouble_fields[] = {
    SERIAL(trouble),
    {"code", FIELD_COUNT, AT(trouble, code), 0, CW_SOUND_ERROR_PRACTICE},
    {"text", FIELD_TEXT, AT(trouble, text), 1, CW_SOUND_TEXT_MOST},
};

#define KIND(name, fields)                                                                                   \
  {                                                                                                          \
    name, fields, G_N_ELEMENTS(fields)                                                                       \
  }
static const Kind kinds[CW_MESSAGE_KINDS] = {
    [CW_MESSAGE_HELLO] = KIND("hello", hello_fields),
    [CW_MESSAGE_HEARTBEAT] = KIND("heartbeat", heartbeat_fields),
    [CW_MESSAGE_LIST] = {"list", NULL, 0},
    [CW_MESSAGE_PRACTICE] = KIND("practice", practice_fields),
    [CW_MESSAGE_OPEN] = KIND("open", open_fields),
    [CW_MESSAGE_PLAY] = KIND("play", play_fields),
    [CW_MESSAGE_FEED] = KIND("feed", audio_fields),
    [CW_MESSAGE_LIVE] = KIND("live", live_fields),
    [CW_MESSAGE_STOP] = {"stop", NULL, 0},
    [CW_MESSAGE_QUIT] = {"quit", NULL, 0},
    [CW_MESSAGE_DEVICES] = KIND("devices", devices_fields),
    [CW_MESSAGE_DONE] = KIND("done", done_fields),
    [CW_MESSAGE_STATUS] = KIND("status", status_fields),
    [CW_MESSAGE_RECORDING] = KIND("recording", audio_fields),
    [CW_MESSAGE_LIVE_BLOCK] = KIND("live block", audio_fields),
    [CW_MESSAGE_FINISHED] = KIND("finished", finished_fields),
    [CW_MESSAGE_TROUBLE] = KIND("trouble", trouble_fields),
};

const char *cw_message_kind_name(guint32 kind)
{
  return kind > 0 && kind < CW_MESSAGE_KINDS ? kinds[kind].name : "unknown";
}

static void clear_devices(CwMessageDevices *devices)
{
  for (guint32 i = 0; i < devices->count; i++) {
    g_free(devices->device[i].name);
    g_free(devices->device[i].label);
  }
  g_clear_pointer(&devices->device, g_free);
  devices->count = 0;
}

void cw_message_clear(CwMessage *message)
{
  g_return_if_fail(message != NULL);
  if (message->kind > 0 && message->kind < CW_MESSAGE_KINDS) {
    const Kind *kind = &kinds[message->kind];
    for (gsize i = 0; i < kind->fields; i++) {
      gpointer member = G_STRUCT_MEMBER_P(message, kind->field[i].offset);
      if (kind->field[i].type == FIELD_TEXT)
        g_free(*(char **)member);
      else if (kind->field[i].type == FIELD_AUDIO)
        g_free(((CwAudioChunk *)member)->sample);
      else if (kind->field[i].type == FIELD_DEVICES)
        clear_devices(member);
    }
  }
  memset(message, 0, sizeof *message);
}

/* Writing. Each put_ function appends and says whether the value was within the field's bounds. */

static gboolean within(const Field *field, double value)
{
  return value >= field->least && value <= field->most; /* false for NaN */
}

static void put_word(GByteArray *bytes, guint32 value)
{
  guint32 little = GUINT32_TO_LE(value);
  g_byte_array_append(bytes, (const guint8 *)&little, sizeof little);
}

static void put_double(GByteArray *bytes, double value)
{
  guint64 word;
  memcpy(&word, &value, sizeof word);
  word = GUINT64_TO_LE(word);
  g_byte_array_append(bytes, (const guint8 *)&word, sizeof word);
}

static gboolean put_text(GByteArray *bytes, const Field *field, const char *text)
{
  gsize length = text ? strlen(text) : 0;
  if (!within(field, (double)length))
    return FALSE;
  put_word(bytes, (guint32)length);
  g_byte_array_append(bytes, (const guint8 *)(text ? text : ""), (guint)length);
  return TRUE;
}

static gboolean put_audio(GByteArray *bytes, const CwAudioChunk *audio)
{
  gsize samples = (gsize)audio->channels * audio->frames;
  if (audio->channels < 1 || audio->channels > CW_SOUND_CHANNELS_MOST ||
      samples > CW_SOUND_CHUNK_SAMPLES_MOST)
    return FALSE;
  put_word(bytes, audio->first_frame);
  put_word(bytes, audio->channels);
  put_word(bytes, audio->frames);
  for (gsize i = 0; i < samples; i++) {
    guint32 word;
    memcpy(&word, &audio->sample[i], sizeof word);
    put_word(bytes, word);
  }
  return TRUE;
}

static gboolean put_devices(GByteArray *bytes, const CwMessageDevices *devices)
{
  static const Field text = {"text", FIELD_TEXT, 0, 1, CW_SOUND_TEXT_MOST};
  if (devices->count > CW_SOUND_DEVICES_MOST)
    return FALSE;
  put_word(bytes, devices->count);
  for (guint32 i = 0; i < devices->count; i++) {
    const CwSoundDevice *device = &devices->device[i];
    if (!put_text(bytes, &text, device->name) || !put_text(bytes, &text, device->label))
      return FALSE;
    put_word(bytes, device->inputs);
    put_word(bytes, device->outputs);
    put_double(bytes, device->rate_hz);
    put_word(bytes, device->practice);
  }
  return TRUE;
}

static gboolean put_field(GByteArray *bytes, const Field *field, const void *member)
{
  switch (field->type) {
  case FIELD_COUNT:
    put_word(bytes, *(const guint32 *)member);
    return within(field, *(const guint32 *)member);
  case FIELD_NUMBER:
    put_double(bytes, *(const double *)member);
    return within(field, *(const double *)member);
  case FIELD_TEXT:
    return put_text(bytes, field, *(char *const *)member);
  case FIELD_AUDIO:
    return put_audio(bytes, member);
  case FIELD_DEVICES:
    return put_devices(bytes, member);
  case FIELD_CHANNELS: {
    const CwChannelList *list = member;
    if (list->count > CW_SOUND_CHANNELS_MOST)
      return FALSE;
    put_word(bytes, list->count);
    for (guint32 i = 0; i < list->count; i++) {
      put_word(bytes, list->value[i]);
      if (!within(field, list->value[i]))
        return FALSE;
    }
    return TRUE;
  }
  case FIELD_NUMBERS: {
    const CwChannelNumbers *list = member;
    if (list->count > CW_SOUND_CHANNELS_MOST)
      return FALSE;
    put_word(bytes, list->count);
    for (guint32 i = 0; i < list->count; i++) {
      put_double(bytes, list->value[i]);
      if (!within(field, list->value[i]))
        return FALSE;
    }
    return TRUE;
  }
  }
  return FALSE;
}

gboolean cw_message_encode(const CwMessage *message, GByteArray *bytes)
{
  g_return_val_if_fail(message != NULL && bytes != NULL, FALSE);
  g_return_val_if_fail(message->kind > 0 && message->kind < CW_MESSAGE_KINDS, FALSE);

  const Kind *kind = &kinds[message->kind];
  guint start = bytes->len;
  put_word(bytes, MAGIC);
  put_word(bytes, message->kind);
  put_word(bytes, 0);
  for (gsize i = 0; i < kind->fields; i++) {
    if (!put_field(bytes, &kind->field[i], G_STRUCT_MEMBER_P(message, kind->field[i].offset))) {
      g_critical("sound message '%s': %s is out of its bounds", kind->name, kind->field[i].name);
      g_byte_array_set_size(bytes, start);
      return FALSE;
    }
  }
  guint32 length = GUINT32_TO_LE(bytes->len - start - CW_MESSAGE_HEAD_BYTES);
  memcpy(bytes->data + start + 8, &length, sizeof length);
  return TRUE;
}

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

static gboolean check_bounds(Reader *reader, const Field *field, double value)
{
  if (within(field, value))
    return TRUE;
  char expected[96];
  g_snprintf(expected, sizeof expected, "%g to %g, got %g", field->least, field->most, value);
  return fail(reader, field->name, expected);
}

static gboolean get_text(Reader *reader, const Field *field, char **text)
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

static gboolean get_audio(Reader *reader, const Field *field, CwAudioChunk *audio)
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
    if (!within(field, audio->sample[i]))
      return fail(reader, field->name, "finite samples");
  }
  return TRUE;
}

static gboolean get_devices(Reader *reader, CwMessageDevices *devices)
{
  static const Field text = {"device name", FIELD_TEXT, 0, 1, CW_SOUND_TEXT_MOST};
  static const Field channels = {"device channels", FIELD_COUNT, 0, 0, CW_SOUND_CHANNELS_MOST};
  static const Field rate = {"device rate_hz", FIELD_NUMBER, 0, 0, 1e6};
  static const Field practice = {"device practice", FIELD_COUNT, 0, 0, 1};
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

static gboolean get_list_count(Reader *reader, const Field *field, guint32 *count)
{
  guint32 announced;
  if (!get_word(reader, field->name, &announced))
    return FALSE;
  if (announced > CW_SOUND_CHANNELS_MOST)
    return fail(reader, field->name, "at most 32 channels");
  *count = announced;
  return TRUE;
}

static gboolean get_field(Reader *reader, const Field *field, gpointer member)
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
  const Kind *row = &kinds[kind];
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
    if (word_at(at) != MAGIC)
      g_set_error(&parser->error, CW_SOUND_ERROR, CW_SOUND_ERROR_PROTOCOL,
                  "sound message: expected the four bytes that begin a message");
    else if (kind < 1 || kind >= CW_MESSAGE_KINDS)
      g_set_error(&parser->error, CW_SOUND_ERROR, CW_SOUND_ERROR_PROTOCOL,
                  "sound message: kind %u is not known", kind);
    else if (length > CW_MESSAGE_PAYLOAD_MOST)
      g_set_error(&parser->error, CW_SOUND_ERROR, CW_SOUND_ERROR_PROTOCOL,
                  "sound message '%s': expected at most %u bytes, %u announced", kinds[kind].name,
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
