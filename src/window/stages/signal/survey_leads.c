/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/signal/survey_leads.h"

#include "job/survey/survey_curves.h"
#include "job/survey/survey_mix.h"
#include "job/survey/survey_record.h"
#include "window/plan/plan_view.h"
#include "window/plots/take_plots.h"
#include "window/state/words.h"
#include "window/widgets/page.h"
#include "window/widgets/tab_stop.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define FIRST_HZ 20.0
#define LAST_HZ 20000.0

typedef struct {
  CwSession *session;
  GtkWidget *list, *plot, *title, *words, *skip, *plan;
  char *filled;
  gint64 lead; /* that is looked at */
  gboolean filling;
} Leads;

static CwRecord *survey_of(Leads *leads)
{
  CwRecord *vehicle = cw_session_get_vehicle(leads->session);
  return vehicle ? cw_vehicle_get_survey(vehicle) : NULL;
}

static CwRecord *find_lead(Leads *leads)
{
  CwRecord *survey = survey_of(leads);
  return survey ? cw_list_find_integer_at(cw_survey_get_leads(survey), CW_LEAD_FIELD_LEAD, leads->lead)
                : NULL;
}

static void append_number(GString *text, double value, const char *format)
{
  if (isfinite(value))
    g_string_append_printf(text, format, value);
}

/* In volts and in dBV: what an input's sensitivity is set by. Without the multimeter's reading, re the
 * interface. */
static void append_level(GString *text, CwRecord *lead, double dbv, const char *what)
{
  CwRecord *survey = cw_record_get_parent(lead);
  if (!isfinite(dbv))
    return;
  if (survey && cw_survey_get_volts_untold(survey))
    g_string_append_printf(text, _("%s: %.1f dB re the interface's full scale.\n"), what,
                           dbv + 20 * log10(G_SQRT2));
  else
    g_string_append_printf(text, _("%s: %.3g V RMS (%.1f dBV).\n"), what, pow(10, dbv / 20), dbv);
}

static char *describe(CwRecord *lead)
{
  g_autofree char *range = cw_say_lead_range(lead);
  GString *text = g_string_new(NULL);
  int band = cw_lead_get_band(lead), polarity = cw_lead_get_polarity(lead);
  double all_pass = cw_lead_get_all_pass_hz(lead), doubt_ms = cw_job_delay_doubt_ms(lead);
  g_string_append_printf(text, _("%s band, plays from %s.\n"),
                         band < 0 ? _("Unknown") : cw_lead_say_band(lead), range);
  g_string_append_printf(text, _("Polarity: %s.\n"),
                         polarity < 0                       ? _("not known")
                         : polarity == CW_POLARITY_INVERTED ? _("⚠ opposite to the track")
                                                            : _("as the track"));
  if (doubt_ms > 0)
    g_string_append_printf(text, _("Comes %.2f ms after the earliest lead, give or take %.2f ms.\n"),
                           cw_lead_get_delay_ms(lead), doubt_ms);
  else
    append_number(text, cw_lead_get_delay_ms(lead), _("Comes %.2f ms after the earliest lead.\n"));
  if (cw_lead_get_all_pass(lead) && isfinite(all_pass))
    g_string_append_printf(text, _("⚠ An all-pass filter turns its phase around %.0f Hz.\n"), all_pass);
  append_level(text, lead, cw_lead_get_level_dbv(lead), _("A full-scale track at the survey's volume"));
  append_level(text, lead, cw_lead_get_clean_dbv(lead), _("At the highest clean volume"));
  append_number(text, cw_lead_get_clip_dbfs(lead),
                _("At the loudest step it clips with a tone of %.1f dBFS"));
  append_number(text, cw_lead_get_clip_tone_hz(lead), _(" at %.0f Hz.\n"));
  append_number(text, cw_lead_get_noise_dbv(lead), _("Noise: %.0f dBV."));
  append_number(text, cw_lead_get_hum_dbv(lead), _("  Hum: %.0f dBV."));
  return g_string_free(text, FALSE);
}

/* --- the picture --- */

static const CwColour *colour_of(CwRecord *lead)
{
  static const CwColour *const colours[] = {&cw_colour_sky, &cw_colour_vermilion, &cw_colour_green};
  int side = cw_lead_get_side(lead);
  return side < 0 ? &cw_colour_purple : colours[side];
}

