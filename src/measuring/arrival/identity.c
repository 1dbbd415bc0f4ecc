/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/arrival/identity.h"
#include "signal/sort.h"
#include <math.h>

#define RANGE_DB 25.0 /* of what counts as playing */
#define LOW_FREE 0.5  /* octaves that the lower end may be off before it speaks */
#define HIGH_FREE 0.4
#define BELOW_LOWEST 0.25 /* of the weight that octaves above it have */
#define BAND_OCTAVES 0.5  /* standard deviation beyond that */
#define BAND_MOST 10.0    /* natural units that one end of the band may weigh */
#define DISTANCE_M 0.05   /* standard deviation of distance by sound against tape */
#define DISTANCE_MOST 10.0
#define LIKENESS_DB 2.5 /* by which the two of a pair differ, rms over third octaves */
#define LIKENESS_MOST 8.0
#define LEAST_COMMON 6 /* bands, to compare two responses */
#define EXCHANGED                                                                                            \
  5.0 /* natural units by which an exchange must be better than the sheet; in 14 healthy cabins              \
         none was by 1 */
#define BY_RESPONSE                                                                                          \
  0.5                 /* of that, what the responses must say where the two are not of one kind: two wrong   \
                         distances can look like an exchange */
#define EXPLAINED 5.0 /* and what it may leave open of each output */
#define MISFIT 6.0    /* of a take's band against its way */

/* The takes of an output, gathered. */
typedef struct {
  size_t takes;
  double sweep_low_hz, low_hz, high_hz; /* medians of the takes' ends */
  double level_db[CW_IDENTITY_BANDS];   /* mean of the takes, their mean level taken off */
} Voice;

static double band_hz(double index)
{
  return CW_IDENTITY_LOW_HZ * exp2(index / 3);
}

/* Between which frequencies a take has nine tenths of its loudness: decibels above RANGE_DB below its top,
 * summed over octaves. */
static bool find_ends(const double *level_db, double *low_hz, double *high_hz)
{
  double top = -INFINITY, sum = 0, so_far = 0;
  int low = -1, high = -1;

  for (int b = 0; b < CW_IDENTITY_BANDS; b++)
    top = isnan(level_db[b]) ? top : fmax(top, level_db[b]);
  for (int b = 0; b < CW_IDENTITY_BANDS; b++)
    sum += isnan(level_db[b]) ? 0 : fmax(0, level_db[b] - top + RANGE_DB);
  for (int b = 0; b < CW_IDENTITY_BANDS && sum > 0; b++) {
    so_far += isnan(level_db[b]) ? 0 : fmax(0, level_db[b] - top + RANGE_DB);
    low = low < 0 && so_far >= 0.1 * sum ? b : low;
    high = high < 0 && so_far >= 0.9 * sum ? b : high;
  }
  if (low < 0)
    return false;
  *low_hz = band_hz(low);
  *high_hz = band_hz(high < 0 ? CW_IDENTITY_BANDS - 1 : high);
  return true;
}

static double square_beyond(double off, double free, double most)
{
  double beyond = fmax(0, fabs(off) - free) / BAND_OCTAVES;
  return fmin(0.5 * beyond * beyond, most);
}

/* How badly a band fits a speaker, in natural units. */
static double band_misfit(const CwSpeakerSheet *sheet, double sweep_low_hz, double low_hz, double high_hz)
{
  double low = log2(low_hz / fmax(sheet->lowest_hz, 1.2 * sweep_low_hz)),
         high = high_hz < sheet->top_least_hz  ? log2(high_hz / sheet->top_least_hz)
                : high_hz > sheet->top_most_hz ? log2(high_hz / sheet->top_most_hz)
                                               : 0;
  if (low < 0) /* lowest_hz spares a speaker; by itself many a tweeter plays an octave or two below it */
    low *= BELOW_LOWEST;
  return square_beyond(low, LOW_FREE, BAND_MOST) + square_beyond(high, HIGH_FREE, BAND_MOST);
}

