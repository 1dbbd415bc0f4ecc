/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/filters/slope_choice.h"

#include "window/widgets/page.h"
#include "window/widgets/record_rows.h"

#include <glib/gi18n-lib.h>

#define ORDER_MOST 8
#define DB_PER_ORDER 6

typedef struct {
  int family, order;
} Slope;

typedef struct {
  CwSession *session;
  CwRecord *section;
  GtkWidget *drop_down;
  GArray *slopes; /* Slope, as listed */
  gboolean showing;
} Choice;

static void choice_free(gpointer data)
{
  Choice *choice = data;
  g_object_unref(choice->section);
  g_array_unref(choice->slopes);
  g_free(choice);
}

static gboolean exists(int family, int order)
{
  return family != CW_FILTER_LINKWITZ_RILEY || order % 2 == 0;
}

/* An empty list of families means all of them. */
static gboolean can(CwRecord *processor, const CwField *families, int family, int order)
{
  const char *const *known = cw_processor_get_crossover_families(processor);
  gint64 most = cw_processor_get_crossover_order_most(processor);
  return (!known || !known[0] || g_strv_contains(known, families->choices[family].word)) &&
         (most == CW_NO_INTEGER || order <= most);
}

static int find(Choice *choice, int family, int order)
{
  for (guint i = 0; i < choice->slopes->len; i++)
    if (g_array_index(choice->slopes, Slope, i).family == family &&
        g_array_index(choice->slopes, Slope, i).order == order)
      return (int)i;
  return -1;
}

static void append(Choice *choice, GtkStringList *words, const CwField *families, int family, int order)
{
  g_autofree char *text =
      g_strdup_printf(_("%s %d"), _(families->choices[family].label), DB_PER_ORDER * order);
  Slope slope = {family, order};
  gtk_string_list_append(words, text);
  g_array_append_val(choice->slopes, slope);
}

/* What the section has now is listed even where the processor lacks it. */
static void fill(Choice *choice)
{
  CwRecord *processor = cw_vehicle_get_processor(cw_session_get_vehicle(choice->session));
  const CwField *families = cw_record_get_field_at(choice->section, CW_TUNE_SECTION_FIELD_FAMILY);
  int present = cw_tune_section_get_family(choice->section),
      order = (int)cw_tune_section_get_order(choice->section);
  g_autoptr(GtkStringList) words = gtk_string_list_new(NULL);
  for (int family = 0; families->choices[family].word; family++)
    for (int n = 1; n <= ORDER_MOST; n++)
      if (exists(family, n) && (can(processor, families, family, n) || (family == present && n == order)))
        append(choice, words, families, family, n);
  gtk_drop_down_set_model(GTK_DROP_DOWN(choice->drop_down), G_LIST_MODEL(words));
}

static void show(Choice *choice)
{
  int family = cw_tune_section_get_family(choice->section),
      order = (int)cw_tune_section_get_order(choice->section);
  choice->showing = TRUE;
  if (find(choice, family, order) < 0) {
    g_array_set_size(choice->slopes, 0);
    fill(choice);
  }
  int at = find(choice, family, order);
  gtk_drop_down_set_selected(GTK_DROP_DOWN(choice->drop_down),
                             at < 0 ? GTK_INVALID_LIST_POSITION : (guint)at);
  choice->showing = FALSE;
}

static void on_selected(Choice *choice)
{
  guint selected = gtk_drop_down_get_selected(GTK_DROP_DOWN(choice->drop_down));
  if (choice->showing || selected >= choice->slopes->len)
    return;
  Slope slope = g_array_index(choice->slopes, Slope, selected);
  cw_tune_section_set_family(choice->section, slope.family);
  cw_tune_section_set_order(choice->section, slope.order);
  cw_record_commit_field(choice->session, choice->section,
                         cw_record_get_field_at(choice->section, CW_TUNE_SECTION_FIELD_FAMILY));
}

GtkWidget *cw_slope_choice_new(CwSession *session, CwRecord *section)
{
  Choice *choice = g_new0(Choice, 1);
  *choice = (Choice){
      .session = session, .section = g_object_ref(section), .drop_down = gtk_drop_down_new(NULL, NULL)};
  choice->slopes = g_array_new(FALSE, FALSE, sizeof(Slope));
  gtk_widget_set_tooltip_text(choice->drop_down, _("Family, and slope in decibels per octave"));
  cw_set_name(choice->drop_down, _("Slope"));
  g_object_set_data_full(G_OBJECT(choice->drop_down), "choice", choice, choice_free);
  g_signal_connect_swapped(choice->drop_down, "notify::selected", G_CALLBACK(on_selected), choice);
  cw_connect_while_alive(section, "notify::family", G_CALLBACK(show), choice, choice->drop_down);
  cw_connect_while_alive(section, "notify::order", G_CALLBACK(show), choice, choice->drop_down);
  show(choice);
  return choice->drop_down;
}
