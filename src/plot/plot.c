/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plot/plot.h"

#include <math.h>
#include <string.h>

const CwColour cw_colour_orange = {230 / 255.0, 159 / 255.0, 0};
const CwColour cw_colour_sky = {86 / 255.0, 180 / 255.0, 233 / 255.0};
const CwColour cw_colour_green = {0, 158 / 255.0, 115 / 255.0};
const CwColour cw_colour_yellow = {240 / 255.0, 228 / 255.0, 66 / 255.0};
const CwColour cw_colour_blue = {0, 114 / 255.0, 178 / 255.0};
const CwColour cw_colour_vermilion = {213 / 255.0, 94 / 255.0, 0};
const CwColour cw_colour_purple = {204 / 255.0, 121 / 255.0, 167 / 255.0};
const CwColour cw_colour_grey = {0.55, 0.55, 0.55};

static void series_free(gpointer data)
{
  CwSeries *series = data;
  g_free(series->label);
  g_free(series->x);
  g_free(series->y);
  g_free(series->y_high);
  g_free(series);
}

CwPlot *cw_plot_new(void)
{
  CwPlot *plot = g_new0(CwPlot, 1);
  plot->series = g_ptr_array_new_with_free_func(series_free);
  cw_plot_set_frequency_axis(plot, 20, 20000);
  cw_plot_set_level_axis(plot, "", "dB", -40, 20);
  return plot;
}

void cw_plot_free(CwPlot *plot)
{
  if (!plot)
    return;
  g_ptr_array_unref(plot->series);
  g_free(plot);
}

void cw_plot_clear(CwPlot *plot)
{
  g_ptr_array_set_size(plot->series, 0);
}

CwSeries *cw_plot_add(CwPlot *plot, const char *label, guint count, const double *x, const double *y)
{
  CwSeries *series = g_new0(CwSeries, 1);
  series->label = g_strdup(label);
  series->count = count;
  series->x = g_memdup2(x, count * sizeof *x);
  series->y = g_memdup2(y, count * sizeof *y);
  series->colour = cw_colour_grey;
  series->width = 1.75;
  series->alpha = 1;
  g_ptr_array_add(plot->series, series);
  return series;
}

CwSeries *cw_plot_add_band(CwPlot *plot, const char *label, guint count, const double *x, const double *low,
                           const double *high)
{
  CwSeries *series = cw_plot_add(plot, label, count, x, low);
  series->y_high = g_memdup2(high, count * sizeof *high);
  series->alpha = 0.25;
  return series;
}

void cw_plot_set_frequency_axis(CwPlot *plot, double low_hz, double high_hz)
{
  CwAxis *axis = &plot->x;
  if (axis->logarithmic && axis->low_all == low_hz && axis->high_all == high_hz)
    return;
  *axis = (CwAxis){low_hz, high_hz, low_hz, high_hz, TRUE, "Hz", ""};
}

void cw_plot_set_level_axis(CwPlot *plot, const char *name, const char *unit, double low, double high)
{
  CwAxis *axis = &plot->y;
  if (axis->unit && g_str_equal(axis->unit, unit) && axis->low_all == low && axis->high_all == high)
    return;
  *axis = (CwAxis){low, high, low, high, FALSE, unit, name};
}

void cw_plot_fit_level_axis(CwPlot *plot, double least_span, double step)
{
  double low = INFINITY, high = -INFINITY;
  for (guint i = 0; i < plot->series->len; i++) {
    const CwSeries *series = g_ptr_array_index(plot->series, i);
    for (guint k = 0; k < series->count; k++) {
      double most = series->y_high ? series->y_high[k] : series->y[k];
      if (isfinite(series->y[k]))
        low = fmin(low, series->y[k]);
      if (isfinite(most))
        high = fmax(high, most);
    }
  }
  if (!(low <= high))
    return;
  low = step * floor((low - 0.1 * step) / step);
  high = step * ceil((high + 0.1 * step) / step);
  if (high - low < least_span)
    low = high - step * ceil(least_span / step);
  cw_plot_set_level_axis(plot, plot->y.name, plot->y.unit, low, high);
}

double cw_series_value_at(const CwSeries *series, double x)
{
  if (!series->count || x < series->x[0] || x > series->x[series->count - 1])
    return (double)NAN;
  guint below = 0, above = series->count - 1;
  while (above - below > 1) {
    guint middle = (below + above) / 2;
    *(series->x[middle] <= x ? &below : &above) = middle;
  }
  double x0 = series->x[below], x1 = series->x[above];
  if (x1 <= x0)
    return series->y[below];
  double part = x0 > 0 ? log(x / x0) / log(x1 / x0) : (x - x0) / (x1 - x0);
  if (part <= 0)
    return series->y[below];
  return series->y[below] + part * (series->y[above] - series->y[below]);
}

static void append_number(GString *text, double value)
{
  char buffer[G_ASCII_DTOSTR_BUF_SIZE];
  if (isfinite(value))
    g_string_append(text, g_ascii_dtostr(buffer, sizeof buffer, value));
}

/* A cell of text; one that a table program would take for a formula is made plain text. */
static void append_text(GString *text, const char *cell)
{
  g_string_append(text, strchr("=+-@", cell[0]) && cell[0] ? "\"'" : "\"");
  for (const char *c = cell; *c; c++)
    g_string_append(text, *c == '"' ? "\"\"" : (char[]){*c, 0});
  g_string_append_c(text, '"');
}

char *cw_plot_to_csv(const CwPlot *plot)
{
  GString *text = g_string_new(NULL);
  g_string_append_printf(text, "series,%s,%s,%s high\n", plot->x.unit, plot->y.unit, plot->y.unit);
  for (guint i = 0; i < plot->series->len; i++) {
    const CwSeries *series = g_ptr_array_index(plot->series, i);
    for (guint k = 0; k < series->count; k++) {
      append_text(text, series->label ? series->label : "");
      g_string_append_c(text, ',');
      append_number(text, series->x[k]);
      g_string_append_c(text, ',');
      append_number(text, series->y[k]);
      g_string_append_c(text, ',');
      if (series->y_high)
        append_number(text, series->y_high[k]);
      g_string_append_c(text, '\n');
    }
  }
  return g_string_free(text, FALSE);
}
