/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/check/take_check.h"
#include "signal/response/spectrum.h"
#include "signal/sort.h"
#include <math.h>

#define BLOCK_SECONDS 0.001
#define GONE 0.12          /* of the level before, that is left */
#define BACK 0.4           /* of it, that comes back */
#define LONGEST_BLOCKS 400 /* of a dropout */
#define SHORTEST_SECONDS 0.004
#define LEAST_OVER_NOISE 40.0
#define SWEEP_LOW_HZ 45.0
#define SWEEP_HIGH_HZ 17000.0
#define CLOCK_SECONDS 50e-6 /* by which an interval may be off */
#define LOW_STEPS 600       /* of the recorder's numbers between the loudest sample and none */
#define WHINE_LOW_HZ 180.0
#define WHINE_HIGH_HZ 12000.0
#define WHINE_OVER_DB 25.0
#define WHINE_LEAST 2e-4 /* amplitude, parts of full scale */

static CwTrouble trouble_of(CwTroubleCode code, const CwRecordedTake *h)
{
  return (CwTrouble){code, (int)h->stimulus.kind, 0, 0, NAN, NAN, NAN, NAN, NAN, false};
}

/* --- dropouts --- */

typedef struct {
  const double *peak; /* of each block */
  size_t blocks;
  double noise;
} Envelope;

static double most_of(const Envelope *e, size_t from, size_t to)
{
  double most = 0;
  for (size_t i = from; i < to && i < e->blocks; i++)
    most = fmax(most, e->peak[i]);
  return most;
}

/* Blocks that hold a period of the sweep, and a little: within as many there is always a peak of it. */
static size_t period_blocks(const CwSweep *sweep, double seconds)
{
  double hz = sweep->start_hz * exp(seconds / sweep->growth_seconds);
  return (size_t)ceil(fmax(0.002, 0.6 / hz) / BLOCK_SECONDS);
}

/* The block at which a dropout begins, or 0; length is told in blocks. */
static size_t find_gap(const Envelope *e, const CwSweep *sweep, size_t first, size_t last, size_t *length)
{
  for (size_t i = first; i < last; i++) {
    size_t period = period_blocks(sweep, (double)i * BLOCK_SECONDS);
    double before = most_of(e, i - period - 2, i);
    if (before < LEAST_OVER_NOISE * e->noise || most_of(e, i + 1, i + 1 + period) > GONE * before)
      continue;
    size_t end = i + 1 + period;
    while (end < e->blocks && end < i + LONGEST_BLOCKS && e->peak[end] < GONE * before)
      end++;
    double after = most_of(e, end, end + period + 3);
    if (after > BACK * before && (double)(end - i) * BLOCK_SECONDS > SHORTEST_SECONDS) {
      *length = end - i - 1;
      return i + 1;
    }
  }
  return 0;
}

bool cw_check_dropout(const CwRecordedTake *h, CwTrouble *trouble)
{
  size_t step = (size_t)(BLOCK_SECONDS * h->rate_hz);

  for (size_t s = 0; s < h->stimulus.sweeps; s++) {
    const CwSweep *sweep = &h->stimulus.sweep[s].sweep;
    long start = lrint(h->place.start_frame + h->stimulus.sweep[s].at_seconds * h->place.player_rate_hz);
    double from = sweep->growth_seconds * log(SWEEP_LOW_HZ / sweep->start_hz),
           to = sweep->growth_seconds * log(SWEEP_HIGH_HZ / sweep->start_hz);
    size_t blocks = (size_t)(sweep->seconds / BLOCK_SECONDS);
    double *peak = cw_alloc_real(blocks);
    for (size_t c = 0; c < h->channels; c++) {
      for (size_t b = 0; b < blocks; b++) {
        peak[b] = 0;
        for (size_t i = 0; i < step; i++) {
          long at = start + lrint((double)b * BLOCK_SECONDS * h->rate_hz) + (long)i;
          peak[b] = at >= 0 && at < (long)h->frames ? fmax(peak[b], fabs(h->channel[c][at])) : peak[b];
        }
      }
      Envelope e = {peak, blocks, h->noise_rms[c]};
      size_t length = 0, gap = find_gap(&e, sweep, (size_t)(from / BLOCK_SECONDS),
                                        (size_t)fmin(to / BLOCK_SECONDS, (double)blocks - 2), &length);
      if (gap == 0)
        continue;
      *trouble = trouble_of(CW_TROUBLE_DROPOUT, h);
      trouble->lead = (int)c + 1;
      trouble->seconds = (double)start / h->rate_hz + (double)gap * BLOCK_SECONDS;
      trouble->hz = sweep->start_hz * exp((double)gap * BLOCK_SECONDS / sweep->growth_seconds);
      trouble->db = (double)length * BLOCK_SECONDS * 1e3;
      cw_free(peak);
      return true;
    }
    cw_free(peak);
  }
  return false;
}

