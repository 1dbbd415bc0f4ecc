/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "radio.h"

#include <math.h>
#include <string.h>

static const double noise_rms = 1e-4;

static RadioRecording record(CwStimulusKind kind)
{
  RadioLead lead[2] = {radio_lead(CW_PLAYED_BOTH, 0.5, 0), radio_lead(CW_PLAYED_LEFT, -0.2, 1e-3)};
  lead[0].noise_rms = noise_rms;
  lead[1].noise_rms = 3 * noise_rms;
  return radio_record(kind, lead, 2);
}

/* The silences are where the track is silent, all of them of a tenth of a second and more, and no sound of
 * the track nor 0.1 s after one is in them: what the radio leaves behind has died away by then. */
static void test_silences(void)
{
  for (int kind = 0; kind < CW_STIMULUS_KINDS; kind++) {
    CwStimulus s = cw_stimulus_design((CwStimulusKind)kind);
    size_t frames = cw_stimulus_frames(&s, RADIO_RATE_HZ) + 2 * RADIO_LEAD_IN, total = 0;
    double *left = cw_alloc_real(frames), *right = cw_alloc_real(frames);
    CwTrackPlace place = {.player_rate_hz = RADIO_RATE_HZ, .start_frame = RADIO_LEAD_IN};
    CwStretch silence[8];
    cw_stimulus_render(&s, RADIO_RATE_HZ, left + RADIO_LEAD_IN, right + RADIO_LEAD_IN);
    size_t silences = cw_recorded_take_silences(&s, &place, 0, frames, RADIO_RATE_HZ, silence);
    g_assert_cmpuint(silences, >=, s.markers);
    for (size_t k = 0; k < silences; k++) {
      size_t before = MIN(silence[k].first, (size_t)(0.1 * RADIO_RATE_HZ));
      g_assert_cmpuint(silence[k].count, >, (size_t)(0.09 * RADIO_RATE_HZ));
      g_assert_cmpuint(silence[k].first + silence[k].count, <=, frames);
      for (size_t i = silence[k].first - before; i < silence[k].first + silence[k].count; i++)
        g_assert_true(left[i] == 0 && right[i] == 0);
      total += silence[k].count;
      if (k)
        g_assert_cmpuint(silence[k].first, >=, silence[k - 1].first + silence[k - 1].count);
    }
    /* Around each marker and after each sweep there is a rest of 0.4 s and more. */
    g_assert_cmpuint(total, >, (size_t)(0.2 * (double)s.markers * RADIO_RATE_HZ));
    cw_free(left);
    cw_free(right);
  }
}

/* A recording that begins with the track, or ends with it, has its silences inside. */
static void test_silences_at_the_ends(void)
{
  CwStimulus s = cw_stimulus_design(CW_STIMULUS_FRONT);
  size_t frames = cw_stimulus_frames(&s, RADIO_RATE_HZ);
  CwTrackPlace place = {.player_rate_hz = RADIO_RATE_HZ, .start_frame = -3000};
  CwStretch silence[8];
  size_t silences = cw_recorded_take_silences(&s, &place, 0, frames - 5000, RADIO_RATE_HZ, silence);
  g_assert_cmpuint(silences, >, 0);
  for (size_t k = 0; k < silences; k++)
    g_assert_cmpuint(silence[k].first + silence[k].count, <, frames - 5000);
}

