/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "simulator/practice_bay.h"
#include "simulator/practice_stream.h"
#include "sound/helper/backend.h"

#include <sndfile.h>

#include <math.h>
#include <pthread.h>
#include <stdatomic.h>
#include <string.h>
#include <time.h>

#define TRACK_MOST_S 600
#define RADIO_STARTS_S 0.8 /* after the device was opened the radio begins to play */
#define RADIO_PAUSES_S 1.5 /* before it begins again */

/* The setup of the device thread, which alone opens and sets up. */
static char *setup_text;

typedef struct {
  CwPracticeBay *bay;
  CwPracticeStream *stream;
  CwEngine *engine;
  double rate_hz;
  guint block;
  float *leads; /* what the factory radio's leads carry, interleaved, over and over; NULL without a radio */
  gsize leads_frames, leads_at;
  pthread_t thread;
  gboolean running;
  atomic_bool leave;
} Stream;

gboolean cw_practice_backend_set_up(const char *text, GError **error)
{
  CwPracticeSetup *setup = cw_practice_setup_parse(text, error);
  if (!setup)
    return FALSE;
  cw_practice_setup_free(setup);
  g_free(setup_text);
  setup_text = g_strdup(text);
  return TRUE;
}

static guint inputs_of(const CwPracticeSetup *setup)
{
  return setup->radio.radio ? setup->radio.leads : CW_PRACTICE_INPUTS;
}

static gboolean list(GArray *devices, GError **error)
{
  CwPracticeSetup *setup = cw_practice_setup_parse(setup_text ? setup_text : "{}", error);
  if (!setup)
    return FALSE;
  CwSoundDevice device = {g_strdup(CW_SOUND_PRACTICE_DEVICE),   g_strdup("Practice bay"), inputs_of(setup),
                          cw_practice_setup_get_outputs(setup), setup->car->rate_hz,      1};
  g_array_append_val(devices, device);
  cw_practice_setup_free(setup);
  return TRUE;
}

/* Keeps to the clock on the wall, and does not try to make up for what it missed. Returns whether it came too
 * late. */
static gboolean wait_for_block(struct timespec *due, gint64 block_ns)
{
  struct timespec now;
  due->tv_nsec += block_ns;
  while (due->tv_nsec >= 1000000000) {
    due->tv_nsec -= 1000000000;
    due->tv_sec++;
  }
  clock_gettime(CLOCK_MONOTONIC, &now);
  gint64 late_ns = (now.tv_sec - due->tv_sec) * (gint64)1000000000 + now.tv_nsec - due->tv_nsec;
  if (late_ns > 500 * (gint64)1000000) {
    *due = now;
    return TRUE;
  }
  if (late_ns < 0)
    clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, due, NULL);
  return FALSE;
}

static void copy_channels(const float *from, guint from_channels, float *to, guint to_channels, guint frames)
{
  guint both = MIN(from_channels, to_channels);
  memset(to, 0, (gsize)frames * to_channels * sizeof *to);
  for (guint i = 0; i < frames; i++)
    memcpy(to + (gsize)i * to_channels, from + (gsize)i * from_channels, both * sizeof *to);
}

/* The radio's stick: both channels of a sound file (the first for both where it has but one). NULL with
 * error. */
static double *read_track(const char *path, gsize *frames, double *rate_hz, GError **error)
{
  SF_INFO info = {0};
  SNDFILE *file = sf_open(path, SFM_READ, &info);
  gboolean good = file && info.channels >= 1 && info.channels <= 32 && info.frames > 0 &&
                  info.frames <= TRACK_MOST_S * info.samplerate;
  double *both = NULL;
  if (good) {
    double *all = g_new0(double, (gsize)info.frames *(gsize)info.channels);
    sf_count_t count = sf_readf_double(file, all, info.frames);
    *frames = (gsize)MAX(count, 0);
    *rate_hz = info.samplerate;
    both = g_new0(double, 2 * *frames + 1);
    for (gsize i = 0; i < *frames; i++) {
      both[i] = all[i * (gsize)info.channels];
      both[*frames + i] = all[i * (gsize)info.channels + (info.channels > 1)];
    }
    g_free(all);
  } else {
    g_set_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_DEVICE, "The practice radio cannot play %s.", path);
  }
  if (file)
    sf_close(file);
  return both;
}

/* Computes what the leads carry while the track plays. */
static gboolean play_radio(Stream *stream, GError **error)
{
  const CwPracticeSetup *setup = cw_practice_bay_get_setup(stream->bay);
  const CwPracticeRadioSetup *radio = &setup->radio;
  CwPracticeRadioPlay play = {.volume_step = radio->volume_step,
                              .balance = radio->balance,
                              .fader = radio->fader,
                              .seat_set = radio->seat_set,
                              .start_seconds = RADIO_STARTS_S,
                              .seed = setup->seed};
  double *track = read_track(radio->track, &play.track_frames, &play.track_rate_hz, error);
  if (!track)
    return FALSE;
  play.track[0] = track;
  play.track[1] = track + play.track_frames;
  stream->leads_frames =
      (gsize)((RADIO_STARTS_S + RADIO_PAUSES_S + (double)play.track_frames / play.track_rate_hz) *
              stream->rate_hz);
  stream->leads = g_new(float, stream->leads_frames * radio->leads);
  double *one = g_new(double, stream->leads_frames);
  for (guint c = 0; c < radio->leads; c++) {
    cw_practice_radio_record(radio->radio, &play, radio->lead[c], stream->rate_hz, stream->leads_frames, one);
    for (gsize i = 0; i < stream->leads_frames; i++)
      stream->leads[i * radio->leads + c] = (float)one[i];
  }
  g_free(one);
  g_free(track);
  return TRUE;
}

