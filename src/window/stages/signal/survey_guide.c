/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/signal/survey_guide.h"

#include "job/practice/practice_radio.h"
#include "job/survey/tracks.h"
#include "job/survey/volts.h"
#include "window/sound/input_level.h"
#include "window/stages/signal/survey_entries.h"
#include "window/stages/signal/survey_volts.h"
#include "window/state/words.h"
#include "window/widgets/page.h"
#include "window/widgets/tab_stop.h"

#include <glib/gi18n-lib.h>
#include <math.h>

typedef struct {
  CwSession *session;
  CwSoundDesk *desk;
  CwSurveyRecorder *recorder;
  GtkWidget *widget, *left, *list, *title, *play, *volume, *balance, *fader, *why, *verdict;
  GtkWidget *grid, *pair, *level, *volts, *anew;
  CwSurveyEntries entries;
  char *told_volts; /* that were last filled in */
  guint take;
  gboolean filling, was_running;
} Guide;

static Guide *guide_of(GtkWidget *widget)
{
  return g_object_get_data(G_OBJECT(widget), "guide");
}

/* --- the list of takes --- */

/* The volts track is the row after the takes. */
static gboolean is_tone(Guide *guide, guint take)
{
  return take == cw_list_get_length(cw_survey_recorder_get_takes(guide->recorder));
}

static char *say_state(Guide *guide, guint take)
{
  CwSurveySetting setting;
  if (is_tone(guide, take))
    return cw_survey_volts_say_state(guide->volts);
  guint count = cw_survey_recorder_count(guide->recorder, take);
  if (cw_survey_recorder_get_fault(guide->recorder, take))
    return g_strdup(_("✗ record it again"));
  if (count && cw_survey_entries_read_leads(&guide->entries, &setting) && setting.in_pairs) {
    guint heard = cw_survey_recorder_count_leads(guide->recorder, take, &setting);
    return g_strdup_printf(heard < setting.leads ? _("◐ %u of %u leads") : _("✓ %u of %u leads"), heard,
                           setting.leads);
  }
  if (count > 1)
    return g_strdup_printf(_("✓ fit for use, %u recordings"), count);
  return g_strdup(count ? _("✓ fit for use") : _("○ to record"));
}

static void show_row(Guide *guide, guint take)
{
  GtkListBoxRow *row = gtk_list_box_get_row_at_index(GTK_LIST_BOX(guide->list), (int)take);
  GtkWidget *state = g_object_get_data(G_OBJECT(row), "state");
  g_autofree char *words = say_state(guide, take);
  cw_show_text(state, words);
}

static GtkWidget *new_row(const char *track, double seconds)
{
  GtkWidget *row = gtk_list_box_row_new(), *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0),
            *state = cw_dim_text(NULL);
  g_autofree char *text = g_strdup_printf(_("%s  (%.0f s)"), track, seconds);
  gtk_widget_add_css_class(state, "caption");
  gtk_box_append(GTK_BOX(box), cw_text(text));
  gtk_box_append(GTK_BOX(box), state);
  gtk_list_box_row_set_child(GTK_LIST_BOX_ROW(row), box);
  g_object_set_data(G_OBJECT(row), "state", state);
  return row;
}

/* --- what to play and to turn --- */

static const char *say_volume(CwRecord *take)
{
  switch (cw_track_take_get_volume(take)) {
  case CW_VOLUME_LOUD:
    return _("the highest step that there is");
  case CW_VOLUME_QUIET:
    return _("about a quarter of the scale lower than before");
  default:
    return _("about two thirds of the scale, the same for the first three takes");
  }
}

static const char *say_fader(CwRecord *take)
{
  const char *const words[] = {_("full to the front"), _("centre"), _("full to the rear")};
  return words[cw_track_take_get_fader(take)];
}

/* What to connect for the next recording, where the leads are recorded two at a time. */
static void show_pair(Guide *guide)
{
  CwSurveySetting setting;
  gboolean right = cw_survey_entries_read_leads(&guide->entries, &setting);
  g_autofree char *text = NULL;
  if (right && setting.in_pairs && setting.leads > 1 && is_tone(guide, guide->take))
    text = g_strdup_printf(_("lead %d on the first input, and on the second the lead of the multimeter"),
                           setting.lead[0]);
  else if (right && setting.in_pairs && setting.leads > 1)
    text = g_strdup_printf(_("lead %d on the first input, lead %d on the second"), setting.lead[0],
                           cw_survey_recorder_get_second(guide->recorder, guide->take, &setting));
  cw_show_text(guide->pair, text ? text : _("each lead on its input, as below"));
}

