/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/recording.h"
#include "measuring/feed.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* Settles the feed that measures an output and notes it in the vehicle, so that a recording of it can be
 * analysed later. marker_output 0 for none. The level is held to -1 dBFS. The caller commits. */
gboolean cw_job_plan_feed(CwRecord *vehicle, gint64 output, gint64 marker_output, double level_dbfs,
                          GError **error);

/* The same, the sweep repeated 1 to 8 times, to be averaged. Without marker that is for loopback, or a
 * recorder on the player's clock. */
gboolean cw_job_plan_repeated_feed(CwRecord *vehicle, gint64 output, gint64 marker_output, double level_dbfs,
                                   guint repeats, GError **error);

/* Settles the next feed of an output by its last take, if that was refused or only just good enough: the
 * level rises until the take stands 30 dB above the noise, at most to most_dbfs, and falls by 6 dB after a
 * clipped one; what level alone cannot win is won by repeating the sweep. Without a take the feed noted, or
 * the plain one, stays. Returns the words for what was chosen and why, the caller's; NULL with error. */
char *cw_job_plan_next_feed(CwRecord *vehicle, gint64 output, double most_dbfs, GError **error);

/* The feed noted for an output; without one, the plain feed of the output at -12 dBFS, with a marker from
 * another tweeter or the like if with_marker. rate_hz is the processor's. */
gboolean cw_job_read_feed(CwRecord *vehicle, gint64 output, gboolean with_marker, CwSweepFeed *feed,
                          double *rate_hz, GError **error);

/* The same as a record (CwFeed), the caller's: a copy of the one noted, or the plain one written down. NULL
 * with error. */
CwRecord *cw_job_feed_of(CwRecord *vehicle, gint64 output, gboolean with_marker, GError **error);

/* What was played for a take: its own feed, or, of a take by a version that did not keep it, the one noted
 * for its output; NULL if neither is known. Borrowed. */
CwRecord *cw_job_feed_of_take(CwRecord *vehicle, CwRecord *take);

/* The speaker that plays markers best for an output: another one, with the highest band; 0 if there is none.
 */
gint64 cw_job_choose_marker(CwRecord *vehicle, gint64 output);

/* The samples to play: channel 1 for the output, channel 2, if the feed has markers, for the marker's output.
 */
CwRecording *cw_job_render_feed(const CwSweepFeed *feed, double rate_hz);

#define CW_SEARCH_LOW_HZ 20.0
#define CW_SEARCH_HIGH_HZ 2000.0

/* The loop that makes an output rattle near hz, to be played until stopped (job.loop): a tone that glides
 * slowly round that frequency, at level_dbfs, which is held to -1 dBFS. One channel, at rate_hz. NULL with
 * error where the vehicle has no such output. The caller's. */
CwRecording *cw_job_search_tone(CwRecord *vehicle, gint64 output, double hz, double level_dbfs,
                                double rate_hz, GError **error);

/* The lowest safe frequency of an output's speaker, or a safe guess by its way. */
double cw_job_lowest_hz(CwRecord *speaker);

G_END_DECLS
