/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once
#include "measuring/feed.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* A feed between the room that measures and the vehicle's record (CwFeed), without loss: what is read is what
 * was written, to the last bit. */

/* Writes all of a feed but its outputs into a record. rate_hz is that of the samples played, level_dbfs the
 * peak that sweep and marker were designed for. */
void cw_feed_write(CwRecord *record, const CwSweepFeed *feed, double rate_hz, double level_dbfs);

/* Whether the record holds a feed, and not only that of an output. */
gboolean cw_feed_is_whole(CwRecord *record);

/* The feed of a record that is whole. */
CwSweepFeed cw_feed_read(CwRecord *record);

G_END_DECLS
