/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "mixed.h"

/* What a crossover leaves where its ways meet, dB against both in phase. */
static double met_db(const CwMixLead *lead, CwMixArrival arrival)
{
  CwMixChoice choice = cw_mix_choose(lead, 2, false, arrival);
  CwComplex one[CW_SURVEY_POINTS], other[CW_SURVEY_POINTS];
  size_t point = (size_t)lrint(12 * log2(2500 / 20.0));
  g_assert_cmpuint(choice.side[CW_SIDE_LEFT].parts, ==, 2);
  for (size_t p = 0; p < 2; p++) {
    const CwMixPart *part = &choice.side[CW_SIDE_LEFT].part[p];
    cw_mix_contribution(&choice, &lead[part->index], part, p ? other : one);
    g_assert_true(part->delay_seconds >= 0 && part->delay_seconds <= 0.5 / 2500);
  }
  return db_of((one[point] + other[point]) / (cabs(one[point]) + cabs(other[point])));
}

/* Ways that arrive together by their delays may still be turned against each other where they meet: one may
 * then come later, by less than half a period. */
static void test_shifted(void)
{
  CwMixLead lead[] = {way(1, CW_SIDE_LEFT, CW_LOW_PASS, 2500, 1, 0),
                      way(2, CW_SIDE_LEFT, CW_HIGH_PASS, 2500, 1, 0)};
  for (size_t i = 0; i < CW_SURVEY_POINTS;
       i++) /* a quarter of a period at the crossover that no delay tells */
    lead[1].value[i] *= cexp(-2 * M_PI * I * cw_mix_hz(i) * 0.25 / 2500);
  g_assert_cmpfloat(met_db(lead, CW_MIX_TOGETHER), <, -2.5);
  g_assert_cmpfloat(met_db(lead, CW_MIX_SHIFTED), >, -0.5);
}

static const CwMixPart *part_of(const CwMixChoice *choice, int side, size_t index)
{
  for (size_t p = 0; p < choice->side[side].parts; p++)
    if (choice->side[side].part[p].index == index)
      return &choice->side[side].part[p];
  return NULL;
}

/* One full-range lead a side does; more of them would cover no more, and the rear is the fader's. */
static void test_fewest(void)
{
  CwMixLead lead[] = {
      flat_lead(1, CW_SIDE_LEFT, CW_END_REAR, 1, 0), flat_lead(2, CW_SIDE_RIGHT, CW_END_REAR, 1, 0),
      flat_lead(3, CW_SIDE_LEFT, CW_END_FRONT, 0.5, 0), flat_lead(4, CW_SIDE_RIGHT, CW_END_FRONT, 0.5, 0)};
  CwMixChoice choice = cw_mix_choose(lead, 4, true, CW_MIX_TOGETHER);
  for (int side = 0; side < 2; side++) {
    const CwSideMix *mix = &choice.side[side];
    g_assert_cmpuint(mix->parts, ==, 1);
    g_assert_cmpuint(mix->part[0].index, ==, 2 + (size_t)side);
    g_assert_cmpfloat_with_epsilon(mix->level_db, 20 * log10(0.5), 1e-6);
    g_assert_cmpfloat_with_epsilon(mix->uneven_db, 0, 1e-6);
    g_assert_cmpfloat_with_epsilon(mix->octaves, log2(16000.0 / 40),
                                   2.0 / 12); /* in points, both ends count */
    g_assert_cmpfloat_with_epsilon(log2(mix->low_hz / 40), 0, 1.0 / 12);
    g_assert_cmpfloat_with_epsilon(log2(mix->high_hz / 16000), 0, 1.0 / 12);
  }
  g_assert_cmpuint(choice.all_passes, ==, 0);
}

/* The sum is brought to one arrival, gains never lift, the polarity is put right. */
static void test_ways_of_both_sides(void)
{
  CwMixLead lead[4];
  for (int side = 0; side < 2; side++) {
    lead[2 * side] = way(1, side, CW_LOW_PASS, 1800, 1, 1e-3 + 0.3e-3 * side);
    lead[2 * side + 1] = way(2, side, CW_HIGH_PASS, 1800, -2, 0.2e-3);
  }
  CwMixChoice choice = cw_mix_choose(lead, 4, false, CW_MIX_TOGETHER);
  for (int side = 0; side < 2; side++) {
    const CwMixPart *low = part_of(&choice, side, 2 * (size_t)side),
                    *high = part_of(&choice, side, 2 * (size_t)side + 1);
    g_assert_nonnull(low);
    g_assert_nonnull(high);
    g_assert_true(low->inverted != high->inverted);
    g_assert_cmpfloat_with_epsilon(low->gain_db, 0, 1e-9);
    g_assert_cmpfloat_with_epsilon(high->gain_db, 20 * log10(0.5), 0.5); /* the search's step */
    g_assert_cmpfloat_with_epsilon(low->delay_seconds + lead[2 * side].delay_seconds, 1.3e-3, 1e-12);
    g_assert_cmpfloat_with_epsilon(high->delay_seconds + lead[2 * side + 1].delay_seconds, 1.3e-3, 1e-12);
  }
}

