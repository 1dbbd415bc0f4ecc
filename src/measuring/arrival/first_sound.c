/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/arrival/first_sound.h"
#include "signal/sort.h"
#include <math.h>

#define PLACES_SECONDS 0.2e-3    /* how far arrivals at a seat's places lie about the head's: 7 cm */
#define TAPE_SECONDS 0.1e-3      /* of the sheet's distance and of where the places' middle is: 3.5 cm */
#define TAPE_OWN_SECONDS 0.06e-3 /* of the distance alone, 3 cm in 95 of 100 and what is bent round */
#define TAPE_WRONG 0.05          /* of the distances on a sheet */
#define TAPE_WRONG_SECONDS 5e-3
#define CENTRE_SECONDS 0.03e-3 /* 1 cm: where in a speaker its sound comes from is not known better */
#define MISSED 0.02            /* of the first sounds are among no take's edges */
#define MISSED_SECONDS 10e-3
#define ROUNDS 24
#define WIDE_SECONDS 1e-3 /* the spread at which the search begins */
#define OWN_SURE 0.9      /* an edge that is this certain and sharp needs no help for its time */
#define OWN_SHARP_SECONDS 0.15e-3
#define LEAST_CERTAINTY 0.6 /* of an edge to be read at all, where a distance could be read instead */
#define OF_95 1.96
#define CONTRADICTION 3.0 /* standard deviations: three in a thousand */
#define LEAST_OTHERS 2    /* outputs that must tell a latency for another one to be judged by it */

typedef struct {
  const CwFirstSoundProblem *problem;
  double *latency; /* clocks */
  double *way;     /* outputs x seats, seconds */
  bool *way_known;
  double spread;
} Model;

double cw_speed_of_sound(double celsius)
{
  return 343.2 * sqrt((celsius + 273.15) / 293.15);
}

static size_t way_of(const CwFirstSoundProblem *p, const CwHeardTake *t)
{
  return t->output * p->seats + p->place_seat[t->place];
}

static double tape(const CwFirstSoundProblem *p, size_t way)
{
  return p->distance_m[way] / p->speed_m_per_s;
}

/* Of the time that an edge tells for a speaker of that size and band: a part of its shortest wave; where
 * waves are as long as seats are large, the first sound is weak and what bends round the seats comes later;
 * and a wide speaker has no one distance. Common practice and geometry, checked against solved cabins. */
static double edge_sigma(const CwFirstSoundProblem *p, const CwHeardTake *t)
{
  double wave = 0.1 / fmax(t->high_hz, 50), shadow = 2500 / fmax(t->high_hz, 50),
         size = 0.3 * p->radius_m[t->output] / p->speed_m_per_s, noise = 4 * t->noise * wave;

  wave *= 1 + shadow * shadow;
  return sqrt(wave * wave + size * size + noise * noise + CENTRE_SECONDS * CENTRE_SECONDS);
}

static double expected(const Model *m, const CwHeardTake *t)
{
  return m->latency[t->clock] + m->way[way_of(m->problem, t)];
}

static bool can_expect(const Model *m, const CwHeardTake *t)
{
  return m->way_known[way_of(m->problem, t)] && !isnan(m->latency[t->clock]);
}

/* How much each edge of a take is its first sound, all that is known taken together; the rest to 1 is that
 * none of them is. */
static void share_edges(const Model *m, const CwHeardTake *t, double *share)
{
  double own = edge_sigma(m->problem, t), sigma = hypot(m->spread, own), sum = 0, none = MISSED;

  for (size_t k = 0; k < t->edges; k++) {
    double off = can_expect(m, t) ? (t->edge[k].seconds - expected(m, t)) / sigma : 0,
           density = can_expect(m, t) ? exp(-0.5 * off * off) * MISSED_SECONDS / (2.5 * sigma) : 1;
    share[k] = t->edge[k].likelihood * density;
    sum += share[k];
  }
  for (size_t k = 0; k < t->edges; k++)
    share[k] /= sum + none;
}

static double mean_edge(const CwHeardTake *t, const double *share, double *weight)
{
  double sum = 0;

  *weight = 0;
  for (size_t k = 0; k < t->edges; k++) {
    sum += share[k] * t->edge[k].seconds;
    *weight += share[k];
  }
  return *weight > 0 ? sum / *weight : NAN;
}

