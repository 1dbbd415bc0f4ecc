/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/plan/plan_view.h"

#include "window/plan/plan_draw.h"
#include "window/plan/plan_leads.h"
#include "window/state/length.h"
#include "window/state/settings.h"
#include "window/state/words.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define TEXT_SIZE 12.5
#define REACH 6 /* pixels around a thing that still hit it */

struct _CwPlanView {
  GtkWidget parent_instance;
  CwSession *session;
  char *seat;            /* the head that the keys move; NULL: the chosen speaker */
  CwRecord *dragged;     /* speaker, or NULL */
  char *dragged_seat;    /* or a head */
  double from_x, from_y; /* where the thing was when the drag began */
  gboolean moved;
  gboolean leads;
};

G_DEFINE_FINAL_TYPE(CwPlanView, cw_plan_view, GTK_TYPE_WIDGET)

static CwRecord *vehicle_of(CwPlanView *view)
{
  return cw_session_get_vehicle(view->session);
}

static CwPlanScale scale_of(CwPlanView *view)
{
  return cw_plan_scale(vehicle_of(view), gtk_widget_get_width(GTK_WIDGET(view)),
                       gtk_widget_get_height(GTK_WIDGET(view)), TEXT_SIZE);
}

static void plan_snapshot(GtkWidget *widget, GtkSnapshot *snapshot)
{
  CwPlanView *view = CW_PLAN_VIEW(widget);
  double width = gtk_widget_get_width(widget), height = gtk_widget_get_height(widget);
  GdkRGBA ink;
  if (!vehicle_of(view))
    return;
  gtk_style_context_get_color(gtk_widget_get_style_context(widget), &ink);
  CwPlanLook look = {.chosen_output = view->seat ? CW_NO_INTEGER : cw_session_get_output(view->session),
                     .playing_output = cw_session_get_playing(view->session),
                     .chosen_seat = cw_session_get_seat(view->session),
                     .focus_seat = view->seat,
                     .ink = {ink.red, ink.green, ink.blue},
                     .text_size = TEXT_SIZE,
                     .leads = view->leads};
  cairo_t *cr = gtk_snapshot_append_cairo(snapshot, &GRAPHENE_RECT_INIT(0, 0, (float)width, (float)height));
  cw_plan_draw(cr, vehicle_of(view), &look, width, height);
  cairo_destroy(cr);
}

static void plan_measure(GtkWidget *widget, GtkOrientation orientation, int for_size, int *least,
                         int *natural, int *least_base, int *natural_base)
{
  *least = orientation == GTK_ORIENTATION_VERTICAL ? 280 : CW_PLAN_VIEW(widget)->leads ? 240 : 330;
  *natural = orientation == GTK_ORIENTATION_HORIZONTAL ? 520 : 480;
}

/* What the drawing says, in words. */
static void describe(CwPlanView *view)
{
  CwRecord *vehicle = vehicle_of(view);
  if (!vehicle)
    return;
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  g_autoptr(GString) words = g_string_new(NULL);
  const char *seat = cw_session_get_seat(view->session);
  g_string_append_printf(words, _("The cabin from above, distances to the %s's head."), seat);
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *speaker = cw_list_get(speakers, i);
    gboolean measured;
    double distance = cw_speaker_distance_cm(vehicle, speaker, seat, &measured);
    g_autofree char *name = cw_say_speaker(speaker);
    g_string_append_printf(words, " %s, %s", name, cw_speaker_place_words(speaker));
    g_autofree char *length = cw_length_say(distance);
    if (isfinite(distance))
      g_string_append_printf(words, ", %s", length);
    if (cw_speaker_get_output(speaker) == cw_session_get_output(view->session))
      g_string_append(words, _(", chosen"));
    if (cw_speaker_get_output(speaker) == cw_session_get_playing(view->session))
      g_string_append(words, _(", plays now"));
    g_string_append_c(words, '.');
  }
  if (view->leads)
    cw_plan_describe_leads(vehicle, words);
  gtk_accessible_update_property(GTK_ACCESSIBLE(view), GTK_ACCESSIBLE_PROPERTY_DESCRIPTION, words->str, -1);
}

static void show(CwPlanView *view)
{
  describe(view);
  gtk_widget_queue_draw(GTK_WIDGET(view));
}

static gboolean hits(const CwPlanScale *scale, CwPlace place, double radius, double x, double y)
{
  double at_x, at_y;
  cw_plan_to_pixels(scale, place, &at_x, &at_y);
  return hypot(x - at_x, y - at_y) <= radius + REACH;
}

