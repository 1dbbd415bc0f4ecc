/* SPDX-License-Identifier: GPL-3.0-or-later */
#pragma once

#include <stddef.h>

/* Hours that a level may be heard, by three rules; level_dba is A-weighted. */
double cw_niosh_hours_a_day(double level_dba);
double cw_osha_hours_a_day(double level_dba);
double cw_who_hours_a_week(double level_dba);

/* Dose in per cent of the day's allowance, of n stays at a level for some hours. */
double cw_niosh_dose_percent(const double *level_dba, const double *hours, size_t n);
double cw_osha_dose_percent(const double *level_dba, const double *hours, size_t n);
