/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sound/engine/engine.h"
#include "sound/ring.h"

#include <math.h>
#include <stdatomic.h>
#include <string.h>

/* Seconds of input that may wait while the helper's other thread is held up. */
#define RECORDING_RING_S 4
#define LIVE_RING_S 0.5

struct CwEngine {
  double rate_hz;
  guint32 inputs, outputs;
  CwRing *recording, *live;
  double *scratch;
  float *silence; /* one block of input, for a device without any */

  /* From the other thread to the callback. */
  _Atomic(CwPlayback *) next;
  atomic_uint stops, beats;
  atomic_bool live_on;

  /* From the callback to the other thread. */
  _Atomic(CwPlayback *) finished;
  atomic_uint state, position_frames, xruns, blocks;
  _Atomic float input_peak[CW_SOUND_CHANNELS_MOST], output_peak[CW_SOUND_CHANNELS_MOST];

  /* The callback's own. */
  CwPlayback *playing;
  guint stops_seen, beats_seen;
  guint32 unheard_frames;
};

CwEngine *cw_engine_new(double rate_hz, guint32 inputs, guint32 outputs)
{
  g_return_val_if_fail(rate_hz > 0 && inputs <= CW_SOUND_CHANNELS_MOST && outputs <= CW_SOUND_CHANNELS_MOST,
                       NULL);
  CwEngine *engine = g_new0(CwEngine, 1);
  engine->rate_hz = rate_hz;
  engine->inputs = inputs;
  engine->outputs = outputs;
  engine->recording = cw_ring_new((size_t)(rate_hz * RECORDING_RING_S) * MAX(inputs, 1));
  engine->live = cw_ring_new((size_t)(rate_hz * LIVE_RING_S) * MAX(inputs, 1));
  engine->scratch = g_new0(double, CW_ENGINE_BLOCK_MOST);
  engine->silence = g_new0(float, (gsize)CW_ENGINE_BLOCK_MOST *MAX(inputs, 1));
  atomic_store(&engine->state, CW_SOUND_IDLE);
  return engine;
}

void cw_engine_free(CwEngine *engine)
{
  if (!engine)
    return;
  cw_playback_free(atomic_load(&engine->next));
  cw_playback_free(atomic_load(&engine->finished));
  cw_playback_free(engine->playing);
  cw_ring_free(engine->recording);
  cw_ring_free(engine->live);
  g_free(engine->scratch);
  g_free(engine->silence);
  g_free(engine);
}

double cw_engine_get_rate_hz(const CwEngine *engine)
{
  return engine->rate_hz;
}

guint32 cw_engine_get_inputs(const CwEngine *engine)
{
  return engine->inputs;
}

guint32 cw_engine_get_outputs(const CwEngine *engine)
{
  return engine->outputs;
}

/* In the callback. */

static void keep_peak(_Atomic float *peak, const float *sample, guint32 channels, guint32 frames)
{
  for (guint32 channel = 0; channel < channels; channel++) {
    float most = 0;
    for (guint32 i = 0; i < frames; i++) {
      float size = fabsf(sample[(gsize)i * channels + channel]);
      most = size > most ? size : most;
    }
    if (most > atomic_load_explicit(&peak[channel], memory_order_relaxed))
      atomic_store_explicit(&peak[channel], most, memory_order_relaxed);
  }
}

/* Keeps whole frames only; returns how many. */
static guint32 write_frames(CwRing *ring, const float *sample, guint32 channels, guint32 frames)
{
  if (channels == 0)
    return frames;
  size_t room = cw_ring_room(ring) / channels;
  guint32 count = (guint32)MIN((size_t)frames, room);
  cw_ring_write(ring, sample, (size_t)count * channels);
  return count;
}

static void take_next(CwEngine *engine)
{
  if (engine->playing)
    return;
  engine->playing = atomic_exchange_explicit(&engine->next, NULL, memory_order_acquire);
  if (!engine->playing)
    return;
  /* A stop or a silence from before this play is not meant for it; one from after it was handed over is. */
  engine->unheard_frames = 0;
}

static void heed_orders(CwEngine *engine, guint32 frames, gboolean gap)
{
  guint stops = atomic_load_explicit(&engine->stops, memory_order_acquire);
  guint beats = atomic_load_explicit(&engine->beats, memory_order_relaxed);
  engine->unheard_frames = beats != engine->beats_seen ? 0 : engine->unheard_frames + frames;
  engine->beats_seen = beats;
  if (engine->playing) {
    if (stops != engine->stops_seen)
      cw_playback_close(engine->playing, CW_SOUND_STOPPED);
    else if (engine->unheard_frames > engine->rate_hz * CW_ENGINE_PATIENCE_MS / 1000)
      cw_playback_close(engine->playing, CW_SOUND_ABANDONED);
    if (gap)
      engine->playing->xruns++;
  }
  engine->stops_seen = stops;
  if (gap)
    atomic_fetch_add_explicit(&engine->xruns, 1, memory_order_relaxed);
}

static void record(CwEngine *engine, const float *input, guint32 frames)
{
  CwPlayback *playing = engine->playing;
  guint64 at = playing->position_frames;
  if (at >= playing->asked.record_frames)
    return;
  guint32 wanted = (guint32)MIN((guint64)frames, playing->asked.record_frames - at);
  /* After a loss nothing more is kept: what was sent stays in one piece. */
  guint32 kept =
      playing->lost_frames > 0 ? 0 : write_frames(engine->recording, input, engine->inputs, wanted);
  playing->recorded_frames += kept;
  playing->lost_frames += wanted - kept;
}

