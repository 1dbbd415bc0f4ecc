/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "simulator/practice_radio.h"
#include "signal/resample.h"
#include "simulator/practice_drive.h"

#include <math.h>
#include <string.h>

#define FINER                                                                                                \
  4 /* times the track's rate at which the output stage clips, so that its harmonics do not fold */
#define COUPLING_HZ 2.0   /* of the interface's inputs */
#define TAIL_SECONDS 0.05 /* for filters to ring out after the track */
#define DELAY_REACH 24

/* The share of the track that a lead plays, with balance and fader. */
static void mix(const CwPracticeLead *lead, const CwPracticeRadioPlay *play, double *out)
{
  double left = lead->left * MIN(1, 1 - play->balance), right = lead->right * MIN(1, 1 + play->balance);
  double faded = lead->end < 0 ? MIN(1, 1 - play->fader) : lead->end > 0 ? MIN(1, 1 + play->fader) : 1;
  for (gsize i = 0; i < play->track_frames; i++)
    out[i] = faded * (left * play->track[0][i] + right * play->track[1][i]);
}

static guint list_sections(const CwPracticeRadio *radio, const CwPracticeLead *lead,
                           const CwPracticeRadioPlay *play, CwCoefficients *cascade)
{
  guint count = 0;
  for (guint i = 0; i < lead->sections; i++)
    cw_section_design(&lead->section[i], play->track_rate_hz, &cascade[count++]);
  double lift =
      MIN(radio->lift_most_db, radio->lift_step_db * MAX(0, radio->lift_below_step - play->volume_step));
  CwSection shelf = {CW_SECTION_LOW_SHELF, radio->lift_hz, lift, G_SQRT2 / 2};
  if (lift > 0)
    cw_section_design(&shelf, play->track_rate_hz, &cascade[count++]);
  return count;
}

/* Delays by any part of a sample: a sinc under a cosine-squared window. */
static void delay(double *sample, gsize frames, double by)
{
  enum { TAPS = 2 * DELAY_REACH };
  gsize whole = (gsize)floor(by), before = whole + DELAY_REACH;
  double part = by - (double)whole, tap[TAPS], *padded = g_new0(double, frames + before + DELAY_REACH);
  memcpy(padded + before, sample, frames * sizeof *sample);
  for (int k = 0; k < TAPS; k++) {
    double x = DELAY_REACH - k - part, window = cos(G_PI * x / (2 * DELAY_REACH + 2));
    tap[k] = (fabs(x) < 1e-12 ? 1 : sin(G_PI * x) / (G_PI * x)) * window * window;
  }
  memset(sample, 0, frames * sizeof *sample);
  for (int k = 0; k < TAPS; k++) { /* tap by tap, so that each runs along memory */
    const double *restrict from = padded + k;
    double *restrict to = sample, weight = tap[k];
    for (gsize i = 0; i < frames; i++)
      to[i] += weight * from[i];
  }
  g_free(padded);
}

static double clip(double volts, double rail, double knee)
{
  double part = fabs(volts) / rail;
  if (knee > 0 && part > 1 - knee)
    part = 1 - knee + knee * tanh((part - 1 + knee) / knee);
  return copysign(rail * MIN(part, 1), volts);
}

/* The output stage, at a finer rate. */
static void drive_rails(const CwPracticeRadio *radio, double *sample, gsize frames)
{
  gsize finer = cw_resample_frames(frames, FINER);
  double peak = 0;
  for (gsize i = 0; i < frames; i++)
    peak = MAX(peak, fabs(sample[i]));
  if (peak < 0.5 * (1 - radio->knee) * radio->rail_v) /* nothing comes near it, not even between samples */
    return;
  double *fine = g_new(double, finer + FINER), *back = g_new(double, frames + FINER);
  cw_resample(sample, frames, FINER, fine);
  for (gsize i = 0; i < finer; i++)
    fine[i] = clip(fine[i], radio->rail_v, radio->knee);
  gsize count = cw_resample_frames(finer, 1.0 / FINER);
  cw_resample(fine, finer, 1.0 / FINER, back);
  memcpy(sample, back, MIN(count, frames) * sizeof *sample);
  g_free(fine);
  g_free(back);
}

/* Volts at a lead, at the track's rate. */
static double *lead_volts(const CwPracticeRadio *radio, const CwPracticeRadioPlay *play,
                          const CwPracticeLead *lead, gsize *frames)
{
  CwCoefficients cascade[10];
  double late = lead->delay_ms + (play->seat_set ? lead->seat_delay_ms : 0),
         samples = late * play->track_rate_hz / 1000;
  double gain = radio->full_scale_v *
                pow(10, (lead->gain_db + radio->step_db * (play->volume_step - radio->loud_step)) / 20);
  *frames = play->track_frames + (gsize)samples + (gsize)(TAIL_SECONDS * play->track_rate_hz);
  double *volts = g_new0(double, *frames);
  mix(lead, play, volts);
  cw_cascade_run(cascade, list_sections(radio, lead, play, cascade), volts, *frames);
  if (samples > 0)
    delay(volts, *frames, samples);
  for (gsize i = 0; i < *frames; i++)
    volts[i] *= lead->inverted ? -gain : gain;
  drive_rails(radio, volts, *frames);
  return volts;
}

void cw_practice_radio_record(const CwPracticeRadio *radio, const CwPracticeRadioPlay *play, guint lead,
                              double rate_hz, gsize frames, double *out)
{
  g_return_if_fail(radio && play && lead >= 1 && lead <= radio->leads);
  const CwPracticeLead *l = &radio->lead[lead - 1];
  gsize played, heard, start = (gsize)(play->start_seconds * rate_hz);
  double *volts = lead_volts(radio, play, l, &played);
  double ratio = rate_hz / (play->track_rate_hz * (1 + radio->player_ppm * 1e-6)),
         scale = 1 / CW_PRACTICE_VOLTS_PER_FULL_SCALE;
  CwPracticeNoise noise = {.state = (play->seed * 64 + lead) * 0x2545f4914f6cdd1du + 1};
  CwSection coupling = {CW_SECTION_HIGH_PASS_FIRST, COUPLING_HZ, 0, 1};
  CwCoefficients c;

  heard = cw_resample_frames(played, ratio);
  double *sound = g_new0(double, heard + 1);
  cw_resample(volts, played, ratio, sound);
  for (gsize i = 0; i < frames; i++) {
    double hum = radio->hum_v * sin(2 * G_PI * radio->hum_hz * (double)i / rate_hz + lead);
    double signal = i >= start && i - start < heard ? sound[i - start] : 0;
    out[i] = scale * (signal + hum + l->noise_v * cw_practice_noise_next(&noise));
  }
  cw_section_design(&coupling, rate_hz, &c);
  cw_cascade_run(&c, 1, out, frames);
  for (gsize i = 0; i < frames; i++)
    out[i] = CLAMP(out[i], -1, 1);
  g_free(volts);
  g_free(sound);
}
