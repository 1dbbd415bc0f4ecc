/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/recording/volts_tone.h"
#include "signal/filters/section.h"
#include "signal/stimulus/tone.h"
#include <math.h>
#include <stdbool.h>
#include <string.h>

#define N_(text) text /* collected for translation; whoever shows it translates it */
#define FULL_SCALE 0.9995
#define SILENT_RMS 3e-5
#define FAINT 1e-3
#define PART_SECONDS 0.25
#define NEAR 0.01 /* of the frequency: what is further off is something else */
#define MOST_PPM 400.0
#define STEADY_DB 0.2
#define MOST_OTHER_PERCENT 5.0 /* the meter then reads at most an eighth of a percent too much */
#define LOW_CUT_HZ 20.0

/* A quarter of a second of the recording. */
typedef struct {
  CwComplex tone; /* turned back to time 0 of the recording */
  double size, rest;
} Part;

/* A stretch of parts between which the level does not move. */
typedef struct {
  size_t first, count;
} Run;

void cw_volts_tone_render(double rate_hz, double *out)
{
  size_t frames = (size_t)lrint(CW_VOLTS_TONE_SECONDS * rate_hz);

  for (size_t i = 0; i < frames; i++) {
    double cycles = CW_VOLTS_TONE_HZ * (double)i / rate_hz;
    out[i] = pow(10, CW_VOLTS_TONE_DBFS / 20) * sin(2 * M_PI * (cycles - floor(cycles)));
  }
}

const char *cw_volts_tone_fault_text(CwVoltsToneFault fault)
{
  switch (fault) {
  case CW_VOLTS_TONE_SILENT:
    return N_("nothing comes in: check that the radio plays and that the lead is connected");
  case CW_VOLTS_TONE_CLIPPED:
    return N_("the recorder's input is full: turn it down, and record the tone again");
  case CW_VOLTS_TONE_ABSENT:
    return N_("the tone of 113 Hz is not what is heard: either another track plays, or this lead does not "
              "carry it, as a tweeter's does not; then choose another lead");
  case CW_VOLTS_TONE_OFF:
    return N_("a tone is heard, but its pitch is not the track's: play the track itself, at its own speed");
  case CW_VOLTS_TONE_FAINT:
    return N_("the tone hardly comes in: turn the recorder's input up, or choose a lead that carries the "
              "bass");
  case CW_VOLTS_TONE_SHORT:
    return N_("less than two seconds of the tone are in it: record five, while it plays");
  case CW_VOLTS_TONE_UNSTEADY:
    return N_("the tone's level is not steady: leave the volume alone while it plays, and record it again");
  case CW_VOLTS_TONE_NOISY:
  default:
    return N_("more than a twentieth of what comes in is not the tone but hum, noise or distortion: turn the "
              "radio down if it clips, look for a ground loop, or choose another lead");
  }
}

static Part *split(const double *samples, size_t parts, size_t length, double hz, double rate_hz)
{
  Part *part = cw_alloc_bytes((parts + 1) * sizeof *part);

  for (size_t i = 0; i < parts; i++) {
    double cycles = hz * (double)(i * length) / rate_hz;
    CwComplex tone = cw_tone_fit(samples + i * length, length, hz, rate_hz, &part[i].rest);
    part[i].size = cabs(tone);
    part[i].tone = tone * cexp(-2 * M_PI * I * (cycles - floor(cycles)));
  }
  return part;
}

static double apart_db(double a, double b)
{
  return fabs(20 * log10(fmax(a, 1e-12) / fmax(b, 1e-12)));
}

/* The longest steady stretch. Its first and last parts, in which the tone begins and ends, are left out.
 * *moved tells whether another stretch long enough has another level. */
static Run find_run(const Part *part, size_t parts, size_t least, bool *moved)
{
  Run best = {0, 0};
  double top = 0;
  *moved = false;
  for (size_t i = 0; i < parts; i++)
    top = fmax(top, part[i].size);
  for (size_t from = 0; from < parts;) {
    size_t to = from + 1;
    while (to < parts && apart_db(part[to].size, part[from].size) < STEADY_DB)
      to++;
    size_t begins = from > 0, ends = to < parts;
    if (part[from].size > 0.1 * top && to - from >= least + begins + ends) {
      Run run = {from + begins, to - from - begins - ends};
      if (best.count && apart_db(part[run.first].size, part[best.first].size) > STEADY_DB)
        *moved = true;
      if (run.count > best.count)
        best = run;
    }
    from = to;
  }
  return best;
}

