/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Verdicts of polarity. What is asked are properties: symmetry under inversion, more certainty by more takes
 * that agree, none by takes that disagree, and that a pair's likeness counts. */
#include "measuring/arrival/polarity.h"
#include <glib.h>
#include <math.h>
#include <string.h>

#define TAKES 12

typedef struct {
  CwPolarityProblem problem;
  CwHeardOnset take[TAKES];
  double onset[TAKES][CW_ONSET_POINTS], most[2];
  int mate[2];
} Pair;

/* Two speakers, six takes each: a half wave and what follows it, alike but for a ripple of each take's own.
 */
static void make_pair(Pair *pair, bool first_inverted, bool second_inverted, double certainty)
{
  memset(pair, 0, sizeof *pair);
  pair->mate[0] = 1;
  pair->mate[1] = 0;
  pair->most[0] = pair->most[1] = 0.99;
  for (size_t i = 0; i < TAKES; i++) {
    bool inverted = i < 6 ? first_inverted : second_inverted;
    for (size_t k = 0; k < CW_ONSET_POINTS; k++) {
      double t = ((double)k - 19) / 4;
      pair->onset[i][k] =
          (inverted ? -1 : 1) * (t > 0 ? sin(t) * exp(-0.3 * t) : 0) + 0.1 * sin(0.7 * (double)(k * (i + 1)));
    }
    pair->take[i] = (CwHeardOnset){i / 6, inverted, certainty, pair->onset[i]};
  }
  pair->problem = (CwPolarityProblem){2, TAKES, pair->mate, pair->most, pair->take};
}

static void test_all_ways_of_a_pair(void)
{
  for (int way = 0; way < 4; way++) {
    Pair pair;
    CwPolarityVerdict v[2];
    make_pair(&pair, way & 1, way & 2, 0.9);
    cw_polarity_judge(&pair.problem, v);
    g_assert_cmpfloat((way & 1) ? v[0].inverted : 1 - v[0].inverted, >, 0.95);
    g_assert_cmpfloat((way & 2) ? v[1].inverted : 1 - v[1].inverted, >, 0.95);
    g_assert_cmpfloat((way == 1 || way == 2) ? v[0].opposite : 1 - v[0].opposite, >, 0.95);
    g_assert_true((v[0].likeness > 0) == (way == 0 || way == 3));
  }
}

/* Property: inverting everything turns every certainty over and leaves pairs as they are. */
static void test_inversion(void)
{
  Pair pair;
  CwPolarityVerdict one[2], other[2];

  make_pair(&pair, false, true, 0.6);
  cw_polarity_judge(&pair.problem, one);
  for (size_t i = 0; i < TAKES; i++) {
    pair.take[i].inverted = !pair.take[i].inverted;
    for (size_t k = 0; k < CW_ONSET_POINTS; k++)
      pair.onset[i][k] = -pair.onset[i][k];
  }
  cw_polarity_judge(&pair.problem, other);
  for (int o = 0; o < 2; o++) {
    g_assert_cmpfloat(fabs(one[o].inverted + other[o].inverted - 1), <, 1e-9);
    g_assert_cmpfloat(fabs(one[o].opposite - other[o].opposite), <, 1e-9);
  }
}

/* Takes that disagree leave it open; one take is less sure than six; no take tells nothing. */
static void test_certainty_is_earned(void)
{
  Pair pair;
  CwPolarityVerdict v[2];
  double one, six;

  make_pair(&pair, true, true, 0.7);
  pair.mate[0] = pair.mate[1] = -1;
  cw_polarity_judge(&pair.problem, v);
  six = v[0].inverted;
  pair.problem.takes = 1;
  cw_polarity_judge(&pair.problem, v);
  one = v[0].inverted;
  g_assert_cmpfloat(six, >, one);
  g_assert_cmpfloat(one, >, 0.5);
  g_assert_cmpfloat(one, <, 0.95);
  g_assert_cmpfloat(v[1].inverted, ==, 0.5);
  pair.problem.takes = 6;
  for (size_t i = 0; i < 3; i++)
    pair.take[i].inverted = false;
  cw_polarity_judge(&pair.problem, v);
  g_assert_cmpfloat(fabs(v[0].inverted - 0.5), <, 1e-9);
}

/* One speaker's takes are open, its mate's are clear: the pair's likeness tells. */
static void test_mate_tells(void)
{
  Pair pair;
  CwPolarityVerdict v[2];

  make_pair(&pair, false, true, 0.9);
  for (size_t i = 6; i < TAKES; i++) {
    pair.take[i].inverted = i % 2;
    pair.take[i].certainty = 0.3;
  }
  cw_polarity_judge(&pair.problem, v);
  g_assert_cmpfloat(v[1].inverted, >, 0.9);
  g_assert_cmpfloat(v[0].opposite, >, 0.9);
}

/* A bound on certainty holds. */
static void test_bound(void)
{
  Pair pair;
  CwPolarityVerdict v[2];

  make_pair(&pair, true, true, 1);
  pair.most[0] = 0.92;
  cw_polarity_judge(&pair.problem, v);
  g_assert_cmpfloat(v[0].inverted, >, 0.85);
  g_assert_cmpfloat(v[0].inverted, <=, 0.92);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/polarity/all-ways-of-a-pair", test_all_ways_of_a_pair);
  g_test_add_func("/polarity/inversion", test_inversion);
  g_test_add_func("/polarity/certainty-is-earned", test_certainty_is_earned);
  g_test_add_func("/polarity/mate-tells", test_mate_tells);
  g_test_add_func("/polarity/bound", test_bound);
  return g_test_run();
}
