/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "simulator/practice_bay.h"
#include "simulator/practice_cabin.h"
#include "simulator/practice_drive.h"
#include "sound/protocol.h"

#include <json-glib/json-glib.h>
#include <math.h>
#include <string.h>
#include <time.h>

static CwPracticeBay *make_bay(const char *text)
{
  GError *error = NULL;
  CwPracticeSetup *setup = cw_practice_setup_parse(text, &error);
  g_assert_no_error(error);
  return cw_practice_bay_new(setup);
}

static double distance_m(const CwPracticePoint *a, const CwPracticePoint *b)
{
  return sqrt(pow(a->x_m - b->x_m, 2) + pow(a->y_m - b->y_m, 2) + pow(a->z_m - b->z_m, 2));
}

static float *record_pulse(const CwPracticeBay *bay, guint output, guint position, double rate_hz,
                           gsize frames, float level)
{
  GError *error = NULL;
  float *feed = g_new0(float, frames);
  feed[100] = level;
  guint route = output - 1;
  CwPracticeRequest request = {.feed = feed,
                               .frames = frames,
                               .channels = 1,
                               .route = &route,
                               .rate_hz = rate_hz,
                               .position = position,
                               .quiet = TRUE};
  float *recording = cw_practice_bay_record(bay, &request, &error);
  g_assert_no_error(error);
  g_free(feed);
  return recording;
}

/* The first sample that reaches a tenth of the largest. */
static double onset(const float *recording, gsize frames, guint channel)
{
  float most = 0;
  gsize i;
  for (i = 0; i < frames; i++)
    most = fmaxf(most, fabsf(recording[2 * i + channel]));
  for (i = 0; i < frames && fabsf(recording[2 * i + channel]) < most / 10; i++)
    ;
  return (double)i;
}

/* A pulse arrives by microphone later than by cable by distance / speed of sound, at both ears and at both
 * rates. */
static void test_arrival(void)
{
  CwPracticeBay *bay = make_bay("{\"defects\":[]}");
  const CwPracticeSetup *setup = cw_practice_bay_get_setup(bay);
  const double rates_hz[] = {48000, 96000};
  for (guint r = 0; r < G_N_ELEMENTS(rates_hz); r++)
    for (guint position = 0; position < 3; position++) {
      enum { FRAMES = 8192 };
      float *recording = record_pulse(bay, 2, position, rates_hz[r], FRAMES, 0.5f);
      CwPracticePoint microphone = cw_practice_car_position(setup->car, 0, position);
      double expected =
          distance_m(&setup->car->speaker[1].at, &microphone) / CW_SPEED_OF_SOUND_M_PER_S * rates_hz[r];
      double found = onset(recording, FRAMES, 0) - onset(recording, FRAMES, 1);
      g_assert_cmpfloat(fabs(found - expected), <, 3); /* the tweeter's own rise takes a sample or two */
      /* The cable shows the latency and nothing else. */
      g_assert_cmpfloat(onset(recording, FRAMES, 1), ==,
                        100 + rint(setup->car->latency_ms * rates_hz[r] / 1000));
      g_free(recording);
    }
  cw_practice_bay_free(bay);
}

static double inner_product(const float *a, const float *b, gsize frames)
{
  double ab = 0, aa = 0, bb = 0;
  for (gsize i = 0; i < frames; i++) {
    ab += (double)a[2 * i] * b[2 * i];
    aa += (double)a[2 * i] * a[2 * i];
    bb += (double)b[2 * i] * b[2 * i];
  }
  return ab / sqrt(aa * bb);
}

