/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/filters/filter_editor.h"
#include "processor/limits.h"

#include "window/filters/filter_handles.h"
#include "window/filters/section_table.h"
#include "window/state/linked_outputs.h"
#include "window/state/words.h"
#include "window/widgets/page.h"
#include "window/widgets/record_rows.h"

#include <glib/gi18n-lib.h>
#include <math.h>

struct CwFilterEditor {
  CwSession *session;
  const CwFilterSubject *subject;
  gpointer data; /* the subject's */
  GtkWidget *overlay, *plot, *handles;
  GtkWidget *values, *title, *settings, *table, *why;
  GtkWidget *pair, *link, *copy, *add, *bypass;
  CwRecord *shown; /* whose settings stand in the widgets */
  gulong delay_handler;
};

static double curve_at(double hz, gpointer data)
{
  CwFilterEditor *editor = data;
  CwPlot *plot = cw_plot_view_get_plot(CW_PLOT_VIEW(editor->plot));
  return plot->series->len ? cw_series_value_at(g_ptr_array_index(plot->series, plot->series->len - 1), hz)
                           : (double)NAN;
}

/* The delay that people set is in milliseconds, the processor's in samples: one follows the other, on the
 * processor's steps. */
static void on_delay(CwFilterEditor *editor)
{
  CwRecord *vehicle = cw_session_get_vehicle(editor->session), *tune = cw_vehicle_get_tune(vehicle);
  double rate_hz = cw_tune_get_sample_rate_hz(tune);
  if (isnan(rate_hz))
    rate_hz = cw_processor_get_sample_rate_hz(cw_vehicle_get_processor(vehicle));
  CwLimits limits = cw_limits_of_output(cw_vehicle_get_processor(vehicle));
  limits.delay_step_seconds *= limits.rate_hz / rate_hz;
  limits.rate_hz = rate_hz;
  double samples = cw_limits_delay_samples(&limits, 1e-3 * cw_port_get_delay_ms(editor->shown) * rate_hz);
  if (fabs(samples - cw_port_get_delay_samples(editor->shown)) < 1e-6)
    return;
  cw_port_set_delay_samples(editor->shown, samples);
  cw_port_set_delay_ms(editor->shown, 1e3 * samples / rate_hz);
}

static void let_go(CwFilterEditor *editor)
{
  if (editor->shown)
    g_signal_handler_disconnect(editor->shown, editor->delay_handler);
  g_clear_object(&editor->shown);
}

static void show_settings(CwFilterEditor *editor, CwRecord *owner)
{
  const CwFieldId *ids = editor->subject->settings;
  if (editor->shown == owner)
    return;
  let_go(editor);
  for (GtkWidget *child; (child = gtk_widget_get_first_child(editor->settings));)
    gtk_box_remove(GTK_BOX(editor->settings), child);
  cw_filter_handles_choose(CW_FILTER_HANDLES(editor->handles), NULL);
  cw_section_table_set_owner(editor->table, owner);
  if (!owner)
    return;
  editor->shown = g_object_ref(owner);
  for (guint i = 0; ids[i] != CW_NO_FIELD; i++) {
    GtkWidget *column = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0);
    GtkWidget *label = gtk_label_new(_(cw_record_get_field_at(owner, ids[i])->label));
    gtk_label_set_xalign(GTK_LABEL(label), 0);
    gtk_widget_add_css_class(label, "dim-label");
    gtk_box_append(GTK_BOX(column), label);
    gtk_box_append(GTK_BOX(column), cw_value_input_new(editor->session, owner, ids[i], 7));
    gtk_box_append(GTK_BOX(editor->settings), column);
  }
  editor->delay_handler = g_signal_connect_swapped(owner, "notify::delay-ms", G_CALLBACK(on_delay), editor);
}

static gint64 pair_of(CwFilterEditor *editor)
{
  return cw_pair_of(cw_session_get_vehicle(editor->session), cw_session_get_output(editor->session));
}

