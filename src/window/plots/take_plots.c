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
  CwList *takes = cw_vehicle_get_takes(vehicle);
  CwRecord *speaker = take ? cw_vehicle_find_speaker(vehicle, cw_take_get_output(take)) : NULL;
  cw_plot_clear(plot);
  for (guint i = 0; take && i < cw_list_get_length(takes); i++) {
    CwRecord *other = cw_list_get(takes, i);
    if (other == take || !cw_take_get_accepted(other) ||
        cw_take_get_output(other) != cw_take_get_output(take) ||
        cw_take_get_purpose(other) != cw_take_get_purpose(take))
      continue;
    cw_plot_add_curve(plot, NULL, cw_take_get_response(other), cw_colour_grey, CW_DASH_SOLID);
    if (plot->series->len) {
      CwSeries *series = g_ptr_array_index(plot->series, plot->series->len - 1);
      series->alpha = 0.4;
      series->width = 1;
    }
  }
  if (take)
    cw_plot_add_curve(plot, cw_take_get_position(take), cw_take_get_response(take),
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
  const CwNumbers *rows = take ? cw_take_get_distortion(take) : NULL;
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
  g_autofree char *name = cw_say_output(vehicle, cw_take_get_output(take));
  CwRecord *rattle = cw_take_get_rattle(take);
  const char *const *reasons = cw_take_get_reasons(take);
  g_string_append_printf(words, "%s, %s: ", name, cw_take_get_position(take));
  if (!cw_take_get_accepted(take)) {
    g_autofree char *joined = reasons ? g_strjoinv("; ", (char **)reasons) : g_strdup("");
    g_string_append_printf(words, _("refused. %s"), joined);
    return g_string_free(words, FALSE);
  }
  append_number(words, _("%.1f dB"), cw_take_get_level_db_spl(take));
  append_number(words, _(", arrives after %.2f ms"), cw_take_get_arrival_ms(take));
  append_number(words, _(", %.0f dB above the noise"), cw_take_get_snr_db(take));
  if (cw_take_get_polarity(take) >= 0)
    g_string_append_printf(words, _(", polarity %s"), cw_take_say_polarity(take));
  if (rattle)
    append_number(words, _(". Rattles at %.0f Hz"), cw_rattle_get_hz(rattle));
  g_string_append_c(words, '.');
  return g_string_free(words, FALSE);
}

/* Where something rattles: in the take (may be NULL), else in the output's last take that heard it, else in
 * its proving run. NAN for nowhere. */
double cw_find_rattle_hz(CwRecord *vehicle, gint64 output, CwRecord *take)
{
  CwList *takes = cw_vehicle_get_takes(vehicle);
  CwRecord *rattle = take ? cw_take_get_rattle(take) : NULL;
  CwRecord *proof =
      cw_list_find_integer_at(cw_vehicle_get_map_proofs(vehicle), CW_MAP_PROOF_FIELD_OUTPUT, output);
  for (guint i = cw_list_get_length(takes); !rattle && i-- > 0;)
    if (cw_take_get_output(cw_list_get(takes, i)) == output)
      rattle = cw_take_get_rattle(cw_list_get(takes, i));
  if (rattle)
    return cw_rattle_get_hz(rattle);
  return proof ? cw_map_proof_get_rattle_hz(proof) : (double)NAN;
}