/* What the sound of one take says by itself: its likeliest edge. */
static double own_time(const CwHeardTake *t)
{
  double best = 0, seconds = NAN;

  for (size_t k = 0; k < t->edges; k++)
    if (t->edge[k].likelihood > best) {
      best = t->edge[k].likelihood;
      seconds = t->edge[k].seconds;
    }
  return seconds;
}

/* The first guess of the latencies: medians of sound less tape; 0 where there is no tape at all, as only
 * differences are wanted then. */
static void first_latencies(Model *m)
{
  const CwFirstSoundProblem *p = m->problem;
  double *known = cw_alloc_real(p->takes);

  for (size_t c = 0; c < p->clocks; c++) {
    size_t count = 0, heard = 0;
    for (size_t i = 0; i < p->takes; i++) {
      const CwHeardTake *t = &p->take[i];
      double seconds = t->clock == c ? own_time(t) : NAN, way = tape(p, way_of(p, t));
      heard += !isnan(seconds);
      if (!isnan(seconds) && !isnan(way))
        known[count++] = seconds - way;
    }
    m->latency[c] = count ? cw_median(known, count) : heard ? 0 : NAN;
  }
  cw_free(known);
}

static void first_ways(Model *m)
{
  const CwFirstSoundProblem *p = m->problem;
  double *known = cw_alloc_real(p->takes);

  for (size_t way = 0; way < p->outputs * p->seats; way++) {
    size_t count = 0;
    for (size_t i = 0; i < p->takes; i++) {
      const CwHeardTake *t = &p->take[i];
      double seconds = own_time(t);
      if (way_of(p, t) == way && !isnan(seconds) && !isnan(m->latency[t->clock]))
        known[count++] = seconds - m->latency[t->clock];
    }
    m->way_known[way] = !isnan(tape(p, way)) || count > 0;
    m->way[way] = !isnan(tape(p, way)) ? tape(p, way) : count ? cw_median(known, count) : NAN;
  }
  cw_free(known);
}

/* The weight of a tape measure's distance that is off by so much. */
static double tape_weight(double off)
{
  double right = (1 - TAPE_WRONG) / TAPE_SECONDS * exp(-0.5 * off * off / (TAPE_SECONDS * TAPE_SECONDS)),
         wrong = TAPE_WRONG / TAPE_WRONG_SECONDS;
  return right / (right + wrong) / (TAPE_SECONDS * TAPE_SECONDS);
}

/* One round: latencies and ways from the edges as they are shared now. */
static void improve(Model *m)
{
  const CwFirstSoundProblem *p = m->problem;
  size_t ways = p->outputs * p->seats;
  double *way_sum = cw_alloc_real(ways), *way_weight = cw_alloc_real(ways),
         *clock_sum = cw_alloc_real(p->clocks), *clock_weight = cw_alloc_real(p->clocks);

  for (size_t i = 0; i < p->takes; i++) {
    const CwHeardTake *t = &p->take[i];
    double share[CW_EDGES_MOST], weight, seconds, sigma = hypot(m->spread, edge_sigma(p, t));
    if (!can_expect(m, t))
      continue;
    share_edges(m, t, share);
    seconds = mean_edge(t, share, &weight);
    if (!(weight > 0))
      continue;
    weight /= sigma * sigma;
    way_sum[way_of(p, t)] += weight * (seconds - m->latency[t->clock]);
    way_weight[way_of(p, t)] += weight;
    clock_sum[t->clock] += weight * (seconds - m->way[way_of(p, t)]);
    clock_weight[t->clock] += weight;
  }
  for (size_t c = 0; c < p->clocks; c++)
    if (clock_weight[c] > 0)
      m->latency[c] = clock_sum[c] / clock_weight[c];
  for (size_t way = 0; way < ways; way++) {
    double by_tape = isnan(tape(p, way)) ? 0 : tape_weight(m->way[way] - tape(p, way));
    if (by_tape > 0) {
      way_sum[way] += by_tape * tape(p, way);
      way_weight[way] += by_tape;
    }
    if (way_weight[way] > 0)
      m->way[way] = way_sum[way] / way_weight[way];
  }
  cw_free(way_sum);
  cw_free(way_weight);
  cw_free(clock_sum);
  cw_free(clock_weight);
}

