/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/map/map_view.h"

#include "job/map/wiring.h"
#include "plot/plot_draw.h"
#include "window/stages/map/map_layout.h"
#include "window/state/words.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>
#include <pango/pangocairo.h>

#define TEXT_SIZE 12.0

#define CLICK_PIXELS 6.0 /* what moves less was no pull */

struct _CwMapView {
  GtkWidget parent_instance;
  CwSession *session;
  /* The wire in hand: of an output to a channel, or of an input to an output. */
  enum { NO_WIRE, OUTPUT_WIRE, INPUT_WIRE } pulled;
  gint64 output;
  int side;
  double x, y;
};

G_DEFINE_FINAL_TYPE(CwMapView, cw_map_view, GTK_TYPE_WIDGET)

static void draw_text(CwMapView *view, cairo_t *cr, const GdkRGBA *ink, const char *text, double x, double y,
                      double room)
{
  g_autoptr(PangoLayout) layout = gtk_widget_create_pango_layout(GTK_WIDGET(view), text);
  int height;
  pango_layout_set_ellipsize(layout, PANGO_ELLIPSIZE_END);
  pango_layout_set_width(layout, (int)(room * PANGO_SCALE));
  pango_layout_get_pixel_size(layout, NULL, &height);
  gdk_cairo_set_source_rgba(cr, ink);
  cairo_move_to(cr, x, y - height / 2.0);
  pango_cairo_show_layout(cr, layout);
}

static void draw_wire(cairo_t *cr, const CwMapColumn *columns, double width, int from_column, double from_row,
                      int to_column, double to_row)
{
  double x0 = width * columns[from_column].to, x1 = width * columns[to_column].from, middle = (x0 + x1) / 2;
  cairo_move_to(cr, x0, cw_map_row_y(from_row));
  cairo_curve_to(cr, middle, cw_map_row_y(from_row), middle, cw_map_row_y(to_row), x1, cw_map_row_y(to_row));
  cairo_stroke(cr);
}

/* What part of each input an output plays: the tune's mix, or before there is one what its side says. */
static void read_mix(CwRecord *vehicle, CwRecord *speaker, double *left, double *right)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  CwRecord *output = tune ? cw_list_find_integer_at(cw_tune_get_outputs(tune), CW_TUNE_OUTPUT_FIELD_OUTPUT,
                                                    cw_speaker_get_output(speaker))
                          : NULL;
  CwRecord *mix = output ? cw_tune_output_get_mix(output) : NULL;
  int side = cw_speaker_get_side(speaker);
  *left = mix ? cw_mix_get_left(mix) : side != CW_SIDE_RIGHT;
  *right = mix ? cw_mix_get_right(mix) : side != CW_SIDE_LEFT;
}

static void draw_node(CwMapView *view, cairo_t *cr, const GdkRGBA *ink, CwMapColumn column, const char *text,
                      double row, double width)
{
  draw_text(view, cr, ink, text, width * column.from + 4, cw_map_row_y(row),
            width * (column.to - column.from) - 4);
}

static void draw_row(CwMapView *view, cairo_t *cr, const GdkRGBA *ink, CwRecord *vehicle, CwRecord *speaker,
                     guint row, double width)
{
  gint64 output = cw_speaker_get_output(speaker);
  CwRecord *proof =
      cw_list_find_integer_at(cw_vehicle_get_map_proofs(vehicle), CW_MAP_PROOF_FIELD_OUTPUT, output);
  gboolean proven = proof && cw_map_proof_get_proven(proof),
           chosen = output == cw_session_get_output(view->session);
  CwColour colour = cw_speaker_colour(speaker);
  CwRecord *wired = cw_job_find_channel(vehicle, output);
  g_autofree char *name = cw_say_speaker(speaker), *channel = wired ? cw_job_say_channel(wired) : NULL,
                  *number = g_strdup_printf(_("output %d"), (int)output);
  const CwMapColumn *columns = cw_map_columns(vehicle);
  double left, right;
  read_mix(vehicle, speaker, &left, &right);
  cairo_set_source_rgb(cr, colour.red, colour.green, colour.blue);
  cairo_set_line_width(cr, chosen ? 4 : 2);
  cw_plot_set_dash(cr, CW_DASH_SOLID, 2);
  if (left != 0)
    draw_wire(cr, columns, width, CW_MAP_INPUTS, cw_map_input_row(vehicle, CW_SIDE_LEFT), CW_MAP_OUTPUTS,
              row);
  if (right != 0)
    draw_wire(cr, columns, width, CW_MAP_INPUTS, cw_map_input_row(vehicle, CW_SIDE_RIGHT), CW_MAP_OUTPUTS,
              row);
  cw_plot_set_dash(cr, proven ? CW_DASH_SOLID : CW_DASH_SHORT, 2);
  if (channel) {
    draw_wire(cr, columns, width, CW_MAP_OUTPUTS, row, CW_MAP_CHANNELS, row);
    draw_wire(cr, columns, width, CW_MAP_CHANNELS, row, CW_MAP_SPEAKERS, row);
  }
  draw_node(view, cr, ink, columns[CW_MAP_OUTPUTS], number, row, width);
  draw_node(view, cr, ink, columns[CW_MAP_CHANNELS], channel ? channel : _("no channel"), row, width);
  draw_node(view, cr, ink, columns[CW_MAP_SPEAKERS], name, row, width);
}