static Voice listen(const CwIdentityProblem *p, size_t output)
{
  Voice v = {.low_hz = NAN, .high_hz = NAN};
  double *low = cw_alloc_real(p->takes + 1), *high = cw_alloc_real(p->takes + 1),
         count[CW_IDENTITY_BANDS] = {0};

  for (size_t i = 0; i < p->takes; i++) {
    double mean = 0, known = 0;
    if (p->take[i].output != output || !find_ends(p->take[i].level_db, &low[v.takes], &high[v.takes]))
      continue;
    v.takes++;
    v.sweep_low_hz = p->take[i].sweep_low_hz;
    for (int b = 0; b < CW_IDENTITY_BANDS; b++)
      if (!isnan(p->take[i].level_db[b])) {
        mean += p->take[i].level_db[b];
        known++;
      }
    for (int b = 0; b < CW_IDENTITY_BANDS; b++)
      if (!isnan(p->take[i].level_db[b])) {
        v.level_db[b] += p->take[i].level_db[b] - mean / known;
        count[b]++;
      }
  }
  for (int b = 0; b < CW_IDENTITY_BANDS; b++)
    v.level_db[b] = count[b] > 0 ? v.level_db[b] / count[b] : NAN;
  v.low_hz = cw_median(low, v.takes);
  v.high_hz = cw_median(high, v.takes);
  cw_free(low);
  cw_free(high);
  return v;
}

/* rms difference of two responses over the bands that both know, level aside, in natural units of
 * LIKENESS_DB. */
static double unlikeness(const Voice *one, const Voice *other)
{
  double sum = 0, squares = 0, count = 0;

  for (int b = 0; b < CW_IDENTITY_BANDS; b++) {
    double difference = one->level_db[b] - other->level_db[b];
    if (isnan(difference))
      continue;
    sum += difference;
    squares += difference * difference;
    count++;
  }
  if (count < LEAST_COMMON)
    return 0;
  return fmin(0.5 * (squares / count - pow(sum / count, 2)) / (LIKENESS_DB * LIKENESS_DB), LIKENESS_MOST);
}

/* How badly what an output's takes hold fits the sheet's speaker of an output, band and distance. */
static double misfit(const CwIdentityProblem *p, const Voice *voice, size_t output, size_t speaker)
{
  double sum = band_misfit(&p->sheet[speaker], voice[output].sweep_low_hz, voice[output].low_hz,
                           voice[output].high_hz);

  for (size_t s = 0; s < p->seats; s++) {
    double off = p->heard[output * p->seats + s].heard_m - p->distance_m[speaker * p->seats + s],
           sigma = hypot(DISTANCE_M, 0.5 * p->heard[output * p->seats + s].heard_doubt_m);
    if (!isnan(off))
      sum += fmin(0.5 * off * off / (sigma * sigma), DISTANCE_MOST);
  }
  return sum;
}

/* How unlike an output's mate is to what would be its speaker; of a mate that was found exchanged, what it
 * was exchanged with. */
static double pair_misfit(const CwIdentityProblem *p, const Voice *voice, const CwSpeakerIdentity *identity,
                          size_t output, size_t with_voice_of, size_t other)
{
  int mate = p->sheet[output].mate;

  if (mate < 0 || (size_t)mate == other || voice[mate].takes == 0)
    return 0;
  if (identity[mate].exchanged_with >= 0)
    mate = identity[mate].exchanged_with;
  return unlikeness(&voice[with_voice_of], &voice[mate]);
}

/* How badly the response of an output's takes fits the sheet's speaker of another, which would have its mate;
 * distance aside. */
static double response_misfit(const CwIdentityProblem *p, const Voice *voice,
                              const CwSpeakerIdentity *identity, size_t output, size_t speaker)
{
  return band_misfit(&p->sheet[speaker], voice[output].sweep_low_hz, voice[output].low_hz,
                     voice[output].high_hz) +
         pair_misfit(p, voice, identity, speaker, output, output);
}

/* By how much an exchange of two outputs explains what is heard better than the sheet does. It must explain
 * either of them better: else one alone is on a wrong wire. */
