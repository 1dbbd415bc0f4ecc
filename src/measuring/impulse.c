/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/impulse.h"
#include "signal/log_grid.h"
#include "signal/response/minimum_phase.h"
#include "signal/response/smoothing.h"
#include <math.h>
#include <string.h>

#define FALL_SECONDS 0.1
#define LEAST_LEAD_SECONDS 0.016 /* its second half is whole */
#define LEAST_NOISE_PARTS 16     /* if there is so much silence; more where the feed itself has it */
#define LATEST_SECONDS 0.3       /* after the reference: the farthest speaker and a slow interface */

/* The largest sample: among the whole response, or near the reference if there is one. */
static size_t onset(const CwTakeInput *input, const CwFeedPlace *place, const double *response, size_t length)
{
  long first = 0, count = (long)length;
  size_t best;

  if (place->found) {
    first = lrint(place->reference_frame - 0.02 * input->rate_hz);
    count = lrint(LATEST_SECONDS * input->rate_hz);
  }
  best = (size_t)((first % (long)length + (long)length) % (long)length);
  for (long i = first; i < first + count; i++) {
    size_t at = (size_t)((i % (long)length + (long)length) % (long)length);
    if (fabs(response[at]) > fabs(response[best]))
      best = at;
  }
  return best;
}

/* What stands before the onset rings at the sweep's lower end, so the lead must span some of its periods; and
 * the first sound may be well before the largest. */
static double lead_seconds(const CwSweep *sweep)
{
  return fmin(fmax(3.5 / sweep->start_hz, LEAST_LEAD_SECONDS), 0.12);
}

static void take_microphone_off(const CwTakeInput *input, CwImpulse *impulse)
{
  size_t bins = impulse->length / 2 + 1;
  double *magnitude;
  CwComplex *own;

  if (input->calibration_count == 0)
    return;
  magnitude = cw_alloc_real(bins);
  own = cw_alloc_complex(bins);
  for (size_t i = 0; i < bins; i++) {
    double hz = fmax((double)i, 0.5) * impulse->rate_hz / (double)impulse->length;
    magnitude[i] = pow(10, cw_log_grid_interpolate(input->calibration_hz, input->calibration_db,
                                                   input->calibration_count, hz) /
                               20);
  }
  cw_minimum_phase(magnitude, impulse->length, own, NULL);
  for (size_t i = 0; i < bins; i++) {
    impulse->spectrum[i] /= own[i];
    impulse->noise_power[i] /= magnitude[i] * magnitude[i];
  }
  cw_free(magnitude);
  cw_free(own);
}

/* Power density of the silence before the feed, times what the deconvolution and the window make of it. */
static void expect_noise(const CwTakeInput *input, const CwFeedPlace *place, double onset_frame,
                         double window_energy, CwImpulse *impulse)
{
  const CwSweep *sweep = &input->feed->sweep;
  size_t size = cw_fft_good_length((size_t)(0.25 * input->rate_hz)), bins = size / 2 + 1,
         own_bins = impulse->length / 2 + 1, parts = 0,
         most = (size_t)fmax(LEAST_NOISE_PARTS, 2 * input->feed->sweep_at * input->rate_hz / (double)size);
  double start =
      onset_frame - (input->feed->sweep_at - (input->feed->has_marker ? input->feed->first_marker_at : 0)) *
                        place->player_rate_hz;
  double *part = cw_alloc_real(size), *power = cw_alloc_real(bins), *hz = cw_alloc_real(own_bins),
         window_power = 0;
  CwComplex *spectrum = cw_alloc_complex(bins);
  long end = lrint((input->feed->has_marker ? start : onset_frame) - 0.03 * input->rate_hz);

  for (size_t i = 0; i < size; i++)
    window_power += pow(0.5 - 0.5 * cos(2 * M_PI * ((double)i + 0.5) / (double)size), 2);
  for (long first = end - (long)size; first >= 0 && parts < most; first -= (long)size / 2, parts++) {
    for (size_t i = 0; i < size; i++)
      part[i] = input->microphone[(size_t)first + i] *
                (0.5 - 0.5 * cos(2 * M_PI * ((double)i + 0.5) / (double)size));
    cw_fft_forward(cw_fft_get(size), part, spectrum);
    for (size_t i = 0; i < bins; i++)
      power[i] +=
          (creal(spectrum[i]) * creal(spectrum[i]) + cimag(spectrum[i]) * cimag(spectrum[i])) / window_power;
  }
  impulse->noise_known = parts > 0;
  for (size_t i = 0; i < own_bins; i++)
    hz[i] = fmax((double)i, 0.5) * input->rate_hz / (double)impulse->length;
  cw_smooth_power(power, bins, input->rate_hz / (double)size, 1.0 / 3, hz, own_bins, impulse->noise_power);
  for (size_t i = 0; i < own_bins; i++) {
    double inside = fmin(fmax(hz[i], sweep->start_hz), sweep->stop_hz);
    double driven = sweep->level * cw_sweep_shape(sweep, inside) * 0.5 *
                    sqrt(sweep->growth_seconds / inside) * place->player_rate_hz;
    impulse->noise_power[i] *= window_energy / fmax((double)parts, 1) / (driven * driven);
  }
  cw_free(part);
  cw_free(power);
  cw_free(hz);
  cw_free(spectrum);
}

