/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "sample.h"

#include "vehicle/json/document.h"
#include <glib/gstdio.h>
#include <math.h>
#include <string.h>
#include <sys/stat.h>

/* The project's invented scenario, with members that no table knows in three places. */
const char sample_intake[] =
    "{\"reference\": \"J-0147\", \"description\": \"Alder Tourer\", \"driver_side\": \"right\","
    " \"seats\": [\"driver\", \"passenger\"], \"positions_per_seat\": 6, \"target\": [[20, 9], [125, 4], "
    "[1000, 0.5], [20000, -6]],"
    " \"speakers\": ["
    "  {\"output\": 1, \"name\": \"Front left high\", \"way\": \"high\", \"side\": \"left\", \"lowest_hz\": "
    "3150, \"fs_hz\": 801,"
    "   \"nominal_ohm\": 4, \"rated_w\": 60, \"distance_cm\": {\"driver\": 98.5, \"passenger\": 71}, "
    "\"grille\": {\"colour\": [1, 2.50]}},"
    "  {\"output\": 2, \"name\": \"Front right high\", \"way\": \"high\", \"side\": \"right\", "
    "\"lowest_hz\": 3150, \"fs_hz\": 801},"
    "  {\"output\": 9, \"name\": \"Bass\", \"way\": \"sub\", \"side\": \"both\", \"lowest_hz\": 25, "
    "\"fs_hz\": 30}],"
    " \"microphone\": {\"calibration\": [[20, -1.5], [1000, 0], [20000, 2.25]], \"spl_at_full_scale\": 124},"
    " \"supply\": {\"running_v\": 13.8, \"alternator_a\": 120},"
    " \"amplifiers\": [{\"name\": \"Front\", \"efficiency\": 0.8,"
    "   \"cable\": {\"length_m\": 5.5, \"size_mm2\": null, \"material\": \"copper\", \"colour\": \"red\"},"
    "   \"channels\": [{\"channel\": 1, \"rated_w\": 75, \"rated_ohm\": 4, \"least_ohm\": 2, \"outputs\": "
    "[1]},"
    "    {\"channel\": 7, \"bridged_with\": 8, \"rated_w\": 300, \"rated_ohm\": 4, \"least_ohm\": 4, "
    "\"outputs\": [9]}]}],"
    " \"processor\": {\"name\": \"practice\", \"sample_rate_hz\": 96000, \"sections_per_output\": 10, "
    "\"gain_db\": [-60, 12],"
    "   \"section_gain_db\": [-15, 6], \"q\": [0.4, 10], \"delay_ms_most\": 20, \"delay_step_samples\": 1,"
    "   \"frequency_steps_per_octave\": null, \"gain_step_db\": 0.1, \"q_step\": null},"
    " \"season\": \"winter\"}";

/* A project file of version 1. */
const char sample_version_1[] =
    "PRAGMA application_id = 1130516017; PRAGMA user_version = 1;"
    "CREATE TABLE document (id INTEGER PRIMARY KEY CHECK (id = 1), json TEXT NOT NULL) STRICT;"
    "CREATE TABLE samples (name TEXT PRIMARY KEY, rate_hz REAL NOT NULL, channels INTEGER NOT NULL,"
    " frames INTEGER NOT NULL, data BLOB NOT NULL) STRICT;"
    "CREATE TABLE restore_point (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, made_utc TEXT NOT NULL,"
    " json TEXT NOT NULL) STRICT;"
    "INSERT INTO document VALUES (1, "
    "'{\"reference\":\"J-0147\",\"speakers\":[],\"takes\":[{\"id\":\"t\",\"output\":1,\"position\":\"driver/"
    "1\"}],\"later\":{\"key\":[1,2.50]}}');"
    "INSERT INTO samples VALUES ('s', 48000, 1, 2, x'0000803f000000c0');"
    "INSERT INTO restore_point VALUES (4, 'Spring', '2026-03-05T09:30:00Z', "
    "'{\"reference\":\"old\",\"speakers\":[]}');";

/* A vehicle from that sheet; the caller owns it. */
CwRecord *sample_vehicle(void)
{
  g_autoptr(GError) error = NULL;
  CwRecord *vehicle = cw_record_from_json(cw_vehicle_get_type(), sample_intake, -1, &error);
  g_assert_no_error(error);
  return vehicle;
}

/* Adds a take with a response of n_points and gaps in it, and a table of distortion. */
void sample_add_take(CwRecord *vehicle, const char *id, int output, int place, guint n_points)
{
  g_autofree double *hz = g_new(double, n_points), *db = g_new(double, n_points),
                    *rows = g_new(double, 3 * n_points);
  g_autofree char *position = g_strdup_printf("driver/%d", place);
  for (guint i = 0; i < n_points; i++) {
    hz[i] = 20 * pow(2, i / 24.0);
    db[i] = i % 17 == 0 ? (double)NAN : 80 + 10 * sin(0.1 * i + output + place);
    rows[3 * i] = hz[i];
    rows[3 * i + 1] = 0.3 + 0.1 * cos(i);
    rows[3 * i + 2] = 0.1 / (1 + i);
  }
  CwRecord *take = cw_vehicle_add_to_takes(vehicle);
  cw_take_set_id(take, id);
  cw_take_set_output(take, output);
  cw_take_set_position(take, position);
  cw_take_set_accepted(take, TRUE);
  cw_take_set_arrival_ms(take, 2.5 + 0.01 * place);
  cw_take_set_polarity(take, CW_POLARITY_NORMAL);
  cw_take_take_response(take, cw_numbers_new_curve(n_points, hz, db));
  cw_take_take_distortion(take, cw_numbers_new(n_points, 3, rows));
}

