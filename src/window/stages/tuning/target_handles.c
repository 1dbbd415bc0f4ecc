/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/tuning/target_handles.h"

#include "window/state/target_points.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define RADIUS 7.0
#define REACH 11.0
#define NONE (-1)
#define LEVEL_STEP_DB 0.5
#define FREQUENCY_STEP exp2(1 / 12.0)

struct _CwTargetHandles {
  GtkWidget parent_instance;
  CwSession *session;
  CwPlotView *view;
  CwPredictedCar *forecast;
  GtkGesture *click; /* on the plot below */
  int chosen, dragged;
  double from_x, from_y, from_hz, from_db;
  gboolean shown;
};

G_DEFINE_FINAL_TYPE(CwTargetHandles, cw_target_handles, GTK_TYPE_WIDGET)

static guint chosen_signal;

static const CwNumbers *target_of(CwTargetHandles *handles)
{
  CwRecord *vehicle = cw_session_get_vehicle(handles->session);
  return vehicle && handles->shown ? cw_vehicle_get_target(vehicle) : NULL;
}

static void place_of(CwTargetHandles *handles, const CwNumbers *target, guint point, double *x, double *y)
{
  CwPlotArea area = cw_plot_view_get_area(handles->view);
  cw_plot_view_to_pixels(handles->view, cw_numbers_at(target, point, 0),
                         cw_numbers_at(target, point, 1) + cw_predicted_car_level_db(handles->forecast), x,
                         y);
  *y = CLAMP(*y, area.y, area.y + area.height);
}

static int find(CwTargetHandles *handles, double x, double y)
{
  const CwNumbers *target = target_of(handles);
  int found = NONE;
  double nearest = REACH;
  for (guint i = 0; target && i < target->n_rows; i++) {
    double at_x, at_y;
    place_of(handles, target, i, &at_x, &at_y);
    if (hypot(x - at_x, y - at_y) <= nearest) {
      nearest = hypot(x - at_x, y - at_y);
      found = (int)i;
    }
  }
  return found;
}

static gboolean handles_contains(GtkWidget *widget, double x, double y)
{
  CwTargetHandles *handles = CW_TARGET_HANDLES(widget);
  return handles->dragged != NONE || find(handles, x, y) != NONE;
}

/* A square on its corner, so that it is not taken for a filter's handle. */
static void draw_handle(CwTargetHandles *handles, cairo_t *cr, const CwNumbers *target, guint point)
{
  CwPlotArea area = cw_plot_view_get_area(handles->view);
  gboolean chosen = (int)point == handles->chosen;
  double x, y;
  place_of(handles, target, point, &x, &y);
  if (x < area.x - 1 || x > area.x + area.width + 1)
    return;
  cairo_new_path(cr);
  cairo_move_to(cr, x, y - RADIUS);
  cairo_line_to(cr, x + RADIUS, y);
  cairo_line_to(cr, x, y + RADIUS);
  cairo_line_to(cr, x - RADIUS, y);
  cairo_close_path(cr);
  cairo_set_source_rgba(cr, 1, 1, 1, 0.95);
  cairo_fill_preserve(cr);
  if (chosen)
    cairo_set_source_rgb(cr, cw_colour_orange.red, cw_colour_orange.green, cw_colour_orange.blue);
  else
    cairo_set_source_rgb(cr, cw_colour_green.red, cw_colour_green.green, cw_colour_green.blue);
  cairo_set_line_width(cr, chosen ? 3.5 : 2);
  cairo_stroke(cr);
}

static void handles_snapshot(GtkWidget *widget, GtkSnapshot *snapshot)
{
  CwTargetHandles *handles = CW_TARGET_HANDLES(widget);
  const CwNumbers *target = target_of(handles);
  if (!target)
    return;
  cairo_t *cr =
      gtk_snapshot_append_cairo(snapshot, &GRAPHENE_RECT_INIT(0, 0, (float)gtk_widget_get_width(widget),
                                                              (float)gtk_widget_get_height(widget)));
  for (guint i = 0; i < target->n_rows; i++)
    draw_handle(handles, cr, target, i);
  cairo_destroy(cr);
}

static void describe(CwTargetHandles *handles)
{
  const CwNumbers *target = target_of(handles);
  g_autofree char *words = NULL;
  if (target && handles->chosen != NONE && handles->chosen < (int)target->n_rows)
    words = g_strdup_printf(_("Point %d of %u: %.0f hertz, %.1f decibels"), handles->chosen + 1,
                            target->n_rows, cw_numbers_at(target, (guint)handles->chosen, 0),
                            cw_numbers_at(target, (guint)handles->chosen, 1));
  gtk_accessible_update_property(GTK_ACCESSIBLE(handles), GTK_ACCESSIBLE_PROPERTY_DESCRIPTION,
                                 words ? words : _("No point is chosen. Page Down chooses the first."), -1);
}

static void choose(CwTargetHandles *handles, int point)
{
  handles->chosen = point;
  describe(handles);
  gtk_widget_queue_draw(GTK_WIDGET(handles));
  g_signal_emit(handles, chosen_signal, 0);
}

