/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/survey_guide.h"

#include "job/practice_radio.h"
#include "job/tracks.h"
#include "sound/practice_radio.h"
#include "window/meter.h"
#include "window/page.h"
#include "window/words.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define QUIET_DBFS (-40.0)
#define FULL_DBFS (-1.0)

typedef struct {
  CwSession *session;
  CwSoundDesk *desk;
  CwSurveyRecorder *recorder;
  GtkWidget *widget, *left, *list, *title, *play, *volume, *balance, *fader, *why, *verdict;
  GtkWidget *leads, *way, *pair, *step, *seat, *volts, *meter, *level, *anew;
  double highest; /* of what came in since the take began */
  guint take;
  gboolean filling, was_running;
} Guide;

static Guide *guide_of(GtkWidget *widget)
{
  return g_object_get_data(G_OBJECT(widget), "guide");
}

/* --- the list of takes
 * ------------------------------------------------------------------------------------------------------- */

static gboolean read_leads(Guide *guide, CwSurveySetting *setting);

static char *say_state(Guide *guide, guint take)
{
  CwSurveySetting setting;
  guint count = cw_survey_recorder_count(guide->recorder, take);
  if (cw_survey_recorder_get_fault(guide->recorder, take))
    return g_strdup(_("✗ record it again"));
  if (count && read_leads(guide, &setting) && setting.in_pairs) {
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

static GtkWidget *new_row(CwSurveyRecorder *recorder, guint take)
{
  GtkWidget *row = gtk_list_box_row_new(), *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 0),
            *state = cw_dim_text(NULL);
  CwRecord *record = cw_list_get(cw_survey_recorder_get_takes(recorder), take);
  g_autofree char *text = g_strdup_printf(_("%s  (%.0f s)"), cw_record_get_text(record, "track"),
                                          cw_survey_recorder_get_seconds(recorder, take));
  gtk_widget_add_css_class(state, "caption");
  gtk_box_append(GTK_BOX(box), cw_text(text));
  gtk_box_append(GTK_BOX(box), state);
  gtk_list_box_row_set_child(GTK_LIST_BOX_ROW(row), box);
  g_object_set_data(G_OBJECT(row), "state", state);
  return row;
}

/* --- what to play and to turn
 * --------------------------------------------------------------------------------------------------- */

static const char *say_volume(CwRecord *take)
{
  switch (cw_record_get_choice(take, "volume")) {
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
  return words[cw_record_get_choice(take, "fader")];
}

/* What to connect for the next recording, where the leads are recorded two at a time. */
static void show_pair(Guide *guide)
{
  CwSurveySetting setting;
  gboolean right = read_leads(guide, &setting);
  g_autofree char *text = NULL;
  if (right && setting.in_pairs && setting.leads > 1)
    text = g_strdup_printf(_("lead %d on the first input, lead %d on the second"), setting.lead[0],
                           cw_survey_recorder_get_second(guide->recorder, guide->take, &setting));
  cw_show_text(guide->pair, text ? text : _("each lead on its input, as below"));
}

static void show_take(Guide *guide)
{
  CwRecord *take = cw_list_get(cw_survey_recorder_get_takes(guide->recorder), guide->take);
  const char *fault = cw_survey_recorder_get_fault(guide->recorder, guide->take);
  g_autofree char *title = g_strdup_printf(_("Take %u of %u"), guide->take + 1,
                                           cw_list_get_length(cw_survey_recorder_get_takes(guide->recorder)));
  gboolean fit = cw_survey_recorder_count(guide->recorder, guide->take) > 0;
  show_pair(guide);
  cw_show_text(guide->title, title);
  cw_show_text(guide->play, cw_record_get_text(take, "track"));
  cw_show_text(guide->volume, say_volume(take));
  cw_show_text(guide->balance, _("centre"));
  cw_show_text(guide->fader, say_fader(take));
  cw_show_text(guide->why, cw_record_get_text(take, "why"));
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
  CwRecord *take = cw_list_get(cw_survey_recorder_get_takes(guide->recorder), guide->take);
  guint count = vehicle ? cw_job_practice_radio_leads(vehicle) : 0;
  if (!cw_sound_desk_is_practice(guide->desk) || !count)
    return;
  g_autofree char *step = g_strdup_printf("%d", (int)cw_job_practice_radio_step(vehicle, take));
  g_autofree char *volts = g_strdup_printf("%g", CW_PRACTICE_VOLTS_PER_FULL_SCALE);
  g_autoptr(GString) leads = g_string_new("1");
  for (guint i = 2; i <= count; i++)
    g_string_append_printf(leads, " %u", i);
  gtk_editable_set_text(GTK_EDITABLE(guide->step), step);
  gtk_editable_set_text(GTK_EDITABLE(guide->volts), volts);
  if (!*gtk_editable_get_text(GTK_EDITABLE(guide->leads)))
    gtk_editable_set_text(GTK_EDITABLE(guide->leads), leads->str);
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

/* --- levels
 * -------------------------------------------------------------------------------------------------------------------
 */

static void say_level(Guide *guide)
{
  double db = 20 * log10(fmax(guide->highest, 1e-6));
  g_autofree char *text = NULL;
  if (db >= FULL_DBFS)
    text = g_strdup(_("The input is full: turn the interface down, and record again."));
  else if (db < QUIET_DBFS)
    text = g_strdup_printf(_("%.0f dBFS: nothing comes in yet, or very little."), db);
  else
    text = g_strdup_printf(_("%.0f dBFS: good."), db);
  cw_show_text(guide->level, text);
}

static void on_levels(CwSoundClient *client, const CwSoundLevels *levels, Guide *guide)
{
  if (!cw_sound_run_is_running(CW_SOUND_RUN(guide->recorder)))
    return;
  cw_meter_show(CW_METER(guide->meter), &levels->input_peak);
  for (guint c = 0; c < levels->input_peak.count; c++)
    guide->highest = fmax(guide->highest, levels->input_peak.value[c]);
  say_level(guide);
}

/* --- recording
 * ----------------------------------------------------------------------------------------------------------------
 */

static gboolean mark(GtkWidget *entry, gboolean right)
{
  if (right)
    gtk_widget_remove_css_class(entry, "error");
  else
    gtk_widget_add_css_class(entry, "error");
  gtk_accessible_update_state(GTK_ACCESSIBLE(entry), GTK_ACCESSIBLE_STATE_INVALID,
                              right ? GTK_ACCESSIBLE_INVALID_FALSE : GTK_ACCESSIBLE_INVALID_TRUE, -1);
  return right;
}

static gboolean read_leads(Guide *guide, CwSurveySetting *setting)
{
  g_auto(GStrv) words = g_strsplit_set(gtk_editable_get_text(GTK_EDITABLE(guide->leads)), " ,;", -1);
  setting->leads = 0;
  setting->in_pairs = gtk_drop_down_get_selected(GTK_DROP_DOWN(guide->way)) == 1;
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

static gboolean read_setting(Guide *guide, CwSurveySetting *setting)
{
  const char *step = gtk_editable_get_text(GTK_EDITABLE(guide->step));
  g_autofree char *volts =
      g_strdelimit(g_strdup(gtk_editable_get_text(GTK_EDITABLE(guide->volts))), ",", '.');
  gint64 number = CW_NO_INTEGER;
  char *end;
  gboolean leads_right = mark(guide->leads, read_leads(guide, setting));
  gboolean step_right =
      mark(guide->step, !*step || g_ascii_string_to_signed(step, 10, 0, 1000, &number, NULL));
  setting->volume_step = number;
  setting->seat_setting = gtk_drop_down_get_selected(GTK_DROP_DOWN(guide->seat)) == 1 ? "driver" : "all";
  setting->volts = g_ascii_strtod(volts, &end);
  return mark(guide->volts, *volts && !*end && setting->volts >= 0.001 && setting->volts <= 1000) &&
         leads_right && step_right;
}

const char *cw_survey_guide_get_seat_setting(GtkWidget *widget)
{
  return gtk_drop_down_get_selected(GTK_DROP_DOWN(guide_of(widget)->seat)) == 1 ? "driver" : "all";
}

gboolean cw_survey_guide_record(GtkWidget *widget)
{
  Guide *guide = guide_of(widget);
  CwSurveySetting setting;
  if (!read_setting(guide, &setting))
    return FALSE;
  guide->highest = 0;
  cw_survey_recorder_start(guide->recorder, guide->take, &setting);
  return TRUE;
}

/* Goes on to the next take when one has come that is fit for use. */
void cw_survey_guide_refresh(GtkWidget *widget)
{
  Guide *guide = guide_of(widget);
  guint count = cw_list_get_length(cw_survey_recorder_get_takes(guide->recorder)),
        next = cw_survey_recorder_find_next(guide->recorder);
  gboolean running = cw_sound_run_is_running(CW_SOUND_RUN(guide->recorder));
  if (guide->was_running && !running && !cw_survey_recorder_get_fault(guide->recorder, guide->take) &&
      next < count && cw_survey_recorder_count(guide->recorder, guide->take))
    choose(guide, next);
  guide->was_running = running;
  for (guint take = 0; take < count; take++)
    show_row(guide, take);
  fill_practice(guide);
  show_take(guide);
  gtk_widget_set_sensitive(guide->list, !running);
  gtk_widget_set_sensitive(guide->volts, !running && !cw_survey_recorder_count(guide->recorder, 0));
  gtk_widget_set_visible(guide->anew, cw_survey_recorder_count(guide->recorder, 0) && !running);
}

/* --- the widget
 * ---------------------------------------------------------------------------------------------------------------
 */

static GtkWidget *add_line(GtkWidget *grid, int row, const char *label, const char *css)
{
  GtkWidget *value = cw_text(NULL);
  gtk_widget_add_css_class(value, css);
  gtk_widget_set_hexpand(value, TRUE);
  gtk_grid_attach(GTK_GRID(grid), cw_dim_text(label), 0, row, 1, 1);
  gtk_grid_attach(GTK_GRID(grid), value, 1, row, 1, 1);
  return value;
}

static GtkWidget *add_entry(GtkWidget *grid, int row, const char *label, const char *tip, const char *after)
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

static void on_way(Guide *guide)
{
  cw_survey_guide_refresh(guide->widget);
}

/* An interface of two inputs hears one lead after the other, each beside the first. */
static GtkWidget *new_way(Guide *guide)
{
  const char *const ways[] = {_("All leads at once"), _("Two at a time, the first lead in every recording"),
                              NULL};
  GtkWidget *way = gtk_drop_down_new_from_strings(ways);
  gtk_widget_set_halign(way, GTK_ALIGN_START);
  cw_set_name(way, _("Recording"));
  g_signal_connect_swapped(way, "notify::selected", G_CALLBACK(on_way), guide);
  return way;
}

static GtkWidget *new_card(Guide *guide)
{
  GtkWidget *card = gtk_box_new(GTK_ORIENTATION_VERTICAL, 10), *grid = gtk_grid_new(),
            *head = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 12);
  const char *const seats[] = {_("off, or for all seats"), _("on the driver"), NULL};
  gtk_grid_set_row_spacing(GTK_GRID(grid), 6);
  gtk_grid_set_column_spacing(GTK_GRID(grid), 16);
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
  guide->step = add_entry(grid, 5, _("Volume step"), _("The number that the radio shows; may be left empty"),
                          _("as the radio shows it"));
  guide->leads = add_entry(
      grid, 6, _("Leads on the inputs"),
      _("Which lead is on each input of the interface, in order; two at a time, all leads, with the one that "
        "stays connected first"),
      _("first input first, as in 1 2 3 4"));
  guide->volts = add_entry(
      grid, 8, _("Volts at full scale"),
      _("The peak voltage on a lead at which the interface's input is full: by one reading of the multimeter "
        "while a tone plays"),
      _("peak, of the interface with its divider"));
  guide->way = new_way(guide);
  gtk_grid_attach(GTK_GRID(grid), cw_dim_text(_("Recording")), 0, 7, 1, 1);
  gtk_grid_attach(GTK_GRID(grid), guide->way, 1, 7, 1, 1);
  guide->seat = gtk_drop_down_new_from_strings(seats);
  gtk_widget_set_halign(guide->seat, GTK_ALIGN_START);
  cw_set_name(guide->seat, _("Seat setting"));
  gtk_grid_attach(GTK_GRID(grid), cw_dim_text(_("Seat setting")), 0, 9, 1, 1);
  gtk_grid_attach(GTK_GRID(grid), guide->seat, 1, 9, 1, 1);
  guide->meter = cw_meter_new();
  guide->level = cw_dim_text(_("Begin the recording, then start the track. Tone controls and sound effects "
                               "stay as the customer has them."));
  gtk_widget_set_size_request(guide->meter, 260, 34);
  gtk_widget_set_halign(guide->meter, GTK_ALIGN_START);
  GtkWidget *const parts[] = {head, grid, guide->meter, guide->level, guide->verdict};
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
  gtk_list_box_set_selection_mode(GTK_LIST_BOX(guide->list), GTK_SELECTION_BROWSE);
  gtk_widget_add_css_class(guide->list, "outputs");
  cw_set_name(guide->list, _("Takes"));
  for (guint take = 0; take < cw_list_get_length(cw_survey_recorder_get_takes(guide->recorder)); take++)
    gtk_list_box_append(GTK_LIST_BOX(guide->list), new_row(guide->recorder, take));
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

GtkWidget *cw_survey_guide_new(CwSession *session, CwSoundDesk *desk, CwSurveyRecorder *recorder)
{
  Guide *guide = g_new0(Guide, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 16);
  *guide = (Guide){.session = session, .desk = desk, .recorder = recorder, .widget = box};
  gtk_box_append(GTK_BOX(box), new_takes(guide));
  gtk_box_append(GTK_BOX(box), new_card(guide));
  g_object_set_data_full(G_OBJECT(box), "guide", guide, g_free);
  g_signal_connect_swapped(guide->list, "row-selected", G_CALLBACK(on_selected), guide);
  CwSoundClient *client = cw_sound_desk_get_client(desk);
  cw_disconnect_with(client, g_signal_connect(client, "levels", G_CALLBACK(on_levels), guide), box);
  choose(guide, 0);
  return box;
}
