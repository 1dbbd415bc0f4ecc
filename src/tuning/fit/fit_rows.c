/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tuning/fit/fit_rows.h"
#include "tuning/fit/fit_bounds.h"
#include "tuning/fit/fit_roles.h"
#include "tuning/fit/fit_slopes.h"
#include "tuning/fit/fit_sums.h"
#include <math.h>
#include <string.h>

#define MATCH_LOW_HZ 110.0
#define MATCH_HIGH_HZ 14000.0
#define LOSS_HIGH_HZ 7000.0
#define LEVEL_LOW_HZ 200.0
#define LEVEL_HIGH_HZ 5000.0

static size_t fills(const CwCar *car)
{
  size_t count = 0;
  for (size_t o = 0; o < car->outputs; o++)
    count += car->output[o].beside;
  return count;
}

static size_t refusals(const CwFitProblem *problem)
{
  size_t count = 0;
  for (size_t o = 0; o < problem->car->outputs; o++)
    count += cw_fit_has_refusal(problem, o);
  return count;
}

static size_t most_rows(const CwFitProblem *problem)
{
  size_t bands = problem->bands->bands;
  return problem->bands->outputs * (2 + cw_fit_points(bands, CW_FIT_MATCH_STEP)) +
         refusals(problem) * cw_fit_points(bands, CW_FIT_SIDE_STEP) +
         problem->bands->seats * ((5 + 2 * fills(problem->car)) * cw_fit_points(bands, CW_FIT_SIDE_STEP) +
                                  cw_fit_points(bands, CW_FIT_MATCH_STEP));
}

CwFitRows *cw_fit_rows_new(const CwFitProblem *problem, const CwFitState *state, size_t vars)
{
  CwFitRows *rows = cw_alloc_bytes(sizeof *rows);
  size_t bands = problem->bands->bands, most = most_rows(problem);

  rows->vars = vars;
  rows->outputs = state->outputs;
  rows->residual = cw_alloc_real(most);
  rows->jacobian = vars ? cw_alloc_real(most * vars) : NULL;
  rows->drive = cw_alloc_complex(state->outputs * bands);
  rows->slope = vars ? cw_alloc_complex(vars * bands) : NULL;
  rows->force = cw_alloc_complex((CW_SUMS + 3) * state->outputs * bands);
  rows->power = cw_alloc_real((CW_SUMS + 4) * bands);
  rows->line = cw_alloc_real(bands);
  return rows;
}

void cw_fit_rows_free(CwFitRows *rows)
{
  if (!rows)
    return;
  cw_free(rows->residual);
  cw_free(rows->jacobian);
  cw_free(rows->drive);
  cw_free(rows->slope);
  cw_free(rows->force);
  cw_free(rows->power);
  cw_free(rows->line);
  cw_free(rows);
}

/* A level that is the weighted mean of the deviations is taken out of the slopes as well. */
static void remove_mean_slope(CwFitRows *rows, size_t const *first_row, size_t groups, size_t count,
                              size_t step, const double *weight, const double *share)
{
  double *mean = cw_alloc_real(rows->vars), total = 0;

  for (size_t g = 0; g < groups; g++)
    for (size_t k = 0; k < count; k++) {
      const double *row = rows->jacobian + (first_row[g] + k) * rows->vars;
      if (share[k * step] == 0 || weight[k * step] == 0)
        continue;
      total += share[k * step];
      for (size_t v = 0; v < rows->vars; v++)
        mean[v] += share[k * step] * row[v] / weight[k * step];
    }
  for (size_t v = 0; v < rows->vars && total > 0; v++)
    mean[v] /= total;
  for (size_t g = 0; g < groups; g++)
    for (size_t k = 0; k < count; k++)
      for (size_t v = 0; v < rows->vars; v++)
        rows->jacobian[(first_row[g] + k) * rows->vars + v] -= weight[k * step] * mean[v];
  cw_free(mean);
}

