/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/output_file.h"
#include "survey/recording/stimulus.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

#define CW_TRACKS_RATE_HZ 44100.0

/* The volumes of a take, as the index orders them. */

/* The test tracks and the takes that a full survey needs, as a record (CwTrackIndex). The caller's. rate_hz
 * is that of the tracks. */
CwRecord *cw_job_track_index(double rate_hz);

/* The name of the track of the steady tone for the multimeter, and what it holds; it is among the index's
 * tracks, and of none of its takes: the survey can do without. The name is the caller's. */
char *cw_job_volts_track_name(double rate_hz);

/* How to play it, as a take (CwTrackTake): the survey's volume, balance and fader at the centre. The
 * caller's. */
CwRecord *cw_job_volts_take(double rate_hz);

/* Writes the tracks (16-bit stereo), tracks.json and a list to print, tracks.txt and tracks.pdf, into a
 * folder, which is made if it is not there. rate_hz: 44100, 48000, 88200 or 96000. */
gboolean cw_job_write_tracks(const char *folder, double rate_hz, CwReplace replace, GError **error);

/* The list to print: at which volume, balance and fader to play each track, and why. Free with g_free(). */
char *cw_job_track_list(CwRecord *index);

/* Which track a file name stands for, and its rate. FALSE with error if it is none of them. */
gboolean cw_job_read_track_name(const char *file, CwStimulusKind *kind, double *rate_hz, GError **error);

G_END_DECLS
