/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/timing.h"
#include <math.h>

#define MOST_PPM 400.0
#define LEAST_MARKER_SNR_DB 16.0
#define AGREEMENT_FROM_HZ 2000.0 /* where a centimetre is a good part of a wave */

/* Peak of a sharp pulse, between samples, by the phase of its spectrum near the peak. */
static double pulse_time(const double *response, size_t length)
{
  enum { REACH = 64, SIZE = 2 * REACH };
  size_t best = 0;
  double part[SIZE], delay = 0;
  CwComplex bins[SIZE / 2 + 1];

  for (size_t i = 1; i < length; i++)
    if (fabs(response[i]) > fabs(response[best]))
      best = i;
  for (int i = 0; i < SIZE; i++) {
    size_t at = (best + length + (size_t)i - REACH) % length;
    part[i] = response[at] * (0.5 + 0.5 * cos(M_PI * (i - REACH) / REACH));
  }
  cw_fft_forward(cw_fft_get(SIZE), part, bins);
  for (int round = 0; round < 3; round++) {
    double slope = 0, weight = 0, sign = response[best] < 0 ? -1 : 1;
    for (int i = 2; i < SIZE / 2 - 16; i++) {
      double w = 2 * M_PI * i / SIZE;
      CwComplex turned = sign * bins[i] * cexp(I * w * (REACH + delay));
      slope -= w * cabs(bins[i]) * carg(turned);
      weight += w * w * cabs(bins[i]);
    }
    delay += weight > 0 ? slope / weight : 0;
  }
  return (double)best + delay;
}

static CwFeedPlace place_by_loopback(const CwTakeInput *input)
{
  CwFeedPlace place = {.player_rate_hz = input->rate_hz, .agreement = NAN};
  CwSweepInverse *inverse = cw_sweep_inverse_new(&input->feed->sweep, input->rate_hz, input->frames);
  size_t length = cw_sweep_inverse_length(inverse);
  double *response = cw_alloc_real(length), power = 0, top = 0;

  cw_sweep_deconvolve(inverse, input->loopback, input->frames, response);
  for (size_t i = 0; i < length; i++) {
    power += response[i] * response[i];
    top = fmax(top, fabs(response[i]));
  }
  place.found = top > 1e-4 && top * top > 100 * power / (double)length;
  place.reference_frame = place.found ? pulse_time(response, length) : 0;
  cw_free(response);
  cw_sweep_inverse_free(inverse);
  return place;
}

static CwFeedPlace place_by_markers(const CwTakeInput *input)
{
  const CwSweepFeed *feed = input->feed;
  CwFeedPlace place = {.player_rate_hz = input->rate_hz, .agreement = NAN};
  CwMarkerHit hits[2];
  double nominal = feed->second_marker_at - feed->first_marker_at, measured;

  if (!feed->has_marker || cw_marker_find(&feed->marker, input->rate_hz, input->microphone, input->frames,
                                          0.5 * nominal, LEAST_MARKER_SNR_DB, hits, 2) != 2)
    return place;
  measured = cw_marker_interval(&feed->marker, input->rate_hz, input->microphone, input->frames,
                                hits[0].at_seconds, hits[1].at_seconds, feed->marker.seconds + 0.1);
  place.player_ppm = (nominal / measured - 1) * 1e6;
  place.agreement =
      cw_marker_agreement(&feed->marker, input->rate_hz, input->microphone, input->frames, hits[0].at_seconds,
                          hits[0].at_seconds + measured, feed->marker.seconds + 0.1, AGREEMENT_FROM_HZ);
  place.found = fabs(place.player_ppm) < MOST_PPM;
  place.player_rate_hz = input->rate_hz * measured / nominal;
  /* Looked for once more on the player's clock: a burst that runs a little fast is found a little early. */
  if (place.found && cw_marker_find(&feed->marker, place.player_rate_hz, input->microphone, input->frames,
                                    0.5 * nominal, LEAST_MARKER_SNR_DB, hits, 2) == 2)
    place.reference_frame =
        (hits[0].at_seconds + feed->sweep_at - feed->first_marker_at) * place.player_rate_hz;
  else
    place.found = false;
  return place;
}

CwFeedPlace cw_feed_place(const CwTakeInput *input)
{
  if (input->timing == CW_TIMING_LOOPBACK && input->loopback)
    return place_by_loopback(input);
  if (input->timing == CW_TIMING_MARKER)
    return place_by_markers(input);
  return (CwFeedPlace){.player_rate_hz = input->rate_hz, .agreement = NAN};
}