/* The range that the lead plays, as a light band over the whole height. */
static void add_band(CwPlot *plot, CwRecord *lead)
{
  double low = cw_lead_get_low_hz(lead), high = cw_lead_get_high_hz(lead);
  double hz[2] = {isfinite(low) ? low : FIRST_HZ, isfinite(high) ? high : LAST_HZ},
         bottom[2] = {plot->y.low, plot->y.low}, top[2] = {plot->y.high, plot->y.high};
  CwSeries *band = cw_plot_add_band(plot, NULL, 2, hz, bottom, top);
  band->colour = *colour_of(lead);
  band->alpha = 0.1;
}

static void draw(Leads *leads, CwRecord *lead)
{
  CwPlot *plot = cw_plot_view_get_plot(CW_PLOT_VIEW(leads->plot));
  cw_plot_clear(plot);
  plot->y.name = _("The lead, for a full-scale track");
  plot->y.unit = "dBV";
  if (lead) {
    CwNumbers *after = cw_job_corrected_lead(cw_session_get_vehicle(leads->session), lead);
    cw_plot_add_curve(plot, after ? _("before") : _("the lead"), cw_lead_get_response(lead),
                      after ? cw_colour_grey : *colour_of(lead), CW_DASH_SOLID);
    if (after) {
      cw_plot_add_curve(plot, _("after"), after, *colour_of(lead), CW_DASH_SOLID);
      cw_numbers_unref(after);
    }
    cw_plot_fit_level_axis(plot, 40, 10);
    add_band(plot, lead);
  }
  cw_plot_view_set_words(
      CW_PLOT_VIEW(leads->plot),
      _("The lead's response before and after the correction, and the range that it plays."));
  cw_plot_view_update(CW_PLOT_VIEW(leads->plot));
}

/* --- list --- */

static char *say_row(CwRecord *vehicle, CwRecord *lead)
{
  g_autofree char *place = cw_say_lead_place(lead);
  const char *used = cw_lead_get_skipped(lead)                                      ? _("left out")
                     : cw_job_find_corrected_input(vehicle, cw_lead_get_lead(lead)) ? _("✓ in the mix")
                                                                                    : _("not needed");
  return g_strdup_printf(_("Lead %d: %s\n%s"), (int)cw_lead_get_lead(lead), place, used);
}

static void fill(Leads *leads, CwRecord *survey)
{
  CwRecord *vehicle = cw_session_get_vehicle(leads->session);
  CwList *list = cw_survey_get_leads(survey);
  g_autoptr(GString) wanted = g_string_new(NULL);
  for (guint i = 0; i < cw_list_get_length(list); i++) {
    g_autofree char *words = say_row(vehicle, cw_list_get(list, i));
    g_string_append_printf(wanted, "%s|", words);
  }
  if (g_strcmp0(wanted->str, leads->filled) == 0)
    return;
  g_free(leads->filled);
  leads->filled = g_strdup(wanted->str);
  for (GtkListBoxRow *row; (row = gtk_list_box_get_row_at_index(GTK_LIST_BOX(leads->list), 0));)
    gtk_list_box_remove(GTK_LIST_BOX(leads->list), GTK_WIDGET(row));
  for (guint i = 0; i < cw_list_get_length(list); i++) {
    g_autofree char *words = say_row(vehicle, cw_list_get(list, i));
    gtk_list_box_append(GTK_LIST_BOX(leads->list), cw_text(words));
  }
}

static void show_lead(Leads *leads)
{
  CwRecord *lead = find_lead(leads);
  g_autofree char *words = lead ? describe(lead) : NULL, *place = lead ? cw_say_lead_place(lead) : NULL;
  g_autofree char *title = lead ? g_strdup_printf(_("Lead %d: %s"), (int)leads->lead, place) : NULL;
  leads->filling = TRUE;
  cw_show_text(leads->title, title);
  cw_show_text(leads->words, words);
  gtk_widget_set_sensitive(leads->skip, lead != NULL);
  gtk_check_button_set_active(GTK_CHECK_BUTTON(leads->skip), lead && cw_lead_get_skipped(lead));
  leads->filling = FALSE;
  draw(leads, lead);
}

