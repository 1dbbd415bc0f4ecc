/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/output_file.h"

G_BEGIN_DECLS

/* Samples of a sound file, a channel after the other. */
typedef struct {
  double rate_hz;
  guint channels;
  gsize frames;
  double **channel; /* channels x frames, full scale 1 */
} CwRecording;

/* Reads a WAV file (16, 24 or 32 bit, float, RF64) of 1 to 32 channels at 32 to 192 kHz and up to 30 minutes.
 * Errors name the file. Free with cw_recording_free(). */
CwRecording *cw_recording_read(const char *path, GError **error);
CwRecording *cw_recording_new(double rate_hz, guint channels, gsize frames);

/* The same from interleaved floats, as a sound device gives them. */
CwRecording *cw_recording_from_floats(double rate_hz, guint channels, gsize frames, const float *interleaved);
void cw_recording_free(CwRecording *recording);
G_DEFINE_AUTOPTR_CLEANUP_FUNC(CwRecording, cw_recording_free)

/* Writes a 24-bit (or 16-bit) WAV file, whole or not at all. Of another's recordings none is replaced unless
 * replace says so. Errors name the file. */
gboolean cw_recording_write(const CwRecording *recording, const char *path, int bits, CwReplace replace,
                            GError **error);

G_END_DECLS