/* --- the clock --- */

bool cw_check_clock(const CwRecordedTake *h, double known_ppm, CwTrouble *trouble)
{
  const CwStimulus *s = &h->stimulus;
  double off = 0, at = NAN;

  if (s->markers > 2 && h->place.middle_seconds > 0) {
    double one = s->marker_at[1] - s->marker_at[0], two = s->marker_at[2] - s->marker_at[1];
    double first = h->place.middle_seconds, second = h->place.interval_seconds - first;
    off = second / two * one - first;
    bool late = !isnan(known_ppm) &&
                fabs(first - one / (1 + known_ppm * 1e-6)) < fabs(second - two / (1 + known_ppm * 1e-6));
    at = s->marker_at[late ? 1 : 0];
  } else if (!isnan(known_ppm)) {
    double nominal = s->marker_at[s->markers - 1] - s->marker_at[0];
    off = nominal / (1 + known_ppm * 1e-6) - h->place.interval_seconds;
    at = s->marker_at[0];
  }
  if (h->place.steepness < 1 || fabs(off) < CLOCK_SECONDS)
    return false;
  *trouble = trouble_of(CW_TROUBLE_FRAMES_LOST, h);
  trouble->seconds = h->place.start_frame / h->rate_hz + at;
  trouble->db = off * 1e3;
  return true;
}

/* --- the recorder --- */

bool cw_check_recorded_low(const CwRecordedTake *h, CwTrouble *trouble)
{
  double loudest = 0;

  for (size_t c = 0; c < h->channels; c++)
    for (size_t i = 0; i < h->frames; i++)
      loudest = fmax(loudest, fabs(h->channel[c][i]));
  if (h->step <= 0 || loudest / h->step > LOW_STEPS)
    return false;
  *trouble = trouble_of(CW_TROUBLE_RECORDED_LOW, h);
  trouble->db = 20 * log10(loudest + 1e-9);
  return true;
}

bool cw_check_whine(const CwRecordedTake *h, size_t c, CwTrouble *trouble)
{
  size_t window = 2 * (size_t)(0.05 * h->rate_hz), bins = window / 2 + 1, total = 0;
  double *power = cw_alloc_real(bins), *one = cw_alloc_real(bins), bin_hz = h->rate_hz / (double)window,
         best = 0, at = 0;

  for (size_t s = 0; s < h->silences; s++) {
    if (h->silence[s].count < window)
      continue;
    cw_welch_power(h->channel[c] + h->silence[s].first, h->silence[s].count, window, one);
    for (size_t i = 0; i < bins; i++)
      power[i] += one[i] * (double)h->silence[s].count;
    total += h->silence[s].count;
  }
  for (size_t i = (size_t)(WHINE_LOW_HZ / bin_hz);
       total && i < (size_t)(WHINE_HIGH_HZ / bin_hz) && i + 16 < bins; i++) {
    double beside[24], line = (power[i - 1] + power[i] + power[i + 1]) / (double)total;
    size_t count = 0;
    for (size_t k = 4; k < 16; k++) {
      beside[count++] = power[i - (k < i ? k : i)] / (double)total;
      beside[count++] = power[i + k] / (double)total;
    }
    if (line > best && line > pow(10, WHINE_OVER_DB / 10) * cw_median(beside, count)) {
      best = line;
      at = (double)i * bin_hz;
    }
  }
  cw_free(power);
  cw_free(one);
  if (sqrt(2 * best) < WHINE_LEAST)
    return false;
  *trouble = trouble_of(CW_TROUBLE_WHINE, h);
  trouble->hz = at;
  trouble->db = 10 * log10(best);
  return true;
}

bool cw_check_recorder_clips(const CwRecordedTake *h, CwTrouble *trouble)
{
  for (size_t c = 0; c < h->channels; c++)
    if (h->flat[c]) {
      *trouble = trouble_of(CW_TROUBLE_RECORDER_CLIPS, h);
      trouble->lead = (int)c + 1;
      return true;
    }
  return false;
}
