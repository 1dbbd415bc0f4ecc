/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fit's slopes against differences of its own residuals, and that it ends no worse than it began. */
#include "car-kit.h"
#include "signal/random.h"
#include "tuning/fit/fit_rows.h"
#include "tuning/proposal/first_state.h"
#include <glib.h>
#include <math.h>

typedef struct {
  CwCar *car;
  CwBandMatrices *bands;
  double *over_target, weight[2];
  CwFitProblem problem;
  CwFitState *state;
} Fixture;

static void set_up(Fixture *f, gconstpointer seats)
{
  f->car = kit_front(6, 0.4, 31);
  f->car->seats = GPOINTER_TO_UINT(seats);
  for (size_t p = 3; p < 6 && f->car->seats == 2; p++)
    f->car->place_seat[p] = 1;
  f->bands = cw_band_matrices_new(f->car, 25, 16000, 24);
  f->over_target = g_new(double, 3 * f->bands->bands);
  for (size_t i = 0; i < 3 * f->bands->bands; i++)
    f->over_target[i] = pow(f->bands->hz[i % f->bands->bands] / 1000, 0.2);
  f->weight[0] = f->car->seats == 2 ? 0.3 : 1;
  f->weight[1] = 0.7;
  f->problem = (CwFitProblem){.car = f->car,
                              .bands = f->bands,
                              .over_target = f->over_target,
                              .seat_weight = f->weight,
                              .limits = cw_limits_wide(KIT_RATE_HZ),
                              .tolerance = {0.8, 1.1, 0.6, 1.2}};
  f->state = cw_first_state(&f->problem);
  CwRandom random = cw_random_new(5);
  for (size_t o = 0; o < f->state->outputs; o++)
    for (int k = 0; k < 3; k++)
      f->state->setting[o].section[f->state->setting[o].sections++] =
          (CwSection){CW_SECTION_PEAKING, 60 * pow(200, cw_random_uniform(&random)),
                      6 * cw_random_uniform(&random) - 4, 0.6 + 3 * cw_random_uniform(&random)};
}

static void tear_down(Fixture *f, gconstpointer unused)
{
  cw_fit_state_free(f->state);
  g_free(f->over_target);
  cw_band_matrices_free(f->bands);
  cw_car_free(f->car);
}

/* The left tweeter lifts where it may not, the left woofer counts as fill and is too loud for that, the right
 * one is turned down by its sections and has an all-pass. */
static void spoil(Fixture *f)
{
  CwOutputSetting *right = &f->state->setting[3];

  f->state->setting[3].section[2] = (CwSection){CW_SECTION_ALL_PASS, 400, 0, 1.1};
  bool *no_boost = g_new0(bool, f->car->outputs * f->bands->bands);
  for (size_t b = 0; b < f->bands->bands; b++)
    no_boost[b] = fabs(log2(f->bands->hz[b] / 3000)) < 0.2;
  f->problem.no_boost = no_boost;
  f->state->setting[0].section[0] = (CwSection){CW_SECTION_PEAKING, 3400, 5, 1.7};
  f->car->output[2].beside = true;
  f->state->setting[2].gain_db += 4;
  right->section[0] = (CwSection){CW_SECTION_PEAKING, 200, -14, 0.5};
  right->section[1] = (CwSection){CW_SECTION_PEAKING, 900, -12, 0.5};
}

static double sum_of_squares(const CwFitRows *rows, size_t first, size_t count)
{
  double sum = 0;
  for (size_t r = first; r < first + count; r++)
    sum += rows->residual[r] * rows->residual[r];
  return sum;
}

