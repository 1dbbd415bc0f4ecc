/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/tuning/output_list.h"

#include "plot/plot_draw.h"
#include "window/state/words.h"
#include "window/widgets/page.h"
#include "window/widgets/tab_stop.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwSession *session;
  GtkWidget *list;
  char *filled;
  gboolean filling;
} Outputs;

static CwList *speakers_of(Outputs *outputs)
{
  CwRecord *vehicle = cw_session_get_vehicle(outputs->session);
  return vehicle ? cw_vehicle_get_speakers(vehicle) : NULL;
}

static gint64 output_at(CwList *speakers, guint position)
{
  return cw_speaker_get_output(cw_list_get(speakers, position));
}

static gboolean is_muted(CwRecord *vehicle, gint64 output)
{
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  CwRecord *settings =
      tune ? cw_list_find_integer_at(cw_tune_get_outputs(tune), CW_TUNE_OUTPUT_FIELD_OUTPUT, output) : NULL;
  return settings && cw_tune_output_get_muted(settings);
}

static void draw_line(GtkDrawingArea *area, cairo_t *cr, int width, int height, gpointer data)
{
  CwRecord *speaker = data;
  CwColour colour = cw_speaker_colour(speaker);
  cairo_set_source_rgb(cr, colour.red, colour.green, colour.blue);
  cairo_set_line_width(cr, 3);
  cw_plot_set_dash(cr, cw_speaker_dash(speaker), 2.5);
  cairo_move_to(cr, 0, height / 2.0);
  cairo_line_to(cr, width, height / 2.0);
  cairo_stroke(cr);
}

static GtkWidget *new_row(CwRecord *speaker, gboolean muted)
{
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 8), *line = gtk_drawing_area_new();
  g_autofree char *name = cw_say_speaker(speaker);
  g_autofree char *text = g_strdup_printf("%d  %s", (int)cw_speaker_get_output(speaker), name);
  GtkWidget *label = gtk_label_new(text);
  gtk_drawing_area_set_content_width(GTK_DRAWING_AREA(line), 26);
  gtk_drawing_area_set_draw_func(GTK_DRAWING_AREA(line), draw_line, g_object_ref(speaker), g_object_unref);
  gtk_label_set_xalign(GTK_LABEL(label), 0);
  gtk_label_set_ellipsize(GTK_LABEL(label), PANGO_ELLIPSIZE_END);
  gtk_box_append(GTK_BOX(row), line);
  gtk_widget_set_hexpand(label, TRUE);
  gtk_box_append(GTK_BOX(row), label);
  if (muted) {
    GtkWidget *mark = gtk_image_new_from_icon_name("audio-volume-muted-symbolic");
    gtk_widget_set_tooltip_text(mark, _("Muted"));
    cw_set_name(mark, _("Muted"));
    gtk_widget_add_css_class(label, "dim-label");
    gtk_box_append(GTK_BOX(row), mark);
  }
  return row;
}

static char *describe(CwRecord *vehicle, CwList *speakers)
{
  GString *text = g_string_new(NULL);
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    CwRecord *speaker = cw_list_get(speakers, i);
    g_autofree char *name = cw_say_speaker(speaker);
    g_string_append_printf(text, "%p %d %s %d %d %d\n", (void *)speaker, (int)output_at(speakers, i), name,
                           cw_speaker_get_way(speaker), cw_speaker_get_side(speaker),
                           is_muted(vehicle, output_at(speakers, i)));
  }
  return g_string_free(text, FALSE);
}

static void fill(Outputs *outputs, CwRecord *vehicle, CwList *speakers)
{
  g_autofree char *wanted = describe(vehicle, speakers);
  if (g_strcmp0(wanted, outputs->filled) == 0)
    return;
  g_free(outputs->filled);
  outputs->filled = g_steal_pointer(&wanted);
  for (GtkListBoxRow *row; (row = gtk_list_box_get_row_at_index(GTK_LIST_BOX(outputs->list), 0));)
    gtk_list_box_remove(GTK_LIST_BOX(outputs->list), GTK_WIDGET(row));
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    g_autofree char *name = cw_say_output(vehicle, output_at(speakers, i));
    gtk_list_box_append(GTK_LIST_BOX(outputs->list),
                        new_row(cw_list_get(speakers, i), is_muted(vehicle, output_at(speakers, i))));
    cw_set_name(GTK_WIDGET(gtk_list_box_get_row_at_index(GTK_LIST_BOX(outputs->list), (int)i)), name);
  }
}

