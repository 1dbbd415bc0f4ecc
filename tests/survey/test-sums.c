/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "mixed.h"
#include "survey/mix/sums.h"

#include <string.h>

static const CwLeadsSum *find_sum(const CwLeadsSum *sum, size_t sums, size_t one, size_t other)
{
  for (size_t i = 0; i < sums; i++)
    if (sum[i].count == 2 && sum[i].index[0] == one && sum[i].index[1] == other)
      return &sum[i];
  g_assert_not_reached();
}

/* Two flat leads apart by t lose, on the mean over whole turns, half of the power of adding in phase;
 * opposite ones all of it; ways of a crossover nothing. */
static void test_sums(void)
{
  CwMixLead lead[] = {
      flat_lead(1, CW_SIDE_LEFT, CW_END_FRONT, 1, 0),   flat_lead(2, CW_SIDE_RIGHT, CW_END_FRONT, -1, 0),
      flat_lead(3, CW_SIDE_LEFT, CW_END_REAR, 1, 6e-3), flat_lead(4, CW_SIDE_RIGHT, CW_END_REAR, -1, 0),
      way(5, CW_SIDE_LEFT, CW_LOW_PASS, 2500, 1, 0),    way(6, CW_SIDE_LEFT, CW_HIGH_PASS, 2500, 1, 0)};
  CwLeadsSum sum[CW_SUMS_MOST];
  CwMixChoice none = {0};
  size_t sums;
  lead[4].end = lead[5].end = CW_END_UNFADED;
  sums = cw_sums_list(lead, 6, &none, sum);
  g_assert_cmpint(find_sum(sum, sums, 0, 1)->verdict, ==, CW_SUM_VANISHES);
  g_assert_cmpfloat(find_sum(sum, sums, 0, 1)->loss_db, >, 40);
  g_assert_cmpint(find_sum(sum, sums, 0, 2)->verdict, ==, CW_SUM_COMB);
  g_assert_cmpfloat_with_epsilon(find_sum(sum, sums, 0, 2)->loss_db, 10 * log10(2), 0.7);
  g_assert_cmpfloat_with_epsilon(find_sum(sum, sums, 0, 2)->apart_seconds, 6e-3, 1e-9);
  g_assert_cmpint(find_sum(sum, sums, 1, 3)->verdict, ==, CW_SUM_ADDS);
  g_assert_cmpfloat(find_sum(sum, sums, 1, 3)->loss_db, <, 1e-6);
  g_assert_cmpint(find_sum(sum, sums, 4, 5)->verdict, ==, CW_SUM_ADDS);
  g_assert_cmpfloat(find_sum(sum, sums, 4, 5)->loss_db, <, 0.5);
}

/* The sums that are listed: the ways of one end, front with rear, a side with what both feed, left with
 * right; each once, and the mix's own marked. */
static void test_list(void)
{
  CwMixLead lead[] = {
      flat_lead(1, CW_SIDE_LEFT, CW_END_FRONT, 1, 0), flat_lead(2, CW_SIDE_RIGHT, CW_END_FRONT, 1, 0),
      flat_lead(3, CW_SIDE_LEFT, CW_END_REAR, 1, 0), flat_lead(4, CW_SIDE_RIGHT, CW_END_REAR, 1, 0),
      flat_lead(5, CW_SIDE_BOTH, CW_END_UNFADED, 1, 0)};
  static const struct {
    size_t one, other;
    int side;
  } wanted[] = {{0, 2, CW_SIDE_LEFT},  {1, 3, CW_SIDE_RIGHT}, {0, 4, CW_SIDE_LEFT},
                {1, 4, CW_SIDE_RIGHT}, {0, 1, CW_SIDE_BOTH},  {2, 3, CW_SIDE_BOTH}};
  CwLeadsSum sum[CW_SUMS_MOST];
  CwMixChoice choice = cw_mix_choose(lead, 5, false, CW_MIX_TOGETHER);
  size_t sums = cw_sums_list(lead, 5, &choice, sum), advised = 0;
  for (size_t k = 0; k < G_N_ELEMENTS(wanted); k++)
    g_assert_cmpint(find_sum(sum, sums, wanted[k].one, wanted[k].other)->side, ==, wanted[k].side);
  for (size_t a = 0; a < sums; a++) {
    advised += sum[a].advised;
    for (size_t b = 0; b < a; b++)
      g_assert_false(sum[a].count == sum[b].count &&
                     memcmp(sum[a].index, sum[b].index, sum[a].count * sizeof(size_t)) == 0);
  }
  g_assert_cmpuint(advised, ==, 2);
  g_assert_cmpint(sum[0].verdict, ==, sum[0].count == 1 ? CW_SUM_ALONE : CW_SUM_ADDS);
}

