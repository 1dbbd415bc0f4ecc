/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/live/live_spectrum.h"
#include "signal/live/live_octave.h"
#include <math.h>
#include <stdatomic.h>
#include <stdint.h>
#include <string.h>

#define BINS_A_BAND 4.0 /* with fewer the band's flanks leave the mask of IEC 61260-1, class 1 */
#define BINS_BELOW 14.0 /* the lower edge from 0 Hz: nearer, what is far below leaks into a wide band */
#define MOST_STAGES 16
#define RING_SECONDS 2.0 /* how late the worker may come */
#define MOST_UNTOLD 256  /* samples in the ring that have not been told as pushed yet */
#define FRESH 4u         /* beside the number of the middle slot */

typedef struct {
  unsigned stage;
  size_t first_bin, last_bin;
  double first_part, last_part; /* of those two bins that lie in the band */
  double recent, highest;       /* fast or slow; NAN before the first */
  double mean, mean_seconds;    /* since the last reset */
} BandState;

struct CwLiveSpectrum {
  size_t count, ring_mask;
  unsigned stages;
  CwBand *bands;
  BandState *states;
  CwLiveOctave *stage;
  CwLiveAnalyser analyser;
  CwBallistics ballistics;
  _Atomic float *ring; /* atomic, since a copy may be overtaken while it is made (and is then thrown away) */
  _Atomic uint64_t pushed;
  uint64_t taken;   /* by the worker */
  double *slots[3]; /* levels, then the highest: one being written, one being read, one between */
  unsigned back, front;
  atomic_uint middle;
};

/* The highest rate at which a window resolves the band. A band's upper edge then lies below 0.3 of that rate
 * unless it is the stream's own, so halving has left it untouched. */
static unsigned stage_of(const CwBand *band, double rate_hz)
{
  double bin_hz = fmin((band->high_hz - band->low_hz) / BINS_A_BAND, band->low_hz / BINS_BELOW);
  unsigned number = 0;

  while (number + 1 < MOST_STAGES && rate_hz / CW_LIVE_WINDOW > bin_hz) {
    rate_hz /= 2;
    number++;
  }
  return number;
}

static void place_band(CwLiveSpectrum *live, size_t index, double rate_hz)
{
  const CwBand *band = &live->bands[index];
  BandState *state = &live->states[index];

  state->stage = stage_of(band, rate_hz);
  double bin_hz = ldexp(rate_hz, -(int)state->stage) / CW_LIVE_WINDOW;
  double low = band->low_hz / bin_hz + 0.5, high = band->high_hz / bin_hz + 0.5;
  state->first_bin = (size_t)low;
  state->last_bin = (size_t)high;
  state->first_part = fmin(high, (double)state->first_bin + 1) - low;
  state->last_part = state->last_bin > state->first_bin ? high - (double)state->last_bin : 0;
  state->recent = state->highest = state->mean = NAN;
}

static void make_slots(CwLiveSpectrum *live)
{
  for (unsigned i = 0; i < 3; i++) {
    live->slots[i] = cw_alloc_real(2 * live->count);
    for (size_t k = 0; k < 2 * live->count; k++)
      live->slots[i][k] = NAN;
  }
  live->front = 1;
  atomic_init(&live->middle, 2);
}

