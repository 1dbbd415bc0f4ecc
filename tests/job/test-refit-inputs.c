/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "job/practice/practice.h"
#include "job/practice/practice_radio.h"
#include "job/survey/survey_curves.h"
#include "job/survey/survey_mix.h"
#include "job/tuning/refit_inputs.h"

#include <glib/gstdio.h>
#include <math.h>

/* The inputs' correction brought to another processor. */

#define OTHER_RATE_HZ 48000.0

static CwRecord *survey(const char *car)
{
  g_autoptr(GError) error = NULL;
  g_autofree char *folder = g_dir_make_tmp("refit-inputs-XXXXXX", &error),
                  *path = g_build_filename(folder, "car.cabin", NULL);
  g_autoptr(CwRecord) vehicle = cw_job_practice_vehicle(car, &error);
  g_assert_no_error(error);
  CwProject *project = cw_project_create(path, vehicle, &error);
  g_assert_no_error(error);
  g_assert_true(cw_job_practice_survey(project, NULL, NULL, NULL, &error));
  CwRecord *copy = cw_record_copy(cw_project_get_vehicle(project));
  g_object_unref(project);
  g_unlink(path);
  g_rmdir(folder);
  return copy;
}

/* A copy of the car with its survey, which is made once. */
static CwRecord *surveyed(const char *car)
{
  static CwRecord *kept[2];
  guint which = g_str_equal(car, "rowan-van");
  if (!kept[which])
    kept[which] = survey(car);
  return cw_record_copy(kept[which]);
}

static void be_other(CwRecord *vehicle, int sections)
{
  CwRecord *processor = cw_vehicle_get_processor(vehicle);
  cw_processor_set_sample_rate_hz(processor, OTHER_RATE_HZ);
  cw_processor_set_sections_per_input(processor, sections);
  cw_processor_set_gain_step_db(processor, 0.5);
  cw_processor_set_q_step(processor, 0.1);
  cw_processor_set_frequency_steps_per_octave(processor, 3);
  cw_processor_set_delay_step_samples(processor, 2);
  cw_tune_set_sample_rate_hz(cw_vehicle_get_tune(vehicle), OTHER_RATE_HZ);
}

static CwList *inputs_of(CwRecord *vehicle)
{
  return cw_tune_get_inputs(cw_vehicle_get_tune(vehicle));
}

static void assert_on_step(double value, double step)
{
  g_assert_cmpfloat_with_epsilon(value / step, rint(value / step), 1e-6);
}

static void check_grid(CwRecord *vehicle, guint sections)
{
  for (guint i = 0; i < cw_list_get_length(inputs_of(vehicle)); i++) {
    CwRecord *input = cw_list_get(inputs_of(vehicle), i);
    CwList *list = cw_input_correction_get_sections(input);
    g_assert_cmpuint(cw_list_get_length(list), <=, sections);
    assert_on_step(cw_input_correction_get_gain_db(input), 0.5);
    assert_on_step(cw_input_correction_get_delay_samples(input), 2);
    g_assert_cmpfloat_with_epsilon(cw_input_correction_get_delay_ms(input),
                                   1e3 * cw_input_correction_get_delay_samples(input) / OTHER_RATE_HZ, 1e-9);
    for (guint s = 0; s < cw_list_get_length(list); s++) {
      CwRecord *section = cw_list_get(list, s);
      assert_on_step(3 * log2(cw_tune_section_get_frequency_hz(section) / 1000), 1);
      assert_on_step(cw_tune_section_get_gain_db(section), 0.5);
      assert_on_step(cw_tune_section_get_q(section), 0.1);
    }
  }
}

/* Fewer and coarser filters at half the rate: on the new grid, delays as long as before, and what it costs is
 * what the sum then shows. */
static void test_coarser(void)
{
  g_autoptr(CwRecord) vehicle = surveyed("alder-tourer");
  g_autoptr(CwRecord) before = cw_record_copy(vehicle);
  CwInputsCost cost;
  cw_job_weigh_inputs(vehicle, &cost);
  g_assert_cmpfloat(cost.before_db, <, 1.5);
  be_other(vehicle, 3);
  cw_job_refit_inputs(vehicle, &cost);
  check_grid(vehicle, 3);
  g_assert_cmpuint(cw_list_get_length(inputs_of(vehicle)), ==, cw_list_get_length(inputs_of(before)));
  for (guint i = 0; i < cw_list_get_length(inputs_of(vehicle)); i++) {
    CwRecord *now = cw_list_get(inputs_of(vehicle), i), *then = cw_list_get(inputs_of(before), i);
    g_assert_cmpint(cw_input_correction_get_lead(now), ==, cw_input_correction_get_lead(then));
    g_assert_cmpfloat_with_epsilon(cw_input_correction_get_delay_ms(now),
                                   cw_input_correction_get_delay_ms(then), 1.5e3 / OTHER_RATE_HZ);
  }
  g_assert_cmpuint(cost.filters_after, <, cost.filters_before);
  g_assert_cmpfloat(cost.after_db, >, cost.before_db);
  g_assert_cmpfloat_with_epsilon(cost.after_db, cw_job_corrected_flatness_db(vehicle), 1e-9);
  g_assert_true(cost.kept_by_hand == 0 && cost.redone == 0);
}

