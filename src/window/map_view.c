/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/map_view.h"

#include "handover/plot_draw.h"
#include "window/page.h"
#include "window/words.h"

#include <glib/gi18n-lib.h>
#include <math.h>
#include <pango/pangocairo.h>

#define ROW 21.0
#define TOP 26.0
#define TEXT_SIZE 12.0

struct _CwMapView {
  GtkWidget parent_instance;
  CwSession *session;
};

G_DEFINE_FINAL_TYPE(CwMapView, cw_map_view, GTK_TYPE_WIDGET)

/* Where the columns of nodes begin and end, as parts of the width: without a survey, and with the radio's
 * leads at the left. */
typedef struct {
  double from, to;
} Column;
enum { LEADS, INPUTS, OUTPUTS, CHANNELS, SPEAKERS, N_COLUMNS };
static const Column layouts[2][N_COLUMNS] = {
    {{0, 0}, {0.0, 0.08}, {0.2, 0.31}, {0.4, 0.68}, {0.76, 1.0}},
    {{0.0, 0.09}, {0.145, 0.22}, {0.31, 0.41}, {0.46, 0.72}, {0.77, 1.0}}};

static CwRecord *survey_of(CwRecord *vehicle)
{
  CwRecord *survey = cw_record_get_child(vehicle, "survey");
  return survey && cw_list_get_length(cw_record_get_children(survey, "leads")) ? survey : NULL;
}

static const Column *columns_of(CwRecord *vehicle)
{
  return layouts[survey_of(vehicle) != NULL];
}

static guint row_count(CwRecord *vehicle)
{
  CwRecord *survey = survey_of(vehicle);
  guint leads = survey ? cw_list_get_length(cw_record_get_children(survey, "leads")) : 0;
  return MAX(cw_list_get_length(cw_record_get_children(vehicle, "speakers")), leads);
}

/* The row of the left or right input, in the middle of all rows. */
static double input_row(CwRecord *vehicle, int side)
{
  return row_count(vehicle) / 2.0 + (side == CW_SIDE_LEFT ? -1.5 : 0.5);
}

static double row_y(double row)
{
  return TOP + ROW * (row + 0.5);
}

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

static void draw_wire(cairo_t *cr, const Column *columns, double width, int from_column, double from_row,
                      int to_column, double to_row)
{
  double x0 = width * columns[from_column].to, x1 = width * columns[to_column].from, middle = (x0 + x1) / 2;
  cairo_move_to(cr, x0, row_y(from_row));
  cairo_curve_to(cr, middle, row_y(from_row), middle, row_y(to_row), x1, row_y(to_row));
  cairo_stroke(cr);
}

/* What part of each input an output plays: the tune's mix, or before there is one what its side says. */
static void read_mix(CwRecord *vehicle, CwRecord *speaker, double *left, double *right)
{
  CwRecord *tune = cw_record_get_child(vehicle, "tune");
  CwRecord *output = tune ? cw_list_find_integer(cw_record_get_children(tune, "outputs"), "output",
                                                 cw_record_get_integer(speaker, "output"))
                          : NULL;
  CwRecord *mix = output ? cw_record_get_child(output, "mix") : NULL;
  int side = cw_record_get_choice(speaker, "side");
  *left = mix ? cw_record_get_number(mix, "left") : side != CW_SIDE_RIGHT;
  *right = mix ? cw_record_get_number(mix, "right") : side != CW_SIDE_LEFT;
}

/* The channel that an output feeds, in words; NULL for none. */
static char *find_channel(CwRecord *vehicle, gint64 output)
{
  CwList *amplifiers = cw_record_get_children(vehicle, "amplifiers");
  for (guint a = 0; a < cw_list_get_length(amplifiers); a++) {
    CwList *channels = cw_record_get_children(cw_list_get(amplifiers, a), "channels");
    for (guint c = 0; c < cw_list_get_length(channels); c++) {
      CwRecord *channel = cw_list_get(channels, c);
      const char *name = cw_record_get_text(cw_list_get(amplifiers, a), "name");
      int number = (int)cw_record_get_integer(channel, "channel"),
          bridged = (int)cw_record_get_integer(channel, "bridged_with");
      if (!cw_numbers_contain(cw_record_get_numbers(channel, "outputs"), (double)output))
        continue;
      if (cw_record_get_integer(channel, "bridged_with") == CW_NO_INTEGER)
        return g_strdup_printf("%s %d", name, number);
      return g_strdup_printf("%s %d + %d", name, number, bridged);
    }
  }
  return NULL;
}