/* How far the tone's frequency is from hz, by the turn of its phase from part to part: a straight line. */
static double off_hz(const Part *part, Run run, double part_seconds)
{
  double turn = 0, sum = 0, weight = 0, middle = 0.5 * ((double)run.count - 1);

  for (size_t k = 0; k < run.count; k++) {
    if (k > 0)
      turn += carg(part[run.first + k].tone / part[run.first + k - 1].tone);
    sum += ((double)k - middle) * turn;
    weight += ((double)k - middle) * ((double)k - middle);
  }
  return sum / weight / (2 * M_PI * part_seconds);
}

static void read_clean(const double *clean, size_t frames, double rate_hz, double found_hz,
                       CwVoltsToneReading *reading)
{
  size_t length = (size_t)(PART_SECONDS * rate_hz), parts = frames / length,
         least = (size_t)lrint(CW_VOLTS_TONE_LEAST_SECONDS / PART_SECONDS);
  Part *part = split(clean, parts, length, found_hz, rate_hz);
  bool moved;
  Run run = find_run(part, parts, least, &moved);
  double rest, size = 0;

  if (moved)
    reading->faults |= CW_VOLTS_TONE_UNSTEADY;
  if (run.count) {
    double hz = found_hz + off_hz(part, run, (double)length / rate_hz);
    size = cabs(cw_tone_fit(clean + run.first * length, run.count * length, hz, rate_hz, &rest));
    reading->ppm = 1e6 * (hz / CW_VOLTS_TONE_HZ - 1);
    reading->amplitude = size;
    reading->seconds = (double)(run.count * length) / rate_hz;
    reading->other_percent = 100 * sqrt(2 * rest) / size;
    if (!(fabs(reading->ppm) <= MOST_PPM))
      reading->faults |= CW_VOLTS_TONE_OFF;
    if (reading->other_percent > MOST_OTHER_PERCENT)
      reading->faults |= CW_VOLTS_TONE_NOISY;
    if (size < FAINT)
      reading->faults |= CW_VOLTS_TONE_FAINT;
  } else {
    double top = 0;
    size_t sounding = 0;
    for (size_t i = 0; i < parts; i++)
      top = fmax(top, part[i].size);
    for (size_t i = 0; i < parts; i++)
      sounding += part[i].size > 0.1 * top;
    reading->faults |= sounding > least + 2 ? CW_VOLTS_TONE_UNSTEADY : CW_VOLTS_TONE_SHORT;
  }
  cw_free(part);
}

CwVoltsToneReading cw_volts_tone_read(const double *samples, size_t frames, double rate_hz)
{
  CwVoltsToneReading reading = {.ppm = NAN, .amplitude = NAN, .seconds = NAN, .other_percent = NAN};
  CwSection low_cut = {CW_SECTION_HIGH_PASS, LOW_CUT_HZ, 0, M_SQRT1_2};
  CwCoefficients cascade;
  double power = 0, *clean;
  size_t full = 0, settled = (size_t)(0.2 * rate_hz);

  for (size_t i = 0; i < frames; i++)
    full += fabs(samples[i]) >= FULL_SCALE;
  if (full >= 2)
    reading.faults |= CW_VOLTS_TONE_CLIPPED;
  if ((double)frames < (CW_VOLTS_TONE_LEAST_SECONDS + 0.2) * rate_hz ||
      !cw_section_design(&low_cut, rate_hz, &cascade)) {
    reading.faults |= CW_VOLTS_TONE_SHORT;
    return reading;
  }
  clean = cw_alloc_real(frames);
  memcpy(clean, samples, frames * sizeof *clean);
  cw_cascade_run(&cascade, 1, clean, frames); /* an input's offset is not seen by the meter */
  for (size_t i = settled; i < frames; i++)
    power += clean[i] * clean[i] / (double)(frames - settled);
  size_t whole = cw_fft_good_length((frames - settled) * 9 / 10);
  double found_hz = cw_tone_strongest_hz(clean + settled, whole, rate_hz, LOW_CUT_HZ);
  if (sqrt(power) < SILENT_RMS)
    reading.faults |= CW_VOLTS_TONE_SILENT;
  else if (!(fabs(found_hz / CW_VOLTS_TONE_HZ - 1) < NEAR))
    reading.faults |= CW_VOLTS_TONE_ABSENT;
  else
    read_clean(clean + settled, frames - settled, rate_hz, found_hz, &reading);
  /* What the low cut took off the tone is put back. */
  reading.amplitude /= cabs(cw_coefficients_response(&cascade, CW_VOLTS_TONE_HZ, rate_hz));
  cw_free(clean);
  return reading;
}
