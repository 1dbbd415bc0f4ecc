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

/* The clock of the person in the car: what the day has used up so far, by both rules. */
typedef struct {
  double seconds; /* listened to, loud or not */
  double niosh_percent, osha_percent;
} CwExposure;

/* Adds a stay of so many seconds at a level; what is below 80 dBA counts for nothing. */
void cw_exposure_add(CwExposure *exposure, double level_dba, double seconds);

/* Hours that a level may still be heard once percent of the day is used up; 0 when all is. */
double cw_exposure_hours_left(double percent, double hours_a_day);
