/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/sheet/electrics.h"
#include "window/stages/stages.h"
#include "window/widgets/cell_table.h"
#include "window/widgets/record_rows.h"

#include <glib/gi18n-lib.h>
#include <math.h>

typedef struct {
  CwSession *session;
  GtkWidget *page, *summary, *supplies, *loads, *working, *rows, *amplifiers;
  CwRecord *shown;
} Supply;

static char *say(const char *unit, double value)
{
  return isfinite(value) ? g_strdup_printf("%.*f %s", value < 10 ? 1 : 0, value, unit) : g_strdup("–");
}

static void add(GtkWidget *table, char *text)
{
  cw_cell_table_add_text(table, text);
  g_free(text);
}

static void show_amplifier(Supply *supply, const CwAmplifierSupply *amplifier)
{
  GtkWidget *table = supply->supplies;
  gboolean cable_ok = cw_amplifier_cable_ok(amplifier), fuse_ok = cw_amplifier_fuse_ok(amplifier);
  add(table, g_strdup(amplifier->name));
  add(table, say("A", amplifier->current_a));
  add(table, say("mm²", amplifier->cable.size_mm2));
  add(table,
      isfinite(amplifier->cable.drop_v) ? g_strdup_printf("%.2f V", amplifier->cable.drop_v) : g_strdup("–"));
  add(table, say("A", amplifier->cable.fuse_a));
  add(table, isfinite(amplifier->fitted_mm2)
                 ? g_strdup_printf("%s %.3g mm²", cable_ok ? "✓" : "✗", amplifier->fitted_mm2)
                 : g_strdup(_("not known")));
  add(table, isfinite(amplifier->fitted_fuse_a)
                 ? g_strdup_printf("%s %.3g A", fuse_ok ? "✓" : "✗", amplifier->fitted_fuse_a)
                 : g_strdup(_("not known")));
}

static void show_load(Supply *supply, const CwAmplifierSupply *amplifier, const CwChannelLoad *load)
{
  GtkWidget *table = supply->loads;
  add(table, g_strdup(amplifier->name));
  add(table, load->n_channels == 2
                 ? g_strdup_printf(_("%d and %d, bridged"), (int)load->channels[0], (int)load->channels[1])
                 : g_strdup_printf("%d", (int)load->channels[0]));
  add(table, g_strdup_printf("%u", load->n_speakers));
  add(table, g_strdup_printf("%.2f Ω", load->load_ohm));
  add(table, g_strdup_printf("%.2f Ω", load->least_ohm));
  add(table, g_strdup_printf("%.0f W", load->power_w));
  add(table, g_strdup(load->ok ? _("✓ fits") : _("✗ too low")));
}

static void show_working(Supply *supply, const CwElectrics *electrics)
{
  g_autoptr(GString) text = g_string_new(NULL);
  for (guint i = 0; i < electrics->n_amplifiers; i++) {
    g_auto(GStrv) lines = cw_electrics_working(electrics, i);
    g_string_append_printf(text, "%s%s\n", i ? "\n" : "", electrics->amplifiers[i].name);
    for (guint k = 0; lines && lines[k]; k++)
      g_string_append_printf(text, "  %s\n", lines[k]);
  }
  gtk_label_set_text(GTK_LABEL(supply->working), text->str);
}

static void show_summary(Supply *supply, const CwElectrics *electrics)
{
  g_autofree char *text = NULL;
  if (!isfinite(electrics->alternator_a))
    text =
        g_strdup_printf(_("At full power all amplifiers draw %.0f A at %.1f V. The alternator is not known."),
                        electrics->total_a, electrics->running_v);
  else
    text = g_strdup_printf(
        cw_electrics_alternator_ok(electrics)
            ? _("At full power all amplifiers draw %.0f A at %.1f V; the alternator gives %.0f A.")
            : _("At full power all amplifiers draw %.0f A at %.1f V, more than the alternator's %.0f A can "
                "carry for long."),
        electrics->total_a, electrics->running_v, electrics->alternator_a);
  gtk_label_set_text(GTK_LABEL(supply->summary), text);
}