/* The overlap's weight is held while slopes are taken, so the rows of the losses are not compared. */
static void test_slopes(Fixture *f, gconstpointer unused)
{
  spoil(f);
  CwFitVars vars = cw_fit_vars_read(&f->problem, f->state), moved = cw_fit_vars_read(&f->problem, f->state);
  CwFitRows *rows = cw_fit_rows_new(&f->problem, f->state, vars.count),
            *up = cw_fit_rows_new(&f->problem, f->state, 0),
            *down = cw_fit_rows_new(&f->problem, f->state, 0);
  CwFitState *state = cw_fit_state_copy(f->state);
  size_t half = (f->bands->bands + 1) / 2, quarter = (f->bands->bands + 3) / 4,
         without_loss = 3 * half + quarter, with_loss = 5 * half + quarter, a_seat = with_loss + half,
         all_seats = a_seat * f->car->seats, an_output = quarter + 2, checked = 0;

  cw_fit_rows_compute(rows, &f->problem, f->state, &vars);
  g_assert_cmpuint(rows->count, ==, all_seats + half + an_output * f->car->outputs);
  g_assert_cmpfloat(sum_of_squares(rows, all_seats, half), >, 0.01);
  g_assert_cmpfloat(sum_of_squares(rows, with_loss, half), >, 0.01);
  g_assert_cmpfloat(rows->residual[all_seats + half + 3 * an_output], >, 0.05);
  for (size_t v = 0; v < vars.count; v++) {
    const double step = 1e-4;
    moved.var[v].value = vars.var[v].value + step;
    cw_fit_vars_write(&moved, state);
    cw_fit_rows_compute(up, &f->problem, state, NULL);
    moved.var[v].value = vars.var[v].value - step;
    cw_fit_vars_write(&moved, state);
    cw_fit_rows_compute(down, &f->problem, state, NULL);
    moved.var[v].value = vars.var[v].value;
    for (size_t r = 0; r < rows->count; r++) {
      double difference = (up->residual[r] - down->residual[r]) / (2 * step);
      if (r < all_seats && r % a_seat >= without_loss && r % a_seat < with_loss)
        continue;
      checked++;
      g_assert_cmpfloat_with_epsilon(rows->jacobian[r * vars.count + v], difference,
                                     2e-5 * (1 + fabs(difference)));
    }
  }
  g_assert_cmpuint(checked, >, 10000);
  cw_fit_rows_free(rows);
  cw_fit_rows_free(up);
  cw_fit_rows_free(down);
  cw_fit_state_free(state);
  cw_fit_vars_clear(&vars);
  cw_fit_vars_clear(&moved);
  g_free((bool *)f->problem.no_boost);
}

static void test_falls(Fixture *f, gconstpointer unused)
{
  double before = cw_fit_evaluate(&f->problem, f->state).cost;
  CwFitResult first = cw_fit_run(&f->problem, f->state, 5, 0),
              second = cw_fit_run(&f->problem, f->state, 40, 1e-6);

  g_assert_cmpfloat(first.cost, <, before);
  g_assert_cmpfloat(second.cost, <=, first.cost);
  g_assert_cmpfloat_with_epsilon(cw_fit_evaluate(&f->problem, f->state).cost, second.cost,
                                 1e-9 * second.cost);
}

static void test_held(Fixture *f, gconstpointer unused)
{
  CwOutputSetting before = f->state->setting[2];
  f->problem.held = CW_FIT_SECTION_HZ | CW_FIT_SECTION_Q | CW_FIT_CORNER;
  cw_fit_run(&f->problem, f->state, 10, 0);
  const CwOutputSetting *after = &f->state->setting[2];
  for (size_t k = 0; k < 3; k++)
    g_assert_true(after->section[k].frequency_hz == before.section[k].frequency_hz &&
                  after->section[k].q == before.section[k].q);
  g_assert_true(after->high_pass.corner_hz == before.high_pass.corner_hz);
  g_assert_true(after->section[0].gain_db != before.section[0].gain_db);
}

/* What a section is worth, by the model, against taking it out and fitting again. */
static void test_worth(Fixture *f, gconstpointer unused)
{
  double cost = cw_fit_run(&f->problem, f->state, 60, 1e-7).cost, rise[5 * CW_SETTING_MOST_SECTIONS] = {0};

  g_assert_true(cw_fit_worth(&f->problem, f->state, rise));
  size_t least_output = 0, least_section = 0;
  for (size_t o = 0; o < 5; o++)
    for (size_t k = 0; k < f->state->setting[o].sections; k++)
      if (rise[o * CW_SETTING_MOST_SECTIONS + k] <
          rise[least_output * CW_SETTING_MOST_SECTIONS + least_section]) {
        least_output = o;
        least_section = k;
      }
  f->state->setting[least_output].section[least_section].gain_db = 0;
  f->problem.held = 0;
  double without = cw_fit_evaluate(&f->problem, f->state).cost;
  g_test_message("cost %.4f, without the least worth section at most %.4f, by the model %.4f", cost, without,
                 cost + rise[least_output * CW_SETTING_MOST_SECTIONS + least_section]);
  /* All else held, it costs at least what it costs with all else fitted again. */
  g_assert_cmpfloat(without - cost, >=,
                    0.5 * rise[least_output * CW_SETTING_MOST_SECTIONS + least_section] - 1e-6);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  for (guint seats = 1; seats <= 2; seats++) {
    g_autofree char *slopes = g_strdup_printf("/fit/slopes/%u", seats),
                    *falls = g_strdup_printf("/fit/falls/%u", seats);
    g_test_add(slopes, Fixture, GUINT_TO_POINTER(seats), set_up, test_slopes, tear_down);
    g_test_add(falls, Fixture, GUINT_TO_POINTER(seats), set_up, test_falls, tear_down);
  }
  g_test_add("/fit/held", Fixture, GUINT_TO_POINTER(1), set_up, test_held, tear_down);
  g_test_add("/fit/worth", Fixture, GUINT_TO_POINTER(1), set_up, test_worth, tear_down);
  return g_test_run();
}
