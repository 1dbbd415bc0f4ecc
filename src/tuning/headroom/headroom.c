/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/headroom/headroom.h"
#include <math.h>

#define SILENT_DB (-90.0)

/* Of music, against a full-scale sine: common practice, no source. */
#define MUSIC_BASS_DB (-6.0)
#define MUSIC_BASS_HZ 125.0
#define MUSIC_MIDDLE_DB (-10.0)
#define MUSIC_MIDDLE_HZ 2000.0
#define MUSIC_DB_PER_OCTAVE (-3.0)
#define MUSIC_LONG_DB (-6.0)

static const double nominal_hz[CW_HEADROOM_BANDS] = {
    20,  25,  31.5, 40,   50,   63,   80,   100,  125,  160,  200,  250,  315,   400,   500,
    630, 800, 1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000, 6300, 8000, 10000, 12500, 16000};

static const char *const names[CW_LIMITS] = {
    [CW_LIMIT_RADIO] = "radio", [CW_LIMIT_PROCESSOR] = "processor", [CW_LIMIT_AMPLIFIER] = "amplifier",
    [CW_LIMIT_POWER] = "power", [CW_LIMIT_TRAVEL] = "travel",       [CW_LIMIT_DISTORTION] = "distortion"};

const char *cw_limit_name(CwLimitKind kind)
{
  return names[kind];
}

void cw_headroom_bands(CwHeadroom *headroom)
{
  for (size_t k = 0; k < CW_HEADROOM_BANDS; k++)
    headroom->band[k].hz = nominal_hz[k];
}

double cw_headroom_clean_db(double second_percent, double third_percent, double limit_percent)
{
  double a = isnan(second_percent) ? 0 : second_percent, b = isnan(third_percent) ? 0 : third_percent;

  /* (a x)^2 + (b x^2)^2 = limit^2 in y = x^2 */
  if (a <= 0 && b <= 0)
    return INFINITY;
  if (b <= 0)
    return 20 * log10(limit_percent / a);
  double y = (-a * a + sqrt(a * a * a * a + 4 * b * b * limit_percent * limit_percent)) / (2 * b * b);
  return 10 * log10(y);
}

/* Mean power of levels in dB over a third octave around hz; NAN where the prediction does not reach. */
static double band_db(const double *hz, const double *db, double centre_hz)
{
  double sum = 0;
  size_t count = 0;

  for (size_t i = 0; i < CW_PREDICTION_POINTS; i++)
    if (fabs(log2(hz[i] / centre_hz)) <= 1.0 / 6) {
      sum += pow(10, db[i] / 10);
      count++;
    }
  return count ? 10 * log10(sum / (double)count) : NAN;
}

/* The largest drive within a third octave, dB: a sine may lie on it. */
static double band_peak_db(const double *hz, const double *db, size_t count, double centre_hz)
{
  double peak = -INFINITY;
  for (size_t i = 0; i < count; i++)
    if (fabs(log2(hz[i] / centre_hz)) <= 1.0 / 6)
      peak = fmax(peak, db[i]);
  return peak;
}

/* Level out of the processor at which a limit is reached, dB re full scale; INFINITY where it never is. */
static double limit_db(const CwOutputPath *path, CwLimitKind kind, size_t band)
{
  double volts = NAN;

  switch (kind) {
  case CW_LIMIT_PROCESSOR:
    return 0;
  case CW_LIMIT_DISTORTION:
    return isnan(path->clean_db[band]) ? INFINITY : path->clean_db[band];
  case CW_LIMIT_AMPLIFIER:
    volts = path->amplifier_volts;
    break;
  case CW_LIMIT_POWER:
    volts = path->speaker_volts;
    break;
  case CW_LIMIT_TRAVEL:
    volts = cw_cone_is_known(&path->cone) ? cw_cone_most_volts(&path->cone, nominal_hz[band]) : NAN;
    break;
  case CW_LIMIT_RADIO:
  case CW_LIMITS:
  default:
    break;
  }
  return volts > 0 && path->volts_at_full_scale > 0 ? 20 * log10(volts / path->volts_at_full_scale)
                                                    : INFINITY;
}

/* The first thing of an output that gives out in a band. */
static void weigh_output(const CwOutputPath *path, double drive_db, size_t output, size_t at,
                         CwHeadroomBand *band)
{
  if (!(drive_db > SILENT_DB))
    return;
  for (CwLimitKind kind = CW_LIMIT_PROCESSOR; kind < CW_LIMITS; kind++) {
    double headroom = limit_db(path, kind, at) - drive_db;
    if (headroom < band->headroom_db) {
      band->headroom_db = headroom;
      band->output = output;
      band->by = headroom < 0 ? kind : CW_LIMIT_RADIO;
    }
  }
}

void cw_headroom_compute(const CwPrediction *prediction, const CwOutputPath *path, double spl_at_full_scale,
                         CwHeadroom *headroom)
{
  const double *hz = cw_prediction_hz(prediction);
  double seat_db[CW_PREDICTION_POINTS], drive_db[CW_PREDICTION_POINTS], least = 0, at_1000 = NAN;

  cw_prediction_seat_db(prediction, CW_SUM_BOTH, seat_db);
  for (size_t k = 0; k < CW_HEADROOM_BANDS; k++)
    headroom->band[k] = (CwHeadroomBand){
        nominal_hz[k], band_db(hz, seat_db, nominal_hz[k]) + spl_at_full_scale, CW_LIMIT_RADIO, 0, INFINITY};
  for (size_t o = 0; o < cw_prediction_outputs(prediction); o++) {
    cw_prediction_drive_db(prediction, o, drive_db);
    for (size_t k = 0; k < CW_HEADROOM_BANDS; k++)
      weigh_output(&path[o],
                   band_peak_db(hz, drive_db, CW_PREDICTION_POINTS, nominal_hz[k]) +
                       20 * log10(fabs(path[o].mix) + 1e-30),
                   o, k, &headroom->band[k]);
  }
  for (size_t k = 0; k < CW_HEADROOM_BANDS; k++) {
    CwHeadroomBand *band = &headroom->band[k];
    if (nominal_hz[k] == 1000)
      at_1000 = band->spl_db;
    band->spl_db += fmin(band->headroom_db, 0);
    least = fmin(least, band->headroom_db);
  }
  headroom->spl_db = at_1000 + least;
}

static double music_db(double hz, CwLimitKind kind)
{
  double db = hz <= MUSIC_BASS_HZ ? MUSIC_BASS_DB : MUSIC_MIDDLE_DB;

  if (hz > MUSIC_MIDDLE_HZ)
    db += MUSIC_DB_PER_OCTAVE * log2(hz / MUSIC_MIDDLE_HZ);
  return db + (kind == CW_LIMIT_POWER ? MUSIC_LONG_DB : 0);
}

CwMusicRoom cw_headroom_for_music(const double *hz, const double *drive_db, size_t count,
                                  const CwOutputPath *path)
{
  CwMusicRoom room = {INFINITY, NAN, CW_LIMIT_RADIO};

  for (size_t k = 0; k < CW_HEADROOM_BANDS; k++) {
    double drive = band_peak_db(hz, drive_db, count, nominal_hz[k]) + 20 * log10(fabs(path->mix) + 1e-30);
    for (CwLimitKind kind = CW_LIMIT_PROCESSOR; kind < CW_LIMITS && drive > SILENT_DB; kind++) {
      double room_db = limit_db(path, kind, k) - drive - music_db(nominal_hz[k], kind);
      if (room_db < room.room_db)
        room = (CwMusicRoom){room_db, nominal_hz[k], kind};
    }
  }
  return room;
}
