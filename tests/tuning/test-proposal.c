/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Properties of whole tunes, on cars made up for the purpose: what must hold for any car. */
#include "car-kit.h"
#include "signal/random.h"
#include <glib.h>
#include <math.h>
#include <string.h>

static size_t count_sections(const CwProposal *proposal)
{
  size_t count = 0;
  for (size_t o = 0; o < proposal->outputs; o++)
    count += proposal->setting[o].sections;
  return count;
}

/* A flat speaker, far from the end of what it may play, and a flat target leave nothing to do. */
static void test_flat(void)
{
  const KitSpeaker speakers[] = {{CW_WAY_FULL, CW_SIDE_LEFT, 15, 2e-3, {{0}}, 0},
                                 {CW_WAY_FULL, CW_SIDE_RIGHT, 15, 3e-3, {{0}}, 0}};
  CwCar *car = kit_car(speakers, 2, 3, 0, 1);
  CwProposalInput input = kit_input(car);
  CwProposal *proposal = cw_proposal_make(&input);

  g_assert_cmpuint(count_sections(proposal), ==, 0);
  g_assert_cmpfloat(proposal->result.match_db, <, 0.01);
  g_assert_cmpfloat_with_epsilon(proposal->setting[0].delay_seconds, 1e-3, 1e-6);
  g_assert_cmpfloat(proposal->setting[1].delay_seconds, ==, 0);
  g_assert_false(proposal->setting[0].inverted || proposal->setting[1].inverted);
  cw_proposal_free(proposal);
  cw_car_free(car);
}

static void test_reaches_target(void)
{
  CwCar *car = kit_front(6, 0.25, 3);
  CwProposalInput input = kit_input(car);
  CwProposal *proposal = cw_proposal_make(&input);
  double mean[3] = {0}, squares[3] = {0};
  int count = 0;

  for (double hz = 50; hz < 15000; hz *= exp2(1.0 / 6), count++)
    for (int sum = 0; sum < 3; sum++) {
      double power = 0;
      for (size_t place = 0; place < 6; place++)
        power += pow(10, kit_sum_db(car, proposal, place, sum, hz) / 10) / 6;
      mean[sum] += 10 * log10(power);
      squares[sum] += 10 * log10(power) * 10 * log10(power);
    }
  for (int sum = 0; sum < 3; sum++) {
    double rms = sqrt(fmax(squares[sum] / count - mean[sum] * mean[sum] / count / count, 0));
    g_test_message("sum %d: %.2f dB about the target", sum, rms);
    g_assert_cmpfloat(rms, <, sum == 2 ? 1.5 : 1.0);
  }
  g_assert_cmpfloat(fabs(mean[0] - mean[1]) / count, <, 0.3);
  cw_proposal_free(proposal);
  cw_car_free(car);
}

static void test_limits_kept(void)
{
  CwCar *car = kit_front(4, 0.3, 5);
  CwProposalInput input = kit_input(car);
  CwProposal *proposal = cw_proposal_make(&input);
  double peak = -INFINITY, earliest = INFINITY;

  for (size_t o = 0; o < proposal->outputs; o++) {
    const CwOutputSetting *s = &proposal->setting[o];
    g_assert_cmpuint(s->sections, <=, 10);
    g_assert_cmpfloat(cw_setting_fall_db(s, KIT_RATE_HZ, car->output[o].lowest_hz), >=,
                      CW_SETTING_LEAST_FALL_DB);
    g_assert_cmpint(s->high_pass.order, >, 0);
    g_assert_cmpfloat(s->high_pass.corner_hz, >=, car->output[o].lowest_hz * (1 - 1e-9));
    for (size_t k = 0; k < s->sections; k++) {
      g_assert_true(s->section[k].gain_db >= -15 && s->section[k].gain_db <= 6);
      g_assert_true(s->section[k].q >= 0.4 - 1e-9 && s->section[k].q <= 10 + 1e-9);
      g_assert_true(s->section[k].gain_db <= 0 || s->section[k].q <= 4 + 1e-9); /* no narrow lifts */
    }
    peak = fmax(peak, cw_setting_peak_db(s, KIT_RATE_HZ));
    earliest = fmin(earliest, s->delay_seconds);
  }
  g_assert_cmpfloat_with_epsilon(peak, 0, 0.02);
  g_assert_cmpfloat(earliest, ==, 0);
  /* A pair's arrivals are equal to a microsecond: the two channels of a pair share what the fit moves. */
  for (size_t o = 0; o < 4; o += 2)
    g_assert_cmpfloat(fabs(proposal->setting[o].delay_seconds + car->output[o].arrival_seconds -
                           proposal->setting[o + 1].delay_seconds - car->output[o + 1].arrival_seconds),
                      <, 1e-6);
  cw_proposal_free(proposal);
  cw_car_free(car);
}