static void test_reversed(void)
{
  enum { FRAMES = 8192 };
  CwPracticeBay *sound = make_bay("{\"defects\":[]}");
  CwPracticeBay *reversed = make_bay("{\"defects\":[\"front-left-low-reversed\"]}");
  CwPracticeBay *silent = make_bay("{\"defects\":[\"rear-left-silent\"]}");
  /* A pulse too small for the cone to distort, which polarity does not reverse. */
  float *a = record_pulse(sound, 5, 0, 48000, FRAMES, 1e-3f),
        *b = record_pulse(reversed, 5, 0, 48000, FRAMES, 1e-3f);
  g_assert_cmpfloat(inner_product(a, b, FRAMES), <, -0.99999);
  float *c = record_pulse(silent, 7, 0, 48000, FRAMES, 0.5f);
  for (int i = 0; i < FRAMES; i++)
    g_assert_cmpfloat(c[2 * i], ==, 0);
  g_free(a);
  g_free(b);
  g_free(c);
  cw_practice_bay_free(sound);
  cw_practice_bay_free(reversed);
  cw_practice_bay_free(silent);
}

static float *record_sine(const CwPracticeBay *bay, guint output, double hz, double level, gsize frames,
                          gboolean quiet, guint64 seed, double clock_ppm)
{
  GError *error = NULL;
  float *feed = g_new(float, frames);
  for (gsize i = 0; i < frames; i++)
    feed[i] = (float)(level * sin(2 * G_PI * hz * (double)i / 48000));
  guint route = output - 1;
  CwPracticeRequest request = {.feed = feed,
                               .frames = frames,
                               .channels = 1,
                               .route = &route,
                               .rate_hz = 48000,
                               .quiet = quiet,
                               .seed = seed,
                               .clock_ppm = clock_ppm};
  float *recording = cw_practice_bay_record(bay, &request, &error);
  g_assert_no_error(error);
  g_free(feed);
  return recording;
}

/* Amplitude of the sine of hz in `frames` samples from `from`, of a whole number of periods. */
static double amplitude(const float *recording, guint channel, gsize from, gsize frames, double hz)
{
  CwComplex sum = 0;
  for (gsize i = 0; i < frames; i++)
    sum += recording[2 * (from + i) + channel] * cexp(-2 * G_PI * I * hz * (double)i / 48000);
  return 2 * cabs(sum) / (double)frames;
}

/* The harmonics that the description states, at -12 dBFS where the cone moves most: 58 Hz resonance, stated
 * 0.4 and 0.25 %. What reaches the microphone is shaped by speaker and cabin, so that is taken off with the
 * response at the harmonic itself. */
static void test_distortion(void)
{
  enum { FRAMES = 96000, FROM = 48000, HALF = 48000 };
  CwPracticeBay *bay = make_bay("{\"defects\":[]}");
  const double level = pow(10, -12 / 20.0), hz = 100;
  float *loud = record_sine(bay, 5, hz, level, FRAMES, TRUE, 1, 0);
  for (int harmonic = 2; harmonic <= 3; harmonic++) {
    float *linear = record_sine(bay, 5, harmonic * hz, 1e-4, FRAMES, TRUE, 1, 0);
    double percent = 100 * amplitude(loud, 0, FROM, HALF, harmonic * hz) /
                     (amplitude(linear, 0, FROM, HALF, harmonic * hz) / 1e-4 * level);
    double stated = harmonic == 2 ? 0.4 : 0.25;
    g_assert_cmpfloat(percent, >, stated * 0.85);
    g_assert_cmpfloat(percent, <, stated * 1.05);
    g_free(linear);
  }
  g_free(loud);
  cw_practice_bay_free(bay);
}

/* The rattle is heard when its frequency is driven hard, and neither when it is driven softly nor when
 * another is. */
static double clatter_db(const CwPracticeBay *bay, double hz, double level)
{
  enum { FRAMES = 48000 };
  float *recording = record_sine(bay, 6, hz, level, FRAMES, TRUE, 1, 0);
  double sum = 0, previous = 0, before = 0;
  for (int i = 24000; i < FRAMES; i++) {
    double sharp = recording[2 * i] - 2 * previous + before; /* what changes fast: a crude high-pass */
    before = previous;
    previous = recording[2 * i];
    sum += sharp * sharp;
  }
  g_free(recording);
  return 10 * log10(sum / (level * level) + 1e-30);
}