static bool is_left_out(const CwFitProblem *problem, CwSum sum, size_t band)
{
  return problem->left_out && problem->left_out[sum * problem->bands->bands + band];
}

bool cw_fit_leaves_out(const CwFitProblem *problem, CwSum sum)
{
  for (size_t b = 0; b < problem->bands->bands; b++)
    if (!is_left_out(problem, sum, b))
      return false;
  return true;
}

static void clear_left_out(CwFitRows *rows, const CwFitProblem *problem, CwSum sum, size_t first_row,
                           size_t count)
{
  for (size_t k = 0; k < count; k++)
    if (is_left_out(problem, sum, k * CW_FIT_SIDE_STEP))
      memset(rows->jacobian + (first_row + k) * rows->vars, 0, rows->vars * sizeof *rows->jacobian);
}

/* Root mean square in dB of what deviates from the target, about the mean level. */
static double deviation_rows(CwFitRows *rows, const CwFitProblem *problem, const CwSum *sums, size_t groups,
                             const double *weight, const double *share, const CwFitVars *vars)
{
  size_t bands = problem->bands->bands, n = problem->bands->outputs,
         count = cw_fit_points(bands, CW_FIT_SIDE_STEP), first_row[2];
  double level = 0, total = 0, squares = 0, weights = 0;

  for (size_t g = 0; g < groups; g++) {
    const double *power = rows->power + sums[g] * bands;
    first_row[g] = rows->count + g * count;
    for (size_t k = 0; k < count; k++) {
      double mean = cw_fit_smoothed(power, bands, k * CW_FIT_SIDE_STEP, CW_FIT_SIDE_REACH),
             db = mean > 0 ? 10 * log10(mean) : NAN;
      rows->residual[first_row[g] + k] = db;
      if (isnan(db)) /* nothing plays there */
        continue;
      level += share[k * CW_FIT_SIDE_STEP] * db;
      total += share[k * CW_FIT_SIDE_STEP];
    }
  }
  level = total > 0 ? level / total : 0;
  for (size_t g = 0; g < groups; g++)
    for (size_t k = 0; k < count; k++) {
      double *r = &rows->residual[first_row[g] + k], w = isnan(*r) ? 0 : weight[k * CW_FIT_SIDE_STEP];
      if (is_left_out(problem, sums[g], k * CW_FIT_SIDE_STEP))
        w = 0;
      if (w == 0)
        *r = level;
      squares += (*r - level) * (*r - level) * (w > 0);
      weights += w > 0;
      *r = w * (*r - level);
    }
  if (vars) {
    for (size_t g = 0; g < groups; g++)
      cw_fit_add_slopes(rows, vars, rows->force + sums[g] * n * bands, rows->power + sums[g] * bands, bands,
                        first_row[g], CW_FIT_SIDE_REACH, CW_FIT_SIDE_STEP, weight, 1);
    remove_mean_slope(rows, first_row, groups, count, CW_FIT_SIDE_STEP, weight, share);
    for (size_t g = 0; g < groups; g++)
      clear_left_out(rows, problem, sums[g], first_row[g], count);
  }
  rows->count += groups * count;
  return sqrt(squares / fmax(weights, 1));
}

