/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/calibrator.h"
#include "signal/filters/section.h"
#include "signal/memory.h"
#include "signal/stimulus/tone.h"
#include <math.h>
#include <string.h>

#define N_(text) text /* collected for translation; whoever shows it translates it */
#define FULL_SCALE 0.9995
#define LEAST_SECONDS 2.0
#define PART_SECONDS 0.25
#define TOLERANCE 0.02
#define MOST_SPREAD_DB 0.3
#define MOST_OTHER_PERCENT 10.0
#define LOW_CUT_HZ 20.0

const char *cw_calibrator_fault_text(CwCalibratorFault fault)
{
  switch (fault) {
  case CW_CALIBRATOR_SHORT:
    return N_("less than two seconds of it: record the calibrator for five");
  case CW_CALIBRATOR_SILENT:
    return N_("silent: check cable, phantom power and input");
  case CW_CALIBRATOR_CLIPPED:
    return N_("clipped: turn the input gain down and record it again");
  case CW_CALIBRATOR_UNSTEADY:
    return N_("its level is not steady: seat the calibrator on the microphone and start recording after "
              "switching it on");
  case CW_CALIBRATOR_NOISY:
    return N_("other sound is more than a tenth of it: record it where it is quiet");
  case CW_CALIBRATOR_NO_TONE:
  default:
    return N_("no calibrator's tone, which is 1 kHz or 250 Hz: check that it is switched on and seated");
  }
}

static void read_parts(const double *samples, size_t frames, double rate_hz, CwCalibratorReading *reading)
{
  size_t part = (size_t)(PART_SECONDS * rate_hz), parts = frames / part;
  double least = INFINITY, most = 0, power = 0, other = 0, rest;

  for (size_t i = 0; i < parts; i++) {
    double amplitude = cabs(cw_tone_fit(samples + i * part, part, reading->hz, rate_hz, &rest));
    least = fmin(least, amplitude);
    most = fmax(most, amplitude);
    power += amplitude * amplitude / (double)parts;
    other += rest / (double)parts;
  }
  reading->amplitude = sqrt(power);
  reading->spread_db = 20 * log10(most / fmax(least, 1e-12));
  reading->other_percent = 100 * sqrt(2 * other / power);
}

CwCalibratorReading cw_calibrator_read(const double *samples, size_t frames, double rate_hz)
{
  CwCalibratorReading reading = {.hz = NAN, .amplitude = NAN, .spread_db = NAN, .other_percent = NAN};
  CwSection low_cut = {CW_SECTION_HIGH_PASS, LOW_CUT_HZ, 0, M_SQRT1_2};
  CwCoefficients cascade;
  size_t over = 0, settled = (size_t)(0.2 * rate_hz);
  double top = 0, *clean;

  for (size_t i = 0; i < frames; i++) {
    top = fmax(top, fabs(samples[i]));
    over += fabs(samples[i]) >= FULL_SCALE;
  }
  if ((double)frames < LEAST_SECONDS * rate_hz)
    reading.faults |= CW_CALIBRATOR_SHORT;
  if (top < 1e-5)
    reading.faults |= CW_CALIBRATOR_SILENT;
  if (over >= 2)
    reading.faults |= CW_CALIBRATOR_CLIPPED;
  if (reading.faults & (CW_CALIBRATOR_SHORT | CW_CALIBRATOR_SILENT) ||
      !cw_section_design(&low_cut, rate_hz, &cascade))
    return reading;
  clean = cw_alloc_real(frames);
  memcpy(clean, samples, frames * sizeof *clean);
  cw_cascade_run(&cascade, 1, clean, frames); /* an input's offset is not sound */
  size_t whole = cw_fft_good_length((frames - settled) / 2 + 1);
  reading.hz = cw_tone_strongest_hz(clean + settled, whole, rate_hz, LOW_CUT_HZ);
  if (fabs(reading.hz / 1000 - 1) > TOLERANCE && fabs(reading.hz / 250 - 1) > TOLERANCE)
    reading.faults |= CW_CALIBRATOR_NO_TONE;
  read_parts(clean + settled, frames - settled, rate_hz, &reading);
  /* What the low cut took off the tone is put back. */
  reading.amplitude /= cabs(cw_coefficients_response(&cascade, reading.hz, rate_hz));
  if (reading.spread_db > MOST_SPREAD_DB)
    reading.faults |= CW_CALIBRATOR_UNSTEADY;
  if (reading.other_percent > MOST_OTHER_PERCENT)
    reading.faults |= CW_CALIBRATOR_NOISY;
  cw_free(clean);
  return reading;
}