/* The channels that no output feeds, below the speakers' rows. */
static void draw_free_channels(CwMapView *view, cairo_t *cr, const GdkRGBA *ink, CwRecord *vehicle,
                               double width)
{
  g_autoptr(GPtrArray) channels = cw_map_channels(vehicle);
  for (guint row = cw_list_get_length(cw_vehicle_get_speakers(vehicle)); row < channels->len; row++) {
    g_autofree char *name = cw_job_say_channel(g_ptr_array_index(channels, row));
    draw_node(view, cr, ink, cw_map_columns(vehicle)[CW_MAP_CHANNELS], name, row, width);
  }
}

/* The wire that follows the pointer. */
static void draw_pulled(CwMapView *view, cairo_t *cr, const GdkRGBA *ink, CwRecord *vehicle, double width)
{
  const CwMapColumn *columns = cw_map_columns(vehicle);
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  guint row = 0;
  while (row < cw_list_get_length(speakers) && cw_map_output_at(vehicle, (int)row) != view->output)
    row++;
  gboolean input = view->pulled == INPUT_WIRE;
  double x = width * columns[input ? CW_MAP_INPUTS : CW_MAP_OUTPUTS].to,
         y = cw_map_row_y(input ? cw_map_input_row(vehicle, view->side) : row), middle = (x + view->x) / 2;
  gdk_cairo_set_source_rgba(cr, ink);
  cairo_set_line_width(cr, 3);
  cw_plot_set_dash(cr, CW_DASH_SOLID, 2);
  cairo_move_to(cr, x, y);
  cairo_curve_to(cr, middle, y, middle, view->y, view->x, view->y);
  cairo_stroke(cr);
}

/* A lead that the survey advises, and to which input it goes. */
static void draw_lead_wires(cairo_t *cr, CwRecord *vehicle, guint row, gint64 lead, double width)
{
  CwList *sums = cw_survey_get_sums(cw_map_survey(vehicle));
  for (guint i = 0; i < cw_list_get_length(sums); i++) {
    CwRecord *sum = cw_list_get(sums, i);
    int side = cw_lead_sum_get_side(sum);
    CwColour colour = side == CW_SIDE_LEFT ? cw_colour_sky : cw_colour_vermilion;
    if (!cw_lead_sum_get_advised(sum) || !cw_numbers_contain(cw_lead_sum_get_leads(sum), (double)lead))
      continue;
    cairo_set_source_rgb(cr, colour.red, colour.green, colour.blue);
    if (side != CW_SIDE_RIGHT)
      draw_wire(cr, cw_map_columns(vehicle), width, CW_MAP_LEADS, row, CW_MAP_INPUTS,
                cw_map_input_row(vehicle, CW_SIDE_LEFT));
    if (side != CW_SIDE_LEFT)
      draw_wire(cr, cw_map_columns(vehicle), width, CW_MAP_LEADS, row, CW_MAP_INPUTS,
                cw_map_input_row(vehicle, CW_SIDE_RIGHT));
  }
}