/* One edit of the many that a session makes: a value, a child more or less, an order, a whole part. */
void sample_random_edit(CwRecord *vehicle, GRand *random)
{
  CwList *speakers = cw_vehicle_get_speakers(vehicle);
  CwRecord *tune = cw_vehicle_get_tune(vehicle);
  CwList *outputs = cw_tune_get_outputs(tune);
  CwRecord *speaker =
      cw_list_get(speakers, (guint)g_rand_int_range(random, 0, (int)cw_list_get_length(speakers)));
  guint n_outputs = cw_list_get_length(outputs);
  CwRecord *output =
      n_outputs ? cw_list_get(outputs, (guint)g_rand_int_range(random, 0, (int)n_outputs)) : NULL;
  CwList *sections = output ? cw_tune_output_get_sections(output) : NULL;
  guint n_sections = sections ? cw_list_get_length(sections) : 0;
  switch (g_rand_int_range(random, 0, 9)) {
  case 0:
    cw_speaker_set_lowest_hz(speaker, g_rand_double_range(random, 10, 20000));
    break;
  case 1: {
    const char *names[] = {"driver", "passenger"};
    double cm[] = {g_rand_double_range(random, 40, 250), 100};
    cw_speaker_take_distance_cm(speaker, cw_numbers_new_named(2, names, cm));
    break;
  }
  case 2: {
    g_autoptr(CwRecord) new_output = cw_record_new(cw_tune_output_get_type());
    int number = g_rand_int_range(random, 1, 20);
    cw_tune_output_set_output(new_output, number);
    if (!cw_list_find_integer_at(outputs, CW_TUNE_OUTPUT_FIELD_OUTPUT, number))
      cw_list_insert(outputs, (guint)g_rand_int_range(random, 0, (int)n_outputs + 1), new_output);
    break;
  }
  case 3:
    if (n_outputs > 3)
      cw_list_remove(outputs, (guint)g_rand_int_range(random, 0, (int)n_outputs));
    break;
  case 4:
    if (sections) {
      CwRecord *section = cw_list_append_new(sections);
      cw_tune_section_set_frequency_hz(section, g_rand_double_range(random, 20, 20000));
      cw_tune_section_set_gain_db(section, g_rand_double_range(random, -15, 6));
    }
    break;
  case 5:
    if (n_sections)
      cw_list_remove(sections, (guint)g_rand_int_range(random, 0, (int)n_sections));
    break;
  case 6:
    if (n_sections)
      cw_tune_section_set_q(cw_list_get(sections, 0), g_rand_double_range(random, 0.4, 10));
    break;
  case 7:
    if (g_rand_boolean(random))
      cw_survey_set_loud_volume_step(cw_vehicle_make_survey(vehicle), g_rand_int_range(random, 1, 40));
    else
      cw_vehicle_set_survey(vehicle, NULL);
    break;
  default:
    if (n_outputs > 1) { /* moves an output to the front */
      g_autoptr(CwRecord) moved = g_object_ref(cw_list_get(outputs, n_outputs - 1));
      cw_list_remove(outputs, n_outputs - 1);
      cw_list_insert(outputs, 0, moved);
    }
    break;
  }
}

/* A new folder for a test's files; the caller removes and frees it. */
char *sample_folder(void)
{
  char *folder = g_dir_make_tmp("cabin-test-XXXXXX", NULL);
  g_assert_nonnull(folder);
  g_assert_cmpint(chmod(folder, 0755), ==, 0);
  return folder;
}

/* Removes a folder that has files only. */
void sample_remove_folder(const char *folder)
{
  GDir *names = g_dir_open(folder, 0, NULL);
  const char *name;
  while (names && (name = g_dir_read_name(names))) {
    g_autofree char *path = g_build_filename(folder, name, NULL);
    g_remove(path);
  }
  if (names)
    g_dir_close(names);
  g_assert_cmpint(g_rmdir(folder), ==, 0);
}

/* Samples that are told from all others by their number. */
CwSamples *sample_samples(int number)
{
  float values[2 * 300];
  for (int i = 0; i < 600; i++)
    values[i] = (float)sin(0.01 * i * number) + (float)number;
  return cw_samples_new(96000, 2, 300, values);
}

/* Fails unless the project holds just those. */
void sample_check_samples(CwProject *project, const char *name, int number)
{
  g_autoptr(GError) error = NULL;
  g_autoptr(CwSamples) found = cw_project_get_samples(project, name, &error), wanted = sample_samples(number);
  g_assert_no_error(error);
  g_assert_cmpfloat(found->rate_hz, ==, wanted->rate_hz);
  g_assert_cmpuint(found->n_channels, ==, wanted->n_channels);
  g_assert_cmpuint(found->n_frames, ==, wanted->n_frames);
  g_assert_cmpmem(found->values, 600 * sizeof(float), wanted->values, 600 * sizeof(float));
}
