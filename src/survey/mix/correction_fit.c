/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/mix/correction_fit.h"
#include "signal/least_squares.h"
#include <math.h>
#include <string.h>

#define ROUNDS 40
#define LEAST_GAIN 1e-4   /* relative fall of the cost below which a fit is done */
#define WORTH_PART 0.985  /* of the cost: a section that leaves more is not worth it */
#define BOOST_WEIGHT 0.02 /* a decibel of boost, against one of deviation at one point */
#define NEAR_MOST_DB (CW_CORRECT_MOST_BOOST_DB - 0.8)
#define NEAR_MOST_WEIGHT 3.0
#define OUTSIDE_WEIGHT 0.1 /* the same for what sections lift outside the range */
#define MOST_VARS (3 * CW_CORRECT_MOST_SECTIONS)
#define STRIDE_OCTAVES 0.35
#define STRIDE_DB 4.0

double cw_flat_section_db(const CwSection *s, double rate_hz, double hz)
{
  CwCoefficients c;
  return cw_section_design(s, rate_hz, &c)
             ? 20 * log10(cabs(cw_coefficients_response(&c, hz, rate_hz)) + 1e-12)
             : 0;
}

double cw_flat_worst_db(const double *db, size_t first, size_t last, double *level, size_t *where)
{
  double mean = 0, worst = 0;

  for (size_t i = first; i <= last; i++)
    mean += db[i] / (double)(last - first + 1);
  for (size_t i = first; i <= last; i++) {
    double before = db[i > first ? i - 1 : i], after = db[i < last ? i + 1 : i];
    double power = 0.25 * pow(10, before / 10) + 0.5 * pow(10, db[i] / 10) + 0.25 * pow(10, after / 10);
    double off = fabs(10 * log10(power) - mean);
    if (where && off > worst)
      *where = i;
    worst = fmax(worst, off);
  }
  if (level)
    *level = mean;
  return worst;
}

/* A section's decibels at all points and their slopes to log frequency, gain and log Q, as differences. */
static void tabulate(const CwSection *s, double rate_hz, double *db)
{
  CwCoefficients c;

  cw_section_design(s, rate_hz, &c);
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++) {
    CwComplex h = cw_coefficients_response(&c, cw_mix_hz(i), rate_hz);
    db[i] = 10 * log10(creal(h) * creal(h) + cimag(h) * cimag(h) + 1e-24);
  }
}

typedef struct {
  double chain[CW_SURVEY_POINTS], level[4];
  double slope[MOST_VARS][CW_SURVEY_POINTS];
} Work;

static void fill_chain(const CwFlatProblem *p, const CwSection *s, size_t n, Work *w)
{
  double one[CW_SURVEY_POINTS];

  memset(w->chain, 0, sizeof w->chain);
  for (size_t k = 0; k < n; k++) {
    tabulate(&s[k], p->limits->rate_hz, one);
    for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
      w->chain[i] += one[i];
  }
}

static void fill_slopes(const CwFlatProblem *p, const CwSection *s, size_t n, Work *w)
{
  double one[CW_SURVEY_POINTS], two[CW_SURVEY_POINTS];
  const double h = 1e-4;

  for (size_t k = 0; k < n; k++)
    for (int v = 0; v < 3; v++) {
      CwSection low = s[k], high = s[k];
      if (v == 0) {
        low.frequency_hz *= exp(-h);
        high.frequency_hz *= exp(h);
      } else if (v == 1) {
        low.gain_db -= h;
        high.gain_db += h;
      } else {
        low.q *= exp(-h);
        high.q *= exp(h);
      }
      tabulate(&low, p->limits->rate_hz, one);
      tabulate(&high, p->limits->rate_hz, two);
      for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
        w->slope[3 * k + (size_t)v][i] = (two[i] - one[i]) / (2 * h);
    }
}

/* What a point's boost costs: near the most that is allowed, a lot; outside the range, all of it, a little.
 */
static double over_boost(const CwFlatProblem *p, const Work *w, size_t i, double *weight)
{
  bool outside = i < p->first || i > p->last, near = w->chain[i] > NEAR_MOST_DB;
  double own = near ? NEAR_MOST_WEIGHT : outside ? OUTSIDE_WEIGHT : 0;

  if (weight)
    *weight = own;
  return own * fmax(w->chain[i] - (near ? NEAR_MOST_DB : 0), 0);
}

/* The deviation of each curve from its own mean, and the cost: squares of deviation, boost and what is lifted
 * outside. */
static double cost_of(const CwFlatProblem *p, const CwSection *s, size_t n, Work *w)
{
  double cost = 0;

  for (size_t c = 0; c < p->curves; c++) {
    w->level[c] = 0;
    for (size_t i = p->first; i <= p->last; i++)
      w->level[c] += (p->db[c * CW_SURVEY_POINTS + i] + w->chain[i]) / (double)(p->last - p->first + 1);
    for (size_t i = p->first; i <= p->last; i++)
      cost += 0.5 * pow(p->db[c * CW_SURVEY_POINTS + i] + w->chain[i] - w->level[c], 2);
  }
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++) {
    cost += 0.5 * pow(over_boost(p, w, i, NULL), 2);
  }
  for (size_t k = 0; k < n; k++)
    cost += s[k].gain_db > 0 ? 0.5 * BOOST_WEIGHT * s[k].gain_db * s[k].gain_db : 0;
  return cost;
}