/* Left and right exchanged in the car are exchanged in the tune. */
static void test_mirrored(void)
{
  CwCar *car = kit_front(3, 0.25, 7), *mirrored = kit_front(3, 0.25, 7);
  size_t bins = car->length / 2 + 1, pair[] = {1, 0, 3, 2, 4};

  for (size_t o = 0; o < 5; o++) {
    for (size_t p = 0; p < 3; p++)
      memcpy(mirrored->output[o].response[p], car->output[pair[o]].response[p], bins * sizeof(CwComplex));
    mirrored->output[o].arrival_seconds = car->output[pair[o]].arrival_seconds;
  }
  CwProposalInput input = kit_input(car), other = kit_input(mirrored);
  CwProposal *one = cw_proposal_make(&input), *two = cw_proposal_make(&other);
  double worst = 0;
  for (int sum = 0; sum < 2; sum++)
    for (double hz = 60; hz < 15000; hz *= exp2(1.0 / 3))
      worst = fmax(worst, fabs(kit_sum_db(car, one, 1, sum, hz) - kit_sum_db(mirrored, two, 1, 1 - sum, hz)));
  g_test_message("worst difference %.3g dB", worst);
  g_assert_cmpfloat(worst, <, 1e-6);
  for (size_t o = 0; o < 5; o++) { /* not by luck: bit for bit */
    const CwOutputSetting *here = &one->setting[o], *there = &two->setting[pair[o]];
    g_assert_cmpuint(here->sections, ==, there->sections);
    g_assert_true(here->gain_db == there->gain_db && here->delay_seconds == there->delay_seconds);
    for (size_t k = 0; k < here->sections; k++)
      g_assert_true(here->section[k].kind == there->section[k].kind &&
                    here->section[k].frequency_hz == there->section[k].frequency_hz &&
                    here->section[k].gain_db == there->section[k].gain_db &&
                    here->section[k].q == there->section[k].q);
  }
  cw_proposal_free(one);
  cw_proposal_free(two);
  cw_car_free(car);
  cw_car_free(mirrored);
}

static void test_repeatable(void)
{
  CwCar *car = kit_front(4, 0.3, 9);
  CwProposalInput input = kit_input(car);
  CwProposal *one = cw_proposal_make(&input), *two = cw_proposal_make(&input);

  g_assert_cmpuint(one->outputs, ==, two->outputs);
  for (size_t o = 0; o < one->outputs; o++) {
    const CwOutputSetting *a = &one->setting[o], *b = &two->setting[o];
    g_assert_true(a->gain_db == b->gain_db && a->delay_seconds == b->delay_seconds &&
                  a->inverted == b->inverted && a->sections == b->sections);
    g_assert_true(a->high_pass.corner_hz == b->high_pass.corner_hz &&
                  a->low_pass.corner_hz == b->low_pass.corner_hz);
    for (size_t k = 0; k < a->sections; k++)
      g_assert_true(a->section[k].frequency_hz == b->section[k].frequency_hz &&
                    a->section[k].gain_db == b->section[k].gain_db && a->section[k].q == b->section[k].q);
  }
  cw_proposal_free(one);
  cw_proposal_free(two);
  cw_car_free(car);
}