/* The radio's leads, with wires from those that the survey advises. */
static void draw_leads(CwMapView *view, cairo_t *cr, const GdkRGBA *ink, CwRecord *vehicle, double width)
{
  CwList *leads = cw_survey_get_leads(cw_map_survey(vehicle));
  cairo_set_line_width(cr, 2);
  cw_plot_set_dash(cr, CW_DASH_SOLID, 2);
  for (guint i = 0; i < cw_list_get_length(leads); i++) {
    gint64 lead = cw_lead_get_lead(cw_list_get(leads, i));
    g_autofree char *name = g_strdup_printf(_("lead %d"), (int)lead);
    draw_lead_wires(cr, vehicle, i, lead, width);
    draw_node(view, cr, ink, cw_map_columns(vehicle)[CW_MAP_LEADS], name, i, width);
  }
}

/* What hangs together, in words. */
static void describe(CwMapView *view)
{
  CwRecord *vehicle = cw_session_get_vehicle(view->session),
           *survey = vehicle ? cw_map_survey(vehicle) : NULL;
  CwList *sums = survey ? cw_survey_get_sums(survey) : NULL;
  g_autoptr(GString) words = g_string_new(_("The table below says the same in words."));
  for (guint i = 0; sums && i < cw_list_get_length(sums); i++) {
    CwRecord *sum = cw_list_get(sums, i);
    if (cw_lead_sum_get_advised(sum))
      g_string_append_printf(words, _(" Leads %s feed: %s."), cw_lead_sum_get_name(sum),
                             cw_lead_sum_say_side(sum));
  }
  CwRecord *speaker = vehicle ? cw_vehicle_find_speaker(vehicle, cw_session_get_output(view->session)) : NULL;
  if (speaker) {
    CwRecord *wired = cw_job_find_channel(vehicle, cw_speaker_get_output(speaker));
    g_autofree char *name = cw_say_output(vehicle, cw_speaker_get_output(speaker)),
                    *channel = wired ? cw_job_say_channel(wired) : g_strdup(_("no channel"));
    g_string_append_printf(words, " %s: %s.", name, channel);
  }
  gtk_accessible_update_property(GTK_ACCESSIBLE(view), GTK_ACCESSIBLE_PROPERTY_DESCRIPTION, words->str, -1);
}

static void map_snapshot(GtkWidget *widget, GtkSnapshot *snapshot)
{
  CwMapView *view = CW_MAP_VIEW(widget);
  CwRecord *vehicle = cw_session_get_vehicle(view->session);
  double width = gtk_widget_get_width(widget), height = gtk_widget_get_height(widget);
  GdkRGBA ink;
  if (!vehicle)
    return;
  gtk_style_context_get_color(gtk_widget_get_style_context(widget), &ink);
  cairo_t *cr = gtk_snapshot_append_cairo(snapshot, &GRAPHENE_RECT_INIT(0, 0, (float)width, (float)height));
  const char *const heads[CW_MAP_COLUMNS] = {_("Leads"), _("Inputs"), _("Outputs"), _("Amplifier"),
                                             _("Speakers")};
  const CwMapColumn *columns = cw_map_columns(vehicle);
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  for (guint i = cw_map_survey(vehicle) ? CW_MAP_LEADS : CW_MAP_INPUTS; i < CW_MAP_COLUMNS; i++)
    draw_text(view, cr, &ink, heads[i], width * columns[i].from + 4, CW_MAP_TOP / 2, width * 0.2);
  if (cw_map_survey(vehicle))
    draw_leads(view, cr, &ink, vehicle, width);
  for (guint i = 0; i < cw_list_get_length(speakers); i++)
    draw_row(view, cr, &ink, vehicle, cw_list_get(speakers, i), i, width);
  draw_free_channels(view, cr, &ink, vehicle, width);
  if (view->pulled != NO_WIRE)
    draw_pulled(view, cr, &ink, vehicle, width);
  draw_node(view, cr, &ink, columns[CW_MAP_INPUTS], _("left"), cw_map_input_row(vehicle, CW_SIDE_LEFT),
            width);
  draw_node(view, cr, &ink, columns[CW_MAP_INPUTS], _("right"), cw_map_input_row(vehicle, CW_SIDE_RIGHT),
            width);
  cairo_destroy(cr);
}

