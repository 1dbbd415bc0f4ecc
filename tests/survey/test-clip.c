/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "check-values.h"
#include "radio.h"
#include "survey/leads/clip.h"

/* Overdrive at which a hard-clipped sine has 1 % of harmonics, dB. */
static double overdrive_db(void)
{
  g_assert_cmpfloat(check_cell("clip.od_for_thd", 2, "THD %"), ==, 1);
  return check_cell("clip.od_for_thd", 2, "overdrive dB");
}

static CwRecordedTake make_take(RadioRecording *r)
{
  return cw_recorded_take_new(CW_STIMULUS_LOUD, r->channel, r->channels, r->frames, RADIO_RATE_HZ);
}

/* Hard clipping at known levels, with and without noise, at every tone: where a memoryless limiter reaches 1
 * % follows from its Fourier series (clip.od_for_thd). A window of 60 ms of a tone that rises by 30 dB in 3.2
 * s holds levels 0.28 dB about its middle, and 1 % is crossed between two windows 0.14 dB apart; of the third
 * tone only harmonics up to the third lie within the track, of which the check values know no closed form:
 * the bar there is the decibel that the methods ask for. */
static void test_hard(void)
{
  static const double clip_dbfs[] = {-3, -9.5, -16};
  RadioLead lead[G_N_ELEMENTS(clip_dbfs) + 1];
  for (size_t k = 0; k < G_N_ELEMENTS(clip_dbfs); k++) {
    lead[k] = radio_lead(CW_PLAYED_LEFT, 0.8, 2e-3);
    lead[k].rail = 0.8 * pow(10, (clip_dbfs[k] - overdrive_db()) / 20);
    lead[k].noise_rms = 1e-5;
  }
  lead[3] = lead[1];
  lead[3].noise_rms = 5e-4;
  RadioRecording r = radio_record(CW_STIMULUS_LOUD, lead, G_N_ELEMENTS(lead));
  CwRecordedTake h = make_take(&r);
  g_assert_cmpint(h.place.verdict, ==, CW_PLACE_FOUND);
  for (size_t k = 0; k < G_N_ELEMENTS(lead); k++)
    for (size_t t = 0; t < CW_STIMULUS_TONES; t++) {
      CwToneClip clip = cw_clip_read(&h, t, k, lead[k].delay_seconds);
      g_test_message("lead %zu tone %zu: %.3f dBFS", k, t, clip.clip_dbfs);
      g_assert_true(clip.readable);
      g_assert_cmpfloat_with_epsilon(clip.clip_dbfs, clip_dbfs[k == 3 ? 1 : k], t == 2 ? 1 : 0.28);
      g_assert_cmpfloat(clip.top_level, >=, lead[k].rail);
      g_assert_cmpfloat(clip.top_level, <, 4 / G_PI * lead[k].rail + 0.01); /* of a square wave */
    }
  cw_recorded_take_clear(&h);
  radio_clear(&r);
}

/* A lead that never clips, one that does not carry the tone, and one that is drowned in noise. */
static void test_clean(void)
{
  RadioLead lead[3] = {radio_lead(CW_PLAYED_LEFT, 0.5, 0), radio_lead(CW_PLAYED_BOTH, 0.5, 0),
                       radio_lead(CW_PLAYED_LEFT, 0.05, 0)};
  for (size_t k = 0; k < 3; k++)
    lead[k].noise_rms = 2e-5;
  radio_add_filter(&lead[1], CW_FILTER_LINKWITZ_RILEY, CW_LOW_PASS, 8, 150);
  lead[2].noise_rms = 0.02;
  RadioRecording r = radio_record(CW_STIMULUS_LOUD, lead, 3);
  CwRecordedTake h = make_take(&r);
  for (size_t t = 0; t < CW_STIMULUS_TONES; t++) {
    CwToneClip full = cw_clip_read(&h, t, 0, 0), bass = cw_clip_read(&h, t, 1, 0),
               drowned = cw_clip_read(&h, t, 2, 0);
    g_assert_true(full.readable && isnan(full.clip_dbfs));
    /* The last window begins 0.1 s before the end: the tone is then a decibel below full scale. */
    g_assert_cmpfloat_with_epsilon(20 * log10(full.top_level / 0.5), -0.5, 0.5);
    g_assert_true(isnan(bass.clip_dbfs));
    g_assert_cmpint(bass.readable, ==, t == 0);
    g_assert_true(!drowned.readable && isnan(drowned.clip_dbfs));
  }
  cw_recorded_take_clear(&h);
  radio_clear(&r);
}

/* A recording that ends in the middle of a tone is read no further. */
static void test_ends_early(void)
{
  RadioLead lead = radio_lead(CW_PLAYED_LEFT, 0.8, 0);
  lead.rail = 0.4;
  RadioRecording r = radio_record(CW_STIMULUS_LOUD, &lead, 1);
  CwRecordedTake h = make_take(&r);
  CwToneClip whole = cw_clip_read(&h, 0, 0, 0);
  h.frames = (size_t)(h.place.start_frame + (h.stimulus.tone[0].at_seconds + 1) * RADIO_RATE_HZ);
  CwToneClip part = cw_clip_read(&h, 0, 0, 0);
  g_assert_false(isnan(whole.clip_dbfs));
  g_assert_true(isnan(part.clip_dbfs));
  h.frames = 1000;
  g_assert_false(cw_clip_read(&h, 0, 0, 0).readable);
  cw_recorded_take_clear(&h);
  radio_clear(&r);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/clip/hard", test_hard);
  g_test_add_func("/survey/clip/clean", test_clean);
  g_test_add_func("/survey/clip/ends-early", test_ends_early);
  return g_test_run();
}
