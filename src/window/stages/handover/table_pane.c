/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/handover/table_pane.h"

#include "handover/settings_text.h"
#include "handover/table.h"
#include "job/handover/report.h"
#include "job/output_file.h"
#include "window/state/value_text.h"
#include "window/widgets/page.h"
#include "window/widgets/questions.h"

#include <glib/gi18n-lib.h>

static const char *const formats[] = {"text", "json", "csv", "tsv", "c", NULL};

typedef struct {
  CwSession *session;
  GtkWidget *format, *sign, *rate, *fixed, *preview, *checksum;
  char *text; /* NULL while there is no table */
} Pane;

static CwTable *new_table(Pane *pane, GError **error)
{
  const char *typed = gtk_editable_get_text(GTK_EDITABLE(pane->rate));
  CwField field = {
      .key = "rate", .type = CW_FIELD_NUMBER, .least = 8000, .most = 768000, .flags = CW_FIELD_NULLABLE};
  double rate_hz;
  if (!cw_number_from_text(&field, typed, &rate_hz, error))
    return NULL;
  return cw_table_new(cw_session_get_vehicle(pane->session), rate_hz > 0 ? rate_hz : 0, error);
}

static char *write_table(Pane *pane, GError **error)
{
  if (gtk_drop_down_get_selected(GTK_DROP_DOWN(pane->format)) == 0)
    return cw_settings_write(cw_session_get_vehicle(pane->session), error);
  const char *fixed_text = gtk_editable_get_text(GTK_EDITABLE(pane->fixed));
  CwFixedFormat fixed;
  if (*fixed_text && !cw_fixed_format_parse(fixed_text, &fixed)) {
    g_set_error(error, CW_TABLE_ERROR, CW_TABLE_ERROR_FORMAT, _("“%s” is no fixed-point format; 1.31 is one"),
                fixed_text);
    return NULL;
  }
  g_autoptr(CwTable) table = new_table(pane, error);
  if (!table)
    return NULL;
  return cw_table_write(table, formats[gtk_drop_down_get_selected(GTK_DROP_DOWN(pane->format))],
                        gtk_drop_down_get_selected(GTK_DROP_DOWN(pane->sign)) == 1,
                        *fixed_text ? &fixed : NULL, error);
}

static void show_checksum(Pane *pane)
{
  g_autofree char *checksum =
      pane->text ? cw_table_checksum(cw_session_get_vehicle(pane->session), NULL) : NULL;
  g_autofree char *words = checksum ? g_strdup_printf(_("Checksum of the tune: %s"), checksum) : g_strdup("");
  gtk_label_set_text(GTK_LABEL(pane->checksum), words);
}

/* Shows the table as it would be written now, or why there is none. */
void cw_table_pane_refresh(GtkWidget *widget)
{
  Pane *pane = g_object_get_data(G_OBJECT(widget), "pane");
  g_autoptr(GError) error = NULL;
  if (!cw_session_get_vehicle(pane->session))
    return;
  gboolean coefficients = gtk_drop_down_get_selected(GTK_DROP_DOWN(pane->format)) != 0;
  gtk_widget_set_visible(pane->sign, coefficients);
  gtk_widget_set_visible(pane->rate, coefficients);
  gtk_widget_set_visible(pane->fixed, coefficients);
  g_free(pane->text);
  pane->text = write_table(pane, &error);
  gtk_text_buffer_set_text(gtk_text_view_get_buffer(GTK_TEXT_VIEW(pane->preview)),
                           pane->text ? pane->text : error->message, -1);
  show_checksum(pane);
}

gboolean cw_table_pane_has_table(GtkWidget *widget)
{
  return ((Pane *)g_object_get_data(G_OBJECT(widget), "pane"))->text != NULL;
}

static void on_path(const char *path, gpointer widget)
{
  Pane *pane = g_object_get_data(G_OBJECT(widget), "pane");
  g_autoptr(GError) error = NULL;
  if (!pane->text)
    return;
  if (cw_job_write_file(path, pane->text, -1, CW_REPLACE_ANY, &error))
    cw_session_tell(pane->session, CW_TOLD_DONE, _("The table is in %s."), path);
  else
    cw_session_tell(pane->session, CW_TOLD_FAILED,
                    _("The table was not written: %s. What was there is as it was; choose another folder."),
                    error->message);
}