/* Mean size in dB. */
static double match_rows(CwFitRows *rows, const CwFitProblem *problem, const double *weight,
                         const CwFitVars *vars)
{
  size_t bands = problem->bands->bands, n = problem->bands->outputs,
         count = cw_fit_points(bands, CW_FIT_MATCH_STEP), used = 0;
  const double *left = rows->power + CW_SUM_LEFT * bands, *right = rows->power + CW_SUM_RIGHT * bands;
  double sum = 0;

  for (size_t k = 0; k < count; k++) {
    bool left_out = is_left_out(problem, CW_SUM_LEFT, k * CW_FIT_MATCH_STEP) ||
                    is_left_out(problem, CW_SUM_RIGHT, k * CW_FIT_MATCH_STEP);
    double w = left_out ? 0 : weight[k * CW_FIT_MATCH_STEP],
           one = cw_fit_smoothed(left, bands, k * CW_FIT_MATCH_STEP, CW_FIT_MATCH_REACH),
           other = cw_fit_smoothed(right, bands, k * CW_FIT_MATCH_STEP, CW_FIT_MATCH_REACH);
    double db = one > 0 && other > 0 ? 10 * log10(one / other) : 0;
    rows->residual[rows->count + k] = w * db;
    sum += w > 0 ? fabs(db) : 0;
    used += w > 0;
  }
  if (vars) {
    cw_fit_add_slopes(rows, vars, rows->force + CW_SUM_LEFT * n * bands, left, bands, rows->count,
                      CW_FIT_MATCH_REACH, CW_FIT_MATCH_STEP, weight, 1);
    cw_fit_add_slopes(rows, vars, rows->force + CW_SUM_RIGHT * n * bands, right, bands, rows->count,
                      CW_FIT_MATCH_REACH, CW_FIT_MATCH_STEP, weight, -1);
    for (size_t k = 0; k < count; k++)
      if (is_left_out(problem, CW_SUM_LEFT, k * CW_FIT_MATCH_STEP) ||
          is_left_out(problem, CW_SUM_RIGHT, k * CW_FIT_MATCH_STEP))
        memset(rows->jacobian + (rows->count + k) * rows->vars, 0, rows->vars * sizeof *rows->jacobian);
  }
  rows->count += count;
  return used ? sum / (double)used : 0;
}

/* Losses enter as they are, in dB, point by point: the level of a point does not matter, so the power is set
 * to 1. */
static void loss_rows(CwFitRows *rows, const CwFitProblem *problem, size_t seat, CwSum side,
                      const CwFitVars *vars, double *mean_loss, double *mean_weight)
{
  size_t bands = problem->bands->bands, n = problem->bands->outputs,
         count = cw_fit_points(bands, CW_FIT_SIDE_STEP);
  CwComplex *force = rows->force + (CW_SUMS + side) * n * bands;
  double *loss = rows->power + CW_SUMS * bands, *weight = loss + bands, *even = weight + bands,
         *scaled = even + bands;
  double scale = sqrt(problem->seat_weight[seat] * 3 / (double)count) / problem->tolerance.loss_db;

  cw_fit_loss(problem, rows->drive, seat, side, force, loss, weight);
  for (size_t b = 0; b < bands; b++) {
    if (problem->bands->hz[b] > LOSS_HIGH_HZ)
      weight[b] = 0;
    *mean_loss += weight[b] * loss[b];
    *mean_weight += weight[b];
    scaled[b] = scale * sqrt(weight[b]);
    even[b] = 1;
  }
  for (size_t k = 0; k < count; k++)
    rows->residual[rows->count + k] =
        scaled[k * CW_FIT_SIDE_STEP] * cw_fit_smoothed(loss, bands, k * CW_FIT_SIDE_STEP, 1);
  if (vars)
    cw_fit_add_slopes(rows, vars, force, even, bands, rows->count, 1, CW_FIT_SIDE_STEP, scaled, 1);
  rows->count += count;
}

/* Equal weights inside the range; everywhere where nothing was fitted inside. */
static void weigh(const CwFitProblem *problem, double low_hz, double high_hz, double unit_db, size_t step,
                  double *weight)
{
  size_t bands = problem->bands->bands, count = 0;

  for (size_t b = 0; b < bands; b += step)
    count += problem->bands->hz[b] >= low_hz && problem->bands->hz[b] <= high_hz;
  for (size_t b = 0; b < bands; b++) {
    bool inside = count == 0 || (problem->bands->hz[b] >= low_hz && problem->bands->hz[b] <= high_hz);
    weight[b] = inside ? 1 / (unit_db * sqrt(fmax((double)count, 1))) : 0;
  }
}