static void map_measure(GtkWidget *widget, GtkOrientation orientation, int for_size, int *least, int *natural,
                        int *least_base, int *natural_base)
{
  CwRecord *vehicle = cw_session_get_vehicle(CW_MAP_VIEW(widget)->session);
  guint rows = vehicle ? cw_map_row_count(vehicle) : 1;
  *least = *natural =
      orientation == GTK_ORIENTATION_HORIZONTAL ? 520 : (int)(CW_MAP_TOP + CW_MAP_ROW * MAX(rows, 3) + 4);
}

/* --- pulling --- */

/* An output's wire ends at the channel of another row, or nowhere. */
static void wire_output(CwMapView *view, gint64 output, CwRecord *channel)
{
  CwRecord *vehicle = cw_session_get_vehicle(view->session);
  g_autofree char *name = cw_say_output(vehicle, output), *to = channel ? cw_job_say_channel(channel) : NULL;
  g_autofree char *what = to ? g_strdup_printf(_("Wire %s to %s"), name, to)
                             : g_strdup_printf(_("Pull the wire of %s off"), name);
  if (cw_job_wire(vehicle, output, channel))
    cw_session_commit(view->session, what);
}

/* An input's wire to an output is put there, or taken away. */
static void wire_input(CwMapView *view, int side, gint64 output)
{
  CwRecord *vehicle = cw_session_get_vehicle(view->session), *tune = cw_vehicle_get_tune(vehicle);
  CwRecord *setting =
      tune ? cw_list_find_integer_at(cw_tune_get_outputs(tune), CW_TUNE_OUTPUT_FIELD_OUTPUT, output) : NULL;
  CwFieldId part = side == CW_SIDE_LEFT ? CW_MIX_FIELD_LEFT : CW_MIX_FIELD_RIGHT;
  if (!setting) {
    cw_session_tell(
        view->session, CW_TOLD_ATTEND,
        _("Before there is a tune, each output plays what the side of its speaker says: change it in the "
          "vehicle sheet."));
    return;
  }
  CwRecord *mix = cw_tune_output_make_mix(setting);
  gboolean there = cw_record_get_number_at(mix, part) != 0;
  g_autofree char *name = cw_say_output(vehicle, output);
  g_autofree char *what =
      g_strdup_printf(there ? _("Take an input from %s") : _("Give an input to %s"), name);
  cw_record_set_number_at(mix, part, there ? 0 : 1);
  cw_session_commit(view->session, what);
}

static void on_begin(CwMapView *view, double x, double y)
{
  CwRecord *vehicle = cw_session_get_vehicle(view->session);
  double width = gtk_widget_get_width(GTK_WIDGET(view));
  if (!vehicle)
    return;
  gtk_widget_grab_focus(GTK_WIDGET(view));
  const CwMapColumn *columns = cw_map_columns(vehicle);
  int row = cw_map_row_at(y), left = (int)floor(cw_map_input_row(vehicle, CW_SIDE_LEFT) + 0.5),
      right = (int)floor(cw_map_input_row(vehicle, CW_SIDE_RIGHT) + 0.5);
  view->output = cw_map_output_at(vehicle, row);
  view->x = x;
  view->y = y;
  if (x >= width * columns[CW_MAP_INPUTS].from && x <= width * columns[CW_MAP_INPUTS].to &&
      (row == left || row == right)) {
    view->pulled = INPUT_WIRE;
    view->side = row == left ? CW_SIDE_LEFT : CW_SIDE_RIGHT;
  } else if (view->output != CW_NO_INTEGER) {
    view->pulled = x >= width * columns[CW_MAP_OUTPUTS].from ? OUTPUT_WIRE : NO_WIRE;
    cw_session_set_output(view->session, view->output);
  }
}

static void on_update(CwMapView *view, double by_x, double by_y, GtkGestureDrag *drag)
{
  double x, y;
  gtk_gesture_drag_get_start_point(drag, &x, &y);
  view->x = x + by_x;
  view->y = y + by_y;
  gtk_widget_queue_draw(GTK_WIDGET(view));
}