void cw_survey_leads_refresh(GtkWidget *widget)
{
  Leads *leads = g_object_get_data(G_OBJECT(widget), "leads");
  CwRecord *survey = survey_of(leads);
  CwList *list = survey ? cw_survey_get_leads(survey) : NULL;
  if (!list)
    return;
  leads->filling = TRUE;
  fill(leads, survey);
  if (!find_lead(leads) && cw_list_get_length(list))
    leads->lead = cw_lead_get_lead(cw_list_get(list, 0));
  for (guint i = 0; i < cw_list_get_length(list); i++)
    if (cw_lead_get_lead(cw_list_get(list, i)) == leads->lead)
      gtk_list_box_select_row(GTK_LIST_BOX(leads->list),
                              gtk_list_box_get_row_at_index(GTK_LIST_BOX(leads->list), (int)i));
  leads->filling = FALSE;
  show_lead(leads);
}

static void on_selected(Leads *leads, GtkListBoxRow *row)
{
  CwRecord *survey = survey_of(leads);
  if (leads->filling || !row || !survey)
    return;
  leads->lead =
      cw_lead_get_lead(cw_list_get(cw_survey_get_leads(survey), (guint)gtk_list_box_row_get_index(row)));
  show_lead(leads);
}

void cw_skip_lead(CwSession *session, gint64 lead, gboolean skipped)
{
  CwHandOutcome outcome;
  g_autofree char *what = g_strdup_printf(skipped ? _("Leave lead %d out") : _("Take lead %d in"), (int)lead);
  g_autoptr(GString) words = g_string_new(NULL);
  if (!cw_job_skip_lead(cw_session_get_vehicle(session), lead, skipped, &outcome) ||
      !cw_session_commit(session, what))
    return;
  if (outcome.kept)
    g_string_append(words, _("The mix was worked out anew; what was changed by hand in the inputs that "
                             "stay was kept. “Work out again” does without it. "));
  if (outcome.set_aside)
    g_string_append(words, _("What was changed by hand in inputs that the mix now does without is set aside "
                             "until it uses them again. "));
  if (outcome.restored)
    g_string_append(words, _("The filters and the gain that were set aside are back. "));
  if (words->len)
    cw_session_tell(session, CW_TOLD_ATTEND, "%s", g_strchomp(words->str));
}

static void on_skip(Leads *leads)
{
  if (!leads->filling)
    cw_skip_lead(leads->session, leads->lead, gtk_check_button_get_active(GTK_CHECK_BUTTON(leads->skip)));
}

static void leads_free(gpointer data)
{
  g_free(((Leads *)data)->filled);
  g_free(data);
}

static GtkWidget *new_middle(Leads *leads)
{
  GtkWidget *middle = gtk_box_new(GTK_ORIENTATION_VERTICAL, 8);
  leads->title = cw_heading(NULL);
  leads->plot = cw_plot_view_new(_("The lead's response"));
  leads->words = cw_text(NULL);
  leads->skip = gtk_check_button_new_with_label(_("Leave this lead out, whatever it carries"));
  gtk_widget_set_hexpand(middle, TRUE);
  GtkWidget *const parts[] = {leads->title, leads->plot, leads->words, leads->skip};
  for (guint i = 0; i < G_N_ELEMENTS(parts); i++)
    gtk_box_append(GTK_BOX(middle), parts[i]);
  g_signal_connect_swapped(leads->skip, "toggled", G_CALLBACK(on_skip), leads);
  return middle;
}

GtkWidget *cw_survey_leads_new(CwSession *session)
{
  Leads *leads = g_new0(Leads, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 14);
  *leads = (Leads){.session = session,
                   .lead = CW_NO_INTEGER,
                   .list = gtk_list_box_new(),
                   .plan = cw_plan_view_new_of_leads(session)};
  cw_make_one_tab_stop(leads->list);
  gtk_list_box_set_selection_mode(GTK_LIST_BOX(leads->list), GTK_SELECTION_BROWSE);
  gtk_widget_add_css_class(leads->list, "outputs");
  gtk_widget_set_size_request(leads->list, 180, -1);
  cw_set_name(leads->list, _("Leads"));
  gtk_widget_set_size_request(leads->plan, 300, -1);
  gtk_box_append(GTK_BOX(box), leads->list);
  gtk_box_append(GTK_BOX(box), new_middle(leads));
  gtk_box_append(GTK_BOX(box), leads->plan);
  g_object_set_data_full(G_OBJECT(box), "leads", leads, leads_free);
  g_signal_connect_swapped(leads->list, "row-selected", G_CALLBACK(on_selected), leads);
  return box;
}
