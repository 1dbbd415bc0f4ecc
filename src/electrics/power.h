/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <stddef.h>

/* Loads, ohm */
double cw_parallel_ohm(const double *ohm, size_t n_loads);
double cw_series_ohm(const double *ohm, size_t n_loads);
double cw_bridged_half_ohm(double load_ohm);

/* Power and voltage of a sine */
double cw_power_at_load_w(double rated_w, double rated_ohm, double load_ohm);
double cw_power_volts(double power_w, double load_ohm);
double cw_target_volts(double power_w, double load_ohm, double allowance_db);
double cw_bridged_power_w(double one_channel_w);
double cw_peak_volts(double rms_volts);
double cw_volts_dbv(double rms_volts);
double cw_volts_dbu(double rms_volts);
double cw_power_ratio_db(double ratio);
double cw_db_power_ratio(double db);

/* Supply */
double cw_supply_current_a(double power_w, double efficiency, double supply_v);