void cw_target_handles_show(CwTargetHandles *handles, gboolean shown)
{
  handles->shown = shown;
  const CwNumbers *target = target_of(handles);
  if (handles->chosen >= (int)(target ? target->n_rows : 0))
    handles->chosen = NONE;
  if (handles->dragged >= (int)(target ? target->n_rows : 0)) {
    handles->dragged = NONE;
    cw_predicted_car_hold_level(handles->forecast, FALSE);
  }
  gtk_widget_set_focusable(GTK_WIDGET(handles), shown);
  gtk_event_controller_set_propagation_phase(GTK_EVENT_CONTROLLER(handles->click),
                                             shown ? GTK_PHASE_CAPTURE : GTK_PHASE_NONE);
  describe(handles);
  gtk_widget_queue_draw(GTK_WIDGET(handles));
}

/* --- editing --- */

static void take(CwTargetHandles *handles, CwNumbers *target)
{
  if (target)
    cw_vehicle_take_target(cw_session_get_vehicle(handles->session), target);
}

static void move(CwTargetHandles *handles, int point, double hz, double db)
{
  const CwNumbers *target = target_of(handles);
  if (target && point != NONE)
    take(handles, cw_target_move(target, (guint)point, hz, db));
  describe(handles);
}

static void move_by(CwTargetHandles *handles, double factor, double db)
{
  const CwNumbers *target = target_of(handles);
  if (!target || handles->chosen == NONE)
    return;
  guint point = (guint)handles->chosen;
  g_autofree char *key = g_strdup_printf("target %u", point);
  move(handles, handles->chosen, cw_numbers_at(target, point, 0) * factor,
       cw_numbers_at(target, point, 1) + db);
  cw_session_commit_merging(handles->session, _("Move a point of the target"), key);
}

static void add_at(CwTargetHandles *handles, double hz, double db)
{
  guint point;
  CwNumbers *target = handles->shown ? cw_target_add(target_of(handles), hz, db, &point) : NULL;
  if (!target)
    return;
  take(handles, target);
  if (cw_session_commit(handles->session, _("Add a point to the target")))
    choose(handles, (int)point);
}

void cw_target_handles_add(CwTargetHandles *handles)
{
  const CwNumbers *target = target_of(handles);
  guint count = target ? target->n_rows : 0, after = 0;
  double widest = 0;
  for (guint i = 0; i + 1 < count; i++) {
    double octaves = log2(cw_numbers_at(target, i + 1, 0) / cw_numbers_at(target, i, 0));
    if (handles->chosen == (int)i && octaves > 0.25) {
      after = i;
      break;
    }
    if (octaves > widest) {
      widest = octaves;
      after = i;
    }
  }
  double hz = count > 1 ? sqrt(cw_numbers_at(target, after, 0) * cw_numbers_at(target, after + 1, 0)) : 1000;
  add_at(handles, hz, cw_target_level_db(target, hz));
}

gboolean cw_target_handles_can_remove(CwTargetHandles *handles)
{
  const CwNumbers *target = target_of(handles);
  return target && handles->chosen != NONE && target->n_rows > 2;
}

void cw_target_handles_remove(CwTargetHandles *handles)
{
  if (!cw_target_handles_can_remove(handles))
    return;
  take(handles, cw_target_remove(target_of(handles), (guint)handles->chosen));
  choose(handles, NONE);
  cw_session_commit(handles->session, _("Remove a point of the target"));
}

static void choose_next(CwTargetHandles *handles, int way)
{
  const CwNumbers *target = target_of(handles);
  int count = target ? (int)target->n_rows : 0;
  if (count)
    choose(handles,
           handles->chosen == NONE ? (way > 0 ? 0 : count - 1) : (handles->chosen + count + way) % count);
}

static gboolean on_key(CwTargetHandles *handles, guint key, guint code, GdkModifierType state)
{
  if (!handles->shown || (state & (GDK_CONTROL_MASK | GDK_ALT_MASK)))
    return GDK_EVENT_PROPAGATE;
  switch (key) {
  case GDK_KEY_Left:
  case GDK_KEY_Right:
    move_by(handles, key == GDK_KEY_Left ? 1 / FREQUENCY_STEP : FREQUENCY_STEP, 0);
    return handles->chosen != NONE;
  case GDK_KEY_Up:
  case GDK_KEY_Down:
    move_by(handles, 1, key == GDK_KEY_Up ? LEVEL_STEP_DB : -LEVEL_STEP_DB);
    return handles->chosen != NONE;
  case GDK_KEY_Page_Down:
  case GDK_KEY_Page_Up:
    choose_next(handles, key == GDK_KEY_Page_Down ? 1 : -1);
    return GDK_EVENT_STOP;
  case GDK_KEY_Insert:
    cw_target_handles_add(handles);
    return GDK_EVENT_STOP;
  case GDK_KEY_Delete:
    cw_target_handles_remove(handles);
    return GDK_EVENT_STOP;
  default:
    return GDK_EVENT_PROPAGATE;
  }
}

