/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/live_spectrum.h"
#include "signal/fft.h"
#include <math.h>
#include <stdatomic.h>
#include <stdint.h>
#include <string.h>

#define SHORTEST_SECONDS 0.08
#define LONGEST_SECONDS 1.3
#define BINS_A_BAND 4.0 /* with fewer the band's flanks leave the mask of IEC 61260-1, class 1 */
#define BINS_BELOW 9.0  /* the lower edge from 0 Hz: nearer, what is far below leaks into a wide band */
#define MOST_RUNGS 6
#define RENEW_PART                                                                                           \
  8 /* a window is taken again when this part of it is new: more often would tell nothing                    \
     */
#define MOST_UNTOLD 256 /* samples in the ring that have not been told as pushed yet */
#define FRESH 4u        /* beside the number of the middle slot */

/* One length of window. */
typedef struct {
  size_t length;
  const CwFft *fft;
  double *shape;
  uint64_t taken_at; /* samples pushed when it was last taken; 0 for never */
  double seconds;    /* of averaging so far */
} Rung;

typedef struct {
  size_t rung, first_bin, last_bin;
  double first_part, last_part; /* of those two bins that lie in the band */
  double power, peak;           /* NAN before the first */
} BandState;

struct CwLiveSpectrum {
  double rate_hz;
  size_t count, rungs, ring_mask;
  CwBand *bands;
  BandState *states;
  Rung rung[MOST_RUNGS];
  CwBallistics ballistics;
  _Atomic float *ring; /* atomic, since a copy may be overtaken while it is made (and is then thrown away) */
  _Atomic uint64_t pushed;
  double *part;     /* work space */
  CwComplex *bins;  /* work space */
  double *slots[3]; /* levels, then peaks: one being written, one being read, one between */
  unsigned back, front;
  atomic_uint middle;
};

static void make_rungs(CwLiveSpectrum *live)
{
  size_t length = 256;

  while ((double)length < SHORTEST_SECONDS * live->rate_hz)
    length *= 2;
  do {
    Rung *rung = &live->rung[live->rungs++];
    double power = 0;
    rung->length = length;
    rung->fft = cw_fft_get(length);
    rung->shape = cw_alloc_real(length);
    for (size_t i = 0; i < length; i++) {
      rung->shape[i] = 0.5 - 0.5 * cos(2 * M_PI * ((double)i + 0.5) / (double)length);
      power += rung->shape[i] * rung->shape[i];
    }
    /* Scaled so that twice a bin's squared magnitude, added over bins, is the mean square. */
    for (size_t i = 0; i < length; i++)
      rung->shape[i] *= sqrt(2 / (power * (double)length));
    length *= 2;
  } while (live->rungs < MOST_RUNGS && (double)length / 2 < LONGEST_SECONDS * live->rate_hz);
}

static void place_band(CwLiveSpectrum *live, size_t index)
{
  const CwBand *band = &live->bands[index];
  BandState *state = &live->states[index];
  double bin_hz, low, high;

  do
    bin_hz = live->rate_hz / (double)live->rung[state->rung].length;
  while (((band->high_hz - band->low_hz) / bin_hz < BINS_A_BAND || band->low_hz / bin_hz < BINS_BELOW) &&
         ++state->rung < live->rungs);
  if (state->rung == live->rungs)
    state->rung--;
  low = band->low_hz / bin_hz + 0.5;
  high = band->high_hz / bin_hz + 0.5;
  state->first_bin = (size_t)low;
  state->last_bin = (size_t)high;
  state->first_part = fmin(high, (double)state->first_bin + 1) - low;
  state->last_part = state->last_bin > state->first_bin ? high - (double)state->last_bin : 0;
  state->power = state->peak = NAN;
}

CwLiveSpectrum *cw_live_spectrum_new(double rate_hz, int fraction, double low_hz, double high_hz)
{
  CwLiveSpectrum *live = cw_alloc_bytes(sizeof *live);
  size_t ring = 1;

  live->rate_hz = rate_hz;
  make_rungs(live);
  live->count = cw_bands_within(fraction, low_hz, high_hz, NULL, 0);
  live->bands = cw_alloc_bytes(live->count * sizeof *live->bands);
  live->states = cw_alloc_bytes(live->count * sizeof *live->states);
  cw_bands_within(fraction, low_hz, high_hz, live->bands, live->count);
  while (live->count > 0 && live->bands[live->count - 1].high_hz >= rate_hz / 2)
    live->count--;
  for (size_t i = 0; i < live->count; i++)
    place_band(live, i);

  size_t longest = live->rung[live->rungs - 1].length;
  while (ring < 2 * longest)
    ring *= 2;
  live->ring_mask = ring - 1;
  live->ring = cw_alloc_bytes(ring * sizeof *live->ring);
  live->part = cw_alloc_real(longest);
  live->bins = cw_alloc_complex(longest / 2 + 1);
  for (size_t i = 0; i < live->rungs; i++) /* makes the plans, which allocates, before anything runs */
    cw_fft_forward(live->rung[i].fft, live->part, live->bins);
  for (unsigned i = 0; i < 3; i++) {
    live->slots[i] = cw_alloc_real(2 * live->count);
    for (size_t k = 0; k < 2 * live->count; k++)
      live->slots[i][k] = NAN;
  }
  live->front = 1;
  atomic_init(&live->middle, 2);
  atomic_init(&live->pushed, 0);
  return live;
}

