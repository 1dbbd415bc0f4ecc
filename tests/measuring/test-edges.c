/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Edges of invented responses. The truth of each is known by construction: a sum of delayed sounds through a
 * speaker's second-order slopes. What is asked besides are properties that any estimate must have: it is odd
 * in the recording's sign, shifts with the recording, and trusts less what is noisier. */
#include "measuring/arrival/edges.h"
#include "speaker_response.h"
#include <glib.h>
#include <string.h>

#define AT 0.0487 /* the first sound, between samples */

static CwEdges find(const float *response, double sweep_low_hz)
{
  CwEdgeSource source = {.samples = response,
                         .frames = SPEAKER_FRAMES,
                         .rate_hz = SPEAKER_RATE_HZ,
                         .low_hz = sweep_low_hz,
                         .high_hz = 21500};
  CwEdges edges;

  cw_edges_find(&source, SPEAKER_LEAD_SECONDS, &edges);
  return edges;
}

static const CwEdge *likeliest(const CwEdges *edges)
{
  const CwEdge *best = &edges->edge[0];

  for (size_t i = 1; i < edges->count; i++)
    if (edges->edge[i].likelihood > best->likelihood)
      best = &edges->edge[i];
  return best;
}

/* A midbass in a door: what comes off floor and glass is louder than the first sound, and one of it points
 * the other way. The largest sample is the loudest reflection's, 4.4 ms later. */
static const Sound door[] = {
    {AT, 1}, {AT + 2.1e-3, 1.5}, {AT + 4.4e-3, -2}, {AT + 5.2e-3, 1.1}, {AT + 9e-3, 0.6}};

static void test_louder_reflections(void)
{
  float *response = g_new(float, SPEAKER_FRAMES);

  for (int sign = 1; sign >= -1; sign -= 2) {
    Sound sounds[G_N_ELEMENTS(door)];
    memcpy(sounds, door, sizeof door);
    for (size_t i = 0; i < G_N_ELEMENTS(door); i++)
      sounds[i].strength *= sign;
    speaker_response(sounds, G_N_ELEMENTS(door), 60, 4800, 33, 0, 1, response);
    CwEdges edges = find(response, 33);
    const CwEdge *best = likeliest(&edges);
    g_test_message("off by %.1f us, height %.2f, likelihood %.3f", 1e6 * (best->seconds - AT), best->height,
                   best->likelihood);
    g_assert_cmpfloat(fabs(best->seconds - AT), <, 30e-6);
    g_assert_true(best->height * sign > 0);
    g_assert_cmpfloat(best->likelihood, >, 0.9);
  }
  g_free(response);
}

/* A tweeter before glass: 90 us after the first sound comes as much of it inverted, and the sweep begins
 * where the band does, so that the response swings before it starts. */
static void test_tweeter_before_glass(void)
{
  static const Sound sounds[] = {{AT, 1}, {AT + 90e-6, -1.05}, {AT + 190e-6, 0.7}, {AT + 1.3e-3, 0.4}};
  float *response = g_new(float, SPEAKER_FRAMES);

  for (double low_hz = 700; low_hz <= 1500; low_hz += 200) {
    speaker_response(sounds, G_N_ELEMENTS(sounds), low_hz, 20500, 1.5 * low_hz, 0, 1, response);
    CwEdges edges = find(response, 1.5 * low_hz);
    const CwEdge *best = likeliest(&edges);
    g_test_message("from %g Hz: off by %.1f us, height %.2f, likelihood %.3f", low_hz,
                   1e6 * (best->seconds - AT), best->height, best->likelihood);
    g_assert_cmpfloat(fabs(best->seconds - AT), <, 25e-6);
    g_assert_cmpfloat(best->height, >, 0);
  }
  g_free(response);
}

/* A first sound behind an obstacle, a quarter of what follows. */
static void test_weak_first_sound(void)
{
  static const Sound sounds[] = {{AT, 0.5}, {AT + 1.2e-3, 2}, {AT + 3e-3, -1.2}};
  float *response = g_new(float, SPEAKER_FRAMES);

  speaker_response(sounds, G_N_ELEMENTS(sounds), 60, 4800, 33, 0, 1, response);
  CwEdges edges = find(response, 33);
  const CwEdge *best = likeliest(&edges);
  g_assert_cmpfloat(fabs(best->seconds - AT), <, 30e-6);
  g_assert_cmpfloat(best->height, >, 0);
  g_free(response);
}

