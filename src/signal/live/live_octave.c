/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/live/live_octave.h"
#include <math.h>
#include <string.h>

#define HOP_SECONDS 0.05                   /* as often as the levels are looked at ... */
#define LONGEST_HOP (CW_LIVE_WINDOW / 4)   /* ... but every sample counts the same, */
#define SHORTEST_HOP (CW_LIVE_WINDOW / 64) /* and more often tells nothing */

/* Samples of a stage's rate until the decimators before it hold nothing but the stream. */
static size_t settling(unsigned number)
{
  size_t samples = 0;

  for (unsigned i = 0; i < number; i++)
    samples = (samples + CW_DECIMATOR_TAPS - 1 + 1) / 2;
  return samples;
}

void cw_live_octave_init(CwLiveOctave *stage, unsigned number, double rate_hz)
{
  stage->rate_hz = rate_hz;
  stage->hop = LONGEST_HOP;
  while (stage->hop > SHORTEST_HOP && (double)stage->hop > HOP_SECONDS * rate_hz)
    stage->hop /= 2;
  stage->settling = settling(number);
  stage->skipped = stage->held = stage->fresh = 0;
  cw_decimator_init(&stage->decimator);
}

double cw_live_octave_seconds(const CwLiveOctave *stage)
{
  return (double)(CW_LIVE_WINDOW + stage->settling) / stage->rate_hz;
}

void cw_live_octave_restart(CwLiveOctave *stage)
{
  stage->skipped = stage->held = stage->fresh = 0;
}

void cw_live_octave_reset(CwLiveOctave *stage)
{
  stage->fresh = 0;
}

bool cw_live_octave_is_fresh(const CwLiveOctave *stage)
{
  return stage->fresh == CW_LIVE_WINDOW + stage->settling;
}

static size_t smaller(size_t a, size_t b)
{
  return a < b ? a : b;
}

size_t cw_live_octave_take(CwLiveOctave *stage, const double *samples, size_t count)
{
  size_t skipped = smaller(count, stage->settling - stage->skipped),
         taken = smaller(count - skipped, CW_LIVE_WINDOW - stage->held);

  memcpy(stage->samples + stage->held, samples + skipped, taken * sizeof *samples);
  stage->skipped += skipped;
  stage->held += taken;
  stage->fresh = smaller(stage->fresh + skipped + taken, CW_LIVE_WINDOW + stage->settling);
  return skipped + taken;
}

bool cw_live_octave_is_whole(const CwLiveOctave *stage)
{
  return stage->held == CW_LIVE_WINDOW;
}

void cw_live_octave_step(CwLiveOctave *stage)
{
  stage->held -= stage->hop;
  memmove(stage->samples, stage->samples + stage->hop, stage->held * sizeof *stage->samples);
}

void cw_live_octave_analyse(const CwLiveOctave *stage, CwLiveAnalyser *analyser)
{
  for (size_t i = 0; i < CW_LIVE_WINDOW; i++)
    analyser->part[i] = analyser->shape[i] * stage->samples[i];
  cw_fft_forward(analyser->fft, analyser->part, analyser->bins);
  for (size_t k = 0; k <= CW_LIVE_WINDOW / 2; k++)
    analyser->power[k] = creal(analyser->bins[k]) * creal(analyser->bins[k]) +
                         cimag(analyser->bins[k]) * cimag(analyser->bins[k]);
}

void cw_live_analyser_init(CwLiveAnalyser *analyser)
{
  double power = 0;

  analyser->fft = cw_fft_get(CW_LIVE_WINDOW);
  analyser->shape = cw_alloc_real(CW_LIVE_WINDOW);
  analyser->part = cw_alloc_real(CW_LIVE_WINDOW);
  analyser->bins = cw_alloc_complex(CW_LIVE_WINDOW / 2 + 1);
  for (size_t i = 0; i < CW_LIVE_WINDOW; i++) { /* Hann's window */
    analyser->shape[i] = 0.5 - 0.5 * cos(2 * M_PI * ((double)i + 0.5) / CW_LIVE_WINDOW);
    power += analyser->shape[i] * analyser->shape[i];
  }
  /* Scaled so that the squared magnitudes of the bins at positive frequencies add up to the mean square. */
  for (size_t i = 0; i < CW_LIVE_WINDOW; i++)
    analyser->shape[i] *= sqrt(2 / (power * CW_LIVE_WINDOW));
  /* The transform's plan is made here, which allocates and locks, before anything runs. */
  cw_fft_forward(analyser->fft, analyser->part, analyser->bins);
}

void cw_live_analyser_clear(CwLiveAnalyser *analyser)
{
  cw_free(analyser->shape);
  cw_free(analyser->part);
  cw_free(analyser->bins);
}
