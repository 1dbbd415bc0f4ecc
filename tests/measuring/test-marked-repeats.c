/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Sweeps repeated between two markers and averaged. The mean of N equal signals in independent noise wins 10
 * log10 N: that of the statistics of the mean. The project's own bar for an arrival is 10 us. */
#include "heard.h"

/* What one take between markers says, in few words; the recording goes. */
static CwTakeResult analyse_marked(const CwSweepFeed *feed, Heard *h)
{
  CwTakeResult r = analyse(feed, CW_TIMING_MARKER, h);
  g_test_message("%u sweeps: faults %x, SNR %.2f dB, clock %.3f ppm, arrival %.2f us", feed->repeats,
                 r.faults, r.snr_db, r.player_ppm, 1e6 * r.arrival_seconds);
  heard_clear(h);
  return r;
}

/* One sweep between two markers is the plain feed, to the sample. */
static void test_plain_marker_feed(void)
{
  CwSweepFeed plain = cw_sweep_feed_design(60, RATE_HZ, -12, 2500),
              one = cw_repeated_feed_design(60, RATE_HZ, -12, 2500, 1);
  size_t frames = cw_sweep_feed_frames(&plain, RATE_HZ);
  double *samples[4];

  g_assert_cmpuint(cw_sweep_feed_frames(&one, RATE_HZ), ==, frames);
  for (int i = 0; i < 4; i++)
    samples[i] = cw_alloc_real(frames);
  cw_sweep_feed_render(&plain, RATE_HZ, samples[0], samples[1]);
  cw_sweep_feed_render(&one, RATE_HZ, samples[2], samples[3]);
  g_assert_cmpmem(samples[0], frames * sizeof(double), samples[2], frames * sizeof(double));
  g_assert_cmpmem(samples[1], frames * sizeof(double), samples[3], frames * sizeof(double));
  for (int i = 0; i < 4; i++)
    cw_free(samples[i]);
}

/* Sweeps between two markers, the clock off by 100 ppm: white noise falls by 10 log10 of their number,
 * arrival and level stay what one sweep in silence says. */
static void test_repeats_between_markers(void)
{
  Speaker s = make_speaker(60, 4500), tweeter = make_speaker(1200, 19000);
  CwSweepFeed plain = cw_sweep_feed_design(60, RATE_HZ, -12, 2500);
  double snr_db = 0;

  tweeter.seconds = 1.1e-3;
  tweeter.gain = 0.2;
  Heard silent = hear(&plain, &s, &tweeter, 100, 1e-5, 3);
  CwTakeResult truth = analyse_marked(&plain, &silent);
  cw_take_result_clear(&truth);
  for (unsigned repeats = 1; repeats <= 8; repeats += repeats < 4 ? 1 : 4) {
    CwSweepFeed feed = cw_repeated_feed_design(60, RATE_HZ, -12, 2500, repeats);
    Heard h = hear(&feed, &s, &tweeter, 100, 2e-3, 20 + repeats);
    CwTakeResult r = analyse_marked(&feed, &h);
    g_test_message("worst %.2f dB, arrival off by %.2f us", worst_error_db(&r, &s, 20),
                   1e6 * (r.arrival_seconds - truth.arrival_seconds));
    g_assert_cmpuint(r.faults, ==, 0);
    g_assert_cmpfloat(fabs(r.player_ppm - 100), <, 0.5);
    g_assert_cmpfloat(fabs(r.arrival_seconds - truth.arrival_seconds), <, 10e-6);
    snr_db = repeats == 1 ? r.snr_db : snr_db;
    g_assert_cmpfloat(fabs(r.snr_db - snr_db - 10 * log10(repeats)), <, 0.7);
    g_assert_true(isnan(r.rattle_hz));
    cw_take_result_clear(&r);
  }
  CwSweepFeed four = cw_repeated_feed_design(60, RATE_HZ, -12, 2500, 4);
  Heard h = hear(&four, &s, &tweeter, 100, 1e-5, 5);
  CwTakeResult r = analyse_marked(&four, &h);
  g_assert_cmpuint(r.faults, ==, 0);
  g_assert_cmpfloat(worst_error_db(&r, &s, 20), <, 0.2);
  g_assert_cmpfloat(fabs(r.arrival_seconds - truth.arrival_seconds), <, 10e-6);
  cw_take_result_clear(&r);
}

