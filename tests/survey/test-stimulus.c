/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/stimulus/tone.h"
#include "survey/recording/stimulus.h"

#include <glib.h>
#include <math.h>
#include <string.h>

/* Every rate that players and recorders have; 44.1 kHz is the one whose hundredths are odd numbers. */
static const double rates[] = {44100, 48000, 88200, 96000};

/* All times fall on samples: hundredths of a second, as the header promises. The tracks of a whole survey
 * last less than four minutes. */
static void test_times(void)
{
  double all = 0;
  for (int kind = 0; kind < CW_STIMULUS_KINDS; kind++) {
    CwStimulus s = cw_stimulus_design((CwStimulusKind)kind);
    g_assert_cmpint(s.kind, ==, kind);
    g_assert_cmpuint(s.markers, >=, 2);
    g_assert_cmpfloat(s.marker_at[0], >=, CW_STIMULUS_EDGE_SECONDS);
    g_assert_cmpfloat(s.marker_at[s.markers - 1] + s.marker.seconds + CW_STIMULUS_EDGE_SECONDS, <=,
                      s.seconds + 1e-9);
    for (size_t i = 0; i < G_N_ELEMENTS(rates); i++) {
      double frames = s.seconds * rates[i];
      g_assert_cmpfloat_with_epsilon(frames, rint(frames), 1e-6);
      g_assert_cmpuint(cw_stimulus_frames(&s, rates[i]), ==, (size_t)rint(frames));
      for (size_t m = 0; m < s.markers; m++)
        g_assert_cmpfloat_with_epsilon(s.marker_at[m] * rates[i], rint(s.marker_at[m] * rates[i]), 1e-6);
      for (size_t k = 0; k < s.sweeps; k++)
        g_assert_cmpfloat_with_epsilon(s.sweep[k].at_seconds * rates[i],
                                       rint(s.sweep[k].at_seconds * rates[i]), 1e-6);
    }
    all += s.seconds;
  }
  g_assert_cmpfloat(all, <, 240);
}

/* No track can be taken for another: wherever one marker of it lies on one of the other's, another misses, by
 * more than a clock 400 ppm off could move it (the bound of track_place.h) and the search's millisecond. */
static void test_told_apart(void)
{
  for (int a = 0; a < CW_STIMULUS_KINDS; a++)
    for (int b = 0; b < CW_STIMULUS_KINDS; b++) {
      CwStimulus one = cw_stimulus_design((CwStimulusKind)a), other = cw_stimulus_design((CwStimulusKind)b);
      for (size_t i = 0; i < one.markers && a != b; i++)
        for (size_t k = 0; k < other.markers; k++) {
          gboolean missed = FALSE;
          for (size_t m = 0; m < one.markers; m++) {
            double apart = one.marker_at[m] - one.marker_at[i], nearest = INFINITY;
            for (size_t n = 0; n < other.markers; n++)
              nearest = MIN(nearest, fabs(other.marker_at[n] - other.marker_at[k] - apart));
            missed |= nearest > 1e-3 + fabs(apart) * 400e-6;
          }
          g_assert_true(missed);
        }
    }
}

static double peak_of(const double *samples, double rate_hz, double from_seconds, double seconds)
{
  double peak = 0;
  for (size_t i = (size_t)lrint(from_seconds * rate_hz);
       i < (size_t)lrint((from_seconds + seconds) * rate_hz); i++)
    peak = MAX(peak, fabs(samples[i]));
  return peak;
}

/* What is heard where and on which channel, and silence everywhere else. Levels as the tracks state them: -12
 * dBFS, and far below that at the highest volume, whose tones alone rise to full scale. */
