/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/plots/plot_view.h"

#include "window/plots/plot_export.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define TEXT_SIZE 12.0
#define STEP_OCTAVES (1 / 24.0)
#define ZOOM_STEP 0.8

struct _CwPlotView {
  GtkWidget parent_instance;
  CwPlot *plot;
  char *words; /* what the plot is, for those who hear it */
  /* each layer is drawn once for as long as it stays: the frame changes with the axes, the series with every
   * edit */
  GdkTexture *frame, *picture;
  char *frame_key;
  int picture_width, picture_height;
  CwColour picture_ink;
  double readout_x;          /* NaN: none */
  double drag_from, drag_to; /* pixels; NaN: none */
  GtkWidget *menu;
};

G_DEFINE_FINAL_TYPE(CwPlotView, cw_plot_view, GTK_TYPE_WIDGET)

static guint view_changed;

static CwPlotLook look_of(CwPlotView *view)
{
  GdkRGBA ink;
  gtk_style_context_get_color(gtk_widget_get_style_context(GTK_WIDGET(view)), &ink);
  return (CwPlotLook){.ink = {ink.red, ink.green, ink.blue}, .text_size = TEXT_SIZE, .labels_at_lines = TRUE};
}

CwPlotArea cw_plot_view_get_area(CwPlotView *view)
{
  CwPlotLook look = look_of(view);
  return cw_plot_area(view->plot, &look, gtk_widget_get_width(GTK_WIDGET(view)),
                      gtk_widget_get_height(GTK_WIDGET(view)));
}

void cw_plot_view_to_pixels(CwPlotView *view, double x, double y, double *pixel_x, double *pixel_y)
{
  CwPlotArea area = cw_plot_view_get_area(view);
  *pixel_x = area.x + area.width * cw_axis_place(&view->plot->x, x);
  *pixel_y = area.y + area.height * (1 - cw_axis_place(&view->plot->y, y));
}

void cw_plot_view_from_pixels(CwPlotView *view, double pixel_x, double pixel_y, double *x, double *y)
{
  CwPlotArea area = cw_plot_view_get_area(view);
  *x = cw_axis_value(&view->plot->x, (pixel_x - area.x) / area.width);
  *y = cw_axis_value(&view->plot->y, 1 - (pixel_y - area.y) / area.height);
}

/* --- drawing --- */

static gboolean same_colour(CwColour one, CwColour other)
{
  return one.red == other.red && one.green == other.green && one.blue == other.blue;
}

/* All that the frame is drawn from; the caller's. */
static char *say_frame(CwPlotView *view, const CwPlotLook *look, int width, int height, int scale)
{
  const CwAxis *x = &view->plot->x, *y = &view->plot->y;
  CwPlotArea area = cw_plot_view_get_area(view);
  return g_strdup_printf("%d %d %d %a %a %a %a %a %a %a %a %a %s %s", width, height, scale, look->ink.red,
                         look->ink.green, look->ink.blue, x->low, x->high, y->low, y->high, area.width,
                         area.height, y->name ? y->name : "", y->unit ? y->unit : "");
}

static void ensure_layers(CwPlotView *view, int width, int height)
{
  CwPlotLook look = look_of(view);
  int scale = gtk_widget_get_scale_factor(GTK_WIDGET(view));
  if (view->picture && view->picture_width == width && view->picture_height == height &&
      same_colour(view->picture_ink, look.ink))
    return;
  g_autofree char *key = say_frame(view, &look, width, height, scale);
  if (!view->frame || g_strcmp0(key, view->frame_key) != 0) {
    g_clear_object(&view->frame);
    view->frame = cw_plot_to_texture(view->plot, cw_plot_draw_frame, &look, NULL, width, height, scale);
    g_free(view->frame_key);
    view->frame_key = g_steal_pointer(&key);
  }
  g_clear_object(&view->picture);
  view->picture = cw_plot_to_texture(view->plot, cw_plot_draw_series, &look, NULL, width, height, scale);
  view->picture_width = width;
  view->picture_height = height;
  view->picture_ink = look.ink;
}

