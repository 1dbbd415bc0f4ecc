/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/tuning/output_curve.h"

#include "window/state/words.h"

#include <glib/gi18n-lib.h>
#include <math.h>

struct CwOutputCurve {
  CwSession *session;
  CwPredictedCar *forecast;
  gboolean predicted, with_before;
  char *axis_name;
};

static CwRecord *find(gpointer data)
{
  CwOutputCurve *curve = data;
  CwRecord *vehicle = cw_session_get_vehicle(curve->session),
           *tune = vehicle ? cw_vehicle_get_tune(vehicle) : NULL;
  return tune ? cw_list_find_integer_at(cw_tune_get_outputs(tune), CW_TUNE_OUTPUT_FIELD_OUTPUT,
                                        cw_session_get_output(curve->session))
              : NULL;
}

/* The name of the output, and how many are edited with it. */
static char *say_title(gpointer data)
{
  CwOutputCurve *curve = data;
  guint more = cw_session_get_outputs(curve->session)->len - 1;
  g_autofree char *name =
      cw_say_output(cw_session_get_vehicle(curve->session), cw_session_get_output(curve->session));
  return more ? g_strdup_printf(
                    g_dngettext(GETTEXT_PACKAGE, "%s, and %u more with it", "%s, and %u more with it", more),
                    name, more)
              : g_steal_pointer(&name);
}

static double middle_hz(gpointer data)
{
  static const double middle[] = {
      [CW_WAY_HIGH] = 6300, [CW_WAY_MID] = 1250, [CW_WAY_LOW] = 160, [CW_WAY_FULL] = 500, [CW_WAY_SUB] = 50};
  CwOutputCurve *curve = data;
  CwRecord *speaker =
      cw_vehicle_find_speaker(cw_session_get_vehicle(curve->session), cw_session_get_output(curve->session));
  return middle[speaker ? cw_speaker_get_way(speaker) : CW_WAY_FULL];
}

static void add_line(CwPlot *plot, const char *label, const double *hz, const double *db, CwColour colour,
                     CwDash dash)
{
  double smooth[CW_PREDICTION_POINTS];
  cw_predicted_car_smooth(db, CW_SHOWN_PART_OF_OCTAVE, smooth);
  CwSeries *series = cw_plot_add(plot, label, CW_PREDICTION_POINTS, hz, smooth);
  series->colour = colour;
  series->dash = dash;
}

/* The target is drawn through the range that the output plays: at the level of its prediction there. */
static void add_target(CwOutputCurve *curve, CwPlot *plot, const double *predicted)
{
  const double *hz = cw_predicted_car_hz(curve->forecast),
               *target = cw_predicted_car_target_db(curve->forecast);
  g_autofree double *shown = g_new(double, CW_PREDICTION_POINTS), *low = g_new(double, CW_PREDICTION_POINTS),
                    *high = g_new(double, CW_PREDICTION_POINTS);
  double top = -INFINITY;
  for (guint i = 0; i < CW_PREDICTION_POINTS; i++)
    top = fmax(top, isfinite(predicted[i]) ? predicted[i] - target[i] : -INFINITY);
  for (guint i = 0; i < CW_PREDICTION_POINTS; i++) {
    gboolean plays = isfinite(predicted[i]) && predicted[i] - target[i] > top - 14;
    shown[i] = plays ? target[i] : (double)NAN;
    low[i] = shown[i] - 3;
    high[i] = shown[i] + 3;
  }
  CwSeries *band = cw_plot_add_band(plot, NULL, CW_PREDICTION_POINTS, hz, low, high);
  band->colour = cw_colour_green;
  band->alpha = 0.14;
  add_line(plot, _("target"), hz, shown, cw_colour_green, CW_DASH_DOT);
}