static void test_rattle(void)
{
  CwPracticeBay *loose = make_bay("{\"defects\":[\"right-door-rattles\"]}"),
                *tight = make_bay("{\"defects\":[]}");
  g_assert_cmpfloat(clatter_db(loose, 92, 0.25), >, clatter_db(tight, 92, 0.25) + 20);
  g_assert_cmpfloat(fabs(clatter_db(loose, 92, 0.01) - clatter_db(tight, 92, 0.01)), <, 0.01);
  g_assert_cmpfloat(fabs(clatter_db(loose, 400, 0.25) - clatter_db(tight, 400, 0.25)), <, 1);
  cw_practice_bay_free(loose);
  cw_practice_bay_free(tight);
}

static void test_seed(void)
{
  enum { FRAMES = 20000 };
  CwPracticeBay *bay = make_bay("{}");
  float *a = record_sine(bay, 6, 92, 0.2, FRAMES, FALSE, 5, 0),
        *b = record_sine(bay, 6, 92, 0.2, FRAMES, FALSE, 5, 0);
  float *c = record_sine(bay, 6, 92, 0.2, FRAMES, FALSE, 6, 0);
  g_assert_cmpmem(a, FRAMES * 2 * sizeof *a, b, FRAMES * 2 * sizeof *b);
  g_assert_true(memcmp(a, c, FRAMES * 2 * sizeof *a) != 0);
  g_free(a);
  g_free(b);
  g_free(c);
  cw_practice_bay_free(bay);
}

/* Noise as stated: 29 dB SPL of hiss and 38 of rumble against a full scale that is a sine of 124. */
static void test_noise(void)
{
  enum { FRAMES = 480000 };
  CwPracticeBay *bay = make_bay("{}");
  GError *error = NULL;
  guint route = 0;
  float *feed = g_new0(float, FRAMES);
  CwPracticeRequest request = {
      .feed = feed, .frames = FRAMES, .channels = 1, .route = &route, .rate_hz = 48000, .seed = 3};
  float *recording = cw_practice_bay_record(bay, &request, &error);
  g_assert_no_error(error);
  double sum = 0;
  for (int i = 0; i < FRAMES; i++)
    sum += (double)recording[2 * i] * recording[2 * i];
  double expected = 0.5 * (pow(10, (29 - 124) / 10.0) + pow(10, (38 - 124) / 10.0));
  g_assert_cmpfloat(fabs(10 * log10(sum / FRAMES / expected)), <, 0.3);
  g_free(feed);
  g_free(recording);
  cw_practice_bay_free(bay);
}

/* A recorder that is 100 ppm fast hears 1000 Hz as 1000 / 1.0001 Hz: the cable's phase tells. */
static void test_clock(void)
{
  enum { FRAMES = 240000, PIECE = 4800 };
  CwPracticeBay *bay = make_bay("{}");
  float *recording = record_sine(bay, 1, 1000, 0.2, FRAMES, TRUE, 1, 100);
  double phase[2];
  const int from[2] = {9600, FRAMES - 9600};
  for (int k = 0; k < 2; k++) {
    CwComplex sum = 0;
    for (int i = 0; i < PIECE; i++)
      sum += recording[2 * (from[k] + i) + 1] * cexp(-2 * G_PI * I * 1000 * (from[k] + i) / 48000);
    phase[k] = carg(sum);
    g_assert_cmpfloat(fabs(2 * cabs(sum) / PIECE - 0.2), <, 1e-4);
  }
  double turns = (phase[1] - phase[0]) / (2 * G_PI),
         expected = -1000 * (from[1] - from[0]) / 48000.0 * (1 - 1 / 1.0001);
  g_assert_cmpfloat(fabs(turns - expected - rint(turns - expected)), <, 1e-4);
  g_free(recording);
  cw_practice_bay_free(bay);
}

