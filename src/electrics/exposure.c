/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "electrics/exposure.h"

#include <math.h>

/* NIOSH publication 98-126: 8 h at 85 dBA, half for every 3 dB more. */
double cw_niosh_hours_a_day(double level_dba)
{
  return 8 * pow(2, (85 - level_dba) / 3);
}

/* OSHA 29 CFR 1910.95, table G-16a: 8 h at 90 dBA, half for every 5 dB more. */
double cw_osha_hours_a_day(double level_dba)
{
  return 8 * pow(2, (90 - level_dba) / 5);
}

/* WHO and ITU-T H.870: 40 h a week at 80 dBA, half for every 3 dB more. */
double cw_who_hours_a_week(double level_dba)
{
  return 40 * pow(2, (80 - level_dba) / 3);
}

static double dose(double (*hours_a_day)(double), const double *level_dba, const double *hours, size_t n)
{
  double sum = 0;
  for (size_t i = 0; i < n; i++)
    sum += hours[i] / hours_a_day(level_dba[i]);
  return 100 * sum;
}

double cw_niosh_dose_percent(const double *level_dba, const double *hours, size_t n)
{
  return dose(cw_niosh_hours_a_day, level_dba, hours, n);
}

double cw_osha_dose_percent(const double *level_dba, const double *hours, size_t n)
{
  return dose(cw_osha_hours_a_day, level_dba, hours, n);
}

/* Both rules leave out what is fainter: NIOSH 98-126, 1.1.2, and OSHA 29 CFR 1910.95(d)(2)(i). */
#define COUNTS_FROM_DBA 80.0

void cw_exposure_add(CwExposure *exposure, double level_dba, double seconds)
{
  double hours = seconds / 3600;

  exposure->seconds += seconds;
  if (!(level_dba >= COUNTS_FROM_DBA))
    return;
  exposure->niosh_percent += cw_niosh_dose_percent(&level_dba, &hours, 1);
  exposure->osha_percent += cw_osha_dose_percent(&level_dba, &hours, 1);
}

double cw_exposure_hours_left(double percent, double hours_a_day)
{
  return fmax(1 - percent / 100, 0) * hours_a_day;
}