/* The speaker under a point, the smallest first, as small ones are drawn among large ones. */
static CwRecord *find_speaker(CwPlanView *view, double x, double y)
{
  CwPlanScale scale = scale_of(view);
  CwList *speakers = cw_vehicle_get_speakers(vehicle_of(view));
  CwRecord *found = NULL;
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *speaker = cw_list_get(speakers, i);
    double radius = cw_plan_speaker_radius(&scale, speaker);
    if (hits(&scale, cw_place_of_speaker(vehicle_of(view), speaker), radius, x, y) &&
        (!found || radius < cw_plan_speaker_radius(&scale, found)))
      found = speaker;
  }
  return found;
}

static const char *find_seat(CwPlanView *view, double x, double y)
{
  CwPlanScale scale = scale_of(view);
  const char *const *seats = cw_vehicle_get_seats(vehicle_of(view));
  for (guint i = 0; seats && seats[i]; i++)
    if (hits(&scale, cw_place_of_head(vehicle_of(view), seats[i]), 9 * scale.scale, x, y))
      return seats[i];
  return NULL;
}

static void choose_seat(CwPlanView *view, const char *seat)
{
  g_free(view->seat);
  view->seat = g_strdup(seat);
  if (seat)
    cw_session_set_seat(view->session, seat);
  show(view);
}

/* Moves the chosen speaker or head; one step that can be undone, however long the drag. */
static void move(CwPlanView *view, CwRecord *speaker, const char *seat, CwPlace place)
{
  CwRecord *vehicle = vehicle_of(view);
  g_autofree char *name = speaker ? cw_say_speaker(speaker) : g_strdup(seat);
  g_autofree char *what = g_strdup_printf(_("Move %s"), name), *key = g_strconcat("move ", name, NULL);
  cw_place_set(speaker ? speaker : cw_place_make_head(vehicle, seat), place);
  cw_session_commit_merging(view->session, what, key);
}

static void on_drag_begin(CwPlanView *view, double x, double y)
{
  gtk_widget_grab_focus(GTK_WIDGET(view));
  view->moved = FALSE;
  g_clear_pointer(&view->dragged_seat, g_free);
  if (!vehicle_of(view))
    return;
  view->dragged = find_speaker(view, x, y);
  const char *seat = view->dragged ? NULL : find_seat(view, x, y);
  view->dragged_seat = g_strdup(seat);
  CwPlanScale scale = scale_of(view);
  if (view->dragged) {
    choose_seat(view, NULL);
    cw_session_set_output(view->session, cw_speaker_get_output(view->dragged));
    cw_plan_to_pixels(&scale, cw_place_of_speaker(vehicle_of(view), view->dragged), &view->from_x,
                      &view->from_y);
  } else if (seat) {
    choose_seat(view, seat);
    cw_plan_to_pixels(&scale, cw_place_of_head(vehicle_of(view), seat), &view->from_x, &view->from_y);
  }
}

static void on_drag_update(CwPlanView *view, double dx, double dy)
{
  if ((!view->dragged && !view->dragged_seat) || (!view->moved && hypot(dx, dy) < 4))
    return;
  CwPlanScale scale = scale_of(view);
  CwPlace old = view->dragged ? cw_place_of_speaker(vehicle_of(view), view->dragged)
                              : cw_place_of_head(vehicle_of(view), view->dragged_seat);
  view->moved = TRUE;
  CwPlace place = cw_plan_from_pixels(&scale, view->from_x + dx, view->from_y + dy, old.z_cm);
  cw_place_set(view->dragged ? view->dragged : cw_place_make_head(vehicle_of(view), view->dragged_seat),
               place);
}

static void on_drag_end(CwPlanView *view, double dx, double dy)
{
  if (view->moved) {
    g_autofree char *name = view->dragged ? cw_say_speaker(view->dragged) : g_strdup(view->dragged_seat);
    g_autofree char *what = g_strdup_printf(_("Move %s"), name);
    cw_session_commit(view->session, what);
  }
  view->dragged = NULL;
  view->moved = FALSE;
}

static gboolean step_of_key(guint key, gboolean large, double *dx, double *dy)
{
  double step = large ? 10 : 1;
  *dx = key == GDK_KEY_Up ? -step : key == GDK_KEY_Down ? step : 0;
  *dy = key == GDK_KEY_Left ? -step : key == GDK_KEY_Right ? step : 0;
  return *dx != 0 || *dy != 0;
}

