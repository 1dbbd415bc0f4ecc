/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/tuning/voicing.h"

#include "job/tuning/voicing_room.h"

#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>

/* Common practice, no source: which region a listener means by the word. Known in the record by its frequency
 * and kind. */
static const struct {
  const char *word, *says;
  CwSectionKind kind;
  double hz, q;
} regions[] = {
    {N_("Weight"), N_("the lowest bass, felt more than heard"), CW_SECTION_LOW_SHELF, 70, 0.7},
    {N_("Warmth"), N_("the body of bass guitar and cello"), CW_SECTION_PEAKING, 200, 0.7},
    {N_("Voices"), N_("how near the singer stands"), CW_SECTION_PEAKING, 1000, 0.7},
    {N_("Presence"), N_("consonants, attack of strings"), CW_SECTION_PEAKING, 3150, 0.7},
    {N_("Air"), N_("cymbals and the room around them"), CW_SECTION_HIGH_SHELF, 9000, 0.7},
};

#define MOST_DB 6
#define STEP_DB 0.5

typedef struct {
  CwSession *session;
  GtkWidget *box, *cost;
  double cost_db; /* taken off all gains so far */
  GtkWidget *spin[G_N_ELEMENTS(regions)];
  gboolean showing;
} Voicing;

static CwRecord *tune_of(Voicing *voicing)
{
  CwRecord *vehicle = cw_session_get_vehicle(voicing->session);
  return vehicle ? cw_vehicle_get_tune(vehicle) : NULL;
}

static CwRecord *find(CwRecord *tune, guint region)
{
  CwList *sections = cw_tune_get_voicing(tune);
  for (guint i = 0; i < cw_list_get_length(sections); i++) {
    CwRecord *section = cw_list_get(sections, i);
    if (cw_tune_section_get_kind(section) == regions[region].kind &&
        cw_tune_section_get_frequency_hz(section) == regions[region].hz)
      return section;
  }
  return NULL;
}

static CwRecord *make(CwRecord *tune, guint region)
{
  CwRecord *section = cw_tune_add_to_voicing(tune);
  cw_tune_section_set_use(section, CW_USE_VOICING);
  cw_tune_section_set_kind(section, regions[region].kind);
  cw_tune_section_set_frequency_hz(section, regions[region].hz);
  cw_tune_section_set_q(section, regions[region].q);
  cw_tune_section_set_why(section, _(regions[region].word));
  return section;
}

/* What protects a speaker is never undone: the voicing goes as far as that allows, and says so. */
static void keep_protection(Voicing *voicing, CwRecord *section, double before_db)
{
  CwRecord *vehicle = cw_session_get_vehicle(voicing->session), *exposed = NULL, *now;

  while (cw_tune_section_get_gain_db(section) > before_db && (now = cw_job_find_exposed_speaker(vehicle))) {
    exposed = now;
    cw_tune_section_set_gain_db(section, fmax(before_db, cw_tune_section_get_gain_db(section) - STEP_DB));
  }
  if (exposed)
    cw_session_tell(voicing->session, CW_TOLD_FAILED,
                    _("The voicing stays at %+.1f dB: more would undo what protects %s."),
                    cw_tune_section_get_gain_db(section), cw_speaker_get_name(exposed));
}

static void show_cost(Voicing *voicing, double cost_db)
{
  if (cost_db > 0)
    voicing->cost_db += cost_db;
  g_autofree char *text =
      voicing->cost_db > 0
          ? g_strdup_printf(_("Costs %.1f dB of headroom: all outputs were turned down by as much."),
                            voicing->cost_db)
          : g_strdup(_("The voicing has cost no headroom so far."));
  cw_show_text(voicing->cost, text);
}

static void on_changed(GtkSpinButton *spin, Voicing *voicing)
{
  CwRecord *tune = tune_of(voicing);
  guint region = GPOINTER_TO_UINT(g_object_get_data(G_OBJECT(spin), "region"));
  if (voicing->showing || !tune)
    return;
  double db = gtk_spin_button_get_value(spin);
  CwRecord *section = find(tune, region);
  g_autofree char *what = g_strdup_printf(_("Voicing: %s"), _(regions[region].word));
  if (!section && db == 0)
    return;
  section = section ? section : make(tune, region);
  double before_db = cw_tune_section_get_gain_db(section);
  gboolean was_protected = !cw_job_find_exposed_speaker(cw_session_get_vehicle(voicing->session));
  cw_tune_section_set_gain_db(section, db);
  if (was_protected)
    keep_protection(voicing, section, before_db);
  show_cost(voicing, cw_job_make_room(cw_session_get_vehicle(voicing->session)));
  cw_session_commit_merging(voicing->session, what, what);
}

/* Shows what the tune has. */
void cw_voicing_refresh(GtkWidget *widget)
{
  Voicing *voicing = g_object_get_data(G_OBJECT(widget), "voicing");
  CwRecord *tune = tune_of(voicing);
  voicing->showing = TRUE;
  for (guint i = 0; i < G_N_ELEMENTS(regions); i++) {
    CwRecord *section = tune ? find(tune, i) : NULL;
    gtk_spin_button_set_value(GTK_SPIN_BUTTON(voicing->spin[i]),
                              section ? cw_tune_section_get_gain_db(section) : 0);
  }
  if (!tune || cw_list_get_length(cw_tune_get_voicing(tune)) == 0)
    voicing->cost_db = 0;
  show_cost(voicing, 0);
  gtk_widget_set_sensitive(voicing->box, tune && cw_list_get_length(cw_tune_get_outputs(tune)));
  voicing->showing = FALSE;
}

GtkWidget *cw_voicing_new(CwSession *session)
{
  Voicing *voicing = g_new0(Voicing, 1);
  GtkWidget *grid = gtk_grid_new();
  voicing->session = session;
  voicing->box = grid;
  gtk_grid_set_row_spacing(GTK_GRID(grid), 6);
  gtk_grid_set_column_spacing(GTK_GRID(grid), 10);
  gtk_grid_attach(GTK_GRID(grid),
                  cw_dim_text(_("On every output alike, so that what was matched stays matched.")), 0, 0, 3,
                  1);
  for (guint i = 0; i < G_N_ELEMENTS(regions); i++) {
    voicing->spin[i] = gtk_spin_button_new_with_range(-MOST_DB, MOST_DB, STEP_DB);
    gtk_widget_set_valign(voicing->spin[i], GTK_ALIGN_CENTER);
    cw_set_name(voicing->spin[i], _(regions[i].word));
    cw_read_from_left(voicing->spin[i]);
    g_object_set_data(G_OBJECT(voicing->spin[i]), "region", GUINT_TO_POINTER(i));
    g_signal_connect(voicing->spin[i], "value-changed", G_CALLBACK(on_changed), voicing);
    gtk_grid_attach(GTK_GRID(grid), cw_text(_(regions[i].word)), 0, (int)i + 1, 1, 1);
    gtk_grid_attach(GTK_GRID(grid), voicing->spin[i], 1, (int)i + 1, 1, 1);
    gtk_grid_attach(GTK_GRID(grid), cw_dim_text(_(regions[i].says)), 2, (int)i + 1, 1, 1);
  }
  voicing->cost = cw_dim_text(NULL);
  show_cost(voicing, 0);
  gtk_grid_attach(GTK_GRID(grid), voicing->cost, 0, (int)G_N_ELEMENTS(regions) + 1, 3, 1);
  g_object_set_data_full(G_OBJECT(grid), "voicing", voicing, g_free);
  return grid;
}
