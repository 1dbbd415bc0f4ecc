/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Takes of a speaker that is known: sections and a delay, played by a clock of its own, with noise. What is
 * judged is what must be true of any take; the numbers are the project's own bars (level within 0.2 dB and
 * arrival within 20 us where the SNR is above 30 dB). */
#include "heard.h"

/* Drivers of all ways, both polarities: response, arrival, polarity by loopback. */
static void test_loopback(void)
{
  static const double bands[][3] = {
      {25, 400, 25}, {60, 4500, 60}, {150, 9000, 270}, {900, 19000, 2500}, {90, 15000, 100}};

  for (size_t i = 0; i < G_N_ELEMENTS(bands); i++) {
    Speaker s = make_speaker(bands[i][0], bands[i][1]);
    CwSweepFeed feed = cw_sweep_feed_design(bands[i][2], RATE_HZ, -12, 0);
    s.gain = i % 2 ? -0.3 : 0.3;
    Heard h = hear(&feed, &s, NULL, 0, 1e-4, 1 + i);
    CwTakeResult r = analyse(&feed, CW_TIMING_LOOPBACK, &h);
    g_test_message("lowest %g Hz: worst %.3f dB, arrival off by %.2f us, confidence %.3f, SNR %.1f dB",
                   bands[i][2], worst_error_db(&r, &s, 20), 1e6 * (r.arrival_seconds - s.seconds),
                   r.polarity_confidence, r.snr_db);
    g_assert_cmpuint(r.faults, ==, 0);
    g_assert_cmpfloat(worst_error_db(&r, &s, 20), <, 0.2);
    g_assert_cmpfloat(fabs(r.latency_seconds - LATENCY_FRAMES / RATE_HZ), <, 1e-6);
    g_assert_cmpfloat(fabs(r.arrival_seconds - s.seconds), <, 20e-6);
    g_assert_cmpfloat(r.polarity, ==, s.gain < 0 ? -1 : 1);
    g_assert_cmpfloat(r.polarity_confidence, >, 0.5);
    g_assert_true(isnan(r.rattle_hz));
    cw_take_result_clear(&r);
    heard_clear(&h);
  }
}

/* By markers of another speaker, on a clock of the recorder's own: the clock, and the arrival against the
 * marker's speaker. Two takes of the same must agree in arrival within 10 us. */
static void test_marker(void)
{
  Speaker s = make_speaker(60, 4500), tweeter = make_speaker(1200, 19000);
  CwSweepFeed feed = cw_sweep_feed_design(60, RATE_HZ, -12, 2500);
  double arrival[2][3];

  tweeter.seconds = 1.1e-3;
  tweeter.gain = 0.2;
  for (int k = 0; k < 3; k++) {
    double ppm = (double[]){-120, 3, 150}[k];
    for (int take = 0; take < 2; take++) {
      Heard h = hear(&feed, &s, &tweeter, ppm, 1e-4, (uint64_t)(10 * k + take));
      CwTakeResult r = analyse(&feed, CW_TIMING_MARKER, &h);
      g_assert_cmpuint(r.faults, ==, 0);
      g_assert_cmpfloat(fabs(r.player_ppm - ppm), <, 0.5);
      g_assert_cmpfloat(worst_error_db(&r, &s, 20), <, 0.2);
      g_test_message("clock %.4f ppm off", r.player_ppm - ppm);
      arrival[take][k] = r.arrival_seconds;
      cw_take_result_clear(&r);
      heard_clear(&h);
    }
    g_test_message("%g ppm: arrival %.3f and %.3f us after the marker's", ppm, 1e6 * arrival[0][k],
                   1e6 * arrival[1][k]);
    g_assert_cmpfloat(fabs(arrival[0][k] - arrival[1][k]), <, 10e-6);
    g_assert_cmpfloat(fabs(arrival[0][k] - arrival[0][0]), <, 10e-6);
    g_assert_cmpfloat(fabs(arrival[0][k] - (s.seconds - tweeter.seconds)), <, 20e-6);
  }
}

