/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cars of other kinds than a front with tweeters: what plays beside the stage, sides without speakers, lone
 * ways. Whatever the kind, no path loses headroom for nothing and nothing is asked of a speaker that it does
 * not play. */
#include "car-kit.h"
#include <glib.h>
#include <math.h>
#include <stdint.h>

#define KIT_FULL(side, delay)                                                                                \
  {                                                                                                          \
    CW_WAY_FULL, side, 70, delay, {{CW_SECTION_HIGH_PASS, 70, 0, 0.7}}, 0                                    \
  }
#define KIT_SUB(side, delay)                                                                                 \
  {                                                                                                          \
    CW_WAY_SUB, side, 25, delay, {{CW_SECTION_HIGH_PASS, 28, 0, 0.7}, {CW_SECTION_LOW_PASS, 300, 0, 0.7}}, 0 \
  }

/* Side against target, dB. No source: the methods' bar is 0.8 for a car of nine speakers at places that were
 * not measured; a car of one to four has fewer to mend with, and is given twice that, less a little. */
#define SIDE_BAR_DB 1.5

static double response_db(const CwOutputSetting *setting, double hz)
{
  CwComplex drive;
  cw_setting_response(setting, KIT_RATE_HZ, &hz, 1, &drive);
  return 20 * log10(cabs(drive));
}

static CwProposal *propose(CwCar *car)
{
  CwProposalInput input = kit_input(car);
  CwProposal *proposal = cw_proposal_make(&input);
  for (size_t o = 0; o < proposal->outputs; o++) {
    const CwOutputSetting *s = &proposal->setting[o];
    double fall_db = cw_setting_fall_db(s, KIT_RATE_HZ, car->output[o].lowest_hz);
    g_test_message("output %zu: %.1f dB, from %.0f Hz, up to %.0f Hz, %zu sections, %.0f dB down below",
                   o + 1, s->gain_db, s->high_pass.corner_hz, s->low_pass.corner_hz, s->sections, fall_db);
    g_assert_cmpfloat(fall_db, >=, CW_SETTING_LEAST_FALL_DB); /* no speaker is left unprotected */
  }
  return proposal;
}

/* Where nothing else is there, full-range speakers hand over to the bass, however many there are. */
static void test_full_and_bass(void)
{
  const KitSpeaker speakers[] = {KIT_FULL(CW_SIDE_LEFT, 3e-3),  KIT_FULL(CW_SIDE_RIGHT, 4e-3),
                                 KIT_SUB(CW_SIDE_BOTH, 6e-3),   KIT_SUB(CW_SIDE_BOTH, 7e-3),
                                 KIT_SUB(CW_SIDE_LEFT, 5.5e-3), KIT_SUB(CW_SIDE_RIGHT, 6.4e-3)};
  static const size_t counts[] = {3, 4, 6};

  for (size_t c = 0; c < G_N_ELEMENTS(counts); c++) {
    CwCar *car = kit_car(speakers, counts[c], 3, 0.25, 31);
    CwProposal *proposal = propose(car);
    double loudest_db = -INFINITY, softest_db = INFINITY; /* of the basses */
    for (size_t o = 0; o < counts[c]; o++) {
      const CwOutputSetting *s = &proposal->setting[o];
      if (car->output[o].way == CW_WAY_SUB) {
        g_assert_cmpfloat(response_db(s, 1000), <, response_db(s, 50) - 24);
        loudest_db = fmax(loudest_db, s->gain_db);
        softest_db = fmin(softest_db, s->gain_db);
      } else {
        g_assert_cmpfloat(s->gain_db, >, -20);
        g_assert_cmpfloat(s->high_pass.corner_hz, >=, 70);
      }
    }
    g_assert_cmpfloat(loudest_db, >, -12);
    g_assert_cmpfloat(softest_db, >, loudest_db - 8); /* none is silenced for the others */
    g_assert_cmpfloat(proposal->result.side_db, <, SIDE_BAR_DB);
    cw_proposal_free(proposal);
    cw_car_free(car);
  }
}

