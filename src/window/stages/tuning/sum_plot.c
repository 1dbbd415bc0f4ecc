/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/tuning/sum_plot.h"

#include "job/takes/feeds.h"
#include "signal/log_grid.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define TOLERANCE_DB 3.0
#define SHOWN_SPAN_DB 40.0
#define SILENT_DB (-150.0)
#define FIGURES_LOW_HZ 50.0
#define FIGURES_ABOVE_LOWEST 1.3 /* where the lowest speaker plays fully */
#define FIGURES_HIGH_HZ 16000.0

static CwSeries *add_line(CwPlot *plot, const char *label, const double *hz, const double *db,
                          CwColour colour, CwDash dash)
{
  double smooth[CW_PREDICTION_POINTS];
  double most = -INFINITY;
  for (guint i = 0; i < CW_PREDICTION_POINTS; i++)
    most = fmax(most, db[i]);
  cw_predicted_car_smooth(db, CW_SHOWN_PART_OF_OCTAVE, smooth);
  for (guint i = 0; most < SILENT_DB && i < CW_PREDICTION_POINTS; i++)
    smooth[i] = NAN; /* a side on which nothing sounds has no line, and no name */
  CwSeries *series = cw_plot_add(plot, label, CW_PREDICTION_POINTS, hz, smooth);
  series->colour = colour;
  series->dash = dash;
  return series;
}

static void add_target(CwPlot *plot, const double *hz, const double *target)
{
  double low[CW_PREDICTION_POINTS], high[CW_PREDICTION_POINTS];
  for (guint i = 0; i < CW_PREDICTION_POINTS; i++) {
    low[i] = target[i] - TOLERANCE_DB;
    high[i] = target[i] + TOLERANCE_DB;
  }
  CwSeries *band = cw_plot_add_band(plot, NULL, CW_PREDICTION_POINTS, hz, low, high);
  band->colour = cw_colour_green;
  band->alpha = 0.14;
  add_line(plot, _("target"), hz, target, cw_colour_green, CW_DASH_DOT);
}

static void add_lines(CwPlot *plot, CwPredictedCar *forecast, gboolean with_before, const GPtrArray *others)
{
  const double *hz = cw_predicted_car_hz(forecast), *both = cw_predicted_car_sum_db(forecast, CW_SUM_BOTH);
  double most = -INFINITY;
  add_target(plot, hz, cw_predicted_car_target_db(forecast));
  if (with_before)
    add_line(plot, _("before"), hz, cw_predicted_car_sum_before_db(forecast, CW_SUM_BOTH), cw_colour_grey,
             CW_DASH_SOLID);
  for (guint i = 0; others && i < others->len; i++) {
    CwPredictedCar *other = g_ptr_array_index(others, i);
    add_line(plot, cw_predicted_car_get_seat(other), hz, cw_predicted_car_sum_db(other, CW_SUM_BOTH),
             cw_colour_blue, CW_DASH_MIXED)
        ->width = 1;
  }
  add_line(plot, _("left"), hz, cw_predicted_car_sum_db(forecast, CW_SUM_LEFT), cw_colour_sky, CW_DASH_LONG);
  add_line(plot, _("right"), hz, cw_predicted_car_sum_db(forecast, CW_SUM_RIGHT), cw_colour_vermilion,
           CW_DASH_SHORT);
  add_line(plot, _("both"), hz, both, cw_colour_purple, CW_DASH_SOLID)->width = 2.25;
  for (guint i = 0; i < CW_PREDICTION_POINTS; i++)
    most = fmax(most, fmax(both[i], cw_predicted_car_target_db(forecast)[i]));
  most = 10 * ceil((most + 2) / 10);
  cw_plot_set_level_axis(plot, plot->y.name, "dB", most - SHOWN_SPAN_DB, most);
}

void cw_sum_plot_draw(CwPlotView *view, CwPredictedCar *forecast, gboolean predicted, gboolean with_before,
                      const GPtrArray *others, CwSession *session)
{
  CwPlot *plot = cw_plot_view_get_plot(view);
  gboolean solo = cw_session_get_solo(session);
  cw_plot_clear(plot);
  plot->y.name = solo ? _("Chosen outputs at the seat, predicted") : _("Whole car at the seat, predicted");
  if (predicted)
    add_lines(plot, forecast, with_before, others);
  cw_plot_view_set_words(
      view,
      solo ? _("The chosen outputs at the seat as predicted: left, right and both together, and the target.")
           : _("The whole car at the seat as predicted: left, right and both together, and the target."));
  cw_plot_view_update(view);
}

