/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/leads/clip.h"
#include "signal/sort.h"
#include <math.h>

#define WINDOW_SECONDS 0.06
#define STEP_SECONDS 0.015
#define MOST_STEPS 256
#define LOBE_BINS 3
#define MOST_HARMONIC 30
#define TOP_HZ 20500.0
#define LIMIT 0.01      /* 1 % */
#define STEADY_STEPS 4  /* windows in a row above the limit */
#define QUIET_PART 0.3  /* of the tone, from its start, in which nothing clips and harmonics are noise */
#define NOISE_PEAKS 6.0 /* power of noise in a window over its quiet level that is not yet distortion */
#define LEAST_SNR 30.0  /* amplitude of the tone at its end over the noise around its harmonics */

/* Amplitude of the fundamental and power of all harmonics in one Hann window: a line's power is what stands
 * in its main lobe. */
static void read_window(const double *x, const double *hann, size_t count, double hz, double rate_hz,
                        double *work, CwComplex *bins, double *fundamental, double *harmonics)
{
  int most = (int)fmin(MOST_HARMONIC, floor(fmin(TOP_HZ, 0.46 * rate_hz) / hz));
  double scale = 4 / (0.375 * (double)count * (double)count), lobe[MOST_HARMONIC + 1] = {0};

  for (size_t i = 0; i < count; i++)
    work[i] = x[i] * hann[i];
  cw_fft_forward(cw_fft_get(count), work, bins);
  for (int k = 1; k <= most; k++) {
    long middle = lrint(hz * k / rate_hz * (double)count);
    for (long i = middle - LOBE_BINS; i <= middle + LOBE_BINS; i++)
      if (i > 0 && i <= (long)count / 2)
        lobe[k] += scale * 0.5 * (creal(bins[i]) * creal(bins[i]) + cimag(bins[i]) * cimag(bins[i]));
  }
  *fundamental = sqrt(2 * lobe[1]);
  *harmonics = 0;
  for (int k = 2; k <= most; k++)
    *harmonics += 2 * lobe[k];
}

#define STAYS                                                                                                \
  0.9 /* of the windows above: clipping stays, a sound from elsewhere passes, and so do a quiet tone's       \
         steps in the recorder's numbers */
#define HELD_DB 0.6     /* by which a tone has grown less than the track */
#define HELD_CLEAN 0.01 /* distortion up to which that is a limiter and no clipping */

/* The track level from which on a tone is held back though it is clean; NAN for none. gain: level of the tone
 * over the track's, dB. */
static double limiting(const double *level_dbfs, const double *gain_db, const double *distortion,
                       size_t count)
{
  double sorted[MOST_STEPS], usual;
  size_t from = count / 12, to = count / 3, held = count;

  if (to < from + 8)
    return NAN;
  for (size_t i = from; i < to; i++)
    sorted[i - from] = gain_db[i];
  usual = cw_median(sorted, to - from);
  while (held > 0 && gain_db[held - 1] < usual - HELD_DB)
    held--;
  return held < count && held > 0 && count - held > STEADY_STEPS && distortion[held] < HELD_CLEAN
             ? level_dbfs[held]
             : NAN;
}

/* The level at which distortion rises over the limit to stay, by its logarithm over the level; NAN for none.
 */
static double crossing(const double *level_dbfs, const double *distortion, size_t count)
{
  for (size_t i = 1; i < count; i++) {
    size_t above = 0, beyond = 0;
    while (i + above < count && above < STEADY_STEPS && distortion[i + above] > LIMIT)
      above++;
    if (above < STEADY_STEPS && i + above < count)
      continue;
    for (size_t k = i; k < count; k++)
      beyond += distortion[k] > LIMIT;
    if (above == 0 || (double)beyond < STAYS * (double)(count - i))
      continue;
    double before = fmax(distortion[i - 1], 1e-4), part = log(LIMIT / before) / log(distortion[i] / before);
    return level_dbfs[i - 1] + fmin(fmax(part, 0), 1) * (level_dbfs[i] - level_dbfs[i - 1]);
  }
  return NAN;
}

/* The lower quarter of the values: even where the lead clips early, the softest tones show the noise. */
static double quiet_level(const double *power, size_t count)
{
  double sorted[MOST_STEPS];

  for (size_t i = 0; i < count; i++) {
    size_t k = i;
    for (; k > 0 && sorted[k - 1] > power[i]; k--)
      sorted[k] = sorted[k - 1];
    sorted[k] = power[i];
  }
  return count ? sorted[count / 4] : 0;
}

CwToneClip cw_clip_read(const CwRecordedTake *h, size_t which, size_t c, double delay_seconds)
{
  const CwStimulusTone *tone = &h->stimulus.tone[which];
  double start =
             h->place.start_frame + tone->at_seconds * h->place.player_rate_hz + delay_seconds * h->rate_hz,
         hz = tone->hz * h->rate_hz / h->place.player_rate_hz;
  double level[MOST_STEPS], gain[MOST_STEPS], fundamental[MOST_STEPS], harmonics[MOST_STEPS],
      distortion[MOST_STEPS], noise;
  size_t window = cw_fft_good_length((size_t)(WINDOW_SECONDS * h->rate_hz)), count = 0, quiet = 0;
  double *work, *hann;
  CwComplex *bins;
  CwToneClip clip = {.clip_dbfs = NAN, .limit_dbfs = NAN};

  work = cw_alloc_real(window);
  hann = cw_alloc_real(window);
  for (size_t i = 0; i < window; i++)
    hann[i] = 0.5 - 0.5 * cos(2 * M_PI * ((double)i + 0.5) / (double)window);
  bins = cw_alloc_complex(window / 2 + 1);
  for (double t = 0.03; t + WINDOW_SECONDS < tone->seconds - 0.02 && count < MOST_STEPS; t += STEP_SECONDS) {
    long first = lrint(start + t * h->place.player_rate_hz);
    if (first < 0 || first + (long)window > (long)h->frames)
      break;
    level[count] = cw_stimulus_tone_level_dbfs(tone, t + 0.5 * WINDOW_SECONDS);
    read_window(h->channel[c] + first, hann, window, hz, h->rate_hz, work, bins, &fundamental[count],
                &harmonics[count]);
    quiet += t < QUIET_PART * tone->seconds;
    count++;
  }
  cw_free(work);
  cw_free(hann);
  cw_free(bins);
  noise = quiet_level(harmonics, quiet);
  for (size_t i = 0; i < count; i++) {
    distortion[i] =
        harmonics[i] > NOISE_PEAKS * noise ? sqrt(harmonics[i] - noise) / fmax(fundamental[i], 1e-12) : 0;
    gain[i] = 20 * log10(fundamental[i] + 1e-12) - level[i];
  }
  clip.top_level = count ? fundamental[count - 1] : 0;
  clip.readable = count > 0 && clip.top_level > LEAST_SNR * sqrt(noise);
  if (clip.readable) {
    clip.clip_dbfs = crossing(level, distortion, count);
    clip.limit_dbfs = limiting(level, gain, distortion, count);
  }
  return clip;
}