/* The rows of one seat; rows->result gathers what is left there, by the seat's weight. */
static void compute_seat(CwFitRows *rows, const CwFitProblem *problem, size_t seat, const CwFitVars *vars)
{
  static const CwSum both[] = {CW_SUM_BOTH};
  CwSum sides[2];
  size_t bands = problem->bands->bands, n = problem->bands->outputs, groups = 0;
  double *weight = cw_alloc_real(bands), *share = cw_alloc_real(bands), loss = 0, loss_weight = 0;
  double part = problem->seat_weight[seat], loud = 1 / sqrt(part);

  for (CwSum sum = CW_SUM_LEFT; sum <= CW_SUM_RIGHT; sum++)
    if (!cw_fit_leaves_out(problem, sum))
      sides[groups++] = sum;
  for (CwSum sum = 0; sum < CW_SUMS; sum++)
    cw_fit_sum_power(problem, rows->drive, seat, sum, rows->force + sum * n * bands,
                     rows->power + sum * bands);
  weigh(problem, LEVEL_LOW_HZ, LEVEL_HIGH_HZ, 1, CW_FIT_SIDE_STEP, share);
  weigh(problem, 0, INFINITY, loud * problem->tolerance.side_db * sqrt(2), CW_FIT_SIDE_STEP, weight);
  double side_db = deviation_rows(rows, problem, sides, groups, weight, share, vars);
  weigh(problem, 0, INFINITY, loud * problem->tolerance.both_db, CW_FIT_SIDE_STEP, weight);
  double both_db = deviation_rows(rows, problem, both, 1, weight, share, vars);
  weigh(problem, MATCH_LOW_HZ, MATCH_HIGH_HZ, loud * problem->tolerance.match_db, CW_FIT_MATCH_STEP, weight);
  double match_db = match_rows(rows, problem, weight, vars);
  loss_rows(rows, problem, seat, CW_SUM_LEFT, vars, &loss, &loss_weight);
  loss_rows(rows, problem, seat, CW_SUM_RIGHT, vars, &loss, &loss_weight);
  for (size_t o = 0; o < n; o++)
    for (CwSum side = CW_SUM_LEFT; problem->car->output[o].beside && side <= CW_SUM_RIGHT; side++)
      if (problem->car->output[o].mix[side] != 0)
        cw_fit_fill_rows(rows, problem, seat, side, o, vars);
  rows->result.side_db += part * side_db;
  rows->result.both_db += part * both_db;
  rows->result.match_db += part * match_db;
  rows->result.loss_db += loss_weight > 0 ? part * loss / loss_weight : 0;
  cw_free(weight);
  cw_free(share);
}

static void compute(CwFitRows *rows, const CwFitProblem *problem, const CwFitState *state,
                    const CwFitVars *vars)
{
  rows->count = 0;
  rows->result = (CwFitResult){0};
  if (vars && rows->jacobian)
    memset(rows->jacobian, 0, most_rows(problem) * rows->vars * sizeof(double));
  for (size_t seat = 0; seat < problem->bands->seats; seat++)
    if (problem->seat_weight[seat] > 0)
      compute_seat(rows, problem, seat, vars);
  for (size_t o = 0; o < state->outputs; o++) {
    cw_fit_lift_rows(rows, problem, state, o, vars);
    cw_fit_waste_row(rows, problem, state, o, vars);
    cw_fit_bound_rows(rows, problem, state, o, vars);
    cw_fit_protection_row(rows, problem, state, o, vars);
  }
  for (size_t i = 0; i < rows->count; i++)
    rows->result.cost += rows->residual[i] * rows->residual[i];
}

void cw_fit_rows_compute(CwFitRows *rows, const CwFitProblem *problem, const CwFitState *state,
                         const CwFitVars *vars)
{
  cw_fit_drives(problem, state, vars, rows->drive, vars ? rows->slope : NULL);
  compute(rows, problem, state, vars);
}

void cw_fit_rows_compute_given(CwFitRows *rows, const CwFitProblem *problem, const CwFitState *state,
                               const CwFitVars *vars)
{
  cw_fit_drives(problem, state, NULL, rows->drive, NULL);
  compute(rows, problem, state, vars);
}
