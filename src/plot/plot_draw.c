/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plot/plot_draw.h"

#include <math.h>
#include <pango/pangocairo.h>

#define LABEL_EMS_MOST 13.0

static void set_colour(cairo_t *cr, CwColour colour, double alpha)
{
  cairo_set_source_rgba(cr, colour.red, colour.green, colour.blue, alpha);
}

void cw_plot_set_dash(cairo_t *cr, CwDash dash, double width)
{
  static const struct {
    int count;
    double part[4];
  } patterns[CW_N_DASHES] = {{0, {0}}, {2, {7, 3}}, {2, {3, 2.5}}, {2, {1, 2}}, {4, {7, 2.5, 1, 2.5}}};
  double parts[4];
  for (int i = 0; i < patterns[dash].count; i++)
    parts[i] = patterns[dash].part[i] * width;
  cairo_set_dash(cr, parts, patterns[dash].count, 0);
}

static PangoLayout *new_text(cairo_t *cr, const CwPlotLook *look, const char *text)
{
  PangoLayout *layout = pango_cairo_create_layout(cr);
  g_autoptr(PangoFontDescription) font = pango_font_description_from_string("Sans");
  pango_font_description_set_absolute_size(font, look->text_size * PANGO_SCALE);
  pango_layout_set_font_description(layout, font);
  pango_layout_set_text(layout, text, -1);
  pango_layout_set_ellipsize(layout, PANGO_ELLIPSIZE_END);
  return layout;
}

/* Draws text with its left (align 0), middle (0.5) or right (1) at x and its vertical middle at y. */
static void draw_text(cairo_t *cr, const CwPlotLook *look, const char *text, double x, double y, double align,
                      double width_most)
{
  g_autoptr(PangoLayout) layout = new_text(cr, look, text);
  int width, height;
  if (width_most > 0)
    pango_layout_set_width(layout, (int)(width_most * PANGO_SCALE));
  pango_layout_get_pixel_size(layout, &width, &height);
  cairo_move_to(cr, x - align * width, y - height / 2.0);
  pango_cairo_show_layout(cr, layout);
}

/* The room for the longest label, judged by its letters; 0 without labels. */
static double label_room(const CwPlot *plot, const CwPlotLook *look, double width)
{
  glong longest = look->labels_at_lines && plot->series->len ? plot->label_letters_least : 0;
  for (guint i = 0; look->labels_at_lines && i < plot->series->len; i++) {
    const CwSeries *series = g_ptr_array_index(plot->series, i);
    if (series->label)
      longest = MAX(longest, g_utf8_strlen(series->label, -1));
  }
  return longest ? fmin(look->text_size * fmin(LABEL_EMS_MOST, 3.2 + 0.62 * (double)longest), 0.3 * width)
                 : 0;
}

static gboolean has_labels(const CwPlot *plot, const CwPlotLook *look)
{
  return label_room(plot, look, G_MAXDOUBLE) > 0;
}

CwPlotArea cw_plot_area(const CwPlot *plot, const CwPlotLook *look, double width, double height)
{
  double em = look->text_size, left = 3.6 * em, bottom = 2.0 * em, top = 2.2 * em;
  double right = fmax(label_room(plot, look, width), 1.6 * em);
  return (CwPlotArea){left, top, fmax(width - left - right, 1), fmax(height - top - bottom, 1)};
}

static double x_of(const CwPlot *plot, const CwPlotArea *area, double value)
{
  return area->x + area->width * cw_axis_place(&plot->x, value);
}

static double y_of(const CwPlot *plot, const CwPlotArea *area, double value)
{
  double place = cw_axis_place(&plot->y, value);
  return area->y + area->height * (1 - CLAMP(place, -2, 3));
}

static void draw_grid_line(cairo_t *cr, const CwPlotLook *look, gboolean strong, double x0, double y0,
                           double x1, double y1)
{
  set_colour(cr, look->ink, strong ? 0.18 : 0.07);
  cairo_move_to(cr, x0, y0);
  cairo_line_to(cr, x1, y1);
  cairo_stroke(cr);
}

