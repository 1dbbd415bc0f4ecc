/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/normal_equations.h"
#include "signal/memory.h"
#include "signal/wide.h"
#include <math.h>
#include <string.h>

CwNormalEquations *cw_normal_equations_new(size_t count)
{
  CwNormalEquations *e = cw_alloc_bytes(sizeof *e);

  e->count = count;
  e->matrix = cw_alloc_real(count * count);
  e->gradient = cw_alloc_real(count);
  e->held = cw_alloc_bytes(count * sizeof *e->held);
  return e;
}

void cw_normal_equations_free(CwNormalEquations *e)
{
  if (!e)
    return;
  cw_free(e->matrix);
  cw_free(e->gradient);
  cw_free(e->held);
  cw_free(e);
}

void cw_normal_equations_clear(CwNormalEquations *e)
{
  memset(e->matrix, 0, e->count * e->count * sizeof *e->matrix);
  memset(e->gradient, 0, e->count * sizeof *e->gradient);
  memset(e->held, 0, e->count * sizeof *e->held);
}

enum { AT_ONCE = 8 };

/* Stretches of columns that are not all zero in the rows; first and end of each, as many as fit in the worst
 * case of every second column. Returns how many. */
static size_t find_stretches(const double *const *row, size_t columns, size_t *stretch)
{
  size_t count = 0;
  bool inside = false;

  for (size_t c = 0; c < columns; c++) {
    bool any = false;
    for (size_t k = 0; k < AT_ONCE; k++)
      any |= row[k][c] != 0;
    if (any != inside)
      stretch[count++] = c;
    inside = any;
  }
  if (inside)
    stretch[count++] = columns;
  return count / 2;
}

/* line[b] += sum over k of part[k] row[k][b] */
static inline void add_line(double *restrict line, const double *part, const double *const *row, size_t first,
                            size_t end)
{
  const double *restrict r0 = row[0], *restrict r1 = row[1], *restrict r2 = row[2], *restrict r3 = row[3],
                         *restrict r4 = row[4], *restrict r5 = row[5], *restrict r6 = row[6],
                         *restrict r7 = row[7];
  double p0 = part[0], p1 = part[1], p2 = part[2], p3 = part[3], p4 = part[4], p5 = part[5], p6 = part[6],
         p7 = part[7];

  for (size_t b = first; b < end; b++)
    line[b] +=
        p0 * r0[b] + p1 * r1[b] + p2 * r2[b] + p3 * r3[b] + p4 * r4[b] + p5 * r5[b] + p6 * r6[b] + p7 * r7[b];
}

/* Eight rows at a time, so that the matrix passes through the cache an eighth as often. */
CW_WIDE void cw_normal_equations_add_rows(CwNormalEquations *e, const double *jacobian,
                                          const double *residual, size_t rows)
{
  size_t n = e->count, *stretch = cw_alloc_bytes((n + 2) * sizeof *stretch);
  double *zeros = cw_alloc_real(n);

  for (size_t r = 0; r < rows; r += AT_ONCE) {
    const double *row[AT_ONCE];
    double part[AT_ONCE];
    for (size_t k = 0; k < AT_ONCE; k++)
      row[k] = r + k < rows ? jacobian + (r + k) * n : zeros;
    size_t stretches = find_stretches(row, n, stretch);
    for (size_t s = 0; s < stretches; s++)
      for (size_t a = stretch[2 * s]; a < stretch[2 * s + 1]; a++) {
        for (size_t k = 0; k < AT_ONCE; k++) {
          part[k] = row[k][a];
          e->gradient[a] += r + k < rows ? part[k] * residual[r + k] : 0;
        }
        add_line(e->matrix + a * n, part, row, a, stretch[2 * s + 1]);
        for (size_t t = s + 1; t < stretches; t++)
          add_line(e->matrix + a * n, part, row, stretch[2 * t], stretch[2 * t + 1]);
      }
  }
  cw_free(zeros);
  cw_free(stretch);
}

void cw_normal_equations_add_diagonal(CwNormalEquations *e, size_t index, double bend, double slope)
{
  e->matrix[index * e->count + index] += bend;
  e->gradient[index] += slope;
}

enum { PIVOTS = 4 };

/* Finishes row i of the factor, whose earlier rows have been taken out of it, and takes it out of the rows up
 * to end. */
