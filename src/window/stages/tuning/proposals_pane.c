/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/tuning/proposals_pane.h"

#include "job/tuning/tune.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define MOST_FILTERS 20

/* The parts of an output that a lock holds, and those that a proposal may be limited to. */
static const struct {
  CwTunePart part;
  const char *word;
} locks[] = {{CW_TUNE_CROSSOVER, N_("Crossover")},
             {CW_TUNE_FILTERS, N_("EQ filters")},
             {CW_TUNE_GAIN, N_("Gain")},
             {CW_TUNE_DELAY, N_("Delay")},
             {CW_TUNE_POLARITY, N_("Polarity")}};

typedef struct {
  CwSession *session;
  GtkWidget *lock_title, *lock[G_N_ELEMENTS(locks)];
  GtkWidget *filters, *scope, *parts, *keep;
  GtkWidget *rows, *empty;
  gboolean showing; /* what the widgets say now is what the tune says */
} Pane;

static CwRecord *tune_of(Pane *pane)
{
  CwRecord *vehicle = cw_session_get_vehicle(pane->session);
  return vehicle ? cw_vehicle_get_tune(vehicle) : NULL;
}

static CwRecord *output_of(Pane *pane)
{
  CwRecord *tune = tune_of(pane);
  return tune ? cw_list_find_integer_at(cw_tune_get_outputs(tune), CW_TUNE_OUTPUT_FIELD_OUTPUT,
                                        cw_session_get_output(pane->session))
              : NULL;
}

/* --- locks --- */

static void on_lock(GtkCheckButton *check, Pane *pane)
{
  CwRecord *output = output_of(pane);
  guint k = GPOINTER_TO_UINT(g_object_get_data(G_OBJECT(check), "lock"));
  gboolean locked = gtk_check_button_get_active(check);

  if (pane->showing || !output)
    return;
  cw_tune_lock_parts(output, locks[k].part, locked);
  cw_session_commit(pane->session, locked ? _("Lock a part of an output") : _("Unlock a part of an output"));
}

static GtkWidget *new_locks(Pane *pane)
{
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 2), *flow = gtk_grid_new();

  gtk_grid_set_column_spacing(GTK_GRID(flow), 12);
  pane->lock_title = cw_dim_text("");
  gtk_box_append(GTK_BOX(box), pane->lock_title);
  for (guint k = 0; k < G_N_ELEMENTS(locks); k++) {
    pane->lock[k] = gtk_check_button_new_with_label(_(locks[k].word));
    g_object_set_data(G_OBJECT(pane->lock[k]), "lock", GUINT_TO_POINTER(k));
    g_signal_connect(pane->lock[k], "toggled", G_CALLBACK(on_lock), pane);
    gtk_grid_attach(GTK_GRID(flow), pane->lock[k], (int)k % 3, (int)k / 3, 1, 1);
  }
  gtk_box_append(GTK_BOX(box), flow);
  return box;
}

static void show_locks(Pane *pane)
{
  CwRecord *output = output_of(pane), *vehicle = cw_session_get_vehicle(pane->session),
           *speaker = vehicle ? cw_vehicle_find_speaker(vehicle, cw_session_get_output(pane->session)) : NULL;
  guint held = output ? cw_tune_locked_parts(output) : 0;
  g_autofree char *title = g_strdup_printf(_("Locked in %s: a new proposal keeps it"),
                                           speaker ? cw_speaker_get_name(speaker) : _("no output"));

  cw_show_text(pane->lock_title, title);
  for (guint k = 0; k < G_N_ELEMENTS(locks); k++) {
    gtk_check_button_set_active(GTK_CHECK_BUTTON(pane->lock[k]), (held & locks[k].part) == locks[k].part);
    gtk_widget_set_sensitive(pane->lock[k], output != NULL);
  }
}

/* --- what a proposal may change --- */

static GtkWidget *new_choice(const char *const *words, const char *name)
{
  GtkWidget *choice = gtk_drop_down_new_from_strings(words);
  cw_set_name(choice, name);
  return choice;
}

static GtkWidget *new_scope(Pane *pane)
{
  const char *const outputs[] = {_("All outputs"), _("Only the chosen outputs"), NULL},
                    *const parts[] = {_("Everything"), _("Only levels and delays"), _("Only EQ filters"),
                                      NULL};
  GtkWidget *grid = gtk_grid_new();

  gtk_grid_set_row_spacing(GTK_GRID(grid), 4);
  gtk_grid_set_column_spacing(GTK_GRID(grid), 10);
  pane->filters = gtk_spin_button_new_with_range(0, MOST_FILTERS, 1);
  cw_set_name(pane->filters, _("EQ filters per output at most; 0 for as many as pay"));
  cw_read_from_left(pane->filters);
  pane->scope = new_choice(outputs, _("Outputs that a proposal may change"));
  pane->parts = new_choice(parts, _("Parts that a proposal may change"));
  pane->keep = gtk_check_button_new_with_label(_("Keep my filters and add to them"));
  gtk_grid_attach(GTK_GRID(grid), cw_text(_("Filters per output, at most (0: as many as pay)")), 0, 0, 1, 1);
  gtk_grid_attach(GTK_GRID(grid), pane->filters, 1, 0, 1, 1);
  gtk_grid_attach(GTK_GRID(grid), pane->scope, 0, 1, 1, 1);
  gtk_grid_attach(GTK_GRID(grid), pane->parts, 1, 1, 1, 1);
  gtk_grid_attach(GTK_GRID(grid), pane->keep, 0, 2, 2, 1);
  return grid;
}

