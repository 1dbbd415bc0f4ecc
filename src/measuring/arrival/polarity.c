/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/arrival/polarity.h"
#include <math.h>

#define TAKE_SURE 0.97      /* at most, by the best single take */
#define LIKENESS_WEIGHT 5.0 /* natural units of evidence that a likeness of 1 is worth */
#define LAG_POINTS 10       /* that the two of a pair may be apart: 0.1 ms */

/* Evidence, in natural units, that an output is inverted, by the direction of its takes' edges. */
static double edge_evidence(const CwPolarityProblem *p, size_t output)
{
  double sum = 0, count = 0;

  for (size_t i = 0; i < p->takes; i++) {
    const CwHeardOnset *t = &p->take[i];
    double right = 0.5 + (TAKE_SURE - 0.5) * t->certainty, evidence = log(right / (1 - right));
    if (t->output != output)
      continue;
    sum += t->inverted ? evidence : -evidence;
    count++;
  }
  return count > 0 ? sum / sqrt(count) : 0;
}

/* The mean of an output's onsets; false where it has none. */
static bool mean_onset(const CwPolarityProblem *p, size_t output, double *mean)
{
  size_t count = 0;

  for (size_t k = 0; k < CW_ONSET_POINTS; k++)
    mean[k] = 0;
  for (size_t i = 0; i < p->takes; i++) {
    double top = 0;
    if (p->take[i].output != output || !p->take[i].onset)
      continue;
    for (size_t k = 0; k < CW_ONSET_POINTS; k++)
      top = fmax(top, fabs(p->take[i].onset[k]));
    for (size_t k = 0; k < CW_ONSET_POINTS && top > 0; k++)
      mean[k] += p->take[i].onset[k] / top;
    count++;
  }
  return count > 0;
}

/* The largest correlation of two onsets within LAG_POINTS, with its sign. */
static double likeness_of(const double *one, const double *other)
{
  double best = 0, energy_one = 0, energy_other = 0;

  for (size_t k = 0; k < CW_ONSET_POINTS; k++) {
    energy_one += one[k] * one[k];
    energy_other += other[k] * other[k];
  }
  for (int lag = -LAG_POINTS; lag <= LAG_POINTS; lag++) {
    double sum = 0;
    for (int k = 0; k < CW_ONSET_POINTS; k++)
      if (k + lag >= 0 && k + lag < CW_ONSET_POINTS)
        sum += one[k] * other[k + lag];
    if (fabs(sum) > fabs(best))
      best = sum;
  }
  return best / sqrt(fmax(energy_one * energy_other, 1e-300));
}

/* The certainty that evidence makes, held below most. */
static double sure(double evidence, double most)
{
  return 0.5 + (2 * most - 1) * (1 / (1 + exp(-evidence)) - 0.5);
}

static double odds(double part)
{
  return log(fmax(part, 1e-12) / fmax(1 - part, 1e-12));
}

/* Both of a pair at once: four ways to be wired. */
static void judge_pair(const CwPolarityProblem *p, size_t a, size_t b, CwPolarityVerdict *verdict)
{
  double one[CW_ONSET_POINTS], other[CW_ONSET_POINTS],
      evidence[2] = {edge_evidence(p, a), edge_evidence(p, b)};
  double weight[2][2], sum = 0;
  bool both = mean_onset(p, a, one) && mean_onset(p, b, other);
  double likeness = both ? likeness_of(one, other) : NAN;

  for (int i = 0; i < 2; i++)
    for (int k = 0; k < 2; k++) {
      weight[i][k] =
          exp(i * evidence[0] + k * evidence[1] + (both && i != k ? -LIKENESS_WEIGHT * likeness : 0));
      sum += weight[i][k];
    }
  double first = (weight[1][0] + weight[1][1]) / sum, second = (weight[0][1] + weight[1][1]) / sum,
         opposite = (weight[0][1] + weight[1][0]) / sum;
  double most = fmin(p->most_sure[a], p->most_sure[b]);
  verdict[a] = (CwPolarityVerdict){sure(odds(first), p->most_sure[a]), sure(odds(opposite), most), likeness};
  verdict[b] = (CwPolarityVerdict){sure(odds(second), p->most_sure[b]), verdict[a].opposite, likeness};
  if (!both)
    verdict[a].opposite = verdict[b].opposite = NAN;
}

void cw_polarity_judge(const CwPolarityProblem *p, CwPolarityVerdict *verdict)
{
  for (size_t o = 0; o < p->outputs; o++) {
    int mate = p->mate[o];
    if (mate < 0)
      verdict[o] = (CwPolarityVerdict){sure(edge_evidence(p, o), p->most_sure[o]), NAN, NAN};
    else if ((size_t)mate > o)
      judge_pair(p, o, (size_t)mate, verdict);
  }
}