/* The side that has no speaker but the bass is not judged: the other is tuned as if it were alone. */
static void test_one_side(void)
{
  const KitSpeaker speakers[] = {KIT_FULL(CW_SIDE_LEFT, 3e-3), KIT_SUB(CW_SIDE_BOTH, 6e-3)};
  CwCar *car = kit_car(speakers, 2, 3, 0.25, 33);
  CwProposal *proposal = propose(car);

  g_assert_cmpfloat(proposal->result.side_db, <, SIDE_BAR_DB);
  for (size_t o = 0; o < 2; o++)
    g_assert_cmpfloat(proposal->setting[o].gain_db, >, -20);
  for (size_t h = 0; h < proposal->holes; h++)
    g_assert_cmpint(proposal->hole[h].side, ==, CW_SIDE_LEFT);
  cw_proposal_free(proposal);
  cw_car_free(car);
}

/* A speaker that is safe but not clean at its low end starts where it plays cleanly, and its pair's other
 * with it.
 */
static void test_clean(void)
{
  const KitSpeaker pair[] = {KIT_FULL(CW_SIDE_LEFT, 3e-3), KIT_FULL(CW_SIDE_RIGHT, 4e-3)};
  struct {
    CwCar *car;
    double clean_hz;
  } cases[] = {{kit_front(3, 0.25, 39), 4200}, {kit_car(pair, 2, 3, 0.25, 39), 120}};

  for (size_t i = 0; i < G_N_ELEMENTS(cases); i++)
    for (size_t spoiled = 0; spoiled < 2; spoiled++) {
      CwCar *car = cases[i].car;
      car->output[spoiled].clean_hz = cases[i].clean_hz;
      car->output[1 - spoiled].clean_hz = 0;
      CwProposal *proposal = propose(car);
      for (size_t o = 0; o < 2; o++)
        g_assert_cmpfloat(proposal->setting[o].high_pass.corner_hz, >=, cases[i].clean_hz * (1 - 1e-9));
      g_assert_cmpfloat(proposal->result.side_db, <, SIDE_BAR_DB);
      cw_proposal_free(proposal);
    }
  for (size_t i = 0; i < G_N_ELEMENTS(cases); i++)
    cw_car_free(cases[i].car);
}

static const CwSection *all_pass_of(const CwProposal *proposal, size_t *output)
{
  for (*output = 0; *output < proposal->outputs; (*output)++)
    for (size_t k = 0; k < proposal->setting[*output].sections; k++)
      if (proposal->setting[*output].section[k].kind == CW_SECTION_ALL_PASS)
        return &proposal->setting[*output].section[k];
  return NULL;
}

/* One woofer's phase turns where the other's does not: the tune turns the other's too, where the processor
 * can, and gains by it. Where nothing has to be turned nothing is. */
static void test_all_pass(void)
{
  KitSpeaker speakers[] = {KIT_FULL(CW_SIDE_LEFT, 3e-3), KIT_FULL(CW_SIDE_RIGHT, 3.6e-3),
                           KIT_SUB(CW_SIDE_BOTH, 6e-3)};
  size_t output;

  CwCar *even = kit_car(speakers, 3, 3, 0.1, 41);
  CwProposal *proposal = propose(even);
  g_assert_null(all_pass_of(proposal, &output));
  cw_proposal_free(proposal);
  speakers[1].section[1] = (CwSection){CW_SECTION_ALL_PASS, 450, 0, 1.2};
  CwCar *turned = kit_car(speakers, 3, 3, 0.1, 41);
  CwProposalInput input = kit_input(turned);
  proposal = propose(turned);
  const CwSection *section = all_pass_of(proposal, &output);
  g_assert_nonnull(section);
  g_test_message("output %zu: %.0f Hz, Q %.2f", output + 1, section->frequency_hz, section->q);
  g_assert_cmpuint(output, ==, 0);
  g_assert_cmpfloat(fabs(log2(section->frequency_hz / 450)), <, 0.6); /* the sums are judged, not the phase */
  input.limits.all_pass = false;
  CwProposal *without = cw_proposal_make(&input);
  g_assert_null(all_pass_of(without, &output));
  g_test_message("both %.2f dB from the target with it, %.2f dB without", proposal->result.both_db,
                 without->result.both_db);
  g_assert_cmpfloat(proposal->result.both_db, <, 0.8 * without->result.both_db);
  cw_proposal_free(proposal);
  cw_proposal_free(without);
  cw_car_free(turned);
  cw_car_free(even);
}