static void test_more_sections(void)
{
  CwCar *car = kit_front(4, 0.3, 11);
  CwProposalInput input = kit_input(car);
  double before = INFINITY;

  for (size_t sections = 0; sections <= 12; sections += 3) {
    input.limits.sections = sections;
    CwProposal *proposal = cw_proposal_make(&input);
    g_test_message("%zu sections an output: cost %.3f, side %.2f dB", sections, proposal->result.cost,
                   proposal->result.side_db);
    /* What is thinned out in the end may cost one part in a hundred. */
    g_assert_cmpfloat(proposal->result.cost, <=, 1.01 * before);
    before = proposal->result.cost;
    cw_proposal_free(proposal);
  }
  cw_car_free(car);
}

/* What an output's lifts add up to at hz. */
static double lifts_db(const CwOutputSetting *setting, double hz)
{
  double db = 0;

  for (size_t k = 0; k < setting->sections; k++) {
    CwCoefficients c;
    g_assert_true(cw_section_design(&setting->section[k], KIT_RATE_HZ, &c));
    if (setting->section[k].gain_db > 0)
      db += 20 * log10(cabs(cw_coefficients_response(&c, hz, KIT_RATE_HZ)));
  }
  return db;
}

/* Two arrivals of one size, half a period apart at 500 Hz. */
static void test_hole_refused(void)
{
  const KitSpeaker speakers[] = {
      {CW_WAY_FULL, CW_SIDE_LEFT, 50, 2e-3, {{CW_SECTION_HIGH_PASS, 45, 0, 0.7}}, 1e-3},
      {CW_WAY_FULL, CW_SIDE_RIGHT, 50, 2e-3, {{CW_SECTION_HIGH_PASS, 45, 0, 0.7}}, 0}};
  CwCar *car = kit_car(speakers, 2, 3, 0, 1);
  CwProposalInput input = kit_input(car);
  CwProposal *proposal = cw_proposal_make(&input);
  double lift = lifts_db(&proposal->setting[0], 500);
  bool told = false;

  for (size_t i = 0; i < proposal->holes; i++)
    told |= proposal->hole[i].side == CW_SIDE_LEFT && fabs(log2(proposal->hole[i].hz / 500)) < 0.1 &&
            !proposal->hole[i].between && proposal->hole[i].output == 0;
  g_test_message("lifted by %.2f dB", lift);
  for (size_t k = 0; k < proposal->setting[0].sections; k++) {
    const CwSection *s = &proposal->setting[0].section[k];
    g_assert_false(s->gain_db > 0 && fabs(log2(s->frequency_hz / 500)) < 0.15);
  }
  g_assert_cmpfloat(lift, <, 2.0);
  g_assert_true(told);
  for (size_t i = 0; i < proposal->holes; i++)
    g_assert_true(proposal->hole[i].side == CW_SIDE_LEFT);
  cw_proposal_free(proposal);
  cw_car_free(car);
}

/* One of six positions full of noise: what the other five hear of the tune changes little. */
static void test_spoiled_place(void)
{
  CwCar *car = kit_front(6, 0.25, 13), *spoiled = kit_front(6, 0.25, 13);
  CwRandom random = cw_random_new(99);

  for (size_t o = 0; o < spoiled->outputs; o++)
    for (size_t k = 0; k <= spoiled->length / 2; k++)
      spoiled->output[o].response[2][k] += 0.1 * (cw_random_normal(&random) + I * cw_random_normal(&random));
  CwProposalInput input = kit_input(car), other = kit_input(spoiled);
  CwProposal *clean = cw_proposal_make(&input), *noisy = cw_proposal_make(&other);
  double squares = 0;
  int count = 0;
  for (int sum = 0; sum < 2; sum++)
    for (double hz = 80; hz < 12000; hz *= exp2(1.0 / 3), count++) {
      double apart = kit_sum_db(car, clean, 0, sum, hz) - kit_sum_db(car, noisy, 0, sum, hz);
      squares += apart * apart;
    }
  g_test_message("apart by %.2f dB", sqrt(squares / count));
  g_assert_cmpfloat(sqrt(squares / count), <, 1.0);
  cw_proposal_free(clean);
  cw_proposal_free(noisy);
  cw_car_free(car);
  cw_car_free(spoiled);
}