/* Whose values these are, and whose the edits will be too. */
static void show_title(CwFilterEditor *editor)
{
  CwRecord *vehicle = cw_session_get_vehicle(editor->session);
  gint64 pair = editor->subject->of_outputs ? pair_of(editor) : CW_NO_INTEGER;
  g_autofree char *title = editor->subject->say_title(editor->data), *other = cw_say_output(vehicle, pair);
  g_autofree char *link = g_strdup_printf(_("Change %s too"), other);
  cw_show_text(editor->title, title);
  gtk_widget_set_visible(editor->pair, editor->shown && pair != CW_NO_INTEGER);
  if (g_strcmp0(gtk_check_button_get_label(GTK_CHECK_BUTTON(editor->link)), link) != 0)
    gtk_check_button_set_label(GTK_CHECK_BUTTON(editor->link), link);
  gtk_check_button_set_active(GTK_CHECK_BUTTON(editor->link), cw_session_get_linked(editor->session));
}

/* Why the chosen filter is there. */
static void show_why(CwFilterEditor *editor)
{
  CwRecord *section = cw_filter_handles_get_chosen(CW_FILTER_HANDLES(editor->handles));
  g_autofree char *text =
      section ? g_strdup_printf("%s. %s", cw_tune_section_say_use(section), cw_tune_section_get_why(section))
              : NULL;
  cw_show_text(editor->why, text ? text : editor->shown ? _("Choose a filter to see why it is there.") : "");
}

void cw_filter_editor_refresh(CwFilterEditor *editor)
{
  CwRecord *owner = editor->subject->find(editor->data);
  show_settings(editor, owner);
  cw_filter_handles_set_owner(CW_FILTER_HANDLES(editor->handles), owner);
  gtk_widget_set_sensitive(editor->add, owner != NULL);
  gtk_widget_set_sensitive(editor->bypass, owner && cw_list_get_length(cw_port_get_sections(owner)));
  show_title(editor);
  show_why(editor);
  if (!editor->subject->draw(editor->data, CW_PLOT_VIEW(editor->plot)))
    cw_filter_handles_set_owner(CW_FILTER_HANDLES(editor->handles), NULL);
}

static void on_chosen_on_curve(CwFilterEditor *editor)
{
  cw_section_table_choose(editor->table, cw_filter_handles_get_chosen(CW_FILTER_HANDLES(editor->handles)));
  show_why(editor);
}

static void on_chosen_in_table(CwRecord *section, gpointer data)
{
  CwFilterEditor *editor = data;
  cw_filter_handles_choose(CW_FILTER_HANDLES(editor->handles), section);
}

static void on_add(CwFilterEditor *editor)
{
  if (!editor->shown)
    return;
  g_autofree char *name = cw_say_owner(cw_session_get_vehicle(editor->session), editor->shown);
  g_autofree char *what = g_strdup_printf(_("Add a filter to %s"), name);
  CwRecord *section = cw_port_add_to_sections(editor->shown);
  cw_tune_section_set_use(section, CW_USE_CORRECTION);
  cw_tune_section_set_frequency_hz(section, editor->subject->middle_hz(editor->data));
  cw_tune_section_set_q(section, 1.4);
  cw_tune_section_set_why(section, _("Set by hand"));
  cw_linking_add(editor->session, section);
  if (cw_session_commit(editor->session, what))
    cw_filter_handles_choose(CW_FILTER_HANDLES(editor->handles), section);
}

/* All sections off, or all on when they are off. */
static void on_bypass(CwFilterEditor *editor)
{
  CwList *sections = cw_port_get_sections(editor->shown);
  gboolean any_on = FALSE;
  for (guint i = 0; i < cw_list_get_length(sections); i++)
    if (cw_tune_section_get_use(cw_list_get(sections, i)) != CW_USE_CROSSOVER)
      any_on |= !cw_tune_section_get_bypass(cw_list_get(sections, i));
  cw_linking_set_bypass(editor->session, editor->shown, any_on);
  cw_session_commit(editor->session, any_on ? _("Bypass the corrections") : _("Use the corrections"));
}

static void on_link(CwFilterEditor *editor)
{
  cw_session_set_linked(editor->session, gtk_check_button_get_active(GTK_CHECK_BUTTON(editor->link)));
}

