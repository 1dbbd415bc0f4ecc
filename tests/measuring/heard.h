/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A speaker that is known, and what a recorder hears of its feed. */
#pragma once
#include "../signal/signals.h"
#include "measuring/take.h"
#include <string.h>

#define RATE_HZ 48000.0

typedef struct {
  CwCoefficients cascade[8];
  size_t sections;
  double gain;    /* negative: inverted */
  double seconds; /* of delay */
} Speaker;

static inline Speaker make_speaker(double low_hz, double high_hz)
{
  Speaker s = {.gain = 0.3, .seconds = 2.35e-3};
  CwSection high_pass = {CW_SECTION_HIGH_PASS, low_hz, 0, 0.8},
            low_pass = {CW_SECTION_LOW_PASS, high_hz, 0, 0.7}, peak = {CW_SECTION_PEAKING, 3 * low_hz, 5, 3},
            dip = {CW_SECTION_PEAKING, high_hz / 3, -6, 2};
  g_assert_true(cw_section_design(&high_pass, RATE_HZ, &s.cascade[0]));
  g_assert_true(cw_section_design(&low_pass, RATE_HZ, &s.cascade[1]));
  g_assert_true(cw_section_design(&peak, RATE_HZ, &s.cascade[2]));
  g_assert_true(cw_section_design(&dip, RATE_HZ, &s.cascade[3]));
  s.sections = 4;
  return s;
}

/* What a recorder hears: the feed rendered at its own rate against the player's, the speaker, a latency,
 * noise. */
typedef struct {
  size_t frames;
  double *microphone, *loopback;
} Heard;

#define LATENCY_FRAMES 4321

static inline Heard hear(const CwSweepFeed *feed, const Speaker *s, const Speaker *marker_speaker, double ppm,
                         double noise_rms, uint64_t seed)
{
  double rate = RATE_HZ / (1 + ppm * 1e-6);
  size_t own = cw_sweep_feed_frames(feed, rate) + 1;
  Heard h = {.frames = cw_fft_good_length(own + LATENCY_FRAMES + 24000)};
  double *sweep = cw_alloc_real(h.frames), *marker = cw_alloc_real(h.frames), tail = s->seconds * RATE_HZ;

  h.microphone = cw_alloc_real(h.frames);
  h.loopback = cw_alloc_real(h.frames);
  /* Rendered with its times at the recorder's rate: whole feeds keep whole hundredths, which drift moves by
   * less than a sample each. */
  for (unsigned k = 0; k < feed->repeats; k++) {
    double *one = cw_alloc_real(h.frames), at = (feed->sweep_at + k * feed->period_seconds) * rate;
    cw_sweep_render(&feed->sweep, rate, one + (size_t)floor(at));
    delay_by(one, h.frames, at - floor(at) + LATENCY_FRAMES);
    for (size_t i = 0; i < h.frames; i++)
      sweep[i] += one[i];
    cw_free(one);
  }
  memcpy(h.loopback, sweep, h.frames * sizeof *sweep);
  cw_cascade_run(s->cascade, s->sections, sweep, h.frames);
  delay_by(sweep, h.frames, tail);
  if (feed->has_marker) {
    double at[2] = {feed->first_marker_at * rate, feed->second_marker_at * rate};
    for (int i = 0; i < 2; i++) {
      double *one = cw_alloc_real(h.frames);
      cw_marker_render(&feed->marker, rate, one + (size_t)floor(at[i]));
      delay_by(one, h.frames, at[i] - floor(at[i]) + LATENCY_FRAMES);
      for (size_t k = 0; k < h.frames; k++)
        marker[k] += one[k];
      cw_free(one);
    }
    cw_cascade_run(marker_speaker->cascade, marker_speaker->sections, marker, h.frames);
    delay_by(marker, h.frames, marker_speaker->seconds * RATE_HZ);
  }
  for (size_t i = 0; i < h.frames; i++)
    h.microphone[i] = s->gain * sweep[i] + (feed->has_marker ? marker_speaker->gain * marker[i] : 0);
  add_noise(h.microphone, h.frames, noise_rms, seed);
  cw_free(sweep);
  cw_free(marker);
  return h;
}

static inline void heard_clear(Heard *h)
{
  cw_free(h->microphone);
  cw_free(h->loopback);
}

static inline CwTakeResult analyse(const CwSweepFeed *feed, CwTakeTiming timing, const Heard *h)
{
  CwTakeInput input = {.feed = feed,
                       .timing = timing,
                       .microphone = h->microphone,
                       .loopback = timing == CW_TIMING_LOOPBACK ? h->loopback : NULL,
                       .frames = h->frames,
                       .rate_hz = RATE_HZ,
                       .spl_at_full_scale = 100};
  CwTakeResult result;
  cw_take_analyse(&input, &result);
  return result;
}

/* The worst difference from the speaker's own response over the points given within its band. */
static inline double worst_error_db(const CwTakeResult *r, const Speaker *s, double range_db)
{
  double top = -INFINITY, worst = 0;

  for (int pass = 0; pass < 2; pass++)
    for (size_t i = 0; i < CW_TAKE_POINTS; i++) {
      CwComplex h = s->gain;
      for (size_t k = 0; k < s->sections; k++)
        h *= cw_coefficients_response(&s->cascade[k], r->hz[i], RATE_HZ);
      double db = 20 * log10(cabs(h)) + 100;
      if (pass == 0)
        top = fmax(top, db);
      else if (!isnan(r->db[i]) && db > top - range_db)
        worst = fmax(worst, fabs(r->db[i] - db));
    }
  return worst;
}

/* Echoes at the microphone, later by some samples from a frame on: it has moved. */
static inline void add_echoes(Heard *h, size_t later, size_t from_frame)
{
  static const size_t delays[] = {61, 97, 143};
  double *dry = cw_alloc_real(h->frames);

  memcpy(dry, h->microphone, h->frames * sizeof *dry);
  for (size_t k = 0; k < G_N_ELEMENTS(delays); k++)
    for (size_t i = 200; i < h->frames; i++)
      h->microphone[i] += 0.4 * dry[i - delays[k] - (i > from_frame ? (k + 1) * later : 0)];
  cw_free(dry);
}