CwLiveSpectrum *cw_live_spectrum_new(double rate_hz, int fraction, double low_hz, double high_hz)
{
  CwLiveSpectrum *live = cw_alloc_bytes(sizeof *live);
  size_t ring = 4 * CW_DECIMATOR_BLOCK;

  live->count = cw_bands_within(fraction, low_hz, high_hz, NULL, 0);
  live->bands = cw_alloc_bytes(live->count * sizeof *live->bands);
  live->states = cw_alloc_bytes(live->count * sizeof *live->states);
  cw_bands_within(fraction, low_hz, high_hz, live->bands, live->count);
  while (live->count > 0 && live->bands[live->count - 1].high_hz >= rate_hz / 2)
    live->count--;
  for (size_t i = 0; i < live->count; i++)
    place_band(live, i, rate_hz);
  live->stages = live->count ? live->states[0].stage + 1 : 1;
  live->stage = cw_alloc_bytes(live->stages * sizeof *live->stage);
  for (unsigned i = 0; i < live->stages; i++)
    cw_live_octave_init(&live->stage[i], i, ldexp(rate_hz, -(int)i));
  cw_live_analyser_init(&live->analyser);
  while ((double)ring < RING_SECONDS * rate_hz)
    ring *= 2;
  live->ring_mask = ring - 1;
  live->ring = cw_alloc_bytes(ring * sizeof *live->ring);
  make_slots(live);
  atomic_init(&live->pushed, 0);
  return live;
}

void cw_live_spectrum_free(CwLiveSpectrum *live)
{
  if (!live)
    return;
  for (int i = 0; i < 3; i++)
    cw_free(live->slots[i]);
  cw_live_analyser_clear(&live->analyser);
  cw_free(live->bands);
  cw_free(live->states);
  cw_free(live->stage);
  cw_free(live->ring);
  cw_free(live);
}

size_t cw_live_spectrum_band_count(const CwLiveSpectrum *live)
{
  return live->count;
}

const CwBand *cw_live_spectrum_bands(const CwLiveSpectrum *live)
{
  return live->bands;
}

double cw_live_spectrum_seconds(const CwLiveSpectrum *live, size_t band)
{
  return cw_live_octave_seconds(&live->stage[live->states[band].stage]);
}

void cw_live_spectrum_push(CwLiveSpectrum *live, const float *samples, size_t stride, size_t count)
{
  uint64_t at = atomic_load_explicit(&live->pushed, memory_order_relaxed);

  for (size_t i = 0; i < count; i++) {
    atomic_store_explicit(&live->ring[(at + i) & live->ring_mask], samples[i * stride], memory_order_release);
    if ((i + 1) % MOST_UNTOLD == 0 || i + 1 == count)
      atomic_store_explicit(&live->pushed, at + i + 1, memory_order_release);
  }
}

static double band_power(const double *power, const BandState *state)
{
  double sum = state->first_part * power[state->first_bin] + state->last_part * power[state->last_bin];

  for (size_t k = state->first_bin + 1; k < state->last_bin; k++)
    sum += power[k];
  return sum;
}

/* A window's power enters the levels: recent ones by the time weighting, the mean by its time. */
static void enter(CwLiveSpectrum *live, BandState *state, double power, double seconds, bool fresh)
{
  double constant = live->ballistics == CW_BALLISTICS_SLOW ? 1 : 0.125;

  if (isnan(state->recent) && !fresh)
    return;
  state->recent = isnan(state->recent) ? power : power + exp(-seconds / constant) * (state->recent - power);
  state->highest = fmax(state->highest, state->recent);
  if (!fresh)
    return;
  state->mean_seconds += seconds;
  state->mean =
      isnan(state->mean) ? power : state->mean + seconds / state->mean_seconds * (power - state->mean);
}

static void analyse(CwLiveSpectrum *live, unsigned number)
{
  CwLiveOctave *stage = &live->stage[number];
  bool fresh = cw_live_octave_is_fresh(stage);

  cw_live_octave_analyse(stage, &live->analyser);
  for (size_t i = 0; i < live->count; i++)
    if (live->states[i].stage == number)
      enter(live, &live->states[i], band_power(live->analyser.power, &live->states[i]),
            (double)stage->hop / stage->rate_hz, fresh);
  cw_live_octave_step(stage);
}

/* Hands a block down through the stages, each at half the rate of the one before. Returns how many windows
 * became whole. */
