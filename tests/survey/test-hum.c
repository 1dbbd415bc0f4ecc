/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "../signal/signals.h"
#include "survey/recording/hum.h"

#define RATE_HZ 48000.0
#define SECONDS 4.0

/* Silences such as a track has, one of them long: what counts for the frequency is how far apart they are. */
static const CwStretch silences[] = {{2000, 15000}, {60000, 24000}, {150000, 20000}};

typedef struct {
  size_t frames;
  double *samples;
} Room;

/* A steady tone with harmonics 2, 3 and 5, whose phases are their numbers in radians. */
static Room make_room(double hz, const double *amplitude, double noise_rms, double offset, uint64_t seed)
{
  Room room = {.frames = (size_t)(SECONDS * RATE_HZ)};
  room.samples = cw_alloc_real(room.frames);
  for (size_t i = 0; i < room.frames; i++) {
    room.samples[i] = offset;
    for (int k = 1; k <= CW_HUM_HARMONICS && hz > 0; k++)
      room.samples[i] += amplitude[k - 1] * cos(2 * G_PI * hz * k * (double)i / RATE_HZ + k);
  }
  add_noise(room.samples, room.frames, noise_rms, seed);
  return room;
}

static const double amplitudes[CW_HUM_HARMONICS] = {2e-3, 5e-4, 8e-4, 0, 3e-4, 0, 0};

/* The bound of Cramer and Rao on the frequency of a tone known from samples at t: 2 sigma^2 / (A^2 sum of (t
 * - mean t)^2), over (2 pi)^2 (Rife and Boorstyn, IEEE Trans. IT-20, 1974, for samples with gaps). Harmonics
 * and the means taken off are left out of it: five deviations. */
static double frequency_deviation_hz(double amplitude, double noise_rms)
{
  double n = 0, sum = 0, squares = 0;
  for (size_t s = 0; s < G_N_ELEMENTS(silences); s++)
    for (size_t i = 0; i < silences[s].count; i++) {
      double t = (double)(silences[s].first + i) / RATE_HZ;
      n++;
      sum += t;
      squares += t * t;
    }
  return sqrt(2 * noise_rms * noise_rms / (amplitude * amplitude * (squares - sum * sum / n))) / (2 * G_PI);
}

static size_t frames_of_silence(void)
{
  size_t n = 0;
  for (size_t s = 0; s < G_N_ELEMENTS(silences); s++)
    n += silences[s].count;
  return n;
}

/* Frequency, amplitudes and phases at both mains and off them; the offset is no part of it. */
static void test_find_and_fit(void)
{
  static const double mains[] = {49.971, 50, 60.013, 47.3};
  const double noise = 1e-3;
  for (size_t m = 0; m < G_N_ELEMENTS(mains); m++) {
    Room room = make_room(mains[m], amplitudes, noise, 0.01, 3 + m);
    const double *channel[] = {room.samples};
    double hz = cw_hum_find(channel, 1, silences, G_N_ELEMENTS(silences), RATE_HZ);
    g_assert_cmpfloat_with_epsilon(hz, mains[m], 5 * frequency_deviation_hz(amplitudes[0], noise));
    CwHum hum = cw_hum_fit(hz, room.samples, silences, G_N_ELEMENTS(silences), RATE_HZ);
    double deviation = sqrt(2.0 / (double)frames_of_silence()) * noise; /* of an amplitude by least squares */
    for (int k = 0; k < CW_HUM_HARMONICS; k++) {
      double size = hypot(hum.cosine[k], hum.sine[k]);
      if (amplitudes[k] == 0)
        g_assert_cmpfloat(size, ==, 0); /* it does not stand out */
      else
        g_assert_cmpfloat_with_epsilon(size, amplitudes[k], 5 * deviation);
    }
    cw_free(room.samples);
  }
}

