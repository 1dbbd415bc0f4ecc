/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/handover/report_private.h"

#include "job/proof/proof.h"
#include "signal/log_grid.h"
#include <glib/gi18n-lib.h>
#include <math.h>

#define SPEED_OF_SOUND_CM_PER_MS 34.32 /* dry air at 20 degrees C, ISO 9613-1 */
#define N CW_PREDICTION_POINTS
#define HALF_WIDTH 4   /* points either side: the plot shows sixths of an octave */
#define TOLERANCE_DB 3 /* of the light band around the target */
#define PLOT_HEIGHT_MM 82

static char *say_hz(double hz)
{
  return hz < 1000 ? g_strdup_printf(_("%.0f Hz"), hz) : g_strdup_printf(_("%.3g kHz"), hz / 1000);
}

/* The crossover of an output that cuts from below or above, or NULL. */
static CwRecord *find_crossover(CwRecord *output, CwSectionKind shape)
{
  CwList *sections = cw_tune_output_get_sections(output);
  for (guint i = 0; i < cw_list_get_length(sections); i++) {
    CwRecord *section = cw_list_get(sections, i);
    if (cw_tune_section_get_use(section) == CW_USE_CROSSOVER && cw_tune_section_get_kind(section) == shape &&
        !cw_tune_section_get_bypass(section))
      return section;
  }
  return NULL;
}

static char *say_edge(CwRecord *crossover)
{
  if (!crossover)
    return NULL;
  g_autofree char *hz = say_hz(cw_tune_section_get_frequency_hz(crossover));
  return g_strdup_printf(_("%s, %d dB"), hz, 6 * (int)cw_tune_section_get_order(crossover));
}

static guint count_corrections(CwRecord *output)
{
  CwList *sections = cw_tune_output_get_sections(output);
  guint count = 0;
  for (guint i = 0; i < cw_list_get_length(sections); i++) {
    CwRecord *section = cw_list_get(sections, i);
    count += cw_tune_section_get_use(section) == CW_USE_CORRECTION && !cw_tune_section_get_bypass(section);
  }
  return count;
}

static void report_outputs(CwPaper *paper, const CwReport *report)
{
  const CwPaperColumn columns[] = {{_("Speaker"), 2.4, FALSE},  {_("Plays from"), 2.3, FALSE},
                                   {_("up to"), 2.2, FALSE},    {_("Waits"), 1.3, TRUE},
                                   {_("which is"), 1.2, TRUE},  {_("Gain"), 1.2, TRUE},
                                   {_("Polarity"), 1.3, FALSE}, {_("Filters"), 1.2, TRUE}};
  CwList *outputs = cw_tune_get_outputs(report->tune);
  g_autoptr(GPtrArray) cells = g_ptr_array_new_with_free_func(g_free);
  for (guint i = 0; i < cw_list_get_length(outputs); i++) {
    CwRecord *output = cw_list_get(outputs, i);
    CwRecord *speaker = cw_vehicle_find_speaker(report->vehicle, cw_tune_output_get_output(output));
    double delay_ms = cw_tune_output_get_delay_ms(output);
    g_ptr_array_add(cells, speaker && *cw_speaker_get_name(speaker)
                               ? g_strdup(cw_speaker_get_name(speaker))
                               : g_strdup_printf(_("Output %d"), (int)cw_tune_output_get_output(output)));
    g_ptr_array_add(cells, say_edge(find_crossover(output, CW_SECTION_HIGH_PASS)));
    g_ptr_array_add(cells, say_edge(find_crossover(output, CW_SECTION_LOW_PASS)));
    g_ptr_array_add(cells, g_strdup_printf(_("%.2f ms"), delay_ms));
    g_ptr_array_add(cells, g_strdup_printf(_("%.0f cm"), delay_ms * SPEED_OF_SOUND_CM_PER_MS));
    g_ptr_array_add(cells, g_strdup_printf(_("%.1f dB"), cw_tune_output_get_gain_db(output)));
    g_ptr_array_add(
        cells,
        g_strdup(cw_tune_output_get_polarity(output) == CW_POLARITY_INVERTED ? _("inverted") : _("normal")));
    g_ptr_array_add(cells, g_strdup_printf("%u", count_corrections(output)));
  }
  cw_paper_table(paper, columns, G_N_ELEMENTS(columns), (const char *const *)cells->pdata,
                 cw_list_get_length(outputs));
  cw_paper_small(paper, _("Below and above these frequencies a speaker fades out by so many decibels per "
                          "octave. Sound goes about 34 cm in a millisecond."));
}

