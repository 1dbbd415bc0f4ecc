/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* Which amplifier channel each output feeds. */

/* Every channel of every amplifier, in the sheet's order: borrowed CwAmplifierChannel; the array is the
 * caller's. */
GPtrArray *cw_job_channels(CwRecord *vehicle);

/* The first channel that the output feeds, borrowed; NULL for none. */
CwRecord *cw_job_find_channel(CwRecord *vehicle, gint64 output);

/* "Front amplifier 3", or "Bass amplifier 1 + 2" of a bridged pair; the caller's. */
char *cw_job_say_channel(CwRecord *channel);

/* Pulls the output's wire to a channel, or off its own for NULL. Two outputs change places where the channel
 * had one and the output another channel. Those whose wire moved are not proven any more. FALSE where nothing
 * changed. */
gboolean cw_job_wire(CwRecord *vehicle, gint64 output, CwRecord *channel);

G_END_DECLS
