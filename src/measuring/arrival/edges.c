/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "measuring/arrival/edges.h"
#include "signal/normal_equations.h"
#include <math.h>
#include <string.h>

#define TAPS 40
#define TAPS_PER_PERIOD 16.0 /* of the band's lower end */
#define AHEAD 0.7            /* of the shortest period: how far the swing is foretold */
#define SWING_FROM 0.25      /* of the lower end's frequency: the frequencies that swing */
#define SWING_TO 1.74        /* where the band has risen nearly all the way */
#define SWING_STEPS 200
#define ANYTHING_ELSE 1e-2 /* power of all that does not swing, against the swing's */
#define LEAST_HEIGHT 0.04
#define REST 0.03         /* what a response at rest may show: what the model leaves */
#define USUAL_HEIGHT 0.12 /* half of the edges that are as low as this are nothing */
#define HEIGHT_SLOPE 3.5
#define USUAL_STEP 1.8 /* over what precedes */
#define STEP_SLOPE 4.0
#define AFTER_SECONDS 10e-3 /* how much later than the largest sample the whitened top may be */
#define QUIET_SECONDS 3e-3
#define REST_SECONDS 1.5e-3
#define LONG_WAVES_HZ 2000.0
#define LEAST_APART_SECONDS 2e-6

typedef struct {
  const CwWhitened *whitened;
  size_t ahead, step; /* samples */
  double tap[TAPS];
} Predictor;

/* Correlation of the swing at a distance, 1 at 0. */
static double swing_correlation(double low_hz, double seconds)
{
  double sum = 0;

  for (size_t i = 0; i < SWING_STEPS; i++) {
    double hz = low_hz * (SWING_FROM + (SWING_TO - SWING_FROM) * ((double)i + 0.5) / SWING_STEPS);
    sum += cos(2 * M_PI * hz * seconds);
  }
  return sum / SWING_STEPS;
}

static Predictor make_predictor(const CwWhitened *w)
{
  Predictor p = {.whitened = w,
                 .ahead = (size_t)fmax(1, lrint(AHEAD / w->high_hz * w->rate_hz)),
                 .step = (size_t)fmax(1, lrint(w->rate_hz / (TAPS_PER_PERIOD * w->low_hz)))};
  CwNormalEquations *equations = cw_normal_equations_new(TAPS);
  double near[TAPS];

  for (size_t i = 0; i < TAPS; i++)
    near[i] = swing_correlation(w->low_hz, (double)(i * p.step) / w->rate_hz);
  for (size_t i = 0; i < TAPS; i++) {
    equations->gradient[i] = -swing_correlation(w->low_hz, (double)(p.ahead + i * p.step) / w->rate_hz);
    for (size_t k = i; k < TAPS; k++)
      equations->matrix[i * TAPS + k] = near[k - i] + (i == k ? ANYTHING_ELSE : 0);
  }
  if (!cw_normal_equations_solve(equations, 0, p.tap))
    memset(p.tap, 0, sizeof p.tap);
  cw_normal_equations_free(equations);
  return p;
}

/* What a ring of values has at an index that its past did not foretell. */
static double surprise(const Predictor *p, const double *ring, size_t at)
{
  size_t count = p->whitened->count;
  double value = ring[at % count];

  for (size_t i = 0; i < TAPS; i++)
    value -= p->tap[i] * ring[(at + 2 * count - p->ahead - i * p->step) % count];
  return value;
}

static double logistic(double x)
{
  return 1 / (1 + exp(-x));
}

/* The stretch of the response that is searched, after the predictor. */
typedef struct {
  size_t from, count, top;
  double *value;
  double own; /* where the half wave of a single sound would be, of one at 0 */
} Stretch;

static Stretch stretch_of(const CwEdgeSource *source, double lead_seconds, const Predictor *p)
{
  const CwWhitened *w = p->whitened;
  Stretch s = {.from = (size_t)(0.5 * lead_seconds * w->rate_hz)};
  size_t end = (size_t)((lead_seconds + AFTER_SECONDS) * w->rate_hz);

  if (end > (size_t)((double)source->frames / source->rate_hz * w->rate_hz))
    end = (size_t)((double)source->frames / source->rate_hz * w->rate_hz);
  s.count = end > s.from ? end - s.from : 0;
  s.value = cw_alloc_real(s.count + 1);
  for (size_t i = 0; i < s.count; i++) {
    s.value[i] = surprise(p, w->response, s.from + i);
    if (fabs(s.value[i]) > fabs(s.value[s.top]))
      s.top = i;
  }
  return s;
}