/* How well a way of so many seconds explains the edges of its takes and its tape. */
static double way_evidence(const Model *m, size_t way, double seconds)
{
  const CwFirstSoundProblem *p = m->problem;
  double off = seconds - tape(p, way), sum = 0;

  if (!isnan(off))
    sum = log((1 - TAPE_WRONG) / TAPE_SECONDS * exp(-0.5 * off * off / (TAPE_SECONDS * TAPE_SECONDS)) +
              TAPE_WRONG / TAPE_WRONG_SECONDS);
  for (size_t i = 0; i < p->takes; i++) {
    const CwHeardTake *t = &p->take[i];
    double sigma = hypot(m->spread, edge_sigma(p, t)), density = MISSED;
    if (way_of(p, t) != way || isnan(m->latency[t->clock]))
      continue;
    for (size_t k = 0; k < t->edges; k++) {
      double away = (t->edge[k].seconds - m->latency[t->clock] - seconds) / sigma;
      density += t->edge[k].likelihood * exp(-0.5 * away * away) * MISSED_SECONDS / (2.5 * sigma);
    }
    sum += log(density);
  }
  return sum;
}

/* A tape that is far off holds a way where no sound is: where the sound explains more without it, the way
 * goes there. */
static void leave_wrong_tapes(Model *m)
{
  const CwFirstSoundProblem *p = m->problem;
  double *known = cw_alloc_real(p->takes + 1);

  for (size_t way = 0; way < p->outputs * p->seats; way++) {
    size_t count = 0;
    double heard;
    for (size_t i = 0; i < p->takes; i++) {
      double seconds = own_time(&p->take[i]);
      if (way_of(p, &p->take[i]) == way && !isnan(seconds) && !isnan(m->latency[p->take[i].clock]))
        known[count++] = seconds - m->latency[p->take[i].clock];
    }
    heard = count ? cw_median(known, count) : NAN;
    if (count && !isnan(tape(p, way)) && way_evidence(m, way, heard) > way_evidence(m, way, m->way[way]))
      m->way[way] = heard;
  }
  cw_free(known);
}

static Model solve(const CwFirstSoundProblem *p)
{
  Model m = {.problem = p,
             .latency = cw_alloc_real(p->clocks + 1),
             .way = cw_alloc_real(p->outputs * p->seats + 1),
             .way_known = cw_alloc_bytes((p->outputs * p->seats + 1) * sizeof(bool))};

  first_latencies(&m);
  first_ways(&m);
  for (int round = 0; round < ROUNDS; round++) {
    m.spread = fmax(PLACES_SECONDS, WIDE_SECONDS * pow(0.8, round));
    improve(&m);
    if (round == ROUNDS / 2 || round == 3 * ROUNDS / 4)
      leave_wrong_tapes(&m);
  }
  return m;
}

/* A take's arrival from the edge that is shared most, from what is expected, or from both. */
static CwTakeArrival settle(const Model *m, const CwHeardTake *t)
{
  const CwFirstSoundProblem *p = m->problem;
  CwTakeArrival a = {.seconds = NAN, .doubt_seconds = NAN, .edge = CW_NO_EDGE};
  double share[CW_EDGES_MOST], spread = 0, sigma = edge_sigma(p, t), away;
  bool has_tape = !isnan(tape(p, way_of(p, t))) && can_expect(m, t);

  share_edges(m, t, share);
  for (size_t k = 0; k < t->edges; k++)
    if (a.edge == CW_NO_EDGE || share[k] > share[a.edge])
      a.edge = k;
  if (a.edge != CW_NO_EDGE)
    a.certainty = share[a.edge];
  if (has_tape && a.certainty < LEAST_CERTAINTY) {
    a.edge = CW_NO_EDGE;
    a.seconds = expected(m, t);
    a.doubt_seconds = OF_95 * hypot(PLACES_SECONDS, TAPE_SECONDS);
    a.by = CW_ARRIVAL_BY_DISTANCE;
    return a;
  }
  if (a.edge == CW_NO_EDGE)
    return a;
  a.seconds = t->edge[a.edge].seconds;
  for (size_t k = 0; k < t->edges; k++)
    spread += share[k] * pow(t->edge[k].seconds - a.seconds, 2);
  sigma = sqrt(sigma * sigma + spread);
  a.by = CW_ARRIVAL_BY_SOUND;
  if (has_tape) {
    double far = hypot(PLACES_SECONDS, TAPE_SECONDS);
    away = fabs(m->latency[t->clock] + tape(p, way_of(p, t)) - a.seconds);
    if (away < OF_95 * hypot(far, sigma)) {
      a.by = CW_ARRIVAL_BY_BOTH;
      if (!(a.certainty >= OWN_SURE && sigma < OWN_SHARP_SECONDS)) {
        double own = 1 / (sigma * sigma), other = 1 / (far * far);
        a.seconds = (own * a.seconds + other * expected(m, t)) / (own + other);
        sigma = sqrt(1 / (own + other));
      }
    }
  }
  a.doubt_seconds = OF_95 * sigma;
  return a;
}

