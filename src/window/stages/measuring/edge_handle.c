/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/measuring/edge_handle.h"

#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define REACH 8.0
#define GRIP 6.0
#define TICK 9.0
#define STEP_MS 0.01
#define LARGE_STEP_MS 0.1

struct _CwEdgeHandle {
  GtkWidget parent_instance;
  CwPlotView *view;
  double arrival_ms, doubt_ms; /* NAN for none */
  double dragged_ms, from_x;   /* while a hand has it; dragged_ms NAN else */
  guint edges;
  double *edge_ms;
};

G_DEFINE_FINAL_TYPE(CwEdgeHandle, cw_edge_handle, GTK_TYPE_WIDGET)

static guint moved_signal;

static double shown_ms(CwEdgeHandle *handle)
{
  return isnan(handle->dragged_ms) ? handle->arrival_ms : handle->dragged_ms;
}

static double pixel_of(CwEdgeHandle *handle, double ms)
{
  double x, y;
  cw_plot_view_to_pixels(handle->view, ms, 0, &x, &y);
  return x;
}

static double ms_of(CwEdgeHandle *handle, double pixel)
{
  double ms, y;
  cw_plot_view_from_pixels(handle->view, pixel, 0, &ms, &y);
  return ms;
}

static gboolean handle_contains(GtkWidget *widget, double x, double y)
{
  CwEdgeHandle *handle = CW_EDGE_HANDLE(widget);
  CwPlotArea area = cw_plot_view_get_area(handle->view);
  return !isnan(handle->arrival_ms) && y >= area.y && y <= area.y + area.height &&
         (!isnan(handle->dragged_ms) || fabs(x - pixel_of(handle, handle->arrival_ms)) <= REACH);
}

static void set_colour(cairo_t *cr, CwColour colour, double alpha)
{
  cairo_set_source_rgba(cr, colour.red, colour.green, colour.blue, alpha);
}

static void draw_doubt(CwEdgeHandle *handle, cairo_t *cr, const CwPlotArea *area)
{
  double from = pixel_of(handle, handle->arrival_ms - handle->doubt_ms),
         to = pixel_of(handle, handle->arrival_ms + handle->doubt_ms);
  if (!(to > from) || !isnan(handle->dragged_ms))
    return;
  cairo_rectangle(cr, from, area->y, to - from, area->height);
  set_colour(cr, cw_colour_orange, 0.2);
  cairo_fill(cr);
}

/* A short tick from the lower border for each edge. */
static void draw_edges(CwEdgeHandle *handle, cairo_t *cr, const CwPlotArea *area)
{
  set_colour(cr, cw_colour_grey, 1);
  cairo_set_line_width(cr, 2);
  for (guint i = 0; i < handle->edges; i++) {
    double x = pixel_of(handle, handle->edge_ms[i]);
    if (x < area->x || x > area->x + area->width)
      continue;
    cairo_move_to(cr, x, area->y + area->height);
    cairo_line_to(cr, x, area->y + area->height - TICK);
  }
  cairo_stroke(cr);
}

static void draw_line(CwEdgeHandle *handle, cairo_t *cr, const CwPlotArea *area)
{
  double x = pixel_of(handle, shown_ms(handle));
  if (x < area->x - 1 || x > area->x + area->width + 1)
    return;
  set_colour(cr, cw_colour_orange, 1);
  cairo_set_line_width(cr, 2);
  cairo_move_to(cr, x, area->y);
  cairo_line_to(cr, x, area->y + area->height);
  cairo_stroke(cr);
  cairo_move_to(cr, x, area->y + 2 * GRIP);
  cairo_line_to(cr, x - GRIP, area->y);
  cairo_line_to(cr, x + GRIP, area->y);
  cairo_close_path(cr);
  cairo_fill(cr);
}

static void handle_snapshot(GtkWidget *widget, GtkSnapshot *snapshot)
{
  CwEdgeHandle *handle = CW_EDGE_HANDLE(widget);
  CwPlotArea area = cw_plot_view_get_area(handle->view);
  int width = gtk_widget_get_width(widget), height = gtk_widget_get_height(widget);
  if (isnan(handle->arrival_ms))
    return;
  cairo_t *cr = gtk_snapshot_append_cairo(snapshot, &GRAPHENE_RECT_INIT(0, 0, (float)width, (float)height));
  cairo_rectangle(cr, area.x, area.y, area.width, area.height);
  cairo_clip(cr);
  draw_doubt(handle, cr, &area);
  draw_edges(handle, cr, &area);
  draw_line(handle, cr, &area);
  cairo_destroy(cr);
  if (gtk_widget_has_focus(widget))
    gtk_snapshot_render_focus(snapshot, gtk_widget_get_style_context(widget), 1, 1, width - 2, height - 2);
}

static void describe(CwEdgeHandle *handle)
{
  g_autofree char *words =
      isnan(handle->arrival_ms) ? NULL : g_strdup_printf(_("Arrival at %.2f milliseconds"), shown_ms(handle));
  gtk_accessible_update_property(GTK_ACCESSIBLE(handle), GTK_ACCESSIBLE_PROPERTY_DESCRIPTION,
                                 words ? words : _("The take has no arrival."), -1);
  gtk_widget_queue_draw(GTK_WIDGET(handle));
}