static void draw_readout(CwPlotView *view, cairo_t *cr)
{
  CwPlotArea area = cw_plot_view_get_area(view);
  CwPlotLook look = look_of(view);
  double x = area.x + area.width * cw_axis_place(&view->plot->x, view->readout_x);
  g_autofree char *words = cw_plot_view_say_readout(view);
  cairo_set_source_rgba(cr, look.ink.red, look.ink.green, look.ink.blue, 0.7);
  cairo_set_line_width(cr, 1);
  cairo_move_to(cr, round(x) + 0.5, area.y);
  cairo_line_to(cr, round(x) + 0.5, area.y + area.height);
  cairo_stroke(cr);
  for (guint i = 0; i < view->plot->series->len; i++) {
    const CwSeries *series = g_ptr_array_index(view->plot->series, i);
    double value = series->y_high ? (double)NAN : cw_series_value_at(series, view->readout_x),
           place = cw_axis_place(&view->plot->y, value);
    if (!(place >= 0 && place <= 1))
      continue;
    cairo_arc(cr, x, area.y + area.height * (1 - place), 3.5, 0, 2 * G_PI);
    cairo_set_source_rgb(cr, series->colour.red, series->colour.green, series->colour.blue);
    cairo_fill(cr);
  }
  cw_plot_draw_words(cr, &look, words, area.x + area.width, 0.75 * TEXT_SIZE);
}

static void draw_drag(CwPlotView *view, cairo_t *cr)
{
  CwPlotArea area = cw_plot_view_get_area(view);
  double from = CLAMP(view->drag_from, area.x, area.x + area.width),
         to = CLAMP(view->drag_to, area.x, area.x + area.width);
  cairo_rectangle(cr, fmin(from, to), area.y, fabs(to - from), area.height);
  cairo_set_source_rgba(cr, cw_colour_sky.red, cw_colour_sky.green, cw_colour_sky.blue, 0.25);
  cairo_fill(cr);
}

static void plot_snapshot(GtkWidget *widget, GtkSnapshot *snapshot)
{
  CwPlotView *view = CW_PLOT_VIEW(widget);
  int width = gtk_widget_get_width(widget), height = gtk_widget_get_height(widget);
  graphene_rect_t all = GRAPHENE_RECT_INIT(0, 0, (float)width, (float)height);
  if (width < 2 || height < 2)
    return;
  ensure_layers(view, width, height);
  gtk_snapshot_append_texture(snapshot, view->frame, &all);
  gtk_snapshot_append_texture(snapshot, view->picture, &all);
  if (isfinite(view->drag_to) || isfinite(view->readout_x)) {
    cairo_t *cr = gtk_snapshot_append_cairo(snapshot, &all);
    if (isfinite(view->drag_to))
      draw_drag(view, cr);
    if (isfinite(view->readout_x))
      draw_readout(view, cr);
    cairo_destroy(cr);
  }
  if (gtk_widget_has_focus(widget))
    gtk_snapshot_render_focus(snapshot, gtk_widget_get_style_context(widget), 1, 1, width - 2, height - 2);
}

static void plot_size_allocate(GtkWidget *widget, int width, int height, int baseline)
{
  CwPlotView *view = CW_PLOT_VIEW(widget);
  if (view->menu)
    gtk_popover_present(GTK_POPOVER(view->menu));
  g_signal_emit(view, view_changed, 0);
}

static void plot_measure(GtkWidget *widget, GtkOrientation orientation, int for_size, int *least,
                         int *natural, int *least_base, int *natural_base)
{
  *least = orientation == GTK_ORIENTATION_HORIZONTAL ? 260 : 150;
  *natural = orientation == GTK_ORIENTATION_HORIZONTAL ? 600 : 260;
}

/* --- words --- */

char *cw_plot_view_say_readout(CwPlotView *view)
{
  g_autofree char *x = cw_axis_say(&view->plot->x, view->readout_x);
  GString *words = g_string_new(x);
  for (guint i = 0; i < view->plot->series->len; i++) {
    const CwSeries *series = g_ptr_array_index(view->plot->series, i);
    double value = cw_series_value_at(series, view->readout_x);
    if (!series->label || series->y_high || !isfinite(value))
      continue;
    g_autofree char *y = cw_axis_say(&view->plot->y, value);
    g_string_append_printf(words, "   %s %s", series->label, y);
  }
  return g_string_free(words, FALSE);
}

