/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "survey/leads/lead_model.h"
#include "signal/least_squares.h"
#include <math.h>
#include <string.h>

#define LEAST_HZ 4.0
#define MOST_PART_OF_RATE 0.492
#define SHAPE_UNIT                                                                                           \
  12.0 /* nepers between zeros and poles that weigh as one unit of error: keeps idle parts idle */
#define HELD_UNIT 1e-3  /* by which a part held to others may be off, at the weight of one unit of error */
#define LEAST_GAIN 1e-4 /* relative fall of the cost in a round below which the fit is done */

static const size_t part_vars[] = {1, 1, 2, 2, 4, 2};
static const double least_q[] = {0, 0, 0.4, 0.4, 0.2, 0.2}, most_q[] = {0, 0, 4, 4, 12, 12};

static double warped(double hz, double rate_hz)
{
  return tan(M_PI * hz / rate_hz);
}

CwLeadModel cw_lead_model_new(double rate_hz, double gain)
{
  CwLeadModel model = {.rate_hz = rate_hz, .shape_most_hz = INFINITY, .polarity = 1, .vars = 2};

  model.var[0] = log(gain);
  model.least[0] = model.var[0] - 10;
  model.most[0] = model.var[0] + 10;
  model.least[1] = -1e5;
  model.most[1] = 1e5;
  return model;
}

static void add_var(CwLeadModel *m, double value, double least, double most)
{
  m->least[m->vars] = least;
  m->most[m->vars] = most;
  m->var[m->vars++] = fmin(fmax(value, least), most);
}

static void add_pair(CwLeadModel *m, CwPartKind kind, double hz, double q)
{
  double rate = m->rate_hz,
         most = fmin(MOST_PART_OF_RATE * rate, kind == CW_PART_SHAPE ? m->shape_most_hz : INFINITY);

  add_var(m, log(warped(fmin(hz, most), rate)), log(warped(LEAST_HZ, rate)), log(warped(most, rate)));
  add_var(m, log(q), log(least_q[kind]), log(most_q[kind]));
}

void cw_lead_model_add(CwLeadModel *m, CwPartKind kind, double hz, double q)
{
  if (m->parts >= CW_MODEL_MOST_PARTS)
    return;
  m->part[m->parts] = kind;
  m->leader[m->parts] = m->parts;
  m->ratio[m->parts] = 1;
  m->held_q[m->parts] = NAN;
  m->first[m->parts++] = m->vars;
  if (part_vars[kind] == 1)
    add_var(m, log(warped(hz, m->rate_hz)), log(warped(0.05, m->rate_hz)),
            log(warped(MOST_PART_OF_RATE * m->rate_hz, m->rate_hz)));
  else
    add_pair(m, kind, hz, q);
  if (part_vars[kind] == 4)
    add_pair(m, kind, hz, q);
}

bool cw_lead_model_add_filter(CwLeadModel *m, CwFilterFamily family, CwPass pass, int order, double hz)
{
  CwCoefficients coefficients[CW_CROSSOVER_MOST_SECTIONS];
  CwSection section[CW_CROSSOVER_MOST_SECTIONS];
  double at = fmin(fmax(hz, LEAST_HZ), 0.45 * m->rate_hz);
  size_t count = cw_crossover_design(family, pass, order, at, m->rate_hz, coefficients, section),
         leader = m->parts;

  if (count == 0 || m->parts + count > CW_MODEL_MOST_PARTS)
    return false;
  for (size_t s = 0; s < count; s++) {
    bool first =
        section[s].kind == CW_SECTION_LOW_PASS_FIRST || section[s].kind == CW_SECTION_HIGH_PASS_FIRST;
    cw_lead_model_add(m,
                      pass == CW_HIGH_PASS ? (first ? CW_PART_HIGH_PASS_FIRST : CW_PART_HIGH_PASS)
                                           : (first ? CW_PART_LOW_PASS_FIRST : CW_PART_LOW_PASS),
                      section[s].frequency_hz, section[s].q);
    m->leader[leader + s] = leader;
    m->ratio[leader + s] =
        warped(section[s].frequency_hz, m->rate_hz) / warped(section[0].frequency_hz, m->rate_hz);
    m->held_q[leader + s] = first ? NAN : section[s].q;
  }
  return true;
}

