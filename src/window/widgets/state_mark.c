/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/widgets/state_mark.h"

#include "plot/plot.h"
#include "vehicle/kinds/kinds.h"

#include <math.h>

#define SIZE 18

static void set_ink(GtkWidget *widget, cairo_t *cr, double alpha)
{
  GdkRGBA ink;
  gtk_style_context_get_color(gtk_widget_get_style_context(widget), &ink);
  cairo_set_source_rgba(cr, ink.red, ink.green, ink.blue, alpha * ink.alpha);
}

static void set_colour(cairo_t *cr, CwColour colour)
{
  cairo_set_source_rgb(cr, colour.red, colour.green, colour.blue);
}

static void path_triangle(cairo_t *cr, double middle, double reach)
{
  cairo_move_to(cr, middle, middle - reach);
  cairo_line_to(cr, middle + reach, middle + 0.8 * reach);
  cairo_line_to(cr, middle - reach, middle + 0.8 * reach);
  cairo_close_path(cr);
}

static void draw_bang(cairo_t *cr, double middle, double top)
{
  cairo_set_source_rgb(cr, 0, 0, 0);
  cairo_rectangle(cr, middle - 1, top, 2, 5);
  cairo_rectangle(cr, middle - 1, top + 6.2, 2, 2);
  cairo_fill(cr);
}

static void draw_tick(cairo_t *cr, double middle)
{
  cairo_set_source_rgb(cr, 1, 1, 1);
  cairo_set_line_width(cr, 2);
  cairo_move_to(cr, middle - 3.6, middle + 0.2);
  cairo_line_to(cr, middle - 1, middle + 3);
  cairo_line_to(cr, middle + 3.8, middle - 3.2);
  cairo_stroke(cr);
}

/* Untouched: a ring. Begun: half full. Something to settle: a triangle. Done: a full disc with a tick. */
static void draw_stage(GtkDrawingArea *area, cairo_t *cr, int width, int height, gpointer data)
{
  int state = GPOINTER_TO_INT(g_object_get_data(G_OBJECT(area), "state"));
  double middle = SIZE / 2.0, reach = middle - 2;
  cairo_translate(cr, (width - SIZE) / 2.0, (height - SIZE) / 2.0);
  if (state == CW_STAGE_TO_SETTLE) {
    path_triangle(cr, middle, reach + 1);
    set_colour(cr, cw_colour_orange);
    cairo_fill(cr);
    draw_bang(cr, middle, 4.6);
    return;
  }
  cairo_arc(cr, middle, middle, reach, 0, 2 * G_PI);
  if (state == CW_STAGE_DONE) {
    set_colour(cr, cw_colour_green);
    cairo_fill(cr);
    draw_tick(cr, middle);
    return;
  }
  set_ink(GTK_WIDGET(area), cr, 0.55);
  cairo_set_line_width(cr, 1.6);
  cairo_stroke(cr);
  if (state == CW_STAGE_BEGUN) {
    cairo_arc(cr, middle, middle, reach - 2.4, G_PI / 2, 3 * G_PI / 2);
    cairo_close_path(cr);
    set_ink(GTK_WIDGET(area), cr, 0.75);
    cairo_fill(cr);
  }
}

static GtkWidget *new_mark(GtkDrawingAreaDrawFunc draw)
{
  GtkWidget *area = gtk_drawing_area_new();
  gtk_drawing_area_set_content_width(GTK_DRAWING_AREA(area), SIZE);
  gtk_drawing_area_set_content_height(GTK_DRAWING_AREA(area), SIZE);
  gtk_drawing_area_set_draw_func(GTK_DRAWING_AREA(area), draw, NULL, NULL);
  gtk_widget_set_valign(area, GTK_ALIGN_CENTER);
  return area;
}

GtkWidget *cw_state_mark_new(void)
{
  return new_mark(draw_stage);
}

/* The state of a stage, CW_STAGE_UNTOUCHED to CW_STAGE_DONE. */
void cw_state_mark_set_state(GtkWidget *mark, int state)
{
  g_object_set_data(G_OBJECT(mark), "state", GINT_TO_POINTER(state));
  gtk_widget_queue_draw(mark);
}

/* Stop: an octagon. Attend: a triangle. Note: a disc. */
static void draw_severity(GtkDrawingArea *area, cairo_t *cr, int width, int height, gpointer data)
{
  int severity = GPOINTER_TO_INT(g_object_get_data(G_OBJECT(area), "state"));
  double middle = SIZE / 2.0, reach = middle - 1;
  cairo_translate(cr, (width - SIZE) / 2.0, (height - SIZE) / 2.0);
  if (severity == CW_SEVERITY_STOP) {
    for (int corner = 0; corner < 8; corner++)
      cairo_line_to(cr, middle + reach * cos(G_PI * (corner + 0.5) / 4),
                    middle + reach * sin(G_PI * (corner + 0.5) / 4));
    cairo_close_path(cr);
    set_colour(cr, cw_colour_vermilion);
    cairo_fill(cr);
    cairo_set_source_rgb(cr, 1, 1, 1);
    cairo_rectangle(cr, middle - 4.5, middle - 1.25, 9, 2.5);
    cairo_fill(cr);
  } else if (severity == CW_SEVERITY_ATTEND) {
    path_triangle(cr, middle, reach);
    set_colour(cr, cw_colour_orange);
    cairo_fill(cr);
    draw_bang(cr, middle, 4.6);
  } else {
    cairo_arc(cr, middle, middle, reach - 1, 0, 2 * G_PI);
    set_colour(cr, cw_colour_blue);
    cairo_fill(cr);
    cairo_set_source_rgb(cr, 1, 1, 1);
    cairo_rectangle(cr, middle - 1, 7.6, 2, 6);
    cairo_rectangle(cr, middle - 1, 4.4, 2, 2);
    cairo_fill(cr);
  }
}

/* The mark of a finding, CW_SEVERITY_STOP to CW_SEVERITY_NOTE. */
GtkWidget *cw_severity_mark_new(int severity)
{
  GtkWidget *mark = new_mark(draw_severity);
  g_object_set_data(G_OBJECT(mark), "state", GINT_TO_POINTER(severity));
  return mark;
}
