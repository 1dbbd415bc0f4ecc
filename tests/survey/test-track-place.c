/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "radio.h"
#include "survey/recording/track_place.h"

#include <math.h>
#include <string.h>

/* What an interval of markers promises, and a survey with it. */
#define PPM_BAR 0.05
/* Samples: what the methods ask of a marker at 20 dB above noise is 0.05; these are clearer, but looked for
 * at half the rate. */
#define START_BAR 0.1

/* A linear burst of a player that is p fast is heard early by p f / k, f being its upper frequency (at the
 * rate of the search no more than 10.8 kHz) and k its slope: its coupling of range and Doppler, by the
 * phases' mean over the burst. It is the same for all channels of a recording. */
static double early_frames(CwStimulusKind kind, double ppm)
{
  CwMarker marker = cw_stimulus_design(kind).marker;
  return 1e-6 * ppm * 10800 * marker.seconds / (marker.high_hz - marker.low_hz) * RADIO_RATE_HZ;
}

static CwTrackPlace place(CwStimulusKind kind, const RadioRecording *r)
{
  return cw_track_place(kind, (const double *const *)r->channel, r->channels, r->frames, RADIO_RATE_HZ);
}

static RadioRecording record(CwStimulusKind kind, double noise_rms)
{
  RadioLead lead = radio_lead(CW_PLAYED_BOTH, 0.5, 0);
  lead.noise_rms = noise_rms;
  return radio_record(kind, &lead, 1);
}

/* Leaves the frames from first on, count of them. */
static void cut(RadioRecording *r, size_t first, size_t count)
{
  for (size_t c = 0; c < r->channels; c++)
    memmove(r->channel[c], r->channel[c] + first, count * sizeof(double));
  r->frames = count;
}

/* Every track is found where it is, with its clock, 40 dB above noise. */
static void test_found(void)
{
  static const double drift[CW_STIMULUS_KINDS] = {0, 150, -150, 37.5, -8};
  for (int kind = 0; kind < CW_STIMULUS_KINDS; kind++) {
    RadioRecording r = record((CwStimulusKind)kind, kind == CW_STIMULUS_LOUD ? 1e-4 : 1e-3);
    if (drift[kind])
      radio_drift(&r, drift[kind]);
    CwTrackPlace p = place((CwStimulusKind)kind, &r);
    g_test_message("%d: start %.3f, %.4f ppm", kind, p.start_frame, p.player_ppm);
    g_assert_cmpint(p.verdict, ==, CW_PLACE_FOUND);
    g_assert_cmpint(p.kind, ==, kind);
    g_assert_cmpfloat_with_epsilon(p.player_ppm, drift[kind], PPM_BAR);
    g_assert_cmpfloat_with_epsilon(p.player_rate_hz, RADIO_RATE_HZ / (1 + 1e-6 * drift[kind]), 1e-3);
    g_assert_cmpfloat_with_epsilon(p.start_frame,
                                   RADIO_LEAD_IN / (1 + 1e-6 * drift[kind]) -
                                       early_frames((CwStimulusKind)kind, drift[kind]),
                                   START_BAR);
    g_assert_cmpfloat(p.weight, >, 0);
    radio_clear(&r);
  }
}

/* Less noise makes the clock weigh more: by the noise's power. */
static void test_weight(void)
{
  RadioRecording quiet = record(CW_STIMULUS_FRONT, 1e-4), loud = record(CW_STIMULUS_FRONT, 1e-3);
  double ratio = place(CW_STIMULUS_FRONT, &quiet).weight / place(CW_STIMULUS_FRONT, &loud).weight;
  g_assert_cmpfloat(ratio, >, 80);
  g_assert_cmpfloat(ratio, <, 125);
  radio_clear(&quiet);
  radio_clear(&loud);
}

static void test_other_track(void)
{
  for (int played = 0; played < CW_STIMULUS_KINDS; played++) {
    RadioRecording r = record((CwStimulusKind)played, 1e-4);
    for (int wanted = 0; wanted < CW_STIMULUS_KINDS; wanted++) {
      CwTrackPlace p = place((CwStimulusKind)wanted, &r);
      g_assert_cmpint(p.verdict, ==, wanted == played ? CW_PLACE_FOUND : CW_PLACE_OTHER_TRACK);
      g_assert_cmpint(p.kind, ==, played);
    }
    radio_clear(&r);
  }
}

/* Without the first second, or without the last, of what was played. The loud track's tones, full scale
 * beside soft markers, look like markers at wrong places: it is refused, whatever it is that is said of it.
 */
static void test_cut(void)
{
  for (int kind = 0; kind < CW_STIMULUS_KINDS; kind++) {
    RadioRecording r = record((CwStimulusKind)kind, 1e-4);
    size_t second = (size_t)RADIO_RATE_HZ, all = r.frames;
    r.frames =
        RADIO_LEAD_IN + (size_t)(cw_stimulus_design((CwStimulusKind)kind).seconds * RADIO_RATE_HZ) - second;
    CwPlaceVerdict end = place((CwStimulusKind)kind, &r).verdict;
    r.frames = all;
    cut(&r, RADIO_LEAD_IN + second, all - RADIO_LEAD_IN - second);
    CwPlaceVerdict start = place((CwStimulusKind)kind, &r).verdict;
    if (kind == CW_STIMULUS_LOUD) {
      g_assert_true(end == CW_PLACE_CUT_END || end == CW_PLACE_BROKEN);
      g_assert_true(start == CW_PLACE_CUT_START || start == CW_PLACE_BROKEN);
    } else {
      g_assert_cmpint(end, ==, CW_PLACE_CUT_END);
      g_assert_cmpint(start, ==, CW_PLACE_CUT_START);
    }
    radio_clear(&r);
  }
}