void cw_lead_model_add_shape(CwLeadModel *m, double hz, double gain_db, double q)
{
  size_t at = m->vars;

  cw_lead_model_add(m, CW_PART_SHAPE, hz, q);
  if (m->vars == at)
    return;
  m->var[at + 1] -= gain_db * M_LN10 / 40;
  m->var[at + 3] += gain_db * M_LN10 / 40;
}

double cw_lead_model_part_hz(const CwLeadModel *m, size_t part)
{
  return atan(exp(m->var[m->first[part]])) * m->rate_hz / M_PI;
}

double cw_lead_model_part_q(const CwLeadModel *m, size_t part)
{
  return exp(m->var[m->first[part] + 1]);
}

double cw_lead_model_delay_seconds(const CwLeadModel *m)
{
  return m->var[1] * CW_MODEL_DELAY_SECONDS;
}

/* 1 - u^2 + j u / Q for u = W / W0, and its logarithm's slopes to log W0 and log Q. */
typedef struct {
  CwComplex value, to_frequency, to_q;
} Quadratic;

static inline Quadratic quadratic(double w, const double *var, bool slopes)
{
  double u = w * exp(-var[0]), y = u * exp(-var[1]), x = 1 - u * u;
  Quadratic q = {.value = x + I * y};

  if (slopes) {
    double over = 1 / (x * x + y * y);
    CwComplex reciprocal = over * (x - I * y);
    q.to_frequency = (2 * u * u - I * y) * reciprocal;
    q.to_q = -I * y * reciprocal;
  }
  return q;
}

/* Multiplies one part's response at a warped frequency into over / under, and gives its log slopes. */
static void run_part(CwPartKind kind, double w, const double *var, CwComplex *over, CwComplex *under,
                     CwComplex *slope)
{
  Quadratic q, p;

  switch (kind) {
  case CW_PART_HIGH_PASS_FIRST:
  case CW_PART_LOW_PASS_FIRST: {
    double u = w * exp(-var[0]);
    *over *= kind == CW_PART_HIGH_PASS_FIRST ? I * u : 1;
    *under *= 1 + I * u;
    if (slope)
      slope[0] = (kind == CW_PART_HIGH_PASS_FIRST ? -1 : 0) + I * u / (1 + I * u);
    break;
  }
  case CW_PART_HIGH_PASS:
  case CW_PART_LOW_PASS:
    q = quadratic(w, var, slope != NULL);
    *over *= kind == CW_PART_HIGH_PASS ? -(w * w * exp(-2 * var[0])) : 1;
    *under *= q.value;
    if (slope) {
      slope[0] = (kind == CW_PART_HIGH_PASS ? -2 : 0) - q.to_frequency;
      slope[1] = -q.to_q;
    }
    break;
  case CW_PART_SHAPE:
    q = quadratic(w, var, slope != NULL);
    p = quadratic(w, var + 2, slope != NULL);
    *over *= q.value;
    *under *= p.value;
    if (slope) {
      slope[0] = q.to_frequency;
      slope[1] = q.to_q;
      slope[2] = -p.to_frequency;
      slope[3] = -p.to_q;
    }
    break;
  case CW_PART_ALL_PASS:
  default:
    q = quadratic(w, var, slope != NULL);
    *over *= conj(q.value);
    *under *= q.value;
    if (slope) {
      slope[0] = conj(q.to_frequency) - q.to_frequency;
      slope[1] = conj(q.to_q) - q.to_q;
    }
  }
}

static CwComplex model_at(const CwLeadModel *m, double hz, bool without_delay, CwComplex *slope)
{
  double w = warped(hz, m->rate_hz), turn = 2 * M_PI * hz * m->var[1] * CW_MODEL_DELAY_SECONDS;
  CwComplex over = exp(m->var[0]), under = 1;

  for (size_t p = 0; p < m->parts; p++)
    run_part(m->part[p], w, m->var + m->first[p], &over, &under, slope ? slope + m->first[p] : NULL);
  if (slope) {
    slope[0] = 1;
    slope[1] = -2 * M_PI * I * hz * CW_MODEL_DELAY_SECONDS;
  }
  return without_delay ? over / under : m->polarity * over / under * (cos(turn) - I * sin(turn));
}