void cw_impulse_cut(const CwTakeInput *input, const CwFeedPlace *place, const double *deconvolved,
                    size_t length_all, CwImpulse *impulse)
{
  double lead = lead_seconds(&input->feed->sweep), energy = 0, all = 0;
  size_t lead_frames = (size_t)lrint(lead * input->rate_hz),
         fall = (size_t)lrint(FALL_SECONDS * input->rate_hz), peak;

  memset(impulse, 0, sizeof *impulse);
  peak = onset(input, place, deconvolved, length_all);
  impulse->rate_hz = place->player_rate_hz;
  impulse->lead_frames = lead_frames;
  impulse->window = lead_frames + (size_t)lrint(CW_IMPULSE_WINDOW_SECONDS * input->rate_hz);
  impulse->length = cw_fft_good_length(impulse->window + impulse->window / 4);
  impulse->first_frame = (double)peak - (double)lead_frames;
  impulse->samples = cw_alloc_real(impulse->length);
  impulse->spectrum = cw_alloc_complex(impulse->length / 2 + 1);
  impulse->noise_power = cw_alloc_real(impulse->length / 2 + 1);
  for (size_t i = 0; i < impulse->window; i++) {
    size_t rise = lead_frames / 2, from_end = impulse->window - i;
    double taper = i < rise ? 0.5 - 0.5 * cos(M_PI * ((double)i + 0.5) / (double)rise) : 1;
    if (from_end <= fall)
      taper = 0.5 - 0.5 * cos(M_PI * ((double)from_end - 0.5) / (double)fall);
    impulse->samples[i] = taper * deconvolved[(peak + length_all - lead_frames + i) % length_all];
    energy += taper * taper;
  }
  for (size_t i = 0; i < length_all; i++)
    all += deconvolved[i] * deconvolved[i];
  impulse->peak_over_rest_db =
      10 * log10(deconvolved[peak] * deconvolved[peak] / (all / (double)length_all + 1e-300) + 1e-300);
  cw_fft_forward(cw_fft_get(impulse->length), impulse->samples, impulse->spectrum);
  expect_noise(input, place, (double)peak, energy, impulse);
  take_microphone_off(input, impulse);
  CwComplex *bins = cw_alloc_complex(impulse->length / 2 + 1);
  memcpy(bins, impulse->spectrum, (impulse->length / 2 + 1) * sizeof *bins);
  cw_fft_inverse(cw_fft_get(impulse->length), bins, impulse->samples);
  cw_free(bins);
}

void cw_impulse_clear(CwImpulse *impulse)
{
  cw_free(impulse->samples);
  cw_free(impulse->spectrum);
  cw_free(impulse->noise_power);
  memset(impulse, 0, sizeof *impulse);
}