/* A processor with one section, with as many as there may be, on a grid; and a tune with all-passes for one
 * that has room for fewer, or none. */
static void test_all_pass_room(void)
{
  KitSpeaker speakers[] = {KIT_FULL(CW_SIDE_LEFT, 3e-3), KIT_FULL(CW_SIDE_RIGHT, 3.6e-3)};
  speakers[1].section[1] = (CwSection){CW_SECTION_ALL_PASS, 450, 0, 1.2};
  CwCar *car = kit_car(speakers, 2, 3, 0.1, 43);
  static const size_t room[] = {0, 1, CW_SETTING_MOST_SECTIONS};

  for (size_t i = 0; i < G_N_ELEMENTS(room); i++) {
    CwProposalInput input = kit_input(car);
    input.limits.sections = room[i];
    input.limits.frequency_steps_per_octave = 6;
    CwProposal *proposal = cw_proposal_make(&input);
    for (size_t o = 0; o < 2; o++) {
      CwOutputSetting *s = &proposal->setting[o];
      g_assert_cmpuint(s->sections, <=, room[i]);
      for (size_t k = 0; k < s->sections; k++)
        g_assert_true(s->section[k].gain_db <= 0 || s->section[k].q <= 4 + 1e-9);
      s->sections = 0;
      for (int k = 0; k < 3; k++)
        s->section[s->sections++] = (CwSection){CW_SECTION_ALL_PASS, 300 + 200 * k, 0, 5};
    }
    CwProposal *other = cw_proposal_refit(&input, proposal->setting);
    for (size_t o = 0; o < 2; o++)
      g_assert_cmpuint(other->setting[o].sections, <=, room[i]);
    cw_proposal_free(other);
    cw_proposal_free(proposal);
  }
  cw_car_free(car);
}

/* A bass alone that plays unusually high still has bands to be judged in. */
static void test_high_bass(void)
{
  const KitSpeaker bass[] = {KIT_SUB(CW_SIDE_BOTH, 6e-3)};
  CwCar *car = kit_car(bass, 1, 3, 0.1, 45);

  car->output[0].lowest_hz = 250;
  cw_proposal_free(propose(car));
  cw_car_free(car);
}

static double power_at(const CwCar *car, const CwProposal *proposal, size_t only, int sum, double hz)
{
  CwProposal part = *proposal;
  g_autofree CwOutputSetting *settings = g_memdup2(proposal->setting, proposal->outputs * sizeof *settings);
  double power = 0;

  part.setting = settings;
  for (size_t o = 0; o < part.outputs; o++)
    if (o != only && only < part.outputs)
      settings[o].gain_db = -300;
  for (size_t place = 0; place < car->places; place++)
    power += pow(10, 0.1 * kit_sum_db(car, &part, place, sum, hz));
  return power / (double)car->places;
}

/* Roles that were given: what is off plays nothing and delays nobody; fill is quieter than the front, 8 ms
 * later and without treble; and a full-range speaker of the front stage is not held down. */
