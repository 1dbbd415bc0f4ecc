/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/disturbance.h"
#include "signal/sort.h"
#include <math.h>

#define FRAME_SECONDS 0.032
#define RATTLE_FROM_HZ 1200.0
#define RATTLE_TO_HZ 10000.0
#define RATTLE_HARMONICS 10.0 /* a driver's own harmonics matter below this multiple of what excites it */
#define RATTLE_HIGHEST_HZ 700.0
#define RATTLE_EXCESS_DB 2.5 /* at least, and ... */
#define RATTLE_SPREADS 6.0   /* ... so many times the usual spread of a frame */
#define RATTLE_MEAN_SECONDS 0.08
#define RATTLE_LEAST_SECONDS 0.13 /* a bang outside is shorter */
#define BELOW_PART 0.3 /* of the sweep's frequency: after the cabin's decay nothing is left down there */
#define BELOW_FROM_HZ 120.0
#define BELOW_EXCESS_DB 20.0
#define HARMLESS_PART                                                                                        \
  1e-8 /* of a frame's power: where the silence is digital, this stands for noise; it moves no response */

typedef struct {
  size_t size, step, count;
  double rate_hz;
  double *above_db, *below_db; /* excess over the silence, a value a frame; NAN where the band is empty */
  double *exciting_hz;         /* the sweep's frequency in the frame's middle */
  double *above_power;         /* mean square of the band in full scale */
} Frames;

static double band_power(const CwComplex *bins, size_t size, double rate_hz, double low_hz, double high_hz)
{
  size_t low = (size_t)ceil(low_hz * (double)size / rate_hz),
         high = (size_t)floor(high_hz * (double)size / rate_hz);
  double power = 0;

  for (size_t i = low; i <= high && i <= size / 2; i++)
    power += creal(bins[i]) * creal(bins[i]) + cimag(bins[i]) * cimag(bins[i]);
  return power;
}

static void transform(const CwTakeInput *input, const Frames *frames, long first, double *part,
                      CwComplex *bins)
{
  for (size_t i = 0; i < frames->size; i++) {
    long at = first + (long)i;
    double window = 0.5 - 0.5 * cos(2 * M_PI * ((double)i + 0.5) / (double)frames->size);
    part[i] = at >= 0 && at < (long)input->frames ? window * input->microphone[at] : 0;
  }
  cw_fft_forward(cw_fft_get(frames->size), part, bins);
}

/* Mean power of each bin over the silence that ends at end. */
static double *silence_power(const CwTakeInput *input, const Frames *frames, long end)
{
  double *mean = cw_alloc_real(frames->size / 2 + 1), *part = cw_alloc_real(frames->size);
  CwComplex *bins = cw_alloc_complex(frames->size / 2 + 1);
  size_t parts = 0;

  for (long first = end - (long)frames->size; first >= 0; first -= (long)frames->step, parts++) {
    transform(input, frames, first, part, bins);
    for (size_t i = 0; i <= frames->size / 2; i++)
      mean[i] += creal(bins[i]) * creal(bins[i]) + cimag(bins[i]) * cimag(bins[i]);
  }
  for (size_t i = 0; i <= frames->size / 2; i++)
    mean[i] = parts ? mean[i] / (double)parts : 0;
  cw_free(part);
  cw_free(bins);
  return mean;
}

static double sum_between(const double *power, size_t size, double rate_hz, double low_hz, double high_hz)
{
  size_t low = (size_t)ceil(low_hz * (double)size / rate_hz),
         high = (size_t)floor(high_hz * (double)size / rate_hz);
  double sum = 0;

  for (size_t i = low; i <= high && i <= size / 2; i++)
    sum += power[i];
  return sum;
}

static void look_at_frames(const CwTakeInput *input, const CwFeedPlace *place, double sweep_frame,
                           Frames *frames)
{
  const CwSweepFeed *feed = input->feed;
  double before = (feed->has_marker ? feed->sweep_at - feed->first_marker_at : 0) * place->player_rate_hz +
                  0.02 * input->rate_hz;
  double *quiet = silence_power(input, frames, lrint(sweep_frame - before)),
         *part = cw_alloc_real(frames->size);
  CwComplex *bins = cw_alloc_complex(frames->size / 2 + 1);
  double top = fmin(RATTLE_TO_HZ, 0.45 * input->rate_hz), scale = 0;

  for (size_t i = 0; i < frames->size; i++)
    scale += pow(0.5 - 0.5 * cos(2 * M_PI * ((double)i + 0.5) / (double)frames->size), 2);
  for (size_t k = 0; k < frames->count; k++) {
    long first = lrint(sweep_frame) + (long)(k * frames->step);
    double seconds = ((double)first - sweep_frame + 0.5 * (double)frames->size) / place->player_rate_hz;
    double hz = feed->sweep.start_hz * exp(seconds / feed->sweep.growth_seconds);
    double from = fmax(RATTLE_FROM_HZ, RATTLE_HARMONICS * hz), below = BELOW_PART * hz;

    transform(input, frames, first, part, bins);
    double harmless =
        HARMLESS_PART * band_power(bins, frames->size, frames->rate_hz, 0, 0.5 * frames->rate_hz) + 1e-30;
    frames->exciting_hz[k] = hz;
    frames->above_db[k] = frames->below_db[k] = NAN;
    if (from < 0.7 * top && hz < RATTLE_HIGHEST_HZ) {
      double power = band_power(bins, frames->size, frames->rate_hz, from, top);
      frames->above_power[k] = 2 * power / scale / (double)frames->size;
      frames->above_db[k] =
          10 *
          log10((power + 1e-30) / (sum_between(quiet, frames->size, frames->rate_hz, from, top) + harmless));
    }
    if (below > 2 * BELOW_FROM_HZ) {
      double power = band_power(bins, frames->size, frames->rate_hz, BELOW_FROM_HZ, below);
      frames->below_db[k] =
          10 * log10((power + 1e-30) /
                     (sum_between(quiet, frames->size, frames->rate_hz, BELOW_FROM_HZ, below) + harmless));
    }
  }
  cw_free(quiet);
  cw_free(part);
  cw_free(bins);
}