/* Where nothing can be delayed, nothing is. */
static void test_as_they_come(void)
{
  CwMixLead lead[] = {way(1, CW_SIDE_LEFT, CW_LOW_PASS, 1800, 1, 1e-3),
                      way(2, CW_SIDE_LEFT, CW_HIGH_PASS, 1800, 1, 0)};
  CwMixChoice choice = cw_mix_choose(lead, 2, false, CW_MIX_AS_THEY_COME);
  for (size_t p = 0; p < choice.side[CW_SIDE_LEFT].parts; p++)
    g_assert_cmpfloat(choice.side[CW_SIDE_LEFT].part[p].delay_seconds, ==, 0);
  g_assert_cmpuint(choice.side[CW_SIDE_RIGHT].parts, ==, 0);
}

/* A lead that both sides feed serves where it carries the bass, and there alone. */
static void test_shared_bass(void)
{
  CwMixLead lead[] = {way(1, CW_SIDE_LEFT, CW_HIGH_PASS, 150, 1, 0),
                      way(2, CW_SIDE_RIGHT, CW_HIGH_PASS, 150, 1, 0),
                      way(3, CW_SIDE_BOTH, CW_LOW_PASS, 150, 1, 0)};
  for (int bass = 0; bass < 2; bass++) {
    lead[2].band = bass ? CW_BAND_BASS : CW_BAND_FULL;
    CwMixChoice choice = cw_mix_choose(lead, 3, false, CW_MIX_TOGETHER);
    for (int side = 0; side < 2; side++) {
      g_assert_true((part_of(&choice, side, 2) != NULL) == bass);
      g_assert_true((choice.side[side].low_hz < 60) == bass);
    }
  }
}

/* Both sides take leads of the same kind, where that costs little: a rear lead that is a little wider on one
 * side only does not part them. */
static void test_alike(void)
{
  CwSection high_pass = {CW_SECTION_HIGH_PASS, 55, 0, 0.7};
  CwMixLead lead[] = {flat_lead(1, CW_SIDE_LEFT, CW_END_FRONT, 1, 0),
                      flat_lead(2, CW_SIDE_RIGHT, CW_END_FRONT, 1, 0),
                      flat_lead(3, CW_SIDE_RIGHT, CW_END_UNFADED, 1, 0)};
  shape(&lead[0], &high_pass, 1);
  shape(&lead[1], &high_pass, 1);
  CwMixChoice choice = cw_mix_choose(lead, 3, false, CW_MIX_TOGETHER);
  g_assert_cmpuint(choice.side[0].part[0].index, ==, 0);
  g_assert_cmpuint(choice.side[1].part[0].index, ==, 1);
}

/* All-passes of the leads that are taken are listed once, where they can be had. */
static void test_all_passes(void)
{
  CwMixLead lead[4];
  for (size_t i = 0; i < 4; i++) {
    lead[i] = way((int)i, (int)i / 2, i % 2 ? CW_HIGH_PASS : CW_LOW_PASS, 2500, 1, 0);
    if (i % 2) {
      CwSection turn = {CW_SECTION_ALL_PASS, 2200, 0, 1.1};
      shape(&lead[i], &turn, 1);
      lead[i].all_pass_hz = 2200 * (i == 3 ? 1.02 : 1); /* as well as it was found */
      lead[i].all_pass_q = 1.1;
    }
  }
  CwMixChoice choice = cw_mix_choose(lead, 4, true, CW_MIX_TOGETHER),
              without = cw_mix_choose(lead, 4, false, CW_MIX_TOGETHER);
  g_assert_cmpuint(choice.all_passes, ==, 1);
  g_assert_cmpfloat(choice.all_pass_hz[0], ==, 2200);
  g_assert_cmpuint(without.all_passes, ==, 0);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/mix-choice/shifted", test_shifted);
  g_test_add_func("/survey/mix-choice/fewest", test_fewest);
  g_test_add_func("/survey/mix-choice/ways-of-both-sides", test_ways_of_both_sides);
  g_test_add_func("/survey/mix-choice/as-they-come", test_as_they_come);
  g_test_add_func("/survey/mix-choice/shared-bass", test_shared_bass);
  g_test_add_func("/survey/mix-choice/alike", test_alike);
  g_test_add_func("/survey/mix-choice/all-passes", test_all_passes);
  return g_test_run();
}
