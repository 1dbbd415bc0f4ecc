/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One play as the helper holds it: the whole feed in memory, its routing, and what protects the speakers: a
 * high-pass for each channel, fades at both ends, a fade on stop, and a level limit that no sample passes.
 * All is allocated before the audio callback sees it.
 */
#pragma once

#include "signal/filters/crossover.h"
#include "sound/protocol.h"

/* From the order to stop until silence; leaves half of the promised 50 ms to the way through pipes and
 * blocks. */
#define CW_PLAYBACK_STOP_FADE_MS 25
/* Order of the protective Butterworth high-pass: 24 dB per octave. */
#define CW_PLAYBACK_PROTECT_ORDER 4

typedef struct {
  CwMessagePlay asked;
  guint32 channels;
  double rate_hz;
  float *feed;
  guint32 loaded_frames;
  float gain, limit;
  guint32 rise_frames, fade_frames;
  size_t sections[CW_SOUND_CHANNELS_MOST];
  CwCoefficients protect[CW_SOUND_CHANNELS_MOST][CW_CROSSOVER_MOST_SECTIONS];
  double protect_state[CW_SOUND_CHANNELS_MOST][2 * CW_CROSSOVER_MOST_SECTIONS];

  /* The callback's own, until it hands the play back. */
  guint64 position_frames;
  guint32 closing_frames; /* left of the fade on stop; 0 with `closing` means silent */
  gboolean closing;
  CwSoundEnding ending;
  guint32 recorded_frames, lost_frames, xruns, limited_samples;
} CwPlayback;

/* A play as announced, its feed still empty. NULL with CW_SOUND_ERROR_REQUEST when it is not possible. */
CwPlayback *cw_playback_new(const CwMessagePlay *asked, double rate_hz, guint32 outputs, GError **error);
void cw_playback_free(CwPlayback *playback);

/* The next chunk of the feed. FALSE with CW_SOUND_ERROR_REQUEST when it does not follow on the chunk before.
 */
gboolean cw_playback_load(CwPlayback *playback, const CwAudioChunk *chunk, GError **error);
gboolean cw_playback_is_loaded(const CwPlayback *playback);

/* FALSE with CW_SOUND_ERROR_REQUEST when the loaded feed at its gain would rise above the level limit. */
gboolean cw_playback_check_level(const CwPlayback *playback, GError **error);

/* For the callback. Adds the next `frames` (at most 8192; scratch holds as many) of the play to the outputs,
 * interleaved, and moves on. */
void cw_playback_render(CwPlayback *playback, float *output, guint32 outputs, guint32 frames,
                        double *scratch);

/* For the callback: begin the fade to silence; a second call changes nothing. */
void cw_playback_close(CwPlayback *playback, CwSoundEnding ending);

/* For the callback: TRUE when everything is played, recorded, or faded. */
gboolean cw_playback_is_over(const CwPlayback *playback);