/* A second of the middle is missing: paused, or skipped. And a clock that no player has. */
static void test_broken(void)
{
  static const CwStimulusKind kinds[] = {CW_STIMULUS_FRONT, CW_STIMULUS_LEADS};
  for (size_t k = 0; k < G_N_ELEMENTS(kinds); k++) {
    RadioRecording r = record(kinds[k], 1e-4);
    CwStimulus s = cw_stimulus_design(kinds[k]);
    size_t at = RADIO_LEAD_IN + (size_t)((s.sweep[0].at_seconds + 1) * RADIO_RATE_HZ),
           gap = (size_t)RADIO_RATE_HZ;
    memmove(r.channel[0] + at, r.channel[0] + at + gap, (r.frames - at - gap) * sizeof(double));
    r.frames -= gap;
    g_assert_cmpint(place(kinds[k], &r).verdict, ==, CW_PLACE_BROKEN);
    radio_clear(&r);
  }
  RadioRecording fast = record(CW_STIMULUS_FRONT, 1e-4);
  radio_drift(&fast, 900);
  g_assert_cmpint(place(CW_STIMULUS_FRONT, &fast).verdict, ==, CW_PLACE_BROKEN);
  radio_clear(&fast);
}

static void test_nothing(void)
{
  RadioLead silent = radio_lead(0, 0, 0);
  silent.noise_rms = 1e-3;
  RadioRecording r = radio_record(CW_STIMULUS_FRONT, &silent, 1);
  g_assert_cmpint(place(CW_STIMULUS_FRONT, &r).verdict, ==, CW_PLACE_NOTHING);
  memset(r.channel[0], 0, r.frames * sizeof(double));
  g_assert_cmpint(place(CW_STIMULUS_FRONT, &r).verdict, ==, CW_PLACE_NOTHING);
  g_assert_cmpint(cw_track_place(CW_STIMULUS_FRONT, NULL, 0, 0, RADIO_RATE_HZ).verdict, ==, CW_PLACE_NOTHING);
  radio_clear(&r);
}

/* Of a track that loops the first whole round counts: here the first has lost its beginning. */
static void test_loop(void)
{
  RadioRecording one = record(CW_STIMULUS_FRONT, 1e-4);
  size_t skipped = RADIO_LEAD_IN + (size_t)RADIO_RATE_HZ;
  RadioRecording two = {.channels = 1, .frames = 3 * one.frames - skipped, .channel = g_new(double *, 1)};
  two.channel[0] = cw_alloc_real(two.frames);
  memcpy(two.channel[0], one.channel[0] + skipped, (one.frames - skipped) * sizeof(double));
  for (int round = 1; round < 3; round++)
    memcpy(two.channel[0] + (size_t)round * one.frames - skipped, one.channel[0],
           one.frames * sizeof(double));
  CwTrackPlace p = place(CW_STIMULUS_FRONT, &two);
  g_assert_cmpint(p.verdict, ==, CW_PLACE_FOUND);
  g_assert_cmpfloat_with_epsilon(p.start_frame, (double)(one.frames - skipped + RADIO_LEAD_IN), START_BAR);
  radio_clear(&one);
  radio_clear(&two);
}

/* A channel that is loud with something else does not hide the one that has the track; and a subwoofer's lead
 * alone, in which the markers are faint, still does. */
static void test_channels(void)
{
  RadioLead lead[2] = {radio_lead(0, 0, 0), radio_lead(CW_PLAYED_BOTH, 0.3, 0)};
  lead[0].noise_rms = 0.3;
  lead[1].noise_rms = 1e-4;
  RadioRecording r = radio_record(CW_STIMULUS_FRONT, lead, 2);
  CwTrackPlace p = place(CW_STIMULUS_FRONT, &r);
  g_assert_cmpint(p.verdict, ==, CW_PLACE_FOUND);
  g_assert_cmpuint(p.channel, ==, 1);
  g_assert_cmpfloat_with_epsilon(p.player_ppm, 0, PPM_BAR);
  radio_clear(&r);

  RadioLead bass = radio_lead(CW_PLAYED_BOTH, 0.5, 0);
  bass.noise_rms = 1e-5;
  radio_add_filter(&bass, CW_FILTER_LINKWITZ_RILEY, CW_LOW_PASS, 4, 200);
  r = radio_record(CW_STIMULUS_FRONT, &bass, 1);
  g_assert_cmpint(place(CW_STIMULUS_FRONT, &r).verdict, ==, CW_PLACE_FOUND);
  radio_clear(&r);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/track-place/found", test_found);
  g_test_add_func("/survey/track-place/weight", test_weight);
  g_test_add_func("/survey/track-place/other-track", test_other_track);
  g_test_add_func("/survey/track-place/cut", test_cut);
  g_test_add_func("/survey/track-place/broken", test_broken);
  g_test_add_func("/survey/track-place/nothing", test_nothing);
  g_test_add_func("/survey/track-place/loop", test_loop);
  g_test_add_func("/survey/track-place/channels", test_channels);
  return g_test_run();
}