/* The mean distance of the bands heard from what is predicted there, dB. */
static double distance_of(CwPredictedCar *forecast, guint count, const double *hz, const double *level)
{
  double smooth[CW_PREDICTION_POINTS], sum = 0;
  guint used = 0;
  cw_predicted_car_smooth(cw_predicted_car_sum_db(forecast, CW_SUM_BOTH), CW_SHOWN_PART_OF_OCTAVE, smooth);
  for (guint i = 0; i < count; i++) {
    double expected =
        cw_log_grid_interpolate(cw_predicted_car_hz(forecast), smooth, CW_PREDICTION_POINTS, hz[i]);
    if (hz[i] < FIGURES_LOW_HZ || hz[i] > FIGURES_HIGH_HZ || !isfinite(level[i]) || !isfinite(expected))
      continue;
    sum += level[i] - expected;
    used++;
  }
  return used ? sum / used : (double)NAN;
}

void cw_sum_plot_draw_heard(CwPlotView *view, CwPredictedCar *forecast, CwLiveMicrophone *ear)
{
  CwPlot *plot = cw_plot_view_get_plot(view);
  g_autofree double *hz = NULL, *level = NULL;
  CwSeries *last = plot->series->len ? g_ptr_array_index(plot->series, plot->series->len - 1) : NULL;
  guint count = cw_live_microphone_read(ear, &hz, &level, NULL);
  if (last && g_strcmp0(last->label, _("heard now")) == 0)
    g_ptr_array_remove_index(plot->series, plot->series->len - 1);
  double distance = count && plot->series->len ? distance_of(forecast, count, hz, level) : (double)NAN;
  for (guint i = 0; i < count; i++)
    level[i] -= distance;
  if (isfinite(distance)) {
    CwSeries *series = cw_plot_add(plot, _("heard now"), count, hz, level);
    series->colour = cw_colour_orange;
    series->width = 2;
  }
  cw_plot_view_update(view);
}

/* The side's distances from the target at its own level, and how many there are. */
static guint deviate(const double *hz, const double *side, const double *target, double low_hz,
                     double *square)
{
  double mean = 0, sum = 0;
  guint used = 0;
  for (guint i = 0; i < CW_PREDICTION_POINTS; i++)
    if (hz[i] >= low_hz && hz[i] <= FIGURES_HIGH_HZ && isfinite(side[i])) {
      mean += side[i] - target[i];
      sum += (side[i] - target[i]) * (side[i] - target[i]);
      used++;
    }
  *square += used ? sum - mean * mean / used : 0;
  return used;
}

double cw_sum_figures_low_hz(CwRecord *vehicle)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  double lowest_hz = INFINITY;

  for (guint i = 0; i < cw_list_get_length(speakers); i++)
    lowest_hz = fmin(lowest_hz, cw_job_lowest_hz(cw_list_get(speakers, i)));
  return isfinite(lowest_hz) ? fmax(FIGURES_LOW_HZ, FIGURES_ABOVE_LOWEST * lowest_hz) : FIGURES_LOW_HZ;
}

void cw_sum_figures(CwPredictedCar *forecast, double low_hz, double *side_db, double *match_db)
{
  const double *hz = cw_predicted_car_hz(forecast), *target = cw_predicted_car_target_db(forecast);
  double left[CW_PREDICTION_POINTS], right[CW_PREDICTION_POINTS], square = 0, apart = 0;
  guint used = 0, compared = 0;
  cw_predicted_car_smooth(cw_predicted_car_sum_db(forecast, CW_SUM_LEFT), CW_SHOWN_PART_OF_OCTAVE, left);
  cw_predicted_car_smooth(cw_predicted_car_sum_db(forecast, CW_SUM_RIGHT), CW_SHOWN_PART_OF_OCTAVE, right);
  used += deviate(hz, left, target, low_hz, &square);
  used += deviate(hz, right, target, low_hz, &square);
  for (guint i = 0; i < CW_PREDICTION_POINTS; i++)
    if (hz[i] >= low_hz && hz[i] <= FIGURES_HIGH_HZ && isfinite(left[i]) && isfinite(right[i])) {
      apart += fabs(left[i] - right[i]);
      compared++;
    }
  *side_db = used ? sqrt(square / used) : (double)NAN;
  *match_db = compared ? apart / compared : (double)NAN;
}
