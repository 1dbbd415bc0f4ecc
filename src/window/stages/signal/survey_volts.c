/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/signal/survey_volts.h"

#include "job/practice/practice_radio.h"
#include "job/survey/volts.h"
#include "window/stages/signal/survey_entries.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>
#include <string.h>

typedef struct {
  CwSession *session;
  CwSoundDesk *desk;
  CwSurveyRecorder *recorder;
  GtkWidget *grid, *lead, *meter, *use, *verdict;
  const CwRecording *used; /* the recording that was read last; to be compared alone */
  int metered;             /* the lead that the practice bay's multimeter was last on */
} Volts;

static Volts *volts_of(GtkWidget *widget)
{
  return g_object_get_data(G_OBJECT(widget), "volts");
}

static guint tone_number(Volts *volts)
{
  return cw_list_get_length(cw_survey_recorder_get_takes(volts->recorder));
}

static int read_lead(Volts *volts)
{
  gint64 lead;
  return g_ascii_string_to_signed(gtk_editable_get_text(GTK_EDITABLE(volts->lead)), 10, 1, 64, &lead, NULL)
             ? (int)lead
             : 0;
}

static double told_volts(Volts *volts)
{
  CwRecord *vehicle = cw_session_get_vehicle(volts->session);
  return vehicle ? cw_job_volts_at_full_scale(vehicle) : (double)NAN;
}

char *cw_survey_volts_say_state(GtkWidget *widget)
{
  Volts *volts = volts_of(widget);
  double told = told_volts(volts);
  if (cw_survey_recorder_get_fault(volts->recorder, tone_number(volts)))
    return g_strdup(_("✗ record it again"));
  return isnan(told) ? g_strdup(_("○ once, for levels in volts"))
                     : g_strdup_printf(_("✓ %.4g V at full scale"), told);
}

/* The practice bay's multimeter is on the lead as soon as it is named. */
static void read_practice_meter(Volts *volts)
{
  CwRecord *vehicle = cw_session_get_vehicle(volts->session);
  int lead = read_lead(volts);
  double meter_v;
  if (!vehicle || !cw_sound_desk_is_practice(volts->desk) || lead == volts->metered)
    return;
  volts->metered = lead;
  g_autoptr(CwRecording) tone = cw_job_practice_tone(vehicle, lead, 1, &meter_v, NULL);
  g_autofree char *text = tone ? g_strdup_printf("%.3f", meter_v) : g_strdup("");
  gtk_editable_set_text(GTK_EDITABLE(volts->meter), text);
}

/* What is to be done next, or what came of it. */
static char *say_verdict(Volts *volts)
{
  const char *fault = cw_survey_recorder_get_fault(volts->recorder, tone_number(volts));
  double told = told_volts(volts);
  if (fault)
    return g_strdup_printf(_("Not to be used: %s."), fault);
  if (cw_survey_recorder_count(volts->recorder, tone_number(volts)) &&
      cw_survey_recorder_get_tone(volts->recorder) != volts->used)
    return g_strdup(_("The tone is there and steady. Enter what the multimeter reads, with three digits, and "
                      "press “Use this reading”."));
  if (!isnan(told))
    return g_strdup_printf(_("The interface's input is full at %.4g V peak: the levels of the leads are told "
                             "in volts by it. After the input's gain was turned, record the tone again."),
                           told);
  return g_strdup(_("Start the track, record a few seconds of it, and read the multimeter while it plays. A "
                    "tweeter's lead does not carry the tone: take another."));
}

void cw_survey_volts_refresh(GtkWidget *widget)
{
  Volts *volts = volts_of(widget);
  g_autofree char *verdict = say_verdict(volts);
  gboolean running = cw_sound_run_is_running(CW_SOUND_RUN(volts->recorder));
  read_practice_meter(volts);
  cw_show_text(volts->verdict, verdict);
  if (cw_survey_recorder_get_fault(volts->recorder, tone_number(volts)))
    gtk_widget_add_css_class(volts->verdict, "reason");
  else
    gtk_widget_remove_css_class(volts->verdict, "reason");
  gtk_widget_set_sensitive(volts->use,
                           !running && cw_survey_recorder_count(volts->recorder, tone_number(volts)));
}