static bool on_grid(double value, double step)
{
  return fabs(value / step - rint(value / step)) < 1e-6;
}

/* An older processor: seven filters, third-octave frequencies, half-decibel and half-Q steps, no slope above
 * 24 dB an octave. */
static void test_coarse_processor(void)
{
  CwCar *car = kit_front(4, 0.3, 15);
  CwProposalInput input = kit_input(car);
  CwProposal *wide = cw_proposal_make(&input);
  input.limits.sections = 7;
  input.limits.frequency_steps_per_octave = 3;
  input.limits.gain_step_db = 0.5;
  input.limits.q_step = 0.5;
  input.limits.q_least = 0.5;
  input.limits.delay_step_seconds = 1 / KIT_RATE_HZ;
  input.limits.crossover_order_most = 4;
  CwProposal *coarse = cw_proposal_make(&input);

  for (size_t o = 0; o < coarse->outputs; o++) {
    const CwOutputSetting *s = &coarse->setting[o];
    g_assert_cmpuint(s->sections, <=, 7);
    g_assert_cmpint(s->high_pass.order, <=, 4);
    g_assert_cmpfloat(s->high_pass.corner_hz, >=, car->output[o].lowest_hz * (1 - 1e-9));
    g_assert_true(on_grid(3 * log2(s->high_pass.corner_hz / 1000), 1) && on_grid(s->gain_db, 0.5) &&
                  on_grid(s->delay_seconds, 1 / KIT_RATE_HZ));
    for (size_t k = 0; k < s->sections; k++)
      g_assert_true(on_grid(3 * log2(s->section[k].frequency_hz / 1000), 1) &&
                    on_grid(s->section[k].gain_db, 0.5) && on_grid(s->section[k].q, 0.5));
  }
  g_test_message("side %.2f dB, with any value %.2f dB, on the wide processor %.2f dB",
                 coarse->result.side_db, coarse->free_result.side_db, wide->result.side_db);
  g_assert_cmpfloat(coarse->result.side_db, <, wide->result.side_db + 0.8);
  cw_proposal_free(wide);
  cw_proposal_free(coarse);
  cw_car_free(car);
}

/* Two seats: the one that fares worse is better off than under a tune for the other seat alone. */
static CwCar *seat_of(const CwCar *car, size_t seat)
{
  CwCar *one = cw_car_new(car->outputs, car->places / 2, car->rate_hz, KIT_FRAMES);

  for (size_t o = 0; o < car->outputs; o++) {
    CwCarOutput *to = &one->output[o];
    const CwCarOutput *from = &car->output[o];
    to->number = from->number;
    to->way = from->way;
    to->side = from->side;
    to->lowest_hz = from->lowest_hz;
    to->mate = from->mate;
    memcpy(to->mix, from->mix, sizeof to->mix);
    to->arrival_seconds = from->arrival_seconds;
    for (size_t p = 0, k = 0; p < car->places; p++)
      if (car->place_seat[p] == seat) {
        to->response[k] = to->storage + k * (car->length / 2 + 1);
        memcpy(to->response[k++], from->response[p], (car->length / 2 + 1) * sizeof(CwComplex));
      }
  }
  return one;
}

static double rms_at_seat(const CwCar *car, const CwProposal *proposal)
{
  double squares = 0;
  int count = 0;

  for (int sum = 0; sum < 2; sum++) {
    double db[40], mean = 0;
    int n = 0;
    for (double hz = 80; hz < 12000; hz *= exp2(1.0 / 4), n++) {
      double power = 0;
      for (size_t place = 0; place < car->places; place++)
        power += pow(10, kit_sum_db(car, proposal, place, sum, hz) / 10) / (double)car->places;
      db[n] = 10 * log10(power);
      mean += db[n];
    }
    for (int i = 0; i < n; i++, count++)
      squares += (db[i] - mean / n) * (db[i] - mean / n);
  }
  return sqrt(squares / count);
}

