/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What happens in the audio callback: plays, recording, input stream, meters, and the dead man's handle. One
 * thread calls cw_engine_process() for each block; it never allocates, locks or enters the system. Another
 * thread, always the same, calls everything else. PortAudio and the practice bay both drive this one engine.
 */
#pragma once

#include "sound/engine/playback.h"

#define CW_ENGINE_BLOCK_MOST 8192u
/* Without a heartbeat for this long a play fades to silence. */
#define CW_ENGINE_PATIENCE_MS 1000

typedef struct CwEngine CwEngine;

/* An engine that is silent: rate in Hz, channels of the device. Everything that the callback needs is
 * allocated here. Free with cw_engine_free(). */
CwEngine *cw_engine_new(double rate_hz, guint32 inputs, guint32 outputs);
/* Only once the callbacks have ended. */
void cw_engine_free(CwEngine *engine);
double cw_engine_get_rate_hz(const CwEngine *engine);
guint32 cw_engine_get_inputs(const CwEngine *engine);
guint32 cw_engine_get_outputs(const CwEngine *engine);

/* The callback: `frames` of interleaved input (NULL for silence) and output (NULL where there are none). gap:
 * the device lost sound before this block. */
void cw_engine_process(CwEngine *engine, const float *input, float *output, guint32 frames, gboolean gap);

/* Hands a loaded play to the callback, which begins at its next block. Only when none is running. */
void cw_engine_begin(CwEngine *engine, CwPlayback *playback);

/* The play that is over, with its results filled in, or NULL. The caller's. Read the recording to its end
 * after this, not before: everything recorded is waiting by then. */
CwPlayback *cw_engine_take_finished(CwEngine *engine);

/* Fade to silence. */
void cw_engine_stop(CwEngine *engine);
/* The program is alive. */
void cw_engine_beat(CwEngine *engine);
void cw_engine_set_live(CwEngine *engine, gboolean on);

/* Interleaved input frames of the recording, or of the input stream, as they come. Returns how many frames
 * were read. */
guint32 cw_engine_read_recording(CwEngine *engine, float *sample, guint32 frames_most);
guint32 cw_engine_read_live(CwEngine *engine, float *sample, guint32 frames_most);

/* How many blocks the device has asked for since the engine was made: one that stands still is gone. */
guint32 cw_engine_get_blocks(const CwEngine *engine);

/* Fills in state, position, gaps and the peaks since the call before. */
void cw_engine_read_status(CwEngine *engine, CwMessageStatus *status);
