/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/stages/signal/survey_sums.h"

#include "job/survey/survey_curves.h"
#include "window/plots/take_plots.h"
#include "window/stages/signal/input_curve.h"
#include "window/stages/signal/survey_inputs.h"
#include "window/state/words.h"
#include "window/widgets/cell_table.h"
#include "window/widgets/page.h"

#include <glib/gi18n-lib.h>
#include <math.h>

#define EDITOR_HEIGHT 430

typedef struct {
  CwSession *session;
  CwSurveyInputs *inputs;
  GtkWidget *summary, *plot, *table;
  CwRecord *listed; /* snapshot of the survey whose sums stand in the table */
} Sums;

static void add(GtkWidget *table, char *text)
{
  cw_cell_table_add_text(table, text);
  g_free(text);
}

static void add_row(Sums *sums, CwRecord *sum)
{
  double loss = cw_lead_sum_get_loss_db(sum);
  add(sums->table, g_strdup_printf(_("leads %s"), cw_lead_sum_get_name(sum)));
  add(sums->table, g_strdup(cw_lead_sum_say_side(sum)));
  add(sums->table, cw_say_lead_range(sum));
  add(sums->table, isfinite(loss) ? g_strdup_printf("%.1f dB", loss) : g_strdup("–"));
  add(sums->table, g_strdup(cw_lead_sum_get_advised(sum) ? _("✓ use it") : "–"));
  add(sums->table, g_strdup(cw_lead_sum_get_why(sum)));
}

static void draw_side(Sums *sums, CwPlot *plot, CwRecord *survey, int side, CwColour colour)
{
  CwNumbers *after = cw_job_corrected_side(cw_session_get_vehicle(sums->session), side);
  CwList *list = cw_survey_get_sums(survey);
  for (guint i = 0; i < cw_list_get_length(list); i++) {
    CwRecord *sum = cw_list_get(list, i);
    if (cw_lead_sum_get_advised(sum) && cw_lead_sum_get_side(sum) == side)
      cw_plot_add_curve(plot, side == CW_SIDE_LEFT ? _("left before") : _("right before"),
                        cw_lead_sum_get_response(sum), cw_colour_grey,
                        side == CW_SIDE_LEFT ? CW_DASH_LONG : CW_DASH_SHORT);
  }
  cw_plot_add_curve(plot, side == CW_SIDE_LEFT ? _("left after") : _("right after"), after, colour,
                    side == CW_SIDE_LEFT ? CW_DASH_SOLID : CW_DASH_LONG);
  if (after)
    cw_numbers_unref(after);
}

static void draw(Sums *sums, CwRecord *survey)
{
  CwPlot *plot = cw_plot_view_get_plot(CW_PLOT_VIEW(sums->plot));
  cw_plot_clear(plot);
  plot->y.name = _("The mix that is advised, for a full-scale track");
  plot->y.unit = "dBV";
  draw_side(sums, plot, survey, CW_SIDE_LEFT, cw_colour_sky);
  draw_side(sums, plot, survey, CW_SIDE_RIGHT, cw_colour_vermilion);
  cw_plot_fit_level_axis(plot, 30, 10);
  cw_axis_show(&plot->y, fmax(plot->y.low_all, plot->y.high_all - 40), plot->y.high_all);
  cw_plot_view_set_words(CW_PLOT_VIEW(sums->plot),
                         _("Left and right side of the advised mix before and after the correction."));
  cw_plot_view_update(CW_PLOT_VIEW(sums->plot));
}

static void show_summary(Sums *sums, CwRecord *survey)
{
  CwRecord *correction = cw_survey_get_correction(survey);
  const char *const *why = correction ? cw_correction_get_why(correction) : NULL;
  double flat = cw_job_corrected_flatness_db(cw_session_get_vehicle(sums->session));
  gint64 clean = cw_survey_get_clean_volume_step(survey);
  g_autoptr(GString) text = g_string_new(NULL);
  if (clean != CW_NO_INTEGER)
    g_string_append_printf(text, _("Highest clean volume of the radio: step %d.\n"), (int)clean);
  if (cw_survey_get_loudness_found(survey))
    g_string_append(text, _("⚠ The bass changes with the volume: switch loudness off in the radio's menus, "
                            "then record again.\n"));
  for (guint i = 0; why && why[i]; i++)
    g_string_append_printf(text, "%s.\n", why[i]);
  if (isfinite(flat))
    g_string_append_printf(text,
                           _("With the correction the mix is flat within ±%.1f dB from %.0f to %.0f Hz. It "
                             "stands in the table's inputs."),
                           flat, cw_correction_get_low_hz(correction), cw_correction_get_high_hz(correction));
  else
    g_string_append(text, _("No mix of these leads can be corrected: see the findings."));
  cw_show_text(sums->summary, text->str);
}