static unsigned feed(CwLiveSpectrum *live, double *block, size_t count)
{
  unsigned windows = 0;

  for (unsigned number = 0; number < live->stages && count; number++) {
    CwLiveOctave *stage = &live->stage[number];
    for (size_t at = 0; at < count;) {
      at += cw_live_octave_take(stage, block + at, count - at);
      if (cw_live_octave_is_whole(stage)) {
        analyse(live, number);
        windows++;
      }
    }
    count = number + 1 < live->stages ? cw_decimator_run(&stage->decimator, block, count, block) : 0;
  }
  return windows;
}

/* Copies what comes next out of the ring. Returns 0 where there is nothing; where the pushing thread has
 * overtaken the copy it is worthless, and the stages begin again with what is newest. */
static size_t copy_next(CwLiveSpectrum *live, double *block)
{
  uint64_t now = atomic_load_explicit(&live->pushed, memory_order_acquire), waiting = now - live->taken;
  size_t count = waiting < CW_DECIMATOR_BLOCK ? (size_t)waiting : CW_DECIMATOR_BLOCK;

  for (size_t i = 0; i < count; i++)
    block[i] =
        (double)atomic_load_explicit(&live->ring[(live->taken + i) & live->ring_mask], memory_order_acquire);
  now = atomic_load_explicit(&live->pushed, memory_order_acquire);
  if (now + MOST_UNTOLD - live->taken > live->ring_mask + 1) {
    live->taken = now;
    for (unsigned i = 0; i < live->stages; i++)
      cw_live_octave_restart(&live->stage[i]);
    return 0;
  }
  live->taken += count;
  return count;
}

static double decibels(double power)
{
  return 10 * log10(power + 1e-30);
}

static void publish(CwLiveSpectrum *live)
{
  double *slot = live->slots[live->back];

  for (size_t i = 0; i < live->count; i++) {
    const BandState *state = &live->states[i];
    slot[i] = decibels(live->ballistics == CW_BALLISTICS_AVERAGE ? state->mean : state->recent);
    slot[live->count + i] = decibels(state->highest);
  }
  live->back = atomic_exchange_explicit(&live->middle, live->back | FRESH, memory_order_acq_rel) & ~FRESH;
}

bool cw_live_spectrum_update(CwLiveSpectrum *live)
{
  double block[CW_DECIMATOR_BLOCK];
  unsigned windows = 0;
  size_t count;

  while ((count = copy_next(live, block)) > 0)
    windows += feed(live, block, count);
  if (windows)
    publish(live);
  return windows > 0;
}

static void forget_means(CwLiveSpectrum *live)
{
  for (size_t i = 0; i < live->count; i++) {
    live->states[i].mean = NAN;
    live->states[i].mean_seconds = 0;
  }
  for (unsigned i = 0; i < live->stages; i++)
    cw_live_octave_reset(&live->stage[i]);
}

void cw_live_spectrum_set_ballistics(CwLiveSpectrum *live, CwBallistics ballistics)
{
  if (ballistics == CW_BALLISTICS_AVERAGE)
    forget_means(live);
  live->ballistics = ballistics;
}

void cw_live_spectrum_reset(CwLiveSpectrum *live)
{
  forget_means(live);
  for (size_t i = 0; i < live->count; i++)
    live->states[i].recent = live->states[i].highest = NAN;
}

void cw_live_spectrum_forget_highest(CwLiveSpectrum *live)
{
  for (size_t i = 0; i < live->count; i++)
    live->states[i].highest = live->states[i].recent;
}

bool cw_live_spectrum_read(CwLiveSpectrum *live, double *level_db, double *peak_db)
{
  bool fresh = atomic_load_explicit(&live->middle, memory_order_relaxed) & FRESH;

  if (fresh)
    live->front = atomic_exchange_explicit(&live->middle, live->front, memory_order_acq_rel) & ~FRESH;
  if (level_db)
    memcpy(level_db, live->slots[live->front], live->count * sizeof *level_db);
  if (peak_db)
    memcpy(peak_db, live->slots[live->front] + live->count, live->count * sizeof *peak_db);
  return fresh;
}