/* Inputs that can neither be filtered nor delayed: level, polarity and the choice of leads are all that is
 * left. */
static void test_bare_inputs(void)
{
  g_autoptr(CwRecord) vehicle = surveyed("alder-tourer");
  CwInputsCost cost;
  cw_job_weigh_inputs(vehicle, &cost);
  be_other(vehicle, 0);
  cw_processor_set_input_delay(cw_vehicle_get_processor(vehicle), FALSE);
  cw_job_refit_inputs(vehicle, &cost);
  check_grid(vehicle, 0);
  g_assert_cmpuint(cw_list_get_length(inputs_of(vehicle)), >, 0);
  for (guint i = 0; i < cw_list_get_length(inputs_of(vehicle)); i++)
    g_assert_cmpfloat(cw_input_correction_get_delay_samples(cw_list_get(inputs_of(vehicle), i)), ==, 0);
  g_assert_cmpfloat(cost.after_db, >, 1.5);
}

/* What hands set stays, on the new steps, where the new processor can do it; else it is worked out anew, and
 * told. */
static void test_by_hand(void)
{
  g_autoptr(CwRecord) vehicle = surveyed("rowan-van");
  CwInputsCost cost;
  CwRecord *one = cw_job_find_corrected_input(vehicle, 1), *two = cw_job_find_corrected_input(vehicle, 2);
  CwList *sections = cw_input_correction_get_sections(one);
  while (cw_list_get_length(sections) > 1)
    cw_list_remove(sections, 1);
  cw_tune_section_set_frequency_hz(cw_list_get(sections, 0), 1010);
  cw_tune_section_set_gain_db(cw_list_get(sections, 0), -2.7);
  cw_tune_section_set_q(cw_list_get(sections, 0), 1.23);
  for (int i = 0; i < 8; i++)
    cw_input_correction_add_to_sections(two);
  cw_job_weigh_inputs(vehicle, &cost);
  be_other(vehicle, 4);
  cw_job_refit_inputs(vehicle, &cost);
  check_grid(vehicle, 4);
  g_assert_true(cost.kept_by_hand == 1 && cost.redone == 1);
  sections = cw_input_correction_get_sections(cw_job_find_corrected_input(vehicle, 1));
  g_assert_cmpuint(cw_list_get_length(sections), ==, 1);
  g_assert_cmpfloat_with_epsilon(cw_tune_section_get_frequency_hz(cw_list_get(sections, 0)), 1000, 1e-6);
  g_assert_cmpfloat_with_epsilon(cw_tune_section_get_gain_db(cw_list_get(sections, 0)), -2.5, 1e-9);
  g_assert_cmpfloat_with_epsilon(cw_tune_section_get_q(cw_list_get(sections, 0)), 1.2, 1e-9);
  g_assert_false(cw_job_input_is_by_hand(vehicle, cw_job_find_corrected_input(vehicle, 2)));
}

/* Inputs of a vehicle without a survey keep their times at another rate. */
static void test_no_survey(void)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwRecord) vehicle = cw_job_practice_vehicle("rowan-van", &error);
  CwInputsCost cost;
  CwRecord *tune = cw_vehicle_make_tune(vehicle), *input = cw_tune_add_to_inputs(tune);
  cw_tune_set_sample_rate_hz(tune, 96000);
  cw_input_correction_set_input(input, 1);
  cw_input_correction_set_delay_samples(input, 960);
  cw_input_correction_set_delay_ms(input, 10);
  cw_job_weigh_inputs(vehicle, &cost);
  g_assert_true(isnan(cost.before_db));
  be_other(vehicle, 4);
  cw_job_refit_inputs(vehicle, &cost);
  g_assert_cmpuint(cw_list_get_length(inputs_of(vehicle)), ==, 1);
  g_assert_cmpfloat(cw_input_correction_get_delay_samples(cw_list_get(inputs_of(vehicle), 0)), ==, 480);
}

int main(int argc, char **argv)
{
  g_test_init(&argc, &argv, NULL);
  g_test_add_func("/job/refit-inputs/coarser", test_coarser);
  g_test_add_func("/job/refit-inputs/bare", test_bare_inputs);
  g_test_add_func("/job/refit-inputs/by-hand", test_by_hand);
  g_test_add_func("/job/refit-inputs/no-survey", test_no_survey);
  return g_test_run();
}