static void on_drag_begin(GtkGestureDrag *drag, double x, double y, CwTargetHandles *handles)
{
  const CwNumbers *target = target_of(handles);
  handles->dragged = find(handles, x, y);
  if (handles->dragged == NONE) {
    gtk_gesture_set_state(GTK_GESTURE(drag), GTK_EVENT_SEQUENCE_DENIED);
    return;
  }
  gtk_widget_grab_focus(GTK_WIDGET(handles));
  choose(handles, handles->dragged);
  handles->from_x = x;
  handles->from_y = y;
  handles->from_hz = cw_numbers_at(target, (guint)handles->dragged, 0);
  handles->from_db = cw_numbers_at(target, (guint)handles->dragged, 1);
  cw_predicted_car_hold_level(handles->forecast, TRUE); /* the curve is not to slip away under the hand */
}

static void on_drag_update(GtkGestureDrag *drag, double dx, double dy, CwTargetHandles *handles)
{
  double x0, y0, x1, y1;
  if (handles->dragged == NONE)
    return;
  cw_plot_view_from_pixels(handles->view, handles->from_x, handles->from_y, &x0, &y0);
  cw_plot_view_from_pixels(handles->view, handles->from_x + dx, handles->from_y + dy, &x1, &y1);
  move(handles, handles->dragged, handles->from_hz * x1 / x0, handles->from_db + y1 - y0);
}

static void on_drag_end(CwTargetHandles *handles)
{
  if (handles->dragged == NONE)
    return;
  handles->dragged = NONE;
  cw_predicted_car_hold_level(handles->forecast, FALSE);
  cw_session_commit(handles->session, _("Move a point of the target"));
}

static void on_click(GtkGestureClick *click, int presses, double x, double y, CwTargetHandles *handles)
{
  double hz, db;
  if (presses != 2 || find(handles, x, y) != NONE)
    return;
  gtk_gesture_set_state(GTK_GESTURE(click), GTK_EVENT_SEQUENCE_CLAIMED);
  cw_plot_view_from_pixels(handles->view, x, y, &hz, &db);
  gtk_widget_grab_focus(GTK_WIDGET(handles));
  add_at(handles, hz, db - cw_predicted_car_level_db(handles->forecast));
}

/* --- object --- */

static void handles_dispose(GObject *object)
{
  g_clear_object(&CW_TARGET_HANDLES(object)->session);
  G_OBJECT_CLASS(cw_target_handles_parent_class)->dispose(object);
}

static void cw_target_handles_class_init(CwTargetHandlesClass *klass)
{
  GtkWidgetClass *widget_class = GTK_WIDGET_CLASS(klass);
  G_OBJECT_CLASS(klass)->dispose = handles_dispose;
  widget_class->snapshot = handles_snapshot;
  widget_class->contains = handles_contains;
  chosen_signal = g_signal_new("chosen", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL, NULL,
                               G_TYPE_NONE, 0);
  gtk_widget_class_set_accessible_role(widget_class, GTK_ACCESSIBLE_ROLE_IMG);
  gtk_widget_class_set_css_name(widget_class, "handles");
}

static void cw_target_handles_init(CwTargetHandles *handles)
{
  GtkGesture *drag = gtk_gesture_drag_new();
  GtkEventController *keys = gtk_event_controller_key_new();
  handles->chosen = handles->dragged = NONE;
  g_signal_connect(drag, "drag-begin", G_CALLBACK(on_drag_begin), handles);
  g_signal_connect(drag, "drag-update", G_CALLBACK(on_drag_update), handles);
  g_signal_connect_swapped(drag, "drag-end", G_CALLBACK(on_drag_end), handles);
  g_signal_connect_swapped(keys, "key-pressed", G_CALLBACK(on_key), handles);
  gtk_widget_add_controller(GTK_WIDGET(handles), GTK_EVENT_CONTROLLER(drag));
  gtk_widget_add_controller(GTK_WIDGET(handles), keys);
  cw_set_name(GTK_WIDGET(handles), _("Points of the target"));
}

GtkWidget *cw_target_handles_new(CwSession *session, CwPlotView *view, CwPredictedCar *forecast)
{
  CwTargetHandles *handles = g_object_new(CW_TYPE_TARGET_HANDLES, NULL);
  handles->session = g_object_ref(session);
  handles->view = view;
  handles->forecast = forecast;
  handles->click = gtk_gesture_click_new();
  g_signal_connect_object(handles->click, "pressed", G_CALLBACK(on_click), handles, 0);
  gtk_widget_add_controller(GTK_WIDGET(view), GTK_EVENT_CONTROLLER(handles->click));
  g_signal_connect_object(view, "view-changed", G_CALLBACK(gtk_widget_queue_draw), handles,
                          G_CONNECT_SWAPPED);
  cw_target_handles_show(handles, FALSE);
  return GTK_WIDGET(handles);
}
