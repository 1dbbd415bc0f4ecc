/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/signal/survey_entries.h"

#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define LEAST_VOLTS 0.001
#define MOST_VOLTS 1000

gboolean cw_survey_mark(GtkWidget *entry, gboolean right)
{
  if (right)
    gtk_widget_remove_css_class(entry, "error");
  else
    gtk_widget_add_css_class(entry, "error");
  gtk_accessible_update_state(GTK_ACCESSIBLE(entry), GTK_ACCESSIBLE_STATE_INVALID,
                              right ? GTK_ACCESSIBLE_INVALID_FALSE : GTK_ACCESSIBLE_INVALID_TRUE, -1);
  return right;
}

double cw_survey_read_number(GtkWidget *entry)
{
  g_autofree char *text =
      g_strdelimit(g_strstrip(g_strdup(gtk_editable_get_text(GTK_EDITABLE(entry)))), ",", '.');
  char *end;
  double number = g_ascii_strtod(text, &end);
  return *text && !*end && isfinite(number) ? number : NAN;
}

gboolean cw_survey_entries_read_leads(const CwSurveyEntries *entries, CwSurveySetting *setting)
{
  g_auto(GStrv) words = g_strsplit_set(gtk_editable_get_text(GTK_EDITABLE(entries->leads)), " ,;", -1);
  setting->leads = 0;
  setting->in_pairs = gtk_drop_down_get_selected(GTK_DROP_DOWN(entries->way)) == 1;
  for (guint i = 0; words[i]; i++) {
    gint64 lead;
    if (!*words[i])
      continue;
    if (setting->leads == CW_SURVEY_LEADS_MOST || !g_ascii_string_to_signed(words[i], 10, 1, 64, &lead, NULL))
      return FALSE;
    for (guint k = 0; k < setting->leads; k++)
      if (setting->lead[k] == lead)
        return FALSE;
    setting->lead[setting->leads++] = (int)lead;
  }
  return setting->leads > 0;
}

gboolean cw_survey_entries_read(const CwSurveyEntries *entries, CwSurveySetting *setting)
{
  const char *step = gtk_editable_get_text(GTK_EDITABLE(entries->step));
  gboolean told = *gtk_editable_get_text(GTK_EDITABLE(entries->volts)) != 0;
  gint64 number = CW_NO_INTEGER;
  gboolean leads_right = cw_survey_mark(entries->leads, cw_survey_entries_read_leads(entries, setting));
  gboolean step_right =
      cw_survey_mark(entries->step, !*step || g_ascii_string_to_signed(step, 10, 0, 1000, &number, NULL));
  setting->volume_step = number;
  setting->seat_setting = cw_survey_entries_get_seat(entries);
  setting->volts = cw_survey_read_number(entries->volts);
  return cw_survey_mark(entries->volts,
                        !told || (setting->volts >= LEAST_VOLTS && setting->volts <= MOST_VOLTS)) &&
         leads_right && step_right;
}

const char *cw_survey_entries_get_seat(const CwSurveyEntries *entries)
{
  return gtk_drop_down_get_selected(GTK_DROP_DOWN(entries->seat)) == 1 ? "driver" : "all";
}

GtkWidget *cw_survey_add_entry(GtkWidget *grid, int row, const char *label, const char *tip,
                               const char *after)
{
  GtkWidget *entry = gtk_entry_new(), *box = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 8);
  gtk_widget_set_tooltip_text(entry, tip);
  gtk_editable_set_width_chars(GTK_EDITABLE(entry), 12);
  cw_set_name(entry, label);
  gtk_box_append(GTK_BOX(box), entry);
  GtkWidget *words = cw_dim_text(after);
  gtk_label_set_wrap(GTK_LABEL(words), FALSE);
  gtk_box_append(GTK_BOX(box), words);
  gtk_grid_attach(GTK_GRID(grid), cw_dim_text(label), 0, row, 1, 1);
  gtk_grid_attach(GTK_GRID(grid), box, 1, row, 1, 1);
  return entry;
}

void cw_survey_show_row(GtkWidget *grid, GtkWidget *value, gboolean visible)
{
  int row;
  while (gtk_widget_get_parent(value) != grid)
    value = gtk_widget_get_parent(value);
  gtk_grid_query_child(GTK_GRID(grid), value, NULL, &row, NULL, NULL);
  gtk_widget_set_visible(value, visible);
  gtk_widget_set_visible(gtk_grid_get_child_at(GTK_GRID(grid), 0, row), visible);
}

static GtkWidget *add_choice(GtkWidget *grid, int row, const char *label, const char *const *choices)
{
  GtkWidget *choice = gtk_drop_down_new_from_strings(choices);
  gtk_widget_set_halign(choice, GTK_ALIGN_START);
  cw_set_name(choice, label);
  gtk_grid_attach(GTK_GRID(grid), cw_dim_text(label), 0, row, 1, 1);
  gtk_grid_attach(GTK_GRID(grid), choice, 1, row, 1, 1);
  return choice;
}

void cw_survey_entries_add(CwSurveyEntries *entries, GtkWidget *grid, int row)
{
  /* An interface of two inputs hears one lead after the other, each beside the first. */
  const char *const ways[] = {_("All leads at once"), _("Two at a time, the first lead in every recording"),
                              NULL};
  const char *const seats[] = {_("off, or for all seats"), _("on the driver"), NULL};
  entries->step = cw_survey_add_entry(grid, row, _("Volume step"),
                                      _("The number that the radio shows; may be left empty"),
                                      _("as the radio shows it"));
  entries->leads = cw_survey_add_entry(
      grid, row + 1, _("Leads on the inputs"),
      _("Which lead is on each input of the interface, in order; two at a time, all leads, with the one that "
        "stays connected first"),
      _("first input first, as in 1 2 3 4"));
  entries->way = add_choice(grid, row + 2, _("Recording"), ways);
  entries->volts = cw_survey_add_entry(
      grid, row + 3, _("Volts at full scale"),
      _("The peak voltage on a lead at which the interface's input is full. Leave it empty where you do not "
        "know it, and take the volts track: it tells by one reading of the multimeter."),
      _("peak; or by the multimeter, with the volts track"));
  entries->seat = add_choice(grid, row + 4, _("Seat setting"), seats);
}
