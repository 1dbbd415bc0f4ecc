/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/protocol_fields.h"

#include <string.h>

/* clang-format off */
G_DEFINE_QUARK(cw-sound-error-quark, cw_sound_error)
/* clang-format on */

#define AT(part, member) G_STRUCT_OFFSET(CwMessage, part.member)
#define SERIAL(part)                                                                                         \
  {                                                                                                          \
    "serial", FIELD_COUNT, AT(part, serial), 0, G_MAXUINT32                                                  \
  }

static const CwProtocolField hello_fields[] = {
    {"version", FIELD_COUNT, AT(hello, version), 0, G_MAXUINT32},
    {"program", FIELD_TEXT, AT(hello, program), 0, CW_SOUND_TEXT_MOST},
};
static const CwProtocolField heartbeat_fields[] = {
    {"count", FIELD_COUNT, AT(heartbeat, count), 0, G_MAXUINT32}};
static const CwProtocolField practice_fields[] = {
    SERIAL(practice),
    {"text", FIELD_TEXT, AT(practice, text), 0, CW_SOUND_PRACTICE_TEXT_MOST},
};
static const CwProtocolField open_fields[] = {
    SERIAL(open),
    {"device", FIELD_TEXT, AT(open, device), 1, CW_SOUND_TEXT_MOST},
    {"input_device", FIELD_TEXT, AT(open, input_device), 0, CW_SOUND_TEXT_MOST},
    {"rate_hz", FIELD_NUMBER, AT(open, rate_hz), CW_SOUND_RATE_LEAST_HZ, CW_SOUND_RATE_MOST_HZ},
    {"inputs", FIELD_COUNT, AT(open, inputs), 0, CW_SOUND_CHANNELS_MOST},
    {"outputs", FIELD_COUNT, AT(open, outputs), 0, CW_SOUND_CHANNELS_MOST},
    {"block_frames", FIELD_COUNT, AT(open, block_frames), 32, 8192},
};
static const CwProtocolField play_fields[] = {
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
static const CwProtocolField audio_fields[] = {SERIAL(audio),
                                               {"audio", FIELD_AUDIO, AT(audio, audio), -1e6, 1e6}};
static const CwProtocolField live_fields[] = {{"on", FIELD_COUNT, AT(live, on), 0, 1}};
static const CwProtocolField devices_fields[] = {
    {"devices", FIELD_DEVICES, G_STRUCT_OFFSET(CwMessage, devices), 0, CW_SOUND_DEVICES_MOST},
};
static const CwProtocolField done_fields[] = {
    SERIAL(done),
    {"rate_hz", FIELD_NUMBER, AT(done, rate_hz), 0, CW_SOUND_RATE_MOST_HZ},
};
static const CwProtocolField status_fields[] = {
    {"state", FIELD_COUNT, AT(status, state), 0, CW_SOUND_STATES - 1},
    SERIAL(status),
    {"position_frames", FIELD_COUNT, AT(status, position_frames), 0, G_MAXUINT32},
    {"xruns", FIELD_COUNT, AT(status, xruns), 0, G_MAXUINT32},
    {"input_peak", FIELD_NUMBERS, AT(status, input_peak), 0, 1e6},
    {"output_peak", FIELD_NUMBERS, AT(status, output_peak), 0, 1e6},
};
static const CwProtocolField finished_fields[] = {
    SERIAL(finished),
    {"ending", FIELD_COUNT, AT(finished, ending), 0, CW_SOUND_ENDINGS - 1},
    {"recorded_frames", FIELD_COUNT, AT(finished, recorded_frames), 0, CW_SOUND_SAMPLES_MOST},
    {"xruns", FIELD_COUNT, AT(finished, xruns), 0, G_MAXUINT32},
    {"lost_frames", FIELD_COUNT, AT(finished, lost_frames), 0, G_MAXUINT32},
    {"limited_samples", FIELD_COUNT, AT(finished, limited_samples), 0, G_MAXUINT32},
};
static const CwProtocolField trouble_fields[] = {
    SERIAL(trouble),
    {"code", FIELD_COUNT, AT(trouble, code), 0, CW_SOUND_ERROR_PRACTICE},
    {"text", FIELD_TEXT, AT(trouble, text), 1, CW_SOUND_TEXT_MOST},
};

#define KIND(name, fields)                                                                                   \
  {                                                                                                          \
    name, fields, G_N_ELEMENTS(fields)                                                                       \
  }
static const CwProtocolKind kinds[CW_MESSAGE_KINDS] = {
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

const CwProtocolKind *cw_protocol_kind(guint32 kind)
{
  g_return_val_if_fail(kind > 0 && kind < CW_MESSAGE_KINDS, NULL);
  return &kinds[kind];
}

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
    const CwProtocolKind *kind = &kinds[message->kind];
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

gboolean cw_protocol_within(const CwProtocolField *field, double value)
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

static gboolean put_text(GByteArray *bytes, const CwProtocolField *field, const char *text)
{
  gsize length = text ? strlen(text) : 0;
  if (!cw_protocol_within(field, (double)length))
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
  static const CwProtocolField text = {"text", FIELD_TEXT, 0, 1, CW_SOUND_TEXT_MOST};
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

static gboolean put_field(GByteArray *bytes, const CwProtocolField *field, const void *member)
{
  switch (field->type) {
  case FIELD_COUNT:
    put_word(bytes, *(const guint32 *)member);
    return cw_protocol_within(field, *(const guint32 *)member);
  case FIELD_NUMBER:
    put_double(bytes, *(const double *)member);
    return cw_protocol_within(field, *(const double *)member);
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
      if (!cw_protocol_within(field, list->value[i]))
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
      if (!cw_protocol_within(field, list->value[i]))
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

  const CwProtocolKind *kind = &kinds[message->kind];
  guint start = bytes->len;
  put_word(bytes, CW_PROTOCOL_MAGIC);
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