static bool is_peak(const double *value, size_t i)
{
  return fabs(value[i]) >= fabs(value[i - 1]) && fabs(value[i]) > fabs(value[i + 1]);
}

/* The middle of a lobe of values that go round in a ring of count: half-way up on both sides of index best.
 */
static double middle_of_lobe(const double *ring, size_t count, size_t best, double sign, size_t reach)
{
  double half = 0.5 * sign * ring[best % count];
  size_t left = best + count, right = best + count;

  while (left > best + count - reach && sign * ring[left % count] > half)
    left--;
  while (right < best + count + reach && sign * ring[right % count] > half)
    right++;
  double l0 = sign * ring[left % count], l1 = sign * ring[(left + 1) % count],
         r0 = sign * ring[right % count], r1 = sign * ring[(right - 1) % count];
  double from = (double)left + (l1 > l0 ? (half - l0) / (l1 - l0) : 0),
         to = (double)right - (r1 > r0 ? (half - r0) / (r1 - r0) : 0);
  return 0.5 * (from + to) - (double)count;
}

/* Where the whitened response's own pulse near a half wave has its middle: a speaker that is wide against the
 * wavelength sends its first sound before its middle does, and the two sides of the pulse hold both. Where
 * waves are long, what follows lies on the pulse's far side, and the half wave alone tells, against that of a
 * single sound. */
static double middle_of_pulse(const CwWhitened *w, const Stretch *s, size_t at)
{
  size_t reach = (size_t)(0.35 / w->high_hz * w->rate_hz) + 2, best = s->from + at;
  double sign = s->value[at] < 0 ? -1 : 1;

  if (w->high_hz < LONG_WAVES_HZ)
    return (double)s->from +
           middle_of_lobe(s->value, s->count, at, sign, at < s->count - at ? at : s->count - at) - s->own;
  for (size_t i = s->from + at - reach; i < s->from + at + 2 * reach; i++)
    if (sign * w->response[i % w->count] > sign * w->response[best % w->count])
      best = i;
  if (sign * w->response[best % w->count] <= 0)
    return (double)(s->from + at);
  return middle_of_lobe(w->response, w->count, best, sign, 8 * reach);
}

/* Where the half wave of a single sound at time 0 has its middle. */
static double own_half_wave(const Predictor *p)
{
  const CwWhitened *w = p->whitened;
  size_t reach = (size_t)(2 / w->high_hz * w->rate_hz) + 2, count = 2 * reach + 1, best = 0;
  double *value = cw_alloc_real(count), middle;

  for (size_t i = 0; i < count; i++) {
    value[i] = surprise(p, w->pulse, w->count + i - reach);
    if (fabs(value[i]) > fabs(value[best]))
      best = i;
  }
  middle =
      middle_of_lobe(value, count, best, value[best] < 0 ? -1 : 1, best < count - best ? best : count - best);
  cw_free(value);
  return middle - (double)reach;
}

/* Keeps the likeliest, by time. */
static void keep(CwEdges *edges, CwEdge edge)
{
  if (edges->count == CW_EDGES_MOST) {
    size_t least = 0;
    for (size_t i = 1; i < edges->count; i++)
      if (edges->edge[i].likelihood < edges->edge[least].likelihood)
        least = i;
    if (edges->edge[least].likelihood >= edge.likelihood)
      return;
    memmove(&edges->edge[least], &edges->edge[least + 1], (edges->count - least - 1) * sizeof edge);
    edges->count--;
  }
  edges->edge[edges->count++] = edge;
}

