/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/repeated_sweeps.h"
#include "signal/resample.h"
#include "signal/sort.h"
#include <math.h>
#include <string.h>

#define LEAST_DISAGREEMENT_DB                                                                                \
  (-26.0) /* a twentieth of the amplitude: a hand's width at the low end, a centimetre at the high one */
#define ABOVE_NOISE_DB 6.0
#define SILENCE_SECONDS 0.4 /* of the recording's start, which holds nothing but noise */
#define LEAD_SECONDS 0.02   /* of the mean before the sweep: its speaker may be nearer than the marker's */
#define SPARE_SECONDS 0.05  /* of a period's end that is left out: the second marker follows it */
#define REST_SECONDS 0.4    /* at a period's end, when the cabin has died away */
#define FEWEST_TO_BLAME 3   /* of two that differ neither can be told to be the wrong one */

static double *fold(const double *samples, size_t frames, size_t period, unsigned repeats)
{
  double *mean = cw_alloc_real(frames);

  for (unsigned k = 0; k < repeats; k++)
    for (size_t i = 0; i < frames; i++)
      mean[i] += samples[i + k * period] / repeats;
  return mean;
}

static bool stands_out(double difference, double signal, double noise)
{
  return difference > signal * pow(10, LEAST_DISAGREEMENT_DB / 10) &&
         difference > noise * pow(10, ABOVE_NOISE_DB / 10);
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
  return stands_out(worst, signal, noise);
}

bool cw_average_repeats(const CwTakeInput *input, CwTakeInput *folded)
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

void cw_averaged_repeats_clear(CwTakeInput *folded)
{
  cw_free((void *)folded->microphone);
  cw_free((void *)folded->loopback);
}

/* The repeats in one channel on the player's clock, and which of them count. */
typedef struct {
  const double *samples;
  size_t start, count, period;
  unsigned repeats, used;
  bool left_out[CW_FEED_REPEATS_MOST];
} Repeats;

/* Adds the mean of the repeats that count; for differences a sum of them in which whatever they share cancels
 * and independent noise is as strong as in their mean: weights that add up to 0, their squares to 1 / used.
 */
static void add_sum(const Repeats *r, bool differences, double *out)
{
  unsigned n = 0, turns = r->used / 2;

  for (unsigned k = 0; k < r->repeats; k++) {
    if (r->left_out[k])
      continue;
    double weight = 1.0 / r->used;
    if (differences)
      weight *= (r->used % 2 ? M_SQRT2 : 1) * cos(2 * M_PI * turns * n / r->used);
    for (size_t i = 0; i < r->count; i++)
      out[i] += weight * r->samples[r->start + k * r->period + i];
    n++;
  }
}

static double mean_square(const double *samples, size_t count)
{
  double sum = 0;

  for (size_t i = 0; i < count; i++)
    sum += samples[i] * samples[i];
  return sum / (double)count;
}

/* The usual noise at the end of a repeat: what was loud in one of them is not the noise of all. */
static double rest_noise(const Repeats *r, double rate_hz)
{
  size_t rest = (size_t)(REST_SECONDS * rate_hz);
  double power[CW_FEED_REPEATS_MOST];

  for (unsigned k = 0; k < r->repeats; k++)
    power[k] = mean_square(r->samples + r->start + k * r->period + r->count - rest, rest);
  cw_sort_rising(power, r->repeats);
  return power[r->repeats / 2];
}

/* Which of the repeats that count differs most from their mean, if by more than its noise; -1 for none. */
static int find_odd_one(const Repeats *r, double noise)
{
  double *mean = cw_alloc_real(r->count), worst = 0, signal;
  int odd = -1;

  add_sum(r, false, mean);
  signal = mean_square(mean, r->count);
  for (unsigned k = 0; k < r->repeats; k++) {
    double power = 0;
    for (size_t i = 0; i < r->count && !r->left_out[k]; i++)
      power += pow(r->samples[r->start + k * r->period + i] - mean[i], 2) / (double)r->count;
    if (power > worst) {
      worst = power;
      odd = (int)k;
    }
  }
  cw_free(mean);
  return stands_out(worst, signal, noise) ? odd : -1;
}

/* Leaves out the one that alone differs. Returns whether they disagree all the same. */
static bool settle(Repeats *r, double rate_hz)
{
  double noise = rest_noise(r, rate_hz);
  int odd = find_odd_one(r, noise);

  if (odd < 0 || r->repeats < FEWEST_TO_BLAME)
    return odd >= 0;
  r->left_out[odd] = true;
  r->used--;
  if (find_odd_one(r, noise) < 0)
    return false;
  r->left_out[odd] = false;
  r->used++;
  return true;
}

static double *to_players_clock(const double *samples, size_t frames, double ratio)
{
  double *out = cw_alloc_real(cw_resample_frames(frames, ratio));

  cw_resample(samples, frames, ratio, out);
  return out;
}

/* The loopback of the same repeats, with silence in front. */
static double *fold_loopback(const CwTakeInput *input, const Repeats *repeats, double ratio)
{
  double *whole = to_players_clock(input->loopback, input->frames, ratio),
         *folded = cw_alloc_real(2 * repeats->count);
  Repeats own = *repeats;

  own.samples = whole;
  add_sum(&own, false, folded + own.count);
  cw_free(whole);
  return folded;
}

void cw_average_between_markers(const CwTakeInput *input, CwMarkedRepeats *fold)
{
  const CwSweepFeed *feed = input->feed;
  CwTakeInput marked = *input;
  Repeats r = {.repeats = feed->repeats, .used = feed->repeats};
  double *whole, *folded, ratio, rate_hz = input->rate_hz, first_frame, before;

  memset(fold, 0, sizeof *fold);
  marked.timing = CW_TIMING_MARKER;
  fold->place = cw_feed_place(&marked);
  ratio = rate_hz / fold->place.player_rate_hz;
  first_frame = fold->place.reference_frame * ratio;
  r.start = (size_t)fmax(floor(first_frame - LEAD_SECONDS * rate_hz), 0);
  r.period = (size_t)lrint(feed->period_seconds * rate_hz);
  r.count = r.period - (size_t)(SPARE_SECONDS * rate_hz);
  fold->found = fold->place.found &&
                r.start + (r.repeats - 1) * r.period + r.count <= cw_resample_frames(input->frames, ratio);
  if (!fold->found)
    return;
  r.samples = whole = to_players_clock(input->microphone, input->frames, ratio);
  fold->disagree = settle(&r, rate_hz);
  folded = cw_alloc_real(2 * r.count);
  add_sum(&r, true, folded);
  add_sum(&r, false, folded + r.count);
  cw_free(whole);
  before = (double)r.start - (double)r.count; /* where folded's first sample lies in the recording */
  fold->feed = *feed;
  fold->feed.repeats = 1;
  fold->feed.has_marker = false;
  fold->feed.sweep_at -= before / rate_hz;
  fold->input = *input;
  fold->input.feed = &fold->feed;
  fold->input.microphone = folded;
  fold->input.loopback = input->loopback ? fold_loopback(input, &r, ratio) : NULL;
  fold->input.frames = 2 * r.count;
  if (input->timing != CW_TIMING_MARKER) {
    double agreement = fold->place.agreement;
    fold->place = cw_feed_place(&fold->input);
    fold->place.agreement = agreement;
    return;
  }
  fold->place.player_rate_hz = rate_hz;
  fold->place.reference_frame = first_frame - before;
}

void cw_marked_repeats_clear(CwMarkedRepeats *fold)
{
  cw_free((void *)fold->input.microphone);
  cw_free((void *)fold->input.loopback);
}