void cw_plot_draw_frame(cairo_t *cr, const CwPlot *plot, const CwPlotLook *look, double width, double height)
{
  CwPlotArea area = cw_plot_area(plot, look, width, height);
  double em = look->text_size, below = area.y + area.height;
  g_autoptr(GArray) across = cw_axis_marks(&plot->x, area.width, 3.2 * em);
  g_autoptr(GArray) up = cw_axis_marks(&plot->y, area.height, 2.2 * em);
  cairo_save(cr);
  cairo_set_line_width(cr, 1);
  for (guint i = 0; i < across->len; i++) {
    const CwMark *mark = &g_array_index(across, CwMark, i);
    double x = round(x_of(plot, &area, mark->value)) + 0.5;
    draw_grid_line(cr, look, mark->strong, x, area.y, x, below);
    set_colour(cr, look->ink, 0.8);
    if (mark->strong)
      draw_text(cr, look, mark->text, x, below + em, 0.5, 0);
  }
  for (guint i = 0; i < up->len; i++) {
    const CwMark *mark = &g_array_index(up, CwMark, i);
    double y = round(y_of(plot, &area, mark->value)) + 0.5;
    draw_grid_line(cr, look, mark->strong, area.x, y, area.x + area.width, y);
    set_colour(cr, look->ink, 0.8);
    draw_text(cr, look, mark->text, area.x - 0.5 * em, y, 1, 0);
  }
  set_colour(cr, look->ink, 0.8);
  gboolean named = plot->y.name && *plot->y.name;
  g_autofree char *title = named && *plot->y.unit ? g_strdup_printf("%s, %s", plot->y.name, plot->y.unit)
                                                  : g_strdup(named ? plot->y.name : plot->y.unit);
  draw_text(cr, look, title, 0.4 * em, 0.75 * em, 0, width - 2 * em);
  draw_text(cr, look, plot->x.unit, area.x + area.width + (has_labels(plot, look) ? 1.6 : 0.8) * em,
            below + em, has_labels(plot, look) ? 0 : 0.5, 0);
  cairo_restore(cr);
}

/* The line's points, as they are. */
static void path_points(cairo_t *cr, const CwPlot *plot, const CwPlotArea *area, const CwSeries *series)
{
  gboolean pen_down = FALSE;
  for (guint i = 0; i < series->count; i++) {
    if (!isfinite(series->y[i])) {
      pen_down = FALSE;
      continue;
    }
    double x = x_of(plot, area, series->x[i]), y = y_of(plot, area, series->y[i]);
    if (pen_down)
      cairo_line_to(cr, x, y);
    else
      cairo_move_to(cr, x, y);
    pen_down = TRUE;
  }
}

/* The least and the most of each column of pixels: what a dense line looks like, with few points to stroke.
 */
static void path_columns(cairo_t *cr, const CwPlot *plot, const CwPlotArea *area, const CwSeries *series)
{
  gboolean pen_down = FALSE;
  for (guint i = 0; i < series->count;) {
    double column = floor(x_of(plot, area, series->x[i])), least = INFINITY, most = -INFINITY, last = NAN;
    for (; i < series->count && floor(x_of(plot, area, series->x[i])) <= column; i++)
      if (isfinite(series->y[i])) {
        last = series->y[i];
        least = fmin(least, last);
        most = fmax(most, last);
      }
    if (!isfinite(last)) {
      pen_down = FALSE;
      continue;
    }
    double x = column + 0.5;
    if (pen_down)
      cairo_line_to(cr, x, y_of(plot, area, last == most ? least : most));
    else
      cairo_move_to(cr, x, y_of(plot, area, last == most ? least : most));
    cairo_line_to(cr, x, y_of(plot, area, last == most ? most : least));
    cairo_line_to(cr, x, y_of(plot, area, last));
    pen_down = TRUE;
  }
}

static void fill_band(cairo_t *cr, const CwPlot *plot, const CwPlotArea *area, const CwSeries *series)
{
  guint start = 0;
  while (start < series->count) {
    guint end = start;
    while (end < series->count && isfinite(series->y[end]) && isfinite(series->y_high[end]))
      end++;
    for (guint i = start; i < end; i++)
      cairo_line_to(cr, x_of(plot, area, series->x[i]), y_of(plot, area, series->y[i]));
    for (guint i = end; i-- > start;)
      cairo_line_to(cr, x_of(plot, area, series->x[i]), y_of(plot, area, series->y_high[i]));
    if (end > start) {
      cairo_close_path(cr);
      cairo_fill(cr);
    }
    start = end + 1;
  }
}