static void on_copy(CwFilterEditor *editor)
{
  gint64 from = cw_session_get_output(editor->session), to = pair_of(editor);
  g_autofree char *name = cw_say_output(cw_session_get_vehicle(editor->session), to);
  g_autofree char *what = g_strdup_printf(_("Copy filters to %s"), name);
  cw_linking_copy_filters(editor->session, from, to);
  cw_session_commit(editor->session, what);
}

static GtkWidget *new_button(CwFilterEditor *editor, const char *label, const char *tip,
                             void (*clicked)(CwFilterEditor *))
{
  GtkWidget *button = gtk_button_new_with_label(label);
  gtk_widget_set_tooltip_text(button, tip);
  g_signal_connect_swapped(button, "clicked", G_CALLBACK(clicked), editor);
  return button;
}

static void build_pair(CwFilterEditor *editor)
{
  editor->pair = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 8);
  editor->link = gtk_check_button_new();
  gtk_widget_set_tooltip_text(editor->link, _("Gain and delay move by the same amount in both, and filters "
                                              "that are the same in both change together"));
  gtk_widget_set_hexpand(editor->link, TRUE);
  g_signal_connect_swapped(editor->link, "toggled", G_CALLBACK(on_link), editor);
  editor->copy = new_button(
      editor, _("Copy filters there"),
      _("The other side gets these filters instead of its own; gain, delay and polarity stay"), on_copy);
  gtk_box_append(GTK_BOX(editor->pair), editor->link);
  gtk_box_append(GTK_BOX(editor->pair), editor->copy);
}

static void build_values(CwFilterEditor *editor)
{
  GtkWidget *buttons = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 6);
  editor->values = g_object_ref_sink(gtk_box_new(GTK_ORIENTATION_VERTICAL, 6));
  editor->title = cw_heading(NULL);
  editor->settings = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 10);
  editor->table = cw_section_table_new(editor->session, on_chosen_in_table, editor);
  editor->why = cw_text(NULL);
  gtk_widget_add_css_class(editor->why, "why");
  gtk_label_set_lines(GTK_LABEL(editor->why), 4);
  editor->add = new_button(editor, _("Add a filter"), NULL, on_add);
  editor->bypass =
      new_button(editor, _("Bypass filters"),
                 _("Corrections off or on again; crossovers stay, they protect the speakers"), on_bypass);
  build_pair(editor);
  gtk_box_append(GTK_BOX(buttons), editor->add);
  gtk_box_append(GTK_BOX(buttons), editor->bypass);
  GtkWidget *const parts[] = {editor->title, editor->settings, editor->pair,
                              editor->table, editor->why,      buttons};
  for (guint i = 0; i < G_N_ELEMENTS(parts); i++)
    gtk_box_append(GTK_BOX(editor->values), parts[i]);
}

CwFilterEditor *cw_filter_editor_new(CwSession *session, const CwFilterSubject *subject, gpointer data)
{
  CwFilterEditor *editor = g_new0(CwFilterEditor, 1);
  editor->session = session;
  editor->subject = subject;
  editor->data = data;
  editor->plot = cw_plot_view_new(_(subject->plot_name));
  cw_plot_view_get_plot(CW_PLOT_VIEW(editor->plot))->label_letters_least = CW_EDITOR_LABEL_LETTERS;
  editor->overlay = g_object_ref_sink(gtk_overlay_new());
  editor->handles = cw_filter_handles_new(session, CW_PLOT_VIEW(editor->plot), curve_at, editor);
  gtk_overlay_set_child(GTK_OVERLAY(editor->overlay), editor->plot);
  gtk_overlay_add_overlay(GTK_OVERLAY(editor->overlay), editor->handles);
  g_signal_connect_swapped(editor->handles, "chosen", G_CALLBACK(on_chosen_on_curve), editor);
  build_values(editor);
  return editor;
}

void cw_filter_editor_free(CwFilterEditor *editor)
{
  let_go(editor);
  g_signal_handlers_disconnect_by_data(editor->handles, editor);
  g_object_unref(editor->overlay);
  g_object_unref(editor->values);
  g_free(editor);
}

GtkWidget *cw_filter_editor_get_curve(CwFilterEditor *editor)
{
  return editor->overlay;
}

GtkWidget *cw_filter_editor_get_values(CwFilterEditor *editor)
{
  return editor->values;
}