/* A loaded table is played through: gain, polarity, delay, section, and the mix of the processor's inputs.
 * The pulse is too small for the cone to distort. */
static void test_table(void)
{
  enum { FRAMES = 24000 };
  GString *text = g_string_new(
      "{\"table\":{\"format\":\"cabinwright-table\",\"sample_rate_hz\":48000,\"a_sign\":\"minus\","
      "\"outputs\":["
      "{\"output\":1,\"mix\":{\"left\":0.25,\"right\":0},\"gain_db\":-6.0206,\"polarity\":\"inverted\","
      "\"delay_samples\":37,\"sections\":[{\"b\":[0.5,0.5,0],\"a\":[1,0,0]}]}");
  for (int output = 2; output <= 10; output++)
    g_string_append_printf(text, ",{\"output\":%d,\"mix\":{\"left\":0,\"right\":1}}", output);
  g_string_append(text, "]}}");
  CwPracticeBay *plain = make_bay("{}"), *loaded = make_bay(text->str);
  g_string_free(text, TRUE);
  float *a = record_pulse(plain, 1, 0, 48000, FRAMES, 1e-3f),
        *b = record_pulse(loaded, 1, 0, 48000, FRAMES, 1e-3f);
  /* Behind this car's ten outputs comes the processor's left input. */
  float *c = record_pulse(loaded, 11, 0, 48000, FRAMES, 1e-3f), most = 0;
  for (int i = 0; i < FRAMES; i++)
    most = fmaxf(most, fabsf(b[2 * i]));
  g_assert_cmpfloat(most, >, 1e-6);
  for (int i = 38; i < FRAMES; i++) {
    double expected = -0.5 * 0.5 * (a[2 * (i - 37)] + a[2 * (i - 38)]);
    g_assert_cmpfloat(fabs(b[2 * i] - expected), <, 1e-4 * most);
    g_assert_cmpfloat(fabs(c[2 * i] - 0.25 * b[2 * i]), <, 1e-4 * most);
  }
  GError *error = NULL;
  guint route = 0;
  CwPracticeRequest request = {.feed = a, .frames = 10, .channels = 1, .route = &route, .rate_hz = 96000};
  g_assert_null(cw_practice_bay_record(loaded, &request, &error));
  g_assert_error(error, CW_PRACTICE_ERROR, CW_PRACTICE_ERROR_REQUEST);
  g_clear_error(&error);
  g_free(a);
  g_free(b);
  g_free(c);
  cw_practice_bay_free(plain);
  cw_practice_bay_free(loaded);
}

static void test_wrong_setups(void)
{
  static const char *const wrong[][2] = {
      {"", "object"},
      {"[]", "object"},
      {"{\"car\":\"nowhere\"}", "car"},
      {"{\"car\":7}", "car"},
      {"{\"car\":{\"name\":\"x\",\"outputs\":1e400}}", "outputs"},
      {"{\"seat\":\"roof\"}", "seat"},
      {"{\"position\":6}", "position"},
      {"{\"defects\":[\"no such\"]}", "defects"},
      {"{\"table\":{\"sample_rate_hz\":48000,\"outputs\":[{\"output\":11}]}}", "table.outputs[0].output"},
      {"{\"table\":{\"sample_rate_hz\":48000,\"outputs\":[{\"output\":1,\"sections\":[{\"b\":[1,0,0],\"a\":["
       "1,0,2]}]}]}}",
       "table.outputs[0].sections[0].a"},
      {"{\"table\":{\"sample_rate_hz\":48000,\"outputs\":[{\"output\":1},{\"output\":1}]}}",
       "table.outputs[1].output"},
  };
  for (guint i = 0; i < G_N_ELEMENTS(wrong); i++) {
    GError *error = NULL;
    g_assert_null(cw_practice_setup_parse(wrong[i][0], &error));
    g_assert_error(error, CW_PRACTICE_ERROR, CW_PRACTICE_ERROR_REQUEST);
    g_test_message("%s", error->message);
    g_assert_nonnull(strstr(error->message, wrong[i][1]));
    g_error_free(error);
  }
  char *deep = g_strnfill(100000, '[');
  GError *error = NULL;
  g_assert_null(cw_practice_setup_parse(deep, &error));
  g_assert_error(error, CW_PRACTICE_ERROR, CW_PRACTICE_ERROR_REQUEST);
  g_error_free(error);
  g_free(deep);
}

