/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/helper/backend.h"

#include <portaudio.h>
#include <string.h>

typedef struct {
  PaStream *stream;
  CwEngine *engine;
} Stream;

static gboolean fail(GError **error, const char *what, PaError code)
{
  const char *words = Pa_GetErrorText(code);
  const PaHostErrorInfo *host = Pa_GetLastHostErrorInfo();
  if (code == paUnanticipatedHostError && host && host->errorText && *host->errorText)
    words = host->errorText;
  g_set_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_DEVICE, "%s: %s", what, words);
  return FALSE;
}

/* Once for the life of the helper: its list of devices is frozen from then on, which is why the program asks
 * for a new list from a new helper. */
static gboolean initialise(GError **error)
{
  static gboolean done = FALSE;
  if (done)
    return TRUE;
  PaError code = Pa_Initialize();
  if (code != paNoError)
    return fail(error, "The sound system does not start", code);
  done = TRUE;
  return TRUE;
}

/* "ALSA: name": the sound system's own index changes from start to start. Owned by the caller. */
static char *device_name(const PaDeviceInfo *info)
{
  const PaHostApiInfo *host = Pa_GetHostApiInfo(info->hostApi);
  char *plain = g_strdup_printf("%s: %s", host ? host->name : "sound", info->name ? info->name : "unnamed");
  char *name = g_utf8_make_valid(plain, -1);
  g_free(plain);
  if (strlen(name) > 250)
    *g_utf8_find_prev_char(name, name + 250) = '\0';
  return name;
}

static gboolean list(GArray *devices, GError **error)
{
  if (!initialise(error))
    return FALSE;
  PaDeviceIndex count = Pa_GetDeviceCount();
  for (PaDeviceIndex i = 0; i < count && devices->len < CW_SOUND_DEVICES_MOST; i++) {
    const PaDeviceInfo *info = Pa_GetDeviceInfo(i);
    if (!info || (info->maxInputChannels <= 0 && info->maxOutputChannels <= 0))
      continue;
    CwSoundDevice device = {device_name(info),
                            device_name(info),
                            (guint32)CLAMP(info->maxInputChannels, 0, (int)CW_SOUND_CHANNELS_MOST),
                            (guint32)CLAMP(info->maxOutputChannels, 0, (int)CW_SOUND_CHANNELS_MOST),
                            CLAMP(info->defaultSampleRate, 0, 1e6),
                            0};
    g_array_append_val(devices, device);
  }
  return TRUE;
}

static PaDeviceIndex find(const char *name)
{
  PaDeviceIndex count = Pa_GetDeviceCount();
  for (PaDeviceIndex i = 0; i < count; i++) {
    const PaDeviceInfo *info = Pa_GetDeviceInfo(i);
    char *its = info ? device_name(info) : NULL;
    gboolean same = g_strcmp0(its, name) == 0;
    g_free(its);
    if (same)
      return i;
  }
  return paNoDevice;
}

static int on_block(const void *input, void *output, unsigned long frames,
                    const PaStreamCallbackTimeInfo *time, PaStreamCallbackFlags flags, void *data)
{
  Stream *stream = data;
  /* Input dropped, or output that had to be filled in: sound is missing. */
  gboolean gap = (flags & (paInputOverflow | paInputUnderflow | paOutputUnderflow | paOutputOverflow)) != 0;
  cw_engine_process(stream->engine, input, output, (guint32)frames, gap);
  return paContinue;
}

/* Fills in one direction; FALSE with the error when the device is not there or too small. */
static gboolean choose(const char *name, guint32 channels, gboolean input, const CwMessageOpen *open,
                       PaStreamParameters *parameters, GError **error)
{
  PaDeviceIndex index = find(name);
  if (index == paNoDevice) {
    g_set_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_DEVICE, "The sound device \"%s\" is not there.", name);
    return FALSE;
  }
  const PaDeviceInfo *info = Pa_GetDeviceInfo(index);
  int most = input ? info->maxInputChannels : info->maxOutputChannels;
  if ((int)channels > most) {
    g_set_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_DEVICE,
                "The sound device \"%s\" has %d %s, expected at least %u.", name, most,
                input ? "inputs" : "outputs", channels);
    return FALSE;
  }
  /* Two blocks: small enough for a quick stop, and never less than the device itself asks for. */
  double least = input ? info->defaultLowInputLatency : info->defaultLowOutputLatency;
  *parameters =
      (PaStreamParameters){.device = index,
                           .channelCount = (int)channels,
                           .sampleFormat = paFloat32,
                           .suggestedLatency = MAX(2 * open->block_frames / open->rate_hz, MIN(least, 0.05))};
  return TRUE;
}

static gpointer open_stream(const CwMessageOpen *open, CwEngine *engine, GError **error)
{
  PaStreamParameters input, output;
  const char *from = *open->input_device ? open->input_device : open->device;
  if (!initialise(error) || (open->inputs > 0 && !choose(from, open->inputs, TRUE, open, &input, error)) ||
      (open->outputs > 0 && !choose(open->device, open->outputs, FALSE, open, &output, error)))
    return NULL;

  Stream *stream = g_new0(Stream, 1);
  stream->engine = engine;
  PaError code =
      Pa_OpenStream(&stream->stream, open->inputs > 0 ? &input : NULL, open->outputs > 0 ? &output : NULL,
                    open->rate_hz, open->block_frames, paClipOff | paDitherOff, on_block, stream);
  if (code == paNoError) {
    code = Pa_StartStream(stream->stream);
    if (code == paNoError)
      return stream;
    Pa_CloseStream(stream->stream);
  }
  fail(error, "The sound device cannot be opened as asked", code);
  g_free(stream);
  return NULL;
}

static void close_stream(gpointer data)
{
  Stream *stream = data;
  Pa_AbortStream(stream->stream);
  Pa_CloseStream(stream->stream);
  g_free(stream);
}

const CwBackend cw_portaudio_backend = {list, open_stream, close_stream};