/* Mean power over a sixth of an octave. */
static void smooth(const double *db, double *smoothed)
{
  for (int i = 0; i < N; i++) {
    double power = 0;
    int first = MAX(i - HALF_WIDTH, 0), last = MIN(i + HALF_WIDTH, N - 1);
    for (int k = first; k <= last; k++)
      power += pow(10, db[k] / 10);
    smoothed[i] = 10 * log10(power / (last - first + 1));
  }
}

/* The sheet's target at the prediction's frequencies. */
static gboolean read_target(CwRecord *vehicle, const double *hz, double *target)
{
  const CwNumbers *curve = cw_vehicle_get_target(vehicle);
  if (!curve || curve->n_rows < 2)
    return FALSE;
  g_autofree double *at = g_new(double, curve->n_rows), *db = g_new(double, curve->n_rows);
  for (guint i = 0; i < curve->n_rows; i++) {
    at[i] = cw_numbers_at(curve, i, 0);
    db[i] = cw_numbers_at(curve, i, 1);
  }
  for (int i = 0; i < N; i++)
    target[i] = cw_log_grid_interpolate(at, db, curve->n_rows, hz[i]);
  return TRUE;
}

/* How far a curve lies above the target from 100 Hz to 10 kHz, where every car can follow it. */
static double offset_of(const double *hz, const double *db, const double *target)
{
  double sum = 0;
  int count = 0;
  for (int i = 0; i < N; i++)
    if (hz[i] >= 100 && hz[i] <= 10000) {
      sum += db[i] - target[i];
      count++;
    }
  return sum / count;
}

static void add_target(CwPlot *plot, const double *hz, const double *target)
{
  double low[N], high[N];
  for (int i = 0; i < N; i++) {
    low[i] = target[i] - TOLERANCE_DB;
    high[i] = target[i] + TOLERANCE_DB;
  }
  cw_plot_add_band(plot, NULL, N, hz, low, high);
  CwSeries *line = cw_plot_add(plot, _("target"), N, hz, target);
  line->width = 0.75;
}

static void report_figure(CwPaper *paper, const CwReport *report)
{
  static const CwColour *const colours[CW_SUMS] = {&cw_colour_sky, &cw_colour_vermilion, &cw_colour_green};
  static const CwDash dashes[CW_SUMS] = {CW_DASH_LONG, CW_DASH_SHORT, CW_DASH_SOLID};
  const char *const names[CW_SUMS] = {_("left alone"), _("right alone"), _("both")};
  const double *hz = cw_prediction_hz(report->prediction);
  g_autoptr(CwPlot) plot = cw_plot_new();
  double db[N], smoothed[N], target[N], drawn[N];
  if (!read_target(report->vehicle, hz, target))
    return;
  add_target(plot, hz, target);
  for (int sum = 0; sum < CW_SUMS; sum++) {
    cw_prediction_seat_db(report->prediction, (CwSum)sum, db);
    smooth(db, smoothed);
    double offset = offset_of(hz, smoothed, target);
    for (int i = 0; i < N; i++)
      drawn[i] = smoothed[i] - offset;
    CwSeries *line = cw_plot_add(plot, names[sum], N, hz, drawn);
    line->colour = *colours[sum];
    line->dash = dashes[sum];
    line->width = sum == CW_SUM_BOTH ? 1.5 : 1;
  }
  cw_plot_set_level_axis(plot, _("Level"), "dB", -20, 15);
  cw_paper_plot(paper, plot, PLOT_HEIGHT_MM);
  cw_paper_say(
      paper, cw_paper_small,
      _("What the ear gets at the seat, from low tones at the left to high ones at the right, predicted from "
        "the measurements and these settings, in sixths of an octave. "
        "The light band is %d dB either side of the target; each curve is set to the target's level."),
      TOLERANCE_DB);
}

