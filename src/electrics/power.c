/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "electrics/power.h"

#include <math.h>

/* Loads side by side: the reciprocal of the sum of reciprocals; without any load, infinite. */
double cw_parallel_ohm(const double *ohm, size_t n_loads)
{
  double siemens = 0;
  for (size_t i = 0; i < n_loads; i++)
    siemens += 1 / ohm[i];
  return n_loads ? 1 / siemens : INFINITY;
}

/* Loads one behind the other; without any load, infinite. */
double cw_series_ohm(const double *ohm, size_t n_loads)
{
  double sum = 0;
  for (size_t i = 0; i < n_loads; i++)
    sum += ohm[i];
  return n_loads ? sum : INFINITY;
}

/* What each channel of a bridged pair sees of a load. */
double cw_bridged_half_ohm(double load_ohm)
{
  return load_ohm / 2;
}

/* Power into a load of an amplifier rated at another: it gives the same voltage into both. */
double cw_power_at_load_w(double rated_w, double rated_ohm, double load_ohm)
{
  return rated_w * rated_ohm / load_ohm;
}

/* Voltage, V RMS, that is a power in a load: sqrt(P R). */
double cw_power_volts(double power_w, double load_ohm)
{
  return sqrt(power_w * load_ohm);
}

/* Voltage to read with a tone that is recorded allowance_db (0 or more) below full scale, so that full scale
 * just reaches the power: quiet recordings then come that much nearer to it. */
double cw_target_volts(double power_w, double load_ohm, double allowance_db)
{
  return cw_power_volts(power_w, load_ohm) * pow(10, -allowance_db / 20);
}

/* What an ideal bridged pair gives into the load that one of its channels gives one_channel_w into: twice the
 * voltage. */
double cw_bridged_power_w(double one_channel_w)
{
  return 4 * one_channel_w;
}

/* Peak of a sine. */
double cw_peak_volts(double rms_volts)
{
  return M_SQRT2 * rms_volts;
}

/* Level re 1 V. */
double cw_volts_dbv(double rms_volts)
{
  return 20 * log10(rms_volts);
}

/* Level re sqrt(0.6) V. */
double cw_volts_dbu(double rms_volts)
{
  return 20 * log10(rms_volts / sqrt(0.6));
}

/* A ratio of powers in dB, and back. */
double cw_power_ratio_db(double ratio)
{
  return 10 * log10(ratio);
}

double cw_db_power_ratio(double db)
{
  return pow(10, db / 10);
}

/* Current from the supply while an amplifier gives a power, A: energy in by energy out. */
double cw_supply_current_a(double power_w, double efficiency, double supply_v)
{
  return power_w / (efficiency * supply_v);
}
