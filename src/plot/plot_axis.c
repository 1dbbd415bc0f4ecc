/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "plot/plot.h"

#include <math.h>

gboolean cw_axis_is_usable(const CwAxis *axis)
{
  return isfinite(axis->low) && isfinite(axis->high) && axis->low < axis->high &&
         (!axis->logarithmic || axis->low > 0);
}

double cw_axis_place(const CwAxis *axis, double value)
{
  if (axis->logarithmic)
    return log(value / axis->low) / log(axis->high / axis->low);
  return (value - axis->low) / (axis->high - axis->low);
}

double cw_axis_value(const CwAxis *axis, double place)
{
  if (axis->logarithmic)
    return axis->low * pow(axis->high / axis->low, place);
  return axis->low + place * (axis->high - axis->low);
}

void cw_axis_show(CwAxis *axis, double low, double high)
{
  low = fmax(low, axis->low_all);
  high = fmin(high, axis->high_all);
  gboolean wide_enough =
      axis->logarithmic ? high > 1.05 * low : high - low > 0.01 * (axis->high_all - axis->low_all);
  if (!wide_enough)
    return;
  axis->low = low;
  axis->high = high;
}

void cw_axis_show_all(CwAxis *axis)
{
  axis->low = axis->low_all;
  axis->high = axis->high_all;
}

void cw_axis_zoom(CwAxis *axis, double place, double factor)
{
  cw_axis_show(axis, cw_axis_value(axis, place - factor * place),
               cw_axis_value(axis, place + factor * (1 - place)));
}

static void add_mark(GArray *marks, const CwAxis *axis, double value, gboolean strong)
{
  CwMark mark = {value, strong, ""};
  if (strong && axis->logarithmic && value >= 1000)
    g_snprintf(mark.text, sizeof mark.text, "%gk", value / 1000);
  else if (strong)
    g_snprintf(mark.text, sizeof mark.text, "%g", fabs(value) < 1e-9 ? 0 : value);
  g_array_append_val(marks, mark);
}

/* Preferred frequencies of ISO 266: thirds of an octave; every third of them, from 31.5 on, is an octave. */
static const double thirds[] = {1, 1.25, 1.6, 2, 2.5, 3.15, 4, 5, 6.3, 8};

static gboolean is_multiple(int index, int every)
{
  return ((index % every) + every) % every == 0;
}

/* How many thirds from label to label: one, an octave, or two. 1 kHz always has one. */
static int thirds_apart(double room, double octaves, double apart)
{
  return room / (3 * octaves) >= apart ? 1 : room / octaves >= apart ? 3 : 6;
}

static void add_frequency_marks(GArray *marks, const CwAxis *axis, double room, double apart)
{
  double octaves = log2(axis->high / axis->low);
  int every = thirds_apart(room, octaves, apart);
  int first = (int)floor(10 * log10(axis->low)) - 1, last = (int)ceil(10 * log10(axis->high)) + 1;
  for (int index = first; index <= last; index++) {
    int decade = (int)floor(index / 10.0);
    double hz = thirds[index - 10 * decade] * pow(10, decade);
    if (hz >= axis->low * 0.9999 && hz <= axis->high * 1.0001)
      add_mark(marks, axis, hz, is_multiple(index, every));
  }
}

static double even_step(double span, double room, double apart)
{
  double least = span * apart / fmax(room, apart);
  double decade = pow(10, floor(log10(least)));
  double part = least / decade;
  return decade * (part <= 1 ? 1 : part <= 2 ? 2 : part <= 5 ? 5 : 10);
}

static void add_even_marks(GArray *marks, const CwAxis *axis, double room, double apart)
{
  double step = even_step(axis->high - axis->low, room, apart);
  for (double k = ceil(axis->low / step - 1e-9); k * step <= axis->high + 1e-9 * step; k++)
    add_mark(marks, axis, k * step, TRUE);
}

GArray *cw_axis_marks(const CwAxis *axis, double room, double apart)
{
  GArray *marks = g_array_new(FALSE, FALSE, sizeof(CwMark));
  if (!cw_axis_is_usable(axis))
    return marks;
  if (axis->logarithmic && axis->high >= 2 * axis->low)
    add_frequency_marks(marks, axis, room, apart);
  else
    add_even_marks(marks, axis, room, apart);
  return marks;
}

char *cw_axis_say(const CwAxis *axis, double value)
{
  if (axis->logarithmic && value >= 1000)
    return g_strdup_printf("%.3g k%s", value / 1000, axis->unit);
  if (axis->logarithmic)
    return g_strdup_printf("%.3g %s", value, axis->unit);
  return g_strdup_printf("%.1f %s", value, axis->unit);
}
