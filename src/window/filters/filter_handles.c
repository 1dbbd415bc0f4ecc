/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/filters/filter_handles.h"

#include "processor/limits.h"
#include "window/state/linked_outputs.h"
#include "window/state/words.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define RADIUS 7.0
#define REACH 11.0
#define Q_STEP 1.08 /* a turn of the wheel */
#define GAIN_STEP_DB 0.5
#define FREQUENCY_STEP_OCTAVES (1 / 24.0)

struct _CwFilterHandles {
  GtkWidget parent_instance;
  CwSession *session;
  CwPlotView *view;
  CwCurveAt curve_at;
  gpointer data;
  CwRecord *owner;  /* of the sections, live; NULL for none */
  CwRecord *chosen; /* a section of it */
  CwRecord *dragged;
  double from_x, from_y, from_hz, from_gain_db, from_q;
};

G_DEFINE_FINAL_TYPE(CwFilterHandles, cw_filter_handles, GTK_TYPE_WIDGET)

static guint chosen_signal;

static CwList *sections_of(CwFilterHandles *handles)
{
  return handles->owner ? cw_port_get_sections(handles->owner) : NULL;
}

static gboolean has_gain(CwRecord *section)
{
  return cw_section_kind_has_gain(cw_tune_section_get_kind(section));
}

static void place_of(CwFilterHandles *handles, CwRecord *section, double *x, double *y)
{
  CwPlotArea area = cw_plot_view_get_area(handles->view);
  double hz = cw_tune_section_get_frequency_hz(section), db = handles->curve_at(hz, handles->data);
  CwPlot *plot = cw_plot_view_get_plot(handles->view);
  cw_plot_view_to_pixels(handles->view, hz, isfinite(db) ? db : plot->y.low, x, y);
  *y = CLAMP(*y, area.y, area.y + area.height);
}

static CwRecord *find(CwFilterHandles *handles, double x, double y)
{
  CwList *sections = sections_of(handles);
  CwRecord *found = NULL;
  double nearest = REACH;
  for (guint i = 0; sections && i < cw_list_get_length(sections); i++) {
    double at_x, at_y;
    place_of(handles, cw_list_get(sections, i), &at_x, &at_y);
    double distance = hypot(x - at_x, y - at_y);
    if (distance <= nearest) {
      nearest = distance;
      found = cw_list_get(sections, i);
    }
  }
  return found;
}

/* Only handles are hit; the plot below gets the rest. */
static gboolean handles_contains(GtkWidget *widget, double x, double y)
{
  CwFilterHandles *handles = CW_FILTER_HANDLES(widget);
  return handles->dragged || find(handles, x, y);
}

static void draw_handle(CwFilterHandles *handles, cairo_t *cr, CwRecord *section, guint number,
                        const GdkRGBA *ink)
{
  CwPlotArea area = cw_plot_view_get_area(handles->view);
  double x, y;
  gboolean crossover = cw_tune_section_get_use(section) == CW_USE_CROSSOVER,
           chosen = section == handles->chosen;
  place_of(handles, section, &x, &y);
  if (x < area.x - 1 || x > area.x + area.width + 1)
    return;
  cairo_new_path(cr);
  if (crossover) {
    cairo_rectangle(cr, x - RADIUS + 1, y - RADIUS + 1, 2 * RADIUS - 2, 2 * RADIUS - 2);
  } else {
    cairo_arc(cr, x, y, RADIUS, 0, 2 * G_PI);
  }
  cairo_set_source_rgba(cr, 1, 1, 1, cw_tune_section_get_bypass(section) ? 0.35 : 0.95);
  cairo_fill_preserve(cr);
  if (chosen)
    cairo_set_source_rgb(cr, cw_colour_orange.red, cw_colour_orange.green, cw_colour_orange.blue);
  else
    cairo_set_source_rgba(cr, 0.15, 0.15, 0.15, 0.9);
  cairo_set_line_width(cr, chosen ? 3.5 : 1.5);
  cairo_stroke(cr);
  g_autofree char *text = g_strdup_printf("%u", number);
  cairo_text_extents_t extents;
  cairo_set_font_size(cr, 9.5);
  cairo_text_extents(cr, text, &extents);
  cairo_set_source_rgb(cr, 0.1, 0.1, 0.1);
  cairo_move_to(cr, x - extents.x_bearing - extents.width / 2, y - extents.y_bearing - extents.height / 2);
  cairo_show_text(cr, text);
}

