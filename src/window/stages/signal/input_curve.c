/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/signal/input_curve.h"

#include "job/survey/survey_curves.h"
#include "window/plots/take_plots.h"
#include "window/state/words.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define FIRST_HZ 20.0
#define LAST_HZ 20000.0
#define SHOWN_SPAN_DB 40.0

static CwRecord *find_lead(CwInputCurve *curve)
{
  CwRecord *vehicle = cw_session_get_vehicle(curve->session),
           *survey = vehicle ? cw_vehicle_get_survey(vehicle) : NULL;
  return survey && curve->lead != CW_NO_INTEGER
             ? cw_list_find_integer_at(cw_survey_get_leads(survey), CW_LEAD_FIELD_LEAD, curve->lead)
             : NULL;
}

CwRecord *cw_input_curve_find(CwInputCurve *curve)
{
  CwRecord *vehicle = cw_session_get_vehicle(curve->session);
  return vehicle && curve->lead != CW_NO_INTEGER ? cw_job_find_corrected_input(vehicle, curve->lead) : NULL;
}

static CwRecord *find(gpointer data)
{
  return cw_input_curve_find(data);
}

static char *say_title(gpointer data)
{
  CwInputCurve *curve = data;
  CwRecord *lead = find_lead(curve), *input = cw_input_curve_find(curve);
  g_autofree char *place = lead ? cw_say_lead_place(lead) : NULL;
  if (!lead)
    return g_strdup(_("No lead is chosen"));
  if (!input)
    return g_strdup_printf(_("Lead %d: %s, left out"), (int)curve->lead, place);
  return g_strdup_printf(_("Input %d, lead %d: %s"), (int)cw_input_correction_get_input(input),
                         (int)curve->lead, place);
}

/* The geometric middle of what the lead plays. */
static double middle_hz(gpointer data)
{
  CwRecord *lead = find_lead(data);
  double low = lead ? cw_lead_get_low_hz(lead) : (double)NAN,
         high = lead ? cw_lead_get_high_hz(lead) : (double)NAN;
  return round(sqrt((isfinite(low) ? low : FIRST_HZ) * (isfinite(high) ? high : LAST_HZ)));
}

static CwColour colour_of(CwRecord *lead)
{
  int side = cw_lead_get_side(lead);
  return side == CW_SIDE_LEFT    ? cw_colour_sky
         : side == CW_SIDE_RIGHT ? cw_colour_vermilion
         : side == CW_SIDE_BOTH  ? cw_colour_green
                                 : cw_colour_purple;
}

static gboolean draw(gpointer data, CwPlotView *view)
{
  CwInputCurve *curve = data;
  CwPlot *plot = cw_plot_view_get_plot(view);
  CwRecord *lead = find_lead(curve);
  CwNumbers *after = lead ? cw_job_corrected_lead(cw_session_get_vehicle(curve->session), lead) : NULL;
  cw_plot_clear(plot);
  plot->y.name = _("The chosen lead, for a full-scale track");
  plot->y.unit = "dBV";
  plot->label_letters_least = CW_INPUT_LABEL_LETTERS;
  if (lead)
    cw_plot_add_curve(plot, _("before"), cw_lead_get_response(lead), cw_colour_grey, CW_DASH_LONG);
  if (after)
    cw_plot_add_curve(plot, _("after"), after, colour_of(lead), CW_DASH_SOLID);
  cw_plot_fit_level_axis(plot, 30, 10);
  cw_axis_show(&plot->y, fmax(plot->y.low_all, plot->y.high_all - SHOWN_SPAN_DB), plot->y.high_all);
  cw_plot_view_set_words(view, _("The lead's response before and after its correction, with its filters."));
  cw_plot_view_update(view);
  if (after)
    cw_numbers_unref(after);
  return after != NULL;
}

static const CwFieldId settings[] = {CW_INPUT_CORRECTION_FIELD_GAIN_DB, CW_INPUT_CORRECTION_FIELD_DELAY_MS,
                                     CW_INPUT_CORRECTION_FIELD_POLARITY, CW_NO_FIELD};

const CwFilterSubject cw_input_filters = {
    N_("The lead's curve"), settings, FALSE, find, say_title, middle_hz, draw};