static void process_block(CwEngine *engine, const float *input, float *output, guint32 frames, gboolean gap)
{
  take_next(engine);
  heed_orders(engine, frames, gap);
  keep_peak(engine->input_peak, input, engine->inputs, frames);
  if (atomic_load_explicit(&engine->live_on, memory_order_relaxed))
    write_frames(engine->live, input, engine->inputs, frames);

  CwSoundState state = CW_SOUND_IDLE;
  CwPlayback *playing = engine->playing;
  if (playing) {
    record(engine, input, frames);
    cw_playback_render(playing, output, engine->outputs, frames, engine->scratch);
    atomic_store_explicit(&engine->position_frames, (guint)playing->position_frames, memory_order_relaxed);
    state = playing->closing ? CW_SOUND_FADING : CW_SOUND_PLAYING;
    if (cw_playback_is_over(playing)) {
      state = CW_SOUND_IDLE;
      engine->playing = NULL;
      atomic_store_explicit(&engine->finished, playing, memory_order_release);
    }
  }
  atomic_store_explicit(&engine->state, state, memory_order_relaxed);
  keep_peak(engine->output_peak, output, engine->outputs, frames);
}

void cw_engine_process(CwEngine *engine, const float *input, float *output, guint32 frames, gboolean gap)
{
  atomic_fetch_add_explicit(&engine->blocks, 1, memory_order_relaxed);
  if (output)
    memset(output, 0, (gsize)frames * engine->outputs * sizeof *output);
  while (frames > 0) {
    guint32 count = MIN(frames, CW_ENGINE_BLOCK_MOST);
    process_block(engine, input ? input : engine->silence, output, count, gap);
    gap = FALSE;
    frames -= count;
    input = input ? input + (gsize)count * engine->inputs : NULL;
    output = output ? output + (gsize)count * engine->outputs : NULL;
  }
}

/* In the other thread. */

void cw_engine_begin(CwEngine *engine, CwPlayback *playback)
{
  g_return_if_fail(engine != NULL && playback != NULL && cw_playback_is_loaded(playback));
  /* What an earlier play left unread is not this one's. */
  float dregs[1024];
  while (cw_ring_read(engine->recording, dregs, G_N_ELEMENTS(dregs)) > 0)
    ;
  atomic_store(&engine->position_frames, 0);
  CwPlayback *before = atomic_exchange_explicit(&engine->next, playback, memory_order_release);
  g_warn_if_fail(before == NULL);
  cw_playback_free(before);
}

CwPlayback *cw_engine_take_finished(CwEngine *engine)
{
  return atomic_exchange_explicit(&engine->finished, NULL, memory_order_acquire);
}

void cw_engine_stop(CwEngine *engine)
{
  /* A play that the callback has not seen yet never begins to sound. */
  CwPlayback *waiting = atomic_exchange_explicit(&engine->next, NULL, memory_order_acquire);
  if (waiting) {
    waiting->ending = CW_SOUND_STOPPED;
    atomic_store_explicit(&engine->finished, waiting, memory_order_release);
    return;
  }
  atomic_fetch_add_explicit(&engine->stops, 1, memory_order_release);
}

void cw_engine_beat(CwEngine *engine)
{
  atomic_fetch_add_explicit(&engine->beats, 1, memory_order_relaxed);
}

void cw_engine_set_live(CwEngine *engine, gboolean on)
{
  atomic_store_explicit(&engine->live_on, on, memory_order_relaxed);
}

static guint32 read_frames(CwRing *ring, guint32 channels, float *sample, guint32 frames_most)
{
  if (channels == 0)
    return 0;
  size_t frames = MIN(cw_ring_waiting(ring) / channels, (size_t)frames_most);
  return (guint32)(cw_ring_read(ring, sample, frames * channels) / channels);
}

guint32 cw_engine_read_recording(CwEngine *engine, float *sample, guint32 frames_most)
{
  return read_frames(engine->recording, engine->inputs, sample, frames_most);
}

guint32 cw_engine_read_live(CwEngine *engine, float *sample, guint32 frames_most)
{
  return read_frames(engine->live, engine->inputs, sample, frames_most);
}

guint32 cw_engine_get_blocks(const CwEngine *engine)
{
  return atomic_load_explicit(&engine->blocks, memory_order_relaxed);
}

static void read_peaks(_Atomic float *peak, guint32 channels, CwChannelNumbers *numbers)
{
  numbers->count = channels;
  for (guint32 i = 0; i < channels; i++) {
    double most = atomic_exchange_explicit(&peak[i], 0, memory_order_relaxed);
    numbers->value[i] = most <= 1e6 ? most : 0; /* a device may deliver anything */
  }
}

void cw_engine_read_status(CwEngine *engine, CwMessageStatus *status)
{
  status->state = atomic_load_explicit(&engine->state, memory_order_relaxed);
  status->position_frames = atomic_load_explicit(&engine->position_frames, memory_order_relaxed);
  status->xruns = atomic_load_explicit(&engine->xruns, memory_order_relaxed);
  read_peaks(engine->input_peak, engine->inputs, &status->input_peak);
  read_peaks(engine->output_peak, engine->outputs, &status->output_peak);
}