/* The tone for the multimeter: as loud as the survey's takes, so that input and volume stay as they are. */
static void show_tone(Guide *guide)
{
  g_autofree char *track = cw_job_volts_track_name(CW_TRACKS_RATE_HZ);
  show_pair(guide);
  cw_show_text(guide->title, _("Volts by the multimeter"));
  cw_show_text(guide->play, track);
  cw_show_text(guide->volume, _("as for the first take, with balance and fader at the centre"));
  cw_show_text(guide->why, _("Once for the interface as it is set; the survey can do without"));
  cw_show_text(guide->verdict, "");
}

/* The tone's rows in place of those that only a take needs. */
static void show_rows(Guide *guide, gboolean tone)
{
  GtkWidget *const of_takes[] = {guide->fader, guide->balance, guide->entries.step, guide->entries.volts,
                                 guide->entries.seat};
  for (guint i = 0; i < G_N_ELEMENTS(of_takes); i++)
    cw_survey_show_row(guide->grid, of_takes[i], !tone);
  cw_survey_volts_show(guide->volts, tone);
  gtk_widget_set_visible(guide->verdict, !tone);
}

static void show_take(Guide *guide)
{
  show_rows(guide, is_tone(guide, guide->take));
  if (is_tone(guide, guide->take)) {
    show_tone(guide);
    return;
  }
  CwRecord *take = cw_list_get(cw_survey_recorder_get_takes(guide->recorder), guide->take);
  const char *fault = cw_survey_recorder_get_fault(guide->recorder, guide->take);
  g_autofree char *title = g_strdup_printf(_("Take %u of %u"), guide->take + 1,
                                           cw_list_get_length(cw_survey_recorder_get_takes(guide->recorder)));
  gboolean fit = cw_survey_recorder_count(guide->recorder, guide->take) > 0;
  show_pair(guide);
  cw_show_text(guide->title, title);
  cw_show_text(guide->play, cw_track_take_get_track(take));
  cw_show_text(guide->volume, say_volume(take));
  cw_show_text(guide->balance, _("centre"));
  cw_show_text(guide->fader, say_fader(take));
  cw_show_text(guide->why, cw_track_take_get_why(take));
  cw_show_text(guide->verdict, fault ? fault
                               : fit ? _("This take is fit for use. Stop the track before the next one.")
                                     : "");
  if (fault)
    gtk_widget_add_css_class(guide->verdict, "reason");
  else
    gtk_widget_remove_css_class(guide->verdict, "reason");
}

/* In the practice bay the radio's step, the leads and the interface are known. */
static void fill_practice(Guide *guide)
{
  CwRecord *vehicle = cw_session_get_vehicle(guide->session);
  g_autoptr(CwRecord) take =
      is_tone(guide, guide->take)
          ? cw_job_volts_take(CW_TRACKS_RATE_HZ)
          : g_object_ref(cw_list_get(cw_survey_recorder_get_takes(guide->recorder), guide->take));
  guint count = vehicle ? cw_job_practice_radio_leads(vehicle) : 0;
  if (!cw_sound_desk_is_practice(guide->desk) || !count)
    return;
  g_autofree char *step = g_strdup_printf("%d", (int)cw_job_practice_radio_step(vehicle, take));
  g_autoptr(GString) leads = g_string_new("1");
  for (guint i = 2; i <= count; i++)
    g_string_append_printf(leads, " %u", i);
  gtk_editable_set_text(GTK_EDITABLE(guide->entries.step), step);
  if (!*gtk_editable_get_text(GTK_EDITABLE(guide->entries.leads)))
    gtk_editable_set_text(GTK_EDITABLE(guide->entries.leads), leads->str);
}

/* The vehicle's reading of the multimeter, when it is there or has changed. */
static void fill_volts(Guide *guide)
{
  CwRecord *vehicle = cw_session_get_vehicle(guide->session);
  double read = vehicle ? cw_job_volts_at_full_scale(vehicle) : (double)NAN;
  g_autofree char *text = isnan(read) ? NULL : g_strdup_printf("%.5g", read);
  if (g_strcmp0(text, guide->told_volts) == 0)
    return;
  gtk_editable_set_text(GTK_EDITABLE(guide->entries.volts), text ? text : "");
  g_free(guide->told_volts);
  guide->told_volts = g_steal_pointer(&text);
}