/* By time, and each later than the one before: two half waves of one pulse are one edge. */
static void order(CwEdges *edges)
{
  size_t kept = 0;

  for (size_t i = 1; i < edges->count; i++)
    for (size_t k = i; k > 0 && edges->edge[k].seconds < edges->edge[k - 1].seconds; k--) {
      CwEdge swap = edges->edge[k];
      edges->edge[k] = edges->edge[k - 1];
      edges->edge[k - 1] = swap;
    }
  for (size_t i = 0; i < edges->count; i++) {
    CwEdge *edge = &edges->edge[i], *last = kept ? &edges->edge[kept - 1] : NULL;
    if (last && edge->seconds - last->seconds < LEAST_APART_SECONDS) {
      edge->likelihood += last->likelihood;
      if (last->likelihood > edge->likelihood - last->likelihood)
        edge->height = last->height;
      kept--;
    }
    edges->edge[kept++] = *edge;
  }
  edges->count = kept;
}

static void list_edges(const CwWhitened *w, const Stretch *s, CwEdges *edges)
{
  double top = fabs(s->value[s->top]), before = REST, none_yet = 1;
  size_t reach = (size_t)(CW_EDGE_REACH_SECONDS * w->rate_hz), rest = (size_t)(REST_SECONDS * w->rate_hz),
         first = s->top > reach + rest ? s->top - reach - rest : 0;

  for (size_t i = first; i < first + rest && i < s->top;
       i++) /* only what follows some rest can be a first sound */
    before = fmax(before, fabs(s->value[i]) / top);
  for (size_t i = first + rest; i <= s->top && i + 1 < s->count; i++) {
    double height, likelihood;
    if (!is_peak(s->value, i))
      continue;
    height = fabs(s->value[i]) / top;
    if (height >= LEAST_HEIGHT) {
      likelihood = logistic(HEIGHT_SLOPE * log(height / USUAL_HEIGHT)) *
                   logistic(STEP_SLOPE * log(height / before / USUAL_STEP));
      keep(edges, (CwEdge){middle_of_pulse(w, s, i) / w->rate_hz, s->value[i] / top, none_yet * likelihood});
      none_yet *= 1 - likelihood;
    }
    before = fmax(before, height);
  }
  order(edges);
}

static size_t likeliest(const CwEdges *edges)
{
  size_t best = 0;

  for (size_t i = 1; i < edges->count; i++)
    if (edges->edge[i].likelihood > edges->edge[best].likelihood)
      best = i;
  return best;
}

/* What is before the likeliest edge, and its shape. */
static void describe(const CwWhitened *w, const Stretch *s, CwEdges *edges)
{
  const CwEdge *edge = &edges->edge[likeliest(edges)];
  double top = fabs(s->value[s->top]), at = edge->seconds * w->rate_hz - (double)s->from, sum = 0;
  long end = lrint(at - w->rate_hz / w->high_hz), begin = lrint((double)end - QUIET_SECONDS * w->rate_hz);
  size_t count = 0;

  for (long i = begin < 0 ? 0 : begin; i < end && i < (long)s->count; i++, count++)
    sum += s->value[i] * s->value[i];
  edges->noise = count ? sqrt(sum / (double)count) / (fabs(edge->height) * top) : REST;
  for (size_t i = 0; i < CW_ONSET_POINTS; i++) {
    double place = at + ((double)i / CW_ONSET_RATE_HZ - CW_ONSET_BEFORE_SECONDS) * w->rate_hz;
    long below = (long)floor(place);
    double part = place - (double)below;
    if (below >= 0 && below + 1 < (long)s->count)
      edges->onset[i] = ((1 - part) * s->value[below] + part * s->value[below + 1]) / top;
  }
}

void cw_edges_find(const CwEdgeSource *source, double lead_seconds, CwEdges *edges)
{
  CwWhitened whitened;
  Predictor predictor;
  Stretch stretch;

  memset(edges, 0, sizeof *edges);
  if (!cw_whiten(source, &whitened))
    return;
  predictor = make_predictor(&whitened);
  stretch = stretch_of(source, lead_seconds, &predictor);
  stretch.own = own_half_wave(&predictor);
  edges->low_hz = whitened.low_hz;
  edges->high_hz = whitened.high_hz;
  if (stretch.count > 2)
    list_edges(&whitened, &stretch, edges);
  if (edges->count)
    describe(&whitened, &stretch, edges);
  cw_free(stretch.value);
  cw_whitened_clear(&whitened);
}
