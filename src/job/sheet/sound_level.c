/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/sheet/sound_level.h"
#include "job/sheet/microphone.h"
#include "signal/filters/weighting_filter.h"
#include "signal/log_grid.h"
#include "signal/memory.h"
#include "signal/response/spectrum.h"
#include "vehicle/json/json_write.h"
#include <glib/gi18n-lib.h>
#include <math.h>
#include <string.h>

#define WINDOW_SECONDS 0.35
#define FAST_SECONDS 0.125
#define SINE_DB                                                                                              \
  3.0103 /* the sheet's level is that of a sine that fills the recorder: half a mean square of 1 */

/* The mean power of each bin, the microphone's curve taken off. */
static double *clean_power(CwRecord *vehicle, const CwRecording *recording, size_t window)
{
  const CwNumbers *curve = cw_job_microphone_curve(vehicle);
  guint count = curve ? curve->n_rows : 0;
  double *power = cw_alloc_real(window / 2 + 1);
  g_autofree double *hz = g_new(double, count + 1), *db = g_new(double, count + 1);

  for (guint i = 0; i < count; i++) {
    hz[i] = cw_numbers_at(curve, i, 0);
    db[i] = cw_numbers_at(curve, i, 1);
  }
  cw_welch_power(recording->channel[0], recording->frames, window, power);
  for (size_t i = 1; count && i <= window / 2; i++)
    power[i] *= pow(
        10, -cw_log_grid_interpolate(hz, db, count, (double)i * recording->rate_hz / (double)window) / 10);
  return power;
}

/* The highest level with time weighting fast, A-weighted; NAN where the rate is too low for the weighting. */
static double highest_fast(const CwRecording *recording)
{
  CwCoefficients cascade[CW_WEIGHTING_MOST_SECTIONS];
  size_t sections = cw_weighting_filter_design(CW_WEIGHTING_A, recording->rate_hz, cascade),
         settled = (size_t)(3 * FAST_SECONDS * recording->rate_hz);
  double keep = exp(-1 / (FAST_SECONDS * recording->rate_hz)), held = 0, top = 0, *samples;

  if (!sections || recording->frames <= settled)
    return NAN;
  samples = cw_alloc_real(recording->frames);
  memcpy(samples, recording->channel[0], recording->frames * sizeof *samples);
  cw_cascade_run(cascade, sections, samples, recording->frames);
  for (size_t i = 0; i < recording->frames; i++) {
    held = keep * held + (1 - keep) * samples[i] * samples[i];
    if (i >= settled)
      top = fmax(top, held);
  }
  cw_free(samples);
  return 10 * log10(top + 1e-30);
}

CwSoundLevel cw_job_sound_level(CwRecord *vehicle, const CwRecording *recording)
{
  CwSoundLevel level = {.seconds = (double)recording->frames / recording->rate_hz};
  size_t window = 2 * (size_t)(WINDOW_SECONDS * recording->rate_hz / 2), bins = window / 2 + 1;
  double offset = cw_job_spl_at_full_scale(vehicle, &level.calibrated) + SINE_DB,
         *power = clean_power(vehicle, recording, window);
  double bin_hz = recording->rate_hz / (double)window, flat = 0, a = 0, c = 0;
  CwBand bands[CW_SOUND_LEVEL_BANDS];

  for (size_t i = (size_t)ceil(10 / bin_hz); i < bins; i++) {
    double hz = (double)i * bin_hz;
    flat += power[i];
    a += power[i] * pow(10, cw_weighting_a_db(hz) / 10);
    c += power[i] * pow(10, cw_weighting_c_db(hz) / 10);
  }
  level.flat_db = 10 * log10(flat + 1e-30) + offset;
  level.a_db = 10 * log10(a + 1e-30) + offset;
  level.c_db = 10 * log10(c + 1e-30) + offset;
  level.a_fast_most_db = highest_fast(recording) + offset;
  cw_bands_within(3, 19, 20500, bands, CW_SOUND_LEVEL_BANDS);
  for (size_t i = 0; i < CW_SOUND_LEVEL_BANDS; i++) {
    bool inside = bands[i].high_hz < recording->rate_hz / 2;
    level.hz[i] = bands[i].centre_hz;
    level.band_db[i] =
        inside ? 10 * log10(cw_band_power(power, bins, bin_hz, &bands[i]) + 1e-30) + offset : NAN;
  }
  level.niosh_hours = cw_niosh_hours_a_day(level.a_db);
  level.osha_hours = cw_osha_hours_a_day(level.a_db);
  cw_free(power);
  return level;
}

/* A number with so many decimals: what is beyond is noise. */
static double to_decimals(double value, double parts)
{
  return round(value * parts) / parts;
}

char *cw_sound_level_to_json(const CwSoundLevel *level)
{
  const struct {
    const char *key;
    double value;
  } numbers[] = {{"seconds", level->seconds},
                 {"flat_db_spl", level->flat_db},
                 {"a_db_spl", level->a_db},
                 {"c_db_spl", level->c_db},
                 {"a_fast_most_db_spl", level->a_fast_most_db},
                 {"niosh_hours_a_day", level->niosh_hours},
                 {"osha_hours_a_day", level->osha_hours}};
  GString *json = g_string_new("{");

  cw_append_json_truth_member(json, "calibrated", level->calibrated);
  for (size_t i = 0; i < G_N_ELEMENTS(numbers); i++)
    cw_append_json_member(json, numbers[i].key, to_decimals(numbers[i].value, 1000));
  cw_append_json_key(json, "bands");
  for (size_t i = 0; i < CW_SOUND_LEVEL_BANDS; i++) {
    g_string_append(json, i ? ",[" : "[[");
    cw_append_json_number(json, to_decimals(level->hz[i], 100));
    g_string_append_c(json, ',');
    cw_append_json_number(json, to_decimals(level->band_db[i], 100));
    g_string_append_c(json, ']');
  }
  g_string_append(json, "]}");
  return g_string_free(json, FALSE);
}

/* "3 h 20 min", or more than a day. */
static char *say_hours(double hours)
{
  int minutes = (int)floor(60 * hours);

  if (hours >= 24)
    return g_strdup(_("the whole day"));
  return minutes >= 60 ? g_strdup_printf(_("%d h %d min"), minutes / 60, minutes % 60)
                       : g_strdup_printf(_("%d min"), minutes);
}

char *cw_job_say_exposure(const CwExposure *exposure, double level_dba)
{
  g_autofree char *niosh =
      say_hours(cw_exposure_hours_left(exposure->niosh_percent, cw_niosh_hours_a_day(level_dba)));
  g_autofree char *osha =
      say_hours(cw_exposure_hours_left(exposure->osha_percent, cw_osha_hours_a_day(level_dba)));

  /* Translators: NIOSH and OSHA are two rules for how much noise a day may hold; %% is of the day's
   * allowance. */
  return g_strdup_printf(_("NIOSH %.0f %%, %s left at this level; OSHA %.0f %%, %s left"),
                         exposure->niosh_percent, niosh, exposure->osha_percent, osha);
}
