/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "signal/normal_equations.h"
#include "signal/memory.h"
#include <math.h>
#include <string.h>

/* Twice as wide vectors where the processor has them; the sums stay the same, bit for bit. The checkers
 * cannot see through it. */
#if defined(__x86_64__) && defined(__GNUC__) && !defined(__clang__) && !defined(__SANITIZE_ADDRESS__) &&     \
    !defined(__SANITIZE_THREAD__)
#define WIDE __attribute__((target_clones("avx2", "default")))
#else
#define WIDE
#endif

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

/* Four rows at a time, so that the matrix passes through the cache a quarter as often. */
WIDE void cw_normal_equations_add_rows(CwNormalEquations *e, const double *jacobian, const double *residual,
                                       size_t rows)
{
  static const double nothing = 0;
  size_t n = e->count;
  double *zeros = cw_alloc_real(n);

  for (size_t r = 0; r < rows; r += 4) {
    const double *j[4], *res[4];
    for (size_t k = 0; k < 4; k++) {
      j[k] = r + k < rows ? jacobian + (r + k) * n : zeros;
      res[k] = r + k < rows ? residual + r + k : &nothing;
    }
    for (size_t a = 0; a < n; a++) {
      double j0 = j[0][a], j1 = j[1][a], j2 = j[2][a], j3 = j[3][a];
      double *restrict line = e->matrix + a * n;
      if (j0 == 0 && j1 == 0 && j2 == 0 && j3 == 0)
        continue;
      e->gradient[a] += j0 * *res[0] + j1 * *res[1] + j2 * *res[2] + j3 * *res[3];
      for (size_t b = a; b < n; b++)
        line[b] += j0 * j[0][b] + j1 * j[1][b] + j2 * j[2][b] + j3 * j[3][b];
    }
  }
  cw_free(zeros);
}

void cw_normal_equations_add_diagonal(CwNormalEquations *e, size_t index, double bend, double slope)
{
  e->matrix[index * e->count + index] += bend;
  e->gradient[index] += slope;
}

/* Cholesky's upper factor in place, row by row so that the inner loop runs along memory. */
WIDE static bool factorise(double *a, size_t n)
{
  for (size_t i = 0; i < n; i++) {
    double pivot = a[i * n + i], scale;
    if (!(pivot > 0))
      return false;
    scale = 1 / sqrt(pivot);
    for (size_t k = i; k < n; k++)
      a[i * n + k] *= scale;
    for (size_t r = i + 1; r < n; r++) {
      double part = a[i * n + r];
      double *restrict line = a + r * n;
      const double *restrict top = a + i * n;
      if (part == 0)
        continue;
      for (size_t k = r; k < n; k++)
        line[k] -= part * top[k];
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