static void draw_one(cairo_t *cr, const CwPlot *plot, const CwPlotArea *area, const CwSeries *series)
{
  set_colour(cr, series->colour, series->alpha);
  if (series->y_high) {
    fill_band(cr, plot, area, series);
    return;
  }
  cairo_set_line_width(cr, series->width);
  cairo_set_line_join(cr, CAIRO_LINE_JOIN_ROUND);
  cw_plot_set_dash(cr, series->dash, series->width);
  if (series->count > 2 * area->width)
    path_columns(cr, plot, area, series);
  else
    path_points(cr, plot, area, series);
  cairo_stroke(cr);
}

/* The last value of a series that is in view, or NaN. */
static double last_in_view(const CwPlot *plot, const CwSeries *series)
{
  for (guint i = series->count; i-- > 0;)
    if (series->x[i] <= plot->x.high && series->x[i] >= plot->x.low && isfinite(series->y[i]))
      return series->y_high ? (series->y[i] + series->y_high[i]) / 2 : series->y[i];
  return NAN;
}

typedef struct {
  const CwSeries *series;
  double y;
} Label;

static gint compare_labels(gconstpointer a, gconstpointer b)
{
  double one = ((const Label *)a)->y, other = ((const Label *)b)->y;
  return (one > other) - (one < other);
}

/* Labels apart from each other: pushed down from the top, then up from the bottom. */
static void spread_labels(GArray *labels, const CwPlotArea *area, double apart)
{
  g_array_sort(labels, compare_labels);
  for (guint i = 0; i < labels->len; i++) {
    Label *label = &g_array_index(labels, Label, i);
    double least = i ? g_array_index(labels, Label, i - 1).y + apart : area->y;
    label->y = fmax(label->y, least);
  }
  for (guint i = labels->len; i-- > 0;) {
    Label *label = &g_array_index(labels, Label, i);
    double most =
        i + 1 < labels->len ? g_array_index(labels, Label, i + 1).y - apart : area->y + area->height;
    label->y = fmin(label->y, most);
  }
}

static void draw_labels(cairo_t *cr, const CwPlot *plot, const CwPlotLook *look, const CwPlotArea *area,
                        double width)
{
  g_autoptr(GArray) labels = g_array_new(FALSE, FALSE, sizeof(Label));
  double em = look->text_size, stub = area->x + area->width + 0.4 * em;
  for (guint i = 0; i < plot->series->len; i++) {
    const CwSeries *series = g_ptr_array_index(plot->series, i);
    double value = last_in_view(plot, series);
    if (series->label && isfinite(value)) {
      Label label = {series, CLAMP(y_of(plot, area, value), area->y, area->y + area->height)};
      g_array_append_val(labels, label);
    }
  }
  spread_labels(labels, area, 1.35 * em);
  for (guint i = 0; i < labels->len; i++) {
    const Label *label = &g_array_index(labels, Label, i);
    set_colour(cr, label->series->colour, 1);
    cairo_set_line_width(cr, label->series->y_high ? 0.7 * em : label->series->width);
    cw_plot_set_dash(cr, label->series->y_high ? CW_DASH_SOLID : label->series->dash, label->series->width);
    cairo_move_to(cr, stub, label->y);
    cairo_line_to(cr, stub + 1.8 * em, label->y);
    cairo_stroke(cr);
    set_colour(cr, look->ink, 0.95);
    draw_text(cr, look, label->series->label, stub + 2.2 * em, label->y, 0, width - stub - 2.4 * em);
  }
  cairo_set_dash(cr, NULL, 0, 0);
}

void cw_plot_draw_series(cairo_t *cr, const CwPlot *plot, const CwPlotLook *look, double width, double height)
{
  CwPlotArea area = cw_plot_area(plot, look, width, height);
  if (!cw_axis_is_usable(&plot->x) || !cw_axis_is_usable(&plot->y))
    return;
  cairo_save(cr);
  cairo_rectangle(cr, area.x, area.y, area.width, area.height);
  cairo_clip(cr);
  for (guint i = 0; i < plot->series->len; i++)
    draw_one(cr, plot, &area, g_ptr_array_index(plot->series, i));
  cairo_restore(cr);
  cairo_save(cr);
  if (look->labels_at_lines)
    draw_labels(cr, plot, look, &area, width);
  cairo_restore(cr);
}

void cw_plot_draw(cairo_t *cr, const CwPlot *plot, const CwPlotLook *look, double width, double height)
{
  cw_plot_draw_frame(cr, plot, look, width, height);
  cw_plot_draw_series(cr, plot, look, width, height);
}