void cw_live_spectrum_free(CwLiveSpectrum *live)
{
  if (!live)
    return;
  for (size_t i = 0; i < live->rungs; i++)
    cw_free(live->rung[i].shape);
  for (int i = 0; i < 3; i++)
    cw_free(live->slots[i]);
  cw_free(live->bands);
  cw_free(live->states);
  cw_free(live->ring);
  cw_free(live->part);
  cw_free(live->bins);
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

void cw_live_spectrum_push(CwLiveSpectrum *live, const float *samples, size_t stride, size_t count)
{
  uint64_t at = atomic_load_explicit(&live->pushed, memory_order_relaxed);

  for (size_t i = 0; i < count; i++) {
    atomic_store_explicit(&live->ring[(at + i) & live->ring_mask], samples[i * stride], memory_order_release);
    if ((i + 1) % MOST_UNTOLD == 0 || i + 1 == count)
      atomic_store_explicit(&live->pushed, at + i + 1, memory_order_release);
  }
}

/* Transforms the newest window of a rung. False where the pushing thread overtook the copy, which then is
 * worthless. */
static bool take_window(CwLiveSpectrum *live, const Rung *rung, uint64_t now)
{
  for (size_t i = 0; i < rung->length; i++)
    live->part[i] =
        rung->shape[i] * (double)atomic_load_explicit(&live->ring[(now - rung->length + i) & live->ring_mask],
                                                      memory_order_acquire);
  if (atomic_load_explicit(&live->pushed, memory_order_acquire) + MOST_UNTOLD - now >
      live->ring_mask + 1 - rung->length)
    return false;
  cw_fft_forward(rung->fft, live->part, live->bins);
  return true;
}

static double bin_power(const CwLiveSpectrum *live, size_t bin)
{
  return creal(live->bins[bin]) * creal(live->bins[bin]) + cimag(live->bins[bin]) * cimag(live->bins[bin]);
}

static double band_power(const CwLiveSpectrum *live, const BandState *state)
{
  double sum = state->first_part * bin_power(live, state->first_bin) +
               state->last_part * bin_power(live, state->last_bin);

  for (size_t k = state->first_bin + 1; k < state->last_bin; k++)
    sum += bin_power(live, k);
  return sum;
}

/* How much of a new power enters the level when new_seconds have passed and seconds are in it already. */
static double share_of_new(CwBallistics ballistics, double new_seconds, double seconds)
{
  switch (ballistics) {
  case CW_BALLISTICS_FAST:
    return 1 - exp(-new_seconds / 0.125);
  case CW_BALLISTICS_SLOW:
    return 1 - exp(-new_seconds / 1.0);
  case CW_BALLISTICS_AVERAGE:
  default:
    return new_seconds / (seconds + new_seconds);
  }
}

static void update_rung(CwLiveSpectrum *live, size_t number, uint64_t now)
{
  Rung *rung = &live->rung[number];
  double new_seconds = (double)(rung->taken_at ? now - rung->taken_at : rung->length) / live->rate_hz;
  double share = share_of_new(live->ballistics, new_seconds, rung->seconds);

  for (size_t i = 0; i < live->count; i++) {
    BandState *state = &live->states[i];
    if (state->rung != number)
      continue;
    double power = band_power(live, state);
    state->power = isnan(state->power) ? power : state->power + share * (power - state->power);
    state->peak = fmax(state->peak, power);
  }
  rung->taken_at = now;
  rung->seconds += new_seconds;
}

static void publish(CwLiveSpectrum *live)
{
  double *slot = live->slots[live->back];

  for (size_t i = 0; i < live->count; i++) {
    slot[i] = 10 * log10(live->states[i].power + 1e-30);
    slot[live->count + i] = 10 * log10(live->states[i].peak + 1e-30);
  }
  live->back = atomic_exchange_explicit(&live->middle, live->back | FRESH, memory_order_acq_rel) & ~FRESH;
}

bool cw_live_spectrum_update(CwLiveSpectrum *live)
{
  uint64_t now = atomic_load_explicit(&live->pushed, memory_order_acquire);
  bool any = false;

  for (size_t i = 0; i < live->rungs; i++) {
    Rung *rung = &live->rung[i];
    if (now < rung->length || now - rung->taken_at < rung->length / RENEW_PART)
      continue;
    if (take_window(live, rung, now)) {
      update_rung(live, i, now);
      any = true;
    }
  }
  if (any)
    publish(live);
  return any;
}

static void forget(CwLiveSpectrum *live, bool peaks)
{
  for (size_t i = 0; i < live->count; i++) {
    live->states[i].power = NAN;
    if (peaks)
      live->states[i].peak = NAN;
  }
  for (size_t i = 0; i < live->rungs; i++)
    live->rung[i].seconds = 0;
}

void cw_live_spectrum_set_ballistics(CwLiveSpectrum *live, CwBallistics ballistics)
{
  live->ballistics = ballistics;
  forget(live, false);
}

void cw_live_spectrum_reset(CwLiveSpectrum *live)
{
  forget(live, true);
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