/* The intake sheet tells what a tape measure would: the contract's keys, distances to half a centimetre. */
static void test_intake(void)
{
  const char *cars[] = {"alder-tourer", "rowan-van"};
  for (guint i = 0; i < G_N_ELEMENTS(cars); i++) {
    char *setup = g_strdup_printf("{\"car\":\"%s\"}", cars[i]);
    CwPracticeBay *bay = make_bay(setup);
    g_free(setup);
    char *text = cw_practice_bay_intake(bay);
    JsonNode *root = json_from_string(text, NULL);
    g_assert_nonnull(root);
    JsonObject *sheet = json_node_get_object(root);
    const char *keys[] = {"reference", "driver_side", "seats",     "speakers", "microphone",
                          "supply",    "amplifiers",  "processor", "target",   "positions_per_seat"};
    for (guint k = 0; k < G_N_ELEMENTS(keys); k++)
      g_assert_true(json_object_has_member(sheet, keys[k]));
    JsonArray *speakers = json_object_get_array_member(sheet, "speakers");
    const CwPracticeCar *car = cw_practice_bay_get_setup(bay)->car;
    g_assert_cmpuint(json_array_get_length(speakers), ==, car->speakers);
    JsonObject *first = json_array_get_object_element(speakers, 0);
    double cm = json_object_get_double_member(json_object_get_object_member(first, "distance_cm"), "driver");
    g_assert_cmpfloat(fabs(cm - 100 * distance_m(&car->speaker[0].at, &car->seat[0].head)), <=, 0.2501);
    json_node_unref(root);
    g_free(text);
    cw_practice_bay_free(bay);
  }
}

/* Ten seconds at 96 kHz take far less than ten seconds, whatever else the machine does. */
static void test_speed(void)
{
  enum { FRAMES = 960000 };
  CwPracticeBay *bay = make_bay("{}");
  GError *error = NULL;
  float *feed = g_new(float, FRAMES);
  for (int i = 0; i < FRAMES; i++)
    feed[i] = (float)(0.2 * sin(i * (1e-4 + i * 1e-6)));
  guint route = 2;
  CwPracticeRequest request = {
      .feed = feed, .frames = FRAMES, .channels = 1, .route = &route, .rate_hz = 96000, .seed = 1};
  clock_t start = clock(); /* of the processor: what else the machine does is not in it */
  float *recording = cw_practice_bay_record(bay, &request, &error);
  double seconds = (double)(clock() - start) / CLOCKS_PER_SEC;
  g_assert_no_error(error);
  g_test_message("10 s at 96 kHz in %.3f s", seconds);
#if !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
  g_assert_cmpfloat(seconds, <, 5);
#endif
  g_free(feed);
  g_free(recording);
  cw_practice_bay_free(bay);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/practice/arrival", test_arrival);
  g_test_add_func("/practice/defects", test_reversed);
  g_test_add_func("/practice/distortion", test_distortion);
  g_test_add_func("/practice/rattle", test_rattle);
  g_test_add_func("/practice/seed", test_seed);
  g_test_add_func("/practice/noise", test_noise);
  g_test_add_func("/practice/clock", test_clock);
  g_test_add_func("/practice/table", test_table);
  g_test_add_func("/practice/wrong-setups", test_wrong_setups);
  g_test_add_func("/practice/intake", test_intake);
  g_test_add_func("/practice/speed", test_speed);
  return g_test_run();
}