void cw_lead_model_response(const CwLeadModel *model, const double *hz, size_t count, bool without_delay,
                            CwComplex *response)
{
  for (size_t i = 0; i < count; i++)
    response[i] = model_at(model, hz[i], without_delay, NULL);
}

/* How far a part is from where it is held: the logarithms of its frequency and Q. */
static double off_leader(const CwLeadModel *m, size_t part)
{
  return m->leader[part] == part
             ? 0
             : m->var[m->first[part]] - m->var[m->first[m->leader[part]]] - log(m->ratio[part]);
}

static double off_q(const CwLeadModel *m, size_t part)
{
  return isnan(m->held_q[part]) ? 0 : m->var[m->first[part] + 1] - log(m->held_q[part]);
}

/* Errors model minus target, weighted, and their slopes; one row a point for the magnitude, then one for the
 * phase. */
static size_t build_rows(const CwLeadModel *m, const CwModelTarget *t, bool with_phase, double *residual,
                         double *jacobian, double *cost)
{
  CwComplex slope[CW_MODEL_MOST_VARS];
  size_t row = 0, n = m->vars;

  *cost = 0;
  for (size_t i = 0; i < t->count; i++) {
    if (t->weight[i] <= 0)
      continue;
    CwComplex ratio = model_at(m, t->hz[i], false, jacobian ? slope : NULL) / t->value[i];
    for (int part = 0; part < (with_phase ? 2 : 1); part++, row++) {
      double error =
          part ? carg(ratio) : 0.5 * log(creal(ratio) * creal(ratio) + cimag(ratio) * cimag(ratio));
      residual[row] = t->weight[i] * error;
      *cost += 0.5 * residual[row] * residual[row];
      for (size_t v = 0; jacobian && v < n; v++)
        jacobian[row * n + v] = t->weight[i] * (part ? cimag(slope[v]) : creal(slope[v]));
    }
  }
  for (size_t p = 0; p < m->parts; p++)
    for (size_t v = 0; m->part[p] == CW_PART_SHAPE && v < 2; v++) {
      double apart = (m->var[m->first[p] + v] - m->var[m->first[p] + v + 2]) / SHAPE_UNIT;
      *cost += 0.5 * apart * apart;
    }
  for (size_t p = 0; p < m->parts; p++)
    *cost += 0.5 * (pow(off_leader(m, p) / HELD_UNIT, 2) + pow(off_q(m, p) / HELD_UNIT, 2));
  return row;
}

static void add_preference(const CwLeadModel *m, CwNormalEquations *e)
{
  double unit = 1 / (SHAPE_UNIT * SHAPE_UNIT);

  for (size_t p = 0; p < m->parts; p++)
    for (size_t v = 0; m->part[p] == CW_PART_SHAPE && v < 2; v++) {
      size_t zero = m->first[p] + v, pole = zero + 2;
      double apart = (m->var[zero] - m->var[pole]) * unit;
      cw_normal_equations_add_diagonal(e, zero, unit, apart);
      cw_normal_equations_add_diagonal(e, pole, unit, -apart);
      e->matrix[zero * e->count + pole] -= unit;
    }
  unit = 1 / (HELD_UNIT * HELD_UNIT);
  for (size_t p = 0; p < m->parts; p++) {
    if (m->leader[p] != p) {
      size_t own = m->first[p], other = m->first[m->leader[p]];
      cw_normal_equations_add_diagonal(e, own, unit, off_leader(m, p) * unit);
      cw_normal_equations_add_diagonal(e, other, unit, -off_leader(m, p) * unit);
      e->matrix[other * e->count + own] -= unit; /* a leader comes before those that it leads */
    }
    if (!isnan(m->held_q[p]))
      cw_normal_equations_add_diagonal(e, m->first[p] + 1, unit, off_q(m, p) * unit);
  }
}