static void report_figures(CwPaper *paper, CwRecord *tune)
{
  const CwNumbers *figures = cw_tune_get_figures(tune);
  double side_db = figures ? cw_numbers_named(figures, "side_db") : NAN,
         match_db = figures ? cw_numbers_named(figures, "match_db") : NAN;
  if (isnan(side_db) || isnan(match_db))
    return;
  cw_paper_say(paper, cw_paper_text,
               _("By the prediction each side keeps to the target within %.1f dB on the mean, and left and "
                 "right differ by %.1f dB."),
               side_db, match_db);
}

void cw_report_tune(CwPaper *paper, const CwReport *report)
{
  cw_paper_heading(paper, _("How it is tuned"));
  if (!report->tune) {
    cw_paper_text(paper, _("The system has not been tuned yet."));
    return;
  }
  const char *seat = cw_tune_get_seat(report->tune);
  if (g_str_equal(seat, "all"))
    cw_paper_text(
        paper,
        _("The system is tuned for all seats together. Near speakers wait for far ones, so that the sound of "
          "all arrives at the same time, and every speaker plays only the tones that suit it."));
  else
    cw_paper_say(
        paper, cw_paper_text,
        _("The system is tuned for one seat: %s. Near speakers wait for far ones, so that the sound of all "
          "arrives there at the same time, and every speaker plays only the tones that suit it."),
        seat);
  report_figures(paper, report->tune);
  if (report->prediction)
    report_figure(paper, report);
  report_outputs(paper, report);
}

void cw_report_proof(CwPaper *paper, const CwReport *report)
{
  CwList *rows = cw_vehicle_get_proof(report->vehicle), *checks = cw_vehicle_get_listening(report->vehicle);
  guint agree = 0, count = cw_list_get_length(rows);
  if (!cw_job_proof_is_current(report->vehicle))
    count = 0; /* it was one of other settings */
  if (count + cw_list_get_length(checks) == 0)
    return;
  cw_paper_heading(paper, _("How it was proven"));
  for (guint i = 0; i < count; i++)
    agree += cw_proof_row_get_agrees(cw_list_get(rows, i));
  if (count)
    cw_paper_say(
        paper, cw_paper_text,
        _("The car was measured again with the settings loaded: %u of %u responses are as predicted."), agree,
        count);
  for (guint i = 0; i < count; i++) {
    CwRecord *row = cw_list_get(rows, i);
    g_autofree char *text = isnan(cw_proof_row_get_rms_db(row))
                                ? g_strdup(cw_proof_row_get_subject(row))
                                : g_strdup_printf(_("%s: differs by %.1f dB on the mean, by %.1f dB at most"),
                                                  cw_proof_row_get_subject(row), cw_proof_row_get_rms_db(row),
                                                  fabs(cw_proof_row_get_worst_db(row)));
    cw_paper_item(paper, cw_proof_row_get_agrees(row) ? _("agrees") : _("differs"), text, NULL);
  }
  for (guint i = 0; i < cw_list_get_length(checks); i++) {
    CwRecord *check = cw_list_get(checks, i);
    cw_paper_item(paper, cw_listening_check_get_passed(check) ? _("passed") : _("open"),
                  cw_listening_check_get_name(check), cw_listening_check_get_note(check));
  }
}