/* The sums change with the survey alone, not with every turn of a correction. */
static void list_sums(Sums *sums, CwRecord *survey)
{
  CwList *list = cw_survey_get_sums(survey);
  if (sums->listed && cw_record_equal(sums->listed, survey))
    return;
  g_clear_object(&sums->listed);
  sums->listed = cw_record_snapshot(survey);
  cw_cell_table_clear(sums->table);
  for (guint i = 0; i < cw_list_get_length(list); i++)
    add_row(sums, cw_list_get(list, i));
}

void cw_survey_sums_refresh(GtkWidget *widget)
{
  Sums *sums = g_object_get_data(G_OBJECT(widget), "sums");
  CwRecord *vehicle = cw_session_get_vehicle(sums->session),
           *survey = vehicle ? cw_vehicle_get_survey(vehicle) : NULL;
  if (!survey)
    return;
  list_sums(sums, survey);
  show_summary(sums, survey);
  draw(sums, survey);
  cw_survey_inputs_refresh(sums->inputs);
}

static void sums_free(gpointer data)
{
  Sums *sums = data;
  cw_survey_inputs_free(sums->inputs);
  g_clear_object(&sums->listed);
  g_free(sums);
}

/* The leads at the left, the mix above the chosen lead, what it is set to at the right. */
static GtkWidget *new_editor(Sums *sums)
{
  GtkWidget *row = gtk_box_new(GTK_ORIENTATION_HORIZONTAL, 12),
            *curves = gtk_box_new(GTK_ORIENTATION_VERTICAL, 4),
            *values = cw_survey_inputs_get_values(sums->inputs),
            *curve = cw_survey_inputs_get_curve(sums->inputs);
  sums->plot = cw_plot_view_new(_("The advised mix"));
  cw_plot_view_get_plot(CW_PLOT_VIEW(sums->plot))->label_letters_least = CW_INPUT_LABEL_LETTERS;
  gtk_widget_set_vexpand(sums->plot, TRUE);
  gtk_widget_set_vexpand(curve, TRUE);
  gtk_widget_set_hexpand(curves, TRUE);
  gtk_widget_set_size_request(curves, -1, EDITOR_HEIGHT);
  gtk_widget_set_size_request(values, 430, EDITOR_HEIGHT);
  gtk_box_append(GTK_BOX(curves), sums->plot);
  gtk_box_append(GTK_BOX(curves), curve);
  gtk_box_append(GTK_BOX(row), cw_survey_inputs_get_list(sums->inputs));
  gtk_box_append(GTK_BOX(row), curves);
  gtk_box_append(GTK_BOX(row), values);
  return row;
}

GtkWidget *cw_survey_sums_new(CwSession *session)
{
  const char *const headings[] = {_("Sum"), _("Side"), _("Plays"), _(">Lost"), _("Advice"), _("Why"), NULL};
  Sums *sums = g_new0(Sums, 1);
  GtkWidget *box = gtk_box_new(GTK_ORIENTATION_VERTICAL, 12), *scrolled = gtk_scrolled_window_new();
  *sums = (Sums){.session = session,
                 .inputs = cw_survey_inputs_new(session),
                 .summary = cw_text(NULL),
                 .table = cw_cell_table_new(headings)};
  gtk_box_append(GTK_BOX(box), new_editor(sums));
  gtk_box_append(GTK_BOX(box), sums->summary);
  gtk_box_append(GTK_BOX(box), sums->table);
  gtk_scrolled_window_set_policy(GTK_SCROLLED_WINDOW(scrolled), GTK_POLICY_NEVER, GTK_POLICY_AUTOMATIC);
  gtk_scrolled_window_set_child(GTK_SCROLLED_WINDOW(scrolled), box);
  g_object_set_data_full(G_OBJECT(scrolled), "sums", sums, sums_free);
  return scrolled;
}