/* What noise left in the impulse, against a take in silence: not by what the analysis says of itself. */
static double left_noise_db(unsigned repeats)
{
  Speaker s = make_speaker(60, 4500), tweeter = make_speaker(1200, 19000);
  CwSweepFeed feed = cw_repeated_feed_design(60, RATE_HZ, -12, 2500, repeats);
  double power = 0;

  tweeter.gain = 0.2;
  Heard quiet = hear(&feed, &s, &tweeter, 100, 0, 1), noisy = hear(&feed, &s, &tweeter, 100, 1e-3, 91);
  CwTakeResult still = analyse_marked(&feed, &quiet), r = analyse_marked(&feed, &noisy);
  long shift = lrint((r.impulse_start_seconds - still.impulse_start_seconds) * r.impulse_rate_hz);
  for (long i = 4800; i < (long)r.impulse_frames - 4800; i++) /* behind what is left of the sound itself */
    power += pow(r.impulse[i] - still.impulse[i + shift], 2);
  cw_take_result_clear(&still);
  cw_take_result_clear(&r);
  return 10 * log10(power);
}

static void test_left_noise(void)
{
  double one_db = left_noise_db(1), four_db = left_noise_db(4);

  g_test_message("noise in the impulse falls by %.2f dB", one_db - four_db);
  g_assert_cmpfloat(fabs(one_db - four_db - 10 * log10(4)), <, 0.7);
}

static void add_voice(Heard *h, const CwSweepFeed *feed, unsigned repeat, double rms)
{
  CwRandom random = cw_random_new(11 + repeat);
  size_t at =
      LATENCY_FRAMES +
      (size_t)((feed->sweep_at + repeat * feed->period_seconds + 0.3 * feed->sweep.seconds) * RATE_HZ);

  for (size_t i = 0; i < (size_t)RATE_HZ; i++)
    h->microphone[at + i] += rms * cw_random_normal(&random);
}

/* One disturbed sweep of three is left out and costs no more than itself; of two neither can be blamed, and
 * two of four are too many. */
static void test_disturbed_repeat(void)
{
  Speaker s = make_speaker(60, 4500), tweeter = make_speaker(1200, 19000);
  double clean_db = 0;

  tweeter.gain = 0.2;
  for (unsigned disturbed = 0; disturbed <= 3; disturbed++) {
    CwSweepFeed feed = cw_repeated_feed_design(60, RATE_HZ, -12, 2500, (unsigned[]){2, 3, 2, 4}[disturbed]);
    Heard h = hear(&feed, &s, &tweeter, -100, 1e-3, 31);
    if (disturbed)
      add_voice(&h, &feed, 1, 0.05);
    if (disturbed == 3)
      add_voice(&h, &feed, 3, 0.05);
    CwTakeResult r = analyse_marked(&feed, &h);
    if (disturbed == 0)
      clean_db = r.snr_db;
    else if (disturbed == 1)
      g_assert_cmpfloat(fabs(r.snr_db - clean_db), <, 0.7);
    g_assert_cmpuint(r.faults & CW_TAKE_DISTURBED, ==, disturbed < 2 ? 0 : CW_TAKE_DISTURBED);
    g_assert_cmpuint(r.faults & CW_TAKE_MOVED, ==, 0);
    g_assert_true(disturbed > 1 || r.faults == 0);
    cw_take_result_clear(&r);
  }
}

/* A microphone that moves between two of the sweeps shows; without its markers a feed of several sweeps is
 * not averaged at all. */
static void test_moved_between_repeats(void)
{
  Speaker s = make_speaker(60, 4500), tweeter = make_speaker(1200, 19000);
  CwSweepFeed feed = cw_repeated_feed_design(60, RATE_HZ, -12, 2500, 3);

  tweeter.gain = 0.2;
  for (unsigned after = 1; after <= 2; after++) {
    Heard h = hear(&feed, &s, &tweeter, 40, 1e-4, 41);
    add_echoes(&h, 2,
               LATENCY_FRAMES + (size_t)((feed.sweep_at + after * feed.period_seconds - 0.1) * RATE_HZ));
    CwTakeResult r = analyse_marked(&feed, &h);
    g_assert_cmpuint(r.faults & CW_TAKE_MOVED, !=, 0);
    cw_take_result_clear(&r);
  }
  tweeter.gain = 0;
  Heard h = hear(&feed, &s, &tweeter, 40, 1e-4, 42);
  CwTakeResult r = analyse_marked(&feed, &h);
  g_assert_cmpuint(r.faults & CW_TAKE_NO_TIMING, !=, 0);
  g_assert_null(r.impulse);
  cw_take_result_clear(&r);
  Heard cut = hear(&feed, &s, &s, 40, 1e-4, 43), whole = cut;
  cut.frames = LATENCY_FRAMES + (size_t)((feed.second_marker_at - 0.2) * RATE_HZ);
  r = analyse(&feed, CW_TIMING_MARKER, &cut);
  g_assert_cmpuint(r.faults & CW_TAKE_NO_TIMING, !=, 0);
  cw_take_result_clear(&r);
  heard_clear(&whole);
}

