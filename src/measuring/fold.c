/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/fold.h"
#include <math.h>
#include <string.h>

#define LEAST_DISAGREEMENT_DB                                                                                \
  (-26.0) /* a twentieth of the amplitude: a hand's width at the low end, a centimetre at the high one */
#define ABOVE_NOISE_DB 6.0
#define SILENCE_SECONDS 0.4 /* of the recording's start, which holds nothing but noise */

static double *fold(const double *samples, size_t frames, size_t period, unsigned repeats)
{
  double *mean = cw_alloc_real(frames);

  for (unsigned k = 0; k < repeats; k++)
    for (size_t i = 0; i < frames; i++)
      mean[i] += samples[i + k * period] / repeats;
  return mean;
}

/* Power of what each sweep differs by from their mean, of the mean itself, and of the noise. */
static bool disagree(const CwTakeInput *input, const double *mean, size_t frames, size_t period)
{
  unsigned repeats = input->feed->repeats;
  size_t quiet = (size_t)(SILENCE_SECONDS * input->rate_hz),
         first = (size_t)(input->feed->sweep_at * input->rate_hz);
  double noise = 0, signal = 0, worst = 0;

  for (size_t i = 0; i < quiet && i < frames; i++)
    noise += input->microphone[i] * input->microphone[i] / (double)quiet;
  for (size_t i = first; i < frames; i++)
    signal += mean[i] * mean[i] / (double)(frames - first);
  for (unsigned k = 0; k < repeats; k++) {
    double power = 0;
    for (size_t i = first; i < frames; i++)
      power += pow(input->microphone[i + k * period] - mean[i], 2) / (double)(frames - first);
    worst = fmax(worst, power);
  }
  return worst > signal * pow(10, LEAST_DISAGREEMENT_DB / 10) && worst > noise * pow(10, ABOVE_NOISE_DB / 10);
}

bool cw_fold_repeats(const CwTakeInput *input, CwTakeInput *folded)
{
  const CwSweepFeed *feed = input->feed;
  size_t period = (size_t)lrint(feed->period_seconds * input->rate_hz),
         most = (size_t)((feed->sweep_at + feed->period_seconds) * input->rate_hz);
  size_t left =
      input->frames > (feed->repeats - 1) * period ? input->frames - (feed->repeats - 1) * period : 0;

  *folded = *input;
  folded->frames = left < most ? left : most;
  folded->microphone = fold(input->microphone, folded->frames, period, feed->repeats);
  folded->loopback = input->loopback ? fold(input->loopback, folded->frames, period, feed->repeats) : NULL;
  return disagree(input, folded->microphone, folded->frames, period);
}

void cw_fold_clear(CwTakeInput *folded)
{
  cw_free((void *)folded->microphone);
  cw_free((void *)folded->loopback);
}