static double stride(size_t var)
{
  return var == 0 ? 1 : var == 1 ? 20 : 0.35;
}

static void move(const CwLeadModel *from, const double *step, CwLeadModel *to)
{
  for (size_t v = 0; v < from->vars; v++)
    to->var[v] =
        fmin(fmax(from->var[v] + fmin(fmax(step[v], -stride(v)), stride(v)), from->least[v]), from->most[v]);
}

typedef struct {
  CwLeadModel *model;
  CwLeadModel tried;
  const CwModelTarget *target;
  bool with_phase;
  double *residual, *jacobian;
} ModelSearch;

static double linearise(void *data, CwNormalEquations *e)
{
  ModelSearch *search = data;
  const CwLeadModel *m = search->model;
  double cost;
  size_t rows = build_rows(m, search->target, search->with_phase, search->residual, search->jacobian, &cost);

  cw_normal_equations_add_rows(e, search->jacobian, search->residual, rows);
  add_preference(m, e);
  for (size_t v = 0; v < m->vars; v++)
    e->held[v] = (v == 1 && !search->with_phase) || (m->var[v] <= m->least[v] && e->gradient[v] > 0) ||
                 (m->var[v] >= m->most[v] && e->gradient[v] < 0);
  return cost;
}

static double propose(void *data, const double *step)
{
  ModelSearch *search = data;
  double cost;

  move(search->model, step, &search->tried);
  build_rows(&search->tried, search->target, search->with_phase, search->residual, NULL, &cost);
  return cost;
}

static void accept(void *data)
{
  ModelSearch *search = data;
  *search->model = search->tried;
}

double cw_lead_model_fit(CwLeadModel *m, const CwModelTarget *t, bool with_phase, int rounds)
{
  ModelSearch search = {.model = m,
                        .tried = *m,
                        .target = t,
                        .with_phase = with_phase,
                        .residual = cw_alloc_real(2 * t->count),
                        .jacobian = cw_alloc_real(2 * t->count * m->vars)};
  double cost = cw_least_squares_run(&(CwLeastSquares){.variables = m->vars,
                                                       .rounds = rounds,
                                                       .attempts = 8,
                                                       .damping = 1e-3,
                                                       .damping_least = 1e-9,
                                                       .ease = 5,
                                                       .raise = 5,
                                                       .least_gain = LEAST_GAIN,
                                                       .data = &search,
                                                       .linearise = linearise,
                                                       .propose = propose,
                                                       .accept = accept});

  cw_free(search.residual);
  cw_free(search.jacobian);
  return cost;
}

double cw_lead_model_delay_deviation(const CwLeadModel *m, const CwModelTarget *t)
{
  double *residual = cw_alloc_real(2 * t->count), *jacobian = cw_alloc_real(2 * t->count * m->vars), cost,
         variance[CW_MODEL_MOST_VARS];
  CwNormalEquations *e = cw_normal_equations_new(m->vars);

  cw_normal_equations_add_rows(e, jacobian, residual, build_rows(m, t, true, residual, jacobian, &cost));
  add_preference(m, e);
  for (size_t v = 0; v < m->vars; v++)
    e->held[v] = v != 1 && (m->var[v] <= m->least[v] || m->var[v] >= m->most[v]);
  bool known = e->matrix[e->count + 1] > 0 && cw_normal_equations_inverse_diagonal(e, 1e-9, variance);
  cw_normal_equations_free(e);
  cw_free(residual);
  cw_free(jacobian);
  return known ? CW_MODEL_DELAY_SECONDS * sqrt(variance[1]) : INFINITY;
}

void cw_lead_model_errors(const CwLeadModel *model, const CwModelTarget *target, double *magnitude,
                          double *phase)
{
  for (size_t i = 0; i < target->count; i++) {
    CwComplex ratio = target->value[i] / model_at(model, target->hz[i], false, NULL);
    if (magnitude)
      magnitude[i] = log(cabs(ratio));
    if (phase)
      phase[i] = carg(ratio);
  }
}
