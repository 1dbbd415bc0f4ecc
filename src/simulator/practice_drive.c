/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "simulator/practice_drive.h"
#include "signal/fft.h"

#include <math.h>
#include <string.h>

/* Speaker and microphone are described far above any rate in use, so that a car is the same at every rate. */
#define DESIGN_RATE_HZ 768000.0
#define DISTORTION_STATED_AT_DBFS (-12.0)

struct CwPracticeDrive {
  const CwPracticeSettings *settings;
  double *settings_state;
  double gain;
  double *delay; /* the processor's delay, a ring of delay_samples */
  guint delay_at;
  double second, third; /* of the cone's square and cube */
  CwCoefficients cone;  /* what moves far enough to distort */
  double cone_state[2];
};

static double from_db(double db)
{
  return pow(10, db / 20);
}

/* Whether a defect of this kind is on at the output. */
static gboolean has_defect(const CwPracticeCar *car, guint output, CwPracticeDefectKind kind)
{
  for (guint i = 0; i < car->defects; i++)
    if (car->defect[i].on && car->defect[i].kind == kind && car->defect[i].output == output)
      return TRUE;
  return FALSE;
}

CwPracticeDrive *cw_practice_drive_new(const CwPracticeSetup *setup, guint index, double rate_hz)
{
  const CwPracticeCar *car = setup->car;
  g_return_val_if_fail(index < car->speakers, NULL);
  const CwPracticeSpeaker *speaker = &car->speaker[index];
  CwPracticeDrive *drive = g_new0(CwPracticeDrive, 1);
  guint output;
  cw_practice_car_wires(car, index, &output);
  drive->settings = &setup->settings[output - 1];
  drive->settings_state = g_new0(double, 2 * MAX(drive->settings->sections, 1));
  drive->gain = from_db(drive->settings->gain_db) * (drive->settings->inverted ? -1 : 1);
  drive->delay = g_new0(double, MAX(drive->settings->delay_samples, 1));
  if (has_defect(car, speaker->output, CW_DEFECT_REVERSED))
    drive->gain = -drive->gain;
  if (has_defect(car, speaker->output, CW_DEFECT_SILENT))
    drive->gain = 0;
  /* A sine of amplitude a through x + s x^2 + t x^3 has a second harmonic of s a / 2 and a third of t a^2
   * / 4. */
  double amplitude = from_db(DISTORTION_STATED_AT_DBFS);
  drive->second = speaker->second_percent / 100 * 2 / amplitude;
  drive->third = speaker->third_percent / 100 * 4 / (amplitude * amplitude);
  /* The cone moves furthest near its resonance; kept low enough that the cube of it stays below half the
   * rate. */
  CwSection cone = {CW_SECTION_LOW_PASS, CLAMP(8 * speaker->fs_hz, 100, rate_hz / 10), 0, G_SQRT2 / 2};
  cw_section_design(&cone, rate_hz, &drive->cone);
  return drive;
}

void cw_practice_drive_free(CwPracticeDrive *drive)
{
  if (!drive)
    return;
  g_free(drive->settings_state);
  g_free(drive->delay);
  g_free(drive);
}

void cw_practice_drive_run(CwPracticeDrive *drive, double *sample, gsize count)
{
  const CwPracticeSettings *settings = drive->settings;
  if (settings->sections > 0)
    cw_cascade_run_stream(settings->section, settings->sections, drive->settings_state, sample, count);
  for (gsize i = 0; i < count; i++) {
    double value = CLAMP(sample[i] * drive->gain, -1, 1);
    if (settings->delay_samples > 0) {
      double late = drive->delay[drive->delay_at];
      drive->delay[drive->delay_at] = value;
      drive->delay_at = (drive->delay_at + 1) % settings->delay_samples;
      value = late;
    }
    sample[i] = value;
  }
  if (drive->second == 0 && drive->third == 0)
    return;
  double moved[256];
  for (gsize from = 0; from < count; from += G_N_ELEMENTS(moved)) {
    gsize some = MIN(G_N_ELEMENTS(moved), count - from);
    memcpy(moved, sample + from, some * sizeof *moved);
    cw_cascade_run_stream(&drive->cone, 1, drive->cone_state, moved, some);
    for (gsize i = 0; i < some; i++)
      sample[from + i] += moved[i] * moved[i] * (drive->second + drive->third * moved[i]);
  }
}

double cw_practice_noise_next(CwPracticeNoise *noise)
{
  /* The sum of four even numbers of 16 bits is near enough to normal for a noise floor. */
  guint64 z = (noise->state += 0x9e3779b97f4a7c15u);
  z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
  z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
  z ^= z >> 31;
  double sum =
      (double)(z & 0xffff) + (double)(z >> 16 & 0xffff) + (double)(z >> 32 & 0xffff) + (double)(z >> 48);
  return (sum - 2 * 65535.0) / (65536.0 / sqrt(3.0));
}

struct CwPracticeRattle {
  CwCoefficients shaken, clatter;
  double shaken_state[2], clatter_state[2];
  double threshold, gain;
  CwPracticeNoise noise;
};