static void choose(Guide *guide, guint take)
{
  guide->take = take;
  guide->filling = TRUE;
  gtk_list_box_select_row(GTK_LIST_BOX(guide->list),
                          gtk_list_box_get_row_at_index(GTK_LIST_BOX(guide->list), (int)take));
  guide->filling = FALSE;
  fill_practice(guide);
  show_take(guide);
}

static void on_selected(Guide *guide, GtkListBoxRow *row)
{
  if (!guide->filling && row && !cw_sound_run_is_running(CW_SOUND_RUN(guide->recorder)))
    choose(guide, (guint)gtk_list_box_row_get_index(row));
}

/* --- recording --- */

const char *cw_survey_guide_get_seat_setting(GtkWidget *widget)
{
  return cw_survey_entries_get_seat(&guide_of(widget)->entries);
}

gboolean cw_survey_guide_record(GtkWidget *widget)
{
  Guide *guide = guide_of(widget);
  CwSurveySetting setting;
  if (!cw_survey_entries_read(&guide->entries, &setting))
    return FALSE;
  cw_input_level_begin(guide->level);
  if (is_tone(guide, guide->take))
    return cw_survey_volts_record(guide->volts, &setting);
  cw_survey_recorder_start(guide->recorder, guide->take, &setting);
  return TRUE;
}

void cw_survey_guide_tell_volts(GtkWidget *widget)
{
  Guide *guide = guide_of(widget);
  CwSurveySetting setting;
  if (cw_survey_entries_read(&guide->entries, &setting))
    cw_survey_recorder_set_volts(guide->recorder, setting.volts);
}

static gboolean is_any_recorded(Guide *guide)
{
  guint count = cw_list_get_length(cw_survey_recorder_get_takes(guide->recorder));
  for (guint take = 0; take < count; take++)
    if (cw_survey_recorder_count(guide->recorder, take))
      return TRUE;
  return FALSE;
}

/* Goes on to the next take when one has come that is fit for use. */
void cw_survey_guide_refresh(GtkWidget *widget)
{
  Guide *guide = guide_of(widget);
  guint count = cw_list_get_length(cw_survey_recorder_get_takes(guide->recorder)),
        next = cw_survey_recorder_find_next(guide->recorder, guide->take);
  gboolean running = cw_sound_run_is_running(CW_SOUND_RUN(guide->recorder));
  if (guide->was_running && !running && !cw_survey_recorder_get_fault(guide->recorder, guide->take) &&
      next < count && !is_tone(guide, guide->take) && cw_survey_recorder_count(guide->recorder, guide->take))
    choose(guide, next);
  guide->was_running = running;
  for (guint take = 0; take <= count; take++)
    show_row(guide, take);
  fill_practice(guide);
  fill_volts(guide);
  show_take(guide);
  cw_survey_volts_refresh(guide->volts);
  gtk_widget_set_sensitive(guide->list, !running);
  gtk_widget_set_sensitive(guide->entries.volts, !running);
  gtk_widget_set_visible(guide->anew, is_any_recorded(guide) && !running);
}

/* --- the widget --- */

static GtkWidget *add_line(GtkWidget *grid, int row, const char *label, const char *css)
{
  GtkWidget *value = cw_text(NULL);
  gtk_widget_add_css_class(value, css);
  gtk_widget_set_hexpand(value, TRUE);
  gtk_grid_attach(GTK_GRID(grid), cw_dim_text(label), 0, row, 1, 1);
  gtk_grid_attach(GTK_GRID(grid), value, 1, row, 1, 1);
  return value;
}

static void on_way(Guide *guide)
{
  cw_survey_guide_refresh(guide->widget);
}