/* Property: what points the other way points the other way, all else to the last bit that rounding leaves. */
static void test_odd_in_sign(void)
{
  float *response = g_new(float, SPEAKER_FRAMES);

  speaker_response(door, G_N_ELEMENTS(door), 60, 4800, 33, 2e-5, 7, response);
  CwEdges one = find(response, 33);
  for (size_t i = 0; i < SPEAKER_FRAMES; i++)
    response[i] = -response[i];
  CwEdges other = find(response, 33);
  g_assert_cmpuint(one.count, ==, other.count);
  for (size_t i = 0; i < one.count; i++) {
    g_assert_cmpfloat(fabs(one.edge[i].seconds - other.edge[i].seconds), <, 1e-9);
    g_assert_cmpfloat(fabs(one.edge[i].height + other.edge[i].height), <, 1e-6);
    g_assert_cmpfloat(fabs(one.edge[i].likelihood - other.edge[i].likelihood), <, 1e-6);
  }
  g_free(response);
}

/* Property: a delay by any part of a sample shifts every edge by as much. */
static void test_shifts_with_delay(void)
{
  float *response = g_new(float, SPEAKER_FRAMES);
  double first = NAN;

  for (int step = 0; step <= 6; step++) {
    double delay = step * 3.7e-6;
    Sound sounds[G_N_ELEMENTS(door)];
    memcpy(sounds, door, sizeof door);
    for (size_t i = 0; i < G_N_ELEMENTS(door); i++)
      sounds[i].seconds += delay;
    speaker_response(sounds, G_N_ELEMENTS(door), 60, 4800, 33, 0, 1, response);
    CwEdges edges = find(response, 33);
    double at = likeliest(&edges)->seconds - delay;
    first = isnan(first) ? at : first;
    g_assert_cmpfloat(fabs(at - first), <, 1e-6);
  }
  g_free(response);
}

/* Property: noise makes the edge less certain and what precedes it less quiet; in noise alone no edge is
 * sure. */
static void test_noise_costs_certainty(void)
{
  float *response = g_new(float, SPEAKER_FRAMES);
  double quiet = 0, likelihood = INFINITY;

  for (int step = 0; step < 4; step++) {
    speaker_response(door, G_N_ELEMENTS(door), 60, 4800, 33, 1e-4 * pow(10, step) / 4, 3, response);
    CwEdges edges = find(response, 33);
    const CwEdge *best = likeliest(&edges);
    g_test_message("noise %g: rest %.4f, likelihood %.3f", 1e-4 * pow(10, step), edges.noise,
                   best->likelihood);
    g_assert_cmpfloat(edges.noise, >, quiet);
    g_assert_cmpfloat(best->likelihood, <=, likelihood + 0.02);
    quiet = edges.noise;
    likelihood = best->likelihood;
  }
  memset(response, 0, SPEAKER_FRAMES * sizeof *response);
  for (unsigned seed = 1; seed <= 8; seed++) {
    speaker_response(door, 0, 60, 4800, 33, 0.01, seed, response);
    CwEdges edges = find(response, 33);
    for (size_t i = 0; i < edges.count; i++)
      g_assert_cmpfloat(edges.edge[i].likelihood, <, 0.8);
  }
  g_free(response);
}

/* Nothing to read: silence has no edge. */
static void test_silence(void)
{
  float *response = g_new0(float, SPEAKER_FRAMES);
  CwEdges edges = find(response, 33);

  g_assert_cmpuint(edges.count, ==, 0);
  g_free(response);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/edges/louder-reflections", test_louder_reflections);
  g_test_add_func("/edges/tweeter-before-glass", test_tweeter_before_glass);
  g_test_add_func("/edges/weak-first-sound", test_weak_first_sound);
  g_test_add_func("/edges/odd-in-sign", test_odd_in_sign);
  g_test_add_func("/edges/shifts-with-delay", test_shifts_with_delay);
  g_test_add_func("/edges/noise-costs-certainty", test_noise_costs_certainty);
  g_test_add_func("/edges/silence", test_silence);
  return g_test_run();
}