/* Ten leads of one end and side are more than a sum holds, and unusable ones are in none. */
static void test_unusable(void)
{
  CwMixLead lead[10];
  CwLeadsSum sum[CW_SUMS_MOST];
  CwMixChoice none = {0};
  for (size_t i = 0; i < 10; i++)
    lead[i] = flat_lead((int)i + 1, CW_SIDE_LEFT, CW_END_FRONT, 1, 0);
  for (size_t s = 0, sums = cw_sums_list(lead, 10, &none, sum); s < sums; s++)
    g_assert_cmpuint(sum[s].count, <=, CW_MIX_MOST_PARTS);
  for (size_t i = 0; i < 10; i++)
    lead[i].usable = i < 2;
  g_assert_cmpuint(cw_sums_list(lead, 10, &none, sum), ==, 1);
  lead[1].usable = false;
  g_assert_cmpuint(cw_sums_list(lead, 10, &none, sum), ==, 0);
}

/* A crossover's two ways reach from the woofer's lower edge to the tweeter's upper: edges 6 dB below the
 * level, to a twelfth of an octave, level re 1 V RMS of a full-scale sine. */
static void test_edges(void)
{
  CwMixLead lead[] = {way(1, CW_SIDE_LEFT, CW_LOW_PASS, 2500, 1, 0),
                      way(2, CW_SIDE_LEFT, CW_HIGH_PASS, 2500, 1, 0)};
  CwSection high_pass = {CW_SECTION_HIGH_PASS, 78, 0, 0.5}; /* 6 dB down at its corner */
  CwLeadsSum sum[CW_SUMS_MOST];
  CwMixChoice none = {0};
  shape(&lead[0], &high_pass, 1);
  size_t sums = cw_sums_list(lead, 2, &none, sum);
  const CwLeadsSum *both = find_sum(sum, sums, 0, 1);
  g_assert_cmpfloat_with_epsilon(log2(both->low_hz / 78), 0, 1.0 / 12);
  g_assert_true(isnan(both->high_hz));
  g_assert_cmpfloat_with_epsilon(both->db[84], -10 * log10(2), 0.05);
}

/* What is lost by all-passes is neither a comb nor a wrong polarity. */
static void test_uneven(void)
{
  CwMixLead lead[] = {flat_lead(1, CW_SIDE_LEFT, CW_END_FRONT, 1, 0),
                      flat_lead(2, CW_SIDE_LEFT, CW_END_REAR, 1, 0)};
  CwSection turn[] = {{CW_SECTION_ALL_PASS, 100, 0, 0.5},
                      {CW_SECTION_ALL_PASS, 700, 0, 0.5},
                      {CW_SECTION_ALL_PASS, 5000, 0, 0.5}};
  CwLeadsSum sum[CW_SUMS_MOST];
  CwMixChoice none = {0};
  shape(&lead[1], turn, 3);
  const CwLeadsSum *both = find_sum(sum, cw_sums_list(lead, 2, &none, sum), 0, 1);
  g_assert_cmpint(both->verdict, ==, CW_SUM_UNEVEN);
  g_assert_cmpfloat(both->meet_octaves, >, 9);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/survey/sums/verdicts", test_sums);
  g_test_add_func("/survey/sums/list", test_list);
  g_test_add_func("/survey/sums/unusable", test_unusable);
  g_test_add_func("/survey/sums/edges", test_edges);
  g_test_add_func("/survey/sums/uneven", test_uneven);
  return g_test_run();
}
