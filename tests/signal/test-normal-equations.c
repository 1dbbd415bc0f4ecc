/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The normal equations against their definition: what is solved for is put in again. */
#include "signal/memory.h"
#include "signal/normal_equations.h"
#include "signal/random.h"
#include <glib.h>
#include <math.h>

enum { ROWS = 61, COUNT = 23 }; /* no whole numbers of what is done at once */
#define DAMPING 1e-3

typedef struct {
  double jacobian[ROWS * COUNT], residual[ROWS];
  CwNormalEquations *equations;
} Fixture;

/* Some columns are zero in the first half of the rows, others in the second. */
static void set_up(Fixture *f, gconstpointer unused)
{
  CwRandom random = cw_random_new(3);

  for (size_t r = 0; r < ROWS; r++) {
    f->residual[r] = cw_random_uniform(&random) - 0.5;
    for (size_t c = 0; c < COUNT; c++) {
      bool empty = r < ROWS / 2 ? c % 5 == 1 : c > 10 && c < 15;
      f->jacobian[r * COUNT + c] = empty ? 0 : cw_random_uniform(&random) - 0.5;
    }
  }
  f->equations = cw_normal_equations_new(COUNT);
  cw_normal_equations_clear(f->equations);
  cw_normal_equations_add_rows(f->equations, f->jacobian, f->residual, ROWS);
  f->equations->held[4] = true;
}

static void tear_down(Fixture *f, gconstpointer unused)
{
  cw_normal_equations_free(f->equations);
}

static double product(const Fixture *f, size_t a, size_t b)
{
  double sum = 0;
  for (size_t r = 0; r < ROWS; r++)
    sum += f->jacobian[r * COUNT + a] * f->jacobian[r * COUNT + b];
  return sum;
}

static double gradient(const Fixture *f, size_t a)
{
  double sum = 0;
  for (size_t r = 0; r < ROWS; r++)
    sum += f->jacobian[r * COUNT + a] * f->residual[r];
  return sum;
}

static void test_gathered(Fixture *f, gconstpointer unused)
{
  for (size_t a = 0; a < COUNT; a++) {
    g_assert_cmpfloat_with_epsilon(f->equations->gradient[a], gradient(f, a), 1e-12);
    for (size_t b = a; b < COUNT; b++)
      g_assert_cmpfloat_with_epsilon(f->equations->matrix[a * COUNT + b], product(f, a, b), 1e-12);
  }
}

static void test_solved(Fixture *f, gconstpointer unused)
{
  double step[COUNT], fall, expected = 0;

  g_assert_true(cw_normal_equations_solve(f->equations, DAMPING, step));
  g_assert_true(step[4] == 0);
  for (size_t a = 0; a < COUNT; a++) {
    double left = gradient(f, a) + (DAMPING * product(f, a, a) + 1e-9) * step[a];
    for (size_t b = 0; b < COUNT; b++)
      left += product(f, a, b) * step[b];
    if (a != 4)
      g_assert_cmpfloat(fabs(left), <, 1e-9);
    expected -= step[a] * gradient(f, a);
  }
  cw_normal_equations_falls(f->equations, DAMPING, f->equations->gradient, 1, &fall);
  g_assert_cmpfloat_with_epsilon(fall, expected, 1e-9 * expected);
  g_assert_cmpfloat(fall, >, 0);
}

/* Column by column of the inverse, by solving for unit vectors. */
static void test_inverse(Fixture *f, gconstpointer unused)
{
  double diagonal[COUNT], column[COUNT];

  g_assert_true(cw_normal_equations_inverse_diagonal(f->equations, DAMPING, diagonal));
  for (size_t a = 0; a < COUNT; a++) {
    for (size_t b = 0; b < COUNT; b++)
      f->equations->gradient[b] = a == b ? -1 : 0;
    g_assert_true(cw_normal_equations_solve(f->equations, DAMPING, column));
    g_assert_cmpfloat_with_epsilon(diagonal[a], column[a], 1e-9 * (1 + fabs(column[a])));
  }
}

/* What is not positive is told, not solved. */
static void test_refused(Fixture *f, gconstpointer unused)
{
  double step[COUNT], fall[1];

  cw_normal_equations_add_diagonal(f->equations, 7, -1e6, 0);
  g_assert_false(cw_normal_equations_solve(f->equations, DAMPING, step));
  g_assert_false(cw_normal_equations_inverse_diagonal(f->equations, DAMPING, step));
  cw_normal_equations_falls(f->equations, DAMPING, f->equations->gradient, 1, fall);
  g_assert_true(fall[0] == 0);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add("/normal-equations/gathered", Fixture, NULL, set_up, test_gathered, tear_down);
  g_test_add("/normal-equations/solved", Fixture, NULL, set_up, test_solved, tear_down);
  g_test_add("/normal-equations/inverse", Fixture, NULL, set_up, test_inverse, tear_down);
  g_test_add("/normal-equations/refused", Fixture, NULL, set_up, test_refused, tear_down);
  return g_test_run();
}