/* The two markers tell whether the microphone has moved meanwhile, in noise too. */
static void test_moved_by_markers(void)
{
  Speaker s = make_speaker(60, 4500), tweeter = make_speaker(1200, 19000);
  CwSweepFeed feed = cw_sweep_feed_design(60, RATE_HZ, -12, 2500);

  tweeter.gain = 0.2;
  for (int noise = 0; noise < 2; noise++)
    for (size_t later = 0; later < 3; later++) { /* a sample is 7 mm of air */
      Heard h = hear(&feed, &s, &tweeter, 40, noise ? 1e-3 : 1e-5, 7 + later);
      add_echoes(&h, later, LATENCY_FRAMES + (size_t)((feed.second_marker_at - 0.1) * RATE_HZ));
      CwTakeResult r = analyse(&feed, CW_TIMING_MARKER, &h);
      g_test_message("echoes later by %zu samples: faults %x", later, r.faults);
      g_assert_cmpuint(r.faults, ==, later ? CW_TAKE_MOVED : 0);
      cw_take_result_clear(&r);
      heard_clear(&h);
    }
}

/* The microphone's own response comes off. */
static void test_calibration(void)
{
  Speaker s = make_speaker(60, 9000), both = s;
  CwSweepFeed feed = cw_sweep_feed_design(60, RATE_HZ, -12, 0);
  double hz[200], db[200];
  CwSection microphone = {CW_SECTION_PEAKING, 5000, 4, 1.5};

  g_assert_true(cw_section_design(&microphone, RATE_HZ, &both.cascade[both.sections++]));
  for (int i = 0; i < 200; i++) {
    hz[i] = 20 * pow(1000, i / 199.0);
    db[i] = 20 * log10(cabs(cw_coefficients_response(&both.cascade[both.sections - 1], hz[i], RATE_HZ)));
  }
  Heard h = hear(&feed, &both, NULL, 0, 1e-5, 3);
  CwTakeInput input = {.feed = &feed,
                       .timing = CW_TIMING_LOOPBACK,
                       .microphone = h.microphone,
                       .loopback = h.loopback,
                       .frames = h.frames,
                       .rate_hz = RATE_HZ,
                       .calibration_hz = hz,
                       .calibration_db = db,
                       .calibration_count = 200,
                       .spl_at_full_scale = 100};
  CwTakeResult r;
  cw_take_analyse(&input, &r);
  g_assert_cmpfloat(worst_error_db(&r, &s, 20), <, 0.1);
  cw_take_result_clear(&r);
  heard_clear(&h);
}

/* Noise bursts while the sweep passes one frequency are a rattle, told with that frequency; a bang in between
 * refuses the take; neither is found in a clean take with distortion of its own. */
static void test_rattle_and_bang(void)
{
  Speaker s = make_speaker(60, 4500);
  CwSweepFeed feed = cw_sweep_feed_design(60, RATE_HZ, -12, 0);
  CwRandom random = cw_random_new(5);
  double rattle_hz = 95,
         at = feed.sweep_at + feed.sweep.growth_seconds * log(rattle_hz / feed.sweep.start_hz);
  Heard clean = hear(&feed, &s, NULL, 0, 1e-4, 5);

  for (size_t i = 0; i < clean.frames; i++) { /* second and third harmonic of half a per cent and more */
    double x = clean.microphone[i] / 0.075;
    clean.microphone[i] += 0.075 * (0.01 * x * x + 0.02 * x * x * x);
  }
  CwTakeResult r = analyse(&feed, CW_TIMING_LOOPBACK, &clean);
  g_assert_cmpuint(r.faults, ==, 0);
  g_assert_true(isnan(r.rattle_hz));
  cw_take_result_clear(&r);
  for (size_t i = 0; i < clean.frames; i++) {
    double t = ((double)i - LATENCY_FRAMES) / RATE_HZ, apart = (t - at) / 0.12;
    clean.microphone[i] += 2e-3 * exp(-apart * apart) * cw_random_normal(&random);
  }
  r = analyse(&feed, CW_TIMING_LOOPBACK, &clean);
  g_assert_cmpuint(r.faults, ==, 0);
  g_assert_cmpfloat(fabs(log2(r.rattle_hz / rattle_hz)), <, 0.25);
  cw_take_result_clear(&r);
  heard_clear(&clean);
  Heard banged = hear(&feed, &s, NULL, 0, 1e-4, 6);
  size_t bang_at = LATENCY_FRAMES + (size_t)((feed.sweep_at + 0.8 * feed.sweep.seconds) * RATE_HZ);
  for (size_t i = 0; i < 2000; i++)
    banged.microphone[bang_at + i] += 0.05 * exp(-(double)i / 400) * cw_random_normal(&random);
  r = analyse(&feed, CW_TIMING_LOOPBACK, &banged);
  g_assert_cmpuint(r.faults & CW_TAKE_DISTURBED, !=, 0);
  cw_take_result_clear(&r);
  heard_clear(&banged);
}