static void describe(CwPlotView *view)
{
  g_autofree char *readout = isfinite(view->readout_x) ? cw_plot_view_say_readout(view) : NULL;
  g_autofree char *text = g_strjoin(" ", view->words ? view->words : "", readout ? readout : "", NULL);
  gtk_accessible_update_property(GTK_ACCESSIBLE(view), GTK_ACCESSIBLE_PROPERTY_DESCRIPTION, text, -1);
}

void cw_plot_view_set_words(CwPlotView *view, const char *words)
{
  g_free(view->words);
  view->words = g_strdup(words);
  describe(view);
}

/* --- readout and zoom --- */

static void set_readout(CwPlotView *view, double x)
{
  view->readout_x = isfinite(x) ? CLAMP(x, view->plot->x.low, view->plot->x.high) : (double)NAN;
  describe(view);
  gtk_widget_queue_draw(GTK_WIDGET(view));
}

void cw_plot_view_update(CwPlotView *view)
{
  g_clear_object(&view->picture);
  describe(view);
  gtk_widget_queue_draw(GTK_WIDGET(view));
  g_signal_emit(view, view_changed, 0);
}

static void on_motion(CwPlotView *view, double x, double y)
{
  CwPlotArea area = cw_plot_view_get_area(view);
  gboolean inside = x >= area.x && x <= area.x + area.width && y >= area.y && y <= area.y + area.height;
  set_readout(view, inside ? cw_axis_value(&view->plot->x, (x - area.x) / area.width) : (double)NAN);
}

static void on_leave(CwPlotView *view)
{
  if (!gtk_widget_has_focus(GTK_WIDGET(view)))
    set_readout(view, NAN);
}

static void show_all(CwPlotView *view)
{
  cw_axis_show_all(&view->plot->x);
  cw_axis_show_all(&view->plot->y);
  cw_plot_view_update(view);
}

static void zoom(CwPlotView *view, double x_place, double y_place, double factor)
{
  cw_axis_zoom(&view->plot->x, x_place, factor);
  if (isfinite(y_place))
    cw_axis_zoom(&view->plot->y, y_place, factor);
  cw_plot_view_update(view);
}

static gboolean on_scroll(GtkEventControllerScroll *scroll, double dx, double dy, CwPlotView *view)
{
  CwPlotArea area = cw_plot_view_get_area(view);
  double place = isfinite(view->readout_x) ? cw_axis_place(&view->plot->x, view->readout_x) : 0.5;
  GdkModifierType state = gtk_event_controller_get_current_event_state(GTK_EVENT_CONTROLLER(scroll));
  if (state & GDK_SHIFT_MASK) {
    double span = log(view->plot->x.high / view->plot->x.low) * dy * 0.1;
    if (view->plot->x.logarithmic)
      cw_axis_show(&view->plot->x, view->plot->x.low * exp(span), view->plot->x.high * exp(span));
    cw_plot_view_update(view);
    return GDK_EVENT_STOP;
  }
  if (area.width > 1)
    zoom(view, place, state & GDK_CONTROL_MASK ? 0.5 : (double)NAN, dy < 0 ? ZOOM_STEP : 1 / ZOOM_STEP);
  return GDK_EVENT_STOP;
}

static void on_drag_begin(CwPlotView *view, double x, double y)
{
  gtk_widget_grab_focus(GTK_WIDGET(view));
  view->drag_from = x;
}

static void on_drag_update(CwPlotView *view, double dx, double dy)
{
  view->drag_to = fabs(dx) > 6 ? view->drag_from + dx : (double)NAN;
  gtk_widget_queue_draw(GTK_WIDGET(view));
}