static void gather(const CwFlatProblem *p, const CwSection *s, size_t n, const Work *w, CwNormalEquations *e)
{
  double row[MOST_VARS], residual, mean[MOST_VARS];

  cw_normal_equations_clear(e);
  for (size_t v = 0; v < 3 * n; v++) {
    mean[v] = 0;
    for (size_t i = p->first; i <= p->last; i++)
      mean[v] += w->slope[v][i] / (double)(p->last - p->first + 1);
  }
  for (size_t c = 0; c < p->curves; c++)
    for (size_t i = p->first; i <= p->last; i++) {
      residual = p->db[c * CW_SURVEY_POINTS + i] + w->chain[i] - w->level[c];
      for (size_t v = 0; v < 3 * n; v++)
        row[v] = w->slope[v][i] - mean[v];
      cw_normal_equations_add_rows(e, row, &residual, 1);
    }
  for (size_t i = 0; i < CW_SURVEY_POINTS; i++) {
    double weight;
    residual = over_boost(p, w, i, &weight);
    if (residual <= 0)
      continue;
    for (size_t v = 0; v < 3 * n; v++)
      row[v] = weight * w->slope[v][i];
    cw_normal_equations_add_rows(e, row, &residual, 1);
  }
  for (size_t k = 0; k < n; k++) {
    double bend = s[k].gain_db > 0 ? BOOST_WEIGHT : 0;
    cw_normal_equations_add_diagonal(e, 3 * k, 1e-3, 0);
    cw_normal_equations_add_diagonal(e, 3 * k + 1, bend + 1e-6, bend * s[k].gain_db);
    cw_normal_equations_add_diagonal(e, 3 * k + 2, 1e-3, 0);
  }
}

static double clamp(double value, double least, double most)
{
  return fmin(fmax(value, least), most);
}

static double most_gain(const CwFlatProblem *p)
{
  return fmin(p->limits->section_gain_most_db, CW_CORRECT_MOST_BOOST_DB);
}

static CwSection moved(const CwFlatProblem *p, const CwSection *s, const double *step)
{
  CwSection to = *s;
  bool shelf = s->kind != CW_SECTION_PEAKING;

  to.frequency_hz =
      clamp(s->frequency_hz * exp(clamp(step[0], -STRIDE_OCTAVES, STRIDE_OCTAVES)), p->low_hz, p->high_hz);
  to.gain_db = clamp(s->gain_db + clamp(step[1], -STRIDE_DB, STRIDE_DB), p->limits->section_gain_least_db,
                     most_gain(p));
  to.q = clamp(s->q * exp(clamp(step[2], -STRIDE_OCTAVES, STRIDE_OCTAVES)), p->limits->q_least,
               shelf ? fmin(1, p->limits->q_most) : p->limits->q_most);
  return to;
}

typedef struct {
  const CwFlatProblem *problem;
  CwSection *section;
  CwSection tried[CW_CORRECT_MOST_SECTIONS];
  size_t sections;
  const bool *held;
  Work *work;
} FlatSearch;

static double value_of(const CwSection *s, size_t variable)
{
  return variable == 0 ? s->frequency_hz : variable == 1 ? s->gain_db : s->q;
}

static double linearise(void *data, CwNormalEquations *e)
{
  FlatSearch *search = data;
  const CwFlatProblem *p = search->problem;
  double cost;

  fill_chain(p, search->section, search->sections, search->work);
  cost = cost_of(p, search->section, search->sections, search->work);
  fill_slopes(p, search->section, search->sections, search->work);
  gather(p, search->section, search->sections, search->work, e);
  for (size_t v = 0; v < 3 * search->sections; v++) {
    double nudge[3] = {0};
    const CwSection *s = &search->section[v / 3];
    nudge[v % 3] = e->gradient[v] > 0 ? -1e-3 : 1e-3;
    CwSection to = moved(p, s, nudge);
    e->held[v] = (search->held && search->held[v]) || value_of(s, v % 3) == value_of(&to, v % 3);
  }
  return cost;
}

static double propose_step(void *data, const double *step)
{
  FlatSearch *search = data;

  for (size_t k = 0; k < search->sections; k++)
    search->tried[k] = moved(search->problem, &search->section[k], step + 3 * k);
  fill_chain(search->problem, search->tried, search->sections, search->work);
  return cost_of(search->problem, search->tried, search->sections, search->work);
}

static void accept_step(void *data)
{
  FlatSearch *search = data;
  memcpy(search->section, search->tried, search->sections * sizeof *search->section);
}