static void hear_radio(Stream *stream, guint inputs, float *heard)
{
  for (guint i = 0; i < stream->block; i++) {
    memcpy(heard + (gsize)i * inputs, stream->leads + stream->leads_at * inputs, inputs * sizeof *heard);
    stream->leads_at = (stream->leads_at + 1) % stream->leads_frames;
  }
}

/* The block in which so many seconds are over; 0, which is no block, for never. */
static guint64 to_blocks(const Stream *stream, double seconds)
{
  return seconds > 0 ? 1 + (guint64)(seconds * stream->rate_hz / stream->block) : 0;
}

static void *run(void *data)
{
  Stream *stream = data;
  guint block = stream->block, outputs = cw_practice_bay_get_outputs(stream->bay);
  guint asked_inputs = cw_engine_get_inputs(stream->engine),
        asked_outputs = cw_engine_get_outputs(stream->engine);
  const CwPracticeSetup *setup = cw_practice_bay_get_setup(stream->bay);
  guint inputs = inputs_of(setup);
  float *heard = g_new0(float, (gsize)block *inputs),
        *input = g_new0(float, (gsize)block *MAX(asked_inputs, 1));
  float *asked = g_new0(float, (gsize)block *MAX(asked_outputs, 1)),
        *output = g_new0(float, (gsize)block *outputs);
  struct timespec due;
  clock_gettime(CLOCK_MONOTONIC, &due);
  gint64 block_ns = (gint64)(1e9 * block / stream->rate_hz);
  guint64 gap_at = to_blocks(stream, setup->gap_after_s), stall_at = to_blocks(stream, setup->stalls_after_s);
  gboolean gap = FALSE;
  for (guint64 at = 1; !atomic_load(&stream->leave); at++) {
    if (at == stall_at) {
      while (!atomic_load(&stream->leave))
        g_usleep(10000);
      break;
    }
    gap = gap || at == gap_at;
    copy_channels(heard, inputs, input, asked_inputs, block);
    cw_engine_process(stream->engine, input, asked, block, gap);
    copy_channels(asked, asked_outputs, output, outputs, block);
    if (stream->leads)
      hear_radio(stream, inputs, heard);
    else
      cw_practice_stream_run(stream->stream, output, heard);
    gap = wait_for_block(&due, block_ns);
  }
  g_free(heard);
  g_free(input);
  g_free(asked);
  g_free(output);
  return NULL;
}

static void close_stream(gpointer data)
{
  Stream *stream = data;
  atomic_store(&stream->leave, TRUE);
  if (stream->running)
    pthread_join(stream->thread, NULL);
  cw_practice_stream_free(stream->stream);
  cw_practice_bay_free(stream->bay);
  g_free(stream->leads);
  g_free(stream);
}

static gpointer open_stream(const CwMessageOpen *open, CwEngine *engine, GError **error)
{
  CwPracticeSetup *setup = cw_practice_setup_parse(setup_text ? setup_text : "{}", error);
  if (!setup)
    return NULL;
  if (open->inputs > inputs_of(setup) || open->outputs > cw_practice_setup_get_outputs(setup)) {
    g_set_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_DEVICE,
                "The practice bay has %u inputs and %u outputs.", inputs_of(setup),
                cw_practice_setup_get_outputs(setup));
    cw_practice_setup_free(setup);
    return NULL;
  }
  Stream *stream = g_new0(Stream, 1);
  stream->bay = cw_practice_bay_new(setup);
  stream->engine = engine;
  stream->rate_hz = open->rate_hz;
  stream->block = open->block_frames;
  /* The block itself is part of the latency. */
  gsize latency = (gsize)lrint(setup->car->latency_ms * open->rate_hz / 1000);
  gsize delay = latency > stream->block ? latency - stream->block : 0;
  stream->stream = cw_practice_stream_new(setup, open->rate_hz, stream->block, delay, G_MAXUINT32,
                                          setup->seat, setup->position, setup->seed, error);
  if (!stream->stream || (setup->radio.radio && !play_radio(stream, error))) {
    close_stream(stream);
    return NULL;
  }
  stream->running = pthread_create(&stream->thread, NULL, run, stream) == 0;
  if (!stream->running) {
    g_set_error(error, CW_SOUND_ERROR, CW_SOUND_ERROR_DEVICE, "The practice bay cannot start its thread.");
    close_stream(stream);
    return NULL;
  }
  return stream;
}

const CwBackend cw_practice_backend = {list, open_stream, close_stream};
