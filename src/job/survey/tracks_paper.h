/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "job/survey/tracks.h"

G_BEGIN_DECLS

/* The track list to print and fill in, one page A4 as a PDF: what to play in which order, at which volume,
 * balance and fader, and why. made_unix: its date. */
GBytes *cw_job_track_paper(CwRecord *index, gint64 made_unix, GError **error);

G_END_DECLS
