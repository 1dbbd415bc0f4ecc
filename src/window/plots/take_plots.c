/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "window/plots/take_plots.h"

#include "window/state/words.h"

#include <glib/gi18n-lib.h>
#include <math.h>

/* Adds a curve of hz and dB as a line. */
void cw_plot_add_curve(CwPlot *plot, const char *label, const CwNumbers *curve, CwColour colour, CwDash dash)
{
  if (!curve || !curve->n_rows)
    return;
  g_autofree double *hz = g_new(double, curve->n_rows), *db = g_new(double, curve->n_rows);
  for (guint i = 0; i < curve->n_rows; i++) {
    hz[i] = cw_numbers_at(curve, i, 0);
    db[i] = cw_numbers_at(curve, i, 1);
  }
  CwSeries *series = cw_plot_add(plot, label, curve->n_rows, hz, db);
  series->colour = colour;
  series->dash = dash;
}

/* The take's response, with the other accepted takes of the same output and seat in grey behind it. */
void cw_show_responses(CwPlotView *view, CwRecord *vehicle, CwRecord *take)
{
  CwPlot *plot = cw_plot_view_get_plot(view);
  CwList *takes = cw_record_get_children(vehicle, "takes");
  CwRecord *speaker = take ? cw_vehicle_find_speaker(vehicle, cw_record_get_integer(take, "output")) : NULL;
  cw_plot_clear(plot);
  for (guint i = 0; take && i < cw_list_get_length(takes); i++) {
    CwRecord *other = cw_list_get(takes, i);
    if (other == take || !cw_record_get_boolean(other, "accepted") ||
        cw_record_get_integer(other, "output") != cw_record_get_integer(take, "output") ||
        cw_record_get_choice(other, "purpose") != cw_record_get_choice(take, "purpose"))
      continue;
    cw_plot_add_curve(plot, NULL, cw_record_get_numbers(other, "response"), cw_colour_grey, CW_DASH_SOLID);
    if (plot->series->len) {
      CwSeries *series = g_ptr_array_index(plot->series, plot->series->len - 1);
      series->alpha = 0.4;
      series->width = 1;
    }
  }
  if (take)
    cw_plot_add_curve(plot, cw_record_get_text(take, "position"), cw_record_get_numbers(take, "response"),
                      speaker ? cw_speaker_colour(speaker) : cw_colour_green, CW_DASH_SOLID);
  plot->y.name = _("Sound pressure level");
  cw_plot_fit_level_axis(plot, 40, 10);
  cw_plot_view_update(view);
}

static void add_harmonic(CwPlot *plot, const char *label, const CwNumbers *rows, guint column,
                         CwColour colour, CwDash dash)
{
  g_autofree double *hz = g_new(double, rows->n_rows), *percent = g_new(double, rows->n_rows);
  for (guint i = 0; i < rows->n_rows; i++) {
    hz[i] = cw_numbers_at(rows, i, 0);
    percent[i] = cw_numbers_at(rows, i, column);
  }
  CwSeries *series = cw_plot_add(plot, label, rows->n_rows, hz, percent);
  series->colour = colour;
  series->dash = dash;
}

/* Second and third harmonic of the take, in per cent. */
void cw_show_distortion(CwPlotView *view, CwRecord *vehicle, CwRecord *take)
{
  CwPlot *plot = cw_plot_view_get_plot(view);
  const CwNumbers *rows = take ? cw_record_get_numbers(take, "distortion") : NULL;
  cw_plot_clear(plot);
  cw_plot_set_level_axis(plot, _("Distortion"), "%", 0, 3);
  if (rows && rows->n_rows) {
    add_harmonic(plot, _("second"), rows, 1, cw_colour_sky, CW_DASH_SOLID);
    add_harmonic(plot, _("third"), rows, 2, cw_colour_vermilion, CW_DASH_LONG);
    cw_plot_fit_level_axis(plot, 1, 0.5);
    cw_axis_show(&plot->y, 0, plot->y.high);
  }
  cw_plot_view_update(view);
}

static void append_number(GString *words, const char *format, double value)
{
  if (isfinite(value))
    g_string_append_printf(words, format, value);
}

/* What was found of a take, in one line; the caller's. */
char *cw_say_take(CwRecord *vehicle, CwRecord *take)
{
  GString *words = g_string_new(NULL);
  g_autofree char *name = cw_say_output(vehicle, cw_record_get_integer(take, "output"));
  CwRecord *rattle = cw_record_get_child(take, "rattle");
  const char *const *reasons = cw_record_get_texts(take, "reasons");
  g_string_append_printf(words, "%s, %s: ", name, cw_record_get_text(take, "position"));
  if (!cw_record_get_boolean(take, "accepted")) {
    g_autofree char *joined = reasons ? g_strjoinv("; ", (char **)reasons) : g_strdup("");
    g_string_append_printf(words, _("refused. %s"), joined);
    return g_string_free(words, FALSE);
  }
  append_number(words, _("%.1f dB"), cw_record_get_number(take, "level_db_spl"));
  append_number(words, _(", arrives after %.2f ms"), cw_record_get_number(take, "arrival_ms"));
  append_number(words, _(", %.0f dB above the noise"), cw_record_get_number(take, "snr_db"));
  if (cw_record_get_choice(take, "polarity") >= 0)
    g_string_append_printf(words, _(", polarity %s"), cw_say_choice(take, "polarity"));
  if (rattle)
    append_number(words, _(". Rattles at %.0f Hz"), cw_record_get_number(rattle, "hz"));
  g_string_append_c(words, '.');
  return g_string_free(words, FALSE);
}

/* Where something rattles: in the take (may be NULL), else in the output's last take that heard it, else in
 * its proving run. NAN for nowhere. */
double cw_find_rattle_hz(CwRecord *vehicle, gint64 output, CwRecord *take)
{
  CwList *takes = cw_record_get_children(vehicle, "takes");
  CwRecord *rattle = take ? cw_record_get_child(take, "rattle") : NULL;
  CwRecord *proof = cw_list_find_integer(cw_record_get_children(vehicle, "map_proofs"), "output", output);
  for (guint i = cw_list_get_length(takes); !rattle && i-- > 0;)
    if (cw_record_get_integer(cw_list_get(takes, i), "output") == output)
      rattle = cw_record_get_child(cw_list_get(takes, i), "rattle");
  if (rattle)
    return cw_record_get_number(rattle, "hz");
  return proof ? cw_record_get_number(proof, "rattle_hz") : (double)NAN;
}
