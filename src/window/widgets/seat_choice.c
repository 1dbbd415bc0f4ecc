/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/widgets/seat_choice.h"

#include "window/state/words.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>

typedef struct {
  CwSession *session;
  GtkWidget *drop_down;
  char *filled; /* what the list holds, joined */
  gboolean outputs;
  gboolean filling;
} Choice;

static void choice_free(gpointer data)
{
  Choice *choice = data;
  g_free(choice->filled);
  g_free(choice);
}

static char **items_of(Choice *choice, CwRecord *vehicle, guint *selected)
{
  g_autoptr(GStrvBuilder) items = g_strv_builder_new();
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  const char *const *seats = cw_vehicle_get_seats(vehicle);
  for (guint i = 0; choice->outputs && i < cw_list_get_length(speakers); i++) {
    CwRecord *speaker = cw_list_get(speakers, i);
    g_autofree char *name = cw_say_speaker(speaker);
    g_autofree char *text = g_strdup_printf("%d  %s", (int)cw_speaker_get_output(speaker), name);
    g_strv_builder_add(items, text);
    if (cw_speaker_get_output(speaker) == cw_session_get_output(choice->session))
      *selected = i;
  }
  for (guint i = 0; !choice->outputs && seats && seats[i]; i++) {
    g_strv_builder_add(items, seats[i]);
    if (g_str_equal(seats[i], cw_session_get_seat(choice->session)))
      *selected = i;
  }
  return g_strv_builder_end(items);
}

static void show(Choice *choice)
{
  CwRecord *vehicle = cw_session_get_vehicle(choice->session);
  guint selected = GTK_INVALID_LIST_POSITION;
  if (!vehicle)
    return;
  g_auto(GStrv) items = items_of(choice, vehicle, &selected);
  g_autofree char *joined = g_strjoinv("\n", items);
  choice->filling = TRUE;
  if (g_strcmp0(joined, choice->filled) != 0) {
    g_autoptr(GtkStringList) list = gtk_string_list_new((const char *const *)items);
    gtk_drop_down_set_model(GTK_DROP_DOWN(choice->drop_down), G_LIST_MODEL(list));
    g_free(choice->filled);
    choice->filled = g_steal_pointer(&joined);
  }
  if (gtk_drop_down_get_selected(GTK_DROP_DOWN(choice->drop_down)) != selected)
    gtk_drop_down_set_selected(GTK_DROP_DOWN(choice->drop_down), selected);
  choice->filling = FALSE;
}

static void on_selected(Choice *choice)
{
  CwRecord *vehicle = cw_session_get_vehicle(choice->session);
  guint selected = gtk_drop_down_get_selected(GTK_DROP_DOWN(choice->drop_down));
  if (choice->filling || !vehicle || selected == GTK_INVALID_LIST_POSITION)
    return;
  if (!choice->outputs) {
    g_autofree char *seat = g_strdup(cw_vehicle_get_seats(vehicle)[selected]);
    cw_session_set_seat(choice->session, seat);
    return;
  }
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  cw_session_set_output(choice->session, cw_speaker_get_output(cw_list_get(speakers, selected)));
}

static GtkWidget *new_choice(CwSession *session, gboolean outputs, const char *name)
{
  Choice *choice = g_new0(Choice, 1);
  choice->session = session;
  choice->outputs = outputs;
  choice->drop_down = gtk_drop_down_new(NULL, NULL);
  gtk_widget_set_valign(choice->drop_down, GTK_ALIGN_CENTER);
  cw_set_name(choice->drop_down, name);
  g_object_set_data_full(G_OBJECT(choice->drop_down), "choice", choice, choice_free);
  g_signal_connect_swapped(choice->drop_down, "notify::selected", G_CALLBACK(on_selected), choice);
  cw_connect_while_alive(session, "changed", G_CALLBACK(show), choice, choice->drop_down);
  cw_connect_while_alive(session, "selection-changed", G_CALLBACK(show), choice, choice->drop_down);
  return choice->drop_down;
}

GtkWidget *cw_seat_choice_new(CwSession *session)
{
  return new_choice(session, FALSE, _("Seat"));
}

GtkWidget *cw_output_choice_new(CwSession *session)
{
  return new_choice(session, TRUE, _("Output"));
}