/* Asks where, and writes the table there, whole or not at all. */
void cw_table_pane_export(GtkWidget *widget)
{
  Pane *pane = g_object_get_data(G_OBJECT(widget), "pane");
  const char *format = formats[gtk_drop_down_get_selected(GTK_DROP_DOWN(pane->format))];
  g_autofree char *suffix = g_strdup(g_str_equal(format, "c")      ? "h"
                                     : g_str_equal(format, "text") ? "txt"
                                                                   : format);
  g_autofree char *name =
      g_strdup_printf("%s.%s", cw_vehicle_get_reference(cw_session_get_vehicle(pane->session)), suffix);
  g_autofree char *pattern = g_strdup_printf("*.%s", suffix);
  cw_ask_path(widget, GTK_FILE_CHOOSER_ACTION_SAVE, _("Export the table"), name, _("Tables"), pattern,
              on_path, g_object_ref(widget), g_object_unref);
}

static void pane_free(gpointer data)
{
  g_free(((Pane *)data)->text);
  g_free(data);
}

static GtkWidget *new_choices(Pane *pane, GtkWidget *outside)
{
  const char *const format_names[] = {_("Text to type in"), _("JSON table"), _("CSV table"),
                                      _("TSV table"),       _("C header"),   NULL};
  const char *const signs[] = {_("a1 and a2 subtracted"), _("a1 and a2 added"), NULL};
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 8);
  pane->format = gtk_drop_down_new_from_strings(format_names);
  pane->sign = gtk_drop_down_new_from_strings(signs);
  pane->rate = gtk_entry_new();
  pane->fixed = gtk_entry_new();
  gtk_entry_set_placeholder_text(GTK_ENTRY(pane->rate), _("Rate: the tune's"));
  gtk_entry_set_placeholder_text(GTK_ENTRY(pane->fixed), _("Fixed point: none"));
  gtk_editable_set_width_chars(GTK_EDITABLE(pane->rate), 13);
  gtk_editable_set_width_chars(GTK_EDITABLE(pane->fixed), 13);
  gtk_widget_set_tooltip_text(
      pane->rate, _("Sample rate of the processor that the table is for; empty for the tune's own"));
  gtk_widget_set_tooltip_text(pane->fixed,
                              _("Adds fixed-point codes, bits before and after the point, as 1.31"));
  gtk_widget_set_tooltip_text(pane->sign, _("How the processor takes the two feedback coefficients"));
  cw_set_name(pane->format, _("Format"));
  cw_set_name(pane->sign, _("Sign of a1 and a2"));
  cw_set_name(pane->rate, _("Sample rate"));
  cw_set_name(pane->fixed, _("Fixed point"));
  GtkWidget *const inputs[] = {pane->format, pane->sign, pane->rate, pane->fixed};
  for (guint i = 0; i < G_N_ELEMENTS(inputs); i++) {
    gtk_box_append(GTK_BOX(row), inputs[i]);
    g_signal_connect_swapped(inputs[i], i < 2 ? "notify::selected" : "changed",
                             G_CALLBACK(cw_table_pane_refresh), outside);
  }
  return row;
}

GtkWidget *cw_table_pane_new(CwSession *session)
{
  Pane *pane = g_new0(Pane, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8), *scrolled = gtk_scrolled_window_new();
  pane->session = session;
  g_object_set_data_full(G_OBJECT(box), "pane", pane, pane_free);
  pane->preview = gtk_text_view_new();
  pane->checksum = gtk_label_new(NULL);
  gtk_label_set_xalign(GTK_LABEL(pane->checksum), 0);
  gtk_label_set_ellipsize(GTK_LABEL(pane->checksum), PANGO_ELLIPSIZE_END);
  gtk_widget_add_css_class(pane->checksum, "dim-label");
  gtk_label_set_selectable(GTK_LABEL(pane->checksum), TRUE);
  gtk_text_view_set_editable(GTK_TEXT_VIEW(pane->preview), FALSE);
  gtk_text_view_set_monospace(GTK_TEXT_VIEW(pane->preview), TRUE);
  cw_read_from_left(pane->preview);
  cw_set_name(pane->preview, _("The table as it will be written"));
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), pane->preview);
  gtk_scrolled_window_set_has_frame(GTK_SCROLLED_WINDOW(scrolled), TRUE);
  gtk_widget_set_vexpand(scrolled, TRUE);
  gtk_widget_set_hexpand(scrolled, TRUE);
  gtk_box_append(GTK_BOX(box), new_choices(pane, box));
  gtk_box_append(GTK_BOX(box), scrolled);
  gtk_box_append(GTK_BOX(box), pane->checksum);
  return box;
}