static inline bool finish_row(double *a, size_t n, size_t i, size_t end)
{
  double pivot = a[i * n + i], scale;

  if (!(pivot > 0))
    return false;
  scale = 1 / sqrt(pivot);
  for (size_t k = i; k < n; k++)
    a[i * n + k] *= scale;
  for (size_t r = i + 1; r < end; r++) {
    double part = a[i * n + r], *restrict line = a + r * n;
    const double *restrict top = a + i * n;
    for (size_t k = r; k < n; k++)
      line[k] -= part * top[k];
  }
  return true;
}

/* Cholesky's upper factor in place, some rows at a time so that the inner loop runs along memory and the rest
 * of the matrix passes through the cache a quarter as often. */
CW_WIDE static bool factorise(double *a, size_t n)
{
  for (size_t i = 0; i < n; i += PIVOTS) {
    size_t end = i + PIVOTS < n ? i + PIVOTS : n;
    for (size_t k = i; k < end; k++)
      if (!finish_row(a, n, k, end))
        return false;
    if (end < i + PIVOTS)
      break;
    const double *restrict t0 = a + i * n, *restrict t1 = t0 + n, *restrict t2 = t1 + n,
                           *restrict t3 = t2 + n;
    for (size_t r = end; r < n; r++) {
      double p0 = t0[r], p1 = t1[r], p2 = t2[r], p3 = t3[r], *restrict line = a + r * n;
      for (size_t k = r; k < n; k++)
        line[k] -= p0 * t0[k] + p1 * t1[k] + p2 * t2[k] + p3 * t3[k];
    }
  }
  return true;
}

/* The damped matrix, held variables parted from the rest, as its upper factor; NULL where it is not positive.
 */
static double *factor_of(const CwNormalEquations *e, double damping)
{
  size_t n = e->count;
  double *a = cw_alloc_real(n * n);

  for (size_t i = 0; i < n; i++) {
    for (size_t k = i; k < n; k++)
      a[i * n + k] = e->held[i] || e->held[k] ? 0 : e->matrix[i * n + k];
    double diagonal = e->matrix[i * n + i];
    a[i * n + i] = e->held[i] ? 1 : diagonal * (1 + damping) + 1e-9;
  }
  if (factorise(a, n))
    return a;
  cw_free(a);
  return NULL;
}

bool cw_normal_equations_inverse_diagonal(const CwNormalEquations *e, double damping, double *diagonal)
{
  size_t n = e->count;
  double *a = factor_of(e, damping), *row = cw_alloc_real(n);

  /* Row i of the factor's inverse solves x R = unit vector i; the diagonal is the sum of its squares. */
  for (size_t i = 0; a && i < n; i++) {
    double sum = 0;
    memset(row, 0, n * sizeof *row);
    row[i] = 1;
    for (size_t k = i; k < n; k++) {
      const double *restrict line = a + k * n;
      double part = row[k] / line[k];
      sum += part * part;
      for (size_t m = k + 1; part != 0 && m < n; m++)
        row[m] -= part * line[m];
    }
    diagonal[i] = e->held[i] ? 0 : sum;
  }
  cw_free(row);
  cw_free(a);
  return a != NULL;
}

void cw_normal_equations_falls(const CwNormalEquations *e, double damping, const double *gradient,
                               size_t count, double *fall)
{
  size_t n = e->count;
  double *a = factor_of(e, damping), *part = cw_alloc_real(n);

  for (size_t g = 0; g < count; g++) {
    fall[g] = 0;
    for (size_t i = 0; i < n; i++)
      part[i] = e->held[i] ? 0 : gradient[g * n + i];
    for (size_t i = 0; a && i < n; i++) {
      const double *restrict line = a + i * n;
      part[i] /= line[i];
      fall[g] += part[i] * part[i];
      for (size_t k = i + 1; k < n; k++)
        part[k] -= line[k] * part[i];
    }
  }
  cw_free(part);
  cw_free(a);
}

bool cw_normal_equations_solve(const CwNormalEquations *e, double damping, double *step)
{
  size_t n = e->count;
  double *a = factor_of(e, damping);
  bool solved = a != NULL;

  for (size_t i = 0; i < n; i++)
    step[i] = e->held[i] ? 0 : -e->gradient[i];
  for (size_t i = 0; solved && i < n; i++) {
    step[i] /= a[i * n + i];
    for (size_t k = i + 1; k < n; k++)
      step[k] -= a[i * n + k] * step[i];
  }
  for (size_t i = n; solved && i-- > 0;) {
    for (size_t k = i + 1; k < n; k++)
      step[i] -= a[i * n + k] * step[k];
    step[i] /= a[i * n + i];
  }
  cw_free(a);
  return solved;
}