/* The rumble of a road outside swells and fades, far below the sweep's middle: the mean's noise, not a
 * disturbance. */
static void test_rumble(void)
{
  Speaker s = make_speaker(60, 4500), tweeter = make_speaker(1200, 19000);
  CwSweepFeed feed = cw_repeated_feed_design(60, RATE_HZ, -12, 2500, 4);
  CwSection rumble = {CW_SECTION_LOW_PASS, 25, 0, 0.7};
  CwCoefficients low;

  tweeter.gain = 0.2;
  g_assert_true(cw_section_design(&rumble, RATE_HZ, &low));
  for (uint64_t seed = 1; seed <= 3; seed++) {
    Heard h = hear(&feed, &s, &tweeter, 60, 1e-4, seed);
    double *noise = cw_alloc_real(h.frames);
    add_noise(noise, h.frames, 0.3, 50 + seed);
    cw_cascade_run(&low, 1, noise, h.frames);
    for (size_t i = 0; i < h.frames; i++)
      h.microphone[i] += noise[i];
    cw_free(noise);
    CwTakeResult r = analyse_marked(&feed, &h);
    g_assert_cmpuint(r.faults, ==, 0);
    cw_take_result_clear(&r);
  }
}

/* What rattles in every sweep is told with its frequency, as it is of one sweep. */
static void test_rattle(void)
{
  Speaker s = make_speaker(60, 4500), tweeter = make_speaker(1200, 19000);
  CwSweepFeed feed = cw_repeated_feed_design(60, RATE_HZ, -12, 2500, 4);
  CwRandom random = cw_random_new(5);
  double rattle_hz = 95;

  tweeter.gain = 0.2;
  Heard h = hear(&feed, &s, &tweeter, 0, 1e-4, 61);
  for (unsigned k = 0; k < feed.repeats; k++) {
    double at = feed.sweep_at + k * feed.period_seconds +
                feed.sweep.growth_seconds * log(rattle_hz / feed.sweep.start_hz);
    for (size_t i = 0; i < h.frames; i++) {
      double apart = (((double)i - LATENCY_FRAMES) / RATE_HZ - at) / 0.12;
      h.microphone[i] += 2e-3 * exp(-apart * apart) * cw_random_normal(&random);
    }
  }
  CwTakeResult r = analyse_marked(&feed, &h);
  g_assert_cmpuint(r.faults, ==, 0);
  g_assert_cmpfloat(fabs(log2(r.rattle_hz / rattle_hz)), <, 0.25);
  cw_take_result_clear(&r);
}

/* Without a reading of the clock asked for, and by loopback: the same mean, timed by what is asked. */
static void test_other_timings(void)
{
  Speaker s = make_speaker(60, 4500), tweeter = make_speaker(1200, 19000);
  CwSweepFeed feed = cw_repeated_feed_design(60, RATE_HZ, -12, 2500, 2);

  tweeter.gain = 0.2;
  tweeter.seconds = 1.1e-3;
  Heard h = hear(&feed, &s, &tweeter, 0, 1e-4, 71);
  CwTakeResult r = analyse(&feed, CW_TIMING_LOOPBACK, &h);
  g_assert_cmpuint(r.faults, ==, 0);
  g_assert_cmpfloat(fabs(r.arrival_seconds - s.seconds), <, 20e-6);
  g_assert_cmpfloat(fabs(r.latency_seconds - LATENCY_FRAMES / RATE_HZ), <, 2e-6);
  cw_take_result_clear(&r);
  r = analyse(&feed, CW_TIMING_NONE, &h);
  g_assert_cmpuint(r.faults, ==, 0);
  g_assert_true(isnan(r.arrival_seconds));
  g_assert_cmpfloat(worst_error_db(&r, &s, 20), <, 0.2);
  cw_take_result_clear(&r);
  heard_clear(&h);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/measuring/marked-repeats/plain-marker-feed", test_plain_marker_feed);
  g_test_add_func("/measuring/marked-repeats/white-noise", test_repeats_between_markers);
  g_test_add_func("/measuring/marked-repeats/disturbed-repeat", test_disturbed_repeat);
  g_test_add_func("/measuring/marked-repeats/moved-between-repeats", test_moved_between_repeats);
  g_test_add_func("/measuring/marked-repeats/left-noise", test_left_noise);
  g_test_add_func("/measuring/marked-repeats/rumble", test_rumble);
  g_test_add_func("/measuring/marked-repeats/rattle", test_rattle);
  g_test_add_func("/measuring/marked-repeats/other-timings", test_other_timings);
  return g_test_run();
}
