/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include "plot/plot.h"
#include "vehicle/kinds/kinds.h"

G_BEGIN_DECLS

/* How records are called and coloured everywhere in the window. */
char *cw_say_speaker(CwRecord *speaker);
char *cw_say_output(CwRecord *vehicle, gint64 output);
char *cw_say_owner(CwRecord *vehicle, CwRecord *owner);
const char *cw_say_stage(int stage);
char *cw_say_number(double value);
char *cw_say_time(const char *utc);
CwColour cw_speaker_colour(CwRecord *speaker);
CwDash cw_speaker_dash(CwRecord *speaker);
char *cw_say_lead_place(CwRecord *lead);
char *cw_say_lead_range(CwRecord *record);
const char *cw_speaker_place_words(CwRecord *speaker);

G_END_DECLS