/* Fits what is not held; held[v] of three variables a section. Returns the cost. */
static double fit(const CwFlatProblem *p, CwSection *s, size_t n, const bool *held, Work *w)
{
  FlatSearch search = {.problem = p, .section = s, .sections = n, .held = held, .work = w};

  cw_least_squares_run(&(CwLeastSquares){.variables = 3 * n,
                                         .rounds = ROUNDS,
                                         .attempts = 8,
                                         .damping = 1e-2,
                                         .damping_least = 1e-8,
                                         .ease = 5,
                                         .raise = 5,
                                         .least_gain = LEAST_GAIN,
                                         .data = &search,
                                         .linearise = linearise,
                                         .propose = propose_step,
                                         .accept = accept_step});
  fill_chain(p, s, n, w);
  return cost_of(p, s, n, w);
}

/* A section where the deviation, over one of several widths, is largest: a peaking one, or a shelf from there
 * to the end. */
static CwSection propose(const CwFlatProblem *p, const Work *w)
{
  static const size_t reach[] = {1, 3, 6, 12, 24};
  static const double q[] = {6, 3, 1.5, 0.8, 0.5};
  CwSection best = {CW_SECTION_PEAKING, 1000, 0, 1};
  double most = 0;

  for (size_t k = 0; k < sizeof reach / sizeof *reach; k++)
    for (size_t i = p->first; i <= p->last; i++) {
      double sum = 0, hz = cw_mix_hz(i), count = 0;
      if (hz < p->low_hz || hz > p->high_hz)
        continue;
      for (size_t j = i > reach[k] + p->first ? i - reach[k] : p->first; j <= i + reach[k] && j <= p->last;
           j++, count++)
        for (size_t c = 0; c < p->curves; c++)
          sum += (p->db[c * CW_SURVEY_POINTS + j] + w->chain[j] - w->level[c]) / (double)p->curves;
      double promise =
          sum * sum / count *
          (sum < 0 ? 0.7 : 1); /* what a fit to the mean would take off the squares; boosts count less */
      if (promise > most) {
        most = promise;
        best = (CwSection){
            CW_SECTION_PEAKING, hz,
            clamp(-sum / count, fmax(p->limits->section_gain_least_db, -6), fmin(most_gain(p), 4)),
            clamp(q[k], p->limits->q_least, p->limits->q_most)};
      }
    }
  return best;
}

static double worst_of(const CwFlatProblem *p, const Work *w)
{
  double worst = 0, db[CW_SURVEY_POINTS];

  for (size_t c = 0; c < p->curves; c++) {
    for (size_t i = 0; i < CW_SURVEY_POINTS; i++)
      db[i] = p->db[c * CW_SURVEY_POINTS + i] + w->chain[i];
    worst = fmax(worst, cw_flat_worst_db(db, p->first, p->last, NULL, NULL));
  }
  return worst;
}

/* Puts one kind of variable on the processor's grid and holds it there while the others settle. */
static void snap(const CwFlatProblem *p, CwSection *s, size_t n, bool *held, Work *w)
{
  const CwLimits *l = p->limits;
  CwLimits within_boost = *l;

  within_boost.section_gain_most_db = most_gain(p);
  for (int v = 0; v < 3; v++) {
    double step = v == 0 ? l->frequency_steps_per_octave : v == 1 ? l->q_step : l->gain_step_db;
    int var = v == 0 ? 0 : v == 1 ? 2 : 1;
    if (!(step > 0))
      continue;
    for (size_t k = 0; k < n; k++) {
      if (v == 0)
        s[k].frequency_hz = cw_limits_frequency_hz(l, s[k].frequency_hz, 0);
      else if (v == 1)
        s[k].q = cw_limits_q(l, s[k].q, 0);
      else
        s[k].gain_db = cw_limits_section_gain_db(&within_boost, s[k].gain_db, 0);
      held[3 * k + (size_t)var] = true;
    }
    fit(p, s, n, held, w);
  }
}

double cw_flat_fit(const CwFlatProblem *p, CwSection *s, size_t *sections)
{
  Work *w = cw_alloc_bytes(sizeof *w);
  bool held[MOST_VARS] = {false};
  size_t n = *sections;
  double worst, cost;

  fill_chain(p, s, n, w);
  cost = cost_of(p, s, n, w);
  worst = worst_of(p, w);
  while (n < p->most && n < CW_CORRECT_MOST_SECTIONS && worst > 0.5 * CW_CORRECT_ENOUGH_DB) {
    CwSection tried[CW_CORRECT_MOST_SECTIONS];
    memcpy(tried, s, n * sizeof *s);
    tried[n] = propose(p, w);
    double now = fit(p, tried, n + 1, NULL, w);
    if (now > WORTH_PART * cost)
      break;
    memcpy(s, tried, (n + 1) * sizeof *s);
    n++;
    cost = now;
    worst = worst_of(p, w);
  }
  if (n > 0)
    snap(p, s, n, held, w);
  fill_chain(p, s, n, w);
  cost_of(p, s, n, w);
  worst = worst_of(p, w);
  *sections = n;
  cw_free(w);
  return worst;
}
