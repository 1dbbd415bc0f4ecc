/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* Where things stand on the channel map: rows of a speaker each and below them of each channel that feeds
 * none, and columns that begin and end at parts of the width. */
typedef struct {
  double from, to;
} CwMapColumn;
enum { CW_MAP_LEADS, CW_MAP_INPUTS, CW_MAP_OUTPUTS, CW_MAP_CHANNELS, CW_MAP_SPEAKERS, CW_MAP_COLUMNS };

#define CW_MAP_ROW 21.0
#define CW_MAP_TOP 26.0

/* The survey whose leads are drawn, NULL for none. */
CwRecord *cw_map_survey(CwRecord *vehicle);
const CwMapColumn *cw_map_columns(CwRecord *vehicle);
guint cw_map_row_count(CwRecord *vehicle);

/* The row of the left or right input, in the middle of all rows. */
double cw_map_input_row(CwRecord *vehicle, int side);
double cw_map_row_y(double row);

/* The row at a height; -1 above the first. */
int cw_map_row_at(double y);

/* The channel of every row: the one that its speaker's output feeds, or NULL; then those that feed none. The
 * array is the caller's. */
GPtrArray *cw_map_channels(CwRecord *vehicle);

/* The output of a row's speaker; CW_NO_INTEGER where the row has none. */
gint64 cw_map_output_at(CwRecord *vehicle, int row);

G_END_DECLS