static void test_roles(void)
{
  static const CwSpeakerRole roles[] = {CW_ROLE_OFF, CW_ROLE_FILL, CW_ROLE_FRONT_STAGE};

  for (size_t r = 0; r < G_N_ELEMENTS(roles); r++) {
    KitSpeaker speakers[] = {
        {CW_WAY_HIGH, CW_SIDE_LEFT, 2500, 3e-3, {{CW_SECTION_HIGH_PASS, 1500, 0, 0.7}}, 0},
        {CW_WAY_HIGH, CW_SIDE_RIGHT, 2500, 4e-3, {{CW_SECTION_HIGH_PASS, 1500, 0, 0.7}}, 0},
        KIT_FULL(CW_SIDE_LEFT, 3.2e-3),
        KIT_FULL(CW_SIDE_RIGHT, 4.2e-3),
        KIT_FULL(CW_SIDE_LEFT, 9e-3),
        KIT_FULL(CW_SIDE_RIGHT, 9.4e-3),
    };
    speakers[2].way = speakers[3].way = CW_WAY_LOW;
    speakers[4].role = speakers[5].role = roles[r];
    CwCar *car = kit_car(speakers, G_N_ELEMENTS(speakers), 3, 0.25, 53);
    for (size_t o = 4; o < 6 && roles[r] == CW_ROLE_OFF; o++)
      car->output[o].mix[0] = car->output[o].mix[1] = 0;
    CwProposal *proposal = propose(car);
    const CwOutputSetting *s = proposal->setting;
    double front = s[2].delay_seconds + 3.2e-3, rear = s[4].delay_seconds + 9e-3;
    g_assert_cmpint(car->output[4].beside, ==, roles[r] != CW_ROLE_FRONT_STAGE);
    if (roles[r] == CW_ROLE_OFF) {
      g_assert_cmpuint(s[4].sections + s[5].sections, ==, 0);
      g_assert_cmpfloat(s[4].gain_db, <, s[2].gain_db - 20);
      for (size_t o = 0; o < 4; o++) /* the farthest of those that play, 1 ms behind the nearest */
        g_assert_cmpfloat(s[o].delay_seconds, <, 4e-3);
    } else if (roles[r] == CW_ROLE_FILL) {
      g_assert_cmpfloat(rear - front, >, 5e-3);
      g_assert_cmpfloat(rear - front, <, 11e-3);
      g_assert_cmpint(s[4].low_pass.order, >, 0);
      g_assert_cmpfloat(s[4].low_pass.corner_hz, <, 8000);
    }
    cw_proposal_free(proposal);
    cw_car_free(car);
  }
}

/* Speakers in the rear fill up what the front plays, and do not take its place, though they could: nowhere
 * more than half of a sum's power, 3 dB, and a quarter in the mean. Common practice, no source. */
static void test_rear(void)
{
  const KitSpeaker speakers[] = {
      {CW_WAY_HIGH, CW_SIDE_LEFT, 2500, 3e-3, {{CW_SECTION_HIGH_PASS, 1500, 0, 0.7}}, 0},
      {CW_WAY_HIGH, CW_SIDE_RIGHT, 2500, 4e-3, {{CW_SECTION_HIGH_PASS, 1500, 0, 0.7}}, 0},
      {CW_WAY_LOW,
       CW_SIDE_LEFT,
       70,
       3.2e-3,
       {{CW_SECTION_HIGH_PASS, 60, 0, 0.8}, {CW_SECTION_LOW_PASS, 5000, 0, 0.7}},
       0},
      {CW_WAY_LOW,
       CW_SIDE_RIGHT,
       70,
       4.2e-3,
       {{CW_SECTION_HIGH_PASS, 60, 0, 0.8}, {CW_SECTION_LOW_PASS, 5000, 0, 0.7}},
       0},
      KIT_FULL(CW_SIDE_LEFT, 3.5e-3),
      KIT_FULL(CW_SIDE_RIGHT, 3.9e-3),
      KIT_SUB(CW_SIDE_BOTH, 6e-3),
  };
  CwCar *car = kit_car(speakers, G_N_ELEMENTS(speakers), 4, 0.35, 37);
  CwProposal *proposal = propose(car);
  double sum_db = 0, most_db = -INFINITY;
  int points = 0;

  for (size_t o = 4; o < 6; o++)
    for (double hz = 125; hz < 12000; hz *= exp2(1.0 / 3), points++) {
      double whole = power_at(car, proposal, SIZE_MAX, (int)o - 4, hz),
             fill_db = 10 * log10(power_at(car, proposal, o, (int)o - 4, hz) / whole);
      sum_db += fill_db;
      most_db = fmax(most_db, fill_db);
    }
  g_test_message("fill against the sum: %.1f dB in the mean, %.1f dB at most", sum_db / points, most_db);
  g_assert_cmpfloat(sum_db / points, <, -6);
  g_assert_cmpfloat(most_db, <, -3);
  cw_proposal_free(proposal);
  cw_car_free(car);
}