/* A take that must not be used is refused with its reason, and nothing is made up. */
static void test_refused(void)
{
  Speaker s = make_speaker(60, 4500);
  CwSweepFeed feed = cw_sweep_feed_design(60, RATE_HZ, -12, 0);
  Heard h = hear(&feed, &s, NULL, 0, 1e-4, 7), cut, tone, loud, silent, noise;
  CwTakeResult r;

  cut = h;
  cut.frames = (size_t)(1.5 * RATE_HZ);
  r = analyse(&feed, CW_TIMING_LOOPBACK, &cut);
  g_assert_cmpuint(r.faults & CW_TAKE_SHORT, !=, 0);
  g_assert_null(r.impulse);
  cw_take_result_clear(&r);
  tone = hear(&feed, &s, NULL, 0, 0, 7);
  for (size_t i = 0; i < tone.frames; i++)
    tone.microphone[i] = 0.1 * sin(2 * G_PI * 1000 / RATE_HZ * (double)i);
  r = analyse(&feed, CW_TIMING_LOOPBACK, &tone);
  g_assert_cmpuint(r.faults & (CW_TAKE_NO_SWEEP | CW_TAKE_QUIET), !=, 0);
  cw_take_result_clear(&r);
  heard_clear(&tone);
  loud = hear(&feed, &s, NULL, 0, 1e-4, 7);
  for (size_t i = 0; i < loud.frames; i++)
    loud.microphone[i] = fmin(fmax(40 * loud.microphone[i], -1), 1);
  r = analyse(&feed, CW_TIMING_LOOPBACK, &loud);
  g_assert_cmpuint(r.faults & CW_TAKE_CLIPPED, !=, 0);
  cw_take_result_clear(&r);
  heard_clear(&loud);
  silent = hear(&feed, &s, NULL, 0, 0, 7);
  memset(silent.microphone, 0, silent.frames * sizeof(double));
  r = analyse(&feed, CW_TIMING_LOOPBACK, &silent);
  g_assert_cmpuint(r.faults & CW_TAKE_SILENT, !=, 0);
  memset(silent.loopback, 0, silent.frames * sizeof(double));
  add_noise(silent.microphone, silent.frames, 0.01, 8);
  r = analyse(&feed, CW_TIMING_LOOPBACK, &silent);
  g_assert_cmpuint(r.faults & CW_TAKE_NO_TIMING, !=, 0);
  cw_take_result_clear(&r);
  heard_clear(&silent);
  noise = hear(&feed, &s, NULL, 0, 0.25, 9);
  r = analyse(&feed, CW_TIMING_LOOPBACK, &noise);
  g_assert_cmpuint(r.faults & CW_TAKE_QUIET, !=, 0);
  cw_take_result_clear(&r);
  heard_clear(&noise);
  heard_clear(&h);
}

/* A recording of a feed of several sweeps; what the microphone hears of each may differ. */
static Heard hear_repeats(const CwSweepFeed *feed, const Speaker *s, double noise_rms, double moves_seconds)
{
  Heard h = {.frames = cw_fft_good_length(cw_sweep_feed_frames(feed, RATE_HZ) + LATENCY_FRAMES + 24000)};
  double *sweep = cw_alloc_real(h.frames);

  h.microphone = cw_alloc_real(h.frames);
  h.loopback = cw_alloc_real(h.frames);
  for (unsigned k = 0; k < feed->repeats; k++) {
    memset(sweep, 0, h.frames * sizeof *sweep);
    cw_sweep_render(&feed->sweep, RATE_HZ,
                    sweep + (size_t)lrint((feed->sweep_at + k * feed->period_seconds) * RATE_HZ) +
                        LATENCY_FRAMES);
    for (size_t i = 0; i < h.frames; i++)
      h.loopback[i] += sweep[i];
    cw_cascade_run(s->cascade, s->sections, sweep, h.frames);
    delay_by(sweep, h.frames, (s->seconds + k * moves_seconds) * RATE_HZ);
    for (size_t i = 0; i < h.frames; i++)
      h.microphone[i] += s->gain * sweep[i];
  }
  add_noise(h.microphone, h.frames, noise_rms, 77);
  cw_free(sweep);
  return h;
}