void cw_edge_handle_show(CwEdgeHandle *handle, double arrival_ms, double doubt_ms, const CwNumbers *edges)
{
  handle->arrival_ms = arrival_ms;
  handle->doubt_ms = doubt_ms;
  handle->dragged_ms = NAN;
  handle->edges = edges ? edges->n_rows : 0;
  handle->edge_ms = g_renew(double, handle->edge_ms, handle->edges + 1);
  for (guint i = 0; i < handle->edges; i++)
    handle->edge_ms[i] = cw_numbers_at(edges, i, 0);
  gtk_widget_set_focusable(GTK_WIDGET(handle), !isnan(arrival_ms));
  describe(handle);
}

/* --- moving --- */

static void move_to(CwEdgeHandle *handle, double ms)
{
  if (!isnan(ms) && ms != handle->arrival_ms)
    g_signal_emit(handle, moved_signal, 0, ms);
}

/* The next edge before or after the arrival; NAN for none. */
static double next_edge(CwEdgeHandle *handle, int way)
{
  double found = NAN;
  for (guint i = 0; i < handle->edges; i++) {
    double off = way * (handle->edge_ms[i] - handle->arrival_ms);
    if (off > 0.5 * STEP_MS && (isnan(found) || off < way * (found - handle->arrival_ms)))
      found = handle->edge_ms[i];
  }
  return found;
}

static gboolean on_key(CwEdgeHandle *handle, guint key, guint code, GdkModifierType state)
{
  double step = state & GDK_SHIFT_MASK ? LARGE_STEP_MS : STEP_MS;
  if (isnan(handle->arrival_ms) || (state & (GDK_CONTROL_MASK | GDK_ALT_MASK)))
    return GDK_EVENT_PROPAGATE;
  switch (key) {
  case GDK_KEY_Left:
  case GDK_KEY_Right:
    move_to(handle, handle->arrival_ms + (key == GDK_KEY_Left ? -step : step));
    return GDK_EVENT_STOP;
  case GDK_KEY_Page_Up:
  case GDK_KEY_Page_Down:
    move_to(handle, next_edge(handle, key == GDK_KEY_Page_Up ? -1 : 1));
    return GDK_EVENT_STOP;
  default:
    return GDK_EVENT_PROPAGATE;
  }
}

static void on_drag_begin(GtkGestureDrag *drag, double x, double y, CwEdgeHandle *handle)
{
  if (isnan(handle->arrival_ms) || fabs(x - pixel_of(handle, handle->arrival_ms)) > REACH) {
    gtk_gesture_set_state(GTK_GESTURE(drag), GTK_EVENT_SEQUENCE_DENIED);
    return;
  }
  gtk_widget_grab_focus(GTK_WIDGET(handle));
  handle->from_x = pixel_of(handle, handle->arrival_ms);
  handle->dragged_ms = handle->arrival_ms;
}

static void on_drag_update(GtkGestureDrag *drag, double dx, double dy, CwEdgeHandle *handle)
{
  CwPlotArea area = cw_plot_view_get_area(handle->view);
  if (isnan(handle->dragged_ms))
    return;
  handle->dragged_ms = ms_of(handle, CLAMP(handle->from_x + dx, area.x, area.x + area.width));
  describe(handle);
}

static void on_drag_end(CwEdgeHandle *handle)
{
  double ms = handle->dragged_ms;
  handle->dragged_ms = NAN;
  describe(handle);
  move_to(handle, ms);
}

/* --- object --- */

static void handle_finalize(GObject *object)
{
  g_free(CW_EDGE_HANDLE(object)->edge_ms);
  G_OBJECT_CLASS(cw_edge_handle_parent_class)->finalize(object);
}

static void cw_edge_handle_class_init(CwEdgeHandleClass *klass)
{
  GtkWidgetClass *widget_class = GTK_WIDGET_CLASS(klass);
  G_OBJECT_CLASS(klass)->finalize = handle_finalize;
  widget_class->snapshot = handle_snapshot;
  widget_class->contains = handle_contains;
  moved_signal = g_signal_new("moved", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL,
                              G_TYPE_NONE, 1, G_TYPE_DOUBLE);
  gtk_widget_class_set_accessible_role(widget_class, GTK_ACCESSIBLE_ROLE_IMG);
  gtk_widget_class_set_css_name(widget_class, "handles");
}

static void cw_edge_handle_init(CwEdgeHandle *handle)
{
  GtkGesture *drag = gtk_gesture_drag_new();
  GtkEventController *keys = gtk_event_controller_key_new();
  handle->arrival_ms = handle->doubt_ms = handle->dragged_ms = NAN;
  g_signal_connect(drag, "drag-begin", G_CALLBACK(on_drag_begin), handle);
  g_signal_connect(drag, "drag-update", G_CALLBACK(on_drag_update), handle);
  g_signal_connect_swapped(drag, "drag-end", G_CALLBACK(on_drag_end), handle);
  g_signal_connect_swapped(keys, "key-pressed", G_CALLBACK(on_key), handle);
  gtk_widget_add_controller(GTK_WIDGET(handle), GTK_EVENT_CONTROLLER(drag));
  gtk_widget_add_controller(GTK_WIDGET(handle), keys);
  cw_set_name(GTK_WIDGET(handle), _("Arrival of the take"));
}

GtkWidget *cw_edge_handle_new(CwPlotView *view)
{
  CwEdgeHandle *handle = g_object_new(CW_TYPE_EDGE_HANDLE, NULL);
  handle->view = view;
  g_signal_connect_object(view, "view-changed", G_CALLBACK(gtk_widget_queue_draw), handle, G_CONNECT_SWAPPED);
  return GTK_WIDGET(handle);
}