/* Offset and hum go, the noise stays, and is told: by n samples to 1 / sqrt(2 n). */
static void test_made_ready(void)
{
  RadioRecording r = record(CW_STIMULUS_FRONT);
  for (size_t c = 0; c < 2; c++)
    for (size_t i = 0; i < r.frames; i++)
      r.channel[c][i] += 0.03 + 2e-3 * (double)c * sin(2 * G_PI * 50.03 * (double)i / RADIO_RATE_HZ);
  CwRecordedTake h = cw_recorded_take_new(CW_STIMULUS_FRONT, r.channel, 2, r.frames, RADIO_RATE_HZ);
  g_assert_cmpint(h.place.verdict, ==, CW_PLACE_FOUND);
  g_assert_cmpuint(h.channels, ==, 2);
  g_assert_cmpfloat(h.rate_hz, ==, RADIO_RATE_HZ);
  size_t n = 0;
  for (size_t k = 0; k < h.silences; k++)
    n += h.silence[k].count;
  g_assert_cmpfloat(cw_hum_rms(&h.hum[0]), ==, 0);
  g_assert_cmpfloat_with_epsilon(cw_hum_rms(&h.hum[1]), 2e-3 / M_SQRT2, 5 * 3 * noise_rms / sqrt((double)n));
  for (size_t c = 0; c < 2; c++) {
    double true_rms = (c ? 3 : 1) * noise_rms, mean = 0;
    g_assert_cmpfloat_with_epsilon(h.noise_rms[c], true_rms, 5 * true_rms / sqrt(2 * (double)n));
    g_assert_false(h.clipped[c]);
    for (size_t i = 0; i < h.frames; i++)
      mean += h.channel[c][i] / (double)h.frames;
    g_assert_cmpfloat_with_epsilon(mean, 0, 1e-5);
  }
  cw_recorded_take_clear(&h);
  g_assert_null(h.channel);
  radio_clear(&r);
}

/* Three samples in a row at full scale are clipped, two are a coincidence. */
static void test_clipped(void)
{
  RadioRecording r = record(CW_STIMULUS_FRONT);
  for (size_t i = 0; i < 3; i++) {
    r.channel[0][100000 + i] = i < 2 ? -1 : 0;
    r.channel[1][200000 + i] = 0.9999;
  }
  CwRecordedTake h = cw_recorded_take_new(CW_STIMULUS_FRONT, r.channel, 2, r.frames, RADIO_RATE_HZ);
  g_assert_false(h.clipped[0]);
  g_assert_true(h.clipped[1]);
  cw_recorded_take_clear(&h);
  radio_clear(&r);
}

/* At 96 kHz every second sample is left, and the track is where it was: its markers do not reach half of 48
 * kHz, so that the sum of both neighbours is a recording at twice the rate, up to the image that is cut off.
 */
static void test_high_rate(void)
{
  CwStimulus s = cw_stimulus_design(CW_STIMULUS_FRONT);
  const double rate = 96000;
  size_t track = cw_stimulus_frames(&s, rate), frames = track + 4 * RADIO_LEAD_IN;
  double *samples = cw_alloc_real(frames), *other = cw_alloc_real(frames), *channel[] = {samples};
  cw_stimulus_render(&s, rate, samples + 2 * RADIO_LEAD_IN, other);
  CwRecordedTake h = cw_recorded_take_new(CW_STIMULUS_FRONT, channel, 1, frames, rate);
  g_assert_cmpint(h.place.verdict, ==, CW_PLACE_FOUND);
  g_assert_cmpfloat(h.rate_hz, ==, 48000);
  g_assert_cmpuint(h.frames, ==, (frames + 1) / 2);
  g_assert_cmpfloat_with_epsilon(h.place.start_frame, RADIO_LEAD_IN, 0.1);
  g_assert_cmpfloat_with_epsilon(h.place.player_ppm, 0, 0.05);
  cw_recorded_take_clear(&h);
  cw_free(samples);
  cw_free(other);
}

/* Where no track is, nothing else is said. */
static void test_not_found(void)
{
  RadioRecording r = record(CW_STIMULUS_FRONT);
  memset(r.channel[0], 0, r.frames * sizeof(double));
  memset(r.channel[1], 0, r.frames * sizeof(double));
  CwRecordedTake h = cw_recorded_take_new(CW_STIMULUS_FRONT, r.channel, 2, r.frames, RADIO_RATE_HZ);
  g_assert_cmpint(h.place.verdict, ==, CW_PLACE_NOTHING);
  g_assert_cmpuint(h.silences, ==, 0);
  cw_recorded_take_clear(&h);
  radio_clear(&r);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/recorded-take/silences", test_silences);
  g_test_add_func("/survey/recorded-take/silences-at-the-ends", test_silences_at_the_ends);
  g_test_add_func("/survey/recorded-take/made-ready", test_made_ready);
  g_test_add_func("/survey/recorded-take/clipped", test_clipped);
  g_test_add_func("/survey/recorded-take/high-rate", test_high_rate);
  g_test_add_func("/survey/recorded-take/not-found", test_not_found);
  return g_test_run();
}