/* The others that are chosen too, and what was before. */
static void add_others(CwOutputCurve *curve, CwPlot *plot, gint64 output)
{
  const GArray *chosen = cw_session_get_outputs(curve->session);
  const double *hz = cw_predicted_car_hz(curve->forecast);
  if (curve->with_before)
    add_line(plot, _("before"), hz, cw_predicted_car_before_db(curve->forecast, output), cw_colour_grey,
             CW_DASH_LONG);
  for (guint i = 1; i < chosen->len; i++) {
    gint64 other = g_array_index(chosen, gint64, i);
    CwRecord *speaker = cw_vehicle_find_speaker(cw_session_get_vehicle(curve->session), other);
    const double *predicted = speaker ? cw_predicted_car_predicted_db(curve->forecast, other) : NULL;
    g_autofree char *number = g_strdup_printf("%d", (int)other);
    if (predicted)
      add_line(plot, number, hz, predicted, cw_speaker_colour(speaker), cw_speaker_dash(speaker));
  }
}

/* Measured, target and prediction; the prediction comes last, as the handles sit on it. */
static void add_curves(CwOutputCurve *curve, CwPlot *plot, gint64 output, CwRecord *speaker)
{
  const double *hz = cw_predicted_car_hz(curve->forecast),
               *measured = cw_predicted_car_measured_db(curve->forecast, output);
  double most = -INFINITY;
  if (!measured)
    return;
  for (guint i = 0; i < CW_PREDICTION_POINTS; i++)
    most = fmax(most, measured[i]);
  add_line(plot, _("measured"), hz, measured, cw_colour_grey, CW_DASH_SOLID);
  if (find(curve)) {
    add_others(curve, plot, output);
    const double *predicted = cw_predicted_car_predicted_db(curve->forecast, output);
    add_target(curve, plot, predicted);
    add_line(plot, _("predicted"), hz, predicted, cw_speaker_colour(speaker), CW_DASH_SOLID);
    for (guint i = 0; i < CW_PREDICTION_POINTS; i++)
      most = fmax(most, predicted[i]);
  }
  most = 10 * ceil((most + 2) / 10);
  cw_plot_set_level_axis(plot, plot->y.name, "dB", most - 50, most);
}

static gboolean draw(gpointer data, CwPlotView *view)
{
  CwOutputCurve *curve = data;
  CwPlot *plot = cw_plot_view_get_plot(view);
  gint64 output = cw_session_get_output(curve->session);
  CwRecord *speaker = cw_vehicle_find_speaker(cw_session_get_vehicle(curve->session), output);
  g_autofree char *name = cw_say_output(cw_session_get_vehicle(curve->session), output);
  g_autofree char *words = g_strdup_printf(_("%s alone: measured, and predicted with its filters."), name);
  cw_plot_clear(plot);
  g_free(curve->axis_name);
  curve->axis_name = g_strdup_printf(_("%s at the seat"), name);
  plot->y.name = curve->axis_name;
  if (curve->predicted && speaker)
    add_curves(curve, plot, output, speaker);
  cw_plot_view_set_words(view, words);
  cw_plot_view_update(view);
  return curve->predicted;
}

static const CwFieldId settings[] = {CW_TUNE_OUTPUT_FIELD_GAIN_DB, CW_TUNE_OUTPUT_FIELD_DELAY_MS,
                                     CW_TUNE_OUTPUT_FIELD_POLARITY, CW_TUNE_OUTPUT_FIELD_MUTED, CW_NO_FIELD};

const CwFilterSubject cw_output_filters = {
    N_("The output's curve"), settings, TRUE, find, say_title, middle_hz, draw};

CwOutputCurve *cw_output_curve_new(CwSession *session, CwPredictedCar *forecast)
{
  CwOutputCurve *curve = g_new0(CwOutputCurve, 1);
  *curve = (CwOutputCurve){.session = session, .forecast = forecast};
  return curve;
}

void cw_output_curve_show(CwOutputCurve *curve, gboolean predicted, gboolean with_before)
{
  curve->predicted = predicted;
  curve->with_before = with_before;
}

void cw_output_curve_free(CwOutputCurve *curve)
{
  g_free(curve->axis_name);
  g_free(curve);
}