static void draw_node(CwMapView *view, cairo_t *cr, const GdkRGBA *ink, Column column, const char *text,
                      double row, double width)
{
  draw_text(view, cr, ink, text, width * column.from + 4, row_y(row), width * (column.to - column.from) - 4);
}

static void draw_row(CwMapView *view, cairo_t *cr, const GdkRGBA *ink, CwRecord *vehicle, CwRecord *speaker,
                     guint row, double width)
{
  gint64 output = cw_record_get_integer(speaker, "output");
  CwRecord *proof = cw_list_find_integer(cw_record_get_children(vehicle, "map_proofs"), "output", output);
  gboolean proven = proof && cw_record_get_boolean(proof, "proven"),
           chosen = output == cw_session_get_output(view->session);
  CwColour colour = cw_speaker_colour(speaker);
  g_autofree char *name = cw_say_speaker(speaker), *channel = find_channel(vehicle, output),
                  *number = g_strdup_printf(_("output %d"), (int)output);
  const Column *columns = columns_of(vehicle);
  double left, right;
  read_mix(vehicle, speaker, &left, &right);
  cairo_set_source_rgb(cr, colour.red, colour.green, colour.blue);
  cairo_set_line_width(cr, chosen ? 4 : 2);
  cw_plot_set_dash(cr, CW_DASH_SOLID, 2);
  if (left != 0)
    draw_wire(cr, columns, width, INPUTS, input_row(vehicle, CW_SIDE_LEFT), OUTPUTS, row);
  if (right != 0)
    draw_wire(cr, columns, width, INPUTS, input_row(vehicle, CW_SIDE_RIGHT), OUTPUTS, row);
  cw_plot_set_dash(cr, proven ? CW_DASH_SOLID : CW_DASH_SHORT, 2);
  if (channel) {
    draw_wire(cr, columns, width, OUTPUTS, row, CHANNELS, row);
    draw_wire(cr, columns, width, CHANNELS, row, SPEAKERS, row);
  }
  draw_node(view, cr, ink, columns[OUTPUTS], number, row, width);
  draw_node(view, cr, ink, columns[CHANNELS], channel ? channel : _("no channel"), row, width);
  draw_node(view, cr, ink, columns[SPEAKERS], name, row, width);
}

/* A lead that the survey advises, and to which input it goes. */
static void draw_lead_wires(cairo_t *cr, CwRecord *vehicle, guint row, gint64 lead, double width)
{
  CwList *sums = cw_record_get_children(survey_of(vehicle), "sums");
  for (guint i = 0; i < cw_list_get_length(sums); i++) {
    CwRecord *sum = cw_list_get(sums, i);
    int side = cw_record_get_choice(sum, "side");
    CwColour colour = side == CW_SIDE_LEFT ? cw_colour_sky : cw_colour_vermilion;
    if (!cw_record_get_boolean(sum, "advised") ||
        !cw_numbers_contain(cw_record_get_numbers(sum, "leads"), (double)lead))
      continue;
    cairo_set_source_rgb(cr, colour.red, colour.green, colour.blue);
    if (side != CW_SIDE_RIGHT)
      draw_wire(cr, columns_of(vehicle), width, LEADS, row, INPUTS, input_row(vehicle, CW_SIDE_LEFT));
    if (side != CW_SIDE_LEFT)
      draw_wire(cr, columns_of(vehicle), width, LEADS, row, INPUTS, input_row(vehicle, CW_SIDE_RIGHT));
  }
}