/* How far a mean over reach frames must rise above the silence to stand out: from the median deviation
 * between neighbours. */
static double threshold(const Frames *frames, size_t reach)
{
  double *step = cw_alloc_real(frames->count), spread = 0;
  size_t count = 0;

  for (size_t k = 2; k < frames->count; k++)
    if (!isnan(frames->above_db[k]) &&
        !isnan(frames->above_db[k - 2])) /* frames overlap by half: neighbours but one are apart */
      step[count++] = fabs(frames->above_db[k] - frames->above_db[k - 2]);
  cw_sort_rising(step, count);
  if (count)
    spread = step[count / 2] / 0.6745 / sqrt(2) / sqrt((double)reach / 2);
  cw_free(step);
  return fmax(RATTLE_EXCESS_DB, RATTLE_SPREADS * spread);
}

/* Running mean of the excess over reach frames; NAN where one of them is. */
static double *running_mean(const double *value, size_t count, size_t reach)
{
  double *mean = cw_alloc_real(count);

  for (size_t k = 0; k < count; k++) {
    size_t first = k < reach / 2 ? 0 : k - reach / 2;
    mean[k] = first + reach > count ? NAN : 0;
    for (size_t i = first; i < first + reach && i < count; i++)
      mean[k] += value[i] / (double)reach;
  }
  return mean;
}

/* The longest run of frames that stand out above the sweep; its exciting frequency is the mean over log
 * frequency, by energy. */
static void judge_above(const CwTakeInput *input, const Frames *frames, CwDisturbance *found)
{
  size_t best_first = 0, best_count = 0, run = 0,
         reach = (size_t)fmax(1, RATTLE_MEAN_SECONDS * input->rate_hz / (double)frames->step);
  double weight = 0, place = 0, power = 0, run_seconds, least = threshold(frames, reach);
  double *mean = running_mean(frames->above_db, frames->count, reach);

  for (size_t k = 0; k < frames->count; k++) {
    run = mean[k] > least ? run + 1 : 0;
    if (run > best_count) {
      best_count = run;
      best_first = k + 1 - run;
    }
  }
  cw_free(mean);
  run_seconds = (double)(best_count * frames->step) / input->rate_hz;
  if (best_count == 0)
    return;
  if (run_seconds < RATTLE_LEAST_SECONDS) {
    for (size_t k = best_first; k < best_first + best_count; k++)
      found->disturbed |= frames->above_db[k] > BELOW_EXCESS_DB;
    return;
  }
  for (size_t k = best_first; k < best_first + best_count; k++) {
    weight += frames->above_power[k];
    place += frames->above_power[k] * log(frames->exciting_hz[k]);
    power = fmax(power, frames->above_power[k]);
  }
  found->rattle_hz = exp(place / weight);
  found->rattle_db = 10 * log10(power + 1e-30) + input->spl_at_full_scale;
}

CwDisturbance cw_disturbance_find(const CwTakeInput *input, const CwFeedPlace *place, double sweep_frame)
{
  CwDisturbance found = {false, NAN, NAN};
  Frames frames = {.rate_hz = input->rate_hz};
  size_t below_runs = 0;

  frames.size = cw_fft_good_length((size_t)(FRAME_SECONDS * input->rate_hz));
  frames.step = frames.size / 2;
  frames.count = (size_t)(input->feed->sweep.seconds * place->player_rate_hz) / frames.step;
  frames.above_db = cw_alloc_real(frames.count);
  frames.below_db = cw_alloc_real(frames.count);
  frames.exciting_hz = cw_alloc_real(frames.count);
  frames.above_power = cw_alloc_real(frames.count);
  look_at_frames(input, place, sweep_frame, &frames);
  judge_above(input, &frames, &found);
  for (size_t k = 0; k < frames.count; k++)
    below_runs += frames.below_db[k] > BELOW_EXCESS_DB;
  found.disturbed |= below_runs > 0;
  cw_free(frames.above_db);
  cw_free(frames.below_db);
  cw_free(frames.exciting_hz);
  cw_free(frames.above_power);
  return found;
}