static void on_end(CwMapView *view, double by_x, double by_y, GtkGestureDrag *drag)
{
  CwRecord *vehicle = cw_session_get_vehicle(view->session);
  int pulled = view->pulled, row = cw_map_row_at(view->y);
  gint64 output = vehicle ? cw_map_output_at(vehicle, row) : CW_NO_INTEGER;
  view->pulled = NO_WIRE;
  gtk_widget_queue_draw(GTK_WIDGET(view));
  if (!vehicle || pulled == NO_WIRE || hypot(by_x, by_y) < CLICK_PIXELS)
    return;
  g_autoptr(GPtrArray) channels = cw_map_channels(vehicle);
  if (pulled == OUTPUT_WIRE)
    wire_output(view, view->output,
                row >= 0 && row < (int)channels->len ? g_ptr_array_index(channels, (guint)row) : NULL);
  else if (output != CW_NO_INTEGER)
    wire_input(view, view->side, output);
}

/* The arrow keys choose the output; with Ctrl they pull its wire to the next channel. */
static gboolean on_key(CwMapView *view, guint key, guint code, GdkModifierType state)
{
  CwRecord *vehicle = cw_session_get_vehicle(view->session);
  int step = key == GDK_KEY_Up ? -1 : key == GDK_KEY_Down ? 1 : 0, row = 0;
  if (!vehicle || !step)
    return GDK_EVENT_PROPAGATE;
  gint64 chosen = cw_session_get_output(view->session);
  g_autoptr(GPtrArray) channels = cw_map_channels(vehicle);
  while (row < (int)channels->len && cw_map_output_at(vehicle, row) != chosen)
    row++;
  int to = row + step;
  if (to < 0 || to >= (int)channels->len || row == (int)channels->len)
    return GDK_EVENT_STOP;
  if ((state & GDK_CONTROL_MASK) && g_ptr_array_index(channels, (guint)to))
    wire_output(view, chosen, g_ptr_array_index(channels, (guint)to));
  else if (!(state & GDK_CONTROL_MASK) && cw_map_output_at(vehicle, to) != CW_NO_INTEGER)
    cw_session_set_output(view->session, cw_map_output_at(vehicle, to));
  return GDK_EVENT_STOP;
}

static void show(CwMapView *view)
{
  describe(view);
  gtk_widget_queue_resize(GTK_WIDGET(view));
  gtk_widget_queue_draw(GTK_WIDGET(view));
}

static void map_dispose(GObject *object)
{
  g_clear_object(&CW_MAP_VIEW(object)->session);
  G_OBJECT_CLASS(cw_map_view_parent_class)->dispose(object);
}

static void cw_map_view_class_init(CwMapViewClass *klass)
{
  GtkWidgetClass *widget_class = GTK_WIDGET_CLASS(klass);
  G_OBJECT_CLASS(klass)->dispose = map_dispose;
  widget_class->snapshot = map_snapshot;
  widget_class->measure = map_measure;
  gtk_widget_class_set_accessible_role(widget_class, GTK_ACCESSIBLE_ROLE_IMG);
  gtk_widget_class_set_css_name(widget_class, "map");
}

static void cw_map_view_init(CwMapView *view)
{
}

GtkWidget *cw_map_view_new(CwSession *session)
{
  CwMapView *view = g_object_new(CW_TYPE_MAP_VIEW, NULL);
  GtkGesture *drag = gtk_gesture_drag_new();
  GtkEventController *keys = gtk_event_controller_key_new();
  view->session = g_object_ref(session);
  cw_set_name(GTK_WIDGET(view), _("Wires of the channel map"));
  cw_read_from_left(GTK_WIDGET(view));
  describe(view);
  gtk_widget_set_focusable(GTK_WIDGET(view), TRUE);
  gtk_widget_set_tooltip_text(
      GTK_WIDGET(view), _("Pull a wire from an output to another channel, or from an input to an output"));
  g_signal_connect_swapped(drag, "drag-begin", G_CALLBACK(on_begin), view);
  g_signal_connect_swapped(drag, "drag-update", G_CALLBACK(on_update), view);
  g_signal_connect_swapped(drag, "drag-end", G_CALLBACK(on_end), view);
  gtk_widget_add_controller(GTK_WIDGET(view), GTK_EVENT_CONTROLLER(drag));
  g_signal_connect_swapped(keys, "key-pressed", G_CALLBACK(on_key), view);
  gtk_widget_add_controller(GTK_WIDGET(view), keys);
  g_signal_connect_object(session, "changed", G_CALLBACK(show), view, G_CONNECT_SWAPPED);
  g_signal_connect_object(session, "selection-changed", G_CALLBACK(show), view, G_CONNECT_SWAPPED);
  return GTK_WIDGET(view);
}