/* Whether a take's own edge is good enough to hold against a tape measure. */
static bool is_firm(const CwFirstSounds *sounds, size_t take)
{
  return sounds->take[take].edge != CW_NO_EDGE && sounds->take[take].certainty >= OWN_SURE;
}

static double edge_time(const CwFirstSoundProblem *p, const CwFirstSounds *sounds, size_t take)
{
  return p->take[take].edge[sounds->take[take].edge].seconds;
}

/* A clock's latency by the sharp edges and the tapes of all outputs but one: the median over their ways,
 * whose number is returned. */
static size_t others_latency(const CwFirstSoundProblem *p, const CwFirstSounds *sounds, size_t clock,
                             size_t output, double *latency)
{
  size_t ways = p->outputs * p->seats, others = 0;
  double *off = cw_alloc_real(ways), *count = cw_alloc_real(ways);

  for (size_t i = 0; i < p->takes; i++) {
    const CwHeardTake *t = &p->take[i];
    size_t way = way_of(p, t);
    if (t->clock != clock || t->output == output || isnan(tape(p, way)) || !is_firm(sounds, i) ||
        edge_sigma(p, t) >= OWN_SHARP_SECONDS)
      continue;
    off[way] += edge_time(p, sounds, i) - tape(p, way);
    count[way]++;
  }
  for (size_t way = 0; way < ways; way++)
    if (count[way] > 0)
      off[others++] = off[way] / count[way];
  *latency = cw_median(off, others);
  cw_free(off);
  cw_free(count);
  return others;
}

/* Distance by sound alone of an output at a seat. */
static CwHeardDistance judge_distance(const CwFirstSoundProblem *p, const CwFirstSounds *sounds, size_t way)
{
  CwHeardDistance d = {NAN, NAN, false};
  double sum = 0, variance = 0, others_least = INFINITY, n = 0, latency, sigma;

  for (size_t i = 0; i < p->takes; i++) {
    const CwHeardTake *t = &p->take[i];
    size_t others;
    if (way_of(p, t) != way || !is_firm(sounds, i))
      continue;
    others = others_latency(p, sounds, t->clock, t->output, &latency);
    if (others < LEAST_OTHERS)
      continue;
    sum += edge_time(p, sounds, i) - latency;
    variance += pow(edge_sigma(p, t), 2);
    others_least = fmin(others_least, (double)others);
    n++;
  }
  if (n == 0)
    return d;
  double one = pow(TAPE_OWN_SECONDS, 2) + pow(PLACES_SECONDS, 2) / n;
  sigma = sqrt(variance / n + one + one / others_least);
  d.heard_m = sum / n * p->speed_m_per_s;
  d.heard_doubt_m = OF_95 * sigma * p->speed_m_per_s;
  d.contradicts = fabs(sum / n - tape(p, way)) > CONTRADICTION * sigma; /* not where there is no tape */
  return d;
}

CwFirstSounds *cw_first_sounds_find(const CwFirstSoundProblem *p)
{
  CwFirstSounds *sounds = cw_alloc_bytes(sizeof *sounds);
  Model m = solve(p);

  sounds->take = cw_alloc_bytes((p->takes + 1) * sizeof *sounds->take);
  sounds->distance = cw_alloc_bytes((p->outputs * p->seats + 1) * sizeof *sounds->distance);
  for (size_t i = 0; i < p->takes; i++) {
    const CwHeardTake *t = &p->take[i];
    sounds->take[i] = settle(&m, t);
  }
  for (size_t way = 0; way < p->outputs * p->seats; way++)
    sounds->distance[way] = judge_distance(p, sounds, way);
  for (size_t i = 0; i < p->takes; i++) /* a tape that is known to be wrong supports nothing */
    if (sounds->distance[way_of(p, &p->take[i])].contradicts && sounds->take[i].by == CW_ARRIVAL_BY_BOTH)
      sounds->take[i].by = CW_ARRIVAL_BY_SOUND;
  sounds->latency_seconds = m.latency;
  cw_free(m.way);
  cw_free(m.way_known);
  return sounds;
}

void cw_first_sounds_free(CwFirstSounds *sounds)
{
  if (!sounds)
    return;
  cw_free(sounds->take);
  cw_free(sounds->latency_seconds);
  cw_free(sounds->distance);
  cw_free(sounds);
}
