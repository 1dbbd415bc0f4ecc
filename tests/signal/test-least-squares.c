/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Test problems of More, Garbow and Hillstrom, ACM Transactions on Mathematical Software 7 (1981): start,
 * minimum and value from there. */
#include "signal/kaiser.h"
#include "signal/least_squares.h"
#include "signal/sort.h"

#include <glib.h>
#include <math.h>
#include <string.h>

typedef struct {
  size_t count, rows;
  void (*compute)(const double *x, double *residual, double *jacobian);
  double x[4], tried[4], least[4];
} Problem;

/* Number 1, Rosenbrock. */
static void rosenbrock(const double *x, double *residual, double *jacobian)
{
  residual[0] = 10 * (x[1] - x[0] * x[0]);
  residual[1] = 1 - x[0];
  if (jacobian)
    memcpy(jacobian, (double[]){-20 * x[0], 10, -1, 0}, 4 * sizeof *jacobian);
}

/* Number 13, Powell's singular function: the matrix is singular at the minimum. */
static void powell(const double *x, double *residual, double *jacobian)
{
  double a = x[1] - 2 * x[2], b = x[0] - x[3], five = sqrt(5), ten = sqrt(10);
  residual[0] = x[0] + 10 * x[1];
  residual[1] = five * (x[2] - x[3]);
  residual[2] = a * a;
  residual[3] = ten * b * b;
  if (jacobian)
    memcpy(jacobian,
           (double[]){1, 10, 0, 0, 0, 0, five, -five, 0, 2 * a, -4 * a, 0, 2 * ten * b, 0, 0, -2 * ten * b},
           16 * sizeof *jacobian);
}

static double cost_of(const double *residual, size_t rows)
{
  double cost = 0;
  for (size_t i = 0; i < rows; i++)
    cost += residual[i] * residual[i];
  return cost;
}

static double linearise(void *data, CwNormalEquations *equations)
{
  Problem *p = data;
  double residual[4], jacobian[16];
  p->compute(p->x, residual, jacobian);
  cw_normal_equations_add_rows(equations, jacobian, residual, p->rows);
  for (size_t i = 0; i < p->count; i++)
    equations->held[i] = p->x[i] <= p->least[i] && equations->gradient[i] > 0;
  return cost_of(residual, p->rows);
}

static double propose(void *data, const double *step)
{
  Problem *p = data;
  double residual[4];
  for (size_t i = 0; i < p->count; i++)
    p->tried[i] = fmax(p->x[i] + step[i], p->least[i]);
  p->compute(p->tried, residual, NULL);
  return cost_of(residual, p->rows);
}

static void accept(void *data)
{
  Problem *p = data;
  memcpy(p->x, p->tried, sizeof p->x);
}

static double run(Problem *p, int rounds)
{
  return cw_least_squares_run(&(CwLeastSquares){.variables = p->count,
                                                .rounds = rounds,
                                                .attempts = 10,
                                                .damping = 1e-3,
                                                .damping_least = 1e-12,
                                                .ease = 5,
                                                .raise = 5,
                                                .data = p,
                                                .linearise = linearise,
                                                .propose = propose,
                                                .accept = accept});
}

static void test_rosenbrock(void)
{
  Problem p = {.count = 2, .rows = 2, .compute = rosenbrock, .x = {-1.2, 1}, .least = {-10, -10}};
  g_assert_cmpfloat(run(&p, 200), <, 1e-20);
  g_assert_cmpfloat_with_epsilon(p.x[0], 1, 1e-8);
  g_assert_cmpfloat_with_epsilon(p.x[1], 1, 1e-8);
}

static void test_powell(void)
{
  Problem p = {.count = 4, .rows = 4, .compute = powell, .x = {3, -1, 0, 1}, .least = {-10, -10, -10, -10}};
  g_assert_cmpfloat(run(&p, 200), <, 1e-16);
}

/* With x1 at least 1.5, the least of Rosenbrock's function is where the other follows: (1.5, 2.25), cost
 * 0.25. */
static void test_bound(void)
{
  Problem p = {.count = 2, .rows = 2, .compute = rosenbrock, .x = {3, 1}, .least = {1.5, -10}};
  g_assert_cmpfloat_with_epsilon(run(&p, 200), 0.25, 1e-9);
  g_assert_cmpfloat_with_epsilon(p.x[1], 2.25, 1e-6);
}

/* The cost returned is that of the point, also where nothing may move. */
static void test_no_rounds(void)
{
  Problem p = {.count = 2, .rows = 2, .compute = rosenbrock, .x = {-1.2, 1}, .least = {-10, -10}};
  g_assert_cmpfloat_with_epsilon(run(&p, 1),
                                 cost_of((double[]){10 * (p.x[1] - p.x[0] * p.x[0]), 1 - p.x[0]}, 2), 1e-12);
}

/* The window half way between middle and end: I0(9.6 sqrt(3)/2) / I0(9.6) by scipy.special.i0. */
static void test_kaiser(void)
{
  g_assert_cmpfloat(cw_kaiser_window(0, 9.6), ==, 1);
  g_assert_cmpfloat(cw_kaiser_window(1.01, 9.6), ==, 0);
  g_assert_cmpfloat_with_epsilon(cw_kaiser_window(0.5, 9.6), 0.29761881202050944, 1e-12);
  g_assert_cmpfloat(cw_kaiser_window(-0.3, 5), ==, cw_kaiser_window(0.3, 5));
}

static void test_median(void)
{
  double odd[] = {5, -1, 3}, even[] = {4, 1, 3, 2};
  g_assert_cmpfloat(cw_median(odd, 3), ==, 3);
  g_assert_cmpfloat(cw_median(even, 4), ==, 2.5);
  g_assert_true(isnan(cw_median(odd, 0)));
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/signal/least-squares/rosenbrock", test_rosenbrock);
  g_test_add_func("/signal/least-squares/powell", test_powell);
  g_test_add_func("/signal/least-squares/bound", test_bound);
  g_test_add_func("/signal/least-squares/no-rounds", test_no_rounds);
  g_test_add_func("/signal/kaiser", test_kaiser);
  g_test_add_func("/signal/median", test_median);
  return g_test_run();
}
