/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/state/words.h"

#include <glib/gi18n-lib.h>
#include <math.h>

/* The speaker's name, or its output where it has none; the caller's. */
char *cw_say_speaker(CwRecord *speaker)
{
  const char *name = cw_speaker_get_name(speaker);
  if (name && *name)
    return g_strdup(name);
  return g_strdup_printf(_("Output %d"), (int)cw_speaker_get_output(speaker));
}

/* The name of the speaker on an output; the caller's. */
char *cw_say_output(CwRecord *vehicle, gint64 output)
{
  CwRecord *speaker = cw_vehicle_find_speaker(vehicle, output);
  if (speaker)
    return cw_say_speaker(speaker);
  return output > 0 ? g_strdup_printf(_("Output %d"), (int)output) : g_strdup(_("No output"));
}

/* The name of what has sections: a tune's output or input; the caller's. */
char *cw_say_owner(CwRecord *vehicle, CwRecord *owner)
{
  if (G_OBJECT_TYPE(owner) == cw_tune_output_get_type())
    return cw_say_output(vehicle, cw_tune_output_get_output(owner));
  gint64 lead = cw_input_correction_get_lead(owner);
  return lead == CW_NO_INTEGER
             ? g_strdup_printf(_("input %d"), (int)cw_input_correction_get_input(owner))
             : g_strdup_printf(_("input %d, lead %d"), (int)cw_input_correction_get_input(owner), (int)lead);
}

const char *cw_say_stage(int stage)
{
  return _(cw_stages[stage].label);
}

/* A number as people read it here: short, with the reader's decimal sign; the caller's. */
char *cw_say_number(double value)
{
  return isfinite(value) ? g_strdup_printf("%.6g", value) : g_strdup("");
}

/* A time of the record, as the reader's clock shows it; the caller's. */
char *cw_say_time(const char *utc)
{
  g_autoptr(GDateTime) made = g_date_time_new_from_iso8601(utc ? utc : "", NULL);
  g_autoptr(GDateTime) here = made ? g_date_time_to_local(made) : NULL;
  return here ? g_date_time_format(here, "%x, %H:%M") : g_strdup(utc);
}

/* By the speaker's place in the car: left, right, centre, bass. */
CwColour cw_speaker_colour(CwRecord *speaker)
{
  if (cw_speaker_get_way(speaker) == CW_WAY_SUB)
    return cw_colour_purple;
  switch (cw_speaker_get_side(speaker)) {
  case CW_SIDE_LEFT:
    return cw_colour_sky;
  case CW_SIDE_RIGHT:
    return cw_colour_vermilion;
  default:
    return cw_colour_green;
  }
}

/* By the speaker's way, so that lines of one side are told apart without colour. */
CwDash cw_speaker_dash(CwRecord *speaker)
{
  switch (cw_speaker_get_way(speaker)) {
  case CW_WAY_HIGH:
    return CW_DASH_SHORT;
  case CW_WAY_MID:
    return CW_DASH_LONG;
  case CW_WAY_FULL:
    return CW_DASH_MIXED;
  default:
    return CW_DASH_SOLID;
  }
}

/* "left, high" for people who do not see the drawing. Static. */
const char *cw_speaker_place_words(CwRecord *speaker)
{
  return cw_speaker_get_way(speaker) == CW_WAY_SUB ? _("bass") : cw_speaker_say_side(speaker);
}

/* Where a lead feeds: "left, front"; the caller's. */
char *cw_say_lead_place(CwRecord *lead)
{
  int side = cw_lead_get_side(lead), end = cw_lead_get_end(lead);
  const char *const sides[] = {_("left"), _("right"), _("both sides")}, *const ends[] = {_("front"),
                                                                                         _("rear"),
                                                                                         _("not faded")};
  return g_strdup_printf("%s, %s", side < 0 ? _("side not known") : sides[side],
                         end < 0 ? _("end not known") : ends[end]);
}

static char *say_hz(double hz)
{
  return hz >= 1000 ? g_strdup_printf(_("%.3g kHz"), hz / 1000) : g_strdup_printf(_("%.0f Hz"), hz);
}

/* From where to where a lead or a sum carries anything, within hearing; the caller's. */
char *cw_say_lead_range(CwRecord *record)
{
  double low = cw_lead_or_sum_get_low_hz(record), high = cw_lead_or_sum_get_high_hz(record);
  g_autofree char *from = say_hz(isfinite(low) ? low : 20.0), *to = say_hz(isfinite(high) ? high : 20000.0);
  return g_strdup_printf(_("%s to %s"), from, to);
}