static void test_rendering(void)
{
  const double rate = 48000;
  for (int kind = 0; kind < CW_STIMULUS_KINDS; kind++) {
    CwStimulus s = cw_stimulus_design((CwStimulusKind)kind);
    size_t frames = cw_stimulus_frames(&s, rate);
    double *left = cw_alloc_real(frames), *right = cw_alloc_real(frames),
           level = pow(10, (kind == CW_STIMULUS_LOUD ? -34.0 : -12.0) / 20);
    cw_stimulus_render(&s, rate, left, right);
    g_assert_cmpfloat(peak_of(left, rate, 0, s.marker_at[0]), ==, 0);
    for (size_t m = 0; m < s.markers; m++) {
      double end = s.marker_at[m] + s.marker.seconds;
      g_assert_cmpfloat_with_epsilon(peak_of(left, rate, s.marker_at[m], s.marker.seconds), level,
                                     0.01 * level);
      g_assert_cmpfloat_with_epsilon(peak_of(right, rate, s.marker_at[m], s.marker.seconds), level,
                                     0.01 * level);
      g_assert_cmpfloat(peak_of(left, rate, end + 1 / rate, CW_STIMULUS_EDGE_SECONDS - 2 / rate), ==, 0);
    }
    for (size_t k = 0; k < s.sweeps; k++) {
      double at = s.sweep[k].at_seconds, seconds = s.sweep[k].sweep.seconds;
      gboolean on_left = s.sweep[k].channels & CW_PLAYED_LEFT,
               on_right = s.sweep[k].channels & CW_PLAYED_RIGHT;
      g_assert_cmpfloat_with_epsilon(peak_of(left, rate, at, seconds), on_left ? level : 0, 0.01 * level);
      g_assert_cmpfloat_with_epsilon(peak_of(right, rate, at, seconds), on_right ? level : 0, 0.01 * level);
    }
    cw_free(left);
    cw_free(right);
  }
  CwStimulus leads = cw_stimulus_design(CW_STIMULUS_LEADS);
  g_assert_cmpint(leads.sweep[0].channels, ==, CW_PLAYED_LEFT);
  g_assert_cmpint(leads.sweep[1].channels, ==, CW_PLAYED_RIGHT);
}

/* Away from the mains: no harmonic of 50 or 60 Hz within 2 Hz of a tone or of its own first ten harmonics
 * would not do for the higher ones, so the tones themselves; and three harmonics below half of 44.1 kHz. The
 * level at any time is what the stretch about it holds. */
static void test_tones(void)
{
  const double rate = 48000;
  CwStimulus s = cw_stimulus_design(CW_STIMULUS_LOUD);
  size_t frames = cw_stimulus_frames(&s, rate);
  double *left = cw_alloc_real(frames), *right = cw_alloc_real(frames);

  cw_stimulus_render(&s, rate, left, right);
  g_assert_cmpuint(s.tones, ==, CW_STIMULUS_TONES);
  for (size_t t = 0; t < s.tones; t++) {
    const CwStimulusTone *tone = &s.tone[t];
    g_assert_cmpfloat(fabs(remainder(tone->hz, 50)), >, 2);
    g_assert_cmpfloat(fabs(remainder(tone->hz, 60)), >, 2);
    g_assert_cmpfloat(3 * tone->hz, <, 22050);
    g_assert_cmpfloat_with_epsilon(cw_stimulus_tone_level_dbfs(tone, 0), tone->low_dbfs, 1e-12);
    g_assert_cmpfloat_with_epsilon(cw_stimulus_tone_level_dbfs(tone, tone->seconds), 0, 1e-12);
    for (double at = 0.1; at < tone->seconds - 0.1; at += 0.37) {
      /* Whole periods of 10 ms: what the level does within them, a tenth of a decibel, leaves its mean. */
      double seconds = ceil(0.01 * tone->hz) / tone->hz, rest;
      size_t first = (size_t)lrint((tone->at_seconds + at - 0.5 * seconds) * rate),
             count = (size_t)lrint(seconds * rate);
      double db = 20 * log10(cabs(cw_tone_fit(left + first, count, tone->hz, rate, &rest)));
      g_assert_cmpfloat_with_epsilon(db, cw_stimulus_tone_level_dbfs(tone, at), 0.02);
    }
    g_assert_cmpint(memcmp(left, right, frames * sizeof *left), ==, 0);
  }
  cw_free(left);
  cw_free(right);
}

/* Words for file names: all there, all different. */
static void test_names(void)
{
  for (int a = 0; a < CW_STIMULUS_KINDS; a++) {
    g_assert_cmpuint(strlen(cw_stimulus_name((CwStimulusKind)a)), >, 0);
    for (int b = 0; b < a; b++)
      g_assert_cmpstr(cw_stimulus_name((CwStimulusKind)a), !=, cw_stimulus_name((CwStimulusKind)b));
  }
  g_assert_cmpstr(cw_stimulus_name(CW_STIMULUS_KINDS), ==, "unknown");
  g_assert_cmpstr(cw_stimulus_name((CwStimulusKind)-1), ==, "unknown");
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/stimulus/times", test_times);
  g_test_add_func("/survey/stimulus/told-apart", test_told_apart);
  g_test_add_func("/survey/stimulus/rendering", test_rendering);
  g_test_add_func("/survey/stimulus/tones", test_tones);
  g_test_add_func("/survey/stimulus/names", test_names);
  return g_test_run();
}