static void show(Outputs *outputs)
{
  CwList *speakers = speakers_of(outputs);
  if (!speakers)
    return;
  outputs->filling = TRUE;
  fill(outputs, cw_session_get_vehicle(outputs->session), speakers);
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    GtkListBoxRow *row = gtk_list_box_get_row_at_index(GTK_LIST_BOX(outputs->list), (int)i);
    gboolean chosen = cw_session_is_chosen(outputs->session, output_at(speakers, i));
    if (chosen && !gtk_list_box_row_is_selected(row))
      gtk_list_box_select_row(GTK_LIST_BOX(outputs->list), row);
    else if (!chosen && gtk_list_box_row_is_selected(row))
      gtk_list_box_unselect_row(GTK_LIST_BOX(outputs->list), row);
  }
  outputs->filling = FALSE;
}

/* The one that came last is looked at; one that goes leaves the others in their order. */
static void on_selected(Outputs *outputs)
{
  CwList *speakers = speakers_of(outputs);
  g_autoptr(GArray) chosen = g_array_new(FALSE, FALSE, sizeof(gint64));
  if (outputs->filling || !speakers)
    return;
  for (guint i = 0; i < cw_list_get_length(speakers); i++) {
    gint64 output = output_at(speakers, i);
    GtkListBoxRow *row = gtk_list_box_get_row_at_index(GTK_LIST_BOX(outputs->list), (int)i);
    if (!row)
      return; /* the list is being taken down */
    if (!gtk_list_box_row_is_selected(row))
      continue;
    gboolean first =
        !cw_session_is_chosen(outputs->session, output) || output == cw_session_get_output(outputs->session);
    if (first && !(chosen->len && !cw_session_is_chosen(outputs->session, g_array_index(chosen, gint64, 0))))
      g_array_prepend_val(chosen, output);
    else
      g_array_append_val(chosen, output);
  }
  if (chosen->len)
    cw_session_set_outputs(outputs->session, (const gint64 *)(gpointer)chosen->data, chosen->len);
  else
    show(outputs);
}

static void outputs_free(gpointer data)
{
  g_free(((Outputs *)data)->filled);
  g_free(data);
}

GtkWidget *cw_output_list_new(CwSession *session)
{
  Outputs *outputs = g_new0(Outputs, 1);
  GtkWidget *scrolled = gtk_scrolled_window_new();
  outputs->session = session;
  outputs->list = gtk_list_box_new();
  cw_make_one_tab_stop(outputs->list);
  gtk_list_box_set_selection_mode(GTK_LIST_BOX(outputs->list), GTK_SELECTION_MULTIPLE);
  gtk_list_box_set_activate_on_single_click(GTK_LIST_BOX(outputs->list), FALSE);
  gtk_widget_set_tooltip_text(outputs->list,
                              _("Ctrl or Shift and a click choose several, to be seen and changed together"));
  gtk_widget_add_css_class(outputs->list, "outputs");
  cw_set_name(outputs->list, _("Outputs"));
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), outputs->list);
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_widget_set_size_request(scrolled, 178, -1);
  gtk_widget_set_vexpand(scrolled, TRUE);
  g_object_set_data_full(G_OBJECT(scrolled), "outputs", outputs, outputs_free);
  g_signal_connect_swapped(outputs->list, "selected-rows-changed", G_CALLBACK(on_selected), outputs);
  cw_connect_while_alive(session, "changed", G_CALLBACK(show), outputs, scrolled);
  cw_connect_while_alive(session, "selection-changed", G_CALLBACK(show), outputs, scrolled);
  return scrolled;
}