static void refresh(gpointer data)
{
  Supply *supply = data;
  CwRecord *vehicle = cw_session_get_vehicle(supply->session);
  g_autoptr(CwElectrics) electrics = cw_electrics_new(vehicle);
  cw_page_set_need(CW_PAGE(supply->page),
                   electrics->n_amplifiers
                       ? NULL
                       : _("Supply and wiring needs the amplifiers that are fitted: add them here."),
                   CW_STAGE_SUPPLY);
  cw_cell_table_clear(supply->supplies);
  cw_cell_table_clear(supply->loads);
  for (guint i = 0; i < electrics->n_amplifiers; i++) {
    show_amplifier(supply, &electrics->amplifiers[i]);
    for (guint k = 0; k < electrics->amplifiers[i].n_loads; k++)
      show_load(supply, &electrics->amplifiers[i], &electrics->amplifiers[i].loads[k]);
  }
  show_summary(supply, electrics);
  show_working(supply, electrics);
  if (!g_set_object(&supply->shown, vehicle))
    return;
  for (GtkWidget *child; (child = gtk_widget_get_first_child(supply->rows));)
    gtk_box_remove(GTK_BOX(supply->rows), child);
  gtk_box_append(GTK_BOX(supply->rows), cw_record_rows_new(supply->session, cw_vehicle_get_supply(vehicle)));
  supply->amplifiers = cw_record_list_new(supply->session, vehicle,
                                          cw_record_get_field_at(vehicle, CW_VEHICLE_FIELD_AMPLIFIERS));
  gtk_box_append(GTK_BOX(supply->rows), supply->amplifiers);
}

static void on_add_amplifier(Supply *supply)
{
  if (supply->shown)
    cw_record_list_add(supply->amplifiers);
}

static void supply_free(gpointer data)
{
  Supply *supply = data;
  g_clear_object(&supply->shown);
  g_free(supply);
}

GtkWidget *cw_stage_supply_new(CwSession *session, CwSoundDesk *desk)
{
  const char *const supplies[] = {_("Amplifier"),    _(">Current"),     _(">Cable needed"), _(">Drop"),
                                  _(">Fuse needed"), _("Cable fitted"), _("Fuse fitted"),   NULL};
  const char *const loads[] = {_("Amplifier"),   _("Channel"), _(">Speakers"), _(">Load"),
                               _(">Least load"), _(">Power"),  _("Verdict"),   NULL};
  Supply *supply = g_new0(Supply, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 12),
            *working = gtk_expander_new(_("How this was worked out"));
  supply->session = session;
  supply->page =
      cw_page_new(session, CW_STAGE_SUPPLY, _("Current, cable, fuse, and the loads at every channel."));
  cw_page_add_button(CW_PAGE(supply->page), _("Add an _amplifier"), G_CALLBACK(on_add_amplifier), supply);
  supply->summary = cw_text(NULL);
  supply->supplies = cw_cell_table_new(supplies);
  supply->loads = cw_cell_table_new(loads);
  supply->working = cw_text(NULL);
  supply->rows = gtk_box_new(GTK_ORIENTATION_VERTICAL, 4);
  gtk_widget_set_halign(supply->rows, GTK_ALIGN_START);
  gtk_widget_set_size_request(supply->rows, 560, -1);
  gtk_label_set_selectable(GTK_LABEL(supply->working), TRUE);
  gtk_expander_set_child(GTK_EXPANDER(working), supply->working);
  gtk_box_append(GTK_BOX(box), supply->summary);
  gtk_box_append(GTK_BOX(box), supply->supplies);
  gtk_box_append(GTK_BOX(box), gtk_separator_new(GTK_ORIENTATION_HORIZONTAL));
  gtk_box_append(GTK_BOX(box), supply->loads);
  gtk_box_append(GTK_BOX(box), working);
  gtk_box_append(GTK_BOX(box), gtk_separator_new(GTK_ORIENTATION_HORIZONTAL));
  gtk_box_append(GTK_BOX(box), cw_heading(_("What is fitted")));
  gtk_box_append(GTK_BOX(box), supply->rows);
  cw_page_set_content_scrolled(CW_PAGE(supply->page), box);
  cw_page_set_refresh(CW_PAGE(supply->page), refresh, supply, supply_free);
  return supply->page;
}