CwTuneWish cw_proposals_pane_get_wish(GtkWidget *widget)
{
  static const guint only[] = {0, CW_TUNE_GAIN | CW_TUNE_DELAY, CW_TUNE_FILTERS};
  Pane *pane = g_object_get_data(G_OBJECT(widget), "pane");
  CwTuneWish wish = {.filters = (guint)gtk_spin_button_get_value_as_int(GTK_SPIN_BUTTON(pane->filters)),
                     .only = only[MIN(gtk_drop_down_get_selected(GTK_DROP_DOWN(pane->parts)), 2)],
                     .keep_filters = gtk_check_button_get_active(GTK_CHECK_BUTTON(pane->keep))};
  const GArray *chosen = cw_session_get_outputs(pane->session);

  if (gtk_drop_down_get_selected(GTK_DROP_DOWN(pane->scope)) == 1) {
    wish.outputs = g_array_new(FALSE, FALSE, sizeof(gint64));
    g_array_append_vals(wish.outputs, chosen->data, chosen->len);
  }
  return wish;
}

/* --- the alternatives --- */

static const char *say_name(const char *name)
{
  return g_str_equal(name, "closest")     ? _("Closest to the target")
         : g_str_equal(name, "simplest")  ? _("Simplest, at most 0.3 dB behind")
         : g_str_equal(name, "steadiest") ? _("Steadiest from position to position")
                                          : _("The tune before");
}

static char *say_figures(CwRecord *choice)
{
  GString *text = g_string_new(NULL);
  g_string_append_printf(text, _("%d filters; sides %.1f, both %.1f, left against right %.1f dB"),
                         (int)cw_tune_choice_get_corrections(choice), cw_tune_choice_get_side_db(choice),
                         cw_tune_choice_get_both_db(choice), cw_tune_choice_get_match_db(choice));
  if (!isnan(cw_tune_choice_get_places_db(choice)) && cw_tune_choice_get_places_db(choice) > 0)
    g_string_append_printf(text, _("; at every position %.1f dB; headroom %+.1f dB"),
                           cw_tune_choice_get_places_db(choice), cw_tune_choice_get_headroom_db(choice));
  return g_string_free(text, FALSE);
}

static void on_use(GtkButton *button, Pane *pane)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *name = g_strdup(g_object_get_data(G_OBJECT(button), "name"));

  if (!cw_tune_take_alternative(cw_session_get_vehicle(pane->session), name, &error)) {
    cw_session_tell(pane->session, CW_TOLD_FAILED, _("%s. The tune was not changed."), error->message);
    return;
  }
  cw_session_commit(pane->session, _("Take another proposal"));
}

static GtkWidget *new_row(Pane *pane, CwRecord *choice, gboolean in_use)
{
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 8),
            *words = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0),
            *use = gtk_button_new_with_label(in_use ? _("In use") : _("Use"));
  const char *name = cw_tune_choice_get_name(choice);
  g_autofree char *figures = say_figures(choice), *spoken = g_strdup_printf(_("Use: %s"), say_name(name));

  gtk_box_append(GTK_BOX(words), cw_text(say_name(name)));
  gtk_box_append(GTK_BOX(words), cw_dim_text(figures));
  gtk_widget_set_hexpand(words, TRUE);
  gtk_widget_set_valign(use, GTK_ALIGN_CENTER);
  gtk_widget_set_sensitive(use, !in_use);
  cw_set_name(use, spoken);
  g_object_set_data_full(G_OBJECT(use), "name", g_strdup(name), g_free);
  g_signal_connect(use, "clicked", G_CALLBACK(on_use), pane);
  gtk_box_append(GTK_BOX(row), words);
  gtk_box_append(GTK_BOX(row), use);
  return row;
}

static void show_alternatives(Pane *pane)
{
  CwRecord *tune = tune_of(pane);
  CwList *list = tune ? cw_tune_get_alternatives(tune) : NULL;
  const char *chosen = tune ? cw_tune_get_chosen(tune) : NULL;

  for (GtkWidget *row; (row = gtk_widget_get_first_child(pane->rows));)
    gtk_box_remove(GTK_BOX(pane->rows), row);
  for (guint i = 0; list && i < cw_list_get_length(list); i++) {
    CwRecord *choice = cw_list_get(list, i);
    gtk_box_append(GTK_BOX(pane->rows),
                   new_row(pane, choice, g_strcmp0(chosen, cw_tune_choice_get_name(choice)) == 0));
  }
  gtk_widget_set_visible(pane->empty, !list || cw_list_get_length(list) == 0);
}

void cw_proposals_pane_refresh(GtkWidget *widget)
{
  Pane *pane = g_object_get_data(G_OBJECT(widget), "pane");

  pane->showing = TRUE;
  show_locks(pane);
  show_alternatives(pane);
  pane->showing = FALSE;
}

GtkWidget *cw_proposals_pane_new(CwSession *session)
{
  Pane *pane = g_new0(Pane, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 10), *scrolled = gtk_scrolled_window_new();

  pane->session = session;
  pane->rows = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8);
  pane->empty = cw_dim_text(_("No proposals yet. Propose a tune: three will stand here to choose from."));
  gtk_box_append(GTK_BOX(box), new_locks(pane));
  gtk_box_append(GTK_BOX(box), new_scope(pane));
  gtk_box_append(GTK_BOX(box), gtk_separator_new(GTK_ORIENTATION_HORIZONTAL));
  gtk_box_append(GTK_BOX(box), pane->rows);
  gtk_box_append(GTK_BOX(box), pane->empty);
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), box);
  g_object_set_data_full(G_OBJECT(scrolled), "pane", pane, g_free);
  return scrolled;
}