gboolean cw_survey_volts_record(GtkWidget *widget, const CwSurveySetting *setting)
{
  Volts *volts = volts_of(widget);
  int lead = read_lead(volts);
  guint channel = 0;
  CwSurveySetting own = *setting;
  if (own.in_pairs && own.leads > 2) { /* the first lead stays; the second input takes the other */
    own.lead[1] = lead != own.lead[0] ? lead : own.lead[1];
    own.leads = 2;
  }
  while (channel < own.leads && own.lead[channel] != lead)
    channel++;
  if (!cw_survey_mark(volts->lead, channel < own.leads))
    return FALSE;
  cw_survey_recorder_start_tone(volts->recorder, &own, channel);
  return TRUE;
}

static void on_use(Volts *volts)
{
  CwRecord *vehicle = cw_session_get_vehicle(volts->session);
  const CwRecording *tone = cw_survey_recorder_get_tone(volts->recorder);
  double reading = cw_survey_read_number(volts->meter);
  g_autoptr(GError) error = NULL;
  if (!vehicle || !tone || !cw_survey_mark(volts->meter, reading > 0))
    return;
  if (cw_job_read_volts(vehicle, tone, cw_survey_recorder_get_tone_channel(volts->recorder), reading,
                        cw_survey_recorder_get_tone_lead(volts->recorder), NULL, &error)) {
    volts->used = tone;
    cw_session_commit(volts->session, _("Volts by the multimeter"));
    cw_session_tell(volts->session, CW_TOLD_DONE,
                    _("The interface's input is full at %.4g V peak. Stop the track."), told_volts(volts));
    return;
  }
  cw_survey_mark(volts->meter, FALSE);
  cw_session_tell(volts->session, CW_TOLD_ATTEND, _("The reading was not used: %s."), error->message);
}

void cw_survey_volts_show(GtkWidget *widget, gboolean visible)
{
  Volts *volts = volts_of(widget);
  cw_survey_show_row(volts->grid, volts->lead, visible);
  cw_survey_show_row(volts->grid, volts->meter, visible);
  gtk_widget_set_visible(widget, visible);
}

GtkWidget *cw_survey_volts_new(CwSession *session, CwSoundDesk *desk, CwSurveyRecorder *recorder,
                               GtkWidget *grid, int row)
{
  Volts *volts = g_new0(Volts, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8);
  *volts = (Volts){.session = session, .desk = desk, .recorder = recorder, .grid = grid};
  volts->lead = cw_survey_add_entry(grid, row, _("Multimeter on lead"),
                                    _("One of the leads on the inputs, which carries the bass"),
                                    _("across its two wires, set to volts AC"));
  volts->meter = cw_survey_add_entry(grid, row + 1, _("Multimeter reads"),
                                     _("The effective value that it shows while the tone plays"),
                                     _("V, with three digits"));
  gtk_editable_set_text(GTK_EDITABLE(volts->lead), "1");
  volts->use = gtk_button_new_with_label(_("Use this reading"));
  gtk_widget_set_halign(volts->use, GTK_ALIGN_START);
  volts->verdict = cw_text(NULL);
  gtk_box_append(GTK_BOX(box), volts->use);
  gtk_box_append(GTK_BOX(box), volts->verdict);
  g_object_set_data_full(G_OBJECT(box), "volts", volts, g_free);
  g_signal_connect_swapped(volts->use, "clicked", G_CALLBACK(on_use), volts);
  g_signal_connect_swapped(volts->meter, "activate", G_CALLBACK(on_use), volts);
  g_signal_connect_swapped(volts->lead, "changed", G_CALLBACK(cw_survey_volts_refresh), box);
  return box;
}