static void on_drag_end(CwPlotView *view, double dx, double dy)
{
  double from, to, y;
  gboolean dragged = isfinite(view->drag_to);
  cw_plot_view_from_pixels(view, fmin(view->drag_from, view->drag_to), 0, &from, &y);
  cw_plot_view_from_pixels(view, fmax(view->drag_from, view->drag_to), 0, &to, &y);
  view->drag_to = NAN;
  if (dragged)
    cw_axis_show(&view->plot->x, fmax(from, view->plot->x.low), fmin(to, view->plot->x.high));
  cw_plot_view_update(view);
}

static double next_readout(CwPlotView *view, double steps)
{
  CwAxis *axis = &view->plot->x;
  double from = isfinite(view->readout_x) ? view->readout_x : cw_axis_value(axis, 0.5);
  return axis->logarithmic ? from * exp2(steps * STEP_OCTAVES)
                           : from + steps * (axis->high - axis->low) / 200;
}

static gboolean on_key(CwPlotView *view, guint key, guint code, GdkModifierType state)
{
  double large = state & GDK_SHIFT_MASK ? 8 : 1,
         place = isfinite(view->readout_x) ? cw_axis_place(&view->plot->x, view->readout_x) : 0.5;
  if ((state & GDK_CONTROL_MASK) && key == GDK_KEY_c) {
    cw_plot_copy_picture(GTK_WIDGET(view), view->plot);
    return GDK_EVENT_STOP;
  }
  if (state & (GDK_CONTROL_MASK | GDK_ALT_MASK))
    return GDK_EVENT_PROPAGATE;
  switch (key) {
  case GDK_KEY_Left:
    set_readout(view, next_readout(view, -large));
    return GDK_EVENT_STOP;
  case GDK_KEY_Right:
    set_readout(view, next_readout(view, large));
    return GDK_EVENT_STOP;
  case GDK_KEY_Home:
    set_readout(view, view->plot->x.low);
    return GDK_EVENT_STOP;
  case GDK_KEY_End:
    set_readout(view, view->plot->x.high);
    return GDK_EVENT_STOP;
  case GDK_KEY_plus:
  case GDK_KEY_KP_Add:
  case GDK_KEY_equal:
    zoom(view, place, NAN, ZOOM_STEP);
    return GDK_EVENT_STOP;
  case GDK_KEY_minus:
  case GDK_KEY_KP_Subtract:
    zoom(view, place, NAN, 1 / ZOOM_STEP);
    return GDK_EVENT_STOP;
  case GDK_KEY_0:
    show_all(view);
    return GDK_EVENT_STOP;
  default:
    return GDK_EVENT_PROPAGATE;
  }
}

/* --- menu --- */

static void on_copy(GtkWidget *widget, const char *action, GVariant *parameter)
{
  cw_plot_copy_picture(widget, CW_PLOT_VIEW(widget)->plot);
}

static void on_save_data(GtkWidget *widget, const char *action, GVariant *parameter)
{
  cw_plot_save_data(widget, CW_PLOT_VIEW(widget)->plot);
}

static void on_show_all(GtkWidget *widget, const char *action, GVariant *parameter)
{
  show_all(CW_PLOT_VIEW(widget));
}

static void on_menu(GtkGestureClick *click, int presses, double x, double y, CwPlotView *view)
{
  if (!view->menu) {
    g_autoptr(GMenu) items = g_menu_new();
    g_menu_append(items, _("Copy as a picture"), "plot.copy");
    g_menu_append(items, _("Save the data as CSV…"), "plot.save-data");
    g_menu_append(items, _("Show the whole plot"), "plot.show-all");
    view->menu = gtk_popover_menu_new_from_model(G_MENU_MODEL(items));
    gtk_widget_set_parent(view->menu, GTK_WIDGET(view));
    gtk_popover_set_has_arrow(GTK_POPOVER(view->menu), FALSE);
  }
  gtk_popover_set_pointing_to(GTK_POPOVER(view->menu), &(GdkRectangle){(int)x, (int)y, 1, 1});
  gtk_popover_popup(GTK_POPOVER(view->menu));
}

/* --- object --- */

