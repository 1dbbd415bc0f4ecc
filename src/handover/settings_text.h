/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* A vehicle's tune as plain text to type into a processor by hand: per input and output gain, delay, polarity
 * and every filter in the order in which it runs, crossovers by family and slope. Bypassed filters are left
 * out; a muted output says so; the voicing stands once, after the outputs. NULL with CW_TABLE_ERROR_NO_TUNE
 * where there is no tune. The caller's. */
char *cw_settings_write(CwRecord *vehicle, GError **error);

G_END_DECLS