static double exchange_gain(const CwIdentityProblem *p, const Voice *voice, const CwSpeakerIdentity *identity,
                            size_t a, size_t b)
{
  double one = misfit(p, voice, a, b), other = misfit(p, voice, b, a);
  double gain_one = misfit(p, voice, a, a) + pair_misfit(p, voice, identity, a, a, b) - one -
                    pair_misfit(p, voice, identity, b, a, a),
         gain_other = misfit(p, voice, b, b) + pair_misfit(p, voice, identity, b, b, a) - other -
                      pair_misfit(p, voice, identity, a, b, b);

  if (p->sheet[a].top_least_hz != p->sheet[b].top_least_hz &&
      response_misfit(p, voice, identity, a, a) + response_misfit(p, voice, identity, b, b) -
              response_misfit(p, voice, identity, a, b) - response_misfit(p, voice, identity, b, a) <
          BY_RESPONSE)
    return -INFINITY;
  return one > EXPLAINED || other > EXPLAINED || gain_one < 0 || gain_other < 0 ? -INFINITY
                                                                                : gain_one + gain_other;
}

static void find_exchanged(const CwIdentityProblem *p, const Voice *voice, CwSpeakerIdentity *identity)
{
  for (;;) {
    double best = EXCHANGED;
    size_t one = 0, other = 0;
    for (size_t a = 0; a < p->outputs; a++)
      for (size_t b = a + 1; b < p->outputs; b++) {
        bool open = voice[a].takes && voice[b].takes && identity[a].exchanged_with < 0 &&
                    identity[b].exchanged_with < 0;
        double gain = open ? exchange_gain(p, voice, identity, a, b) : 0;
        if (gain > best) {
          best = gain;
          one = a;
          other = b;
        }
      }
    if (one == other)
      return;
    identity[one].exchanged_with = identity[one].looks_like = (int)other;
    identity[other].exchanged_with = identity[other].looks_like = (int)one;
    identity[one].evidence = identity[other].evidence = best;
  }
}

/* Single takes, or all, whose band cannot be that of the sheet's speaker; and whose it is, if anyone's. */
static void find_misplaced(const CwIdentityProblem *p, const Voice *voice, size_t o, CwSpeakerIdentity *id)
{
  double worst = 0, best = INFINITY, low, high;

  for (size_t i = 0; i < p->takes; i++) {
    const CwSpeakerTake *t = &p->take[i];
    double own;
    if (t->output != o || !find_ends(t->level_db, &low, &high))
      continue;
    own = band_misfit(&p->sheet[o], t->sweep_low_hz, low, high);
    id->misfits += own > MISFIT;
    if (own > MISFIT && own > worst) {
      worst = own;
      id->low_hz = low;
      id->high_hz = high;
    }
  }
  if (id->misfits == 0 || id->exchanged_with >= 0)
    return;
  id->misplaced = true;
  id->evidence = worst;
  for (size_t j = 0; j < p->outputs; j++) {
    double fit = band_misfit(&p->sheet[j], voice[o].sweep_low_hz, id->low_hz, id->high_hz) +
                 (id->misfits == id->takes ? misfit(p, voice, o, j) : 0);
    if (j != o && fit < best && fit < EXPLAINED) {
      best = fit;
      id->looks_like = (int)j;
    }
  }
}

void cw_identity_judge(const CwIdentityProblem *p, CwSpeakerIdentity *identity)
{
  Voice *voice = cw_alloc_bytes((p->outputs + 1) * sizeof *voice);

  for (size_t o = 0; o < p->outputs; o++) {
    voice[o] = listen(p, o);
    identity[o] = (CwSpeakerIdentity){.exchanged_with = -1,
                                      .looks_like = -1,
                                      .takes = voice[o].takes,
                                      .low_hz = voice[o].low_hz,
                                      .high_hz = voice[o].high_hz};
  }
  find_exchanged(p, voice, identity);
  for (size_t o = 0; o < p->outputs; o++)
    find_misplaced(p, voice, o, &identity[o]);
  cw_free(voice);
}