static void handles_snapshot(GtkWidget *widget, GtkSnapshot *snapshot)
{
  CwFilterHandles *handles = CW_FILTER_HANDLES(widget);
  CwList *sections = sections_of(handles);
  float width = (float)gtk_widget_get_width(widget), height = (float)gtk_widget_get_height(widget);
  GdkRGBA ink;
  if (!sections)
    return;
  gtk_style_context_get_color(gtk_widget_get_style_context(widget), &ink);
  cairo_t *cr = gtk_snapshot_append_cairo(snapshot, &GRAPHENE_RECT_INIT(0, 0, width, height));
  for (guint i = 0; i < cw_list_get_length(sections); i++)
    draw_handle(handles, cr, cw_list_get(sections, i), i + 1, &ink);
  cairo_destroy(cr);
}

/* --- words --- */

/* Crossovers and all-passes have no gain, crossovers no Q. */
static char *say_section(CwRecord *section)
{
  const char *kind = cw_tune_section_say_kind(section), *why = cw_tune_section_get_why(section);
  double hz = cw_tune_section_get_frequency_hz(section), q = cw_tune_section_get_q(section);

  if (has_gain(section))
    return g_strdup_printf(_("%s at %.0f hertz, %.1f decibels, Q %.2f. %s"), kind, hz,
                           cw_tune_section_get_gain_db(section), q, why);
  return isnan(q) ? g_strdup_printf(_("%s at %.0f hertz. %s"), kind, hz, why)
                  : g_strdup_printf(_("%s at %.0f hertz, Q %.2f. %s"), kind, hz, q, why);
}

static void describe(CwFilterHandles *handles)
{
  g_autofree char *words = handles->chosen ? say_section(handles->chosen) : NULL;
  gtk_accessible_update_property(GTK_ACCESSIBLE(handles), GTK_ACCESSIBLE_PROPERTY_DESCRIPTION,
                                 words ? words : _("No section is chosen. Page Down chooses the first."), -1);
}

CwRecord *cw_filter_handles_get_chosen(CwFilterHandles *handles)
{
  return handles->chosen;
}

gboolean cw_filter_handles_get_place(CwFilterHandles *handles, guint section, double *x, double *y)
{
  CwList *sections = sections_of(handles);
  if (!sections || section >= cw_list_get_length(sections))
    return FALSE;
  place_of(handles, cw_list_get(sections, section), x, y);
  return TRUE;
}

void cw_filter_handles_choose(CwFilterHandles *handles, CwRecord *section)
{
  if (handles->chosen == section)
    return;
  handles->chosen = section;
  describe(handles);
  gtk_widget_queue_draw(GTK_WIDGET(handles));
  g_signal_emit(handles, chosen_signal, 0);
}

void cw_filter_handles_set_owner(CwFilterHandles *handles, CwRecord *owner)
{
  guint position;
  g_set_object(&handles->owner, owner);
  CwList *sections = sections_of(handles);
  if (handles->chosen && (!sections || !cw_list_find(sections, handles->chosen, &position)))
    handles->chosen = NULL;
  if (handles->dragged && (!sections || !cw_list_find(sections, handles->dragged, &position)))
    handles->dragged = NULL;
  describe(handles);
  gtk_widget_queue_draw(GTK_WIDGET(handles));
}

/* --- editing --- */

/* What the vehicle's processor can be set to, in steps that the screen shows. */
static CwLimits limits_of(CwFilterHandles *handles)
{
  CwRecord *vehicle = cw_session_get_vehicle(handles->session);
  return cw_limits_by_hand(cw_limits_of_output(cw_vehicle_get_processor(vehicle)));
}