/* Space and Shift+Space go through speakers and heads; the arrow keys move what is chosen. */
static void choose_next(CwPlanView *view, int way)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle_of(view));
  const char *const *seats = cw_vehicle_get_seats(vehicle_of(view));
  int n_speakers = (int)cw_list_get_length(speakers), count = n_speakers + (int)g_strv_length((char **)seats),
      at = 0;
  for (int i = 0; i < count; i++)
    if (i < n_speakers ? !view->seat && cw_speaker_get_output(cw_list_get(speakers, (guint)i)) ==
                                            cw_session_get_output(view->session)
                       : g_strcmp0(view->seat, seats[i - n_speakers]) == 0)
      at = i;
  at = (at + way + count) % count;
  choose_seat(view, at < n_speakers ? NULL : seats[at - n_speakers]);
  if (at < n_speakers)
    cw_session_set_output(view->session, cw_speaker_get_output(cw_list_get(speakers, (guint)at)));
}

static gboolean on_key(CwPlanView *view, guint key, guint code, GdkModifierType state)
{
  CwRecord *vehicle = vehicle_of(view);
  double dx, dy;
  if (!vehicle || (state & (GDK_CONTROL_MASK | GDK_ALT_MASK)))
    return GDK_EVENT_PROPAGATE;
  if (key == GDK_KEY_space) {
    choose_next(view, state & GDK_SHIFT_MASK ? -1 : 1);
    return GDK_EVENT_STOP;
  }
  CwRecord *speaker =
      view->seat ? NULL : cw_vehicle_find_speaker(vehicle, cw_session_get_output(view->session));
  if (!step_of_key(key, (state & GDK_SHIFT_MASK) != 0, &dx, &dy) || (!speaker && !view->seat))
    return GDK_EVENT_PROPAGATE;
  CwPlanScale scale = scale_of(view);
  CwPlace place = speaker ? cw_place_of_speaker(vehicle, speaker) : cw_place_of_head(vehicle, view->seat);
  place.x_cm = CLAMP(place.x_cm + dx, 0, scale.length_cm);
  place.y_cm = CLAMP(place.y_cm + dy, 0, scale.width_cm);
  move(view, speaker, view->seat, place);
  return GDK_EVENT_STOP;
}

static void plan_dispose(GObject *object)
{
  CwPlanView *view = CW_PLAN_VIEW(object);
  g_clear_object(&view->session);
  g_clear_pointer(&view->seat, g_free);
  g_clear_pointer(&view->dragged_seat, g_free);
  G_OBJECT_CLASS(cw_plan_view_parent_class)->dispose(object);
}

static void cw_plan_view_class_init(CwPlanViewClass *klass)
{
  GtkWidgetClass *widget_class = GTK_WIDGET_CLASS(klass);
  G_OBJECT_CLASS(klass)->dispose = plan_dispose;
  widget_class->snapshot = plan_snapshot;
  widget_class->measure = plan_measure;
  gtk_widget_class_set_accessible_role(widget_class, GTK_ACCESSIBLE_ROLE_IMG);
  gtk_widget_class_set_css_name(widget_class, "plan");
}

static void cw_plan_view_init(CwPlanView *view)
{
  GtkGesture *drag = gtk_gesture_drag_new();
  GtkEventController *keys = gtk_event_controller_key_new();
  g_signal_connect_swapped(drag, "drag-begin", G_CALLBACK(on_drag_begin), view);
  g_signal_connect_swapped(drag, "drag-update", G_CALLBACK(on_drag_update), view);
  g_signal_connect_swapped(drag, "drag-end", G_CALLBACK(on_drag_end), view);
  g_signal_connect_swapped(keys, "key-pressed", G_CALLBACK(on_key), view);
  gtk_widget_add_controller(GTK_WIDGET(view), GTK_EVENT_CONTROLLER(drag));
  gtk_widget_add_controller(GTK_WIDGET(view), keys);
  gtk_widget_set_focusable(GTK_WIDGET(view), TRUE);
  cw_set_name(GTK_WIDGET(view), _("Plan of the cabin"));
  if (cw_settings_get())
    g_signal_connect_object(cw_settings_get(), "changed::inches", G_CALLBACK(show), view, G_CONNECT_SWAPPED);
}

GtkWidget *cw_plan_view_new(CwSession *session)
{
  CwPlanView *view = g_object_new(CW_TYPE_PLAN_VIEW, NULL);
  view->session = g_object_ref(session);
  gtk_widget_set_tooltip_text(GTK_WIDGET(view), _("Drag, or choose with Space and move with the arrow keys"));
  g_signal_connect_object(session, "changed", G_CALLBACK(show), view, G_CONNECT_SWAPPED);
  g_signal_connect_object(session, "selection-changed", G_CALLBACK(show), view, G_CONNECT_SWAPPED);
  return GTK_WIDGET(view);
}

GtkWidget *cw_plan_view_new_of_leads(CwSession *session)
{
  GtkWidget *view = cw_plan_view_new(session);
  CW_PLAN_VIEW(view)->leads = TRUE;
  cw_set_name(view, _("Plan of the cabin with the leads"));
  return view;
}