static void plot_dispose(GObject *object)
{
  CwPlotView *view = CW_PLOT_VIEW(object);
  g_clear_pointer(&view->menu, gtk_widget_unparent);
  g_clear_object(&view->picture);
  g_clear_object(&view->frame);
  G_OBJECT_CLASS(cw_plot_view_parent_class)->dispose(object);
}

static void plot_finalize(GObject *object)
{
  CwPlotView *view = CW_PLOT_VIEW(object);
  cw_plot_free(view->plot);
  g_free(view->words);
  g_free(view->frame_key);
  G_OBJECT_CLASS(cw_plot_view_parent_class)->finalize(object);
}

static void cw_plot_view_class_init(CwPlotViewClass *klass)
{
  GtkWidgetClass *widget_class = GTK_WIDGET_CLASS(klass);
  G_OBJECT_CLASS(klass)->dispose = plot_dispose;
  G_OBJECT_CLASS(klass)->finalize = plot_finalize;
  widget_class->snapshot = plot_snapshot;
  widget_class->measure = plot_measure;
  widget_class->size_allocate = plot_size_allocate;
  view_changed = g_signal_new("view-changed", G_TYPE_FROM_CLASS(klass), G_SIGNAL_RUN_LAST, 0, NULL, NULL,
                              NULL, G_TYPE_NONE, 0);
  gtk_widget_class_install_action(widget_class, "plot.copy", NULL, on_copy);
  gtk_widget_class_install_action(widget_class, "plot.save-data", NULL, on_save_data);
  gtk_widget_class_install_action(widget_class, "plot.show-all", NULL, on_show_all);
  gtk_widget_class_set_accessible_role(widget_class, GTK_ACCESSIBLE_ROLE_IMG);
  gtk_widget_class_set_css_name(widget_class, "plot");
}

static void add(CwPlotView *view, GtkEventController *controller)
{
  gtk_widget_add_controller(GTK_WIDGET(view), controller);
}

static void cw_plot_view_init(CwPlotView *view)
{
  GtkEventController *motion = gtk_event_controller_motion_new(), *keys = gtk_event_controller_key_new();
  GtkEventController *scroll = gtk_event_controller_scroll_new(GTK_EVENT_CONTROLLER_SCROLL_VERTICAL);
  GtkGesture *drag = gtk_gesture_drag_new(), *click = gtk_gesture_click_new();
  view->plot = cw_plot_new();
  view->readout_x = view->drag_to = NAN;
  gtk_gesture_single_set_button(GTK_GESTURE_SINGLE(click), GDK_BUTTON_SECONDARY);
  g_signal_connect_swapped(motion, "motion", G_CALLBACK(on_motion), view);
  g_signal_connect_swapped(motion, "leave", G_CALLBACK(on_leave), view);
  g_signal_connect(scroll, "scroll", G_CALLBACK(on_scroll), view);
  g_signal_connect_swapped(keys, "key-pressed", G_CALLBACK(on_key), view);
  g_signal_connect_swapped(drag, "drag-begin", G_CALLBACK(on_drag_begin), view);
  g_signal_connect_swapped(drag, "drag-update", G_CALLBACK(on_drag_update), view);
  g_signal_connect_swapped(drag, "drag-end", G_CALLBACK(on_drag_end), view);
  g_signal_connect(click, "pressed", G_CALLBACK(on_menu), view);
  add(view, motion);
  add(view, scroll);
  add(view, keys);
  add(view, GTK_EVENT_CONTROLLER(drag));
  add(view, GTK_EVENT_CONTROLLER(click));
  gtk_widget_set_focusable(GTK_WIDGET(view), TRUE);
  gtk_widget_set_hexpand(GTK_WIDGET(view), TRUE);
  gtk_widget_set_vexpand(GTK_WIDGET(view), TRUE);
}

GtkWidget *cw_plot_view_new(const char *name)
{
  CwPlotView *view = g_object_new(CW_TYPE_PLOT_VIEW, NULL);
  cw_set_name(GTK_WIDGET(view), name);
  return GTK_WIDGET(view);
}

CwPlot *cw_plot_view_get_plot(CwPlotView *view)
{
  return view->plot;
}