/* A centre plays beside the stage: not louder than the sides, and no treble out of a midrange. */
static void test_centre(void)
{
  const KitSpeaker speakers[] = {
      KIT_FULL(CW_SIDE_LEFT, 3e-3),
      KIT_FULL(CW_SIDE_RIGHT, 4e-3),
      KIT_SUB(CW_SIDE_BOTH, 6e-3),
      {CW_WAY_MID,
       CW_SIDE_BOTH,
       200,
       3.3e-3,
       {{CW_SECTION_HIGH_PASS, 200, 0, 0.7}, {CW_SECTION_LOW_PASS, 6000, 0, 0.7}},
       0},
  };
  CwCar *car = kit_car(speakers, 4, 3, 0.25, 35);
  CwProposal *proposal = propose(car);
  const CwOutputSetting *s = proposal->setting;

  g_assert_cmpfloat(proposal->result.side_db, <, SIDE_BAR_DB);
  for (double hz = 300; hz < 4000; hz *= exp2(1.0 / 3)) /* half of each side goes to the centre */
    g_assert_cmpfloat(response_db(&s[3], hz) - 6, <,
                      fmax(response_db(&s[0], hz), response_db(&s[1], hz)) + 3);
  g_assert_cmpfloat(response_db(&s[3], 14000), <, response_db(&s[3], 1000));
  cw_proposal_free(proposal);
  cw_car_free(car);
}

/* A lone bass or tweeter is tuned where it plays: no lift of what it cannot give costs all else its level. */
static void test_alone(void)
{
  const KitSpeaker bass[] = {KIT_SUB(CW_SIDE_BOTH, 6e-3)},
                   tweeter[] = {
                       {CW_WAY_HIGH, CW_SIDE_BOTH, 2500, 3e-3, {{CW_SECTION_HIGH_PASS, 1200, 0, 0.7}}, 0}};
  const KitSpeaker *const cars[] = {bass, tweeter};

  for (int c = 0; c < 2; c++) {
    CwCar *car = kit_car(cars[c], 1, 3, 0.25, 37);
    CwProposal *proposal = propose(car);
    g_assert_cmpfloat(proposal->setting[0].gain_db, >, -12);
    g_assert_cmpfloat(proposal->result.side_db, <, 1);
    cw_proposal_free(proposal);
    cw_car_free(car);
  }
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/stage/full-and-bass", test_full_and_bass);
  g_test_add_func("/stage/one-side", test_one_side);
  g_test_add_func("/stage/clean", test_clean);
  g_test_add_func("/stage/all-pass", test_all_pass);
  g_test_add_func("/stage/all-pass-room", test_all_pass_room);
  g_test_add_func("/stage/high-bass", test_high_bass);
  g_test_add_func("/stage/rear", test_rear);
  g_test_add_func("/stage/roles", test_roles);
  g_test_add_func("/stage/centre", test_centre);
  g_test_add_func("/stage/alone", test_alone);
  return g_test_run();
}