static GtkWidget *new_card(Guide *guide)
{
  GtkWidget *card = gtk_box_new(GTK_ORIENTATION_VERTICAL, 10), *grid = gtk_grid_new(),
            *head = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 12);
  gtk_grid_set_row_spacing(GTK_GRID(grid), 6);
  gtk_grid_set_column_spacing(GTK_GRID(grid), 16);
  guide->grid = grid;
  guide->title = cw_heading(NULL);
  guide->why = cw_dim_text(NULL);
  guide->verdict = cw_text(NULL);
  gtk_widget_set_hexpand(guide->why, TRUE);
  gtk_box_append(GTK_BOX(head), guide->title);
  gtk_box_append(GTK_BOX(head), guide->why);
  guide->play = add_line(grid, 0, _("Play"), "title-3");
  guide->volume = add_line(grid, 1, _("Volume"), "instruction");
  guide->fader = add_line(grid, 2, _("Fader"), "instruction");
  guide->balance = add_line(grid, 3, _("Balance"), "instruction");
  guide->pair = add_line(grid, 4, _("Connect"), "instruction");
  cw_survey_entries_add(&guide->entries, grid, 5);
  g_signal_connect_swapped(guide->entries.way, "notify::selected", G_CALLBACK(on_way), guide);
  guide->level = cw_input_level_new(guide->desk, CW_SOUND_RUN(guide->recorder),
                                    _("Begin the recording, then start the track. Tone controls and sound "
                                      "effects stay as the customer has them."));
  guide->volts = cw_survey_volts_new(guide->session, guide->desk, guide->recorder, grid, 10);
  GtkWidget *const parts[] = {head, grid, guide->volts, guide->level, guide->verdict};
  for (guint i = 0; i < G_N_ELEMENTS(parts); i++)
    gtk_box_append(GTK_BOX(card), parts[i]);
  gtk_widget_add_css_class(card, "card");
  gtk_widget_set_hexpand(card, TRUE);
  return card;
}

static GtkWidget *new_takes(Guide *guide)
{
  GtkWidget *box = guide->left = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8);
  guide->list = gtk_list_box_new();
  cw_make_one_tab_stop(guide->list);
  gtk_list_box_set_selection_mode(GTK_LIST_BOX(guide->list), GTK_SELECTION_BROWSE);
  gtk_widget_add_css_class(guide->list, "outputs");
  cw_set_name(guide->list, _("Takes"));
  CwList *takes = cw_survey_recorder_get_takes(guide->recorder);
  for (guint take = 0; take < cw_list_get_length(takes); take++)
    gtk_list_box_append(GTK_LIST_BOX(guide->list),
                        new_row(cw_track_take_get_track(cw_list_get(takes, take)),
                                cw_survey_recorder_get_seconds(guide->recorder, take)));
  g_autofree char *volts = cw_job_volts_track_name(CW_TRACKS_RATE_HZ);
  gtk_list_box_append(GTK_LIST_BOX(guide->list), new_row(volts, CW_VOLTS_TONE_SECONDS));
  guide->anew = gtk_button_new_with_label(_("Forget these takes"));
  gtk_widget_set_tooltip_text(guide->anew,
                              _("To begin anew; a survey that is there stays until another is concluded"));
  g_signal_connect_swapped(guide->anew, "clicked", G_CALLBACK(cw_survey_recorder_begin_anew),
                           guide->recorder);
  gtk_widget_set_size_request(box, 210, -1);
  gtk_box_append(GTK_BOX(box), guide->list);
  gtk_box_append(GTK_BOX(box), guide->anew);
  return box;
}

GtkWidget *cw_survey_guide_add_button(GtkWidget *widget, const char *label, GCallback clicked, gpointer data)
{
  GtkWidget *button = gtk_button_new_with_label(label);
  g_signal_connect_swapped(button, "clicked", clicked, data);
  gtk_box_append(GTK_BOX(guide_of(widget)->left), button);
  return button;
}

static void guide_free(gpointer data)
{
  g_free(((Guide *)data)->told_volts);
  g_free(data);
}

GtkWidget *cw_survey_guide_new(CwSession *session, CwSoundDesk *desk, CwSurveyRecorder *recorder)
{
  Guide *guide = g_new0(Guide, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 16);
  *guide = (Guide){.session = session, .desk = desk, .recorder = recorder, .widget = box};
  gtk_box_append(GTK_BOX(box), new_takes(guide));
  gtk_box_append(GTK_BOX(box), new_card(guide));
  g_object_set_data_full(G_OBJECT(box), "guide", guide, guide_free);
  g_signal_connect_swapped(guide->list, "row-selected", G_CALLBACK(on_selected), guide);
  choose(guide, 0);
  return box;
}