/* Each doubling wins 3 dB over stationary noise; level and arrival stay. A microphone that moves by two
 * centimetres between sweeps shows. */
static void test_repeats(void)
{
  Speaker s = make_speaker(60, 4500);
  double snr_db[4];

  for (unsigned k = 0; k < 4; k++) {
    CwSweepFeed feed = cw_repeated_feed_design(60, RATE_HZ, -12, 0, 1u << k);
    Heard h = hear_repeats(&feed, &s, 2e-3, 0);
    CwTakeResult r = analyse(&feed, CW_TIMING_LOOPBACK, &h);
    g_test_message("%u sweeps: SNR %.1f dB, worst %.2f dB, arrival off by %.2f us", feed.repeats, r.snr_db,
                   worst_error_db(&r, &s, 20), 1e6 * (r.arrival_seconds - s.seconds));
    g_assert_cmpuint(r.faults, ==, 0);
    g_assert_cmpfloat(fabs(r.arrival_seconds - s.seconds), <, 20e-6);
    snr_db[k] = r.snr_db;
    cw_take_result_clear(&r);
    heard_clear(&h);
  }
  for (int k = 1; k < 4; k++)
    g_assert_cmpfloat(fabs(snr_db[k] - snr_db[0] - 3.0103 * k), <, 1);
  CwSweepFeed feed = cw_repeated_feed_design(60, RATE_HZ, -12, 0, 2);
  Heard moved = hear_repeats(&feed, &s, 1e-4, 0.02 / 343.2);
  CwTakeResult r = analyse(&feed, CW_TIMING_LOOPBACK, &moved);
  g_assert_cmpuint(r.faults & CW_TAKE_MOVED, !=, 0);
  cw_take_result_clear(&r);
  moved.frames =
      (size_t)((feed.sweep_at + 1.5 * feed.period_seconds) * RATE_HZ); /* cut within the second sweep */
  r = analyse(&feed, CW_TIMING_LOOPBACK, &moved);
  g_assert_cmpuint(r.faults & CW_TAKE_SHORT, !=, 0);
  cw_take_result_clear(&r);
  heard_clear(&moved);
}

/* Without silence before the feed nothing is known of the noise: refused, whatever the take looks like. */
static void test_late(void)
{
  Speaker s = make_speaker(60, 4500);
  CwSweepFeed feed = cw_sweep_feed_design(60, RATE_HZ, -12, 0);
  Heard h = hear(&feed, &s, NULL, 0, 1e-4, 12), late = h;
  size_t cut = LATENCY_FRAMES + (size_t)(feed.sweep_at * RATE_HZ) - 2000;

  late.microphone += cut;
  late.loopback += cut;
  late.frames -= cut;
  CwTakeResult r = analyse(&feed, CW_TIMING_LOOPBACK, &late);
  g_assert_cmpuint(r.faults & CW_TAKE_LATE, !=, 0);
  cw_take_result_clear(&r);
  heard_clear(&h);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/measuring/take/loopback", test_loopback);
  g_test_add_func("/measuring/take/marker", test_marker);
  g_test_add_func("/measuring/take/moved-by-markers", test_moved_by_markers);
  g_test_add_func("/measuring/take/calibration", test_calibration);
  g_test_add_func("/measuring/take/rattle-and-bang", test_rattle_and_bang);
  g_test_add_func("/measuring/take/refused", test_refused);
  g_test_add_func("/measuring/take/repeats", test_repeats);
  g_test_add_func("/measuring/take/late", test_late);
  return g_test_run();
}
