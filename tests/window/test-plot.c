/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plot/plot_draw.h"

#include <math.h>
#include <string.h>

/* Octaves between 20 Hz and 20 kHz. Source: ISO 266, preferred frequencies. */
static const double octaves[] = {31.5, 63, 125, 250, 500, 1000, 2000, 4000, 8000, 16000};

static void test_marks(void)
{
  CwAxis axis = {20, 20000, 20, 20000, TRUE, "Hz", ""};
  g_autoptr(GArray) marks = cw_axis_marks(&axis, 500, 40);
  guint strong = 0;
  for (guint i = 0; i < marks->len; i++) {
    const CwMark *mark = &g_array_index(marks, CwMark, i);
    if (!mark->strong)
      continue;
    g_assert_cmpuint(strong, <, G_N_ELEMENTS(octaves));
    g_assert_cmpfloat(fabs(mark->value / octaves[strong++] - 1), <, 1e-9);
  }
  g_assert_cmpuint(strong, ==, G_N_ELEMENTS(octaves));
  g_assert_cmpuint(marks->len, ==, 31); /* thirds from 20 Hz to 20 kHz */
}

static void test_places(void)
{
  CwAxis axis = {20, 20000, 20, 20000, TRUE, "Hz", ""};
  for (double place = -0.5; place < 1.6; place += 0.1)
    g_assert_cmpfloat(fabs(cw_axis_place(&axis, cw_axis_value(&axis, place)) - place), <, 1e-12);
  double under = cw_axis_value(&axis, 0.3);
  cw_axis_zoom(&axis, 0.3, 0.5);
  g_assert_cmpfloat(fabs(cw_axis_value(&axis, 0.3) / under - 1), <, 1e-9);
  for (int i = 0; i < 100; i++)
    cw_axis_zoom(&axis, 0.5, 0.5);
  g_assert_true(cw_axis_is_usable(&axis));
  for (int i = 0; i < 100; i++)
    cw_axis_zoom(&axis, 0.1, 2);
  g_assert_cmpfloat(axis.low, ==, 20);
  g_assert_cmpfloat(axis.high, ==, 20000);
}

static void test_values(void)
{
  g_autoptr(CwPlot) plot = cw_plot_new();
  const double hz[] = {100, 1000, 10000}, db[] = {0, 10, (double)NAN};
  CwSeries *series = cw_plot_add(plot, "=SUM(A1)", 3, hz, db);
  g_assert_cmpfloat(fabs(cw_series_value_at(series, sqrt(100.0 * 1000)) - 5), <, 1e-9);
  g_assert_cmpfloat(cw_series_value_at(series, 1000), ==, 10);
  g_assert_true(isnan(cw_series_value_at(series, 99)) && isnan(cw_series_value_at(series, 5000)));
  g_autofree char *csv = cw_plot_to_csv(plot);
  g_assert_nonnull(strstr(csv, "\"'=SUM(A1)\",100,0,\n")); /* no formula for a table program */
  g_assert_nonnull(strstr(csv, ",10000,,\n"));
}

/* A line of more points than there are pixels keeps its extremes, and a plot of nothing draws. */
static void test_drawing(void)
{
  g_autoptr(CwPlot) plot = cw_plot_new();
  CwPlotLook look = {.ink = {0, 0, 0}, .text_size = 12};
  cairo_surface_t *surface = cairo_image_surface_create(CAIRO_FORMAT_ARGB32, 300, 200);
  cairo_t *cr = cairo_create(surface);
  cw_plot_draw(cr, plot, &look, 300, 200);
  enum { POINTS = 100000 };
  g_autofree double *hz = g_new(double, POINTS), *db = g_new(double, POINTS);
  for (int i = 0; i < POINTS; i++) {
    hz[i] = 20 * pow(1000, i / (POINTS - 1.0));
    db[i] = i == POINTS / 2 ? 15 : -30;
  }
  cw_plot_add(plot, NULL, POINTS, hz, db)->colour = (CwColour){1, 0, 0};
  cw_plot_draw(cr, plot, &look, 300, 200);
  cairo_surface_flush(surface);
  CwPlotArea area = cw_plot_area(plot, &look, 300, 200);
  int column = (int)(area.x + area.width / 2),
      row = (int)(area.y + area.height * (1 - cw_axis_place(&plot->y, 10)));
  guint red = 0;
  for (int x = column - 3; x <= column + 3; x++) {
    const guint8 *pixel =
        cairo_image_surface_get_data(surface) + row * cairo_image_surface_get_stride(surface) + 4 * x;
    red += pixel[2] > 100 && pixel[1] < 100;
  }
  g_assert_cmpuint(red, >, 0);
  g_assert_cmpint(cairo_status(cr), ==, CAIRO_STATUS_SUCCESS);
  cairo_destroy(cr);
  cairo_surface_destroy(surface);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/plot/marks", test_marks);
  g_test_add_func("/plot/places", test_places);
  g_test_add_func("/plot/values", test_values);
  g_test_add_func("/plot/drawing", test_drawing);
  return g_test_run();
}