/* The radio's leads, with wires from those that the survey advises. */
static void draw_leads(CwMapView *view, cairo_t *cr, const GdkRGBA *ink, CwRecord *vehicle, double width)
{
  CwList *leads = cw_record_get_children(survey_of(vehicle), "leads");
  cairo_set_line_width(cr, 2);
  cw_plot_set_dash(cr, CW_DASH_SOLID, 2);
  for (guint i = 0; i < cw_list_get_length(leads); i++) {
    gint64 lead = cw_record_get_integer(cw_list_get(leads, i), "lead");
    g_autofree char *name = g_strdup_printf(_("lead %d"), (int)lead);
    draw_lead_wires(cr, vehicle, i, lead, width);
    draw_node(view, cr, ink, columns_of(vehicle)[LEADS], name, i, width);
  }
}

/* What hangs together, in words. */
static void describe(CwMapView *view)
{
  CwRecord *vehicle = cw_session_get_vehicle(view->session), *survey = vehicle ? survey_of(vehicle) : NULL;
  CwList *sums = survey ? cw_record_get_children(survey, "sums") : NULL;
  g_autoptr(GString) words = g_string_new(_("The table below says the same in words."));
  for (guint i = 0; sums && i < cw_list_get_length(sums); i++) {
    CwRecord *sum = cw_list_get(sums, i);
    if (cw_record_get_boolean(sum, "advised"))
      g_string_append_printf(words, _(" Leads %s feed: %s."), cw_record_get_text(sum, "name"),
                             cw_say_choice(sum, "side"));
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
  const char *const heads[N_COLUMNS] = {_("Leads"), _("Inputs"), _("Outputs"), _("Amplifier"), _("Speakers")};
  const Column *columns = columns_of(vehicle);
  CwList *speakers = cw_record_get_children(vehicle, "speakers");
  for (guint i = survey_of(vehicle) ? LEADS : INPUTS; i < N_COLUMNS; i++)
    draw_text(view, cr, &ink, heads[i], width * columns[i].from + 4, TOP / 2, width * 0.2);
  if (survey_of(vehicle))
    draw_leads(view, cr, &ink, vehicle, width);
  for (guint i = 0; i < cw_list_get_length(speakers); i++)
    draw_row(view, cr, &ink, vehicle, cw_list_get(speakers, i), i, width);
  draw_node(view, cr, &ink, columns[INPUTS], _("left"), input_row(vehicle, CW_SIDE_LEFT), width);
  draw_node(view, cr, &ink, columns[INPUTS], _("right"), input_row(vehicle, CW_SIDE_RIGHT), width);
  cairo_destroy(cr);
}

static void map_measure(GtkWidget *widget, GtkOrientation orientation, int for_size, int *least, int *natural,
                        int *least_base, int *natural_base)
{
  CwRecord *vehicle = cw_session_get_vehicle(CW_MAP_VIEW(widget)->session);
  guint rows = vehicle ? row_count(vehicle) : 1;
  *least = *natural = orientation == GTK_ORIENTATION_HORIZONTAL ? 520 : (int)(TOP + ROW * MAX(rows, 3) + 4);
}

static void on_pressed(CwMapView *view, int presses, double x, double y)
{
  CwRecord *vehicle = cw_session_get_vehicle(view->session);
  CwList *speakers = vehicle ? cw_record_get_children(vehicle, "speakers") : NULL;
  int row = (int)floor((y - TOP) / ROW);
  if (speakers && row >= 0 && row < (int)cw_list_get_length(speakers))
    cw_session_set_output(view->session, cw_record_get_integer(cw_list_get(speakers, (guint)row), "output"));
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
  GtkGesture *click = gtk_gesture_click_new();
  view->session = g_object_ref(session);
  cw_set_name(GTK_WIDGET(view), _("Wires of the channel map"));
  cw_read_from_left(GTK_WIDGET(view));
  describe(view);
  g_signal_connect_swapped(click, "pressed", G_CALLBACK(on_pressed), view);
  gtk_widget_add_controller(GTK_WIDGET(view), GTK_EVENT_CONTROLLER(click));
  g_signal_connect_object(session, "changed", G_CALLBACK(show), view, G_CONNECT_SWAPPED);
  g_signal_connect_object(session, "selection-changed", G_CALLBACK(show), view, G_CONNECT_SWAPPED);
  return GTK_WIDGET(view);
}