static void set_values(CwFilterHandles *handles, CwRecord *section, double hz, double gain_db, double q)
{
  CwLimits limits = limits_of(handles);
  cw_tune_section_set_frequency_hz(section, cw_limits_frequency_by_hand_hz(&limits, hz));
  if (has_gain(section))
    cw_tune_section_set_gain_db(section, cw_limits_section_gain_db(&limits, gain_db, 0));
  if (cw_tune_section_get_use(section) != CW_USE_CROSSOVER)
    cw_tune_section_set_q(section, cw_limits_q(&limits, q, 0));
  cw_linking_follow(handles->session, section);
  describe(handles);
}

/* Edits that follow each other on one section are one step. */
static void commit(CwFilterHandles *handles)
{
  g_autofree char *name = cw_say_owner(cw_session_get_vehicle(handles->session), handles->owner);
  g_autofree char *what = g_strdup_printf(_("Change a filter of %s"), name),
                  *key = g_strdup_printf("section %p", (void *)handles->chosen);
  cw_session_commit_merging(handles->session, what, key);
}

static void change(CwFilterHandles *handles, double octaves, double gain_db, double q_factor)
{
  CwRecord *section = handles->chosen;
  if (!section)
    return;
  double hz = cw_tune_section_get_frequency_hz(section), wanted = hz * exp2(octaves);
  CwLimits limits = limits_of(handles);
  /* a processor with coarse steps must still be movable by a key */
  for (double further = octaves;
       octaves != 0 && cw_limits_frequency_by_hand_hz(&limits, wanted) == hz && fabs(further) < 1;
       further += octaves)
    wanted = hz * exp2(further);
  set_values(handles, section, wanted, cw_tune_section_get_gain_db(section) + gain_db,
             cw_tune_section_get_q(section) * q_factor);
  commit(handles);
}

static void remove_chosen(CwFilterHandles *handles)
{
  CwRecord *section = handles->chosen;
  if (!section)
    return;
  g_autofree char *name = cw_say_owner(cw_session_get_vehicle(handles->session), handles->owner);
  g_autofree char *what = g_strdup_printf(_("Remove a filter of %s"), name);
  cw_filter_handles_choose(handles, NULL);
  cw_linking_remove(handles->session, section);
  cw_session_commit(handles->session, what);
}

static void choose_next(CwFilterHandles *handles, int way)
{
  CwList *sections = sections_of(handles);
  guint count = sections ? cw_list_get_length(sections) : 0, position = 0;
  if (!count)
    return;
  if (!handles->chosen || !cw_list_find(sections, handles->chosen, &position))
    position = way > 0 ? count - 1 : 0;
  cw_filter_handles_choose(
      handles, cw_list_get(sections, (position + count + (guint)(way > 0 ? 1 : count - 1)) % count));
}

static gboolean on_key(CwFilterHandles *handles, guint key, guint code, GdkModifierType state)
{
  gboolean shift = (state & GDK_SHIFT_MASK) != 0;
  if (state & (GDK_CONTROL_MASK | GDK_ALT_MASK))
    return GDK_EVENT_PROPAGATE;
  switch (key) {
  case GDK_KEY_Left:
  case GDK_KEY_Right:
    change(handles, (key == GDK_KEY_Left ? -1 : 1) * FREQUENCY_STEP_OCTAVES, 0, 1);
    return handles->chosen != NULL;
  case GDK_KEY_Up:
  case GDK_KEY_Down:
    if (shift)
      change(handles, 0, 0, key == GDK_KEY_Up ? Q_STEP : 1 / Q_STEP);
    else
      change(handles, 0, key == GDK_KEY_Up ? GAIN_STEP_DB : -GAIN_STEP_DB, 1);
    return handles->chosen != NULL;
  case GDK_KEY_Page_Down:
  case GDK_KEY_Page_Up:
    choose_next(handles, key == GDK_KEY_Page_Down ? 1 : -1);
    return GDK_EVENT_STOP;
  case GDK_KEY_Delete:
    remove_chosen(handles);
    return GDK_EVENT_STOP;
  default:
    return GDK_EVENT_PROPAGATE;
  }
}