CwPracticeRattle *cw_practice_rattle_new(const CwPracticeDefect *defect, double rate_hz, guint64 seed)
{
  CwPracticeRattle *rattle = g_new0(CwPracticeRattle, 1);
  cw_section_design(&(CwSection){CW_SECTION_BAND_PASS, defect->hz, 0, 5}, rate_hz, &rattle->shaken);
  cw_section_design(&(CwSection){CW_SECTION_BAND_PASS, MIN(2600, rate_hz / 4), 0, 1.2}, rate_hz,
                    &rattle->clatter);
  rattle->threshold = from_db(defect->threshold_dbfs);
  rattle->gain = from_db(defect->level_db);
  rattle->noise.state = seed ^ 0x5deece66du;
  return rattle;
}

void cw_practice_rattle_free(CwPracticeRattle *rattle)
{
  g_free(rattle);
}

void cw_practice_rattle_run(CwPracticeRattle *rattle, const double *drive, double *noise, gsize count)
{
  memcpy(noise, drive, count * sizeof *noise);
  cw_cascade_run_stream(&rattle->shaken, 1, rattle->shaken_state, noise, count);
  for (gsize i = 0; i < count; i++) {
    double over = fabs(noise[i]) - rattle->threshold;
    noise[i] = over > 0 ? rattle->gain * over * cw_practice_noise_next(&rattle->noise) : 0;
  }
  cw_cascade_run_stream(&rattle->clatter, 1, rattle->clatter_state, noise, count);
}

static CwComplex sections_response(const CwPracticeSections *sections, double hz)
{
  CwComplex response = 1;
  for (guint i = 0; i < sections->count; i++) {
    CwCoefficients coefficients;
    cw_section_design(&sections->section[i], DESIGN_RATE_HZ, &coefficients);
    response *= cw_coefficients_response(&coefficients, hz, DESIGN_RATE_HZ);
  }
  return response;
}

double cw_practice_microphone_db(const CwPracticeCar *car, double hz)
{
  return 20 * log10(cabs(sections_response(&car->microphone, hz)));
}

static void speaker_sections(const CwPracticeSpeaker *speaker, CwPracticeSections *sections)
{
  *sections = speaker->unevenness;
  sections->count = MIN(sections->count, CW_PRACTICE_SECTIONS_MOST - 2);
  sections->section[sections->count++] = (CwSection){CW_SECTION_HIGH_PASS, speaker->fs_hz, 0, speaker->q};
  sections->section[sections->count++] = (CwSection){CW_SECTION_LOW_PASS, speaker->highest_hz, 0, 0.6};
}

/* The cabin's response, filtered by one or two sets of sections and scaled. */
static void filtered_impulse(const CwPracticeCar *car, const CwPracticeSource *source,
                             const CwPracticePoint *microphone, const CwPracticeSections *own, double gain,
                             double rate_hz, gsize length, double *response)
{
  gsize size = cw_fft_good_length(2 * length), bins = size / 2 + 1;
  double *padded = cw_alloc_real(size);
  CwComplex *bin = cw_alloc_complex(bins);
  cw_practice_impulse(&car->cabin, source, microphone, rate_hz, length, padded);
  cw_fft_forward(cw_fft_get(size), padded, bin);
  CwCoefficients cascade[2 * CW_PRACTICE_SECTIONS_MOST];
  guint count = 0;
  for (guint i = 0; own && i < own->count; i++)
    cw_section_design(&own->section[i], DESIGN_RATE_HZ, &cascade[count++]);
  for (guint i = 0; i < car->microphone.count; i++)
    cw_section_design(&car->microphone.section[i], DESIGN_RATE_HZ, &cascade[count++]);
  double *hz = cw_alloc_real(bins);
  for (gsize k = 0; k < bins; k++)
    hz[k] = (double)k * rate_hz / (double)size;
  cw_cascade_response(cascade, count, DESIGN_RATE_HZ, hz, bins, true, bin);
  cw_fft_inverse(cw_fft_get(size), bin, padded);
  for (gsize i = 0; i < length; i++)
    response[i] = gain * padded[i];
  cw_free(hz);
  cw_free(padded);
  cw_free(bin);
}

void cw_practice_speaker_impulse(const CwPracticeCar *car, guint index, const CwPracticePoint *microphone,
                                 double rate_hz, gsize length, double *response)
{
  g_return_if_fail(car != NULL && index < car->speakers);
  const CwPracticeSpeaker *speaker = &car->speaker[index];
  CwPracticeSource source = {speaker->at, speaker->aim, speaker->radius_cm};
  CwPracticeSections own;
  speaker_sections(speaker, &own);
  filtered_impulse(car, &source, microphone, &own, from_db(speaker->level_db_spl - car->spl_at_full_scale),
                   rate_hz, length, response);
}

void cw_practice_rattle_impulse(const CwPracticeCar *car, guint index, const CwPracticePoint *microphone,
                                double rate_hz, gsize length, double *response)
{
  g_return_if_fail(car != NULL && index < car->defects);
  CwPracticeSource source = {car->defect[index].at, {0, 0, 0}, 0};
  double level_db_spl =
      100; /* what stands for full scale, so that level_db has the drive for its reference */
  filtered_impulse(car, &source, microphone, NULL, from_db(level_db_spl - car->spl_at_full_scale), rate_hz,
                   length, response);
}
