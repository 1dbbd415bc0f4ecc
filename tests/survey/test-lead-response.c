/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "radio.h"

#include <math.h>

typedef struct {
  RadioRecording recording;
  CwRecordedTake take;
} Played;

static Played play(CwStimulusKind kind, const RadioLead *lead, size_t leads)
{
  Played p = {.recording = radio_record(kind, lead, leads)};
  p.take = cw_recorded_take_new(kind, p.recording.channel, leads, p.recording.frames, RADIO_RATE_HZ);
  g_assert_cmpint(p.take.place.verdict, ==, CW_PLACE_FOUND);
  return p;
}

static void clear(Played *p)
{
  cw_recorded_take_clear(&p->take);
  radio_clear(&p->recording);
}

static void respond(Played *p, size_t which, size_t c, CwLeadResponse *response)
{
  CwSweepInverse *inverse = cw_recorded_take_inverse(&p->take, which);
  cw_recorded_take_respond(&p->take, inverse, which, c, response);
  cw_sweep_inverse_free(inverse);
}

/* The grid: 20 Hz is one of its points, and so is every twelfth of an octave above. */
static void test_points(void)
{
  g_assert_cmpfloat_with_epsilon(cw_lead_hz(CW_LEAD_BELOW), 20, 1e-12);
  g_assert_cmpfloat_with_epsilon(cw_lead_hz(CW_LEAD_BELOW + CW_LEAD_PER_OCTAVE), 40, 1e-12);
  for (size_t i = 1; i < CW_LEAD_POINTS; i++)
    g_assert_cmpfloat_with_epsilon(cw_lead_hz(i) / cw_lead_hz(i - 1), exp2(1.0 / 24), 1e-12);
  g_assert_cmpfloat(cw_lead_hz(0), >, 11.8);
  g_assert_cmpfloat(cw_lead_hz(CW_LEAD_POINTS - 1), >, 20000);
}

/* Leads of every make, known by their coefficients. Where one is within 20 dB of its top the level is right
 * to 0.05 dB and the phase to half a degree: an eighth of what the methods allow the whole survey, so that
 * the fits that come after have their share. */
static void test_known_leads(void)
{
  RadioLead lead[4] = {radio_lead(CW_PLAYED_LEFT, 0.7, 0), radio_lead(CW_PLAYED_LEFT, -0.3, 5.4e-3),
                       radio_lead(CW_PLAYED_LEFT, 0.5, 1.003e-3), radio_lead(CW_PLAYED_LEFT, 0.9, 12e-3)};
  radio_add_filter(&lead[1], CW_FILTER_LINKWITZ_RILEY, CW_HIGH_PASS, 4, 2800);
  radio_add_filter(&lead[2], CW_FILTER_BUTTERWORTH, CW_LOW_PASS, 2, 3000);
  radio_add_section(&lead[2], CW_SECTION_PEAKING, 100, 6, 2);
  radio_add_filter(&lead[3], CW_FILTER_LINKWITZ_RILEY, CW_LOW_PASS, 4, 120);
  radio_add_filter(&lead[3], CW_FILTER_BUTTERWORTH, CW_HIGH_PASS, 2, 30);
  Played p = play(CW_STIMULUS_LEADS, lead, 4);
  for (size_t c = 0; c < 4; c++) {
    CwLeadResponse r;
    double top = 0, worst_db = 0, worst_degrees = 0;
    respond(&p, 0, c, &r);
    for (size_t i = 0; i < CW_LEAD_POINTS; i++)
      top = MAX(top, cabs(radio_response(&lead[c], cw_lead_hz(i), 0)));
    for (size_t i = CW_LEAD_BELOW; i < CW_LEAD_POINTS && cw_lead_hz(i) < 18000; i++) {
      CwComplex truth = radio_response(&lead[c], cw_lead_hz(i), r.peak_seconds);
      if (cabs(truth) < 0.1 * top)
        continue;
      worst_db = MAX(worst_db, fabs(20 * log10(cabs(r.value[i] / truth))));
      worst_degrees = MAX(worst_degrees, fabs(carg(r.value[i] / truth)) * 180 / G_PI);
    }
    g_test_message("lead %zu: %.4f dB, %.3f degrees", c, worst_db, worst_degrees);
    g_assert_cmpfloat(worst_db, <, 0.05);
    g_assert_cmpfloat(worst_degrees, <, 0.5);
  }
  clear(&p);
}

/* What the other channel plays is not in a response, nor are the sweep's harmonics: a lead that is fed from
 * the right alone and clips hears nothing of the left sweep. */
static void test_other_channel(void)
{
  RadioLead lead = radio_lead(CW_PLAYED_RIGHT, 0.5, 0);
  lead.noise_rms = 1e-5;
  Played p = play(CW_STIMULUS_LEADS, &lead, 1);
  CwLeadResponse left, right;
  respond(&p, 0, 0, &left);
  respond(&p, 1, 0, &right);
  for (size_t i = CW_LEAD_BELOW; i < CW_LEAD_POINTS && cw_lead_hz(i) < 18000; i++) {
    g_assert_cmpfloat(cabs(left.value[i]), <, 6 * left.noise[i]); /* Rayleigh: e^-18 a point */
    g_assert_cmpfloat_with_epsilon(cabs(right.value[i]), 0.5, 0.005);
  }
  clear(&p);
}

/* The noise that is told is what the response really has of it: half of its square is what the size of a
 * known lead is off on the mean, in one octave from 20 Hz to 16 kHz as in another. (The phase is not looked
 * at: noise also moves the place of the track by a little, for all leads alike.) The mean over neighbouring
 * bins leaves about one in four of the points independent: 24 of an octave in 8 leads have a mean square
 * known to sqrt(2 / 48); 3 times that, and a tenth for what the estimate of the noise itself, from silences,
 * is sure of. */
static void test_noise(void)
{
  RadioLead lead[8];
  for (size_t c = 0; c < 8; c++) {
    lead[c] = radio_lead(CW_PLAYED_LEFT, 0.5, 0);
    lead[c].noise_rms = c % 2 ? 1e-2 : 4e-2;
  }
  Played p = play(CW_STIMULUS_FRONT, lead, 8);
  double sum[10] = {0};
  for (size_t c = 0; c < 8; c++) {
    CwLeadResponse r;
    respond(&p, 0, c, &r);
    for (size_t i = 0; i < 240; i++) {
      size_t at = i + CW_LEAD_BELOW;
      sum[i / 24] += 2 * pow((cabs(r.value[at]) - 0.5) / r.noise[at], 2);
    }
  }
  for (size_t octave = 0; octave < 9; octave++) {
    g_test_message("from %.0f Hz: mean square %.3f", 20 * exp2((double)octave), sum[octave] / (8 * 24));
    g_assert_cmpfloat_with_epsilon(sum[octave] / (8 * 24), 1, 3 * sqrt(2.0 / 48) + 0.1);
  }
  clear(&p);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/lead-response/points", test_points);
  g_test_add_func("/survey/lead-response/known-leads", test_known_leads);
  g_test_add_func("/survey/lead-response/other-channel", test_other_channel);
  g_test_add_func("/survey/lead-response/noise", test_noise);
  return g_test_run();
}