static void test_two_seats(void)
{
  CwCar *car = kit_front(8, 0.5, 17), *seat[2];
  CwProposal *alone[2], *both;

  car->seats = 2;
  for (size_t p = 4; p < 8; p++)
    car->place_seat[p] = 1;
  CwProposalInput input = kit_input(car);
  both = cw_proposal_make(&input);
  g_assert_cmpuint(both->seats, ==, 2);
  double worst_both = 0, worst_alone[2];
  for (size_t i = 0; i < 2; i++)
    seat[i] = seat_of(car, i);
  for (size_t i = 0; i < 2; i++) {
    CwProposalInput one = kit_input(seat[i]);
    alone[i] = cw_proposal_make(&one);
    worst_both = fmax(worst_both, rms_at_seat(seat[i], both));
    worst_alone[i] = rms_at_seat(seat[1 - i], alone[i]);
  }
  g_test_message("worst seat: %.2f dB for both, %.2f and %.2f dB for one alone", worst_both, worst_alone[0],
                 worst_alone[1]);
  g_assert_cmpfloat(worst_both, <, fmin(worst_alone[0], worst_alone[1]));
  for (size_t i = 0; i < 2; i++) {
    cw_proposal_free(alone[i]);
    cw_car_free(seat[i]);
  }
  cw_proposal_free(both);
  cw_car_free(car);
}

static bool stop_after(void *data)
{
  int *asked = data;
  return ++*asked > 3;
}

static void test_cancel(void)
{
  CwCar *car = kit_front(4, 0.3, 19);
  CwProposalInput input = kit_input(car);
  int asked = 0;

  input.cancelled = stop_after;
  input.data = &asked;
  g_assert_null(cw_proposal_make(&input));
  g_assert_cmpint(asked, <, 200);
  cw_car_free(car);
}

/* The same tune on the same processor hardly moves; on a poorer one it says by how much. */
static void test_refit(void)
{
  CwCar *car = kit_front(4, 0.3, 21);
  CwProposalInput input = kit_input(car);
  CwProposal *tune = cw_proposal_make(&input), *same = cw_proposal_refit(&input, tune->setting);
  input.limits.sections = 4;
  CwProposal *poorer = cw_proposal_refit(&input, tune->setting);

  g_test_message("moved by %.3f dB with the same processor, %.2f dB with four filters", same->result.side_db,
                 poorer->result.side_db);
  g_assert_cmpfloat(same->result.side_db, <, 0.15);
  g_assert_cmpfloat(poorer->result.side_db, <, 2);
  for (size_t o = 0; o < poorer->outputs; o++)
    g_assert_cmpuint(poorer->setting[o].sections, <=, 4);
  g_assert_cmpfloat(same->target_result.side_db, <, tune->result.side_db + 0.1);
  cw_proposal_free(tune);
  cw_proposal_free(same);
  cw_proposal_free(poorer);
  cw_car_free(car);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/proposal/flat", test_flat);
  g_test_add_func("/proposal/reaches-target", test_reaches_target);
  g_test_add_func("/proposal/limits-kept", test_limits_kept);
  g_test_add_func("/proposal/mirrored", test_mirrored);
  g_test_add_func("/proposal/repeatable", test_repeatable);
  g_test_add_func("/proposal/more-sections", test_more_sections);
  g_test_add_func("/proposal/hole-refused", test_hole_refused);
  g_test_add_func("/proposal/spoiled-place", test_spoiled_place);
  g_test_add_func("/proposal/coarse-processor", test_coarse_processor);
  g_test_add_func("/proposal/two-seats", test_two_seats);
  g_test_add_func("/proposal/cancel", test_cancel);
  g_test_add_func("/proposal/refit", test_refit);
  return g_test_run();
}