/* What is taken off leaves the noise: over the whole recording, not only where it was fitted. */
static void test_take_off(void)
{
  const double noise = 3e-4;
  Room room = make_room(50.02, amplitudes, noise, 0, 8), alone = make_room(0, amplitudes, noise, 0, 8);
  const double *channel[] = {room.samples};
  double hz = cw_hum_find(channel, 1, silences, G_N_ELEMENTS(silences), RATE_HZ), power = 0;
  CwHum hum = cw_hum_fit(hz, room.samples, silences, G_N_ELEMENTS(silences), RATE_HZ);
  double rms = sqrt(0.5 * (4 + 0.25 + 0.64 + 0.09)) * 1e-3;
  g_assert_cmpfloat_with_epsilon(cw_hum_rms(&hum), rms, 5 * sqrt(1.0 / (double)frames_of_silence()) * noise);
  cw_hum_take_off(&hum, RATE_HZ, room.samples, room.frames);
  for (size_t i = 0; i < room.frames; i++)
    power += pow(room.samples[i] - alone.samples[i], 2) / (double)room.frames;
  /* Fourteen amplitudes and one frequency were fitted from a third of the frames: what they miss is noise's
   * share of so many unknowns, doubled where the recording reaches beyond the silences. */
  g_assert_cmpfloat(sqrt(power), <, 2 * noise * sqrt(15.0 / (double)frames_of_silence()));
  cw_free(room.samples);
  cw_free(alone.samples);
}

/* A lead that hums beside one that does not: the frequency is found, and nothing is taken off the other. */
static void test_channels(void)
{
  Room hums = make_room(50.1, amplitudes, 1e-3, 0, 1), quiet = make_room(0, amplitudes, 1e-3, 0, 2);
  const double *channel[] = {quiet.samples, hums.samples};
  double hz = cw_hum_find(channel, 2, silences, G_N_ELEMENTS(silences), RATE_HZ);
  g_assert_cmpfloat_with_epsilon(hz, 50.1, 5 * frequency_deviation_hz(amplitudes[0], 1e-3));
  CwHum of_quiet = cw_hum_fit(hz, quiet.samples, silences, G_N_ELEMENTS(silences), RATE_HZ);
  CwHum of_hum = cw_hum_fit(hz, hums.samples, silences, G_N_ELEMENTS(silences), RATE_HZ);
  g_assert_cmpfloat(cw_hum_rms(&of_quiet), ==, 0);
  g_assert_cmpfloat(cw_hum_rms(&of_hum), >, 1e-3);
  cw_free(hums.samples);
  cw_free(quiet.samples);
}

/* Noise alone has no hum: the line that is asked for is twelve times the mean, which noise reaches in one of
 * e^12 independent frequencies. */
static void test_none(void)
{
  for (uint64_t seed = 1; seed <= 10; seed++) {
    Room room = make_room(0, amplitudes, 1e-3, 0.02, seed);
    const double *channel[] = {room.samples};
    g_assert_cmpfloat(cw_hum_find(channel, 1, silences, G_N_ELEMENTS(silences), RATE_HZ), ==, 0);
    cw_free(room.samples);
  }
  CwHum none = cw_hum_fit(0, NULL, NULL, 0, RATE_HZ);
  g_assert_cmpfloat(none.hz, ==, 0);
  g_assert_cmpfloat(cw_hum_rms(&none), ==, 0);
}

/* Silences too short to tell a frequency, and none at all. */
static void test_too_short(void)
{
  static const CwStretch brief[] = {{1000, 2000}};
  Room room = make_room(50, amplitudes, 1e-6, 0, 1);
  const double *channel[] = {room.samples};
  g_assert_cmpfloat(cw_hum_find(channel, 1, brief, 1, RATE_HZ), ==, 0);
  g_assert_cmpfloat(cw_hum_find(channel, 1, NULL, 0, RATE_HZ), ==, 0);
  g_assert_cmpfloat(cw_hum_find(NULL, 0, brief, 1, RATE_HZ), ==, 0);
  CwHum hum = cw_hum_fit(50, room.samples, brief, 1, RATE_HZ);
  g_assert_cmpfloat(cw_hum_rms(&hum), ==, 0); /* as many blocks as would leave nothing over for the noise */
  cw_free(room.samples);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/hum/find-and-fit", test_find_and_fit);
  g_test_add_func("/survey/hum/take-off", test_take_off);
  g_test_add_func("/survey/hum/channels", test_channels);
  g_test_add_func("/survey/hum/none", test_none);
  g_test_add_func("/survey/hum/too-short", test_too_short);
  return g_test_run();
}