static void on_drag_begin(GtkGestureDrag *drag, double x, double y, CwFilterHandles *handles)
{
  handles->dragged = find(handles, x, y);
  gtk_widget_grab_focus(GTK_WIDGET(handles));
  if (!handles->dragged) {
    gtk_gesture_set_state(GTK_GESTURE(drag), GTK_EVENT_SEQUENCE_DENIED);
    return;
  }
  cw_filter_handles_choose(handles, handles->dragged);
  handles->from_x = x;
  handles->from_y = y;
  handles->from_hz = cw_tune_section_get_frequency_hz(handles->dragged);
  handles->from_gain_db = cw_tune_section_get_gain_db(handles->dragged);
  handles->from_q = cw_tune_section_get_q(handles->dragged);
}

static void on_drag_update(GtkGestureDrag *drag, double dx, double dy, CwFilterHandles *handles)
{
  double x0, y0, x1, y1;
  GdkModifierType state = gtk_event_controller_get_current_event_state(GTK_EVENT_CONTROLLER(drag));
  if (!handles->dragged)
    return;
  cw_plot_view_from_pixels(handles->view, handles->from_x, handles->from_y, &x0, &y0);
  cw_plot_view_from_pixels(handles->view, handles->from_x + dx, handles->from_y + dy, &x1, &y1);
  if (state & GDK_SHIFT_MASK)
    set_values(handles, handles->dragged, handles->from_hz, handles->from_gain_db,
               handles->from_q * exp2(-dy / 60));
  else
    set_values(handles, handles->dragged, handles->from_hz * x1 / x0, handles->from_gain_db + y1 - y0,
               handles->from_q);
}

static void on_drag_end(CwFilterHandles *handles)
{
  if (handles->dragged)
    commit(handles);
  handles->dragged = NULL;
}

static gboolean on_scroll(CwFilterHandles *handles, double dx, double dy)
{
  if (!handles->chosen)
    return GDK_EVENT_PROPAGATE;
  change(handles, 0, 0, dy < 0 ? Q_STEP : 1 / Q_STEP);
  return GDK_EVENT_STOP;
}

/* --- object --- */

static void handles_dispose(GObject *object)
{
  CwFilterHandles *handles = CW_FILTER_HANDLES(object);
  handles->chosen = handles->dragged = NULL;
  g_clear_object(&handles->owner);
  g_clear_object(&handles->session);
  G_OBJECT_CLASS(cw_filter_handles_parent_class)->dispose(object);
}

static void cw_filter_handles_class_init(CwFilterHandlesClass *klass)
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

static void cw_filter_handles_init(CwFilterHandles *handles)
{
  GtkGesture *drag = gtk_gesture_drag_new();
  GtkEventController *keys = gtk_event_controller_key_new();
  GtkEventController *scroll = gtk_event_controller_scroll_new(GTK_EVENT_CONTROLLER_SCROLL_VERTICAL);
  g_signal_connect(drag, "drag-begin", G_CALLBACK(on_drag_begin), handles);
  g_signal_connect(drag, "drag-update", G_CALLBACK(on_drag_update), handles);
  g_signal_connect_swapped(drag, "drag-end", G_CALLBACK(on_drag_end), handles);
  g_signal_connect_swapped(keys, "key-pressed", G_CALLBACK(on_key), handles);
  g_signal_connect_swapped(scroll, "scroll", G_CALLBACK(on_scroll), handles);
  gtk_widget_add_controller(GTK_WIDGET(handles), GTK_EVENT_CONTROLLER(drag));
  gtk_widget_add_controller(GTK_WIDGET(handles), keys);
  gtk_widget_add_controller(GTK_WIDGET(handles), scroll);
  gtk_widget_set_focusable(GTK_WIDGET(handles), TRUE);
  cw_set_name(GTK_WIDGET(handles), _("Handles of the filters"));
}

GtkWidget *cw_filter_handles_new(CwSession *session, CwPlotView *view, CwCurveAt curve_at, gpointer data)
{
  CwFilterHandles *handles = g_object_new(CW_TYPE_FILTER_HANDLES, NULL);
  handles->session = g_object_ref(session);
  handles->view = view;
  handles->curve_at = curve_at;
  handles->data = data;
  g_signal_connect_object(view, "view-changed", G_CALLBACK(gtk_widget_queue_draw), handles,
                          G_CONNECT_SWAPPED);
  return GTK_WIDGET(handles);
}
